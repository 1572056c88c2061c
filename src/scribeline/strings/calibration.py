"""What a shop's finished instruments teach: the three numbers no caliper gives, narrowed by Bayes' rule.

The end condition, the finger's depth and the grip of nut and saddle are laid out on a grid; each finished
instrument says by its saddles how likely each point is. What scatters from one instrument to the next (action,
core, reading, the rest of the inputs) is the noise, with the correlation it has between the strings.

Against a bad record each instrument is read as a mixture: good; one string's saddle noted wrong; or all of
them off together (measured from the wrong mark, say). A record that fits nowhere then counts as bad instead
of dragging the shop's numbers along, and is named.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import log, pi

import numpy as np

from scribeline.strings.inputs import PRIOR, SHOP_KEYS, Problem, Setup, Shop, problem
from scribeline.strings.spec import Floats, StringsError, StringSpec
from scribeline.strings.spread import covariance_from, sensitivities

# Share of records expected to be bad, and how far off a bad one may be, mm: from memory of note-keeping.
_BAD = 0.05
_BAD_SD = 4.0

_GRIDS = ((9, 9, 5), (9, 9, 5), (17, 17, 9))
"""Points of the grids laid one after another, each round what the one before found; the last has about two
points a standard deviation."""
_REACH = 4.0
"""Half-width of a grid in standard deviations."""
_BOUNDS = ((0.0, 1.0), (0.0, np.inf), (0.0, 1.0))


@dataclass(frozen=True)
class Record:
    """One finished instrument.

    Attributes:
        name: the job.
        specs: its strings, treble first.
        setup: its scale, action and the rest, as measured on it.
        setback: where its saddles ended up, mm past the scale line; None for one not noted.
        measured_sd: standard deviation of those measurements, mm.
    """

    name: str
    specs: tuple[StringSpec, ...]
    setup: Setup
    setback: tuple[float | None, ...]
    measured_sd: float = 0.15

    def __post_init__(self) -> None:
        """Refuse a record that says nothing or does not fit its strings."""
        if len(self.setback) != len(self.specs):
            raise StringsError(
                f"{self.name} notes {len(self.setback)} saddles for {len(self.specs)} strings; note one a string, or none"
            )
        if all(each is None for each in self.setback):
            raise StringsError(
                f"{self.name} notes no saddle at all; measure at least one, past the scale line"
            )
        if not self.measured_sd > 0:
            raise StringsError(
                f"{self.name} says its saddles were measured to ± 0; no rule does that: say how well"
            )


@dataclass(frozen=True, slots=True)
class Verdict:
    """How one record fits.

    Attributes:
        record: its name.
        before: measured less predicted by the prior, mm, nan where not noted.
        after: measured less predicted by the posterior, mm.
        doubt: chance that the record, or one string of it, is bad.
        doubted_string: number from 1 of the string that is most likely noted wrong; None when it is the whole
            record, or nothing.
    """

    record: str
    before: tuple[float, ...]
    after: tuple[float, ...]
    doubt: float
    doubted_string: int | None

    @property
    def is_doubted(self) -> bool:
        """True when the record is more likely bad than good."""
        return self.doubt > 0.5

    @property
    def words(self) -> str:
        """The verdict as a sentence."""
        if not self.is_doubted:
            return f"{self.record} fits ({100 * self.doubt:.0f} % doubt)"
        if self.doubted_string is not None:
            return (
                f"{self.record} is doubted at string {self.doubted_string} ({100 * self.doubt:.0f} %), whose saddle hardly "
                "counts: measure it again, and see that the string is the one noted"
            )
        return (
            f"{self.record} is doubted as a whole ({100 * self.doubt:.0f} %) and hardly counts: measure its saddles again, "
            "from the centre of the 12th fret, and its action"
        )


@dataclass(frozen=True)
class Calibration:
    """What the records made of the prior.

    Attributes:
        prior: before.
        posterior: after; hand it to `predict` as the shop.
        verdicts: how each record fits.
    """

    prior: Shop
    posterior: Shop
    verdicts: tuple[Verdict, ...]

    def lines(self) -> tuple[str, ...]:
        """Prior and posterior side by side, one line a number."""
        units = {"end_condition": "", "finger_depth": " mm", "grip": ""}
        return tuple(
            f"{key.replace('_', ' ')}: {was.value:.3f} ± {was.sd:.3f}{units[key]} before, "
            f"{now.value:.3f} ± {now.sd:.3f}{units[key]} after"
            for key in SHOP_KEYS
            for was, now in [(self.prior.estimate(key), self.posterior.estimate(key))]
        )


@dataclass(frozen=True)
class _Evidence:
    """One record, ready to be weighed: which strings were noted and how each kind of reading scatters."""

    record: Record
    problem: Problem
    noted: np.ndarray[tuple[int, ...], np.dtype[np.int_]]
    measured: Floats
    covariances: tuple[Floats, ...] = field(repr=False)
    weights: tuple[float, ...] = ()

    def predicted(self, points: Floats) -> Floats:
        """Setbacks of the noted strings for shop numbers of shape (points, 3)."""
        values = self.problem.nominal()
        for i, key in enumerate(SHOP_KEYS):
            values[key] = points[:, i : i + 1]
        return self.problem.setback(values)[:, self.noted]

    def log_chances(self, points: Floats) -> Floats:
        """Logarithm of the chance of the reading, for each kind and each point: shape (kinds, points)."""
        off = self.measured - self.predicted(points)
        return np.stack(
            [log(w) + _log_normal(off, c) for w, c in zip(self.weights, self.covariances, strict=True)]
        )


def _log_normal(off: Floats, covariance: Floats) -> Floats:
    root = np.linalg.cholesky(covariance)
    scaled = np.linalg.solve(root, off.T)
    return np.asarray(
        -0.5 * (scaled**2).sum(axis=0) - np.log(np.diag(root)).sum() - 0.5 * off.shape[1] * log(2 * pi)
    )


def _evidence(record: Record, prior: Shop) -> _Evidence:
    stated = problem(record.specs, record.setup, prior)
    noise, _ = covariance_from(stated, sensitivities(stated), without_shop=True)
    noted = np.array([i for i, each in enumerate(record.setback) if each is not None])
    n = len(noted)
    good = noise[np.ix_(noted, noted)] + record.measured_sd**2 * np.eye(n)
    one_off = [good + _BAD_SD**2 * np.diag(np.eye(n)[i]) for i in range(n)]
    # Off together, and each by itself as well.
    all_off = good + _BAD_SD**2 * np.ones((n, n)) + np.eye(n)
    return _Evidence(
        record,
        stated,
        noted,
        np.array([each for each in record.setback if each is not None]),
        (good, *one_off, all_off),
        (1 - _BAD, *([_BAD / 2 / n] * n), _BAD / 2),
    )


def calibrate(records: Sequence[Record], prior: Shop = PRIOR) -> Calibration:
    """Narrow a shop's numbers by its finished instruments.

    Records are taken as independent: instruments with the same strings and an estimated core share that
    estimate's error, so that many of them narrow the numbers somewhat too far. State the core to avoid it.

    Args:
        records: finished instruments; none leaves the prior as it is.
        prior: what the shop knew before.

    Raises:
        StringsError: something about a record cannot be.
    """
    if not records:
        return Calibration(prior, prior, ())
    evidence = [_evidence(record, prior) for record in records]
    mean, covariance = np.asarray(prior.mean), np.asarray(prior.covariance)
    step = np.zeros(len(SHOP_KEYS))
    for counts in _GRIDS:
        # What the grid before found it knows no better than half its own step.
        points, step = _grid(counts, mean, np.sqrt(np.diag(covariance) + (step / 2) ** 2))
        chances = [each.log_chances(points) for each in evidence]
        total = _log_normal(points - np.asarray(prior.mean), np.asarray(prior.covariance))
        total = total + sum(np.logaddexp.reduce(each, axis=0) for each in chances)
        weights = np.exp(total - total.max())
        weights /= weights.sum()
        mean = weights @ points
        covariance = (points - mean).T @ ((points - mean) * weights[:, np.newaxis])
    # Anywhere within a cell: its width over the root of 12.
    covariance = covariance + np.diag(step**2 / 12)
    end, finger, grip = mean.tolist()
    posterior = Shop(
        mean=(end, finger, grip),
        covariance=tuple((a, b, c) for a, b, c in covariance.tolist()),
        records=prior.records + len(records),
    )
    verdicts = tuple(
        _verdict(each, chance, weights, prior, posterior)
        for each, chance in zip(evidence, chances, strict=True)
    )
    return Calibration(prior, posterior, verdicts)


def _grid(counts: tuple[int, ...], mean: Floats, sd: Floats) -> tuple[Floats, Floats]:
    """Points of shape (points, 3) within the bounds, and the steps between them."""
    axes, steps = [], []
    for i, points in enumerate(counts):
        low, high = _BOUNDS[i]
        start, stop = max(low, mean[i] - _REACH * sd[i]), min(high, mean[i] + _REACH * sd[i])
        steps.append((stop - start) / points)
        # Cells' middles, so that a point on a bound does not count for a whole cell.
        axes.append(start + steps[-1] * (np.arange(points) + 0.5))
    mesh = np.stack([axis.ravel() for axis in np.meshgrid(*axes, indexing="ij")], axis=-1)
    return mesh, np.array(steps)


def _verdict(evidence: _Evidence, chances: Floats, weights: Floats, prior: Shop, posterior: Shop) -> Verdict:
    kinds = np.exp(chances - np.logaddexp.reduce(chances, axis=0)) @ weights
    doubted = int(kinds[1:].argmax())
    strings = len(evidence.record.specs)
    off = {}
    for name, shop in (("before", prior), ("after", posterior)):
        spread = np.full(strings, np.nan)
        spread[evidence.noted] = evidence.measured - evidence.predicted(np.array([shop.mean]))[0]
        off[name] = tuple(spread.tolist())
    is_one = kinds[0] < 0.5 and doubted < len(evidence.noted)
    return Verdict(
        evidence.record.name,
        off["before"],
        off["after"],
        float(1 - kinds[0]),
        int(evidence.noted[doubted]) + 1 if is_one else None,
    )
