"""Rules for a nut that is made here."""

from __future__ import annotations

from collections.abc import Iterator
from math import atan2, degrees

from scribeline.findings.finding import Facts, Finding, Limit, Severity
from scribeline.layout import NUT, NutMade, nut_made
from scribeline.lengths import no_less, no_more, said

WALL = Limit.of("nut_wall")
END = Limit.of("nut_end")
FLOOR = Limit.of("nut_floor")
BLANK = Limit.of("nut_blank")
FIRST = Limit.of("first_fret")
TIGHT = Limit.of("nut_tight")
LOOSE = Limit.of("nut_loose")
FLAT = Limit.of("nut_break")


def nut_can_be_made(facts: Facts) -> Iterator[Finding]:
    """Do the slots leave wood between them, beside them and under them, and is the blank large enough?"""
    made = nut_made(facts.document, facts.layout)
    if made is None:
        return
    yield from _walls(facts, made)
    yield from _ends(facts, made)
    yield from _floors(facts, made)
    yield from _blank(facts, made)


def _told(
    limit: Limit, code: str, value: float, words: tuple[str, str], *, of: str = ""
) -> Iterator[Finding]:
    """What is told of a number past a limit: what is wrong, and the cure."""
    severity: Severity | None = limit.severity(value)
    if severity is not None:
        yield Finding(
            code=code,
            severity=severity,
            of=of,
            held_to=limit.level_id(severity),
            features=(),
            concerns=(NUT,),
            value=value,
            limit=limit.threshold(severity),
            message=words[0],
            cure=words[1],
            source=limit.source,
        )


def _walls(facts: Facts, made: NutMade) -> Iterator[Finding]:
    least = min(made.walls)
    no = made.walls.index(least) + 1
    left = f"{said(least)} of the nut stands" if least > 0 else "nothing of the nut stands"
    message = f"{left} between the slots of strings {no} and {no + 1}"
    cure = "widen the nut (nut.width), lessen nut.edge, or use thinner strings"
    yield from _told(facts.limit(WALL), "nut.wall-thin", least, (message, cure), of=f"nut.wall-{no}")


def _ends(facts: Facts, made: NutMade) -> Iterator[Finding]:
    for side, left, own in zip(("treble", "bass"), made.edges, (made.slots[0], made.slots[-1]), strict=True):
        message = f"string {own.string}'s slot leaves {said(left)} of the nut at its {side} end"
        cure = f"set nut.edge to {no_less(facts.document.nut.edge + facts.limit(END).caution - left)} or more"
        yield from _told(facts.limit(END), "nut.end-thin", left, (message, cure), of=f"nut.edge-{side}")


def _floors(facts: Facts, made: NutMade) -> Iterator[Finding]:
    lowest = [slot.floor if slot.back is None else min(slot.floor, slot.back) for slot in made.slots]
    least = min(lowest)
    slot = made.slots[lowest.index(least)]
    at_back = slot.back is not None and slot.back < slot.floor
    message = f"string {slot.string}'s slot " + (
        f"leaves {said(least)} of the nut under it" if least > 0 else f"goes {said(-least)} through the nut"
    )
    message += " at its back" if at_back else ""
    cure = f"bed the nut {no_less(max(0.0, facts.limit(FLOOR).caution - least))} deeper (nut.seat)"
    of = f"string-{slot.string}.slot-{'back' if at_back else 'floor'}"
    yield from _told(facts.limit(FLOOR), "nut.floor-thin", least, (message, cure), of=of)


def _blank(facts: Facts, made: NutMade) -> Iterator[Finding]:
    nut = facts.document.nut
    if nut.blank_height is not None:
        spare = made.height - made.needs
        message = f"a nut blank {said(made.height)} high " + (
            f"stands only {said(spare)} over" if spare > 0 else f"ends {said(-spare)} below"
        )
        message += f" the finished top that the strings ask for, {said(made.needs)} over its underside"
        cure = f"use one {no_less(made.needs + facts.limit(BLANK).caution)} high or higher (nut.blank_height), or bed it higher"
        yield from _told(facts.limit(BLANK), "nut.blank-low", spare, (message, cure))
    if made.stated_length is not None:
        spare = made.stated_length - made.blank_length
        message = f"a nut blank {said(made.stated_length)} long is {said(abs(spare))} " + (
            "longer than" if spare > 0 else "shorter than"
        )
        message += f" the {said(made.blank_length)} that the nut takes along its front with its mitres"
        cure = f"use one {no_less(made.blank_length + facts.limit(BLANK).caution)} long or longer (nut.blank_length)"
        yield from _told(facts.limit(BLANK), "nut.blank-short", spare, (message, cure))


