"""A neck that runs through the body: heights, core, glue lines and order, against figures worked by hand beside them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from math import cos, hypot, radians, sin, tan

import pytest
import shapely
from tests.kind_jobs import example, faults_at, restated

from scribeline.drawing.views import front_view
from scribeline.findings import Finding
from scribeline.job import Job, Stated, parse_job
from scribeline.layout import Point, lay_out, saddle_heights
from scribeline.layout.heights import board_over
from scribeline.plan import Plan, plan
from scribeline.plan.heights import heights
from scribeline.plan.named import quantities
from scribeline.quantities import evaluated
from scribeline.scenario import examples
from scribeline.solid.body import make_body

THROUGH, BOLTED, GLUED = example("neck-through"), example("single-saddles"), example("posts-and-tailpiece")
STUDS = example("two-studs")


def text(changes: Mapping[str, Stated], of: str = THROUGH) -> str:
    return restated(of, changes)


def planned(changes: Mapping[str, Stated]) -> Plan:
    return plan(parse_job(text(changes)).job)


def found(made: Plan, code: str) -> Finding:
    (finding,) = [each for each in made.findings if each.code == code]
    return finding


def told(made: Plan, name: str) -> str:
    return " ".join(map(str, next(card for card in made.cards if card.id == name).do))


@pytest.fixture(scope="module")
def through() -> Plan:
    return planned({})


def stepped() -> Job:
    """The strings want their saddles 1.0, 1.6 … 4.0 mm past the scale line, for sure."""
    job = parse_job(THROUGH).job
    strings = tuple(
        string.model_copy(update={"setback": 1.0 + 0.6 * n}) for n, string in enumerate(job.document.strings)
    )
    return replace(job, document=job.document.model_copy(update={"strings": strings}))


def test_twelve_numbers_of_a_neck_through_worked_by_hand() -> None:
    # Worked on paper from the job: scale 632; board to 458, 6.2 thick, 56.6 wide there; frets 1.1; board level with the top at
    # its end, leaning 0.5° (sin 0.00872654, cos 0.99996192, tan 0.00872687); nut 0.5 over the frets' plane, relief 0.2 to fret
    # 16; action 1.6 to 2.0; saddles 1.0 to 4.0 past the scale line; core 70 wide at 458 and 64 at 747; body 43 thick, from 395.
    job = stepped()
    made = plan(job)
    layout, document = made.layout, job.document
    name, told_heights = quantities(made), heights(made)
    assert told_heights is not None

    def close(value: float, within: float = 0.0006) -> object:
        return pytest.approx(value, abs=within)

    # 1  crowns over the body at the board's end: (6.2 + 1.1) × cos = 7.3 × 0.99996192 = 7.2997
    assert name["crowns-over-body"].value == close(7.2997)
    # 2  the 12th fret level along the body: 458 − (458 − 316) × cos − 7.3 × sin = 458 − 141.99459 − 0.06370 = 315.9417
    assert layout.twelfth == close(315.9417)
    # 3  the nut, which everything is counted from: 458 − 458 × cos − 7.3 × sin = 458 − 457.98256 − 0.06370 = −0.0463
    assert layout.datum("nut").point.x == close(-0.0463)
    # 4  board's underside at the body's neck edge: (395 − 458) × tan = −63 × 0.00872687 = −0.5498
    assert board_over(document, layout.neck_edge) == close(-0.5498)
    # String 1: z0 = 4 × 0.2 + 0.5 = 1.3; fret 16 at 632 × (1 − 2^(−16/12)) = 381.1908, so that the 12th lies
    # 0.8 × (65.1908/381.1908)² = 0.0233981 up; slope (1.6 + 0.0233981 − 1.3)/316 = 0.00102341; at 633: 1.3 + 0.6478191.
    # 5  string 1 over the frets' plane at its saddle: 1.9478
    assert name["string-1.over-saddle"].value == close(1.9478)
    # 6  over the body: (633 − 458) × sin + (7.3 + 1.9478) × cos = 1.52714 + 9.24747 = 10.7746
    # 7  string 6: slope (2.0 + 0.0233981 − 1.3)/316 = 0.00228923, at 636: 2.75595; 178 × sin + 10.05595 × cos = 11.6089
    wanted = saddle_heights(document, layout.stringing).tolist()
    assert (wanted[0], wanted[5]) == (close(10.7746), close(11.6089))
    # 8  the board that would bring their middle, 11.19175, to the middle of 9 and 14: 11.5 − 11.19175 = 0.3082 over the body
    assert told_heights.way("neck.board_over_body").value == close(0.3082)
    # 9  half the core at the line of the bridge's first screw, 4 behind a front edge: at x it is 35 − 3 × (x − 458)/289
    first = next(bore for bore in made.features.bores if bore.id == "bridge-screw-1")
    half = 35 - 3 * (first.at.x - 458) / 289
    core = shapely.Polygon(layout.body.core)
    across = core.intersection(shapely.LineString([(first.at.x, 0), (first.at.x, 99)]))
    assert across.length == close(half)
    # 10 its pilot: the core is sugar maple, hard: 2.0 + 0.50 × 0.9 = 2.45; a ring's screw in black walnut: 1.7 + 0.35 × 0.7
    reasons = {bore.id: str(bore.why[0]) for bore in made.features.bores if bore.why}
    assert "2.45 mm" in reasons["bridge-screw-1"]
    assert "sugar maple" in reasons["bridge-screw-1"]
    assert "1.94 mm" in reasons["hole-5"]
    assert "black walnut" in reasons["hole-5"]
    # 11 wood under the neck pickup's cavity: 43 − 24.5 = 18.5, all of it core in the middle
    assert made.floors["neck-pickup"] == close(18.5)
    # 12 the seat's wedge: 100 × tan = 0.8727
    assert "0.87 mm in 100 mm" in told(made, "shape-core")


def test_a_level_core_with_the_board_on_the_plane_of_the_top() -> None:
    """Board 6.35, fret 1.1, string 2.65 over the frets' plane: 6.35 + 1.1 + 2.65 = 10.10; 11.5 wants a board of 7.75."""
    made = planned(
        {
            "neck__board_thickness": "6.35 +/- 0.1",
            "neck__angle": 0.0,
            "scale__length": 647.7,
            "nut__height_over_frets": 0.2,
            "setup__action_treble": 1.8,
            "setup__action_bass": 1.8,
        }
    )
    strings = tuple(s.model_copy(update={"setback": 2.0}) for s in made.job.document.strings)
    document = made.job.document.model_copy(update={"strings": strings})
    stringing = lay_out(replace(made.job, document=document)).stringing
    assert saddle_heights(document, stringing) == pytest.approx([10.10] * 6, abs=0.005)


