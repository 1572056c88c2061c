"""The fixed parts of a step card's page: the head, the footer, and the room between them."""

from __future__ import annotations

from dataclasses import dataclass

from scribeline.drawing.card_blocks import (
    CELLS_ROW,
    GAP,
    PITCH,
    Block,
    black,
    black_tag,
    black_tag_width,
    cells_row,
    laid,
    lettered,
    lines,
    shortened,
)
from scribeline.drawing.face import text_width
from scribeline.drawing.sheet import LEAST_LETTERING, LETTERING, OUTLINE, TAG, Item, Line, Point, Sheet, Text
from scribeline.plan import Plan
from scribeline.steps import DEFERS, PROVE_FIRST, Card

DECIDING = 12.0
"""Capital height of the figures that decide, mm."""
TITLE = 8.0
"""Capital height of a card's title, mm."""
COLUMN_GAP = 6.0
"""White between the two columns, mm."""

_MARGIN = 9.0
_NUMBER_BOX = 17.0
_OVER_LEAF = 5.4
"""White between the columns and the footer, where a card that runs on says so, mm."""
_LONG_TITLE = 7.0
_MOST_TITLE_LINES = 3

Columns = tuple[list[Block], list[Block]]


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

    @property
    def column(self) -> float:
        """Width of one of the two columns, mm."""
        return (self.inner - COLUMN_GAP) / 2

    def room(self, card: Card) -> float:
        """Height between head and footer, mm."""
        return self.height - _MARGIN - self._head(card, 1).height - self._footer_top() - GAP - _OVER_LEAF

    def _footer_top(self) -> float:
        return _MARGIN + CELLS_ROW + 1.2 + len(self._small_print()) * PITCH * LEAST_LETTERING

    def _small_print(self) -> tuple[str, ...]:
        return lines(f"{PROVE_FIRST} {DEFERS}", self.inner, LEAST_LETTERING)

    def sheet(
        self, card: Card, part: int, columns: Columns, *, runs_on: bool, number: int, sheets: int
    ) -> Sheet:
        """One page of a card."""
        left, top = _MARGIN, self.height - _MARGIN
        head = self._head(card, part)
        y = top - head.height - GAP
        items = [
            *head.draw((left, top)),
            *laid(columns[0], (left, y)),
            *laid(columns[1], (left + self.column + COLUMN_GAP, y)),
            *self._footer(card, number, sheets),
        ]
        if runs_on:
            at = (self.width - _MARGIN, self._footer_top() + 1.5)
            items.append(
                Text(LETTERING, at, f"Step {card.no} goes on on the next sheet", 3.5, "end", bold=True)
            )
        more = ", continued" if part else ""
        return Sheet(f"step {card.no}{more}", self.width, self.height, tuple(items))

    def _head(self, card: Card, part: int = 0) -> Block:
        """Number, title, the face that lies up and the machine."""
        total = f"of {len(self.plan.cards)}"
        number = str(card.no)
        wide = text_width(number, DECIDING, bold=True)
        beside = max(text_width(total, 4.0), text_width("STEP", 3.5, bold=True))
        number_box = wide + beside + 9.0
        face = {"top": "TOP FACE UP", "back": "BACK UP"}.get(card.face, "")
        tag_height = 5.0
        aside = max(
            black_tag_width(face, tag_height) if face else 0.0,
            text_width(card.machine, tag_height, bold=True),
        )
        title_width = self.inner - number_box - aside - 9.0
        words, size = _title(card.title + (", continued" if part else ""), title_width)
        stack = ((len(words) - 1) * PITCH + 1.0) * size
        tall = max(_NUMBER_BOX, stack + 2.5)

        def draw(corner: Point) -> tuple[Item, ...]:
            x, y = corner
            base = y - (tall + DECIDING) / 2
            right = x + self.inner
            items: list[Item] = [
                black(corner, number_box, tall),
                Text(TAG, (x + 3.0, base), number, DECIDING, bold=True, white=True),
                Text(TAG, (x + 6.0 + wide, base + 7.4), "STEP", 3.5, bold=True, white=True),
                Text(TAG, (x + 6.0 + wide, base), total, 4.0, white=True),
                *lettered(words, (x + number_box + 4.5, y - (tall - stack) / 2), size, bold=True),
                Line(OUTLINE, (x, y - tall - GAP / 2), (right, y - tall - GAP / 2)),
            ]
            if face:
                items += black_tag(face, (right - black_tag_width(face, tag_height), y), tag_height)
            machine_y = y - tall + 1.0 if face else y - (tall + tag_height) / 2
            items.append(Text(LETTERING, (right, machine_y), card.machine, tag_height, "end", bold=True))
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
            ("Units", "mm, inches below"),
            ("Datums", "12th crown, pocket end wall, centreline"),
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
