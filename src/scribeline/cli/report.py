"""What the commands say, to a person or to a program."""

from __future__ import annotations

import json
import shutil
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rich.console import Console
from rich.markup import escape
from rich.padding import Padding

from scribeline.features import alike, runs, setting_of
from scribeline.findings import TAGS
from scribeline.job import SIZES_ALONE
from scribeline.layout import MARK_WORDS, on_centreline, side_words, twelfth_readings
from scribeline.lengths import (
    UNITS,
    JobUnit,
    between,
    both_units,
    by_inches,
    figure,
    in_unit,
    inch_fraction,
    inch_text,
    own_unit,
    rounding_note,
    said,
    visible,
)
from scribeline.steps import PROVE_FIRST, balloon

if TYPE_CHECKING:
    from scribeline.drawing.print_scale import PrintVerdict
    from scribeline.features import Bore
    from scribeline.findings import Finding
    from scribeline.job import JobError
    from scribeline.plan import Plan

WIDTH = 100


def console_for_people() -> Console:
    """A console as wide as the terminal, or a page's width where the output goes elsewhere."""
    console = Console(highlight=False, emoji=False)
    if not console.is_terminal:
        console = Console(highlight=False, emoji=False, width=WIDTH)
    return console


def _json(value: Any) -> None:
    sys.stdout.write(json.dumps(value, indent=1, ensure_ascii=False) + "\n")


def faults(error: JobError, *, as_json: bool) -> None:
    """Everything wrong with a job file."""
    if as_json:
        _json({"faults": [{"path": f.path, "line": f.line, "message": f.sentence} for f in error.faults]})
        return
    console = Console(stderr=True, highlight=False, emoji=False, width=None if sys.stderr.isatty() else WIDTH)
    count = len(error.faults)
    console.print(
        f"[bold]{escape(visible(error.source))} cannot be used: {count} {'fault' if count == 1 else 'faults'}[/bold]"
    )
    for fault in error.faults:
        console.print(Padding(escape(visible(str(fault))), (0, 0, 0, 2)))


def findings(plan: Plan, *, as_json: bool = False, brief: bool = False) -> None:
    """What the checks found, stops first; `brief` leaves the notes out."""
    if as_json:
        from scribeline.plan.record import finding_record

        _json({"job": plan.job.document.name, "findings": [finding_record(f) for f in plan.findings]})
        return
    console = console_for_people()
    document = plan.job.document
    counts = {kind: sum(f.severity == kind for f in plan.findings) for kind in ("stop", "caution", "note")}
    console.print(
        f"[bold]{escape(document.name)}[/bold], revision {escape(document.revision)}, {document.handed}-handed: "
        f"{counts['stop'] or 'no'} DO NOT CUT, {_count(counts['caution'], 'caution')}, "
        f"{_count(counts['note'], 'note')}"
    )
    if against := len(plan.gone_against):
        console.print(f"{against} of these cut all the same, at the builder's own risk.")
    for finding in plan.findings:
        if not (brief and finding.severity == "note"):
            finding_lines(console, finding)
    if brief and counts["note"]:
        console.print("Notes are left out here. See them with: scribeline check")
    if not plan.stops:
        console.print(f"Nothing stops the work. {PROVE_FIRST}")


def finding_lines(console: Console, finding: Finding) -> None:
    """One finding: how grave it is, what is wrong and what to do."""
    tag = TAGS[finding.severity]
    style = {"stop": "[reverse bold]", "caution": "[bold]", "note": ""}[finding.severity]
    end = "[/]" if style else ""
    console.print(f"{style}{tag}{end} [bold]{finding.code}[/bold]")
    console.print(Padding(escape(finding.message), (0, 0, 0, 8)))
    console.print(Padding(f"Fix: {escape(finding.cure)}", (0, 0, 0, 8)))
    if (given := finding.override) is not None:
        words = f'{given.by} goes on against it, {given.at:%Y-%m-%d}: "{given.reason}"'
        console.print(Padding(f"[bold]{escape(visible(words))}[/bold]", (0, 0, 0, 8)))
    concerned = runs([balloon(name) for name in finding.features])
    where = f"   Cuts: {concerned}" if concerned else ""
    console.print(Padding(f"[dim]Limit from: {escape(finding.source)}.{where}[/dim]", (0, 0, 0, 8)))


def _count(number: int, word: str) -> str:
    return f"{number or 'no'} {word}{'' if number == 1 else 's'}"


