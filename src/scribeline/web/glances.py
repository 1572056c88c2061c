"""What each job is like at a glance: worked out behind the pages, kept in the store, so that a list of jobs plans nothing.

A page that has its job's plan hands it over (`saw`); a list asks for those of its jobs that somebody looks at and of
which nothing is known, or nothing of today (`want`). One thread takes them in turn, and ends when there are none.
"""

from __future__ import annotations

import time
from collections import OrderedDict
from dataclasses import dataclass
from functools import cache
from importlib.metadata import version
from threading import Lock, Thread
from typing import TYPE_CHECKING

from scribeline.job import JobError
from scribeline.lengths import in_unit
from scribeline.steps import next_open
from scribeline.store import Glance, StoreError
from scribeline.web.drawings import thumbnail
from scribeline.web.live import LISTS
from scribeline.web.standing import where_it_stands

if TYPE_CHECKING:
    from collections.abc import Sequence

    from scribeline.job import Fault
    from scribeline.plan import Plan
    from scribeline.store import JobEntry
    from scribeline.web.shop import Shop

QUIET_S = 0.3
"""So long the thread waits before it takes what pages have worked out, s: of a few quick edits only the last is drawn."""

WAITING = 80
"""Jobs that may wait to be worked out: twice what a list shows. Those asked for first are let go, and asked for again."""

LARGEST = 300_000
"""Characters of a picture: fifteen times what the demo's has, an outline of some ten thousand corners."""

LONGEST = 200
"""Characters of what is said of a job that cannot be read."""


@cache
def made_with() -> str:
    """What works a glance out: another version may plan otherwise."""
    return version("scribeline")


def is_fresh(entry: JobEntry) -> bool:
    """Whether what is known of a job is what it is today."""
    glance = entry.glance
    return glance is not None and (glance.changes, glance.made_with) == (entry.changes, made_with())


@dataclass(frozen=True, slots=True)
class _Worked:
    """A job as a page has worked it out.

    Attributes:
        changes: count of its changes from before it was read.
        plan: of it; None where it cannot be read.
        wrong: why it cannot.
    """

    changes: int
    plan: Plan | None
    wrong: str = ""


def _why(faults: Sequence[Fault]) -> str:
    """The first of what keeps a job from being read, and how many more there are."""
    if not faults:
        return "it cannot be read"
    more = f" (and {len(faults) - 1} more)" if faults[1:] else ""
    return f"{str(faults[0])[:LONGEST]}{more}"


class Glances:
    """Takes orders, works them out one at a time, keeps what comes of them in the shop's store."""

    def __init__(self, shop: Shop) -> None:
        self._shop = shop
        self._orders: OrderedDict[int, _Worked | None] = OrderedDict()
        self._noted: dict[int, tuple[int, str]] = {}
        self._lock = Lock()
        self._thread: Thread | None = None

    def saw(self, job_id: int, changes: int, plan: Plan | None, faults: Sequence[Fault] = ()) -> None:
        """Take what a page has worked out.

        Args:
            job_id: the job.
            changes: count of its changes from before it was read.
            plan: of it; None where it cannot be read.
            faults: why it cannot.
        """
        if plan is not None and plan.awaited:
            return  # the page asks for the rest
        worked = _Worked(changes, plan, "" if plan is not None else _why(faults))
        with self._lock:
            if self._noted.get(job_id) != (changes, worked.wrong):
                self._take(job_id, worked)

    def want(self, job_id: int) -> None:
        """Have a job worked out that somebody looks at in a list."""
        with self._lock:
            if job_id not in self._orders:
                self._take(job_id, None)

    def _take(self, job_id: int, order: _Worked | None) -> None:
        self._orders[job_id] = order
        while len(self._orders) > WAITING:
            self._orders.popitem(last=False)
        if self._thread is None or not self._thread.is_alive():
            quiet = 0.0 if order is None else QUIET_S  # who looks at a list waits for it
            self._thread = Thread(target=self._work, args=(quiet,), name="glances", daemon=True)
            self._thread.start()

    def _next(self) -> tuple[int, _Worked | None] | None:
        """The next order; with none left the thread is over, and the next order has another one begin."""
        with self._lock:
            if not self._orders:
                self._thread = None
                return None
            return self._orders.popitem(last=False)

    def _work(self, quiet: float) -> None:
        time.sleep(quiet)
        while (order := self._next()) is not None:
            job_id, worked = order
            try:
                self._note(job_id, worked or self._worked(job_id))
            except (StoreError, OSError):
                continue  # deleted meanwhile, or the disk refuses: it is a note, and worked out again

    def _worked(self, job_id: int) -> _Worked:
        shop = self._shop
        changes = shop.store.changes(job_id)
        text = shop.store.revision(job_id).text
        try:
            return _Worked(changes, shop.planner.plan(text, shop.beside(job_id), shop.record(job_id)))
        except JobError as error:
            return _Worked(changes, None, _why(error.faults))

    def _note(self, job_id: int, worked: _Worked) -> None:
        store, plan = self._shop.store, worked.plan
        if plan is None:
            store.keep_glance(job_id, Glance(worked.changes, made_with(), wrong=worked.wrong))
        else:
            stands = where_it_stands(store, job_id, plan)
            onwards = next_open(stands)
            glance = Glance(
                worked.changes,
                made_with(),
                done=sum(each.state == "done" for each in stands),
                steps=len(stands),
                next_step="" if onwards is None else in_unit(onwards.card.title, plan.job.document.units),
                stops=len(plan.stops),
            )
            store.keep_glance(job_id, glance, self._picture(job_id, worked.changes, plan))
        with self._lock:
            self._noted[job_id] = worked.changes, worked.wrong
        self._shop.live.tell(LISTS)

    def _picture(self, job_id: int, changes: int, plan: Plan) -> str:
        """The body; "" where drawing it takes more than it may, or it is too large for a list."""
        try:
            drawn = self._shop.planner.drawn(("glance", job_id, changes), thumbnail, plan)
        except JobError:
            return ""
        return drawn if len(drawn) <= LARGEST else ""
