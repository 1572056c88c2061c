"""Where the work stands: which steps are done, which may be begun, and what their gates say."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, Protocol

from scribeline.findings import Finding
from scribeline.job import Cut
from scribeline.operations import Need
from scribeline.steps.card import Card, Gate

State = Literal["done", "open", "waits"]
Verdict = Literal["passes", "too little", "too much", "no", "at own risk"]

_EDGE = 1e-9
"""A reading on the limit itself passes, whatever a float makes of it, mm."""
_SAME = 1e-6
"""Limits that differ by no more are the same, mm."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What was read at a gate.

    Attributes:
        value: the reading, mm; None where the gate asks for a yes or no.
        yes: the answer of such a gate.
        risk: why the work goes on although the gate says no; "" where it does not.
        low: least that the gate asked for when it was accepted so, mm.
        high: most that it asked for then, mm.
    """

    value: float | None = None
    yes: bool | None = None
    risk: str = ""
    low: float | None = None
    high: float | None = None

    @classmethod
    def of(cls, read: Read) -> Answer:
        """What a reading of the record answers."""
        return cls(read.value_mm, read.yes, read.risk, read.low, read.high)


class Read(Protocol):
    """A reading of a record, whoever keeps it."""

    @property
    def value_mm(self) -> float | None:
        """The reading, mm."""

    @property
    def yes(self) -> bool | None:
        """The answer, where the gate asks for one."""

    @property
    def risk(self) -> str:
        """Why the work goes on although the gate does not pass."""

    @property
    def low(self) -> float | None:
        """Least that the gate asked for when it was accepted so, mm."""

    @property
    def high(self) -> float | None:
        """Most that it asked for then, mm."""


def verdict(gate: Gate, answer: Answer) -> Verdict:
    """What an answer means at a gate; limits count as within.

    What was accepted at one's own risk is so for the limits of that time: once the gate asks for others, the reading
    counts by itself.
    """
    if answer.risk and _alike(answer.low, gate.low) and _alike(answer.high, gate.high):
        return "at own risk"
    if gate.value is None:
        return "passes" if answer.yes and not answer.risk else "no"
    if answer.value is None:
        return "no"
    if gate.low is not None and answer.value < gate.low - _EDGE:
        return "too little"
    if gate.high is not None and answer.value > gate.high + _EDGE:
        return "too much"
    return "passes"


def as_measured(cuts: Iterable[Cut], gate: Gate, answer: Answer | None) -> tuple[Cut, ...]:
    """The cuts of a step with what its gate's reading tells of them beside what was planned.

    Args:
        cuts: as planned, as `operations.cuts_of` gives them.
        gate: of the step.
        answer: the newest at it.
    """
    read = None if answer is None else gate.depth_read(answer.value)
    return tuple(
        cut.model_copy(update={"measured_depth": read[1]}) if read is not None and cut.id == read[0] else cut
        for cut in cuts
    )


def _alike(a: float | None, b: float | None) -> bool:
    return a is b or (a is not None and b is not None and abs(a - b) <= _SAME)


def lets_on(gate: Gate, answer: Answer | None) -> bool:
    """Whether a gate lets the work go on by its newest answer."""
    return answer is not None and verdict(gate, answer) in {"passes", "at own risk"}


def accepted(gate: Gate, answer: Answer | None, why: str) -> Answer:
    """A gate gone on against at the builder's own risk, with what was read last and for the limits it asks for now."""
    read = None if answer is None else answer.value
    return Answer(read, True if read is None else None, " ".join(why.split()), gate.low, gate.high)


def reopens(card: Card, answer: Answer | None) -> bool:
    """Whether a step that was called done is to be taken up again: its gate was answered and no longer passes."""
    return answer is not None and not lets_on(card.gate, answer)


@dataclass(frozen=True, slots=True)
class Standing:
    """One step as the work stands.

    Attributes:
        card: the step.
        state: done, open to be begun, or waiting for others or for a stop.
        waits_for: what must be done first, and why.
        answer: the newest one at its gate.
        verdict: what that means; None where there is no answer yet.
        stopped_by: stops that keep it from being begun.
        reopened: whether it was called done and its gate no longer passes; what it cut stays cut.
    """

    card: Card
    state: State
    waits_for: tuple[Need, ...] = ()
    answer: Answer | None = None
    verdict: Verdict | None = None
    stopped_by: tuple[Finding, ...] = ()
    reopened: bool = False

    @property
    def gate_is_open(self) -> bool:
        """Whether its gate lets the work go on."""
        return lets_on(self.card.gate, self.answer)

    @property
    def may_be_ticked(self) -> bool:
        """Whether it may be called done."""
        return self.state == "open" and self.gate_is_open and not self.stopped_by


def standings(
    cards: Sequence[Card],
    done: Collection[str],
    answers: Mapping[str, Answer],
    stopped: Mapping[str, tuple[Finding, ...]] = MappingProxyType({}),
) -> tuple[Standing, ...]:
    """Every step as the work stands, in the order of work.

    Args:
        cards: the plan's steps.
        done: ids of the steps that are done.
        answers: the newest answer at each step's gate, by the step's id.
        stopped: the stops that keep a step from being begun, by the step's id.
    """
    again = {card.id for card in cards if card.id in done and reopens(card, answers.get(card.id))}
    finished = set(done) - again
    behind = _behind(cards, again)
    found = []
    for card in cards:
        waits = tuple(need for need in card.after if need.first not in finished)
        waits += tuple(
            need for need in behind[card.id] if need.first not in {direct.first for direct in waits}
        )
        stops = () if card.id in finished else stopped.get(card.id, ())
        state: State = "done" if card.id in finished else "waits" if waits or stops else "open"
        answer = answers.get(card.id)
        found.append(
            Standing(
                card,
                state,
                () if card.id in finished else waits,
                answer,
                None if answer is None else verdict(card.gate, answer),
                stops,
                card.id in again,
            )
        )
    return tuple(found)


def _behind(cards: Sequence[Card], again: Collection[str]) -> Mapping[str, tuple[Need, ...]]:
    """For each step the steps open again that it comes after, however many done ones lie between: needs name the next alone."""
    found: dict[str, tuple[Need, ...]] = {}
    for card in cards:
        mine = {need.first: need for need in card.after if need.first in again}
        for need in card.after:
            for far in found.get(need.first, ()):
                mine.setdefault(far.first, far)
        found[card.id] = tuple(mine.values())
    return found


def next_open(found: Sequence[Standing]) -> Standing | None:
    """The step to go on with: the first that is open; None when all is done."""
    return next((each for each in found if each.state == "open"), None)
