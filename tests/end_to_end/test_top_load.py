"""A four-string bass whose strings end in the plate: the whole pack, with no hole that it does not need."""

from typing import Any

import pytest

from scribeline.drawing import pack
from scribeline.plan import Plan

from ..conftest import Planned

BASS: dict[str, Any] = {
    "bridge": {"part": "plate, four-string bass, top-load"},
    "bridge_screw": {"part": "4.2 x 32"},
    "ferrules": None,
    "string_holes": None,
    "ground_wire.from_front": 14,
    "strings": [
        {"note": "G2", "gauge": ".045", "setback": 2.0},
        {"note": "D2", "gauge": ".065", "setback": 3.0},
        {"note": "A1", "gauge": ".080", "setback": 4.0},
        {"note": "E1", "gauge": ".105", "setback": 5.0},
    ],
}


@pytest.fixture(scope="module")
def bass(planned: Planned) -> Plan:
    return planned(BASS)


def test_the_pack_is_drawn(bass: Plan) -> None:
    drawn = pack.draw(bass)
    assert {"sheets.pdf", "steps.pdf", "templates.pdf", "body.dxf", "body.stl"} <= set(drawn)
    assert all(drawn.values())
    for drawing in ("body.dxf", "body.svg"):
        assert b"ferrule" not in drawn[drawing]
        assert b"string-hole" not in drawn[drawing]


def test_every_step_is_one_that_it_needs(bass: Plan) -> None:
    told = " ".join(f"{card.title} {' '.join(card.do)}" for card in bass.cards).lower()
    assert "ferrule" not in told
    assert "string hole" not in told
    assert [card.no for card in bass.cards] == list(range(1, len(bass.cards) + 1))
