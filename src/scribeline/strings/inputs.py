"""What is known about an instrument's strings, and how well: every uncertain number with its spread."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Literal

import numpy as np

from scribeline import tables
from scribeline.lengths import said
from scribeline.strings.frets import equal_temperament, fret_distances
from scribeline.strings.fretting import (
    TWELFTH,
    Board,
    Playing,
    Wires,
    bench_setback,
    least_squares_setback,
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

Criterion = Literal["12th fret", "all frets"]

SHOP_KEYS = ("end_condition", "finger_depth", "grip")
"""The three numbers no caliper gives, which a shop's finished instruments teach."""

WORDS = {
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
    "offset": "how far all of the shop's saddles stand off alike",
}

# How well the bench usually knows what it states without ±, and reads a tuner: from memory.
_USUAL_SD = {"action": 0.1, "nut_height": 0.05, "relief": 0.05}
_READING_CENTS = 0.7
_FREE_SHARE = 0.15

_MOST_NUT_SHIFT = 5.0
_LEAST = {"scale": 100.0, "free_length": 0.0, "nut_shift": -_MOST_NUT_SHIFT}


OFFSET, CORE = "offset", "core"
"""What a shop's records teach beside the three: how far all saddles stand off alike, mm; how much thicker its cores are than
estimated, in standard deviations of the estimate. Each make of string has its own further one."""

CORE_OWN = 0.2
CORE_COMMON = CORE_MAKE = sqrt((1 - CORE_OWN**2) / 2)
"""How the doubt of an estimated core is divided: what each string has for itself; what all cores of a shop share, and what every
string of one make shares. Squares add up to one. A string of a make differs from the next by little more than the wire does:
±0.0003 in (ASTM A228) on a core of 0.016 in is 1.1 %, and the estimate is good to 7 %. That the rest is halved has no source."""


@dataclass(frozen=True)
class Further:
    """What a shop's records teach beside the three numbers, and how all of it hangs together.

    Attributes:
        keys: `OFFSET`, `CORE`, then a make of string each (`make_of`).
        mean: of each, mm and standard deviations of the core's estimate.
        covariance: of the three numbers and these, in this order.
    """

    keys: tuple[str, ...]
    mean: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]


