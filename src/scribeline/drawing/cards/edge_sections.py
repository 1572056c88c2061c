"""The section on a card for a bore from the edge: cut along its axis, the top above, the edge to the right."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from scribeline.drawing.cards.marks import PITCH, lettered, lines, scale_words
from scribeline.drawing.section import upright_section
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    CENTRE,
    CUT,
    HATCHING,
    LETTERING,
    PHANTOM,
    THIN,
    Hatch,
    Item,
    Line,
    Path,
    Point,
    Text,
)
from scribeline.features import Bore, Step, balloon
from scribeline.layout import Point as Place
from scribeline.lengths import each_unit
from scribeline.plan import Plan
from scribeline.steps import Card

if TYPE_CHECKING:
    from shapely import Polygon

_SCALES = (1.0, 0.5, 0.25, 0.1)
_BIT_OUT = 13.0
"""How much of the bit shows outside the edge, mm on paper."""
_BEHIND = 8.0
"""Wood shown behind the bore's end, mm on paper."""
_TALLEST = 60.0
_ABOVE = 5.0
"""Room for the top's name over it, mm."""


class EdgeSection:
    """The measures of the section along one bore."""

    def __init__(self, plan: Plan, card: Card, bore: Bore, width: float) -> None:
        self.plan, self.card, self.bore, self.width = plan, card, bore, width
        self.step = next((s for s in bore.steps if s.bit == card.bit and s.depth == card.depth), bore.deepest)
        place = Place(bore.at.x, bore.at.y)
        self.top = plan.layout.top_at(place)
        self.back = plan.layout.back_at(place)
        reach = bore.depth_stop
        room = width - _BIT_OUT - _BEHIND
        self.scale = next(
            (s for s in _SCALES if s * reach <= room and s * (self.top - self.back) <= _TALLEST), _SCALES[-1]
        )
        self.into = next((p for p in plan.features.pockets if p.id in bore.meets), None)
        self.words = self._words()

    @property
    def height(self) -> float:
        """What the section needs, mm on paper."""
        wood = (self.top - self.back) * self.scale
        return _ABOVE + wood + 7.5 + len(self.words) * PITCH * ACTED_ON_LETTERING + 7.0

    def _words(self) -> tuple[str, ...]:
        down = each_unit(self.top - self.bore.at.z, self.plan.unit)
        sentences = [f"Its middle is {down[0]}, {down[1]} below the top's edge."]
        if self.into is not None and self.step is self.bore.deepest:
            sentences.append(f"Opens into the {self.into.role}.")
        else:
            sentences.append(
                f"Wood beside it to the nearer face: {each_unit(self._beside(), self.plan.unit)[0]}."
            )
        return tuple(line for words in sentences for line in lines(words, self.width, ACTED_ON_LETTERING))

    def _beside(self) -> float:
        """The wood to the nearer face, mm: of the widest bit the plan's own, which counts how far it may drift."""
        beside = min(self.top - self.bore.at.z, self.bore.at.z - self.back) - self.step.diameter / 2
        if self.step.diameter < max(step.diameter for step in self.bore.steps):
            return beside
        return next((each.to_opposite for each in self.plan.outside if each.feature == self.bore.id), beside)

    def drawn(self, corner: Point, height: float) -> tuple[Item, ...]:
        """The section, hanging from its corner."""
        import shapely

        edge = corner[0] + self.width - _BIT_OUT
        level = corner[1] - _ABOVE

        def at(along: float, z: float) -> Point:
            return (edge - along * self.scale, level - (self.top - z) * self.scale)

        far = (self.width - _BIT_OUT) / self.scale
        progress = self.plan.progress
        own = replace(self.bore, steps=tuple(self._cut_already()))
        made = [*progress.before(self.card), own]
        here, heading = Place(self.bore.at.x, self.bore.at.y), Place(self.bore.axis.x, self.bore.axis.y)
        left = upright_section(progress.layout(self.card), made, here, heading, (0.0, far))
        items: list[Item] = []
        for piece in shapely.get_parts(left):
            if piece.geom_type != "Polygon":
                continue
            rings = [
                tuple(at(float(a), float(z)) for a, z in shapely.get_coordinates(ring)[:-1])
                for ring in (piece.exterior, *piece.interiors)
            ]
            items.append(Hatch(HATCHING, tuple(rings), 45.0, 2.2))
            items += [Path(CUT, ring, closed=True) for ring in rings]
        for step in self.bore.steps:
            if step not in self._cut_already():
                outline = shapely.get_coordinates(self._hole(step).exterior)
                items.append(Path(PHANTOM, tuple(at(float(a), float(z)) for a, z in outline)))
        items += self._bit(at)
        items.append(Text(LETTERING, (corner[0], level + 1.2), "top", ACTED_ON_LETTERING))
        foot = at(0.0, self.back)[1]
        items.append(Text(LETTERING, (corner[0], foot - 4.8), "back", ACTED_ON_LETTERING))
        items.append(Text(LETTERING, (edge, foot - 4.8), "the edge", ACTED_ON_LETTERING, "middle"))
        items += lettered(self.words, (corner[0], foot - 7.5), ACTED_ON_LETTERING)
        which = balloon(self.bore.id) if len(self.card.features) > 1 else "the hole"
        words = f"Along {which}, {scale_words(self.scale)}"
        return (*items, Text(LETTERING, (corner[0], corner[1] - height + 0.9), words, ACTED_ON_LETTERING))

    def _cut_already(self) -> list[Step]:
        """This card's step and those that earlier cards cut."""
        return list(self.bore.steps[: self.bore.steps.index(self.step) + 1])

    def _hole(self, step: Step) -> Polygon:
        import shapely

        r, z, base = step.diameter / 2, self.bore.at.z, step.bit.point_width / 2
        tip = (
            [(step.depth, z - base), (step.point_reaches, z), (step.depth, z + base)]
            if step.bit.point
            else []
        )
        return shapely.Polygon([(-5.0, z - r), (step.depth, z - r), *tip, (step.depth, z + r), (-5.0, z + r)])

    def _bit(self, at: _At) -> list[Item]:
        r, z, out = self.step.diameter / 2, self.bore.at.z, _BIT_OUT / self.scale
        base, step = self.step.bit.point_width / 2, self.step
        tip = [(step.depth, base), (step.point_reaches, 0.0), (step.depth, -base)] if step.bit.point else []
        outline = [(-out, r), (step.depth, r), *tip, (step.depth, -r), (-out, -r)]
        items: list[Item] = [Path(THIN, tuple(at(a, z + aside) for a, aside in outline))]
        items.append(Line(CENTRE, at(-out - 1.5, z), at(step.point_reaches + 3.0 / self.scale, z)))
        return items


if TYPE_CHECKING:
    from typing import Protocol

    class _At(Protocol):
        def __call__(self, along: float, z: float) -> Point: ...
