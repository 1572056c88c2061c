"""A neck pocket whose floor leans: held to plane geometry worked by hand and to a general CAD kernel (Open CASCADE)."""

from __future__ import annotations

from datetime import UTC, datetime
from math import cos, degrees, dist, pi, radians, sin, tan
from pathlib import Path
from random import Random

import numpy as np
import pytest
from tests import kernel_shapes as kernel
from tests.authority.test_clearance_kernel import AGREED, BOUND, pocket, slanting, upright
from tests.authority.test_solid_step import mass_of, read_back
from tests.kind_jobs import example, restated

from scribeline.drawing.section import section, upright_section
from scribeline.features import UP, Bit, Bore, Feature, Features, Pocket, Slope, Step, as_cut, rounded
from scribeline.job import Done, Job, Record, Stated, parse_job
from scribeline.layout import Point, Point3, Ring, depth_before, neck_lie, rise
from scribeline.plan import Plan, plan
from scribeline.plan.heights import heights
from scribeline.plan.named import quantities
from scribeline.plan.record import record
from scribeline.quantities import UNTOLD
from scribeline.scenario import demo_jobs
from scribeline.solid import find_outside, find_webs
from scribeline.solid.body import make_body
from scribeline.solid.step import step_file

THICKNESS = 44.0
END = 60.0
BOX = Ring([Point(-70, -60), Point(90, -60), Point(90, 60), Point(-70, 60)])
POSTS = example("posts-and-tailpiece")


def stated(text: str, **changes: Stated) -> Job:
    """A job with some keys stated otherwise."""
    return parse_job(restated(text, changes)).job


def leaning(angle_deg: float, depth: float = 16.0, *, mouth: float = -16.0) -> Pocket:
    """A pocket as wide as a heel, from its mouth to its end wall, with the corners of a 12 mm bit."""
    corners = (Point(mouth, -27), Point(END, -28), Point(END, 28), Point(mouth, 27))
    outline = rounded(Ring(corners), 6, open_towards_nut=True)
    slope = Slope(radians(angle_deg), END)
    return Pocket("neck-pocket", "neck pocket", "top", outline, depth, 6, at_edge=True, slope=slope)


def test_worked_by_hand() -> None:
    # Plane geometry: over 70 mm a plane at 4° rises 70 tan 4° = 4.895; a wedge at 4° is 6.993 thick 100 mm from its thin end
    # and 20.978 at 300.
    assert depth_before(16.0, 70.0, radians(4)) == pytest.approx(20.895, abs=5e-4)
    assert rise(100.0, radians(4)) == pytest.approx(6.993, abs=5e-4)
    assert rise(300.0, radians(4)) == pytest.approx(20.978, abs=5e-4)
    assert leaning(4, 16.0, mouth=END - 70.0).depths == pytest.approx((20.895, 16.0), abs=5e-4)
    assert leaning(-2, 16.0, mouth=END - 70.0).depths == pytest.approx((13.556, 16.0), abs=5e-4)


@pytest.mark.parametrize("angle", [-1.0, 1.5, 3.0])
def test_the_floor_is_where_the_heel_lies(angle: float) -> None:
    """The heel's underside, turned as a stiff body about its lower end: it must lie on the floor everywhere."""
    document = stated(POSTS, neck__angle=angle).document
    made = plan(stated(POSTS, neck__angle=angle)).features.pocket("neck-pocket")
    neck, turn = document.neck, radians(angle)
    for back in (0.0, 20.0, 70.0):
        x, z = np.array([[cos(turn), -sin(turn)], [sin(turn), cos(turn)]]) @ [-back, 0.0]
        assert made.depth_at(neck.pocket_end + x) == pytest.approx(neck.pocket_depth.mm - z, abs=1e-9)
    # And the strings of the height chain climb by the same angle.
    assert degrees(neck_lie(document).angle) == pytest.approx(angle)


