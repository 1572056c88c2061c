"""Spreads of worked numbers against a published example, against sampling, and against a library made for them.

The example is the end gauge of JCGM 100:2008 (GUM), annex H.1: values from memory, and the same in three public
transcriptions of it.
"""

from math import sqrt

import numpy as np
import pytest

from scribeline.quantities import Formula, Quantities, Quantity, cos, evaluated, hypot, sin, written


def end_gauge(length: float, d: float, d_alpha: float, theta: float, alpha: float, d_theta: float) -> float:
    """H.1.2, equation (H.3): length of the gauge at 20 °C, from a standard's and the difference of the two."""
    return length + d - length * (d_alpha * theta + alpha * d_theta)


def numbers() -> Quantities:
    """H.1.3, in nm and °C."""
    found = Quantities()

    def root(name: str, value: float, sd: float) -> None:
        found.give(name, value, sd=sd, what=name, source="GUM H.1.3", unit="nm")

    root("standard", 50_000_623.0, 25.0)
    root("reading", 215.0, 5.8)
    root("comparator, at random", 0.0, 3.9)
    root("comparator, always", 0.0, 6.7)
    found.work(
        "d",
        lambda reading, at_random, always: reading + at_random + always,
        {"reading": "reading", "at_random": "comparator, at random", "always": "comparator, always"},
        what="difference of the two",
        unit="nm",
    )
    root("alpha", 11.5e-6, 2e-6 / sqrt(3))
    root("d_alpha", 0.0, 1e-6 / sqrt(3))
    root("d_theta", 0.0, 0.05 / sqrt(3))
    root("mean theta", -0.1, 0.2)
    root("cycle", 0.0, 0.5 / sqrt(2))
    found.work("theta", lambda mean, cycle: mean + cycle, {"mean": "mean theta", "cycle": "cycle"}, what="°C")
    found.work(
        "gauge",
        end_gauge,
        {
            "length": "standard",
            "d": "d",
            "d_alpha": "d_alpha",
            "theta": "theta",
            "alpha": "alpha",
            "d_theta": "d_theta",
        },
        what="the gauge at 20 °C",
        unit="nm",
    )
    return found


def test_the_end_gauge_of_the_guide() -> None:
    found = numbers()
    assert found["d"].sd == pytest.approx(9.7, abs=0.05)
    assert found["theta"].sd == pytest.approx(0.41, abs=0.005)
    gauge = found["gauge"]
    assert gauge.value == pytest.approx(50_000_838.0, abs=0.5)
    # Table H.1: what each input adds, nm.
    added = {root: abs(each) for root, each in gauge.spread.items()}
    assert added["standard"] == pytest.approx(25.0, abs=0.05)
    assert added["d_theta"] == pytest.approx(16.6, abs=0.05)
    assert added["d_alpha"] == pytest.approx(2.9, abs=0.05)
    assert added["alpha"] == pytest.approx(0.0, abs=1e-6)
    assert added["mean theta"] == pytest.approx(0.0, abs=1e-6)
    assert round(gauge.sd) == 32  # H.1.7: u_c(l) = 32 nm
    assert gauge.shares()[0][0] == "standard"


def plate(x: float, along: float, across: float, turn: float) -> float:
    """A place of a turned plate, from the nut: bent enough to try a linear spread on."""
    return x + along * cos(turn) - across * sin(turn)


def test_spreads_against_sampling() -> None:
    """A million draws: a standard deviation is then known to 1/√(2n), 0.07 % (JCGM 101:2008 asks for 10⁶)."""
    means, sds = (630.0, 31.5, 26.5, 0.02), (0.3, 0.05, 0.08, 0.004)
    found = Quantities()
    for name, mean, sd in zip(("x", "along", "across", "turn"), means, sds, strict=True):
        found.give(name, mean, sd=sd, what=name, source="invented")
    every = {name: name for name in ("x", "along", "across", "turn")}
    found.work("hole", plate, every, what="a hole")
    found.work("past", lambda hole, x: hole - x, {"hole": "hole", "x": "x"}, what="the hole past the front")
    rng = np.random.default_rng(1)
    x, along, across, turn = (rng.normal(mean, sd, 1_000_000) for mean, sd in zip(means, sds, strict=True))
    drawn = x + along * np.cos(turn) - across * np.sin(turn)
    assert found["hole"].sd == pytest.approx(drawn.std(), rel=0.003)
    # Both rest on x, which drops out of their difference.
    assert found["past"].sd == pytest.approx((drawn - x).std(), rel=0.003)
    assert found["past"].spread["x"] == pytest.approx(0.0, abs=1e-9)


def test_spreads_against_the_library_uncertainties() -> None:
    """`uncertainties` (Lebigot) differentiates the same formulas exactly, and knows what they share."""
    from uncertainties import ufloat, umath

    found = Quantities()
    for name, mean, sd in (("a", 12.0, 0.2), ("b", 5.0, 0.1), ("c", 0.3, 0.01)):
        found.give(name, mean, sd=sd, what=name, source="invented")
    found.work("h", lambda a, b: hypot(b, a), {"a": "a", "b": "b"}, what="")
    found.work("y", lambda h, a, c: h / a * cos(c) + 2**c, {"h": "h", "a": "a", "c": "c"}, what="")
    a, b, c = ufloat(12.0, 0.2), ufloat(5.0, 0.1), ufloat(0.3, 0.01)
    y = umath.hypot(a, b) / a * umath.cos(c) + 2**c
    assert found["y"].value == pytest.approx(y.nominal_value, rel=1e-12)
    assert found["y"].sd == pytest.approx(y.std_dev, rel=1e-4)


@pytest.mark.parametrize(
    "formula",
    [
        lambda a, b, c: a - (b - c),
        lambda a, b, c: a - (b + c) - a,
        lambda a, b, c: a / (b / c),
        lambda a, b, c: a / (b * c) * b,
        lambda a, b, c: (a + b) * c - -a,
        lambda a, b, c: -(a**2) + (-a) ** 2 - (a**b) ** c,
        lambda a, b, c: 2 ** (-a / 12) + (a + b) ** c,
        lambda a, b, c: abs(b - a) * 1e-9 + 0.1 * c,
        lambda a, b, c: hypot(a, b - c) / sin(c) - -b * (a - b),
    ],
)
def test_a_written_formula_is_the_formula(formula: Formula) -> None:
    """Python's own reading of the text, and ours, against the function itself."""
    values = {"a": 2.75, "b": 1.5, "c": 0.625}
    text = written(formula, tuple(values))
    wanted = formula(**values)
    assert evaluated(text, values) == pytest.approx(wanted, rel=1e-14)
    own = eval(text, {"__builtins__": {"abs": abs}}, {**values, "hypot": np.hypot, "sin": np.sin})
    assert own == pytest.approx(wanted, rel=1e-14)


@pytest.mark.parametrize("text", ["__import__('os')", "a.b", "[a]", "b", "a if a else a", "a +", "exit(a)"])
def test_nothing_but_arithmetic_is_worked_out(text: str) -> None:
    with pytest.raises(ValueError, match="cannot work out"):
        evaluated(text, {"a": 1.0})


def test_numbers_are_worked_out_when_they_are_asked_for() -> None:
    asked: list[str] = []
    found = Quantities()

    def root() -> Quantity:
        asked.append("root")
        return Quantity("root", "", 2.0)

    found.state("root", root)
    found.work("end", lambda root: 2 * root, {"root": "root"}, what="")
    assert list(found) == ["root", "end"]
    assert not asked
    assert found["end"].value == found["end"].value == 4.0
    assert asked == ["root"]
    assert found.nearest("rot") == ("root",)
