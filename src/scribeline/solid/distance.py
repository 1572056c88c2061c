"""The least wood between every two cuts: who is near whom, and the right method for each pair.

Upright pairs are exact closed forms (`upright`). A slanting turned piece against another turned piece is a pair of
convex hulls (`convex`). A slanting piece against a prism needs no convex cutting-up of the prism: its nearest point
lies on a wall, each a flat convex piece, or straight above or below a place inside the plan.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from scribeline.solid import convex, upright
from scribeline.solid.shapes import Discs, Shape, discs, hulls_of
from scribeline.solid.walls import Sides, Walls, counted, facing, least_walls, pieces_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]
    Rows = tuple[Ints, Ints]

_UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True, slots=True)
class Found:
    """Distances between solids, one a row.

    Attributes:
        first: number of one solid.
        second: number of the other.
        mm: never more than the true distance, and less by no more than `convex.TOLERANCE`; where they run into each
            other, minus an estimate of how deep.
        a: the nearest place on the first, (n, 3), mm.
        b: on the second.
    """

    first: Ints
    second: Ints
    mm: Floats
    a: Floats
    b: Floats

    def swapped(self) -> Found:
        """The same with first and second changed over where needed so that the first number is the lower."""
        turn = self.first > self.second
        flip = turn[:, np.newaxis]
        return Found(
            np.where(turn, self.second, self.first),
            np.where(turn, self.first, self.second),
            self.mm,
            np.where(flip, self.b, self.a),
            np.where(flip, self.a, self.b),
        )


class _Turneds:
    """All turned pieces in arrays, with the number of the solid each belongs to."""

    def __init__(self, shapes: Sequence[Shape]) -> None:
        every = [piece for shape in shapes for piece in shape.turned]
        self.owner = np.repeat(np.arange(len(shapes)), [len(shape.turned) for shape in shapes])
        self.pieces_of = pieces_of(self.owner, len(shapes))
        self.discs = discs(every)
        self.radii, self.centres, self.hull = self.discs.radii, self.discs.centres, self.discs.hull
        self.upright = self.discs.upright
        reach = np.sqrt((self.hull[:, :, 1:] ** 2).sum(axis=2))
        self.low = (self.hull[:, :, 0] - reach).min(axis=1)
        self.high = (self.hull[:, :, 0] + reach).max(axis=1)

    def profiles(self, rows: Ints) -> upright.Profiles:
        centres = self.centres[rows]
        return upright.Profiles(centres[:, 0, :2], self.radii[rows], centres[..., 2])


class _Prisms:
    """All prisms in arrays, with the number of the solid each belongs to."""

    def __init__(self, shapes: Sequence[Shape]) -> None:
        import shapely

        every = [(i, piece) for i, shape in enumerate(shapes) for piece in shape.prisms]
        self.pieces = [piece for _, piece in every]
        self.owner = np.array([i for i, _ in every], dtype=np.intp)
        self.plans = np.array([p.plan for _, p in every], dtype=object)
        self.bottom = np.array([p.low for _, p in every])
        self.top = np.array([p.high for _, p in every])
        self.sides = Sides(self.pieces)
        self.pieces_of = pieces_of(self.owner, len(shapes))
        flat = shapely.bounds(self.plans).reshape(-1, 4)
        self.low = np.column_stack([flat[:, :2], self.bottom])
        self.high = np.column_stack([flat[:, 2:], self.top])

    def profiles(self, rows: Ints, xy: Floats) -> upright.Profiles:
        heights = np.stack([self.top[rows], self.bottom[rows], self.bottom[rows]], axis=1)
        return upright.Profiles(xy, np.zeros((len(rows), 3)), heights)


def least(shapes: Sequence[Shape], near: float, *, apart: NDArray[np.bool_] | None = None) -> Found:
    """The least distance between every two solids that come within `near` of each other, in order of number.

    Args:
        shapes: the solids.
        near: mm.
        apart: a mark for each solid: only those marked are measured, against those that are not; all pairs when left out.
    """
    turned, prisms = _Turneds(shapes), _Prisms(shapes)
    close = _Neighbours((turned, prisms), len(shapes), near, apart)
    parts = [part.swapped() for part in _all(turned, prisms, close)]
    joined = Found(*(np.concatenate([getattr(p, name) for p in parts]) for name in Found.__slots__))
    key = joined.first * len(shapes) + joined.second
    order = np.lexsort((joined.mm, key))
    order = order[joined.mm[order] <= near]
    leading = order[np.unique(key[order], return_index=True)[1]]
    found = Found(*(getattr(joined, name)[leading] for name in Found.__slots__))
    return _over_leaning_floors(found, shapes, near)


def _over_leaning_floors(found: Found, shapes: Sequence[Shape], near: float) -> Found:
    """The same where a prism's floor leans: until here it counted as deep everywhere as it is anywhere.

    Such a pair is two sets of convex pieces, of which the nearest two tell. Where they meet, what was estimated of how deep
    stands.
    """
    leaning = [any(prism.rise for prism in shape.prisms) for shape in shapes]
    if not any(leaning):
        return found
    hulls = {}
    for row, (i, j) in enumerate(zip(found.first.tolist(), found.second.tolist(), strict=True)):
        if not (leaning[i] or leaning[j]):
            continue
        for number in (i, j):
            if number not in hulls:
                hulls[number] = hulls_of(shapes[number])
        one = np.repeat(hulls[i], len(hulls[j]), axis=0)
        other = np.tile(hulls[j], (len(hulls[i]), 1, 1, 1))
        met = convex.nearest(one, other, np.zeros(len(one), dtype=np.intp), beyond=near)
        best = int(np.argmin(np.where(met.upper < convex.TOUCHING, 0.0, met.lower)))
        if met.upper[best] >= convex.TOUCHING:
            found.mm[row], found.a[row], found.b[row] = met.lower[best], met.a[best], met.b[best]
    kept = found.mm <= near
    return Found(*(getattr(found, name)[kept] for name in Found.__slots__))


def _all(turned: _Turneds, prisms: _Prisms, close: _Neighbours) -> Iterator[Found]:
    p, q = close.of(turned, turned)
    both = turned.upright[p] & turned.upright[q]
    r, s = close.of(turned, prisms)
    up = turned.upright[r]
    yield _upright(
        _upright_turned(turned, p[both], q[both]),
        _turned_in_prism(turned, prisms, r[up], s[up]),
        _two_prisms(prisms, *close.of(prisms, prisms)),
    )
    yield from _slanting(turned, prisms, (p[~both], q[~both]), (r[~up], s[~up]), close.near)


class _Neighbours:
    """Which pieces of which solids come within reach, by their boxes: first whole solids, then their pieces."""

    def __init__(
        self,
        parts: Sequence[_Turneds | _Prisms],
        count: int,
        near: float,
        apart: NDArray[np.bool_] | None = None,
    ) -> None:
        low, high = np.full((count, 3), np.inf), np.full((count, 3), -np.inf)
        for part in parts:
            np.minimum.at(low, part.owner, part.low)
            np.maximum.at(high, part.owner, part.high)
        import shapely

        self.near = near
        boxes = shapely.box(*np.column_stack([low[:, :2] - near, high[:, :2] + near]).T)
        # By a tree: held each against each, five thousand solids took 600 MB.
        i, j = shapely.STRtree(boxes).query(shapely.box(*np.column_stack([low[:, :2], high[:, :2]]).T))
        pairs = i < j
        if apart is not None:
            pairs &= apart[i] != apart[j]
        i, j = i[pairs], j[pairs]
        close = _apart(low[i], high[i], low[j], high[j]) <= near**2
        order = np.lexsort((j[close], i[close]))
        self.solids = i[close][order], j[close][order]

    def of(self, a: _Turneds | _Prisms, b: _Turneds | _Prisms) -> Rows:
        """Pieces of different solids; of one kind of piece, each pair once."""
        i, j = self.solids
        if a is not b:
            i, j = np.concatenate([i, j]), np.concatenate([j, i])
        first, second = a.pieces_of[i], b.pieces_of[j]
        # Every piece of one with every piece of the other: a running number, split into row and column.
        row, number = counted(first[:, 1] * second[:, 1])
        columns = second[row, 1]
        p, q = first[row, 0] + number // columns, second[row, 0] + number % columns
        close = _apart(a.low[p], a.high[p], b.low[q], b.high[q]) <= self.near**2
        return p[close], q[close]


def _apart(low: Floats, high: Floats, other_low: Floats, other_high: Floats) -> Floats:
    """Squared distance between boxes, mm²."""
    gap = np.maximum(0.0, np.maximum(low - other_high, other_low - high))
    return np.asarray(gap[:, 0] ** 2 + gap[:, 1] ** 2 + gap[:, 2] ** 2)


class _Uprights(NamedTuple):
    """Pairs of upright pieces: the numbers of their solids, their profiles, and `aside` of `upright.gaps`."""

    first: Ints
    second: Ints
    one: upright.Profiles
    other: upright.Profiles
    aside: Floats


def _upright(*kinds: _Uprights) -> Found:
    one, other = (
        upright.Profiles(
            *(np.concatenate([getattr(side, name) for side in sides]) for name in upright.Profiles.__slots__)
        )
        for sides in ([kind.one for kind in kinds], [kind.other for kind in kinds])
    )
    gaps = upright.gaps(one, other, aside=np.concatenate([kind.aside for kind in kinds]))
    first, second = (np.concatenate(numbers) for numbers in zip(*(kind[:2] for kind in kinds), strict=True))
    return Found(first, second, gaps.mm, gaps.a, gaps.b)


def _upright_turned(turned: _Turneds, p: Ints, q: Ints) -> _Uprights:
    owner = turned.owner
    return _Uprights(owner[p], owner[q], turned.profiles(p), turned.profiles(q), np.zeros(len(p)))


def _turned_in_prism(turned: _Turneds, prisms: _Prisms, p: Ints, q: Ints) -> _Uprights:
    import shapely

    axes, plans = shapely.points(turned.centres[p, 0, :2]), prisms.plans[q]
    ends = shapely.get_coordinates(shapely.shortest_line(axes, plans)).reshape(-1, 2, 2)
    within = (ends[:, 0] == ends[:, 1]).all(axis=1)
    aside = np.zeros(len(p))
    aside[within] = shapely.distance(axes[within], shapely.boundary(plans[within]))
    return _Uprights(
        turned.owner[p], prisms.owner[q], turned.profiles(p), prisms.profiles(q, ends[:, 1]), aside
    )


def _two_prisms(prisms: _Prisms, p: Ints, q: Ints) -> _Uprights:
    import shapely

    one, other = prisms.plans[p], prisms.plans[q]
    ends = shapely.get_coordinates(shapely.shortest_line(one, other)).reshape(-1, 2, 2)
    within = (ends[:, 0] == ends[:, 1]).all(axis=1)
    aside = np.zeros(len(p))
    aside[within] = _depth_in_plan(one[within], other[within])
    return _Uprights(
        prisms.owner[p],
        prisms.owner[q],
        prisms.profiles(p, ends[:, 0]),
        prisms.profiles(q, ends[:, 1]),
        aside,
    )


def _depth_in_plan(a: NDArray[np.object_], b: NDArray[np.object_]) -> Floats:
    """About how deep regions run into each other, mm.

    How far the corners of the shared part reach from either's edge; where one lies in the other, which says nothing,
    no less than the width of a strip of the shared part's area and edge.
    """
    import shapely

    part = shapely.intersection(a, b)
    places, row = shapely.get_coordinates(part, return_index=True)
    shared = shapely.points(places)
    reach = np.zeros((2, len(a)))
    for deep, whole in zip(reach, (a, b), strict=True):
        np.maximum.at(deep, row, shapely.distance(shared, shapely.boundary(whole)[row]))
    edge = shapely.length(part)
    return np.asarray(np.maximum(reach.min(axis=0), 2 * shapely.area(part) / np.where(edge > 0, edge, 1.0)))


def _slanting(turned: _Turneds, prisms: _Prisms, pairs: Rows, walled: Rows, near: float) -> Iterator[Found]:
    """Pairs with a slanting piece: against turned pieces and against prisms, all in one search.

    Args:
        turned: all turned pieces.
        prisms: all prisms.
        pairs: two turned pieces.
        walled: a slanting piece and a prism.
        near: further need not be looked at, mm.
    """
    p, q = pairs
    r, s = walled
    if not len(p) and not len(r):
        return
    walls = facing(turned.discs.pick(r), prisms.sides, s, near)
    row = walls.row
    hulls = turned.hull[p], turned.hull[q]
    start = _starts(turned.hull[p], turned.hull[q])
    # A pair of solids finishes with its nearest pieces only.
    key = np.concatenate(
        [
            turned.owner[p] * len(prisms.pieces_of) + turned.owner[q],
            (turned.owner[r] * len(prisms.pieces_of) + prisms.owner[s])[row],
        ]
    )
    found = convex.nearest(
        np.concatenate([hulls[0], turned.hull[r][row]]),
        np.concatenate([hulls[1][:, [0, 1, 2, 2]], walls.hulls]),
        np.unique(key, return_inverse=True)[1],
        beyond=near,
        start=(np.concatenate([start[0], walls.on_a]), np.concatenate([start[1], walls.on_b])),
    )
    mm = found.lower[: len(p)]
    met = np.flatnonzero(mm <= 0)
    mm[met] = -convex.depth(hulls[0][met], hulls[1][met])
    yield Found(turned.owner[p], turned.owner[q], mm, found.a[: len(p)], found.b[: len(p)])
    rest = convex.Nearest(*(getattr(found, name)[len(p) :] for name in ("lower", "upper", "a", "b")))
    yield _slanting_prism(turned, prisms, walled, least_walls(rest, row, len(r)))


def _starts(a: Floats, b: Floats) -> tuple[Floats, Floats]:
    """Places on the axes of two turned pieces near each other: where to begin."""
    a0, run_a = a[:, 0, 0], a[:, 2, 0] - a[:, 0, 0]
    b0, run_b = b[:, 0, 0], b[:, 2, 0] - b[:, 0, 0]
    aa, bb, ab = (
        (one * other).sum(axis=1) for one, other in ((run_a, run_a), (run_b, run_b), (run_a, run_b))
    )
    to = b0 - a0
    da, db = (run_a * to).sum(axis=1), (run_b * to).sum(axis=1)
    det = aa * bb - ab * ab
    s = np.clip(np.where(det > 0, (da * bb - db * ab) / np.where(det > 0, det, 1.0), 0.0), 0.0, 1.0)
    t = np.clip((s * ab - db) / np.where(bb > 0, bb, 1.0), 0.0, 1.0)
    s = np.clip((t * ab + da) / np.where(aa > 0, aa, 1.0), 0.0, 1.0)
    return a0 + s[:, np.newaxis] * run_a, b0 + t[:, np.newaxis] * run_b


def _slanting_prism(turned: _Turneds, prisms: _Prisms, walled: Rows, walls: Walls) -> Found:
    """Slanting pieces against prisms: their walls, or straight up and down."""
    p, q = walled
    mm, a, b = walls.mm, walls.a, walls.b
    straight, on_a, on_b = _straight(turned.hull[p], prisms, q)
    better = straight < mm
    mm[better], a[better], b[better] = straight[better], on_a[better], on_b[better]
    met = np.flatnonzero(mm <= 0)
    mm[met] = -_depth(turned.discs.pick(p[met]), prisms, q[met])
    return Found(turned.owner[p], prisms.owner[q], mm, a, b)


def _straight(hulls: Floats, prisms: _Prisms, q: Ints) -> tuple[Floats, Floats, Floats]:
    """Distance straight up or down to the flat of a prism; 0 where a piece stands in it; else infinite."""
    import shapely

    way = np.broadcast_to(_UP, (len(q), 3))
    lowest, highest = convex.support(hulls, -way), convex.support(hulls, way)
    top, bottom = prisms.top[q], prisms.bottom[q]
    over, under = lowest[:, 2] >= top, highest[:, 2] <= bottom
    # A place of the piece within the prism's heights; its walls have been looked at, so any one tells for all.
    level = (np.maximum(lowest[:, 2], bottom) + np.minimum(highest[:, 2], top)) / 2
    rise = highest[:, 2] - lowest[:, 2]
    share = ((level - lowest[:, 2]) / np.where(rise > 0, rise, 1.0))[:, np.newaxis]
    place = np.where(
        over[:, np.newaxis],
        lowest,
        np.where(under[:, np.newaxis], highest, lowest + share * (highest - lowest)),
    )
    inside = shapely.intersects_xy(prisms.plans[q], place[:, 0], place[:, 1])
    mm = np.where(over, lowest[:, 2] - top, np.where(under, bottom - highest[:, 2], 0.0))
    other = np.column_stack([place[:, :2], np.where(over, top, np.where(under, bottom, place[:, 2]))])
    return np.where(inside, mm, np.inf), place, other


def _depth(pieces: Discs, prisms: _Prisms, q: Ints) -> Floats:
    """About how deep slanting pieces run into prisms, mm: the shorter way out, up or down or sideways."""
    import shapely

    if len(q) == 0:
        return np.zeros(0)
    top, bottom, plans = prisms.top[q], prisms.bottom[q], prisms.plans[q]
    way = np.broadcast_to(_UP, (len(q), 3))
    lowest, highest = convex.support(pieces.hull, -way)[:, 2], convex.support(pieces.hull, way)[:, 2]
    out = np.minimum(top - lowest, highest - bottom)
    start, end = pieces.centres[:, 0, np.newaxis], pieces.centres[:, 2, np.newaxis]
    axis = start + np.linspace(0.0, 1.0, 65)[:, np.newaxis] * (end - start)
    row, place = np.nonzero((axis[..., 2] >= bottom[:, np.newaxis]) & (axis[..., 2] <= top[:, np.newaxis]))
    x, y = axis[row, place, 0], axis[row, place, 1]
    to_edge = shapely.distance(shapely.boundary(plans)[row], shapely.points(x, y))
    inside = np.where(shapely.intersects_xy(plans[row], x, y), to_edge, -to_edge)
    sideways = np.full(len(q), -np.inf)
    np.maximum.at(sideways, row, inside)
    sideways = np.where(np.isfinite(sideways), sideways + pieces.radii.max(axis=1), np.inf)
    return np.asarray(np.maximum(0.0, np.minimum(out, sideways)))
