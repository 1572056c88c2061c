"""What ticking a step means: which cuts it made."""

from __future__ import annotations

from collections.abc import Iterator

from scribeline.features import Bore, Features, as_cut
from scribeline.job import Cut
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
        yield as_cut(feature, steps_cut(card, feature) if isinstance(feature, Bore) else None)
