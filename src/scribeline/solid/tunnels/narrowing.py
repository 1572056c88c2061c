"""One tunnel's answer, found among the few cuts that decide it.

What is not there can only leave more wood. So the best way among some of the cuts is the best among all of them, if the
others come no nearer to it than those do. It is looked for with those first that lie between its walls; whatever comes
too near to what is found is minded from then on, and it is looked for again. What is found depends on the problem alone,
and what was found among the same few cuts before is kept: an edit that moves none of them costs one measuring.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING, TypeAlias

import numpy as np

from scribeline.features import Bit
from scribeline.solid import convex
from scribeline.solid.tunnels.courses import Bench, Place
from scribeline.solid.tunnels.pieces import Pieces
from scribeline.solid.tunnels.problem import Course, Problem
from scribeline.solid.tunnels.solve import Solution, solve

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]

ROUNDS = 4
"""After so many it is looked for among all cuts at once."""

BESIDE = 6.0
"""What lies so near to where a way may run is minded from the first, mm: about a bit's radius and as much wood as one looks
for. So it seldom has to be looked for again."""

SAME = 1e-6
"""Wood that differs by less is the same, mm."""


Look: TypeAlias = Callable[[Problem, tuple[Bit, ...], float], Solution | None]
"""Looks for the way of a tunnel, as `solve` does; None where that is not known yet and is waited for."""


def best_way(problem: Problem, bits: tuple[Bit, ...], drift: float, look: Look = solve) -> Solution | None:
    """Find the best way to drill a tunnel: what `solve` finds, among the cuts that decide it.

    Args:
        problem: what is asked.
        bits: that may drill it, best first.
        drift: how far a long bit wanders, mm per mm, where the bit's own is not stated.
        look: looks for it among some of the cuts.

    Returns:
        What was found; None where `look` does not know it yet.
    """
    every = _cuts(problem)
    minded = every.between()
    for _ in range(ROUNDS):
        found = look(every.only(minded), bits, drift)
        if found is None:
            return None
        if found.best is None:
            break
        nearer = every.nearer(found.best, drift) - minded
        if not nearer:
            measured = (every.measured(other, drift) for other in found.others)
            others = [other for other in measured if other.cover >= problem.wants.least]
            return replace(found, others=tuple(sorted(others, key=lambda other: -other.cover)))
        minded |= nearer
    # Where there is no way, what would have to give is told for all that is there.
    return look(problem, bits, drift)


class _Cuts:
    """The bores' pieces and the other pockets of a problem, by their numbers in its names; carved surfaces always count."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.many = len(problem.turned) + len(problem.hollows)
        pieces = Pieces(replace(problem, facets=(), names=tuple(map(str, range(self.many)))))
        mine = np.array([name != "edge" for name in pieces.names], dtype=bool)
        self.hulls, self.low, self.high = pieces.hulls[mine], pieces.low[mine], pieces.high[mine]
        self.number = np.array([int(name) for name in pieces.names if name != "edge"], dtype=np.intp)

    def between(self) -> frozenset[int]:
        """Those that lie, seen from above, between where it may start and the wall nearest to that, or just beside."""
        import shapely

        problem = self.problem
        if not problem.exits or not (problem.hide or problem.entries):
            return frozenset()
        exits = shapely.linestrings([[wall.a, wall.b] for wall in problem.exits])
        if problem.hide:
            starts = np.array([shapely.Polygon(problem.hide)])
        else:
            starts = shapely.linestrings([[wall.a, wall.b] for wall in problem.entries])
        far = shapely.distance(starts[:, np.newaxis], exits)
        i, j = np.unravel_index(int(np.argmin(far)), far.shape)
        room = shapely.union(starts[i], exits[j]).convex_hull
        boxes = shapely.box(self.low[:, 0], self.low[:, 1], self.high[:, 0], self.high[:, 1])
        return frozenset(self.number[shapely.distance(boxes, room) <= BESIDE].tolist())

    def only(self, minded: Iterable[int]) -> Problem:
        """The problem with no other cuts than these."""
        problem, bores = self.problem, len(self.problem.turned)
        numbers = sorted(minded)
        return replace(
            problem,
            turned=tuple(problem.turned[n] for n in numbers if n < bores),
            hollows=tuple(problem.hollows[n - bores] for n in numbers if n >= bores),
            names=tuple(problem.names[n] for n in numbers) if problem.names else (),
        )

    def nearer(self, course: Course, drift: float) -> frozenset[int]:
        """Those that leave less wood to a way than it is known to have."""
        piece, wood = self._wood(course, drift)[:2]
        return frozenset(self.number[piece[wood < course.cover - SAME]].tolist())

    def measured(self, course: Course, drift: float) -> Course:
        """A way with the least wood that it leaves to any of them."""
        piece, wood, places = self._wood(course, drift)
        if len(piece) == 0 or wood.min() >= course.cover - SAME:
            return course
        least = int(np.argmin(wood))
        name = self.problem.names[self.number[piece[least]]] if self.problem.names else "a cut"
        return replace(course, cover=float(wood[least]), nearest=name, places=places[least])

    def _wood(self, course: Course, drift: float) -> tuple[Ints, Floats, list[tuple[Place, Place]]]:
        """The pieces that may leave less wood than is known, how much, and between which two places."""
        bench = Bench(self.problem, (course.bit,), drift)
        hull = bench.hulls(bench.line(course.start, course.end, course.axis, course.normal, course.depth))
        reach = np.sqrt((hull[0, :, 1:] ** 2).sum(axis=1))
        low, high = (hull[0, :, 0] - reach).min(axis=0), (hull[0, :, 0] + reach).max(axis=0)
        off = np.maximum(np.maximum(self.low - high, low - self.high), 0.0)
        piece = np.flatnonzero((off**2).sum(axis=1) <= course.cover**2)
        if len(piece) == 0:
            return piece, np.zeros(0), []
        found = convex.nearest(np.repeat(hull, len(piece), axis=0), self.hulls[piece])
        wood = np.where(found.upper < convex.TOUCHING, 0.0, found.lower)
        ends = zip(found.a.tolist(), found.b.tolist(), strict=True)
        return piece, wood, [((a[0], a[1], a[2]), (b[0], b[1], b[2])) for a, b in ends]


@lru_cache(maxsize=64)
def _cuts(problem: Problem) -> _Cuts:
    return _Cuts(problem)
