"""Invented shops, their finished instruments and the ones they build next: what the learning from records is held against.

A shop is drawn from what is known beforehand of any shop; what it does otherwise than the estimator supposes is the trial's.
Everything here was fixed before the estimator was tuned to anything. No record of a real shop is used or shipped.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from scribeline.strings import (
    PRIOR,
    SHOP_KEYS,
    Calibration,
    Problem,
    Record,
    Setup,
    StringSpec,
    predict,
    problem,
)
from scribeline.strings.spec import Floats

MM = 25.4

LIGHT = (
    StringSpec("E4", 0.010 * MM),
    StringSpec("B3", 0.013 * MM),
    StringSpec("G3", 0.017 * MM),
    StringSpec("D3", 0.026 * MM, "round-wound"),
    StringSpec("A2", 0.036 * MM, "round-wound"),
    StringSpec("E2", 0.046 * MM, "round-wound"),
)
"""A common light set; nobody has stated its cores."""

SETUP = Setup(647.7)

MEASURED = 0.15
"""Standard deviation of a saddle's measured place, mm."""

WITHIN_1, WITHIN_2 = (0.60, 0.76), (0.92, 0.98)
"""Between which shares an honest spread covers: one standard deviation 0.683 and two 0.954 of a normal distribution, give or
take what two hundred shops leave to chance and what a posterior that is no normal distribution may differ."""

RECORDS = 12
"""Finished instruments a shop has when its forecast must be honest: with fewer, nobody can tell how its hands scatter."""

NEXT = 4
"""Instruments each shop builds after its records, whose saddles the forecast is held against."""

SHOP_WIDE = ("modulus", "core", "core_density", "wrap_density")
"""What all instruments of a shop have in common, for they are strung from one make: drawn once a shop."""


@dataclass(frozen=True, slots=True)
class Trial:
    """A way in which shops differ from one instrument to the next.

    Attributes:
        name: in words.
        finger_sd: of the finger's depth between the instruments of one hand, mm.
        hands: how far each hand's depth lies from the shop's, mm; instruments take turns.
        named: whether the records say whose hand it was.
        core: share by which every core is thicker than estimated; None to draw it for each string from its spread.
        noted_off: added to every saddle as it is noted, and not to where it stands, mm.
        stands_off: added to where every saddle stands, mm.
    """

    name: str
    finger_sd: float = 0.0
    hands: tuple[float, ...] = (0.0,)
    named: bool = True
    core: float | None = None
    noted_off: float = 0.0
    stands_off: float = 0.0


TRIALS = (
    Trial("a constant hand"),
    Trial("finger ±0.04 mm between instruments", finger_sd=0.04),
    Trial("finger ±0.08 mm between instruments", finger_sd=0.08),
    Trial("two hands 0.10 mm apart, named", hands=(-0.05, 0.05)),
    Trial("two hands 0.10 mm apart, not named", hands=(-0.05, 0.05), named=False),
    Trial("cores 7 % thicker", core=0.07),
    Trial("saddles noted 0.8 mm too far back", noted_off=0.8),
    Trial("saddles that stand 0.8 mm further back", stands_off=0.8),
)


@dataclass(frozen=True, slots=True)
class Trials:
    """So many shops of one trial.

    Attributes:
        trial: which.
        noted: saddles of the finished instruments as noted, (shops, records, strings), mm.
        hands: of each instrument, finished ones first, its hand's number.
        next: saddles of those built next, (shops, NEXT, strings), mm.
    """

    trial: Trial
    noted: Floats
    hands: tuple[int, ...]
    next: Floats


def draw_shops(
    trial: Trial,
    shops: int,
    records: int,
    seed: int,
    specs: Sequence[StringSpec] = LIGHT,
    setup: Setup = SETUP,
) -> Trials:
    """So many shops, each with so many finished instruments and the next ones."""
    random = np.random.default_rng(seed)
    stated = problem(specs, setup, PRIOR)
    builds = records + NEXT
    hands = np.arange(builds) % len(trial.hands)
    values = _drawn(stated, trial, hands, shops, random)
    stands = stated.setback(values) + trial.stands_off
    noted = stands[:, :records] + trial.noted_off
    noted = noted + MEASURED * random.standard_normal(noted.shape)
    return Trials(trial, noted, tuple(hands.tolist()), stands[:, records:])


def _drawn(
    stated: Problem, trial: Trial, hands: np.ndarray[tuple[int, ...], np.dtype[np.int_]], shops: int,
    random: np.random.Generator,
) -> dict[str, Floats]:  # fmt: skip
    """Every input of every instrument, (shops, instruments, strings or 1)."""
    builds, strings = len(hands), len(stated.specs)
    values = stated.nominal()
    for i, key in enumerate(SHOP_KEYS):
        of_shop = PRIOR.mean[i] + PRIOR.sd[i] * random.standard_normal((shops, 1, 1))
        values[key] = np.clip(of_shop, 0.0, 1.0)
    depth = values["finger_depth"] + np.array(trial.hands)[hands][:, np.newaxis]
    values["finger_depth"] = np.maximum(
        0.0, depth + trial.finger_sd * random.standard_normal((shops, builds, 1))
    )
    for entry in stated.inputs:
        if entry.key in SHOP_KEYS or not np.any(entry.sd):
            continue
        many = 1 if entry.key in SHOP_WIDE else builds
        width = 1 if entry.shared else strings
        values[entry.key] = entry.value + entry.sd * random.standard_normal((shops, many, width))
    if trial.core is not None:
        estimated = np.array([not s.is_plain and s.core is None for s in stated.specs])
        core = next(each.value for each in stated.inputs if each.key == "core")
        values["core"] = np.where(estimated, core * (1 + trial.core), core)
    return values


Learn = Callable[[Sequence[Record]], Calibration]


@dataclass(frozen=True, slots=True)
class Score:
    """How a forecast did over all shops, instruments and strings of a trial.

    Attributes:
        within_1: share of saddles within one standard deviation of their forecast.
        within_2: within two.
        rms: root-mean-square error, mm.
        rms_without: the same of the forecast that knows no record.
    """

    within_1: float
    within_2: float
    rms: float
    rms_without: float


def score(trials: Trials, learn: Learn, specs: Sequence[StringSpec] = LIGHT, setup: Setup = SETUP) -> Score:
    """Learn each shop's records, and hold the forecast of its next instruments against them: by their hand where it is named."""
    without = predict(specs, setup).setback
    off, inside = [], []
    for noted, built in zip(trials.noted, trials.next, strict=True):
        learnt = learn(records_of(trials, noted, specs, setup))
        for hand, saddles in zip(trials.hands[len(noted) :], built, strict=True):
            found = predict(specs, setup, learnt.shop(f"hand {hand + 1}" if trials.trial.named else ""))
            off.append(saddles - found.setback)
            inside.append(np.abs(off[-1]) / found.sd)
    return Score(
        float(np.mean(np.array(inside) < 1)),
        float(np.mean(np.array(inside) < 2)),
        float(np.sqrt(np.mean(np.square(off)))),
        float(np.sqrt(np.mean(np.square(trials.next - without)))),
    )


def records_of(
    trials: Trials, noted: Floats, specs: Sequence[StringSpec] = LIGHT, setup: Setup = SETUP
) -> list[Record]:
    """One shop's finished instruments."""
    named = trials.trial.named
    return [
        Record(
            f"job {n + 1}", tuple(specs), setup, tuple(saddles), MEASURED, f"hand {hand + 1}" if named else ""
        )
        for n, (saddles, hand) in enumerate(zip(noted.tolist(), trials.hands, strict=False))
    ]
