"""The finished body as a closed mesh: the blank's outline carried through its thickness, less every cut.

Round cuts become many-sided prisms and pyramids of the same cross-sectional area as the circle, so that
volume, weight and centre of mass are those of the true hole: their corners stand a few micrometres outside the
circle and their sides as little inside it. A mesh is for weight, sections, previews and export; clearances
are never measured on it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from math import hypot, pi, sin, sqrt
from typing import TYPE_CHECKING, Any

import numpy as np

from scribeline.features import Bore, Feature, arc_segments, polygon
from scribeline.layout import Point3, Ring
from scribeline.solid.cutters import Cutter, Prism, cutters
from scribeline.solid.faults import BodyError

if TYPE_CHECKING:
    from manifold3d import Manifold
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

WELD = 1e-3
"""What moves the surface by less than this is left out, mm: edges so short that two corners would become one in
single precision, and corners of an outline drawn finer than anyone can cut."""


@dataclass(frozen=True)
class Mesh:
    """A closed surface of triangles.

    Attributes:
        vertices: corners in the instrument frame, mm, shape (n, 3).
        triangles: three corner numbers each, counter-clockwise seen from outside, shape (m, 3).
    """

    vertices: Floats
    triangles: Ints

    @cached_property
    def corners(self) -> Floats:
        """The triangles' corners, mm, shape (m, 3, 3)."""
        picked: Floats = self.vertices[self.triangles]
        return picked

    @cached_property
    def volume_mm3(self) -> float:
        """What the surface encloses, mm³: a sixth of the sum of a·(b × c), which is the divergence theorem."""
        return float(self._sixfold.sum()) / 6

    @cached_property
    def centroid(self) -> Point3:
        """Centre of the enclosed volume, mm."""
        middle = self._about + (self._sixfold @ self._shifted.sum(axis=1)) / (4 * self._sixfold.sum())
        return Point3(*(float(part) for part in middle))

    @cached_property
    def _about(self) -> Floats:
        """A place near the surface: sums taken about it lose no digits however far the origin is."""
        middle: Floats = self.vertices.mean(axis=0)
        return middle

    @cached_property
    def _shifted(self) -> Floats:
        return self.corners - self._about

    @cached_property
    def _sixfold(self) -> Floats:
        """Six times the signed volume over each triangle."""
        a, b, c = self._shifted[:, 0], self._shifted[:, 1], self._shifted[:, 2]
        volumes: Floats = np.einsum("ij,ij->i", a, np.cross(b, c))
        return volumes


@dataclass(frozen=True, slots=True)
class Lump:
    """A volume and where it has its centre.

    Attributes:
        volume_mm3: mm³.
        centroid: mm.
    """

    volume_mm3: float
    centroid: Point3


@dataclass(frozen=True, slots=True)
class Removed:
    """What one cut takes out of the blank, other cuts aside.

    Attributes:
        feature: its id.
        role: what it is for, in bench words.
        volume_mm3: mm³; 0 when it meets no wood.
    """

    feature: str
    role: str
    volume_mm3: float


@dataclass(frozen=True)
class Body:
    """The finished body.

    Attributes:
        mesh: its surface.
        blank: the outline through the whole thickness, nothing cut.
        removed: each cut by itself; where two meet, their common part is counted in both.
        pieces: how many separate pieces of wood are left: 1, unless cuts part the body.
    """

    mesh: Mesh
    blank: Lump
    removed: tuple[Removed, ...]
    pieces: int
    _shape: Any  # manifold3d.Manifold, kept for sections

    @property
    def lump(self) -> Lump:
        """Volume and centre of the finished body."""
        return Lump(self.mesh.volume_mm3, self.mesh.centroid)

    def section(self, at: Point3, normal: Point3, along: Point3) -> Section:
        """The wood that a plane cuts, for a picture.

        Args:
            at: a place on the plane, which becomes (0, 0) of the section, mm.
            normal: the direction from which the section is seen; any length.
            along: the direction that becomes the section's first coordinate, made square to the normal.

        Raises:
            BodyError: The two directions are parallel, or one has no length.
        """
        w = np.asarray(normal, dtype=np.float64)
        u = np.asarray(along, dtype=np.float64)
        length = float(np.linalg.norm(w))
        w = w / length if length else w
        u = u - (u @ w) * w
        across = float(np.linalg.norm(u))
        if length == 0 or across < 1e-9 * max(1.0, float(np.linalg.norm(along))):
            message = "a section needs the direction it is seen from and another one to draw along, not parallel to it"
            raise BodyError(message)
        u = u / across
        turn = np.vstack([u, np.cross(w, u), w])
        placed = self._shape.transform(np.column_stack([turn, -turn @ np.asarray(at)]))
        return Section(tuple(np.asarray(ring, dtype=np.float64) for ring in placed.slice(0.0).to_polygons()))


@dataclass(frozen=True)
class Section:
    """Where a plane cuts the wood.

    Attributes:
        rings: closed loops of (along, across) in mm, first corner not repeated: counter-clockwise round
            wood, clockwise round a hole in it.
    """

    rings: tuple[Floats, ...]

    @property
    def area_mm2(self) -> float:
        """Area of the wood that is cut, mm²."""
        return sum(_signed_area(ring) for ring in self.rings)


