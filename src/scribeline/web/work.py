"""Long work in processes of its own: it never keeps another screen waiting, says how far it is, and can be stopped.

What is made lies in a folder named by what it was made from, so that the same work is never done twice, and is
there again after the app was stopped.
"""

from __future__ import annotations

import hashlib
import multiprocessing
import shutil
from collections import OrderedDict, deque
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field, replace
from importlib.metadata import version
from multiprocessing.connection import Connection
from pathlib import Path
from threading import Lock, Thread
from typing import TYPE_CHECKING, Literal, TypeAlias

from scribeline.bounds import Bounds, Exceeded, within
from scribeline.files import why

if TYPE_CHECKING:
    from multiprocessing.process import BaseProcess

    from scribeline.web.planning import Whole

State = Literal["waits", "works", "done", "failed", "stopped"]

AT_ONCE = 2
"""Processes working at the same time: the shop's machine must stay quick for the screens."""

KEPT = 24
"""Results kept on the disk, the newest; older ones are made again when asked for."""

REMEMBERED = 200
"""Pieces of work remembered, finished ones included."""

MAKING = Bounds(seconds=900, megabytes=3000)
"""For one piece of work. A pack takes some seconds, that of a body drawn in 100,000 corners or of 1,000 holes minutes."""

Tell: TypeAlias = Callable[[int, int, str], None]
"""Says how far a piece of work is: how many parts are made, of how many, and what comes next."""

Maker: TypeAlias = Callable[["Whole", Path, Tell], None]
"""Makes files of a job, into a folder. Importable by name, it runs elsewhere."""


@dataclass(frozen=True, slots=True)
class Work:
    """A piece of work as it stands.

    Attributes:
        mark: its name: what it makes, and from what.
        state: whether it waits, works, is done, failed, or was stopped.
        made: parts made.
        of: parts there are.
        now: what is being made.
        words: why it failed, for a person.
        folder: where its files lie when it is done.
    """

    mark: str
    state: State
    made: int = 0
    of: int = 0
    now: str = ""
    words: str = ""
    folder: Path | None = None

    @property
    def files(self) -> tuple[Path, ...]:
        """What it made, in the order it was made."""
        if self.state != "done" or self.folder is None:
            return ()
        files = (each for each in self.folder.iterdir() if each.is_file())
        return tuple(sorted(files, key=lambda each: (each.stat().st_mtime_ns, each.name)))

    @property
    def is_over(self) -> bool:
        """Whether nothing more will come of it."""
        return self.state in {"done", "failed", "stopped"}


@dataclass
class _Order:
    """What a piece of work was asked for."""

    work: Work
    maker: Maker
    of: Whole
    process: BaseProcess | None = field(default=None, repr=False)


