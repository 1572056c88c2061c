"""Writes docs/job-file.md, commands.md, limits.md and examples.md from the code, so that none can say what is not so.

Run it after a change of the job's keys or of a command: `.venv/bin/python docs/build_reference.py`.
A test fails while the files are stale.
"""

from __future__ import annotations

import inspect
import io
from collections.abc import Iterator
from math import degrees
from pathlib import Path
from typing import Any, get_args

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from rich.console import Console

from scribeline.cli import app
from scribeline.findings import RULES
from scribeline.job import JobTables, parts_book
from scribeline.job.limits import OwnLevels
from scribeline.job.outline.drawing_file import LARGEST_FILE
from scribeline.job.outline.dxf import MOST_RECORDS
from scribeline.job.outline.loops import MOST_PIECES
from scribeline.job.outline.ring import MOST_POINTS
from scribeline.job.outline.svg import MOST_ELEMENTS, MOST_NUMBERS
from scribeline.job.values import Degrees, Dimension, Mm, StringGauge
from scribeline.lengths import in_unit
from scribeline.plan.held import PLANNING, READING
from scribeline.scenario import examples
from scribeline.tables import limit_rows
from scribeline.web.planning import DRAWING
from scribeline.web.work import MAKING

HERE = Path(__file__).parent
COMMANDS = (
    "new",
    "cavities",
    "check",
    "plan",
    "strings",
    "heights",
    "odds",
    "measure",
    "done",
    "override",
    "rescue",
    "explain",
    "tunnels",
    "print",
    "solid",
    "serve",
    "bars",
    "record",
    "learn",
    "shop",
    "parts",
    "schema",
    "demo",
)


def job_file() -> str:
    """Every key of a job file, table by table."""
    lines = [
        "# The job file",
        "",
        "Made from the code by `docs/build_reference.py`; do not edit by hand.",
        "",
        "A job is one TOML text file. `scribeline new my-job.toml` writes one with every key explained.",
        "",
        '- A bare number takes the job\'s `units`. A length may carry its own: `"12 19/32 in"`, `"44.4 mm"`, `"15/64"`',
        "  (a fraction is always inches). See `docs/lengths.md`.",
        '- `"10.6 +/- 0.05"` was measured, to that ±. Without ± a part\'s number is typical, and the plan says so.',
        "  A ± wider than 0.5 mm, or a hundredth of a longer length, or a third of a short one (never less than 0.1 mm) is no "
        "measurement: the number counts as typical.",
        "  `measured = 0.05` in a part's table marks every number stated in that table.",
        "- `part` takes what is not stated from the parts book (`scribeline parts`).",
        "- Along is measured from the nut towards the bridge, across from the centreline towards the treble side,",
        "  for either hand.",
        "- An editor with TOML support completes and checks the keys: `scribeline schema > scribeline.schema.json`, then",
        "  `#:schema scribeline.schema.json` as the job's first line.",
        "- Every fault is told in one go, with its key, its line, what was wanted and a nearby spelling.",
        "",
    ]
    for title, model in _tables():
        lines += [
            f"## {title}",
            "",
            (inspect.getdoc(model) or "").strip(),
            "",
            "| key | what it is | when left out |",
            "|---|---|---|",
        ]
        lines += [
            _row(name, field) for name, field in model.model_fields.items() if field.exclude is not True
        ]
        lines.append("")
    lines += ["## Parts book", "", "Typical numbers, from memory: measure your own.", ""]
    for shelf, entries in parts_book().items():
        lines += [f"- {shelf}: " + ", ".join(f'`"{name}"`' for name in entries)]
    return "\n".join(lines) + "\n"


