"""Connections that come to nothing, or are too many: who is let in all the same, who goes, and what the log says.

127.0.0.1 stands for the owner's machine here, the rest of 127.0.0.0/8 (RFC 1122, 3.2.1.3: all of it loops back) for the
shop's network.
"""

from __future__ import annotations

import asyncio
import gc
import logging
import socket
import ssl
import threading
import time
from asyncio import sslproto
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest

from scribeline.web import connections
from scribeline.web.certificate import Certificate
from scribeline.web.connections import PER_ADDRESS, Connections, Seldom, Server, room
from scribeline.web.guard import DEVICE
from scribeline.web.serve import listening, over_https, to_the_network

resource = pytest.importorskip("resource")

HALF = b"GET / HTTP/1.1\r\nhost: x\r\n"
WHOLE = HALF + b"\r\n"


def _client_hello() -> bytes:
    """What one who speaks TLS says first, by OpenSSL."""
    out = ssl.MemoryBIO()
    speaker = ssl.create_default_context().wrap_bio(ssl.MemoryBIO(), out, server_hostname="127.0.0.9")
    with suppress(ssl.SSLWantReadError):
        speaker.do_handshake()
    return out.read()


CLIENT_HELLO = _client_hello()


async def app(scope: Any, receive: Any, send: Any) -> None:
    """Answers; under /as/NAME as the guard lets a paired device in; under /.../stream goes on until the other side is gone."""
    if scope["type"] != "http":
        return
    _, *parts = scope["path"].split("/")
    if parts[0] == "as":
        scope["state"][DEVICE] = parts[1]
    while (await receive()).get("more_body"):
        pass
    await send(
        {"type": "http.response.start", "status": 200, "headers": [(b"transfer-encoding", b"chunked")]}
    )
    if parts[-1] == "stream":
        await send({"type": "http.response.body", "body": b"first", "more_body": True})
        while (await receive())["type"] != "http.disconnect":
            pass
        return
    if parts[-1] == "much":
        for _ in range(200):
            await send({"type": "http.response.body", "body": bytes(100_000), "more_body": True})
    await send({"type": "http.response.body", "body": b"served"})


def doors() -> list[socket.socket]:
    """The two on one port: one on which nothing is, though a line of another test may have it at another address."""
    for _ in range(50):
        own = listening(0)
        with suppress(OSError):
            return [own, to_the_network(own)]
        own.close()
    message = "fifty ports are taken"
    raise AssertionError(message)


class Shop:
    """A server in a thread, and lines to it from several addresses."""

    def __init__(
        self, open_lines: ExitStack, *, most: int, patience: float, certificate: Certificate | None = None
    ) -> None:
        self.connections = Connections(lambda address: address == "127.0.0.1", most=most, patience=patience)
        self.doors = [open_lines.enter_context(each) for each in doors()]
        self.port = self.doors[0].getsockname()[1]
        self.secure_port = 0
        if certificate is not None:
            self.doors.append(open_lines.enter_context(over_https(certificate, 0, self.port)))
            self.secure_port = self.doors[-1].getsockname()[1]
        self.server = Server(app, self.connections)
        self._lines = open_lines

    def line(self, said: bytes = b"", address: str = "127.0.0.2", *, secure: bool = False) -> socket.socket:
        """A connection from this address, on which something was said; to the door of https, but without agreeing on keys."""
        made = self._lines.enter_context(socket.socket())
        made.settimeout(60)
        made.bind((address, 0))
        port = self.secure_port if secure else self.port
        made.connect(("127.0.0.1" if address == "127.0.0.1" else "127.0.0.9", port))
        made.sendall(said)
        return made

    def asked_over_https(self, path: str, root: bytes, address: str = "127.0.0.2") -> ssl.SSLSocket:
        """The same as `asked`, over https, by one who trusts this root alone."""
        context = ssl.create_default_context(cadata=root)
        made = context.wrap_socket(self.line(b"", address, secure=True), server_hostname="127.0.0.9")
        self._lines.enter_context(made)
        made.sendall(f"GET {path} HTTP/1.1\r\nhost: x\r\n\r\n".encode())
        assert made.recv(12) == b"HTTP/1.1 200"
        return made

    def asked(self, path: str = "/", address: str = "127.0.0.2") -> socket.socket:
        """A connection on which a whole request was made and the beginning of its answer came."""
        made = self.line(f"GET {path} HTTP/1.1\r\nhost: x\r\n\r\n".encode(), address)
        assert made.recv(12) == b"HTTP/1.1 200"
        return made

    def count(self, address: str = "127.0.0.2") -> int:
        return len(self.connections.by_address.get(address, {}))


