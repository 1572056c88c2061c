"""What is known about an instrument's strings and how well, and the saddle places that follow with their spread.

Every input is a number with a standard deviation. The spread of a result is found by putting changed inputs
through the very formulas that give the result: by differences, one input at a time, which also tells whose
doing it is (`predict`), or by many trial builds at once (`try_builds`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cached_property
from math import sqrt
from typing import Literal

import numpy as np

from scribeline import tables
from scribeline.strings.fretting import (
    TWELFTH,
    Board,
    Playing,
    Wires,
    bench_setback,
    fretted_cents,
    least_squares_setback,
    open_length,
    open_tension_n,
)
from scribeline.strings.spec import (
    Estimate,
    Floats,
    Making,
    StringsError,
    StringSpec,
    estimate,
    fill_sd,
    making,
    wound_mass,
)
from scribeline.strings.stiff import inharmonicity

Criterion = Literal["12th fret", "all frets"]

SHOP_KEYS = ("end_condition", "finger_depth", "grip")
"""The three numbers no caliper gives, which a shop's finished instruments teach."""

_WORDS = {
    "end_condition": "how far the string's ends are clamped (0 hinged to 1 clamped)",
    "finger_depth": "how deep the finger takes the string behind the fret",
    "grip": "how far nut and saddle hold the string (0 slides to 1 held)",
    "modulus": "Young's modulus of the wire",
    "action": "the action at the 12th fret",
    "nut_height": "the string's height over the fret plane at the nut",
    "relief": "the relief",
    "free_length": "the string beyond nut and saddle",
    "gauge": "the string's thickness",
    "core": "the core's diameter",
    "core_density": "the core's density",
    "wrap_density": "the wrap's density",
    "packing": "how full the wrap is",
    "mass": "the measured mass per length",
    "reading": "how well 12th fret and harmonic are read equal",
}

# How well the bench usually knows what it states without ±, and reads a tuner: from memory.
_USUAL_SD = {"action": 0.1, "nut_height": 0.05, "relief": 0.05}
_READING_CENTS = 0.7
_FREE_SHARE = 0.15
_BLOCK = 400
"""Trial builds a block: the arrays of 400 builds over 22 frets stay in a core's cache."""
CHUNK = 20_000
"""Trial builds a chunk: each chunk has its own stream of random numbers, whoever works it."""


@dataclass(frozen=True)
class Shop:
    """What a shop knows of the three numbers no caliper gives: means and covariance.

    Attributes:
        mean: end condition, finger depth in mm, grip.
        covariance: 3 × 3.
        records: finished instruments behind it; 0 for the prior.
    """

    mean: tuple[float, float, float]
    covariance: tuple[tuple[float, float, float], ...]
    records: int = 0

    @property
    def sd(self) -> tuple[float, float, float]:
        """Standard deviation of each."""
        end, finger, grip = (sqrt(self.covariance[i][i]) for i in range(3))
        return end, finger, grip

    def estimate(self, key: str) -> Estimate:
        """One of the three by its key."""
        i = SHOP_KEYS.index(key)
        source = (
            f"learnt from {self.records} finished instruments"
            if self.records
            else "prior, see docs/strings.md"
        )
        return Estimate(self.mean[i], self.sd[i], source)


PRIOR = Shop(
    mean=(0.06, 0.30, 0.5),
    covariance=((0.04**2, 0.0, 0.0), (0.0, 0.05**2, 0.0), (0.0, 0.0, 0.25**2)),
)
"""Before any record. Chosen so that a common light set falls where common practice puts its saddles."""


