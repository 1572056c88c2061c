"""The section on a card for a wire tunnel: cut upright along its axis, the top above, drilled from left to right."""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING

from scribeline.drawing.cards.blocks import PITCH, lettered, lines, scale_words, two_units
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    CENTRE,
    CUT,
    HATCHING,
    LEAST_LETTERING,
    LETTERING,
    THIN,
    Hatch,
    Item,
    Line,
    Path,
    Point,
    Text,
)
from scribeline.features import polygon
from scribeline.plan import Plan
from scribeline.solid.tunnels import Course, Tunnel

if TYPE_CHECKING:
    from shapely import Polygon

_SCALES = (1.0, 0.5, 0.25, 0.1)
_BEFORE, _BEYOND = 26.0, 12.0
"""Room shown before the start and beyond the wall it comes out of, mm."""
_ABOVE = 11.0
"""Room over the top for the bit that comes in, mm on paper."""


class TunnelSection:
    """The measures of the section along one tunnel."""

    def __init__(self, plan: Plan, tunnel: Tunnel, course: Course, width: float) -> None:
        self.plan, self.tunnel, self.course, self.width = plan, tunnel, course, width
        self.level = max(hypot(course.axis[0], course.axis[1]), 1e-6)
        self.rise = course.axis[2] / self.level
        self.run = course.to_wall * self.level
        self.thickness = plan.layout.thickness
        long = _BEFORE + self.run + _BEYOND
        self.scale = next((s for s in _SCALES if s * long <= width), _SCALES[-1])
        self.words = self._words()

    @property
    def height(self) -> float:
        """What the section needs, mm on paper."""
        return _ABOVE + self.thickness * self.scale + 5.0 + len(self.words) * PITCH * ACTED_ON_LETTERING + 6.5

    def _words(self) -> tuple[str, ...]:
        along = two_units(self.course.to_wall)
        words = f"To the far wall: {along[0]}, {along[1]}"
        return lines(words, self.width, ACTED_ON_LETTERING)

    def drawn(self, corner: Point, height: float) -> tuple[Item, ...]:
        """The section with its upper left corner there."""
        left, top = corner[0], corner[1] - _ABOVE

        def at(u: float, z: float) -> Point:
            return left + (u + _BEFORE) * self.scale, top + z * self.scale

        items: list[Item] = []
        for piece in self._wood():
            rings = (piece.exterior, *piece.interiors)
            loops = tuple(tuple(at(u, z) for u, z in ring.coords[:-1]) for ring in rings)
            items.append(Hatch(HATCHING, loops, 45.0, 2.2))
            items += [Path(CUT, (*loop, loop[0])) for loop in loops]
        items += self._bit(at)
        y = top - self.thickness * self.scale - 4.0
        items += lettered(self.words, (left, y), ACTED_ON_LETTERING)
        items.append(Text(LETTERING, (left + 0.5, top + 0.9), "top", LEAST_LETTERING))
        foot = (left, corner[1] - height + 0.9)
        return (
            *items,
            Text(LETTERING, foot, f"Section along the hole, {scale_words(self.scale)}", LEAST_LETTERING),
        )

    def _wood(self) -> list[Polygon]:
        """The wood in the plane of the axis, over the stretch that is shown."""
        import shapely

        low, high = -_BEFORE, self.run + _BEYOND
        wood = shapely.union_all(
            [shapely.box(a, -self.thickness, b, 0.0) for a, b in self._within(self.plan.layout.outline)]
        )
        for pocket in self.plan.features.pockets:
            deep = (
                (-pocket.depth, 1.0)
                if pocket.face == "top"
                else (-self.thickness - 1.0, pocket.depth - self.thickness)
            )
            for a, b in self._within(pocket.outline):
                wood = wood.difference(shapely.box(a, deep[0], b, deep[1]))
        r, end = self.course.bit.diameter / 2, self.course.depth
        wood = wood.difference(
            shapely.Polygon([self._beside(t, s) for t, s in ((-end, r), (end, r), (end, -r), (-end, -r))])
        )
        wood = wood.intersection(shapely.box(low, -self.thickness, high, 0.0))
        return [part for part in shapely.get_parts(wood) if part.geom_type == "Polygon" and part.area > 0.5]

    def _within(self, ring: object) -> list[tuple[float, float]]:
        """Where the shown stretch of the axis, seen from above, lies inside an outline."""
        import shapely

        x, y = self.course.start[0], self.course.start[1]
        heading = (self.course.axis[0] / self.level, self.course.axis[1] / self.level)
        ends = [(x + u * heading[0], y + u * heading[1]) for u in (-_BEFORE, self.run + _BEYOND)]
        met = shapely.LineString(ends).intersection(polygon(ring))  # type: ignore[arg-type]
        found = []
        for part in shapely.get_parts(met):
            u = [
                (px - x) * heading[0] + (py - y) * heading[1]
                for px, py in shapely.get_coordinates(part).tolist()
            ]
            if len(u) > 1:
                found.append((min(u), max(u)))
        return found

    def _beside(self, along: float, aside: float) -> tuple[float, float]:
        """A place at a distance along the axis and square to it, in the plane of the section."""
        up = self.course.axis[2]
        return along * self.level - aside * up, self.course.start[2] + along * up + aside * self.level

    def _bit(self, at: object) -> list[Item]:
        r, end = self.course.bit.diameter / 2, self.course.depth
        tip = end + self.course.bit.point
        back = -min((_BEFORE - 2.0) / self.level, 40.0)
        # What rises over the picture's top is left out.
        if self.course.axis[2] < -1e-9:
            over = (_ABOVE - 2.0) / self.scale - r - self.course.start[2]
            back = max(back, over / self.course.axis[2])
        place = [(back, r), (end, r), (tip, 0.0), (end, -r), (back, -r)]
        loop = tuple(at(*self._beside(t, s)) for t, s in place)  # type: ignore[operator]
        ends = [at(*self._beside(t, 0.0)) for t in (back, tip + 2.0)]  # type: ignore[operator]
        return [Path(THIN, loop), Line(CENTRE, ends[0], ends[1])]


def tunnel_of(plan: Plan, bore_id: str) -> tuple[Tunnel, Course] | None:
    """The tunnel that a bore is, if its way was worked out or measured."""
    for tunnel in plan.tunnels:
        if tunnel.place.id == bore_id and tunnel.course is not None:
            return tunnel, tunnel.course
    return None
