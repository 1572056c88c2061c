"""What the heights command says: the chain from the pocket's floor to the saddles, and what would close it."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from math import degrees
from typing import TYPE_CHECKING, Any

from rich.markup import escape

from scribeline.cli.report import console_for_people
from scribeline.layout import NECK_POCKET, chain, crowns_over_body, neck_lie, saddle_heights, string_over
from scribeline.lengths import in_unit, said, span

if TYPE_CHECKING:
    from scribeline.layout import PocketPlace, Unknown
    from scribeline.plan import Plan

_WAYS: tuple[tuple[Unknown, str], ...] = (
    ("neck.pocket_depth", "pocket depth at the end wall"),
    ("neck.angle", "lean of the neck"),
    ("neck.shim", "taper shim at the heel's end"),
    ("neck.board_thickness", "fingerboard's thickness"),
    ("bridge.saddle_height", "string over the body at the saddle"),
)
"""What closes the chain, in words; the fingerboard's thickness counts in the heel's."""


@dataclass(frozen=True, slots=True)
class _Row:
    """One string at its saddle, mm; `lowest` and `highest` where the job says how far its saddle reaches."""

    no: int
    note: str
    wanted: float
    least: float
    most: float


def show(plan: Plan, *, at: float | None, as_json: bool) -> None:
    """The heights of every string, and each number that would close the chain.

    Args:
        plan: the job's plan; its strings have places.
        at: height over the body, mm, that the saddles should have in the middle; the middle of their range when left out.
        as_json: for a program.
    """
    document, stringing = plan.job.document, plan.layout.stringing
    bridge = document.bridge
    low, high = bridge.saddle_lowest, bridge.saddle_highest
    middle = bridge.saddle_height.mm if low is None or high is None else (low.mm + high.mm) / 2
    links = chain(document, stringing, middle if at is None else at)
    ways = [(key, words, links.closed(key)) for key, words in _WAYS]
    if as_json:
        sys.stdout.write(json.dumps(_record(plan, links.saddle, ways), indent=1, ensure_ascii=False) + "\n")
        return
    console = console_for_people()

    def say(sentence: str) -> None:
        console.print(in_unit(sentence, plan.unit), soft_wrap=True)

    for line in _stack(plan):
        say(line)
    say("[bold]Strings over the body at their saddles[/bold]")
    for row in _rows(plan):
        reach = ""
        if low is not None and high is not None:
            reach = f"; the saddle can go {said(row.wanted - low.mm)} down, {said(high.mm - row.wanted)} up"
        say(f"  {row.no:>2} {escape(row.note):<4} {said(row.wanted)}{reach}")
        if row.most - row.least > _SAME:
            say(f"     {span(row.least, row.most)} over the actions and reliefs asked for")
    say(
        f"[bold]What closes the chain with the saddles' middle at {said(links.saddle)}[/bold] (the strings lie "
        f"{said(abs(links.off))} {'higher' if links.off > 0 else 'lower'}); one of:"
    )
    for key, words, value in ways:
        say(f"  {words:<36} {_told(key, value)}")
    say("[bold]Strings over the body's top at the pickups[/bold], underside, treble to bass")
    for pocket, along in _pickups(plan):
        free, pressed = string_over(document, stringing, along)
        say(
            f"  {escape(pocket.name)}: open {span(free[0], free[-1])}; at the last fret {span(pressed[0], pressed[-1])}"
        )


_SAME = 0.005
"""Heights that print the same, mm."""


def _stack(plan: Plan) -> Iterator[str]:
    document = plan.job.document
    neck, lie = document.neck, neck_lie(document)
    shim = f" + shim {said(neck.shim)}" if neck.shim else ""
    crowns = crowns_over_body(document)
    yield (
        f"[bold]Frets over the body[/bold] at the pocket's end wall: heel with board {said(neck.heel_thickness.mm)} + fret "
        f"{said(document.fret_wire.crown_height)} − pocket {said(neck.pocket_depth.mm)}{shim} = {said(crowns)}"
    )
    board = document.fingerboard
    if board.radius is not None:
        end = "" if board.radius_at_end is None else f" at the nut, {said(board.radius_at_end, 0)} at its end"
        yield f"  the fingerboard's radius is {said(board.radius, 0)}{end}"
    if not lie.is_level:
        yield f"  the neck leans back {degrees(lie.angle):.2f}°"


def _rows(plan: Plan) -> Iterator[_Row]:
    document, stringing = plan.job.document, plan.layout.stringing
    wanted = saddle_heights(document, stringing)
    action, relief = document.setup.action_spare, document.setup.relief_spare
    least = saddle_heights(document, stringing, higher=-action, straighter=-relief)
    most = saddle_heights(document, stringing, higher=action, straighter=relief)
    for string, *heights in zip(plan.layout.strings, wanted, least, most, strict=True):
        yield _Row(string.no, string.note, *map(float, heights))


def _pickups(plan: Plan) -> Iterator[tuple[PocketPlace, float]]:
    """Cavities in the top under all the strings, between the last fret and the saddles, with their middle along the neck."""
    layout = plan.layout
    lie, last = neck_lie(plan.job.document), layout.frets[-1].x
    outer = max(abs(string.saddle.y) for string in layout.strings)
    for pocket in layout.pockets:
        xs, ys = [p.x for p in pocket.outline], [p.y for p in pocket.outline]
        middle = float(lie.along((min(xs) + max(xs)) / 2))
        under_all = pocket.face == "top" and min(ys) < -outer and max(ys) > outer
        if under_all and pocket.name != NECK_POCKET and last < middle < layout.scale:
            yield pocket, middle


def _told(key: Unknown, value: float | None) -> str:
    if value is None:
        return "cannot close it"
    if key == "neck.angle":
        return f"{degrees(value):.2f}°"
    return said(value)


def _record(plan: Plan, saddle: float, ways: list[tuple[Unknown, str, float | None]]) -> dict[str, Any]:
    return {
        "crowns_over_body": crowns_over_body(plan.job.document),
        "strings": [
            {"no": row.no, "note": row.note, "height": row.wanted, "lowest": row.least, "highest": row.most}
            for row in _rows(plan)
        ],
        "closed_at": saddle,
        "closed_by": {
            key: degrees(value) if key == "neck.angle" and value is not None else value
            for key, _, value in ways
        },
    }
