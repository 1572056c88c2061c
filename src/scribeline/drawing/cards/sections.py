"""The section on a step card: the face, the bit standing in its hole, what lies below, at a stated scale."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import chain, pairwise
from math import hypot

from scribeline.drawing.cards.blocks import PITCH, Told, scale_words
from scribeline.drawing.cards.edge_sections import EdgeSection
from scribeline.drawing.cards.slant_sections import SlantSection, tunnel_of
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    CENTRE,
    CUT,
    HATCHING,
    LEAST_LETTERING,
    LETTERING,
    OUTLINE,
    PHANTOM,
    THIN,
    Hatch,
    Item,
    Line,
    Path,
    Point,
    Text,
)
from scribeline.features import Bit, Bore, Pocket, Step, covers, floor_z
from scribeline.layout import Point as Point2
from scribeline.lengths import each_unit
from scribeline.plan import Plan
from scribeline.steps import Card

SECTION_WIDTH = 61.0
"""Width of a section with its labels, mm."""
_HALF_WOOD = 11.0
"""Half the width of the wood shown beside an upright hole, mm on paper."""
_LEAST_BESIDE = 2.5
"""Wood shown beside a wide hole at least, mm on paper."""
_BIT_ABOVE = 10.0
"""How much of the bit shows above the face, mm on paper."""
_SCALES = (2.0, 1.0, 0.5, 0.25, 0.1)
_AROUND = _BIT_ABOVE + 7.5
"""Room for the bit above the face and for the caption, mm."""
_LEAST, _LEAST_ROUTED = 72.0, 60.0
"""Height that the labels of a drilled hole and of a pocket take, mm."""
_FULL_SIZE_UP_TO = 85.0


def section(plan: Plan, card: Card, corner: Point, width: float, height: float) -> tuple[Item, ...]:
    """The section a card's depth is read from; nothing where the card cuts to no depth."""
    bore = bore_of(plan, card)
    along = None if bore is None else _along(plan, card, bore, width)
    if along is not None:
        return along.drawn(corner, height)
    if bore is not None and card.depth is not None:
        return _Upright(plan, card, corner, width, height).drawn(bore)
    pocket = next((p for p in plan.features.pockets if p.id in card.features), None)
    if pocket is not None:
        return _Upright(plan, card, corner, width, height).drawn(pocket)
    return ()


def section_height(plan: Plan, card: Card) -> float:
    """The height a card's section needs, mm: full size where the page can spare it."""
    bore = bore_of(plan, card)
    along = None if bore is None else _along(plan, card, bore, SECTION_WIDTH)
    if along is not None:
        return along.height
    full = plan.layout.thickness + _AROUND
    least = _LEAST if card.bit is not None else _LEAST_ROUTED
    return max(least, full) if full <= _FULL_SIZE_UP_TO else least


def _along(plan: Plan, card: Card, bore: Bore, width: float) -> SlantSection | EdgeSection | None:
    """The section along a hole that is not square to the faces."""
    if tunnel_of(plan, bore.id) is None and bore.face == "edge":
        return EdgeSection(plan, card, bore, width)
    return None if bore.is_upright else SlantSection(plan, card, bore, width)


def tallest_section(plan: Plan) -> float:
    """The height of an upright section drawn twice as large as it is, mm."""
    return 2.0 * plan.layout.thickness + _AROUND


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
    """What a level is: the figure, then smaller lines."""

    level: float
    words: tuple[str, ...]

    @property
    def height(self) -> float:
        return ACTED_ON_LETTERING + (len(self.words) - 1) * 1.5 * LEAST_LETTERING + 0.35 * LEAST_LETTERING


@dataclass(frozen=True, slots=True)
class _Cut:
    """One coaxial hole as radii over depth from the drilled face: breakpoints in order of depth."""

    points: tuple[tuple[float, float], ...]

    def radius(self, depth: float) -> float:
        for (d0, r0), (d1, r1) in pairwise(self.points):
            if d0 <= depth <= d1 and d1 > d0:
                return r0 + (r1 - r0) * (depth - d0) / (d1 - d0)
        return 0.0


def tip(step: Step) -> tuple[tuple[float, float], ...]:
    """The bit's end as (beyond the full diameter, radius), from the full diameter on."""
    bit, r = step.bit, step.diameter / 2
    if bit.point <= 0:
        return ((0.0, 0.0),)
    if bit.is_conical:
        return ((0.0, r), (bit.point, 0.0))
    return ((0.0, min(0.3 * r, 0.6 * bit.point)), (bit.point, 0.0))


def _cut(step: Step, thickness: float, flipped: bool) -> _Cut:
    points = [(0.0, step.diameter / 2), (step.depth, step.diameter / 2)]
    points += [(step.depth + beyond, radius) for beyond, radius in tip(step)]
    if flipped:
        points = [(thickness - depth, radius) for depth, radius in reversed(points)]
    return _Cut(tuple(points))


