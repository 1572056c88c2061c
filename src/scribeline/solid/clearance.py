"""The least wood between cuts, and between each cut and the outside of the body.

Every distance is that of the solids described in `shapes`: exact for upright bores and pockets, and for slanting
bores a proven lower bound within `convex.TOLERANCE` of the truth. How deep two cuts run into each other is an
estimate. A bit that may wander is counted as everything it may reach: what is reported is the wood left after that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf
from typing import TYPE_CHECKING

import numpy as np

from scribeline.features import Feature, Features, Pocket, polygon
from scribeline.layout import Point3, Ring
from scribeline.solid.distance import least, to_walls
from scribeline.solid.shapes import Prism, Shape, Turned, drift_of, shape_of

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely import Polygon
    from shapely.geometry.base import BaseGeometry

    Floats = NDArray[np.float64]

NEAR = 20.0
"""Webs are listed between cuts closer than this, mm."""

Places = tuple[Point3, Point3]


@dataclass(frozen=True, slots=True)
class Web:
    """The least wood between two cuts.

    Attributes:
        a: id of one.
        b: id of the other.
        mm: wood between them; 0 where they meet.
        on_purpose: whether they are meant to meet.
        overlap: about how deep they run into each other, mm, where that is not meant.
        places: where the wood is least: a place on a and the nearest on b.
        drift: how far the bits may have wandered by there, mm; taken off `mm` already.
    """

    a: str
    b: str
    mm: float
    on_purpose: bool = False
    overlap: float = 0.0
    places: Places | None = None
    drift: float = 0.0


@dataclass(frozen=True, slots=True)
class Outside:
    """How close a cut comes to the outside of the body.

    Attributes:
        feature: its id.
        to_edge: least wood to the body's outline, mm; negative where it runs out of it.
        to_opposite: wood left between its bottom and the opposite face, mm; negative where it breaks through.
        edge_places: the place on the cut nearest the outline, and the place on the outline; None where it runs out.
        opposite_places: the deepest place of the cut, and the place on the face beyond it.
        drift: how far its bit may wander by its full depth, mm; taken off both already.
    """

    feature: str
    to_edge: float
    to_opposite: float
    edge_places: Places | None = None
    opposite_places: Places | None = None
    drift: float = 0.0


def find_webs(
    features: Features, thickness: float, *, near: float = NEAR, drift: float = 0.0
) -> tuple[Web, ...]:
    """The least wood between every two cuts that come within `near` of each other, thinnest first.

    Args:
        features: all cuts.
        thickness: of the body, mm.
        near: how close is worth listing, mm.
        drift: how far long or slanting bits may wander, mm per mm of depth; see `shapes.DRIFT`.

    Returns:
        Distances never larger than the truth, and smaller by no more than 0.0001 mm.
    """
    every = list(features)
    found = least([shape_of(f, thickness, drift=drift_of(f, drift)) for f in every], near)
    webs = []
    rows = zip(
        *(part.tolist() for part in (found.first, found.second, found.mm, found.a, found.b)), strict=True
    )
    for i, j, gap, on_a, on_b in rows:
        a, b = every[i], every[j]
        meant = b.id in a.meets or a.id in b.meets
        overlap = 0.0 if meant else max(0.0, -gap)
        wander = _wander(a, on_a, drift) + _wander(b, on_b, drift)
        webs.append(Web(a.id, b.id, max(0.0, gap), meant, overlap, (Point3(*on_a), Point3(*on_b)), wander))
    return tuple(sorted(webs, key=lambda web: (web.mm - web.overlap, web.a, web.b)))


def _wander(feature: Feature, place: Sequence[float], drift: float) -> float:
    """How far the bit may have wandered by the depth of a place, mm."""
    rate = drift_of(feature, drift)
    if rate == 0 or isinstance(feature, Pocket):
        return 0.0
    depth = sum((p - a) * d for p, a, d in zip(place, feature.at, feature.axis, strict=True))
    return rate * max(0.0, depth)


def find_outside(
    features: Features, outline: Ring, thickness: float, *, drift: float = 0.0
) -> tuple[Outside, ...]:
    """How close every cut comes to the body's outline and to the face opposite the one it is cut from.

    Args:
        features: all cuts.
        outline: of the body.
        thickness: of the body, mm.
        drift: how far long or slanting bits may wander, mm per mm of depth; see `shapes.DRIFT`.
    """
    every = list(features)
    if not every:
        return ()
    body = _Body(outline, thickness)
    shapes = [shape_of(f, thickness, drift=drift_of(f, drift)) for f in every]
    edges = body.edges(shapes)
    found = []
    for feature, shape, (to_edge, edge_places) in zip(every, shapes, edges, strict=True):
        to_face, face_places = body.beyond(feature, shape)
        wander = (
            0.0 if isinstance(feature, Pocket) else drift_of(feature, drift) * feature.deepest.point_reaches
        )
        found.append(Outside(feature.id, to_edge, to_face, edge_places, face_places, wander))
    return tuple(found)


class _Body:
    """The outer surfaces: an upright wall along the outline between two flat faces."""

    def __init__(self, outline: Ring, thickness: float) -> None:
        import shapely

        self.plan: Polygon = polygon(outline)
        shapely.prepare(self.plan)
        corners = shapely.get_coordinates(self.plan.exterior)
        self.tree = shapely.STRtree(shapely.linestrings(np.stack([corners[:-1], corners[1:]], axis=1)))
        self.thickness = thickness

    def edges(self, shapes: Sequence[Shape]) -> list[tuple[float, Places | None]]:
        """Least wood from each cut to the wall and where; negative where it runs out."""
        import shapely

        turned = [(i, piece) for i, shape in enumerate(shapes) for piece in shape.turned]
        upright: list[tuple[int, Turned | Prism]] = [(i, piece) for i, piece in turned if piece.upright]
        upright += [(i, piece) for i, shape in enumerate(shapes) for piece in shape.prisms]
        slanting = [(i, piece) for i, piece in turned if not piece.upright]
        best: list[tuple[float, Places | None]] = [(inf, None)] * len(shapes)
        plans = np.array([_plan_of(piece) for _, piece in upright], dtype=object)
        nearest = self.tree.geometries[self.tree.query_nearest(plans, all_matches=False)[1]]
        ends = shapely.get_coordinates(shapely.shortest_line(plans, nearest)).reshape(-1, 2, 2)
        for (i, piece), plan, (a, b) in zip(upright, plans, ends.tolist(), strict=True):
            best[i] = min(best[i], self._upright(piece, plan, a, b), key=lambda e: e[0])
        walls = to_walls(
            [p for _, p in slanting], [Prism(self.plan, -self.thickness, 0.0)] * len(slanting), inf
        )
        for (i, piece), mm, on_a, on_b in zip(slanting, walls.mm.tolist(), walls.a, walls.b, strict=True):
            x, y, _ = piece.centres[1].tolist()
            gap: tuple[float, Places | None] = (mm, (Point3(*on_a.tolist()), Point3(*on_b.tolist())))
            if mm <= 0 or not self.plan.contains(shapely.Point(x, y)):
                gap = (-_outreach(_shadow(piece), self.plan), None)
            best[i] = min(best[i], gap, key=lambda e: e[0])
        return best

    def _upright(
        self, piece: Turned | Prism, plan: BaseGeometry, a: list[float], b: list[float]
    ) -> tuple[float, Places | None]:
        gap = float(np.hypot(b[0] - a[0], b[1] - a[1]))
        if isinstance(piece, Prism):
            if gap == 0 or not self.plan.contains(plan):
                return -_outreach(plan, self.plan), None
            z = (piece.low + piece.high) / 2
            return gap, (Point3(a[0], a[1], z), Point3(b[0], b[1], z))
        widest = int(np.argmax(piece.radii))
        r, z = float(piece.radii[widest]), float(piece.centres[widest, 2])
        if gap <= r or not self.plan.contains(plan):
            return (gap if self.plan.contains(plan) else -gap) - r, None
        rim = [p + (q - p) * r / gap for p, q in zip(a, b, strict=True)]
        return gap - r, (Point3(rim[0], rim[1], z), Point3(b[0], b[1], z))

    def beyond(self, feature: Feature, shape: Shape) -> tuple[float, Places]:
        """Wood between the deepest place of a cut and the face opposite the one it is cut from, and where."""
        down = feature.face != "back"
        face = -self.thickness if down else 0.0
        lowest = min((_extreme(shape, down=down)), key=lambda p: p.z if down else -p.z)
        left = lowest.z - face if down else face - lowest.z
        return left, (lowest, Point3(lowest.x, lowest.y, face))


def _extreme(shape: Shape, *, down: bool) -> list[Point3]:
    """The lowest (or highest) place of every piece."""
    places = []
    for turned in shape.turned:
        reach = np.hypot(turned.hull[:, 1, 2], turned.hull[:, 2, 2])
        sign = -1.0 if down else 1.0
        disc = int(np.argmax(sign * turned.hull[:, 0, 2] + reach))
        centre, u, v = turned.hull[disc]
        way = (u * u[2] + v * v[2]) / reach[disc] if reach[disc] > 0 else np.zeros(3)
        places.append(Point3(*(centre + sign * way).tolist()))
    for prism in shape.prisms:
        inside = prism.plan.representative_point()
        places.append(Point3(inside.x, inside.y, prism.low if down else prism.high))
    return places


def _plan_of(piece: Turned | Prism) -> BaseGeometry:
    import shapely

    return piece.plan if isinstance(piece, Prism) else shapely.Point(piece.centres[0, :2])


def _shadow(piece: Turned) -> BaseGeometry:
    """A slanting piece seen from above."""
    import shapely

    turn = np.linspace(0.0, 2 * np.pi, 64, endpoint=False)
    circle = np.column_stack([np.ones_like(turn), np.cos(turn), np.sin(turn)])
    return shapely.MultiPoint((circle @ piece.hull)[..., :2].reshape(-1, 2)).convex_hull


def _outreach(shape: BaseGeometry, body: Polygon) -> float:
    """How far a shape reaches out of the body, mm."""
    import shapely

    beyond = shape.difference(body)
    if beyond.is_empty:
        return 0.0
    return float(max(shapely.distance(body, shapely.points(shapely.get_coordinates(beyond)))))
