"""What a plane along the strings cuts: the blank, every hole and pocket it meets, and the wood left.

Plane coordinates are (x, z): x from the nut towards the tail, z up from the top face. Bores are cut exactly: a
cylinder met at a distance dy from its axis shows a strip of half-width √(r² − dy²), one whose axis runs through
the plane at a slant shows an ellipse between the planes of its ends. A twist bit's cone shows its hyperbola.
Curves are flattened to `FLATTENING`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from math import atan, ceil, hypot, sqrt
from typing import TYPE_CHECKING

import numpy as np

from scribeline.features import Bore, Feature, Features, Pocket, Slope, Step, polygon
from scribeline.layout import Layout, Point, Point3, Ring

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely import Polygon
    from shapely.geometry.base import BaseGeometry

Loop = tuple[tuple[float, float], ...]
"""A closed loop of (x, z), the first point not repeated, mm."""

FLATTENING = 0.002
"""Greatest distance between a flattened curve and the true one, mm."""

_FAR = 2000.0
_OVER = 30.0
"""How far a cut is carried on out of its face where that is carved: more than any face rises over it, mm."""
_SAMPLED = 0.5
"""A carved face is drawn straight over this distance, mm."""
_ON_AXIS = 1e-9


@dataclass(frozen=True, slots=True)
class Cut:
    """One hole or pocket where the plane meets it.

    Attributes:
        feature: its id.
        loops: what it takes out of the blank, as separate areas.
    """

    feature: str
    loops: tuple[Loop, ...]


@dataclass(frozen=True, slots=True)
class Section:
    """A cut along the strings.

    Attributes:
        y: of the plane, from the centreline, mm.
        blank: the uncut body in the plane.
        cuts: what is taken out of it, in the order of the features.
        wood: what is left: each piece as its outer loop and then the holes in it.
    """

    y: float
    blank: tuple[Loop, ...]
    cuts: tuple[Cut, ...]
    wood: tuple[tuple[Loop, ...], ...]

    def cut(self, feature: str) -> Cut | None:
        """Where the plane meets this feature, or None."""
        return next((cut for cut in self.cuts if cut.feature == feature), None)


def section(features: Features, outline: Ring, thickness: float, y: float) -> Section:
    """The section by the plane at `y`.

    Args:
        features: all cuts.
        outline: the body's.
        thickness: of the body, mm.
        y: of the plane, from the centreline, mm.
    """
    import shapely

    blank = shapely.union_all(
        [shapely.box(low, -thickness, high, 0.0) for low, high in _spans(polygon(outline), y)]
    )
    cuts: list[Cut] = []
    wood: BaseGeometry = blank
    for feature in features:
        met = shapely.intersection(_met(feature, thickness, y), blank)
        loops = tuple(loop for piece in _areas(met) for loop in _loops(piece)[:1])
        if loops:
            cuts.append(Cut(feature.id, loops))
            wood = shapely.difference(wood, met)
    return Section(
        y=y,
        blank=tuple(_loops(piece)[0] for piece in _areas(blank)),
        cuts=tuple(cuts),
        wood=tuple(_loops(piece) for piece in _areas(wood)),
    )


def upright_section(
    layout: Layout, features: Iterable[Feature], at: Point, heading: Point, reach: tuple[float, float]
) -> BaseGeometry:
    """The wood in an upright plane, as regions of (distance from a place along a heading, height), mm.

    Args:
        layout: for the body's outline and faces.
        features: what is cut by then.
        at: the place.
        heading: unit vector along the plane, seen from above.
        reach: from where to where the plane is looked at, mm from the place.
    """
    import shapely

    wood = shapely.union_all(list(_body_in(layout, at, heading, reach)))
    for feature in features:
        met = _met(_turned(feature, at, heading), layout.thickness, 0.0, beyond=_OVER)
        wood = shapely.difference(wood, met)
    return wood


def cut_loops(
    layout: Layout, feature: Feature, at: Point, heading: Point, reach: tuple[float, float]
) -> tuple[Loop, ...]:
    """What a cut takes out of the body in an upright plane: see `upright_section`."""
    return next(loops_of(layout, (feature,), at, heading, reach))


def loops_of(
    layout: Layout, features: Iterable[Feature], at: Point, heading: Point, reach: tuple[float, float]
) -> Iterator[tuple[Loop, ...]]:
    """The same of several cuts, each in its turn."""
    import shapely

    body = shapely.union_all(list(_body_in(layout, at, heading, reach)))
    for feature in features:
        met = _met(_turned(feature, at, heading), layout.thickness, 0.0, beyond=_OVER)
        yield tuple(_loops(piece)[0] for piece in _areas(shapely.intersection(met, body)))


def walls_along(outline: Ring, y: float) -> tuple[float, ...]:
    """Where a line along the instrument meets the walls of an outline, from the nut, mm."""
    return tuple(x for span in _spans(polygon(outline), y) for x in span)


def _body_in(layout: Layout, at: Point, heading: Point, reach: tuple[float, float]) -> Iterator[Polygon]:
    """The body without its cuts, where a plane meets it."""
    import shapely

    def place(u: float) -> Point:
        return Point(at.x + u * heading.x, at.y + u * heading.y)

    line = shapely.LineString([place(reach[0]), place(reach[1])])
    for part in shapely.get_parts(shapely.intersection(line, polygon(layout.outline))):
        ends = shapely.get_coordinates(part)
        if len(ends) < 2:
            continue
        along = (ends - [at.x, at.y]) @ [heading.x, heading.y]
        low, high = float(along.min()), float(along.max())
        count = 1 if layout.body.is_plain else max(1, ceil((high - low) / _SAMPLED))
        stations = np.linspace(low, high, count + 1).tolist()
        top = [(u, layout.top_at(place(u))) for u in stations]
        back = [(u, layout.back_at(place(u))) for u in reversed(stations)]
        yield shapely.Polygon([*top, *back])


def _turned(feature: Feature, at: Point, heading: Point) -> Feature:
    """A cut in the frame of an upright plane: x along it from its place, y square to it."""

    def flat(x: float, y: float) -> Point:
        return Point(x * heading.x + y * heading.y, y * heading.x - x * heading.y)

    def place(p: Point) -> Point:
        return flat(p.x - at.x, p.y - at.y)

    if isinstance(feature, Pocket):
        slope, depth = _slope_along(feature, at, heading)
        return replace(
            feature,
            outline=Ring(map(place, feature.outline)),
            islands=tuple(Ring(map(place, island)) for island in feature.islands),
            slope=slope,
            depth=depth,
        )
    return replace(
        feature,
        at=Point3(*place(Point(feature.at.x, feature.at.y)), feature.at.z),
        axis=Point3(*flat(feature.axis.x, feature.axis.y), feature.axis.z),
        outward=Point3(*flat(feature.normal.x, feature.normal.y), feature.normal.z),
    )


def _slope_along(pocket: Pocket, at: Point, heading: Point) -> tuple[Slope | None, float]:
    """How a pocket's floor leans along an upright plane, and its depth where that is told then, mm."""
    if pocket.slope is None:
        return None, pocket.depth
    return Slope(atan(pocket.slope.rise * heading.x), 0.0), pocket.depth_at(at.x)


