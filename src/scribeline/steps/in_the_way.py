"""What must come off the body before a step, and go back on: the neck, the bridge's plate.

With the back up the body lies on its top, where neither may stand proud; a drill that comes in through the neck's
pocket has no way while the neck is in it; and the plate hides the mouth of its own wire's hole.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

from scribeline.layout import HEEL
from scribeline.steps.card import Card
from scribeline.steps.shaping_cards import REFIT, is_shaping

NECK_OFF = "Take the neck off."
NECK_BACK = "Put the neck back by its screws."
NECK_OVER_THE_END = (
    "Lay the body on a flat board, thicker than the neck stands proud, and let the neck hang over the end."
)
PLATE_OFF = "Take the plate off. Its screw holes keep its place."

_BY_THE_FRETS = frozenset({"set-plate", "fit-hardware"})
"""Cards that measure from a fret, and so need the neck in its place."""


@dataclass(frozen=True, slots=True)
class Obstructed:
    """Cards that something on the body is in the way of, by id.

    Attributes:
        by_neck: those whose drill comes in through the neck's pocket.
        by_plate: those whose hole begins under the bridge's plate.
    """

    by_neck: Collection[str] = ()
    by_plate: Collection[str] = ()


def cleared(cards: Sequence[Card], obstructed: Obstructed, *, glued: bool) -> Iterator[Card]:
    """The cards in their order, each with what comes off for it or goes back on as the first lines to do.

    Args:
        cards: in their order.
        obstructed: what the neck and the plate are in the way of.
        glued: whether the neck is glued in by the card that refits it, and then stays.
    """
    neck = plate = fast = over_the_end = False
    for card in cards:
        lies_on_top = card.face == "back" and card.machine not in {"bench", "finish"}
        first: list[str] = []
        if neck and not fast and (lies_on_top or is_shaping(card.id) or card.id in obstructed.by_neck):
            first.append(NECK_OFF)
            neck = False
        elif neck and lies_on_top and not over_the_end:
            first.append(NECK_OVER_THE_END)
        elif not neck and card.id in _BY_THE_FRETS:
            first.append(NECK_BACK)
            neck = True
        if plate and (lies_on_top or card.id in obstructed.by_plate):
            first.append(PLATE_OFF)
            plate = False
        over_the_end = neck and (lies_on_top or (over_the_end and card.face != "top"))
        neck = neck or card.id in {"fit-neck", HEEL, REFIT}
        fast = fast or (glued and card.id == REFIT)
        plate = plate or card.id == "fix-plate"
        yield replace(card, do=(*first, *card.do)) if first else card
