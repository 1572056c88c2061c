"""Stops and the steps they keep from being begun; going on against one; gates that no longer pass."""

from __future__ import annotations

import ast
import datetime as dt
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import scribeline.findings as findings_room
from scribeline.drawing.cards import step_cards
from scribeline.features.holding import LEANING, SLIPPING
from scribeline.findings import Finding, holds, may_happen
from scribeline.findings.overriding import _MAY_HAPPEN
from scribeline.job import Override, parse_job
from scribeline.operations import cuts_of
from scribeline.plan import Plan, plan
from scribeline.plan.record import record
from scribeline.steps import Gone
from scribeline.store import GateReading, OverrideKept, Tick, with_record

from ..conftest import FULL, Edit, change
from ..pack_text import cards_on, runs

WIRELESS = change({"tunnels": None, "ground_wire": None}, FULL)
"""The demo without what takes long to plan."""

AT = dt.datetime(2026, 11, 29, 10, 15, tzinfo=dt.UTC)
THIN = {"body.thickness": "39 mm +/- 0.2"}
"""The demo's control cavity is 38.5 mm deep."""


def ticked(made: Plan, *cards: str) -> list[Tick]:
    """Steps done by a plan."""
    by_id = {card.id: card for card in made.cards}
    return [
        Tick(
            name,
            "K. Ostrow",
            AT,
            1,
            tuple(cut.plain for cut in cuts_of(by_id[name], made.every_cut)),
        )
        for name in cards
    ]


def against(stop: Finding, reason: str = "the cover is glued in and carries it") -> OverrideKept:
    """An override of a stop as it stands."""
    return OverrideKept(
        1, stop.code, stop.features, stop.value, stop.limit, stop.message, reason, "K. Ostrow", AT, 1
    )


def again(
    text: str,
    ticks: Iterable[Tick] = (),
    readings: Iterable[GateReading] = (),
    overrides: Iterable[OverrideKept] = (),
) -> Plan:
    """The plan of a job with what was recorded for it."""
    return plan(*parse_job(with_record(text, ticks, readings, overrides)))


def held(made: Plan) -> dict[str, set[str]]:
    return {card: {stop.code for stop in stops} for card, stops in made.stopped.items()}


# Which steps a stop keeps


def test_a_stop_keeps_the_steps_that_cut_what_it_names_and_no_other(edited: Edit) -> None:
    made = again(edited(THIN, WIRELESS))
    assert held(made) == {
        "rout-control-cavity": {"wood.thin-floor"},
        "drill-neck-screws": {"neck-screws.into-board"},
        "pilot-heel": {"neck-screws.into-board"},
    }
    assert {stop.code for stop in made.forbidding} == {"wood.thin-floor", "neck-screws.into-board"}


def test_a_stop_about_cuts_that_are_made_keeps_nothing_and_forbids_no_paper(edited: Edit) -> None:
    thick = plan(*parse_job(WIRELESS))
    ticks = ticked(thick, "rout-control-cavity", "drill-neck-screws", "pilot-heel")
    made = again(edited(THIN, WIRELESS), ticks)
    assert {"wood.thin-floor", "neck-screws.into-board"} <= {stop.code for stop in made.stops}
    assert held(made) == {}
    assert made.forbidding == ()
    half = again(
        edited(THIN, WIRELESS), ticks[:2]
    )  # the body is drilled; the screws' pilots in the heel are not
    assert held(half) == {"pilot-heel": {"neck-screws.into-board"}}
    assert [stop.code for stop in half.forbidding] == ["neck-screws.into-board"]


def test_of_two_cuts_the_one_that_is_made_lets_the_other_wait(edited: Edit) -> None:
    off = edited({"controls[1].centre": [560, 94]}, WIRELESS)
    ticks = ticked(plan(*parse_job(off)), "rout-control-cavity")
    for made, kept in ((again(off), True), (again(off, ticks), False)):
        codes = held(made)
        assert ("control.misses-cavity" in codes.get("rout-control-cavity", set())) is kept
        assert "control.misses-cavity" in codes["drill-shaft-holes-of-10-mm"]
        assert "control.misses-cavity" in {stop.code for stop in made.forbidding}


