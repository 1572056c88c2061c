"""A fingerboard made here: slots by hand-worked arcs, kerfs and dots by a general geometry library."""

from __future__ import annotations

import io
from io import StringIO
from math import hypot, sqrt
from pathlib import Path

import pdfplumber
import pytest
import shapely
from ezdxf.filemanagement import read
from tests.kind_jobs import faults_at, restated

from scribeline.drawing import pdf
from scribeline.drawing.board import board_sheet
from scribeline.drawing.dxf import write
from scribeline.drawing.templates import template_sheets
from scribeline.job import parse_job
from scribeline.layout import board_made
from scribeline.layout.board import sticks
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


def test_the_saws_stops_from_the_nut_never_chained(fanned: Plan) -> None:
    """A jig's stop is half a kerf of 0.58 mm short of the slot's middle: 36.353 − 0.29 mm at the 1st fret of 647.7 mm and
    323.85 − 0.29 mm at the 12th (647.7 (1 − 2^(−n/12)), worked by hand). On a fan the kerf along the centreline is 0.58 / cos of
    the slot's own slant, and the stop is where the kerf's near side crosses the centreline, which a geometry library says.
    """
    text = restated(STRAIGHT, {"scale__length": "647.7 mm", "fret_wire__slot": 0.58})
    planned = plan(*parse_job(text))
    straight = board_made(planned.job.document, planned.layout)
    assert straight is not None
    assert straight.slots[0].stop == pytest.approx(36.353 - 0.29, abs=5e-4)
    assert straight.slots[11].stop == pytest.approx(323.85 - 0.29, abs=1e-9)
    for slot in straight.slots:
        assert slot.stop == pytest.approx(647.7 * (1 - 2 ** (-slot.fret / 12)) - 0.29, abs=1e-9)
        assert slot.turn == 0.0
    made = board_made(fanned.job.document, fanned.layout)
    assert made is not None
    centreline = shapely.LineString([(0.0, 0.0), (600.0, 0.0)])
    kerf = fanned.job.document.fret_wire.slot
    for slot in made.slots:
        cut = shapely.LineString(slot.ends).buffer(kerf / 2, cap_style="flat")
        near, _, far, _ = shapely.intersection(cut, centreline).bounds
        assert slot.stop == pytest.approx(near, abs=1e-9)
        assert slot.middle == pytest.approx((near + far) / 2, abs=1e-9)
        assert (slot.turn > 0) == (slot.ends[0].x > slot.ends[1].x)


def test_dots_lie_between_their_frets_and_on_the_board(fanned: Plan) -> None:
    made = board_made(fanned.job.document, fanned.layout)
    assert made is not None
    frets = fanned.layout.frets
    for number, at in made.dots:
        one, other = frets[number - 2], frets[number - 1]
        between = shapely.Polygon([one.treble, other.treble, other.bass, one.bass])
        assert between.buffer(-made.dot_diameter / 2 * 0.7).contains(shapely.Point(at))
    assert [number for number, _ in made.dots].count(12) == 2


def test_side_dots_on_the_bass_edge(fanned: Plan) -> None:
    """On the board's own edge, as far from one fret's end as from the other's; the 12th's two 3 diameters of 2 mm apart."""
    made = board_made(fanned.job.document, fanned.layout)
    assert made is not None
    edge = shapely.LineString(made.edges[1])
    places = [(fret, shapely.Point(place)) for fret, place in made.side_dots]
    assert [fret for fret, _ in places] == [3, 5, 7, 9, 12, 12, 15, 17, 19, 21]
    assert max(edge.distance(place) for _, place in places) < 1e-9
    ends = {fret.n: shapely.Point(fret.bass) for fret in fanned.layout.frets}
    for fret, place in places:
        if fret != 12:
            assert place.distance(ends[fret]) == pytest.approx(place.distance(ends[fret - 1]), abs=1e-9)
    one, other = (place for fret, place in places if fret == 12)
    assert one.distance(other) == pytest.approx(6.0, abs=1e-9)
    assert one.distance(ends[11]) == pytest.approx(other.distance(ends[12]), abs=1e-9)


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


