"""What a stop or a tape is set to as the work stands at that moment, and what wood is then left; worked by hand.

Every figure is plain geometry on numbers stated beside it.
"""

from __future__ import annotations

import numpy as np
import pytest
from tests.conftest import FULL, Planned

from scribeline.features import Bore, setting_of
from scribeline.plan import Plan
from scribeline.plan.record import record

HOLE = {"name": "trial", "places": [[560, 110]]}
"""In the horn, over nothing."""
OVER_THE_CAVITY = {"name": "trial", "places": [[690, 100]]}
"""Over the control cavity, which is cut from the back to 38.5 of 44.4 mm: 5.9 mm of wood lie over it."""


def step_of(plan: Plan, bore: str, no: int) -> dict[str, object]:
    return next(b for b in record(plan)["bores"] if b["id"] == bore)["steps"][no]  # type: ignore[no-any-return]


def the(plan: Plan, bore: str) -> Bore:
    return next(each for each in plan.features.bores if each.id == bore)


def test_a_second_bit_is_zeroed_beside_its_hole_for_the_wood_at_the_mark_is_gone(planned: Planned) -> None:
    plan = planned({}, FULL)
    lip, body = (step_of(plan, "ferrule-hole-1", no) for no in (0, 1))
    assert lip["zeroed"] == "the back, on the mark"
    assert body["zeroed"] == "the back, beside the hole"
    # Both travels count from the back, so they are what the point reaches from there.
    for step in (lip, body):
        assert step["zeroed_on"] == "face"
        assert step["stop"] == step["depth_stop"]


def test_a_tape_is_read_against_the_recess_that_the_wider_bit_left(planned: Planned) -> None:
    plan = planned({}, FULL)
    recess, bore = (step_of(plan, "jack", no) for no in (0, 1))
    assert recess["zeroed_on"] == "face"
    assert bore["zeroed_on"] == "floor"
    assert bore["stop"] == pytest.approx(bore["depth_stop"] - recess["depth"])  # type: ignore[operator]


def test_a_screw_in_a_covers_recess_counts_from_its_floor(planned: Planned) -> None:
    step = step_of(planned({}, FULL), "cover-screw-1", 0)
    assert step["zeroed"] == "the floor of the control cavity cover recess, on the mark"
    assert step["stop"] == step["depth_stop"]
    # 44.4 of wood less the recess's 2.0 and the hole.
    assert step["under"] == pytest.approx(44.4 - 2.0 - step["depth"])  # type: ignore[operator]


def test_a_hole_stated_inside_a_pocket_counts_from_the_pockets_floor(planned: Planned) -> None:
    plan = planned(
        {
            "holes[3]": {
                "name": "trial",
                "x_from": "pocket end",
                "places": [[34, 0]],
                "diameter": 4,
                "depth": 24,
            }
        },
        FULL,
    )
    bore = the(plan, "hole-9")
    pocket = next(p for p in plan.features.pockets if p.role == "neck pickup")
    setting = setting_of(plan.layout, bore, 0, plan.features.pockets)
    assert setting.zeroed_on == "floor"
    assert setting.mm == pytest.approx(bore.depth_stop - pocket.depth)
    number = {name: card.no for card in plan.cards for name in card.features}
    assert number["neck-pickup"] < number["hole-9"]


def test_a_hole_through_into_a_cavity_ends_there(planned: Planned) -> None:
    plan = planned(
        {"holes[3]": {**OVER_THE_CAVITY, "diameter": 4, "through": True, "into": ["control cavity"]}}, FULL
    )
    assert the(plan, "hole-9").deepest.depth == pytest.approx(5.9 + 1.0)  # and 1 mm to break out cleanly


@pytest.mark.parametrize("depth", [2.0, 4.5])
def test_over_a_rear_cavity_only_its_roof_is_left(planned: Planned, depth: float) -> None:
    plan = planned({"holes[3]": {**OVER_THE_CAVITY, "diameter": 4, "depth": depth}}, FULL)
    step, number = step_of(plan, "hole-9", 0), {n: c.no for c in plan.cards for n in c.features}
    roof = 5.9 if number["control-cavity"] < number["hole-9"] else 44.4
    assert step["under"] == pytest.approx(roof - depth)
    assert step["under_point"] == pytest.approx(roof - step["depth_stop"])  # type: ignore[operator]


def test_under_a_bit_wider_than_a_hole_from_the_back_the_hole_counts(planned: Planned) -> None:
    """Two holes stated from both faces, their middles 4 mm apart: the wide one's rim lies over the other."""
    plan = planned(
        {
            "holes[3]": {
                "name": "from the back",
                "face": "back",
                "places": [[564, 110]],
                "diameter": 3,
                "depth": 30,
            },
            "holes[4]": {"name": "wide", "places": [[560, 110]], "diameter": 12, "depth": 5},
        },
        FULL,
    )
    back, wide = the(plan, "hole-9"), step_of(plan, "hole-10", 0)
    number = {name: card.no for card in plan.cards for name in card.features}
    if number["hole-9"] < number["hole-10"]:
        # The bit's tip lies under the rim too: 44.4 − what the tip reaches from the back − 5.
        assert wide["under"] == pytest.approx(44.4 - back.depth_stop - 5.0)
    else:
        assert wide["under"] == pytest.approx(44.4 - 5.0)
    assert wide["under_point"] == pytest.approx(44.4 - wide["depth_stop"])  # type: ignore[operator]


def test_under_a_hole_on_an_arched_top_the_least_over_its_width_counts(planned: Planned) -> None:
    """A straight slope of 10 mm over 40 mm from the edge: a hole's rim is lower by a quarter of its radius.

    It stands beside the tail button's pilot, which is drilled before it.
    """
    plan = planned(
        {
            "body.top": {"kind": "arched", "profile": [[0, -10], [40, 0]]},
            "holes[3]": {"name": "trial", "face": "back", "places": [[735, 30]], "diameter": 6, "depth": 20},
        },
        FULL,
    )
    bore, step = the(plan, "hole-9"), step_of(plan, "hole-9", 0)
    around = [
        plan.layout.top_at(type(plan.layout.outline[0])(bore.at.x + 3 * np.cos(a), bore.at.y + 3 * np.sin(a)))
        for a in np.linspace(0, 2 * np.pi, 720)
    ]
    assert min(around) < -1.0
    assert step["under"] == pytest.approx(min(around) + 44.4 - 20.0, abs=0.01)


STEPPED = [{"diameter": 12.0, "depth": 4.0}, {"diameter": 8.0, "depth": 18.0}]


def test_on_an_arch_the_second_bit_is_zeroed_where_the_top_is_as_high_as_at_the_mark(
    planned: Planned,
) -> None:
    # 8 mm beside a hole on a slope of 1 in 10 the top lies 0.8 mm higher or lower than at the mark.
    arched = {"body.top": {"kind": "arched", "profile": [[0, -6], [60, 0]]}}
    hole = {"holes[3]": {"name": "trial", "places": [[560, 110]], "steps": STEPPED}}
    plan = planned({**arched, **hole}, FULL)
    name = next(bore.id for bore in plan.features.bores if bore.holds == "trial" or bore.group == "trial")
    assert step_of(plan, name, 1)["zeroed"] == "the top, beside the hole, where it is as high as at the mark"
    assert step_of(plan, "ferrule-hole-1", 1)["zeroed"] == "the back, beside the hole"
