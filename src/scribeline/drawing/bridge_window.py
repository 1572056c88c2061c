"""Where the bridge may stand, as one number line: every string's own stretch, and the one that is left to them all."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, floor

from scribeline.drawing.face import text_width
from scribeline.drawing.marks import paragraph
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    CENTRE,
    CUT,
    DIMENSION,
    HATCHING,
    HIDDEN,
    LEAST_LETTERING,
    LETTERING,
    OUTLINE,
    THIN,
    Anchor,
    Fill,
    Hatch,
    Item,
    Line,
    Path,
    Point,
    Text,
    Window,
)
from scribeline.lengths import MM_PER_INCH, JobUnit, by_inches, figure, in_unit, own_unit, said
from scribeline.plan import Plan
from scribeline.strings import Stretch, stretch

_MOST = 20.0
"""How much larger than life places are drawn at most: a tenth of a millimetre can be seen well enough."""

_NAMES = 13.0
"""Room for the strings' numbers and notes, mm."""
_ROW, _THIN_BAR, _BAR = 6.6, 3.4, 7.0
"""From one string's bar to the next, a bar's height, and that of the one for all strings, mm."""
_FEWEST = 12.0
"""Between two figures of the scale at least, mm."""
_DROP = 5.4
"""From a figure to the words under it, mm."""


@dataclass(frozen=True, slots=True)
class _Ruler:
    """Where places stand on the picture.

    Attributes:
        least: the most forward place shown, mm past the scale line.
        start: where it stands.
        times: how much larger than life places are drawn.
        most: the most rearward place shown.
    """

    least: float
    start: float
    times: float
    most: float

    def at(self, place: float) -> float:
        return self.start + (place - self.least) * self.times


def bridge_window(plan: Plan, room: Window) -> tuple[Item, ...]:
    """Draw where the bridge may stand, from the 12th fret.

    Each string has a thin bar: where its own saddle reaches what is wanted of it, hatched where less than the reserve would be
    left. The thick bar is where all of them agree; where they do not, what is missing between them.

    Args:
        plan: of a job whose saddles have places.
        room: where it may stand, mm; it hangs from the top, and is no wider.
    """
    layout = plan.layout
    found = stretch(layout.travel, plan.job.document.bench.saddle_reserve)
    ruler = _ruler(found, layout.travel.front, room)
    left, _, _, top = room
    title = f"{plan.job.document.bridge.counted_from}, from the 12th fret"
    items: list[Item] = [
        Text(
            LETTERING,
            (left, top - ACTED_ON_LETTERING),
            title[:1].upper() + title[1:],
            ACTED_ON_LETTERING,
            bold=True,
        )
    ]
    first = top - ACTED_ON_LETTERING - 5.0 - _THIN_BAR
    bar = first - len(found.own) * _ROW - _BAR + _THIN_BAR - 0.6
    for n, string in enumerate(layout.strings):
        items += _own(found, n, f"{string.no} {string.note}", ruler, (left, first - n * _ROW))
    items += _decided(found, ruler, first, bar)
    items += _agreed(found, ruler, bar)
    scale = bar - 3.5
    items += _scale(plan, ruler, scale)
    below = scale - ACTED_ON_LETTERING - 5.0
    marks, low = _told(plan, found, ruler, room, (bar, below))
    items += marks
    notes = paragraph(_notes(plan, found), (left, low), room[2] - left, height=LEAST_LETTERING)
    return (*items, *notes.items)


def _ruler(found: Stretch, stands: float, room: Window) -> _Ruler:
    """As large as every bar and the place of the bridge fit in."""
    left, _, right, _ = room
    places = [each for low, high in found.own for each in (low - found.reserve, high + found.reserve)]
    least, most = min(*places, stands), max(*places, stands)
    wide = right - left - _NAMES - 2.0
    times = min(_MOST, wide / max(most - least, 1e-6))
    spare = (wide - (most - least) * times) / 2
    return _Ruler(least, left + _NAMES + spare, times, most)


