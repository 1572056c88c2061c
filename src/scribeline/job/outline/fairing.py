"""Fair curves: the smoothest line through the points a builder measured.

A curve is a cubic B-spline on even knots (curvature continuous everywhere). Of all such curves
through the given points with the given directions, the one is taken whose third derivative is
least: it bends as evenly as the points allow, as a long batten does, and shows no bumps between
them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from scribeline.job.outline.curves import bezier_points

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Points = NDArray[np.float64]

_SPANS_PER_STATION = 12
"""Spans of the spline between two stations, on average. They belong to a shape's definition: forty
would move the edge by 0.14 mm at most, between the stations, and take about ten times as long."""

_ROUNDS = 4
"""Rounds of matching the stations' parameters to the curve's own length; more change nothing."""


@dataclass(frozen=True)
class Station:
    """A point the curve passes, and the way it runs there.

    Attributes:
        x: Along the centreline, mm.
        y: Across it, mm.
        heading_rad: Direction of travel, counter-clockwise from +x; None leaves it free.
    """

    x: float
    y: float
    heading_rad: float | None = None


def fair_curve(stations: Sequence[Station], tolerance: float) -> Points:
    """The fair curve through stations, flattened.

    Args:
        stations: Three or more, in order of travel, no two in succession at one place.
        tolerance: Greatest distance between the segments and the curve, mm.

    Returns:
        Points from the first station to the last, both included.
    """
    places = np.array([(station.x, station.y) for station in stations])
    lengths = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(places, axis=0).T))])
    spans = _SPANS_PER_STATION * (len(stations) - 1)
    controls = np.empty((0, 2))
    for _ in range(_ROUNDS):
        parameters = lengths / lengths[-1] * spans
        controls = _fairest(stations, parameters, spans)
        lengths = _lengths_at(controls, parameters)
    return _flattened(controls, tolerance)


def _fairest(stations: Sequence[Station], parameters: Points, spans: int) -> Points:
    """Control points of least summed squared third difference under the stations' conditions."""
    count = spans + 3
    at, slope = _basis(parameters, count)
    none = np.zeros(count)
    conditions, wanted = [], []
    for row, rate, station in zip(at, slope, stations, strict=True):
        conditions += [np.concatenate([row, none]), np.concatenate([none, row])]
        wanted += [station.x, station.y]
        if station.heading_rad is not None:
            sine, cosine = np.sin(station.heading_rad), np.cos(station.heading_rad)
            conditions.append(np.concatenate([-sine * rate, cosine * rate]))
            wanted.append(0.0)
    third = np.diff(np.eye(count), 3, axis=0)
    energy = np.kron(np.eye(2), third.T @ third)
    rules = np.array(conditions)
    # Least energy under linear conditions: one symmetric system in controls and multipliers.
    system = np.block([[energy, rules.T], [rules, np.zeros((len(rules), len(rules)))]])
    answer = np.linalg.solve(system, np.concatenate([np.zeros(2 * count), wanted]))
    return np.column_stack([answer[:count], answer[count : 2 * count]])


def _basis(parameters: Points, count: int) -> tuple[Points, Points]:
    """Values and first derivatives of the uniform cubic B-splines, one row a parameter."""
    first = np.clip(np.floor(parameters).astype(int), 0, count - 4)
    u = parameters - first
    values = np.stack([(1 - u) ** 3, 3 * u**3 - 6 * u**2 + 4, -3 * u**3 + 3 * u**2 + 3 * u + 1, u**3]) / 6
    slopes = np.stack([-((1 - u) ** 2), 3 * u**2 - 4 * u, -3 * u**2 + 2 * u + 1, u**2]) / 2
    rows = np.arange(len(parameters))
    at, slope = np.zeros((len(rows), count)), np.zeros((len(rows), count))
    for offset in range(4):
        at[rows, first + offset] = values[offset]
        slope[rows, first + offset] = slopes[offset]
    return at, slope


def _lengths_at(controls: Points, parameters: Points) -> Points:
    fine = np.linspace(0.0, parameters[-1], 8 * (len(controls) - 3) + 1)
    points = _basis(fine, len(controls))[0] @ controls
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    return np.asarray(np.interp(parameters, fine, run))


def _flattened(controls: Points, tolerance: float) -> Points:
    # The Bézier points of a uniform cubic B-spline span, from its four controls.
    a, b, c, d = controls[:-3], controls[1:-2], controls[2:-1], controls[3:]
    spans = np.stack([(a + 4 * b + c) / 6, (2 * b + c) / 3, (b + 2 * c) / 3, (b + 4 * c + d) / 6], axis=1)
    return np.concatenate([spans[0, :1], *(bezier_points(span, tolerance) for span in spans)])
