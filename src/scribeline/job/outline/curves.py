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


def spline_points(controls: Points, knots: Points, weights: Points, degree: int, tolerance: float) -> Points:
    """Points of a rational B-spline over its own range, both ends included.

    The range runs from knot `degree` to knot `-degree - 1` (Piegl and Tiller, The NURBS Book,
    section 3.2); outside it an unclamped spline, as closed ones are often written, means nothing.

    Args:
        controls: Control points, shape (n, 2).
        knots: n + degree + 1 knots, never falling.
        weights: n weights above 0.
        degree: Degree, at least 1.
        tolerance: Greatest distance between chord and curve.

    Raises:
        ValueError: If the numbers describe no spline.
        OverflowError: If the curve is too large to flatten.
    """
    sound = degree >= 1 and len(knots) == len(controls) + degree + 1 and len(weights) == len(controls)
    if not (sound and (np.diff(knots) >= 0).all() and (weights > 0).all() and np.isfinite(controls).all()):
        raise ValueError("controls, knots, weights and degree do not fit together")
    lifted = np.column_stack([controls * weights[:, None], weights])
    runs: list[Points] = []
    for k in range(degree, len(controls)):
        if knots[k + 1] > knots[k]:
            span = _span_bezier(lifted[k - degree : k + 1], knots[k - degree + 1 : k + degree + 1], degree)
            if not runs:
                runs.append((span[0, :2] / span[0, 2])[None, :])
            runs.append(_rational_points(span, tolerance))
    return np.concatenate(runs)


def _span_bezier(points: Points, knots: Points, degree: int) -> Points:
    """Bézier points of one knot span, by blossoming.

    Args:
        points: The span's degree + 1 control points.
        knots: The 2 degree knots around it; the span lies between the middle two.
        degree: Degree.
    """
    low, high = knots[degree - 1], knots[degree]
    result = []
    for ends in range(degree + 1):
        level = list(points)
        for r in range(1, degree + 1):
            u = high if r <= ends else low
            shares = [
                (u - knots[j + r - 1]) / (knots[j + degree] - knots[j + r - 1]) for j in range(degree + 1 - r)
            ]
            level = [(1 - s) * a + s * b for s, (a, b) in zip(shares, itertools.pairwise(level), strict=True)]
        result.append(level[0])
    return np.array(result)


def _rational_points(span: Points, tolerance: float) -> Points:
    """Points of a rational Bézier curve in homogeneous form, the start left out."""
    if np.ptp(span[:, 2]) == 0.0:
        return bezier_points(span[:, :2] / span[0, 2], tolerance)
    steps = 8
    while True:
        points = _projected(span, np.linspace(0.0, 1.0, 2 * steps + 1))
        # The span is smooth, so steps this short bulge most near their middles.
        bulge = np.hypot(*(points[1::2] - (points[:-1:2] + points[2::2]) / 2).T).max()
        if bulge <= tolerance / 2:
            return points[2::2]
        steps = _bounded(2 * steps)


def _projected(span: Points, t: Points) -> Points:
    level = [np.broadcast_to(point, (len(t), 3)) for point in span]
    while len(level) > 1:
        level = [(1 - t[:, None]) * a + t[:, None] * b for a, b in itertools.pairwise(level)]
    return np.array(level[0][:, :2] / level[0][:, 2:])
