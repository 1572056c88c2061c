"""`scribeline serve`: the app on this machine, ready in a moment, its address said plainly."""

from __future__ import annotations

import gc
import os
import socket
import sys
import threading
import tomllib
import webbrowser
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from scribeline.files import UNFINISHED, Taken, held, owners_alone, why
from scribeline.job import JobError
from scribeline.store import StoreError, open_store, restore_store
from scribeline.web.certificate import CERTIFICATE_FOLDER
from scribeline.web.door import KEY_FILE, LIST_FILE, own_address

if TYPE_CHECKING:
    from scribeline.web.certificate import Certificate
    from scribeline.web.connections import Entrance
    from scribeline.web.planning import Planner

STORE = "shop.db"
RUNNING = "running"
"""File that the app holds as long as it runs; its address stands in it."""

FIRST_PORT = 8437
TRIED = 20
LAST_PORT = 65535


def data_folder() -> Path:
    """Where the shop's data lies unless said otherwise, as the operating system has it."""
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = Path.home() / "Library" / "Application Support"
    else:
        base = Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share")
    return base / "scribeline"


def listening(port: int | None) -> socket.socket:
    """A socket for this machine alone, on the port asked for or on the first free one from the usual port on.

    Raises:
        OSError: the port asked for is taken, or none of the usual ones is free.
    """
    if port is not None and not 0 <= port <= LAST_PORT:
        message = f"port {port} cannot be: ports run from 1 to {LAST_PORT}"
        raise OSError(message)
    wanted = [port] if port is not None else [*range(FIRST_PORT, FIRST_PORT + TRIED), 0]
    for each in wanted:
        # With its protocol named the event loop sends every answer at once. Otherwise the second part of each waits for
        # the other side to acknowledge the first, which it is in no hurry to do: 40 ms.
        door = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        if os.name == "posix":
            door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            door.bind(("127.0.0.1", each))
            door.listen()  # two that start at once can both bind; only one of them may listen
        except OSError as fault:
            door.close()
            if port is not None:
                message = (
                    f"port {port} is taken or not allowed ({fault.strerror}); choose another with --port"
                )
                raise OSError(message) from fault
            continue
        return door
    message = f"no port from {FIRST_PORT} on is free; choose one with --port"
    raise OSError(message)


def to_the_network(own: socket.socket) -> socket.socket:
    """A second socket on the same port for everybody else, so that a crowd before it does not stand in this machine's way.

    Raises:
        OSError: the port is taken there.
    """
    number = own.getsockname()[1]
    door = _entrance()
    both = getattr(
        socket, "SO_REUSEPORT", None
    )  # Windows lets a narrower address stand beside a wider one anyway
    try:
        for each in (own, door):
            if both is not None:
                each.setsockopt(socket.SOL_SOCKET, both, 1)
        door.bind(("0.0.0.0", number))
        door.listen()
        for each in (own, door):
            if both is not None:
                each.setsockopt(socket.SOL_SOCKET, both, 0)  # nobody else beside them
    except OSError as fault:
        door.close()
        message = f"port {number} is taken in the network ({fault.strerror}); choose another with --port"
        raise OSError(message) from fault
    return door


def _entrance() -> Entrance:
    """A socket for the network, not bound to a port yet."""
    from scribeline.web.connections import Entrance

    door = Entrance(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    if os.name == "posix":
        door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    door.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
    if hasattr(socket, "TCP_USER_TIMEOUT"):  # a tablet that left the network without a word
        door.setsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT, 60_000)
    return door


def over_https(certificate: Certificate, port: int | None, beside: int) -> Entrance:
    """A socket for the network over https, on the port asked for or on the first free one after the app's own.

    Args:
        certificate: what it answers with.
        port: asked for.
        beside: the app's own.

    Raises:
        OSError: the port asked for is taken, or none is free.
    """
    if port is not None and not 0 <= port <= LAST_PORT:
        message = f"port {port} cannot be: ports run from 1 to {LAST_PORT}"
        raise OSError(message)
    last = min(beside + TRIED, LAST_PORT)
    for each in [port] if port is not None else [*range(beside + 1, last + 1), 0]:
        door = _entrance()
        door.context = certificate.context
        try:
            door.bind(("0.0.0.0", each))
            door.listen()
        except OSError as fault:
            door.close()
            if port is not None:
                message = f"port {port} is taken or not allowed ({fault.strerror}); choose another with --https-port"
                raise OSError(message) from fault
            continue
        return door
    message = f"no port from {beside + 1} on is free; choose one with --https-port"
    raise OSError(message)


def _made(folder: Path) -> None:
    """Make the data folder where it is missing.

    Raises:
        OSError: it cannot be made.
    """
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as fault:
        message = f"the folder {folder} cannot be made: {why(fault)}; or name another with --data"
        raise OSError(message) from fault


_OURS = (
    STORE,
    f"{STORE}-wal",
    f"{STORE}-shm",
    RUNNING,
    KEY_FILE,
    LIST_FILE,
    CERTIFICATE_FOLDER,
    "made",
    "beside",
    "*.backup",
    f"{UNFINISHED}*",
)


def _close_to_others(folder: Path) -> None:
    """Have the shop's data be its owner's alone, that of earlier times too.

    A folder that holds other things as well stays as open as it was; the app's own in it are closed.
    """
    there = [*folder.iterdir()]
    ours = [each for each in there if any(each.match(name) for name in _OURS)]
    for each in ours:
        owners_alone(each)
    if len(ours) == len(there):
        owners_alone(folder)