@dataclass(frozen=True)
class Setup:
    """The instrument around the strings. Lengths in mm; a bare number takes the bench's usual spread.

    Attributes:
        scale: scale length, one for all strings or one a string, treble first.
        action_treble: string over the 12th fret's crown, first string.
        action_bass: the same, last string; those between lie on the line.
        frets: number of frets.
        nut_height: string over the fret plane at the nut.
        relief: sag of the board under its chord from the nut to `relief_fret`.
        relief_fret: fret from which the board is straight.
        free_length: string beyond nut and saddle together, to the post and to the ball: one or one a string.
        fret_height: crown over the board.
        finger_place: finger's distance from the fret as a share of the space behind it.
        temperament_cents: cents above the open string, one a fret; equal temperament when left out.
    """

    scale: float | tuple[float, ...]
    action_treble: float | Estimate = 1.6
    action_bass: float | Estimate = 2.0
    frets: int = 22
    nut_height: float | Estimate = 0.5
    relief: float | Estimate = 0.2
    relief_fret: int = 16
    free_length: float | tuple[float, ...] = 150.0
    fret_height: float = 1.1
    finger_place: float = 0.4
    temperament_cents: tuple[float, ...] | None = None

    def board(self, strings: int) -> Board:
        """The frets under so many strings."""
        scale = self._per_string("scale", self.scale, strings)
        cents = np.asarray(
            self.temperament_cents
            if self.temperament_cents is not None
            else 100.0 * np.arange(1, self.frets + 1)
        )
        if len(cents) <= TWELFTH:
            raise StringsError(f"{len(cents)} frets are not enough: the 12th is needed to set the saddles by")
        if not 1 <= self.relief_fret <= len(cents):
            raise StringsError(f"relief_fret is {self.relief_fret}; the board has frets 1 to {len(cents)}")
        if not 0 < self.finger_place < 1:
            raise StringsError(
                f"finger_place is {self.finger_place:g}; it is a share of the space, between 0 and 1"
            )
        fret_x = scale[:, np.newaxis] * (1 - np.exp2(-cents / 1200))
        return Board(scale, fret_x, cents, fret_x[:, self.relief_fret - 1], self.finger_place)

    def action(self, strings: int) -> tuple[Floats, Floats]:
        """Action over each string and its standard deviation, mm."""
        treble = estimate(self.action_treble, _USUAL_SD["action"])
        bass = estimate(self.action_bass, _USUAL_SD["action"])
        along = np.linspace(0.0, 1.0, strings)
        return treble.value + along * (bass.value - treble.value), treble.sd + along * (bass.sd - treble.sd)

    def free(self, strings: int) -> Floats:
        """String beyond nut and saddle, mm."""
        return self._per_string("free_length", self.free_length, strings)

    @staticmethod
    def _per_string(name: str, value: float | tuple[float, ...], strings: int) -> Floats:
        if isinstance(value, tuple) and len(value) != strings:
            raise StringsError(f"{name} lists {len(value)} lengths for {strings} strings; list one a string")
        lengths = np.broadcast_to(np.asarray(value, dtype=np.float64), (strings,))
        if not np.all(lengths >= (0 if name == "free_length" else 100)):
            raise StringsError(f"{name} is {lengths.min():g} mm; it is a length in millimetres")
        return lengths


@dataclass(frozen=True, slots=True)
class Input:
    """One uncertain number, for all strings at once.

    Attributes:
        key: its name.
        words: what it is, in bench words.
        value: nominal value for each string.
        sd: standard deviation for each string.
        shared: True when one deviation moves all strings together.
    """

    key: str
    words: str
    value: Floats
    sd: Floats
    shared: bool


