"""How far each fretted note is out of tune, fret by fret, before and after the saddle is set back.

One strip a string for paper; all strings in one plot for a screen, where each value can be touched.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, floor

import numpy as np

from scribeline.drawing.sheet import (
    CENTRE,
    DIMENSION,
    HIDDEN,
    LEAST_LETTERING,
    LETTERING,
    OUTLINE,
    THIN,
    Circle,
    Item,
    Line,
    Path,
    Point,
    Sheet,
    Text,
    Window,
)
from scribeline.drawing.sheets.office import spaced
from scribeline.lengths import both_units
from scribeline.plan import Plan
from scribeline.strings import Floats, Prediction

WIDTH, LEFT, RIGHT = 277.0, 46.0, 8.0
STRIP, HEAD, FOOT = 24.0, 20.0, 16.0
SMALL, MAIN = 2.5, 3.5


def cents_sheet(
    plan: Plan, found: Prediction, *, width: float = WIDTH, strip: float = STRIP, small: float = SMALL
) -> Sheet:
    """A sheet with one strip a string: cents sharp at each fret, dashed with the saddle on the scale line, full with it set back.

    Args:
        plan: the job's plan, for names.
        found: the prediction of its own set.
        width: of the sheet, mm.
        strip: height of one string's strip, mm.
        small: height of the lesser lettering, mm.
    """
    strings = plan.layout.strings
    height = HEAD + strip * len(strings) + FOOT
    worst = float(np.abs(np.concatenate([found.cents, found.cents_uncompensated])).max())
    per_cent = (strip - 6.0) / 2 / max(5.0, worst)
    items: list[Item] = [
        Text(
            LETTERING,
            (LEFT, height - 9),
            f"{plan.job.document.name}: cents each fretted note is sharp",
            5.0,
            bold=True,
        ),
        Text(
            LETTERING,
            (LEFT, height - 15),
            "full line: saddle where it is wanted; dashed: saddle on the scale line",
            MAIN,
        ),
    ]
    frets = found.cents.shape[1]
    for row, string in enumerate(strings):
        middle = height - HEAD - strip * (row + 0.5)
        items += _strip(found, row, middle, per_cent, width=width, small=small)
        setback = " ± ".join(
            (
                both_units(found.setback[row], plan.unit)[0].rpartition(" ")[0],
                both_units(found.sd[row], plan.unit)[0],
            )
        )
        items.append(Text(LETTERING, (4.0, middle + 3), f"{string.no} {string.note}", MAIN, bold=True))
        items.append(Text(LETTERING, (4.0, middle - 3), setback, small))
    for fret in range(1, frets + 1):
        items.append(Text(LETTERING, (_at(fret, frets, width), 8.0), str(fret), small, anchor="middle"))
    items.append(Text(LETTERING, (4.0, 8.0), "fret", small))
    return Sheet("cents", width, height, tuple(items))


def _at(fret: int, frets: int, width: float) -> float:
    return LEFT + (width - LEFT - RIGHT) * (fret - 0.5) / frets


def _strip(
    found: Prediction, row: int, middle: float, per_cent: float, *, width: float, small: float
) -> Iterator[Item]:
    frets = found.cents.shape[1]
    edge = width - RIGHT
    yield Line(DIMENSION, (LEFT, middle), (edge, middle))
    for level in (-5, 5):
        y = middle + level * per_cent
        yield Line(CENTRE, (LEFT, y), (edge, y))
        yield Text(LETTERING, (LEFT - 1.5, y - small / 2), f"{level:+d}", small, anchor="end")
    for layer, cents in ((HIDDEN, found.cents_uncompensated[row]), (OUTLINE, found.cents[row])):
        points: tuple[Point, ...] = tuple(
            (_at(n, frets, width), middle + per_cent * float(c)) for n, c in enumerate(cents, start=1)
        )
        yield Path(layer, points)


_SET_SHARE = 0.58
"""Of the plot's height, for the notes with the saddles set: they lie closer, and are what is heard."""
_BETWEEN = 13.0
"""Between the two panels, for the lower one's name, mm."""
_LEVELS = (1, 2, 5, 10, 20, 50, 100, 200)
"""Cents from one level line to the next: the least that stand apart."""
_APART = 7.0
"""Between two level lines at least, mm."""


