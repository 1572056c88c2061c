"""What the strings ask of the bridge's screws, against statics worked by hand and a stiff plate on springs.

Strength: Wood Handbook FPL-GTR-282, Eq. (8-10) and chapter 8, worked by hand. Load: plain statics, docs/holding.md.
"""

from dataclasses import replace
from math import exp, pi
from typing import Any

import numpy as np
import pytest

from scribeline.features import Bore, Hold, heel_lift, heel_screw, hold_of, holdings
from scribeline.job import JobError, parse_job
from scribeline.layout.bridges.plate import plate_load
from scribeline.plan import Plan

from ..conftest import Edit, Planned


def of_bridge(plan: Plan) -> tuple[Hold, ...]:
    (held,) = holdings(plan.job.document, plan.layout, plan.features.bores)
    assert held.group == "bridge screws"
    return held.holds


def test_strings_through_the_body_press_the_plate_down(planned: Planned) -> None:
    plan = planned()
    load = plate_load(plan.job.document, plan.layout)
    assert load is not None
    # By hand: each string T; lift = T (12.7 - 31.5 e^(-0.1 pi)) within the string's slope, 1.9 mm in 640.
    tension = sum(string.tension_n or 0.0 for string in plan.layout.strings)
    by_hand = tension * (12.7 - 31.5 * exp(-0.2 * pi / 2))
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
    return plan, plan.features.family("bridge-screw")[0]


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


TOP_LOAD: dict[str, Any] = {
    "bridge.loading": "top-load",
    "bridge.string_hole": None,
    "bridge.string_holes_from_front": None,
    "ferrules": None,
}


def test_a_top_loaded_plate_is_lifted_by_the_whole_lever(planned: Planned) -> None:
    plan = planned(TOP_LOAD)
    load = plate_load(plan.job.document, plan.layout)
    assert load is not None
    tension = sum(string.tension_n or 0.0 for string in plan.layout.strings)
    # The pull at the saddles' height, 12.7 mm; the strings' slope, 1.9 mm in 640, changes it by under 1 %.
    assert load.lift == pytest.approx(tension * 12.7, rel=0.01)
    # Four screws in one row 38 mm behind the front edge share it evenly.
    for hold in of_bridge(plan):
        assert hold.pull == pytest.approx(load.lift / (4 * 38.0))
        assert hold.times == pytest.approx(hold.holds / hold.pull)


def stiff_plate(lift: float, length: float, screws: list[float]) -> list[float]:
    """Pulls on the screws of a stiff plate on a bed that can only press, found by trying where it touches.

    The bed is ten thousand times as stiff as a screw; unknown are the plate's rise and turn.
    """
    bed = np.linspace(0.0, length, 1001)
    touching = np.zeros(len(bed), dtype=bool)
    touching[:1] = True
    for _ in range(100):
        places = np.concatenate([np.array(screws), bed[touching]])
        stiff = np.concatenate([np.ones(len(screws)), np.full(int(touching.sum()), 1e4)])
        matrix = np.array([[stiff.sum(), stiff @ places], [stiff @ places, stiff @ places**2]])
        rise, turn = np.linalg.solve(matrix, [0.0, lift])
        now = rise + turn * bed < 0
        now[0] = True
        if (now == touching).all():
            break
        touching = now
    return [rise + turn * x for x in screws]


def test_the_pulls_are_those_of_a_stiff_plate_on_a_hard_bed(planned: Planned) -> None:
    screws = [[38.0, -29.0], [38.0, 29.0], [12.0, -20.0], [25.0, 0.0]]
    plan = planned(TOP_LOAD | {"bridge.screws": screws})
    load = plate_load(plan.job.document, plan.layout)
    assert load is not None
    expected = stiff_plate(load.lift, 44.0, [x for x, _ in screws])
    # The bed gives a little, so the plate turns a little behind its front edge: within 1 %.
    assert [hold.pull for hold in of_bridge(plan)] == pytest.approx(expected, rel=0.01)


def test_a_top_loaded_plate_needs_neither_holes_nor_ferrules(planned: Planned) -> None:
    plan = planned(TOP_LOAD)
    assert {bore.group for bore in plan.features.bores} == {"bridge screws", "ground wire"}
    assert not plan.stops
    titles = [card.title for card in plan.cards]
    assert not [title for title in titles if "errule" in title or "string" in title]
    assert titles[-1] == "Screw the plate down"


@pytest.mark.parametrize("key", ["bridge.string_hole", "bridge.string_holes_from_front", "ferrules"])
def test_strings_through_the_body_need_them(edited: Edit, key: str) -> None:
    with pytest.raises(JobError) as refused:
        parse_job(edited({key: None}))
    (fault,) = refused.value.faults
    assert fault.path == key
    assert fault.sentence.startswith("is missing; ")
    assert 'loading = "top-load"' in fault.sentence


