"""Where things really are, from all readings together: least squares with what is known beforehand.

Every reading is what was expected plus what the unknowns make of it plus its own error. What is known of an unknown beforehand,
such as how well one rule is divided, counts as one more reading of it; an error that several readings share is an unknown like
any other. Unknowns and their covariance follow from the normal equations, worked by an orthogonal decomposition (generalised
least squares; JCGM 100:2008, annex H.3, has the straight line as an example).

A reading gone wrong is found by its standardised residual w = v / (sd √r), where r, its redundancy, is the share of its error
that shows in its residual (data snooping: Baarda, A testing procedure for use in geodetic networks, 1968). The greatest is
tested against all readings at once (Šidák), so that in sound readings one is named in no more than `NAMED_FALSELY` of all
cases.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import log
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

NAMED_FALSELY = 0.03
"""Share of cases in which one of several sound readings is named as wrong."""

_SHOWS = 0.02
"""A reading of whose error no larger share shows in its residual is checked by no other."""

_TRUSTED = 6
"""Readings' worth of trust in what is stated of their scatter."""

_PLAINLY = 2.0
"""How many times likelier one reading must be the wrong one than any other before it alone is named."""


@dataclass(frozen=True, slots=True)
class Unknown:
    """A number that readings are to tell.

    Attributes:
        id: its name.
        sd: how far it may lie from nothing, one standard deviation, in its unit.
    """

    id: str
    sd: float


@dataclass(frozen=True, slots=True)
class Sight:
    """One reading, as the unknowns answer for it.

    Attributes:
        id: its name.
        off: how far it is off what is expected where every unknown is nothing.
        sd: standard deviation of its own error.
        rates: by how much it moves for each unit of an unknown, by the unknown's id.
    """

    id: str
    off: float
    sd: float
    rates: Mapping[str, float]


@dataclass(frozen=True)
class Adjusted:
    """The unknowns as the readings have them.

    Attributes:
        ids: of the unknowns.
        values: of each, (unknowns,).
        covariance: (unknowns, unknowns).
        sights: the readings it rests on.
        residuals: each reading less what the unknowns make of it, (readings,).
        redundancy: the share of each reading's error that shows in its residual, (readings,).
        set_aside: the readings that were named as wrong and do not count.
        in_doubt: readings of which one is wrong, and nobody can tell which: they all count.
    """

    ids: tuple[str, ...]
    values: Floats
    covariance: Floats
    sights: tuple[Sight, ...]
    residuals: Floats
    redundancy: Floats
    set_aside: tuple[Sight, ...] = ()
    in_doubt: tuple[Sight, ...] = ()

    def of(self, rates: Mapping[str, float]) -> tuple[float, float]:
        """A number that answers to the unknowns: its value and its standard deviation."""
        row = np.array([rates.get(name, 0.0) for name in self.ids])
        return float(row @ self.values), float(np.sqrt(max(0.0, row @ self.covariance @ row)))

    def between(self, *ids: str) -> tuple[Floats, Floats]:
        """Some of the unknowns, and their covariance."""
        at = [self.ids.index(name) for name in ids]
        return self.values[at], self.covariance[np.ix_(at, at)]

    def expected(self, sight: Sight) -> float:
        """How far off what was expected a reading should be by the others' account."""
        return self.of(sight.rates)[0]

    @cached_property
    def standardised(self) -> Floats:
        """Each reading's residual in standard deviations of that residual; 0 where no other reading checks it."""
        sd = np.array([each.sd for each in self.sights])
        shown = np.sqrt(np.maximum(self.redundancy, _SHOWS))
        return np.where(self.redundancy > _SHOWS, self.residuals / (sd * shown), 0.0)


def adjusted(unknowns: Sequence[Unknown], sights: Sequence[Sight], *, name_wrong: bool = True) -> Adjusted:
    """Work the unknowns out of all readings.

    Args:
        unknowns: what is asked for, with what is known of each beforehand.
        sights: the readings, each with its own error.
        name_wrong: whether to look for readings gone wrong; those that are found do not count.

    Raises:
        ValueError: a standard deviation is not above 0, or a reading answers to nothing that is asked for.
    """
    ids = tuple(each.id for each in unknowns)
    for name, sd in [(each.id, each.sd) for each in unknowns] + [(each.id, each.sd) for each in sights]:
        if not sd > 0:
            message = f"{name}: a standard deviation must be above 0, not {sd}"
            raise ValueError(message)
    for sight in sights:
        if strange := set(sight.rates) - set(ids):
            message = f"{sight.id} answers to {', '.join(sorted(strange))}, which is not asked for"
            raise ValueError(message)
    counting: tuple[Sight, ...] = tuple(sights)
    aside: tuple[Sight, ...] = ()
    while True:
        found = _solved(unknowns, counting)
        suspects = _suspects(found) if name_wrong else ()
        if len(suspects) != 1:
            return Adjusted(*found, set_aside=aside, in_doubt=suspects)
        aside += suspects
        counting = tuple(each for each in counting if each is not suspects[0])


_Solved = tuple[tuple[str, ...], Floats, Floats, tuple[Sight, ...], Floats, Floats]


def _solved(unknowns: Sequence[Unknown], sights: tuple[Sight, ...]) -> _Solved:
    ids = tuple(each.id for each in unknowns)
    rows = np.array([[each.rates.get(name, 0.0) for name in ids] for each in sights]).reshape(-1, len(ids))
    sd = np.array([each.sd for each in sights])
    prior = np.diag([1.0 / each.sd for each in unknowns])
    whole = np.vstack([rows / sd[:, np.newaxis], prior])
    right = np.concatenate([np.array([each.off for each in sights]) / sd, np.zeros(len(ids))])
    q, r = np.linalg.qr(whole)
    back = np.linalg.inv(r)
    values, covariance = back @ (q.T @ right), back @ back.T
    read = len(sights)
    residuals = (right[:read] - whole[:read] @ values) * sd
    redundancy = 1.0 - np.einsum("ij,ij->i", q[:read], q[:read])
    covariance = covariance * _wider(whole @ values - right, len(ids))
    return ids, values, covariance, sights, residuals, redundancy


def _wider(off: Floats, unknowns: int) -> float:
    """By how much readings that scatter more than stated widen the covariance: 1 where they do not."""
    free = len(off) - unknowns
    return max(1.0, (_TRUSTED + float(off @ off)) / (_TRUSTED + free))


def _suspects(found: _Solved) -> tuple[Sight, ...]:
    """The reading that is likely gone wrong; several where nobody can tell which of them it is; none where all agree."""
    sights = found[3]
    w = np.abs(Adjusted(*found).standardised)
    if not sights or w.max() <= beyond_chance(len(sights)):
        return ()
    least = w.max() ** 2 - 2 * log(_PLAINLY)
    return tuple(each for each, by in zip(sights, w, strict=True) if by**2 > least)


def beyond_chance(readings: int) -> float:
    """How many standard deviations of its residual the worst of so many sound readings seldom reaches."""
    each = 1 - (1 - NAMED_FALSELY) ** (1 / max(1, readings))
    return NormalDist().inv_cdf(1 - each / 2)