@dataclass(frozen=True, slots=True)
class _WoodAt:
    """The wood that a hole goes through: between its face, or a pocket's floor, and the other face or a pocket.

    Attributes:
        thickness: mm.
        radius: of the widest step, mm; 0 for a pocket.
        near: what it starts on, where that is no face.
        far: what lies beyond, where that is no face.
    """

    thickness: float
    radius: float = 0.0
    near: str = ""
    far: str = ""


def _wood_at(plan: Plan, card: Card) -> _WoodAt:
    """The wood where a card's first hole is drilled, once what must be open before is open."""
    bore = bore_of(plan, card)
    thickness = plan.layout.thickness
    if bore is None:
        # Pockets are routed before the top is shaped: the blank is as thick as its highest wood.
        return _WoodAt(thickness + plan.layout.body.highest)
    if not card.features:
        return _WoodAt(thickness, bore.widest / 2)
    near = far = ""
    for pocket in plan.features.pockets:
        if pocket.id not in bore.meets or not covers(pocket, Point2(bore.at.x, bore.at.y)):
            continue
        if pocket.face != bore.face:
            thickness, far = abs(floor_z(plan.layout, pocket) - bore.at.z), f"open: {pocket.role}"
        elif abs(floor_z(plan.layout, pocket) - bore.at.z) < 1e-6:
            thickness, near = thickness - pocket.depth, f"{pocket.role}'s floor"
    return _WoodAt(thickness, bore.widest / 2, near, far)


