"""The height chain on paper: the instrument from the side at full size, and what to measure before the pocket is routed.

The elevation lies along the centreline from the pocket's mouth to behind the bridge. What lies between the neck and the
bridge is broken out where the paper is too short (ISO 128); dimensions of the neck stand in that gap.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import degrees
from typing import Literal

from scribeline.drawing.marks import paragraph
from scribeline.drawing.saddle_range import saddle_range
from scribeline.drawing.section import Section, section
from scribeline.drawing.sheet import (
    CENTRE,
    DIMENSION,
    HATCHING,
    OUTLINE,
    PHANTOM,
    THIN,
    Dimension,
    Hatch,
    Item,
    Line,
    Path,
    Point,
)
from scribeline.drawing.sheets.cutting import Paper, break_line, hatched, wood_along
from scribeline.drawing.sheets.figures import signed
from scribeline.drawing.sheets.height_card import LETTERS, height_card
from scribeline.drawing.sheets.office import STANDARD_SCALES, Office, Page, full_size_bar
from scribeline.drawing.views import BRIDGE
from scribeline.layout import Lie, neck_opens
from scribeline.lengths import in_unit, said
from scribeline.plan import Plan
from scribeline.plan.heights import Heights, heights
from scribeline.plan.was_now import pocket_depth

_BEFORE, _BEHIND = 8.0, 9.0
"""What is shown before the pocket's mouth, and behind its end wall or the bridge, mm."""
_IN_FRONT = 14.0
"""What is shown of the body in front of the bridge, mm."""
_GAP, _PITCH = 56.0, 14.0
"""Width of what is broken out, and from one dimension in it to the next, mm."""
_LEFT, _RIGHT = 14.0, 34.0
"""Room for the dimensions before the neck's break, and behind the bridge, mm."""
_BAR = 106.0
"""Room across for the measuring bar, mm."""
_ABOVE = 24.0
"""Room over the body's top for bridge and strings, mm."""


@dataclass(frozen=True, slots=True)
class Elevation:
    """What the elevation is drawn with.

    Attributes:
        plan: the plan.
        found: its heights.
        parts: the pieces of the drawing, from the neck to the tail: one, or two with a gap between.
        wood: the body cut along the centreline.
    """

    plan: Plan
    found: Heights
    parts: tuple[Paper, ...]
    cut: Section

    @property
    def through(self) -> bool:
        """Whether the neck runs through the body."""
        return self.plan.job.document.neck.runs_through


def heights_pages(office: Office) -> list[Page]:
    """The elevation and the card; nothing where the strings or the bridge have no place."""
    found = heights(office.plan)
    if found is None or office.plan.layout.bridge is None:
        return []
    return [_elevation(office, found), *height_card(office.plan, found)]


def _elevation(office: Office, found: Heights) -> Page:
    plan, layout = office.plan, office.plan.layout
    left, bottom, right, top = office.window
    face = bottom + 14.0 + layout.thickness
    cut = section(plan.features, layout.outline, layout.thickness, 0.0)
    drawn = Elevation(plan, found, _parts(plan, (left + _LEFT, right - _RIGHT), face), cut)
    items: list[Item] = []
    for paper in drawn.parts:
        items += _wood(office, drawn, paper)
        items += _straight_lines(drawn, paper)
    items += _neck(drawn)
    items += _bridge(drawn)
    items += _at_the_neck(drawn)
    items += _at_the_bridge(drawn)
    heading = paragraph(_heading(plan, found), (left, top), right - left)
    items += heading.items
    room = (left, face + _ABOVE, right, top - heading.height - 3.0)
    items += saddle_range(found, room, plan.unit)
    # To the right: the values of a deep heel and pocket reach down at the left.
    items += full_size_bar(office, (right - _BAR, bottom, right, top))
    return Page("Heights", tuple(items), "section from the side", STANDARD_SCALES[0][0])


def _heading(plan: Plan, found: Heights) -> str:
    lean = "The neck lies level"
    if not found.lie.is_level:
        lean = f"The neck leans back {degrees(found.lie.angle):.2f}°"
    changed = pocket_depth(plan)
    return in_unit(
        f"Along the centreline, the neck to the left. {lean}. Thin lines: the lowest and the highest string; chain line: a "
        "straightedge on the frets. Letters are those of the card."
        + (
            ""
            if changed is None
            else f" The pocket is {said(changed.now)} deep as measured ({changed.rests_on}); it was {said(changed.was)}."
        ),
        plan.unit,
    )


