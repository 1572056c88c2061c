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


class _Held:
    """Hulls with the pair last, (k, parts, n): what is worked out of them runs over long rows, one part after another.

    No sum is left to a processor's own routines, so what comes of it is the same everywhere.
    """

    __slots__ = ("corners", "round", "turned")

    def __init__(self, corners: Floats, turned: Floats, round_: Ints) -> None:
        self.corners, self.turned, self.round = corners, turned, round_

    @staticmethod
    def of(hulls: Floats) -> _Held:
        """Hulls as they come, (n, k, 3, 3)."""
        n, k = hulls.shape[:2]
        parts = hulls.reshape(n, k, 9).transpose(1, 2, 0)
        turned = hulls[:, :, 1:].any(axis=(1, 2, 3))
        round_ = np.flatnonzero(turned)
        # Most walls are flat: of these the corners alone are looked at.
        corners = np.ascontiguousarray(parts[:, : 0 if len(round_) == n else 3])
        return _Held(corners, np.ascontiguousarray(parts[..., round_]), round_)

    def pick(self, stay: NDArray[np.bool_]) -> _Held:
        """Some of them."""
        rows = np.flatnonzero(stay)
        if len(self.round) == 0:
            return _Held(self.corners.take(rows, -1), self.turned, self.round)
        if not self.corners.shape[1]:
            return _Held(self.corners[..., : len(rows)], self.turned.take(rows, -1), np.arange(len(rows)))
        among = np.flatnonzero(stay[self.round])
        round_ = (np.cumsum(stay) - 1)[self.round[among]]
        return _Held(self.corners.take(rows, -1), self.turned.take(among, -1), round_)

    def support(self, way: Floats) -> Floats:
        """The furthest point of each in its own direction; both (3, n)."""
        if not self.corners.shape[1]:
            return _turned_support(self.turned, way)
        along = _dot(self.corners, way)
        found, best = self.corners[0].copy(), along[0]
        for corner in range(1, len(along)):
            better = along[corner] > best
            best = np.where(better, along[corner], best)
            np.copyto(found, self.corners[corner], where=better)
        if len(self.round):
            found[:, self.round] = _turned_support(self.turned, way[:, self.round])
        return np.asarray(found)


def _turned_support(turned: Floats, way: Floats) -> Floats:
    """The same of hulls of ellipses, (k, 9, n): centre and half-axes one after the other."""
    first, second = _dot(turned[:, 3:6], way), _dot(turned[:, 6:], way)
    tilt = np.sqrt(first * first + second * second)
    along = _dot(turned[:, :3], way) + tilt
    disc, best = turned[0].copy(), along[0]
    parts = np.stack([first[0], second[0], tilt[0]])
    for number in range(1, len(along)):
        better = along[number] > best
        best = np.where(better, along[number], best)
        np.copyto(disc, turned[number], where=better)
        np.copyto(parts, (first[number], second[number], tilt[number]), where=better)
    across = np.where(parts[2] > 0, parts[2], 1.0)
    return np.asarray(disc[:3] + parts[0] / across * disc[3:6] + parts[1] / across * disc[6:])


def support(hulls: Floats, way: Floats) -> Floats:
    """The furthest point of each hull in its own direction, (n, 3).

    Args:
        hulls: rows of ellipses, (n, k, 3, 3).
        way: directions, (n, 3).
    """
    return _Held.of(hulls).support(way.T).T


