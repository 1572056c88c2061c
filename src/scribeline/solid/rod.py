"""The wood between what is bored or driven into the heel and a channel under the fingerboard, in the neck's own frame."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from scribeline.features import Bore
from scribeline.layout import Channel
from scribeline.solid.distance import least
from scribeline.solid.shapes import Prism, Shape, Turned, shape_of

_FAR = 1000.0


def rod_clearance(
    bore: Bore, channel: Channel, heel: tuple[float, float], driven: Sequence[tuple[float, float]]
) -> float:
    """The least wood between a hole of the heel, with what is driven into it, and the channel, mm; negative where they meet.

    Args:
        bore: the hole: along the neck from the heel's end, across it, over the heel's underside.
        channel: a rod's or a bar's, taken as deep all along as it is half-way.
        heel: its end from the nut, and its height from its underside to the board, mm.
        driven: what goes into it: diameter and how deep along its axis, mm.
    """
    import shapely

    end, high = heel
    near, far = channel.across - channel.half, channel.across + channel.half
    box = shapely.box(channel.ends[0] - end, near, channel.ends[1] - end, far)
    prism = Prism(box, high - channel.depth, high)
    hole = shape_of(bore, _FAR).turned
    parts = [
        Turned(hole[0].at, hole[0].axis, (0.0, deep, deep), (wide / 2, wide / 2, wide / 2), None)
        for wide, deep in driven
        if deep > 0
    ]
    whole = Shape(turned=(*(replace(piece, outward=None) for piece in hole), *parts))
    found = least([whole, Shape(prisms=(prism,))], _FAR)
    return float(found.mm[0])