def _tables() -> Iterator[tuple[str, type[BaseModel]]]:
    yield "The job itself", JobTables
    seen: set[type[BaseModel]] = {JobTables}
    waiting = [(name, field) for name, field in JobTables.model_fields.items()]
    while waiting:
        name, field = waiting.pop(0)
        kinds = {model: kind for note in field.metadata for kind, model in getattr(note, "kinds", {}).items()}
        for model in kinds or _models(field.annotation):
            if model in seen:
                continue
            seen.add(model)
            many = str(field.annotation).startswith("tuple")
            table = f"[[{name}]]" if many and "bits" not in name else f"[{name}]"
            yield (f'{table}, kind = "{kinds[model]}"' if len(kinds) > 1 else table), model
            waiting[:0] = [(f"{name}.{key}", inner) for key, inner in model.model_fields.items()]


def _models(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from _models(inner)


def _row(name: str, field: FieldInfo) -> str:
    return f"| `{name}` | {_what(field)} | {_default(field)} |"


def _what(field: FieldInfo) -> str:
    words = []
    for note in field.metadata:
        if isinstance(note, Mm):
            words.append(f"{note.thing}, {note.low:g} to {note.high:g} mm")
        elif isinstance(note, Degrees):
            words.append(f"{note.thing}, {note.low_deg:g} to {note.high_deg:g}°")
        elif isinstance(note, StringGauge):
            words.append("the string's gauge, as players say it")
        elif isinstance(note, OwnLevels):
            words.append(f"{note.thing}; usually {in_unit(note.row.levels(), 'mm')}")
    if field.description:
        words.append(field.description)
    choices = [
        f'"{choice}"' if isinstance(choice, str) else str(choice) for choice in _choices(field.annotation)
    ]
    if choices:
        words.append("one of " + ", ".join(choices))
    if not words and list(_models(field.annotation)):
        words.append("a table, see below")
    return "; ".join(words).replace("|", "\\|") or _kind(field)


def _choices(annotation: Any) -> Iterator[object]:
    for inner in get_args(annotation):
        if isinstance(inner, str | int):
            yield inner
        else:
            yield from _choices(inner)


def _kind(field: FieldInfo) -> str:
    kind: Any = field.annotation
    names: dict[Any, str] = {str: "text", int: "a whole number", float: "a number"}
    return names.get(
        kind, "a list" if "tuple" in str(kind) else "a date" if "date" in str(kind) else "a value"
    )


def _default(field: FieldInfo) -> str:
    if field.is_required():
        return "needed"
    value = field.get_default(call_default_factory=True, validated_data={})
    if isinstance(value, Dimension):
        return f"`{value.mm:g}` mm, typical"
    if isinstance(value, float) and any(isinstance(note, Degrees) for note in field.metadata):
        return f"`{degrees(value):g}`°"
    if value is None or value == () or isinstance(value, BaseModel):
        return "none" if not isinstance(value, BaseModel) else "its own defaults"
    return f"`{value:.4g}`" if isinstance(value, float) else f"`{value}`"


def commands() -> str:
    """Every command's help, and every rule that `check` holds a job against."""
    lines = ["# Commands", "", "Made from the code by `docs/build_reference.py`; do not edit by hand.", ""]
    lines += [
        "`check`, `plan`, `print` and `solid` exit 0 when nothing stops the work, 1 when the checks say DO NOT CUT, 2 "
        "when the input",
        "cannot be used. Nothing is ever written half.",
        "",
    ]
    for name in COMMANDS:
        lines += [f"## {name}", "", "```text", _help(name), "```", ""]
    lines += ["## What `check` looks at", ""]
    lines += [f"- {(inspect.getdoc(rule) or '').strip()}" for rule in RULES]
    return "\n".join(lines) + "\n"


def limits() -> str:
    """Every limit with its reason and source, and how to set one's own."""
    lines = [
        "# Limits",
        "",
        "Made from the code by `docs/build_reference.py`; do not edit by hand.",
        "",
        "A finding says which limit it rests on and where that comes from. Most come from the bench and no book. Set your",
        "own in the job, at your own risk; every finding then says that the limit is yours, and a note lists them.",
        "",
        "```toml",
        "[limits]",
        'bore_web = "1.0 mm"                          # told from here on; stop stays, or comes along',
        'pocket_web = { stop = "0.5 mm", caution = "2 mm" }',
        "screw_hold = { stop = 2, caution = 4 }",
        "```",
        "",
        "| key | what is held against it | usual levels | worse | you may set | why | source |",
        "|---|---|---|---|---|---|---|",
    ]
    lines += [
        f"| `{row.key}` | {row.what} | {in_unit(row.levels(), 'mm')} | {row.worse} | {row.least:g} to {row.most:g} | "
        f"{row.reason} | "
        f"{row.source} |"
        for row in limit_rows().values()
    ]
    return "\n".join([*lines, *_bounds()]) + "\n"


def _bounds() -> list[str]:
    """What reading, planning and drawing may take."""
    lines = [
        "",
        "## What work may take",
        "",
        "A drawing is counted before it is unfolded; what cannot be counted is held to a time of the processor and to",
        "room in memory (where the system knows of such: memory on Linux alone). What takes more is refused in a sentence",
        "that says the bound and what to make simpler, and nothing is changed.",
        "",
        "| what | may take |",
        "|---|---|",
    ]
    held = {
        "reading a job and the files it names": READING,
        "planning it, the search for its tunnels included": PLANNING,
        "one drawing of a page of the app, of a large plan": DRAWING,
        "the pack or the solid, asked for in the app": MAKING,
    }
    lines += [f"| {what} | {each.seconds:g} s, {each.megabytes:g} MB |" for what, each in held.items()]
    counted = {
        "a drawing's file": f"{LARGEST_FILE / 1e6:g} MB",
        "things in a DXF drawing, copies of its blocks counted": f"{MOST_PIECES:,}",
        "corners that copies of blocks draw": f"{MOST_POINTS:,}",
        "entities in a DXF file, shown or not": f"{MOST_RECORDS:,}",
        "shapes in an SVG drawing, references followed": f"{MOST_PIECES:,}",
        "numbers in the path data of an SVG drawing, references followed": f"{MOST_NUMBERS:,}",
        "elements in an SVG file, shown or not": f"{MOST_ELEMENTS:,}",
        "corners of an outline": f"{MOST_POINTS:,}",
    }
    return [*lines, *(f"| {what} | {most} |" for what, most in counted.items())]


def _help(name: str) -> str:
    out = io.StringIO()
    app.help_print([name], console=Console(file=out, width=100))
    return "\n".join(line.rstrip() for line in out.getvalue().strip().splitlines())


def example_jobs() -> str:
    """The examples that a job can be begun from, each with its paragraph and picture."""
    lines = [
        "# Examples to begin from",
        "",
        "Made from the code by `docs/build_reference.py`, the pictures by `docs/build_example_pictures.py`; do not edit by hand.",
        "",
        "Each is an instrument of our own, complete down to its strap buttons, on a body of its own",
        "([outlines](outlines.md)). It plans without a caution, and a test builds its body from its printed step cards alone.",
        "",
        "```sh",
        "scribeline new mine.toml --like two-studs               # --hand left turns it over; --like alone lists them",
        "```",
        "",
        "In the app they stand on the page for a new job. In your job none of their numbers counts as measured: `check` says",
        "which it rests on until you put in your own. Adding one is adding its file to `src/scribeline/scenario/examples/`,",
        "with the paragraph as the comment on top.",
    ]
    for each in examples().values():
        lines += [
            "",
            f"## {each.name}",
            "",
            each.about,
            "",
            f"![{each.line}](pictures/example-{each.name}.svg)",
        ]
    return "\n".join(lines) + "\n"


def pages() -> dict[str, str]:
    """The generated pages by file name."""
    return {
        "job-file.md": job_file(),
        "commands.md": commands(),
        "limits.md": limits(),
        "examples.md": example_jobs(),
    }


if __name__ == "__main__":
    for file_name, text in pages().items():
        (HERE / file_name).write_text(text, encoding="utf-8")
