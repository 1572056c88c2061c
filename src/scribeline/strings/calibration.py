"""What a shop's finished instruments teach: the numbers no caliper gives, narrowed by Bayes' rule.

Every instrument says by its saddles what its own finger depth was. That scatters from one instrument to the next and from one
hand to another; strings of one make share the error of their estimated core; all saddles of a shop may be noted, or stand, off
alike. How much scatters is learnt too, from a few suppositions weighed by the records (`weighing` has the arithmetic). What is
left (action, reading, the rest of the inputs) is noise, with the correlation it has between the strings.

Against a bad record each is read as a mixture: good; one string's saddle noted wrong; or no guide at all. How often a shop's
records are no guide is learnt from its other records: so the first record, if it is a wild one, moves nothing, and one that fits
is believed more with every other one that agrees.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from functools import lru_cache
from itertools import combinations, product
from typing import TypeAlias

import numpy as np

from scribeline.lengths import MM_PER_INCH, give_or_take, said
from scribeline.strings.inputs import (
    CORE,
    CORE_COMMON,
    CORE_MAKE,
    CORE_OWN,
    OFFSET,
    PRIOR,
    SHOP_KEYS,
    Further,
    Problem,
    Setup,
    Shop,
    core_doubt,
    make_of,
    problem,
)
from scribeline.strings.spec import Floats, Making, StringsError, StringSpec
from scribeline.strings.spread import covariance_from, sensitivities
from scribeline.strings.weighing import Belief, Readings, Supposition, Weighed, weigh

# How much the finger's depth scatters, mm, and how likely each is beforehand: chosen wide, no source. Between instruments of one
# hand, and between the hands of a shop. With what shops differ by they make up the prior's spread of the finger's depth.
_OF_INSTRUMENTS = ((0.0, 0.40), (0.02, 0.32), (0.04, 0.17), (0.06, 0.06), (0.08, 0.03), (0.12, 0.02))
_OF_HANDS = ((0.01, 0.3), (0.03, 0.4), (0.06, 0.3))
_LEAST_OF_SHOPS = 0.02

# How far all saddles of a shop are off alike, mm, standard deviation: hardly, or plainly, as by another mark or habit; no source.
# Nearly half of the variance is taken to be in where the saddles stand and the rest in the noting, for no record can tell which.
_ALIKE = ((0.05, 0.92), (0.78, 0.08))
_STANDS = 0.45

_BELIEF = Belief(no_guide=1.5, guide=1.0, one_string=0.3, wrong_sd=4.0)
"""Before any record the odds are three to two against its being a guide, so that a first record that lies three standard
deviations off moves no bridge by more than a tenth of a millimetre; every record that goes with the others moves the odds. Wrong
strings are off by some 4 mm (from memory of note-keeping)."""

# What a record that is no guide may be, with the share of each: of a shop quite unlike any, its three numbers spread so many
# times as far; noted from another mark, all saddles off together, mm; two strings interchanged, or all of them noted from the
# bass; noted so carelessly that one string is wrong; or anything, each saddle off by itself, mm. From memory of note-keeping.
_UNLIKE, _UNLIKE_TIMES = 0.5, 3.0
_TOGETHER, _TOGETHER_SD, _EACH_SD = 0.15, 2.0, 0.2
_INTERCHANGED = 0.15
_CARELESS = 0.15
_ANYTHING, _ANYTHING_SD = 0.05, 4.0

_PASSES = 2
"""Times the readings' curve is replaced by its tangent where the records have put the shop."""
_ROUGHLY, _RULED_OUT = 1e-2, 1e-9
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
        hand: who set it up; "" where it is not said.
    """

    name: str
    specs: tuple[StringSpec, ...]
    setup: Setup
    setback: tuple[float | None, ...]
    measured_sd: float = 0.15
    hand: str = ""

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


_SURELY = 0.9
"""Doubt from which a record hardly counts."""


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
        guess: what would make it fit, in words; "" where nothing simple does, or it fits.
    """

    record: str
    before: tuple[float, ...]
    after: tuple[float, ...]
    doubt: float
    doubted_string: int | None
    guess: str = ""

    @property
    def is_doubted(self) -> bool:
        """True when the record is more likely bad than good."""
        return self.doubt > 0.5

    @property
    def words(self) -> str:
        """The verdict as a sentence."""
        if not self.is_doubted:
            return f"{self.record} fits ({100 * self.doubt:.0f} % doubt)"
        counts = "hardly counts" if self.doubt > _SURELY else "counts for less than half"
        if self.doubted_string is not None:
            return (
                f"{self.record} is doubted at string {self.doubted_string} ({100 * self.doubt:.0f} %), whose saddle {counts}: "
                "measure it again, and see that the string is the one noted"
            )
        guess = f" It would fit if {self.guess}." if self.guess else ""
        return (
            f"{self.record} is doubted as a whole ({100 * self.doubt:.0f} %) and {counts}.{guess} Measure its saddles "
            "again, from the centre of the 12th fret, and its action"
        )


