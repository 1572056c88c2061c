"""Every cut of a plan is on the templates, in the DXF and SVG, in plan.json and on a step card, whatever it is."""

from __future__ import annotations

import io
from typing import Any

import pytest
from ezdxf.filemanagement import read

from scribeline.drawing import dxf
from scribeline.drawing.cuts import bore_layers, cut_sheet, pocket_layer
from scribeline.drawing.sheet import Clip, Item
from scribeline.drawing.templates import template_sheets
from scribeline.features import polygon
from scribeline.plan import Plan
from scribeline.plan.record import record
from scribeline.steps import balloon

from ..conftest import FULL, Planned

JOBS: dict[str, dict[str, Any]] = {
    "demo": {},
    "all kinds": {
        "bits.countersink": [{"diameter": 12}],
        "pockets[3].islands": [[[650, 86], [670, 84], [668, 92], [652, 94]]],
        "controls": [],
        "pockets[4]": {"name": "slot", "depth": 9, "slot": {"ends": [[560, -120], [600, -130]], "width": 8}},
        "pockets[5]": {
            "name": "slot deep",
            "depth": 20,
            "slot": {"ends": [[570, -122.5], [590, -127.5]], "width": 6},
            "corner_radius": 3,
            "opens_into": ["slot"],
        },
        "neck_screws.cup_diameter": 12,
        "neck_screws.cup_depth": 3,
        "holes": [
            {
                "name": "stepped",
                "at": [520, -110],
                "steps": [{"diameter": 12, "depth": 4}, {"diameter": 6, "depth": 20}],
            },
            {"name": "sunk", "at": [540, -110], "diameter": 4, "depth": 20, "countersink": {"diameter": 9}},
            {"name": "leaning", "at": [500, -90], "diameter": 5, "depth": 18, "lean": 20, "heading": 90},
            {
                "name": "through",
                "face": "back",
                "places": [[560, -80], [580, -80]],
                "diameter": 5,
                "through": True,
            },
        ],
    },
    "left-handed": {"handed": "left"},
}


@pytest.fixture(scope="module", params=JOBS)
def plan(request: pytest.FixtureRequest, planned: Planned) -> Plan:
    return planned(JOBS[request.param], FULL)


def test_nothing_stops_it(plan: Plan) -> None:
    assert not plan.stops


def test_on_the_templates(plan: Plan) -> None:
    def refs(items: tuple[Item, ...]) -> set[str]:
        found: set[str] = set()
        for item in items:
            found |= refs(item.items) if isinstance(item, Clip) else {item.ref}
        return found

    drawn = set().union(*(refs(sheet.items) for sheet in template_sheets(plan)))
    assert {feature.id for feature in plan.features} <= drawn


def test_in_the_dxf(plan: Plan) -> None:
    text = dxf.write(cut_sheet(plan)).decode("utf-8")
    drawing = read(io.StringIO(text))
    space = drawing.modelspace()
    for bore in plan.features.bores:
        for layer in bore_layers(bore):
            assert [e for e in space if e.dxf.layer == layer], layer
    for pocket in plan.features.pockets:
        rings = [e for e in space if e.dxf.layer == pocket_layer(pocket)]
        assert len(rings) == 1 + len(pocket.islands)


def test_on_a_card_and_in_the_record(plan: Plan) -> None:
    on_cards = {name for card in plan.cards for name in card.features}
    assert {feature.id for feature in plan.features} <= on_cards
    written = record(plan)
    assert [each["id"] for each in written["bores"]] == [bore.id for bore in plan.features.bores]
    assert [each["id"] for each in written["pockets"]] == [p.id for p in plan.features.pockets]
    numbers = [balloon(bore.id) for bore in plan.features.bores]
    assert len(numbers) == len(set(numbers))


def test_cards_of_one_hole_go_from_wide_to_narrow_and_end_with_the_countersink(plan: Plan) -> None:
    order = {card.id: card.no for card in plan.cards}
    for name, no in order.items():
        if name.startswith("countersink-"):
            assert order[f"drill-{name.removeprefix('countersink-')}"] < no
        if name.startswith("counterbore-") and f"drill-{name.removeprefix('counterbore-')}" in order:
            assert no < order[f"drill-{name.removeprefix('counterbore-')}"]


def test_the_neck_is_drilled_before_it_is_fitted_and_covers_before_their_screws(plan: Plan) -> None:
    order = {card.id: card.no for card in plan.cards}
    assert order["rout-neck-pocket"] < order["drill-neck-screws"] < order["fit-neck"] < order["pilot-heel"]
    assert order["rout-control-cavity-cover-recess"] < order["rout-control-cavity"]
    assert order["rout-control-cavity-cover-recess"] < order["drill-control-cavity-cover-screws"]
    for bore in plan.features.bores:
        for pocket in plan.features.pockets:
            if pocket.id in bore.meets:
                cards = [card.no for card in plan.cards if bore.id in card.features]
                (routed,) = [card.no for card in plan.cards if pocket.id in card.features]
                assert routed < min(cards, default=999)


def test_islands_stand_in_their_pockets(plan: Plan) -> None:
    for pocket in plan.features.pockets:
        for island in pocket.islands:
            assert polygon(pocket.outline).contains_properly(polygon(island))
