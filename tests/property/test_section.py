"""Sections: what a plane cuts agrees with the solids themselves, point by point, and with areas worked by hand."""

from dataclasses import replace
from math import asin, asinh, cos, hypot, pi, sin, sqrt, tan

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from scribeline.drawing.section import FLATTENING, Loop, lies_in, section, silhouette
from scribeline.features import DOWN, UP, Bit, Bore, Features, Pocket, Step, polygon
from scribeline.layout import Point, Point3, Ring

from ..torture import examples

THICKNESS = 44.0
OUTLINE = Ring((Point(0, -60), Point(200, -60), Point(200, 60), Point(0, 60)))


def bit(diameter: float, point: float = 0.0, kind: str = "twist") -> Bit:
    return Bit(kind, diameter, point)  # type: ignore[arg-type] # the strategies choose from the three kinds


def upright(x: float, y: float, face: str, *steps: Step) -> Bore:
    top = face == "top"
    return Bore(
        f"{face}-{x:g}-{y:g}",
        "hole",
        "holes",
        "top" if top else "back",
        Point3(x, y, 0.0 if top else -THICKNESS),
        DOWN if top else UP,
        steps,
    )


def area(loops: tuple[Loop, ...]) -> float:
    return float(sum(shapely.Polygon(loop).area for loop in loops))


def wood_area(pieces: tuple[tuple[Loop, ...], ...]) -> float:
    return float(sum(shapely.Polygon(outer, holes).area for outer, *holes in pieces))


def test_areas_of_a_through_bore_by_hand() -> None:
    # A 6 mm bore, 20 deep with a flat end, cut 1.8 mm off its axis: chord 2√(3² − 1.8²) = 4.8 mm.
    cut = section(
        Features((upright(100, 5, "top", Step(6.0, 20.0, bit(6.0))),), ()), OUTLINE, THICKNESS, 5 + 1.8
    )
    assert area(cut.cuts[0].loops) == pytest.approx(4.8 * 20.0)
    assert wood_area(cut.wood) == pytest.approx(200 * 44 - 96.0)


def test_area_of_a_twist_bit_s_point_by_hand() -> None:
    # On the axis the point of a 6 mm bit ground to a right angle is a triangle 6 wide and 3 high: 9 mm².
    hole = upright(100, 0, "top", Step(6.0, 20.0, bit(6.0, 3.0)))
    cut = section(Features((hole,), ()), OUTLINE, THICKNESS, 0.0)
    assert area(cut.cuts[0].loops) == pytest.approx(6 * 20 + 9.0)


def test_area_of_a_cone_off_its_axis_against_the_hyperbola_s_integral() -> None:
    # ∫ (1 − √(w² + a²)/r) dw over ±h, h = √(r² − a²): 2h − (h r + a² asinh(h/a)) / r (integral from any table).
    r, a, point = 3.0, 1.2, 2.0
    h = sqrt(r * r - a * a)
    tip = point * (2 * h - (h * r + a * a * asinh(h / a)) / r)
    hole = upright(100, 0, "top", Step(2 * r, 10.0, bit(2 * r, point)))
    cut = section(Features((hole,), ()), OUTLINE, THICKNESS, a)
    assert area(cut.cuts[0].loops) == pytest.approx(2 * h * 10.0 + tip, abs=2 * h * FLATTENING)


def test_two_bores_that_meet_count_once() -> None:
    # From the top 30 × 4, from the back 20 × 8: 6 mm of the narrow one lies in the wide one.
    holes = (
        upright(100, 0, "top", Step(4.0, 30.0, bit(4.0))),
        upright(100, 0, "back", Step(8.0, 20.0, bit(8.0))),
    )
    cut = section(Features(holes, ()), OUTLINE, THICKNESS, 0.0)
    assert wood_area(cut.wood) == pytest.approx(200 * 44 - 4 * 30 - 8 * 20 + 4 * 6)
    assert len(cut.wood) == 2, "a hole right through parts the wood in this plane"