@dataclass(frozen=True)
class Scatter:
    """How much scatters, as the records have it.

    Attributes:
        instruments: standard deviation of the finger's depth between instruments of one hand, mm.
        hands: the same between the shop's hands; None where the records know only one.
        alike: how far all saddles are off alike as noted, mm, and its standard deviation.
        core: how much thicker the shop's cores are than estimated, as a share, and its standard deviation.
    """

    instruments: float
    hands: float | None
    alike: tuple[float, float]
    core: tuple[float, float]


@dataclass(frozen=True)
class Calibration:
    """What the records made of the prior.

    Attributes:
        prior: before.
        posterior: after, for any of the shop's hands; hand it to `predict` as the shop.
        verdicts: how each record fits.
        by_hand: the same as the posterior for each hand that the records name.
        scatter: how much scatters; None without records.
    """

    prior: Shop
    posterior: Shop
    verdicts: tuple[Verdict, ...]
    by_hand: tuple[Shop, ...] = ()
    scatter: Scatter | None = None

    def shop(self, hand: str = "") -> Shop:
        """What is known of the next instrument that a hand sets up; of a hand without records, what is known of any."""
        return next((each for each in self.by_hand if each.hand == hand and hand), self.posterior)

    def lines(self) -> tuple[str, ...]:
        """Prior and posterior side by side, one line a number."""
        units = {"end_condition": "", "finger_depth": " mm", "grip": ""}
        return tuple(
            f"{key.replace('_', ' ')}: {was.value:.3f} ± {was.sd:.3f}{units[key]} before, "
            f"{now.value:.3f} ± {now.sd:.3f}{units[key]} after"
            for key in SHOP_KEYS
            for was, now in [(self.prior.estimate(key), self.posterior.estimate(key))]
        )

    def scatter_lines(self) -> tuple[str, ...]:
        """What scatters and what is off alike, one line a number, lengths as messages have them."""
        if self.scatter is None:
            return ()
        found, (alike, alike_sd), (core, core_sd) = self.scatter, self.scatter.alike, self.scatter.core
        lines = [f"finger depth between instruments of one hand: {give_or_take(found.instruments, 3)}"]
        if found.hands is not None:
            lines.append(f"finger depth between hands: {give_or_take(found.hands, 3)}")
        lines += [
            f"{each.hand}: finger depth {said(each.mean[1], 3)} {give_or_take(each.sd[1], 3)}"
            for each in self.by_hand
        ]
        lines.append(
            f"all saddles as noted, off alike: {said(alike, signed=True)} {give_or_take(alike_sd, 2)}"
        )
        if core_sd:
            lines.append(f"cores thicker than estimated: {100 * core:+.1f} % ± {100 * core_sd:.1f} %")
        return tuple(lines)


