"""What holds for any body: closed, never more than the blank, the same for either hand, and as layers say.

The layers are worked by another library (plane polygons, shapely): for upright flat-bottomed cuts a body is a
stack of prisms, each the outline less the cuts that reach its height.
"""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from math import cos, pi, sin
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from scribeline.features import DOWN, UP, Bit, Bore, Feature, Pocket, Step
from scribeline.job import BitKind
from scribeline.layout import Point, Point3, Ring
from scribeline.plan import Plan
from scribeline.solid.body import Body, equal_area_radius, facets, make_body

from ..torture import examples

BOX = Ring([Point(0, 0), Point(120, 0), Point(120, 80), Point(0, 80)])
THICK = 40.0

# Round numbers on purpose: cuts then touch, coincide and share walls, which is where meshes break.
whole = st.integers(-10, 130).map(float)
depths = st.sampled_from([5.0, 10.0, 20.0, 39.0, 40.0, 45.0])
diameters = st.sampled_from([2.0, 4.0, 5.0, 10.0, 20.0])


@st.composite
def upright_bores(draw: st.DrawFn, *, pointed: bool = False) -> Bore:
    top = draw(st.booleans())
    sizes = sorted(draw(st.sets(diameters, min_size=1, max_size=3)), reverse=True)
    ends = sorted(draw(st.sets(depths, min_size=len(sizes), max_size=len(sizes))))
    kind: Any = draw(st.sampled_from(["twist", "brad-point", "flat-bottomed"]))
    return Bore(
        draw(st.uuids()).hex,
        "hole",
        "holes",
        "top" if top else "back",
        Point3(draw(whole), draw(whole), 0.0 if top else -THICK),
        DOWN if top else UP,
        tuple(
            Step(d, e, Bit(kind, d, 0.3 * d if pointed else 0.0)) for d, e in zip(sizes, ends, strict=True)
        ),
    )


@st.composite
def slanting_bores(draw: st.DrawFn) -> Bore:
    angle, heading = draw(st.floats(0.2, 1.5)), draw(st.floats(-3.1, 3.1))
    axis = Point3(
        float(np.cos(angle) * np.cos(heading)),
        float(np.cos(angle) * np.sin(heading)),
        float(-np.sin(angle)),
    )
    diameter = draw(diameters)
    return Bore(
        draw(st.uuids()).hex,
        "tunnel",
        "tunnels",
        "top",
        Point3(draw(whole), draw(whole), 0.0),
        axis,
        (Step(diameter, draw(st.floats(5, 120)), Bit("twist", diameter, 0.3 * diameter)),),
    )


@st.composite
def pockets(draw: st.DrawFn) -> Pocket:
    x, y = draw(whole), draw(whole)
    w, h = draw(st.sampled_from([5.0, 20.0, 40.0])), draw(st.sampled_from([5.0, 20.0, 40.0]))
    ring = Ring([Point(x, y), Point(x + w, y), Point(x + w, y + h), Point(x, y + h)])
    face: Any = draw(st.sampled_from(["top", "back"]))
    return Pocket(draw(st.uuids()).hex, "pocket", face, ring, draw(depths), 0.0)


any_cut: st.SearchStrategy[Feature] = st.one_of(upright_bores(pointed=True), slanting_bores(), pockets())


def _edges(triangles: NDArray[Any]) -> Counter[tuple[int, int]]:
    edges: Counter[tuple[int, int]] = Counter()
    for a, b, c in triangles.tolist():
        edges.update(((a, b), (b, c), (c, a)))
    return edges


def unshared_edges(triangles: NDArray[np.int64]) -> int:
    """How many edges are not shared by exactly two triangles, one each way."""
    edges = _edges(triangles)
    return sum(count != 1 or edges[b, a] != 1 for (a, b), count in edges.items())


def open_edges(corners: NDArray[np.float32]) -> int:
    """How many edges of triangles, told apart by place alone, lack their fellow.

    Where wood touches wood along a line only, four triangles share that line: by place nobody can tell them
    apart, and nothing is open.
    """
    _, numbers = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    edges = _edges(numbers.reshape(-1, 3))
    return sum(count != edges[b, a] for (a, b), count in edges.items())


@settings(max_examples=examples(60), deadline=None)
@given(st.lists(any_cut, max_size=8))
def test_any_body_is_closed_and_no_more_than_its_blank(cuts: list[Feature]) -> None:
    body = make_body(BOX, THICK, cuts)
    assert unshared_edges(body.mesh.triangles) == 0
    assert open_edges(body.mesh.corners.astype(np.float32)) == 0
    each = [cut.volume_mm3 for cut in body.removed]
    gone = body.blank.volume_mm3 - body.mesh.volume_mm3
    slack = 1e-6 * body.blank.volume_mm3
    assert max(each, default=0.0) - slack <= gone <= sum(each) + slack
    assert np.all(body.mesh.vertices >= [0 - 1e-6, 0 - 1e-6, -THICK - 1e-6])
    assert np.all(body.mesh.vertices <= [120 + 1e-6, 80 + 1e-6, 1e-6])


