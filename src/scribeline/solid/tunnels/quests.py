"""What is looked for: with each bit something that is to be as large as it can be, while limits are kept."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np

from scribeline.solid.tunnels.courses import MARGINS, Bench, Ways
from scribeline.solid.tunnels.tried import Tried

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]
    Bools = NDArray[np.bool_]

Goal = Literal["cover", "hidden", "reach", "chuck", "window", "diameter"]
"""What is made as large as it can be, all else being kept."""

COLUMN = {"cover": 0, "diameter": len(MARGINS) + 1} | {name: i + 1 for i, name in enumerate(MARGINS)}
"""Which column of (cover, the margins, diameter) each goal is."""

WITHIN = 1e-4
"""A limit broken by less counts as kept, mm."""

GIVE = 10.0
SOFT = 3.0
"""What a broken limit costs, mm of wood for each mm; and what it costs a way in the first rounds: one step may mend it.
"""

_SEED = 20_011


class Quests:
    """What is looked for with each bit of a bench; the number of a way's bit is that of its quest.

    Args:
        bench: the problem and the bits.
        goals: what is made large with each bit.
        least: wood wanted everywhere, mm.
    """

    def __init__(self, bench: Bench, goals: tuple[Goal, ...], least: float) -> None:
        self.bench, self.goals, self.least = bench, goals, least
        self.random = np.random.Generator(np.random.PCG64(_SEED))
        self.goal = np.array([COLUMN[goal] for goal in goals])
        self.give = GIVE
        self.free = 5 if "diameter" in goals else 4
        # Limits that are not asked of each quest: what it makes large, and of reach and chuck either for the other.
        self.left_out = np.zeros((len(goals), len(MARGINS) + 2), dtype=bool)
        self.left_out[np.arange(len(goals)), self.goal] = True
        for one, other in (("reach", "chuck"), ("chuck", "reach")):
            self.left_out[self.goal == COLUMN[one], COLUMN[other]] = True

    def score(self, bit: Ints, cover: Floats, margins: Floats, r: Floats) -> Floats:
        """What is to be made as large as can be; where limits are broken, how far they are from being kept."""
        broken = np.maximum(0.0, -self.worst(bit, cover, margins))
        return np.asarray(self.sought(bit, cover, margins, r) - self.give * broken)

    def sought(self, bit: Ints, cover: Floats, margins: Floats, r: Floats) -> Floats:
        """What each quest is to make as large as can be."""
        every = np.column_stack([cover, margins, 2 * r])
        return np.asarray(every[np.arange(len(bit)), self.goal[bit]])

    def priced(self, tried: Tried, give: float) -> Floats:
        """The same where each mm by which a limit is broken costs so much."""
        return np.asarray(tried.score + (self.give - give) * self.short(tried))

    def worst(self, bit: Ints, cover: Floats, margins: Floats) -> Floats:
        """What is left of the limit that each way keeps least."""
        every = np.column_stack([cover - self.least, margins, cover])
        return np.asarray(np.where(self.left_out[bit], np.inf, every).min(axis=1))

    def short(self, tried: Tried) -> Floats:
        """By how much each way breaks the limit that it keeps least, mm; 0 where it keeps all."""
        return np.maximum(0.0, -self.worst(tried.ways.bit, tried.cover, tried.margins))

    def keeps(self, tried: Tried) -> Bools:
        """Whether each way keeps every limit but the one its quest eases."""
        return self.short(tried) <= WITHIN

    def each_face(self, hulls: Floats) -> Floats:
        """The same, disc by disc and face by face, (n, parts)."""
        reach = np.sqrt(hulls[:, :, 1, 2] ** 2 + hulls[:, :, 2, 2] ** 2)
        back = hulls[:, :, 0, 2] - reach + self.bench.problem.thickness
        if self.bench.problem.start == "face":
            return np.asarray(back)
        return np.column_stack([back, -(hulls[:, :, 0, 2] + reach)])

    def faces(self, hulls: Floats) -> Floats:
        """Wood to the faces it is not drilled from, exact."""
        return np.asarray(self.each_face(hulls).min(axis=1))

    def round_about(self, ways: Ways, many: int, far: Floats) -> Ways:
        """Ways at random no further off than this in any of their numbers, so many of each."""
        entry, exit_, bit = (np.repeat(part, many) for part in (ways.entry, ways.exit, ways.bit))
        low, high = self.bench.ranges(entry, exit_, bit)
        at = np.repeat(ways.at, many, axis=0) + far * (2.0 * self.random.random((len(entry), 5)) - 1.0)
        return Ways(entry, exit_, bit, np.clip(at, low, high))
