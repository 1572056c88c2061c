"""Work held to a time and to room in memory: here (`within`), or in processes of its own that can be ended (`Crew`).

Here, a timer of the system counts the work that the processor does, so that a busy machine refuses nothing that an idle
one would do, and the system grants no more memory than is allowed. A function run by a crew is held to the same in its
process; one that does not come back even so, as it waits inside a library, is ended with its process. Where the system
knows no such timer or bound, as Windows, the ending is what is left.
"""

from __future__ import annotations

import atexit
import errno
import os
import pickle
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, nullcontext, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, ClassVar, Literal, TypeVar

Made = TypeVar("Made")

MB = 1_000_000

IDLE = 2
"""Processes of a crew that are kept when they have nothing to do, each with what it has read in: 12 to 26 MB of its own
where it is a copy, 36 to 45 elsewhere."""

AT_ONCE = 8
"""Processes of a crew that work at once. A ninth order waits; none has ever longer to wait than its bound allows."""

GRACE = 3.0, 2.0
"""How long a process may take for an order before it is ended: times the seconds it may work, and seconds more."""

SEARCHED_AFTER = 10_000, 10, 20
"""Things made in a process of a crew before the newest are searched for what is no longer used, and such searches before a
wider one: an order makes thousands, and nearly all of them are there until its end."""

BEGINS = 60.0
"""Seconds that a process may take to begin before another is asked for; it takes one or two."""

_HERE = b"!"
"""What a copied process says first."""

_ALONE = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
"""For the libraries of numbers: a process works at one thing, and one with several threads is not to be copied."""

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


class _Worker:
    """One process that runs functions, one after the other."""

    to: IO[bytes]
    back: IO[bytes]

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
        try:
            pickle.dump((bounds, *order), self.to, pickle.HIGHEST_PROTOCOL)
            self.to.flush()
            word, answer = pickle.load(self.back)
        except (OSError, EOFError, ValueError, pickle.UnpicklingError) as fault:
            self.kill()
            if late.is_set():
                raise Exceeded("time", bounds) from fault
            message = "the process ended"
            raise Ended(message) from fault
        finally:
            watch.cancel()
        return word, answer

    @property
    def runs(self) -> bool:
        """Whether the process is there; of one that has nothing to do."""
        raise NotImplementedError

    def kill(self) -> None:
        """End the process; whoever waits for it hears so."""
        raise NotImplementedError

    def close(self) -> None:
        """End the process and clear it away."""
        self.kill()
        for each in (self.to, self.back):
            with suppress(OSError):
                each.close()


class _Program(_Worker):
    """A process that reads in for itself what it needs."""

    def __init__(self, ready: str, *, behind: bool) -> None:
        self._process = _python(
            "works", ready, "behind" if behind else "", stdin=subprocess.PIPE, stdout=subprocess.PIPE
        )
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self.to, self.back = self._process.stdin, self._process.stdout

    @property
    def runs(self) -> bool:
        return self._process.poll() is None

    def kill(self) -> None:
        with suppress(OSError):
            self._process.kill()

    def close(self) -> None:
        super().close()
        self._process.wait()


class _Copy(_Worker):
    """A copy of a process that has read in what is needed."""

    def __init__(self, ready: str, *, behind: bool) -> None:
        self._original, self._number, self._line = _Original.copied(ready, behind=behind)
        self.to, self.back = self._line.makefile("wb"), self._line.makefile("rb")

    @property
    def runs(self) -> bool:
        try:
            return bool(self._line.recv(1, socket.MSG_PEEK | socket.MSG_DONTWAIT))
        except BlockingIOError:
            return True
        except OSError:
            return False

    def kill(self) -> None:
        self._original.end(self._number)
        with suppress(OSError):  # whoever waits hears of it too where the one that ends it is itself no more
            self._line.shutdown(socket.SHUT_RDWR)

    def close(self) -> None:
        super().close()
        self._line.close()


