"""Pictures of the workpieces beside the body, for the cards that drill or carve them."""

from __future__ import annotations

from scribeline.drawing.carve import carve_picture
from scribeline.drawing.head import head_picture
from scribeline.drawing.heel import heel_picture
from scribeline.drawing.sheet import Sheet
from scribeline.plan import Plan
from scribeline.steps import Card

_PICTURES = {"neck": heel_picture, "head": head_picture}


def is_beside_the_body(card: Card) -> bool:
    """Whether a card drills the heel or the head, or carves the neck; one that measures the neck has a picture of its own."""
    return card.kind == "carve neck" or (card.workpiece in _PICTURES and bool(card.features))


def picture_beside(plan: Plan, card: Card, widest: float) -> Sheet:
    """What such a card works at, as a picture no wider than there is room for, mm."""
    draw = carve_picture if card.kind == "carve neck" else _PICTURES[card.workpiece]
    return draw(plan, widest)
