"""Where the bridge plate goes, so that every saddle can reach its place with travel to spare."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from scribeline.layout.frets import Floats


@dataclass(frozen=True, slots=True)
class Window:
    """Where the plate's front edge may lie, mm past the scale line (negative: towards the nut).

    Attributes:
        low: most forward position at which every saddle keeps its reserve.
        high: most rearward one; lower than `low` when there is none.
        aim: position with the largest least reserve, whether or not that is enough.
        forward: per string, travel left towards the nut with the plate at the aim.
        back: per string, travel left towards the tail with the plate at the aim.
    """

    low: float
    high: float
    aim: float
    forward: tuple[float, ...]
    back: tuple[float, ...]

    @property
    def is_empty(self) -> bool:
        """True when no position gives every saddle its reserve."""
        return self.high < self.low - 1e-9

    @property
    def shortage(self) -> float:
        """Travel missing, mm; 0 when the window is open."""
        return max(0.0, self.low - self.high) if self.is_empty else 0.0

    @property
    def least_reserve(self) -> float:
        """The smallest travel left at either end of any saddle, at the aim."""
        return min(*self.forward, *self.back)


def place_plate(setbacks: ArrayLike, *, forward_stop: float, back_stop: float, reserve: float) -> Window:
    """The window of plate positions and the aim.

    With the front edge at p past the scale line, a saddle's break point reaches from p + forward_stop to
    p + back_stop, so a string that wants its break point at s asks for
    s − back_stop + reserve ≤ p ≤ s − forward_stop − reserve. The window is where all strings agree; its middle
    leaves the same reserve to the two strings that limit it, which is the best that any position can do.

    Args:
        setbacks: wanted break points past the scale line, mm, shape (strings,).
        forward_stop: front edge to break point with the saddle fully forward, mm.
        back_stop: the same fully back, mm.
        reserve: travel to keep in hand at each end, mm.
    """
    wanted: Floats = np.asarray(setbacks, dtype=np.float64)
    low = float(wanted.max()) - back_stop + reserve
    high = float(wanted.min()) - forward_stop - reserve
    aim = (low + high) / 2
    return Window(
        low=low,
        high=high,
        aim=aim,
        forward=tuple((wanted - aim - forward_stop).tolist()),
        back=tuple((aim + back_stop - wanted).tolist()),
    )
