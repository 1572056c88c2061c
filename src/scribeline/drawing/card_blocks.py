"""What step cards are built of: blocks that know their height, packed into the two columns of a page."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

from scribeline.drawing.drafting import TEXT_GAP
from scribeline.drawing.face import text_width, wrap
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    FRAME,
    LETTERING,
    OUTLINE,
    RULING,
    TAG,
    Anchor,
    Fill,
    Item,
    Layer,
    Line,
    Path,
    Point,
    Text,
)

PITCH = 1.5
"""Distance from base line to base line, in capital heights: the least of ISO 3098-1 (21/14)."""
GAP = 4.0
"""White between two blocks, mm."""
PAD = 2.2
"""White between a box and its lettering, mm."""

Draw = Callable[[Point], tuple[Item, ...]]


@dataclass(frozen=True, slots=True)
class Block:
    """A part of a card: its height, and how to draw it from its top left corner.

    Attributes:
        height: mm.
        draw: gives the marks for a top left corner.
        home: the column it belongs into where there is a choice: 0 left, 1 right, None either.
        fixed: whether it may stand nowhere but in its home column.
        rank: what is put off to a continuation first when a page is full: the highest.
    """

    height: float
    draw: Draw
    home: int | None = None
    rank: int = 0
    fixed: bool = False


@cache
def lines(text: str, width: float, height: float, bold: bool = False) -> tuple[str, ...]:
    """`text` wrapped; the same sentences stand on many cards."""
    return tuple(wrap(text, width, height, bold=bold))


def stack_height(count: int, height: float) -> float:
    """Height of `count` lines, from the first capitals' top to the last descenders, mm."""
    return (count - 1) * PITCH * height + 1.35 * height


def lettered(
    words: Sequence[str],
    corner: Point,
    height: float,
    *,
    bold: bool = False,
    anchor: Anchor = "start",
    layer: Layer = LETTERING,
) -> tuple[Item, ...]:
    """Lines of lettering below a top left corner (or a top middle or right point, by `anchor`)."""
    x, y = corner
    return tuple(
        Text(layer, (x, y - height - n * PITCH * height), line, height, anchor, bold=bold)
        for n, line in enumerate(words)
        if line
    )


def box(corner: Point, width: float, height: float, layer: Layer = OUTLINE) -> Path:
    """A rectangle hanging from its top left corner."""
    x, y = corner
    return Path(layer, ((x, y), (x + width, y), (x + width, y - height), (x, y - height)), closed=True)


def black(corner: Point, width: float, height: float) -> Fill:
    """A black rectangle hanging from its top left corner."""
    x, y = corner
    return Fill(TAG, (((x, y), (x + width, y), (x + width, y - height), (x, y - height)),))


def black_tag(words: str, corner: Point, height: float, *, pad: float = 0.45) -> tuple[Item, ...]:
    """White letters on black, hanging from a top left corner; `pad` capital heights above and below."""
    x, y = corner
    return (
        black(corner, black_tag_width(words, height), (1.0 + 2 * pad) * height),
        Text(TAG, (x + 0.6 * height, y - (1.0 + pad) * height), words, height, bold=True, white=True),
    )


def black_tag_width(words: str, height: float) -> float:
    """Width of a `black_tag`, mm."""
    return text_width(words, height, bold=True) + 1.2 * height


def listed(
    heading: str, points: Sequence[str], width: float, height: float, room: float
) -> list[tuple[float, Draw]]:
    """A heading over sentences, each behind a dash, parted into pieces no higher than `room`."""
    indent = 1.1 * height
    rows: list[tuple[bool, str]] = []
    for point in points:
        for n, line in enumerate(lines(point, width - indent, height)):
            rows.append((n == 0, line))
    head = stack_height(1, height) + 0.4 * height
    most = max(1, int((room - head - 1.35 * height) / (PITCH * height)))
    pieces: list[tuple[float, Draw]] = []
    for start in range(0, len(rows), most):
        part = rows[start : start + most]

        def draw(corner: Point, part: list[tuple[bool, str]] = part) -> tuple[Item, ...]:
            x, y = corner
            items: list[Item] = [*lettered((heading,), corner, height, bold=True)]
            for n, (first, line) in enumerate(part):
                base = y - head - height - n * PITCH * height
                if first:
                    items.append(Text(LETTERING, (x, base), "–", height))
                items.append(Text(LETTERING, (x + indent, base), line, height))
            return tuple(items)

        pieces.append((head + stack_height(len(part), height), draw))
    return pieces