def numbers(plan: Plan) -> None:
    """The numbers for the bench: what to set, from what, and what to check."""
    from rich.table import Table

    console, layout = console_for_people(), plan.layout
    if layout.bridge is None:
        console.print(
            "[reverse bold]DO NOT CUT[/] the bridge has no place. The numbers that depend on it are left out"
        )
    table = Table(title="Measure", title_justify="left", box=None, pad_edge=False, expand=True)
    own = UNITS[plan.unit]
    first, second = (("inch" if by_inches(unit) else unit) for unit in (plan.unit, own.second))
    for column in ("what", first, second, "between"):
        table.add_column(column, justify="left", no_wrap=column != "what")
    for m in plan.measurables:
        mm, inch = both_units(m.value)
        if rounding_note(inch_fraction(m.value).error_mm, (m.high - m.low) / 2):
            inch = inch_text(m.value)
        figures = (inch, mm) if by_inches(plan.unit) else (own_unit(m.value, plan.unit), inch)
        between = f"{figure(m.low, plan.unit)} to {figure(m.high, plan.unit)}"
        table.add_row(escape(in_unit(m.how, plan.unit)), *figures, between)
    console.print(table)
    _bridge(console, plan)
    for bores in alike(plan.features, plan.layout):
        _holes(console, plan, bores)
    findings(plan, brief=True)


def worked_in_mm(console: Console, plan: Plan) -> None:
    """Said over a derivation in an inch shop: its sums stay in the unit they are worked in."""
    if plan.unit != "mm":
        mm = float(UNITS[plan.unit].mm)
        console.print(f"  [dim]Worked in millimetres; {mm:g} mm are 1 {plan.unit}.[/dim]")


def say(console: Console, plan: Plan, line: str, *, soft_wrap: bool = True) -> None:
    """One line of figures, in the job's unit; a sentence is wrapped at the console's width."""
    console.print(in_unit(line, plan.unit), soft_wrap=soft_wrap)


def _bridge(console: Console, plan: Plan) -> None:
    """The bridge's place, its window while nothing holds it, and the travel left to every saddle."""
    window, layout = plan.layout.window, plan.layout
    bridge = layout.bridge
    if bridge is None:
        return
    past = layout.past("12th-fret", layout.scale)
    console.print(
        f"[bold]{bridge.title.capitalize()}[/bold], its {plan.job.document.bridge.line} from the 12th fret"
    )
    where = (
        f"target {said(past + window.aim)}, anywhere from {said(past + window.low)} to {said(past + window.high)}"
        if layout.held is None
        else f"{said(layout.past('12th-fret', layout.bridge_line))}, where its drilled {layout.held.by} hold it"
    )
    say(console, plan, f"  {where}; from the nut {said(layout.past('nut', layout.bridge_line))}")
    for string, forward, back in zip(layout.strings, layout.travel.forward, layout.travel.back, strict=True):
        spread = f" (sd {said(string.setback_sd)})" if string.setback_sd else ""
        say(
            console,
            plan,
            f"  {string.no} {string.note:<3} saddle {said(string.setback)}{spread} past the scale line; "
            f"travel left {said(forward)} forward, {said(back)} back",
        )
    if rests_on := layout.stringing.shop.rests_on:
        say(console, plan, f"  Saddle places rest on {escape(rests_on)}", soft_wrap=False)
    readings = twelfth_readings(plan.job.document, layout)
    for number, mark in enumerate(bridge.marks):
        other = ", ".join(f"{MARK_WORDS[each.mark]} {said(each.to_bridge[number])}" for each in readings)
        whose = f"{mark.name}: " if len(bridge.marks) > 1 else ""
        say(console, plan, f"  {whose}from the 12th fret's {other}")
    console.print()


def _holes(console: Console, plan: Plan, bores: tuple[Bore, ...]) -> None:
    """One group of holes: what they share once, then their places."""
    from scribeline.features import shared_role

    first = bores[0]
    console.print(f"[bold]{escape(shared_role(bores).capitalize())}[/bold], from the {first.face}")
    for no, step in enumerate(first.steps):
        setting = setting_of(plan.layout, first, no, plan.features.pockets)
        say(
            console,
            plan,
            f"  {escape(step.bit.name)}: {said(step.depth)} at full diameter; {setting.kind} {said(setting.mm)}: "
            f"{escape(setting.where)}",
        )
    neck_end = plan.layout.datum("pocket-end").words.removesuffix(" wall")
    for bore in bores:
        across = bore.at.y * plan.layout.treble
        side = side_words(across)
        place = side if on_centreline(across) else f"{said(abs(across), width=6)} {side}"
        say(
            console,
            plan,
            f"  {balloon(bore.id):<4} from the 12th fret {said(plan.layout.past('12th-fret', bore.at.x), width=7)}, "
            f"from {neck_end} {said(plan.layout.past('pocket-end', bore.at.x), width=7)}; {place}",
        )
    console.print()


