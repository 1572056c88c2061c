"""What many tests share: the demo's job text, and a way to change single keys of it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Protocol

import pytest
import tomlkit

from scribeline.job import Job, parse_job
from scribeline.plan import Plan, plan
from scribeline.scenario import demo_jobs

DEMO = demo_jobs()["marram.toml"]


class Edit(Protocol):
    """Changes keys of a job's text, as in {"bridge.spacing": 9.5, "strings[2].gauge": None}."""

    def __call__(self, changes: Mapping[str, Any], base: str = DEMO) -> str:
        """Set each key to its value; None takes the key out; one past a list's end appends."""


class Planned(Protocol):
    """Plans the demo with keys changed."""

    def __call__(self, changes: Mapping[str, Any] | None = None, base: str = DEMO) -> Plan:
        """Read the changed text and plan it."""


def change(changes: Mapping[str, Any], base: str = DEMO) -> str:
    document = tomlkit.parse(base).unwrap()
    for path, value in changes.items():
        keys: list[str | int] = [
            int(part[1:-1]) - 1 if part.startswith("[") else part
            for part in re.findall(r"\[\d+\]|[^.\[\]]+", path)
        ]
        here: Any = document
        for key in keys[:-1]:
            here = here.setdefault(key, {}) if isinstance(key, str) else here[key]
        last = keys[-1]
        if value is None:
            del here[last]
        elif isinstance(last, int) and last == len(here):
            here.append(value)
        else:
            here[last] = value
    return tomlkit.dumps(document)


@pytest.fixture(scope="session")
def demo_text() -> str:
    return DEMO


@pytest.fixture(scope="session")
def edited() -> Edit:
    return change


@pytest.fixture(scope="session")
def planned() -> Planned:
    def made(changes: Mapping[str, Any] | None = None, base: str = DEMO) -> Plan:
        return plan(parse_job(change(changes or {}, base)))

    return made


@pytest.fixture(scope="session")
def demo_job() -> Job:
    return parse_job(DEMO)


@pytest.fixture(scope="session")
def demo_plan(demo_job: Job) -> Plan:
    return plan(demo_job)


@pytest.fixture
def demo_file(tmp_path: Path) -> Path:
    path = tmp_path / "marram.toml"
    path.write_text(DEMO, encoding="utf-8")
    return path
