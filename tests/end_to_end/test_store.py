"""The shop's store as a file: opened by several, refused where it must be, backed up and brought back."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine, text

from scribeline.job import JobError, set_value
from scribeline.scenario import demo_jobs
from scribeline.store import Conflict, Store, StoreError, UnknownJob, open_store, restore_store
from scribeline.store.database import HEAD, migrations
from scribeline.store.tables import metadata

TEXT = demo_jobs()["marram.toml"]


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return open_store(tmp_path / "shop.db")


def test_the_migrations_make_the_tables_the_code_reads(store: Store, tmp_path: Path) -> None:
    """Alembic's own comparison of the database with the table definitions finds nothing to change."""
    store.close()
    engine = create_engine(f"sqlite:///{tmp_path / 'shop.db'}")
    with engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []
    engine.dispose()
    assert ScriptDirectory.from_config(migrations()).get_current_head() == HEAD


def test_a_store_from_before_overrides_is_brought_up_to_date(tmp_path: Path) -> None:
    """A reading accepted at one's own risk keeps its reason, and has no limits: nobody kept them."""
    from alembic import command

    config = migrations()
    engine = create_engine(f"sqlite:///{tmp_path / 'old.db'}")
    with engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "0001")
        connection.execute(
            text("INSERT INTO jobs (name, units, handed, newest, at) VALUES ('a', 'mm', 'right', 1, :at)"),
            {"at": "2026-11-01T10:00:00+00:00"},
        )
        connection.execute(
            text(
                "INSERT INTO revisions (job_id, number, text, at, by, why, kind) "
                "VALUES (1, 1, 'n = 0', :at, 'Ann', '', 'edit')"
            ),
            {"at": "2026-11-01T10:00:00+00:00"},
        )
        for value, yes, words in ((44.0, None, "caliper"), (None, True, "at my own risk: a wall piece")):
            connection.execute(
                text(
                    "INSERT INTO readings (job_id, gate_id, value_mm, yes, by, with_what, revision, at) "
                    "VALUES (1, 'check-body', :value, :yes, 'Ann', :words, 1, :at)"
                ),
                {"value": value, "yes": yes, "words": words, "at": "2026-11-01T10:00:00+00:00"},
            )
    engine.dispose()
    with open_store(tmp_path / "old.db") as store:
        told = [(each.value_mm, each.with_what, each.risk, each.low) for each in store.readings(1)]
        assert store.overrides(1) == ()
    assert told == [(44.0, "caliper", "", None), (None, "", "a wall piece", None)]


def test_a_store_is_written_through_to_the_disk(store: Store) -> None:
    """SQLite's own answers: write-ahead log, full synchronisation (2), foreign keys held."""
    with store._engine.connect() as connection:
        answers = [
            connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys")
        ]
    assert answers == ["wal", 2, 1]


def test_a_text_with_faults_is_kept_and_one_that_is_no_toml_is_not(store: Store) -> None:
    half = 'scribeline = 1\nname = "Half typed"\n'
    made = store.create(half, by="Ann")
    assert store.revision(made.job_id).text == half
    with pytest.raises(JobError, match="text stands in quotes") as caught:
        store.save(made.job_id, "name = Half typed\n", based_on=1, by="Ann")
    assert caught.value.faults[0].line == 1
    assert store.revision(made.job_id).number == 1


def test_the_later_of_two_edits_is_shown_the_difference(store: Store) -> None:
    job = store.create(TEXT, by="Ann").job_id
    theirs, _ = set_value(TEXT, "bridge.spacing", 10.55)
    store.save(job, theirs, based_on=1, by="Ann", why="measured again")
    mine, _ = set_value(TEXT, "nut.width", 43)
    with pytest.raises(Conflict, match="Ann saved revision 2") as caught:
        store.save(job, mine, based_on=1, by="Ben")
    conflict = caught.value
    assert [str(change) for change in conflict.their_changes] == ["bridge.spacing: 10.6 → 10.55"]
    assert [str(change) for change in conflict.my_changes] == ["nut.width: 42.8 → 43"]
    assert conflict.merged is not None
    both = store.save(job, conflict.merged, based_on=2, by="Ben")
    assert both.text == set_value(theirs, "nut.width", 43)[0]
    fight, _ = set_value(TEXT, "bridge.spacing", 10.5)
    with pytest.raises(Conflict) as again:
        store.save(job, fight, based_on=1, by="Ben")
    assert again.value.merged is None