@dataclass(frozen=True)
class Problem:
    """A set of strings on an instrument, ready to be worked: the exact part and the uncertain inputs."""

    specs: tuple[StringSpec, ...]
    setup: Setup
    shop: Shop
    made: Making
    board: Board
    inputs: tuple[Input, ...]

    def nominal(self) -> dict[str, Floats]:
        """Every input at its stated value."""
        return {entry.key: entry.value for entry in self.inputs}

    def realise(self, values: Mapping[str, Floats]) -> tuple[Wires, Playing, Floats]:
        """Strings, playing and reading from input values of shape (..., strings) or (..., 1).

        Values that chance throws out of what can be are held at its edge.
        """
        made, pitch = self.made, np.array([s.pitch_hz for s in self.specs])
        gauge = values["gauge"]
        widest = 0.98 * gauge / made.corner_factor
        core = np.where(made.plain, gauge, np.minimum(values["core"], widest))
        worked_out = wound_mass(
            made,
            gauge,
            core,
            core_density=values["core_density"],
            wrap_density=values["wrap_density"],
            packing=values["packing"],
        )
        mass = np.where(np.isnan(made.measured_mass_kg_m), worked_out, values["mass"])
        modulus_mpa = 1e3 * values["modulus"]
        wires = Wires(
            pitch, mass, modulus_mpa * made.area_factor * core**2, modulus_mpa * made.bend_factor * core**4
        )
        playing = Playing(
            nut_height=np.maximum(0.0, values["nut_height"]),
            action=np.maximum(0.0, values["action"]),
            relief=values["relief"],
            finger_depth=np.clip(values["finger_depth"], 0.0, self.setup.fret_height),
            free_length=np.maximum(0.0, values["free_length"]),
            grip=np.clip(values["grip"], 0.0, 1.0),
            end_condition=np.clip(values["end_condition"], 0.0, 1.0),
        )
        return wires, playing, values["reading"]

    def setback(self, values: Mapping[str, Floats], criterion: Criterion = "12th fret") -> Floats:
        """Saddle setbacks from input values, mm."""
        wires, playing, reading = self.realise(values)
        if criterion == "all frets":
            return least_squares_setback(wires, self.board, playing)
        return bench_setback(wires, self.board, playing, reading)


def problem(specs: Sequence[StringSpec], setup: Setup, shop: Shop = PRIOR) -> Problem:
    """Put strings, instrument and shop together.

    Raises:
        StringsError: no strings, or the setup does not fit them.
    """
    if not specs:
        raise StringsError("there are no strings; list them from the treble")
    n = len(specs)
    cores = [s.core_estimate for s in specs]
    materials = [tables.string_material(s.core_material) for s in specs]
    wraps = [tables.string_material(s.wrap) for s in specs]
    masses = [_measured_mass(s) for s in specs]
    action, action_sd = setup.action(n)
    nut, relief = (estimate(getattr(setup, key), _USUAL_SD[key]) for key in ("nut_height", "relief"))
    free = setup.free(n)

    def entry(key: str, value: object, sd: object, *, shared: bool) -> Input:
        return Input(
            key,
            _WORDS[key],
            np.broadcast_to(np.asarray(value, dtype=np.float64), (n,)),
            np.broadcast_to(np.asarray(sd, dtype=np.float64), (n,)),
            shared,
        )

    inputs = (
        *(entry(key, shop.mean[i], shop.sd[i], shared=True) for i, key in enumerate(SHOP_KEYS)),
        entry("modulus", [m.modulus_gpa for m in materials], [m.modulus_sd_gpa for m in materials], shared=True),
        entry("action", action, action_sd, shared=False),
        entry("nut_height", nut.value, nut.sd, shared=False),
        entry("relief", relief.value, relief.sd, shared=True),
        entry("free_length", free, _FREE_SHARE * free, shared=True),
        entry("gauge", [s.gauge for s in specs], [s.gauge_sd for s in specs], shared=False),
        entry(
            "core",
            [c.value for c in cores],
            [0.0 if s.is_plain else c.sd for s, c in zip(specs, cores, strict=True)],
            shared=False,
        ),
        entry("core_density", [m.density_kg_m3 for m in materials], [m.density_sd_kg_m3 for m in materials], shared=True),
        entry("wrap_density", [w.density_kg_m3 for w in wraps], [w.density_sd_kg_m3 for w in wraps], shared=True),
        entry("packing", 1.0, [fill_sd(s) for s in specs], shared=False),
        entry("mass", [m.value for m in masses], [m.sd for m in masses], shared=False),
        entry("reading", 0.0, _READING_CENTS, shared=False),
    )  # fmt: skip
    return Problem(tuple(specs), setup, shop, making(specs), setup.board(n), inputs)


