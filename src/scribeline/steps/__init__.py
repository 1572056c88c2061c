"""Step cards: the operations in words, and how the work stands."""

from scribeline.features import balloon
from scribeline.steps.card import Ask, Card, Gate, Gone, Place
from scribeline.steps.cards import make_cards
from scribeline.steps.cautions import BY_MACHINE, DEFERS, PROVE_FIRST
from scribeline.steps.edge_cards import edge_place_of, place_words
from scribeline.steps.reopened import reopened
from scribeline.steps.shaping_cards import Shaped, shaped_by
from scribeline.steps.standing import (
    Answer,
    Standing,
    Verdict,
    accepted,
    answered,
    as_measured,
    depths_read,
    gate_readings,
    lets_on,
    next_open,
    read_at_gates,
    reopens,
    standings,
    verdict,
)
from scribeline.steps.stopped import Stopped

__all__ = [
    "BY_MACHINE",
    "DEFERS",
    "PROVE_FIRST",
    "Answer",
    "Ask",
    "Card",
    "Gate",
    "Gone",
    "Place",
    "Shaped",
    "Standing",
    "Stopped",
    "Verdict",
    "accepted",
    "answered",
    "as_measured",
    "balloon",
    "depths_read",
    "edge_place_of",
    "gate_readings",
    "lets_on",
    "make_cards",
    "next_open",
    "place_words",
    "read_at_gates",
    "reopened",
    "reopens",
    "shaped_by",
    "standings",
    "verdict",
]
