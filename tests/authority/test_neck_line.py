"""The neck's line from readings: hand-worked places, a thousand invented benches, and the best that can be moved, by a fine
grid."""

from __future__ import annotations

import os
import sys
from math import radians, tan

import numpy as np
import pytest

from scribeline.job import AsBuilt, parse_job
from scribeline.layout import NeckLine
from scribeline.layout.neck_line import neck_line
from scribeline.layout.settling import CHOICES, Standing, noticed, settled
from scribeline.plan import Plan, plan
from scribeline.tables import usual_accuracies

from ..conftest import DEMO
from ..neck_read import Floats, neck_set_off, true_readings, with_readings
from ..trial_bench import COVERED, FALSELY_NAMED, GROSS, NAMED, SHOPS, Errors, Spread

OFF, DEGREES = 0.8, 0.3
READ_SD = 0.15
"""Of a thread against a rule: `tables/accuracies.csv`."""


def line_of(text: str) -> NeckLine:
    found = plan(*parse_job(text)).layout.neck_read
    assert found is not None
    return found


@pytest.fixture(scope="module")
def planned() -> Plan:
    return plan(*parse_job(DEMO))


@pytest.fixture(scope="module")
def set_off() -> Plan:
    return plan(*parse_job(neck_set_off(DEMO, OFF, DEGREES)))


def test_string_holes_go_where_the_neck_goes(planned: Plan, set_off: Plan) -> None:
    """Plane geometry, worked by hand: a place u behind the end wall and v to the treble of a neck that lies 0.8 mm off to the
    treble and runs 0.3 degrees to the treble goes to u cos 0.3 - v sin 0.3, 0.8 + u sin 0.3 + v cos 0.3 (0.0052360 and
    0.9999863). With the trade's own numbers (u 193.55, v 26.25): 193.41 and 28.06.
    """
    wall, turn = planned.layout.pocket_end, radians(DEGREES)
    for before, after in zip(
        planned.features.family("string-hole"), set_off.features.family("string-hole"), strict=True
    ):
        u, v = before.at.x - wall, before.at.y
        assert after.at.x - wall == pytest.approx(u * np.cos(turn) - v * np.sin(turn), abs=2e-3)
        assert after.at.y == pytest.approx(OFF + u * np.sin(turn) + v * np.cos(turn), abs=2e-3)
    u, v = 193.55, 26.25
    assert u * np.cos(turn) - v * np.sin(turn) == pytest.approx(193.41, abs=0.005)
    assert OFF + u * np.sin(turn) + v * np.cos(turn) == pytest.approx(28.06, abs=0.005)


def test_what_belongs_to_the_body_stays_and_the_margins_are_as_planned(planned: Plan, set_off: Plan) -> None:
    for family in ("neck-screw", "control", "jack", "strap-button"):
        pairs = zip(planned.features.family(family), set_off.features.family(family), strict=True)
        assert all(before.at == after.at for before, after in pairs)
    pockets = {each.id: each for each in planned.features.pockets}
    moved = {each.id for each in set_off.features.pockets if each.outline != pockets[each.id].outline}
    assert moved == {"bridge-pickup", "neck-pickup"}
    for before, after in zip(planned.layout.strings, set_off.layout.strings, strict=True):
        for a, b in zip(before.margins, after.margins, strict=True):
            assert b.centre == pytest.approx(a.centre, abs=1e-5)
    assert set_off.layout.travel.reserve == pytest.approx(planned.layout.travel.reserve, abs=1e-5)


def test_left_handed_it_is_the_mirror_image(set_off: Plan) -> None:
    left = plan(*parse_job(neck_set_off(DEMO.replace('handed = "right"', 'handed = "left"'), OFF, DEGREES)))
    for right, other in zip(
        set_off.features.family("string-hole"), left.features.family("string-hole"), strict=True
    ):
        assert other.at.x == pytest.approx(right.at.x, abs=1e-9)
        assert other.at.y == pytest.approx(-right.at.y, abs=1e-9)


def test_three_choices_are_told(set_off: Plan) -> None:
    """At the bridge's line the neck runs 0.8 + (line - wall) tan 0.3 degrees off: so far the bridge moves, or the heel goes
    back by 0.8 at the end wall and 0.8 - 75 tan 0.3 = 0.41 at the pocket's mouth.
    """
    found = next(each for each in set_off.findings if each.code == "neck.off-line")
    off = OFF + (set_off.layout.bridge_line - 468) * tan(radians(DEGREES))
    assert found.value == pytest.approx(off, abs=2e-3)
    bridge, neck, both = set_off.layout.choices
    assert bridge.bridge == pytest.approx(off, abs=2e-3)
    assert (neck.at_end, neck.at_mouth) == pytest.approx((-0.80, -0.407), abs=2e-3)
    assert neck.beyond_play == pytest.approx(0.80 - 0.05, abs=2e-3)
    assert max(abs(both.at_end), abs(both.at_mouth)) == pytest.approx(0.05, abs=1e-9)
    assert 0 < both.bridge < bridge.bridge


def test_a_neck_read_on_its_line_moves_nothing(planned: Plan) -> None:
    read = plan(*parse_job(neck_set_off(DEMO, 0.05, 0.01)))
    assert read.layout.neck_read is not None
    assert read.layout.choices == ()
    for before, after in zip(planned.features, read.features, strict=True):
        assert before == after


def test_struck_and_superseded_readings_count_no_more() -> None:
    readings = true_readings(DEMO, OFF, DEGREES)
    struck = with_readings(DEMO, readings, extra='struck = "read from the wrong edge"\n')
    assert plan(*parse_job(struck)).layout.neck_read is None
    again = true_readings(DEMO, 0.0, 0.0)
    first = dict(list(again.items())[:1])
    anew = with_readings(with_readings(DEMO, readings), first, extra="anew = true\n")
    anew = with_readings(anew, dict(list(again.items())[1:]))
    assert line_of(anew).off == pytest.approx(0.0, abs=1e-6)


