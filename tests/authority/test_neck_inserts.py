"""Inserts in a bolted neck's heel, and the truss rod's channel: worked by hand from caliper numbers, and held to a CAD kernel."""

from __future__ import annotations

from collections.abc import Mapping
from math import cos, radians, sin

import pytest
from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakeCylinder
from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt
from tests import kernel_shapes as kernel
from tests.kind_jobs import faults_at

from scribeline.features import UP, Bit, Bore, Step, heel_insert, heel_lift, holdings
from scribeline.findings import Finding
from scribeline.job import parse_job
from scribeline.layout import Channel, Point3
from scribeline.plan import Plan, plan
from scribeline.plan.named import quantities
from scribeline.scenario import demo_jobs
from scribeline.solid import rod_clearance

INSERTS = {
    "thread": "8.0 +/- 0.05",
    "root": "6.4 +/- 0.05",
    "length": "13.0 +/- 0.05",
    "flange_diameter": "9.5 +/- 0.05",
    "flange_thickness": "1.0 +/- 0.05",
    "screw": "5.0 +/- 0.05",
    "screw_length": "40 +/- 0.1",
    "plate_thickness": "2.0 +/- 0.05",
}
PLACES = "[[12, -19], [12, 19], [52, -17.5], [52, 17.5]]"
NONE: Mapping[str, str | None] = {}
ROD = {"rod_width": "6.4", "rod_depth": "9.5", "rod_to": "440"}


def job_text(
    places: str = PLACES, neck: dict[str, str] | None = None, changes: Mapping[str, str | None] = NONE
) -> str:
    """The demo with inserts in place of its neck screws; keys changed, or left out where they are None."""
    text = demo_jobs()["marram.toml"]
    head, rest = text.split("# From the pocket's end wall towards the mouth", 1)
    body = rest[rest.index("[body]") :]
    stated = {key: value for key, value in {**INSERTS, **changes}.items() if value is not None}
    inserts = "\n".join(f'{key} = "{value}"' for key, value in stated.items())
    more = "\n".join(f"{key} = {value}" for key, value in (neck or {}).items())
    return f"{head}{more}\n\n[neck_inserts]\n{inserts}\nplaces = {places}\n\n{body}"


def planned(
    places: str = PLACES, neck: dict[str, str] | None = None, changes: Mapping[str, str | None] = NONE
) -> Plan:
    return plan(parse_job(job_text(places, neck, changes)).job)


def found(made: Plan, code: str) -> Finding:
    (finding,) = [each for each in made.findings if each.code == code]
    return finding


@pytest.fixture(scope="module")
def sound() -> Plan:
    return planned(neck=ROD)


def test_worked_by_hand(sound: Plan) -> None:
    # 44.4 of body less 16 of pocket: 28.4 to pass, 2 of plate. A 40 mm screw reaches 40 − 2 − 28.4 = 9.6 into the heel, 8.6 of
    # that past the flange of 1. The insert ends at 1 + 13 = 14, and 25.2 − 6.2 − 14 = 5 are left to the board.
    numbers = quantities(sound)
    for name, mm in (
        ("heel.wood-passed", 28.4),
        ("heel.screw-reach", 9.6),
        ("heel.thread", 8.6),
        ("heel.insert-end", 14.0),
        ("heel.to-board", 5.0),
        ("heel.insert-hole", 6.8),  # root and 0.4 in hard maple: common practice, no source
    ):
        assert numbers[name].value == pytest.approx(mm, abs=1e-9)
    assert not [each.code for each in sound.findings if each.code.startswith(("neck", "heel", "wood"))]
    for pilot in sound.neck.features.bores:
        assert [step.diameter for step in pilot.steps] == [10.0, 7.0]
        assert pilot.steps[0].depth == 1.0
        # Beyond the insert, and no bit's point nearer the board than half of what is left.
        assert pilot.steps[1].depth > 14.0
        assert sound.neck.beyond(pilot) >= 2.5 - 1e-9


def test_the_body_lets_the_machine_screws_pass(sound: Plan) -> None:
    for bore in sound.features.family("neck-screw"):
        assert 5.1 <= bore.deepest.diameter <= 6.0


def test_the_cards(sound: Plan) -> None:
    order = [card.id for card in sound.cards]
    assert order.index("drill-neck-screws") < order.index("fit-neck")
    assert order.index("fit-neck") < order.index("counterbore-pilot-heel") < order.index("pilot-heel")
    card = next(each for each in sound.cards if each.id == "pilot-heel")
    told = " ".join(map(str, card.do))
    assert "Hole in sugar maple: 6.80 mm" in told
    assert "take 8.6 mm of the insert" in told


