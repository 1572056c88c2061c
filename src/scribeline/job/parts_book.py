"""The built-in parts book: generic parts with typical dimensions that fill what a job does not state."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any


@cache
def parts_book() -> dict[str, dict[str, dict[str, Any]]]:
    """The book as shelves of named parts; every length is text with its unit, marked typical."""
    text = Path(__file__).with_name("parts_book.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def shelf_names(shelf: str) -> tuple[str, ...]:
    """Names of the parts on one shelf."""
    return tuple(parts_book().get(shelf, {}))


SIZES_ALONE = frozenset({"cavity", "jack", "strap button"})
"""Shelves of parts that no key `part` of a job names: their sizes are written out in the table they are for."""


def book_entry(shelf: str, name: object) -> dict[str, Any] | None:
    """The typical dimensions of one part, or None when the book does not have it."""
    if not isinstance(name, str):
        return None
    return parts_book().get(shelf, {}).get(name)
