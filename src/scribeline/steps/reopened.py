"""Steps called done whose gates no longer pass, as findings: the job was changed, or the reading, since."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from scribeline.findings import Finding
from scribeline.job import Record
from scribeline.lengths import said
from scribeline.steps.card import Ask, Card, Gate
from scribeline.steps.standing import Answer, decisive, reopens, verdict


def reopened(record: Record, cards: Sequence[Card]) -> Iterator[Finding]:
    """Does every gate of a step that is done still pass?

    The gate itself holds back what comes after it, so that the finding concerns no cut by itself.
    """
    answers = {each.card: Answer.of(each) for each in record.readings}
    done = {each.card for each in record.done}
    for card in cards:
        answer = answers.get(card.id)
        if card.id not in done or answer is None or not reopens(card, answer):
            continue
        wanted, value = decisive(card.gate, answer)
        answer = answer if value is None else replace(answer, value=value)
        yield Finding(
            code="gate.no-longer-passes",
            severity="stop",
            features=card.features,
            value=value,
            limit=wanted.low if verdict(card.gate, answer) == "too little" else wanted.high,
            message=f"step {card.no}, {card.title}, was called done and is open again: {_read(answer)}, and the job now "
            f"wants {_wanted(wanted)}. What was cut since stays as it was cut",
            cure=_cure(card, answer),
            source=f"the gate of step {card.no}",
            concerns=(),
        )


def _read(answer: Answer) -> str:
    if answer.value is not None:
        words = f"{said(answer.value)} was read"
    elif answer.risk:
        words = "it was accepted at your own risk"
    else:
        words = f'its question was answered with "{"yes" if answer.yes else "no"}"'
    if answer.risk and (answer.low is not None or answer.high is not None):
        words += f", accepted at your own risk for {_between(answer.low, answer.high)} and for nothing else"
    elif answer.risk:
        words += ", for limits that were not kept"
    return words


def _wanted(of: Gate | Ask) -> str:
    if isinstance(of, Gate) and of.value is None:
        return f'a yes to "{of.ask}"'
    limits = "" if of.low is None and of.high is None else f" ({_between(of.low, of.high)})"
    return f"{said(of.value or 0.0)}{limits}"


def _between(low: float | None, high: float | None) -> str:
    if low is None or high is None:
        return f"at most {said(high)}" if high is not None else f"at least {said(low or 0.0)}"
    return f"{said(low)} to {said(high)}"


def _cure(card: Card, answer: Answer) -> str:
    again = f"measure it again and keep the new reading at step {card.no}"
    if answer.value is None:
        return f"{again}; or undo the edit that changed it"
    return (
        f"{again}; if {said(answer.value)} is right, state it in the job so that the rest is planned from it, or undo the edit "
        f"that changed it; or accept it at step {card.no} at your own risk"
    )
