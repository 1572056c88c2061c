"""Least squares over all readings against published worked examples, certified values and a general library."""

from __future__ import annotations

import numpy as np
import pytest

from scribeline.quantities import Sight, Unknown, adjusted, beyond_chance

FREE = 1e6
"""A standard deviation so wide that nothing is known beforehand."""

NORRIS_X = (
    *(0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4),
    *(0.6, 775.5, 666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3),
    *(0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5),
)
NORRIS_Y = (
    *(0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3),
    *(0.1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3),
    *(0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2),
)


def line(x: tuple[float, ...], y: tuple[float, ...], sd: float) -> list[Sight]:
    """Readings of a straight line: intercept and slope."""
    pairs = zip(x, y, strict=True)
    return [Sight(str(no), off, sd, {"start": 1.0, "slope": at}) for no, (at, off) in enumerate(pairs)]


def test_a_line_has_the_values_certified_for_it() -> None:
    """NIST Statistical Reference Datasets, linear regression, Norris (the data and the estimates as printed in public test
    suites; their standard deviations from memory): a residual standard deviation of 0.884796396144373 for every reading.
    """
    free = (Unknown("start", FREE), Unknown("slope", FREE))
    found = adjusted(free, line(NORRIS_X, NORRIS_Y, 0.884796396144373), name_wrong=False)
    assert found.of({"start": 1.0})[0] == pytest.approx(-0.262323073774029, abs=1e-9)
    assert found.of({"slope": 1.0})[0] == pytest.approx(1.00211681802045, abs=1e-12)
    assert found.of({"start": 1.0})[1] == pytest.approx(0.232818234301152, rel=1e-9)
    assert found.of({"slope": 1.0})[1] == pytest.approx(0.429796848199937e-3, rel=1e-9)
    assert float((found.residuals**2).sum() / 34) ** 0.5 == pytest.approx(0.884796396144373, rel=1e-9)


def test_a_thermometers_correction_is_that_of_the_guides_example() -> None:
    """JCGM 100:2008, annex H.3, table H.6 and H.3.3 (from memory): a line through eleven corrections about 20 degrees, and the
    correction at 30 degrees, -0.1494 with 0.0041, for which the two coefficients' correlation counts.
    """
    t = (21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
    b = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)
    about = tuple(each - 20.0 for each in t)
    free = (Unknown("start", FREE), Unknown("slope", FREE))
    found = adjusted(free, line(about, b, 0.0035), name_wrong=False)
    assert found.of({"start": 1.0}) == pytest.approx((-0.1712, 0.0029), abs=6e-5)
    assert found.of({"slope": 1.0}) == pytest.approx((0.00218, 0.00067), abs=6e-6)
    _, covariance = found.between("start", "slope")
    assert covariance[0, 1] / np.sqrt(covariance[0, 0] * covariance[1, 1]) == pytest.approx(-0.930, abs=5e-4)
    assert found.of({"start": 1.0, "slope": 10.0}) == pytest.approx((-0.1494, 0.0041), abs=6e-5)


def test_what_is_known_beforehand_and_shared_errors_count_as_in_a_general_library() -> None:
    """NumPy's least squares (LAPACK, singular values) on the same sums, with the priors as rows; the covariance as the inverse of
    the normal matrix.
    """
    random = np.random.default_rng(3)
    for _ in range(50):
        rows, sd = random.normal(size=(9, 4)), random.uniform(0.05, 0.4, 9)
        prior = random.uniform(0.1, 3.0, 4)
        off = rows @ (prior * random.normal(size=4) * 0.3) + sd * random.normal(size=9) * 0.5
        sights = [
            Sight(str(no), off[no], sd[no], dict(zip("abcd", rows[no], strict=True))) for no in range(9)
        ]
        unknowns = [Unknown(name, own) for name, own in zip("abcd", prior, strict=True)]
        found = adjusted(unknowns, sights, name_wrong=False)
        whole = np.vstack([rows / sd[:, None], np.diag(1 / prior)])
        expected, *_ = np.linalg.lstsq(whole, np.concatenate([off / sd, np.zeros(4)]), rcond=None)
        assert found.values == pytest.approx(expected, abs=1e-10)
        assert found.covariance == pytest.approx(np.linalg.inv(whole.T @ whole), abs=1e-10)
        # The shares of errors that show add up to the readings less what they decided of the unknowns (trace of I - H).
        hat = rows / sd[:, None] @ found.covariance @ (rows / sd[:, None]).T
        assert found.redundancy == pytest.approx(1 - np.diag(hat), abs=1e-10)