@pytest.mark.parametrize(
    ("changes", "code", "severity", "value", "words"),
    [
        # 32 − 2 − 28.4 = 1.6 in the heel, 0.6 of it past the flange: less than one diameter of 5.
        (
            {"screw_length": "32 +/- 0.1"},
            "neck-inserts.short",
            "caution",
            0.6,
            "takes only 0.60 mm of its insert",
        ),
        # 30 − 2 − 28.4 = −0.4: 1.4 before the flange's end.
        (
            {"screw_length": "30 +/- 0.1"},
            "neck-inserts.short",
            "stop",
            -1.4,
            "ends 1.40 mm before its insert begins",
        ),
        # 47 reaches 16.6 deep, 2.4 under the board: it may go no nearer than 3.
        ({"screw_length": "47 +/- 0.1"}, "neck-inserts.near-board", "caution", 2.4, "ends 2.40 mm below"),
        # An insert of 19 ends at 20, and the board begins at 19.
        ({"length": "19 +/- 0.05"}, "neck-inserts.into-board", "stop", -1.0, "an insert goes 1.00 mm past"),
    ],
)
def test_planted_mistakes(
    changes: dict[str, str], code: str, severity: str, value: float, words: str
) -> None:
    finding = found(planned(changes=changes), code)
    assert finding.severity == severity
    assert finding.value == pytest.approx(value, abs=1e-9)
    assert words in str(finding.message)
    assert str(finding.cure)


def test_a_screw_that_bottoms() -> None:
    # 50 reaches 19.6 and the board begins at 19: no hole can go so deep.
    finding = found(planned(changes={"screw_length": "50 +/- 0.1"}), "neck-inserts.bottom")
    assert finding.severity == "stop"
    assert "meets the bottom of its hole" in str(finding.message)


@pytest.mark.parametrize(
    ("y", "code", "severity", "value"),
    [
        # Beside a channel of 6.4 a thread of 8 at y leaves y − 3.2 − 4.
        (9.0, "neck.near-rod", "caution", 1.8),
        (8.0, "neck.near-rod", "stop", 0.8),
    ],
)
def test_near_the_rod(y: float, code: str, severity: str, value: float) -> None:
    finding = found(planned(f"[[12, -19], [12, 19], [52, -17.5], [52, {y}]]", ROD), code)
    assert finding.severity == severity
    assert finding.value == pytest.approx(value, abs=2e-4)


def test_into_the_rod() -> None:
    finding = found(planned("[[12, -19], [12, 19], [52, 0]]", ROD), "neck.into-rod")
    assert finding.severity == "stop"
    assert "insert 3 runs into the truss rod's channel" in str(finding.message)
    # Behind the channel's end, 440 from the nut where the heel ends at 468, the same hole is clear.
    behind = planned("[[12, -19], [12, 19], [12, 0]]", ROD)
    assert not [each for each in behind.findings if "rod" in each.code]


def test_wood_screws_meet_the_rod_too() -> None:
    text = (
        demo_jobs()["marram.toml"]
        .replace("[52, -17.5]", "[52, -4]")
        .replace(
            'timber = "maple-sugar"\n',
            'timber = "maple-sugar"\nrod_width = 6.4\nrod_depth = 9.5\nrod_to = 440\n',
            1,
        )
    )
    finding = found(plan(parse_job(text).job), "neck.into-rod")
    assert "neck screw 3 runs into" in str(finding.message)


@pytest.mark.parametrize("lean", [0.0, 2.0, 6.0])
@pytest.mark.parametrize("y", [9.0, 12.0])
def test_the_wood_beside_the_rod_is_the_kernels(lean: float, y: float) -> None:
    """A leaning hole with its insert, against a box: the kernel's distance."""
    axis = Point3(sin(radians(lean)), 0.0, cos(radians(lean)))
    bit = Bit("flat-bottomed", 7.0, 0.0)
    at = Point3(-50.0, y, 0.0)
    bore = Bore(
        "heel-pilot-1", "hole", "hole", "edge", at, axis, (Step(7.0, 15.0, bit),), outward=Point3(0, 0, -1)
    )
    rod = Channel("truss rod", "neck.rod", 0.0, 3.2, (78.0, 450.0), 9.5, 9.5)
    mm = rod_clearance(bore, rod, (478.0, 19.0), ((8.0, 14.0),))
    box = BRepPrimAPI_MakeBox(gp_Pnt(-400, -3.2, 9.5), gp_Pnt(-28, 3.2, 19)).Shape()
    wanted = min(
        kernel.distance(
            box, BRepPrimAPI_MakeCylinder(gp_Ax2(gp_Pnt(*at), gp_Dir(*axis)), radius, deep).Shape()
        ).mm
        for radius, deep in ((3.5, 15.0), (4.0, 14.0))
    )
    assert mm == pytest.approx(wanted, abs=2e-4)
    assert mm <= wanted + 1.1e-4