def test_a_step_ticked_twice_keeps_what_was_cut_first(store: Store) -> None:
    job = store.create(TEXT, by="Ann").job_id
    first = store.tick(job, "check-body", by="Ann", revision=1)
    assert store.tick(job, "check-body", by="Ben", revision=1) == first
    store.untick(job, "check-body", by="Ann")
    assert store.ticks(job) == ()
    with pytest.raises(StoreError, match="not ticked"):
        store.untick(job, "check-body", by="Ann")
    assert store.tick(job, "check-body", by="Ben", revision=1).by == "Ben"


def test_holes_a_step_has_got_since_are_added_to_its_tick(store: Store) -> None:
    """A seventh string hole drilled later: the six stay as they were recorded, also where they are sent again otherwise."""
    job = store.create(TEXT, by="Ann").job_id
    bit = {"kind": "twist", "diameter": 3.5, "point": 1.0}

    def hole(number: int, depth: float) -> dict[str, object]:
        step = {"no": 1, "diameter": 3.5, "depth": depth, "bit": bit}
        place = {"at": [640.0, 10.0 * number, 0.0], "axis": [0.0, 0.0, -1.0], "steps": [step]}
        return {"id": f"string-hole-{number}", "role": "string hole", "face": "top", **place}

    store.tick(job, "drill-string-holes", by="Ann", revision=1, features=[hole(n, 33.5) for n in (1, 2)])
    store.tick(job, "drill-string-holes", by="Ben", revision=1, features=[hole(n, 30.0) for n in (1, 2, 3)])
    (tick,) = store.ticks(job)
    assert [(cut["id"], cut["steps"][0]["depth"]) for cut in tick.features] == [
        ("string-hole-1", 33.5),
        ("string-hole-2", 33.5),
        ("string-hole-3", 30.0),
    ]


@pytest.mark.parametrize(
    ("value", "words"),
    [(float("nan"), "nan"), (float("inf"), "inf"), (1e300, "should lie between"), (None, "yes or no")],
)
def test_a_reading_that_is_none_is_refused(store: Store, value: float | None, words: str) -> None:
    job = store.create(TEXT, by="Ann").job_id
    with pytest.raises(StoreError, match=words):
        store.read(job, "check-neck", value, by="Ann", with_what="rule", revision=1)
    assert store.readings(job) == ()


@pytest.mark.parametrize(
    "name", ["../shop.db", "a/b.svg", "..", "", "c:\\x.dxf", "x\0.svg", "~/x.svg", ". ", "x" * 200]
)
def test_only_plain_file_names_are_attached(store: Store, name: str) -> None:
    job = store.create(TEXT, by="Ann").job_id
    with pytest.raises(StoreError, match="no plain file name"):
        store.attach(job, name, b"", by="Ann")


def test_attached_files_come_back(store: Store) -> None:
    job = store.create(TEXT, by="Ann").job_id
    store.attach(job, "body.svg", b"old", by="Ann")
    store.attach(job, "body.svg", b"newer", by="Ben")
    (kept,) = store.attachments(job)
    assert (kept.name, kept.size, kept.by) == ("body.svg", 5, "Ben")
    assert store.attachment(job, "body.svg") == b"newer"
    with pytest.raises(StoreError, match="no file"):
        store.attachment(job, "other.svg")


def test_what_is_not_there_is_said(store: Store) -> None:
    with pytest.raises(UnknownJob, match="no job 7"):
        store.revision(7)
    job = store.create(TEXT, by="Ann").job_id
    with pytest.raises(UnknownJob, match="no revision 9; its newest is 1"):
        store.save(job, TEXT, based_on=9, by="Ann")
    with pytest.raises(UnknownJob, match="no revision 2"):
        store.tick(job, "check-body", by="Ann", revision=2)
    with pytest.raises(StoreError, match="how the job began"):
        store.undo(job, based_on=1, by="Ann")
    with pytest.raises(StoreError, match="nothing to redo"):
        store.redo(job, based_on=1, by="Ann")


def test_a_record_is_imported_not_saved(store: Store) -> None:
    job = store.create(TEXT, by="Ann").job_id
    store.tick(job, "check-body", by="Ann", revision=1)
    whole = store.export(job, with_record=True)
    with pytest.raises(StoreError, match="import the file"):
        store.save(job, whole, based_on=1, by="Ann")
    assert store.export(job, with_record=False) == TEXT
    moved = whole.replace('card = "check-body"', 'card = "check-body"  # by hand')
    assert store.ticks(store.import_(moved, "Ben").job_id)[0].card_id == "check-body"
    with pytest.raises(JobError, match=r"done\[1\].by"):
        store.import_(TEXT + '\n[[done]]\ncard = "check-body"\nat = 2026-01-31T10:15:00Z\n', "Ben")


