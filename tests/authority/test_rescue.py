"""Ways out for wrong cuts, each worked by hand.

The rules are the trade's (common practice, no source): a plug holds the whole old hole and keeps 2 mm round the new one;
beside an old hole 2 mm of wood remain; a cover reaches 1.5 mm past a seam; a turned saddle gains about 2 mm. The demo's
plate is 44 mm long with its screw holes 38 mm behind its front edge, pilots of 3.0 mm, saddles 9.2 to 17.6 mm behind it.
"""

from __future__ import annotations

from math import radians

import pytest

from scribeline.features import plug_round
from scribeline.job import parse_job
from scribeline.lengths import in_unit
from scribeline.plan import plan
from scribeline.rescue import Found, RescueError, called, rescue, rescues
from scribeline.scenario import begun_like, examples
from scribeline.tables import glue

from ..rescued import found, fresh, made, made_text, number, plate_off, way

HUNDREDTH = 0.005


def near(mm: float) -> object:
    return pytest.approx(mm, abs=HUNDREDTH)


def test_the_least_plug_that_keeps_two_millimetres_round_the_new_hole() -> None:
    """A 2.8 hole 0.8 off its place, redrilled with 2.8.

    Plug 6.35 on the old hole: 6.35/2 - 2.8/2 - 0.8 = 0.975, under 2. Plug 9.5: 4.75 - 1.4 - 0.8 = 2.55.
    """
    plug = plug_round(2.8, 2.8, 0.8)
    assert plug is not None
    assert (plug.diameter, plug.aside) == (9.5, 0.0)
    assert plug.wall == near(2.55)
    assert plug.rim == near(4.75 - 1.4)


def test_a_plug_goes_aside_towards_the_new_hole_as_far_as_its_wall_asks() -> None:
    """Old 3.0, new 2.8 at (2.1, 1.0): sqrt(2.1*2.1 + 1.0*1.0) = 2.326 apart, web 2.326 - 2.9 = -0.574.

    A 9.5 plug keeps 2.0 round the new hole up to 4.75 - 1.4 - 2.0 = 1.35 from it: its middle goes 2.326 - 1.35 = 0.976
    from the old one's, and 4.75 - 1.5 - 0.976 = 2.274 of it reach beyond the old hole.
    """
    plug = plug_round(3.0, 2.8, 2.326)
    assert plug is not None
    assert plug.diameter == 9.5
    assert plug.aside == near(0.976)
    assert plug.wall == near(2.0)
    assert plug.rim == near(2.274)
    edge = plug_round(3.0, 2.8, 1.35)
    assert edge is not None
    assert edge.aside == near(0.0)
    assert plug_round(60.0, 60.0, 5.0) is None


def test_a_string_hole_that_overlaps_its_place_is_plugged_under_the_plate() -> None:
    """S3 of 3.5, found 0.8 too far towards the tail and 0.3 to the bass: sqrt(0.64 + 0.09) = 0.854 off.

    The holes overlap by 3.5 - 0.854 = 2.646. Plug 9.5: wall 4.75 - 1.75 - 0.854 = 2.146. S3 lies at 640 - 10.6 + 31.5 + 0.8 =
    661.7 along and 5.0 across, B3 (3.0) at 640 - 10.6 + 38 = 667.4 and 10.6: sqrt(5.7*5.7 + 5.6*5.6) = 7.991 apart, less
    4.75 and 1.5 leaves 1.741. The plate ends at 640 - 10.6 + 44 = 673.4: 673.4 - 661.7 - 4.75 = 6.95 beyond the plug.
    """
    of = found("S3", Found(off=(0.8, -0.3)))
    plugged = way(of, "plug")
    assert of.off.away == near(0.854)
    assert number(plugged, "overlap") == near(2.646)
    assert number(plugged, "wall of plug") == near(2.146)
    assert number(plugged, "to B3") == near(1.741)
    assert (plugged.closes, plugged.visible, plugged.wait) == (True, 0.0, 24.0)
    assert in_unit(plugged.shows, "mm") == "nothing: the plate reaches 6.95 mm beyond it all round"
    live = way(of, "live")
    assert not live.closes
    assert of.ways[0] is plugged


def test_what_takes_the_whole_old_hole_away_is_twice_as_far_off_and_as_wide() -> None:
    """The same S3: a sleeve of 2 * 0.854 + 3.5 = 5.209 outside, its hole 7.991 - 2.604... to B3 measured from S3's own place.

    From where S3 was wanted, (660.9, 5.3), B3 lies sqrt(6.5*6.5 + 5.3*5.3) = 8.387 away: 8.387 - 2.604 - 1.5 = 4.283.
    """
    sleeve = way(found("S3", Found(off=(0.8, -0.3))), "larger part")
    assert number(sleeve, "least diameter") == near(5.209)
    assert number(sleeve, "wood to B3") == near(4.283)
    assert sleeve.closes


