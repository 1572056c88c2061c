"""What every page of the sheets is made with: the paper, the panel of cautions, figures in both units.

A figure is lettered in millimetres with its inch fraction, and that fraction's error, smaller below it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from scribeline.drawing.block import BLOCK_WIDTH, FILING_MARGIN, MARGIN, ROW_HEIGHT, Caption, frame
from scribeline.drawing.face import LINE_PITCH, text_width, wrap
from scribeline.drawing.marks import Piece, measuring_bar, paragraph
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    DIMENSION,
    LEAST_LETTERING,
    LETTERING,
    OUTLINE,
    RULING,
    Along,
    Anchor,
    Dimension,
    Item,
    Line,
    Point,
    Sheet,
    Text,
    Window,
)
from scribeline.drawing.views import DATUM
from scribeline.lengths import both_units
from scribeline.plan import Plan
from scribeline.steps.cautions import DEFERS, PROVE_FIRST
from scribeline.tables.paper import paper_size_mm

STANDARD_SCALES: tuple[tuple[str, float], ...] = (
    ("1:1 (full size)", 1.0),
    ("1:2", 0.5),
    ("1:2.5", 0.4),
    ("1:5", 0.2),
    ("1:10", 0.1),
)
"""Reductions after ISO 5455, with the 1:2.5 that drawing offices use between two of them."""

_GAP = 3.0
_PAD = 1.4
_TIER = 1.3
"""White between a figure and the smaller one below it, mm."""

Figure = tuple[str, str]
"""A value and its second unit."""
Cell = str | Figure


@dataclass(frozen=True, slots=True)
class Page:
    """One page before it knows its number.

    Attributes:
        title: what it shows.
        items: its marks, on paper.
        view: "seen from the front", or how else one looks at it.
        scale: as printed.
    """

    title: str
    items: tuple[Item, ...]
    view: str = ""
    scale: str = ""


@dataclass(frozen=True, slots=True)
class Office:
    """What the page makers share: the plan, the paper, and the room a page leaves for its drawing."""

    plan: Plan
    width: float = field(init=False)
    height: float = field(init=False)

    def __post_init__(self) -> None:
        short, long = sorted(paper_size_mm(self.plan.job.document.print.paper))
        object.__setattr__(self, "width", long)
        object.__setattr__(self, "height", short)

    @property
    def window(self) -> Window:
        """Where a page's drawing may stand, clear of frame, title block and cautions."""
        ceiling = max(MARGIN + 4 * ROW_HEIGHT, self._panel().height + MARGIN)
        return (FILING_MARGIN + _GAP, ceiling + _GAP, self.width - MARGIN - _GAP, self.height - MARGIN - _GAP)

    def sheet(self, page: Page, number: int, total: int) -> Sheet:
        """The page in its frame, numbered."""
        document = self.plan.job.document
        caption = Caption(
            job=document.name,
            title=page.title,
            revision=document.revision,
            date="" if document.date is None else document.date.isoformat(),
            hand=f"{document.handed}-handed",
            view=page.view,
            scale=page.scale,
            datum=DATUM,
            kind=_kind(page.scale),
        )
        paper = f"{document.print.paper} lying"
        framed = frame(self.width, self.height, caption, sheet_no=number, sheets=total, paper=paper)
        return Sheet(
            f"{page.title} {number}",
            self.width,
            self.height,
            (*framed.items, *self._panel().items, *page.items),
        )

    def _panel(self) -> Piece:
        """The cautions that hold for every sheet, left of the title block."""
        width = self.width - MARGIN - BLOCK_WIDTH - FILING_MARGIN
        inner = width - 2 * _GAP
        first = paragraph(PROVE_FIRST, (0, 0), inner, bold=True)
        defers = paragraph(DEFERS, (0, 0), inner, height=LEAST_LETTERING)
        height = first.height + defers.height + 1.5 + _GAP
        top = MARGIN + max(height, 4 * ROW_HEIGHT)
        left = FILING_MARGIN + _GAP
        at = (left, top - 0.6 * _GAP)
        items = (
            *paragraph(PROVE_FIRST, at, inner, bold=True).items,
            *paragraph(DEFERS, (left, at[1] - first.height - 1.5), inner, height=LEAST_LETTERING).items,
            Line(RULING, (FILING_MARGIN, top), (self.width - MARGIN, top)),
            Line(RULING, (FILING_MARGIN + width, MARGIN), (FILING_MARGIN + width, top)),
        )
        return Piece(items, width, max(height, 4 * ROW_HEIGHT))


