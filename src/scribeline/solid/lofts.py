"""Surfaces of flat triangles stretched over level lines: the tops and rounded edges of a body.

A loft is a row of regions of the plan, each inside the one before, and a height for each. Between one region's edge
and the next the surface is cut into flat triangles on the points of both (constrained Delaunay rule); the last region
is level. A height that is stated by its distance from the edge is lofted over lines drawn at such distances: how far
that lies from what is stated is measured, not assumed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import acos, ceil, cos, pi
from typing import TYPE_CHECKING

import numpy as np

from scribeline.features import arc_segments
from scribeline.layout import BodyForm, along_profile, stretched
from scribeline.layout.surfaces import SPACING

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely import Polygon
    from shapely.geometry.base import BaseGeometry

    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]

STEP = 3.0
"""Level lines on a slope lie no further apart than this, mm."""

FINEST = 0.002
"""Points of a level line that bend it by less than this are left out, mm."""

SAGITTA = 0.004
"""Chords of a roundover keep within this of its arc, mm."""


@dataclass(frozen=True, slots=True)
class Loft:
    """One face of the body, bevels and steps aside.

    Attributes:
        triangles: corners, counter-clockwise seen from above, (n, 3, 3), mm; they cover the outline.
        measure: how far some of them, by number, lie from the stated face; None where they are what is stated.
        bound: none lies further from it than this, mm: triangles and face both keep between their two level lines.
    """

    triangles: Floats
    measure: Callable[[Floats], Floats] | None = None
    bound: float = 0.0
    _known: Floats = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_known", np.full(len(self.triangles), np.nan))

    def apart(self, rows: Ints) -> Floats:
        """How far some of the triangles lie from the stated face at most, as measured, (n,), mm; each is measured once."""
        if self.measure is None:
            return np.zeros(len(rows))
        new = np.unique(rows[np.isnan(self._known[rows])])
        if len(new):
            self._known[new] = self.measure(self.triangles[new])
        return np.asarray(self._known[rows])


def level(region: Polygon, height: float) -> Loft:
    """A flat face."""
    return Loft(_lifted(triangles_of(region), np.zeros((0, 2)), height, height))


def edge_of(form: BodyForm) -> Polygon:
    """The outline with every point at which a face has a corner on it, counter-clockwise."""
    import shapely

    edge = shapely.orient_polygons(shapely.Polygon(form.outline))
    return shapely.segmentize(edge, SPACING) if form.contours else edge


def top_loft(form: BodyForm) -> Loft:
    """The top as a profile, contour lines or a roundover make it; level at 0 where none of them is stated."""
    if form.contours:
        return Loft(stretched(form).triangles)
    if not form.profile and not form.round_top:
        return level(edge_of(form), 0.0)
    profile = form.profile or ((0.0, 0.0), (1.0, 0.0))
    return _by_inset(edge_of(form), profile, form.round_top)


def back_loft(form: BodyForm) -> Loft:
    """The back as its roundover makes it, seen from above."""
    if not form.round_back:
        return level(edge_of(form), -form.thickness)
    as_top = _by_inset(edge_of(form), ((0.0, 0.0), (1.0, 0.0)), form.round_back)
    turned = as_top.triangles * [1.0, 1.0, -1.0] - [0.0, 0.0, form.thickness]
    measure = as_top.measure
    assert measure is not None
    down, lift = np.array([1.0, 1.0, -1.0]), np.array([0.0, 0.0, form.thickness])
    return Loft(turned, lambda some: measure((some + lift) * down), as_top.bound)


def _by_inset(region: Polygon, profile: Sequence[tuple[float, float]], radius: float) -> Loft:
    """A face whose height hangs on the distance from the edge alone."""

    def height(inset: Floats) -> Floats:
        rows = np.array(profile)
        short = np.maximum(0.0, radius - inset)
        return np.asarray(np.interp(inset, rows[:, 0], rows[:, 1]) - radius + np.sqrt(radius**2 - short**2))

    insets = _insets(profile, radius)
    regions: list[BaseGeometry] = [region]
    for before, inset in pairwise(insets):
        # Corners that turn inwards are rounded by the rule of distance; outward ones stay sharp.
        inner = region.buffer(-inset, quad_segs=max(8, arc_segments(inset)))
        # An outline drawn finer than that is not worth as many triangles on every line.
        inner = inner.simplify(min(FINEST, (inset - before) / 10))
        if inner.is_empty:
            break
        regions.append(inner)
    heights = height(np.array(insets)).tolist()
    parts = []
    for k, around in enumerate(regions):
        inner = regions[k + 1] if k + 1 < len(regions) else None
        parts.append(_strip(around, inner, heights[k], heights[k] if inner is None else heights[k + 1]))
    lines = np.column_stack([insets, heights])[: len(regions) + 1]
    level_step = np.diff(lines[:, 1]) == 0
    bound = float(np.where(level_step, 0.0, np.hypot(*np.diff(lines, axis=0).T)).max(initial=0.0))
    return Loft(np.concatenate(parts), _misfit(region, height, insets[-1]), bound)


def _insets(profile: Sequence[tuple[float, float]], radius: float) -> list[float]:
    """Where level lines are drawn: at every row, along the arc of a roundover, and between where the face slopes."""
    rows = [inset for inset, _ in profile]
    if len({height for _, height in profile}) == 1:
        rows = rows[:1]
    if radius:
        # A chord over an angle t leaves its arc by r (1 − cos(t/2)).
        steps = max(4, ceil(pi / 4 / acos(1 - SAGITTA / radius)))
        rows += [radius * (1 - cos(k * pi / 2 / steps)) for k in range(steps + 1)]
    marks = sorted(set(rows))
    kept = [marks[0]]
    for mark in marks[1:]:
        if mark - kept[-1] < 1e-6:
            continue
        slopes = along_profile(profile, mark) != along_profile(profile, kept[-1])
        count = int(np.ceil((mark - kept[-1]) / STEP)) if slopes else 1
        kept += [kept[-1] + (mark - kept[-1]) * (i + 1) / count for i in range(count)]
    return kept


def _strip(region: BaseGeometry, inner: BaseGeometry | None, low: float, high: float) -> Floats:
    """The triangles between a region's edge and the next one's."""
    import shapely

    parts: list[Polygon] = []
    inside = [] if inner is None else [p for p in shapely.get_parts(inner) if p.geom_type == "Polygon"]
    for piece in shapely.get_parts(region):
        holes = [p for p in inside if piece.contains(p.representative_point())]
        parts.append(
            shapely.Polygon(piece.exterior, [*piece.interiors, *(p.exterior.coords[::-1] for p in holes)])
        )
    on_inner = shapely.get_coordinates([q.exterior for q in inside])
    pieces = [piece for part in parts for piece in _along_ridges(part)]
    return np.concatenate([_lifted(triangles_of(piece), on_inner, low, high) for piece in pieces])


RIDGE = 0.15
"""Corners that turn by more than this have a ridge that runs in from them, rad."""


def _along_ridges(strip: Polygon) -> list[Polygon]:
    """A strip parted along the ridges that run from its outer corners to its inner ones.

    Left whole, the triangles in a sharp corner would have all their points on the outer line and lie level.
    """
    import shapely

    inner = [np.asarray(ring.coords)[:-1] for ring in strip.interiors]
    if not inner:
        return [strip]
    ring = np.asarray(strip.exterior.coords)[:-1]
    run, before = np.roll(ring, -1, axis=0) - ring, ring - np.roll(ring, 1, axis=0)
    turn = np.arctan2(before[:, 0] * run[:, 1] - before[:, 1] * run[:, 0], (before * run).sum(axis=1))
    turn *= 1.0 if strip.exterior.is_ccw else -1.0
    corners = ring[turn > RIDGE]
    if len(corners) == 0:
        return [strip]
    places = np.concatenate(inner)
    off = np.hypot(*(corners[:, np.newaxis] - places).transpose(2, 0, 1))
    wide = float(shapely.distance(strip.exterior, shapely.multipoints(places)))
    ridges = [
        (corner, places[near])
        for corner, near, mm, angle in zip(
            corners.tolist(), off.argmin(axis=1), off.min(axis=1), turn[turn > RIDGE], strict=True
        )
        # The two lines lie `wide` apart, so the ridge of a corner is about as long as its mitre.
        if mm < 1.5 * wide / max(0.05, cos(float(angle) / 2))
        and shapely.intersects_xy(strip, *((np.array(corner) + places[near]) / 2))
    ]
    sides = [side for line in (ring, *inner) for side in zip(line, np.roll(line, -1, axis=0), strict=True)]
    lines = shapely.linestrings(np.array([*sides, *((np.array(a), b) for a, b in ridges)]))
    faces = shapely.get_parts(shapely.polygonize(lines))
    within = shapely.intersects(strip, shapely.point_on_surface(faces))
    kept = [face for face, inside in zip(faces, within, strict=True) if inside]
    sound = abs(sum(face.area for face in kept) - strip.area) < 1e-6 * strip.area
    return kept if sound else [strip]


def triangles_of(region: Polygon) -> Floats:
    """A region cut into triangles on its own corners, counter-clockwise, (n, 3, 2)."""
    import shapely

    pieces = shapely.get_parts(shapely.constrained_delaunay_triangles(region))
    flat = shapely.get_coordinates(shapely.orient_polygons(pieces)).reshape(-1, 4, 2)[:, :3]
    return np.asarray(flat)


def _lifted(flat: Floats, on_inner: Floats, low: float, high: float) -> Floats:
    """Triangles with the heights of their corners: the one of the inner line's points, (m, 2), and the other."""
    z = np.where(np.isin(_as_numbers(flat), _as_numbers(on_inner)), high, low)
    return np.concatenate([flat, z[..., np.newaxis]], axis=2)


