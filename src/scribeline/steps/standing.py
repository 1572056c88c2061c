"""Where the work stands: which steps are done, which may be begun, and what their gates say."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import inf
from types import MappingProxyType
from typing import Literal, Protocol

from scribeline.findings import Finding
from scribeline.job import AskRead, Cut
from scribeline.layout import AtGate
from scribeline.operations import Need
from scribeline.steps.card import Ask, Card, Gate

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
        value: the reading, mm, of several the one that decides; None where the gate asks for a yes or no.
        yes: the answer of such a gate.
        risk: why the work goes on although the gate says no; "" where it does not.
        low: least that the gate asked for when it was accepted so, mm.
        high: most that it asked for then, mm.
        values: each of several readings, where the gate asks for several.
        at: when it was read; None where that is not known.
    """

    value: float | None = None
    yes: bool | None = None
    risk: str = ""
    low: float | None = None
    high: float | None = None
    values: tuple[AskRead, ...] = ()
    at: dt.datetime | None = field(default=None, compare=False)

    @classmethod
    def of(cls, read: Read) -> Answer:
        """What a reading of the record answers."""
        return cls(read.value_mm, read.yes, read.risk, read.low, read.high, read.values, read.at)


class Read(Protocol):
    """A reading of a record, whoever keeps it."""

    @property
    def value_mm(self) -> float | None:
        """The reading, mm; of several the one that decides."""

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

    @property
    def values(self) -> tuple[AskRead, ...]:
        """Each of several readings."""

    @property
    def at(self) -> dt.datetime:
        """When it was read."""


def answered(gate: Gate, readings: Sequence[float | None]) -> Answer:
    """What was read at a gate, in the order it asks: one reading, or each of several.

    Where the least of several counts, it may be given alone.

    Raises:
        ValueError: some are missing, in words for whoever typed the others.
    """
    given = [each for each in readings if each is not None]
    asks = gate.asks or (None,)
    alone = len(given) == 1 and gate.counts == "least"
    if not given or len(readings) > len(asks) or not (alone or len(given) == len(asks)):
        message = (
            f"{len(asks)} readings are asked for; give each" if gate.asks else "one reading is asked for"
        )
        raise ValueError(message + (", or the least alone" if gate.counts == "least" else ""))
    if alone or not gate.asks:
        return Answer(given[0])
    values = tuple(AskRead(ask=ask.id, value_mm=mm) for ask, mm in zip(gate.asks, given, strict=True))
    return Answer(decisive(gate, Answer(given[0], values=values))[1], values=values)


def decisive(gate: Gate, answer: Answer) -> tuple[Gate | Ask, float | None]:
    """What of a gate decides whether it passes, and the reading of that, mm.

    Of several readings it is the least where that counts, else the one farthest beyond its limits, or nearest to them; none
    decides while one is missing that the gate has always asked for.
    """
    read = {each.ask: each.value_mm for each in answer.values}
    if gate.asks and gate.counts == "each":
        needed = [ask for ask in gate.asks if not ask.may_lack]
        if not read and answer.value is not None and len(needed) == 1 and len(gate.asks) > 1:
            read = {needed[0].id: answer.value}  # the one reading that it asked for then
        if any(ask.id not in read for ask in needed):
            return gate, None
        given = [ask for ask in gate.asks if ask.id in read]
        worst = max(given, key=lambda ask: _beyond(ask, read[ask.id]))
        return worst, read[worst.id]
    if gate.cut in read:  # read together with others that are steps of their own now
        return gate, read[gate.cut]
    return gate, min(read.values(), default=answer.value)


def depths_read(gate: Gate, answer: Answer) -> dict[str, float]:
    """What a gate's readings tell of the depths of cuts: mm from the cut's own face, by the cut's id."""
    read = {each.ask: each.value_mm for each in answer.values}
    found = {ask.cut: read[ask.id] - ask.above for ask in gate.asks if ask.cut and ask.id in read}
    if gate.cut and (value := read.get(gate.cut, answer.value)) is not None:
        found[gate.cut] = value - gate.above
    return found