class Workshop:
    """Takes orders, works on two at a time, keeps what was made."""

    def __init__(self, folder: Path) -> None:
        """Keep results in `folder`, which is made when it is needed."""
        self._folder = folder
        self._orders: OrderedDict[str, _Order] = OrderedDict()
        self._queue: deque[str] = deque()
        self._working = 0
        self._lock = Lock()

    @staticmethod
    def mark(kind: str, of: Whole) -> str:
        """The name of a piece of work, by everything it depends on."""
        beside = "" if of.folder is None else of.folder.name
        whole = "\0".join((version("scribeline"), kind, of.text, of.record, beside))
        return f"{kind}-{hashlib.sha256(whole.encode()).hexdigest()[:20]}"

    def look(self, mark: str) -> Work | None:
        """A piece of work as it stands; None where nobody asked for it and nothing is kept of it."""
        with self._lock:
            order = self._orders.get(mark)
            if order is not None and (order.work.state != "done" or self._kept(mark)):
                return order.work
        return Work(mark, "done", folder=self._folder / mark) if self._kept(mark) else None

    def ask(self, kind: str, of: Whole, maker: Maker) -> Work:
        """Have something made, unless it is made already or being made.

        Args:
            kind: what is made, in letters and hyphens.
            of: the job.
            maker: makes it.
        """
        mark = self.mark(kind, of)
        found = self.look(mark)
        if found is not None and found.state in {"waits", "works", "done"}:
            return found
        with self._lock:
            self._orders[mark] = _Order(Work(mark, "waits"), maker, of)
            self._orders.move_to_end(mark)
            self._queue.append(mark)
            self._forget()
            asked = self._orders[mark].work
        self._begin()
        return asked

    def stop(self, mark: str) -> Work | None:
        """Stop a piece of work; what was half made is thrown away."""
        with self._lock:
            order = self._orders.get(mark)
            if order is None:
                return None
            if not order.work.is_over:
                order.work = replace(order.work, state="stopped")
                if mark in self._queue:
                    self._queue.remove(mark)
                if order.process is not None:
                    order.process.kill()
            return order.work

    def close(self) -> None:
        """Stop everything."""
        for mark in tuple(self._orders):
            self.stop(mark)

    def clear(self) -> None:
        """Remove what was half made when the app was killed."""
        for left in self._folder.glob("*.part"):
            shutil.rmtree(left, ignore_errors=True)

    def _kept(self, mark: str) -> bool:
        return (self._folder / mark).is_dir()

    def _forget(self) -> None:
        for mark in [m for m, order in self._orders.items() if order.work.is_over][: -REMEMBERED or None]:
            del self._orders[mark]

    def _begin(self) -> None:
        """Start what waits, as long as there is room."""
        with self._lock:
            while self._queue and self._working < AT_ONCE:
                order = self._orders[self._queue.popleft()]
                self._working += 1
                order.work = replace(order.work, state="works")
                Thread(target=self._watch, args=(order,), daemon=True).start()

    def _watch(self, order: _Order) -> None:
        """Run one piece of work in a process of its own and listen to it until it is over."""
        mark = order.work.mark
        unfinished = self._folder / f"{mark}.part"
        try:
            shutil.rmtree(unfinished, ignore_errors=True)
            unfinished.mkdir(parents=True)
            self._run(order, unfinished)
        except OSError as fault:
            with self._lock:
                if order.work.state == "works":
                    order.work = replace(order.work, state="failed", words=_not_made(fault))
        finally:
            shutil.rmtree(unfinished, ignore_errors=True)
            with self._lock:
                self._working -= 1
            self._begin()

    def _run(self, order: _Order, unfinished: Path) -> None:
        fresh = multiprocessing.get_context("spawn")
        ours, theirs = fresh.Pipe(duplex=False)
        process = fresh.Process(target=_work, args=(order.maker, order.of, unfinished, theirs), daemon=True)
        try:
            with self._lock:
                if order.work.state == "works":
                    process.start()
                    order.process = process
            theirs.close()
            if order.process is not None:
                self._listen(order, ours)
                process.join()
            self._finish(order, unfinished)
        finally:
            ours.close()

    def _listen(self, order: _Order, ours: Connection) -> None:
        while True:
            try:
                word, *rest = ours.recv()
            except (EOFError, OSError):
                return
            with self._lock:
                if order.work.state != "works":
                    continue
                if word == "told":
                    made, of, now = rest
                    order.work = replace(order.work, made=made, of=of, now=now)
                elif word == "failed":
                    order.work = replace(order.work, state="failed", words=rest[0])

    def _finish(self, order: _Order, unfinished: Path) -> None:
        with self._lock:
            if order.work.state != "works":
                return
            process = order.process
            if process is None or process.exitcode != 0:
                order.work = replace(
                    order.work, state="failed", words="it ended before it was done; ask for it again"
                )
                return
            place = self._folder / order.work.mark
            shutil.rmtree(place, ignore_errors=True)
            unfinished.rename(place)
            order.work = replace(order.work, state="done", made=order.work.of, now="", folder=place)
        self._tidy(place)

    def _tidy(self, newest: Path) -> None:
        """Keep the newest results alone; the last one made is the newest, whatever the clock says."""
        found = [
            each for each in self._folder.iterdir() if each.is_dir() and not each.suffix and each != newest
        ]
        for old in sorted(found, key=lambda each: each.stat().st_mtime_ns)[: 1 - KEPT]:
            shutil.rmtree(old, ignore_errors=True)


def _work(maker: Maker, of: Whole, out: Path, to: Connection) -> None:
    """What the other process does."""
    from scribeline.job import JobError

    with to, suppress(BrokenPipeError):  # nobody listens any more: the app is gone
        try:
            with within(MAKING):
                maker(of, out, lambda made, of, now: to.send(("told", made, of, now)))
        except BrokenPipeError:
            raise
        except JobError as fault:
            to.send(("failed", str(fault)))
        except Exceeded as cut:
            to.send(
                (
                    "failed",
                    f"making it takes {cut.words}; leave out what is not needed, or draw the outline simpler",
                )
            )
        except OSError as fault:
            to.send(("failed", _not_made(fault)))
        except ValueError as fault:
            to.send(("failed", f"it could not be made: {fault}"))


def _not_made(fault: OSError) -> str:
    return f"it could not be made: {why(fault)}; your jobs are not touched"


# What is made


def make_pack(of: Whole, out: Path, tell: Tell) -> None:
    """The whole bench pack, and all of it in one file; pictures of its pages beside it.

    Raises:
        ValueError: a stop stands.
    """
    from concurrent.futures import ThreadPoolExecutor
    from zipfile import ZIP_DEFLATED, ZipFile

    from scribeline.drawing import pack
    from scribeline.plan import plan
    from scribeline.web import proofs
    from scribeline.web.planning import parsed

    tell(0, len(pack.FILES) + 1, pack.FILES[0])
    planned = plan(*parsed(of))
    if planned.forbidding:
        message = "the checks say DO NOT CUT; fix that first"
        raise ValueError(message)
    names = (*pack.files(planned), "everything.zip")
    with ZipFile(out / "everything.zip", "w", ZIP_DEFLATED) as whole, ThreadPoolExecutor(2) as hands:
        pictured = []
        for number, each in enumerate(pack.shown(planned), start=1):
            pictured.append(
                (each.name, hands.submit(each.pictures))
            )  # the typesetter lets others work meanwhile
            (out / each.name).write_bytes(each.content)
            whole.writestr(each.name, each.content)
            tell(number, len(names), names[number])
        for name, pages in pictured:
            proofs.keep(out, name, pages.result())


