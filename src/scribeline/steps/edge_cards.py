"""Cards of what is drilled from the body's edge: the jack, its plate's screws, the strap buttons' screws."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import asin, degrees, hypot
from typing import TYPE_CHECKING

import numpy as np

from scribeline.features import Bore, Step, balloon, drill_access, polygon
from scribeline.layout import NECK_POCKET, Layout, Point, heading_words, side_words
from scribeline.lengths import said
from scribeline.steps.bench import Bench, within
from scribeline.steps.card import Card, Gate, Place
from scribeline.steps.cautions import BY_MACHINE, DUST, EDGE_GUIDE, END_GRAIN, LARGE_BIT, LARGE_BIT_FROM

if TYPE_CHECKING:
    from numpy.typing import NDArray

_MARK_WITHIN = 0.5
"""What a hole's height may be off, mm (common practice, no source)."""

_CHUCK_MINDED = 5.0
"""Any bit stands this far out of its chuck at full depth, mm: not worth a line."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A place that can be touched, and how it is called."""

    name: str
    at: Point


def edge_cards(bench: Bench) -> Iterator[Card]:
    """One card a setting: each step of the jack's bore, its plate's screws, each kind of strap button."""
    yield from _jack_cards(bench)
    screws = bench.features.family("jack-screw")
    if screws:
        # All of them lie in one edge, under one plate: one clamping, one setting.
        yield _pilots(bench, "drill-jack-screws", "Drill the pilots of the jack's plate", screws)
    for bore in bench.features.family("strap-button"):
        pilot = f"{bore.holds}'s pilot" if bore.holds else bore.role
        yield _pilots(bench, f"drill-{bore.id}", f"Drill the {pilot}", (bore,))


def _pilots(bench: Bench, name: str, title: str, bores: Sequence[Bore]) -> Card:
    ends = any(bore.grain == "end" for bore in bores)
    try_it = (
        "In end grain try the waxed screw in an offcut first"
        if ends
        else "Try the waxed screw in an offcut first"
    )
    bare = Card(
        id=name,
        title=title,
        machine="hand drill",
        do=(f"{try_it}. It should go home by hand and split nothing.",),
        cautions=(END_GRAIN,) if ends else (),
    )
    return _card(bench, bare, bores, bores[0].deepest)


def _jack_cards(bench: Bench) -> Iterator[Card]:
    for bore in bench.features.family("jack"):
        into = [pocket for pocket in bench.features.pockets if pocket.id in bore.meets]
        for step in bore.steps:
            last = step is bore.deepest
            lines = [
                "Back the cavity's wall with a block where the bit comes out." if last and into else "",
                f"Stop once it is open into the {into[0].in_words}: {said(step.depth, 1)} at full diameter."
                if last and into
                else "",
            ]
            yield _card(
                bench,
                Card(
                    id="drill-jack" if last else "counterbore-jack",
                    title="Drill the jack hole" if last else "Counterbore for the jack",
                    machine="hand drill",
                    do=tuple(line for line in lines if line),
                ),
                [bore],
                step,
            )


def _card(bench: Bench, bare: Card, bores: Sequence[Bore], step: Step) -> Card:
    """A card of the edge with what all of them have in common."""
    places = tuple(edge_place_of(bench.layout, bore) for bore in bores)
    layout = bench.layout
    chuck = bench.document.bits.chuck_radius
    outside = max(
        drill_access(bore, layout.outline, layout.thickness, (), chuck_radius=chuck).outside for bore in bores
    )
    reach: tuple[str, ...] = ()
    if outside > _CHUCK_MINDED:
        needed = outside + step.point_reaches
        reach = (f"{said(needed, 0)} of bit must stand out of the chuck, or the chuck meets the body first.",)
    down = {round(place.down or 0.0, 2) for place in places}
    gate = (
        within(
            "from the top's edge down to the hole's centre, at the body's edge",
            places[0].down or 0.0,
            _MARK_WITHIN,
        )
        if len(down) == 1
        else Gate(
            "each hole's centre lies as far below the top's edge as its place says, within " + said(0.5, None)
        )
    )
    large = (LARGE_BIT,) if step.diameter >= LARGE_BIT_FROM else ()
    return replace(
        bare,
        features=tuple(bore.id for bore in bores),
        bit=step.bit,
        depth=step.depth,
        point_reaches=step.point_reaches,
        setting=bench.setting(bores[0], step),
        places=places,
        do=(
            "Clamp the body on its side, this edge up and level. Pad the clamps.",
            *(f"Mark {place.number} with the awl, {place_words(place)}." for place in places),
            *_rounded_words(layout),
            *(words for bore in bores for words in _lean_words(layout, bore)),
            "Hold a guide block with a square hole to the edge. Check it with a square from the top.",
            *bare.do,
            *reach,
        ),
        gate=gate,
        cautions=(*BY_MACHINE["hand drill"], *large, *bare.cautions, EDGE_GUIDE, DUST),
    )