@dataclass(frozen=True)
class Shop:
    """What a shop knows of the three numbers no caliper gives: means and covariance, as for its next instrument.

    Attributes:
        mean: end condition, finger depth in mm, grip.
        covariance: 3 × 3.
        records: finished instruments behind it; 0 for the prior.
        doubted: what of them is doubted, a sentence a record.
        hand: whose hand it is for; "" for any of the shop's.
        further: what else was learnt; None for the prior.
    """

    mean: tuple[float, float, float]
    covariance: tuple[tuple[float, float, float], ...]
    records: int = 0
    doubted: tuple[str, ...] = ()
    hand: str = ""
    further: Further | None = None

    def __post_init__(self) -> None:
        """Refuse what no string does."""
        end, finger, grip = self.mean
        if not (0 <= end <= 1 and 0 <= grip <= 1 and finger >= 0):
            raise StringsError(
                f"end condition {end:g} and grip {grip:g} lie between 0 and 1, and the finger depth {said(finger, None)} "
                "is 0 or more"
            )

    @property
    def sd(self) -> tuple[float, float, float]:
        """Standard deviation of each."""
        end, finger, grip = (sqrt(self.covariance[i][i]) for i in range(3))
        return end, finger, grip

    @property
    def rests_on(self) -> str:
        """The records behind it in words; "" for the prior."""
        if not self.records:
            return ""
        number, doubted = self.records, len(self.doubted)
        words = f"{number} finished instrument{'' if number == 1 else 's'}"
        if doubted:
            words += f", {'it is' if number == 1 else f'{doubted} of them'} doubted"
        return words + (f", as {self.hand} sets them up" if self.hand else "")

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
        nut_shift: nut already moved towards the bridge: one or one a string; setbacks still count from the
            nut's own line.
        fret_places: fret crowns from the nut under each string, one row a string, where they are not the string's own
            series: of a fan.
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
    nut_shift: float | tuple[float, ...] = 0.0
    fret_places: tuple[tuple[float, ...], ...] | None = None

    @property
    def cents_over(self) -> Floats:
        """Cents of each fret over the open string."""
        if self.temperament_cents is None:
            return equal_temperament(self.frets)
        return np.asarray(self.temperament_cents, dtype=np.float64)

    def board(self, strings: int) -> Board:
        """The frets under so many strings."""
        scale = self._per_string("scale", self.scale, strings)
        cents = self.cents_over
        if len(cents) <= TWELFTH:
            raise StringsError(f"{len(cents)} frets are not enough: the 12th is needed to set the saddles by")
        if not 1 <= self.relief_fret <= len(cents):
            raise StringsError(f"relief_fret is {self.relief_fret}; the board has frets 1 to {len(cents)}")
        if not 0 < self.finger_place < 1:
            raise StringsError(
                f"finger_place is {self.finger_place:g}; it is a share of the space, between 0 and 1"
            )
        fret_x = fret_distances(scale, cents) if self.fret_places is None else np.array(self.fret_places)
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

    def shift(self, strings: int) -> Floats:
        """Nut moved towards the bridge, mm."""
        shift = self._per_string("nut_shift", self.nut_shift, strings)
        if np.any(np.abs(shift) > _MOST_NUT_SHIFT):
            raise StringsError(
                f"nut_shift is {said(shift.max(), None)}; a nut is moved by {said(_MOST_NUT_SHIFT, None)} at most"
            )
        return shift

    @staticmethod
    def _per_string(name: str, value: float | tuple[float, ...], strings: int) -> Floats:
        if isinstance(value, tuple) and len(value) != strings:
            raise StringsError(f"{name} lists {len(value)} lengths for {strings} strings; list one a string")
        lengths = np.broadcast_to(np.asarray(value, dtype=np.float64), (strings,))
        if not np.all(lengths >= _LEAST[name]):
            raise StringsError(
                f"{name} is {said(lengths.min(), None)}; it is a length of {said(_LEAST[name], None)} or more"
            )
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


def make_of(spec: StringSpec) -> str | None:
    """The make of a string whose core is estimated: strings of one make share that estimate's error. None for any other."""
    if spec.is_plain or spec.core is not None:
        return None
    return f"{spec.construction} {spec.wrap} {spec.core_shape} {spec.gauge:.2f}"


@dataclass(frozen=True)
class Problem:
    """A set of strings on an instrument, ready to be worked: the exact part and the uncertain inputs."""

    specs: tuple[StringSpec, ...]
    setup: Setup
    shop: Shop
    made: Making
    board: Board
    nut_shift: Floats
    inputs: tuple[Input, ...]

    def nominal(self) -> dict[str, Floats]:
        """Every input at its stated value."""
        return {entry.key: entry.value for entry in self.inputs}

    def learnt(self, rates: Mapping[str, Floats]) -> tuple[tuple[str, ...], Floats, Floats]:
        """What the shop's records teach in common for all strings.

        Args:
            rates: change of each setback per unit of each input.

        Returns:
            The key of the input that each learnt number moves, the change of each setback per unit of it of shape (strings,
            numbers), and the numbers' covariance.
        """
        slopes = [rates[key] for key in SHOP_KEYS]
        further = self.shop.further
        if further is None:
            return SHOP_KEYS, np.stack(slopes, axis=-1), np.asarray(self.shop.covariance)
        makes = [make_of(spec) for spec in self.specs]
        core = rates["core"] * core_doubt(self.specs)
        slopes.append(np.ones(len(self.specs)))
        slopes.append(core)
        slopes += [core * np.array([make == key for make in makes]) for key in further.keys[2:]]
        keys = (*SHOP_KEYS, OFFSET, *(CORE for _ in further.keys[1:]))
        return keys, np.stack(slopes, axis=-1), np.asarray(further.covariance)

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
            nut_height=values["nut_height"],
            action=values["action"],
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
            found = least_squares_setback(wires, self.board, playing, self.nut_shift)
        else:
            found = bench_setback(wires, self.board, playing, reading, self.nut_shift)
        return found + values[OFFSET] if OFFSET in values else found


