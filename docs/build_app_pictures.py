"""Draws the pictures of the shop app in docs/pictures: the demo job in a real browser, at the desk and on a tablet.

Run it after a change of what the app looks like: `.venv/bin/python docs/build_app_pictures.py`. It needs Chromium.
"""

from __future__ import annotations

import io
import re
import shutil
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from PIL import Image
from playwright.sync_api import Browser, sync_playwright

import scribeline

HERE = Path(__file__).parent
SCENARIO = Path(scribeline.__file__).parent / "scenario"
COLOURS = 64

SHOTS = (
    ("app-plan", (1280, 800), "marram.toml", "/plan?view=front&at=string-hole-3"),
    ("app-checks", (1280, 800), "marram-too-thin.toml", "/checks/try?finding=1"),
    ("app-step", (820, 1180), "marram.toml", "/steps/drill-string-holes"),
)
"""Name, size in dots, job, page."""


def build() -> None:
    """Serve the demo, look at it, keep the pictures."""
    with TemporaryDirectory() as folder, sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        for name, size, job, page in SHOTS:
            command = [
                sys.executable,
                "-m",
                "scribeline",
                "serve",
                "--no-browser",
                "--data",
                f"{folder}/{name}",
            ]
            command += ["--job", str(SCENARIO / job)]
            with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as app:
                assert app.stdout is not None
                found = re.search(r"http://\S+/jobs/\d+", app.stdout.readline())
                assert found
                try:
                    kept(look(browser, found[0] + page, size), name)
                finally:
                    app.terminate()
        browser.close()


def look(browser: Browser, address: str, size: tuple[int, int]) -> bytes:
    """One page as a picture."""
    context = browser.new_context(viewport={"width": size[0], "height": size[1]}, color_scheme="light")
    page = context.new_page()
    page.goto(address)  # a step's page listens for as long as it is open, so that the network is never idle
    page.wait_for_function(
        "!document.querySelector('[id^=awaits-]') && [...document.images].every(each => each.complete)"
    )
    picture = page.screenshot()
    context.close()
    return picture


def kept(picture: bytes, name: str) -> None:
    """Keep a picture with few colours: flat areas and letters need no more."""
    image = Image.open(io.BytesIO(picture)).convert("RGB").quantize(COLOURS)
    image.save(HERE / "pictures" / f"{name}.png", optimize=True)


if __name__ == "__main__":
    build()
