"""Plans by the text they were made from: the same text is never planned twice while it is remembered."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from scribeline.job import Job, parse_job
from scribeline.plan import Plan, plan

KEPT = 128
"""Plans remembered: a shop's open jobs, each with what it was before the last few edits."""


class Planner:
    """Reads and plans job texts; safe to use from several threads."""

    def __init__(self) -> None:
        self._jobs = lru_cache(maxsize=KEPT)(_read)
        self._plans = lru_cache(maxsize=KEPT)(self._planned)

    def job(self, text: str, folder: Path | None = None) -> Job:
        """The job of a text.

        Raises:
            JobError: everything that is wrong with it.
        """
        return self._jobs(text, folder)

    def plan(self, text: str, folder: Path | None = None) -> Plan:
        """The plan of a text.

        Raises:
            JobError: everything that is wrong with it.
        """
        return self._plans(text, folder)

    def _planned(self, text: str, folder: Path | None) -> Plan:
        return plan(self._jobs(text, folder))


def _read(text: str, folder: Path | None) -> Job:
    return parse_job(text, source="the job", folder=folder)
