"""Why the store refuses, in sentences for a person."""

from __future__ import annotations

from datetime import datetime
from functools import cached_property

from scribeline.store.difference import Change, changes_between, merged
from scribeline.store.kept import Revision


class StoreError(ValueError):
    """Something the store cannot do, and what to do about it."""


class DiskFault(StoreError):  # noqa: N818 - reads as what it is where it is caught
    """The disk, or the file of the store, refuses; what was asked for may be right."""


class UnknownJob(StoreError):  # noqa: N818 - reads as what it is where it is caught
    """There is no such job, or no such revision of it."""


class DeletedJob(UnknownJob):
    """The job was deleted; it is kept and can be restored.

    Attributes:
        job_id: the job.
        name: what it is called.
        by: who deleted it.
        at: when.
    """

    def __init__(self, job_id: int, name: str, by: str, at: datetime) -> None:
        self.job_id, self.name, self.by, self.at = job_id, name, by, at
        here = at.astimezone()
        super().__init__(
            f"job {job_id} was deleted by {by} on {here.day} {here:%B %Y, %H:%M}; it is kept as it was: restore it to go on"
        )


class SentAlready(StoreError):  # noqa: N818 - reads as what it is where it is caught
    """A device sent this before, and it was kept then: its answer was lost on the way. Nothing was written now."""


class Conflict(StoreError):  # noqa: N818 - reads as what it is where it is caught
    """Somebody else saved the job meanwhile: nothing was written, and nothing that was typed is lost.

    Attributes:
        mine: the text that was to be saved.
        theirs: the newest revision, which the edit did not know.
        base: the revision the edit began from.
    """

    def __init__(self, mine: str, theirs: Revision, base: Revision) -> None:
        self.mine, self.theirs, self.base = mine, theirs, base
        super().__init__(
            f"{theirs.by} saved revision {theirs.number} of this job while you were working on revision {base.number}: "
            "look at both changes, then save again"
        )

    @cached_property
    def my_changes(self) -> tuple[Change, ...]:
        """What this edit changed."""
        return changes_between(self.base.text, self.mine)

    @cached_property
    def their_changes(self) -> tuple[Change, ...]:
        """What the others changed meanwhile."""
        return changes_between(self.base.text, self.theirs.text)

    @cached_property
    def merged(self) -> str | None:
        """Both edits in one text, where they touch different values; None where a person must choose."""
        return merged(self.base.text, mine=self.mine, theirs=self.theirs.text)
