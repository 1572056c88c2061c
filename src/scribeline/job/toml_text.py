"""Reading a text file of ours: the text, and its TOML as plain values, or a fault in words."""

from __future__ import annotations

import codecs
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from scribeline.files import why
from scribeline.job.faults import Fault, JobError


def text_of(path: Path, *, missing: str) -> str:
    """The text of a file.

    Args:
        path: the file.
        missing: what to say when it is not there.

    Raises:
        JobError: it is not there, or is not text.
    """
    try:
        return path.read_text(encoding="utf-8-sig")  # some editors put a byte-order mark in front
    except FileNotFoundError as fault:
        raise JobError([Fault("", missing)], str(path)) from fault
    except OSError as fault:
        raise JobError([Fault("", f"cannot read {path}: {why(fault)}")], str(path)) from fault
    except UnicodeDecodeError as fault:
        raise JobError([Fault("", f"cannot read {path} as text: {fault}")], str(path)) from fault


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
    try:
        return toml_values(text)
    except (tomllib.TOMLDecodeError, RecursionError):
        pass
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        return tomlkit.parse(text).unwrap()
    except TOMLKitError as fault:
        sentence = f'this is not valid TOML: {fault}. A text value needs quotes: spacing = "10 1/2 mm"'
        raise JobError([Fault("", sentence, getattr(fault, "line", None))], source) from fault
