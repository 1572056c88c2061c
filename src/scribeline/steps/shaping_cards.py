"""Cards of the blank and its shape: gluing the layers, the top's arch or steps, bevels, rounded edges.

Pockets are routed first, from the flat blank: their templates and the router's depth gauge need it. Holes are drilled
last: their depths count from the shaped face. The neck is off in between.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from math import acos, degrees

from scribeline.features import Pocket
from scribeline.job import feature_id
from scribeline.layout import (
    ARCH,
    GROUND,
    Area,
    Bevel,
    BodyForm,
    Layout,
    Point,
    Ring,
    across_words,
    bevel_id,
    round_id,
    step_id,
)
from scribeline.layout.shapes import BEVEL, ROUND, STEP
from scribeline.lengths import said
from scribeline.steps.bench import Bench, within
from scribeline.steps.card import Card, Gate
from scribeline.steps.cautions import BY_MACHINE, CLAMPS, DUST, GLUE

GLUING = "glue-layers"
REFIT = "refit-neck"

_BY_ROUTER = 0.25
"""What a routed step's height may be off, mm (common practice, no source)."""
_BY_HAND = 0.5
"""What a carved surface or a rounded edge may be off, mm (common practice, no source)."""
_MOISTURE = 2
"""By how much the moisture of boards glued together may differ, percentage points (common practice, no source)."""

_CORNERS_TOLD = 6
"""Corners of an area that a card lists; a longer list is no use at the bench."""


def is_shaped(body: BodyForm) -> bool:
    """Whether anything but cuts shapes the body, so that the neck comes off for it."""
    return not body.is_plain


def raised(layout: Layout, pocket: Pocket) -> float:
    """How far the blank's face lies over the level a pocket's depth counts from, mm: 0 unless the top rises somewhere."""
    return layout.body.highest if pocket.face == "top" else 0.0


def flat_face(layout: Layout, face: str) -> str:
    """The face a pocket's depth is gauged from, as it is when the pocket is routed."""
    return face if layout.body.is_level(face) else f"flat {face}, before it is shaped"


def is_shaping(card: str) -> bool:
    """Whether a card gives the body a part of its shape."""
    return card in (ARCH, GROUND) or card.startswith((STEP, BEVEL, ROUND))


def top_ids(cards: Iterable[str]) -> tuple[str, ...]:
    """Those cards that give the top its steps or its arch, in their order."""
    return tuple(name for name in cards if name in (ARCH, GROUND) or name.startswith(STEP))


def bevel_ids(cards: Iterable[str]) -> tuple[str, ...]:
    """Those cards that carve a bevel."""
    return tuple(name for name in cards if name.startswith(BEVEL))


def round_ids(cards: Iterable[str]) -> tuple[str, ...]:
    """Those cards that round an edge."""
    return tuple(name for name in cards if name.startswith(ROUND))


def glue_cards(bench: Bench) -> Iterator[Card]:
    """Glue the layers into one blank."""
    layers, highest = bench.layout.body.layers, bench.layout.body.highest
    if len(layers) < 2:
        return
    boards = [(layer, (highest if layer is layers[0] else layer.high) - layer.low) for layer in layers]
    told = "; ".join(f"{layer.name} ({layer.timber.in_words}) {said(thick)}" for layer, thick in boards)
    yield Card(
        id=GLUING,
        title="Glue the layers into one blank",
        machine="bench",
        do=(
            f"Plane the boards, from the top down: {told}.",
            f"Let them reach one moisture first, within {_MOISTURE} % of each other, or the blank will cup.",
            "Try every joint dry: no light may show. Pin the boards where wood is cut away later, for they slide on glue.",
            "Glue, clamp from the middle outwards, and let it cure as long as the glue's maker says.",
        ),
        gate=Gate(f"a {said(0.05)} feeler goes into no glue line anywhere round the blank"),
        cautions=(*BY_MACHINE["bench"], CLAMPS, GLUE, DUST),
    )