def height(hulls: Floats, way: Floats) -> Floats:
    """How far each hull reaches in its own direction (n,), mm, for directions of length 1."""
    along = hulls * way[:, np.newaxis, np.newaxis]
    along = along[..., 0] + along[..., 1] + along[..., 2]
    return np.asarray((along[..., 0] + np.sqrt(along[..., 1] ** 2 + along[..., 2] ** 2)).max(axis=1))


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
    one, other = _Held.of(a), _Held.of(b)
    size, proven = np.sqrt(_dot(v, v)), np.zeros(n)
    while len(live) and found.probes < MOST_PROBES:
        found.probes += 1
        new_a = one.support(-v)
        new = new_a - other.support(v)
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
        live, group, proven, size = live[stay], group[stay], proven[stay], size[stay]
        one, other = one.pick(stay), other.pick(stay)
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
    found = Parted(np.full(n, -np.inf), np.zeros((n, 3)), tried.copy())
    if n == 0:
        return found
    one, other = _Held.of(a), _Held.of(b)
    # Held with the pair last, as in `nearest`. Along no direction a hull's first centre is its furthest point.
    lower, way, live = found.lower, found.way.T, np.arange(n)
    kept = np.repeat((a[:, 0, 0] - b[:, 0, 0]).T[np.newaxis], 3, axis=0)
    kept_way = np.ascontiguousarray(tried.transpose(1, 2, 0))
    known = np.asarray(tried.any(axis=(1, 2)))
    if known.any():
        some, others = (one, other) if known.all() else (one.pick(known), other.pick(known))
        for corner in range(3):
            ways = kept_way[corner][:, known]
            first = some.support(-ways) - others.support(ways)
            kept[corner][:, known] = first
            lower[known], way[:, known] = _better(lower[known], way[:, known], first, ways)
    new, v = kept[2], kept_way[2]
    for turn in range(probes + 1):
        if turn:
            new = one.support(-v) - other.support(v)
            lower, way = _better(lower, way, new, v)
        share, place = _closest(kept, new)
        used = (share > 0)[:, np.newaxis]
        kept, kept_way = np.where(used, kept, new), np.where(used, kept_way, v)
        v = place
        stay = lower <= enough
        if turn < probes and stay.mean() > WORTH_LEAVING:
            continue
        found.lower[live], found.way[live], found.tried[live] = lower, way.T, kept_way.transpose(2, 0, 1)
        live, enough, lower, one, other = (
            live[stay],
            enough[stay],
            lower[stay],
            one.pick(stay),
            other.pick(stay),
        )
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


# Of three corners, each two; and where in three vectors of three parts, one after the other, the factors of the cross
# products of the second with the third, of the third with the first and of the first with the second stand.
_FIRSTS, _SECONDS = np.array([0, 0, 1]), np.array([1, 2, 2])
_NEXT, _LAST = np.array([1, 2, 0]), np.array([2, 0, 1])
_CROSSED = tuple(
    (3 * corner[:, np.newaxis] + part).ravel()
    for corner, part in ((_NEXT, _NEXT), (_LAST, _LAST), (_NEXT, _LAST), (_LAST, _NEXT))
)
# Rows of the shares that candidates have of the older corners: edges from the newest in order, then sides.
_OF_EDGES = slice(3, 12, 4)
_OF_FIRSTS, _OF_SECONDS = 3 * np.array([4, 5, 6]) + _FIRSTS, 3 * np.array([4, 5, 6]) + _SECONDS


TOGETHER = 400
"""How many simplices are looked at at once: what is worked out of so many stays near the processor. More are sorted first
by how many corners they have."""


def _closest(kept: Floats, new: Floats) -> tuple[Floats, Floats]:
    """The point nearest the origin of each simplex that holds its newest corner.

    Most simplices have fewer than four corners: an edge or a side is all that is looked at of them, with the formulas
    that the whole has.

    Args:
        kept: up to three older corners, (3, 3, n): corner, part, simplex; corners not needed repeat another.
        new: the newest, (3, n).

    Returns:
        Shares of the older corners (3, n), the rest being the newest's, and the point (3, n).
    """
    n = new.shape[1]
    if n <= TOGETHER:
        return _closest_of_few(kept, new)
    share, place = np.zeros((3, n)), new.copy()
    first, later = (kept[0] == kept[1]).all(axis=0), (kept[1] == kept[2]).all(axis=0)
    one, last = first & later, (kept[2] == new).all(axis=0)
    rows = np.flatnonzero(one & ~last)
    if len(rows):
        share[0, rows], place[:, rows] = _closest_on_edge(kept[0].take(rows, 1), new.take(rows, 1))
    side, other = (later | last) & ~one, first & ~later & ~last
    for which, second in ((side, 1), (other, 2)):
        rows = np.flatnonzero(which)
        if len(rows):
            some = kept[0].take(rows, 1), kept[second].take(rows, 1), new.take(rows, 1)
            (share[0, rows], share[second, rows]), place[:, rows] = _closest_on_side(*some)
    left = np.flatnonzero(~(first | later | last))
    for begin in range(0, len(left), TOGETHER):
        rows = left[begin : begin + TOGETHER]
        share[:, rows], place[:, rows] = _closest_of_few(kept.take(rows, 2), new.take(rows, 1))
    return share, place


