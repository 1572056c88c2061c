"""The least wood between cuts, and between each cut and the outside of the body.

Upright bores and pockets are stacks of prisms with their axes along z, so the distance between two of them is
exact: the hypotenuse of the gap across and the gap in height. A bit's point is counted as if it were full
diameter down to its tip, which can only make a web look thinner than it is. A tilted bore is walked along its
axis and counted as a round-ended rod, less half a step: a lower bound that never calls a thin web safe.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import hypot
from typing import TYPE_CHECKING

import numpy as np

from scribeline.features import Bore, Feature, Features, Pocket, polygon
from scribeline.layout import Ring

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely import Polygon
    from shapely.geometry.base import BaseGeometry

NEAR = 20.0
"""Webs are listed between cuts closer than this, mm."""

WALK = 0.05
"""Step along a tilted bore's axis, mm; half of it is taken off as the bound's error."""


@dataclass(frozen=True, slots=True)
class Web:
    """The least wood between two cuts.

    Attributes:
        a: id of one.
        b: id of the other.
        mm: wood between them; 0 where they meet.
        on_purpose: whether they are meant to meet.
        overlap: how deep they run into each other, mm, where that is known and not meant.
    """

    a: str
    b: str
    mm: float
    on_purpose: bool = False
    overlap: float = 0.0


@dataclass(frozen=True, slots=True)
class Outside:
    """How close a cut comes to the outside of the body.

    Attributes:
        feature: its id.
        to_edge: least wood to the body's outline, mm; negative where it runs out of it.
        to_opposite: wood left between its bottom and the opposite face, mm; negative where it breaks through.
    """

    feature: str
    to_edge: float
    to_opposite: float


@dataclass(frozen=True, slots=True)
class _Prism:
    """A region of the plan, between two heights."""

    plan: BaseGeometry
    centre: tuple[float, float] | None
    radius: float
    bottom: float
    top: float

    def across(self, other: _Prism) -> float:
        """Gap in the plan, mm; negative where the regions overlap: how deep, or 0 for two polygons."""
        if self.centre is not None and other.centre is not None:
            apart = hypot(self.centre[0] - other.centre[0], self.centre[1] - other.centre[1])
            return apart - self.radius - other.radius
        apart = float(self.plan.distance(other.plan))
        if apart == 0 and (self.centre is None) != (other.centre is None):
            point, area = (other, self) if self.centre is None else (self, other)
            apart = -float(area.plan.exterior.distance(point.plan))
        return apart - self.radius - other.radius

    def gap(self, other: _Prism) -> float:
        """Distance between the two solids, mm; negative where they run into each other."""
        across = self.across(other)
        up = max(self.bottom - other.top, other.bottom - self.top)
        if across <= 0 and up <= 0:
            return max(across, up)
        return hypot(max(0.0, across), max(0.0, up))


@dataclass(frozen=True, slots=True)
class _Rod:
    """A tilted bore as points along its axis."""

    points: NDArray[np.float64]
    radius: float

    def gap(self, prism: _Prism) -> float:
        """Lower bound on the distance to a prism, mm."""
        import shapely

        plan = shapely.distance(shapely.points(self.points[:, :2]), prism.plan) - prism.radius
        across = np.maximum(0.0, plan)
        up = np.maximum(0.0, np.maximum(prism.bottom - self.points[:, 2], self.points[:, 2] - prism.top))
        return float(np.hypot(across, up).min()) - self.radius - WALK / 2

    def gap_to_rod(self, other: _Rod) -> float:
        """Lower bound on the distance to another tilted bore, mm."""
        every_fourth = np.vstack([other.points[::4], other.points[-1:]])
        apart = self.points[:, np.newaxis, :] - every_fourth[np.newaxis, :, :]
        return float(np.sqrt((apart**2).sum(axis=2)).min()) - self.radius - other.radius - 2.5 * WALK


def _solids(feature: Feature, thickness: float) -> tuple[_Prism | _Rod, ...]:
    if isinstance(feature, Pocket):
        low, high = _heights(feature.face, 0.0, feature.depth, thickness)
        return (_Prism(polygon(feature.outline), None, 0.0, low, high),)
    if not feature.is_upright:
        reach = feature.deepest.point_reaches
        depths = np.linspace(0.0, reach, max(2, int(reach / WALK) + 2))
        points = np.asarray(feature.at) + depths[:, np.newaxis] * np.asarray(feature.axis)
        return (_Rod(points, feature.widest / 2),)
    return tuple(_prisms(feature, thickness))


def _prisms(bore: Bore, thickness: float) -> Iterator[_Prism]:
    import shapely

    centre = shapely.Point(bore.at.x, bore.at.y)
    start = 0.0
    for step in bore.steps:
        last = step is bore.deepest
        low, high = _heights(bore.face, start, step.point_reaches if last else step.depth, thickness)
        yield _Prism(centre, (bore.at.x, bore.at.y), step.diameter / 2, low, high)
        start = step.depth


def _heights(face: str, start: float, end: float, thickness: float) -> tuple[float, float]:
    return (-end, -start) if face == "top" else (-thickness + start, -thickness + end)


def _gap(a: _Prism | _Rod, b: _Prism | _Rod) -> float:
    if isinstance(a, _Prism):
        return a.gap(b) if isinstance(b, _Prism) else b.gap(a)
    return a.gap(b) if isinstance(b, _Prism) else a.gap_to_rod(b)


def _reach(feature: Feature) -> tuple[float, float, float, float]:
    """Bounds of a feature in the plan: x low, y low, x high, y high."""
    if isinstance(feature, Pocket):
        xs, ys = [p.x for p in feature.outline], [p.y for p in feature.outline]
        return min(xs), min(ys), max(xs), max(ys)
    r, end = feature.widest / 2, feature.along(feature.deepest.point_reaches)
    return (
        min(feature.at.x, end.x) - r,
        min(feature.at.y, end.y) - r,
        max(feature.at.x, end.x) + r,
        max(feature.at.y, end.y) + r,
    )


def find_webs(features: Features, thickness: float, *, near: float = NEAR) -> tuple[Web, ...]:
    """The least wood between every two cuts that come within `near` of each other, thinnest first.

    Args:
        features: all cuts.
        thickness: of the body, mm.
        near: how close is worth listing, mm.
    """
    every = list(features)
    solids = [_solids(feature, thickness) for feature in every]
    bounds = np.array([_reach(feature) for feature in every]) if every else np.zeros((0, 4))
    webs = []
    for i, a in enumerate(every):
        for j in _neighbours(bounds, i, near):
            b = every[j]
            gap = min(_gap(p, q) for p in solids[i] for q in solids[j])
            if gap > near:
                continue
            if b.id in a.meets or a.id in b.meets:
                webs.append(Web(a.id, b.id, 0.0, on_purpose=True))
            else:
                webs.append(Web(a.id, b.id, max(0.0, gap), overlap=max(0.0, -gap)))
    return tuple(sorted(webs, key=lambda web: (web.mm - web.overlap, web.a, web.b)))


def _neighbours(bounds: NDArray[np.float64], i: int, near: float) -> Sequence[int]:
    """Later features whose bounds come within `near` of feature i's."""
    low, high = bounds[i, :2] - near, bounds[i, 2:] + near
    later = bounds[i + 1 :]
    close = ((later[:, :2] <= high) & (later[:, 2:] >= low)).all(axis=1)
    return [int(k) + i + 1 for k in np.flatnonzero(close)]


