"""The parts book, the drill box, and the record a job file brings along, as rows of the database."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from typing import Any, get_args

from sqlalchemy import Connection, Table, insert, select

from scribeline.job import Done, Record
from scribeline.lengths import LengthError, read_length
from scribeline.store import checks, tables
from scribeline.store.faults import StoreError
from scribeline.store.kept import BitKept, BitShelf, Measured, PartEntry

LARGEST_DETAIL = 20_000
"""Characters of a part's detail as JSON."""


def parts(connection: Connection, shelf: str | None, name: str | None = None) -> tuple[PartEntry, ...]:
    """Parts by shelf and name, with the newest of each measurement and detail."""
    found: dict[tuple[str, str], tuple[dict[str, Measured], dict[str, Any]]] = {}
    for row in _of(connection, tables.measurements, shelf, name):
        dimensions, _ = found.setdefault((row["shelf"], row["name"]), ({}, {}))
        dimensions[row["key"]] = Measured(
            row["value"],
            row["plus_minus"],
            row["by"],
            row["with_what"],
            datetime.fromisoformat(row["at"]),
        )
    for row in _of(connection, tables.details, shelf, name):
        _, details = found.setdefault((row["shelf"], row["name"]), ({}, {}))
        details[row["key"]] = row["value"]
    return tuple(PartEntry(*key, dimensions, details) for key, (dimensions, details) in sorted(found.items()))


def _of(connection: Connection, table: Table, shelf: str | None, name: str | None) -> Iterable[Any]:
    chosen = select(table).order_by(table.c.id)
    if shelf is not None:
        chosen = chosen.where(table.c.shelf == shelf)
    if name is not None:
        chosen = chosen.where(table.c.name == name)
    return connection.execute(chosen).mappings()


def save_part(
    connection: Connection,
    shelf: str,
    name: str,
    dimensions: Mapping[str, Measured],
    details: Mapping[str, Any],
    *,
    at: str,
) -> PartEntry:
    """Add measurements and details of one part."""
    where = {
        "shelf": checks.line(shelf, "the shelf", most=60),
        "name": checks.line(name, "the part's name", most=60),
    }
    if not dimensions and not details:
        message = "nothing was measured; give one dimension or more"
        raise StoreError(message)
    for key, each in dimensions.items():
        connection.execute(insert(tables.measurements).values(**where, **_measured(key, each)))
    for key, value in details.items():
        row = {"key": checks.line(key, "the detail's name"), "value": _plain(key, value), "at": at}
        connection.execute(insert(tables.details).values(**where, **row))
    (entry,) = parts(connection, where["shelf"], where["name"])
    return entry


def _measured(key: str, each: Measured) -> dict[str, Any]:
    if each.at.tzinfo is None:
        message = f"the time at which {key} was measured has no zone"
        raise StoreError(message)
    return {
        "key": checks.line(key, "the dimension's name"),
        "value": checks.number(each.value, f"{key} (mm)", low=-3000, high=3000),
        "plus_minus": checks.number(each.plus_minus, f"the ± of {key} (mm)", low=0.001, high=10),
        "by": checks.line(each.by, f"who measured {key}", most=60),
        "with_what": checks.line(each.with_what, f"what {key} was measured with", may_be_empty=True),
        "at": each.at.astimezone(UTC).isoformat(timespec="microseconds"),
    }


def _plain(key: str, value: Any) -> Any:
    try:
        text = json.dumps(value, allow_nan=False)
    except (TypeError, ValueError, RecursionError) as fault:
        message = f"{key} cannot be kept: {fault}"
        raise StoreError(message) from fault
    if value is None or len(text) > LARGEST_DETAIL:
        message = f"{key} is empty or too long to be kept"
        raise StoreError(message)
    return json.loads(text)


def bits(connection: Connection) -> tuple[BitKept, ...]:
    """The drill box as last saved."""
    table = tables.boxes
    kept = connection.execute(select(table.c.bits).order_by(table.c.id.desc()).limit(1)).scalar()
    return tuple(BitKept(**bit) for bit in kept or ())


def save_bits(connection: Connection, box: Iterable[BitKept], *, by: str, at: str) -> tuple[BitKept, ...]:
    """Keep a new state of the drill box."""
    kept = tuple(_bit(bit) for bit in box)
    rows = [
        {"kind": bit.kind, "size": bit.size, "point": bit.point, "reach": bit.reach}
        for bit in dict.fromkeys(kept)
    ]
    connection.execute(
        insert(tables.boxes).values(at=at, by=checks.line(by, "who filled the drill box", most=60), bits=rows)
    )
    return bits(connection)


def _bit(bit: BitKept) -> BitKept:
    if bit.kind not in get_args(BitShelf):
        message = f"{bit.kind[:60]!a} is no kind of bit; the kinds are {', '.join(get_args(BitShelf))}"
        raise StoreError(message)
    size = checks.line(bit.size, "the bit's size", most=30)
    try:
        checks.number(read_length(size).mm, f"the bit's diameter, {size} (mm)", low=0.3, high=80)
    except LengthError as fault:
        raise StoreError(str(fault)) from fault
    return BitKept(
        bit.kind,
        size,
        None if bit.point is None else checks.number(bit.point, "the bit's point (mm)", low=0, high=25),
        None if bit.reach is None else checks.number(bit.reach, "the bit's reach (mm)", low=5, high=600),
    )


Rows = list[dict[str, Any]]


def carried(read: Record) -> tuple[Rows, Rows, Rows]:
    """Rows of ticks, readings and overrides out of a job file's `[[done]]`, `[[readings]]` and `[[overrides]]`.

    Raises:
        StoreError: one of them cannot be kept.
    """
    ticks = [
        {
            "card_id": checks.line(each.card, "the step's name"),
            "by": checks.line(each.by, "who did it", most=60),
            "at": _stamp(each.at),
            "features": [cut.plain for cut in each.cuts],
        }
        for each in _each_once(read.done)
    ]
    readings = [
        {
            "gate_id": checks.line(each.card, "the gate's name"),
            "value_mm": each.value_mm,
            "yes": each.yes,
            "by": checks.line(each.by, "who read it", most=60),
            "with_what": checks.line(each.with_what, "what it was measured with", may_be_empty=True),
            "at": _stamp(each.at),
            "risk": checks.line(each.risk, "why the work goes on", may_be_empty=True),
            "low": each.low,
            "high": each.high,
            "each_read": [value.plain for value in each.values],
        }
        for each in read.readings
    ]
    overrides = [
        {
            **checks.override(each.model_dump()),
            "by": checks.line(each.by, "who decided it", most=60),
            "at": _stamp(each.at),
        }
        for each in read.overrides
    ]
    return ticks, readings, overrides


def _each_once(done: Iterable[Done]) -> tuple[Done, ...]:
    """Steps done, each once: one that was taken up again has what it cut by then, as it was recorded last."""
    found: dict[str, Done] = {}
    for each in done:
        before = found.get(each.card)
        cuts = {
            (cut.id, *(step.no for step in cut.steps)): cut
            for cut in (*(before.cuts if before else ()), *each.cuts)
        }
        found[each.card] = each.model_copy(update={"cuts": tuple(cuts.values())})
    return tuple(found.values())


def _stamp(at: datetime) -> str:
    zoned = at if at.tzinfo is not None else at.replace(tzinfo=UTC)
    return zoned.astimezone(UTC).isoformat(timespec="microseconds")
