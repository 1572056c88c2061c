"""Many records weighed against one another: a normal hierarchy with outliers, by expectation propagation.

Record i has readings y of several strings, y = J z + noise, where z are deviations that all records share: the shop's own
numbers, a hand's, the core of a make of string. What z may be is a normal distribution for each of several suppositions about how
much scatters; the suppositions are weighed by how well the records go with them.

A record is one of three kinds: good; good but for one string, which says nothing; or no guide at all, whatever z is. Which one,
nobody knows, so its likelihood is a mixture. Each record's mixture is replaced by the normal distribution that has the same mean
and spread once all others are taken as known, over and over until nothing moves (expectation propagation, T. Minka, "A family of
algorithms for approximate Bayesian inference", PhD thesis, MIT 2001, whose example is just such clutter). One record alone is
exact at once; cost grows in proportion to the number of records.

Arrays have the shape (suppositions, records, strings) and further axes where they are matrices.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from scribeline.strings.spec import Floats


@dataclass(frozen=True)
class Readings:
    """What the records say, padded to the same number of strings.

    Attributes:
        off: readings less what they are where every deviation is nil, (records, strings); 0 where not noted.
        slopes: change of each reading per deviation, (records, strings, deviations); 0 where not noted.
        noise: covariance of what each record has for itself, (records, strings, strings); 1 on the diagonal where not noted.
        own: change of each reading per deviation that every instrument draws anew, (records, strings); 0 where not noted.
        noted: which were, (records, strings).
        no_guide: logarithm of the chance of the readings where a record is no guide, (records,), less log(2π)/2 a string.
    """

    off: Floats
    slopes: Floats
    noise: Floats
    own: Floats
    noted: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]
    no_guide: Floats


@dataclass(frozen=True)
class Supposition:
    """How much scatters, supposed.

    Attributes:
        chance: beforehand, as a share.
        own_sd: of what every instrument draws anew.
        covariance: of the shared deviations beforehand, (deviations, deviations); positive definite.
    """

    chance: float
    own_sd: float
    covariance: Floats


@dataclass(frozen=True)
class Belief:
    """How many records are no guide, and which string is noted wrong.

    Attributes:
        no_guide: weight of the belief that a record is no guide, as so many records seen before.
        guide: the same that it is one.
        one_string: share of those with one string noted wrong, for each share of the others that is no guide.
        wrong_sd: how far off such a string may be.
    """

    no_guide: float
    guide: float
    one_string: float
    wrong_sd: float


@dataclass(frozen=True)
class StandsFor:
    """Normal distributions that stand for the records' mixtures, by precision and precision times mean, about `off`.

    Attributes:
        precision: matrices.
        pull: vectors.
        no_guide: chance of each record to be no guide, by the others.
        off: readings about which `pull` counts, (records, strings).
    """

    precision: Floats
    pull: Floats
    no_guide: Floats
    off: Floats

    def under(self, kept: Sequence[int]) -> StandsFor:
        """Under some of the suppositions."""
        numbers = list(kept)
        return StandsFor(self.precision[numbers], self.pull[numbers], self.no_guide[numbers], self.off)


@dataclass(frozen=True)
class Weighed:
    """What the records make of the deviations.

    Attributes:
        chances: of each supposition afterwards.
        mean: of the deviations under each, (suppositions, deviations).
        covariance: (suppositions, deviations, deviations).
        kinds: chance of each record to be good, to be wrong at each string, and to be no guide: (records, 2 + strings).
        stands_for: to begin from with slightly other readings.
    """

    chances: Floats
    mean: Floats
    covariance: Floats
    kinds: Floats
    stands_for: StandsFor = field(repr=False)


_ROUNDS = 200
_STEP = 0.7
STILL = 1e-6
"""A millionth of a millimetre."""


def weigh(
    readings: Readings,
    suppositions: tuple[Supposition, ...],
    belief: Belief,
    start: StandsFor | None = None,
    still: float = STILL,
) -> Weighed:
    """Weigh all records against one another.

    Args:
        readings: what they say.
        suppositions: how much scatters, each supposed.
        belief: how many are no guide, beforehand.
        start: where to begin: what came out for slightly other readings.
        still: change of any reading's expected value, in a round, from which nothing moves any more.
    """
    slopes = readings.slopes
    flat = slopes.reshape(-1, slopes.shape[-1])
    prior = np.stack([each.covariance for each in suppositions])
    own_sd = np.array([each.own_sd for each in suppositions])[:, np.newaxis, np.newaxis, np.newaxis]
    noise = readings.noise + own_sd**2 * _outer(readings.own)
    sites = _nothing(readings, len(suppositions), belief) if start is None else _about(start, readings)
    mean, covariance = _together(slopes, prior, sites)
    for turn in range(_ROUNDS):
        others = _others(slopes, mean, covariance, sites)
        alone, log_chances = _held_against(readings, noise, others, belief, sites.no_guide)
        kinds = np.exp(log_chances - np.logaddexp.reduce(log_chances, axis=-1, keepdims=True))
        # The first round from nothing is taken whole; then part of the way, or two that contradict each other take turns.
        step = 1.0 if turn == 0 and start is None else _STEP
        sites = _moved(sites, _as_normal(kinds, alone, others, belief), step, _by_the_others(kinds, belief))
        was = mean
        mean, covariance = _together(slopes, prior, sites)
        if turn and np.abs((mean - was) @ flat.T).max() < still:
            break
    evidence = _evidence(prior, mean, covariance, sites=sites, others=others, log_chances=log_chances)
    total = np.log([each.chance for each in suppositions]) + evidence
    chances = np.exp(total - np.logaddexp.reduce(total))
    return Weighed(chances, mean, covariance, np.einsum("g,gnk->nk", chances, kinds), sites)


def _nothing(readings: Readings, suppositions: int, belief: Belief) -> StandsFor:
    """Before any record is looked at."""
    records, strings = readings.off.shape
    share = belief.no_guide / (belief.no_guide + belief.guide)
    return StandsFor(
        np.zeros((suppositions, records, strings, strings)),
        np.zeros((suppositions, records, strings)),
        np.full((suppositions, records), share),
        readings.off,
    )


def _about(start: StandsFor, readings: Readings) -> StandsFor:
    """The same about other readings."""
    pull = start.pull + _times(start.precision, readings.off - start.off)
    return StandsFor(start.precision, pull, start.no_guide, readings.off)


def _by_the_others(kinds: Floats, belief: Belief) -> Floats:
    """Chance of each record to be no guide, by how many of the others are none."""
    bad, records = kinds[..., -1], kinds.shape[1]
    others = bad.sum(axis=-1, keepdims=True) - bad
    found: Floats = (belief.no_guide + others) / (belief.no_guide + belief.guide + records - 1)
    return found


def _moved(sites: StandsFor, towards: tuple[Floats, Floats], step: float, no_guide: Floats) -> StandsFor:
    precision, pull = towards
    return StandsFor(
        sites.precision + step * (precision - sites.precision),
        sites.pull + step * (pull - sites.pull),
        no_guide,
        sites.off,
    )


def _together(slopes: Floats, prior: Floats, sites: StandsFor) -> tuple[Floats, Floats]:
    """Mean and covariance of the deviations under each supposition, by all records."""
    records, strings, deviations = slopes.shape
    flat = slopes.reshape(-1, deviations)
    weighted = (sites.precision @ slopes).reshape(-1, records * strings, deviations)
    covariance = _even(_inverse(_inverse(prior) + flat.T @ weighted))
    return _times(covariance, sites.pull.reshape(-1, records * strings) @ flat), covariance


@dataclass(frozen=True)
class _Others:
    """Each record's readings as all other records expect them."""

    mean: Floats
    covariance: Floats


