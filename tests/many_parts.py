"""A job with very many holes or pockets: a lattice of them in the wood that the job's own cuts leave."""

from __future__ import annotations

from math import ceil, sqrt

import shapely

from scribeline.features import Bore, Feature, polygon
from scribeline.job import parse_job
from scribeline.layout import Ring
from scribeline.plan import plan

CLEAR = 7.0
"""Wood left between the lattice and the job's own cuts, mm."""


def with_holes(text: str, count: int, *, in_one: int = 1) -> str:
    """The job with `count` holes of 1 mm, 4 mm deep, `in_one` of them to a table."""
    at = lattice(text, count, size=0.5)
    tables = []
    for first in range(0, count, in_one):
        places = ", ".join(f"[{x:.2f}, {y:.2f}]" for x, y in at[first : first + in_one])
        tables.append(
            f'[[holes]]\nname = "pin {first + 1}"\nplaces = [{places}]\ndiameter = 1.0\ndepth = 4.0\n'
        )
    return text + "\n" + "\n".join(tables)


def with_pockets(text: str, count: int) -> str:
    """The job with `count` pockets of 9 by 9 mm, 5 mm deep."""
    tables = []
    for number, (x, y) in enumerate(lattice(text, count, size=4.5), start=1):
        corners = ", ".join(
            f"[{x + a:.2f}, {y + b:.2f}]" for a, b in ((-4.5, -4.5), (4.5, -4.5), (4.5, 4.5), (-4.5, 4.5))
        )
        tables.append(
            f'[[pockets]]\nname = "tray {number}"\noutline = [{corners}]\ndepth = 5.0\ncorner_radius = 3.2\n'
        )
    return text + "\n" + "\n".join(tables)


def lattice(text: str, count: int, size: float) -> list[tuple[float, float]]:
    """Places from the nut, mm, as evenly in the free wood as `count` of them allow."""
    planned = plan(*parse_job(text))
    room = _free(planned.layout.outline, [_print(each) for each in planned.features], CLEAR + size)
    pitch = sqrt(room.area / count)
    while len(found := _in(room, pitch)) < count:
        pitch *= 0.98
    return found[:count]


def _print(feature: Feature) -> shapely.Geometry:
    """What a cut covers, seen from above."""
    if not isinstance(feature, Bore):
        return polygon(feature.outline)
    ends = [feature.along(0.0)[:2], feature.along(feature.depth_stop)[:2]]
    return shapely.LineString(ends).buffer(feature.widest / 2)


def _free(outline: Ring, cuts: list[shapely.Polygon], clear: float) -> shapely.Geometry:
    return shapely.Polygon(outline).buffer(-clear).difference(shapely.union_all(cuts).buffer(clear))


def _in(room: shapely.Geometry, pitch: float) -> list[tuple[float, float]]:
    left, low, right, high = room.bounds
    points = [
        (left + pitch * i, low + pitch * k)
        for i in range(ceil((right - left) / pitch))
        for k in range(ceil((high - low) / pitch))
    ]
    return [at for at, inside in zip(points, shapely.contains_xy(room, points), strict=True) if inside]
