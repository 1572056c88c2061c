"""What the odds command says: the chance of the whole, what is likeliest to miss, what matters, what helps."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from rich.markup import escape

from scribeline.cli.report import console_for_people
from scribeline.lengths import in_unit, said, span
from scribeline.odds.words import Words, percent
from scribeline.steps import PROVE_FIRST

if TYPE_CHECKING:
    from scribeline.odds import Odds, OutcomeOdds
    from scribeline.plan import Plan
    from scribeline.tables import Accuracies

MOST = 5
"""Lines of a list: what a builder takes in at a glance."""


def show(
    plan: Plan, found: Odds, accuracies: Accuracies, *, written: Sequence[Path] = (), as_json: bool = False
) -> None:
    """The odds of a plan.

    Args:
        plan: whose.
        found: the odds.
        accuracies: they rest on.
        written: files that were written of them.
        as_json: for a program: every number, mm and shares of 1.
    """
    if as_json:
        told = {"job": plan.job.document.name, **asdict(found), "written": [str(path) for path in written]}
        sys.stdout.write(json.dumps(told, indent=1, ensure_ascii=False) + "\n")
        return
    words, console = Words(plan, accuracies), console_for_people()

    def say(sentence: str) -> None:
        console.print(in_unit(sentence, plan.unit), soft_wrap=True)

    drawn = f", ± {percent(found.error)} by the draw" if found.error >= _TOLD else ""
    say(
        f"[bold]Chance that everything keeps its limits at the first go: {percent(found.chance)}[/bold]{drawn}; "
        f"with no caution either: {percent(found.caution)}"
    )
    if plan.stops:
        say("The checks say DO NOT CUT; fix that first: scribeline check")
    failing = found.likeliest_to_fail[:MOST]
    say("[bold]Likeliest to miss[/bold]" if failing else "Nothing is likely to miss a limit.")
    for each in failing:
        say(f"  {percent(1 - each.chance):>7}  {escape(words.outcome(each.outcome))}: {_told(each)}")
    mattering = found.mattering[:MOST]
    if mattering:
        say("[bold]What matters most[/bold] (the chance if that went perfectly)")
    for step in mattering:
        say(f"  {percent(step.chance):>7}  {escape(words.operation(step.operation))}")
    helping = found.helping
    if helping:
        say("[bold]Best buys[/bold] (the chance with it)")
    for buy in helping[:MOST]:
        say(f"  {percent(buy.chance):>7}  {escape(words.buy(buy))}")
    tight = found.tight
    if tight:
        say(
            f"[bold]Gates to hold tighter[/bold] (for {percent(found.wanted)} of each number that rests on them)"
        )
    for gate, holds in tight[:MOST]:
        say(f"  ±{said(holds)}, not ±{said(gate.asks)}: {escape(words.reads(gate.reads))}")
    say(
        f"{found.trials:,} trial {'build' if found.trials == 1 else 'builds'}, seed {found.seed}. Wood left was reckoned in "
        f"proportion to the errors; {found.exact} builds worked out in full differ by {said(found.linear_error)} at most."
    )
    if not accuracies.own:
        say("How well you measure and mark is taken as usual in the trade, not as your own shop does it.")
    say(PROVE_FIRST)
    for path in written:
        say(f"Wrote {escape(str(path))}")


_TOLD = 0.005
"""A sampling error that is told beside the chance."""


def _told(each: OutcomeOdds) -> str:
    low, high = each.outcome.low, each.outcome.high
    wants = ""
    if low is not None and high is not None:
        wants = f"wants {span(low, high)}"
    elif low is not None:
        wants = f"wants {said(low)} or more"
    elif high is not None:
        wants = f"wants {said(high)} or less"
    return f"{said(each.expected)} give or take {said(each.sd)}, {wants}"