def _measured_mass(spec: StringSpec) -> Estimate:
    """Mass by the scale, good to 1 % unless stated; nothing where it was not weighed."""
    if spec.mass_kg_m is None:
        return Estimate(0.0)
    if isinstance(spec.mass_kg_m, Estimate):
        return spec.mass_kg_m
    return Estimate(spec.mass_kg_m, 0.01 * spec.mass_kg_m, "weighed, good to 1 %")


@dataclass(frozen=True)
class Prediction:
    """What is expected of a set of strings on an instrument. Arrays over the strings, treble first.

    Attributes:
        problem: what it was worked out from.
        criterion: what the saddles are set by.
        setback: saddles past the scale line, mm.
        sd: standard deviation of each, mm.
        covariance: of the setbacks, mm², shape (strings, strings).
        shares: for each input, the share of each string's variance that comes from it; over all inputs 1.
        mass_kg_m: mass per length, kg/m.
        tension_n: open tension, N.
        stress_mpa: tension over the core's area, MPa.
        strength_mpa: least and greatest tensile strength of the core's wire, MPa.
        inharmonicity: B of the open strings.
        cents: cents each fretted note is sharp with the saddle at `setback`, shape (strings, frets).
        cents_uncompensated: the same with the saddle on the scale line.
    """

    problem: Problem
    criterion: Criterion
    setback: Floats
    sd: Floats
    covariance: Floats
    shares: dict[str, Floats]
    mass_kg_m: Floats
    tension_n: Floats
    stress_mpa: Floats
    strength_mpa: tuple[Floats, Floats]
    inharmonicity: Floats
    cents: Floats
    cents_uncompensated: Floats

    @property
    def pull_n(self) -> float:
        """Pull of all strings together, N."""
        return float(self.tension_n.sum())

    @property
    def strength_share(self) -> tuple[Floats, Floats]:
        """Stress as a share of the wire's strength: of the greatest, and of the least it may have."""
        return self.stress_mpa / self.strength_mpa[1], self.stress_mpa / self.strength_mpa[0]

    def dominant(self, string: int) -> tuple[tuple[str, float], ...]:
        """Inputs by their share of one string's variance, greatest first: (key, share)."""
        ranked = [(key, float(share[string])) for key, share in self.shares.items()]
        return tuple(sorted(ranked, key=lambda pair: -pair[1]))

    def why(self, string: int) -> tuple[str, ...]:
        """How one string's setback came about, in sentences."""
        spec, core = self.problem.specs[string], self.problem.specs[string].core_estimate
        twelfth = self.cents_uncompensated[string, TWELFTH]
        (first, most), (second, next_most) = self.dominant(string)[:2]
        by = "the 12th fret equals the harmonic" if self.criterion == "12th fret" else "all frets err least"
        return (
            f"{spec.name}: mass {1e3 * self.mass_kg_m[string]:.3f} g/m, tension {self.tension_n[string]:.1f} N "
            "by the stiff string's formula",
            f"core {core.value:.3f} mm ± {core.sd:.3f} ({core.source}); stress {self.stress_mpa[string]:.0f} MPa, "
            f"{100 * self.strength_share[1][string]:.0f} % of the least strength of its wire (ASTM A228)",
            f"with the saddle on the scale line the 12th fret is {twelfth:.1f} cents sharp; {by} with the saddle "
            f"{self.setback[string]:.2f} mm back, ± {self.sd[string]:.2f} mm (standard deviation)",
            f"most of that spread is {_WORDS[first]} ({100 * most:.0f} %), then {_WORDS[second]} ({100 * next_most:.0f} %)",
        )


_STEP = 0.2
"""Step of the differences, in standard deviations."""


