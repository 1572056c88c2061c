"""Fields for whatever a job states and no family of `fields` asks for, named as the job file's own schema names them.

A part that the app has no picture for yet is still no reason to open the job file.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from scribeline.job import Dimension, Document
from scribeline.job.values import Degrees, Mm
from scribeline.web.field import Family, Field, Kind

BY_HAND = frozenset({"string_sets", "scribeline", "units", "strings", "limits"})
"""What has pages of its own, or is for the job file alone."""


def more_families(document: Document, asked: frozenset[str]) -> Iterator[tuple[str, Family]]:
    """A family for each table of the job with keys that are not asked for elsewhere, and the table's own key.

    Args:
        document: the job.
        asked: keys that have a field already.
    """
    for name, info in Document.model_fields.items():
        if name in BY_HAND:
            continue
        value = getattr(document, name)
        lead = f"{_capital(info.description)}." if info.description else ""
        if isinstance(value, BaseModel):
            fields = tuple(_fields(value, name, asked))
            if fields:
                yield name, Family(f"more-{_slug(name)}", _capital(_words(name)), lead, fields)
        elif isinstance(value, tuple) and value and all(isinstance(each, BaseModel) for each in value):
            for number, each in enumerate(value, start=1):
                at = f"{name}[{number}]"
                fields = tuple(_fields(each, at, asked))
                if fields:
                    title = _capital(f"{_words(name)}: {getattr(each, 'name', number)}")
                    yield at, Family(f"more-{_slug(name)}-{number}", title, lead, fields)


def _fields(table: BaseModel, path: str, asked: frozenset[str]) -> Iterator[Field]:
    for name, field in _keys(type(table), path.rpartition(".")[2] if "." in path else ""):
        value, key = getattr(table, name), f"{path}.{name}"
        if isinstance(value, BaseModel):
            yield from _fields(value, key, asked)
        elif field is not None and key not in asked:
            yield replace(field, key=key)


@cache
def _keys(table: type[BaseModel], inner: str) -> tuple[tuple[str, Field | None], ...]:
    """A kind of table's keys, each with its field but for where it stands; None where it is no number or word."""
    found: list[tuple[str, Field | None]] = []
    for name, info in table.model_fields.items():
        if info.exclude is True or name in {"part", "measured"}:
            continue
        kind, choices = _kind(info)
        field = None
        if kind is not None:
            field = Field(
                name, _label(inner, name, info), kind=kind, choices=choices, needed=info.is_required()
            )
        found.append((name, field))
    return tuple(found)


def _kind(info: FieldInfo) -> tuple[Kind | None, tuple[tuple[str, str], ...]]:
    """How a key is typed; None where it is for the job file alone."""
    kinds = set(_plain(info.annotation))
    notes = list(_notes(info))
    literals = [each for each in kinds if get_origin(each) is Literal]
    if literals:
        return "choice", tuple((str(each), str(each)) for each in get_args(literals[0]))
    if bool in kinds or any(get_origin(each) is tuple for each in kinds):
        return None, ()
    told: tuple[tuple[bool, Kind], ...] = (
        (any(isinstance(each, Mm) for each in notes) and bool(kinds & {float, Dimension}), "length"),
        (any(isinstance(each, Degrees) for each in notes), "angle"),
        (int in kinds, "whole"),
        (float in kinds, "share"),
        (str in kinds, "text"),
    )
    return next((kind for holds, kind in told if holds), None), ()


def _plain(annotation: Any) -> Iterator[Any]:
    """The types a key may have, unions and annotations taken apart."""
    origin = get_origin(annotation)
    if origin in {Literal, tuple} or origin is None:
        yield annotation
    else:
        for each in get_args(annotation):
            if isinstance(each, type) or get_origin(each) is not None:
                yield from _plain(each)


def _notes(info: FieldInfo) -> Iterator[Any]:
    yield from info.metadata
    yield from _inside(info.annotation)


def _inside(annotation: Any) -> Iterator[Any]:
    yield from getattr(annotation, "__metadata__", ())
    for each in get_args(annotation):
        yield from _inside(each)


_CALLED = {
    "x_from": "Measured along from",
    "into": "Cavity it opens into",
    "start": "It starts",
    "face": "Drilled from",
    "gauge": "Number of the screw's gauge",
    "grain": "Grain its screw meets",
    "kind": "Form of the top",
}
"""Words for keys whose own say too little."""


_TABLES = {
    "tunnels": "wire holes",
    "masses": "hardware weights",
    "pockets": "cavities",
    "ledge": "cover recess",
    "heading": "direction",
    "lean": "angle off upright",
    "film": "finish thickness",
    "slip": "clearance",
}
"""Words for tables and keys that the job file calls by others."""


def _label(inner: str, name: str, info: FieldInfo) -> str:
    if name in _CALLED:
        return _CALLED[name]
    for note in _notes(info):
        if thing := getattr(note, "thing", ""):
            return _capital(thing.removeprefix("the "))
    return _capital(f"{_words(inner)}: {_words(name)}" if inner else _words(name))


def _words(name: str) -> str:
    return _TABLES.get(name) or name.replace("_", " ").split("[")[0]


def _slug(name: str) -> str:
    return name.replace("_", "-")


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
