"""Changing one value of a job file and nothing else: comments, order and layout stay as the builder left them."""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping, MutableMapping, MutableSequence, Sequence
from itertools import pairwise
from threading import Lock
from typing import TYPE_CHECKING, Any

from scribeline.job.faults import Fault, JobError
from scribeline.job.toml_faults import toml_fault

if TYPE_CHECKING:
    import tomlkit

_PART = re.compile(r"([A-Za-z0-9_-]+)(?:\[(\d+)\])?$")

Value = str | int | float | bool
Stated = Value | dt.date | Sequence["Stated"] | Mapping[str, "Stated"]
"""What a key may be given: one value, a list such as the bits in the drill box, or a small table."""


def read_key(path: str) -> tuple[str | int, ...]:
    """A key path as typed, such as `bridge.spacing` or `strings[2].gauge` (items count from 1), as its parts.

    Raises:
        JobError: the path cannot be read.
    """
    key: list[str | int] = []
    for part in path.split("."):
        found = _PART.match(part.strip())
        if found is None:
            raise JobError(
                [Fault(path, "cannot read this key; write it like bridge.spacing or strings[2].gauge")]
            )
        key.append(found.group(1))
        if found.group(2) is not None:
            key.append(int(found.group(2)) - 1)
    return tuple(key)


def set_value(text: str, path: str, value: Stated) -> tuple[str, Value | None]:
    """The job's text with one value changed, and the value that was there before (None if it was not stated).

    Args:
        text: the job file.
        path: key path, such as `bridge.spacing`, `strings[2].gauge` or `pockets[1].centre[2]`.
        value: what to write: text is written as text, numbers as numbers, a list as a list.

    Raises:
        JobError: the path does not lead to a single value.
    """
    document = _read(text)
    was = _set(document, path, value)
    return _written(document), was.unwrap() if was is not None and hasattr(was, "unwrap") else was


def set_values(text: str, values: Mapping[str, Stated]) -> str:
    """The same for several values at once, by their key paths: the text is read and written once, however many they are.

    Raises:
        JobError: one of the paths does not lead to a single value.
    """
    document = _read(text)
    for path, value in values.items():
        _set(document, path, value)
    return _written(document)


def _set(document: tomlkit.TOMLDocument, path: str, value: Stated) -> Any:
    """Change one value in a document; what was there."""
    key = read_key(path)
    *_, last = key
    if isinstance(last, int):
        return _set_item(_holder(document, key, path), last, value, path)
    return _set_entry(_table_for(document, key, path), last, value, path)


def remove_value(text: str, path: str) -> tuple[str, Value | None]:
    """The job's text without one value or table, and what was there; the rest of the text stays as it is.

    Raises:
        JobError: nothing is stated there.
    """
    key = read_key(path)
    document = _read(text)
    holder, last = _holder(document, key, path), key[-1]
    try:
        was = holder[last]
        del holder[last]
    except (KeyError, IndexError, TypeError) as fault:
        raise JobError([Fault(path, "is not stated in the job, so there is nothing to take out")]) from fault
    return _written(document), was.unwrap() if hasattr(was, "unwrap") else was


_WRITTEN: OrderedDict[str, tomlkit.TOMLDocument] = OrderedDict()
"""Documents as the last edits left them, by the text they then were: reading one anew with all its comments costs far
more than changing it. An edit takes its document out, so no two ever have the same in hand."""
_WRITTEN_KEPT = 16
_WRITING = Lock()


def _read(text: str) -> tomlkit.TOMLDocument:
    with _WRITING:
        document = _WRITTEN.pop(text, None)
    if document is not None:
        return document
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        return tomlkit.parse(text)
    except (TOMLKitError, ValueError, RecursionError) as fault:
        raise JobError([toml_fault(text)]) from fault


def _written(document: tomlkit.TOMLDocument) -> str:
    import tomlkit

    text = tomlkit.dumps(document)
    with _WRITING:
        _WRITTEN[text] = document
        while len(_WRITTEN) > _WRITTEN_KEPT:
            _WRITTEN.popitem(last=False)
    return text


def _set_entry(table: MutableMapping[str, Any], last: str, value: Stated, path: str) -> Any:
    from tomlkit.items import AoT

    was = table.get(last)
    if isinstance(was, MutableMapping):
        raise JobError([Fault(path, f"is a table; name one of its values: {', '.join(was)}")])
    tables = isinstance(was, MutableSequence) and any(isinstance(each, MutableMapping) for each in was)
    if tables and (isinstance(was, AoT) or isinstance(value, str) or not isinstance(value, Sequence)):
        raise JobError([Fault(path, "names a list; say which item, such as strings[2].gauge")])
    # A trailing comment belongs to the value's item: carry it over to the new one.
    item = _item(value)
    if was is not None and hasattr(was, "trivia"):
        item.trivia.indent, item.trivia.comment_ws = was.trivia.indent, was.trivia.comment_ws
        item.trivia.comment, item.trivia.trail = was.trivia.comment, was.trivia.trail
    table[last] = item
    return was


def _set_item(here: Any, last: int, value: Stated, path: str) -> Any:
    """One item of a plain list, such as the second number of a pocket's centre."""
    if not isinstance(here, MutableSequence):
        raise JobError([Fault(path, "is no list; leave the [ ] out")])
    if not 0 <= last < len(here):
        raise JobError([Fault(path, f"there is no item {last + 1} here; the job has {len(here)}")])
    was = here[last]
    if isinstance(was, MutableMapping):
        raise JobError([Fault(path, "name the value to change inside the item, such as strings[2].gauge")])
    here[last] = _item(value)
    return was


