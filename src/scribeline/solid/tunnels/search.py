"""The search for the best ways to drill one tunnel.

First a few thousand ways spread evenly, judged by cheap measures of the wood that are near enough to tell a good
neighbourhood from a bad one. Then the best few are improved with exact distances. At each of them the exact search
for the nearest points gives, for every piece near by, the direction in which it and the tunnel are parted. Along a
fixed direction the gap between two convex solids is a plain difference of their reaches, and never more than their
distance. So any number of ways round about can be judged by those directions at once: none of them is better than
it looks, and the way the directions were taken at looks as it is. The best is taken, measured, and the neighbourhood
drawn in.

Several quests are followed at once, each with a bit and with what is to be made large: the steps of one round are
the same arrays for all of them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from scribeline.solid import convex
from scribeline.solid.clearance import own_walls
from scribeline.solid.tunnels.courses import MARGINS, Bench, Lines, Ways
from scribeline.solid.tunnels.pieces import Pieces
from scribeline.solid.tunnels.programme import greatest

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]
    Bools = NDArray[np.bool_]

Place = tuple[float, float, float]
Goal = Literal["cover", "hidden", "reach", "chuck", "window", "diameter"]
"""What is made as large as it can be, all else being kept."""

SPREAD = 3000
"""How many ways are tried first."""

JUDGED = 1200
BALLS = 5
"""How many of them are looked at for their wood, and at how many places each."""

FINER = 160
FINER_EACH = 2
PAIRS = 32
EACH = 1
STARTS = 40
LOOKED_AT = 250
KEPT = {0: 56, 1: 48, 2: 32, 3: 20, 4: 16}
ROUNDS = 7
"""Round about how many of these more are tried, and of how many at least between each two walls. From how many pairs of
walls the search goes on and from how many ways of each; from how many more besides, out of
how many of the best; how many are left after some of the rounds, and how many rounds there are."""

STRIDE = 1e-4
"""How far along each number slopes are taken, mm."""

NEAREST = 14
ROWS = 24
PROBES = 6
PROBES_BESIDE = 2
"""Of how many pieces the directions are kept, and how many limits and gaps are looked at in one step: the nearest."""

BOUND = 50.0
"""A limit so many reaches away is not met in one step."""

WITHIN = 1e-4
"""A limit broken by less counts as kept, mm."""

GIVE = 10.0
GIVE_NOTHING = 1000.0
FREE = 300.0
RUN_THROUGH = 20.0
SOFT = 3.0
HARD_FROM = 3
"""What a broken limit costs a step, mm of wood for each mm, and in the last rounds; what is at least so far from any limit is no limit, mm.
How deep a tunnel is held to lie in what its axis runs through, mm. And what a broken limit costs a way in the first
rounds, when ways are given up: one step may mend it."""

HOPS = 2
HOP_FROM = 3
HOP_TO = 28
HOP_ROUNDS = 6
HOP_KEPT = {0: 30, 1: 16, 2: 8}
FURTHEST_HOP = 4.0
HOPELESS = 3.0
ONWARDS = (1.0, 3.0)
"""How often the search begins again round about the best from how many of them and to how many each, with how many
rounds, and how far off at the most, mm; where every way still breaks a limit by this much, mm, it does not. And how far
on, in parts of their distance, from one way past a better one.
"""

AS_GOOD = 0.01
MIDDLINGS = 64
"""Ways whose wood differs by less are as good, mm; and in how many steps such a one is moved to the middle of its wall.
"""

TOGETHER = 0.05
"""Two ways that differ by less in all their numbers are one, mm."""

WEIGHT = 3.0
"""What a broken limit costs a way when starts are chosen, mm of wood for each mm."""

FAR_OFF = 10.0
OFF = 3.0
"""Half of the starts differ by at least so much in one of their numbers, mm, the others by so much."""

HOPE = 6.0
LEFT = 3
FINE = 0.01
"""One that lies behind by this many times its reach is given up, unless it is among the first few; and the search ends
when every reach is this small, mm."""

FIRST_REACH = 6.0
BETTER = 0.7
WORSE = 0.35
"""How far round about reaches at first, mm, and by what it is drawn in after a round that found better, or did not."""

_SEED = 20_011
_COLUMN = {"cover": 0, "diameter": len(MARGINS) + 1} | {name: i + 1 for i, name in enumerate(MARGINS)}
"""Which column of (cover, the margins, diameter) each goal is."""


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


def _rank(bit: Ints) -> Ints:
    """The place of each way among those of its quest, where they are in order."""
    first = np.searchsorted(bit, bit)
    return np.arange(len(bit)) - first


def _in_pairs(ways: Ways) -> Ints:
    """The place of each way among those between the same two walls, where they are in order."""
    pair = ways.entry * 1_000 + ways.exit
    order = np.argsort(pair, kind="stable")
    rank = np.empty(len(pair), dtype=np.intp)
    rank[order] = _rank(pair[order])
    return rank


def _rank_paired(ways: Ways) -> Ints:
    """The same, but the best of every pair of walls before the others."""
    pair = ways.bit * 1_000_000 + ways.entry * 1_000 + ways.exit
    _, first = np.unique(pair, return_index=True)
    later = np.ones(len(pair), dtype=bool)
    later[first] = False
    order = np.lexsort((np.arange(len(pair)), later, ways.bit))
    rank = np.empty(len(pair), dtype=np.intp)
    rank[order] = _rank(ways.bit[order])
    return rank


def _like_a_better(tried: Tried) -> Bools:
    """Which have run together with a better one; they are to be in order, the best of each quest first."""
    ways = tried.ways
    pair = ways.bit * 1_000_000 + ways.entry * 1_000 + ways.exit
    near = np.abs(ways.at[:, np.newaxis] - ways.at).max(axis=2) < TOGETHER
    same = near & (pair[:, np.newaxis] == pair)
    # One that is like a better one goes, even where that one goes too: they are one neighbourhood.
    return np.asarray(np.argmax(same, axis=1) < np.arange(len(pair)))


def _joined(a: Tried, b: Tried) -> Tried:
    def both(one: Floats | Ints, other: Floats | Ints) -> Floats:
        return np.concatenate([one, other])

    return Tried(
        _together(a.ways, b.ways),
        both(a.score, b.score),
        both(a.cover, b.cover),
        both(a.margins, b.margins),
        Gaps(*(both(getattr(a.gaps, name), getattr(b.gaps, name)) for name in Gaps.__slots__)),
    )


def _together(*every: Ways) -> Ways:
    def all_of(name: str) -> NDArray[np.intp]:
        return np.concatenate([getattr(ways, name) for ways in every])

    return Ways(all_of("entry"), all_of("exit"), all_of("bit"), np.concatenate([ways.at for ways in every]))


class Search:
    """One problem, and what is looked for with each bit of the bench.

    Args:
        bench: the problem and the bits.
        pieces: what a tunnel must keep clear of, as it is, and the same with longer chords, by which it is looked for.
        goals: what is made large with each bit.
        least: wood wanted everywhere, mm.
    """

    def __init__(
        self, bench: Bench, pieces: tuple[Pieces, Pieces], goals: tuple[Goal, ...], least: float
    ) -> None:
        self.bench, self.goals, self.least = bench, goals, least
        self.whole, self.pieces = pieces
        self.random = np.random.Generator(np.random.PCG64(_SEED))
        self.edge = bench.problem.start == "edge"
        self.goal = np.array([_COLUMN[goal] for goal in goals])
        self.give = GIVE
        self.free = 5 if "diameter" in goals else 4
        # Limits that are not asked of each quest: what it makes large, and of reach and chuck either for the other.
        self.left_out = np.zeros((len(goals), len(MARGINS) + 2), dtype=bool)
        self.left_out[np.arange(len(goals)), self.goal] = True
        for one, other in (("reach", "chuck"), ("chuck", "reach")):
            self.left_out[self.goal == _COLUMN[one], _COLUMN[other]] = True

    def best(self) -> Tried:
        """The best ways found, the best of each quest first, each the best of its neighbourhood."""
        starts = self._starts()
        if len(starts) == 0:
            return self.measured(starts)
        found = self._improve(starts, np.full(len(starts), FIRST_REACH), ROUNDS, KEPT)
        # What is eased is told to a builder as about so much: one hop is enough for it.
        for _ in range(HOPS if set(self.goals) == {"cover"} else 1):
            if self._worst(found.ways.bit, found.cover, found.margins).max() < -HOPELESS:
                break
            if self._no_better(found):
                return self._shortest(found)
            found = self._hop(found)
        if not self.keeps(found).all():
            # What breaks a limit by next to nothing is brought back within it, whatever that costs.
            self.give = GIVE_NOTHING
            found = _joined(found, self._improve(found.ways, np.full(len(found.ways), TOGETHER), 3, {}))
        tried = self.measured(found.ways)
        order = np.lexsort((-tried.score, ~self.keeps(tried), tried.ways.bit))
        return tried.pick(order)

    def _no_better(self, found: Tried) -> bool:
        """Whether the best leaves as much wood as its mouths' walls let any way leave to the faces."""
        if self.goals != ("cover",):
            return False
        return bool(found.cover[0] >= self.bench.most() - AS_GOOD and self.keeps(found)[0])

    def _shortest(self, found: Tried) -> Tried:
        """The same, but first the way with the shortest bit among all that leave as much wood as the best."""
        search = Search(self.bench, (self.whole, self.pieces), ("reach",), float(found.cover[0]) - AS_GOOD)
        reach = np.full(len(found.ways), FIRST_REACH)
        short = search._improve(found.ways, reach, ROUNDS, KEPT)
        middled = self._middled(short.ways.pick(np.arange(1)))
        tried = search.measured(_together(middled, short.ways))
        # The first of the row that is as short, to what is told: the nearest to the middle of its wall.
        short_enough = search.keeps(tried) & (tried.score >= tried.score[len(middled)] - AS_GOOD)
        chosen = self.measured(tried.ways.pick(np.flatnonzero(short_enough)[:1]))
        return _joined(chosen, self.measured(found.ways).best_first())

    def _middled(self, way: Ways) -> Ways:
        """A way moved sideways in small steps, its direction kept, first until it starts in the middle of its wall."""
        low, high = self.bench.ranges(way.entry, way.exit, way.bit)
        off = float((low + high)[0, 0] / 2 - way.at[0, 0])
        share = np.linspace(1.0, 0.0, MIDDLINGS, endpoint=False)[:, np.newaxis]
        entry, exit_, bit = (np.repeat(part, MIDDLINGS) for part in (way.entry, way.exit, way.bit))
        along = self.bench.turned(way)
        at = way.at + share * off * np.array([1.0, 0.0, along, 0.0, 0.0])
        return Ways(entry, exit_, bit, np.clip(at, low, high))

    def _hop(self, found: Tried) -> Tried:
        """The same once more from round about the best: the least of many distances has small hills beside one another."""
        top = found.ways.pick(_rank(found.ways.bit) < HOP_FROM)
        near = self._round_about(
            top, HOP_TO, FURTHEST_HOP * self.random.uniform(0.0, 1.0, (len(top) * HOP_TO, 1)) ** 2
        )
        begin = _together(near, self._onwards(top))
        more = self._improve(begin, np.full(len(begin), 1.0), HOP_ROUNDS, HOP_KEPT)
        both = _joined(found, more).best_first()
        both = both.pick(np.flatnonzero(~_like_a_better(both)))
        return both.pick(np.flatnonzero(_rank(both.ways.bit) < HOP_FROM))

    def _onwards(self, top: Ways) -> Ways:
        """Ways on from each in the direction in which it lies from one that is not as good: along a narrow ridge."""
        i, j = np.nonzero(np.triu(np.ones((len(top), len(top)), dtype=bool), 1))
        same = (top.bit[i] == top.bit[j]) & (top.entry[i] == top.entry[j]) & (top.exit[i] == top.exit[j])
        i, j = (np.repeat(part[same], len(ONWARDS)) for part in (i, j))
        far = np.tile(np.array(ONWARDS), int(same.sum()))[:, np.newaxis]
        low, high = self.bench.ranges(top.entry[i], top.exit[i], top.bit[i])
        at = np.clip(top.at[i] + far * (top.at[i] - top.at[j]), low, high)
        return Ways(top.entry[i], top.exit[i], top.bit[i], at)

    def _round_about(self, ways: Ways, many: int, far: Floats) -> Ways:
        """Ways at random no further off than this in any of their numbers, so many of each."""
        entry, exit_, bit = (np.repeat(part, many) for part in (ways.entry, ways.exit, ways.bit))
        low, high = self.bench.ranges(entry, exit_, bit)
        at = np.repeat(ways.at, many, axis=0) + far * self.random.uniform(-1.0, 1.0, (len(entry), 5))
        return Ways(entry, exit_, bit, np.clip(at, low, high))

    def measured(self, ways: Ways) -> Tried:
        """What these ways leave, exactly."""
        lines = self.bench.lines(ways)
        margins, cover = self.bench.margins(lines), self.wood(lines)
        score = self._score(ways.bit, cover, margins, lines.r)
        return Tried(ways, score, cover, margins, Gaps.none(len(ways)))

    def wood(self, lines: Lines) -> Floats:
        """The wood that each line leaves, exactly; below 0 how deep it runs into something."""
        hulls = self.bench.hulls(lines)
        cover = self._faces(hulls)
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
        least = self._faces(hulls)
        _, piece = self._pairs(self.whole, lines, hulls, least)
        reach = np.hypot(hulls[0, :, 1, 2], hulls[0, :, 2, 2])
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
        found = convex.nearest(hulls[np.zeros(len(piece), dtype=np.intp)], self.whole.hulls[piece])
        i = int(np.argmin(found.lower))
        if found.lower[i] >= least[0]:
            return face
        on_it, on_other = found.a[i].tolist(), found.b[i].tolist()
        return str(self.whole.names[piece[i]]), (tuple(on_it), tuple(on_other))

    def _score(self, bit: Ints, cover: Floats, margins: Floats, r: Floats) -> Floats:
        """What is to be made as large as can be; where limits are broken, how far they are from being kept."""
        goal = np.column_stack([cover, margins, 2 * r])[np.arange(len(bit)), self.goal[bit]]
        broken = np.maximum(0.0, -self._worst(bit, cover, margins))
        return np.asarray(goal - self.give * broken)

    def _promise(self, tried: Tried) -> Floats:
        """The same for ways that have some rounds before them."""
        broken = np.maximum(0.0, -self._worst(tried.ways.bit, tried.cover, tried.margins))
        return np.asarray(tried.score + (GIVE - SOFT) * broken)

    def _worst(self, bit: Ints, cover: Floats, margins: Floats) -> Floats:
        """What is left of the limit that each way keeps least."""
        every = np.column_stack([cover - self.least, margins, cover])
        return np.asarray(np.where(self.left_out[bit], np.inf, every).min(axis=1))

    def keeps(self, tried: Tried) -> Bools:
        """Whether each way keeps every limit but the one its quest eases."""
        return np.asarray(self._worst(tried.ways.bit, tried.cover, tried.margins) >= -WITHIN)

    # Where to begin.

    def _starts(self) -> Ways:
        spread = self._spread()
        if len(spread) == 0:
            return spread
        chosen = []
        for bit in range(len(self.goals)):
            ways, score = self._rough(
                Ways(
                    spread.entry,
                    spread.exit,
                    np.full(len(spread), bit),
                    np.column_stack([spread.at[:, :4], np.full(len(spread), self.bench.r[bit])]),
                )
            )
            for reach in (0.08, 0.03):
                order = np.argsort(-score)
                first = _in_pairs(ways.pick(order)) < FINER_EACH
                first[:FINER] = True
                top = ways.pick(order[first])
                low, high = self.bench.ranges(top.entry, top.exit, top.bit)
                more, better = self._rough(
                    self._round_about(top, 8, np.repeat(reach * (high - low), 8, axis=0))
                )
                ways, score = _together(ways, more), np.concatenate([score, better])
            chosen.append(self._apart(ways, score))
        return _together(*chosen)

    def _spread(self) -> Ways:
        """Ways spread evenly over all pairs of walls, by how much room each pair has."""
        problem = self.bench.problem
        entries = np.arange(max(1, len(problem.entries)))
        exits = np.arange(len(problem.exits))
        entry, exit_ = (part.ravel() for part in np.meshgrid(entries, exits, indexing="ij"))
        none = np.zeros(0, dtype=np.intp)
        if len(entry) == 0 or (problem.start != "face" and not problem.entries):
            return Ways(none, none, none, np.zeros((0, 5)))
        low, high = self.bench.ranges(entry, exit_, np.zeros(len(entry), dtype=np.intp))
        room = np.sqrt(np.maximum(high[:, 0] - low[:, 0], 1.0) * np.maximum(high[:, 2] - low[:, 2], 1.0))
        share = np.maximum(40, (SPREAD * room / room.sum()).astype(int))
        row = np.repeat(np.arange(len(entry)), share)
        # Even spread: multiples of the roots of x⁵ = x + 1 (the golden ratio in four dimensions), from memory.
        phi = 1.1673039782614187
        unit = (np.arange(1, len(row) + 1)[:, np.newaxis] * phi ** -np.arange(1.0, 5.0)) % 1.0
        at = low[row]
        at[:, :4] += unit * (high - low)[row, :4]
        ways = Ways(entry[row], exit_[row], np.zeros(len(row), dtype=np.intp), at)
        lines = self.bench.lines(ways)
        return ways.pick((lines.sine_out > 0.1) & (lines.sine_in > 0.1))

    def _rough(self, ways: Ways) -> tuple[Ways, Floats]:
        """A cheap judgement: exact limits, and the wood as if the tunnel were a string of balls."""
        lines = self.bench.lines(ways)
        margins = self.bench.margins(lines)
        worst = margins.min(axis=1)
        if len(ways) > JUDGED:
            good = np.flatnonzero(worst >= 0)
            rows = good[:: -(-len(good) // JUDGED)] if len(good) >= JUDGED else np.argsort(-worst)[:JUDGED]
            ways, margins = ways.pick(rows), margins[rows]
            lines = self.bench.lines(ways)
        cover = self._balls(lines)
        worst = np.minimum(self._worst(ways.bit, cover, margins), 0.0)
        return ways, np.where(self.goal[ways.bit] == 0, cover, 0.0) + WEIGHT * worst

    def _balls(self, lines: Lines) -> Floats:
        """Wood left of a string of balls along the axis, near enough to tell neighbourhoods apart."""
        rough = self.pieces.rough
        shares = np.linspace(0.0, 1.0, BALLS)
        along = shares * lines.length[:, np.newaxis]
        x, y, z = (
            (lines.start[:, k : k + 1] + along * lines.axis[:, k : k + 1]).reshape(-1, 1) for k in range(3)
        )
        own = (along * lines.sine_in[:, np.newaxis]).reshape(-1, 1) if self.edge else None
        near = np.minimum(rough.walls(x, y, z, own), rough.posts(x, y, z)).reshape(along.shape)
        near = (near - lines.r[:, np.newaxis] - lines.drift[:, np.newaxis] * along).min(axis=1)
        near = np.minimum(near, rough.passed(lines.start, lines.end) - lines.r)
        near = np.minimum(near, rough.crossed(lines.start, lines.end, lines.r, 5.0 * self.edge))
        return np.asarray(np.minimum(near, self._faces(self.bench.hulls(lines))))

    def _each_face(self, hulls: Floats) -> Floats:
        reach = np.hypot(hulls[:, :, 1, 2], hulls[:, :, 2, 2])
        back = hulls[:, :, 0, 2] - reach + self.bench.problem.thickness
        if self.bench.problem.start == "face":
            return np.asarray(back)
        return np.column_stack([back, -(hulls[:, :, 0, 2] + reach)])

    def _faces(self, hulls: Floats) -> Floats:
        """Wood to the faces it is not drilled from, exact."""
        return np.asarray(self._each_face(hulls).min(axis=1))

    def _apart(self, ways: Ways, score: Floats) -> Ways:
        """The best ways that are not near one another: some for every pair of walls, some far apart, some near the best."""
        order = np.argsort(-score)
        wall = ways.entry[order] * (ways.exit.max(initial=0) + 1) + ways.exit[order]
        pairs, first, place = np.unique(wall, return_index=True, return_inverse=True)
        known = np.argsort(np.argsort(first))[place]
        # The best of each pair of walls, and the best of all.
        head = _in_pairs(ways.pick(order)) < LOOKED_AT // PAIRS
        head[:LOOKED_AT] = True
        head &= known < PAIRS
        order, wall = order[head], wall[head]
        at = ways.at[order]

        def off_from(i: int) -> Floats:
            return np.where(wall == wall[i], np.abs(at - at[i]).max(axis=1), np.inf)

        nearest = np.full(len(order), np.inf)
        chosen: list[int] = []
        plan = [(wall == pair, FAR_OFF, EACH) for pair in pairs[np.argsort(first)][:PAIRS].tolist()]
        plan += [(np.ones(len(order), dtype=bool), off, STARTS // 2) for off in (FAR_OFF, OFF)]
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

    # Improving them.

    def _improve(self, starts: Ways, reach: Floats, rounds: int, kept: dict[int, int]) -> Tried:
        now = self._exact(starts, np.full(len(starts), np.inf), 2 * float(reach.max()))
        for turn in range(rounds):
            picked = self._step(now, reach)
            new = self._exact(picked, np.maximum(now.cover, 0.0) + reach, 2 * float(reach.max()), now.gaps)
            better = new.score > now.score
            reach = reach * np.where(better, BETTER, WORSE)
            now = _joined(now, new).pick(np.arange(len(better)) + len(better) * better)
            judged = now.score if turn >= HARD_FROM else self._promise(now)
            order = np.lexsort((-judged, now.ways.bit))
            now, reach, judged = now.pick(order), reach[order], judged[order]
            rank = _rank(now.ways.bit)
            ahead = judged[np.arange(len(rank)) - rank]
            stays = (judged >= ahead - HOPE * reach) | (rank < LEFT)
            # While many are kept, the best of every pair of walls come before the others.
            stays &= _rank_paired(now.ways) < kept.get(turn, len(rank))
            stays &= ~_like_a_better(now)
            now, reach = now.pick(np.flatnonzero(stays)), reach[stays]
            if reach.max() < FINE:
                break
        return now.best_first()

    def _step(self, now: Tried, reach: Floats) -> Ways:
        """From each way the step that looks best within its reach, all limits and gaps taken as straight."""
        ways, n, free = now.ways, len(now.ways), self.free
        values, slopes, wanted = self._straight(now)
        # The unknowns: the steps, the goal's value over what it is now, and how far any limit may be broken; all in
        # parts of the reach, so that every programme is of one size however fine the search has become.
        far = reach[:, np.newaxis]
        now_least = np.where(wanted, values, np.inf).min(axis=1, keepdims=True)
        sides = np.where(wanted, values - now_least, values - WITHIN / 2)
        sides = np.clip(sides / far, -BOUND, BOUND)
        if sides.shape[1] > ROWS:
            # Only the nearest limits can be met in one step.
            first = np.argpartition(sides, ROWS - 1, axis=1)[:, :ROWS]
            sides, wanted = (np.take_along_axis(part, first, axis=1) for part in (sides, wanted))
            slopes = np.take_along_axis(slopes, first[..., np.newaxis], axis=1)
        low, high = self.bench.ranges(ways.entry, ways.exit, ways.bit)
        m = sides.shape[1]
        a = np.zeros((n, m + 2 * free + 2, free + 2))
        a[:, :m, :free], a[:, :m, free], a[:, :m, free + 1] = -slopes, wanted, wanted - 1.0
        a[:, m : m + free, :free], a[:, m + free : m + 2 * free, :free] = np.eye(free), -np.eye(free)
        a[:, -2, free + 1], a[:, -1, free] = -1.0, 1.0
        ends = [np.clip((high - ways.at) / far, 0.0, 1.0), np.clip((ways.at - low) / far, 0.0, 1.0)]
        ends = [part[:, :free] for part in ends] + [np.zeros((n, 1)), np.full((n, 1), BOUND)]
        wish = np.zeros((n, free + 2))
        wish[:, free], wish[:, free + 1] = 1.0, -self.give
        step = greatest(wish, a, np.concatenate([sides, *ends], axis=1))[:, :free]
        at = ways.at.copy()
        at[:, :free] += far * np.clip(np.nan_to_num(step), -1.0, 1.0)
        return Ways(ways.entry, ways.exit, ways.bit, np.clip(at, low, high))

    def _straight(self, now: Tried) -> tuple[Floats, Floats, Bools]:
        """Every limit and gap of each way, its slopes along the way's numbers, and whether it is to be made large."""
        ways, n, free = now.ways, len(now.ways), self.free
        strides = np.concatenate([np.zeros((1, 5)), STRIDE * np.eye(5)[:free]])
        at = (ways.at[:, np.newaxis] + strides).reshape(-1, 5)
        many = free + 1
        entry, exit_, bit = (np.repeat(part, many) for part in (ways.entry, ways.exit, ways.bit))
        lines = self.bench.lines(Ways(entry, exit_, bit, at))
        hulls = self.bench.hulls(lines)
        way, height = now.gaps.way, now.gaps.height
        along = hulls.reshape(n, many * 9, 3) @ -way.transpose(0, 2, 1)
        along = along.reshape(n, many, 3, 3, NEAREST)
        wood = -along[:, :, :, 0] - np.sqrt(along[:, :, :, 1] ** 2 + along[:, :, :, 2] ** 2)
        wood = (wood - height[:, np.newaxis, np.newaxis]).reshape(n * many, -1)
        parts = [("cover", np.column_stack([self._each_face(hulls), wood])), *self.bench.parts(lines)]
        if free == 5:
            parts.append(("diameter", 2 * at[:, 4:]))
        goals = self.goal[ways.bit]
        values, wanted = [], []
        for name, part in parts:
            if not part.size:
                continue
            column = _COLUMN[name]
            mine = goals == column
            out = self.left_out[ways.bit, column] & ~mine
            value = part.reshape(n, many, -1)
            if name == "cover":
                value = value - np.where(mine, 0.0, self.least)[:, np.newaxis, np.newaxis]
            values.append(np.where(out[:, np.newaxis, np.newaxis], FREE, np.minimum(value, FREE)))
            wanted.append(np.broadcast_to(mine[:, np.newaxis], (n, value.shape[2])))
        every = np.concatenate(values, axis=2)
        slopes = (every[:, 1:] - every[:, :1]).transpose(0, 2, 1) / STRIDE
        return every[:, 0], slopes, np.concatenate(wanted, axis=1)

    def _exact(self, ways: Ways, about: Floats, slack: float, beside: Gaps | None = None) -> Tried:
        """The proven wood of each way, and the directions that prove it.

        Args:
            ways: to be measured.
            about: roughly how much wood each may have, mm: pieces much further off are left out of the search.
            slack: how much further pieces are taken along for their directions, mm.
            beside: what is known of a way near each; a few probes are then enough, and the wood may be more.
        """
        lines = self.bench.lines(ways)
        margins = self.bench.margins(lines)
        cover, gaps = self._wood(lines, about, slack, beside)
        return Tried(ways, self._score(ways.bit, cover, margins, lines.r), cover, margins, gaps)

    def _wood(
        self, lines: Lines, about: Floats, slack: float, beside: Gaps | None = None
    ) -> tuple[Floats, Gaps]:
        hulls = self.bench.hulls(lines)
        cover, gaps = self._faces(hulls), Gaps.none(len(hulls))
        row, piece = self._pairs(self.pieces, lines, hulls, np.minimum(about, cover) + slack)
        if len(row) == 0:
            return cover, gaps
        if beside is None:
            begin, probes = np.zeros((len(row), 3, 3)), PROBES
        else:
            begin, probes = beside.of(row, piece, len(self.pieces.hulls)), PROBES_BESIDE
        found = convex.parted(hulls[row], self.pieces.hulls[piece], begin, probes)
        mm, way = found.lower, found.way
        into = np.flatnonzero(mm <= 0)
        if len(into):
            gap, out = self._cores(hulls[row[into]], self.pieces.hulls[piece[into]])
            better = gap > mm[into]
            mm[into[better]], way[into[better]] = gap[better], out[better]
        np.minimum.at(cover, row, mm)
        order = np.lexsort((mm, row))
        slot = _rank(row[order])
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
        parts = 4
        reach = np.sqrt((hulls[:, :, 1:] ** 2).sum(axis=2))
        ends = hulls[:, [0, 2], 0]
        close = np.zeros((len(hulls), len(pieces.low)), dtype=bool)
        wide = reach.max(axis=1)
        for part in range(parts):
            a = ends[:, 0] + part / parts * (ends[:, 1] - ends[:, 0])
            b = ends[:, 0] + (part + 1) / parts * (ends[:, 1] - ends[:, 0])
            low, high = np.minimum(a, b) - wide, np.maximum(a, b) + wide
            off = np.zeros(close.shape)
            for k in range(3):
                gap = np.maximum(pieces.low[:, k] - high[:, k : k + 1], low[:, k : k + 1] - pieces.high[:, k])
                off += np.square(np.maximum(gap, 0.0))
            close |= off <= (within**2)[:, np.newaxis]
        return np.nonzero(close)  # type: ignore[return-value]

    def _own(self, pieces: Pieces, lines: Lines, row: Ints, piece: Ints) -> NDArray[np.bool_]:
        """Sides of the outline by which a tunnel from the edge goes in."""
        if not self.edge:
            return np.zeros(len(row), dtype=bool)
        sides = pieces.edge
        start, end = pieces.hulls[sides, 0, 0, :2], pieces.hulls[sides, 1, 0, :2]
        own = np.zeros((len(lines.length), len(sides)), dtype=bool)
        own[:, sides] = own_walls(lines.start, lines.axis, start, end, lines.r)
        return np.asarray(own[row, piece])
