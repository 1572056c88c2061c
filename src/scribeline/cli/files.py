"""Writing files whole or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from pathlib import Path


def write_all(folder: Path, files: Mapping[str, bytes]) -> list[Path]:
    """Write every file or none: all are written beside their places first, then moved there one by one.

    Args:
        folder: made if missing.
        files: content by file name.

    Returns:
        The files written, in order.
    """
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".scribeline-", dir=folder) as beside:
        for name, content in files.items():
            (Path(beside) / name).write_bytes(content)
        for name in files:
            os.replace(Path(beside) / name, folder / name)  # noqa: PTH105 - replaces what is there, on Windows too
    return [folder / name for name in files]