def test_a_plate_too_far_back_is_saved_by_turning_saddles() -> None:
    """Best place: ((1.4 - 9.2) + (4.2 - 17.6)) / 2 = -10.6, with (-7.8 + 13.4) / 2 = 2.8 in hand at both ends.

    The plate 3.2 towards the tail stands at -7.4. String 1 has 1.4 - 9.2 + 7.4 = -0.4 left towards the nut, string 2 has
    2.2 - 9.2 + 7.4 = 0.4, string 4 2.7 - 1.8 = 0.9; string 5 1.4. Those under 1.0 turned: 1.6, 2.4, 2.9.
    """
    of = plate_off(3.2)
    follow, turned = way(of, "shift"), way(of, "turn saddles")
    assert [number(follow, f"string {n} ") for n in (1, 2, 4, 5)] == [
        near(each) for each in (-0.4, 0.4, 0.9, 1.4)
    ]
    assert not follow.closes
    assert "S1 goes 3.20 mm towards the tail" in [in_unit(each, "mm") for each in follow.moves]
    assert [each.mm for each in turned.numbers] == [near(each) for each in (1.6, 2.4, 2.9)]
    assert turned.closes
    assert turned.wait == 0.0


def test_a_plate_3_2_off_gets_9_5_plugs_that_its_rear_edge_only_just_covers() -> None:
    """Pilots of 3.0, 3.2 from old to new: 0.2 of wood between, too little. Plug 9.5 may stand 4.75 - 1.5 - 2 = 1.25 off the new.

    Its middle goes 3.2 - 1.25 = 1.95 from the old one's and has the old hole in it with 4.75 - 1.5 - 1.95 = 1.30 over. Old
    holes: 640 - 10.6 + 38 + 3.2 = 670.6, the plug's middle 668.65, its rear 673.4: just where the plate ends, so nothing is
    sure to be hidden.
    """
    moved = way(plate_off(3.2), "move bridge")
    assert number(moved, "too little without a plug") == near(0.2)
    assert number(moved, "wall of plug") == near(2.0)
    assert moved.closes
    assert moved.visible == near(9.5)
    assert moved.wait == 24.0


def test_a_plate_5_off_is_drilled_anew_beside_the_old_holes_which_stick_out() -> None:
    """5.0 from old to new, radii 1.5 and 1.5: 2.0 of wood, so no plug. Turning gives string 1 -2.2 + 2.0 = -0.2: not enough.

    Old holes at 640 - 10.6 + 38 + 5 = 672.4, their rear at 673.9; the plate ends at 673.4: 0.5 shows.
    """
    of = plate_off(5.0)
    moved, turned = way(of, "move bridge"), way(of, "turn saddles")
    assert number(moved, "wood between old hole and new") == near(2.0)
    assert not any("plug" in each.words for each in moved.numbers)
    assert moved.visible == near(0.5)
    assert moved.closes
    assert not turned.closes
    assert number(turned, "string 1 ") == near(-0.2)


def test_a_plate_slips_on_its_screws_as_far_as_their_play() -> None:
    """1.9 too far back string 1 has 2.8 - 1.9 = 0.9; 0.1 is missing, and the screws give (3.8 - 3.5) / 2 = 0.15.

    At 3.2 too far back 1.4 is missing and 0.15 is not enough.
    """
    slip = way(plate_off(1.9), "slip")
    assert slip.closes
    assert number(slip, "play") == near(0.15)
    assert "Shift the plate 0.10 mm towards the nut" in in_unit(slip.title, "mm")
    assert not way(plate_off(3.2), "slip").closes


def test_a_pot_hole_too_wide_is_covered_by_a_washer_or_plugged_with_16() -> None:
    """10 mm asked for, 11 drilled: a washer of 11 + 2 * 1.5 = 14.0. Plug 12.7 leaves 6.35 - 5 = 1.35, 16 leaves 3.0."""
    of = found("C1", Found(diameter=11.0))
    assert of.off.wider == near(1.0)
    assert number(way(of, "cover"), "least width") == near(14.0)
    plugged = way(of, "plug")
    assert number(plugged, "wall of plug") == near(3.0)
    assert way(of, "cover").closes
    assert plugged.closes


