"""How far a bit has to go to come out: through the body, or through the roof of a pocket cut from the other side."""

from __future__ import annotations

from collections.abc import Iterable
from math import sqrt

from scribeline.features.cuts import Pocket
from scribeline.features.rings import polygon
from scribeline.layout import Layout, Point, Point3

BREAK_OUT = 1.0
"""How far a bit's full diameter is run past a wall it opens, mm (common practice, no source)."""

_ROUNDS = 8
"""Times the place where a leaning hole comes out of a curved face is corrected; each leaves a small share of the error."""


def past_the_wall(run: float, break_out: float) -> float:
    """Depth of a hole at full diameter, mm, that opens a wall after so far."""
    return run + break_out


def surface(layout: Layout, face: str, at: Point) -> Point3:
    """A place on the top or the back."""
    return Point3(at.x, at.y, layout.top_at(at) if face == "top" else layout.back_at(at))


def floor_at(layout: Layout, face: str, depth: float) -> float:
    """Height of a floor so deep, mm: counted from the level face, whatever is carved away over it."""
    return floor_from_top(depth) if face == "top" else floor_from_back(depth, layout.thickness)


def floor_from_top(depth: float) -> float:
    """Height of a floor so deep under the top, mm."""
    return -depth


def floor_from_back(depth: float, thickness: float) -> float:
    """Height of a floor so deep over the back, mm."""
    return depth - thickness


def floor_z(layout: Layout, pocket: Pocket, x: float | None = None) -> float:
    """Height of a pocket's floor, mm: where it leans, at a place along the instrument, or where its depth is told."""
    return floor_at(layout, pocket.face, pocket.depth if x is None else pocket.depth_at(x))


def run_to_floor(layout: Layout, pocket: Pocket, start: Point3, axis: Point3) -> float:
    """How far along an axis, not level, a pocket's floor lies, mm; under 0 behind the start."""
    if pocket.slope is None:
        return (floor_z(layout, pocket) - start.z) / axis.z
    return (floor_z(layout, pocket, start.x) - start.z) / (axis.z - pocket.slope.rise * axis.x)


def covers(pocket: Pocket, at: Point, radius: float = 0.0) -> bool:
    """Whether a round hole comes out wholly in a pocket's floor; with no radius, whether its middle does."""
    import shapely

    middle = shapely.Point(at)
    return bool(
        polygon(pocket.outline, pocket.islands).covers(middle.buffer(radius) if radius > 0 else middle)
    )


def run_through(
    layout: Layout, start: Point3, axis: Point3, radius: float, roofs: Iterable[Pocket] = ()
) -> float:
    """Depth along a bore's axis at which its full diameter has just come out, mm.

    Args:
        layout: for the body's faces.
        start: where the axis meets its face.
        axis: unit vector into the wood, not level.
        radius: of the bore, mm.
        roofs: pockets cut from the other face whose floor it may come out in: the nearest counts, else the other face.
    """
    level = abs(axis.z)
    runs = []
    for pocket in roofs:
        run = run_to_floor(layout, pocket, start, axis)
        if run > 0 and covers(pocket, _along(start, axis, run)):
            runs.append((run, 0.0 if pocket.slope is None else abs(pocket.slope.rise)))
    depth, slope = min(runs, default=(0.0, 0.0))
    return (depth or _to_face(layout, start, axis)) + radius * (sqrt(max(0.0, 1 - level**2)) + slope) / level


def _to_face(layout: Layout, start: Point3, axis: Point3) -> float:
    depth = 0.0
    for _ in range(_ROUNDS):
        out = _along(start, axis, depth)
        depth = ((layout.back_at(out) if axis.z < 0 else layout.top_at(out)) - start.z) / axis.z
    return max(
        0.0, depth
    )  # where nothing is left between the faces there is nothing to pass, and a finding says so


def _along(start: Point3, axis: Point3, depth: float) -> Point:
    return Point(start.x + depth * axis.x, start.y + depth * axis.y)
