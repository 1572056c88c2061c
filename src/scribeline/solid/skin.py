"""The least wood between a cut and every outer surface that is not a flat face or the upright wall.

The surfaces are flat pieces: a bevel's own plane, the triangles of an arched top or of a roundover (`lofts`), and, of
a stepped top, the air over each of its levels as an upright prism. A cut's pieces are convex, or prisms cut into
three-sided ones, and every pair is measured as `convex` does. Where triangles stand for a curved face, what is
reported is less by what they were measured to lie apart.

A cut never comes out of the surface it is cut from. A slanting bore runs along under that surface for a while; only
what lies deeper than `OWN_MOUTH` under the plane it enters is held against it, which finds a hole that comes out again
where an arch or a bevel falls away.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from math import sqrt
from typing import TYPE_CHECKING

import numpy as np

from scribeline.features import Bore, Feature, Pocket
from scribeline.layout import Bevel, BodyForm, Point, Point3
from scribeline.solid import convex, lofts
from scribeline.solid.distance import least
from scribeline.solid.shapes import Prism, Shape, Turned, hulls_of

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely import Polygon
    from shapely.geometry.base import BaseGeometry

    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]

OWN_MOUTH = 5.0
"""A slanting bore is held against the surface it enters once it is this deep under it, mm."""

ARCH = "the arched top"

_HIGH = 1000.0
LEVEL = 1e-6
_FIRST = 64


@dataclass(frozen=True, slots=True)
class Gap:
    """The least wood between a cut and one outer surface.

    Attributes:
        surface: its name in bench words, such as "the belly bevel".
        face: "top" or "back", on whose side it lies.
        mm: never more than the truth; negative where the cut comes out of it, by about as much.
        places: the place on the cut and the nearest on the surface.
    """

    surface: str
    face: str
    mm: float
    places: tuple[Point3, Point3]


@dataclass(frozen=True, slots=True)
class _Facets:
    """One surface of flat pieces.

    Attributes:
        loft: its triangles, and how far they lie from what is stated.
        plan: where it lies, seen from above.
    """

    name: str
    face: str
    loft: lofts.Loft
    plan: BaseGeometry


class Skin:
    """The outer surfaces of a body, ready to be measured against."""

    def __init__(self, form: BodyForm) -> None:
        self.form = form
        self.facets = tuple(_facets(form))
        self.levels = tuple(_levels(form))
        radii = (("top", form.round_top), ("back", form.round_back))
        self.edges = tuple(_RoundedEdge(form, face, radius) for face, radius in radii if radius)
        self.tops = frozenset({ARCH, *(name for name, _ in self.levels)})

    @property
    def top_is_carved(self) -> bool:
        """Whether the top is stepped or arched."""
        return bool(self.levels) or any(surface.name == ARCH for surface in self.facets)

    def gaps(self, shape: Shape, near: float, *, feature: Feature | None = None) -> tuple[Gap, ...]:
        """The least wood between a cut and each surface that comes within `near`.

        Args:
            shape: the cut as a solid.
            near: how close is worth telling, mm.
            feature: the cut itself, whose own mouth is then let be; None measures against every surface.
        """
        found = list(self._over_levels(shape, near, feature))
        parts = [(shape if feature is None else self._counted(shape, feature, s), s) for s in self.facets]
        parts += [(shape, edge.facets) for edge in self.edges if edge.matters(shape, feature)]
        gaps = (_to_facets(part, surface, near) for part, surface in parts)
        found += [gap for gap in gaps if gap is not None]
        return tuple(sorted(found, key=lambda gap: gap.mm))

    def set_back(
        self, low: Floats, high: Floats, *, without: str = "", rounded: bool = True
    ) -> Iterator[tuple[str, Floats]]:
        """The triangles of every surface, (n, 3, 3), mm: set into the wood by as much as they may lie outside of it.

        What lies level with a flat face, or in the air over it, is left out.

        Args:
            low: of a rectangle in the plan, (2,), mm; triangles that do not reach into it are left out.
            high: its upper corner.
            without: a face whose own surfaces are left out, "top" or "back".
            rounded: whether the rounded edges are among them.
        """
        surfaces = [*self.facets, *(edge.facets for edge in self.edges if rounded)]
        levels = (lofts.level(level.plan, level.low) for _, level in self.levels)
        surfaces += [
            _Facets(name, "top", loft, level.plan)
            for (name, level), loft in zip(self.levels, levels, strict=True)
        ]
        for surface in surfaces:
            if surface.face == without:
                continue
            flat = surface.loft.triangles
            heights = flat[:, :, 2]
            counts = (heights.min(axis=1) < -LEVEL) & (heights.max(axis=1) > LEVEL - self.form.thickness)
            counts &= (flat[:, :, :2].min(axis=1) <= high).all(axis=1)
            counts &= (flat[:, :, :2].max(axis=1) >= low).all(axis=1)
            yield surface.name, _set_back(surface, np.flatnonzero(counts))

    def _counted(self, shape: Shape, feature: Feature, surface: _Facets) -> Shape:
        """What of a cut counts against a surface: all of it, unless it is cut from there."""
        own = feature.face == surface.face
        if not own or not _mouth(feature).intersects(surface.plan):
            return shape
        if isinstance(feature, Pocket) or feature.is_upright:
            return Shape()
        return _below_the_mouth(shape, feature)

    def _over_levels(self, shape: Shape, near: float, feature: Feature | None) -> Iterator[Gap]:
        """The air over each level of a stepped top, as prisms."""
        mouth = None if feature is None or feature.face != "top" else _mouth(feature)
        air = [level for level in self.levels if mouth is None or not mouth.intersects(level[1].plan)]
        if not air or not (shape.turned or shape.prisms):
            return
        near_by = least([shape, *(Shape(prisms=(prism,)) for _, prism in air)], near)
        for first, second, mm, a, b in zip(
            near_by.first.tolist(),
            near_by.second.tolist(),
            near_by.mm.tolist(),
            near_by.a.tolist(),
            near_by.b.tolist(),
            strict=True,
        ):
            if first == 0:
                yield Gap(air[second - 1][0], "top", mm, (Point3(*a), Point3(*b)))


@lru_cache(maxsize=4)
def skin_of(form: BodyForm) -> Skin:
    """The surfaces of a body, kept for as long as the same body is worked on."""
    return Skin(form)


def _levels(form: BodyForm) -> Iterator[tuple[str, Prism]]:
    """The air over each level of a stepped top, later areas over earlier ones."""
    import shapely

    if not form.areas:
        return
    left = shapely.Polygon(form.outline)
    for area in reversed(form.areas):
        own = left.intersection(shapely.Polygon(area.outline))
        left = left.difference(own)
        for part in _regions(own):
            yield f"the top's {area.name}", Prism(part, area.height, _HIGH)
    for part in _regions(left):
        yield "the top", Prism(part, 0.0, _HIGH)


def _regions(shape: BaseGeometry) -> list[Polygon]:
    import shapely

    return [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon" and part.area > 1e-6]


def _facets(form: BodyForm) -> Iterator[_Facets]:
    import shapely

    outline = shapely.Polygon(form.outline)
    if form.profile or form.contours:
        loft = lofts.top_loft(replace(form, round_top=0.0))
        yield _Facets(ARCH, "top", loft, outline)
    for bevel in form.bevels:
        regions = [shapely.Polygon(part) for part in bevel.parts]
        if regions:
            loft = lofts.Loft(np.concatenate([_on_plane(bevel, region) for region in regions]))
            yield _Facets(f"the {bevel.name} bevel", bevel.face, loft, shapely.union_all(regions))


def _on_plane(bevel: Bevel, region: Polygon) -> Floats:
    flat = lofts.triangles_of(region)
    z = [[bevel.height(Point(*corner)) for corner in triangle] for triangle in flat.tolist()]
    return np.concatenate([flat, np.array(z)[..., np.newaxis]], axis=2)


class _RoundedEdge:
    """A roundover, made only when a cut comes near enough for it to matter.

    Where a cut keeps a radius away from the wall, or a radius from the face, that wall or face is nearer than the
    rounded edge.
    """

    def __init__(self, form: BodyForm, face: str, radius: float) -> None:
        import shapely

        self.form, self.face, self.radius = form, face, radius
        self.name = f"the {face}'s rounded edge"
        self.within = shapely.Polygon(form.outline).buffer(-radius)
        shapely.prepare(self.within)

    def matters(self, shape: Shape, feature: Feature | None) -> bool:
        """Whether a cut reaches into the corner that is rounded, by a face it is not cut from."""
        import shapely

        if feature is not None and (
            feature.face in {self.face, "edge"} or getattr(feature, "at_edge", False)
        ):
            return False
        hulls = hulls_of(shape)
        if len(hulls) == 0:
            return False
        reach = np.hypot(hulls[:, :, 1], hulls[:, :, 2])
        low = (hulls[:, :, 0] - reach).min(axis=1)
        high = (hulls[:, :, 0] + reach).max(axis=1)
        boxes = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
        up = self.face == "top"
        deep = (
            high[:, 2] < self.form.lowest_top - self.radius
            if up
            else low[:, 2] > self.radius - self.form.thickness
        )
        return bool((~shapely.contains(self.within, boxes) & ~deep).any())

    @cached_property
    def facets(self) -> _Facets:
        """Those of a face's triangles that reach into the roundover's width."""
        import shapely

        form = self.form
        loft = lofts.top_loft(form) if self.face == "top" else lofts.back_loft(form)
        middles = loft.triangles[:, :, :2].mean(axis=1)
        own = ~shapely.intersects_xy(self.within, middles[:, 0], middles[:, 1])
        ring = shapely.Polygon(form.outline).difference(self.within)
        return _Facets(self.name, self.face, replace(loft, triangles=loft.triangles[own]), ring)


def _mouth(feature: Feature) -> BaseGeometry:
    """Where a cut opens on its face, seen from above."""
    import shapely

    if isinstance(feature, Pocket):
        return shapely.Polygon(feature.outline)
    # The ellipse is as long as D / sin A; a circle round it is near enough to tell which surface it lies on.
    reach = feature.widest / 2 / max(0.05, feature.angle_from_face_sine)
    return shapely.Point(feature.at.x, feature.at.y).buffer(reach)


def _below_the_mouth(shape: Shape, bore: Bore) -> Shape:
    """What of a slanting bore lies deeper than `OWN_MOUTH` under the surface it enters, as if that went on flat."""
    sine = bore.angle_from_face_sine
    # Its upper side is r·cos A nearer the surface than its axis.
    begin = (OWN_MOUTH + bore.widest / 2 * sqrt(max(0.0, 1 - sine**2))) / max(0.02, sine)
    kept = []
    for piece in shape.turned:
        if piece.depths[2] <= begin:
            continue
        depths = tuple(max(begin, depth) for depth in piece.depths)
        radii = tuple(
            float(np.interp(depth, piece.depths, piece.radii)) if depth > old else radius
            for depth, old, radius in zip(depths, piece.depths, piece.radii, strict=True)
        )
        kept.append(
            Turned(
                piece.at,
                piece.axis,
                (depths[0], depths[1], depths[2]),
                (radii[0], radii[1], radii[2]),
                None,
                piece.drift,
            )
        )
    return Shape(turned=tuple(kept))


def _to_facets(shape: Shape, surface: _Facets, near: float) -> Gap | None:
    """The least distance from any piece of a cut to any triangle of a surface; None beyond `near`."""
    hulls = hulls_of(shape)
    if len(hulls) == 0:
        return None
    reach = np.hypot(hulls[:, :, 1], hulls[:, :, 2])
    low, high = (hulls[:, :, 0] - reach).min(axis=1), (hulls[:, :, 0] + reach).max(axis=1)
    flat_low, flat_high = surface.loft.triangles.min(axis=1), surface.loft.triangles.max(axis=1)
    hopeful = np.flatnonzero(_boxes_apart(low.min(axis=0), high.max(axis=0), flat_low, flat_high) <= near)
    if len(hopeful) == 0:
        return None
    off = np.stack(
        [_boxes_apart(a, b, flat_low[hopeful], flat_high[hopeful]) for a, b in zip(low, high, strict=True)]
    )
    off = off - surface.loft.bound
    order = np.argsort(off, axis=None, kind="stable")
    best, met = None, False
    least_mm = near
    done = 0
    while done < len(order) and off.flat[order[done]] <= least_mm:
        batch = order[done : done + (_FIRST if done == 0 else 4096)]
        batch = batch[off.flat[batch] <= least_mm]
        piece, which = np.unravel_index(batch, off.shape)
        rows = hopeful[which]
        found = convex.nearest(hulls[piece], _as_hulls(surface.loft.triangles[rows]), beyond=least_mm + 1.0)
        lower = np.where(found.upper < convex.TOUCHING, 0.0, found.lower) - surface.loft.apart(rows)
        k = int(np.argmin(lower))
        if lower[k] < least_mm or best is None:
            least_mm = min(least_mm, float(lower[k]))
            best = (float(lower[k]), Point3(*found.a[k].tolist()), Point3(*found.b[k].tolist()))
        met = met or bool((found.upper < convex.TOUCHING).any())
        done += _FIRST if done == 0 else 4096
    if best is None or best[0] > near:
        return None
    mm, a, b = best
    return Gap(surface.name, surface.face, -_out(hulls, surface) if met else mm, (a, b))


def _set_back(surface: _Facets, rows: Ints) -> Floats:
    """Some of a surface's triangles, each moved along its normal by as much as it may lie from what is stated."""
    flat = surface.loft.triangles[rows]
    inward = np.cross(flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0])
    inward *= np.sign(inward[:, 2:]) * (-1.0 if surface.face == "top" else 1.0)
    inward /= np.maximum(np.linalg.norm(inward, axis=1, keepdims=True), 1e-300)
    return np.asarray(flat + (surface.loft.apart(rows)[:, np.newaxis] * inward)[:, np.newaxis])


