"""The wood between what is bored or driven into the heel and the truss rod's channel, in the neck's own frame."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from scribeline.features import Bore
from scribeline.solid.distance import least
from scribeline.solid.shapes import Prism, Shape, Turned, shape_of

Channel = tuple[tuple[float, float], float, tuple[float, float]]
"""From where to where along the neck from the heel's end, half its width, from where to where over the heel's underside, mm."""

_FAR = 1000.0


def rod_clearance(bore: Bore, channel: Channel, driven: Sequence[tuple[float, float]]) -> float:
    """The least wood between a hole of the heel, with what is driven into it, and the channel, mm; negative where they meet.

    Args:
        bore: the hole, in the channel's frame.
        channel: the rod's.
        driven: what goes into it: diameter and how deep along its axis, mm.
    """
    import shapely

    (low_x, high_x), half, (low, high) = channel
    prism = Prism(shapely.box(low_x, -half, high_x, half), low, high)
    hole = shape_of(bore, _FAR).turned
    parts = [
        Turned(hole[0].at, hole[0].axis, (0.0, deep, deep), (wide / 2, wide / 2, wide / 2), None)
        for wide, deep in driven
        if deep > 0
    ]
    whole = Shape(turned=(*(replace(piece, outward=None) for piece in hole), *parts))
    found = least([whole, Shape(prisms=(prism,))], _FAR)
    return float(found.mm[0])