def test_a_pocket_from_the_back_by_hand() -> None:
    triangle = Ring((Point(50, -20), Point(90, -20), Point(50, 20)))
    pocket = Pocket("p", "p", "back", triangle, 10.0, 0.0)
    # At y = 0 the triangle is half as wide: 20 mm, from x 50 to 70.
    cut = section(Features((), (pocket,)), OUTLINE, THICKNESS, 0.0)
    (loop,) = cut.cuts[0].loops
    assert {tuple(round(v, 6) for v in p) for p in loop} == {(50, -44), (70, -44), (70, -34), (50, -34)}
    assert section(Features((), (pocket,)), OUTLINE, THICKNESS, 30.0).cuts == ()


def test_a_slanting_bore_across_the_plane_is_an_ellipse() -> None:
    # 45° across the plane: the ellipse of a 6 mm cylinder has axes 6 and 6√2; area π/4 · 6 · 6√2.
    s = sqrt(0.5)
    hole = Bore("g", "g", "g", "top", Point3(100, -20, 0), Point3(0.0, s, -s), (Step(6.0, 60.0, bit(6.0)),))
    cut = section(Features((hole,), ()), OUTLINE, THICKNESS, 0.0)
    assert area(cut.cuts[0].loops) == pytest.approx(pi / 4 * 6 * 6 * sqrt(2), rel=2e-3)
    left, low, right, high = shapely.Polygon(cut.cuts[0].loops[0]).bounds
    assert (left, right) == pytest.approx((97, 103), abs=2 * FLATTENING)
    assert (low, high) == pytest.approx((-20 - 3 * sqrt(2), -20 + 3 * sqrt(2)), abs=2 * FLATTENING)


def test_a_silhouette_of_an_upright_bore_is_its_rectangle() -> None:
    hole = upright(100, 33, "back", Step(9.0, 2.0, bit(9.0)), Step(7.0, 12.0, bit(7.0)))
    lip, body = (shapely.Polygon(loop) for loop in silhouette(hole))
    assert lip.bounds == pytest.approx((95.5, -44, 104.5, -42), abs=2 * FLATTENING)
    assert body.bounds == pytest.approx((96.5, -42, 103.5, -32), abs=2 * FLATTENING)
    assert not lies_in(hole, 0.0)
    assert lies_in(hole, 33.0)


coordinates = st.floats(20, 180)
across = st.floats(-50, 50)


@st.composite
def bores(draw: st.DrawFn) -> Bore:
    kind = draw(st.sampled_from(["twist", "brad-point", "flat-bottomed"]))
    diameter = draw(st.floats(1.5, 20))
    depth = draw(st.floats(2, 30))
    point = draw(st.floats(0, 4))
    face = draw(st.sampled_from(["top", "back"]))
    x, y = draw(coordinates), draw(across)
    bore = upright(x, y, face, Step(diameter, depth, bit(diameter, point, kind)))
    if draw(st.booleans()):
        return bore
    slope, turn = draw(st.floats(0.3, 0.9)), draw(st.sampled_from([0.0, 0.4, -1.1, pi]))
    level = sqrt(1 - slope * slope)
    down = -1.0 if face == "top" else 1.0
    return replace(bore, axis=Point3(level * cos(turn), level * sin(turn), down * slope))


def full_diameter_holds(bore: Bore, p: Point3) -> bool | None:
    """Whether the bore's full diameter takes this place out; None within a hair of its surface or in its point."""
    m = [a - b for a, b in zip(p, bore.at, strict=True)]
    s = sum(a * b for a, b in zip(m, bore.axis, strict=True))
    off = sqrt(max(0.0, sum(v * v for v in m) - s * s))
    r, depth = bore.widest / 2, bore.deepest.depth
    hair = 4 * FLATTENING
    if s > depth - hair and off < r + hair and s < depth + bore.deepest.bit.point + hair:
        return None
    if abs(off - r) < hair and s < depth + hair:
        return None
    return off < r and s < depth


