"""The section on a step card: the wood as it is when the step comes, the bit standing in its hole, what lies below."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import chain
from math import hypot, inf
from typing import TYPE_CHECKING

from scribeline.drawing.cards.edge_sections import EdgeSection
from scribeline.drawing.cards.marks import PITCH, lines, scale_words
from scribeline.drawing.cards.slant_sections import SlantSection, tunnel_of
from scribeline.drawing.cards.told import Told
from scribeline.drawing.face import text_width
from scribeline.drawing.section import cut_loops, upright_section, walls_along
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    CENTRE,
    LETTERING,
    PHANTOM,
    THIN,
    Item,
    Line,
    Path,
    Point,
    Text,
)
from scribeline.drawing.sheets.cutting import Paper, hatched
from scribeline.features import COVER_RECESS, Bore, Pocket, Step, balloon, floor_under_mark, nearest_in_words
from scribeline.layout import Point as Place
from scribeline.plan import Plan
from scribeline.solid import Under
from scribeline.steps import Card

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

SECTION_WIDTH = 75.0
"""Width of a section with its labels, mm."""
_HALF_WOOD = 11.0
"""Half the width of the wood shown beside an upright hole, mm on paper."""
_LEAST_BESIDE = 2.5
"""Wood shown beside a wide hole at least, mm on paper."""
_BESIDE = SECTION_WIDTH - 2 * _HALF_WOOD - 7.0
"""Width of the labels beside the wood, mm."""
_BIT_ABOVE = 8.0
"""How much of the bit shows above the face, mm on paper."""
_SCALES = (2.0, 1.0, 0.5, 0.25, 0.1)
_AROUND = _BIT_ABOVE + 7.5
"""Room for the bit above the face and for the caption, mm."""
_BETWEEN_LABELS, _UNDER_LABELS = 1.2, 6.0
"""White between two labels, and room under the last for the caption, mm."""
_FULL_SIZE_UP_TO = 85.0
_ALONG = Place(1.0, 0.0)
"""Sections run along the instrument."""
_APART = 0.005
"""Two lengths closer than this are printed alike, mm."""


def section(plan: Plan, card: Card, corner: Point, width: float, height: float) -> tuple[Item, ...]:
    """The section a card's depth is read from; nothing where the card cuts to no depth."""
    bore = bore_of(plan, card)
    along = None if bore is None else _along(plan, card, bore, width)
    if along is not None:
        return along.drawn(corner, height)
    return () if card.depth is None else _Upright(plan, card, corner, height).drawn()


def section_height(plan: Plan, card: Card) -> float:
    """The height a card's section needs, mm: full size where the page can spare it."""
    bore = bore_of(plan, card)
    along = None if bore is None else _along(plan, card, bore, SECTION_WIDTH)
    if along is not None:
        return along.height
    full = plan.layout.thickness + _AROUND
    labels = _Upright(plan, card, (0.0, 0.0), full).labels
    least = _BIT_ABOVE + sum(label.height + _BETWEEN_LABELS for label in labels) + _UNDER_LABELS
    return max(least, full) if full <= _FULL_SIZE_UP_TO else least


def _along(plan: Plan, card: Card, bore: Bore, width: float) -> SlantSection | EdgeSection | None:
    """The section along a hole that is not square to the faces."""
    if tunnel_of(plan, bore.id) is None and bore.face == "edge":
        return EdgeSection(plan, card, bore, width)
    return None if bore.is_upright else SlantSection(plan, card, bore, width)


def bore_of(plan: Plan, card: Card) -> Bore | None:
    """The first hole a card drills; for a scrap test the first hole it rehearses."""
    if card.bit is None:
        return None
    bores = plan.features.bores
    own = (bore for bore in bores if bore.id in card.features)
    alike = (
        bore
        for bore in bores
        if any(step.bit == card.bit and step.depth == card.depth for step in bore.steps)
    )
    return next(chain(own, alike), None)


@dataclass(frozen=True, slots=True)
class _Label:
    """What a level is: the figure, the same in the other unit beside it, and what it is below."""

    level: float
    figure: str
    other: str = ""
    words: tuple[str, ...] = ()

    @property
    def height(self) -> float:
        return (1.0 + PITCH * len(self.words) + 0.35) * ACTED_ON_LETTERING


def tip(step: Step) -> tuple[tuple[float, float], ...]:
    """The bit's end as (beyond the full diameter, radius), from the full diameter on."""
    bit, r = step.bit, step.diameter / 2
    if bit.point <= 0:
        return ((0.0, 0.0),)
    if bit.is_conical:
        return ((0.0, r), (bit.point, 0.0))
    return ((0.0, min(0.3 * r, 0.6 * bit.point)), (bit.point, 0.0))


