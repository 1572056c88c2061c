"""Cards of the blank and its shape: gluing the layers, the top's arch or steps, bevels, rounded edges.

Pockets are routed first, from the flat blank: their templates and the router's depth gauge need it. Holes are drilled
last: their depths count from the shaped face. The neck is off in between.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import acos, degrees

from scribeline.layout import Area, Bevel, BodyForm, Layout, Point, Ring, across_words, bevel_id, step_id
from scribeline.lengths import said
from scribeline.operations import Kind, Operation
from scribeline.steps.bench import Bench, Teller, within
from scribeline.steps.card import Card, Gate
from scribeline.steps.cautions import CLAMPS, DUST, GLUE, usual

_BY_ROUTER = 0.25
"""What a routed step's height may be off, mm (common practice, no source)."""
_BY_HAND = 0.5
"""What a carved surface or a rounded edge may be off, mm (common practice, no source)."""
_MOISTURE = 2
"""By how much the moisture of boards glued together may differ, percentage points (common practice, no source)."""

_CORNERS_TOLD = 6
"""Corners of an area that a card lists; a longer list is no use at the bench."""


def _glue(bench: Bench, work: Operation) -> Card:
    """Glue the layers into one blank."""
    layers, highest = bench.layout.body.layers, bench.layout.body.highest
    boards = [(layer, (highest if layer is layers[0] else layer.high) - layer.low) for layer in layers]
    told = "; ".join(f"{layer.name} ({layer.timber.in_words}) {said(thick)}" for layer, thick in boards)
    do = (
        f"Plane the boards, from the top down: {told}.",
        f"Let them reach one moisture first, within {_MOISTURE} % of each other, or the blank will cup.",
        "Try every joint dry: no light may show. Pin the boards where wood is cut away later, for they slide on glue.",
        "Glue, clamp from the middle outwards, and let it cure as long as the glue's maker says.",
    )
    gate = Gate(f"a {said(0.05)} feeler goes into no glue line anywhere round the blank")
    return Card.of(work, "Glue the layers into one blank", do, gate, usual(work, CLAMPS, GLUE, DUST))


def _ground(bench: Bench, work: Operation) -> Card:
    """The ground of a stepped top, where something rises over it."""
    body = bench.layout.body
    standing = ", ".join(area.name for area in body.areas if area.height > 0)
    do = (
        f"Leave the {standing} standing. Rout everything else {said(body.highest)} down from the blank's flat top.",
        "This is the level that the bridge stands on.",
    )
    return Card.of(work, f"Rout the top down round the {standing}", do, _step_gate(body.highest), usual(work))


def _step(bench: Bench, work: Operation) -> Card:
    """An area that does not lie as high as the blank."""
    area = next(each for each in bench.layout.body.areas if step_id(each) == work.shape)
    way = "below" if area.height < 0 else "over"
    do = (
        _outline_words(bench.layout, area),
        f"Rout in passes until its floor lies {said(abs(area.height))} {way} the level that the bridge stands on.",
    )
    return Card.of(work, f"Rout the {area.name}", do, _step_gate(abs(area.height)), usual(work))


def _step_gate(step: float) -> Gate:
    return within("height of the step, from the level that the bridge stands on", step, _BY_ROUTER)


def _outline_words(layout: Layout, area: Area) -> str:
    """How to draw an area's outline on the wood."""
    if len(area.outline) > _CORNERS_TOLD:
        return f"Draw the outline of the {area.name} from the job's own corners, on the centreline."
    corners = "; ".join(_where(layout, corner) for corner in area.outline)
    return f"Draw its corners: {corners}. Rout to the line, or to a template made to it."


def _arch(bench: Bench, work: Operation) -> Card:
    body = bench.layout.body
    edge = body.profile[0][1] if body.profile else body.contours[0].height
    do = (
        *(_profile_words(body) if body.profile else _contour_words(body)),
        "Carve straight from one line to the next, then scrape and sand. The rims of the cavities come down with the top.",
        "Leave the top level under the bridge.",
    )
    gate = within(
        "thickness at the edge, with a caliper in four places, clear of the neck pocket",
        bench.layout.thickness + edge,
        _BY_HAND,
    )
    return Card.of(work, "Carve the arch", do, gate, usual(work))


def _profile_words(body: BodyForm) -> Iterator[str]:
    rows = [(inset, body.highest - height) for inset, height in body.profile]
    yield "Draw a line round the top at each distance in from the edge; take off, from the blank's flat top:"
    yield "; ".join(
        f"{'at the edge' if inset == 0 else f'{said(inset, None)} in'}: {said(down)}" for inset, down in rows
    ) + (". From there on it is level." if rows[-1][1] < 0.005 else ". From there on carve it level.")


def _contour_words(body: BodyForm) -> Iterator[str]:
    lines = [body.highest - line.height for line in body.contours]
    yield "Draw the job's contour lines on the top, line 1 the outermost; take off, from the blank's flat top:"
    yield (
        "; ".join(
            f"{'at the edge' if n == 0 else f'along line {n}'}: {said(down)}" for n, down in enumerate(lines)
        )
        + ". Inside the last line it is level."
    )


