"""Rules for what drilled holes decide: a bridge they hold off the place where it is wanted, and holes that do not fit."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain, combinations
from math import degrees, dist, hypot, inf

from scribeline.features import Bore, Family, plug_round
from scribeline.findings.bridge import PREDICTED, STRING_CLEARANCE
from scribeline.findings.drilled import PLUG, UNDO
from scribeline.findings.finding import COMMON_PRACTICE, GEOMETRY, STATED, Facts, Finding, Limit, Severity
from scribeline.findings.wood import named
from scribeline.layout import ANCHORS, SET_OUT, BridgePlace, Held, HoleFit, StringPath, kind_of
from scribeline.lengths import no_less, no_more, said
from scribeline.tables import PLUG_WALL, TURNED_SADDLE

SQUARE = 0.05
"""A turn that no square shows, degrees."""

STEP = Limit.of("ferrule_row")

_THROUGH: tuple[Family, ...] = (*ANCHORS, "string-hole", "ferrule-hole")
"""What lies where the bridge lies."""


def held_off(facts: Facts) -> Iterator[Finding]:
    """Does the bridge leave every saddle its travel where its drilled holes hold it?"""
    layout, held = facts.layout, facts.layout.held
    if held is None or layout.bridge is None or not layout.stringing.is_placed:
        return
    travel, wanted = layout.travel, layout.window.wanted_reserve
    off, where = _off_aim(facts, held, layout.bridge)
    noun = layout.bridge.noun
    if travel.reserve < wanted - 1e-9:
        yield Finding(
            code="bridge.held-short",
            severity="stop",
            features=held.holes,
            concerns=facts.by_the_bridge,
            value=travel.reserve,
            limit=wanted,
            message=f"the {held.by} are drilled and hold the {noun} {where}. There {_short_strings(facts, wanted)}; "
            f"{said(wanted)} is wanted",
            cure="; or ".join(_ways_out(facts, held, off)),
            source=STATED if all(layout.stringing.stated) else PREDICTED,
        )
    elif off > SET_OUT:
        yield Finding(
            code="bridge.held-off-aim",
            severity="caution",
            features=held.holes,
            value=off,
            limit=SET_OUT,
            message=f"the {held.by} are drilled and hold the {noun} {where}. The least saddle travel left there is "
            f"{said(travel.reserve)}; {said(wanted)} is wanted",
            cure=f"leave it if that will do, for all the rest is planned from the {noun} as it stands; if not, {UNDO}",
            source=COMMON_PRACTICE,
        )


def _off_aim(facts: Facts, held: Held, bridge: BridgePlace) -> tuple[float, str]:
    """How far the bridge stands off its best place, mm at the corner that is furthest off, and where in words."""
    if held.aim is None:
        return 0.0, "where it stands, and no place is right for it"
    treble = facts.layout.treble
    off = max(dist(corner, best) for corner, best in zip(chain(*bridge.outlines), held.wanted, strict=True))
    along, across = bridge.middle.x - held.aim.x, bridge.middle.y - held.aim.y
    words = []
    if abs(along) >= 0.005:
        words.append(f"{said(abs(along))} too far towards the {'tail' if along > 0 else 'nut'}")
    if abs(across) >= 0.005:
        words.append(f"{said(abs(across))} to the {'treble' if across * treble > 0 else 'bass'}")
    if abs(degrees(held.off_turn)) >= SQUARE:
        words.append(f"{abs(degrees(held.off_turn)):.2f}° {bridge.askew}")
    return off, ", ".join(words) or "where it should be"


def _short_strings(facts: Facts, wanted: float) -> str:
    """Which saddles have less travel left than is wanted, and how much, the worst first."""
    travel, strings = facts.layout.travel, facts.layout.strings
    short = sorted(
        (left, string, end)
        for string, *ends in zip(strings, travel.forward, travel.back, strict=True)
        for left, end in zip(ends, ("nut", "tail"), strict=True)
        if left < wanted - 1e-9
    )
    return "; ".join(_left(*each) for each in short)


def _left(left: float, string: StringPath, end: str) -> str:
    whose = f"string {string.no} ({string.note})"
    if left < 0:
        return f"{whose} runs out of saddle travel towards the {end}, {said(-left)} short of its place"
    return f"{whose} has {said(left)} left towards the {end}"


def _ways_out(facts: Facts, held: Held, off: float) -> Iterator[str]:
    """What can still be done with a bridge that leaves too little travel, the gentlest first."""
    layout, bridge = facts.layout, facts.document.bridge
    travel, wanted = layout.travel, layout.window.wanted_reserve
    missing = wanted - travel.reserve
    if off > SET_OUT:
        yield f"undo the edit that moved the {bridge.noun}'s place"
    slip = min(fit.play - fit.off for fit in held.leading)
    to_nut, to_tail = min(travel.forward) < wanted - 1e-9, min(travel.back) < wanted - 1e-9
    if slip >= missing and to_nut != to_tail:
        end = "tail" if to_tail else "nut"
        yield f"shift the {bridge.noun} {said(missing)} towards the {end} within its {bridge.held_by}' play of {said(slip)}"
    if missing <= TURNED_SADDLE:
        numbers = [
            str(string.no)
            for string, *ends in zip(layout.strings, travel.forward, travel.back, strict=True)
            if min(ends) < wanted - 1e-9
        ]
        yield (
            f"try the saddle{'' if len(numbers) == 1 else 's'} of string {', '.join(numbers)} turned round and measure "
            f"what it gains (about {said(TURNED_SADDLE, None)} is usual)"
        )
    reach, line = [], bridge.line
    if to_nut:
        furthest = bridge.saddle_forward.mm + min(travel.forward) - wanted
        if furthest > bridge.foremost:
            reach.append(f"{no_more(furthest)} or less from the {line}, fully forward")
    if to_tail:
        furthest = bridge.saddle_back.mm + wanted - min(travel.back)
        if furthest < bridge.rear:
            reach.append(f"{no_less(furthest)} or more from the {line}, fully back")
    if reach:
        yield f"use a bridge with the same {bridge.pattern} whose saddles reach {' and '.join(reach)}"
    if travel.reserve >= 0.01:
        yield f"take {no_more(travel.reserve)} of travel at your own risk (bench.saddle_reserve)"
    if held.aim is not None:
        yield _drill_anew(facts, off)


def _drill_anew(facts: Facts, off: float) -> str:
    """Whether new holes for the bridge where it is wanted go beside the old ones, or into plugs."""
    made = facts.record.made_cuts
    rows = [tuple(bore for bore in facts.features.family(family) if bore.id in made) for family in _THROUGH]
    kinds = "; ".join(f"the {row[0].role}s: {_beside(row, off)}" for row in rows if row)
    return f"drill new holes where the {facts.document.bridge.noun} should be, {said(off)} away ({kinds})"


def _beside(row: tuple[Bore, ...], off: float) -> str:
    wide = row[0].widest
    if off - wide >= PLUG_WALL:
        return f"{said(off - wide)} of wood remains between old and new, so plug the old ones only where they show"
    apart = min((dist(a.at, b.at) for a, b in combinations(row, 2)), default=inf)
    # A plug round both holes, with enough of itself round the new one, that leaves its neighbours alone.
    plug = plug_round(wide, wide, off)
    # Of one hole alone nothing lies near, and no plug may be wide enough.
    if plug is None or plug.diameter > apart:
        return "let in a patch of the same timber first"
    return f"plug the old ones first, {said(plug.diameter)}, with the same timber, overnight in the clamps"


def holes_under_bridge(facts: Facts) -> Iterator[Finding]:
    """Do the drilled holes lie under the bridge's own holes?"""
    held = facts.layout.held
    if held is None:
        return
    bridge = facts.document.bridge
    yield from _misfit(
        facts, held.anchors, "bridge.pilots-misfit", kind_of(bridge).play_in_words(facts.document)
    )
    yield from _misfit(
        facts,
        held.string_holes,
        "string-holes.off-plate",
        f"the bit's play in the {bridge.noun}'s hole"
        + (f" and the {bridge.held_by}' play" if held.anchors else ""),
    )


