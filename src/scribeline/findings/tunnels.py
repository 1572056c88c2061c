"""Rules for wire tunnels: is there a way, is there wood enough along it, does its mouth hide, is there a bit for it?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from math import ceil, dist, hypot

from scribeline.features import Bore, entry_ellipse, lies_over, nearest_in_words
from scribeline.findings.drilled import PLUG
from scribeline.findings.finding import COMMON_PRACTICE, GEOMETRY, Facts, Finding, Limit
from scribeline.findings.holes import too_long
from scribeline.job import feature_id
from scribeline.layout import Point, cavity_words
from scribeline.lengths import MM_PER_INCH, UNITS, Bound, JobUnit, by_inches, no_less, no_more, put, said
from scribeline.solid import DRIFT
from scribeline.solid.tunnels import Course, Relaxed, Tunnel

COVER = Limit.of("tunnel_cover")
WINDOW = Limit.of("tunnel_window")
HIDDEN = Limit.of("under_plate")

GROUND_WIRE = "ground_wire"
"""The job's key of the string ground's own hole, which states its place by keys of its own."""


def tunnels(facts: Facts) -> Iterator[Finding]:
    """Is there a way for every wire hole, is its opening hidden, and what should you know of it?"""
    for tunnel in facts.tunnels:
        if tunnel.asked is None and not tunnel.awaited:
            found = _nowhere(facts, tunnel) if tunnel.stated else _none(tunnel)
            yield replace(found, concerns=(*found.features, *_joined(tunnel)))
        if tunnel.course is None or tunnel.bore is None:
            continue
        yield from _missed(facts, tunnel)
        yield from _cover(facts, tunnel, tunnel.course)
        if tunnel.stated and tunnel.course.margins:
            yield from _stated(facts, tunnel, tunnel.bore, tunnel.course)
        if tunnel.place.id not in facts.record.made_cuts:
            yield from _bit(tunnel, tunnel.course, facts.document.units)


def _joined(tunnel: Tunnel) -> tuple[str, ...]:
    """Ids of the pockets that a tunnel joins: where they are cut decides whether it has a way."""
    place = tunnel.place
    return (*(feature_id(name) for name in (place.pocket, *place.through) if name), place.target)


def _nowhere(facts: Facts, tunnel: Tunnel) -> Finding:
    """A stated place from which no wall of the pocket is reached."""
    place = tunnel.place
    assert place.entry is not None
    inside = lies_over(place.entry, facts.features.led_to(place).outline)
    return Finding(
        code="tunnel.starts-in-pocket" if inside else "tunnel.misses",
        severity="stop",
        features=(place.id, place.target),
        value=None,
        limit=None,
        message=f"{tunnel.name} would start over the {cavity_words(place.into)}, where no wood stands"
        if inside
        else f"{tunnel.name}, as the job states it, never reaches the {cavity_words(place.into)}",
        cure=f"leave {place.key} out if the wire can drop straight in; if not, change {_entry_key(tunnel)} or move the cavity, "
        "so that wood stands between them"
        if inside
        else f"change {_where_it_goes(tunnel)} until its line crosses the cavity, or {_unstate(tunnel)} "
        "and have it worked out",
        source=GEOMETRY,
    )


def _missed(facts: Facts, tunnel: Tunnel) -> Iterator[Finding]:
    """A hole that was drilled and comes out nowhere; one that was to run elsewhere by now is told with what moved."""
    place = tunnel.place
    made = facts.record.made_cuts
    if place.id not in made or place.id in {change.feature for change in facts.moved}:
        return
    apart = {frozenset((web.a, web.b)): web.mm for web in facts.webs}
    gap = apart.get(frozenset((place.id, place.target)))
    if gap is None or gap > 0:
        yield Finding(
            code="tunnel.misses",
            severity="stop",
            features=(place.id, place.target),
            concerns=(place.id, *_joined(tunnel)),
            value=gap,
            limit=None if gap is None else 0.0,
            message=f"{tunnel.name}, as it was drilled, misses the {cavity_words(place.into)}"
            + ("" if gap is None else f" by {said(gap)}"),
            cure=PLUG,
            source=GEOMETRY,
        )


def _entry_key(tunnel: Tunnel) -> str:
    """The key of the job that says how far along its entry lies."""
    return f"{tunnel.place.key}.{'from_front' if tunnel.place.key == GROUND_WIRE else 'entry'}"


def _where_it_goes(tunnel: Tunnel) -> str:
    """The keys of the job that say where its line meets the pocket's wall."""
    key = tunnel.place.key
    return f"{key}.heading or {key}.{'across' if key == GROUND_WIRE else 'entry'}"


