"""Plain values written as TOML, as a builder lays a job file out, and quickly."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Iterator, Mapping
from math import isnan
from typing import Any

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def written(tree: Mapping[str, Any]) -> str:
    """A job's text: one table under its own head, lists of tables one by one, anything deeper in braces."""
    return "\n".join(_lines(tree, "")) + "\n"


def _lines(tree: Mapping[str, Any], head: str) -> Iterator[str]:
    inner: list[tuple[str, Any]] = []
    for key, value in tree.items():
        if isinstance(value, dict) or (
            isinstance(value, list) and value and all(isinstance(v, dict) for v in value)
        ):
            inner.append((key, value))
        else:
            yield f"{_key(key)} = {stated(value)}"
    for key, value in inner:
        name = f"{head}.{_key(key)}" if head else _key(key)
        if isinstance(value, dict):
            yield f"\n[{name}]"
            yield from _lines(value, name)
            continue
        for each in value:
            yield f"\n[[{name}]]"
            yield from _lines(each, name) if name in {"done", "body.top"} else _flat(each)


def _flat(table: Mapping[str, Any]) -> Iterator[str]:
    return (f"{_key(key)} = {stated(value)}" for key, value in table.items())


def _key(key: str) -> str:
    return key if _BARE.fullmatch(key) else _quoted(key)


def stated(value: Any) -> str:
    """One value as TOML has it."""
    match value:
        case bool():
            return str(value).lower()
        case str():
            return _quoted(value)
        case float():
            return "nan" if isnan(value) else str(value)
        case dt.date() | dt.datetime():
            return value.isoformat()
        case dict():
            return "{ " + ", ".join(f"{_key(key)} = {stated(each)}" for key, each in value.items()) + " }"
        case list() | tuple():
            return "[" + ", ".join(stated(each) for each in value) + "]"
        case None:
            return '"none"'
    return str(value)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
