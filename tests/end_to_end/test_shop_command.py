"""The command about the shop's tests, from a first test to a job that goes by them, and what a slip is told."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import Any

import pytest

from scribeline.cli import main
from scribeline.job import read_job
from scribeline.proving import KINDS
from scribeline.scenario import demo_jobs

MARKS = "0.05, -0.06, 0.04, 0.02, -0.07, 0.03, -0.01, 0.06, -0.05, 0.04"


def told(capsys: pytest.CaptureFixture[str], *words: object, code: int = 0) -> str:
    """What a command prints, its lines run together."""
    capsys.readouterr()
    assert main([str(each) for each in words]) == code
    printed = capsys.readouterr()
    return " ".join((printed.out if code == 0 else printed.err).split())


def test_from_a_first_test_to_a_job_that_goes_by_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Begun, added to, reported, struck through; a job names the file and takes what it learnt."""
    file = tmp_path / "shop.toml"
    said = told(capsys, "shop", file, "--test", "table-square", "--readings", "1.2 0 0.6 0.6", "--by", "Ada")
    assert "0.34°" in said
    assert "0.27 mm off" in said
    assert "1.20 mm of shim under the board on the table at the front" in said
    said = told(capsys, "shop", file, "--test", "trial-marks", "--method", "prick-awl", "--readings", MARKS)
    assert "one standard deviation was 0.20 mm and is 0.14 mm" in said
    said = told(capsys, "shop", file)
    assert "2 tests" in said
    assert "What to test next" in said
    assert "--test trial-marks --method lean-hand" in said
    (demo, *_) = demo_jobs().values()
    job = tmp_path / "job.toml"
    job.write_text(demo, encoding="utf-8")
    told(capsys, "measure", job, "bench.shop", "shop.toml")
    assert 0.13 < read_job(job).job.accuracies["prick-awl"].sd < 0.15
    said = told(capsys, "shop", file, "--strike", 2, "--why", "another awl now")
    assert "another awl now" in said
    assert "was 0.14 mm and is 0.20 mm" in said
    assert read_job(job).job.accuracies["prick-awl"].sd == pytest.approx(0.2)
    assert "another awl now" in file.read_text(encoding="utf-8")
    assert "was 0.20 mm and is 0.14 mm" in told(capsys, "shop", file, "--count", 2)
    assert "struck" not in file.read_text(encoding="utf-8")


def test_a_wild_reading_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By its number and value, when it is typed and whenever the tests are told."""
    file = tmp_path / "shop.toml"
    words = ("shop", file, "--test", "trial-marks", "--method", "prick-awl", "--readings", f"{MARKS}, 1.9")
    for said in (told(capsys, *words), told(capsys, "shop", file)):
        assert "Reading no. 11 (1.90 mm) stands apart" in said


def test_for_a_program(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """As JSON: figures with their spread, what was learnt, what is next."""
    file = tmp_path / "shop.toml"
    words = ("shop", file, "--test", "trial-marks", "--method", "prick-awl", "--readings", MARKS, "--json")
    added: dict[str, Any] = json.loads(told(capsys, *words))
    assert added["changed"][0]["key"] == "prick-awl"
    whole: dict[str, Any] = json.loads(told(capsys, "shop", file, "--json"))
    assert whole["tests"][0]["figures"][0]["unit"] == "mm"
    assert whole["learnt"]["prick-awl"]["readings"] == 10
    assert whole["next"][0]["test"] in KINDS


@pytest.mark.parametrize("kind", list(KINDS))
def test_how_a_test_is_done(kind: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Steps, what to type, and the usual cautions of its machine."""
    said = told(capsys, "shop", "--how", kind)
    assert "1. " in said
    assert ("CAUTION" in said) == (kind != "print-scale")
    assert KINDS[kind].title in told(capsys, "shop", "--how", "all")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((), "there is no file"),
        (("--test", "trial-marks", "--method", "prick-awl", "--readings", "0.1 0.2"), "3 is the least"),
        (("--test", "wire", "--readings", "1"), "there is no kind of test"),
        (("--test", "table-square", "--readings", "0,4 x 0 0"), "annot read"),
        (("--test", "table-square", "--readings", "0.4 0 0.2 0.2", "--on", "2999-01-01"), "is not yet"),
        (("--test", "table-square", "--readings", "0.4 0 0.2 0.2", "--on", "soon"), "as a day"),
        (("--test", "table-square", "--readings", "7 1/64 0 0 0"), "may be one reading or two"),
        (
            ("--test", "trial-marks", "--method", "prick-awl", "--readings", "0.004 -0.008 .006"),
            'such as "0.008 in" or "0.008 mm"',
        ),
        (("--readings", "1 2 3"), "say which kind of test"),
        (("--strike", "1"), "there is no file"),
        (("--strike", "1", "--test", "table-square"), "one at a time"),
        (("--strike", "1", "--count", "1"), "one at a time"),
        (("--count", "0"), "there is no file"),
    ],
)
def test_a_slip_is_told_and_nothing_is_written(
    words: tuple[str, ...], says: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """In a sentence, with exit code 2 and no file."""
    file = tmp_path / "shop.toml"
    assert says in told(capsys, "shop", file, *words, code=2)
    assert not file.exists()


def test_a_file_stays_as_it_was_where_a_test_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """To the byte; other line ends and comments too. Strike without a reason, another unit, no such number."""
    file = tmp_path / "shop.toml"
    told(capsys, "shop", file, "--test", "table-square", "--readings", "0.4 0 0.2 0.2")
    kept = file.read_bytes().replace(b"\n", b"\r\n") + b"# ours\r\n"
    file.write_bytes(kept)
    assert "say why" in told(capsys, "shop", file, "--strike", 1, code=2)
    assert "there is no test no. 7" in told(capsys, "shop", file, "--strike", 7, "--why", "x", code=2)
    again = ("shop", file, "--test", "table-square", "--readings", "0.4 0 0.2 0.2")
    assert "stand as no. 1 already" in told(capsys, *again, code=2)
    assert "is in mm already" in told(capsys, *again, "--units", "in", code=2)
    assert file.read_bytes() == kept
    told(capsys, "shop", file, "--test", "bit-runout", "--readings", ".02 .03")
    assert file.read_bytes().startswith(kept)
    file.write_bytes(b"# caf\xe9\n")
    assert "not UTF-8" in told(capsys, "shop", file, code=2)


def test_readings_are_dated_today_unless_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The shop's own day."""
    file = tmp_path / "shop.toml"
    before = dt.date.today()  # noqa: DTZ011 - the shop's own day
    told(capsys, "shop", file, "--test", "bit-runout", "--readings", "0.02 .03")
    after = dt.date.today()  # noqa: DTZ011 - the shop's own day
    assert any(f"on = {day}" in file.read_text(encoding="utf-8") for day in (before, after))
