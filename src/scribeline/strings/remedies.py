"""What to do when no place gives every saddle its reserve: each remedy tried and computed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import degrees

import numpy as np

from scribeline.lengths import MM_PER_INCH, said
from scribeline.strings.change import wanted
from scribeline.strings.faults import gauge_text
from scribeline.strings.inputs import PRIOR, Setup, Shop
from scribeline.strings.spec import Estimate, StringsError, StringSpec, estimate, making, wound_mass
from scribeline.strings.spread import Prediction, predict
from scribeline.strings.window import Saddles, Window, place_bridge

_THOU = float(MM_PER_INCH) / 1000
_MOST_GAUGE_CHANGE = 0.3
"""Greatest change of a gauge tried either way, as a share of it: beyond, it is another string."""

_WORTH_IT = 0.05
"""Reserve gained, mm, from which a remedy that does not open the window is worth a line."""

STEEPEST = 0.12
"""Greatest slope offered, 6.8 degrees: more looks wrong and loads the saddles sideways (from memory)."""


@dataclass(frozen=True, slots=True)
class Remedy:
    """One way out.

    Attributes:
        kind: "travel", "gauge", "wound third", "slant" or "reserve".
        fits: True when the window is open after it.
        value: its number: travel in mm, gauge in mm, slant in degrees, reserve in mm.
        words: the remedy with its numbers.
        window: the window after it.
    """

    kind: str
    fits: bool
    value: float
    words: str
    window: Window


@lru_cache(maxsize=64)
def _prediction(specs: tuple[StringSpec, ...], setup: Setup, shop: Shop) -> Prediction:
    """The sets that a remedy leaves alone are worked once."""
    return predict(specs, setup, shop)


@dataclass(frozen=True)
class Sets:
    """String sets an instrument shall take, with what is needed to place its bridge for all of them.

    Attributes:
        specs: the sets by name, each treble first.
        setup: the instrument.
        saddles: the bridge.
        shop: what the shop knows.
        reserve: travel to keep in hand at each end, mm.
        deviations: standard deviations of spread to cover.
    """

    specs: Mapping[str, Sequence[StringSpec]]
    setup: Setup
    saddles: Saddles
    shop: Shop = PRIOR
    reserve: float = 1.0
    deviations: float = 1.0

    def window(self, *, steepest: float = 0.0, saddles: Saddles | None = None) -> Window:
        """The window over all sets."""
        found = [
            wanted(name, _prediction(tuple(specs), self.setup, self.shop))
            for name, specs in self.specs.items()
        ]
        return place_bridge(
            found,
            saddles or self.saddles,
            reserve=self.reserve,
            deviations=self.deviations,
            steepest=steepest,
        )

    def with_string(self, name: str, string: int, spec: StringSpec) -> Sets:
        """The same with one string of one set replaced; string counts from 0."""
        strings = list(self.specs[name])
        strings[string] = spec
        return replace(self, specs={**self.specs, name: tuple(strings)})


def remedies(sets: Sets) -> tuple[Remedy, ...]:
    """Ways out of an empty window, those that open it first; none when it is open already.

    Args:
        sets: the string sets and the bridge.

    Raises:
        StringsError: something about the strings cannot be.
    """
    window = sets.window()
    if not window.is_empty:
        return ()
    found = [_travel(sets, window), *_gauges(sets, window), *_wound(sets, window), _slant(sets)]
    if window.reserve > 0:
        found.append(
            Remedy(
                "reserve",
                True,
                window.reserve,
                f"keep {said(window.reserve)} of travel in hand instead of {said(sets.reserve)}, at your own risk: the worst "
                f"string then has a chance of {100 * window.worst_miss:.1f} % to run out of travel",
                replace(window, wanted_reserve=window.reserve),
            )
        )
    return tuple(sorted(found, key=lambda remedy: not remedy.fits))


def _travel(sets: Sets, window: Window) -> Remedy:
    forward, back = sets.saddles.stops()
    more = window.shortage
    longer = Saddles(tuple((forward - more / 2).tolist()), tuple((back + more / 2).tolist()), sets.saddles.y)
    travel = float((back - forward).min()) + more
    return Remedy(
        "travel",
        True,
        travel,
        f"use a bridge whose saddles travel {said(travel)}, {said(more)} more than this one's",
        sets.window(saddles=longer),
    )


def _limiting(sets: Sets, window: Window) -> tuple[tuple[str, int], tuple[str, int]]:
    """The strings that limit the window, as (set, string): the one furthest back, the one furthest forward."""
    front, rear = window.limited_by[0] - 1, window.limited_by[1] - 1
    found = {name: _prediction(tuple(specs), sets.setup, sets.shop) for name, specs in sets.specs.items()}
    reach = {
        name: (p.setback - sets.deviations * p.sd, p.setback + sets.deviations * p.sd)
        for name, p in found.items()
    }
    rear_set = max(found, key=lambda name: reach[name][1][rear])
    front_set = min(found, key=lambda name: reach[name][0][front])
    return (rear_set, rear), (front_set, front)


def _gauges(sets: Sets, window: Window) -> list[Remedy]:
    """The smallest change of each limiting string's gauge that opens the window, or the best there is.

    Either way is tried. A plain string's stretch does not ask for its gauge at all (its stress does not), so
    that plain strings seldom offer a remedy here; a wound one's does, by its core's share of its mass.
    """
    found = []
    for name, string in _limiting(sets, window):
        spec = sets.specs[name][string]
        best = _best_gauge(sets, name, string)
        if best is not None and best[1].reserve > window.reserve + _WORTH_IT:
            found.append(_gauge_remedy(name, string, spec, *best))
    return found


def _best_gauge(sets: Sets, name: str, string: int) -> tuple[float, Window] | None:
    spec, best = sets.specs[name][string], None
    most = int(_MOST_GAUGE_CHANGE * spec.gauge / _THOU)
    for thou in sorted((n for n in range(-most, most + 1) if n), key=abs):
        gauge = spec.gauge + thou * _THOU
        try:
            changed = sets.with_string(name, string, _in_gauge(spec, gauge)).window()
        except StringsError:
            continue
        if not changed.is_empty:
            return gauge, changed
        if best is None or changed.reserve > best[1].reserve + 1e-9:
            best = (gauge, changed)
    return best


def _in_gauge(spec: StringSpec, gauge: float) -> StringSpec:
    """The same string in another gauge: a stated core grows or shrinks with it, a weighed mass no longer holds."""
    core = spec.core
    if core is not None:
        known = estimate(core)
        core = Estimate(known.value * gauge / spec.gauge, known.sd, "scaled with the gauge")
    return replace(spec, gauge=gauge, core=core, mass_kg_m=None)


def _gauge_remedy(name: str, string: int, spec: StringSpec, gauge: float, window: Window) -> Remedy:
    direction = "thinner" if gauge < spec.gauge else "thicker"
    outcome = (
        "makes room" if not window.is_empty else f"is not enough: still short by {said(window.shortage)}"
    )
    return Remedy(
        "gauge",
        not window.is_empty,
        gauge,
        f"a {direction} string {string + 1} in {name}, {gauge_text(gauge)} instead of {gauge_text(spec.gauge)}, {outcome}",
        window,
    )


def _wound(sets: Sets, window: Window) -> list[Remedy]:
    """A wound string of the same mass instead of the plain one that wants its saddle furthest back."""
    name, string = _limiting(sets, window)[0]
    spec = sets.specs[name][string]
    if not spec.is_plain:
        return []
    wound = _wound_like(spec)
    if wound is None:
        return []
    try:
        changed = sets.with_string(name, string, wound).window()
    except StringsError:  # too slack to be brought into tune
        return []
    if changed.reserve <= window.reserve + _WORTH_IT:
        return []
    outcome = (
        "makes room" if not changed.is_empty else f"is not enough: still short by {said(changed.shortage)}"
    )
    return [
        Remedy(
            "wound third" if string == 2 else "wound string",
            not changed.is_empty,
            wound.gauge,
            f"a wound string {string + 1} in {name}, {gauge_text(wound.gauge)} instead of the plain "
            f"{gauge_text(spec.gauge)} (the same pull), {outcome}",
            changed,
        )
    ]


def _wound_like(spec: StringSpec) -> StringSpec | None:
    """A wound string whose mass, and so its pull at the same pitch, comes nearest to a plain one's.

    None where no wrap has room on a core so thin.
    """
    tried = []
    for step in range(1, 9):
        gauge = round(spec.gauge / _THOU + step) * _THOU
        try:
            tried.append(replace(spec, gauge=gauge, construction="round-wound", mass_kg_m=None))
        except StringsError:
            continue
    plain = _mass(spec)
    return min(tried, key=lambda wound: abs(_mass(wound) - plain), default=None)


def _mass(spec: StringSpec) -> float:
    gauge, core = np.array([spec.gauge]), np.array([spec.core_estimate.value])
    return float(wound_mass(making([spec]), gauge, core, core_density=7850.0, wrap_density=7900.0)[0])


def _slant(sets: Sets) -> Remedy:
    window = sets.window(steepest=STEEPEST)
    angle = -degrees(window.yaw_rad)
    across = max(sets.saddles.y) - min(sets.saddles.y)
    side = "bass" if angle >= 0 else "treble"
    outcome = (
        "makes room" if not window.is_empty else f"is not enough: still short by {said(window.shortage)}"
    )
    return Remedy(
        "slant",
        not window.is_empty,
        angle,
        f"slanting the bridge {abs(angle):.2f}°, the {side} side's outer saddle {said(abs(window.slope) * across)} further "
        f"back than the other, {outcome}",
        window,
    )
