"""The bridge window against brute force over a fine grid, and what must hold of any window."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scribeline.strings import Saddles, StringsError, Wanted, Window, place_bridge, place_studs

from ..torture import examples

STEEPEST = 0.06  # 3.4 degrees
RESERVE = 1.0


def random_bridge(random: np.random.Generator) -> tuple[list[Wanted], Saddles]:
    """A bridge of 3 to 12 saddles and one to three string sets; travel from plenty to far too little."""
    n = int(random.integers(3, 13))
    pitch = random.uniform(8, 20)
    y = tuple((pitch * ((n - 1) / 2 - np.arange(n)) + random.uniform(-1, 1, n)).tolist())
    forward = random.uniform(5, 15, n if random.random() < 0.5 else 1)
    back = forward + random.uniform(1, 12, forward.size)
    slant = random.uniform(-0.08, 0.08)
    sets = [
        Wanted(
            f"set {k}",
            tuple((random.uniform(0, 6, n) - slant * np.array(y)).tolist()),
            tuple(random.uniform(0, 1.2, n).tolist()),
        )
        for k in range(int(random.integers(1, 4)))
    ]
    stops = [tuple(s.tolist()) if s.size > 1 else float(s[0]) for s in (forward, back)]
    return sets, Saddles(stops[0], stops[1], y)


def least_reserve(
    sets: list[Wanted], saddles: Saddles, deviations: float, aim: np.ndarray, slope: np.ndarray
) -> np.ndarray:
    """Smallest reserve over all strings, ends and sets, straight from the statement of the problem."""
    least = np.full(np.broadcast_shapes(aim.shape, slope.shape), np.inf)
    n = len(saddles.y)
    forward = saddles.forward if isinstance(saddles.forward, tuple) else (saddles.forward,) * n
    back = saddles.back if isinstance(saddles.back, tuple) else (saddles.back,) * n
    for each, i in itertools.product(sets, range(n)):
        front = aim + slope * saddles.y[i]
        low = each.setback[i] - deviations * each.sd[i]
        high = each.setback[i] + deviations * each.sd[i]
        least = np.minimum(least, np.minimum(low - (front + forward[i]), front + back[i] - high))
    return least


def by_brute_force(sets: list[Wanted], saddles: Saddles, deviations: float, steepest: float) -> float:
    """Largest least reserve on a grid over turn and place, made finer about the best cell of the round before.

    The least reserve is a minimum of planes, so along each line it has one summit: the cells beside the best
    hold it.
    """
    centre, lean, best = 0.0, steepest, -np.inf
    for _ in range(7 if steepest else 1):
        slopes = np.clip(centre + np.linspace(-lean, lean, 21), -steepest, steepest)
        aims, width = np.zeros(21), 40.0
        for _ in range(6):
            tried = aims + np.linspace(-width, width, 21)[:, np.newaxis]
            grid = least_reserve(sets, saddles, deviations, tried, slopes[np.newaxis])
            aims, width = tried[grid.argmax(axis=0), np.arange(21)], width / 8
        centre, lean = float(slopes[grid.max(axis=0).argmax()]), lean / 8
        best = max(best, float(grid.max()))
    return best


@pytest.mark.parametrize("steepest", [0.0, STEEPEST])
def test_a_thousand_random_bridges_against_a_fine_grid(steepest: float) -> None:
    random = np.random.default_rng(20261124)
    empty = 0
    for _ in range(500):
        sets, saddles = random_bridge(random)
        window = place_bridge(sets, saddles, reserve=RESERVE, deviations=1.0, steepest=steepest)
        brute = by_brute_force(sets, saddles, 1.0, steepest)
        assert window.reserve == pytest.approx(brute, abs=0.01)
        assert window.is_empty == (brute < RESERVE) or abs(brute - RESERVE) < 0.01
        empty += window.is_empty
    assert 100 < empty < 480  # both kinds are well represented


def test_ends_of_the_window_against_a_fine_grid() -> None:
    random = np.random.default_rng(7)
    for _ in range(200):
        sets, saddles = random_bridge(random)
        window = place_bridge(sets, saddles, reserve=0.2, deviations=0.5)
        aims = np.arange(-40.0, 40.0, 0.005)
        good = aims[least_reserve(sets, saddles, 0.5, aims, np.array(0.0)) >= 0.2]
        if window.is_empty:
            assert good.size == 0
        elif good.size:
            assert good.min() == pytest.approx(window.low, abs=0.01)
            assert good.max() == pytest.approx(window.high, abs=0.01)
        else:
            assert window.high - window.low < 0.01


@settings(max_examples=examples(100), deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_no_nearby_place_or_turn_is_better(seed: int) -> None:
    random = np.random.default_rng(seed)
    sets, saddles = random_bridge(random)
    window = place_bridge(sets, saddles, deviations=1.0, steepest=STEEPEST)
    aims = window.aim + np.linspace(-0.5, 0.5, 21)[:, np.newaxis]
    slopes = np.clip(window.slope + np.linspace(-0.01, 0.01, 21), -STEEPEST, STEEPEST)[np.newaxis]
    assert least_reserve(sets, saddles, 1.0, aims, slopes).max() <= window.reserve + 1e-9
    stated = least_reserve(sets, saddles, 1.0, np.array(window.aim), np.array(window.slope))
    assert float(stated) == pytest.approx(window.reserve, abs=1e-9)
    assert min(*window.forward, *window.back) == pytest.approx(window.reserve, abs=1e-9)


@settings(max_examples=examples(50), deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(-20, 20))
def test_moving_every_wish_moves_the_plate(seed: int, by: float) -> None:
    sets, saddles = random_bridge(np.random.default_rng(seed))
    moved = [Wanted(s.name, tuple(x + by for x in s.setback), s.sd) for s in sets]
    here, there = place_bridge(sets, saddles), place_bridge(moved, saddles)
    assert there.aim == pytest.approx(here.aim + by, abs=1e-9)
    assert there.reserve == pytest.approx(here.reserve, abs=1e-9)


@settings(max_examples=examples(50), deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_mirroring_the_bridge_turns_it_the_other_way(seed: int) -> None:
    sets, saddles = random_bridge(np.random.default_rng(seed))
    mirror = Saddles(saddles.forward, saddles.back, tuple(-y for y in saddles.y))
    here = place_bridge(sets, saddles, steepest=STEEPEST)
    there = place_bridge(sets, mirror, steepest=STEEPEST)
    assert there.slope == pytest.approx(-here.slope, abs=1e-9)
    assert there.reserve == pytest.approx(here.reserve, abs=1e-9)


def test_turning_never_costs_reserve_and_more_sets_never_add_any() -> None:
    random = np.random.default_rng(3)
    for _ in range(100):
        sets, saddles = random_bridge(random)
        square = place_bridge(sets, saddles)
        assert place_bridge(sets, saddles, steepest=STEEPEST).reserve >= square.reserve - 1e-12
        assert place_bridge(sets[:1], saddles).reserve >= square.reserve - 1e-12
        assert place_bridge(sets, saddles, deviations=2.0).reserve <= square.reserve + 1e-12


def six(*setback: float, sd: float = 0.0, name: str = "10-46") -> Wanted:
    return Wanted(name, setback, (sd,) * len(setback))


ROW = tuple(10.5 * (2.5 - i) for i in range(6))


def test_a_worked_window() -> None:
    """Worked by hand, common-practice setbacks: 9 to 17 mm of travel and 1 mm of reserve allow −11.7 to −8.7."""
    window = place_bridge(
        [six(1.3, 2.3, 3.7, 2.8, 3.1, 4.3)], Saddles(9.0, 17.0, ROW), reserve=1.0, deviations=0.0
    )
    assert (window.low, window.high, window.aim) == pytest.approx((-11.7, -8.7, -10.2))
    assert window.forward == pytest.approx((2.5, 3.5, 4.9, 4.0, 4.3, 5.5))
    assert window.back == pytest.approx((5.5, 4.5, 3.1, 4.0, 3.7, 2.5))
    assert window.limited_by == (1, 6)
    assert window.worst_miss == 0.0


def test_a_worked_empty_window() -> None:
    """4 mm of travel: 3.0 mm between the outer wishes and 1 mm at each end want 5; short by 1.0 mm."""
    window = place_bridge(
        [six(1.3, 2.3, 3.7, 2.8, 3.1, 4.3)], Saddles(9.0, 13.0, ROW), reserve=1.0, deviations=0.0
    )
    assert window.is_empty
    assert window.shortage == pytest.approx(1.0)


def test_worked_studs() -> None:
    """3.0 mm over 52.5: studs 74 apart differ by 4.23 mm, 3.27 degrees; treble 0.69 and bass 4.91 mm back."""
    found = place_studs([1.3, 4.3], [26.25, -26.25], 74.0)
    assert (found.treble, found.bass) == pytest.approx((0.69, 4.91), abs=0.005)
    assert found.slant_deg == pytest.approx(3.27, abs=0.005)
    assert found.behind == pytest.approx((0.0, 0.0))


@given(
    st.lists(st.tuples(st.floats(-1, 6), st.floats(4, 20)), min_size=2, max_size=9),
    st.floats(40, 100),
    st.floats(-6, 6),
)
def test_studs_lie_on_the_least_squares_line(
    strings: list[tuple[float, float]], spread: float, ridge: float
) -> None:
    wanted = [place for place, _ in strings]
    y = [60.0 - float(gap) for gap in np.cumsum([gap for _, gap in strings])]
    slope, middle = np.polyfit(y, wanted, 1)
    found = place_studs(wanted, y, spread, ridge=ridge)
    assert found.treble == pytest.approx(middle + slope * spread / 2 - ridge, abs=1e-6)
    assert found.bass == pytest.approx(middle - slope * spread / 2 - ridge, abs=1e-6)
    assert found.slant_deg == pytest.approx(-np.degrees(np.arctan(slope)), abs=1e-6)
    assert found.behind == pytest.approx(np.array(wanted) - np.polyval([slope, middle], y), abs=1e-6)


def test_studs_need_a_place_for_every_string() -> None:
    with pytest.raises(StringsError, match="one wanted place for every string"):
        place_studs([1.0], [1.0, 2.0], 74.0)


def test_chance_of_running_out_of_travel() -> None:
    """Two standard deviations of room at each end: 2.275 % either way (normal distribution tables)."""
    window = place_bridge([six(3.0, 3.0, sd=1.0)], Saddles(8.0, 12.0, (5.0, -5.0)))
    assert window.aim == pytest.approx(-7.0)
    assert window.misses[0] == pytest.approx((0.0455, 0.0455), abs=5e-5)


def test_more_strings_than_saddles_is_a_sentence() -> None:
    with pytest.raises(StringsError, match="7 strings, more than the bridge's 6 saddles; choose a bridge"):
        place_bridge([six(*[2.0] * 7)], Saddles(9.0, 17.0, ROW))


def test_a_window_says_its_yaw() -> None:
    window = place_bridge([six(1.0, 4.0)], Saddles(9.0, 9.2, (26.0, -26.0)), deviations=0.0, steepest=0.2)
    assert isinstance(window, Window)
    assert np.degrees(window.yaw_rad) == pytest.approx(-np.degrees(np.arctan(3.0 / 52.0)), abs=0.25)
