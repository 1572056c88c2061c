"""Smooth curves and their flattening into straight segments, with a bound on the error."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Points = NDArray[np.float64]


_MOST_STEPS = 100_000


def _bounded(steps: float) -> int:
    """Whole steps, at least one.

    Raises:
        OverflowError: If a curve is so large (or its numbers so broken) that it needs more than 100,000.
    """
    if not steps <= _MOST_STEPS:
        raise OverflowError("a curve too large to flatten")
    return max(1, math.ceil(steps))


def arc_steps(radius: float, sweep_rad: float, tolerance: float) -> int:
    """Equal steps an arc needs so that no chord strays from it by more than `tolerance`.

    The gap between an arc and its chord is the sagitta, r (1 - cos(step / 2)); for an ellipse the
    larger half axis bounds it, because the ellipse is that circle pressed flat in one direction.
    """
    # 1 - cos(step / 2) = 2 sin²(step / 4): in this form a large radius loses no digits.
    step = 4 * math.asin(math.sqrt(min(1.0, tolerance / radius / 2))) if radius > 0 else math.pi
    return _bounded(max(abs(sweep_rad) / step, abs(sweep_rad) / 2))


def arc_points(  # noqa: PLR0917 - read in the order of the formula
    centre: Points, half_a: Points, half_b: Points, start: float, sweep: float, tolerance: float
) -> Points:
    """Points of `centre + half_a cos t + half_b sin t` for t from `start` over `sweep`, both ends included.

    Args:
        centre: Centre, shape (2,).
        half_a: First conjugate half axis, shape (2,).
        half_b: Second conjugate half axis, shape (2,).
        start: First parameter, radians.
        sweep: Range of the parameter, radians, signed.
        tolerance: Greatest distance between chord and curve.
    """
    # The two half axes need not be square to each other (a skewed circle): the norm of the matrix
    # they make is the greatest stretch, so it bounds the sagitta.
    stretch = float(np.linalg.norm(np.stack([half_a, half_b]), 2))
    t = start + sweep * np.linspace(0.0, 1.0, arc_steps(stretch, sweep, tolerance) + 1)
    return np.asarray(centre + np.outer(np.cos(t), half_a) + np.outer(np.sin(t), half_b))


def bulge_points(start: Points, end: Points, bulge: float, tolerance: float) -> Points:
    """Points of a polyline segment with a bulge, the start left out, the end included.

    The bulge is the tangent of a quarter of the arc's angle, positive when the arc runs
    counter-clockwise (DXF Reference, LWPOLYLINE group code 42).
    """
    chord = end - start
    if bulge == 0.0 or not chord.any():
        return end[None, :]
    # Centre on the chord's perpendicular bisector; negative offsets fall out of the signed bulge.
    offset = (1 - bulge * bulge) / (4 * bulge)
    centre = (start + end) / 2 + offset * np.array([-chord[1], chord[0]])
    arm = start - centre
    square = np.array([-arm[1], arm[0]])
    points = arc_points(centre, arm, square, 0.0, 4 * math.atan(bulge), tolerance)[1:]
    points[-1] = end
    return points


def bezier_points(controls: Points, tolerance: float) -> Points:
    """Points of a Bézier curve of any degree, the start left out, the end included.

    The chord of a curve over a step h strays from it by at most h² max|r''| / 8, and the second
    derivative of a Bézier curve lies in the hull of its second differences times d (d - 1).
    """
    degree = len(controls) - 1
    bend = float(np.hypot(*np.diff(controls, 2, axis=0).T).max()) if degree > 1 else 0.0
    steps = _bounded(math.sqrt(degree * (degree - 1) * bend / (8 * tolerance)))
    t = np.linspace(0.0, 1.0, steps + 1)[1:, None]
    # De Casteljau: every row is one parameter, so the whole curve comes out of a few array steps.
    level = [np.broadcast_to(control, (steps, 2)) for control in controls]
    while len(level) > 1:
        level = [(1 - t) * a + t * b for a, b in itertools.pairwise(level)]
    return np.array(level[0])