@pytest.mark.parametrize("angle", [-2.0, 1.0, 3.0, 7.0])
def test_the_solid_is_the_kernels(angle: float, tmp_path: Path) -> None:
    cut = leaning(angle)
    wanted = kernel.volume(kernel.cut(cut, THICKNESS, arcs=True))
    body = make_body(BOX, THICKNESS, [cut])
    block = 160.0 * 120.0 * THICKNESS
    # Chords of 6 mm corners lie within 0.01 mm of their arcs: under 1 mm² of outline.
    assert body.mesh.volume_mm3 == pytest.approx(block - wanted, abs=30.0)
    faces = kernel.volume(kernel.cut(cut, THICKNESS))
    assert body.mesh.volume_mm3 == pytest.approx(block - faces, rel=1e-9)
    read = read_back(step_file(BOX, THICKNESS, [cut]), tmp_path)
    assert mass_of(read)[0] == pytest.approx(block - wanted, rel=1e-7)
    # The centre of what is taken out lies nearer the deeper end.
    x = mass_of(kernel.cut(cut, THICKNESS))[1][0]
    level = mass_of(kernel.cut(leaning(1e-9), THICKNESS))[1][0]
    assert (x < level) == (angle > 0)


def others(seed: int) -> list[Feature]:
    random = Random(seed)
    return [
        make(random, f"{make.__name__}-{n}", Point(random.uniform(-40, 80), random.uniform(-50, 50)))
        for n in range(3)
        for make in (upright, slanting, pocket)
    ]


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("angle", [-2.0, 3.0])
def test_the_wood_between_is_the_kernels(seed: int, angle: float) -> None:
    """As `test_clearance_kernel`: never more than the kernel finds, and as short on all but a few it overlooks."""
    cut, every = leaning(angle), others(seed)
    bores = tuple(f for f in every if isinstance(f, Bore))
    features = Features(bores, (cut, *(f for f in every if isinstance(f, Pocket))))
    shapes = {f.id: kernel.cut(f, THICKNESS) for f in features}
    webs = [web for web in find_webs(features, THICKNESS, near=1e6) if cut.id in {web.a, web.b}]
    assert len(webs) == len(every)
    same = 0
    for web in webs:
        found = kernel.distance(shapes[web.a], shapes[web.b])
        assert web.mm <= found.mm + BOUND
        if web.mm >= found.mm - AGREED:
            same += 1
            continue
        assert web.places is not None
        assert dist(*web.places) <= web.mm + AGREED
        assert kernel.off(web.places[0], shapes[web.a]) < AGREED
        assert kernel.off(web.places[1], shapes[web.b]) < AGREED
    assert same >= len(webs) - 1


def test_a_hole_under_the_shallow_end_is_not_under_the_deep_one() -> None:
    """A blind hole from the back, 24 mm deep in 44: under 16 mm of pocket 4 mm are left, under its mouth's 19.98 almost none."""
    cut, bit = leaning(3), Bit("flat-bottomed", 8.0, 0.0)
    for x in (END - 10.0, -10.0):
        hole = Bore("hole-1", "hole", "hole", "back", Point3(x, 0.0, -THICKNESS), UP, (Step(8.0, 24.0, bit),))
        (web,) = find_webs(Features((hole,), (cut,)), THICKNESS)
        # Square to the leaning floor from the rim that comes nearest, which is the one towards the mouth.
        straight = (THICKNESS - 24.0) - (16.0 + (END - (x - 4.0)) * tan(radians(3)))
        assert web.mm == pytest.approx(straight * cos(radians(3)), abs=1e-3)


def test_the_least_wood_under_it_counts_within_the_body() -> None:
    """The mouth stands out of the body by 16 mm; what lies there is no floor: 44 − 16 − 60 tan 3° is left at the edge."""
    cut = leaning(3)
    body = Ring([Point(0, -60), Point(90, -60), Point(90, 60), Point(0, 60)])
    (found,) = find_outside(Features((), (cut,)), body, THICKNESS)
    assert found.to_back == pytest.approx(THICKNESS - 16.0 - 60.0 * tan(radians(3)), abs=1e-9)


def test_sections_show_the_slope() -> None:
    """Cut along the centreline a triangle more is gone than of a level pocket: 76² tan 3° / 2; across it a strip."""
    more = 76.0**2 * tan(radians(3)) / 2
    features = [Features((), (each,)) for each in (leaning(3), leaning(0.0))]
    areas = [sum(_area(loops[0]) for loops in section(each, BOX, THICKNESS, 0.0).wood) for each in features]
    assert areas[1] - areas[0] == pytest.approx(more, abs=1e-6)
    solid = make_body(BOX, THICKNESS, [leaning(3)])
    cut = solid.section(Point3(0.0, 0.0, 0.0), Point3(0.0, -1.0, 0.0), Point3(1.0, 0.0, 0.0))
    assert cut.area_mm2 == pytest.approx(areas[0], rel=1e-9)