@pytest.mark.parametrize("handed", ["right", "left"])
def test_the_strip_read_back_from_the_paper(handed: str) -> None:
    """On a roll, in one piece, by another program's reader: every slot over the full length, from the corner of the board."""
    planned = plan(*parse_job(restated(FANNED, {"handed": handed, "fingerboard__binding": 1.5})))
    made = board_made(planned.job.document, planned.layout)
    assert made is not None
    printed = pdf.write(template_sheets(planned, paper="610 mm"), title="the board's strip")
    with pdfplumber.open(io.BytesIO(printed)) as book:
        page = next(each for each in book.pages if "Fingerboard strip" in each.extract_text())
        size = 25.4 / 72
        marks = [
            (round(each["linewidth"] * size, 2), [(x * size, -y * size) for x, y in each["pts"]])
            for each in (*page.lines, *page.curves)
        ]
    outline = next(points for wide, points in marks if wide == 0.35 and len(points) == 5)
    corner = outline[0]  # the treble edge at the nut
    at = made.edges[0][0]
    slots = [points for wide, points in marks if wide == 0.5 and len(points) == 2]
    assert len(slots) == 22
    for points, slot in zip(slots, made.slots, strict=True):
        for (x, y), end in zip(points, slot.ends, strict=True):
            assert x - corner[0] == pytest.approx(end.x - at.x, abs=0.02)
            assert y - corner[1] == pytest.approx(end.y - at.y, abs=0.02)


def test_what_cannot_be_is_said() -> None:
    (thin,) = faults_at(
        restated(FANNED, {"fingerboard__blank_thickness": 6.0}), "fingerboard.blank_thickness"
    )
    assert "a blank of 6 mm makes no board of 6.4 mm" in thin
    (beyond,) = faults_at(restated(FANNED, {"fingerboard__dots": [3, 25]}), "fingerboard.dots")
    assert "there is no fret 25" in beyond


BOUND = restated(STRAIGHT, {"fingerboard__binding": 1.5})


def test_a_bound_board_worked_by_hand() -> None:
    """A binding of 1.5 mm on a board 49 mm wide at the nut and 56 at its end: the blank between is 46 and 53 mm wide. The last
    fret's slot ends 1.5 mm inside the board's edges, so that its drop is that of an arc of 241.3 mm half as wide as the slot
    (Pythagoras); its wire runs over the binding, 3 mm longer at either end. Both edges are √(478² + 3.5²) = 478.01 mm long.
    """
    planned = plan(*parse_job(BOUND))
    made = board_made(planned.job.document, planned.layout)
    assert made is not None
    assert made.widths == (46.0, 53.0)
    last, fret = made.slots[-1], planned.layout.frets[-1]
    width = 49.0 + 7.0 * fret.along / 478
    assert last.length == pytest.approx(width - 3.0, abs=1e-9)
    assert last.fret_length == pytest.approx(width, abs=1e-9)
    assert last.wire == pytest.approx(width + 6.0, abs=1e-9)
    half = width / 2 - 1.5
    assert last.depth == pytest.approx(241.3 - sqrt(241.3**2 - half**2) + 1.6 + 0.3, abs=1e-9)
    assert made.binding_length == pytest.approx(1.1 * 2 * sqrt(478**2 + 3.5**2), abs=1e-9)
    named = quantities(planned)
    for name, value in (
        ("board.binding", made.binding_length),
        ("board.wire", made.wire),
        ("board.blank-at-nut", 46.0),
        ("board.blank-at-end", 53.0),
        ("fret-22.slot-depth", last.depth),
    ):
        assert named[name].value == pytest.approx(value, abs=1e-9)
        assert named[name].formula
    card = next(each for each in planned.cards if each.id == "slot-board")
    assert any("Nip each tang back 2.00 mm" in line for line in card.do)