def find_outside(features: Features, outline: Ring, thickness: float) -> tuple[Outside, ...]:
    """How close every cut comes to the body's outline and to the face opposite the one it is cut from."""
    import shapely

    body = polygon(outline)
    shapely.prepare(body)
    edge = body.exterior
    return tuple(_outside(feature, body, edge, thickness) for feature in features)


def _outside(feature: Feature, body: Polygon, edge: BaseGeometry, thickness: float) -> Outside:
    import shapely

    if isinstance(feature, Pocket):
        plan = polygon(feature.outline)
        inside = bool(body.contains(plan))
        gap = float(edge.distance(plan)) if inside else -_outreach(plan, body)
        return Outside(feature.id, gap, thickness - feature.depth)
    start = shapely.Point(feature.at.x, feature.at.y)
    end = feature.along(feature.deepest.point_reaches)
    path: BaseGeometry = start if feature.is_upright else shapely.LineString([start, (end.x, end.y)])
    gap = float(edge.distance(path)) if body.contains(path) else -_outreach(path, body)
    if feature.is_upright:
        left = thickness - feature.deepest.point_reaches
    else:
        # The rim of a tilted bore's square end reaches r cos A beyond its axis towards the opposite face.
        rim = feature.widest / 2 * hypot(feature.axis.x, feature.axis.y)
        left = thickness - feature.deepest.point_reaches * abs(feature.axis.z) - rim
    return Outside(feature.id, gap - feature.widest / 2, left)


def _outreach(shape: BaseGeometry, body: Polygon) -> float:
    """How far a shape reaches out of the body, mm."""
    import shapely

    beyond = shape.difference(body)
    if beyond.is_empty:
        return 0.0
    return float(max(shapely.distance(body, shapely.points(shapely.get_coordinates(beyond)))))
