"""Hostile requests and uploads: every one is answered with a clear refusal, and the app goes on as before."""

from __future__ import annotations

import asyncio
import json
import socket
from collections.abc import Coroutine, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path
from typing import Any

import httpx
import pytest
from tests.end_to_end.conftest import PATIENCE, Served, serving

from scribeline.scenario import demo_jobs
from scribeline.store import open_store
from scribeline.web.app import create_app
from scribeline.web.door import CODE_LASTS_S, WRONG_PER_DEVICE, Door, own_address
from scribeline.web.guard import SESSION
from scribeline.web.shop import Shop

TEXT = demo_jobs()["marram.toml"]

LAUGHS = (
    '<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY a "ha">'
    + "".join(f'<!ENTITY {n} "{f"&{m};" * 10}">' for m, n in zip("abcdefgh", "bcdefghi", strict=True))
    + ']><svg xmlns="http://www.w3.org/2000/svg"><text>&i;</text></svg>'
).encode()
OUTSIDE = (
    b'<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/passwd">]>'
    b'<svg xmlns="http://www.w3.org/2000/svg"><text>&x;</text></svg>'
)


@pytest.fixture(scope="module")
def app(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with serving(tmp_path_factory.mktemp("shop")) as running:
        made = say(running, "POST", "/api/jobs", json.dumps({"text": TEXT}).encode())
        assert made[0] == 201
        yield running


def say(
    app: Served,
    method: str,
    path: str,
    body: bytes = b"",
    *,
    host: str = "",
    length: int | None = None,
    headers: Mapping[str, str] | None = None,
) -> tuple[int, str]:
    """A request exactly as written, over a plain socket: no library tidies its path or headers."""
    lines = [
        f"{method} {path} HTTP/1.1",
        f"host: {host or app.address.removeprefix('http://')}",
        "connection: close",
    ]
    if method in {"POST", "PUT"} or body:
        lines.append(f"content-length: {len(body) if length is None else length}")
    sent = {"content-type": "application/json", **(headers or {})}
    lines += [f"{key}: {value}" for key, value in sent.items()]
    head = ("\r\n".join(lines) + "\r\n\r\n").encode("latin-1")
    with socket.create_connection(("127.0.0.1", app.port), timeout=PATIENCE / 1000) as line:
        with suppress(BrokenPipeError, ConnectionResetError):  # the app may have heard enough
            line.sendall(head + body)
        answer = b""
        with suppress(ConnectionResetError):
            while more := line.recv(65536):
                answer += more
    top, _, rest = answer.partition(b"\r\n\r\n")
    return int(top.split(b" ")[1]), rest.decode("utf-8", "replace")


def refused(answer: tuple[int, str], *statuses: int) -> str:
    """The sentence of a refusal."""
    status, words = answer
    assert status in statuses, answer
    said = json.loads(words)["detail"] if words.startswith("{") else words
    assert "Traceback" not in said
    assert len(said.split()) >= 4, said
    return str(said)


def still_well(app: Served) -> None:
    """The app answers, and the job is as it was."""
    assert say(app, "GET", "/api/jobs")[0] == 200
    assert json.loads(say(app, "GET", "/api/jobs/1/revisions")[1])[-1]["number"] == 1


NEW = json.dumps({"text": TEXT}).encode()


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1.evil.example", "127.0.0.1:1", "a@127.0.0.1", "[::1", ""]
)
def test_another_name(app: Served, host: str) -> None:
    """A page elsewhere that points its own name at this machine (DNS rebinding) is not served."""
    words = refused(say(app, "GET", "/api/jobs", host=host or " "), 400, 403)
    assert "name" in words or "Invalid" in words


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:1"},
        {"origin": "http://127.0.0.1.evil.example"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_another_sites_page(app: Served, headers: dict[str, str]) -> None:
    for path in ("/api/jobs", "/demo"):
        assert "another site" in refused(say(app, "POST", path, NEW, headers=headers), 403).lower()
    still_well(app)


@pytest.mark.parametrize(
    "path",
    [
        "/static/../../store/store.py",
        "/static/%2e%2e/%2e%2e/store/store.py",
        "/static/..%2f..%2fstore%2fstore.py",
        "/static/..%5c..%5cstore%5cstore.py",
        "/static//etc/passwd",
        "/face/..%2f..%2fface.py",
        "/api/jobs/1/files/..%2f..%2fshop.db",
        "//etc/passwd",
        "/static/app.css%00.svg",
        "/jobs/1/../../shop.db",
    ],
)
def test_path_tricks(app: Served, path: str) -> None:
    refused(say(app, "GET", path), 400, 404)
    refused(say(app, "PUT", path, b"<svg xmlns='http://www.w3.org/2000/svg'/>"), 400, 404, 405)


@pytest.mark.parametrize(
    "file", ["/etc/passwd", "../../shop.db", "..", "~/x.svg", "C:\\x.svg", "a/b.svg", ".hidden.svg"]
)
def test_a_job_may_not_name_files_of_this_machine(app: Served, file: str) -> None:
    with open_store(app.folder / "shop.db") as store:
        text = TEXT.replace(
            'shape = "dune"\ntail = 752', f"file = {json.dumps(file)}\ncentre = 0\ntail = 752"
        )
        assert text != TEXT
        job = store.create(text, by="Eve").job_id
        records = store.create(TEXT + f"\n[bench]\nrecords = {json.dumps(file)}\n", by="Eve").job_id
    for each in (job, records):
        status, words = say(app, "GET", f"/api/jobs/{each}/plan")
        assert status == 422
        assert "plain name" in words
        assert "root:" not in words


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("a.svg", LAUGHS, "XML entities"),
        ("a.svg", OUTSIDE, "XML entities"),
        ("a.svg", b"<svg", "not readable"),
        ("a.svg", b"<html/>", "no SVG"),
        ("a.svg", b"<a>" * 100_000 + b"</a>" * 100_000, "SVG"),
        ("a.exe", b"MZ", "takes .svg"),
        ("a.dxf", b"\x00" * 100, "no text"),
        ("a.dxf", b"", "empty"),
    ],
    ids=[
        "entity bomb",
        "entity from outside",
        "half a file",
        "no drawing",
        "deep nesting",
        "a program",
        "no text",
        "empty",
    ],
)
def test_uploads(app: Served, name: str, content: bytes, words: str) -> None:
    assert words in refused(say(app, "PUT", f"/api/jobs/1/files/{name}", content), 422)
    assert json.loads(say(app, "GET", "/api/jobs/1/files")[1]) == []


