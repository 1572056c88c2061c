"""The frame and title block of a sheet.

Frame and centring marks after ISO 5457 (20 mm to the left for filing, 10 mm elsewhere), title block with the data
ISO 7200 asks for and those a bench needs: at the lower right, 180 mm wide or a little more; on a low page in two
rows right across it, so that the height goes to the drawing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from scribeline.drawing.drafting import TEXT_GAP
from scribeline.drawing.face import text_width
from scribeline.drawing.marks import Piece, fitted, notice, paragraph
from scribeline.drawing.place import Transform, placed
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    FRAME,
    LEAST_LETTERING,
    LETTERING,
    OUTLINE,
    RULING,
    Item,
    Line,
    Path,
    Point,
    Text,
    Window,
)
from scribeline.findings import Tag

FILING_MARGIN = 20.0
MARGIN = 10.0
BLOCK_WIDTH = 180.0
ROW_HEIGHT = 11.0
LOW_ROW_HEIGHT = 9.6
"""Of the two rows across a low page, mm."""
_LOW, _WIDE = 250.0, 240.0
"""A page lower than this, and this wide inside its margins, has the block across it, mm."""
_GAP = 3.0
_TIGHT = 1.5
"""White above and below the lettering of a strip, mm."""

Cells = tuple[tuple[str, str, float], ...]
"""A row of the title block: label, value, share of the width."""


BOTH_UNITS = {"mm": "mm, inches below", "in": "inches, mm below"}
"""How a sheet says what its numbers are in."""


@dataclass(frozen=True, slots=True)
class Caption:
    """What every sheet of a job says about itself.

    Attributes:
        job: Name or number of the job.
        title: What the sheet shows.
        revision: Of the job.
        date: Of that revision, as it is to be printed.
        hand: "right-handed" or "left-handed".
        view: "seen from the front", "seen from the back", or how else one looks at it.
        unit: What the numbers are in first.
        scale: "1:1 (full size)", "1:2".
        datum: The datum every number is measured from, named as on all sheets.
        owner: The shop.
        kind: The document type (ISO 7200): "template", "drawing", "step card".
        cautions: Sentences that fit the work.
        standing: Sentences that hold for every sheet of the pack: the first bold, the others in small print.
    """

    job: str
    title: str
    revision: str
    date: str
    hand: str
    view: str = ""
    unit: Literal["mm", "in"] = "mm"
    scale: str = ""
    datum: str = ""
    owner: str = ""
    kind: str = ""
    cautions: tuple[str, ...] = ()
    standing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Frame:
    """A framed page: its marks, and the window left for the drawing."""

    items: tuple[Item, ...]
    window: Window


def frame(width: float, height: float, caption: Caption, *, sheet_no: int, sheets: int, paper: str) -> Frame:
    """Frame, centring marks, title block and cautions for a page of any size from A5 up.

    On a low page block, standing sentences and cautions lie in strips across it. Elsewhere the sentences stand
    to the left of the title block where there is room for them, above it otherwise.
    """
    left, bottom, right, top = inner = (FILING_MARGIN, MARGIN, width - MARGIN, height - MARGIN)
    across = height < _LOW and right - left >= _WIDE
    # A strip too narrow for anything beside the block goes to the block.
    wide_block = across or right - left < BLOCK_WIDTH + 30.0
    block_left = left if wide_block else right - BLOCK_WIDTH
    block = title_block(
        (block_left, bottom),
        right - block_left,
        caption,
        sheet_no=sheet_no,
        sheets=sheets,
        paper=paper,
        low=across,
    )
    items = [*_border(inner, width, height), *block.items]
    ceiling = bottom + block.height
    aside = block_left - left
    beside = aside >= 80.0
    if across:
        for piece in _strips(caption, right - left):
            items += placed(piece.items, Transform(offset=(left, ceiling + piece.height)))
            ceiling += piece.height
            items.append(Line(RULING, (left, ceiling), (right, ceiling)))
    elif caption.cautions or caption.standing:
        room = (aside if beside else right - left) - 2 * _GAP
        words = _words(caption, room)
        floor = bottom if beside else ceiling
        ceiling = max(ceiling, floor + words.height + 2 * _GAP)
        items += placed(words.items, Transform(offset=(left + _GAP, ceiling - _GAP)))
        corner = (block_left if beside else right, ceiling)
        items.append(Line(RULING, (left, ceiling), corner))
        if beside:
            items.append(Line(RULING, (block_left, bottom + block.height), corner))
    return Frame(tuple(items), (left, ceiling, right, top))


def _words(caption: Caption, width: float) -> Piece:
    """Cautions, then standing sentences, one under the other; hangs from (0, 0)."""
    warned = cautions(caption.cautions, (0.0, 0.0), width)
    items, y = [*warned.items], -warned.height - (2.0 if caption.cautions else 0.0)
    for n, sentence in enumerate(caption.standing):
        piece = paragraph(
            sentence, (0.0, y), width, height=LEAST_LETTERING if n else ACTED_ON_LETTERING, bold=n == 0
        )
        items += piece.items
        y -= piece.height + 1.5
    return Piece(tuple(items), width, -y)


def _strips(caption: Caption, width: float) -> list[Piece]:
    """Standing sentences side by side and, above them, the cautions; each hangs from (0, 0)."""
    found = []
    if caption.standing:
        first, *rest = caption.standing
        # The first takes two lines; what is left of the width is for the small print.
        column = text_width(first, ACTED_ON_LETTERING, bold=True) / 2 + 12.0 if rest else width - 2 * _GAP
        bold = paragraph(first, (_GAP, -_TIGHT), column, bold=True)
        x = 3 * _GAP + column
        small = paragraph(" ".join(rest), (x, -_TIGHT), width - x - _GAP, height=LEAST_LETTERING)
        height = max(bold.height, small.height) + 2 * _TIGHT - 0.5
        rule = [Line(RULING, (x - _GAP, 0.0), (x - _GAP, -height))] if rest else []
        middle = Transform(offset=(0.0, (bold.height - small.height) / -2))
        found.append(Piece((*bold.items, *rule, *placed(small.items, middle)), width, height))
    if caption.cautions:
        warned = cautions(caption.cautions, (_GAP, -_TIGHT), width - 2 * _GAP)
        found.append(Piece(warned.items, width, warned.height + 2 * _TIGHT))
    return found


def cautions(sentences: Sequence[str], at: Point, width: float, *, kind: Tag = "CAUTION") -> Piece:
    """One notice under the other, hanging from the top left corner `at`."""
    items: list[Item] = []
    y = at[1]
    for sentence in sentences:
        piece = notice(kind, sentence, (at[0], y), width)
        items += piece.items
        y -= piece.height + 2.0
    return Piece(tuple(items), width, max(0.0, at[1] - y - 2.0))


def title_block(
    at: Point,
    width: float,
    caption: Caption,
    *,
    sheet_no: int,
    sheets: int,
    paper: str,
    low: bool = False,
) -> Piece:
    """The title block standing on its lower left corner `at`: four rows, or two `low` ones for a wide strip."""
    sheet = f"{sheet_no} of {sheets}"
    rows = _low_rows(caption, sheet, paper) if low else _rows(caption, sheet, paper)
    tall = LOW_ROW_HEIGHT if low else ROW_HEIGHT
    height = tall * len(rows)
    x, y = at
    corners = ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
    items: list[Item] = [Path(OUTLINE, corners, closed=True)]
    for n, row in enumerate(rows):
        items += _row((x, y + height - (n + 1) * tall), width, tall, row)
        if n:
            level = y + height - n * tall
            items.append(Line(RULING, (x, level), (x + width, level)))
    return Piece(tuple(items), width, height)


def _rows(caption: Caption, sheet: str, paper: str) -> tuple[Cells, ...]:
    return (
        (("Owner", caption.owner, 2.5), ("Job", caption.job, 3.0), ("Title", caption.title, 5.5)),
        (
            ("View", caption.view, 3.6),
            ("Hand", caption.hand, 2.6),
            ("Scale", caption.scale, 2.4),
            ("Units", BOTH_UNITS[caption.unit], 2.4),
        ),
        (("Datum: every number is measured from", caption.datum, 7.0), ("Document", caption.kind, 4.0)),
        (
            ("Revision", caption.revision, 2.6),
            ("Date", caption.date, 3.0),
            ("Paper", paper, 2.4),
            ("Sheet", sheet, 3.0),
        ),
    )


def _low_rows(caption: Caption, sheet: str, paper: str) -> tuple[Cells, ...]:
    return (
        (
            ("Job", caption.job, 44.0),
            ("Title", caption.title, 67.0),
            ("View", caption.view, 45.0),
            ("Scale", caption.scale, 35.0),
            ("Hand", caption.hand, 33.0),
            ("Units", BOTH_UNITS[caption.unit], 43.0),
        ),
        (
            ("Owner", caption.owner, 30.0),
            ("Datum: every number is measured from", caption.datum, 118.0),
            ("Document", caption.kind, 38.0),
            ("Revision", caption.revision, 20.0),
            ("Date", caption.date, 29.0),
            ("Paper", paper, 18.0),
            ("Sheet", sheet, 22.0),
        ),
    )


def _row(at: Point, width: float, tall: float, cells: Cells) -> list[Item]:
    """Cells of a label above a value, as wide as their shares, with rules between."""
    items: list[Item] = []
    total = sum(share for _, _, share in cells)
    x, y = at
    for n, (label, value, share) in enumerate(cells):
        wide = width * share / total
        if n:
            items.append(Line(RULING, (x, y), (x, y + tall)))
        label_base = y + tall - TEXT_GAP - LEAST_LETTERING
        items.append(Text(LETTERING, (x + 1.4, label_base), label, LEAST_LETTERING))
        if value:
            items += fitted(
                value, (x + 1.4, y + 1.6), wide - 2.8, bold=True, lines=2 if tall >= ROW_HEIGHT else 1
            )
        x += wide
    return items


def _border(inner: Window, width: float, height: float) -> list[Item]:
    left, bottom, right, top = inner
    corners = ((left, bottom), (right, bottom), (right, top), (left, top))
    middle_x, middle_y = width / 2, height / 2
    marks: list[Item] = [Path(FRAME, corners, closed=True)]
    # Centring marks (ISO 5457), kept outside the frame so that they touch no drawing.
    for a, b in (
        ((middle_x, bottom - 5), (middle_x, bottom)),
        ((middle_x, top), (middle_x, top + 5)),
        ((left - 5, middle_y), (left, middle_y)),
        ((right, middle_y), (right + 5, middle_y)),
    ):
        marks.append(Line(FRAME, a, b))
    return marks
