"""What was done and read at the bench, as rows of the database."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, RowMapping, insert, select, update

from scribeline.job import AskRead, Measurement, cut_reading
from scribeline.store import checks, tables
from scribeline.store.faults import SentAlready, StoreError
from scribeline.store.kept import GateReading, OverrideKept, Tick

Row = RowMapping | Mapping[str, Any]
Limits = tuple[float | None, float | None]


def sent_before(connection: Connection, job_id: int, key: str) -> bool:
    """Whether what a device sent under a key was kept already."""
    columns = tables.sent.c
    chosen = select(columns.key).where(columns.job_id == job_id, columns.key == key)
    return connection.execute(chosen).first() is not None


def sent(connection: Connection, job_id: int, key: str, *, at: str) -> None:
    """Keep that what a device sent under a key is kept; nothing where it sent none.

    Raises:
        SentAlready: it is kept already.
    """
    if not key:
        return
    named = checks.line(key, "the key of what was sent", most=60)
    if sent_before(connection, job_id, named):
        message = "this was sent before, and is kept"
        raise SentAlready(message)
    connection.execute(insert(tables.sent).values(job_id=job_id, key=named, at=at))


def tick(
    connection: Connection,
    job_id: int,
    card_id: str,
    features: Iterable[Mapping[str, Any]],
    *,
    by: str,
    revision: int,
    at: str,
) -> Tick:
    """Mark a step done; of one that is done already the tick stands, with the cuts it has got since added."""
    card = checks.line(card_id, "the step's name")
    who = checks.line(by, "who did it", most=60)
    kept = checks.cuts(features)
    before = standing(connection, job_id, card)
    if before:
        made = {cut["id"] for cut in before[0].features}
        fresh = [cut for cut in kept if cut["id"] not in made]
        if not fresh:
            return before[0]
        take_back(connection, job_id, card, by=who, at=at)
        kept = [*map(dict, before[0].features), *fresh]
    row = {"job_id": job_id, "card_id": card, "by": who, "at": at, "revision": revision, "features": kept}
    connection.execute(insert(tables.ticks).values(**row))
    return _tick(row)


def measured(
    connection: Connection,
    job_id: int,
    card_id: str,
    cut_id: str,
    read: Mapping[str, Any],
    *,
    by: str,
    at: str,
) -> Tick:
    """Keep what was read of a cut of a step that is done; the step's tick stands as it was in all else.

    Args:
        connection: to the database.
        job_id: the job.
        card_id: the step.
        cut_id: the cut.
        read: what was read, by its key of `scribeline.job.Cut`.
        by: who read it.
        at: when.

    Raises:
        StoreError: the step is not ticked, has made no such cut, or it cannot be kept.
    """
    card = checks.line(card_id, "the step's name")
    before = standing(connection, job_id, card)
    if not before or all(cut["id"] != cut_id for cut in before[0].features):
        message = f"the step {card!a} has cut no {cut_id!a} that could be measured"
        raise StoreError(message)
    tick = before[0]
    kept = checks.cuts({**cut, **read} if cut["id"] == cut_id else cut for cut in tick.features)
    take_back(connection, job_id, card, by=by, at=at)
    row = {
        "job_id": job_id,
        "card_id": card,
        "by": tick.by,
        "at": tick.at.isoformat(),
        "revision": tick.revision,
        "features": kept,
    }
    connection.execute(insert(tables.ticks).values(**row))
    return _tick(row)


def take_back(connection: Connection, job_id: int, card_id: str, *, by: str, at: str) -> None:
    """Let a tick stand no more.

    Raises:
        StoreError: the step is not ticked.
    """
    card = checks.line(card_id, "the step's name")
    who = checks.line(by, "who takes the tick back", most=60)
    columns = tables.ticks.c
    taken = connection.execute(
        update(tables.ticks)
        .where(columns.job_id == job_id, columns.card_id == card, columns.taken_back_at.is_(None))
        .values(taken_back_at=at, taken_back_by=who)
    )
    if taken.rowcount == 0:
        message = f"the step {card!a} is not ticked as done"
        raise StoreError(message)


def not_made(connection: Connection, job_id: int, card_id: str, *, by: str, at: str) -> None:
    """Let a tick stand no more, and strike through what was read of cuts that no other tick has.

    Raises:
        StoreError: the step is not ticked.
    """
    before = {cut["id"] for each in standing(connection, job_id) for cut in each.features}
    take_back(connection, job_id, card_id, by=by, at=at)
    gone = before - {cut["id"] for each in standing(connection, job_id) for cut in each.features}
    for no, entry in enumerate(measurements(connection, job_id), start=1):
        if not entry.struck and cut_reading(entry.what, gone) is not None:
            strike(connection, job_id, no, why="the step that made it was taken back", by=by, at=at)


def standing(connection: Connection, job_id: int, card_id: str | None = None) -> tuple[Tick, ...]:
    """The ticks of a job that stand, in the order they were made; those of one step where it is named."""
    columns = tables.ticks.c
    chosen = select(tables.ticks).where(columns.job_id == job_id, columns.taken_back_at.is_(None))
    if card_id is not None:
        chosen = chosen.where(columns.card_id == card_id)
    return tuple(_tick(row) for row in connection.execute(chosen.order_by(columns.id)).mappings())


def reading_row(
    gate_id: str,
    value_mm: float | None,
    *,
    yes: bool | None,
    by: str,
    with_what: str,
    risk: str = "",
    limits: Limits = (None, None),
    values: Iterable[AskRead] = (),
) -> dict[str, Any]:
    """A reading as it is kept.

    Raises:
        StoreError: there is neither a reading nor an answer, or both, or it cannot be kept.
    """
    if (value_mm is None) == (yes is None):
        message = "give either the reading, or yes or no where the gate asks for that"
        raise StoreError(message)
    most = checks.LARGEST_READING_MM
    low, high = (
        None if each is None else checks.number(each, "a limit of the gate (mm)", low=-most, high=most)
        for each in (limits if risk else (None, None))
    )
    return {
        "gate_id": checks.line(gate_id, "the gate's name"),
        "value_mm": None
        if value_mm is None
        else checks.number(value_mm, "the reading (mm)", low=-most, high=most),
        "yes": yes,
        "by": checks.line(by, "who read it", most=60),
        "with_what": checks.line(with_what, "what it was measured with", may_be_empty=True),
        "risk": checks.line(risk, "why the work goes on", may_be_empty=True),
        "low": low,
        "high": high,
        "each_read": [each.plain for each in values],
    }


def read(connection: Connection, row: Mapping[str, Any], *, known: int | None = None) -> GateReading:
    """Note a reading, unless the same has come after the first so many of its gate."""
    if known is not None:
        fresh = _reading(row)
        of_gate = [each for each in readings(connection, row["job_id"]) if each.gate_id == fresh.gate_id]
        for each in of_gate[known:]:
            if replace(each, at=fresh.at) == fresh:
                return each
    connection.execute(insert(tables.readings).values(**row))
    return _reading(row)


def readings(connection: Connection, job_id: int) -> tuple[GateReading, ...]:
    """Every reading of a job, oldest first."""
    columns = tables.readings.c
    rows = connection.execute(select(tables.readings).where(columns.job_id == job_id).order_by(columns.id))
    return tuple(_reading(row) for row in rows.mappings())


def override(connection: Connection, row: Mapping[str, Any]) -> OverrideKept:
    """Note that the work goes on against a stop; one of the same stop steps back behind it."""
    added = connection.execute(insert(tables.overrides).values(**row))
    return _override({"taken_back_at": None, "taken_back_by": None, "id": added.lastrowid, **row})


def take_override_back(connection: Connection, job_id: int, number: int, *, by: str, at: str) -> None:
    """Let an override count no more.

    Raises:
        StoreError: there is no such override, or it was taken back already.
    """
    who, columns = checks.line(by, "who takes the override back", most=60), tables.overrides.c
    taken = connection.execute(
        update(tables.overrides)
        .where(columns.job_id == job_id, columns.id == number, columns.taken_back_at.is_(None))
        .values(taken_back_at=at, taken_back_by=who)
    )
    if taken.rowcount == 0:
        message = "there is no such override that could be taken back"
        raise StoreError(message)


def overrides(connection: Connection, job_id: int, *, every: bool = False) -> tuple[OverrideKept, ...]:
    """The overrides of a job that count, oldest first; with `every` those taken back too."""
    columns = tables.overrides.c
    chosen = select(tables.overrides).where(columns.job_id == job_id).order_by(columns.id)
    if not every:
        chosen = chosen.where(columns.taken_back_at.is_(None))
    return tuple(_override(row) for row in connection.execute(chosen).mappings())


def measure(connection: Connection, job_id: int, entry: Measurement) -> Measurement:
    """Note a measurement."""
    checks.line(entry.what, "the number's name")
    checks.line(entry.by, "who measured it", most=60)
    checks.line(entry.with_what, "what it was measured with", may_be_empty=True)
    checks.line(entry.note, "the note", may_be_empty=True)
    connection.execute(insert(tables.measured).values(job_id=job_id, entry=entry.plain))
    return entry


def strike(connection: Connection, job_id: int, number: int, *, why: str, by: str, at: str) -> None:
    """Strike a measurement through: it stays, and counts no more.

    Raises:
        StoreError: there is no such measurement, or it is struck through already.
    """
    struck = {
        "struck": checks.line(why, "why it counts no more"),
        "struck_by": checks.line(by, "who strikes it through", most=60),
        "struck_at": at,
    }
    columns = tables.measured.c
    chosen = select(columns.id, columns.struck).where(columns.job_id == job_id).order_by(columns.id)
    rows = connection.execute(chosen).all()
    if not 1 <= number <= len(rows) or rows[number - 1].struck is not None:
        message = f"there is no measurement no. {number} that still counts"
        raise StoreError(message)
    connection.execute(update(tables.measured).where(columns.id == rows[number - 1].id).values(struck=struck))


def measurements(connection: Connection, job_id: int) -> tuple[Measurement, ...]:
    """Every measurement of a job in the order they came, those that are struck through with the reason."""
    columns = tables.measured.c
    chosen = select(columns.entry, columns.struck).where(columns.job_id == job_id).order_by(columns.id)
    return tuple(
        Measurement.model_validate({**row.entry, **(row.struck or {})}) for row in connection.execute(chosen)
    )


def carried(
    connection: Connection,
    job_id: int,
    ticks: Iterable[Mapping[str, Any]],
    read: Iterable[Mapping[str, Any]],
    given: Iterable[Mapping[str, Any]] = (),
    *,
    measured: Iterable[Measurement] = (),
) -> None:
    """Note what a job file brought along."""
    for each in measured:
        entry = {key: value for key, value in each.plain.items() if not key.startswith("struck")}
        struck = {key: value for key, value in each.plain.items() if key.startswith("struck")}
        kept = {"job_id": job_id, "entry": {**entry, "revision": 1}, "struck": struck or None}
        connection.execute(insert(tables.measured).values(**kept))
    here = {"job_id": job_id, "revision": 1}
    for table, rows in ((tables.ticks, ticks), (tables.readings, read), (tables.overrides, given)):
        for row in rows:
            connection.execute(insert(table).values(**row, **here))


def _tick(row: Row) -> Tick:
    at = datetime.fromisoformat(row["at"])
    return Tick(row["card_id"], row["by"], at, row["revision"], tuple(row["features"]))


def _reading(row: Row) -> GateReading:
    at = datetime.fromisoformat(row["at"])
    return GateReading(
        row["gate_id"],
        row["value_mm"],
        row["yes"],
        row["by"],
        row["with_what"],
        row["revision"],
        at,
        row["risk"],
        row["low"],
        row["high"],
        tuple(AskRead.model_validate(each) for each in row["each_read"]),
    )


def _override(row: Row) -> OverrideKept:
    taken = row["taken_back_at"]
    return OverrideKept(
        row["id"],
        row["code"],
        tuple(row["features"]),
        row["value"],
        row["limit"],
        row["says"],
        row["reason"],
        row["by"],
        datetime.fromisoformat(row["at"]),
        row["revision"],
        None if taken is None else datetime.fromisoformat(taken),
        row["taken_back_by"] or "",
    )