@contextmanager
def shop(most: int = 64, patience: float = 1000.0, certificate: Certificate | None = None) -> Iterator[Shop]:
    with ExitStack() as stack:
        made = Shop(stack, most=most, patience=patience, certificate=certificate)
        thread = threading.Thread(target=lambda: asyncio.run(made.server.serve(made.doors)))
        thread.start()
        try:
            until(lambda: made.server.started)
            yield made
        finally:
            made.server.force_exit = made.server.should_exit = True
            thread.join(60)


def until(condition: Callable[[], object]) -> None:
    deadline = time.monotonic() + 60
    while not condition():
        assert time.monotonic() < deadline
        time.sleep(0.005)


def is_over(line: socket.socket) -> bool:
    """Whether the other side ended it; waits until it says something."""
    with suppress(ConnectionResetError):
        while line.recv(65536):
            pass
    return True


def still(lines: Sequence[socket.socket]) -> int:
    """How many of these lines the other side has not closed."""
    count = 0
    for line in lines:
        line.setblocking(False)
        try:
            line.recv(1)
        except BlockingIOError:
            count += 1
        except ConnectionResetError:
            pass
    return count


def test_one_address_keeps_to_its_part_and_everybody_else_is_served() -> None:
    with shop() as here:
        half = [here.line(HALF) for _ in range(4 * PER_ADDRESS)]
        until(lambda: still(half) == PER_ADDRESS)
        assert here.count() == PER_ADDRESS
        here.asked(address="127.0.0.3")
        here.asked("/as/tablet", address="127.0.0.4")
        here.asked(address="127.0.0.1")
        for each in half:
            each.close()
        until(lambda: not here.count())
        here.asked()


def test_an_address_with_a_paired_device_keeps_what_that_has_open() -> None:
    with shop() as here:
        stream = here.asked("/as/tablet/stream")
        half = [here.line(HALF) for _ in range(4 * PER_ADDRESS)]
        until(lambda: still(half) == PER_ADDRESS - 1)
        here.asked("/as/tablet")
        here.connections.end("tablet")
        assert is_over(stream)
        half += [here.line(HALF) for _ in range(2 * PER_ADDRESS)]
        until(lambda: still(half) == PER_ADDRESS)
        here.asked("/as/tablet")


def test_many_addresses_together_leave_room_for_a_paired_device_and_the_owner() -> None:
    with shop() as here:
        tablet = here.asked("/as/tablet/stream", "127.0.0.8")
        half = [here.line(HALF, f"127.0.1.{n % 10 + 1}") for n in range(300)]
        until(lambda: len(here.connections.network) == here.connections.most)
        until(lambda: still(half) == here.connections.most - 1)
        assert still([tablet]) == 1 or tablet.recv(1)
        here.asked(address="127.0.0.3")
        owner = [here.asked(address="127.0.0.1") for _ in range(6)]
        assert len(owner) == here.count("127.0.0.1")


def test_this_machine_has_an_allowance_too_and_keeps_what_is_being_answered() -> None:
    with shop(most=16) as here:
        stream = here.asked("/stream", "127.0.0.1")
        half = [here.line(HALF, "127.0.0.1") for _ in range(50)]
        until(lambda: still(half) == 15)
        here.asked(address="127.0.0.1")
        stream.setblocking(False)
        assert b"first" in stream.recv(1000)
        with pytest.raises(BlockingIOError):
            stream.recv(1)


