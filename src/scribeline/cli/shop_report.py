"""What the command about the shop's tests says."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rich.console import Console
from rich.markup import escape
from rich.padding import Padding

from scribeline.cli.report import console_for_people
from scribeline.job import ShopTests
from scribeline.lengths import in_unit
from scribeline.proving import KINDS, Kind, ShopTest, in_words, kind_of
from scribeline.tables import usual_accuracies

if TYPE_CHECKING:
    from scribeline.proving import StillGuess

NEXT_SHOWN = 5
"""Guesses that are told of what to test next; --json has all."""


def show(tests: ShopTests, file: Path, *, as_json: bool) -> None:
    """Every test with its result, what they taught, what to test next."""
    if as_json:
        _json(_record(tests))
        return
    console = console_for_people()
    console.print(f"[bold]{escape(str(file))}: {_count(len(tests.tests), 'test')}[/bold]")
    for test in tests.tests:
        _test(console, tests, test)
    _learnt(console, tests)
    _next(console, tests.next, file)


def changed(was: ShopTests | None, now: ShopTests, test: ShopTest, file: Path, *, as_json: bool) -> None:
    """One test that was added or struck through, and what that changed."""
    if as_json:
        _json({"test": _test_record(now, test), "changed": list(_moved(was, now))})
        return
    console = console_for_people()
    _test(console, now, test)
    for each in _moved(was, now):
        sds = (in_unit(in_words(each[end], each["unit"]), now.unit) for end in ("was", "now"))
        console.print(f"  {each['what']} ({each['key']}): one standard deviation was {' and is '.join(sds)}.")
    console.print(
        f"Kept in {escape(str(file))}. See them all: scribeline shop {escape(str(file))}", soft_wrap=True
    )


def _moved(was: ShopTests | None, now: ShopTests) -> Iterator[dict[str, Any]]:
    """The accuracies that another test changed."""
    before, after = (was.accuracies if was else usual_accuracies()), now.accuracies
    for key, each in after.items():
        if each.sd != before[key].sd:
            yield {"key": key, "what": each.what, "unit": each.unit, "was": before[key].sd, "now": each.sd}


def how(kinds: Iterable[Kind], *, method: str, whole: bool, as_json: bool) -> None:
    """How kinds of tests are done; with `whole` every step, and what can hurt when a method is tried."""
    from scribeline.steps.cautions import DEFERS, of_shop_test

    if as_json:
        _json(
            [
                {
                    "kind": each.name,
                    "title": each.title,
                    "why": each.why,
                    "how": [in_unit(step, "mm") for step in each.how],
                    "readings": list(each.places),
                    "cautions": [in_unit(caution, "mm") for caution in of_shop_test(each, method)],
                }
                for each in kinds
            ]
        )
        return
    console = console_for_people()
    for each in kinds:
        console.print(f"[bold]{each.name}[/bold]  {each.title}")
        console.print(Padding(each.why, (0, 0, 0, 2)))
        if not whole:
            continue
        for n, step in enumerate(each.how, start=1):
            console.print(Padding(f"{n}. {escape(in_unit(step, 'mm'))}", (0, 0, 0, 2)))
        console.print(Padding(f"Readings: {_readings(each)}.", (0, 0, 0, 2)))
        if each.at is not None:
            usual = "" if each.at.usual is None else f"; {each.at.usual:g} mm when left out"
            console.print(Padding(f"--at: {each.at.words}{usual}.", (0, 0, 0, 2)))
        if each.methods is None or len(each.methods) > 1:
            console.print(Padding(f"--method: {_methods(each)}.", (0, 0, 0, 2)))
        cautions = " ".join(in_unit(caution, "mm") for caution in of_shop_test(each, method))
        if cautions:
            console.print(Padding(f"[bold]CAUTION[/bold] {escape(cautions)} {DEFERS}", (0, 0, 0, 2)))


def _readings(kind: Kind) -> str:
    places = ", ".join(kind.places)
    if kind.fixed:
        return places
    return f"{places}, and so on" if len(kind.places) > 1 else f"{places}, {kind.least} or more"


def _methods(kind: Kind) -> str:
    from scribeline.proving import methods_of

    return ", ".join(methods_of(kind, usual_accuracies()))


def _test(console: Console, tests: ShopTests, test: ShopTest) -> None:
    result = tests.result(test)
    who = ", ".join(each for each in (test.machine, test.by, str(test.on or "")) if each)
    tried = f" [{test.method}]" if kind_of(test.kind).methods is None else ""
    console.print(
        f"  {test.no}. {kind_of(test.kind).title}{escape(tried)}{f'  {escape(who)}' if who else ''}"
    )
    standing = tests.standing(test)
    words = [standing and f"{standing}."] if test.struck else [result.says]
    if not test.struck:
        words += [standing and f"CAUTION {standing}.", "" if result.doubt else result.correct]
        words += [(wild := tests.wild_words(test)) and f"CAUTION {wild}."]
    for each in (*words, test.note and f"Note: {test.note}"):
        if each:
            console.print(Padding(escape(in_unit(each, tests.unit)), (0, 0, 0, 5)))


def _learnt(console: Console, tests: ShopTests) -> None:
    learnt = tests.learnt
    if not learnt:
        return
    console.print("[bold]What the shop knows of itself[/bold], one standard deviation each")
    for key, each in learnt.items():
        what = usual_accuracies()[key]
        sd, guess, low, high = (
            in_unit(in_words(value, what.unit), tests.unit)
            for value in (each.sd, each.guess, each.low, each.high)
        )
        console.print(
            f"  {key}: [bold]{escape(sd)}[/bold], the usual guess is {escape(guess)}; with 95 % from {escape(low)} to "
            f"{escape(high)}, by {_count(each.readings, 'reading')}."
        )
        console.print(Padding(what.what, (0, 0, 0, 4)))


def _next(console: Console, still: tuple[StillGuess, ...], file: Path) -> None:
    if not still:
        return
    console.print("[bold]What to test next[/bold]: the greatest errors that rest most on a guess")
    for each in still[:NEXT_SHOWN]:
        key = each.accuracy.key
        method = f" --method {key}" if KINDS[each.kind].methods != (key,) else ""
        readings = f"has {_count(each.readings, 'reading')}" if each.readings else "untested"
        console.print(
            f"  {each.accuracy.what}, {readings}: scribeline shop {escape(str(file))} --test {each.kind}{method}"
        )
    console.print("How a test is done: scribeline shop --how KIND")


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _record(tests: ShopTests) -> dict[str, Any]:
    return {
        "units": tests.unit,
        "tests": [_test_record(tests, each) for each in tests.tests],
        "learnt": {
            key: {
                "guess": each.guess,
                "sd": each.sd,
                "low": each.low,
                "high": each.high,
                "readings": each.readings,
                "unit": usual_accuracies()[key].unit,
            }
            for key, each in tests.learnt.items()
        },
        "next": [
            {
                "method": each.accuracy.key,
                "test": each.kind,
                "readings": each.readings,
                "at_stake_mm": each.weight,
            }
            for each in tests.next
        ],
    }


def _test_record(tests: ShopTests, test: ShopTest) -> dict[str, Any]:
    result = tests.result(test)
    return {
        "no": test.no,
        "kind": test.kind,
        "method": test.method,
        "machine": test.machine,
        "by": test.by,
        "on": None if test.on is None else test.on.isoformat(),
        "readings": list(test.readings),
        "figures": [
            {"name": each.name, "value": each.value, "sd": each.sd, "unit": each.unit}
            for each in result.figures
        ],
        "says": in_unit(result.says, tests.unit),
        "correct": in_unit(result.correct, tests.unit),
        "standing": in_unit(tests.standing(test), tests.unit),
        "wild": list(tests.wild.get(test.no, ())),
        "struck": test.struck,
        "note": test.note,
    }


def _json(value: Any) -> None:
    sys.stdout.write(json.dumps(value, indent=1, ensure_ascii=False) + "\n")
