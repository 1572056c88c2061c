"""Findings on worked mistakes: what they say is true, and the cure they give works when it is typed in.

The mistakes and limits are common practice with no published source; each number is derived here by hand.
"""

import re
from collections.abc import Mapping
from typing import Any

import pytest
import shapely

from scribeline.findings import Finding
from scribeline.plan import Plan
from scribeline.scenario import demo_jobs

from ..conftest import Planned


def said(plan: Plan, code: str) -> Finding:
    found = [finding for finding in plan.findings if finding.code == code]
    assert found, f"{code} not among {[finding.code for finding in plan.findings]}"
    return found[0]


def codes(plan: Plan) -> set[str]:
    return {finding.code for finding in plan.findings}


def number(pattern: str, text: str) -> float:
    found = re.search(pattern.replace("#", r"(-?[0-9]+(?:\.[0-9]+)?)"), text)
    assert found, f"no {pattern} in {text!r}"
    return float(found[1])


def test_the_demo_has_no_stop_and_no_caution(planned: Planned) -> None:
    assert {finding.severity for finding in planned().findings} <= {"note"}


def test_the_planed_too_thin_demo_stops_and_the_cure_works(planned: Planned) -> None:
    base = demo_jobs()["marram-too-thin.toml"]
    plan = planned(base=base)
    (stop,) = plan.stops
    # 38.5 mm deep in 38.2 mm of wood: out by 0.3; 4 mm of floor is wanted: 34.2.
    assert stop.code == "wood.breaks-through"
    assert stop.features == ("control-cavity",)
    assert stop.value == pytest.approx(-0.3)
    assert "0.30 mm" in stop.message
    depth = number("to # mm or less", stop.cure)
    assert depth == pytest.approx(34.2)
    assert not planned({"pockets[3].depth": depth}, base=base).stops


WANTED = (1.3, 2.2, 3.5, 2.7, 3.2, 4.3)
SHORT: dict[str, Any] = {"bridge.saddle_forward": 9.0, "bridge.saddle_back": 13.0}
SHORT |= {f"strings[{i}].setback": setback for i, setback in enumerate(WANTED, start=1)}


class TestWindow:
    def test_says_what_is_short(self, planned: Planned) -> None:
        # Spread 4.3 − 1.3 = 3.0, with 1.0 at each end 5.0, and the saddles travel 4.0.
        plan = planned(SHORT)
        stop = said(plan, "bridge.window-empty")
        assert stop.severity == "stop"
        assert (stop.value, stop.limit) == pytest.approx((4.0, 5.0))
        for part in ("travel 4.00 mm", "need 5.00 mm", "short by 1.00 mm", "string 6 (E2)", "String 1 (E4)"):
            assert part in stop.message
        assert plan.layout.bridge is None
        assert plan.features.bores == ()
        assert plan.cards

    @pytest.mark.parametrize("extra", [0.0, 0.004, 0.0051])
    def test_every_remedy_works(self, planned: Planned, extra: float) -> None:
        short = {**SHORT, "strings[6].setback": 4.3 + extra}
        stop = said(planned(short), "bridge.window-empty")
        travel = number("use a bridge with # mm", stop.cure)
        reserve = number("keep only # mm of travel in hand", stop.cure)
        spread = number("all compensations within # mm", stop.cure)
        for cure in (
            {"bridge.saddle_back": 9.0 + travel},
            {"bench.saddle_reserve": reserve},
            {f"strings[{i}].setback": min(s, 1.3 + spread) for i, s in enumerate(WANTED, start=1)},
        ):
            assert "bridge.window-empty" not in codes(planned({**short, **cure})), cure

    def test_no_reserve_is_offered_where_none_is_left(self, planned: Planned) -> None:
        stop = said(planned({**SHORT, "bridge.saddle_back": 11.5}), "bridge.window-empty")
        assert "of travel in hand" not in stop.cure

    def test_little_in_hand_is_a_caution(self, planned: Planned) -> None:
        # 5.5 mm of travel for a spread of 3.0: 1.25 at each end.
        small = said(planned({**SHORT, "bridge.saddle_back": 14.5}), "bridge.reserve-small")
        assert small.severity == "caution"
        assert small.value == pytest.approx(1.25)


