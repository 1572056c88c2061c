"""Plans by the text they were made from: the same text is never planned twice while it is remembered."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from pathlib import Path
from typing import Any, TypeVar

from scribeline.job import Fault, Job, JobError, parse_job
from scribeline.plan import Plan, plan

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
        found = self._found(key)
        if found is None:
            with _MAKING:
                found = self._found(key)  # another thread may have made it while this one waited
                if found is None:
                    found = (make(),)
                    self._keep(key, found)
        made: Made = found[0]
        return made

    def _found(self, key: Hashable) -> tuple[Any] | None:
        with self._looking:
            if key not in self._made:
                return None
            self._made.move_to_end(key)
            found: tuple[Any] = self._made[key]
            return found

    def _keep(self, key: Hashable, made: tuple[Any]) -> None:
        with self._looking:
            self._made[key] = made
            while len(self._made) > self._most:
                self._made.popitem(last=False)


class Planner:
    """Reads and plans job texts; safe to use from several threads."""

    def __init__(self) -> None:
        self._jobs, self._plans, self._drawn = Kept(), Kept(), Kept()

    def job(self, text: str, folder: Path | None = None) -> Job:
        """The job of a text.

        Raises:
            JobError: everything that is wrong with it.
        """
        return self._jobs.once(
            (text, folder), lambda: parse_job(text, source="the job", folder=folder, only_beside=True)
        )

    def plan(self, text: str, folder: Path | None = None) -> Plan:
        """The plan of a text.

        Raises:
            JobError: everything that is wrong with it, what cannot be planned included.
        """
        try:
            return self._plans.once((text, folder), lambda: plan(self.job(text, folder)))
        except JobError:
            raise
        except (ValueError, ArithmeticError) as error:
            raise JobError([Fault("", f"this cannot be planned: {error}")]) from error

    def once(self, key: Hashable, make: Callable[[], Made]) -> Made:
        """What was made for a key, made now if it is not remembered.

        Args:
            key: everything it hangs on, such as the page's name, the job's text and folder.
            make: makes it.
        """
        return self._drawn.once(key, make)