def _others(slopes: Floats, mean: Floats, covariance: Floats, sites: StandsFor) -> _Others:
    """Take each record out of what all expect: V (1 − Λ V)⁻¹, which needs no inverse of V."""
    records, strings, deviations = slopes.shape
    flat = slopes.reshape(-1, deviations)
    half = (flat @ covariance).reshape(-1, records, strings, deviations)
    spread = half @ np.swapaxes(slopes, -1, -2)
    expected = (mean @ flat.T).reshape(-1, records, strings)
    without = _even(_solved(np.eye(strings) - spread @ sites.precision, spread))
    return _Others(expected + _times(without, _times(sites.precision, expected) - sites.pull), without)


@dataclass(frozen=True)
class _Alone:
    """A record's readings held against what the others expect, were it good: S, S⁻¹, S⁻¹ (y − expected)."""

    covariance: Floats
    inverse: Floats
    scaled: Floats


def _held_against(
    readings: Readings, noise: Floats, others: _Others, belief: Belief, no_guide: Floats
) -> tuple[_Alone, Floats]:
    """What "good" needs, and the logarithm of each kind's chance, (suppositions, records, 2 + strings)."""
    total = others.covariance + noise
    inverse = _inverse(total)
    off = readings.off - others.mean
    scaled = _times(inverse, off)
    good = -0.5 * (off * scaled).sum(axis=-1) - 0.5 * np.linalg.slogdet(total)[1]
    rest = _rest(inverse, belief)
    one = good[..., np.newaxis] + 0.5 * scaled**2 / rest - 0.5 * np.log(belief.wrong_sd**2 * rest)
    count = readings.noted.sum(axis=-1)
    possible = np.where(readings.noted & (count[:, np.newaxis] > 1), 0.0, -np.inf)
    share = belief.one_string * no_guide
    guide = np.log1p(-no_guide)
    log_chances = np.concatenate(
        [
            (guide + np.log1p(-share * (count > 1)) + good)[..., np.newaxis],
            (guide + np.log(share / count))[..., np.newaxis] + one + possible,
            (np.log(no_guide) + readings.no_guide)[..., np.newaxis],
        ],
        axis=-1,
    )
    return _Alone(total, inverse, scaled), log_chances


