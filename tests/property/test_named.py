"""Every number with a name, of every job there is: its formula gives its value, its chain ends in sources."""

from __future__ import annotations

import json
from collections.abc import Sequence
from math import cos, dist, isfinite, sin
from typing import Any

import pytest

from scribeline.features import balloon, heel_screw
from scribeline.job import parse_job, set_value
from scribeline.layout import crowns_over_body, neck_lie, saddle_heights
from scribeline.plan import Plan, plan
from scribeline.plan.named import explained, nearest, quantities
from scribeline.plan.record import as_json, record
from scribeline.quantities import UNTOLD, Quantities, chain, evaluated
from scribeline.solid import web_id
from scribeline.store.recorded import with_record
from scribeline.strings import roots_of_spread

from ..as_built import tick
from ..conftest import SHIPPED
from ..neck_read import neck_set_off
from ..pack_jobs import EVERY_JOB

JOBS = EVERY_JOB


def begun(text: str) -> str:
    """The job with its string holes, one ferrule hole and a pocket made, and its bridge changed since."""
    seen = plan(*parse_job(text))
    made = {"drill-string-holes": (), "counterbore-ferrules": ("ferrule-hole-2",), "rout-bridge-pickup": ()}
    ticks = [tick(card, seen, made[card.id]) for card in seen.cards if card.id in made]
    with_ticks = with_record(text, ticks, ())
    changed, _ = set_value(with_ticks, "bridge.spacing", "10.8 +/- 0.05")
    return changed


@pytest.fixture(scope="module", params=[*JOBS, "begun", "begun left", "neck read", "neck read left"])
def planned(request: pytest.FixtureRequest) -> Plan:
    name = request.param
    if name.startswith("begun"):
        hand = "left" if name.endswith("left") else "right"
        return plan(*parse_job(begun(SHIPPED.replace('handed = "right"', f'handed = "{hand}"'))))
    if name.startswith("neck read"):
        hand = "left" if name.endswith("left") else "right"
        return plan(*parse_job(neck_set_off(SHIPPED.replace('handed = "right"', f'handed = "{hand}"'))))
    return plan(*parse_job(JOBS[name]))


@pytest.fixture(scope="module")
def named(planned: Plan) -> Quantities:
    return quantities(planned)


def test_every_formula_gives_its_value(named: Quantities) -> None:
    worked = 0
    for name, each in named.items():
        assert each.id == name
        assert isfinite(each.value), name
        assert isfinite(each.sd), name
        if each.formula:
            again = evaluated(each.formula, {key: given.value for key, given in each.inputs.items()})
            assert again == pytest.approx(each.value, rel=1e-9, abs=1e-9), name
            worked += 1
    assert worked > 250


def test_every_chain_ends_in_sources(named: Quantities) -> None:
    for name in named:
        for _, each in chain(named[name]):
            if not each.id:
                continue
            assert named[each.id] is each
            assert each.what, each.id
            assert each.formula or each.source, each.id


def test_plan_json_can_be_worked_again_by_any_program(planned: Plan) -> None:
    """By Python's own arithmetic on the text, from the values that stand beside it."""
    whole: dict[str, dict[str, Any]] = json.loads(as_json(planned))["quantities"]
    import math

    functions = {
        name: getattr(math, name) for name in ("sqrt", "hypot", "sin", "cos", "tan", "atan2", "ceil", "floor")
    }
    functions |= {"abs": abs, "min": min, "max": max}
    for name, each in whole.items():
        for given in each["inputs"].values():
            assert given["id"] is None or whole[given["id"]]["value"] == given["value"], name
        if each["formula"]:
            values = {key: given["value"] for key, given in each["inputs"].items()}
            again = eval(each["formula"], {"__builtins__": {}}, {**functions, **values})
            assert again == pytest.approx(each["value"], rel=1e-9, abs=1e-9), name


