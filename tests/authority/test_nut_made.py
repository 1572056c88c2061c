"""A nut made here, against sheets worked by hand, a general geometry library and other people's readers of PDF and DXF.

Slot widths, floors and slopes: formulas written out beside each case, worked without the planning code; the clearances, the share
of a string over the top and half the break are common practice, no source.
"""

from __future__ import annotations

import io
from io import StringIO
from math import atan, atan2, cos, degrees, hypot, radians, sin, sqrt, tan
from pathlib import Path
from typing import Any, cast

import pdfplumber
import pytest
import shapely
from ezdxf.entities.lwpolyline import LWPolyline
from ezdxf.filemanagement import read

from scribeline.drawing import pdf
from scribeline.drawing.dxf import write
from scribeline.drawing.nut import nut_sheet
from scribeline.drawing.templates import template_sheets
from scribeline.job import Stated, parse_job
from scribeline.layout import NutMade, nut_made
from scribeline.plan import Plan, plan
from scribeline.plan.named import quantities
from scribeline.quantities import UNTOLD

from ..kind_jobs import example, faults_at, restated

FANNED = (Path(__file__).parents[1] / "jobs" / "fanned.toml").read_text(encoding="utf-8")
SIX: dict[str, Stated] = {
    # trade sheet: 10-46, 42.5 mm wide, 3.2 mm to the outer strings' sides, crowns 1.1 mm, 0.19 mm over them.
    "nut__width": 42.5,
    "nut__edge": 3.2,
    "nut__height_over_frets": 0.19,
    "nut__thickness": 5.0,
    "fret_wire__crown_height": 1.1,
}
ZERO: dict[str, Stated] = {"nut__zero_fret": True, "nut__height_over_frets": 0.0}


def planned(text: str, **changes: Stated) -> Plan:
    return plan(*parse_job(restated(text, changes)))


def the_nut(of: Plan) -> NutMade:
    found = nut_made(of.job.document, of.layout)
    assert found is not None
    return found


@pytest.fixture(scope="module")
def six() -> Plan:
    return planned(example("single-saddles"), **SIX)


@pytest.fixture(scope="module")
def fanned() -> Plan:
    return planned(FANNED)


def test_a_six_string_nut_worked_by_hand(six: Plan) -> None:
    """Diameters of .010, .013, .017, .026, .036 and .046 in are 3.759 mm together: (42.5 − 6.4 − 3.759)/5 = 6.468 mm between
    the strings' sides, and centres 3.78, 11.29, 18.55, 25.56, 32.41, 39.17 mm from the bass edge. Slots: plain 0.05 wider, wound
    0.08: .010 0.30, .017 0.48, .046 1.25 mm. Floor over the board: 1.1 + 0.19 = 1.29 mm. Half of a .046 lies in the top: 0.58 mm.
    """
    made = the_nut(six)
    bass_first = list(reversed(made.slots))
    assert [round(slot.along, 2) for slot in bass_first] == [3.78, 11.29, 18.55, 25.56, 32.41, 39.17]
    widths = {slot.string: slot.width for slot in made.slots}
    assert [round(widths[no], 2) for no in (1, 3, 6)] == [0.30, 0.48, 1.25]
    assert made.slots[0].over_board == pytest.approx(1.29, abs=1e-9)
    assert made.slots[-1].from_top == pytest.approx(0.046 * 25.4 / 2, abs=1e-9)
    assert made.turn == 0
    assert made.length == pytest.approx(42.5, abs=1e-9)
    # Between two slots: the gap less half of what both are wider.
    assert made.walls[0] == pytest.approx(6.468 - 0.05, abs=0.001)
    assert made.edges[0] == pytest.approx(3.2 - 0.025, abs=1e-9)
    assert made.edges[1] == pytest.approx(3.2 - 0.04, abs=1e-9)


