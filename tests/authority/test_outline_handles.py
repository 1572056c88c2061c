"""Outlines through handles against Open CASCADE, which has splines of its own, and against closed forms.

Open CASCADE (through cadquery-ocp) is given the control points and knots alone, and says for itself where the curve runs, how it
bends, and how smooth it is at its knots. The circle, the ellipse and the Cassini oval are plane geometry.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from OCP.collections import Array1_double, Array1_gp_Pnt, Array1_int
from OCP.Geom import Geom_BSplineCurve
from OCP.GeomAPI import GeomAPI_ProjectPointOnCurve
from OCP.GeomLProp import GeomLProp_CLProps
from OCP.gp import gp_Pnt
from shapely import LineString, Polygon

from scribeline.job.outline import Handle, named_places, shape_names, through_handles

if TYPE_CHECKING:
    from scribeline.job.outline import Drawn

FLATTENING = 0.01  # mm, the promise made for every outline


def open_cascade(drawn: Drawn, *, closed: bool) -> Any:
    """The curve as a general spline library has it: degree 3, knots a whole number apart, each once."""
    controls = drawn.curve.controls
    spans = len(controls) - 3
    # A periodic one closes on itself: the three control points that repeat are left out.
    poles = controls[:spans] if closed else controls
    knots = range(spans + 1) if closed else range(-3, spans + 4)
    points = Array1_gp_Pnt(1, len(poles))
    for n, (x, y) in enumerate(poles.tolist(), start=1):
        points.SetValue(n, gp_Pnt(x, y, 0.0))
    at, times = Array1_double(1, len(knots)), Array1_int(1, len(knots))
    for n, knot in enumerate(knots, start=1):
        at.SetValue(n, float(knot))
        times.SetValue(n, 1)
    return Geom_BSplineCurve(points, at, times, 3, closed)


def curvature(curve: Any, parameter: float) -> float:
    return float(GeomLProp_CLProps(curve, parameter, 2, 1e-12).Curvature())


def shape(name: str) -> list[Handle]:
    return [Handle(each.name, each.x, each.y) for each in named_places(name, tail=752.0)]


@pytest.mark.parametrize("name", shape_names())
@pytest.mark.parametrize("straight", [False, True], ids=["closed", "straight under the neck"])
def test_a_general_spline_library_finds_it_smooth_and_through_its_handles(name: str, straight: bool) -> None:
    handles = shape(name)
    drawn = through_handles(handles, straight=straight)
    curve = open_cascade(drawn, closed=not straight)
    assert curve.IsPeriodic() is not straight
    assert curve.IsCN(2)
    for handle in handles:
        found = GeomAPI_ProjectPointOnCurve(gp_Pnt(handle.x, handle.y, 0.0), curve)
        assert found.LowerDistance() < 1e-6, handle.name
    # The same bend just before every knot as just after it, the place where a closed one closes included.
    spans = len(drawn.curve.controls) - 3
    for knot in range(1, spans + (not straight)):
        before, after = curvature(curve, knot - 1e-7), curvature(curve, (knot + 1e-7) % spans)
        assert before == pytest.approx(after, abs=1e-7)


@pytest.mark.parametrize("name", shape_names())
def test_what_is_told_of_its_bends_is_what_open_cascade_measures(name: str) -> None:
    drawn = through_handles(shape(name), straight=True)
    curve, (at, bends) = open_cascade(drawn, closed=False), drawn.bends
    spans = len(drawn.curve.controls) - 3
    theirs = [curvature(curve, spans * n / (len(at) - 1)) for n in range(len(at))]
    assert np.abs(bends) == pytest.approx(theirs, abs=1e-9)
    assert drawn.bump is not None
    assert drawn.bump.radius == pytest.approx(1 / np.array(theirs)[bends > 0].max())
    # Between the places that are looked at it bends no more to speak of.
    fine = max(curvature(curve, spans * n / 20_000) for n in range(20_001))
    assert fine < max(theirs) * 1.01
    # The straight pieces lie on its curve.
    edge = LineString([*drawn.outline.points, drawn.outline.points[0]])
    for n in range(2001):
        place = curve.Value(spans * n / 2000)
        assert edge.distance(LineString([(place.X(), place.Y()), (place.X(), place.Y())])) < FLATTENING


def ring(count: int, x: float, y: float) -> list[Handle]:
    turns = [2 * math.pi * n / count for n in range(count)]
    return [Handle(f"h{n}", 600 + x * math.cos(t), y * math.sin(t)) for n, t in enumerate(turns)]


def test_a_circle_comes_out_round() -> None:
    drawn = through_handles(ring(10, 150.0, 150.0))
    radii = np.hypot(*(np.array(drawn.outline.points) - (600, 0)).T)
    assert np.abs(radii - 150).max() < 0.02
    assert drawn.bump is not None
    assert drawn.bump.radius == pytest.approx(150, rel=0.02)
    assert drawn.hollow is None
    assert drawn.sizes.length == pytest.approx(300, abs=0.05)
    assert drawn.sizes.bouts is None


def test_an_ellipse_is_tightest_at_its_ends() -> None:
    # Radius of curvature of an ellipse at the end of its long axis: b²/a.
    drawn = through_handles(ring(14, 190.0, 150.0))
    assert drawn.bump is not None
    assert drawn.bump.radius == pytest.approx(150**2 / 190, rel=0.05)
    assert abs(abs(drawn.bump.at[0] - 600) - 190) < 3
    points = np.array(drawn.outline.points) - (600, 0)
    assert np.abs(np.hypot(points[:, 0] / 190, points[:, 1] / 150) - 1).max() < 0.001
    # Its area: π a b.
    assert Polygon(drawn.outline.points).area == pytest.approx(math.pi * 190 * 150, rel=0.001)


def test_a_cassini_oval_has_the_waist_of_its_equation() -> None:
    # (x² + y²)² − 2c²(x² − y²) = a⁴ − c⁴: half as long as √(a² + c²), half as wide at its waist as √(a² − c²), and at its
    # fullest as a²/2c.
    a, c = 150.0, 130.0
    handles = []
    for n in range(20):
        t = 2 * math.pi * (n + 0.5) / 20
        cosine = math.cos(2 * t)
        r = math.sqrt(c * c * cosine + math.sqrt(a**4 - c**4 + (c * c * cosine) ** 2))
        handles.append(Handle(f"h{n}", 600 + r * math.cos(t), r * math.sin(t)))
    sizes = through_handles(handles).sizes
    assert sizes.bouts is not None
    assert sizes.length == pytest.approx(2 * math.hypot(a, c), abs=1.0)
    assert sizes.bouts.waist == pytest.approx(2 * math.sqrt(a * a - c * c), abs=1.0)
    assert sizes.bouts.lower == pytest.approx(a * a / c, abs=1.0)
    assert sizes.bouts.upper == pytest.approx(a * a / c, abs=1.0)


def test_no_spline_through_the_same_handles_bends_more_evenly() -> None:
    """Summed squared third differences: those of other splines on the same knots through the same handles are greater."""
    drawn = through_handles(shape("pebble"))
    controls = drawn.curve.controls
    spans = len(controls) - 3
    curve = open_cascade(drawn, closed=True)

    def unevenness(points: Any) -> float:
        return float((np.diff(points, 3, axis=0) ** 2).sum())

    # Where the handles lie on it, as the other library finds them; what the control points weigh there, from its values.
    parameters = [
        GeomAPI_ProjectPointOnCurve(gp_Pnt(h.x, h.y, 0.0), curve).LowerDistanceParameter()
        for h in drawn.handles
    ]
    weights = np.zeros((len(parameters), spans))
    for row, parameter in enumerate(parameters):
        first, u = int(parameter), parameter - int(parameter)
        # The four uniform cubic B-splines (de Boor, A Practical Guide to Splines, from memory).
        for n, weight in enumerate(
            ((1 - u) ** 3, 3 * u**3 - 6 * u**2 + 4, -3 * u**3 + 3 * u**2 + 3 * u + 1, u**3)
        ):
            weights[row, (first + n) % spans] += weight / 6
    free = np.linalg.svd(weights)[2][len(parameters) :]
    rng = np.random.default_rng(16)
    least = unevenness(controls)
    for size in (1e-3, 1e-1, 1.0):
        for _ in range(20):
            other = controls[:spans] + size * (free.T @ rng.normal(size=(len(free), 2)))
            assert unevenness(np.concatenate([other, other[:3]])) > least
