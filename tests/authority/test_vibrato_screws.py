"""A vibrato that rocks on wood screws: its key numbers worked by hand; both vibratos swept as a general kernel sees it."""

from __future__ import annotations

from functools import reduce
from math import asin, atan2, cos, degrees, hypot, radians, sin, tan
from typing import Any

import numpy as np
import pytest
from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut

from scribeline.features import holdings
from scribeline.job import Stated, parse_job
from scribeline.layout.bridges.sprung import balance, corners_of, most_up, moving, stretch, turns
from scribeline.layout.bridges.sprung import stated as stated_sprung
from scribeline.plan import Plan, plan
from scribeline.plan.named import quantities
from scribeline.tables import bearing_along_grain

from ..kernel_shapes import cut, distance, profiled, slab
from ..kind_jobs import example, faults_at, restated

TEXT = example("vibrato-six-screws")
ON_POSTS = example("vibrato-two-posts")


def text(**changes: Stated) -> str:
    return restated(TEXT, changes)


def planned(**changes: Stated) -> Plan:
    return plan(*parse_job(text(**changes)))


def codes(made: Plan) -> dict[str, Any]:
    return {each.code: each for each in made.findings}


def test_its_key_numbers_are_those_worked_by_hand() -> None:
    made = planned()
    document, bridge, named = made.job.document, made.layout.bridge, quantities(made)
    assert bridge is not None
    knife, up = bridge.middle.x, most_up(document)
    plate, block = moving(document)
    # Worked on paper from the numbers of the job file, plane geometry alone.
    sheet = {
        # Six screws over 55 mm stand 11 mm apart, 1.5 mm before the line of the knife edges.
        "first screw across": (made.features.anchors[0].at.y, 27.5),
        "second screw across": (made.features.anchors[1].at.y, 16.5),
        "screws before the knife edges": (knife - made.features.anchors[3].at.x, 1.5),
        # 1.8 mm of float and 0.4 mm over the plate's underside.
        "pivot over the body": (named["bridge.pivot-height"].value, 2.2),
        # 34.6 + 0.4 below the knife edges, and so 35.0 - 2.2 below the top; 44.6 - 32.8 in from the back.
        "springs' lever": (named["bridge.spring-lever"].value, 35.0),
        "claw's pilots in from the back": (made.features.family("claw-screw")[0].at.z + 44.6, 11.8),
        # 1.8 + 2.8 mm of the screw lie under its head; a pilot 1.5 mm longer than the other 20.4.
        "under the heads": (named["bridge.under-head"].value, 4.6),
        "pilots' depth": (made.features.anchors[0].deepest.depth, 21.9),
        # The plate's lower rear edge, 34 mm behind and 0.4 below, comes 2.2 below: asin(2.2 / 34.0024) - atan(0.4 / 34).
        "turn up": (degrees(up), 3.036),
        # A block from 9 to 21 mm behind and down to 38 below: 21 cos 25° + 38 sin 25°.
        "rear edge at 25° down": (max(x for x, _ in block.profile(radians(25))), 35.092),
        "furthest at any turn": (named["bridge.block-reach"].value, 43.417),
        # 9 cos 3.036° - 38 sin 3.036°.
        "front edge pulled up": (min(x for x, _ in block.profile(-up)), 6.975),
        # The front edge, 4.5 mm before and bevelled up by 4.5 tan 20° = 1.638: 1.238 over the pivot. Turned down 25° it lies
        # 4.5 sin 25° - 1.238 cos 25° = 0.780 below it, 1.420 over the body.
        "front edge over the body at 25° down": (2.2 - plate.profile(radians(25))[-1][1], 1.420),
        # 1.8 + 2.8 + 5.0 and + 11.0.
        "lowest string at a saddle": (named["bridge.lowest"].value, 9.6),
        "highest string at a saddle": (named["bridge.highest"].value, 15.6),
    }
    for what, (found, worked) in sheet.items():
        assert found == pytest.approx(worked, abs=0.001), what


def test_it_is_set_out_by_its_outer_screws() -> None:
    made = planned()
    assert made.layout.bridge is not None
    assert [mark.id for mark in made.layout.bridge.marks] == ["treble-screw", "bass-screw"]
    card = next(each for each in made.cards if each.title == "Mark the bass screw")
    assert any("into 5 equal parts and punch the other 4" in line for line in card.do)
    # Two screws leave none to divide the line for; and the screws are marked on the wood, not through a plate that rocks.
    two = planned(bridge__screw_count=2)
    assert len(two.features.anchors) == 2
    assert not any("equal parts" in line for each in two.cards for line in each.do)
    assert not any(each.kind == "fix bridge" for each in made.operations)
    for handed in ("right", "left"):
        layout = planned(handed=handed).layout
        assert layout.bridge is not None
        across = [anchor.at.y * layout.treble for anchor in layout.bridge.anchors]
        assert across == pytest.approx([27.5, 16.5, 5.5, -5.5, -16.5, -27.5])