def _closest_on_edge(old: Floats, new: Floats) -> tuple[Floats, Floats]:
    """The same of edges: the older corner's share (n,), and the point."""
    edge = old - new
    own, pull = _dot(edge, edge), -_dot(edge, new)
    share = _share(pull, own)
    place = new + share * edge
    nearer = _dot(place, place) < _dot(new, new)
    return np.where(nearer, share, 0.0), np.where(nearer, place, new)


def _closest_on_side(one: Floats, other: Floats, new: Floats) -> tuple[Floats, Floats]:
    """The same of sides: the shares of both older corners (2, n), and the point."""
    n = new.shape[1]
    edges = np.stack([one, other]) - new
    own, pull = _dot(edges, edges), -_dot(edges, new)
    across = _dot(edges[0], edges[1])
    square = own[0] * own[1]
    det = square - across * across
    sound = det > 1e-12 * square
    both = (pull * own[::-1] - pull[::-1] * across) / np.where(sound, det, 1.0)
    share, place = np.zeros((4, 2, n)), np.empty((4, 3, n))
    place[0] = new
    share[[1, 2], [0, 1]] = single = _share(pull, own)
    place[1:3] = new + single[:, np.newaxis] * edges
    share[3], place[3] = both, new + both[0] * edges[0] + both[1] * edges[1]
    size = _dot(place, place)
    size[3][~(sound & (both >= 0).all(axis=0) & (both.sum(axis=0) <= 1))] = np.inf
    best, rows = np.argmin(size, axis=0), np.arange(n)
    return share[best, :, rows].T, place[best, :, rows].T


def _closest_of_few(kept: Floats, new: Floats) -> tuple[Floats, Floats]:
    edges = kept - new
    own, pull = _dot(edges, edges), -_dot(edges, new)
    n = new.shape[1]
    share, place, size = np.zeros((24, n)), np.empty((8, 3, n)), np.empty((8, n))
    # The newest corner alone, then an edge from it, a side at it, and the whole.
    place[0], place[7] = new, 0.0
    share[_OF_EDGES] = single = _share(pull, own)
    place[1:4] = new + single[:, np.newaxis] * edges
    one, other = edges.take(_FIRSTS, 0), edges.take(_SECONDS, 0)
    own_one, own_other = own.take(_FIRSTS, 0), own.take(_SECONDS, 0)
    pull_one, pull_other = pull.take(_FIRSTS, 0), pull.take(_SECONDS, 0)
    across = _dot(one, other)
    square = own_one * own_other
    det = square - across * across
    sound = det > 1e-12 * square
    safe = np.where(sound, det, 1.0)
    s = (pull_one * own_other - pull_other * across) / safe
    t = (pull_other * own_one - pull_one * across) / safe
    share[_OF_FIRSTS], share[_OF_SECONDS] = s, t
    place[4:7] = new + s[:, np.newaxis] * one + t[:, np.newaxis] * other
    size[:7] = _dot(place[:7], place[:7])
    np.copyto(size[4:7], np.inf, where=~(sound & (s >= 0) & (t >= 0) & (s + t <= 1)))
    a, b, c, d = (edges.reshape(9, n).take(at, 0) for at in _CROSSED)
    cross = (a * b - c * d).reshape(3, 3, n)
    det = _dot(edges[0], cross[0])
    sound = np.abs(det) > 1e-12 * np.sqrt(own[0] * own[1] * own[2])
    share[21:] = inside = -_dot(cross, new) / np.where(sound, det, 1.0)
    within = sound & np.logical_and.reduce(inside >= 0) & (np.add.reduce(inside) <= 1)
    size[7] = np.where(within, 0.0, np.inf)
    best, rows = size.argmin(axis=0), np.arange(n)
    return share.reshape(8, 3, n)[best, :, rows].T, place[best, :, rows].T


def _share(pull: Floats, own: Floats) -> Floats:
    """The share of an edge's older corner in the edge's point nearest the origin."""
    return np.asarray(np.minimum(np.maximum(pull / np.where(own > 0, own, 1.0), 0.0), 1.0))


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
    tilt = np.sqrt(along[:, :, 1] ** 2 + along[:, :, 2] ** 2)
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