def test_the_straightedge_reads_what_plane_geometry_says(through: Plan) -> None:
    """The crowns' line, 7.3 square over the seat, on from the board's end at 0.5° to the scale line."""
    measured, layout = heights(through), through.layout
    assert measured is not None
    a = radians(0.5)
    there = 7.3 / cos(a) + (layout.scale - 458) * tan(a)
    assert measured.gap == pytest.approx(there, abs=1e-9)
    assert f"must stand {there:.1f} mm over the body" in told(through, "check-core")


def test_every_way_of_closing_the_chain_closes_it_when_it_is_put_into_the_job() -> None:
    for angle, stands in ((0.0, 0.0), (0.5, 0.0), (1.2, 1.5), (-0.5, 6.0)):
        job = parse_job(text({"neck__angle": angle, "neck__board_over_body": f"{stands} +/- 0.1"})).job
        first = heights(plan(job))
        assert first is not None
        keys = {way.key for way in first.ways}
        assert keys == {"neck.board_over_body", "neck.angle", "neck.board_thickness", "bridge.saddle_height"}
        closed = 0
        for way in first.ways:
            if way.value is None or way.key == "bridge.saddle_height":
                continue
            key, neck = way.key.partition(".")[2], job.document.neck
            held = getattr(neck, key)
            value = way.value if key == "angle" else replace(held, mm=way.value)
            document = job.document.model_copy(update={"neck": neck.model_copy(update={key: value})})
            again = heights(plan(replace(job, document=document)))
            assert again is not None
            # A lean moves the scale line on the body; the chain's own places along the neck stay.
            assert abs(again.off) < 1e-9, way.key
            closed += 1
        assert closed >= 2


