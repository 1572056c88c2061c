"""Slanted frets against an independent intersection of lines, and against triangles worked by hand."""

from __future__ import annotations

import re
from math import atan, degrees
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.kind_jobs import example, faults_at, restated

from scribeline.job import JobError, Stated, parse_job, set_value
from scribeline.layout import Layout, fret_cents, fret_lines
from scribeline.plan import Plan, plan

FANNED = (Path(__file__).parents[1] / "jobs" / "fanned.toml").read_text(encoding="utf-8")
SEVENTH: dict[
    str, Stated
] = {  # 25-1/2 to 27 in, square at the 7th; the outer strings 43 mm apart at the nut and 63 mm at the bridge
    "scale__length": "25 1/2 in",
    "scale__bass_length": "27 in",
    "scale__square_fret": 7,
    "nut__width": 43 + 2 * 3.3 + (0.010 + 0.062) * 25.4 / 2,
    "bridge__spacing": 10.5,
}


@pytest.fixture(scope="module")
def planned() -> Plan:
    return plan(*parse_job(FANNED))


def test_worked_by_hand() -> None:
    """Triangles: at the nut the bass end lies (27 − 25.5) in × (1 − 2^(−7/12)) = 12.67 mm further from the tail, over 43 mm
    across; at the bridge the rest of the 38.1 mm, over 63 mm.
    """
    lines = fret_lines(parse_job(restated(FANNED, SEVENTH))[0].document)
    before = 38.1 * (1 - 2 ** (-7 / 12))
    assert before == pytest.approx(12.67, abs=0.005)
    # String 1 has the treble scale; positive takes the treble end towards the tail.
    assert lines.slope[0] == pytest.approx(before / 43, abs=1e-9)
    assert lines.slope[-1] == pytest.approx(-(38.1 - before) / 63, abs=1e-9)
    angles = [degrees(atan(each)) for each in lines.slope]
    assert angles[0] == pytest.approx(16.42, abs=0.005)
    assert angles[7] == pytest.approx(0.0, abs=1e-9)
    assert angles[12] == pytest.approx(-6.86, abs=0.005)
    assert angles[-1] == pytest.approx(-21.98, abs=0.005)
    assert lines.scale[[0, -1]] == pytest.approx([25.5 * 25.4, 27 * 25.4], abs=1e-9)


def crossings(layout: Layout, spacing: float) -> np.ndarray:
    """Each fret under each string, from the string's own place on the nut: its slot, drawn past both edges, cut by the string."""
    found = np.empty((len(layout.strings), len(layout.frets)))
    for s, string in enumerate(layout.strings):
        # The string on its way to the scale line, where the row of saddles stands in a plan without compensation.
        end = layout.stringing.along[s] - string.setback
        row = (len(layout.strings) + 1) / 2 - (s + 1)
        far = (layout.scale + end, row * spacing)
        thread = shapely.LineString([(string.nut.x, string.nut.y), far])
        for f, fret in enumerate(layout.frets):
            (tx, ty), (bx, by) = fret.treble, fret.bass
            slot = shapely.LineString([(2 * tx - bx, 2 * ty - by), (2 * bx - tx, 2 * by - ty)])
            found[s, f] = thread.intersection(slot).x - string.nut.x
    return found


@given(
    treble=st.floats(560, 680),
    more=st.floats(1, 45),
    square=st.floats(0, 22),
    spacing=st.floats(8.5, 11.5),
    gaps=st.booleans(),
)
@settings(max_examples=25, deadline=None)
def test_frets_under_the_strings(
    treble: float, more: float, square: float, spacing: float, *, gaps: bool
) -> None:
    text = restated(
        FANNED,
        {
            "scale__length": treble,
            "scale__bass_length": treble + more,
            "scale__square_fret": square,
            "bridge__spacing": spacing,
            "nut__spacing": "equal gaps" if gaps else "equal centres",
        },
    )
    job, record = parse_job(text)
    try:
        layout = plan(job, record).layout
    except JobError:
        return
    cents = fret_cents(job.document)
    series = 1 - 2 ** (-cents / 1200)
    own = np.array([string.frets for string in layout.strings])
    scales = np.array([string.scale for string in layout.strings])
    np.testing.assert_allclose(own, crossings(layout, spacing), atol=1e-7)
    np.testing.assert_allclose(scales[[0, -1]], [treble, treble + more], rtol=0, atol=1e-9)
    np.testing.assert_allclose(own[[0, -1]], np.outer(scales[[0, -1]], series), rtol=0, atol=1e-9)
    if not gaps:  # every string divides nut and bridge in one ratio: each stands on its own series
        np.testing.assert_allclose(own, np.outer(scales, series), rtol=0, atol=1e-9)
    # What a limp string without action would sound there, by its length alone (Mersenne's law).
    sounds = 1200 * np.log2(scales[:, np.newaxis] / (scales[:, np.newaxis] - own))
    np.testing.assert_allclose(fret_lines(job.document).off_series(cents), sounds - cents, atol=1e-9)
    np.testing.assert_array_equal(layout.stringing.setup.board(len(layout.strings)).fret_x, own)


