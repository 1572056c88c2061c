"""Where the frets fall."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from scribeline.quantities import exp2
from scribeline.strings.spec import Floats

OCTAVE_CENTS = 1200.0
TWELVE = 12.0
"""Equal divisions of the octave where nothing else is stated."""


def equal_temperament(frets: int, divisions: float = TWELVE) -> Floats:
    """Cents of each fret above the open string where the octave is divided evenly, shape (frets,)."""
    return equal_steps(np.arange(1, frets + 1, dtype=np.float64), divisions)  # type: ignore[arg-type, return-value]


def equal_steps(fret: float, divisions: float) -> float:
    """Cents of so many steps, of which so many make an octave."""
    return OCTAVE_CENTS * fret / divisions


def fret_place(length: Floats, cents: Floats) -> Floats:
    """Distance of a fret from the nut, mm, that sounds so many cents above the open string: L (1 − 2^(−c/1200)).

    A stopped string of length L − d sounds c cents above the open one, and frequency goes as 1/length (Mersenne's law).
    """
    place: Floats = length * (1 - exp2(-cents / OCTAVE_CENTS))
    return place


def fret_distances(scale: ArrayLike, cents: ArrayLike) -> Floats:
    """Distance of each fret from the nut, mm, by `fret_place`: each taken from the nut, never from the fret before it.

    Args:
        scale: scale length(s), mm, shape (...).
        cents: cents above the open string, shape (frets,).

    Returns:
        Distances, shape (..., frets).
    """
    length = np.asarray(scale, dtype=np.float64)[..., np.newaxis]
    return fret_place(length, np.asarray(cents, dtype=np.float64))
