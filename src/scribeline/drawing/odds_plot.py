"""The odds of a plan as a picture: a bar for each limit, each operation and each purchase, read at a glance."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from scribeline.drawing.face import text_width
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    HATCHING,
    LETTERING,
    OUTLINE,
    THIN,
    Fill,
    Hatch,
    Item,
    Line,
    Path,
    Point,
    Sheet,
    Text,
)
from scribeline.odds import Odds
from scribeline.odds.words import Words, percent
from scribeline.plan import Plan
from scribeline.steps import PROVE_FIRST
from scribeline.tables import Accuracies

WIDTH = 277.0
"""Of the picture, as wide as a landscape page of A4 has room for, mm."""

_MARGIN, _NAMES, _BARS, _FIGURES = 6.0, 142.0, 92.0, 24.0
"""Edge of the picture; room for names, for the bars, for their figures, mm."""
_ROW, _BAR, _TITLE, _HEAD = 7.5, 4.5, 11.5, 24.0
"""From bar to bar, a bar's height, room for a panel's title and for the heading, mm."""
_HEADLINE = 7.0
MOST_LIMITS, MOST_STEPS, MOST_BUYS = 6, 5, 4
"""Bars of each panel: with all of them the picture lies on a page of A4."""


@dataclass(frozen=True, slots=True)
class _Bar:
    """One bar: its name, how far it is black, how far it is hatched beyond that, and its figure."""

    name: str
    black: float
    hatched: float
    figure: str


def odds_sheet(plan: Plan, found: Odds, accuracies: Accuracies) -> Sheet:
    """The odds as a picture.

    Args:
        plan: whose.
        found: the odds.
        accuracies: they rest on.
    """
    panels = [panel for panel in _panels(Words(plan, accuracies), found) if panel[1]]
    height = _HEAD + sum(_TITLE + _ROW * len(bars) for _, bars in panels) + 2 * _MARGIN
    top = height - _MARGIN
    headline = f"{plan.job.document.name}: {percent(found.chance)} chance to keep every limit at the first go"
    below = (
        f"{percent(found.caution)} chance of no caution either; {found.trials:,} trial builds. {PROVE_FIRST}"
    )
    items: list[Item] = [
        Text(LETTERING, (_MARGIN, top - _HEADLINE - 2), headline, _fitting(headline, _HEADLINE), bold=True),
        Text(LETTERING, (_MARGIN, top - _HEADLINE - 11), below, ACTED_ON_LETTERING),
    ]
    top -= _HEAD
    for title, bars in panels:
        items += _panel(title, bars, top, found.chance if title != _LIMITS else None)
        top -= _TITLE + _ROW * len(bars)
    return Sheet("odds", WIDTH, height, tuple(items))


_LIMITS = "Likeliest to miss: black is the chance that it keeps its limits"
_STEPS = "What matters most: black is the chance as it is, hatched what a perfect step would add"
_BUYS = "Best buys: hatched is what each would add"


def _panels(words: Words, found: Odds) -> Iterator[tuple[str, list[_Bar]]]:
    limits = found.likeliest_to_fail[:MOST_LIMITS]
    yield (
        _LIMITS,
        [_Bar(words.outcome(each.outcome), each.chance, 0.0, percent(each.chance)) for each in limits],
    )
    base = found.chance
    steps = found.mattering[:MOST_STEPS]
    yield (
        _STEPS,
        [_Bar(words.operation(each.operation), base, each.gain, percent(each.chance)) for each in steps],
    )
    buys = found.helping[:MOST_BUYS]
    yield _BUYS, [_Bar(words.buy(each), base, each.gain, percent(each.chance)) for each in buys]


def _panel(title: str, bars: Sequence[_Bar], top: float, base: float | None) -> Iterator[Item]:
    yield Text(LETTERING, (_MARGIN, top - 7.0), title, ACTED_ON_LETTERING, bold=True)
    left = _MARGIN + _NAMES
    low = top - _TITLE - _ROW * len(bars) + 2.0
    for row, bar in enumerate(bars):
        y = top - _TITLE - _ROW * row - _BAR
        yield from _bar(bar, left, y)
    if base is not None:
        yield Line(THIN, (left + base * _BARS, top - _TITLE + 1.5), (left + base * _BARS, low))


def _bar(bar: _Bar, left: float, y: float) -> Iterator[Item]:
    baseline = y + (_BAR - ACTED_ON_LETTERING) / 2
    yield Text(LETTERING, (_MARGIN, baseline), bar.name, _fitting(bar.name, ACTED_ON_LETTERING, _NAMES - 3.0))
    black, end = left + bar.black * _BARS, left + min(1.0, bar.black + bar.hatched) * _BARS
    if bar.black * _BARS > _SEEN:
        yield Fill(OUTLINE, (_box(left, black, y),))
    if end - black > _SEEN:
        yield Hatch(HATCHING, (_box(black, end, y),), spacing=1.5)
        yield Path(OUTLINE, _box(black, end, y), closed=True)
    yield Path(THIN, _box(left, left + _BARS, y), closed=True)
    yield Text(LETTERING, (left + _BARS + 3.0, baseline), bar.figure, ACTED_ON_LETTERING)


_SEEN = 0.1
"""A narrower bar is not drawn, mm."""


def _box(left: float, right: float, low: float) -> tuple[Point, ...]:
    return (left, low), (right, low), (right, low + _BAR), (left, low + _BAR)


def _fitting(text: str, height: float, room: float = WIDTH - 2 * _MARGIN) -> float:
    """The height at which a line fits its room, mm."""
    return min(height, height * room / text_width(text, height, bold=True))
