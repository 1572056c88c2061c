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


@dataclass(frozen=True)
class FairCurve:
    """A fair curve as a cubic B-spline on even knots.

    Attributes:
        controls: Its control points, three more than it has spans; of a closed curve the last three are the first three.
    """

    controls: Points

    def flattened(self, tolerance: float) -> Points:
        """Points from its beginning to its end, both included, no further from it than a tolerance, mm."""
        return _flattened(self.controls, tolerance)

    def bending(self, spacing: float) -> tuple[Points, Points]:
        """Places along it, about so far apart (mm), and the curvature there: 1/mm, positive where it bends to its left."""
        spans = len(self.controls) - 3
        length = _run(self.controls)[1][-1]
        parameters = np.linspace(0.0, spans, max(2, round(length / spacing) + 1))
        first, values, slopes = _basis(parameters, len(self.controls))
        u = parameters - first
        seconds = np.stack([1 - u, 3 * u - 2, 1 - 3 * u, u])
        at, way, turn = (
            sum(weights[offset][:, None] * self.controls[first + offset] for offset in range(4))
            for weights in (values, slopes, seconds)
        )
        cross = way[:, 0] * turn[:, 1] - way[:, 1] * turn[:, 0]
        return np.asarray(at), np.asarray(cross / np.hypot(*way.T) ** 3)


def fair_curve(stations: Sequence[Station], tolerance: float) -> Points:
    """The fair curve through stations, flattened.

    Args:
        stations: Three or more, in order of travel, no two in succession at one place.
        tolerance: Greatest distance between the segments and the curve, mm.

    Returns:
        Points from the first station to the last, both included.
    """
    return open_curve(stations).flattened(tolerance)


def open_curve(stations: Sequence[Station]) -> FairCurve:
    """The fair curve from the first of three or more stations to the last, no two in succession at one place."""
    chords = _chords(stations)[:-1]
    spans = _SPANS_PER_STATION * (len(stations) - 1)
    return _through(stations, np.concatenate([[0.0], np.cumsum(chords)]), spans, closed=False)


def closed_curve(stations: Sequence[Station], *, begins: float = 0.0) -> FairCurve:
    """The fair curve round through three or more stations and back to the first, as smooth there as anywhere.

    Args:
        stations: In order of travel, no two in succession at one place.
        begins: Where its knots are counted from: share of the way from the first station back to the last. From a line
            of symmetry they come out alike on both sides of it.
    """
    chords = _chords(stations)
    lengths = np.concatenate([[0.0], np.cumsum(chords)]) + begins * chords[-1]
    return _through(stations, lengths, _SPANS_PER_STATION * len(stations), closed=True)


def _chords(stations: Sequence[Station]) -> Points:
    """Straight distances from each station to the next, from the last one to the first."""
    places = np.array([(station.x, station.y) for station in stations])
    return np.asarray(np.hypot(*(np.roll(places, -1, axis=0) - places).T))


def _through(stations: Sequence[Station], lengths: Points, spans: int, *, closed: bool) -> FairCurve:
    """The curve whose stations lie where it has run as far as its own length says, found round by round.

    `lengths` are guesses of that, one a station, and of a closed curve that of the first one again, once round.
    """
    count = len(stations)
    whole = lengths[-1] - (lengths[0] if closed else 0.0)
    places = lengths[:count] / whole * spans
    controls = np.empty((0, 2))
    for n in range(_ROUNDS):
        controls = _fairest(stations, places, spans, closed=closed)
        if n < _ROUNDS - 1:
            along, whole = _lengths_at(controls, places)
            places = along / whole * spans
    return FairCurve(controls)


def _fairest(stations: Sequence[Station], parameters: Points, spans: int, *, closed: bool) -> Points:
    """Control points of least summed squared third difference under the stations' conditions.

    A closed curve is one whose last three control points are its first three: the sum then counts every third difference
    round it, each once.

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
    closing = np.roll(np.eye(count), spans, axis=1)[:3] - np.eye(count)[:3] if closed else at[:0]
    rows = np.concatenate([at, closing, slope[steered]])
    fixed = len(at) + len(closing)
    yielding = _solved_in_blocks(energy + np.einsum("ri,rj->ij", at, at), rows.T)
    shared = rows @ yielding
    # A condition is a row of `rows` in x, in y, or (a heading) one in both at once.
    places, turns = np.eye(len(rows))[:fixed], np.eye(len(rows))[fixed:]
    in_x = np.concatenate([places, 0 * places, -sine[:, None] * turns])
    in_y = np.concatenate([0 * places, places, cosine[:, None] * turns])
    shut = np.zeros(len(closing))
    wanted = np.concatenate(
        [[s.x for s in stations], shut, [s.y for s in stations], shut, np.zeros(int(steered.sum()))]
    )
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


def _run(controls: Points) -> tuple[Points, Points]:
    """Close parameters from the beginning of a curve to its end, and its length up to each."""
    spans = len(controls) - 3
    fine = np.linspace(0.0, spans, 8 * spans + 1)
    first, values, _ = _basis(fine, len(controls))
    points = sum(values[offset][:, None] * controls[first + offset] for offset in range(4))
    return fine, np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])


def _lengths_at(controls: Points, parameters: Points) -> tuple[Points, float]:
    """How long a curve is up to each parameter, and as a whole."""
    fine, run = _run(controls)
    return np.asarray(np.interp(parameters, fine, run)), float(run[-1])


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