def new_number(key: str, was: object, now: str) -> None:
    """A number of the job as it was and as it is now."""
    console_for_people().print(
        f"{escape(key)} in the job: was {escape(str(was)) if was is not None else 'not stated'}, now {escape(now)}"
    )


def measurements(plan: Plan) -> None:
    """What of a plan can be measured, what is expected, and what was."""
    console = console_for_people()
    for each in plan.measurables:
        read = plan.as_read.get(each.id)
        found = (
            "" if read is None else f"; measured {said(read.value)}, {_numbers(read.numbers)} of the record"
        )
        say(
            console,
            plan,
            f"{each.id}: {said(each.value)}, {between(each.low, each.high)}{found}",
            soft_wrap=True,
        )
        say(console, plan, f"    {escape(each.how)}", soft_wrap=True)
    if plan.cut_checks:
        console.print("\nCuts that are made, and where they really are:")
    for cut, checks in groupby(plan.cut_checks, key=lambda each: each.cut):
        say(console, plan, f"{cut}: {plan.found(cut)}", soft_wrap=True)
        for stem, like in groupby(checks, key=lambda each: each.id.partition("-from-")[0]):
            planned = ", ".join(
                f"{each.id.removeprefix(stem).removeprefix('-') or 'planned'} {said(each.value)}"
                for each in like
            )
            say(console, plan, f"    {stem}: {planned}", soft_wrap=True)
    entries = plan.record.measured
    if not entries:
        return
    console.print("\nThe record:")
    for no, entry in enumerate(entries, start=1):
        with_what = f", {escape(entry.with_what)}" if entry.with_what else ""
        note = f", {escape(entry.note)}" if entry.note else ""
        struck = f"; struck through: {escape(entry.struck)}" if entry.struck else ""
        say(
            console,
            plan,
            f"{no:4}  {escape(entry.what)} {said(entry.value_mm)}  {entry.at:%Y-%m-%d %H:%M}  {escape(entry.by)}"
            f"{with_what}{note}{struck}",
            soft_wrap=True,
        )


def _numbers(numbers: Sequence[int]) -> str:
    return ("no. " if len(numbers) == 1 else "nos. ") + ", ".join(map(str, numbers))


def change(before: Plan, after: Plan) -> None:
    """What a new number moves: was and now, and the findings that come and go."""
    console = console_for_people()
    old = {m.id: m for m in before.measurables}
    for m in after.measurables:
        if m.id in old and f"{old[m.id].value:.2f}" != f"{m.value:.2f}":
            say(
                console,
                after,
                f"  {escape(m.how)}: was {said(old[m.id].value)}, now {said(m.value)}",
                soft_wrap=False,
            )
    holes = {bore.id: bore for bore in before.features.bores}
    for bore in after.features.bores:
        if bore.id in holes and (moved := _moved(holes[bore.id], bore, before, after)):
            say(console, after, f"  {balloon(bore.id)}: {moved}", soft_wrap=False)
    gone = [f for f in before.findings if f.code not in {g.code for g in after.findings}]
    come = [f for f in after.findings if f.code not in {g.code for g in before.findings}]
    for finding in gone:
        console.print(f"  no longer: {escape(finding.message)}")
    for finding in come:
        finding_lines(console, finding)


_MOVED = 0.005
"""What shows in the last decimal of the millimetres, mm."""


def _moved(was: Bore, now: Bore, before: Plan, after: Plan) -> str:
    """What changed on one bore, told as it is set out; empty when nothing did."""
    lengths = (
        (
            "from the 12th fret",
            before.layout.past("12th-fret", was.at.x),
            after.layout.past("12th-fret", now.at.x),
        ),
        (
            "from the pocket's end",
            before.layout.past("pocket-end", was.at.x),
            after.layout.past("pocket-end", now.at.x),
        ),
        ("diameter", was.deepest.diameter, now.deepest.diameter),
        ("depth", was.deepest.depth, now.deepest.depth),
    )
    words = [f"{name} was {said(a)}, now {said(b)}" for name, a, b in lengths if abs(a - b) >= _MOVED]
    a, b = was.at.y * before.layout.treble, now.at.y * after.layout.treble
    if abs(a - b) >= _MOVED:
        words.insert(
            len([each for each in words if each.startswith("from")]), f"was {_across(a)}, now {_across(b)}"
        )
    return "; ".join(words)


def _across(to_treble: float) -> str:
    """A distance from the centreline with its side, which is the same in either hand."""
    side = side_words(to_treble)
    return side if on_centreline(to_treble) else f"{said(abs(to_treble))} {side}"


