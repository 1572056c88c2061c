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

WORTH_LEAVING = 0.8
"""Pairs that are done are left out of the rest where no more than this share stays."""

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
    along = _along(hulls, way)
    tilt = np.sqrt(along[..., 1] ** 2 + along[..., 2] ** 2)
    best = np.argmax(along[..., 0] + tilt, axis=1)
    rows = np.arange(len(hulls))
    chosen, part, across = hulls[rows, best], along[rows, best, 1:], tilt[rows, best]
    share = part / np.where(across > 0, across, 1.0)[:, np.newaxis]
    return np.asarray(chosen[:, 0] + share[:, :1] * chosen[:, 1] + share[:, 1:] * chosen[:, 2])


def height(hulls: Floats, way: Floats) -> Floats:
    """How far each hull reaches in its own direction (n,), mm, for directions of length 1."""
    along = _along(hulls, way)
    return np.asarray((along[..., 0] + np.sqrt(along[..., 1] ** 2 + along[..., 2] ** 2)).max(axis=1))


def _along(hulls: Floats, way: Floats) -> Floats:
    """Every centre and half-axis measured along its hull's direction, (n, k, 3)."""
    n, k = hulls.shape[:2]
    return np.asarray((hulls.reshape(n, 3 * k, 3) @ way[:, :, np.newaxis]).reshape(n, k, 3))


