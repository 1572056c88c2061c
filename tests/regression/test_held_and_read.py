"""A bridge that drilled holes hold beside a neck that was read off its line: what is off is told from where it is wanted."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scribeline.job import parse_job
from scribeline.plan import Plan, plan
from scribeline.store.recorded import with_record

from ..as_built import tick
from ..conftest import DEMO
from ..neck_read import true_readings, with_readings

PILOTS = "drill-bridge-screws"


def held(off: float, *, neck: float = 1.5, extra: dict[str, float] | None = None) -> Plan:
    """A neck so far off its line, pilots drilled by the plan and found so far to the treble; with more readings."""
    line = true_readings(DEMO, neck, 0.0) if neck else {}
    before = plan(*parse_job(with_readings(DEMO, line)))
    done = tick(next(card for card in before.cards if card.id == PILOTS), before)
    cuts = [{**cut, "measured": [cut["at"][0], cut["at"][1] + off]} for cut in done.features]
    text = with_record(DEMO, [replace(done, features=tuple(cuts))], ())
    return plan(*parse_job(with_readings(text, line | (extra or {}))))


def finding(seen: Plan, code: str) -> str:
    return next((each.message for each in seen.findings if each.code == code), "")


def test_a_held_bridge_is_told_from_where_it_is_wanted_and_not_from_the_centreline() -> None:
    """Pilots 0.8 to the treble of the neck's line, which is itself 1.5 to the treble."""
    told = finding(held(0.8), "bridge.held-off-aim")
    assert "0.80 mm to the treble" in told
    assert not finding(held(0.0), "bridge.held-off-aim")
    assert "0.80 mm to the bass" in finding(held(-0.8), "bridge.held-off-aim")


@pytest.mark.parametrize("neck", [0.0, 1.5])
def test_the_thread_tells_a_bridge_whose_holes_hold_it_aside(neck: float) -> None:
    """Margins as the plan expects them over a bridge 0.8 off are not even: it must go 0.8 back. Even ones need no move."""
    off, even = held(0.8, neck=neck), held(0.0, neck=neck)
    names = ("margin-treble", "margin-bass")
    aside, middle = (
        {name: {m.id: m.value for m in each.measurables}[name] for name in names} for each in (off, even)
    )
    told = finding(held(0.8, neck=neck, extra=aside), "bridge.thread-test")
    assert "0.8" in told
    assert "too far to the treble" in told
    assert not finding(held(0.8, neck=neck, extra=middle), "bridge.thread-test")
