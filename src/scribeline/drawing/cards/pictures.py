"""A step card's pictures by themselves, for a screen: where to measure from, and the section under the bit."""

from __future__ import annotations

from scribeline.drawing.beside import is_beside_the_body, picture_beside
from scribeline.drawing.cards.measures import measure_view, measure_view_height
from scribeline.drawing.cards.plans import has_plan, plan_view, tallest_plan
from scribeline.drawing.cards.sections import SECTION_WIDTH, section, section_height
from scribeline.drawing.facing import drawable
from scribeline.drawing.heel import hung
from scribeline.drawing.sheet import Item
from scribeline.plan import Plan
from scribeline.steps import Card

_WIDTH = 180.0
"""Of the picture of where to measure, mm: its lettering is then about the size of a page's own on a tablet."""

_CORNER = (0.0, 0.0)


def picture_of_where(plan: Plan, card: Card) -> tuple[Item, ...]:
    """Where a card's cuts lie and from which edges to measure, or the edges to measure between; may be nothing."""
    plan = drawable(plan)
    if is_beside_the_body(card):
        return hung(picture_beside(plan, card, _WIDTH))
    if measure_view_height(plan, card, _WIDTH):
        return measure_view(plan, card, _CORNER, _WIDTH)
    if not has_plan(plan, card):
        return ()
    return plan_view(plan, card, _CORNER, _WIDTH, tallest_plan(plan, card, _WIDTH))


def picture_of_section(plan: Plan, card: Card) -> tuple[Item, ...]:
    """The wood under the bit with the depths that matter; nothing for a card that cuts to no depth."""
    plan = drawable(plan)
    if card.depth is None or is_beside_the_body(card):
        return ()
    return section(plan, card, _CORNER, SECTION_WIDTH, section_height(plan, card))
