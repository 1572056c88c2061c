"""Rules for what is drilled from the body's edge, and for what is drilled through a pocket: can the drill get there?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import cos, degrees, hypot, radians, sin

from scribeline.features import Access, Bore, Family, drill_access, edge_at, jack_opening
from scribeline.findings.finding import COMMON_PRACTICE, GEOMETRY, Facts, Finding, Limit
from scribeline.findings.wood import EDGE
from scribeline.job import feature_id
from scribeline.layout import ALIKE, STEEPEST, EdgePlace, Point, Point3, across_words, off_square
from scribeline.lengths import no_less, no_more, put, put_number, said

STRAYS = Limit.of("edge_place")
FACE = Limit.of("edge_bore_face")
SEAT = Limit.of("edge_seat")


def _stated(facts: Facts) -> Iterator[tuple[str, str, str, float, EdgePlace]]:
    """Every place on the edge: its cut's id, its key in the job, what it is called, where its x counts from, the place."""
    document, layout = facts.document, facts.layout
    zero = {
        "nut": 0.0,
        "12th fret": layout.twelfth,
        "pocket end": layout.pocket_end,
        "scale line": layout.scale,
    }
    if document.jack is not None and layout.jack is not None:
        yield "jack", "jack", "the jack", zero[document.jack.x_from], layout.jack
    buttons = zip(document.strap_buttons, layout.strap_buttons, strict=True)
    for number, (button, place) in enumerate(buttons, start=1):
        name = f"the {button.name} strap button"
        yield f"strap-button-{number}", f"strap_buttons[{number}]", name, zero[button.x_from], place


def places(facts: Facts) -> Iterator[Finding]:
    """Does every place on the edge lie near the edge, and does its hole run into the wood?"""
    limit = facts.limit(STRAYS)
    for identity, key, name, zero, place in _stated(facts):
        severity = limit.severity(place.strays)
        if severity is not None:
            yield Finding(
                code="edge.place-off",
                severity=severity,
                held_to=limit.level_id(severity),
                features=(identity,),
                value=place.strays,
                limit=limit.threshold(severity),
                message=f"{name} is stated {said(place.strays, 1)} from the body's edge; the nearest place on the edge is taken",
                cure=f"set {put(f'{key}.near', place.at.x - zero, place.at.y * facts.layout.treble, places=1)}, or to "
                "where on the "
                "edge you mean",
                source=limit.source,
            )
        off = off_square(place)
        if off > STEEPEST + 1e-9:
            yield Finding(
                code="edge.heading-along",
                severity="stop",
                features=(identity,),
                value=degrees(off),
                limit=degrees(STEEPEST),
                message=f"{name}'s hole runs {degrees(off):.0f}° off square to the edge, along the edge or away from the wood",
                cure=f"leave {key}.heading out for a hole square to the edge, or keep it within {degrees(STEEPEST):.0f}° of that",
                source=GEOMETRY,
            )


