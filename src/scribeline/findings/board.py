"""Rules for the fingerboard: where its frets end, and what is left of one that is made here."""

from __future__ import annotations

from collections.abc import Iterator

from scribeline.findings.finding import GEOMETRY, Facts, Finding, Limit
from scribeline.layout import BOARD, board_made, tang_room
from scribeline.lengths import no_less, no_more, said

LEFT = Limit.of("slot_left")
PAST = Limit.of("board_past_fret")
TIGHT = Limit.of("tang_tight")
LOOSE = Limit.of("tang_loose")


def slots_leave_wood(facts: Facts) -> Iterator[Finding]:
    """Is enough of the fingerboard left under its slots?"""
    made = board_made(facts.document, facts.layout)
    if made is None:
        return
    limit = facts.limit(LEFT)
    severity = limit.severity(made.left)
    if severity is None:
        return
    yield Finding(
        code="board.slots-deep",
        severity=severity,
        of="board.slot-left",
        held_to=limit.level_id(severity),
        features=(),
        concerns=(BOARD,),
        value=made.left,
        limit=limit.threshold(severity),
        message=f"slots {said(made.depth)} deep, sawn in the flat blank so that the tang has room at the edges once the board is "
        + (
            f"arched, leave {said(made.left)} of it"
            if made.left > 0
            else f"arched, go {said(-made.left)} through it"
        ),
        cure=f"make the board {no_less(facts.document.neck.board_thickness.mm + limit.caution - made.left)} thick or more "
        "(neck.board_thickness, and its blank with it), saw the slots deeper at the edges only, or use wire with a shorter tang",
        source=limit.source,
    )


def frets_end_on_the_board(facts: Facts) -> Iterator[Finding]:
    """Does the board go on beyond its last fret on either side?"""
    layout, limit = facts.layout, facts.limit(PAST)
    last = layout.frets[-1]
    if last.x > layout.board_end:  # then the scale has more frets than the board holds, which is told
        return
    ends = {"treble": (last.treble, layout.board_ends[0]), "bass": (last.bass, layout.board_ends[1])}
    side, left = min(((side, end.x - fret.x) for side, (fret, end) in ends.items()), key=lambda each: each[1])
    severity = limit.severity(left)
    if severity is None:
        return
    further = no_less(facts.document.fingerboard.end + limit.caution - left)
    yield Finding(
        code="board.ends-at-fret",
        severity=severity,
        features=(),
        concerns=(BOARD,),
        value=left,
        limit=limit.threshold(severity),
        message=f"the board ends {said(left)} past fret {last.n} on the {side} side"
        if left > 0
        else f"fret {last.n} runs {said(-left)} off the board's end on the {side} side",
        cure=f"end the board at {further} from the nut or further (fingerboard.end)"
        + (
            ", or along its frets (fingerboard.end_along_frets)"
            if layout.is_fanned and not facts.document.fingerboard.end_along_frets
            else ""
        ),
        source=limit.source,
    )


def wire_is_long_enough(facts: Facts) -> Iterator[Finding]:
    """Is a stick of fret wire long enough for the longest fret?"""
    made, stick = board_made(facts.document, facts.layout), facts.document.fret_wire.stick
    if made is None or stick is None:
        return
    longest = max(made.slots, key=lambda slot: slot.wire)
    if longest.wire > stick:
        yield Finding(
            code="board.wire-short",
            severity="caution",
            features=(),
            concerns=(),
            value=longest.wire,
            limit=stick,
            message=f"fret {longest.fret} takes {said(longest.wire)} of wire in one piece; a stick is {said(stick, None)} long",
            cure=f"buy sticks of {no_less(longest.wire)} or longer (fret_wire.stick), or lessen fret_wire.overhang",
            source=GEOMETRY,
        )


def frets_hold(facts: Facts) -> Iterator[Finding]:
    """Do the frets' tangs fill their slots, and not wedge the board open?"""
    made, wire = board_made(facts.document, facts.layout), facts.document.fret_wire
    if made is None or wire.tang_width is None:
        return
    room, tight, loose = tang_room(wire.slot, wire.tang_width), facts.limit(TIGHT), facts.limit(LOOSE)
    fit = f"a slot of {said(wire.slot)} is {said(abs(room))} {'narrower' if room < 0 else 'wider'} than its tang"
    told = (
        (
            tight,
            "board.tang-wedges",
            f"{fit}: {len(made.slots)} of them wedge the board longer by {said(-len(made.slots) * room)}, and bow the neck back",
            f"saw slots of {no_less(wire.tang_width + tight.caution)} or more (fret_wire.slot), or use wire with a thinner tang",
        ),
        (
            loose,
            "board.tang-loose",
            f"{fit}: its barbs hold little, and the fret lifts",
            f"saw slots of {no_more(wire.tang_width + loose.caution)} or less (fret_wire.slot), or glue the frets in",
        ),
    )
    for limit, code, message, cure in told:
        if severity := limit.severity(room):
            yield Finding(
                code=code,
                severity=severity,
                of="board.tang-room",
                held_to=limit.level_id(severity),
                features=(),
                concerns=(BOARD,),
                value=room,
                limit=limit.threshold(severity),
                message=message,
                cure=cure,
                source=limit.source,
            )
