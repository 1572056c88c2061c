"""Turned pieces against the walls of prisms: which walls may be nearest, and how far off they are.

A prism need not be convex, islands and all: each of its walls is a flat convex piece of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from scribeline.solid import convex
from scribeline.solid.shapes import Discs, Prism

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Walls:
    """Distances of turned pieces from walls: infinite beyond what was asked for."""

    mm: Floats
    a: Floats
    b: Floats


def to_walls(pieces: Discs, sides: Sides, prisms: Ints, near: float) -> Walls:
    """The distance of each piece from the walls of its prism, wherever the piece is.

    Args:
        pieces: turned pieces.
        sides: of all prisms, as far as they count.
        prisms: the number of the prism to measure each piece against.
        near: walls further than this need not be looked at, mm.
    """
    walls = facing(pieces, sides, prisms, near)
    found = convex.nearest(
        pieces.hull[walls.row], walls.hulls, walls.row, beyond=near, start=(walls.on_a, walls.on_b)
    )
    return least_walls(found, walls.row, len(prisms))


def least_walls(found: convex.Nearest, row: Ints, count: int) -> Walls:
    """The nearest wall of each piece, from the distances of all of them."""
    mm, a, b = np.full(count, np.inf), np.zeros((count, 3)), np.zeros((count, 3))
    order = np.lexsort((found.lower, row))
    leading = order[np.unique(row[order], return_index=True)[1]]
    mm[row[leading]] = np.where(found.upper[leading] < convex.TOUCHING, 0.0, found.lower[leading])
    a[row[leading]], b[row[leading]] = found.a[leading], found.b[leading]
    return Walls(mm, a, b)


class Sides:
    """The sides of the plans of some prisms, one after the other, each with its prism's heights."""

    def __init__(self, prisms: Sequence[Prism], keep: NDArray[np.bool_] | None = None) -> None:
        import shapely

        rings, of = shapely.get_rings(np.array([p.plan for p in prisms], dtype=object), return_index=True)
        places, ring = shapely.get_coordinates(rings, return_index=True)
        same = ring[:-1] == ring[1:]
        start, end = places[:-1][same], places[1:][same]
        owner = np.asarray(of, dtype=np.intp)[ring[:-1][same]]
        if keep is not None:
            start, end, owner = start[keep], end[keep], owner[keep]
        self.start, self.end = start, end
        self.low, self.high = (np.array([getattr(p, name) for p in prisms]) for name in ("low", "high"))
        self.pieces_of = pieces_of(owner, len(prisms))

    def of(self, prisms: Ints) -> tuple[Ints, Ints]:
        """All sides of the prisms of these numbers: the row of each, and the number of the side."""
        row, number = counted(self.pieces_of[prisms, 1])
        return row, self.pieces_of[prisms, 0][row] + number


class Facing(NamedTuple):
    """Walls worth a search: the row of each, its corners, and where to begin on the axis and on the wall."""

    row: Ints
    hulls: Floats
    on_a: Floats
    on_b: Floats


