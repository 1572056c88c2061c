"""Jobs and every revision of them, as rows of the database."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, RowMapping, insert, select, update

from scribeline.store import checks, tables
from scribeline.store.faults import Conflict, DeletedJob, StoreError, UnknownJob
from scribeline.store.kept import Revision, RevisionKind
from scribeline.store.undoing import redo_target, undo_target

LARGEST_ID = 2**62
"""Beyond it the database has no numbers."""


def newest(connection: Connection, job_id: int) -> int:
    """Number of a job's newest revision.

    Raises:
        DeletedJob: it was deleted.
        UnknownJob: there is no such job.
    """
    if not 0 < job_id <= LARGEST_ID:
        message = "there is no job of this number in this store"
        raise UnknownJob(message)
    columns = tables.jobs.c
    found = connection.execute(
        select(columns.newest, columns.name, columns.deleted_by, columns.deleted_at).where(
            columns.id == job_id
        )
    ).one_or_none()
    if found is None:
        message = f"there is no job {job_id} in this store"
        raise UnknownJob(message)
    if found.deleted_at is not None:
        raise DeletedJob(job_id, found.name, found.deleted_by, datetime.fromisoformat(found.deleted_at))
    return int(found.newest)


def one(connection: Connection, job_id: int, number: int | None = None) -> Revision:
    """One revision of a job; the newest when no number is given.

    Raises:
        UnknownJob: there is none.
    """
    last = newest(connection, job_id)
    wanted = last if number is None else number
    if not 0 < wanted <= last:
        named = wanted if abs(wanted) <= LARGEST_ID else "of this number"
        message = f"job {job_id} has no revision {named}; its newest is {last}"
        raise UnknownJob(message)
    columns = tables.revisions.c
    found = select(tables.revisions).where(columns.job_id == job_id, columns.number == wanted)
    return _revision(connection.execute(found).mappings().one())


def every(connection: Connection, job_id: int) -> tuple[Revision, ...]:
    """Every revision of a job, oldest first.

    Raises:
        UnknownJob: there is no such job.
    """
    newest(connection, job_id)
    columns = tables.revisions.c
    rows = connection.execute(
        select(tables.revisions).where(columns.job_id == job_id).order_by(columns.number)
    )
    return tuple(_revision(row) for row in rows.mappings())


def made_once(connection: Connection, once: str) -> Revision | None:
    """The job that was made under a key, as it is now; None where there is none yet, and where there is no key.

    Raises:
        DeletedJob: it was deleted since.
    """
    if not once:
        return None
    found = connection.execute(select(tables.jobs.c.id).where(tables.jobs.c.once == once)).scalar()
    return None if found is None else one(connection, int(found))


def begin(
    connection: Connection,
    text: str,
    stated: Mapping[str, Any],
    *,
    by: str,
    why: str,
    at: str,
    once: str = "",
) -> Revision:
    """A new job with its first revision.

    Args:
        connection: to the database, in a transaction.
        text: the whole job file.
        stated: what it states.
        by: who.
        why: what for.
        at: when.
        once: key of the form that it was asked for by; "" for none.
    """
    row = {**checks.summary(stated), "newest": 0, "at": at, "once": once or None}
    made = connection.execute(insert(tables.jobs).values(**row))
    (job_id,) = made.inserted_primary_key or (0,)
    return _add(connection, int(job_id), 1, text, stated, by=by, why=why, at=at)


def follow(
    connection: Connection,
    job_id: int,
    text: str,
    stated: Mapping[str, Any],
    *,
    based_on: int,
    by: str,
    why: str,
    at: str,
) -> Revision:
    """The revision that follows on the one an edit began from; that one where the text is the same.

    Raises:
        Conflict: it is not the newest any more.
        UnknownJob: there is no such job.
    """
    before = _based(connection, job_id, based_on, mine=text)
    if before.text == text:
        return before
    return _add(connection, job_id, before.number + 1, text, stated, by=by, why=why, at=at)


def target(connection: Connection, job_id: int, kind: RevisionKind) -> int | None:
    """Number of the revision that an undo or a redo leads back to; None where there is none.

    Raises:
        UnknownJob: there is no such job.
    """
    newest(connection, job_id)
    columns = tables.revisions.c
    kinds = list(
        connection.execute(
            select(columns.kind).where(columns.job_id == job_id).order_by(columns.number)
        ).scalars()
    )
    return undo_target(kinds) if kind == "undo" else redo_target(kinds)


def turn_back(
    connection: Connection, job_id: int, kind: RevisionKind, *, based_on: int, by: str, at: str
) -> Revision:
    """A new revision with an earlier text.

    Raises:
        Conflict: somebody saved another revision meanwhile.
        StoreError: there is nothing to undo, or to redo.
        UnknownJob: there is no such job.
    """
    number = target(connection, job_id, kind)
    if number is None:
        message = (
            "there is no edit to take back: this is how the job began"
            if kind == "undo"
            else "there is nothing to redo: no edit was just taken back"
        )
        raise StoreError(message)
    text = one(connection, job_id, number).text
    before = _based(connection, job_id, based_on, mine=text)
    why = f"{kind}: as in revision {number}"
    return _add(
        connection, job_id, before.number + 1, text, checks.toml(text), by=by, why=why, at=at, kind=kind
    )


def _based(connection: Connection, job_id: int, based_on: int, *, mine: str) -> Revision:
    """The newest revision, provided that an edit began from it."""
    found = one(connection, job_id)
    if based_on != found.number:
        raise Conflict(mine, found, one(connection, job_id, based_on))
    return found


def _add(
    connection: Connection,
    job_id: int,
    number: int,
    text: str,
    stated: Mapping[str, Any],
    *,
    by: str,
    why: str,
    at: str,
    kind: RevisionKind = "edit",
) -> Revision:
    row = {
        "job_id": job_id,
        "number": number,
        "text": text,
        "at": at,
        "by": checks.line(by, "who made the change", most=60),
        "why": checks.line(why, "the reason of the change", most=300, may_be_empty=True),
        "kind": kind,
    }
    connection.execute(insert(tables.revisions).values(**row))
    connection.execute(
        update(tables.jobs)
        .where(tables.jobs.c.id == job_id)
        .values(newest=number, at=at, by=row["by"], **checks.summary(stated))
    )
    return _revision(row)


def _revision(row: RowMapping | Mapping[str, Any]) -> Revision:
    at = datetime.fromisoformat(row["at"])
    return Revision(row["job_id"], row["number"], row["text"], at, row["by"], row["why"], row["kind"])