class TestFerrules:
    def test_lips_that_overlap(self, planned: Planned) -> None:
        mistake = {"bridge.spacing": 10.5, "ferrules.lip_diameter": 11.0, "bits.flat_bottomed": [11.0]}
        stop = said(planned(mistake), "ferrules.lip-web")
        assert stop.severity == "stop"
        assert stop.value == pytest.approx(-0.5)
        lip = number("a lip of # mm or less", stop.cure)
        cured = {**mistake, "ferrules.lip_diameter": lip, "bits.flat_bottomed": [lip]}
        assert "ferrules.lip-web" not in codes(planned(cured))

    def test_a_wide_bit_is_told_from_a_wide_lip(self, planned: Planned) -> None:
        mistake = {"ferrules.lip_diameter": 9.5, "bits.flat_bottomed": [10.0], "bits.brad_point": [3.5, 7.0]}
        found = said(planned(mistake), "ferrules.lip-web")
        assert "counterbores" in found.message
        bit = number("a bit nearer # mm", found.cure)
        assert "ferrules.lip-web" not in codes(planned({**mistake, "bits.flat_bottomed": [bit]}))

    def test_a_bit_far_off_is_not_taken(self, planned: Planned) -> None:
        plan = planned({"bits.flat_bottomed": [25.0], "bits.brad_point": [3.5]})
        lip, body = plan.features.family("ferrule-hole")[0].steps
        assert (lip.diameter, lip.bit.owned) == (9.0, False)
        assert (body.diameter, body.bit.owned) == (7.0, False)
        assert "bits.missing" in codes(plan)
        assert "ferrules.lip-loose" not in codes(plan)

    def test_film_thicker_than_the_lip(self, planned: Planned) -> None:
        mistake = {"finish.film": 0.6, "ferrules.lip_height": 0.5}
        stop = said(planned(mistake), "ferrules.no-counterbore")
        recess = number("ferrules.recess to # mm", stop.cure)
        assert "ferrules.no-counterbore" not in codes(planned({**mistake, "ferrules.recess": recess}))


