"""Where the work stands: a step waits for what it needs, a gate on its limit passes, nothing done waits."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scribeline.job import AskRead
from scribeline.plan import Plan
from scribeline.steps import Answer, Gate, next_open, standings, verdict

DEPTH = Gate("depth", 33.5, 33.0, 34.0)
FITS = Gate("the ferrule fits")


def read(gate: Gate, value: float | None = None, *, yes: bool = True) -> Answer:
    """An answer in every place that a gate asks for: what it expects, unless something else was read."""
    values = tuple(AskRead(ask=ask.id, value_mm=value or ask.value) for ask in gate.asks)
    return Answer(value or gate.value, yes, values=values)


@pytest.mark.parametrize(
    ("gate", "answer", "meant"),
    [
        (DEPTH, Answer(33.0), "passes"),
        (DEPTH, Answer(34.0), "passes"),
        (DEPTH, Answer(32.99), "too little"),
        (DEPTH, Answer(34.01), "too much"),
        (DEPTH, Answer(40.0, risk="scrap showed it holds", low=33.0, high=34.0), "at own risk"),
        (DEPTH, Answer(40.0, risk="scrap showed it holds", low=33.0, high=33.5), "too much"),
        (DEPTH, Answer(33.2, risk="scrap showed it holds", low=30.0, high=31.0), "passes"),
        (DEPTH, Answer(yes=True, risk="before limits were kept"), "no"),
        (DEPTH, Answer(yes=True), "no"),
        (FITS, Answer(yes=True, risk="a light tap does it"), "at own risk"),
        (FITS, Answer(4.0), "no"),
        (FITS, Answer(yes=True), "passes"),
        (FITS, Answer(yes=False), "no"),
        (Gate("gap", 0.0, None, 0.15), Answer(-3.0), "passes"),
    ],
)
def test_what_an_answer_means(gate: Gate, answer: Answer, meant: str) -> None:
    assert verdict(gate, answer) == meant


@given(done=st.sets(st.integers(0, 30)))
def test_nothing_may_be_ticked_before_what_it_needs(demo_plan: Plan, done: set[int]) -> None:
    ids = [card.id for card in demo_plan.cards]
    marked = {ids[n] for n in done if n < len(ids)}
    for each in standings(demo_plan.cards, marked, {}):
        needs = {need.first for need in each.card.after}
        if each.card.id in marked:
            assert each.state == "done"
        else:
            assert (each.state == "open") == (needs <= marked)
        assert not (each.may_be_ticked and (each.card.gate is not None or not needs <= marked))


def test_going_on_with_the_open_step_ends_with_all_done(demo_plan: Plan) -> None:
    done: list[str] = []
    passing = {card.id: read(card.gate) for card in demo_plan.cards}
    while (step := next_open(standings(demo_plan.cards, done, passing))) is not None:
        assert step.may_be_ticked
        done.append(step.card.id)
    assert done == [
        card.id for card in demo_plan.cards
    ]  # the order printed is an order in which one can work


@given(many=st.integers(1, 30), which=st.integers(0, 29))
def test_what_comes_after_a_gate_that_no_longer_passes_waits_and_what_is_done_stays_done(
    demo_plan: Plan, many: int, which: int
) -> None:
    """However many done steps lie between: needs name the step before alone."""
    cards = demo_plan.cards
    done = [card.id for card in cards[:many]]
    answers = {card.id: read(card.gate) for card in cards}
    failed = cards[min(which, len(done) - 1)]
    assert failed.gate is not None
    far = 2500.0 if failed.gate.value is not None and failed.gate.low is None else -2500.0
    answers[failed.id] = read(failed.gate, far, yes=False)
    found = {each.card.id: each for each in standings(cards, done, answers)}
    assert found[failed.id].reopened
    assert found[failed.id].state == "open"
    later = {failed.id}
    for card in cards:
        if later & {need.first for need in card.after}:
            later.add(card.id)
    for card in cards:
        each = found[card.id]
        if card.id in done:
            assert (each.state == "done") == (card.id != failed.id)
        else:
            assert each.state == "waits" or card.id not in later
