"""What the strings ask of the bridge's screws, against statics worked by hand and a stiff plate on springs.

Strength: Wood Handbook FPL-GTR-282, Eq. (8-10) and chapter 8, worked by hand. Load: plain statics, docs/holding.md.
"""

from dataclasses import replace
from math import exp, pi
from typing import Any

import pytest

from scribeline.features import Bore, Hold, hold_of, holdings, plate_load
from scribeline.plan import Plan

from ..conftest import Planned


def of_bridge(plan: Plan) -> tuple[Hold, ...]:
    (held,) = holdings(plan.job.document, plan.layout, plan.features.bores)
    assert held.group == "bridge screws"
    return held.holds


def test_strings_through_the_body_press_the_plate_down(planned: Planned) -> None:
    plan = planned()
    load = plate_load(plan.job.document, plan.layout)
    assert load is not None
    # By hand: each string T; lift = T (11.8 - 31.5 e^(-0.1 pi)) within the string's slope, 1 mm in 640.
    tension = sum(string.tension_n or 0.0 for string in plan.layout.strings)
    by_hand = tension * (11.8 - 31.5 * exp(-0.2 * pi / 2))
    assert load.forward == pytest.approx(tension, rel=1e-4)
    assert load.lift == pytest.approx(by_hand, rel=0.01)
    assert load.lift < 0
    for hold in of_bridge(plan):
        assert hold.pull == 0
        assert hold.times == float("inf")
        assert hold.side == pytest.approx(tension / 4, rel=1e-4)


def test_a_screw_of_the_demo_by_hand(planned: Planned) -> None:
    # 3.5 over the thread, 2.4 root, 24.5 - 2.3 deep, its point of 3.5 left out; ash 0.60; pilot 3.0.
    hold = of_bridge(planned())[0]
    bite = (3.5 - 3.0) / (3.5 - 2.4)
    assert hold.bite == pytest.approx(bite)
    assert hold.holds == pytest.approx(bite * 108.25 * 0.60**2 * 3.5 * (24.5 - 2.3 - 3.5), rel=1e-4)
    # K = 44.13 N/mm² for a hardwood of 0.57 to 0.74; 22.2 mm is 6.34 of the 7 diameters wanted.
    assert hold.side_holds == pytest.approx(44.13 * 3.5**2 * 22.2 / (7 * 3.5), rel=1e-3)
    assert not hold.end_grain


def pilot(planned: Planned, **changes: Any) -> tuple[Plan, Bore]:
    plan = planned({f"body.{key}": value for key, value in changes.items()})
    return plan, plan.features.group("bridge screws")[0]


def test_a_pilot_no_wider_than_the_root_lets_the_whole_thread_bite(planned: Planned) -> None:
    plan, bore = pilot(planned)
    (step,) = bore.steps
    narrow = replace(bore, steps=(replace(step, diameter=2.16),))
    hold = hold_of(plan.layout, narrow, pull=100.0, side=0.0)
    assert hold.bite == 1
    assert hold.holds == pytest.approx(108.25 * 0.36 * 3.5 * 18.7, rel=1e-4)
    # Nineteen boards of twenty: specific gravity within two coefficients of variation of 10 %, squared.
    assert hold.times_between == pytest.approx((0.64 * hold.times, 1.44 * hold.times))


def test_end_grain_holds_three_quarters(planned: Planned) -> None:
    plan, bore = pilot(planned)
    side = hold_of(plan.layout, bore, pull=1.0, side=0.0)
    end = hold_of(plan.layout, replace(bore, grain="end"), pull=1.0, side=0.0)
    assert end.holds == pytest.approx(0.75 * side.holds)
    assert end.end_grain


def test_a_cap_holds_by_its_own_timber(planned: Planned) -> None:
    # A cap of maple 6 mm thick over alder: 6 of the thread's 18.7 mm in maple (0.63), the rest in alder (0.41).
    layers = [
        {"name": "cap", "timber": "maple-sugar", "thickness": 6.0},
        {"name": "back", "timber": "alder-red", "thickness": 38.4},
    ]
    plan, bore = pilot(planned, layers=layers)
    hold = hold_of(plan.layout, bore, pull=1.0, side=1.0)
    screw = bore.screw
    assert screw is not None
    bite = (3.5 - bore.deepest.diameter) / (3.5 - 2.4)
    by_hand = bite * 108.25 * 3.5 * (0.63**2 * 6.0 + 0.41**2 * 12.7)
    assert hold.holds == pytest.approx(by_hand, rel=1e-4)
    # Sideways the weaker of the two counts: alder, 23.17 N/mm².
    assert hold.side_holds == pytest.approx(23.17 * 3.5**2 * 22.2 / 24.5, rel=1e-3)
