"""The head as a solid: its face, its sides square to that, the neck's section going over into its flat back, its holes.

The head is an outline carried down from its face, which leans with it, as far as its back lies (`layout.head_back`), and cut off
where the shaft begins; a nut that is made here stands on its seat. Its volume is added up along rays square to the face, each as
long as it is between face and back; the mesh and the STEP file are cut by solids.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import cos, degrees, pi, sin, tan
from typing import TYPE_CHECKING

import numpy as np

from scribeline.features import Bore, Workpiece, polygon
from scribeline.job import Document
from scribeline.layout import Channel, HeadBack, Layout, Point, Ring, Seat, channels, head_back, nut_seats
from scribeline.solid.cutters import AIR, Cutter, Prism, cutters
from scribeline.solid.primitives import solid_of
from scribeline.solid.sections import routed, through

if TYPE_CHECKING:
    from collections.abc import Iterator

    from manifold3d import Manifold
    from numpy.typing import NDArray
    from shapely import Polygon

    Floats = NDArray[np.float64]

_CURVED = 32
"""Steps of the mesh over each piece of the back that curves along it."""

_ROUND = 40
"""Points of its sections from their middle to their edge."""

_NEAR_EDGE = 2.5
"""By this power these crowd towards the edge, where a section turns up into its side."""

_BESIDE = 5.0
"""How far solids are carried on beside the head and past the nut before they are cut, mm."""

_STRIPS = 160
"""Strips in which rays under the curved back are added up."""

_RAYS = 48
"""Rays across each strip, by Gauss's rule."""

_GRID = 1e-6
"""Corners of a seat nearer than this are one, mm."""

_HALVINGS = 40
"""How often a ray's length is halved until its end is known: far below a micrometre."""


