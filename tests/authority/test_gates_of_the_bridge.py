"""What is asked before and after the bridge's holes: the thread, both diagonals, and limits no tighter than what reads them."""

from __future__ import annotations

from datetime import UTC, datetime
from math import hypot

import pytest

from scribeline.job import AskRead, GateRead, Measurement, Record, parse_job
from scribeline.plan import Plan, plan
from scribeline.steps import Answer, answered, verdict
from scribeline.tables import usual_accuracies

from ..conftest import DEMO

JOB, _ = parse_job(DEMO)
SEEN = plan(JOB)
AT = datetime(2026, 11, 30, 10, tzinfo=UTC)


def gate_of(name: str) -> list[str]:
    return [ask.id for ask in next(card.gate for card in SEEN.cards if card.id == name).asks]


def read_at(step: str, off: dict[str, float], *measured: Measurement) -> Plan:
    """The plan with a gate read as expected, but for what is so far off."""
    gate = next(card.gate for card in SEEN.cards if card.id == step)
    values = tuple(AskRead(ask=ask.id, value_mm=ask.value + off.get(ask.id, 0.0)) for ask in gate.asks)
    entry = GateRead(card=step, value_mm=values[0].value_mm, values=values, by="Ann", at=AT)
    return plan(JOB, Record(readings=(entry,), measured=measured))


def test_the_thread_and_both_diagonals_are_asked_and_the_thread_again_after_the_pilots() -> None:
    assert gate_of("set-plate") == [
        "12th-to-plate",
        "diagonal-treble",
        "diagonal-bass",
        "margin-treble",
        "margin-bass",
    ]
    assert gate_of("fix-plate") == ["nut-to-plate", "margin-treble", "margin-bass"]
    order = [card.id for card in SEEN.cards]
    assert order.index("set-plate") < order.index("drill-bridge-screws") < order.index("fix-plate")
    assert order.index("fix-plate") < order.index("drill-string-holes")


@pytest.mark.parametrize("step", ["set-plate", "fix-plate"])
def test_a_thread_read_at_a_gate_says_how_far_to_move(step: str) -> None:
    """Margins 0.4 too wide on the bass side and 0.4 too narrow on the treble's: plane geometry, 0.4 × 630.15 / 460.4 = 0.55."""
    seen = read_at(step, {"margin-treble": -0.4, "margin-bass": 0.4})
    (told,) = [each for each in seen.findings if each.code == "bridge.thread-test"]
    layout = seen.layout
    assert layout.bridge is not None
    assert told.value == pytest.approx(0.4 * layout.bridge.middle.x / layout.frets[-1].along, abs=1e-6)
    assert seen.as_read["margin-treble"].gate == step


def test_moved_since_the_gate_was_read_its_reading_counts_no_more() -> None:
    later = datetime(2026, 11, 30, 11, tzinfo=UTC)
    expected = next(each.value for each in SEEN.measurables if each.id == "margin-treble")
    again = Measurement(what="margin-treble", value_mm=expected, by="Ann", at=later, anew=True)
    seen = read_at("set-plate", {"margin-treble": -0.4}, again)
    assert seen.as_read["margin-treble"].gate == ""
    assert seen.as_read["margin-treble"].value == pytest.approx(expected, abs=1e-9)


def test_a_plate_out_of_square_is_told_by_its_diagonals() -> None:
    """A plate turned by 0.8° about its front edge's middle: each diagonal by plane geometry from board and plate as stated."""
    bridge, twelfth = SEEN.layout.bridge, SEEN.layout.frets[11]
    assert bridge is not None
    half, turn = JOB.document.bridge.width / 2, 0.014
    off = {}
    for side, sign in (("treble", 1.0), ("bass", -1.0)):
        corner, across = abs(twelfth.treble.y), half
        straight = hypot(bridge.middle.x - twelfth.x, corner + across)
        turned = hypot(bridge.middle.x + sign * turn * half - twelfth.x, corner + across)
        off[f"diagonal-{side}"] = turned - straight
    seen = read_at("set-plate", off)
    (told,) = [each for each in seen.findings if each.code == "bridge.out-of-square"]
    assert told.value == pytest.approx(off["diagonal-treble"] - off["diagonal-bass"], abs=1e-6)
    both = dict.fromkeys(off, 0.9)  # further along, and square
    assert "bridge.out-of-square" not in {each.code for each in read_at("set-plate", both).findings}


def test_no_gate_is_tighter_than_what_it_is_read_with() -> None:
    """95 of 100 readings of a sound number by its usual method pass: ±1.96 of the method's standard deviation."""
    gate = next(card.gate for card in SEEN.cards if card.id == "check-neck")
    assert gate.value == 320.0
    assert (gate.low, gate.high) == pytest.approx((320 - 1.96 * 0.15, 320 + 1.96 * 0.15))
    assert verdict(gate, Answer(320.25)) == "passes"
    assert verdict(gate, Answer(320.35)) == "too much"
    methods = {each.id: each.method for each in SEEN.measurables}
    for card in SEEN.cards:
        asked = [(card.gate.measurable, card.gate.low, card.gate.high)]
        asked += [(each.measurable, each.low, each.high) for each in card.gate.asks]
        for name, low, high in asked:
            if name and low is not None and high is not None:
                assert high - low >= 2 * 1.96 * usual_accuracies()[methods[name]].sd - 1e-9


def test_where_a_template_lies_is_asked_before_it_is_routed_by() -> None:
    """By hand: the cavities are 72 wide about the centreline."""
    card = next(card for card in SEEN.cards if card.id == "rout-bridge-pickup")
    asks = {ask.id: ask for ask in card.gate.asks}
    across = asks["bridge-pickup-treble-side"]
    assert (across.value, across.low, across.high) == pytest.approx((36.0, 35.5, 36.5))
    assert list(asks)[-2:] == ["bridge-pickup", "neck-pickup"]  # the depths come after
    good = {name: ask.value for name, ask in asks.items()}
    for name, off, expected in (
        ("bridge-pickup-treble-side", 0.0, "passes"),
        ("bridge-pickup-treble-side", 1.0, "too much"),
        ("neck-pickup-treble-side", -5.0, "too little"),
    ):
        read = {**good, name: good[name] + off}
        assert verdict(card.gate, answered(card.gate, list(read.values()))) == expected
    # No other cavity is asked so: none lies under the strings.
    others = [each for each in SEEN.cards if each.kind == "rout" and each is not card]
    assert not [ask for each in others for ask in each.gate.asks if not ask.cut]


def test_what_gates_did_not_ask_for_then_does_not_open_a_step_again() -> None:
    """A record of before: one reading of the plate, two depths of the cavities."""
    plate = next(card.gate for card in SEEN.cards if card.id == "set-plate")
    assert verdict(plate, Answer(309.4)) == "passes"
    assert verdict(plate, Answer(312.0)) == "too much"
    rout = next(card.gate for card in SEEN.cards if card.id == "rout-bridge-pickup")
    depths = tuple(AskRead(ask=name, value_mm=20.5) for name in ("bridge-pickup", "neck-pickup"))
    assert verdict(rout, Answer(20.5, values=depths)) == "passes"
    assert verdict(rout, Answer(20.5, values=depths[:1])) == "no"
