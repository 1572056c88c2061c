"""Datums: where they are, when they can be touched, and that readings from them lead back to the place."""

from __future__ import annotations

import pytest

from scribeline.layout import Point3
from scribeline.plan import Plan


def test_readings_lead_back_to_the_place(shipped_plan: Plan) -> None:
    places = [place for card in shipped_plan.cards for place in card.places]
    assert len(places) > 20
    for place in places:
        for reading in place.along:
            way = reading.datum.direction
            assert way is not None
            assert reading.datum.point.x + way.x * reading.mm == pytest.approx(place.at.x, abs=1e-9)
        assert place.across.mm * shipped_plan.layout.treble == pytest.approx(place.at.y, abs=1e-9)


def test_the_end_wall_is_there_once_it_is_routed_and_until_the_neck_fills_it(shipped_plan: Plan) -> None:
    wall, fret = (shipped_plan.layout.datum(name) for name in ("pocket-end", "12th-fret"))
    assert not wall.stands({"body"}, set())
    assert wall.stands({"body"}, {"neck-pocket"})
    assert not wall.stands({"body", "neck"}, {"neck-pocket"})
    assert not fret.stands({"body"}, set())
    assert fret.stands({"body", "neck"}, set())


def test_a_mark_is_read_straight_and_a_line_square_to_it(shipped_plan: Plan) -> None:
    tail, line = (shipped_plan.layout.datum(name) for name in ("tail", "centreline"))
    at = Point3(tail.point.x - 30.0, 40.0, -12.0)
    assert tail.straight(at).mm == pytest.approx(50.0)  # 3, 4, 5
    assert tail.along(at).mm == pytest.approx(-30.0)
    assert line.along(at).mm == pytest.approx(40.0 * shipped_plan.layout.treble)
    assert shipped_plan.layout.below("top", at).mm == pytest.approx(12.0)
    assert shipped_plan.layout.below("back", at).mm == pytest.approx(shipped_plan.layout.thickness - 12.0)


def test_an_instrument_has_each_datum_once(shipped_plan: Plan) -> None:
    names = [datum.id for datum in shipped_plan.layout.datums]
    assert len(set(names)) == len(names)
    with pytest.raises(LookupError, match="no datum"):
        shipped_plan.layout.datum("plate")  # type: ignore[arg-type]  # no such name