_SAMPLES = np.array([[1, 1, 0], [0, 1, 1], [1, 0, 1], [2 / 3, 2 / 3, 2 / 3]]) / 2
"""Shares of a triangle's corners at the middles of its sides and its own: where flat triangles lie furthest off."""


def _misfit(outline: Polygon, height: Callable[[Floats], Floats], last: float) -> Callable[[Floats], Floats]:
    """A measure of how far triangles lie from a face whose height hangs on the distance from the edge.

    Of four places on each triangle it takes the furthest, mm. A place at some distance from the edge and some height
    is as far from the face as from the face's profile.
    """
    import shapely

    marks = np.concatenate([np.linspace(0.0, 1.0, 2001) ** 2 * last, [1000.0]])
    edge = _Line(shapely.get_coordinates(outline.exterior))
    curve = _Line(np.column_stack([marks, height(marks)]))

    def measured(triangles: Floats) -> Floats:
        places = np.einsum("sk,nkj->nsj", _SAMPLES, triangles).reshape(-1, 3)
        off = curve.distance(np.column_stack([edge.distance(places[:, :2]), places[:, 2]]))
        return np.asarray(off.reshape(len(triangles), -1).max(axis=1))

    return measured


class _Line:
    """A line of many pieces, ready for many distances from it."""

    def __init__(self, corners: Floats) -> None:
        import shapely

        self.tree = shapely.STRtree(shapely.linestrings(np.stack([corners[:-1], corners[1:]], axis=1)))

    def distance(self, places: Floats) -> Floats:
        import shapely

        # Triangles share most of their places with their neighbours.
        once, which = np.unique(_as_numbers(places), return_inverse=True)
        points = shapely.points(once.real, once.imag)
        found = self.tree.query_nearest(points, all_matches=False, return_distance=True)
        return np.asarray(found[1][which])


def _as_numbers(places: Floats) -> NDArray[np.complex128]:
    """Places of the plan, (…, 2), as one number each: x + iy."""
    return np.ascontiguousarray(places).view(np.complex128)[..., 0]