def test_floors_follow_the_arch_by_its_own_triangle(fanned: Plan) -> None:
    """An arch of radius R lies R − √(R² − y²) lower y beside its middle (Pythagoras); here R grows from 305 mm at the nut by
    101 mm over the board's 478. The nut's underside lies 3 mm below the board's face in the middle; crowns of 1.1 mm, strings 0.5
    over them.
    """
    made = the_nut(fanned)
    needs = []
    for slot, string in zip(made.slots, fanned.layout.strings, strict=True):
        radius = 305 + (406 - 305) * string.nut.x / 478
        by_hand = 3.0 + 1.1 + 0.5 - (radius - sqrt(radius**2 - string.nut.y**2))
        assert slot.floor == pytest.approx(by_hand, abs=1e-9)
        assert slot.from_blank == pytest.approx(made.height - by_hand, abs=1e-9)
        needs.append(by_hand + string.gauge / 2)
    assert made.needs == pytest.approx(max(needs), abs=1e-9)
    assert made.height == pytest.approx(max(needs) + 1.0, abs=1e-9)


def test_a_floor_falls_by_half_of_what_its_string_breaks(fanned: Plan) -> None:
    """The head leans 12°, its face 3 mm below the board's at the nut, so that the strings lie 4.6 mm over it; the posts hold them
    6.5 mm over it, 46, 73, 100 and 127 mm away: they break by 12° − atan(1.9/46) = 9.63° at the nearest. Half of that, 4.82°,
    over 6 mm of nut that lies 16.87° aslant, 6/cos 16.87° = 6.27 mm along the string, is 0.528 mm.
    """
    made = the_nut(fanned)
    breaks = radians(12) + atan((3.0 + 1.1 + 0.5 - 6.5) / 46)
    assert degrees(breaks) == pytest.approx(9.63, abs=0.005)
    for no in (1, 7):
        slot = made.slots[no - 1]
        assert slot.slope == pytest.approx(breaks / 2, abs=1e-9)
        assert slot.back is not None
        assert slot.floor - slot.back == pytest.approx(6.0 / cos(made.turn) * tan(breaks / 2), abs=1e-9)
        assert slot.floor - slot.back == pytest.approx(0.528, abs=0.001)


@pytest.mark.parametrize("handed", ["right", "left"])
@pytest.mark.parametrize("changes", [{}, ZERO], ids=["bearing", "guiding"])
def test_a_slanted_nut_by_lines_that_cross(changes: dict[str, Stated], handed: str) -> None:
    """Nut, guide and strings as straight lines, crossed by a general geometry library."""
    of = planned(FANNED, handed=handed, **changes)
    made, layout, hand = the_nut(of), of.layout, of.layout.treble
    ends = layout.strings[0].nut, layout.strings[-1].nut
    lean = atan2(ends[0].x - ends[1].x, (ends[0].y - ends[1].y) * hand)
    assert made.turn == pytest.approx(lean, abs=1e-9)
    behind = 4.0 if changes else 0.0
    far = 40.0

    def across(shift: float) -> shapely.LineString:
        return shapely.LineString([(tan(lean) * hand * y - shift, y) for y in (-far, far)])

    front, back = across(behind), across(behind + 6.0 / cos(lean))
    assert front.distance(back) == pytest.approx(6.0, abs=1e-6)
    # The board's edges: from 49 mm wide where the centreline crosses the nut's line to 68 mm at 478.
    edges = [
        shapely.LineString([(x, side * hand * (24.5 + (34 - 24.5) * x / 478)) for x in (-far, far)])
        for side in (1, -1)
    ]
    treble, bass = (across(0.0).intersection(edge) for edge in edges)
    assert made.length == pytest.approx(treble.distance(bass), abs=1e-9)
    bass = shapely.Point(bass.x - behind, bass.y)
    spacing, count = of.job.document.bridge.spacing.mm, len(layout.strings)
    for slot, string in zip(made.slots, layout.strings, strict=True):
        row = hand * spacing * ((count + 1) / 2 - string.no)
        aside = (row - string.nut.y) / string.scale
        own = shapely.LineString([(string.nut.x + d, string.nut.y + aside * d) for d in (-far, far)])
        for line, at in ((front, slot.front), (back, slot.behind)):
            assert own.intersection(line).distance(shapely.Point(at)) < 1e-6
        assert bass.distance(own.intersection(front)) == pytest.approx(slot.along, abs=1e-6)


