"""The picture beside a check, and the moves that are offered as its cure."""

from __future__ import annotations

from math import dist, hypot

import pytest
from tests.conftest import WITHOUT_TUNNELS

from scribeline.drawing.sheet import Fill, Hatch
from scribeline.drawing.wood_left import picture_of_wood_left, shortage
from scribeline.job import moved, parse_job
from scribeline.plan import Plan, plan
from scribeline.web.trying import shifts

THIN = (
    WITHOUT_TUNNELS.replace("depth = 38.5", "depth = 41.5")
    .replace("centre = [-42, 0]", "centre = [-38, 3]")
    .replace("centre = [698, 86]", "centre = [714, 96]")
)
"""The demo with its bridge pickup too near a ring's screws and its control cavity too near the top."""


@pytest.fixture(scope="module")
def planned() -> Plan:
    return plan(parse_job(THIN).job)


def short_of_wood(planned: Plan) -> list:  # type: ignore[type-arg]
    found = [each for each in planned.findings if each.severity != "note" and shortage(planned, each)]
    assert len({each.code for each in found}) >= 2
    return found


def test_what_is_missing_is_drawn_as_long_as_it_is(planned: Plan) -> None:
    for finding in short_of_wood(planned):
        items = picture_of_wood_left(planned, finding)
        assert any(isinstance(each, Hatch) for each in items)
        black = [each for each in items if isinstance(each, Fill)]
        lack = finding.limit - max(finding.value, 0.0)
        assert len(black) == (lack > 0)
        for each in black:
            a, b, c, _ = each.loops[0]
            # At full size: one side is what is missing, the other how wide it is drawn.
            assert dist(a, b) == pytest.approx(lack, abs=1e-9)
            assert dist(b, c) == pytest.approx(7.0)


def test_a_move_that_is_offered_leaves_the_wood_that_is_asked_for(planned: Plan) -> None:
    document = planned.job.document
    offered = [(finding, shift) for finding in short_of_wood(planned) for shift in shifts(planned, finding)]
    assert len(offered) >= 2
    for finding, shift in offered:
        # No further than what is missing and the tenth it is rounded up to, where the places lie level.
        lack = finding.limit - finding.value
        assert lack <= hypot(shift.along, shift.across) + 1e-9
        then = plan(parse_job(moved(THIN, document, [shift.key], shift.along, shift.across)).job)
        left = [web.mm for web in then.webs if {web.a, web.b} == set(finding.features)]
        assert not left or min(left) >= finding.limit - 0.05, (finding.message, shift)


def test_a_check_of_something_else_has_no_picture(planned: Plan) -> None:
    others = [each for each in planned.findings if not each.code.startswith("wood")]
    assert others
    for each in others:
        assert shortage(planned, each) is None
        assert picture_of_wood_left(planned, each) == ()
        assert tuple(shifts(planned, each)) == ()
