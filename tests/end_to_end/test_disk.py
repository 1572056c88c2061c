"""The store and the app on a disk that is full, read-only or damaged, under odd names, with a clock that goes back."""

from __future__ import annotations

import asyncio
import errno
import json
import os
import re
import shutil
import stat
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, BinaryIO
from urllib.error import HTTPError
from urllib.request import Request, urlopen

import httpx
import pytest
from fastapi import FastAPI

from scribeline.cli import main
from scribeline.files import owners_alone
from scribeline.scenario import demo_jobs
from scribeline.store import DiskFault, StoreError, open_store, restore_store
from scribeline.web.app import create_app
from scribeline.web.door import PAIRED_FOR_S, Door, own_address
from scribeline.web.guard import SESSION
from scribeline.web.planning import Whole
from scribeline.web.serve import _close_to_others
from scribeline.web.shop import Shop
from scribeline.web.work import KEPT, Workshop, make_pack

from .conftest import PATIENCE, Served, serving

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
            device = door.device(session)
            assert device is not None
            assert device.name == "tablet"
        door.now = lambda: made + PAIRED_FOR_S + 5
        assert door.device(session) is None


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
        damage(path, first=24)  # past what opening reads: the tables' own pages
        whole = path.read_bytes()
        with open_store(path) as store:
            with pytest.raises(DiskFault, match=r"is damaged\. Nothing was written.*--restore BACKUP"):
                store.history(store.jobs()[-1].id)
            with pytest.raises(StoreError, match=r"is damaged.*left as it is; restore the newest backup"):
                store.backup(tmp_path / "kept.backup")
        assert not (tmp_path / "kept.backup").exists()
        assert path.read_bytes() == whole

    def test_half_a_backup_is_none(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        """On a memory stick, without second names, that fills up while the checked copy goes onto it."""

        def no_links(*_: object) -> None:
            raise OSError(errno.EPERM, os.strerror(errno.EPERM))

        def fills(whole: BinaryIO, out: BinaryIO) -> None:
            out.write(whole.read(5000))
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

        monkeypatch.setattr(os, "link", no_links)
        monkeypatch.setattr(shutil, "copyfileobj", fills)
        with open_store(tmp_path / "shop.db") as store:
            store.create(TEXT, by="Ann")
            with pytest.raises(
                DiskFault, match=r"cannot be written: the disk is full.*The store is as it was"
            ):
                store.backup(tmp_path / "stick" / "kept.backup")
        assert list((tmp_path / "stick").iterdir()) == []

    def test_a_folder_where_the_file_should_be(
        self, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        (tmp_path / "shop.db").mkdir()
        assert main(["serve", "--no-browser", "--data", str(tmp_path)]) == 2
        said = capsys.readouterr().err
        assert f"{tmp_path / 'shop.db'} cannot be opened. Nothing was changed." in said

    def test_a_file_that_may_only_be_read(self, tmp_path: Path) -> None:
        """PRAGMA query_only gives what a file without leave to write gives, also to an account that may do anything."""
        with open_store(tmp_path / "shop.db") as store:
            with store._engine.connect() as connection:
                connection.exec_driver_sql("PRAGMA query_only = ON")
            with pytest.raises(DiskFault, match="may only be read"):
                store.create(TEXT, by="Ann")


class TestApp:
    """The same through the app: a page for a person, JSON on the JSON side, and nothing that was kept is lost."""

    def test_the_json_side_answers_in_json(self, tmp_path: Path) -> None:
        with open_store(tmp_path / "shop.db") as store:
            store.create(TEXT, by="Ann")
            app = create_app(Shop(store, tmp_path))
            for method, path, status in [
                ("GET", "/api/nowhere", 404),
                ("PATCH", "/api/jobs", 405),
                ("GET", "/api/jobs/7", 404),
                ("GET", "/api/jobs/one", 422),
            ]:
                got, told = asked(app, method, path)
                assert (got, told["detail"][-1:]) == (status, "."), path
            with store._engine.connect() as connection:
                connection.exec_driver_sql("PRAGMA query_only = ON")
            status, told = asked(app, "POST", "/api/jobs", {"text": TEXT})
            assert status == 503
            assert "may only be read. What was acknowledged before is kept" in told["detail"]

    def test_a_drawing_that_was_refused_is_not_kept(self, tmp_path: Path) -> None:
        with open_store(tmp_path / "shop.db") as store:
            job = store.create(demo_jobs()["marram.toml"], by="Ann").job_id
            app = create_app(Shop(store, tmp_path))
            square = b'<svg xmlns="http://www.w3.org/2000/svg"><path d="M0 0H9"/></svg>'
            store.attach(job, "body.svg", b"<svg/>", by="Ann")
            for centre in ("0", "no length"):
                answer = ask(
                    app,
                    "POST",
                    f"/jobs/{job}/outline/drawing",
                    data={"based_on": "1", "centre": centre},
                    files={"file": ("body.svg", square)},
                )
                assert answer.status_code == 422
                assert store.attachment(job, "body.svg") == b"<svg/>"
                assert store.revision(job).number == 1

    def test_work_that_the_disk_refuses_is_told(self, tmp_path: Path) -> None:
        """A file has the name of the folder: nothing can be made in it, whatever the account may do."""
        (tmp_path / "made").write_bytes(b"")
        workshop = Workshop(tmp_path / "made")
        for _ in range(3):  # more than work at once: a place in the row is given back each time
            mark = workshop.ask("pack", Whole(TEXT, tmp_path), make_pack).mark
            wait_for(lambda mark=mark: workshop.look(mark).is_over)  # type: ignore[misc,union-attr]
            work = workshop.look(mark)
            assert work is not None
            assert work.state == "failed"
            assert "Errno" not in work.words
            assert "your jobs are not touched" in work.words

    def test_what_was_made_last_stays(self, tmp_path: Path) -> None:
        """With a clock that went back the newest result has the oldest time."""
        for number in range(KEPT):
            (tmp_path / f"view-{number}").mkdir()
        os.utime(tmp_path / "view-3", (0, 0))
        os.utime(tmp_path / "view-5", (1, 1))
        Workshop(tmp_path)._tidy(tmp_path / "view-3")
        assert (tmp_path / "view-3").exists()
        assert len(list(tmp_path.iterdir())) == KEPT
        (tmp_path / "view-new").mkdir()
        Workshop(tmp_path)._tidy(tmp_path / "view-3")
        assert (tmp_path / "view-3").exists()
        assert not (tmp_path / "view-5").exists()
        assert len(list(tmp_path.iterdir())) == KEPT


def modes(folder: Path) -> dict[str, int]:
    return {each.name: stat.S_IMODE(each.stat().st_mode) for each in folder.iterdir()}


@pytest.mark.skipif(os.name != "posix", reason="this system has no such leave")
class TestOwnersAlone:
    """The store holds a shop's work and its tablets' keys: nobody else on the machine reads it."""

    def test_the_store_and_what_stands_beside_it(self, tmp_path: Path) -> None:
        path = tmp_path / "shop.db"
        with open_store(path) as store:
            store.create(TEXT, by="Ann")
            assert modes(tmp_path) == dict.fromkeys(("shop.db", "shop.db-wal", "shop.db-shm"), 0o600)
            for each in tmp_path.iterdir():
                each.chmod(0o664)
            with open_store(path):
                assert modes(tmp_path) == dict.fromkeys(("shop.db", "shop.db-wal", "shop.db-shm"), 0o600)
            store.backup(tmp_path / "kept.backup")
        restore_store(tmp_path / "kept.backup", tmp_path / "again.db")
        assert modes(tmp_path) == dict.fromkeys(("shop.db", "kept.backup", "again.db"), 0o600)

    def test_leave_that_was_taken_is_not_given(self, tmp_path: Path) -> None:
        path = tmp_path / "shop.db"
        open_store(path).close()
        path.chmod(0o444)
        owners_alone(path)
        assert modes(tmp_path) == {"shop.db": 0o400}

    @pytest.mark.parametrize("beside", [None, "holiday.jpg"])
    def test_a_folder_of_earlier_times(self, tmp_path: Path, beside: str | None) -> None:
        open_store(tmp_path / "shop.db").close()
        for name in ("shop.db", "session.key", "devices.json", "kept.backup", *([beside] if beside else [])):
            (tmp_path / name).touch()
            (tmp_path / name).chmod(0o644)
        (tmp_path / "made").mkdir()
        (tmp_path / "made").chmod(0o755)
        tmp_path.chmod(0o755)
        _close_to_others(tmp_path)
        found = modes(tmp_path)
        assert found.pop("holiday.jpg", 0o644) == 0o644
        assert {mode & 0o077 for mode in found.values()} == {0}
        assert stat.S_IMODE(tmp_path.stat().st_mode) == (0o755 if beside else 0o700)


def test_left_overs_go_at_the_next_start_and_a_second_app_says_so(tmp_path: Path) -> None:
    killed = tmp_path / ".scribeline-killed"
    killed.mkdir()
    (killed / "held").write_bytes(b"")
    (killed / "copy").write_bytes(b"half a backup")
    (tmp_path / "made" / "pack-1.part").mkdir(parents=True)
    (tmp_path / "made" / "pack-2").mkdir()
    (tmp_path / "beside" / "1-abc.part").mkdir(parents=True)
    tmp_path.chmod(0o755)
    with serving(tmp_path) as first:
        assert not killed.exists()
        if os.name == "posix":
            assert {mode & 0o077 for mode in modes(tmp_path).values()} == {0}
            assert stat.S_IMODE(tmp_path.stat().st_mode) == 0o700
        assert [each.name for each in (tmp_path / "made").iterdir()] == ["pack-2"]
        assert not (tmp_path / "beside").exists()
        second = subprocess.run(
            [sys.executable, "-m", "scribeline", "serve", "--no-browser", "--data", str(tmp_path)],
            capture_output=True,
            text=True,
            check=False,
        )
        assert second.returncode == 2
        assert f"runs already at {first.address} on the data in {tmp_path}" in second.stderr
        assert second.stdout == ""
        with urlopen(f"{first.address}/api/jobs", timeout=PATIENCE / 1000) as answer:
            assert json.load(answer) == []
        first.kill()
        first.start()


def test_the_running_app_on_a_disk_that_is_full_and_then_damaged(tmp_path: Path) -> None:
    """A limit on the size of files (prlimit(2), RLIMIT_FSIZE) stands for a disk with no room."""
    resource = pytest.importorskip("resource")
    if not hasattr(resource, "prlimit"):
        pytest.skip("this system sets no limits on a running process")
    with serving(tmp_path) as app:
        kept = {"text": TEXT + "".join(f"# {number} {'-' * 60}\n" for number in range(3000))}
        assert call(app, "/api/jobs", kept)[0] == 201
        assert app.process is not None
        was = resource.prlimit(app.process.pid, resource.RLIMIT_FSIZE, (4096, resource.RLIM_INFINITY))
        status, words = call(app, "/api/jobs", kept)
        assert status == 503
        assert "What was acknowledged before is kept; this change was not made" in json.loads(words)["detail"]
        resource.prlimit(app.process.pid, resource.RLIMIT_FSIZE, was)
        assert call(app, "/api/jobs", kept)[0] == 201
        assert [each["id"] for each in json.loads(call(app, "/api/jobs")[1])] == [2, 1]
        app.stop()
        open_store(tmp_path / "shop.db").close()  # takes the write-ahead log into the file
        damage(tmp_path / "shop.db", first=40, last=45)  # within the first job's text
        app.start()
        status, words = call(app, "/api/jobs/1")
        assert status == 503
        assert "is damaged. Nothing was written to it" in json.loads(words)["detail"]
        status, words = call(app, "/jobs/1/plan")
        assert status == 503
        assert "--restore BACKUP" in words


ROOTS_LEAVE_LEFT = ["setpriv", "--bounding-set=-dac_override,-dac_read_search"]
"""Runs a command so that even root keeps to what a folder's mode says (util-linux; capabilities(7))."""


@pytest.fixture
def as_anybody() -> list[str]:
    """A command's beginning that runs it under the leave that files give their owner."""
    if os.name != "posix":
        pytest.skip("this system has no such leave")
    if os.geteuid() != 0:
        return []
    if shutil.which(ROOTS_LEAVE_LEFT[0]) is None:
        pytest.skip("root may do anything here: util-linux is not installed")
    return ROOTS_LEAVE_LEFT


def test_the_app_on_a_folder_and_on_a_store_that_may_only_be_read(
    tmp_path: Path, as_anybody: list[str]
) -> None:
    path = tmp_path / "shop.db"
    with open_store(path) as store:
        store.create(TEXT, by="Ann")
    tmp_path.chmod(0o500)
    try:
        refused = subprocess.run(
            [
                *as_anybody,
                sys.executable,
                "-m",
                "scribeline",
                "serve",
                "--no-browser",
                "--data",
                str(tmp_path),
            ],
            capture_output=True,
            text=True,
            check=False,
        )
    finally:
        tmp_path.chmod(0o700)
    assert refused.returncode == 2
    assert f"{tmp_path / 'running'}: you may not write or read there: name another folder" in refused.stderr
    assert [each.name for each in tmp_path.iterdir()] == ["shop.db"]

    path.chmod(0o400)
    with serving(tmp_path, before=as_anybody) as app:
        assert [each["id"] for each in json.loads(call(app, "/api/jobs")[1])] == [1]
        status, words = call(app, "/api/jobs", {"text": TEXT})
        assert status == 503
        assert "may only be read. What was acknowledged before is kept" in json.loads(words)["detail"]
        for each in tmp_path.glob("shop.db*"):
            each.chmod(0o600)
        assert call(app, "/api/jobs", {"text": TEXT})[0] == 201


CLOCK = """
import datetime, os, time

def ahead(real=time.time):
    return 0.0 if os.path.exists(os.environ["CLOCK_BACK"]) else 864000.0

def shifted(real=time.time):
    return real() + ahead()

class Shifted(datetime.datetime):
    @classmethod
    def now(cls, tz=None):
        return super().now(tz) + datetime.timedelta(seconds=ahead())

time.time, datetime.datetime = shifted, Shifted
"""
"""Has Python's clock be ten days ahead until a file is there: a module that it reads in as it starts (documentation of
`site`)."""


def test_the_running_app_when_the_clock_goes_back(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    back = tmp_path / "back"
    (tmp_path / "sitecustomize.py").write_text(CLOCK)
    monkeypatch.setenv("CLOCK_BACK", str(back))
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join([str(tmp_path), os.environ.get("PYTHONPATH", "")]))

    def order() -> list[str]:
        return [each["name"] for each in json.loads(call(app, "/api/jobs")[1])]

    def as_tablet(cookie: str) -> int:
        with httpx.Client(base_url=f"http://{own_address()}:{app.port}", timeout=60) as tablet:
            return tablet.get("/api/jobs", headers={"cookie": cookie}).status_code

    with serving(tmp_path / "shop", "--share") as app:
        for name in ("a", "b"):
            assert call(app, "/api/jobs", {"text": f'name = "{name}"\n'})[0] == 201
        cookie = ""
        if own_address() != "127.0.0.1":
            code = re.search(r"[A-Z0-9]{3}-[A-Z0-9]{3}", call(app, "/shop")[1])
            assert code
            with httpx.Client(base_url=f"http://{own_address()}:{app.port}", timeout=60) as tablet:
                paired = tablet.post("/pair", data={"code": code[0], "name": "the tablet"})
            cookie = f"{SESSION}={paired.cookies[SESSION]}"
            assert as_tablet(cookie) == 200
        first = json.loads(call(app, "/api/jobs/1/revisions")[1])[0]["at"]
        back.touch()
        assert call(app, "/api/jobs", {"text": 'name = "c"\n'})[0] == 201
        assert order() == ["c", "b", "a"]
        change = {"text": 'name = "a again"\n', "based_on": 1}
        status, words = call(app, "/api/jobs/1/revisions", change)
        assert status == 201
        assert json.loads(words)["at"] < first  # the clock did go back
        assert order() == ["a again", "c", "b"]
        assert [each["number"] for each in json.loads(call(app, "/api/jobs/1/revisions")[1])] == [1, 2]
        if cookie:
            assert as_tablet(cookie) == 200
            assert as_tablet(f"{cookie}x") == 401
            assert "the tablet" in call(app, "/shop")[1]


def call(app: Served, path: str, body: Any = None) -> tuple[int, str]:
    """What a running app answers."""
    sent = None if body is None else json.dumps(body).encode()
    try:
        with urlopen(
            Request(f"{app.address}{path}", sent, {"content-type": "application/json"}),
            timeout=PATIENCE / 1000,
        ) as answer:
            return answer.status, answer.read().decode()
    except HTTPError as answer:
        return answer.code, answer.read().decode()


def damage(path: Path, *, first: int, last: int = 10_000) -> None:
    """Spoil pages of a database, counted from 0 (SQLite documentation, "Database File Format": the page size)."""
    whole = bytearray(path.read_bytes())
    size = int.from_bytes(whole[16:18], "big")
    spoilt = range(size * first, min(size * last, len(whole)))
    whole[spoilt.start : spoilt.stop] = b"\xff" * len(spoilt)
    path.write_bytes(whole)


def ask(app: FastAPI, method: str, path: str, **rest: Any) -> httpx.Response:
    """What the app answers to this machine."""

    async def asking() -> httpx.Response:
        way = httpx.ASGITransport(app=app, client=("127.0.0.1", 5000), raise_app_exceptions=False)
        async with httpx.AsyncClient(transport=way, base_url="http://localhost") as client:
            return await client.request(method, path, **rest)

    with ThreadPoolExecutor(1) as aside:  # this thread's own loop may be a browser's
        return aside.submit(lambda: asyncio.run(asking())).result()


def asked(app: FastAPI, method: str, path: str, body: Any = None) -> tuple[int, Any]:
    answer = ask(app, method, path, json=body)
    assert answer.headers["content-type"] == "application/json", path
    return answer.status_code, answer.json()


def wait_for(condition: Callable[[], bool]) -> None:
    deadline = time.monotonic() + PATIENCE / 1000
    while not condition():
        assert time.monotonic() < deadline
        time.sleep(0.01)
