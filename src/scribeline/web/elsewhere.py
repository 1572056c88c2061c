"""Searches for the ways of tunnels, each in a process of its own: they keep no screen waiting, nor each other.

Of each job only the newest text is searched for: what an edit overtakes is ended.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field
from threading import Condition, Thread
from typing import TYPE_CHECKING, TypeAlias

from scribeline.bounds import Crew, Ended, Exceeded, Handle, NoProcess
from scribeline.job import Fault, JobError
from scribeline.plan.held import PLANNING, noting, too_long_to_plan

if TYPE_CHECKING:
    from scribeline.features import Bit
    from scribeline.job import JobFile
    from scribeline.plan import Plan
    from scribeline.solid.tunnels import Problem, Solution

    Question: TypeAlias = tuple[Problem, tuple[Bit, ...], float]
    Ways: TypeAlias = dict[Question, Solution]
    Take: TypeAlias = Callable[[Hashable, Plan, Ways], None]
    Refuse: TypeAlias = Callable[[Hashable, JobError], None]


@dataclass(eq=False, slots=True)
class Order:
    """One plan that was asked for.

    Attributes:
        key: what it goes by.
        stated: the job that is planned, and its record.
        ways: of tunnels that are known.
        is_over: whether nothing more comes of it: it is made, it could not be made, or a newer one took its place.
        is_newest: whether no newer one took its place.
    """

    key: Hashable
    stated: JobFile
    ways: Ways
    is_over: bool = False
    is_newest: bool = True
    handle: Handle = field(default_factory=Handle)


class Elsewhere:
    """Plans jobs with the ways of their tunnels, each in a process of its own.

    Args:
        take: takes what was made: the order's key, the plan, and every tunnel's way that belongs to it.
        refuse: takes why an order was refused.
    """

    def __init__(self, take: Take, refuse: Refuse) -> None:
        self._take, self._refuse = take, refuse
        self._crew = Crew("scribeline.web.planning", idle=1, behind=True)
        self._at: dict[Hashable, Order] = {}
        self._turn = Condition()
        self._is_closed = False

    def get_ready(self) -> None:
        """Start a process, so that the first search need not wait for it."""
        self._crew.get_ready()

    def ask(self, of: Hashable, key: Hashable, stated: JobFile, ways: Ways) -> Order:
        """Have a job planned; what was asked for the same one before is ended.

        Args:
            of: whose newest text this is.
            key: what the plan goes by.
            stated: to be planned.
            ways: that are known.

        Returns:
            The order, which is over already where nothing is made here any more.
        """
        with self._turn:
            if self._is_closed:
                return Order(key, stated, {}, is_over=True)
            before = self._at.get(of)
            if before is not None:
                if before.key == key:
                    return before
                before.is_over, before.is_newest = True, False
                before.handle.stop()
            order = self._at[of] = Order(key, stated, ways)
            self._turn.notify_all()
        Thread(target=self._work, args=(of, order), daemon=True).start()
        return order

    def wait(self, order: Order, patience: float | None = None) -> bool:
        """Whether an order is over, at the latest after so many seconds."""
        with self._turn:
            return self._turn.wait_for(lambda: order.is_over, patience)

    def close(self) -> None:
        """End the processes; nothing more is made."""
        with self._turn:
            self._is_closed = True
            left = list(self._at.values())
        for order in left:
            order.handle.stop()
        self._crew.close()

    def _work(self, of: Hashable, order: Order) -> None:
        try:
            plan, ways = self._crew.run(PLANNING, searched, order.stated, order.ways, handle=order.handle)
            self._take(order.key, plan, ways)
        except Exceeded as cut:
            self._refuse(order.key, too_long_to_plan(cut, order.stated.job))
        except Ended:
            if not order.handle.is_stopped:
                self._refuse(order.key, cut_short())
        except (NoProcess, ValueError, ArithmeticError):
            pass  # whoever waits for this plan makes it for himself, and meets the same
        finally:
            with self._turn:
                order.is_over = True
                if self._at.get(of) is order:
                    del self._at[of]
                self._turn.notify_all()


def cut_short() -> JobError:
    """What is said where a process was ended from outside, as a machine does that runs out of memory."""
    sentence = (
        "the process that planned it was ended before it was done: the shop's PC may be short of memory. Close some"
        " programs, then ask for it again"
    )
    return JobError([Fault("", sentence)])


def known(stated: JobFile, ways: Ways) -> tuple[Plan, tuple[Question, ...]]:
    """The plan of a job as far as the ways of its tunnels are known, and the questions that nobody has answered."""
    from scribeline.plan import plan

    open_questions: list[Question] = []

    def look(problem: Problem, bits: tuple[Bit, ...], drift: float) -> Solution | None:
        way = ways.get((problem, bits, drift))
        if way is None:
            open_questions.append((problem, bits, drift))
        return way

    return plan(*stated, look), tuple(open_questions)


def searched(stated: JobFile, ways: Ways) -> tuple[Plan, Ways]:
    """The plan of a job with the way of every tunnel, those that are not known looked for; and all of the ways."""
    from scribeline.plan import plan
    from scribeline.solid.tunnels import solve

    used: Ways = {}

    def look(problem: Problem, bits: tuple[Bit, ...], drift: float) -> Solution:
        question = (problem, bits, drift)
        used[question] = ways[question] if question in ways else solve(*question)
        return used[question]

    return plan(*stated, noting(look)), used
