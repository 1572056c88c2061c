"""How the shop's tests are done, a small picture each. They are not to scale: what is off is drawn many times as far off."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import cache
from math import cos, pi, sin

from scribeline.drawing.sheet import (
    CENTRE,
    CUT,
    HATCHING,
    HIDDEN,
    OUTLINE,
    PHANTOM,
    THIN,
    Circle,
    Hatch,
    Item,
    Line,
    Path,
)
from scribeline.web.drawings import element
from scribeline.web.measuring import box, dim, rect, word

_SIDES = {"end": -1, "start": 1, "middle": 0}
"""On which side of its place a word stands."""


@cache
def trial_picture(kind: str) -> str:
    """How one kind of test is done, as an SVG element.

    Raises:
        KeyError: there is no such kind.
    """
    title, make = _PICTURES[kind]
    return element(tuple(make()), title)


def _table() -> Iterator[Item]:
    """A crank of wire over a table that falls to the front; below, the four places from above."""

    def top(x: float) -> float:
        return -30 + 0.09 * x

    yield Line(CENTRE, (0, 46), (0, -40))
    yield box(OUTLINE, -8, 14, 8, 34)
    yield box(OUTLINE, -5, 34, 5, 44)
    yield Path(CUT, ((0, 14), (0, 2), (42, 2), (42, top(42))))
    yield Path(PHANTOM, ((0, 2), (-42, 2), (-42, top(42))))
    yield Path(OUTLINE, ((-60, top(-60)), (60, top(60)), (60, top(60) - 6), (-60, top(-60) - 6)), closed=True)
    yield dim("gap", (-42, top(42)), (-42, top(-42)), (-54, 0), "y")
    yield dim("radius", (0, 2), (42, 2), (0, 10), "x")
    yield word((-60, top(-60) - 13), "front")
    yield word((60, top(60) - 13), "back", "end")
    yield Circle(THIN, (0, -78), 22)
    yield Circle(OUTLINE, (0, -78), 3)
    for name, x, y, anchor in (
        ("front", -22, -78, "end"),
        ("back", 22, -78, "start"),
        ("left", 0, -56, "middle"),
        ("right", 0, -100, "middle"),
    ):
        yield Circle(CUT, (x, y), 2)
        yield word((x + 5 * _SIDES[anchor], y + {"left": 4.0, "right": -7.5}.get(name, -1.7)), name, anchor)


def _collar() -> Iterator[Item]:
    """A router's base along a guide from above, its bit off the middle of the collar; the cut beyond the guide's edge."""
    yield Hatch(HATCHING, (rect(-62, -48, 62, -30),), spacing=4)
    yield box(OUTLINE, -62, -48, 62, -30)
    yield word((60, -56), "guide", "end")
    yield box(PHANTOM, -40, -52, 40, 28)
    yield Circle(OUTLINE, (0, -12), 18)
    yield Circle(CUT, (0, -15), 9)
    yield Line(CENTRE, (-24, -12), (24, -12))
    yield Line(CENTRE, (0, 10), (0, -34))
    for y in (-6, -24):
        yield Line(CUT, (-62, y), (-9, y))
    yield dim("d", (-54, -30), (-54, -24), (-70, 0), "y")
    yield word((0, 20), "back", "middle")
    yield word((0, -60), "front", "middle")
    yield word((-36, 8), "left")
    yield word((36, 8), "right", "end")


def _runout() -> Iterator[Item]:
    """A bit in a chuck with a dial against its shank."""
    yield box(OUTLINE, -9, 20, 9, 44)
    yield Path(OUTLINE, ((-9, 20), (-5, 12), (5, 12), (9, 20)))
    yield Line(CENTRE, (0, 50), (0, -52))
    yield Path(CUT, ((-3, 12), (-2, -44), (1, -48), (4, -44), (3, 12)), closed=True)
    yield Circle(OUTLINE, (38, -22), 14)
    yield Line(CUT, (38, -22), (46, -14))
    yield Line(OUTLINE, (24, -22), (3.6, -22))
    yield Path(OUTLINE, ((46, -10.5), (46, 8), (62, 8)))
    yield dim("below", (0, 12), (0, -22), (-20, 0), "y")
    turn = [(16 * cos(a), 56 + 5 * sin(a)) for a in (pi * n / 12 for n in range(4, 23))]
    yield Path(THIN, tuple(turn))
    yield word((20, 55), "by hand, a whole turn")
    yield word((38, -44), "swing", "middle")


def _print() -> Iterator[Item]:
    """A sheet with its two measuring bars."""
    yield box(OUTLINE, 0, 0, 84, 112)
    for ends, ticks in (
        (((12, 14), (72, 14)), [((12 + 6 * n, 12), (12 + 6 * n, 16)) for n in range(11)]),
        (((14, 26), (14, 98)), [((12, 26 + 7.2 * n), (16, 26 + 7.2 * n)) for n in range(11)]),
    ):
        yield Line(CUT, *ends)
        for a, b in ticks:
            yield Line(THIN, a, b)
    yield dim("across", (12, 14), (72, 14), (0, -12), "x")
    yield dim("up", (14, 26), (14, 98), (-14, 0), "y")
    yield Path(HIDDEN, ((34, 44), (66, 44), (70, 66), (50, 90), (30, 66)), closed=True)


def _flip() -> Iterator[Item]:
    """A section through scrap: a hole from the front, one from the back, and the step where they meet."""
    left = ((-56, 0), (1, 0), (1, 22), (-5, 22), (-5, 44), (-56, 44))
    right = ((11, 0), (62, 0), (62, 44), (5, 44), (5, 24), (11, 24))
    yield Hatch(HATCHING, (left,), spacing=4)
    yield Hatch(HATCHING, (right,), spacing=4)
    yield box(OUTLINE, -56, 0, 62, 44)
    yield Path(CUT, ((-5, 44), (-5, 22), (5, 22), (5, 44)))
    yield Path(CUT, ((1, 0), (1, 24), (11, 24), (11, 0)))
    yield Line(CENTRE, (0, 54), (0, 14))
    yield Line(CENTRE, (6, 32), (6, -14))
    yield dim("step", (0, 50), (6, 50), (0, 62), "x")
    yield word((-56, 48), "front")
    yield word((-56, -8), "back")
    yield word((66, 20), "treble")
    yield word((-60, 20), "bass", "end")


def _marks() -> Iterator[Item]:
    """Marks along a line, each off it by a little."""
    yield Line(THIN, (0, 56), (0, -52))
    for n, off in enumerate((14, -20, 7, 30, -9, -28, 18)):
        y = 48 - 15 * n
        yield Line(CUT, (off - 3, y), (off + 3, y))
        yield Line(CUT, (off, y - 3), (off, y + 3))
    yield dim("off", (0, 3), (30, 3), (0, -6), "x")
    yield word((-6, -62), "under 0", "end")
    yield word((6, -62), "over 0")
    yield box(OUTLINE, -56, -52, 56, 56)


_PICTURES: Mapping[str, tuple[str, Callable[[], Iterator[Item]]]] = {
    "table-square": ("A wire swung over the table of a drill press, from the side and from above", _table),
    "collar-centring": (
        "A router along a guide, from above, and how far its cut lies from the guide",
        _collar,
    ),
    "bit-runout": ("A dial against the shank of a bit in its chuck", _runout),
    "print-scale": ("A printed sheet with a measuring bar across and one up", _print),
    "flip-registration": (
        "A section through scrap drilled from both faces, and the step between the holes",
        _flip,
    ),
    "trial-marks": ("Marks along a line, each a little off it", _marks),
}