@dataclass(frozen=True, slots=True)
class _Panel:
    """One of the two panels of a plot.

    Attributes:
        left, right: its ends, mm.
        low: where its least value stands, mm.
        least, most: cents at its foot and its head.
        high: where its greatest value stands, mm.
        frets: how many.
    """

    left: float
    right: float
    low: float
    high: float
    least: float
    most: float
    frets: int

    def at(self, fret: float, cents: float) -> Point:
        across = (self.right - self.left) * (fret - 0.5) / self.frets
        return self.left + across, self.low + (self.high - self.low) * (cents - self.least) / (
            self.most - self.least
        )


def cents_plot(found: Prediction, room: Window) -> tuple[Item, ...]:
    """Draw every string's cents in one plot: over it with the saddles on the scale line, under it with them set.

    A curve's ref is `cents-` and the string's number; that of a note's mark has the fret's number after it, in both panels.

    Args:
        found: the prediction.
        room: where it stands, mm.
    """
    left, bottom, right, top = room
    foot, head = bottom + 9.0, top - 6.5
    tall = head - foot - _BETWEEN
    middle = foot + tall * _SET_SHARE
    ends = (left + 9.0, right - 6.0)
    items: list[Item] = [Text(LETTERING, (left, foot - 6.6), "fret", LEAST_LETTERING)]
    frets = found.cents.shape[1]
    panels = (
        ("saddle on the scale line", found.cents_uncompensated, (middle + _BETWEEN, head)),
        ("saddle set", found.cents, (foot, middle)),
    )
    for words, cents, (low, high) in panels:
        step = _level(float(np.ptp(np.append(cents, 0.0))), high - low)
        least, most = (
            step * turn(edge / step)
            for turn, edge in ((floor, min(0.0, cents.min())), (ceil, max(0.0, cents.max())))
        )
        panel = _Panel(*ends, low, high, least, most if most > least else least + step, frets)
        items.append(Text(LETTERING, (left, high + 2.6), f"Cents sharp, {words}", MAIN, bold=True))
        items += _levels(panel, step)
        items += _curves(panel, cents)
    foot_panel = _Panel(*ends, 0.0, 1.0, 0.0, 1.0, frets)
    every = 1 if (ends[1] - ends[0]) / frets > 5.5 else 2
    for fret in range(1, frets + 1):
        if fret % every == 0 or fret == 1:
            u = foot_panel.at(fret, 0.0)[0]
            items.append(
                Text(LETTERING, (u, foot - 6.6), str(fret), LEAST_LETTERING, "middle", bold=fret % 12 == 0)
            )
    return tuple(items)


def _level(span: float, tall: float) -> int:
    """Cents from one level line to the next."""
    return next((step for step in _LEVELS if tall / (ceil(span / step) + 1) >= _APART), _LEVELS[-1])


def _levels(panel: _Panel, step: int) -> Iterator[Item]:
    for level in range(round(panel.least), round(panel.most) + 1, step):
        a, b = (panel.at(fret, level) for fret in (0.5, panel.frets + 0.5))
        yield Line(OUTLINE if level == 0 else CENTRE, a, b)
        yield Text(
            LETTERING,
            (a[0] - 1.2, a[1] - LEAST_LETTERING / 2),
            f"{level:+d}".replace("-", "−") if level else "0",
            LEAST_LETTERING,
            "end",
        )


def _curves(panel: _Panel, cents: Floats) -> Iterator[Item]:
    """Every string's curve with a mark at each fret, and its number behind its end."""
    ends = spaced([panel.at(panel.frets, float(row[-1]))[1] for row in cents], LEAST_LETTERING + 0.8)
    for n, row in enumerate(cents, start=1):
        points = tuple(panel.at(fret, float(each)) for fret, each in enumerate(row, start=1))
        yield Path(THIN, points, ref=f"cents-{n}")
        for fret, point in enumerate(points, start=1):
            yield Circle(THIN, point, 0.6, ref=f"cents-{n}-{fret}")
        at = (panel.right + 0.8, ends[n - 1] - LEAST_LETTERING / 2)
        yield Text(LETTERING, at, str(n), LEAST_LETTERING, ref=f"cents-{n}")
