"""The whole store as one file, checked; and back."""

from __future__ import annotations

import os
import shutil
import sqlite3
from pathlib import Path

from scribeline.files import flush_folder, unfinished, why
from scribeline.store.faults import DiskFault, StoreError


def write_backup(source: Path, target: Path) -> None:
    """Copy the store as it is at one moment, also while others write to it.

    Raises:
        StoreError: something stands at `target` already, or the copy is not whole.
    """
    if target.exists():
        message = f"{target} exists already: a backup never writes over a file; name another"
        raise StoreError(message)
    _copy(source, target, of="the store", do="restore the newest backup into another folder")


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
    _copy(backup, path, of="the backup", do="take another backup")


def _copy(source: Path, target: Path, *, of: str, do: str) -> None:
    """Copy a database through SQLite, check the copy, flush it, and only then give it its name."""
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with unfinished(target.parent) as beside:
            copy = beside / "copy"
            copy.touch(mode=0o600)  # a backup holds all the store does: its owner's alone
            try:
                _copied(source, copy)
            except sqlite3.DatabaseError as fault:
                raise _refused(source, target, fault, of=of, do=do) from fault
            with copy.open("rb+") as file:
                os.fsync(file.fileno())
            _give_name(copy, target)
    except FileExistsError as fault:
        message = f"{target} exists already; name another"
        raise StoreError(message) from fault
    except OSError as fault:
        message = f"{target} cannot be written: {why(fault)}. {of[0].upper()}{of[1:]} is as it was."
        raise DiskFault(message) from fault
    flush_folder(target.parent)


def _refused(source: Path, target: Path, fault: sqlite3.DatabaseError, *, of: str, do: str) -> StoreError:
    """What a copy that was not made means: the disk it goes to has no room, or what it comes from is not whole."""
    if getattr(fault, "sqlite_errorcode", 0) & 0xFF in {sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR}:
        return DiskFault(
            f"{target} cannot be written: the disk is full or fails. Nothing is lost; name another place"
        )
    return StoreError(f"{of}, {source}, is damaged or no store. It is left as it is; {do}")


def _give_name(copy: Path, target: Path) -> None:
    """Put the finished copy in its place; unlike a rename this never writes over a file that came meanwhile."""
    try:
        os.link(copy, target)
    except FileExistsError:
        raise
    except OSError:  # a memory stick's file system has no second names: copy, refusing a name that is taken
        with open(target, "xb", opener=_owners_alone) as out:
            try:
                with copy.open("rb") as whole:
                    shutil.copyfileobj(whole, out)
                out.flush()
                os.fsync(out.fileno())
            except OSError:
                out.close()
                target.unlink()  # half a backup is none
                raise


def _owners_alone(path: str, flags: int) -> int:
    return os.open(path, flags, 0o600)


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