def lengthwise(bore: Bore) -> tuple[Point3, Point3, Point3]:
    """The plane that shows a bore in its whole length, standing upright: `body.section(*lengthwise(bore))`.

    Its first coordinate runs along the bore's heading, or across the instrument where the bore is upright; its
    second one runs up; both are 0 where the axis meets the face.

    Args:
        bore: any bore.

    Returns:
        A place on the plane, the direction it is seen from, and the direction of its first coordinate.
    """
    length = hypot(bore.axis.x, bore.axis.y)
    along = Point3(0.0, 1.0, 0.0)
    if length > 1e-9:
        along = Point3(bore.axis.x / length, bore.axis.y / length, 0.0)
    return bore.at, Point3(along.y, -along.x, 0.0), along


def make_body(outline: Ring, thickness: float, features: Iterable[Feature]) -> Body:
    """Cut every feature out of the blank.

    Args:
        outline: the body's edge, mm; straight pieces, as near the true curve as they were made.
        thickness: mm; the top is at z = 0 and the back at −thickness.
        features: bores and pockets, in any order and however they overlap.

    Returns:
        The body. Its surface lies within 0.001 mm of the outline and the pockets' outlines as given, and within
        0.01 mm of the circle in round cuts, which hold the true circle's area.

    Raises:
        BodyError: An outline is no outline, or nothing is left of the body.
    """
    if not thickness > 0:
        message = f"a body needs a thickness over 0: {thickness} mm cannot be used"
        raise BodyError(message)
    cuts = [(feature, cutters(feature, thickness)) for feature in features]
    blank = _solid(Prism(_sound(outline, "the body's outline"), -thickness, 0.0))
    tools = []
    for feature, parts in cuts:
        for part in parts:
            if isinstance(part, Prism):
                _sound(part.outline, f"the outline of the {feature.role}")
        tools.append(_together([_solid(part) for part in parts]))
    whole = blank - _together(tools) if tools else blank
    if whole.is_empty():
        message = "the cuts leave nothing of the body; check their depths and the thickness"
        raise BodyError(message)
    removed = tuple(
        Removed(feature.id, feature.role, float((blank ^ tool).volume()))
        for (feature, _), tool in zip(cuts, tools, strict=True)
    )
    stock = _mesh(blank)
    return Body(
        mesh=_mesh(whole),
        blank=Lump(stock.volume_mm3, stock.centroid),
        removed=removed,
        pieces=len(whole.decompose()),
        _shape=whole,
    )


def facets(radius: float) -> int:
    """Sides of the many-sided prism that stands for a cylinder: its sides keep within 0.01 mm of the circle."""
    return 4 * max(4, arc_segments(radius))


def equal_area_radius(radius: float, sides: int) -> float:
    """Corner radius of a regular polygon with the area of a circle: n/2 R² sin(2π/n) = π r²."""
    return radius * sqrt(2 * pi / (sides * sin(2 * pi / sides)))


def _sound(ring: Ring, what: str) -> Ring:
    import shapely

    flat = np.asarray(ring, dtype=np.float64)
    if len(flat) < 3 or not np.isfinite(flat).all():
        message = f"{what} encloses nothing; draw its whole edge"
        raise BodyError(message)
    shape = polygon(ring)
    if not shape.is_valid or shape.area <= 0:
        message = f"{what} cannot be cut: {shapely.is_valid_reason(shape)}; draw its edge once round"
        raise BodyError(message)
    return ring


def _solid(part: Cutter) -> Manifold:
    from manifold3d import CrossSection, FillRule, Manifold

    if isinstance(part, Prism):
        flat = CrossSection([np.asarray(part.outline, dtype=np.float64)], FillRule.NonZero)
        return flat.extrude(part.high - part.low).translate((0.0, 0.0, part.low))
    sides = facets(max(part.radius, part.end_radius))
    upright = Manifold.cylinder(
        part.length,
        equal_area_radius(part.radius, sides),
        equal_area_radius(part.end_radius, sides),
        sides,
    )
    u, v = frame(part.axis)
    return upright.transform(np.column_stack([u, v, part.axis, part.start]))


def frame(axis: Point3) -> tuple[Floats, Floats]:
    """Two unit vectors square to an axis and to each other, right-handed with it; the first lies level."""
    w = np.asarray(axis, dtype=np.float64)
    u = np.array([w[1], -w[0], 0.0])
    length = float(np.linalg.norm(u))
    u = u / length if length > 1e-12 else np.array([1.0, 0.0, 0.0])
    return u, np.cross(w, u)


def _together(parts: list[Manifold]) -> Manifold:
    from manifold3d import Manifold, OpType

    return Manifold.batch_boolean(parts, OpType.Add)


def _mesh(shape: Manifold) -> Mesh:
    out = shape.to_mesh64()
    vertices = np.ascontiguousarray(np.asarray(out.vert_properties, dtype=np.float64)[:, :3])
    return Mesh(vertices, np.asarray(out.tri_verts, dtype=np.int64))


def _signed_area(ring: Floats) -> float:
    x, y = (ring - ring[0]).T
    return float(x @ np.roll(y, -1) - np.roll(x, -1) @ y) / 2