def test_an_outline_of_100_megabytes(app: Served) -> None:
    """Refused from its stated length at once; and where it does not say, as soon as it is too much."""
    stated = say(app, "PUT", "/api/jobs/1/files/a.svg", b"<svg>", length=100_000_000)
    assert "21 MB" in refused(stated, 413)
    chunk = b"186a0\r\n" + b"x" * 100_000 + b"\r\n"
    unsaid = say_chunked(app, "/api/jobs/1/files/a.svg", chunk, 1000)
    assert "21 MB" in refused(unsaid, 413)
    assert "4 MB" in refused(say(app, "POST", "/api/jobs", b"{" * 5_000_000), 413)
    still_well(app)


def say_chunked(app: Served, path: str, chunk: bytes, times: int) -> tuple[int, str]:
    head = f"PUT {path} HTTP/1.1\r\nhost: 127.0.0.1:{app.port}\r\ntransfer-encoding: chunked\r\nconnection: close\r\n\r\n"
    with socket.create_connection(("127.0.0.1", app.port), timeout=PATIENCE / 1000) as line:
        line.sendall(head.encode())
        answer = b""
        with suppress(BrokenPipeError, ConnectionResetError):
            for _ in range(times):
                line.sendall(chunk)
        with suppress(ConnectionResetError):
            while more := line.recv(65536):
                answer += more
    top, _, rest = answer.partition(b"\r\n\r\n")
    return int(top.split(b" ")[1]), rest.decode()


@pytest.mark.parametrize(
    "value", ["NaN", "Infinity", "-Infinity", "1e400", "1e300", "3001", '"ten"', "[]", "1" * 5000]
)
def test_numbers_that_are_none(app: Served, value: str) -> None:
    body = f'{{"card": "check-neck", "value_mm": {value}, "revision": 1}}'.encode()
    refused(say(app, "POST", "/api/jobs/1/readings", body), 400, 422)
    part = f'{{"dimensions": {{"spacing": {{"value": {value}, "plus_minus": 0.05}}}}}}'.encode()
    refused(say(app, "PUT", "/api/parts/bridge/ours", part), 400, 422)
    refused(say(app, "POST", "/api/jobs/1/undo", f'{{"based_on": {value}}}'.encode()), 400, 404, 422)
    assert json.loads(say(app, "GET", "/api/jobs/1/readings")[1]) == []


