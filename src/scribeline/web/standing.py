"""Where a job's work stands by the store, and going on against a stop, for the pages and for the JSON side."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from scribeline.findings import holds
from scribeline.job import Override
from scribeline.operations import done_steps
from scribeline.steps import Answer, Standing, depths_read, standings

if TYPE_CHECKING:
    from collections.abc import Iterable

    from scribeline.findings import Finding
    from scribeline.plan import Plan
    from scribeline.steps import Card
    from scribeline.store import OverrideKept, Store


def where_it_stands(store: Store, job_id: int, plan: Plan) -> tuple[Standing, ...]:
    """Every step as it stands: done or not, its gate's newest answer, the stops that keep it from being begun."""
    answers = {each.gate_id: Answer.of(each) for each in store.readings(job_id)}
    done = done_steps(plan.operations, plan.record)
    return standings(plan.cards, done, answers, plan.stopped)


def last_read(store: Store, job_id: int, card_id: str) -> Answer | None:
    """The newest answer at a step's gate; None where there is none."""
    found = [each for each in store.readings(job_id) if each.gate_id == card_id]
    return Answer.of(found[-1]) if found else None


def keep_depth(store: Store, job_id: int, card: Card, answer: Answer, *, by: str) -> None:
    """Keep what a reading tells of a cut of a step that is done; of one that is not, its tick will say it."""
    read = depths_read(card.gate, answer)
    done = next((each for each in store.ticks(job_id) if each.card_id == card.id), None) if read else None
    for cut in () if done is None else done.features:
        if (depth := read.get(cut["id"])) is not None and cut.get("measured_depth") != depth:
            store.measured_depth(job_id, card.id, cut["id"], depth, by=by)


def go_on_against(
    store: Store, job_id: int, stop: Finding, *, reason: str, by: str, revision: int
) -> OverrideKept:
    """Keep that the builder goes on against a stop.

    Raises:
        StoreError: there is no reason worth the name, or it cannot be kept.
    """
    stated = {
        "code": stop.code,
        "features": stop.features,
        "value": stop.value,
        "limit": stop.limit,
        "says": stop.message,
    }
    return store.override(job_id, stated, reason=" ".join(reason.split()), by=by, revision=revision)


def as_stated(kept: OverrideKept) -> Override:
    """An override as the job file has it."""
    return Override(
        code=kept.code,
        features=kept.features,
        value=kept.value,
        limit=kept.limit,
        says=kept.says,
        reason=kept.reason,
        by=kept.by,
        at=kept.at,
        revision=kept.revision,
    )


def lapsed(stop: Finding, given: Iterable[OverrideKept]) -> OverrideKept | None:
    """The last override that was given for a stop and does not hold for what it says now; None where there is none."""
    of_it = [
        each
        for each in given
        if each.code == stop.code
        and set(each.features) == set(stop.features)
        and not holds(as_stated(each), stop)
    ]
    return of_it[-1] if of_it else None


def mark_of(stop: Finding) -> str:
    """A stop's own mark, by its code, its cuts, its numbers and its words: what a screen shows is what it answers."""
    whole = repr((stop.code, stop.features, stop.value, stop.limit, stop.message))
    return hashlib.sha256(whole.encode()).hexdigest()[:16]
