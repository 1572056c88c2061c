"""Rules for what screws bear: estimates, derived in docs/holding.md."""

from __future__ import annotations

from collections.abc import Iterator
from math import inf

from scribeline.features import Holding, holdings
from scribeline.findings.finding import Facts, Finding, Limit
from scribeline.tables import GRAVITY_CV

PULL = Limit.of("screw_hold")
SIDE = Limit.of("screw_shear")

_LIGHT = (1 - 2 * GRAVITY_CV) ** 2


def screws_hold(facts: Facts) -> Iterator[Finding]:
    """Do the screws hold what the strings pull, with something in hand?"""
    for held in holdings(facts.document, facts.layout, facts.features.bores):
        yield from _pulled(facts, held)
        yield from _sideways(facts, held)


def _pulled(facts: Facts, held: Holding) -> Iterator[Finding]:
    limit, worst = facts.limit(PULL), held.worst
    severity = limit.severity(worst.times) if worst.times < inf else None
    if severity is not None:
        low, high = worst.times_between
        grain = ", in end grain, where tests scatter widely" if worst.end_grain else ""
        yield Finding(
            code="holding.weak",
            severity=severity,
            features=tuple(hold.bore for hold in held.holds),
            value=worst.times,
            limit=limit.threshold(severity),
            message=f"estimate: the {held.group} hold the pull on them {worst.times:.1f} times, {low:.1f} to {high:.1f} in "
            f"nineteen boards of twenty{grain}: {worst.pull:.0f} N on the worst, which comes out at {worst.holds:.0f} N",
            cure=_more(limit.caution / worst.times, tight=worst.bite < 1),
            source=limit.source,
        )


def _sideways(facts: Facts, held: Holding) -> Iterator[Finding]:
    limit = facts.limit(SIDE)
    worst = min(held.holds, key=lambda hold: hold.side_times)
    severity = limit.severity(worst.side_times) if worst.side_times < inf else None
    if severity is not None:
        yield Finding(
            code="holding.slips",
            severity=severity,
            features=tuple(hold.bore for hold in held.holds),
            value=worst.side_times,
            limit=limit.threshold(severity),
            message=f"estimate: the {held.group} hold the load square to them {worst.side_times:.1f} times: "
            f"{worst.side:.0f} N each, and they begin to give at {worst.side_holds:.0f} N",
            cure="use more screws, thicker ones, or longer ones: one that is seven diameters in the wood bears the most"
            if worst.side_holds > 0
            else "use longer screws: the rule asks for four diameters in the wood at the least, seven for the whole load",
            source=limit.source,
        )


def _more(factor: float, *, tight: bool) -> str:
    """How to hold some times more."""
    bite = ", or a pilot nearer the handbook's lead hole, tried in scrap" if tight else ""
    return (
        f"they want {factor:.1f} times as much hold: longer or thicker screws, more of them, or further from the plate's "
        f"front edge{bite}"
    )