def sensitivities(stated: Problem, criterion: Criterion = "12th fret") -> dict[str, Floats]:
    """Change of each string's setback per unit of each input, by central differences, one batched call.

    A string's setback depends on its own inputs only, so all strings are stepped at once.
    """
    rows = 2 * len(stated.inputs)
    values = {e.key: np.repeat(e.value[np.newaxis], rows, axis=0) for e in stated.inputs}
    for i, entry in enumerate(stated.inputs):
        values[entry.key][2 * i] += _STEP * entry.sd
        values[entry.key][2 * i + 1] -= _STEP * entry.sd
    setback = stated.setback(values, criterion)
    rates = {}
    for i, entry in enumerate(stated.inputs):
        change, width = setback[2 * i] - setback[2 * i + 1], 2 * _STEP * entry.sd
        rates[entry.key] = np.divide(change, width, out=np.zeros_like(change), where=width > 0)
    return rates


def covariance_from(
    stated: Problem, rates: Mapping[str, Floats], *, without_shop: bool = False
) -> tuple[Floats, dict[str, Floats]]:
    """Covariance of the setbacks, mm², and the variance each input gives each string.

    Args:
        stated: the problem.
        rates: `sensitivities` of it.
        without_shop: leave out the three shop numbers, as for what a finished instrument shows beyond them.
    """
    strings = len(stated.specs)
    total, parts = np.zeros((strings, strings)), {}
    for entry in stated.inputs:
        if entry.key in SHOP_KEYS:
            continue
        moved = rates[entry.key] * entry.sd
        parts[entry.key] = moved**2
        total += np.outer(moved, moved) if entry.shared else np.diag(moved**2)
    if without_shop:
        return total, parts
    slopes = np.stack([rates[key] for key in SHOP_KEYS], axis=-1)
    shared = slopes @ np.asarray(stated.shop.covariance)
    for i, key in enumerate(SHOP_KEYS):
        parts[key] = shared[:, i] * slopes[:, i]
    return total + shared @ slopes.T, parts


def predict(
    specs: Sequence[StringSpec], setup: Setup, shop: Shop = PRIOR, criterion: Criterion = "12th fret"
) -> Prediction:
    """Saddle setbacks, their spread and whose doing it is, tensions and pitches of a set of strings.

    The spread is linear: each input's standard deviation times the rate at which the setback answers.

    Args:
        specs: the strings, treble first.
        setup: the instrument.
        shop: what the shop knows.
        criterion: "12th fret" sets the fretted 12th equal to the harmonic, "all frets" makes the sum of the
            squared cents over all frets least.

    Raises:
        StringsError: something about the strings cannot be.
    """
    stated = problem(specs, setup, shop)
    values = stated.nominal()
    wires, playing, _ = stated.realise(values)
    setback = stated.setback(values, criterion)
    covariance, parts = covariance_from(stated, sensitivities(stated, criterion))
    variance = np.diag(covariance)
    tension = open_tension_n(wires, stated.board, playing, setback)
    core = np.array([s.core_estimate.value for s in specs])
    return Prediction(
        problem=stated,
        criterion=criterion,
        setback=setback,
        sd=np.sqrt(variance),
        covariance=covariance,
        shares={entry.key: parts[entry.key] / variance for entry in stated.inputs},
        mass_kg_m=wires.mass_kg_m,
        tension_n=tension,
        stress_mpa=tension / (stated.made.area_factor * core**2),
        strength_mpa=tables.music_wire_strength_mpa(core),
        inharmonicity=inharmonicity(
            tension, open_length(stated.board, playing, setback), wires.bend_n_mm2, playing.end_condition
        ),
        cents=fretted_cents(wires, stated.board, playing, setback),
        cents_uncompensated=fretted_cents(wires, stated.board, playing, np.zeros(len(specs))),
    )