@given(square=st.floats(0, 22))
@settings(max_examples=10, deadline=None)
def test_a_fan_of_two_equal_scales_is_straight(square: float) -> None:
    straight = without_fan(FANNED)
    equal = restated(FANNED, {"scale__bass_length": 628.0, "scale__square_fret": square})
    one, other = (plan(*parse_job(text)).layout for text in (straight, equal))
    for a, b in zip(one.frets, other.frets, strict=True):
        np.testing.assert_allclose([a.x, *a.treble, *a.bass], [b.x, *b.treble, *b.bass], rtol=0, atol=1e-12)
    for s, t in zip(one.strings, other.strings, strict=True):
        np.testing.assert_allclose(
            [*s.nut, *s.saddle, *s.frets], [*t.nut, *t.saddle, *t.frets], rtol=0, atol=1e-12
        )
    assert one.bridge is not None
    assert other.bridge is not None
    np.testing.assert_allclose(one.bridge.footprint, other.bridge.footprint, rtol=0, atol=1e-12)


def without_fan(text: str) -> str:
    return "".join(
        line for line in text.splitlines(keepends=True) if not line.startswith(("bass_length", "square_fret"))
    )


def test_each_base_stands_by_its_own_scale(planned: Plan) -> None:
    """Midway in its travel the saddle stands where its string wants it: its scale and compensation from its own nut."""
    layout, bridge = planned.layout, planned.job.document.bridge
    assert layout.bridge is not None
    halfway = (bridge.saddle_forward.mm + bridge.saddle_back.mm) / 2
    for string, unit in zip(layout.strings, layout.bridge.units, strict=True):
        reach = np.hypot(unit.front.x - string.nut.x, unit.front.y - string.nut.y) + halfway
        aslant = np.hypot(string.saddle.y - string.nut.y, string.scale + string.setback)
        assert reach == pytest.approx(aslant, abs=0.02)


def test_left_is_the_mirror(planned: Plan) -> None:
    left = plan(*parse_job(set_value(FANNED, "handed", "left")[0])).layout
    for a, b in zip(planned.layout.frets, left.frets, strict=True):
        assert (a.treble.x, -a.treble.y, a.bass.x, -a.bass.y) == (b.treble.x, b.treble.y, b.bass.x, b.bass.y)
    for s, t in zip(planned.layout.strings, left.strings, strict=True):
        assert (s.nut.x, -s.nut.y, s.saddle.x, -s.saddle.y) == (t.nut.x, t.nut.y, t.saddle.x, t.saddle.y)


def test_what_cannot_be_is_said() -> None:
    (only_one,) = faults_at(FANNED.replace("square_fret = 8\n", ""), "scale")
    assert "state square_fret too" in only_one
    (beyond,) = faults_at(restated(FANNED, {"scale__square_fret": 23}), "scale")
    assert "square_fret is 23; the board has frets 1 to 22" in beyond


def test_one_piece_bridges_seldom_follow_a_fan() -> None:
    studs = example("two-studs")
    length = parse_job(studs)[0].document.scale.length
    text = studs.replace("frets = ", f"bass_length = {length + 40}\nsquare_fret = 7\nfrets = ", 1)
    (stop,) = [each for each in plan(*parse_job(text)).findings if each.code == "bridge.window-empty"]
    assert stop.severity == "stop"
    assert "single saddles" in str(stop.cure)


def test_inner_strings_off_their_series_are_told() -> None:
    job, record = parse_job(restated(FANNED, {"nut__spacing": "equal gaps", **SEVENTH}))
    (note,) = [each for each in plan(job, record).findings if each.code == "frets.between-series"]
    off = fret_lines(job.document).off_series(fret_cents(job.document))
    assert note.value is not None
    assert note.value == pytest.approx(off.ravel()[np.abs(off).argmax()])
    # Up to a cent and a half over a fan of an inch and a half (common practice, no source).
    assert 0.3 < abs(note.value) < 1.5


