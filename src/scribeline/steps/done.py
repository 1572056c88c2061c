"""What calling a step done means: which cuts it made, and which steps have nothing left to cut."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from scribeline.features import Bore, Feature, Features, as_cut
from scribeline.job import Cut, Record
from scribeline.steps.card import Card
from scribeline.steps.operations import NOT_CUT_BY, steps_cut


def cuts_of(card: Card, features: Features) -> tuple[Cut, ...]:
    """The cuts a step makes, exactly as planned, for the record when it is ticked.

    A card that bores one diameter of stepped holes records that diameter alone. Chasing a hole cuts nothing.

    Args:
        card: the step.
        features: of the plan the card belongs to.
    """
    if card.id in NOT_CUT_BY:
        return ()
    return tuple(_cuts(card, features))


def _cuts(card: Card, features: Features) -> Iterator[Cut]:
    by_id = {feature.id: feature for feature in features}
    for name in card.features:
        feature = by_id[name]
        diameters = steps_cut(card, feature) if isinstance(feature, Bore) else None
        if diameters != ():
            yield as_cut(feature, diameters)


def is_made(card: Card, feature: Feature, made: Collection[tuple[str, int]]) -> bool:
    """Whether a cut is made as far as a step makes it.

    Args:
        card: the step.
        feature: one of its cuts.
        made: which diameters of which holes are made, as `Record.made_steps` gives them.
    """
    diameters = steps_cut(card, feature) if isinstance(feature, Bore) else (1,)
    return all((feature.id, no) in made for no in diameters)


def made_by_now(card: Card, features: Features, record: Record) -> tuple[str, ...]:
    """Ids of the cuts of a step that are made already, whatever the step was called when they were."""
    by_id, made = {feature.id: feature for feature in features}, record.made_steps
    names = () if card.id in NOT_CUT_BY else card.features
    return tuple(name for name in names if is_made(card, by_id[name], made))


def done_steps(cards: Sequence[Card], features: Features, record: Record) -> frozenset[str]:
    """Ids of the steps that are done.

    A step that cuts is done when all its cuts are made: one that has got a hole since is taken up again for that hole,
    and one that goes by another name since is done as it was. A step that cuts nothing, and one of which the record
    names no cut, is done when it was called so.
    """
    by_id, made = {feature.id: feature for feature in features}, record.made_steps
    called = {each.card for each in record.done}
    cut = {each.card for each in record.done if each.cuts}

    def is_done(card: Card) -> bool:
        if card.id in NOT_CUT_BY or not card.features or card.id in called - cut:
            return card.id in called
        return all(is_made(card, by_id[name], made) for name in card.features)

    return frozenset(card.id for card in cards if is_done(card))
