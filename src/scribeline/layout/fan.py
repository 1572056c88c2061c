"""Where nut, frets and scale line run across the board, and where each string crosses them.

Each is a straight line. Square to the centreline they all are where one scale serves every string. On a fan the two outer
strings have scales of their own, laid so that at the square fret they are level with each other; every fret runs through the
places at which the two outer strings have it, each on its own series. A string in between meets the lines where it meets
them: on its own series too where it divides nut and bridge in one ratio, else off it by a cent or so.

Lengths of strings are counted along the centreline, as a scale is: 0.1 mm shorter than along the string.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from scribeline.job import Document
from scribeline.layout.frets import Floats, board_narrows
from scribeline.layout.paths import bridge_row, nut_slots
from scribeline.strings import equal_temperament, fret_distances, fret_place


def fan_place(share: Any, length: Any, square: Any, treble: Any) -> Any:
    """Where an outer string has a fret, along the neck from the treble string's nut, mm.

    Args:
        share: of its scale that lies before the fret; 0 is the nut, 1 the scale line.
        length: its scale, mm.
        square: the share at the square fret.
        treble: the treble string's scale, mm.
    """
    return square * (treble - length) + share * length


def slope_of(treble: Any, bass: Any, treble_across: Any, bass_across: Any) -> Any:
    """By how much a line through two places lies further towards the tail for each mm to the treble.

    Args:
        treble: where it passes the treble string, along the neck, mm.
        bass: where it passes the bass string.
        treble_across: the treble string there, from the centreline to the treble, mm.
        bass_across: the bass string there.
    """
    return (treble - bass) / (treble_across - bass_across)


def on_the_centreline(along: Any, across: Any, slope: Any) -> Any:
    """Where a line crosses the centreline, along the neck, mm, from a place on it."""
    return along - slope * across


def at_across(middle: Any, slope: Any, across: Any) -> Any:
    """Where a line is, along the neck, mm, so far from the centreline to the treble."""
    return middle + slope * across


def met_share(*, middle: Any, slope: Any, nut: Any, nut_across: Any, scale: Any, row: Any) -> Any:
    """The share of a string's scale that lies before a line which it meets.

    Args:
        middle: where the line crosses the centreline, along the neck, mm.
        slope: of the line; see `slope_of`.
        nut: where the string leaves the nut, along the neck, mm.
        nut_across: the same from the centreline to the treble, mm.
        scale: the string's scale, mm.
        row: the string on the scale line, from the centreline to the treble, mm.
    """
    return (at_across(middle, slope, nut_across) - nut) / (scale - slope * (row - nut_across))


def half_board(half: Any, narrows: Any, slope: Any, side: Any) -> Any:
    """How far from the centreline a line meets the board's edge, mm.

    Args:
        half: half the board's width where the line crosses the centreline, mm.
        narrows: by how much that grows for each mm along.
        slope: of the line; see `slope_of`.
        side: 1 for the treble's edge, -1 for the bass's.
    """
    return half / (1 - side * narrows * slope)


def nut_halves(document: Document) -> tuple[float, float]:
    """How far from the centreline the nut's line meets the board's treble edge, and its bass edge, mm."""
    half, narrows = document.nut.width / 2, board_narrows(document) / 2
    slope = float(fret_lines(document).slope[0])
    return half_board(half, narrows, slope, 1), half_board(half, narrows, slope, -1)


@dataclass(frozen=True, slots=True)
class FretLines:
    """The nut, every fret and the scale line, and the strings on them; arrays of shape (frets + 2,) but for the strings'.

    Attributes:
        middle: where each line crosses the centreline, along the neck from where the nut does, mm.
        slope: by how much each lies further towards the tail for each mm to the treble.
        nut: where each string leaves the nut, along the neck, mm, shape (strings,), treble first.
        offset: each string's place on the scale line past the middle of that, mm, shape (strings,).
        scale: each string's scale, mm, shape (strings,).
        fret_x: each fret under each string, from the string's own place on the nut, mm, shape (strings, frets).
    """

    middle: Floats
    slope: Floats
    nut: Floats
    offset: Floats
    scale: Floats
    fret_x: Floats

    @property
    def is_fanned(self) -> bool:
        """Whether any line runs aslant."""
        return bool(self.slope.any())

    def slope_at(self, along: float) -> float:
        """The slope of a line between them, as even as they are there; see `slope_of`. Past the scale line it is that one's."""
        return float(np.interp(along, self.middle, self.slope))

    def off_series(self, cents: ArrayLike) -> Floats:
        """By how much each fret under each string stands sharp of the string's own series, cents, shape (strings, frets)."""
        left = 1 - self.fret_x / self.scale[:, np.newaxis]
        return np.asarray(-1200 * np.log2(left) - np.asarray(cents))


