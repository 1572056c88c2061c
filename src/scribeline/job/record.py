"""The record of one job's work at the bench, apart from the job: read and written as its tables of the job file.

A job file may carry it, as `[[done]]`, `[[readings]]` and `[[overrides]]`; in the shop's store it lies beside the job.
Planning takes it beside the job in either case.
"""

import json
import re
import tomllib
from collections.abc import Collection, Iterable, Mapping
from datetime import UTC, datetime, timedelta
from functools import cached_property
from math import isfinite
from typing import Any

from pydantic import Field, PrivateAttr, ValidationError

from scribeline.job.done import Cut, Done, GateRead, MadeHole, Measurement, Override
from scribeline.job.faults import Fault, JobError, faults_from
from scribeline.job.found import Found, cut_reading, found
from scribeline.job.table import Table
from scribeline.tables import Accuracies, usual_accuracies

Tables = Mapping[str, Iterable[Mapping[str, Any]]]
"""A record as plain values: its tables by name, each entry as the job file states it."""


class Record(Table):
    """What was done at the bench, what was read there, and what was gone on against."""

    done: tuple[Done, ...] = Field(
        default=(), max_length=500, description="steps done; what they cut stays where it was cut"
    )
    readings: tuple[GateRead, ...] = Field(
        default=(), max_length=5000, description="what was read at the steps' gates"
    )
    overrides: tuple[Override, ...] = Field(
        default=(), max_length=500, description="DO NOT CUT that you cut all the same, each with its reason"
    )
    measured: tuple[Measurement, ...] = Field(
        default=(), max_length=5000, description="what was measured of the plan's numbers, each by itself"
    )

    _accuracies: Accuracies | None = PrivateAttr(default=None)

    def __bool__(self) -> bool:
        """Whether anything is recorded."""
        return bool(self.done or self.readings or self.overrides or self.measured)

    def followed_by(self, later: "Record") -> "Record":
        """This record and a later one behind it."""
        if not (self and later):
            return self or later
        return Record(
            done=self.done + later.done,
            readings=self.readings + later.readings,
            overrides=self.overrides + later.overrides,
            measured=self.measured + later.measured,
        )

    def counting(self, names: Collection[str]) -> tuple[tuple[int, Measurement], ...]:
        """The measurements that count of numbers that are found together, each with its number in the record.

        Once something was moved, what was measured before counts no more.
        """
        found = [(no, each) for no, each in self.standing if each.what in names]
        since = max((no for no, each in found if each.anew), default=0)
        return tuple((no, each) for no, each in found if no >= since)

    @cached_property
    def standing(self) -> tuple[tuple[int, Measurement], ...]:
        """The measurements that are not struck through, each with its number in the record, from 1."""
        return tuple((no, each) for no, each in enumerate(self.measured, start=1) if not each.struck)

    @cached_property
    def made_cuts(self) -> frozenset[str]:
        """Ids of the cuts that are made, wholly or in part."""
        return frozenset(cut.id for each in self.done for cut in each.cuts)

    @cached_property
    def made_steps(self) -> frozenset[tuple[str, int]]:
        """Which diameters of which holes are made, the widest being 1; a pocket has one."""
        return frozenset(
            (cut.id, no)
            for each in self.done
            for cut in each.cuts
            for no in ([step.no for step in cut.steps] or [1])
        )

    @cached_property
    def cuts(self) -> Mapping[str, tuple[Cut, ...]]:
        """Everything that is recorded of each made cut, by its id, the first of it first."""
        every: dict[str, list[Cut]] = {}
        for each in self.done:
            for cut in each.cuts:
                every.setdefault(cut.id, []).append(cut)
        return {name: tuple(of_it) for name, of_it in every.items()}

    @cached_property
    def found(self) -> Mapping[str, Found]:
        """Every made cut that was read at the bench, by its id: where and how deep it really is, by all readings."""
        return found(self.cuts, self.standing, self._accuracies or usual_accuracies())

    def measured_elsewhere(self, cuts: Collection[str]) -> tuple[Measurement, ...]:
        """The measurements, those of these cuts struck through, as where the cuts are made anew or lie otherwise."""
        return tuple(
            each
            if each.struck or cut_reading(each.what, cuts) is None
            else each.model_copy(update={"struck": "made anew"})
            for each in self.measured
        )

    def read_with(self, accuracies: Accuracies) -> "Record":
        """The same record, its readings known as well as this shop reads."""
        other = Record(
            done=self.done, readings=self.readings, overrides=self.overrides, measured=self.measured
        )
        other._accuracies = accuracies
        return other

    @cached_property
    def made_holes(self) -> Mapping[str, MadeHole]:
        """Every hole that is made, by its id: where it was found, else where it was planned when it was made."""
        holes = {}
        for name, cuts in self.cuts.items():
            first, read = cuts[0], self.found.get(name)
            if first.at is not None and first.axis is not None:
                x, y = first.at[:2] if read is None else read.at
                holes[name] = MadeHole(
                    (x, y, first.at[2]),
                    first.axis,
                    max(step.diameter for cut in cuts for step in cut.steps),
                    measured=read is not None,
                    sd=(0.0, 0.0) if read is None else (read.sd("along"), read.sd("across")),
                )
        return holes

    @cached_property
    def made_pockets(self) -> Mapping[str, Cut]:
        """Every pocket that is made, by its id: as it was first recorded, and as it was found where somebody read it."""
        return {
            name: self.found[name].as_found if name in self.found else cuts[0]
            for name, cuts in self.cuts.items()
            if cuts[0].outline is not None
        }

    @property
    def tables(self) -> dict[str, list[dict[str, Any]]]:
        """As a job file states it: plain values, and only those that say something; empty where nothing is recorded."""
        whole = self.model_dump(exclude_defaults=True, exclude_none=True)
        return {name: list(entries) for name, entries in whole.items()}


