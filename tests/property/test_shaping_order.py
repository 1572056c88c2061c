"""Layers, arch, steps, bevels and rounding in the order of work: what the wood is when a card comes, and what it then asks.

Order and readings are held to how wood is worked by hand (common practice, no source) and to plain geometry: a depth
below a face that lies h over height 0 reaches h − depth; a plane at angle a falls L tan a over a run L.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from math import hypot, radians, tan
from typing import Any

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from scribeline.drawing.cards import step_cards
from scribeline.drawing.sheet import Clip, Text
from scribeline.drawing.templates import template_sheets
from scribeline.features import Bore, Features, Pocket, make_features
from scribeline.job import EMPTY, parse_job
from scribeline.layout import Layout, lay_out, measurables
from scribeline.operations import Progress, cuts_of, operations
from scribeline.steps import Card, make_cards

from ..conftest import FULL, Planned, change
from ..step_card_reader import read_step_cards
from .test_order_of_work import test_cards_meet_their_needs as cards_meet_their_needs
from .test_order_of_work import test_wide_before_narrow_in_one_hole as wide_before_narrow

THICK = 44.4
LAYERS = [
    {"name": "cap", "timber": "maple-sugar", "thickness": "12 +/- 0.1"},
    {"name": "core", "timber": "ash-white", "thickness": "32.4 +/- 0.1"},
]
ARCH = {"kind": "arched", "profile": [[0, -6.7], [20, -2], [45, 0]]}
FOREARM_LINE = ((600.0, -90.0), (760.0, -60.0))
FOREARM = {"name": "forearm", "face": "top", "line": [list(end) for end in FOREARM_LINE], "angle": 12}
BELLY = {"name": "belly", "face": "back", "line": [[450, -100], [640, -90]], "depth": 14}
HEEL = {"name": "heel", "face": "back", "line": [[425, 60], [425, -60]], "depth": 6}
BLOCK = {"name": "block", "outline": [[300, -50], [620, -50], [620, 50], [300, 50]], "height": 2}
WING = {"name": "wing", "outline": [[300, 70], [800, 70], [800, 250], [300, 250]], "height": -3}
JOBS: dict[str, dict[str, Any]] = {
    "arched": {"body.layers": LAYERS, "body.top": ARCH},
    "arched and rounded": {"body.top": ARCH, "body.roundover": {"top": 2, "back": 3}},
    "bevelled": {"body.bevels": [FOREARM, BELLY, HEEL], "body.roundover": {"top": 3, "back": 3}},
    "stepped": {"body.layers": LAYERS, "body.top": {"kind": "stepped", "areas": [BLOCK, WING]}},
    "set neck": {
        "body.top": ARCH,
        "neck.joint": "set",
        "neck_screws": None,
    },
}
SHAPING = ("carve-", "cut-", "round-")


@dataclass(frozen=True)
class Worked:
    """What the order of work is made from, without the search for wire ways and the clearances."""

    layout: Layout
    features: Features
    cards: tuple[Card, ...]


def work_out(changes: dict[str, Any]) -> Worked:
    job = parse_job(change(changes, base=FULL)).job
    layout = lay_out(job)
    features = make_features(job.document, layout)
    progress = Progress(EMPTY, layout, features, operations(job.document, layout, features))
    cards = make_cards(job.document, progress, measurables(job.document, layout))
    return Worked(layout, features, cards)


@cache
def worked(name: str) -> Worked:
    return work_out(JOBS[name])


@pytest.fixture(params=JOBS)
def shaped(request: pytest.FixtureRequest) -> Worked:
    return worked(str(request.param))


def by_id(made: Worked) -> dict[str, Card]:
    return {card.id: card for card in made.cards}


def the(made: Worked, name: str) -> Card:
    return by_id(made)[name]


def shaping(made: Worked) -> list[Card]:
    return [card for card in made.cards if card.id.startswith(SHAPING)]


def ordered(made: Worked) -> None:
    """Pockets from the flat blank, then the shape, then the holes; the neck off meanwhile."""
    cards_meet_their_needs(made)
    cards = by_id(made)
    bores = {bore.id for bore in made.features.bores}
    early = "carve-bevel-heel" if "carve-bevel-heel" in cards else ""
    shapes = [card.no for card in shaping(made) if card.id != early]
    routed = [card.no for card in made.cards if card.machine == "router" and card.features]
    drilled = [
        card.no
        for card in made.cards
        if bores.intersection(card.features) and not card.features[0].startswith("neck-screw")
    ]
    if shapes:
        assert max(routed, default=0) < min(shapes)
        assert max(shapes) < min(drilled)
        assert cards["fit-neck"].no < min(shapes) <= max(shapes) < cards["refit-neck"].no
        assert cards["refit-neck"].no < cards["set-plate"].no if "set-plate" in cards else True
    if "glue-layers" in cards:
        assert cards["glue-layers"].no < cards["check-body"].no


def test_pockets_then_shape_then_holes(shaped: Worked) -> None:
    ordered(shaped)
    wide_before_narrow(shaped)


def test_a_pocket_s_setting_reaches_its_planned_floor_from_the_wood_as_it_is(shaped: Worked) -> None:
    highest = 2.0 if shaped.layout.body.areas else 0.0  # the block stands 2 mm over the bridge's level
    for pocket in shaped.features.pockets:
        assert isinstance(pocket, Pocket)
        (card,) = [each for each in shaped.cards if pocket.id in each.features]
        assert card.depth == card.gate.value
        face, floor = (highest, -pocket.depth) if pocket.face == "top" else (THICK, THICK - pocket.depth)
        assert face - (card.depth or 0.0) == pytest.approx(floor)
        flat = not shaped.layout.body.round_back and not shaped.layout.body.bevels
        if pocket.face == "top" or not flat:
            # The gauge stands on wood that is flat when this step comes, and the card says so.
            assert "before it is shaped" in card.gate.ask
        else:
            assert card.gate.ask == "depth, with a gauge on the back"


def test_the_neck_pocket_of_an_arch_is_not_gauged_from_the_carved_mouth() -> None:
    made = worked("arched")
    (pocket,) = (p for p in made.features.pockets if p.role == "neck pocket")
    fallen = min(made.layout.top_at(p) for p in pocket.outline)
    assert fallen < -3.0  # a gauge standing there would have let the bit this much deeper
    rout, carve = the(made, "rout-neck-pocket"), the(made, "carve-arch")
    assert rout.no < carve.no
    assert rout.depth == 16.0


def test_no_shaping_card_records_a_cut(shaped: Worked) -> None:
    for card in (*shaping(shaped), *(c for c in shaped.cards if c.id in ("glue-layers", "refit-neck"))):
        assert card.features == ()
        assert cuts_of(card, shaped.features) == ()
        assert card.cautions
        assert card.gate is not None


def test_a_plain_body_has_no_such_card() -> None:
    made = work_out({})
    assert not shaping(made)
    assert not {"glue-layers", "refit-neck"} & set(by_id(made))


def test_the_boards_make_up_the_blank() -> None:
    for job, highest in (("arched", 0.0), ("stepped", 2.0)):
        boards = the(worked(job), "glue-layers").do[0]
        assert f"cap (sugar maple) {12 + highest:.2f} mm; core (white ash) 32.40 mm" in boards


def test_the_blank_s_reading_is_brought_to_the_level_under_the_bridge() -> None:
    card = the(worked("stepped"), "check-body")
    assert card.gate is not None
    assert card.gate.value == THICK
    assert card.gate.ask.endswith("less 2.00 mm")
    assert any("Take 2.00 mm off each reading" in line for line in card.do)


def test_the_arch_s_gate_is_the_wood_left_at_the_edge() -> None:
    card = the(worked("arched"), "carve-arch")
    assert card.gate is not None
    assert card.gate.value == pytest.approx(THICK - 6.7)
    assert any("at the edge: 6.70 mm; 20 mm in: 2.00 mm; 45 mm in: 0.00 mm" in line for line in card.do)


def test_a_bevel_s_gate_is_its_fall_where_the_outline_is_furthest() -> None:
    made = worked("bevelled")
    outline = shapely.Polygon(made.layout.outline)
    (ax, ay), (bx, by) = FOREARM_LINE
    # Furthest from the stated line on its bass side, by a dense walk along the outline.
    walk = shapely.get_coordinates(shapely.segmentize(outline.exterior, 0.05))
    off = [((x - ax) * (by - ay) - (y - ay) * (bx - ax)) / hypot(bx - ax, by - ay) for x, y in walk]
    card = the(made, "carve-bevel-forearm")
    assert card.gate is not None
    assert card.gate.value == pytest.approx(max(off) * tan(radians(12)), abs=0.01)
    belly = the(made, "carve-bevel-belly").gate
    assert belly is not None
    assert belly.value == pytest.approx(14.0)


def test_a_bevel_s_line_is_told_where_it_crosses_the_edge() -> None:
    right = worked("bevelled")
    outline = shapely.Polygon(right.layout.outline)
    (ax, ay), (bx, by) = FOREARM_LINE
    far = shapely.LineString(
        [(ax - 5 * (bx - ax), ay - 5 * (by - ay)), (bx + 5 * (bx - ax), by + 5 * (by - ay))]
    )
    met = shapely.get_coordinates(far.intersection(outline))
    words = " ".join(the(right, "carve-bevel-forearm").do)
    for x, y in met.tolist():
        assert f"{abs(x - 468):.1f} mm behind the pocket's end wall, {abs(y):.1f} mm to the bass" in words
    left = work_out({**JOBS["bevelled"], "handed": "left"})
    assert the(left, "carve-bevel-forearm").do == the(right, "carve-bevel-forearm").do


def test_a_bevel_under_the_neck_s_screws_is_carved_before_them() -> None:
    made = worked("bevelled")
    drill = next(card for card in made.cards if card.features and card.features[0].startswith("neck-screw"))
    assert the(made, "carve-bevel-heel").no < drill.no < the(made, "fit-neck").no
    assert {bore.id for bore in made.features.bores if bore.at.z > -THICK + 0.01 and bore.face == "back"}


def test_rounding_comes_after_what_it_follows_and_says_how_to_measure_from_it() -> None:
    made = worked("bevelled")
    last = max(card.no for card in made.cards if card.id.startswith("carve-"))
    for face in ("top", "back"):
        card = the(made, f"round-{face}")
        assert card.no > last
        assert card.gate is not None
        assert card.gate.value == 3.0
        assert card.machine == "router"
        assert any("Close the neck pocket" in line for line in card.do)
    assert any("measure 3.00 mm more" in line for line in the(made, "drill-jack").do)
    assert the(worked("arched and rounded"), "round-top").machine == "carving"


def test_steps_are_measured_from_the_level_under_the_bridge() -> None:
    made = worked("stepped")
    ground, wing = the(made, "cut-ground"), the(made, "cut-step-wing")
    assert ground.no < wing.no
    assert (ground.gate.value, wing.gate.value) == (2.0, 3.0)
    assert "cut-step-block" not in by_id(made)


def test_a_set_neck_is_glued_once_the_top_is_carved() -> None:
    made = worked("set neck")
    first, last = the(made, "fit-neck"), the(made, "refit-neck")
    assert not any("glue it" in line for line in first.do)
    assert any("Only then glue it" in line for line in last.do)
    assert any("off skin and eyes" in line for line in last.cautions)
    assert first.gate == last.gate


@pytest.mark.parametrize("name", ["arched", "bevelled"])
def test_cards_are_drawn(planned: Planned, name: str) -> None:
    made = planned(JOBS[name])
    assert len(read_step_cards(step_cards(made))) == len(made.cards)


bevels = st.lists(st.sampled_from([FOREARM, BELLY, HEEL]), unique_by=lambda b: str(b["name"]), max_size=3)
tops = st.sampled_from(
    [
        {"kind": "flat"},
        ARCH,
        {"kind": "stepped", "areas": [WING]},
        {"kind": "stepped", "areas": [BLOCK, WING]},
    ]
)


@settings(max_examples=12)
@given(bevels, tops, st.sampled_from([0, 3]), st.sampled_from([0, 3]), st.sampled_from(["left", "right"]))
def test_any_shape_has_an_order(
    slopes: list[dict[str, Any]], top: dict[str, Any], over: float, under: float, hand: str
) -> None:
    body = {"body.top": top, "body.bevels": slopes, "body.roundover": {"top": over, "back": under}}
    made = work_out({**body, "handed": hand})
    ordered(made)
    wanted = {feature.id: len(feature.steps) if isinstance(feature, Bore) else 1 for feature in made.features}
    cut = [name for card in made.cards if card.id != "chase" for name in card.features]
    assert {name: cut.count(name) for name in wanted} == wanted


def texts(items: Iterable[object]) -> Iterator[str]:
    """Every line of lettering, in order."""
    for item in items:
        if isinstance(item, Text):
            yield item.text
        elif isinstance(item, Clip):
            yield from texts(item.items)


def test_the_templates_say_what_a_raised_block_adds_to_a_pocket(planned: Planned) -> None:
    sheets = template_sheets(planned(JOBS["stepped"]))
    words = " ".join(text for sheet in sheets for text in texts(sheet.items))
    assert (
        "still stands 2.00 mm over the level under the bridge: add that to every cavity from the front"
        in words
    )