def test_slots_of_a_bound_fan_end_on_its_inside(fanned: Plan) -> None:
    """By a general geometry library: each fret's line cut by the board's edges moved in by the binding across the neck."""
    planned = plan(*parse_job(restated(FANNED, {"fingerboard__binding": 2.0})))
    made = board_made(planned.job.document, planned.layout)
    assert made is not None
    edges = [
        shapely.LineString([(x, side * (24.5 - 2.0 + (34 - 24.5) * x / 478)) for x in (-60.0, 600.0)])
        for side in (1, -1)
    ]
    for slot, fret in zip(made.slots, fanned.layout.frets, strict=True):
        line = shapely.LineString([fret.treble, fret.bass])
        for end, edge in zip(slot.ends, edges, strict=True):
            assert line.intersection(edge).distance(shapely.Point(end)) < 1e-6
        assert slot.fret_length == pytest.approx(line.length, abs=1e-9)


def test_part_frets_and_frets_left_out(fanned: Plan) -> None:
    """Fret 20 under the three treble strings ends midway between the third string and the fourth; fret 1 is left out."""
    part = [{"fret": 20, "strings": [1, 2, 3]}, {"fret": 18, "strings": [4, 5]}]
    text = FANNED.replace("dots = [3,", "frets_left_out = [1]\ndots = [3,") + "".join(
        f"\n[[fingerboard.part_frets]]\nfret = {each['fret']}\nstrings = {each['strings']}\n" for each in part
    )
    planned = plan(*parse_job(text))
    made = board_made(planned.job.document, planned.layout)
    assert made is not None
    slots = {slot.fret: slot for slot in made.slots}
    assert set(slots) == set(range(2, 23))
    spacing = planned.job.document.bridge.spacing.mm
    for fret, (first, last) in ((20, (1, 3)), (18, (4, 5))):
        line = shapely.LineString([fanned.layout.frets[fret - 1].treble, fanned.layout.frets[fret - 1].bass])
        meets = []
        for string in planned.layout.strings:
            row = spacing * (4 - string.no)
            path = shapely.LineString([(string.nut.x, string.nut.y), (string.nut.x + string.scale, row)])
            meets.append(line.intersection(path))
        treble, bass = (shapely.Point(end) for end in slots[fret].ends)
        between = shapely.LineString([meets[last - 1], meets[last]]).interpolate(0.5, normalized=True)
        assert bass.distance(between) < 1e-6
        if first > 1:
            before = shapely.LineString([meets[first - 2], meets[first - 1]]).interpolate(
                0.5, normalized=True
            )
            assert treble.distance(before) < 1e-6
        else:
            assert treble.distance(shapely.Point(fanned.layout.frets[fret - 1].treble)) < 1e-6
        assert slots[fret].wire == pytest.approx(treble.distance(bass) + 6.0, abs=1e-6)
        assert not slots[fret].whole


def test_a_zero_fret_has_a_slot_on_the_nuts_line() -> None:
    text = restated(FANNED, {"nut__zero_fret": True, "nut__height_over_frets": 0.0})
    planned = plan(*parse_job(text))
    made = board_made(planned.job.document, planned.layout)
    assert made is not None
    assert [slot.fret for slot in made.slots] == list(range(23))
    line = shapely.LineString([planned.layout.strings[0].nut[:2], planned.layout.strings[-1].nut[:2]])
    far = shapely.affinity.scale(line, 2.0, 2.0)
    assert all(far.distance(shapely.Point(end)) < 1e-6 for end in made.slots[0].ends)


@pytest.mark.parametrize(
    ("slot", "code", "severity", "value"),
    [
        (0.58, None, "", 0.0),
        (0.52, "board.tang-wedges", "caution", -0.02),
        (0.45, "board.tang-wedges", "stop", -0.09),
        (0.70, "board.tang-loose", "caution", 0.16),
    ],
)
def test_tangs_fill_their_slots(slot: float, code: str | None, severity: str, value: float) -> None:
    """A tang of 0.54 mm: in 22 slots 0.02 mm narrower the board grows by 0.44 mm on top (common practice, no source)."""
    planned = plan(*parse_job(restated(FANNED, {"fret_wire__slot": slot, "fret_wire__tang_width": 0.54})))
    found = [each for each in planned.findings if each.code.startswith("board.tang")]
    assert [(each.code, each.severity) for each in found] == ([(code, severity)] if code else [])
    for each in found:
        assert each.value == pytest.approx(value, abs=1e-9)
        assert each.waiting == ("slot-board",)
    if value == -0.02:
        assert "0.44 mm" in found[0].message