def test_a_plug_that_runs_into_its_neighbours_is_refused_with_the_number() -> None:
    """Ferrule holes of 9.0, and 7.0 behind their lips, stand 10.6 apart. F3 0.5 to the treble: plug 16.

    8 - 4.5 - 0.5 = 3.0 of wall. Its middle is 10.6 - 0.5 = 10.1 from F2, and it goes deeper than the lips: 10.1 - 8 - 3.5 =
    -1.4, they run together.
    """
    of = found("F3", Found(off=(0.0, 0.5)))
    plugged = way(of, "plug")
    assert not plugged.closes
    assert number(plugged, "wall of plug") == near(3.0)
    (web,) = [each for each in plugged.numbers if "to F2" in each.words]
    assert web.mm == near(-1.4)
    assert not web.ok


def test_where_a_plug_runs_into_a_neighbour_a_patch_goes_between() -> None:
    """S3 (3.5) found 4.9 towards the tail: web 4.9 - 3.5 = 1.4. Plug 12.7: 4.9 - (6.35 - 3.75) = 2.3 aside, 2.6 off its place.

    B3 (3.0) lies 6.5 along and 5.3 across from there: sqrt(3.9*3.9 + 5.3*5.3) - 6.35 - 1.5 = -1.27. A slot with 1.75 + 2 = 3.75
    round the new hole and 1.75 round the old: its sides' normals lean acos((3.75 - 1.75) / 4.9) = 65.9 degrees, cosine 0.408 and
    sine 0.913. B3 is 0.408 * 6.5 + 0.913 * 5.3 - 3.75 - 1.5 = 2.24 off it. Length 3.75 + 4.9 + 1.75 = 10.4, width 7.5.
    """
    of = found("S3", Found(off=(4.9, 0.0)))
    patch = way(of, "patch")
    assert number(patch, "length of the patch") == near(10.4)
    assert number(patch, "width of the patch") == near(7.5)
    assert number(patch, "wood from the patch to B3") == pytest.approx(
        2.24, abs=0.02
    )  # its arcs are short straight lines
    assert patch.closes
    assert patch.visible == 0.0


def test_nothing_helps_and_it_says_why_with_the_number() -> None:
    """F3 2.0 to the treble: 8 - 4.5 - 2 = 1.5 < 2.0 from the old hole's middle, and 8 - 4.5 = 3.5 the old hole allows.

    The plug's middle goes 2.0 - 1.5 = 0.5 back, 1.5 off F3's place: 10.6 - 1.5 - 8 - 3.5 = -2.4 to F2's body. A ferrule that
    takes the hole away: 2 * 2.0 + 7.0 = 11.0, its lip 13.0: 10.6 - 6.5 - 4.5 = -0.4 to its neighbours' lips. As it is the lips
    of F2 and F3 overlap: 10.6 - 2.0 - 9.0 = -0.4.
    """
    of = found("F3", Found(off=(0.0, 2.0)))
    assert number(way(of, "live"), "wood to F2") == near(-0.4)
    assert of.refusal.startswith("I cannot, because ")
    plugged, larger = way(of, "plug"), way(of, "larger part")
    assert [each.mm for each in plugged.numbers if "to F2" in each.words] == [near(-2.4)]
    assert number(larger, "least diameter") == near(11.0)
    assert [each.mm for each in larger.numbers if "wood to F" in each.words] == [near(-0.4)]


def test_a_wide_neck_pocket_gets_a_strip_on_each_wall() -> None:
    """1.0 too wide: 0.5 a side. Loose in 75 mm the neck turns by 1/75: 468/75 = 6.24 aside at the nut.

    Turned about 468, a string moves over the board at the 22nd fret, 640 * (1 - 2**(-22/12)) = 460.4 from the nut, by
    460.4 / 75 * (1 - 468 / 640) = 1.65.
    """
    wide = max(y for _, y in next(p for p in fresh().features.pockets if p.id == "neck-pocket").outline) * 2
    of = found("neck-pocket", Found(width=wide + 1.0))
    live, strips = way(of, "live"), way(of, "walls")
    assert [each.mm for each in strips.numbers] == [near(0.5), near(0.5)]
    assert strips.wait == glue("veneer").machine == 12.0
    assert number(live, "askew") == near(6.24)
    centre = min(m.centre for s in fresh().layout.strings for m in s.margins if m.fret == 22)
    assert number(live, "the neck so turned") == near(centre - 1.65)


def test_a_deep_neck_pocket_lets_the_strings_down_as_far_or_gets_a_veneer_floor() -> None:
    """0.6 too deep under a level neck: frets, strings and saddles all go down 0.6; the floor takes 0.6 of veneer."""
    of = found("neck-pocket", Found(depth=16.6))
    assert number(way(of, "live"), "go down by") == near(0.6)
    floor = way(of, "floor")
    assert number(floor, "thickness") == near(0.6)
    assert (floor.closes, floor.visible, floor.wait) == (True, 0.0, 12.0)


