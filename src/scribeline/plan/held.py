"""Reading and planning held to their bounds, and what is said where they take more than they may."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

from scribeline.bounds import Bounds, Exceeded, within
from scribeline.job import Fault, Job, JobError, JobFile
from scribeline.plan.whole import Plan, plan
from scribeline.solid.tunnels import Look, Problem, Solution, solve

if TYPE_CHECKING:
    from scribeline.features import Bit

Made = TypeVar("Made")

READING = Bounds(seconds=10, megabytes=1000)
"""For a job's text and the files that it names. An outline of 100,000 short lines takes a fifth of it."""

PLANNING = Bounds(seconds=30, megabytes=1000)
"""For one plan. A job as it comes from a bench takes a tenth of a second, its tunnels one or two seconds."""

_TUNNEL = "tunnel"


def read_held(read: Callable[[], JobFile], source: str = "") -> JobFile:
    """A job that is read, with its record, within `READING`.

    Args:
        read: reads it.
        source: what to call it in messages.

    Raises:
        JobError: everything that is wrong with it, or that reading it takes more than it may.
    """
    try:
        with within(READING):
            return read()
    except Exceeded as cut:
        raise too_long_to_read(cut, source) from None


def plan_held(stated: JobFile, source: str = "") -> Plan:
    """The plan of a job, within `PLANNING`.

    Args:
        stated: the job, and what was done for it.
        source: what to call it in messages.

    Raises:
        JobError: planning it takes more than it may.
    """
    try:
        with within(PLANNING):
            return plan(*stated, noting(solve))
    except Exceeded as cut:
        raise too_long_to_plan(cut, stated.job, source) from None


def noting(look: Callable[[Problem, tuple[Bit, ...], float], Solution]) -> Look:
    """A search for the ways of tunnels that leaves word where it is cut off."""

    def noted(problem: Problem, bits: tuple[Bit, ...], drift: float) -> Solution:
        try:
            return look(problem, bits, drift)
        except (Exceeded, MemoryError) as cut:
            cut.add_note(_TUNNEL)
            raise

    return noted


def too_long_to_read(cut: Exceeded, source: str = "") -> JobError:
    """What is said where reading a job took more than it may."""
    if cut.at:
        sentence = (
            f"{cut.at}: reading it takes {cut.words}; save the outline alone into a new file, or draw it with fewer"
            " and longer lines or curves"
        )
        return JobError([Fault("body.outline", sentence)], source)
    sentence = f"reading it takes {cut.words}; a drawing it names, or one of its lists, is too large: make that simpler"
    return JobError([Fault("", sentence)], source)


def too_long_to_plan(cut: Exceeded, job: Job, source: str = "") -> JobError:
    """What is said where planning a job took more than it may."""
    document = job.document
    if cut.at == _TUNNEL:
        names = ", ".join(f'"{tunnel.name}"' for tunnel in document.tunnels)
        sentence = (
            f"finding the best way for {names} takes {cut.words}; state one of them yourself (entry, heading and"
            " lands), or leave one out"
        )
        return JobError([Fault("tunnels", sentence)], source)
    holes = sum(len(each.places) for each in document.holes)
    sentence = (
        f"planning it takes {cut.words}; it has {holes} stated holes, {len(document.pockets)} pockets and an outline of"
        f" {len(job.outline.points)} corners: leave out what is not needed, or draw the outline with fewer corners"
    )
    return JobError([Fault("", sentence)], source)
