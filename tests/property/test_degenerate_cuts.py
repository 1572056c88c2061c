"""Cuts that nobody should ask for: outside the body, deeper than the wood, crossing themselves, one inside another.

None of them may end in anything but an answer or a sentence, and none may be told as clear where it is not.
"""

from __future__ import annotations

from dataclasses import replace
from math import atan2, cos, inf, isfinite, nan, pi, radians, sin

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from scribeline.features import DOWN, UP, Bit, Bore, Feature, Features, Pocket, Step, polygon
from scribeline.layout import Point, Point3, Ring
from scribeline.solid import find_outside, find_webs
from scribeline.solid.body import make_body
from scribeline.solid.faults import BodyError

from ..torture import examples

THICKNESS = 44.0
BODY = Ring((Point(-100, -60), Point(100, -60), Point(100, 60), Point(-100, 60)))
STOCK = 200 * 120 * THICKNESS


def whole(*features: Feature) -> Features:
    return Features(
        tuple(f for f in features if isinstance(f, Bore)), tuple(f for f in features if isinstance(f, Pocket))
    )


def pocket(name: str, corners: list[tuple[float, float]], depth: float, top: bool = True) -> Pocket:
    return Pocket(name, name, "top" if top else "back", Ring(Point(*c) for c in corners), depth, 0.0)


def bore(
    name: str, at: tuple[float, float], hole: tuple[float, float], lean: float = 90.0, top: bool = True
) -> Bore:
    wide, depth = hole
    up = -1.0 if top else 1.0
    slant = Point3(cos(radians(lean)), 0.0, up * sin(radians(lean)))
    axis = slant if lean < 90 else DOWN if top else UP
    place = Point3(*at, 0.0 if top else -THICKNESS)
    step = Step(wide, depth, Bit("twist", wide, 0.3 * wide))
    return Bore(name, name, name, "top" if top else "back", place, axis, (step,))


def square(x: float, y: float, half: float) -> list[tuple[float, float]]:
    return [(x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half)]


GRID = st.integers(-3, 3).map(lambda n: 5.0 * n)
CORNERS = st.lists(st.tuples(GRID, GRID), max_size=9)
"""On a coarse grid most rings cross, touch or retrace themselves, and many enclose nothing."""

PLACES = st.tuples(st.floats(-250, 250), st.floats(-250, 250))
DEPTHS = st.sampled_from([0.0, 0.01, 10.0, THICKNESS, 60.0, 1e4])
BORES = st.builds(
    bore,
    st.just("b"),
    st.tuples(GRID, GRID) | PLACES,
    st.tuples(st.sampled_from([0.5, 6.0, 80.0]), DEPTHS),
    st.sampled_from([0.0, 0.5, 15.0, 45.0, 90.0]),
    st.booleans(),
)


def winding(corners: list[tuple[float, float]], place: tuple[float, float]) -> float:
    """How many times a ring goes round a place: the sum of the angles its sides are seen under."""
    total = 0.0
    for (ax, ay), (bx, by) in zip(corners, [*corners[1:], corners[0]], strict=True):
        turn = atan2(by - place[1], bx - place[0]) - atan2(ay - place[1], ax - place[0])
        total += (turn + pi) % (2 * pi) - pi
    return total / (2 * pi)


@settings(max_examples=examples(300), deadline=None)
@given(CORNERS, DEPTHS, st.booleans(), BORES, st.booleans())
def test_there_is_an_answer_or_a_sentence(
    corners: list[tuple[float, float]], depth: float, top: bool, hole: Bore, twice: bool
) -> None:
    cuts: list[Feature] = [pocket("a", corners, depth, top), hole]
    if twice:
        cuts.append(replace(cuts[0], id="c"))
    try:
        webs = find_webs(whole(*cuts), THICKNESS, near=1e6)
        outside = find_outside(whole(*cuts), BODY, THICKNESS)
    except BodyError as said:
        assert "the outline of the a encloses nothing" in str(said)  # noqa: PT017
        ring = corners or [(0.0, 0.0)]
        assert all(round(winding(ring, (x + 1.3, y + 0.7))) == 0 for x, y in ring)
    else:
        assert len(webs) == (3 if twice else 1)
        assert all(isfinite(web.mm) and web.mm >= 0 and isfinite(web.overlap) for web in webs)
        assert all(isfinite(found.to_edge) and isfinite(found.to_opposite) for found in outside)
    try:
        body = make_body(BODY, THICKNESS, cuts)
    except BodyError as said:
        assert len(str(said)) > 40  # noqa: PT017
    else:
        assert 0 < body.mesh.volume_mm3 <= STOCK * (1 + 1e-9)


