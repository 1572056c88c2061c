"""Rules for single holes: pilots, ferrules, the meeting of two bores, the bits themselves."""

from __future__ import annotations

from collections.abc import Iterator

from scribeline.features import (
    BENCH_SOURCE,
    HANDBOOK_SOURCE,
    Bit,
    Bore,
    Step,
    ferrule_fit,
    ferrules_of,
    made_cuts,
    meeting_overlap,
    pilot_rule,
)
from scribeline.findings.finding import (
    GEOMETRY,
    STATED,
    Facts,
    Finding,
    Limit,
    no_less,
    no_more,
)
from scribeline.job import Document
from scribeline.layout import Point
from scribeline.lengths import AT_LEAST, trimmed

MEETING = Limit.of("bores_meeting")

AIM_OVERLAP = 2.0
HIGHEST_SHARE = 0.9
"""What the cure aims at, mm, and the largest top share it proposes: wood must be left under the point."""

LIP_WEB = Limit.of("lip_web")
PILOT_ERROR = Limit.of("pilot_error")
TIGHTEST_PRESS = Limit.of("press_tight")
LOOSEST_PRESS = Limit.of("press_loose")
LOOSEST_LIP = Limit.of("lip_loose")


def pilots(facts: Facts) -> Iterator[Finding]:
    """Is the pilot right for the screw, the timber and the bits owned?"""
    groups: dict[tuple[object, Step], list[Bore]] = {}
    for bore in facts.features.bores:
        if bore.screw is not None:
            groups.setdefault((bore.row, bore.deepest), []).append(bore)
    for bores in groups.values():
        yield from _pilots(facts, bores)


def _pilots(facts: Facts, bores: list[Bore]) -> Iterator[Finding]:
    first = bores[0]
    screw, bridge = first.screw, first.family == "bridge-screw"
    assert screw is not None
    wood = (
        facts.document.body.timber
        if bridge
        else facts.layout.timber_at(Point(first.at.x, first.at.y), first.at.z)
    )
    rule = pilot_rule(thread=screw.thread, root=screw.root, timber=wood)
    ids, bit = tuple(bore.id for bore in bores), first.deepest.bit
    whose = "" if bridge else f" of the {first.group}"
    error = facts.limit(PILOT_ERROR)
    if bit.diameter >= screw.root + 0.9 * (screw.thread - screw.root):
        yield Finding(
            code="pilot.no-bite",
            severity="stop",
            features=ids,
            value=bit.diameter,
            limit=screw.thread,
            message=f"the nearest bit, {bit.size}, is all but the thread's {screw.thread:.2f} mm: the "
            f"screws{whose} will not hold",
            cure=f"get a {rule.bench:.2f} mm bit",
            source=GEOMETRY,
        )
    elif bit.owned and error.severity(abs(bit.diameter - rule.bench)):
        tight = bit.diameter < rule.bench
        yield Finding(
            code="pilot.off-size",
            severity="caution",
            features=ids,
            value=bit.diameter,
            limit=rule.bench,
            message=f"the pilot{whose} should be {rule.bench:.2f} mm and the nearest bit is {bit.size}: "
            + ("screws may snap" if tight else "screws hold less"),
            cure=f"get a bit nearer {rule.bench:.2f} mm, or prove the screw in scrap of the same timber"
            + (", waxed, a steel one first" if tight else ""),
            source=BENCH_SOURCE if error is PILOT_ERROR else error.source,
        )
    if rule.differ and bridge:
        yield Finding(
            code="pilot.rules-differ",
            severity="note",
            features=ids,
            value=rule.bench,
            limit=rule.handbook,
            message=f"bench rule {rule.bench:.2f} mm, handbook lead hole {rule.handbook:.2f} mm for a "
            f"{screw.thread:.2f}/{screw.root:.2f} mm screw in {wood.in_words}: the bench rule is used",
            cure="let a scrap test decide: the screw should go in with one hand and leave no crack",
            source=f"{BENCH_SOURCE}; {HANDBOOK_SOURCE}",
        )