def slots_fit_their_strings(facts: Facts) -> Iterator[Finding]:
    """Are the slots wide enough for their strings to slide, and no wider than holds them?"""
    nut = facts.document.nut
    if nut.thickness is None:
        return
    for key, words, wider in (
        ("over_plain", "plain", nut.over_plain),
        ("over_wound", "wound", nut.over_wound),
    ):
        of = f"nut.{key}"
        slot = f"a slot {said(wider, 3)} wider than its {words} string"
        tight, loose = facts.limit(TIGHT), facts.limit(LOOSE)
        grips = (
            f"{slot} grips it: it comes back out of tune, and pings",
            f"set nut.{key} to {no_less(tight.caution)} or more",
        )
        yield from _told(tight, "nut.slot-tight", wider, grips, of=of)
        gives = f"{slot} lets it move sideways and buzz", f"set nut.{key} to {no_more(loose.caution)} or less"
        yield from _told(loose, "nut.slot-loose", wider, gives, of=of)


def other_sets_fit(facts: Facts) -> Iterator[Finding]:
    """Do the strings of the job's other sets go into the slots, and are they held there?"""
    made = nut_made(facts.document, facts.layout)
    if made is None:
        return
    tight, loose = facts.limit(TIGHT), facts.limit(LOOSE)
    for each in facts.document.string_sets:
        room = [slot.width - string.gauge for slot, string in zip(made.slots, each.strings, strict=True)]
        for limit, code, worst, effect in (
            (tight, "nut.set-tight", min(room), "does not go in and slide"),
            (loose, "nut.set-loose", max(room), "moves sideways and buzzes"),
        ):
            no = room.index(worst) + 1
            width, gauge = made.slots[no - 1].width, each.strings[no - 1].gauge
            message = (
                f'string {no} of "{each.name}", {said(gauge)} thick, {effect} in a slot {said(width)} wide'
            )
            yield from _told(
                limit,
                code,
                worst,
                (message, "file the slot wider for that set, or keep a nut of its own for it"),
            )


def strings_over_first_fret(facts: Facts) -> Iterator[Finding]:
    """Do the open strings clear the first fret?"""
    made = nut_made(facts.document, facts.layout)
    if made is None:
        return
    over = [slot.over_first for slot in made.slots if slot.over_first is not None]
    if not over:
        return
    least = min(over)
    no = over.index(least) + 1
    message = f"the open string {no} " + (
        f"lies {said(least)} over the first fret"
        if least > 0
        else f"lies {said(-least)} below the first fret's crown"
    )
    message += ": it buzzes on it" if least > 0 else ": it sounds the first fret's note"
    more = facts.limit(FIRST).caution - least
    cure = f"set nut.height_over_frets to {no_less(facts.document.nut.height_over_frets + more)} or more"
    if facts.document.nut.zero_fret:
        cure = "use a higher fret for the zero fret (nut.height_over_frets), or more action or relief"
    yield from _told(
        facts.limit(FIRST), "nut.string-low", least, (message, cure), of=f"string-{no}.over-first"
    )


def guide_breaks(facts: Facts) -> Iterator[Finding]:
    """Do the strings break down over a zero fret enough to lie on it firmly?"""
    nut = facts.document.nut
    if not nut.zero_fret:
        return
    angle = degrees(atan2(nut.below_zero_fret, nut.behind_zero_fret))
    message = (
        f"the strings break over the zero fret by {angle:.1f}° on their way to the guide: they rattle on it"
    )
    cure = "file the guide's slots deeper (nut.below_zero_fret), or stand it nearer (nut.behind_zero_fret)"
    yield from _told(facts.limit(FLAT), "nut.guide-flat", angle, (message, cure))
