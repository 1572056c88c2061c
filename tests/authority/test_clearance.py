"""The wood between cuts against plain solid geometry worked by hand; each formula stands beside its check."""

from __future__ import annotations

from math import cos, hypot, pi, radians, sin, sqrt, tan

import pytest

from scribeline.features import DOWN, UP, Bit, Bore, Feature, Features, Pocket, Step
from scribeline.layout import Point, Point3, Ring
from scribeline.solid import DRIFT, Outside, Web, find_outside, find_webs

THICKNESS = 44.0
CLOSE = 2e-4
"""Slanting bores are given as a bound within 0.0001 mm."""


def web(*features: Feature, drift: float = 0.0) -> Web:
    bores = tuple(f for f in features if isinstance(f, Bore))
    pockets = tuple(f for f in features if isinstance(f, Pocket))
    (found,) = find_webs(Features(bores, pockets), THICKNESS, near=1e6, drift=drift)
    return found


def flat(diameter: float, depth: float) -> Step:
    """A bottom without a point."""
    return Step(diameter, depth, Bit("flat-bottomed", diameter, 0.0))


def twist(diameter: float, depth: float, degrees: float = 118.0) -> Step:
    """A bottom that is a cone of the bit's angle."""
    return Step(diameter, depth, Bit("twist", diameter, diameter / 2 / tan(radians(degrees / 2))))


def upright(name: str, x: float, y: float, top: bool, *steps: Step) -> Bore:
    at = Point3(x, y, 0.0 if top else -THICKNESS)
    return Bore(name, "hole", "holes", "top" if top else "back", at, DOWN if top else UP, steps)


def slanting(name: str, at: tuple[float, float], angle_deg: float, heading_deg: float, *steps: Step) -> Bore:
    a, h = radians(angle_deg), radians(heading_deg)
    axis = Point3(cos(h) * cos(a), sin(h) * cos(a), -sin(a))
    return Bore(name, "wire", "wires", "top", Point3(*at, 0.0), axis, steps)


def box(name: str, x: tuple[float, float], y: tuple[float, float], top: bool, depth: float) -> Pocket:
    corners = ((x[0], y[0]), (x[1], y[0]), (x[1], y[1]), (x[0], y[1]))
    return Pocket(name, name, "top" if top else "back", Ring(Point(*p) for p in corners), depth, 0.0)


def test_upright_bores_side_by_side_above_and_askew() -> None:
    # Side by side: 10 apart less 2 and 3. One above the other: 44 − 20 − 10. Askew: hypot(10 − 5, 4) of two rims.
    assert web(
        upright("a", 0, 0, True, flat(4, 20)), upright("b", 10, 0, True, flat(6, 9))
    ).mm == pytest.approx(5)
    above = web(upright("a", 0, 0, True, flat(4, 20)), upright("b", 1, 0, False, flat(6, 10)))
    assert above.mm == pytest.approx(14)
    askew = web(upright("a", 0, 0, True, flat(4, 20)), upright("b", 8, 0, False, flat(6, 20)))
    assert askew.mm == pytest.approx(hypot(3, 4))
    assert askew.places is not None
    assert [*askew.places[0], *askew.places[1]] == pytest.approx([2, 0, -20, 5, 0, -24])


def test_a_counterbore_is_nearest_where_the_neighbour_is_shallow() -> None:
    # Counterbore 8 wide and 3 deep on a 4 mm bore: 10 − 2 − 4 at the top.
    stepped = upright("b", 10, 0, True, flat(8, 3), flat(4, 20))
    assert web(upright("a", 0, 0, True, flat(4, 2)), stepped).mm == pytest.approx(4)
    # A bore from the back that ends 10 below the top: 10 − 2 − 2 beside the bore, hypot(4, 7) from the counterbore.
    assert web(upright("a", 0, 0, False, flat(4, 34)), stepped).mm == pytest.approx(6)


