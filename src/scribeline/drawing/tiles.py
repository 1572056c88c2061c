"""A full-size drawing on the paper a bench printer takes: pages to be joined, or one large sheet.

Every page shows a window of the drawing at 1:1. Neighbouring windows share a band in which the join line
and lettered diamonds are printed on both pages: cut one page along the line, lay it on the other so that
lines and diamonds meet. Every page carries measuring bars on both axes; grid crosses with their place in
the drawing make each page checkable by itself, and distances across joins too.
"""

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from scribeline.drawing.block import Caption, cautions, units_below
from scribeline.drawing.drafting import exploded
from scribeline.drawing.extent import bounds, touches
from scribeline.drawing.joins import join, letters, spread
from scribeline.drawing.marks import BAR_DEPTH, Piece, grid_cross, measuring_bar, paragraph
from scribeline.drawing.place import Transform, placed
from scribeline.drawing.print_scale import METRIC, SET_OUT_BY_NUMBER, Ruling, ruling
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    LEAST_LETTERING,
    RULING,
    TAG,
    Clip,
    Compound,
    Fill,
    Item,
    Line,
    Path,
    Point,
    Sheet,
    Text,
    Window,
)
from scribeline.lengths import UNITS, JobUnit, SaidError, in_unit, said
from scribeline.tables.paper import Roll, paper_size_mm

_MARGIN = 10.0
_BAR_INSET = 10.5
_BAR_EDGE = 4.0
"""The least white a bar needs to the paper's edge; most printers print to about this."""
_KEY = (34.0, 16.0)
_EDGE = 1.0
"""Drawn round the extent, so that a line on its border is not halved, mm."""
_BESIDE_JOIN, _ABOVE_JOIN = 3.0, 10.5
"""From an upright or a level join line to the nearest lettering, mm: a level one has letters above and below it."""
_LEAST_WINDOW = 60.0
_UNDER_WINDOW = 2.0
_TWO_COLUMNS = 190.0
"""From this width on the cautions stand beside the caption, mm."""


class PaperError(SaidError):
    """Paper that cannot be used for a template; the text says which can."""


Paper = str | tuple[float, float] | Roll
"""A name from the paper table ("A4", "Letter", "A1"), a page's width and height in mm, or a roll."""


@dataclass(frozen=True, slots=True)
class Tile:
    """One page: its place in the assembly (from the top left, counted from 1) and its part of the drawing."""

    row: int
    column: int
    window: Window

    @property
    def row_column(self) -> tuple[int, int]:
        """Its place in the assembly."""
        return self.row, self.column


@dataclass(frozen=True, slots=True)
class Tiling:
    """How a drawing is parted into pages.

    Attributes:
        page: Width and height of a page, mm.
        paper: What to call it.
        grid: Every place of the assembly, by rows from the top left, blank ones too.
        tiles: The pages that carry anything, by rows from the top left; blank ones are left out.
        overlap: Width of the band two neighbours share, mm.
        strip: Height of the caption's strip at the foot of each page, mm.
        ruled: What the pages are measured by.
    """

    page: tuple[float, float]
    paper: str
    grid: tuple[Tile, ...]
    tiles: tuple[Tile, ...]
    overlap: float
    strip: float
    ruled: Ruling

    @property
    def rows(self) -> int:
        """Of the assembly."""
        return self.grid[-1].row

    @property
    def columns(self) -> int:
        """Of the assembly."""
        return self.grid[-1].column

    def holding(self, items: Sequence[Item]) -> "Tiling":
        """The same joins for another drawing."""
        return replace(self, tiles=_carrying(self.grid, items))

    def covers(self, extent: Window) -> bool:
        """Whether the assembly shows all of an extent."""
        last, first = self.grid[-1].window, self.grid[0].window
        return (
            first[0] <= extent[0] and last[1] <= extent[1] and extent[2] <= last[2] and extent[3] <= first[3]
        )

    def whole_windows(self) -> list[Window]:
        """Where lettering stays whole: each page's window up to its join lines."""
        places = {(tile.row, tile.column) for tile in self.tiles}
        beside, above = self.overlap / 2 + _BESIDE_JOIN, self.overlap / 2 + _ABOVE_JOIN
        found = []
        for tile in self.tiles:
            left, bottom, right, top = tile.window
            row, column = tile.row, tile.column
            found.append(
                (
                    left + beside * ((row, column - 1) in places),
                    bottom + above * ((row + 1, column) in places),
                    right - beside * ((row, column + 1) in places),
                    top - above * ((row - 1, column) in places),
                )
            )
        return found


