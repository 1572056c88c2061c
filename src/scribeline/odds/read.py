"""What readings of the bench's record leave of the errors: a number that was read is no longer in doubt but by its reading.

A reading r of q = planned + Σ aᵢ eᵢ, itself off by ε, moves every number y that rests on the same errors to
y − g (Σ aᵢ eᵢ + ε − (r − planned)), with g = cov(y, q) / (var q + var ε): again a sum of independent errors, with the expectation
and the spread that the reading leaves (conditioning by kriging, which is exact for normal errors; Chilès and Delfiner,
Geostatistics, 2nd ed. 2012, 7.3; from memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from scribeline.layout import as_read
from scribeline.odds.outcomes import Outcome
from scribeline.odds.sources import Source
from scribeline.plan import Plan
from scribeline.steps import Answer, gate_readings
from scribeline.tables import Accuracies

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Spread:
    """What errors add to numbers.

    Attributes:
        errors: every source.
        outcomes: what a standard deviation of each adds to each outcome, shape (sources, outcomes), mm.
        places: likewise to each coordinate, shape (sources, coordinates).
        expected: how far each outcome is expected off what is planned, mm.
        displaced: likewise of each coordinate.
    """

    errors: tuple[Source, ...]
    outcomes: Floats
    places: Floats
    expected: Floats
    displaced: Floats


@dataclass(frozen=True, slots=True)
class _Reading:
    """One number that was read: which, after which step, how far off what is planned, by what and how well."""

    step: str
    name: str
    off: float
    method: str
    sd: float


def conditioned(found: Spread, plan: Plan, outcomes: Sequence[Outcome], accuracies: Accuracies) -> Spread:
    """The same, with what was read at the steps that are done, and what was measured, taken off."""
    row = {outcome.id: n for n, outcome in enumerate(outcomes)}
    order = {work.id: work.no for work in plan.operations}
    for each in (
        *_readings(plan, row, outcomes, accuracies),
        *_measured(plan, row, outcomes, accuracies, order),
    ):
        found = _less(found, each, row[each.name], order)
    return found


def _measured(
    plan: Plan,
    row: Mapping[str, int],
    outcomes: Sequence[Outcome],
    accuracies: Accuracies,
    order: Mapping[str, int],
) -> Iterator[_Reading]:
    """What the record's measurements alone make of each number, as things stand now: after the last step that is done."""
    done = [each.card for each in plan.record.done if each.card in order]
    step = max(done, key=lambda name: order[name], default="")
    for name, read in as_read(plan.measurables, plan.record, accuracies).items():
        if name in row:
            yield _Reading(step, name, read.value - outcomes[row[name]].value, read.check.method, read.sd)


def _readings(
    plan: Plan, row: Mapping[str, int], outcomes: Sequence[Outcome], accuracies: Accuracies
) -> Iterator[_Reading]:
    """The last reading of each number at each step that is done, in the order of work."""
    done = {each.card for each in plan.record.done}
    by = {each.id: each.method for each in plan.measurables}
    answers = {each.card: Answer.of(each) for each in plan.record.readings if each.card in done}
    for name, read in gate_readings(plan.cards, answers):
        if name in row:
            off, method = read.mm - outcomes[row[name]].value, by.get(name, "rule")
            yield _Reading(read.step, name, off, method, accuracies[method].sd)


def _less(found: Spread, read: _Reading, row: int, order: Mapping[str, int]) -> Spread:
    """What one reading leaves; it tells of what was done by then."""
    then = order.get(read.step, 0)
    early = np.array([order.get(each.operation, 0) <= then for each in found.errors])
    adds = np.where(early, found.outcomes[:, row], 0.0)
    variance = float(adds @ adds)
    if variance <= 0:
        return found
    sd = read.sd
    own = Source(read.step, read.method, read.name, sd, (), reading=True)
    whole = variance + sd**2
    surplus = read.off - float(found.expected[row])

    def less(spread: Floats, expected: Floats) -> tuple[Floats, Floats]:
        gain = adds @ spread / whole
        return np.vstack([spread - np.outer(adds, gain), -sd * gain]), expected + gain * surplus

    outcomes, expected = less(found.outcomes, found.expected)
    places, displaced = less(found.places, found.displaced)
    return Spread((*found.errors, own), outcomes, places, expected, displaced)
