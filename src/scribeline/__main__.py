"""Run the commands as `python -m scribeline`."""

from scribeline.cli import run

if __name__ == "__main__":  # a process the app starts for long work reads this file too
    run()