def test_every_number_is_explained(through: Plan) -> None:
    named = quantities(through)
    for quantity in (named[name] for name in named):
        if quantity.formula:
            inputs = {key: each.value for key, each in quantity.inputs.items()}
            assert evaluated(quantity.formula, inputs) == pytest.approx(quantity.value, abs=1e-9), quantity.id
    assert not [name for name in named if name.startswith(("neck.pocket_", "neck.heel_th", "neck.heel_w"))]


def test_there_is_no_pocket_and_no_heel(through: Plan) -> None:
    assert all(pocket.role != "neck pocket" for pocket in through.features.pockets)
    assert not through.neck.features.bores
    assert not {"fit-neck", "refit-neck", "cut-tenon", "rout-neck-pocket", "pilot-heel"} & {
        card.id for card in through.cards
    }
    words = " ".join(told(through, card.id) for card in through.cards)
    assert "pocket" not in words
    assert "heel" not in words
    assert "Take the neck off" not in words


def test_the_order_of_a_core(through: Plan) -> None:
    """Planed and measured while it is a stick, winged, the blank read when whole, line and height before anything is cut."""
    order = [card.id for card in through.cards]
    wanted = ("shape-core", "check-neck", "glue-wings", "check-body", "check-core", "rout-neck-pickup")
    places = [order.index(each) for each in wanted]
    assert places == sorted(places)
    cuts = [order.index(card.id) for card in through.cards if card.features]
    assert min(cuts) > order.index("check-core")
    gate = next(card for card in through.cards if card.id == "shape-core").gate
    assert (gate.value, gate.low, gate.high) == pytest.approx((70.0, 69.8, 70.2))


def test_core_and_wings_make_up_the_body() -> None:
    """Two pieces: the core's blank is its outline within the body's times 43, by a polygon's area."""
    made = planned({})
    layout = made.layout
    body = make_body(layout.outline, layout.thickness, made.features, form=layout.body)
    outline, core = shapely.Polygon(layout.outline), shapely.Polygon(layout.body.core)
    inner = outline.intersection(core).area * 43.0
    names = [part.layer.name for part in body.layers]
    assert names == ["core", "wings"]
    blanks = [part.blank_mm3 for part in body.layers]
    assert blanks == pytest.approx([inner, outline.area * 43.0 - inner], rel=1e-6)
    whole = sum(part.lump.volume_mm3 for part in body.layers if part.lump is not None)
    assert whole == pytest.approx(body.mesh.volume_mm3, rel=1e-6)
    for y, timber in (
        (0.0, "maple-sugar"),
        (33.0, "maple-sugar"),
        (36.0, "walnut-black"),
        (-80.0, "walnut-black"),
    ):
        assert layout.timber_at(Point(560.0, y), -20.0).key == timber


def test_a_left_handed_core_is_its_mirror() -> None:
    right, left = planned({}).layout, planned({"handed": "left"}).layout
    assert right.body.core is not None
    assert left.body.core is not None
    assert {(p.x, -p.y) for p in right.body.core} == {(p.x, p.y) for p in left.body.core}