@pytest.mark.parametrize(
    ("said", "address"),
    [
        (b"", "127.0.0.2"),
        (b"", "127.0.0.1"),
        (HALF, "127.0.0.2"),
        (HALF, "127.0.0.1"),
        (b"POST / HTTP/1.1\r\nhost: x\r\ncontent-length: 9\r\n\r\n", "127.0.0.2"),
        (b"GET /much HTTP/1.1\r\nhost: x\r\n\r\n", "127.0.0.2"),
        (b"GET /as/tablet/much HTTP/1.1\r\nhost: x\r\n\r\n", "127.0.0.2"),
        (b"GET /stream HTTP/1.1\r\nhost: x\r\n\r\n", "127.0.0.2"),
    ],
    ids=[
        "nothing",
        "nothing, own",
        "half a head",
        "half a head, own",
        "no body",
        "not taken",
        "not taken, paired",
        "stream",
    ],
)
def test_what_takes_too_long_is_closed(said: bytes, address: str) -> None:
    with shop(patience=0.01) as here:
        line = here.line(said, address)
        until(lambda: here.count(address))
        until(lambda: not here.count(address))
        assert is_over(line)


def test_a_stream_of_a_paired_device_stays_and_ends_when_it_is_shut_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(connections, "STRANGER_S", 0.01)
    with shop(patience=1.0) as here:
        streams = [here.asked(f"/as/{name}/stream") for name in ("one", "two")]
        stranger = here.asked("/stream")
        assert is_over(stranger)  # swept: theirs would have gone too
        assert here.count() == 2
        here.connections.end("one")
        assert is_over(streams[0])
        assert here.count() == 1
        here.connections.end("nobody")
        here.asked()
        assert still(streams[1:]) == 1 or streams[1].recv(1)


@pytest.fixture
def certificate(tmp_path: Path) -> Certificate:
    return Certificate(tmp_path)


def test_half_a_greeting_over_https_counts_as_a_connection(certificate: Certificate) -> None:
    """A hundred that open the door of https and agree on nothing: one address keeps to its part, on both doors together."""
    with shop(certificate=certificate) as here:
        half = [here.line(CLIENT_HELLO[: n % len(CLIENT_HELLO)], secure=True) for n in range(100)]
        until(lambda: still(half) == PER_ADDRESS)
        assert here.count() == PER_ADDRESS
        here.asked(address="127.0.0.3")
        here.asked_over_https("/", certificate.root, "127.0.0.3")
        here.asked(address="127.0.0.1")
        half += [here.line(HALF) for _ in range(40)]
        until(lambda: still(half) == PER_ADDRESS)
        for each in half:
            each.close()
        until(lambda: not here.count())
        here.asked_over_https("/", certificate.root)


@pytest.mark.parametrize(
    "said", [b"", CLIENT_HELLO[:40], CLIENT_HELLO], ids=["nothing", "half a hello", "a hello"]
)
@pytest.mark.parametrize("address", ["127.0.0.2", "127.0.0.1"])
def test_a_greeting_that_takes_too_long_is_ended(certificate: Certificate, said: bytes, address: str) -> None:
    with shop(patience=0.01, certificate=certificate) as here:
        line = here.line(said, address, secure=True)
        assert is_over(line)
        until(lambda: not here.count(address))


@pytest.mark.parametrize("said", [WHOLE, bytes(range(256)) * 40, b"\x15\x03\x03\x00\x02\x02\x28"])
def test_what_is_no_https_is_ended_at_once(certificate: Certificate, said: bytes) -> None:
    """Plain http, noise and a mere alert at the door of https; no error is written."""
    told: list[str] = []
    logging.getLogger("asyncio").addHandler(into := _Into(told))
    try:
        with shop(certificate=certificate) as here:
            assert is_over(here.line(said, secure=True))
            until(lambda: not here.count())
            here.asked_over_https("/", certificate.root)
    finally:
        logging.getLogger("asyncio").removeHandler(into)
    assert told == []


def test_what_is_no_https_leaves_nothing_behind(certificate: Certificate) -> None:
    """Without waiting for Python's search for things that hold each other: by then a crowd would have filled the memory."""
    gc.collect()
    gc.disable()
    try:
        with shop(certificate=certificate) as here:
            for _ in range(20):
                assert is_over(here.line(WHOLE, secure=True))
            until(lambda: not here.count())
            until(lambda: not [each for each in gc.get_objects() if isinstance(each, sslproto.SSLProtocol)])
    finally:
        gc.enable()


