"""Nut slots, string paths and the margins they leave to the board's edge."""

from __future__ import annotations

from collections.abc import Sequence
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
    d = np.asarray(gauges, dtype=np.float64)
    if spacing == "equal centres":
        return np.linspace(edge + d[0] / 2, width - edge - d[-1] / 2, len(d))
    gap = (width - 2 * edge - d.sum()) / (len(d) - 1)
    before = np.concatenate([[0.0], np.cumsum(d[:-1] + gap)])
    return edge + before + d / 2


def bridge_row(strings: int, spacing: float) -> Floats:
    """String positions across the bridge, y from its middle, treble first, shape (strings,)."""
    return spacing * ((strings - 1) / 2 - np.arange(strings, dtype=np.float64))


def path_y(x: ArrayLike, nut_y: ArrayLike, bridge_y: ArrayLike, scale: ArrayLike) -> Floats:
    """Position across of a straight string at x from the nut: shapes broadcast."""
    y0, y1 = np.asarray(nut_y, dtype=np.float64), np.asarray(bridge_y, dtype=np.float64)
    return y0 + (y1 - y0) * np.asarray(x, dtype=np.float64) / np.asarray(scale, dtype=np.float64)


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
    centre = np.asarray(board_width, dtype=np.float64) / 2 - np.abs(np.asarray(y, dtype=np.float64))
    return centre, centre - np.asarray(gauge, dtype=np.float64) / 2 - bevel
