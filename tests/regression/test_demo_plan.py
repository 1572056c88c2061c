"""Our own earlier output: a few numbers of the demo, so that none moves unnoticed. Not a check against the world.

Whoever changes one on purpose changes it here too and says why. Additions to the plan do not disturb these.
"""

from __future__ import annotations

import pytest

from scribeline.plan import Plan


def test_bores(shipped_plan: Plan) -> None:
    places = {
        bore.id: (bore.at.x, bore.at.y, bore.widest, bore.deepest.depth)
        for bore in shipped_plan.features.bores
    }
    expected = {
        "bridge-screw-1": (668.145, -29.0, 3.0, 23.7),
        "bridge-screw-4": (668.145, 29.0, 3.0, 23.7),
        "string-hole-1": (661.645, 26.5, 3.5, 34.0),
        "string-hole-6": (661.645, -26.5, 3.5, 34.0),
        "ferrule-hole-1": (661.645, 26.5, 9.0, 12.78),
        "ferrule-hole-6": (661.645, -26.5, 9.0, 12.78),
        "ground-wire": (644.145, 5.3, 4.0, 30.207),
    }
    for name, numbers in expected.items():
        assert places[name] == pytest.approx(numbers, abs=0.005), name


def test_measurables(shipped_plan: Plan) -> None:
    values = {m.id: m.value for m in shipped_plan.measurables}
    expected = {
        "nut-to-12th": 320.0,
        "body-thickness": 44.4,
        "margin-treble": 3.98,
        "margin-bass": 4.11,
        "12th-to-plate": 310.145,
        "pocket-end-to-plate": 162.145,
        "nut-to-plate": 630.145,
        "diagonal-treble": 317.152,
        "diagonal-bass": 317.152,
    }
    assert {key: values[key] for key in expected} == pytest.approx(expected, abs=0.006)


def test_thinnest_webs(shipped_plan: Plan) -> None:
    webs = {frozenset((web.a, web.b)): web.mm for web in shipped_plan.webs}
    assert webs[frozenset(("ferrule-hole-1", "ferrule-hole-2"))] == pytest.approx(1.6, abs=0.005)
    assert webs[frozenset(("string-hole-1", "ferrule-hole-1"))] == 0.0


def test_order_of_the_main_steps(shipped_plan: Plan) -> None:
    main_steps = (
        "check-neck",
        "rout-neck-pocket",
        "fit-neck",
        "set-plate",
        "drill-bridge-screws",
        "drill-string-holes",
        "drill-ground-wire",
        "counterbore-ferrules",
        "bore-ferrules",
        "finish",
        "chase",
        "fit-hardware",
    )
    order = [card.id for card in shipped_plan.cards if card.id in main_steps]
    assert tuple(order) == main_steps


def test_findings(shipped_plan: Plan) -> None:
    assert "pilot.rules-differ" in {finding.code for finding in shipped_plan.findings}
    assert not [finding for finding in shipped_plan.findings if finding.severity != "note"]