@dataclass(frozen=True)
class _Curve:
    """Setbacks of one record's strings as a curved surface over its end condition, finger depth, grip and core.

    Worked out by putting 15 points through the formulas; the middle is the prior's.
    """

    at: Floats
    slope: Floats = field(repr=False)
    bend: Floats = field(repr=False)

    def value(self, moved: Floats) -> Floats:
        """Setback of each string, moved by so much from the middle, (strings, 4)."""
        curved = self.slope + 0.5 * (self.bend @ moved[..., np.newaxis])[..., 0]
        return np.asarray(self.at + (curved * moved).sum(axis=-1), dtype=np.float64)

    def part(self, strings: slice) -> _Curve:
        """Of some of the strings."""
        return _Curve(self.at[strings], self.slope[strings], self.bend[strings])

    def tangent(self, moved: Floats) -> Floats:
        """Change of each per unit there, (strings, 4)."""
        return np.asarray(self.slope + (self.bend @ moved[..., np.newaxis])[..., 0])


def _curve(stated: Problem, prior: Shop) -> _Curve:
    specs = stated.specs
    steps = np.stack([np.full(len(specs), sd) for sd in prior.sd] + [np.maximum(core_doubt(specs), 1e-9)])
    pairs = [(i, j) for i in range(4) for j in range(i + 1, 4)]
    moves = np.zeros((1 + 8 + len(pairs), 4))
    for i in range(4):
        moves[1 + 2 * i, i], moves[2 + 2 * i, i] = 1.0, -1.0
    for n, (i, j) in enumerate(pairs):
        moves[9 + n, [i, j]] = 1.0
    values = stated.nominal()
    for i, key in enumerate((*SHOP_KEYS, "core")):
        values[key] = values[key] + moves[:, i : i + 1] * steps[i]
    found = stated.setback(values)
    at, up, down = found[0], found[1:9:2], found[2:9:2]
    bend = np.zeros((4, 4, len(specs)))
    for i in range(4):
        bend[i, i] = up[i] - 2 * at + down[i]
    for n, (i, j) in enumerate(pairs):
        bend[i, j] = bend[j, i] = found[9 + n] - up[i] - up[j] + at
    # The core's own step is its standard deviation, in which it is counted.
    unit = np.concatenate([steps[:3], np.ones((1, len(specs)))])
    return _Curve(
        at,
        ((up - down) / 2 / unit).T,
        np.moveaxis(bend / unit[:, np.newaxis] / unit[np.newaxis], -1, 0),
    )


@dataclass(frozen=True)
class _Evidence:
    """One record, ready to be weighed."""

    record: Record
    curve: _Curve
    noise: Floats = field(repr=False)
    noted: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]
    measured: Floats
    makes: tuple[str | None, ...]
    predicted: Floats


def _evidence(records: Sequence[Record], prior: Shop) -> list[_Evidence]:
    """Every record, ready to be weighed.

    A string's saddle depends on its own string and board alone: all records whose boards are alike are worked out at once.
    """
    stated = [problem(record.specs, record.setup, prior) for record in records]
    alike: dict[tuple[object, ...], list[int]] = {}
    for n, each in enumerate(stated):
        board = each.board
        alike.setdefault(
            (tuple(board.cents.tolist()), board.finger_place, each.setup.fret_height), []
        ).append(n)
    found: dict[int, _Evidence] = {}
    for numbers in alike.values():
        joined = _joined([stated[n] for n in numbers])
        rates, curve = sensitivities(joined), _curve(joined, prior)
        start = 0
        for n in numbers:
            here = slice(start, start + len(stated[n].specs))
            start = here.stop
            own = {key: rate[here] for key, rate in rates.items()}
            found[n] = _one_evidence(records[n], stated[n], own, curve.part(here))
    return [found[n] for n in range(len(records))]


