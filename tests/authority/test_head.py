"""The head: how strings kink and break over the nut, against trigonometry worked by hand and a general geometry library."""

from __future__ import annotations

from io import StringIO
from math import acos, atan, cos, degrees, radians
from pathlib import Path

import pytest
import shapely
from ezdxf.filemanagement import read

from scribeline.drawing.dxf import write
from scribeline.drawing.head import head_sheet
from scribeline.job import Stated, parse_job, set_value
from scribeline.layout.head import breaks_down
from scribeline.plan import Plan, plan
from scribeline.plan.named import quantities
from scribeline.store.recorded import with_record

from ..as_built import tick
from ..kind_jobs import example, faults_at, restated

FANNED = (Path(__file__).parents[1] / "jobs" / "fanned.toml").read_text(encoding="utf-8")
IN_LINE = (
    example("single-saddles")
    + """
[head]
face = "stepped"
step = 10
thickness = 14
bass_side = [6, 5, 4, 3, 2, 1]
first_post = 38
pitch = 25.4
hole = 9
housing = 24
string_height = 6.0
"""
)


def planned(text: str, **changes: Stated) -> Plan:
    return plan(*parse_job(restated(text, changes)))


def codes(made: Plan) -> dict[str, str]:
    return {each.code: each.severity for each in made.findings}


def test_breaks_and_bends_worked_by_hand() -> None:
    """A head at 13°, the string 7.6 mm over its face at the nut: to a post 50 mm away that holds it 6.5 mm over that it breaks by
    13° + atan(1.1 / 50) = 14.26°, to one 140 mm away at 5.0 mm by 13° + atan(2.6 / 140) = 14.06°. One that breaks by 13.9° and
    kinks by 10.2° bends by acos(cos 13.9° cos 10.2°) = 17.2° (spherical trigonometry).
    """
    assert degrees(breaks_down(radians(13), 7.6, 6.5, 50)) == pytest.approx(14.26, abs=0.005)
    assert degrees(breaks_down(radians(13), 7.6, 5.0, 140)) == pytest.approx(14.06, abs=0.005)
    assert degrees(acos(cos(radians(13.9)) * cos(radians(10.2)))) == pytest.approx(17.2, abs=0.05)
    # A stepped head of 10 mm: the slot lies 10 + 1.1 + 0.5 over its face. The low posts far out break least:
    # atan(5.6 / 165) = 1.94°.
    made = planned(IN_LINE)
    assert made.layout.head is not None
    breaks = [degrees(post.breaks) for post in made.layout.head.posts]
    assert min(breaks) == pytest.approx(degrees(atan(5.6 / 165)), abs=1e-9)
    assert codes(made)["head.breaks-flat"] == "caution"


@pytest.mark.parametrize("handed", ["right", "left"])
@pytest.mark.parametrize("text", [FANNED, IN_LINE], ids=["both sides, a fan", "in line"])
def test_each_string_runs_straight_on_to_the_side_of_its_post(text: str, handed: str) -> None:
    made = planned(text, handed=handed)
    head, stated = made.layout.head, made.job.document.head
    assert head is not None
    assert stated is not None
    scales = {string.no: string.scale for string in made.layout.strings}
    count, spacing = len(scales), made.job.document.bridge.spacing.mm
    for post in head.posts:
        string = made.layout.strings[post.string - 1]
        # The open string from its place on the scale line over the nut and on, seen from the front, the head laid level.
        row = made.layout.treble * spacing * ((count + 1) / 2 - post.string)
        slope = (string.nut.y - row) / scales[post.string]
        beyond = 200.0
        thread = shapely.LineString([(0.0, string.nut.y), (-beyond, string.nut.y + slope * beyond)])
        axis = shapely.Point(post.at.x * cos(stated.angle), post.at.y)
        touches = (stated.post + string.gauge) / 2
        # The post's axis lies as far off the thread as its radius and the string's, across the neck.
        assert thread.distance(axis) == pytest.approx(touches, rel=0.02)
        assert post.kink == pytest.approx(0.0, abs=0.001)


def test_a_row_that_is_stated_kinks_the_strings() -> None:
    made = planned(FANNED, head__bass_row=[26.0, 34.0], head__treble_row=[26.0, 34.0])
    assert codes(made)["head.kinks"] == "caution"
    head = made.layout.head
    assert head is not None
    worst = max(head.posts, key=lambda post: abs(post.kink))
    told = next(each for each in made.findings if each.code == "head.kinks")
    assert told.value == pytest.approx(abs(degrees(worst.kink)))
    named = quantities(made)
    for post in head.posts:
        assert named[f"tuner-{post.string}.kink"].value == pytest.approx(post.kink, abs=1e-12)
        assert named[f"tuner-{post.string}.break"].value == pytest.approx(post.breaks, abs=1e-12)


@pytest.mark.parametrize(
    ("changes", "code", "severity", "value"),
    [
        ({"head__pitch": 20.0}, "head.tuners-meet", "stop", None),
        ({"head__bass_side": [6, 5, 4, 3, 2]}, "head.no-tuner", "caution", 1.0),
        (
            {"head__outline": [[0, -21], [0, 21], [180, 21], [180, -21]]},
            "head.near-edge",
            "stop",
            None,
        ),
        ({"head__step": 5.2}, "head.breaks-flat", "stop", degrees(atan(0.8 / 165))),
    ],
)
def test_planted_mistakes(changes: dict[str, Stated], code: str, severity: str, value: float | None) -> None:
    told = [each for each in planned(IN_LINE, **changes).findings if each.code == code]
    assert severity in {each.severity for each in told}
    if value is not None:
        assert told[0].value == pytest.approx(value, abs=0.01)


def test_a_tuner_hole_that_is_drilled_stays() -> None:
    seen = planned(IN_LINE)
    card = next(each for each in seen.cards if each.id == "drill-tuners")
    ticked = with_record(IN_LINE, [tick(card, seen, ("tuner-hole-6",))], ())
    again = plan(*parse_job(set_value(ticked, "head.pitch", 27.0)[0]))
    now, was = (
        {bore.id: bore for bore in each.head.features.bores}
        for each in (again, seen)
        if each.head is not None
    )
    assert now["tuner-hole-6"].at == was["tuner-hole-6"].at
    assert now["tuner-hole-1"].at.x == pytest.approx(was["tuner-hole-1"].at.x - 5 * 1.6)
    first = plan(*parse_job(set_value(ticked, "head.first_post", 44.0)[0]))
    assert "tuner-hole-6" in {moved.feature for moved in first.moved}


def test_the_drawing_for_machines() -> None:
    sheet, made = head_sheet(planned(FANNED)), planned(FANNED)
    assert sheet is not None
    assert made.head is not None
    circles = read(StringIO(write(sheet).decode())).modelspace().query("CIRCLE")
    drawn = {(round(c.dxf.center.x, 4), round(c.dxf.center.y, 4), c.dxf.radius) for c in circles}
    holes = {(round(b.at.x, 4), round(b.at.y, 4), b.widest / 2) for b in made.head.features.bores}
    assert drawn == holes


def test_what_cannot_be_is_said() -> None:
    (lean,) = faults_at(restated(IN_LINE, {"head__angle": 13.0}), "head")
    assert "a stepped head is level with the neck" in lean
    (twice,) = faults_at(restated(IN_LINE, {"head__treble_side": [1]}), "head")
    assert "string 1 has a tuner on both sides" in twice
    (none,) = faults_at(restated(IN_LINE, {"head__bass_side": [7, 6]}), "head.bass_side")
    assert "there is no string 7" in none
