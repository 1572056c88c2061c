"""Plans by the text they were made from: the same text is never planned twice while it is remembered."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from functools import lru_cache
from pathlib import Path
from threading import Lock
from typing import TypeVar, cast

from scribeline.job import Fault, Job, JobError, parse_job
from scribeline.plan import Plan, plan

Made = TypeVar("Made")

KEPT = 128
"""Plans remembered: a shop's open jobs, each with what it was before the last few edits."""


class Planner:
    """Reads and plans job texts; safe to use from several threads."""

    def __init__(self) -> None:
        self._jobs = lru_cache(maxsize=KEPT)(_read)
        self._plans = lru_cache(maxsize=KEPT)(self._planned)
        self._drawn: OrderedDict[Hashable, object] = OrderedDict()
        self._lock = Lock()

    def job(self, text: str, folder: Path | None = None) -> Job:
        """The job of a text.

        Raises:
            JobError: everything that is wrong with it.
        """
        return self._jobs(text, folder)

    def plan(self, text: str, folder: Path | None = None) -> Plan:
        """The plan of a text.

        Raises:
            JobError: everything that is wrong with it, what cannot be planned included.
        """
        try:
            return self._plans(text, folder)
        except JobError:
            raise
        except (ValueError, ArithmeticError) as error:
            raise JobError([Fault("", f"this cannot be planned: {error}")]) from error

    def once(self, key: Hashable, make: Callable[[], Made]) -> Made:
        """What was made for a key, made now if it is not remembered.

        Args:
            key: everything it hangs on, such as the page's name, the job's text and folder.
            make: makes it; two threads may both do so, with the same outcome.
        """
        with self._lock:
            if key in self._drawn:
                self._drawn.move_to_end(key)
                return cast("Made", self._drawn[key])
        made = make()
        with self._lock:
            self._drawn[key] = made
            while len(self._drawn) > KEPT:
                self._drawn.popitem(last=False)
        return made

    def _planned(self, text: str, folder: Path | None) -> Plan:
        return plan(self._jobs(text, folder))


def _read(text: str, folder: Path | None) -> Job:
    return parse_job(text, source="the job", folder=folder, only_beside=True)