def tile(
    items: Sequence[Item],
    extent: Window,
    caption: Caption,
    *,
    paper: Paper = "A4",
    overlap: float = 10.0,
    grid: float | None = None,
    coordinates: Callable[[Point], Point] = lambda point: point,
    correction: tuple[float, float] = (1.0, 1.0),
    first_sheet: int = 1,
    sheets: int | None = None,
    tiling: Tiling | None = None,
    bare: Window | None = None,
) -> tuple[Sheet, ...]:
    """The drawing at full size on pages of `paper`, upright or lying, whichever takes fewer.

    Lettering that a window would cut is printed only on the page that holds it whole, if any does.

    Args:
        items: The drawing, at 1:1.
        extent: The part of it to be printed.
        caption: What each page says about itself.
        paper: See `Paper`.
        overlap: Width of the band that neighbouring pages share, mm.
        grid: Distance of the grid crosses, mm; what belongs to the paper when left out.
        coordinates: From the drawing's coordinates to those printed beside the crosses, for a drawing that
            was mirrored or turned.
        correction: Factors on x and y for a printer that shrinks or stretches (see `print_verdict`).
        first_sheet: The number of the first page in its pack.
        sheets: Pages in the pack; this drawing's own by default.
        tiling: Joins settled before, with `split`.
        bare: Where no grid crosses are wanted, for something to be read stands there.

    Raises:
        PaperError: Paper too small to print a template on.
        UnknownName: No such paper.
    """
    tiling = tiling or split(items, extent, caption, paper=paper, overlap=overlap)
    ruled = tiling.ruled if grid is None else replace(tiling.ruled, grid=grid)
    crosses = {
        page: grid_crosses(page.window, ruled, coordinates, caption.unit, bare) for page in tiling.tiles
    }
    plain = _plain(items)
    drawing = (*plain, *_joins(tiling, [*plain, *itertools.chain(*crosses.values())]))
    elsewhere = _whole_on(drawing, tiling)
    total = sheets if sheets is not None else first_sheet - 1 + len(tiling.tiles)
    return tuple(
        _page(
            [
                item
                for item in (*drawing, *crosses[page])
                if page.row_column in elsewhere.get(id(item), {page.row_column})
            ],
            tiling,
            page,
            caption,
            correction=correction,
            number=first_sheet + n,
            total=total,
        )
        for n, page in enumerate(tiling.tiles)
    )


def split(
    items: Sequence[Item], extent: Window, caption: Caption, *, paper: Paper = "A4", overlap: float = 10.0
) -> Tiling:
    """How `tile` would part the drawing; for counting the pages of a pack before it is printed."""
    left, bottom, right, top = extent
    if not (left < right and bottom < top):
        raise ValueError(f"The extent of a drawing must be left, bottom, right, top; got {extent}.")
    grown = (left - _EDGE, bottom - _EDGE, right + _EDGE, top + _EDGE)
    candidates = [
        _parted(items, grown, caption, page, name, overlap=overlap, ruled=_ruled(paper))
        for page, name in _pages(paper, grown, caption)
    ]
    fitting = [tiling for tiling in candidates if tiling is not None]
    if not fitting:
        named = paper.name if isinstance(paper, Roll) else paper
        raise PaperError(
            f"Paper {named} is too small for a template: beside its margins, measuring bars and caption it "
            f"must leave {said(_LEAST_WINDOW, None)} each way. Use A4, Letter or larger."
        )
    return min(fitting, key=lambda tiling: len(tiling.tiles))