def warned(sentences: Sequence[str], width: float, height: float, room: float) -> list[tuple[float, Draw]]:
    """Cautions in an outlined box under one outlined tag, parted into boxes no higher than `room`."""
    inner, indent = width - 2 * PAD, 1.1 * height
    word = "CAUTION"
    tag_width = text_width(word, height, bold=True) + 0.9 * height
    tag_height = 1.9 * height
    rows = [
        (n == 0, line)
        for sentence in sentences
        for n, line in enumerate(lines(sentence, inner - indent, height))
    ]
    head = tag_height + 0.7 * height
    most = max(1, int((room - head - PAD - 1.35 * height) / (PITCH * height)))
    pieces: list[tuple[float, Draw]] = []
    for start in range(0, len(rows), most):
        part = rows[start : start + most]
        tall = head + stack_height(len(part), height) + PAD / 2

        def draw(corner: Point, part: list[tuple[bool, str]] = part, tall: float = tall) -> tuple[Item, ...]:
            x, y = corner
            items: list[Item] = [
                box(corner, width, tall),
                box(corner, tag_width, tag_height, TAG),
                Text(TAG, (x + tag_width / 2, y - 0.45 * height - height), word, height, "middle", bold=True),
            ]
            for n, (first, line) in enumerate(part):
                base = y - head - height - n * PITCH * height
                if first:
                    items.append(Text(LETTERING, (x + PAD, base), "–", height))
                items.append(Text(LETTERING, (x + PAD + indent, base), line, height))
            return tuple(items)

        pieces.append((tall, draw))
    return pieces


@dataclass(frozen=True, slots=True)
class Cell:
    """Lines of one table cell, each with its capital height; the first is bold."""

    words: tuple[tuple[str, float], ...]
    bold: bool = True

    @property
    def height(self) -> float:
        """Height of the lettering, mm."""
        return sum(PITCH * size for _, size in self.words)

    @property
    def width(self) -> float:
        """Width of the lettering, mm."""
        return max(
            text_width(words, size, bold=self.bold and n == 0) for n, (words, size) in enumerate(self.words)
        )


def drawn_cell(cell: Cell, left: float, top: float, tall: float) -> tuple[Item, ...]:
    """A cell's lettering, centred in its height."""
    y = top - (tall - cell.height) / 2 - 0.1 * cell.words[0][1]
    items: list[Item] = []
    for n, (words, size) in enumerate(cell.words):
        items.append(Text(LETTERING, (left + 1.4, y - 1.1 * size), words, size, bold=cell.bold and n == 0))
        y -= PITCH * size
    return tuple(items)


def merged_table(
    heads: Sequence[str],
    rows: Sequence[tuple[tuple[Cell, ...], tuple[Cell, ...], tuple[Cell, ...]]],
    widths: Sequence[float],
    head_height: float = ACTED_ON_LETTERING,
) -> tuple[float, Draw]:
    """A ruled table whose middle cells run through the rows that share them.

    Args:
        heads: of the columns.
        rows: (cells before, cells that may be shared, cells after).
        widths: of the columns, mm.
        head_height: capital height of the headings, mm.
    """
    heading = [lines(head, wide - 2.4, head_height, True) for head, wide in zip(heads, widths, strict=True)]
    head_tall = max(len(part) for part in heading) * PITCH * head_height + 1.6
    runs: list[list[int]] = []
    for n, row in enumerate(rows):
        if runs and rows[runs[-1][0]][1] == row[1]:
            runs[-1].append(n)
        else:
            runs.append([n])
    talls = [0.0] * len(rows)
    for run in runs:
        shared = max((cell.height for cell in rows[run[0]][1]), default=0.0) + 2.0
        for n in run:
            own = max(cell.height for cell in (*rows[n][0], *rows[n][2])) + 2.0
            talls[n] = max(own, shared / len(run))
    tops = [head_tall + sum(talls[:n]) for n in range(len(rows) + 1)]

    def draw(corner: Point) -> tuple[Item, ...]:
        x, y = corner
        edges = [x + sum(widths[:n]) for n in range(len(widths) + 1)]
        items: list[Item] = [box(corner, sum(widths), tops[-1])]
        items.append(Line(OUTLINE, (x, y - head_tall), (edges[-1], y - head_tall)))
        items += [Line(RULING, (edge, y), (edge, y - tops[-1])) for edge in edges[1:-1]]
        for words, edge in zip(heading, edges[:-1], strict=True):
            items += lettered(words, (edge + 1.4, y - 1.2), head_height, bold=True)
        before = len(rows[0][0])
        after = before + len(rows[0][1])
        for run in runs:
            top, tall = y - tops[run[0]], sum(talls[n] for n in run)
            for column, cell in enumerate(rows[run[0]][1], start=before):
                items += drawn_cell(cell, edges[column], top, tall)
            for n in run:
                level = y - tops[n + 1]
                for column, cell in (*enumerate(rows[n][0]), *enumerate(rows[n][2], start=after)):
                    items += drawn_cell(cell, edges[column], y - tops[n], talls[n])
                if n != run[-1]:
                    items.append(Line(RULING, (x, level), (edges[before], level)))
                    items.append(Line(RULING, (edges[after], level), (edges[-1], level)))
                elif n != len(rows) - 1:
                    items.append(Line(RULING, (x, level), (edges[-1], level)))
        return tuple(items)

    return tops[-1], draw


