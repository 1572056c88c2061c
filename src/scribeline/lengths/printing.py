"""Printing lengths for the bench: millimetres, decimal inches, and fractions with their error.

A printed fraction is a rounded number. Every function here that rounds to a rule's marks gives back
the error it made, in millimetres, as shown minus true: positive when the printed figure is too long.
"""

import math
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from functools import lru_cache

from scribeline.lengths.drills import MM_PER_INCH
from scribeline.lengths.faults import LengthError
from scribeline.lengths.units import UNITS, JobUnit, by_inches

RULE_DENOMINATORS = (8, 16, 32, 64)
"""The finest marks that inch rules carry."""


def _finite(mm: float) -> float:
    if not math.isfinite(mm):
        raise LengthError(f"{mm} is not a length that can be printed")
    return mm


_NOISE = 9
"""Decimals of a float that arithmetic has not touched: 341.6449999999999 stands for 341.645."""


def decimal(value: float, places: int = 2) -> str:
    """Round a number once, for print: halves away from zero, so that one place is the same on every page.

    Two sums that come to one length differ in their last bits, and so on which side of a half they fall. What stands
    within a billionth of a half is a half here. "-0.00" would send someone looking for a direction that is not there.

    Args:
        value: the number.
        places: decimals shown.
    """
    exact = Decimal(repr(round(float(_finite(value)), _NOISE)))
    text = f"{exact.quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP):f}"
    return text.removeprefix("-") if float(text) == 0 else text


def mm_text(mm: float, places: int = 2) -> str:
    """Print millimetres, as in `14.20 mm`.

    Args:
        mm: The length in mm.
        places: Decimals shown; the rounding error is at most half of the last one.
    """
    return f"{decimal(_finite(mm), places)} mm"


def inch_text(mm: float, places: int = 3) -> str:
    """Print decimal inches, as in `0.559 in`.

    Args:
        mm: The length in mm.
        places: Decimals shown; the rounding error is at most half of the last one (three places:
            0.0005 in or 0.0127 mm).
    """
    return f"{in_figures(mm, 'in', places)} in"


@lru_cache(maxsize=4096)
def in_figures(mm: float, unit: JobUnit, places: int) -> str:
    """A length in a unit, without its name; a page tries many layouts with the same few lengths.

    Args:
        mm: The length in mm.
        unit: To print it in.
        places: Decimals shown.
    """
    return decimal(UNITS[unit].of(_finite(mm)), places)


def figure(mm: float, unit: JobUnit, places: int = 2) -> str:
    """A length in the shop's own unit, without its name: `14.20`, `0.559`.

    Args:
        mm: The length in mm.
        unit: The shop's.
        places: Decimals of millimetres; another unit has as many as are as fine.
    """
    return in_figures(mm, unit, UNITS[unit].finer(places))


@dataclass(frozen=True, slots=True)
class InchFraction:
    """A length rounded to the marks of an inch rule.

    The value shown is `whole + numerator / denominator` inches, in lowest terms; for a negative
    length both `whole` and `numerator` are zero or negative.

    Attributes:
        whole: Whole inches.
        numerator: Numerator of the rest.
        denominator: Denominator of the rest; 1 when there is no rest.
        error_mm: Shown minus true, in mm.
        text: `1-7/16 in`, `9/16 in`, `0 in`, `-3/8 in`.
    """

    whole: int
    numerator: int
    denominator: int
    error_mm: float
    text: str


def _round_half_away(value: Fraction) -> int:
    nearest = math.floor(abs(value) + Fraction(1, 2))
    return nearest if value >= 0 else -nearest


def _fraction_text(whole: int, rest: Fraction) -> str:
    if rest == 0:
        return f"{whole} in"
    sign = "-" if whole < 0 or rest < 0 else ""
    lead = f"{abs(whole)}-" if whole else ""
    return f"{sign}{lead}{abs(rest)} in"


@lru_cache(maxsize=4096)
def inch_fraction(mm: float, denominator: int = 64) -> InchFraction:
    """Round a length to the nearest mark of an inch rule; asked for as often as `inch_text`.

    Args:
        mm: The length in mm.
        denominator: The rule's finest mark: 8, 16, 32 or 64.

    Returns:
        The fraction in lowest terms with its error, which is at most half a mark: 0.198 mm for 64ths.
        A length exactly between two marks goes to the longer one.

    Raises:
        LengthError: No rule carries that denominator.
    """
    if denominator not in RULE_DENOMINATORS:
        raise LengthError(
            f"an inch rule is marked in 8ths, 16ths, 32nds or 64ths: {denominator} cannot be used"
        )
    true = Fraction(_finite(mm)) / MM_PER_INCH
    shown = Fraction(_round_half_away(true * denominator), denominator)
    whole = math.trunc(shown)
    rest = shown - whole
    error_mm = float((shown - true) * MM_PER_INCH)
    return InchFraction(whole, rest.numerator, rest.denominator, error_mm, _fraction_text(whole, rest))


