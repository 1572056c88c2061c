"""The SQLite file: how it is opened so that what was acknowledged stays, and brought up to date.

Write-ahead log and full synchronisation (SQLite documentation, "PRAGMA synchronous": FULL in WAL mode flushes the
log at every commit, so a transaction survives loss of power once its commit has returned). Every writing
transaction takes the write lock as it begins (`BEGIN IMMEDIATE`), so that what it read is still so when it writes.
"""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import URL, Connection, Engine, ExceptionContext, create_engine, event, text
from sqlalchemy.exc import DatabaseError, OperationalError

from scribeline.files import owners_alone, why
from scribeline.store.faults import DiskFault, StoreError

if TYPE_CHECKING:
    from alembic.config import Config

HEAD = "0007"
"""Newest migration; a test holds it to the files in `migrations/versions`."""

PATIENCE_S = 30.0
"""How long one writer waits for another."""


def open_engine(path: Path) -> Engine:
    """The database at a path, made if missing and migrated to the newest form.

    Raises:
        StoreError: the file is no store, or of a later version, or cannot be opened.
    """
    # The name apart from the rest of the address: a folder's name may hold ? and %.
    address = URL.create("sqlite", database=str(path.absolute()))
    engine = create_engine(address, pool_size=4, max_overflow=28)
    event.listen(engine, "handle_error", partial(_in_words, path))
    event.listen(engine, "connect", _set_up)
    event.listen(engine, "begin", _begin)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        _close_to_others(path)
        _migrate(engine, path)
    except (DatabaseError, OSError) as fault:
        engine.dispose()
        reason = why(fault) if isinstance(fault, OSError) else str(fault.orig)
        message = (
            f"{path} cannot be opened as the shop's store: {reason}; restore a backup, or name another file"
        )
        raise StoreError(message) from fault
    except StoreError:
        engine.dispose()
        raise
    return engine


def _close_to_others(path: Path) -> None:
    """Have the file, made if missing, and what stands beside it be its owner's alone.

    SQLite gives the log and its index the leave that the file has. An open file is not touched: closing it again would
    let go the locks that this process holds on it (SQLite documentation, "How To Corrupt An SQLite Database File", 2.2).
    """
    with suppress(OSError):  # it is there, or cannot be made: SQLite tells
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
    for end in ("", "-wal", "-shm"):
        owners_alone(path.with_name(path.name + end))


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """A transaction that holds the write lock from its first statement; on return it is on the disk."""
    with engine.connect().execution_options(scribeline_writes=True) as connection, connection.begin():
        yield connection


_SAFE = "What was acknowledged before is kept; this change was not made."

_DAMAGED = (
    "is damaged. Nothing was written to it. Stop the app, copy it and its -wal file to a safe place, then bring the newest "
    "backup back into another folder: scribeline serve --data FOLDER --restore BACKUP"
)

_REFUSALS = {
    sqlite3.SQLITE_FULL: f"cannot grow: the disk is full. {_SAFE} Make room, then do it again",
    sqlite3.SQLITE_READONLY: (
        f"may only be read. {_SAFE} Give this account leave to write the file and its folder, then do it again"
    ),
    sqlite3.SQLITE_IOERR: (
        f"cannot be read or written: the disk refuses. {_SAFE} Look whether the disk is full or fails, take a backup, "
        "then do it again"
    ),
    sqlite3.SQLITE_CORRUPT: _DAMAGED,
    sqlite3.SQLITE_NOTADB: (
        "cannot be opened as the shop's store: it is no database, or its beginning is damaged. Nothing was written to it. "
        "Name another file, or bring a backup back into another folder"
    ),
    sqlite3.SQLITE_BUSY: f"is held by another program. {_SAFE} Close that program, then do it again",
    sqlite3.SQLITE_CANTOPEN: (
        "cannot be opened. Nothing was changed. Look whether its folder is there, may be written to and has room"
    ),
}
"""What is said of the database file where the disk or the file itself refuses, by SQLite's primary result code
(SQLite documentation, "Result and Error Codes": the low eight bits of an extended code)."""


def disk_fault(path: Path, fault: BaseException | None) -> DiskFault | None:
    """What a refusal of the disk or of the file means, in words; None where it is another matter."""
    code = getattr(fault, "sqlite_errorcode", 0) & 0xFF
    return DiskFault(f"{path} {_REFUSALS[code]}") if code in _REFUSALS else None


def _in_words(path: Path, context: ExceptionContext) -> None:
    """Have a refusal of the disk raised as words for a person.

    A connection that may only read stays so whatever is done to the file: the next call begins with fresh ones.
    """
    if getattr(context.original_exception, "sqlite_errorcode", 0) & 0xFF == sqlite3.SQLITE_READONLY:
        context.is_disconnect = True
    if (told := disk_fault(path, context.original_exception)) is not None:
        raise told


def _set_up(connection: sqlite3.Connection, _record: object) -> None:
    """Settings that belong to a connection; transactions are begun by `_begin`, not by the driver."""
    connection.isolation_level = None
    connection.execute(f"PRAGMA busy_timeout = {int(PATIENCE_S * 1000)}")
    _use_write_ahead_log(connection)
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA foreign_keys = ON")


def _use_write_ahead_log(connection: sqlite3.Connection) -> None:
    """Switch the file to its write-ahead log; while another process is doing so SQLite does not wait by itself."""
    deadline = time.monotonic() + PATIENCE_S
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as fault:
            if "locked" not in str(fault) or time.monotonic() > deadline:
                raise
            time.sleep(0.01)
        else:
            return


def _begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get("scribeline_writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _migrate(engine: Engine, path: Path) -> None:
    if _version(engine) == HEAD:
        return
    with writing(engine) as connection:
        version = _version_in(connection)  # another process may have been quicker
        if version is None and _tables(connection):
            message = f"{path} is a database of some other program; name another file"
            raise StoreError(message)
        if version != HEAD:
            _upgrade(connection, version, path)


def _version(engine: Engine) -> str | None:
    with engine.connect() as connection:
        return _version_in(connection)


def _version_in(connection: Connection) -> str | None:
    try:
        found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    except OperationalError as fault:
        if "no such table" not in str(fault.orig):
            raise
        return None
    return None if found is None else str(found)


def _tables(connection: Connection) -> int:
    counted: Any = connection.execute(text("SELECT count(*) FROM sqlite_master")).scalar()
    return int(counted)


def migrations() -> Config:
    """Where the migrations are."""
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", "scribeline.store:migrations")
    config.set_main_option("path_separator", "os")
    return config


def _upgrade(connection: Connection, version: str | None, path: Path) -> None:
    """Bring the file to the newest form inside the transaction that holds the write lock: wholly or not at all."""
    from alembic import command
    from alembic.script import ScriptDirectory

    config = migrations()
    if version is not None and version not in {
        each.revision for each in ScriptDirectory.from_config(config).walk_revisions()
    }:
        message = (
            f"{path} was written by a later version of Scribeline ({version}); use that one, or another file"
        )
        raise StoreError(message)
    config.attributes["connection"] = connection
    command.upgrade(config, "head")