def test_a_cone_beside_a_rim() -> None:
    # A 90° cone of radius 5 (a countersink) and an upright bore of radius 1 from the back to 2 mm under the face,
    # axes 12 apart: the cone's side is the line r + z = 5; the rim (11, 2) is (11 + 2 − 5)/√2 from it.
    # The foot of that square lies beyond the cone's rim (5, 0), so the rim counts: hypot(11 − 5, 2).
    sink = upright("a", 0, 0, True, Step(10, 0, Bit("twist", 10, 5.0)))
    assert web(sink, upright("b", 12, 0, False, flat(2, 42))).mm == pytest.approx(hypot(6, 2))
    # 6 mm under the face and axes 6 apart the foot lies on the side: (5 + 6 − 5)/√2, 90° between them.
    assert web(sink, upright("b", 6, 0, False, flat(2, 38))).mm == pytest.approx(6 / sqrt(2))


def test_a_cone_point_over_a_plane() -> None:
    # Upright: depth + point to the back pocket's floor. The point of a 118° bit is r/tan 59°.
    hole = upright("a", 0, 0, True, twist(6, 20))
    assert web(hole, box("b", (-20, 20), (-20, 20), False, 10)).mm == pytest.approx(
        34 - 20 - 3 / tan(radians(59))
    )
    # Slanting at 60°, a point of 60° (steeper than the slant): the tip is lowest, (L + r/tan 30°) sin 60° down.
    hole = slanting("a", (0, 0), 60, 0, twist(6, 20, 60))
    low = (20 + 3 / tan(radians(30))) * sin(radians(60))
    assert web(hole, box("b", (-40, 40), (-20, 20), False, 10)).mm == pytest.approx(34 - low, abs=CLOSE)


@pytest.mark.parametrize("angle", [30, 60, 80])
def test_the_rim_of_a_slanting_bore_over_a_plane(angle: float) -> None:
    # The lowest place of the flat end's rim is L sin A + r cos A down.
    hole = slanting("a", (0, 0), angle, 0, flat(4, 24))
    low = 24 * sin(radians(angle)) + 2 * cos(radians(angle))
    assert web(hole, box("b", (-40, 40), (-20, 20), False, 10)).mm == pytest.approx(34 - low, abs=CLOSE)
    (outside,) = find_outside(
        Features((hole,), ()), box("", (-90, 90), (-90, 90), True, 1).outline, THICKNESS
    )
    assert outside.to_opposite == pytest.approx(THICKNESS - low)
    assert outside.opposite_places is not None
    lowest, below = outside.opposite_places
    # That place lies L cos A − r sin A along the heading.
    assert lowest == pytest.approx((24 * cos(radians(angle)) - 2 * sin(radians(angle)), 0, -low))
    assert below == pytest.approx((lowest.x, 0, -THICKNESS))


@pytest.mark.parametrize(("lean", "turn"), [(45, 90), (30, 60), (70, 20)])
def test_the_mantles_of_two_skew_bores(lean: float, turn: float) -> None:
    # Two lines at the same lean whose headings are `turn` apart meet under the middle of their mouths, 12 mm down.
    # Moved apart square to both, their distance is the shift; the mantles' is that less both radii.
    half, a = radians(turn / 2), radians(lean)
    to_middle = 12 / tan(a)
    one = (cos(half) * cos(a), sin(half) * cos(a), -sin(a))
    other = (cos(half) * cos(a), -sin(half) * cos(a), -sin(a))
    square = (
        one[1] * other[2] - one[2] * other[1],
        one[2] * other[0] - one[0] * other[2],
        one[0] * other[1] - one[1] * other[0],
    )
    size = sqrt(sum(s * s for s in square))
    # 8 mm along the common square; the second bore's mouth slid back along its axis to the face.
    shift = [8 * s / size for s in square]
    back = shift[2] / other[2]
    mouth = (
        -to_middle * cos(half) + shift[0] - back * other[0],
        to_middle * sin(half) + shift[1] - back * other[1],
    )
    first = slanting(
        "a", (-to_middle * cos(half), -to_middle * sin(half)), lean, turn / 2, flat(3, 1.6 * 12 / sin(a))
    )
    second = slanting("b", mouth, lean, -turn / 2, flat(5, 1.9 * 12 / sin(a)))
    assert web(first, second).mm == pytest.approx(8 - 1.5 - 2.5, abs=CLOSE)


