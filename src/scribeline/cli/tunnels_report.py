"""What `scribeline tunnels` says: the best way for each wire hole, other ways, or what would have to give."""

from __future__ import annotations

import json
import sys
from typing import TYPE_CHECKING

from rich.markup import escape
from rich.padding import Padding
from rich.table import Table

from scribeline.cli.report import console_for_people
from scribeline.features import nearest_in_words
from scribeline.layout import on_centreline
from scribeline.lengths import UNITS, in_unit, said
from scribeline.plan.record import tunnel_record
from scribeline.solid.tunnels import Course, Tunnel, angle_deg, heading_deg

if TYPE_CHECKING:
    from scribeline.plan import Plan

NOTES = (
    "Start along and across: from {neck_end} and the centreline. Wood: the least anywhere, the bit's drift "
    "taken off. Direction: from straight to the neck towards the treble. Bit: from its point to the chuck."
)


def show(plan: Plan, *, as_json: bool) -> None:
    """Every tunnel of the job.

    Args:
        plan: what was worked out.
        as_json: for another program.
    """
    if as_json:
        whole = {"job": plan.job.document.name, "tunnels": tunnel_record(plan)}
        sys.stdout.write(json.dumps(whole, indent=1, ensure_ascii=False) + "\n")
        return
    console = console_for_people()
    if not plan.tunnels:
        console.print("The job asks for no wire hole. State what to join under \\[\\[tunnels]].")
        return
    for tunnel in plan.tunnels:
        _one(plan, tunnel)
    notes = NOTES.format(neck_end=plan.layout.neck_end_in_words)
    told = (
        notes
        if plan.unit == "mm"
        else f"{notes} {UNITS[plan.unit].name.capitalize()}, with millimetres below."
    )
    console.print(Padding(told, (1, 0, 0, 0)))


def _one(plan: Plan, tunnel: Tunnel) -> None:
    console = console_for_people()
    console.print(f"[bold]{escape(tunnel.name[0].upper() + tunnel.name[1:])}[/bold]")
    if tunnel.course is None:
        told = [finding for finding in plan.findings if tunnel.place.id in finding.features]
        for finding in told:
            console.print(Padding(escape(f"{finding.message}. Fix: {finding.cure}."), (0, 0, 0, 2)))
        return
    table = Table(box=None, padding=(0, 2, 0, 0))
    for name in (
        "",
        "wood",
        "least to",
        "start along",
        "across",
        "deep",
        "to the faces",
        "direction",
        "to the wall",
        "bit",
    ):
        table.add_column(name, justify="left" if name in {"", "least to"} else "right")
    for name, course in (("best", tunnel.course), *(("or", other) for other in tunnel.others)):
        table.add_row(name, *_row(plan, course))
    console.print(Padding(table, (0, 0, 0, 2)))
    if tunnel.leaves is not None:
        where, far = tunnel.leaves
        console.print(
            Padding(
                in_unit(f"Go no deeper: at {said(far, 0)} the bit would come out of the body.", plan.unit),
                (0, 0, 0, 2),
            )
        )
        del where


def _row(plan: Plan, course: Course) -> tuple[str, ...]:
    layout, own = plan.layout, UNITS[plan.unit]

    def told(mm: float, places: int = 2, sign: str = "") -> str:
        """In another unit than millimetres, that over them."""
        metric = f"{mm:{sign}z.{places}f}"
        return metric if plan.unit == "mm" else f"{own.of(mm):{sign}z.{own.places}f}\n{metric}"

    across = course.start[1] * layout.treble

    return (
        told(course.cover),
        escape(nearest_in_words(plan.features, course.nearest)),
        told(course.start[0] - layout.pocket_end),
        told(across, sign="" if on_centreline(across) else "+"),
        told(-course.start[2]),
        f"{abs(angle_deg(course)):.1f}°",
        f"{heading_deg(course, layout.treble):z.1f}°",
        told(course.to_wall, 1),
        told(course.bit_length, 0),
    )
