"""What must hold of the wood between cuts however the body lies and whatever else is cut.

The distances themselves are held to an oracle in `test_clearance_oracle` and to hand work in
`authority/test_clearance`.
"""

from __future__ import annotations

from dataclasses import replace
from math import cos, dist, hypot, pi, radians, sin

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from scribeline.features import DOWN, UP, Bit, Bore, Feature, Features, Pocket, Step
from scribeline.features.cuts import Face
from scribeline.layout import Point, Point3, Ring
from scribeline.solid import DRIFT, Web, find_outside, find_webs

from ..torture import examples

THICKNESS = 44.0
BOUND = 1.1e-4
"""Distances of slanting bores are bounds within 0.0001 mm."""

XY = tuple[float, float]


def whole(*features: Feature) -> Features:
    return Features(
        tuple(f for f in features if isinstance(f, Bore)), tuple(f for f in features if isinstance(f, Pocket))
    )


def web(*features: Feature, drift: float = 0.0) -> Web:
    (found,) = find_webs(whole(*features), THICKNESS, near=1e6, drift=drift)
    return found


def twist(diameter: float) -> Bit:
    return Bit("twist", diameter, 0.3 * diameter)


def upright(name: str, x: float, y: float, top: bool, *steps: tuple[float, float]) -> Bore:
    at = Point3(x, y, 0.0 if top else -THICKNESS)
    cuts = tuple(Step(d, depth, twist(d)) for d, depth in steps)
    return Bore(name, "hole", "holes", "top" if top else "back", at, DOWN if top else UP, cuts)


def tilted(name: str, place: XY, angle_deg: float, heading_deg: float, hole: XY) -> Bore:
    a, h = radians(angle_deg), radians(heading_deg)
    axis = Point3(-cos(h) * cos(a), sin(h) * cos(a), -sin(a))
    d, depth = hole
    return Bore(name, "wire", "wires", "top", Point3(*place, 0.0), axis, (Step(d, depth, twist(d)),))


def box(name: str, place: XY, turn_deg: float, top: bool, depth: float) -> Pocket:
    c, s = cos(radians(turn_deg)), sin(radians(turn_deg))
    around = ((-6, -4), (6, -4), (6, 4), (-6, 4))
    corners = [(place[0] + u * c - v * s, place[1] + u * s + v * c) for u, v in around]
    return Pocket(name, name, "top" if top else "back", Ring(Point(*p) for p in corners), depth, 0.0)


PLACE = st.floats(-15, 15)
DEPTHS = st.floats(2, 20)


@st.composite
def uprights(draw: st.DrawFn, name: str) -> Bore:
    wide, first = draw(st.floats(2, 10)), draw(DEPTHS)
    steps = [(wide, first)]
    if draw(st.booleans()):
        steps.append((draw(st.floats(1, wide - 0.5)), first + draw(st.floats(1, 20))))
    return upright(name, draw(PLACE), draw(PLACE), draw(st.booleans()), *steps)


@st.composite
def boxes(draw: st.DrawFn, name: str) -> Pocket:
    turn, top, depth = draw(st.floats(0, 90)), draw(st.booleans()), draw(st.floats(2, 38))
    return box(name, (draw(PLACE), draw(PLACE)), turn, top, depth)


@st.composite
def tilteds(draw: st.DrawFn, name: str) -> Bore:
    angle, heading = draw(st.floats(10, 80)), draw(st.floats(-180, 180))
    return tilted(
        name, (draw(PLACE), draw(PLACE)), angle, heading, (draw(st.floats(1, 8)), draw(st.floats(5, 40)))
    )


def any_cut(name: str) -> st.SearchStrategy[Feature]:
    return uprights(name) | boxes(name) | tilteds(name)


def test_the_tip_of_the_second_of_two_tilted_bores_counts() -> None:
    # Two needles that head for each other at 45°, so that the axis of the second goes through the first one's tip.
    a = tilted("a", (50 - 2 * 30 * cos(pi / 4), 0), 45, 180, (0.02, 30 - 0.006))
    for depth in np.linspace(20.0, 20.6, 61):
        b = tilted("b", (50, 0), 45, 0, (0.02, float(depth)))
        # Square to each other: the second's tip is nearest the first's rim, 0.01 nearer than its tip and 0.006 back.
        assert web(a, b).mm == pytest.approx(hypot(30 - depth - 0.016, 0.006), abs=BOUND)