def jack(facts: Facts) -> Iterator[Finding]:
    """Does the whole jack hole open into its cavity?"""
    stated, place = facts.document.jack, facts.layout.jack
    if stated is None or place is None or stated.into is None:
        return
    target = facts.features.pocket(feature_id(stated.into))
    start = edge_at(facts.layout, place)
    bores = facts.features.family("jack")
    radius = bores[0].deepest.diameter / 2 if bores else stated.diameter / 2
    opening = jack_opening(facts.layout, start, place.inward, radius, target)
    low, high = _heights(facts, target.face, target.depth)
    window = _from_top_window(facts, place, low, high, radius)
    if opening is None:
        by_height = start.z - radius >= high or start.z + radius <= low
        where = "over" if start.z > low else "under"
        yield Finding(
            code="jack.misses",
            severity="stop",
            features=(target.id,),
            concerns=(target.id, *_of_the_jack(facts)),
            value=None,
            limit=None,
            message=f"the jack hole passes {where} the {target.in_words}: it lies {-start.z - radius:.2f} to "
            f"{said(-start.z + radius)} below the top, the cavity {-high:.2f} to {said(-low)}"
            if by_height
            else f"the jack hole runs past the {target.in_words} and never opens into it",
            cure=window
            if by_height
            else "move jack.near along the edge until the hole points at the cavity, or turn it there (jack.heading)",
            source=GEOMETRY,
        )
        return
    if opening.is_whole:
        return
    upright, aside = max(opening.above, opening.below), max(opening.to_right, opening.to_left)
    parts = []
    if upright > 0:
        parts.append(
            f"{said(upright)} of it {'over' if opening.above > opening.below else 'under'} the cavity"
        )
    if aside > 0:
        side = "right" if opening.to_right > opening.to_left else "left"
        parts.append(
            f"{said(aside)} of it past the cavity's wall on the {side}, seen from outside with the top up"
        )
    yield Finding(
        code="jack.opens-partly",
        severity="caution",
        features=("jack", target.id),
        value=max(upright, aside),
        limit=0.0,
        message=f"the jack hole, {said(2 * radius)} wide, does not open into the {target.in_words} with its whole width: "
        + " and ".join(parts),
        cure="; ".join(
            [
                *([window] if upright > 0 else []),
                *(
                    [f"move jack.near {no_less(aside)} the other way, or turn its direction"]
                    if aside > 0
                    else []
                ),
            ]
        ),
        source=GEOMETRY,
    )


def _of_the_jack(facts: Facts) -> tuple[str, ...]:
    """Ids of its bore and of its screws' holes."""
    families: tuple[Family, ...] = ("jack", "jack-screw")
    return tuple(bore.id for family in families for bore in facts.features.family(family))


def _heights(facts: Facts, face: str, depth: float) -> tuple[float, float]:
    thickness = facts.layout.thickness
    return (-depth, 0.0) if face == "top" else (-thickness, depth - thickness)


def _from_top_window(facts: Facts, place: EdgePlace, low: float, high: float, radius: float) -> str:
    """Where the axis may lie for the whole bore to open between two heights, in words."""
    top = facts.layout.top_at(place.at)
    if high - low < 2 * radius:
        return f"the cavity is {said(high - low)} deep there: make it deeper, or the hole {no_more(high - low)} or less"
    nearest, furthest = max(top - high + radius, 0.0), top - low - radius
    return f"set jack.from_top between {no_less(nearest)} and {no_more(furthest)}"


def faces(facts: Facts) -> Iterator[Finding]:
    """Does wood enough remain between a hole from the edge, or from inside a cavity, and the top and the back?"""
    by_id = {bore.id: bore for bore in facts.features.bores if bore.face in {"edge", "pocket"}}
    limit = facts.limit(FACE)
    for outside in facts.outside:
        bore = by_id.get(outside.feature)
        if bore is None:
            continue
        for name, left in (("top", outside.to_top), ("back", outside.to_back)):
            severity = None if left is None else limit.severity(left)
            if left is None or severity is None:
                continue
            wanted = limit.caution - left
            yield Finding(
                code="edge.breaks-through" if left <= 0 else "edge.thin-face",
                severity=severity,
                of=f"{bore.id}.to-{name}",
                held_to=limit.level_id(severity),
                features=(bore.id,),
                value=left,
                limit=limit.threshold(severity),
                message=f"the {bore.role} comes out of the {name} by {said(-left)}"
                if left <= 0
                else f"the {bore.role} leaves {said(left)} of wood to the {name}",
                cure=_move_off_face(facts, bore, name, wanted),
                source=GEOMETRY if left <= 0 else limit.source,
            )


def _move_off_face(facts: Facts, bore: Bore, name: str, by: float) -> str:
    key = _key(bore)
    if bore.face == "pocket" or not key:
        return f"move it {no_less(by)} towards the {'back' if name == 'top' else 'top'}"
    top = facts.layout.top_at(_flat(bore))
    now = top - bore.at.z
    if now + by > -top + facts.layout.thickness or now - by < 0:
        return f"the body is too thin for a {said(bore.widest)} hole from the edge"
    if name == "top":
        return f"set {put(f'{key}.from_top', now + by, bound='least')} or more"
    return f"set {put(f'{key}.from_top', now - by, bound='most')} or less"


