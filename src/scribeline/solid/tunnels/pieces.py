"""What a tunnel must keep clear of, as flat and round convex pieces in arrays."""

from __future__ import annotations

from copy import copy
from dataclasses import replace
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING

import numpy as np

from scribeline.solid.shapes import discs
from scribeline.solid.tunnels.problem import XY, Facet, Hollow, Problem

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.intp]


class Pieces:
    """Walls, floors and bores, each the convex hull of four ellipses (points where they have no half-axes).

    Attributes:
        hulls: (m, 4, 3, 3), mm.
        low: lowest corner of the box round each, (m, 3).
        high: highest corner.
        edge: whether it is a side of the body's outline, (m,).
    """

    def __init__(self, problem: Problem) -> None:
        turned = discs(problem.turned).hull
        rows = [np.concatenate([turned, turned[:, :1]], axis=1)]
        for hollow in problem.hollows:
            rows += [_walls(hollow), _flat(hollow, problem.thickness)]
        many = [len(turned), *(len(a) + len(b) for a, b in zip(rows[1::2], rows[2::2], strict=True))]
        facets = _facets(problem.facets)
        outline = _walls(Hollow((problem.outline,), -problem.thickness, 0.0))
        self.hulls: Floats = np.concatenate([*rows, facets, outline])
        reach = np.sqrt((self.hulls[:, :, 1:] ** 2).sum(axis=2))
        self.low: Floats = (self.hulls[:, :, 0] - reach).min(axis=1)
        self.high: Floats = (self.hulls[:, :, 0] + reach).max(axis=1)
        names = problem.names or ("a cut",) * (len(turned) + len(problem.hollows))
        self.names = [
            *names[: len(turned)],
            *np.repeat(np.array(names[len(turned) :], dtype=object), many[1:]),
        ]
        self.names += [name for name, _ in problem.facets]
        self.names += ["edge"] * len(outline)
        self._problem = problem
        self._box: tuple[Floats, Floats] | None = None
        self.edge = np.arange(len(self.hulls)) >= len(self.hulls) - len(outline)

    @cached_property
    def rough(self) -> Rough:
        """The same for quick measures."""
        every = Rough(self._problem)
        return every if self._box is None else every.within(*self._box)

    def within(self, low: Floats, high: Floats) -> Pieces:
        """Those that reach into a box, (3,) and (3,), mm."""
        near = (self.low <= high).all(axis=1) & (self.high >= low).all(axis=1)
        some = copy(self)
        some.hulls, some.edge = self.hulls[near], self.edge[near]
        some.low, some.high = self.low[near], self.high[near]
        some.names = [self.names[i] for i in np.flatnonzero(near).tolist()]
        some._box = low, high
        return some


def _facets(facets: tuple[Facet, ...]) -> Floats:
    found = np.zeros((len(facets), 4, 3, 3))
    if facets:
        found[:, :3, 0] = [corners for _, corners in facets]
        found[:, 3, 0] = found[:, 2, 0]
    return found


# From one edit to the next most pockets stay as they are; what is made of one is never written to.


@lru_cache(maxsize=256)
def _walls(hollow: Hollow) -> Floats:
    parts = []
    for ring in hollow.rings:
        a = np.array(ring)
        b = np.roll(a, -1, axis=0)
        flat = np.zeros((len(a), 4, 3, 3))
        for corner, (xy, z) in enumerate(
            ((a, hollow.low), (b, hollow.low), (a, hollow.high), (b, hollow.high))
        ):
            flat[:, corner, 0, :2], flat[:, corner, 0, 2] = xy, z
        parts.append(flat)
    return np.concatenate(parts)


@lru_cache(maxsize=256)
def _flat(hollow: Hollow, thickness: float) -> Floats:
    """The floor of a pocket in triangles, whichever of its two heights lies inside the body."""
    import shapely

    plan = shapely.Polygon(np.array(hollow.rings[0]), [np.array(ring) for ring in hollow.rings[1:]])
    parts = shapely.get_parts(shapely.constrained_delaunay_triangles(plan))
    corners = shapely.get_coordinates(parts).reshape(-1, 4, 2)
    levels = [z for z in (hollow.low, hollow.high) if -thickness + 1e-9 < z < -1e-9]
    flat = np.zeros((len(corners) * len(levels), 4, 3, 3))
    for number, z in enumerate(levels):
        rows = slice(number * len(corners), (number + 1) * len(corners))
        flat[rows, :, 0, :2], flat[rows, :, 0, 2] = corners, z
    return flat


