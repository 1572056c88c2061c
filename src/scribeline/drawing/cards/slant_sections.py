"""The section on a card for a slanting hole or a wire tunnel: cut upright along its axis, drilled from left to right."""

from __future__ import annotations

from dataclasses import replace
from math import hypot, inf
from typing import TYPE_CHECKING

from scribeline.drawing.cards.marks import PITCH, lettered, lines, scale_words
from scribeline.drawing.section import upright_section
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    CENTRE,
    CUT,
    HATCHING,
    LETTERING,
    THIN,
    Hatch,
    Item,
    Line,
    Path,
    Point,
    Text,
)
from scribeline.features import Bore, Step
from scribeline.layout import Point as Place
from scribeline.lengths import each_unit
from scribeline.plan import Plan
from scribeline.solid.tunnels import Course, Tunnel
from scribeline.steps import Card

if TYPE_CHECKING:
    from shapely import Polygon

_SCALES = (1.0, 0.5, 0.25, 0.1)
_BEFORE, _BEYOND = 26.0, 12.0
"""Room shown before the start and beyond the wall or the depth it leads to, mm."""
_TALLEST = 36.0
"""A wire hole's section shows no more of the body's thickness, mm on paper: its card has much else to say."""
_ABOVE = 11.0
"""Room over the face for the bit that comes in, mm on paper."""


class SlantSection:
    """The measures of the section along one hole, the face that lies up while it is drilled above."""

    def __init__(self, plan: Plan, card: Card, bore: Bore, width: float) -> None:
        self.plan, self.card, self.bore, self.width = plan, card, bore, width
        self.step = next((s for s in bore.steps if s.bit == card.bit and s.depth == card.depth), bore.deepest)
        self.thickness = plan.layout.thickness
        self.up = "back" if card.face == "back" else "top"
        x, y, z = bore.axis
        self.level, self.drop = max(hypot(x, y), 1e-6), -z if self.up == "top" else z
        self.heading = (x / self.level, y / self.level)
        self.start = self._under(bore.at.z)
        found = tunnel_of(plan, bore.id)
        self.to_wall = None if found is None else found[1].to_wall
        self.run = (bore.deepest.depth if self.to_wall is None else self.to_wall) * self.level
        long = _BEFORE + self.run + _BEYOND
        tall = inf if self.to_wall is None else _TALLEST
        fit = (s for s in _SCALES if s * long <= width and s * self.thickness <= tall)
        self.scale = next(fit, _SCALES[-1])
        self.words = self._words()

    @property
    def height(self) -> float:
        """What the section needs, mm on paper."""
        return _ABOVE + self.thickness * self.scale + 5.0 + len(self.words) * PITCH * ACTED_ON_LETTERING + 5.0

    def _words(self) -> tuple[str, ...]:
        along = each_unit(self.step.depth if self.to_wall is None else self.to_wall, self.plan.unit)
        what = "Full diameter ends at" if self.to_wall is None else "To the far wall:"
        words = f"{what} {along[0]}, {along[1]}"
        return lines(words, self.width, ACTED_ON_LETTERING)

    def drawn(self, corner: Point, height: float) -> tuple[Item, ...]:
        """The section with its upper left corner there."""
        left, top = corner[0], corner[1] - _ABOVE

        def at(u: float, down: float) -> Point:
            return left + (u + _BEFORE) * self.scale, top - down * self.scale

        items: list[Item] = []
        surface = [0.0]
        for piece in self._wood():
            surface += [u for u, down in piece.exterior.coords if down < 1e-6]
            rings = (piece.exterior, *piece.interiors)
            loops = tuple(tuple(at(u, down) for u, down in ring.coords[:-1]) for ring in rings)
            items.append(Hatch(HATCHING, loops, 45.0, 2.2))
            items += [Path(CUT, (*loop, loop[0])) for loop in loops]
        items += self._bit(at)
        y = top - self.thickness * self.scale - 4.0
        items += lettered(self.words, (left, y), ACTED_ON_LETTERING)
        x, y = at(max(surface), 0.0)
        items.append(Text(LETTERING, (x, y + 0.9), self.up, ACTED_ON_LETTERING, "end"))
        foot = (left, corner[1] - height + 0.9)
        return (
            *items,
            Text(LETTERING, foot, f"Along the hole, {scale_words(self.scale)}", ACTED_ON_LETTERING),
        )

    def _wood(self) -> list[Polygon]:
        """The wood in the plane of the axis, over the stretch that is shown."""
        import shapely

        progress = self.plan.progress
        own = replace(self.bore, steps=self._cut_already())
        wood = upright_section(
            progress.layout(self.card),
            [*progress.before(self.card), own],
            Place(self.bore.at.x, self.bore.at.y),
            Place(*self.heading),
            (-_BEFORE, self.run + _BEYOND),
        )
        wood = shapely.transform(wood, lambda places: [(u, self._under(z)) for u, z in places])
        return [part for part in shapely.get_parts(wood) if part.geom_type == "Polygon" and part.area > 0.5]

    def _beside(self, along: float, aside: float) -> tuple[float, float]:
        """A place at a distance along the axis and square to it: how far along the section, how far under its face."""
        return along * self.level + aside * self.drop, self.start + along * self.drop - aside * self.level

    def _under(self, z: float) -> float:
        """How far a height lies under the face that is up, mm."""
        return -z if self.up == "top" else z + self.thickness

    def _cut_already(self) -> tuple[Step, ...]:
        """This card's step and the wider ones, which are cut before it."""
        return self.bore.steps[: self.bore.steps.index(self.step) + 1]

    def _bit(self, at: object) -> list[Item]:
        r, end, tip = self.step.diameter / 2, self.step.depth, self.step.point_reaches
        back = -min((_BEFORE - 2.0) / self.level, 40.0)
        # What rises over the picture's top is left out.
        if self.drop > 1e-9:
            over = (_ABOVE - 2.0) / self.scale - r + self.start
            back = max(back, -over / self.drop)
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
