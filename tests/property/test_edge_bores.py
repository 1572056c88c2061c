"""Bores from the body's edge and through a pocket, held to plain geometry and to sampling of the true cuts.

A true cut is the bit's cylinder within the outline and the thickness. The model ends it on a flat mouth, so it may
hold a little air before a curved wall, never less than what is cut.
"""

from __future__ import annotations

from dataclasses import replace
from math import cos, hypot, pi, radians, sin, sqrt, tan

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from scribeline.features import Bit, Bore, Features, Pocket, Step, drill_access, polygon
from scribeline.features.edge import lead_of
from scribeline.layout import Point, Point3, Ring, beside, edge_place, off_square
from scribeline.solid import find_outside, find_webs
from scribeline.solid.body import make_body

from ..torture import examples

Floats = NDArray[np.float64]
T = 44.0
CHUCK_RADIUS = 19.0
"""Of a drill, mm (typical, from memory); what a job takes that states none."""


def circle(radius: float, count: int = 720, x: float = 0.0) -> Ring:
    turns = np.linspace(0, 2 * pi, count, endpoint=False)
    return Ring(Point(x + radius * cos(t), radius * sin(t)) for t in turns)


def wavy(rng: np.random.Generator) -> Ring:
    """A body of soft lobes and hollows, some 300 mm across."""
    turns = np.linspace(0, 2 * pi, 600, endpoint=False)
    far = np.full(600, 150.0)
    for k in (2, 3, 4):
        far += rng.uniform(-25, 25) / k * np.cos(k * turns + rng.uniform(0, 6))
    return Ring(Point(float(r * cos(t)), float(r * sin(t))) for r, t in zip(far, turns, strict=True))


def flat(diameter: float) -> Bit:
    return Bit("flat-bottomed", diameter, 0.0)


def from_edge(
    ring: Ring, near: Point, steps: tuple[Step, ...], *, z: float = -T / 2, turn: float = 0.0
) -> Bore:
    place = edge_place(ring, near)
    d = place.inward
    axis = Point3(d.x * cos(turn) - d.y * sin(turn), d.x * sin(turn) + d.y * cos(turn), 0.0)
    at, out = Point3(place.at.x, place.at.y, z), Point3(place.outward.x, place.outward.y, 0.0)
    bore = Bore("edge", "hole", "holes", "edge", at, axis, steps, outward=out)
    return replace(bore, lead=lead_of(bore, polygon(ring)))


def whole(*cuts: Bore | Pocket) -> Features:
    return Features(
        tuple(c for c in cuts if isinstance(c, Bore)), tuple(c for c in cuts if isinstance(c, Pocket))
    )


def surface(bore: Bore, ring: Ring, lines: int = 180) -> Floats:
    """Places on the mantle and the end of what the bit cuts of the wood."""
    r, depth = bore.widest / 2, bore.deepest.depth
    axis, at = np.array(bore.axis), np.array(bore.at)
    u = np.array([-axis[1], axis[0], 0.0])
    turns = np.linspace(0, 2 * pi, lines, endpoint=False)
    rim = r * (np.cos(turns)[:, None] * u + np.sin(turns)[:, None] * [0.0, 0, 1])
    along = np.linspace(-20, depth, 400)
    mantle = (at + along[:, None, None] * axis + rim).reshape(-1, 3)
    end = (at + depth * axis + np.linspace(0, 1, 20)[:, None, None] * rim).reshape(-1, 3)
    both = np.concatenate([mantle, end])
    return np.asarray(both[shapely.contains_xy(polygon(ring), both[:, 0], both[:, 1])])


# --- Where a bore goes in.


@settings(max_examples=examples(40), deadline=None)
@given(st.floats(0, 2 * pi), st.floats(60, 140))
def test_square_to_a_round_edge_is_towards_its_middle(turn: float, off: float) -> None:
    place = edge_place(circle(100), Point(off * cos(turn), off * sin(turn)))
    assert hypot(place.at.x, place.at.y) == pytest.approx(100, abs=1e-3)
    assert place.strays == pytest.approx(abs(off - 100), abs=1e-2)
    # A curve drawn in pieces: its normal turns evenly, to a thousandth of a degree.
    assert place.inward.x * place.at.y - place.inward.y * place.at.x == pytest.approx(0, abs=2e-3)
    assert off_square(place) == pytest.approx(0, abs=1e-6)


