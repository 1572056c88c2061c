"""Where the studs of a slanted one-piece bridge stand: the straight line nearest the wanted saddle places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan, degrees

import numpy as np

from scribeline.strings.spec import StringsError


@dataclass(frozen=True, slots=True)
class Studs:
    """The studs' places.

    Attributes:
        treble: treble stud's centre past the scale line, mm.
        bass: bass stud's.
        slant_deg: turn of the bridge, degrees; positive takes the bass end further back.
        behind: how far behind the ridge each string wants its saddle, mm, treble first; negative in front.
    """

    treble: float
    bass: float
    slant_deg: float
    behind: tuple[float, ...]


def place_studs(wanted: Sequence[float], y: Sequence[float], spread: float, *, ridge: float = 0.0) -> Studs:
    """Place the studs so that the bridge's straight ridge misses the wanted saddle places by the least squares.

    With s the wanted places, y where they lie across and m a mean, the ridge is s = m(s) + k (y − m(y)), where
    k = Σ (y − m(y)) (s − m(s)) / Σ (y − m(y))².

    Args:
        wanted: saddles past the scale line, mm, treble first.
        y: where each lies across, from the middle towards the treble, mm.
        spread: stud to stud, mm.
        ridge: how far the ridge lies behind the studs' centres, along the strings, mm; negative in front.

    Raises:
        StringsError: the two lists differ in length, or are empty.
    """
    if len(wanted) != len(y) or not wanted:
        raise StringsError("the studs need one wanted place for every string, and at least one string")
    s, across = np.asarray(wanted, dtype=np.float64), np.asarray(y, dtype=np.float64)
    off = across - across.mean()
    squares = float(off @ off)
    slope = float(off @ (s - s.mean())) / squares if squares > 0 else 0.0
    middle = float(s.mean() - slope * across.mean())
    half = slope * spread / 2
    return Studs(
        treble=middle + half - ridge,
        bass=middle - half - ridge,
        slant_deg=-degrees(atan(slope)),
        behind=tuple((s - middle - slope * across).tolist()),
    )
