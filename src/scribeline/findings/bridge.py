"""Rules for the bridge's place and the strings' paths."""

from __future__ import annotations

from collections.abc import Iterator

from scribeline.features import polygon
from scribeline.findings.finding import COMMON_PRACTICE, GEOMETRY, STATED, Facts, Finding, Limit
from scribeline.layout import OWN_SET, StringPath, remedy_sets
from scribeline.lengths import no_less, no_more, put, put_number, said
from scribeline.strings import remedies

RESERVE = Limit.of("saddle_slack")
"""Saddle travel to keep in hand at each end, mm; the alarm is the job's own saddle_reserve."""

MISS = Limit.of("saddle_miss")

PREDICTED = "worked out from the strings, docs/strings.md"

MARGIN = Limit.of("string_edge")
SIDES = Limit.of("sides_differ")
STRING_CLEARANCE = Limit.of("string_clearance")
GUIDE_PLAY = Limit.of("guide_play")
SCREW_FREE = Limit.of("screw_clearance")


def saddle_window(facts: Facts) -> Iterator[Finding]:
    """Is there a place for the plate that leaves every saddle its travel in hand?"""
    window, stringing, travel = facts.layout.window, facts.layout.stringing, facts.layout.travel
    if not stringing.is_placed:
        return
    held, slack, miss = facts.layout.held, facts.limit(RESERVE), facts.limit(MISS)
    if window.is_empty:
        yield _no_place(facts)
    elif travel.reserve >= window.wanted_reserve - 1e-9 and slack.severity(travel.reserve):
        yield Finding(
            code="bridge.reserve-small",
            severity="caution",
            of="bridge.reserve",
            held_to=slack.level_id("caution"),
            features=(),
            value=travel.reserve,
            limit=slack.caution,
            message=f"{'at the target' if held is None else 'where the plate stands'} the least saddle travel in hand is "
            f"{said(travel.reserve)}{_spread_words(facts)}; {said(slack.caution, None)} is better",
            cure="set the plate dead on the target, and try the two outer strings at pitch with the plate clamped "
            "before marking the screws"
            if held is None
            else "try the two outer strings at pitch before the finish goes on",
            source=slack.source,
        )
    if (held is not None or not window.is_empty) and miss.severity(travel.worst_miss):
        chances = [
            (chance, name, n)
            for name, row in zip(travel.sets, travel.misses, strict=True)
            for n, chance in enumerate(row)
        ]
        chance, name, number = max(chances)
        string = facts.layout.strings[number]
        yield Finding(
            code="bridge.may-run-out",
            severity="caution",
            held_to=miss.level_id("caution"),
            features=(),
            value=chance,
            limit=miss.caution,
            message=f"string {string.no} ({string.note}) of {name} has a chance of {100 * chance:.0f} % to run out of "
            "saddle travel",
            cure="measure what its compensation rests on most (scribeline strings tells), or set bench.saddle_deviations to 2",
            source=PREDICTED if miss is MISS else miss.source,
        )


def _spread_words(facts: Facts) -> str:
    spread = any(facts.layout.stringing.sd) or len(facts.layout.window.sets) > 1
    deviations = facts.document.bench.saddle_deviations
    return f", {deviations:g} standard deviation of the prediction taken off" if spread and deviations else ""


def _no_place(facts: Facts) -> Finding:
    """The refusal of an empty window, with every way out worked out."""
    window, stringing, document = facts.layout.window, facts.layout.stringing, facts.document
    strings, travel = facts.layout.strings, document.bridge.travel
    need = travel + window.shortage
    first, last = (strings[number - 1] for number in window.limited_by)
    if all(stringing.stated) and not stringing.others:
        cure = _stated_cure(facts, need)
    else:
        ways = remedies(remedy_sets(document, stringing))
        cure = (
            "; or ".join(way.words for way in ways)
            or f"use a bridge with {no_less(need)} of saddle travel or more"
        )
    return Finding(
        code="bridge.window-empty",
        severity="stop",
        features=(),
        value=travel,
        limit=need,
        message=f"no place for the plate: the saddles travel {said(travel)} and need {said(need)}, short by "
        f"{said(window.shortage)}. String {first.no} ({first.note}) wants its saddle {_past(first.setback)} "
        f"the scale line and string {last.no} ({last.note}) {_past(last.setback)} it{_spread_words(facts)}",
        cure=cure,
        source=STATED if all(stringing.stated) else PREDICTED,
    )