def test_wood_beside_a_glue_line() -> None:
    """A ring's screw of 2.4 at (468, 36.0): half the core there is 34.896, its edge leans 3 in 289."""
    near = THROUGH.replace("[[468, -40], [468, 40]", "[[468, -40], [468, 36.0]")
    made = plan(parse_job(near).job)
    each = found(made, "core.hole-near-glue-line")
    bit = next(b for b in made.features.bores if b.id == each.features[0]).widest
    wanted = (36.0 - (35 - 3 * 10 / 289)) * 289 / hypot(289, 3) - bit / 2
    assert each.value == pytest.approx(wanted, abs=1e-6)
    assert each.severity == "caution"
    on = plan(parse_job(THROUGH.replace("[[468, -40], [468, 40]", "[[468, -40], [468, 35.0]")).job)
    assert found(on, "core.hole-on-glue-line").features == each.features


def test_a_board_wider_than_its_core() -> None:
    # Level: it hangs 56.6 − 52 over the wings; at 0.5° its underside lies 0.55 below them at the body's edge.
    changes: Mapping[str, Stated] = {
        "neck__core_width": "52 +/- 0.1",
        "neck__core_width_at_tail": "52 +/- 0.1",
    }
    level = found(planned({**changes, "neck__angle": 0.0}), "core.narrower-than-board")
    assert level.severity == "caution"
    assert level.value == pytest.approx(4.6, abs=1e-6)
    sunk = found(planned(changes), "core.board-meets-wings")
    assert sunk.severity == "stop"
    assert sunk.value == pytest.approx(-63 * tan(radians(0.5)), abs=1e-6)
    assert sunk.concerns == ("shape-core",)


def test_the_rod_and_a_cavity() -> None:
    # The neck pickup's cavity begins at 472: a channel to 470 leaves 2, one to 480 runs into it.
    near = found(planned({"neck__rod_to": 470.0}), "core.cavity-near-rod")
    assert near.severity == "caution"
    assert near.value == pytest.approx(2.0, abs=1e-6)
    assert found(planned({"neck__rod_to": 480.0}), "core.cavity-into-rod").severity == "stop"


def test_a_stop_about_heights_holds_up_the_core() -> None:
    made = planned({"neck__angle": 3.0})
    each = found(made, "heights.saddle-out-of-range")
    assert each.severity == "stop"
    assert each.waiting == ("shape-core",)
    assert "shape-core" in made.stopped
    # 174 × sin 3° against 174 × sin 0.5°: the strings stand some 7.6 higher than the saddles reach with ease.
    assert "neck.angle to 0.60 for a core planed at that angle" in each.cure


def test_the_body_drawing_shows_the_wings_glue_lines() -> None:
    made = planned({})
    lines = [item for item in front_view(made) if getattr(item, "ref", "") == "wing-line"]
    assert len(lines) == 2


BAD: Mapping[str, tuple[Mapping[str, Stated], str, str]] = {
    "half a name": ({"neck__joint": "through"}, "neck.joint", 'write it "neck-through"'),
    "a pocket": ({"neck__pocket_depth": 16.0}, "neck.pocket_depth", "has no pocket and no heel"),
    "a heel": ({"neck__heel_thickness": 25.0}, "neck.heel_thickness", "has no pocket and no heel"),
    "room for glue in a pocket": ({"neck__slip": 0.1}, "neck", "slip belongs to a neck pocket"),
    "a shim": ({"neck__shim": 0.5}, "neck", "shim belongs to a neck pocket"),
    "a tenon": ({"neck__tenon_width": 42.0}, "neck", "tenon_width is of a set neck"),
    "a board let in": ({"neck__board_over_body": -1.0}, "neck.board_over_body", "0"),
    "a neck to move": ({"as_built__move": "neck"}, "as_built.move", "cannot be moved"),
    "a cavity into the pocket": (
        {"pockets[2].opens_into": ["neck pocket"]},
        "pockets[2].opens_into",
        'no cavity called "neck pocket"',
    ),
    "a place from the pocket": (
        {"pockets[2].x_from": "pocket end"},
        "pockets[2].x_from",
        "count it from the 12th fret, or from the nut",
    ),
    "holes from the pocket": (
        {"holes[2].x_from": "pocket end"},
        "holes[2].x_from",
        "no pocket to count from",
    ),
}


