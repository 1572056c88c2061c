"""Sheets that are read rather than looked at: paragraphs, notices and tables, one under the other over pages."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations

from scribeline.drawing.marks import Piece, notice, paragraph
from scribeline.drawing.sheet import ACTED_ON_LETTERING, LEAST_LETTERING, Item, Point, Window
from scribeline.drawing.sheets.figures import Cell, Table
from scribeline.drawing.sheets.office import Office, Page
from scribeline.findings import Tag

Block = Callable[[Point, float], Piece]
"""Makes a piece that hangs from a corner, so wide; it stays on one page."""

_UNDER_HEADING = 2.5
_BETWEEN = 4.0
"""White between two blocks, mm."""
_IN_COLUMN = 1.2
"""The same in columns of small print, mm."""
_INDENT, _CLOSE = 1.5, 1.6
"""Of small print: from the left, mm, and the pitch of its lines in heights."""
_LEAST_ROWS = 3
"""A table is not begun at the foot of a page with fewer rows than these."""


@dataclass(frozen=True, slots=True)
class Listing:
    """A table under its heading and a sentence about it; it may run over several pages.

    Attributes:
        title: the heading; none where the page's own title says it.
        table: its columns are spread over the page.
        lead: what one must know before reading it.
        small: whether the lead is in the least lettering: nobody acts on it.
        abreast: in how many columns of the page its rows run on, each under the headings.
    """

    title: str
    table: Table
    lead: str = ""
    small: bool = False
    abreast: int = 1


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
    flow = _Flow(office.window_over(cautions))
    for block in blocks:
        flow.put(block)
    return [Page(title, tuple(items), view, scale, cautions) for items in flow.pages if items]


class _Flow:
    """Pages being filled from the top."""

    def __init__(self, window: Window) -> None:
        self.left, self.bottom, self.right, self.top = window
        self.pages: list[list[Item]] = [[]]
        self.y = self.top

    def turn(self) -> None:
        """Begin a page."""
        self.pages.append([])
        self.y = self.top

    def put(self, block: Block | Listing | Abreast | Columns) -> None:
        """One thing more, on a further page where this one has no room for it."""
        if isinstance(block, Columns):
            self._columns(block)
        elif isinstance(block, Listing) and block.abreast > 1:
            self._running(block)
        elif isinstance(block, Listing | Abreast):
            self._tables(block if isinstance(block, Abreast) else Abreast((block,)))
        else:
            self._whole(block)

    def _hang(self, piece: Piece) -> None:
        self.pages[-1] += piece.items
        self.y -= piece.height + _BETWEEN

    def _columns(self, block: Columns) -> None:
        waiting, width = list(block.blocks), self.right - self.left
        while waiting:
            piece, count = _columns(block, waiting, (self.left, self.y), width, self.y - self.bottom)
            if count == 0 and self.pages[-1]:
                self.turn()
                continue
            if count == 0:  # higher than a page: set whole, as a block that is not in columns is
                piece, count = waiting[0]((self.left, self.y), width), 1
            self._hang(piece)
            waiting = waiting[count:]
            if waiting:
                self.turn()

    def _running(self, listing: Listing) -> None:
        running = _Running(listing, self.left, self.right, self.bottom, self.top)
        if self.pages[-1] and running.begins_poorly(self.y):
            self.turn()
        while running.rows:
            self._hang(running.hung(self.y))
            if running.rows:
                self.turn()

    def _tables(self, abreast: Abreast) -> None:
        columns = [
            _Column(listing, x, width, self.bottom, self.top)
            for listing, (x, width) in zip(
                abreast.listings, abreast.columns(self.left, self.right), strict=True
            )
        ]
        if self.pages[-1] and any(column.begins_poorly(self.y) for column in columns):
            self.turn()
        lots = [column.lots(self.y) for column in columns]
        for n in range(max(len(each) for each in lots)):
            if n:
                self.turn()
            pieces = [
                column.hung(self.y, each[n], again=n > 0)
                for column, each in zip(columns, lots, strict=True)
                if n < len(each)
            ]
            items = tuple(item for piece in pieces for item in piece.items)
            self._hang(Piece(items, self.right - self.left, max(piece.height for piece in pieces)))

    def _whole(self, block: Block) -> None:
        piece = block((self.left, self.y), self.right - self.left)
        if self.y - piece.height < self.bottom and self.pages[-1]:
            self.turn()
            piece = block((self.left, self.y), self.right - self.left)
        self._hang(piece)


class _Column:
    """One table of those that stand side by side, on a page between two heights."""

    def __init__(self, listing: Listing, x: float, width: float, bottom: float, top: float) -> None:
        self.listing, self.x, self.width, self.bottom, self.top = listing, x, width, bottom, top
        self.table = listing.table.spread(width)

    def _head(self, y: float, *, again: bool) -> Piece:
        return _head(self.listing, (self.x, y), self.width, again=again)

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


class _Running:
    """One table whose rows run on in columns of the page, and over pages, between two heights."""

    _GAP = 4.0

    def __init__(self, listing: Listing, left: float, right: float, bottom: float, top: float) -> None:
        self.listing, self.left, self.bottom, self.top = listing, left, bottom, top
        self.width = right - left
        self.column = (self.width - self._GAP * (listing.abreast - 1)) / listing.abreast
        self.table = listing.table.spread(self.column)
        self.rows = list(listing.table.rows)

    def _lots(self, room: float) -> list[list[Sequence[Cell]]]:
        """What is left in lots of a column each, as many as stand abreast."""
        return self.table.lots(room, rows=self.rows, most=self.listing.abreast)

    def _head(self, y: float) -> Piece:
        again = len(self.rows) < len(self.listing.table.rows)
        return _head(self.listing, (self.left, y), self.width, again=again)

    def begins_poorly(self, y: float) -> bool:
        """Whether so few rows would stand in a column that it is not worth beginning there."""
        room = y - self._head(y).height - self.bottom
        lots = self.table.lots(room, self.top, rows=self.rows[:_LEAST_ROWS])
        return len(lots[0]) < min(_LEAST_ROWS, len(self.rows))

    def hung(self, y: float) -> Piece:
        """As many rows as the page holds, the columns as level as may be; they are no longer left."""
        head = self._head(y)
        low, high = 0.0, y - head.height - self.bottom
        lots = self._lots(high)
        taken = sum(map(len, lots))
        for _ in range(12):  # to a fraction of a millimetre
            middle = (low + high) / 2
            level = self._lots(middle)
            if sum(map(len, level)) >= taken:
                lots, high = level, middle
            else:
                low = middle
        self.rows = self.rows[taken:]
        items, tallest = list(head.items), 0.0
        for n, lot in enumerate(lots):
            at = (self.left + n * (self.column + self._GAP), y - head.height)
            piece = self.table.hung(at, lot)
            items += piece.items
            tallest = max(tallest, piece.height)
        return Piece(tuple(items), self.width, head.height + tallest)


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


def _head(listing: Listing, at: Point, width: float, *, again: bool = False) -> Piece:
    """A heading and a lead, with the white under them; no lead where the table runs on."""
    items: list[Item] = []
    y = at[1]
    if listing.title:
        named = paragraph(listing.title + (", continued" if again else ""), (at[0], y), width, bold=True)
        items += named.items
        y -= named.height - 1.3 + _UNDER_HEADING
    if listing.lead and not again:
        height = LEAST_LETTERING if listing.small else ACTED_ON_LETTERING
        piece = paragraph(listing.lead, (at[0], y), width, height=height)
        items += piece.items
        y -= piece.height + _UNDER_HEADING - 0.5
    return Piece(tuple(items), width, at[1] - y)


def tabled(title: str, table: Table) -> Block:
    """A table under its heading that stays whole; its columns are spread over the room."""

    def made(at: Point, width: float) -> Piece:
        head = _head(Listing(title, table), at, width)
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


def levelled(blocks: Sequence[Block], *, gap: float = 8.0) -> Block:
    """Few blocks in two columns, in whatever order makes them most nearly of one height."""

    def made(at: Point, width: float) -> Piece:
        heights = [block(at, (width - gap) / 2).height for block in blocks]
        # The first stands in the left column: any other choice is the mirror image of one of these.
        choices = [
            (0, *others) for n in range(len(blocks)) for others in combinations(range(1, len(blocks)), n)
        ]

        def taller(chosen: tuple[int, ...]) -> float:
            left = sum(heights[n] for n in chosen)
            return max(left, sum(heights) - left)

        chosen = min(choices, key=taller)
        columns = [
            stacked(*(block for n, block in enumerate(blocks) if (n in chosen) is left))
            for left in (True, False)
        ]
        return beside(columns, gap=gap)(at, width)

    return made


def words(text: str, *, bold: bool = False, height: float = ACTED_ON_LETTERING) -> Block:
    """A paragraph."""
    return lambda at, width: paragraph(text, at, width, height=height, bold=bold)


def small_print(text: str) -> Block:
    """A paragraph that is seldom read: in the least lettering, its lines a little closer."""
    return lambda at, width: paragraph(
        text, (at[0] + _INDENT, at[1]), width - _INDENT, height=LEAST_LETTERING, pitch=_CLOSE
    )


def noticed(kind: Tag, sentence: str) -> Block:
    """A sentence behind its tag."""
    return lambda at, width: notice(kind, sentence, at, width)