def _area(loop: tuple[tuple[float, float], ...]) -> float:
    x, z = np.array(loop).T
    return abs(float(x @ np.roll(z, -1) - np.roll(x, -1) @ z)) / 2


@pytest.fixture(scope="module")
def posts() -> Plan:
    return plan(stated(POSTS))


@pytest.mark.parametrize("turn", [0.0, 0.4, pi / 2, 2.5])
def test_upright_sections_show_the_slope(posts: Plan, turn: float) -> None:
    """Any upright plane through the pocket meets its floor where the plane of the floor lies."""
    made = posts.features.pocket("neck-pocket")
    at, heading = Point(430.0, 3.0), Point(cos(turn), sin(turn))
    wood = upright_section(posts.layout, [made], at, heading, (-8.0, 8.0))
    for u in (-6.0, 0.0, 6.0):
        x = at.x + u * heading.x
        lowest = -(22.1 + (460.0 - x) * tan(radians(3.0)))
        import shapely

        assert shapely.intersects_xy(wood, u, lowest - 0.01)
        assert not shapely.intersects_xy(wood, u, lowest + 0.01)


def test_a_leaning_bolted_neck() -> None:
    """Screws square to the back: 12 and 52 mm before the end wall they pass 44.4 − P − x tan 2° of body."""
    made = plan(stated(demo_jobs()["marram.toml"], neck__angle=2.0))
    shallow, deep = (16.0 + x * tan(radians(2)) for x in (12.0, 52.0))
    screws, pilots = made.features.family("neck-screw"), made.neck.features.bores
    # One setting for all four: through at the shallowest, and a millimetre on.
    assert {round(bore.deepest.depth, 6) for bore in screws} == {round(44.4 - shallow + 1.0, 6)}
    assert {bore.axis for bore in (*screws, *pilots)} == {UP}
    for bore, depth in zip(pilots, (shallow, shallow, deep, deep), strict=True):
        assert bore.at.z == pytest.approx(-depth, abs=1e-9)
        # Into the heel 44 − 2 − (44.4 − depth), of (25.2 − 6.2) / cos 2° along the screw.
        assert bore.own_screw.reach == pytest.approx(44.0 - 2.0 - (44.4 - depth), abs=1e-9)
        floor = made.neck.beyond(bore)
        wanted = 19.0 / cos(radians(2)) - bore.deepest.point_reaches
        assert floor == pytest.approx(wanted, abs=1e-9)
    found = quantities(made)
    assert found["heel.thread"].value == pytest.approx(44.0 - 2.0 - (44.4 - shallow), abs=1e-9)
    assert found["heel.to-board"].value == pytest.approx(
        19.0 / cos(radians(2)) - (44.0 - 2.0 - (44.4 - deep)), abs=1e-9
    )
    assert found["neck-pocket.depth-at-mouth"].value == pytest.approx(16.0 + 75.0 * tan(radians(2)), abs=1e-9)
    assert found["neck-pocket.depth-at-mouth"].formula
    assert found["neck-pocket.wedge"].value == pytest.approx(300.0 * tan(radians(2)), abs=1e-9)
    assert found["neck-screw-3.step-1.depth"].value == pytest.approx(44.4 - shallow + 1.0, abs=1e-9)


@pytest.mark.parametrize("angle", [-1.0, 2.0])
def test_every_number_of_it_tells_how_it_comes_about(angle: float) -> None:
    """No formula of a leaning job gives another number than the plan has."""
    made = plan(parse_job(restated(demo_jobs()["marram.toml"], {"neck__angle": angle})).job)
    numbers = quantities(made)
    assert [name for name in numbers if numbers[name].source == UNTOLD] == []
    assert numbers["neck-pocket.to-opposite"].formula
    under = made.progress.under["neck-pocket", 1].full
    assert numbers["neck-pocket.to-opposite"].value == pytest.approx(under, abs=1e-9)


