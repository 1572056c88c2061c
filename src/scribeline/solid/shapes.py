"""Cuts as solids: what a bit or a router takes out of the wood, as a few convex or extruded pieces.

A bore is the union of what each of its bits cuts. One bit cuts a *turned* piece: a cylinder from the face to the
end of its full diameter, and its point. A twist bit's point is a cone of its own angle. Brad-point and
flat-bottomed bits leave a flat bottom with the mark of a centre spur, counted as a cone from `SPUR_SHARE` of the
diameter to the spur's tip, wider than spurs are. A countersink is a step of no depth whose bit's point is the cone.

A slanting bore ends where its cylinder meets the face it is cut from: its mouth is an ellipse on that face. Where
the bit is so shallow that part of its bottom stays above the face, or runs along the face, the piece is the whole
cylinder from where its rim first touches the wood: a little more than is cut, never less.

A bore from the edge, or from the wall of a pocket, ends on the upright plane that touches the wall where the axis
meets it, moved out as far as the wall curves towards the drill within the bore's width. What lies between that plane
and a curved wall is air: again a little more than is cut, never less.

A drifting bit ends up anywhere within an angle of where it was aimed, so a drift turns the cylinder into a cone
that holds every place it can reach.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import TYPE_CHECKING, Any

import numpy as np

from scribeline.features import Bore, Feature, Pocket, Slope, Step
from scribeline.solid.cutters import GRAZING
from scribeline.solid.faults import BodyError, check_depth
from scribeline.solid.lofts import triangles_of

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely import Polygon

    Floats = NDArray[np.float64]

SPUR_SHARE = 0.5
"""Width of a centre spur where it leaves a flat bottom, as a share of the diameter; more than is usual (from
memory: measure your own)."""

LONG_BORE = 60.0
"""A bore square to its face and deeper than this is drilled with a bit long enough to wander, mm (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Turned:
    """A convex solid of revolution: three discs (or points) on one axis, and everything between them.

    Attributes:
        at: where the axis meets the face, mm.
        axis: unit vector into the wood.
        depths: of the discs along the axis, growing, mm.
        radii: of the discs, mm; a convex profile.
        outward: unit normal of the surface to which a slanting mouth is trimmed, through the axis at the first of
            the depths; None for a piece that lies within the wood.
        drift: how far the bit may wander, added to each radius per mm of depth.
    """

    at: tuple[float, float, float]
    axis: tuple[float, float, float]
    depths: tuple[float, float, float]
    radii: tuple[float, float, float]
    outward: tuple[float, float, float] | None = None
    drift: float = 0.0

    @property
    def upright(self) -> bool:
        """Whether the axis is square to the faces."""
        return abs(self.axis[2]) > 1 - 1e-12


@dataclass(frozen=True, slots=True)
class Prism:
    """A region of the plan, islands and all, between two heights, mm.

    Attributes:
        plan: the region.
        low: of its floor, where that is lowest.
        high: of its upper end.
        rise: how far its floor rises for each mm towards the tail, mm; most floors are level.
    """

    plan: Polygon
    low: float
    high: float
    rise: float = 0.0

    def floor(self, x: Any) -> Any:
        """Height of its floor at places along the instrument, mm."""
        left, _, right, _ = self.plan.bounds
        return self.low + self.rise * (x - (left if self.rise > 0 else right))


@dataclass(frozen=True, slots=True)
class Shape:
    """One cut: the union of its pieces."""

    turned: tuple[Turned, ...] = ()
    prisms: tuple[Prism, ...] = ()


def drift_of(feature: Feature, drift: float) -> float:
    """The drift that counts for a cut, mm per mm: its bit's own where that was measured.

    Otherwise none for pockets and for short bores square to an outer face.
    """
    if not drift or isinstance(feature, Pocket):
        return 0.0
    measured = feature.deepest.bit.drift
    if measured is not None:
        return measured
    long = feature.deepest.depth > LONG_BORE
    slanting = feature.face == "pocket" or feature.angle_from_face_sine < 1 - 1e-9
    return drift if long or slanting else 0.0


def shape_of(feature: Feature, thickness: float, *, drift: float = 0.0) -> Shape:
    """A cut as a solid.

    Args:
        feature: a bore or a pocket.
        thickness: of the body, mm.
        drift: how far the bits may wander sideways per mm of depth.

    Raises:
        BodyError: A pocket's outline encloses nothing, or a depth is no depth.
    """
    check_depth(feature)
    if isinstance(feature, Pocket):
        if feature.slope is not None:
            return Shape(prisms=tuple(_leaning(feature, feature.slope, plan) for plan in _plans(feature)))
        low, high = (
            (-feature.depth, 0.0) if feature.face == "top" else (-thickness, feature.depth - thickness)
        )
        return Shape(prisms=tuple(Prism(plan, low, high) for plan in _plans(feature)))
    return Shape(turned=tuple(piece for step in feature.steps for piece in _step(feature, step, drift)))


def _leaning(pocket: Pocket, slope: Slope, plan: Polygon) -> Prism:
    left, _, right, _ = plan.bounds
    return Prism(plan, -max(pocket.depth_at(left), pocket.depth_at(right)), 0.0, slope.rise)


def _plans(pocket: Pocket) -> list[Polygon]:
    """The regions a pocket takes out; of an outline that crosses itself, everything it goes round: never too little."""
    import shapely

    corners = _rows(pocket.outline, 2)
    sound = len(corners) >= 3 and bool(np.isfinite(corners).all())
    plan = shapely.Polygon(corners, [np.array(island) for island in pocket.islands]) if sound else None
    if plan is not None and plan.is_valid and plan.area > 0:
        return [plan]
    rings = shapely.unary_union(shapely.LinearRing(corners)) if sound else shapely.LineString()
    round_it = shapely.unary_union(list(shapely.polygonize([rings]).geoms))
    if round_it.area <= 0:
        message = f"the outline of the {pocket.role} encloses nothing; draw its whole edge"
        raise BodyError(message)
    return list(shapely.get_parts(round_it))


def _step(bore: Bore, step: Step, drift: float) -> tuple[Turned, ...]:
    r, end, tip = step.diameter / 2, step.depth, step.point_reaches
    start = -bore.lead
    if step.bit.is_conical or tip <= end:
        return (
            Turned(
                bore.at, bore.axis, (start, end, tip), (r, r, 0.0 if tip > end else r), bore.normal, drift
            ),
        )
    spur = SPUR_SHARE * r
    return (
        Turned(bore.at, bore.axis, (start, end, end), (r, r, r), bore.normal, drift),
        Turned(bore.at, bore.axis, (end, end, tip), (spur, spur, 0.0), None, drift),
    )


@dataclass(frozen=True, slots=True)
class Discs:
    """Turned pieces as arrays, one a row.

    Attributes:
        hull: the discs, each a row of centre and two half-axes, (n, 3, 3, 3), mm; a piece is their convex hull.
        centres: places on the axis of the three discs before the mouth is trimmed to the face, (n, 3, 3), mm.
        radii: of the three discs, (n, 3), mm.
        upright: whether the axis is square to the faces, (n,).
    """

    hull: Floats
    centres: Floats
    radii: Floats
    upright: NDArray[np.bool_]

    def pick(self, rows: NDArray[np.intp]) -> Discs:
        """Some of them."""
        return Discs(self.hull[rows], self.centres[rows], self.radii[rows], self.upright[rows])


def discs(pieces: Sequence[Turned]) -> Discs:
    """Turned pieces as arrays."""
    at = _rows((p.at for p in pieces), 3)
    way = _rows((p.axis for p in pieces), 3)
    way = way / np.sqrt((way**2).sum(axis=1, keepdims=True))
    upright = np.array([p.upright for p in pieces], dtype=bool)
    way[upright] = np.sign(way[upright]) * [0.0, 0.0, 1.0]
    along = _rows((p.depths for p in pieces), 3)
    drift = np.array([p.drift for p in pieces])
    radii = _rows((p.radii for p in pieces), 3) + drift[:, np.newaxis] * np.maximum(along, 0.0)
    # Two ways square to the axis, the second level.
    flat = np.sqrt(way[:, 0] ** 2 + way[:, 1] ** 2)
    safe = np.where(flat > 0, flat, 1.0)
    v = np.stack([-way[:, 1] / safe, np.where(flat > 0, way[:, 0] / safe, 1.0), np.zeros(len(at))], axis=1)
    u = np.stack(
        [v[:, 1] * way[:, 2], -v[:, 0] * way[:, 2], v[:, 0] * way[:, 1] - v[:, 1] * way[:, 0]], axis=1
    )
    hull = np.empty((len(at), 3, 3, 3))
    hull[:, :, 0] = at[:, np.newaxis] + along[..., np.newaxis] * way[:, np.newaxis]
    hull[:, :, 1] = radii[..., np.newaxis] * u[:, np.newaxis]
    hull[:, :, 2] = radii[..., np.newaxis] * v[:, np.newaxis]
    centres = hull[:, :, 0].copy()
    trimmed = np.flatnonzero(
        [p.outward is not None and not up for p, up in zip(pieces, upright, strict=True)]
    )
    if len(trimmed):
        outward = np.array([pieces[i].outward for i in trimmed.tolist()])
        run = along[trimmed, 1] - along[trimmed, 0]
        hull[trimmed, 0] = _mouths(
            centres[trimmed, 0], way[trimmed], outward, radii=radii[trimmed], run=run, drift=drift[trimmed]
        )
    return Discs(hull, centres, radii, upright)


def hulls_of(shape: Shape) -> Floats:
    """A cut as convex hulls: turned pieces, and prisms cut into three-sided ones, (n, 6, 3, 3)."""
    parts = []
    turned = discs(shape.turned).hull
    if len(turned):
        # Each disc twice, to be as long as a prism's corners.
        parts.append(np.concatenate([turned, turned], axis=1))
    for prism in shape.prisms:
        flat = triangles_of(prism.plan)
        hull = np.zeros((len(flat), 6, 3, 3))
        hull[:, :3, 0, :2], hull[:, 3:, 0, :2] = flat, flat
        hull[:, :3, 0, 2] = prism.floor(flat[:, :, 0]) if prism.rise else prism.low
        hull[:, 3:, 0, 2] = prism.high
        parts.append(hull)
    return np.concatenate(parts) if parts else np.zeros((0, 6, 3, 3))


def _mouths(
    start: Floats, way: Floats, outward: Floats, *, radii: Floats, run: Floats, drift: Floats
) -> Floats:
    """The first discs of slanting bores, trimmed to the surfaces they are cut from: two half-axes square to each other.

    Args:
        start: their centres before that, (n, 3), mm.
        way: along the axes.
        outward: unit normals of the surfaces.
        radii: of the three discs, (n, 3), mm.
        run: from the first disc to the second, (n,), mm.
        drift: mm per mm, (n,).
    """
    r, facing = radii[:, 0], _dot(way, outward)
    level = np.abs(facing)
    # Square to the axis: `v` along the surface, `u` up and down the slope.
    v = _cross(way, outward)
    square = _length(v) < 1e-9
    if square.any():
        level_way = np.where(np.abs(way[square, 2:]) < 0.9, [0.0, 0.0, 1.0], [1.0, 0.0, 0.0])
        v[square] = _cross(way[square], level_way)
    v = v / _length(v)[:, np.newaxis]
    u = _cross(v, way)
    slope = np.sqrt(np.maximum(0.0, 1 - level**2))
    along_face = level < GRAZING
    back = r * np.where(along_face, 1.0, slope / np.where(along_face, 1.0, level))
    whole = along_face | (run * level < radii[:, 1] * slope - 1e-9)
    # The far side of the mouth is r·cot A down the axis, where the bit may have wandered already.
    wide = np.where(whole, r, r + drift * back)[:, np.newaxis]
    tilt = np.where(whole, 0.0, _dot(u, outward) / np.where(along_face, 1.0, facing))[:, np.newaxis]
    centre = start - np.where(whole, back, 0.0)[:, np.newaxis] * way
    return np.stack([centre, wide * (u - way * tilt), wide * v], axis=1)


def _rows(rows: Iterable[Sequence[float]], width: int) -> Floats:
    """Rows of numbers as an array: sooner from one flat run of them than from tuples within tuples."""
    return np.fromiter(chain.from_iterable(rows), np.float64).reshape(-1, width)


def _dot(a: Floats, b: Floats) -> Floats:
    product = a * b
    return np.asarray(product[:, 0] + product[:, 1] + product[:, 2])


def _length(a: Floats) -> Floats:
    return np.asarray(np.sqrt(_dot(a, a)))


def _cross(a: Floats, b: Floats) -> Floats:
    (ax, ay, az), (bx, by, bz) = a.T, b.T
    return np.stack([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx], axis=1)