def verdict(gate: Gate, answer: Answer) -> Verdict:
    """What an answer means at a gate; limits count as within.

    What was accepted at one's own risk is so for the limits of that time: once the gate asks for others, the reading
    counts by itself. Where each of several readings counts, none may be missing.
    """
    if answer.risk and _asks_alike(gate, answer):
        return "at own risk"
    if gate.value is None:
        return "passes" if answer.yes and not answer.risk else "no"
    wanted, value = decisive(gate, answer)
    if value is None:
        return "no"
    if wanted.low is not None and value < wanted.low - _EDGE:
        return "too little"
    if wanted.high is not None and value > wanted.high + _EDGE:
        return "too much"
    return "passes"


def read_at_gates(cards: Sequence[Card], answers: Mapping[str, Answer]) -> dict[str, AtGate]:
    """What was read last of each measurable at a gate, in the order of work, by the measurable's id.

    Args:
        cards: the plan's steps.
        answers: the newest answer at each step's gate, by the step's id.
    """
    return dict(gate_readings(cards, answers))


def gate_readings(cards: Sequence[Card], answers: Mapping[str, Answer]) -> Iterator[tuple[str, AtGate]]:
    """Every measurable that was read at a gate, once a step, in the order of work; see `read_at_gates`."""
    for card in cards:
        gate, answer = card.gate, answers.get(card.id)
        if answer is None or answer.value is None:
            continue
        if gate.asks and gate.counts == "each":
            read = {each.ask: each.value_mm for each in answer.values}
            if not read and gate.measurable:
                yield gate.measurable, AtGate(card.id, answer.value, answer.at)
            for ask in gate.asks:
                if ask.measurable and ask.id in read:
                    yield ask.measurable, AtGate(card.id, read[ask.id], answer.at)
        elif gate.measurable:
            yield gate.measurable, AtGate(card.id, answer.value, answer.at)


def as_measured(cuts: Iterable[Cut], gate: Gate, answer: Answer | None) -> tuple[Cut, ...]:
    """The cuts of a step with what its gate's reading tells of them beside what was planned.

    Args:
        cuts: as planned, as `operations.cuts_of` gives them.
        gate: of the step.
        answer: the newest at it.
    """
    read = {} if answer is None else depths_read(gate, answer)
    return tuple(
        cut.model_copy(update={"measured_depth": read[cut.id]}) if cut.id in read else cut for cut in cuts
    )


def _beyond(ask: Ask, value: float) -> float:
    """How far a reading lies beyond its limits, mm; negative within them."""
    below = -inf if ask.low is None else ask.low - value
    return max(below, -inf if ask.high is None else value - ask.high)


def _asks_alike(gate: Gate, answer: Answer) -> bool:
    """Whether a gate asks for what it asked for when it was gone on against."""
    then = {each.ask: each for each in answer.values} if gate.counts == "each" else {}
    return (
        _alike(answer.low, gate.low)
        and _alike(answer.high, gate.high)
        and all(
            ask.id in then and _alike(then[ask.id].low, ask.low) and _alike(then[ask.id].high, ask.high)
            for ask in (gate.asks if gate.counts == "each" else ())
            if ask.id in then or not ask.may_lack
        )
    )


def _alike(a: float | None, b: float | None) -> bool:
    return a is b or (a is not None and b is not None and abs(a - b) <= _SAME)


def lets_on(gate: Gate, answer: Answer | None) -> bool:
    """Whether a gate lets the work go on by its newest answer."""
    return answer is not None and verdict(gate, answer) in {"passes", "at own risk"}


def accepted(gate: Gate, answer: Answer | None, why: str) -> Answer:
    """A gate gone on against at the builder's own risk, with what was read last and for the limits it asks for now."""
    read, values = (None, ()) if answer is None else (answer.value, answer.values)
    asks = {ask.id: ask for ask in gate.asks} if gate.counts == "each" else {}
    values = tuple(
        each.model_copy(update={"low": asks[each.ask].low, "high": asks[each.ask].high})
        if each.ask in asks
        else each
        for each in values
    )
    return Answer(read, True if read is None else None, " ".join(why.split()), gate.low, gate.high, values)


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
