"""The frame and title block of a sheet.

Frame and centring marks after ISO 5457 (20 mm to the left for filing, 10 mm elsewhere), title block at the
lower right, 180 mm wide or a little more, with the data ISO 7200 asks for and those a bench needs.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from scribeline.drawing.drafting import TEXT_GAP
from scribeline.drawing.marks import Kind, Piece, fitted, notice
from scribeline.drawing.sheet import (
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

FILING_MARGIN = 20.0
MARGIN = 10.0
BLOCK_WIDTH = 180.0
ROW_HEIGHT = 11.0
_GAP = 3.0


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
        units: What the numbers are in.
        scale: "1:1 (full size)", "1:2".
        datum: The datum every number is measured from, named as on all sheets.
        owner: The shop.
        kind: The document type (ISO 7200): "template", "drawing", "step card".
        cautions: Sentences that fit the work.
    """

    job: str
    title: str
    revision: str
    date: str
    hand: str
    view: str = ""
    units: str = "mm, inches below"
    scale: str = ""
    datum: str = ""
    owner: str = ""
    kind: str = ""
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Frame:
    """A framed page: its marks, and the window left for the drawing."""

    items: tuple[Item, ...]
    window: Window


def frame(width: float, height: float, caption: Caption, *, sheet_no: int, sheets: int, paper: str) -> Frame:
    """Frame, centring marks, title block and cautions for a page of any size from A5 up.

    The cautions stand to the left of the title block where there is room for them, above it otherwise.
    """
    left, bottom, right, top = inner = (FILING_MARGIN, MARGIN, width - MARGIN, height - MARGIN)
    # A strip too narrow for anything beside the block goes to the block.
    block_left = left if right - left < BLOCK_WIDTH + 30.0 else right - BLOCK_WIDTH
    block = title_block(
        (block_left, bottom), right - block_left, caption, sheet_no=sheet_no, sheets=sheets, paper=paper
    )
    items = [*_border(inner, width, height), *block.items]
    ceiling = bottom + block.height
    aside = block_left - left
    if caption.cautions:
        beside = aside >= 80.0
        room = (aside if beside else right - left) - 2 * _GAP
        notices = cautions(caption.cautions, (0.0, 0.0), room)
        floor = bottom if beside else ceiling
        ceiling = max(ceiling, floor + notices.height + 2 * _GAP)
        at = (left + _GAP, ceiling - _GAP)
        items += cautions(caption.cautions, at, room).items
        corner = (block_left if beside else right, ceiling)
        items.append(Line(RULING, (left, ceiling), corner))
        if beside:
            items.append(Line(RULING, (block_left, bottom + block.height), corner))
    return Frame(tuple(items), (left, ceiling, right, top))


def cautions(sentences: Sequence[str], at: Point, width: float, *, kind: Kind = "CAUTION") -> Piece:
    """One notice under the other, hanging from the top left corner `at`."""
    items: list[Item] = []
    y = at[1]
    for sentence in sentences:
        piece = notice(kind, sentence, (at[0], y), width)
        items += piece.items
        y -= piece.height + 2.0
    return Piece(tuple(items), width, max(0.0, at[1] - y - 2.0))


def title_block(
    at: Point, width: float, caption: Caption, *, sheet_no: int, sheets: int, paper: str
) -> Piece:
    """The title block standing on its lower left corner `at`."""
    rows = (
        (("Owner", caption.owner, 2.5), ("Job", caption.job, 3.0), ("Title", caption.title, 5.5)),
        (
            ("View", caption.view, 3.6),
            ("Hand", caption.hand, 2.6),
            ("Scale", caption.scale, 2.4),
            ("Units", caption.units, 2.4),
        ),
        (
            ("Datum: every number is measured from", caption.datum, 7.0),
            ("Document", caption.kind, 4.0),
        ),
        (
            ("Revision", caption.revision, 2.6),
            ("Date", caption.date, 3.0),
            ("Paper", paper, 2.4),
            ("Sheet", f"{sheet_no} of {sheets}", 3.0),
        ),
    )
    height = ROW_HEIGHT * len(rows)
    x, y = at
    corners = ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
    items: list[Item] = [Path(OUTLINE, corners, closed=True)]
    for n, row in enumerate(rows):
        items += _row((x, y + height - (n + 1) * ROW_HEIGHT), width, row)
        if n:
            level = y + height - n * ROW_HEIGHT
            items.append(Line(RULING, (x, level), (x + width, level)))
    return Piece(tuple(items), width, height)


def _row(at: Point, width: float, cells: Sequence[tuple[str, str, float]]) -> list[Item]:
    """Cells of a label above a value, as wide as their shares, with rules between."""
    items: list[Item] = []
    total = sum(share for _, _, share in cells)
    x, y = at
    for n, (label, value, share) in enumerate(cells):
        wide = width * share / total
        if n:
            items.append(Line(RULING, (x, y), (x, y + ROW_HEIGHT)))
        label_base = y + ROW_HEIGHT - TEXT_GAP - LEAST_LETTERING
        items.append(Text(LETTERING, (x + 1.4, label_base), label, LEAST_LETTERING))
        if value:
            items += fitted(value, (x + 1.4, y + 1.6), wide - 2.8, bold=True)
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