def _joined(problems: Sequence[Problem]) -> Problem:
    """Strings of several instruments with boards alike, as if they were one's."""
    first = problems[0]
    boards = [each.board for each in problems]
    board = replace(
        first.board,
        scale=np.concatenate([each.scale for each in boards]),
        fret_x=np.concatenate([each.fret_x for each in boards]),
        relief_end=np.concatenate([each.relief_end for each in boards]),
    )
    made = Making(
        *(np.concatenate([getattr(each.made, part.name) for each in problems]) for part in fields(Making))
    )
    inputs = tuple(
        replace(
            entry,
            value=np.concatenate([each.inputs[i].value for each in problems]),
            sd=np.concatenate([each.inputs[i].sd for each in problems]),
        )
        for i, entry in enumerate(first.inputs)
    )
    return replace(
        first,
        specs=tuple(spec for each in problems for spec in each.specs),
        made=made,
        board=board,
        nut_shift=np.concatenate([each.nut_shift for each in problems]),
        inputs=inputs,
    )


def _one_evidence(record: Record, stated: Problem, rates: dict[str, Floats], curve: _Curve) -> _Evidence:
    noise, parts = covariance_from(stated, rates, without_shop=True)
    makes = tuple(make_of(spec) for spec in record.specs)
    shared = np.array([make is not None for make in makes]) * (1 - CORE_OWN**2)
    noise = noise - np.diag(parts["core"] * shared)
    return _Evidence(
        record,
        curve,
        noise + record.measured_sd**2 * np.eye(len(makes)),
        np.array([each is not None for each in record.setback]),
        np.array([0.0 if each is None else each for each in record.setback]),
        makes,
        curve.at,
    )


@dataclass(frozen=True)
class _Shared:
    """The deviations that records share, in order: the three numbers, off alike, cores, makes, hands."""

    makes: tuple[str, ...]
    hands: tuple[str, ...]

    @property
    def count(self) -> int:
        return 5 + len(self.makes) + (len(self.hands) if len(self.hands) > 1 else 0)

    def moves(self, evidence: _Evidence) -> Floats:
        """What each deviation does to a record's end condition, finger depth, grip and core, and to all: (strings, 5, count)."""
        strings = len(evidence.makes)
        moves = np.zeros((strings, 5, self.count))
        moves[:, [0, 1, 2], [0, 1, 2]] = 1.0
        moves[:, 4, 3] = 1.0
        for i, make in enumerate(evidence.makes):
            if make is not None:
                moves[i, 3, 4] = moves[i, 3, 5 + self.makes.index(make)] = 1.0
        if len(self.hands) > 1:
            moves[:, 1, 5 + len(self.makes) + self.hands.index(evidence.record.hand)] = 1.0
        return moves


_Supposed: TypeAlias = Sequence[tuple[Supposition, float, float]]
"""Suppositions, each with its spread of hands and of what is off alike, mm."""


def _suppositions(prior: Shop, shared: _Shared) -> _Supposed:
    """Every supposition about how much scatters."""
    hands = _OF_HANDS if len(shared.hands) > 1 else ((0.0, 1.0),)
    finger = prior.covariance[1][1]
    drawn_anew = sum(share * sd**2 for sd, share in _OF_INSTRUMENTS)
    rest = max(finger - drawn_anew, _LEAST_OF_SHOPS**2)
    found = []
    for (own, a), (alike, b), (hand, c) in product(_OF_INSTRUMENTS, _ALIKE, hands):
        covariance = np.zeros((shared.count, shared.count))
        covariance[:3, :3] = prior.covariance
        covariance[1, 1] = max(rest - hand**2, _LEAST_OF_SHOPS**2)
        first = 5 + len(shared.makes)
        spread = (
            [alike**2, CORE_COMMON**2]
            + [CORE_MAKE**2] * len(shared.makes)
            + [hand**2] * (shared.count - first)
        )
        covariance[range(3, shared.count), range(3, shared.count)] = spread
        found.append((Supposition(a * b * c, own, covariance), hand, alike))
    return tuple(found)


