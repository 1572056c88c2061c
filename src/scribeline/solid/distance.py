"""The least wood between every two cuts: who is near whom, and the right method for each pair.

Upright pairs are exact closed forms (`upright`). A slanting turned piece against another turned piece is a pair of
convex hulls (`convex`). A slanting piece against a prism needs no convex cutting-up of the prism: its nearest point
lies on a wall, each a flat convex piece, or straight above or below a place inside the plan.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from scribeline.solid import convex, upright
from scribeline.solid.shapes import Discs, Prism, Shape, discs

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely import Polygon

    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]

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
        self.discs = discs(every)
        self.radii, self.centres, self.hull = self.discs.radii, self.discs.centres, self.discs.hull
        self.upright = self.discs.upright
        reach = np.sqrt((self.hull[:, :, 1:] ** 2).sum(axis=2))
        self.low = (self.hull[:, :, 0] - reach).min(axis=1)
        self.high = (self.hull[:, :, 0] + reach).max(axis=1)

    def pick(self, rows: Ints) -> Discs:
        return Discs(self.hull[rows], self.centres[rows], self.radii[rows], self.upright[rows])

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
        flat = shapely.bounds(self.plans).reshape(-1, 4)
        self.low = np.column_stack([flat[:, :2], self.bottom])
        self.high = np.column_stack([flat[:, 2:], self.top])

    def profiles(self, rows: Ints, xy: Floats) -> upright.Profiles:
        heights = np.stack([self.top[rows], self.bottom[rows], self.bottom[rows]], axis=1)
        return upright.Profiles(xy, np.zeros((len(rows), 3)), heights)


def least(shapes: Sequence[Shape], near: float) -> Found:
    """The least distance between every two solids that come within `near` of each other, in order of number.

    Args:
        shapes: the solids.
        near: mm.
    """
    turned, prisms = _Turneds(shapes), _Prisms(shapes)
    close = _Neighbours((turned, prisms), len(shapes), near)
    parts = [part.swapped() for part in _all(turned, prisms, close)]
    joined = Found(*(np.concatenate([getattr(p, name) for p in parts]) for name in Found.__slots__))
    key = joined.first * len(shapes) + joined.second
    order = np.lexsort((joined.mm, key))
    order = order[joined.mm[order] <= near]
    leading = order[np.unique(key[order], return_index=True)[1]]
    return Found(*(getattr(joined, name)[leading] for name in Found.__slots__))


def _all(turned: _Turneds, prisms: _Prisms, close: _Neighbours) -> Iterator[Found]:
    p, q = close.of(turned, turned)
    both = turned.upright[p] & turned.upright[q]
    yield _upright_turned(turned, p[both], q[both])
    yield _slanting_turned(turned, p[~both], q[~both], close.near)
    p, q = close.of(turned, prisms)
    up = turned.upright[p]
    yield _turned_in_prism(turned, prisms, p[up], q[up])
    yield _slanting_prism(turned, prisms, p[~up], q[~up], close.near)
    yield _two_prisms(prisms, *close.of(prisms, prisms))


class _Neighbours:
    """Which pieces of which solids come within reach, by their boxes: first whole solids, then their pieces."""

    def __init__(self, parts: Sequence[_Turneds | _Prisms], count: int, near: float) -> None:
        low, high = np.full((count, 3), np.inf), np.full((count, 3), -np.inf)
        for part in parts:
            np.minimum.at(low, part.owner, part.low)
            np.maximum.at(high, part.owner, part.high)
        self.near = near
        off = np.zeros((count, count))
        for k in range(3):
            gap = low[:, k, np.newaxis] - high[:, k]
            gap = np.maximum(gap, gap.T)
            off += np.square(np.maximum(gap, 0.0, out=gap), out=gap)
        self.pair = np.triu(off <= near**2, 1)

    def of(self, a: _Turneds | _Prisms, b: _Turneds | _Prisms) -> tuple[Ints, Ints]:
        """Pieces of different solids; of one kind of piece, each pair once."""
        pair = self.pair if a is b else self.pair | self.pair.T
        p, q = np.nonzero(pair[a.owner[:, np.newaxis], b.owner])
        close = _apart(a.low[p], a.high[p], b.low[q], b.high[q]) <= self.near**2
        return p[close], q[close]


def _apart(low: Floats, high: Floats, other_low: Floats, other_high: Floats) -> Floats:
    """Squared distance between boxes, mm²."""
    gap = np.maximum(0.0, np.maximum(low - other_high, other_low - high))
    return np.asarray(gap[:, 0] ** 2 + gap[:, 1] ** 2 + gap[:, 2] ** 2)


def _upright_turned(turned: _Turneds, p: Ints, q: Ints) -> Found:
    gaps = upright.gaps(turned.profiles(p), turned.profiles(q))
    return Found(turned.owner[p], turned.owner[q], gaps.mm, gaps.a, gaps.b)


def _turned_in_prism(turned: _Turneds, prisms: _Prisms, p: Ints, q: Ints) -> Found:
    import shapely

    axes, plans = shapely.points(turned.centres[p, 0, :2]), prisms.plans[q]
    ends = shapely.get_coordinates(shapely.shortest_line(axes, plans)).reshape(-1, 2, 2)
    within = (ends[:, 0] == ends[:, 1]).all(axis=1)
    aside = np.zeros(len(p))
    aside[within] = shapely.distance(axes[within], shapely.boundary(plans[within]))
    gaps = upright.gaps(turned.profiles(p), prisms.profiles(q, ends[:, 1]), aside=aside)
    return Found(turned.owner[p], prisms.owner[q], gaps.mm, gaps.a, gaps.b)


def _two_prisms(prisms: _Prisms, p: Ints, q: Ints) -> Found:
    import shapely

    one, other = prisms.plans[p], prisms.plans[q]
    ends = shapely.get_coordinates(shapely.shortest_line(one, other)).reshape(-1, 2, 2)
    within = (ends[:, 0] == ends[:, 1]).all(axis=1)
    aside = np.zeros(len(p))
    aside[within] = [_depth_in_plan(a, b) for a, b in zip(one[within], other[within], strict=True)]
    gaps = upright.gaps(prisms.profiles(p, ends[:, 0]), prisms.profiles(q, ends[:, 1]), aside=aside)
    return Found(prisms.owner[p], prisms.owner[q], gaps.mm, gaps.a, gaps.b)


def _depth_in_plan(a: Polygon, b: Polygon) -> float:
    """How deep two regions run into each other, mm: how far the shared part reaches from either's edge."""
    import shapely

    shared = shapely.points(shapely.get_coordinates(a.intersection(b)))
    if len(shared) == 0:
        return 0.0
    return float(min(shapely.distance(shared, whole.boundary).max() for whole in (a, b)))