@pytest.mark.parametrize("handed", ["right", "left"])
def test_a_left_hand_board_is_the_mirror(handed: str) -> None:
    made = []
    for hand in ("right", handed):
        planned = plan(*parse_job(restated(FANNED, {"handed": hand, "fingerboard__binding": 1.5})))
        made.append(board_made(planned.job.document, planned.layout))
    one, other = made
    assert one is not None
    assert other is not None
    sign = 1 if handed == "right" else -1
    for a, b in zip(one.slots, other.slots, strict=True):
        assert [(x, sign * y) for x, y in a.ends] == list(b.ends)
        assert (a.depth, a.length, a.wire) == (b.depth, b.length, b.wire)


def test_sticks_of_wire_by_hand() -> None:
    """Frets of 60, 60, 50, 50, 40 and 30 mm off sticks of 100: 60 + 40, 60 + 30, 50 + 50: three. Off sticks of 90: 60 + 30, 60,
    50 + 40, 50: four.
    """
    frets = [50.0, 60.0, 30.0, 60.0, 50.0, 40.0]
    assert sticks(frets, 100.0) == 3
    assert sticks(frets, 90.0) == 4
    planned = plan(*parse_job(restated(FANNED, {"fret_wire__stick": 260.0, "fret_wire__overhang": 2.0})))
    made = board_made(planned.job.document, planned.layout)
    assert made is not None
    assert made.sticks is not None
    # 22 frets of 56 to 73 mm, 1.43 m in all: six sticks at the least, four or three frets off each.
    assert 6 <= made.sticks <= 8
    assert made.slots[-1].wire == pytest.approx(made.slots[-1].length + 4.0, abs=1e-9)
    assert sum(slot.wire for slot in made.slots) <= made.sticks * 260
    short = plan(*parse_job(restated(FANNED, {"fret_wire__stick": 60.0})))
    (told,) = (each for each in short.findings if each.code == "board.wire-short")
    assert told.value == pytest.approx(made.slots[-1].length + 6.0, abs=1e-9)


PART = "\n[[fingerboard.part_frets]]\nfret = {}\nstrings = {}\n"


@pytest.mark.parametrize(
    ("text", "path", "words"),
    [
        (restated(FANNED, {"fingerboard__frets_left_out": [12]}), "fingerboard.frets_left_out", "fret 12 cannot be left out"),
        (restated(FANNED, {"fingerboard__frets_left_out": [25]}), "fingerboard.frets_left_out", "there is no fret 25"),
        (restated(FANNED, {"fingerboard__binding": 6.0}), "fingerboard.binding", "between 0.3 and 4 mm"),
        (restated(FANNED, {"fret_wire__tang_width": 2.0}), "fret_wire.tang_width", "between 0.3 and 1 mm"),
        (FANNED + PART.format(22, [1, 2]), "fingerboard.part_frets[1].fret", "fret 22 must run right across"),
        (FANNED + PART.format(30, [1, 2]), "fingerboard.part_frets[1].fret", "there is no fret 30"),
        (FANNED + PART.format(20, [6, 7, 8]), "fingerboard.part_frets[1].strings", "there is no string 8"),
        (FANNED + PART.format(20, [1, 3]), "fingerboard.part_frets[1]", "a part fret is one piece"),
        (FANNED + 2 * PART.format(20, [1, 2]), "fingerboard.part_frets[2].fret", "fret 20 is listed twice"),
    ],
)  # fmt: skip
def test_bad_boards_are_refused(text: str, path: str, words: str) -> None:
    assert words in " ".join(faults_at(text, path))


def test_a_binding_without_a_board_made_here_is_refused() -> None:
    text = "".join(x for x in BOUND.splitlines(keepends=True) if not x.startswith("blank_thickness"))
    assert "binding is of a board that is made here" in " ".join(faults_at(text, "fingerboard"))