def test_a_floor_at_a_wrong_angle_takes_a_full_taper_shim() -> None:
    """1 degree over 75 mm: 75 * tan 1 = 1.309 at the mouth, nothing at the end wall, where its depth is right."""
    of = found("neck-pocket", Found(lean=radians(1.0)))
    taper = way(of, "taper")
    assert number(taper, "towards the nut") == near(1.309)
    assert number(taper, "towards the tail") == near(0.0)
    assert taper.closes


def test_a_stripped_heel_screw_takes_one_two_gauges_up_or_a_plug() -> None:
    """Thread 4.2 and 0.6 more: 4.8. No. 10 is 0.060 + 10 * 0.013 = 0.190 in = 4.826 (ASME B18.6.1). Plug: pilot 3.6 in 9.5.

    9.5 leaves 4.75 - 1.8 = 2.95 of wall; 6.35 would leave 1.375.
    """
    of = found("P1", Found(stripped=True))
    assert number(next(each for each in of.ways if "screw, no. 10" in each.title), "thread it needs") == near(
        4.826
    )
    assert number(way(of, "plug"), "wall of plug") == near(2.95)
    assert not way(of, "live").closes


def test_a_neck_screw_s_hole_off_its_pilot_lets_the_screw_aside_by_its_play_alone() -> None:
    """N2, 4.5 for a thread of 4.2, found 0.3 and 0.4 off: 0.5 from the pilot that is drilled; (4.5 - 4.2) / 2 = 0.15 of play."""
    of = found("N2", Found(off=(0.3, 0.4)))
    live = way(of, "live")
    assert number(live, "P2 off the middle of N2") == near(0.5)
    assert not live.closes
    assert "0.15 mm is the most" in in_unit(live.why_not, "mm")
    assert way(of, "plug").closes


def test_a_bushing_s_hole_too_wide_to_press_is_lined_with_epoxy() -> None:
    """Bushing 11.3 over its knurl, pressed by 0.12 at the least into medium timber: 11.18 is the most, 11.6 was drilled.

    With the bushing's hole wanted at 11.15 the widest gap is (11.6 - 11.15) / 2 = 0.225: epoxy fills up to 1.0.
    """
    example = begun_like(examples()["two-studs"], name="studs", handed=None)
    of = found("B1", Found(diameter=11.6), made(("drill-bridge-studs",), example))
    left, lining = way(of, "shift"), way(of, "line")
    assert number(left, "the bushing presses into") == near(11.6)
    assert "11.18 mm is the most" in in_unit(left.why_not, "mm")
    assert number(lining, "widest gap") == near(0.225)
    assert (lining.closes, lining.wait) == (True, glue("epoxy").machine)
    assert of.ways[0] is lining


def test_a_hole_only_too_deep_gets_a_dowel_in_its_end() -> None:
    """S1 43 deep instead of 34: its point reaches 43 + 1.05 = 44.05 of 44.4, 0.35 is under it. 9 of 3.5 dowel fill it."""
    of = found("S1", Found(depth=43.0))
    assert number(way(of, "fill"), "length of the dowel") == near(9.0)
    assert "0.35 mm" in in_unit(way(of, "live").why_not, "mm")
    assert of.ways[0].kind == "fill"


def test_a_cavity_off_its_place_is_covered_by_a_ring_that_reaches_1_5_past_it() -> None:
    """Routed 1.0 too far towards the tail: a ring must reach 1.0 + 1.5 = 2.5 past the planned edge; 1.0 is pared off before."""
    of = found("bridge-pickup", Found(off=(1.0, 0.0)))
    assert number(way(of, "cover"), "reach of the ring") == near(2.5)
    assert [each.mm for each in way(of, "walls").numbers] == [near(1.0), near(1.0)]


def test_what_is_not_made_or_not_there_is_told() -> None:
    with pytest.raises(RescueError, match="is not made yet"):
        called(made(), "G")
    with pytest.raises(RescueError, match="no cut is called"):
        called(made(), "S9")


def test_every_made_cut_that_is_off_is_found_and_the_bridge_s_pilots_together() -> None:
    read = {f"bridge-screw-{n}": (3.2, 0.0) for n in range(1, 5)} | {"control-1": (0.0, 0.4)}
    cards = (
        "drill-bridge-screws",
        "rout-control-cavity-cover-recess",
        "rout-control-cavity",
        "drill-shaft-holes-of-10-mm",
    )
    seen = plan(*parse_job(made_text(cards, read)))
    told = [each.cuts for each in rescues(seen)]
    assert told == [tuple(f"bridge-screw-{n}" for n in range(1, 5)), ("control-1",)]
    assert rescue(seen, called(seen, "B3")).cuts[0] == "bridge-screw-3"
    assert list(rescues(made())) == []