def core_doubt(specs: Sequence[StringSpec]) -> Floats:
    """Standard deviation of each core that is estimated, mm; 0 for plain strings and stated cores."""
    return np.array([0.0 if make_of(spec) is None else spec.core_estimate.sd for spec in specs])


def _cores(specs: Sequence[StringSpec], shop: Shop) -> tuple[Floats, Floats]:
    """Each string's core as far as the shop knows it, and the standard deviation that it has for itself, mm."""
    cores = [spec.core_estimate for spec in specs]
    value = np.array([core.value for core in cores])
    sd = np.array([0.0 if spec.is_plain else core.sd for spec, core in zip(specs, cores, strict=True)])
    if shop.further is None:
        return value, sd
    means = dict(zip(shop.further.keys, shop.further.mean, strict=True))
    for i, make in enumerate(map(make_of, specs)):
        if make is not None:
            known = make in means
            value[i] += sd[i] * (means[CORE] + means.get(make, 0.0))
            sd[i] *= CORE_OWN if known else sqrt(CORE_OWN**2 + CORE_MAKE**2)
    return value, sd


def problem(specs: Sequence[StringSpec], setup: Setup, shop: Shop = PRIOR) -> Problem:
    """Put strings, instrument and shop together.

    Raises:
        StringsError: no strings, or the setup does not fit them.
    """
    if not specs:
        raise StringsError("there are no strings; list them from the treble")
    n = len(specs)
    core, core_sd = _cores(specs, shop)
    materials = [tables.string_material(s.core_material) for s in specs]
    wraps = [tables.string_material(s.wrap) for s in specs]
    masses = [_measured_mass(s) for s in specs]
    action, action_sd = setup.action(n)
    nut, relief = (estimate(getattr(setup, key), _USUAL_SD[key]) for key in ("nut_height", "relief"))
    free = setup.free(n)
    if not nut.value >= 0:
        raise StringsError(
            f"nut_height is {said(nut.value, None)}: a string below the fret plane lies on the first fret; raise the slot"
        )

    def entry(key: str, value: object, sd: object, *, shared: bool) -> Input:
        return Input(
            key,
            WORDS[key],
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
        entry("core", core, core_sd, shared=False),
        entry("core_density", [m.density_kg_m3 for m in materials], [m.density_sd_kg_m3 for m in materials], shared=True),
        entry("wrap_density", [w.density_kg_m3 for w in wraps], [w.density_sd_kg_m3 for w in wraps], shared=True),
        entry("packing", 1.0, [fill_sd(s) for s in specs], shared=False),
        entry("mass", [m.value for m in masses], [m.sd for m in masses], shared=False),
        entry("reading", 0.0, _READING_CENTS, shared=False),
        *(() if shop.further is None else (entry(OFFSET, shop.further.mean[0], 0.0, shared=True),)),
    )  # fmt: skip
    return Problem(tuple(specs), setup, shop, making(specs), setup.board(n), setup.shift(n), inputs)


def _measured_mass(spec: StringSpec) -> Estimate:
    """Mass by the scale, good to 1 % unless stated; nothing where it was not weighed."""
    if spec.mass_kg_m is None:
        return Estimate(0.0)
    if isinstance(spec.mass_kg_m, Estimate):
        return spec.mass_kg_m
    return Estimate(spec.mass_kg_m, 0.01 * spec.mass_kg_m, "weighed, good to 1 %")
