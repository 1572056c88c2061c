"""The carved neck on paper and for machines, read back by other people's readers of PDF and DXF."""

from __future__ import annotations

import io
from functools import cache
from io import StringIO
from itertools import pairwise
from pathlib import Path
from typing import Any, cast

import numpy as np
import pdfplumber
import pytest
import shapely
from ezdxf.entities.lwpolyline import LWPolyline
from ezdxf.filemanagement import read
from tests.kind_jobs import restated

from scribeline.drawing import pdf
from scribeline.drawing.carve import carve_picture, neck_blank_sheet
from scribeline.drawing.dxf import write
from scribeline.drawing.pack import files
from scribeline.drawing.sheet import Path as Drawn
from scribeline.drawing.templates import template_sheets
from scribeline.job import Stated, parse_job
from scribeline.layout import Carve, carve_of, channels, stations
from scribeline.plan import Plan, plan
from scribeline.plan.record import record

FANNED = (Path(__file__).parents[1] / "jobs" / "fanned.toml").read_text(encoding="utf-8")
MM = 25.4 / 72
EXPONENTS = {"round": 2.0, "soft v": 1.7, "flat": 2.6}
CURVED: dict[str, Stated] = {"neck__rod_depth_at_ends": 7.0, "neck_blank__upright": 1.0}


@cache
def planned(hand: str, section: str) -> tuple[Plan, Carve]:
    made = plan(*parse_job(restated(FANNED, {"handed": hand, "neck_blank__section": section})))
    carve = carve_of(made.job.document, made.layout)
    assert carve is not None
    return made, carve


@cache
def printed(hand: str, section: str) -> list[list[dict[str, Any]]]:
    """What is drawn on the pages of the neck's sections and its side."""
    sheets = [each for each in template_sheets(planned(hand, section)[0]) if each.name.startswith("Neck ")]
    assert [each.name.rpartition(" ")[0] for each in sheets] == ["Neck sections"] * 2 + [
        "Neck from the side"
    ] * 2
    written = pdf.write(sheets, title="the neck's back")
    with pdfplumber.open(io.BytesIO(written)) as book:
        return [[*page.curves, *page.lines] for page in book.pages]


def corners(mark: dict[str, Any]) -> np.ndarray[Any, Any]:
    return np.array(mark["pts"]) * (MM, -MM)


def hollows(hand: str, section: str) -> list[np.ndarray[Any, Any]]:
    """The corners of every closed mark with so many that it must be a template, down the pages."""
    found = [corners(mark) for page in printed(hand, section)[:2] for mark in page if len(mark["pts"]) > 150]
    assert len(found) == 6
    return found


@pytest.mark.parametrize("hand", ["right", "left"])
@pytest.mark.parametrize("section", EXPONENTS)
def test_templates_read_back_from_the_paper(hand: str, section: str) -> None:
    """Every corner of every hollow within 0.02 mm of |y/a|^m + (depth/c)^m = 1, by the numbers of plan.json alone.

    Half-way into the heel's curve the section is half of that and half the heel's, whose sides are upright.
    """
    told, m = record(planned(hand, section)[0])["carve"], EXPONENTS[section]
    for station, closed in zip(told["stations"], hollows(hand, section), strict=True):
        ring = closed[:-1] if np.allclose(closed[0], closed[-1]) else closed
        top, left, right = ring[:, 1].max(), ring[:, 0].min(), ring[:, 0].max()
        middle = (left + right) / 2
        inside = [p for p in ring if abs(p[0] - middle) < station["width"] / 2 + 0.05]
        half_way = station["id"] == "heel-half-way"
        a, depth = station["width"] / 2, station["depth"]
        shoulders = sorted(p[0] - middle for p in inside if top - p[1] < 1e-3)
        assert shoulders[0] == pytest.approx(-a, abs=0.02)
        assert shoulders[-1] == pytest.approx(a, abs=0.02)
        heel = told["heel_depth"]
        carved = 2 * depth - heel if half_way else depth
        curve = shapely.LineString(
            [
                (
                    y,
                    carved * (1 - min(1.0, abs(y / a)) ** m) ** (1 / m) / (1 + half_way)
                    + half_way * heel / 2,
                )
                for y in a * np.sin(np.linspace(-np.pi / 2, np.pi / 2, 20_001))
            ]
        )
        off = [curve.distance(shapely.Point(p[0] - middle, top - p[1])) for p in inside if top - p[1] > 1e-3]
        assert len(off) > 150
        assert max(off) < 0.02
        deepest = max(top - p[1] for p in inside)
        assert deepest == pytest.approx(depth, abs=0.02)
        # Between two of its corners the paper's line leaves the curve by less than that as well.
        between = [
            ((p[0] + q[0]) / 2 - middle, top - (p[1] + q[1]) / 2)
            for p, q in pairwise(ring)
            if max(abs(p[0] - middle), abs(q[0] - middle)) < a - 1e-3
        ]
        assert max(curve.distance(shapely.Point(each)) for each in between) < 0.02