def moved(feature: Feature, turn: float, dx: float, dy: float, mirror: bool) -> Feature:
    def place(x: float, y: float) -> Point:
        y = -y if mirror else y
        return Point(x * cos(turn) - y * sin(turn) + dx, x * sin(turn) + y * cos(turn) + dy)

    if isinstance(feature, Pocket):
        ring = [place(*p) for p in feature.outline]
        return replace(feature, outline=Ring(ring[::-1] if mirror else ring))
    at, way = place(feature.at.x, feature.at.y), place(feature.axis.x, feature.axis.y)
    axis = Point3(way.x - dx, way.y - dy, feature.axis.z)
    return replace(
        feature, at=Point3(at.x, at.y, feature.at.z), axis=feature.axis if feature.is_upright else axis
    )


@settings(max_examples=examples(60), deadline=None)
@given(
    any_cut("a"),
    any_cut("b"),
    st.tuples(st.floats(-3, 3), st.floats(-200, 200), st.floats(-200, 200), st.booleans()),
)
def test_moving_turning_or_mirroring_both_changes_nothing(
    a: Feature, b: Feature, move: tuple[float, float, float, bool]
) -> None:
    here = web(a, b)
    there = web(moved(a, *move), moved(b, *move))
    assert there.mm == pytest.approx(here.mm, abs=BOUND)
    if here.mm > BOUND:
        assert there.overlap == 0


@settings(max_examples=examples(60), deadline=None)
@given(any_cut("a"), any_cut("b"))
def test_order_does_not_matter(a: Feature, b: Feature) -> None:
    one, other = web(a, b), web(replace(b, id="a"), replace(a, id="b"))
    assert one.mm == pytest.approx(other.mm, abs=BOUND)


@settings(max_examples=examples(60), deadline=None)
@given(any_cut("a"), any_cut("b"))
def test_turning_the_body_over_changes_nothing(a: Feature, b: Feature) -> None:
    # Over about the x axis: y and z change sign.
    def over(feature: Feature) -> Feature:
        other: Face = "back" if feature.face == "top" else "top"
        if isinstance(feature, Pocket):
            return replace(feature, face=other, outline=Ring(Point(p.x, -p.y) for p in feature.outline[::-1]))
        at, axis = feature.at, feature.axis
        turned = Point3(axis.x, -axis.y, -axis.z) if not feature.is_upright else UP if axis == DOWN else DOWN
        return replace(feature, face=other, at=Point3(at.x, -at.y, -THICKNESS - at.z), axis=turned)

    assert web(over(a), over(b)).mm == pytest.approx(web(a, b).mm, abs=BOUND)


@settings(max_examples=examples(60), deadline=None)
@given(any_cut("a"), any_cut("b"))
def test_the_places_are_as_far_apart_as_is_said(a: Feature, b: Feature) -> None:
    found = web(a, b)
    assert found.places is not None
    if found.mm > 0:
        assert dist(*found.places) == pytest.approx(found.mm, abs=2e-4)


@settings(max_examples=examples(40), deadline=None)
@given(tilteds("a"), any_cut("b"))
def test_drift_only_takes_wood_away(a: Bore, b: Feature) -> None:
    still, wandering = web(a, b), web(a, b, drift=DRIFT)
    most = DRIFT * 50 * 2
    assert still.mm - most - BOUND <= wandering.mm <= still.mm + BOUND
    assert still.drift == 0


def test_a_crowd_is_what_its_pairs_are() -> None:
    random = np.random.default_rng(3)
    crowd: list[Feature] = []
    for k in range(12):
        x, y = (float(v) for v in random.uniform(-40, 40, 2))
        crowd += [
            upright(f"u{k}", x, y, bool(k % 2), (5, 8), (3, 20)),
            tilted(f"t{k}", (-y, x), 20 + 5 * k, 30 * k, (3, 30)),
            box(f"p{k}", (y, -x), 10 * k, bool(k % 3), 6 + 2 * k),
        ]
    listed = {frozenset((w.a, w.b)): w.mm - w.overlap for w in find_webs(whole(*crowd), THICKNESS, near=15.0)}
    alone = {frozenset((a.id, b.id)): web(a, b) for i, a in enumerate(crowd) for b in crowd[i + 1 :]}
    for pair, found in alone.items():
        if found.mm < 15 - BOUND:
            assert listed[pair] == pytest.approx(found.mm - found.overlap, abs=BOUND)
        elif found.mm > 15 + BOUND:
            assert pair not in listed


