"""The finished body as a closed mesh: the carved stock less every cut, and each layer of it by itself.

Round cuts become many-sided prisms and pyramids of the same cross-sectional area as the circle, so that
volume, weight and centre of mass are those of the true hole: their corners stand a few micrometres outside the
circle and their sides as little inside it. A mesh is for weight, sections, previews and export; clearances
are never measured on it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from math import hypot, inf, nan
from typing import TYPE_CHECKING, Any

import numpy as np

from scribeline.features import Bore, Feature, thinned
from scribeline.layout import BodyForm, Layer, Point3, Ring
from scribeline.solid.cutters import AIR, Prism, cutters
from scribeline.solid.faults import BodyError
from scribeline.solid.primitives import equal_area_radius, facets, frame, solid_of, sound, together
from scribeline.solid.stock import blank_of, carved
from scribeline.tables import own_timber

if TYPE_CHECKING:
    from manifold3d import Manifold
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

_UNSTATED = own_timber("", kg_m3=nan, hardness_n=nan, softwood=False, source="not stated")
"""Of a body that is only a form: whatever is asked of its wood is not a number."""


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
    """What one cut, or one carved surface, takes out of the blank, others aside.

    Attributes:
        feature: the cut's id; "" for a carved surface.
        role: what it is for, in bench words.
        volume_mm3: mm³; 0 when it meets no wood.
        by_layer: the same from each layer, from the top down.
    """

    feature: str
    role: str
    volume_mm3: float
    by_layer: tuple[float, ...]


@dataclass(frozen=True)
class LayerPart:
    """What is left of one layer.

    Attributes:
        layer: its name, timber and heights.
        mesh: its surface; None where nothing of it is left.
        blank_mm3: of its blank, nothing cut, mm³.
    """

    layer: Layer
    mesh: Mesh | None
    blank_mm3: float
    _shape: Any  # manifold3d.Manifold

    @property
    def lump(self) -> Lump | None:
        """Its volume and centre; None where nothing is left."""
        return None if self.mesh is None else Lump(self.mesh.volume_mm3, self.mesh.centroid)


@dataclass(frozen=True)
class Body:
    """The finished body.

    Attributes:
        mesh: its surface.
        blank: the outline through the whole thickness, nothing cut.
        pieces: how many separate pieces of wood are left: 1, unless cuts part the body.
        layers: from the top down; the whole body where it is of one piece.
        carved: each carved surface by itself, out of the blank.
    """

    mesh: Mesh
    blank: Lump
    pieces: int
    layers: tuple[LayerPart, ...]
    carved: tuple[Removed, ...]
    _shape: Any  # manifold3d.Manifold, kept for sections
    _stock: Any  # and what the cuts are made out of
    _tools: tuple[tuple[Feature, Any], ...]

    @cached_property
    def removed(self) -> tuple[Removed, ...]:
        """Each cut by itself, out of the carved stock; where two meet, their common part is counted in both.

        Worked out when it is asked for: of a body of many corners it takes longer than the body.
        """
        layers = tuple(part.layer for part in self.layers)
        return tuple(
            _removed(feature.id, feature.role, self._stock ^ tool, layers) for feature, tool in self._tools
        )

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
        return _cut_by_plane(self._shape, at, normal, along)

    def layer_sections(self, at: Point3, normal: Point3, along: Point3) -> tuple[tuple[Layer, Section], ...]:
        """The same plane through each layer by itself, from the top down, so that each can have its own hatch.

        Args:
            at: as for `section`.
            normal: as for `section`.
            along: as for `section`.
        """
        return tuple((part.layer, _cut_by_plane(part._shape, at, normal, along)) for part in self.layers)


def _cut_by_plane(shape: Manifold, at: Point3, normal: Point3, along: Point3) -> Section:
    w = np.asarray(normal, dtype=np.float64)
    u = np.asarray(along, dtype=np.float64)
    length = float(np.linalg.norm(w))
    w = w / length if length else w
    u = u - (u @ w) * w
    across = float(np.linalg.norm(u))
    if length == 0 or across < 1e-9 * max(1.0, float(np.linalg.norm(along))):
        message = (
            "a section needs the direction it is seen from and another one to draw along, not parallel to it"
        )
        raise BodyError(message)
    u = u / across
    turn = np.vstack([u, np.cross(w, u), w])
    placed = shape.transform(np.column_stack([turn, -turn @ np.asarray(at)]))
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


_FINE = 5000
"""An outline with no more corners than this is taken as it is."""
_THINNED = 1e-3
"""How far the edge of a finer one may lie off it, mm: a hundredth of what a rule shows. Time grows with the square of
the corners."""


def make_body(
    outline: Ring, thickness: float, features: Iterable[Feature], *, form: BodyForm | None = None
) -> Body:
    """Cut every feature out of the carved stock.

    Args:
        outline: the body's edge, mm; straight pieces, as near the true curve as they were made.
        thickness: mm; the top is at z = 0 and the back at −thickness.
        features: bores and pockets, in any order and however they overlap.
        form: its layers, and what its faces are carved to; one piece with flat faces when left out.

    Returns:
        The body. Its surface lies on the outline and the pockets' outlines as given (an outline of more than 5,000 corners
        is thinned by up to 0.001 mm), and within 0.01 mm of the circle
        in round cuts, which hold the true circle's area.

    Raises:
        BodyError: An outline is no outline, or nothing is left of the body.
    """
    if not thickness > 0:
        message = f"a body needs a thickness over 0: {thickness} mm cannot be used"
        raise BodyError(message)
    form = form or BodyForm(outline, thickness, (Layer("", _UNSTATED, inf, -thickness),))
    if len(form.outline) > _FINE:
        form = replace(form, outline=thinned(form.outline, _THINNED))
    cuts = [(feature, cutters(feature, thickness, form)) for feature in features]
    blank = blank_of(form)
    stock, surfaces = carved(form)
    tools = []
    for feature, parts in cuts:
        for part in parts:
            if isinstance(part, Prism):
                sound(part.outline, f"the outline of the {feature.role}")
        tools.append(together([solid_of(part) for part in parts]))
    whole = stock - together(tools) if tools else stock
    if whole.is_empty():
        message = "the cuts leave nothing of the body; check their depths and the thickness"
        raise BodyError(message)
    whole_blank = mesh_of(blank)
    return Body(
        mesh=mesh_of(whole),
        blank=Lump(whole_blank.volume_mm3, whole_blank.centroid),
        pieces=len(whole.decompose()),
        layers=tuple(_layer(layer, whole, blank) for layer in form.layers),
        carved=tuple(_carved(role, whole, left, form.layers) for role, whole, left in surfaces),
        _shape=whole,
        _stock=stock,
        _tools=tuple((feature, tool) for (feature, _), tool in zip(cuts, tools, strict=True)),
    )


def _removed(feature: str, role: str, shape: Manifold, layers: tuple[Layer, ...]) -> Removed:
    volumes = _volumes(shape, layers)
    return Removed(feature, role, sum(volumes), volumes)


def _carved(role: str, whole: Manifold, left: Manifold | None, layers: tuple[Layer, ...]) -> Removed:
    volumes = _volumes(whole, layers)
    if left is not None:
        volumes = tuple(a - b for a, b in zip(volumes, _volumes(left, layers), strict=True))
    return Removed("", role, sum(volumes), volumes)


def _volumes(shape: Manifold, layers: tuple[Layer, ...]) -> tuple[float, ...]:
    """What of a solid lies in each layer, mm³."""
    parts = (shape,) if len(layers) == 1 else tuple(_slab(shape, layer) for layer in layers)
    return tuple(float(part.volume()) for part in parts)


def _layer(layer: Layer, whole: Manifold, blank: Manifold) -> LayerPart:
    part = _slab(whole, layer)
    mesh = mesh_of(part) if part.volume() > _NOTHING else None
    return LayerPart(layer, mesh, float(_slab(blank, layer).volume()), part)


_NOTHING = 1e-6
"""Less than this is no wood but what rounding leaves on a plane, mm³."""


def _slab(shape: Manifold, layer: Layer) -> Manifold:
    """What of a solid lies in a layer."""
    low, high = shape.bounding_box()[2], shape.bounding_box()[5]
    if layer.low > low:
        shape = shape.trim_by_plane((0.0, 0.0, 1.0), layer.low)
    if layer.high < high:
        shape = shape.trim_by_plane((0.0, 0.0, -1.0), -layer.high)
    if layer.core is not None:
        core = solid_of(Prism(layer.core, low - AIR, high + AIR))
        return shape - core if layer.beside else shape ^ core
    return shape


__all__ = [
    "Body",
    "BodyError",
    "LayerPart",
    "Lump",
    "Mesh",
    "Removed",
    "Section",
    "equal_area_radius",
    "facets",
    "frame",
    "lengthwise",
    "make_body",
]


def mesh_of(shape: Manifold) -> Mesh:
    """A solid's surface."""
    out = shape.to_mesh64()
    vertices = np.ascontiguousarray(np.asarray(out.vert_properties, dtype=np.float64)[:, :3])
    return Mesh(vertices, np.asarray(out.tri_verts, dtype=np.int64))


def _signed_area(ring: Floats) -> float:
    x, y = (ring - ring[0]).T
    return float(x @ np.roll(y, -1) - np.roll(x, -1) @ y) / 2
