"""The odds of a plan: the chance that its instrument comes out within its limits, and what that rests on."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING, Literal

import numpy as np

from scribeline.odds.outcomes import Instrument, Outcome
from scribeline.odds.places import Coordinate
from scribeline.odds.read import Spread, conditioned
from scribeline.odds.sources import PARTS, STATED, Source, sources
from scribeline.odds.trials import Cancelled, Group, Limits, Model, Name, evenly, group, in_blocks, limits
from scribeline.odds.ways import Ways
from scribeline.plan import Plan
from scribeline.steps import Ask, Gate
from scribeline.tables import Accuracies

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

MOST_TRIALS = 100_000_000
"""More trial builds tell nothing more: the sampling error is then 0.005 % at most."""

USUAL_TRIALS = 1_000_000

SURE = 6.5
"""An outcome whose limits lie so many of its standard deviations away counts as certain: normal errors pass them once in ten
thousand million."""

LOOKED = 131_072
"""Trial builds from which it is told what an operation, a purchase or a gate does; the same errors are drawn for each, so
that their differences are surer than the chances themselves."""

WANTED = 0.95
"""The chance that a gate is asked to hold when nothing else is said."""

EXACT = 24
"""Trial builds that are worked out exactly, to tell how far the linear model is off."""


@dataclass(frozen=True, slots=True)
class Share:
    """What one method at one operation has of an outcome's variance, 0 to 1."""

    operation: str
    method: str
    share: float


@dataclass(frozen=True, slots=True)
class OutcomeOdds:
    """One outcome's odds.

    Attributes:
        outcome: which, with its limits.
        expected: where it is expected: as planned, but for what readings at the bench say otherwise, mm.
        sd: standard deviation of how it comes out, mm.
        chance: that it keeps its limits; 1 where it has none that forbids.
        error: standard deviation of that chance, from sampling.
        caution: the chance that it needs no caution.
        shares: what its variance comes from, greatest first; they sum to 1. None of one that is in no doubt.
        linear_error: the greatest difference between the model and an instrument worked out exactly, mm.
        sure: whether it was left out of the trials, as nothing brings it near its limits.
    """

    outcome: Outcome
    expected: float
    sd: float
    chance: float
    error: float
    caution: float
    shares: tuple[Share, ...]
    linear_error: float
    sure: bool

    def operations(self) -> tuple[tuple[str, float], ...]:
        """Operations by their share of the variance, greatest first."""
        found: dict[str, float] = {}
        for each in self.shares:
            found[each.operation] = found.get(each.operation, 0.0) + each.share
        return tuple(sorted(found.items(), key=lambda pair: -pair[1]))


@dataclass(frozen=True, slots=True)
class OperationOdds:
    """What an operation does to the chance of the whole.

    Attributes:
        operation: its id, or what is none of the plan's: `sources.PARTS` and the like.
        chance: of the whole were it perfect.
        gain: by how much that is more.
        error: standard deviation of the gain, from sampling.
    """

    operation: str
    chance: float
    gain: float
    error: float


@dataclass(frozen=True, slots=True)
class Buy:
    """One more reading, or one better way, and what it buys.

    Attributes:
        kind: a better way wherever the plain one is used, a number read twice before cutting, a part that is measured.
        operation: where; "" for everywhere.
        now: method as it is.
        then: method as it would be; "" where it is done again, or measured.
        of: key of the part that is measured.
        chance: of the whole then.
        gain: by how much that is more.
        error: standard deviation of the gain, from sampling.
    """

    kind: Literal["better", "again", "measure"]
    operation: str
    now: str
    then: str
    of: str
    chance: float
    gain: float
    error: float


