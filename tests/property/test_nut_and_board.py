"""Nuts and boards made here, of random necks: places on their lines, sums that close, and the left hand as the exact mirror."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from math import cos, hypot, sin
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scribeline.job import Stated, parse_job
from scribeline.layout import BoardMade, NutMade, Point, board_made, lay_out, nut_made

from ..kind_jobs import restated

FANNED = (Path(__file__).parents[1] / "jobs" / "fanned.toml").read_text(encoding="utf-8")


@st.composite
def necks(draw: st.DrawFn) -> str:
    """A job with some neck: straight or fanned, flat or arched, bound or not, its nut bearing, compensated or guiding."""
    text = FANNED
    fanned, arched = draw(st.booleans()), draw(st.booleans())
    dropped = (() if fanned else ("bass_length", "square_fret")) + (() if arched else ("radius",))
    text = "".join(line for line in text.splitlines(keepends=True) if not line.startswith(dropped or ("\0",)))
    length = draw(st.floats(600, 660))
    changes: dict[str, Stated] = {
        "scale__length": length,
        "nut__width": draw(st.floats(46, 56)),
        "nut__edge": draw(st.floats(2.5, 4)),
        "nut__spacing": draw(st.sampled_from(["equal gaps", "equal centres"])),
        "nut__thickness": draw(st.floats(3, 9)),
        "nut__proud": draw(st.floats(0, 0.9)),
        "fingerboard__width_at_end": draw(st.floats(60, 72)),
    }
    if fanned:
        changes |= {
            "scale__bass_length": length + draw(st.floats(5, 40)),
            "scale__square_fret": draw(st.integers(0, 12)),
        }
    if draw(st.booleans()):
        changes["fingerboard__binding"] = draw(st.floats(0.5, 2.5))
    match draw(st.sampled_from(["bearing", "compensated", "guiding"])):
        case "compensated":
            changes["nut__compensation"] = [round(draw(st.floats(-0.5, 1)), 3) + 0.0 for _ in range(7)]
        case "guiding":
            changes |= {
                "nut__zero_fret": True,
                "nut__height_over_frets": 0.0,
                "nut__behind_zero_fret": draw(st.floats(2, 8)),
            }
    return restated(text, changes)


def both(text: str) -> tuple[NutMade, BoardMade]:
    job, record = parse_job(text)
    layout = lay_out(job, record)
    nut, board = nut_made(job.document, layout), board_made(job.document, layout)
    assert nut is not None
    assert board is not None
    return nut, board


def turned_over(value: Any) -> Any:
    """The same with every place on the other side of the centreline, by the fields' own types."""
    if isinstance(value, Point):
        return Point(value.x, -value.y)
    if isinstance(value, tuple):
        return tuple(turned_over(each) for each in value)
    if is_dataclass(value) and not isinstance(value, type):
        return {each.name: turned_over(getattr(value, each.name)) for each in fields(value)}
    return value


def plain(value: Any) -> Any:
    if isinstance(value, tuple) and not isinstance(value, Point):
        return tuple(plain(each) for each in value)
    if is_dataclass(value) and not isinstance(value, type):
        return {each.name: plain(getattr(value, each.name)) for each in fields(value)}
    return value


@settings(max_examples=25)
@given(necks())
def test_left_is_the_exact_mirror(text: str) -> None:
    right = both(text)
    left = both(text.replace('handed = "right"', 'handed = "left"'))
    for one, other in zip(right, left, strict=True):
        assert turned_over(one) == plain(other)


@settings(max_examples=25)
@given(necks())
def test_the_nuts_sums_close(text: str) -> None:
    nut, _ = both(text)
    # Ends, slots and walls fill the nut across the neck.
    widths = sum(slot.width for slot in nut.slots)
    across = nut.front[0].y - nut.front[1].y
    assert sum(nut.walls) + sum(nut.edges) + widths == pytest.approx(across, abs=1e-9)
    assert nut.length * cos(nut.turn) == pytest.approx(across, abs=1e-9)
    compensated = any(abs(_off(nut, slot.front)) > 1e-9 for slot in nut.slots)
    for slot in nut.slots:
        # The bass end, so far along the front, is where the string crosses it; the back is a thickness behind.
        x = nut.front[1].x + slot.along * sin(nut.turn)
        y = nut.front[1].y + slot.along * cos(nut.turn)
        if not compensated:
            assert hypot(slot.front.x - x, slot.front.y - y) < 1e-9
        assert _off(nut, slot.behind) == pytest.approx(-nut.thickness, abs=1e-9)
        assert slot.floor + slot.from_blank == pytest.approx(nut.height, abs=1e-9)
        assert slot.floor + slot.from_top <= nut.needs + 1e-9
    assert [slot.along for slot in nut.slots] == sorted((slot.along for slot in nut.slots), reverse=True)


def _off(nut: NutMade, at: Point) -> float:
    """How far a place lies before the nut's front, square to it."""
    u, v = at.x - nut.front[1].x, at.y - nut.front[1].y
    return u * cos(nut.turn) - v * sin(nut.turn)


@settings(max_examples=25)
@given(necks())
def test_slots_end_on_the_blank_and_are_deep_enough(text: str) -> None:
    _, board = both(text)
    assert board.depth == max(slot.depth for slot in board.slots)
    for slot in board.slots:
        for end, ((ax, ay), (bx, by)) in zip(slot.ends, board.inside, strict=True):
            # On the straight line between the blank's two corners of that side.
            area = (bx - ax) * (end.y - ay) - (by - ay) * (end.x - ax)
            assert abs(area) / hypot(bx - ax, by - ay) < 1e-6
        assert slot.length <= slot.fret_length + 1e-9
        assert slot.fret_length - slot.length == pytest.approx(2 * board.binding, rel=0.15, abs=1e-9)
        assert slot.depth >= board.planed + 1.6 + 0.3 - 1e-9