def _stated_cure(facts: Facts, need: float) -> str:
    """Ways out when the job states every setback, so that none of them may be worked out anew."""
    window, reserve = facts.layout.window, facts.document.bench.saddle_reserve
    lower = (
        f"or keep only {no_more(window.reserve)} of travel in hand, at your own risk (bench.saddle_reserve); "
        if window.reserve >= 0.01
        else ""
    )
    spread = facts.document.bridge.travel - 2 * reserve
    closer = (
        f"or bring all compensations within {no_more(spread)} of each other (a wound string wants less compensation than a "
        "plain one of its pitch)"
        if spread > 0
        else "no other strings fix it"
    )
    return f"use a bridge with {no_less(need)} of saddle travel or more; {lower}{closer}"


def strings_from_treble(facts: Facts) -> Iterator[Finding]:
    """Are the strings listed from the treble side?"""
    first, last = facts.document.strings[0], facts.document.strings[-1]
    specs = facts.layout.stringing.sets[OWN_SET]
    if first.gauge > last.gauge and specs[0].pitch_hz < specs[-1].pitch_hz:
        yield Finding(
            code="strings.listed-from-bass",
            severity="caution",
            features=(),
            value=first.gauge,
            limit=last.gauge,
            message=f"the first string, {first.note}, is thicker and lower than the last, {last.note}: strings are listed "
            "from the treble side, so the low string would lie on the treble side",
            cure="turn the list of strings round, unless the instrument is strung so",
            source=STATED,
        )


def frets_on_board(facts: Facts) -> Iterator[Finding]:
    """Does the board reach as far as its last fret?"""
    last, end = facts.layout.frets[-1], facts.layout.board_end
    if last.x > end - 1e-9:
        yield Finding(
            code="frets.beyond-board",
            severity="stop",
            features=(),
            value=last.x,
            limit=end,
            message=f"fret {last.n} falls {said(last.x)} from the nut, beyond the board's end at {said(end)}",
            cure=f"set {put_number('scale.frets', sum(fret.x < end for fret in facts.layout.frets), places=0)} or fewer, "
            f"or {put('fingerboard.end', last.x + 0.01, bound='least')} or more",
            source=GEOMETRY,
        )


def edge_margins(facts: Facts) -> Iterator[Finding]:
    """Does every string stay on the board?"""
    string, margin = min(
        ((string, margin) for string in facts.layout.strings for margin in string.margins),
        key=lambda pair: pair[1].centre,
    )
    limit = facts.limit(MARGIN)
    severity = limit.severity(margin.centre)
    where = "the nut" if margin.fret == 0 else f"fret {margin.fret}"
    if severity is not None:
        yield Finding(
            code="strings.edge-margin",
            severity=severity,
            of=f"string-{string.no}.margin-{margin.fret}",
            held_to=limit.level_id(severity),
            features=(),
            concerns=facts.by_neck_and_plate,
            value=margin.centre,
            limit=limit.threshold(severity),
            message=f"string {string.no} ({string.note}) runs {said(margin.centre)} from the board's edge at {where}; "
            f"its side is {said(margin.side)} from the fret-end bevel"
            if margin.centre >= 0
            else f"string {string.no} ({string.note}) runs {said(-margin.centre)} beyond the board's edge at {where}",
            cure=_nearer_the_middle(facts, string, limit.caution),
            source=limit.source,
        )
    treble, bass = facts.layout.strings[0].margins[-1].centre, facts.layout.strings[-1].margins[-1].centre
    difference = abs(treble - bass)
    limit = facts.limit(SIDES)
    severity = limit.severity(difference)
    if severity is not None:
        yield Finding(
            code="strings.sides-differ",
            severity="caution",
            held_to=limit.level_id(severity),
            features=(),
            value=difference,
            limit=limit.threshold(severity),
            message=f"at the last fret the treble margin is {said(treble)} and the bass {said(bass)}, "
            f"{said(difference)} apart: that will be seen",
            cure="check nut.edge and the gauges; with equal gaps the outer strings' sides keep the same margin",
            source=limit.source,
        )


