"""The nut that is made here: its blank, and what every slot is cut to."""

from __future__ import annotations

from collections.abc import Sequence
from math import degrees

from scribeline.drawing.sheets.figures import Cell, short, units_named
from scribeline.drawing.sheets.flow import Block, Table, listed
from scribeline.layout import NutMade, nut_made
from scribeline.lengths import in_unit, said
from scribeline.plan import Plan


def nut_blocks(plan: Plan) -> list[Block]:
    """Every slot's place along the nut, its width, depths and slope; nothing where the nut is not made here."""
    made, unit = nut_made(plan.job.document, plan.layout), plan.unit
    if made is None:
        return []
    both, _ = units_named(unit)
    rows: list[Sequence[Cell]] = [
        (
            f"{slot.string} ({plan.layout.strings[slot.string - 1].note})",
            *(short(mm, unit) for mm in (slot.along, slot.width, slot.floor, slot.from_blank, slot.from_top)),
            "" if slot.slope is None else f"{degrees(slot.slope):.1f}°",
            "" if slot.over_first is None else short(slot.over_first, unit),
        )
        for slot in reversed(made.slots)
    ]
    columns = (
        "String",
        f"Middle from the bass end, along the front, {both}",
        f"Width, {both}",
        f"Floor over the underside, {both}",
        f"Below the blank's top, {both}",
        f"Below the finished top, {both}",
        "Falls back",
        f"Open string over fret 1, {both}",
    )
    table = Table(columns, rows, (20, 36, 31, 33, 33, 33, 18, 36), ("start", *("end",) * 7))
    return [listed("The nut's slots", table, in_unit(lead_of(plan, made), unit))]


def lead_of(plan: Plan, made: NutMade) -> str:
    """What the blank is, and how the slots are read."""
    nut = plan.job.document.nut
    lead = (
        f"Blank {said(made.blank_length)} long, {said(made.blank_thickness)} thick and {said(made.height)} high, its underside "
        f"{said(made.seat)} below the board's face."
    )
    if made.turn:
        lead += (
            f" Its front is {said(made.length)} long and leans {abs(degrees(made.turn)):.1f}°; the ends are mitred to run along "
            "the neck, and every slot runs along its string."
        )
    lead += f" Each floor at the front lies {said(made.slots[0].over_board)} over the board under it: stack feelers to that."
    if nut.zero_fret:
        lead += f" The strings lie on the zero fret; the nut stands {said(nut.behind_zero_fret)} behind its middle."
    if any(nut.compensation):
        moved = ", ".join(
            f"string {no} {said(each, signed=True)}" for no, each in enumerate(nut.compensation, start=1)
        )
        lead += f" The slots' fronts stand off the nut's line towards the bridge: {moved}."
    return lead