def _rounded_words(layout: Layout) -> tuple[str, ...]:
    """How to measure from an edge that the rounding has taken away."""
    radius = layout.body.round_top
    if not radius:
        return ()
    return (
        f"The edge is rounded. From a straightedge laid on the top over the mark, measure {said(radius)} more.",
    )


def place_words(place: Place) -> str:
    """Where to mark a hole on the edge, in one sentence."""
    assert place.chord is not None
    assert place.down is not None
    along = (
        f"right at {place.chord_from}"
        if place.chord < 0.05
        else f"{said(place.chord, 1)} straight from {place.chord_from}, {side_words(place.to_treble)}"
    )
    return f"{along}, {said(place.down, 1)} below the top's edge"


def edge_place_of(layout: Layout, bore: Bore) -> Place:
    """Where a bore from the edge is, along, across and down, and from a mark that can be touched."""
    at = Point(bore.at.x, bore.at.y)
    mark = nearest_mark(layout, at)
    return Place(
        feature=bore.id,
        number=balloon(bore.id),
        from_twelfth=at.x - layout.twelfth,
        from_pocket_end=at.x - layout.pocket_end,
        to_treble=at.y * layout.treble,
        down=layout.top_at(at) - bore.at.z,
        chord=hypot(at.x - mark.at.x, at.y - mark.at.y),
        chord_from=mark.name,
    )


def nearest_mark(layout: Layout, at: Point) -> Mark:
    """The nearer of the marks a rule can be held to: where the centreline meets the tail, the neck pocket's corners."""
    marks = list(edge_marks(layout))
    return min(marks, key=lambda mark: hypot(at.x - mark.at.x, at.y - mark.at.y))


def tail_mark(layout: Layout) -> Mark:
    """The tail edge, which is where the centreline meets it: the body may reach further beside that."""
    on_line = list(_crossings(_corners(layout), Point(-1e4, 0.0), Point(1e4, 0.0)))
    return Mark("where the centreline meets the tail edge", max(on_line, key=lambda p: p.x))


def edge_marks(layout: Layout) -> Iterator[Mark]:
    """Places on the outline that anyone can find on the body."""
    yield tail_mark(layout)
    corners = _corners(layout)
    neck = next((pocket for pocket in layout.pockets if pocket.name == NECK_POCKET), None)
    if neck is None:
        return
    walls = zip(neck.outline, neck.outline[1:] + neck.outline[:1], strict=True)
    found = [p for a, b in walls if abs(a.x - b.x) > 1.0 for p in _crossings(corners, a, b)]
    for side, name in ((1, "treble"), (-1, "bass")):
        there = [p for p in found if p.y * layout.treble * side > 0]
        if there:
            yield Mark(f"the neck pocket's corner on the {name} side", min(there, key=lambda p: p.x))


def _corners(layout: Layout) -> NDArray[np.float64]:
    import shapely

    corners: NDArray[np.float64] = shapely.get_coordinates(polygon(layout.outline).exterior)[:-1]
    return corners


def _crossings(corners: NDArray[np.float64], start: Point, end: Point) -> Iterator[Point]:
    """Where a stretch crosses the outline of these corners."""
    run = np.roll(corners, -1, axis=0) - corners
    d, off = np.array(end) - start, corners - start
    det = d[0] * run[:, 1] - d[1] * run[:, 0]
    level = np.abs(det) < 1e-12
    det[level] = np.nan
    t = (off[:, 0] * run[:, 1] - off[:, 1] * run[:, 0]) / det
    share = (off[:, 0] * d[1] - off[:, 1] * d[0]) / det
    met = (t >= -1e-9) & (t <= 1 + 1e-9) & (share >= -1e-9) & (share < 1)
    for place in (corners[met] + share[met, np.newaxis] * run[met]).tolist():
        yield Point(*place)


def _lean_words(layout: Layout, bore: Bore) -> tuple[str, ...]:
    """How far off square to the edge it heads, and which way; nothing where it is square."""
    lean = degrees(asin(min(1.0, bore.angle_from_face_sine)))
    if 90 - lean < 0.05:
        return ()
    way = heading_words(bore.axis.x, bore.axis.y * layout.treble)
    return (f"Turn the drill {90 - lean:.1f}° off square to the edge and keep it level with the top: {way}.",)