def _bevel(bench: Bench, work: Operation) -> Card:
    layout = bench.layout
    bevel = next(each for each in layout.body.bevels if bevel_id(each) == work.shape)
    drop, deepest = bevel_drop(bevel)
    slope = degrees(acos(min(1.0, abs(bevel.outward.z))))
    line = " to ".join(_where(layout, end) for end in bevel_ends(bevel))
    do = (
        f"On the {bevel.face} draw the line where it begins, from edge to edge: {line}.",
        f"On the edge mark {said(drop)} below the {bevel.face}, {_where(layout, deepest)}. The bevel is deepest there.",
        f"Carve a flat from line to mark, {slope:.1f}° off the {bevel.face}: rasp, plane, scraper. Stop at the line.",
    )
    gate = within(
        f"how far the edge lies below a straightedge laid on the {bevel.face}, where the bevel is deepest",
        drop,
        _BY_HAND,
    )
    return Card.of(work, f"Carve the {bevel.name} bevel", do, gate, usual(work))


def _where(layout: Layout, place: Point) -> str:
    """A place on the edge, from the pocket's end wall and the centreline."""
    along, across = layout.past("pocket-end", place.x), place.y * layout.treble
    way = "behind" if along >= 0 else "in front of"
    return f"{said(abs(along), 1)} {way} {layout.datum('pocket-end').words}, {across_words(across, 1)}"


def bevel_ends(bevel: Bevel) -> tuple[Point, Point]:
    """Where a bevel's line crosses the edge of the part it covers, the end nearer the neck first."""
    on_line = [corner for part in bevel.parts for corner in part if abs(_beyond(bevel, corner)) < 1e-6] or [
        bevel.parts[0][0]
    ]
    along = (-bevel.outward.y, bevel.outward.x)
    ends = [choose(on_line, key=lambda p: p.x * along[0] + p.y * along[1]) for choose in (min, max)]
    first, last = sorted(ends)
    return first, last


def bevel_drop(bevel: Bevel) -> tuple[float, Point]:
    """How far the edge falls below the face where a bevel is deepest, mm, and where that is."""
    corners = [corner for part in bevel.parts for corner in part]
    deepest = max(corners, key=lambda corner: _beyond(bevel, corner))
    return abs(bevel.height(deepest) - bevel.at.z), deepest


def _beyond(bevel: Bevel, place: Point) -> float:
    """Fall of the bevel at a place, scaled: 0 on its line, more the further beyond it."""
    n, at = bevel.outward, bevel.at
    return n.x * (place.x - at.x) + n.y * (place.y - at.y)


def _round(bench: Bench, work: Operation) -> Card:
    body, face = bench.layout.body, work.face
    radius = _radius(body, face)
    bevels = [bevel.name for bevel in body.bevels if bevel.face == face and bevel.parts]
    size = said(radius, None)
    by_router = (
        "Close the neck pocket with a block flush with the edge, or the bit's bearing falls into it.",
        f"Rout all round with a roundover bit of {size} radius, in passes.",
        *(
            (
                f"The router has no seat on the {' and the '.join(bevels)} bevel. Round the edge by hand there.",
            )
            if bevels
            else ()
        ),
    )
    by_hand = (
        f"A router has no seat on the arch. Cut two flats, then round the edge to {size} with file and sandpaper.",
    )
    gate = within("radius of the edge, with a radius gauge in four places", radius, _BY_HAND)
    do = by_hand if work.machine == "carving" else by_router
    return Card.of(work, f"Round the {face}'s edge", do, gate, usual(work))


def _radius(body: BodyForm, face: str) -> float:
    return body.round_top if face == "top" else body.round_back


KINDS: Mapping[Kind, Teller] = {
    "glue": _glue,
    "cut ground": _ground,
    "cut step": _step,
    "carve arch": _arch,
    "carve bevel": _bevel,
    "round edge": _round,
}


@dataclass(frozen=True, slots=True)
class Shaped:
    """What a card of the body's shape works on, seen from above, mm.

    Attributes:
        lines: closed lines to draw on the wood.
        areas: closed lines round wood that is taken off.
    """

    lines: tuple[Ring, ...] = ()
    areas: tuple[Ring, ...] = ()


def shaped_by(layout: Layout, work: Operation) -> Shaped:
    """Where an operation that shapes the body takes wood off; nothing for any other."""
    body, lines, areas = layout.body, list[Ring](), list[Ring]()
    match work.kind:
        case "carve arch" if body.profile:
            lines = [_inset(body, inset) for inset, _ in body.profile[1:]]
        case "carve arch":
            lines = [line.outline for line in body.contours[1:]]
        case "cut ground":
            lines = [area.outline for area in body.areas if area.height > 0]
        case "cut step":
            areas = [area.outline for area in body.areas if step_id(area) == work.shape]
        case "round edge":
            lines = [_inset(body, _radius(body, work.face))]
        case "carve bevel":
            areas = [part for bevel in body.bevels if bevel_id(bevel) == work.shape for part in bevel.parts]
    return Shaped(tuple(lines), tuple(areas))


def _inset(body: BodyForm, inset: float) -> Ring:
    """The largest line that runs at a distance inside the outline; none where the body is too narrow for one."""
    import shapely

    inner = shapely.Polygon(body.outline).buffer(-inset)
    parts = [part for part in shapely.get_parts(inner) if not part.is_empty]
    if not parts:
        return Ring(())
    largest = max(parts, key=lambda part: float(part.area))
    return Ring(Point(float(x), float(y)) for x, y in largest.exterior.coords[:-1])
