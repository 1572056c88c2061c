"""Work held to a time and to room in memory: here (`within`), or in processes of its own that can be ended (`Crew`).

Here, a timer of the system counts the work that the processor does, so that a busy machine refuses nothing that an idle
one would do, and the system grants no more memory than is allowed. A function run by a crew is held to the same in its
process; one that does not come back even so, as it waits inside a library, is ended with its process. Where the system
knows no such timer or bound, as Windows, the ending is what is left.
"""

from __future__ import annotations

import os
import pickle
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, Literal, TypeVar

Made = TypeVar("Made")

MB = 1_000_000

IDLE = 2
"""Processes of a crew that are kept when they have nothing to do, each with what it has read in: 60 to 100 MB."""

AT_ONCE = 8
"""Processes of a crew that work at once. A ninth order waits; none has ever longer to wait than its bound allows."""

GRACE = 3.0, 2.0
"""How long a process may take for an order before it is ended: times the seconds it may work, and seconds more."""

SEARCHED_AFTER = 10_000, 10, 20
"""Things made in a process of a crew before the newest are searched for what is no longer used, and such searches before a
wider one: an order makes thousands, and nearly all of them are there until its end."""

BEHIND = 5
"""By how much work stands back that nobody waits for, where the machine knows of such a thing (as `nice` counts)."""


@dataclass(frozen=True, slots=True)
class Bounds:
    """What a piece of work may take.

    Attributes:
        seconds: of the processor.
        megabytes: of memory, beyond what the process has before.
    """

    seconds: float
    megabytes: float


class Exceeded(BaseException):
    """Work that took all it may and was cut off; no fault that is caught along with others on its way out.

    Attributes:
        what: what it took too much of.
        bounds: to which it was held.
    """

    def __init__(self, what: Literal["time", "memory"], bounds: Bounds) -> None:
        super().__init__(what, bounds)
        self.what, self.bounds = what, bounds

    @property
    def at(self) -> str:
        """What it was about, as whoever did it has noted on the way out; "" where nobody has."""
        return "; ".join(getattr(self, "__notes__", ()))

    @property
    def words(self) -> str:
        """The bound as the object of a sentence."""
        if self.what == "time":
            return f"more than {self.bounds.seconds:g} s, which is all it may take"
        return f"more than {self.bounds.megabytes:g} MB of memory, which is all it may take"


@contextmanager
def within(bounds: Bounds) -> Iterator[None]:
    """Hold what is done inside to a time and to room in memory; in a program's first thread, once at a time.

    Raises:
        Exceeded: it took more.
    """
    import numpy as np  # noqa: F401  # reserves room for all processors when it is loaded, which is no use of memory

    first = threading.current_thread() is threading.main_thread()
    with _timed(bounds) if first else nullcontext(), _roomed(bounds):
        try:
            yield
        except MemoryError as fault:
            cut = Exceeded("memory", bounds)
            for note in getattr(fault, "__notes__", ()):
                cut.add_note(note)
            raise cut from fault


@contextmanager
def _timed(bounds: Bounds) -> Iterator[None]:
    if not hasattr(signal, "setitimer"):
        yield
        return

    def over(_number: int, _frame: object) -> None:
        raise Exceeded("time", bounds)

    before = signal.signal(signal.SIGPROF, over)
    # Again and again: what goes off while something is being cleared away is lost there.
    signal.setitimer(signal.ITIMER_PROF, bounds.seconds, 1.0)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        signal.signal(signal.SIGPROF, before)


@contextmanager
def _roomed(bounds: Bounds) -> Iterator[None]:
    taken = _taken()
    if taken is None:
        yield
        return
    import resource

    soft, hard = resource.getrlimit(resource.RLIMIT_AS)
    room = int(taken + bounds.megabytes * MB)
    if hard != resource.RLIM_INFINITY:
        room = min(room, hard)
    resource.setrlimit(resource.RLIMIT_AS, (room, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_AS, (soft, hard))


def _taken() -> int | None:
    """Bytes of addresses this process has taken; None where the system does not tell, nor hold to a bound: Linux does both."""
    try:
        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0])
    except (OSError, ValueError):
        return None
    return pages * os.sysconf("SC_PAGE_SIZE")


class Ended(Exception):  # noqa: N818 - reads as what it is
    """A process was ended by somebody else."""


class NoProcess(Exception):  # noqa: N818 - reads as what it is
    """The system gives no process."""


_SERVE = "from scribeline.bounds import serve; serve()"


class _Worker:
    """One process that runs functions, one after the other."""

    def __init__(self, ready: str, *, behind: bool) -> None:
        # Not the library's own start of processes: that runs a program's main file once more, whatever that does.
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-c", _SERVE, ready, "behind" if behind else ""],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": os.pathsep.join(each for each in sys.path if each)},
        )

    def run(self, order: tuple[Any, ...], bounds: Bounds) -> tuple[str, Any]:
        """What became of an order: a word and what belongs to it.

        Raises:
            Exceeded: it did not come back in time.
            Ended: the process ended.
        """
        late = threading.Event()

        def end() -> None:
            late.set()
            self.kill()

        times, more = GRACE
        watch = threading.Timer(times * bounds.seconds + more, end)
        watch.daemon = True
        watch.start()
        to, back = self._ends()
        try:
            pickle.dump((bounds, *order), to, pickle.HIGHEST_PROTOCOL)
            to.flush()
            word, answer = pickle.load(back)
        except (OSError, EOFError, ValueError, pickle.UnpicklingError) as fault:
            self.kill()
            if late.is_set():
                raise Exceeded("time", bounds) from fault
            message = "the process ended"
            raise Ended(message) from fault
        finally:
            watch.cancel()
        return word, answer

    def _ends(self) -> tuple[IO[bytes], IO[bytes]]:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        return self._process.stdin, self._process.stdout

    @property
    def runs(self) -> bool:
        """Whether the process is there."""
        return self._process.poll() is None

    def kill(self) -> None:
        """End the process; whoever waits for it hears so."""
        with suppress(OSError):
            self._process.kill()

    def close(self) -> None:
        """End the process and clear it away."""
        self.kill()
        with suppress(OSError):
            for each in self._ends():
                each.close()
        self._process.wait()


