"""What a reader of a drawing file hands on, whatever the format."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from scribeline.job.outline.ring import OutlineError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from scribeline.job.outline.loops import Piece

FARTHEST = 1e8
"""A coordinate of this many units leaves no digits for a hundredth of a millimetre."""

MOST_DRAWN_POINTS = 1_000_000

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
    pieces: Callable[[float], Iterator[Piece]]
    mm_per_unit: float | None
    unit: str
    unit_words: str
    likely_units: tuple[tuple[str, float], ...]
    y_down: bool

    def drawn(self, tolerance: float) -> list[Piece]:
        """Everything drawn, flattened to a tolerance in the file's unit.

        Raises:
            OutlineError: If a coordinate is broken or lies out of all reach, or there are too many.
        """
        found: list[Piece] = []
        count = 0
        # Overflow is not warned about but looked for, where the piece can still be named.
        with np.errstate(all="ignore"):
            for piece in self.pieces(tolerance):
                if not (np.abs(piece.points) < FARTHEST).all():
                    raise OutlineError(
                        f"{self.source}: a line on layer '{piece.layer}' has a coordinate that is broken or lies"
                        f" beyond {FARTHEST:.0e} {self.unit}; redraw it, or move the drawing to the origin."
                    )
                count += len(piece.points)
                if count > MOST_DRAWN_POINTS:
                    raise OutlineError(
                        f"{self.source}: more than {MOST_DRAWN_POINTS} points are drawn; name the layer that holds"
                        " the outline alone, or simplify the drawing."
                    )
                found.append(piece)
        return found


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
