"""Outlines as a router leaves them, and where a line of drilling meets them."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from itertools import pairwise
from math import acos, ceil, pi
from typing import TYPE_CHECKING

from scribeline.job.table import HAIR
from scribeline.layout import Point, Ring

if TYPE_CHECKING:
    from shapely import Polygon

FLATTENING = 0.01
"""Greatest distance between a flattened arc and the true one, mm."""


_CLUSTER = 20 * FLATTENING
"""A place of a filled outline this near to an outer corner stands for it, mm."""


def polygon(ring: Ring, islands: Iterable[Ring] = ()) -> Polygon:
    """The ring as a shapely polygon, less the islands in it."""
    return _polygon(ring, tuple(islands))


@lru_cache(maxsize=512)
def _polygon(ring: Ring, islands: tuple[Ring, ...]) -> Polygon:
    """Many rules ask for the same ring; shapely's polygons never change.

    Of a ring whose chords cross by a hair, as one that was cut may, what encloses the most; any other is left as it is.
    """
    import shapely

    found = shapely.Polygon(ring, list(islands))
    if found.is_valid:
        return found
    whole = shapely.make_valid(found)
    largest = max(shapely.get_parts(whole), key=lambda part: float(part.area))
    return largest if whole.area - largest.area < HAIR and largest.geom_type == "Polygon" else found


def thinned(ring: Ring, by: float) -> Ring:
    """An outline without the corners it can spare; its outermost places are kept.

    Args:
        ring: closed, without its first corner again at its end, mm.
        by: how far the thinner one may lie off it, mm.
    """
    import numpy as np
    import shapely

    corners = np.array(ring)
    ends = sorted({int(pick(corners[:, axis])) for pick in (np.argmin, np.argmax) for axis in (0, 1)})
    corners = np.roll(corners, -ends[0], axis=0)
    stops = [*(end - ends[0] for end in ends), len(ring)]
    corners = np.concatenate([corners, corners[:1]])
    parts = [corners[a : b + 1] for a, b in pairwise(stops)]
    kept = [shapely.get_coordinates(shapely.LineString(part).simplify(by))[:-1] for part in parts]
    return Ring(Point(*corner) for corner in np.concatenate(kept).tolist())


def arc_segments(radius: float) -> int:
    """Straight pieces per quarter circle that keep within `FLATTENING` of the arc: sagitta = r (1 − cos(θ/2))."""
    if radius <= FLATTENING:
        return 1
    return max(4, ceil(pi / 4 / acos(1 - FLATTENING / radius)))


def rounded(outline: Ring, radius: float, *, open_towards_nut: bool = False, wider: float = 0.0) -> Ring:
    """What a router bit of this radius leaves of a sharp-cornered pocket: no corner tighter than the bit.

    Args:
        outline: sharp-cornered outline.
        radius: the bit's radius, mm.
        open_towards_nut: the side nearest the nut runs out of the wood, so its corners stay as they are.
        wider: carried outwards by this much, corners about the same centres, mm.
    """
    import shapely

    if radius + wider <= 0:
        return outline
    segments = arc_segments(radius + wider)
    sharp = polygon(outline)
    whole = sharp
    if open_towards_nut:
        # Carry the open end on by two radii, round, and cut it off again where it was.
        mouth = min(point.x for point in outline)
        whole = shapely.Polygon([Point(p.x - 2 * radius, p.y) if p.x == mouth else p for p in outline]).union(
            sharp
        )
    cut = whole.buffer(-radius, quad_segs=segments).buffer(radius + wider, quad_segs=segments)
    if open_towards_nut:
        cut = cut.intersection(sharp)
    if cut.is_empty or cut.geom_type != "Polygon":
        return outline
    ring = [Point(float(x), float(y)) for x, y in shapely.get_coordinates(cut.exterior)[:-1]]
    return Ring(ring if cut.exterior.is_ccw else reversed(ring))


def standing(island: Ring, radius: float) -> Ring:
    """What a router bit of this radius leaves of a sharp-cornered island: outer corners sharp, inner ones filled.

    Args:
        island: sharp-cornered outline of wood left standing.
        radius: the bit's radius, mm.
    """
    sharp = polygon(island)
    if radius <= 0 or sharp.convex_hull.area - sharp.area < 1e-9:
        return island
    segments = arc_segments(radius)
    filled = sharp.buffer(radius, quad_segs=segments).buffer(-radius, quad_segs=segments)
    return _with_corners(filled, sharp)


def _with_corners(filled: Polygon, sharp: Polygon) -> Ring:
    """A filled outline, its outer corners put back: flattened arcs come round to a cluster of places beside them."""
    import numpy as np
    import shapely

    around = shapely.get_coordinates(shapely.orient_polygons(sharp).exterior)[:-1]
    before, after = around - np.roll(around, 1, axis=0), np.roll(around, -1, axis=0) - around
    corners = around[before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0] > 0]
    tree = shapely.STRtree(shapely.points(corners))
    places = shapely.get_coordinates(shapely.orient_polygons(filled).exterior)[:-1]
    near = tree.query_nearest(shapely.points(places), max_distance=_CLUSTER, all_matches=False)
    places[near[0]] = corners[near[1]]
    ring = shapely.Polygon(places).simplify(FLATTENING / 10).exterior
    return Ring(Point(float(x), float(y)) for x, y in shapely.get_coordinates(ring)[:-1])


def lies_over(place: Point, outline: Ring) -> bool:
    """True when a place is inside an outline or on its edge."""
    import shapely

    return bool(polygon(outline).covers(shapely.Point(place)))


def first_wall(start: Point, heading: Point, outline: Ring) -> Point | None:
    """Where a straight line from `start` along the unit vector `heading` first meets an outline, or None."""
    import shapely

    reach = 2000.0
    line = shapely.LineString([start, (start.x + reach * heading.x, start.y + reach * heading.y)])
    met = line.intersection(polygon(outline).exterior)
    if met.is_empty:
        return None
    places = shapely.get_coordinates(met)
    x, y = min(places.tolist(), key=lambda p: (p[0] - start.x) ** 2 + (p[1] - start.y) ** 2)
    return Point(x, y)
