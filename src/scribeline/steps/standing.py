"""Where the work stands: which steps are done, which may be begun, and what their gates say."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from scribeline.steps.card import Card, Gate
from scribeline.steps.ordering import Need

State = Literal["done", "open", "waits"]
Verdict = Literal["passes", "too little", "too much", "no", "at own risk"]

_EDGE = 1e-9
"""A reading on the limit itself passes, whatever a float makes of it, mm."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What was read at a gate.

    Attributes:
        value: the reading, mm; None where the gate asks for a yes or no.
        yes: the answer of such a gate.
        risk: why the work goes on although the gate says no; "" where it does not.
    """

    value: float | None = None
    yes: bool | None = None
    risk: str = ""


def verdict(gate: Gate, answer: Answer) -> Verdict:
    """What an answer means at a gate; limits count as within."""
    if answer.risk:
        return "at own risk"
    if gate.value is None or answer.value is None:
        return "passes" if answer.yes else "no"
    if gate.low is not None and answer.value < gate.low - _EDGE:
        return "too little"
    if gate.high is not None and answer.value > gate.high + _EDGE:
        return "too much"
    return "passes"


@dataclass(frozen=True, slots=True)
class Standing:
    """One step as the work stands.

    Attributes:
        card: the step.
        state: done, open to be begun, or waiting for others.
        waits_for: what must be done first, and why.
        answer: the newest one at its gate.
        verdict: what that means; None where there is no gate or no answer yet.
    """

    card: Card
    state: State
    waits_for: tuple[Need, ...] = ()
    answer: Answer | None = None
    verdict: Verdict | None = None

    @property
    def gate_is_open(self) -> bool:
        """Whether its gate lets the work go on."""
        return self.card.gate is None or self.verdict in {"passes", "at own risk"}

    @property
    def may_be_ticked(self) -> bool:
        """Whether it may be called done."""
        return self.state == "open" and self.gate_is_open


def standings(
    cards: Sequence[Card], done: Collection[str], answers: Mapping[str, Answer]
) -> tuple[Standing, ...]:
    """Every step as the work stands, in the order of work.

    Args:
        cards: the plan's steps.
        done: ids of the steps that are done.
        answers: the newest answer at each step's gate, by the step's id.
    """
    found = []
    for card in cards:
        waits = tuple(need for need in card.after if need.first not in done)
        state: State = "done" if card.id in done else "waits" if waits else "open"
        answer = answers.get(card.id)
        found.append(
            Standing(
                card,
                state,
                waits,
                answer,
                None if card.gate is None or answer is None else verdict(card.gate, answer),
            )
        )
    return tuple(found)


def next_open(found: Sequence[Standing]) -> Standing | None:
    """The step to go on with: the first that is open; None when all is done."""
    return next((each for each in found if each.state == "open"), None)