def _shown(plan: Plan, card: Card) -> tuple[Bore | Pocket, Under | None]:
    """The cut that a card's section goes through, the one with the least wood left under it, and that wood."""
    under = {cut.feature: plan.progress.under[cut] for cut in card.cuts}
    if not under:
        bore = bore_of(plan, card)
        assert bore is not None
        return bore, None
    least = min(under, key=lambda name: min(_or_none(under[name].point), _or_none(under[name].full)))
    return next(feature for feature in plan.features if feature.id == least), under[least]


def _or_none(left: float | None) -> float:
    return inf if left is None else left


def _middle(cut: Bore | Pocket) -> Place:
    """The place that a section has in its middle: a hole's axis, or a pocket's wall towards the tail."""
    if isinstance(cut, Bore):
        return Place(cut.at.x, cut.at.y)
    ys = [p.y for p in cut.outline]
    y = (min(ys) + max(ys)) / 2
    return Place(max(walls_along(cut.outline, y)), y)


class _Upright:
    """A section square to the face: depth runs down the paper from the face that lies up."""

    def __init__(self, plan: Plan, card: Card, corner: Point, height: float) -> None:
        self.plan, self.card = plan, card
        self.progress = plan.progress
        self.layout = plan.layout if card.workpiece == "scrap" else self.progress.layout(card)
        self.corner, self.height = corner, height
        self.cut, self.under = _shown(plan, card)
        self.middle, turned = _middle(self.cut), self.cut.face == "back"
        self.other = "top" if turned else "back"
        faces = (self.layout.back_at(self.middle), self.layout.top_at(self.middle))
        near, far = faces if turned else faces[::-1]
        level = self.cut.at.z if isinstance(self.cut, Bore) else near
        self.thickness = abs(far - level)
        radius = self.cut.widest / 2 if isinstance(self.cut, Bore) else 0.0
        room, wide = height - _AROUND, _HALF_WOOD - _LEAST_BESIDE
        self.scale = next(
            (s for s in _SCALES if self.thickness * s <= room and radius * s <= wide), _SCALES[-1]
        )
        self.axis = corner[0] + _HALF_WOOD
        self.face = corner[1] - _BIT_ABOVE - 1.5
        edge = _HALF_WOOD / self.scale
        self.reach = (-edge, edge)
        self.paper = Paper(corner[0], self.face, self.scale, -edge, edge, level, turned)

    def drawn(self) -> tuple[Item, ...]:
        """The wood with this step's cut, the bit in it, and what is which level."""
        cut = self.cut
        items = hatched(self._wood(), self.paper, self.layout.body, (self.middle, (1.0, 0.0)))
        if isinstance(cut, Bore):
            step = self._step(cut)
            items += [*self._still_to_come(cut, step), *self._bit(step)]
        items += self._labels()
        words = f"Section, {scale_words(self.scale)}"
        if isinstance(cut, Bore) and len(self.card.features) > 1:
            words += f", at {balloon(cut.id)}"
        at = (self.corner[0], self.corner[1] - self.height + 0.9)
        return (*items, Text(LETTERING, at, words, ACTED_ON_LETTERING))

    @cached_property
    def labels(self) -> list[_Label]:
        """What each level is, from the top of the picture down."""
        scrap = self.card.workpiece == "scrap"
        labels = [_Label(0.0, self._start(scrap)), *self._depths(), *self._below()]
        if scrap or (self.under is not None and not self.under.beyond):
            labels.append(self._figure(self.thickness, f"the {self.other} face"))
        return sorted(labels, key=lambda label: label.level)

    def _step(self, bore: Bore) -> Step:
        return next(step for step in bore.steps if step.bit == self.card.bit)

    def _start(self, scrap: bool) -> str:
        """The surface that depths count from."""
        if scrap:
            return "scrap"
        if isinstance(self.cut, Bore):
            floor, below = floor_under_mark(self.layout, self.cut, self.plan.features.pockets)
            if floor is not None and below < _APART:
                return "recess floor" if floor.role.endswith(COVER_RECESS) else "pocket floor"
        return "top face" if self.other == "back" else "back face"

    def _wood(self) -> BaseGeometry:
        """The wood once this step has cut; a scrap's is whole but for its own hole."""
        cut = self.cut
        made = [replace(cut, steps=(self._step(cut),)) if isinstance(cut, Bore) else cut]
        if self.card.workpiece != "scrap":
            made += self.progress.before(self.card)
        return upright_section(self.layout, made, self.middle, _ALONG, self.reach)

    def _still_to_come(self, bore: Bore, step: Step) -> Iterator[Path]:
        """What later steps take out on the same axis, in outline."""
        turn: dict[tuple[str, int], int] = {
            cut: work.no for work in self.plan.operations for cut in work.cuts
        }
        for other in self.plan.features.bores:
            if hypot(other.at.x - bore.at.x, other.at.y - bore.at.y) > 1e-6 or not other.is_upright:
                continue
            later = tuple(
                each
                for no, each in enumerate(other.steps, start=1)
                if (each is not step or other is not bore) and turn.get((other.id, no), 0) > self.card.no
            )
            if later:
                part = replace(other, steps=later)
                for loop in cut_loops(self.layout, part, self.middle, _ALONG, self.reach):
                    yield Path(PHANTOM, self.paper.loop(loop), closed=True)

    def _at(self, across: float, depth: float) -> Point:
        return (self.axis + across * self.scale, self.face - depth * self.scale)

    def _bit(self, step: Step) -> list[Item]:
        r, above = step.diameter / 2, _BIT_ABOVE / self.scale
        items: list[Item] = [
            Line(THIN, self._at(side * r, -above), self._at(side * r, 0.0)) for side in (-1, 1)
        ]
        end = [(step.depth + beyond, radius) for beyond, radius in ((0.0, r), *tip(step))]
        items += [Path(THIN, tuple(self._at(side * radius, d) for d, radius in end)) for side in (-1, 1)]
        turns = max(2, round(_BIT_ABOVE / max(step.diameter * self.scale, 2.0)))
        for n in range(turns):
            low, high = -above * n / turns, -above * (n + 0.7) / turns
            items.append(Line(THIN, self._at(-r, low), self._at(r, high)))
        items.append(
            Line(CENTRE, self._at(0.0, -above - 1.5), self._at(0.0, self.thickness + 2.5 / self.scale))
        )
        return items

    def _depths(self) -> list[_Label]:
        card = self.card
        assert card.depth is not None
        if isinstance(self.cut, Pocket):
            return [self._figure(card.depth, "the floor" if self.cut.slope is None else "floor, end wall")]
        found = [self._figure(card.depth, "full diameter")]
        if card.point_reaches is not None and card.point_reaches > card.depth:
            found.append(self._figure(card.point_reaches, "the point"))
        return found

    def _figure(self, level: float, what: str, value: float | None = None) -> _Label:
        figure, other = Told.on(self.plan, self.card).exactly(level if value is None else value)
        return _Label(level, figure, other, lines(what, _BESIDE, ACTED_ON_LETTERING))

    def _below(self) -> Iterator[_Label]:
        """What the cut ends over: wood left, or what it comes into."""
        under, depth = self.under, self.card.depth
        if under is None or depth is None:
            return
        name = nearest_in_words(self.plan.features, under.beyond) if under.beyond else ""
        if isinstance(self.cut, Pocket):
            if under.full is not None:
                leaning = "" if self.cut.slope is None else "least "
                words = f"{leaning}left to {name}" if name else f"{leaning}wood left"
                if len(self.card.features) > 1:
                    words += f" in the {self.cut.role}"
                yield self._figure(depth + under.full / 2, words, under.full)
            return
        assert under.open_at is not None
        end = self.card.point_reaches or depth
        if under.point is not None:
            words = f"left to {name}" if name else "left under point"
            yield self._figure(end + under.point / 2, words, under.point)
            if under.full is not None and abs(under.full - under.point - end + depth) > _APART:
                yield self._figure(depth, "left under the rim", under.full)
        if name:
            yield self._figure(under.open_at, f"open: {name}")

    def _labels(self) -> list[Item]:
        """The labels beside the wood, pushed apart, each tied to its level."""
        ordered, gap = self.labels, _BETWEEN_LABELS
        low = self.corner[1] - self.height + _UNDER_LABELS
        middles: list[float] = []
        for label in ordered:
            wanted = self.face - label.level * self.scale
            if middles:
                previous = middles[-1] - ordered[len(middles) - 1].height / 2
                wanted = min(wanted, previous - gap - label.height / 2)
            middles.append(min(wanted, self.corner[1] - label.height / 2))
        floor = low
        for n in range(len(ordered) - 1, -1, -1):
            middles[n] = max(middles[n], floor + ordered[n].height / 2)
            floor = middles[n] + ordered[n].height / 2 + gap
        items: list[Item] = []
        edge = self.axis + _HALF_WOOD
        for label, middle in zip(ordered, middles, strict=True):
            level = self.face - label.level * self.scale
            items.append(Line(THIN, (edge + 0.8, level), (edge + 3.0, level)))
            items.append(Line(THIN, (edge + 3.0, level), (edge + 6.0, middle)))
            items += _label(label, (edge + 7.0, middle + label.height / 2))
        return items


def _label(label: _Label, corner: Point) -> list[Item]:
    x, y = corner
    y -= ACTED_ON_LETTERING
    items: list[Item] = [Text(LETTERING, (x, y), label.figure, ACTED_ON_LETTERING, bold=True)]
    if label.other:
        beside = x + text_width(label.figure, ACTED_ON_LETTERING, bold=True) + 2.0
        items.append(Text(LETTERING, (beside, y), label.other, ACTED_ON_LETTERING))
    for words in label.words:
        y -= PITCH * ACTED_ON_LETTERING
        items.append(Text(LETTERING, (x, y), words, ACTED_ON_LETTERING))
    return items
