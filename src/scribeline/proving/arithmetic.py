"""The arithmetic of the shop's tests: one function a kind, plain numbers in and out.

Errors that are independent add as squares (JCGM 100:2008, 5.1.2).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import atan, degrees, hypot, pi, sqrt

import numpy as np


@dataclass(frozen=True, slots=True)
class Sample:
    """Several readings of one thing.

    Attributes:
        count: how many.
        mean: their mean.
        sd: their standard deviation about it, with n - 1; 0 for one reading.
        half: half of the interval that holds the true mean with 95 %; infinite for one reading.
    """

    count: int
    mean: float
    sd: float
    half: float

    @property
    def is_biased(self) -> bool:
        """Whether the mean is surely not nothing."""
        return abs(self.mean) > self.half


def sample(values: Sequence[float]) -> Sample:
    """Mean, standard deviation and 95 % interval of the mean.

    The interval is Student's: t sd / √n with n - 1 degrees of freedom (JCGM 100:2008, G.3).

    Raises:
        ValueError: there is no reading.
    """
    n = len(values)
    if not n:
        message = "there is no reading"
        raise ValueError(message)
    mean = sum(values) / n
    if n == 1:
        return Sample(1, mean, 0.0, float("inf"))
    sd = sqrt(sum((each - mean) ** 2 for each in values) / (n - 1))
    return Sample(n, mean, sd, student(n - 1) * sd / sqrt(n))


@lru_cache(maxsize=128)
def student(freedom: int) -> float:
    """Student's t that 95 % of its distribution lie within, either way.

    With t = √ν tan θ its density is in proportion to cos^(ν-1) θ, which is summed over θ.
    """
    angle = np.linspace(0, pi / 2, 20_001)
    density = np.cos(angle) ** (freedom - 1)
    share = np.concatenate(([0.0], np.cumsum((density[1:] + density[:-1]) / 2)))
    return float(sqrt(freedom) * np.tan(np.interp(0.95, share / share[-1], angle)))


@dataclass(frozen=True, slots=True)
class TableLean:
    """How a drill press's table leans, from a wire swung in its chuck.

    Attributes:
        to_front: how far it falls to the front (back: less than 0), rad.
        to_right: how far it falls to the right (left: less than 0), rad.
        sd: of either, rad.
        misfit: by how much the four readings miss one plane, mm.
    """

    to_front: float
    to_right: float
    sd: float
    misfit: float

    @property
    def lean(self) -> float:
        """The greatest lean, whichever way it is, rad."""
        return hypot(self.to_front, self.to_right)


def table_lean(
    front: float, back: float, left: float, right: float, *, radius: float, read_sd: float
) -> TableLean:
    """The lean of a table from the gap under a wire at four places round the spindle.

    A fall of the table to the front by the angle A opens the gap at the front by R tan A and closes it as much at the back, so
    tan A = (front - back) / 2R; left and right likewise. On a plane front + back = left + right.

    Args:
        front: gap between wire and table at the front, mm.
        back: at the back, mm.
        left: at the left, mm.
        right: at the right, mm.
        radius: from the spindle to the wire's end, mm.
        read_sd: standard deviation of one gap, mm.
    """
    across = 2 * radius
    return TableLean(
        atan((front - back) / across),
        atan((right - left) / across),
        sqrt(2) * read_sd / across,
        front + back - left - right,
    )


@dataclass(frozen=True, slots=True)
class CollarOffset:
    """How a router's bit stands in its collar, or under its bearing.

    Attributes:
        to_front: of the base's front, mm; to its back less than 0.
        to_right: of the base's right, mm.
        reach: mean distance from the guide's edge to the cut, mm.
        sd: of `to_front` and of `to_right`, mm.
        misfit: by how much the four readings miss one circle, mm.
    """

    to_front: float
    to_right: float
    reach: float
    sd: float
    misfit: float

    @property
    def offset(self) -> float:
        """How far the bit is off the centre, mm."""
        return hypot(self.to_front, self.to_right)


def collar_offset(front: float, right: float, back: float, left: float, *, read_sd: float) -> CollarOffset:
    """The offset of a bit from the distance between a guide's edge and the cut along it, one side of the base after another.

    A bit that stands e towards the side facing the guide cuts e nearer to it, and e further off once the opposite side faces it:
    e = (opposite - this) / 2. On a circle front + back = right + left.

    Args:
        front: distance with the front of the base facing the guide, mm.
        right: with its right side facing it, mm.
        back: with its back facing it, mm.
        left: with its left side facing it, mm.
        read_sd: standard deviation of one distance, mm.
    """
    return CollarOffset(
        (back - front) / 2,
        (left - right) / 2,
        (front + right + back + left) / 4,
        read_sd / sqrt(2),
        front + back - right - left,
    )


@dataclass(frozen=True, slots=True)
class Runout:
    """How a bit runs out.

    Attributes:
        total: mean of the dial's whole swing in a turn, mm.
        sd: of that mean, mm.
        off_centre: how far the bit's axis stands off the spindle's there, mm: half of the swing.
    """

    total: float
    sd: float
    off_centre: float


def runout(swings: Sequence[float], *, read_sd: float) -> Runout:
    """The run-out of a bit from the swing of a dial over a whole turn, read once or several times.

    A round shank whose axis stands e off the spindle's moves the dial by 2e.

    Args:
        swings: highest less lowest reading of each turn, mm.
        read_sd: standard deviation of one of them, mm.

    Raises:
        ValueError: there is none.
    """
    found = sample(swings)
    sd = max(found.sd, read_sd) / sqrt(found.count)
    return Runout(found.mean, sd, found.mean / 2)


@dataclass(frozen=True, slots=True)
class PrintScale:
    """What a printer makes of a length.

    Attributes:
        across: measured length over what it should be, across the paper.
        up: the same up the paper.
        across_sd: standard deviation of `across`.
        up_sd: of `up`.
    """

    across: float
    up: float
    across_sd: float
    up_sd: float


def print_scale(
    across: Sequence[float], up: Sequence[float], *, nominal: float, read_sd: float, rule_sd: float = 0.0
) -> PrintScale:
    """A printer's scale from its measuring bars: the mean over the sheets, and how well that is known.

    The more sheets, the better; but all of them are read by one rule, whose own scale stays in the mean.

    Args:
        across: what the bar across measures on each sheet, mm.
        up: what the bar up measures, mm.
        nominal: what both should measure, mm.
        read_sd: standard deviation of one measurement, mm.
        rule_sd: of the rule's own scale, mm per mm.

    Raises:
        ValueError: there is no sheet.
    """
    (x, x_sd), (y, y_sd) = (_scale(bars, nominal, read_sd) for bars in (across, up))
    return PrintScale(x, y, hypot(x_sd, rule_sd), hypot(y_sd, rule_sd))


def _scale(bars: Sequence[float], nominal: float, read_sd: float) -> tuple[float, float]:
    found = sample([each / nominal for each in bars])
    return found.mean, max(found.sd, read_sd / nominal) / sqrt(found.count)


@dataclass(frozen=True, slots=True)
class Registration:
    """How the two faces of a body that is turned over on pins agree.

    Attributes:
        step: mean step from the holes of the front face to those of the back, mm.
        pins_off: how far the pins stand off the centreline, mm: half of the step.
        sd: of `pins_off`, mm.
        scatter: standard deviation of the steps about their mean, mm.
    """

    step: float
    pins_off: float
    sd: float
    scatter: float


def registration(steps: Sequence[float]) -> Registration:
    """Registration from test holes drilled from both faces, a step read at each.

    Pins that stand e off the centreline they are turned over on put every hole of the back 2e off its fellow.

    Args:
        steps: from the hole of the front face to that of the back, square to the line of the pins, mm.

    Raises:
        ValueError: there is none.
    """
    found = sample(steps)
    return Registration(found.mean, found.mean / 2, found.sd / sqrt(found.count) / 2, found.sd)


def in_degrees(angle: float) -> str:
    """An angle for a sentence: `0.11°`."""
    return f"{degrees(angle):.2f}°"