@dataclass(frozen=True)
class HeadWood:
    """The wood of a head, in the neck's own frame unless said otherwise.

    Attributes:
        piece: the head with its holes, in its own frame.
        back: its back.
        seats: what the nut stands on.
        channels: those of the neck that run on into it.
    """

    piece: Workpiece
    back: HeadBack
    seats: tuple[Seat, ...]
    channels: tuple[Channel, ...]

    @cached_property
    def shape(self) -> Polygon:
        """The outline in the head's frame."""
        return polygon(self.piece.outline)

    @cached_property
    def deepest(self) -> float:
        """The back's deepest place under the glue line as far as it curves, mm."""
        return float(self.back.middle(np.linspace(self.back.flat_at, 0.0, 4 * _CURVED)).max())

    @property
    def top(self) -> float:
        """A height over the glue line above all of it, mm."""
        return self.back.carve.board_thickness + AIR

    @property
    def far(self) -> float:
        """Beyond its tip, along the neck; below 0."""
        return float(self.shape.bounds[0]) * cos(self.back.angle) - AIR

    @property
    def beside(self) -> float:
        """Beyond its sides, from the centreline."""
        widest = max(abs(self.shape.bounds[1]), abs(self.shape.bounds[3]))
        return max(float(widest), float(self.back.carve.half(0.0))) + _BESIDE

    def plate(self) -> Prism:
        """All under its face within its outline, in the head's frame, carried on past the nut."""
        import shapely

        low, high = (end for _, end in _ends(self.shape, -1e-6))
        on = shapely.union(self.shape, shapely.box(-1e-6, low, _BESIDE, high))
        ring = Ring(Point(float(x), float(y)) for x, y in shapely.orient_polygons(on).exterior.coords[:-1])
        return Prism(ring, -self._reach, 0.0)

    @property
    def _reach(self) -> float:
        """How far under the face its back can lie, square to it, mm."""
        return max(self.back.thickness, self.deepest - self.back.face) + AIR

    def raised(self) -> tuple[Prism, ...]:
        """The nut's seats, carried down into the head's wood."""
        return tuple(Prism(ring, -self.deepest, -under) for ring, under in self._seated())

    def _seated(self) -> Iterator[tuple[Ring, float]]:
        """The seats within the head's outline."""
        import shapely

        for seat in self.seats:
            both = shapely.intersection(polygon(seat.outline), self.shape, grid_size=_GRID)
            if both.geom_type == "Polygon" and both.area > 0:
                corners = shapely.orient_polygons(both).exterior.coords[:-1]
                yield Ring(Point(float(x), float(y)) for x, y in corners), seat.under

    def holes(self) -> tuple[Cutter, ...]:
        """What its bits take out, in the head's frame: tuners' holes right through, a tree's pilot as deep as it is drilled."""
        return tuple(part for bore in self.piece.features.bores for part in cutters(bore, -self.piece.low))

    def solid(self) -> Manifold:
        """All of it as a closed mesh."""
        under = self._over_the_back()
        plate = self._leaning(solid_of(self.plate())) ^ under
        for part in self.raised():
            plate += solid_of(part) ^ under
        for channel in self.channels:
            plate -= routed(channel, self.top)
        for hole in self.holes():
            plate -= self._leaning(solid_of(hole))
        return plate

    def _leaning(self, part: Manifold) -> Manifold:
        """A solid of the head's frame in the neck's."""
        return part.rotate((0.0, -degrees(self.back.angle), 0.0)).translate((0.0, 0.0, -self.back.face))

    def _over_the_back(self) -> Manifold:
        """All over the back, from the head's tip to where the shaft begins: under the neck's width, and level beside that."""
        share = 1.0 - (1.0 - np.linspace(0.0, 1.0, _ROUND + 1)) ** _NEAR_EDGE
        share = np.concatenate([-share[:0:-1], share])
        places = self.back.places(self.far, 0.0, _CURVED)
        middle, whole = [], []
        for x in places:
            across = float(self.back.half(x)) * share
            under = np.column_stack([across, -self.back.depth(x, across)])
            middle.append(self._ring(x, under))
            edge = -float(self.back.edge(x))
            whole.append(self._ring(x, np.array([[-self.beside, edge], [self.beside, edge]])))
        return through(middle) + through(whole)

    def _ring(self, x: float, under: Floats) -> Floats:
        """A section's corners: from over its bass side under its back to over its treble side."""
        ends = under[[0, -1]].copy()
        ends[:, 1] = self.top
        flat = np.concatenate([ends[:1], under, ends[1:]])
        return np.column_stack([np.full(len(flat), x), flat])

    def volume(self) -> tuple[float, float]:
        """Its volume, mm³, and its centre along the neck, mm; below 0."""
        pieces = [self._flat(), self._curved(), *(self._seat(*seat) for seat in self._seated())]
        pieces += [self._channel(each) for each in self.channels]
        pieces += [self._hole(bore) for bore in self.piece.features.bores]
        mm3, moment = (sum(each) for each in zip(*pieces, strict=True))
        return float(mm3), float(moment / mm3)

    @property
    def _curve_begins(self) -> float:
        """Along the face, before which every ray ends on the flat back."""
        lean = self.back.angle
        return max(float(self.shape.bounds[0]), (self.back.flat_at - self._reach * sin(lean)) / cos(lean))

    def _flat(self) -> tuple[float, float]:
        """Volume and moment under the flat back."""
        import shapely

        left, low, _, high = self.shape.bounds
        part = shapely.intersection(self.shape, shapely.box(left - 1.0, low, self._curve_begins, high))
        mm3 = part.area * self.back.thickness
        lean = self.back.angle
        return mm3, mm3 * (part.centroid.x * cos(lean) + self.back.thickness / 2 * sin(lean)) if mm3 else 0.0

    def _curved(self) -> tuple[float, float]:
        """The same from where the back curves to the nut."""
        lean, reach = self.back.angle, self._reach
        x, y, weight = _net(self.shape, self._curve_begins, 0.0)
        low = np.zeros_like(x)
        # Where the shaft begins a ray of a leaning head ends before it meets the back.
        high = np.full_like(x, reach) if lean == 0 else np.minimum(reach, -x / tan(lean))
        for _ in range(_HALVINGS):
            half = (low + high) / 2
            along = x * cos(lean) + half * sin(lean)
            inside = self.back.face - x * sin(lean) + half * cos(lean) < self.back.depth(along, y)
            low, high = np.where(inside, half, low), np.where(inside, high, half)
        ray = weight * low
        return float(ray.sum()), float(ray @ (x * cos(lean) + low / 2 * sin(lean)))

    def _seat(self, outline: Ring, under: float) -> tuple[float, float]:
        """What a seat has over the head's face."""
        shape = polygon(outline)
        x, y, weight = _net(shape, shape.bounds[0], shape.bounds[2])
        tall = np.maximum(0.0, np.minimum(self.back.front(x), self.back.depth(x, y)) - under)
        return float(weight @ tall), float((weight * tall) @ x)

    def _channel(self, channel: Channel) -> tuple[float, float]:
        """What a channel takes out, below 0."""
        import shapely

        low = max(channel.ends[0], self.far)
        x = low * (1 - (np.arange(_STRIPS) + 0.5) / _STRIPS)
        top = self.back.front(x)
        for ring, under in self._seated():
            over = shapely.contains_xy(polygon(ring), x, np.full_like(x, channel.across))
            top = np.where(over, np.minimum(top, under), top)
        floor = np.minimum(channel.bottom(x), self.back.depth(x, channel.across))
        taken = -(low / _STRIPS) * -2 * channel.half * np.maximum(0.0, floor - top)
        return float(taken.sum()), float(taken @ x)

    def _hole(self, bore: Bore) -> tuple[float, float]:
        """What a hole of one diameter takes out, its bit's point with it, below 0; its back is flat, or it ends before that."""
        step, thick, lean = bore.deepest, self.back.thickness, self.back.angle
        width, base = step.diameter, step.point_width
        mm3 = pi * (width**2 * step.depth / 4 + base**2 * step.bit.point / 12)
        if bore.through:
            mm3 = pi * width**2 / 4 * thick
        return -mm3, -mm3 * (bore.at.x * cos(lean) + thick / 2 * sin(lean))