@contextmanager
def _alone(folder: Path) -> Iterator[Callable[[str], None]]:
    """Be the only app on this folder; what comes notes the app's address for a second one that is started.

    Raises:
        OSError: another one runs, or the folder may not be written to.
    """
    try:
        with held(folder / RUNNING) as file:

            def note(address: str) -> None:
                file.write(address.encode())
                file.flush()

            yield note
    except Taken as taken:
        at = f" at {taken.words}" if taken.words else ""
        message = (
            f"the shop app runs already{at} on the data in {folder}. "
            "Use that one, or stop it first, or name another folder with --data"
        )
        raise OSError(message) from taken


def restore(backup: Path, folder: Path) -> Path:
    """Bring a backup back as the shop's store.

    Raises:
        StoreError: there is a store already, or the file is no backup.
    """
    _made(folder)
    path = folder / STORE
    restore_store(backup, path)
    return path


def job_in(folder: Path, job: Path) -> int:
    """The job of a file among the shop's jobs: the one brought in from the same text, or a new one with its drawing.

    One that is archived is opened as it stands; one that is deleted is left so, and the file brought in anew.

    Raises:
        JobError: the file cannot be read.
        StoreError: the store does not take it.
    """
    from scribeline.job.toml_text import text_of
    from scribeline.web.shop import SHOPS_PC

    text = text_of(job, missing=f"there is no file {job}; check the name")
    with open_store(folder / STORE) as store:
        for entry in (*store.jobs(), *store.jobs("archived")):
            if store.revision(entry.id, 1).text == text:
                return entry.id
        try:
            number = store.import_(text, THIS_FILE).job_id
        except JobError as error:
            raise JobError(error.faults, str(job)) from error
        for drawing in _drawings_of(text):
            if not (job.parent / drawing).is_file():
                continue
            with suppress(StoreError, OSError):  # the job's page says what it lacks, and takes it
                store.attach(number, drawing, (job.parent / drawing).read_bytes(), by=SHOPS_PC)
        return number


def _drawings_of(text: str) -> Iterator[str]:
    """The files that a job takes the outlines of its body and its head from."""
    for table, key in (("body", "outline"), ("head", "drawing")):
        with suppress(tomllib.TOMLDecodeError, KeyError, TypeError):
            stated: Any = tomllib.loads(text)
            yield str(stated[table][key]["file"])


THIS_FILE = "the job file"

SEARCHED_AFTER = 10_000, 10, 20
"""Things made before the newest are searched for what is no longer used, such searches before a wider one, and before
the widest: an edit leaves about 2500. In 200 edits it took no more memory than searching after 700, 10 and 10 did."""


def _get_ready(planner: Planner) -> None:
    """Read in what the first plan needs while the first page is being looked at, and take it for good.

    What is loaded once and stays is left out of Python's search for things no longer used, and that search is made
    seldom: otherwise it held up an edit in twenty for a tenth of a second, and every edit for some of it.
    """
    import scribeline.drawing.views
    import scribeline.plan  # noqa: F401

    planner.get_ready()

    gc.collect()
    gc.freeze()
    gc.set_threshold(*SEARCHED_AFTER)


def run(
    *,
    folder: Path,
    port: int | None,
    share: bool,
    browser: bool,
    job: Path | None = None,
    https_port: int | None = None,
) -> int:
    """Serve until interrupted."""
    from scribeline.web.app import create_app
    from scribeline.web.certificate import Certificate
    from scribeline.web.connections import Connections, Server, room
    from scribeline.web.guard import is_loopback
    from scribeline.web.planning import Planner
    from scribeline.web.shop import Shop

    _made(folder)
    with ExitStack() as stack:
        note = stack.enter_context(_alone(folder))
        _close_to_others(folder)
        at = "" if job is None else f"/jobs/{job_in(folder, job)}"
        doors = [stack.enter_context(listening(port))]
        number = int(doors[0].getsockname()[1])
        stack.callback(os.umask, os.umask(0o077))  # what the app makes is its owner's alone
        certificate, secure, lost = None, 0, list[str]()
        if share:
            doors.append(stack.enter_context(to_the_network(doors[0])))
            certificate = Certificate(folder, ["127.0.0.1", own_address()])
            doors.append(stack.enter_context(over_https(certificate, https_port, number)))
            secure = int(doors[-1].getsockname()[1])
        store = stack.enter_context(open_store(folder / STORE))
        note(f"http://127.0.0.1:{number}")
        planner = Planner(elsewhere=True)
        shop = Shop(
            store,
            folder,
            share=share,
            port=number,
            planner=planner,
            secure_port=secure,
            certificate=certificate,
        )
        shop.clear()
        app = create_app(shop)
        connections = Connections(is_loopback, most=room())
        if (tablets := app.state.door) is not None:
            tablets.ended = connections.end
            if certificate is not None and certificate.is_new:
                lost = [each.name for each in tablets.devices() if each.over_https]
        address = f"http://127.0.0.1:{number}{at or '/'}"
        sys.stdout.write(f"The shop app is at {address}\nIts data lies in {folder}. Stop it with Ctrl+C.\n")
        if share:
            sys.stdout.write(
                f"Tablets come in at port {number}; those that trust the shop's certificate over https, at port {secure}.\n"
            )
        if lost:
            sys.stdout.write(
                f"The shop's certificate was made anew. Pair again, and have take the new one: {', '.join(lost)}.\n"
            )
        sys.stdout.flush()
        if browser:
            threading.Timer(0.5, webbrowser.open, [address]).start()
        threading.Thread(target=_get_ready, args=(planner,), daemon=True).start()
        with suppress(KeyboardInterrupt):
            Server(app, connections, before_end=shop.live.close).run(sockets=doors)
        planner.close()
    return 0


__all__ = ["StoreError", "data_folder", "job_in", "restore", "run"]
