"""The table of places on a step card: where each hole or pocket lies, from the datums, in both units."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from scribeline.drawing.card_blocks import Cell, Draw, merged_table
from scribeline.drawing.face import text_width
from scribeline.drawing.sheet import ACTED_ON_LETTERING, Item, Point
from scribeline.features import Pocket
from scribeline.lengths import both_units
from scribeline.plan import Plan
from scribeline.steps import Place

_ROWS_A_TABLE = 8
_SMALLER = (5.2, 4.6, 4.2, 3.8, ACTED_ON_LETTERING)
_FROM_TWELFTH, _FROM_POCKET = "from the 12th crown", "from the pocket end wall"
_FROM_CENTRE = "from the centreline"


def _row_of(place: Place) -> tuple[float, float]:
    """What the holes of one row across the body share."""
    return round(place.from_twelfth, 3), round(place.from_pocket_end, 3)


def tables(places: Sequence[Place]) -> list[tuple[Place, ...]]:
    """The places of each table: a row of holes across the body each, or, where no rows are, eight at a time."""
    rows = [tuple(row) for _, row in groupby(places, key=_row_of)]
    if any(len(row) == 1 for row in rows):
        rows = [tuple(places)]
    return [row[start : start + _ROWS_A_TABLE] for row in rows for start in range(0, len(row), _ROWS_A_TABLE)]


def hole_table(places: Sequence[Place], width: float, height: float) -> tuple[float, Draw]:
    """Where each hole is; holes that form one row across the body share the numbers along it."""
    if len({_row_of(place) for place in places}) == 1:
        return _row_of_holes(places, width, height)
    first, rest = 15.0, width - 15.0
    widths = (first, 0.31 * rest, 0.31 * rest, 0.38 * rest)
    rows = [
        (
            (Cell(((place.number, height),)),),
            tuple(
                _along(value, height, widths[1] - 2.8)
                for value in (place.from_twelfth, place.from_pocket_end)
            ),
            (_across(place.to_treble, height, widths[3] - 2.8),),
        )
        for place in places
    ]
    return merged_table(("No.", _FROM_TWELFTH, _FROM_POCKET, _FROM_CENTRE), rows, widths)


def _row_of_holes(places: Sequence[Place], width: float, height: float) -> tuple[float, Draw]:
    """Holes in one row across the body: the two numbers they share, then where each lies across."""
    half = width / 2
    shared = tuple(
        _along(value, height + 0.6, half - 2.8)
        for value in (places[0].from_twelfth, places[0].from_pocket_end)
    )
    names = f"{places[0].number}–{places[-1].number} " if len(places) > 1 else ""
    upper = merged_table(
        (f"{names}{_FROM_TWELFTH}", f"{names}{_FROM_POCKET}"), [(shared, (), ())], (half, half)
    )
    heads = ("No.", _FROM_CENTRE, "inches")
    for size in (height, *(size for size in _SMALLER if size < height)):
        rows = [_row(place, size) for place in places]
        widths = [
            2.8 + max(text_width(head, ACTED_ON_LETTERING, bold=True), *(row[column].width for row in rows))
            for column, head in enumerate(heads)
        ]
        if sum(widths) <= width:
            break
    widths[1] += width - sum(widths)
    lower = merged_table(heads, [(row, (), ()) for row in rows], widths)
    return _stacked(upper, lower)


def pocket_table(plan: Plan, pocket: Pocket, width: float, height: float) -> tuple[float, Draw]:
    """A pocket's edges from the datums."""
    layout = plan.layout
    xs = [p.x for p in pocket.outline]
    ys = [p.y * layout.treble for p in pocket.outline]
    first = 26.0
    half = (width - first) / 2

    def named(name: str) -> tuple[Cell, ...]:
        return (Cell(((name, ACTED_ON_LETTERING),)),)

    along = [
        (
            (
                *named(name),
                *(_along(x - datum, height, half - 2.8) for datum in (layout.twelfth, layout.pocket_end)),
            ),
            (),
            (),
        )
        for name, x in (("mouth" if pocket.at_edge else "neck side", min(xs)), ("tail side", max(xs)))
    ]
    upper = merged_table(("Edge", _FROM_TWELFTH, _FROM_POCKET), along, (first, half, half))
    edges = (("treble side", max(ys)), ("bass side", min(ys)))
    across = [((*named(name), _across(y, height, 2 * half - 2.8)), (), ()) for name, y in edges]
    lower = merged_table(("Edge", f"{_FROM_CENTRE}, at the widest"), across, (first, 2 * half))
    return _stacked(upper, lower)


def _row(place: Place, height: float) -> tuple[Cell, Cell, Cell]:
    """A hole's number, where it lies across, and the same in inches."""
    across, *inch = _across(place.to_treble, height, float("inf")).words
    inches = Cell(tuple(inch) or ((" ", height),), bold=False)
    return (Cell(((place.number, height),)), Cell((across,)), inches)


def _stacked(upper: tuple[float, Draw], lower: tuple[float, Draw]) -> tuple[float, Draw]:
    """One table under another, their frames touching."""

    def draw(corner: Point) -> tuple[Item, ...]:
        return (*upper[1](corner), *lower[1]((corner[0], corner[1] - upper[0])))

    return upper[0] + lower[0], draw


def _along(value: float, height: float, width: float) -> Cell:
    """A distance along the instrument, towards the tail unless it says otherwise."""
    big, small = both_units(abs(value))
    return _cell(big, "to the nut" if value < -0.005 else "", small, height, width)


def _across(to_treble: float, height: float, width: float) -> Cell:
    if abs(to_treble) < 0.005:
        return Cell((("on the centreline", height),))
    big, small = both_units(abs(to_treble))
    return _cell(big, f"to the {'treble' if to_treble > 0 else 'bass'}", small, height, width)


def _cell(big: str, side: str, small: str, height: float, width: float) -> Cell:
    """A figure, the side it is measured to, the second unit; each on a line of its own where they must be."""
    inch = max(ACTED_ON_LETTERING, 0.72 * height)
    joined = f"{big} {side}".strip()
    upper = [joined] if text_width(joined, height, bold=True) <= width else [big, side]
    lower = [small] if text_width(small, inch) <= width else small.replace(" (", "\n(").split("\n")
    return Cell((*((words, height) for words in upper), *((words, inch) for words in lower)))
