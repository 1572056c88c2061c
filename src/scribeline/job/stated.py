"""The numbers a job states, by their keys: each with the line it stands on and how well it is known."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import Any, NamedTuple, get_args

from pydantic.fields import FieldInfo

from scribeline.job.faults import Key, line_of, spelled
from scribeline.job.limits import OwnLimit
from scribeline.job.part import Part, WoodScrew
from scribeline.job.reading import Job
from scribeline.job.table import Table
from scribeline.job.values import Degrees, Dimension, Hardness, Mm, StringGauge
from scribeline.quantities import Quantities, Quantity
from scribeline.tables import limit_rows
from scribeline.tables.limits import LimitUnit

_RECORDS = frozenset({"scribeline", "done", "readings", "overrides", "print"})
"""Keys of the document that state nothing about the instrument."""

_UNITS: dict[type, str] = {Mm: "mm", StringGauge: "mm", Degrees: "rad", Hardness: "N"}


def name_stated(found: Quantities, job: Job) -> None:
    """Name every number of a job by its key, such as `bridge.spacing` or `strings[2].gauge`; those left out too."""
    for stated in _numbers(job.document, (), (), ""):
        found.state(spelled(stated.key), partial(_stated, job, stated))
    _usual_limits(found)


def _usual_limits(found: Quantities) -> None:
    """Name the levels of the table of limits that the job leaves as they are."""
    units: dict[LimitUnit, str] = {
        "mm": "mm",
        "deviations": "standard deviations",
        "degrees": "°",
        "times": "times",
        "share": "",
    }
    for key, row in limit_rows().items():
        for level, value in (("stop", row.stop), ("caution", row.caution)):
            name = f"limits.{key}.{level}"
            if value is not None and name not in found:
                source = f"table of limits: {row.reason} ({row.source})"
                found.give(name, value, unit=units[row.unit], what=row.what, source=source)


class _Number(NamedTuple):
    """A key, its value, the annotations of its field, and how it came about where that is not by its own key."""

    key: Key
    value: float | Dimension
    notes: tuple[Any, ...]
    how: str


def _numbers(value: Any, key: Key, notes: tuple[Any, ...], how: str) -> Iterator[_Number]:
    if isinstance(value, Table):
        for name, field in type(value).model_fields.items():
            if key or name not in _RECORDS:
                inner = getattr(value, name)
                yield from _numbers(inner, (*key, name), tuple(_notes(field)), how or _how(value, name))
    elif isinstance(value, tuple):
        for number, inner in enumerate(value):
            yield from _numbers(inner, (*key, number), notes, how)
    elif isinstance(value, OwnLimit):
        for name in ("stop", "caution"):
            yield from _numbers(getattr(value, name), (*key, name), notes, how)
    elif isinstance(value, int | float | Dimension) and not isinstance(value, bool):
        yield _Number(key, value, notes, how)


def _notes(field: FieldInfo) -> Iterator[Any]:
    """The annotations of a field, and those within its type."""
    waiting: list[Any] = [*field.metadata, field.annotation]
    while waiting:
        each = waiting.pop(0)
        if type(each) in _UNITS:
            yield each
        waiting.extend(get_args(each))


def _how(table: Table, name: str) -> str:
    if isinstance(table, Part) and name in table.filled_from_book:
        return f'parts book, "{table.part}"'
    if isinstance(table, WoodScrew) and table.gauge is not None and name in {"thread", "root"}:
        return "" if getattr(table, name).measured else f"table of wood screws, gauge {table.gauge}"
    if name not in table.model_fields_set:
        return "not stated in the job: the usual value"
    return ""


def _stated(job: Job, stated: _Number) -> Quantity:
    key, value, notes, how = stated
    name = spelled(key)
    unit = next((_UNITS[type(note)] for note in notes), "")
    what = next((note.thing for note in notes if isinstance(note, Mm | Degrees)), "")
    line = line_of(job.text, key) if job.text and not how else None
    if name in job.as_read and isinstance(value, Dimension):
        return Quantity(name, what, value.mm, unit, source=job.as_read[name], spread={name: value.sd})
    source = how or "stated in the job" + (f", line {line}" if line else "")
    if not isinstance(value, Dimension):
        return Quantity(name, what or _words(key), float(value), unit, source=source)
    spread = {name: value.sd} if value.plus_minus else {}
    return Quantity(name, what, value.mm, unit, source=f"{source}: {value.standing}", spread=spread)


def _words(key: Key) -> str:
    """What a key that says no more is called: its last word, and which of a list."""
    words = [part for part in key if isinstance(part, str)]
    return words[-1].replace("_", " ")