def dated_ahead(record: Record, now: datetime) -> tuple[Fault, ...]:
    """What a record says was measured at a time that is yet to come, a day's leave given to clocks that differ."""
    latest = now + timedelta(days=1)
    return tuple(
        Fault(f"measured[{no}].at", f"{each.at:%Y-%m-%d} is yet to come; write the day it was measured")
        for no, each in enumerate(record.measured, start=1)
        if (each.at if each.at.tzinfo else each.at.replace(tzinfo=UTC)) > latest
    )


EMPTY = Record()
"""Of a job that nobody has begun."""

TABLES = tuple(Record.model_fields)


def read_record(tables: Mapping[str, Any] | str) -> Record:
    """A record that is kept apart from its job.

    Args:
        tables: its tables as plain values, or the JSON of these; "" where nothing is recorded.

    Raises:
        JobError: everything that is wrong with it.
    """
    try:
        return Record.model_validate(json.loads(tables or "{}") if isinstance(tables, str) else tables)
    except ValidationError as error:
        raise JobError(faults_from(error, Record), "the record") from error


HEADING = (
    "# What was done and read at the bench. What is done stays where it was cut, whatever else changes.\n"
    "# All in millimetres.\n"
)


def with_tables(text: str, tables: Tables) -> str:
    """A job's text with a record's tables behind it, and behind those it has already.

    Raises:
        ValueError: a number of the record is none that can be written.
    """
    lines: list[str] = []
    for name, entries in tables.items():
        for entry in entries:
            lines += ["", f"[[{name}]]", *_lines({key: entry[key] for key in entry if key != "cuts"})]
            for cut in entry.get("cuts", ()):
                lines += [f"[[{name}.cuts]]", *_lines(cut)]
    if not lines:
        return text
    gap = "" if text.endswith("\n") else "\n"
    heading = "" if HEADING in text else HEADING
    return text + gap + heading + "\n".join(lines) + "\n"


def without_tables(text: str) -> tuple[str, dict[str, Any]]:
    """A job's text alone, and the tables of its record as plain values (only those it has)."""
    stated = tomllib.loads(text)
    found = {key: stated[key] for key in TABLES if key in stated}
    if not found:
        return text, {}
    head, heading, _ = text.rpartition(HEADING)
    if heading and not any(key in tomllib.loads(head) for key in TABLES):
        return head, found
    import tomlkit

    document = tomlkit.parse(text)
    for key in found:
        del document[key]
    return tomlkit.dumps(document), found


def _lines(values: Mapping[str, Any]) -> list[str]:
    return [f"{key} = {_value(value)}" for key, value in values.items()]


_BARE = re.compile(r"[A-Za-z0-9_-]+")


def _value(value: Any) -> str:
    """A plain value as TOML; a float with every digit it has."""
    match value:
        case bool():
            shown = str(value).lower()
        case float() if not isfinite(value):
            message = f"{value} cannot be written into a job"
            raise ValueError(message)
        case datetime():
            shown = value.isoformat()
        case str():
            shown = _quoted(value)
        case Mapping():
            inner = ", ".join(f"{_key(key)} = {_value(item)}" for key, item in value.items())
            shown = f"{{ {inner} }}"
        case list() | tuple():
            shown = f"[{', '.join(_value(item) for item in value)}]"
        case _:
            shown = repr(value)
    return shown


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else _quoted(key)


def _quoted(text: str) -> str:
    """A TOML basic string; JSON's escapes are TOML's, except that TOML also wants DEL escaped."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
