"""The wood between cuts, held to an oracle of its own: points on one solid's surface, measured to the other solid.

The oracle knows nothing of the code's shortcuts: a stepped bore is a union of cylinders (the deepest one down to the
bit's point, counted as full diameter), a pocket a prism, a tilted bore a cylinder with flat ends. Its answer can only
be too large, by no more than the samples' spacing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import cos, hypot, pi, radians, sin

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from scribeline.features import DOWN, UP, Bit, Bore, Feature, Features, Pocket, Step
from scribeline.layout import Point, Point3, Ring
from scribeline.solid import Web, find_outside, find_webs

THICKNESS = 44.0
SPACING = 0.25
"""Greatest distance between neighbouring samples, mm."""

Points = NDArray[np.float64]
XY = tuple[float, float]


@dataclass(frozen=True)
class Cylinder:
    """A solid cylinder with flat ends, any axis."""

    start: Points
    axis: Points
    length: float
    radius: float

    def distance(self, p: Points) -> Points:
        along = (p - self.start) @ self.axis
        out = np.linalg.norm(p - self.start - along[:, np.newaxis] * self.axis, axis=1)
        beyond = np.maximum(0, np.maximum(-along, along - self.length))
        return np.asarray(np.hypot(np.maximum(0, out - self.radius), beyond))

    def surface(self) -> Points:
        helper = np.array([1.0, 0, 0]) if abs(self.axis[0]) < 0.9 else np.array([0, 1.0, 0])
        u = np.cross(self.axis, helper)
        u /= np.linalg.norm(u)
        v = np.cross(self.axis, u)
        turn = np.linspace(0, 2 * pi, max(16, int(2 * pi * self.radius / SPACING) + 1), endpoint=False)
        circle = np.outer(np.cos(turn), u) + np.outer(np.sin(turn), v)
        levels = np.linspace(0, self.length, max(2, int(self.length / SPACING) + 2))
        wall = circle[np.newaxis] * self.radius + (levels[:, np.newaxis] * self.axis)[:, np.newaxis]
        rings = np.linspace(0, self.radius, max(2, int(self.radius / SPACING) + 2))
        disc = circle[np.newaxis] * rings[:, np.newaxis, np.newaxis]
        ends = [disc + level * self.axis for level in (0.0, self.length)]
        return np.concatenate([part.reshape(-1, 3) for part in (wall, *ends)]) + self.start


@dataclass(frozen=True)
class Prism:
    """A polygon between two heights."""

    plan: shapely.Polygon
    low: float
    high: float

    def distance(self, p: Points) -> Points:
        across = shapely.distance(self.plan, shapely.points(p[:, :2]))
        up = np.maximum(0, np.maximum(self.low - p[:, 2], p[:, 2] - self.high))
        return np.asarray(np.hypot(across, up))

    def surface(self) -> Points:
        edge = shapely.get_coordinates(shapely.segmentize(self.plan.exterior, SPACING))
        levels = np.linspace(self.low, self.high, max(2, int((self.high - self.low) / (2 * SPACING)) + 2))
        wall = np.concatenate([np.column_stack([edge, np.full(len(edge), z)]) for z in levels])
        x0, y0, x1, y1 = self.plan.bounds
        grid = np.stack(np.meshgrid(np.arange(x0, x1, 1.0), np.arange(y0, y1, 1.0)), axis=-1).reshape(-1, 2)
        floor = grid[shapely.contains_xy(self.plan, grid)]
        return np.concatenate(
            [wall, *(np.column_stack([floor, np.full(len(floor), z)]) for z in (self.low, self.high))]
        )


def parts(feature: Feature) -> list[Cylinder | Prism]:
    if isinstance(feature, Pocket):
        low, high = (
            (-feature.depth, 0.0) if feature.face == "top" else (-THICKNESS, feature.depth - THICKNESS)
        )
        return [Prism(shapely.Polygon(feature.outline), low, high)]
    start, axis = np.array(feature.at), np.array(feature.axis)
    ends = [step.depth for step in feature.steps[:-1]] + [
        feature.steps[-1].depth + feature.steps[-1].bit.point
    ]
    return [
        Cylinder(start, axis, end, step.diameter / 2) for step, end in zip(feature.steps, ends, strict=True)
    ]


def apart(a: Feature, b: Feature) -> float:
    """The oracle: never smaller than the true distance between the two cuts."""
    return min(
        float(min(q.distance(p.surface()).min(), p.distance(q.surface()).min()))
        for p in parts(a)
        for q in parts(b)
    )


def web(*features: Feature) -> Web:
    bores = tuple(f for f in features if isinstance(f, Bore))
    pockets = tuple(f for f in features if isinstance(f, Pocket))
    (found,) = find_webs(Features(bores, pockets), THICKNESS, near=1e6)
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


@settings(max_examples=40, deadline=None)
@given(uprights("a") | boxes("a"), uprights("b") | boxes("b"))
def test_upright_cuts_are_exact(a: Feature, b: Feature) -> None:
    found, sampled = web(a, b), apart(a, b)
    assert found.mm <= sampled + 1e-6
    assert found.mm >= sampled - SPACING
    if found.overlap > 1e-6:
        assert found.mm == 0


@settings(max_examples=30, deadline=None)
@given(tilteds("a"), uprights("b") | boxes("b") | tilteds("b"))
def test_a_tilted_cut_is_never_called_clearer_than_it_is(a: Bore, b: Feature) -> None:
    assert web(a, b).mm <= apart(a, b) + 1e-6


def test_the_tip_of_the_second_of_two_tilted_bores_counts() -> None:
    # Two needles that head for each other at 45°, so that the axis of the second goes through the first one's tip.
    a = tilted("a", (50 - 2 * 30 * cos(pi / 4), 0), 45, 180, (0.02, 30 - 0.006))
    for depth in np.linspace(20.0, 20.6, 61):
        b = tilted("b", (50, 0), 45, 0, (0.02, float(depth)))
        assert web(a, b).mm <= 30 - depth - 0.006 + 1e-3


@settings(max_examples=50)
@given(st.floats(20, 70), st.floats(0, 12), st.floats(1, 6), st.floats(1, 6))
def test_a_tilted_bore_is_tight_in_its_middle(angle: float, aside: float, d: float, e: float) -> None:
    # It heads along x; an upright bore stands beside the middle of it: the axes are `aside` apart.
    a = tilted("a", (0, 0), angle, 0, (d, 20.0))
    middle = 10.0 * cos(radians(angle))
    b = upright("b", -middle, aside, True, (e, 40.0))
    true = max(0.0, aside - (d + e) / 2)
    assert true - 0.06 <= web(a, b).mm <= true + 1e-9


@pytest.mark.parametrize("lean", [30, 60])
def test_a_tilted_bore_over_a_back_pocket(lean: float) -> None:
    # The lowest rim point of its flat end is L sin A + r cos A down; the pocket's floor 10 mm above the back.
    a = tilted("a", (0, 0), lean, 0, (4.0, 20.0))
    reach = 21.2
    b = box("b", (-reach * cos(radians(lean)) - 2, 0), 0, False, 10.0)
    true = THICKNESS - 10 - reach * sin(radians(lean)) - 2 * cos(radians(lean))
    assert web(a, b).mm <= true + 1e-9
    assert web(a, b).mm >= true - 2.0  # round-ended: thinner by up to the radius


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


@settings(max_examples=40, deadline=None)
@given(
    uprights("a") | boxes("a") | tilteds("a"),
    uprights("b") | boxes("b"),
    st.tuples(st.floats(-3, 3), st.floats(-200, 200), st.floats(-200, 200), st.booleans()),
)
def test_moving_turning_or_mirroring_both_changes_nothing(
    a: Feature, b: Feature, move: tuple[float, float, float, bool]
) -> None:
    here = web(a, b)
    there = web(moved(a, *move), moved(b, *move))
    assert there.mm == pytest.approx(here.mm, abs=1e-6)
    assert there.overlap == pytest.approx(here.overlap, abs=1e-6)


@settings(max_examples=40, deadline=None)
@given(uprights("a") | tilteds("a"), uprights("b") | tilteds("b"))
def test_order_does_not_matter(a: Bore, b: Bore) -> None:
    slack = (
        1e-9 if a.is_upright or b.is_upright else 0.15
    )  # of two tilted ones the second is walked in longer steps
    assert web(a, b).mm == pytest.approx(web(b, a).mm, abs=slack)


def test_turning_the_body_over_changes_nothing() -> None:
    a = upright("a", 0, 0, True, (6.0, 10.0), (3.0, 25.0))
    b = box("b", (8, 0), 20, True, 12.0)
    over_a = replace(a, face="back", at=Point3(0, 0, -THICKNESS), axis=UP)
    over_b = replace(b, face="back")
    assert web(a, b).mm == pytest.approx(web(over_a, over_b).mm)


def test_by_hand() -> None:
    # Side by side: 10 apart less 2 and 3. One above the other: 44 − 20 − 10. Askew: hypot(3, 4).
    assert web(upright("a", 0, 0, True, (4, 20)), upright("b", 10, 0, True, (6, 9))).mm == pytest.approx(5)
    above = web(upright("a", 0, 0, True, (4, 20 - 1.2)), upright("b", 0, 0, False, (6, 10 - 1.8)))
    assert above.mm == pytest.approx(14)
    askew = web(upright("a", 0, 0, True, (4, 20 - 1.2)), upright("b", 8, 0, False, (6, 20 - 1.8)))
    assert askew.mm == pytest.approx(hypot(3, 4))
    # A counterbore 8 wide on a 4 mm bore: the web is the counterbore's where the neighbour is shallow.
    stepped = upright("b", 10, 0, True, (8, 3), (4, 20))
    assert web(upright("a", 0, 0, True, (4, 2)), stepped).mm == pytest.approx(4)


def test_a_bore_inside_a_pocket_is_as_deep_in_as_the_shortest_way_out() -> None:
    # A box 12 × 8 about the origin, 10 deep; a 2 mm hole at its middle 30 deep: sideways 4 + 1, downwards 10.
    met = web(upright("a", 0, 0, True, (2, 30)), box("b", (0, 0), 0, True, 10))
    assert (met.mm, met.overlap) == pytest.approx((0, 5))
    shallow = web(upright("a", 0, 0, False, (2, 34.9)), box("b", (0, 0), 0, True, 10))
    assert shallow.overlap == pytest.approx(34.9 + 0.6 - 34)


def test_only_neighbours_are_listed_and_thinnest_first() -> None:
    row = tuple(upright(f"h{i}", x, 0, True, (4, 20)) for i, x in enumerate((0, 10, 30, 55)))
    webs = find_webs(Features(row, ()), THICKNESS)
    assert [(w.a, w.b) for w in webs] == [("h0", "h1"), ("h1", "h2")]
    assert [w.mm for w in webs] == pytest.approx([6, 16])


BODY = Ring((Point(-100, -60), Point(100, -60), Point(100, 60), Point(-100, 60)))


@settings(max_examples=60, deadline=None)
@given(uprights("a") | tilteds("a") | boxes("a"), st.floats(-80, 80), st.floats(-40, 40))
def test_the_outside_by_sampling(a: Feature, dx: float, dy: float) -> None:
    feature = moved(a, 0.0, dx, dy, False)
    (found,) = find_outside(
        Features((feature,), ()) if isinstance(feature, Bore) else Features((), (feature,)), BODY, THICKNESS
    )
    surface = np.concatenate([part.surface() for part in parts(feature)])
    inside = np.minimum(100 - np.abs(surface[:, 0]), 60 - np.abs(surface[:, 1])).min()
    assert found.to_edge <= inside + 1e-6
    upright_or_pocket = isinstance(feature, Pocket) or feature.is_upright
    if upright_or_pocket and inside > 0:
        assert found.to_edge == pytest.approx(inside, abs=0.1)
    if upright_or_pocket:
        assert (found.to_edge > 1e-9) == (inside > 1e-9) or abs(inside) < 0.1
    far = surface[:, 2].min() + THICKNESS if feature.face == "top" else -surface[:, 2].max()
    assert found.to_opposite <= far + 1e-6
    assert found.to_opposite == pytest.approx(far, abs=0.05)
