"""Worked examples of the bench for shafts, neck screws and islands.

The arithmetic is common practice, no source: a screw's thread in the heel is its length less what its head bears on
less the body under it; the wood a control can pass is its thread less nut, washers and half a millimetre. A router
bit that goes round an island leaves a fillet of (1 − π/4) r² in a square inner corner, plain geometry.
"""

from __future__ import annotations

from math import cos, pi, tan
from typing import Any

import pytest

from scribeline.features import (
    Bore,
    heel_screw,
    most_wood,
    polygon,
    roof_over,
    rounded,
    standing,
)
from scribeline.findings import Finding
from scribeline.job import ControlStatement, Dimension, parse_job
from scribeline.layout import Point, Ring
from scribeline.plan import Plan

from ..conftest import FULL, Planned, change


def codes(plan: Plan) -> dict[str, Finding]:
    return {finding.code: finding for finding in plan.findings}


def neck(thickness: float, length: float) -> dict[str, Any]:
    """The worked neck: a pocket of 16, a heel of 25.4 with a board of 6.35, a plate of 2."""
    return {
        "body.thickness": f"{thickness} +/- 0.1",
        "neck.pocket_depth": "16 +/- 0.1",
        "neck.heel_thickness": "25.4 +/- 0.1",
        "neck.board_thickness": "6.35 +/- 0.1",
        "neck_screws.plate_thickness": 2.0,
        "neck_screws.length": length,
    }


class TestNeckScrews:
    @pytest.mark.parametrize(
        ("thickness", "length", "engages", "to_board"),
        [
            (45.0, 45.0, 14.0, 5.05),
            (43.5, 45.0, 15.5, 3.55),
            (45.0, 50.0, 19.0, 0.05),
            (45.0, 44.45, 13.45, 5.60),  # 1 3/4 in
        ],
    )
    def test_engagement(self, thickness: float, length: float, engages: float, to_board: float) -> None:
        heel = heel_screw(parse_job(change(neck(thickness, length), FULL)).job.document)
        assert heel is not None
        assert heel.engages == pytest.approx(engages, abs=1e-9)
        assert heel.to_board == pytest.approx(to_board, abs=1e-9)

    @pytest.mark.parametrize(
        ("thickness", "length", "severity"), [(45.0, 45.0, None), (43.5, 45.0, None), (45.0, 50.0, "stop")]
    )
    def test_verdict(self, planned: Planned, thickness: float, length: float, severity: str | None) -> None:
        found = codes(planned(neck(thickness, length), FULL)).get("neck-screws.near-board")
        assert (found.severity if found else None) == severity

    def test_the_cure_names_lengths_that_pass(self, planned: Planned) -> None:
        # Body under the pocket 29, plate 2: 31. At least 12 in the heel: 43. The heel has 19.05 under the board, 3 kept:
        # 31 + 16.05 = 47.05.
        found = codes(planned(neck(45.0, 50.0), FULL))["neck-screws.near-board"]
        assert "screws from 43.00 to 47.05 mm fit" in found.cure
        for length in (43.0, 47.05):
            said = codes(planned(neck(45.0, length), FULL))
            assert not [code for code in said if code.startswith("neck-screws")]

    def test_a_cup_brings_the_head_nearer(self, planned: Planned) -> None:
        plan = planned({**neck(45.0, 45.0), "neck_screws.cup_diameter": 12, "neck_screws.cup_depth": 3}, FULL)
        heel = heel_screw(plan.job.document)
        assert heel is not None
        assert heel.engages == pytest.approx(17.0)
        assert [step.diameter for step in plan.features.family("neck-screw")[0].steps] == [12.0, 4.5]

    def test_the_clearance_hole_never_grips_the_thread(self, planned: Planned) -> None:
        # A tenth of play or more: a 4.5 mm bit is none for a 4.5 mm thread, and 4.0 just is one for 3.9.
        for thread, bit in ((4.2, 4.5), (4.5, 5.0), (3.9, 4.0)):
            hole = planned({"neck_screws.thread": thread}, FULL).features.family("neck-screw")[0]
            assert hole.deepest.diameter == bit >= thread + 0.1 - 1e-9


def control(thread: float, nut: float) -> ControlStatement:
    return ControlStatement.model_construct(
        name="volume",
        centre=(0, 0),
        into="cavity",
        hole=Dimension(9.5, 0.1, measured=True),
        thread_length=Dimension(thread, 0.1, measured=True),
        nut_and_washers=Dimension(nut, 0.1, measured=True),
    )


