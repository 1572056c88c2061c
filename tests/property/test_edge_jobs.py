"""The jack and the strap buttons in a whole job: what is made of them, what is found, and whether the cures cure."""

from __future__ import annotations

import re
import tomllib
from io import BytesIO
from math import cos, hypot, radians, sin
from typing import Any

import pytest
from ezdxf import recover

from scribeline.drawing import dxf
from scribeline.drawing.cuts import cut_sheet
from scribeline.features import Bore
from scribeline.job import JobError, parse_job
from scribeline.plan import Plan, plan
from scribeline.plan.record import record

from ..conftest import change

SCREW = {"gauge": 8, "length": 32}
JACK: dict[str, Any] = {
    "near": [708, 150],
    "into": "control cavity",
    "diameter": 22,
    "recess_diameter": 24,
    "recess_depth": 3,
}
BUTTONS = [
    {"name": "tail", "near": [752, 0], "screw": SCREW},
    {"name": "front", "near": [424, -76], "screw": SCREW},
]


def job(jack: dict[str, Any] | None = None, **more: Any) -> str:
    text = change(
        {
            "jack": {**JACK, **(jack or {})},
            "strap_buttons": BUTTONS,
            "bits.flat_bottomed": [9.0, 12.0, 22.0, 24.0],
        }
    )
    bare = {k: v for k, v in tomllib.loads(text)["jack"].items() if v is not None}
    return change({"jack": bare, **more}, base=text)


def planned(jack: dict[str, Any] | None = None, **more: Any) -> Plan:
    return plan(*parse_job(job(jack, **more)))


def codes(made: Plan) -> set[str]:
    return {finding.code for finding in made.findings}


def bore(made: Plan, name: str) -> Bore:
    return next(b for b in made.features.bores if b.id == name)


def test_the_jack_is_made_as_deep_as_it_takes() -> None:
    made = planned()
    jack = bore(made, "jack")
    assert [step.diameter for step in jack.steps] == [24, 22]
    assert jack.meets == {"control-cavity"}
    assert "jack" in made.features.pocket("control-cavity").meets
    assert jack.at.z == pytest.approx(-22.2)
    # One millimetre before its end every line of it has met the pocket; two millimetres before, not yet.
    import shapely

    cavity = shapely.Polygon(made.features.pocket("control-cavity").outline)
    for short, all_of_it in ((1.0, True), (1.05, False)):
        reached = []
        for side in (-10.999, *(x / 4 for x in range(-43, 44)), 10.999):
            start = (jack.at.x - side * jack.axis.y, jack.at.y + side * jack.axis.x)
            end = jack.deepest.depth - short + 1e-3
            tip = (start[0] + end * jack.axis.x, start[1] + end * jack.axis.y)
            reached.append(shapely.LineString([start, tip]).intersects(cavity))
        assert all(reached) == all_of_it


def test_a_stated_heading_and_height() -> None:
    made = planned({"heading": 120, "from_top": 25})
    place = made.layout.jack
    assert place is not None
    assert (place.inward.x, place.inward.y) == pytest.approx((-cos(radians(120)), sin(radians(120))))
    assert place.from_top == 25


def test_what_the_screws_go_into() -> None:
    made = planned()
    tail, front = bore(made, "strap-button-1"), bore(made, "strap-button-2")
    # The grain runs along the body: the tail's screw goes in along it, the front's at 53°.
    assert (tail.grain, front.grain) == ("end", "side")
    assert tail.screw is not None
    assert tail.screw.reach == pytest.approx(22)
    assert tail.deepest.depth == pytest.approx(22 + 1.5)


def test_the_plate_of_a_jack() -> None:
    text = job({"screws": [[-17, 0], [17, 0]], "screw": {"gauge": 4, "length": 13}, "plate_size": [46, 26]})
    made = plan(*parse_job(text))
    jack, one, other = (bore(made, name) for name in ("jack", "jack-screw-1", "jack-screw-2"))
    for screw in (one, other):
        assert screw.axis == jack.axis
        off = (screw.at.x - jack.at.x, screw.at.y - jack.at.y)
        assert abs(off[0] * jack.axis.y - off[1] * jack.axis.x) == pytest.approx(17, abs=1e-6)
    assert not [f for f in made.findings if f.severity == "stop"]
    assert {"drill-jack", "counterbore-jack", "drill-jack-screws"} <= {card.id for card in made.cards}