def test_a_bridge_with_no_place_keeps_every_cut(edited: Edit) -> None:
    made = again(edited({"bridge.saddle_back": 11.0}, WIRELESS))
    cutting = {card.id for card in made.cards if card.features and card.id != "chase"} | {"pilot-heel"}
    assert cutting == {card for card, codes in held(made).items() if "bridge.window-empty" in codes}
    assert not {"check-body", "check-neck", "fit-neck", "finish"} & held(made).keys()


def test_saddles_off_the_plate_keep_what_is_drilled_at_the_bridge(edited: Edit) -> None:
    made = again(edited({"bridge.saddle_back": 46.0}, WIRELESS))
    kept = {card for card, codes in held(made).items() if "bridge.saddles-off-plate" in codes}
    assert {"drill-bridge-screws", "drill-string-holes"} <= kept
    assert not {"rout-control-cavity", "rout-neck-pocket", "drill-jack"} & kept


def test_a_bevel_that_goes_through_keeps_its_own_step(edited: Edit) -> None:
    bevels = [
        {"name": "belly", "face": "back", "line": [[540, -100], [720, -130]], "depth": 60},
    ]
    made = again(edited({"body.bevels": bevels}, WIRELESS))
    stop = next(each for each in made.stops if each.code == "carved.goes-through")
    assert stop.features == ()
    assert [card for card, stops in made.stopped.items() if stop in stops] == ["carve-bevel-belly"]


def test_a_wire_hole_that_misses_keeps_the_pocket_it_should_open_into(edited: Edit) -> None:
    made = again(edited({"ground_wire.heading": 180}))
    stop = next(each for each in made.stops if each.code == "tunnel.misses")
    held_by_it = [card for card, stops in made.stopped.items() if stop in stops]
    assert made.job.document.ground_wire is not None
    into = made.job.document.ground_wire.into.replace(" ", "-")
    assert held_by_it == [f"rout-{into}"]


def test_every_stop_that_names_no_cut_says_what_it_concerns_or_means_every_cut() -> None:
    """Those that concern every cut are listed here: a new one is decided, and written in the documents."""
    every = {"bridge.window-empty", "frets.beyond-board", "strings.not-predicted"}
    silent: set[str] = set()
    for path in Path(findings_room.__file__).parent.glob("*.py"):
        for call in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(call, ast.Call) or getattr(call.func, "id", "") != "Finding":
                continue
            said = {word.arg: word.value for word in call.keywords}
            names_none = ast.unparse(said["features"]) == "()"
            may_stop = ast.unparse(said["severity"]) not in {"'caution'", "'note'"}
            if names_none and may_stop and "concerns" not in said:
                silent.add(ast.unparse(said["code"]).strip("'"))
    assert silent - {"fault.code"} == every


def test_what_may_happen_is_said_for_codes_there_are() -> None:
    source = "".join(
        path.read_text(encoding="utf-8")
        for path in Path(findings_room.__file__).parent.glob("*.py")
        if path.name != "overriding.py"
    )
    known = {SLIPPING.code, LEANING.code}
    assert [code for code in _MAY_HAPPEN if code not in known and f'"{code}"' not in source] == []
    assert "throw the work" in may_happen("wood.breaks-through")
    assert "what is cut stays cut" in may_happen("some.other")


# Going on against a stop


def floor(value: float | None = 0.5, limit: float | None = 2.0, **rest: Any) -> Finding:
    return replace(
        Finding("wood.thin-floor", "stop", ("a",), value, limit, "it leaves 0.50 mm", "cure", "source"),
        **rest,
    )


def given(stop: Finding) -> Override:
    return Override(
        code=stop.code,
        features=stop.features,
        value=stop.value,
        limit=stop.limit,
        says=stop.message,
        reason="it is backed",
        by="K. Ostrow",
        at=AT,
    )