def tried(spread: Spread, *, wrong: bool) -> tuple[float, float, float]:
    """Of so many benches: how often the region of 95 % holds the truth, and how often a wrong and a sound reading is named.

    The neck is set off by 0.8 mm and 0.3 degrees and read six times; half the board's width is off by 0.05 at both ends.
    """
    errors, held, named, falsely = Errors(spread, np.random.default_rng(17)), 0, 0, 0
    exact = with_readings(DEMO, true_readings(DEMO, OFF, DEGREES))
    job, record = parse_job(exact)
    names = [each.what for each in record.measured]
    for _ in range(SHOPS):
        wider = errors.draw(0.05, 2)
        true = true_readings(DEMO, OFF, DEGREES, (wider[0], wider[1]))
        read = np.array([true[name] for name in names]) + errors.draw(READ_SD, len(names))
        which = int(errors.random.integers(len(names)))
        if wrong:
            read[which] += GROSS * READ_SD * errors.random.choice([-1.0, 1.0])
        entries = tuple(
            each.model_copy(update={"value_mm": mm})
            for each, mm in zip(record.measured, read.tolist(), strict=True)
        )
        found = neck_line(
            job.document, record.model_copy(update={"measured": entries}), 468.0, usual_accuracies()
        )
        assert found is not None
        values, covariance = found.read.between("off", "turn")
        off: Floats = values - np.array([OFF, tan(radians(DEGREES))])
        held += float(off @ np.linalg.solve(covariance, off)) <= 5.991
        told = {each.id.partition("#")[0] for each in (*found.read.set_aside, *found.read.in_doubt)}
        named += names[which] in told
        falsely += bool(told - ({names[which]} if wrong else set()))
    return held / SHOPS, named / SHOPS, falsely / SHOPS


def test_the_region_holds_the_truth_as_often_as_it_says() -> None:
    """Errors as stated: 95 % is 93 to 97 % of a thousand benches; a sound reading is seldom named."""
    held, _, falsely = tried("normal", wrong=False)
    sys.stdout.write(f"held {held:.1%}, falsely named {falsely:.1%}" + "\n")
    assert COVERED[0] <= held <= COVERED[1]
    assert falsely <= FALSELY_NAMED


def test_a_reading_gone_wrong_is_named() -> None:
    """One of six off by eight of its standard deviations (1.2 mm)."""
    _, named, _ = tried("normal", wrong=True)
    sys.stdout.write(f"named {named:.1%}" + "\n")
    assert named >= NAMED


@pytest.mark.skipif(
    not os.environ.get("SCRIBELINE_TORTURE"), reason="for the figures of docs/as-built.md; takes a minute"
)
@pytest.mark.parametrize("spread", ["heavy tails", "understated"])
def test_benches_that_err_otherwise_than_stated_are_reported(spread: Spread) -> None:
    """No bench is promised here: the figures are told in docs/as-built.md. What must hold is that a wrong reading is still
    found more often than not.
    """
    held, _, falsely = tried(spread, wrong=False)
    _, named, _ = tried(spread, wrong=True)
    sys.stdout.write(f"{spread}: held {held:.1%}, falsely named {falsely:.1%}, named {named:.1%}" + "\n")
    assert named > 0.5


CASES = 500


def standing(random: np.random.Generator) -> Standing:
    """How things may stand: any offset and skew, with and without a held bridge and cavities that are cut."""
    return Standing(
        float(random.normal(0, 1.0)),
        float(random.normal(0, 0.006)),
        468.0,
        75.0,
        460.0,
        642.0,
        40.0,
        float(random.choice([0.02, 0.05, 0.3])),
        (float(random.normal(0, 1)), float(random.normal(0, 0.005))) if random.random() < 0.3 else None,
        tuple((float(x), float(random.normal(0, 0.8))) for x in (520.0, 600.0) if random.random() < 0.4),
    )


def test_the_best_is_no_worse_than_a_fine_grids() -> None:
    """Whatever can be moved is tried on a grid about the place found and all over the play; none of it is better."""
    random = np.random.default_rng(8)
    for case in range(CASES):
        stands, choice = standing(random), CHOICES[case % 3]
        weights = AsBuilt(
            move=choice, margins=float(random.uniform(0.1, 3)), seen=float(random.uniform(0, 1)), moved=0.02
        )
        counted = weights if choice == "both" else weights.model_copy(update={"seen": 0.0, "moved": 0.0})
        found = settled(stands, weights, choice)
        best = np.array([found.at_end, found.at_mouth, found.bridge, found.bridge_turn])
        assert noticed(stands, counted, best) == pytest.approx(found.cost, abs=1e-9)
        step, wide = np.linspace(-0.4, 0.4, 9), np.linspace(-0.004, 0.004, 9)
        heel = {"both": np.linspace(-stands.play, stands.play, 9), "neck": step, "bridge": np.zeros(1)}[
            choice
        ]
        centre = best[:2] if choice == "neck" else np.zeros(2)
        free = stands.held is None and choice != "neck"
        bridges, turns = (best[2] + step, best[3] + wide) if free else (best[2:3], best[3:4])
        grid = np.stack(
            np.meshgrid(centre[0] + heel, centre[1] + heel, bridges, turns, indexing="ij"), axis=-1
        )
        assert found.cost <= float(noticed(stands, counted, grid).min()) + 1e-9
        if choice == "both":
            assert max(abs(found.at_end), abs(found.at_mouth)) <= stands.play + 1e-9
        if stands.held is not None:
            assert (found.bridge, found.bridge_turn) == pytest.approx(stands.held)