def _ruled(paper: Paper) -> Ruling:
    return METRIC if isinstance(paper, tuple) else ruling(paper)


def _pages(paper: Paper, extent: Window, caption: Caption) -> list[tuple[tuple[float, float], str]]:
    """The page sizes to choose from, with the name to print."""
    if isinstance(paper, Roll):
        return _roll_pages(paper, extent, caption)
    if isinstance(paper, str):
        size, name = paper_size_mm(paper), paper
    else:
        size, name = paper, f"{paper[0]:g} × {paper[1]:g} mm"
    short, long = sorted(size)
    return [((short, long), f"{name} upright"), ((long, short), f"{name} lying")]


def _roll_pages(roll: Roll, extent: Window, caption: Caption) -> list[tuple[tuple[float, float], str]]:
    width, bar = roll.width, ruling(roll).bar
    name = f"{roll.name} wide, cut {{:.0f}} mm long"
    wide = max(extent[2] - extent[0] + _left() + _MARGIN, bar + 2 * _left())
    strip = _strip(caption, width, name)
    high = max(extent[3] - extent[1], bar) + strip + _MARGIN
    return [((width, high), name.format(high)), ((wide, width), name.format(wide))]


def _parted(
    items: Sequence[Item],
    extent: Window,
    caption: Caption,
    page: tuple[float, float],
    name: str,
    *,
    overlap: float,
    ruled: Ruling,
) -> Tiling | None:
    strip = _strip(caption, page[0], name)
    wide, high = page[0] - _left() - _MARGIN, page[1] - strip - _MARGIN
    if min(wide, high) < max(_LEAST_WINDOW, 3 * overlap):
        return None
    lefts = spread(items, 0, (extent[0], extent[2]), wide, overlap)
    bottoms = spread(items, 1, (extent[1], extent[3]), high, overlap)
    grid = tuple(
        Tile(row, column, (left, bottom, left + wide, bottom + high))
        for row, bottom in enumerate(reversed(bottoms), start=1)
        for column, left in enumerate(lefts, start=1)
    )
    return Tiling(page, name, grid, _carrying(grid, items), overlap, strip, ruled)


def _carrying(grid: Sequence[Tile], items: Sequence[Item]) -> tuple[Tile, ...]:
    """The places on which something is drawn."""
    return tuple(tile for tile in grid if any(touches(item, tile.window) for item in items))


def _plain(items: Sequence[Item]) -> list[Item]:
    """Dimensions and leaders as their lines and lettering, so that each may be shown or left out."""
    found: list[Item] = []
    for item in items:
        found += exploded(item) if isinstance(item, Compound) else (item,)
    return found


def _whole_on(items: Sequence[Item], tiling: Tiling) -> dict[int, set[tuple[int, int]]]:
    """For lettering that some page holds whole, by its identity: the places of all such pages."""
    found = {}
    for item in items:
        box = bounds((item,)) if isinstance(item, Text) else None
        if box is not None:
            places = {
                tile.row_column
                for tile in tiling.tiles
                if tile.window[0] <= box[0]
                and tile.window[1] <= box[1]
                and box[2] <= tile.window[2]
                and box[3] <= tile.window[3]
            }
            if places:
                found[id(item)] = places
    return found


def _left() -> float:
    """Where the window begins: right of the upright measuring bar."""
    return _BAR_INSET + BAR_DEPTH + 1.5


