"""The work as a list of operations: one tool at one setting, what it cuts, and the wood as it is by then."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import overload

from scribeline.features import Bit, Bore, Feature, Features, Setting, setting_of
from scribeline.job import Record
from scribeline.layout import Area, Layout, Point3, bevel_id, round_id
from scribeline.solid import Under, neighbours, wood_under, wood_under_floor
from scribeline.steps.card import Card
from scribeline.steps.cautions import Machine
from scribeline.steps.shaping_cards import round_ids, top_ids

NOT_CUT_BY = frozenset({"chase"})
"""Cards that name cuts and make none: chasing clears what the finish has narrowed."""


@dataclass(frozen=True, slots=True)
class Cutting:
    """One cut of an operation.

    Attributes:
        feature: id of the hole or pocket.
        under: the wood straight ahead of the bit once it has cut, or under a pocket's floor.
        step: which diameter of a hole, the widest being 1; None for a pocket.
        at: where the axis meets the surface the hole is cut from, mm; None for a pocket.
        axis: unit vector into the wood; None for a pocket.
        setting: what ends the bit; None for a pocket, whose depth counts from its face.
    """

    feature: str
    under: Under
    step: int | None = None
    at: Point3 | None = None
    axis: Point3 | None = None
    setting: Setting | None = None


@dataclass(frozen=True, slots=True)
class Operation:
    """One tool at one setting.

    Attributes:
        no: of its card, which is its place in the order of work.
        card: the card's id.
        machine: what drives the tool.
        face: the face that lies up; "" where it does not matter.
        bit: the drill bit; None for a router, whose bit is the builder's choice up to a corner's radius.
        setting: that of its first cut; None for a router.
        depth: of a router, from the face, mm.
        cuts: what it makes.
        after: the cards that must come before, by number.
    """

    no: int
    card: str
    machine: Machine
    face: str
    bit: Bit | None
    setting: Setting | None
    depth: float | None
    cuts: tuple[Cutting, ...]
    after: tuple[int, ...]


def steps_cut(card: Card, bore: Bore) -> tuple[int, ...]:
    """Which diameters of a hole a card's bit bores, the widest being 1; all of them where a card names no bit.

    A hole on the record may have been bored with other bits than its like: such a card bores none of it.
    """
    every = range(1, len(bore.steps) + 1)
    return tuple(no for no in every if card.bit is None or bore.steps[no - 1].bit == card.bit)


class Progress:
    """What is in the wood when each card's turn comes."""

    def __init__(self, record: Record, layout: Layout, features: Features, cards: Sequence[Card]) -> None:
        self.features, self._finished = features, layout
        self._shaped_on = {card.id: card.no for card in cards}
        self._cut_on: dict[tuple[str, int], int] = {}
        by_id = {feature.id: feature for feature in features}
        for card in cards:
            for name in card.features if card.id not in NOT_CUT_BY else ():
                feature = by_id[name]
                for no in steps_cut(card, feature) if isinstance(feature, Bore) else (1,):
                    self._cut_on[name, no] = card.no
        for made in record.made_steps:
            self._cut_on[made] = 0

    def layout(self, card: Card) -> Layout:
        """The instrument with its body shaped as far as it is when a card's turn comes."""
        body, later = self._finished.body, [name for name, no in self._shaped_on.items() if no >= card.no]
        if body.is_plain:
            return self._finished
        if top_ids(later):
            blank = (Area("blank", body.outline, body.highest),) if body.highest else ()
            body = replace(body, areas=blank, profile=(), contours=())
        rounds = round_ids(later)
        body = replace(
            body,
            bevels=tuple(bevel for bevel in body.bevels if bevel_id(bevel) not in later),
            round_top=0.0 if round_id("top") in rounds else body.round_top,
            round_back=0.0 if round_id("back") in rounds else body.round_back,
        )
        return replace(self._finished, body=body)

    def before(self, card: Card) -> Iterator[Feature]:
        """The cuts as they are when a card's turn comes; a stepped hole with the diameters it has by then.

        A cut that no card makes is in the wood already. A card's own cuts are not, made or not: it tells of them.
        """
        own = set(card.features)
        for feature in self.features:
            if not isinstance(feature, Bore):
                if feature.id not in own and self._is_before(feature.id, 1, card):
                    yield feature
                continue
            mine = steps_cut(card, feature) if feature.id in own else ()
            steps = tuple(
                step
                for no, step in enumerate(feature.steps, start=1)
                if no not in mine and self._is_before(feature.id, no, card)
            )
            if steps:
                yield replace(feature, steps=steps)

    def _is_before(self, feature: str, no: int, card: Card) -> bool:
        return self._cut_on.get((feature, no), 0) < card.no


class Operations(Sequence[Operation]):
    """Every operation in the order of work, worked out when one is first asked for: an edit on a screen asks for none."""

    def __init__(self, record: Record, layout: Layout, features: Features, cards: Sequence[Card]) -> None:
        """Keep what they are worked out from.

        Args:
            record: says which cuts are made already.
            layout: for the finished body's faces.
            features: every cut.
            cards: numbered, in their order.
        """
        self._from = (record, layout, features, cards)

    @cached_property
    def progress(self) -> Progress:
        """What is in the wood when each card's turn comes."""
        return Progress(*self._from)

    @cached_property
    def _all(self) -> tuple[Operation, ...]:
        return _operations(*self._from[1:], self.progress)

    @overload
    def __getitem__(self, index: int) -> Operation: ...

    @overload
    def __getitem__(self, index: slice) -> Sequence[Operation]: ...

    def __getitem__(self, index: int | slice) -> Operation | Sequence[Operation]:
        return self._all[index]

    def __len__(self) -> int:
        return len(self._all)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Operations) and self._from == other._from

    def __hash__(self) -> int:
        return hash(self._from)


def _operations(
    layout: Layout, features: Features, cards: Sequence[Card], progress: Progress
) -> tuple[Operation, ...]:
    by_id = {feature.id: feature for feature in features}
    number = {card.id: card.no for card in cards}
    near = {name: {name, *(each.id for each in others)} for name, others in neighbours(features).items()}
    found = []
    for card in cards:
        if not card.features or card.id in NOT_CUT_BY:
            continue
        made, then = tuple(progress.before(card)), progress.layout(card)
        cuts: list[Cutting] = []
        for name in card.features:
            feature = by_id[name]
            there = [each for each in made if each.id in near[name]]
            if not isinstance(feature, Bore):
                cuts.append(Cutting(name, wood_under_floor(then, feature, there)))
                continue
            for no in steps_cut(card, feature):
                setting = setting_of(layout, feature, no - 1, features.pockets)
                under = wood_under(then, feature, feature.steps[no - 1], there)
                cuts.append(Cutting(name, under, no, feature.at, feature.axis, setting))
        after = tuple(sorted(number[need.first] for need in card.after))
        first = cuts[0].setting
        depth = card.depth if first is None else None
        found.append(
            Operation(card.no, card.id, card.machine, card.face, card.bit, first, depth, tuple(cuts), after)
        )
    return tuple(found)