@dataclass(frozen=True, slots=True)
class GateOdds:
    """What a gate must hold for each outcome that rests on what it reads to keep its limits with a wanted chance.

    Attributes:
        step: id of the step whose gate it is.
        reads: id of the number that it reads: a measurable's, or a cut's for its depth.
        asks: how far it lets that be off, mm, either way.
        holds: how far it may be off at most; None where that is enough for nothing that it bears on.
        chance: that all it bears on keeps its limits, with the gate as it is.
        bears_on: ids of the outcomes that rest on what it reads.
        beyond: those of them that it is not enough for, however tight: what comes after errs too much.
    """

    step: str
    reads: str
    asks: float
    holds: float | None
    chance: float
    bears_on: tuple[str, ...]
    beyond: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Odds:
    """The odds of a plan.

    The chance is that of a first go: nothing is caught at a gate and done again.

    Attributes:
        trials: how many builds were tried.
        seed: of their errors.
        ways: how the shop measures, marks, drills and routs.
        chance: that every limit is kept.
        error: standard deviation of that, from sampling.
        caution: the chance that nothing is cautioned of either.
        caution_error: likewise.
        outcomes: every outcome, the least likely to be kept first.
        operations: what each would bring were it perfect, most first.
        buys: what one more reading or one better way brings, most first.
        gates: what each gate must hold, in the order of work.
        wanted: the chance that is asked of the gates.
        looked: trial builds behind operations, buys and gates.
        exact: instruments that were worked out exactly beside the model.
        linear_error: the greatest difference between the two of any wood that may miss a limit or a caution, mm.
        linear_rms: the root of the mean square of those differences, mm.
    """

    trials: int
    seed: int
    ways: Ways
    chance: float
    error: float
    caution: float
    caution_error: float
    outcomes: tuple[OutcomeOdds, ...]
    operations: tuple[OperationOdds, ...]
    buys: tuple[Buy, ...]
    gates: tuple[GateOdds, ...]
    wanted: float
    looked: int
    exact: int
    linear_error: float
    linear_rms: float

    @property
    def likeliest_to_fail(self) -> tuple[OutcomeOdds, ...]:
        """The outcomes that are not certain to keep a limit that forbids, the least likely first."""
        return tuple(each for each in self.outcomes if each.chance < 1)

    @property
    def mattering(self) -> tuple[OperationOdds, ...]:
        """The operations whose gain is surer than the draw, most first."""
        return tuple(each for each in self.operations if each.gain > 2 * each.error)

    @property
    def helping(self) -> tuple[Buy, ...]:
        """The purchases whose gain is surer than the draw, most first."""
        return tuple(each for each in self.buys if each.gain > 2 * each.error)

    @property
    def tight(self) -> tuple[tuple[GateOdds, float], ...]:
        """The gates that must hold more than they ask for, in the order of work, each with how far off it may be, mm."""
        pairs = ((each, each.holds) for each in self.gates)
        return tuple(
            (each, holds) for each, holds in pairs if holds is not None and holds < each.asks - _SAME
        )


_SAME = 0.005
"""Lengths that print the same, mm."""


class OddsError(ValueError):
    """Something that no odds can be worked out from; its text is for a person."""