def head_wood(document: Document, layout: Layout, head: Workpiece | None) -> HeadWood | None:
    """The head as a solid; None where the job states none, or its neck is not carved here.

    Args:
        document: states it.
        layout: has where its parts lie.
        head: with its holes.
    """
    back = head_back(document, layout)
    if head is None or back is None:
        return None
    run_on = tuple(each for each in channels(document) if each.ends[0] < 0)
    return HeadWood(head, back, nut_seats(document, layout), run_on)


def _ends(shape: Polygon, x: float) -> list[tuple[float, float]]:
    """The lowest and the highest place of an outline at a place along it."""
    import shapely

    _, low, _, high = shape.bounds
    crossed = shapely.intersection(shape, shapely.LineString([(x, low - 1.0), (x, high + 1.0)]))
    _, y_low, _, y_high = crossed.bounds
    return [(x, float(y_low)), (x, float(y_high))]


def _net(shape: Polygon, low: float, high: float) -> tuple[Floats, Floats, Floats]:
    """Places over an outline between two places along it, and the area that each stands for."""
    import shapely

    nodes, weights = np.polynomial.legendre.leggauss(_RAYS)
    wide = (high - low) / _STRIPS
    x = low + wide * (np.arange(_STRIPS) + 0.5)
    _, bottom, _, top = shape.bounds
    lines = shapely.linestrings([[(at, bottom - 1.0), (at, top + 1.0)] for at in x.tolist()])
    pieces, of = shapely.get_parts(shapely.intersection(shape, lines), return_index=True)
    ends = shapely.bounds(pieces)
    lengths, middles = (ends[:, 3] - ends[:, 1]) / 2, (ends[:, 3] + ends[:, 1]) / 2
    y = middles[:, np.newaxis] + lengths[:, np.newaxis] * nodes
    area = wide * lengths[:, np.newaxis] * weights
    return np.repeat(x[of], _RAYS), y.ravel(), area.ravel()
