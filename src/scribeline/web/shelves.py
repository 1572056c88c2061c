"""Parts that a new table may be filled from: the shop's own, measured, and typical ones; and a new part put among the shop's."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from scribeline.job import Dimension, Document, Fault, JobError, parts_book
from scribeline.store import Measured, PartEntry
from scribeline.web.field import Blank
from scribeline.web.fields import at_key, key_at, shown

OWN, TYPICAL = "own", "typical"

_SHELVES: Mapping[str, tuple[str, tuple[str, ...]]] = {
    "pockets": ("cavity", ("depth", "corner_radius", "size")),
    "jack": (
        "jack",
        (
            "diameter",
            "recess_diameter",
            "recess_depth",
            "barrel_diameter",
            "barrel_length",
            "plate_size",
            "plate_thickness",
        ),
    ),
    "strap_buttons": (
        "strap button",
        ("base_diameter", "under_head", "screw.thread", "screw.root", "screw.length"),
    ),
}
"""Tables that are no bought part themselves: the shelf of what they are made for, and which of their keys belong to that."""

_TABLES_OF_A_KIND = ("bridge",)
"""Tables of several kinds, each with a shelf of its own."""


@dataclass(frozen=True, slots=True)
class OnShelf:
    """A part that a new table may be filled from.

    Attributes:
        key: in addresses: "own:" or "typical:" and its name.
        name: as the book calls it.
        is_own: whether it is the shop's.
        measured: by whom and when it was measured last; None where no size of it has a ±.
        fills: what goes into which key of the table, as a person would type it.
    """

    key: str
    name: str
    is_own: bool
    measured: tuple[str, datetime] | None
    fills: Mapping[str, str]


def shelf_of(document: Document, blank: Blank) -> str:
    """The parts book's shelf for a new table; "" where no part is bought for it."""
    name = blank.key.partition("[")[0]
    if blank.group is not None:
        return ""
    if name in _SHELVES:
        return _SHELVES[name][0]
    if name in _TABLES_OF_A_KIND:
        return ""
    found = key_at(blank.key)
    return "" if found is None else getattr(found.tables[0], "shelf", "")


def _belongs(blank: Blank, key: str) -> bool:
    """Whether a key of the table is a size of the part, not where it sits."""
    name = blank.key.partition("[")[0]
    if name in _SHELVES:
        return key in _SHELVES[name][1]
    found = key_at(blank.key)
    field = None if found is None else found.tables[0].model_fields.get(key)
    return field is not None and field.annotation in {Dimension, Dimension | None}


def on_shelf(document: Document, blank: Blank, entries: Sequence[PartEntry]) -> Iterator[OnShelf]:
    """What a new table may be filled from, the shop's own first.

    Args:
        document: the job.
        blank: the new table.
        entries: the shop's own parts of its shelf.
    """
    fitting = {field.key.removeprefix(f"{blank.table}.") for field in blank.fields}
    for entry in entries:
        fills = {key: each.stated for key, each in entry.dimensions.items() if _fits(blank, key, fitting)}
        fills |= {key: shown(value) for key, value in entry.details.items() if _fits(blank, key, fitting)}
        newest = max(entry.dimensions.values(), key=lambda each: each.at, default=None)
        if fills:
            when = (newest.by, newest.at) if newest else None
            yield OnShelf(f"{OWN}:{entry.name}", entry.name, is_own=True, measured=when, fills=fills)
    for name, stated in parts_book().get(shelf_of(document, blank), {}).items():
        fills = {
            key: shown(value) for key, value in _flat(stated) if key == TYPICAL or _fits(blank, key, fitting)
        }
        if set(fills) - {TYPICAL}:
            yield OnShelf(f"{TYPICAL}:{name}", name, is_own=False, measured=None, fills=fills)


def _fits(blank: Blank, key: str, fitting: set[str]) -> bool:
    """Whether a size goes with the way in which the table is being stated."""
    if not _belongs(blank, key):
        return False
    if key in fitting:
        return True
    # What the way chosen has no use for, such as a counterbore of a jack without one, is left out.
    chosen = {name for now, group in blank.ways for name in (*group[now].keys, *group[now].may)}
    others = {name for _, group in blank.ways for way in group for name in (*way.keys, *way.may)} - chosen
    return key.partition(".")[0] not in others


def _flat(stated: Mapping[str, Any], under: str = "") -> Iterator[tuple[str, Any]]:
    for key, value in stated.items():
        if isinstance(value, Mapping):
            yield from _flat(value, f"{under}{key}.")
        else:
            yield f"{under}{key}", value


def measured_of(
    document: Document, blank: Blank, *, by: str, at: datetime
) -> tuple[dict[str, Measured], dict[str, Any]]:
    """What of a new table is put into the shop's parts book: its measured sizes, and those that no job marks as measured.

    Args:
        document: the job with the new table.
        blank: the table.
        by: who measured.
        at: when.

    Raises:
        JobError: nothing of it was measured.
    """
    measured: dict[str, Measured] = {}
    details: dict[str, Any] = {}
    asked = [field.key.removeprefix(f"{blank.table}.") for field in blank.fields]
    for key in (each for each in asked if _belongs(blank, each)):
        value = at_key(document, f"{blank.table}.{key}")
        if isinstance(value, Dimension):
            if value.measured:
                measured[key] = Measured(value.mm, value.plus_minus, by, "as stated in the job", at)
        elif isinstance(value, float | int):
            details[key] = f"{value:g} mm"
        elif isinstance(value, tuple) and value:
            details[key] = [f"{each:g} mm" for each in value]
    if not measured and not details:
        words = "nothing of it was measured: write each number with its ±, such as 9.5 +/- 0.1, or leave the book's name empty"
        raise JobError([Fault("", words)])
    return measured, details