def _flat(bore: Bore) -> Point:
    return Point(bore.at.x, bore.at.y)


def _key(bore: Bore) -> str:
    """The job's table of a bore from the edge."""
    if bore.family in {"jack", "jack-screw"}:
        return "jack"
    return f"strap_buttons[{bore.number}]" if bore.family == "strap-button" else ""


def edges(facts: Facts) -> Iterator[Finding]:
    """Does a hole from the edge come out of the edge again?"""
    by_id = {bore.id: bore for bore in facts.features.bores if bore.face == "edge"}
    limit = facts.limit(EDGE)
    for outside in facts.outside:
        bore = by_id.get(outside.feature)
        severity = None if bore is None else limit.severity(outside.to_edge)
        if bore is None or severity is None:
            continue
        out = outside.to_edge < 0
        yield Finding(
            code="edge.comes-out" if out else "edge.near-edge",
            severity=severity,
            of=f"{bore.id}.to-edge",
            held_to=limit.level_id(severity),
            features=(bore.id,),
            value=outside.to_edge,
            limit=limit.threshold(severity),
            message=f"the {bore.role} comes out of the body's edge elsewhere by {said(-outside.to_edge)}"
            if out
            else f"the {bore.role} leaves {said(outside.to_edge)} of wood to the body's edge beside its opening",
            cure=f"move {_key(bore)}.near along the edge to where the wood is wider"
            + ("" if bore.screw is None else ", or use a shorter screw")
            if _key(bore)
            else "move it",
            source=GEOMETRY if out else limit.source,
        )


def seats(facts: Facts) -> Iterator[Finding]:
    """Does what sits on the edge sit on wood: a strap button's base, a jack's plate and its screws?"""
    document, layout = facts.document, facts.layout
    parts: list[tuple[str, str, EdgePlace, float]] = []
    buttons = zip(document.strap_buttons, layout.strap_buttons, strict=True)
    for number, (button, place) in enumerate(buttons, start=1):
        name = f"the base of the {button.name} strap button, {said(button.base_diameter, None)} wide,"
        parts.append((f"strap-button-{number}", name, place, button.base_diameter / 2))
    stated = document.jack
    if stated is not None and layout.jack is not None and stated.plate_size is not None:
        name = f"the jack's plate, {said(stated.plate_size[1], None)} up the edge,"
        parts.append(("jack", name, layout.jack, stated.plate_size[1] / 2))
    limit = facts.limit(SEAT)
    for identity, name, place, half in parts:
        z, top, back = edge_at(layout, place).z, layout.top_at(place.at), layout.back_at(place.at)
        left = min(top - z, z - back) - half
        severity = limit.severity(left)
        if severity is None:
            continue
        face = "top" if top - z < z - back else "back"
        fits = top - back - 2 * half >= 2 * limit.caution
        low, high = half + limit.caution, top - back - half - limit.caution
        yield Finding(
            code="edge.seat",
            severity=severity,
            held_to=limit.level_id(severity),
            features=(identity,),
            value=left,
            limit=limit.threshold(severity),
            message=f"{name} "
            + (f"stands {said(-left)} over the {face}" if left < 0 else f"ends {said(left)} from the {face}"),
            cure=f"set its from_top between {no_less(low)} and {no_more(high)}"
            if fits
            else "use a smaller one: the edge is too narrow for it",
            source=limit.source,
        )
    for number, screw in enumerate(layout.jack_screws, start=1):
        if screw is None:
            yield Finding(
                code="jack.screw-off",
                severity="stop",
                features=("jack",),
                concerns=_of_the_jack(facts),
                value=None,
                limit=None,
                message=f"screw {number} of the jack's plate meets no edge: its line misses the body",
                cure=f"correct jack.screws[{number}], which is counted from the jack's axis",
                source=GEOMETRY,
            )


