"""The shop's tests: their arithmetic against numbers worked by hand and printed tables, learning against brute force.

Where a number comes from a table of statistics it was set down from memory; the tables are the NIST/SEMATECH e-Handbook of
Statistical Methods, 1.3.6.7.2 (Student's t) and 1.3.6.7.4 (chi-square).
"""

from __future__ import annotations

from math import degrees, exp, lgamma, log, pi, radians, sqrt, tan

import numpy as np
import pytest

from scribeline.job import NewTest, parse_shop_tests, with_test
from scribeline.lengths import in_unit
from scribeline.proving import (
    BELIEF,
    Belief,
    Group,
    Result,
    collar_offset,
    learn,
    print_scale,
    registration,
    runout,
    sample,
    table_lean,
)
from scribeline.proving.arithmetic import student

PLAIN = Belief(wild_share=0.0)
"""No reading is wild: the textbook's own case."""


def result_of(kind: str, readings: str, **others: str) -> Result:
    """What one test says."""
    tests = parse_shop_tests(with_test(NewTest(kind, readings.split(), **others), before=None))  # type: ignore[arg-type]
    return tests.result(tests.tests[-1])


def test_a_wire_that_reads_0_1_over_200_leans_0_03_degrees() -> None:
    """Worked by hand: atan(0.1 / 200) = 0.0286 degrees, and 1.2 over 200 are 0.34 degrees, 0.27 mm in 45 mm."""
    found = table_lean(0.1, 0.0, 0.05, 0.05, radius=100, read_sd=0.03)
    assert degrees(found.to_front) == pytest.approx(0.0286, abs=5e-5)
    assert found.to_right == 0
    assert degrees(table_lean(1.2, 0, 0.6, 0.6, radius=100, read_sd=0.03).lean) == pytest.approx(
        0.34, abs=0.005
    )
    off = result_of("table-square", "1.2 0 0.6 0.6").figures[3]
    assert off.value == pytest.approx(0.27, abs=0.005)
    # Two gaps of sd 0.03 each: √2 × 0.03 / 200 (JCGM 100:2008, 5.1.2).
    assert found.sd == pytest.approx(0.0002121, abs=1e-7)


def test_a_swung_wire_gives_back_the_plane_it_was_swung_over() -> None:
    """A plane through a place under the spindle, its gaps read where the wire's end stands: geometry alone."""
    rng = np.random.default_rng(1)
    for fall_front, fall_right in rng.uniform(-0.02, 0.02, (20, 2)):
        gap = {
            name: 3.0 + 80 * (tan(fall_front) * x + tan(fall_right) * y)
            for name, x, y in (("front", 1, 0), ("back", -1, 0), ("left", 0, -1), ("right", 0, 1))
        }
        found = table_lean(**gap, radius=80, read_sd=0.03)
        assert (found.to_front, found.to_right) == pytest.approx((fall_front, fall_right))
        assert found.misfit == pytest.approx(0, abs=1e-12)


def test_shims_bring_the_board_level() -> None:
    """The front 0.4 mm low over 200: 0.40 mm of shim at the front; and a table within its own spread needs none."""
    told = in_unit(result_of("table-square", "0.4 0 0.2 0.2").correct, "mm")
    assert (
        "0.40 mm of shim under the board on the table at the front, 100 mm from the spindle, and none at the back"
        in told
    )
    assert "left" not in told
    assert "Nothing to shim" in result_of("table-square", "0.05 0 0.02 0.03").correct


def test_four_gaps_that_make_no_plane_contradict_one_another() -> None:
    """On a plane front + back = left + right; 0.6 mm more is no feeler's error, and teaches nothing."""
    text = with_test(NewTest("table-square", ["0.4", "0.4", "0.1", "0.1"]), before=None)
    tests = parse_shop_tests(text)
    assert "contradict one another" in tests.result(tests.tests[0]).doubt
    assert not tests.learnt
    assert not result_of("table-square", "0.4 0 0.2 0.2").doubt


def test_a_bit_off_its_collar_is_found_from_four_sides() -> None:
    """A collar of 16 and a bit of 12.7 mm: 1.65 mm to the cut; 0.1 mm off to the front: 1.55 with the front at the guide."""
    found = collar_offset(1.55, 1.65, 1.75, 1.65, read_sd=0.05)
    assert (found.to_front, found.to_right, found.reach) == pytest.approx((0.1, 0, 1.65))
    rng = np.random.default_rng(2)
    for front, right in rng.uniform(-0.3, 0.3, (20, 2)):
        # How near the bit's axis comes to a guide that the side at an angle faces.
        sides = [1.65 - front * np.cos(a) - right * np.sin(a) for a in (0, pi / 2, pi, 3 * pi / 2)]
        found = collar_offset(*sides, read_sd=0.05)
        assert (found.to_front, found.to_right) == pytest.approx((front, right))


