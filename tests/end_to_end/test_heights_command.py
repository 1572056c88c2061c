"""Heights as a user asks for them: what stands now, and numbers that close the chain when they are put into the job."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from scribeline.cli import main

from ..conftest import SHIPPED, Edit


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """The demo as shipped, on disk."""
    path = tmp_path / "marram.toml"
    path.write_text(SHIPPED, encoding="utf-8")
    return path


def told(capsys: pytest.CaptureFixture[str], *words: str | Path) -> Any:
    """A command's JSON; it must exit 0."""
    capsys.readouterr()
    assert main([str(word) for word in words]) == 0
    return json.loads(capsys.readouterr().out)


@pytest.mark.parametrize("key", ["neck.pocket_depth", "neck.angle"])
def test_a_number_that_closes_the_chain_does(
    key: str, job: Path, edited: Edit, capsys: pytest.CaptureFixture[str]
) -> None:
    before = told(capsys, "heights", job, "--saddle", "12.9 mm", "--json")
    job.write_text(edited({key: before["closed_by"][key]}, SHIPPED), encoding="utf-8")
    heights = [each["height"] for each in told(capsys, "heights", job, "--json")["strings"]]
    assert (min(heights) + max(heights)) / 2 == pytest.approx(12.9, abs=1e-6)


def test_people_are_told_every_string_and_way(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["heights", str(job)]) == 0
    said = capsys.readouterr().out
    for words in ("heel with board", "taper shim", "lean of the neck", "1 E4", "6 E2", "bridge pickup: open"):
        assert words in said


def test_a_height_that_cannot_be_read_is_refused(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["heights", str(job), "--saddle", "high"]) == 2
    assert "high" in capsys.readouterr().err