def _box(left: float, low: float, right: float, high: float) -> tuple[Point, ...]:
    return (left, low), (right, low), (right, high), (left, high)


def _own(found: Stretch, n: int, name: str, ruler: _Ruler, at: Point) -> Iterator[Item]:
    """One string's own stretch, the reserve at its ends hatched."""
    low, high = found.own[n]
    left, y = at
    decides = n + 1 in found.limited_by
    yield Text(LETTERING, (left, y), name, ACTED_ON_LETTERING, bold=decides)
    ends = [ruler.at(each) for each in (low - found.reserve, low, high, high + found.reserve)]
    ref = f"window-string-{n + 1}"
    if ends[3] - ends[0] < 0.2:
        # Its saddle reaches what is wanted nowhere, not even with nothing in hand.
        yield Line(HIDDEN, (ends[3], y + _THIN_BAR / 2), (ends[0] + 0.2, y + _THIN_BAR / 2), ref=ref)
        return
    yield Path(THIN, _box(ends[0], y, ends[3], y + _THIN_BAR), closed=True, ref=ref)
    if low < high:
        yield Path(
            CUT if decides else OUTLINE, _box(ends[1], y, ends[2], y + _THIN_BAR), closed=True, ref=ref
        )
        if found.reserve > 0:
            yield _hatched(ends[0], y, ends[1])
            yield _hatched(ends[2], y, ends[3])
    else:
        yield _hatched(ends[0], y, ends[3])


def _hatched(left: float, low: float, right: float) -> Hatch:
    return Hatch(HATCHING, (_box(left, low, right, low + _THIN_BAR),), spacing=1.2)


def _decided(found: Stretch, ruler: _Ruler, first: float, bar: float) -> Iterator[Item]:
    """From the strings that decide, down to the ends of what is left to all of them."""
    for n, place in zip(found.limited_by, (found.high, found.low), strict=True):
        x = ruler.at(place)
        yield Line(CUT, (x, first - (n - 1) * _ROW), (x, bar), ref=f"window-string-{n}")


def _agreed(found: Stretch, ruler: _Ruler, y: float) -> Iterator[Item]:
    """The stretch that is left to all strings; where there is none, the gap between them."""
    low, high = ruler.at(found.low), ruler.at(found.high)
    if low <= high:
        yield Fill(CUT, (_box(low, y, max(high, low + 0.5), y + _BAR),), ref="window")
        return
    yield Hatch(HATCHING, (_box(high, y, low, y + _BAR),), spacing=1.6, angle_deg=135.0, ref="window-missing")
    yield Path(HIDDEN, _box(high, y, low, y + _BAR), closed=True, ref="window-missing")


def _scale(plan: Plan, ruler: _Ruler, y: float) -> Iterator[Item]:
    """A rule under the bars, with its figures counted from the 12th fret."""
    unit = plan.unit
    step, one = _steps(unit, ruler.times)
    past = plan.layout.past("12th-fret", plan.layout.scale)
    first, last = ceil((ruler.least + past) / one - 1e-9), floor((ruler.most + past) / one + 1e-9)
    yield Line(OUTLINE, (ruler.at(ruler.least), y), (ruler.at(ruler.most), y))
    for n in range(first, last + 1):
        x = ruler.at(n * one - past)
        told = n % step == 0
        yield Line(OUTLINE if told else DIMENSION, (x, y), (x, y - (2.4 if told else 1.4)))
        if told:
            words = figure(n * one, unit, 0) if not by_inches(unit) else f"{n * one / float(MM_PER_INCH):.2f}"
            yield Text(
                LETTERING, (x, y - 3.2 - LEAST_LETTERING), words, LEAST_LETTERING, "middle", ref="window-rule"
            )


def _steps(unit: JobUnit, times: float) -> tuple[int, float]:
    """Every how many marks a figure stands, and from one mark to the next, mm."""
    one = float(MM_PER_INCH) / 20 if by_inches(unit) else 1.0
    return next((step for step in (1, 2, 5, 10, 20) if step * one * times >= _FEWEST), 50), one


