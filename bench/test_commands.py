"""How long a person waits: whole commands as processes, and the line inside one, with ratios in one run."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from tests.many_corners import many_cornered

from scribeline.drawing import pack
from scribeline.job import parse_job
from scribeline.plan import plan
from scribeline.scenario import demo_jobs

JOB_TEXT = demo_jobs()["marram.toml"]


@pytest.fixture
def job_file(tmp_path: Path) -> Path:
    """The demo's job on disk."""
    path = tmp_path / "marram.toml"
    path.write_text(JOB_TEXT, encoding="utf-8")
    return path


def _run(*words: str) -> None:
    subprocess.run([sys.executable, "-m", "scribeline", *words], check=True, capture_output=True)


def _seconds(*words: str) -> float:
    start = time.perf_counter()
    subprocess.run([sys.executable, *words], check=True, capture_output=True)
    return time.perf_counter() - start


def _pedantic(benchmark: Any, function: Any, **options: Any) -> None:
    benchmark.pedantic(function, **options)


def _median(benchmark: BenchmarkFixture) -> float:
    stats: Any = benchmark.stats
    return float(stats.stats.median)


def test_check_whole_process(benchmark: BenchmarkFixture, job_file: Path) -> None:
    """`scribeline check` on the demo, process start to exit; the aim is under 0.5 s warm."""
    _pedantic(benchmark, _run, args=("check", str(job_file)), rounds=7, warmup_rounds=1)
    empty = min(_seconds("-c", "pass") for _ in range(5))
    benchmark.extra_info["times an empty Python process"] = round(_median(benchmark) / empty, 1)
    benchmark.extra_info["aim s"] = 0.5


def test_print_whole_process(benchmark: BenchmarkFixture, job_file: Path, tmp_path: Path) -> None:
    """`scribeline print` of the full pack, process start to exit; the aim is under 3 s warm."""
    words = ("print", str(job_file), "--out", str(tmp_path / "pack"))
    _pedantic(benchmark, _run, args=words, rounds=5, warmup_rounds=1)
    check = min(_seconds("-m", "scribeline", "check", str(job_file)) for _ in range(3))
    benchmark.extra_info["times scribeline check"] = round(_median(benchmark) / check, 1)
    benchmark.extra_info["aim s"] = 3.0


@pytest.mark.parametrize("command", ["check", "print"])
def test_10000_corners_whole_process(benchmark: BenchmarkFixture, command: str, tmp_path: Path) -> None:
    """A body drawn with 10,000 corners; the aim is an answer in seconds."""
    words = [command, str(many_cornered(tmp_path, JOB_TEXT, 10_000))]
    words += ["--out", str(tmp_path / "pack")] if command == "print" else []
    _pedantic(benchmark, _run, args=tuple(words), rounds=2, warmup_rounds=1)
    benchmark.extra_info["aim s"] = 10.0


def test_plan_in_process(benchmark: BenchmarkFixture) -> None:
    """`plan(job)`: the whole line without reading a file or drawing."""
    job = parse_job(JOB_TEXT).job
    benchmark(plan, job)


def test_read_job(benchmark: BenchmarkFixture) -> None:
    """Parsing, validating and resolving the outline."""
    benchmark(parse_job, JOB_TEXT)


def test_draw_pack_in_process(benchmark: BenchmarkFixture) -> None:
    """Every file of the pack in memory; told as a multiple of planning."""
    planned = plan(*parse_job(JOB_TEXT))
    _pedantic(benchmark, pack.draw, args=(planned,), rounds=5, warmup_rounds=1)
    start = time.perf_counter()
    plan(*parse_job(JOB_TEXT))
    benchmark.extra_info["times reading and planning"] = round(
        _median(benchmark) / (time.perf_counter() - start), 1
    )
