"""The jobs whose whole pack is tested: the shipped demo and those that differ from it where packs go wrong."""

from __future__ import annotations

from pathlib import Path

from scribeline.scenario import demo_jobs, examples

_FOLDER = Path(__file__).parent / "jobs"

PACK_JOBS = {
    "demo": demo_jobs()["marram.toml"],
    **{
        name: (_FOLDER / f"{name}.toml").read_text(encoding="utf-8")
        for name in ("inch_left", "stepped", "arched", "fanned")
    },
}
"""The text of each job by its name."""

EXAMPLES = {name: each.text for name, each in examples().items()}
"""What a job can be begun from, by its name; each has a pack of its own to prove."""

PROVED = {**PACK_JOBS, **EXAMPLES}
"""Whose pack is proved by the tests of packs."""

EVERY_JOB = {
    "demo": PACK_JOBS["demo"],
    **{path.stem: path.read_text(encoding="utf-8") for path in sorted(_FOLDER.glob("*.toml"))},
    **EXAMPLES,
}
"""Every job there is whose plan is sound or nearly so."""
