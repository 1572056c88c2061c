"""Ways that have been measured, and what parts each from the pieces nearest to it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from scribeline.solid.tunnels.courses import Ways

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]
    Bools = NDArray[np.bool_]

NEAREST = 14
"""Of how many pieces the directions are kept: the nearest."""

FREE = 300.0
"""What is at least so far from any limit is no limit, mm."""

TOGETHER = 0.05
"""Two ways that differ by less in all their numbers are one, mm."""


@dataclass(frozen=True, slots=True)
class Gaps:
    """What parts ways from the pieces nearest to each.

    Attributes:
        piece: number of the piece, (n, NEAREST); -1 where there is none.
        way: direction that parts the two, (n, NEAREST, 3).
        height: how far the piece reaches along it, (n, NEAREST).
        tried: directions to begin with when a way near by is measured, (n, NEAREST, 3, 3).
    """

    piece: Ints
    way: Floats
    height: Floats
    tried: Floats

    def pick(self, rows: Ints) -> Gaps:
        """Those of some of the ways."""
        return Gaps(self.piece[rows], self.way[rows], self.height[rows], self.tried[rows])

    @staticmethod
    def none(n: int) -> Gaps:
        """For so many ways of which nothing is known."""
        return Gaps(
            np.full((n, NEAREST), -1),
            np.zeros((n, NEAREST, 3)),
            np.full((n, NEAREST), -2 * FREE),
            np.zeros((n, NEAREST, 3, 3)),
        )

    def of(self, row: Ints, piece: Ints, pieces: int) -> Floats:
        """The directions to begin with for ways beside these, each with a piece, (m, 3, 3)."""
        slot = np.full((len(self.piece), pieces + 1), -1)
        slot[np.arange(len(slot))[:, np.newaxis], self.piece] = np.arange(NEAREST)
        slot[:, -1] = -1
        found = slot[row, piece]
        return np.asarray(np.where((found >= 0)[:, np.newaxis, np.newaxis], self.tried[row, found], 0.0))


@dataclass(frozen=True, slots=True)
class Tried:
    """Ways with what they leave.

    Attributes:
        ways: the ways; the number of a way's bit is that of its quest.
        score: what they are judged by: the goal, less `GIVE` mm for each mm by which a limit is broken.
        cover: least wood, mm.
        margins: of the other limits, (n, len(MARGINS)).
        gaps: what parts each from the pieces nearest to it.
    """

    ways: Ways
    score: Floats
    cover: Floats
    margins: Floats
    gaps: Gaps

    def pick(self, rows: Ints) -> Tried:
        """Some of them."""
        return Tried(
            self.ways.pick(rows),
            self.score[rows],
            self.cover[rows],
            self.margins[rows],
            self.gaps.pick(rows),
        )

    def best_first(self) -> Tried:
        """The same, the best of each quest first."""
        return self.pick(np.lexsort((-self.score, self.ways.bit)))


def rank(bit: Ints) -> Ints:
    """The place of each way among those of its quest, where they are in order."""
    first = np.searchsorted(bit, bit)
    return np.arange(len(bit)) - first


def in_pairs(ways: Ways) -> Ints:
    """The place of each way among those between the same two walls, where they are in order."""
    pair = ways.entry * 1_000 + ways.exit
    order = np.argsort(pair, kind="stable")
    place = np.empty(len(pair), dtype=np.intp)
    place[order] = rank(pair[order])
    return place


def rank_paired(ways: Ways) -> Ints:
    """The same, but the best of every pair of walls before the others."""
    pair = ways.bit * 1_000_000 + ways.entry * 1_000 + ways.exit
    _, first = np.unique(pair, return_index=True)
    later = np.ones(len(pair), dtype=bool)
    later[first] = False
    order = np.lexsort((np.arange(len(pair)), later, ways.bit))
    place = np.empty(len(pair), dtype=np.intp)
    place[order] = rank(ways.bit[order])
    return place


def like_a_better(tried: Tried) -> Bools:
    """Which have run together with a better one; they are to be in order, the best of each quest first."""
    ways = tried.ways
    pair = ways.bit * 1_000_000 + ways.entry * 1_000 + ways.exit
    same = pair[:, np.newaxis] == pair
    for number in ways.at.T:
        same &= np.abs(number[:, np.newaxis] - number) < TOGETHER
    # One that is like a better one goes, even where that one goes too: they are one neighbourhood.
    return np.asarray(np.argmax(same, axis=1) < np.arange(len(pair)))


def joined(a: Tried, b: Tried) -> Tried:
    """Both in a row."""
    x, y = a.gaps, b.gaps
    gaps = Gaps(
        np.concatenate([x.piece, y.piece]),
        np.concatenate([x.way, y.way]),
        np.concatenate([x.height, y.height]),
        np.concatenate([x.tried, y.tried]),
    )
    return Tried(
        together(a.ways, b.ways),
        np.concatenate([a.score, b.score]),
        np.concatenate([a.cover, b.cover]),
        np.concatenate([a.margins, b.margins]),
        gaps,
    )


def together(*every: Ways) -> Ways:
    """All in a row."""

    def all_of(name: str) -> NDArray[np.intp]:
        return np.concatenate([getattr(ways, name) for ways in every])

    return Ways(all_of("entry"), all_of("exit"), all_of("bit"), np.concatenate([ways.at for ways in every]))
