"""Rules for single holes: pilots, ferrules, the meeting of two bores, the bits themselves."""

from __future__ import annotations

from collections.abc import Iterator
from math import asin, degrees, inf

from scribeline.features import (
    BENCH_SOURCE,
    HANDBOOK_SOURCE,
    Bit,
    Bore,
    Step,
    angle_from_face_deg,
    bridge_timber,
    entry_ellipse,
    ferrule_fit,
    ferrules_of,
    meeting_overlap,
    neck_timber,
    pilot_rule,
    wander,
    workpiece_of,
)
from scribeline.features.string_holes import counterbore_depth
from scribeline.findings.finding import GEOMETRY, STATED, Facts, Finding, Limit
from scribeline.findings.named import difference, ratio
from scribeline.findings.wood import named, one_of_each_kind
from scribeline.job import Document
from scribeline.layout import Point
from scribeline.lengths import no_less, no_more, put, put_number, said
from scribeline.tables import BIT_LENGTH_SOURCE, Timber, bit_length

MEETING = Limit.of("bores_meeting")

AIM_OVERLAP = 2.0
HIGHEST_SHARE = 0.9
"""What the cure aims at, mm, and the largest top share it proposes: wood must be left under the point."""

MOUTH = Limit.of("slant_mouth")
LIP_WEB = Limit.of("lip_web")
PILOT_ERROR = Limit.of("pilot_error")
TIGHTEST_PRESS = Limit.of("press_tight")
LOOSEST_PRESS = Limit.of("press_loose")
LOOSEST_LIP = Limit.of("lip_loose")


def pilots(facts: Facts) -> Iterator[Finding]:
    """Is the pilot right for the screw, the timber and the bits owned?"""
    groups: dict[tuple[object, Step], list[Bore]] = {}
    for bore in (*facts.features.bores, *facts.beside_the_body):
        if bore.screw is not None:
            groups.setdefault((bore.row, bore.deepest), []).append(bore)
    for bores in groups.values():
        yield from _pilots(facts, bores)


def _pilots(facts: Facts, bores: list[Bore]) -> Iterator[Finding]:
    first = bores[0]
    screw, bridge = first.own_screw, first.family == "bridge-screw"
    wood = _timber_of(facts, first)
    rule = pilot_rule(thread=screw.thread, root=screw.root, timber=wood)
    ids, bit = tuple(bore.id for bore in bores), first.deepest.bit
    whose = "" if bridge else f" of the {first.group}"
    error = facts.limit(PILOT_ERROR)
    if bit.diameter >= screw.root + 0.9 * (screw.thread - screw.root):
        yield Finding(
            code="pilot.no-bite",
            severity="stop",
            of=f"{first.id}.step-{len(first.steps)}.diameter",
            features=ids,
            value=bit.diameter,
            limit=screw.thread,
            message=f"the nearest bit, {bit.size_in_words}, is all but the thread's {said(screw.thread)}: the "
            f"screws{whose} will not hold",
            cure=f"get a {said(rule.bench)} bit",
            source=GEOMETRY,
        )
    elif bit.owned and error.severity(abs(bit.diameter - rule.bench)):
        tight = bit.diameter < rule.bench
        yield Finding(
            code="pilot.off-size",
            severity="caution",
            of=f"{first.id}.step-{len(first.steps)}.diameter",
            held_to=f"{first.id}.step-{len(first.steps)}.wanted",
            features=ids,
            value=bit.diameter,
            limit=rule.bench,
            message=f"the pilot{whose} should be {said(rule.bench)} and the nearest bit is {bit.size_in_words}: "
            + ("screws may snap" if tight else "screws hold less"),
            cure=f"get a bit nearer {said(rule.bench)}, or try the screw in scrap of the same timber"
            + (", waxed, a steel one first" if tight else ""),
            source=BENCH_SOURCE if error is PILOT_ERROR else error.source,
        )
    if rule.differ and bridge:
        yield Finding(
            code="pilot.rules-differ",
            severity="note",
            of=f"{first.id}.step-{len(first.steps)}.wanted",
            held_to=f"{first.id}.handbook-pilot",
            features=ids,
            value=rule.bench,
            limit=rule.handbook,
            message=f"bench rule {said(rule.bench)}, handbook lead hole {said(rule.handbook)} for a "
            f"{screw.thread:.2f}/{said(screw.root)} screw in {wood.in_words}: the bench rule is used",
            cure="let a scrap test decide: the screw should go in with one hand and leave no crack",
            source=f"{BENCH_SOURCE}; {HANDBOOK_SOURCE}",
        )


