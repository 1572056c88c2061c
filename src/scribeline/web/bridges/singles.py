"""Single saddles: their letters and their picture."""

from __future__ import annotations

from collections.abc import Iterator

from scribeline.drawing.sheet import CUT, OUTLINE, PHANTOM, THIN, Circle, Item, Line, Path
from scribeline.web.bridges import KindPage
from scribeline.web.measuring import box, dim, point, word


def bases(count: int) -> Iterator[Item]:
    """The bases from above, and one from the side."""
    first = 8.5 * (count - 1)
    for n in range(count):
        y = first - 17 * n
        yield box(CUT, 0, y - 7, 96, y + 7)
        yield Line(THIN, (-40, y), (34, y))
        yield box(OUTLINE, 26, y - 5, 52, y + 5)
        for x in (8, 84):
            yield Circle(OUTLINE, (x, y), 3)
        yield Circle(OUTLINE, (68, y), 2.4)
    low = -first
    yield word((-4, low - 20), "front edge", "end")
    yield dim("A", (0, first + 7), (96, first + 7), (0, first + 40), "x")
    yield dim("H", (0, first + 7), (68, first), (0, first + 24), "x")
    yield dim("B", (96, first - 7), (96, first + 7), (116, 0), "y")
    yield dim("G", (-36, first), (-36, first - 17), (-50, 0), "y")
    yield point("K", (84, low - 3), (104, low - 24))
    yield point("J", (68, low - 2.4), (56, low - 26))
    base = low - 78
    yield box(CUT, 0, base, 96, base + 6)
    yield Path(OUTLINE, ((26, base + 8), (54, base + 8), (54, base + 22), (30, base + 26)), closed=True)
    yield Path(PHANTOM, ((40, base + 8), (68, base + 8), (68, base + 22), (44, base + 26)), closed=True)
    yield Line(THIN, (-40, base + 24), (30, base + 26))
    yield Line(OUTLINE, (-40, base), (120, base))
    yield word((-42, base - 9), "body", "end")
    yield dim("D", (0, base), (30, base + 26), (0, base - 14), "x")
    yield dim("E", (0, base), (44, base + 26), (0, base - 30), "x")
    yield dim("C", (96, base), (96, base + 6), (116, 0), "y")
    yield dim("F", (-24, base), (-24, base + 24.5), (-38, 0), "y")


PAGE = KindPage(
    "Single saddles",
    "Measure one base: everything counts from its front edge, the one towards the neck.",
    {
        "base_length": "A",
        "base_width": "B",
        "base_thickness": "C",
        "saddle_forward": "D",
        "saddle_back": "E",
        "saddle_height": "F",
        "spacing": "G",
        "string_hole_from_front": "H",
        "string_hole": "J",
        "screw_hole": "K",
    },
    "The bases of single saddles from above and one from the side, with the dimensions lettered",
    bases,
)