def make_corrected(of: Whole, out: Path, tell: Tell, *, factors: tuple[float, float]) -> None:
    """The templates once more, larger or smaller by what a printer was found to shrink or stretch.

    Args:
        of: the job.
        out: the folder for it.
        tell: says how far it is.
        factors: on what is across a page and up it, from `print_scale.print_verdict`.

    Raises:
        ValueError: a stop stands, or the paper is too small.
    """
    from scribeline.drawing import pack
    from scribeline.plan import plan
    from scribeline.web import proofs
    from scribeline.web.planning import parsed

    tell(0, 1, pack.CORRECTED)
    planned = plan(*parsed(of))
    if planned.forbidding:
        message = "the checks say DO NOT CUT; fix that first"
        raise ValueError(message)
    made = pack.corrected(planned, factors)
    (out / made.name).write_bytes(made.content)
    proofs.keep(out, made.name, made.pictures())
    tell(1, 1, "")


CLEAR = (0.80, 0.66, 0.45, 0.30)
"""The wood of the 3D view, to be looked through; the page gives each layer its tone."""

WOOD = "="
"""Before the number of a layer, and the name of what is made beside the body: no cut's id begins so."""

FROM = {
    "top": (0.10, 0.33, 0.52, 1.0),
    "back": (0.55, 0.20, 0.13, 1.0),
    "edge": (0.22, 0.22, 0.22, 1.0),
    "pocket": (0.35, 0.25, 0.50, 1.0),
}
"""What is cut from where, in the 3D view, linear red, green, blue and how solid; its list says the same in words."""


ODDS = "odds"
"""Kind of the work that tries builds."""


def make_odds(of: Whole, out: Path, tell: Tell) -> None:
    """The odds of a job's plan, as what a page says of them, and their picture."""
    import json

    from scribeline.drawing.odds_plot import odds_sheet
    from scribeline.odds import odds
    from scribeline.odds.words import Words
    from scribeline.plan import plan
    from scribeline.web.drawings import element
    from scribeline.web.planning import parsed

    tell(0, 100, "the plan")
    planned = plan(*parsed(of))
    accuracies = planned.job.accuracies
    found = odds(planned, accuracies, progress=lambda share: tell(int(100 * share), 100, "trial builds"))
    words = Words(planned, accuracies)
    told = {
        "chance": found.chance,
        "error": found.error,
        "caution": found.caution,
        "trials": found.trials,
        "linear_error": found.linear_error,
        "exact": found.exact,
        "own": sorted(each.what for each in accuracies.own),
        "limits": [
            {
                "words": words.outcome(each.outcome),
                "misses": 1 - each.chance,
                "expected": each.expected,
                "sd": each.sd,
                "low": each.outcome.low,
                "high": each.outcome.high,
            }
            for each in found.likeliest_to_fail
        ],
        "operations": [
            {"id": each.operation, "words": words.operation(each.operation), "chance": each.chance}
            for each in found.mattering
        ],
        "buys": [
            {"kind": each.kind, "words": words.buy(each), "chance": each.chance, "of": each.of}
            for each in found.helping
        ],
        "gates": [
            {"step": each.step, "words": words.reads(each.reads), "asks": each.asks, "holds": holds}
            for each, holds in found.tight
        ],
        "wanted": found.wanted,
    }
    (out / "odds.json").write_text(json.dumps(told), encoding="utf-8")
    picture = element(odds_sheet(planned, found, accuracies).items, "the odds as bars")
    (out / "odds.svg").write_text(picture, encoding="utf-8")
    tell(100, 100, "")


def make_view(of: Whole, out: Path, tell: Tell) -> None:
    """The body to be looked through, layer by layer, every cut a solid of its own in it."""
    from scribeline.plan import plan
    from scribeline.solid.body import make_body
    from scribeline.solid.meshfiles import Piece, glb_scene
    from scribeline.solid.neck import neck_meshes
    from scribeline.solid.taken import taken_out
    from scribeline.web.planning import parsed

    tell(0, 2, "the cuts")
    planned = plan(*parsed(of))
    layout = planned.layout
    cuts = [
        Piece(feature.id, mesh, FROM[feature.face])
        for feature, mesh in taken_out(layout.body, planned.features)
    ]
    tell(1, 2, "the body")
    body = make_body(layout.outline, layout.thickness, planned.features, form=layout.body)
    neck = neck_meshes(planned.job.document, layout, planned.head)
    wood = [(str(n), part.mesh) for n, part in enumerate(body.layers) if part.mesh is not None]
    pieces = [Piece(f"{WOOD}{name}", mesh, CLEAR) for name, mesh in (*neck.items(), *wood)]
    (out / "view.glb").write_bytes(glb_scene([*cuts, *pieces]))
    tell(2, 2, "")
