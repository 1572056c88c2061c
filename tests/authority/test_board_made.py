"""A fingerboard made here: slots by hand-worked arcs, kerfs and dots by a general geometry library."""

from __future__ import annotations

from io import StringIO
from math import hypot, sqrt
from pathlib import Path

import pytest
import shapely
from ezdxf.filemanagement import read
from tests.kind_jobs import faults_at, restated

from scribeline.drawing.board import board_sheet
from scribeline.drawing.dxf import write
from scribeline.job import parse_job
from scribeline.layout import board_made
from scribeline.plan import Plan, plan
from scribeline.plan.named import quantities

FANNED = (Path(__file__).parents[1] / "jobs" / "fanned.toml").read_text(encoding="utf-8")
STRAIGHT = restated(
    "".join(
        x
        for x in FANNED.splitlines(keepends=True)
        if not x.startswith(("bass_length", "square_fret", "radius_at_end"))
    ),
    {
        "fingerboard__radius": "9 1/2 in",
        "fingerboard__width_at_end": 56.0,
        "fingerboard__blank_thickness": 6.35,
        "neck__board_thickness": 6.35,
        "nut__width": 49.0,
    },
)


@pytest.fixture(scope="module")
def fanned() -> Plan:
    return plan(*parse_job(FANNED))


def test_depth_by_the_arcs_own_triangle() -> None:
    """A board of 9-1/2 in radius (241.3 mm), 28 mm half wide at its end, drops 1.63 mm to its edge; a tang of 1.6 mm with 0.3 mm
    under it asks for 3.53 mm there, which leaves 2.82 mm of 6.35 (Pythagoras, worked by hand). The last fret lies 26 mm before
    the board's end, where it is 27.8 mm half wide: 3.51 mm.
    """
    planned = plan(*parse_job(STRAIGHT))
    made = board_made(planned.job.document, planned.layout)
    assert made is not None
    assert 241.3 - sqrt(241.3**2 - 28.0**2) + 1.6 + 0.3 == pytest.approx(3.53, abs=0.005)
    last = planned.layout.frets[-1]
    half = 24.5 + (28.0 - 24.5) * last.along / 478
    by_hand = 241.3 - sqrt(241.3**2 - half**2) + 1.9
    assert made.depth == pytest.approx(by_hand, abs=1e-9)
    assert made.depth == pytest.approx(3.51, abs=0.005)
    assert made.left == pytest.approx(6.35 - by_hand, abs=1e-9)
    assert made.planed == 0


def test_wire_is_the_edge_to_edge_length_and_what_is_nipped_off(fanned: Plan) -> None:
    made = board_made(fanned.job.document, fanned.layout)
    assert made is not None
    lengths = [hypot(f.treble.x - f.bass.x, f.treble.y - f.bass.y) for f in fanned.layout.frets]
    assert made.wire == pytest.approx(1.1 * sum(length + 6 for length in lengths))
    assert quantities(fanned)["board.wire"].value == pytest.approx(made.wire, abs=1e-9)
    assert quantities(fanned)["board.slot-left"].value == pytest.approx(made.left, abs=1e-9)


def test_dots_lie_between_their_frets_and_on_the_board(fanned: Plan) -> None:
    made = board_made(fanned.job.document, fanned.layout)
    assert made is not None
    frets = fanned.layout.frets
    for number, at in made.dots:
        one, other = frets[number - 2], frets[number - 1]
        between = shapely.Polygon([one.treble, other.treble, other.bass, one.bass])
        assert between.buffer(-made.dot_diameter / 2 * 0.7).contains(shapely.Point(at))
    assert [number for number, _ in made.dots].count(12) == 2


def test_the_drawing_for_machines(fanned: Plan) -> None:
    sheet = board_sheet(fanned)
    assert sheet is not None
    drawn = read(StringIO(write(sheet).decode()))
    slots = drawn.modelspace().query('LINE[layer=="fret_slots" | layer=="fret slots"]')
    kerfs = drawn.modelspace().query('LWPOLYLINE[layer=="fret_kerfs" | layer=="fret kerfs"]')
    assert len(slots) == len(kerfs) == 22
    for slot, kerf in zip(slots, kerfs, strict=True):
        shape = shapely.Polygon([(x, y) for x, y, *_ in kerf.get_points()])
        line = shapely.LineString([slot.dxf.start.vec2, slot.dxf.end.vec2])
        assert shape.area == pytest.approx(0.58 * line.length, rel=1e-6)
        assert shape.centroid.distance(line.centroid) < 1e-6
    assert {round(slot.dxf.start.x, 6) for slot in slots} == {
        round(fret.treble.x, 6) for fret in fanned.layout.frets
    }


@pytest.mark.parametrize(
    ("board", "code", "severity"),
    [(6.4, None, ""), (5.2, "board.slots-deep", "caution"), (4.0, "board.slots-deep", "stop")],
)
def test_slots_leave_wood(board: float, code: str | None, severity: str) -> None:
    text = restated(
        FANNED,
        {"neck__board_thickness": board, "fingerboard__blank_thickness": board, "neck__heel_thickness": 26.0},
    )
    found = [f for f in plan(*parse_job(text)).findings if f.code == "board.slots-deep"]
    assert [f.severity for f in found] == ([severity] if code else [])


def test_what_cannot_be_is_said() -> None:
    (thin,) = faults_at(
        restated(FANNED, {"fingerboard__blank_thickness": 6.0}), "fingerboard.blank_thickness"
    )
    assert "a blank of 6 mm makes no board of 6.4 mm" in thin
    (beyond,) = faults_at(restated(FANNED, {"fingerboard__dots": [3, 25]}), "fingerboard.dots")
    assert "there is no fret 25" in beyond
