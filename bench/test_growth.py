"""How time grows with a job: holes, corners of the outline and pockets, for check, print and an edit in the app.

Each is a whole process, or an edit as a browser asks for it; told with the exponent from the size before, 1 where time
grows as the size does. What a job without the many takes anyhow is taken off first.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from math import log
from pathlib import Path
from statistics import median
from typing import Any

import httpx
import pytest
from bench.serving import edited as one_edit
from bench.serving import serving
from pytest_benchmark.fixture import BenchmarkFixture
from tests.many_corners import many_cornered
from tests.many_parts import with_holes, with_pockets

from scribeline.scenario import demo_jobs

PLAIN = demo_jobs()["marram.toml"]
OWN_POCKETS = PLAIN.count("[[pockets]]")
TABLES = 50
"""Tables that the holes are stated in: a job may have 60."""

SIZES = {
    "plain": (0,),
    "holes": (10, 100, 1000, 5000),
    "corners": (500, 5000, 20_000, 100_000),
    "pockets": (10, 30, 60),
}
_took: dict[tuple[str, str, int], float] = {}


def job_of(folder: Path, kind: str, size: int) -> Path:
    path = folder / "job.toml"
    if kind == "corners":
        return many_cornered(folder, PLAIN, size)
    text = PLAIN
    if kind == "holes":
        text = with_holes(PLAIN, size, in_one=max(1, size // TABLES))
    if kind == "pockets":
        text = with_pockets(PLAIN, size - OWN_POCKETS)
    path.write_text(text, encoding="utf-8")
    return path


def check(job: Path) -> float:
    return _seconds("check", str(job))


def printed(job: Path) -> float:
    return _seconds("print", str(job), "--out", str(job.parent / "pack"))


def edited(job: Path) -> float:
    """One edit of the thickness in the app, until its page is there; the median of three."""
    with (
        serving(job.parent / "shop", "--job", str(job)) as (address, opens),
        httpx.Client(base_url=address, timeout=600) as screen,
    ):
        plan = str(screen.get(opens, follow_redirects=True).url.path)
        took = []
        for revision in (1, 2, 3):
            started = time.perf_counter()
            one_edit(screen, plan, "body.thickness", 44 + revision / 100, revision)
            took.append(time.perf_counter() - started)
    return median(took)


def _seconds(*words: str) -> float:
    start = time.perf_counter()
    subprocess.run([sys.executable, "-m", "scribeline", *words], check=True, capture_output=True)
    return time.perf_counter() - start


@pytest.mark.parametrize(("kind", "size"), [(kind, size) for kind, sizes in SIZES.items() for size in sizes])
@pytest.mark.parametrize("what", [check, printed, edited])
def test_growth(
    benchmark: BenchmarkFixture, tmp_path: Path, what: Callable[[Path], float], kind: str, size: int
) -> None:
    job, took = job_of(tmp_path, kind, size), list[float]()
    pedantic: Any = benchmark.pedantic
    pedantic(lambda: took.append(what(job)), rounds=1, iterations=1)
    name = what.__name__
    _took[name, kind, size] = took[0]
    benchmark.extra_info["seconds"] = round(took[0], 2)
    smaller = max((each for each in SIZES[kind] if each < size), default=None)
    plain = _took.get((name, "plain", 0), 0.0)
    if smaller is not None and (name, kind, smaller) in _took:
        before = _took[name, kind, smaller]
        less, more = before - plain, took[0] - plain
        if min(less, more) > 0.05 * plain:
            benchmark.extra_info[f"exponent from {smaller:,}"] = round(
                log(more / less) / log(size / smaller), 2
            )
        benchmark.extra_info["the whole"] = round(log(took[0] / before) / log(size / smaller), 2)