def _slanting_turned(turned: _Turneds, p: Ints, q: Ints, near: float) -> Found:
    a, b = turned.hull[p], turned.hull[q]
    _, group = np.unique(turned.owner[p] * (len(turned.owner) + 1) + turned.owner[q], return_inverse=True)
    found = convex.nearest(a, b, group, beyond=near)
    mm = found.lower
    met = np.flatnonzero(found.lower <= 0)
    mm[met] = -convex.depth(a[met], b[met])
    return Found(turned.owner[p], turned.owner[q], mm, found.a, found.b)


def _slanting_prism(turned: _Turneds, prisms: _Prisms, p: Ints, q: Ints, near: float) -> Found:
    """Slanting pieces against prisms: walls first, then straight up and down."""
    solids = turned.pick(p)
    walls = to_walls(solids, [prisms.pieces[i] for i in q], near)
    mm, a, b = walls.mm.copy(), walls.a, walls.b
    straight, on_a, on_b = _straight(turned.hull[p], prisms, q)
    better = straight < mm
    mm[better], a[better], b[better] = straight[better], on_a[better], on_b[better]
    for row in np.flatnonzero(mm <= 0):
        mm[row] = -_depth(turned.pick(p[row : row + 1]), prisms.pieces[q[row]])
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


def _depth(piece: Discs, prism: Prism) -> float:
    """About how deep a slanting piece runs into a prism, mm: the shorter way out, up or down or sideways."""
    import shapely

    lowest = float(convex.support(piece.hull, -_UP[np.newaxis])[0, 2])
    highest = float(convex.support(piece.hull, _UP[np.newaxis])[0, 2])
    upwards = min(prism.high - lowest, highest - prism.low)
    share = np.linspace(0.0, 1.0, 65)
    start, end = piece.centres[0, 0], piece.centres[0, 2]
    axis = start + share[:, np.newaxis] * (end - start)
    axis = axis[(axis[:, 2] >= prism.low) & (axis[:, 2] <= prism.high)]
    if len(axis) == 0:
        return max(0.0, float(upwards))
    plan, points = prism.plan, shapely.points(axis[:, :2])
    to_edge = shapely.distance(plan.boundary, points)
    inside = np.where(shapely.intersects_xy(plan, axis[:, 0], axis[:, 1]), to_edge, -to_edge)
    return max(0.0, float(min(upwards, inside.max() + piece.radii.max())))


@dataclass(frozen=True, slots=True)
class Walls:
    """Distances of turned pieces from walls: infinite beyond what was asked for."""

    mm: Floats
    a: Floats
    b: Floats