def by_the_neck(planned: Plan, at: Sequence[float]) -> tuple[float, float]:
    """A place along and across the neck's own line, to the treble, which is the centreline unless it was read elsewhere."""
    layout = planned.layout
    x, y = at[0], at[1] * layout.treble
    if layout.neck_lies is None:
        return x, y
    off, turn = layout.neck_lies.y, layout.neck_lies.turn
    along, across = x - layout.pocket_end, y - off
    return layout.pocket_end + along * cos(turn) + across * sin(turn), across * cos(turn) - along * sin(turn)


def test_the_layout_is_what_its_names_say(planned: Plan, named: Quantities) -> None:
    layout = planned.layout
    for check in planned.measurables:
        assert named[check.id].value == pytest.approx(check.value, abs=1e-9)
        assert named[check.id].sd == pytest.approx(check.sd, abs=1e-12)
    for fret in layout.frets:
        assert named[f"fret-{fret.n}"].value == pytest.approx(fret.along, abs=1e-9)
        if not layout.is_fanned:  # a slanted fret meets the edges where the board is wider, or narrower
            width = dist(fret.treble, fret.bass)
            assert named[f"fret-{fret.n}.width"].value == pytest.approx(width, abs=1e-9)
    heights = saddle_heights(planned.job.document, layout.stringing)
    for string in layout.strings:
        name = f"string-{string.no}"
        nut, saddle = (by_the_neck(planned, at) for at in (string.nut, string.saddle))
        worked = {
            "nut-across": nut[1],
            "nut-height": string.nut.z,
            "saddle": saddle[0],
            "saddle-height": heights[string.no - 1],
            "saddle-across": saddle[1],
            "compensation": string.setback,
            "travel-front": layout.travel.forward[string.no - 1],
            "travel-back": layout.travel.back[string.no - 1],
            **{f"margin-{each.fret}": each.centre for each in string.margins},
            **{f"side-margin-{each.fret}": each.side for each in string.margins},
        }
        for part, value in worked.items():
            assert named[f"{name}.{part}"].value == pytest.approx(value, abs=1e-9), (name, part)
        assert named[f"{name}.compensation"].sd == pytest.approx(string.setback_sd, rel=1e-6)
    assert layout.bridge is not None
    for mark in layout.bridge.marks:
        place = named[f"{mark.number}-x" if mark.drilled else mark.number]
        assert place.value == pytest.approx(mark.at.x, abs=1e-9)
    assert named["bridge.window-low"].value == pytest.approx(layout.scale + layout.window.low, abs=1e-9)
    assert named["bridge.window-high"].value == pytest.approx(layout.scale + layout.window.high, abs=1e-9)


@pytest.mark.parametrize("arch", ["", "radius = 240\n", "radius = 240\nradius_at_end = 300\n"])
@pytest.mark.parametrize("lean", ["", "angle = 1.5\n", "shim = 0.4\n", "angle = 1.5\nshim = 0.4\n"])
def test_heights_by_name_are_those_of_the_chain(arch: str, lean: str) -> None:
    """Level and leaning necks, boards flat and arched: formula by formula against the arrays that the rules are held to."""
    text = SHIPPED.replace("[fingerboard]\n", f"[fingerboard]\n{arch}").replace("[neck]\n", f"[neck]\n{lean}")
    seen = plan(*parse_job(text))
    document, named = seen.job.document, quantities(seen)
    assert named["neck.lean"].value == pytest.approx(neck_lie(document).angle, abs=1e-12)
    assert named["crowns-over-body"].value == pytest.approx(crowns_over_body(document), abs=1e-9)
    wanted = saddle_heights(document, seen.layout.stringing)
    for no, height in enumerate(wanted.tolist(), start=1):
        told = named[f"string-{no}.saddle-height"]
        assert told.value == pytest.approx(height, abs=1e-9)
        assert evaluated(told.formula, {key: each.value for key, each in told.inputs.items()}) == told.value
        roots = {each.id for _, each in chain(told)}
        assert {"neck.pocket_depth", "neck.heel_thickness", "setup.relief"} <= roots
        assert ("neck.angle" in roots) == bool(lean)
        assert ("fingerboard.radius" in roots) == bool(arch)


