"""The table of places on a step card: where each hole or pocket lies, from the datums, in both units."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby, zip_longest

from scribeline.drawing.cards.blocks import Block, Cell, Draw, Told, lines, merged_table
from scribeline.drawing.face import text_width
from scribeline.drawing.sheet import ACTED_ON_LETTERING, Item, Point
from scribeline.features import Pocket
from scribeline.layout import ON_THE_CENTRELINE, on_centreline, side_words
from scribeline.plan import Plan
from scribeline.steps import Place

_ROWS_A_TABLE = 8
_ALL_IN_ONE = 150.0
"""Width from which the numbers along and across stand side by side, mm."""
_EMPTY = Cell(((" ", ACTED_ON_LETTERING),))
_SIDE = 19.0
"""Width of a side's name, mm."""
_FROM_TWELFTH, _FROM_POCKET = "from 12th fret", "from pocket end wall"
_FROM_CENTRE = "from centreline"


def _row_of(place: Place) -> tuple[float, float]:
    """What the holes of one row across the body share."""
    return round(place.from_twelfth, 3), round(place.from_pocket_end, 3)


def tables(places: Sequence[Place]) -> list[tuple[Place, ...]]:
    """The places of each table: a row of holes across the body each, or, where no rows are, eight at a time."""
    rows = [tuple(row) for _, row in groupby(places, key=_row_of)]
    if any(len(row) == 1 for row in rows):
        rows = [tuple(places)]
    return [row[start : start + _ROWS_A_TABLE] for row in rows for start in range(0, len(row), _ROWS_A_TABLE)]


def hole_table(
    places: Sequence[Place], width: float, height: float, *, told: Told, named: bool = False
) -> Block:
    """Where each hole is; holes that form one row across the body share the numbers along it.

    Args:
        places: the holes.
        width: of the table, mm.
        height: capital height of the figures, mm.
        told: how the card tells lengths.
        named: whether the shared numbers say whose they are, which they must where there are several tables.
    """
    if any(place.out is not None for place in places):
        return _tunnel_table(places, width, height, told)
    if places[0].down is not None:
        return _edge_table(places, width, height, told)
    if len(places) > 1 and len({_row_of(place) for place in places}) == 1:
        return _row_of_holes(places, width, height, told, named)
    first, rest = 14.0, width - 14.0
    widths = (first, 0.32 * rest, 0.32 * rest, 0.36 * rest)
    rows = [
        (
            (Cell(((place.number, height),)),),
            tuple(
                _along(value, height, widths[1] - 2.8, told)
                for value in (place.from_twelfth, place.from_pocket_end)
            ),
            (_across(place.to_treble, height, widths[3] - 2.8, told),),
        )
        for place in places
    ]
    return _block(merged_table(("No.", _FROM_TWELFTH, _FROM_POCKET, _FROM_CENTRE), rows, widths), width)


def _edge_table(places: Sequence[Place], width: float, height: float, told: Told) -> Block:
    """Holes in the edge: along from the pocket's end wall, across from the centreline, down from the top's edge."""
    first, rest = 14.0, width - 14.0
    widths = (first, 0.34 * rest, 0.36 * rest, 0.30 * rest)
    rows = [
        (
            (Cell(((place.number, height),)),),
            (_along(place.from_pocket_end, height, widths[1] - 2.8, told),),
            (
                _across(place.to_treble, height, widths[2] - 2.8, told),
                _along(place.down or 0.0, height, widths[3] - 2.8, told),
            ),
        )
        for place in places
    ]
    return _block(merged_table(("No.", _FROM_POCKET, _FROM_CENTRE, "below top's edge"), rows, widths), width)


def _tunnel_table(places: Sequence[Place], width: float, height: float, told: Told) -> Block:
    """Where each tunnel goes in and where it comes out: along, across, and down from the face it says."""
    first = 2.8 + max(
        text_width(f"{place.number} out", height, bold=True) for place in places if place.out is not None
    )
    heads = (_FROM_POCKET, _FROM_CENTRE, "deep")
    each = (width - first) / len(heads)
    height = min(height, (each - 2.8) / text_width("to the treble", 1.0))

    def row(words: str, place: Place) -> tuple[Cell, ...]:
        return (
            Cell(((words, height),)),
            _along(place.from_pocket_end, height, each - 2.8, told),
            _across(place.to_treble, height, each - 2.8, told),
            _deep(place, height, each - 2.8, told),
        )

    rows = [
        (row(f"{place.number} {words}", mark), (), ())
        for place in places
        for words, mark in (("in", place), ("out", place.out))
        if mark is not None
    ]
    return _block(merged_table(("No.", *heads), rows, (first, *(each for _ in heads))), width)


def _deep(place: Place, height: float, width: float, told: Told) -> Cell:
    if place.down is None:
        words = lines(f"on the {place.below}", width, ACTED_ON_LETTERING)
        return Cell(tuple((line, ACTED_ON_LETTERING) for line in words))
    big, small = told(place.down)
    return _cell(big, f"below {place.below}", small, height, width)


