"""The order of work: what must come before what, and why, turned into one sequence."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from graphlib import CycleError, TopologicalSorter


@dataclass(frozen=True, slots=True)
class Need:
    """One task must be done before another.

    Attributes:
        first: id of the task that comes first.
        then: id of the one that waits for it.
        because: why, in bench words.
    """

    first: str
    then: str
    because: str


def direct(needs: Iterable[Need]) -> tuple[Need, ...]:
    """The needs that no chain of other needs already implies (the transitive reduction), in the same order.

    Of several needs between the same two tasks the first is kept. Needs that go round in a circle are all kept:
    `in_order` refuses them.
    """
    first_said = {(need.then, need.first): need for need in reversed(tuple(needs))}
    waits = _waits(first_said.values())
    every = {
        name: _before(name, waits)
        for name in {*waits, *(first for firsts in waits.values() for first in firsts)}
    }
    implied = {
        (then, first)
        for then, firsts in waits.items()
        for first in firsts
        if any(first in every[other] and then not in every[then] for other in firsts - {first})
    }
    return tuple(need for key, need in reversed(first_said.items()) if key not in implied)


def before(tasks: Iterable[str], needs: Iterable[Need]) -> set[str]:
    """Everything that comes before one of the tasks, however indirectly."""
    waits = _waits(needs)
    return {name for task in tasks for name in _before(task, waits)}


def _waits(needs: Iterable[Need]) -> dict[str, set[str]]:
    waits: dict[str, set[str]] = {}
    for need in needs:
        waits.setdefault(need.then, set()).add(need.first)
    return waits


def _before(task: str, waits: Mapping[str, set[str]]) -> set[str]:
    found: set[str] = set()
    ahead = list(waits.get(task, ()))
    while ahead:
        name = ahead.pop()
        if name not in found:
            found.add(name)
            ahead.extend(waits.get(name, ()))
    return found


def in_order(tasks: Sequence[tuple[str, str]], needs: Iterable[Need]) -> tuple[str, ...]:
    """One sequence in which every need is met, turning the body over as seldom as may be.

    Among the tasks that are free to be done the next one is on the face that lies up now, if there is one;
    then the earliest in `tasks`.

    Args:
        tasks: (id, face) of each task; face "" where it does not matter which side is up.
        needs: what must precede what; needs that name no task of the list are ignored.

    Raises:
        ValueError: the needs go round in a circle.
    """
    face_of = dict(tasks)
    rank = {task: number for number, (task, _) in enumerate(tasks)}
    graph: TopologicalSorter[str] = TopologicalSorter({task: set() for task in face_of})
    for need in needs:
        if need.first in face_of and need.then in face_of:
            graph.add(need.then, need.first)
    try:
        graph.prepare()
    except CycleError as circle:
        raise ValueError(
            f"the order of work goes round in a circle: {' → '.join(circle.args[1])}"
        ) from circle
    done: list[str] = []
    free: list[str] = []
    up = "top"
    while graph.is_active():
        free.extend(graph.get_ready())
        task = min(free, key=lambda name: (face_of[name] not in ("", up), rank[name]))
        free.remove(task)
        up = face_of[task] or up
        done.append(task)
        graph.done(task)
    return tuple(done)