def calibrate(records: Sequence[Record], prior: Shop = PRIOR) -> Calibration:
    """Narrow a shop's numbers by its finished instruments.

    Args:
        records: finished instruments, each once; none leaves the prior as it is.
        prior: what is known of any shop.

    Raises:
        StringsError: something about a record cannot be.
    """
    if not records:
        return Calibration(prior, prior, ())
    if prior.records:
        raise StringsError(
            "what a shop has learnt already cannot be narrowed further; weigh all of its records at once"
        )
    evidence = _evidence(records, prior)
    shared = _Shared(
        tuple(sorted({make for each in evidence for make in each.makes if make is not None})),
        tuple(sorted({record.hand for record in records})),
    )
    supposed = _suppositions(prior, shared)
    moves = [shared.moves(each) for each in evidence]
    no_guide = _no_guide(evidence, moves, [each for each, _, _ in supposed], prior)
    at = np.zeros(shared.count)
    # Roughly at first, so that suppositions that the records rule out cost nothing more.
    found = weigh(
        _readings(evidence, moves, at, no_guide),
        tuple(each for each, _, _ in supposed),
        _BELIEF,
        still=_ROUGHLY,
    )
    kept = [n for n, chance in enumerate(found.chances) if chance > _RULED_OUT]
    supposed, start = tuple(supposed[n] for n in kept), found.stands_for.under(kept)
    at = found.chances @ found.mean
    for _ in range(_PASSES):
        readings = _readings(evidence, moves, at, no_guide)
        found = weigh(readings, tuple(each for each, _, _ in supposed), _BELIEF, start)
        at, start = found.chances @ found.mean, found.stands_for
    verdicts = _verdicts(evidence, moves, at, found)
    doubted = tuple(each.words for each in verdicts if each.is_doubted)
    any_hand, *by_hand = (
        replace(_posterior(found, supposed, shared, prior, records, hand=hand), doubted=doubted)
        for hand in ("", *filter(None, shared.hands))
    )
    return Calibration(prior, any_hand, verdicts, tuple(by_hand), _scatter(found, supposed, evidence, shared))


def _readings(
    evidence: Sequence[_Evidence], moves: Sequence[Floats], at: Floats, no_guide: Floats
) -> Readings:
    """What the records say near where the shared deviations are, padded to the most strings of any."""
    most, records = max(len(each.noted) for each in evidence), len(evidence)
    off, own = np.zeros((records, most)), np.zeros((records, most))
    slopes = np.zeros((records, most, len(at)))
    noise = np.tile(np.eye(most), (records, 1, 1))
    noted = np.zeros((records, most), dtype=np.bool_)
    for n, (each, moved) in enumerate(zip(evidence, moves, strict=True)):
        rows = np.flatnonzero(each.noted)
        change, tangent = _tangent(each, moved, at)
        expected = _expected(each, moved, at)
        off[n, rows] = (each.measured - expected + change @ at)[rows]
        slopes[n, rows], own[n, rows] = change[rows], tangent[rows, 1]
        noise[n, rows[:, np.newaxis], rows] = each.noise[np.ix_(rows, rows)]
        noted[n, rows] = True
    return Readings(off, slopes, noise, own, noted, no_guide)


def _expected(evidence: _Evidence, moves: Floats, at: Floats) -> Floats:
    """Saddles as noted, where the shared deviations are at something, mm."""
    return np.asarray(evidence.curve.value(moves[:, :4] @ at) + moves[:, 4] @ at)


def _tangent(evidence: _Evidence, moves: Floats, at: Floats) -> tuple[Floats, Floats]:
    """Change of each saddle per shared deviation there, (strings, deviations), and per number, (strings, 4)."""
    tangent = evidence.curve.tangent(moves[:, :4] @ at)
    return np.einsum("sk,skd->sd", tangent, moves[:, :4]) + moves[:, 4], tangent