def test_the_spread_of_a_height_is_that_of_what_it_is_made_of() -> None:
    """Of a level neck the pocket's and the heel's doubt come through whole (± a is a/√3; independent: JCGM 100:2008, 5.1.2)."""
    seen = quantities(plan(*parse_job(SHIPPED)))
    told = seen["string-3.saddle-height"]
    assert abs(told.spread["neck.heel_thickness"]) == pytest.approx(0.1 / 3**0.5, rel=1e-6)
    assert told.spread["neck.pocket_depth"] == pytest.approx(-0.1 / 3**0.5, rel=1e-6)
    # What is asked for is in no doubt, and where the saddle stands along moves the string by next to nothing.
    others = set(told.spread) - {"neck.heel_thickness", "neck.pocket_depth"}
    assert all(abs(told.spread[each]) < 0.002 for each in others)
    assert seen["string-3.over-12"].sd == 0


def test_room_of_a_saddle_rests_on_the_bridges_heights_too() -> None:
    text = SHIPPED.replace("saddle_lowest = 10.4", 'saddle_lowest = "10.4 +/- 0.2"')
    seen = quantities(plan(*parse_job(text)))
    room = seen["string-2.room-down"]
    assert room.value == pytest.approx(seen["string-2.saddle-height"].value - 10.4, abs=1e-9)
    assert room.spread["bridge.saddle_lowest"] == pytest.approx(-0.2 / 3**0.5, rel=1e-6)
    assert seen["string-2.room-up"].value == pytest.approx(
        14.0 - seen["string-2.saddle-height"].value, abs=1e-9
    )


def test_the_roots_of_the_compensations_are_their_covariance(planned: Plan) -> None:
    """Products summed over the roots, against the covariance that the physics works out by itself."""
    prediction = planned.layout.stringing.prediction
    assert prediction is not None
    roots = roots_of_spread(prediction)
    for i, one in enumerate(roots):
        for k, other in enumerate(roots):
            shared = sum(adds * other[root] for root, adds in one.items() if root in other)
            assert shared == pytest.approx(prediction.covariance[i, k], rel=1e-6, abs=1e-12)


def test_every_cut_is_what_its_names_say(planned: Plan, named: Quantities) -> None:
    whole = record(planned, with_quantities=False)
    treble = planned.layout.treble
    for bore in planned.features.bores:
        assert named[f"{bore.id}.x"].value == pytest.approx(bore.at.x, abs=1e-9)
        assert named[f"{bore.id}.across"].value == pytest.approx(bore.at.y * treble, abs=1e-9)
        assert named[f"{bore.id}.z"].value == pytest.approx(bore.at.z, abs=1e-9)
    for each in whole["bores"]:
        for no, step in enumerate(each["steps"], start=1):
            name = f"{each['id']}.step-{no}"
            worked = {
                "diameter": step["diameter"],
                "depth": step["depth"],
                "reach": step["depth_stop"],
                "setting": step["stop"],
            }
            for part, value in worked.items():
                assert named[f"{name}.{part}"].value == pytest.approx(value, abs=2e-5), (name, part)
    for pocket in planned.features.pockets:
        assert named[f"{pocket.id}.depth"].value == pytest.approx(pocket.depth, abs=1e-9)
        assert named[f"{pocket.id}.corner-radius"].value == pytest.approx(pocket.corner_radius, abs=1e-9)
    heel = heel_screw(planned.job.document)
    if heel is not None:
        worked = {
            "thread": heel.engages,
            "to-board": heel.to_board,
            "pilot": heel.rule.bench,
            "pilot-depth": heel.pilot_depth,
        }
        for part, value in worked.items():
            assert named[f"heel.{part}"].value == pytest.approx(value, abs=1e-9), part