def parts(book: dict[str, dict[str, dict[str, Any]]], *, as_json: bool) -> None:
    """The parts book."""
    if as_json:
        _json(book)
        return
    console = console_for_people()
    console.print(
        "Typical dimensions, from memory. Measure your own part and write its numbers with their ±."
    )
    for shelf, entries in book.items():
        console.print(f"\n[bold]{escape(shelf)}[/bold]")
        for name, entry in entries.items():
            title = name if shelf in SIZES_ALONE else f'part = "{name}"'
            console.print(f"  {escape(title)}")
            for key, value in entry.items():
                console.print(Padding(f"{key} = {escape(_as_toml(value))}", (0, 0, 0, 6)))


def _as_toml(value: Any) -> str:
    """A value of the parts book as it is written in a job file."""
    if isinstance(value, dict):
        return f"{{ {', '.join(f'{key} = {_as_toml(each)}' for key, each in value.items())} }}"
    return json.dumps(value)


def verdict(found: PrintVerdict, written: Sequence[Path], unit: JobUnit, *, as_json: bool) -> None:
    """What a print may be used for, in the words of a job of one unit."""
    sentences = [in_unit(sentence, unit) for sentence in found.sentences]
    if as_json:
        _json(
            {
                "verdict": found.verdict,
                "factors": list(found.factors),
                "sentences": sentences,
                "written": [str(path) for path in written],
            }
        )
        return
    console = console_for_people()
    for sentence in sentences:
        console.print(escape(sentence))
    for path in written:
        console.print(f"Made {path}: print it at 100 % on the same printer and measure its bars again.")


WHAT = {
    "templates.pdf": "full-size templates: print at 100 % and measure the bars",
    "sheets.pdf": "drawing sheets: plans, mark-out, bridge, story stick, parts",
    "steps.pdf": "the order of work, then step cards, one setting each",
    "body.dxf": "every cut for a drawing or machining program, millimetres, one layer a cut",
    "body.svg": "the same as a picture that scales",
    "neck.dxf": "the neck's heel from below with its pilots, or its core where it runs through, millimetres",
    "neck-blank.dxf": "the neck from the front and the side with its sections and channels, millimetres",
    "nut.dxf": "the nut from above and from the heel with its slots, millimetres",
    "board.dxf": "the fingerboard from the front with its slots and dots, millimetres",
    "head.dxf": "the head from the front with its tuner holes, millimetres",
    "plan.json": "every number, for other programs",
    **{
        f"{piece}.{kind}": f"the {piece} as a solid, {where}"
        for piece in ("neck", "fingerboard", "head")
        for kind, where in (
            ("stl", "where it lies in the body, millimetres"),
            ("3mf", "with its unit written in it"),
            ("glb", "for viewers"),
            ("step", "for CAD and CAM, millimetres"),
        )
    },
    "body.stl": "the finished body as a solid for machining and printing programs, millimetres",
    "body.3mf": "the same with its unit written in it",
    "body.glb": "the same for viewers and web pages, metres, top upwards",
    "body.step": "for CAD and CAM: true cylinders and cones, millimetres",
    "marram.toml": "the demo's job file: copy it and make it yours",
    "marram-too-thin.toml": "the same with a mistake in it: try scribeline check on it",
}


def pack(written: Sequence[Path], folder: Path) -> None:
    """What was made."""
    console = console_for_people()
    console.print(f"Made in {folder}:")
    for path in written:
        console.print(f"  {path.name:<22} {WHAT.get(path.name, '')}")


def kept(files: Sequence[Path]) -> None:
    """Files that stood where new ones were to go, and what they are called now."""
    for path in files:
        console_for_people().print(f"What stood in its place is kept: {path}", soft_wrap=True)


def _as_called() -> str:
    """How this command is called from here: its own path where the shell would not find it by its name."""
    called = Path(sys.argv[0])
    found = shutil.which("scribeline")
    if called.name != "scribeline" or (found is not None and Path(found).resolve() == called.resolve()):
        return "scribeline"
    return str(called.relative_to(Path.cwd())) if called.is_relative_to(Path.cwd()) else str(called)


def try_next(folder: Path) -> None:
    """What a newcomer might do now."""
    console, called = console_for_people(), _as_called()
    console.print(
        f"Next: {called} check {folder / 'marram-too-thin.toml'}   (a job that must not be cut, and why)\n"
        f"      {called} serve --data {folder / 'shop'} --job {folder / 'marram.toml'}\n"
        "      (the same job in the browser: plan, checks, and the steps one hole a screen)",
        soft_wrap=True,
    )


@contextmanager
def working(what: str) -> Iterator[None]:
    """Show that something takes a moment, on a terminal only."""
    if not sys.stderr.isatty():
        yield
        return
    with Console(stderr=True).status(f"{what} …"):
        yield
