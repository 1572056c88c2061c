"""Steps done and stops gone on against by the commands: kept in the job file, honoured by every command."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from scribeline.cli import main
from scribeline.cli.bench import step_called
from scribeline.job import parse_job, read_job
from scribeline.operations import cuts_of, done_steps, made_by_now
from scribeline.plan import plan
from scribeline.store import Tick, open_store, with_record

from ..conftest import WITHOUT_TUNNELS, Edit

THIN = {"body.thickness": "39 mm +/- 0.2", "pockets[3].depth": 38.5}


@pytest.fixture
def job(tmp_path: Path, edited: Edit) -> Path:
    """A job whose control cavity leaves half a millimetre."""
    path = tmp_path / "job.toml"
    path.write_bytes(edited(THIN).replace("\n", "\r\n").encode())
    return path


def told(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = main(words)
    said = capsys.readouterr()
    return code, said.out, said.err


def plan_json(capsys: pytest.CaptureFixture[str], job: Path) -> dict[str, Any]:
    main(["plan", str(job), "--json"])
    whole: dict[str, Any] = json.loads(capsys.readouterr().out)
    return whole


def test_a_step_is_not_done_while_a_stop_an_earlier_step_or_its_gate_keeps_it(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = job.read_bytes()
    code, _, err = told(capsys, "done", str(job), "rout-control-cavity")
    assert code == 1
    assert "0.50 mm" in err
    assert "wood.thin-floor" in err
    code, _, err = told(capsys, "done", str(job), "rout-neck-pocket", "--read", "16")
    assert code == 1
    assert "waits for what must come first" in err
    code, _, err = told(capsys, "done", str(job), "check-body")
    assert code == 1
    assert "--read" in err
    assert job.read_bytes() == before
    # A reading that does not pass is kept, and nothing else.
    code, _, err = told(capsys, "done", str(job), "check-body", "--read", "44.4")
    assert code == 1
    assert "too much" in err
    record = read_job(job).record
    assert [each.value_mm for each in record.readings] == [44.4]
    assert record.done == ()
    for words in (("nonsense",), ("99",), ("check-body", "--read", "a lot")):
        assert told(capsys, "done", str(job), *words)[0] in {1, 2}


def test_a_gate_is_gone_on_against_only_after_it_was_read_and_with_a_reason(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    reason = "the thick corner is planed off later"
    code, _, err = told(capsys, "done", str(job), "check-body", "--at-own-risk", reason)
    assert code == 1
    assert "--read" in err
    for words in (("--at-own-risk", "so"), ()):
        assert told(capsys, "done", str(job), "check-body", "--read", "44.4", *words)[0] == 1
    assert read_job(job).record.done == ()
    code, out, _ = told(capsys, "done", str(job), "check-body", "--at-own-risk", reason)
    assert code == 0
    assert "is done" in out
    record = read_job(job).record
    *_, kept = record.readings
    assert (kept.value_mm, kept.risk) == (44.4, reason)
    assert (kept.low, kept.high) == pytest.approx((38.8, 39.2))
    assert [each.card for each in record.done] == ["check-body"]
    # One that passes needs none, and keeps none.
    assert told(capsys, "done", str(job), "check-body", "--read", "39", "--at-own-risk", reason)[0] == 0
    assert read_job(job).record.readings[-1].risk == ""


def test_several_readings_are_typed_at_once_and_the_least_counts(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, _, err = told(capsys, "done", str(job), "check-body", "--read", "39.1; 39")
    assert code == 1
    assert "4 readings are asked for; give each, or the least alone" in err
    code, _, err = told(capsys, "done", str(job), "check-body", "--read", "39.1; 38.7; 39; 39")
    assert code == 1
    assert "too little" in err
    assert told(capsys, "done", str(job), "check-body", "--read", "39.1; 38.9; 1.535 in; 39")[0] == 0
    first, second = read_job(job).record.readings
    assert (first.value_mm, second.value_mm) == (38.7, 38.9)
    assert [each.value_mm for each in second.values] == pytest.approx([39.1, 38.9, 38.989, 39.0])


def test_going_on_is_kept_in_the_file_and_lets_the_work_and_the_paper_go_on(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert told(capsys, "print", str(job), "--out", str(tmp_path / "pack"))[0] == 1
    for words in (
        ("wood.thin-floor", "--reason", "so"),
        ("wood.no-such", "--reason", "it is backed from inside"),
        ("wood.thin-floor", "--cut", "jack", "--reason", "it is backed from inside"),
    ):
        code, _, err = told(capsys, "override", str(job), *words)
        assert code == 2
        assert err.startswith("scribeline: ")
    reason = 'a plate is glued under it, "first"'
    code, out, _ = told(
        capsys, "override", str(job), "wood.thin-floor", "--reason", reason, "--by", "K. Ostrow"
    )
    assert code == 0
    assert "What may happen: Wood that thin bursts under the cutter" in out
    assert "Rout the control cavity" in out
    assert job.read_bytes().count(b"\r\n") == job.read_bytes().count(b"\n")
    (given,) = read_job(job).record.overrides
    assert (given.by, given.reason, given.features) == ("K. Ostrow", reason, ("control-cavity",))
    whole = plan_json(capsys, job)
    (row,) = [each for each in whole["findings"] if each["code"] == "wood.thin-floor"]
    assert row["override"]["reason"] == reason
    assert whole["forbidding"] == []
    assert not any(step["stopped_by"] for step in whole["steps"])
    code, out, _ = told(capsys, "check", str(job))
    assert code == 0
    assert "K. Ostrow goes on against it" in out
    # A thinner body is another stop, and the paper stops again.
    assert told(capsys, "measure", str(job), "body.thickness", "38.8 +/- 0.2")[0] == 1
    assert plan_json(capsys, job)["forbidding"] == ["wood.thin-floor"]


def test_a_step_done_opens_again_when_its_gate_no_longer_passes(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert told(capsys, "done", str(job), "2", "--read", "39.0", "--by", "K. Ostrow")[0] == 0
    assert told(capsys, "done", str(job), "2")[1].endswith("is done already.\n")
    code, out, _ = told(capsys, "measure", str(job), "body.thickness", "45 +/- 0.2")
    assert code == 1
    assert "gate.no-longer-passes" in out
    code, _, err = told(
        capsys, "override", str(job), "gate.no-longer-passes", "--reason", "it will do as it is"
    )
    assert code == 2
    assert "a gate cannot be overridden" in err
    assert told(capsys, "done", str(job), "check-body", "--read", "45")[0] == 0
    record = read_job(job).record
    assert [each.card for each in record.done] == ["check-body"]
    assert [each.value_mm for each in record.readings] == [39.0, 45.0]
    assert told(capsys, "check", str(job))[0] == 0


def test_the_record_of_the_commands_goes_into_the_shop_and_comes_back(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    reason = "a plate is glued under it first"
    assert told(capsys, "done", str(job), "check-body", "--read", "39.0")[0] == 0
    assert told(capsys, "override", str(job), "wood.thin-floor", "--reason", reason)[0] == 0
    before = read_job(job).record
    with open_store(tmp_path / "shop.db") as store:
        made = store.import_(job.read_text(encoding="utf-8"), "K. Ostrow")
        assert "[[overrides]]" not in made.text
        out = tmp_path / "again.toml"
        out.write_text(store.export(made.job_id, with_record=True), encoding="utf-8")
        (kept,) = store.overrides(made.job_id)
        store.take_override_back(made.job_id, kept.id, by="K. Ostrow")
        assert store.overrides(made.job_id) == ()
        assert [each.taken_back_by for each in store.overrides(made.job_id, every=True)] == ["K. Ostrow"]
        assert "[[overrides]]" not in store.export(made.job_id, with_record=True)
    after = read_job(out).record
    assert after == before
    assert all((after.done, after.readings, after.overrides))


COVER_SCREWS, BEFORE_COVER_SCREWS = "drill-control-cavity-cover-screws", 12


def test_a_hole_that_a_step_has_got_since_takes_it_up_again_for_that_hole(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It had stayed done, and the new hole was never asked for; and a step renamed since was to be drilled again."""
    path = tmp_path / "job.toml"
    path.write_text(WITHOUT_TUNNELS, encoding="utf-8")
    for card in plan(*read_job(path)).cards[:BEFORE_COVER_SCREWS]:
        read = ("--read", "yes" if card.gate.value is None else f"{card.gate.value}")
        code, _, err = told(capsys, "done", str(path), card.id, *read)
        assert code == 0, err
    assert made(path, COVER_SCREWS) == ("done", 5)
    # A sixth screw, like the others: the step is open again, and records that one alone.
    path.write_text(path.read_text("utf-8").replace("[664, 61]]", "[664, 61], [611, 100]]"), encoding="utf-8")
    assert made(path, COVER_SCREWS) == ("open", 5)
    assert told(capsys, "done", str(path), COVER_SCREWS)[0] == 0
    assert made(path, COVER_SCREWS) == ("done", 6)
    record = [each for each in read_job(path).record.done if each.card == COVER_SCREWS]
    assert [len(each.cuts) for each in record] == [5, 1]
    assert told(capsys, "done", str(path), COVER_SCREWS)[1].endswith("is done already.\n")


def test_a_step_that_goes_by_another_name_since_is_done_as_it_was() -> None:
    plan_ = plan(*parse_job(WITHOUT_TUNNELS))
    card = next(each for each in plan_.cards if each.id == COVER_SCREWS)
    cuts = tuple(each.plain for each in cuts_of(card, plan_.every_cut))
    tick = Tick("drill-cover", "test", datetime(2026, 1, 31, tzinfo=UTC), 1, cuts)
    since = plan(*parse_job(with_record(WITHOUT_TUNNELS, [tick], ())))
    assert done_steps(since.operations, since.record) == {COVER_SCREWS}
    # Of one that was called done without a word of what it cut, its name says so.
    bare = Tick(COVER_SCREWS, "test", tick.at, 1)
    since = plan(*parse_job(with_record(WITHOUT_TUNNELS, [bare], ())))
    assert done_steps(since.operations, since.record) == {COVER_SCREWS}


def made(path: Path, step: str) -> tuple[str, int]:
    """How a step stands, and how many of its holes are made."""
    planned = plan(*read_job(path))
    standing = step_called(planned, step)
    return standing.state, len(made_by_now(standing.card, planned.record))