def _kind(scale: str) -> str:
    if not scale:
        return "list"
    return "drawing, full size" if scale == STANDARD_SCALES[0][0] else "drawing; do not scale off it"


def full_size_bar(window: Window) -> tuple[Item, ...]:
    """A measuring bar at the foot of a full-size page: a rule on it says whether the print is true."""
    return measuring_bar((window[0], window[1] + 0.5), length=100.0, inner=100.0)


def signed(mm: float) -> Figure:
    """A length in both units with a typographic minus."""
    big, small = both_units(mm)
    return big.replace("-", "−", 1) if mm < 0 else big, f"−{small[1:]}" if small.startswith("-") else small


def across(to_treble: float) -> Figure:
    """A distance from the centreline, with the side in words."""
    if abs(to_treble) < 0.005:
        return "0.00 mm", "on the centreline"
    big, small = both_units(abs(to_treble))
    return f"{big} {'treble' if to_treble > 0 else 'bass'}", small


def bare(figure: Figure) -> Figure:
    """A figure without its unit, for a column whose heading names it."""
    return figure[0].replace(" mm", ""), figure[1]


def measured(
    a: Point, b: Point, at: Point, mm: float, along: Along, *, ref: str = "", start: bool = False
) -> Dimension:
    """A dimension of `mm` between two points on paper."""
    big, small = both_units(mm)
    return Dimension(
        DIMENSION, a, b, at, big, small, along=along, outside="start" if start else "end", ref=ref
    )


def heading(text: str, at: Point) -> Text:
    """A heading above a table or a view; `at` is its base line's start."""
    return Text(LETTERING, at, text, ACTED_ON_LETTERING, bold=True)


def figures(
    columns: Sequence[str],
    rows: Sequence[Sequence[Cell]],
    at: Point,
    widths: Sequence[float],
    *,
    anchors: Sequence[Anchor] = (),
) -> Piece:
    """A ruled table whose cells may be figures in two units; hangs from its top left corner."""
    anchors = anchors or ["start"] * len(columns)
    items: list[Item] = []
    y, levels = at[1], [at[1]]
    for n, row in enumerate((columns, *rows)):
        x = at[0]
        for cell, width, anchor in zip(row, widths, anchors, strict=True):
            items += _lettered(cell, (x, y), width, anchor, head=n == 0)
            x += width
        y -= _row_height(row, widths, head=n == 0)
        levels.append(y)
    right = at[0] + sum(widths)
    for n, level in enumerate(levels):
        heavy = n in {0, 1, len(levels) - 1}
        items.append(Line(OUTLINE if heavy else RULING, (at[0], level), (right, level)))
    x = at[0]
    for n, width in enumerate((0.0, *widths)):
        x += width
        heavy = n in {0, len(widths)}
        items.append(Line(OUTLINE if heavy else RULING, (x, levels[0]), (x, levels[-1])))
    return Piece(tuple(items), sum(widths), at[1] - y)


def parted(
    columns: Sequence[str], rows: Sequence[Sequence[Cell]], widths: Sequence[float], room: float
) -> list[list[Sequence[Cell]]]:
    """The rows of a table in lots that each fit `room` mm with their headings."""
    head = _row_height(columns, widths, head=True)
    lots: list[list[Sequence[Cell]]] = [[]]
    left = room - head
    for row in rows:
        tall = _row_height(row, widths, head=False)
        if lots[-1] and tall > left:
            lots.append([])
            left = room - head
        lots[-1].append(row)
        left -= tall
    return lots


