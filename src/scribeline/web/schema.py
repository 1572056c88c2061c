"""The job's models read as questions: what each key of a table is called, how it is typed, what it may be."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from scribeline.job import Dimension, Part, Way, shelf_names
from scribeline.job.limits import OwnLevels
from scribeline.job.values import Degrees, Mm, StringGauge, TimberName
from scribeline.lengths import in_unit
from scribeline.web.field import Field, Kind


@dataclass(frozen=True, slots=True)
class Key:
    """One key of a table.

    Attributes:
        name: in the job file.
        label: in bench words.
        field: how it is asked for; None for tables.
        tables: the kinds of table it may hold.
        many: whether it holds a list of them.
        needed: whether the job cannot do without.
        optional: whether it holds one table that can be taken out as a whole.
    """

    name: str
    label: str
    field: Field | None
    tables: tuple[type[BaseModel], ...] = ()
    many: bool = False
    needed: bool = False
    optional: bool = False


@cache
def keys(table: type[BaseModel]) -> tuple[Key, ...]:
    """Every key of a kind of table that a person may state, in the model's order."""
    return tuple(
        key
        for name, info in table.model_fields.items()
        if info.exclude is not True
        for key in _read(table, name, info)
    )


def _read(table: type[BaseModel], name: str, info: FieldInfo) -> Iterator[Key]:
    kinds, notes = apart(info.annotation)
    notes += info.metadata
    levels = next((each for each in notes if isinstance(each, OwnLevels)), None)
    if levels is not None:
        yield from _levels(name, levels)
        return
    if kinds == [Literal[1]]:  # the format's version: nothing to choose
        return
    lists = [each for each in kinds if get_origin(each) is tuple]
    inner = apart(get_args(lists[0])[0])[0] if lists else kinds
    of_kinds = next((tuple(note.kinds.values()) for note in notes if hasattr(note, "kinds")), ())
    tables = of_kinds or tuple(
        each for each in inner if isinstance(each, type) and issubclass(each, BaseModel)
    )
    label = _label(name, info, notes)
    needed = info.is_required()
    if tables and not (lists and _is_bare(tables[0])):
        optional = not lists and not needed and info.default is None
        yield Key(name, label, None, tables, bool(lists), needed, optional)
        return
    kind, choices = ("bits", ()) if tables else ("list", ()) if lists else _kind(table, name, kinds, notes)
    if lists and inner == [str]:
        kind = "names"
    field = Field(
        name,
        label,
        kind=kind,
        choices=choices,
        hint=_capital(_capital(info.description or "").removeprefix(label).lstrip("; ")),
        needed=needed and not (Dimension in kinds and issubclass(table, Part)),
        within=_within(notes),
        depth=_depth(lists[0]) if lists else 0,
        usual=info.default if isinstance(info.default, str) else "",
    )
    yield Key(name, label, field, tables, bool(tables), needed)


def _levels(name: str, levels: OwnLevels) -> Iterator[Key]:
    """A limit of one's own: the level past which nothing is cut, and the one past which it is told."""
    row = levels.row
    kind: Kind = "length" if row.unit == "mm" else "number"
    for level, words, usual in (("stop", "do not cut", row.stop), ("caution", "caution", row.caution)):
        if usual is not None:
            label = f"{_capital(row.what)}: {words}"
            hint = (
                f"{_capital(row.reason)}. Usually {in_unit(row.levels(), 'mm')}" if level == "caution" else ""
            )
            yield Key(
                f"{name}.{level}",
                label,
                Field(
                    f"{name}.{level}", label, "", kind, (), hint, needed=False, within=(row.least, row.most)
                ),
            )


BARE = frozenset({"diameter", "caution"})
"""Keys of tables that may be stated by this one value alone: a bit by its diameter, a limit by its caution."""


def _is_bare(table: type[BaseModel]) -> bool:
    """Whether a table may be stated by a single value."""
    return "label" in table.model_fields


