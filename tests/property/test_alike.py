"""One line speaks for several holes only where all that it says is true of each of them."""

from __future__ import annotations

from math import asin, degrees

import pytest
from tests.conftest import FULL, Planned

from scribeline.drawing.cards.pictures import picture_of_where
from scribeline.drawing.sheet import Clip, Text
from scribeline.drawing.sheets.holes import drill_list
from scribeline.drawing.templates import template_sheets
from scribeline.features import alike, balloon, runs, slope_deg, slope_words
from scribeline.plan import Plan


def _words(plan: Plan) -> str:
    """Everything lettered on the page that says how to use the templates, row by row of its tables."""
    items = [item for sheet in template_sheets(plan) for item in sheet.items]
    items += [item for clip in items if isinstance(clip, Clip) for item in clip.items]
    return "\n".join(item.text for item in items if isinstance(item, Text))


@pytest.fixture(scope="module")
def mixed(planned: Planned) -> Plan:
    """Two strap buttons with different screws, and a hole from the top that goes by the name of the back's screws."""
    return planned(
        {
            "strap_buttons[2].screw": {"measured": 0.05, "thread": 3.0, "root": 2.2, "length": 20},
            "holes[3]": {
                "name": "control cavity cover screws",
                "places": [[560, 110]],
                "screw": {
                    "measured": 0.1,
                    "thread": 2.9,
                    "root": 2.0,
                    "length": 12,
                    "under_head": 2,
                },
            },
        },
        FULL,
    )


def test_holes_told_together_agree_in_all_that_is_told(mixed: Plan) -> None:
    together = alike(mixed.features, mixed.layout)
    assert sorted(b.id for bores in together for b in bores) == sorted(b.id for b in mixed.features.bores)
    for bores in together:
        first = bores[0]
        for bore in bores:
            assert (bore.family, bore.face, bore.axis) == (first.family, first.face, first.axis)
            assert [(s.diameter, s.depth, s.bit) for s in bore.steps] == [
                (s.diameter, s.depth, s.bit) for s in first.steps
            ]


def test_two_strap_buttons_with_different_screws_have_a_line_each(mixed: Plan) -> None:
    buttons = mixed.features.family("strap-button")
    assert len({button.steps for button in buttons}) == 2
    rows = drill_list(mixed, mixed.features.bores)["rows"]
    lines = {row[0][0]: row[3][0] for row in rows}
    for button in buttons:
        assert lines[balloon(button.id)] == f"{button.deepest.depth:.2f} mm"


def test_a_card_drills_from_one_face_whatever_the_builder_calls_his_holes(mixed: Plan) -> None:
    by_id = {feature.id: feature for feature in mixed.features}
    titles = [card for card in mixed.cards if card.title.endswith("control cavity cover screws")]
    assert {card.face for card in titles} == {"top", "back"}
    for card in mixed.cards:
        if card.machine == "drill press" and card.features and card.workpiece == "body":
            assert {by_id[name].face for name in card.features} == {card.face}


def test_a_wire_hole_slopes_on_its_card_and_on_the_templates_as_it_does(mixed: Plan) -> None:
    told = _words(mixed)
    for bore in mixed.features.bores:
        if bore.is_wire_way:
            # Angle between a line and a plane: the arc sine of the unit vector's part square to it.
            slope = degrees(asin(abs(bore.axis.z)))
            assert slope_deg(bore) == pytest.approx(slope)
            assert slope_words(bore) == (
                "level with the faces" if slope < 0.05 else f"{slope:.1f}° from the face"
            )
            if bore.face in {"top", "back"}:
                assert slope_words(bore) in told
            card = next(card for card in mixed.cards if bore.id in card.features)
            assert slope < 0.05 or any(f"{slope:.1f}°" in line for line in card.do)


def test_numbers_that_run_on_are_drawn_together() -> None:
    assert runs(["B1", "B2", "B3", "S1", "S2", "J"]) == "B1 to B3, S1, S2, J"
    assert runs(["K1", "K3"]) == "K1, K3"


def test_only_the_card_that_drills_the_heel_shows_it(mixed: Plan) -> None:
    """The one that measures the neck shows the neck from nut to 12th fret."""
    pilot = mixed.neck.features.bores[0].id
    for card in mixed.cards:
        items = picture_of_where(mixed, card)
        shown = {getattr(item, "ref", "") for item in items} | {
            getattr(inner, "ref", "") for item in items if isinstance(item, Clip) for inner in item.items
        }
        assert (pilot in shown) == (pilot in card.features), card.id
