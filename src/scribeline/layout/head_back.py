"""The head's back: how the neck's own section goes over into the flat back of the head behind the nut.

In the neck's own frame (`carve`), the head at negative x, depth down from the fingerboard's glue line. With d the neck's section
carried on past the nut, its volute in it, and p the flat back of a head that leans back by A from a face f under the glue line,

    depth(x, y) = (1 − s) d(x, y) + s p(x),   p(x) = f − x tan A + thickness / cos A

s is 0 at the nut and 1 where the back is flat, and between them t² (3 − 2 t) of the way t, which leaves neither end a corner.
Beside the neck's width the depth is that of its edge. The wood is what lies between that and the head's face, within the head's
outline, whose sides are square to the face; under the nut it stands up to the nut's seat. Plane geometry.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import cos, tan

import numpy as np
from numpy.typing import ArrayLike

from scribeline.job import Document
from scribeline.layout.carve import Carve, carve_of
from scribeline.layout.frets import Floats
from scribeline.layout.head import curve_length, step_of
from scribeline.layout.instrument import Layout
from scribeline.layout.nut import nut_made
from scribeline.layout.points import Point, Ring


@dataclass(frozen=True, slots=True)
class HeadBack:
    """The head's back as it goes over from the neck's (see the module), mm; asked at x from 0 to less.

    Attributes:
        carve: the neck's.
        angle: how far the head leans back, rad.
        face: the head's face at the nut under the glue line; below 0 where it stands over it.
        thickness: of the head, square to its face.
        flat_at: where its back begins to be flat; below 0.
    """

    carve: Carve
    angle: float
    face: float
    thickness: float
    flat_at: float

    def front(self, along: ArrayLike) -> Floats:
        """The head's face under the glue line, mm, same shape."""
        return np.asarray(self.face - np.asarray(along, dtype=np.float64) * tan(self.angle))

    def flat(self, along: ArrayLike) -> Floats:
        """Its flat back under the glue line, mm, same shape."""
        return self.front(along) + self.thickness / cos(self.angle)

    def share(self, along: ArrayLike) -> Floats:
        """Share of the way to the flat back, same shape: the s of the module's formula."""
        t = np.clip(np.asarray(along, dtype=np.float64) / self.flat_at, 0.0, 1.0)
        return np.asarray(t * t * (3 - 2 * t))

    def half(self, along: ArrayLike) -> Floats:
        """Half the width of the neck's section carried on, mm, same shape."""
        return self.carve.half(np.maximum(np.asarray(along, dtype=np.float64), self.flat_at))

    def depth(self, along: ArrayLike, across: ArrayLike) -> Floats:
        """Depth of the back under the glue line, mm, the two broadcast."""
        s, x = self.share(along), np.maximum(np.asarray(along, dtype=np.float64), self.flat_at)
        return np.asarray((1 - s) * self.carve.depth(x, across) + s * self.flat(along))

    def edge(self, along: ArrayLike) -> Floats:
        """The same beside the neck's width, mm, same shape."""
        return self.depth(along, self.half(along))

    def middle(self, along: ArrayLike) -> Floats:
        """The same over the middle, mm, same shape."""
        return self.depth(along, 0.0)

    def joints(self, low: float, high: float) -> tuple[float, ...]:
        """Places from one to another between which the back is smooth, these two among them, mm."""
        volute = self.carve.volute
        ends = () if volute is None else (*volute.ends, volute.at)
        inner = (each for each in (*ends, self.flat_at) if max(low, self.flat_at) <= each < high)
        return tuple(sorted({low, high, *inner}))

    def is_curved(self, low: float, high: float) -> bool:
        """Whether the back curves along itself between two neighbouring joints."""
        return (low + high) / 2 > self.flat_at

    def places(self, low: float, high: float, steps: int) -> tuple[float, ...]:
        """Places along it that tell it by straight lines, as `Carve.places`, mm."""
        found = [low]
        for a, b in pairwise(self.joints(low, high)):
            found += np.linspace(a, b, (steps if self.is_curved(a, b) else 1) + 1)[1:].tolist()
        return tuple(found)


def head_back(document: Document, layout: Layout) -> HeadBack | None:
    """The back of the job's head; None where it states none, or the neck is not carved here."""
    head, carve = document.head, carve_of(document, layout)
    if head is None or layout.head is None or carve is None:
        return None
    return HeadBack(
        carve,
        head.angle,
        step_of(document, head) - carve.board_thickness,
        head.thickness,
        -curve_length(head) * cos(head.angle),
    )


@dataclass(frozen=True, slots=True)
class Seat:
    """Wood behind the nut's line that stands over the head's face.

    Attributes:
        outline: seen from the front, in the neck's frame.
        under: its top under the glue line, mm; below 0 where it stands over it.
    """

    outline: Ring
    under: float


def nut_seats(document: Document, layout: Layout) -> tuple[Seat, ...]:
    """What the nut stands on behind its front, and what of the fingerboard lies behind the nut's line; none of a bought nut."""
    nut = nut_made(document, layout)
    if nut is None:
        return ()
    middle = (Point(0.0, nut.front[0].y), Point(0.0, nut.front[1].y))
    found = (
        _seat((*nut.front, *reversed(nut.behind)), nut.seat - document.neck.board_thickness.mm),
        _seat((*middle, *reversed(nut.front)), 0.0),
    )
    return tuple(seat for seat in found if seat is not None)


def _seat(corners: Sequence[Point], under: float) -> Seat | None:
    """A seat's part behind the nut's end of the shaft; None where it has none."""
    import shapely

    left, low, _, high = shapely.LineString(corners).bounds
    behind = shapely.make_valid(shapely.Polygon(corners)).intersection(
        shapely.box(left - 1.0, low, 0.0, high)
    )
    parts = [
        each for each in shapely.get_parts(behind) if each.geom_type == "Polygon" and each.area > _NOTHING
    ]
    if not parts:
        return None
    ring = shapely.orient_polygons(max(parts, key=lambda each: float(each.area))).exterior.coords[:-1]
    return Seat(Ring(Point(float(x), float(y)) for x, y in ring), under)


_NOTHING = 1e-6
"""An area less than this is none, mm²."""
