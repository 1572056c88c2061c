"""Files that are written whole or not at all, several as one; who holds a folder; and why a disk refuses, in words.

A set of files is replaced in three moves: every new part is written and flushed beside its place, every old file is kept
aside under a second name, and only then is each new part given its name, which a file system does in one go (POSIX
`rename`; `os.replace` elsewhere). Where one cannot be replaced the others are put back, so that a folder never holds
two sets at once. A process killed between two names (a moment for a pack) leaves some files new and some old, each of them
whole; no note is kept for finishing them later: the run that is made again writes the whole set anyway, and until then
finishing it could write over what somebody has put there meanwhile.
"""

from __future__ import annotations

import errno
import os
import shutil
import stat
import sys
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import IO

UNFINISHED = ".scribeline-"
"""How the folders begin in which parts are written."""

HOLDER = "held"
"""In such a folder: the file that its maker holds as long as it works."""


class FileFault(OSError):  # noqa: N818 - reads as what it is where it is caught
    """A file or folder that cannot be written, in a sentence for a person."""


_WHY = {
    errno.ENOSPC: "the disk is full: make room, then do it again",
    errno.EDQUOT: "your share of the disk is used up: make room, then do it again",
    errno.EFBIG: "the file is larger than the disk or this account may hold: use another disk or folder",
    errno.EROFS: "the disk may only be read: name a folder on another one",
    errno.EACCES: "you may not write or read there: name another folder, or close the program that has it open",
    errno.EPERM: "you may not write or read there: name another folder, or close the program that has it open",
    errno.EBUSY: "another program has it open: close it there, then do it again",
    errno.ETXTBSY: "another program has it open: close it there, then do it again",
    errno.EIO: "the disk fails: copy what matters to another one",
    errno.ENOTDIR: "a part of its path is a file, not a folder: name another",
    errno.EISDIR: "a folder has that name: name another, or move the folder away",
    errno.ENOENT: "it is not there: check the name",
    errno.ENAMETOOLONG: "the name is too long: choose a shorter one",
    errno.ELOOP: "its links lead round in a ring: name the file itself",
    errno.EEXIST: "something of that name is there already: name another",
    errno.EMFILE: "too many files are open on the PC: close some programs",
    errno.ENFILE: "too many files are open on the PC: close some programs",
}


def why(fault: OSError) -> str:
    """Why the system refused and what to do, without its number."""
    if isinstance(fault, FileFault):
        return str(fault)
    return _WHY.get(fault.errno or 0) or (fault.strerror or str(fault) or "the system refused").lower()


def told(fault: OSError) -> str:
    """The whole sentence: which file, why, what to do."""
    if isinstance(fault, FileFault) or fault.errno is None:
        return str(fault)
    named = fault.filename if isinstance(fault.filename, str | Path) else ""
    return f"{named}: {why(fault)}" if named else why(fault)


# Files as one


def replace_all(files: Mapping[Path, bytes]) -> list[Path]:
    """Write every file or none; those that stand there are replaced as one set.

    A file keeps its permissions. A link is written through. Folders are made where they are missing.

    Args:
        files: content by path.

    Returns:
        The paths written, in order.

    Raises:
        FileFault: one cannot be written. Every file is as it was before.
    """
    here = {path: _target(path) for path in files}
    with ExitStack() as stack:
        rooms: dict[Path, Path] = {}
        parts: list[tuple[Path, Path, Path | None]] = []
        for number, (path, content) in enumerate(files.items()):
            target = here[path]
            try:
                if target.parent not in rooms:
                    target.parent.mkdir(parents=True, exist_ok=True)
                    rooms[target.parent] = stack.enter_context(unfinished(target.parent))
                room = rooms[target.parent]
                parts.append(
                    (_written(room / f"new-{number}", content, target), target, _aside(target, room, number))
                )
            except OSError as fault:
                message = f"{path} cannot be written: {why(fault)}. Nothing was changed."
                raise FileFault(message) from fault
        _put(parts)
    for folder in rooms:
        flush_folder(folder)
    return list(files)


def _target(path: Path) -> Path:
    """The file itself, behind any links.

    Raises:
        FileFault: something else has its name.
    """
    try:
        target = path.resolve()
        mode = target.stat().st_mode
    except FileNotFoundError:
        return target
    except (OSError, RuntimeError) as fault:
        reason = why(fault) if isinstance(fault, OSError) else _WHY[errno.ELOOP]
        message = f"{path} cannot be written: {reason}. Nothing was changed."
        raise FileFault(message) from fault
    if stat.S_ISDIR(mode):
        message = f"{path} cannot be written: {_WHY[errno.EISDIR]}. Nothing was changed."
        raise FileFault(message)
    if not stat.S_ISREG(mode):
        message = f"{path} is no ordinary file; name one. Nothing was changed."
        raise FileFault(message)
    return target


