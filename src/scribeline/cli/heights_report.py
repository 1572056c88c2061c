"""What the heights command says: the chain from the pocket's floor to the saddles, and what would close it."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from math import degrees
from typing import TYPE_CHECKING, Any

from rich.markup import escape

from scribeline.cli.report import console_for_people
from scribeline.lengths import in_unit, said, span
from scribeline.plan.heights import heights

if TYPE_CHECKING:
    from scribeline.layout import Unknown
    from scribeline.plan import Plan
    from scribeline.plan.heights import Heights


def show(plan: Plan, *, at: float | None, as_json: bool) -> None:
    """The heights of every string, and each number that would close the chain.

    Args:
        plan: the job's plan; its strings have places.
        at: height over the body, mm, that the saddles should have in the middle; the middle of their range when left out.
        as_json: for a program.
    """
    found = heights(plan, at=at)
    assert found is not None, "the command asks for no heights of strings without a place"
    if as_json:
        sys.stdout.write(json.dumps(_record(found), indent=1, ensure_ascii=False) + "\n")
        return
    console = console_for_people()

    def say(sentence: str) -> None:
        console.print(in_unit(sentence, plan.unit), soft_wrap=True)

    for line in _stack(plan, found):
        say(line)
    say("[bold]Strings over the body at their saddles[/bold]")
    for row in found.strings:
        reach = ""
        if row.down is not None and row.up is not None:
            reach = f"; the saddle can go {said(row.down)} down, {said(row.up)} up"
        say(f"  {row.no:>2} {escape(row.note):<4} {said(row.wanted)}{reach}")
        if row.most - row.least > _SAME:
            say(f"     {span(row.least, row.most)} over the actions and reliefs asked for")
    say(
        f"[bold]What closes the chain with the saddles' middle at {said(found.saddle)}[/bold] (the strings lie "
        f"{said(abs(found.off))} {'higher' if found.off > 0 else 'lower'}); one of:"
    )
    for way in found.ways:
        say(f"  {way.words:<36} {_told(way.key, way.value)}")
    say("[bold]Strings over the body's top at the pickups[/bold], underside, treble to bass")
    for each in found.pickups:
        say(
            f"  {escape(each.name)}: open {span(each.open[0], each.open[-1])}; at the last fret "
            f"{span(each.pressed[0], each.pressed[-1])}"
        )


_SAME = 0.005
"""Heights that print the same, mm."""


def _stack(plan: Plan, found: Heights) -> Iterator[str]:
    document = plan.job.document
    neck = document.neck
    shim = f" + shim {said(neck.shim)}" if neck.shim else ""
    crown = f"fret {said(document.fret_wire.crown_height)}"
    if neck.runs_through:
        yield (
            f"[bold]Frets over the body[/bold] at the board's end: board's underside over the body "
            f"{said(neck.board_over_body.mm)} + board {said(neck.board_thickness.mm)} + {crown} = {said(found.crowns)}"
        )
    else:
        yield (
            f"[bold]Frets over the body[/bold] at the pocket's end wall: heel with board {said(neck.heel_thickness.mm)} + "
            f"{crown} − pocket {said(neck.pocket_depth.mm)}{shim} = {said(found.crowns)}"
        )
    board = document.fingerboard
    if board.radius is not None:
        end = "" if board.radius_at_end is None else f" at the nut, {said(board.radius_at_end, 0)} at its end"
        yield f"  the fingerboard's radius is {said(board.radius, 0)}{end}"
    if not found.lie.is_level:
        yield f"  the neck leans back {degrees(found.lie.angle):.2f}°"


def _told(key: Unknown, value: float | None) -> str:
    if value is None:
        return "cannot close it"
    if key == "neck.angle":
        return f"{degrees(value):.2f}°"
    return said(value)


def _record(found: Heights) -> dict[str, Any]:
    return {
        "crowns_over_body": found.crowns,
        "strings": [
            {"no": row.no, "note": row.note, "height": row.wanted, "lowest": row.least, "highest": row.most}
            for row in found.strings
        ],
        "closed_at": found.saddle,
        "closed_by": {
            way.key: degrees(way.value) if way.key == "neck.angle" and way.value is not None else way.value
            for way in found.ways
        },
    }