def _timber_of(facts: Facts, pilot: Bore) -> Timber:
    """What a pilot is drilled in, or reckoned with."""
    if workpiece_of(pilot.id) != "body":
        return neck_timber(facts.document)
    if pilot.family == "bridge-screw":
        return bridge_timber(facts.document, facts.layout, Point(pilot.at.x, pilot.at.y))
    return facts.layout.timber_at(Point(pilot.at.x, pilot.at.y), pilot.at.z)


def missing_bits(facts: Facts) -> Iterator[Finding]:
    """Is every bit the plan asks for in the box?"""
    wanted: dict[Bit, list[str]] = {}
    for bore in (*facts.features.bores, *facts.beside_the_body):
        for step in bore.steps:
            if not step.bit.owned:
                wanted.setdefault(step.bit, []).append(bore.id)
    for bit, ids in wanted.items():
        yield Finding(
            code="bits.missing",
            severity="caution",
            features=tuple(ids),
            value=bit.diameter,
            limit=None,
            message=f"no bit in the box fits; the plan asks for {bit.in_words}",
            cure=f"get {bit.in_words} ({bit.inches}), or list it under bits if you own one",
            source=STATED,
        )


def meeting_bores(facts: Facts) -> Iterator[Finding]:
    """Do the string holes from the top and the ferrule holes from the back meet?"""
    back = {bore.id: bore for bore in facts.features.family("ferrule-hole")}
    pairs = [
        (top, back[name])
        for top in facts.features.family("string-hole")
        for name in sorted(top.meets)
        if name in back
    ]
    if not pairs:
        return
    document, fit = facts.document, ferrule_fit(facts.document)
    thickness = document.body.thickness.mm
    top, from_back = min(pairs, key=lambda pair: meeting_overlap(*pair))
    overlap = meeting_overlap(top, from_back)
    limit = facts.limit(MEETING)
    severity = limit.severity(overlap)
    holes = (*facts.features.family("string-hole"), *facts.features.family("ferrule-hole"))
    ids = tuple(bore.id for bore in holes)
    if severity is not None:
        aim = max(AIM_OVERLAP, limit.caution)
        share = (thickness - from_back.deepest.depth + aim) / thickness
        deeper = document.string_holes.relief + aim - overlap
        made = facts.record.made_cuts
        stated = document.string_holes.top_share is not None
        if stated and top.id not in made and share < HIGHEST_SHARE:
            cure = f"set {put_number('string_holes.top_share', share, bound='least')} or more"
        elif from_back.id not in made:
            cure = f"set {put('string_holes.relief', deeper, bound='least')}, or use a longer ferrule"
        else:
            cure = f"drill the holes from the back {no_less(aim - overlap)} deeper, on the same pin"
        yield Finding(
            code="string-holes.do-not-meet",
            severity=severity,
            of=f"{from_back.id}.overlap",
            held_to=limit.level_id(severity),
            features=ids,
            value=overlap,
            limit=limit.threshold(severity),
            message=f"the string holes, {said(top.deepest.depth)} from the top and {said(from_back.deepest.depth)} from the "
            f"back of a {said(thickness)} body, "
            + (f"miss each other by {said(-overlap)}" if overlap < 0 else f"overlap by only {said(overlap)}"),
            cure=cure,
            source=limit.source,
        )
    yield from _sideways(top, from_back, ids)
    if fit.counterbore <= 0:
        yield Finding(
            code="ferrules.no-counterbore",
            severity="stop",
            features=ids,
            value=fit.counterbore,
            works=(
                counterbore_depth,
                {"lip": "ferrules.lip_height", "recess": "ferrules.recess", "film": "finish.film"},
            ),
            limit=0.0,
            message=f"the finish, {said(document.finish.film, None)} thick, fills the whole counterbore for the ferrule's lip",
            cure=f"sink the lip deeper: set {put('ferrules.recess', document.finish.film, bound='least')} or more, or use a "
            "thinner finish",
            source=GEOMETRY,
        )