def test_screws_too_short_to_hold_stop_the_work_and_longer_ones_mend_it(planned: Planned) -> None:
    # 9 - 2.3 = 6.7 mm in the wood, of which the point is 3.5: 3.2 mm of thread.
    short = planned(TOP_LOAD | {"bridge_screw.length": 9.0, "body.timber": "cedar-northern-white"})
    codes = {finding.code: finding for finding in short.findings}
    weak, slips = codes["holding.weak"], codes["holding.slips"]
    hold = min(of_bridge(short), key=lambda h: h.times)
    assert weak.value == pytest.approx(hold.times)
    assert weak.severity == ("stop" if hold.times < 2.5 else "caution")
    assert "estimate" in weak.message
    # 6.7 is under four diameters: the lateral rule says nothing, so nothing is claimed.
    assert slips.severity == "stop"
    assert slips.value == 0
    mended = planned(TOP_LOAD | {"bridge_screw.length": 24.5})
    assert not [finding for finding in mended.findings if finding.code.startswith("holding")]


def test_a_builders_own_factor_holds(planned: Planned) -> None:
    # The demo's screws hold about 34 times a top-loaded pull.
    times = of_bridge(planned(TOP_LOAD))[0].times
    own = {"limits.screw_hold": {"stop": times + 1, "caution": times + 2}}
    (weak,) = [f for f in planned(TOP_LOAD | own).findings if f.code == "holding.weak"]
    assert weak.severity == "stop"
    assert weak.source.startswith("your own limit, limits.screw_hold")


def test_the_reasons_tell_the_estimate(planned: Planned) -> None:
    why = " ".join(reason.text for reason in planned(TOP_LOAD).features.family("bridge-screw")[0].why)
    assert "estimate: the strings pull the plate towards the nut with" in why
    assert "in nineteen boards of twenty" in why


BUTTON: dict[str, Any] = {
    "name": "tail",
    "near": [752, 0],
    "under_head": 10.0,
    "screw": {"thread": 4.0, "root": 2.8, "length": 32.0},
}


def button(plan: Plan) -> Hold:
    held = next(
        held
        for held in holdings(plan.job.document, plan.layout, plan.features.bores)
        if held.group == "strap buttons"
    )
    assert held.name == "tail strap button's screw"
    return held.holds[0]


def test_a_strap_button_in_end_grain_by_hand(planned: Planned) -> None:
    plan = planned({"strap_buttons": [BUTTON], "masses": [{"name": "neck", "grams": 900, "at": [200, 0]}]})
    hold = button(plan)
    (bore,) = plan.features.family("strap-button")
    # Ash 0.60; 32 - 10 mm in the wood, its point of 4.0 left out; three quarters in end grain.
    bite = min(1.0, (4.0 - bore.deepest.diameter) / (4.0 - 2.8))
    assert hold.end_grain
    assert hold.holds == pytest.approx(bite * 0.75 * 108.25 * 0.36 * 4.0 * 18.0, rel=1e-4)
    # The uncut blank (0.60 at 12 %: 672 kg/m³) and 0.9 kg on it, five times.
    xs, ys = np.array(plan.layout.outline).T
    area = abs(float(xs @ np.roll(ys, -1) - ys @ np.roll(xs, -1))) / 2
    kilograms = area * 44.4e-9 * 672 + 0.9
    assert hold.pull == pytest.approx(5 * 9.80665 * kilograms, rel=1e-6)
    codes = [finding.code for finding in plan.findings]
    assert "holding.end-grain" in codes


def test_a_short_strap_screw_in_soft_wood_is_told(planned: Planned) -> None:
    short = BUTTON | {"screw": BUTTON["screw"] | {"length": 18.0}}
    plan = planned({"strap_buttons": [short], "body.timber": "basswood-american"})
    (weak,) = [finding for finding in plan.findings if finding.code == "holding.weak"]
    # 4 mm of thread: 108.25 × 0.37² × 4 × 4 × 0.75 = 178 N at the most, under some 200 N.
    assert weak.severity == "stop"
    assert weak.value == pytest.approx(button(plan).times)
    assert weak.message.startswith("estimate: the tail strap button's screw holds the pull")


def test_the_necks_screws_by_hand(planned: Planned) -> None:
    # Two rows of two, 14 and 52 mm from the end wall; the pocket is 16 deep.
    screws = {
        "places": [[14.0, -19.0], [14.0, 19.0], [52.0, -19.0], [52.0, 19.0]],
        "thread": 4.5,
        "root": 3.2,
        "length": 45.0,
    }
    plan = planned({"neck_screws": screws, "neck.timber": "maple-sugar"})
    lift = heel_lift(plan.job.document, plan.layout)
    assert lift is not None
    tension = sum(string.tension_n or 0.0 for string in plan.layout.strings)
    # The strings rise from 10.8 at the nut to 12.7 at the saddle: 12.2 mm over the top at the end wall.
    assert lift == pytest.approx(tension * (12.2 + 16.0), rel=0.005)
    held = next(
        h for h in holdings(plan.job.document, plan.layout, plan.features.bores) if h.group == "neck screws"
    )
    squares = 2 * (14.0**2 + 52.0**2)
    pulls = sorted(hold.pull for hold in held.holds)
    assert pulls == pytest.approx([lift * x / squares for x in (14.0, 14.0, 52.0, 52.0)])
    # 45 long through 44.4 - 16 of body: 16.6 in the heel, its point of 4.5 left out; maple 0.63.
    bite = min(1.0, (4.5 - heel_bit(plan)) / (4.5 - 3.2))
    assert held.worst.holds == pytest.approx(bite * 108.25 * 0.63**2 * 4.5 * 12.1, rel=1e-4)


def heel_bit(plan: Plan) -> float:
    heel = heel_screw(plan.job.document)
    assert heel is not None
    return heel.bit.diameter