def test_a_dial_swings_twice_as_far_as_the_bit_is_off() -> None:
    """A round shank 0.05 mm off the axis: the dial reads from -0.05 to 0.05 over a turn."""
    turn = 0.05 * np.cos(np.linspace(0, 2 * pi, 721))
    found = runout([float(turn.max() - turn.min())], read_sd=0.01)
    assert found.total == pytest.approx(0.1)
    assert found.off_centre == pytest.approx(0.05)


def test_a_print_of_98_7_percent_is_printed_again_at_101_3() -> None:
    """Worked by hand: 200 mm come out as 197.4; 100 / 98.7 = 101.32 %."""
    found = print_scale([197.4], [200.0], nominal=200, read_sd=0.1)
    assert (found.across, found.up) == pytest.approx((0.987, 1))
    assert found.across_sd == pytest.approx(0.0005)
    told = result_of("print-scale", "197.4 200")
    assert "Print at 101.32 % across" in told.correct
    assert "up" not in told.correct.split(";")[0]


def test_pins_off_the_centreline_put_the_backs_holes_twice_as_far_off() -> None:
    """Pins 0.10 mm off: the faces disagree by 0.20. A hole at the centreline, turned over about the pins, lands 2e off."""
    assert registration([0.2, 0.2, 0.2]).pins_off == pytest.approx(0.1)
    pins = 0.1
    hole_of_the_back = 2 * pins - 0.0  # drilled at the centreline with the body mirrored about the pins
    told = result_of("flip-registration", " ".join([f"{hole_of_the_back}"] * 12))
    assert "lie 0.20 mm to the treble" in in_unit(told.says, "mm")
    assert "Move the pins 0.10 mm" in in_unit(told.correct, "mm")
    assert "to the bass" in told.correct


def test_mean_and_standard_deviation_of_a_known_sample() -> None:
    """NIST StRD, NumAcc1 (from memory): 10000001, 10000003, 10000002 have the mean 10000002 and the sd 1, exactly."""
    found = sample([10000001, 10000003, 10000002])
    assert (found.mean, found.sd) == (10000002, 1)
    # t for two degrees of freedom is 4.303: ± 4.303 / √3.
    assert found.half == pytest.approx(4.303 / sqrt(3), abs=0.001)


@pytest.mark.parametrize(("freedom", "t"), [(1, 12.706), (2, 4.303), (9, 2.262), (29, 2.045), (100, 1.984)])
def test_students_t(freedom: int, t: float) -> None:
    """Two-sided 95 %, as the table prints it."""
    assert student(freedom) == pytest.approx(t, abs=0.001)


def test_the_interval_of_a_standard_deviation_is_chi_squares() -> None:
    """With no guess and no wild readings, n = 10 and s = 1: √(9/19.023) to √(9/2.700), from the chi-square table."""
    values = np.array([-1.5, -1.2, -0.8, -0.3, -0.1, 0.2, 0.4, 0.9, 1.1, 1.3])
    values = (values - values.mean()) / values.std(ddof=1)
    found = learn((Group(tuple(values), about="mean"),), 1.0, Belief(0.0, 0.0, 8.0))
    assert found.low == pytest.approx(sqrt(9 / 19.023), rel=0.01)
    assert found.high == pytest.approx(sqrt(9 / 2.700), rel=0.01)


@pytest.mark.parametrize("count", [1, 3, 30])
def test_about_a_line_the_variance_is_the_textbooks_weighted_mean(count: int) -> None:
    """Gelman and others, Bayesian Data Analysis, 2.6 (from memory): (ν₀ σ₀² + Σ y²) / (ν₀ + n)."""
    values = tuple(np.random.default_rng(count).normal(0, 0.13, count).tolist())
    found = learn((Group(values),), 0.2, PLAIN)
    n0 = BELIEF.prior_readings
    assert found.sd == pytest.approx(sqrt((n0 * 0.04 + sum(y * y for y in values)) / (n0 + count)), rel=2e-4)


def test_three_readings_hardly_move_it_and_thirty_are_the_shops_own() -> None:
    """A shop half as wide as the guess: three readings go a tenth of the way in sd or so, thirty the most of it."""
    three = learn((Group((0.1, -0.1, 0.1)),), 0.2, PLAIN).sd
    thirty = learn((Group((0.1, -0.1) * 15),), 0.2, PLAIN).sd
    assert 0.17 < three < 0.2
    assert 0.1 < thirty < 0.13