def odds(
    plan: Plan,
    accuracies: Accuracies,
    *,
    ways: Ways | None = None,
    trials: int = USUAL_TRIALS,
    seed: int = 1,
    wanted: float = WANTED,
    exact: int = EXACT,
    progress: Callable[[float], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Odds:
    """Work the odds of a plan out.

    Args:
        plan: the plan; what its record has made and measured counts as measured.
        accuracies: standard deviations by method, the usual ones or a shop's own.
        ways: how the shop works; the plain ways when left out.
        trials: how many builds to try, 1 to `MOST_TRIALS`.
        seed: of the errors, 0 or more; one seed gives one answer, on every machine with the same libraries.
        wanted: the chance that gates are to hold, over 0 and under 1.
        exact: how many builds to work out exactly beside the model.
        progress: told the share that is done.
        cancelled: asked now and then whether to stop.

    Raises:
        OddsError: a number of these cannot be, or the bridge has no place.
        Cancelled: somebody has asked for no more.
    """
    if not 1 <= trials <= MOST_TRIALS:
        message = f"{trials} trial builds cannot be tried; give 1 to {MOST_TRIALS:,}"
        raise OddsError(message)
    if seed < 0:
        message = f"a seed of {seed} cannot be; give 0 or more"
        raise OddsError(message)
    if not 0 < wanted < 1:
        message = f"a chance of {wanted:g} cannot be wanted; give one between 0 and 1"
        raise OddsError(message)
    if plan.layout.bridge is None:
        message = (
            "the bridge has no place, so the instrument has no odds; fix what scribeline check says first"
        )
        raise OddsError(message)
    study = Study.of(plan, accuracies, ways or Ways())
    if cancelled is not None and cancelled():
        raise Cancelled
    counted = study.counted(trials, seed, progress, cancelled)
    looked = study.looked(min(trials, LOOKED), seed)
    differences = study.differences(exact, seed)
    return _told(study, counted, looked, differences, trials=trials, seed=seed, wanted=wanted, exact=exact)


@dataclass(frozen=True)
class Study:
    """A plan's outcomes with every error that moves them.

    Attributes:
        instrument: it is worked out on.
        ways: how the shop works.
        accuracies: of those.
        found: what every error adds to the outcomes, and to what it moves.
        coordinates: what the errors move.
        doubted: numbers of the outcomes that may miss a limit.
        gauges: what is read at gates: the step, what it reads, how far it lets that be off, and what each source adds to it.
    """

    instrument: Instrument
    ways: Ways
    accuracies: Accuracies
    found: Spread
    coordinates: tuple[Coordinate, ...]
    doubted: tuple[int, ...]
    gauges: tuple[tuple[str, str, float, Floats], ...]

    @classmethod
    def of(cls, plan: Plan, accuracies: Accuracies, ways: Ways) -> Study:
        """Every outcome of a plan, at what rates it answers, and to what."""
        instrument = Instrument(plan)
        errors = sources(plan, accuracies, ways)
        coordinates = tuple(dict.fromkeys(place for each in errors for place, _ in each.moves))
        number = {each: n for n, each in enumerate(coordinates)}
        moves = np.zeros((len(errors), len(coordinates)))
        for row, each in enumerate(errors):
            for place, rate in each.moves:
                moves[row, number[place]] += rate * each.sd
        spread = moves @ instrument.rates(coordinates).T
        nowhere = np.zeros(len(instrument.outcomes)), np.zeros(len(coordinates))
        found = conditioned(Spread(errors, spread, moves, *nowhere), plan, instrument.outcomes, accuracies)
        sd = np.sqrt((found.outcomes**2).sum(axis=0))
        doubted = tuple(
            n
            for n, each in enumerate(instrument.outcomes)
            if _may_miss(each, float(each.value + found.expected[n]), float(sd[n]))
        )
        gauges = tuple(_gauges(plan, instrument, found, number))
        return cls(instrument, ways, accuracies, found, coordinates, doubted, gauges)

    @property
    def errors(self) -> tuple[Source, ...]:
        """Every source."""
        return self.found.errors

    @property
    def spread(self) -> Floats:
        """What a standard deviation of each source adds to each outcome, shape (sources, outcomes), mm."""
        return self.found.outcomes

    @property
    def expected(self) -> tuple[float, ...]:
        """Where each outcome is expected: as planned, but for what readings say otherwise, mm."""
        return tuple(
            each.value + off for each, off in zip(self.outcomes, self.found.expected.tolist(), strict=True)
        )

    @property
    def outcomes(self) -> tuple[Outcome, ...]:
        """Every outcome."""
        return self.instrument.outcomes

    @property
    def sd(self) -> Floats:
        """Standard deviation of each outcome, shape (outcomes,), mm."""
        return np.asarray(np.sqrt((self.spread**2).sum(axis=0)))

    def model(self, *, apart: bool = False, every: bool = False) -> Model:
        """The errors as they are drawn, for the outcomes in doubt.

        Args:
            apart: whether the errors of each method at each operation are drawn by themselves, and what gates read comes
                behind the outcomes.
            every: for every outcome instead, in doubt or not.
        """
        chosen = list(range(len(self.outcomes))) if every else list(self.doubted)
        wide = self.spread[:, chosen]
        if apart and self.gauges:
            wide = np.concatenate([wide, np.stack([adds for *_, adds in self.gauges], axis=1)], axis=1)
        names = [_name(each) if apart else ("", "", "") for each in self.errors]
        even = np.array([each.shape == "even" for each in self.errors], dtype=np.bool_)
        groups: list[Group] = []
        for name in dict.fromkeys(names):
            own = np.array([each == name for each in names], dtype=np.bool_)
            found = group(name, wide[own & ~even], wide[own & even])
            if found is not None:
                groups.append(found)
        return Model(tuple(groups), wide.shape[1])

    def limits(self, *, caution: bool = False, every: bool = False) -> Limits:
        """What the outcomes in doubt, or all of them, are held to."""
        numbers = range(len(self.outcomes)) if every else self.doubted
        chosen = [self.outcomes[n] for n in numbers]
        low = [each.caution_low if caution and each.caution_low is not None else each.low for each in chosen]
        high = [
            each.caution_high if caution and each.caution_high is not None else each.high for each in chosen
        ]
        return limits(low, high, [self.expected[n] for n in numbers])

    def counted(
        self,
        trials: int,
        seed: int,
        progress: Callable[[float], None] | None = None,
        cancelled: Callable[[], bool] | None = None,
    ) -> Counted:
        """How many of so many trial builds keep each limit, and all of them."""
        model = self.model()
        spread, both = model.spread, (self.limits(), self.limits(caution=True))

        def block(random: np.random.Generator, count: int) -> tuple[Floats, tuple[int, int]]:
            off = spread @ model.drawn(random, count)
            each, whole = np.full((2, len(off)), float(count)), [0, 0]
            for which, held in enumerate(both):
                some = np.zeros(count, dtype=np.bool_)
                for number, row in enumerate(off):
                    missed = held.missed(number, row)
                    if missed is not None:
                        each[which, number] -= np.count_nonzero(missed)
                        some |= missed
                whole[which] = count - int(np.count_nonzero(some))
            return each, (whole[0], whole[1])

        found, whole = np.zeros((2, len(self.doubted))), [0, 0]
        for each, every in in_blocks(block, trials, seed, progress=progress, cancelled=cancelled):
            found += each
            whole = [one + other for one, other in zip(whole, every, strict=True)]
        return Counted(trials, found, (whole[0], whole[1]))

    def looked(self, trials: int, seed: int) -> Looked:
        """What every operation, purchase and gate does, from the first trial builds."""
        model, held, count = self.model(apart=True), self.limits(), len(self.doubted)
        offers = tuple(self._offers())
        changes = {
            ("perfect", name): _without(model, name)
            for name in dict.fromkeys(g.name[0] for g in model.groups)
        }
        changes |= {("buy", str(n)): scaled for n, (_, scaled) in enumerate(offers)}
        rows = dict(model.numbers_by_name())
        limited = [n for n in range(count) if held.low[n] > -np.inf or held.high[n] < np.inf]
        plans = {name: _changed(scaled, rows, limited) for name, scaled in changes.items()}
        spread = model.spread

        def block(random: np.random.Generator, size: int) -> _Block:
            errors = model.drawn(random, size)
            off = spread @ errors
            missed = np.zeros((count, size), dtype=np.bool_)
            for number in limited:
                missed[number] = held.missed(number, off[number])
            misses = missed.sum(axis=0, dtype=np.int16)
            gains: dict[_Change, tuple[int, int]] = {}
            for name, (touched, less) in plans.items():
                then = misses.copy()
                for number in touched:
                    moved = off[number] + sum(
                        spread[number, own] @ errors[own] * times for own, times in less
                    )
                    again = held.missed(number, moved)
                    assert again is not None
                    then += again
                    then -= missed[number]
                gains[name] = (
                    int(np.count_nonzero((then == 0) & (misses > 0))),
                    int(np.count_nonzero((then > 0) & (misses == 0))),
                )
            return gains, ~missed, off[count:]

        every = list(in_blocks(block, trials, seed))
        gained = {
            name: (sum(gains[name][0] for gains, _, _ in every), sum(gains[name][1] for gains, _, _ in every))
            for name, (touched, _) in plans.items()
            if touched
        }
        return Looked(
            trials,
            gained,
            offers,
            np.concatenate([kept for _, kept, _ in every], axis=1),
            np.concatenate([read for *_, read in every], axis=1).astype(np.float64),
        )

    def _offers(self) -> Iterator[tuple[tuple[str, ...], Scaled]]:
        """Everything that could be bought: kind, operation, now, then, of; and how many times the errors are then."""
        names = dict.fromkeys(_name(each) for each in self.errors)
        for now, then, _ in self.ways.better():
            for method in (now, f"{now}-ring"):
                every = [name for name in names if name[1] == method]
                if every:
                    times = self.accuracies[then].sd / self.accuracies[method].sd
                    if times < 1:
                        yield ("better", "", method, then, ""), dict.fromkeys(every, times)
        for name in dict.fromkeys(_name(each) for each in self.errors if each.reading):
            yield ("again", name[0], name[1], "", ""), {name: 1 / sqrt(2)}
        caliper = self.accuracies["caliper"].sd
        for each in self.errors:
            if each.operation == PARTS and each.method == STATED and each.sd > caliper:
                yield ("measure", PARTS, STATED, "caliper", each.of), {_name(each): caliper / each.sd}

    def differences(self, exact: int, seed: int) -> Floats:
        """The model less the instrument worked out exactly, for some builds, shape (builds, outcomes), mm."""
        random = np.random.default_rng([seed, 1])
        even = np.array([each.shape == "even" for each in self.errors], dtype=np.bool_)
        found = np.zeros((exact, len(self.outcomes)))
        planned = self.instrument.values({}) if exact else {}
        for n in range(exact):
            errors = random.standard_normal(len(self.errors))
            errors[even] = evenly(random, (1, int(even.sum())))[0]
            values = self.values(errors)
            linear = errors @ self.spread + self.found.expected
            for k, each in enumerate(self.outcomes):
                if each.id in values and each.id in planned:
                    found[n, k] = linear[k] - (values[each.id] - planned[each.id])
        return found

    def values(self, errors: Floats) -> Mapping[str, float]:
        """Every outcome of one build, worked out exactly.

        Args:
            errors: of every source, in its standard deviations.
        """
        off = errors @ self.found.places + self.found.displaced
        return self.instrument.values(dict(zip(self.coordinates, off.tolist(), strict=True)))


Scaled = Mapping[Name, float]
"""How many times as great the errors of some methods at some operations would be."""


def _name(error: Source) -> Name:
    """The group that an error is drawn in: each part is one by itself."""
    return error.operation, error.method, error.of if error.operation == PARTS else ""


_NOTHING = 1e-5
"""What a change moves an outcome by at most, in a standard deviation of an error, where it does not count, mm."""

_Change = tuple[str, str]

_Block = tuple[dict[_Change, tuple[int, int]], "Flags", "NDArray[np.float32]"]


def _without(model: Model, operation: str) -> Scaled:
    return {each.name: 0.0 for each in model.groups if each.name[0] == operation}


def _changed(
    scaled: Scaled, rows: Mapping[Name, tuple[Group, slice]], limited: Sequence[int]
) -> tuple[tuple[int, ...], tuple[tuple[slice, np.float32], ...]]:
    """The outcomes that a change touches, and by how many times more each of its errors counts then."""
    own = [(rows[name], times) for name, times in scaled.items() if name in rows]
    touched = tuple(
        n for n in limited if any(np.any(np.abs(each.spread[n]) > _NOTHING) for (each, _), _ in own)
    )
    return touched, tuple((where, np.float32(times - 1)) for (_, where), times in own)


@dataclass(frozen=True)
class Counted:
    """Trial builds that keep their limits.

    Attributes:
        trials: how many there were.
        each: of every outcome in doubt: those within what forbids, those without a caution, shape (2, outcomes).
        whole: of all together, likewise.
    """

    trials: int
    each: Floats
    whole: tuple[int, int]


@dataclass(frozen=True)
class Looked:
    """Trial builds looked at more closely.

    Attributes:
        trials: how many there were.
        gained: by a change, how many builds then keep all limits that did not, and the other way round.
        offers: what could be bought.
        kept: which outcomes in doubt keep their limits in which builds, shape (outcomes, builds).
        read: what the gates read of them, off what is planned, mm, shape (gauges, builds).
    """

    trials: int
    gained: Mapping[tuple[str, str], tuple[int, int]]
    offers: tuple[tuple[tuple[str, ...], Scaled], ...]
    kept: Flags
    read: Floats

    def gain(self, name: tuple[str, str]) -> tuple[float, float]:
        """By how much the chance of the whole rises by a change, and its standard deviation from sampling."""
        up, down = self.gained.get(name, (0, 0))
        mean = (up - down) / self.trials
        return mean, sqrt(max(0.0, (up + down) / self.trials - mean**2) / self.trials)


def _may_miss(outcome: Outcome, expected: float, sd: float) -> bool:
    """Whether errors bring an outcome near any of its limits."""
    lows = [each for each in (outcome.low, outcome.caution_low) if each is not None]
    highs = [each for each in (outcome.high, outcome.caution_high) if each is not None]
    room = [expected - each for each in lows] + [each - expected for each in highs]
    return bool(room) and min(room) < SURE * sd + _EXACTLY


_EXACTLY = 1e-9
"""What lies on its limit within this, mm, is looked at, however sure it is."""


def _gauges(
    plan: Plan, instrument: Instrument, found: Spread, number: Mapping[Coordinate, int]
) -> Iterator[tuple[str, str, float, Floats]]:
    """What is read with limits at the gates that are still ahead."""
    row = {outcome.id: n for n, outcome in enumerate(instrument.outcomes)}
    done = {each.card for each in plan.record.done}
    place = {work.id: work.no for work in plan.operations}
    begun = np.array([place.get(each.operation, 0) for each in found.errors])
    spread, moves = found.outcomes, found.places
    for card in plan.cards:
        if card.id in done:
            continue
        asks: tuple[Gate | Ask, ...] = (*card.gate.asks,) or (card.gate,)
        for ask in {(each.measurable or each.cut): each for each in asks}.values():
            name = ask.measurable or ask.cut
            if not name or ask.low is None or ask.high is None:
                continue
            depth = Coordinate("depth", name)
            adds = (
                spread[:, row[name]] if name in row else moves[:, number[depth]] if depth in number else None
            )
            if adds is None:
                continue
            by_then = np.where(begun <= place.get(card.id, 0), adds, 0.0)
            if np.sqrt((by_then**2).sum()) > _UNREAD:
                yield card.id, name, (ask.high - ask.low) / 2, by_then


def _told(
    study: Study,
    counted: Counted,
    looked: Looked,
    differences: Floats,
    *,
    trials: int,
    seed: int,
    wanted: float,
    exact: int,
) -> Odds:
    worst = np.abs(differences).max(axis=0, initial=0.0)
    wood = [n for n in study.doubted if study.outcomes[n].kind == "wood"]
    off = differences[:, wood]
    chance, caution = (each / trials for each in counted.whole)
    operations = [
        OperationOdds(name, _share(chance + gain), gain, error)
        for kind, name in looked.gained
        if kind == "perfect"
        for gain, error in (looked.gain((kind, name)),)
    ]
    buys = [
        Buy(_kind(what[0]), what[1], what[2], what[3], what[4], _share(chance + gain), gain, error)
        for n, (what, _) in enumerate(looked.offers)
        if ("buy", str(n)) in looked.gained
        for gain, error in (looked.gain(("buy", str(n))),)
    ]
    return Odds(
        trials=trials,
        seed=seed,
        ways=study.ways,
        chance=chance,
        error=_error(chance, trials),
        caution=caution,
        caution_error=_error(caution, trials),
        outcomes=tuple(_outcomes(study, counted, worst)),
        operations=tuple(sorted(operations, key=lambda each: -each.gain)),
        buys=tuple(sorted(buys, key=lambda each: -each.gain)),
        gates=tuple(_gates(study, looked, wanted)),
        wanted=wanted,
        looked=looked.trials,
        exact=exact,
        linear_error=float(np.abs(off).max(initial=0.0)),
        linear_rms=float(np.sqrt(np.mean(off**2))) if off.size else 0.0,
    )


def _share(sum_of_shares: float) -> float:
    """A chance that two samples give together, kept between none and all."""
    return min(1.0, max(0.0, sum_of_shares))


def _kind(word: str) -> Literal["better", "again", "measure"]:
    return "better" if word == "better" else "again" if word == "again" else "measure"


def _error(chance: float, trials: int) -> float:
    """Standard deviation of a share that was counted; of none or all it is taken for one more or less."""
    likely = min(max(chance, 1 / (trials + 1)), trials / (trials + 1))
    return sqrt(likely * (1 - likely) / trials)


def _outcomes(study: Study, counted: Counted, worst: Floats) -> Iterator[OutcomeOdds]:
    place = {n: k for k, n in enumerate(study.doubted)}
    sd = study.sd
    found = []
    for n, outcome in enumerate(study.outcomes):
        chance, caution = (
            (float(counted.each[which, place[n]]) / counted.trials for which in (0, 1))
            if n in place
            else (1.0, 1.0)
        )
        found.append(
            OutcomeOdds(
                outcome,
                study.expected[n],
                float(sd[n]),
                chance,
                _error(chance, counted.trials) if n in place else 0.0,
                caution,
                tuple(_shares(study.errors, study.spread[:, n])),
                float(worst[n]),
                n not in place,
            )
        )
    yield from sorted(found, key=lambda each: (each.chance, each.caution, each.outcome.id))


def _shares(errors: Sequence[Source], adds: Floats) -> Iterator[Share]:
    """What each method at each operation has of an outcome's variance: of a sum of independent errors the squares add up."""
    whole = float((adds**2).sum())
    if whole <= 0:
        return
    found: dict[tuple[str, str], float] = {}
    for each, add in zip(errors, adds.tolist(), strict=True):
        name = each.operation, each.method
        found[name] = found.get(name, 0.0) + add * add / whole
    ranked = sorted(found.items(), key=lambda pair: -pair[1])
    yield from (Share(*name, share) for name, share in ranked if share > 0)


_UNREAD = 0.01
"""A gate that could read no more than this of what may be off, mm, in a standard deviation, tells nothing."""

_BEARS = 0.1
"""A gate bears on an outcome where what it reads has so much of that one's variance."""


def _gates(study: Study, looked: Looked, wanted: float) -> Iterator[GateOdds]:
    for n, (step, name, asks, adds) in enumerate(study.gauges):
        own = float(np.sqrt((adds**2).sum()))
        bears = []
        for k, number in enumerate(study.doubted):
            outcome, spread = study.outcomes[number], study.spread[:, number]
            whole = float(np.sqrt((spread**2).sum()))
            alike = float(adds @ spread) / (own * whole) if whole else 0.0
            if alike**2 >= _BEARS and outcome.id != name:
                bears.append((k, outcome.id))
        if not bears:
            continue
        read = np.abs(looked.read[n])
        within = read <= asks
        every = np.asarray(looked.kept[[k for k, _ in bears]].all(axis=0))
        chance = float(every[within].mean()) if within.any() else 0.0
        order = np.argsort(read, kind="stable")
        ends = {each: _held(read[order], looked.kept[k][order], wanted) for k, each in bears}
        enough = [end for end in ends.values() if end is not None]
        yield GateOdds(
            step,
            name,
            asks,
            min(enough, default=None),
            chance,
            tuple(ends),
            tuple(each for each, end in ends.items() if end is None),
        )


_ENOUGH = 500
"""Builds that a gate must let through before their share is believed."""


def _held(read: Floats, kept: Flags, wanted: float) -> float | None:
    """How far a reading may be off for the builds it lets through to keep a limit with a wanted chance.

    Args:
        read: of every build, the least off first.
        kept: whether each keeps it.
        wanted: the chance.
    """
    share = np.cumsum(kept) / np.arange(1, len(kept) + 1)
    good = np.flatnonzero(share >= wanted)
    good = good[good >= _ENOUGH]
    return float(read[good[-1]]) if len(good) else None
