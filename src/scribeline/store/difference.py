"""What changed between two texts of a job: value by value, by key path."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from scribeline.job import JobError, set_value


@dataclass(frozen=True, slots=True)
class Change:
    """One value that differs.

    Attributes:
        key: where, as a builder would write it: `bridge.spacing`, `strings[2].gauge`; "" when only comments or
            layout of the text differ.
        was: the value before; None when it was not stated.
        now: the value after; None when it is stated no more.
    """

    key: str
    was: str | None
    now: str | None

    def __str__(self) -> str:
        if not self.key:
            return "comments or layout of the text"
        return f"{self.key}: {self.was or 'not stated'} → {self.now or 'not stated'}"


def changes_between(was: str, now: str) -> tuple[Change, ...]:
    """Every value that differs between two texts, in the order of the later one.

    Args:
        was: TOML text.
        now: TOML text.
    """
    if was == now:
        return ()
    before, after = _values(was), _values(now)
    changed = [
        Change(key, before.get(key), after.get(key))
        for key in dict.fromkeys([*after, *before])
        if before.get(key) != after.get(key)
    ]
    return tuple(changed) or (Change("", None, None),)


def merged(base: str, *, mine: str, theirs: str) -> str | None:
    """The later text with this edit's values set in it; None when that is not plainly what both meant.

    Only edits of single values are put together: an added or removed table, or a value both changed to
    different things, is for a person to look at.
    """
    ours, others = (
        changes_between(base, mine),
        {change.key: change.now for change in changes_between(base, theirs)},
    )
    text = theirs
    for change in ours:
        if not change.key or change.now is None:
            return None
        if any(_overlap(change.key, key) and now != change.now for key, now in others.items()):
            return None
        try:
            text, _ = set_value(text, change.key, _at(mine, change.key))
        except (JobError, KeyError, TypeError, ValueError):
            return None
    expected = {**_values(theirs), **{change.key: change.now for change in ours}}
    return text if _values(text) == expected else None


def _overlap(a: str, b: str) -> bool:
    """Whether two key paths name the same value, or one lies inside the other."""
    return a == b or a.startswith((f"{b}.", f"{b}[")) or b.startswith((f"{a}.", f"{a}["))


def _values(text: str) -> dict[str, str]:
    try:
        stated = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return {f"line {number}": line for number, line in enumerate(text.splitlines(), start=1)}
    return {key: _shown(value) for key, value in _walk(stated, "")}


def _walk(value: Any, path: str) -> Iterator[tuple[str, Any]]:
    """Values by path; a list is one value unless it is a list of tables."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _walk(inner, f"{path}.{key}" if path else key)
    elif isinstance(value, list) and value and all(isinstance(item, dict) for item in value):
        for number, item in enumerate(value, start=1):
            yield from _walk(item, f"{path}[{number}]")
    else:
        yield path, value


def _shown(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return f"[{', '.join(_shown(item) for item in value)}]"
    return str(value)


def _at(text: str, key: str) -> Any:
    """The value at a key path that `_walk` made."""
    for path, value in _walk(tomllib.loads(text), ""):
        if path == key:
            return value
    raise KeyError(key)