def _sideways(top: Bore, back: Bore, ids: tuple[str, ...]) -> Iterator[Finding]:
    """Is the ferrule's bore wide enough to find a string hole that has wandered?"""
    narrow, wide = top.deepest, back.deepest
    aside = wander(narrow.depth, wide.depth, (narrow.bit.drift, wide.bit.drift))
    room = (wide.diameter - narrow.diameter) / 2
    if aside > room + 1e-9:
        yield Finding(
            code="string-holes.part-sideways",
            severity="caution",
            of=f"{back.id}.parted",
            features=ids,
            value=aside,
            limit=room,
            message=f"where the two holes meet they may miss by {said(aside)} sideways (the pin's error and the drift of both "
            f"bits), and the ferrule's hole is only {said(room)} wider than the string hole all round",
            cure="measure the drift of both bits in scrap and state it under bits, or use a ferrule with a wider body",
            source=BENCH_SOURCE,
        )


def ferrule_row(facts: Facts) -> Iterator[Finding]:
    """Does wood enough remain between the ferrule lips?"""
    holes = facts.features.family("ferrule-hole")
    if len(holes) < 2:
        return
    spacing, lip = facts.document.bridge.spacing.mm, ferrules_of(facts.document).lip_diameter.mm
    widest = max(holes[0].steps[0].diameter, lip)
    web = spacing - widest
    by_bit = widest > lip
    what, name = ("counterbores", "counterbore") if by_bit else ("lips", "lip")
    limit = facts.limit(LIP_WEB)
    severity = limit.severity(web)
    if severity is not None:
        yield Finding(
            code="ferrules.lip-web",
            severity=severity,
            held_to=limit.level_id("caution"),
            features=tuple(bore.id for bore in holes),
            value=web,
            works=(
                difference,
                {
                    "one": "bridge.spacing",
                    "other": f"{holes[0].id}.step-1.diameter" if by_bit else "ferrules.lip_diameter",
                },
            ),
            limit=limit.caution,
            message=(
                f"the ferrule {what} overlap by {said(-web)}"
                if web < 0
                else f"only {said(web)} of wood remains between the ferrule {what}"
            )
            + f": spacing {said(spacing)} − {name} {said(widest)}",
            cure=f"get a bit nearer {said(ferrule_fit(facts.document).lip)} for the counterbores"
            if by_bit and spacing - lip >= limit.caution
            else f"use ferrules with a lip of {no_more(spacing - limit.caution)} or less, with a bit of that size, "
            "or a one-piece ferrule block",
            source=limit.source,
        )


def ferrule_fits(facts: Facts) -> Iterator[Finding]:
    """Will the ferrules press in without splitting the finish or dropping out?"""
    holes = facts.features.family("ferrule-hole")
    if not holes:
        return
    fit, document = ferrule_fit(facts.document), facts.document
    parts = (
        ("lip", fit.lip, facts.limit(LOOSEST_LIP)),
        ("body", fit.body, facts.limit(LOOSEST_PRESS)),
    )
    for no, (name, wanted, loosest) in enumerate(parts, start=1):
        bored = [
            hole for hole in holes if len(hole.steps) >= no
        ]  # one left behind may have its counterbore alone
        if not bored:
            continue
        ids = tuple(bore.id for bore in bored)
        cut, made = bored[0].steps[no - 1].diameter, ids[0] in facts.record.made_cuts
        play = cut - wanted
        limit = facts.limit(TIGHTEST_PRESS) if play < 0 else loosest
        if limit.severity(abs(play)) is None:
            continue
        film = f" with {said(fit.film_in_hole, None)} of finish in the hole" if fit.film_in_hole else ""
        after = f", {said(cut - fit.film_in_hole)} once sprayed" if fit.film_in_hole else ""
        tight = play < 0
        yield Finding(
            code=f"ferrules.{name}-{'tight' if tight else 'loose'}",
            severity="caution",
            features=ids,
            value=play,
            works=(
                difference,
                {
                    "one": f"{ids[0]}.step-{no}.diameter",
                    "other": wanted if made else f"{ids[0]}.step-{no}.wanted",
                },
            ),
            limit=-limit.caution if tight else limit.caution,
            message=f"the ferrule's {name} needs a hole of {said(wanted)}{film} and the bit cuts {said(cut)}{after}: "
            + (
                f"{said(-play)} tight, it can split the finish"
                if tight
                else f"{said(play)} loose, it can drop out"
            ),
            cure=_fit_cure(document, wanted, fit.film_in_hole, tight=tight),
            source=limit.source,
        )
    if document.finish.film and document.finish.holes == "sprayed":
        lip = holes[0].steps[0]
        yield Finding(
            code="ferrules.chase-after-finish",
            severity="note",
            features=tuple(bore.id for bore in holes),
            value=2 * document.finish.film,
            limit=None,
            message=f"a sprayed hole comes out {said(2 * document.finish.film)} narrower. Cut to {said(lip.diameter)}, the "
            f"counterbore will measure {said(lip.diameter - fit.film_in_hole)} for a lip of "
            f"{said(ferrules_of(document).lip_diameter.mm)}",
            cure=f"after curing, measure: the lip's hole should be {said(ferrules_of(document).lip_diameter.mm)}; clean "
            "it out by hand",
            source=GEOMETRY,
        )