def to_walls(pieces: Discs, prisms: Sequence[Prism], near: float) -> Walls:
    """The distance of each piece from the walls of the prism in the same row, wherever the piece is.

    Args:
        pieces: turned pieces.
        prisms: as many.
        near: walls further than this need not be looked at, mm.
    """
    n = len(pieces.hull)
    mm, a, b = np.full(n, np.inf), np.zeros((n, 3)), np.zeros((n, 3))
    if n == 0:
        return Walls(mm, a, b)
    row, start, end = _edges(prisms)
    keep = _hopeful(pieces, prisms, (row, start, end), near)
    row, start, end = row[keep], start[keep], end[keep]
    low, high = (np.array([getattr(p, name) for p in prisms])[row] for name in ("low", "high"))
    flat = np.zeros((len(row), 4, 3, 3))
    for corner, (xy, z) in enumerate(((start, low), (end, low), (start, high), (end, high))):
        flat[:, corner, 0, :2], flat[:, corner, 0, 2] = xy, z
    hulls = pieces.hull[row]
    found = convex.nearest(hulls, flat, row, beyond=near)
    order = np.lexsort((found.lower, row))
    leading = order[np.unique(row[order], return_index=True)[1]]
    mm[row[leading]] = np.where(found.upper[leading] < convex.TOUCHING, 0.0, found.lower[leading])
    a[row[leading]], b[row[leading]] = found.a[leading], found.b[leading]
    return Walls(mm, a, b)


def _edges(prisms: Sequence[Prism]) -> tuple[Ints, Floats, Floats]:
    """Every side of every prism's plan: its prism's row, start and end."""
    import shapely

    rings, of = shapely.get_rings(np.array([p.plan for p in prisms], dtype=object), return_index=True)
    places, ring = shapely.get_coordinates(rings, return_index=True)
    same = ring[:-1] == ring[1:]
    return np.asarray(of)[ring[:-1][same]], places[:-1][same], places[1:][same]


def _hopeful(
    pieces: Discs, prisms: Sequence[Prism], sides: tuple[Ints, Floats, Floats], near: float
) -> NDArray[np.bool_]:
    """Which sides may hold the nearest point: those no further off than some place on an axis is from some side."""
    row, start, end = sides
    hull, centres = pieces.hull, pieces.centres
    off = hull[:, :, 0, :2] - centres[:, :, :2]
    # In the plan a disc's half-axes are square to each other, so the longer one bounds it.
    width = np.hypot(off[..., 0], off[..., 1]) + np.hypot(hull[:, :, 1:, 0], hull[:, :, 1:, 1]).max(axis=2)
    apart, share = _between(centres[row, 0, :2], centres[row, 2, :2], start, end)
    low, high = np.array([p.low for p in prisms]), np.array([p.high for p in prisms])
    z = centres[row, 0, 2] + share * (centres[row, 2, 2] - centres[row, 0, 2])
    at_most = np.hypot(apart, np.maximum(0.0, np.maximum(low[row] - z, z - high[row])))
    best = np.full(len(hull), np.inf)
    np.minimum.at(best, row, at_most)
    crossing = _cross(centres[row, 0, :2], centres[row, 2, :2], start, end)
    at_least = np.where(crossing, 0.0, np.maximum(0.0, apart - width.max(axis=1)[row]))
    return np.asarray(at_least <= np.minimum(best[row] + 1e-9, near))


def _between(a: Floats, b: Floats, c: Floats, d: Floats) -> tuple[Floats, Floats]:
    """Distance in the plan from stretch ab to stretch cd as if they did not cross, and where along ab."""
    gaps, shares = [], []
    for end, share in ((a, 0.0), (b, 1.0)):
        gaps.append(_to_stretch(end, c, d)[0])
        shares.append(np.full(len(a), share))
    for end in (c, d):
        gap, at = _to_stretch(end, a, b)
        gaps.append(gap)
        shares.append(at)
    best = np.argmin(gaps, axis=0)
    rows = np.arange(len(a))
    return np.stack(gaps)[best, rows], np.stack(shares)[best, rows]


def _to_stretch(p: Floats, a: Floats, b: Floats) -> tuple[Floats, Floats]:
    run, to = b - a, p - a
    length = (run**2).sum(axis=1)
    share = np.clip((run * to).sum(axis=1) / np.where(length > 0, length, 1.0), 0.0, 1.0)
    off = to - share[:, np.newaxis] * run
    return np.hypot(off[:, 0], off[:, 1]), share


def _cross(a: Floats, b: Floats, c: Floats, d: Floats) -> NDArray[np.bool_]:
    def side(p: Floats, q: Floats, r: Floats) -> Floats:
        return np.asarray(
            (q[:, 0] - p[:, 0]) * (r[:, 1] - p[:, 1]) - (q[:, 1] - p[:, 1]) * (r[:, 0] - p[:, 0])
        )

    return np.asarray(
        (side(a, b, c) * side(a, b, d) <= 0) & (side(c, d, a) * side(c, d, b) <= 0), dtype=np.bool_
    )