TOGETHER = 500
"""How many places are held against all walls at once."""

COARSE = 0.05
"""How far chords may lie off a curve while a way is looked for, mm; what is found is measured on all of them."""


def coarse(problem: Problem) -> Problem:
    """The same problem with curves in longer chords."""
    hollows = tuple(
        Hollow(tuple(map(_fewer, hollow.rings)), hollow.low, hollow.high) for hollow in problem.hollows
    )
    # A tunnel from the edge knows the sides that it goes in by from those of the whole outline.
    outline = problem.outline if problem.start == "edge" else _fewer(problem.outline)
    return replace(problem, hollows=hollows, outline=outline)


@lru_cache(maxsize=256)
def _fewer(ring: tuple[XY, ...]) -> tuple[XY, ...]:
    import shapely

    if len(ring) <= 8:
        return ring
    return tuple(map(tuple, shapely.Polygon(ring).simplify(COARSE).exterior.coords[:-1]))


class Rough:
    """The same pieces, drawn more coarsely, for measures that are quick and only near enough."""

    def __init__(self, problem: Problem) -> None:
        solids = [*problem.hollows, Hollow((problem.outline,), -problem.thickness, 0.0)]
        sides = [_sides(hollow, 0.4 if hollow in problem.hollows else 1.5) for hollow in solids]
        none = [np.zeros((0, 2))]
        self.a, self.b = (np.concatenate([*none, *(side[k] for side in sides)]) for k in range(2))
        many = [len(side[0]) for side in sides]
        self.low = np.repeat([hollow.low for hollow in solids], many)
        self.high = np.repeat([hollow.high for hollow in solids], many)
        self.outer = np.arange(len(self.a)) >= sum(many[:-1])
        round_ = discs(problem.turned)
        self.xy = round_.hull[:, :, 0, :2].mean(axis=1)
        up = round_.upright
        ends = round_.hull[:, :, 0, 2]
        self.post_low, self.post_high = ends.min(axis=1), ends.max(axis=1)
        self.post_r = round_.radii.max(axis=1)
        # A slanting bore is taken as a row of balls.
        self.posts_upright = up
        share = np.linspace(0.0, 1.0, 6)
        run = round_.centres[~up, 2] - round_.centres[~up, 0]
        self.balls = (
            round_.centres[~up, 0][:, np.newaxis] + share[:, np.newaxis] * run[:, np.newaxis]
        ).reshape(-1, 3)
        self.ball_r = np.repeat(round_.radii[~up].max(axis=1), 6)

    def within(self, low: Floats, high: Floats) -> Rough:
        """The same with no sides but those that reach into a box."""
        near = ((np.minimum(self.a, self.b) <= high[:2]) & (np.maximum(self.a, self.b) >= low[:2])).all(
            axis=1
        )
        some = copy(self)
        for name in ("a", "b", "low", "high", "outer"):
            setattr(some, name, getattr(self, name)[near])
        return some

    def walls(self, x: Floats, y: Floats, z: Floats, own: Floats | None = None) -> Floats:
        """Distance of each place from the nearest wall, (n,).

        Args:
            x: of the places, (n, 1), mm.
            y: of the same.
            z: of the same.
            own: their distance from the side of the outline that is not to count, (n, 1), mm: what is no nearer than
                that, all but a fifth, may be that side.
        """
        run = self.b - self.a
        length = np.maximum(np.sqrt((run**2).sum(axis=1)), 1e-6)
        way = run / length[:, np.newaxis]
        left = np.column_stack([-way[:, 1], way[:, 0]])
        turn = np.concatenate([way, left])
        back = (turn * np.concatenate([self.a, self.a])).sum(axis=1)
        # Near enough in single precision; a few hundred places at a time stay near the processor.
        length, low, high, turn, back = (
            part.astype(np.float32) for part in (length, self.low, self.high, turn, back)
        )
        found = np.empty(len(x), dtype=np.float32)
        for first in range(0, len(x), TOGETHER):
            rows = slice(first, first + TOGETHER)
            at = x[rows].astype(np.float32) * turn[:, 0] + y[rows].astype(np.float32) * turn[:, 1] - back
            along, aside = at[:, : len(run)], at[:, len(run) :]
            height = z[rows].astype(np.float32)
            past = np.maximum(np.maximum(-along, along - length), 0.0)
            up = np.maximum(np.maximum(low - height, height - high), 0.0)
            off = past * past + aside * aside + up * up
            if own is not None:
                off = np.where(self.outer & (off >= (0.8 * own[rows]) ** 2), 1e8, off)
            found[rows] = off.min(axis=1, initial=1e8)
        return np.asarray(np.sqrt(found.astype(float)))

    def crossed(self, start: Floats, end: Floats, r: Floats, mouth: float) -> Floats:
        """How far over or under the walls that it crosses in the plan each axis passes, the bit's radius taken off, (n,).

        Args:
            start: of the axes, (n, 3), mm.
            end: of the same.
            r: of the bits, (n,), mm.
            mouth: how far from its start a way may cross the outline, mm.
        """
        run, along = end - start, self.b - self.a
        dx, dy = self.a[:, 0] - start[:, :1], self.a[:, 1] - start[:, 1:2]
        det = run[:, :1] * along[:, 1] - run[:, 1:2] * along[:, 0]
        det = np.where(np.abs(det) > 1e-9, det, 1e-9)
        share = (dx * along[:, 1] - dy * along[:, 0]) / det
        on_wall = (dx * run[:, 1:2] - dy * run[:, :1]) / det
        met = (share > 0) & (share < 1) & (on_wall >= 0) & (on_wall <= 1)
        if mouth:
            met &= ~(self.outer & (share * np.sqrt(run[:, :1] ** 2 + run[:, 1:2] ** 2) < mouth))
        z = start[:, 2:] + share * run[:, 2:]
        over = np.maximum(self.low - z, z - self.high)
        return np.asarray(np.where(met, over, 1e4).min(axis=1, initial=1e4) - r)

    def posts(self, x: Floats, y: Floats, z: Floats) -> Floats:
        """Distance of each place from the nearest slanting bore, (n,)."""
        if len(self.balls) == 0:
            return np.full(len(x), np.inf)
        off = (x - self.balls[:, 0]) ** 2 + (y - self.balls[:, 1]) ** 2 + (z - self.balls[:, 2]) ** 2
        return np.asarray((np.sqrt(off) - self.ball_r).min(axis=1))

    def passed(self, start: Floats, end: Floats) -> Floats:
        """Distance of each axis from the nearest upright bore, (n,)."""
        up = self.posts_upright
        if not up.any():
            return np.full(len(start), np.inf)
        run = end - start
        dx, dy = self.xy[up, 0] - start[:, :1], self.xy[up, 1] - start[:, 1:2]
        length = np.maximum(run[:, :1] ** 2 + run[:, 1:2] ** 2, 1e-12)
        share = np.clip((dx * run[:, :1] + dy * run[:, 1:2]) / length, 0.0, 1.0)
        z = start[:, 2:3] + share * run[:, 2:3]
        aside = np.sqrt((dx - share * run[:, :1]) ** 2 + (dy - share * run[:, 1:2]) ** 2) - self.post_r[up]
        over = np.maximum(self.post_low[up] - z, z - self.post_high[up])
        return np.asarray(np.maximum(aside, over).min(axis=1))


@lru_cache(maxsize=256)
def _sides(hollow: Hollow, within: float) -> tuple[Floats, Floats]:
    import shapely

    starts, ends = [], []
    for ring in hollow.rings:
        points = shapely.get_coordinates(shapely.Polygon(ring).simplify(within).exterior)
        starts.append(points[:-1])
        ends.append(points[1:])
    return np.concatenate(starts), np.concatenate(ends)