def _rest(inverse: Floats, belief: Belief) -> Floats:
    """1/v + eᵀ S⁻¹ e, by which (S + v e eᵀ)⁻¹ = S⁻¹ − S⁻¹ e eᵀ S⁻¹ / rest (Sherman and Morrison)."""
    found: Floats = 1 / belief.wrong_sd**2 + np.diagonal(inverse, axis1=-2, axis2=-1)
    return found


def _as_normal(kinds: Floats, alone: _Alone, others: _Others, belief: Belief) -> tuple[Floats, Floats]:
    """The normal distribution that stands for each record's mixture: its precision, and precision times mean.

    With the readings expected as N(m, V) without the record, the mixture Σ r_k N(m, S_k) has the slope a = Σ r_k S_k⁻¹ d and the
    curvature B = Σ r_k S_k⁻¹ − (Σ r_k a_k a_kᵀ − a aᵀ); a kind that is no guide adds nothing. Then Λ = (B⁻¹ − V)⁻¹.
    """
    inverse, scaled, without = alone.inverse, alone.scaled, others.covariance
    good, one = kinds[..., 0], kinds[..., 1:-1]
    rest = _rest(inverse, belief)
    slopes = scaled[..., np.newaxis] - inverse * (scaled / rest)[..., np.newaxis, :]
    slope = good[..., np.newaxis] * scaled + _times(slopes, one)
    guide = good + one.sum(axis=-1)
    curvature = guide[..., np.newaxis, np.newaxis] * inverse - _weighted(inverse, one / rest)
    between = good[..., np.newaxis, np.newaxis] * _outer(scaled) + _weighted(slopes, one) - _outer(slope)
    # What lies between the kinds may not widen what the record leaves: so much of it as keeps the curvature positive. A record
    # that is doubted is then as if it were not there, where the mixture itself would be wider than without it.
    reach = (between * alone.covariance).sum(axis=(-1, -2))
    kept = np.minimum(1.0, good / np.maximum(reach, 1e-300))
    curvature = curvature - kept[..., np.newaxis, np.newaxis] * between
    precision = _even(_solved(np.eye(inverse.shape[-1]) - curvature @ without, curvature))
    return precision, _times(precision, others.mean + _times(without, slope)) + slope


def _evidence(
    prior: Floats, mean: Floats, covariance: Floats, *, sites: StandsFor, others: _Others, log_chances: Floats
) -> Floats:
    """Logarithm of the chance of all readings under each supposition, up to what is the same for all."""
    total = np.logaddexp.reduce(log_chances, axis=-1)
    # What each record's normal distribution gives where its mixture gave the above.
    expected = others.mean
    towards = sites.pull - _times(sites.precision, expected)
    inside = np.eye(expected.shape[-1]) + others.covariance @ sites.precision
    given = (
        ((sites.pull - 0.5 * _times(sites.precision, expected)) * expected).sum(axis=-1)
        + 0.5 * (towards * _times(_solved(inside, others.covariance), towards)).sum(axis=-1)
        - 0.5 * np.linalg.slogdet(inside)[1]
    )
    joint = 0.5 * (mean * _solved(covariance, mean[..., np.newaxis])[..., 0]).sum(axis=-1)
    narrowed = 0.5 * (np.linalg.slogdet(covariance)[1] - np.linalg.slogdet(prior)[1])
    found: Floats = joint + narrowed + (total - given).sum(axis=-1)
    return found


def _times(matrices: Floats, vectors: Floats) -> Floats:
    found: Floats = np.einsum("...ij,...j->...i", matrices, vectors)
    return found


def _outer(vectors: Floats) -> Floats:
    return vectors[..., :, np.newaxis] * vectors[..., np.newaxis, :]


def _weighted(columns: Floats, weights: Floats) -> Floats:
    """Σ w_k c_k c_kᵀ over the columns."""
    return (columns * weights[..., np.newaxis, :]) @ np.swapaxes(columns, -1, -2)


def _even(matrices: Floats) -> Floats:
    """Symmetric, which rounding leaves them all but."""
    return (matrices + np.swapaxes(matrices, -1, -2)) / 2


def _inverse(matrices: Floats) -> Floats:
    return np.asarray(np.linalg.inv(matrices), dtype=np.float64)


def _solved(matrices: Floats, right: Floats) -> Floats:
    return np.asarray(np.linalg.solve(matrices, right), dtype=np.float64)