def packed(blocks: Sequence[Block], room: float) -> tuple[list[Block], list[Block]] | None:
    """The blocks in a left and a right column of `room` mm, each in the order given; None if they cannot fit.

    Blocks stay in their home column where that fits; those without one go where they balance the page.
    """
    if sum(block.height for block in blocks) > 2 * room:
        return None
    best: tuple[float, list[Block], list[Block]] | None = None
    for mask in range(1 << len(blocks)):
        sides = [mask >> n & 1 for n in range(len(blocks))]
        away = [n for n, block in enumerate(blocks) if block.home is not None and block.home != sides[n]]
        if any(blocks[n].fixed for n in away):
            continue
        left, right = ([b for b, side in zip(blocks, sides, strict=True) if side == s] for s in (0, 1))
        heights = column_height(left), column_height(right)
        if max(heights) > room + 1e-9:
            continue
        # Moving a later block is the lesser evil: the order of reading stays.
        cost = sum(1000.0 + 100.0 * (len(blocks) - n) for n in away) + abs(heights[0] - heights[1])
        if best is None or cost < best[0]:
            best = (cost, left, right)
    return None if best is None else best[1:]


def column_height(column: Sequence[Block]) -> float:
    """Height of a column with the white between its blocks, mm."""
    return sum(block.height for block in column) + GAP * max(0, len(column) - 1)


def laid(column: Sequence[Block], corner: Point) -> tuple[Item, ...]:
    """The column's marks, from its top left corner."""
    items: list[Item] = []
    x, y = corner
    for block in column:
        items += block.draw((x, y))
        y -= block.height + GAP
    return tuple(items)


def cells_row(cells: Sequence[tuple[str, str]], corner: Point, width: float) -> tuple[Item, ...]:
    """A ruled row of small labels over their values; an empty value leaves a line to write on.

    Cells are as wide as their values ask; where that is too wide the first gives way.
    """
    tall, label, value = CELLS_ROW, 2.5, 2.8
    widths = [
        max(text_width(name, label), text_width(words, value, bold=True) if words else 22.0) + 3.0
        for name, words in cells
    ]
    widths[0] = max(16.0, widths[0] + width - sum(widths))
    x, y = corner
    items: list[Item] = [
        Line(FRAME, (x, y), (x + width, y)),
        Line(RULING, (x, y - tall), (x + width, y - tall)),
    ]
    for n, ((name, words), wide) in enumerate(zip(cells, widths, strict=True)):
        if n:
            items.append(Line(RULING, (x, y), (x, y - tall)))
        items.append(Text(LETTERING, (x + 1.4, y - TEXT_GAP - label), name, label))
        base = y - tall + 1.4
        if words:
            shown = shortened(words, wide - 2.8, value, bold=True)
            items.append(Text(LETTERING, (x + 1.4, base), shown, value, bold=True))
        else:
            items.append(Line(RULING, (x + 1.4, base), (x + wide - 1.4, base)))
        x += wide
    return tuple(items)


CELLS_ROW = 9.2
"""Height of a `cells_row`, mm."""


def shortened(words: str, width: float, height: float, *, bold: bool = False) -> str:
    """`words`, cut with an ellipsis where they do not fit."""
    if text_width(words, height, bold=bold) <= width:
        return words
    while words and text_width(words + "…", height, bold=bold) > width:
        words = words[:-1]
    return words.rstrip() + "…"