def _unstate(tunnel: Tunnel) -> str:
    """How to have a stated tunnel worked out."""
    key = tunnel.place.key
    entry = "from_front, across" if key == GROUND_WIRE else "entry"
    return f"leave {entry}, heading and lands out of {key}"


def _none(tunnel: Tunnel) -> Finding:
    place = tunnel.place
    ways = [_give(tunnel, each) for each in tunnel.relaxed]
    return Finding(
        code="tunnel.none",
        severity="stop",
        features=(place.id,),
        value=None,
        limit=tunnel.wants.least,
        message=f"no way to drill {tunnel.name} into the {cavity_words(place.into)} keeps "
        f"{said(tunnel.wants.least, None)} of wood and every other limit",
        cure="any one of these is enough: " + "; ".join(ways)
        if ways
        else "easing one limit is not enough: start it elsewhere, cross another cavity, or move what is in its way",
        source=f"{COMMON_PRACTICE}; each fix was tried",
    )


def _with_reach(course: Course, unit: JobUnit) -> str:
    """A bit with the reach it needs as a job states them, in its own unit."""
    bit = course.bit
    if not by_inches(unit):
        own = UNITS[unit]
        return f"{{ diameter = {own.of(bit.diameter):g}, reach = {own.of(round(course.bit_length)):g} }}"
    size = f'"{bit.mark}"' if bit.mark else bit.inches.removesuffix(" in")
    return f"{{ diameter = {size}, reach = {ceil(course.bit_length / float(MM_PER_INCH) * 10) / 10:.1f} }}"


def _give(tunnel: Tunnel, each: Relaxed) -> str:
    less = no_more(each.to)
    words = {
        "cover": f"{less} of wood in place of {said(tunnel.wants.least, None)} (limits.tunnel_cover)",
        "diameter": f"a bit of {less}",
        "hidden": f"an opening that shows by {no_less(-each.to)}"
        if each.to < 0
        else f"an opening only {less} inside {tunnel.place.hidden_by} (limits.under_plate)",
        "reach": f"a bit that reaches {no_less(each.to)} from its point to the chuck",
        "chuck": f"a chuck or an extension of {less} radius (bits.chuck_radius)",
        "window": f"{less} of wall round its openings (limits.tunnel_window)",
    }[each.kind]
    return words if each.kind == "cover" else f"{words}, which leaves {said(each.course.cover)} of wood"


def _cover(facts: Facts, tunnel: Tunnel, course: Course) -> Iterator[Finding]:
    limit = facts.limit(COVER)
    severity = limit.severity(course.cover)
    if severity is None:
        return
    yield Finding(
        code="tunnel.thin-cover",
        severity=severity,
        held_to=limit.level_id(severity),
        features=(tunnel.place.id,),
        value=course.cover,
        limit=limit.threshold(severity),
        message=f"{tunnel.name} "
        + (
            f"runs {said(-course.cover)} into"
            if course.cover < 0
            else f"leaves only {said(course.cover)} of wood to"
        )
        + f" {nearest_in_words(facts.features, course.nearest)}, the bit's drift "
        + ("added" if course.cover < 0 else "taken off"),
        cure=PLUG
        if tunnel.place.id in facts.record.made_cuts
        else f"{_unstate(tunnel)} and have the way worked out that leaves most wood"
        if tunnel.stated
        else "no other way leaves more: take a thinner bit, a deeper or wider cavity, or go by another cavity",
        source=limit.source,
    )


