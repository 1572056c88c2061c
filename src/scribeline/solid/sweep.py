"""A convex part that moves inside the body: how near it comes to the wood, at each of its places.

The wood is taken in layers, each a region of the plan between two heights at which some cavity begins or ends: walls
that several cavities leave between them are then what really stands. Bores count as wood, and the top as flat.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from scribeline.features import Pocket, polygon
from scribeline.layout import Point3, Ring
from scribeline.solid import convex
from scribeline.solid.shapes import Prism, shape_of
from scribeline.solid.walls import Sides

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely import Polygon

    Floats = NDArray[np.float64]

NEAR = 10.0
"""Wood further off is not looked at, mm."""

_NOTHING = 1e-6
"""A layer thinner than this is none, mm."""


@dataclass(frozen=True, slots=True)
class Nearby:
    """The wood nearest a moving part at one of its places.

    Attributes:
        mm: how far off it is; 0 where they touch or run into each other, infinite where none is near.
        at: the place on the part.
        wall: the place on the wood.
    """

    mm: float
    at: Point3
    wall: Point3


def sweep(corners: Floats, pockets: Sequence[Pocket], outline: Ring, thickness: float) -> tuple[Nearby, ...]:
    """How near a convex part comes to the wood at each of its places.

    Args:
        corners: of the part at each place, (n, k, 3), mm.
        pockets: every cavity of the body.
        outline: of the body.
        thickness: of the body, mm.

    Returns:
        One a place. Distances are proven lower bounds, within `convex.TOLERANCE` of the truth.
    """
    flat = corners[..., :2].reshape(-1, 2)
    window = (*(flat.min(axis=0) - 2 * NEAR), *(flat.max(axis=0) + 2 * NEAR))
    wood = list(_layers(pockets, outline, thickness, window))
    mm, at, wall = np.full(len(corners), np.inf), *np.zeros((2, len(corners), 3))
    for found in (*_to_walls(corners, wood), *(_to_flats(corners, prism) for prism in wood)):
        rows, gaps, on_part, on_wood = found
        order = np.lexsort((gaps, rows))
        first = order[np.unique(rows[order], return_index=True)[1]]
        better = first[gaps[first] < mm[rows[first]]]
        mm[rows[better]], at[rows[better]], wall[rows[better]] = (
            gaps[better],
            on_part[better],
            on_wood[better],
        )
    return tuple(
        Nearby(gap, Point3(*a), Point3(*b))
        for gap, a, b in zip(mm.tolist(), at.tolist(), wall.tolist(), strict=True)
    )


def _layers(
    pockets: Sequence[Pocket], outline: Ring, thickness: float, window: tuple[float, ...]
) -> Iterator[Prism]:
    """The wood inside a window of the plan, layer by layer."""
    import shapely

    cuts = [prism for pocket in pockets for prism in shape_of(pocket, thickness).prisms]
    body = polygon(outline).intersection(shapely.box(*window))
    cuts = [cut for cut in cuts if cut.plan.intersects(body)]
    levels = sorted(
        {-thickness, 0.0, *(z for cut in cuts for z in (cut.low, cut.high) if -thickness < z < 0)}
    )
    for low, high in pairwise(levels):
        if high - low < _NOTHING:  # two cavities that meet, but for the last digits of their depths
            continue
        open_here = [cut.plan for cut in cuts if cut.low < high - 1e-9 and cut.high > low + 1e-9]
        left = body.difference(shapely.union_all(open_here))
        yield from (Prism(piece, low, high) for piece in _polygons(left))


def _polygons(region: object) -> Iterator[Polygon]:
    import shapely

    for piece in shapely.get_parts(region):
        if piece.geom_type == "Polygon" and piece.area > 0:
            yield piece


_Found = tuple["NDArray[np.intp]", "Floats", "Floats", "Floats"]


def _to_walls(corners: Floats, wood: Sequence[Prism]) -> Iterator[_Found]:
    """Each place of the part against every wall near it."""
    if not wood:
        return
    sides = Sides(wood)
    prism, side = sides.of(np.arange(len(wood)))
    start, end = sides.start[side], sides.end[side]
    walls = np.zeros((len(side), 4, 3))
    walls[:, :2, :2], walls[:, 2:, :2] = start[:, np.newaxis], end[:, np.newaxis]
    walls[:, ::2, 2], walls[:, 1::2, 2] = sides.low[prism, np.newaxis], sides.high[prism, np.newaxis]
    apart = np.maximum(
        walls.min(axis=1)[np.newaxis] - corners.max(axis=1)[:, np.newaxis],
        corners.min(axis=1)[:, np.newaxis] - walls.max(axis=1)[np.newaxis],
    )
    row, of = np.nonzero((np.maximum(apart, 0.0) ** 2).sum(axis=2) <= NEAR**2)
    if len(row) == 0:
        return
    found = convex.nearest(_points(corners[row]), _points(walls[of]), row, beyond=NEAR)
    gaps = np.where(found.upper < convex.TOUCHING, 0.0, found.lower)
    near = gaps <= NEAR
    yield row[near], gaps[near], found.a[near], found.b[near]


def _points(corners: Floats) -> Floats:
    """Corners as `convex` takes them: ellipses of no size."""
    hulls = np.zeros((*corners.shape[:2], 3, 3))
    hulls[:, :, 0] = corners
    return hulls


def _to_flats(corners: Floats, prism: Prism) -> _Found:
    """Straight up or down to a layer's flat side; 0 where the part stands in the layer, its walls not looked at."""
    import shapely

    rows = np.arange(len(corners))
    z = corners[..., 2]
    low, high = corners[rows, z.argmin(axis=1)], corners[rows, z.argmax(axis=1)]
    over, under = low[:, 2] >= prism.high, high[:, 2] <= prism.low
    level = (np.maximum(low[:, 2], prism.low) + np.minimum(high[:, 2], prism.high)) / 2
    share = (level - low[:, 2]) / np.maximum(high[:, 2] - low[:, 2], 1e-12)
    within = low + share[:, np.newaxis] * (high - low)
    place = np.where(over[:, np.newaxis], low, np.where(under[:, np.newaxis], high, within))
    gaps = np.where(over, low[:, 2] - prism.high, np.where(under, prism.low - high[:, 2], 0.0))
    meets = shapely.intersects_xy(prism.plan, place[:, 0], place[:, 1]) & (gaps <= NEAR)
    wall = np.column_stack([place[:, :2], np.clip(place[:, 2], prism.low, prism.high)])
    return rows[meets], gaps[meets], place[meets], wall[meets]
