"""Sheets that are read rather than looked at: paragraphs, notices and tables, as data for the form `sheets.typ`.

A block is a mapping with its `kind`; the form sets them one under the other, over as many pages as they need.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from scribeline.drawing.sheet import ACTED_ON_LETTERING, LEAST_LETTERING, Sheet
from scribeline.drawing.sheets.figures import Cell
from scribeline.drawing.sheets.office import Page
from scribeline.findings import Tag

Block = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Table:
    """A ruled table; its columns are spread over the room.

    Attributes:
        columns: headings.
        rows: cells, as many in each row as there are columns: words, or a figure with its second unit.
        widths: shares of the room that columns of words have; columns of figures take what they need.
        ends: at which end of its column a cell stands, figures at the "end"; "start" where left out.
        height: capital height of what is lettered, mm: less only where nobody acts on it.
        below: whether second units stand below the first.
    """

    columns: Sequence[str]
    rows: Sequence[Sequence[Cell]]
    widths: Sequence[float]
    ends: Sequence[Literal["start", "end"]] = ()
    height: float = ACTED_ON_LETTERING
    below: bool = False


def listed(title: str, table: Table, lead: str = "", *, small: bool = False, abreast: int = 1) -> Block:
    """A table under its heading and a sentence about it; it may run over several pages.

    Args:
        title: the heading; none where the page's own title says it.
        table: what is listed.
        lead: what one must know before reading it.
        small: whether the lead is in the least lettering: nobody acts on it.
        abreast: in how many columns of the page its rows run on, each under the headings.
    """
    ends = table.ends or ["start"] * len(table.columns)
    figures = [
        end == "end" and any(not isinstance(row[n], str) for row in table.rows) for n, end in enumerate(ends)
    ]
    return {
        "kind": "table",
        "title": title,
        "lead": lead,
        "lead height": LEAST_LETTERING if small else ACTED_ON_LETTERING,
        "abreast": abreast,
        "columns": [
            {"head": head, "share": share, "end": end, "figures": are}
            for head, share, end, are in zip(table.columns, table.widths, ends, figures, strict=True)
        ],
        "rows": [[_cell(cell) for cell in row] for row in table.rows],
        "height": table.height,
        "below": table.below,
    }


def _cell(cell: Cell) -> tuple[str, str]:
    return (cell, "") if isinstance(cell, str) else cell


def words(text: str, *, bold: bool = False, height: float = ACTED_ON_LETTERING) -> Block:
    """A paragraph."""
    return {"kind": "words", "text": text, "bold": bold, "height": height}


def noticed(tag: Tag, sentence: str) -> Block:
    """A sentence behind its tag."""
    return {"kind": "notice", "tag": tag, "text": sentence}


def pictured(sheet: Sheet) -> Block:
    """A picture at its true size."""
    return {"kind": "picture", "name": sheet.name, "sheet": sheet}


def together(*blocks: Block) -> Block:
    """Blocks one under the other that stay on one page."""
    return {"kind": "together", "blocks": blocks}


def beside(blocks: Sequence[Block], *, shares: Sequence[float] = ()) -> Block:
    """Blocks side by side in columns of one width, or of these shares."""
    return {"kind": "beside", "blocks": blocks, "shares": shares or [1.0] * len(blocks)}


def flowed(title: str, blocks: Iterable[Block], *, cautions: tuple[str, ...] = ()) -> list[Page]:
    """Blocks one under the other, on as many pages as they need; no page where there is nothing to say."""
    found = tuple(blocks)
    return [Page(title, blocks=found, cautions=cautions)] if found else []
