"""Step cards: on paper, figures one reads at arm's length; their pictures also for a screen."""

from scribeline.drawing.cards.making import begin_cards, step_cards
from scribeline.drawing.cards.pictures import picture_of_section, picture_of_where

__all__ = ["begin_cards", "picture_of_section", "picture_of_where", "step_cards"]
