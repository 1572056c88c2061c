"""Cuts that take nothing away, because all of them lies in the room of another cut."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from scribeline.features import Feature
from scribeline.solid.shapes import Prism, Shape, Turned, discs, hulls_of, shape_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_AS_GOOD_AS_IN = 1e-6
"""What sticks out by less than this is in, mm."""

_AROUND = 64


def swallowed(
    features: Iterable[Feature], pairs: Iterable[tuple[str, str]], thickness: float
) -> tuple[tuple[str, str], ...]:
    """Pairs of ids (inner, outer) in which all of the inner cut lies inside the outer one.

    Args:
        features: all cuts.
        pairs: ids of those that run into each other.
        thickness: of the body, mm.
    """
    both_ways = [way for a, b in pairs for way in ((a, b), (b, a))]
    met = {name for way in both_ways for name in way}
    shapes = {feature.id: shape_of(feature, thickness) for feature in features if feature.id in met}
    boxes = dict(zip(shapes, _boxes(tuple(shapes.values())), strict=True))
    fits = [(a, b) for a, b in both_ways if _holds(boxes[b], boxes[a])]
    return tuple((a, b) for a, b in fits if _inside(shapes[a], shapes[b]))


def _boxes(shapes: Sequence[Shape]) -> Floats:
    """The lowest and the highest of the coordinates of each, (n, 2, 3), exact."""
    low, high = np.full((len(shapes), 3), np.inf), np.full((len(shapes), 3), -np.inf)
    owner = np.repeat(np.arange(len(shapes)), [len(shape.turned) for shape in shapes])
    hulls = discs([piece for shape in shapes for piece in shape.turned]).hull
    reach = np.hypot(hulls[:, :, 1], hulls[:, :, 2])
    np.minimum.at(low, owner, (hulls[:, :, 0] - reach).min(axis=1))
    np.maximum.at(high, owner, (hulls[:, :, 0] + reach).max(axis=1))
    for number, shape in enumerate(shapes):
        for prism in shape.prisms:
            left, front, right, back = prism.plan.bounds
            low[number] = np.minimum(low[number], (left, front, prism.low))
            high[number] = np.maximum(high[number], (right, back, prism.high))
    return np.stack([low, high], axis=1)


def _holds(room: Floats, inner: Floats) -> bool:
    return bool((inner[0] >= room[0] - _AS_GOOD_AS_IN).all() and (inner[1] <= room[1] + _AS_GOOD_AS_IN).all())


def _inside(inner: Shape, outer: Shape) -> bool:
    pieces, rooms = _pieces(inner), _pieces(outer)
    return bool(pieces) and all(any(_piece_in(piece, room) for room in rooms) for piece in pieces)


def _pieces(shape: Shape) -> list[Turned | Prism]:
    return [*shape.turned, *shape.prisms]


def _piece_in(piece: Turned | Prism, room: Turned | Prism) -> bool:
    if isinstance(room, Prism):
        return _in_prism(piece, room)
    return isinstance(piece, Turned) and _in_turned(_rims(piece), room)


def _in_prism(piece: Turned | Prism, room: Prism) -> bool:
    import shapely

    if isinstance(piece, Prism):
        shadow, low, high = piece.plan, piece.low, piece.high
    else:
        rims = _rims(piece)
        shadow, low, high = shapely.MultiPoint(rims[:, :2]).convex_hull, rims[:, 2].min(), rims[:, 2].max()
    if room.rise:
        places = _corners(piece) if isinstance(piece, Prism) else _rims(piece)
        low = room.low + (places[:, 2] - room.floor(places[:, 0])).min()
    within = room.low - _AS_GOOD_AS_IN <= low and high <= room.high + _AS_GOOD_AS_IN
    return bool(within and room.plan.buffer(_AS_GOOD_AS_IN).covers(shadow))


def _corners(piece: Prism) -> Floats:
    """The corners of a prism, above and below."""
    return hulls_of(Shape(prisms=(piece,)))[:, :, 0].reshape(-1, 3)


def _in_turned(places: Floats, room: Turned) -> bool:
    """Whether places lie in a solid of revolution; of a convex piece its rims tell for the whole."""
    off = places - np.array(room.at)
    along = off @ np.array(room.axis)
    away = np.linalg.norm(off - along[:, np.newaxis] * np.array(room.axis), axis=1)
    allowed = np.interp(along, room.depths, room.radii)
    ends = (along >= room.depths[0] - _AS_GOOD_AS_IN) & (along <= room.depths[2] + _AS_GOOD_AS_IN)
    return bool((ends & (away <= allowed + _AS_GOOD_AS_IN)).all())


def _rims(piece: Turned) -> Floats:
    """Places round the three discs."""
    turn = np.linspace(0.0, 2 * np.pi, _AROUND, endpoint=False)
    circle = np.column_stack([np.ones_like(turn), np.cos(turn), np.sin(turn)])
    rims: Floats = (circle @ discs([piece]).hull[0]).reshape(-1, 3)
    return rims
