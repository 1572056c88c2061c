"""One job and what was recorded for it as one text, the very text the commands read; and back."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterable, Mapping
from datetime import datetime
from math import isfinite
from typing import Any

from scribeline.store.kept import GateReading, OverrideKept, Tick

HEADING = (
    "# What was done and read at the bench. What is done stays where it was cut, whatever else changes.\n"
    "# All in millimetres.\n"
)

TABLES = ("done", "readings", "overrides")


def with_record(
    text: str,
    ticks: Iterable[Tick],
    readings: Iterable[GateReading],
    overrides: Iterable[OverrideKept] = (),
) -> str:
    """The job's text with `[[done]]`, `[[readings]]` and `[[overrides]]` behind it, and behind those it has already."""
    lines: list[str] = []
    for name, entries in _tables(ticks, readings, overrides):
        for entry in entries:
            cuts = entry.pop("cuts", ())
            lines += ["", f"[[{name}]]", *_lines(entry)]
            for cut in cuts:
                lines += [f"[[{name}.cuts]]", *_lines(cut)]
    if not lines:
        return text
    gap = "" if text.endswith("\n") else "\n"
    heading = "" if HEADING in text else HEADING
    return text + gap + heading + "\n".join(lines) + "\n"


def record_of(
    ticks: Iterable[Tick], readings: Iterable[GateReading], overrides: Iterable[OverrideKept] = ()
) -> str:
    """The same record apart from the job, as `parse_job` takes it beside the text: JSON; "" where nothing is recorded."""
    tables = {name: entries for name, entries in _tables(ticks, readings, overrides) if entries}
    return json.dumps(tables, default=datetime.isoformat) if tables else ""


def _tables(
    ticks: Iterable[Tick], readings: Iterable[GateReading], overrides: Iterable[OverrideKept]
) -> tuple[tuple[str, list[dict[str, Any]]], ...]:
    """The record's tables by name, each entry as the job file states it."""
    return (
        ("done", [_done(each) for each in ticks]),
        ("readings", [_reading(each) for each in readings]),
        ("overrides", [_override(each) for each in overrides]),
    )


def _done(tick: Tick) -> dict[str, Any]:
    return {
        "card": tick.card_id,
        "by": tick.by,
        "at": tick.at,
        "revision": tick.revision,
        "cuts": tick.features,
    }


def _reading(each: GateReading) -> dict[str, Any]:
    answer = {"value_mm": each.value_mm} if each.yes is None else {"yes": each.yes}
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


def _lines(values: Mapping[str, Any]) -> list[str]:
    return [f"{key} = {_value(value)}" for key, value in values.items()]


def without_record(text: str) -> tuple[str, dict[str, Any]]:
    """The job's text alone, and the tables of its record as plain values (only those it has)."""
    stated = tomllib.loads(text)
    record = {key: stated[key] for key in TABLES if key in stated}
    if not record:
        return text, {}
    head, heading, _ = text.rpartition(HEADING)
    if heading and not any(key in tomllib.loads(head) for key in TABLES):
        return head, record
    import tomlkit

    document = tomlkit.parse(text)
    for key in record:
        del document[key]
    return tomlkit.dumps(document), record


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