def rounding_note(error_mm: float, tolerance_mm: float) -> str | None:
    """Warn when a rounded figure eats more than a third of the tolerance that applies.

    The third is common practice, no source: it leaves the builder two thirds for the work itself.

    Args:
        error_mm: Shown minus true, in mm.
        tolerance_mm: The tolerance either way, in mm; more than 0.

    Returns:
        A sentence, or None when the rounding does no harm.
    """
    if not tolerance_mm > 0:
        raise LengthError(f"a tolerance is more than 0 mm: {tolerance_mm} cannot be used")
    if abs(error_mm) <= tolerance_mm / 3:
        return None
    side = "long" if error_mm > 0 else "short"
    return (
        f"the fraction is {decimal(abs(error_mm))} mm too {side}, more than a third of the ±{tolerance_mm:g} mm "
        "allowed: set this one by the millimetre or the decimal inch figure"
    )


_WORTH_A_FRACTION = 0.02
"""A fraction off by more than this share of the length says nothing about it."""


def both_units(mm: float, unit: JobUnit = "mm", *, places: int = 2, denominator: int = 64) -> tuple[str, str]:
    """Print a length both ways, the shop's own unit first: `("14.20 mm", "9/16 in (+0.09)")`.

    In an inch shop it is `("0.559 in", "≈ 9/16 · 14.20 mm")`: a fraction is marked as near, not given its error in
    millimetres, which read as inches would mislead, and left out where it is off by more than 2 % of the length.

    Args:
        mm: The length in mm.
        unit: The shop's.
        places: Decimals of the millimetre figure.
        denominator: The inch rule's finest mark: 8, 16, 32 or 64.

    Returns:
        The millimetre text, and the fraction with its error in mm (shown minus true) in brackets. The
        bracket is left out when the error is under 0.005 mm and would show as nothing. In an inch shop thousandths, and
        the fraction and the millimetre text.
    """
    fraction = inch_fraction(mm, denominator)
    if by_inches(unit):
        off, metric = abs(fraction.error_mm), mm_text(mm, places)
        if not mm or off > _WORTH_A_FRACTION * abs(mm):
            return inch_text(mm), metric
        near = "" if off < 0.005 else "≈\u00a0"
        return inch_text(mm), f"{near}{fraction.text.removesuffix(' in')} · {metric}"
    error = decimal(fraction.error_mm, 2)
    if float(error) == 0:
        return own_unit(mm, unit, places), fraction.text
    return own_unit(mm, unit, places), f"{fraction.text} ({float(error):+.2f})"


def own_unit(mm: float, unit: JobUnit, places: int = 2) -> str:
    """Print a length in the shop's own unit alone: `14.20 mm`, `0.559 in`."""
    return f"{figure(mm, unit, places)} {unit}"


def decimals(mm: float, unit: JobUnit) -> tuple[str, str]:
    """Print a length in the shop's unit and in the one beside it, both in decimals, as calipers read it."""
    return own_unit(mm, unit), own_unit(mm, UNITS[unit].second)


def each_unit(mm: float, unit: JobUnit = "mm") -> tuple[str, str]:
    """Print a length as `both_units` does, without a fraction in an inch shop: for where there is little room.

    Args:
        mm: The length in mm.
        unit: The shop's.
    """
    return decimals(mm, unit) if by_inches(unit) else both_units(mm, unit)


def size_text(mm: float, unit: JobUnit = "mm") -> str:
    """A size as the shop that owns it says it: `10.01 mm`; in an inch shop `5/16 in` or, between the marks, `0.314 in`.

    Args:
        mm: The size in mm.
        unit: The shop's.
    """
    if not by_inches(unit):
        return f"{trimmed(UNITS[unit].of(mm), UNITS[unit].places)} {unit}"
    fraction = inch_fraction(mm)
    return fraction.text if abs(fraction.error_mm) < 0.0005 else inch_text(mm)


def trimmed(mm: float, places: int = 2) -> str:
    """A number of millimetres as people say it: rounded, without the zeros at its end ("12.7", "10.01", "6")."""
    text = decimal(mm, places)
    return text.rstrip("0").rstrip(".") if places else text
