"""Where to measure: the pictures on cards that cut nothing."""

from __future__ import annotations

from collections.abc import Callable

from scribeline.drawing.cards.marks import blank, box
from scribeline.drawing.cards.told import Told
from scribeline.drawing.nut import nut_face, nut_face_height
from scribeline.drawing.place import unit
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    CENTRE,
    CUT,
    DIMENSION,
    HATCHING,
    LETTERING,
    MARK,
    OUTLINE,
    PHANTOM,
    TAG,
    THIN,
    Circle,
    Clip,
    Dimension,
    Fill,
    Hatch,
    Item,
    Leader,
    Line,
    Path,
    Point,
    Text,
)
from scribeline.lengths import both_units
from scribeline.operations import Kind
from scribeline.plan import Plan
from scribeline.steps import Card

_View = Callable[[Plan, Card, Point, float], tuple[Item, ...]]
_LARGE = 5.0
_NARROW = 150.0
"""A picture narrower than this shows less, in smaller lettering, mm."""
_SWEEP = 100.0
"""Radius of the circle the bent wire sweeps, mm."""


def measure_view_height(plan: Plan, card: Card, width: float) -> float:
    """Height of the picture of where to measure, mm; 0 where there is none, or none so narrow."""
    found = _VIEWS.get(card.kind)
    return 0.0 if found is None else found[0](plan, width)


def _lettering(width: float) -> float:
    return ACTED_ON_LETTERING if width < _NARROW else _LARGE


def measure_view(plan: Plan, card: Card, corner: Point, width: float) -> tuple[Item, ...]:
    """Where to measure, for a card that `measure_view_height` gives a height."""
    return _VIEWS[card.kind][1](plan, card, corner, width)


def _box(left: float, low: float, right: float, high: float) -> tuple[Point, ...]:
    return ((left, low), (right, low), (right, high), (left, high))


# The neck: from the nut's front face to the crown of the 12th fret.

_SIDE_VIEW = 53.0


def _neck_scale(plan: Plan, width: float) -> float:
    return (width - 16.0) / (plan.layout.board_end + 6.0)


def _neck_height(plan: Plan, width: float) -> float:
    if width < _NARROW:
        return _SIDE_VIEW
    wide = 2 * plan.layout.frets[-1].treble.y * plan.layout.treble
    return abs(wide) * _neck_scale(plan, width) + 26.0 + _SIDE_VIEW


def _neck(plan: Plan, card: Card, corner: Point, width: float) -> tuple[Item, ...]:
    """The board from the front with its frets, and the two edges to measure between from the side; or these alone."""
    if width < _NARROW:
        return tuple(_nut_and_fret(plan, corner, width))
    layout, scale = plan.layout, _neck_scale(plan, width)
    nut, twelfth, last = layout.frets[0], layout.frets[11], layout.frets[-1]
    half = abs(last.treble.y) * scale
    left, middle = corner[0] + 14.0, corner[1] - half - 1.0

    def at(x: float, y: float) -> Point:
        return (left + x * scale, middle + y * scale)

    slope = (abs(last.treble.y) - abs(nut.treble.y)) / (last.x - nut.x)
    start = abs(nut.treble.y) - slope * nut.x
    treble, bass = layout.nut_line(start)
    nut_seen = ((5.0, treble), (5.0, bass), (0.0, bass), (0.0, treble))
    items: list[Item] = [
        Path(
            OUTLINE,
            tuple(at(*corner) for corner in (treble, *layout.board_ends, bass)),
            closed=True,
        ),
        Fill(MARK, (tuple(at(x - thick, y) for thick, (x, y) in nut_seen),)),
        Line(CENTRE, at(-22.0, 0.0), at(layout.board_end + 6.0, 0.0)),
    ]
    for fret in layout.frets:
        layer = CUT if fret.n == 12 else THIN
        items.append(Line(layer, at(*fret.treble), at(*fret.bass)))
    low = middle - abs(twelfth.treble.y) * scale
    value = card.gate.value
    items += _length(
        at(0.0, 0.0)[0],
        at(twelfth.x, 0.0)[0],
        low - 4.0,
        Told.on(plan, card)(value or layout.datum("12th-fret").point.x),
        middle,
    )
    items += _nut_and_fret(plan, (corner[0], corner[1] - 2 * half - 26.0), width)
    return tuple(items)


