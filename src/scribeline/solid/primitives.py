"""Simple solids as closed meshes: what bits and routers sweep.

Round cuts become many-sided prisms and pyramids of the same cross-sectional area as the circle.
"""

from __future__ import annotations

from math import hypot, pi, sin, sqrt
from typing import TYPE_CHECKING

import numpy as np

from scribeline.features import arc_segments, polygon
from scribeline.layout import Point3, Ring
from scribeline.solid.cutters import Cutter, Prism
from scribeline.solid.faults import BodyError

if TYPE_CHECKING:
    from manifold3d import Manifold
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def facets(radius: float) -> int:
    """Sides of the many-sided prism that stands for a cylinder: its sides keep within 0.01 mm of the circle."""
    return 4 * max(4, arc_segments(radius))


def equal_area_radius(radius: float, sides: int) -> float:
    """Corner radius of a regular polygon with the area of a circle: n/2 R² sin(2π/n) = π r²."""
    return radius * sqrt(2 * pi / (sides * sin(2 * pi / sides)))


def sound(ring: Ring, what: str) -> Ring:
    """The ring itself.

    Raises:
        BodyError: It is no outline that can be cut.
    """
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


def solid_of(part: Cutter) -> Manifold:
    """What a cutter sweeps, as a closed mesh."""
    from manifold3d import CrossSection, FillRule, Manifold

    if isinstance(part, Prism):
        rings = [np.asarray(ring, dtype=np.float64) for ring in (part.outline, *part.islands)]
        flat = CrossSection(rings[:1], FillRule.NonZero)
        for island in rings[1:]:
            flat -= CrossSection([island], FillRule.NonZero)
        whole = flat.extrude(part.high - part.low).translate((0.0, 0.0, part.low))
        if not part.rise:
            return whole
        up = 1 / hypot(1.0, part.rise)
        return whole.trim_by_plane((-part.rise * up, 0.0, up), (part.low - part.rise * part.foot) * up)
    sides = facets(max(part.radius, part.end_radius))
    radius, end_radius = (equal_area_radius(each, sides) for each in (part.radius, part.end_radius))
    upright = (
        _point(part.length, radius, sides)
        if end_radius == 0
        else Manifold.cylinder(part.length, radius, end_radius, sides)
    )
    u, v = frame(part.axis)
    return upright.transform(np.column_stack([u, v, part.axis, part.start]))


SKIN = 1e-3
"""How far a bit's point is carried back into the hole before it, mm: on a slanting axis two faces that only touch would
leave a skin of no thickness between them, and a hollow behind it."""


def _point(length: float, radius: float, sides: int) -> Manifold:
    """A cone on the origin's plane, its tip up, with a short neck of its own width below."""
    from manifold3d import Manifold

    turn = 2 * pi * np.arange(sides) / sides
    ring = np.column_stack([radius * np.cos(turn), radius * np.sin(turn), np.zeros(sides)])
    return Manifold.hull_points(np.vstack([ring - [0.0, 0.0, SKIN], ring, [[0.0, 0.0, length]]]))


def frame(axis: Point3) -> tuple[Floats, Floats]:
    """Two unit vectors square to an axis and to each other, right-handed with it; the first lies level."""
    w = np.asarray(axis, dtype=np.float64)
    u = np.array([w[1], -w[0], 0.0])
    length = float(np.linalg.norm(u))
    u = u / length if length > 1e-12 else np.array([1.0, 0.0, 0.0])
    return u, np.cross(w, u)


def together(parts: list[Manifold]) -> Manifold:
    """All of them as one."""
    from manifold3d import Manifold, OpType

    return Manifold.batch_boolean(parts, OpType.Add)
