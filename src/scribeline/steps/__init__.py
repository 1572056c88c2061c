"""The order of work and its step cards."""

from scribeline.features import balloon
from scribeline.steps.card import Card, Gate, Gone, Place
from scribeline.steps.cards import make_cards
from scribeline.steps.cautions import BY_MACHINE, DEFERS, PROVE_FIRST, Machine
from scribeline.steps.done import cuts_of, done_steps, made_by_now
from scribeline.steps.edge_cards import edge_place_of, place_words
from scribeline.steps.operations import NOT_CUT_BY, Cutting, Operation, Operations, Progress, steps_cut
from scribeline.steps.ordering import Need, direct, in_order
from scribeline.steps.reopened import reopened
from scribeline.steps.shaping_cards import Shaped, shaped_by
from scribeline.steps.standing import (
    Answer,
    Standing,
    Verdict,
    accepted,
    lets_on,
    next_open,
    reopens,
    standings,
    verdict,
)
from scribeline.steps.stopped import Stopped

__all__ = [
    "BY_MACHINE",
    "DEFERS",
    "NOT_CUT_BY",
    "PROVE_FIRST",
    "Answer",
    "Card",
    "Cutting",
    "Gate",
    "Gone",
    "Machine",
    "Need",
    "Operation",
    "Operations",
    "Place",
    "Progress",
    "Shaped",
    "Standing",
    "Stopped",
    "Verdict",
    "accepted",
    "balloon",
    "cuts_of",
    "direct",
    "done_steps",
    "edge_place_of",
    "in_order",
    "lets_on",
    "made_by_now",
    "make_cards",
    "next_open",
    "place_words",
    "reopened",
    "reopens",
    "shaped_by",
    "standings",
    "steps_cut",
    "verdict",
]
