"""Where the bridge goes so that every saddle has travel to spare, over several string sets at once.

With the plate's front edge at p past the scale line and turned by the slope k (mm along per mm across), a
saddle at y across reaches from p + k y + forward to p + k y + back. A string wanted between its low and high
place (its prediction less and plus z standard deviations, over all sets) keeps the reserve t where

    p + k y ≤ low − forward − t     and     p + k y ≥ high − back + t.

Largest t is a linear programme in p, k and t. For a given k the best p lies midway between the least upper
and the greatest lower bound, and t is half their distance: a concave function of k made of straight pieces,
whose corners lie where two upper or two lower bounds cross. So the optimum is at one of those corners, at
the ends of the turning allowed, or at no turn at all: all are tried, and the result is exact.

Turning is small: the plate's own lengths are not shortened by the cosine, and a turned plate's saddles are
not moved across (together under 0.05 mm at 3 degrees on a guitar).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan, erfc, sqrt

import numpy as np

from scribeline.quantities import cos, sin
from scribeline.strings.spec import Floats, StringsError

_TIE = 1e-12


@dataclass(frozen=True, slots=True)
class Wanted:
    """Where one string set wants its saddles.

    Attributes:
        name: the set in words.
        setback: saddles past the scale line, mm, treble first.
        sd: standard deviation of each, mm.
    """

    name: str
    setback: tuple[float, ...]
    sd: tuple[float, ...]


@dataclass(frozen=True)
class Saddles:
    """The bridge's saddles, treble first.

    Attributes:
        forward: front edge to break point, saddle fully forward, mm: one for all or one a saddle.
        back: the same, fully back.
        y: place across, from the middle towards the treble, mm.
    """

    forward: float | tuple[float, ...]
    back: float | tuple[float, ...]
    y: tuple[float, ...]

    def stops(self) -> tuple[Floats, Floats]:
        """Forward and back stop of each saddle, mm.

        Raises:
            StringsError: the lists do not fit, or a saddle has its back stop in front.
        """
        n = len(self.y)
        stops = []
        for name, value in (("forward", self.forward), ("back", self.back)):
            if isinstance(value, tuple) and len(value) != n:
                raise StringsError(
                    f"the bridge has {n} saddles and {len(value)} {name} ends of travel; list one a saddle"
                )
            stops.append(np.broadcast_to(np.asarray(value, dtype=np.float64), (n,)))
        if not np.all(stops[1] >= stops[0]):
            raise StringsError(
                "a saddle's travel ends at the back in front of where it ends forward; both are measured from the front edge"
            )
        return stops[0], stops[1]


@dataclass(frozen=True)
class Window:
    """Where the plate's front edge may lie.

    Attributes:
        low: most forward place, mm past the scale line, at which every saddle keeps the reserve asked for.
        high: most rearward one; lower than `low` when there is none.
        aim: place with the largest least reserve.
        slope: turn of the plate, mm along per mm across; positive takes the treble end back.
        reserve: the largest least reserve, mm, at the aim; negative when travel is missing.
        wanted_reserve: the reserve asked for, mm.
        forward: least travel left towards the nut for each saddle at the aim, spread taken off, mm.
        back: the same towards the tail.
        misses: for each set, each string's chance of running out of travel at the aim.
        sets: the sets' names.
        limited_by: numbers, from 1, of the string that limits from the front and the one from the back.
    """

    low: float
    high: float
    aim: float
    slope: float
    reserve: float
    wanted_reserve: float
    forward: tuple[float, ...]
    back: tuple[float, ...]
    misses: tuple[tuple[float, ...], ...]
    sets: tuple[str, ...]
    limited_by: tuple[int, int]

    @property
    def yaw_rad(self) -> float:
        """Turn of the plate, radians."""
        return atan(self.slope)

    @property
    def is_empty(self) -> bool:
        """True when no place gives every saddle the reserve."""
        return self.reserve < self.wanted_reserve - 1e-9

    @property
    def shortage(self) -> float:
        """Travel missing, mm; 0 when the window is open."""
        return 2 * (self.wanted_reserve - self.reserve) if self.is_empty else 0.0

    @property
    def worst_miss(self) -> float:
        """The greatest chance of any string of any set to run out of travel."""
        return max(max(chances) for chances in self.misses)


@dataclass(frozen=True)
class Travel:
    """What a plate leaves its saddles, where it stands.

    Attributes:
        front: middle of the plate's front edge, mm past the scale line.
        turn: of the plate, rad; positive takes its treble end towards the nut.
        foremost: break point of each saddle fully forward, mm past the scale line.
        forward: least travel left towards the nut for each saddle, spread taken off, mm along the centreline; negative
            where the saddle runs out.
        back: the same towards the tail.
        misses: for each set, each string's chance of running out of travel.
        sets: the sets' names.
    """

    front: float
    turn: float
    foremost: tuple[float, ...]
    forward: tuple[float, ...]
    back: tuple[float, ...]
    misses: tuple[tuple[float, ...], ...]
    sets: tuple[str, ...]

    @property
    def reserve(self) -> float:
        """The smallest travel left at either end of any saddle, mm."""
        return min(*self.forward, *self.back)

    @property
    def worst_miss(self) -> float:
        """The greatest chance of any string of any set to run out of travel."""
        return max(max(chances) for chances in self.misses)


@dataclass(frozen=True, slots=True)
class Stretch:
    """Where a plate turned as it is may lie, and which strings say so; mm past the scale line.

    Attributes:
        own: for each string, the most forward and the most rearward place at which its saddle alone keeps the reserve; the
            second lies before the first where it keeps it nowhere.
        reserve: travel kept in hand at each end, mm.
    """

    own: tuple[tuple[float, float], ...]
    reserve: float

    @property
    def low(self) -> float:
        """The most forward place at which every saddle keeps the reserve."""
        return max(low for low, _ in self.own)

    @property
    def high(self) -> float:
        """The most rearward one; it lies before `low` where there is none."""
        return min(high for _, high in self.own)

    @property
    def limited_by(self) -> tuple[int, int]:
        """Numbers, from 1, of the string that limits `high` and of the one that limits `low`, as a window has them."""
        lows, highs = zip(*self.own, strict=True)
        return highs.index(self.high) + 1, lows.index(self.low) + 1


def stretch(travel: Travel, reserve: float) -> Stretch:
    """Where a plate may be moved to, from what its saddles have left where it stands.

    Args:
        travel: of the plate where it stands.
        reserve: travel to keep in hand at each end, mm.
    """
    front = travel.front
    own = tuple(
        (front - back + reserve, front + forward - reserve)
        for forward, back in zip(travel.forward, travel.back, strict=True)
    )
    return Stretch(own, reserve)


def nearest_wanted(setback: Floats, sd: Floats, deviations: float) -> Floats:
    """The least setback that is likely to be wanted, mm."""
    return setback - deviations * sd


def farthest_wanted(setback: Floats, sd: Floats, deviations: float) -> Floats:
    """The greatest setback that is likely to be wanted, mm."""
    return setback + deviations * sd


def midway(one: float, other: float) -> float:
    """Halfway between two places, mm."""
    return (one + other) / 2


def end_of_travel(front: float, across: Floats, stop: Floats, turn: float) -> Floats:
    """Where a saddle at the end of its travel lets its string go, mm past what `front` counts from.

    A turned plate's own lengths, seen along the centreline.

    Args:
        front: middle of the plate's front edge, mm.
        across: of the saddle from the plate's middle towards the treble, mm.
        stop: front edge to where the string leaves the saddle, mm.
        turn: of the plate, rad.
    """
    return front - across * sin(turn) + stop * cos(turn)


def travel_left(
    sets: Sequence[Wanted], saddles: Saddles, *, front: float, turn: float = 0.0, deviations: float = 1.0
) -> Travel:
    """Work out what a plate that stands somewhere leaves its saddles.

    Args:
        sets: what each string set wants.
        saddles: the bridge's saddles.
        front: middle of the plate's front edge, mm past the scale line.
        turn: of the plate, rad; positive takes its treble end towards the nut.
        deviations: standard deviations of spread to take off on either side.

    Raises:
        StringsError: a set has more or fewer strings than the bridge has saddles.
    """
    forward_stop, back_stop = saddles.stops()
    y = np.asarray(saddles.y, dtype=np.float64)
    means, sds = _stacked(sets, len(y))
    foremost, rearmost = (end_of_travel(front, y, stop, turn) for stop in (forward_stop, back_stop))
    forward, back, misses = _left(means, sds, deviations, foremost, rearmost)
    names = tuple(each.name for each in sets)
    return Travel(front, turn, tuple(foremost.tolist()), forward, back, misses, names)


def _left(
    means: Floats, sds: Floats, deviations: float, foremost: Floats, rearmost: Floats
) -> tuple[tuple[float, ...], tuple[float, ...], tuple[tuple[float, ...], ...]]:
    """Travel left forward and back for each saddle between its two ends, and each set's chances of running out."""
    return (
        tuple((nearest_wanted(means, sds, deviations).min(axis=0) - foremost).tolist()),
        tuple((rearmost - farthest_wanted(means, sds, deviations).max(axis=0)).tolist()),
        tuple(
            tuple((beyond(mean - foremost, sd) + beyond(rearmost - mean, sd)).tolist())
            for mean, sd in zip(means, sds, strict=True)
        ),
    )


