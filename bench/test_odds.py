"""How fast a million trial builds of the demo are: every outcome counted, in doubt or not, against one build at a time."""

from __future__ import annotations

from time import perf_counter, process_time

import numpy as np
from pytest_benchmark.fixture import BenchmarkFixture

from scribeline.job import parse_job
from scribeline.odds import Study, Ways
from scribeline.odds.trials import in_blocks
from scribeline.plan import plan
from scribeline.scenario import demo_jobs
from scribeline.tables import usual_accuracies

TRIALS = 1_000_000
AIM = 5.0
"""Seconds on two processors."""

ONE_BY_ONE = 2_000
"""Builds tried one at a time, to tell the ratio from."""


def test_a_million_builds(benchmark: BenchmarkFixture) -> None:
    study = Study.of(plan(parse_job(demo_jobs()["marram.toml"]).job), usual_accuracies(), Ways())
    model, held = study.model(every=True), study.limits(every=True)
    spread, count = model.spread, len(study.outcomes)

    def block(random: np.random.Generator, size: int) -> tuple[int, ...]:
        off = spread @ model.drawn(random, size)
        missed = (held.missed(n, row) for n, row in enumerate(off))
        return tuple(0 if each is None else int(np.count_nonzero(each)) for each in missed)

    def million() -> list[tuple[int, ...]]:
        return list(in_blocks(block, TRIALS, 1))

    found = benchmark.pedantic(million, rounds=3, iterations=1, warmup_rounds=1)  # type: ignore[no-untyped-call]
    assert sum(len(each) for each in found) == count * len(found)

    begun = process_time()
    million()
    worked = process_time() - begun
    random = np.random.default_rng(1)
    begun = perf_counter()
    for _ in range(ONE_BY_ONE):
        block(random, 1)
    apart = (perf_counter() - begun) / ONE_BY_ONE * TRIALS
    begun = perf_counter()
    for _ in range(20):
        study.values(random.standard_normal(len(study.errors)))
    exact = (perf_counter() - begun) / 20 * TRIALS
    assert benchmark.stats is not None
    mean = benchmark.stats.stats.mean
    benchmark.extra_info |= {
        "outcomes": count,
        "numbers drawn for a build": spread.shape[1],
        "aim, s": AIM,
        "of the processors, s": round(worked, 2),
        "times as fast as one at a time": round(apart / mean),
        "times as fast as working each out in full": round(exact / mean),
    }


def test_the_odds_of_the_demo(benchmark: BenchmarkFixture) -> None:
    study = Study.of(plan(parse_job(demo_jobs()["marram.toml"]).job), usual_accuracies(), Ways())
    counted = benchmark.pedantic(  # type: ignore[no-untyped-call]
        study.counted, args=(TRIALS, 1), rounds=3, iterations=1, warmup_rounds=1
    )
    assert counted.trials == TRIALS
    benchmark.extra_info |= {"outcomes in doubt": len(study.doubted), "aim, s": AIM}
