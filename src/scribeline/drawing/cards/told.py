"""How a step card tells lengths: the job's unit first, the second as fine as the card's gate asks."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from scribeline.lengths import (
    JobUnit,
    both_units,
    by_inches,
    decimals,
    inch_fraction,
    inch_text,
    rounding_note,
)
from scribeline.plan import Plan
from scribeline.steps import Card, Gate


@dataclass(frozen=True, slots=True)
class Told:
    """How a card tells lengths.

    Attributes:
        unit: the job's.
        gate: the card's.
    """

    unit: JobUnit = "mm"
    gate: Gate | None = None

    @classmethod
    def on(cls, plan: Plan, card: Card) -> Told:
        """As a card of a plan tells them."""
        return cls(plan.unit, card.gate)

    def __call__(self, mm: float) -> tuple[str, str]:
        """A length, and the same in the second unit."""
        return _two_units(mm, self.gate, self.unit)

    def figure(self, mm: float) -> tuple[str, str]:
        """A length that is set or read: where a fraction eats too much of the tolerance the decimal stands beside it."""
        big, small = Told(self.unit)(mm)
        if not too_coarse(mm, self.gate):
            return big, small
        return self(mm) if by_inches(self.unit) else (big, f"{small}, {inch_text(mm)}")

    def exactly(self, mm: float) -> tuple[str, str]:
        """A length that no rule's marks will do for."""
        return decimals(mm, self.unit)


@cache
def _two_units(mm: float, gate: Gate | None, unit: JobUnit) -> tuple[str, str]:
    """Millimetres and the inch fraction, or decimal inches where the fraction is too coarse for the card's gate.

    In an inch job thousandths come first, and millimetres alone stand beside them where the fraction is too coarse.
    """
    return decimals(mm, unit) if too_coarse(mm, gate) else both_units(mm, unit)


def too_coarse(mm: float, gate: Gate | None) -> bool:
    """Whether a length's inch fraction is off by more than a third of the tolerance of a card's gate.

    The tolerance is half the gate's band, or its narrower side where the reading wanted is not in the middle.
    """
    if gate is None or gate.value is None or gate.low is None or gate.high is None:
        return False
    sides = (gate.value - gate.low, gate.high - gate.value)
    tolerance = min(sides) if min(sides) > 0 else sum(sides) / 2
    return tolerance > 0 and rounding_note(inch_fraction(mm).error_mm, tolerance) is not None