def missing_bits(facts: Facts) -> Iterator[Finding]:
    """Is every bit the plan asks for in the box?"""
    wanted: dict[Bit, list[str]] = {}
    for bore in facts.features.bores:
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
            message=f"no bit in the box fits; the plan asks for {bit.name}",
            cure=f"get {bit.name} ({bit.inches}), or list it under bits if you own it",
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
        made = made_cuts(document)
        if top.id not in made and share < HIGHEST_SHARE:
            cure = f"set string_holes.top_share to {no_less(share)} or more"
        elif from_back.id not in made:
            cure = f"set string_holes.relief to {no_less(deeper)} mm, or use a longer ferrule"
        else:
            cure = f"bore the holes from the back {no_less(aim - overlap)} mm deeper, on the same pin"
        yield Finding(
            code="string-holes.do-not-meet",
            severity=severity,
            features=ids,
            value=overlap,
            limit=limit.threshold(severity),
            message=f"drilled {top.deepest.depth:.2f} mm from the top and {from_back.deepest.depth:.2f} mm from the back, "
            f"the bores of a {thickness:.2f} mm body "
            + (f"miss by {-overlap:.2f} mm" if overlap < 0 else f"overlap by only {overlap:.2f} mm"),
            cure=cure,
            source=limit.source,
        )
    if fit.counterbore <= 0:
        yield Finding(
            code="ferrules.no-counterbore",
            severity="stop",
            features=ids,
            value=fit.counterbore,
            limit=0.0,
            message=f"the finish film ({trimmed(document.finish.film)} mm) is thicker than the lip and its recess",
            cure=f"sink the lip deeper: set ferrules.recess to {trimmed(document.finish.film)}{AT_LEAST} mm or more, or take a "
            "thinner film",
            source=GEOMETRY,
        )


def ferrule_row(facts: Facts) -> Iterator[Finding]:
    """Is there wood left between the ferrule lips?"""
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
            features=tuple(bore.id for bore in holes),
            value=web,
            limit=limit.caution,
            message=(
                f"the ferrule {what} overlap by {-web:.2f} mm"
                if web < 0
                else f"only {web:.2f} mm of wood is left between the ferrule {what}"
            )
            + f": spacing {spacing:.2f} mm − {name} {widest:.2f} mm",
            cure=f"get a bit nearer {ferrule_fit(facts.document).lip:.2f} mm for the counterbores"
            if by_bit and spacing - lip >= limit.caution
            else f"use ferrules with a lip of {no_more(spacing - limit.caution)} mm or less, with a bit of that size, "
            "or a one-piece ferrule block",
            source=limit.source,
        )


def ferrule_fits(facts: Facts) -> Iterator[Finding]:
    """Will the ferrules press in without splitting the finish or dropping out?"""
    holes = facts.features.family("ferrule-hole")
    if not holes:
        return
    fit, document = ferrule_fit(facts.document), facts.document
    lip, body = holes[0].steps[0], holes[0].deepest
    ids = tuple(bore.id for bore in holes)
    parts = (
        ("lip", fit.lip, lip.diameter, facts.limit(LOOSEST_LIP)),
        ("body", fit.body, body.diameter, facts.limit(LOOSEST_PRESS)),
    )
    for name, wanted, cut, loosest in parts:
        play = cut - wanted
        limit = facts.limit(TIGHTEST_PRESS) if play < 0 else loosest
        if limit.severity(abs(play)) is None:
            continue
        film = f" with {trimmed(fit.film_in_hole)} mm of film in the hole" if fit.film_in_hole else ""
        after = f", {cut - fit.film_in_hole:.2f} mm once sprayed" if fit.film_in_hole else ""
        tight = play < 0
        yield Finding(
            code=f"ferrules.{name}-{'tight' if tight else 'loose'}",
            severity="caution",
            features=ids,
            value=play,
            limit=-limit.caution if tight else limit.caution,
            message=f"the ferrule's {name} wants a hole of {wanted:.2f} mm{film} and the bit cuts {cut:.2f} mm{after}: "
            + (
                f"{-play:.2f} mm tight, it can split the finish"
                if tight
                else f"{play:.2f} mm loose, it can drop out"
            ),
            cure=_fit_cure(document, wanted, fit.film_in_hole, tight=tight),
            source=limit.source,
        )
    if document.finish.film and document.finish.holes == "sprayed":
        yield Finding(
            code="ferrules.chase-after-finish",
            severity="note",
            features=ids,
            value=2 * document.finish.film,
            limit=None,
            message=f"a sprayed hole comes out {2 * document.finish.film:.2f} mm narrower: cut {lip.diameter:.2f} mm, the "
            f"counterbore will measure {lip.diameter - fit.film_in_hole:.2f} mm for a lip of "
            f"{ferrules_of(document).lip_diameter.mm:.2f} mm",
            cure=f"after curing, measure: the lip's hole should be {ferrules_of(document).lip_diameter.mm:.2f} mm; chase by hand",
            source=GEOMETRY,
        )


def _fit_cure(document: Document, wanted: float, film_in_hole: float, *, tight: bool) -> str:
    """What to do about a hole that is off size for its ferrule, mm."""
    if not tight:
        return f"get a bit nearer {wanted:.2f} mm, or bed the ferrules"
    if document.finish.film and document.finish.holes == "sprayed":
        return f"ream to {wanted - film_in_hole:.2f} mm after the finish has cured, the edge scored first"
    return f"get a bit of {wanted:.2f} mm, or ream the holes to it before the finish"
