"""Run the commands as `python -m scribeline`."""

from scribeline.cli import run

run()
