"""Rules for a fingerboard that is made here."""

from __future__ import annotations

from collections.abc import Iterator

from scribeline.findings.finding import Facts, Finding, Limit
from scribeline.layout import BOARD, board_made
from scribeline.lengths import no_less, said

LEFT = Limit.of("slot_left")


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