def _length(a: float, b: float, level: float, words: tuple[str, str], start: float) -> list[Item]:
    """A length below a picture with both its edges drawn out to it."""
    line = level - 8.0
    return [
        Line(THIN, (a, start), (a, level)),
        Dimension(DIMENSION, (a, level), (b, level), (a, line), *words, "x", _LARGE),
    ]


def _nut_and_fret(plan: Plan, corner: Point, width: float) -> list[Item]:
    """The nut and the 12th fret from the side, much enlarged: which edge, which point."""
    x, y = corner
    board = y - 26.0
    size = _lettering(width)
    nut, fret = x + 0.22 * width, x + 0.74 * width
    foot = board - 9.0
    crown = _crown(fret, board)
    start = plan.job.document.nut
    mark: Item = Path(CUT, _box(nut - 14.0, board, nut, board + 14.0), closed=True)
    if start.zero_fret:
        mark = Fill(MARK, (_crown(nut, board),))
    wood = _box(x + 14.0, foot, x + width - 14.0, board)
    stop = board - 17.5
    return [
        Hatch(HATCHING, (wood,), 45.0, 2.2),
        Path(OUTLINE, wood, closed=True),
        mark,
        Fill(MARK, (crown,)),
        Line(THIN, (nut, board), (nut, stop + 2.0)),
        Line(CENTRE, (fret, board + 9.0), (fret, stop + 2.0)),
        Leader(
            LETTERING,
            (nut, board + (5.2 if start.zero_fret else 9.0)),
            (nut + 12.0, board + 17.0),
            start.start("the nut's front face").removeprefix("the "),
            height=size,
        ),
        Leader(LETTERING, (fret, board + 5.2), (fret + 8.0, board + 9.0), "12th fret", height=size),
        Line(DIMENSION, (nut, stop), (fret, stop)),
        *_arrow((nut, stop), 180.0),
        *_arrow((fret, stop), 0.0),
        Text(LETTERING, ((nut + fret) / 2, stop + 1.6), "measure here", size, "middle", bold=True),
        Text(LETTERING, (x + 14.0, stop - 6.0), "From the side, enlarged, not to scale", ACTED_ON_LETTERING),
    ]


def _crown(middle: float, board: float) -> tuple[Point, ...]:
    """A fret's crown from the side, much enlarged."""
    return tuple((middle + 6.0 * unit(a)[0], board + 5.0 * unit(a)[1]) for a in range(0, 181, 15))


def _arrow(tip: Point, towards: float) -> list[Item]:
    x, y = tip
    dx, dy = unit(towards)
    wing = (x - 3.0 * dx - 0.9 * dy, y - 3.0 * dy + 0.9 * dx)
    other = (x - 3.0 * dx + 0.9 * dy, y - 3.0 * dy - 0.9 * dx)
    return [Fill(TAG, ((tip, wing, other),))]


# The body: four places round the bridge.

_BESIDE_BODY = 10.0
_BODY_TALL = 100.0


def _body_scale(plan: Plan, width: float) -> float:
    xs, ys = [p.x for p in plan.layout.outline], [p.y for p in plan.layout.outline]
    return min((width - _BESIDE_BODY) / (max(xs) - min(xs)), _BODY_TALL / (max(ys) - min(ys)))


def _body_height(plan: Plan, width: float) -> float:
    ys = [p.y for p in plan.layout.outline]
    return _body_scale(plan, width) * (max(ys) - min(ys)) + 9.0


