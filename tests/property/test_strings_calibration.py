"""A shop's calibration on instruments made by the model itself with numbers known beforehand.

No record of a real shop is used or shipped.
"""

from dataclasses import replace
from typing import Literal

import numpy as np
import pytest

from scribeline.strings import (
    PRIOR,
    Record,
    Setup,
    Shop,
    StringsError,
    StringSpec,
    calibrate,
    predict,
    problem,
)

from ..trial_builds import draw

MM = 25.4
SPECS = (
    StringSpec("E4", 0.010 * MM),
    StringSpec("G3", 0.017 * MM),
    StringSpec("E2", 0.046 * MM, "round-wound", core=0.44),
)
SURE = ((1e-14, 0.0, 0.0), (0.0, 1e-14, 0.0), (0.0, 0.0, 1e-14))
Bad = Literal["none", "whole"] | int


def finished(
    name: str, truth: tuple[float, float, float], random: np.random.Generator, bad: Bad = "none"
) -> Record:
    """An instrument built by a shop with the given numbers: every other input drawn from its spread, then measured."""
    setup = Setup(640 + 10 * float(random.random()), action_treble=1.5, action_bass=1.9)
    stated = problem(SPECS, setup, Shop(truth, SURE))
    setback = stated.setback(draw(stated, 1, random))[0] + random.normal(0, 0.15, len(SPECS))
    if bad == "whole":
        setback = setback + 5.0
    elif isinstance(bad, int):
        setback[bad] += 6.0
    return Record(name, SPECS, setup, tuple(setback.tolist()))


def shop_of(truth: tuple[float, float, float], builds: int, seed: int) -> list[Record]:
    random = np.random.default_rng(seed)
    return [finished(f"job {i + 1}", truth, random) for i in range(builds)]


def test_no_record_changes_nothing() -> None:
    found = calibrate(())
    assert found.posterior is PRIOR
    assert found.verdicts == ()
    assert PRIOR.records == 0


def test_records_find_the_shop() -> None:
    """Within three of its own standard deviations, much narrower than before, and the forecast with it."""
    truth = (0.10, 0.40, 0.6)
    found = calibrate(shop_of(truth, 8, 11))
    error = (np.array(found.posterior.mean) - truth) / np.array(found.posterior.sd)
    assert np.all(np.abs(error) < 3)
    assert found.posterior.sd[1] < 0.5 * PRIOR.sd[1]
    assert found.posterior.records == 8
    assert not any(verdict.is_doubted for verdict in found.verdicts)
    setup = Setup(647.7)
    before, after = predict(SPECS, setup), predict(SPECS, setup, found.posterior)
    assert np.all(after.sd < before.sd)
    right = predict(SPECS, setup, Shop(truth, SURE)).setback
    assert np.all(np.abs(after.setback - right) < np.abs(before.setback - right))
    assert [line.split(":")[0] for line in found.lines()] == ["end condition", "finger depth", "grip"]


def test_spread_of_the_posterior_is_honest() -> None:
    """Over many shops whose numbers are drawn from the prior itself, errors are as large as the posterior says."""
    random = np.random.default_rng(5)
    ratios = []
    for seed in range(24):
        truth = np.clip(random.multivariate_normal(PRIOR.mean, PRIOR.covariance), [0, 0.05, 0], [1, 1, 1])
        found = calibrate(shop_of((float(truth[0]), float(truth[1]), float(truth[2])), 2, seed)).posterior
        # The finger's depth: the one the records speak of most clearly.
        ratios.append((found.mean[1] - truth[1]) / found.sd[1])
    # 24 squares of a standard normal number: mean 1 ± 0.29.
    assert 0.4 < float(np.mean(np.square(ratios))) < 2.0


def test_a_bad_record_is_named_and_hardly_counts() -> None:
    records = shop_of((0.06, 0.32, 0.5), 5, 3)
    clean = calibrate(records)
    bad = finished("the odd one", (0.06, 0.32, 0.5), np.random.default_rng(8), "whole")
    found = calibrate([*records, bad])
    assert [v.record for v in found.verdicts if v.is_doubted] == ["the odd one"]
    assert found.verdicts[-1].doubted_string is None
    assert "doubted as a whole" in found.verdicts[-1].words
    moved = np.abs(np.array(found.posterior.mean) - clean.posterior.mean)
    assert np.all(moved < 0.3 * np.array(clean.posterior.sd))
    assert np.nanmean(found.verdicts[-1].after) == pytest.approx(5.0, abs=1.5)


def test_one_string_noted_wrong_is_named() -> None:
    records = shop_of((0.06, 0.32, 0.5), 4, 3)
    found = calibrate([*records, finished("slip", (0.06, 0.32, 0.5), np.random.default_rng(9), 1)])
    verdict = found.verdicts[-1]
    assert verdict.is_doubted
    assert verdict.doubted_string == 2
    assert "doubted at string 2" in verdict.words


def test_the_same_records_in_two_lots_say_the_same() -> None:
    """The first lot's posterior is the second's prior: near enough, for it is kept as a normal distribution."""
    records = shop_of((0.08, 0.36, 0.5), 6, 21)
    whole = calibrate(records).posterior
    lots = calibrate(records[3:], calibrate(records[:3]).posterior).posterior
    assert lots.records == whole.records
    assert np.all(np.abs(np.array(lots.mean) - whole.mean) < 0.25 * np.array(whole.sd))
    np.testing.assert_allclose(lots.sd, whole.sd, rtol=0.2)


def test_order_and_missing_saddles_do_not_matter() -> None:
    records = shop_of((0.08, 0.36, 0.5), 3, 2)
    np.testing.assert_allclose(
        calibrate(records).posterior.mean, calibrate(records[::-1]).posterior.mean, rtol=1e-9
    )
    first = records[0]
    partly = replace(first, setback=(first.setback[0], None, first.setback[2]))
    found = calibrate([partly])
    assert np.isnan(found.verdicts[0].after[1])
    # Leaving the string out altogether is the same as not noting it.
    two = Record(first.name, (SPECS[0], SPECS[2]), first.setup, (first.setback[0], first.setback[2]))
    np.testing.assert_allclose(found.posterior.mean, calibrate([two]).posterior.mean, atol=1e-9)


def test_a_record_that_says_nothing_is_a_sentence() -> None:
    setup = Setup(647.7)
    with pytest.raises(StringsError, match="notes no saddle at all; measure at least one"):
        Record("empty", SPECS, setup, (None, None, None))
    with pytest.raises(StringsError, match="notes 2 saddles for 3 strings"):
        Record("short", SPECS, setup, (1.0, 2.0))
    with pytest.raises(StringsError, match="no rule does that"):
        Record("perfect", SPECS, setup, (1.0, 2.0, 3.0), measured_sd=0.0)
