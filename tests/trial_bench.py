"""Invented benches: how their hands err when they set a neck, read it, mark and drill. What estimates are held against.

Everything here was fixed before any estimator was tuned to it. The accuracies are those of
`tables/accuracies.csv`; how the errors are spread is the trial's: normal, with heavy tails, or greater than anybody states.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SHOPS = 1000
"""Benches a claim about shares is tried on."""

SLIP_SHARE, SLIP_TIMES = 0.05, 4.0
"""Of heavy tails: the share of errors that are slips, and how many times the rest's standard deviation these have."""

UNDERSTATED = 1.5
"""How many times what is stated the errors are, where a shop thinks too well of itself."""

GROSS = 8.0
"""A reading gone wrong is off by so many of its own standard deviations."""

COVERED = (0.93, 0.97)
"""Between which shares a region of 95 % must hold the truth."""

NAMED, FALSELY_NAMED = 0.95, 0.05
"""How often a reading gone wrong is named at least, and a sound one at most."""

NECK_OFFSET_SD, NECK_SKEW_SD = 0.5, 0.0035
"""How necks come to lie where nobody corrected them: off the centreline at the pocket's end wall, mm, and turned, rad (0.2
degrees); common practice, no source."""

Spread = Literal["normal", "heavy tails", "understated"]


@dataclass(frozen=True, slots=True)
class Errors:
    """Draws errors of a bench.

    Attributes:
        spread: how they are spread about nothing.
        random: where they are drawn from.
    """

    spread: Spread
    random: np.random.Generator

    def draw(self, sd: float | Floats, size: int | tuple[int, ...]) -> Floats:
        """Errors with this standard deviation, as the bench would state it; mm or rad."""
        found: Floats = self.random.standard_normal(size) * sd
        if self.spread == "understated":
            found = found * UNDERSTATED
        if self.spread == "heavy tails":
            slips = self.random.random(size) < SLIP_SHARE
            found = np.where(slips, found * SLIP_TIMES, found)
        return found


def setting_out(sds: Mapping[str, float], *steps: str) -> float:
    """Standard deviation of a place that came about by several steps, each with an error of its own, mm."""
    return sqrt(sum(sds[step] ** 2 for step in steps))


# A careless builder, who plays whole instruments. Fixed before the first of them was built.

BUILDS = 500
"""Instruments that a careless builder makes in each way of working."""

METHODS = {
    "rule": "rule",
    "line": "mark-pencil",
    "prick": "prick-awl-ring",
    "screw start": "bit-twist",
    "hole start": "bit-brad",
    "template": "template-tape",
    "edge": "template-bearing",
    "tape": "tape",
    "thread": "thread",
    "thickness": "caliper-wood",
    "depth gauge": "depth-gauge",
    "router": "depth-router",
    "stop": "depth-press",
    "hand depth": "depth-tape",
    "rule scale": "rule-scale",
    "press": "lean-press",
    "trued press": "lean-press-trued",
    "pin": "flip-pin",
    "fence": "fence-batten",
}
"""By what a careless builder does each thing, the plain way: keys of `tables/accuracies.csv`. The timber is ring-porous."""

BUILDER_SPREAD: Spread = "heavy tails"
"""How a careless builder's errors are spread."""

BOARD_SIDE = 0.05
"""What a board's half width is off, mm, evenly; likewise `bridge.measured` of the plate."""

SLIPS = {
    "misread by 1": (0.01, 1.0),
    "misread by 5": (0.002, 5.0),
    "wrong edge": (0.003, 1.2),
}
"""Of every number that is read, marked or set: how often it is wrong by so much, mm, either way. The wrong edge is the side of a
fret's crown for its middle (the demo's is 2.4 mm wide), or the like of a line, a rule, a board; of depths there is none. All
common practice, no source."""

SKIPPED = 0.01
"""How often a step that measures, tries or checks is left out, or the check of a step that cuts; common practice, no source."""

SETTINGS = 3
"""How often a careless builder sets a neck or a plate at the most before he goes on at his own risk. What fails is read twice
before he believes it."""

STRINGS_OFF_PICKUP = 1.0
"""How far the strings' middle may run off the middle of a pickup's cavity, mm (common practice, no source)."""