class TestMeetingBores:
    @pytest.mark.parametrize("thickness", [50.0, 55.0, 60.0, 70.0, 80.0])
    def test_the_cure_makes_them_meet(self, planned: Planned, thickness: float) -> None:
        mistake = {"body.thickness": f"{thickness} +/- 0.1", "string_holes.top_share": 0.75}
        plan = planned(mistake)
        # Top: three quarters, to the next half; back: 1.38 + 9.4 + 2 = 12.78.
        overlap = -(-thickness * 0.75 * 2 // 1) / 2 + 12.78 - thickness
        if overlap >= 1.0:
            assert "string-holes.do-not-meet" not in codes(plan)
            return
        found = said(plan, "string-holes.do-not-meet")
        assert found.value == pytest.approx(overlap)
        assert found.severity == ("stop" if overlap < 0 else "caution")
        share = number("top_share to #", found.cure)
        cured = planned({**mistake, "string_holes.top_share": share})
        assert "string-holes.do-not-meet" not in codes(cured)
        assert not cured.stops

    @pytest.mark.parametrize("thickness", [22.0, 33.0, 44.4, 50.0, 60.0, 80.0])
    def test_left_to_itself_the_plan_makes_them_meet(self, planned: Planned, thickness: float) -> None:
        plan = planned({"body.thickness": f"{thickness} +/- 0.1", "neck.pocket_depth": 10})
        top, back = plan.features.family("string-hole")[0], plan.features.family("ferrule-hole")[0]
        # 1 mm is left when both stops are half a millimetre short and the wood is 0.1 mm thicker.
        assert top.deepest.depth + back.deepest.depth - 2 * 0.5 - (thickness + 0.1) >= 1.0
        assert thickness - top.deepest.point_reaches >= 3.0
        assert "string-holes.do-not-meet" not in codes(plan)

    def test_a_short_ferrule_in_a_thick_body_needs_relief_instead(self, planned: Planned) -> None:
        mistake = {"body.thickness": "80 +/- 0.1", "ferrules.body_length": 4.0, "string_holes.relief": 0.0}
        found = said(planned(mistake), "string-holes.do-not-meet")
        assert "top_share" not in found.cure
        relief = number("relief to # mm", found.cure)
        cured = {
            **mistake,
            "string_holes.relief": min(relief, 10.0),
            "ferrules.body_length": 4.0 + max(0.0, relief - 10),
        }
        assert "string-holes.do-not-meet" not in codes(planned(cured))

    def test_a_top_bore_too_deep(self, planned: Planned) -> None:
        mistake = {"string_holes.top_share": 0.94}
        found = [
            f for f in planned(mistake).findings if "string-hole-1" in f.features and f.severity != "note"
        ]
        assert [f.code for f in found] == ["wood.thin-floor"]
        assert found[0].features == tuple(f"string-hole-{i}" for i in range(1, 7))
        assert "the worst of 6 such" in found[0].message
        share = number("top_share to #", found[0].cure)
        assert "wood.thin-floor" not in codes(planned({"string_holes.top_share": share}))


class TestGroundWire:
    def test_lands_below_the_pocket_s_floor(self, planned: Planned) -> None:
        stop = said(planned({"ground_wire.lands": 30}), "tunnel.misses-wall")
        lands = number("lands to # mm", stop.cure)
        assert not planned({"ground_wire.lands": lands}).stops

    @pytest.mark.parametrize(
        "mistake",
        [
            {"ground_wire.from_front": 0.5},
            {"ground_wire.from_front": 2.0},
            {"ground_wire.from_front": 42.5, "ground_wire.across": 15.9, "ground_wire.lands": 15},
            {"ground_wire.across": 39.0, "pockets[1].size": [40, 90]},
        ],
        ids=["front", "near the front", "tail", "side"],
    )
    def test_a_mouth_that_shows(self, planned: Planned, mistake: dict[str, Any]) -> None:
        plan = planned(mistake)
        found = said(plan, "tunnel.shows")
        key = re.search(r"ground_wire\.(from_front|across) to ([0-9.]+)", found.cure)
        assert key is not None
        cured = mistake
        for _ in range(6):  # the mouth changes with the hole's slope, as the cure says
            cured = {**cured, f"ground_wire.{key[1]}": float(key[2])}
            again = [f for f in planned(cured).findings if f.code == "tunnel.shows"]
            if not again:
                break
            key = re.search(r"ground_wire\.(from_front|across) to ([0-9.]+)", again[0].cure)
            assert key is not None
        assert "tunnel.shows" not in codes(planned(cured))

    @pytest.mark.parametrize("heading", [180, 120, -120])
    def test_pointed_the_wrong_way(self, planned: Planned, heading: float) -> None:
        plan = planned({"ground_wire.heading": heading})
        stop = said(plan, "tunnel.misses")
        assert stop.features == ("ground-wire", "bridge-pickup")
        assert not plan.features.family("ground-wire")
        assert not planned({"ground_wire.heading": 0}).stops

    def test_starts_inside_its_pocket(self, planned: Planned) -> None:
        plan = planned({"pockets[1].size": [94, 72]})
        assert said(plan, "tunnel.starts-in-pocket").severity == "stop"
        assert not plan.features.family("ground-wire")
        # Exactly on the wall: front edge 629.4 + 14 = 643.4, the wall at 618 + 25.4.
        on_wall = planned({"pockets[1].centre": [-16.6, 0]})
        assert said(on_wall, "tunnel.starts-in-pocket").severity == "stop"


BOX: dict[str, Any] = {"name": "back box", "face": "back", "corner_radius": 4, "x_from": "scale line"}


class TestWood:
    def test_a_screw_into_a_back_pocket(self, planned: Planned) -> None:
        # Screws 37 mm out at 667.4; a box there 25 mm deep leaves a roof of 19.4, the pilots reach 24.6.
        box = {**BOX, "depth": 25.0, "centre": [30, 38], "size": [8, 8], "corner_radius": 1}
        mistake = {"pockets[4]": box, "bridge.screws": [[38, -37], [38, 37]]}
        plan = planned(mistake)
        met = said(plan, "wood.run-together")
        assert set(met.features) == {"back-box", "bridge-screw-2"}
        assert "bridge screw pilot 2" in met.message
        # The least way out is sideways: 667.4 − 666 + 1.5 = 2.9 (5.2 along the screw).
        assert met.value == pytest.approx(-2.9)
        longest = number("screws of # mm or shorter", met.cure)
        # By hand: 24.5 − (24.601 + 3 − 19.4) = 16.298.
        assert longest == pytest.approx(16.29)
        cured = planned({**mistake, "bridge_screw.length": longest})
        assert not [f for f in cured.findings if "back-box" in f.features and f.code.startswith("wood")]

    def test_a_screw_through_a_thin_body(self, planned: Planned) -> None:
        mistake: dict[str, Any] = {"body.thickness": "26 +/- 0.1", "pockets": [], "ground_wire": None}
        found = said(planned(mistake), "wood.thin-floor")
        assert found.features[0].startswith("bridge-screw")
        longest = number("screws of # mm or shorter", found.cure)
        cured = planned({**mistake, "bridge_screw.length": longest})
        assert not [
            f for f in cured.findings if f.code.startswith("wood") and f.features == ("bridge-screw-1",)
        ]

    def test_a_bit_that_does_not_pass(self, planned: Planned) -> None:
        # Two chambers of 40 mm joined by a channel 10 mm wide: a bit of 10 mm passes, one of 12 does not.
        chambers = [[560, -80], [600, -80], [600, -65], [620, -65], [620, -80], [660, -80]]
        chambers += [[660, -40], [620, -40], [620, -55], [600, -55], [600, -40], [560, -40]]
        box = {"name": "twin", "depth": 5, "outline": chambers}
        alone: dict[str, Any] = {"pockets": [], "ground_wire": None}
        passes = planned({**alone, "pockets": [{**box, "corner_radius": 5}]})
        assert "pocket.bit-does-not-pass" not in codes(passes)
        stop = said(planned({**alone, "pockets": [{**box, "corner_radius": 6}]}), "pocket.bit-does-not-pass")
        assert (stop.severity, stop.value) == ("stop", 12.0)
        assert "bit of 12 mm" in stop.message

    def test_two_pockets_that_meet(self, planned: Planned) -> None:
        mistake = {"pockets[2].x_from": "scale line", "pockets[2].centre": [-80, 0]}
        met = said(planned(mistake), "wood.run-together")
        assert "opens_into" in met.cure
        told = planned({**mistake, "pockets[2].opens_into": ["bridge pickup"]})
        assert not [f for f in told.findings if set(f.features) == {"bridge-pickup", "neck-pickup"}]

    def test_a_thin_web_between_pockets(self, planned: Planned) -> None:
        # Bridge pickup's neck wall at 598 − 20 = 578; neck pickup's tail wall at 640 − 84 + 20 = 576: 2 mm.
        plan = planned({"pockets[2].x_from": "scale line", "pockets[2].centre": [-84, 0]})
        thin = said(plan, "wood.thin-web")
        assert thin.severity == "caution"
        assert thin.value == pytest.approx(2.0)
        assert (thin.limit, "3 mm of wood" in thin.cure) == (3.0, True)

    def test_a_pocket_outside_the_body(self, planned: Planned) -> None:
        stop = said(
            planned({"pockets[3].outline": [[700, 150], [760, 150], [760, 220], [700, 220]]}),
            "wood.outside-body",
        )
        assert stop.severity == "stop"
        assert stop.features == ("control-cavity",)

    def test_edges_against_shapely(self, planned: Planned) -> None:
        # A box 10 × 4 mm that ends 3.5 mm short of where the centreline leaves the body at the tail.
        body = shapely.Polygon(planned().layout.outline)
        tail = shapely.LineString([(0, 0), (1500, 0)]).intersection(body).bounds[2]
        left = tail - 3.5
        box = {**BOX, "depth": 5.0, "size": [10, 4], "x_from": "nut", "corner_radius": 0}
        near = planned({"pockets[4]": {**box, "centre": [left - 5, 0]}})
        (found,) = (f for f in near.findings if f.features == ("back-box",) and f.code == "wood.near-edge")
        assert found.value == pytest.approx(body.exterior.distance(shapely.box(left - 10, -2, left, 2)))
        assert (found.severity, found.limit) == ("caution", 4.0)


class TestStrings:
    def test_listed_from_the_bass(self, planned: Planned) -> None:
        plan = planned()
        listed = [
            {"note": s.note, "gauge": f"{s.gauge} mm", "setback": s.setback}
            for s in plan.layout.strings[::-1]
        ]
        turned = planned({"strings": listed})
        found = said(turned, "strings.listed-from-bass")
        assert found.severity == "caution"
        assert "E2" in found.message
        assert "strings.listed-from-bass" not in codes(planned({"strings": listed[::-1]}))

    def test_a_string_that_does_not_pass(self, planned: Planned) -> None:
        mistake = {"string_holes.diameter": 2.0, "bits.brad_point": [2.0, 7.0, 9.0], "bits.twist": [3.0]}
        mistake |= {"strings[6].gauge": ".090"}
        stop = said(planned(mistake), "string-holes.too-narrow")
        assert stop.severity == "stop"
        bit = number("string bit of # mm or more", stop.cure)
        assert bit == pytest.approx(0.090 * 25.4 + 0.3, abs=0.01)
        cured = {**mistake, "string_holes.diameter": bit, "bits.brad_point": [bit, 7.0, 9.0]}
        assert "string-holes.too-narrow" not in codes(planned(cured))

    def test_frets_beyond_the_board(self, planned: Planned) -> None:
        # 640 (1 − 2^(−24/12)) = 480 mm, and the board ends at 468: 22 frets fit, the 23rd falls at 470.49.
        stop = said(planned({"scale.frets": 24}), "frets.beyond-board")
        assert stop.severity == "stop"
        assert stop.value == pytest.approx(480.0)
        assert number("scale.frets to #", stop.cure) == 22
        end = number("fingerboard.end to # mm", stop.cure)
        assert end == pytest.approx(480.01)
        assert "frets.beyond-board" not in codes(planned({"scale.frets": 24, "fingerboard.end": end}))

    @pytest.mark.parametrize(("spacing", "severity"), [(10.6, None), (11.2, "caution"), (12.0, "stop")])
    def test_strings_off_the_board(self, planned: Planned, spacing: float, severity: str | None) -> None:
        wide = {"bridge.spacing": spacing, "bridge.plate_width": 90}
        found = [f for f in planned(wide).findings if f.code == "strings.edge-margin"]
        assert [f.severity for f in found] == ([severity] if severity else [])
        for finding in found:
            # By hand at fret 22, 460.4 mm out: half the board 28.09 less 3 is 25.09; from 17.97 at the nut that is
            # a bridge half of 27.87, a spacing of 11.14.
            most = number("spacing of # mm or less", finding.cure)
            assert most == pytest.approx(11.14, abs=0.011)
            assert "strings.edge-margin" not in codes(planned({**wide, "bridge.spacing": most}))

    def test_strings_off_the_board_at_the_nut(self, planned: Planned) -> None:
        mistake = {"nut.edge": 1.5}
        found = said(planned(mistake), "strings.edge-margin")
        edge = number("nut.edge to # mm or more", found.cure)
        assert edge == pytest.approx(3.0 - 0.127, abs=0.011)
        assert "strings.edge-margin" not in codes(planned({"nut.edge": edge}))

    def test_a_string_beyond_the_board(self, planned: Planned) -> None:
        stop = said(planned({"fingerboard.width_at_end": 44}), "strings.edge-margin")
        assert "mm beyond the board's edge at fret 22" in stop.message
        assert "-" not in stop.message


class TestPlate:
    def test_the_screw_does_not_pass(self, planned: Planned) -> None:
        mistake = {"bridge_screw.thread": 4.2, "bridge_screw.root": 3.0}
        stop = said(planned(mistake), "bridge.screw-does-not-pass")
        most = number("screws of # mm or less", stop.cure)
        assert "bridge.screw-does-not-pass" not in codes(planned({**mistake, "bridge_screw.thread": most}))

    def test_the_pilot_has_no_bite(self, planned: Planned) -> None:
        mistake = {"bits.twist": [4.0], "bits.brad_point": [3.6, 7, 9]}
        stop = said(planned(mistake), "pilot.no-bite")
        bit = number("get a # mm bit", stop.cure)
        assert "pilot.no-bite" not in codes(planned({**mistake, "bits.twist": [4.0, bit]}))


CASES: list[tuple[Mapping[str, Any], str]] = [
    ({"bits": {}}, "bits.missing"),
    ({"pockets": [], "ground_wire": None}, ""),
    ({"finish.film": 0}, ""),
    ({"body.thickness": 44.4}, "typical.body-thickness"),
    ({"bridge_screw": {"gauge": 6, "length": 25}}, "typical.bridge_screw"),
    ({"pockets[1].corner_radius": 2}, "pocket.corner-too-tight"),
]


@pytest.mark.parametrize(("changes", "code"), CASES)
def test_odd_but_sound_jobs_are_not_stopped(planned: Planned, changes: Mapping[str, Any], code: str) -> None:
    plan = planned(changes)
    assert not plan.stops
    assert not code or code in codes(plan)


def test_every_finding_is_a_sentence_with_a_cure(planned: Planned) -> None:
    mistakes: tuple[dict[str, Any], ...] = (
        {"body.thickness": 20},
        {"bits": {"twist": [1.0], "brad_point": [1.0], "flat_bottomed": [25]}},
        {"finish.holes": "sprayed", "finish.film": 0.3},
        {"body.outline.tail": 700},
    )
    for mistake in mistakes:
        for finding in planned(mistake).findings:
            assert finding.message
            assert finding.cure
            assert finding.source
            for text in (finding.message, finding.cure):
                assert "nan" not in text.lower()
                assert "None" not in text
                assert not re.search(r"(?<!\()-\d", text), text  # a negative length is no use at a bench
                assert not re.search(r"\d\.\d{4,}", text), text