def test_open_strings_over_the_first_fret_by_a_straight_line() -> None:
    """On a flat board without relief a string 0.5 mm over the frets at the nut and 1.6 over the 12th stands over the first by
    0.5 + 1.1 d₁/d₁₂ = 0.5 + 1.1 (1 − 2^(−1/12))/(1/2) = 0.6235 mm (a straight line; frets of 1.1 mm all alike).
    """
    flat = "".join(
        x
        for x in FANNED.splitlines(keepends=True)
        if not x.startswith(("radius", "bass_length", "square_fret"))
    )
    flat = restated(flat, {"setup__relief": 0.0, "setup__action_treble": 1.6, "setup__action_bass": 1.6})
    for slot in the_nut(plan(*parse_job(flat))).slots:
        assert slot.over_first == pytest.approx(0.5 + 1.1 * 2 * (1 - 2 ** (-1 / 12)), abs=1e-9)
        assert slot.over_first == pytest.approx(0.6235, abs=0.00005)


def test_a_guide_lies_below_its_zero_fret(fanned: Plan) -> None:
    """0.5 mm below a crown of 1.1 mm: 0.6 mm over the board. 4 mm behind the fret the strings break by atan(0.5/4) = 7.1°."""
    of = planned(FANNED, **ZERO)
    made = the_nut(of)
    assert made.slots[0].over_board == pytest.approx(1.1 - 0.5, abs=1e-9)
    assert degrees(atan(0.5 / 4.0)) == pytest.approx(7.1, abs=0.05)
    assert "nut.guide-flat" not in {each.code for each in of.findings}
    assert made.slots[3].along != the_nut(fanned).slots[3].along


def test_a_compensated_nut_moves_slots_and_saddles(six: Plan) -> None:
    """Each slot's front stands along its string so far before the nut's line. Pressed at the 12th fret it sounds its own octave
    where L/2 + s is half of L + s − c: moving the nut by c takes the saddle back by s = −c, but for what stretching adds
    (Mersenne's law). A nut moved by nothing changes nothing.
    """
    moved = [0.2, 0.3, 0.6, 0.3, 0.4, 0.5]
    of = planned(example("single-saddles"), **SIX, nut__compensation=moved)
    for slot, was, string, far in zip(
        the_nut(of).slots, the_nut(six).slots, of.layout.strings, moved, strict=True
    ):
        assert slot.front.x == pytest.approx(string.nut.x + far, abs=1e-9)
        assert slot.along == was.along
        assert slot.behind == was.behind
    # The blank must hold the foremost front: 5 mm and 0.6 before the line.
    assert the_nut(of).blank_thickness == pytest.approx(5.6, abs=1e-9)
    assert quantities(of)["nut.blank-thickness"].value == pytest.approx(5.6, abs=1e-9)
    card = next(each for each in of.cards if each.id == "slot-nut")
    assert any("5.60 mm thick" in line for line in card.do)
    still = planned(example("single-saddles"), **SIX, nut__compensation=[0.0] * 6)
    assert [each.setback for each in still.layout.strings] == [each.setback for each in six.layout.strings]
    shifts = [a.setback - b.setback for a, b in zip(of.layout.strings, six.layout.strings, strict=True)]
    assert shifts == pytest.approx([-far for far in moved], rel=0.05)


@pytest.mark.parametrize("changes", [{}, ZERO], ids=["bearing", "guiding"])
def test_left_is_the_exact_mirror(changes: dict[str, Stated]) -> None:
    right, left = (planned(FANNED, handed=hand, **changes) for hand in ("right", "left"))
    one, other = the_nut(right), the_nut(left)
    for a, b in zip(one.slots, other.slots, strict=True):
        assert (a.front.x, a.front.y, a.behind.x, a.behind.y) == (
            b.front.x,
            -b.front.y,
            b.behind.x,
            -b.behind.y,
        )
        assert (a.along, a.width, a.floor, a.from_blank, a.from_top, a.back, a.slope, a.over_first) == (
            b.along, b.width, b.floor, b.from_blank, b.from_top, b.back, b.slope, b.over_first,
        )  # fmt: skip
    lines = [drawn_lines(each) for each in (right, left)]
    for (a, b, c, d), (e, f, g, h) in zip(*lines, strict=True):
        assert (a, b, c, d) == pytest.approx((-e, f, -g, h), abs=1e-9)


