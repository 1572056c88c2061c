"""Faults of a job file, told so that a person can mend them: where, what was wanted, what came."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import lru_cache
from typing import TYPE_CHECKING, Any, get_args

from scribeline.lengths import JobUnit, in_unit, quoted, shown, visible

if TYPE_CHECKING:
    from pydantic import BaseModel, ValidationError

Key = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong in a job file.

    Attributes:
        path: the key, as it would be written: `bridge.spacing`, `strings[2].gauge`.
        sentence: what is wrong and what to do.
        line: line of the file, counted from 1, when it could be found.
    """

    path: str
    sentence: str
    line: int | None = None

    def __str__(self) -> str:
        line = f"line {self.line}" if self.line else ""
        where = f"{self.path} ({line})" if self.path and line else self.path or line
        return f"{where}: {self.sentence}" if where else self.sentence


class JobError(ValueError):
    """A job that cannot be used, with everything that is wrong with it.

    Args:
        faults: what is wrong.
        source: what the job is called in messages.
        unit: the job's, in which the lengths are told.
    """

    def __init__(self, faults: Iterable[Fault], source: str = "", *, unit: JobUnit = "mm") -> None:
        self.faults = tuple(
            replace(fault, sentence=visible(in_unit(fault.sentence, unit))) for fault in faults
        )
        self.source = source
        super().__init__("\n".join(str(fault) for fault in self.faults))

    def __reduce__(self) -> tuple[type[JobError], tuple[tuple[Fault, ...], str]]:
        """Told in millimetres or in inches already, so that another process tells it the same."""
        return JobError, (self.faults, self.source)


def spelled(key: Key) -> str:
    """A key path as a builder would write it; list items are counted from 1."""
    path = ""
    for part in key:
        path += f"[{part + 1}]" if isinstance(part, int) else f"{'.' if path else ''}{shown(part)}"
    return path


def faults_from(error: ValidationError, model: type[BaseModel], text: str = "") -> tuple[Fault, ...]:
    """Every fault of one validation, in the order of the file's tables."""
    faults = []
    for item in error.errors(include_url=False):
        key = tuple(item["loc"])
        if _follows_from_others(item):
            continue
        own = _as_written(model, key)
        faults.append(Fault(spelled(own), _sentence(item, key, model), line_of(text, own)))
    return tuple(dict.fromkeys(faults))


_WANTED = {
    "model_type": "a table of its own",
    "dict_type": "a table of its own",
    "model_attributes_type": "a table of its own",
    "union_tag_invalid": "kind as {expected_tags}",
    "tuple_type": "a list in [ ]",
    "list_type": "a list in [ ]",
    "string_type": "text in quotes",
    "int_type": "a whole number",
    "int_parsing": "a whole number",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "float_parsing": "a number",
    "finite_number": "a finite number",
    "date_type": "a date such as 2026-01-31",
    "date_parsing": "a date such as 2026-01-31",
    "date_from_datetime_parsing": "a date such as 2026-01-31",
    "date_from_datetime_inexact": "a date without a time, such as 2026-01-31",
    "too_short": "a list of {min_length} or more",
    "too_long": "a list of {max_length} or fewer",
    "string_too_short": "{min_length} or more characters",
    "string_too_long": "{max_length} characters or fewer",
    "greater_than": "more than {gt:g}",
    "greater_than_equal": "{ge:g} or more",
    "less_than": "less than {lt:g}",
    "less_than_equal": "{le:g} or less",
}
"""What each of pydantic's kinds of error wanted, in bench words."""


def _follows_from_others(item: Any) -> bool:
    """A list called too short only because its items had faults of their own, which are told already."""
    came = item.get("input")
    return (
        item["type"] == "too_short"
        and isinstance(came, list | tuple)
        and len(came) >= item["ctx"]["min_length"]
    )


def _sentence(item: Any, key: Key, model: type[BaseModel]) -> str:
    kind, context = item["type"], item.get("ctx", {})
    came = context.get("tag", item.get("input"))
    if kind == "bench":
        return str(context["sentence"])
    if kind == "missing":
        return "is missing; " + _description(model, key)
    if kind == "extra_forbidden":
        return _unknown_key(model, key)
    if kind == "literal_error":
        return f"wanted {context['expected']}, got {_shown(came)}"
    if kind in _WANTED:
        return f"wanted {_WANTED[kind].format(**context)}, got {_shown(came)}"
    return f"{item['msg'][0].lower()}{item['msg'][1:]}; got {_shown(came)}"


