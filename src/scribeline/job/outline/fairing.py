"""Fair curves: the smoothest line through the points a builder measured.

A curve is a cubic B-spline on even knots (curvature continuous everywhere). Of all such curves
through the given points with the given directions, the one is taken whose third derivative is
least: it bends as evenly as the points allow, as a long batten does, and shows no bumps between
them.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Points = NDArray[np.float64]

_SPANS_PER_STATION = 12
"""Spans of the spline between two stations, on average. They belong to a shape's definition: forty
would move the edge by 0.14 mm at most, between the stations, and take about ten times as long."""

_ROUNDS = 4
"""Rounds of matching the stations' parameters to the curve's own length; more change nothing."""


_BLOCK = 12
"""Rows eliminated together; at least the three that a row of the energy reaches."""


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
    """Control points of least summed squared third difference under the stations' conditions.

    Across and along share one energy, and only headings tie them together; so one system of half the
    size serves both, and the rest is a small system in the multipliers. The places are added to the
    energy as springs: where they are kept exactly a spring holds no energy, and without them the
    energy alone could not be inverted (a parabola costs nothing).
    """
    count = spans + 3
    at, slope = _basis_rows(parameters, count)
    headings = np.array([np.nan if s.heading_rad is None else s.heading_rad for s in stations])
    steered = ~np.isnan(headings)
    sine, cosine = np.sin(headings[steered]), np.cos(headings[steered])
    third = np.diff(np.eye(count), 3, axis=0)
    # Its transpose times itself: differences taken once more, from the other side.
    energy = -np.diff(np.pad(third, ((3, 3), (0, 0))), 3, axis=0)
    rows = np.concatenate([at, slope[steered]])
    yielding = _solved_in_blocks(energy + np.einsum("ri,rj->ij", at, at), rows.T)
    shared = rows @ yielding
    # A condition is a row of `rows` in x, in y, or (a heading) one in both at once.
    places, turns = np.eye(len(rows))[: len(stations)], np.eye(len(rows))[len(stations) :]
    in_x = np.concatenate([places, 0 * places, -sine[:, None] * turns])
    in_y = np.concatenate([0 * places, places, cosine[:, None] * turns])
    wanted = np.concatenate([[s.x for s in stations], [s.y for s in stations], np.zeros(int(steered.sum()))])
    multipliers = np.linalg.solve(in_x @ shared @ in_x.T + in_y @ shared @ in_y.T, wanted)
    return np.asarray(yielding @ np.column_stack([in_x.T @ multipliers, in_y.T @ multipliers]))


def _solved_in_blocks(band: Points, wanted: Points) -> Points:
    """The solution of a symmetric, positive definite system whose rows reach three places either side.

    Elimination block by block. Besides being less work than a full solution, blocks this small stay
    with one thread: several threads waiting for one another on a busy computer took half a second.
    """
    cuts = [*range(0, len(band) - _BLOCK, _BLOCK), len(band)]
    parts = [slice(low, high) for low, high in itertools.pairwise(cuts)]
    beyond: list[Points] = []
    rest: list[Points] = []
    for number, part in enumerate(parts):
        here, right = band[part, part], wanted[part]
        if number:
            back = band[part, parts[number - 1]]
            here, right = here - back @ beyond[-1], right - back @ rest[-1]
        ahead = band[part, parts[number + 1]] if number + 1 < len(parts) else here[:, :0]
        solved = np.linalg.solve(here, np.concatenate([ahead, right], axis=1))
        beyond.append(solved[:, : ahead.shape[1]])
        rest.append(solved[:, ahead.shape[1] :])
    for number in range(len(parts) - 2, -1, -1):
        rest[number] = rest[number] - beyond[number] @ rest[number + 1]
    return np.concatenate(rest)


def _basis(parameters: Points, count: int) -> tuple[NDArray[np.intp], Points, Points]:
    """The first of the four uniform cubic B-splines at each parameter, their values and slopes."""
    first = np.clip(np.floor(parameters).astype(int), 0, count - 4)
    u = parameters - first
    values = np.stack([(1 - u) ** 3, 3 * u**3 - 6 * u**2 + 4, -3 * u**3 + 3 * u**2 + 3 * u + 1, u**3]) / 6
    slopes = np.stack([-((1 - u) ** 2), 3 * u**2 - 4 * u, -3 * u**2 + 2 * u + 1, u**2]) / 2
    return first, values, slopes


def _basis_rows(parameters: Points, count: int) -> tuple[Points, Points]:
    """Values and slopes of all the B-splines, one row a parameter."""
    first, values, slopes = _basis(parameters, count)
    rows = np.arange(len(parameters))
    at, slope = np.zeros((len(rows), count)), np.zeros((len(rows), count))
    for offset in range(4):
        at[rows, first + offset] = values[offset]
        slope[rows, first + offset] = slopes[offset]
    return at, slope


def _lengths_at(controls: Points, parameters: Points) -> Points:
    fine = np.linspace(0.0, parameters[-1], 8 * (len(controls) - 3) + 1)
    first, values, _ = _basis(fine, len(controls))
    points = sum(values[offset][:, None] * controls[first + offset] for offset in range(4))
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    return np.asarray(np.interp(parameters, fine, run))


def _flattened(controls: Points, tolerance: float) -> Points:
    # The Bézier points of a uniform cubic B-spline span, from its four controls.
    a, b, c, d = controls[:-3], controls[1:-2], controls[2:-1], controls[3:]
    spans = np.stack([(a + 4 * b + c) / 6, (2 * b + c) / 3, (b + 2 * c) / 3, (b + 4 * c + d) / 6], axis=1)
    bends = np.hypot(*np.moveaxis(np.diff(spans, 2, axis=1), 2, 0)).max(axis=1)
    # A chord over a step h strays by at most h² max|r''| / 8, and max|r''| is at most six bends.
    steps = np.maximum(1, np.ceil(np.sqrt(6 * bends / (8 * tolerance)))).astype(int)
    span = np.repeat(np.arange(len(spans)), steps)
    # Steps within each span: 1/n, 2/n, ... 1.
    ordinal = np.arange(len(span)) - np.repeat(np.cumsum(steps) - steps, steps) + 1
    t = (ordinal / steps[span])[:, None]
    p, q, r, s = np.moveaxis(spans[span], 1, 0)
    points = (1 - t) ** 3 * p + 3 * (1 - t) ** 2 * t * q + 3 * (1 - t) * t**2 * r + t**3 * s
    return np.concatenate([spans[0, :1], points])