def drawn_lines(of: Plan) -> list[tuple[float, ...]]:
    sheet = nut_sheet(of)
    assert sheet is not None
    space = read(StringIO(write(sheet).decode())).modelspace()
    found = space.query('LINE[layer=="nut_slots" | layer=="nut slots"]')
    return [(each.dxf.start.x, each.dxf.start.y, each.dxf.end.x, each.dxf.end.y) for each in found]


def in_the_strip(of: Plan, made: NutMade) -> list[tuple[float, ...]]:
    """Each slot's ends along the front from its bass end, and square to it towards the head, by turning the neck's own places."""
    hand, (x, y) = of.layout.treble, made.front[1]
    found = []
    for slot in made.slots:
        ends = []
        for at in (slot.front, slot.behind):
            u, v = at.x - x, (at.y - y) * hand
            ends += [
                hand * (u * sin(made.turn) + v * cos(made.turn)),
                v * sin(made.turn) - u * cos(made.turn),
            ]
        found.append(tuple(ends))
    return found


@pytest.mark.parametrize("handed", ["right", "left"])
def test_the_drawing_for_machines(handed: str) -> None:
    of = planned(FANNED, handed=handed)
    made = the_nut(of)
    for drawn, wanted in zip(drawn_lines(of), in_the_strip(of, made), strict=True):
        assert drawn == pytest.approx(wanted, abs=0.001)
    sheet = nut_sheet(of)
    assert sheet is not None
    space = read(StringIO(write(sheet).decode())).modelspace()
    kerfs = space.query('LWPOLYLINE[layer=="nut_kerfs" | layer=="nut kerfs"]')
    for kerf, slot in zip(kerfs, made.slots, strict=True):
        ring = shapely.Polygon([(x, y) for x, y, *_ in cast(LWPolyline, kerf).get_points()])
        long = hypot(slot.behind.x - slot.front.x, slot.behind.y - slot.front.y)
        assert ring.area == pytest.approx(long * slot.width, abs=0.001)
    (outline,) = space.query('LWPOLYLINE[layer=="nut"]')
    ring = shapely.Polygon([(x, y) for x, y, *_ in cast(LWPolyline, outline).get_points()])
    assert ring.area == pytest.approx(made.length * made.thickness, abs=0.001)
    # The blank is as long as the outline is wide.
    west, _, east, _ = ring.bounds
    assert made.blank_length == pytest.approx(east - west, abs=1e-6)


def page_of_the_nut(of: Plan) -> Any:
    """The nut strip's page, in millimetres with y up, its lines and outlines by width."""
    written = pdf.write(template_sheets(of)[-1:], title="the nut's strip")
    with pdfplumber.open(io.BytesIO(written)) as book:
        (page,) = book.pages
        assert "Nut strip" in page.extract_text()
        size = 25.4 / 72
        return [
            (round(each["linewidth"] * size, 2), [(x * size, -y * size) for x, y in each["pts"]])
            for each in (*page.lines, *page.curves)
        ]


