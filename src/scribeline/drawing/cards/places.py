"""The tables of places on a step card: where each hole or pocket lies, from the datums, in both units.

A table is `{"heads": [...], "widths": [...], "rows": [[cell, ...], ...]}` for the form `cards.typ`. A width is "auto" or a
share of what is left. A cell says `big`, `side` and `small`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby, zip_longest
from typing import Any

from scribeline.drawing.cards.told import Told
from scribeline.features import Pocket
from scribeline.layout import Point3, on_centreline, side_words
from scribeline.plan import Plan
from scribeline.steps import Card, Place

Cell = dict[str, Any]
Table = dict[str, Any]

_FROM_CENTRE = "from centreline"
_ROW = 3
"""Holes from which a row across the body has its two sides side by side."""
_MANY = 6
"""Holes from which those that lie in pairs have a line for each pair."""


def place_tables(plan: Plan, card: Card) -> list[list[Table]]:
    """Every table of a card, those together that are read together: a pocket's, a row of holes', or all of its holes'."""
    told, pockets = Told.on(plan, card), {pocket.id: pocket for pocket in plan.features.pockets}
    routed = [(pockets[place.feature], place) for place in card.places if place.feature in pockets]
    holes = [place for place in card.places if place.feature not in pockets]
    rows = [tuple(row) for _, row in groupby(holes, key=_row_of)]
    if any(len(row) < _ROW for row in rows):
        rows = [tuple(holes)] if holes else []
    tables = [[_pockets(plan, routed, told)]] if routed else []
    return [*tables, *(_holes(card, row, told, len(rows) > 1) for row in rows)]


def _row_of(place: Place) -> tuple[float, ...]:
    """What the holes of one row across the body share."""
    return tuple(round(reading.mm, 3) for reading in place.along)


def _from(place: Place) -> list[str]:
    """The heads of the columns along the instrument, one for each datum."""
    return [f"from {reading.datum.name}" for reading in place.along]


def _alongs(place: Place, told: Told) -> list[Cell]:
    return [_along(reading.mm, told) for reading in place.along]


def _holes(card: Card, places: Sequence[Place], told: Told, named: bool) -> list[Table]:
    """Where each hole is; holes that form one row across the body share the numbers along it.

    Args:
        card: says which face lies up.
        places: the holes.
        told: how the card tells lengths.
        named: whether the shared numbers say whose they are, which they must where there are several tables.
    """
    if any(place.out is not None for place in places):
        return [_wire_holes(places, card.face, told)]
    if places[0].below is not None:
        return [_from_the_edge(places, told)]
    if len(places) >= _ROW and len({_row_of(place) for place in places}) == 1:
        return _row_of_holes(places, told, named)
    if len(places) >= _MANY and (pairs := _in_pairs(places)):
        return [_pairs(pairs, told)]
    rows = [[_name(place.number), *_alongs(place, told), _across(place.across.mm, told)] for place in places]
    heads = _from(places[0])
    return [_table(("No.", *heads, _FROM_CENTRE), ("auto", *[32] * len(heads), 36), rows)]


_Pair = tuple[Place | None, Place | None]
"""Two holes at one place along the instrument, to the treble and to the bass."""


def _in_pairs(places: Sequence[Place]) -> list[_Pair]:
    """Holes side by side on either side of the centreline; none where they are no such pairs."""
    found: dict[tuple[float, ...], dict[str, Place]] = {}
    for place in places:
        sides = found.setdefault(_row_of(place), {})
        if sides.setdefault(side_words(place.across.mm), place) is not place:
            return []
    treble, bass = "to the treble", "to the bass"
    if any(set(sides) - {treble, bass} for sides in found.values()) or 2 * len(found) > len(places) + 1:
        return []
    return [(sides.get(treble), sides.get(bass)) for sides in found.values()]


def _pairs(pairs: Sequence[_Pair], told: Told) -> Table:
    """Holes in pairs, each pair with the numbers that it shares."""
    shared = [place for pair in pairs if (place := pair[0] or pair[1]) is not None]
    rows = [
        [*_numbered(treble, told), *_numbered(bass, told), *_alongs(place, told)]
        for (treble, bass), place in zip(pairs, shared, strict=True)
    ]
    along = _from(shared[0])
    heads = ("No.", "centreline to treble", "No.", "centreline to bass", *along)
    return _table(heads, ("auto", 1, "auto", 1, *[1] * len(along)), rows)


def _from_the_edge(places: Sequence[Place], told: Told) -> Table:
    """Holes in the edge or in a cavity's wall: along, across from the centreline, down from the edge of the face over them."""
    face = "top" if places[0].below is None else places[0].below.datum.name
    rows = [
        [
            _name(place.number),
            _along(place.nearest.mm, told),
            _across(place.across.mm, told),
            _along(0.0 if place.below is None else place.below.mm, told),
        ]
        for place in places
    ]
    return _table(
        ("No.", f"from {places[0].nearest.datum.name}", _FROM_CENTRE, f"below {face}'s edge"),
        ("auto", 34, 36, 30),
        rows,
    )


