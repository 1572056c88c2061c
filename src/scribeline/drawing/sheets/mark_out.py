"""All that is marked on the wood and what each hole is drilled with, in one place: every number from one datum.

The neck pocket's end wall leads, for it can be touched; the 12th fret stands in brackets and checks it.
"""

from __future__ import annotations

from scribeline.drawing.sheets.figures import signed
from scribeline.drawing.sheets.flow import Block, Table, flowed, listed
from scribeline.drawing.sheets.holes import drill_list, drilling_order, hole_positions
from scribeline.drawing.sheets.office import AT_THE_PRESS, Office, Page
from scribeline.drawing.sheets.plans import along_the_centreline, pockets_from_the_datums
from scribeline.plan import Plan
from scribeline.plan.was_now import was_now


def mark_out_pages(office: Office) -> list[Page]:
    """The lines across the centreline, the cavities, where every hole lies, and what each is drilled with."""
    plan = office.plan
    bores = drilling_order(plan)
    lists = [drill_list(plan, bores), hole_positions(plan, bores)] if bores else []
    blocks = [*_changed(plan), along_the_centreline(plan), *pockets_from_the_datums(plan), *lists]
    return flowed("Mark-out and drill list", blocks, cautions=AT_THE_PRESS)


def _changed(plan: Plan) -> list[Block]:
    """What the record's measurements changed, where anything: layout lines by the old number count no more."""
    changed = was_now(plan)
    if not changed:
        return []
    rows = [
        (each.what, each.number, signed(each.was, plan.unit), signed(each.now, plan.unit), each.rests_on)
        for each in changed
    ]
    table = Table(
        ("What", "Number", "Was", "Now", "Measurements of the record"),
        rows,
        (50, 66, 34, 34, 50),
        ("start", "start", "end", "end", "start"),
        below=True,
    )
    lead = "Everything below and in the drawings has the new number. A line made by an old one counts no more; what is cut stays."
    return [listed("Was and now, by what was measured", table, lead)]