class TestShafts:
    @pytest.mark.parametrize(("thread", "nut", "most"), [(9.5, 4.0, 5.0), (6.4, 3.2, 2.7), (19.0, 4.0, 14.5)])
    def test_the_most_wood_a_thread_passes(self, thread: float, nut: float, most: float) -> None:
        assert most_wood(control(thread, nut)) == pytest.approx(most)

    def test_six_millimetres_are_one_too_many_for_a_short_thread(self, planned: Planned) -> None:
        worked = {
            "body.thickness": "45 +/- 0.1",
            "pockets[3].depth": 39,
            **{f"controls[{n}].thread_length": 9.5 for n in (1, 2, 3)},
        }
        plan = planned(worked, FULL)
        cavity = plan.features.pocket("control-cavity")
        assert roof_over(plan.layout, cavity, plan.layout.controls[0]) == pytest.approx(6.0)
        found = codes(plan)["control.thread-short"]
        assert found.severity == "stop"
        assert "1.00 mm too much" in found.message
        assert "thread of 10.75 mm or more" in found.cure  # 6.0 + 4.0 + 0.5, and a quarter in hand
        # The same cavity in a body of 43.5 leaves 4.5, and now it fits.
        thin = planned({**worked, "body.thickness": "43.5 +/- 0.1"}, FULL)
        assert "control.thread-short" not in codes(thin)

    def test_the_hole_goes_through_the_roof(self, planned: Planned) -> None:
        plan = planned({}, FULL)
        bore = next(b for b in plan.features.bores if b.id == "control-1")
        assert bore.through
        assert bore.deepest.depth == pytest.approx(44.4 - 38.5 + 1.0)


class TestIslands:
    def test_outer_corners_stay_sharp_and_inner_ones_are_filled(self) -> None:
        corner = Ring(Point(x, y) for x, y in ((0, 0), (30, 0), (30, 10), (10, 10), (10, 30), (0, 30)))
        left = standing(corner, 4.0)
        outer = {(0, 0), (30, 0), (30, 10), (10, 30), (0, 30)}
        assert outer <= {(p.x, p.y) for p in left}
        assert Point(10, 10) not in left
        # Flattened to 0.01 mm: the fillet is never smaller, and larger by less than its arc's length times that.
        fillet = polygon(left).area - polygon(corner).area
        assert fillet == pytest.approx((1 - pi / 4) * 16.0, abs=0.01 * 4.0 * pi / 2)

    def test_a_convex_island_is_left_as_drawn(self) -> None:
        square = Ring(Point(x, y) for x, y in ((0, 0), (9, 0), (9, 9), (0, 9)))
        assert standing(square, 4.0) == square

    def test_a_cover_recess_runs_round_the_cavity(self) -> None:
        # A 60 × 40 rectangle with corners of 8, wider by 10 all round: corners of 18 about the same centres.
        sharp = Ring(Point(x, y) for x, y in ((0, 0), (60, 0), (60, 40), (0, 40)))
        area = polygon(rounded(sharp, 8.0, wider=10.0)).area
        assert area == pytest.approx(80 * 60 - (4 - pi) * 18.0**2, abs=0.01 * 2 * pi * 18.0)


def the_hole(plan: Plan, n: int = 1) -> Bore:
    return next(bore for bore in plan.features.bores if bore.id == f"hole-{n}")


class TestStatedHoles:
    def test_a_countersink_is_a_cone(self, planned: Planned) -> None:
        # A 90° cone 9 mm wide is 4.5 mm deep: half its width over the tangent of half its angle.
        plan = planned(
            {
                "bits.countersink": [{"diameter": 12}],
                "holes": [
                    {
                        "name": "a",
                        "at": [560, -100],
                        "diameter": 4,
                        "depth": 20,
                        "countersink": {"diameter": 9},
                    }
                ],
            },
            FULL,
        )
        cone, hole = the_hole(plan).steps
        assert (cone.diameter, cone.depth) == (9.0, 0.0)
        assert cone.point_reaches == pytest.approx(4.5)
        assert cone.bit.diameter == 12.0
        assert hole.depth == 20.0

    @pytest.mark.parametrize("lean", [0.0, 10.0, 30.0])
    def test_a_leaning_hole_comes_out_wholly(self, planned: Planned, lean: float) -> None:
        # Its axis runs t / cos A to the far face, its far rim r tan A more; then a millimetre.
        rad = lean * pi / 180
        plan = planned(
            {
                "holes": [
                    {
                        "name": "a",
                        "at": [560, -100],
                        "diameter": 5,
                        "through": True,
                        "lean": lean,
                        "heading": 90,
                    }
                ]
            },
            FULL,
        )
        assert the_hole(plan).deepest.depth == pytest.approx(44.4 / cos(rad) + 2.5 * tan(rad) + 1.0, abs=1e-6)
        assert not [f for f in plan.findings if "hole-1" in f.features and f.severity == "stop"]