def test_no_inserts_no_numbers() -> None:
    made = plan(parse_job(demo_jobs()["marram.toml"]).job)
    assert heel_insert(made.job.document) is None
    assert "heel.insert-hole" not in quantities(made)
    assert {bore.axis for bore in made.neck.features.bores} == {UP}


@pytest.mark.parametrize(
    ("changes", "path", "words"),
    [
        ({"root": "8.2 +/- 0.05"}, "neck_inserts", "root (8.2 mm) must be smaller than thread (8 mm)"),
        ({"screw": "6.4 +/- 0.05"}, "neck_inserts", "screw (6.4 mm) must be smaller than root (6.4 mm)"),
        ({"flange_thickness": None}, "neck_inserts", "a flange needs both"),
        (
            {"flange_diameter": "8.0 +/- 0.05"},
            "neck_inserts",
            "flange_diameter (8 mm) must be larger than thread",
        ),
    ],
)
def test_what_cannot_be(changes: dict[str, str | None], path: str, words: str) -> None:
    (told,) = faults_at(job_text(changes=changes), path)
    assert words in told


def test_a_channel_is_stated_whole() -> None:
    (told,) = faults_at(job_text(neck={"rod_width": "6"}), "neck")
    assert "rod_width, rod_depth and rod_to" in told
    (told,) = faults_at(job_text(neck={**ROD, "rod_from": "450"}), "neck")
    assert "rod_to (440 mm) must be larger than rod_from (450 mm)" in told


def test_screws_or_inserts() -> None:
    text = (
        demo_jobs()["marram.toml"]
        + job_text()[job_text().index("[neck_inserts]") : job_text().index("[body]")]
    )
    (told,) = faults_at(text, "neck_inserts")
    assert "by screws or by inserts" in told
    (told,) = faults_at(job_text().replace('joint = "bolt-on"', 'joint = "set"'), "neck_inserts")
    assert "a set neck has no inserts" in told


def test_what_the_inserts_hold_by_hand() -> None:
    made = planned()
    lift = heel_lift(made.job.document, made.layout)
    assert lift is not None
    (held,) = [
        each
        for each in holdings(made.job.document, made.layout, made.features.bores)
        if each.group == "neck inserts"
    ]
    squares = 2 * (12.0**2 + 52.0**2)
    assert sorted(hold.pull for hold in held.holds) == pytest.approx(
        [lift * x / squares for x in (12.0, 12.0, 52.0, 52.0)]
    )
    # Wood Handbook chapter 8, lag screws, in pounds and inches: 8,100 G^1.5 D^0.75 L; 8.0 over the thread, 13.0 long, in
    # maple of 0.63; of the thread's height, 0.8, as much as the hole leaves.
    heel = heel_insert(made.job.document)
    assert heel is not None
    bite = (8.0 - heel.bit.diameter) / 1.6
    pounds = 8100 * 0.63**1.5 * (8.0 / 25.4) ** 0.75 * 13.0 / 25.4
    assert 0 < bite < 1
    assert held.worst.holds == pytest.approx(bite * pounds * 4.4482216, rel=1e-5)
    # Twice the square root of (1.5 × 0.10)² + 0.20² is 0.5.
    assert held.worst.times_between == pytest.approx((0.5 * held.worst.times, 1.5 * held.worst.times))
    assert "holding.weak" not in {each.code for each in made.findings}


def test_short_inserts_in_a_light_heel_are_stopped_with_what_they_hold() -> None:
    text = job_text(
        places="[[5, -19], [5, 19], [20, -17.5], [20, 17.5]]",
        changes={"length": "4", "flange_diameter": None, "flange_thickness": None, "screw_length": "34"},
    )
    made = plan(parse_job(text.replace('timber = "maple-sugar"', 'timber = "basswood-american"', 1)).job)
    weak = found(made, "holding.weak")
    # 125.4 × 0.37^1.5 × 8^0.75 × 4 = 537 N before the share of the thread; the strings pull some 300 N on each at 20 mm.
    assert weak.severity == "stop"
    assert weak.value is not None
    assert weak.value < 2
    assert weak.message.startswith("estimate: the neck inserts hold the pull")
    assert "nineteen inserts of twenty" in weak.message
    assert "longer or thicker inserts" in weak.cure
