"""Connections to the app, bounded: nobody can take them, or the files this machine may open, from its owner.

The owner's own machine has an allowance of its own, the shop's network another, each address in it a part of that. An
address where no paired device was seen gets no more than its part. Elsewhere the newest connection still comes in, and another
goes: one of a device that is not paired, the oldest of the address that has most; else the oldest that waits. What a
device that is not paired asks for must arrive, and be taken, in a bounded time. A connection over https counts from its
first moment, before both sides have agreed on anything.
"""

from __future__ import annotations

import asyncio
import logging
import socket
import ssl
import time
import traceback
from asyncio import sslproto
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from typing import Any, TypeAlias

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol
from uvicorn.server import ServerState

from scribeline.web.guard import DEVICE

PER_ADDRESS = 24
"""Connections of one address of the network. A browser opens six to one machine; several devices may share an address."""

MOST = 256
"""Connections of the owner's machine; as many of the whole network."""

APPS_OWN = 192
"""Files that the app opens itself: 32 connections to its database with three files each, drawings, pipes of its processes,
and connections just closed that the system has not let go yet."""

HEAD_S = 10.0
"""How long the head of a request may take to arrive, from the connection's opening or the answer before it; before it, over
https, as long again for agreeing on the keys."""

STRANGER_S = 30.0
"""How long a device that is not paired may take over a request and its answer."""

STALLED_S = 60.0
"""How long a paired device may leave an answer lying."""

TELL_S = 60.0
"""How often at most the same is written to the log."""

QUEUE = 1024
"""Connections the system keeps until they are accepted."""

AT_ONCE = 16
"""Connections accepted before anything else is looked at again: about 2 ms, and a request needs a few such turns."""

BUFFER = 65_536
"""Bytes of an answer that wait for the other side to take them; over https the event loop would keep half a million."""

sslproto.SSLProtocol.max_size = 16_384
"""Bytes that are read at once over https: one record (RFC 8446, 5.1). The event loop sets a quarter of a million aside for
each connection as soon as it is there."""

_log = logging.getLogger("uvicorn.error")


class Connections(ServerState):
    """Every open connection, by whom it comes from; the oldest first.

    Args:
        own: whether an address is the owner's own machine.
        most: connections of the owner's machine, and of the network.
        patience: factor on every time limit.
    """

    def __init__(self, own: Callable[[str], bool], *, most: int = MOST, patience: float = 1.0) -> None:
        super().__init__()
        self.own, self.most, self.patience = own, most, patience
        self.by_address: dict[str, dict[Open, None]] = {}
        self.network: dict[Open, None] = {}
        self.known: set[str] = set()
        self.closed: Counter[str] = Counter()
        self.told_at = float("-inf")
        self.loop: asyncio.AbstractEventLoop | None = None

    def opened(self, line: Open) -> None:
        """Take a connection in, and let another go where there are too many."""
        mates = self.by_address.setdefault(line.address, {})
        mates[line] = None
        if line.is_own:
            self._bound(mates, self.most)
        else:
            self.network[line] = None
            self._bound(mates, min(PER_ADDRESS, self.most))
            self._bound(self.network, self.most)

    def refuses(self, address: str) -> bool:
        """Whether an address has its part already, and no paired device was ever seen there; then it is counted."""
        mates = self.by_address.get(address, {})
        is_full = len(mates) >= min(PER_ADDRESS, self.most)
        refused = is_full and address not in self.known and not any(line.is_trusted for line in mates)
        if refused:
            self.closed[address] += 1
        return refused

    def gone(self, line: Open) -> None:
        """A connection is over."""
        if line.device:
            self.known.add(line.address)
        self.network.pop(line, None)
        mates = self.by_address.get(line.address, {})
        mates.pop(line, None)
        if not mates:
            self.by_address.pop(line.address, None)

    def end(self, device: str) -> None:
        """End every connection of a paired device, whatever is on its way there; from any thread."""
        if self.loop is not None:
            self.loop.call_soon_threadsafe(self._end, device)

    def _end(self, device: str) -> None:
        for line in [each for each in self.network if each.device == device]:
            self._close(line)

    def sweep(self) -> None:
        """Close what takes too long; once in a while tell how many were closed."""
        now = time.monotonic()
        for line in [each for mates in self.by_address.values() for each in mates]:
            if line.overdue(now, self.patience):
                self._close(line)
        if self.closed and now - self.told_at > TELL_S:
            self.told_at = now
            (first, _), *others = self.closed.most_common()
            more = f" and {len(others)} more" if others else ""
            _log.warning(
                "Closed %d connections, too many or too slow, of %s%s", self.closed.total(), first, more
            )
            self.closed.clear()

    def _bound(self, lines: dict[Open, None], most: int) -> None:
        if len(lines) > most:
            self._close(self._least_missed([*lines]))

    def _least_missed(self, lines: list[Open]) -> Open:
        """The oldest of a device that is not paired, and of the address that has most; else one that answers nothing."""
        if strangers := [line for line in lines if not line.is_trusted]:
            return max(strangers, key=lambda line: len(self.by_address[line.address]))
        return next((line for line in lines if not line.is_answering), lines[0])

    def end_every(self, kind: type[Open]) -> None:
        """End every connection of a kind: the app stops."""
        for line in [each for mates in self.by_address.values() for each in mates]:
            if isinstance(line, kind):
                self.gone(line)
                line.transport.abort()

    def _close(self, line: Open) -> None:
        if not line.is_trusted:
            self.closed[line.address] += 1
        self.gone(line)
        line.transport.abort()


