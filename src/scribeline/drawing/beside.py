"""Pictures of the workpieces beside the body, for the cards that drill them."""

from __future__ import annotations

from scribeline.drawing.head import head_picture
from scribeline.drawing.heel import heel_picture
from scribeline.drawing.sheet import Sheet
from scribeline.plan import Plan
from scribeline.steps import Card

_PICTURES = {"neck": heel_picture, "head": head_picture}


def is_beside_the_body(card: Card) -> bool:
    """Whether a card drills the heel or the head, so that its picture is theirs; one that measures the neck has its own."""
    return card.workpiece in _PICTURES and bool(card.features)


def picture_beside(plan: Plan, card: Card, widest: float) -> Sheet:
    """What such a card drills, as a picture no wider than there is room for, mm."""
    return _PICTURES[card.workpiece](plan, widest)