def place_bridge(
    sets: Sequence[Wanted],
    saddles: Saddles,
    *,
    reserve: float = 1.0,
    deviations: float = 1.0,
    steepest: float = 0.0,
) -> Window:
    """Place (and turn) the plate for the largest least reserve over all sets.

    Args:
        sets: what each string set wants.
        saddles: the bridge's saddles.
        reserve: travel to keep in hand at each end, mm.
        deviations: standard deviations of spread to cover on either side before the reserve counts.
        steepest: greatest slope of the plate allowed either way, mm per mm; 0 keeps it square.

    Raises:
        StringsError: a set has more or fewer strings than the bridge has saddles.
    """
    forward, back, y = *saddles.stops(), np.asarray(saddles.y, dtype=np.float64)
    means, sds = _stacked(sets, len(y))
    if steepest < 0 or deviations < 0:
        raise StringsError("the turning allowed and the deviations covered cannot be less than 0")
    upper = nearest_wanted(means, sds, deviations).min(axis=0) - forward
    lower = farthest_wanted(means, sds, deviations).max(axis=0) - back
    slope = _best_slope(upper, lower, y, steepest)
    highest, lowest = upper - slope * y, lower - slope * y
    aim = midway(float(highest.min()), float(lowest.max()))
    front = aim + slope * y
    to_nut, to_tail, misses = _left(means, sds, deviations, front + forward, front + back)
    return Window(
        low=float(lowest.max()) + reserve,
        high=float(highest.min()) - reserve,
        aim=aim,
        slope=slope,
        reserve=float(highest.min() - lowest.max()) / 2,
        wanted_reserve=reserve,
        forward=to_nut,
        back=to_tail,
        misses=misses,
        sets=tuple(each.name for each in sets),
        limited_by=(int(highest.argmin()) + 1, int(lowest.argmax()) + 1),
    )