def nearest(
    a: Floats,
    b: Floats,
    group: Ints | None = None,
    *,
    beyond: float = np.inf,
    start: tuple[Floats, Floats] | None = None,
) -> Nearest:
    """The distance of every pair of hulls.

    Args:
        a: first hulls, (n, k, 3, 3).
        b: second hulls, (n, m, 3, 3).
        group: pairs of one group compete: only the nearest of each is finished. None: each pair for itself.
        beyond: pairs proven further apart than this are not finished, mm.
        start: a place in each first hull and one in each second, (n, 3), to begin with: the nearer, the sooner done.

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
    # Places are held with the pair last, (3, n): sums over three then run over long rows.
    on_a, on_b = (
        (hulls[:, :, 0].mean(axis=1).T for hulls in (a, b)) if start is None else (s.T for s in start)
    )
    v = on_a - on_b
    kept_a, kept = np.stack([on_a] * 3), np.stack([v] * 3)
    size, proven = np.sqrt(_dot(v, v)), np.zeros(n)
    while len(live) and found.probes < MOST_PROBES:
        found.probes += 1
        new_a = support(a, -v.T).T
        new = new_a - support(b, v.T).T
        proven = np.maximum(proven, _dot(v, new) / np.maximum(size, 1e-300))
        share, v = _closest(kept, new)
        own = 1 - share.sum(axis=0)
        on_a = (share[:, np.newaxis] * kept_a).sum(axis=0) + own * new_a
        used = (share > 0)[:, np.newaxis]
        kept, kept_a = np.where(used, kept, new), np.where(used, kept_a, new_a)
        before, size = size, np.sqrt(_dot(v, v))
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
        found.upper[out], found.a[out], found.b[out] = size[done], on_a[:, done].T, (on_a - v)[:, done].T
        stay = ~done
        live, a, b, group, proven, size = live[stay], a[stay], b[stay], group[stay], proven[stay], size[stay]
        kept, kept_a, v = kept[..., stay], kept_a[..., stay], v[:, stay]
    return found


@dataclass(slots=True)
class Parted:
    """What a few probes of every pair proved.

    Attributes:
        lower: proven least distance, mm; at most 0 where none is proven.
        way: the direction that proves it, from the second to the first, of length 1, (n, 3).
        tried: up to three directions that the next search of a pair near by may begin with, (n, 3, 3).
    """

    lower: Floats
    way: Floats
    tried: Floats


def parted(a: Floats, b: Floats, tried: Floats, probes: int, enough: Floats) -> Parted:
    """By how much every pair of hulls is proven to be apart: a few probes, whether they suffice or not.

    Args:
        a: first hulls, (n, k, 3, 3).
        b: second hulls, (n, m, 3, 3).
        tried: directions to begin with, (n, 3, 3): what was found for a pair near by; 0 where there is none.
        probes: how many more directions are tried.
        enough: a pair proven so far apart is not tried further, (n,), mm.
    """
    n = len(a)
    ways = tried.transpose(1, 0, 2).reshape(3 * n, 3)
    first = support(np.concatenate([a, a, a]), -ways) - support(np.concatenate([b, b, b]), ways)
    # Held with the pair last, as in `nearest`.
    kept, kept_way = (part.reshape(3, n, 3).transpose(0, 2, 1) for part in (first, ways))
    found = Parted(np.full(n, -np.inf), np.zeros((n, 3)), tried.copy())
    lower, way, live = found.lower, found.way.T, np.arange(n)
    for corner in range(2):
        lower, way = _better(lower, way, kept[corner], kept_way[corner])
    new, v = kept[2], kept_way[2]
    for turn in range(probes + 1):
        if turn:
            new = (support(a, -v.T) - support(b, v.T)).T
        lower, way = _better(lower, way, new, v)
        share, place = _closest(kept, new)
        used = (share > 0)[:, np.newaxis]
        kept, kept_way = np.where(used, kept, new), np.where(used, kept_way, v)
        v = place
        stay = lower <= enough
        if turn < probes and stay.mean() > WORTH_LEAVING:
            continue
        found.lower[live], found.way[live], found.tried[live] = lower, way.T, kept_way.transpose(2, 0, 1)
        live, a, b, enough, lower = live[stay], a[stay], b[stay], enough[stay], lower[stay]
        kept, kept_way, way, v = kept[..., stay], kept_way[..., stay], way[:, stay], v[:, stay]
        if len(live) == 0:
            break
    return found


def _better(lower: Floats, way: Floats, new: Floats, v: Floats) -> tuple[Floats, Floats]:
    """The better of two bounds of each pair, and the direction that proves it."""
    size = np.sqrt(_dot(v, v))
    sound = size > TOUCHING
    v = v / np.where(sound, size, 1.0)
    bound = np.where(sound, _dot(v, new), -np.inf)
    better = bound > lower
    return np.where(better, bound, lower), np.where(better, v, way)


def _dot(a: Floats, b: Floats) -> Floats:
    """The product of vectors held along the axis before the last."""
    product = a * b
    return np.asarray(product[..., 0, :] + product[..., 1, :] + product[..., 2, :])


_NEXT, _LAST = [1, 2, 0], [2, 0, 1]
_FIRSTS, _SECONDS = [0, 0, 1], [1, 2, 2]


TOGETHER = 400
"""How many simplices are looked at at once: what is worked out of so many stays near the processor."""


def _closest(kept: Floats, new: Floats) -> tuple[Floats, Floats]:
    """The point nearest the origin of each simplex that holds its newest corner.

    Args:
        kept: up to three older corners, (3, 3, n): corner, part, simplex; corners not needed repeat another.
        new: the newest, (3, n).

    Returns:
        Shares of the older corners (3, n), the rest being the newest's, and the point (3, n).
    """
    n = new.shape[1]
    if n <= TOGETHER:
        return _closest_of_few(kept, new)
    some = [slice(first, first + TOGETHER) for first in range(0, n, TOGETHER)]
    shares, places = zip(*(_closest_of_few(kept[..., few], new[:, few]) for few in some), strict=True)
    return np.concatenate(shares, axis=1), np.concatenate(places, axis=1)


def _closest_of_few(kept: Floats, new: Floats) -> tuple[Floats, Floats]:
    edges = kept - new
    own, pull = _dot(edges, edges), -_dot(edges, new)
    n = new.shape[1]
    share, place, size = np.zeros((8, 3, n)), np.zeros((8, 3, n)), np.empty((8, n))
    # The newest corner alone, then an edge from it, a side at it, and the whole.
    place[0] = new
    single = np.clip(pull / np.where(own > 0, own, 1.0), 0.0, 1.0)
    share[[1, 2, 3], [0, 1, 2]] = single
    place[1:4] = new + single[:, np.newaxis] * edges
    one, other = edges[_FIRSTS], edges[_SECONDS]
    across, own_one, own_other = _dot(one, other), own[_FIRSTS], own[_SECONDS]
    square = own_one * own_other
    det = square - across * across
    sound = det > 1e-12 * square
    safe = np.where(sound, det, 1.0)
    s = (pull[_FIRSTS] * own_other - pull[_SECONDS] * across) / safe
    t = (pull[_SECONDS] * own_one - pull[_FIRSTS] * across) / safe
    share[[4, 5, 6], _FIRSTS], share[[4, 5, 6], _SECONDS] = s, t
    place[4:7] = new + s[:, np.newaxis] * one + t[:, np.newaxis] * other
    size[:7] = _dot(place[:7], place[:7])
    size[4:7][~(sound & (s >= 0) & (t >= 0) & (s + t <= 1))] = np.inf
    one, other = edges[_NEXT], edges[_LAST]
    c = one[:, _NEXT] * other[:, _LAST] - one[:, _LAST] * other[:, _NEXT]
    det = _dot(edges[0], c[0])
    sound = np.abs(det) > 1e-12 * np.sqrt(own.prod(axis=0))
    inside = -_dot(c, new) / np.where(sound, det, 1.0)
    share[7] = inside
    size[7] = np.where(sound & (inside >= 0).all(axis=0) & (inside.sum(axis=0) <= 1), 0.0, np.inf)
    best = np.argmin(size, axis=0)
    rows = np.arange(n)
    return share[best, :, rows].T, place[best, :, rows].T


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
    length = np.sqrt((ways**2).sum(axis=2, keepdims=True))
    ways = np.where(length > 1e-12, ways / np.where(length > 1e-12, length, 1.0), [0.0, 0.0, 1.0])
    # Along each way and against it.
    ahead, behind = zip(_reaches(a, ways), _reaches(b, -ways), strict=True)
    both = np.minimum(sum(ahead), sum(behind))
    return np.asarray(np.maximum(0.0, both.min(axis=1)))


def _reaches(hulls: Floats, ways: Floats) -> tuple[Floats, Floats]:
    """How far each hull reaches along each of its ways, (n, w), and against it."""
    n, k = hulls.shape[:2]
    along = (hulls.reshape(n, 3 * k, 3) @ ways.transpose(0, 2, 1)).reshape(n, k, 3, -1)
    tilt = np.hypot(along[:, :, 1], along[:, :, 2])
    return (tilt + along[:, :, 0]).max(axis=1), (tilt - along[:, :, 0]).max(axis=1)


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
