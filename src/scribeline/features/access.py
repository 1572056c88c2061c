"""Can a drill get there: the bit's free run before the wood it is to cut, and room for the chuck behind it.

The drill is two cylinders on the bore's axis: the bit back to the chuck, and from there a chuck that never ends.
Wood is the body within its outline and its thickness, less the pockets that are there already. The cylinders are
looked at along lines parallel to the axis on rings about it; each ring is drawn so much wider that its lines' chords
hold the circle, so what is called clear is clear but for wood narrower than two lines are apart
(`LINES` of them in a turn, `RINGS` rings).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import cos, pi, sqrt
from typing import TYPE_CHECKING

import numpy as np

from scribeline.features.cuts import Bore, Pocket
from scribeline.layout import Point3, Ring

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

LINES = 48
RINGS = 6

_SKIN = 0.02
"""Wood thinner than this before a mouth is the rounding of its outline, mm."""


@dataclass(frozen=True, slots=True)
class Access:
    """What a drill meets on its way to a bore.

    Attributes:
        in_the_way: how far wood reaches into the bit's free run, mm, up to a ring's width too much; 0 where it is clear.
        place: the wood of the free run nearest the axis; None where there is none.
        chuck: the wood that keeps the chuck furthest out; None where nothing does.
        outside: how much of the bit must still stand out of the bore at full depth for the chuck to clear, mm.
        bit: how long the bit must be from its point to the chuck, mm.
    """

    in_the_way: float
    place: Point3 | None
    chuck: Point3 | None
    outside: float
    bit: float


def drill_access(
    bore: Bore,
    outline: Ring,
    thickness: float,
    open_pockets: Iterable[Pocket],
    *,
    chuck_radius: float,
) -> Access:
    """What wood a drill meets that is to cut a bore.

    Args:
        bore: from any face, the edge, or the wall of a pocket.
        outline: of the body.
        thickness: of the body, mm; its faces are taken as flat.
        open_pockets: what has been routed before.
        chuck_radius: of the drill, mm.
    """
    return _access(bore, outline, thickness, tuple(open_pockets), chuck_radius)


@lru_cache(maxsize=256)
def _access(
    bore: Bore, outline: Ring, thickness: float, pockets: tuple[Pocket, ...], chuck_radius: float
) -> Access:
    wood = _Wood(outline, thickness, pockets, bore)
    radius = bore.widest / 2
    met = wood.before_the_mouth(radius)
    furthest, chuck = wood.furthest_back(chuck_radius)
    sine = max(bore.angle_from_face_sine, 1e-6)
    # The bit's own rim stands out of a slanting mouth, chuck or no chuck.
    rim = bore.lead + radius * sqrt(max(0.0, 1 - sine**2)) / sine
    outside = max(furthest, 0.0 if chuck is not None else rim)
    return Access(met[0], met[1], chuck, outside, outside + bore.depth_stop)


class _Wood:
    """The wood seen along lines parallel to a bore's axis: t counts from where the axis meets its surface."""

    def __init__(self, outline: Ring, thickness: float, pockets: Sequence[Pocket], bore: Bore) -> None:
        self.at = np.array(bore.at, dtype=np.float64)
        way = np.array(bore.axis, dtype=np.float64)
        self.way = way / np.sqrt(way @ way)
        self.normal = np.array(bore.normal, dtype=np.float64)
        self.lead = bore.lead
        level = np.cross(self.way, [0.0, 0.0, 1.0] if abs(self.way[2]) < 0.9 else [1.0, 0.0, 0.0])
        self.u = level / np.sqrt(level @ level)
        self.v = np.cross(self.u, self.way)
        self.body = _Block((np.array(outline),), -thickness, 0.0)
        self.open = [
            _Block(
                tuple(np.array(ring) for ring in (p.outline, *p.islands)),
                *((-p.depth, 1e-6) if p.face == "top" else (-thickness - 1e-6, p.depth - thickness)),
            )
            for p in pockets
        ]

    def starts(self, radius: float) -> Floats:
        """Where the axis and the lines of all rings cross the plane square to the axis at t = 0, inner ones first."""
        turn = np.arange(LINES) * (2 * pi / LINES)
        way = np.cos(turn)[:, np.newaxis] * self.u + np.sin(turn)[:, np.newaxis] * self.v
        wide = radius / cos(pi / LINES) * (np.arange(RINGS) + 1) / RINGS
        rings = (wide[:, np.newaxis, np.newaxis] * way).reshape(-1, 3)
        return np.asarray(self.at + np.concatenate([np.zeros((1, 3)), rings]))

    def stretches(self, start: Floats) -> tuple[Floats, Floats, NDArray[np.bool_]]:
        """Stretches of each line from t to t, (n, k), and which of them run in wood."""
        crossed = [block.crossings(start, self.way) for block in (self.body, *self.open)]
        ends = [block.heights(start, self.way) for block in (self.body, *self.open)]
        breaks = np.sort(np.concatenate([*crossed, *ends], axis=1), axis=1)
        # Lines with fewer breaks than others are filled up with stretches of no length.
        breaks = np.where(np.isfinite(breaks), breaks, np.where(np.isfinite(breaks), breaks, 0.0).max() + 1.0)
        a, b = breaks[:, :-1], breaks[:, 1:]
        real = b - a > 1e-9
        middle = (a + b) / 2
        held = [
            block.holds(start, self.way, middle, cross)
            for block, cross in zip((self.body, *self.open), crossed, strict=True)
        ]
        wood = real & held[0]
        for other in held[1:]:
            wood &= ~other
        return a, b, wood

    def before_the_mouth(self, radius: float) -> tuple[float, Point3 | None]:
        """How far wood reaches into the bit's free run, mm, and the innermost of it; 0 and None where it is clear."""
        start = self.starts(radius)
        a, b, wood = self.stretches(start)
        drop = float(self.way @ self.normal)
        # Each line crosses the plane of the mouth here; a hollow wall may come out to meet the drill by `lead`.
        mouth = np.full(len(start), -self.lead)
        if abs(drop) > 1e-9:
            mouth -= (start - self.at) @ self.normal / drop
        rows, columns = np.nonzero(wood & (a < mouth[:, np.newaxis] - _SKIN))
        if len(rows) == 0:
            return 0.0, None
        row, column = int(rows[0]), int(columns[0])
        t = min(float(b[row, column]), float(mouth[row]))
        # The ring within it was clear.
        ring = 0 if row == 0 else (row - 1) // LINES
        return radius * (1 - ring / RINGS), Point3(*(start[row] + t * self.way).tolist())

    def furthest_back(self, radius: float) -> tuple[float, Point3 | None]:
        """How far before the surface the wood within a radius begins at the furthest, mm, and where."""
        start = self.starts(radius)
        a, _, wood = self.stretches(start)
        first = np.where(wood, a, np.inf).min(axis=1)
        row = int(np.argmin(first))
        if not first[row] < 0:
            return 0.0, None
        return float(-first[row]), Point3(*(start[row] + first[row] * self.way).tolist())