class Line(H11Protocol):
    """One connection."""

    server_state: Connections
    address = ""
    is_own = False
    doing: tuple[Any, bool] | None = None
    since = 0.0

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Come in, or be closed at once."""
        super().connection_made(transport)
        self.address = self.client[0] if self.client else ""
        self.is_own = self.server_state.own(self.address)
        self.server_state.opened(self)

    def connection_lost(self, exc: Exception | None) -> None:
        """Be over."""
        super().connection_lost(exc)
        self.server_state.gone(self)

    @property
    def device(self) -> str:
        """The paired device that asked last on it; nothing where it is not paired."""
        asked: Any = self.scope  # none before the first request
        return str(asked["state"].get(DEVICE, "")) if asked else ""

    @property
    def is_trusted(self) -> bool:
        """Whether it is the owner's machine's or a paired device's."""
        return self.is_own or bool(self.device)

    @property
    def is_answering(self) -> bool:
        """Whether a request came in whole and its answer is not out yet."""
        return self._is_asked and not self.cycle.more_body

    @property
    def _is_asked(self) -> bool:
        cycle: Any = self.cycle  # none before the first request
        return bool(cycle) and not cycle.response_complete

    def overdue(self, now: float, patience: float) -> bool:
        """Whether what it is doing takes longer than it may."""
        doing = (self.cycle if self._is_asked else None, self.flow.write_paused)
        if self.doing is None or self.doing[0] is not doing[0] or self.doing[1] != doing[1]:
            self.doing, self.since = doing, now
        return now - self.since > patience * self._limit()

    def _limit(self) -> float:
        if not self._is_asked:
            return HEAD_S
        if not self.is_trusted:
            return STRANGER_S
        return STALLED_S if self.flow.write_paused else float("inf")


class Greeting(asyncio.Protocol):
    """A connection over https until both sides have agreed on its keys; then a line takes its place.

    Args:
        connections: that it is counted among.
        context: with what this machine answers at one of its addresses.
        then: makes the line.
    """

    device = ""
    is_answering = False

    def __init__(
        self, connections: Connections, context: Callable[[str], ssl.SSLContext], then: Callable[[], Line]
    ) -> None:
        self.server_state, self.context, self.then = connections, context, then
        self.address = ""
        self.is_own = self.is_over = False
        self.since = time.monotonic()
        self.early = bytearray()
        self.transport: Any = None
        self.task: asyncio.Task[None] | None = None

    @property
    def is_trusted(self) -> bool:
        """Whether it is the owner's machine's."""
        return self.is_own

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Come in; nothing is read before it is known how."""
        self.transport = transport
        self.transport.pause_reading()
        self.address = str((transport.get_extra_info("peername") or [""])[0])
        self.is_own = self.server_state.own(self.address)
        self.task = asyncio.get_running_loop().create_task(self._agree())
        self.server_state.opened(self)

    def data_received(self, data: bytes) -> None:
        """Keep what came right behind the agreement, for the line; a side that goes on before it is answered is held back."""
        self.early += data

    def connection_lost(self, exc: Exception | None) -> None:
        """Be over."""
        del exc
        self.is_over = True

    def overdue(self, now: float, patience: float) -> bool:
        """Whether agreeing takes longer than it may."""
        return now - self.since > patience * HEAD_S

    async def _agree(self) -> None:
        agreed = None
        try:
            agreed = await asyncio.get_running_loop().start_tls(
                self.transport,
                self,
                self.context(str(self.transport.get_extra_info("sockname")[0])),
                server_side=True,
                ssl_shutdown_timeout=HEAD_S,
            )
        except OSError as fault:  # no https, or gone: nothing anybody here could do anything about
            self.transport.abort()
            traceback.clear_frames(fault.__traceback__)  # which hold each other, and the buffers with them
        finally:
            self.server_state.gone(self)
        if agreed is None or self.is_over or agreed.is_closing():
            return
        line = self.then()
        agreed.set_write_buffer_limits(high=BUFFER)
        agreed.set_protocol(line)
        line.connection_made(agreed)
        if self.early:
            line.data_received(bytes(self.early))


Open: TypeAlias = Line | Greeting
"""What is counted."""


class Entrance(socket.socket):
    """A listening socket to the network; whoever is refused there costs half as much as a connection that is ended."""

    connections: Connections | None = None
    context: Callable[[str], ssl.SSLContext] | None = None
    """With what it answers over https at one of this machine's addresses; nothing where it answers over http."""

    def accept(self) -> tuple[socket.socket, Any]:
        """The next connection that is not refused; none where so many were refused that others have waited long enough.

        Raises:
            BlockingIOError: there is none now.
        """
        for _ in range(AT_ONCE):
            line, address = super().accept()
            if self.connections is None or not self.connections.refuses(address[0]):
                return line, address
            line.close()
        raise BlockingIOError