def test_the_screws_that_bear_take_strings_and_springs() -> None:
    for bear in (2, 3, 6):
        made = planned(bridge__screws_bearing=bear)
        found = balance(made.job.document, made.layout)
        assert found is not None
        # Statics: the springs pull the bridge towards the nut as the strings do, and nothing else holds it along.
        held = next(
            each
            for each in holdings(made.job.document, made.layout, made.features.bores)
            if each.group == "bridge screws"
        )
        sides = [hold.side for hold in held.holds]
        assert sum(sides) == pytest.approx(found.forward + found.springs)
        assert sum(side > 0 for side in sides) == bear
        assert sides[0] == sides[-1] > 0 or bear < 2
    # In a soft timber two of them are too few, and the fix is said.
    told = codes(
        planned(body__timber="basswood", bridge_screw__thread="3.0 +/- 0.1", bridge_screw__root="2.0 +/- 0.1")
    )
    assert told["holding.slips"].features


def test_a_plate_far_over_the_wood_tilts_its_screws() -> None:
    made = planned(
        bridge__underside="10 mm +/- 0.1",
        bridge__knife_over_underside="8 mm +/- 0.1",
        bridge__saddle_height=24.0,
        bridge_screw__length="29 mm +/- 0.1",
    )
    held = next(
        each
        for each in holdings(made.job.document, made.layout, made.features.bores)
        if each.group == "bridge screws"
    )
    # A stiff pole of the thread, 4.0 mm, 29 - 12.8 mm in the wood and pushed 18 mm over it: F = p D l / (4 + 6 e / l).
    gravity, long = made.layout.body.layers[0].timber.gravity, 29 - 12.8
    assert held.holds[0].side_holds == pytest.approx(
        bearing_along_grain(gravity) * 4.0 * long / (4 + 6 * 18 / long)
    )


def test_springs_balance_a_change_of_strings() -> None:
    made = planned()
    found, bridge = balance(made.job.document, made.layout), stated_sprung(made.job.document)
    assert found is not None
    # Worked by hand: 450 N at 10.8 over 35.0 mm ask 138.9 N of the springs, 46.3 each of three; preloaded 6 N at 2.8 N/mm
    # each is 14.39 mm longer. 370 N ask 114.2 N: 24.7 N less, and the claw 24.7 / (3 x 2.8) = 2.94 mm slacker.
    assert stretch(bridge, 450 * 10.8 / 35.0) == pytest.approx(14.39, abs=0.005)
    assert stretch(bridge, 450 * 10.8 / 35.0) - stretch(bridge, 370 * 10.8 / 35.0) == pytest.approx(
        2.94, abs=0.005
    )
    # As a vector sum about the knife edges: each string at its saddle, the springs level and 35.0 mm below.
    assert made.layout.bridge is not None
    moment, pivot = 0.0, np.array([made.layout.bridge.middle.x, 2.2])
    for string in made.layout.strings:
        at, nut = (np.array([place.x, place.z]) for place in (string.saddle, string.nut))
        assert string.tension_n is not None
        pull, arm = string.tension_n * (nut - at) / hypot(*(nut - at)), at - pivot
        moment += arm[0] * pull[1] - arm[1] * pull[0]
    assert found.springs * 35.0 == pytest.approx(moment)


def test_a_plate_that_lies_on_the_body_wants_its_bevel() -> None:
    # Lying on the body with the knife edges level with its underside it turns about its own underside: 25° down, the front
    # edge goes into the wood unless it is bevelled by as much.
    flat: dict[str, Stated] = {
        "bridge__underside": "0 mm +/- 0.1",
        "bridge__knife_over_underside": "0 mm +/- 0.1",
        "bridge__saddle_over_plate_highest": 14.0,
    }
    told = codes(planned(**flat, bridge__front_bevel=10))["vibrato.plate-touches"]
    # 4.5 sin 25° - 4.5 tan 10° cos 25°.
    assert -told.value == pytest.approx(4.5 * (sin(radians(25)) - tan(radians(10)) * cos(radians(25))))
    assert told.severity == "stop"
    (tried,) = told.tries
    assert tried.key == "bridge.front_bevel"
    assert "vibrato.plate-touches" not in codes(planned(**flat, bridge__front_bevel=float(tried.shown)))
    assert "vibrato.plate-touches" in codes(planned(**flat, bridge__front_bevel=25, bridge__pull_up=2))


def wood_of(made: Plan) -> Any:
    """The board less every cavity, as the kernel has it."""
    thickness = made.job.document.body.thickness.mm
    return reduce(
        lambda wood, pocket: BRepAlgoAPI_Cut(wood, cut(pocket, thickness)).Shape(),
        [each for each in made.features.pockets if each.id.startswith(("block", "spring"))],
        slab(thickness),
    )


