"""The bridge on two studs: its letters, and the picture that it shares with the one on posts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from scribeline.drawing.sheet import (
    CENTRE,
    CUT,
    HATCHING,
    OUTLINE,
    PHANTOM,
    THIN,
    Circle,
    Hatch,
    Item,
    Line,
    Path,
)
from scribeline.web.bridges import KindPage
from scribeline.web.measuring import box, dim, point, word

LETTERS: Mapping[str, str] = {
    "spacing": "S",
    "saddle_forward": "L",
    "saddle_back": "M",
    "saddle_height": "N",
    "reach_forward": "A",
    "reach_back": "B",
    "overall_width": "Q",
    "thickness": "C",
    "underside": "D",
}
"""What both have."""


def held(count: int, *, tailpiece: bool = False) -> Iterator[Item]:
    """A bridge on a pair, from above, and from the side, cut along through the bushing."""
    first, half = 5.5 * (count - 1), 5.5 * (count - 1) + 20
    outer, end = half - 7, 70 if tailpiece else 12
    yield box(CUT, -10, -half, 16, half)
    yield Line(CENTRE, (-66, 0), (100 if tailpiece else 40, 0))
    yield Line(CENTRE, (0, -half - 12), (0, half + 10))
    for y in (outer, -outer):
        yield Circle(OUTLINE, (0, y), 6)
        if tailpiece:
            yield Circle(OUTLINE, (78, y + (3 if y > 0 else -3)), 6)
    for n in range(count):
        y = first - 11 * n
        yield Line(THIN, (-70, y), (end, y))
    yield dim("A", (-10, half), (0, half), (-26, half + 18), "x")
    yield dim("B", (0, half), (16, half), (40, half + 36), "x")
    yield dim("P", (0, -outer), (0, outer), (-40, 0), "y")
    yield dim("Q", (16, -half), (16, half), (40, 0), "y")
    yield dim("S", (-66, first), (-66, first - 11), (-78, 0), "y")
    if tailpiece:
        yield box(CUT, 70, -half - 4, 88, half + 4)
        yield dim("T", (0, half), (78, outer), (0, half + 54), "x")
        yield dim("U", (78, -outer - 3), (78, outer + 3), (112, 0), "y")
    top, right = -half - 100.0, 104.0 if tailpiece else 70.0
    holes = (0.0, 78.0) if tailpiece else (0.0,)
    upper = [
        at
        for hole in holes
        for at in ((hole - 6, top), (hole - 6, top - 34), (hole + 6, top - 34), (hole + 6, top))
    ]
    wood = ((-94, top - 56), (-94, top), *upper, (right, top), (right, top - 56))
    yield Hatch(HATCHING, (wood,), spacing=5)
    yield Path(OUTLINE, wood, closed=True)
    for hole in holes:
        yield box(OUTLINE, hole - 6, top - 30, hole + 6, top)
        yield box(OUTLINE, hole - 3, top, hole + 3, top + 12)
        yield Line(CENTRE, (hole, top - 62), (hole, top + 70))
    yield box(CUT, -10, top + 12, 16, top + 28)
    yield Path(OUTLINE, ((-2, top + 28), (5, top + 38), (8, top + 28)))
    yield Path(PHANTOM, ((4, top + 28), (11, top + 38), (14, top + 28)))
    yield Line(CUT, (-94, top + 34), (5, top + 38))
    if tailpiece:
        yield Line(CUT, (5, top + 38), (70, top + 26))
        yield box(CUT, 70, top + 12, 88, top + 28)
        yield point("K", (16, top + 32), (44, top + 58))
    yield word((-90, top - 68), "body")
    yield dim("D", (-10, top), (-10, top + 12), (-28, 0), "y")
    yield dim("C", (16, top + 12), (16, top + 28), (34, 0), "y")
    yield dim("N", (-70, top), (-70, top + 35), (-84, 0), "y")
    yield dim("L", (0, top + 28), (5, top + 38), (-18, top + 62), "x")
    yield dim("M", (0, top + 28), (11, top + 38), (-18, top + 80), "x")
    yield dim("E", (-6, top - 30), (6, top - 30), (-26, top - 74), "x")
    yield dim("F", (6, top), (6, top - 30), (30, 0), "y")


PAGE = KindPage(
    "Bridge on studs",
    "Everything counts from the line of the studs, towards the tail, a minus towards the neck.",
    {"stud_spacing": "P", "bushing_diameter": "E", "bushing_length": "F", **LETTERS},
    "The bridge on its studs from above and cut along, with the dimensions lettered",
    held,
)
