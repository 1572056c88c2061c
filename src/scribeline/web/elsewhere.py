"""Plans made in a process of their own: the long search for a tunnel's way keeps no screen waiting.

Of each job only the newest text that was asked for is worked on, in the place in the row that the first one had: of ten
tablets that keep editing each gets its turn.
"""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
from collections import OrderedDict
from collections.abc import Callable, Hashable
from contextlib import suppress
from dataclasses import dataclass
from threading import Condition, Thread
from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from multiprocessing.connection import Connection
    from multiprocessing.process import BaseProcess

    from scribeline.features import Bit
    from scribeline.job import Job
    from scribeline.plan import Plan
    from scribeline.solid.tunnels import Problem, Solution

    Question: TypeAlias = tuple[Problem, tuple[Bit, ...], float]
    Ways: TypeAlias = list[tuple[Question, Solution]]
    Take: TypeAlias = Callable[[Hashable, Plan, Ways], None]

BEHIND = 5
"""By how much the process stands back for the screens, where the machine knows of such a thing (as `nice` counts)."""


@dataclass(eq=False, slots=True)
class Order:
    """One plan that was asked for.

    Attributes:
        key: what it goes by.
        job: what is planned.
        is_over: whether nothing more comes of it: it is made, it could not be made, or a newer one took its place.
        is_newest: whether no newer one took its place.
    """

    key: Hashable
    job: Job
    is_over: bool = False
    is_newest: bool = True


class Elsewhere:
    """One process that plans, started when it is first needed and again if it ended.

    Args:
        take: takes what was made: the order's key, the plan, and every tunnel's way that was looked for on the way.
    """

    def __init__(self, take: Take) -> None:
        self._take = take
        self._row: OrderedDict[Hashable, Order] = OrderedDict()
        self._at: Order | None = None
        self._turn = Condition()
        self._thread: Thread | None = None
        self._is_closed = False

    def get_ready(self) -> None:
        """Start the process, so that the first plan need not wait for it."""
        with self._turn:
            if self._thread is None:
                self._thread = Thread(target=self._work, daemon=True)
                self._thread.start()

    def ask(self, of: Hashable, key: Hashable, job: Job) -> Order:
        """Have a job planned; it takes the place of what was asked for the same one before and has not begun.

        Args:
            of: whose newest text this is.
            key: what the plan goes by.
            job: to be planned.

        Returns:
            The order, which is over already where nothing is made here any more.
        """
        self.get_ready()
        with self._turn:
            if self._is_closed:
                return Order(key, job, is_over=True)
            if self._at is not None and self._at.key == key:
                return self._at
            before = self._row.get(of)
            if before is not None:
                if before.key == key:
                    return before
                before.is_over, before.is_newest = True, False
            order = self._row[of] = Order(key, job)
            self._turn.notify_all()
            return order

    def wait(self, order: Order, patience: float | None = None) -> bool:
        """Whether an order is over, at the latest after so many seconds."""
        with self._turn:
            return self._turn.wait_for(lambda: order.is_over, patience)

    def close(self) -> None:
        """End the process; nothing more is made."""
        with self._turn:
            self._is_closed = True
            self._turn.notify_all()

    def _work(self) -> None:
        try:
            process, ours = _started()
            while (order := self._next()) is not None:
                try:
                    ours.send(order.job)
                    answer = ours.recv()
                except (EOFError, OSError):
                    # It was ended from outside. Whoever waits for this plan makes it for himself.
                    process.kill()
                    ours.close()
                    process, ours = _started()
                    answer = None
                if answer is not None:
                    self._take(order.key, *answer)
                self._over(order)
            ours.close()
            process.join()
        finally:
            # Also where no process can be had: nobody may wait for one.
            self.close()
            with self._turn:
                left = [*self._row.values(), *([] if self._at is None else [self._at])]
            for order in left:
                self._over(order)

    def _next(self) -> Order | None:
        """The first in the row, when there is one; None where no more is made."""
        with self._turn:
            self._turn.wait_for(lambda: self._is_closed or bool(self._row))
            if self._is_closed:
                return None
            _, self._at = self._row.popitem(last=False)
            return self._at

    def _over(self, order: Order) -> None:
        with self._turn:
            self._at, order.is_over = None, True
            self._turn.notify_all()


def _started() -> tuple[BaseProcess, Connection]:
    fresh = multiprocessing.get_context("spawn")
    ours, theirs = fresh.Pipe()
    process = fresh.Process(target=_plan_all, args=(theirs,), daemon=True)
    process.start()
    theirs.close()
    return process, ours


def _plan_all(theirs: Connection) -> None:
    """What the other process does, until the app is gone."""
    import scribeline.plan  # noqa: F401  # ready before the first job comes

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # it is the app that is stopped, and this with it
    if hasattr(os, "nice"):
        os.nice(BEHIND)
    gc.collect()
    gc.freeze()
    with theirs, suppress(EOFError, OSError):
        while True:
            theirs.send(_planned(theirs.recv()))


def _planned(job: Job) -> tuple[Plan, Ways] | None:
    """One plan, with every tunnel's way that was looked for; None where it cannot be: the app meets the same and says it."""
    from scribeline.plan import plan
    from scribeline.solid.tunnels import solve

    ways: Ways = []

    def look(problem: Problem, bits: tuple[Bit, ...], drift: float) -> Solution:
        way = solve(problem, bits, drift)
        ways.append(((problem, bits, drift), way))
        return way

    try:
        return plan(job, look), ways
    except (ValueError, ArithmeticError):
        return None