def _no_guide(
    evidence: Sequence[_Evidence], moves: Sequence[Floats], suppositions: Sequence[Supposition], prior: Shop
) -> Floats:
    """Logarithm of the chance of each record's saddles where it is no guide."""
    usual = sum(each.chance * each.covariance for each in suppositions)
    own = sum(each.chance * each.own_sd**2 for each in suppositions)
    nowhere = np.zeros(moves[0].shape[-1])
    found = []
    for each, moved in zip(evidence, moves, strict=True):
        rows = np.flatnonzero(each.noted)
        change, tangent = (part[rows] for part in _tangent(each, moved, nowhere))
        spread = each.noise[np.ix_(rows, rows)] + change @ usual @ change.T
        spread = spread + own * np.outer(tangent[:, 1], tangent[:, 1])
        three = tangent[:, :3] @ np.asarray(prior.covariance) @ tangent[:, :3].T
        eye, ones = np.eye(len(rows)), np.ones((len(rows), len(rows)))
        off, n = (each.measured - each.predicted)[rows], len(rows)
        inverse = np.linalg.inv(spread)
        usual_one = _log_normal(off, spread)
        rest = 1 / _BELIEF.wrong_sd**2 + np.diag(inverse)
        careless = usual_one + 0.5 * (inverse @ off) ** 2 / rest - 0.5 * np.log(_BELIEF.wrong_sd**2 * rest)
        swapped = each.measured[rows[interchanged(n)]] - each.predicted[rows]
        swaps = (
            -0.5 * np.einsum("ki,ij,kj->k", swapped, inverse, swapped) - 0.5 * np.linalg.slogdet(spread)[1]
        )
        kinds = [
            np.log(_UNLIKE) + _log_normal(off, spread + (_UNLIKE_TIMES**2 - 1) * three),
            np.log(_TOGETHER) + _log_normal(off, spread + _TOGETHER_SD**2 * ones + _EACH_SD**2 * eye),
            np.log(_ANYTHING) + _log_normal(off, spread + _ANYTHING_SD**2 * eye),
            *(np.log(_CARELESS / n) + careless),
            *(np.log(_INTERCHANGED / max(1, len(swaps))) + swaps),
        ]
        found.append(np.logaddexp.reduce(kinds))
    return np.array(found)


@lru_cache
def interchanged(strings: int) -> np.ndarray[tuple[int, ...], np.dtype[np.int_]]:
    """The orders in which saddles get noted by mistake, (orders, strings): any two interchanged, or all from the bass."""
    if strings < 2:
        return np.empty((0, strings), dtype=np.int_)
    orders = []
    for i, j in combinations(range(strings), 2):
        order = np.arange(strings)
        order[[i, j]] = j, i
        orders.append(order)
    return np.unique([*orders, np.arange(strings)[::-1]], axis=0)


def _log_normal(off: Floats, covariance: Floats) -> float:
    """Logarithm of a normal density, less log(2π)/2 a number."""
    return float(-0.5 * off @ np.linalg.solve(covariance, off) - 0.5 * np.linalg.slogdet(covariance)[1])


def _posterior(
    found: Weighed, supposed: _Supposed, shared: _Shared, prior: Shop, records: Sequence[Record], *, hand: str
) -> Shop:
    """What is known of the next instrument of a hand; of any hand, each as likely as its share of the records."""
    count, learnt = shared.count, 5 + len(shared.makes)
    hands = Counter([hand] if hand else [record.hand for record in records])
    parts: list[tuple[float, Floats, Floats]] = []
    for n, (each, _, alike) in enumerate(supposed):
        for name, times in hands.items():
            take = np.eye(learnt, count)
            take[3, 3] = _STANDS
            if len(shared.hands) > 1:
                take[1, learnt + shared.hands.index(name)] = 1.0
            own = np.zeros(learnt)
            own[1], own[3] = each.own_sd**2, _STANDS * (1 - _STANDS) * alike**2
            share = float(found.chances[n]) * times / hands.total()
            parts.append((share, take @ found.mean[n], take @ found.covariance[n] @ take.T + np.diag(own)))
    mean = np.sum([share * each for share, each, _ in parts], axis=0)
    covariance = np.sum(
        [share * (spread + np.outer(each - mean, each - mean)) for share, each, spread in parts], axis=0
    )
    three = [float(np.clip(prior.mean[i] + mean[i], *_BOUNDS[i])) for i in range(len(SHOP_KEYS))]
    rows = tuple(tuple(row) for row in covariance.tolist())
    return Shop(
        mean=(three[0], three[1], three[2]),
        covariance=tuple((row[0], row[1], row[2]) for row in rows[:3]),
        records=len(records),
        hand=hand,
        further=Further((OFFSET, CORE, *shared.makes), tuple(mean[3:].tolist()), rows),
    )