def _misfit(facts: Facts, fits: tuple[HoleFit, ...], code: str, what: str) -> Iterator[Finding]:
    if surely := [fit for fit in fits if fit.is_surely_off]:
        yield _off(facts, "stop", surely, code, what)
    if doubtful := [fit for fit in fits if not fit.fits and not fit.is_surely_off]:
        yield _off(facts, "caution", doubtful, code, what)


def _off(facts: Facts, severity: Severity, wrong: list[HoleFit], code: str, what: str) -> Finding:
    """What is said of drilled holes that lie off the bridge's: where a rule may have misread them, only a caution."""
    worst, noun = max(wrong, key=lambda fit: fit.off - fit.play), facts.document.bridge.noun
    bores = {bore.id: bore for bore in facts.features.bores}
    others = ", ".join(named(bores[fit.feature]) for fit in wrong if fit is not worst)
    may_be_read = "" if severity == "stop" else f". A rule may misread that: {said(worst.misread)} is usual"
    return Finding(
        code=code,
        severity=severity,
        features=tuple(fit.feature for fit in wrong),
        concerns=facts.by_the_bridge if severity == "stop" else (),
        value=worst.off,
        limit=worst.play,
        message=f"{named(bores[worst.feature])} lies {said(worst.off)} off the {noun}'s hole, with the {noun} laid on what is "
        f"drilled; {said(worst.play)} is allowed ({what})"
        + (f". Off as well: {others}" if others else "")
        + may_be_read,
        cure=f"measure where the hole is and put that into the record (measured); or {UNDO}; or {PLUG}"
        if severity == "stop"
        else "try the screws by hand before anything is drilled through the bridge; where they bind, measure the holes again",
        source=GEOMETRY,
    )