def test_two_slanting_bores_side_by_side() -> None:
    # Parallel axes, mouths 9 apart square to the heading: 9 − 2 − 3 all along.
    found = web(slanting("a", (0, 0), 35, 0, flat(4, 50)), slanting("b", (0, 9), 35, 0, flat(6, 40)))
    assert found.mm == pytest.approx(4, abs=CLOSE)
    # Mouths 9 apart along the heading: the axes are 9 sin A apart.
    found = web(slanting("a", (0, 0), 35, 0, flat(2, 50)), slanting("b", (9, 0), 35, 0, flat(2, 50)))
    assert found.mm == pytest.approx(9 * sin(radians(35)) - 2, abs=CLOSE)


def test_a_slanting_bore_past_an_upright_one_and_a_wall() -> None:
    # It heads along x; whatever stands upright beside it is as far as in the plan: 11 − 2 − 3 and 11 − 2.
    hole = slanting("a", (0, 0), 40, 0, flat(4, 30))
    assert web(hole, upright("b", 10, 11, True, flat(6, 40))).mm == pytest.approx(6, abs=CLOSE)
    wall = web(hole, box("b", (5, 15), (11, 20), True, 40))
    assert wall.mm == pytest.approx(9, abs=CLOSE)
    assert wall.places is not None
    assert sorted(p.y for p in wall.places) == pytest.approx([2, 11], abs=1e-3)


def test_the_mouth_of_a_slanting_bore_is_an_ellipse_on_the_face() -> None:
    # Its half-length along the heading is r/sin A; a pocket behind it, 1 mm deep, is nearest at the face.
    hole = slanting("a", (0, 0), 30, 0, flat(4, 40))
    assert web(hole, box("b", (-20, -10), (-5, 5), True, 1)).mm == pytest.approx(
        10 - 2 / sin(radians(30)), abs=CLOSE
    )


def test_pockets_side_by_side_and_back_to_back() -> None:
    a = box("a", (0, 10), (0, 10), True, 15)
    assert web(a, box("b", (13, 20), (14, 20), True, 30)).mm == pytest.approx(hypot(3, 4))
    assert web(a, box("b", (2, 8), (2, 8), False, 20)).mm == pytest.approx(44 - 15 - 20)
    assert web(a, box("b", (12, 20), (0, 10), False, 25)).mm == pytest.approx(hypot(2, 4))
    # A bore in the arms of an L is 6 from the arms less its radius; the L's own hull would swallow it.
    ell = Ring(Point(*p) for p in ((0, 0), (30, 0), (30, 5), (5, 5), (5, 30), (0, 30)))
    arms = Pocket("b", "b", "top", ell, 20, 0.0)
    assert web(upright("a", 11, 11, True, flat(4, 10)), arms).mm == pytest.approx(4)
    # Slanting square to one arm, it comes at the other as near as in the plan.
    assert web(slanting("a", (28, 11), 30, 180, flat(4, 10)), arms).mm == pytest.approx(4, abs=CLOSE)


