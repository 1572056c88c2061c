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
    for tick in ticks:
        lines += [
            "",
            "[[done]]",
            f"card = {_value(tick.card_id)}",
            f"by = {_value(tick.by)}",
            f"at = {_value(tick.at)}",
            f"revision = {tick.revision}",
        ]
        for cut in tick.features:
            lines += ["[[done.cuts]]", *(f"{key} = {_value(value)}" for key, value in cut.items())]
    for each in readings:
        answer = f"value_mm = {_value(each.value_mm)}" if each.yes is None else f"yes = {_value(each.yes)}"
        lines += [
            "",
            "[[readings]]",
            f"card = {_value(each.gate_id)}",
            answer,
            f"by = {_value(each.by)}",
            f"with_what = {_value(each.with_what)}",
            f"at = {_value(each.at)}",
            f"revision = {each.revision}",
        ]
        if each.risk:
            lines += [f"risk = {_value(each.risk)}", *_stated(low=each.low, high=each.high)]
    for given in overrides:
        lines += ["", "[[overrides]]", *override_lines(given)]
    if not lines:
        return text
    gap = "" if text.endswith("\n") else "\n"
    heading = "" if HEADING in text else HEADING
    return text + gap + heading + "\n".join(lines) + "\n"


def override_lines(given: OverrideKept) -> list[str]:
    """An override as the lines of its table."""
    return [
        f"code = {_value(given.code)}",
        f"features = {_value(given.features)}",
        *_stated(value=given.value, limit=given.limit),
        f"says = {_value(given.says)}",
        f"reason = {_value(given.reason)}",
        f"by = {_value(given.by)}",
        f"at = {_value(given.at)}",
        f"revision = {given.revision}",
    ]


def _stated(**values: float | None) -> list[str]:
    return [f"{key} = {_value(value)}" for key, value in values.items() if value is not None]


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
