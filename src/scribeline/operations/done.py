"""What calling a step done means: which cuts it made, and which steps have nothing left to cut."""

from __future__ import annotations

from collections.abc import Sequence

from scribeline.features import Features, as_cut
from scribeline.job import Cut, Record
from scribeline.operations.operation import Operation


def cuts_of(operation: Operation, features: Features) -> tuple[Cut, ...]:
    """The cuts an operation makes, exactly as planned, for the record when it is ticked.

    One that bores one diameter of stepped holes records that diameter alone. Cleaning a hole out cuts nothing.

    Args:
        operation: the step.
        features: of the plan the step belongs to.
    """
    by_id = {feature.id: feature for feature in features}
    return tuple(as_cut(by_id[cut.feature], (cut.step,)) for cut in operation.cuts)


def made_by_now(operation: Operation, record: Record) -> tuple[str, ...]:
    """Ids of the cuts of a step that are made already, whatever the step was called when they were."""
    return tuple(cut.feature for cut in operation.cuts if cut in record.made_steps)


def done_steps(operations: Sequence[Operation], record: Record) -> frozenset[str]:
    """Ids of the steps that are done.

    A step that cuts is done when all its cuts are made: one that has got a hole since is taken up again for that hole,
    and one that goes by another name since is done as it was. A step that cuts nothing, and one of which the record
    names no cut, is done when it was called so.
    """
    called = {each.card for each in record.done}
    bare = called - {each.card for each in record.done if each.cuts}
    return frozenset(
        each.id
        for each in operations
        if (
            record.made_steps.issuperset(each.cuts)
            if each.cuts and each.id not in bare
            else each.id in called
        )
    )