def shaping_cards(bench: Bench) -> Iterator[Card]:
    """The top's steps or arch, the bevels, the rounded edges; then the neck goes back on, and a set one is glued in."""
    body = bench.layout.body
    yield from _step_cards(bench)
    if body.profile or body.contours:
        yield _arch_card(bench)
    for bevel in body.bevels:
        if bevel.parts:
            yield _bevel_card(bench, bevel)
    for face, radius in (("top", body.round_top), ("back", body.round_back)):
        if radius:
            yield _round_card(bench, face, radius)
    if is_shaped(body) or bench.document.neck.joint == "set":
        yield _refit_card(bench)


def _step_cards(bench: Bench) -> Iterator[Card]:
    """The ground of a stepped top, where something rises over it; then each area that does not lie as high as the blank."""
    body = bench.layout.body
    if body.areas and body.highest > 0:
        standing = ", ".join(area.name for area in body.areas if area.height > 0)
        yield replace(
            _routed(f"Rout the top down round the {standing}", body.highest),
            id=GROUND,
            do=(
                f"Leave the {standing} standing. Rout everything else {said(body.highest)} down from the blank's flat top.",
                "This is the level that the bridge stands on.",
            ),
        )
    for area in sorted(body.areas, key=lambda each: -each.height):
        if area.height in (0.0, body.highest):
            continue  # as high as the blank, or as the ground
        way = "below" if area.height < 0 else "over"
        yield replace(
            _routed(f"Rout the {area.name}", abs(area.height)),
            id=step_id(area),
            do=(
                _outline_words(bench.layout, area),
                f"Rout in passes until its floor lies {said(abs(area.height))} {way} the level that the bridge stands on.",
            ),
        )


def _outline_words(layout: Layout, area: Area) -> str:
    """How to draw an area's outline on the wood."""
    if len(area.outline) > _CORNERS_TOLD:
        return f"Draw the outline of the {area.name} from the job's own corners, on the centreline."
    corners = "; ".join(_where(layout, corner) for corner in area.outline)
    return f"Draw its corners: {corners}. Rout to the line, or to a template made to it."


def _routed(title: str, step: float) -> Card:
    return Card(
        id="",
        title=title,
        machine="router",
        face="top",
        gate=within("height of the step, from the level that the bridge stands on", step, _BY_ROUTER),
        cautions=BY_MACHINE["router"],
    )


def _arch_card(bench: Bench) -> Card:
    body = bench.layout.body
    edge = body.profile[0][1] if body.profile else body.contours[0].height
    return Card(
        id=ARCH,
        title="Carve the arch",
        machine="carving",
        face="top",
        do=(
            *(_profile_words(body) if body.profile else _contour_words(body)),
            "Carve straight from one line to the next, then scrape and sand. The rims of the cavities come down with the top.",
            "Leave the top level under the bridge.",
        ),
        gate=within(
            "thickness at the edge, with a caliper in four places, clear of the neck pocket",
            bench.layout.thickness + edge,
            _BY_HAND,
        ),
        cautions=BY_MACHINE["carving"],
    )


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


def _bevel_card(bench: Bench, bevel: Bevel) -> Card:
    layout = bench.layout
    drop, deepest = bevel_drop(bevel)
    slope = degrees(acos(min(1.0, abs(bevel.outward.z))))
    line = " to ".join(_where(layout, end) for end in bevel_ends(bevel))
    return Card(
        id=bevel_id(bevel),
        title=f"Carve the {bevel.name} bevel",
        machine="carving",
        face=bevel.face,
        do=(
            f"On the {bevel.face} draw the line where it begins, from edge to edge: {line}.",
            f"On the edge mark {said(drop)} below the {bevel.face}, {_where(layout, deepest)}. The bevel is deepest there.",
            f"Carve a flat from line to mark, {slope:.1f}° off the {bevel.face}: rasp, plane, scraper. Stop at the line.",
        ),
        gate=within(
            f"how far the edge lies below a straightedge laid on the {bevel.face}, where the bevel is deepest",
            drop,
            _BY_HAND,
        ),
        cautions=BY_MACHINE["carving"],
    )


