"""What the store keeps of a job's work at the bench, as the tables of its record."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from scribeline.job import Measurement, with_tables
from scribeline.store.kept import GateReading, OverrideKept, Tick


def with_record(
    text: str,
    ticks: Iterable[Tick],
    readings: Iterable[GateReading],
    overrides: Iterable[OverrideKept] = (),
    measured: Iterable[Measurement] = (),
) -> str:
    """The job's text with its record behind it, the very text the commands read."""
    return with_tables(text, _tables(ticks, readings, overrides, measured))


def record_of(
    ticks: Iterable[Tick],
    readings: Iterable[GateReading],
    overrides: Iterable[OverrideKept] = (),
    measured: Iterable[Measurement] = (),
) -> str:
    """The same record apart from the job, as `read_record` takes it: JSON; "" where nothing is recorded."""
    found = _tables(ticks, readings, overrides, measured)
    tables = {name: entries for name, entries in found.items() if entries}
    return json.dumps(tables, default=datetime.isoformat) if tables else ""


def _tables(
    ticks: Iterable[Tick],
    readings: Iterable[GateReading],
    overrides: Iterable[OverrideKept],
    measured: Iterable[Measurement],
) -> dict[str, list[dict[str, Any]]]:
    return {
        "done": [_done(each) for each in ticks],
        "readings": [_reading(each) for each in readings],
        "overrides": [_override(each) for each in overrides],
        "measured": [each.model_dump(exclude_defaults=True, exclude_none=True) for each in measured],
    }


def _done(tick: Tick) -> dict[str, Any]:
    return {
        "card": tick.card_id,
        "by": tick.by,
        "at": tick.at,
        "revision": tick.revision,
        "cuts": tick.features,
    }


def _reading(each: GateReading) -> dict[str, Any]:
    answer: dict[str, Any] = {"value_mm": each.value_mm} if each.yes is None else {"yes": each.yes}
    if each.values:
        answer["values"] = [value.plain for value in each.values]
    risk = {"risk": each.risk, "low": each.low, "high": each.high} if each.risk else {}
    return _stated(
        {
            "card": each.gate_id,
            **answer,
            "by": each.by,
            "with_what": each.with_what,
            "at": each.at,
            "revision": each.revision,
            **risk,
        }
    )


def _override(given: OverrideKept) -> dict[str, Any]:
    names = ("code", "features", "value", "limit", "says", "reason", "by", "at", "revision")
    return _stated({name: getattr(given, name) for name in names})


def _stated(values: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in values.items() if value is not None}
