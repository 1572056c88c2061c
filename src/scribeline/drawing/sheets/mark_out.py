"""All that is marked on the wood and what each hole is drilled with, in one place: every number from one datum.

The neck pocket's end wall leads, for it can be touched; the 12th fret stands in brackets and checks it.
"""

from __future__ import annotations

from scribeline.drawing.sheets.flow import flowed
from scribeline.drawing.sheets.holes import drill_list, drilling_order, hole_positions
from scribeline.drawing.sheets.office import AT_THE_PRESS, Office, Page
from scribeline.drawing.sheets.plans import along_the_centreline, pockets_from_the_datums


def mark_out_pages(office: Office) -> list[Page]:
    """The lines across the centreline, the cavities, where every hole lies, and what each is drilled with."""
    plan = office.plan
    bores = drilling_order(plan)
    lists = [drill_list(plan, bores), hole_positions(plan, bores)] if bores else []
    blocks = [along_the_centreline(plan), *pockets_from_the_datums(plan), *lists]
    return flowed("Mark-out and drill list", blocks, cautions=AT_THE_PRESS)
