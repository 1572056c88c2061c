"""The body cut through along any line, against Manifold's own slices of the solid (manifold3d, a general geometry kernel)."""

from __future__ import annotations

from functools import cache
from math import cos, radians, sin
from pathlib import Path

import pytest
import shapely

from scribeline.drawing.cut_through import CutLine, cut_through, plane_marks
from scribeline.drawing.facing import view_point
from scribeline.drawing.sheet import Fill, Text
from scribeline.drawing.sheets.cutting import wood_in
from scribeline.job import parse_job
from scribeline.layout import Point, Point3
from scribeline.plan import Plan, plan
from scribeline.scenario import demo_jobs
from scribeline.solid.body import Body, make_body

ARCHED = (Path(__file__).parents[1] / "jobs" / "arched.toml").read_text("utf-8")
JOBS = {"flat": demo_jobs()["marram.toml"], "arched": ARCHED}
LINES = {
    "across the cavities": CutLine(Point(638, 150), Point(638, -150)),
    "aslant over the pickups": CutLine(Point(400, 0.5), Point(800, 60)),
    "within the body": CutLine(Point(540, 0), Point(640, 0)),
}
SLICED = 0.06
"""How far a solid of flat triangles, and a face drawn straight over half a millimetre, may be off together, mm."""


@cache
def made(job: str) -> tuple[Plan, Body]:
    found = plan(parse_job(JOBS[job]).job)
    layout = found.layout
    return found, make_body(layout.outline, layout.thickness, found.features, form=layout.body)


@pytest.mark.parametrize("where", LINES)
@pytest.mark.parametrize("job", JOBS)
def test_depths_and_wood_are_those_of_a_slice_of_the_solid(job: str, where: str) -> None:
    found, body = made(job)
    line = LINES[where]
    h = line.heading
    sliced = wood_in(
        body, (Point3(line.start.x, line.start.y, 0.0), Point3(h.y, -h.x, 0.0), Point3(h.x, h.y, 0.0))
    )
    through = cut_through(found, line, 1.0)
    assert through is not None
    assert through.met
    read = 0
    for met in through.met:
        for mark in met.marks[1:]:
            if mark is None:
                continue
            u, start, end = mark
            upright = shapely.LineString([(u, -1e3), (u, 1e3)])
            runs = [part.bounds for part in shapely.get_parts(sliced.intersection(upright))]
            middle = (start + end) / 2
            run = next(each for each in runs if each[1] - SLICED <= middle <= each[3] + SLICED)
            assert run[3] - run[1] == pytest.approx(abs(start - end), abs=SLICED), (met.id, mark)
            read += 1
    assert read


def test_depths_are_those_that_the_job_states() -> None:
    found, _ = made("flat")
    through = cut_through(found, CutLine(Point(600, -250), Point(600, 250)), 1.0)
    assert through is not None
    cut = next(each for each in through.met if each.id == "bridge-pickup")
    pocket = found.features.pockets[[each.id for each in found.features.pockets].index("bridge-pickup")]
    assert cut.depth == pytest.approx(pocket.depth)
    assert cut.under == pytest.approx(found.layout.thickness - pocket.depth)
    assert cut_through(found, CutLine(Point(2000, 0), Point(2100, 0)), 1.0) is None


@pytest.mark.parametrize("face", ["top", "back"])
@pytest.mark.parametrize("degrees", [0, 35, 90, 200])
def test_arrows_point_the_way_the_section_is_seen(face: str, degrees: int) -> None:
    """ISO 128-3: arrows on the cutting line show the direction of viewing. The first end is drawn on the left.

    With the top up, who has the first end on his left looks along up x right, worked by hand: (0, 0, 1) x heading.
    """
    found, _ = made("flat")
    h = (cos(radians(degrees)), sin(radians(degrees)))
    line = CutLine(Point(600 - 300 * h[0], -300 * h[1]), Point(600 + 300 * h[0], 300 * h[1]))
    through = cut_through(found, line, 0.6)
    assert through is not None
    marks = plane_marks(through, face, 1.0)  # type: ignore[arg-type]
    looks = view_point(face, (-h[1], h[0]), 1.0)  # type: ignore[arg-type]
    heads = [each for each in marks if isinstance(each, Fill)]
    assert len(heads) == 2
    for head in heads:
        tip, one, other = head.loops[0]
        way = (tip[0] - (one[0] + other[0]) / 2, tip[1] - (one[1] + other[1]) / 2)
        long = (way[0] ** 2 + way[1] ** 2) ** 0.5
        assert (way[0] / long, way[1] / long) == pytest.approx(looks, abs=1e-9)
    assert [each.text for each in marks if isinstance(each, Text)] == ["A", "A"]
