"""Times of the tunnel solver, and 200 random bodies held to a search by brute force.

The brute force takes half an hour to an hour; `make bench` runs it once.
"""

from __future__ import annotations

import sys
import time
from math import inf
from statistics import median

import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from tests.tunnel_bodies import DRIFT, Brute, random_body

from scribeline.solid.tunnels.narrowing import best_way
from scribeline.solid.tunnels.solve import Solution, solve

BODIES = 200


@pytest.mark.parametrize("seed", [21, 10, 20], ids=["from the face", "from a pocket", "from the edge"])
def test_one_tunnel(benchmark: BenchmarkFixture, seed: int) -> None:
    body = random_body(seed)
    problem = body.problem()

    def fresh() -> Solution:
        solve.cache_clear()
        return solve(problem, (body.bit,), DRIFT)

    found = benchmark(fresh)
    assert found.best is not None


def test_never_beaten_by_brute_force(benchmark: BenchmarkFixture) -> None:
    """What the planner finds, among the few cuts that decide a tunnel, and what is found among all of them at once."""
    rows: list[tuple[int, float, float, float]] = []

    def every() -> None:
        for seed in range(BODIES):
            body = random_body(seed)
            problem = body.problem()
            begin = time.process_time()
            found = solve(problem, (body.bit,), DRIFT)
            took = time.process_time() - begin
            both = [found, best_way(problem, (body.bit,), DRIFT)]
            mine = min(-inf if each is None or each.best is None else each.best.cover for each in both)
            brute = Brute(body).best()
            rows.append((seed, mine, brute, took))
            sys.stdout.write(f"body {seed}: {mine:.3f} mm in {took:.3f} s, brute force {brute:.3f} mm\n")

    benchmark.pedantic(every, rounds=1, iterations=1)  # type: ignore[no-untyped-call]
    beaten = [(seed, mine, brute) for seed, mine, brute, _ in rows if brute > mine + 0.05]
    worst = max(brute - mine for _, mine, brute, _ in rows if brute > -inf)
    with_way = [took for _, mine, _, took in rows if mine > -inf]
    without = [took for _, mine, _, took in rows if mine == -inf]
    sys.stdout.write(
        f"\n{len(with_way)} of {BODIES} bodies have a way; beaten by more than 0.05 mm on {len(beaten)} {beaten}, "
        f"at the worst by {worst:.3f} mm; processor time with a way {median(with_way):.3f} s, slowest "
        f"{max(with_way):.3f} s; without one {median(without):.3f} s, slowest {max(without):.3f} s\n"
    )
    assert not beaten
