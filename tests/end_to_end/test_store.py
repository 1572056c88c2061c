"""The shop's store as a file: opened by several, refused where it must be, backed up and brought back."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine, text

from scribeline.job import JobError, set_value
from scribeline.scenario import demo_jobs
from scribeline.store import (
    Conflict,
    DeletedJob,
    Glance,
    SentAlready,
    Store,
    StoreError,
    UnknownJob,
    open_store,
    restore_store,
)
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


def test_a_store_from_before_jobs_were_put_away_is_brought_up_to_date(tmp_path: Path) -> None:
    """Every job stands among those at work, by whoever changed it last, with what was read; nothing is known worked out."""
    from alembic import command

    config, at = migrations(), "2026-11-01T10:00:00+00:00"
    engine = create_engine(f"sqlite:///{tmp_path / 'old.db'}")
    with engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "0003")
        for job, last in ((1, "Ben"), (2, "Cas")):
            connection.execute(
                text("INSERT INTO jobs (name, units, handed, newest, at) VALUES (:n, 'mm', 'right', 2, :at)"),
                {"n": f"job {job}", "at": at},
            )
            for number, by in ((1, "Ann"), (2, last)):
                connection.execute(
                    text("INSERT INTO revisions VALUES (:job, :number, :text, :at, :by, '', 'edit')"),
                    {"job": job, "number": number, "text": f"n = {number}", "at": at, "by": by},
                )
        connection.execute(
            text(
                "INSERT INTO readings (job_id, gate_id, value_mm, by, with_what, revision, at) "
                "VALUES (1, 'check-body', 44.0, 'Ann', 'caliper', 1, :at)"
            ),
            {"at": at},
        )
    engine.dispose()
    with open_store(tmp_path / "old.db") as store:
        told = [
            (each.id, each.name, each.revision, each.by, each.place, each.glance) for each in store.jobs()
        ]
        assert told == [(2, "job 2", 2, "Cas", "open", None), (1, "job 1", 2, "Ben", "open", None)]
        assert [each.value_mm for each in store.readings(1)] == [44.0]
        assert store.create("n = 1", by="Ann").job_id == 3
        assert [each.number for each in store.history(1)] == [1, 2]


def test_a_deleted_job_is_kept_whole_and_comes_back(store: Store) -> None:
    job = store.create(TEXT, by="Ann").job_id
    other = store.create(TEXT, by="Ann").job_id
    store.tick(job, "check-body", by="Ann", revision=1)
    store.read(job, "check-neck", 320.02, by="Ann", with_what="rule", revision=1)
    store.attach(job, "body.svg", b"<svg/>", by="Ann")
    store.archive(job, by="Ann")
    whole = store.export(job, with_record=True)
    told: list[int] = []
    store.told.append(told.append)
    gone = store.delete(job, by="Ben")
    assert store.delete(job, by="Cas").deleted == gone.deleted  # whoever was first stands
    assert (gone.place, gone.deleted and gone.deleted.by) == ("deleted", "Ben")
    assert told == [job, job]
    assert store.counts() == {"open": 1, "archived": 0, "deleted": 1}
    assert [each.id for each in store.jobs()] == [other]
    assert [each.id for each in store.jobs("deleted")] == [job]
    for attempt in (
        lambda: store.revision(job),
        lambda: store.save(job, TEXT + "#\n", based_on=1, by="Ann"),
        lambda: store.tick(job, "check-neck", by="Ann", revision=1),
        lambda: store.read(job, "check-neck", 1.0, by="Ann", with_what="", revision=1),
        lambda: store.undo(job, based_on=1, by="Ann"),
        lambda: store.attach(job, "b.svg", b"<svg/>", by="Ann"),
        lambda: store.copy(job, "Another", by="Ann"),
        lambda: store.rename(job, "Another", by="Ann"),
        lambda: store.export(job, with_record=True),
    ):
        with pytest.raises(DeletedJob, match=f"job {job} was deleted by Ben on .*restore it"):
            attempt()
    with pytest.raises(StoreError, match="restore it first"):
        store.archive(job, by="Ann")
    assert store.restore(job, by="Cas").place == "archived"  # as it stood
    assert store.restore(job, by="Cas").place == "archived"
    assert store.export(job, with_record=True) == whole
    assert store.attachment(job, "body.svg") == b"<svg/>"
    assert store.unarchive(job, by="Cas").place == "open"
    for number in (0, -1, 99, 2**70):
        with pytest.raises(UnknownJob):
            store.delete(number, by="Ann")


def test_a_copy_is_a_new_instrument(store: Store) -> None:
    """The text and the files go along, the record does not; sent twice it is one copy, as is anything that makes a job."""
    job = store.create(TEXT, by="Ann").job_id
    store.tick(job, "check-body", by="Ann", revision=1)
    store.read(job, "check-neck", 320.02, by="Ann", with_what="rule", revision=1)
    store.attach(job, "body.svg", b"old", by="Ann")
    store.attach(job, "body.svg", b"newer", by="Ann")
    both = [store.copy(job, "  Marram \u202etwo\u2069 ", by="Ben", once="k1") for _ in range(2)]
    copy = both[0].job_id
    assert both[0] == both[1]
    assert copy != job
    assert both[0].text == set_value(TEXT, "name", "Marram two")[0]
    assert both[0].why == f"copied from job {job}, Marram, no. 1"
    assert (store.ticks(copy), store.readings(copy), store.overrides(copy)) == ((), (), ())
    assert [(each.name, store.attachment(copy, each.name)) for each in store.attachments(copy)] == [
        ("body.svg", b"newer")
    ]
    assert store.copy(job, "Marram two", by="Ben", once="k2").job_id != copy
    assert store.create(TEXT, by="Ann", once="k3") == store.create(TEXT, by="Ann", once="k3")
    assert store.import_(TEXT, "Ann", once="k4") == store.import_(TEXT, "Ann", once="k4")
    assert store.counts()["open"] == 5
    for name, words in (("", "is empty"), ("\u202e \u200f", "is empty"), ("x" * 300, "300 characters; 60")):
        with pytest.raises(StoreError, match=words):
            store.copy(job, name, by="Ann")
        with pytest.raises(StoreError, match=words):
            store.rename(job, name, by="Ann")
    assert store.rename(job, 'The "old" one \\', by="Ben").number == 2
    assert store.rename(job, 'The "old" one \\', by="Ben").number == 2
    assert store.entry(job).name == 'The "old" one \\'
    half = store.create("a = 1\n[table]\nb = 2\n", by="Ann").job_id  # a job that states no name
    assert store.rename(half, "Named", by="Ann").text.count("name") == 1
    assert store.entry(half).name == "Named"


def test_what_was_worked_out_is_known_to_be_older_after_any_change(store: Store, tmp_path: Path) -> None:
    """It is a note beside the job: a later one is never overwritten by an earlier, and all of it may be dropped."""

    def note(changes: int, done: int, picture: str = "<svg/>") -> None:
        store.keep_glance(job, Glance(changes, "1", done, 31, "Drill", 2), picture)

    def fresh() -> bool:
        now = store.entry(job)
        return now.glance is not None and now.glance.changes == now.changes

    job = store.create(TEXT, by="Ann").job_id
    other = store.create(TEXT, by="Ann").job_id
    assert store.entry(job).glance is None
    edits: list[Callable[[], object]] = [
        lambda: store.rename(job, "Another", by="Ann"),
        lambda: store.tick(job, "check-body", by="Ann", revision=1),
        lambda: store.read(job, "check-neck", 320.0, by="Ann", with_what="", revision=1),
        lambda: store.attach(job, "body.svg", b"<svg/>", by="Ann"),
        lambda: store.save_calibrations('scribeline_records = 1\nunits = "mm"\n', by="Ann"),
        lambda: store.save_shop_tests('scribeline_shop = 1\nunits = "mm"\n', by="Ann"),
    ]
    for number, change in enumerate(edits):
        before = store.changes(job)
        note(before, number)
        assert fresh()
        change()
        assert not fresh()
        note(store.changes(job), 100 + number)
        note(before, number)  # worked out from what stood before the change, and late
        found = store.entry(job).glance
        assert (found and found.done, fresh()) == (100 + number, True)
        store.rename(other, f"Other {number}", by="Ann")
        assert fresh()
    assert store.picture(job) == "<svg/>"
    assert store.picture(other) == ""
    with pytest.raises(UnknownJob):
        store.keep_glance(99, Glance(0, "1"))
    with store._engine.begin() as connection:
        connection.exec_driver_sql("DELETE FROM glances")
    assert [each.glance for each in store.jobs()] == [None, None]


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


def test_what_a_device_sends_again_is_kept_once(store: Store) -> None:
    """By its key: the same reading read twice is two readings, and a tick taken back meanwhile does not come back."""
    job = store.create(TEXT, by="Ann").job_id

    def read(value: float, key: str) -> None:
        store.read(job, "check-body", value, by="Ann", with_what="caliper", revision=1, known=0, key=key)

    read(44.4, "1")
    read(44.1, "2")
    read(44.4, "3")
    with pytest.raises(SentAlready):
        read(44.1, "2")
    assert [each.value_mm for each in store.readings(job)] == [44.4, 44.1, 44.4]
    assert store.was_sent(job, "2")
    assert not store.was_sent(job, "")
    store.tick(job, "check-body", by="Ann", revision=1, key="4")
    store.untick(job, "check-body", by="Ben")
    with pytest.raises(SentAlready):
        store.tick(job, "check-body", by="Ann", revision=1, key="4")
    assert store.ticks(job) == ()
    with pytest.raises(StoreError, match="not ticked"):
        store.untick(job, "check-body", by="Ann", key="5")
    assert not store.was_sent(job, "5")  # what was refused was not kept, and may be sent again


TESTS = 'scribeline_shop = 1\nunits = "mm"\n'
ONE_TEST = TESTS + '[[tests]]\nkind = "bit-runout"\nreadings = [0.05, 0.06]\n'


def test_the_shops_tests_are_kept_and_only_grow(store: Store) -> None:
    """As text, comments and all; struck through, added to; what was kept is never gone or another."""
    assert store.shop_tests() == ""
    store.save_shop_tests(ONE_TEST + "# a dry day\n", by="Ann")
    assert store.shop_tests() == ONE_TEST + "# a dry day\n"
    more = ONE_TEST + 'struck = "a loose chuck"\n[[tests]]\nkind = "bit-runout"\nreadings = [0.02]\n'
    store.save_shop_tests(more, by="Ben")
    for fewer in (TESTS, ONE_TEST, more.replace("0.06", "0.07")):
        with pytest.raises(JobError, match="tests are only added"):
            store.save_shop_tests(fewer, by="Ann")
    with pytest.raises(JobError, match="is not yet"):
        store.save_shop_tests(more + "on = 2999-01-01\n", by="Ann")
    assert store.shop_tests() == more


def test_the_shops_tests_go_with_the_backup(store: Store, tmp_path: Path) -> None:
    """And come back with it to the letter."""
    store.save_shop_tests(ONE_TEST, by="Ann")
    store.backup(tmp_path / "kept.db")
    restore_store(tmp_path / "kept.db", tmp_path / "again.db")
    with open_store(tmp_path / "again.db") as again:
        assert again.shop_tests() == ONE_TEST
