"""Measuring pictures: each part drawn plainly, with a letter on every dimension that is asked for.

They are not to scale: a picture says which dimension is which, the number stands in the field with its letter.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import asdict, replace
from functools import cache, partial
from math import cos, pi, sin

from scribeline.drawing.extent import covered
from scribeline.drawing.sheet import (
    CENTRE,
    CUT,
    HATCHING,
    HIDDEN,
    LETTERING,
    OUTLINE,
    PHANTOM,
    THIN,
    Circle,
    Dimension,
    Hatch,
    Item,
    Leader,
    Line,
    Path,
    Point,
    Text,
)
from scribeline.job.outline import built_in, shape_measures
from scribeline.layout import equal_temperament, fret_distances
from scribeline.web.bridges import kind_page
from scribeline.web.drawings import element
from scribeline.web.measuring import LETTER
from scribeline.web.measuring import box as _box
from scribeline.web.measuring import dim as _dim
from scribeline.web.measuring import point as _point
from scribeline.web.measuring import rect as _rect
from scribeline.web.measuring import word as _word

WIDE, TALL = 140.0, 150.0
"""What a picture is made to fit, in its own millimetres, so that lettering is of one size on all of them."""


@cache
def picture(name: str, strings: int = 6) -> str:
    """A measuring picture as an SVG element.

    Args:
        name: which.
        strings: how many the instrument has.

    Raises:
        KeyError: there is none of that name.
    """
    items = tuple(_marks(name, strings))
    left, low, right, high = covered(items)
    smaller = min(WIDE / (right - left), TALL / (high - low))
    kind = kind_page(name)
    return element([_scaled(item, smaller) for item in items], _TITLES[name] if kind is None else kind.title)


@cache
def shape_picture(shape: str, *, left_handed: bool = False) -> str:
    """A built-in body's outline and its neck from the front, as an SVG element.

    Raises:
        OutlineError: there is no such shape.
    """
    own = asdict(shape_measures(shape))
    measures = {key: own[key] for key in ("length", "lower_width", "waist_width", "upper_width")}
    hand = -1.0 if left_handed else 1.0
    ring = [(x, y * hand) for x, y in built_in(shape, tail=752.0, **measures).points]
    left = min(x for x, _ in ring)
    neck = ((left - 60, 24.0), (left + 66, 28.0), (left + 66, -28.0), (left - 60, -24.0))
    items: tuple[Item, ...] = (
        Path(OUTLINE, tuple(ring), closed=True),
        Path(PHANTOM, neck, closed=True),
    )
    return element([_scaled(item, 0.1) for item in items], f"The shape {shape} from the front")


def _marks(name: str, strings: int) -> Iterator[Item]:
    kind = kind_page(name)
    make = _BY_STRINGS.get(name) if kind is None else kind.marks
    return _PICTURES[name]() if make is None else make(strings)


def _scaled(item: Item, by: float) -> Item:
    """A mark with its places moved together; its lettering keeps its height."""

    def at(point: Point) -> Point:
        return (point[0] * by, point[1] * by)

    made: Item
    match item:
        case Line():
            made = replace(item, a=at(item.a), b=at(item.b))
        case Circle():
            made = replace(item, centre=at(item.centre), radius=item.radius * by)
        case Path():
            made = replace(item, points=tuple(map(at, item.points)))
        case Text():
            made = replace(item, at=at(item.at))
        case Dimension():
            made = replace(item, a=at(item.a), b=at(item.b), at=at(item.at))
        case Leader():
            made = replace(item, tip=at(item.tip), elbow=at(item.elbow))
        case Hatch():
            made = replace(item, loops=tuple(tuple(map(at, loop)) for loop in item.loops))
        case _:
            message = f"no picture has a {type(item).__name__}"
            raise TypeError(message)
    return made


def names() -> tuple[str, ...]:
    """The pictures there are."""
    return tuple(_PICTURES)


def letters(name: str) -> frozenset[str]:
    """The letters that stand on a picture."""
    found = set()
    for item in _marks(name, 6):
        text = getattr(item, "text", "")
        if 0 < len(text) <= 2:
            found.add(text)
    return frozenset(found)


def _scale() -> Iterator[Item]:
    nut, end, line = 12.0, 108.0, 140.0
    yield Path(OUTLINE, ((nut, -7), (end, -11), (end, 11), (nut, 7)), closed=True)
    yield Line(CUT, (nut, -7), (nut, 7))
    for place in fret_distances(line - nut, equal_temperament(21)).tolist():
        x = nut + place
        half = 7 + 4 * (x - nut) / (end - nut)
        yield Line(THIN, (x, -half), (x, half))
    x = nut + (line - nut) / 2
    yield Line(CUT, (x, -9.6), (x, 9.6))
    for y in (-5.0, 5.0):
        yield Line(THIN, (nut, y), (line, 1.4 * y))
    yield Line(CENTRE, (line, -16), (line, 30))
    yield Line(CENTRE, (nut - 5, 0), (line + 6, 0))
    yield _word((x, -16), "12th fret", "middle")
    yield _word((line, -21), "scale line", "middle")
    yield _dim("L", (nut, 7), (line, 20), (nut, 27), "x")
    yield _dim("F", (nut, -7), (end, -11), (nut, -30), "x")
    yield _dim("N", (nut, -7), (nut, 7), (nut - 8, 0), "y")
    yield _dim("W", (end, -11), (end, 11), (end + 12, 0), "y")
    yield _point("E", (nut, 6), (nut + 16, 18))


def _fret_wire() -> Iterator[Item]:
    yield Hatch(
        HATCHING,
        (((-40, -30), (40, -30), (40, 0), (4, 0), (4, -18), (-4, -18), (-4, 0), (-40, 0)),),
        spacing=3,
    )
    yield Path(OUTLINE, ((-40, 0), (-4, 0), (-4, -18), (4, -18), (4, 0), (40, 0)))
    crown = [(18 * cos(pi - pi * n / 24), 14 * sin(pi * n / 24)) for n in range(25)]
    yield Path(CUT, (*crown, (3, 0), (3, -15), (-3, -15), (-3, 0)), closed=True)
    yield _dim("A", (-18, 0), (18, 0), (0, 22), "x")
    yield _dim("B", (18, 0), (0, 14), (28, 0), "y")
    yield _dim("C", (-4, -18), (4, -18), (0, -38), "x")


def _strings(count: int) -> Iterator[Item]:
    last = 40 - 8 * (count - 1)
    yield _box(OUTLINE, 0, last - 4, 6, 44)
    for n in range(count):
        y = 40 - 8 * n
        yield Line(THIN if n < count / 2 else CUT, (0, y), (110, y))
        yield Text(LETTERING, (116, y - LETTER / 2), str(n + 1), LETTER, bold=True)
    yield _word((3, last - 10), "nut", "middle")
    yield _word((126, 38), "treble")
    yield _word((126, last - 2), "bass")


def _setup() -> Iterator[Item]:
    yield Line(CENTRE, (0, 0), (130, 0))
    curve = [(x, -6 * (1 - ((x - 55) / 55) ** 2)) for x in range(0, 111, 5)]
    yield Path(OUTLINE, (*curve, (130, 0), (130, -20), (0, -20)), closed=True)
    yield Line(CUT, (0, 4), (150, 22))
    x = 75.0
    yield Path(OUTLINE, ((x - 3, -5), (x, -1), (x + 3, -5)))
    yield _word((x, -13), "12th fret", "middle")
    yield _dim("A", (x, -1), (x, 12.4), (x + 14, 0), "y")
    yield _word((x + 20, 2), "first string")
    yield _dim("R", (40, 0), (40, -5.6), (26, 0), "y")
    yield Text(LETTERING, (0, -36), "B", LETTER, bold=True)
    yield _word((8, -35), "the same under the last string")


def _neck() -> Iterator[Item]:
    # Seen from the front, and from the side below it.
    yield Path(OUTLINE, ((0, -30), (70, -30), (95, -40), (150, -40), (150, 40), (95, 40), (70, 30), (0, 30)))
    yield Path(CUT, ((0, 19), (64, 21), (70, 15), (70, -15), (64, -21), (0, -19)))
    yield Path(PHANTOM, ((-50, -16), (0, -18.4), (70, -20.4)))
    yield Path(PHANTOM, ((-50, 16), (0, 18.4), (70, 20.4)))
    yield Line(CENTRE, (-54, 0), (154, 0))
    yield _dim("A", (0, 30), (70, 21), (0, 50), "x")
    yield _dim("B", (70, -20.5), (70, 20.5), (112, 0), "y")
    yield _dim("C", (0, -19), (0, 19), (-22, 0), "y")
    yield Line(HIDDEN, (-50, 16), (-50, 66))
    yield _dim("P", (-50, 16), (70, 21), (-50, 64), "x")
    yield _word((-54, 20), "nut", "end")
    yield _point("R", (68.2, 19.2), (90, 30))
    base = -100.0
    yield Hatch(
        HATCHING,
        (((0, base), (150, base), (150, base + 45), (70, base + 45), (70, base + 29), (0, base + 29)),),
        spacing=4,
    )
    yield Path(
        OUTLINE,
        ((0, base), (150, base), (150, base + 45), (70, base + 45), (70, base + 29), (0, base + 29)),
        closed=True,
    )
    yield Path(CUT, ((-50, base + 29), (70, base + 29), (70, base + 54), (-50, base + 54)))
    yield _dim("D", (-40, base + 29), (-40, base + 54), (-58, base), "y")
    yield _dim("E", (70, base + 29), (70, base + 45), (96, base), "y")
    yield _word((154, base + 20), "side")


def _neck_through() -> Iterator[Item]:
    # Seen from the front, the wings beside the core, and from the side below it.
    yield Path(OUTLINE, ((0, -52), (150, -44)))
    yield Path(OUTLINE, ((150, 44), (0, 52), (0, -52)))
    yield Path(OUTLINE, ((150, -44), (156, 0), (150, 44)))
    yield Path(CUT, ((-50, 24.7), (153, 18)))
    yield Path(CUT, ((-50, -24.7), (153, -18)))
    yield Path(PHANTOM, ((-50, -15), (60, -20), (60, 20), (-50, 15)))
    yield Line(CENTRE, (-54, 0), (164, 0))
    yield _dim("F", (60, -21), (60, 21), (86, 0), "y")
    yield _dim("G", (153, -18), (153, 18), (176, 0), "y")
    yield _word((8, 40), "wing")
    yield _word((104, 7), "core")
    base = -130.0
    top = base + 45
    core = (
        (0, base),
        (154, base),
        (154, top),
        (60, top),
        (60, top + 7),
        (-50, top + 7),
        (-50, top - 22),
        (0, top - 30),
    )
    yield Hatch(HATCHING, (core,), spacing=4)
    yield Path(OUTLINE, core, closed=True)
    yield Path(CUT, ((-50, top + 7), (60, top + 7), (60, top + 17), (-50, top + 17)))
    yield _dim("H", (60, top), (60, top + 7), (92, base), "y")
    yield _word((8, top + 22), "board")
    yield _word((158, base + 20), "side")


def _body() -> Iterator[Item]:
    own = asdict(shape_measures("dune"))
    measures = {key: own[key] for key in ("length", "lower_width", "waist_width", "upper_width")}
    ring = built_in("dune", tail=752.0, **measures).points
    yield Path(OUTLINE, tuple(ring), closed=True)
    left, right = min(x for x, _ in ring), max(x for x, _ in ring)

    def across(low: float, high: float, *, most: bool) -> tuple[Point, Point]:
        """The widest or narrowest place between two shares of the length."""
        ends = []
        for n in range(41):
            x = left + (low + (high - low) * n / 40) * (right - left)
            near = [y for px, y in ring if abs(px - x) < 4.0]
            ends.append((max(near) - min(near), x, min(near), max(near)))
        _, x, bottom, top = max(ends) if most else min(ends)
        return (x, bottom), (x, top)

    nut = left - 130.0
    yield Line(CENTRE, (nut - 10, 0), (right + 20, 0))
    yield Path(PHANTOM, ((nut, 21), (left + 66, 28), (left + 66, -28), (nut, -21)), closed=True)
    yield _word((nut - 8, 10), "nut", "end")
    for letter, low, high, most in (("C", 0.6, 0.9, True), ("D", 0.5, 0.56, False), ("E", 0.26, 0.34, True)):
        a, b = across(low, high, most=most)
        yield _dim(letter, a, b, (right + 46.0, 0.0) if letter == "C" else (a[0], 0.0), "y")
    bottom = min(y for _, y in ring)
    yield _dim("B", (left, 0), (right, 0), (left, bottom - 34), "x")
    yield _dim("A", (nut, -21), (right, 0), (nut, bottom - 74), "x")
    base = bottom - 170.0
    yield _box(OUTLINE, left + 60, base, right, base + 45)
    yield Hatch(HATCHING, (_rect(left + 60, base, right, base + 45),), spacing=4)
    yield _dim("T", (left + 60, base), (left + 60, base + 45), (left + 20, 0), "y")


def _bridge(count: int, *, through_body: bool = True) -> Iterator[Item]:
    # From above: front edge at x = 0, tail at 88, then the same from the side.
    first = 8.2 * (count - 1)
    half = first + 19
    yield _box(CUT, 0, -half, 88, half)
    yield Line(CENTRE, (-12, 0), (100, 0))
    for n in range(count):
        y = first - 16.4 * n
        yield _box(OUTLINE, 22, y - 6, 46, y + 6)
        yield Line(OUTLINE, (25, y - 6), (25, y + 6))
        yield Line(THIN, (-14, y), (25, y))
        if through_body:
            yield Circle(OUTLINE, (62, y), 3.4)
    for y in (10 - half, half - 10):
        yield Circle(OUTLINE, (77, y), 4.2)
    yield _word((-3, -half - 8), "front edge", "end")
    yield _dim("A", (0, half), (88, half), (0, half + 28), "x")
    yield _dim("B", (88, -half), (88, half), (112, 0), "y")
    yield _dim("G", (-10, first), (-10, first - 16.4), (-26, 0), "y")
    if through_body:
        yield _dim("H", (0, half), (62, first), (0, half + 14), "x")
        yield _point("J", (59.6, -first - 2.4), (40, -half - 14))
    yield _point("K", (74, 7 - half), (62, -half - 14))
    base = -half - 62
    yield _box(CUT, 0, base, 88, base + 5)
    yield Path(
        OUTLINE,
        ((20, base + 7), (48, base + 7), (48, base + 18), (25, base + 20), (20, base + 14)),
        closed=True,
    )
    yield Path(
        PHANTOM,
        ((34, base + 7), (62, base + 7), (62, base + 18), (39, base + 20), (34, base + 14)),
        closed=True,
    )
    yield Line(THIN, (-14, base + 19), (25, base + 20))
    yield Line(OUTLINE, (-14, base), (100, base))
    yield _word((-16, base - 9), "body", "end")
    yield _dim("D", (0, base), (25, base + 20), (0, base - 12), "x")
    yield _dim("E", (0, base), (39, base + 20), (0, base - 26), "x")
    yield _dim("C", (88, base), (88, base + 5), (108, 0), "y")
    yield _dim("F", (-8, base), (-8, base + 19.4), (-24, 0), "y")


def _screw() -> Iterator[Item]:
    under = 16.0  # the head is flat underneath, so that it is plain from where the length counts
    yield Path(OUTLINE, ((under, -15), (under, 15), (7, 13), (1, 6), (1, -6), (7, -13)), closed=True)
    teeth: list[Point] = []
    for n in range(10):
        x = 34 + 8 * n
        teeth += [(x, 5.0), (x + 4, 8.5)]
    yield Path(OUTLINE, ((16, 7), (34, 7), *teeth, (114, 5), (126, 0)))
    yield Path(OUTLINE, ((16, -7), (34, -7), *((x, -y) for x, y in teeth), (114, -5), (126, 0)))
    yield Line(CENTRE, (-6, 0), (134, 0))
    yield _dim("A", (70, -8.5), (70, 8.5), (140, 0), "y")
    yield _dim("B", (82, -5), (82, 5), (156, 0), "y")
    yield _dim("C", (under, 15), (126, 0), (0, 28), "x")
    yield _word((63, -24), "A over the crests, B in the valley", "middle")


def _ferrule() -> Iterator[Item]:
    # Seen along, lip downwards as it sits in the back; the wood around it hatched.
    yield Hatch(
        HATCHING,
        (((-60, 0), (-19, 0), (-19, 12), (-13, 12), (-13, 62), (-6, 62), (-6, 90), (-60, 90)),),
        spacing=4,
    )
    yield Hatch(
        HATCHING, (((60, 0), (19, 0), (19, 12), (13, 12), (13, 62), (6, 62), (6, 90), (60, 90)),), spacing=4
    )
    yield Path(OUTLINE, ((-60, 0), (-19, 0), (-19, 12), (-13, 12), (-13, 62), (-6, 62), (-6, 90)))
    yield Path(OUTLINE, ((60, 0), (19, 0), (19, 12), (13, 12), (13, 62), (6, 62), (6, 90)))
    yield Path(
        CUT,
        ((-18, 3), (18, 3), (18, 12), (12.4, 12), (12.4, 50), (-12.4, 50), (-12.4, 12), (-18, 12)),
        closed=True,
    )
    yield Line(CENTRE, (0, -10), (0, 100))
    yield _dim("A", (-18, 3), (18, 3), (0, -22), "x")
    yield _dim("B", (18, 3), (18, 12), (84, 0), "y")
    yield _dim("C", (-12.4, 40), (12.4, 40), (0, 38), "x")
    yield _dim("D", (12.4, 12), (12.4, 50), (72, 0), "y")
    yield _dim("E", (-18, 0), (-18, 3), (-78, 0), "y")
    yield _dim("F", (-6, 90), (6, 90), (0, 104), "x")
    yield _dim("G", (-13, 50), (-13, 62), (-74, 0), "y")
    yield _word((0, -32), "back of the body", "middle")


def _ground_wire() -> Iterator[Item]:
    yield Hatch(HATCHING, (((40, 0), (150, 0), (150, -60), (0, -60), (0, -44), (40, -44)),), spacing=4)
    yield Path(OUTLINE, ((150, 0), (40, 0), (40, -44), (0, -44)))
    yield _word((4, -36), "pocket")
    yield _box(CUT, 76, 0, 150, 4)
    yield Line(CENTRE, (113, 2.8), (34, -28.8))
    for off in (9.0, -9.0):
        yield Line(CUT, (106 + off, 0), (40, 0.4 * (40 - 106 - off)))
    yield _dim("B", (76, 4), (106, 0), (0, 18), "x")
    yield _dim("D", (40, 0), (40, -26.4), (20, 0), "y")
    yield _point("A", (80, -14), (96, -40))
    yield _word((113, 8), "plate", "middle")
    yield Text(LETTERING, (0, -74), "C", LETTER, bold=True)
    yield _word((9, -73), "across, from the centreline to the treble")


def _pocket() -> Iterator[Item]:
    corner = 8.0
    ring: list[Point] = []
    for cx, cy, start in ((52, 32, 0), (-12, 32, 90), (-12, -32, 180), (52, -32, 270)):
        ring += [
            (cx + corner * cos((start + a) * pi / 180), cy + corner * sin((start + a) * pi / 180))
            for a in range(0, 91, 10)
        ]
    yield Path(CUT, tuple(ring), closed=True)
    yield Line(CENTRE, (-90, -14), (80, -14))
    yield Line(CENTRE, (-80, -60), (-80, 60))
    yield _word((-78, 52), "datum along")
    yield _word((-88, -20), "centreline")
    yield Line(THIN, (16, 0), (24, 0))
    yield Line(THIN, (20, -4), (20, 4))
    yield _dim("B", (-80, -10), (20, 0), (0, 62), "x")
    yield _dim("C", (20, -14), (20, 0), (-30, 0), "y")
    yield _dim("D", (-20, -40), (60, -40), (0, -56), "x")
    yield _dim("E", (60, -40), (60, 40), (80, 0), "y")
    yield _point("R", (57.6, 37.6), (74, 54))
    base = -112.0
    shape = (
        (-40, base),
        (90, base),
        (90, base + 34),
        (60, base + 34),
        (60, base + 10),
        (-20, base + 10),
        (-20, base + 34),
        (-40, base + 34),
    )
    yield Hatch(HATCHING, (shape,), spacing=4)
    yield Path(OUTLINE, shape, closed=True)
    yield _dim("A", (-20, base + 10), (-20, base + 34), (20, 0), "y")


def _bits() -> Iterator[Item]:
    def shank(x: float, wide: float, tall: float) -> Iterator[Item]:
        yield _box(OUTLINE, x - wide, 0, x + wide, tall)

    yield from shank(0, 8, 60)
    yield Path(CUT, ((-8, 0), (0, -6), (8, 0)))
    yield from shank(50, 8, 60)
    yield Path(CUT, ((42, 0), (42, -4), (47, 0), (50, -8), (53, 0), (58, -4), (58, 0)))
    yield from shank(100, 10, 60)
    yield Path(CUT, ((90, 0), (99, 0), (100, -4), (101, 0), (110, 0)))
    yield from shank(150, 4, 60)
    yield _box(CUT, 141, -4, 159, 26)
    for x, words in ((0, "twist"), (50, "brad-point"), (100, "flat-bottomed"), (150, "router")):
        yield _word((x, -18), words, "middle")


def _jack() -> Iterator[Item]:
    # Cut through the bore: the pocket on the left, the body's edge on the right, the top upwards.
    above = ((30, 0), (120, 0), (120, -14), (110, -14), (110, -20), (30, -20))
    below = ((30, -90), (120, -90), (120, -58), (110, -58), (110, -52), (30, -52))
    for loop in (above, below):
        yield Hatch(HATCHING, (loop,), spacing=4)
    yield Path(OUTLINE, ((0, 0), (120, 0), (120, -14)))
    yield Path(OUTLINE, ((0, -90), (120, -90), (120, -58)))
    yield Path(CUT, ((30, 0), (30, -20), (110, -20), (110, -14), (120, -14)))
    yield Path(CUT, ((30, -90), (30, -52), (110, -52), (110, -58), (120, -58)))
    yield Line(CENTRE, (20, -36), (142, -36))
    yield _box(PHANTOM, 120, -64, 124, -8)
    yield _word((2, -72), "pocket")
    yield _word((60, 5), "top", "middle")
    yield _dim("A", (50, -52), (50, -20), (50, 0), "y")
    yield _dim("B", (30, -90), (120, -90), (30, -106), "x")
    yield _dim("C", (120, -58), (120, -14), (150, 0), "y")
    yield _dim("D", (110, -14), (120, -14), (110, 22), "x")
    yield _dim("E", (90, -36), (90, 0), (90, 0), "y")
    yield _dim("F", (120, -64), (124, -64), (120, -84), "x")


def _strap() -> Iterator[Item]:
    yield Hatch(
        HATCHING,
        (((-70, -40), (0, -40), (0, -5), (-58, -5), (-58, 5), (0, 5), (0, 40), (-70, 40)),),
        spacing=4,
    )
    yield Path(OUTLINE, ((-70, 40), (0, 40), (0, -40), (-70, -40)))
    yield Path(CUT, ((0, 5), (-58, 5), (-58, -5), (0, -5)))
    yield Path(
        OUTLINE,
        ((0, -22), (6, -22), (14, -10), (28, -14), (34, -14), (34, 14), (28, 14), (14, 10), (6, 22), (0, 22)),
    )
    yield Path(
        PHANTOM,
        ((40, -12), (34, -12), (24, -5), (-46, -5), (-54, 0), (-46, 5), (24, 5), (34, 12), (40, 12)),
        closed=True,
    )
    yield Line(CENTRE, (-80, 0), (54, 0))
    yield _word((-66, 46), "body's edge from above")
    yield _dim("A", (0, -22), (0, 22), (74, 0), "y")
    yield _dim("B", (0, 22), (34, 14), (0, 56), "x")
    yield _dim("C", (-54, 0), (34, -12), (-54, -56), "x")
    yield _point("D", (-30, 5), (-44, 26))


_PICTURES: dict[str, Callable[[], Iterator[Item]]] = {
    "scale": _scale,
    "fret-wire": _fret_wire,
    "setup": _setup,
    "neck": _neck,
    "neck, through": _neck_through,
    "body": _body,
    "screw": _screw,
    "ferrule": _ferrule,
    "ground-wire": _ground_wire,
    "pocket": _pocket,
    "bits": _bits,
    "jack": _jack,
    "strap": _strap,
}

_BY_STRINGS: dict[str, Callable[[int], Iterator[Item]]] = {
    "strings": _strings,
    "bridge": _bridge,
    "bridge, top-load": partial(_bridge, through_body=False),
}
"""Pictures that show as many strings as the instrument has."""

_TITLES = {
    "scale": "Nut, fingerboard and scale line from above, with the dimensions lettered",
    "fret-wire": "A fret in its slot, cut across, with the dimensions lettered",
    "strings": "The strings at the nut, numbered from the treble",
    "setup": "String, fret and relief from the side, with the dimensions lettered",
    "neck": "The heel in its pocket from the front and from the side, with the dimensions lettered",
    "neck, through": "The core between its wings from the front and from the side, with the dimensions lettered",
    "body": "The body from the front and its thickness, with the dimensions lettered",
    "bridge": "The bridge plate from above and from the side, with the dimensions lettered",
    "bridge, top-load": "The bridge plate from above and from the side, with the dimensions lettered",
    "screw": "A screw from the side, with the dimensions lettered",
    "ferrule": "A ferrule in the back of the body, cut along, with the dimensions lettered",
    "ground-wire": "The ground-wire hole under the plate, cut along, with the dimensions lettered",
    "pocket": "A cavity from above and cut, with the dimensions lettered",
    "bits": "Four kinds of bits",
    "jack": "The jack's hole from the body's edge, cut along, with the dimensions lettered",
    "strap": "A strap button and its screw in the body's edge, cut along, with the dimensions lettered",
}
