"""Sheets that are read rather than looked at: paragraphs, notices and tables, one under the other over pages."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from scribeline.drawing.marks import Kind, Piece, notice, paragraph
from scribeline.drawing.sheet import ACTED_ON_LETTERING, LEAST_LETTERING, Item, Point
from scribeline.drawing.sheets.figures import Cell, Table
from scribeline.drawing.sheets.office import Office, Page

Block = Callable[[Point, float], Piece]
"""Makes a piece that hangs from a corner, so wide; it stays on one page."""

_UNDER_HEADING = 2.5
_BETWEEN = 4.0
"""White between two blocks, mm."""
_IN_COLUMN = 1.5
"""The same in columns of small print, mm."""
_LEAST_ROWS = 3
"""A table is not begun at the foot of a page with fewer rows than these."""


@dataclass(frozen=True, slots=True)
class Listing:
    """A table under its heading and a sentence about it; it may run over several pages.

    Attributes:
        title: the heading; none where the page's own title says it.
        table: its columns are spread over the page.
        lead: what one must know before reading it.
    """

    title: str
    table: Table
    lead: str = ""


@dataclass(frozen=True, slots=True)
class Abreast:
    """Tables side by side, each of which may run over several pages.

    Attributes:
        listings: the tables.
        shares: of the page's width.
        gap: white between them, mm.
    """

    listings: Sequence[Listing]
    shares: Sequence[float] = (1.0,)
    gap: float = 5.0

    def columns(self, left: float, right: float) -> list[tuple[float, float]]:
        """Where each begins and how wide it is, mm."""
        unit = (right - left - self.gap * (len(self.listings) - 1)) / sum(self.shares)
        found, x = [], left
        for share in self.shares:
            found.append((x, share * unit))
            x += share * unit + self.gap
        return found


@dataclass(frozen=True, slots=True)
class Columns:
    """Blocks one under the other in columns of about one height, over as many pages as they need."""

    blocks: Sequence[Block]
    count: int = 2
    gap: float = 8.0


def flowed(
    office: Office,
    title: str,
    blocks: Iterable[Block | Listing | Abreast | Columns],
    *,
    view: str = "",
    scale: str = "",
    cautions: tuple[str, ...] = (),
) -> list[Page]:
    """Pieces one under the other, on as many pages as they need; the pages share title and cautions."""
    left, bottom, right, top = office.window_over(cautions)
    pages: list[list[Item]] = [[]]
    y = top

    def turn() -> None:
        nonlocal y
        pages.append([])
        y = top

    for block in blocks:
        if isinstance(block, Columns):
            waiting = list(block.blocks)
            while waiting:
                piece, count = _columns(block, waiting, (left, y), right - left, y - bottom)
                if count == 0 and pages[-1]:
                    turn()
                    continue
                if count == 0:  # higher than a page: set whole, as a block that is not in columns is
                    piece, count = waiting[0]((left, y), right - left), 1
                pages[-1] += piece.items
                y -= piece.height + _BETWEEN
                waiting = waiting[count:]
                if waiting:
                    turn()
            continue
        if isinstance(block, Listing | Abreast):
            abreast = block if isinstance(block, Abreast) else Abreast((block,))
            columns = [
                _Column(listing, x, width, bottom, top)
                for listing, (x, width) in zip(abreast.listings, abreast.columns(left, right), strict=True)
            ]
            if pages[-1] and any(column.begins_poorly(y) for column in columns):
                turn()
            lots = [column.lots(y) for column in columns]
            for n in range(max(len(each) for each in lots)):
                if n:
                    turn()
                pieces = [
                    column.hung(y, each[n], again=n > 0)
                    for column, each in zip(columns, lots, strict=True)
                    if n < len(each)
                ]
                pages[-1] += [item for piece in pieces for item in piece.items]
                y -= max(piece.height for piece in pieces) + _BETWEEN
            continue
        piece = block((left, y), right - left)
        if y - piece.height < bottom and pages[-1]:
            turn()
            piece = block((left, y), right - left)
        pages[-1] += piece.items
        y -= piece.height + _BETWEEN
    return [Page(title, tuple(items), view, scale, cautions) for items in pages if items]


class _Column:
    """One table of those that stand side by side, on a page between two heights."""

    def __init__(self, listing: Listing, x: float, width: float, bottom: float, top: float) -> None:
        self.listing, self.x, self.width, self.bottom, self.top = listing, x, width, bottom, top
        self.table = listing.table.spread(width)

    def _head(self, y: float, *, again: bool) -> Piece:
        title, lead = self.listing.title, self.listing.lead
        return _head(_continued(title) if again else title, "" if again else lead, (self.x, y), self.width)

    def lots(self, y: float) -> list[list[Sequence[Cell]]]:
        further = self.top - self._head(self.top, again=True).height - self.bottom
        return self.table.lots(y - self._head(y, again=False).height - self.bottom, further)

    def begins_poorly(self, y: float) -> bool:
        """Whether so few rows would stand on the page that it is not worth beginning there."""
        lots = self.lots(y)
        return len(lots) > 1 and len(lots[0]) < _LEAST_ROWS

    def hung(self, y: float, rows: list[Sequence[Cell]], *, again: bool) -> Piece:
        head = self._head(y, again=again)
        body = self.table.hung((self.x, y - head.height), rows)
        return Piece((*head.items, *body.items), self.width, head.height + body.height)


def _columns(
    columns: Columns, blocks: Sequence[Block], at: Point, width: float, room: float
) -> tuple[Piece, int]:
    """As many of the blocks as the room holds, in columns as level as may be; and how many they are.

    None where the first is higher than the room.
    """
    wide = (width - columns.gap * (columns.count - 1)) / columns.count
    heights = [block(at, wide).height for block in blocks]

    def parted(most: float) -> list[list[int]]:
        lots: list[list[int]] = [[]]
        used = 0.0
        for n, height in enumerate(heights):
            if lots[-1] and used + height > most:
                if len(lots) == columns.count:
                    break
                lots.append([])
                used = 0.0
            lots[-1].append(n)
            used += height + _IN_COLUMN
        return lots

    if heights[0] > room:
        return Piece((), 0.0, 0.0), 0
    best = parted(room)
    count = sum(map(len, best))
    low, high = 0.0, room
    for _ in range(12):  # to a fraction of a millimetre
        middle = (low + high) / 2
        lots = parted(middle)
        if sum(map(len, lots)) == count and max(heights) <= middle:
            best, high = lots, middle
        else:
            low = middle
    items: list[Item] = []
    tallest = 0.0
    for k, lot in enumerate(best):
        y = at[1]
        for n in lot:
            piece = blocks[n]((at[0] + k * (wide + columns.gap), y), wide)
            items += piece.items
            y -= piece.height + _IN_COLUMN
        tallest = max(tallest, at[1] - y - _IN_COLUMN)
    return Piece(tuple(items), width, tallest), count


def _continued(title: str) -> str:
    return f"{title}, continued" if title else ""


def _head(title: str, lead: str, at: Point, width: float) -> Piece:
    """A heading and a lead, with the white under them."""
    items: list[Item] = []
    y = at[1]
    if title:
        named = paragraph(title, (at[0], y), width, bold=True)
        items += named.items
        y -= named.height - 1.3 + _UNDER_HEADING
    if lead:
        piece = paragraph(lead, (at[0], y), width)
        items += piece.items
        y -= piece.height + _UNDER_HEADING - 0.5
    return Piece(tuple(items), width, at[1] - y)


def tabled(title: str, table: Table) -> Block:
    """A table under its heading that stays whole; its columns are spread over the room."""

    def made(at: Point, width: float) -> Piece:
        head = _head(title, "", at, width)
        body = table.spread(width).hung((at[0], at[1] - head.height))
        return Piece((*head.items, *body.items), width, head.height + body.height)

    return made


def stacked(*blocks: Block, gap: float = LEAST_LETTERING) -> Block:
    """Blocks that stay together on a page."""

    def made(at: Point, width: float) -> Piece:
        items: list[Item] = []
        y = at[1]
        for block in blocks:
            piece = block((at[0], y), width)
            items += piece.items
            y -= piece.height + gap
        return Piece(tuple(items), width, at[1] - y - gap)

    return made


def beside(blocks: Sequence[Block], *, gap: float = 8.0, shares: Sequence[float] = ()) -> Block:
    """Blocks side by side in columns of one width, or of these shares."""
    shares = shares or [1.0] * len(blocks)

    def made(at: Point, width: float) -> Piece:
        unit = (width - gap * (len(blocks) - 1)) / sum(shares)
        x, pieces = at[0], []
        for block, share in zip(blocks, shares, strict=True):
            pieces.append(block((x, at[1]), share * unit))
            x += share * unit + gap
        items = tuple(item for piece in pieces for item in piece.items)
        return Piece(items, width, max(piece.height for piece in pieces))

    return made


def words(text: str, *, bold: bool = False, indent: float = 0.0, height: float = ACTED_ON_LETTERING) -> Block:
    """A paragraph."""
    return lambda at, width: paragraph(
        text, (at[0] + indent, at[1]), width - indent, height=height, bold=bold
    )


def noticed(kind: Kind, sentence: str) -> Block:
    """A sentence behind its tag."""
    return lambda at, width: notice(kind, sentence, at, width)
