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


# The sides of the sum: each side of one profile with each corner of the other, as (start, end) corners of both.
_SIDES = np.array(
    [((i, j), (i + 1, j)) for i in range(2) for j in range(3)]
    + [((i, j), (i, j + 1)) for i in range(3) for j in range(2)]
)


def gaps(first: Profiles, second: Profiles, *, aside: Floats | None = None) -> Gaps:
    """The distance of each of the first solids from the one of the second in the same row.

    Args:
        first: solids.
        second: as many.
        aside: how much further they would have to move to part sideways than the profiles tell, (n,), mm: how deep
            an axis stands inside a prism.
    """
    apart = second.xy - first.xy
    wide = np.hypot(apart[:, 0], apart[:, 1])
    heading = np.where(
        wide[:, np.newaxis] > 0, apart / np.where(wide > 0, wide, 1.0)[:, np.newaxis], [1.0, 0.0]
    )
    a, b = np.stack([first.radii, first.heights], axis=2), np.stack([second.radii, second.heights], axis=2)
    corners = np.concatenate([a[:, _SIDES[..., 0]], b[:, _SIDES[..., 1]]], axis=3)
    sides = np.concatenate([corners, _caps(a, b)], axis=1)
    start = np.stack([sides[:, :, 0, 0] + sides[:, :, 0, 2], sides[:, :, 0, 1] - sides[:, :, 0, 3]], axis=2)
    end = np.stack([sides[:, :, 1, 0] + sides[:, :, 1, 2], sides[:, :, 1, 1] - sides[:, :, 1, 3]], axis=2)
    run = end - start
    to = np.stack([wide, np.zeros_like(wide)], axis=1)[:, np.newaxis] - start
    length = (run**2).sum(axis=2)
    share = np.clip((run * to).sum(axis=2) / np.where(length > 0, length, 1.0), 0.0, 1.0)
    off = ((to - share[..., np.newaxis] * run) ** 2).sum(axis=2)
    best = np.argmin(off, axis=1)
    rows = np.arange(len(wide))
    t, side = share[rows, best, np.newaxis], sides[rows, best]
    place = side[:, 0] + t * (side[:, 1] - side[:, 0])
    mm = np.sqrt(off[rows, best])
    across = _reach_level(start, end) - wide
    up = np.minimum(
        np.maximum(start[..., 1], end[..., 1]).max(axis=1), -np.minimum(start, end)[..., 1].min(axis=1)
    )
    into = (across >= 0) & (up >= 0)
    out = np.minimum(across + (0.0 if aside is None else aside), up)
    mm = np.where(into, -np.maximum(out, 0.0), mm)
    on_a = np.column_stack([first.xy + place[:, :1] * heading, place[:, 1]])
    on_b = np.column_stack([second.xy - place[:, 2:3] * heading, place[:, 3]])
    return Gaps(mm, on_a, on_b)


def _caps(a: Floats, b: Floats) -> Floats:
    """The level sides at the top and the bottom of the sum, from the axis outwards, (n, 2, 2, 4)."""
    rows = np.arange(len(a))
    caps = []
    for sign in (1.0, -1.0):
        # The outermost of the corners at the extreme height: radii break ties.
        top_a = np.argmax(sign * a[..., 1] + 1e-9 * a[..., 0], axis=1)
        top_b = np.argmax(-sign * b[..., 1] + 1e-9 * b[..., 0], axis=1)
        outer = np.concatenate([a[rows, top_a], b[rows, top_b]], axis=1)
        inner = outer * np.array([0.0, 1.0, 0.0, 1.0])
        caps.append(np.stack([inner, outer], axis=1))
    return np.stack(caps, axis=1)


def _reach_level(start: Floats, end: Floats) -> Floats:
    """How far out the sum reaches at height 0; minus infinity where it does not reach that height."""
    low, high = np.minimum(start[..., 1], end[..., 1]), np.maximum(start[..., 1], end[..., 1])
    rise = end[..., 1] - start[..., 1]
    share = np.clip(-start[..., 1] / np.where(rise != 0, rise, 1.0), 0.0, 1.0)
    out = start[..., 0] + share * (end[..., 0] - start[..., 0])
    out = np.where(rise != 0, out, np.maximum(start[..., 0], end[..., 0]))
    return np.asarray(np.where((low <= 0) & (high >= 0), out, -np.inf).max(axis=1))
