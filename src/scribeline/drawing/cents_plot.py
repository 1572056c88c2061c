"""How far each fretted note is out of tune, fret by fret, before and after the saddle is set back: one strip a string."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from scribeline.drawing.sheet import (
    CENTRE,
    DIMENSION,
    HIDDEN,
    LETTERING,
    OUTLINE,
    Item,
    Line,
    Path,
    Point,
    Sheet,
    Text,
)
from scribeline.lengths import both_units
from scribeline.plan import Plan
from scribeline.strings import Prediction

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
