"""Rules for wire tunnels: is there a way, is there wood enough along it, does its mouth hide, is there a bit for it?"""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil, inf
from typing import Literal

from scribeline.features import made_cuts, nearest_in_words
from scribeline.findings.finding import COMMON_PRACTICE, STATED, Facts, Finding, Limit, no_less, no_more
from scribeline.lengths import MM_PER_INCH
from scribeline.solid.tunnels import Course, Relaxed, Tunnel

COVER = Limit.of("tunnel_cover")
WINDOW = Limit.of("tunnel_window")
HIDDEN = Limit.of("under_plate")

ORDINARY = 80.0
"""An ordinary bit of the sizes used for wires is about so long from its point to the chuck, mm (from memory)."""


def tunnels(facts: Facts) -> Iterator[Finding]:
    """Is there a way for every tunnel, and what should be known of the way found?"""
    for tunnel in facts.tunnels:
        if tunnel.course is None:
            yield _none(tunnel)
            continue
        yield from _cover(facts, tunnel, tunnel.course)
        if tunnel.stated and tunnel.course.margins:
            yield from _stated(facts, tunnel, tunnel.course)
        if tunnel.place.id not in made_cuts(facts.document):
            yield from _bit(tunnel, tunnel.course, facts.document.units)


def _none(tunnel: Tunnel) -> Finding:
    place = tunnel.place
    if tunnel.stated:
        return Finding(
            code="tunnel.misses",
            severity="stop",
            features=(place.id,),
            value=None,
            limit=None,
            message=f"{tunnel.name} as stated never reaches a wall of the {place.into}",
            cure="change its entry, heading or lands, or leave all three out and it is worked out",
            source=STATED,
        )
    ways = [_give(tunnel, each) for each in tunnel.relaxed]
    return Finding(
        code="tunnel.none",
        severity="stop",
        features=(place.id,),
        value=None,
        limit=tunnel.wants.least,
        message=f"there is no way to drill {tunnel.name} into the {place.into} that keeps {tunnel.wants.least:g} mm of wood "
        "and every other limit",
        cure="any one of these is enough: " + "; ".join(ways)
        if ways
        else "no limit by itself is enough: let it start elsewhere, cross another pocket, or move what is in its way",
        source=f"{COMMON_PRACTICE}; each cure was tried",
    )


def _with_reach(course: Course, unit: Literal["mm", "in"]) -> str:
    """A bit with the reach it needs as a job states them, in its own unit."""
    bit = course.bit
    if unit == "mm":
        return f"{{ diameter = {bit.diameter:g}, reach = {course.bit_length:.0f} }}"
    size = f'"{bit.mark}"' if bit.mark else bit.inches.removesuffix(" in")
    return f"{{ diameter = {size}, reach = {ceil(course.bit_length / float(MM_PER_INCH) * 10) / 10:.1f} }}"


def _give(tunnel: Tunnel, each: Relaxed) -> str:
    less = no_more(each.to)
    words = {
        "cover": f"{less} mm of wood in place of {tunnel.wants.least:g} mm (limits.tunnel_cover)",
        "diameter": f"a bit of {less} mm",
        "hidden": f"a mouth that shows by {no_less(-each.to)} mm"
        if each.to < 0
        else f"a mouth only {less} mm inside {tunnel.place.hidden_by} (limits.under_plate)",
        "reach": f"a bit that reaches {no_less(each.to)} mm from its point to the chuck",
        "chuck": f"a chuck or an extension of {less} mm radius (bits.chuck_radius)",
        "window": f"{less} mm of wall round its mouths (limits.tunnel_window)",
    }[each.kind]
    return words if each.kind == "cover" else f"{words}, which leaves {each.course.cover:.2f} mm of wood"


def _cover(facts: Facts, tunnel: Tunnel, course: Course) -> Iterator[Finding]:
    limit = facts.limit(COVER)
    severity = limit.severity(course.cover)
    if severity is None:
        return
    yield Finding(
        code="tunnel.thin-cover",
        severity=severity,
        features=(tunnel.place.id,),
        value=course.cover,
        limit=limit.threshold(severity),
        message=f"{tunnel.name} leaves only {course.cover:.2f} mm of wood to {nearest_in_words(facts.features, course.nearest)}, "
        "the bit's drift taken off",
        cure="leave entry, heading and lands out and the way that leaves most wood is worked out"
        if tunnel.stated
        else "this is the most any way leaves: take a thinner bit, a deeper or wider pocket, or go by another pocket",
        source=limit.source,
    )


def _stated(facts: Facts, tunnel: Tunnel, course: Course) -> Iterator[Finding]:
    """A place stated in the job is drilled as stated; what it breaks is told."""
    hidden, window = course.margins["hidden"] + tunnel.wants.hidden, course.margins["window"]
    limit = facts.limit(HIDDEN)
    severity = limit.severity(hidden)
    if tunnel.place.hide is not None and severity is not None:
        yield Finding(
            code="tunnel.shows",
            severity=severity,
            features=(tunnel.place.id,),
            value=hidden,
            limit=limit.threshold(severity),
            message=f"the mouth of {tunnel.name} "
            + (
                f"comes {-hidden:.2f} mm out from under {tunnel.place.hidden_by}"
                if hidden < 0
                else f"is only {hidden:.2f} mm inside {tunnel.place.hidden_by}"
            ),
            cure="move its entry in, or leave entry, heading and lands out and the tunnel is worked out",
            source=limit.source,
        )
    if window < -1e-9 or course.margins["floor"] < -1e-9:
        yield Finding(
            code="tunnel.misses-wall",
            severity="stop" if window + tunnel.wants.window < 0 or course.margins["floor"] < 0 else "caution",
            features=(tunnel.place.id,),
            value=window + tunnel.wants.window,
            limit=tunnel.wants.window,
            message=f"{tunnel.name} does not come out wholly in a wall of the {tunnel.place.into}: its mouth runs over an end, "
            "the floor or the open face",
            cure="change lands or heading, or leave entry, heading and lands out and the tunnel is worked out",
            source=facts.limit(WINDOW).source,
        )


def _bit(tunnel: Tunnel, course: Course, unit: Literal["mm", "in"]) -> Iterator[Finding]:
    """Its bit's own length; a size that is not owned is told with the others that are missing."""
    if course.bit.reach < course.bit_length - 1e-6:
        yield Finding(
            code="tunnel.bit-short",
            severity="caution",
            features=(tunnel.place.id,),
            value=course.bit.reach,
            limit=course.bit_length,
            message=f"the {course.bit.name} reaches {course.bit.reach:.0f} mm and {tunnel.name} needs {course.bit_length:.0f} mm "
            "from its point to the chuck",
            cure=f"get one of {course.bit_length:.0f} mm or longer, or an extension",
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
            cure=f"get {course.bit.name}, {course.bit_length:.0f} mm or longer from its point to the chuck",
            source=COMMON_PRACTICE,
        )
    elif course.bit.reach == inf and course.bit_length > ORDINARY:
        yield Finding(
            code="tunnel.bit-unmeasured",
            severity="note",
            features=(tunnel.place.id,),
            value=course.bit_length,
            limit=None,
            message=f"{tunnel.name} needs a {course.bit.name} bit {course.bit_length:.0f} mm long from its point to the chuck, "
            "and how far yours reaches is not stated",
            cure=f"measure it and state its reach under bits, such as {_with_reach(course, unit)}",
            source=STATED,
        )