def grid_crosses(
    window: Window,
    ruled: Ruling,
    coordinates: Callable[[Point], Point],
    read_in: JobUnit = "mm",
    bare: Window | None = None,
) -> list[Item]:
    """The crosses of the drawing's grid that lie in a page's window; arguments as for `tile`.

    They are named in the round figures of the paper's ruling, with their unit where the job has the other one.
    """
    left, bottom, right, top = window
    pitch = ruled.grid
    unit = "" if ruled.unit == read_in else f" {ruled.unit}"
    items: list[Item] = []
    for column in range(math.ceil(left / pitch), math.floor(right / pitch) + 1):
        for row in range(math.ceil(bottom / pitch), math.floor(top / pitch) + 1):
            at = (column * pitch, row * pitch)
            # + 0.0 turns a mirrored -0 into 0.
            x, y = (value + 0.0 for value in coordinates(at))
            names = (f"{UNITS[ruled.unit].of(v):g}" for v in (x, y))
            cross = grid_cross(at, "x {}  y {}{}".format(*names, unit).replace("-", "−"), within=window)
            if bare is None or not any(touches(mark, bare) for mark in cross):
                items += cross
    return items


def _joins(tiling: Tiling, drawing: Sequence[Item]) -> list[Item]:
    """Join lines with a pair of lettered diamonds each, in the drawing's coordinates."""
    at = {(page.row, page.column): page.window for page in tiling.tiles}
    items: list[Item] = []
    count = 0
    half = tiling.overlap / 2
    for (row, column), (left, bottom, right, top) in at.items():
        for neighbour, a, b in (
            ((row, column + 1), (right - half, bottom), (right - half, top)),
            ((row + 1, column), (left, bottom + half), (right, bottom + half)),
        ):
            if neighbour in at:
                items += join(a, b, letters(count), tiling.overlap, drawing)
                count += 1
    return items


def _page(
    drawing: Sequence[Item],
    tiling: Tiling,
    page: Tile,
    caption: Caption,
    *,
    correction: tuple[float, float],
    number: int,
    total: int,
) -> Sheet:
    width, height = tiling.page
    left, bottom = _left(), tiling.strip
    window = (left, bottom, width - _MARGIN, height - _MARGIN)
    shift = Transform(offset=(left - page.window[0], bottom - page.window[1]))
    shown = [item for item in drawing if touches(item, page.window)]
    corners = ((window[0], window[1]), (window[2], window[1]), (window[2], window[3]), (window[0], window[3]))
    items: list[Item] = [
        Clip(window, placed(shown, shift)),
        Path(RULING, corners, closed=True),
        *_bars(tiling),
        *_caption(tiling, page, caption, correction=correction, number=number, total=total),
    ]
    return Sheet(f"{caption.title} {number}", width, height, tuple(items), correction=correction)


def _bars(tiling: Tiling) -> tuple[Item, ...]:
    """A bar along the foot and one up the left side, each whole where the paper allows.

    A page's short side may be hardly longer than that: there the bar runs out into the margins.
    """
    (width, height), ruled = tiling.page, tiling.ruled
    across, x = _bar_place(ruled, width, _left(), width - _MARGIN)
    up, y = _bar_place(ruled, height, tiling.strip, height - _MARGIN)
    return (
        *measuring_bar((x, _BAR_INSET), ruled=ruled, length=across),
        *measuring_bar((_BAR_INSET, y), upright=True, ruled=ruled, length=up),
    )


def _bar_place(ruled: Ruling, side: float, low: float, high: float) -> tuple[float, float]:
    """Length of the bar along a side of the page, and where it starts."""
    if high - low >= ruled.bar:
        return ruled.bar, low
    if side >= ruled.bar + 2 * _BAR_EDGE:
        return ruled.bar, (side - ruled.bar) / 2
    length = ruled.short if side >= ruled.short + 2 * _MARGIN else ruled.shortest
    return length, (low if high - low >= length else (side - length) / 2)


def _caption_width(page_width: float) -> float:
    return page_width - _left() - _MARGIN - _KEY[0] - 4.0


def _strip(caption: Caption, page_width: float, paper: str) -> float:
    """Height of the strip below the window: bar, caption, cautions; the same on every page."""
    notes = (in_unit(note, caption.unit) for note in _NOTES)
    longest = (f"Sheet 888 of 888 · row 88 of 88, column 88 of 88 · {paper}", max(notes, key=len))
    words = _words(caption, longest, (0.0, 0.0), _caption_width(page_width))
    return _BAR_INSET + BAR_DEPTH + 1.0 + max(words.height, _KEY[1]) + _UNDER_WINDOW