@settings(max_examples=examples(200), deadline=None)
@given(
    st.lists(st.tuples(GRID, GRID), min_size=3, max_size=9), st.tuples(st.floats(-14, 14), st.floats(-14, 14))
)
def test_a_crossed_outline_is_never_told_clear_where_it_is_cut(
    corners: list[tuple[float, float]], at: tuple[float, float]
) -> None:
    edge = shapely.LinearRing(corners)
    inside = round(winding(corners, at)) != 0 and edge.distance(shapely.Point(at)) > 0.01
    hole = bore("b", at, (1.0, 5.0))
    try:
        (found,) = find_webs(whole(pocket("a", corners, 10.0), hole), THICKNESS, near=1e6)
    except BodyError:
        assert not inside
        return
    if inside:
        assert found.mm == 0
        assert found.overlap > 0


@settings(max_examples=examples(100), deadline=None)
@given(
    st.sampled_from(["pocket", "upright", "slanting"]),
    st.sampled_from(["pocket", "upright"]),
    st.floats(0, 2 * pi),
)
def test_a_cut_inside_another_is_not_clear_of_it(inner: str, outer: str, turn: float) -> None:
    x, y = 3 * cos(turn), 3 * sin(turn)
    large: Feature = (
        pocket("a", square(0, 0, 20), 20.0) if outer == "pocket" else bore("a", (0, 0), (40.0, 20.0))
    )
    small: Feature = (
        pocket("b", square(x, y, 4), 6.0)
        if inner == "pocket"
        else bore("b", (x, y), (4.0, 6.0), 90.0 if inner == "upright" else 60.0)
    )
    (found,) = find_webs(whole(large, small), THICKNESS)
    assert found.mm == 0
    assert found.overlap > 1.0
    # Nothing more is taken out by the one inside.
    assert make_body(BODY, THICKNESS, [large, small]).mesh.volume_mm3 == pytest.approx(
        make_body(BODY, THICKNESS, [large]).mesh.volume_mm3, rel=1e-9
    )


@settings(max_examples=examples(60), deadline=None)
@given(st.sampled_from(["pocket", "upright", "slanting"]), st.floats(0, 2 * pi), st.booleans())
def test_a_cut_outside_the_body_is_told_outside_and_takes_nothing(kind: str, turn: float, top: bool) -> None:
    x, y = 260 * cos(turn), 260 * sin(turn)
    cut: Feature = (
        pocket("a", square(x, y, 20), 10.0, top)
        if kind == "pocket"
        else bore("a", (x, y), (8.0, 30.0), 90.0 if kind == "upright" else 40.0, top)
    )
    (found,) = find_outside(whole(cut), BODY, THICKNESS)
    assert found.to_edge < -100
    body = make_body(BODY, THICKNESS, [cut])
    assert body.removed[0].volume_mm3 == 0
    assert body.mesh.volume_mm3 == pytest.approx(STOCK)


@pytest.mark.parametrize("depth", [THICKNESS + 0.01, 60.0, 1e4])
@pytest.mark.parametrize("top", [True, False])
def test_a_depth_larger_than_the_stock_is_told_by_how_much(depth: float, top: bool) -> None:
    cuts = whole(pocket("a", square(0, 0, 10), depth, top), bore("b", (40, 0), (6.0, depth), top=top))
    box, hole = find_outside(cuts, BODY, THICKNESS)
    assert box.to_opposite == pytest.approx(THICKNESS - depth)
    assert hole.to_opposite == pytest.approx(THICKNESS - depth - 0.3 * 6)
    taken = {found.feature: found.volume_mm3 for found in make_body(BODY, THICKNESS, cuts).removed}
    assert taken["a"] == pytest.approx(400 * THICKNESS)
    assert taken["b"] == pytest.approx(9 * pi * THICKNESS, rel=1e-3)


@pytest.mark.parametrize("depth", [-1.0, nan, inf])
def test_what_is_no_depth_is_refused_in_words(depth: float) -> None:
    for cut in (pocket("a", square(0, 0, 10), depth), bore("a", (0, 0), (6.0, depth))):
        with pytest.raises(BodyError, match="deep, which nothing can be"):
            find_webs(whole(cut), THICKNESS)
        with pytest.raises(BodyError):
            make_body(BODY, THICKNESS, [cut])


def test_a_ring_whose_chords_cross_by_a_hair_is_what_encloses_the_most() -> None:
    """A cavity 40 mm long and 64 wide but for a corner cut off by 8 mm², whose chords cross in a loop of 0.004 mm²."""
    corners = [(578, -32), (618, -31.6), (617.9, -32), (618, -31.5), (618, 32), (578, 32)]
    crossed = Ring(Point(*corner) for corner in corners)
    assert not shapely.Polygon(crossed).is_valid
    assert polygon(crossed).is_valid
    assert polygon(crossed).area == pytest.approx(40 * 64 - 40 * 0.4 / 2, abs=0.02)
