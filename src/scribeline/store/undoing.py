"""Which revision an undo or a redo goes to, read off from the kinds of all revisions so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from scribeline.store.kept import RevisionKind


@dataclass(slots=True)
class _Trail:
    """Where the job stands: each entry is the number of the edit whose text stands there."""

    here: int = 0
    behind: list[int] = field(default_factory=list)
    ahead: list[int] = field(default_factory=list)


def undo_target(kinds: Sequence[RevisionKind]) -> int | None:
    """Number of the revision whose text stood before the last edit; None when there is no such edit.

    Args:
        kinds: of every revision, the first first.
    """
    behind = _walked(kinds).behind
    return behind[-1] if behind else None


def redo_target(kinds: Sequence[RevisionKind]) -> int | None:
    """Number of the revision whose text the last undo took away; None when nothing was just undone.

    Args:
        kinds: of every revision, the first first.
    """
    ahead = _walked(kinds).ahead
    return ahead[-1] if ahead else None


def _walked(kinds: Sequence[RevisionKind]) -> _Trail:
    trail = _Trail()
    for number, kind in enumerate(kinds, start=1):
        if kind == "undo":
            trail.ahead.append(trail.here)
            trail.here = trail.behind.pop()
        elif kind == "redo":
            trail.behind.append(trail.here)
            trail.here = trail.ahead.pop()
        else:
            if trail.here:
                trail.behind.append(trail.here)
            trail.here = number
            trail.ahead.clear()
    return trail