def _fit_cure(document: Document, wanted: float, film_in_hole: float, *, tight: bool) -> str:
    """What to do about a hole that is off size for its ferrule, mm."""
    if not tight:
        return f"get a bit nearer {said(wanted)}, or bed the ferrules"
    if document.finish.film and document.finish.holes == "sprayed":
        return f"ream to {said(wanted - film_in_hole)} after the finish has cured, the edge scored first"
    return f"get a bit of {said(wanted)}, or ream the holes to it before the finish"


def long_mouths(facts: Facts) -> Iterator[Finding]:
    """Does a slanting hole meet its face so flat that its opening is a long tear?"""
    return one_of_each_kind(_long_mouths(facts), facts, worst=max)


def _long_mouths(facts: Facts) -> Iterator[Finding]:
    limit, made = facts.limit(MOUTH), facts.record.made_cuts
    for bore in facts.features.bores:
        if bore.face not in {"top", "back"} or bore.id in made:
            continue
        length, width = entry_ellipse(bore)
        times = length / width
        if limit.severity(times) is None:
            continue
        angle = angle_from_face_deg(bore)
        steeper = degrees(asin(1 / limit.caution))
        yield Finding(
            code="hole.long-mouth",
            severity="caution",
            held_to=limit.level_id("caution"),
            features=(bore.id,),
            value=times,
            works=(ratio, {"one": length, "other": width}),
            limit=limit.caution,
            message=f"{named(bore)} meets the {bore.face} at {angle:.1f}°: its opening is {length:.1f} × {said(width, 1)}, "
            f"{times:.1f} times longer than wide",
            cure=f"start it nearer its cavity or let it land deeper, {steeper:.0f}° from the face or steeper"
            if bore.is_wire_way
            else f"drill it {steeper:.0f}° from the face or steeper, or start the bit in a block clamped to the face and drilled "
            "at its angle",
            source=limit.source,
        )


def bits_long_enough(facts: Facts) -> Iterator[Finding]:
    """Are bits of that diameter made as long as a hole needs? Wire holes have a check of their own."""
    made, passed = facts.record.made_cuts, facts.document.bridge.guided_through
    tunnels = {tunnel.place.id for tunnel in facts.tunnels}
    wanted: dict[Bit, tuple[float, list[str]]] = {}
    for bore in facts.features.bores:
        if bore.id in made | tunnels:
            continue
        before = passed if bore.family == "string-hole" else 0.0
        for step in bore.steps:
            need, ids = wanted.get(step.bit, (0.0, []))
            wanted[step.bit] = (max(need, step.point_reaches + before), [*ids, bore.id])
    for bit, (need, ids) in wanted.items():
        yield from too_long(bit, need, tuple(ids), f"the {bit.in_words}")


def too_long(bit: Bit, need: float, ids: tuple[str, ...], whose: str) -> Iterator[Finding]:
    """What to say of a bit that must reach so far from its point to the chuck, mm; flat-bottomed ones take extensions."""
    if bit.kind not in {"twist", "brad-point"} or bit.reach < inf:
        return
    made = bit_length(bit.diameter)
    if need > made.longest + 1e-9:
        yield Finding(
            code="bits.not-made-so-long",
            severity="caution",
            features=ids,
            value=need,
            limit=made.longest,
            message=f"{whose} must reach {said(need, 0)} from its point to the chuck, and bits of {bit.millimetres} are made to "
            f"reach about {said(made.longest, 0)}",
            cure="drill from both sides, or take a thicker bit, or one brazed to a rod; if yours reaches, state its reach under "
            "bits",
            source=BIT_LENGTH_SOURCE,
        )
    elif bit.owned and need > made.ordinary + 1e-9:
        yield Finding(
            code="bits.reach-unmeasured",
            severity="note",
            features=ids,
            value=need,
            limit=made.ordinary,
            message=f"{whose} must reach {said(need, 0)} from its point to the chuck; an ordinary one reaches about "
            f"{said(made.ordinary, 0)}, and how far yours does is not stated",
            cure="measure it and state its reach under bits",
            source=BIT_LENGTH_SOURCE,
        )