@dataclass(frozen=True)
class Trials:
    """Many trial builds of one instrument.

    Attributes:
        setback: saddle setbacks, mm, shape (builds, strings).
        cents_mean: mean of the cents each fretted note is sharp, shape (strings, frets).
        cents_sd: standard deviation of those.
    """

    setback: Floats
    cents_mean: Floats
    cents_sd: Floats

    @cached_property
    def mean(self) -> Floats:
        """Mean setback of each string, mm."""
        return np.asarray(self.setback.mean(axis=0))

    @cached_property
    def sd(self) -> Floats:
        """Standard deviation of each string's setback, mm."""
        return np.asarray(self.setback.std(axis=0))

    @cached_property
    def covariance(self) -> Floats:
        """Covariance of the setbacks, mm²."""
        return np.atleast_2d(np.cov(self.setback, rowvar=False))

    def quantile(self, share: float) -> Floats:
        """Setback that the given share of builds stays under, mm."""
        return np.asarray(np.quantile(self.setback, share, axis=0))


def draw(stated: Problem, builds: int, random: np.random.Generator) -> dict[str, Floats]:
    """Input values of so many trial builds: (builds, 1 or strings) for what varies, (strings,) for the rest."""
    values = stated.nominal()
    root = np.linalg.cholesky(np.asarray(stated.shop.covariance) + 1e-18 * np.eye(len(SHOP_KEYS)))
    shop = random.standard_normal((builds, len(SHOP_KEYS))) @ root.T
    for i, key in enumerate(SHOP_KEYS):
        values[key] = stated.shop.mean[i] + shop[:, i : i + 1]
    for entry in stated.inputs:
        if entry.key in SHOP_KEYS or not np.any(entry.sd):
            continue
        width = 1 if entry.shared else len(stated.specs)
        values[entry.key] = entry.value + entry.sd * random.standard_normal((builds, width))
    return values


def work_builds(stated: Problem, values: Mapping[str, Floats]) -> tuple[Floats, Floats]:
    """Setbacks at the 12th-fret criterion, and cents at every fret, of builds with the given input values.

    Returns:
        Setbacks of shape (..., strings), mm; cents sharp of shape (..., strings, frets).
    """
    wires, playing, reading = stated.realise(values)
    setback = bench_setback(wires, stated.board, playing, reading)
    return setback, fretted_cents(wires, stated.board, playing, setback)


def _work_chunk(stated: Problem, builds: int, seed: np.random.SeedSequence) -> tuple[Floats, Floats, Floats]:
    values = draw(stated, builds, np.random.default_rng(seed))
    setback = np.empty((builds, len(stated.specs)))
    first = second = np.zeros((len(stated.specs), stated.board.cents.size))
    for start in range(0, builds, _BLOCK):
        some = slice(start, start + _BLOCK)
        block = {key: v[some] if v.ndim == 2 else v for key, v in values.items()}
        setback[some], cents = work_builds(stated, block)
        first = first + cents.sum(axis=0)
        second = second + (cents * cents).sum(axis=0)
    return setback, first, second


def try_builds(
    specs: Sequence[StringSpec],
    setup: Setup,
    shop: Shop = PRIOR,
    *,
    builds: int = 20_000,
    seed: int = 1,
    workers: int = 2,
) -> Trials:
    """Build the instrument many times over, each time with other inputs from their spreads.

    The same seed gives the same trials whatever the number of workers.

    Args:
        specs: the strings, treble first.
        setup: the instrument.
        shop: what the shop knows.
        builds: number of trial builds.
        seed: start of the random numbers.
        workers: threads to work with.

    Raises:
        StringsError: something about the strings cannot be, stated or as chance made them.
    """
    stated = problem(specs, setup, shop)
    sizes = [min(CHUNK, builds - start) for start in range(0, builds, CHUNK)]
    seeds = np.random.SeedSequence(seed).spawn(len(sizes))
    with ThreadPoolExecutor(max_workers=workers) as pool:
        done = list(pool.map(lambda task: _work_chunk(stated, *task), zip(sizes, seeds, strict=True)))
    mean = np.sum([first for _, first, _ in done], axis=0) / builds
    square = np.sum([second for _, _, second in done], axis=0) / builds
    return Trials(
        setback=np.concatenate([setback for setback, _, _ in done]),
        cents_mean=mean,
        cents_sd=np.sqrt(np.maximum(0.0, square - mean**2)),
    )
