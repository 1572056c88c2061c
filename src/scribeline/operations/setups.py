"""Set-ups: what of the order of work is done without chucking another bit, turning the work over or changing the machine."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import TypeVar

from scribeline.operations.operation import Operation

Work = TypeVar("Work", bound=Operation)


def set_up_of(operation: Operation) -> tuple[object, ...]:
    """What is set up for an operation: machine, face up, bit."""
    return (operation.machine, operation.face, operation.bit)


def set_ups(operations: Sequence[Work]) -> tuple[tuple[Work, ...], ...]:
    """The operations in their order, those that follow each other in one set-up together."""
    return tuple(tuple(group) for _, group in groupby(operations, set_up_of))