def test_one_bad_diagonal_is_named_by_hand() -> None:
    """Four readings of one length, 0.1 each: 10.0, 10.1, 9.9 and 11.2. The others' mean is 10.0, so the last is 1.2 off; with
    r = 3/4, v = 0.9 and w = 0.9 / (0.1 √0.75) = 10.4.
    """
    sights = [Sight(str(no), mm, 0.1, {"x": 1.0}) for no, mm in enumerate((10.0, 10.1, 9.9, 11.2))]
    kept = adjusted([Unknown("x", FREE)], sights, name_wrong=False)
    assert kept.standardised[3] == pytest.approx(0.9 / (0.1 * 0.75**0.5), abs=1e-6)
    found = adjusted([Unknown("x", FREE)], sights)
    assert [each.id for each in found.set_aside] == ["3"]
    assert found.of({"x": 1.0}) == pytest.approx((10.0, 0.1 / 3**0.5), abs=1e-6)
    assert found.set_aside[0].off - found.expected(found.set_aside[0]) == pytest.approx(1.2, abs=1e-6)


def test_two_readings_that_disagree_are_both_doubted_and_both_count() -> None:
    sights = [Sight(str(no), mm, 0.1, {"x": 1.0}) for no, mm in enumerate((10.0, 11.2))]
    found = adjusted([Unknown("x", FREE)], sights)
    assert [each.id for each in found.in_doubt] == ["0", "1"]
    assert found.set_aside == ()
    assert found.of({"x": 1.0})[0] == pytest.approx(10.6, abs=1e-6)


def test_the_level_is_that_of_the_normal_distribution() -> None:
    """The greatest of n independent standard normal numbers stays below it in all but the stated share of a million draws."""
    draws = np.abs(np.random.default_rng(1).standard_normal((200_000, 6))).max(axis=1)
    assert float((draws > beyond_chance(6)).mean()) == pytest.approx(0.03, abs=0.002)


@pytest.mark.parametrize("sd", [0.0, -1.0, float("nan")])
def test_a_spread_of_nothing_is_refused(sd: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        adjusted([Unknown("x", 1.0)], [Sight("a", 0.0, sd, {"x": 1.0})])


def test_a_reading_of_something_else_is_refused() -> None:
    with pytest.raises(ValueError, match="not asked for"):
        adjusted([Unknown("x", 1.0)], [Sight("a", 0.0, 0.1, {"y": 1.0})])


def test_readings_that_scatter_more_than_stated_widen_the_spread() -> None:
    """Nine readings of one length, stated to 0.1 and scattered by 0.3: chi-squared 72 over 9 degrees of freedom; with six
    readings' worth of trust, (6 + 72) / (6 + 9) widens the variance 0.1²/9 by 5.2, by hand.
    """
    off = [0.3 * (-1) ** no for no in range(8)] + [0.0]
    sights = [Sight(str(no), mm, 0.1, {"x": 1.0}) for no, mm in enumerate(off)]
    found = adjusted([Unknown("x", FREE)], sights, name_wrong=False)
    assert found.of({"x": 1.0})[1] == pytest.approx((0.01 / 9 * 78 / 15) ** 0.5, rel=1e-6)
