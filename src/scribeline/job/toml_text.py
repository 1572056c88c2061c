"""Reading a text file of ours: the text, and its TOML as plain values, or a fault in words."""

from __future__ import annotations

import codecs
import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from scribeline.files import why
from scribeline.job.faults import Fault, JobError, Key, line_of, spelled
from scribeline.job.toml_faults import piece_of, toml_fault
from scribeline.lengths import quoted, visible


def text_of(path: Path, *, missing: str) -> str:
    """The text of a file.

    Args:
        path: the file.
        missing: what to say when it is not there.

    Raises:
        JobError: it is not there, or is not text.
    """
    try:
        data = path.read_bytes()
    except FileNotFoundError as fault:
        raise JobError([Fault("", visible(missing))], str(path)) from fault
    except OSError as fault:
        raise JobError([Fault("", f"cannot read {path}: {why(fault)}")], str(path)) from fault
    except ValueError as fault:  # a name that no file can have
        raise JobError([Fault("", visible(missing))], str(path)) from fault
    try:
        return (
            data.decode("utf-8-sig").replace("\r\n", "\n").replace("\r", "\n")
        )  # some editors put a mark in front
    except UnicodeDecodeError as fault:
        raise JobError([_not_utf8(data, fault.start)], str(path)) from fault


def _not_utf8(data: bytes, at: int) -> Fault:
    """Where a file stops being UTF-8, and what to do."""
    if data[:2] in {b"\xff\xfe", b"\xfe\xff"}:
        return Fault("", "this file is saved as UTF-16; save it as UTF-8 in your editor")
    start = data.rfind(b"\n", 0, at) + 1
    line = data[start:].split(b"\n", 1)[0].decode("cp1252", "replace")
    column = len(data[start:at].decode("utf-8", "replace")) + 1
    sentence = (
        f"column {column}: a character here is not UTF-8; save the file as UTF-8 in your editor. "
        f"The line reads: {piece_of(line, column)}"
    )
    return Fault("", sentence, data.count(b"\n", 0, start) + 1)


@dataclass(frozen=True, slots=True)
class FileText:
    """A text file's text, and how it lies on the disk, so that it can be written back the same way.

    Attributes:
        text: with plain line ends where the file has one kind throughout; of a file that mixes them, as it is.
        mark: whether a byte-order mark stands in front.
        line_end: what ends its lines.
    """

    text: str
    mark: bool = False
    line_end: str = "\n"

    def encoded(self, text: str) -> bytes:
        """Another text as this file would hold it."""
        return (codecs.BOM_UTF8 if self.mark else b"") + text.replace("\n", self.line_end).encode()


def file_text(path: Path, *, missing: str) -> FileText:
    """The text of a file that is to be written back.

    Raises:
        JobError: it is not there, or is not text.
    """
    text_of(path, missing=missing)  # says what is wrong with it
    raw = path.read_bytes()
    text = raw.decode("utf-8-sig")
    mark = raw.startswith(codecs.BOM_UTF8)
    if text.count("\r\n") == text.count("\n") > 0:
        return FileText(text.replace("\r\n", "\n"), mark, "\r\n")
    return FileText(text, mark)


@lru_cache(maxsize=16)
def toml_values(text: str) -> Mapping[str, Any]:
    """What a TOML text states, as plain values, to be looked at only: an edit asks for the same text several times.

    Raises:
        tomllib.TOMLDecodeError: it is not valid TOML.
        RecursionError: its values lie inside each other too deeply.
    """
    return tomllib.loads(text)  # forty times as quick as the reader that keeps comments


def raw_document(text: str, source: str) -> Mapping[str, Any]:
    """A TOML text as plain dicts and lists, to be looked at only.

    Raises:
        JobError: it is not valid TOML.
    """
    values = _values(text, source)
    if _MAY_HIDE.search(text):
        unseen = [
            Fault(spelled(key), f"holds a character that cannot be seen: {quoted(each)}", line_of(text, key))
            for key, each in _texts(values, ())
            if _UNSEEN.search(each)
        ]
        if unseen:
            raise JobError(unseen, source)
    return values


_TURNING = r"\u2028\u2029\u202a-\u202e\u2066-\u2069"
"""Marks that break a line, or turn the way it reads round (Unicode, UAX 9): figures behind one are read backwards."""

_UNSEEN = re.compile(rf"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f{_TURNING}]")
"""Control characters, which a terminal obeys and paper cannot show."""

_MAY_HIDE = re.compile(rf"[\\{_TURNING}]")
"""Where a text may hold one: of the control characters TOML lets none stand but by its code."""


def _texts(value: Any, key: Key) -> Iterator[tuple[Key, str]]:
    """Every text in plain values, and its key."""
    if isinstance(value, str):
        yield key, value
    elif isinstance(value, dict):
        for name, inner in value.items():
            yield from _texts(inner, (*key, name))
    elif isinstance(value, list):
        for number, inner in enumerate(value):
            yield from _texts(inner, (*key, number))


def _values(text: str, source: str) -> Mapping[str, Any]:
    try:
        return toml_values(text)
    except (ValueError, RecursionError):  # a number of thousands of figures is no TOMLDecodeError
        pass
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        return tomlkit.parse(text).unwrap()  # it lets pass a few things that people write
    except (TOMLKitError, ValueError, RecursionError) as fault:
        raise JobError([toml_fault(text)], source) from fault


def with_struck(text: str, no: int, reason: str, *, table: str, noun: str, source: str = "") -> str:
    """A text with one entry of a list struck through, or, without a reason, counting again; all else stays as it is.

    Args:
        text: a file that keeps what is struck through.
        no: of the entry, from 1.
        reason: why it counts no more; "" to let it count again.
        table: name of the list.
        noun: what an entry is called.
        source: what the text is called in messages.

    Raises:
        JobError: there is no such entry.
    """
    import tomlkit

    document: Any = tomlkit.parse(text)
    entries = document.get(table, [])
    if not 1 <= no <= len(entries):
        sentence = f"there is no {noun} no. {no}; the file has {len(entries)}"
        raise JobError([Fault(table, sentence)], source)
    if reason:
        entries[no - 1]["struck"] = reason
    else:
        entries[no - 1].pop("struck", None)
    return tomlkit.dumps(document)
