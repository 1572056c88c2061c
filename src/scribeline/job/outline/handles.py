"""An outline through a few handles: the fair curve that a builder's named points decide, and what it measures."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import hypot
from typing import TYPE_CHECKING

import numpy as np

from scribeline.job.outline.fairing import FairCurve, Station, closed_curve, open_curve
from scribeline.job.outline.ring import FLATTENING, Outline, OutlineError, checked_ring, where_it_crosses
from scribeline.lengths import said

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Points = NDArray[np.float64]

LEAST_HANDLES = 6
"""Of the whole edge: fewer leave the curve to itself, and it is no longer the builder's (common practice, no source)."""
MOST_HANDLES = 60
LEAST_APART = 8.0
"""Two handles nearer to each other than this, mm, bend the curve between them sharper than any body's edge."""

_ON_CENTRELINE = 0.01
"""A handle this near to the centreline, mm, is on it: its mirror image is itself."""
_SOURCE = "handles"
_SPACING = 1.0
"""The curvature is looked at about every millimetre; no bend of a body is shorter."""


@dataclass(frozen=True)
class Handle:
    """A named point of the edge: mm along from the nut, and across towards the treble."""

    name: str
    x: float
    y: float


@dataclass(frozen=True)
class Tightest:
    """Where an edge bends most.

    Attributes:
        radius: there, mm.
        at: along from the nut, across towards the treble, mm.
    """

    radius: float
    at: tuple[float, float]


@dataclass(frozen=True)
class Sizes:
    """What a rule reads on a body, mm, square to the centreline.

    Attributes:
        length: overall, along the centreline.
        width: overall: the fullest places of both sides, added.
        bouts: across at the waist, and at the fullest places below and above it, as `Bouts`; None of a body without a waist.
    """

    length: float
    width: float
    bouts: Bouts | None


@dataclass(frozen=True)
class Bouts:
    """Widths square across: through the narrowest place, and through the fullest one on either side of it.

    Where only one side of the body is waisted, that side says where these places are.
    """

    lower: float
    waist: float
    upper: float


@dataclass(frozen=True)
class Drawn:
    """The edge through handles.

    Attributes:
        curve: through them, in their order.
        outline: the edge, for a right-handed instrument.
        handles: all of them, the mirrored ones too.
    """

    curve: FairCurve
    outline: Outline
    handles: tuple[Handle, ...]

    @cached_property
    def turns(self) -> float:
        """1 where the handles go round counter-clockwise, so that the wood lies to the left of their way; else -1."""
        ring = np.array([(each.x, each.y) for each in self.handles])
        x, y = (ring - ring[0]).T
        return 1.0 if float(x @ np.roll(y, -1) - np.roll(x, -1) @ y) > 0 else -1.0

    @cached_property
    def bends(self) -> tuple[Points, Points]:
        """Places along the curve and the curvature there, 1/mm: positive where the edge is round, negative where it is hollow."""
        at, curvature = self.curve.bending(_SPACING)
        return at, curvature * self.turns

    @property
    def hollow(self) -> Tightest | None:
        """The tightest bend inwards, which a bearing must fit into; None where nothing is hollow."""
        return _tightest(*self.bends, sign=-1.0)

    @property
    def bump(self) -> Tightest | None:
        """The tightest bend outwards."""
        return _tightest(*self.bends, sign=1.0)

    @cached_property
    def sizes(self) -> Sizes:
        """Length and widths."""
        return _sizes(np.array(self.outline.points))


def through_handles(handles: Sequence[Handle], *, mirrored: bool = False, straight: bool = False) -> Drawn:
    """The fair curve through handles.

    Args:
        handles: from the neck round by the tail and back, either way round; of a mirrored edge one side alone.
        mirrored: whether the bass side is the treble side's mirror image.
        straight: whether the edge runs straight from the last handle to the first, under the neck; else the curve runs on.

    Raises:
        OutlineError: if they make no sound edge.
    """
    whole = _both_sides(handles) if mirrored else tuple(handles)
    _check_handles(whole, straight=straight)
    stations = [Station(each.x, each.y) for each in whole]
    if straight:
        curve = open_curve(stations)
    else:
        on_line = abs(whole[0].y) < _ON_CENTRELINE
        curve = closed_curve(stations, begins=0.0 if on_line else 0.5)
    # A little under the outline's own, for the rounding of coordinates.
    points = curve.flattened(0.9 * FLATTENING)
    _check_crossing(points, whole)
    ring = checked_ring(points, mm_per_unit=1.0, source=_SOURCE)
    outline = Outline(
        tuple((float(x), float(y)) for x, y in ring), _SOURCE, "millimetres, from the stated places"
    )
    return Drawn(curve, outline, whole)