def test_left_handed_is_the_mirror_image() -> None:
    right, left = planned(), planned(handed="left")
    for a in (b for b in right.features.bores if b.face == "edge"):
        b = bore(left, a.id)
        assert (b.at.x, b.at.y, b.at.z) == pytest.approx((a.at.x, -a.at.y, a.at.z), abs=1e-6)
        assert (b.axis.x, b.axis.y) == pytest.approx((a.axis.x, -a.axis.y), abs=1e-6)
        assert [s.depth for s in b.steps] == pytest.approx([s.depth for s in a.steps], abs=1e-6)
        assert b.grain == a.grain
        assert b.lead == pytest.approx(a.lead, abs=1e-6)
    assert codes(right) == codes(left)
    places = {c.id: c.places for c in left.cards}
    for card in right.cards:
        for one, two in zip(card.places, places[card.id], strict=True):
            assert two.across.mm == pytest.approx(one.across.mm, abs=1e-4)
            for a_reading, b_reading in ((one.below, two.below), (one.mark, two.mark)):
                assert (a_reading is None) == (b_reading is None)
                if a_reading is not None and b_reading is not None:
                    assert b_reading.mm == pytest.approx(a_reading.mm, abs=1e-4)
                    assert b_reading.datum.id == a_reading.datum.id


def test_cards_come_in_an_order_that_works() -> None:
    made = planned()
    number = {card.id: card.no for card in made.cards}
    assert number["rout-control-cavity"] < number["counterbore-jack"] < number["drill-jack"]
    assert max(number[n] for n in ("drill-jack", "drill-strap-button-1")) < number["finish"]
    for card in made.cards:
        for name in card.features if card.machine == "hand drill" else ():
            cut = bore(made, name)
            if cut.face != "edge":  # tunnels and the string ground are drilled by hand too, from a face
                continue
            assert (card.bit, card.depth) in [(s.bit, s.depth) for s in cut.steps]
            assert any("below the top's edge" in line for line in card.do)
            assert card.cautions


def test_marks_on_the_edge_can_be_measured() -> None:
    made = planned()
    marks = {p.feature: p.mark for card in made.cards for p in card.places if p.mark is not None}
    jack = bore(made, "jack")
    # Straight from where the centreline meets the tail edge: worked from the outline's crossing of y = 0.
    outline = made.layout.outline
    ends = [
        a.x + (b.x - a.x) * a.y / (a.y - b.y)
        for a, b in zip(outline, outline[1:] + outline[:1], strict=True)
        if (a.y > 0) != (b.y > 0)
    ]
    assert marks["jack"].mm == pytest.approx(hypot(jack.at.x - max(ends), jack.at.y), abs=1e-6)
    assert marks["jack"].datum.id == "tail"
    assert marks["strap-button-2"].datum.words == "the neck pocket's corner on the bass side"


@pytest.mark.parametrize(
    ("jack", "code"),
    [
        ({"from_top": 13}, "edge.thin-face"),
        ({"from_top": 9}, "edge.breaks-through"),
        ({"from_top": 13}, "jack.opens-partly"),
        ({"near": [701, 160]}, "edge.place-off"),
    ],
)
def test_a_cure_cures(jack: dict[str, Any], code: str) -> None:
    made = planned(jack)
    (said,) = [f for f in made.findings if f.code == code]
    numbers = [float(n) for n in re.findall(r"-?\d+\.\d+", said.cure)]
    jack = {**jack, "near": numbers[:2]} if code == "edge.place-off" else {**jack, "from_top": numbers[0]}
    assert code not in codes(planned(jack))


@pytest.mark.parametrize(
    ("changes", "code", "words"),
    [
        ({"near": [500, 132]}, "jack.misses", "runs past the control cavity"),
        ({"heading": 80}, "edge.heading-along", "off square"),
        ({"near": [650, 100]}, "edge.place-off", "from the body's edge"),
        (
            {"into": "bridge pickup", "from_top": 33, "heading": 65, "near": [700, 154]},
            "jack.misses",
            "under",
        ),
    ],
)
def test_what_is_found(changes: dict[str, Any], code: str, words: str) -> None:
    made = planned(changes)
    said = [f for f in made.findings if f.code == code]
    assert said, codes(made)
    assert words in said[0].message
    assert said[0].cure


