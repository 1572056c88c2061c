"""Measurements of the plan's numbers: kept by the commands and the store, never changed, struck through, carried along."""

from __future__ import annotations

import json
import tomllib
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from scribeline.cli import main
from scribeline.job import JobError, Measurement, parse_job, read_record
from scribeline.plan import Plan, plan
from scribeline.store import SentAlready, StoreError, open_store

from ..conftest import DEMO, in_inches
from ..neck_read import neck_set_off, with_readings


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = tmp_path / "job.toml"
    path.write_text(DEMO)
    return path


def told(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = main(words)
    said = capsys.readouterr()
    return code, said.out, said.err


def entries(job: Path) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = tomllib.loads(job.read_text()).get("measured", [])
    return found


def planned(text: str) -> Plan:
    return plan(*parse_job(text))


def codes(seen: Plan) -> set[str]:
    return {each.code for each in seen.findings}


def test_a_number_of_the_plan_goes_into_the_record_and_a_parts_into_the_job(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = told(
        capsys, "measure", str(job), "nut-to-12th", "320.05", "--with", "rule", "--note", "cold"
    )
    assert code == 0
    assert "no. 1 of the record" in out
    entry = entries(job)[0]
    assert (entry["what"], entry["value_mm"], entry["with_what"], entry["note"]) == (
        "nut-to-12th",
        320.05,
        "rule",
        "cold",
    )
    code, out, _ = told(capsys, "measure", str(job), "bridge.spacing", "10.5 +/- 0.05")
    assert code == 0
    assert "in the job" in out
    assert tomllib.loads(job.read_text())["bridge"]["spacing"] == "10.5 +/- 0.05"
    assert len(entries(job)) == 1


def test_what_is_read_in_the_wrong_unit_or_far_off_is_asked_about(
    job: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = job.read_bytes()
    for reading, word in (
        ("1.748", "inches"),
        ("12.6 in", "12th"),
        ("90", "is it a reading of"),
        ("abc", "abc"),
    ):
        what = "body-thickness" if reading != "12.6 in" else "nut-to-12th"
        code, _, err = told(capsys, "measure", str(job), what, reading)
        if reading == "12.6 in":  # 320.04 mm: right, in inches
            assert code == 0
            job.write_bytes(before)
            continue
        assert code == 2
        assert word in err
        assert job.read_bytes() == before
    code, out, _ = told(capsys, "measure", str(job), "body-thickness", "90", "--sure")
    assert "no. 1" in out
    assert entries(job)[0]["value_mm"] == 90.0


def test_a_measurement_is_struck_through_and_stays(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told(capsys, "measure", str(job), "nut-to-12th", "320.4")
    assert "record.beyond-limits" in codes(planned(job.read_text()))
    code, _, err = told(capsys, "measure", str(job), "--strike", "1", "--why", "no")
    assert code == 2
    assert "reason" in err
    assert told(capsys, "measure", str(job), "--strike", "2", "--why", "read from the wrong end")[0] == 2
    code, out, _ = told(capsys, "measure", str(job), "--strike", "1", "--why", "read from the wrong end")
    assert code == 0
    assert "stays" in out
    assert entries(job)[0]["value_mm"] == 320.4
    assert entries(job)[0]["struck"] == "read from the wrong end"
    assert "record.beyond-limits" not in codes(planned(job.read_text()))
    assert told(capsys, "measure", str(job), "--strike", "1", "--why", "read from the wrong end")[0] == 2
    _, out, _ = told(capsys, "measure", str(job))
    assert "struck through: read from the wrong end" in out


def test_what_does_not_exist_is_told(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert told(capsys, "measure", str(job), "neck-treble-at-moon", "3")[0] == 2
    strange = planned(with_readings(DEMO, {"neck-treble-at-moon": 3.0}))
    found = next(each for each in strange.findings if each.code == "record.unknown")
    assert "neck-treble-at-moon" in found.message


def test_readings_of_one_number_that_contradict_are_named() -> None:
    text = DEMO
    for mm in (320.0, 320.1, 319.9, 321.4):
        text = with_readings(text, {"nut-to-12th": mm})
    seen = planned(text)
    found = next(each for each in seen.findings if each.code == "record.contradicted")
    assert "no. 4" in found.message
    assert seen.as_read["nut-to-12th"].value == pytest.approx(320.0, abs=1e-4)
    assert "record.beyond-limits" not in codes(seen)


def test_a_thread_over_the_outer_strings_says_how_far_to_move() -> None:
    """The trade's own numbers: margins of 4.7 and 3.9 at the last fret put the bridge 0.56 too far to the treble: half of 0.8,
    times the bridge's distance over the fret's (here 630.15 and 460.4: 0.55; the plan's own margins differ by 0.13, which
    stays).
    """
    seen = planned(DEMO)
    plain = {each.id: each.value for each in seen.measurables}
    assert seen.layout.bridge is not None
    wanted = plain["margin-treble"] - plain["margin-bass"]
    by_hand = (4.7 - (3.9 - wanted)) / 2 * seen.layout.bridge.middle.x / seen.layout.frets[-1].along
    read = planned(with_readings(DEMO, {"margin-bass": 4.7, "margin-treble": 3.9}))
    found = next(each for each in read.findings if each.code == "bridge.thread-test")
    assert found.value == pytest.approx(by_hand, abs=1e-6)
    assert "towards the bass" in found.cure
    exact = planned(
        with_readings(DEMO, {"margin-bass": plain["margin-bass"], "margin-treble": plain["margin-treble"]})
    )
    assert "bridge.thread-test" not in codes(exact)


def test_plan_json_tells_what_was_read(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job.write_text(with_readings(DEMO, {"nut-to-12th": 320.04}))
    main(["plan", str(job), "--json"])
    whole = json.loads(capsys.readouterr().out)
    read = {each["id"]: each.get("read") for each in whole["measurables"]}
    assert read["nut-to-12th"]["value"] == pytest.approx(320.04, abs=1e-4)
    assert read["nut-to-12th"]["measurements"] == [1]
    assert read["body-thickness"] is None


def test_the_shop_keeps_measurements_for_good_and_carries_them(tmp_path: Path) -> None:
    entry = Measurement(what="nut-to-12th", value_mm=320.1, by="Ann", at=datetime(2026, 11, 30, tzinfo=UTC))
    with open_store(tmp_path / "shop.db") as store:
        made = store.import_(neck_set_off(DEMO), by="Ann")
        assert len(store.measurements(made.job_id)) == 6
        store.measure(made.job_id, entry, key="tablet-1")
        with pytest.raises(SentAlready):
            store.measure(made.job_id, entry, key="tablet-1")
        store.strike(made.job_id, 7, why="read twice", by="Ben")
        with pytest.raises(StoreError, match="that still counts"):
            store.strike(made.job_id, 7, why="read twice", by="Ben")
        with pytest.raises(StoreError):
            store.strike(made.job_id, 8, why="read twice", by="Ben")
        kept = store.measurements(made.job_id)
        assert (kept[6].value_mm, kept[6].struck, kept[6].struck_by) == (320.1, "read twice", "Ben")
        text = store.export(made.job_id, with_record=True)
        again = store.import_(text, by="Ann")
        assert [each.plain for each in store.measurements(again.job_id)] == [each.plain for each in kept]
    job, record = parse_job(text)
    assert len(record.standing) == 6
    assert plan(job, record).layout.choices


def test_a_job_in_inches_keeps_its_record_in_millimetres(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "job.toml"
    job.write_text(in_inches(DEMO))
    code, out, _ = told(capsys, "measure", str(job), "nut-to-12th", "12.6")
    assert code == 0
    assert "12.600 in" in out or "12 19/32" in out or "in (" in out
    assert entries(job)[0]["value_mm"] == pytest.approx(320.04)


def test_a_record_apart_is_read_as_it_was_written() -> None:
    _, record = parse_job(neck_set_off(DEMO))
    assert read_record(record.tables) == record


def test_what_a_gate_reads_counts_as_a_measurement(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A gate's reading and a measurement of the same number count together: 320.10 and 320.00 with one rule make 320.05, and
    that rule's own scale, 0.0002 of the length, is in both.
    """
    assert told(capsys, "done", str(job), "check-neck", "--read", "320.1")[0] == 0
    seen = planned(job.read_text())
    assert (seen.as_read["nut-to-12th"].gate, seen.as_read["nut-to-12th"].numbers) == ("check-neck", ())
    told(capsys, "measure", str(job), "nut-to-12th", "320.0")
    both = planned(job.read_text()).as_read["nut-to-12th"]
    assert both.value == pytest.approx(320.05, abs=1e-4)
    assert both.sd == pytest.approx((0.15**2 / 2 + (0.0002 * 320.05) ** 2) ** 0.5, abs=1e-6)
    assert (both.gate, both.numbers) == ("check-neck", (1,))
    assert told(capsys, "done", str(job), "check-body", "--read", "44.4; 44.3; 44.35; 44.5")[0] == 0
    assert planned(job.read_text()).as_read["body-thickness"].value == pytest.approx(44.3, abs=1e-4)


def test_a_day_that_is_yet_to_come_is_told(
    job: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """In the file of a job that is brought into a shop, and before anything is added to it."""
    job.write_text(with_readings(DEMO, {"nut-to-12th": 320.0}).replace("2026-11-30T10", "2999-01-01T10"))
    before = job.read_bytes()
    code, _, err = told(capsys, "measure", str(job), "nut-to-12th", "320.0")
    assert code == 2
    assert "2999-01-01 is yet to come" in err
    assert job.read_bytes() == before
    with open_store(tmp_path / "shop.db") as store, pytest.raises(JobError, match="yet to come"):
        store.import_(job.read_text(), by="Ann")
