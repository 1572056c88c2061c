"""The answer to one tunnel: the best way, others worth knowing, or which limit would have to give and by how much."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from math import acos, degrees
from typing import TYPE_CHECKING, Literal

import numpy as np

from scribeline.features import Bit, Bore
from scribeline.solid.tunnels.courses import MARGINS, Bench, Lines, Ways
from scribeline.solid.tunnels.pieces import Pieces
from scribeline.solid.tunnels.problem import Course, Problem, Wants
from scribeline.solid.tunnels.search import WITHIN, Goal, Search, Tried

if TYPE_CHECKING:
    from numpy.typing import NDArray

ALTERNATIVES = 3
"""How many ways are told at most besides the best."""

APART = 8.0
APART_DEG = 12.0
"""Two ways that start nearer than this, mm, and head within this, degrees, are the same way to a builder."""

ROOM = 0.01
"""By how much more than the least a limit is relaxed, mm, so that the answer stands."""

Kind = Literal["cover", "diameter", "hidden", "reach", "chuck", "window"]


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
    pieces = Pieces(problem)
    for bit in bits:
        ways = _ways(problem, bit, drift, pieces)
        if ways:
            return Solution(ways[0], ways[1 : 1 + ALTERNATIVES])
    return Solution(None, (), tuple(_relaxed(problem, bits, drift, pieces)))


def _ways(problem: Problem, bit: Bit, drift: float, pieces: Pieces) -> tuple[Course, ...]:
    """The ways that keep every limit, most wood first, none like another."""
    bench = Bench(problem, bit, drift if bit.drift is None else bit.drift)
    tried = Search(bench, pieces, "cover", problem.wants.least).best()
    chosen: list[Course] = []
    for i in np.argsort(-tried.score).tolist():
        if tried.margins[i].min() < -WITHIN or tried.cover[i] < problem.wants.least - 1e-9:
            continue
        course = _course(bench, pieces, tried, i)
        if not any(_alike(course, other) for other in chosen):
            chosen.append(course)
    return tuple(chosen)


def _alike(a: Course, b: Course) -> bool:
    off = max(abs(p - q) for p, q in zip(a.start, b.start, strict=True))
    cosine = sum(p * q for p, q in zip(a.axis, b.axis, strict=True))
    return off < APART and degrees(acos(min(1.0, max(-1.0, cosine)))) < APART_DEG


def _course(bench: Bench, pieces: Pieces, tried: Tried, row: int) -> Course:
    lines = bench.lines(tried.ways.pick(np.array([row])))
    margins = dict(zip(MARGINS, tried.margins[row].tolist(), strict=True))
    return _along(bench, pieces, lines, float(tried.cover[row]), margins)


def _along(bench: Bench, pieces: Pieces, lines: Lines, cover: float, margins: dict[str, float]) -> Course:
    def place(part: NDArray[np.float64]) -> tuple[float, float, float]:
        x, y, z = part[0].tolist()
        return x, y, z

    nearest, places = Search(bench, pieces, "cover", 0.0).nearest(lines)
    return Course(
        bit=bench.bit,
        start=place(lines.start),
        end=place(lines.end),
        axis=place(lines.axis),
        normal=place(np.asarray(lines.normal)),
        depth=float(lines.depth[0]),
        outside=float(bench.outside(lines)[0]),
        cover=cover,
        nearest=nearest,
        places=places,
        margins=margins,
    )


_GOALS: dict[Kind, Goal] = {
    "cover": "cover",
    "hidden": "hidden",
    "reach": "reach",
    "chuck": "chuck",
    "window": "window",
}


def _relaxed(problem: Problem, bits: tuple[Bit, ...], drift: float, pieces: Pieces) -> list[Relaxed]:
    """For each limit, by how much it would have to give while all the others are kept; proved by solving again."""
    found: list[Relaxed] = []
    bit, wants = bits[0], problem.wants
    for kind, goal in _GOALS.items():
        if kind == "hidden" and problem.start != "face":
            continue
        bench = Bench(problem, bit, drift if bit.drift is None else bit.drift)
        tried = Search(bench, pieces, goal, wants.least).best()
        if len(tried.score) == 0:
            continue
        best = int(np.argmax(tried.score))
        column = -1 if kind == "cover" else MARGINS.index(kind)
        kept = [i for i, name in enumerate(MARGINS) if name != kind and {name, kind} != {"reach", "chuck"}]
        if tried.margins[best, kept].min() < -WITHIN:
            continue
        if kind != "cover" and tried.cover[best] < wants.least - WITHIN:
            continue
        by = (
            wants.least - float(tried.cover[best]) if kind == "cover" else -float(tried.margins[best, column])
        )
        if by <= 0 or (kind == "cover" and tried.cover[best] <= 0):
            continue
        eased, eased_bit, to = _eased(kind, by + ROOM, wants, bit, bench.longest)
        if to < 0:
            continue
        ways = _ways(replace(problem, wants=eased), eased_bit, drift, pieces)
        if ways:
            found.append(Relaxed(kind, by + ROOM, to, ways[0]))
    thinner = _thinner(problem, bit, drift, pieces)
    return found if thinner is None else [*found, thinner]


def _eased(kind: Kind, by: float, wants: Wants, bit: Bit, longest: float) -> tuple[Wants, Bit, float]:
    if kind == "cover":
        return replace(wants, least=wants.least - by), bit, wants.least - by
    if kind == "hidden":
        return replace(wants, hidden=wants.hidden - by), bit, wants.hidden - by
    if kind == "chuck":
        return replace(wants, chuck=wants.chuck - by), bit, wants.chuck - by
    if kind == "window":
        return replace(wants, window=wants.window - by), bit, wants.window - by
    longer = longest + by
    return replace(wants, longest=max(longer, wants.longest)), replace(bit, reach=longer), longer


def _thinner(problem: Problem, bit: Bit, drift: float, pieces: Pieces) -> Relaxed | None:
    """The thickest bit with which there is a way, to 0.1 mm, by halving."""
    low, high, best = 1.0, bit.diameter, None
    while high - low > 0.1:
        middle = round((low + high) / 2, 2)
        ways = _ways(
            problem, replace(bit, diameter=middle, point=bit.point * middle / bit.diameter), drift, pieces
        )
        if ways:
            low, best = middle, ways[0]
        else:
            high = middle
    return (
        None
        if best is None
        else Relaxed("diameter", bit.diameter - best.bit.diameter, best.bit.diameter, best)
    )


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
        np.array([[entry[0], entry[1], along_wall, -lands]]),
    )
    bench, pieces = Bench(problem, bit, drift if bit.drift is None else bit.drift), Pieces(problem)
    tried = Search(bench, pieces, "cover", problem.wants.least).measured(ways)
    return _course(bench, pieces, tried, 0)


def measure(problem: Problem, bit: Bit, drift: float, *, run: float, bore: Bore) -> Course:
    """What a hole that is there already leaves.

    Args:
        problem: what was asked.
        bit: that drilled it.
        drift: how far a long bit wanders, mm per mm.
        run: along its axis to the wall it comes out of, mm.
        bore: the hole, in the problem's frame.
    """
    bench, pieces = Bench(problem, bit, drift if bit.drift is None else bit.drift), Pieces(problem)
    start, axis, normal = (np.array([part]) for part in (bore.at, bore.axis, bore.normal))
    none = np.zeros(1, dtype=np.intp)
    lines = Lines(
        start=start,
        end=start + run * axis,
        axis=axis,
        normal=normal,
        sine_in=-(axis * normal).sum(axis=1),
        sine_out=np.ones(1),
        length=np.array([run]),
        depth=np.array([bore.deepest.depth]),
        entry=none,
        exit=none,
    )
    return _along(bench, pieces, lines, Search(bench, pieces, "cover", 0.0).wood(lines), {})