def _written(part: Path, content: bytes, target: Path) -> Path:
    """The new content under another name, on the disk, with the permissions of what it takes the place of."""
    with part.open("xb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    with suppress(FileNotFoundError):
        was = target.stat()
        if os.name == "posix":
            with suppress(PermissionError):
                os.chown(part, was.st_uid, was.st_gid)
        part.chmod(stat.S_IMODE(was.st_mode))
    return part


def _aside(target: Path, room: Path, number: int) -> Path | None:
    """The old file under a second name; None where there is none."""
    if not target.exists():
        return None
    old = room / f"old-{number}"
    try:
        os.link(target, old)
    except OSError:  # a file system without second names
        shutil.copy2(target, old)
    return old


def _put(parts: list[tuple[Path, Path, Path | None]]) -> None:
    """Give every part its name; where one does not take it, give the others their old content back."""
    done: list[tuple[Path, Path | None]] = []
    for part, target, old in parts:
        try:
            os.replace(part, target)  # noqa: PTH105 - replaces what is there, on Windows too
        except OSError as fault:
            stuck = [name for name in map(_put_back, reversed(done)) if name]
            rest = (
                f"These are new already and could not be put back: {', '.join(stuck)}; write all again."
                if stuck
                else "Every file is as it was."
            )
            message = f"{target} cannot be replaced: {why(fault)}. {rest}"
            raise FileFault(message) from fault
        done.append((target, old))


def _put_back(placed: tuple[Path, Path | None]) -> str:
    """Undo one replacement; the file's name where that fails."""
    target, old = placed
    try:
        if old is None:
            target.unlink()
        else:
            os.replace(old, target)  # noqa: PTH105
    except OSError:
        return target.name
    return ""


@contextmanager
def unfinished(folder: Path) -> Iterator[Path]:
    """A hidden folder in `folder` for parts that are not finished, gone afterwards; left-overs of others go too."""
    clear(folder)
    with (
        tempfile.TemporaryDirectory(prefix=UNFINISHED, dir=folder, ignore_cleanup_errors=True) as name,
        held(Path(name) / HOLDER),
    ):
        yield Path(name)


def clear(folder: Path) -> None:
    """Remove what was left half done in a folder by a process that is gone."""
    for left in folder.glob(f"{UNFINISHED}*"):
        holder = left / HOLDER
        # Without that file it was made this instant, or is not ours.
        if left.is_dir() and not left.is_symlink() and holder.exists():
            with suppress(OSError):
                with held(holder):
                    pass  # whoever made it is gone
                shutil.rmtree(left, ignore_errors=True)


def flush_folder(folder: Path) -> None:
    """Make new names in a folder durable, where the system can."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:  # some systems do not open folders
        return
    try:
        with suppress(OSError):
            os.fsync(handle)
    finally:
        os.close(handle)


def same_file(one: Path, other: Path) -> bool:
    """Whether two paths lead to one file that is there."""
    try:
        return one.samefile(other)
    except OSError:
        return False


# Who may read what


def owners_alone(path: Path) -> None:
    """Take from everybody else the leave to read, write or enter a file or folder of this account.

    A system or a disk that knows no such thing keeps it as it is.
    """
    if os.name == "posix":
        with suppress(OSError):
            was = path.stat()
            if was.st_uid == os.geteuid() and was.st_mode & 0o077:
                path.chmod(stat.S_IMODE(was.st_mode) & 0o700)


# Who holds what


class Taken(FileFault):
    """Another process holds the file.

    Attributes:
        words: what it wrote there.
    """

    def __init__(self, path: Path, words: str) -> None:
        self.words = words
        super().__init__(f"{path} is in use by another process")


@contextmanager
def held(path: Path, words: str = "") -> Iterator[IO[bytes]]:
    """Hold a file for as long as the block lasts; the system lets it go when the process ends, however it ends.

    Args:
        path: made if missing.
        words: written into it, for the next one who asks.

    Raises:
        Taken: another process holds it.
    """
    with path.open("a+b") as file:
        try:
            _lock(file)
        except (BlockingIOError, PermissionError) as fault:
            file.seek(0)
            raise Taken(path, file.read(LONGEST_WORDS).decode("utf-8", "replace").strip()) from fault
        except OSError:  # a network folder whose system knows no locks
            pass
        file.truncate(0)
        file.write(words.encode())
        file.flush()
        yield file


LONGEST_WORDS = 200
"""Bytes read of what the holder of a file says."""

_FAR = 1 << 20
"""Where Windows locks: far behind the words, which must stay readable."""


def _lock(file: IO[bytes]) -> None:
    if sys.platform == "win32":
        import msvcrt

        file.seek(_FAR)
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        file.seek(0)
    else:
        import fcntl

        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
