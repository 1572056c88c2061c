"""The lists of jobs, as rows of the database: those at work, archived, deleted; and what each was like when last worked out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, and_, func, insert, literal_column, select, update
from sqlalchemy.dialects.sqlite import insert as insert_or_update

from scribeline.store import tables
from scribeline.store.faults import StoreError, UnknownJob
from scribeline.store.kept import Glance, JobEntry, JobList, Put
from scribeline.store.revisions import LARGEST_ID

_JOB = tables.jobs.c
_GLANCE = tables.glances.c
_NEWEST = and_(tables.revisions.c.job_id == _JOB.id, tables.revisions.c.number == _JOB.newest)
_NOTED = ("made_with", "done", "steps", "next_step", "stops", "wrong", "drawn")

_STANDS: dict[JobList, ColumnElement[bool]] = {
    "open": and_(_JOB.deleted_at.is_(None), _JOB.archived_at.is_(None)),
    "archived": and_(_JOB.deleted_at.is_(None), _JOB.archived_at.is_not(None)),
    "deleted": _JOB.deleted_at.is_not(None),
}
"""What stands in which list: a job that was archived and is deleted stands among the deleted."""


def jobs(connection: Connection, which: JobList | None) -> tuple[JobEntry, ...]:
    """The jobs of one list, or every job, the last touched first."""
    return tuple(_entry(row) for row in connection.execute(_in_order(_entries(), which)))


def called(connection: Connection, which: JobList) -> tuple[tuple[int, str], ...]:
    """Number and name of each job of a list, in its order."""
    found = select(_JOB.id, _JOB.name).select_from(tables.jobs.join(tables.revisions, _NEWEST))
    return tuple((row.id, row.name) for row in connection.execute(_in_order(found, which)))


def some(connection: Connection, job_ids: Sequence[int]) -> tuple[JobEntry, ...]:
    """These jobs, in the order in which they are asked for."""
    found = {row.id: _entry(row) for row in connection.execute(_entries().where(_JOB.id.in_(job_ids)))}
    return tuple(found[job_id] for job_id in job_ids if job_id in found)


def _in_order(found: Any, which: JobList | None) -> Any:
    """Jobs of one list in the order in which their newest revisions came, whatever the clock said; the deleted, as they went."""
    came: ColumnElement[int] = literal_column("revisions.rowid")
    ordered = found.order_by(*([_JOB.deleted_at.desc()] if which == "deleted" else []), came.desc())
    return ordered if which is None else ordered.where(_STANDS[which])


def entry(connection: Connection, job_id: int) -> JobEntry:
    """One job as it stands in its list, a deleted one too.

    Raises:
        UnknownJob: there is no such job.
    """
    row = connection.execute(_entries().where(_JOB.id == _one(job_id))).one_or_none()
    if row is None:
        message = "there is no job of this number in this store"
        raise UnknownJob(message)
    return _entry(row)


def counts(connection: Connection) -> dict[JobList, int]:
    """How many jobs stand in each list."""
    numbers = [func.count().filter(stands) for stands in _STANDS.values()]
    row = connection.execute(select(*numbers).select_from(tables.jobs)).one()
    return dict(zip(_STANDS, map(int, row), strict=True))


def last(connection: Connection) -> int:
    """Number of the job that was begun last; 0 where there is none."""
    return int(connection.execute(select(func.max(_JOB.id))).scalar() or 0)


def names(connection: Connection) -> frozenset[str]:
    """What the jobs are called, those put away too."""
    return frozenset(connection.execute(select(_JOB.name)).scalars())


def put(connection: Connection, job_id: int, what: str, row: dict[str, str | None]) -> JobEntry:
    """Archive or delete a job, or take that back; where it is so already, whoever did it first stands.

    Args:
        connection: to the database, in a transaction.
        job_id: the job.
        what: "archived" or "deleted".
        row: `by` and `at`; both None to take it back.

    Raises:
        UnknownJob: there is no such job.
        StoreError: it is deleted, and cannot be archived as well.
    """
    now = entry(connection, job_id)
    if what == "archived" and now.deleted is not None:
        message = "this job is deleted; restore it first"
        raise StoreError(message)
    if (getattr(now, what) is None) != (row["at"] is None):
        values = {f"{what}_{key}": value for key, value in row.items()}
        connection.execute(update(tables.jobs).where(_JOB.id == job_id).values(**values))
    return entry(connection, job_id)


def changed(connection: Connection, job_id: int | None = None) -> None:
    """Count a change of a job, or of what every job rests on: what was worked out before is known to be older."""
    one_more = update(tables.jobs).values(changes=_JOB.changes + 1)
    connection.execute(one_more if job_id is None else one_more.where(_JOB.id == job_id))


def changes(connection: Connection, job_id: int) -> int:
    """How often a job has been changed; 0 where there is none."""
    return int(connection.execute(select(_JOB.changes).where(_JOB.id == _one(job_id))).scalar() or 0)


def keep_glance(connection: Connection, job_id: int, glance: Glance, picture: str) -> None:
    """Note what a job is like, unless a later note stands there.

    Raises:
        UnknownJob: there is no such job.
    """
    entry(connection, job_id)
    noted = {**asdict(glance), "drawn": bool(picture), "picture": picture}
    row = insert_or_update(tables.glances).values(job_id=job_id, **noted)
    newer = _GLANCE.changes <= row.excluded.changes
    connection.execute(row.on_conflict_do_update(index_elements=["job_id"], set_=noted, where=newer))


def picture(connection: Connection, job_id: int) -> str:
    """A job's picture as it was last drawn; "" where there is none."""
    return str(
        connection.execute(select(_GLANCE.picture).where(_GLANCE.job_id == _one(job_id))).scalar() or ""
    )


def copy_files(connection: Connection, job_id: int, to: int, *, by: str, at: str) -> None:
    """Give another job the files of this one as they are now."""
    kept = tables.attachments.c
    newest = select(func.max(kept.id)).where(kept.job_id == job_id).group_by(kept.name)
    for name, content in connection.execute(select(kept.name, kept.content).where(kept.id.in_(newest))).all():
        row = {"job_id": to, "name": name, "content": content, "by": by, "at": at}
        connection.execute(insert(tables.attachments).values(**row))


def _one(job_id: int) -> int:
    """A number to ask for, whatever came: 0, which no job has, where the database has no such number."""
    return job_id if 0 < job_id <= LARGEST_ID else 0


def _entries() -> Any:
    """Jobs with their glances; never their texts and pictures, which a list does not need."""
    noted = [_GLANCE.changes.label("noted_at"), *(_GLANCE[name] for name in _NOTED)]
    whole = tables.jobs.join(tables.revisions, _NEWEST).outerjoin(tables.glances, _GLANCE.job_id == _JOB.id)
    return select(*_JOB, *noted).select_from(whole)


def _entry(row: Any) -> JobEntry:
    glance = None
    if row.noted_at is not None:
        glance = Glance(row.noted_at, *(getattr(row, name) for name in _NOTED))
    return JobEntry(
        row.id,
        row.name,
        row.newest,
        datetime.fromisoformat(row.at),
        row.units,
        row.handed,
        by=row.by,
        changes=row.changes,
        archived=_put(row.archived_by, row.archived_at),
        deleted=_put(row.deleted_by, row.deleted_at),
        glance=glance,
    )


def _put(by: str | None, at: str | None) -> Put | None:
    return None if at is None else Put(by or "", datetime.fromisoformat(at))