def _stacked(sets: Sequence[Wanted], saddles: int) -> tuple[Floats, Floats]:
    if not sets:
        raise StringsError("there is no string set to place the bridge for")
    for each in sets:
        if len(each.setback) != saddles:
            more = "more" if len(each.setback) > saddles else "fewer"
            raise StringsError(
                f"{each.name} has {len(each.setback)} strings, {more} than the bridge's {saddles} saddles; "
                "choose a bridge with one saddle a string"
            )
        if len(each.sd) != saddles or min(each.sd) < 0:
            raise StringsError(
                f"{each.name} needs a spread of 0 mm or more for each of its {saddles} strings"
            )
    means, sds = (np.array([getattr(each, key) for each in sets]) for key in ("setback", "sd"))
    return means, sds


def beyond(room: Floats, sd: Floats) -> Floats:
    """Chance that a normal deviation uses up the room."""
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(sd > 0, room / sd, np.where(room < 0, -np.inf, np.inf))
    return np.array([erfc(each / sqrt(2)) / 2 for each in ratio.ravel()]).reshape(ratio.shape)


def _best_slope(upper: Floats, lower: Floats, y: Floats, steepest: float) -> float:
    """Slope of the largest reserve; the gentlest among equals."""
    corners = np.concatenate([_crossings(upper, y), _crossings(lower, y)])
    slopes = np.concatenate([[0.0, -steepest, steepest], corners[np.abs(corners) <= steepest]])
    turned = slopes[:, np.newaxis] * y
    reserve = ((upper - turned).min(axis=1) - (lower - turned).max(axis=1)) / 2
    best = slopes[reserve >= reserve.max() - _TIE * (1 + np.abs(reserve.max()))]
    return float(best[np.abs(best).argmin()])


def _crossings(bound: Floats, y: Floats) -> Floats:
    first, second = np.triu_indices(len(y), k=1)
    apart = y[first] != y[second]
    first, second = first[apart], second[apart]
    return np.asarray((bound[first] - bound[second]) / (y[first] - y[second]), dtype=np.float64)
