"""The search for the best ways to drill one tunnel.

It begins with the best few of some thousands of ways (`starts`). At each, and for every piece near by, a direction is
known in which the piece and the tunnel are parted. Along a fixed direction the gap between two convex solids is a plain
difference of their reaches, and never more than their distance. So any number of ways round about can be judged by those
directions at once: none of them is better than it looks. The step that looks best is taken, the directions are improved
there by a few probes, and the neighbourhood is drawn in. What is found in the end is measured exactly.

Several quests are followed at once, each with a bit and with what is to be made large: the steps of one round are
the same arrays for all of them.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from scribeline.features import Bit
from scribeline.solid import convex
from scribeline.solid.clearance import own_walls
from scribeline.solid.tunnels.courses import Lines, Place, Ways
from scribeline.solid.tunnels.pieces import Pieces
from scribeline.solid.tunnels.programme import greatest
from scribeline.solid.tunnels.quests import COLUMN, SOFT, WITHIN, Quests
from scribeline.solid.tunnels.starts import Seen, Starts
from scribeline.solid.tunnels.tried import (
    FREE,
    NEAREST,
    Gaps,
    Tried,
    joined,
    like_a_better,
    rank,
    rank_paired,
    together,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]
    Bools = NDArray[np.bool_]

KEPT = ({0: 36, 1: 24, 2: 16, 3: 12, 4: 10}, {0: 76, 1: 56, 2: 36, 3: 20, 4: 16})
ROUNDS = 7
"""How many ways are left after some of the rounds, and how many rounds there are; the second where a limit is eased, which
often leaves a thread of ways that takes longer to follow. So with the two of the hops below."""

STRIDE = 1e-4
"""How far along each number slopes are taken, mm."""

ROWS = 24
"""How many limits and gaps are looked at in one step: the nearest."""

NEWTON = 9
"""How many steps the programme of one step is given."""

PROBES = 6
PROBES_BESIDE = 5
"""How many directions are tried for each piece near a way; and where those that part it from a way beside it are known.
"""

BOUND = 50.0
"""A limit so many reaches away is not met in one step."""

FURTHEST = 50.0
"""The most that any limit is broken by or the goal lost in one step, in reaches: more than either can be."""

LENGTHS = 4
"""Into how many lengths a tunnel is cut, each in a box of its own, to tell what is near it."""

RUN_THROUGH = 20.0
"""How deep a tunnel is held to lie in what its axis runs through, mm."""

DEARER = 100.0
HARD_FROM = 3
GIVE_NOTHING = 1000.0
NEARLY = 0.5
MEND_REACH = 0.2
MEND_ROUNDS = 4
"""What a broken limit costs, mm of wood for each mm, from the first beginning again on; from which round on ways are given
up by that price; and what it costs where a way is brought back within its limits at the end: one that breaks them by no
more than so much, mm, with what reach, mm, and in how many rounds."""

HOPS = 6
HOP_GAINS = 0.005
HOP_FROM = 3
HOP_TO = 36
HOP_ROUNDS = (5, 6)
HOP_HARD = 1
HOP_MOVES = np.array([(1, 1, 1, 1, 1), (1, 0, 1, 0, 1), (0, 1, 0, 1, 1)])
BEGUN = -1
HOP_KEPT = ({BEGUN: 30, 0: 12, 1: 8, 2: 5}, {0: 30, 1: 16, 2: 8})
FURTHEST_HOP = 4.0
HOPELESS = 1.0
ONWARDS = (1.0, 3.0)
"""How often at the most the search begins again round about the best, and what it has to gain each time to go on, mm; from
how many of the best and to how many each; with how many rounds, and from which on ways are given up by the whole price; of
the ways round about each, which numbers move, in turn: all of them, or those along the walls alone, or the heights; how many
are left before the first round and after some of them; and how far off at the most, mm. It does not begin again
round about a way that breaks a limit by more than this, mm. And how far on, in parts of their distance, from one way
past a better one."""

AT_THE_TOP = 0.01
AS_GOOD = 0.001
AS_SHORT = 0.01
MIDDLINGS = 64
"""How near to the most that the faces allow no more is looked for, mm; by how much less wood and how much longer a bit a
way is as good as another, mm; and in how many steps such a one is moved to the middle of its wall."""

HOPE = 6.0
LEFT = 3
FINE = 0.01
"""One that lies behind by this many times its reach is given up, unless it is among the first few; and the search ends
when every reach is this small, mm."""

FIRST_REACH = 6.0
BETTER = 0.7
WORSE = 0.35
"""How far round about reaches at first, mm, and by what it is drawn in after a round that found better, or did not."""


class Search:
    """One problem, and what is looked for with each bit of the bench.

    Args:
        quests: what is looked for.
        pieces: what a tunnel must keep clear of, as it is, and the same with longer chords, by which it is looked for.
        seen: ways judged cheaply with each bit by an earlier search for the same tunnel, to which this one adds its own.
    """

    def __init__(
        self, quests: Quests, pieces: tuple[Pieces, Pieces], seen: dict[Bit, Seen] | None = None
    ) -> None:
        self.quests, self.bench = quests, quests.bench
        self.whole, self.pieces = pieces
        self.seen = {} if seen is None else seen
        self.edge = self.bench.problem.start == "edge"
        self.eased = set(quests.goals) != {"cover"}

    def best(self) -> Tried:
        """The best ways found, the best of each quest first, each the best of its neighbourhood."""
        starts = Starts(self.quests, self.pieces.rough, self.seen).find()
        if len(starts) == 0:
            return self.measured(starts)
        found = self._improve(starts, np.full(len(starts), FIRST_REACH), ROUNDS, KEPT[self.eased])
        self.quests.give = DEARER
        score = self.quests.score(found.ways.bit, found.cover, found.margins, found.ways.at[:, 4])
        found = replace(found, score=score).best_first()
        # What is eased is told to a builder as about so much: one hop is enough for it.
        for hop in range(1 if self.eased else HOPS):
            top = (rank(found.ways.bit) < HOP_FROM) & (self.quests.short(found) <= HOPELESS)
            if not top.any():
                break
            if self._no_better(found):
                return self._shortest(found)
            before, found = found, self._hop(found, found.pick(np.flatnonzero(top)))
            # Nor where a broken limit would not be mended at that pace.
            gains = found.score[0] - before.score[0]
            missing = self.quests.give * self.quests.short(found)[0]
            if gains < HOP_GAINS or gains * (HOPS - hop - 1) < missing:
                break
        short = self.quests.short(found)
        near = (short <= NEARLY) & ((short > WITHIN) | (rank(found.ways.bit) == 0))
        if near.any() and (short > WITHIN).any():
            # What breaks a limit by next to nothing is brought back within it, whatever that costs.
            self.quests.give = GIVE_NOTHING
            ways = found.ways.pick(near)
            found = joined(found, self._improve(ways, np.full(len(ways), MEND_REACH), MEND_ROUNDS, {}))
        tried = self.measured(found.ways)
        order = np.lexsort((-tried.score, ~self.quests.keeps(tried), tried.ways.bit))
        return tried.pick(order)

    def _no_better(self, found: Tried) -> bool:
        """Whether the best leaves as much wood as its mouths' walls let any way leave to the faces."""
        if self.quests.goals != ("cover",):
            return False
        return bool(
            found.cover[0] >= self.bench.most(float(self.bench.r[0])) - AT_THE_TOP
            and self.quests.keeps(found)[0]
        )

    def _shortest(self, found: Tried) -> Tried:
        """The same, but first the way with the shortest bit among all that leave as much wood as the best."""
        quests = Quests(self.bench, ("reach",), float(found.cover[0]) - AS_GOOD)
        search = Search(quests, (self.whole, self.pieces))
        reach = np.full(len(found.ways), FIRST_REACH)
        short = search._improve(found.ways, reach, ROUNDS, KEPT[True])
        middled = self._middled(short.ways.pick(np.arange(1)))
        tried = search.measured(together(middled, short.ways))
        # The first of the row that is as short, to what is told: the nearest to the middle of its wall.
        short_enough = quests.keeps(tried) & (tried.score >= tried.score[len(middled)] - AS_SHORT)
        chosen = self.measured(tried.ways.pick(np.flatnonzero(short_enough)[:1]))
        return joined(chosen, self.measured(found.ways).best_first())

    def _middled(self, way: Ways) -> Ways:
        """A way moved sideways in small steps, its direction kept, first until it starts in the middle of its wall."""
        low, high = self.bench.ranges(way.entry, way.exit, way.bit)
        off = float((low + high)[0, 0] / 2 - way.at[0, 0])
        share = np.linspace(1.0, 0.0, MIDDLINGS, endpoint=False)[:, np.newaxis]
        entry, exit_, bit = (np.repeat(part, MIDDLINGS) for part in (way.entry, way.exit, way.bit))
        along = self.bench.turned(way)
        at = way.at + share * off * np.array([1.0, 0.0, along, 0.0, 0.0])
        return Ways(entry, exit_, bit, np.clip(at, low, high))

    def _hop(self, found: Tried, top: Tried) -> Tried:
        """Once more from round about some of the best: the least of many distances has small hills beside one another."""
        ways = top.ways
        far = FURTHEST_HOP * self.quests.random.random((len(ways) * HOP_TO, 1))
        near = self.quests.round_about(ways, HOP_TO, far * np.resize(HOP_MOVES, (len(far), 5)))
        onwards, origin = self._onwards(ways)
        begin = together(near, onwards)
        beside = top.gaps.pick(np.concatenate([np.repeat(np.arange(len(ways)), HOP_TO), origin]))
        more = self._improve(
            begin,
            np.full(len(begin), 1.0),
            HOP_ROUNDS[self.eased],
            HOP_KEPT[self.eased],
            hard_from=HOP_HARD,
            beside=beside,
        )
        both = joined(found, more).best_first()
        both = both.pick(np.flatnonzero(~like_a_better(both)))
        return both.pick(np.flatnonzero(rank(both.ways.bit) < HOP_FROM))

    def _onwards(self, top: Ways) -> tuple[Ways, Ints]:
        """Ways on from each in the direction in which it lies from one that is not as good: along a narrow ridge.

        And from which of them each goes on.
        """
        i, j = np.nonzero(np.triu(np.ones((len(top), len(top)), dtype=bool), 1))
        same = (top.bit[i] == top.bit[j]) & (top.entry[i] == top.entry[j]) & (top.exit[i] == top.exit[j])
        i, j = (np.repeat(part[same], len(ONWARDS)) for part in (i, j))
        far = np.tile(np.array(ONWARDS), int(same.sum()))[:, np.newaxis]
        low, high = self.bench.ranges(top.entry[i], top.exit[i], top.bit[i])
        at = np.clip(top.at[i] + far * (top.at[i] - top.at[j]), low, high)
        return Ways(top.entry[i], top.exit[i], top.bit[i], at), i

    def measured(self, ways: Ways) -> Tried:
        """What these ways leave, exactly."""
        lines = self.bench.lines(ways)
        margins, cover = self.bench.margins(lines), self.wood(lines)
        score = self.quests.score(ways.bit, cover, margins, lines.r)
        return Tried(ways, score, cover, margins, Gaps.none(len(ways)))

    def wood(self, lines: Lines) -> Floats:
        """The wood that each line leaves, exactly; below 0 how deep it runs into something."""
        hulls = self.bench.hulls(lines)
        cover = self.quests.faces(hulls)
        row, piece = self._pairs(self.whole, lines, hulls, cover)
        found = convex.nearest(hulls[row], self.whole.hulls[piece], row)
        mm = np.where(found.upper < convex.TOUCHING, 0.0, found.lower)
        into = mm <= 0
        mm[into] = np.minimum(self._cores(hulls[row[into]], self.whole.hulls[piece[into]])[0], 0.0)
        np.minimum.at(cover, row, mm)
        return cover

    def nearest(self, lines: Lines) -> tuple[str, tuple[Place, Place] | None]:
        """What one line comes nearest to, and where."""
        hulls = self.bench.hulls(lines)
        least = self.quests.faces(hulls)
        _, piece = self._pairs(self.whole, lines, hulls, least)
        reach = np.sqrt(hulls[0, :, 1, 2] ** 2 + hulls[0, :, 2, 2] ** 2)
        down = (hulls[0, :, 0, 2] - reach).min() + self.bench.problem.thickness <= least[0] + 1e-9
        disc = int(np.argmin(hulls[0, :, 0, 2] - reach) if down else np.argmax(hulls[0, :, 0, 2] + reach))
        x, y, _ = hulls[0, disc, 0].tolist()
        z = float(least[0]) - self.bench.problem.thickness if down else -float(least[0])
        face = (
            "back" if down else "top",
            ((x, y, z), (x, y, -self.bench.problem.thickness if down else 0.0)),
        )
        if len(piece) == 0:
            return face
        own = np.zeros(len(piece), dtype=np.intp)
        found = convex.nearest(hulls[own], self.whole.hulls[piece], own)
        i = int(np.argmin(found.lower))
        if found.lower[i] >= least[0]:
            return face
        on_it, on_other = found.a[i].tolist(), found.b[i].tolist()
        return str(self.whole.names[piece[i]]), (tuple(on_it), tuple(on_other))

    # Improving them.

    def _improve(
        self,
        starts: Ways,
        reach: Floats,
        rounds: int,
        kept: dict[int, int],
        *,
        hard_from: int = HARD_FROM,
        beside: Gaps | None = None,
    ) -> Tried:
        now = self._proven(starts, np.full(len(starts), np.inf), 2 * float(reach.max()), beside)
        if BEGUN in kept:
            order = np.lexsort((-self.quests.priced(now, SOFT), now.ways.bit))
            order = order[rank(now.ways.bit[order]) < kept[BEGUN]]
            now, reach = now.pick(order), reach[order]
        for turn in range(rounds):
            picked = self._step(now, reach)
            new = self._proven(picked, np.maximum(now.cover, 0.0) + reach, 2 * float(reach.max()), now.gaps)
            better = new.score > now.score
            reach = reach * np.where(better, BETTER, WORSE)
            now = joined(now, new).pick(np.arange(len(better)) + len(better) * better)
            judged = self.quests.priced(now, DEARER if turn >= hard_from else SOFT)
            order = np.lexsort((-judged, now.ways.bit))
            now, reach, judged = now.pick(order), reach[order], judged[order]
            place = rank(now.ways.bit)
            ahead = judged[np.arange(len(place)) - place]
            stays = (judged >= ahead - HOPE * reach) | (place < LEFT)
            # While many are kept, the best of every pair of walls come before the others.
            stays &= rank_paired(now.ways) < kept.get(turn, len(place))
            stays &= ~like_a_better(now)
            now, reach = now.pick(np.flatnonzero(stays)), reach[stays]
            if reach.max() < FINE:
                break
        return now.best_first()

    def _step(self, now: Tried, reach: Floats) -> Ways:
        """From each way the step that looks best within its reach, all limits and gaps taken as straight."""
        ways, n, free = now.ways, len(now.ways), self.quests.free
        values, slopes, wanted = self._straight(now)
        # The unknowns: the steps, the goal's value over what it is now, and how far any limit may be broken; all in
        # parts of the reach, so that every programme is of one size however fine the search has become.
        far = reach[:, np.newaxis]
        now_least = np.where(wanted, values, np.inf).min(axis=1, keepdims=True)
        sides = np.where(wanted, values - now_least, values - WITHIN / 2)
        sides = np.clip(sides / far, -BOUND, BOUND)
        if sides.shape[1] > ROWS:
            # Only the nearest limits can be met in one step.
            first = np.argsort(sides, axis=1, kind="stable")[:, :ROWS]
            sides, wanted = (np.take_along_axis(part, first, axis=1) for part in (sides, wanted))
            slopes = np.take_along_axis(slopes, first[..., np.newaxis], axis=1)
        low, high = self.bench.ranges(ways.entry, ways.exit, ways.bit)
        m = sides.shape[1]
        a = np.empty((free + 2, m, n))
        a[:free], a[free] = -slopes.transpose(2, 1, 0), wanted.T
        a[free + 1] = a[free] - 1.0
        least, most = np.zeros((free + 2, n)), np.full((free + 2, n), FURTHEST)
        least[:free] = -np.clip((ways.at - low) / far, 0.0, 1.0).T[:free]
        most[:free] = np.clip((high - ways.at) / far, 0.0, 1.0).T[:free]
        least[free], most[free] = -FURTHEST, BOUND
        wish = np.zeros((free + 2, n))
        wish[free], wish[free + 1] = 1.0, -self.quests.give
        step = greatest(wish, a, sides.T, least, most, steps=NEWTON)[:free].T
        at = ways.at.copy()
        at[:, :free] += far * np.clip(np.where(np.isfinite(step), step, 0.0), -1.0, 1.0)
        return Ways(ways.entry, ways.exit, ways.bit, np.clip(at, low, high))

    def _straight(self, now: Tried) -> tuple[Floats, Floats, Bools]:
        """Every limit and gap of each way, its slopes along the way's numbers, and whether it is to be made large."""
        ways, n, free = now.ways, len(now.ways), self.quests.free
        strides = np.concatenate([np.zeros((1, 5)), STRIDE * np.eye(5)[:free]])
        at = (ways.at[:, np.newaxis] + strides).reshape(-1, 5)
        many = free + 1
        entry, exit_, bit = (np.repeat(part, many) for part in (ways.entry, ways.exit, ways.bit))
        lines = self.bench.lines(Ways(entry, exit_, bit, at))
        hulls = self.bench.hulls(lines)
        way, height = now.gaps.way, now.gaps.height
        x, y, z = -way.transpose(2, 0, 1)[:, :, np.newaxis]
        flat = hulls.reshape(n, -1, 3, 1)
        along = (flat[:, :, 0] * x + flat[:, :, 1] * y + flat[:, :, 2] * z).reshape(n, many, -1, 3, NEAREST)
        wood = -along[:, :, :, 0] - np.sqrt(along[:, :, :, 1] ** 2 + along[:, :, :, 2] ** 2)
        wood = (wood - height[:, np.newaxis, np.newaxis]).reshape(n * many, -1)
        parts = [("cover", np.column_stack([self.quests.each_face(hulls), wood])), *self.bench.parts(lines)]
        if free == 5:
            parts.append(("diameter", 2 * at[:, 4:]))
        goals = self.quests.goal[ways.bit]
        values, wanted = [], []
        for name, part in parts:
            if not part.size:
                continue
            column = COLUMN[name]
            mine = goals == column
            out = self.quests.left_out[ways.bit, column] & ~mine
            value = part.reshape(n, many, -1)
            if name == "cover":
                value = value - np.where(mine, 0.0, self.quests.least)[:, np.newaxis, np.newaxis]
            values.append(np.where(out[:, np.newaxis, np.newaxis], FREE, np.minimum(value, FREE)))
            wanted.append(np.broadcast_to(mine[:, np.newaxis], (n, value.shape[2])))
        every = np.concatenate(values, axis=2)
        slopes = (every[:, 1:] - every[:, :1]).transpose(0, 2, 1) / STRIDE
        return every[:, 0], slopes, np.concatenate(wanted, axis=1)

    def _proven(self, ways: Ways, about: Floats, slack: float, beside: Gaps | None = None) -> Tried:
        """Wood that each way is proven to leave, and the directions that prove it: never more than it leaves.

        Args:
            ways: to be measured.
            about: roughly how much wood each may have, mm: no piece much further off is looked at.
            slack: how much further pieces are taken along for their directions, mm.
            beside: what is known of a way near each; fewer probes are then enough.
        """
        lines = self.bench.lines(ways)
        margins = self.bench.margins(lines)
        # Where wood is not what is to be made large, more of it than is wanted is not looked at.
        about = np.where(
            self.quests.goal[ways.bit] == COLUMN["cover"], about, np.minimum(about, self.quests.least)
        )
        cover, gaps = self._wood(lines, about, slack, beside)
        return Tried(ways, self.quests.score(ways.bit, cover, margins, lines.r), cover, margins, gaps)

    def _wood(
        self, lines: Lines, about: Floats, slack: float, beside: Gaps | None = None
    ) -> tuple[Floats, Gaps]:
        hulls = self.bench.hulls(lines)
        cover, gaps = self.quests.faces(hulls), Gaps.none(len(hulls))
        within = np.minimum(about, cover) + slack
        row, piece = self._pairs(self.pieces, lines, hulls, within)
        # Further off nothing has been looked at.
        cover = np.minimum(cover, within)
        if len(row) == 0:
            return cover, gaps
        if beside is None:
            begin, probes = np.zeros((len(row), 3, 3)), PROBES
        else:
            begin, probes = beside.of(row, piece, len(self.pieces.hulls)), PROBES_BESIDE
        found = convex.parted(hulls[row], self.pieces.hulls[piece], begin, probes, within[row])
        mm, way = found.lower, found.way
        into = np.flatnonzero(mm <= 0)
        if len(into):
            gap, out = self._cores(hulls[row[into]], self.pieces.hulls[piece[into]])
            better = gap > mm[into]
            mm[into[better]], way[into[better]] = gap[better], out[better]
        np.minimum.at(cover, row, mm)
        order = np.lexsort((mm, row))
        slot = rank(row[order])
        order, slot = order[slot < NEAREST], slot[slot < NEAREST]
        at = row[order], slot
        gaps.piece[at], gaps.way[at], gaps.tried[at] = piece[order], way[order], found.tried[order]
        gaps.height[at] = convex.height(self.pieces.hulls[piece[order]], way[order])
        return cover, gaps

    def _cores(self, tunnel: Floats, other: Floats) -> tuple[Floats, Floats]:
        """For pairs not proven to be apart, how far by their axes they are (below 0: how deep in), and the way out."""
        cores = [part * np.array([1.0, 0.0, 0.0])[:, np.newaxis] for part in (tunnel, other)]
        found = convex.nearest(*cores)
        way = found.a - found.b
        size = np.sqrt((way**2).sum(axis=1))
        clear = size > 1e-6
        way = way / np.where(clear, size, 1.0)[:, np.newaxis]
        gap = -convex.height(tunnel, -way) - convex.height(other, way)
        return np.where(clear, gap, -RUN_THROUGH), way

    def _pairs(self, pieces: Pieces, lines: Lines, hulls: Floats, within: Floats) -> tuple[Ints, Ints]:
        """Lines and pieces that may come so near, but for the sides by which a line goes in."""
        row, piece = self._near(pieces, hulls, within)
        own = self._own(pieces, lines, row, piece)
        return row[~own], piece[~own]

    def _near(self, pieces: Pieces, hulls: Floats, within: Floats) -> tuple[Ints, Ints]:
        """Pieces that may come so near: by their boxes and the boxes of the tunnel cut into lengths."""
        wide = np.sqrt((hulls[:, :, 1:] ** 2).sum(axis=2)).max(axis=1)
        a, b = hulls[:, 0, 0], hulls[:, -1, 0]
        ends = [a + part / LENGTHS * (b - a) for part in range(LENGTHS + 1)]
        low, high = (
            np.array([which(*pair) for pair in pairwise(ends)]) for which in (np.minimum, np.maximum)
        )
        low, high, far = low - wide, high + wide, within**2
        # Most pieces are too far off from all lines, and most of the others from one line as a whole.
        lowest, highest = low.min(axis=0), high.max(axis=0)
        off = _off(
            pieces.low, pieces.high, lowest.min(axis=0, initial=np.inf), highest.max(axis=0, initial=-np.inf)
        )
        some = np.flatnonzero(off <= far.max(initial=0.0))
        off = _off(pieces.low[some], pieces.high[some], lowest[:, np.newaxis], highest[:, np.newaxis])
        row, piece = np.nonzero(off <= far[:, np.newaxis])
        piece = some[piece]
        below, above, far = pieces.low[piece], pieces.high[piece], far[row]
        off = np.array([_off(below, above, *box) for box in zip(low[:, row], high[:, row], strict=True)])
        close = (off <= far).any(axis=0)
        return row[close], piece[close]

    def _own(self, pieces: Pieces, lines: Lines, row: Ints, piece: Ints) -> NDArray[np.bool_]:
        """Sides of the outline by which a tunnel from the edge goes in."""
        if not self.edge:
            return np.zeros(len(row), dtype=bool)
        sides = pieces.edge
        start, end = pieces.hulls[sides, 0, 0, :2], pieces.hulls[sides, 1, 0, :2]
        own = np.zeros((len(lines.length), len(sides)), dtype=bool)
        own[:, sides] = own_walls(lines.start, lines.axis, start, end, lines.r)
        return np.asarray(own[row, piece])


def _off(low: Floats, high: Floats, other_low: Floats, other_high: Floats) -> Floats:
    """The square of how far boxes are from others, mm²."""
    off = np.zeros(())
    for k in range(3):
        gap = np.maximum(low[..., k] - other_high[..., k], other_low[..., k] - high[..., k])
        off = off + np.square(np.maximum(gap, 0.0))
    return np.asarray(off)