def _body(plan: Plan, card: Card, corner: Point, width: float) -> tuple[Item, ...]:
    """The body from the front, with four numbered places round the bridge; its gate has a line for each reading."""
    layout, scale = plan.layout, _body_scale(plan, width)
    xs, ys = [p.x for p in layout.outline], [p.y for p in layout.outline]

    left, top = min(xs), max(ys)

    def at(x: float, y: float) -> Point:
        return (corner[0] + (x - left) * scale, corner[1] - 3.0 + (y - top) * scale)

    items: list[Item] = [
        Path(OUTLINE, tuple(at(*p) for p in layout.outline), closed=True),
        Line(CENTRE, at(min(xs), 0.0), at(max(xs) + 8.0, 0.0)),
    ]
    if layout.bridge is not None:
        bridge = layout.bridge
        items += [Path(PHANTOM, tuple(at(*p) for p in outline), closed=True) for outline in bridge.outlines]
        low_x, high_x, reach = bridge.nearest, bridge.furthest, bridge.half_width + 14.0
    else:
        low_x, high_x, reach = layout.scale - 30.0, layout.scale + 20.0, 55.0
    radius = 3.6
    spots = ((low_x - 8.0, reach), (high_x + 8.0, reach), (high_x + 8.0, -reach), (low_x - 8.0, -reach))
    for n, (x, y) in enumerate(spots, start=1):
        u, v = at(x, y)
        ring = tuple((u + radius * unit(a)[0], v + radius * unit(a)[1]) for a in range(0, 360, 15))
        items += [
            Fill(LETTERING, (ring,), tone="white"),
            Circle(CUT, (u, v), radius),
            Text(LETTERING, (u, v - 1.75), str(n), ACTED_ON_LETTERING, "middle", bold=True),
        ]
    words = f"From the front, scale 1:{1 / scale:.1f}"
    items.append(
        Text(LETTERING, (corner[0], corner[1] - _body_height(plan, width) + 0.9), words, ACTED_ON_LETTERING)
    )
    return tuple(items)


# The press: a bent wire in the chuck over the table.


def _press_height(plan: Plan, width: float) -> float:
    return 0.0 if width < _NARROW else 84.0


def _press(plan: Plan, card: Card, corner: Point, width: float) -> tuple[Item, ...]:
    """The wire from the front and its circle from above, with a line to write each gap on."""
    x, y = corner
    table, spindle = y - 66.0, x + 29.0
    reach = 0.48 * _SWEEP
    side: list[Item] = [
        Path(OUTLINE, _box(spindle - 9.0, y - 14.0, spindle + 9.0, y), closed=True),
        Path(
            OUTLINE,
            (
                (spindle - 8.0, y - 14.0),
                (spindle - 4.0, y - 25.0),
                (spindle + 4.0, y - 25.0),
                (spindle + 8.0, y - 14.0),
            ),
        ),
        Line(OUTLINE, (spindle - 4.0, y - 25.0), (spindle + 4.0, y - 25.0)),
        Path(
            CUT,
            (
                (spindle, y - 25.0),
                (spindle, y - 36.0),
                (spindle + reach, y - 36.0),
                (spindle + reach, table + 1.4),
            ),
        ),
        Line(CENTRE, (spindle, y - 36.0), (spindle, table - 3.0)),
        Hatch(HATCHING, (_box(x + 2.0, table - 6.0, x + 82.0, table),), 45.0, 2.2),
        Path(OUTLINE, _box(x + 2.0, table - 6.0, x + 82.0, table), closed=True),
        Dimension(
            DIMENSION,
            (spindle, table + 8.0),
            (spindle + reach, table + 8.0),
            (spindle, table + 12.0),
            *both_units(_SWEEP, plan.unit, places=0),
            "x",
            _LARGE,
        ),
        Text(LETTERING, (spindle - 11.0, y - 8.0), "chuck", ACTED_ON_LETTERING, "end"),
        Text(LETTERING, (spindle + 6.0, y - 34.0), "bent wire", ACTED_ON_LETTERING),
        Text(LETTERING, (x + 3.0, table + 1.6), "table", ACTED_ON_LETTERING),
        Text(LETTERING, (x + 2.0, y - 82.5), "From the front, not to scale", ACTED_ON_LETTERING),
    ]
    return (*side, *_swept((x + width - 56.0, y - 37.0), 25.0, plan.unit))


def _swept(middle: Point, radius: float, read_in: str) -> list[Item]:
    """The circle of the wire's tip from above and the four places to read, in the job's unit."""
    x, y = middle
    items: list[Item] = [
        box((x - radius - 6.0, y + radius + 6.0), 2 * radius + 12.0, 2 * radius + 12.0),
        Circle(THIN, middle, radius),
        Line(CENTRE, (x - radius - 3.0, y), (x + radius + 3.0, y)),
        Line(CENTRE, (x, y - radius - 3.0), (x, y + radius + 3.0)),
        Line(CUT, middle, (x + radius * unit(35.0)[0], y + radius * unit(35.0)[1])),
    ]
    for name, angle in (("back", 90.0), ("right", 0.0), ("front", -90.0), ("left", 180.0)):
        u, v = x + radius * unit(angle)[0], y + radius * unit(angle)[1]
        ring = tuple((u + 1.4 * unit(a)[0], v + 1.4 * unit(a)[1]) for a in range(0, 360, 30))
        items.append(Fill(MARK, (ring,)))
        if angle in (90.0, -90.0):
            level = y + radius + 8.5 if angle > 0 else y - radius - 12.0
            items += blank(name, (x - 22.0, level), 44.0, read_in)
        else:
            start = x + radius + 8.0 if angle == 0.0 else x - radius - 31.0
            items.append(Text(LETTERING, (start, y + 1.5), name, ACTED_ON_LETTERING))
            items += blank("", (start, y - 6.0), 22.0, read_in)
    items.append(Text(LETTERING, (x - radius - 6.0, y - radius - 20.5), "From above", ACTED_ON_LETTERING))
    return items


