"""What the record's measurements make of each number that can be checked: the value, how well known, what contradicts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from math import inf
from types import MappingProxyType

from pydantic import ValidationError

from scribeline.job import (
    SCALE,
    JobError,
    Measurement,
    Record,
    number_of,
    numbers_of,
    reading_sd,
    scale_unknown,
    scaled,
)
from scribeline.job.faults import faults_from
from scribeline.layout.bench import Measurable
from scribeline.lengths import MM_PER_INCH, JobUnit, read_length, said
from scribeline.quantities import Adjusted, Sight, Unknown, adjusted
from scribeline.tables import Accuracies

THICKNESS = "body-thickness"
"""The measurable of whose readings the least counts: wood is as thick as where it is thinnest."""


@dataclass(frozen=True, slots=True)
class AsRead:
    """One number of the plan as it was measured.

    Attributes:
        check: the number.
        read: how far off what is expected it is, by all readings together.
        gate: id of the step at whose gate it was read last and counts too; "" where it was not.
    """

    check: Measurable
    read: Adjusted
    gate: str = ""

    @property
    def value(self) -> float:
        """What all readings together make of it, mm."""
        return self.check.value + self.read.of({_IT: 1.0})[0]

    @property
    def sd(self) -> float:
        """Standard deviation of that, mm."""
        return self.read.of({_IT: 1.0})[1]

    @property
    def numbers(self) -> tuple[int, ...]:
        """Of the measurements in the record that count."""
        return numbers_of(self.read.sights)

    @property
    def wrong(self) -> tuple[int, ...]:
        """Of those that the others contradict, which do not."""
        return numbers_of(self.read.set_aside)

    @property
    def doubted(self) -> tuple[int, ...]:
        """Of those of which one is wrong, nobody can tell which."""
        return numbers_of(self.read.in_doubt)

    @property
    def is_within(self) -> bool:
        """Whether it lies within what is accepted of it, by the readings alone."""
        low, high = self.check.accepted
        return low - _EDGE <= self.value <= high + _EDGE


_EDGE = 1e-9


@dataclass(frozen=True, slots=True)
class AtGate:
    """What was read last of a number at a step's gate: the step's id, the reading, mm, and when, where that is known."""

    step: str
    mm: float
    at: datetime | None = None

    def stands(self, entries: Sequence[tuple[int, Measurement]]) -> bool:
        """Whether nothing was said since to have been moved."""
        return self.at is None or not any(
            each.anew and _aware(each.at) > _aware(self.at) for _, each in entries
        )


def _aware(at: datetime) -> datetime:
    return at if at.tzinfo else at.replace(tzinfo=UTC)


def as_read(
    checks: Sequence[Measurable],
    record: Record,
    accuracies: Accuracies,
    gates: Mapping[str, AtGate] = MappingProxyType({}),
) -> Mapping[str, AsRead]:
    """Every number that was measured, or read at a gate, by its name.

    Args:
        checks: the plan's numbers that can be checked.
        record: with the measurements.
        accuracies: how well the shop measures.
        gates: what was read at gates, by the number's name.
    """
    names = {entry.what for _, entry in record.standing} | set(gates)
    return {
        each.id: _read(each, record, accuracies, gates.get(each.id)) for each in checks if each.id in names
    }


def _read(check: Measurable, record: Record, accuracies: Accuracies, gate: AtGate | None) -> AsRead:
    def sight(no: int, way: str, mm: float, sd: float) -> Sight:
        return Sight(f"{check.id}#{no}", mm - check.value, sd, {_IT: 1.0, SCALE: scaled(way, mm)})

    entries = record.counting({check.id})
    if gate is not None and not gate.stands(entries):
        gate = None
    sights = [
        sight(no, each.with_what or check.method, each.value_mm, reading_sd(each, accuracies, check.method))
        for no, each in entries
    ]
    if gate is not None:
        sights.append(sight(0, check.method, gate.mm, accuracies[check.method].sd))
    if check.id == THICKNESS:
        sights = [min(sights, key=lambda each: each.off)]
    read = adjusted([Unknown(_IT, inf), scale_unknown(accuracies)], sights)
    at_gate = gate is not None and any(not number_of(each) for each in read.sights)
    return AsRead(check, read, gate.step if gate is not None and at_gate else "")


_IT = "it"


class Doubtful(ValueError):  # noqa: N818 - reads as what it is
    """A reading that is asked about before it is kept; its text says why, with lengths that `in_unit` tells."""


@dataclass(frozen=True, slots=True)
class Typed:
    """A measurement as somebody typed it.

    Attributes:
        text: the reading, with its ± where there is one.
        by: who read it.
        with_what: what it was read with.
        note: anything to remember about it.
        anew: whether something was moved, so that earlier readings of the same count no more.
        sure: whether it is kept however far it is from what is expected.
    """

    text: str
    by: str
    with_what: str = ""
    note: str = ""
    anew: bool = False
    sure: bool = False


def measurement(
    check: Measurable, typed: Typed, *, unit: JobUnit, at: datetime, revision: int = 1
) -> Measurement:
    """What is kept of a reading.

    Raises:
        LengthError: it is no length.
        Doubtful: it is so far from what is expected that somebody must say that it is so.
        JobError: something else of it cannot be kept.
    """
    length = read_length(typed.text, unit=unit)
    return entered(check, typed, length.mm, length.plus_minus_mm or None, at=at, revision=revision)


def entered(
    check: Measurable, typed: Typed, mm: float, plus_minus: float | None, *, at: datetime, revision: int
) -> Measurement:
    """The same of a reading that is a number already, mm, whatever its text says.

    Raises:
        Doubtful: as `measurement`.
        JobError: likewise.
    """
    if (why := doubt(check, mm)) and not typed.sure:
        raise Doubtful(why)
    try:
        return Measurement(
            what=check.id,
            value_mm=mm,
            plus_minus=plus_minus,
            by=typed.by,
            with_what=" ".join(typed.with_what.split()),
            at=at,
            revision=revision,
            lies_at=check.lies_at(mm),
            note=" ".join(typed.note.split()),
            anew=typed.anew,
        )
    except ValidationError as fault:
        raise JobError(faults_from(fault, Measurement), "the measurement") from fault


FAR = 10.0
"""A reading further off than this, mm, is asked about before it is kept: most likely it is of something else (common
practice, no source)."""

_NEARLY = 0.15
"""A reading that comes this near to what is expected once its unit is changed, as a share of it, was likely in that unit (common
practice, no source)."""


def doubt(check: Measurable, mm: float) -> str:
    """Why a reading is asked about before it is kept; "" for one that may well be.

    Args:
        check: what was measured.
        mm: the reading.
    """
    if check.low <= mm <= check.high:
        return ""
    for factor, unit in ((MM_PER_INCH, "inches"), (1 / MM_PER_INCH, "millimetres")):
        if abs(mm * factor - check.value) <= _NEARLY * abs(check.value):
            words = f"{said(mm)} is 25.4 times off the {said(check.value)} expected: was it read in {unit}?"
            return f"{words} Write the unit behind it"
    if abs(mm - check.value) > FAR:
        return f"{said(mm)} is {said(abs(mm - check.value))} off the {said(check.value)} expected: is it a reading of {check.id}?"
    return ""
