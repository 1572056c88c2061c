"""Every saddle in its range: a number line a string, drawn so tall that a tenth of a millimetre can be seen."""

from __future__ import annotations

from dataclasses import dataclass

from scribeline.drawing.face import text_width, wrap
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    CUT,
    LEAST_LETTERING,
    LETTERING,
    OUTLINE,
    THIN,
    Fill,
    Item,
    Line,
    Text,
    Window,
)
from scribeline.lengths import JobUnit, both_units, figure
from scribeline.plan.heights import Heights, StringHeight

ENLARGEMENTS = (20.0, 10.0, 5.0, 2.0, 1.0)
"""Of ISO 5455, the greatest first."""

_ENDS = 44.0
"""Room for what the ends of the range are called, mm."""
_NARROW_ENDS = 30.0
"""The same in two lines, where figures would run into the next string's line otherwise, mm."""
_CLEAR = 4.0
"""From a string's line to its figure, and from there to the next one's arrow, mm."""
_HEAD = 7.0
"""Room for a string's number and note over its line, mm."""
_BESIDE = 0.5
"""Taken for the ends of a range that nobody stated, over and under what the strings want, mm."""


_SAME = 0.005
"""Heights that print the same, mm."""


@dataclass(frozen=True, slots=True)
class _Scale:
    """Where heights stand on the picture.

    Attributes:
        least: the lowest height shown, mm.
        level: where it stands.
        times: how much larger than life heights are drawn.
    """

    least: float
    level: float
    times: float

    def at(self, height: float) -> float:
        """Where a height stands."""
        return self.level + (height - self.least) * self.times


def saddle_range(found: Heights, room: Window, unit: JobUnit) -> tuple[Item, ...]:
    """Every string's wanted height between the lowest and the highest that its saddle reaches.

    Args:
        found: the heights.
        room: where it may stand, mm.
        unit: of the job.
    """
    left, _, right, top = room
    low = _end(found.lowest, [each.least for each in found.strings], -_BESIDE)
    high = _end(found.highest, [each.most for each in found.strings], _BESIDE)
    scale = _scale(found, (low, high), room)
    head = top - ACTED_ON_LETTERING - 0.5
    items: list[Item] = [
        Text(LETTERING, (left, head), f"Saddles, {scale.times:g}:1", ACTED_ON_LETTERING, bold=True)
    ]
    figures = max(text_width(figure(each.wanted, unit), ACTED_ON_LETTERING) for each in found.strings)
    is_tight = (right - left - _ENDS) / len(found.strings) < figures + _CLEAR
    ends = _NARROW_ENDS if is_tight else _ENDS
    for words, stated in (("lowest", found.lowest), ("highest", found.highest)):
        if stated is not None:
            items += _limit(words, stated, (left, scale.at(stated)), unit, ends=ends)
    if found.lowest is None and found.highest is None:
        items += _unstated((left, scale.at((low + high) / 2)))
    pitch = (right - left - ends) / len(found.strings)
    bare = any(_wide(each.wanted, unit) + 4.0 > pitch for each in found.strings)
    for n, string in enumerate(found.strings):
        u = left + ends + pitch * n + 3.0
        items.append(Line(THIN, (u, scale.at(low)), (u, scale.at(high))))
        ticks = [scale.at(end) for end in (found.lowest, found.highest) if end is not None]
        items += (Line(OUTLINE, (u - 3.0, v), (u + 0.9, v)) for v in ticks)
        items += _wanted(string, u, scale, unit, bare=bare)
        items.append(Text(LETTERING, (u, head), f"{string.no} {string.note}", ACTED_ON_LETTERING))
    return tuple(items)


def _scale(found: Heights, ends: tuple[float, float], room: Window) -> _Scale:
    """The greatest standard enlargement at which all heights fit."""
    _, bottom, _, top = room
    least = min(ends[0], *(each.least for each in found.strings))
    most = max(ends[1], *(each.most for each in found.strings))
    tall = top - bottom - _HEAD - 4.0
    times = next((each for each in ENLARGEMENTS if (most - least) * each <= tall), ENLARGEMENTS[-1])
    return _Scale(least, bottom + 2.0 + (tall - (most - least) * times) / 2, times)


def _wide(mm: float, unit: JobUnit) -> float:
    """How wide a height is lettered, mm."""
    big, small = both_units(mm, unit)
    return max(text_width(big, ACTED_ON_LETTERING), text_width(small, LEAST_LETTERING))


def _end(stated: float | None, wanted: list[float], beside: float) -> float:
    if stated is not None:
        return stated
    return (min(wanted) if beside < 0 else max(wanted)) + beside


def _limit(words: str, mm: float, at: tuple[float, float], unit: JobUnit, *, ends: float) -> list[Item]:
    """What an end of the range is called; each string's line has a tick there."""
    (left, v), (big, small) = at, both_units(mm, unit)
    lines = [f"{words} {big}"] if ends == _ENDS else [words, big]
    if words == "lowest":
        feet = [v - (ACTED_ON_LETTERING + 1.0) * n for n in range(1, len(lines) + 1)]
        last = feet[-1] - 4.0
    else:
        feet = [v + 1.0 + (ACTED_ON_LETTERING + 1.0) * n for n in reversed(range(len(lines)))]
        last = v - LEAST_LETTERING - 1.0
    return [
        Line(OUTLINE, (left, v), (left + ends - 6.0, v)),
        *(
            Text(LETTERING, (left, foot), line, ACTED_ON_LETTERING)
            for foot, line in zip(feet, lines, strict=True)
        ),
        Text(LETTERING, (left, last), small, LEAST_LETTERING),
    ]


def _unstated(at: tuple[float, float]) -> list[Item]:
    """That nobody said what the saddles reach."""
    lines = wrap("The job does not say what the saddles reach.", _ENDS - 6.0, ACTED_ON_LETTERING)
    return [
        Text(LETTERING, (at[0], at[1] + 6.0 - n * 1.5 * ACTED_ON_LETTERING), line, ACTED_ON_LETTERING)
        for n, line in enumerate(lines)
    ]


def _wanted(string: StringHeight, u: float, scale: _Scale, unit: JobUnit, *, bare: bool) -> list[Item]:
    """The height a string wants, and what the actions and reliefs asked for make of it; `bare`: without units."""
    v = scale.at(string.wanted)
    arrow = ((u - 0.3, v), (u - 2.8, v + 1.3), (u - 2.8, v - 1.3))
    big, small = both_units(string.wanted, unit)
    items: list[Item] = [
        Fill(CUT, (arrow,)),
        Text(LETTERING, (u + 1.2, v + 0.8), big.rpartition(" ")[0] if bare else big, ACTED_ON_LETTERING),
        Line(CUT, (u - 0.8, v), (u + 0.8, v)),
    ]
    if not bare:
        items.append(Text(LETTERING, (u + 1.2, v - LEAST_LETTERING - 0.9), small, LEAST_LETTERING))
    if string.most - string.least > _SAME:
        items.append(Line(CUT, (u, scale.at(string.least)), (u, scale.at(string.most))))
    return items