# The fitted neck: threads from the outer nut slots to their saddles.

_LINE_TALL, _LINE_LOW = 70.0, 38.0


def _line_scale(plan: Plan, width: float) -> float:
    tall = _LINE_LOW if width < _NARROW else _LINE_TALL
    return min(1.0, (tall - 4.0) / (2 * abs(plan.layout.frets[-1].treble.y)))


def _line_height(plan: Plan, width: float) -> float:
    return 2 * abs(plan.layout.frets[-1].treble.y) * _line_scale(plan, width) + 12.0


def _line(plan: Plan, card: Card, corner: Point, width: float) -> tuple[Item, ...]:
    """The end of the board with both threads; the margins to compare at the last fret."""
    layout, scale, size = plan.layout, _line_scale(plan, width), _lettering(width)
    last = layout.frets[-1]
    half = abs(last.treble.y) * scale
    middle = corner[1] - half - 3.0
    shown = (width - 50.0) / scale
    lo = layout.board_end + 18.0 - shown

    def at(x: float, y: float) -> Point:
        return (corner[0] + (x - lo) * scale, middle + y * scale)

    window = (corner[0], middle - half - 2.5, corner[0] + width - 50.0, middle + half + 2.5)
    nut = layout.frets[0]
    marks: list[Item] = [
        Line(OUTLINE, at(*nut.treble), at(*last.treble)),
        Line(OUTLINE, at(*nut.bass), at(*last.bass)),
        Path(
            OUTLINE,
            (
                at(*last.treble),
                *(at(*end) for end in layout.board_ends),
                at(*last.bass),
            ),
        ),
        Line(CENTRE, at(lo, 0.0), at(layout.board_end + 18.0, 0.0)),
    ]
    for fret in layout.frets:
        layer = CUT if fret.n == last.n else THIN
        marks.append(Line(layer, at(*fret.treble), at(*fret.bass)))
    items: list[Item] = []
    for string, side in ((layout.strings[0], "treble"), (layout.strings[-1], "bass")):
        marks.append(Line(CUT, at(string.nut.x, string.nut.y), at(string.saddle.x, string.saddle.y)))
        share = string.frets[-1] / (string.scale + string.setback)
        y = string.nut.y + share * (string.saddle.y - string.nut.y)
        end = last.treble if side == "treble" else last.bass
        level = window[2] + 3.0
        a, b = at(end.x, y), at(*end)
        items += [
            Line(THIN, a, (level + 2.0, a[1])),
            Line(THIN, b, (level + 2.0, b[1])),
            Text(LETTERING, (level + 4.0, (a[1] + b[1]) / 2 - size / 2), f"{side} margin", size, bold=True),
        ]
    names = Text(LETTERING, (window[2] + 7.0, middle + 1.5), f"at fret {last.n}", ACTED_ON_LETTERING)
    words = (
        "From the front"
        if width < _NARROW
        else "From the front: threads from the outer nut slots to their saddles"
    )
    foot = Text(
        LETTERING, (corner[0], corner[1] - _line_height(plan, width) + 0.9), words, ACTED_ON_LETTERING
    )
    return (Clip(window, tuple(marks)), *items, names, foot)


def _nut(plan: Plan, card: Card, corner: Point, width: float) -> tuple[Item, ...]:
    """A nut that is made here, from the heel."""
    return nut_face(plan, corner, width)


_VIEWS: dict[Kind, tuple[Callable[[Plan, float], float], _View]] = {
    "check neck": (_neck_height, _neck),
    "check blank": (_body_height, _body),
    "check press": (_press_height, _press),
    "fit neck": (_line_height, _line),
    "check core": (_line_height, _line),
    "slot nut": (nut_face_height, _nut),
}
