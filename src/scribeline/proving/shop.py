"""All tests of a shop together: its own accuracies, what is still a guess, and which reading is wild."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import tan

from scribeline.proving.kinds import DEEP, KINDS, READERS, KindName, ShopTest, can_be_tried, kind_of
from scribeline.proving.learning import BELIEF, DOUBTED, Group, Learnt, learn
from scribeline.tables import Accuracies, Accuracy, usual_accuracies


def learnt_by(tests: Iterable[ShopTest], usual: Accuracies | None = None) -> Mapping[str, Learnt]:
    """What the tests that count teach, by the method's key.

    Args:
        tests: of the shop.
        usual: the guesses; common practice when left out.
    """
    guesses = usual or usual_accuracies()
    return {key: learn(groups, guesses[key].sd) for key, (groups, _) in _by_method(tests, guesses).items()}


def accuracies_of(tests: Iterable[ShopTest], usual: Accuracies | None = None) -> Accuracies:
    """The usual accuracies, with the shop's own where it has tested; each says on how many readings it rests."""
    guesses = usual or usual_accuracies()
    found = guesses
    for key, (groups, counted) in _by_method(tests, guesses).items():
        learnt = learn(groups, guesses[key].sd)
        words = (
            f"{_count(learnt.readings, 'reading')} of this shop in {_count(len(counted), 'test')}, weighed with the usual guess "
            f"as {BELIEF.prior_readings:g} readings"
        )
        found = found.with_own({key: learnt.sd}, words)
    return found


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _by_method(
    tests: Iterable[ShopTest], guesses: Accuracies
) -> dict[str, tuple[tuple[Group, ...], tuple[ShopTest, ...]]]:
    """The readings of each method, and the tests they are from, in the order of the tests."""
    found: dict[str, tuple[tuple[Group, ...], tuple[ShopTest, ...]]] = {}
    every = tuple(tests)
    again = done_again(every)
    for test in every:
        if not (test.counts and test.method) or test.no in again:
            continue
        result = kind_of(test.kind).result(test, guesses)
        group = None if result.doubt else result.group
        if group is not None:
            groups, counted = found.get(test.method, ((), ()))
            found[test.method] = (*groups, group), (*counted, test)
    return found


_STANDS: frozenset[KindName] = frozenset({"table-square", "collar-centring", "bit-runout"})
"""Kinds that tell how a machine stands: read twice in a day it is the same error, seen twice."""


def done_again(tests: Sequence[ShopTest]) -> Mapping[int, int]:
    """Tests of how a machine stands that were done again the same day, by number: the number of the one that counts.

    A press's table is swung, shimmed and swung again; each counts once it has been left so.
    """
    latest: dict[tuple[str, str, str, dt.date], int] = {}
    found: dict[int, int] = {}
    for test in reversed(tests):
        if test.kind not in _STANDS or not test.counts or test.on is None:
            continue
        last = latest.setdefault((test.kind, test.method, test.machine, test.on), test.no)
        if last != test.no:
            found[test.no] = last
    return found


def wild_in(tests: Sequence[ShopTest], usual: Accuracies | None = None) -> Mapping[int, tuple[int, ...]]:
    """Readings that stand apart from all others of their method: for a test's number, which of its readings, from 1.

    Of a press's table two leans are learnt from four gaps, so that no gap is named; its readings contradict one another instead.
    """
    guesses = usual or usual_accuracies()
    found: dict[int, tuple[int, ...]] = {}
    for key, (groups, counted) in _by_method(tests, guesses).items():
        learnt = learn(groups, guesses[key].sd)
        for test, chances in zip(counted, learnt.wild, strict=True):
            apart = tuple(n for n, chance in enumerate(chances, start=1) if chance >= DOUBTED)
            if apart and len(chances) == len(test.readings):
                found[test.no] = apart
    return found


@dataclass(frozen=True, slots=True)
class StillGuess:
    """An accuracy that rests on the guess more than on tests.

    Attributes:
        accuracy: as it stands.
        readings: of the shop's own that it has.
        kind: of the test to do.
        weight: how much is at stake, mm: its size, as far as it is a guess.
    """

    accuracy: Accuracy
    readings: int
    kind: KindName
    weight: float


ENOUGH = 16
"""Readings from which an accuracy is the shop's own more than a guess: twice what the guess counts for."""
_LONG = 200.0
"""Length at which a scale's error is told as one, mm: a measuring bar."""


def still_guesses(tests: Iterable[ShopTest], usual: Accuracies | None = None) -> tuple[StillGuess, ...]:
    """What to test next: the greatest errors that rest most on a guess, first. What only reads comes last."""
    guesses = usual or usual_accuracies()
    learnt = learnt_by(tests, guesses)
    found = []
    for key, accuracy in accuracies_of(tests, guesses).items():
        kind = _kind_for(key, guesses)
        readings = learnt[key].readings if key in learnt else 0
        if kind is not None and readings < ENOUGH:
            share = BELIEF.prior_readings / (BELIEF.prior_readings + readings)
            found.append(StillGuess(accuracy, readings, kind, share * _as_length(accuracy)))
    return tuple(sorted(found, key=lambda each: (each.accuracy.key in READERS, -each.weight)))


def _kind_for(key: str, guesses: Accuracies) -> KindName | None:
    """The test that tells of a method; None where none does."""
    for kind in KINDS.values():
        if kind.methods is not None and key in kind.methods:
            return kind.name
    return "trial-marks" if can_be_tried(key, guesses) else None


def _as_length(accuracy: Accuracy) -> float:
    if accuracy.unit == "rad":
        return DEEP * tan(accuracy.sd)
    return accuracy.sd * (_LONG if accuracy.unit == "mm per mm" else 1.0)
