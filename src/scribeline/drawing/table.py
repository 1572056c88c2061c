"""Ruled tables on a sheet."""

from collections.abc import Sequence

from scribeline.drawing.face import LINE_PITCH, wrap
from scribeline.drawing.marks import Piece
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    LEAST_LETTERING,
    LETTERING,
    OUTLINE,
    RULING,
    Anchor,
    Item,
    Layer,
    Line,
    Point,
    Text,
)

_PAD = 1.4
"""White between a ruling and the lettering beside it, mm."""


def table(
    columns: Sequence[str],
    rows: Sequence[Sequence[str]],
    at: Point,
    widths: Sequence[float],
    *,
    height: float = ACTED_ON_LETTERING,
    anchors: Sequence[Anchor] = (),
) -> Piece:
    """A ruled table hanging from its top left corner; cells wrap, rows grow.

    Args:
        columns: The headings, lettered bold and a little smaller.
        rows: The cells; a line break in a cell is kept.
        at: The top left corner.
        widths: Of the columns, mm.
        height: Capital height of the cells, mm.
        anchors: How each column is set ("end" for figures); all "start" when left out.

    Raises:
        ValueError: Rows, widths or anchors that do not match the columns.
    """
    anchors = anchors or ["start"] * len(columns)
    for what, cells in (("widths", widths), ("anchors", anchors), *(("cells", row) for row in rows)):
        if len(cells) != len(columns):
            raise ValueError(f"A table of {len(columns)} columns has a line of {len(cells)} {what}.")
    head = max(LEAST_LETTERING, 0.75 * height)
    items: list[Item] = []
    y = at[1]
    levels = [y]
    for n, row in enumerate((columns, *rows)):
        size, bold = (head, True) if n == 0 else (height, False)
        tall = _row_height(row, widths, size, bold)
        x = at[0]
        for cell, width, anchor in zip(row, widths, anchors, strict=True):
            items += _cell(cell, (x, y), width, size, anchor=anchor, bold=bold)
            x += width
        y -= tall
        levels.append(y)
    items += _rulings(at[0], levels, widths)
    return Piece(tuple(items), sum(widths), at[1] - y)


def _lines(cell: str, width: float, height: float, bold: bool) -> list[str]:
    return wrap(cell, width - 2 * _PAD, height, bold=bold)


def _row_height(row: Sequence[str], widths: Sequence[float], height: float, bold: bool) -> float:
    count = max(len(_lines(cell, width, height, bold)) for cell, width in zip(row, widths, strict=True))
    return height + (count - 1) * LINE_PITCH * height + 2 * _PAD + 0.2 * height


def _cell(cell: str, corner: Point, width: float, height: float, *, anchor: Anchor, bold: bool) -> list[Item]:
    x = {
        "start": corner[0] + _PAD,
        "middle": corner[0] + width / 2,
        "end": corner[0] + width - _PAD,
    }[anchor]
    top = corner[1] - _PAD - height
    return [
        Text(LETTERING, (x, top - n * LINE_PITCH * height), line, height, anchor, bold=bold)
        for n, line in enumerate(_lines(cell, width, height, bold))
        if line
    ]


def _rulings(left: float, levels: list[float], widths: Sequence[float]) -> list[Item]:
    """Heavy rules round the table and under the headings, light ones between."""
    right = left + sum(widths)

    def weight(edge: bool) -> Layer:
        return OUTLINE if edge else RULING

    items: list[Item] = [
        Line(weight(n in {0, 1, len(levels) - 1}), (left, y), (right, y)) for n, y in enumerate(levels)
    ]
    x = left
    for n, width in enumerate((0.0, *widths)):
        x += width
        items.append(Line(weight(n in {0, len(widths)}), (x, levels[0]), (x, levels[-1])))
    return items