class _Upright:
    """A section square to the face: depth runs down the paper from the face that lies up."""

    def __init__(self, plan: Plan, card: Card, corner: Point, width: float, height: float) -> None:
        self.plan, self.card = plan, card
        self.corner, self.width, self.height = corner, width, height
        self.wood = _wood_at(plan, card)
        self.thickness = self.wood.thickness
        room, wide = height - _AROUND, _HALF_WOOD - _LEAST_BESIDE
        self.scale = next(
            (s for s in _SCALES if self.thickness * s <= room and self.wood.radius * s <= wide), _SCALES[-1]
        )
        self.axis = corner[0] + _HALF_WOOD
        self.face = corner[1] - _BIT_ABOVE - 1.5

    def drawn(self, feature: Bore | Pocket) -> tuple[Item, ...]:
        up = "top" if feature.face == "top" else "back"
        other = "back" if up == "top" else "top"
        scrap = not self.card.features
        items = self._bored(feature) if isinstance(feature, Bore) else self._routed(feature)
        labels = [
            _Label(0.0, ("scrap" if scrap else self.wood.near or f"{up} face",)),
            *self._depths(feature),
        ]
        labels += self._below(feature)
        labels.append(self._figure(self.thickness, self.thickness, self.wood.far or f"the {other} face"))
        items += self._labels(labels)
        words = f"Section, {scale_words(self.scale)}"
        at = (self.corner[0], self.corner[1] - self.height + 0.9)
        return (*items, Text(LETTERING, at, words, LEAST_LETTERING))

    def _at(self, across: float, depth: float) -> Point:
        return (self.axis + across * self.scale, self.face - depth * self.scale)

    def _wood(self, profile: list[tuple[float, float]], side: int) -> tuple[Point, ...]:
        """One half of the wood: along the profile of the hole, back along the break."""
        edge = _HALF_WOOD / self.scale
        points = [(edge, 0.0), *profile, (edge, self.thickness)]
        return tuple(self._at(side * across, depth) for across, depth in points)

    def _bored(self, bore: Bore) -> list[Item]:
        step = next(s for s in bore.steps if s.bit == self.card.bit)
        now = [_cut(step, self.thickness, False)]
        future: list[_Cut] = []
        for other, flipped in ((bore, False), *((b, True) for b in self._partners(bore))):
            number = _cut_on(self.plan, other)
            for s in other.steps:
                if other is bore and s == step:
                    continue
                done = number.get(s.bit, 0) < self.card.no
                (now if done and self.card.features else future).append(_cut(s, self.thickness, flipped))
        profile = _profile(now, self.thickness)
        items: list[Item] = []
        for side in (-1, 1):
            items.append(Hatch(HATCHING, (self._wood(profile, side),), 45.0, 2.2))
            items += self._faces(profile, side)
        items += [
            Path(
                PHANTOM,
                tuple(self._at(side * r, d) for d, r in cut.points if 0 <= d <= self.thickness),
            )
            for cut in future
            for side in (-1, 1)
        ]
        items += self._bit(step)
        return items

    def _partners(self, bore: Bore) -> list[Bore]:
        """Holes on the same axis from the other face."""
        return [
            other
            for other in self.plan.features.bores
            if other.face != bore.face and hypot(other.at.x - bore.at.x, other.at.y - bore.at.y) < 1e-6
        ]

    def _faces(self, profile: list[tuple[float, float]], side: int) -> list[Item]:
        edge = _HALF_WOOD / self.scale
        items: list[Item] = [
            Line(OUTLINE, self._at(side * edge, 0.0), self._at(side * profile[0][0], 0.0)),
            Line(
                OUTLINE,
                self._at(side * edge, self.thickness),
                self._at(side * profile[-1][0], self.thickness),
            ),
        ]
        for (r0, d0), (r1, d1) in pairwise(profile):
            if (r0 > 0 or r1 > 0) and (r0, d0) != (r1, d1):
                items.append(Line(CUT, self._at(side * r0, d0), self._at(side * r1, d1)))
        return items

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

    def _routed(self, pocket: Pocket) -> list[Item]:
        edge, t, depth = _HALF_WOOD / self.scale, self.thickness, self._routed_to(pocket)
        wood = ((edge, 0.0), (0.0, 0.0), (0.0, depth), (-edge, depth), (-edge, t), (edge, t))
        loop = tuple(self._at(*p) for p in wood)
        return [
            Hatch(HATCHING, (loop,), 45.0, 2.2),
            Line(OUTLINE, loop[0], loop[1]),
            Path(CUT, loop[1:4]),
            Line(OUTLINE, loop[4], loop[5]),
            Line(PHANTOM, self._at(-edge, 0.0), self._at(0.0, 0.0)),
        ]

    def _depths(self, feature: Bore | Pocket) -> list[_Label]:
        if isinstance(feature, Pocket):
            return [self._figure(self._routed_to(feature), self._routed_to(feature), "the floor")]
        assert self.card.depth is not None
        found = [self._figure(self.card.depth, self.card.depth, "full diameter")]
        if self.card.point_reaches is not None and self.card.point_reaches > self.card.depth:
            found.append(self._figure(self.card.point_reaches, self.card.point_reaches, "the point"))
        return found

    def _routed_to(self, pocket: Pocket) -> float:
        """A pocket's depth from the face as it is when it is routed, mm."""
        return pocket.depth if self.card.depth is None else self.card.depth

    def _figure(self, level: float, value: float, what: str) -> _Label:
        told = Told.on(self.plan, self.card)
        big, small = told(value) if told.unit == "mm" else each_unit(value, "in")
        return _Label(level, (big, what, small))

    def _below(self, feature: Bore | Pocket) -> list[_Label]:
        """What the cut ends over: wood left, or what it meets."""
        if isinstance(feature, Pocket):
            depth = self._routed_to(feature)
            left = self.thickness - depth
            return [self._figure(depth + left / 2, left, "wood left")]
        end = self.card.point_reaches or self.card.depth or 0.0
        floor, what = self.thickness, "left under point"
        for other in self._partners(feature):
            done = _cut_on(self.plan, other).get(other.deepest.bit, 0) < self.card.no
            if not (done and self.card.features):
                continue
            meets, point = (
                self.thickness - reach for reach in (other.deepest.depth, other.deepest.point_reaches)
            )
            if end > point:
                return [self._figure(meets, meets, f"meets {other.role}")]
            floor, what = point, f"left to {other.role}"
        left = floor - end
        return [self._figure((end + floor) / 2, left, what)] if left > 0 else []

    def _labels(self, labels: list[_Label]) -> list[Item]:
        """The labels beside the wood, pushed apart, each tied to its level."""
        ordered = sorted(labels, key=lambda label: label.level)
        gap = 1.6
        low = self.corner[1] - self.height + 4.5
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
    items: list[Item] = [Text(LETTERING, (x, y), label.words[0], ACTED_ON_LETTERING, bold=True)]
    for words in label.words[1:]:
        y -= PITCH * LEAST_LETTERING
        items.append(Text(LETTERING, (x, y), words, LEAST_LETTERING))
    return items


def _cut_on(plan: Plan, bore: Bore) -> dict[Bit, int]:
    """The number of the card on which each step of a hole is cut, by its bit."""
    return {card.bit: card.no for card in plan.cards if card.bit is not None and bore.id in card.features}


def _profile(cuts: list[_Cut], thickness: float) -> list[tuple[float, float]]:
    """Radius of the whole void over depth, as (radius, depth) from the face down."""
    levels = sorted({0.0, thickness, *(d for cut in cuts for d, _ in cut.points if 0.0 <= d <= thickness)})
    found: list[tuple[float, float]] = []
    tiny = 1e-7
    for low, high in pairwise(levels):
        for depth, inside in ((low, low + tiny), (high, high - tiny)):
            radius = max((cut.radius(inside) for cut in cuts), default=0.0)
            found.append((max(0.0, round(radius, 5)), depth))
    return found