def test_over_https_a_stream_stays_and_ends_as_over_http(certificate: Certificate) -> None:
    with shop(certificate=certificate) as here:
        stream = here.asked_over_https("/as/tablet/stream", certificate.root)
        half = [here.line(b"", secure=True) for _ in range(2 * PER_ADDRESS)]
        until(lambda: still(half) == PER_ADDRESS - 1)
        here.asked_over_https("/as/tablet", certificate.root)
        here.connections.end("tablet")
        assert is_over(stream)
    with shop(patience=0.01, certificate=certificate) as here:
        for path in ("/much", "/as/tablet/much", "/stream"):
            assert is_over(here.asked_over_https(path, certificate.root))


def test_the_app_stops_though_somebody_stands_at_the_door_of_https(certificate: Certificate) -> None:
    with shop(certificate=certificate) as here:
        line = here.line(CLIENT_HELLO, secure=True)
        until(here.count)
        here.server.should_exit = True
        assert is_over(line)


def test_what_was_closed_is_told_in_one_line() -> None:
    told: list[str] = []
    with shop() as here:
        logging.getLogger("uvicorn.error").addHandler(into := _Into(told))
        try:
            half = [here.line(HALF, f"127.0.0.{n % 2 + 2}") for n in range(100)]
            until(lambda: still(half) == 2 * PER_ADDRESS)
            until(lambda: told)
        finally:
            logging.getLogger("uvicorn.error").removeHandler(into)
    assert len(told) == 1
    assert "connections, too many or too slow, of 127.0.0." in told[0]


def test_nothing_is_told_where_nothing_was_closed() -> None:
    told: list[str] = []
    logging.getLogger("uvicorn.error").addHandler(into := _Into(told))
    try:
        connections = Connections(lambda _: False)
        assert not connections.refuses("127.0.0.2")
        connections.sweep()
    finally:
        logging.getLogger("uvicorn.error").removeHandler(into)
    assert told == []


def test_the_same_complaint_is_written_seldom() -> None:
    now = [0.0]
    written: list[str] = []
    log = logging.Logger("a log of its own")
    log.addFilter(Seldom(lambda: now[0]))
    log.addHandler(_Into(written))
    for _ in range(1100):
        log.warning("Invalid request from %s", "somewhere")
        log.warning("another")
    assert written == ["Invalid request from somewhere", "another"]
    now[0] = 61.0
    log.warning("Invalid request from %s", "somewhere")
    assert written[2:] == ["Invalid request from somewhere (1099 times more before this)"]
    for _ in range(3):
        try:
            int("x")
        except ValueError:
            log.exception("Exception in ASGI application\n")
        try:
            int("y")
        except ValueError:
            log.exception("Exception in ASGI application\n")
    assert len(written) == 5  # each place once
    for number in range(300):
        log.warning(f"{number}")
    assert len(written) == 305


class _Into(logging.Handler):
    def __init__(self, written: list[str]) -> None:
        super().__init__()
        self.written = written

    def emit(self, record: logging.LogRecord) -> None:
        self.written.append(record.getMessage())


@pytest.mark.parametrize(
    ("soft", "hard", "connections_", "raised"),
    [
        (1024, 4096, 256, None),
        (64, 20000, 256, 1024),
        (256, 512, 160, 512),
        (256, 256, 32, 256),
        (64, 64, 16, 64),
        (256, resource.RLIM_INFINITY, 256, 1024),
        (1_000_000, 1_000_000, 256, None),
    ],
)
def test_the_room_goes_by_how_many_files_may_be_open(
    monkeypatch: pytest.MonkeyPatch, soft: int, hard: int, connections_: int, raised: int | None
) -> None:
    set_to: list[tuple[int, int]] = []
    monkeypatch.setattr(resource, "getrlimit", lambda _: (soft, hard))
    monkeypatch.setattr(resource, "setrlimit", lambda _, limits: set_to.append(limits))
    assert room() == connections_
    assert set_to == ([] if raised is None else [(raised, hard)])