def _row_of_holes(places: Sequence[Place], width: float, height: float, told: Told, named: bool) -> Block:
    """Holes in one row across the body: the two numbers they share, then where each lies, side by side."""
    half = width / 2
    along = 0.2 * width if width > _ALL_IN_ONE else half
    values = (places[0].from_twelfth, places[0].from_pocket_end)
    widest = max(text_width(told(abs(value))[0], 1.0, bold=True) for value in values)
    size = max(ACTED_ON_LETTERING, min(height + 0.6, (along - 2.8) / widest))
    shared = tuple(_along(value, size, along - 2.8, told) for value in values)
    names = f"{places[0].number}–{places[-1].number} " if named else ""
    heads_along = (f"{names}{_FROM_TWELFTH}", f"{names}{_FROM_POCKET}")
    treble, bass, middle = (
        [place for place in places if side_words(place.to_treble) == side]
        for side in ("to the treble", "to the bass", ON_THE_CENTRELINE)
    )
    # A hole on the centreline says so itself and stands where there is room.
    (treble if len(treble) <= len(bass) else bass).extend(middle)
    first = 2.8 + max(
        text_width("No.", ACTED_ON_LETTERING, bold=True),
        *(text_width(place.number, height, bold=True) for place in places),
    )
    sides = half - first if width <= _ALL_IN_ONE else (width - 2 * along - 2 * first) / 2
    across = [
        (*_numbered(one, height, sides - 2.8, told), *_numbered(other, height, sides - 2.8, told))
        for one, other in zip_longest(treble, bass)
    ]
    heads = ("No.", "centreline to treble", "No.", "centreline to bass")
    if width > _ALL_IN_ONE:
        whole = [((), shared, cells) for cells in across]
        return _block(
            merged_table((*heads_along, *heads), whole, (along, along, first, sides, first, sides)), width
        )
    upper = merged_table(heads_along, [(shared, (), ())], (along, along))
    rows = [(cells, (), ()) for cells in across]
    lower = merged_table(heads, rows, (first, sides, first, sides))
    return _block(_stacked(upper, lower), width)


def _numbered(place: Place | None, height: float, width: float, told: Told) -> tuple[Cell, Cell]:
    """A hole's number and how far it lies from the centreline, the side being named above."""
    if place is None:
        return (_EMPTY, _EMPTY)
    number = Cell(((place.number, height),))
    if on_centreline(place.to_treble):
        return (number, _across(place.to_treble, height, width, told))
    big, small = told(abs(place.to_treble))
    return (number, _cell(big, "", small, height, width))


def _block(table: tuple[float, Draw], width: float) -> Block:
    return Block(*table, width)


def pocket_table(plan: Plan, pocket: Pocket, width: float, height: float, told: Told) -> Block:
    """A pocket's edges from the datums."""
    layout = plan.layout
    xs = [p.x for p in pocket.outline]
    ys = [p.y * layout.treble for p in pocket.outline]
    first = 24.0
    half = (width - first) / 2

    def named(name: str) -> tuple[Cell, ...]:
        return (Cell(((name, ACTED_ON_LETTERING),)),)

    along = [
        (
            (
                *named(name),
                *(
                    _along(x - datum, height, half - 2.8, told)
                    for datum in (layout.twelfth, layout.pocket_end)
                ),
            ),
            (),
            (),
        )
        for name, x in (("mouth" if pocket.at_edge else "neck side", min(xs)), ("tail side", max(xs)))
    ]
    upper = merged_table(("Edge", _FROM_TWELFTH, _FROM_POCKET), along, (first, half, half))
    edges = (("treble", max(ys)), ("bass", min(ys)))
    wide = (width - 2 * _SIDE) / 2
    sides = tuple(cell for name, y in edges for cell in (*named(name), _across(y, height, wide - 2.8, told)))
    at_widest = f"{_FROM_CENTRE}, at the widest"
    lower = merged_table(
        ("Edge", at_widest, "Edge", at_widest), [(sides, (), ())], (_SIDE, wide, _SIDE, wide)
    )
    return _block(_stacked(upper, lower), width)


def _stacked(upper: tuple[float, Draw], lower: tuple[float, Draw]) -> tuple[float, Draw]:
    """One table under another, their frames touching."""

    def draw(corner: Point) -> tuple[Item, ...]:
        return (*upper[1](corner), *lower[1]((corner[0], corner[1] - upper[0])))

    return upper[0] + lower[0], draw


def _along(value: float, height: float, width: float, told: Told) -> Cell:
    """A distance along the instrument, towards the tail unless it says otherwise."""
    big, small = told(abs(value))
    return _cell(big, "to the nut" if value < -0.005 else "", small, height, width)


def _across(to_treble: float, height: float, width: float, told: Told) -> Cell:
    words = side_words(to_treble)
    if on_centreline(to_treble):
        size = min(height, width / text_width(words, 1.0))
        if size >= ACTED_ON_LETTERING:
            return Cell(((words, size),))
        return Cell(tuple((line, ACTED_ON_LETTERING) for line in lines(words, width, ACTED_ON_LETTERING)))
    big, small = told(abs(to_treble))
    return _cell(big, words, small, height, width)


def _cell(big: str, side: str, small: str, height: float, width: float) -> Cell:
    """A figure, the side it is measured to, the second unit; each on a line of its own where they must be."""
    inch = max(ACTED_ON_LETTERING, 0.72 * height)
    joined = f"{big} {side}".strip()
    upper = [joined] if text_width(joined, height, bold=True) <= width else [big, side]
    lower = (
        [small]
        if text_width(small, inch) <= width
        else small.replace(" (", "\n(").replace(" · ", "\n").split("\n")
    )
    return Cell((*((words, height) for words in upper), *((words, inch) for words in lower)))