def _out(hulls: Floats, surface: _Facets) -> float:
    """About how far a cut comes out of a surface it meets: the most of the heights of its outmost places over it, mm."""
    import shapely

    up = 1.0 if surface.face == "top" else -1.0
    a, b, c = surface.loft.triangles.transpose(1, 0, 2)
    normal = np.cross(b - a, c - a)
    normal *= up * np.sign(normal[:, 2:])
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-300)
    tree = shapely.STRtree(shapely.polygons(surface.loft.triangles[:, :, :2]))
    most = 0.0
    for turn in (np.array([0.0, 0.0, up]), *np.unique(np.round(normal, 3), axis=0)[:64]):
        places = convex.support(hulls, np.broadcast_to(turn, (len(hulls), 3)))
        piece, triangle = tree.query(shapely.points(places[:, :2]), predicate="intersects")
        if len(piece):
            over = ((places[piece] - a[triangle]) * normal[triangle]).sum(axis=1)
            most = max(most, float(over.max()))
    return most


def _as_hulls(triangles: Floats) -> Floats:
    hulls = np.zeros((len(triangles), 3, 3, 3))
    hulls[:, :, 0] = triangles
    return hulls


def _boxes_apart(low: Floats, high: Floats, other_low: Floats, other_high: Floats) -> Floats:
    """Distance between boxes, mm."""
    gap = np.maximum(0.0, np.maximum(low - other_high, other_low - high))
    return np.asarray(np.sqrt((gap**2).sum(axis=1)))