def _parts(plan: Plan, across: tuple[float, float], face: float) -> tuple[Paper, ...]:
    """The whole of it where it fits, else the neck's end and the bridge's with a gap between."""
    document, bridge, (left, right) = plan.job.document, plan.layout.bridge, across
    assert bridge is not None
    low, high = neck_opens(document.neck, plan.layout) - _BEFORE, bridge.furthest + _BEHIND
    if high - low <= right - left:
        return (Paper(left, face, 1.0, low, high),)
    wall = max(document.neck_end, document.fingerboard.end) + _BEHIND
    front = bridge.nearest - _IN_FRONT
    behind = Paper(right - (high - front), face, 1.0, front, high)
    low = max(low, wall - (behind.u0 - _GAP - left))
    return Paper(behind.u0 - _GAP - (wall - low), face, 1.0, low, wall), behind


def _wood(office: Office, drawn: Elevation, paper: Paper) -> Iterator[Item]:
    import shapely

    layout = drawn.plan.layout
    heel, wood = shapely.Polygon(_side(drawn, "heel")), wood_along(office, drawn.cut)
    wood = shapely.union(wood, heel) if drawn.through else shapely.difference(wood, heel)
    wood = shapely.difference(wood, shapely.Polygon(_side(drawn, "board")))
    yield from hatched(wood, paper, layout.body)
    low, _, high, _ = wood.bounds
    for x in (paper.low, paper.high):
        if low < x < high:
            yield break_line(paper, x, layout.thickness)


def _side(drawn: Elevation, what: str) -> list[Point]:
    """The heel or the board from the side, in the plane of the centreline, from the pocket's mouth on.

    Of a neck that runs through the heel is its core, under the board down to the body's back.
    """
    document, lie = drawn.plan.job.document, drawn.found.lie
    crown = document.fret_wire.crown_height
    under_board = -(crown + document.neck.board_thickness.mm)
    low, high = (-lie.stack, under_board) if what == "heel" else (under_board, -crown)
    end = lie.end if what == "heel" else document.fingerboard.end
    start = float(lie.along(drawn.parts[0].low + 1.0, -lie.stack))
    if what == "heel" and drawn.through:
        back, (left, right) = -drawn.plan.layout.thickness, (_place(lie, s, high) for s in (start, end))
        return [(left[0], back), (right[0], back), right, left]
    return [_place(lie, s, over) for s, over in ((start, low), (end, low), (end, high), (start, high))]


def _place(lie: Lie, along: float, over: float = 0.0) -> Point:
    return float(lie.place(along, over)), float(lie.height(along, over))


def _neck(drawn: Elevation) -> Iterator[Item]:
    """Heel, board and frets as they lie; a shim under them."""
    paper, lie, wire = drawn.parts[0], drawn.found.lie, drawn.plan.job.document.fret_wire
    for what, angle in (("heel", 135.0), ("board", 45.0)):
        if what == "heel" and drawn.through:  # one piece with the body's wood
            continue
        loop = paper.loop(_side(drawn, what))
        yield Hatch(HATCHING, (loop,), angle, 2.0)
        yield Path(OUTLINE, loop, closed=True)
    half, low = wire.crown_width / 2, -wire.crown_height
    for fret in drawn.plan.layout.frets:
        s = fret.x
        if float(lie.place(s)) - half > paper.low + 1.0:
            ring = [
                (s - half, low),
                (s - half * 0.6, low * 0.3),
                (s, 0.0),
                (s + half * 0.6, low * 0.3),
                (s + half, low),
            ]
            yield Path(OUTLINE, paper.loop([_place(lie, *each) for each in ring]))
    yield _neck_break(drawn, paper)


def _neck_break(drawn: Elevation, paper: Paper) -> Path:
    """Where the neck is broken off, towards the nut (ISO 128)."""
    (start, low), *_ = _side(drawn, "heel")
    *_, (_, high) = _side(drawn, "board")
    (u, v), (_, top) = paper.at(start, low - 3.0), paper.at(start, high + 3.0)
    middle = (v + top) / 2
    kink = ((u, middle + 3), (u - 2, middle + 1), (u + 2, middle - 1), (u, middle - 3))
    return Path(THIN, ((u, top), *kink, (u, v)))


def _straight_lines(drawn: Elevation, paper: Paper) -> Iterator[Item]:
    """The lowest and the highest string, and the straightedge on the crowns."""
    ranked = sorted(drawn.found.strings, key=lambda each: each.wanted)
    for string in (ranked[0], ranked[-1]):
        yield from _within(paper, *string.line, f"string-{string.no}")
    lie, reach = drawn.found.lie, drawn.plan.layout.scale + 10.0
    start, end = _place(lie, 0.0), _place(lie, reach)
    yield from (Line(CENTRE, each.a, each.b, "straightedge") for each in _within(paper, start, end, ""))


def _within(paper: Paper, a: Point, b: Point, ref: str) -> Iterator[Line]:
    """The part of a line that lies on a piece of the drawing."""
    low, high = max(a[0], paper.low), min(b[0], paper.high)
    if low < high:
        rise = (b[1] - a[1]) / (b[0] - a[0])
        one, other = (paper.at(x, a[1] + rise * (x - a[0])) for x in (low, high))
        yield Line(THIN, one, other, ref)


