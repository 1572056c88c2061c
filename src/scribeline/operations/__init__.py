"""The order of work as operations: one tool, one setting, one workpiece, one face up."""

from scribeline.operations.done import cuts_of, done_steps, made_by_now
from scribeline.operations.making import next_of, open_face, operations, raised
from scribeline.operations.operation import (
    SHAPING,
    Cutting,
    Kind,
    Machine,
    Operation,
    Part,
    Workpiece,
)
from scribeline.operations.ordering import Need, direct, in_order
from scribeline.operations.progress import Progress
from scribeline.operations.relations import needs
from scribeline.operations.setups import set_ups

__all__ = [
    "SHAPING",
    "Cutting",
    "Kind",
    "Machine",
    "Need",
    "Operation",
    "Part",
    "Progress",
    "Workpiece",
    "cuts_of",
    "direct",
    "done_steps",
    "in_order",
    "made_by_now",
    "needs",
    "next_of",
    "open_face",
    "operations",
    "raised",
    "set_ups",
]