@pytest.mark.parametrize("number", ["0", "-1", "99999999999999999999", "9" * 400, "1e3", "0x1", "%F0%9F"])
def test_jobs_that_are_none(app: Served, number: str) -> None:
    for path in (
        f"/api/jobs/{number}",
        f"/api/jobs/{number}/plan",
        f"/jobs/{number}/plan",
        f"/api/jobs/1/revisions/{number}",
    ):
        refused(say(app, "GET", path), 400, 404, 422)


@pytest.mark.parametrize(
    "text",
    [
        "name = unquoted",
        "a = " + "[" * 5000 + "]" * 5000,
        "a." * 5000 + "b = 1",
        "[" + "a." * 5000 + "b]",
        "a = \x00",
        "a = '\\ud800'",
        'a = "\ud800"',
        "x = 1\n" * 2,
        "a" * 400_000,
    ],
    ids=[
        "no TOML",
        "deep list",
        "deep keys",
        "deep table",
        "null",
        "escape",
        "half a character",
        "twice",
        "too long",
    ],
)
def test_texts_that_are_no_job(app: Served, text: str) -> None:
    body = json.dumps({"text": text}).encode()
    if text == "a = '\\ud800'":  # valid TOML: kept, as any text with faults is
        return
    refused(say(app, "POST", "/api/jobs", body), 422)
    refused(say(app, "POST", "/api/import", body), 422)
    refused(
        say(app, "POST", "/api/jobs/1/revisions", json.dumps({"text": text, "based_on": 1}).encode()), 422
    )


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"{",
        b"[]",
        b"null",
        b'"x"',
        b"{}",
        b"[" * 100_000,
        b"\xff\xfe",
        b'{"text": 1}',
        b'{"text": "a = 1", "by": "Eve"}',
    ],
)
def test_bodies_that_are_none(app: Served, body: bytes) -> None:
    refused(say(app, "POST", "/api/jobs", body), 400, 422)


@pytest.mark.parametrize("method", ["TRACE", "PATCH", "CONNECT", "BREW", "DELETE"])
def test_other_methods(app: Served, method: str) -> None:
    refused(say(app, method, "/api/jobs"), 400, 404, 405)


def test_headers_without_end(app: Served) -> None:
    status, _ = say(app, "GET", "/", headers={"x-long": "x" * 200_000})
    assert status in {400, 431}
    still_well(app)


def test_every_answer_lets_nothing_in_from_elsewhere(app: Served) -> None:
    with httpx.Client(base_url=app.address, timeout=PATIENCE / 1000) as client:
        for path in ("/", "/jobs/1/plan", "/static/app.css", "/api/jobs", "/nowhere", "/api/nowhere"):
            headers = client.get(path).headers
            assert headers["content-security-policy"].startswith("default-src 'self';")
            assert "unsafe" not in headers["content-security-policy"]
            assert headers["x-content-type-options"] == "nosniff"
            assert headers["x-frame-options"] == "DENY"


# Devices of the shop's own network


def answer_of(asked: Coroutine[Any, Any, httpx.Response]) -> httpx.Response:
    """What the app answers; in a thread of its own, since this one may have a browser's loop running."""
    with ThreadPoolExecutor(1) as aside:
        return aside.submit(asyncio.run, asked).result()


class Network:
    """A shared app in this process, and devices around it."""

    def __init__(self, folder: Path) -> None:
        self.now = 0.0
        self.store = open_store(folder / "shop.db")
        self.app = create_app(Shop(self.store, folder, share=True, port=8437))
        self.door: Door = self.app.state.door
        self.door.clock = lambda: self.now

    def ask(
        self,
        method: str,
        path: str,
        device: str = "192.168.7.20",
        cookie: str = "",
        host: str = "192.168.7.5:8437",
        **rest: Any,
    ) -> httpx.Response:
        async def once() -> httpx.Response:
            transport = httpx.ASGITransport(self.app, client=(device, 4711))
            headers = {"cookie": f"{SESSION}={cookie}"} if cookie else {}
            async with httpx.AsyncClient(
                transport=transport, base_url=f"http://{host}", headers=headers
            ) as client:
                return await client.request(method, path, **rest)

        return answer_of(once())

    def pair(self, code: str, name: str = "Ann's tablet", device: str = "192.168.7.20") -> httpx.Response:
        return self.ask("POST", "/pair", device, data={"code": code, "name": name})


@pytest.fixture
def network(tmp_path: Path) -> Iterator[Network]:
    made = Network(tmp_path)
    yield made
    made.store.close()


