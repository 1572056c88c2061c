"""Draws docs/pictures/example-*.svg: the front of each example that a job can be begun from.

Run it after a change of an example or of what the front looks like: `.venv/bin/python docs/build_example_pictures.py`.
"""

from __future__ import annotations

import re
from pathlib import Path

from scribeline.job import parse_job
from scribeline.plan import plan
from scribeline.scenario import examples
from scribeline.web.drawings import thumbnail

HERE = Path(__file__).parent
WIDE = 480


def build() -> None:
    """A picture of each, on white, so that it reads on a dark page too."""
    for each in examples().values():
        drawn = thumbnail(plan(*parse_job(each.text)))
        white = '<rect width="100%" height="100%" fill="#fff"/>'
        sized = re.sub(r"<svg([^>]*)>", rf'<svg\1 width="{WIDE}">{white}', drawn, count=1)
        (HERE / "pictures" / f"example-{each.name}.svg").write_text(f"{sized}\n", encoding="utf-8")


if __name__ == "__main__":
    build()