def listing(
    office: Office,
    title: str,
    columns: Sequence[str],
    rows: Sequence[Sequence[Cell]],
    widths: Sequence[float],
    *,
    anchors: Sequence[Anchor] = (),
    lead: str = "",
) -> list[Page]:
    """A table over as many pages as it needs, its columns spread over the paper."""
    left, bottom, right, top = office.window
    stretch = (right - left) / sum(widths)
    spread = [width * stretch for width in widths]
    intro = paragraph(lead, (left, top), right - left) if lead else Piece((), 0.0, 0.0)
    y = top - intro.height - (2.5 if lead else 0.0)
    return [
        Page(title, (*intro.items, *figures(columns, lot, (left, y), spread, anchors=anchors).items))
        for lot in parted(columns, rows, spread, y - bottom)
    ]


def _tiers(cell: Cell, width: float, head: bool) -> list[tuple[str, float]]:
    """The lines of a cell with their heights."""
    big = LEAST_LETTERING if head else ACTED_ON_LETTERING
    if isinstance(cell, str):
        return [(line, big) for line in wrap(cell, width - 2 * _PAD, big, bold=head)]
    value, second = cell
    lines = [(line, big) for line in wrap(value, width - 2 * _PAD, big)]
    small = wrap(second, width - 2 * _PAD, LEAST_LETTERING) if second else []
    return [*lines, *((line, LEAST_LETTERING) for line in small)]


def _drops(tiers: Sequence[tuple[str, float]]) -> list[float]:
    """Base lines below the cell's top."""
    drops, y = [], _PAD
    for n, (_, height) in enumerate(tiers):
        if n:
            y += _TIER if height < tiers[n - 1][1] else (LINE_PITCH - 1) * height * 0.75
        y += height
        drops.append(y)
    return drops


def _row_height(row: Sequence[Cell], widths: Sequence[float], *, head: bool) -> float:
    tallest = max(_drops(_tiers(cell, width, head))[-1] for cell, width in zip(row, widths, strict=True))
    return tallest + _PAD + 0.8


def _lettered(cell: Cell, corner: Point, width: float, anchor: Anchor, *, head: bool) -> list[Item]:
    x = {"start": corner[0] + _PAD, "middle": corner[0] + width / 2, "end": corner[0] + width - _PAD}[anchor]
    tiers = _tiers(cell, width, head)
    return [
        Text(LETTERING, (x, corner[1] - drop), line, height, anchor, bold=head)
        for (line, height), drop in zip(tiers, _drops(tiers), strict=True)
        if line
    ]


def largest_scale(width: float, height: float, room: tuple[float, float]) -> tuple[str, float]:
    """The largest standard scale at which a width and height fit the room."""
    for name, scale in STANDARD_SCALES:
        if width * scale <= room[0] and height * scale <= room[1]:
            return name, scale
    return STANDARD_SCALES[-1]


def spaced(wanted: Sequence[float], pitch: float) -> list[float]:
    """Places for labels as near to the wanted ones as may be, at least `pitch` apart, in the same order.

    Labels that would touch are pushed apart evenly about the middle of their crowd.
    """
    order = sorted(range(len(wanted)), key=lambda n: wanted[n])
    crowds: list[tuple[float, int]] = []
    for n in order:
        crowds.append((wanted[n], 1))
        while len(crowds) > 1:
            (low, below), (high, above) = crowds[-2:]
            if high - low >= pitch * (below + above) / 2 - 1e-9:
                break
            crowds[-2:] = [((low * below + high * above) / (below + above), below + above)]
    places = [middle + pitch * (k - (count - 1) / 2) for middle, count in crowds for k in range(count)]
    result = [0.0] * len(wanted)
    for n, place in zip(order, places, strict=True):
        result[n] = place
    return result


def widest(texts: Sequence[str], height: float = ACTED_ON_LETTERING) -> float:
    """Width of the longest of some texts, mm."""
    return max((text_width(text, height) for text in texts), default=0.0)


def stepped_names(numbers: Sequence[str], alone: str) -> str:
    """The numbers of a group ("S1 to S6") with their role of the group, or the one thing's own name."""
    if len(numbers) == 1:
        return alone
    role = alone.partition(" ")[2]
    return f"{numbers[0]} to {numbers[-1]} {role}s"