def test_a_device_without_the_code_sees_nothing(network: Network) -> None:
    network.store.create(TEXT, by="Ann")
    assert network.ask("GET", "/").headers["location"] == "/pair"
    assert network.ask("GET", "/jobs/1/plan").status_code == 303
    for method, path in (
        ("GET", "/api/jobs"),
        ("GET", "/api/backup"),
        ("POST", "/api/jobs"),
        ("POST", "/demo"),
    ):
        answer = network.ask(method, path)
        assert answer.status_code == 401, (method, path)
        assert "not paired" in answer.text
    assert network.ask("GET", "/pair").status_code == 200
    assert network.ask("GET", "/static/app.css").status_code == 200
    assert network.ask("GET", "/static/../app.css").status_code in {400, 303, 200, 404}
    assert len(network.store.jobs()) == 1
    assert network.ask("POST", "/pair", content=b"x" * 5000).status_code == 413


def test_the_code_lets_a_device_in_once_and_under_its_name(network: Network) -> None:
    code = network.door.code()
    answer = network.pair(code.lower().replace("-", " "))
    assert answer.status_code == 303
    assert "httponly" in answer.headers["set-cookie"].lower()
    assert "samesite=lax" in answer.headers["set-cookie"].lower()
    cookie = answer.cookies[SESSION]
    assert network.ask("POST", "/api/jobs", cookie=cookie, json={"text": TEXT}).json()["by"] == "Ann's tablet"
    assert network.pair(code, device="192.168.7.21").status_code == 403
    tampered = cookie[:-2] + ("AA" if cookie[-2:] != "AA" else "BB")
    assert network.ask("GET", "/api/jobs", cookie=tampered).status_code == 401
    assert network.ask("GET", "/api/jobs", cookie=cookie, host="evil.example").status_code == 403
    evil = network.ask("POST", "/demo", cookie=cookie, headers={"origin": "http://evil.example"})
    assert evil.status_code in {401, 403}
    network.door.forget()
    assert network.ask("GET", "/api/jobs", cookie=cookie).status_code == 401


def test_a_device_that_guesses_is_made_to_wait(network: Network) -> None:
    for _ in range(WRONG_PER_DEVICE):
        assert network.pair("AAA-AAA").status_code == 403
    assert network.pair("AAA-AAA").status_code == 429
    assert network.pair(network.door.code()).status_code == 429
    network.now += CODE_LASTS_S + 1
    assert network.pair(network.door.code()).status_code == 303


def test_strangers_cannot_turn_the_code_over(network: Network) -> None:
    """Each address that guesses is made to wait; the code on the owner's screen serves all the same."""
    code = network.door.code()
    for number in range(40):
        for _ in range(WRONG_PER_DEVICE + 1):
            network.door.knock("AAA-AAA", f"192.168.7.{100 + number}")
    assert network.pair("AAA-AAA", device="192.168.7.139").status_code == 429
    assert network.door.code() == code
    assert network.pair(code).status_code == 303


def test_a_code_serves_for_ten_minutes(network: Network) -> None:
    code = network.door.code()
    assert network.door.expires_in() == 600
    network.now += 599
    assert network.door.code() == code
    network.now += 2
    assert network.pair(code).status_code == 403
    assert network.door.url().endswith(f":8437/pair?code={network.door.code()}")


def test_this_machine_needs_no_code_and_the_key_is_its_owners_alone(network: Network, tmp_path: Path) -> None:
    assert network.ask("GET", "/api/jobs", "127.0.0.1", host="127.0.0.1:8437").status_code == 200
    assert network.ask("GET", "/api/jobs", "::1", host="localhost:8437").status_code == 200
    network.door.session("a tablet")
    assert (tmp_path / "session.key").stat().st_mode & 0o777 == 0o600
    cookie = network.door.session("a tablet")
    again = Door(tmp_path, 8437)
    assert again.device(cookie) is not None
    assert Door(tmp_path / "other", 8437).device(cookie) is None


def test_without_share_only_this_machine_is_let_in(tmp_path: Path) -> None:
    with serving(tmp_path) as running, socket.socket() as line:
        line.settimeout(3)
        elsewhere = own_address()
        if elsewhere != "127.0.0.1":
            with pytest.raises(OSError, match=r"refused|timed out"):
                line.connect((elsewhere, running.port))

    async def from_elsewhere() -> httpx.Response:
        with open_store(tmp_path / "shop.db") as store:
            app = create_app(Shop(store, tmp_path, port=8437))
            transport = httpx.ASGITransport(app, client=("192.168.7.20", 4711))
            async with httpx.AsyncClient(transport=transport, base_url="http://127.0.0.1:8437") as client:
                return await client.get("/api/jobs")

    answer = answer_of(from_elsewhere())
    assert answer.status_code == 403
    assert "--share" in answer.json()["detail"]
