"""The whole store as one file, checked; and back."""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from pathlib import Path

from scribeline.store.faults import StoreError


def write_backup(source: Path, target: Path) -> None:
    """Copy the store as it is at one moment, also while others write to it.

    Raises:
        StoreError: something stands at `target` already, or the copy is not whole.
    """
    if target.exists():
        message = f"{target} exists already: a backup never writes over a file; name another"
        raise StoreError(message)
    _copy(source, target, of="the store")


def restore_store(backup: Path, path: Path) -> None:
    """Put a backup in place as the store at `path`.

    Raises:
        StoreError: there is a store at `path` already, or the backup is missing, damaged or no store.
    """
    if not backup.is_file():
        message = f"there is no file {backup}; name the backup to restore"
        raise StoreError(message)
    for taken in (path, *(path.with_name(path.name + end) for end in ("-wal", "-shm"))):
        if taken.exists():
            message = f"{taken} exists already: move it away first, so that nothing in it is lost"
            raise StoreError(message)
    _copy(backup, path, of="the backup")


def _copy(source: Path, target: Path, *, of: str) -> None:
    """Copy a database through SQLite, check the copy, flush it, and only then give it its name."""
    target.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".scribeline-", dir=target.parent) as beside:
        copy = Path(beside) / "copy"
        try:
            _copied(source, copy)
        except sqlite3.DatabaseError as fault:
            message = f"{of}, {source}, cannot be read as a store ({fault}); take another backup"
            raise StoreError(message) from fault
        with copy.open("rb+") as file:
            os.fsync(file.fileno())
        try:
            _give_name(copy, target)
        except FileExistsError as fault:
            message = f"{target} exists already; name another"
            raise StoreError(message) from fault
    _flush_folder(target.parent)


def _give_name(copy: Path, target: Path) -> None:
    """Put the finished copy in its place; unlike a rename this never writes over a file that came meanwhile."""
    try:
        os.link(copy, target)
    except FileExistsError:
        raise
    except OSError:  # a memory stick's file system has no second names: copy, refusing a name that is taken
        with target.open("xb") as out, copy.open("rb") as whole:
            shutil.copyfileobj(whole, out)
            out.flush()
            os.fsync(out.fileno())


def _copied(source: Path, copy: Path) -> None:
    read_only = sqlite3.connect(f"{source.absolute().as_uri()}?mode=ro", uri=True)
    written = sqlite3.connect(copy)
    try:
        read_only.backup(written)
        written.execute("PRAGMA journal_mode = DELETE")  # one file, nothing beside it
        faults = [row[0] for row in written.execute("PRAGMA integrity_check")]
        if faults != ["ok"] or written.execute("PRAGMA foreign_key_check").fetchone() is not None:
            message = f"it is damaged: {faults[0]}"
            raise sqlite3.DatabaseError(message)
        if written.execute("SELECT version_num FROM alembic_version").fetchone() is None:
            message = "it holds no version"
            raise sqlite3.DatabaseError(message)
    finally:
        written.close()
        read_only.close()


def _flush_folder(folder: Path) -> None:
    """Make the new name itself durable, where the system can."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:  # some systems do not open folders
        return
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
