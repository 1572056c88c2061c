"""What `explain` says: a number with its formula, its inputs, and theirs, down to what was stated, measured or looked up."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from rich.console import Console
from rich.markup import escape
from rich.padding import Padding

from scribeline.cli.report import console_for_people, finding_lines, worked_in_mm
from scribeline.lengths import in_unit
from scribeline.plan.named import explained, nearest, quantities, quantity_record
from scribeline.quantities import chain, formula_words, value_words
from scribeline.steps import balloon

if TYPE_CHECKING:
    from scribeline.plan import Plan
    from scribeline.plan.named import Explained
    from scribeline.quantities import Quantity


def show(plan: Plan, asked: str, *, as_json: bool) -> str | None:
    """Say how the numbers of one id came about.

    Returns:
        What to tell a person instead, where the id stands for nothing; None where it was explained.
    """
    found = explained(plan, asked)
    if found is None:
        near = " or ".join(f'"{each}"' for each in nearest(plan, asked))
        return f"did you mean {near}?" if near else "leave the id out to see what there is"
    if as_json:
        _json(_record(found))
    else:
        _tell(plan, found)
    return None


def _json(value: Any) -> None:
    sys.stdout.write(json.dumps(value, indent=1, ensure_ascii=False) + "\n")


def _record(found: Explained) -> dict[str, Any]:
    named = {each.id: quantity_record(each) for _, each in chain(*found.numbers) if each.id}
    return {
        "id": found.id,
        "kind": found.kind,
        "title": in_unit(found.title, "mm"),
        "why": [{"text": in_unit(text, "mm"), "source": source} for text, source in found.reasons],
        "findings": [finding.code for finding in found.findings],
        "numbers": [each.id for each in found.numbers],
        "quantities": named,
    }


def everything(plan: Plan, *, as_json: bool) -> None:
    """The names that `explain` takes."""
    rows = [{"id": f.id, "name": balloon(f.id), "role": f.role} for f in plan.features]
    if as_json:
        _json({"features": rows, "quantities": list(quantities(plan))})
        return
    console = console_for_people()
    for row in rows:
        console.print(f"{row['name']:<18} {row['id']:<20} {escape(row['role'])}")
    strings, frets = len(plan.layout.strings), len(plan.layout.frets)
    console.print(
        f"Also: string-1 to string-{strings}, fret-1 to fret-{frets}, bridge; two cuts, such as F3-F4; any key of the job, such "
        "as bridge.spacing; a finding's code; and "
        + ", ".join(each.id for each in plan.measurables)
        + ". With --json: every number's id."
    )


def _tell(plan: Plan, found: Explained) -> None:
    console = console_for_people()
    title = in_unit(found.title, plan.unit)
    console.print(f"[bold]{escape(title[:1].upper() + title[1:])}[/bold] ({escape(found.id)})")
    worked_in_mm(console, plan)
    for text, source in found.reasons:
        _indented(console, in_unit(text, plan.unit), source)
    for each in found.numbers:
        _number(console, each)
    if rest := found.rest():
        console.print("  [bold]These rest on[/bold]")
    for each in rest:
        _number(console, each)
    for finding in found.findings:
        finding_lines(console, finding)
    if not (found.numbers or found.reasons or found.findings):
        console.print("  No number of the plan rests on it.")


def _indented(console: Console, text: str, source: str = "", by: int = 2) -> None:
    told = f" [dim]\\[{escape(source)}][/dim]" if source else ""
    console.print(Padding(escape(text) + told, (0, 0, 0, by)))


def _number(console: Console, each: Quantity) -> None:
    """One number: its value, its formula, and each input with its value and where that comes from."""
    about = f"{each.id} = {value_words(each)}"
    if each.what:
        about += f": {in_unit(each.what, 'mm')}"
    _indented(console, about, in_unit(each.source, "mm"))
    if each.formula not in {"", *each.inputs}:
        _indented(console, f"= {formula_words(each.formula)}", by=6)
    for name, given in each.inputs.items():
        _indented(console, f"{name} = {value_words(given)}{_whence(given)}", by=8)
    if lines := "; ".join(_doubt(each)):
        _indented(console, f"its spread comes from {lines}", by=6)


def _whence(given: Quantity) -> str:
    if not given.id:
        return ""
    return f" ({given.id})" if given.inputs else f" ({given.id}; {in_unit(given.source, 'mm')})"


def _doubt(each: Quantity, *, most: int = 3) -> Iterator[str]:
    shares = [(root, share) for root, share in each.shares() if root != each.id and share >= 0.05]
    for root, share in shares[:most]:
        yield f"{root} ({100 * share:.0f} %)"
