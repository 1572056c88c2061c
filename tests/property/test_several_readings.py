"""A gate that asks for several readings: the least of them, or each within limits of its own."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scribeline.job import AskRead, GateRead, JobError, Record, parse_job, read_record, with_tables
from scribeline.operations import Operation
from scribeline.plan import Plan, plan
from scribeline.plan.record import record
from scribeline.steps import (
    Answer,
    Ask,
    Card,
    Gate,
    accepted,
    answered,
    depths_read,
    lets_on,
    reopened,
    verdict,
)

from ..conftest import DEMO

AT = dt.datetime(2026, 11, 30, 10, 15, tzinfo=dt.UTC)
LEAST = Gate("thickness", 44.4, 44.3, 44.5).of_least("place 1", "place 2", "place 3", "place 4")
TWINS = Gate.of_each(
    "depth of each",
    (
        Ask("neck-pickup", "neck pickup", 18.0, 17.75, 18.25, cut="neck-pickup"),
        Ask("bridge-pickup", "bridge pickup", 20.0, 19.75, 20.25, cut="bridge-pickup", above=2.0),
    ),
)


def of_values(gate: Gate, *values: float) -> Answer:
    return answered(gate, values)


@given(values=st.lists(st.floats(40, 50), min_size=4, max_size=4))
def test_the_least_decides(values: list[float]) -> None:
    answer = of_values(LEAST, *values)
    least = sorted(values)[0]
    assert answer.value == least
    assert [each.value_mm for each in answer.values] == values
    assert verdict(LEAST, answer) == verdict(LEAST, Answer(least))
    assert verdict(LEAST, answer) == (
        "too little" if least < 44.3 else "too much" if least > 44.5 else "passes"
    )


@given(neck=st.floats(17, 19), bridge=st.floats(19, 21))
def test_each_must_lie_within_its_own_limits(neck: float, bridge: float) -> None:
    good = 17.75 <= neck <= 18.25 and 19.75 <= bridge <= 20.25
    answer = of_values(TWINS, neck, bridge)
    assert lets_on(TWINS, answer) is good
    assert depths_read(TWINS, answer) == {"neck-pickup": neck, "bridge-pickup": bridge - 2.0}
    again = of_values(replace(TWINS, asks=TWINS.asks[::-1]), bridge, neck)
    assert verdict(TWINS, again) == verdict(TWINS, answer)


def test_the_one_that_is_farthest_out_decides() -> None:
    """0.15 mm too deep beside 0.05 mm too shallow."""
    answer = of_values(TWINS, 17.7, 20.4)
    assert (answer.value, verdict(TWINS, answer)) == (20.4, "too much")


def test_one_that_is_missing_is_asked_for() -> None:
    with pytest.raises(ValueError, match="4 readings are asked for; give each, or the least alone"):
        answered(LEAST, [44.4, 44.4, None, None])
    assert answered(LEAST, [None, 44.4, None, None]) == Answer(44.4)
    with pytest.raises(ValueError, match="2 readings are asked for; give each"):
        answered(TWINS, [18.0, None])
    with pytest.raises(ValueError, match="one reading is asked for"):
        answered(Gate("depth", 18.0), [18.0, 18.1])
    # A reading that was kept when the gate asked for one counts where the least does, and is not enough where each does.
    assert verdict(LEAST, Answer(44.4)) == "passes"
    assert verdict(TWINS, Answer(18.0)) == "no"


def test_it_is_gone_on_against_for_the_limits_of_each() -> None:
    risked = accepted(TWINS, of_values(TWINS, 18.0, 21.0), "it is a wall piece")
    assert verdict(TWINS, risked) == "at own risk"
    other = replace(TWINS, asks=(TWINS.asks[0], replace(TWINS.asks[1], high=20.2)))
    assert verdict(other, risked) == "too much"


def test_a_step_open_again_tells_of_the_reading_that_does_not_pass() -> None:
    work = Operation("rout-twins", "rout", "router", no=3)
    card = Card.of(work, "Rout the twins", (), TWINS, ())
    read = of_values(TWINS, 18.0, 21.0)
    kept = GateRead(card=card.id, value_mm=read.value, values=read.values, by="K. Ostrow", at=AT)
    done = {"card": card.id, "by": "K. Ostrow", "at": AT}
    (stop,) = reopened(read_record({"done": [done], "readings": [kept.model_dump()]}), [card])
    assert (stop.value, stop.limit) == (21.0, 20.25)


def gate_of(made: Plan) -> Gate:
    return next(card.gate for card in made.cards if card.id == "check-body")


def test_the_blank_is_read_in_four_places() -> None:
    made = plan(*parse_job(DEMO))
    gate = gate_of(made)
    assert [ask.words for ask in gate.asks] == [f"place {n}" for n in range(1, 5)]
    (told,) = [each["gate"] for each in record(made)["steps"] if each["id"] == "check-body"]
    assert told["counts"] == "least"
    assert [each["id"] for each in told["asks"]] == ["1", "2", "3", "4"]


def test_the_record_of_several_goes_through_a_job_file_bit_for_bit() -> None:
    answer = of_values(LEAST, 44.4, 44.300000000000004, 44.45, 44.5)
    kept = Record(
        readings=(
            GateRead(card="check-body", value_mm=answer.value, values=answer.values, by="K. Ostrow", at=AT),
            GateRead(card="check-body", value_mm=44.4, by="K. Ostrow", at=AT),
        )
    )
    assert parse_job(with_tables(DEMO, kept.tables)).record == kept


@pytest.mark.parametrize(
    "wrong",
    [
        {"yes": True, "values": [{"ask": "1", "value_mm": 44.4}]},
        {"value_mm": 44.4, "values": [{"ask": "1", "value_mm": 44.4}, {"ask": "1", "value_mm": 44.5}]},
    ],
)
def test_a_record_that_cannot_be_is_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(JobError):
        read_record({"readings": [{"card": "check-body", "by": "K. Ostrow", "at": AT, **wrong}]})


def test_a_reading_of_an_ask_is_kept_with_what_says_something() -> None:
    assert AskRead(ask="1", value_mm=44.4).plain == {"ask": "1", "value_mm": 44.4}
