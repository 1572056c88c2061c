"""Rules for single units: the gaps between their bases, their screws, where their strings go down; and for tuning knobs."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import inf

from scribeline.features import polygon
from scribeline.findings.bridge import PREDICTED
from scribeline.findings.finding import COMMON_PRACTICE, GEOMETRY, Facts, Finding, Limit
from scribeline.job.bridges.singles import SingleUnits
from scribeline.job.bridges.stated import Knobs, WithKnobs
from scribeline.layout import OWN_SET, Point
from scribeline.layout.bridges import Unit
from scribeline.layout.knobs import knob_places, take_up
from scribeline.lengths import no_less, no_more, put, said

GAP = Limit.of("base_gap")
CLEAR = Limit.of("knob_clear")
ROOM = Limit.of("knob_room")
APART = Limit.of("knob_gap")
SLACK = Limit.of("tuner_slack")

_FINE = 1.0
"""How far apart the top is looked at under a knob, mm."""
_SLIVER = 0.01
"""Wood of less than this, mm², is a rounding."""


def bases_apart(facts: Facts) -> Iterator[Finding]:
    """Does every base lie free of its neighbours?"""
    place, limit = facts.layout.bridge, facts.limit(GAP)
    if place is None or not place.units:
        return
    gaps = [(_gap(one, other), one, other) for one, other in pairwise(place.units)]
    gap, one, other = min(gaps, key=lambda each: each[0])
    severity = limit.severity(gap)
    if severity is None:
        return
    bridge = facts.document.bridge
    yield Finding(
        code="singles.bases-meet" if gap <= 0 else "singles.bases-close",
        severity=severity,
        held_to=limit.level_id(severity),
        features=(),
        concerns=facts.by_the_bridge,
        value=gap,
        limit=limit.threshold(severity),
        message=f"{one.name} and {other.name} "
        + (f"stand {said(gap)} apart" if gap > 0 else f"overlap by {said(-gap)}")
        + f", for the strings lie {said(bridge.spacing.mm)} apart and a base is {said(bridge.width)} wide",
        cure=f"set {put('bridge.spacing', bridge.spacing.mm + limit.caution - gap, bound='least')} or more, or use bases of "
        f"{no_more(bridge.width - limit.caution + gap)} or less",
        source=limit.source,
    )


def _gap(one: Unit, other: Unit) -> float:
    """Least distance between two bases, mm; below 0 by how much the strip that both cover is wide."""
    import shapely

    first, second = (shapely.Polygon(unit.outline) for unit in (one, other))
    both = first.intersection(second)
    if both.area == 0:
        return float(first.distance(second))
    box = both.minimum_rotated_rectangle.exterior.coords
    return -min(float(shapely.Point(a).distance(shapely.Point(b))) for a, b in pairwise(list(box)[:3]))


def saddles_on_base(facts: Facts) -> Iterator[Finding]:
    """Do the saddles travel over their bases, and does each string's hole lie clear of the base's rear edge?"""
    bridge = facts.document.bridge
    if not isinstance(bridge, SingleUnits):
        return
    length, back, row = bridge.base_length.mm, bridge.saddle_back.mm, bridge.string_row
    if back > length:
        yield Finding(
            code="singles.saddles-off-base",
            severity="stop",
            features=(),
            concerns=facts.by_the_bridge,
            value=back,
            limit=length,
            message=f"fully back, a saddle would stand {said(back)} behind its base's front edge, and the base is only "
            f"{said(length)} long",
            cure="measure both ends of travel again, from the base's front edge (the one towards the neck) to where the "
            "string leaves the saddle",
            source=GEOMETRY,
        )
    holes = facts.features.family("string-hole")
    if row is None or not holes:
        return
    half = holes[0].widest / 2
    if abs(row.mm - length) < half:
        free = length + half
        yield Finding(
            code="singles.hole-under-edge",
            severity="stop",
            features=tuple(bore.id for bore in holes),
            value=abs(row.mm - length),
            limit=half,
            message=f"each string's hole lies {said(row.mm)} behind its base's front edge, and the base ends at {said(length)}: "
            "its rear edge stands across the hole",
            cure=f"set {put('bridge.string_hole_from_front', free, bound='least')} or more, behind the base, or measure the "
            "base's own hole again",
            source=GEOMETRY,
        )


def one_screw_a_base(facts: Facts) -> Iterator[Finding]:
    """Can a base turn about its only screw?"""
    bridge = facts.document.bridge
    if not isinstance(bridge, SingleUnits) or len(bridge.screws) > 1:
        return
    yield Finding(
        code="singles.one-screw",
        severity="caution",
        features=tuple(bore.id for bore in facts.features.anchors),
        value=1.0,
        limit=2.0,
        message="each base has one screw, and can turn about it: nothing else holds it in line with its string",
        cure="use bases with two screws or more, the second well away from the first",
        source=COMMON_PRACTICE,
    )


def knobs_clear_wood(facts: Facts) -> Iterator[Finding]:
    """Do a headless bridge's knobs turn free of the wood under them?"""
    bridge, limit = facts.document.bridge, facts.limit(CLEAR)
    knobs = bridge.knobs if isinstance(bridge, WithKnobs) else None
    if knobs is None:
        return
    found = [
        (_under(facts, outline, knobs), no)
        for no, outline in enumerate(knob_places(facts.document, facts.layout), 1)
    ]
    if not found:
        return
    gap, no = min(found)
    severity = limit.severity(gap)
    if severity is None:
        return
    yield Finding(
        code="knobs.meet-wood" if gap <= 0 else "knobs.near-wood",
        severity=severity,
        held_to=limit.level_id(severity),
        features=(),
        concerns=facts.by_the_bridge,
        value=gap,
        limit=limit.threshold(severity),
        message=f"the knob of string {no}, {said(knobs.diameter)} wide about an axis {said(knobs.height)} over the top, "
        + (
            f"clears the wood under it by {said(gap)}"
            if gap > 0
            else f"runs {said(-gap)} into the wood under it"
        ),
        cure=f"let the knobs hang beyond the body's edge; or rout a recess under them, {no_less(limit.caution - gap)} deeper "
        "than the wood is now (a pocket in the top, as wide as all knobs and open to the edge)",
        source=limit.source,
    )