def nearest(made: Plan) -> dict[str, list[tuple[float, float]]]:
    """How near plate and block come to the wood at every turn of the sweep, as the kernel measures it: degrees and mm."""
    document, place = made.job.document, made.layout.bridge
    assert place is not None
    wood, angles = wood_of(made), turns(document)
    return {
        part.name: [
            (degrees(float(angle)), distance(profiled(corners), wood).mm)
            for angle, corners in zip(angles, corners_of(part, document, place, angles), strict=True)
        ]
        for part in moving(document)
    }


@pytest.mark.parametrize("job", [ON_POSTS, TEXT], ids=["posts", "screws"])
def test_accepted_jobs_never_touch_wood_and_a_tight_one_does(job: str) -> None:
    made = plan(*parse_job(job))
    assert not any(each.code.startswith("vibrato.") for each in made.findings)
    found = nearest(made)
    assert max(np.diff([turn for turn, _ in found["block"]])) <= 0.5 + 1e-9
    assert min(mm for _, mm in found["block"]) >= 2.0 - 1e-3
    # The plate's turn up ends where its rear edge meets the body: short of that it stands clear.
    assert all(mm > 0.05 for turn, mm in found["plate"] if turn > -2.5)
    assert found["plate"][0][1] == pytest.approx(0.0, abs=1e-6)
    # A slot whose tail wall stands half a millimetre too near for the block at its furthest: both find that they meet.
    document, place = made.job.document, made.layout.bridge
    assert place is not None
    _, block = moving(document)
    rear = (
        max(x for angle in turns(document) for x, _ in block.profile(float(angle)))
        + place.middle.x
        - made.layout.scale
    )
    front = made.layout.pockets[[each.name for each in made.layout.pockets].index("block slot")]
    start = min(at.x for at in front.outline) - made.layout.scale
    tight: dict[str, Stated] = {
        "pockets[1].centre[1]": (rear - 0.5 + start) / 2,
        "pockets[1].size[1]": rear - 0.5 - start,
        "pockets[1].corner_radius": "1/16 in",
    }
    pinched = plan(*parse_job(restated(job, tight)))
    told = codes(pinched)["vibrato.block-close"]
    assert told.severity == "stop"
    assert told.value == 0.0
    touching = [turn for turn, mm in nearest(pinched)["block"] if mm == 0.0]
    assert touching
    # The first turn from level at which the kernel finds them meeting is the one that is told.
    assert f"from {min(touching):.1f}° down on" in told.message


WRONG: tuple[tuple[str, dict[str, Stated], str], ...] = (
    ("bridge", {"bridge__screws_bearing": 7}, "no more than screw_count"),
    ("bridge", {"bridge__reach_forward": 1.2}, "behind its front edge"),
    ("bridge", {"bridge__screw_spread": 70.0}, "less than plate_width"),
    ("bridge_screw.length", {"bridge_screw__length": "7 mm"}, ""),
    ("bridge.slot", {"bridge__slot": "hole"}, "no cavity is called"),
)


@pytest.mark.parametrize(("path", "changes", "words"), WRONG)
def test_what_does_not_go_together_is_told(path: str, changes: dict[str, Stated], words: str) -> None:
    if path == "bridge_screw.length":
        changes = {**changes, "bridge__plate_thickness": 7.0}
        words = "does not reach the wood"
    told = faults_at(text(**changes), path)
    assert any(words in each for each in told), told


def test_a_job_without_its_screws_is_told() -> None:
    bare = TEXT.replace("[bridge_screw]\nmeasured = 0.1\nthread = 4.0\nroot = 2.8\nlength = 25\n", "")
    assert any("rocks on" in each for each in faults_at(bare, "bridge_screw"))


def test_its_numbers_have_names() -> None:
    made = planned()
    named = quantities(made)
    for number, bore in enumerate(made.features.anchors, start=1):
        assert named[f"bridge-screw-{number}.x"].value == pytest.approx(bore.at.x, abs=1e-9)
        assert named[f"bridge-screw-{number}.across"].value == pytest.approx(bore.at.y, abs=1e-9)
        assert named[f"bridge-screw-{number}.step-1.depth"].value == pytest.approx(
            bore.deepest.depth, abs=1e-9
        )
    for check in made.measurables:
        assert named[check.id].value == pytest.approx(check.value, abs=1e-9), check.id
        assert named[check.id].formula, check.id
    assert named["bridge.under-head"].formula == "underside + over"
    assert most_up(made.job.document) == pytest.approx(asin(2.2 / hypot(0.4, 34)) - atan2(0.4, 34))


def test_the_usual_one_of_the_parts_book_can_be_planned() -> None:
    start, _, rest = TEXT.partition("[bridge]\n")
    part = 'kind = "vibrato_screws"\npart = "six screws, six strings"\nslot = "block slot"\nspring_cavity = "spring cavity"\n\n'
    usual = plan(*parse_job(f"{start}[bridge]\n{part}[bridge_screw]{rest.partition('[bridge_screw]')[2]}"))
    assert usual.layout.bridge is not None
    assert "typical.bridge" in codes(usual)