@given(bores(), across, coordinates, st.floats(-43.9, -0.1))
@settings(max_examples=examples(300), deadline=None)
def test_every_point_of_the_plane_is_wood_or_hole_as_the_solid_says(
    bore: Bore, y: float, x: float, z: float
) -> None:
    plane = bore.at.y + (y - bore.at.y) * 0.2
    cut = section(Features((bore,), ()), OUTLINE, THICKNESS, plane)
    near = (bore.at.x + (x - bore.at.x) * 0.1, z)
    expected = full_diameter_holds(bore, Point3(near[0], plane, near[1]))
    if expected is not None:
        is_wood = any(shapely.Polygon(outer, holes).covers(shapely.Point(near)) for outer, *holes in cut.wood)
        assert is_wood == (not expected)


@given(st.lists(bores(), max_size=5, unique_by=lambda bore: bore.id), across)
@settings(max_examples=examples(100), deadline=None)
def test_wood_and_cuts_make_up_the_blank_and_the_other_hand_is_its_mirror(
    holes: list[Bore], y: float
) -> None:
    cut = section(Features(tuple(holes), ()), OUTLINE, THICKNESS, y)
    taken = shapely.union_all([shapely.Polygon(loop) for c in cut.cuts for loop in c.loops])
    assert wood_area(cut.wood) + float(taken.area) == pytest.approx(
        area(cut.blank), abs=len(holes) * FLATTENING
    )
    mirrored = tuple(
        replace(
            bore,
            at=Point3(bore.at.x, -bore.at.y, bore.at.z),
            axis=Point3(bore.axis.x, -bore.axis.y, bore.axis.z),
        )
        for bore in holes
    )
    outline = Ring(Point(p.x, -p.y) for p in reversed(OUTLINE))
    other = section(Features(mirrored, ()), outline, THICKNESS, -y)
    assert wood_area(other.wood) == pytest.approx(wood_area(cut.wood), abs=1e-6)
    assert [c.feature for c in other.cuts] == [c.feature for c in cut.cuts]


def test_the_blank_follows_the_outline() -> None:
    # A disc of 50 mm radius cut 30 mm off its middle is 80 mm long.
    ring = shapely.Point(100, 0).buffer(50, quad_segs=256)
    outline = Ring(Point(float(x), float(y)) for x, y in shapely.get_coordinates(ring.exterior)[:-1])
    assert polygon(outline).is_valid
    cut = section(Features((), ()), outline, THICKNESS, 30.0)
    assert area(cut.blank) == pytest.approx(80 * 44, rel=1e-4)
    assert section(Features((), ()), outline, THICKNESS, 70.0).blank == ()


def test_the_ground_wire_s_mouth_is_cut_to_its_rim() -> None:
    # A slanting hole's mouth on the face is D / sin A long: 4 / sin 30° = 8 mm.
    angle = asin(0.5)
    hole = Bore(
        "g",
        "g",
        "g",
        "top",
        Point3(100, 0, 0),
        Point3(-sqrt(0.75), 0.0, -0.5),
        (Step(4.0, 25.0, bit(4.0)),),
    )
    cut = section(Features((hole,), ()), OUTLINE, THICKNESS, 0.0)
    on_face = [x for x, z in cut.cuts[0].loops[0] if abs(z) < 1e-9]
    assert max(on_face) - min(on_face) == pytest.approx(8.0)
    # Its deepest corner: 25 sin A along the axis, and r cos A for the square end.
    deepest = min(z for _, z in cut.cuts[0].loops[0])
    assert deepest == pytest.approx(-(25 * 0.5 + 2 * sqrt(0.75)))
    assert hypot(1, tan(angle)) == pytest.approx(1 / sqrt(0.75))
