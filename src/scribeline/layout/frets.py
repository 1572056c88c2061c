"""The board's taper under the frets; where these fall, `strings.frets` says."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scribeline.job import Document

Floats = NDArray[np.float64]


def taper(along: Floats, nut_width: float, end: float, end_width: float) -> Floats:
    """Width of a straight-tapered board at a distance from the nut, mm."""
    return nut_width + (end_width - nut_width) * along / end


def narrowing(nut_width: float, end: float, end_width: float) -> float:
    """By how much a straight-tapered board grows in width for each mm from the nut, mm."""
    return (end_width - nut_width) / end


def width_at(x: ArrayLike, *, nut_width: float, end: float, end_width: float) -> Floats:
    """Width of a straight-tapered board at distance x from the nut, mm, same shape as x."""
    return taper(np.asarray(x, dtype=np.float64), nut_width, end, end_width)


def board_width(document: Document, x: ArrayLike) -> Floats:
    """Width of the job's fingerboard at distance x from the nut, mm, same shape as x."""
    board = document.fingerboard
    return width_at(x, nut_width=document.nut.width, end=board.end, end_width=board.width_at_end)


def board_narrows(document: Document) -> float:
    """By how much the job's fingerboard grows in width for each mm from the nut, mm."""
    board = document.fingerboard
    return narrowing(document.nut.width, board.end, board.width_at_end)
