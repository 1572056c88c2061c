"""Rules for the bridge's place and the strings' paths."""

from __future__ import annotations

from collections.abc import Iterator
from math import erf, sqrt

from scribeline.features import polygon
from scribeline.findings.finding import COMMON_PRACTICE, GEOMETRY, STATED, Facts, Finding, Limit
from scribeline.layout import OWN_SET, SET_OUT, StringPath, remedy_sets
from scribeline.lengths import no_less, no_more, put, put_number, said
from scribeline.strings import remedies

RESERVE = Limit.of("saddle_slack")
"""Saddle travel to keep in hand at each end, mm; the alarm is the job's own saddle_reserve."""

MISS = Limit.of("saddle_miss")

PREDICTED = "worked out from the strings, docs/strings.md"

MARGIN = Limit.of("string_edge")
SIDES = Limit.of("sides_differ")
ODDS = Limit.of("window_odds")
STRING_CLEARANCE = Limit.of("string_clearance")

SURE = 0.95
"""Odds that the cure of a narrow window aims at."""
_SURE_DEVIATIONS = 1.959964
"""Standard deviations either side of the mean that hold that share of a normal spread."""


def saddle_window(facts: Facts) -> Iterator[Finding]:
    """Is there a place for the bridge that leaves every saddle its travel in hand?"""
    window, stringing, travel = facts.layout.window, facts.layout.stringing, facts.layout.travel
    if not stringing.is_placed:
        return
    noun = facts.document.bridge.noun
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
            message=f"{'at the target' if held is None else f'where the {noun} stands'} the least saddle travel in hand is "
            f"{said(travel.reserve)}{_spread_words(facts)}; {said(slack.caution, None)} is better",
            cure=f"set the {noun} dead on the target, and try the two outer strings at pitch with the {noun} clamped "
            f"before marking the {facts.document.bridge.held_by}"
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
    if document.bridge.single:
        cure = f"use saddles with {no_less(need)} of travel or more, or string sets that want them nearer to each other"
    elif all(stringing.stated) and not stringing.others:
        cure = _stated_cure(facts, need)
    else:
        ways = remedies(remedy_sets(document, stringing))
        cure = (
            "; or ".join(way.words for way in ways)
            or f"use a bridge with {no_less(need)} of saddle travel or more"
        )
    if document.scale.is_fanned and not document.bridge.single:
        cure = f"use single saddles, each on its own base (bridge.kind): one bridge in a piece rarely follows a fan; or {cure}"
    return Finding(
        code="bridge.window-empty",
        severity="stop",
        features=(),
        value=travel,
        limit=need,
        message=f"no place for the {document.bridge.noun}: the saddles travel {said(travel)} and need {said(need)}, short by "
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
            concerns=facts.by_neck_and_bridge,
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


def string_holes_behind(facts: Facts) -> Iterator[Finding]:
    """Does every string come up behind its saddle?"""
    bridge, layout = facts.document.bridge, facts.layout
    row = bridge.string_row
    if row is None or not layout.stringing.is_placed:
        return
    places = [
        wanted - first + bridge.saddle_forward.mm
        for wanted, first in zip(layout.stringing.along, layout.travel.foremost, strict=True)
    ]
    behind = row.mm - max(places)
    back = bridge.saddle_back.mm
    if behind > 0 and row.mm > back:
        return
    string = layout.strings[places.index(max(places))]
    yield Finding(
        code="string-holes.before-saddles",
        severity="stop" if behind <= 0 else "caution",
        features=tuple(bore.id for bore in facts.features.family("string-hole")),
        value=row.mm,
        limit=max(places) if behind <= 0 else back,
        message=f"the row of string holes is {said(row.mm)} behind the {bridge.counted_from}, and "
        + (
            f"string {string.no} ({string.note}) breaks over its saddle at {said(max(places))}, {said(-behind)} behind its "
            "hole: it cannot run from the hole over the saddle to the neck"
            if behind <= 0
            else f"the saddles go back to {said(back)}: wound that far back they stand over the holes"
        ),
        cure=f"measure both again from the {bridge.counted_from}{bridge.which}; the holes lie behind the saddles",
        source=GEOMETRY,
    )


def window_can_be_hit(facts: Facts) -> Iterator[Finding]:
    """Is the range wide enough for a bridge that is set by hand?"""
    layout, document = facts.layout, facts.document
    window = layout.window
    if not layout.stringing.is_placed or window.is_empty or layout.held is not None:
        return
    noun = document.bridge.noun
    limit, half = facts.limit(ODDS), (window.high - window.low) / 2
    odds = erf(half / (SET_OUT * sqrt(2)))
    if limit.severity(odds) is None:
        return
    more = _SURE_DEVIATIONS * SET_OUT - half
    travel, reserve = document.bridge.travel + 2 * more, window.wanted_reserve - more
    lower = (
        f"; or set {put('bench.saddle_reserve', reserve, bound='most')} at your own risk"
        if reserve >= 0
        else ""
    )
    yield Finding(
        code="bridge.window-narrow",
        severity="caution",
        held_to=limit.level_id("caution"),
        features=(),
        value=odds,
        limit=limit.caution,
        message=f"the range for the {noun} is {said(2 * half)} wide, and setting out errs by {said(SET_OUT)} (standard "
        f"deviation). The chance is {100 * odds:.0f} % that it lands inside, with {said(window.wanted_reserve)} of travel "
        "in hand",
        cure=f"for a chance of {100 * SURE:.0f} %, use a bridge with {no_less(travel)} of saddle travel or more{lower}; or "
        f"set the {noun} against a clamped fence and measure twice",
        source=f"normal error of {said(SET_OUT)}, {COMMON_PRACTICE}" if limit is ODDS else limit.source,
    )


def over_pockets(facts: Facts) -> Iterator[Finding]:
    """Does a bridge that lies on the body sit on wood all over?"""
    import shapely

    bridge = facts.layout.bridge
    if bridge is None or not bridge.lies_on_the_body:
        return
    shape = shapely.union_all([shapely.Polygon(outline) for outline in bridge.outlines])
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
                message=f"the {bridge.noun} reaches {said(high - low)} over the {pocket.in_words}: the opening shows, and the "
                f"{bridge.noun} has no wood under it there",
                cure=f"move the {pocket.in_words} {said(high - low, 1)} towards the nut, or make it shorter",
                source=COMMON_PRACTICE,
            )