def test_a_leaning_neck_s_screws_that_fit() -> None:
    """48 mm screws at 2°: the deepest leaves 19 / cos 2° − (48 − 2 − 26.584) = −0.40 to the board, the least holds 18.02.

    So they may be 48 − 0.40 − 3 = 44.60 at most, and 27.981 + 2 + 12 = 41.981 at least for 12 of thread.
    """
    text = restated(demo_jobs()["marram.toml"], {"neck__angle": 2.0, "neck_screws__length": 48})
    made = plan(parse_job(text).job)
    found = next(each for each in made.findings if each.code == "neck-screws.into-board")
    assert found.value == pytest.approx(
        19 / cos(radians(2)) - (46.0 - (44.4 - 16.0 - 52 * tan(radians(2)))), abs=1e-9
    )
    assert "screws from 41.99 to 44.59 mm fit" in str(found.cure)


def test_a_straightedge_is_read_over_the_scale_line(posts: Plan) -> None:
    """The line of the crowns, turned by 3° about the heel's lower end, at the scale line's place level along the body."""
    a, stack = radians(3.0), 28.6 + posts.job.document.fret_wire.crown_height
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    (x0, z0), (x1, z1) = (turn @ (along, stack) + (460.0, -22.1) for along in (0.0, 300.0))
    measured = heights(posts)
    assert measured is not None
    assert measured.gap == pytest.approx(z0 + (z1 - z0) * (posts.layout.scale - x0) / (x1 - x0), abs=1e-9)


def test_its_card_says_the_wedge_and_asks_at_both_ends(posts: Plan) -> None:
    card = next(each for each in posts.cards if each.id == "rout-neck-pocket")
    told = " ".join(map(str, card.do))
    # 100 tan 3° = 5.24, 300 tan 3° = 15.72, 74 tan 3° = 3.88 below 22.10.
    for words in ("5.2 mm thick 100 mm from its thin end", "15.7 mm at 300 mm", "to 25.98 mm at the mouth"):
        assert words in told
    assert [round(ask.value, 2) for ask in card.gate.asks] == [22.1, 25.98]
    assert [ask.cut for ask in card.gate.asks] == ["neck-pocket", ""]


def test_sheets_and_cards_have_the_same_wood_under_it_and_plan_json_its_slope(posts: Plan) -> None:
    # The body begins 72 mm before the end wall: 48 - (22.10 + 72 tan 3°) = 22.13; the mouth, 74 tan 3° = 3.88 deeper, is air.
    under = posts.progress.under["neck-pocket", 1]
    assert under.full == pytest.approx(48 - 22.1 - 72 * tan(radians(3)), abs=1e-9)
    assert posts.floors["neck-pocket"] == under.full
    (told,) = (
        each for each in record(posts, with_quantities=False)["pockets"] if each["id"] == "neck-pocket"
    )
    assert told["floor"] == pytest.approx(22.13, abs=0.005)
    assert told["slope"] == pytest.approx({"angle_deg": 3.0, "x": 460.0, "depth_at_mouth": 25.978}, abs=0.001)


def test_it_breaks_through_at_its_mouth(demo_text: str) -> None:
    """16 mm deep at the end wall in 25 mm of body; at the mouth 16 + 75 tan 7.9° = 26.41 where the body reaches so far."""
    made = plan(stated(demo_text, neck__angle=7.9, body__thickness="25 +/- 0.1"))
    found = next(f for f in made.findings if f.code == "wood.breaks-through" and "neck-pocket" in f.features)
    assert found.severity == "stop"
    assert "at its mouth" in str(found.message)
    assert found.value is not None
    assert 25.0 - 26.41 <= found.value < 0


def test_a_routed_slope_stays_in_the_wood() -> None:
    made = plan(stated(POSTS)).features.pocket("neck-pocket")
    kept = Record(
        done=(
            Done(
                card="rout-neck-pocket",
                by="A",
                at=datetime(2026, 11, 30, tzinfo=UTC),
                cuts=(as_cut(made),),
            ),
        )
    )
    later = plan(stated(POSTS, neck__angle=2.0), kept)
    stays = later.features.pocket("neck-pocket")
    assert stays.slope == made.slope
    assert stays.depths == made.depths
    (moved,) = [each for each in later.moved if each.what == "floor angle"]
    assert (moved.was, moved.now) == pytest.approx((3.0, 2.0))


def test_a_level_pocket_has_no_slope(demo_plan: Plan) -> None:
    made = demo_plan.features.pocket("neck-pocket")
    assert made.slope is None
    assert made.depths == (made.depth, made.depth)
    assert "neck-pocket.wedge" not in quantities(demo_plan)
