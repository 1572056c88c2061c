"""The search for the best way to drill one tunnel with one bit.

First a few thousand ways spread evenly, judged by cheap measures of the wood that are near enough to tell a good
neighbourhood from a bad one. Then the best few are improved with exact distances. At each of them the exact search
for the nearest points gives, for every piece near by, the direction in which it and the tunnel are parted. Along a
fixed direction the gap between two convex solids is a plain difference of their reaches, and never more than their
distance. So any number of ways round about can be judged by those directions at once: none of them is better than
it looks, and the way the directions were taken at looks as it is. The best is taken, measured, and the neighbourhood
drawn in.
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

Place = tuple[float, float, float]
Goal = Literal["cover", "hidden", "reach", "chuck", "window"]
"""What is made as large as it can be, all else being kept."""

SPREAD = 3000
"""How many ways are tried first."""

JUDGED = 1200
BALLS = 5
"""How many of them are looked at for their wood, and at how many places each."""

PAIRS = 12
EACH = 2
STARTS = 24
KEPT = {1: 30, 2: 20, 3: 12, 5: 7}
ROUNDS = 12
"""From how many pairs of walls the search goes on and from how many ways of each; from how many more besides; how many
are left after some of the rounds, and how many rounds there are."""

STRIDE = 1e-4
"""How far along each number slopes are taken, mm."""

ROWS = 40
"""How many limits and gaps are looked at in one step, the nearest ones."""

BOUND = 50.0
"""A limit so many reaches away is not met in one step."""

WITHIN = 1e-4
"""A limit broken by less counts as kept, mm."""

GIVE = 30.0
FREE = 300.0
"""What a broken limit costs a step, mm of wood for each mm; and what is at least so far from any limit is no limit, mm."""

HOPS = 3
HOP_FROM = 6
HOP_TO = 8
HOP_ROUNDS = 6
HOP_KEPT = {1: 20, 2: 10, 3: 6}
FURTHEST_HOP = 4.0
"""How often the search begins again round about the best from how many of them and to how many each, with how many
rounds, and how far off at the most, mm."""

TOGETHER = 0.05
"""Two ways that differ by less in all their numbers are one, mm."""

WEIGHT = 3.0
"""What a broken limit costs a way when starts are chosen, mm of wood for each mm."""

FAR_OFF = 10.0
OFF = 3.0
"""Half of the starts differ by at least so much in one of their numbers, mm, the others by so much."""

HOPE = 3.0
LEFT = 3
FINE = 0.01
"""One that lies behind by this many times its reach is given up, unless it is among the first few; and the search ends
when every reach is this small, mm."""

FIRST_REACH = 6.0
BETTER = 0.7
WORSE = 0.35
"""How far round about reaches at first, mm, and by what it is drawn in after a round that found better, or did not."""

_SEED = 20_011


@dataclass(frozen=True, slots=True)
class Tried:
    """Ways with what they leave.

    Attributes:
        ways: the ways.
        score: what they are judged by: the goal, less `GIVE` mm for each mm by which a limit is broken.
        cover: least wood, mm.
        margins: of the other limits, (n, len(MARGINS)).
    """

    ways: Ways
    score: Floats
    cover: Floats
    margins: Floats

    def pick(self, rows: Ints) -> Tried:
        """Some of them."""
        return Tried(self.ways.pick(rows), self.score[rows], self.cover[rows], self.margins[rows])


def _unlike(tried: Tried) -> Ints:
    """The best of all that have run together."""
    chosen: list[int] = []
    for i in range(len(tried.score)):
        same = (
            tried.ways.entry[i] == tried.ways.entry[j]
            and tried.ways.exit[i] == tried.ways.exit[j]
            and np.abs(tried.ways.at[i] - tried.ways.at[j]).max() < TOGETHER
            for j in chosen
        )
        if not any(same):
            chosen.append(i)
    return np.array(chosen, dtype=np.intp)


def _joined(a: Tried, b: Tried) -> Tried:
    def both(name: str) -> NDArray[np.intp]:
        return np.concatenate([getattr(a.ways, name), getattr(b.ways, name)])

    return Tried(
        Ways(both("entry"), both("exit"), np.concatenate([a.ways.at, b.ways.at])),
        np.concatenate([a.score, b.score]),
        np.concatenate([a.cover, b.cover]),
        np.concatenate([a.margins, b.margins]),
    )


class Search:
    """One problem with one bit."""

    def __init__(self, bench: Bench, pieces: Pieces, goal: Goal, least: float) -> None:
        self.bench, self.pieces, self.goal, self.least = bench, pieces, goal, least
        self.random = np.random.Generator(np.random.PCG64(_SEED))
        self.edge = bench.problem.start == "edge"

    def best(self) -> Tried:
        """The best ways found, best first, each the best of its neighbourhood."""
        starts = self._starts()
        if len(starts) == 0:
            return self._exact(starts, np.zeros(0), 0.0)[0]
        found = self._improve(starts, np.full(len(starts), FIRST_REACH), ROUNDS, KEPT)
        for _ in range(HOPS):
            found = self._hop(found)
        return found

    def _hop(self, found: Tried) -> Tried:
        """The same once more from round about the best: the least of many distances has small hills beside one another."""
        top = found.pick(np.arange(min(HOP_FROM, len(found.score)))).ways
        entry, exit_ = np.repeat(top.entry, HOP_TO), np.repeat(top.exit, HOP_TO)
        low, high = self.bench.ranges(entry, exit_)
        far = FURTHEST_HOP * self.random.uniform(0.0, 1.0, (len(entry), 1)) ** 2
        at = np.repeat(top.at, HOP_TO, axis=0) + far * self.random.uniform(-1.0, 1.0, (len(entry), 4))
        near = Ways(entry, exit_, np.clip(at, low, high))
        more = self._improve(near, np.full(len(entry), 1.0), HOP_ROUNDS, HOP_KEPT)
        both = _joined(found, more)
        both = both.pick(np.argsort(-both.score))
        return both.pick(_unlike(both)[:HOP_FROM])

    def measured(self, ways: Ways) -> Tried:
        """What these ways leave, exactly."""
        return self._exact(ways, np.full(len(ways), np.inf), 0.0)[0]

    def wood(self, lines: Lines) -> float:
        """The wood that one line leaves, exactly."""
        return float(self._wood(lines, np.full(1, np.inf), 0.0)[0][0])

    def nearest(self, lines: Lines) -> tuple[str, tuple[Place, Place] | None]:
        """What one line comes nearest to, and where."""
        hulls = self.bench.hulls(lines)
        least = self._faces(hulls)
        row, piece = self._near(hulls, least)
        own = self._own(lines, row, piece)
        piece = piece[~own]
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
        found = convex.nearest(hulls[np.zeros(len(piece), dtype=np.intp)], self.pieces.hulls[piece])
        i = int(np.argmin(found.lower))
        if found.lower[i] >= least[0]:
            return face
        on_it, on_other = found.a[i].tolist(), found.b[i].tolist()
        return str(self.pieces.names[piece[i]]), (tuple(on_it), tuple(on_other))

    def _score(self, cover: Floats, margins: Floats) -> Floats:
        """What is to be made as large as can be; where limits are broken, how far they are from being kept."""
        if self.goal == "cover":
            goal, others = cover, margins
        else:
            column = MARGINS.index(self.goal)
            kept = [
                i
                for i, name in enumerate(MARGINS)
                if name != self.goal and {name, self.goal} != {"reach", "chuck"}
            ]
            goal, others = margins[:, column], np.column_stack([margins[:, kept], cover - self.least])
        worst = others.min(axis=1)
        return np.asarray(goal - GIVE * np.maximum(0.0, -worst))

    # Where to begin.

    def _starts(self) -> Ways:
        ways = self._spread()
        if len(ways) == 0:
            return ways
        lines = self.bench.lines(ways)
        keep = lines.sine_out > 0.1
        ways = ways.pick(keep)
        ways, score = self._rough(ways)
        for reach in (0.08, 0.03):
            order = np.argsort(-score)[:120]
            low, high = self.bench.ranges(ways.entry[order], ways.exit[order])
            many = 8
            step = self.random.uniform(-reach, reach, (len(order), many, 4)) * (high - low)[:, np.newaxis]
            at = np.clip(
                ways.at[order][:, np.newaxis] + step, low[:, np.newaxis], high[:, np.newaxis]
            ).reshape(-1, 4)
            more, better = self._rough(
                Ways(np.repeat(ways.entry[order], many), np.repeat(ways.exit[order], many), at)
            )
            ways = Ways(
                np.concatenate([ways.entry, more.entry]),
                np.concatenate([ways.exit, more.exit]),
                np.concatenate([ways.at, more.at]),
            )
            score = np.concatenate([score, better])
        return ways.pick(self._apart(ways, score))

    def _spread(self) -> Ways:
        """Ways spread evenly over all pairs of walls, by how much room each pair has."""
        problem = self.bench.problem
        entries = np.arange(max(1, len(problem.entries)))
        exits = np.arange(len(problem.exits))
        entry, exit_ = (part.ravel() for part in np.meshgrid(entries, exits, indexing="ij"))
        if len(entry) == 0 or (problem.start != "face" and not problem.entries):
            return Ways(np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp), np.zeros((0, 4)))
        low, high = self.bench.ranges(entry, exit_)
        room = np.sqrt(np.maximum(high[:, 0] - low[:, 0], 1.0) * np.maximum(high[:, 2] - low[:, 2], 1.0))
        share = np.maximum(40, (SPREAD * room / room.sum()).astype(int))
        row = np.repeat(np.arange(len(entry)), share)
        # Even spread: multiples of the roots of x⁵ = x + 1 (the golden ratio in four dimensions), from memory.
        phi = 1.1673039782614187
        unit = (np.arange(1, len(row) + 1)[:, np.newaxis] * phi ** -np.arange(1.0, 5.0)) % 1.0
        return Ways(entry[row], exit_[row], low[row] + unit * (high - low)[row])

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
        worst = np.minimum(margins.min(axis=1), 0.0)
        if self.goal == "cover":
            return ways, cover + WEIGHT * worst
        return ways, np.minimum(cover - self.least, 0.0) + WEIGHT * worst

    def _balls(self, lines: Lines) -> Floats:
        """Wood left of a string of balls along the axis, near enough to tell neighbourhoods apart."""
        bench, rough = self.bench, self.pieces.rough
        shares = np.linspace(0.0, 1.0, BALLS)
        along = shares * lines.length[:, np.newaxis]
        x, y, z = (
            (lines.start[:, k : k + 1] + along * lines.axis[:, k : k + 1]).reshape(-1, 1) for k in range(3)
        )
        near = np.minimum(rough.walls(x, y, z), rough.posts(x, y, z)).reshape(along.shape)
        near = (near - bench.r - bench.drift * along).min(axis=1)
        near = np.minimum(near, rough.passed(lines.start, lines.end) - bench.r)
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

    def _apart(self, ways: Ways, score: Floats) -> Ints:
        """The best ways that are not near one another: some for every pair of walls, some far apart, some near the best."""
        order = np.argsort(-score)
        wall = ways.entry[order] * (ways.exit.max(initial=0) + 1) + ways.exit[order]
        pairs, first = np.unique(wall, return_index=True)
        pairs = pairs[np.argsort(first)][:PAIRS]
        head = np.flatnonzero(np.isin(wall, pairs))
        order, wall = order[head], wall[head]
        at = ways.at[order]
        chosen: list[int] = []
        plan = [(wall == pair, FAR_OFF, EACH) for pair in pairs.tolist()]
        plan += [(np.ones(len(order), dtype=bool), off, STARTS // 2) for off in (FAR_OFF, OFF)]
        for among, off, count in plan:
            free = among.copy()
            for i in chosen:
                free &= (wall != wall[i]) | (np.abs(at - at[i]).max(axis=1) >= off)
            for _ in range(count):
                if not free.any():
                    break
                i = int(np.argmax(free))
                chosen.append(i)
                free &= (wall != wall[i]) | (np.abs(at - at[i]).max(axis=1) >= off)
        return order[np.array(chosen, dtype=np.intp)]

    # Improving them.

    def _improve(self, starts: Ways, reach: Floats, rounds: int, kept: dict[int, int]) -> Tried:
        now, gaps = self._exact(starts, np.full(len(starts), np.inf), 2 * FIRST_REACH)
        for turn in range(rounds):
            picked = self._step(now, gaps, reach)
            new, new_gaps = self._exact(picked, np.maximum(now.cover, 0.0) + reach, 2 * float(reach.max()))
            better = new.score > now.score
            reach = reach * np.where(better, BETTER, WORSE)
            rows = np.where(better, np.arange(len(better)) + len(better), np.arange(len(better)))
            both = [*gaps, *new_gaps]
            order = np.argsort(-np.where(better, new.score, now.score))[: kept.get(turn)]
            now = _joined(now, new).pick(rows[order])
            gaps, reach = [both[i] for i in rows[order].tolist()], reach[order]
            hopeful = (now.score >= now.score[0] - HOPE * reach) | (np.arange(len(reach)) < LEFT)
            if not hopeful.all():
                rows = np.flatnonzero(hopeful)
                now, reach, gaps = now.pick(rows), reach[rows], [gaps[i] for i in rows.tolist()]
            apart = _unlike(now)
            if len(apart) < len(reach):
                now, reach, gaps = now.pick(apart), reach[apart], [gaps[i] for i in apart.tolist()]
            if reach.max() < FINE:
                break
        return now

    def _step(self, now: Tried, gaps: list[_Gaps], reach: Floats) -> Ways:
        """From each way the step that looks best within its reach, all limits and gaps taken as straight."""
        ways, n = now.ways, len(now.ways)
        goal, kept = self._straight(ways, gaps)
        values = [part[:, 0] for part in (goal, kept)]
        slopes = [(part[:, 1:] - part[:, :1]).transpose(0, 2, 1) / STRIDE for part in (goal, kept)]
        # The unknowns: four steps, the goal's value over what it is now, and how far any limit may be broken; all in
        # parts of the reach, so that every programme is of one size however fine the search has become.
        far = reach[:, np.newaxis]
        now_least = values[0].min(axis=1, keepdims=True)
        rows, right = [], []
        for value, slope, lift in (
            (values[0] - now_least, slopes[0], 1.0),
            (values[1] - WITHIN / 2, slopes[1], 0.0),
        ):
            row = np.zeros((n, value.shape[1], 6))
            row[..., :4], row[..., 4], row[..., 5] = -slope, lift, lift - 1.0
            rows.append(row)
            right.append(np.clip(value / far, -BOUND, BOUND))
        limits, sides = np.concatenate(rows, axis=1), np.concatenate(right, axis=1)
        if sides.shape[1] > ROWS:
            # Only the nearest limits can be met in one step.
            first = np.argpartition(sides, ROWS - 1, axis=1)[:, :ROWS]
            limits = np.take_along_axis(limits, first[..., np.newaxis], axis=1)
            sides = np.take_along_axis(sides, first, axis=1)
        low, high = self.bench.ranges(ways.entry, ways.exit)
        square = np.zeros((n, 10, 6))
        square[:, :4, :4], square[:, 4:8, :4] = np.eye(4), -np.eye(4)
        square[:, 8, 5], square[:, 9, 4] = -1.0, 1.0
        ends = [np.clip((high - ways.at) / far, 0.0, 1.0), np.clip((ways.at - low) / far, 0.0, 1.0)]
        ends += [np.zeros((n, 1)), np.full((n, 1), BOUND)]
        wish = np.zeros((n, 6))
        wish[:, 4], wish[:, 5] = 1.0, -GIVE
        step = greatest(
            wish, np.concatenate([limits, square], axis=1), np.concatenate([sides, *ends], axis=1)
        )[:, :4]
        step = far * np.clip(np.nan_to_num(step), -1.0, 1.0)
        return Ways(ways.entry, ways.exit, np.clip(ways.at + step, low, high))

    def _straight(self, ways: Ways, gaps: list[_Gaps]) -> tuple[Floats, Floats]:
        """What is to be made large and what is to be kept, at each way and a stride along each of its four numbers."""
        n = len(ways)
        strides = np.concatenate([np.zeros((1, 4)), STRIDE * np.eye(4)])
        at = (ways.at[:, np.newaxis] + strides).reshape(-1, 4)
        lines = self.bench.lines(Ways(np.repeat(ways.entry, 5), np.repeat(ways.exit, 5), at))
        hulls = self.bench.hulls(lines)
        faces = self._each_face(hulls)
        most = max((3 * len(gap.way) for gap in gaps), default=0)
        wood = np.full((len(at), most), FREE)
        for i, gap in enumerate(gaps):
            rows = slice(5 * i, 5 * i + 5)
            wood[rows, : 3 * len(gap.way)] = gap.each(hulls[rows])
        cover = np.column_stack([faces, wood])
        goal, kept = [], []
        for name, part in self.bench.parts(lines):
            if name == self.goal:
                goal.append(part)
            elif {name, self.goal} != {"reach", "chuck"}:
                kept.append(part)
        if self.goal == "cover":
            goal.append(cover)
        else:
            kept.append(cover - self.least)
        wide, narrow = (np.minimum(np.column_stack(part), FREE).reshape(n, 5, -1) for part in (goal, kept))
        return wide, narrow

    def _exact(self, ways: Ways, about: Floats, slack: float) -> tuple[Tried, list[_Gaps]]:
        """The proven wood of each way, and the directions that prove it.

        Args:
            ways: to be measured.
            about: roughly how much wood each may have, mm: pieces much further off are left out of the search.
            slack: how much further pieces are taken along for their directions, mm.
        """
        lines = self.bench.lines(ways)
        margins = self.bench.margins(lines)
        cover, gaps = self._wood(lines, about, slack)
        return Tried(ways, self._score(cover, margins), cover, margins), gaps

    def _wood(self, lines: Lines, about: Floats, slack: float) -> tuple[Floats, list[_Gaps]]:
        hulls = self.bench.hulls(lines)
        cover = self._faces(hulls)
        gaps = []
        if len(hulls):
            row, piece = self._near(hulls, np.minimum(about, cover) + slack)
            own = self._own(lines, row, piece)
            row, piece = row[~own], piece[~own]
            found = convex.nearest(hulls[row], self.pieces.hulls[piece])
            mm = np.where(found.upper < convex.TOUCHING, 0.0, found.lower)
            np.minimum.at(cover, row, mm)
            apart = found.a - found.b
            size = np.sqrt((apart**2).sum(axis=1))
            for i in range(len(hulls)):
                mine = np.flatnonzero((row == i) & (size > 1e-6))
                way = apart[mine] / size[mine, np.newaxis]
                gaps.append(_Gaps(way, convex.height(self.pieces.hulls[piece[mine]], way)))
        return cover, gaps

    def _near(self, hulls: Floats, within: Floats) -> tuple[Ints, Ints]:
        """Pieces that may come so near: by their boxes and the boxes of the tunnel cut into lengths."""
        parts = 4
        reach = np.sqrt((hulls[:, :, 1:] ** 2).sum(axis=2))
        ends = hulls[:, [0, 2], 0]
        close = np.zeros((len(hulls), len(self.pieces.low)), dtype=bool)
        wide = reach.max(axis=1)
        for part in range(parts):
            a = ends[:, 0] + part / parts * (ends[:, 1] - ends[:, 0])
            b = ends[:, 0] + (part + 1) / parts * (ends[:, 1] - ends[:, 0])
            low, high = np.minimum(a, b) - wide, np.maximum(a, b) + wide
            off = np.zeros(close.shape)
            for k in range(3):
                gap = np.maximum(
                    self.pieces.low[:, k] - high[:, k : k + 1], low[:, k : k + 1] - self.pieces.high[:, k]
                )
                off += np.square(np.maximum(gap, 0.0))
            close |= off <= (within**2)[:, np.newaxis]
        return np.nonzero(close)  # type: ignore[return-value]

    def _own(self, lines: Lines, row: Ints, piece: Ints) -> NDArray[np.bool_]:
        """Sides of the outline by which a tunnel from the edge goes in."""
        if not self.edge:
            return np.zeros(len(row), dtype=bool)
        sides = self.pieces.edge
        start, end = self.pieces.hulls[sides, 0, 0, :2], self.pieces.hulls[sides, 1, 0, :2]
        own = np.zeros((len(lines.length), len(sides)), dtype=bool)
        own[:, sides] = own_walls(lines.start, lines.axis, start, end, self.bench.r)
        return np.asarray(own[row, piece])


@dataclass(frozen=True, slots=True)
class _Gaps:
    """Directions that part a tunnel from pieces near it, from the piece to the tunnel, and how far each piece reaches."""

    way: Floats
    reach: Floats

    def each(self, hulls: Floats) -> Floats:
        """Wood that each end of some tunnels leaves to each of the pieces, at the least, (n, 3 × pieces)."""
        n, k = hulls.shape[:2]
        along = (hulls.reshape(-1, 3) @ -self.way.T).reshape(n, k, 3, -1)
        reach = along[:, :, 0] + np.hypot(along[:, :, 1], along[:, :, 2])
        return np.asarray(-reach - self.reach).reshape(n, -1)
