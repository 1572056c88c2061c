"""Where the frets fall."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from scribeline.quantities import exp2
from scribeline.strings.spec import Floats

OCTAVE_CENTS = 1200.0


def equal_temperament(frets: int) -> Floats:
    """Cents of each fret above the open string in twelve-tone equal temperament, shape (frets,)."""
    return semitones(np.arange(1, frets + 1, dtype=np.float64))


def semitones(fret: Floats) -> Floats:
    """Cents of so many semitones."""
    return 100 * fret


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
