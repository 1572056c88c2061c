"""The way of a wire hole is the same on every kind of processor.

NumPy and the routines that it hands its linear algebra to choose their code by the processor. They can be told to behave as on
another: that is what these processes are told before they begin. Where the processor at hand lacks what a kind has,
OpenBLAS or NumPy falls back to less, and two of the processes may be alike.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from typing import Any

import pytest
from tests.torture import long

KINDS: dict[str, dict[str, str]] = {
    "as it is": {},
    "plain": {
        "OPENBLAS_CORETYPE": "Nehalem",
        "NPY_DISABLE_CPU_FEATURES": "X86_V3 X86_V4 AVX512_ICL AVX512_SPR",
        "GLIBC_TUNABLES": "glibc.cpu.hwcaps=-AVX2,-FMA,-AVX512F",
    },
    "middling": {
        "OPENBLAS_CORETYPE": "Haswell",
        "NPY_DISABLE_CPU_FEATURES": "X86_V4 AVX512_ICL AVX512_SPR",
    },
    "wide": {"OPENBLAS_CORETYPE": "SkylakeX"},
}
"""What each process is told of its processor, oldest kind second."""

_TOLD = """
import json, sys
from tests.pack_jobs import EVERY_JOB
from scribeline.job import parse_job
from scribeline.plan import plan
planned = {name: plan(*parse_job(EVERY_JOB[name])).tunnels for name in sys.argv[1:]}
print(json.dumps({
    name: [[each.start, each.end, each.axis, each.depth, each.cover]
           for tunnel in tunnels for each in (tunnel.course, *tunnel.others) if each is not None]
    for name, tunnels in planned.items()
}))
"""


def _ways(kind: str, jobs: list[str]) -> dict[str, Any]:
    """Every way found for these jobs where the processor is of that kind."""
    bare = {key: value for key, value in os.environ.items() if key not in KINDS["plain"]}
    told = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", _TOLD, *jobs],
        env={**bare, **KINDS[kind], "PYTHONPATH": os.pathsep.join(path for path in sys.path if path)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert told.returncode == 0, told.stderr
    return json.loads(told.stdout)  # type: ignore[no-any-return]


def _flat(value: Any) -> list[float]:
    return [number for part in value for number in _flat(part)] if isinstance(value, list) else [value]


@pytest.mark.parametrize(
    ("kinds", "jobs"),
    [
        (("as it is", "plain"), ("demo",)),
        *long(
            (tuple(KINDS), ("vibrato-two-posts", "vibrato-six-screws", "eight-strings", "single-saddles")),
            (
                tuple(KINDS),
                ("arched", "stepped", "inch_left", "posts-and-tailpiece", "two-studs", "headless"),
            ),
            (tuple(KINDS), ("left-handed-six", "angled-head", "seven-strings-fanned", "bass-five-string")),
        ),
    ],
)
def test_a_way_does_not_depend_on_the_processor(kinds: tuple[str, ...], jobs: tuple[str, ...]) -> None:
    first, *others = (_ways(kind, list(jobs)) for kind in kinds)
    for name in jobs:
        numbers = _flat(first[name])
        assert len(numbers) >= 11
        for kind, other in zip(kinds[1:], others, strict=True):
            assert _flat(other[name]) == pytest.approx(numbers, rel=0, abs=1e-9), (name, kind)