def _both_sides(handles: Sequence[Handle]) -> tuple[Handle, ...]:
    """A side's handles and their mirror images, once round."""
    for each in handles:
        if each.y < -_ON_CENTRELINE:
            raise OutlineError(
                f'{_SOURCE}: "{each.name}" lies {said(-each.y)} to the bass; of a mirrored outline state the treble side '
                "alone, with what lies on the centreline at 0, or take mirrored out."
            )
    for each in handles[1:-1]:
        if abs(each.y) < _ON_CENTRELINE:
            raise OutlineError(
                f'{_SOURCE}: "{each.name}" lies on the centreline, where only the first and the last handle of a mirrored '
                "outline may lie; move it to the treble, or end the list with it."
            )
    back = [
        Handle(f"{each.name}, mirrored", each.x, -each.y)
        for each in reversed(handles)
        if each.y >= _ON_CENTRELINE
    ]
    return (*handles, *back)


def _check_handles(handles: tuple[Handle, ...], *, straight: bool) -> None:
    if not LEAST_HANDLES <= len(handles) <= MOST_HANDLES:
        raise OutlineError(
            f"{_SOURCE}: the edge has {len(handles)} handles; an outline takes from {LEAST_HANDLES} to {MOST_HANDLES} all "
            "round the body."
        )
    following = handles[1:] if straight else (*handles[1:], handles[0])
    for one, other in zip(handles, following, strict=False):
        apart = hypot(one.x - other.x, one.y - other.y)
        if apart < LEAST_APART:
            raise OutlineError(
                f'{_SOURCE}: "{one.name}" and "{other.name}" are {said(apart)} apart; neighbours need '
                f"{said(LEAST_APART, None)} or more: move one of them, or take it out."
            )


def _check_crossing(points: Points, handles: tuple[Handle, ...]) -> None:
    """Refuses an edge that crosses itself, with the handles next to where it does."""
    at = where_it_crosses(points)
    if at is None:
        return
    one, other = sorted(handles, key=lambda each: hypot(each.x - at[0], each.y - at[1]))[:2]
    where = f"{said(at[0], 0)} from the nut, {_side(at[1])}"
    raise OutlineError(
        f'{_SOURCE}: the edge crosses itself {where}, near "{one.name}" and "{other.name}"; list the handles '
        "in their order round the body, and move these apart."
    )


def _side(y: float) -> str:
    return f"{said(abs(y), 0)} to the {'treble' if y >= 0 else 'bass'}"


def _tightest(at: Points, curvature: Points, *, sign: float) -> Tightest | None:
    bends = curvature * sign
    n = int(np.argmax(bends))
    # A radius of ten metres is a straight edge.
    if bends[n] < 1e-4:
        return None
    return Tightest(float(1 / bends[n]), (float(at[n, 0]), float(at[n, 1])))


def _sizes(ring: Points) -> Sizes:
    low, high = ring.min(axis=0), ring.max(axis=0)
    length = float(high[0] - low[0])
    stations = np.linspace(low[0], high[0], max(3, round(length) + 1))[1:-1]
    treble, bass = _sides(ring, stations)
    widths = treble + bass
    found = (_waisted(each) for each in (widths, treble, bass))
    places = next((each for each in found if each is not None), None)
    return Sizes(
        length,
        float(high[1] - low[1]),
        None if places is None else Bouts(*(float(widths[each]) for each in places)),
    )


_WAISTED = 0.5
"""A side that is no deeper than this at its narrowest place, mm, runs straight there."""


def _waisted(half: Points) -> tuple[int, int, int] | None:
    """Which stations are the fullest towards the tail, the narrowest between, and the fullest towards the neck."""
    before, after = np.maximum.accumulate(half), np.maximum.accumulate(half[::-1])[::-1]
    depths = np.minimum(before, after) - half
    waist = int(np.argmax(depths))
    if depths[waist] < _WAISTED:
        return None
    return waist + int(np.argmax(half[waist:])), waist, int(np.argmax(half[:waist]))


def _sides(ring: Points, stations: Points) -> tuple[Points, Points]:
    """How far the edge lies from the centreline at each station, towards the treble and towards the bass."""
    a, b = ring, np.roll(ring, -1, axis=0)
    upright = a[:, 0] == b[:, 0]
    share = (stations[:, None] - a[:, 0]) / np.where(upright, 1.0, b[:, 0] - a[:, 0])
    met = (share >= 0) & (share <= 1) & ~upright
    y = a[:, 1] + share * (b[:, 1] - a[:, 1])
    return np.where(met, y, -np.inf).max(axis=1), -np.where(met, y, np.inf).min(axis=1)