def test_a_pocket_narrower_than_the_jack() -> None:
    narrow = [[680, 60], [696, 60], [696, 120], [680, 120]]
    more: dict[str, Any] = {"pockets[3].outline": narrow, "pockets[3].corner_radius": 4}
    made = planned(**more)
    (said,) = [f for f in made.findings if f.code == "jack.opens-partly"]
    assert "past the cavity's wall" in said.message


def test_a_button_too_near_a_face_and_a_screw_that_meets_a_pocket() -> None:
    made = planned(strap_buttons=[{**BUTTONS[0], "from_top": 5}])
    assert "edge.seat" in codes(made)
    long = {**BUTTONS[0], "near": [747, 60], "screw": {"gauge": 8, "length": 60}}
    made = planned(strap_buttons=[long])
    met = {f.code for f in made.findings if "strap-button-1" in f.features and f.severity == "stop"}
    assert met & {"wood.run-together", "wood.thin-web", "screw.tip-shows"}


def test_a_plain_job_finds_nothing_to_stop_it() -> None:
    assert not planned().stops


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"jack.into": "cellar"}, 'names "cellar", but the cavities are'),
        ({"jack.depth": 30}, "either into (the cavity it opens into) or depth"),
        ({"jack.recess_depth": None}, "a counterbore needs both"),
        ({"jack.recess_diameter": 20}, "must be larger than the hole's 22 mm"),
        ({"jack.screws": [[20, 0]]}, "needs both screws"),
        (
            {"jack.screws": [[5, 0]], "jack.screw": {"gauge": 4, "length": 12}},
            "would stand in the jack's hole",
        ),
        ({"jack.diameter": 80}, "should lie between 5 and 40 mm"),
        ({"jack.near": [700]}, "jack.near"),
        ({"jack.near": None}, "jack.near"),
        ({"jack.colour": "red"}, "colour"),
        ({"strap_buttons[2].name": "Tail"}, "two strap buttons are called"),
        ({"strap_buttons[1].screw": {"gauge": 8, "length": 9}}, "ends inside the button"),
        ({"strap_buttons[1].screw": {"gauge": 99, "length": 30}}, "gauge"),
        ({"strap_buttons[1].screw": {"thread": 3, "root": 4, "length": 30}}, "must be smaller than thread"),
        ({"strap_buttons[1].grain": "sideways"}, "end"),
        ({"jack.heading": "north"}, "angle"),
        ({"pockets[1].name": "jack"}, "taken by one of the plan's own cuts"),
    ],
)
def test_bad_input_is_told_in_a_sentence(changes: dict[str, Any], sentence: str) -> None:
    with pytest.raises(JobError) as caught:
        parse_job(change(changes, base=job()))
    assert sentence in str(caught.value)


def test_the_record_and_the_cut_file_hold_them() -> None:
    made = planned()
    told = {each["id"]: each for each in record(made)["bores"]}
    assert told["jack"]["face"] == "edge"
    assert told["jack"]["number"] == "J"
    outside = {each["feature"]: each for each in record(made)["outside"]}
    assert outside["jack"]["to_top"] == pytest.approx(22.2 - 12, abs=1e-5)
    assert outside["bridge-screw-1"]["to_top"] is None
    drawn = recover.read(BytesIO(dxf.write(cut_sheet(made))))[0]
    jack = bore(made, "jack")
    layer = f"edge bore 22.00 deep {jack.deepest.depth:.2f} axis 22.20 below top"
    path, axis = sorted(
        drawn.modelspace().query(f'*[layer=="{layer}"]'), key=lambda e: e.dxftype(), reverse=True
    )
    kinds = {path.dxftype(), axis.dxftype()}
    assert "LINE" in kinds
    line = axis if axis.dxftype() == "LINE" else path
    run = line.dxf.end - line.dxf.start
    assert (run.normalize().x, run.normalize().y) == pytest.approx((jack.axis.x, jack.axis.y), abs=1e-6)
    ring = path if line is axis else axis
    corners = [(p[0], p[1]) for p in ring.get_points()]
    off = [
        (x - jack.at.x) * jack.axis.y - (y - jack.at.y) * jack.axis.x for x, y in (corners[0], corners[-1])
    ]
    assert sorted(off) == pytest.approx([-11, 11], abs=1e-6)
