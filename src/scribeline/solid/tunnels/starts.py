"""Where the search for a tunnel begins: a few thousand ways spread evenly, judged by cheap measures of the wood."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from scribeline.features import Bit
from scribeline.solid.tunnels.courses import Lines, Ways
from scribeline.solid.tunnels.pieces import Rough
from scribeline.solid.tunnels.quests import COLUMN, Quests
from scribeline.solid.tunnels.tried import in_pairs, together

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SPREAD = 2000
"""How many ways are tried first."""

JUDGED = 800
BALLS = 5
"""How many of them are looked at for their wood, and at how many places each."""

FINER = (100, 100)
FINER_EACH = 2
FINER_TO = 8
FINER_REACH = (0.08, 0.03)
"""Round about how many of the best more are tried, and of how many at least between each two walls; to how many each,
and how far off, in parts of the room there is. The second number of FINER, and of PAIRS and STARTS, is for quests that
ease a limit: what gives is told as about so much."""

PAIRS = (20, 24)
EACH = 1
STARTS = (40, 40)
LOOKED_AT = 250
"""From how many pairs of walls the search goes on and from how many ways of each; from how many more besides, out of
how many of the best."""

WEIGHT = 3.0
"""What a broken limit costs a way, mm of wood for each mm."""

FAR_OFF = 10.0
OFF = 3.0
"""Half of the starts differ by at least so much in one of their numbers, mm, the others by so much."""

MOUTH = 5.0
"""How far from its start a way from the edge may cross the outline, mm."""


@dataclass(frozen=True, slots=True)
class Seen:
    """Ways that have been judged cheaply.

    Attributes:
        ways: the ways.
        margins: what each leaves of the limits, (n, len(MARGINS)), mm.
        cover: about how much wood, mm.
    """

    ways: Ways
    margins: Floats
    cover: Floats

    def and_(self, other: Seen) -> Seen:
        """Both in a row."""
        return Seen(
            together(self.ways, other.ways),
            np.concatenate([self.margins, other.margins]),
            np.concatenate([self.cover, other.cover]),
        )


class Starts:
    """The ways from which the search for some quests goes on.

    Args:
        quests: what is looked for.
        rough: what a tunnel must keep clear of, near enough to tell a good neighbourhood from a bad one.
        seen: ways judged with each bit, by an earlier search or by this one: what is looked for next begins with them.
    """

    def __init__(self, quests: Quests, rough: Rough, seen: dict[Bit, Seen]) -> None:
        self.quests, self.bench, self.rough, self.seen = quests, quests.bench, rough, seen
        self.edge = self.bench.problem.start == "edge"

    def find(self) -> Ways:
        """The ways, those of one quest after those of another."""
        chosen = []
        for quest, bit in enumerate(self.bench.bits):
            seen = self.seen[bit] if bit in self.seen else self._judged(self._spread(quest))
            if len(seen.ways) == 0:
                return seen.ways
            self.seen[bit] = seen
            seen = replace(seen, ways=replace(seen.ways, bit=np.full(len(seen.ways), quest)))
            eased = self.quests.goals[quest] != "cover"
            for reach in FINER_REACH:
                order = np.argsort(-self._score(seen, eager=True), kind="stable")
                first = in_pairs(seen.ways.pick(order)) < FINER_EACH
                first[: FINER[eased]] = True
                top = seen.ways.pick(order[first])
                low, high = self.bench.ranges(top.entry, top.exit, top.bit)
                far = np.repeat(reach * (high - low), FINER_TO, axis=0)
                seen = seen.and_(self._judged(self.quests.round_about(top, FINER_TO, far)))
            chosen.append(self._apart(seen.ways, self._score(seen, eager=False), PAIRS[eased], STARTS[eased]))
        return together(*chosen)

    def _spread(self, quest: int) -> Ways:
        """Ways spread evenly over all pairs of walls, by how much room each pair has."""
        problem = self.bench.problem
        entries = np.arange(max(1, len(problem.entries)))
        exits = np.arange(len(problem.exits))
        entry, exit_ = (part.ravel() for part in np.meshgrid(entries, exits, indexing="ij"))
        none = np.zeros(0, dtype=np.intp)
        if len(entry) == 0 or (problem.start != "face" and not problem.entries):
            return Ways(none, none, none, np.zeros((0, 5)))
        low, high = self.bench.ranges(entry, exit_, np.full(len(entry), quest))
        room = np.sqrt(np.maximum(high[:, 0] - low[:, 0], 1.0) * np.maximum(high[:, 2] - low[:, 2], 1.0))
        share = np.maximum(40, (SPREAD * room / room.sum()).astype(int))
        row = np.repeat(np.arange(len(entry)), share)
        # Even spread: multiples of the roots of x⁵ = x + 1 (the golden ratio in four dimensions), from memory.
        phi = 1.1673039782614187
        unit = (
            np.arange(1, len(row) + 1)[:, np.newaxis] * np.divide.accumulate([1.0, *(phi,) * 4])[1:]
        ) % 1.0
        at = np.concatenate([low[row, :4], high[row, 4:]], axis=1)
        at[:, :4] += unit * (high - low)[row, :4]
        ways = Ways(entry[row], exit_[row], np.full(len(row), quest), at)
        lines = self.bench.lines(ways)
        return ways.pick((lines.sine_out > 0.1) & (lines.sine_in > 0.1))

    def _judged(self, ways: Ways) -> Seen:
        """A cheap judgement: exact limits, and the wood as if the tunnel were a string of balls."""
        lines = self.bench.lines(ways)
        margins = self.bench.margins(lines)
        if len(ways) > JUDGED:
            worst = margins.min(axis=1)
            good = np.flatnonzero(worst >= 0)
            rows = (
                good[:: -(-len(good) // JUDGED)]
                if len(good) >= JUDGED
                else np.argsort(-worst, kind="stable")[:JUDGED]
            )
            ways, margins = ways.pick(rows), margins[rows]
            lines = self.bench.lines(ways)
        return Seen(ways, margins, self._balls(lines))

    def _score(self, seen: Seen, *, eager: bool) -> Floats:
        """What they are judged by: their wood, less the price of what they break.

        Args:
            seen: the ways.
            eager: whether it counts by how much a limit gives that is eased.
        """
        ways, quests = seen.ways, self.quests
        sought = quests.sought(ways.bit, seen.cover, seen.margins, ways.at[:, 4])
        eased = np.minimum(sought, 0.0) if eager else np.zeros(len(ways))
        worst = np.minimum(quests.worst(ways.bit, seen.cover, seen.margins), 0.0)
        return np.where(quests.goal[ways.bit] == COLUMN["cover"], sought, eased) + WEIGHT * worst

    def _balls(self, lines: Lines) -> Floats:
        """Wood left of a string of balls along the axis, near enough to tell neighbourhoods apart."""
        shares = np.linspace(0.0, 1.0, BALLS)
        along = shares * lines.length[:, np.newaxis]
        x, y, z = (
            (lines.start[:, k : k + 1] + along * lines.axis[:, k : k + 1]).reshape(-1, 1) for k in range(3)
        )
        own = (along * lines.sine_in[:, np.newaxis]).reshape(-1, 1) if self.edge else None
        near = np.minimum(self.rough.walls(x, y, z, own), self.rough.posts(x, y, z)).reshape(along.shape)
        near = (near - lines.r[:, np.newaxis] - lines.drift[:, np.newaxis] * along).min(axis=1)
        near = np.minimum(near, self.rough.passed(lines.start, lines.end) - lines.r)
        near = np.minimum(near, self.rough.crossed(lines.start, lines.end, lines.r, MOUTH * self.edge))
        return np.asarray(np.minimum(near, self.quests.faces(self.bench.hulls(lines))))

    def _apart(self, ways: Ways, score: Floats, most_pairs: int, starts: int) -> Ways:
        """The best ways that are not near one another: some for every pair of walls, some far apart, some near the best."""
        order = np.argsort(-score, kind="stable")
        wall = ways.entry[order] * (ways.exit.max(initial=0) + 1) + ways.exit[order]
        pairs, first, place = np.unique(wall, return_index=True, return_inverse=True)
        known = np.argsort(np.argsort(first))[place]
        # The best of each pair of walls, and the best of all.
        head = in_pairs(ways.pick(order)) < LOOKED_AT // most_pairs
        head[:LOOKED_AT] = True
        head &= known < most_pairs
        order, wall = order[head], wall[head]
        at = ways.at[order]

        def off_from(i: int) -> Floats:
            return np.where(wall == wall[i], np.abs(at - at[i]).max(axis=1), np.inf)

        nearest = np.full(len(order), np.inf)
        chosen: list[int] = []
        plan = [(wall == pair, FAR_OFF, EACH) for pair in pairs[np.argsort(first)][:most_pairs].tolist()]
        plan += [(np.ones(len(order), dtype=bool), off, starts // 2) for off in (FAR_OFF, OFF)]
        for among, off, most in plan:
            free = among & (nearest >= off)
            for _ in range(most):
                i = int(np.argmax(free))
                if not free[i]:
                    break
                chosen.append(i)
                nearest = np.minimum(nearest, off_from(i))
                free &= nearest >= off
        return ways.pick(order[np.array(chosen, dtype=np.intp)])
