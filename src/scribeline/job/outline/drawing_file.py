"""What a reader of a drawing file hands on, whatever the format."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from scribeline.job.outline.ring import OutlineError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from scribeline.job.outline.loops import Piece

LARGEST_FILE = 20_000_000
"""Bytes: a thousand times what a body needs, and still read in seconds."""


@dataclass(frozen=True)
class DrawingFile:
    """An opened drawing.

    Attributes:
        source: The file in words.
        pieces: Flattens everything drawn to a tolerance in the file's unit.
        mm_per_unit: Millimetres in the file's unit, or None where the file does not say.
        unit: The unit as it reads after a number ("mm", "in", "units").
        unit_words: How the unit was found, in words.
        likely_units: Units (name, mm) a file that does not say may well be drawn in.
        y_down: Whether the file's y axis points down the page.
    """

    source: str
    pieces: Callable[[float], list[Piece]]
    mm_per_unit: float | None
    unit: str
    unit_words: str
    likely_units: tuple[tuple[str, float], ...]
    y_down: bool


def bytes_of(path: Path) -> bytes:
    """The bytes of a drawing file.

    Raises:
        OutlineError: If the file is missing, unreadable, empty or beyond the size bound.
    """
    try:
        size = path.stat().st_size
        if size > LARGEST_FILE:
            raise OutlineError(
                f"file {path.name} is {size / 1e6:.0f} MB, more than the"
                f" {LARGEST_FILE / 1e6:.0f} MB an outline"
                " may have; save the outline alone into a new file."
            )
        data = path.read_bytes()
    except OSError as error:
        reason = error.strerror or "it cannot be opened"
        raise OutlineError(
            f"file {path.name} cannot be read ({reason}); check its name and folder."
        ) from None
    if not data.strip():
        raise OutlineError(f"file {path.name} is empty; save the outline from your drawing program again.")
    return data
