"""Where the frets fall, and the board's taper under them."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

CENTS_PER_OCTAVE = 1200.0


def equal_temperament(frets: int) -> Floats:
    """Cents of each fret above the open string in twelve-tone equal temperament, shape (frets,)."""
    return 100.0 * np.arange(1, frets + 1, dtype=np.float64)


def fret_distances(scale: ArrayLike, cents: ArrayLike) -> Floats:
    """Distance of each fret from the nut, mm: d = L (1 − 2^(−c/1200)).

    A stopped string of length L − d sounds c cents above the open one, and frequency goes as 1/length
    (Mersenne's law). Each distance is taken from the nut, never from the fret before it.

    Args:
        scale: scale length(s), mm, shape (...).
        cents: cents above the open string, shape (frets,).

    Returns:
        Distances, shape (..., frets).
    """
    scale_length = np.asarray(scale, dtype=np.float64)[..., np.newaxis]
    return scale_length * (1.0 - np.exp2(-np.asarray(cents, dtype=np.float64) / CENTS_PER_OCTAVE))


def width_at(x: ArrayLike, *, nut_width: float, end: float, end_width: float) -> Floats:
    """Width of a straight-tapered board at distance x from the nut, mm, same shape as x."""
    along = np.asarray(x, dtype=np.float64)
    return nut_width + (end_width - nut_width) * along / end