@pytest.mark.parametrize("section", EXPONENTS)
def test_a_back_swept_through_its_printed_templates_is_the_planned_one(section: str) -> None:
    """What a builder makes who joins the printed hollows by a straightedge, from the 1st fret to where the heel's curve begins:
    it is the planned back within 0.03 mm everywhere and 0.05 % of its volume.
    """
    made, carve = planned("right", section)
    told = record(made)["carve"]["stations"][:5]
    share = np.linspace(-0.995, 0.995, 399)
    depths = []
    for station, ring in zip(told, hollows("right", section), strict=False):
        middle, top = (ring[:, 0].min() + ring[:, 0].max()) / 2, ring[:, 1].max()
        inside = np.array(
            [(p[0] - middle, top - p[1]) for p in ring if abs(p[0] - middle) < station["width"] / 2 + 0.05]
        )
        inside = inside[inside[:, 1] > 1e-3]
        inside = inside[inside[:, 0].argsort()]
        depths.append(np.interp(share * station["width"] / 2, inside[:, 0], inside[:, 1]))
    along = np.linspace(told[0]["x"], told[-1]["x"], 200)
    swept = np.array([np.interp(along, [each["x"] for each in told], row) for row in np.array(depths).T])
    half = carve.half(along)
    wanted = carve.depth(along[np.newaxis, :], share[:, np.newaxis] * half)
    assert np.abs(swept - wanted).max() < 0.03
    areas = np.trapezoid(swept, share, axis=0) * half
    planned_areas = np.trapezoid(wanted, share, axis=0) * half
    assert np.trapezoid(areas, along) == pytest.approx(np.trapezoid(planned_areas, along), rel=5e-4)


def test_the_left_hands_templates_are_the_right_hands() -> None:
    for one, other in zip(hollows("right", "flat"), hollows("left", "flat"), strict=True):
        assert np.abs((one - one[0]) - (other - other[0])).max() < 1e-3


def test_the_side_reads_back_from_the_paper() -> None:
    """Over both pages of the side, every corner of its back within 0.02 mm of the plan, from nut and glue line."""
    _, carve = planned("right", "flat")
    pages = printed("right", "flat")[2:]
    for no, page in enumerate(pages):
        back = max((corners(mark) for mark in page), key=len)
        length = np.ptp(back[:, 0])
        assert length == pytest.approx(carve.end, abs=0.02)
        glue, nut = back[:, 1].max(), back[:, 0].min()
        x = np.clip(back[:, 0] - nut, 0.0, carve.end)
        under = glue - back[:, 1]
        off = np.abs(under - carve.middle(x))[under > 1.0]
        assert len(off) > 150
        assert off.max() < 0.02, no


@pytest.mark.parametrize("changes", [{}, CURVED], ids=["flat channel", "curved channel"])
def test_the_drawing_for_machines(changes: dict[str, Stated]) -> None:
    made = plan(*parse_job(restated(FANNED, changes)))
    carve, sheet = carve_of(made.job.document, made.layout), neck_blank_sheet(made)
    assert carve is not None
    assert sheet is not None
    space = read(StringIO(write(sheet).decode())).modelspace()

    def on(layer: str) -> list[np.ndarray[Any, Any]]:
        every = (cast(LWPolyline, each) for each in space.query("LWPOLYLINE"))
        found = [each for each in every if each.dxf.layer.replace("_", " ") == layer]
        return [np.array([(x, y) for x, y, *_ in each.get_points()]) for each in found]

    (outline,) = on("neck outline")
    shape = shapely.Polygon(outline)
    assert shape.is_valid
    for x in (0.5, 100.0, 300.0, 360.0, 390.0):
        across = shape.intersection(shapely.LineString([(x, -100), (x, 100)]))
        assert across.length == pytest.approx(2 * float(carve.half(x)), abs=0.001)
    assert outline[:, 0].max() == pytest.approx(478.0, abs=0.001)
    (rod,) = on("truss rod channel")
    assert shapely.Polygon(rod).bounds == pytest.approx((6.0, -3.2, 478.0, 3.2), abs=0.001)
    bars = sorted(shapely.Polygon(each).bounds for each in on("bar channel"))
    assert bars[0] == pytest.approx((12.0, -12.6, 385.0, -9.4), abs=0.001)
    assert bars[1] == pytest.approx((12.0, 9.4, 385.0, 12.6), abs=0.001)
    (side,) = on("neck side")
    glue = side[:, 1].max()
    under = glue - side[:, 1]
    back = under > 1e-9
    assert np.abs(under - carve.middle(side[:, 0]))[back].max() < 0.001
    (floor,) = on("truss rod channel side")
    rod_channel = channels(made.job.document)[0]
    down = glue - floor[1:-1, 1]
    assert np.abs(down - rod_channel.bottom(floor[1:-1, 0])).max() < 0.001
    for station in stations(carve, made.layout):
        (drawn,) = on(f"section {station.id}")
        area = shapely.Polygon(drawn).area
        assert area == pytest.approx(float(carve.area(station.along)), rel=5e-4)
        left, low, right, high = shapely.Polygon(drawn).bounds
        assert right - left == pytest.approx(station.width, abs=0.001)
        assert high - low == pytest.approx(station.depth, abs=0.001)


def test_its_file_is_named_where_the_neck_is_carved_here() -> None:
    assert "neck-blank.dxf" in files(planned("right", "flat")[0])
    bare = plan(*parse_job(FANNED.partition("[neck_blank]")[0]))
    assert "neck-blank.dxf" not in files(bare)
    assert neck_blank_sheet(bare) is None


def test_the_picture_of_a_card_is_at_full_size_where_there_is_room() -> None:
    made, carve = planned("right", "flat")
    picture = carve_picture(made, 90.0)
    profile = next(each for each in picture.items if isinstance(each, Drawn) and each.ref == "fret-12")
    assert np.ptp([x for x, _ in profile.points]) == pytest.approx(2 * float(carve.half(carve.twelfth[0])))
