"""The jobs that whole packs are tested with are what the tests of packs take them for."""

import pytest

from scribeline.job import parse_job
from scribeline.plan import plan

from ..pack_jobs import PACK_JOBS


@pytest.mark.parametrize("name", PACK_JOBS)
def test_nothing_stops_the_work(name: str) -> None:
    assert [each for each in plan(*parse_job(PACK_JOBS[name])).findings if each.severity == "stop"] == []
