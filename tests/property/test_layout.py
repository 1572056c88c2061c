"""What must hold for any instrument: slots, paths, margins, the plate's window."""

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scribeline.layout import bridge_row, edge_margins, nut_slots, path_y, width_at

from ..conftest import place_plate
from ..torture import examples

GAUGES = st.lists(st.floats(0.2, 3.5), min_size=2, max_size=12)


@given(GAUGES, st.floats(1, 6), st.floats(0.5, 8))
def test_equal_gaps_are_equal_and_fill_the_nut(gauges: list[float], edge: float, gap: float) -> None:
    width = 2 * edge + sum(gauges) + gap * (len(gauges) - 1)
    slots = nut_slots(width, edge, gauges, "equal gaps")
    d = np.array(gauges)
    gaps = (slots[1:] - d[1:] / 2) - (slots[:-1] + d[:-1] / 2)
    assert gaps == pytest.approx(np.full(len(d) - 1, gap), abs=1e-9)
    assert slots[0] - d[0] / 2 == pytest.approx(edge)
    assert width - (slots[-1] + d[-1] / 2) == pytest.approx(edge)


@given(GAUGES, st.floats(1, 6), st.floats(0.5, 8))
def test_equal_centres_are_even_and_share_the_outer_two(gauges: list[float], edge: float, gap: float) -> None:
    width = 2 * edge + sum(gauges) + gap * (len(gauges) - 1)
    centres = nut_slots(width, edge, gauges, "equal centres")
    by_gap = nut_slots(width, edge, gauges, "equal gaps")
    assert np.diff(centres) == pytest.approx(np.full(len(gauges) - 1, np.diff(centres)[0]), abs=1e-9)
    assert centres[[0, -1]] == pytest.approx(by_gap[[0, -1]])


@given(GAUGES, st.floats(1, 6), st.floats(0.5, 8))
def test_turning_the_set_round_mirrors_the_slots(gauges: list[float], edge: float, gap: float) -> None:
    width = 2 * edge + sum(gauges) + gap * (len(gauges) - 1)
    there = nut_slots(width, edge, gauges, "equal gaps")
    back = nut_slots(width, edge, gauges[::-1], "equal gaps")
    assert back == pytest.approx(width - there[::-1], abs=1e-9)


@given(st.floats(-30, 30), st.floats(-40, 40), st.floats(400, 1000), st.floats(0, 1), st.floats(0, 1))
def test_a_string_is_straight(nut: float, bridge: float, scale: float, a: float, b: float) -> None:
    y = path_y([0.0, a * scale, b * scale, (a + b) / 2 * scale, scale], nut, bridge, scale)
    assert y[0] == pytest.approx(nut)
    assert y[4] == pytest.approx(bridge)
    assert y[3] == pytest.approx((y[1] + y[2]) / 2, abs=1e-9)


@given(st.floats(-25, 25), st.floats(0.2, 3), st.floats(30, 60), st.floats(0, 1))
def test_margins_do_not_care_which_side(y: float, gauge: float, width: float, bevel: float) -> None:
    centre, side = edge_margins(y, gauge, width, bevel)
    other_centre, other_side = edge_margins(-y, gauge, width, bevel)
    assert centre == other_centre
    assert side == other_side
    assert side == pytest.approx(centre - gauge / 2 - bevel)
    assert centre <= width / 2


@given(st.integers(2, 12), st.floats(5, 25))
def test_bridge_row_is_symmetric(strings: int, spacing: float) -> None:
    row = bridge_row(strings, spacing)
    assert row == pytest.approx(-row[::-1])
    assert -np.diff(row) == pytest.approx(np.full(strings - 1, spacing))


@given(st.floats(0, 500), st.floats(30, 60), st.floats(30, 110), st.floats(300, 800))
def test_board_tapers_from_one_width_to_the_other(x: float, nut: float, end: float, at: float) -> None:
    assert width_at(0.0, nut_width=nut, end=at, end_width=end) == pytest.approx(nut)
    assert width_at(at, nut_width=nut, end=at, end_width=end) == pytest.approx(end)
    assert (
        min(nut, end) - 1e-9
        <= width_at(min(x, at), nut_width=nut, end=at, end_width=end)
        <= max(nut, end) + 1e-9
    )


def test_the_aim_is_the_best_of_every_place_tried() -> None:
    # Brute force over 1,000 bridges: no place on a 0.01 mm grid leaves a larger least reserve, and the window is
    # exactly the places that leave every saddle its reserve, whether there are any or not.
    generator = np.random.default_rng(20261124)
    empty = 0
    for _ in range(1000):
        wanted = generator.uniform(0, 6, generator.integers(3, 9))
        forward = generator.uniform(0, 20)
        back = forward + generator.uniform(0.5, 14)
        reserve = generator.uniform(0, 2)
        found = place_plate(wanted.tolist(), forward_stop=forward, back_stop=back, reserve=reserve)
        grid = np.arange(wanted.min() - back - 1, wanted.max() - forward + 1, 0.01)
        left_forward = wanted[:, np.newaxis] - grid - forward
        left_back = grid + back - wanted[:, np.newaxis]
        least = np.minimum(left_forward, left_back).min(axis=0)
        assert found.reserve >= least.max() - 1e-9
        assert found.reserve <= least.max() + 0.01
        assert abs(found.aim - grid[least.argmax()]) <= 0.0101
        allowed = grid[least >= reserve]
        if found.is_empty:
            empty += 1
            assert len(allowed) == 0
            assert found.shortage == pytest.approx(2 * (reserve - found.reserve), abs=1e-9)
        else:
            assert found.shortage == 0.0
            if len(allowed):
                assert found.low - 1e-9 <= allowed[0] <= found.low + 0.011
                assert found.high - 0.011 <= allowed[-1] <= found.high + 1e-9
    assert 100 < empty < 900


@settings(max_examples=examples(60))
@given(st.lists(st.floats(0, 6), min_size=3, max_size=8), st.floats(-3, 3), st.permutations(range(3)))
def test_window_moves_with_the_setbacks_and_not_with_their_order(
    wanted: list[float], shift: float, order: Sequence[int]
) -> None:
    first = place_plate(wanted, forward_stop=9, back_stop=17, reserve=1)
    moved = place_plate([w + shift for w in wanted], forward_stop=9, back_stop=17, reserve=1)
    assert (moved.low, moved.aim, moved.high) == pytest.approx(
        (first.low + shift, first.aim + shift, first.high + shift)
    )
    turned = [wanted[i] for i in order] + wanted[3:]
    again = place_plate(turned, forward_stop=9, back_stop=17, reserve=1)
    assert (again.low, again.aim, again.high) == (first.low, first.aim, first.high)
