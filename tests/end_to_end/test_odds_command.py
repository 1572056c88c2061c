"""The odds command: a report, every number for a program, a picture, and plain words for what cannot be."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pdfplumber
import pytest

from scribeline.cli import main
from scribeline.job import parse_job
from scribeline.odds import odds
from scribeline.plan import plan
from scribeline.scenario import demo_jobs
from scribeline.tables import usual_accuracies

FEW = ("--trials", "20000")


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "marram.toml"
    path.write_text(demo_jobs()["marram.toml"], encoding="utf-8")
    return path


def test_the_report_is_read_at_a_glance(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["odds", str(job), *FEW]) == 0
    said = capsys.readouterr().out
    lines = said.splitlines()
    assert re.match(r"Chance that everything keeps its limits at the first go: \d+ %", lines[0])
    assert len(lines) <= 30
    for heading in ("Likeliest to miss", "What matters most", "Best buys"):
        assert heading in said
    assert "20,000 trial builds, seed 1" in said
    assert "before you cut" in said
    # Words, no ids: nothing a builder would not say.
    assert not re.search(r"\b(travel|web|margin)[.-][a-z0-9]", said)


def test_a_program_is_told_every_number(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["odds", str(job), *FEW, "--seed", "5", "--json"]) == 0
    told: dict[str, Any] = json.loads(capsys.readouterr().out)
    found = odds(plan(parse_job(demo_jobs()["marram.toml"]).job), usual_accuracies(), trials=20_000, seed=5)
    assert told["chance"] == found.chance
    assert told["trials"] == 20_000
    assert [each["outcome"]["id"] for each in told["outcomes"]] == [
        each.outcome.id for each in found.outcomes
    ]
    assert told["buys"][0]["gain"] == found.buys[0].gain


def test_the_picture_has_a_bar_for_each(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "odds"
    assert main(["odds", str(job), *FEW, "--out", str(out)]) == 0
    capsys.readouterr()
    drawn = ElementTree.parse(out / "odds.svg").getroot()
    texts = ["".join(each.itertext()) for each in drawn.iter() if each.tag.endswith("text")]
    assert any("chance to keep every limit at the first go" in text for text in texts)
    assert "string to board edge, treble" in texts
    assert sum(text.endswith("%") for text in texts) >= 10
    with pdfplumber.open(out / "odds.pdf") as printed:
        (page,) = printed.pages
        assert (float(page.width), float(page.height)) <= (297 / 25.4 * 72, 210 / 25.4 * 72)  # lies on A4
        words = page.extract_text()
    assert "chance to keep every limit at the first go" in words
    assert "string to board edge, treble" in words


def test_a_plan_that_must_not_be_cut_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "thin.toml"
    path.write_text(demo_jobs()["marram-too-thin.toml"], encoding="utf-8")
    assert main(["odds", str(path), *FEW]) == 1
    said = capsys.readouterr().out
    assert "DO NOT CUT" in said
    assert "wood under the control cavity" in said


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (["--trials", "0"], "0 trial builds cannot be tried; give 1 to 100,000,000"),
        (["--trials", "-5"], "-5 trial builds cannot be tried"),
        (["--trials", "9" * 30], "cannot be tried"),
        (["--trials", "many"], "many"),
        (["--seed", "-1"], "a seed of -1 cannot be; give 0 or more"),
        (["--seed", "x"], "x"),
    ],
)
def test_what_cannot_be_is_told_in_words(
    job: Path, typed: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    before = job.read_bytes()
    assert main(["odds", str(job), *typed]) == 2
    told = capsys.readouterr().err
    assert said in told
    assert "Traceback" not in told
    assert job.read_bytes() == before


def test_one_build_tells_how_little_it_says(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["odds", str(job), "--trials", "1"]) == 0
    said = capsys.readouterr().out
    assert "1 trial build, seed 1" in said
    assert "by the draw" in said
