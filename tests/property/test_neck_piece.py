"""The neck as a workpiece: its pilots go on from the body's holes, are checked, drawn, recorded and kept."""

from __future__ import annotations

import io
import json
from math import hypot

import pytest
import shapely
from ezdxf.filemanagement import read as read_dxf

from scribeline.drawing import dxf
from scribeline.drawing.extent import text_corners
from scribeline.drawing.heel import heel_items, heel_sheet
from scribeline.drawing.sheet import OUTLINE, Circle, Fill, Path, Text
from scribeline.job import Record, parse_job
from scribeline.layout import carve_of
from scribeline.operations import cuts_of
from scribeline.plan import Plan, plan
from scribeline.plan.named import explained
from scribeline.plan.record import as_json
from scribeline.scenario import examples
from scribeline.web.drawings import _neck_from_the_side

from ..conftest import FULL, change


def planned(text: str, record: Record | None = None) -> Plan:
    job = parse_job(text)
    return plan(job.job, job.record if record is None else record)


def test_every_pilot_goes_straight_on_from_its_hole(shipped_plan: Plan) -> None:
    holes, neck = shipped_plan.features.family("neck-screw"), shipped_plan.neck
    assert len(neck.features.bores) == len(holes) == 4
    for hole, pilot in zip(holes, neck.features.bores, strict=True):
        assert (pilot.at.x, pilot.at.y) == pytest.approx((hole.at.x, hole.at.y))
        assert pilot.at.z == neck.low == pytest.approx(-shipped_plan.job.document.neck.pocket_depth.mm)
        assert pilot.axis == hole.axis
        assert neck.beyond(pilot) == pytest.approx(
            neck.high - pilot.at.z - pilot.deepest.depth - pilot.deepest.bit.point
        )
        assert neck.beyond(pilot) > 0
    heel = shapely.Polygon(neck.outline)
    assert heel.is_valid
    # 75 long, 54.0 wide where the pocket opens, 56.2 at its end, its corners of 6 mm rounded off.
    assert heel.bounds[2] - heel.bounds[0] == pytest.approx(75.0)
    assert heel.area == pytest.approx(75.0 * (56.2 + 54.0) / 2, rel=0.005)


def test_its_card_is_like_any_other_pilots(shipped_plan: Plan) -> None:
    (card,) = (card for card in shipped_plan.cards if card.id == "pilot-heel")
    assert card.features == tuple(pilot.id for pilot in shipped_plan.neck.features.bores)
    assert [datum.id for datum in card.datums] == ["heel-end"]
    for place, pilot in zip(card.places, shipped_plan.neck.features.bores, strict=True):
        assert place.nearest.mm == pytest.approx(shipped_plan.layout.pocket_end - pilot.at.x)
        assert place.across.mm == pytest.approx(pilot.at.y * shipped_plan.layout.treble)
    assert card.setting is not None
    assert card.setting.surface == "the heel's underside"
    assert card.setting.mm == pytest.approx(card.depth + card.bit.point)  # type: ignore[operator, union-attr]


@pytest.mark.parametrize("hand", ["right", "left"])
def test_the_drawing_is_the_heel_turned_over(hand: str) -> None:
    made = planned(change({"handed": hand}, FULL))
    sheet = heel_sheet(made)
    circles = {item.ref: item for item in sheet.items if isinstance(item, Circle)}
    for pilot in made.neck.features.bores:
        at = circles[pilot.id].centre
        assert at == pytest.approx((pilot.at.x - made.layout.pocket_end, -pilot.at.y))
        assert circles[pilot.id].radius == pytest.approx(pilot.deepest.diameter / 2)
        # Full size: the marks on the card lie as far apart as the holes.
    marks = [item.centre for item in heel_items(made) if isinstance(item, Circle) and item.ref]
    first, second = made.neck.features.bores[:2]
    assert hypot(marks[0][0] - marks[1][0], marks[0][1] - marks[1][1]) == pytest.approx(
        hypot(first.at.x - second.at.x, first.at.y - second.at.y)
    )
    space = read_dxf(io.StringIO(dxf.write(sheet).decode())).modelspace()
    read = sorted((round(c.dxf.center.x, 3), round(c.dxf.center.y, 3)) for c in space.query("CIRCLE"))
    assert read == sorted((round(c.centre[0], 3), round(c.centre[1], 3)) for c in circles.values())


