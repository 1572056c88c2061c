"""No number of seven jobs moves while the house is rebuilt (our own earlier output, not a check against the world)."""

from __future__ import annotations

import pytest

from .kept_plans import ADDED, IDS, JOBS, MOVED, kept, numbers_of


@pytest.mark.parametrize("name", JOBS)
def test_geometry_measurables_and_findings_are_what_they_were(name: str) -> None:
    now, before = numbers_of(JOBS[name]), kept()[name]
    assert len(before) > 1000
    assert not before.keys() - now.keys()
    assert not [place for place in now.keys() - before.keys() if not place.startswith(ADDED)]
    moved = {
        place: (value, now[place])
        for place, value in before.items()
        if (name, place) not in MOVED and not _alike(value, now[place])
    }
    assert not moved


def _alike(before: object, now: object) -> bool:
    if isinstance(before, float) or isinstance(now, float):
        return now == pytest.approx(before, rel=0.0, abs=1e-9)
    return now == (IDS.get(before, before) if isinstance(before, str) else before)
