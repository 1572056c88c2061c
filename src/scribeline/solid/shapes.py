"""Cuts as solids: what a bit or a router takes out of the wood, as a few convex or extruded pieces.

A bore is the union of what each of its bits cuts. One bit cuts a *turned* piece: a cylinder from the face to the
end of its full diameter, and its point. A twist bit's point is a cone of its own angle. Brad-point and
flat-bottomed bits leave a flat bottom with the mark of a centre spur, counted as a cone from `SPUR_SHARE` of the
diameter to the spur's tip, wider than spurs are. A countersink is a step of no depth whose bit's point is the cone.

A slanting bore ends where its cylinder meets the face it is cut from: its mouth is an ellipse on that face. Where
the bit is so shallow that part of its bottom stays above the face, or runs along the face, the piece is the whole
cylinder from where its rim first touches the wood: a little more than is cut, never less.

A drifting bit ends up anywhere within an angle of where it was aimed, so a drift turns the cylinder into a cone
that holds every place it can reach.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING

import numpy as np

from scribeline.features import Bore, Feature, Pocket, Step, polygon

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely import Polygon

    Floats = NDArray[np.float64]

SPUR_SHARE = 0.5
"""Width of a centre spur where it leaves a flat bottom, as a share of the diameter; more than is usual (from
memory: measure your own)."""

DRIFT = 0.01
"""How far a long bit wanders, mm per mm of depth: 1 mm per 100 mm (common practice, no source; measure yours)."""

LONG_BORE = 60.0
"""An upright bore deeper than this is drilled with a bit long enough to wander, mm (common practice, no source)."""

_GRAZING = 0.02
"""Sine of the angle to a face below which a bore is said to run along it."""


@dataclass(frozen=True, slots=True)
class Turned:
    """A convex solid of revolution: three discs (or points) on one axis, and everything between them.

    Attributes:
        hull: the discs, each a row of centre and two half-axes, (3, 3, 3), mm; the solid is their convex hull.
        centres: places on the axis of the three discs before the mouth is cut to the face, (3, 3), mm.
        radii: of the three discs, mm.
        upright: whether the axis is square to the faces.
    """

    hull: Floats
    centres: Floats
    radii: Floats
    upright: bool


@dataclass(frozen=True, slots=True)
class Prism:
    """A region of the plan, islands and all, between two heights, mm."""

    plan: Polygon
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Shape:
    """One cut: the union of its pieces."""

    turned: tuple[Turned, ...] = ()
    prisms: tuple[Prism, ...] = ()


def drift_of(feature: Feature, drift: float) -> float:
    """The drift that counts for a cut, mm per mm: none for pockets and for short upright bores."""
    if isinstance(feature, Pocket):
        return 0.0
    long = feature.deepest.depth > LONG_BORE
    return drift if long or not feature.is_upright else 0.0


def shape_of(feature: Feature, thickness: float, *, drift: float = 0.0) -> Shape:
    """A cut as a solid.

    Args:
        feature: a bore or a pocket.
        thickness: of the body, mm.
        drift: how far the bits may wander sideways per mm of depth.
    """
    if isinstance(feature, Pocket):
        low, high = (
            (-feature.depth, 0.0) if feature.face == "top" else (-thickness, feature.depth - thickness)
        )
        return Shape(prisms=(Prism(polygon(feature.outline), low, high),))
    return Shape(turned=tuple(piece for step in feature.steps for piece in _step(feature, step, drift)))


def _step(bore: Bore, step: Step, drift: float) -> tuple[Turned, ...]:
    at, axis = np.array(bore.at), np.array(bore.axis)
    r, end, tip = step.diameter / 2, step.depth, step.point_reaches
    if step.bit.kind == "twist" or tip <= end:
        return (turned(at, axis, (0.0, end, tip), (r, r, 0.0), drift=drift, face=bore.face),)
    spur = SPUR_SHARE * r
    return (
        turned(at, axis, (0.0, end, end), (r, r, r), drift=drift, face=bore.face),
        turned(at, axis, (end, end, tip), (spur, spur, 0.0), drift=drift, face=None),
    )


def turned(
    at: Floats,
    axis: Floats,
    depths: Sequence[float],
    radii: Sequence[float],
    *,
    drift: float = 0.0,
    face: str | None = None,
) -> Turned:
    """A solid of revolution from three depths along an axis and the radius at each.

    Args:
        at: where the axis meets the face, mm.
        axis: direction into the wood; need not be of length 1.
        depths: growing, mm.
        radii: at those depths, mm; together they must make a convex profile.
        drift: added to each radius per mm of depth.
        face: the face it is cut from, to which a slanting mouth is trimmed; None for a piece that lies within the
            wood, another name than top or back for one cut from the edge.
    """
    way = axis / sqrt(float(axis @ axis))
    level = abs(float(way[2]))
    upright = level > 1 - 1e-12
    if upright:
        way = np.array([0.0, 0.0, np.sign(way[2])])
    along = np.array(depths, dtype=np.float64)
    wide = np.array(radii, dtype=np.float64) + drift * along
    u, v = _square_to(way)
    hull = np.empty((3, 3, 3))
    hull[:, 0] = at + along[:, np.newaxis] * way
    hull[:, 1] = wide[:, np.newaxis] * u
    hull[:, 2] = wide[:, np.newaxis] * v
    centres = hull[:, 0].copy()
    if face is not None and not upright:
        hull[0] = _mouth(at, (way, u, v), float(wide[0]), drift, end=float(along[1]), face=face)
    return Turned(hull, centres, wide, upright)


def _mouth(
    at: Floats, frame: tuple[Floats, Floats, Floats], r: float, drift: float, *, end: float, face: str
) -> Floats:
    """The first disc of a slanting bore, trimmed to the face; the frame is its axis, and two ways square to it.

    The last of those must be level.
    """
    way, u, v = frame
    level = abs(float(way[2]))
    slope = sqrt(1 - level**2)
    if face not in {"top", "back"} or level < _GRAZING:
        back = r
    elif end * level < (r + drift * end) * slope:
        back = r * slope / level
    else:
        # The far side of the mouth is r·cot A down the axis, where the bit may have wandered already.
        wide = r + drift * r * slope / level
        return np.array([at, wide / level * np.array([v[1], -v[0], 0.0]), wide * v])
    return np.array([at - back * way, r * u, r * v])


def _square_to(way: Floats) -> tuple[Floats, Floats]:
    """Two unit vectors square to a direction and to each other, the second level."""
    flat = float(np.hypot(way[0], way[1]))
    if flat < 1e-9:
        return np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])
    v = np.array([-way[1] / flat, way[0] / flat, 0.0])
    return np.cross(v, way), v
