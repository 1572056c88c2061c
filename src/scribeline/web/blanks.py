"""Tables that are not there yet, or shall be stated in another way: what is asked first, and how it is written."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import count
from typing import Any
from urllib.parse import urlencode

from pydantic import BaseModel

from scribeline.job import Document, Stated, Way, arranged, remove_value, set_value, shelf_names
from scribeline.job.bridges import KINDS, USUAL
from scribeline.tables import UsualSet, sets_like
from scribeline.web.field import Blank, Field
from scribeline.web.fields import asked_at, at_key, hidden, key_at, part_of, stated, under, value_of
from scribeline.web.schema import by_kind, keys, ways

SETS = "string_sets"
"""Key of the other sets of strings."""

_BESIDE = frozenset({"part", "measured", "face", "x_from", "depth"})
"""Keys that may be left out and are asked for all the same: what the others mean depends on them."""


_DRAWN: dict[tuple[str, tuple[str, ...]], str] = {("body.outline", ("handles",)): "outline/draw"}
"""Ways to state a table that have a page of their own, on which they are drawn: by the table and the way's keys."""


def choices(
    job_id: int, key: str, groups: Sequence[tuple[int, tuple[Way, ...]]], *, there: bool = False
) -> list[list[tuple[str, str, bool]]]:
    """Ways in which a table may be stated, each with the page that asks for it, and whether it is stated so.

    Args:
        job_id: which job.
        key: of the table.
        groups: of ways, each with the number of the one chosen.
        there: whether the job states the table, so that one group is changed alone.
    """

    def page(nth: int, way: int) -> str:
        drawn = _DRAWN.get((key, groups[nth][1][way].keys))
        if drawn is not None:
            return f"/jobs/{job_id}/{drawn}"
        picked = ",".join(str(way if n == nth else now) for n, (now, _) in enumerate(groups))
        asks = {"of": key, "ways": picked, **({"group": nth} if there else {})}
        return f"/jobs/{job_id}/parts/new?{urlencode(asks)}"

    return [
        [(way.name, page(nth, number), number == now) for number, way in enumerate(group)]
        for nth, (now, group) in enumerate(groups)
    ]


def blank(document: Document, key: str, chosen: Sequence[int] = (), group: int | None = None) -> Blank | None:
    """What has to be said before a table can be written.

    Args:
        document: the job.
        key: of a table or of a list, which gets one more.
        chosen: the number of the way chosen in each group; the first where none is.
        group: the one group that is stated otherwise in a table that is there; None for a new one.

    Returns:
        None where the job has no such table.
    """
    found = key_at(key)
    if found is None or not found.tables or found.field is not None:
        return None
    there, one_more = at_key(document, key), found.many and not key.endswith("]")
    kinds = () if one_more else by_kind(found.tables)
    table = type(there) if isinstance(there, BaseModel) else found.tables[0]
    if kinds:
        table = found.tables[min(next(iter(chosen), 0), len(kinds) - 1)]
    groups = (*((kinds,) if kinds else ()), *ways(table))
    picked = tuple(
        (min(chosen[n] if n < len(chosen) else 0, len(each) - 1), each)
        for n, each in enumerate(groups)
        if group in {None, n}
    )
    at = f"{key}[{len(there or ()) + 1}]" if one_more else key
    wanted = {name for now, each in picked for name in each[now].keys}
    named = part_of(key).title if key.isidentifier() and key != "strings" else found.label
    way = "" if group is None or not picked else picked[0][1][picked[0][0]].name
    title = f"{named}: {way}" if way else f"New: {named[:1].lower()}{named[1:]}"
    fields = tuple(_missing(document, table, at, wanted, new=group is None))
    return Blank(key, at, title, fields, picked, group)


def further(document: Document, blank: Blank, names: Iterable[str]) -> Blank:
    """The same with fields for keys that need not be stated and shall be, such as those that a part of the book fills.

    Args:
        document: the job.
        blank: what is asked.
        names: keys of the table; what it has no field for is left out.
    """
    known = {field.key for field in blank.fields}
    more = []
    for name in names:
        at = under(blank.table, name)
        found = key_at(at)
        if at not in known and found is not None and found.field is not None:
            more += [replace(each, needed=False) for each in asked_at(document, found.field, at)]
    return replace(blank, fields=(*blank.fields, *more))


