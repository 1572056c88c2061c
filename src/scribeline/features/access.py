"""Can a drill get there: the bit's free run before the wood it is to cut, and room for the chuck behind it.

The drill is two cylinders on the bore's axis: the bit back to the chuck, and from there a chuck that never ends.
Wood is the body within its outline and its thickness, less the pockets that are there already. The cylinders are
looked at along lines parallel to the axis on rings about it; each ring is drawn so much wider that its lines' chords
hold the circle, so what is called clear is clear but for an edge narrower than two lines are apart
(`LINES` of them in a turn, `RINGS` rings).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import cos, pi, sqrt
from typing import TYPE_CHECKING

import numpy as np

from scribeline.features.cuts import Bore, Pocket
from scribeline.layout import Point3, Ring

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

LINES = 72
RINGS = 6
CHUCK_RADIUS = 19.0
"""Radius of a drill chuck, mm (typical, from memory: measure your own)."""

_SKIN = 0.02
"""Wood thinner than this before a mouth is the rounding of its outline, mm."""


@dataclass(frozen=True, slots=True)
class Access:
    """What a drill meets on its way to a bore.

    Attributes:
        in_the_way: how far wood reaches into the bit's free run, mm; 0 where it is clear.
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
    chuck_radius: float = CHUCK_RADIUS,
) -> Access:
    """What wood a drill meets that is to cut a bore.

    Args:
        bore: from any face, the edge, or the wall of a pocket.
        outline: of the body.
        thickness: of the body, mm; its faces are taken as flat.
        open_pockets: what has been routed before.
        chuck_radius: mm.
    """
    wood = _Wood(outline, thickness, tuple(open_pockets), bore)
    radius = bore.widest / 2
    slope = sqrt(max(0.0, 1 - bore.angle_from_face_sine**2)) / max(bore.angle_from_face_sine, 1e-6)
    in_the_way, place = 0.0, None
    for ring in [0.0, *(radius * (n + 1) / RINGS for n in range(RINGS))]:
        met = wood.before_the_mouth(ring)
        if met is not None:
            in_the_way, place = radius - ring, met
            break
    furthest, chuck = 0.0, None
    for ring in [0.0, *(chuck_radius * (n + 1) / RINGS for n in range(RINGS))]:
        back, at = wood.furthest_back(ring)
        if back > furthest:
            furthest, chuck = back, at
    # Where the bore itself enters at a slant its own rim counts too.
    outside = max(furthest, bore.lead + radius * slope if chuck is None else 0.0)
    return Access(in_the_way, place, chuck, outside, outside + bore.depth_stop)


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

    def starts(self, ring: float) -> Floats:
        """Places of the lines of one ring where they cross the plane square to the axis at t = 0."""
        if ring == 0.0:
            return self.at[np.newaxis]
        turn = np.arange(LINES) * (2 * pi / LINES)
        wide = ring / cos(pi / LINES)
        return np.asarray(
            self.at + wide * (np.cos(turn)[:, np.newaxis] * self.u + np.sin(turn)[:, np.newaxis] * self.v)
        )

    def stretches(self, start: Floats) -> list[tuple[float, float]]:
        """Where a line runs in wood: from t to t, in order."""
        left = self.body.along(start, self.way)
        for block in self.open:
            for low, high in block.along(start, self.way):
                left = [
                    part
                    for a, b in left
                    for part in ((a, min(b, low)), (max(a, high), b))
                    if part[1] - part[0] > 1e-9
                ]
        return left

    def before_the_mouth(self, ring: float) -> Point3 | None:
        """Wood of the bit's free run on this ring, or None."""
        drop = float(self.way @ self.normal)
        for start in self.starts(ring):
            # The line crosses the plane of the mouth here; a hollow wall may come out to meet the drill by `lead`.
            mouth = -float((start - self.at) @ self.normal) / drop - self.lead if abs(drop) > 1e-9 else 0.0
            for a, b in self.stretches(start):
                if a < mouth - _SKIN:
                    t = min(b, mouth)
                    return Point3(*(start + t * self.way).tolist())
        return None

    def furthest_back(self, ring: float) -> tuple[float, Point3 | None]:
        """How far before the surface the wood on this ring begins at the furthest, mm, and where."""
        best, place = 0.0, None
        for start in self.starts(ring):
            for a, _ in self.stretches(start)[:1]:
                if -a > best:
                    best, place = -a, Point3(*(start + a * self.way).tolist())
        return best, place


class _Block:
    """A region of the plan between two heights; the first ring is its outline, the others are left out of it."""

    def __init__(self, rings: tuple[Floats, ...], low: float, high: float) -> None:
        self.start = np.concatenate(rings)
        self.end = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])
        self.low, self.high = low, high

    def along(self, start: Floats, way: Floats) -> list[tuple[float, float]]:
        """Where a line lies within: from t to t, in order."""
        low, high = -np.inf, np.inf
        if abs(way[2]) > 1e-12:
            low, high = sorted(((self.low - start[2]) / way[2], (self.high - start[2]) / way[2]))
        elif not self.low <= start[2] <= self.high:
            return []
        flat = float(way[0] ** 2 + way[1] ** 2)
        if flat < 1e-18:
            return [(low, high)] if self._holds(start) else []
        # Along the line and across it, in the plan.
        a, b = self.start - start[:2], self.end - start[:2]
        across_a, across_b = (p[:, 1] * way[0] - p[:, 0] * way[1] for p in (a, b))
        crossed = (across_a > 0) != (across_b > 0)
        share = across_a[crossed] / (across_a[crossed] - across_b[crossed])
        places = a[crossed] + share[:, np.newaxis] * (b[crossed] - a[crossed])
        t = np.sort((places @ way[:2]) / flat).tolist()
        pairs = zip(t[::2], t[1::2], strict=True)
        return [(max(p, low), min(q, high)) for p, q in pairs if min(q, high) - max(p, low) > 1e-9]

    def _holds(self, place: Floats) -> bool:
        a, b = self.start - place[:2], self.end - place[:2]
        crossed = (a[:, 1] > 0) != (b[:, 1] > 0)
        x = a[crossed, 0] - a[crossed, 1] * (b[crossed, 0] - a[crossed, 0]) / (b[crossed, 1] - a[crossed, 1])
        return bool(np.count_nonzero(x > 0) % 2)