def test_square_to_a_straight_edge_beside_a_corner() -> None:
    box = Ring((Point(0, 0), Point(100, 0), Point(100, 60), Point(0, 60)))
    place = edge_place(box, Point(99, -3))
    assert place.at == pytest.approx((99, 0))
    assert place.outward == pytest.approx((0, -1))


def test_screws_beside_an_axis_lie_on_the_edge_parallel_to_it() -> None:
    ring = circle(100)
    place = edge_place(ring, Point(100, 0))
    right, left = (beside(ring, place, to_right=side, up=2) for side in (19, -19))
    assert right is not None
    assert left is not None
    assert right.inward == left.inward == place.inward
    # Seen from outside, looking along −x with the top up, right is +y.
    assert right.at == pytest.approx((sqrt(100**2 - 19**2), 19), abs=2e-3)
    assert left.at == pytest.approx((sqrt(100**2 - 19**2), -19), abs=2e-3)
    assert right.up == 2
    assert beside(ring, place, to_right=101, up=0) is None


@settings(max_examples=examples(40), deadline=None)
@given(st.floats(30, 300), st.floats(2, 25))
def test_a_hollow_edge_comes_out_to_meet_the_bit_by_its_sagitta(radius: float, diameter: float) -> None:
    plate = shapely.box(-400, -400, 400, 400).difference(polygon(circle(radius, 3000)))
    bore = Bore(
        "b", "hole", "holes", "edge", Point3(radius, 0, -20), Point3(1, 0, 0), (Step(diameter, 30, flat(diameter)),),
        outward=Point3(-1, 0, 0),
    )  # fmt: skip
    assert lead_of(bore, plate) == pytest.approx(radius - sqrt(radius**2 - diameter**2 / 4), abs=2e-3)


# --- What it leaves.


@settings(max_examples=examples(25), deadline=None)
@given(st.floats(8, 36), st.floats(2, 7), st.floats(5, 40), st.floats(0, 2 * pi))
def test_wood_to_both_faces(down: float, radius: float, depth: float, turn: float) -> None:
    ring = circle(100)
    bore = from_edge(
        ring, Point(100 * cos(turn), 100 * sin(turn)), (Step(2 * radius, depth, flat(2 * radius)),), z=-down
    )
    (found,) = find_outside(whole(bore), ring, T)
    assert found.to_top == pytest.approx(down - radius, abs=1e-6)
    assert found.to_back == pytest.approx(T - down - radius, abs=1e-6)
    assert found.to_opposite == pytest.approx(min(down, T - down) - radius, abs=1e-6)


@pytest.mark.parametrize("seed", range(5))
def test_wood_to_the_edge_elsewhere(seed: int) -> None:
    rng = np.random.default_rng(seed)
    told = 0
    for _ in range(8):
        ring, turn = wavy(rng), rng.uniform(0, 2 * pi)
        near = Point(150 * cos(turn), 150 * sin(turn))
        depth, d = float(rng.uniform(15, 260)), float(rng.uniform(3, 24))
        bore = from_edge(ring, near, (Step(d, depth, flat(d)),), turn=float(rng.uniform(-0.8, 0.8)))
        (found,) = find_outside(whole(bore), ring, T)
        walls = other_walls(bore, ring)
        sampled = shapely.distance(walls, shapely.points(surface(bore, ring, 4)[:, :2])).min()
        ahead = [bore.along(s) for s in np.linspace(2, depth, 400)]
        inside = all(polygon(ring).contains(shapely.Point(p.x, p.y)) for p in ahead)
        if not inside:
            assert found.to_edge <= 0
            continue
        told += 1
        assert found.to_edge <= sampled + 1e-3
        if found.to_edge > 0:
            # Samples lie up to 0.8 mm apart along the bore.
            assert found.to_edge >= sampled - 0.05
    assert told


def other_walls(bore: Bore, ring: Ring) -> shapely.MultiLineString:
    """The outline but for the run from the mouth on that faces the drill within 60°, found by walking it."""
    points = np.array(ring)
    count = len(points)
    sides = np.stack([points, np.roll(points, -1, axis=0)], axis=1)
    run = sides[:, 1] - sides[:, 0]
    out = np.column_stack([run[:, 1], -run[:, 0]]) / np.hypot(*run.T)[:, None]
    facing = -(out @ [bore.axis.x, bore.axis.y]) >= 0.5
    first = int(shapely.distance(shapely.linestrings(sides), shapely.Point(bore.at.x, bore.at.y)).argmin())
    own = set()
    for step in (1, -1):
        k = first
        while facing[k]:
            own.add(k)
            k = (k + step) % count
    return shapely.MultiLineString([side for k, side in enumerate(sides.tolist()) if k not in own])


