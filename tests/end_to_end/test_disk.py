"""The store and the app on a disk that is full, read-only or damaged, under odd names, with a clock that goes back."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from scribeline.store import DiskFault, StoreError, open_store, restore_store
from scribeline.web.door import PAIRED_FOR_S, Door

TEXT = 'name = "Marram"\n'
DAY = timedelta(days=1)


@pytest.mark.parametrize(
    "name", ["shop?mode=ro", "50% off", "100%25", "a#b", "file:x?y=1", "ä b", "'quoted'"]
)
def test_any_folder_name(tmp_path: Path, name: str) -> None:
    """A name is no address: RFC 3986 gives ?, # and % a meaning that a folder's name does not have."""
    path = tmp_path / name / "shop.db"
    with open_store(path) as store:
        store.create(TEXT, by="Ann")
        store.backup(path.with_name("kept.backup"))
    assert path.is_file()
    assert [each.name for each in tmp_path.iterdir()] == [name]
    restore_store(path.with_name("kept.backup"), tmp_path / name / "again.db")
    with open_store(tmp_path / name / "again.db") as again:
        assert [each.name for each in again.jobs()] == ["Marram"]


class TestClockBack:
    def test_the_job_last_touched_is_first(self, tmp_path: Path) -> None:
        now = [datetime(2026, 3, 1, tzinfo=UTC)]
        with open_store(tmp_path / "shop.db", clock=lambda: now[0]) as store:
            for name in ("a", "b", "c"):
                store.create(f'name = "{name}"\n', by="Ann")
                now[0] -= DAY
            assert [each.name for each in store.jobs()] == ["c", "b", "a"]
            store.save(2, 'name = "b again"\n', based_on=1, by="Ann")
            assert [each.name for each in store.jobs()] == ["b again", "c", "a"]
            store.backup(tmp_path / "kept.backup")
        with open_store(tmp_path / "kept.backup") as kept:
            assert [each.name for each in kept.jobs()] == ["b again", "c", "a"]

    def test_a_tablet_stays_paired(self, tmp_path: Path) -> None:
        door = Door(tmp_path, 1)
        session = door.session("tablet")
        made = door.now()
        for past in (-10 * PAIRED_FOR_S, -1, 1, PAIRED_FOR_S - 5):
            door.now = lambda past=past: made + past  # type: ignore[misc]
            assert door.who(session) == "tablet"
        door.now = lambda: made + PAIRED_FOR_S + 5
        assert door.who(session) is None


class TestDiskRefuses:
    def test_no_room(self, tmp_path: Path) -> None:
        """SQLite's own bound on the file (PRAGMA max_page_count) gives what a full disk gives: SQLITE_FULL."""
        with open_store(tmp_path / "shop.db") as store:
            made = store.create(TEXT, by="Ann")
            with store._engine.connect() as connection:
                connection.exec_driver_sql("PRAGMA max_page_count = 1")  # as many as it has
            with pytest.raises(DiskFault, match=r"the disk is full\. What was acknowledged before is kept"):
                store.create(TEXT + "#" * 200_000, by="Ann")
            assert store.revision(made.job_id).text == TEXT

    def test_a_page_that_is_damaged(self, tmp_path: Path) -> None:
        path = tmp_path / "shop.db"
        with open_store(path) as store:
            for number in range(40):
                store.create(TEXT + "#" * 3000 + f"{number}\n", by="Ann")
        whole = bytearray(path.read_bytes())
        size = int.from_bytes(
            whole[16:18], "big"
        )  # SQLite documentation, "Database File Format": the page size
        whole[size * 2 :] = b"\xff" * (len(whole) - size * 2)
        path.write_bytes(whole)
        with open_store(path) as store:
            with pytest.raises(DiskFault, match=r"is damaged\. Nothing was written.*--restore BACKUP"):
                store.history(store.jobs()[-1].id)
            with pytest.raises(StoreError, match=r"is damaged.*left as it is; restore the newest backup"):
                store.backup(tmp_path / "kept.backup")
        assert not (tmp_path / "kept.backup").exists()
        assert path.read_bytes() == bytes(whole)

    def test_a_file_that_may_only_be_read(self, tmp_path: Path) -> None:
        """PRAGMA query_only gives what a file without leave to write gives, also to an account that may do anything."""
        with open_store(tmp_path / "shop.db") as store:
            with store._engine.connect() as connection:
                connection.exec_driver_sql("PRAGMA query_only = ON")
            with pytest.raises(DiskFault, match="may only be read"):
                store.create(TEXT, by="Ann")
