"""Rules for what screws bear: estimates, derived in docs/holding.md."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf

from scribeline.features import Holding, holdings
from scribeline.features.holding import LEANING, SLIPPING
from scribeline.findings.finding import Facts, Finding, Limit
from scribeline.findings.named import ratio
from scribeline.tables import END_GRAIN_SHARE, WITHDRAWAL_SOURCE

PULL = Limit.of("screw_hold")
JERK = Limit.of("strap_hold")
SIDEWAYS = {each.limit: Limit.of(each.limit) for each in (SLIPPING, LEANING)}

_BY_KEY = {limit.key: limit for limit in (PULL, JERK)}


def screws_hold(facts: Facts) -> Iterator[Finding]:
    """Do the screws hold what the strings pull, with something in hand?"""
    for held in holdings(facts.document, facts.layout, facts.features.bores):
        yield from _pulled(facts, held)
        yield from _sideways(facts, held)
        yield from _end_grain(held)


def _pulled(facts: Facts, held: Holding) -> Iterator[Finding]:
    limit, worst = facts.limit(_BY_KEY[held.limit]), held.worst
    severity = limit.severity(worst.times) if worst.times < inf else None
    if severity is not None:
        low, high = worst.times_between
        grain = ", in end grain, where tests scatter widely" if worst.end_grain else ""
        yield Finding(
            code="holding.weak",
            severity=severity,
            held_to=limit.level_id(severity),
            features=tuple(hold.bore for hold in held.holds),
            value=worst.times,
            works=(ratio, {"one": worst.holds, "other": worst.pull}),
            limit=limit.threshold(severity),
            message=f"estimate: the {_subject(held)} the pull {worst.times:.1f} times over, {low:.1f} to {high:.1f} times in "
            f"{worst.spread.words}{grain}. The pull is {worst.pull:.0f} N, and it comes out at {worst.holds:.0f} N",
            cure=_more(held, limit.caution / worst.times, tight=worst.bite < 1)
            if worst.times > 0
            else f"use longer {held.screws}: none of their thread is in the wood that should hold it",
            source=limit.source,
        )


def _end_grain(held: Holding) -> Iterator[Finding]:
    names = tuple(hold.bore for hold in held.holds if hold.end_grain)
    if names:
        yield Finding(
            code="holding.end-grain",
            severity="note",
            features=names,
            value=END_GRAIN_SHARE,
            limit=None,
            message=f"the {held.name} {'lie' if len(names) > 1 else 'lies'} in end grain: {END_GRAIN_SHARE:g} of the "
            "strength across the grain is counted, and tests scatter widely",
            cure="use the longest screw there is room for, drive it once, and count on no more than the estimate; in soft timber "
            "some glue a hardwood plug across the grain first",
            source=WITHDRAWAL_SOURCE,
        )


def _sideways(facts: Facts, held: Holding) -> Iterator[Finding]:
    ways = held.sideways
    limit = facts.limit(SIDEWAYS[ways.limit])
    worst = min(held.holds, key=lambda hold: hold.side_times)
    severity = limit.severity(worst.side_times) if worst.side_times < inf else None
    if severity is not None:
        yield Finding(
            code=ways.code,
            severity=severity,
            held_to=limit.level_id(severity),
            features=tuple(hold.bore for hold in held.holds),
            value=worst.side_times,
            works=(ratio, {"one": worst.side_holds, "other": worst.side}),
            limit=limit.threshold(severity),
            message=f"estimate: the {_subject(held)} the load from the side {worst.side_times:.1f} times over. "
            f"Each bears {worst.side:.0f} N and begins to give at {worst.side_holds:.0f} N",
            cure=ways.cure
            if worst.side_holds > 0
            else "use longer screws: the rule asks for four diameters in the wood at the least, seven for the whole load",
            source=limit.source,
        )


def _subject(held: Holding) -> str:
    return f"{held.name} {'hold' if len(held.holds) > 1 else 'holds'}"


def _more(held: Holding, factor: float, *, tight: bool) -> str:
    """How to hold some times more."""
    bite = ", or a pilot nearer the handbook's lead hole, tried in scrap" if tight else ""
    return f"make them hold {factor:.1f} times as much: longer or thicker {held.screws}{held.more}{bite}"
