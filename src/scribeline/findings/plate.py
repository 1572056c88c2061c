"""Rules for the bridge plate as a part: was it measured from the right edge, do its screws hold it straight, can it be hit?"""

from __future__ import annotations

from collections.abc import Iterator
from math import dist, erf, sqrt

from scribeline.findings.finding import COMMON_PRACTICE, GEOMETRY, Facts, Finding, Limit
from scribeline.layout import SET_OUT
from scribeline.lengths import no_less, put, said

ODDS = Limit.of("window_odds")
PATTERN = Limit.of("screw_pattern")

SURE = 0.95
"""Odds that the cure of a narrow window aims at."""
_SURE_DEVIATIONS = 1.959964
"""Standard deviations either side of the mean that hold that share of a normal spread."""


def saddles_on_plate(facts: Facts) -> Iterator[Finding]:
    """Do the saddles travel over the plate, and was their travel read from its front edge?"""
    bridge = facts.document.bridge
    forward, back, length = bridge.saddle_forward.mm, bridge.saddle_back.mm, bridge.plate_length.mm
    if back > length + 1e-9:
        yield Finding(
            code="bridge.saddles-off-plate",
            severity="stop",
            features=(),
            concerns=facts.by_the_plate,
            value=back,
            limit=length,
            message=f"fully back, the saddles would stand {said(back)} behind the plate's front edge, and the plate is only "
            f"{said(length)} long",
            cure="measure both ends of travel again, from the plate's front edge (the one towards the neck) to where the "
            "string leaves the saddle",
            source=GEOMETRY,
        )
    elif (forward + back) / 2 > length / 2 + 1e-9:
        yield Finding(
            code="bridge.saddles-far-back",
            severity="caution",
            features=(),
            value=(forward + back) / 2,
            limit=length / 2,
            message=f"the middle of the saddles' travel is {said((forward + back) / 2)} behind the plate's front edge, past the "
            f"middle of a plate {said(length)} long: it may have been read from the tail edge. The plate then comes out "
            f"{said(forward + back - length)} too far forward",
            cure=f"measure from the edge towards the neck: what reads {forward:.2f} and {said(back)} from the tail edge is "
            f"saddle_back {said(length - forward)} and saddle_forward {said(length - back)}",
            source=COMMON_PRACTICE,
        )


def string_holes_behind(facts: Facts) -> Iterator[Finding]:
    """Does every string come up behind its saddle?"""
    bridge, layout = facts.document.bridge, facts.layout
    row = bridge.string_holes_from_front
    if row is None or not bridge.through_body or not layout.stringing.is_placed:
        return
    places = [string.setback - layout.travel.front for string in layout.strings]
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
        message=f"the row of string holes is {said(row.mm)} behind the plate's front edge, and "
        + (
            f"string {string.no} ({string.note}) breaks over its saddle at {said(max(places))}, {said(-behind)} behind its "
            "hole: it cannot run from the hole over the saddle to the neck"
            if behind <= 0
            else f"the saddles go back to {said(back)}: wound that far back they stand over the holes"
        ),
        cure="measure both again from the plate's front edge (the one towards the neck); the holes lie behind the saddles",
        source=GEOMETRY,
    )


def window_can_be_hit(facts: Facts) -> Iterator[Finding]:
    """Is the range wide enough for a plate that is set by hand?"""
    layout, document = facts.layout, facts.document
    window = layout.window
    if not layout.stringing.is_placed or window.is_empty or layout.held is not None:
        return
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
        message=f"the range for the plate is {said(2 * half)} wide, and setting out errs by {said(SET_OUT)} (standard "
        f"deviation). The chance is {100 * odds:.0f} % that it lands inside, with {said(window.wanted_reserve)} of travel "
        "in hand",
        cure=f"for a chance of {100 * SURE:.0f} %, use a bridge with {no_less(travel)} of saddle travel or more{lower}; or "
        "set the plate against a clamped fence and measure twice",
        source=f"normal error of {said(SET_OUT)}, {COMMON_PRACTICE}" if limit is ODDS else limit.source,
    )


def screws_beside_the_middle(facts: Facts) -> Iterator[Finding]:
    """Do the plate's screws match on both sides, so that the strings do not turn it?"""
    bridge, limit = facts.document.bridge, facts.limit(PATTERN)
    screws = bridge.screws
    off = sum(y for _, y in screws) / len(screws)
    gaps = [min(dist((x, -y), other) for other in screws) for x, y in screws]
    worst = max(gaps)
    ids = tuple(bore.id for bore in facts.features.family("bridge-screw"))
    if limit.severity(abs(off)):
        side = "treble" if off > 0 else "bass"
        yield Finding(
            code="bridge.screws-off-middle",
            severity="caution",
            held_to=limit.level_id("caution"),
            features=ids,
            value=abs(off),
            limit=limit.caution,
            message=f"the middle of the plate's screws lies {said(abs(off))} to the {side} of the plate's middle: the strings' "
            "pull turns the plate round it",
            cure="measure each screw again across from the plate's middle, treble side first counted as more than 0; "
            "else add a screw on the other side",
            source=limit.source,
        )
    elif limit.severity(worst):
        x, y = screws[gaps.index(worst)]
        yield Finding(
            code="bridge.screws-not-alike",
            severity="caution",
            held_to=limit.level_id("caution"),
            features=ids,
            value=worst,
            limit=limit.caution,
            message=f"the plate's screw {said(x)} behind the front edge and {said(abs(y))} from the middle has no partner on "
            f"the other side: the nearest is {said(worst)} from there",
            cure="measure the pattern again: from the front edge, and across from the plate's middle",
            source=limit.source,
        )
