"""The fixed parts of a step card's page: the head, the footer, and the room between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from scribeline.drawing.block import BOTH_UNITS
from scribeline.drawing.cards.blocks import (
    CELLS_ROW,
    GAP,
    PITCH,
    Block,
    black,
    black_tag,
    black_tag_width,
    cells_row,
    lettered,
    lines,
    shortened,
    stacked,
)
from scribeline.drawing.face import text_width
from scribeline.drawing.sheet import LEAST_LETTERING, LETTERING, OUTLINE, TAG, Item, Line, Point, Sheet, Text
from scribeline.plan import Plan
from scribeline.steps import DEFERS, PROVE_FIRST, Card

DECIDING = 12.0
"""Least capital height of the figures that decide, mm."""
TITLE = 8.0
"""Capital height of a card's title, mm."""

FOOT_GAP = 2.2
"""White between the cautions and what came before, mm."""

_MARGIN = 7.0
_NUMBER_BOX = 18.0
_TAG = 4.6
_STRIP = 1.7 * _TAG
_LONG_TITLE = 7.0
_MOST_TITLE_LINES = 2
_WIDER = 9.0
"""How much the white between two parts may grow on a page with room to spare, mm."""
_DATUMS = "Datums: centre of the 12th fret, pocket end wall, centreline."


@dataclass(frozen=True, slots=True)
class Page:
    """A page's fixed parts: head, footer, and the room between."""

    plan: Plan
    width: float
    height: float

    @property
    def inner(self) -> float:
        """Width between the margins, mm."""
        return self.width - 2 * _MARGIN

    def room(self, card: Card) -> float:
        """Height between head and footer, mm."""
        return self.height - _MARGIN - self._head(card, 1, 1).height - 1.5 * GAP - self._footer_top()

    def _footer_top(self) -> float:
        return _MARGIN + CELLS_ROW + 1.2 + len(self._small_print()) * PITCH * LEAST_LETTERING

    def _small_print(self) -> tuple[str, ...]:
        return lines(f"{_DATUMS} {PROVE_FIRST} {DEFERS}", self.inner, LEAST_LETTERING)

    def sheet(
        self,
        card: Card,
        body: Sequence[Block],
        foot: Sequence[Block],
        *,
        part: int,
        parts: int,
        number: int,
        sheets: int,
    ) -> Sheet:
        """One page of a card: the body below the head, the foot above the footer, spare white between the blocks.

        Args:
            card: the step.
            body: what stands from the head down.
            foot: what stands on the footer.
            part: which of the card's pages it is, from 1.
            parts: how many the card has.
            number: which of the sheets it is, from 1.
            sheets: how many there are.
        """
        left, top = _MARGIN, self.height - _MARGIN
        head = self._head(card, part, parts)
        y = top - head.height - GAP
        bottom = stacked(foot, FOOT_GAP)
        taken = stacked(body).height + bottom.height + (GAP if foot else 0.0)
        spare = y - self._footer_top() - GAP / 2 - taken
        gap = GAP + min(_WIDER, max(0.0, spare) / max(1, len(body)))
        items = [
            *head.draw((left, top)),
            *stacked(body, gap).draw((left, y)),
            *bottom.draw((left, self._footer_top() + GAP / 2 + bottom.height)),
            *self._footer(card, number, sheets),
        ]
        more = ", continued" if part > 1 else ""
        return Sheet(f"step {card.no}{more}", self.width, self.height, tuple(items))

    def _head(self, card: Card, part: int, parts: int) -> Block:
        """Number and title; below them the face that lies up, the machine, and which page of how many."""
        number = str(card.no)
        number_box = text_width(number, DECIDING, bold=True) + 6.0
        title_width = self.inner - number_box - 4.5
        words, size = _title(card.title, title_width)
        stack = ((len(words) - 1) * PITCH + 1.0) * size
        tall = max(_NUMBER_BOX, stack + 2.4 + _STRIP)
        face = {"top": "TOP FACE UP", "back": "BACK FACE UP"}.get(card.face, "")
        place = f"step {card.no} of {len(self.plan.cards)}" + (
            f", page {part} of {parts}" if parts > 1 else ""
        )

        def draw(corner: Point) -> tuple[Item, ...]:
            x, y = corner
            left, right = x + number_box + 4.5, x + self.inner
            strip = y - tall + _STRIP
            base = strip - 0.35 * _TAG - _TAG
            items: list[Item] = [
                black(corner, number_box, tall),
                Text(TAG, (x + 3.0, y - (tall + DECIDING) / 2), number, DECIDING, bold=True, white=True),
                *lettered(words, (left, y), size, bold=True),
                Text(LETTERING, (right, base), place, 4.0, "end"),
                Line(OUTLINE, (x, y - tall - GAP / 2), (right, y - tall - GAP / 2)),
            ]
            if face:
                items += black_tag(face, (left, strip), _TAG, pad=0.35)
                left += black_tag_width(face, _TAG) + 4.0
            items.append(Text(LETTERING, (left, base), card.machine, _TAG, bold=True))
            return tuple(items)

        return Block(tall, draw)

    def _footer(self, card: Card, number: int, sheets: int) -> list[Item]:
        document = self.plan.job.document
        small = self._small_print()
        foot = len(small) * PITCH * LEAST_LETTERING
        view = {"top": "seen from the front", "back": "seen from the back"}.get(card.face, "–")
        cells = (
            ("Job", document.name),
            ("Revision", document.revision),
            ("Date", document.date.isoformat() if document.date else ""),
            ("Hand", f"{document.handed}-handed"),
            ("View", view),
            ("Units", BOTH_UNITS[self.plan.unit]),
            ("Sheet", f"{number} of {sheets}"),
        )
        return [
            *cells_row(cells, (_MARGIN, self._footer_top()), self.inner),
            *lettered(small, (_MARGIN, _MARGIN + foot - 0.2), LEAST_LETTERING),
        ]


def _title(words: str, width: float) -> tuple[tuple[str, ...], float]:
    """The title's lines and their height: one of 8 mm, or up to three of 7 mm, cut after that."""
    found = lines(words, width, TITLE, True)
    if len(found) == 1:
        return found, TITLE
    found = lines(words, width, _LONG_TITLE, True)
    if len(found) > _MOST_TITLE_LINES:
        rest = " ".join(found[_MOST_TITLE_LINES - 1 :])
        last = shortened(rest + "…", width, _LONG_TITLE, bold=True)
        found = (*found[: _MOST_TITLE_LINES - 1], last)
    return found, _LONG_TITLE
