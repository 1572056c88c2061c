"""The answer to one tunnel: the best way, others worth knowing, or which limit would have to give and by how much."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from math import cos, floor, radians
from typing import TYPE_CHECKING

import numpy as np

from scribeline.features import Bit, Bore
from scribeline.solid.tunnels.courses import MARGINS, Bench, Lines, Ways
from scribeline.solid.tunnels.pieces import Pieces, coarse
from scribeline.solid.tunnels.problem import Course, Problem
from scribeline.solid.tunnels.quests import WITHIN, Goal, Quests
from scribeline.solid.tunnels.search import Search
from scribeline.solid.tunnels.starts import Seen
from scribeline.solid.tunnels.tried import Tried

if TYPE_CHECKING:
    from numpy.typing import NDArray

ALTERNATIVES = 3
"""How many ways are told at most besides the best."""

APART = 8.0
APART_DEG = 12.0
LIKE_COSINE = cos(radians(APART_DEG))
"""Two ways that start nearer than this, mm, and head within this, degrees, are the same way to a builder."""

ROOM = 0.01
"""By how much more than the least a limit is relaxed, mm, so that the answer stands."""

THINNEST = 1.0
"""The thinnest bit that is thought of when a thinner one is looked for, mm."""

Kind = Goal


@dataclass(frozen=True, slots=True)
class Relaxed:
    """One limit that would have to give.

    Attributes:
        kind: which.
        by: by how much, mm.
        to: what it would then be, mm.
        course: a way that keeps all the others.
    """

    kind: Kind
    by: float
    to: float
    course: Course


@dataclass(frozen=True, slots=True)
class Solution:
    """What was found.

    Attributes:
        best: the way that leaves most wood; None when no way keeps every limit.
        others: ways genuinely different from it and from one another, the most wood first.
        relaxed: when there is none: the limits of which any one would have to give, by the least that is enough.
    """

    best: Course | None
    others: tuple[Course, ...] = ()
    relaxed: tuple[Relaxed, ...] = ()


@lru_cache(maxsize=64)
def solve(problem: Problem, bits: tuple[Bit, ...], drift: float) -> Solution:
    """Find the best way to drill a tunnel.

    Args:
        problem: what is asked.
        bits: that may drill it, best first: a later one is taken only where the earlier ones find no way.
        drift: how far a long bit wanders, mm per mm, where the bit's own is not stated.
    """
    if not problem.exits or not (problem.entries or problem.hide):
        return Solution(None)  # no wall in the wood to come out of, or nowhere to start
    box = Bench(problem, bits, drift).around()
    pieces = Pieces(problem).within(*box), Pieces(coarse(problem)).within(*box)
    first = _search(problem, bits[:1], drift, pieces)
    tried = first.best()
    ways = _ways(first, tried, 0)
    if ways:
        return Solution(ways[0], ways[1:])
    # The other bits, and all that might give, are looked for together.
    rest, eased = bits[1:], _eased_goals(problem)
    search = _search(problem, (*rest, *(bits[0],) * len(eased)), drift, pieces, eased, seen=first.seen)
    more = search.best()
    for number in range(len(rest)):
        ways = _ways(search, more, number)
        if ways:
            return Solution(ways[0], ways[1:])
    found = [_relaxed(first, tried, 0)]
    found += [_relaxed(search, more, len(rest) + number) for number in range(len(eased))]
    return Solution(None, (), tuple(each for each in found if each is not None))


def _search(
    problem: Problem,
    bits: tuple[Bit, ...],
    drift: float,
    pieces: tuple[Pieces, Pieces],
    eased: tuple[Goal, ...] = (),
    *,
    seen: dict[Bit, Seen] | None = None,
) -> Search:
    """A search for the most wood with each of these bits, but with the last ones for what each eases."""
    cover: tuple[Goal, ...] = ("cover",)
    goals = cover * (len(bits) - len(eased)) + eased
    thinnest = [
        min(THINNEST, bit.diameter) / 2 if goal == "diameter" else bit.diameter / 2
        for bit, goal in zip(bits, goals, strict=True)
    ]
    bench = Bench(problem, bits, drift, np.array(thinnest))
    return Search(Quests(bench, goals, problem.wants.least), pieces, seen)


def _ways(search: Search, tried: Tried, quest: int) -> tuple[Course, ...]:
    """The best of the ways of one quest that keep every limit and others, most wood first, none like another."""
    good = (tried.ways.bit == quest) & (tried.margins.min(axis=1) >= -WITHIN)
    rows = np.flatnonzero(good & (tried.cover >= search.quests.least - 1e-9))
    lines = search.bench.lines(tried.ways.pick(rows))
    chosen: list[int] = []
    for i in range(len(rows)):
        if len(chosen) <= ALTERNATIVES and not any(_alike(lines, i, other) for other in chosen):
            chosen.append(i)
    return tuple(_course(search, tried, int(rows[i])) for i in chosen)


def _alike(lines: Lines, one: int, other: int) -> bool:
    off = max(abs(p - q) for p, q in zip(lines.start[one].tolist(), lines.start[other].tolist(), strict=True))
    cosine = sum(p * q for p, q in zip(lines.axis[one].tolist(), lines.axis[other].tolist(), strict=True))
    return bool(off < APART and cosine > LIKE_COSINE)


def _course(search: Search, tried: Tried, row: int) -> Course:
    lines = search.bench.lines(tried.ways.pick(np.array([row])))
    margins = dict(zip(MARGINS, tried.margins[row].tolist(), strict=True))
    return _along(search, lines, float(tried.cover[row]), margins)


def _along(search: Search, lines: Lines, cover: float, margins: dict[str, float]) -> Course:
    def place(part: NDArray[np.float64]) -> tuple[float, float, float]:
        x, y, z = part[0].tolist()
        return x, y, z

    nearest, places = search.nearest(lines)
    bit, diameter = search.bench.bits[int(lines.bit[0])], 2 * float(lines.r[0])
    if abs(diameter - bit.diameter) > 1e-6:
        bit = replace(bit, diameter=diameter, point=float(lines.point[0]))
    return Course(
        bit=bit,
        start=place(lines.start),
        end=place(lines.end),
        axis=place(lines.axis),
        normal=place(np.asarray(lines.normal)),
        depth=float(lines.depth[0]),
        outside=float(search.bench.outside(lines)[0]),
        cover=cover,
        nearest=nearest,
        places=places,
        margins=margins,
    )


def _eased_goals(problem: Problem) -> tuple[Goal, ...]:
    """What might give besides the wood."""
    hidden: tuple[Goal, ...] = ("hidden",) if problem.start == "face" else ()
    return (*hidden, "reach", "chuck", "window", "diameter")


def _relaxed(search: Search, tried: Tried, quest: int) -> Relaxed | None:
    """By how much the limit of one quest would have to give while all the others are kept; None where that is no cure."""
    rows = np.flatnonzero(tried.ways.bit == quest)
    if len(rows) == 0:
        return None
    row, kind, wants = int(rows[0]), search.quests.goals[quest], search.bench.problem.wants
    if not search.quests.keeps(tried)[row]:
        return None
    if kind == "diameter":
        # Rounded down to what is told, and measured again.
        thin = tried.ways.pick(np.array([row]))
        thin.at[:, 4] = floor(100 * thin.at[0, 4] - 1e-6) / 100
        tried, row = search.measured(thin), 0
        course = _course(search, tried, row)
        return Relaxed(
            kind, search.bench.bits[quest].diameter - course.bit.diameter, course.bit.diameter, course
        )
    if kind == "cover":
        cover = float(tried.cover[row])
        by = wants.least - cover
        return Relaxed(kind, by, cover, _course(search, tried, row)) if 0 < by < wants.least else None
    by = ROOM - float(tried.margins[row, MARGINS.index(kind)])
    now = {
        "hidden": wants.hidden,
        "chuck": wants.chuck,
        "window": wants.window,
        "reach": float(search.bench.longest[quest]),
    }[kind]
    to = now + by if kind == "reach" else now - by
    return Relaxed(kind, by, to, _course(search, tried, row)) if by > ROOM and to >= 0 else None


def judge(
    problem: Problem,
    bit: Bit,
    drift: float,
    *,
    entry: tuple[float, float],
    heading: tuple[float, float],
    lands: float,
) -> Course | None:
    """A tunnel from a face whose place is stated; None when it never reaches a wall of its pocket.

    Args:
        problem: what is asked.
        bit: that drills it.
        drift: how far a long bit wanders, mm per mm.
        entry: where its axis meets the face, mm.
        heading: seen from above, a vector of length 1.
        lands: depth below the face at which its axis meets the wall, mm.
    """
    met = []
    for number, wall in enumerate(problem.exits):
        (ax, ay), (bx, by) = wall.a, wall.b
        run, to = (bx - ax, by - ay), (ax - entry[0], ay - entry[1])
        det = heading[1] * run[0] - heading[0] * run[1]
        if abs(det) < 1e-12:
            continue
        along = (to[1] * run[0] - to[0] * run[1]) / det
        share = (to[1] * heading[0] - to[0] * heading[1]) / det
        if along > 0 and 0 <= share <= 1:
            met.append((along, number, share * (run[0] ** 2 + run[1] ** 2) ** 0.5))
    if not met:
        return None
    _, number, along_wall = min(met)
    ways = Ways(
        np.zeros(1, dtype=np.intp),
        np.array([number], dtype=np.intp),
        np.zeros(1, dtype=np.intp),
        np.array([[entry[0], entry[1], along_wall, -lands, bit.diameter / 2]]),
    )
    search = _search(problem, (bit,), drift, (Pieces(problem),) * 2)
    return _course(search, search.measured(ways), 0)


def measure(problem: Problem, bit: Bit, drift: float, *, run: float, bore: Bore) -> Course:
    """What a hole that is there already leaves.

    Args:
        problem: what was asked.
        bit: that drilled it.
        drift: how far a long bit wanders, mm per mm.
        run: along its axis to the wall it comes out of, mm.
        bore: the hole, in the problem's frame.
    """
    search = _search(problem, (bit,), drift, (Pieces(problem),) * 2)
    x, y, z = (at + run * way for at, way in zip(bore.at, bore.axis, strict=True))
    lines = search.bench.line(bore.at, (x, y, z), bore.axis, bore.normal, bore.deepest.depth)
    return _along(search, lines, float(search.wood(lines)[0]), {})
