"""`scribeline rescue`: on a job with steps done by the command, from the line, in inches, as JSON, and with bad input."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from scribeline.cli import main

from ..conftest import FULL, WITHOUT_TUNNELS, change, in_inches
from ..rescued import TEXT, made_text

PILOTS = ("drill-bridge-screws", "drill-string-holes")


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """The demo with its pilots and string holes drilled, string hole 3 found 0.8 and 0.3 off."""
    path = tmp_path / "job.toml"
    path.write_text(made_text(PILOTS, {"string-hole-3": (0.8, -0.3)}), encoding="utf-8")
    return path


def told(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = main(["rescue", *words])
    said = capsys.readouterr()
    return code, " ".join(said.out.split()), said.err


def test_every_cut_that_is_off_is_told_with_its_ways_and_nothing_is_written(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = job.read_bytes()
    code, out, _ = told(capsys, str(job))
    assert code == 0
    assert "S3, string hole: 0.80 mm too far towards the tail, 0.30 mm too far to the bass" in out
    assert "1. Plug S3 with 9.50 mm and drill anew" in out
    assert "wall of plug round the new hole 2.15 mm (at least 2.00 mm)" in out
    assert "the plate reaches 6.95 mm beyond it all round. Wait: 24 hours" in out
    assert "breaks a limit" in out
    assert "CAUTION Clamp or fence the body." in out
    assert job.read_bytes() == before


def test_what_was_found_can_stand_on_the_line(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = told(capsys, str(job), "S2", "--off", "-0.8,0")
    assert code == 0
    assert out.startswith("S2, string hole: 0.80 mm too far towards the nut")
    _, by_id, _ = told(capsys, str(job), "string-hole-2", "--off", "-0.8; 0")
    assert by_id == out
    _, out, _ = told(capsys, str(job), "s2", "--depth", "43")
    assert "9.00 mm too deep" in out
    _, out, _ = told(capsys, str(job), "b1", "--stripped")
    assert "its screw does not hold" in out


def test_steps_done_by_the_command_can_be_rescued(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "job.toml"
    path.write_text(WITHOUT_TUNNELS, encoding="utf-8")
    for step, read in (
        ("check-neck", "320"),
        ("check-body", "44.4"),
        ("check-press", "0"),
        ("rout-neck-pocket", "16.2"),
    ):
        assert main(["done", str(path), step, "--read", read, "--at-own-risk", "it is what it is here"]) == 0
    capsys.readouterr()
    code, out, _ = told(capsys, str(path))
    assert code == 0
    assert out.startswith("The neck pocket: 0.20 mm too deep")
    assert "Veneer 0.20 mm thick over the whole floor" in out


def test_json_has_lengths_to_a_hundredth(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["rescue", str(job), "--json"])
    whole: dict[str, Any] = json.loads(capsys.readouterr().out)
    (of,) = whole["rescues"]
    assert of["cuts"] == ["string-hole-3"]
    assert of["off"] == {"along": 0.8, "across": -0.3, "away": 0.85, "wider": 0.0, "deeper": 0.0}
    first = of["ways"][0]
    assert (first["kind"], first["closes"], first["wait_hours"]) == ("plug", True, 24.0)
    wall = next(each for each in first["numbers"] if "wall of plug" in each["what"])
    assert (wall["value"], wall["limit"], wall["ok"]) == (2.15, 2.0, True)
    assert of["refusal"] is None


def test_an_inch_shop_reads_inches(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "inch.toml"
    text = in_inches(change({"tunnels": None}, FULL))
    path.write_text(made_text(PILOTS, {"string-hole-3": (0.8, -0.3)}, text), encoding="utf-8")
    _, out, _ = told(capsys, str(path))
    assert "0.031 in (0.80 mm) too far towards the tail" in out
    _, out, _ = told(capsys, str(path), "S2", "--off", "1/32, 0")
    assert "0.031 in (0.79 mm) too far towards the tail" in out


def test_no_way_is_told_with_its_number_and_a_code_of_its_own(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "job.toml"
    path.write_text(made_text((*PILOTS, "counterbore-ferrules", "bore-ferrules")), encoding="utf-8")
    code, out, _ = told(capsys, str(path), "F3", "--off", "0,2")
    assert code == 1
    assert "I cannot, because" in out
    assert "runs 2.40 mm into F2" in out


def test_a_job_with_nothing_made_or_nothing_off_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "job.toml"
    path.write_text(TEXT, encoding="utf-8")
    code, out, _ = told(capsys, str(path))
    assert code == 0
    assert "No cut is made yet: what is planned can simply move." in out
    path.write_text(made_text(PILOTS), encoding="utf-8")
    assert "No made cut is off." in told(capsys, str(path))[1]


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("S9",), "no cut is called"),
        (("G",), "is not made yet, so there is nothing to rescue: it can simply move"),
        (("S3", "--at", "1,2"), "cannot lie 659.91 mm"),
        (("S3", "--off", "0.8"), "takes two numbers"),
        (("S3", "--off", "a few,0"), "cannot read"),
        (("S3", "--off", "1,1", "--at", "1,1"), "not both"),
        (("--off", "1,1"), "say which cut"),
        (("S3", "--depth", "900"), "measure it again"),
        (("S3", "--depth", "0"), "over 0"),
        (("S3", "--diameter", "0.01"), "can be kept"),
        (("S3", "--width", "3"), "is said of a cavity"),
        (("S3", "--angle", "steep"), "cannot read"),
        (
            (
                "S3",
                "--nonsense",
            ),
            "--nonsense",
        ),
    ],
)
def test_bad_input_is_told_in_a_sentence(
    job: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], why: str
) -> None:
    before = job.read_bytes()
    code, out, err = told(capsys, str(job), *words)
    assert code == 2
    assert out == ""
    assert err.startswith("scribeline: ")
    assert why in err
    assert len(err.splitlines()) == 1
    assert not any("\ue000" <= each <= "\ue002" for each in err)
    assert job.read_bytes() == before
    assert main(["rescue", str(job), *words, "--json"]) == 2
    assert json.loads(capsys.readouterr().out)
