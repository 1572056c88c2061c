"""Single saddles and headless units against figures worked by hand from the formulas written beside them."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import atan, cos, hypot, pi, sin
from pathlib import Path
from random import Random

import numpy as np
import pytest
import shapely

from scribeline.features import holdings
from scribeline.job import Job, Stated, parse_job
from scribeline.layout import Layout, lay_out, measurables, mirrored
from scribeline.layout.bridges.singles import unit_loads
from scribeline.layout.knobs import knob_places, take_up
from scribeline.plan import Plan, plan
from scribeline.plan.named import quantities
from scribeline.plan.record import record
from scribeline.store.recorded import with_record

from ..as_built import tick
from ..kind_jobs import example, faults_at, restated

JOBS = Path(__file__).parents[1] / "jobs"
SINGLES, HEADLESS = example("single-saddles"), example("headless")
PLATE = (JOBS / "bass.toml").read_text(encoding="utf-8")


def text(of: str = SINGLES, /, **changes: Stated) -> str:
    return restated(of, changes)


def planned(of: str = SINGLES, /, **changes: Stated) -> Plan:
    return plan(*parse_job(text(of, **changes)))


def stepped(of: str = SINGLES, /, **changes: Stated) -> Job:
    """A job whose strings want their saddles 1.0, 1.6, 2.2 … mm past the scale line, for sure."""
    job = parse_job(text(of, **changes)).job
    strings = tuple(
        string.model_copy(update={"setback": 1.0 + 0.6 * n}) for n, string in enumerate(job.document.strings)
    )
    return replace(job, document=job.document.model_copy(update={"strings": strings}))


def close(value: float) -> object:
    return pytest.approx(value, abs=0.0006)


def test_twelve_numbers_of_single_saddles_worked_by_hand() -> None:
    # Worked on paper from the job: nut 43 wide, edge 3.3, gauges .010 to .046; scale 632; strings 10.5 apart; saddles 1.0, 1.6 …
    # 4.0 past the scale line; a base 38 × 9.8, travel 8 to 17, middle 12.5; screws at 4 and 33.5, string's hole at 27.
    layout = lay_out(stepped())
    assert layout.bridge is not None
    units, anchors, holes = layout.bridge.units, layout.bridge.anchors, layout.bridge.string_ends
    # 1  first string at the nut: 43/2 − 3.3 − 0.254/2 = 18.073
    assert layout.strings[0].nut.y == close(18.073)
    # 2  turn of base 1: atan((26.25 − 18.073) / 633.0) = atan(0.0129179) = 0.740°
    assert np.degrees(units[0].turn) == close(0.7401)
    # 3  its front edge from the nut: 633.0 − 12.5 cos 0.7401° = 633.0 − 12.49896 = 620.5010
    assert units[0].front.x == close(620.5010)
    # 4  and across: 26.25 − 12.5 sin 0.7401° = 26.25 − 0.16146 = 26.0885
    assert units[0].front.y == close(26.0885)
    # 5  last string at the nut: −(43/2 − 3.3 − 1.1684/2) = −17.6158; turn atan((−26.25 + 17.6158) / 636.0) = −0.7778°;
    #    front edge 636.0 − 12.5 cos 0.7778° = 623.5012
    assert units[5].front.x == close(623.5012)
    # 6  the line: (620.5010 + 623.5012) / 2 = 622.0011
    assert layout.bridge.middle.x == close(622.0011)
    read = {each.id: each for each in measurables(stepped().document, layout)}
    # 7  base 1 off the line: 620.5010 − 622.0011 = −1.5001
    assert read["line-to-unit-1"].value == close(-1.5001)
    # 8  its own window, 1 mm in hand: ±(4.5 cos 0.7401° − 1) = ±3.4996 about that: −4.9997 to 1.9995
    assert (read["line-to-unit-1"].low, read["line-to-unit-1"].high) == (close(-4.9997), close(1.9995))
    # 9  screw B1: 620.5010 + 4 cos = 624.5007 along; 26.0885 + 4 sin = 26.1402 across
    assert tuple(anchors[0].at) == (close(624.5007), close(26.1402))
    # 10 screw B2: 620.5010 + 33.5 cos = 653.9982 along; 26.0885 + 33.5 sin = 26.5212 across
    assert tuple(anchors[1].at) == (close(653.9982), close(26.5212))
    # 11 string 1's hole: 620.5010 + 27 cos = 647.4987 along; 26.0885 + 27 sin = 26.4373 across
    assert tuple(holes[0]) == (close(647.4987), close(26.4373))
    # 12 travel in hand of saddle 1: half of 9 mm along the centreline, 4.5 cos 0.7401° = 4.4996
    assert (layout.travel.forward[0], layout.travel.back[0]) == (close(4.4996), close(4.4996))


def test_twelve_numbers_of_headless_units_worked_by_hand() -> None:
    # From the job: strings 10.6 apart; a unit 58 long, travel 12 to 22, middle 17; screws at 5 and 36; knobs 9.8 wide from 60 to
    # 78 behind the front edge, their axis 6.4 over the top.
    layout = lay_out(stepped(HEADLESS))
    assert layout.bridge is not None
    units, anchors = layout.bridge.units, layout.bridge.anchors
    # 1  turn of unit 1: atan((26.5 − 18.073) / 633.0) = 0.7627°
    assert np.degrees(units[0].turn) == close(0.7627)
    # 2  front edge: 633.0 − 17 cos 0.7627° = 616.0015
    assert units[0].front.x == close(616.0015)
    # 3  across: 26.5 − 17 sin 0.7627° = 26.2737
    assert units[0].front.y == close(26.2737)
    # 4  unit 6: atan((−26.5 + 17.6158) / 636.0) = −0.8003°; 636.0 − 17 cos = 619.0017
    assert units[5].front.x == close(619.0017)
    # 5  the line: 617.5016
    assert layout.bridge.middle.x == close(617.5016)
    # 6  screw B1: 616.0015 + 5 cos = 621.0011; 26.2737 + 5 sin = 26.3403
    assert tuple(anchors[0].at) == (close(621.0011), close(26.3403))
    # 7  screw B2: 616.0015 + 36 cos = 651.9983; 26.2737 + 36 sin = 26.7529
    assert tuple(anchors[1].at) == (close(651.9983), close(26.7529))
    # 8  unit 1's rear corner on the treble side: 616.0015 + 58 cos − 4.95 sin = 673.9305; 26.2737 + 58 sin + 4.95 cos = 31.9953
    assert tuple(units[0].outline[3]) == (close(673.9305), close(31.9953))
    (first, *_) = knob_places(stepped(HEADLESS).document, layout)
    # 9  the knob's rear end, wound out: middle of its edge 616.0015 + 78 cos = 693.9946 along, 26.2737 + 78 sin = 27.3120 across
    assert tuple(np.mean(first[:2], axis=0)) == (close(693.9946), close(27.3120))
    # 10 and 4.9 either side of that, square to the string
    assert hypot(first[0].x - first[1].x, first[0].y - first[1].y) == close(9.8)
    # 11 travel in hand: 5 cos 0.7627° = 4.9996
    assert layout.travel.forward[0] == close(4.9996)
    # 12 the knob's underside over the top: 6.4 − 9.8/2 = 1.5, so that it clears by 1 and no more than 2
    codes = {each.code for each in planned(HEADLESS).findings}
    assert not codes & {"knobs.near-wood", "knobs.meet-wood"}
    assert "knobs.near-wood" in {each.code for each in planned(HEADLESS, bridge__knob_height=5.8).findings}


@pytest.mark.parametrize("handed", ["right", "left"])
def test_every_base_lies_along_its_string(handed: str) -> None:
    layout = planned(handed=handed).layout
    assert layout.bridge is not None
    for unit, string in zip(layout.bridge.units, layout.strings, strict=True):
        way = np.array([string.saddle.x - string.nut.x, string.saddle.y - string.nut.y])
        off = np.array([unit.front.x - string.nut.x, unit.front.y - string.nut.y])
        assert abs(way[0] * off[1] - way[1] * off[0]) / np.linalg.norm(way) < 1e-9
        assert np.tan(unit.turn) == pytest.approx(way[1] / way[0])


def test_a_left_handed_row_is_the_mirrored_one() -> None:
    right, left = planned().layout.bridge, planned(handed="left").layout.bridge
    assert mirrored(right) == left


def test_windows_against_brute_force() -> None:
    # Each base is pushed along in small steps by plain geometry; where its saddle keeps the reserve at both ends for every set
    # is its window. The whole row likewise, by the line.
    job, random = parse_job(SINGLES).job, Random(20261130)
    for _ in range(300):
        wants = [random.uniform(-1.0, 6.0) for _ in range(6)]
        forward = random.uniform(2.0, 12.0)
        back, reserve = forward + random.uniform(3.0, 12.0), random.uniform(0.0, 1.4)
        document = job.document
        bridge = document.bridge.model_copy(
            update={
                key: getattr(document.bridge, key).__class__(value, 0.05, measured=True)
                for key, value in (("saddle_forward", forward), ("saddle_back", back))
            }
        )
        strings = tuple(
            string.model_copy(update={"setback": want})
            for string, want in zip(document.strings, wants, strict=True)
        )
        bench = document.bench.model_copy(update={"saddle_reserve": reserve})
        layout = lay_out(
            replace(
                job,
                document=document.model_copy(update={"bridge": bridge, "strings": strings, "bench": bench}),
            )
        )
        assert layout.bridge is not None
        read = {
            each.id: each
            for each in measurables(replace(job).document.model_copy(update={"bench": bench}), layout)
        }
        line, fine = layout.bridge.middle.x, 0.02
        shifts = np.arange(-8.0, 8.0, fine)
        together = np.ones(len(shifts), dtype=bool)
        for n, want in enumerate(wants):
            slope = (layout.strings[n].saddle.y - layout.strings[n].nut.y) / (632.0 + want)
            ratio = 1 / hypot(1.0, slope)
            front = layout.bridge.units[n].front.x + shifts
            keeps = (front + forward * ratio + reserve <= 632.0 + want) & (
                front + back * ratio - reserve >= 632.0 + want
            )
            together &= keeps
            own = front[keeps] - line
            check = read[f"line-to-unit-{n + 1}"]
            if len(own):
                assert own.min() == pytest.approx(check.low, abs=fine + 1e-9)
                assert own.max() == pytest.approx(check.high, abs=fine + 1e-9)
            else:
                assert check.high - check.low < fine
        found = 632.0 + layout.window.low - line, 632.0 + layout.window.high - line
        if together.any():
            assert shifts[together].min() == pytest.approx(found[0], abs=fine + 1e-9)
            assert shifts[together].max() == pytest.approx(found[1], abs=fine + 1e-9)


def test_a_base_for_each_string_needs_less_travel_than_a_row_in_one_piece() -> None:
    # Saddles wanted 1.0 to 4.0 past the scale line: in one piece 3.0 of the travel goes on the spread, on bases none.
    layout = lay_out(stepped())
    assert layout.travel.reserve == pytest.approx(4.5, abs=0.001)


def test_a_string_pulls_its_own_base_as_statics_say() -> None:
    made = planned(bridge__loading="top-load")
    layout, found = made.layout, unit_loads(made.job.document, made.layout)
    assert layout.bridge is not None
    assert found is not None
    for load, string, unit in zip(found, layout.strings, layout.bridge.units, strict=True):
        # Moments about the front edge, as a cross product in the plane of the string: pull T from the saddle to the nut.
        way = np.array([string.nut.x - string.saddle.x, string.nut.z - string.saddle.z])
        pull = string.tension_n * way / np.linalg.norm(way)
        arm = hypot(string.saddle.x - unit.front.x, string.saddle.y - unit.front.y), string.saddle.z
        assert load.forward == pytest.approx(-pull[0])
        assert load.lift == pytest.approx(arm[0] * pull[1] - arm[1] * pull[0])
    held = next(
        each
        for each in holdings(made.job.document, layout, made.features.bores)
        if each.group == "bridge screws"
    )
    for n, load in enumerate(found):
        near, far = held.holds[2 * n : 2 * n + 2]
        # Two screws 4.0 and 33.5 from the front edge balance the lift, each in proportion to its distance.
        assert 4.0 * near.pull + 33.5 * far.pull == pytest.approx(load.lift)
        assert far.pull / near.pull == pytest.approx(33.5 / 4.0)
        assert near.side == far.side == pytest.approx(load.forward / 2)
    through = unit_loads(planned().job.document, planned().layout)
    assert through is not None
    # Through the base into the body the end pulls down 27 mm behind the edge, with e^(−0.2 π/2) of the tension.
    drop = found[0].lift - through[0].lift
    assert drop == pytest.approx(layout.strings[0].tension_n * np.exp(-0.1 * pi) * 27.0)


def test_gaps_between_bases_are_told() -> None:
    # Strings 10.5 apart and bases 9.8 wide leave about 0.7; shapely measures what is left between the outlines.
    codes = {each.code for each in planned().findings}
    assert not codes & {"singles.bases-close", "singles.bases-meet"}
    for width, code, severity in (
        (10.1, "singles.bases-close", "caution"),
        (11.0, "singles.bases-meet", "stop"),
    ):
        made = planned(bridge__base_width=width)
        (found,) = (each for each in made.findings if each.code == code)
        assert found.severity == severity
        assert made.layout.bridge is not None
        shapes = [shapely.Polygon(unit.outline) for unit in made.layout.bridge.units]
        if severity == "caution":
            assert found.value == pytest.approx(min(a.distance(b) for a, b in pairwise(shapes)))
        else:
            assert found.value == pytest.approx(10.5 - 11.0, abs=0.15)


def test_a_drilled_base_stays_where_it_is_and_the_others_go_on() -> None:
    # Base 2 is drilled; then the scale turns out 1 mm longer, and the other five are not drilled.
    before = planned()
    card = next(each for each in before.cards if each.id == "drill-bridge-screws")
    done = tick(card, before, ("bridge-screw-3", "bridge-screw-4"))
    after = plan(*parse_job(with_record(text(scale__length=633), [done], ())))
    was, now = before.layout.bridge, after.layout.bridge
    assert was is not None
    assert now is not None
    assert now.units[1].front == pytest.approx(was.units[1].front, abs=1e-4)
    for n in (0, 2, 3, 4, 5):
        assert now.units[n].front.x - was.units[n].front.x == pytest.approx(1.0, abs=0.05)
    assert before.layout.travel.back[1] - after.layout.travel.back[1] == pytest.approx(1.0, abs=0.05)
    assert after.layout.travel.back[2] == pytest.approx(before.layout.travel.back[2], abs=0.05)
    assert after.layout.held is not None
    assert after.layout.held.holes == ("bridge-screw-3", "bridge-screw-4")
    told = quantities(after)
    assert told["unit-2.x"].value == pytest.approx(now.units[1].front.x)


def test_strings_may_come_up_behind_the_bases() -> None:
    # Behind the base nothing guides the bit, and the base hides no hole.
    made = planned(bridge__string_hole_from_front=52.0)
    assert made.job.document.bridge.guide is None
    assert made.features.family("string-hole")
    hole = planned(bridge__string_hole_from_front=38.5)
    assert "singles.hole-under-edge" in {each.code for each in hole.findings}


def test_knobs_meet_wood_and_a_recess_or_the_edge_frees_them() -> None:
    # An axis 2.0 over the top puts the underside of a knob 9.8 wide 2.9 into the wood.
    made = planned(HEADLESS, bridge__knob_height=2.0)
    (found,) = (each for each in made.findings if each.code == "knobs.meet-wood")
    assert found.severity == "stop"
    assert found.value == pytest.approx(2.0 - 4.9)

    # The body cut down by 6 from before the knobs to beyond the tail frees them: 2.0 − 4.9 + 6.0 = 3.1.
    def cut_down(to: int, height: float) -> set[str]:
        area = f"outline = [[672, -36], [{to}, -36], [{to}, 36], [672, 36]]"
        step = f'[body.top]\nkind = "stepped"\nareas = [{{ name = "knob shelf", {area}, height = -6.0 }}]\n\n[finish]'
        freed = text(HEADLESS, bridge__knob_height=height).replace("[finish]", step, 1)
        return {each.code for each in plan(*parse_job(freed)).findings}

    assert not {"knobs.meet-wood", "knobs.near-wood", "knobs.no-room"} & cut_down(760, 2.0)
    # Where it ends behind the knobs, 6 past their rear ends, its wall stands in the fingers' way.
    codes = cut_down(700, -1.0)
    assert "knobs.no-room" in codes
    assert "knobs.near-wood" in codes  # −1.0 − 4.9 + 6.0 = 0.1


def test_what_a_tuner_takes_up() -> None:
    # T L / (E A) of the plain first string: T = 4 L² f² μ with E4 329.63 Hz, steel 7850 kg/m³, .010 in; E 200 GPa is usual for
    # music wire (from memory): 4 · 0.632² · 329.63² · 7850 (m) … over E is 4 L³ f² ρ / E, whatever the gauge.
    expected = 1e3 * 4 * 0.633**2 * 0.633 * 329.63**2 * 7850 / 200e9
    (found,) = take_up(planned(HEADLESS).layout).values()
    assert found[0] == pytest.approx(expected, rel=0.05)
    assert max(found) < 11.0 - 3.0
    made = planned(HEADLESS, bridge__tuner_travel=6.0)
    (short,) = (each for each in made.findings if each.code == "knobs.tuner-short")
    assert short.value == pytest.approx(6.0 - max(found))


def test_a_plate_may_be_headless_too() -> None:
    knobs = "knob_diameter = 12.0\nknob_height = 3.0\nknob_front = 46\nknob_back = 66\ntuner_travel = 12\n"
    of = text(PLATE, bridge__loading="top-load").replace("[bridge]\n", f"[bridge]\n{knobs}", 1)
    made = planned(of)
    (found,) = (each for each in made.findings if each.code == "knobs.meet-wood")
    assert found.value == pytest.approx(3.0 - 6.0)
    assert made.layout.bridge is not None
    first, second, *_ = knob_places(made.job.document, made.layout)
    assert np.mean(first, axis=0)[1] - np.mean(second, axis=0)[1] == pytest.approx(18.5)


WRONG: tuple[tuple[str, dict[str, Stated], str], ...] = (
    ("bridge", {"bridge__screws": [[40.0, 0.0]]}, "not on the base"),
    (
        "bridge_screw.length",
        {"bridge_screw__length": 7.0, "bridge__base_thickness": 8.0},
        "does not get through",
    ),
    ("bridge.knob_height", {"bridge__knob_diameter": 10.0}, "tuning knobs are stated"),
    ("bridge.loading", {"bridge__knob_diameter": 10.0}, "end in it"),
)


@pytest.mark.parametrize(("where", "changes", "words"), WRONG)
def test_what_does_not_go_together_is_told(where: str, changes: dict[str, Stated], words: str) -> None:
    told = faults_at(text(SINGLES, **changes), where)
    assert any(words in each for each in told), told


def test_the_record_and_the_steps_name_every_base() -> None:
    made = planned()
    units = record(made)["bridge"]["units"]
    assert [each["id"] for each in units] == [f"unit-{n}" for n in range(1, 7)]
    assert made.layout.bridge is not None
    for each, unit in zip(units, made.layout.bridge.units, strict=True):
        assert list(each["front"]) == pytest.approx(list(unit.front), abs=1e-4)
    card = next(each for each in made.cards if each.id == "set-row-of-saddles")
    assert [ask.id for ask in card.gate.asks] == ["12th-to-line", *(f"line-to-unit-{n}" for n in range(1, 7))]
    assert not [each.id for each in made.cards if " " in each.id]


def test_the_turn_is_the_strings_own() -> None:
    layout: Layout = planned().layout
    assert layout.bridge is not None
    assert layout.bridge.units[0].turn == pytest.approx(
        atan((26.25 - 18.073) / layout.strings[0].saddle.x), abs=1e-6
    )
    assert sin(layout.bridge.units[0].turn) > 0 > sin(layout.bridge.units[-1].turn)
    assert cos(layout.bridge.turn) == 1.0


BASS_SCREWS = {
    5: [[50.0, -33.0], [50.0, -18.6], [50.0, 0.0], [50.0, 18.6], [50.0, 33.0]],
    6: [[8.0, -33.0], [8.0, 33.0], [50.0, -33.0], [50.0, 33.0], [70.0, -18.0], [70.0, 18.0]],
    7: [[8.0, -33.0], [8.0, 33.0], [50.0, -33.0], [50.0, 0.0], [50.0, 33.0], [70.0, -18.0], [70.0, 18.0]],
}


@pytest.mark.parametrize("spacing", [16.0, 18.0, 20.0])
@pytest.mark.parametrize("screws", BASS_SCREWS)
def test_a_long_bass_plate_plans_clean(spacing: float, screws: int) -> None:
    # A plate 74 long on four strings; its screws share Σ T alike, and a lift as their distance behind the front edge.
    made = planned(
        (JOBS / "stepped.toml").read_text(encoding="utf-8"),
        bridge__spacing=spacing,
        bridge__screws=BASS_SCREWS[screws],
    )
    assert not [each.code for each in made.findings if each.severity == "stop"]
    assert not {
        each.code for each in made.findings if each.code.startswith(("bridge.", "string-holes.", "ferrules."))
    }
    (held,) = (
        each
        for each in holdings(made.job.document, made.layout, made.features.bores)
        if each.group == "bridge screws"
    )
    # Level strings within a degree: the pull along is the tensions' sum.
    assert sum(hold.side for hold in held.holds) == pytest.approx(
        sum(string.tension_n or 0.0 for string in made.layout.strings), rel=1e-3
    )
    assert len({round(hold.side, 9) for hold in held.holds}) == 1
    assert len(held.holds) == screws
    across = [anchor.at.y for anchor in made.layout.bridge.anchors] if made.layout.bridge else []
    assert sum(across) == pytest.approx(0.0, abs=1e-9)