def _wire_holes(places: Sequence[Place], face: str, told: Told) -> Table:
    """Where each wire hole goes in and where it comes out: along, across, and down from the face it says."""
    rows = [
        [
            _name(f"{place.number} {words}"),
            _along(mark.nearest.mm, told),
            _across(mark.across.mm, told),
            _deep(mark, face, told),
        ]
        for place in places
        for words, mark in (("in", place), ("out", place.out))
        if mark is not None
    ]
    return _table(
        ("No.", f"from {places[0].nearest.datum.name}", _FROM_CENTRE, "deep"), ("auto", 1, 1, 1), rows
    )


def _row_of_holes(places: Sequence[Place], told: Told, named: bool) -> list[Table]:
    """Holes in one row across the body: the numbers they share, then where each lies, side by side."""
    names = f"{places[0].number}–{places[-1].number} " if named else ""
    treble, bass, middle = (
        [place for place in places if side_words(place.across.mm) == side]
        for side in ("to the treble", "to the bass", "on the centreline")
    )
    # A hole on the centreline says so itself and stands where there is room.
    (treble if len(treble) <= len(bass) else bass).extend(middle)
    heads = [f"{names}{head}" for head in _from(places[0])]
    rows = [[*_numbered(one, told), *_numbered(other, told)] for one, other in zip_longest(treble, bass)]
    return [
        _table(heads, [1] * len(heads), [_alongs(places[0], told)]),
        _table(("No.", "centreline to treble", "No.", "centreline to bass"), ("auto", 1, "auto", 1), rows),
    ]


def _pockets(plan: Plan, routed: Sequence[tuple[Pocket, Place]], told: Told) -> Table:
    """The pockets' edges from the datums: along the instrument, and across it at their widest."""
    rows = [row for each in routed for row in _edges(plan, *each, told, named=len(routed) > 1)]
    along = _from(routed[0][1])
    heads = ("Edge", *along, "Edge", f"{_FROM_CENTRE}, at the widest")
    return _table(heads, ("auto", *[1] * len(along), "auto", 1.3), rows)


def _edges(plan: Plan, pocket: Pocket, place: Place, told: Told, *, named: bool) -> Iterator[list[Cell]]:
    """The two rows of one pocket, each with its name where there are several."""
    layout, name = plan.layout, pocket.role if named else ""
    xs, ys = [p.x for p in pocket.outline], [p.y * layout.treble for p in pocket.outline]
    along = (("opening" if pocket.at_edge else "neck side", min(xs)), ("tail side", max(xs)))
    across = (("treble", max(ys)), ("bass", min(ys)))
    for (end, x), (side, y) in zip(along, across, strict=True):
        yield [
            _cell(end, "", name, bold=False),
            *(_along(reading.datum.along(Point3(x, 0.0, 0.0)).mm, told) for reading in place.along),
            _name(side, bold=False),
            _across(y, told),
        ]


def _table(heads: Iterable[str], widths: Iterable[object], rows: list[list[Cell]]) -> Table:
    return {"heads": list(heads), "widths": list(widths), "rows": rows}


def _cell(big: str = "", side: str = "", small: str = "", *, bold: bool = True) -> Cell:
    return {"big": big, "side": side, "small": small, "bold": bold}


def _name(words: str, *, bold: bool = True) -> Cell:
    return _cell(words, bold=bold)


def _numbered(place: Place | None, told: Told) -> tuple[Cell, Cell]:
    """A hole's number and how far it lies from the centreline, the side being named above."""
    if place is None:
        return (_cell(), _cell())
    if on_centreline(place.across.mm):
        return (_name(place.number), _across(place.across.mm, told))
    big, small = told(abs(place.across.mm))
    return (_name(place.number), _cell(big, "", small))


def _along(value: float, told: Told) -> Cell:
    """A distance along the instrument, towards the tail unless it says otherwise."""
    big, small = told(abs(value))
    return _cell(big, "to the nut" if value < -0.005 else "", small)


def _across(to_treble: float, told: Told) -> Cell:
    words = side_words(to_treble)
    if on_centreline(to_treble):
        return _name(words, bold=False)
    big, small = told(abs(to_treble))
    return _cell(big, words, small)


def _deep(place: Place, face: str, told: Told) -> Cell:
    if place.below is None:
        return _name(f"on the {face}", bold=False)
    big, small = told(place.below.mm)
    return _cell(big, f"below {place.below.datum.name}", small)