def _where(layout: Layout, place: Point) -> str:
    """A place on the edge, from the pocket's end wall and the centreline."""
    along, across = place.x - layout.pocket_end, place.y * layout.treble
    way = "behind" if along >= 0 else "in front of"
    return f"{said(abs(along), 1)} {way} the pocket's end wall, {across_words(across, 1)}"


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


def _round_card(bench: Bench, face: str, radius: float) -> Card:
    body = bench.layout.body
    arched = face == "top" and bool(body.profile or body.contours)
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
    return Card(
        id=round_id(face),
        title=f"Round the {face}'s edge",
        machine="carving" if arched else "router",
        face=face,
        do=by_hand if arched else by_router,
        gate=within("radius of the edge, with a radius gauge in four places", radius, _BY_HAND),
        cautions=BY_MACHINE["carving" if arched else "router"],
    )


def _refit_card(bench: Bench) -> Card:
    glued = bench.document.neck.joint == "set"
    how: tuple[str, ...] = (
        "Seat the heel dry, clamp it, and look at both threads. Only then glue it. Let it cure as long as the glue's maker says.",
        "Measure once more when it has cured.",
    )
    if not glued:
        how = ("Seat the heel against the end wall and screw it on. Its screws bring it back to its place.",)
    return Card(
        id=REFIT,
        title="Glue the neck in and check its line" if glued else "Put the neck back and check its line",
        machine="bench",
        do=(
            *how,
            "Stretch a thread from each outer nut slot to where its saddle will stand.",
            f"At fret {len(bench.layout.frets)} measure each thread to the board's edge: they should agree within {said(0.25)}.",
        ),
        gate=bench.gate("margin-treble"),
        cautions=(*BY_MACHINE["bench"], GLUE) if glued else BY_MACHINE["bench"],
    )


@dataclass(frozen=True, slots=True)
class Shaped:
    """What a card of the body's shape works on, seen from above, mm.

    Attributes:
        lines: closed lines to draw on the wood.
        areas: closed lines round wood that is taken off.
    """

    lines: tuple[Ring, ...] = ()
    areas: tuple[Ring, ...] = ()


def shaped_by(layout: Layout, card: str) -> Shaped:
    """Where a card of the body's shape takes wood off; nothing for any other card."""
    body = layout.body
    if card == ARCH and body.profile:
        return Shaped(lines=tuple(_inset(body, inset) for inset, _ in body.profile[1:]))
    if card == ARCH:
        return Shaped(lines=tuple(line.outline for line in body.contours[1:]))
    if card == GROUND:
        return Shaped(lines=tuple(area.outline for area in body.areas if area.height > 0))
    if card.startswith(STEP):
        return Shaped(areas=tuple(a.outline for a in body.areas if card == f"{STEP}{feature_id(a.name)}"))
    if card.startswith(ROUND):
        radius = body.round_top if card.endswith("top") else body.round_back
        return Shaped(lines=(_inset(body, radius),))
    return Shaped(areas=tuple(part for b in body.bevels if bevel_id(b) == card for part in b.parts))


def _inset(body: BodyForm, inset: float) -> Ring:
    """The largest line that runs at a distance inside the outline; none where the body is too narrow for one."""
    import shapely

    inner = shapely.Polygon(body.outline).buffer(-inset)
    parts = [part for part in shapely.get_parts(inner) if not part.is_empty]
    if not parts:
        return Ring(())
    largest = max(parts, key=lambda part: float(part.area))
    return Ring(Point(float(x), float(y)) for x, y in largest.exterior.coords[:-1])
