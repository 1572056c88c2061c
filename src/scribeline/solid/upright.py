"""The distance between solids whose axes are all square to the faces, in closed form.

Seen in the plane through both axes, two upright solids of revolution are two profiles. By symmetry their nearest
points lie in that plane, so their distance is that of the point (axes' distance, 0) from the sum of the two
profiles, which is a convex polygon whose sides are a side of one profile moved to a corner of the other. An upright
prism is a profile of no width that stands at the point of the prism nearest the other's axis.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Profiles:
    """Upright solids, one a row.

    Attributes:
        xy: the axes in the plan, (n, 2), mm.
        radii: at three heights, (n, 3), mm.
        heights: those heights, rising or falling, (n, 3), mm.
    """

    xy: Floats
    radii: Floats
    heights: Floats

    def of(self, rows: slice) -> Profiles:
        """Some of them."""
        return Profiles(self.xy[rows], self.radii[rows], self.heights[rows])


@dataclass(frozen=True, slots=True)
class Gaps:
    """Distances, and the two nearest points.

    Attributes:
        mm: (n,); where the solids run into each other, minus the shortest way out along or across the axes.
        a: place on the first, (n, 3).
        b: place on the second, (n, 3).
    """

    mm: Floats
    a: Floats
    b: Floats


# The sides of the sum, by its corners: each side of one profile with each corner of the other. Corner 3·i + j is
# that of corner i of the first and corner j of the second.
_STARTS = np.array(
    [3 * i + j for i in range(2) for j in range(3)] + [3 * i + j for i in range(3) for j in range(2)]
)
_ENDS = _STARTS + np.array([3] * 6 + [1] * 6)


_AT_ONCE = 20_000
"""Pairs worked at together: a pair takes 3 kB while it is."""


def gaps(first: Profiles, second: Profiles, *, aside: Floats | None = None) -> Gaps:
    """The distance of each of the first solids from the one of the second in the same row.

    Args:
        first: solids.
        second: as many.
        aside: how much further they would have to move to part sideways than the profiles tell, (n,), mm: how deep
            an axis stands inside a prism.
    """
    if len(first.xy) > _AT_ONCE:
        parts = [slice(n, n + _AT_ONCE) for n in range(0, len(first.xy), _AT_ONCE)]
        beside = [None if aside is None else aside[part] for part in parts]
        found = [
            gaps(first.of(part), second.of(part), aside=off) for part, off in zip(parts, beside, strict=True)
        ]
        return Gaps(*(np.concatenate([getattr(each, name) for each in found]) for name in Gaps.__slots__))
    apart = second.xy - first.xy
    wide = np.hypot(apart[:, 0], apart[:, 1])
    count = len(wide)
    out = (first.radii.T[:, np.newaxis] + second.radii.T).reshape(9, count)
    high = (first.heights.T[:, np.newaxis] - second.heights.T).reshape(9, count)
    # The level sides at the top and the bottom of the sum run from its axis outwards: radii break ties.
    caps = np.stack([np.argmax(sign * high + 1e-9 * out, axis=0) for sign in (1.0, -1.0)])
    start, end = np.concatenate([_at(_STARTS, count), caps]), np.concatenate([_at(_ENDS, count), caps])
    rows = np.arange(count)
    x0, y0, x1, y1 = out[start, rows], high[start, rows], out[end, rows], high[end, rows]
    x0[len(_STARTS) :] = 0.0
    run, rise = x1 - x0, y1 - y0
    length = run * run + rise * rise
    share = np.clip((run * (wide - x0) - rise * y0) / np.where(length > 0, length, 1.0), 0.0, 1.0)
    off = (wide - x0 - share * run) ** 2 + (y0 + share * rise) ** 2
    best = np.argmin(off, axis=0)
    mm = np.sqrt(off[best, rows])
    across = _reach_level(x0, y0, x1, y1) - wide
    up = np.minimum(high.max(axis=0), -high.min(axis=0))
    into = (across >= 0) & (up >= 0)
    deep = np.minimum(across + (0.0 if aside is None else aside), up)
    mm = np.where(into, -np.maximum(deep, 0.0), mm)
    heading = apart / np.where(wide > 0, wide, 1.0)[:, np.newaxis]
    heading[wide == 0] = [1.0, 0.0]
    t, starts, ends = share[best, rows], start[best, rows], end[best, rows]
    cap = best >= len(_STARTS)
    on_a = _place(first, heading, (starts // 3, ends // 3), t, cap)
    on_b = _place(second, -heading, (starts % 3, ends % 3), t, cap)
    return Gaps(mm, on_a, on_b)


def _at(corners: Ints, count: int) -> Ints:
    return np.broadcast_to(corners[:, np.newaxis], (len(corners), count))


def _place(
    solids: Profiles, heading: Floats, sides: tuple[Ints, Ints], share: Floats, cap: NDArray[np.bool_]
) -> Floats:
    """The place that lies so far along a side of the profile, on the side of the solid towards the heading."""
    rows = np.arange(len(share))
    start, end = sides
    r0 = np.where(cap, 0.0, solids.radii[rows, start])
    r = r0 + share * (solids.radii[rows, end] - r0)
    z0 = solids.heights[rows, start]
    z = z0 + share * (solids.heights[rows, end] - z0)
    return np.column_stack([solids.xy + r[:, np.newaxis] * heading, z])


def _reach_level(x0: Floats, y0: Floats, x1: Floats, y1: Floats) -> Floats:
    """How far out the sum reaches at height 0; minus infinity where it does not reach that height."""
    rise = y1 - y0
    share = np.clip(-y0 / np.where(rise != 0, rise, 1.0), 0.0, 1.0)
    out = np.where(rise != 0, x0 + share * (x1 - x0), np.maximum(x0, x1))
    reaches = (np.minimum(y0, y1) <= 0) & (np.maximum(y0, y1) >= 0)
    return np.asarray(np.where(reaches, out, -np.inf).max(axis=0))
