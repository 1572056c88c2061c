"""A demo whose cuts are made, some of them wrong: what the rescue tests stand on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import cache

from scribeline.features import Bore
from scribeline.job import parse_job
from scribeline.plan import Plan, plan
from scribeline.rescue import Found, Number, Rescue, Way, called, rescue, with_found
from scribeline.store.recorded import with_record

from .as_built import tick
from .conftest import FULL, change

TEXT = change({"tunnels": None}, FULL)
"""The demo with its setbacks stated and no wire ways: 640 mm of scale, saddles wanted 1.4, 2.2, 3.5, 2.7, 3.2, 4.2 past it."""

BODY = (
    *("rout-neck-pocket", "drill-neck-screws", "pilot-heel", "drill-bridge-screws", "drill-string-holes"),
    *(
        "rout-control-cavity-cover-recess",
        "rout-control-cavity",
        "drill-shaft-holes-of-10-mm",
        "rout-bridge-pickup",
    ),
    *("counterbore-ferrules", "bore-ferrules"),
)
"""Steps that most of the tests have done."""


@cache
def fresh(text: str = TEXT) -> Plan:
    return plan(*parse_job(text))


def made_text(
    cards: Iterable[str] = BODY, measured: Mapping[str, tuple[float, float]] | None = None, text: str = TEXT
) -> str:
    """The job with steps done by its own plan, and holes found so far towards the tail and the treble of there."""
    before, wanted, read = fresh(text), set(cards), measured or {}
    at = {bore.id: bore.at for bore in before.every_cut.bores}
    ticks = []
    for each in (tick(card, before) for card in before.cards if card.id in wanted):
        cuts = tuple(
            {**cut, "measured": [at[cut["id"]].x + read[cut["id"]][0], at[cut["id"]].y + read[cut["id"]][1]]}
            if cut["id"] in read
            else cut
            for cut in each.features
        )
        ticks.append(replace(each, features=cuts))
    return with_record(text, ticks, ())


@cache
def made(cards: tuple[str, ...] = BODY, text: str = TEXT) -> Plan:
    return plan(*parse_job(made_text(cards, text=text)))


def found(name: str, what: Found, seen: Plan | None = None) -> Rescue:
    """The rescue of one cut of the demo as it was found."""
    before = made() if seen is None else seen
    after = plan(before.job, with_found(before, called(before, name), what))
    return rescue(after, called(after, name), stripped=what.stripped)


def plate_off(mm: float) -> Rescue:
    """That of a plate whose four pilots alone are drilled, all so far towards the tail."""
    read = {f"bridge-screw-{n}": (mm, 0.0) for n in range(1, 5)}
    seen = plan(*parse_job(made_text(("drill-bridge-screws",), read)))
    return rescue(seen, called(seen, "B1"))


def way(of: Rescue, kind: str) -> Way:
    (one,) = [each for each in of.ways if each.kind == kind]
    return one


def number(of: Way, words: str) -> float:
    return _number(of, words).mm


def _number(of: Way, words: str) -> Number:
    (one,) = [each for each in of.numbers if words in each.words]
    return one


def bore(seen: Plan, name: str) -> Bore:
    (one,) = [each for each in seen.every_cut.bores if each.id == name]
    return one
