"""Telling open pages that a job changed: one stream of events a browser, none of which holds a thread.

A page carries the mark of its job as it was when it was made; a stream says the marks as they are now, and each new one.
A page whose mark is another asks for itself again. A list of jobs carries the mark of them all. A mark is of this run of
the app, so that after a restart every page asks once.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from dataclasses import dataclass, field
from json import dumps
from secrets import token_hex
from threading import Lock

MOST_OF_A_DEVICE = 6
"""Streams of one device: a browser needs one, and one that lost its network leaves one behind for a while."""

MOST = 60
"""Streams in all."""

STILL_S = 10.0
"""So long after the last word a stream says that it is still there, s."""

RETRY_MS = 500
"""So long after a stream broke off a browser tries anew, ms."""


LISTS = 0
"""In place of a job's number, which begin at 1: what is told of a job in the lists is new, and the job as it was."""


@dataclass(eq=False)
class _Stream:
    """One open stream.

    Attributes:
        device: whose it is.
        loop: it runs in.
        woken: set when there is something to say.
        news: jobs that changed since it last said something, with their counts.
        over: why it ends: "enough" where the device has newer ones, "end" where the app stops.
    """

    device: str
    loop: asyncio.AbstractEventLoop
    woken: asyncio.Event = field(default_factory=asyncio.Event)
    news: dict[int, int] = field(default_factory=dict)
    over: str = ""

    def wake(self) -> None:
        """Have it look, from whichever thread."""
        if not self.loop.is_closed():
            self.loop.call_soon_threadsafe(self.woken.set)


class Live:
    """Who listens, and how often each job has changed. Safe to use from several threads."""

    def __init__(self) -> None:
        self._run = token_hex(4)
        self._counts: dict[int, int] = {}
        self._streams: list[_Stream] = []
        self._lock = Lock()
        self._closed = False

    @property
    def open(self) -> int:
        """How many streams are open."""
        return len(self._streams)

    @property
    def is_closed(self) -> bool:
        """Whether the app stops."""
        return self._closed

    def mark(self, job_id: int) -> str:
        """The mark of a job as it is now; asked for before a page reads the job."""
        return f"{self._run} {self._counts.get(job_id, 0)}"

    def mark_of_all(self) -> str:
        """The mark of the jobs together; asked for before a list reads them."""
        with self._lock:
            return f"{self._run} {sum(self._counts.values())}"

    def tell(self, job_id: int) -> None:
        """Say that a job changed, or what was done or read for it; or, with `LISTS`, what the lists tell of one."""
        with self._lock:
            self._counts[job_id] = self._counts.get(job_id, 0) + 1
            for stream in self._streams:
                stream.news[job_id] = self._counts[job_id]
                stream.wake()

    def close(self) -> None:
        """End every stream: the app stops."""
        with self._lock:
            self._closed = True
            for stream in self._streams:
                stream.over = stream.over or "end"
                stream.wake()

    async def listen(self, device: str) -> AsyncIterator[str]:
        """The events for one browser, until it goes, has newer streams, or the app stops."""
        stream = _Stream(device, asyncio.get_running_loop())
        try:
            with self._lock:
                if self._closed:
                    return
                counts = dict(self._counts)
                self._make_room(device)
                self._streams.append(stream)
            yield f"retry: {RETRY_MS}\n" + _event("all", {"run": self._run, "jobs": counts})
            while not stream.over:
                try:
                    async with asyncio.timeout(STILL_S):
                        await stream.woken.wait()
                except TimeoutError:
                    yield _event("still", {})
                    continue
                stream.woken.clear()
                with self._lock:
                    news, stream.news = stream.news, {}
                if news:
                    yield _event("news", {"run": self._run, "jobs": news})
            if stream.over == "enough":
                yield _event("enough", {})
        finally:
            with self._lock:
                if stream in self._streams:
                    self._streams.remove(stream)

    def _make_room(self, device: str) -> None:
        """End the oldest streams that are too many, those of this device first."""
        own = [each for each in self._streams if each.device == device and not each.over]
        every = [each for each in self._streams if not each.over]
        for stream in (
            own[: max(0, len(own) + 1 - MOST_OF_A_DEVICE)] or every[: max(0, len(every) + 1 - MOST)]
        ):
            stream.over = "enough"
            stream.wake()


def _event(name: str, said: object) -> str:
    return f"event: {name}\ndata: {dumps(said)}\n\n"