def rounded_rims(facts: Facts) -> Iterator[Finding]:
    """Does the rim of a jack's hole without a plate lie on the flat of the edge, clear of its rounding?"""
    document, rounded = facts.document, facts.document.body.roundover
    square = replace(facts.layout.body, round_top=0.0, round_back=0.0)
    bore = next(iter(facts.features.family("jack")), None)
    if bore is None or bore.face != "edge" or document.jack is None or document.jack.plate_size is not None:
        return
    place, half = _flat(bore), bore.widest / 2
    for face, radius, left in (
        ("top", rounded.top, square.top_at(place) - bore.at.z - half - rounded.top),
        ("back", rounded.back, bore.at.z - square.back_at(place) - half - rounded.back),
    ):
        if radius and left < -ALIKE:
            yield Finding(
                code="edge.rim-on-rounding",
                severity="caution",
                features=(bore.id,),
                value=left,
                limit=0.0,
                message=f"the {bore.role}, {said(bore.widest)} wide, runs {said(-left)} into the {face}'s rounded edge",
                cure="put a plate over it, use a smaller jack, or round the edge less there (body.roundover)",
                source=GEOMETRY,
            )


def access(facts: Facts) -> Iterator[Finding]:
    """Can a drill with its chuck get to every hole from the edge and through a cavity?"""
    for bore in facts.features.bores:
        if bore.face not in {"edge", "pocket"}:
            continue
        found = reach(facts, bore)
        if found.in_the_way > 0:
            assert found.place is not None
            yield Finding(
                code="access.in-the-way",
                severity="stop",
                features=(bore.id, *((bore.entered_from,) if bore.entered_from else ())),
                value=found.in_the_way,
                limit=0.0,
                message=f"the bit for the {bore.role} cannot get there: wood stands {said(found.in_the_way)} into its way "
                f"{_where(facts, found.place)}",
                cure=_steeper(facts, bore)
                or "start it elsewhere, steepen it, or open the cavity it is drilled through as far as that",
                source=GEOMETRY,
            )
            continue
        reachable = bore.deepest.bit.reach
        if found.chuck is not None and found.bit - bore.deepest.bit.point > reachable:
            yield Finding(
                code="access.short-bit",
                severity="caution",
                features=(bore.id,),
                value=reachable,
                limit=found.bit - bore.deepest.bit.point,
                message=f"at full depth of the {bore.role} the chuck would meet the wood {_where(facts, found.chuck)}: "
                f"{said(found.outside, 0)} of the bit must stay outside",
                cure=f"use a bit that reaches {said(found.bit, 0)} from its point to the chuck, or an extension",
                source=COMMON_PRACTICE,
            )


def _steeper(facts: Facts, bore: Bore) -> str:
    """The least slant, in whole degrees, at which the bit gets past; "" where no key states one or none does."""
    rows = () if facts.layout.bridge is None else facts.layout.bridge.wall_screws
    row = next((each for each in rows if each.family == bore.family), None)
    flat = hypot(bore.axis.x, bore.axis.y)
    for slope in () if row is None else range(1, _STEEPEST_TILT + 1):
        level, up = cos(radians(slope)) / flat, sin(radians(slope))
        tried = replace(bore, axis=Point3(level * bore.axis.x, level * bore.axis.y, up))
        if reach(facts, tried).in_the_way == 0:
            assert row is not None
            return f"set {put_number(row.tilt_key, slope, places=0, bound='least')} or more: the bit then clears the cavity's rim"
    return ""


_STEEPEST_TILT = 30
"""Most that a screw in a cavity's wall may slant, degrees, as the job takes it."""


def reach(facts: Facts, bore: Bore) -> Access:
    """What a drill meets on its way to a bore, with the pocket it is drilled through open."""
    open_pockets = [p for p in facts.features.pockets if p.id == bore.entered_from]
    return drill_access(
        bore,
        facts.layout.outline,
        facts.layout.thickness,
        open_pockets,
        chuck_radius=facts.document.bits.chuck_radius,
    )


def _where(facts: Facts, place: Point3) -> str:
    layout = facts.layout
    across = across_words(place.y * layout.treble, 1)
    return (
        f"{said(layout.past('pocket-end', place.x), 1)} from the {layout.datum('pocket-end').name}, {across}, "
        f"{said(-place.z, 1)} below the top"
    )
