"""How long the solid takes: the body as a mesh, a section of it, its files, and STEP where its extra is installed."""

from __future__ import annotations

import importlib.util
import math
import time
from typing import Any

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from scribeline.features import DOWN, Bit, Bore, Pocket, Step, rounded
from scribeline.job import parse_job
from scribeline.layout import Point, Point3, Ring
from scribeline.plan import plan
from scribeline.scenario import demo_jobs
from scribeline.solid.body import Body, make_body
from scribeline.solid.meshfiles import glb, stl, three_mf
from scribeline.solid.step import step_file

pytestmark = pytest.mark.benchmark(group="solid")

THICK = 45.0


def a_full_body() -> tuple[Ring, list[Bore | Pocket]]:
    """An outline of 500 corners, 80 stepped holes with points and 6 round-cornered pockets."""
    turns = [2 * math.pi * i / 500 for i in range(500)]
    ring = Ring(Point(300 + (200 + 20 * math.cos(3 * a)) * math.cos(a), 160 * math.sin(a)) for a in turns)
    twist = Bit("twist", 4, 1.2)
    holes = [
        Bore(
            f"h{i}",
            "hole",
            "holes",
            "top",
            Point3(170 + 13 * (i % 20), -70 + 12 * (i // 20), 0),
            DOWN,
            (Step(7, 3, Bit("flat-bottomed", 7, 1.5)), Step(4, 20, twist)),
        )
        for i in range(80)
    ]
    pockets = [
        Pocket(
            f"p{i}",
            "pocket",
            "top",
            rounded(Ring([Point(x, 20), Point(x + 38, 20), Point(x + 38, 90), Point(x, 90)]), 4),
            18,
            4,
        )
        for i, x in enumerate(range(170, 170 + 6 * 44, 44))
    ]
    return ring, [*holes, *pockets]


def _demo_body() -> Body:
    planned = plan(*parse_job(demo_jobs()["marram.toml"]))
    return make_body(planned.layout.outline, planned.layout.thickness, planned.features)


def test_the_demo_as_a_mesh(benchmark: BenchmarkFixture) -> None:
    planned = plan(*parse_job(demo_jobs()["marram.toml"]))
    body = benchmark(make_body, planned.layout.outline, planned.layout.thickness, planned.features)
    benchmark.extra_info["triangles"] = len(body.mesh.triangles)


def test_a_full_body_as_a_mesh(benchmark: BenchmarkFixture) -> None:
    ring, cuts = a_full_body()
    body = benchmark(make_body, ring, THICK, cuts)
    benchmark.extra_info["triangles"] = len(body.mesh.triangles)
    benchmark.extra_info["cuts"] = len(cuts)


def test_a_section(benchmark: BenchmarkFixture) -> None:
    body = _demo_body()
    benchmark(body.section, Point3(640, 0, 0), Point3(1, 0.1, 0), Point3(0, 1, 0))


@pytest.mark.parametrize("write", [stl, three_mf, glb])
def test_a_file(benchmark: BenchmarkFixture, write: Any) -> None:
    data = benchmark(write, _demo_body().mesh)
    benchmark.extra_info["kB"] = round(len(data) / 1000)


@pytest.mark.skipif(importlib.util.find_spec("OCP") is None, reason="the step extra is not installed")
def test_the_demo_as_step(benchmark: BenchmarkFixture) -> None:
    planned = plan(*parse_job(demo_jobs()["marram.toml"]))
    layout, features = planned.layout, planned.features
    data = benchmark.pedantic(  # type: ignore[no-untyped-call]  # the plugin leaves it untyped
        step_file,
        args=(layout.outline, layout.thickness, features),
        rounds=3,
        warmup_rounds=1,
    )
    start = time.perf_counter()
    make_body(layout.outline, layout.thickness, features)
    mesh_s = time.perf_counter() - start
    stats: Any = benchmark.stats
    benchmark.extra_info["kB"] = round(len(data) / 1000)
    benchmark.extra_info["times the mesh"] = round(float(stats.stats.median) / mesh_s, 1)