def test_an_end_along_the_frets_runs_between_their_last_and_the_scale_line() -> None:
    """The lines of a fan turn steadily from the last fret to the scale line: at the board's end by its share of that way."""
    square, slanted = (
        plan(*parse_job(restated(FANNED, {"fingerboard__end_along_frets": each}))).layout
        for each in (False, True)
    )
    treble, bass = slanted.board_ends
    lean = (treble.x - bass.x) / (treble.y - bass.y)
    last = slanted.frets[-1]
    own = (last.treble.x - last.bass.x) / (last.treble.y - last.bass.y)
    lines = fret_lines(parse_job(FANNED)[0].document)
    share = (slanted.board_end - last.along) / (float(lines.middle[-1]) - last.along)
    assert lean == pytest.approx(own + share * (float(lines.slope[-1]) - own), abs=1e-9)
    # The corners lie on the board's edges, drawn on by shapely, and the line crosses the centreline at the board's end.
    for corner, edge in zip(slanted.board_ends, square.board_ends, strict=True):
        side = "treble" if corner.y > 0 else "bass"
        first = getattr(square.frets[0], side)
        taper = shapely.LineString([first, (2 * edge.x - first.x, 2 * edge.y - first.y)])
        assert taper.distance(shapely.Point(corner)) < 1e-9
    middle = shapely.LineString([treble, bass]).intersection(shapely.LineString([(0, 0), (999, 0)]))
    assert middle.x == pytest.approx(slanted.board_end, abs=1e-9)
    assert [end.x for end in square.board_ends] == pytest.approx([square.board_end] * 2)


@pytest.mark.parametrize("handed", ["right", "left"])
def test_a_pickup_along_the_frets_turns_with_them(handed: str) -> None:
    job = restated(FANNED, {"handed": handed}).replace(
        "size = [40, 84]", "size = [40, 84]\nalong_frets = true", 1
    )
    made = plan(*parse_job(job))
    pickup = next(each for each in made.layout.pockets if each.name == "bridge pickup")
    corners = list(pickup.outline)
    sides = [(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)]
    a, b = max(sides, key=lambda side: shapely.Point(side[0]).distance(shapely.Point(side[1])))
    lean = degrees(atan((a.x - b.x) / (a.y - b.y))) * made.layout.treble
    lines = fret_lines(made.job.document)
    last, row = degrees(atan(lines.slope[-2])), degrees(atan(lines.slope[-1]))
    assert row < lean < last < 0
    # 60 mm before the scale line of 645 mm and 158 mm past fret 22: nearer to the scale line's own slope than to the fret's.
    assert abs(lean - row) < abs(lean - last)


def test_on_a_straight_board_along_the_frets_is_square() -> None:
    text = example("single-saddles")
    turned = text.replace("[fingerboard]", "[fingerboard]\nend_along_frets = true", 1)
    one, other = (plan(*parse_job(each)).layout for each in (text, turned))
    assert one.board_ends == other.board_ends


def test_a_fret_that_runs_off_the_end_is_told() -> None:
    last = plan(*parse_job(FANNED)).layout.frets[-1]
    end = round(max(last.treble.x, last.bass.x)) - 2.0  # 2 mm short of its further end, to half a millimetre
    off = next(
        each
        for each in plan(*parse_job(restated(FANNED, {"fingerboard__end": end}))).findings
        if each.code == "board.ends-at-fret"
    )
    assert off.severity == "stop"
    assert off.value == pytest.approx(
        end - max(last.treble.x, last.bass.x), abs=0.3
    )  # the taper's end moves with it
    slanted = restated(FANNED, {"fingerboard__end": end, "fingerboard__end_along_frets": True})
    assert "board.ends-at-fret" not in {each.code for each in plan(*parse_job(slanted)).findings}


def test_what_cannot_run_along_the_frets_is_said() -> None:
    turned = FANNED.replace("size = [40, 84]", "size = [40, 84]\nalong_frets = true\nturn = 5", 1)
    with pytest.raises(JobError, match="give either turn or along_frets"):
        parse_job(turned)
    drawn = FANNED.replace('face = "back"', 'face = "back"\nalong_frets = true', 1)
    with pytest.raises(JobError, match="along_frets turns a rectangle"):
        parse_job(drawn)


def test_courses_in_pairs_are_refused() -> None:
    text = example("single-saddles")
    strings = re.findall(r"\[\[strings\]\]\n(?:[a-z_]+ = .*\n)+", text)
    assert len(strings) == 6
    doubled = text
    for each in strings:
        doubled = doubled.replace(each, each + each, 1)
    (told,) = faults_at(doubled, "strings")
    assert "courses are not planned here" in told