def _stated(facts: Facts, tunnel: Tunnel, bore: Bore, course: Course) -> Iterator[Finding]:
    """A place stated in the job is drilled as stated; what it breaks is told."""
    made = bore.id in facts.record.made_cuts
    hidden = course.margins["hidden"] + tunnel.wants.hidden
    limit = facts.limit(HIDDEN)
    severity = limit.severity(hidden)
    if tunnel.place.hide is not None and severity is not None:
        length, width = entry_ellipse(bore)
        yield Finding(
            code="tunnel.shows",
            severity=severity,
            held_to=limit.level_id(severity),
            features=(bore.id,),
            value=hidden,
            limit=limit.threshold(severity),
            message=f"the opening of {tunnel.name}, {length:.1f} × {said(width, 1)}, "
            + (
                f"comes {said(-hidden)} out from under {tunnel.place.hidden_by}"
                if hidden < 0
                else f"is only {said(hidden)} inside {tunnel.place.hidden_by}"
            ),
            cure=PLUG if made else _further_in(facts, tunnel, bore, limit.caution - hidden),
            source=limit.source,
        )
    if min(course.margins["window"], course.margins["floor"]) < -1e-9:
        beside = _beside_its_wall(facts, tunnel, bore, course)
        yield replace(beside, cure=PLUG) if made else beside


def _further_in(facts: Facts, tunnel: Tunnel, bore: Bore, by: float) -> str:
    """How to move a mouth by so much that it lies wholly under what hides it, mm: away from the side it is nearest to."""
    place, (length, width) = tunnel.place, entry_ellipse(bore)
    assert place.hide is not None
    assert place.heading is not None
    assert place.entry is not None
    heading, entry = place.heading, place.entry
    gaps: list[tuple[float, Point]] = []
    for a, b in pairwise((*place.hide, place.hide[0])):
        run = dist(a, b)
        out = Point((b.y - a.y) / run, (a.x - b.x) / run)
        # Half the mouth's extent towards the side: the ellipse's long half-axis lies along the heading.
        half = hypot(
            length / 2 * (heading.x * out.x + heading.y * out.y),
            width / 2 * (heading.x * out.y - heading.y * out.x),
        )
        gaps.append(((a.x - entry.x) * out.x + (a.y - entry.y) * out.y - half, out))
    least, out = min(gaps, key=lambda gap: gap[0])
    if abs(least - (facts.limit(HIDDEN).caution - by)) > 1e-3:
        return f"start it further under {place.hidden_by}"  # a part with a hollow side
    move = Point(-by * out.x, -by * out.y)
    treble = facts.layout.treble
    along, across = entry.x + move.x - place.counted_from, (entry.y + move.y) * treble
    ways = _bound(move.x), _bound(move.y * treble)
    if place.key != GROUND_WIRE:
        where = put(f"{place.key}.entry", along, across, bound=ways)
    elif abs(move.x) > abs(move.y):
        where = (
            f"{put(f'{place.key}.from_front', along, bound=ways[0])} or {'more' if move.x > 0 else 'less'}"
        )
    else:
        where = f"{put(f'{place.key}.across', across, bound=ways[1])} or {'more' if move.y * treble > 0 else 'less'}"
    return f"set {where}; then check again, for the opening changes with the hole's slope"


def _bound(towards: float) -> Bound:
    """How a place to move to is rounded: the way it is moved."""
    return "" if abs(towards) < 1e-9 else "least" if towards > 0 else "most"


def _beside_its_wall(facts: Facts, tunnel: Tunnel, bore: Bore, course: Course) -> Finding:
    """How a stated tunnel misses its wall; where it is only a corner's rounding that it cuts into, with care."""
    place, window = tunnel.place, tunnel.wants.window
    lands, floor = abs(course.end[2] - course.start[2]), course.margins["floor"]
    low, high = _room_in_the_wall(facts, tunnel, course)
    deepest = min(high, lands + floor)
    at = (
        f"{tunnel.name} meets the wall of the {cavity_words(place.into)} {said(lands)} below the {place.face}"
    )
    lower = (
        f"set {put(f'{place.key}.lands', (low + deepest) / 2, places=1)}"
        if low < deepest
        else "use a smaller hole or a deeper cavity"
    )
    left = course.margins["window"] + window
    within = low - window <= lands <= high + window and floor >= 0
    found = Finding(
        code="tunnel.misses-wall",
        severity="caution" if within and (left >= 0 or _comes_out_wholly(facts, tunnel, bore)) else "stop",
        features=(bore.id, place.target),
        value=left,
        limit=window,
        message=f"the opening of {tunnel.name} "
        + (f"runs {said(-left)} past" if left < 0 else f"leaves only {said(left)} of wall to")
        + f" an end of the wall of the {cavity_words(place.into)}",
        cure=f"change {_where_it_goes(tunnel)} so that it comes out away from the cavity's corners",
        source=facts.limit(WINDOW).source,
    )
    if not low - 1e-9 <= lands <= high + 1e-9:
        round_it = f", with {said(window, None)} of wall round it," if window else ""
        room = (
            f"but its opening{round_it} has room only from {low:.2f} to {said(high)}"
            if low < high
            else f"and its opening{round_it} has no room there at any depth"
        )
        limit = high if lands > high else low
        return replace(found, value=lands, limit=limit, message=f"{at}, {room}", cure=lower)
    if floor < 0:
        message = f"{at}, and the bit runs {said(-floor)} into the cavity's floor"
        return replace(found, value=floor, limit=0.0, message=message, cure=lower)
    return found


