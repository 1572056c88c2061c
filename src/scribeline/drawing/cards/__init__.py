"""Step cards on paper: one card a page, figures one reads at arm's length."""

from scribeline.drawing.cards.making import step_card_sheets

__all__ = ["step_card_sheets"]
