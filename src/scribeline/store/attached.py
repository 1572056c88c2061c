"""Files that a job names, as rows of the database."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import Connection, delete, func, insert, select

from scribeline.store import checks, tables
from scribeline.store.faults import StoreError
from scribeline.store.kept import Attachment


def file_row(name: str, content: bytes, *, by: str) -> dict[str, Any]:
    """A file as it is kept.

    Raises:
        StoreError: the name is no plain file name, or the file is too large.
    """
    if len(content) > checks.LARGEST_FILE:
        most = checks.LARGEST_FILE / 1e6
        message = f"the file has {len(content) / 1e6:.0f} MB; {most:.0f} MB is the most a job takes"
        raise StoreError(message)
    who = checks.line(by, "who attached it", most=60)
    return {"name": checks.file_name(name), "content": content, "by": who}


def attach(connection: Connection, row: dict[str, Any]) -> Attachment:
    """Keep a file; one of the same name steps back behind it."""
    connection.execute(insert(tables.attachments).values(**row))
    at = datetime.fromisoformat(row["at"])
    return Attachment(row["job_id"], row["name"], len(row["content"]), row["by"], at)


def detach(connection: Connection, file: Attachment) -> None:
    """Let go a file that was just attached; one of the same name behind it counts again."""
    columns = tables.attachments.c
    newest = select(func.max(columns.id)).where(
        columns.job_id == file.job_id,
        columns.name == file.name,
        columns.at == file.at.isoformat(timespec="microseconds"),
    )
    connection.execute(delete(tables.attachments).where(columns.id == newest.scalar_subquery()))


def listed(connection: Connection, job_id: int) -> tuple[Attachment, ...]:
    """The files of a job, by name."""
    columns = tables.attachments.c
    newest = select(func.max(columns.id)).where(columns.job_id == job_id).group_by(columns.name)
    rows = connection.execute(
        select(columns.name, columns.by, columns.at, func.length(columns.content).label("size"))
        .where(columns.id.in_(newest))
        .order_by(columns.name)
    )
    return tuple(
        Attachment(job_id, row["name"], row["size"], row["by"], datetime.fromisoformat(row["at"]))
        for row in rows.mappings()
    )


def content(connection: Connection, job_id: int, name: str) -> bytes:
    """The content of a job's file.

    Raises:
        StoreError: it has no such file.
    """
    columns = tables.attachments.c
    found = connection.execute(
        select(columns.content)
        .where(columns.job_id == job_id, columns.name == checks.file_name(name))
        .order_by(columns.id.desc())
        .limit(1)
    ).scalar()
    if found is None:
        message = f"the job has no file {name[:60]!a}; attach it first"
        raise StoreError(message)
    return bytes(found)
