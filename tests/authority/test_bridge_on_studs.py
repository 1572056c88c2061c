"""A fixed bridge on two studs, against figures and mechanics from outside: where it stands, what its bushings bear."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import atan, cos, hypot, sin
from pathlib import Path

import numpy as np
import pytest

from scribeline.features import holdings
from scribeline.job import Job, Stated, parse_job
from scribeline.layout import lay_out, mirrored
from scribeline.layout.bridges.studs import stud_load
from scribeline.plan import Plan, plan
from scribeline.plan.named import quantities
from scribeline.plan.record import record
from scribeline.store.recorded import with_record
from scribeline.strings import place_studs
from scribeline.tables import bearing_across_grain, bearing_along_grain, pole_load

from ..as_built import tick
from ..kind_jobs import example, faults_at, restated

TEXT = example("two-studs")
PSI = 4.4482216152605 / 25.4**2


def text(**changes: Stated) -> str:
    return restated(TEXT, changes)


def planned(**changes: Stated) -> Plan:
    return plan(*parse_job(text(**changes)))


def straight(*, handed: str = "right") -> Job:
    """A job whose strings want their saddles on a straight line: 3.0 mm further back over 52.5 mm across."""
    job = parse_job(text(bridge__spacing=10.5, bridge__stud_spacing=74.0, handed=handed)).job
    strings = tuple(
        string.model_copy(update={"setback": 1.0 + 0.6 * n}) for n, string in enumerate(job.document.strings)
    )
    return replace(job, document=job.document.model_copy(update={"strings": strings}))


# Dowel bearing strength of the National Design Specification for Wood Construction, table for lag screws and bolts,
# from memory; the table is rounded to 50 psi. Columns: specific gravity, along the grain, across it for 1/2 in and 3/4 in.
NDS = ((0.42, 4700, 2450, 2000), (0.50, 5600, 3150, 2600), (0.55, 6150, 3650, 2950))


@pytest.mark.parametrize(("gravity", "along", "half", "three_quarters"), NDS)
def test_wood_bears_a_pin_as_the_table_says(
    gravity: float, along: float, half: float, three_quarters: float
) -> None:
    assert bearing_along_grain(gravity) / PSI == pytest.approx(along, abs=25.5)
    assert bearing_across_grain(gravity, 12.7) / PSI == pytest.approx(half, abs=25.5)
    assert bearing_across_grain(gravity, 19.05) / PSI == pytest.approx(three_quarters, abs=25.5)


@pytest.mark.parametrize(("length", "height"), [(20.0, 14.0), (20.0, 0.0), (25.0, 6.0)])
def test_a_stiff_pin_crushes_the_wood_where_statics_say(length: float, height: float) -> None:
    # Statics alone: a load per length a + b z along a rigid pin balances 1 N at `height` over the wood; solved as two
    # linear equations, forces and moments about the surface.
    force = [length, length**2 / 2]
    moment = [length**2 / 2, length**3 / 3]
    a, _ = np.linalg.solve([force, moment], [1.0, -height])
    assert pole_load(30.0, diameter=11.1, length=length, height=height) == pytest.approx(30.0 * 11.1 / a)


@pytest.mark.parametrize("bad", [0.0, -1.0, float("inf"), float("nan")])
def test_a_pin_of_no_size_is_refused(bad: float) -> None:
    with pytest.raises(ValueError, match="cannot be used"):
        pole_load(30.0, diameter=bad, length=20.0, height=1.0)
    with pytest.raises(ValueError, match="gravity"):
        bearing_along_grain(bad)


@pytest.mark.parametrize("handed", ["right", "left"])
def test_the_studs_stand_where_the_saddles_line_wants_them(handed: str) -> None:
    # Plane geometry, worked by hand: a line that falls back 3.0 mm over 52.5 mm is turned by atan(3.0 / 52.5), 3.27°;
    # studs 74.0 mm apart on it differ by 74.0 sin of that along, 4.22 mm. Every saddle then stands midway in its travel.
    layout = lay_out(straight(handed=handed))
    assert layout.bridge is not None
    turn = atan(3.0 / 52.5)
    treble, bass = (anchor.at for anchor in layout.bridge.anchors)
    assert bass.x - treble.x == pytest.approx(74.0 * sin(turn), abs=1e-9)
    assert hypot(bass.x - treble.x, bass.y - treble.y) == pytest.approx(74.0)
    assert treble.y * layout.treble == pytest.approx(37.0 * cos(turn))
    assert layout.bridge.turn * layout.treble == pytest.approx(turn)
    # The middle of the travel, (−4.2 + 4.0) / 2 from the line of the studs, lies on the saddles' line at the middle.
    assert layout.bridge.middle.x == pytest.approx(632.0 + 1.0 + 1.5 + 0.1 * cos(turn), abs=2e-3)
    assert layout.travel.reserve == pytest.approx(8.2 * cos(turn) / 2, abs=5e-3)
    # The least-squares line through places that lie on one is that line.
    wanted = [1.0 + 0.6 * n for n in range(6)]
    line = place_studs(wanted, [10.5 * (2.5 - n) for n in range(6)], 74.0)
    assert np.radians(line.slant_deg) == pytest.approx(turn)


def test_a_stated_slant_is_kept_and_square_is_square() -> None:
    for slant in (0.0, 2.5):
        layout = planned(bridge__slant=slant).layout
        assert layout.bridge is not None
        treble, bass = (anchor.at for anchor in layout.bridge.anchors)
        assert bass.x - treble.x == pytest.approx(slant, abs=1e-9)
    assert planned().layout.travel.reserve > planned(bridge__slant=0.0).layout.travel.reserve


def test_the_window_and_the_travel_agree_on_a_slanted_bridge() -> None:
    layout = planned(bridge__slant=4.0).layout
    window, travel = layout.window, layout.travel
    assert travel.reserve == pytest.approx(window.reserve, abs=1e-9)
    assert travel.forward == pytest.approx(window.forward, abs=1e-9)
    assert travel.back == pytest.approx(window.back, abs=1e-9)


def test_bushing_holes_are_drilled_for_their_press() -> None:
    # Common practice, no source: mahogany is of medium hardness and takes 0.12 to 0.20 mm; a hole is 1 mm deeper.
    made = planned()
    for bore in made.features.family("bridge-stud"):
        (step,) = bore.steps
        assert 11.3 - 0.20 <= step.diameter <= 11.3 - 0.12
        assert step.depth == pytest.approx(21.0)
        assert step.bit.owned
    sprayed = planned(finish__holes="sprayed")
    # A film of 0.12 mm narrows a hole by 0.24 mm: none of the bits owned is right any more.
    (wanted, _) = sprayed.features.family("bridge-stud")
    assert wanted.deepest.diameter == pytest.approx(11.3 - 0.16 + 0.24, abs=0.05)
    assert "bits.missing" in {each.code for each in sprayed.findings}


def test_the_strings_push_the_studs_as_statics_say() -> None:
    made = planned()
    load = stud_load(made.job.document, made.layout)
    assert load is not None
    pull = np.zeros(2)
    for string in made.layout.strings:
        way = np.array([string.saddle.x - string.nut.x, string.nut.z - string.saddle.z])
        assert string.tension_n is not None
        pull += string.tension_n * way / np.linalg.norm(way)
    assert load == pytest.approx(tuple(pull))
    (held,) = (
        each
        for each in holdings(made.job.document, made.layout, made.features.bores)
        if each.group == "bridge studs"
    )
    for hold in held.holds:
        assert hold.side == pytest.approx(pull[0] / 2)
        # Mahogany, G 0.50 at 12 %: 77.2 G, on 11.3 × 20 mm pushed 14.2 mm over the wood.
        strength = bearing_along_grain(made.layout.body.layers[0].timber.gravity)
        assert hold.side_holds == pytest.approx(strength * 11.3 * 20 / (4 + 6 * 14.2 / 20))


def test_strings_through_the_body_push_less_and_press_down() -> None:
    ends: dict[str, Stated] = {
        "bridge__loading": "through-body",
        "bridge__string_holes_from_studs": 22.0,
        "ferrules__part": "lipped",
    }
    over, through = planned(), planned(**ends)
    a, b = (stud_load(each.job.document, each.layout) for each in (over, through))
    assert a is not None
    assert b is not None
    assert 0 < b.forward < a.forward
    assert b.up < a.up < 0.1 * a.forward
    rows = through.features.family("string-hole")
    assert len(rows) == 6
    # On the bridge's own row, square to its slanted way: neighbours keep the strings' spacing.
    for one, other in pairwise(rows):
        assert hypot(one.at.x - other.at.x, one.at.y - other.at.y) == pytest.approx(10.4)
    assert "studs.holes-under-bridge" in {
        each.code for each in planned(**{**ends, "bridge__string_holes_from_studs": 11.0}).findings
    }


def test_wood_before_a_stud_is_asked_for() -> None:
    codes = {each.code: each for each in planned(**{"pockets[1].centre[1]": -33}).findings}
    near = codes["studs.near-cavity"]
    bore, pocket = near.features
    assert bore.startswith("bridge-stud")
    assert pocket == "bridge-pickup"
    assert near.value is not None
    # Plane geometry: the cavity's tail wall lies 13 mm before the scale line, reaching 36 mm across; the bushing beside it.
    made = planned(**{"pockets[1].centre[1]": -33})
    stud = next(each for each in made.features.bores if each.id == bore)
    beside = max(0.0, abs(stud.at.y) - (36.0 - 4.0))
    corner = hypot(stud.at.x - (632.0 - 13.0 - 4.0), beside) - 4.0 - stud.widest / 2
    assert near.value * stud.widest == pytest.approx(corner, abs=0.05)
    assert "wood.run-together" in {each.code for each in planned(**{"pockets[1].centre[1]": -16}).findings}


def test_a_neck_above_the_saddles_lifts_the_bridge() -> None:
    assert "studs.lifted" not in {each.code for each in planned().findings}
    raised = planned(neck__pocket_depth="12.0 +/- 0.1", bridge__saddle_height=12.0)
    assert "studs.lifted" in {each.code for each in raised.findings}


def test_a_slant_the_wrong_way_is_told() -> None:
    assert "studs.slanted-backwards" in {each.code for each in planned(bridge__slant=-3.0).findings}
    assert "studs.slanted-backwards" not in {each.code for each in planned(bridge__slant=3.0).findings}


def test_soft_wood_is_crushed_by_short_bushings() -> None:
    weak = planned(body__timber="basswood", bridge__bushing_length=9.0)
    told = {each.code: each for each in weak.findings}
    assert told["holding.leans"].severity in {"caution", "stop"}


def test_drilled_bushing_holes_hold_the_bridge() -> None:
    before = planned()
    card = next(each for each in before.cards if each.id == "drill-bridge-studs")
    after = plan(*parse_job(with_record(text(scale__length=633), [tick(card, before)], ())))
    assert after.layout.held is not None
    assert after.layout.held.by == "bushing holes"
    assert before.layout.bridge is not None
    assert after.layout.bridge is not None
    for was, now in zip(before.layout.bridge.anchors, after.layout.bridge.anchors, strict=True):
        assert now.at == pytest.approx(was.at, abs=1e-4)
    assert record(after)["bridge"]["held"]["by"] == "bushing holes"
    assert "bridge.held-off-aim" in {each.code for each in after.findings}


def test_the_left_hand_is_the_mirror() -> None:
    right, left = planned().layout, planned(handed="left").layout
    assert mirrored(right).bridge == left.bridge


def test_the_cards_come_in_order() -> None:
    made = planned()
    place = {card.id: card.no for card in made.cards}
    assert place["fit-neck"] < place["set-bridge"] < place["set-bridge-2"] < place["drill-bridge-studs"]
    assert place["scrap-bushing"] < place["drill-bridge-studs"] < place["finish"]
    assert place["finish"] < place["press-bushings"] < place["fit-hardware"]
    gates = {card.id: card.gate.measurable for card in made.cards}
    assert gates["set-bridge"] == "12th-to-treble-stud"
    assert gates["set-bridge-2"] == "12th-to-bass-stud"


def test_its_numbers_have_names() -> None:
    made = planned()
    named = quantities(made)
    assert made.layout.bridge is not None
    for number, anchor in enumerate(made.layout.bridge.anchors, start=1):
        assert named[f"bridge.stud-{number}-x"].value == pytest.approx(anchor.at.x, abs=1e-9)
        assert named[f"bridge-stud-{number}.x"].value == pytest.approx(anchor.at.x, abs=1e-9)
    for check in made.measurables:
        assert named[check.id].value == pytest.approx(check.value, abs=1e-9), check.id
        assert named[check.id].formula, check.id
    window = made.layout.window
    assert named["bridge.window-low"].value == pytest.approx(632.0 + window.low, abs=1e-9)
    assert named["bridge.reserve"].value == pytest.approx(made.layout.travel.reserve, abs=1e-9)


def test_a_plate_may_say_that_it_is_one() -> None:
    plain = (Path(__file__).parents[1] / "jobs" / "bass.toml").read_text(encoding="utf-8")
    said = plain.replace("[bridge]", '[bridge]\nkind = "plate"')
    assert said != plain
    one, other = (record(plan(*parse_job(each))) for each in (said, plain))
    for each in (one, other):
        del each["quantities"]  # they tell the lines of the file that they stand on
    assert one == other


WRONG: tuple[tuple[str, dict[str, Stated], str], ...] = (
    ("bridge", {"bridge__kind": "post"}, "'plate', "),
    ("bridge.stud_spacing", {"bridge__stud_spacing": 60.0}, "among the strings"),
    ("bridge", {"bridge__overall_width": 70.0}, "more than stud_spacing"),
    ("bridge.string_holes_from_studs", {"bridge__loading": "through-body"}, "is missing"),
    ("bridge.bushing_size", {"bridge__bushing_size": 11}, "did you mean"),
    ("bridge_screw", {"bridge_screw__part": "3.5 x 25"}, "hangs on studs"),
)


@pytest.mark.parametrize(("path", "changes", "words"), WRONG)
def test_what_does_not_go_together_is_told(path: str, changes: dict[str, Stated], words: str) -> None:
    told = faults_at(text(**changes), path)
    assert any(words in each for each in told), told


def test_the_usual_one_of_the_parts_book_can_be_planned() -> None:
    start, _, rest = TEXT.partition("[bridge]\n")
    part = 'kind = "studs"\npart = "two studs, six strings"\n\n[[pockets]]'
    usual = plan(*parse_job(f"{start}[bridge]\n{part}{rest.partition('[[pockets]]')[2]}"))
    assert usual.layout.bridge is not None
    assert "typical.bridge" in {each.code for each in usual.findings}
