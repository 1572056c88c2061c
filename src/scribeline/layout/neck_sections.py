"""The sections a neck can be carved to: how deep the wood is under the fingerboard, from the middle to the board's edge.

A section is told in shares: across, 0 is the middle and 1 the board's edge; the depth is 1 in the middle and 0 at the edge.
Half a superellipse is |across|^m + depth^m = 1; with m = 2 it is half an ellipse, a smaller m draws it in towards a v, a
larger one flattens the back. The area under it is G(1 + 1/m)² / G(1 + 2/m) of the box round it, G being the gamma function.

Another section is a class with these two, or another exponent, and its word in `job.neck_blank.SectionName`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import gamma
from typing import Protocol

import numpy as np

from scribeline.job import SectionName
from scribeline.layout.frets import Floats


class Section(Protocol):
    """One section of a neck, in shares of half its width and of its depth."""

    def depth(self, across: Floats) -> Floats:
        """Depth at shares across from 0 to 1, same shape: 1 in the middle, never growing, 0 at the edge."""
        ...

    @property
    def area(self) -> float:
        """Mean depth from the middle to the edge."""
        ...


@dataclass(frozen=True, slots=True)
class Superellipse:
    """Half a superellipse."""

    exponent: float

    def depth(self, across: Floats) -> Floats:
        """Depth at shares across, same shape."""
        m = self.exponent
        inside: Floats = np.clip(1.0 - np.abs(across) ** m, 0.0, 1.0)
        return np.asarray(inside ** (1.0 / m))

    @property
    def area(self) -> float:
        """Mean depth from the middle to the edge."""
        m = self.exponent
        return gamma(1 + 1 / m) ** 2 / gamma(1 + 2 / m)


SECTIONS: Mapping[SectionName, Section] = {
    "round": Superellipse(2.0),
    "soft v": Superellipse(1.7),
    "flat": Superellipse(2.6),
}
"""Every section by the word the job has for it (the exponents are our own choice)."""
