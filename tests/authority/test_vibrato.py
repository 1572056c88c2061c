"""A vibrato on two posts: its key numbers worked by hand, its sweep against a general solid kernel and plane geometry."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from math import asin, cos, degrees, hypot, radians, sin
from random import Random
from typing import Any

import numpy as np
import pytest
import shapely
from ezdxf.filemanagement import read as read_dxf
from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut

from scribeline.drawing import dxf
from scribeline.drawing.cuts import cut_sheet
from scribeline.features import Pocket, holdings
from scribeline.job import Job, Stated, parse_job
from scribeline.layout import Point, Ring, mirrored
from scribeline.layout.bridges.sprung import (
    Moving,
    balance,
    block_reach,
    carried_along,
    carried_below,
    claw_moves,
    corners_of,
    most_up,
    moving,
    stated,
    stretch,
    turns,
)
from scribeline.layout.stringing import bridge_window, string_up
from scribeline.plan import Plan, plan
from scribeline.plan.named import quantities
from scribeline.plan.record import record
from scribeline.solid import sweep
from scribeline.store.recorded import with_record
from scribeline.tables import bearing_along_grain

from ..as_built import tick
from ..kernel_shapes import cut, distance, profiled, slab
from ..kind_jobs import example, faults_at, restated

TEXT = example("vibrato-two-posts")


def text(**changes: Stated) -> str:
    return restated(TEXT, changes)


def planned(**changes: Stated) -> Plan:
    return plan(*parse_job(text(**changes)))


def codes(made: Plan) -> dict[str, Any]:
    return {each.code: each for each in made.findings}


# The sheet: a block from 4 to 18 mm behind the pivot and down to 42 mm below it. A place (p behind, q below) that turns
# down by t lies p cos t + q sin t behind the pivot and q cos t − p sin t below it: plane rotation. All worked on paper.
SHEET = (
    # turn down, rear lower corner behind, front lower corner behind, front lower corner below
    (0.0, 18.00, 4.00, 42.00),
    (15.0, 28.26, 14.73, 39.53),
    (30.0, 36.59, 24.46, 34.37),
    (-4.0, 15.03, 1.06, 42.18),
)


@pytest.mark.parametrize(("turn", "rear", "front", "below"), SHEET)
def test_the_block_swings_as_worked_by_hand(turn: float, rear: float, front: float, below: float) -> None:
    t = radians(turn)
    assert carried_along(18.0, 42.0, t) == pytest.approx(rear, abs=0.005)
    assert carried_along(4.0, 42.0, t) == pytest.approx(front, abs=0.005)
    assert carried_below(4.0, 42.0, t) == pytest.approx(below, abs=0.005)


def test_what_the_block_reaches_at_most_is_its_corners_distance() -> None:
    # hypot(18, 42) = 45.69 mm, at tan t = 42/18; pulled up 4° the rear lower corner lies 43.15 mm below the pivot.
    reach = block_reach(4.0, 14.0, 41.4, 0.6)
    assert reach == pytest.approx(45.69, abs=0.005)
    assert max(carried_along(18.0, 42.0, radians(t)) for t in np.arange(0, 90, 0.01)) == pytest.approx(
        reach, abs=1e-6
    )
    assert carried_below(18.0, 42.0, radians(-4.0)) == pytest.approx(43.15, abs=0.005)


def test_a_saddle_moves_as_worked_by_hand() -> None:
    # A saddle 6 mm behind and 10 mm over the pivot goes 0.175 mm towards the nut in the first degree, and rises a sin t.
    assert carried_along(6.0, -10.0, radians(1.0)) - 6.0 == pytest.approx(-0.175, abs=0.001)
    assert -carried_below(6.0, -10.0, radians(1.0)) - 10.0 == pytest.approx(6 * sin(radians(1.0)), abs=0.002)


def test_the_plate_goes_up_until_its_rear_edge_meets_the_body() -> None:
    # With the knife edges level with the underside, g = 2.4 mm over the body and e = 35 mm to the rear edge:
    # asin(2.4 / 35) = 3.93°.
    flat = parse_job(text(bridge__knife_over_underside="0 mm +/- 0.1")).job.document
    assert degrees(most_up(flat)) == pytest.approx(3.93, abs=0.005)
    assert most_up(flat) == pytest.approx(asin(2.4 / 35))
    # With the knife edges 0.6 mm over it, the corner (35, 0.6) must come down to 3.0 mm below the pivot.
    raised = parse_job(TEXT).job.document
    assert carried_below(35.0, 0.6, -most_up(raised)) == pytest.approx(3.0)
    looked_at = np.degrees(turns(raised))
    assert looked_at[0] == pytest.approx(-degrees(most_up(raised)))
    assert looked_at[-1] == pytest.approx(30.0)
    assert 0.0 in looked_at
    assert np.diff(looked_at).max() <= 0.5 + 1e-9


def test_springs_balance_strings_as_statics_say() -> None:
    made = planned()
    found = balance(made.job.document, made.layout)
    assert found is not None
    assert made.layout.bridge is not None
    # Statics alone: each string's pull as a vector at its saddle, moments about the knife edges; springs level, 38 mm below.
    pivot = np.array([made.layout.bridge.middle.x, 3.0])
    force, moment = np.zeros(2), 0.0
    for string in made.layout.strings:
        at, nut = (np.array([place.x, place.z]) for place in (string.saddle, string.nut))
        assert string.tension_n is not None
        pull = string.tension_n * (nut - at) / hypot(*(nut - at))
        arm = at - pivot
        force += pull
        moment += arm[0] * pull[1] - arm[1] * pull[0]
    assert found.forward == pytest.approx(-force[0])
    assert found.springs * 38.0 == pytest.approx(moment)
    # 468 N at 10 over 38 mm: 123.2 N, 41.1 each of three; preloaded 5 N at 2.5 N/mm each is 14.4 mm longer.
    bridge = stated(made.job.document)
    assert pytest.approx(123.2, abs=0.05) == 468.0 * 10.0 / 38.0
    assert stretch(bridge, 468.0 * 10.0 / 38.0) == pytest.approx((41.05 - 5) / 2.5, abs=0.005)
    # From 468 to 383 N the springs pull 22.4 N less, 2.98 mm of claw.
    assert stretch(bridge, 123.158) - stretch(bridge, 383 * 10 / 38) == pytest.approx(2.98, abs=0.005)


def test_a_lighter_set_slackens_the_claw() -> None:
    made = planned()
    found, prediction = balance(made.job.document, made.layout), made.layout.stringing.prediction
    assert found is not None
    assert prediction is not None
    ((name, moves),) = claw_moves(made.job.document, made.layout)
    less = found.springs * (1 - made.layout.stringing.others["lighter"].pull_n / prediction.pull_n)
    assert name == "lighter"
    assert moves == pytest.approx(-less / (3 * 2.5))
    fitting = next(card for card in made.cards if card.id == "fit-hardware")
    assert any("slacker" in line for line in fitting.do)
    # Common practice, no source.
    assert any("spring flies" in each for each in fitting.cautions)
    assert any("fumes" in each for each in fitting.cautions)


def test_claw_screws_are_pilots_in_the_cavitys_wall() -> None:
    made = planned()
    bridge, found = made.layout.bridge, balance(made.job.document, made.layout)
    assert bridge is not None
    assert found is not None
    treble, bass = made.features.family("claw-screw")
    # On the wall 90 mm before the scale line, 24 mm apart; the springs' line lies 37.4 - 2.4 = 35.0 mm below the top, and so
    # 44.2 - 35.0 = 9.2 mm in from the back. Ten degrees off level, towards the top.
    for bore, y in ((treble, 12.0), (bass, -12.0)):
        assert tuple(bore.at) == pytest.approx((632 - 90, y, -35.0))
        assert tuple(bore.axis) == pytest.approx((-cos(radians(10)), 0.0, sin(radians(10))))
    # Red alder is medium: 35 % of the thread's height over the root, 2.8 + 0.35 × 1.2 = 3.22 mm; the box has 3.2 mm. The
    # claw stands where the springs need it; the rest of it, along its slant, is in the wood; the pilot is 1.5 mm longer.
    ahead = bridge.middle.x + 8 - 70 - (found.springs / 3 - 5) / 2.5 - (632 - 90)
    assert treble.deepest.diameter == pytest.approx(3.2)
    assert treble.deepest.depth == pytest.approx(42 - ahead / cos(radians(10)) + 1.5)
    card = next(each for each in made.cards if treble.id in each.features)
    assert card.face == "back"
    assert card.gate.value == pytest.approx(9.2)
    assert any("12.0 mm to the treble" in line for line in card.do)
    assert any("10.0° from the back" in line for line in card.do)
    # The bit clears the cavity's tail end, 130 mm off: lowest there it lies 130 tan 10° - 9.2 - 1.6 / cos 10° = 12.1 mm over it.
    assert "access.in-the-way" not in codes(made)
    level = codes(planned(bridge__claw_tilt=0))["access.in-the-way"]
    assert level.severity == "stop"
    # The least whole degree at which it clears: over the rim, 130 mm off and 9.2 mm higher, with half the bit's 3.2 mm:
    # 130 tan t > 9.2 + 1.6 / cos t, at 4.76°.
    (tried,) = level.tries
    assert (tried.key, float(tried.shown)) == ("bridge.claw_tilt", 5.0)
    assert "access.in-the-way" not in codes(planned(bridge__claw_tilt=float(tried.shown)))


def test_the_ground_wire_ends_at_the_claw() -> None:
    made = planned()
    (wire,) = made.features.family("ground-wire")
    # Drilled in the spring cavity's own wall: at a height between its floor and the back, on its outline.
    cavity = next(each for each in made.features.pockets if each.id == "spring-cavity")
    assert wire.entered_from == "spring-cavity"
    assert shapely.LinearRing(cavity.outline).distance(shapely.Point(wire.at.x, wire.at.y)) < 0.01
    assert -44.2 < wire.at.z < 17.0 - 44.2
    assert {"spring-cavity", "control-cavity"} <= wire.meets
    (tunnel,) = made.tunnels
    assert tunnel.bore is not None
    fitting = next(card for card in made.cards if card.id == "fit-hardware")
    assert any("from the control cavity, solder it to the claw" in line for line in fitting.do)
    assert not any("under the bridge" in line for line in fitting.do)


def test_drilled_claw_pilots_stay_and_travel_with_the_record() -> None:
    before = planned()
    card = next(each for each in before.cards if each.id == "drill-claw-screws")
    # Weaker springs want the claw nearer the wall, and so deeper screws: the drilled pilots stay as deep as they were made.
    text_after = with_record(text(bridge__spring_rate=2.2), [tick(card, before)], ())
    after = plan(*parse_job(text_after))
    for was, now in zip(
        before.features.family("claw-screw"), after.features.family("claw-screw"), strict=True
    ):
        assert now.deepest == was.deepest
        assert tuple(now.at) == pytest.approx(tuple(was.at), abs=1e-4)
        assert now.entered_from == was.entered_from
    moved = {(each.feature, each.what) for each in after.moved}
    assert ("claw-screw-1", "depth") in moved
    kept = next(each for each in record(after)["bores"] if each["id"] == "claw-screw-2")
    assert kept["face"] == "pocket"
    assert kept["entered_from"] == "spring-cavity"
    assert kept["at"] == pytest.approx([542.0, -12.0, -35.0], abs=1e-3)


def test_claw_pilots_begin_on_a_wall_that_is_not_square() -> None:
    # A neck wall that runs from 95 mm before the scale line at the bass to 85 mm at the treble, 62 mm apart: at 12 mm to
    # either side of the middle it lies 90 ± 12 x 10 / 62 mm before that line, and its normal leans atan(10 / 62).
    start, _, rest = text().partition('name = "spring cavity"')
    sloped = (
        start
        + 'name = "spring cavity"'
        + re.sub(
            r"centre = .*\nsize = .*\n",
            "outline = [[-95, -31], [40, -31], [40, 31], [-85, 31]]\n",
            rest,
            count=1,
        )
    )
    made = plan(*parse_job(sloped))
    treble, bass = made.features.family("claw-screw")
    for bore, aside in ((treble, 12.0), (bass, -12.0)):
        assert bore.at.x == pytest.approx(632 - 90 + aside * 10 / 62)
        assert tuple(bore.normal) == pytest.approx((62 / hypot(62, 10), -10 / hypot(62, 10), 0.0))
    assert "access.in-the-way" not in codes(made)


def test_claw_pilots_of_a_left_hand_are_the_mirror() -> None:
    right, left = (planned(handed=hand).features.family("claw-screw") for hand in ("right", "left"))
    for one, other in zip(right, left, strict=True):
        assert tuple(other.at) == pytest.approx((one.at.x, -one.at.y, one.at.z))
        assert tuple(other.axis) == pytest.approx((one.axis.x, -one.axis.y, one.axis.z))
        assert other.deepest == one.deepest


def test_claw_pilots_are_drawn_on_their_layer() -> None:
    # Read back by somebody else's reader: the axis of each as a line, from before the wall, 90 mm before the scale line.
    drawing = read_dxf(io.StringIO(dxf.write(cut_sheet(planned())).decode("utf-8")))
    (layer,) = {each.dxf.name for each in drawing.layers if each.dxf.name.startswith("pocket bore 3.20")}
    assert layer.endswith("axis 35.00 below top and 10.0 degrees up")
    lines = [each for each in drawing.modelspace().query("LINE") if each.dxf.layer == layer]
    assert sorted(each.dxf.start.y for each in lines) == pytest.approx([-12.0, 12.0])
    assert all(each.dxf.end.x < 542.0 <= each.dxf.start.x for each in lines)


def test_claw_screws_hold_the_springs() -> None:
    made = planned()
    found = balance(made.job.document, made.layout)
    assert found is not None
    held = next(
        each
        for each in holdings(made.job.document, made.layout, made.features.bores)
        if each.group == "claw screws"
    )
    gravity = made.layout.body.layers[0].timber.gravity
    for hold, bore in zip(held.holds, made.features.family("claw-screw"), strict=True):
        assert hold.pull == pytest.approx(found.springs / 2)
        # Wood Handbook FPL-GTR-282 ch. 8: 108.25 G² D L across the grain, three quarters of it in end grain (from memory);
        # the point, 4 mm of it, left out, and in proportion to the thread's height beside a pilot of 3.2 mm;
        # the handbook rounds its constant to five figures.
        long = bore.deepest.depth - 1.5 - 4.0
        assert hold.holds == pytest.approx(
            108.25 * gravity**2 * 4.0 * long * 0.75 * (4.0 - 3.2) / (4.0 - 2.8), rel=1e-4
        )
        assert hold.end_grain


def test_posts_bear_strings_and_springs() -> None:
    made = planned()
    found = balance(made.job.document, made.layout)
    assert found is not None
    held = next(
        each
        for each in holdings(made.job.document, made.layout, made.features.bores)
        if each.group == "bridge posts"
    )
    gravity = made.layout.body.layers[0].timber.gravity
    for hold in held.holds:
        assert hold.side == pytest.approx((found.forward + found.springs) / 2)
        # A stiff pole of 10 × 22 mm, pushed 3.0 mm over the wood: F = p D l / (4 + 6 e / l).
        assert hold.side_holds == pytest.approx(bearing_along_grain(gravity) * 10 * 22 / (4 + 6 * 3.0 / 22))


def test_posts_stand_before_the_knife_edges() -> None:
    for handed in ("right", "left"):
        layout = planned(handed=handed).layout
        assert layout.bridge is not None
        treble, bass = (anchor.at for anchor in layout.bridge.anchors)
        assert treble.x == bass.x == pytest.approx(layout.bridge.middle.x - 3.0)
        assert treble.y * layout.treble == -bass.y * layout.treble == pytest.approx(37.0)
    assert mirrored(planned().layout).bridge == planned(handed="left").layout.bridge


def test_the_sweep_is_what_a_solid_kernel_measures() -> None:
    made = planned()
    document, place, thickness = made.job.document, made.layout.bridge, made.job.document.body.thickness.mm
    assert place is not None
    wood = slab(thickness)
    for pocket in made.features.pockets:
        if pocket.id in {"block-slot", "spring-cavity", "spring-cavity-cover-recess"}:
            wood = BRepAlgoAPI_Cut(wood, cut(pocket, thickness)).Shape()
    angles = np.radians([-3.0, -1.5, 0.0, 7.5, 15.0, 22.5, 30.0])
    own = [each for each in made.features.pockets if each.id.startswith(("block", "spring"))]
    for part in moving(document):
        corners = corners_of(part, document, place, angles)
        found = sweep(corners, own, made.layout.outline, thickness)
        for near, box in zip(found, corners, strict=True):
            told = distance(profiled(box), wood).mm
            if told < 10:  # what is further off is not looked at
                assert near.mm == pytest.approx(told, abs=2e-4)
                assert hypot(*(b - a for a, b in zip(near.at, near.wall, strict=True))) == pytest.approx(
                    told, abs=1e-3
                )


def test_a_block_in_a_sharp_slot_is_as_far_off_as_plane_geometry_says() -> None:
    # Seen from the side, the block and the slot's two end walls are plane figures of equal or greater width; from above, its
    # sides run along the slot's. Three hundred at random, some of them running into a wall.
    random, outline = (
        Random(5),
        Ring(Point(x, y) for x, y in ((-300, -300), (300, -300), (300, 300), (-300, 300))),
    )
    document = parse_job(TEXT).job.document
    place = planned().layout.bridge
    assert place is not None
    x, pivot, thickness, met = place.middle.x, 3.0, 44.0, 0
    outline = Ring(Point(each.x + x, each.y) for each in outline)
    for _ in range(300):
        half, side = random.uniform(15, 30), random.uniform(0.2, 6)
        front, rear = random.uniform(-8, 2), random.uniform(30, 45)
        block = Moving("block", (4.0, random.uniform(10, 20)), (0.6, random.uniform(30, 46)), half)
        turn = radians(random.uniform(-5, 35))
        wide = half + side
        ring = Ring(Point(x + a, b) for a, b in ((front, -wide), (rear, -wide), (rear, wide), (front, wide)))
        slot = Pocket("slot", "slot", "top", ring, thickness, 0.0)
        (found,) = sweep(corners_of(block, document, place, np.array([turn])), [slot], outline, thickness)
        profile = shapely.Polygon([(p, pivot - q) for p, q in block.profile(turn)])
        walls = [
            shapely.box(front - 100, -thickness, front, 0.0),
            shapely.box(rear, -thickness, rear + 100, 0.0),
        ]
        told = min(side, *(profile.distance(wall) for wall in walls))
        met += told == 0
        assert found.mm == pytest.approx(told, abs=2e-4)
    assert 10 < met < 150


def test_the_saddles_reach_is_float_plate_and_what_they_stand_over_it() -> None:
    # 2.4 over the body, a plate of 2.5 and saddles 5.6 to 11.1 over that: 10.5 to 16.0 mm.
    bridge = planned().job.document.bridge
    assert bridge.lowest is not None
    assert bridge.highest is not None
    assert (bridge.lowest.mm, bridge.highest.mm) == pytest.approx((10.5, 16.0))
    assert bridge.lowest.plus_minus == pytest.approx(0.3)
    assert bridge.lowest.measured
    # A string 13.15 mm over the body stands 8.25 mm over the plate: saddles that reach 8.0 mm over it are too low.
    told = codes(planned(bridge__saddle_over_plate_highest=8.0, bridge__saddle_height=12.0))
    assert told["heights.saddle-out-of-range"].severity == "stop"
    higher = codes(
        planned(bridge__saddle_over_plate_highest=8.0, bridge__saddle_height=12.0, bridge__underside=4.4)
    )
    assert "heights.saddle-out-of-range" not in higher


def test_what_the_block_passes_over_is_shown() -> None:
    made = planned()
    assert made.layout.bridge is not None
    front, rear = (made.layout.bridge.swept[n].x - made.layout.bridge.middle.x for n in (0, 2))
    # Rear: 36.59 mm behind at 30° down. Front: its lower front edge, as far up as the plate goes.
    up = most_up(made.job.document)
    assert rear == pytest.approx(36.59, abs=0.005)
    assert front == pytest.approx(4 * cos(up) - 42 * sin(up))


def test_half_a_millimetre_too_tight_stops_the_work() -> None:
    good = codes(planned())
    assert not [code for code in good if code.startswith(("vibrato.", "studs."))]
    # 30° down the rear lower corner (18, 42) lies 36.59 mm behind the knife edges.
    made = planned()
    assert made.layout.bridge is not None
    rear = made.layout.bridge.middle.x + 18 * cos(radians(30)) + 42 * sin(radians(30)) - 632.0
    for gap, severity in ((-0.5, "stop"), (0.4, "stop"), (1.2, "caution"), (2.4, None)):
        middle, long = (rear + gap - 5) / 2, rear + gap + 5
        # Square corners with a small bit: the wall alone decides.
        slot: dict[str, Stated] = {
            "pockets[1].centre[1]": middle,
            "pockets[1].size[1]": long,
            "pockets[1].corner_radius": "1/16 in",
        }
        told = codes(planned(**slot)).get("vibrato.block-close")
        assert (None if told is None else told.severity) == severity
        if told is not None:
            assert told.value == pytest.approx(max(0.0, gap), abs=2e-3)
            assert "tail wall" in told.message
            # The corner is 0.5 mm back from its place at 30° where 18 cos t + 42 sin t = 36.09 mm, at 28.97°.
            assert ("30.0° down" if gap > 0 else "from 29.0° down on") in told.message
            assert f"{rear + 632.0 + 2 - made.layout.bridge.middle.x:.2f} mm behind" in told.cure
            # The size that it says to set is enough, the cavity's middle left where it is.
            tried = next(each for each in told.tries if each.key == "pockets[1].size")
            assert "vibrato.block-close" not in codes(planned(**slot | {tried.key: list(tried.value)}))


def test_wood_between_slot_and_spring_cavity_stops_the_work() -> None:
    told = codes(planned(**{"pockets[1].depth": 25.0}))["vibrato.block-close"]
    assert told.severity == "stop"
    assert "2.20 mm deeper, to open into" in told.cure
    deep = next(each for each in told.tries if each.key == "pockets[1].depth")
    assert "vibrato.block-close" not in codes(planned(**{deep.key: deep.value}))


def test_more_turn_than_the_plate_allows_is_told() -> None:
    assert "vibrato.plate-touches" not in codes(planned(bridge__pull_up=3.0))
    told = codes(planned(bridge__pull_up=5.0))["vibrato.plate-touches"]
    assert told.severity == "stop"
    assert "up" in told.message
    (tried,) = told.tries
    # What it says to set is enough: 35 sin 5° + 0.6 cos 5° − 0.6 = 3.05 mm, and 0.2 mm that is wanted there.
    assert tried.shown == "3.25 mm"
    assert tried.key == "bridge.underside"
    assert "vibrato.plate-touches" not in codes(
        planned(bridge__pull_up=5.0, bridge__underside=f"{tried.shown} +/- 0.1")
    )


def test_a_long_block_meets_the_cover() -> None:
    told = codes(planned(bridge__block_length=46.5))["vibrato.block-at-cover"]
    # Pulled up as far as the plate goes, the rear lower corner (18, 47.1) lies deepest; the cover lies 1.6 mm in the back.
    up = most_up(parse_job(text(bridge__block_length=46.5)).job.document)
    assert told.value == pytest.approx(3.0 - 47.1 * cos(up) - 18 * sin(up) + 44.2 - 1.6)


def test_springs_need_depth_and_the_claw_its_room() -> None:
    shallow = codes(planned(**{"pockets[2].depth": 12.0}))
    assert shallow["vibrato.springs-tight"].value == pytest.approx(12.0 - 44.2 + 35.0)
    (deep,) = shallow["vibrato.springs-tight"].tries
    assert "vibrato.springs-tight" not in codes(planned(**{deep.key: deep.value}))
    weak = codes(planned(bridge__spring_rate=1.5))["vibrato.claw-room"]
    made = planned(bridge__spring_rate=1.5)
    found = balance(made.job.document, made.layout)
    assert found is not None
    assert made.layout.bridge is not None
    # Hooks 8 mm behind the knife edges, a spring of 70 mm and its stretch before that; the wall 90 mm before the scale line.
    length = 70 + (found.springs / 3 - 5) / 1.5
    assert weak.value == pytest.approx(made.layout.bridge.middle.x + 8 - length - (632 - 90), abs=1e-6)
    (longer,) = weak.tries
    assert "vibrato.claw-room" not in codes(
        planned(bridge__spring_rate=1.5, **{longer.key: list(longer.value)})
    )
    # Heavier strings that are stated as another set count too: here two of that set's are made heavier.
    heavy = TEXT.replace('gauge = ".042"', 'gauge = ".062"').replace('gauge = ".032"', 'gauge = ".050"')
    heavier = plan(*parse_job(heavy.replace("spring_rate = 2.5", "spring_rate = 2.0")))
    ((_, moves),) = claw_moves(heavier.job.document, heavier.layout)
    assert moves > 0
    found, place = balance(heavier.job.document, heavier.layout), heavier.layout.bridge
    assert found is not None
    assert place is not None
    told = codes(heavier)["vibrato.claw-room"]
    assert told.value == pytest.approx(
        place.middle.x + 8 - 70 - (found.springs / 3 - 5) / 2.0 - moves - (632 - 90)
    )
    assert "lighter" in told.message
    assert "vibrato.springs-strong" in codes(planned(bridge__spring_preload=45))
    assert "vibrato.claw-short" in codes(planned(bridge__spring_rate=18.0, bridge__claw_screw__length=15.0))


def test_claw_screws_keep_off_the_pickups() -> None:
    # A neck pickup as deep as the screws' line, 35 mm below the top, its tail wall 520 mm from the nut, and level pilots
    # that begin 542 mm from it: what is left before it is 22 mm less the pilot and its bit's point.
    deep: dict[str, Stated] = {
        "pockets[4].depth": 38.0,
        "pockets[4].centre[1]": 38.0,
        "bridge__claw_tilt": 0,
    }
    for length, code, severity in (
        (28.0, "vibrato.claw-tip", "caution"),
        (35.0, "vibrato.claw-through", "stop"),
    ):
        made = planned(**deep, bridge__claw_screw__length=length)
        told, bore = codes(made)[code], made.features.family("claw-screw")[0]
        left = 542 - 520 - (bore.deepest.depth + bore.deepest.bit.point)
        assert told.severity == severity
        assert (left > 0) == (severity == "caution")
        if left > 0:
            assert told.value == pytest.approx(left, abs=1e-3)
        else:
            assert told.value < 0
        assert "neck-pickup" in told.message
        # The fix is enough: the longest screw that leaves 6 mm.
        (tried,) = told.tries
        assert tried.key == "bridge.claw_screw.length"
        again = codes(planned(**deep, bridge__claw_screw__length=f"{tried.shown} +/- 0.1"))
        assert not {"vibrato.claw-tip", "vibrato.claw-through"} & set(again)


def test_a_claw_screw_out_of_the_top_is_a_stop() -> None:
    # 30° off level, 60 mm long: 35 mm of wood over the mouth, and 48 mm of pilot rise 24 mm; a shallower line comes out.
    told = codes(planned(bridge__claw_tilt=30, bridge__claw_screw__length=80, bridge__spring_hooks=31.0))
    assert told["edge.breaks-through"].severity == "stop"
    assert told["edge.breaks-through"].value < 0
    assert "claw screw" in told["edge.breaks-through"].message


def test_the_window_is_what_trying_every_place_finds() -> None:
    random, job = Random(11), parse_job(TEXT).job
    reserve = job.document.bench.saddle_reserve
    empty = 0
    for _ in range(200):
        setbacks = [random.uniform(0, 9) for _ in range(6)]
        tried = with_setbacks(job, setbacks)
        window = bridge_window(tried.document, string_up(tried))
        # Every place of the knife edges, a hundredth apart, from which each saddle can stand where its string wants it.
        places = np.arange(-20, 20, 0.01)
        good = places[
            [all(x + 3.0 + reserve <= s <= x + 12.5 - reserve for s in setbacks) for x in places.tolist()]
        ]
        if len(good) == 0:
            empty += 1
            assert window.is_empty or window.high - window.low < 0.01
            continue
        assert window.low == pytest.approx(good[0], abs=0.0101)
        assert window.high == pytest.approx(good[-1], abs=0.0101)
    assert 5 < empty < 150


def with_setbacks(job: Job, setbacks: list[float]) -> Job:
    strings = tuple(
        string.model_copy(update={"setback": setback})
        for string, setback in zip(job.document.strings, setbacks, strict=True)
    )
    return replace(job, document=job.document.model_copy(update={"strings": strings, "string_sets": ()}))


def test_its_numbers_have_names() -> None:
    made = planned()
    named = quantities(made)
    assert made.layout.bridge is not None
    for number, anchor in enumerate(made.layout.bridge.anchors, start=1):
        assert named[f"bridge.post-{number}-x"].value == pytest.approx(anchor.at.x, abs=1e-9)
        assert named[f"bridge-stud-{number}.x"].value == pytest.approx(anchor.at.x, abs=1e-9)
    for check in made.measurables:
        assert named[check.id].value == pytest.approx(check.value, abs=1e-9), check.id
        assert named[check.id].formula, check.id
    found = balance(made.job.document, made.layout)
    assert found is not None
    assert named["bridge.springs-pull"].value == pytest.approx(found.springs)
    assert named["bridge.block-reach"].value == pytest.approx(hypot(18.0, 42.0))


WRONG: tuple[tuple[str, dict[str, Stated], str], ...] = (
    ("bridge.slot", {"bridge__slot": "hole"}, "no cavity is called"),
    ("bridge.spring_cavity", {"bridge__spring_cavity": "block slot"}, "cut from the back"),
    ("bridge.loading", {"bridge__loading": "through-body"}, "block"),
    (
        "bridge.saddle_height",
        {"bridge__saddle_height": 3.0},
        "above the knife edges",
    ),
    ("bridge", {"bridge__saddle_lowest": 10.5}, "not both"),
    ("bridge", {"bridge__spring_hooks": 45.0}, "below the block's end"),
    ("bridge", {"bridge__claw_screws_apart": 60.0}, "less than claw_width"),
    ("ground_wire.into", {"ground_wire__into": "spring cavity"}, "claw"),
    (
        "ground_wire.lands",
        {
            "ground_wire__from_front": 5,
            "ground_wire__lands": 10,
        },
        "ends at the claw",
    ),
    ("bridge_screw", {"bridge_screw__part": "3.5 x 25"}, "pivots on posts"),
)


@pytest.mark.parametrize(("path", "changes", "words"), WRONG)
def test_what_does_not_go_together_is_told(path: str, changes: dict[str, Stated], words: str) -> None:
    told = faults_at(text(**changes), path)
    assert any(words in each for each in told), told


def test_the_usual_one_of_the_parts_book_can_be_planned() -> None:
    start, _, rest = TEXT.partition("[bridge]\n")
    part = 'kind = "vibrato"\npart = "two posts, six strings"\nslot = "block slot"\nspring_cavity = "spring cavity"\n\n'
    usual = plan(*parse_job(f"{start}[bridge]\n{part}[[string_sets]]{rest.partition('[[string_sets]]')[2]}"))
    assert usual.layout.bridge is not None
    assert "typical.bridge" in codes(usual)


def test_what_the_saddles_reach_is_named() -> None:
    named = quantities(planned())
    assert named["bridge.lowest"].value == pytest.approx(10.5)
    assert named["bridge.lowest"].formula == "underside + plate + over"
    assert named["heights.saddle"].value == pytest.approx((10.5 + 16.0) / 2)
    assert named["string-1.room-down"].value == pytest.approx(named["string-1.saddle-height"].value - 10.5)
