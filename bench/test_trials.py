"""How fast trial builds are: six strings over 22 frets, saddles set by the 12th, from random inputs to cents.

A "full trial build" means: draw its inputs, weigh its strings, solve its six saddles, and work out the
cents at all 132 places. One call at a time goes through the very same functions with a batch of one.
"""

import os
import time

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from scribeline.strings import (
    PRIOR,
    Problem,
    Setup,
    StringSpec,
    Trials,
    predict,
    problem,
    try_builds,
    work_builds,
)
from scribeline.strings.spread import draw

BUILDS = 1_000_000
ONE_AT_A_TIME = 300

SETUP = Setup(647.7)
LIGHT_SET = tuple(
    StringSpec(note, gauge * 25.4, "plain" if gauge < 0.020 else "round-wound")
    for note, gauge in (
        ("E4", 0.010),
        ("B3", 0.013),
        ("G3", 0.017),
        ("D3", 0.026),
        ("A2", 0.036),
        ("E2", 0.046),
    )
)


def one_at_a_time(stated: Problem, builds: int) -> float:
    """Builds a second when each is drawn and worked by itself."""
    random = np.random.default_rng(1)
    start = time.perf_counter()
    for _ in range(builds):
        work_builds(stated, draw(stated, 1, random))
    return builds / (time.perf_counter() - start)


@pytest.mark.benchmark(group="trial builds")
def test_a_million_trial_builds(benchmark: BenchmarkFixture) -> None:
    workers = min(2, os.cpu_count() or 1)
    trials: Trials = benchmark.pedantic(  # type: ignore[no-untyped-call]  # the plugin leaves it untyped
        try_builds,
        args=(LIGHT_SET, SETUP),
        kwargs={"builds": BUILDS, "workers": workers},
        rounds=1,
        iterations=1,
    )
    assert trials.setback.shape == (BUILDS, 6)
    assert np.all(np.isfinite(trials.cents_sd))
    single = one_at_a_time(problem(LIGHT_SET, SETUP, PRIOR), ONE_AT_A_TIME)
    assert benchmark.stats is not None
    per_second = BUILDS / benchmark.stats.stats.min
    benchmark.extra_info["trial builds per second"] = round(per_second)
    benchmark.extra_info["trial builds per minute"] = round(60 * per_second)
    benchmark.extra_info["one build at a time, per second"] = round(single)
    benchmark.extra_info["ratio to one build at a time"] = round(per_second / single, 1)
    benchmark.extra_info["workers"] = workers


@pytest.mark.benchmark(group="prediction")
def test_a_prediction_with_its_spread(benchmark: BenchmarkFixture) -> None:
    found = benchmark(predict, LIGHT_SET, SETUP)
    assert found.setback.shape == (6,)