def lies_in(bore: Bore, y: float) -> bool:
    """Whether the bore's axis lies in the plane at `y`, so that the section shows its true shape."""
    return abs(bore.at.y - y) < 1e-6 and abs(bore.axis.y) < 1e-9


def silhouette(bore: Bore) -> tuple[Loop, ...]:
    """The bore seen along y, wherever it lies: one loop a step, without the bit's point.

    A cylinder's silhouette is the hull of its two end circles seen edge-on or aslant.
    """
    import shapely

    start, loops = 0.0, []
    for step in bore.steps:
        rims = np.concatenate(
            [_rim(bore.along(depth), bore.axis, step.diameter / 2) for depth in (start, step.depth)]
        )
        hull = shapely.convex_hull(shapely.multipoints(rims[:, [0, 2]]))
        loops.append(_loops(hull)[0])
        start = step.depth
    return tuple(loops)


def _spans(area: Polygon, y: float) -> Iterator[tuple[float, float]]:
    """Where the line at `y` runs inside an area: from x to x."""
    import shapely

    low, _, high, _ = area.bounds
    met = shapely.intersection(area, shapely.LineString([(low - 1.0, y), (high + 1.0, y)]))
    for piece in shapely.get_parts(met):
        xs = shapely.get_coordinates(piece)[:, 0]
        if xs.size and xs.max() - xs.min() > _ON_AXIS:
            yield float(xs.min()), float(xs.max())


def _met(feature: Feature, thickness: float, y: float, *, beyond: float = 0.0) -> BaseGeometry:
    """What a cut takes out of the plane at `y`, carried on out of its face by so much."""
    import shapely

    if isinstance(feature, Pocket):
        low, high = (
            (-feature.depth, beyond)
            if feature.face == "top"
            else (-thickness - beyond, feature.depth - thickness)
        )
        spans = _spans(polygon(feature.outline, feature.islands), y)
        if feature.slope is not None:
            return shapely.union_all([_over_the_slope(feature, span, high) for span in spans])
        return shapely.union_all([shapely.box(left, low, right, high) for left, right in spans])
    return shapely.union_all(list(_bore_pieces(feature, y, beyond)))


def _over_the_slope(pocket: Pocket, span: tuple[float, float], high: float) -> Polygon:
    """What a pocket with a floor that leans takes out between two places along the plane."""
    import shapely

    left, right = span
    floor = [(x, -pocket.depth_at(x)) for x in span]
    return shapely.Polygon([*floor, (right, high), (left, high)])


