"""The number line of where the bridge may stand: its stretches against a plate pushed to their ends, its picture read back."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from scribeline.drawing.bridge_window import bridge_window
from scribeline.drawing.extent import bounds
from scribeline.drawing.sheet import Fill, Hatch, Item, Path, Text
from scribeline.job import parse_job, set_value
from scribeline.lengths import MM_PER_INCH
from scribeline.plan import Plan, plan
from scribeline.scenario import examples
from scribeline.store.recorded import with_record
from scribeline.strings import place_bridge, stretch, travel_left

from ..as_built import tick
from ..conftest import WITHOUT_TUNNELS, in_inches
from .test_strings_window import random_bridge

RESERVE = 1.0


def test_a_plate_pushed_to_the_end_of_a_strings_stretch_leaves_that_string_just_the_reserve() -> None:
    random = np.random.default_rng(20)
    for _ in range(150):
        sets, saddles = random_bridge(random)
        deviations, turn = float(random.uniform(0, 2)), float(random.uniform(-0.05, 0.05))

        def standing(front: float) -> tuple[tuple[float, ...], tuple[float, ...]]:
            left = travel_left(sets, saddles, front=front, turn=turn, deviations=deviations)  # noqa: B023
            return left.forward, left.back

        seen = travel_left(
            sets, saddles, front=float(random.uniform(-9, 9)), turn=turn, deviations=deviations
        )
        found = stretch(seen, RESERVE)
        for n, (low, high) in enumerate(found.own):
            assert standing(low)[1][n] == pytest.approx(RESERVE)
            assert standing(high)[0][n] == pytest.approx(RESERVE)
        by_high, by_low = found.limited_by
        forward, back = standing(found.high)[0], standing(found.low)[1]
        assert min(forward) == pytest.approx(forward[by_high - 1])
        assert min(back) == pytest.approx(back[by_low - 1])


def test_it_is_the_window_where_nothing_holds_the_bridge() -> None:
    random = np.random.default_rng(21)
    for _ in range(150):
        sets, saddles = random_bridge(random)
        window = place_bridge(sets, saddles, reserve=RESERVE)
        found = stretch(travel_left(sets, saddles, front=window.aim), RESERVE)
        assert (found.low, found.high) == pytest.approx((window.low, window.high))
        assert max(0.0, found.low - found.high) == pytest.approx(window.shortage, abs=1e-9)
        assert found.limited_by == window.limited_by


@cache
def drawn_jobs() -> dict[str, Plan]:
    """Jobs whose bridge is free, has no place, and is held by holes drilled for another scale."""
    made = plan(*parse_job(WITHOUT_TUNNELS))
    (card,) = [each for each in made.cards if each.family == "string-hole"]
    moved = set_value(WITHOUT_TUNNELS, "scale.length", 640.4)[0]
    texts = {
        "plate": WITHOUT_TUNNELS,
        "in inches": in_inches(WITHOUT_TUNNELS),
        "no place": set_value(WITHOUT_TUNNELS, "bridge.saddle_back", 16.0)[0],
        "held": with_record(moved, [tick(card, made)], ()),
        **{name: examples()[name].text for name in ("two-studs", "seven-strings-fanned")},
    }
    return {name: plan(*parse_job(text), lambda *_: None) for name, text in texts.items()}


def read(items: tuple[Item, ...], inches: bool) -> tuple[np.ndarray, np.ndarray]:
    """The rule's figures: where each stands on the picture, and what it says, mm from the 12th fret."""
    figures = [each for each in items if isinstance(each, Text) and each.ref == "window-rule"]
    says = np.array([float(each.text) for each in figures]) * (float(MM_PER_INCH) if inches else 1.0)
    return np.array([each.at[0] for each in figures]), says


def ends(item: Fill | Path | Hatch) -> tuple[float, float]:
    us = [u for u, _ in (item.points if isinstance(item, Path) else item.loops[0])]
    return min(us), max(us)


@pytest.mark.parametrize("width", [250.0, 100.0])
@pytest.mark.parametrize(
    "name", ["plate", "in inches", "no place", "held", "two-studs", "seven-strings-fanned"]
)
def test_the_picture_read_by_its_own_rule_says_what_is_planned(name: str, width: float) -> None:
    seen = drawn_jobs()[name]
    layout, window = seen.layout, seen.layout.window
    items = bridge_window(seen, (0.0, 0.0, width, 0.0))
    at, says = read(items, seen.unit == "in")
    assert len(at) >= 3

    def place(u: float) -> float:
        """Past the scale line, mm."""
        slope, start = np.polyfit(at, says, 1)
        return float(slope * u + start) - layout.past("12th-fret", layout.scale)

    box = bounds(items)
    assert box is not None
    assert box[0] >= -0.01
    assert box[2] <= width + 0.01
    words = " ".join(each.text for each in items if isinstance(each, Text))
    if name == "no place":
        (gap,) = (each for each in items if isinstance(each, Path) and each.ref == "window-missing")
        high, low = map(place, ends(gap))
        assert low - high == pytest.approx(window.shortage, abs=0.01)
        assert f"{window.shortage:.2f} mm is missing" in words
        assert "window-stands" not in {getattr(each, "ref", "") for each in items}
        return
    (mark,) = (each for each in items if isinstance(each, Fill) and each.ref == "window-stands")
    (bar,) = (each for each in items if isinstance(each, Fill) and each.ref == "window")
    stands, (low, high) = place(sum(ends(mark)) / 2), map(place, ends(bar))
    if name == "held":
        assert layout.held is not None
        assert layout.bridge is not None
        assert layout.scale + stands == pytest.approx(layout.bridge.marks[0].at.x, abs=0.02)
        assert abs(stands - window.aim) > 0.1
        assert "stands, by its string holes" in words
        return
    assert (low, stands, high) == pytest.approx((window.low, window.aim, window.high), abs=0.01)
    by_high, by_low = window.limited_by
    assert f"not nearer, by string {by_low}" in words
    assert f"not further, by string {by_high}" in words