def _scatter(
    found: Weighed,
    supposed: _Supposed,
    evidence: Sequence[_Evidence],
    shared: _Shared,
) -> Scatter:
    """How much scatters, over all suppositions; root of the mean square."""
    chances = found.chances
    own = np.array([each.own_sd for each, _, _ in supposed])
    hands = np.array([hand for _, hand, _ in supposed])
    mean = chances @ found.mean
    square = np.einsum("g,gi->i", chances, np.diagonal(found.covariance, axis1=1, axis2=2) + found.mean**2)
    sd = np.sqrt(square - mean**2)
    shares = [
        spec.core_estimate.sd / spec.core_estimate.value
        for each in evidence
        for spec in each.record.specs
        if make_of(spec) is not None
    ]
    share = float(np.mean(shares)) if shares else 0.0
    return Scatter(
        float(np.sqrt(chances @ own**2)),
        float(np.sqrt(chances @ hands**2)) if len(shared.hands) > 1 else None,
        (float(mean[3]), float(sd[3])),
        (share * float(mean[4]), share * float(sd[4])),
    )


def _verdicts(
    evidence: Sequence[_Evidence], moves: Sequence[Floats], at: Floats, found: Weighed
) -> tuple[Verdict, ...]:
    """How each record fits."""
    verdicts = []
    for each, moved, kinds in zip(evidence, moves, found.kinds, strict=True):
        expected = _expected(each, moved, at)
        after = np.where(each.noted, each.measured - expected, np.nan)
        before = np.where(each.noted, each.measured - each.predicted, np.nan)
        rows = np.flatnonzero(each.noted)
        one = kinds[1:-1][rows]
        doubted = kinds[0] < 0.5
        is_one = doubted and one.max() > kinds[-1]
        verdicts.append(
            Verdict(
                each.record.name,
                tuple(before.tolist()),
                tuple(after.tolist()),
                float(1 - kinds[0]),
                int(rows[one.argmax()]) + 1 if is_one else None,
                _guess(each.measured[rows], expected[rows], rows) if doubted and not is_one else "",
            )
        )
    return tuple(verdicts)


_INCH = float(MM_PER_INCH)
_FITS, _BETTER = 0.6, 0.4
"""Root mean square of what is left, mm, at which a guess fits; and as a share of what was left without it."""


def _guess(measured: Floats, expected: Floats, rows: np.ndarray[tuple[int, ...], np.dtype[np.int_]]) -> str:
    """What slip of the pen would make a record fit; "" where none does."""
    strings = (rows + 1).tolist()
    slips = [
        (measured * _INCH, "its saddles were typed in inches and read as millimetres"),
        (measured / _INCH, "its saddles were typed in millimetres and read as inches"),
        (-measured, "its saddles lie behind the scale line, not before it"),
    ]
    for order in interchanged(len(rows)):
        moved = np.flatnonzero(order != np.arange(len(rows)))
        pair = f"strings {strings[moved[0]]} and {strings[moved[-1]]} were interchanged"
        slips.append((measured[order], pair if len(moved) == 2 else "it was noted from the bass"))
    left = [float(np.sqrt(np.mean((each - expected) ** 2))) for each, _ in slips]
    best = int(np.argmin(left))
    without = float(np.sqrt(np.mean((measured - expected) ** 2)))
    return slips[best][1] if left[best] < min(_FITS, _BETTER * without) else ""