class Handle:
    """A piece of work that was begun or waits for its turn; `stop` ends it from any thread."""

    def __init__(self) -> None:
        self._worker: _Worker | None = None
        self.is_stopped = False

    def stop(self) -> None:
        """End the work, with its process."""
        self.is_stopped = True
        if (worker := self._worker) is not None:
            worker.kill()

    def works_at(self, worker: _Worker | None) -> None:
        """Note which process works at it."""
        self._worker = worker
        if worker is not None and self.is_stopped:
            worker.kill()


class Crew:
    """Runs functions in processes of their own, each held to its bounds; a few idle ones are kept for what comes next.

    Args:
        ready: module that is read in before the first order comes.
        idle: how many processes are kept.
        at_once: how many work at the same time.
        behind: whether nobody waits for them, so that all else goes first.
    """

    def __init__(
        self, ready: str = "", *, idle: int = IDLE, at_once: int = AT_ONCE, behind: bool = False
    ) -> None:
        self._ready, self._most, self._behind = ready, idle, behind
        self._idle: list[_Worker] = []
        self._room = threading.BoundedSemaphore(at_once)
        self._lock = threading.Lock()
        self._is_closed = False

    def get_ready(self) -> None:
        """Start the processes that are kept, so that the first orders need not wait for them."""
        for _ in range(self._most):
            worker = _Worker(self._ready, behind=self._behind)
            with self._lock:
                if not self._is_closed and len(self._idle) < self._most:
                    self._idle.append(worker)
                    continue
            worker.close()

    def run(
        self,
        bounds: Bounds,
        make: Callable[..., Made],
        *given: Any,
        handle: Handle | None = None,
    ) -> Made:
        """What a function makes of what it is given, made in another process.

        Args:
            bounds: what it may take.
            make: of a module, so that the other process finds it by its name.
            given: to the function.
            handle: by which another thread may end it.

        Raises:
            Exceeded: it took more than it may.
            Ended: its process was ended, by `handle`, from outside, or by a library that found no memory.
            NoProcess: none can be had.
            Exception: whatever the function raised.
        """
        stops = handle or Handle()
        with self._room:
            try:
                word, answer = self._run((make, given), bounds, stops)
            except Ended:
                if stops.is_stopped:
                    raise
                word, answer = self._run((make, given), bounds, stops)  # an idle one may have been ended
        if word == "made":
            made: Made = answer
            return made
        if word == "exceeded":
            what, at = answer
            cut = Exceeded(what, bounds)
            if at:
                cut.add_note(at)
            raise cut
        raise answer

    def _run(self, order: tuple[Any, ...], bounds: Bounds, handle: Handle) -> tuple[str, Any]:
        if handle.is_stopped:
            message = "it was stopped before it began"
            raise Ended(message)
        worker = self._one()
        handle.works_at(worker)
        try:
            word, answer = worker.run(order, bounds)
        except BaseException:
            worker.close()
            raise
        finally:
            handle.works_at(None)
        self._back(worker, is_spent=word == "exceeded" or handle.is_stopped)
        return word, answer

    def close(self) -> None:
        """End the idle processes; those at work end when they are done."""
        with self._lock:
            self._is_closed = True
            idle, self._idle = self._idle, []
        for worker in idle:
            worker.close()

    def _one(self) -> _Worker:
        while True:
            with self._lock:
                worker = self._idle.pop() if self._idle else None
            if worker is None:
                try:
                    return _Worker(self._ready, behind=self._behind)
                except OSError as fault:
                    message = "the system gives no process"
                    raise NoProcess(message) from fault
            if worker.runs:
                return worker
            worker.close()

    def _back(self, worker: _Worker, *, is_spent: bool) -> None:
        """Keep a process for the next order; not one in which work was torn off."""
        with self._lock:
            if not is_spent and not self._is_closed and len(self._idle) < self._most:
                self._idle.append(worker)
                return
        worker.close()


def serve() -> None:
    """What a process of a crew does: run one function after the other, until nobody asks any more."""
    import gc
    import importlib

    # What a library prints must not stand between the answers.
    orders, answers = sys.stdin.buffer, os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # it is the app that is stopped, and this with it
    with suppress(OSError):  # where memory runs out, the system is to end this before the app
        Path("/proc/self/oom_score_adj").write_text("500", encoding="ascii")
    if sys.argv[2] and hasattr(os, "nice"):
        os.nice(BEHIND)
    if sys.argv[1]:
        importlib.import_module(sys.argv[1])
    gc.collect()
    gc.freeze()
    gc.set_threshold(*SEARCHED_AFTER)
    with suppress(EOFError, BrokenPipeError):
        while True:
            bounds, make, given = pickle.load(orders)
            pickle.dump(_outcome(bounds, make, given), answers, pickle.HIGHEST_PROTOCOL)
            answers.flush()


def _outcome(bounds: Bounds, make: Callable[..., Any], given: tuple[Any, ...]) -> tuple[str, Any]:
    try:
        with within(bounds):
            return "made", make(*given)
    except Exceeded as cut:
        return "exceeded", (cut.what, cut.at)
    except Exception as fault:  # noqa: BLE001 - whoever asked meets it as if he had done it himself
        return "raised", fault
