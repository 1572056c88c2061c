"""What the commands write: whole or not at all, and never over what they were given."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import count
from pathlib import Path

from scribeline.files import FileFault, replace_all, same_file


def write_all(folder: Path, files: Mapping[str, bytes], *, given: Iterable[Path] = ()) -> list[Path]:
    """Write every file or none; those that stand there are replaced as one set.

    Args:
        folder: made if missing.
        files: content by file name.
        given: the job, and what it names; none of them is written over.

    Returns:
        The files written, in order.

    Raises:
        FileFault: one cannot be written, or is one of those given. Every file is as it was before.
    """
    paths = {folder / name: content for name, content in files.items()}
    for path in paths:
        for each in given:
            if same_file(path, each):
                message = (
                    f"{path} is what the job is read from, and is not written over. Name another folder or file. "
                    "Nothing was written."
                )
                raise FileFault(message)
    return replace_all(paths)


def differs(path: Path, content: bytes) -> bool:
    """Whether a file is there and holds something else."""
    return path.is_file() and path.read_bytes() != content


def set_aside(path: Path) -> Path:
    """Give a file a name of its own beside its old one, so that another can take its place."""
    names = (path.with_stem(f"{path.stem}-kept{n or ''}") for n in count())
    kept = next(name for name in names if not name.exists())
    return path.rename(kept)