@pytest.mark.parametrize("what", BAD)
def test_what_a_core_leaves_no_room_for(what: str) -> None:
    changes, path, words = BAD[what]
    (sentence,) = faults_at(text(changes), path)
    assert words in sentence


def test_tables_that_a_core_leaves_no_room_for() -> None:
    def with_table(table: str) -> str:
        return THROUGH.replace("[finish]", f"{table}\n\n[finish]", 1)

    screws = BOLTED[BOLTED.index("[neck_screws]") : BOLTED.index("[body]")]
    (words,) = faults_at(with_table(screws), "neck_screws")
    assert "a neck that runs through the body has no screws" in words
    layers = GLUED[GLUED.index("[[body.layers]]") : GLUED.index("[body.top]")].replace("48", "43")
    (words,) = faults_at(with_table(layers.replace("34.0", "29.0")), "body.layers")
    assert "the core runs through the whole thickness" in words
    (words,) = faults_at(
        with_table('[body.top]\nkind = "arched"\nprofile = [[0, -8], [40, 0]]'), "body.top.kind"
    )
    assert "a flat or a stepped one" in words
    blank = "[neck_blank]\nthickness_at_first = 21\nthickness_at_twelfth = 23"
    (words,) = faults_at(with_table(blank), "neck_blank")
    assert "has no heel to run into" in words
    lead = '[[tunnels]]\nname = "lead"\nstart = "neck pocket"\ninto = "bridge pickup"\ndiameter = 5'
    (words,) = faults_at(with_table(lead), "tunnels[1].start")
    assert '"neck pocket" is no place to start from' in words


def test_a_core_without_its_numbers_and_numbers_without_a_core() -> None:
    short = THROUGH.replace('core_width = "70.0 +/- 0.1"', "#", 1)
    assert faults_at(short, "neck.core_width")
    (words,) = faults_at(text({"neck__core_width": 70.0}, BOLTED), "neck.core_width")
    assert 'say joint = "neck-through"' in words
    (words,) = faults_at(text({"neck__core_width_at_tail": 60.0}, GLUED), "neck")
    assert "core_width_at_tail belongs to a neck that runs through" in words
    assert faults_at(BOLTED.replace('pocket_depth = "15.4 +/- 0.1"', "#", 1), "neck.pocket_depth")


def test_any_bridge_stands_on_a_core() -> None:
    """The same neck under a bridge on two studs: nothing of the joint knows the bridge's kind."""
    neck = THROUGH[THROUGH.index("[neck]") : THROUGH.index("[body]")]
    start, end = STUDS.index("[neck]"), STUDS.index("[body]")
    job = STUDS[:start] + neck + STUDS[end:]
    wall = parse_job(STUDS).job.document.neck.pocket_end
    job = re.sub(
        r'x_from = "pocket end"\ncentre = \[(\S+),', lambda m: f"centre = [{wall + float(m[1])},", job
    )
    job = re.sub(
        r'x_from = "pocket end"\nplaces = (.*)',
        lambda m: "places = " + re.sub(r"\[(\d+),", lambda n: f"[{wall + float(n[1])},", m[1]),
        job,
    )
    made = plan(parse_job(job).job)
    assert {"shape-core", "glue-wings", "check-core"} <= {card.id for card in made.cards}
    codes = {each.code for each in made.findings if each.severity == "stop"}
    assert codes <= {"heights.saddle-out-of-range"}


def test_the_example_is_told_by_its_paragraph() -> None:
    assert examples()["neck-through"].text.startswith("# A neck that runs through the whole body")
    assert sin(radians(0.5)) == pytest.approx(0.00872654, abs=1e-8)
