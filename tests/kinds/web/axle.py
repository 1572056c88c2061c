"""The page of the vibrato on an axle."""

from __future__ import annotations

from collections.abc import Iterator

from scribeline.drawing.sheet import CUT, OUTLINE, Circle, Item
from scribeline.web.bridges import KindPage
from scribeline.web.measuring import box, dim


def marks(count: int) -> Iterator[Item]:
    """One bearing block from the side, its axle, both from above."""
    yield box(CUT, -20, 0, 20, 12)
    yield Circle(OUTLINE, (0, 9), 4)
    yield dim("F", (-20, 0), (0, 9), (0, -16), "x")
    yield dim("G", (-12, 12), (0, 9), (0, 28), "x")
    yield dim("H", (0, 9), (12, 12), (0, 44), "x")
    for y in (70, 70 + 10 * count):
        yield box(OUTLINE, -20, y, 20, y + 12)
    yield dim("A", (20, 76), (20, 76 + 10 * count), (40, 0), "y")


PAGE = KindPage(
    "Vibrato on an axle",
    "Everything counts from the axle.",
    {"blocks_apart": "A", "foot_front": "F", "screw_front": "G", "screw_back": "H"},
    "A bearing block and its axle, with the dimensions lettered",
    marks,
)
