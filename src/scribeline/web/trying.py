"""Trying one change before it is kept: what the plan would be with it, and what that would do away with or bring."""

from __future__ import annotations

from dataclasses import dataclass

from scribeline.findings import Finding, Try
from scribeline.job import JobError, set_value
from scribeline.web.fields import asked, at_key, in_words, shown, stated, value_of
from scribeline.web.frame import Opened
from scribeline.web.numbers import Changed, changed, findings_changed


@dataclass(frozen=True, slots=True)
class Tried:
    """What a change would do.

    Attributes:
        key: of the job file.
        words: what that is, in bench words.
        was: as stated now; "" where it is not.
        now: as it would be stated.
        numbers: of the plan that would change.
        came: findings it would bring.
        gone: findings it would do away with.
        stops: stops that would stand.
        refused: why it cannot be put into the job; "" where it can.
    """

    key: str
    words: str
    was: str
    now: str
    numbers: tuple[Changed, ...] = ()
    came: tuple[Finding, ...] = ()
    gone: tuple[Finding, ...] = ()
    stops: int = 0
    refused: str = ""


def as_typed(way: Try) -> str:
    """What a person would type for it."""
    return way.value if isinstance(way.value, str) else ", ".join(way.value)


def tried(job: Opened, key: str, typed: str) -> Tried:
    """What setting one key would do; nothing is kept."""
    was, words = shown(at_key(stated(job.text), key)), in_words(job.document, key)
    try:
        text, _ = set_value(job.text, key, value_of(asked(job.document, key), typed))
        then = job.shop.planner.plan(text, job.folder, job.record)
    except JobError as error:
        return Tried(key, words, was, typed, refused="; ".join(str(fault) for fault in error.faults))
    if job.plan is None:
        return Tried(key, words, was, typed, stops=len(then.stops))
    came, gone = findings_changed(job.plan, then)
    return Tried(key, words, was, typed, changed(job.plan, then), came, gone, len(then.stops))