def _bridge(drawn: Elevation) -> Iterator[Item]:
    """The bridge's footprint between its heights, and what the outer saddles reach at their places."""
    bridge, paper, found = drawn.plan.layout.bridge, drawn.parts[-1], drawn.found
    assert bridge is not None
    (under, upper), (a, b) = bridge.heights, (bridge.nearest, bridge.furthest)
    ring = ((a, under), (b, under), (b, upper), (a, upper))
    yield Path(PHANTOM, paper.loop(ring), closed=True, ref=BRIDGE)
    for string in found.strings:
        x, wanted = string.line[1]
        low = wanted if found.lowest is None else found.lowest
        high = wanted if found.highest is None else found.highest
        yield Line(THIN, paper.at(x, upper), paper.at(x, high), f"saddle-{string.no}")
        for height in (low, high):
            yield Line(OUTLINE, paper.at(x - 1.5, height), paper.at(x + 1.5, height), f"saddle-{string.no}")
        yield Line(OUTLINE, paper.at(x - 0.8, wanted), paper.at(x + 0.8, wanted), f"saddle-{string.no}")


@dataclass(frozen=True, slots=True)
class Rise:
    """A height to be dimensioned.

    Attributes:
        name: in `LETTERS`.
        a: its lower end on the page.
        b: its upper end.
        mm: what it measures.
    """

    name: str
    a: Point
    b: Point
    mm: float


def _dimension(rise: Rise, u: float, plan: Plan, letter: str = "") -> Iterator[Item]:
    """A height with its letter, lettered below it where it is short; nothing where there is none to draw."""
    if abs(rise.b[1] - rise.a[1]) > 0.05:
        big, small = signed(rise.mm, plan.unit)
        told = f"{letter or LETTERS[rise.name]} {big}"
        yield Dimension(DIMENSION, rise.a, rise.b, (u, 0.0), told, small, along="y", outside="start")


def _at_the_neck(drawn: Elevation) -> Iterator[Item]:
    """Pocket, board and crowns over the body at the pocket's end wall; the heel where it is broken off."""
    plan, paper, found, lie = drawn.plan, drawn.parts[0], drawn.found, drawn.found.lie
    document = plan.job.document
    edge = paper.at(paper.high if len(drawn.parts) > 1 else lie.end + _BEHIND, 0.0)[0] + 8.0
    top = paper.at(lie.end, 0.0)
    under = document.fret_wire.crown_height + document.neck.board_thickness.mm
    board, crowns = (paper.at(*_place(lie, lie.end, over)) for over in (-under, 0.0))
    if not drawn.through:
        depth = document.neck.pocket_depth.mm
        yield from _dimension(Rise("pocket", paper.at(lie.end, -depth), top, depth), edge, plan)
    yield from _dimension(Rise("board over", top, board, found.board), edge + _PITCH, plan)
    yield from _dimension(Rise("crowns over", top, crowns, found.crowns), edge + 2 * _PITCH, plan)
    if not drawn.through:
        yield _heel(drawn, paper)


def _heel(drawn: Elevation, paper: Paper) -> Dimension:
    """The heel with its board, square to the neck, where that is broken off."""
    a, b = paper.loop(_side(drawn, "heel"))[0], paper.loop(_side(drawn, "board"))[3]
    big, small = signed(drawn.plan.job.document.neck.heel_thickness.mm, drawn.plan.unit)
    at = (paper.u0 - 7.0, (a[1] + b[1]) / 2)
    # Its value stands below it: the reading direction of a line that leans to the left runs down.
    below: Literal["start", "end"] = "end" if a[0] > b[0] + 1e-9 else "start"
    return Dimension(DIMENSION, a, b, at, f"{LETTERS['heel']} {big}", small, outside=below)


def _at_the_bridge(drawn: Elevation) -> Iterator[Item]:
    """The straightedge and the highest string over the body at the saddles, and the body."""
    plan, paper, found = drawn.plan, drawn.parts[-1], drawn.found
    edge, front = paper.at(paper.high, 0.0)[0], paper.at(paper.low, 0.0)[0]
    back, top = paper.at(paper.high, -plan.layout.thickness), paper.at(paper.high, 0.0)
    high = max(found.strings, key=lambda each: each.wanted)
    x, wanted = high.line[1]
    place, height = _place(found.lie, float(found.lie.along(plan.layout.scale)))
    gap = (paper.at(place, 0.0), paper.at(place, height))
    before = front - 6.0 if len(drawn.parts) > 1 else paper.at(plan.layout.bridge_line - 20.0, 0.0)[0]
    yield from _dimension(Rise("straightedge", *gap, found.gap), before, plan)
    saddle = (paper.at(x, 0.0), paper.at(x, wanted))
    yield from _dimension(Rise("string", *saddle, wanted), edge + 8.0, plan, f"string {high.no}:")
    yield from _dimension(Rise("body", back, top, plan.layout.thickness), edge + 22.0, plan)
