"""What `scribeline rescue` says: for each wrong cut its ways out, the best first."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rich.markup import escape
from rich.padding import Padding

from scribeline.bounds import Exceeded, within
from scribeline.cli.report import console_for_people
from scribeline.lengths import in_unit, quoted, read_angle, read_length, said
from scribeline.plan import plan as planned
from scribeline.plan.held import PLANNING, too_long_to_plan
from scribeline.rescue import (
    ORDER,
    Found,
    Number,
    Rescue,
    RescueError,
    Way,
    called,
    rescue,
    rescues,
    with_found,
)
from scribeline.steps import DEFERS

if TYPE_CHECKING:
    from scribeline.plan import Plan


@dataclass(frozen=True, slots=True)
class Typed:
    """What was measured, as typed."""

    at: str | None = None
    off: str | None = None
    depth: str | None = None
    diameter: str | None = None
    width: str | None = None
    length: str | None = None
    angle: str | None = None
    stripped: bool = False

    def read(self, plan: Plan) -> Found:
        """The same as numbers.

        Raises:
            ValueError: something cannot be read; its sentence is for whoever typed it.
        """
        return Found(
            at=_pair(self.at, plan, "--at"),
            off=_pair(self.off, plan, "--off"),
            depth=_one(self.depth, plan),
            diameter=_one(self.diameter, plan),
            width=_one(self.width, plan),
            length=_one(self.length, plan),
            lean=None if self.angle is None else read_angle(self.angle),
            stripped=self.stripped,
        )


def _one(typed: str | None, plan: Plan) -> float | None:
    return None if typed is None else read_length(typed, unit=plan.unit).mm


def _pair(typed: str | None, plan: Plan, option: str) -> tuple[float, float] | None:
    if typed is None:
        return None
    parts = [part.strip() for part in typed.split(";" if ";" in typed else ",")]
    if len(parts) != 2 or not all(parts):
        message = f"{option} takes two numbers with a comma between, such as '640.2, -5.1'; {quoted(typed)} was typed"
        raise RescueError(message)
    one, other = (read_length(part, unit=plan.unit).mm for part in parts)
    return one, other


def asked(plan: Plan, cut: str | None, typed: Typed) -> tuple[Rescue, ...]:
    """The rescues that were asked for: of one cut as it was found, or of every made cut that is off.

    Raises:
        ValueError: what was typed cannot be used; its sentence is for whoever typed it.
        JobError: planning it takes more than it may.
    """
    found = typed.read(plan)
    if cut is None and found.says_something:
        message = "say which cut was found so, such as: scribeline rescue JOB S3 --off 0.8,-0.3"
        raise RescueError(message)
    if found.at is not None and found.off is not None:
        message = "give --at or --off, not both: each says where the cut is"
        raise RescueError(message)
    try:
        with within(PLANNING):
            if cut is None:
                return tuple(rescues(plan))
            made = called(plan, cut)
            if found.says_something:
                plan = planned(plan.stated, with_found(plan, made, found))
                made = called(plan, made.id)
            return (rescue(plan, made, stripped=found.stripped),)
    except Exceeded as cut_off:
        raise too_long_to_plan(cut_off, plan.stated) from None


def show(plan: Plan, found: Sequence[Rescue], *, as_json: bool) -> None:
    """Every rescue.

    Args:
        plan: whose job it is.
        found: the rescues.
        as_json: for another program.
    """
    if as_json:
        whole = {"job": plan.job.document.name, "rescues": [record(each, plan) for each in found]}
        sys.stdout.write(json.dumps(whole, indent=1, ensure_ascii=False) + "\n")
        return
    console = console_for_people()

    def say(words: str, indent: int = 0) -> None:
        console.print(Padding(in_unit(words, plan.unit), (0, 0, 0, indent)))

    if not found:
        made = "No made cut is off." if plan.made else "No cut is made yet: what is planned can simply move."
        say(f"{made} Say what you found, such as: scribeline rescue JOB S3 --off 0.8,-0.3")
        return
    for each in found:
        say(f"[bold]{escape(each.title[0].upper() + each.title[1:])}[/bold]: {escape(each.wrong)}")
        if each.refusal:
            say(f"[bold]{escape(each.refusal)}[/bold]", 2)
        for number, way in enumerate(each.ways, start=1):
            _way(say, number, way)
    cautions = dict.fromkeys(line for each in found for way in each.ways for line in way.cautions)
    if cautions:
        say(f"[bold]CAUTION[/bold] {escape(' '.join(cautions))}")
    say(f"Order: {ORDER}")
    say(DEFERS)


def _way(say: Any, number: int, way: Way) -> None:
    mark = "" if way.closes else " — breaks a limit"
    say(f"{number}. [bold]{escape(way.title)}[/bold]{mark}", 2)
    if not way.closes:
        say(escape(f"not so: {way.why_not}"), 5)
    for line in way.does:
        say(escape(line), 5)
    for each in way.numbers:
        say(escape(_told(each)), 5)
    for line in way.moves:
        say(escape(line), 5)
    for line in way.open:
        say(escape(f"stays open: {line}"), 5)
    parts = "; ".join(way.parts) or "none"
    say(escape(f"Shows: {way.shows}. Wait: {waits(way.wait)}. Parts: {parts}."), 5)


def waits(hours: float) -> str:
    """A wait in words."""
    return "none" if not hours else f"{hours:g} hours"


def _told(number: Number) -> str:
    """A number with what it is held against."""
    value = f"{number.mm:.2f}°" if number.unit == "degrees" else said(number.mm)
    if number.limit is None:
        return f"{number.words} {value}"
    bound = "at most" if number.at_most else "at least"
    return f"{number.words} {value} ({bound} {said(number.limit)}{'' if number.ok else ': broken'})"


def record(each: Rescue, plan: Plan) -> dict[str, Any]:
    """A rescue for another program: lengths in mm, to 0.01; sentences in the job's unit."""

    def words(sentence: str) -> str:
        return in_unit(sentence, plan.unit)

    return {
        "cuts": list(each.cuts),
        "title": words(each.title),
        "wrong": words(each.wrong),
        "off": {
            "along": _mm(each.off.along),
            "across": _mm(each.off.across),
            "away": _mm(each.off.away),
            "wider": _mm(each.off.wider),
            "deeper": _mm(each.off.deeper),
        },
        "refusal": words(each.refusal) or None,
        "ways": [
            {
                "kind": way.kind,
                "title": words(way.title),
                "closes": way.closes,
                "why_not": words(way.why_not) or None,
                "does": [words(line) for line in way.does],
                "numbers": [
                    {
                        "what": words(number.words),
                        "value": _mm(number.mm),
                        "limit": None if number.limit is None else _mm(number.limit),
                        "unit": number.unit,
                        "ok": number.ok,
                    }
                    for number in way.numbers
                ],
                "moves": [words(line) for line in way.moves],
                "stays_open": [words(line) for line in way.open],
                "shows": words(way.shows),
                "visible": _mm(way.visible),
                "wait_hours": way.wait,
                "parts": [words(part) for part in way.parts],
                "cautions": [words(line) for line in way.cautions],
            }
            for way in each.ways
        ],
    }


def _mm(mm: float) -> float:
    return round(mm, 2) + 0.0
