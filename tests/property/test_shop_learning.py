"""What invented shops teach about themselves: nearer to the truth than the guess, and how often the stated interval holds it.

The benches are those of `tests/trial_bench.py`; their shops differ from the guess as is believed beforehand, or by half as
much again.
"""

from __future__ import annotations

import numpy as np
import pytest

from scribeline.job import NewTest, parse_shop_tests, with_test
from scribeline.proving import BELIEF, Group, Learnt, learn
from scribeline.tables import usual_accuracies

from ..trial_bench import COVERED, FALSELY_NAMED, GROSS, NAMED, SHOPS, Errors, Spread

GUESS = usual_accuracies()["prick-awl"].sd
WIDER = 0.35
"""Standard deviation of the logarithm of a shop's own sd over the guess, where shops differ more than is believed (0.25)."""


def believed(random: np.random.Generator) -> float:
    """A shop's own sd, as the belief has it: n₀ σ₀² over a chi-square of n₀."""
    n0 = BELIEF.prior_readings
    return float(GUESS * np.sqrt(n0 / random.chisquare(n0)))


def wider(random: np.random.Generator) -> float:
    """A shop's own sd, further from the guess than is believed."""
    return float(GUESS * np.exp(random.normal(0, WIDER)))


def learnt(values: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> Learnt:
    """What one test of so many marks teaches."""
    return learn((Group(tuple(values.tolist())),), GUESS)


def tried(spread: Spread, count: int, *, differ: bool, seed: int) -> tuple[float, float, float]:
    """Of `SHOPS` shops: root mean square error of the logarithm of the guess and of what is learnt, and how often it is held."""
    errors, guessed, known, held = Errors(spread, np.random.default_rng(seed)), 0.0, 0.0, 0
    for _ in range(SHOPS):
        sd = wider(errors.random) if differ else believed(errors.random)
        found = learnt(errors.draw(sd, count))
        truth = 1.5 * sd if spread == "understated" else sd
        guessed += np.log(GUESS / truth) ** 2
        known += np.log(found.sd / truth) ** 2
        held += found.low <= truth <= found.high
    return (guessed / SHOPS) ** 0.5, (known / SHOPS) ** 0.5, held / SHOPS


@pytest.mark.parametrize("count", [3, 30])
def test_where_shops_are_as_believed_the_interval_is_honest(count: int) -> None:
    """Drawn from the belief itself, an interval of 95 % holds the truth 95 times of a hundred."""
    guessed, known, held = tried("normal", count, differ=False, seed=11)
    assert known < guessed
    assert COVERED[0] <= held <= COVERED[1]


@pytest.mark.parametrize(
    ("spread", "least_held"),
    [("normal", 0.90), ("heavy tails", 0.87), ("understated", 0.87)],
)
def test_shops_that_differ_more_are_learnt_all_the_same(spread: Spread, least_held: float) -> None:
    """Thirty marks more than halve the error of the guess; the interval is then held 90 times of a hundred, not 95."""
    guessed, known, held = tried(spread, 30, differ=True, seed=12)
    assert known < 0.5 * guessed
    assert held >= least_held


def test_a_reading_gone_wrong_is_named_and_a_sound_one_is_not() -> None:
    """Ten marks, one off by eight of its own standard deviations; and ten without."""
    random = np.random.default_rng(13)
    named = false = 0
    for _ in range(SHOPS):
        sd = wider(random)
        marks = random.normal(0, sd, 10)
        false += sum(each >= 0.5 for each in learnt(marks).wild[0])
        marks[3] = GROSS * sd
        named += learnt(marks).wild[0][3] >= 0.5
    assert named >= NAMED * SHOPS
    assert false <= FALSELY_NAMED * SHOPS  # of all shops with ten marks each


def test_no_order_and_no_unit_matters() -> None:
    """Readings in another order, and all of them in inches, teach the same."""
    marks = ["0.12 mm", "-0.3 mm", "0.05 mm", "0.21 mm", "-0.08 mm"]
    inches = [f"{float(each.split()[0]) / 25.4:.9f} in" for each in marks[::-1]]
    one, other = (
        parse_shop_tests(with_test(NewTest("trial-marks", each, "prick-awl"), before=None))
        .accuracies["prick-awl"]
        .sd
        for each in (marks, inches)
    )
    assert one == pytest.approx(other, rel=1e-6)


def test_two_tests_teach_as_one_with_all_their_readings() -> None:
    """About a line it is all one in how many tests the readings were taken."""
    values = np.random.default_rng(14).normal(0, 0.15, 20)
    whole = learnt(values)
    parts = learn((Group(tuple(values[:8].tolist())), Group(tuple(values[8:].tolist()))), GUESS)
    assert parts.sd == pytest.approx(whole.sd)
    assert (parts.low, parts.high) == pytest.approx((whole.low, whole.high))