def brute(groups: tuple[Group, ...], guess: float) -> tuple[float, list[list[float]]]:
    """1/√E[1/σ²] and each reading's chance to be wild, by sums in plain Python over variances, not their logarithms."""
    share, times, n0 = BELIEF.wild_share, BELIEF.wild_times, BELIEF.prior_readings

    def density(off: float, sd: float) -> float:
        return exp(-((off / sd) ** 2) / 2) / (sd * sqrt(2 * pi))

    total = inverse = 0.0
    wild = [[0.0] * len(each.off) for each in groups]
    for variance in np.linspace(0.005, 1.5, 900) ** 2:
        step = sqrt(variance)  # dv in proportion to the sd at even steps of sd
        # Scaled inverse chi-square, with its constant.
        prior = exp(
            n0 / 2 * log(n0 / 2) - lgamma(n0 / 2) + n0 * log(guess) - (n0 / 2 + 1) * log(variance)
            - n0 * guess**2 / (2 * variance)
        )  # fmt: skip
        weight, parts = prior * step, []
        for group in groups:
            spread = sqrt(variance + group.known_sd**2)
            means = [0.0] if group.about == "line" else np.linspace(-1.0, 1.6, 140).tolist()
            likely, sums = 0.0, [0.0] * len(group.off)
            for mean in means:
                sound = [(1 - share) * density(y - mean, spread) for y in group.off]
                loose = [share * density(y - mean, times * spread) for y in group.off]
                product = float(np.prod([a + b for a, b in zip(sound, loose, strict=True)]))
                likely += product
                sums = [s + product * b / (a + b) for s, a, b in zip(sums, sound, loose, strict=True)]
            weight *= likely
            parts.append([s / likely if likely else 0.0 for s in sums])
        total += weight
        inverse += weight / variance
        wild = [
            [w + weight * p for w, p in zip(ws, ps, strict=True)] for ws, ps in zip(wild, parts, strict=True)
        ]
    return (inverse / total) ** -0.5, [[w / total for w in ws] for ws in wild]


@pytest.mark.parametrize(
    "groups",
    [
        (Group((0.1, -0.2, 0.15, 0.02), 0.05),),
        (Group((0.1, -0.2, 0.15, 0.02, 1.1), 0.05),),
        (Group((0.3, 0.25, 0.45, 0.2), 0.1, "mean"), Group((0.1, -0.1))),
    ],
    ids=["sound", "one is wild", "two tests"],
)
def test_what_is_learnt_is_what_brute_force_finds(groups: tuple[Group, ...]) -> None:
    """The same model summed in another way: over variances, with plain densities, mean by mean."""
    sd, wild = brute(groups, 0.2)
    found = learn(groups, 0.2)
    assert found.sd == pytest.approx(sd, rel=0.003)
    for chances, expected in zip(found.wild, wild, strict=True):
        assert chances == pytest.approx(expected, abs=0.003)


def test_what_reads_is_taken_off_what_is_read() -> None:
    """Marks of sd 0.1 read with a rule of sd 0.2 scatter by √(0.1² + 0.2²); the method's own is near 0.1, not near 0.22."""
    values = tuple(np.random.default_rng(3).normal(0, sqrt(0.1**2 + 0.2**2), 2000).tolist())
    found = learn((Group(values, 0.2),), 0.1)
    assert found.sd == pytest.approx(0.1, abs=0.02)
    assert learn((Group(values),), 0.1).sd == pytest.approx(0.224, abs=0.015)


def test_one_wild_reading_is_named_and_hardly_moves_it() -> None:
    """Nine marks of sd 0.1 and one 1.6 mm off: by the plain formula the sd would be 0.39; it moves by a fiftieth."""
    sound = (0.1, -0.08, 0.12, -0.11, 0.05, -0.02, 0.09, -0.14, 0.03)
    without, with_it = learn((Group(sound),), 0.2), learn((Group((*sound, 1.6)),), 0.2)
    assert with_it.sd == pytest.approx(without.sd, rel=0.03)
    assert with_it.wild[0][-1] > 0.99
    assert max(with_it.wild[0][:-1]) < 0.05
    assert with_it.readings == 9
    assert learn((Group((*sound, 1.6)),), 0.2, PLAIN).sd > 0.35


def test_a_bias_is_told_and_not_taken_off() -> None:
    """Marks that all lie 0.3 mm to one side: it is said; the spread counts from the line until it is put right."""
    marks = "0.35 0.28 0.31 0.25 0.3 0.33 0.27 0.29 0.32 0.3"
    tests = parse_shop_tests(with_test(NewTest("trial-marks", marks.split(), "prick-awl"), before=None))
    told = in_unit(tests.result(tests.tests[0]).correct, "mm")
    assert "0.30 mm to the plus side" in told
    assert "Nothing is set off for you" in told
    assert tests.accuracies["prick-awl"].sd > 0.24


def test_a_lean_is_read_in_degrees() -> None:
    """Holes of a guide block, read with an angle gauge: what is learnt is in radians."""
    marks = ["0.3", "-0.5", "0.2", "-0.4", "0.6", "-0.1"]
    tests = parse_shop_tests(with_test(NewTest("trial-marks", marks, "lean-block"), before=None))
    assert tests.tests[0].readings[0] == pytest.approx(radians(0.3))
    assert 0.2 < degrees(tests.accuracies["lean-block"].sd) < 0.45