class _Original:
    """A process that has read in what work needs and works itself at nothing: others begin as copies of it (`os.fork`).

    A copy is there at once, where a program of its own reads for a second, and it shares the memory of what was read. There
    is one for each module that is to be read in; it ends with the program that started it.
    """

    _all: ClassVar[dict[str, _Original]] = {}
    _lock = threading.Lock()

    def __init__(self, ready: str) -> None:
        self._asks, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        with theirs, ExitStack() as unless_made:
            unless_made.enter_context(self._asks)
            line = theirs.fileno()
            self._process = _python("copies", ready, str(line), stdin=subprocess.DEVNULL, pass_fds=[line])
            unless_made.pop_all()
        self._made = 0
        atexit.register(self.close)

    @classmethod
    def copied(cls, ready: str, *, behind: bool) -> tuple[_Original, int, socket.socket]:
        """A copy of the one for a module: by whom and under which number it is known, and the line to it.

        Raises:
            OSError: the system gives no process.
        """
        with cls._lock:
            if (one := cls._all.get(ready)) is not None:
                try:
                    return one, *one._copy(behind=behind)
                except OSError:  # it may have been ended from outside, as any process
                    cls._all.pop(ready).close()
            one = cls._all[ready] = cls(ready)
            return one, *one._copy(behind=behind)

    def _copy(self, *, behind: bool) -> tuple[int, socket.socket]:
        self._made += 1
        with ExitStack() as unless_made:
            ours, its = socket.socketpair()
            unless_made.enter_context(ours)
            with its:
                socket.send_fds(self._asks, [b"%d %d" % (self._made, behind)], [its.fileno()])
            ours.settimeout(BEGINS)
            if ours.recv(len(_HERE)) != _HERE:
                raise OSError(errno.ESRCH, os.strerror(errno.ESRCH))
            ours.settimeout(None)
            unless_made.pop_all()
        return self._made, ours

    def end(self, number: int) -> None:
        """End a copy that was made."""
        with suppress(OSError):
            self._asks.send(b"%d" % number)

    def close(self) -> None:
        """End the process; its copies end as nobody asks them any more."""
        atexit.unregister(self.close)
        self._asks.close()
        self._process.kill()
        self._process.wait()


def _python(does: str, *given: str, **more: Any) -> subprocess.Popen[bytes]:
    """Python with a function of this module.

    It is not the library's own start of processes, which runs a program's main file once more, whatever that does.
    """
    return subprocess.Popen(
        [sys.executable, "-P", "-c", f"from scribeline.bounds import {does}; {does}()", *given],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(each for each in sys.path if each), **_ALONE},
        **more,
    )


def _begun(ready: str, *, behind: bool) -> _Worker:
    # Elsewhere than on Linux the system's own libraries do not bear being copied, or there is no such thing.
    return (_Copy if sys.platform == "linux" else _Program)(ready, behind=behind)


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
            worker = _begun(self._ready, behind=self._behind)
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
                    return _begun(self._ready, behind=self._behind)
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


# What a process of a crew does.


def works() -> None:
    """Run one function after the other, until nobody asks any more."""
    ready, behind = sys.argv[1:]
    orders, answers = sys.stdin.buffer, os.fdopen(os.dup(1), "wb")
    _read_in(ready)
    _work(orders, answers, behind=bool(behind))


def copies() -> None:
    """Copy this process whenever that is asked for, and end the copies that are named."""
    ready, line = sys.argv[1:]
    _read_in(ready)
    made: dict[int, int] = {}
    with socket.socket(fileno=int(line)) as asked:
        while True:
            said, given, *_ = socket.recv_fds(asked, 64, 1)
            if not said:
                return
            number, *behind = map(int, said.split())
            if not given:
                if (copy := made.pop(number, None)) is not None:
                    os.kill(copy, signal.SIGKILL)
                    os.waitpid(copy, 0)
                continue
            try:
                made[number] = os.fork()
            except OSError:
                return
            if not made[number]:
                break
            os.close(given[0])
    with suppress(BaseException), socket.socket(fileno=given[0]) as own:
        own.send(_HERE)
        _work(own.makefile("rb"), own.makefile("wb"), behind=bool(behind[0]))
    os._exit(0)


def _read_in(module: str) -> None:
    import gc
    import importlib

    os.dup2(2, 1)  # what a library prints must not stand between the answers
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # it is the app that is stopped, and this with it
    with suppress(OSError):  # where memory runs out, the system is to end this before the app
        Path("/proc/self/oom_score_adj").write_text("500", encoding="ascii")
    if module:
        importlib.import_module(module)
    gc.collect()
    gc.freeze()
    gc.set_threshold(*SEARCHED_AFTER)


def _work(orders: IO[bytes], answers: IO[bytes], *, behind: bool) -> None:
    if behind and hasattr(os, "nice"):
        os.nice(BEHIND)
    with suppress(EOFError, OSError):
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