@pytest.mark.parametrize("handed", ["right", "left"])
def test_the_strip_read_back_from_the_paper(handed: str) -> None:
    of = planned(FANNED, handed=handed)
    made, hand = the_nut(of), of.layout.treble
    marks = page_of_the_nut(of)
    outline = next(points for wide, points in marks if wide == 0.35 and len(points) == 5)
    front = min(y for _, y in outline)  # the head is up the page
    foremost = [x for x, y in outline if abs(y - front) < 0.01]
    bass = min(foremost) if hand > 0 else max(foremost)
    assert max(foremost) - min(foremost) == pytest.approx(made.length, abs=0.02)
    slots = [points for wide, points in marks if wide == 0.5 and len(points) == 2][: len(made.slots)]
    for points, wanted in zip(slots, in_the_strip(of, made), strict=True):
        read_back = [value for x, y in points for value in (x - bass, y - front)]
        assert read_back == pytest.approx(wanted, abs=0.02)
    # Cut along each string: the floor at the front and at the back over the underside.
    sections = [points for wide, points in marks if wide == 0.35 and len(points) == 5][1:]
    by_x = sorted(made.slots, key=lambda slot: hand * slot.along)
    for points, slot in zip(sections, by_x, strict=True):
        xs, ys = [x for x, _ in points], [y for _, y in points]
        at_front = max(y for x, y in points if abs(x - min(xs)) < 0.01) - min(ys)
        at_back = max(y for x, y in points if abs(x - max(xs)) < 0.01) - min(ys)
        assert at_front == pytest.approx(slot.floor, abs=0.02)
        assert at_back == pytest.approx(slot.back, abs=0.02)


@pytest.mark.parametrize("changes", [{}, ZERO], ids=["bearing", "guiding"])
@pytest.mark.parametrize(
    "text", [FANNED, restated(example("single-saddles"), SIX)], ids=["a fan", "straight"]
)
def test_every_number_is_explained(text: str, changes: dict[str, Stated]) -> None:
    of = planned(text, **changes)
    made, named = the_nut(of), quantities(of)
    for slot in made.slots:
        for key, value in (
            ("slot-along", slot.along),
            ("slot-width", slot.width),
            ("slot-floor", slot.floor),
            ("slot-depth", slot.from_blank),
            ("slot-in-top", slot.from_top),
            ("slot-slope", slot.slope),
            ("slot-back", slot.back),
            ("over-first", slot.over_first),
        ):
            if value is not None:
                told = named[f"string-{slot.string}.{key}"]
                assert told.value == pytest.approx(value, abs=1e-9), key
                assert told.formula, key
                assert told.source != UNTOLD, key
    for no, left in enumerate(made.walls, start=1):
        assert named[f"nut.wall-{no}"].value == pytest.approx(left, abs=1e-9)
    assert [named[f"nut.edge-{side}"].value for side in ("treble", "bass")] == pytest.approx(made.edges)
    assert named["nut.height"].value == pytest.approx(made.height, abs=1e-9)
    assert named["nut.blank-needs"].value == pytest.approx(made.blank_length, abs=1e-9)


def test_the_card_and_its_gate(fanned: Plan) -> None:
    card = next(each for each in fanned.cards if each.id == "slot-nut")
    assert (card.gate.value, card.gate.low, card.gate.high) == pytest.approx((1.6, 1.6, 1.7))
    number = {each.id: each.no for each in fanned.cards}
    assert (
        max(number["finish"], number["drill-tuners"], number["slot-board"]) < card.no < number["fit-hardware"]
    )


@pytest.mark.parametrize(
    ("changes", "code", "severity", "value"),
    [
        ({"nut__width": 22.0 + 3.0, "nut__edge": 9.0}, "nut.wall-thin", "stop", None),
        ({"nut__edge": 1.9}, "nut.end-thin", "caution", None),
        ({"nut__edge": 1.0, "nut__over_wound": 0.1}, "nut.end-thin", "stop", None),
        ({"nut__seat": 0.0, "nut__height_over_frets": 0.0}, "nut.floor-thin", "stop", None),
        ({"nut__blank_height": 4.0}, "nut.blank-low", "stop", None),
        ({"nut__blank_length": 52.0}, "nut.blank-short", "stop", 52.0 - 53.025),
        ({"nut__over_plain": 0.0}, "nut.slot-tight", "caution", 0.0),
        ({"nut__over_wound": 0.3}, "nut.slot-loose", "caution", 0.3),
        ({"nut__height_over_frets": 0.0, "setup__relief": 0.0, "setup__action_treble": 0.8}, "nut.string-low", "caution", None),
        ({**ZERO, "nut__below_zero_fret": 0.2}, "nut.guide-flat", "caution", degrees(atan(0.2 / 4.0))),
    ],
)  # fmt: skip
def test_planted_mistakes(changes: dict[str, Stated], code: str, severity: str, value: float | None) -> None:
    told = [each for each in planned(FANNED, **changes).findings if each.code == code]
    assert severity in {each.severity for each in told}
    assert all(each.waiting == ("slot-nut",) for each in told)
    if value is not None:
        assert min(abs((each.value or 0.0) - value) for each in told) < 0.001