def test_a_jack_along_a_thin_horn_comes_out_of_its_side() -> None:
    horn = Ring((Point(0, -15), Point(200, -9), Point(200, 9), Point(0, 15)))
    bore = from_edge(horn, Point(200, 0), (Step(12, 40, flat(12)),))
    (found,) = find_outside(whole(bore), horn, T)
    # The sides run 9 mm from the axis at the tip and lean outwards from there: the mouth's rim is nearest their corner.
    assert found.to_edge == pytest.approx(9 - 6, abs=1e-3)
    wide = from_edge(horn, Point(200, 0), (Step(20, 40, flat(20)),))
    (found,) = find_outside(whole(wide), horn, T)
    assert found.to_edge < 0


def test_its_own_mouth_is_no_breakout() -> None:
    ring = circle(100)
    bore = from_edge(ring, Point(100, 0), (Step(24, 3, flat(24)), Step(22, 44, flat(22))))
    (found,) = find_outside(whole(bore), ring, T)
    # The wall of a disc has turned by 60° half a radius aside.
    assert found.to_edge > 30


@pytest.mark.parametrize("seed", range(4))
def test_never_falsely_clear_beside_a_curved_wall(seed: int) -> None:
    rng = np.random.default_rng(100 + seed)
    for _ in range(15):
        ring, turn = wavy(rng), rng.uniform(0, 2 * pi)
        d, depth = float(rng.uniform(4, 24)), float(rng.uniform(10, 45))
        bore = from_edge(
            ring,
            Point(150 * cos(turn), 150 * sin(turn)),
            (Step(d, depth, flat(d)),),
            turn=float(rng.uniform(-0.7, 0.7)),
        )
        along, aside, r = rng.uniform(-3, 60), d / 2 + rng.uniform(-2, 12), float(rng.uniform(1, 4))
        x = bore.at.x + along * bore.axis.x - aside * bore.axis.y
        y = bore.at.y + along * bore.axis.y + aside * bore.axis.x
        hole = Bore(
            "hole",
            "hole",
            "others",
            "top",
            Point3(x, y, 0),
            Point3(0, 0, -1),
            (Step(2 * r, 40, flat(2 * r)),),
        )
        places = surface(bore, ring)
        true = max(0.0, float((np.hypot(places[:, 0] - x, places[:, 1] - y) - r).min()))
        webs = find_webs(whole(bore, hole), T, near=200.0)
        assert webs[0].mm <= true + 0.02
        # Away from the mouth it is the distance itself.
        if along > 8 + d:
            assert webs[0].mm >= true - 0.1


@pytest.mark.parametrize("turn", [0.0, 0.5])
@pytest.mark.parametrize("hollow", [False, True])
def test_the_mesh_loses_what_the_bit_takes(hollow: bool, turn: float) -> None:
    ring = circle(100)
    if hollow:
        cut = shapely.Polygon(circle(100)).difference(shapely.Polygon(circle(40, 2000, 120.0)))
        ring = Ring(
            Point(x, y)
            for x, y in shapely.get_coordinates(shapely.geometry.polygon.orient(cut).exterior)[:-1]
        )
    bore = from_edge(ring, Point(80, 0) if hollow else Point(100, 0), (Step(22, 40, flat(22)),), turn=turn)
    body = make_body(ring, T, [bore])
    # Line by line along the bore: a chord's height times the line's length in wood.
    volume, count, plan = 0.0, 2000, polygon(ring)
    for side in (np.arange(count) + 0.5) / count * 22 - 11:
        start = (bore.at.x - side * bore.axis.y, bore.at.y + side * bore.axis.x)
        a, b = ((start[0] + s * bore.axis.x, start[1] + s * bore.axis.y) for s in (-25, 40))
        volume += 2 * sqrt(121 - side**2) * shapely.LineString([a, b]).intersection(plan).length * 22 / count
    assert body.removed[0].volume_mm3 == pytest.approx(volume, rel=1e-3)
    assert body.pieces == 1