def _words(caption: Caption, lines: Sequence[str], at: Point, width: float) -> Piece:
    """Caption and cautions hanging from a top left corner; side by side where the page is wide."""
    beside = bool(caption.cautions) and width >= _TWO_COLUMNS
    column = width * 0.55 if beside else width
    head = " · ".join(filter(None, (caption.job, caption.title, f"revision {caption.revision}")))
    details = " · ".join(
        filter(None, ("1:1", caption.date, caption.hand, caption.view, units_below(caption.unit)))
    )
    datum = f"Datum: {caption.datum}" if caption.datum else ""
    items: list[Item] = []
    x, y = at
    for words, height, bold in (
        (head, ACTED_ON_LETTERING, True),
        ("Print at 100 % (actual size), then measure both bars.", ACTED_ON_LETTERING, False),
        *((line, LEAST_LETTERING, False) for line in (details, datum, *lines) if line),
    ):
        piece = paragraph(words, (x, y), column, height=height, bold=bold)
        items += piece.items
        y -= piece.height + 0.3 * height
    if not caption.cautions:
        return Piece(tuple(items), width, at[1] - y)
    corner = (x + column + 6.0, at[1]) if beside else (x, y - 0.5)
    warned = cautions(caption.cautions, corner, width - (corner[0] - x))
    low = min(y, corner[1] - warned.height)
    return Piece((*items, *warned.items), width, at[1] - low)


def _caption(
    tiling: Tiling,
    page: Tile,
    caption: Caption,
    *,
    correction: tuple[float, float],
    number: int,
    total: int,
) -> tuple[Item, ...]:
    top = tiling.strip - _UNDER_WINDOW
    place = (
        f"Sheet {number} of {total} · row {page.row} of {tiling.rows}, column {page.column} of "
        f"{tiling.columns} · {tiling.paper}"
    )
    lines = (place, in_unit(_note(tiling, correction), caption.unit))
    words = _words(caption, lines, (_left(), top), _caption_width(tiling.page[0]))
    if tiling.rows * tiling.columns == 1:
        return words.items
    return (*words.items, *_key(tiling, page, (tiling.page[0] - _MARGIN, top)))


_NOTES = (
    f"Set out distances over {said(SET_OUT_BY_NUMBER, None)} by their numbers.",
    "Pages crossed out in the key are blank and left out. "
    f"Set out distances over {said(SET_OUT_BY_NUMBER, None)} by their numbers.",
    "Corrected for a printer that prints x {:.4f}, y {:.4f}; true on that printer only.",
)


def _note(tiling: Tiling, correction: tuple[float, float]) -> str:
    if correction != (1.0, 1.0):
        return _NOTES[2].format(1 / correction[0], 1 / correction[1])
    return _NOTES[1] if len(tiling.tiles) < tiling.rows * tiling.columns else _NOTES[0]


def _key(tiling: Tiling, page: Tile, corner: Point) -> list[Item]:
    """A map of the pages, hanging from its top right corner: this page black, left-out pages crossed."""
    width, height = tiling.page
    scale = min(
        _KEY[0] / (tiling.columns * width), _KEY[1] / (tiling.rows * height), 9.0 / max(width, height)
    )
    wide, high = width * scale, height * scale
    printed = {(other.row, other.column) for other in tiling.tiles}
    items: list[Item] = []
    for row in range(1, tiling.rows + 1):
        for column in range(1, tiling.columns + 1):
            left = corner[0] - (tiling.columns - column + 1) * wide
            top = corner[1] - (row - 1) * high
            cell = ((left, top), (left + wide, top), (left + wide, top - high), (left, top - high))
            items.append(Path(RULING, cell, closed=True))
            if (row, column) == (page.row, page.column):
                items.append(Fill(TAG, (cell,)))
            elif (row, column) not in printed:
                items += [Line(RULING, cell[0], cell[2]), Line(RULING, cell[1], cell[3])]
    return items
