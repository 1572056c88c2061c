"""The wood before any cut: the blank, and what is left of it once its top, bevels and rounded edges are carved.

The carved stock is closed from the start: the triangles of its top, of its back turned over, and an upright wall
between their edges. Steps and bevels are then taken off as solids.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from scribeline.layout import Bevel, BodyForm
from scribeline.solid import lofts
from scribeline.solid.cutters import AIR, Prism
from scribeline.solid.faults import BodyError
from scribeline.solid.primitives import solid_of, sound

if TYPE_CHECKING:
    from manifold3d import Manifold
    from numpy.typing import NDArray
    from shapely import Polygon

    Floats = NDArray[np.float64]

_BESIDE = 2.0
"""How far a bevel is carried on beside the body, mm: enough for no skin to be left on the wall."""


def blank_of(form: BodyForm) -> Manifold:
    """The outline through the whole thickness, up to the highest place of the top."""
    return solid_of(Prism(sound(form.outline, "the body's outline"), -form.thickness, form.highest))


def carved(form: BodyForm) -> tuple[Manifold, tuple[tuple[str, Manifold, Manifold | None], ...]]:
    """The wood that carving leaves, and what each surface by itself takes off the blank.

    Returns:
        The wood; and for each surface its name, a solid, and another that lies in it: their difference is taken off.

    Raises:
        BodyError: The surfaces leave no wood at the edge, or cannot be made.
    """
    blank = blank_of(form)
    if form.is_plain:
        return blank, ()
    shaped = _shaped(form)
    taken: list[tuple[str, Manifold, Manifold | None]] = []
    if shaping := _shaping(form):
        taken.append((shaping, blank, shaped))
    for bevel in form.bevels:
        for part in _bevel_tools(bevel, form):
            taken.append((f"the {bevel.name} bevel", blank ^ part, None))
            shaped -= part
    return shaped, tuple(taken)


def _shaping(form: BodyForm) -> str:
    top = "stepped top" if form.areas else "arched top" if form.profile or form.contours else ""
    rounded = "rounded edges" if form.round_top or form.round_back else ""
    return " and ".join(f"the {part}" for part in (top, rounded) if part)


def _shaped(form: BodyForm) -> Manifold:
    """The body with its top and rounded edges, without bevels."""
    body = _between(lofts.top_loft(form).triangles, lofts.back_loft(form).triangles, lofts.edge_of(form))
    for area, region in _areas(form):
        if area > 0:
            raised = solid_of(Prism(form.outline, -AIR, area))
            body += raised ^ _extruded(region, -AIR, area)
        else:
            body -= _extruded(region, area, form.highest + AIR)
    return body


def _areas(form: BodyForm) -> Iterator[tuple[float, Polygon]]:
    """Heights of a stepped top other than 0 and where they hold, later ones over earlier."""
    import shapely

    later = shapely.Polygon()
    for area in reversed(form.areas):
        own = shapely.Polygon(area.outline)
        for part in shapely.get_parts(own.difference(later)):
            if part.geom_type == "Polygon" and part.area > 0 and area.height != 0:
                yield area.height, part
        later = later.union(own)


def _extruded(region: Polygon, low: float, high: float) -> Manifold:
    from manifold3d import CrossSection, FillRule

    rings = [np.asarray(ring.coords)[:-1] for ring in (region.exterior, *region.interiors)]
    return CrossSection(rings, FillRule.EvenOdd).extrude(high - low).translate((0.0, 0.0, low))


def _bevel_tools(bevel: Bevel, form: BodyForm) -> Iterator[Manifold]:
    """The air beyond a bevel's plane, over the parts of the body it covers."""
    n, at = np.array(bevel.outward), np.array(bevel.at)
    for region in bevel_regions(bevel, form):
        column = _extruded(region, -form.thickness - AIR, form.highest + AIR)
        # The side its normal points to is kept.
        yield column.trim_by_plane(tuple(n.tolist()), float(n @ at))


def bevel_regions(bevel: Bevel, form: BodyForm) -> Iterator[Polygon]:
    """The parts of the body a bevel covers, carried on a little beside the body but not over its line."""
    import shapely

    outline = shapely.Polygon(form.outline)
    away = np.array(bevel.outward[:2])
    away /= np.linalg.norm(away)
    along, start, far = np.array([-away[1], away[0]]), np.array(bevel.at[:2]), 4000.0
    beyond = shapely.Polygon(
        [start - far * along, start + far * along, start + far * (along + away), start + far * (away - along)]
    )
    for ring in bevel.parts:
        region = shapely.Polygon(ring)
        others = outline.intersection(beyond).difference(region.buffer(1e-6))
        wide = region.buffer(_BESIDE, join_style="mitre").intersection(beyond).difference(others)
        for part in shapely.get_parts(wide):
            if part.geom_type == "Polygon" and part.intersects(region):
                yield part


def _between(top: Floats, back: Floats, edge: Polygon) -> Manifold:
    """The closed solid between two faces over the same outline."""
    from manifold3d import Error, Manifold, Mesh64

    ring = np.asarray(edge.exterior.coords)[:-1]
    high, low = _height_at(top, ring[0]), _height_at(back, ring[0])
    if high <= low + 1e-6:
        message = f"the top at the edge ({high:.2f} mm) lies no higher than the back there ({low:.2f} mm): leave wood at the edge"
        raise BodyError(message)
    a, b = ring, np.roll(ring, -1, axis=0)
    corners = [np.column_stack([p, np.full(len(p), z)]) for p in (a, b) for z in (low, high)]
    a_low, a_high, b_low, b_high = corners
    wall = np.concatenate(
        [np.stack([a_low, b_low, b_high], axis=1), np.stack([a_low, b_high, a_high], axis=1)]
    )
    triangles = np.concatenate([top, back[:, ::-1], wall])
    places, numbers = np.unique(triangles.reshape(-1, 3), axis=0, return_inverse=True)
    faces = np.ascontiguousarray(numbers.reshape(-1, 3).astype(np.uint64))
    body = Manifold(Mesh64(np.ascontiguousarray(places), faces))
    if body.status() != Error.NoError or body.is_empty():
        message = "the carved body does not close; state its top by fewer contour lines or a plainer outline"
        raise BodyError(message)
    return body


def _height_at(triangles: Floats, place: Floats) -> float:
    """Height of a corner of the surface that stands at a place of the edge."""
    corners = triangles.reshape(-1, 3)
    off = np.hypot(corners[:, 0] - place[0], corners[:, 1] - place[1])
    return float(corners[int(off.argmin()), 2])