def _shown(value: object) -> str:
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int) and abs(value) >= 10**40:
        return "a very large number"
    return quoted(str(value))


def _unknown_key(model: type[BaseModel], key: Key) -> str:
    owner = _model_at(model, key[:-1])
    known = sorted(_public_keys(owner)) if owner else []
    near = get_close_matches(str(key[-1]), known, n=1, cutoff=0.6)
    if near:
        return f'there is no key {quoted(str(key[-1]))} here; did you mean "{near[0]}"?'
    return f"there is no key {quoted(str(key[-1]))} here; the keys are: {', '.join(known)}"


def _public_keys(model: type[BaseModel]) -> list[str]:
    return [name for name, field in model.model_fields.items() if field.exclude is not True]


def _description(model: type[BaseModel], key: Key) -> str:
    owner = _model_at(model, key[:-1])
    field = owner.model_fields.get(str(key[-1])) if owner else None
    if field is None:
        return "it is needed"
    for note in field.metadata:
        thing = getattr(note, "thing", None)
        if thing:
            return f"it is {thing}"
    return f"it is {field.description}" if field.description else "it is needed"


def _model_at(model: type[BaseModel], key: Key) -> type[BaseModel] | None:
    """The model that owns the table at `key`; of one that comes in kinds, the kind that the key names."""
    here: type[BaseModel] | None = model
    kinds: Mapping[str, type[BaseModel]] = {}
    for part in key:
        if here is None:
            return None
        if isinstance(part, int):
            continue
        if part in kinds:
            here, kinds = kinds[part], {}
            continue
        field = here.model_fields.get(part)
        here = _model_in(field.annotation) if field is not None else None
        kinds = {} if field is None else _kinds(field.metadata)
    return here


def _kinds(notes: Iterable[object]) -> Mapping[str, type[BaseModel]]:
    """The kinds that a table comes in, by name; none where it is of one alone."""
    return next((note.kinds for note in notes if hasattr(note, "kinds")), {})


def _as_written(model: type[BaseModel], key: Key) -> Key:
    """A key without the kind that was tried, which stands in no job file."""
    field = model.model_fields.get(str(key[0])) if key else None
    of_a_kind = field is not None and len(key) > 1 and key[1] in _kinds(field.metadata)
    return (key[0], *key[2:]) if of_a_kind else key


def _model_in(annotation: object) -> type[BaseModel] | None:
    if isinstance(annotation, type) and hasattr(annotation, "model_fields"):
        return annotation
    for inner in get_args(annotation):
        found = _model_in(inner)
        if found is not None:
            return found
    return None


_HEADER = re.compile(r"\s*+(\[\[?)\s*+([^\]]++)\]\]?\s*+(?:#.*)?$")
_ENTRY = re.compile(r"\s*+([A-Za-z0-9_.\"' -]++)\s*+=")
"""Each part takes all it can and gives nothing back, so that a line is read once however long it is."""


def line_of(text: str, key: Key) -> int | None:
    """Line of the file where `key` is set, or of the nearest table that holds it; None when not found."""
    lines = _lines_by_key(text)
    for depth in range(len(key), 0, -1):
        if (number := lines.get(key[:depth])) is not None:
            return number
    return None


@lru_cache(maxsize=8)
def _lines_by_key(text: str) -> Mapping[Key, int]:
    """The first line on which each key, or its table, stands."""
    table: Key = ()
    counts: dict[str, int] = {}
    lines: dict[Key, int] = {}
    for number, line in enumerate(text.splitlines(), start=1):
        header = _HEADER.match(line)
        if header:
            name = header.group(2).rstrip()
            table = tuple(part.strip(" \"'") for part in name.split("."))
            if header.group(1) == "[[":
                counts[name] = counts.get(name, -1) + 1
                table = (*table, counts[name])
            lines.setdefault(table, number)
        elif (entry := _ENTRY.match(line)) is not None:
            lines.setdefault((*table, *(part.strip(" \"'") for part in entry.group(1).split("."))), number)
    return lines
