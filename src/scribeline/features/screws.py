"""Screws in the wood, as solids: what is driven into the pilots."""

from __future__ import annotations

from dataclasses import replace

from scribeline.features.bits import Bit
from scribeline.features.cuts import Bore, Step

POINT_SHARE = 1.0
"""Length of a wood screw's point as a share of its thread's diameter (from memory: measure your own)."""


def driven(bore: Bore, length: float | None = None) -> Bore:
    """A pilot's screw as the cut it would be: a cylinder over its thread and the cone of its point.

    Args:
        bore: a pilot with its screw.
        length: another length of the screw to try, mm.

    Returns:
        The same bore, with the screw's size in place of the bit's.
    """
    screw = bore.own_screw
    reach = (screw.length if length is None else length) - screw.under_head
    point = min(POINT_SHARE * screw.thread, reach)
    return replace(
        bore, steps=(Step(screw.thread, reach - point, Bit("twist", screw.thread, point)),), through=False
    )
