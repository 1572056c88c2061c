"""Rules for a bridge that is a plate: was it measured from the right edge, do its screws hold it straight, can it be hit?"""

from __future__ import annotations

from collections.abc import Iterator
from math import dist

from scribeline.findings.bridge import STRING_CLEARANCE
from scribeline.findings.finding import COMMON_PRACTICE, GEOMETRY, Facts, Finding, Limit
from scribeline.job import PlateBridge, plate_screw
from scribeline.lengths import no_less, no_more, said

PATTERN = Limit.of("screw_pattern")
GUIDE_PLAY = Limit.of("guide_play")
SCREW_FREE = Limit.of("screw_clearance")


def saddles_on_plate(facts: Facts) -> Iterator[Finding]:
    """Do the saddles travel over the plate, and was their travel read from its front edge?"""
    bridge = _plate(facts)
    if bridge is None:
        return
    forward, back, length = bridge.saddle_forward.mm, bridge.saddle_back.mm, bridge.plate_length.mm
    if back > length + 1e-9:
        yield Finding(
            code="bridge.saddles-off-plate",
            severity="stop",
            features=(),
            concerns=facts.by_the_bridge,
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


def screws_beside_the_middle(facts: Facts) -> Iterator[Finding]:
    """Do the plate's screws match on both sides, so that the strings do not turn it?"""
    bridge, limit = _plate(facts), facts.limit(PATTERN)
    if bridge is None:
        return
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


def plate_guides(facts: Facts) -> Iterator[Finding]:
    """Do the screws pass the plate, and does the plate guide the string bit?"""
    bridge = _plate(facts)
    if bridge is None:
        return
    screw = plate_screw(facts.document)
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


def _plate(facts: Facts) -> PlateBridge | None:
    """The bridge as stated, where it is a plate."""
    bridge = facts.document.bridge
    return bridge if isinstance(bridge, PlateBridge) else None