def ferrules_behind(facts: Facts) -> Iterator[Finding]:
    """Does each ferrule hole come in on its own string hole?"""
    backs = {bore.id: bore for bore in facts.features.family("ferrule-hole")}
    limit, clearance = facts.limit(STEP), facts.limit(STRING_CLEARANCE)
    worst: list[tuple[float, Bore, Bore, float, bool]] = []
    for number, hole in enumerate(facts.features.family("string-hole")):
        back = next((backs[name] for name in sorted(hole.meets) if name in backs), None)
        if back is None or hole.axis.z > -0.5 or number >= len(facts.document.strings):
            continue
        end = hole.along((back.at.z - hole.at.z) / hole.axis.z)
        off = hypot(end.x - back.at.x, end.y - back.at.y)
        if limit.severity(off):
            gap = min(hole.widest, (hole.widest + back.deepest.diameter) / 2 - off)
            need = facts.document.strings[number].gauge + clearance.caution
            worst.append((off, hole, back, gap, gap < need - 1e-9))
    if not worst:
        return
    off, hole, back, gap, closed = max(worst, key=lambda each: (each[4], each[0]))
    yield Finding(
        code="ferrules.off-string-hole",
        severity="stop" if closed else "caution",
        held_to=limit.level_id("caution"),
        features=tuple(name for each in worst for name in (each[1].id, each[2].id)),
        value=off,
        limit=limit.caution,
        message=f"{named(back)} lies {said(off)} off {named(hole)} as both are drilled: {said(max(0.0, gap))} stays open "
        "between them for the string",
        cure=f"{PLUG}; drill it on a pin that stands in the string hole"
        if closed
        else "ease the step between the two with a round file, and pass the thickest string",
        source=limit.source,
    )