def plate_over_pockets(facts: Facts) -> Iterator[Finding]:
    """Does the plate sit on wood all over?"""
    import shapely

    plate = facts.layout.plate
    if plate is None:
        return
    shape = shapely.Polygon(plate.corners)
    for pocket in facts.features.pockets:
        over = shape.intersection(polygon(pocket.outline))
        if pocket.face == "top" and over.area > 1.0:
            low, _, high, _ = over.bounds
            yield Finding(
                code="bridge.over-pocket",
                severity="caution",
                features=(pocket.id,),
                value=high - low,
                limit=0.0,
                message=f"the plate reaches {said(high - low)} over the {pocket.in_words}: the opening shows, and the plate "
                "has no wood under it there",
                cure=f"move the {pocket.in_words} {said(high - low, 1)} towards the nut, or make it shorter",
                source=COMMON_PRACTICE,
            )


def _past(setback: float) -> str:
    return f"{said(abs(setback))} {'past' if setback >= 0 else 'before'}"


def _nearer_the_middle(facts: Facts, string: StringPath, margin: float) -> str:
    """How to keep a string on the board: the largest spacing that does it, where spacing can.

    A straight string from y₀ at the nut to r at the bridge lies at y₀ + (r − y₀) x/L; the board allows |y| up to
    its half width less the margin, which bounds r at every fret.
    """
    layout, start = facts.layout, abs(string.nut.y)
    if string.margins[0].centre < margin:
        missing = margin - string.margins[0].centre
        return f"set {put('nut.edge', facts.document.nut.edge + missing, bound='least')} or more, or widen the nut and the board"
    most = min(start + (abs(fret.treble.y) - margin - start) * layout.scale / fret.x for fret in layout.frets)
    spacing = 2 * most / (len(layout.strings) - 1)
    return f"use a bridge with a spacing of {no_more(spacing)} or less, or a wider board"


def plate_guides(facts: Facts) -> Iterator[Finding]:
    """Do the screws pass the plate, and does the plate guide the string bit?"""
    bridge, screw = facts.document.bridge, facts.document.bridge_screw
    free, play = facts.limit(SCREW_FREE), bridge.screw_hole.mm - screw.thread.mm
    if severity := free.severity(play):
        yield Finding(
            code="bridge.screw-does-not-pass",
            severity=severity,
            of="bridge_screw.thread",
            held_to="bridge.screw_hole",
            features=tuple(bore.id for bore in facts.features.family("bridge-screw")),
            value=screw.thread.mm,
            limit=bridge.screw_hole.mm,
            message=f"the screw's thread is {said(screw.thread.mm)} and the plate's hole {said(bridge.screw_hole.mm)}: "
            + ("it does not pass" if play < 0 else f"{said(play)} of play, and it grips the plate"),
            cure=f"use screws of {no_more(bridge.screw_hole.mm - free.caution)} or less over the thread, or open the plate's "
            f"holes to {no_less(screw.thread.mm + free.caution)}",
            source=GEOMETRY if play < 0 else free.source,
        )
    holes = facts.features.family("string-hole")
    if not holes:
        return
    thickest = max(facts.document.strings, key=lambda string: string.gauge)
    clearance, guide = facts.limit(STRING_CLEARANCE), facts.limit(GUIDE_PLAY)
    wanted = thickest.gauge + clearance.caution
    if holes[0].widest < wanted - 1e-9:
        yield Finding(
            code="string-holes.too-narrow",
            severity="stop",
            features=tuple(bore.id for bore in holes),
            value=holes[0].widest,
            limit=wanted,
            message=f"the string bit is {said(holes[0].widest)} and the thickest string ({thickest.note}) "
            f"{said(thickest.gauge)}: it does not pass freely",
            cure=f"use a string bit of {no_less(wanted)} or more, and a plate whose holes pass it",
            source=clearance.source,
        )
    assert bridge.string_hole is not None
    slop = bridge.string_hole.mm - holes[0].widest
    if guide.severity(slop):
        yield Finding(
            code="bridge.loose-guide",
            severity="caution",
            held_to=guide.level_id("caution"),
            features=tuple(bore.id for bore in holes),
            value=slop,
            limit=guide.caution,
            message=f"the string bit is {said(slop)} smaller than the plate's hole that should guide it",
            cure=f"use a bit nearer {said(bridge.string_hole.mm)}, or sleeve the plate's holes for drilling",
            source=guide.source,
        )
