"""The order of work and its step cards."""

from scribeline.steps.card import Card, Gate, Place, balloon
from scribeline.steps.cards import make_cards
from scribeline.steps.cautions import BY_MACHINE, DEFERS, PROVE_FIRST, Machine
from scribeline.steps.done import cuts_of
from scribeline.steps.ordering import Need, direct, in_order

__all__ = [
    "BY_MACHINE",
    "DEFERS",
    "PROVE_FIRST",
    "Card",
    "Gate",
    "Machine",
    "Need",
    "Place",
    "balloon",
    "cuts_of",
    "direct",
    "in_order",
    "make_cards",
]