def test_only_neighbours_are_listed_and_thinnest_first() -> None:
    row = tuple(upright(f"h{i}", x, 0, True, (4, 20)) for i, x in enumerate((0, 10, 30, 55)))
    webs = find_webs(Features(row, ()), THICKNESS)
    assert [(w.a, w.b) for w in webs] == [("h0", "h1"), ("h1", "h2")]
    assert [w.mm for w in webs] == pytest.approx([6, 16])


def test_what_is_meant_to_meet_is_told_apart() -> None:
    a = replace(upright("a", 0, 0, True, (4, 30)), meets=frozenset({"b"}))
    met = web(a, upright("b", 1, 0, False, (6, 30)))
    assert (met.mm, met.on_purpose, met.overlap) == (0, True, 0)
    # Meant to meet, and does not: the wood that is still between them is told.
    short = web(a, upright("b", 0, 0, False, (6, 10)))
    assert short.on_purpose
    assert short.mm == pytest.approx(44 - 30 - 1.2 - 10 - 1.8)


def test_nothing_cut_is_nothing_found() -> None:
    assert find_webs(Features((), ()), THICKNESS) == ()
    assert find_outside(Features((), ()), BODY, THICKNESS) == ()


BODY = Ring((Point(-100, -60), Point(100, -60), Point(100, 60), Point(-100, 60)))


def reach(feature: Feature, way: tuple[float, float, float]) -> float:
    """How far a cut reaches in a direction, by points on its rims and at its tip."""
    if isinstance(feature, Pocket):
        heights = (-feature.depth, 0.0) if feature.face == "top" else (-THICKNESS, feature.depth - THICKNESS)
        corners = [(p.x, p.y, z) for p in feature.outline for z in heights]
        return float(max(np.array(corners) @ way))
    axis = np.array(feature.axis)
    helper = np.array([1.0, 0, 0]) if abs(axis[0]) < 0.9 else np.array([0, 1.0, 0])
    u = np.cross(axis, helper)
    u /= np.linalg.norm(u)
    turn = np.linspace(0, 2 * pi, 2001)
    rim = np.outer(np.cos(turn), u) + np.outer(np.sin(turn), np.cross(axis, u))
    places = [np.array([feature.along(step.point_reaches)]) for step in feature.steps]
    for step in feature.steps:
        circle = step.diameter / 2 * rim
        places += [
            np.array(feature.along(step.depth)) + circle,
            np.array(feature.at) + circle - np.outer(circle[:, 2] / axis[2], axis),
        ]
    return float(max(np.concatenate(places) @ way))


@settings(max_examples=examples(60), deadline=None)
@given(any_cut("a"), st.floats(-80, 80), st.floats(-40, 40))
def test_the_outside_of_a_box_body(a: Feature, dx: float, dy: float) -> None:
    feature = moved(a, 0.0, dx, dy, False)
    if isinstance(feature, Bore) and not feature.is_upright:
        # Deep enough that its bottom lies in the wood all round, so that its mouth is the whole ellipse.
        d = feature.widest
        deep = max(feature.deepest.depth, d / abs(feature.axis.z))
        feature = replace(feature, steps=(Step(d, deep, twist(d)),))
    (found,) = find_outside(whole(feature), BODY, THICKNESS)
    inside = min(
        100 - reach(feature, (1, 0, 0)),
        100 - reach(feature, (-1, 0, 0)),
        60 - reach(feature, (0, 1, 0)),
        60 - reach(feature, (0, -1, 0)),
    )
    far = THICKNESS - reach(feature, (0, 0, -1)) if feature.face == "top" else -reach(feature, (0, 0, 1))
    assert found.to_opposite == pytest.approx(far, abs=1e-4)
    assert (found.to_edge > 0) == (inside > 0) or abs(inside) < 1e-3
    if inside > 0 and far > 0:
        assert found.to_edge == pytest.approx(inside, abs=1e-3)
        assert found.edge_places is not None
        assert dist(*found.edge_places) == pytest.approx(inside, abs=1e-3)
        assert shapely.Polygon(BODY).exterior.distance(shapely.Point(found.edge_places[1][:2])) < 1e-6
