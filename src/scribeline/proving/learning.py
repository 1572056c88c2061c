"""A shop's own standard deviation of a method: what its trials say, weighed with the usual guess.

Beforehand the variance of a method has a scaled inverse chi-square distribution about the guess, worth so many readings
(A. Gelman and others, "Bayesian Data Analysis", 3rd edition, sections 2.6 and 3.3; from memory). Without wild readings and with
nothing else in a reading, n of them about a known line give

    variance = (prior readings × guess² + sum of squares) / (prior readings + n)

so that three hardly move it and thirty are the shop's own. Two things make it a sum over a grid instead of that one line.
What a reading has besides the method (the caliper that reads it, a step before it) adds a variance that is known. And each
reading may be wild, with a small chance: then it was drawn from a normal distribution several times as wide. One that stands
far out is by that taken for wild, says nothing of the method's spread, and is named.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

About = Literal["line", "mean"]


@dataclass(frozen=True, slots=True)
class Belief:
    """What is believed before any reading. All three: common practice, no source.

    Attributes:
        prior_readings: how many readings the guess counts for; eight say that of twenty shops nineteen lie between two thirds
            of the guess and twice it.
        wild_share: of readings that are wild.
        wild_times: how many times as wide as the others these are spread.
    """

    prior_readings: float = 8.0
    wild_share: float = 0.03
    wild_times: float = 8.0


BELIEF = Belief()


@dataclass(frozen=True, slots=True)
class Group:
    """Readings of one test.

    Attributes:
        off: each reading off its line, mm, rad, or mm per mm.
        known_sd: standard deviation of all else that is in each of them, in the same unit.
        about: whether they scatter about their line, or about a mean of their own that is put right ("mean").
    """

    off: tuple[float, ...]
    known_sd: float = 0.0
    about: About = "line"


@dataclass(frozen=True, slots=True)
class Learnt:
    """What is known of a method's standard deviation, in its unit.

    Attributes:
        guess: before any reading.
        sd: now: the root of 1 over the mean of 1 over the variance.
        low: between this
        high: and this it lies with 95 %.
        readings: that it rests on, wild ones left out.
        wild: for each group, the chance of each reading to be wild.
    """

    guess: float
    sd: float
    low: float
    high: float
    readings: int
    wild: tuple[tuple[float, ...], ...]


_FINE, _REACH = 200, 30.0
"""Standard deviations that are tried, and how many times the guess they go up and down."""
_MEANS = 160
"""Means that are tried where a group has one of its own."""
DOUBTED = 0.5
"""A reading is called wild from this chance on."""


@lru_cache(maxsize=256)
def learn(groups: tuple[Group, ...], guess: float, belief: Belief = BELIEF) -> Learnt:
    """A method's standard deviation from its trials and the usual guess.

    Args:
        groups: the trials.
        guess: the usual standard deviation, over 0, in the readings' unit.
        belief: how much the guess counts, and how often a reading is wild.

    Raises:
        ValueError: the guess is not above 0.
    """
    if not guess > 0:
        message = f"a standard deviation of {guess} cannot be: it is over 0"
        raise ValueError(message)
    sds = _tried(guess)
    n0 = belief.prior_readings
    log_chance = -n0 * np.log(sds / guess) - n0 * guess**2 / (2 * sds**2)
    told = [_told(each, guess, belief) for each in groups]
    for likely, _ in told:
        log_chance = log_chance + likely
    chance = np.exp(log_chance - log_chance.max())
    chance /= chance.sum()
    wild = tuple(tuple((chance @ each).tolist()) for _, each in told)
    low, high = (
        float(np.exp(np.interp(share, np.cumsum(chance) - chance / 2, np.log(sds))))
        for share in (0.025, 0.975)
    )
    readings = sum(share < DOUBTED for each in wild for share in each)
    return Learnt(guess, float((chance @ sds**-2.0) ** -0.5), low, high, readings, wild)


def _tried(guess: float) -> Floats:
    """Standard deviations to try, all over what it may be."""
    return np.asarray(guess * np.geomspace(1 / _REACH, _REACH, _FINE))


@lru_cache(maxsize=1024)
def _told(group: Group, guess: float, belief: Belief) -> tuple[Floats, Floats]:
    """Logarithm of the chance of a group's readings at each standard deviation, and of each to be wild, (sds, readings).

    Kept: a test is looked at by itself for wild readings, and with all others for what they teach.
    """
    off, sds = np.asarray(group.off), _tried(guess)
    spread = np.sqrt(sds**2 + group.known_sd**2)
    if group.about == "line":
        sound, wild = _both(off, spread[:, np.newaxis], belief)
        each = np.logaddexp(sound, wild)
        return each.sum(axis=-1), np.exp(wild - each)
    means = _means(off)
    sound, wild = _both(off - means[:, np.newaxis], spread[:, np.newaxis, np.newaxis], belief)
    each = np.logaddexp(sound, wild)  # (sds, means, readings)
    together = each.sum(axis=-1)
    most = together.max(axis=-1, keepdims=True)
    share = np.exp(together - most)
    total = share.sum(axis=-1)
    chances = np.einsum("sm,smr->sr", share / total[:, np.newaxis], np.exp(wild - each))
    return most[:, 0] + np.log(total), chances


def _means(off: Floats) -> Floats:
    """Means to try: all over the readings, and as much beyond them again."""
    low, high = float(off.min()), float(off.max())
    room = (high - low) or 1e-9
    return np.linspace(low - room, high + room, _MEANS)


def _both(off: Floats, spread: Floats, belief: Belief) -> tuple[Floats, Floats]:
    """Logarithms of the chance of each reading to be sound and as it is, and to be wild and as it is."""
    share, times = belief.wild_share, belief.wild_times
    with np.errstate(divide="ignore"):
        wild = np.log(share) - np.log(times * spread) - (off / (times * spread)) ** 2 / 2
    sound = np.log1p(-share) - np.log(spread) - (off / spread) ** 2 / 2
    return np.asarray(sound), np.asarray(wild)
