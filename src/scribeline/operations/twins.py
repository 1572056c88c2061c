"""Twins: operations that take one setting of one tool, made one wherever the order of work allows it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from scribeline.features import Family, Features
from scribeline.job import Record
from scribeline.layout import NECK_POCKET
from scribeline.operations.operation import Operation
from scribeline.operations.ordering import Need, before, direct, in_order

_SAME = 0.005 + 1e-9
"""Depths and stops no farther apart are one setting, mm: a caliper does not tell them apart."""

_ROWS: frozenset[Family] = frozenset({"neck-screw", "control", "hole", "cover-screw", "strap-button"})
"""Families whose rows may be drilled together; of the others each row has a guide, a template or an angle of its own."""


def joined(
    every: Sequence[Operation], needs: Sequence[Need], features: Features, record: Record
) -> tuple[tuple[Operation, ...], tuple[Need, ...]]:
    """The operations with twins made one, and the needs among those.

    Twins are one where neither has to come before the other, however indirectly, and the body is not turned over more
    often for it. Those that the record knows as two stay two. One that stands for several goes by the first one's id.

    Args:
        every: the operations.
        needs: what must come before what among them.
        features: what they cut.
        record: says what is made already, and what was read under which id.
    """
    found = {each.id: each for each in every}
    waits, turns = direct(needs), _turns(every, needs)
    for first, other in _pairs(every, features):
        if first.id not in found or other.id not in found or _told_apart(record, found[first.id], other):
            continue
        tried = _as_one(waits, first.id, other.id)
        left = [each for each in found.values() if each is not other]
        if tried is not None and (then := _turns(left, tried)) <= turns:
            found[first.id] = replace(found[first.id], cuts=(*found[first.id].cuts, *other.cuts))
            del found[other.id]
            waits, turns = tried, then
    return tuple(found.values()), waits


def _pairs(every: Sequence[Operation], features: Features) -> Iterator[tuple[Operation, Operation]]:
    """Operations that take the same setting, the earlier first."""
    alike: dict[object, list[Operation]] = {}
    for other in every:
        if (taken := _setting(other, features)) is None:
            continue
        for first in alike.setdefault(taken, []):
            if abs(_depth(first) - _depth(other)) <= _SAME and abs(_stop(first) - _stop(other)) <= _SAME:
                yield first, other
        alike[taken].append(other)


def _setting(work: Operation, features: Features) -> object | None:
    """All that twins share but how deep they go; None of what is set up by itself whatever else is cut."""
    own: tuple[object, ...] | None = None
    if work.kind == "rout":
        pocket = features.pocket(work.features[0])
        # The neck's pocket is fitted to its heel.
        own = None if pocket.role == NECK_POCKET else (pocket.corner_radius,)
    elif work.family in _ROWS:
        bore = next(each for each in features.bores if each.id == work.features[0])
        step = bore.steps[work.cuts[0].step - 1]
        own = (
            work.bit,
            round(step.diameter, 2),
            work.setting and replace(work.setting, mm=0.0),
            bore.screw is None,
            bore.through,
            bore.through
            and frozenset(p.id for p in features.pockets if p.id in bore.meets and p.face != bore.face),
            bore.face == "edge" or tuple(round(part, 4) for part in bore.axis),
        )
    return own and (work.kind, work.machine, work.face, work.workpiece, work.family, work.barred_by, own)


def _depth(work: Operation) -> float:
    return work.depth or 0.0


def _stop(work: Operation) -> float:
    return 0.0 if work.setting is None else work.setting.mm


def _told_apart(record: Record, first: Operation, other: Operation) -> bool:
    """Whether the record knows two operations as two.

    It does where it names the other one's id, where one is made and the other is not, and where a cavity or a strap
    button was read by itself: a reading under an id counts for what was read there and for nothing else.
    """
    made = [[cut in record.made_steps for cut in each.cuts] for each in (first, other)]
    whole = all(map(all, made))
    called, read = {each.card for each in record.done}, {each.card for each in record.readings}
    alone = {each.card for each in record.readings if each.value_mm is not None and not each.values}
    return (
        other.id in called | read
        or (not whole and (first.id in called or any(map(any, made))))
        or (first.id in alone and (first.kind == "rout" or first.family == "strap-button"))
    )


def _as_one(needs: Sequence[Need], first: str, other: str) -> tuple[Need, ...] | None:
    """The needs once two operations are one; None where one of them has to come before the other."""
    if other in before([first], needs) or first in before([other], needs):
        return None

    def name(task: str) -> str:
        return first if task == other else task

    return direct(replace(need, first=name(need.first), then=name(need.then)) for need in needs)


def _turns(every: Sequence[Operation], needs: Sequence[Need]) -> int:
    """How often the body is turned over."""
    face = {each.id: each.face for each in every}
    up = ["top", *(face[name] for name in in_order(list(face.items()), needs) if face[name])]
    return sum(a != b for a, b in pairwise(up))