class Server(uvicorn.Server):
    """The server over bounded connections.

    Args:
        app: what answers.
        connections: who is connected.
        before_end: ends what would go on of itself, such as streams of events, before the server waits for what is
            under way.
    """

    def __init__(
        self, app: Any, connections: Connections, *, before_end: Callable[[], None] = lambda: None
    ) -> None:
        super().__init__(
            uvicorn.Config(
                app,
                http=Line,
                ws="none",
                log_level="warning",
                access_log=False,
                timeout_graceful_shutdown=2,
                proxy_headers=False,
                backlog=AT_ONCE,
            )
        )
        self.server_state: Connections = connections
        self.before_end = before_end

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Let nothing more in, and wait a little for what is under way."""
        self.before_end()
        self.server_state.end_every(Greeting)
        await super().shutdown(sockets)
        self.server_state.end_every(Line)  # over https each would wait for the other side's goodbye
        await asyncio.sleep(0)

    async def serve(self, sockets: list[socket.socket] | None = None) -> None:
        """Serve until told to stop; the same complaint goes into the log seldom."""
        seldom, logs = Seldom(), [_log, logging.getLogger("asyncio")]
        for log in logs:
            log.addFilter(seldom)
        try:
            await super().serve(sockets)
        finally:
            for log in logs:
                log.removeFilter(seldom)

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Open the doors; more may stand before them than are accepted at once."""
        self.server_state.loop = asyncio.get_running_loop()
        every = sockets or []
        await super().startup([each for each in every if not getattr(each, "context", None)])
        for each in every:
            if isinstance(each, Entrance):
                each.connections = self.server_state
                if each.context is not None:
                    await self._over_https(each, each.context)
            each.listen(QUEUE)

    async def _over_https(self, door: Entrance, context: Callable[[str], ssl.SSLContext]) -> None:
        """Open a door to https."""

        def line() -> Line:
            return Line(config=self.config, server_state=self.server_state, app_state=self.lifespan.state)

        def greeting() -> Greeting:
            return Greeting(self.server_state, context, line)

        loop = asyncio.get_running_loop()
        self.servers.append(await loop.create_server(greeting, sock=door, backlog=AT_ONCE))

    async def on_tick(self, counter: int) -> bool:
        """Ten times a second; look after the connections once."""
        if counter % 10 == 0:
            self.server_state.sweep()
        return await super().on_tick(counter)


class Seldom(logging.Filter):
    """Lets the same complaint into the log once in a while, with how often it came meanwhile."""

    KEPT = 100

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        super().__init__()
        self.clock = clock
        self.told: dict[object, tuple[float, int]] = {}

    def filter(self, record: logging.LogRecord) -> bool:
        """Whether a record is written."""
        trace = record.exc_info[2] if record.exc_info else None
        where = traceback.extract_tb(trace)[-1][:2] if trace else ()
        what = (record.msg, where)
        at, more = self.told.get(what, (float("-inf"), 0))
        now = self.clock()
        if now - at < TELL_S:
            self.told[what] = at, more + 1
            return False
        if len(self.told) >= self.KEPT:
            self.told.clear()
        self.told[what] = now, 0
        if more:
            record.msg = f"{str(record.msg).rstrip()} ({more} times more before this)"
        return True


def room() -> int:
    """Connections that the owner's machine may have, and as many the network, by how many files this process may open."""
    files = 1024
    with suppress(ImportError):  # Windows bounds sockets by memory alone
        import resource

        soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
        if soft < files:
            files = files if hard == resource.RLIM_INFINITY else min(files, hard)
            resource.setrlimit(resource.RLIMIT_NOFILE, (files, hard))
    return max(16, min(MOST, (files - APPS_OWN) // 2))
