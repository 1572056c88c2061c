"""The lettering of a printed PDF, read back with a reader that is not ours (PDFium)."""

from __future__ import annotations

import ctypes
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import atan2, cos, hypot, sin

import pypdfium2
from pypdfium2 import raw

_MM = 25.4 / 72
_LINE_ENDS = "\x02"
"""What the reader says for a hyphen at a line's end."""


@dataclass(frozen=True)
class Run:
    """Letters that follow each other on one line.

    Attributes:
        page: from 0.
        text: a space where a word's gap is.
        x, y: start of the base line from the page's lower left corner, mm.
        end: its length along the line, mm.
        angle: its turn anticlockwise, rad.
        size: the lettering's size, mm.
    """

    page: int
    text: str
    x: float
    y: float
    end: float
    angle: float
    size: float


def runs(pdf: bytes, widest: float = 0.7) -> list[list[Run]]:
    """Each page's runs, in the order they were drawn; a wider gap than this, times the lettering's size, ends one."""
    document = pypdfium2.PdfDocument(pdf)
    return [_runs(n, document[n].get_textpage(), widest) for n in range(len(document))]


_LATE = 3
"""A reader of PDF may put the last letter of turned words behind so many runs that were drawn after them."""


def _runs(page: int, text: pypdfium2.PdfTextPage, widest: float) -> list[Run]:
    found: list[Run] = []
    x, y, matrix, box = ctypes.c_double(), ctypes.c_double(), raw.FS_MATRIX(), raw.FS_RECTF()
    for n in range(text.count_chars()):
        letter = chr(raw.FPDFText_GetUnicode(text, n)).replace(_LINE_ENDS, "-")
        if raw.FPDFText_IsGenerated(text, n) == 1 or letter.isspace():
            continue
        raw.FPDFText_GetCharOrigin(text, n, x, y)
        raw.FPDFText_GetMatrix(text, n, matrix)
        raw.FPDFText_GetLooseCharBox(text, n, box)
        angle = atan2(matrix.b, matrix.a)
        size = raw.FPDFText_GetFontSize(text, n) * hypot(matrix.a, matrix.b) * _MM
        width = _MM * (abs(cos(angle)) * (box.right - box.left) + abs(sin(angle)) * (box.top - box.bottom))
        at = (x.value * _MM, y.value * _MM)
        # A letter may come after what was drawn between: it goes on where a run of late ends.
        for back in range(len(found) - 1, max(-1, len(found) - 1 - _LATE), -1):
            last = found[back]
            if last.angle != angle or abs(last.size - size) >= 0.01:
                continue
            dx, dy = at[0] - last.x, at[1] - last.y
            along, off = dx * cos(angle) + dy * sin(angle), dy * cos(angle) - dx * sin(angle)
            gap = along - last.end
            if abs(off) < 0.05 and -0.2 * size < gap < (widest if back == len(found) - 1 else 0.2) * size:
                joined = last.text + (" " if gap > 0.2 * size else "") + letter
                found[back] = Run(page, joined, last.x, last.y, along + width, angle, size)
                break
        else:
            found.append(Run(page, letter, *at, width, angle, size))
    return found


def paragraphs(page: list[Run]) -> list[Run]:
    """A page's runs, lines of one paragraph joined."""
    found: list[Run] = []
    last: Run | None = None
    for run in page:
        if last is not None and run.angle == last.angle == 0 and abs(run.size - last.size) < 0.01:
            below = last.y - run.y
            if abs(run.x - last.x) < 0.3 and 1.1 * run.size < below < 1.5 * run.size:
                gap = "" if re.search(r"[a-z]-$", found[-1].text) else " "  # a compound broken at its hyphen
                found[-1] = replace(found[-1], text=f"{found[-1].text}{gap}{run.text}")
                last = run
                continue
        found.append(run)
        last = run
    return found


def cards_on(page: list[Run]) -> Iterator[list[Run]]:
    """A page's cards, one above the other: each begins with its number in the largest lettering of its head."""
    heads = [
        run.y
        for n, run in enumerate(page)
        if re.fullmatch(r"\d+", run.text) and run.size > 14 and _heads(page[n:])
    ]
    cuts = [level + 16.0 for level in heads[1:]]
    for high, low in zip([1e9, *cuts], [*cuts, -1e9], strict=True) if heads else ():
        yield [run for run in page if low < run.y < high]


def _heads(following: list[Run]) -> bool:
    """Whether a number heads a card: the words "step 3 of 35" follow with the same number."""
    step = next((run.text for run in following if re.match(r"step \d+ of", run.text)), "")
    return step.startswith(f"step {following[0].text} of")
