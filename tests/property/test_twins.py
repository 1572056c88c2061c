"""Twin operations are one setting, wherever the order of work allows it, and stay two where the record knows two."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise
from typing import Any

import pytest

from scribeline.features import together
from scribeline.job import AskRead, Done, GateRead, Record, parse_job
from scribeline.operations import cuts_of, direct, done_steps, making
from scribeline.plan import Plan, plan
from scribeline.steps import Answer, Card, standings

from ..conftest import DEMO, WITHOUT_TUNNELS, change

AT = dt.datetime(2026, 11, 30, 10, 15, tzinfo=dt.UTC)
BY: dict[str, Any] = {"by": "K. Ostrow", "at": AT}
BRIDGE, NECK = "rout-bridge-pickup", "rout-neck-pickup"


def demo(record: Record | None = None, **changes: object) -> Plan:
    job, _ = parse_job(change({key.replace("__", "."): value for key, value in changes.items()}, DEMO))
    return plan(job) if record is None else plan(job, record)


def cuts(made: Plan) -> dict[str, list[str]]:
    return {card.id: list(card.features) for card in made.cards if card.cuts}


def called(made: Plan, name: str) -> Card:
    return next(card for card in made.cards if card.id == name)


def routed(made: Plan, pocket: str, card: str) -> Done:
    """A cavity routed by itself, as a record had it before twins were one."""
    whole = next(each for each in made.cards if pocket in each.features)
    return Done(card=card, cuts=tuple(cut for cut in cuts_of(whole, made.features) if cut.id == pocket), **BY)


def read(card: str, value: float, **values: float) -> GateRead:
    each = tuple(AskRead(ask=name.replace("_", "-"), value_mm=mm) for name, mm in values.items())
    return GateRead(card=card, value_mm=value, values=each, **BY)


def test_the_demo_s_twins_are_one_step_each_with_every_cut_place_and_reading() -> None:
    made = plan(parse_job(WITHOUT_TUNNELS).job)
    found = cuts(made)
    assert found[BRIDGE] == ["bridge-pickup", "neck-pickup"]
    assert found["drill-strap-button-1"] == ["strap-button-1", "strap-button-2"]
    assert found["drill-bridge-pickup-ring-screws"] == [f"hole-{n}" for n in range(1, 9)]
    assert not {NECK, "drill-strap-button-2", "drill-neck-pickup-ring-screws"} & set(found)
    for name in (BRIDGE, "drill-strap-button-1", "drill-bridge-pickup-ring-screws"):
        card = called(made, name)
        assert [place.feature for place in card.places] == found[name]
    assert [ask.id for ask in called(made, BRIDGE).gate.asks if ask.cut] == found[BRIDGE]
    assert [ask.id for ask in called(made, "drill-strap-button-1").gate.asks] == found["drill-strap-button-1"]
    assert called(made, BRIDGE).title == "Rout the bridge-pickup and neck-pickup cavities"


@pytest.mark.parametrize(("deeper", "one"), [(0.004, True), (0.006, False)])
def test_depths_to_0_005_mm_are_one_setting(deeper: float, one: bool) -> None:
    depth = demo().features.pocket("neck-pickup").depth
    job, _ = parse_job(DEMO)
    number = 1 + [each.name for each in job.document.pockets].index("neck pickup")
    found = cuts(plan(parse_job(change({f"pockets[{number}].depth": depth + deeper}))[0]))
    assert (NECK not in found) is one


def test_another_radius_is_another_setting() -> None:
    job, _ = parse_job(DEMO)
    number = 1 + [each.name for each in job.document.pockets].index("neck pickup")
    assert NECK in cuts(plan(parse_job(change({f"pockets[{number}].corner_radius": 5}))[0]))


def turns(made: Plan) -> int:
    faces = ["top", *(card.face for card in made.cards if card.face)]
    return sum(a != b for a, b in pairwise(faces))


def test_every_need_is_met_and_the_body_is_turned_no_more_often(monkeypatch: pytest.MonkeyPatch) -> None:
    job = parse_job(WITHOUT_TUNNELS).job
    made = plan(job)
    with monkeypatch.context() as patched:
        patched.setattr(making, "joined", lambda every, needs, *_: (every, direct(needs)))
        apart = plan(job)
    assert len(made.cards) == len(apart.cards) - 3
    assert turns(made) <= turns(apart)
    step = {cut: card.no for card in made.cards for cut in card.cuts}
    by_id = {card.id: card for card in apart.cards}
    for card in apart.cards:
        for need in card.after:
            for one in by_id[need.first].cuts:
                assert all(step[one] < step[other] for other in card.cuts)


@pytest.mark.parametrize("first", [BRIDGE, NECK])
def test_a_record_that_knows_one_of_them_keeps_two(first: str) -> None:
    before = demo()
    pocket = first.removeprefix("rout-")
    wanted = before.features.pocket(pocket).depth
    record = Record(done=(routed(before, pocket, first),), readings=(read(first, wanted + 0.1),))
    after = demo(record)
    assert {BRIDGE, NECK} <= set(cuts(after))
    assert done_steps(after.operations, after.record) == {first}
    assert not [each for each in after.findings if each.code == "gate.no-longer-passes"]
    found = {
        each.card.id: each for each in standings(after.cards, {first}, {first: Answer.of(record.readings[0])})
    }
    assert (found[first].state, found[first].verdict) == ("done", "passes")
    other = NECK if first == BRIDGE else BRIDGE
    assert found[other].state != "done"


def test_a_reading_under_the_old_id_of_the_second_is_judged_as_it_was() -> None:
    """Both routed by steps of their own; the second was read 0.4 mm too deep, so that its step alone is open again."""
    before = demo()
    wanted = before.features.pocket("neck-pickup").depth
    done = (routed(before, "bridge-pickup", BRIDGE), routed(before, "neck-pickup", NECK))
    after = demo(Record(done=done, readings=(read(BRIDGE, wanted), read(NECK, wanted + 0.4))))
    (stop,) = [each for each in after.findings if each.code == "gate.no-longer-passes"]
    assert stop.features == ("neck-pickup",)
    assert stop.value == pytest.approx(wanted + 0.4)


def test_a_reading_of_the_first_alone_is_not_one_of_both() -> None:
    wanted = demo().features.pocket("bridge-pickup").depth
    assert NECK in cuts(demo(Record(readings=(read(BRIDGE, wanted),))))
    both = Record(readings=(read(BRIDGE, wanted, bridge_pickup=wanted, neck_pickup=wanted),))
    assert NECK not in cuts(demo(both))


def test_the_first_called_done_without_its_cuts_says_nothing_of_the_second() -> None:
    after = demo(Record(done=(Done(card=BRIDGE, **BY),)))
    assert done_steps(after.operations, after.record) == {BRIDGE}
    assert cuts(after)[NECK] == ["neck-pickup"]


def test_what_was_routed_as_one_stays_one() -> None:
    before = demo()
    card = called(before, BRIDGE)
    wanted = before.features.pocket("bridge-pickup").depth
    record = Record(
        done=(Done(card=BRIDGE, cuts=cuts_of(card, before.features), **BY),),
        readings=(read(BRIDGE, wanted + 0.2, bridge_pickup=wanted, neck_pickup=wanted + 0.2),),
    )
    after = demo(record)
    assert cuts(after)[BRIDGE] == ["bridge-pickup", "neck-pickup"]
    assert BRIDGE in done_steps(after.operations, after.record)
    assert not [each for each in after.findings if each.code == "gate.no-longer-passes"]


@pytest.mark.parametrize(
    ("names", "words"),
    [
        (["bridge-pickup cavity", "neck-pickup cavity"], "bridge-pickup and neck-pickup cavities"),
        (["front arm rest", "rear arm rest", "stand rest"], "front arm, rear arm and stand rests"),
        (["ring screws"], "ring screws"),
        (["ring screws", "ring screws"], "ring screws"),
        (["upper ring screws", "lower ring screws"], "upper and lower ring screws"),
        (["battery box", "switch cavity"], "battery box and switch cavity"),
        (["left battery box", "right battery box"], "left and right battery boxes"),
        (["cavity", "rear cavity"], "cavity and rear cavity"),
    ],
)
def test_names_that_end_alike_are_said_together(names: list[str], words: str) -> None:
    assert together(names) == words