# --- Can a drill get there?


@settings(max_examples=examples(40), deadline=None)
@given(st.floats(15, 80), st.floats(1, 5), st.floats(10, 35))
def test_a_chuck_over_a_slanting_hole_clears_the_face(angle_deg: float, radius: float, depth: float) -> None:
    a = radians(angle_deg)
    bore = Bore(
        "g", "hole", "holes", "top", Point3(0, 0, 0), Point3(-cos(a), 0, -sin(a)), (Step(2 * radius, depth, flat(2 * radius)),)
    )  # fmt: skip
    found = drill_access(bore, circle(400), T, (), chuck_radius=CHUCK_RADIUS)
    assert found.in_the_way == 0
    # The chuck's rim touches the face when the axis stands R·cot A out of it.
    assert found.outside == pytest.approx(CHUCK_RADIUS / tan(a), rel=4e-3)
    assert found.bit == pytest.approx(found.outside + depth)


@settings(max_examples=examples(60), deadline=None)
@given(st.floats(20, 60), st.floats(1.5, 4), st.floats(8, 16), st.floats(20, 70))
def test_through_a_pocket_the_bit_must_pass_its_rim(
    angle_deg: float, radius: float, down: float, long: float
) -> None:
    a, half = radians(angle_deg), 30.0
    pocket = Pocket(
        "p", "p", "top", Ring((Point(-long, -half), Point(0, -half), Point(0, half), Point(-long, half))), 20.0, 0.0
    )  # fmt: skip
    # It comes in over the far rim and starts on the near wall, heading +x and down.
    bore = Bore(
        "b", "hole", "holes", "pocket", Point3(0, 0, -down), Point3(cos(a), 0, -sin(a)),
        (Step(2 * radius, 30, flat(2 * radius)),), entered_from="p", outward=Point3(-1, 0, 0),
    )  # fmt: skip
    found = drill_access(bore, circle(400), T, [pocket], chuck_radius=CHUCK_RADIUS)
    rim = -down + long * tan(a) - radius / cos(a)  # the bit's underside over the far rim
    floor = down + radius * cos(a) + radius * sin(a) * tan(a)  # its underside at the wall
    if rim < -0.1 or floor > 20.1:
        assert 0 < found.in_the_way <= 2 * radius + 1e-9
        assert found.place is not None
    elif rim > 0.1 and floor < 19.9:
        assert found.in_the_way == 0
        out = (down + CHUCK_RADIUS * cos(a)) / sin(a)
        if (
            out * cos(a) + CHUCK_RADIUS * sin(a) > long
        ):  # the chuck's low side comes down on the top, not in the pocket
            assert found.outside == pytest.approx(out, rel=5e-3)


def test_a_level_bore_out_of_a_pocket_has_wood_before_it() -> None:
    pocket = Pocket(
        "p", "p", "top", Ring((Point(0, 0), Point(50, 0), Point(50, 40), Point(0, 40))), 20.0, 0.0
    )
    bore = Bore(
        "b", "hole", "holes", "pocket", Point3(50, 20, -10), Point3(1, 0, 0), (Step(4, 30, flat(4)),),
        entered_from="p", outward=Point3(-1, 0, 0),
    )  # fmt: skip
    found = drill_access(bore, circle(300), T, [pocket], chuck_radius=CHUCK_RADIUS)
    assert found.in_the_way == pytest.approx(2.0)
    assert found.place is not None
    assert found.place.x == pytest.approx(0, abs=0.1)


def test_a_bore_in_a_hollow_needs_a_longer_bit() -> None:
    # Straight into the middle of a hollow of 40 mm radius: the chuck's rim stops 40 − √(40² − 19²) short.
    hollow = shapely.Polygon(circle(100)).difference(shapely.Polygon(circle(40, 2000, 120.0)))
    ring = Ring(
        Point(x, y) for x, y in shapely.get_coordinates(shapely.geometry.polygon.orient(hollow).exterior)[:-1]
    )
    bore = from_edge(ring, Point(80, 0), (Step(4, 20, flat(4)),))
    found = drill_access(bore, ring, T, (), chuck_radius=CHUCK_RADIUS)
    assert found.in_the_way == 0
    assert found.outside == pytest.approx(40 - sqrt(40**2 - 19**2), abs=0.05)