@pytest.mark.parametrize(
    ("then", "now", "counts"),
    [
        (floor(), floor(), True),
        (floor(), floor(0.6), True),
        (floor(), floor(0.502), True),
        (floor(), floor(0.49), False),
        (floor(), floor(-0.1), False),
        (floor(), floor(0.5, 2.5), False),
        (floor(), floor(code="wood.breaks-through"), False),
        (floor(), floor(features=("b",)), False),
        (floor(), floor(features=("a", "b")), False),
        (floor(3.0, 2.0), floor(2.5, 2.0), True),
        (floor(3.0, 2.0), floor(3.5, 2.0), False),
        (floor(3.0, 2.0), floor(1.9, 2.0), False),
        (floor(3.0, None), floor(3.0, None), True),
        (floor(3.0, None), floor(2.0, None), False),
        (floor(None, None), floor(None, None), True),
        (floor(None, None), floor(None, None, message="it passes under it"), False),
        (floor(None, None), floor(0.5), False),
        (floor(features=()), floor(features=()), True),
        (floor(concerns=()), floor(concerns=()), False),
        (floor(features=()), floor(0.6, features=(), message="it leaves 0.60 mm"), False),
    ],
)
def test_an_override_holds_while_the_stop_says_no_worse(then: Finding, now: Finding, *, counts: bool) -> None:
    assert holds(given(then), now) is counts


def test_going_on_opens_the_step_prints_on_its_card_and_lapses_when_it_gets_worse(edited: Edit) -> None:
    text = edited(THIN, WIRELESS)
    stop = next(each for each in again(text).stops if each.code == "wood.thin-floor")
    made = again(text, overrides=[against(stop)])
    assert held(made) == {
        "drill-neck-screws": {"neck-screws.into-board"},
        "pilot-heel": {"neck-screws.into-board"},
    }
    assert [each.code for each in made.gone_against] == ["wood.thin-floor"]
    assert [each.code for each in made.forbidding] == ["neck-screws.into-board"]
    (card,) = [each for each in made.cards if each.gone]
    assert card.id == "rout-control-cavity"
    words = card.gone[0].words
    for part in ("0.50 mm", "K. Ostrow", "2026-11-29", "the cover is glued in", "bursts under the cutter"):
        assert part in words
    told = next(row for row in record(made)["findings"] if row["code"] == "wood.thin-floor")
    assert told["override"]["reason"] == "the cover is glued in and carries it"
    # Half a millimetre of wood became three tenths: that is another decision.
    worse = again(edited({"body.thickness": "38.8 mm +/- 0.2"}, WIRELESS), overrides=[against(stop)])
    assert "wood.thin-floor" in held(worse)["rout-control-cavity"]
    assert not any(each.gone for each in worse.cards)
    better = again(edited({"body.thickness": "39.2 mm +/- 0.2"}, WIRELESS), overrides=[against(stop)])
    assert "rout-control-cavity" not in held(better)


def lettering(made: Plan, *cards: str) -> list[str]:
    """What some of the cards say."""
    few = replace(made, cards=tuple(replace(card, after=()) for card in made.cards if card.id in cards))
    lots = (lot for page in runs(step_cards(few)) for lot in cards_on(page))
    return [" ".join(run.text for run in lot) for lot in lots]


def test_the_printed_card_says_what_it_is_gone_on_against_and_why(edited: Edit) -> None:
    text = edited(THIN, WIRELESS)
    stop = next(each for each in again(text).stops if each.code == "wood.thin-floor")
    made = again(text, overrides=[against(stop)])
    cavity, pickup = (
        " ".join(lettering(made, f"rout-{card}")) for card in ("control-cavity", "bridge-pickup")
    )
    for part in (
        "DO NOT CUT",
        "Cut all the same",
        "0.50",
        "bursts",
        "K. Ostrow",
        "2026-11-29",
        "glued",
    ):
        assert part in cavity
    assert "DO NOT CUT" not in pickup