def test_other_sets_go_into_the_slots() -> None:
    """A slot for .046 is 1.168 + 0.08 = 1.248 mm wide: a .052 of 1.321 lacks 0.073 mm, a .042 of 1.067 has 0.182 to spare."""
    for gauges, code, room in (
        ((10, 13, 17, 26, 36, 52, 62), "nut.set-tight", 1.2484 - 1.3208),
        ((10, 13, 17, 26, 36, 42, 62), "nut.set-loose", 1.2484 - 1.0668),
    ):
        notes = ("E4", "B3", "G3", "D3", "A2", "E2", "B1")
        strings = [
            f'{{ note = "{note}", gauge = ".{gauge:03d}" }}'
            for note, gauge in zip(notes, gauges, strict=True)
        ]
        text = f'{FANNED}\n[[string_sets]]\nname = "others"\nstrings = [{", ".join(strings)}]\n'
        told = [each for each in plan(*parse_job(text)).findings if each.code.startswith("nut.set-")]
        assert [each.code for each in told] == [code]
        assert told[0].value == pytest.approx(room, abs=1e-6)
        assert told[0].message.startswith('string 6 of "others"')


def test_nothing_is_told_of_a_nut_that_is_bought() -> None:
    of = planned(example("single-saddles"))
    assert nut_made(of.job.document, of.layout) is None
    assert nut_sheet(of) is None
    assert not any(name.startswith("nut.wall") for name in quantities(of))
    assert "slot-nut" not in {each.id for each in of.cards}


@pytest.mark.parametrize(
    ("changes", "path", "words"),
    [
        ({"nut__zero_fret": True}, "nut", "with a zero fret the strings lie on it"),
        ({**ZERO, "nut__compensation": [0.1] * 7}, "nut", "a zero fret is straight"),
        ({"nut__below_zero_fret": 0.5}, "nut", "below_zero_fret is of a zero fret"),
        ({"nut__compensation": [0.1] * 6}, "nut.compensation", "lists 6 lengths for 7 strings"),
        ({"nut__compensation": [4.0] * 7}, "nut.compensation[1]", "between -3 and 3 mm"),
        ({"nut__proud": 1.0}, "nut.proud", "0.9"),
        ({"nut__thickness": 30.0}, "nut.thickness", "between 2 and 15 mm"),
        ({"nut__seat": -1.0}, "nut.seat", "between 0 and 15 mm"),
        ({"nut__over_plain": 0.9}, "nut.over_plain", "between 0 and 0.5 mm"),
    ],
)
def test_what_cannot_be_is_said(changes: dict[str, Stated], path: str, words: str) -> None:
    told = faults_at(restated(FANNED, changes), path)
    assert words in "".join(told)


def test_a_seat_without_a_nut_made_here_is_refused() -> None:
    text = FANNED.replace("thickness = 6.0                  # and so is the nut\n", "")
    (told,) = faults_at(text, "nut")
    assert "seat is of a nut that is made here" in told


def test_from_a_zero_fret_everything_is_read_from_its_middle() -> None:
    of = planned(FANNED, **ZERO)
    hows = {each.id: each.how for each in of.measurables}
    for name in ("nut-to-12th", "nut-to-last-slot"):
        assert "from the zero fret's middle" in hows[name]
    assert not any("nut's front face" in how for how in hows.values())
    assert of.layout.datum("nut").words == "the zero fret's middle"