def test_how_deep_one_runs_into_another() -> None:
    # A box 12 × 8 about the origin, 10 deep; a 2 mm hole at its middle 30 deep: sideways 4 + 1, downwards 10.
    pocket = box("b", (-6, 6), (-4, 4), True, 10)
    met = web(upright("a", 0, 0, True, flat(2, 30)), pocket)
    assert (met.mm, met.overlap) == pytest.approx((0, 5))
    shallow = web(upright("a", 0, 0, False, flat(2, 35)), pocket)
    assert (shallow.mm, shallow.overlap) == pytest.approx((0, 1))
    # Two bores 3 apart of radii 2 and 2: 1 into each other.
    crossing = web(upright("a", 0, 0, True, flat(4, 30)), upright("b", 3, 0, True, flat(4, 30)))
    assert (crossing.mm, crossing.overlap) == pytest.approx((0, 1))
    # The same, slanting side by side.
    crossing = web(slanting("a", (0, 0), 40, 0, flat(4, 30)), slanting("b", (0, 3), 40, 0, flat(4, 30)))
    assert crossing.mm == 0
    assert crossing.overlap == pytest.approx(1, abs=1e-6)


def test_drift_is_taken_off_where_the_wood_is_least() -> None:
    # 1 mm per 100 mm: a cone of that slope about a slanting bore 50 mm long and 4 thick, at 40°. A 20 mm deep wall
    # beside it, 11 from the axis, begins 10 mm along the heading and covers the whole rest: the end is nearest.
    hole = slanting("a", (0, 0), 40, 0, flat(4, 50))
    found = web(hole, box("b", (10, 60), (11, 20), True, 44), drift=DRIFT)
    assert found.mm == pytest.approx(11 - 2 - 0.5, abs=CLOSE)
    assert found.drift == pytest.approx(0.5, abs=1e-3)
    # Short upright bores do not wander.
    assert (
        web(upright("a", 0, 0, True, flat(4, 30)), upright("b", 9, 0, True, flat(4, 30)), drift=DRIFT).mm == 5
    )


BODY = box("", (-100, 100), (-60, 60), True, 1).outline


def outside(feature: Feature, drift: float = 0.0) -> Outside:
    whole = Features((feature,), ()) if isinstance(feature, Bore) else Features((), (feature,))
    (found,) = find_outside(whole, BODY, THICKNESS, drift=drift)
    return found


def test_the_outside_of_a_box() -> None:
    found = outside(upright("a", 90, 10, True, flat(8, 3), twist(4, 20)))
    assert found.to_edge == pytest.approx(6)
    assert found.edge_places is not None
    assert [*found.edge_places[0], *found.edge_places[1]] == pytest.approx([94, 10, 0, 100, 10, 0])
    assert found.to_opposite == pytest.approx(44 - 20 - 2 / tan(radians(59)))
    assert outside(upright("a", 98, 0, True, flat(8, 3))).to_edge == pytest.approx(-2)
    assert outside(upright("a", 105, 0, True, flat(8, 3))).to_edge == pytest.approx(-9)
    assert outside(upright("a", 0, 0, False, flat(8, 45))).to_opposite == pytest.approx(-1)
    assert outside(box("a", (80, 97), (0, 50), True, 12)).to_edge == pytest.approx(3)
    assert outside(box("a", (80, 97), (0, 50), True, 12)).to_opposite == pytest.approx(32)
    assert outside(box("a", (80, 107), (0, 50), True, 12)).to_edge == pytest.approx(-7)
    # Towards the wall: the flat end's rim reaches L cos A + r sin A along the heading.
    hole = slanting("a", (60, 0), 40, 0, flat(4, 40))
    reach = 40 * cos(radians(40)) + 2 * sin(radians(40))
    assert outside(hole).to_edge == pytest.approx(40 - reach, abs=CLOSE)
    wander = 40 * DRIFT * sin(pi / 180 * 40)
    assert outside(hole, DRIFT).to_edge == pytest.approx(40 - reach - wander, abs=CLOSE)
    # 51 mm at 40° stay in the wood (32.8 mm down) and run out of the wall.
    assert outside(slanting("a", (70, 0), 40, 0, flat(4, 51))).to_edge == pytest.approx(
        -(51 * cos(radians(40)) + 2 * sin(radians(40)) - 30), abs=0.01
    )
