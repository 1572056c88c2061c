"""A cavity's depth read at its step's gate: kept beside what was planned, and planned by, never taken the one for the other."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from scribeline.cli.bench import call_done, step_called
from scribeline.job import Cut, Done, Record, parse_job, read_job
from scribeline.operations import cuts_of
from scribeline.plan import Plan, plan
from scribeline.steps import Answer, Card, answered, as_measured
from scribeline.store import open_store

from ..conftest import DEMO, FULL, change

STEP, CUT, TWIN = "rout-bridge-pickup", "neck-pickup", "bridge-pickup"
BLOCK = {"name": "block", "outline": [[300, -50], [620, -50], [620, 50], [300, 50]], "height": 2}
WIRELESS = {"tunnels": None, "ground_wire": None}


def card_of(made: Plan, name: str = STEP) -> Card:
    return next(each for each in made.cards if each.id == name)


def answer_of(made: Plan, read: float) -> Answer:
    """A depth read in one of the cavities that are routed together, the other being as planned."""
    gate = card_of(made).gate
    return answered(gate, [read if ask.id == CUT else ask.value for ask in gate.asks])


def recorded(made: Plan, *read: float) -> Record:
    """The pickup's cavity routed, and then read so often."""
    card = card_of(made)
    cuts = cuts_of(card, made.features)
    at = dt.datetime(2026, 11, 30, 10, 15, tzinfo=dt.UTC)
    ways = [as_measured(cuts, card.gate, answer_of(made, each)) for each in read] or [cuts]
    return Record(done=tuple(Done(card=STEP, by="K. Ostrow", at=at, cuts=way) for way in ways))


def test_what_was_read_stands_beside_what_was_planned_and_the_plan_goes_by_it() -> None:
    job, _ = parse_job(DEMO)
    before = plan(job)
    wanted = before.features.pocket(CUT).depth
    after = plan(job, recorded(before, wanted + 0.4))
    cut = after.record.made_pockets[CUT]
    assert (cut.depth, cut.measured_depth) == (wanted, wanted + 0.4)
    assert after.features.pocket(CUT).depth == wanted + 0.4
    # What the job asks for is as it was: the card, its gate, and no change of the job is told.
    assert card_of(after).depth == card_of(before).depth
    depths = [ask for ask in card_of(before).gate.asks if ask.cut]
    assert (
        list(card_of(after).gate.asks) == depths
    )  # where its template lies is asked before it is routed alone
    assert after.moved == ()
    # Of what nobody read it is said that nobody did.
    unread = plan(job, recorded(before))
    assert unread.record.made_pockets[CUT].measured_depth is None
    assert unread.features.pocket(CUT).depth == wanted
    whys = [" ".join(each.text for each in made.features.pocket(CUT).why) for made in (after, unread)]
    assert f"as deep as measured, {wanted + 0.4:.2f} mm, where {wanted:.2f} mm was planned" in whys[0]
    assert "nobody has measured it" in whys[1]


def test_the_reading_that_was_taken_last_counts() -> None:
    job, _ = parse_job(DEMO)
    before = plan(job)
    wanted = before.features.pocket(CUT).depth
    after = plan(job, recorded(before, wanted + 0.4, wanted - 0.2))
    assert after.features.pocket(CUT).depth == pytest.approx(wanted - 0.2, abs=1e-12)
    assert after.record.made_pockets[CUT].depth == wanted


def test_only_a_change_of_the_job_is_told_as_one() -> None:
    """Stating the depth that was read is none: it is what lies in the wood. Another one is told against the reading."""
    job, _ = parse_job(DEMO)
    before = plan(job)
    number = 1 + [each.name for each in job.document.pockets].index("neck pickup")
    wanted = before.features.pocket(CUT).depth
    record = recorded(before, wanted + 0.4)
    for stated, told in ((wanted + 0.4, []), (wanted + 1.0, [("depth", wanted + 0.4, wanted + 1.0)])):
        edited, _ = parse_job(change({f"pockets[{number}].depth": stated}))
        moved = plan(edited, record).moved
        assert [(each.what, each.was, each.now) for each in moved] == told


def test_a_reading_from_a_blank_that_still_stands_over_the_level_is_taken_down_to_it() -> None:
    job, _ = parse_job(change({**WIRELESS, "body.top": {"kind": "stepped", "areas": [BLOCK]}}, FULL))
    before = plan(job)
    card, wanted = card_of(before), before.features.pocket(CUT).depth
    assert card.gate.value == pytest.approx(wanted + 2.0)  # read from the blank's top
    cuts = as_measured(cuts_of(card, before.features), card.gate, answer_of(before, wanted + 2.3))
    (cut,) = [each for each in cuts if each.id == CUT]
    assert cut.depth == wanted
    assert cut.measured_depth == pytest.approx(wanted + 0.3)


def test_no_other_reading_becomes_a_measurement_of_a_cut() -> None:
    """A row's gate reads its first hole alone, and most gates read no cut at all."""
    made = plan(*parse_job(DEMO))
    found = 0
    for card in made.cards:
        cuts = cuts_of(card, made.features)
        reads = [12.0] if card.gate.counts == "least" else [12.0 for _ in card.gate.asks or [None]]
        told = as_measured(
            cuts, card.gate, Answer(12.0) if card.gate.value is None else answered(card.gate, reads)
        )
        assert as_measured(cuts, card.gate, Answer(yes=True)) == cuts
        for was, now in zip(cuts, told, strict=True):
            assert now.measured is None
            assert (now == was) == (now.outline is None)
            found += now != was
    assert found == len(made.features.pockets)


def test_the_command_keeps_it_and_the_shop_takes_it_over(tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(DEMO, encoding="utf-8")

    def done(name: str, read: str | None) -> Plan:
        made = plan(*read_job(path))
        call_done(
            path, made, step_called(made, name), read=read, by="K. Ostrow", risk="it does for a wall piece"
        )
        return plan(*read_job(path))

    made = plan(*read_job(path))
    for card in made.cards[: card_of(made).no - 1]:
        asks = card.gate.asks if card.gate.counts == "each" else ()
        each: list[float | None] = [ask.value for ask in asks] or [card.gate.value]
        value = "yes" if card.gate.value is None else "; ".join(f"{mm} mm" for mm in each)
        done(card.id, value)
    wanted = made.features.pocket(CUT).depth
    first = "; ".join(f"{ask.value} mm" for ask in card_of(made).gate.asks if not ask.cut)
    assert done(STEP, f"{first}; {wanted} mm; {wanted + 0.1} mm").features.pocket(CUT).depth == pytest.approx(
        wanted + 0.1
    )
    # Read again, far off and accepted so: the new reading is what lies in the wood.
    after = done(STEP, f"{wanted} mm; {wanted + 0.6} mm")
    assert after.features.pocket(CUT).depth == pytest.approx(wanted + 0.6)
    with open_store(tmp_path / "shop.db") as store:
        kept = store.import_(path.read_text(encoding="utf-8"), "K. Ostrow").job_id
        tick = next(each for each in store.ticks(kept) if each.card_id == STEP)
        twin, cut = (Cut.model_validate(each) for each in tick.features)
        assert (twin.id, twin.measured_depth, cut.id) == (TWIN, wanted, CUT)
        assert cut.depth == wanted
        assert cut.measured_depth == pytest.approx(wanted + 0.6)
        store.measured_depth(kept, STEP, CUT, wanted + 0.2, by="K. Ostrow")
        again = parse_job(store.export(kept, with_record=True)).record.made_pockets[CUT]
        assert (again.depth, again.measured_depth) == (wanted, wanted + 0.2)