def _item(value: Stated) -> Any:
    """A value to be written; a table stands in the line of its key."""
    import tomlkit

    if isinstance(value, Mapping):
        table = tomlkit.inline_table()
        table.update(value)
        return table
    if isinstance(value, Sequence) and any(isinstance(each, Mapping) for each in value):
        rows = tomlkit.array()
        rows.extend(_item(each) for each in value)
        # So many tables are read one under the other.
        return rows.multiline(multiline=len(value) > 3 and all(isinstance(each, Mapping) for each in value))
    return tomlkit.item(value)


def arranged(text: str, path: str, order: Sequence[int], new: Mapping[str, Stated] | None = None) -> str:
    """The job's text with the tables of a list in another order: fewer of them, one twice, or a new one behind.

    Each takes along the comment above it; where the list stands in one line, it is written anew.

    Args:
        text: the job file.
        path: of the list, such as `pockets` or `body.layers`.
        order: which of the tables stay, from 0, as they are to follow each other.
        new: what is put behind them.

    Raises:
        JobError: the text is not valid TOML, or there is no such list.
    """
    key = read_key(path)
    was = _list_at(_values(text), key)
    wanted = [*(was[number] for number in order), *([dict(new)] if new is not None else ())]
    ways: tuple[Callable[[], str], ...] = (
        lambda: _blocks_arranged(text, path, order, new),
        lambda: _list_set(text, path, wanted),
    )
    for way in ways:
        try:
            made = way()
            now = _values(made)
        except JobError:
            continue
        if _list_at(now, key) == wanted and _without(now, key) == _without(_values(text), key):
            return made
    raise JobError([Fault(path, "cannot be put in this order; change it in the job file")])


def _values(text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as fault:
        raise JobError([toml_fault(text)]) from fault


def _list_at(values: Any, key: tuple[str | int, ...]) -> list[Any]:
    for part in key:
        values = values[part] if isinstance(part, int) else values.get(part, {})
    return list(values)


def _without(values: Any, key: tuple[str | int, ...]) -> Any:
    """The same values with a list taken out, and tables that held nothing else."""
    first, *rest = key
    if isinstance(first, int):
        return [_without(each, tuple(rest)) if n == first else each for n, each in enumerate(values)]
    inner = _without(values[first], tuple(rest)) if rest and first in values else None
    others = {name: each for name, each in values.items() if name != first}
    return {**others, first: inner} if inner else others


_HEADER = re.compile(r"\s*\[\[?([^\]\n]+)\]\]?")


def _headers(text: str) -> Iterator[tuple[int, str]]:
    """Where each table of a text begins, with the comment right above it, and its name."""
    at, begins = 0, None
    for line in text.splitlines(keepends=True):
        if found := _HEADER.match(line):
            yield at if begins is None else begins, "".join(found[1].split())
        if not line.lstrip().startswith("#"):
            begins = None
        elif begins is None:
            begins = at
        at += len(line)


def _blocks_arranged(text: str, path: str, order: Sequence[int], new: Mapping[str, Stated] | None) -> str:
    """The text with whole tables moved, each under its own header.

    Raises:
        JobError: the list stands in no such tables.
    """
    heads = [*_headers(text), (len(text), "")]
    blocks: list[tuple[int, int]] = []
    for (start, name), (end, _) in pairwise(heads):
        if name == path:
            blocks.append((start, end))
        elif blocks and name.startswith(f"{path}.") and blocks[-1][1] == start:
            blocks[-1] = (blocks[-1][0], end)
    if any(number >= len(blocks) for number in order):
        raise JobError([Fault(path, "does not stand in tables of its own")])
    kept = [f"{text[slice(*blocks[number])].rstrip()}\n\n" for number in order]
    if new is not None:
        lines = (f"{name} = {_item(value).as_string()}\n" for name, value in new.items())
        kept.append(f"[[{path}]]\n{''.join(lines)}\n")
    if not blocks:
        return f"{text.rstrip()}\n\n{''.join(kept)}"
    made, at = "", 0
    for place, (start, end) in enumerate(blocks):
        last = place == len(blocks) - 1
        made += text[at:start] + "".join(kept[place:] if last else kept[place : place + 1])
        at = end
    return f"{(made + text[at:]).rstrip()}\n"


def _list_set(text: str, path: str, wanted: Sequence[Any]) -> str:
    """The text with a list written anew in the line of its key."""
    import tomlkit

    key, document = read_key(path), _read(text)
    holder, last = _holder(document, key, path), key[-1]
    made = tomlkit.array()
    made.extend(_item(each) for each in wanted)
    if last in holder:
        del holder[last]
    holder[last] = made.multiline(multiline=len(wanted) > 1)
    return _written(document)


def _table_for(
    document: MutableMapping[str, Any], key: tuple[str | int, ...], path: str
) -> MutableMapping[str, Any]:
    here = _holder(document, key, path)
    if not isinstance(here, MutableMapping):
        raise JobError([Fault(path, "names a list; say which item, such as strings[2].gauge")])
    return here


def _holder(document: MutableMapping[str, Any], key: tuple[str | int, ...], path: str) -> Any:
    """The table or list that the last part of a key lies in; tables that are missing are made."""
    import tomlkit

    here: Any = document
    for part in key[:-1]:
        if isinstance(part, int):
            if not isinstance(here, MutableSequence) or not 0 <= part < len(here):
                raise JobError([Fault(path, f"there is no item {part + 1} here; the job has {len(here)}")])
            here = here[part]
        else:
            if not isinstance(here, MutableMapping):
                raise JobError([Fault(path, "does not lead to a value")])
            if part not in here:
                here[part] = tomlkit.table()
            here = here[part]
    return here