def test_the_sides_of_a_small_heel_are_read_off_white() -> None:
    """The headless example's pilots leave the lettering no room but on the line of the pocket's mouth."""
    marks = heel_items(planned(examples()["headless"].text))
    names = [each for each in marks if isinstance(each, Text) and each.text in {"bass side", "treble side"}]
    patches = [shapely.Polygon(each.loops[0]) for each in marks if isinstance(each, Fill)]
    assert len(names) == 2
    for name in names:
        words = shapely.Polygon(text_corners(name))
        lines = [
            shapely.LinearRing(each.points)
            for each in marks
            if isinstance(each, Path) and each.layer == OUTLINE
        ]
        assert any(words.intersects(line) for line in lines)
        assert any(patch.contains(shapely.box(*words.bounds).buffer(-0.5)) for patch in patches)


def test_a_drilled_pilot_stays_where_it_was_drilled() -> None:
    text = FULL
    before = planned(text)
    (card,) = (card for card in before.cards if card.id == "pilot-heel")
    done = {"card": card.id, "by": "Ann", "at": "2026-11-24T10:00:00Z"}
    cuts = [cut.plain for cut in cuts_of(card, before.every_cut)]
    record = Record.model_validate({"done": [{**done, "cuts": cuts}]})
    after = planned(
        change({"neck_screws.places": [[13.0, -19.0], [13.0, 19.0], [52.0, -17.5], [52.0, 17.5]]}, FULL),
        record,
    )
    assert [p.at for p in after.neck.features.bores] == [p.at for p in before.neck.features.bores]
    assert not any(bore.id.startswith("heel-pilot") for bore in after.features.bores)
    moved = {change.feature for change in after.moved}
    assert {"heel-pilot-1", "heel-pilot-2"} <= moved
    told = {name for each in after.findings if each.code == "drilled.would-move" for name in each.features}
    assert "heel-pilot-1" in told


@pytest.mark.parametrize(
    ("places", "code"),
    [
        # 26.5 mm out, where the heel is 27.9 to either side: half a thread of 4.2 does not fit.
        ([[14.0, -26.5], [14.0, 17.0]], "neck-screws.near-side"),
        # 4.2 mm apart with pilots of 3.6 mm: 0.6 mm of wood, less than any two holes may leave.
        ([[14.0, 0.0], [18.2, 0.0]], "heel-pilots.thin-web"),
    ],
)
def test_wood_that_is_missing_in_the_heel_is_told(places: list[list[float]], code: str) -> None:
    made = planned(change({"neck_screws.places": places}, FULL))
    assert code in {each.code for each in made.findings}


def test_a_pilot_drilled_through_the_glue_line_is_told() -> None:
    text = FULL
    before = planned(text)
    (card,) = (card for card in before.cards if card.id == "pilot-heel")
    cuts = [cut.plain for cut in cuts_of(card, before.every_cut)]
    cuts[0]["steps"][0]["depth"] += 4.0
    done = {"card": card.id, "by": "Ann", "at": "2026-11-24T10:00:00Z", "cuts": cuts}
    after = planned(text, Record.model_validate({"done": [done]}))
    (told,) = (each for each in after.findings if each.code == "heel-pilots.into-board")
    assert told.features == ("heel-pilot-1",)
    assert told.value == pytest.approx(before.neck.beyond(before.neck.features.bores[0]) - 4.0)


def test_plan_json_and_explain_know_it(shipped_plan: Plan) -> None:
    told = json.loads(as_json(shipped_plan))["neck"]
    assert [each["id"] for each in told["bores"]] == [f"heel-pilot-{n}" for n in range(1, 5)]
    assert [each["number"] for each in told["bores"]] == ["P1", "P2", "P3", "P4"]
    found = explained(shipped_plan, "P2")
    assert found is not None
    numbers = {each.id: each.value for each in found.numbers}
    assert numbers["heel-pilot-2.from-heel-end"] == pytest.approx(
        shipped_plan.layout.pocket_end - shipped_plan.neck.features.bores[1].at.x
    )
    assert numbers["heel-pilot-2.step-1.depth"] == pytest.approx(
        shipped_plan.neck.features.bores[1].deepest.depth
    )
    assert found.reasons


def test_a_carved_back_shows_from_the_side_down_to_its_heel() -> None:
    """On the app's side view: as thick there as the carve says, and without a step where it comes into the pocket."""
    made = plan(parse_job(examples()["angled-head"].text).job)
    carve = carve_of(made.job.document, made.layout)
    assert carve is not None
    *back, heel, wall, over = _neck_from_the_side(made, min(x for x, _ in made.layout.outline) - 70.0)
    for x, z in back:
        # Its neck lies level: places from the nut are places along it.
        assert over[1] - z == pytest.approx(float(carve.depth(x, 0.0)) + carve.board_thickness, abs=1e-9)
    assert back[-1] == pytest.approx((carve.mouth, heel[1]), abs=1e-6)
    assert heel == (made.layout.pocket_end, -made.job.document.neck.pocket_depth.mm)
    assert wall[1] == over[1]