def _missing(
    document: Document, table: type[BaseModel], path: str, wanted: set[str], *, new: bool
) -> Iterator[Field]:
    """The fields without which a table cannot be written in the way that is wanted, those within it included."""
    of_ways = {name for group in ways(table) for way in group for name in (*way.keys, *way.may, *way.sets)}
    for key in keys(table):
        loose = new and key.name not in of_ways and (key.needed or key.name in _BESIDE)
        if key.name not in wanted and not loose:
            continue
        at = under(path, key.name)
        if key.field is None:
            inner = {name for group in ways(key.tables[0]) for name in group[0].keys}
            many = _how_many(document, at) if key.many else 1
            for nth in range(1, many + 1):
                one = f"{at}[{nth}]" if key.many else at
                words = key.label.removesuffix("s" if key.many else "") + (f" {nth}" if many > 1 else "")
                for each in _missing(document, key.tables[0], one, inner, new=True):
                    hint = each.hint if nth == 1 else ""  # once is enough
                    yield replace(each, label=f"{words}: {each.label}", hint=hint)
        elif key.name != "part" or key.field.choices:
            yield from (replace(each, needed=key.needed) for each in asked_at(document, key.field, at))


def _how_many(document: Document, path: str) -> int:
    """How many of a list within a new table are asked for: a set has as many strings as the instrument."""
    return len(document.strings) if path.startswith(f"{SETS}[") else 1


def begun(document: Document, blank: Blank, start: str = "") -> dict[str, str]:
    """What stands in a blank before anybody types: in a set of strings the instrument's notes, or a usual set whole.

    Args:
        document: the job.
        blank: what is asked.
        start: the usual set to begin with, by its name in the table; "" for none.
    """
    if blank.key != SETS:
        return {}
    usual = next((each for each in starts(document, blank) if each.key == start), None)
    notes = usual.notes if usual else tuple(string.note for string in document.strings)
    typed = {f"{blank.table}.strings[{n}].note": note for n, note in enumerate(notes, start=1)}
    if usual:
        typed[f"{blank.table}.name"] = _unlike(usual.name, [each.name for each in document.string_sets])
        typed |= {f"{blank.table}.strings[{n}].gauge": each for n, each in enumerate(usual.gauges, start=1)}
    return typed


def starts(document: Document, blank: Blank) -> tuple[UsualSet, ...]:
    """Usual sets that a new set of strings may begin with."""
    return sets_like([string.note for string in document.strings]) if blank.key == SETS else ()


def _unlike(name: str, taken: Sequence[str]) -> str:
    """A name that no other set has."""
    further = (f"{name}, {n}" for n in count(2))
    return name if name not in taken else next(each for each in further if each not in taken)


def written(text: str, blank: Blank, typed: Mapping[str, str]) -> str:
    """The job's text with a table as it was typed into a blank: a new one, or one stated in another way.

    Raises:
        JobError: what was typed cannot be put there.
    """
    new: dict[str, Any] = {}
    for field in blank.fields:
        if words := typed.get(field.key, "").strip():
            _put(new, field.key.removeprefix(f"{blank.table}."), value_of(field, words))
    for now, group in blank.ways:
        new |= group[now].sets
    if blank.table != blank.key:
        return arranged(text, blank.key, range(len(at_key(stated(text), blank.key) or ())), new)
    if "." in blank.table and at_key(stated(text), blank.table) is None:
        return set_value(text, blank.table, new)[0]
    for key in _of_other_ways(blank):
        if at_key(stated(text), f"{blank.table}.{key}") is not None:
            text = remove_value(text, f"{blank.table}.{key}")[0]
    for key, value in new.items():
        text = set_value(text, f"{blank.table}.{key}", value)[0]
    return text


def of_its_kind(text: str) -> str:
    """The job's text without what belonged to a bridge of another kind: its part of the book, a plate's screws."""
    now = stated(text)
    kind = KINDS.get(str(at_key(now, "bridge.kind") or USUAL))
    if kind is None:
        return text
    part = at_key(now, "bridge.part")
    if part is not None and part not in shelf_names(kind.shelf):
        text = remove_value(text, "bridge.part")[0]
    if not kind.screwed_down and at_key(now, "bridge_screw") is not None:
        text = remove_value(text, "bridge_screw")[0]
    return text


def _of_other_ways(blank: Blank) -> set[str]:
    """Keys that do not belong to the way a table will be stated in."""
    return {key for now, group in blank.ways for key in hidden(now, group) - {*group[now].sets}}


def _put(values: dict[str, Any], path: str, value: Stated) -> None:
    """Put a value where it belongs within a table."""
    *inner, last = path.split(".")
    for part in inner:
        name, _, number = part.rstrip("]").partition("[")
        if not number:
            values = values.setdefault(name, {})
            continue
        listed = values.setdefault(name, [])
        listed += ({} for _ in range(int(number) - len(listed)))
        values = listed[int(number) - 1]
    values[last] = value
