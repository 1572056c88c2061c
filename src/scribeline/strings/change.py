"""What a new set of strings does to an instrument that is already built."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

import numpy as np

from scribeline.strings.inputs import PRIOR, SHOP_KEYS, Setup, Shop
from scribeline.strings.spec import Floats, StringsError, StringSpec
from scribeline.strings.spread import Prediction, predict, sensitivities
from scribeline.strings.window import Saddles, Wanted, beyond

# A change of pull under this share is lost in the weather's own changes to a neck: from memory.
_NOTICEABLE = 0.02

# Inputs that belong to the instrument: they stay as they are when the strings change.
_STAYS = frozenset({"action", "nut_height", "relief", "free_length", *SHOP_KEYS})


@dataclass(frozen=True, slots=True)
class Vibrato:
    """A sprung vibrato's levers, measured from its pivot.

    Attributes:
        string_lever: pivot to the strings' line over the saddles, square to the strings, mm.
        spring_lever: pivot to the springs' line at the block, square to the springs, mm.
        springs: number of springs fitted.
    """

    string_lever: float
    spring_lever: float
    springs: int

    def __post_init__(self) -> None:
        """Refuse what no vibrato has."""
        if not (0 < self.string_lever < inf and 0 < self.spring_lever < inf and self.springs > 0):
            raise StringsError(
                "a vibrato's levers are lengths over 0 mm and it has at least one spring; measure both levers"
            )


@dataclass(frozen=True, slots=True)
class Balance:
    """Pull of the springs that holds a vibrato level, N: strings' pull × string lever / spring lever.

    Attributes:
        before_n: all springs together, old set.
        after_n: the same, new set.
        springs: number of springs.
    """

    before_n: float
    after_n: float
    springs: int

    @property
    def each_n(self) -> float:
        """What each spring has to pull with the new set, N."""
        return self.after_n / self.springs

    @property
    def advice(self) -> str:
        """What to do at the claw, in words."""
        change = self.after_n - self.before_n
        if abs(change) < _NOTICEABLE * self.before_n:
            return "the springs may stay as they are"
        verb = "tighten" if change > 0 else "slacken"
        return (
            f"{verb} the claw until the springs pull {abs(change):.0f} N {'more' if change > 0 else 'less'} together "
            f"({self.each_n:.0f} N each with {self.springs})"
        )


@dataclass(frozen=True)
class StringChange:
    """What changes with a new set. Arrays over the strings, treble first.

    Attributes:
        before: prediction for the old set.
        after: prediction for the new set.
        tension_change_n: new tension less old, N.
        saddle_move: how far each saddle moves, mm; positive is back, towards the tail.
        saddle_move_sd: standard deviation of that: what stays on the instrument drops out of it.
        saddle_after: where each saddle is expected to end up, mm past the scale line.
        slot_widening: how much wider each nut slot has to be, mm; 0 where the new string is no thicker.
        travel_forward: travel left towards the nut afterwards, mm; None where no bridge was stated.
        travel_back: the same towards the tail.
        misses: each string's chance of running out of travel; None where no bridge was stated.
        balance: the vibrato's springs; None where none was stated.
    """

    before: Prediction
    after: Prediction
    tension_change_n: Floats
    saddle_move: Floats
    saddle_move_sd: Floats
    saddle_after: Floats
    slot_widening: Floats
    travel_forward: Floats | None
    travel_back: Floats | None
    misses: Floats | None
    balance: Balance | None

    @property
    def pull_change_n(self) -> float:
        """Change of the whole pull on the neck, N."""
        return self.after.pull_n - self.before.pull_n

    @property
    def relief(self) -> str:
        """Which way the relief goes: "more", "less" or "as before"."""
        share = self.pull_change_n / self.before.pull_n
        if abs(share) < _NOTICEABLE:
            return "as before"
        return "more" if share > 0 else "less"

    @property
    def relief_advice(self) -> str:
        """What to do at the rod, in words."""
        if self.relief == "as before":
            return "the pull hardly changes: check the relief, expect it as before"
        turn = "tighten" if self.relief == "more" else "slacken"
        return (
            f"the strings pull {abs(self.pull_change_n):.0f} N {self.relief}: the neck bows to {self.relief} relief; "
            f"{turn} the rod after a day at pitch"
        )

    @property
    def travel_suffices(self) -> bool | None:
        """Whether every saddle reaches its place; None where no bridge was stated."""
        if self.travel_forward is None or self.travel_back is None:
            return None
        return bool(np.all(self.travel_forward >= 0) and np.all(self.travel_back >= 0))


def change_strings(
    before: Sequence[StringSpec],
    after: Sequence[StringSpec],
    setup: Setup,
    shop: Shop = PRIOR,
    *,
    saddles_now: Sequence[float] | None = None,
    bridge: Saddles | None = None,
    front_edge: float = 0.0,
    slope: float = 0.0,
    vibrato: Vibrato | None = None,
) -> StringChange:
    """Compare two sets on one instrument.

    Args:
        before: the old set, treble first.
        after: the new one.
        setup: the instrument, with the action kept as it is.
        shop: what the shop knows.
        saddles_now: measured places of the saddles with the old set in tune, mm past the scale line; they
            win over the prediction, which then says only how far each moves.
        bridge: the saddles' stops, to see whether travel suffices.
        front_edge: the plate's front edge as it is screwed down, mm past the scale line.
        slope: the plate's turn, mm along per mm across.
        vibrato: levers of a sprung vibrato.

    Raises:
        StringsError: the sets differ in number, or something about the strings cannot be.
    """
    n = len(before)
    if len(after) != n:
        raise StringsError(
            f"the old set has {n} strings and the new one {len(after)}; list one for each saddle"
        )
    if saddles_now is not None and len(saddles_now) != n:
        raise StringsError(f"saddles_now lists {len(saddles_now)} places for {n} strings; list one a string")
    old, new = predict(before, setup, shop), predict(after, setup, shop)
    move = new.setback - old.setback
    start = old.setback if saddles_now is None else np.asarray(saddles_now, dtype=np.float64)
    place = start + move
    sd = _move_sd(old, new)
    place_sd = new.sd if saddles_now is None else sd
    forward = back = misses = None
    if bridge is not None:
        forward, back, misses = _travel(place, place_sd, bridge, front_edge, slope)
    return StringChange(
        before=old,
        after=new,
        tension_change_n=new.tension_n - old.tension_n,
        saddle_move=move,
        saddle_move_sd=sd,
        saddle_after=place,
        slot_widening=np.maximum(0.0, [b.gauge - a.gauge for a, b in zip(before, after, strict=True)]),
        travel_forward=forward,
        travel_back=back,
        misses=misses,
        balance=None if vibrato is None else _balance(old, new, vibrato),
    )


def _move_sd(old: Prediction, new: Prediction) -> Floats:
    """Spread of the difference: what both sets share counts by how differently they answer to it."""
    before, after = sensitivities(old.problem), sensitivities(new.problem)
    _, of_old, covariance = old.problem.learnt(before)
    _, of_new, _ = new.problem.learnt(after)
    variance: Floats = np.einsum("si,ij,sj->s", of_new - of_old, covariance, of_new - of_old)
    for was, now in zip(old.problem.inputs, new.problem.inputs, strict=True):
        if was.key in SHOP_KEYS:
            continue
        if was.key in _STAYS or was.shared:
            variance += (after[now.key] * now.sd - before[was.key] * was.sd) ** 2
        else:
            variance += (after[now.key] * now.sd) ** 2 + (before[was.key] * was.sd) ** 2
    return np.sqrt(variance)


def _travel(
    place: Floats, sd: Floats, bridge: Saddles, front_edge: float, slope: float
) -> tuple[Floats, Floats, Floats]:
    forward_stop, back_stop = bridge.stops()
    if len(forward_stop) != len(place):
        raise StringsError(
            f"there are {len(place)} strings and the bridge has {len(forward_stop)} saddles; list one saddle a string"
        )
    front = front_edge + slope * np.asarray(bridge.y, dtype=np.float64)
    forward, back = place - front - forward_stop, front + back_stop - place
    return forward, back, beyond(forward, sd) + beyond(back, sd)


def _balance(old: Prediction, new: Prediction, vibrato: Vibrato) -> Balance:
    ratio = vibrato.string_lever / vibrato.spring_lever
    return Balance(old.pull_n * ratio, new.pull_n * ratio, vibrato.springs)


def wanted(name: str, found: Prediction) -> Wanted:
    """A prediction as the bridge window wants it."""
    return Wanted(name, tuple(found.setback.tolist()), tuple(found.sd.tolist()))
