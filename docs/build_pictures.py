"""Draws docs/pictures/pack.png: pages of the demo job's bench pack, as the project's own code writes them.

Run it after a change of what sheets, templates or step cards look like: `.venv/bin/python docs/build_pictures.py`.
"""

from __future__ import annotations

import io
from pathlib import Path

import pdfplumber
from PIL import Image, ImageDraw, ImageOps

import scribeline
from scribeline.drawing import pack
from scribeline.job import read_job
from scribeline.plan import plan

HERE = Path(__file__).parent
DEMO = Path(scribeline.__file__).parent / "scenario" / "marram.toml"

WIDTH, GAP = 1600, 36
EDGE = "#9a9a9a"
GREYS = 32

ROWS = (
    (("sheets.pdf", "Front plan"), ("templates.pdf", "scale line:")),
    (("steps.pdf", "Drill the string holes"), ("sheets.pdf", "Section through the bridge")),
)
"""Two rows of two pages each: the file, and words that stand on the page wanted."""


def build() -> None:
    """The picture, with the pages of each row at one height."""
    files = pack.draw(plan(*read_job(DEMO)))
    rows = [[page(files[name], words) for name, words in row] for row in ROWS]
    laid = [side_by_side(row) for row in rows]
    whole = Image.new("L", (WIDTH, sum(row.height for row in laid) + GAP * (len(laid) + 1)), "white")
    y = GAP
    for row in laid:
        whole.paste(row, (GAP, y))
        y += row.height + GAP
    target = HERE / "pictures" / "pack.png"
    target.parent.mkdir(exist_ok=True)
    whole.quantize(GREYS).save(target, optimize=True)


def page(written: bytes, words: str) -> Image.Image:
    """The first page on which the words stand, sharp enough to be made smaller."""
    with pdfplumber.open(io.BytesIO(written)) as book:
        found = next(p for p in book.pages if words.lower() in " ".join(p.extract_text().split()).lower())
        return found.to_image(resolution=200).original.convert("L")


def side_by_side(pages: list[Image.Image]) -> Image.Image:
    """Pages of one height, together as wide as the picture less its margins, each with a thin edge."""
    # One dot less than there is room for, or rounding could cut the last edge off.
    room = WIDTH - GAP * (len(pages) + 1) - len(pages)
    height = round(room / sum(p.width / p.height for p in pages))
    row = Image.new("L", (WIDTH - 2 * GAP, height), "white")
    x = 0
    for whole in pages:
        size = (round(height * whole.width / whole.height), height)
        small = ImageOps.autocontrast(whole.resize(size, Image.Resampling.LANCZOS))
        ImageDraw.Draw(small).rectangle((0, 0, size[0] - 1, size[1] - 1), outline=EDGE)
        row.paste(small, (x, 0))
        x += size[0] + GAP
    return row


if __name__ == "__main__":
    build()
