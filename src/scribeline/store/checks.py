"""What the store takes: texts of sensible size that can be kept and written out again."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from math import isfinite
from typing import Any

from pydantic import ValidationError

from scribeline.job import (
    LEAST_REASON,
    LONGEST_REASON,
    Cut,
    Fault,
    JobError,
    Override,
    toml_fault,
    toml_values,
)
from scribeline.job.record import TABLES
from scribeline.lengths import job_unit
from scribeline.store.faults import StoreError

LARGEST_TEXT = 300_000
"""Characters of a job file: thirty times what a full one has."""

LARGEST_RECORD = 3_000_000
"""Characters of a job file with everything that was done and read for it."""

DEEPEST = 20
"""Tables within tables; a job file has five."""

LARGEST_FILE = 20_000_000
"""Bytes of an attached file: as much as the outline reader takes."""

LARGEST_READING_MM = 3000.0

_NOT_IN_LINE = re.compile(r"[\x00-\x1f\x7f\ud800-\udfff]")
_FILE_NAME = re.compile(r"[^\x00-\x1f\x7f/\\:*?\"<>|\ud800-\udfff]{1,100}")


def line(value: str, what: str, *, most: int = 120, may_be_empty: bool = False) -> str:
    """One line of text, such as a name.

    Raises:
        StoreError: it is empty, too long, or more than one line.
    """
    kept = value.strip()
    if not kept and not may_be_empty:
        message = f"{what} is empty; say it in a word or two"
        raise StoreError(message)
    if len(kept) > most:
        message = f"{what} has {len(kept)} characters; {most} is the most"
        raise StoreError(message)
    if _NOT_IN_LINE.search(kept):
        message = f"{what} holds characters that cannot be printed; type it on one line"
        raise StoreError(message)
    return kept


_TURNS = re.compile("[\u061c\u200b\u200e\u200f\u202a-\u202e\u2060-\u2069\ufeff]")
"""Marks that nobody sees and that turn writing about, or make two names look alike."""

LONGEST_NAME = 60
"""Characters of a job's name, as the job file may have it."""


def job_name(value: str) -> str:
    """A job's name as it is typed, on one line, without marks that cannot be seen.

    Raises:
        StoreError: nothing of it is left, or it is too long.
    """
    return line(_TURNS.sub("", " ".join(value.split())), "the name", most=LONGEST_NAME)


def key(value: str) -> str:
    """The key of a form; "" for none.

    Raises:
        StoreError: it is none.
    """
    return line(value, "the key", most=64, may_be_empty=True)


def file_name(value: str) -> str:
    """A plain file name, no path.

    Raises:
        StoreError: it is none.
    """
    if not _FILE_NAME.fullmatch(value) or value.strip(". ") == "" or value != value.strip():
        shown = value.encode("ascii", "replace").decode()[:60]
        message = f'"{shown}" is no plain file name; name the file itself, without folders'
        raise StoreError(message)
    return value


def job_text(text: str) -> Mapping[str, Any]:
    """The values of a job's text, faults and all.

    Raises:
        JobError: it is not valid TOML, or not text that can be kept.
        StoreError: it carries its own record.
    """
    stated = toml(text)
    carried = [key for key in TABLES if key in stated]
    if carried:
        named = " and ".join(f"[[{key}]]" for key in carried)
        message = f"the text carries {named}, which the shop keeps beside the job: import the file instead of saving it"
        raise StoreError(message)
    return stated


def toml(text: str, *, most: int = LARGEST_TEXT) -> Mapping[str, Any]:
    """A text's values.

    Raises:
        JobError: it is not valid TOML, or not text that can be kept.
    """
    if len(text) > most:
        sentence = f"the text has {len(text):,} characters; it may have {most:,} at most"
        raise JobError([Fault("", sentence)])
    try:
        text.encode()
        stated = toml_values(text)
        if _deeper_than(stated, DEEPEST):
            raise RecursionError
        return stated
    except UnicodeEncodeError as fault:
        raise JobError([Fault("", "it holds half of a character; type it again")]) from fault
    except (ValueError, RecursionError) as fault:  # what tomllib raises for a bad text
        raise JobError([toml_fault(text)]) from fault


def _deeper_than(stated: Any, most: int) -> bool:
    """Whether values lie inside each other more than so many times; looked at level by level."""
    level = [stated]
    for _ in range(most):
        level = [
            inner
            for each in level
            for inner in (each.values() if isinstance(each, dict) else each)
            if isinstance(inner, dict | list)
        ]
        if not level:
            return False
    return True


def summary(stated: Mapping[str, Any]) -> dict[str, str]:
    """Name, unit and hand for the list of jobs, whatever state the text is in."""
    name, units, handed = (stated.get(key) for key in ("name", "units", "handed"))
    seen = _TURNS.sub("", _NOT_IN_LINE.sub(" ", name)) if isinstance(name, str) else ""
    shown = " ".join(seen.split())[:60]
    return {
        "name": shown or "Without a name",
        "units": job_unit(units),
        "handed": "left" if handed == "left" else "right",
    }


def cuts(features: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """The cuts of a step as plain values that a job file can carry.

    Raises:
        StoreError: one of them is none.
    """
    try:
        return [Cut.model_validate(each).plain for each in features]
    except ValidationError as fault:
        first = fault.errors(include_url=False)[0]
        message = f"a cut cannot be kept: {'.'.join(map(str, first['loc']))}: {first['msg']}"
        raise StoreError(message) from fault


def override(stated: Mapping[str, Any]) -> dict[str, Any]:
    """An override as plain values that a job file can carry, without who gave it and when.

    Raises:
        StoreError: it is none, such as one without a reason.
    """
    reason = line(str(stated["reason"]), "the reason", most=LONGEST_REASON)
    if len(reason) < LEAST_REASON:
        message = f"the reason is too short; say in {LEAST_REASON} characters or more why the work goes on"
        raise StoreError(message)
    try:
        kept = Override.model_validate({**stated, "reason": reason})
    except ValidationError as fault:
        first = fault.errors(include_url=False)[0]
        message = f"the override cannot be kept: {'.'.join(map(str, first['loc']))}: {first['msg']}"
        raise StoreError(message) from fault
    return kept.model_dump(mode="json", exclude={"by", "at", "revision"})


def number(value: float, what: str, *, low: float, high: float) -> float:
    """A number inside its bounds.

    Raises:
        StoreError: it is not, or is not finite.
    """
    kept = float(value)
    if not isfinite(kept) or not low <= kept <= high:
        message = f"{what} is {kept:g}; it should lie between {low:g} and {high:g}"
        raise StoreError(message)
    return kept + 0.0  # no negative zero
