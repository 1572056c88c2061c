"""The arithmetic of weighing records, against worked examples of the literature.

The eight schools (D. B. Rubin, J. Educational Statistics 6, 1981; worked in A. Gelman and others, "Bayesian Data Analysis", 3rd
ed., 2013, section 5.5; data and results from memory of the book): effects and their standard errors below. Pooled completely
their mean is 7.7 with a variance of 16.6 (p. 120).
"""

from math import exp, log, pi, sqrt
from statistics import NormalDist

import numpy as np
import pytest

from scribeline.strings.spec import Floats
from scribeline.strings.weighing import Belief, Readings, Supposition, weigh

EFFECT = np.array([28.0, 8.0, -3.0, 7.0, -1.0, 1.0, 18.0, 12.0])
ERROR = np.array([15.0, 10.0, 16.0, 11.0, 9.0, 11.0, 10.0, 18.0])

SURE = Belief(1e-12, 1.0, 1e-12, 1.0)
"""No record is bad."""


def one_number(off: Floats, sd: Floats, no_guide: float = -1e9) -> Readings:
    """Records of one number each, which scatters by itself as well."""
    ones = np.ones((len(off), 1))
    return Readings(
        off[:, np.newaxis],
        ones[..., np.newaxis],
        (sd**2)[:, np.newaxis, np.newaxis],
        ones,
        ones.astype(np.bool_),
        np.full(len(off), no_guide),
    )


def supposed(own_sd: float, sd: float = 1e4, chance: float = 1.0) -> Supposition:
    return Supposition(chance, own_sd, np.array([[sd**2]]))


def test_eight_schools_pooled() -> None:
    found = weigh(one_number(EFFECT, ERROR), (supposed(0.0),), SURE)
    assert found.mean[0, 0] == pytest.approx(7.7, abs=0.05)
    assert found.covariance[0, 0, 0] == pytest.approx(16.6, abs=0.05)


def test_scatter_between_schools_by_its_closed_form() -> None:
    """p(τ | y) ∝ V^½ Π (σ² + τ²)^-½ exp(−(y − μ)² / 2(σ² + τ²)) for a flat mean (the book's equation 5.21)."""
    taus = (0.0, 5.0, 10.0, 20.0)
    found = weigh(one_number(EFFECT, ERROR), tuple(supposed(each, 1e6, 0.25) for each in taus), SURE)
    chances, means = [], []
    for tau in taus:
        weight = 1 / (ERROR**2 + tau**2)
        mean = float((weight * EFFECT).sum() / weight.sum())
        means.append(mean)
        log_chance = -0.5 * log(weight.sum()) + float(
            (0.5 * np.log(weight) - 0.5 * weight * (EFFECT - mean) ** 2).sum()
        )
        chances.append(exp(log_chance))
    np.testing.assert_allclose(found.chances, np.array(chances) / sum(chances), rtol=1e-5)
    np.testing.assert_allclose(found.mean[:, 0], means, rtol=1e-6)


def test_one_record_in_clutter_is_exact() -> None:
    """Minka's clutter: x with a wide prior is read good with N(x, 1), or as N(0, 10) whatever x is. One reading has two parts in
    closed form, which the standard library's normal distribution gives."""
    reading, prior_sd, share = 3.0, 2.0, 0.5
    wide = NormalDist(0, sqrt(10)).pdf(reading)
    good = NormalDist(0, sqrt(1 + prior_sd**2)).pdf(reading)
    chance = (1 - share) * good / ((1 - share) * good + share * wide)
    gain = prior_sd**2 / (prior_sd**2 + 1)
    readings = one_number(np.array([reading]), np.array([1.0]), log(wide) + 0.5 * log(2 * pi))
    found = weigh(readings, (supposed(0.0, prior_sd),), Belief(share, 1 - share, 1e-12, 1.0))
    assert found.kinds[0, 0] == pytest.approx(chance, rel=1e-9)
    assert found.mean[0, 0] == pytest.approx(chance * gain * reading, rel=1e-9)


def test_against_a_fine_grid() -> None:
    """Three readings, one of them far off: mean of the mixtures' product on a grid of 40,000 points, worked out here.

    The spread is that of the good readings: what lies between "good" and "no guide" is left out on purpose, so that a record that
    is doubted never widens a forecast. It lies between the good two's own and the whole mixture's.
    """
    off, sd, wide, share = np.array([1.0, 1.6, 9.0]), np.array([0.7, 0.5, 0.6]), 6.0, 0.2
    no_guide = [log(NormalDist(0, wide).pdf(each)) + 0.5 * log(2 * pi) for each in off.tolist()]
    readings = one_number(off, sd)
    readings = Readings(
        readings.off, readings.slopes, readings.noise, readings.own, readings.noted, np.array(no_guide)
    )
    # So heavy a belief that three records do not move it.
    found = weigh(readings, (supposed(0.0, 3.0),), Belief(share * 1e9, (1 - share) * 1e9, 1e-12, 1.0))
    x = np.linspace(-15, 15, 40_001)
    weight = np.exp(-0.5 * (x / 3.0) ** 2)
    for each, error in zip(off.tolist(), sd.tolist(), strict=True):
        good = np.exp(-0.5 * ((each - x) / error) ** 2) / error / sqrt(2 * pi)
        weight *= (1 - share) * good + share * NormalDist(0, wide).pdf(each)
    weight /= weight.sum()
    mean = float(weight @ x)
    assert found.mean[0, 0] == pytest.approx(mean, abs=0.01)
    of_good = sqrt(1 / (1 / 3.0**2 + 1 / 0.7**2 + 1 / 0.5**2))
    assert of_good < sqrt(found.covariance[0, 0, 0]) < sqrt(float(weight @ (x - mean) ** 2))
    assert found.kinds[2, -1] > 0.999