@pytest.mark.parametrize("many", [1, 3, 9])
def test_a_card_has_room_for_the_stops_it_is_gone_on_against(demo_plan: Plan, many: int) -> None:
    """Told in few words where they are many, the reasons last; the busiest card of the demo."""
    gone = Gone(
        "some.code",
        "there is not wood enough " * 20,
        may_happen(""),
        "because it is so " * 12,
        "K. Ostrow",
        AT,
    )
    made = replace(demo_plan, cards=tuple(replace(card, gone=(gone,) * many) for card in demo_plan.cards))
    words = " ".join(lettering(made, "drill-string-holes"))
    assert words.count("Gone on against") % min(many, 6) == 0
    assert ("And 3 more" in words) == (many == 9)
    assert "because it is so" in words


def test_paper_is_allowed_when_every_stop_is_gone_against(edited: Edit) -> None:
    text = edited(THIN, WIRELESS)
    overrides = [against(stop) for stop in again(text).stops]
    made = again(text, overrides=overrides)
    assert made.stops == ()
    assert made.forbidding == ()
    assert len(made.gone_against) == len(overrides) == 2


# Gates that no longer pass


def read(card: str, value: float | None, **rest: Any) -> GateReading:
    return GateReading(
        card, value, None if value is not None else True, "K. Ostrow", "caliper", 1, AT, **rest
    )


def test_a_gate_that_no_longer_passes_is_a_stop_with_the_reading_what_is_wanted_and_the_cure(
    edited: Edit,
) -> None:
    base = edited({"body.thickness": "40 mm +/- 0.1"})
    first = plan(*parse_job(base))
    ticks = ticked(first, "check-body", "rout-neck-pocket")
    readings = [read("check-body", 40.0)]
    assert "gate.no-longer-passes" not in {each.code for each in again(base, ticks, readings).findings}
    later = again(edited({"body.thickness": "43 mm +/- 0.1"}), ticks, readings)
    stop = next(each for each in later.stops if each.code == "gate.no-longer-passes")
    assert stop.value == 40.0
    assert stop.limit == pytest.approx(42.9)
    for part in ("the blank's thickness", "40.00 mm was read", "wants 43.00 mm (42.90", "open again"):
        assert part.lower() in stop.message.lower()
    assert "measure it again" in stop.cure
    assert stop in later.forbidding
    assert all(stop not in stops for stops in later.stopped.values())
    # Likewise where the job stays and another reading says otherwise.
    stops = again(base, ticks, [*readings, read("check-body", 41.0)]).stops
    assert ("gate.no-longer-passes", 41.0) in {(each.code, each.value) for each in stops}
    # Read again, it passes; what was read first is still in the record.
    mended = again(
        edited({"body.thickness": "43 mm +/- 0.1"}),
        ticks,
        [*readings, read("check-body", 43.0)],
    )
    assert "gate.no-longer-passes" not in {each.code for each in mended.findings}
    assert [each.value_mm for each in mended.record.readings] == [40.0, 43.0]


def test_a_step_that_is_not_done_is_no_stop_whatever_its_gate_reads(edited: Edit) -> None:
    made = again(edited({}, WIRELESS), (), [read("check-body", 20.0)])
    assert "gate.no-longer-passes" not in {each.code for each in made.findings}


def test_accepted_at_own_risk_is_so_for_the_limits_of_that_time(edited: Edit) -> None:
    base = edited({"body.thickness": "43 mm +/- 0.1"})
    gate = next(card.gate for card in plan(*parse_job(base)).cards if card.id == "check-body")
    assert gate is not None
    ticks = ticked(plan(*parse_job(base)), "check-body")
    accepted = [read("check-body", 40.0, risk="a wall piece", low=gate.low, high=gate.high)]
    assert not again(base, ticks, accepted).stops
    other = edited({"body.thickness": "44 mm +/- 0.1"})
    (stop,) = again(other, ticks, accepted).stops
    assert stop.code == "gate.no-longer-passes"
    assert "for 42.90 mm to 43.10 mm and for nothing else" in stop.message
    # As it was written before the limits were kept: nobody knows what it was accepted for.
    before = with_record(base, ticks, [read("check-body", None)]).replace(
        'with_what = "caliper"', 'with_what = "at my own risk: a wall piece"'
    )
    (stop,) = plan(*parse_job(before)).stops
    assert "limits that were not kept" in stop.message
