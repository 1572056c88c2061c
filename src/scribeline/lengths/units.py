"""The units that a job may be stated in and a shop reads: everything that asks for a unit asks this table."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from scribeline.lengths.drills import MM_PER_INCH

JobUnit = Literal["mm", "in"]
"""The units a job may be stated in, and that a shop is told lengths in."""


@dataclass(frozen=True, slots=True)
class ShopUnit:
    """A unit of lengths as a shop reads it.

    Attributes:
        name: in full, as a choice is worded.
        short: as a heading has it, where "in" by itself would be taken for a word.
        mm: millimetres in it.
        places: decimals that serve for hundredths of a millimetre.
        second: the unit that stands beside it.
        by_inches: whether it goes with rules in 64ths, bits in fractions, and paper in inches.
    """

    name: str
    short: str
    mm: Fraction
    places: int
    second: JobUnit
    by_inches: bool = False

    def of(self, mm: float) -> float:
        """Millimetres in this unit."""
        return mm if self.mm == 1 else float(Fraction(mm) / self.mm)

    def finer(self, places: int) -> int:
        """Decimals as fine as so many of millimetres; on a scale in inches thousandths serve for all."""
        return self.places if self.by_inches else self.places + places - 2


UNITS: dict[JobUnit, ShopUnit] = {
    "mm": ShopUnit("millimetres", "mm", Fraction(1), 2, "in"),
    "in": ShopUnit("inches", "inches", MM_PER_INCH, 3, "mm", by_inches=True),
}
"""By the name that a job gives them."""


def job_unit(stated: object) -> JobUnit:
    """The unit that a text names, whatever state it is in: millimetres where it names none of a job's."""
    return stated if isinstance(stated, str) and stated in UNITS else "mm"


def by_inches(unit: JobUnit) -> bool:
    """Whether a shop goes by inches: rules in 64ths, bits in fractions."""
    return UNITS[unit].by_inches


def unit_words(unit: JobUnit) -> tuple[str, str]:
    """How a heading names a job's unit and the one beside it: ("mm", "inches")."""
    own = UNITS[unit]
    return own.short, UNITS[own.second].short
