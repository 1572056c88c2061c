"""The distance between convex solids, many pairs at once, with a bound that proves it.

Each solid is the convex hull of a few ellipses (a centre and two half-axes; a disc, or a point where both are
nothing). The nearest points are found by the method of Gilbert, Johnson and Keerthi (IEEE Journal of Robotics and
Automation 4(2), 1988): the difference of two convex solids is probed in the direction of its nearest known point,
and the nearest point of the simplex of probes is the next guess. Every probe also proves a lower bound: the wood
between two planes that the solids do not cross. What is reported as a distance is that bound.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]

TOLERANCE = 1e-4
"""Iteration stops when the bounds are this close, mm."""

TOUCHING = 1e-7
"""Points closer than this are the same place, mm."""

MOST_PROBES = 200
"""Probes of one pair before it is given up and its proven bound reported."""


@dataclass(slots=True)
class Nearest:
    """What is known of every pair.

    Attributes:
        lower: proven least distance, mm; 0 where they meet.
        upper: distance of the two points found, mm.
        a: the nearest point of the first, (n, 3), mm.
        b: of the second.
        probes: how many rounds were needed for all.
    """

    lower: Floats
    upper: Floats
    a: Floats
    b: Floats
    probes: int = 0


def support(hulls: Floats, way: Floats) -> Floats:
    """The furthest point of each hull in its own direction, (n, 3).

    Args:
        hulls: rows of ellipses, (n, k, 3, 3).
        way: directions, (n, 3).
    """
    along = (hulls @ way[:, np.newaxis, :, np.newaxis])[..., 0]
    tilt = np.hypot(along[..., 1], along[..., 2])
    best = np.argmax(along[..., 0] + tilt, axis=1)
    rows = np.arange(len(hulls))
    chosen, part, across = hulls[rows, best], along[rows, best, 1:], tilt[rows, best]
    share = part / np.where(across > 0, across, 1.0)[:, np.newaxis]
    return np.asarray(chosen[:, 0] + share[:, :1] * chosen[:, 1] + share[:, 1:] * chosen[:, 2])


def height(hulls: Floats, way: Floats) -> Floats:
    """How far each hull reaches in its own direction (n,), mm, for directions of length 1."""
    along = (hulls @ way[:, np.newaxis, :, np.newaxis])[..., 0]
    return np.asarray((along[..., 0] + np.hypot(along[..., 1], along[..., 2])).max(axis=1))


def nearest(a: Floats, b: Floats, group: Ints | None = None, *, beyond: float = np.inf) -> Nearest:
    """The distance of every pair of hulls.

    Args:
        a: first hulls, (n, k, 3, 3).
        b: second hulls, (n, m, 3, 3).
        group: pairs of one group compete: only the nearest of each is finished. None: each pair for itself.
        beyond: pairs proven further apart than this are not finished, mm.

    Returns:
        Bounds and places; a pair that was not finished has a lower bound that shows why.
    """
    n = len(a)
    found = Nearest(np.zeros(n), np.full(n, np.inf), np.zeros((n, 3)), np.zeros((n, 3)))
    if n == 0:
        return found
    group = np.arange(n) if group is None else group
    least = np.full(int(group.max()) + 1, np.inf)
    live = np.arange(n)
    on_a, on_b = a[:, :, 0].mean(axis=1), b[:, :, 0].mean(axis=1)
    kept_a, kept = (
        np.repeat(on_a[:, np.newaxis], 3, axis=1),
        np.repeat((on_a - on_b)[:, np.newaxis], 3, axis=1),
    )
    v, proven = on_a - on_b, np.zeros(n)
    size = np.sqrt((v**2).sum(axis=1))
    while len(live) and found.probes < MOST_PROBES:
        found.probes += 1
        new_a = support(a, -v)
        new = new_a - support(b, v)
        proven = np.maximum(proven, (v * new).sum(axis=1) / np.maximum(size, 1e-300))
        share, v = _closest(kept, new)
        own = 1 - share.sum(axis=1)
        on_a = (share[:, :, np.newaxis] * kept_a).sum(axis=1) + own[:, np.newaxis] * new_a
        used = (share > 0)[:, :, np.newaxis]
        kept, kept_a = np.where(used, kept, new[:, np.newaxis]), np.where(used, kept_a, new_a[:, np.newaxis])
        before, size = size, np.sqrt((v**2).sum(axis=1))
        np.minimum.at(least, group, size)
        stuck = (size >= before) & (found.probes > 2)
        done = (size - proven < TOLERANCE) | (size < TOUCHING) | stuck
        done |= proven > np.minimum(beyond, least[group] + TOLERANCE)
        if not done.any() and found.probes < MOST_PROBES:
            continue
        if found.probes == MOST_PROBES:
            done[:] = True
        out = live[done]
        found.lower[out] = np.where(size < TOUCHING, 0.0, proven)[done]
        found.upper[out], found.a[out], found.b[out] = size[done], on_a[done], (on_a - v)[done]
        stay = ~done
        live, a, b, group, proven, size = live[stay], a[stay], b[stay], group[stay], proven[stay], size[stay]
        kept, kept_a, v = kept[stay], kept_a[stay], v[stay]
    return found


_NEXT, _LAST = [1, 2, 0], [2, 0, 1]
_PAIRS = ((0, 1), (0, 2), (1, 2))


def _closest(kept: Floats, new: Floats) -> tuple[Floats, Floats]:
    """The point nearest the origin of each simplex that holds its newest corner.

    Args:
        kept: up to three older corners, (n, 3, 3); corners not needed repeat another.
        new: the newest, (n, 3).

    Returns:
        Shares of the older corners (n, 3), the rest being the newest's, and the point (n, 3).
    """
    edges = kept - new[:, np.newaxis]
    gram = edges @ edges.transpose(0, 2, 1)
    pull = -(edges @ new[:, :, np.newaxis])[..., 0]
    n = len(new)
    share = np.zeros((n, 8, 3))
    valid = np.ones((n, 8), dtype=bool)
    own = np.stack([gram[:, i, i] for i in range(3)], axis=1)
    single = np.clip(pull / np.where(own > 0, own, 1.0), 0.0, 1.0)
    for i in range(3):
        share[:, 1 + i, i] = single[:, i]
    for slot, (i, j) in enumerate(_PAIRS, start=4):
        across = gram[:, i, j]
        det = own[:, i] * own[:, j] - across**2
        sound = det > 1e-12 * own[:, i] * own[:, j]
        safe = np.where(sound, det, 1.0)
        s = (pull[:, i] * own[:, j] - pull[:, j] * across) / safe
        t = (pull[:, j] * own[:, i] - pull[:, i] * across) / safe
        valid[:, slot] = sound & (s >= 0) & (t >= 0) & (s + t <= 1)
        share[:, slot, i], share[:, slot, j] = s, t
    one, other = edges[:, [1, 2, 0]], edges[:, [2, 0, 1]]
    c = one[..., _NEXT] * other[..., _LAST] - one[..., _LAST] * other[..., _NEXT]
    det = (edges[:, 0] * c[:, 0]).sum(axis=1)
    sound = np.abs(det) > 1e-12 * np.sqrt(own.prod(axis=1))
    inside = -(c @ new[:, :, np.newaxis])[..., 0] / np.where(sound, det, 1.0)[:, np.newaxis]
    valid[:, 7] = sound & (inside >= 0).all(axis=1) & (inside.sum(axis=1) <= 1)
    share[:, 7] = inside
    place = new[:, np.newaxis] + share @ edges
    size = np.where(valid, (place**2).sum(axis=2), np.inf)
    size[:, 7] = np.where(valid[:, 7], 0.0, np.inf)
    best = np.argmin(size, axis=1)
    rows = np.arange(n)
    at = place[rows, best]
    at[best == 7] = 0.0
    return share[rows, best], at


def depth(a: Floats, b: Floats) -> Floats:
    """About how deep two hulls run into each other, (n,), mm: the shortest way apart of many directions tried.

    Never less than the shortest of all.
    """
    if len(a) == 0:
        return np.zeros(0)
    along_a, along_b = a[:, -1, 0] - a[:, 0, 0], b[:, -1, 0] - b[:, 0, 0]
    own = np.stack(
        [along_a, along_b, np.cross(along_a, along_b), *_square(along_a), *_square(along_b)], axis=1
    )
    ways = np.concatenate([own, np.broadcast_to(_round(200), (len(a), 200, 3))], axis=1)
    ways = np.concatenate([ways, -ways], axis=1)
    length = np.sqrt((ways**2).sum(axis=2, keepdims=True))
    ways = np.where(length > 1e-12, ways / np.where(length > 1e-12, length, 1.0), [0.0, 0.0, 1.0])
    reach = [_heights(hull, way) for hull, way in ((a, ways), (b, -ways))]
    return np.asarray(np.maximum(0.0, (reach[0] + reach[1]).min(axis=1)))


def _heights(hulls: Floats, ways: Floats) -> Floats:
    along = np.einsum("nkij,nwj->nwki", hulls, ways)
    return np.asarray((along[..., 0] + np.hypot(along[..., 1], along[..., 2])).max(axis=2))


def _square(way: Floats) -> tuple[Floats, Floats]:
    """The two directions square to each: one level, one in the upright plane through it."""
    level = np.stack([-way[:, 1], way[:, 0], np.zeros(len(way))], axis=1)
    return level, np.cross(level, way)


def _round(count: int) -> Floats:
    """Directions spread evenly over half a sphere."""
    i = np.arange(count) + 0.5
    z, turn = i / count, np.pi * (1 + 5**0.5) * i
    r = np.sqrt(1 - z**2)
    return np.column_stack([r * np.cos(turn), r * np.sin(turn), z])