def _told(
    plan: Plan, found: Stretch, ruler: _Ruler, room: Window, levels: tuple[float, float]
) -> tuple[list[Item], float]:
    """The places in figures under the rule, and where the bridge stands; with it how low they reach."""
    layout, unit = plan.layout, plan.unit
    (bar, y), past = levels, layout.past("12th-fret", layout.scale)
    by_high, by_low = found.limited_by
    items: list[Item] = []
    if found.low <= found.high:
        both = ("not nearer", by_low, found.low, "end"), ("not further", by_high, found.high, "start")
        for words, string, place, end in both:
            big, small = own_unit(past + place, unit), f"{words}, by string {string}"
            anchor: Anchor = "end" if end == "end" else "start"
            width = max(text_width(big, ACTED_ON_LETTERING, bold=True), text_width(small, LEAST_LETTERING))
            x = ruler.at(place) + (-1.5 if anchor == "end" else 1.5)
            x = max(x, room[0] + width) if anchor == "end" else min(x, room[2] - width)
            items.append(Line(DIMENSION, (ruler.at(place), bar), (ruler.at(place), y - 4.0)))
            items.append(
                Text(LETTERING, (x, y - ACTED_ON_LETTERING), big, ACTED_ON_LETTERING, anchor, bold=True)
            )
            items.append(Text(LETTERING, (x, y - _DROP - LEAST_LETTERING), small, LEAST_LETTERING, anchor))
    else:
        middle = (ruler.at(found.low) + ruler.at(found.high)) / 2
        for n, words in enumerate(
            (
                f"{own_unit(found.low - found.high, unit)} is missing",
                f"string {by_low} may stand no nearer, string {by_high} no further",
            )
        ):
            height = ACTED_ON_LETTERING if n == 0 else LEAST_LETTERING
            x = _kept(middle, text_width(words, height, bold=n == 0) / 2, room)
            down = ACTED_ON_LETTERING if n == 0 else _DROP + LEAST_LETTERING
            items.append(Text(LETTERING, (x, y - down), words, height, "middle", bold=n == 0))
    low = y - _DROP - LEAST_LETTERING - 3.0
    if layout.window.is_empty and layout.held is None:
        return items, low
    stands = layout.travel.front
    x = ruler.at(stands)
    words = "target" if layout.held is None else f"stands, by its {layout.held.by}"
    text = f"{words} {own_unit(past + stands, unit)}"
    half = text_width(text, ACTED_ON_LETTERING, bold=True) / 2
    items += [
        Line(
            CENTRE,
            (x, room[3] - ACTED_ON_LETTERING - 3.0),
            (x, y + ACTED_ON_LETTERING + 5.0),
            ref="window-stands",
        ),
        Fill(CUT, (((x, low), (x - 1.8, low - 3.4), (x + 1.8, low - 3.4)),), ref="window-stands"),
        Text(
            LETTERING,
            (_kept(x, half, room), low - 5.0 - ACTED_ON_LETTERING),
            text,
            ACTED_ON_LETTERING,
            "middle",
            bold=True,
        ),
    ]
    return items, low - 5.0 - ACTED_ON_LETTERING - 3.5


def _kept(x: float, half: float, room: Window) -> float:
    """A middle moved so far that what stands there keeps inside the room."""
    return max(room[0] + half, min(room[2] - half, x))


def _notes(plan: Plan, found: Stretch) -> str:
    """What the bars say, and what is in hand."""
    layout = plan.layout
    words = "Thin bars: where the bridge may stand for each string by itself."
    if found.reserve > 0:
        words += f" Hatched: less than {said(found.reserve, None)} of its saddle's travel would be in hand."
    if found.low <= found.high:
        words += " Full bar: where it may stand for them all."
    if not layout.window.is_empty or layout.held is not None:
        where = "at the target" if layout.held is None else "where it stands"
        words += f" Least travel in hand {where}: {said(layout.travel.reserve)}."
    return in_unit(words, plan.unit)