def _comes_out_wholly(facts: Facts, tunnel: Tunnel, bore: Bore) -> bool:
    """Whether both sides of a bore's full diameter lie in the pocket at its end, seen from above."""
    end, level = bore.along(bore.deepest.depth), hypot(bore.axis.x, bore.axis.y)
    aside = bore.deepest.diameter / 2 / level
    outline = facts.features.led_to(tunnel.place).outline
    return all(
        lies_over(Point(end.x - side * bore.axis.y, end.y + side * bore.axis.x), outline)
        for side in (-aside, aside)
    )


def _room_in_the_wall(facts: Facts, tunnel: Tunnel, course: Course) -> tuple[float, float]:
    """Depths below the face drilled from between which the mouth has its window of wall above and below it, mm.

    The mouth is the ellipse in which a round bit leaves a plane: half as high as r √(1 + (z/s)²), with z the axis's
    upright part and s its part square to the wall.
    """
    import shapely

    target = facts.features.led_to(tunnel.place)
    ends = [*target.outline, target.outline[0]]
    sides = shapely.linestrings([[tuple(a), tuple(b)] for a, b in pairwise(ends)])
    side = int(shapely.distance(sides, shapely.Point(course.end[:2])).argmin())
    a, b = ends[side], ends[side + 1]
    x, y, z = course.axis
    square = max(abs(x * (b.y - a.y) - y * (b.x - a.x)) / dist(a, b), 1e-3)
    rate = DRIFT if course.bit.drift is None else course.bit.drift
    half = (course.bit.diameter / 2 + rate * course.to_wall) * hypot(1.0, z / square)
    thickness = facts.layout.thickness
    near = target.face == tunnel.place.face
    above, below = (0.0, target.depth) if near else (thickness - target.depth, thickness)
    return above + half + tunnel.wants.window, below - half - tunnel.wants.window


def _bit(tunnel: Tunnel, course: Course, unit: JobUnit) -> Iterator[Finding]:
    """Its bit's own length; a size that is not owned is told with the others that are missing."""
    if course.bit.reach < course.bit_length - 1e-6:
        yield Finding(
            code="tunnel.bit-short",
            severity="caution",
            features=(tunnel.place.id,),
            value=course.bit.reach,
            limit=course.bit_length,
            message=f"the {course.bit.in_words} reaches {said(course.bit.reach, 0)} and {tunnel.name} needs "
            f"{said(course.bit_length, 0)} "
            "from its point to the chuck",
            cure=f"get one of {said(course.bit_length, 0)} or longer, or an extension",
            source=COMMON_PRACTICE,
        )
    elif not course.bit.owned:
        yield Finding(
            code="tunnel.bit-length",
            severity="caution",
            features=(tunnel.place.id,),
            value=course.bit_length,
            limit=None,
            message=f"no bit in the box drills {tunnel.name}",
            cure=f"get {course.bit.in_words}, {said(course.bit_length, 0)} or longer from its point to the chuck",
            source=COMMON_PRACTICE,
        )
    for finding in too_long(
        course.bit, course.bit_length, (tunnel.place.id,), f"the {course.bit.in_words} for {tunnel.name}"
    ):
        yield (
            finding
            if finding.severity != "note"
            else replace(
                finding,
                code="tunnel.bit-unmeasured",
                message=f"{tunnel.name} needs a {course.bit.in_words} bit {said(course.bit_length, 0)} long from its point to "
                f"the chuck. An ordinary one reaches about {said(finding.limit or 0.0, 0)}, and the job does not say how "
                "far yours reaches",
                cure=f"measure yours and state its reach under bits, such as {_with_reach(course, unit)}",
            )
        )