def fret_cents(document: Document) -> Floats:
    """Cents of each fret above the open string, shape (frets,)."""
    scale = document.scale
    return np.asarray(scale.cents or equal_temperament(scale.frets), dtype=np.float64)


def strings_across(document: Document) -> tuple[Floats, Floats]:
    """Each string from the centreline to the treble, mm, treble first: at the nut, and on the scale line."""
    nut, gauges = document.nut, [string.gauge for string in document.strings]
    slots = nut_slots(nut.width, nut.edge, gauges, nut.spacing)
    return nut.width / 2 - slots, bridge_row(len(gauges), document.bridge.spacing.mm)


def square_cents(square_fret: float, cents: ArrayLike) -> float:
    """Cents of the square fret, which may lie between two; even between them."""
    every = np.concatenate([[0.0], np.asarray(cents, dtype=np.float64)])
    return float(np.interp(square_fret, np.arange(len(every)), every))


def fret_lines(document: Document) -> FretLines:
    """The lines of a job's frets."""
    length, cents = document.scale.length, fret_cents(document)
    nut, row = strings_across(document)
    if document.scale.bass_length is None or document.scale.square_fret is None:
        middle = np.concatenate([[0.0], fret_distances(length, cents), [length]])
        none = np.zeros_like(nut)
        return FretLines(
            middle=middle,
            slope=np.zeros_like(middle),
            nut=none,
            offset=none,
            scale=np.full_like(nut, length),
            fret_x=np.broadcast_to(middle[1:-1], (len(nut), len(cents))),
        )
    share = np.concatenate([[0.0], fret_place(np.asarray(1.0), cents), [1.0]])
    square = float(fret_place(np.asarray(1.0), np.asarray(square_cents(document.scale.square_fret, cents))))
    (nut_t, nut_b), (row_t, row_b) = nut[[0, -1]], row[[0, -1]]
    treble, bass = (fan_place(share, each, square, length) for each in (length, document.scale.bass_length))
    treble_across, bass_across = nut_t + share * (row_t - nut_t), nut_b + share * (row_b - nut_b)
    slope = slope_of(treble, bass, treble_across, bass_across)
    middle = on_the_centreline(treble, treble_across, slope)
    middle = middle - middle[0]
    at_nut, at_scale = at_across(middle[0], slope[0], nut), at_across(middle[-1], slope[-1], row)
    scale = at_scale - at_nut
    column = np.newaxis
    met = met_share(
        middle=middle[1:-1],
        slope=slope[1:-1],
        nut=at_nut[:, column],
        nut_across=nut[:, column],
        scale=scale[:, column],
        row=row[:, column],
    )
    return FretLines(
        middle=middle,
        slope=slope,
        nut=at_nut,
        offset=slope[-1] * row,
        scale=scale,
        fret_x=met * scale[:, np.newaxis],
    )


def board_end_slope(document: Document, lines: FretLines) -> float:
    """The slope of the board's end: 0 where it is square, else as a fret would run there; see `slope_of`."""
    board = document.fingerboard
    return lines.slope_at(board.end) if board.end_along_frets else 0.0