def _bore_pieces(bore: Bore, y: float, beyond: float) -> Iterator[BaseGeometry]:
    # Carried on out of the face, so that a slanting hole's mouth is cut to its rim.
    sine = bore.angle_from_face_sine
    start = (
        -beyond
        if bore.is_upright
        else -(bore.lead + 1.0 + 2.0 * bore.widest * sqrt(1 - min(1.0, sine) ** 2) / sine)
    )
    for step in bore.steps:
        if abs(bore.axis.y) < _ON_AXIS:
            yield from _strip(bore, step, start, y)
        else:
            yield _ellipse(bore, step, start, y)


def _strip(bore: Bore, step: Step, start: float, y: float) -> Iterator[BaseGeometry]:
    """A bore whose axis runs along the plane, at some distance from it."""
    import shapely

    radius, off = step.diameter / 2, abs(y - bore.at.y)
    if off >= radius:
        return
    half = sqrt(radius * radius - off * off)
    profile = [(start, -half), (step.depth, -half), (step.depth, half), (start, half)]
    yield shapely.Polygon(_in_plane(bore, profile))
    base = step.point_width / 2
    if off < base and step.bit.point > 0:
        cone = _cone(base, off, step.depth, step.bit.point)
        yield shapely.Polygon(_in_plane(bore, cone))


def _cone(base: float, off: float, depth: float, point: float) -> list[tuple[float, float]]:
    """(along, across) of a cone of base radius `base` cut at `off` from its axis: s = depth + h (1 − ρ/r)."""
    half = sqrt(base * base - off * off)
    count = 2 if off < _ON_AXIS else 2 * max(8, ceil(2.0 * sqrt(base / FLATTENING)))
    across = np.linspace(-half, half, count + 1)
    along = depth + point * (1.0 - np.hypot(across, off) / base)
    return list(zip(along.tolist(), across.tolist(), strict=True))


def _in_plane(bore: Bore, profile: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """From (along the axis, across it) to (x, z), for an axis that runs along the plane."""
    (x, _, z), (dx, _, dz) = bore.at, bore.axis
    return [(x + along * dx - across * dz, z + along * dz + across * dx) for along, across in profile]


def _ellipse(bore: Bore, step: Step, start: float, y: float) -> BaseGeometry:
    """A bore whose axis crosses the plane: the ellipse between its end planes."""
    import shapely

    # Points of the surface at height y: s = (y − p_y − r n_y(θ)) / d_y for every angle θ round the axis.
    (px, py, pz), (dx, dy, dz) = bore.at, bore.axis
    radius = step.diameter / 2
    rim = _rim(Point3(0.0, 0.0, 0.0), bore.axis, radius)
    s = (y - py - rim[:, 1]) / dy
    ellipse = shapely.Polygon(np.column_stack([px + s * dx + rim[:, 0], pz + s * dz + rim[:, 2]]))
    g = hypot(dx, dz)
    if g < _ON_AXIS:
        return ellipse
    ux, uz = dx / g, dz / g
    near, far = (((end - (y - py) * dy) / g) for end in (start, step.depth))
    corners = ((near, -_FAR), (far, -_FAR), (far, _FAR), (near, _FAR))
    band = shapely.Polygon([(px + t * ux - w * uz, pz + t * uz + w * ux) for t, w in corners])
    return shapely.intersection(ellipse, band)


def _rim(centre: Point3, axis: Point3, radius: float) -> NDArray[np.float64]:
    """Points round a bore, shape (n, 3)."""
    d = np.asarray(axis, dtype=np.float64)
    aside = np.array([0.0, 1.0, 0.0]) if abs(d[1]) < 0.9 else np.array([1.0, 0.0, 0.0])
    e1 = np.cross(d, aside)
    e1 /= np.linalg.norm(e1)
    e2 = np.cross(e1, d)
    count = 4 * max(16, ceil(2.0 * sqrt(radius / FLATTENING)))
    angle = np.linspace(0.0, 2 * np.pi, count, endpoint=False)[:, np.newaxis]
    points: NDArray[np.float64] = np.asarray(centre) + radius * (np.cos(angle) * e1 + np.sin(angle) * e2)
    return points


def _areas(geometry: BaseGeometry) -> list[Polygon]:
    import shapely

    return [
        piece
        for piece in shapely.get_parts(geometry)
        if piece.geom_type == "Polygon" and piece.area > FLATTENING**2
    ]


def _loops(area: Polygon) -> tuple[Loop, ...]:
    import shapely

    return tuple(
        tuple((float(x), float(z)) for x, z in shapely.get_coordinates(ring)[:-1])
        for ring in (area.exterior, *area.interiors)
    )
