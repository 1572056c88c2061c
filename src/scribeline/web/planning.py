"""Plans by the text they were made from: the same text is never planned twice while it is remembered."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from scribeline.job import Fault, Job, JobError, parse_job
from scribeline.plan import Plan, plan
from scribeline.solid.tunnels import Look, Problem, Solution, solve
from scribeline.web.elsewhere import Elsewhere

if TYPE_CHECKING:
    from scribeline.features import Bit
    from scribeline.web.elsewhere import Ways

Made = TypeVar("Made")

KEPT = 128
"""Plans remembered: a shop's open jobs, each with what it was before the last few edits."""

_MAKING = threading.RLock()
"""Held while something is made: one after the other. Threads of one process would only take turns at it anyhow, the
first is ready sooner so, what two ask for at once is made once, and geometry made ready for many questions is never
asked by two threads at once."""


class Kept:
    """The last things made, by what they were made from.

    Args:
        most: how many are remembered.
    """

    def __init__(self, most: int = KEPT) -> None:
        self._most = most
        self._made: OrderedDict[Hashable, Any] = OrderedDict()
        self._looking = threading.Lock()

    def once(self, key: Hashable, make: Callable[[], Made]) -> Made:
        """What was made for a key; made now if it is not remembered."""
        found = self.found(key)
        if found is None:
            with _MAKING:
                found = self.found(key)  # another thread may have made it while this one waited
                if found is None:
                    found = (make(),)
                    self.keep(key, found[0])
        made: Made = found[0]
        return made

    def found(self, key: Hashable) -> tuple[Any] | None:
        """What was made for a key, if it is remembered."""
        with self._looking:
            if key not in self._made:
                return None
            self._made.move_to_end(key)
            return (self._made[key],)

    def keep(self, key: Hashable, made: Any) -> None:
        """Remember what was made for a key."""
        with self._looking:
            self._made[key] = made
            while len(self._made) > self._most:
                self._made.popitem(last=False)


WAYS_KEPT = 512
"""Tunnels remembered with their ways: an edit that moves nothing near one asks for the same again."""


class Planner:
    """Reads and plans job texts; safe to use from several threads.

    Args:
        elsewhere: whether tunnels whose way is not known are looked for in a process of its own.
    """

    def __init__(self, *, elsewhere: bool = False) -> None:
        self._jobs, self._plans, self._soon, self._drawn = Kept(), Kept(), Kept(), Kept()
        self._ways = Kept(WAYS_KEPT)
        self._elsewhere = Elsewhere(self._take) if elsewhere else None

    def get_ready(self) -> None:
        """Have ready what the first plan needs."""
        if self._elsewhere is not None:
            self._elsewhere.get_ready()

    def close(self) -> None:
        """End the other process."""
        if self._elsewhere is not None:
            self._elsewhere.close()

    def job(self, text: str, folder: Path | None = None) -> Job:
        """The job of a text.

        Raises:
            JobError: everything that is wrong with it.
        """
        return self._jobs.once(
            (text, folder), lambda: parse_job(text, source="the job", folder=folder, only_beside=True)
        )

    def plan(self, text: str, folder: Path | None = None) -> Plan:
        """The plan of a text, every tunnel's way found.

        Raises:
            JobError: everything that is wrong with it, what cannot be planned included.
        """
        # For itself, so that nothing takes its place: it is waited for to the end.
        return self.settled(text, folder, of=(text, folder), patience=None)

    def now(self, text: str, folder: Path | None, *, of: Hashable) -> Plan:
        """The plan of a text as far as it is known at once; the ways of tunnels that it awaits are being looked for.

        Args:
            text: of the job.
            folder: beside it.
            of: which job this is the newest text of. For an older one nothing is looked for any more.

        Raises:
            JobError: everything that is wrong with it, what cannot be planned included.
        """
        key = (text, folder)
        if self._elsewhere is None or self._plans.found(key) is not None:
            return self._made(self._plans, key, self._found)
        soon = self._made(self._soon, key, self._known)
        if soon.awaited:
            self._elsewhere.ask(of, key, self.job(text, folder))
        else:
            self._plans.keep(key, soon)
        return soon

    def settled(self, text: str, folder: Path | None, *, of: Hashable, patience: float | None) -> Plan:
        """The same when what it awaits is found; as it is by then where that takes longer than so many seconds, if told.

        Raises:
            JobError: everything that is wrong with it, what cannot be planned included.
        """
        soon = self.now(text, folder, of=of)
        if self._elsewhere is not None and soon.awaited:
            order = self._elsewhere.ask(of, (text, folder), self.job(text, folder))
            if self._elsewhere.wait(order, patience) and order.is_newest:
                return self._made(self._plans, (text, folder), self._found)
        return soon

    def _made(self, kept: Kept, key: tuple[str, Path | None], look: Look) -> Plan:
        try:
            return kept.once(key, lambda: plan(self.job(*key), look))
        except JobError:
            raise
        except (ValueError, ArithmeticError) as error:
            raise JobError([Fault("", f"this cannot be planned: {error}")]) from error

    def _known(self, problem: Problem, bits: tuple[Bit, ...], drift: float) -> Solution | None:
        found = self._ways.found((problem, bits, drift))
        return None if found is None else found[0]

    def _found(self, problem: Problem, bits: tuple[Bit, ...], drift: float) -> Solution:
        return self._ways.once((problem, bits, drift), lambda: solve(problem, bits, drift))

    def _take(self, key: Hashable, made: Plan, ways: Ways) -> None:
        """What was planned elsewhere."""
        for question, way in ways:
            self._ways.keep(question, way)
        self._plans.keep(key, made)

    def once(self, key: Hashable, make: Callable[[], Made]) -> Made:
        """What was made for a key, made now if it is not remembered.

        Args:
            key: everything it hangs on, such as the page's name, the job's text and folder.
            make: makes it.
        """
        return self._drawn.once(key, make)
