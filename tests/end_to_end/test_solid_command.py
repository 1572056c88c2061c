"""`scribeline solid` as a person runs it."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from scribeline.cli import main
from scribeline.scenario import demo_jobs


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "marram.toml"
    path.write_text(demo_jobs()["marram.toml"], encoding="utf-8")
    return path


def test_it_writes_three_files_and_says_the_weight(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "solid"
    assert main(["solid", str(job), "--out", str(out)]) == 0
    assert {path.name for path in out.iterdir()} == {"body.stl", "body.3mf", "body.glb"}
    said = capsys.readouterr().out
    assert "Weigh yours" in said
    assert "Table 5-3b" in said
    assert "6 string holes" in said
    assert "neck pocket" in said
    assert "to the bass" in said


def test_the_record_adds_up(job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["solid", str(job), "--out", str(tmp_path / "solid"), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["kg"] + told["removed_kg"] == pytest.approx(told["blank_kg"], abs=2e-4)
    assert told["kg"] == pytest.approx(told["volume_mm3"] * told["density"]["kg_m3"] / 1e9, rel=1e-4)
    assert sum(cut["kg"] for cut in told["removed"]) >= told["removed_kg"] - 1e-4
    assert [Path(path).name for path in told["written"]] == ["body.stl", "body.3mf", "body.glb"]
    assert all(Path(path).exists() for path in told["written"])


def test_your_own_board_counts(job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["solid", str(job), "-o", str(tmp_path), "--density", "500"]) == 0
    said = capsys.readouterr().out
    assert "at 500 kg/m³ [your own board, weighed]" in said
    assert "weigh yours" not in said


def test_a_stop_writes_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = tmp_path / "thin.toml"
    job.write_text(demo_jobs()["marram-too-thin.toml"], encoding="utf-8")
    assert main(["solid", str(job), "--out", str(tmp_path / "solid")]) == 1
    assert not (tmp_path / "solid").exists()
    assert "the checks say DO NOT CUT" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["--density", "6.4"], "divide its weight in kg"),
        (["--density", "heavy"], "heavy"),
        (["--out"], "--out"),
    ],
)
def test_unusable_words_are_told(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], sentence: str
) -> None:
    out = [] if "--out" in words else ["--out", str(tmp_path / "solid")]
    assert main(["solid", str(job), *out, *words]) == 2
    assert not (tmp_path / "solid").exists()
    said = capsys.readouterr().err
    assert sentence in said
    assert "Traceback" not in said


def test_step_without_its_extra_says_how_to_get_it(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "OCP", None)
    monkeypatch.setitem(sys.modules, "OCP.STEPControl", None)
    assert main(["solid", str(job), "--out", str(tmp_path / "solid"), "--step"]) == 2
    assert not (tmp_path / "solid").exists()
    assert "pip install 'scribeline[step]'" in capsys.readouterr().err


def test_step_with_its_extra(job: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    pytest.importorskip("OCP.STEPControl", reason="the step extra is not installed")
    assert main(["solid", str(job), "--out", str(tmp_path), "--step", "--json"]) == 0
    json.loads(capfd.readouterr().out)  # the kernel must not write into the record
    text = (tmp_path / "body.step").read_text(encoding="ascii")
    assert text.startswith("ISO-10303-21;")
    assert "FILE_NAME('body.step','2026-11-24T00:00:00'" in text  # the job's own date, never the clock
    assert "PRODUCT('Marram','Marram'" in text


def test_the_same_job_gives_the_same_bytes(job: Path, tmp_path: Path) -> None:
    for folder in ("a", "b"):
        assert main(["solid", str(job), "--out", str(tmp_path / folder)]) == 0
    for path in (tmp_path / "a").iterdir():
        assert path.read_bytes() == (tmp_path / "b" / path.name).read_bytes()


def test_light_commands_load_no_solid_kernel(job: Path) -> None:
    watch = (
        "import sys; from scribeline.cli import main; code = main(['check', sys.argv[1]]); "
        "print('loaded', {'manifold3d', 'OCP'} & set(sys.modules), code)"
    )
    done = subprocess.run(
        [sys.executable, "-c", watch, str(job)], capture_output=True, text=True, encoding="utf-8", check=True
    )
    assert done.stdout.splitlines()[-1] == "loaded set() 0"
