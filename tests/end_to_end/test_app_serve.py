"""`scribeline serve` from the outside: what it says, what it refuses, a backup brought back."""

from __future__ import annotations

import asyncio
import socket
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from urllib.request import urlopen

import pytest
from tests.conftest import WITHOUT_TUNNELS
from tests.many_corners import many_cornered

from scribeline.cli import main
from scribeline.scenario import demo_jobs
from scribeline.store import open_store
from scribeline.web.certificate import Certificate
from scribeline.web.serve import job_in, listening, over_https

from .conftest import PATIENCE, serving


def test_a_job_file_is_brought_in_once_and_opened(tmp_path: Path) -> None:
    job = tmp_path / "marram.toml"
    job.write_text(demo_jobs()["marram.toml"], encoding="utf-8")
    for _ in range(2):
        with (
            serving(tmp_path / "shop", "--job", str(job)) as app,
            urlopen(f"{app.address}/jobs/1", timeout=PATIENCE / 1000) as page,
        ):
            assert page.status == 200
            assert str(page.url).endswith("/jobs/1/plan")
    with open_store(tmp_path / "shop" / "shop.db") as store:
        assert [entry.name for entry in store.jobs()] == ["Marram"]


def test_a_job_s_drawing_is_brought_in_with_it(tmp_path: Path) -> None:
    """It was left behind, and every page said that it cannot be read."""
    shop = tmp_path / "shop"
    shop.mkdir()
    job = many_cornered(tmp_path, WITHOUT_TUNNELS, 60)
    head = 'face = "stepped"\nfirst_post = 38\npitch = 25\nhole = 9\ndrawing = { file = "head.svg", origin = [0, 0] }\n'
    job.write_text(f"{job.read_text('utf-8')}\n[head]\n{head}", encoding="utf-8")
    (tmp_path / "head.svg").write_text("<svg/>", encoding="utf-8")
    number = job_in(shop, job)
    assert job_in(shop, job) == number
    with open_store(shop / "shop.db") as store:
        assert sorted(each.name for each in store.attachments(number)) == ["head.svg", "many.dxf"]
        assert store.attachment(number, "many.dxf") == (tmp_path / "many.dxf").read_bytes()
    (tmp_path / "many.dxf").unlink()
    (tmp_path / "head.svg").unlink()
    job.write_text(job.read_text("utf-8").replace("Marram", "Other"), encoding="utf-8")
    with open_store(shop / "shop.db") as store:
        assert store.attachments(job_in(shop, job)) == ()


def test_a_backup_is_brought_back(tmp_path: Path) -> None:
    with serving(tmp_path / "shop") as app:
        from .conftest import demo_job

        demo_job(app)
        with urlopen(f"{app.address}/shop/backup", timeout=PATIENCE / 1000) as answer:
            kept = answer.read()
    backup = tmp_path / "kept.backup"
    backup.write_bytes(kept)
    with (
        serving(tmp_path / "again", "--restore", str(backup)) as app,
        urlopen(f"{app.address}/", timeout=PATIENCE / 1000) as page,
    ):
        assert b"Marram" in page.read()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--port", "99999"], "port 99999 cannot be: ports run from 1 to 65535"),
        (["--job", "none.toml"], "there is no file none.toml"),
        (["--job", "bad.toml"], "bad.toml cannot be used"),
        (["--restore", "bad.toml"], "bad.toml"),
        (["--data", "bad.toml"], "the folder bad.toml cannot be made"),
        (["--share", "--https-port", "99999"], "port 99999 cannot be: ports run from 1 to 65535"),
        (["--share", "--data", "spoilt"], "spoilt/https"),
        (["--https-port", "9000"], "--https-port needs --share"),
    ],
    ids=lambda each: " ".join(each) if isinstance(each, list) else "",
)
def test_what_cannot_be_served_is_refused_in_words(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    words: list[str],
    told: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("bad.toml").write_text("x = [")
    Path("spoilt").mkdir()
    Path("spoilt/https").touch()  # a file where a folder belongs
    folder = [] if "--data" in words else ["--data", "shop"]
    assert main(["serve", "--no-browser", *folder, *words]) == 2
    said = "".join(capsys.readouterr())
    assert told in " ".join(said.split())
    assert "Traceback" not in said


def test_two_that_start_at_once_take_two_ports(tmp_path: Path) -> None:
    doors = [listening(None) for _ in range(3)]
    try:
        assert len({door.getsockname()[1] for door in doors}) == 3
    finally:
        for door in doors:
            door.close()
    bound = socket.socket()
    bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    with bound:
        # Bound and not yet listening, as the other one is in the instant between the two.
        bound.bind(("127.0.0.1", 0))
        port = bound.getsockname()[1]
        with listening(port), pytest.raises(OSError, match="in use"):
            bound.listen()


def test_a_taken_port_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        assert main(["serve", "--no-browser", "--data", str(tmp_path), "--port", str(port)]) == 2
    assert f"port {port} is taken" in capsys.readouterr().err


def test_a_taken_port_of_https_is_told_and_another_one_is_found(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with socket.socket() as taken:
        taken.bind(("0.0.0.0", 0))
        taken.listen()
        port = taken.getsockname()[1]
        words = ["serve", "--no-browser", "--share", "--data", str(tmp_path), "--port", "0"]
        assert main([*words, "--https-port", str(port)]) == 2
        assert f"port {port} is taken" in capsys.readouterr().err
        certificate = Certificate(tmp_path)
        with over_https(certificate, None, port - 1) as door:
            assert port < door.getsockname()[1] <= port + 20 or door.getsockname()[1] > 1024
        with over_https(certificate, None, 65535) as door:
            assert 0 < door.getsockname()[1] < 65535


def test_an_answer_goes_out_at_once() -> None:
    """With Nagle's algorithm its second part waits for the first's acknowledgement, which may take its time.

    RFC 896; RFC 1122, 4.2.3.2 allows it 0.5 s (from memory).
    """
    off: list[int] = []

    class Asked(asyncio.Protocol):
        def connection_made(self, transport: asyncio.BaseTransport) -> None:
            off.append(transport.get_extra_info("socket").getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY))
            transport.close()

    async def ask() -> None:
        door = listening(0)
        server = await asyncio.get_running_loop().create_server(Asked, sock=door)
        async with server:
            reader, writer = await asyncio.open_connection(*door.getsockname())
            await reader.read()
            writer.close()
            await writer.wait_closed()

    with ThreadPoolExecutor(1) as aside:  # this thread's own loop may be a browser's
        aside.submit(lambda: asyncio.run(ask())).result()
    assert off
    assert all(off)