class _Block:
    """A region of the plan between two heights; the first ring is its outline, the others are left out of it."""

    def __init__(self, rings: tuple[Floats, ...], low: float, high: float) -> None:
        self.start = np.concatenate(rings)
        self.end = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])
        self.low, self.high = low, high

    def crossings(self, start: Floats, way: Floats) -> Floats:
        """Where each line crosses the outline in the plan, (n, k), infinite where there is no more."""
        flat = float(way[0] ** 2 + way[1] ** 2)
        if flat < 1e-18:
            return np.full((len(start), 1), np.inf)
        # Across the lines and along them, in the plan.
        side, along = np.array([-way[1], way[0]]), way[:2] / flat
        lines, before, after = start[:, :2] @ side, self.start @ side, self.end @ side
        near = (np.minimum(before, after) <= lines.max()) & (np.maximum(before, after) >= lines.min())
        a, b = (ends[near][np.newaxis] - lines[:, np.newaxis] for ends in (before, after))
        rows, columns = np.nonzero((a > 0) != (b > 0))
        share = a[rows, columns] / (a[rows, columns] - b[rows, columns])
        first, last = self.start[near][columns], self.end[near][columns]
        place = first + share[:, np.newaxis] * (last - first)
        t = ((place - start[rows, :2]) * along).sum(axis=1)
        many = np.bincount(rows, minlength=len(start))
        found = np.full((len(start), max(1, int(many.max()))), np.inf)
        found[rows, np.arange(len(rows)) - np.repeat(np.cumsum(many) - many, many)] = t
        return found

    def heights(self, start: Floats, way: Floats) -> Floats:
        """Where each line passes the block's two heights, (n, 2); infinite for level lines."""
        if abs(way[2]) < 1e-12:
            return np.full((len(start), 2), np.inf)
        return np.asarray((np.array([self.low, self.high]) - start[:, 2:3]) / way[2])

    def holds(self, start: Floats, way: Floats, t: Floats, crossed: Floats) -> NDArray[np.bool_]:
        """Which places of the lines, t of (n, k), lie within."""
        z = start[:, 2:3] + t * way[2]
        level = (z >= self.low) & (z <= self.high)
        if way[0] ** 2 + way[1] ** 2 < 1e-18:
            return np.asarray(level & self._encloses(start)[:, np.newaxis])
        beyond = (np.isfinite(crossed)[:, np.newaxis] & (crossed[:, np.newaxis] > t[..., np.newaxis])).sum(
            axis=2
        )
        return np.asarray(level & (beyond % 2 == 1))

    def _encloses(self, places: Floats) -> NDArray[np.bool_]:
        x, y = places[:, :1], places[:, 1:2]
        a, b = self.start, self.end
        spans = (a[:, 1] > y) != (b[:, 1] > y)
        rise = np.where(b[:, 1] == a[:, 1], 1.0, b[:, 1] - a[:, 1])
        right = a[:, 0] + (y - a[:, 1]) / rise * (b[:, 0] - a[:, 0]) > x
        return np.asarray((spans & right).sum(axis=1) % 2 == 1)
