"""What step cards are built of: blocks that know their size, set under and beside one another."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal

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
from scribeline.lengths import both_units, inch_fraction, inch_text, mm_text, rounding_note
from scribeline.plan import Plan
from scribeline.steps import Card, Gate

PITCH = 1.5
"""Distance from base line to base line, in capital heights: the least of ISO 3098-1 (21/14)."""
GAP = 3.5
"""White between two blocks, mm."""
_CELL_PAD = 1.2
"""White above and below a table cell's lettering beside the lines' own pitch, mm."""
PAD = 2.2
"""White between a box and its lettering, mm."""

Draw = Callable[[Point], tuple[Item, ...]]


@dataclass(frozen=True, slots=True)
class Block:
    """A part of a card: its size, and how to draw it from its top left corner.

    Attributes:
        height: mm.
        draw: gives the marks for a top left corner.
        width: mm, where it matters to what stands beside it.
    """

    height: float
    draw: Draw
    width: float = 0.0


def stacked(blocks: Sequence[Block], gap: float = GAP) -> Block:
    """Blocks under one another."""
    heights = [block.height for block in blocks]
    tops = [sum(heights[:n]) + n * gap for n in range(len(blocks))]

    def draw(corner: Point) -> tuple[Item, ...]:
        x, y = corner
        return tuple(
            item for block, top in zip(blocks, tops, strict=True) for item in block.draw((x, y - top))
        )

    tall = sum(heights) + gap * max(0, len(blocks) - 1)
    return Block(tall, draw, max((block.width for block in blocks), default=0.0))


def beside(parts: Sequence[tuple[float, Block]]) -> Block:
    """Blocks side by side, each at its distance from the left edge."""

    def draw(corner: Point) -> tuple[Item, ...]:
        x, y = corner
        return tuple(item for offset, block in parts for item in block.draw((x + offset, y)))

    return Block(max(block.height for _, block in parts), draw, max(at + b.width for at, b in parts))


@cache
def two_units(mm: float, gate: Gate | None = None, unit: Literal["mm", "in"] = "mm") -> tuple[str, str]:
    """Millimetres and the inch fraction, or decimal inches where the fraction is too coarse for the card's gate.

    In an inch job thousandths come first, and millimetres alone stand beside them where the fraction is too coarse. A card
    tried in many sizes asks for the same few lengths.
    """
    big, small = both_units(mm, unit)
    if not too_coarse(mm, gate):
        return big, small
    return big, inch_text(mm) if unit == "mm" else mm_text(mm)


@dataclass(frozen=True, slots=True)
class Told:
    """How a card tells lengths: the job's unit first, the second as fine as its gate asks.

    Attributes:
        unit: the job's.
        gate: the card's.
    """

    unit: Literal["mm", "in"] = "mm"
    gate: Gate | None = None

    @classmethod
    def on(cls, plan: Plan, card: Card) -> Told:
        """As a card of a plan tells them."""
        return cls(plan.unit, card.gate)

    def __call__(self, mm: float) -> tuple[str, str]:
        """A length, and the same in the second unit."""
        return two_units(mm, self.gate, self.unit)


def too_coarse(mm: float, gate: Gate | None) -> bool:
    """Whether a length's inch fraction is off by more than a third of the tolerance of a card's gate.

    The tolerance is half the gate's band, or its narrower side where the reading wanted is not in the middle.
    """
    if gate is None or gate.value is None or gate.low is None or gate.high is None:
        return False
    sides = (gate.value - gate.low, gate.high - gate.value)
    tolerance = min(sides) if min(sides) > 0 else sum(sides) / 2
    return tolerance > 0 and rounding_note(inch_fraction(mm).error_mm, tolerance) is not None


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


def sentences(words: str, width: float, height: float, *, bold: bool = False) -> Block:
    """A paragraph."""
    found = lines(words, width, height, bold)
    return Block(
        stack_height(len(found), height), lambda corner: lettered(found, corner, height, bold=bold), width
    )


def listed(heading: str, points: Sequence[str], width: float, height: float) -> Block:
    """A heading over sentences, each behind a dash."""
    rows = _dashed(points, width - 1.1 * height, height)
    head = stack_height(1, height) + 0.4 * height

    def draw(corner: Point) -> tuple[Item, ...]:
        x, y = corner
        return (*lettered((heading,), corner, height, bold=True), *_rows(rows, (x, y - head), height))

    return Block(head + stack_height(len(rows), height), draw, width)


def _dashed(points: Sequence[str], width: float, height: float) -> list[tuple[str, str]]:
    """The lines of some sentences, each with the dash before it or nothing."""
    return [
        ("–" if n == 0 else "", line)
        for point in points
        for n, line in enumerate(lines(point, width, height))
    ]


def _rows(rows: Sequence[tuple[str, str]], corner: Point, height: float) -> Iterator[Item]:
    x, y = corner
    for n, (dash, line) in enumerate(rows):
        base = y - height - n * PITCH * height
        if dash:
            yield Text(LETTERING, (x, base), dash, height)
        yield Text(LETTERING, (x + 1.1 * height, base), line, height)


def warned(
    points: Sequence[str],
    width: float,
    height: float,
    *,
    running: bool,
    word: Literal["CAUTION", "DO NOT CUT"] = "CAUTION",
) -> Block:
    """Cautions, or what must not be cut, in an outlined box beside one tag, each behind a dash or all of them running on.

    The tag of cautions is outlined, the other black.
    """
    tag_width = text_width(word, height, bold=True) + 0.9 * height
    tag_height = 1.6 * height
    beside_tag = tag_width + PAD
    top = 0.3 * height
    if running:
        rows = [("", line) for line in _run_on(" ".join(points), width - 2 * PAD, beside_tag, height)]
    else:
        rows = _dashed(points, width - PAD - beside_tag - 1.1 * height, height)
    tall = max(tag_height, top + stack_height(len(rows), height) + 0.5)

    def draw(corner: Point) -> tuple[Item, ...]:
        x, y = corner
        items: list[Item] = [
            box(corner, width, tall),
            black(corner, tag_width, tag_height)
            if word == "DO NOT CUT"
            else box(corner, tag_width, tag_height, TAG),
            Text(
                TAG,
                (x + tag_width / 2, y - 1.3 * height),
                word,
                height,
                "middle",
                bold=True,
                white=word == "DO NOT CUT",
            ),
        ]
        if not running:
            return (*items, *_rows(rows, (x + beside_tag, y - top), height))
        first, *rest = (line for _, line in rows)
        items += lettered((first,), (x + beside_tag, y - top), height)
        items += lettered(rest, (x + PAD, y - top - PITCH * height), height)
        return tuple(items)

    return Block(tall, draw, width)


def _run_on(words: str, width: float, indent: float, height: float) -> tuple[str, ...]:
    """A paragraph whose first line gives way to what stands before it."""
    first = lines(words, width - indent, height)[0]
    rest = words[len(first) :].lstrip()
    return (first, *lines(rest, width, height)) if rest else (first,)


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
        shared = max((cell.height for cell in rows[run[0]][1]), default=0.0) + _CELL_PAD
        for n in run:
            own = max(cell.height for cell in (*rows[n][0], *rows[n][2])) + _CELL_PAD
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
                    for start, end in ((x, edges[before]), (edges[after], edges[-1])):
                        if start < end:
                            items.append(Line(RULING, (start, level), (end, level)))
                elif n != len(rows) - 1:
                    items.append(Line(RULING, (x, level), (edges[-1], level)))
        return tuple(items)

    return tops[-1], draw


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


CELLS_ROW = 8.6
"""Height of a `cells_row`, mm."""


def shortened(words: str, width: float, height: float, *, bold: bool = False) -> str:
    """`words`, cut with an ellipsis where they do not fit."""
    if text_width(words, height, bold=bold) <= width:
        return words
    while words and text_width(words + "…", height, bold=bold) > width:
        words = words[:-1]
    return words.rstrip() + "…"


def scale_words(scale: float) -> str:
    """A drawing scale in words."""
    if scale == 1.0:
        return "full size (1:1)"
    return f"scale {scale:g}:1" if scale > 1.0 else f"scale 1:{1 / scale:g}"