def ways(table: type[BaseModel]) -> tuple[tuple[Way, ...], ...]:
    """Groups of ways in which a table may be stated."""
    return getattr(table, "ways", ())


def by_kind(tables: tuple[type[BaseModel], ...]) -> tuple[Way, ...]:
    """The kinds of a table that is one of several, as ways to state it; empty where there is one alone."""
    if len(tables) < 2:
        return ()
    every = {key.name for table in tables for key in keys(table)}
    found = []
    for table in tables:
        mark = next(name for name in ("kind", *every) if _only(table, name))
        own = tuple(key.name for key in keys(table) if key.name != mark)
        asked = tuple(key.name for key in keys(table) if key.needed and key.name != mark)
        kind = _only(table, mark)
        words = (table.model_fields[mark].description or str(kind)).partition(";")[0]
        found.append(Way(words, asked, may=own, sets={mark: kind}))
    return tuple(found)


def _only(table: type[BaseModel], name: str) -> Any:
    """The one value that a key of this kind of table may have; None where it may have others."""
    info = table.model_fields.get(name)
    values = get_args(info.annotation) if info is not None and get_origin(info.annotation) is Literal else ()
    return values[0] if len(values) == 1 else None


def apart(annotation: Any) -> tuple[list[Any], list[Any]]:
    """The types that a value may have, None left out, and the notes on them."""
    origin = get_origin(annotation)
    if origin is Annotated:
        kinds, notes = apart(get_args(annotation)[0])
        return kinds, [*notes, *get_args(annotation)[1:]]
    if origin in {Union, UnionType}:
        each = [apart(inner) for inner in get_args(annotation) if inner is not type(None)]
        return [one for kinds, _ in each for one in kinds], [one for _, notes in each for one in notes]
    return [annotation], []


def _depth(annotation: Any) -> int:
    """How deep lists lie in each other."""
    kinds, _ = apart(annotation)
    return 1 + _depth(get_args(kinds[0])[0]) if get_origin(kinds[0]) is tuple else 0


def _kind(
    table: type[BaseModel], name: str, kinds: list[Any], notes: list[Any]
) -> tuple[Kind, tuple[tuple[str, str], ...]]:
    """How a key is typed, and what may be chosen."""
    chosen = [each for each in kinds if get_origin(each) is Literal]
    if chosen:
        return "choice", tuple((str(each), str(each)) for each in get_args(chosen[0]))
    if name == "part" and issubclass(table, Part):
        return "choice", tuple((each, each) for each in shelf_names(table.shelf))
    if bool in kinds:
        return "yes", (("true", "yes"), ("false", "no"))
    told: tuple[tuple[bool, Kind], ...] = (
        (any(isinstance(each, Mm) for each in notes), "length"),
        (any(isinstance(each, Degrees) for each in notes), "angle"),
        (any(isinstance(each, StringGauge) for each in notes), "gauge"),
        (any(isinstance(each, TimberName) for each in notes), "choice"),
        (int in kinds, "whole"),
        (dt.date in kinds, "date"),
        (str in kinds, "text"),
    )
    return next((kind for holds, kind in told if holds), "number"), ()


def _within(notes: list[Any]) -> tuple[float | None, float | None]:
    for note in notes:
        if isinstance(note, Mm):
            return note.low, note.high
        if isinstance(note, Degrees):
            return note.low_deg, note.high_deg
    ends = {end: getattr(note, mark) for note in notes for mark, end in _ENDS.items() if hasattr(note, mark)}
    return ends.get("low"), ends.get("high")


_ENDS = {"ge": "low", "gt": "low", "le": "high", "lt": "high"}


def _label(name: str, info: FieldInfo, notes: list[Any]) -> str:
    thing = next((note.thing for note in notes if isinstance(note, Mm | Degrees)), "")
    return _capital(info.title or thing.removeprefix("the ").removeprefix("a ") or name.replace("_", " "))


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
