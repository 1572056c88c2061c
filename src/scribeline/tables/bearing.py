"""How hard wood bears against a round pin pushed sideways: a bolt, a dowel, a bushing."""

from __future__ import annotations

from math import inf, sqrt

from scribeline.lengths import MM_PER_INCH
from scribeline.tables.timber import NEWTON_PER_POUND_FORCE

_PSI = NEWTON_PER_POUND_FORCE / float(MM_PER_INCH) ** 2
"""One pound-force per square inch in N/mm²."""

BEARING_SOURCE = (
    "dowel bearing strength of the National Design Specification for Wood Construction, from memory"
)


def bearing_along_grain(gravity: float) -> float:
    """The pressure at which wood gives beside a pin pushed along its grain, N/mm².

    F = 11,200 G psi, 77.2 G N/mm², for pins of 1/4 in and thicker (National Design Specification for Wood
    Construction, dowel bearing strength, from memory).

    Args:
        gravity: specific gravity on oven-dry weight and volume.

    Raises:
        ValueError: the gravity is not positive and finite.
    """
    _check("gravity", gravity)
    return 11_200 * _PSI * gravity


def bearing_across_grain(gravity: float, diameter: float) -> float:
    """The same for a pin pushed across the grain: F = 6,100 G^1.45 / √D psi, D in inches.

    Args:
        gravity: specific gravity on oven-dry weight and volume.
        diameter: of the pin, mm.

    Raises:
        ValueError: an argument is not positive and finite.
    """
    _check("gravity", gravity)
    _check("diameter", diameter)
    return float(6_100 * _PSI * gravity**1.45 / sqrt(diameter / float(MM_PER_INCH)))


def pole_load(strength: float, *, diameter: float, length: float, height: float) -> float:
    """The load that crushes the wood at the upper end of a stiff pin that stands out of it, newtons.

    A rigid pin of length l in the wood, pushed with F at a height e over it, presses on the wood along a straight
    line: w(z) = F/l (4 + 6 e/l) at the surface, by the balance of forces and moments. The wood gives there first,
    where w / D is its strength.

    Args:
        strength: pressure at which the wood gives, N/mm².
        diameter: of the pin, mm.
        length: of it in the wood, mm.
        height: over the wood at which it is pushed, mm.

    Raises:
        ValueError: an argument is not positive and finite; a height may be 0.
    """
    for name, value in (("strength", strength), ("diameter", diameter), ("length", length)):
        _check(name, value)
    if not 0 <= height < inf:
        raise ValueError(f"height must be 0 mm or more: {height} cannot be used")
    return strength * diameter * length / (4 + 6 * height / length)


def _check(name: str, value: float) -> None:
    if not 0 < value < inf:
        raise ValueError(f"{name} must be over 0 and finite: {value} cannot be used")