def facing(pieces: Discs, sides: Sides, prisms: Ints, near: float) -> Facing:
    """The walls that may hold the point nearest each piece: none further off than some place on an axis is from one.

    Args:
        pieces: turned pieces.
        sides: of all prisms.
        prisms: the number of the prism to measure each piece against.
        near: walls further than this need not be looked at, mm.
    """
    row, side = sides.of(prisms)
    start, end = sides.start[side], sides.end[side]
    low, high = sides.low[prisms][row], sides.high[prisms][row]
    hull, centres = pieces.hull, pieces.centres
    axis_start, axis_run = centres[:, 0], centres[:, 2] - centres[:, 0]
    off = hull[:, :, 0, :2] - centres[:, :, :2]
    width = np.hypot(off[..., 0], off[..., 1]) + _half_width(hull)
    apart, share, along = _between(centres[row, 0, :2], centres[row, 2, :2], start, end)
    on_a = axis_start[row] + share[:, np.newaxis] * axis_run[row]
    height = np.clip(on_a[:, 2], low, high)
    at_most = np.hypot(apart, on_a[:, 2] - height)
    best = np.full(len(hull), np.inf)
    np.minimum.at(best, row, at_most)
    crossing = _cross(centres[row, 0, :2], centres[row, 2, :2], start, end)
    at_least = np.where(crossing, 0.0, np.maximum(0.0, apart - width.max(axis=1)[row]))
    keep = at_least <= np.minimum(best[row] + 1e-9, near)
    on_b = np.column_stack([start + along[:, np.newaxis] * (end - start), height])[keep]
    row, start, end, low, high = row[keep], start[keep], end[keep], low[keep], high[keep]
    flat = np.zeros((len(row), 4, 3, 3))
    for corner, (xy, z) in enumerate(((start, low), (end, low), (start, high), (end, high))):
        flat[:, corner, 0, :2], flat[:, corner, 0, 2] = xy, z
    return Facing(row, flat, on_a[keep], on_b)


def _half_width(hull: Floats) -> Floats:
    """How far each disc reaches from its centre in the plan: half the long axis of the ellipse it shows there."""
    u, v = hull[:, :, 1, :2], hull[:, :, 2, :2]
    both = (u**2).sum(axis=2) + (v**2).sum(axis=2)
    turned = u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0]
    return np.asarray(np.sqrt((both + np.sqrt(np.maximum(both**2 - 4 * turned**2, 0.0))) / 2))


def _between(a: Floats, b: Floats, c: Floats, d: Floats) -> tuple[Floats, Floats, Floats]:
    """Distance in the plan from stretch ab to stretch cd as if they did not cross, and where along each."""
    none, whole = np.zeros(len(a)), np.ones(len(a))
    found = []
    for end, share in ((a, none), (b, whole)):
        gap, at = _to_stretch(end, c, d)
        found.append((gap, share, at))
    for end, share in ((c, none), (d, whole)):
        gap, at = _to_stretch(end, a, b)
        found.append((gap, at, share))
    gaps, on_ab, on_cd = (np.stack(part) for part in zip(*found, strict=True))
    best = np.argmin(gaps, axis=0)
    rows = np.arange(len(a))
    return gaps[best, rows], on_ab[best, rows], on_cd[best, rows]


def _to_stretch(p: Floats, a: Floats, b: Floats) -> tuple[Floats, Floats]:
    run, to = (b - a).T, (p - a).T
    length = run[0] ** 2 + run[1] ** 2
    share = np.clip((run[0] * to[0] + run[1] * to[1]) / np.where(length > 0, length, 1.0), 0.0, 1.0)
    return np.hypot(*(to - share * run)), share


def _cross(a: Floats, b: Floats, c: Floats, d: Floats) -> NDArray[np.bool_]:
    def side(p: Floats, q: Floats, r: Floats) -> Floats:
        return np.asarray(
            (q[:, 0] - p[:, 0]) * (r[:, 1] - p[:, 1]) - (q[:, 1] - p[:, 1]) * (r[:, 0] - p[:, 0])
        )

    return np.asarray(
        (side(a, b, c) * side(a, b, d) <= 0) & (side(c, d, a) * side(c, d, b) <= 0), dtype=np.bool_
    )


def counted(counts: Ints) -> tuple[Ints, Ints]:
    """For 2, 0, 3: the rows 0, 0, 2, 2, 2, and the numbers in each, 0, 1, 0, 1, 2."""
    row = np.repeat(np.arange(len(counts)), counts)
    return row, np.arange(len(row)) - np.repeat(np.cumsum(counts) - counts, counts)


def pieces_of(owner: Ints, count: int) -> Ints:
    """The first piece of each solid and how many it has, (count, 2), where they stand in order of their solids."""
    many = np.bincount(owner, minlength=count)
    return np.column_stack([np.cumsum(many) - many, many])