def _under(facts: Facts, outline: tuple[tuple[float, float], ...], knobs: Knobs) -> float:
    """From a knob's underside down to the highest wood under it, mm; no wood is infinitely far below."""
    import shapely

    shape = shapely.Polygon(outline)
    wood = shape.intersection(polygon(facts.layout.outline))
    lowest, highest = knobs.height - knobs.diameter / 2, -inf
    for pocket in sorted(facts.features.pockets, key=lambda each: each.depth):
        if pocket.face == "top":
            open_here = polygon(pocket.outline, pocket.islands)
            under = wood.intersection(open_here)
            if under.area > _SLIVER:
                highest = max(highest, -pocket.depth)
            wood = wood.difference(open_here)
    if wood.area > _SLIVER:
        highest = max(
            highest,
            *(
                facts.layout.top_at(Point(*xy))
                for xy in shapely.get_coordinates(shapely.segmentize(wood, _FINE))
            ),
        )
    return lowest - highest


def knobs_have_room(facts: Facts) -> Iterator[Finding]:
    """Can fingers turn each knob: behind it, and between neighbours?"""
    bridge = facts.document.bridge
    knobs = bridge.knobs if isinstance(bridge, WithKnobs) else None
    if knobs is None or facts.layout.bridge is None:
        return
    limit, gap = facts.limit(APART), bridge.spacing.mm - knobs.diameter
    severity = limit.severity(gap)
    if severity is not None:
        yield Finding(
            code="knobs.too-wide",
            severity=severity,
            held_to=limit.level_id(severity),
            features=(),
            concerns=facts.by_the_bridge,
            value=gap,
            limit=limit.threshold(severity),
            message=f"knobs {said(knobs.diameter)} wide on strings {said(bridge.spacing.mm)} apart "
            + (f"leave {said(gap)} between two" if gap > 0 else f"run {said(-gap)} into each other"),
            cure=f"use knobs of {no_more(bridge.spacing.mm - limit.caution)} or less",
            source=limit.source,
        )
    room = facts.limit(ROOM)
    behind = knob_places(facts.document, facts.layout, reach=room.caution)
    found = [(_wall_behind(facts, outline, knobs, room.caution), no) for no, outline in enumerate(behind, 1)]
    least, no = min(found)
    severity = room.severity(least)
    if severity is None:
        return
    yield Finding(
        code="knobs.no-room",
        severity=severity,
        held_to=room.level_id(severity),
        features=(),
        concerns=facts.by_the_bridge,
        value=least,
        limit=room.threshold(severity),
        message=f"behind the knob of string {no}, wound fully out, the wood stands up to its axis {said(least)} away; "
        f"fingers need {said(room.caution, None)}",
        cure="carry the recess on to the body's edge, or set the bridge nearer to it (a shorter body)",
        source=room.source,
    )


def _wall_behind(facts: Facts, outline: tuple[tuple[float, float], ...], knobs: Knobs, reach: float) -> float:
    """How far behind a knob wood stands as high as its axis, mm; all of the reach where none does."""
    import shapely

    wood = shapely.Polygon(outline).intersection(polygon(facts.layout.outline))
    for pocket in facts.features.pockets:
        if pocket.face == "top" and -pocket.depth < knobs.height:
            wood = wood.difference(polygon(pocket.outline, pocket.islands))
    high = [
        xy
        for xy in shapely.get_coordinates(shapely.segmentize(wood, _FINE))
        if facts.layout.top_at(Point(*xy)) >= knobs.height
    ]
    rear = shapely.LineString(outline[:2])
    return min((float(rear.distance(shapely.Point(xy))) for xy in high), default=reach)


def tuners_reach(facts: Facts) -> Iterator[Finding]:
    """Has each tuner the travel to pull every set of strings up to pitch?"""
    bridge, limit = facts.document.bridge, facts.limit(SLACK)
    knobs = bridge.knobs if isinstance(bridge, WithKnobs) else None
    if knobs is None:
        return
    needs = [
        (need, no, name) for name, each in take_up(facts.layout).items() for no, need in enumerate(each, 1)
    ]
    if not needs:
        return
    need, no, name = max(needs)
    left = knobs.travel - need
    severity = limit.severity(left)
    if severity is None:
        return
    yield Finding(
        code="knobs.tuner-short",
        severity=severity,
        held_to=limit.level_id(severity),
        features=(),
        concerns=(),
        value=left,
        limit=limit.threshold(severity),
        message=f"string {no}{'' if name == OWN_SET else f' of {name}'} stretches {said(need)} from slack to pitch, and the "
        f"tuner travels {said(knobs.travel)}: {said(left)} is left to take up what a hand cannot pull tight at the clamp",
        cure=f"use tuners with {no_less(need + limit.caution)} of travel or more, or lighter strings; and clamp each string with "
        "its tuner wound fully out, pulled tight by hand",
        source=PREDICTED if limit is SLACK else limit.source,
    )
