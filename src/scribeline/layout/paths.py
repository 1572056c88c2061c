"""Nut slots, string paths and the margins they leave to the board's edge."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from scribeline.layout.frets import Floats

Spacing = Literal["equal gaps", "equal centres"]


def nut_slots(width: float, edge: float, gauges: Sequence[float], spacing: Spacing) -> Floats:
    """Centres of the nut slots across the nut, mm from the first string's edge of the nut.

    "equal gaps" leaves the same space between neighbouring strings' sides: gap = (W − 2e − Σd)/(n − 1);
    "equal centres" puts the centres evenly between the same outer two. Both keep the outer strings' outer
    sides `edge` from the nut's edges.

    Args:
        width: nut width W, mm.
        edge: nut edge to the outer side of the outer string e, mm.
        gauges: string diameters d in order across the nut, mm.
        spacing: which of the two.

    Returns:
        Centres, shape (strings,), rising.
    """
    first, strings = first_slot(edge, gauges[0]), len(gauges)
    if spacing == "equal centres":
        last = width - first_slot(edge, gauges[-1])
        return np.array([even_slot(first, last, no, strings) for no in range(1, strings + 1)])
    gap = slot_gap(width, edge, sum(gauges), strings)
    slots = [first]
    for before, gauge in pairwise(gauges):
        slots.append(next_slot(slots[-1], before, gap, gauge))
    return np.array(slots)


def first_slot(edge: float, gauge: float) -> float:
    """Centre of the outer slot from its edge of the nut, mm."""
    return edge + gauge / 2


def slot_gap(width: float, edge: float, gauges: float, strings: float) -> float:
    """Space between neighbouring strings' sides at the nut, mm; `gauges` is the sum of all."""
    return (width - 2 * edge - gauges) / (strings - 1)


def next_slot(slot: float, before: float, gap: float, gauge: float) -> float:
    """Centre of the next slot, a gap further from side to side, mm; `before` is the gauge in the slot."""
    return slot + before / 2 + gap + gauge / 2


def even_slot(first: float, last: float, no: float, strings: float) -> float:
    """Centre of a string's slot between the outer two, centres even, mm."""
    return first + (last - first) * (no - 1) / (strings - 1)


def bridge_row(strings: int, spacing: float) -> Floats:
    """String positions across the bridge, y from its middle, treble first, shape (strings,)."""
    return bridge_place(spacing, strings, np.arange(1, strings + 1, dtype=np.float64))


def bridge_place(spacing: float, strings: float, no: Floats) -> Floats:
    """Position of a string across the bridge, from its middle towards the treble, mm; strings count from the treble."""
    return spacing * ((strings + 1) / 2 - no)


def path_y(x: ArrayLike, nut_y: ArrayLike, bridge_y: ArrayLike, scale: ArrayLike) -> Floats:
    """Position across of a straight string at x from the nut: shapes broadcast."""
    return string_at(*(np.asarray(each, dtype=np.float64) for each in (x, nut_y, bridge_y, scale)))


def string_at(x: Floats, nut: Floats, bridge: Floats, scale: Floats) -> Floats:
    """Position across, mm, of a straight string at x from the nut, from its positions at the nut and on the scale line."""
    return nut + (bridge - nut) * x / scale


def edge_margins(
    y: ArrayLike, gauge: ArrayLike, board_width: ArrayLike, bevel: float
) -> tuple[Floats, Floats]:
    """Least board beside a string: (centre to board edge, string's side to where the fret's bevel starts), mm.

    Args:
        y: string centre from the centreline, mm.
        gauge: string diameter, mm.
        board_width: board width there, mm.
        bevel: what the fret-end bevel takes off the edge, mm.

    Returns:
        Two arrays of the broadcast shape.
    """
    centre = edge_margin(np.asarray(board_width, dtype=np.float64), np.asarray(y, dtype=np.float64))
    return centre, side_margin(centre, np.asarray(gauge, dtype=np.float64), bevel)


def edge_margin(board_width: Floats, across: Floats) -> Floats:
    """From a string's centre, so far from the centreline, to the board's edge, mm."""
    return board_width / 2 - abs(across)


def side_margin(margin: Floats, gauge: Floats, bevel: float) -> Floats:
    """From a string's side to where the fret's bevel starts, mm."""
    return margin - gauge / 2 - bevel