def test_the_wood_is_what_its_names_say(planned: Plan, named: Quantities) -> None:
    whole = record(planned, with_quantities=False)
    for web in planned.webs:
        each = named[web_id(web.a, web.b)]
        assert each.value == pytest.approx(web.mm, abs=1e-9)
        if web.mm > 0:
            assert web.a in each.what
            assert web.b in each.what
            assert each.source.count("from the nut") == 2
            if "unproven" in each.inputs:
                assert 0 < each.inputs["unproven"].value <= 1.0001e-4
    for outside in planned.outside:
        assert named[f"{outside.feature}.to-edge"].value == pytest.approx(outside.to_edge, abs=1e-9)
        assert named[f"{outside.feature}.to-opposite"].value == pytest.approx(outside.to_opposite, abs=1e-9)
    for bore in whole["bores"]:
        for no, step in enumerate(bore["steps"], start=1):
            for part, wood in (("under", step["under"]), ("under-point", step["under_point"])):
                told = named[f"{bore['id']}.step-{no}.{part}"]
                assert told.value == pytest.approx(wood or 0.0, abs=2e-5), told.id
    for cut in (*whole["bores"], *whole["pockets"]):
        assert named[f"{cut['id']}.floor"].value == pytest.approx(cut["floor"] or 0.0, abs=2e-5)


def test_findings_refer_to_numbers_with_a_name(planned: Plan, named: Quantities) -> None:
    for finding in planned.findings:
        for name, value in ((finding.value_id, finding.value), (finding.limit_id, finding.limit)):
            assert (name is None) == (value is None), finding.code
            if name is not None:
                assert named[name].value == pytest.approx(value, abs=1e-9), (finding.code, name)


@pytest.mark.parametrize(
    ("code", "changes", "value"),
    [
        # 8.2 between the strings, lips of 8.0: 0.2 of wood.
        ("ferrules.lip-web", {"bridge.spacing": 8.2, "ferrules.lip_diameter": 8.0}, 0.2),
        # A lip of 0.5 under 0.6 of finish: 0.1 too little.
        ("ferrules.no-counterbore", {"ferrules.lip_height": 0.5, "finish.film": 0.6}, -0.1),
        # A cover of 3.5 in a recess of 2.
        ("cover.not-flush", {"pockets[3].cover_screws.cover_thickness": 3.5}, 1.5),
    ],
)
def test_what_a_finding_found_is_worked_from_named_numbers(
    code: str, changes: dict[str, Any], value: float
) -> None:
    text = SHIPPED
    for key, stated in changes.items():
        text, _ = set_value(text, key, stated)
    made = plan(*parse_job(text))
    (told,) = [each for each in made.findings if each.code == code]
    each = quantities(made)[told.value_id or ""]
    assert each.value == pytest.approx(value)
    assert each.formula
    assert all(given.id and given.source != UNTOLD for given in each.inputs.values())


def test_no_number_is_left_without_its_formula(planned: Plan, named: Quantities) -> None:
    untold = [name for name, each in named.items() if each.source == UNTOLD]
    if (
        planned.layout.neck_lies is not None
    ):  # holes that follow the neck where it was read: as the plan has them
        untold = [name for name in untold if not name.startswith("hole-")]
    assert untold == []


def test_every_id_of_the_plan_is_explained(planned: Plan, named: Quantities) -> None:
    """What stands under "id", "code", "features" and "concerns" in plan.json, and the numbers on balloons."""
    whole = record(planned, with_quantities=False)
    asked = {
        each["id"] for kind in ("bores", "pockets", "measurables", "steps", "tunnels") for each in whole[kind]
    }
    asked |= {bore["number"] for bore in whole["bores"]}
    for finding in whole["findings"]:
        asked |= {finding["code"], *finding["features"], *(finding["concerns"] or ())}
    assert {name for name in asked if explained(planned, name, named) is None} == set()


def test_any_id_is_explained(planned: Plan, named: Quantities) -> None:
    for name in named:
        told = explained(planned, name.upper(), named)
        assert told is not None, name
        assert any(each.id == name for each in told.numbers), name
    for asked in (*(f.id for f in planned.features), *(finding.code for finding in planned.findings)):
        assert explained(planned, asked, named) is not None, asked
    for web in planned.webs:
        for asked in (f"{balloon(web.a)}-{balloon(web.b)}", f"{web.b} and {web.a}"):
            told = explained(planned, asked, named)
            assert told is not None, asked
            assert told.id == web_id(web.a, web.b)
    assert explained(planned, "no such thing", named) is None
    assert "fret-12" in nearest(planned, "fret12", named)