def taken(cut: Feature, low: float, high: float) -> list[shapely.Polygon]:
    """What an upright cut takes of the layer between two heights, as flat polygons."""
    middle = (low + high) / 2
    if isinstance(cut, Pocket):
        reach = -cut.depth < middle if cut.face == "top" else middle < cut.depth - THICK
        return [shapely.Polygon(cut.outline)] if reach else []
    found = []
    for step in cut.steps:
        reach = -step.depth < middle if cut.face == "top" else middle < step.depth - THICK
        if reach:
            sides = facets(step.diameter / 2)
            turn = 2 * np.pi * np.arange(sides) / sides
            corner = equal_area_radius(step.diameter / 2, sides)
            found.append(
                shapely.Polygon(
                    np.column_stack([cut.at.x + corner * np.cos(turn), cut.at.y + corner * np.sin(turn)])
                )
            )
    return found


@settings(max_examples=examples(60), deadline=None)
@given(st.lists(st.one_of(upright_bores(), pockets()), max_size=8))
def test_upright_cuts_leave_what_flat_layers_leave(cuts: list[Feature]) -> None:
    heights = {0.0, -THICK}
    for cut in cuts:
        for depth in [cut.depth] if isinstance(cut, Pocket) else [step.depth for step in cut.steps]:
            heights.add(min(0.0, max(-THICK, -depth if cut.face == "top" else depth - THICK)))
    body, volume = make_body(BOX, THICK, cuts), 0.0
    for low, high in pairwise(sorted(heights)):
        gone = shapely.union_all([part for cut in cuts for part in taken(cut, low, high)])
        left = shapely.Polygon(BOX).difference(gone).area
        volume += left * (high - low)
        flat = body.section(Point3(0, 0, (low + high) / 2), Point3(0, 0, 1), Point3(1, 0, 0))
        assert flat.area_mm2 == pytest.approx(left, abs=0.05)
    assert body.mesh.volume_mm3 == pytest.approx(volume, rel=1e-6)


@settings(max_examples=examples(30), deadline=None)
@given(st.lists(any_cut, max_size=5), st.randoms(use_true_random=False))
def test_the_order_of_cutting_changes_nothing(cuts: list[Feature], random: Any) -> None:
    other = list(cuts)
    random.shuffle(other)
    a, b = make_body(BOX, THICK, cuts), make_body(BOX, THICK, other)
    assert a.mesh.volume_mm3 == pytest.approx(b.mesh.volume_mm3, rel=1e-9)
    assert a.mesh.centroid == pytest.approx(b.mesh.centroid, abs=1e-6)


def _planned_body(plan: Plan) -> Body:
    return make_body(plan.layout.outline, plan.layout.thickness, plan.features)


def test_a_left_handed_body_is_the_mirror(planned: Any) -> None:
    right, left = _planned_body(planned()), _planned_body(planned({"handed": "left"}))
    assert left.mesh.volume_mm3 == pytest.approx(right.mesh.volume_mm3, rel=1e-9)
    x, y, z = right.mesh.centroid
    assert left.mesh.centroid == pytest.approx((x, -y, z), abs=1e-6)
    assert [r.volume_mm3 for r in left.removed] == pytest.approx([r.volume_mm3 for r in right.removed])


def test_stacked_sections_make_the_demos_volume(shipped_plan: Plan) -> None:
    body = _planned_body(shipped_plan)
    low, high = body.mesh.vertices[:, 0].min(), body.mesh.vertices[:, 0].max()
    places = np.linspace(low, high, 1001)
    middles = (places[1:] + places[:-1]) / 2
    areas = [body.section(Point3(float(x), 0, 0), Point3(1, 0, 0), Point3(0, 1, 0)).area_mm2 for x in middles]
    # Cavalieri's sum over 1,000 slices of 0.35 mm: its own error at walls that lie along a slice is under 0.1 %.
    assert float(np.sum(areas)) * (high - low) / 1000 == pytest.approx(body.mesh.volume_mm3, rel=1e-3)


@given(
    heading=st.floats(0, 6.28),
    drop=st.floats(-0.6, 0.6),
    diameter=st.floats(1.5, 8.0),
    kind=st.sampled_from(["twist", "brad-point", "flat-bottomed"]),
)
def test_a_blind_hole_leaves_no_hollow_behind_its_bottom(
    heading: float, drop: float, diameter: float, kind: BitKind
) -> None:
    """From the edge at any slant: the bit's point is one hole with the bore before it."""
    axis = Point3(cos(heading) * cos(drop), sin(heading) * cos(drop), sin(drop))
    start = Point3(-60.0 * axis.x, -60.0 * axis.y, -25.0 - 30.0 * axis.z)
    bit = Bit(kind, diameter, point=0.3 * diameter)
    bore = Bore("b", "hole", "holes", "edge", start, axis, (Step(diameter, 50.0, bit),))
    turn = np.linspace(0, 2 * pi, 90, endpoint=False)
    body = make_body(Ring(Point(50 * cos(a), 50 * sin(a)) for a in turn.tolist()), 50.0, (bore,))
    assert body.pieces == 1
