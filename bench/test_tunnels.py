"""Times of the tunnel solver, and 200 random bodies held to a search by brute force.

The brute force takes some minutes; `make bench` runs it once.
"""

from __future__ import annotations

import sys
import time
from math import inf

import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from tests.tunnel_bodies import DRIFT, Brute, random_body

from scribeline.solid.tunnels.solve import Solution, solve

BODIES = 200


@pytest.mark.parametrize("seed", [21, 10, 13], ids=["from the face", "from a pocket", "from the edge"])
def test_one_tunnel(benchmark: BenchmarkFixture, seed: int) -> None:
    body = random_body(seed)
    problem = body.problem()

    def fresh() -> Solution:
        solve.cache_clear()
        return solve(problem, (body.bit,), DRIFT)

    found = benchmark(fresh)
    assert found.best is not None


def test_never_beaten_by_brute_force(benchmark: BenchmarkFixture) -> None:
    beaten: list[tuple[int, float, float]] = []
    slowest = 0.0

    def every() -> None:
        nonlocal slowest
        for seed in range(BODIES):
            body = random_body(seed)
            begin = time.perf_counter()
            found = solve(body.problem(), (body.bit,), DRIFT)
            slowest = max(slowest, time.perf_counter() - begin)
            mine = -inf if found.best is None else found.best.cover
            brute = Brute(body).best()
            if brute > mine + 0.05:
                beaten.append((seed, mine, brute))

    benchmark.pedantic(every, rounds=1, iterations=1)  # type: ignore[no-untyped-call]
    sys.stdout.write(
        f"\n{BODIES} bodies: beaten by more than 0.05 mm on {len(beaten)} {beaten}; slowest answer {slowest:.3f} s\n"
    )
    assert not beaten
