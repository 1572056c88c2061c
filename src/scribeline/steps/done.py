"""What ticking a step means: which cuts it made."""

from __future__ import annotations

from collections.abc import Iterator

from scribeline.features import Bore, Features, as_cut
from scribeline.job import Cut
from scribeline.steps.card import Card


def cuts_of(card: Card, features: Features) -> tuple[Cut, ...]:
    """The cuts a step makes, exactly as planned, for the record when it is ticked.

    A card that bores one diameter of stepped holes records that diameter alone. Chasing a hole cuts nothing.

    Args:
        card: the step.
        features: of the plan the card belongs to.
    """
    if card.id == "chase":
        return ()
    return tuple(_cuts(card, features))


def _cuts(card: Card, features: Features) -> Iterator[Cut]:
    by_id = {feature.id: feature for feature in features}
    for name in card.features:
        feature = by_id[name]
        yield as_cut(feature, _bored(card, feature) if isinstance(feature, Bore) else None)


def _bored(card: Card, bore: Bore) -> tuple[int, ...] | None:
    """Which diameters of a hole this card's bit bores, the widest being 1; None for all of them."""
    with_its_bit = tuple(no for no, step in enumerate(bore.steps, start=1) if step.bit == card.bit)
    return with_its_bit or None