def test_a_backup_is_whole_and_never_written_over(store: Store, tmp_path: Path) -> None:
    job = store.create(TEXT, by="Ann").job_id
    store.read(job, "check-neck", 320.02, by="Ann", with_what="rule", revision=1)
    store.backup(tmp_path / "backup.db")
    with pytest.raises(StoreError, match="never writes over"):
        store.backup(tmp_path / "backup.db")
    with pytest.raises(StoreError, match="move it away"):
        restore_store(tmp_path / "backup.db", tmp_path / "shop.db")
    restore_store(tmp_path / "backup.db", tmp_path / "again.db")
    with open_store(tmp_path / "again.db") as again:
        assert again.revision(job) == store.revision(job)
        assert again.readings(job) == store.readings(job)
    assert sorted(path.name for path in tmp_path.iterdir() if path.name.startswith(".")) == []


def test_a_damaged_backup_is_refused(store: Store, tmp_path: Path) -> None:
    for number in range(40):
        store.create(TEXT + f"# {number}\n", by="Ann")
    store.backup(tmp_path / "backup.db")
    whole = bytearray((tmp_path / "backup.db").read_bytes())
    whole[len(whole) // 2 : len(whole) // 2 + 4096] = b"\xff" * 4096
    (tmp_path / "damaged.db").write_bytes(whole)
    (tmp_path / "other.db").write_bytes(b"not a database at all, and long enough to be looked at" * 30)
    for name in ("damaged.db", "other.db"):
        with pytest.raises(StoreError, match="take another backup"):
            restore_store(tmp_path / name, tmp_path / "again.db")
    assert not (tmp_path / "again.db").exists()


def test_what_is_no_store_is_refused(store: Store, tmp_path: Path) -> None:
    (tmp_path / "text.db").write_text("some notes " * 200)
    with pytest.raises(StoreError, match="cannot be opened"):
        open_store(tmp_path / "text.db")
    with sqlite3.connect(tmp_path / "other.db") as other:
        other.execute("CREATE TABLE records (title TEXT)")
    other.close()
    with pytest.raises(StoreError, match="some other program"):
        open_store(tmp_path / "other.db")
    store.close()
    with sqlite3.connect(tmp_path / "shop.db") as newer:
        newer.execute("UPDATE alembic_version SET version_num = '9999'")
    newer.close()
    with pytest.raises(StoreError, match="later version"):
        open_store(tmp_path / "shop.db")


def test_many_threads_write_one_job_and_nothing_is_lost(store: Store) -> None:
    """Four writers, each trying again after a conflict: every acknowledged revision stands, in one line."""
    job = store.create("n = 0\n", by="Ann").job_id
    acknowledged: list[tuple[int, str]] = []

    def write(who: str) -> None:
        for number in range(15):
            while True:
                newest = store.revision(job)
                text = f'n = "{who} {number}"\n'
                try:
                    made = store.save(job, text, based_on=newest.number, by=who)
                except Conflict:
                    continue
                acknowledged.append((made.number, text))
                break

    writers = [threading.Thread(target=write, args=(f"W{n}",)) for n in range(4)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    history = store.history(job)
    assert [each.number for each in history] == list(range(1, 62))
    assert sorted(acknowledged) == [(each.number, each.text) for each in history[1:]]


def test_two_processes_make_one_store_at_once(tmp_path: Path) -> None:
    """Both migrate the same new file; both then write to it."""
    code = (
        "import sys; from pathlib import Path; from scribeline.store import open_store\n"
        "store = open_store(Path(sys.argv[1])); store.create('a = 1', by=sys.argv[2])"
    )
    both = [
        subprocess.Popen([sys.executable, "-c", code, str(tmp_path / "new.db"), who], stderr=subprocess.PIPE)
        for who in ("Ann", "Ben", "Cas")
    ]
    assert [each.communicate()[1] for each in both] == [b"", b"", b""]
    with open_store(tmp_path / "new.db") as store:
        assert {store.revision(entry.id).by for entry in store.jobs()} == {"Ann", "Ben", "Cas"}
