"""Saddle places with their spread.

The spread of a result is found by putting changed inputs through the very formulas that give the result: by
differences, one input at a time, which also tells whose doing it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from scribeline import tables
from scribeline.strings.fretting import (
    TWELFTH,
    fretted_cents,
    least_squares_setback,
    nut_and_saddle,
    open_length,
    open_tension_n,
)
from scribeline.strings.inputs import (
    CORE,
    OFFSET,
    PRIOR,
    SHOP_KEYS,
    WORDS,
    Criterion,
    Problem,
    Setup,
    Shop,
    problem,
)
from scribeline.strings.spec import Floats, StringSpec
from scribeline.strings.stiff import inharmonicity


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
            f"most of that spread is {WORDS[first]} ({100 * most:.0f} %), then {WORDS[second]} ({100 * next_most:.0f} %)",
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
    keys, slopes, covariance = stated.learnt(rates)
    shared = slopes @ covariance
    for i, key in enumerate(keys):
        parts[key] = parts.get(key, 0.0) + shared[:, i] * slopes[:, i]
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
    shift = stated.nut_shift
    tension = open_tension_n(wires, stated.board, playing, setback, shift)
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
            tension,
            open_length(stated.board, playing, setback, shift),
            wires.bend_n_mm2,
            playing.end_condition,
        ),
        cents=fretted_cents(wires, stated.board, playing, setback, shift),
        cents_uncompensated=fretted_cents(wires, stated.board, playing, np.zeros(len(specs)), shift),
    )


def roots_of_spread(found: Prediction, of_set: str = "") -> tuple[dict[str, float], ...]:
    """What each root of the doubt adds to every string's standard deviation, mm, with its sign, by the root's name.

    Roots that move all strings are named alike for all, so that strings are known to move together: products summed
    over the roots are the covariance. A shop's three numbers that were learnt together are told as three roots that
    are not (the columns of the Cholesky factor of their covariance).

    Args:
        found: the setbacks.
        of_set: begins the names of what another set of strings on the same instrument has for its own.
    """
    stated, strings = found.problem, range(len(found.setback))
    rates = sensitivities(stated, found.criterion)
    _, slopes, covariance = stated.learnt(rates)
    learnt = slopes @ np.linalg.cholesky(covariance + 1e-18 * np.eye(len(covariance)))
    further = () if stated.shop.further is None else stated.shop.further.keys
    alike = {OFFSET: "saddles-alike", CORE: "cores-alike"}
    named = (*SHOP_KEYS, *(alike.get(key, f"core-of-{key}".replace(" ", "-")) for key in further))
    adds = {f"strings.{key}": learnt[:, i] for i, key in enumerate(named)}
    adds |= {
        f"strings.{each.key}": rates[each.key] * each.sd
        for each in stated.inputs
        if each.shared and each.key not in (*SHOP_KEYS, OFFSET)
    }
    own = {each.key: rates[each.key] * each.sd for each in stated.inputs if not each.shared}
    return tuple(
        {
            root: float(parts[i])
            for root, parts in (*adds.items(), *((_root_name(key, i, of_set), own[key]) for key in own))
            if parts[i] != 0
        }
        for i in strings
    )


def _root_name(key: str, string: int, of_set: str) -> str:
    of_the_instrument = key in {"action", "nut_height"}
    return f"{'' if of_the_instrument else of_set}string-{string + 1}.{key}"


@dataclass(frozen=True)
class NutCompensation:
    """Nut and saddle placed together. Arrays over the strings, treble first.

    Attributes:
        nut_shift: nut towards the bridge, mm.
        setback: saddles past the scale line, mm.
        cents: cents each fretted note is then sharp, shape (strings, frets).
        cents_saddle_alone: the same with the nut on its line and the saddle at its own best.
    """

    nut_shift: Floats
    setback: Floats
    cents: Floats
    cents_saddle_alone: Floats


def compensate_nut(specs: Sequence[StringSpec], setup: Setup, shop: Shop = PRIOR) -> NutCompensation:
    """Nut shift and setback that together make the sum of the squared cents over all frets least.

    Args:
        specs: the strings, treble first.
        setup: the instrument; its own `nut_shift` is not used.
        shop: what the shop knows.

    Raises:
        StringsError: something about the strings cannot be.
    """
    stated = problem(specs, setup, shop)
    wires, playing, _ = stated.realise(stated.nominal())
    alone = least_squares_setback(wires, stated.board, playing)
    shift, setback = nut_and_saddle(wires, stated.board, playing)
    return NutCompensation(
        shift,
        setback,
        fretted_cents(wires, stated.board, playing, setback, shift),
        fretted_cents(wires, stated.board, playing, alone),
    )
