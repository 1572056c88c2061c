"""How hard a wood screw holds, against being pulled out and against being pulled sideways; how hard a wider thread does.

All are the Wood Handbook's old rules of thumb drawn from tests (FPL-GTR-282, chapter 8). They are estimates: the
wood of one board differs from its species' mean, see `GRAVITY_CV`, and a test on scrap of the same board is worth
more than any.
"""

from dataclasses import dataclass
from math import inf

from scribeline.lengths import MM_PER_INCH
from scribeline.tables.timber import NEWTON_PER_POUND_FORCE, Timber

_PSI = NEWTON_PER_POUND_FORCE / float(MM_PER_INCH) ** 2
"""One pound-force per square inch in N/mm²."""

WITHDRAWAL_N_MM2 = 15_700 * _PSI
"""Constant of `withdrawal_n`, N/mm²; the handbook's metric form rounds it to 108.25 (from memory)."""

END_GRAIN_SHARE = 0.75
"""What a screw in end grain holds on the average of what it holds in side grain (Wood Handbook FPL-GTR-282, ch. 8).

The results scatter widely, which is why building codes forbid hanging a load on a screw in end grain."""

GRAVITY_CV = 0.10
"""Coefficient of variation of specific gravity within a species (Wood Handbook ch. 5, from memory)."""

LAG_WITHDRAWAL = 8100 * NEWTON_PER_POUND_FORCE / float(MM_PER_INCH) ** 1.75
"""Constant of `lag_withdrawal_n`, N and mm; the handbook's metric form rounds it to 125.4."""

LAG_SOURCE = (
    "Wood Handbook chapter 8, lag screws: 125.4 G^(3/2) D^(3/4) L, taken for inserts by our own choice"
)

WITHDRAWAL_SOURCE = "Wood Handbook FPL-GTR-282, Eq. (8-10)"
LATERAL_SOURCE = "Wood Handbook ch. 8, pre-1991 lateral rule p = K D², K from memory"

# Specific gravity up to which a K holds, and K in lbf/in². Wood Handbook ch. 8, table of coefficients for computing
# test loads for fasteners, from memory; each agrees with the metric figure printed beside it (23.17, 31.99 and
# 44.13 N/mm² for hardwoods; 23.17, 29.79 and 36.40 for softwoods, from memory as well).
_K_HARDWOOD: tuple[tuple[float, float], ...] = ((0.475, 3360), (0.565, 4640), (inf, 6400))
_K_SOFTWOOD: tuple[tuple[float, float], ...] = ((0.425, 3360), (0.475, 4320), (inf, 5280))

# Penetration in shank diameters from which a screw bears the whole lateral load, and below which the rule says
# nothing (Wood Handbook ch. 8, from memory).
_FULL_PENETRATION = 7.0
_LEAST_PENETRATION = 4.0

# Wood Handbook FPL-GTR-282, Table 8-8, from memory: screw length in inches, least and greatest gauge for which the
# withdrawal equation was found to hold.
_TESTED: tuple[tuple[float, int, int], ...] = (
    (0.5, 1, 6),
    (0.75, 2, 11),
    (1.0, 3, 12),
    (1.5, 5, 14),
    (2.0, 7, 16),
    (2.5, 9, 18),
    (3.0, 12, 20),
)


def withdrawal_n(*, gravity: float, diameter: float, length: float, end_grain: bool = False) -> float:
    """The load that pulls a wood screw out of seasoned wood, newtons: the greatest it held in the tests.

    p = 108.25 G² D L in side grain (Wood Handbook FPL-GTR-282, Eq. (8-10): 15,700 G² D L in pounds and inches),
    three quarters of it in end grain. It holds for lead holes of about 70 % of the root's diameter in softwood and
    90 % in hardwood.

    Args:
        gravity: specific gravity on oven-dry weight and volume at 12 % moisture.
        diameter: of the shank, which is that over the thread, mm.
        length: of thread in the wood, mm.
        end_grain: whether the screw runs along the grain.

    Raises:
        ValueError: an argument is not positive and finite; a length may be 0.
    """
    _check("gravity", gravity)
    _check("diameter", diameter)
    if not 0 <= length < inf:
        raise ValueError(f"length must be 0 mm or more: {length} cannot be used")
    return WITHDRAWAL_N_MM2 * gravity**2 * diameter * length * (END_GRAIN_SHARE if end_grain else 1.0)


def lag_withdrawal_n(*, gravity: float, diameter: float, length: float) -> float:
    """The load that pulls a lag screw out of the side grain of seasoned wood, newtons: the greatest it held in the tests.

    p = 125.4 G^(3/2) D^(3/4) L (Wood Handbook, chapter 8: 8,100 G^(3/2) D^(3/4) L in pounds and inches). Lag screws are
    5 to 25 mm thick, with lead holes of 40 to 85 % of that, the wider the denser the wood: no rule of the handbook is
    nearer to a threaded insert, and none is for one.

    Args:
        gravity: specific gravity on oven-dry weight and volume at 12 % moisture.
        diameter: over the thread, mm.
        length: of thread in the wood, mm.

    Raises:
        ValueError: an argument is not positive and finite; a length may be 0.
    """
    _check("gravity", gravity)
    _check("diameter", diameter)
    if not 0 <= length < inf:
        raise ValueError(f"length must be 0 mm or more: {length} cannot be used")
    return float(LAG_WITHDRAWAL * gravity**1.5 * diameter**0.75 * length)


@dataclass(frozen=True, slots=True)
class Lateral:
    """What one screw bears square to its length, newtons, and the share of the full load for its penetration."""

    load_n: float
    share: float


def lateral(*, timber: Timber, diameter: float, penetration: float) -> Lateral:
    """The load square to its axis at which a wood screw in side grain begins to give, newtons.

    p = K D², with K by the timber's group and specific gravity: the load at a slip of some 0.4 mm in tests, well
    below the greatest (Wood Handbook ch. 8, pre-1991 rule, K from memory). It asks for 7 diameters of penetration,
    is reduced in proportion below that, and says nothing below 4: there the answer is 0.

    Args:
        timber: what the screw's point is in.
        diameter: of the shank, mm.
        penetration: of the screw into the wood, mm.

    Raises:
        ValueError: the diameter is not positive, or the penetration negative.
    """
    _check("diameter", diameter)
    if not 0 <= penetration < inf:
        raise ValueError(f"penetration must be 0 mm or more: {penetration} cannot be used")
    table = _K_SOFTWOOD if timber.softwood else _K_HARDWOOD
    k = next(k for limit, k in table if timber.gravity < limit)
    deep = penetration / diameter
    share = 0.0 if deep < _LEAST_PENETRATION else min(1.0, deep / _FULL_PENETRATION)
    return Lateral(k * _PSI * diameter**2 * share, share)


def size_was_tested(*, diameter: float, length: float) -> bool:
    """Whether the handbook's tests cover a screw of this shank diameter and length, mm.

    Wood Handbook FPL-GTR-282, Table 8-8, from memory. A length between two rows may have the gauges of either.
    """
    inches = length / float(MM_PER_INCH)
    gauge = (diameter / float(MM_PER_INCH) - 0.060) / 0.013
    shorter = [row for row in _TESTED if row[0] <= inches + 0.02]
    longer = [row for row in _TESTED if row[0] >= inches - 0.02]
    if not shorter or not longer:
        return False
    near = (shorter[-1], longer[0])
    return min(row[1] for row in near) - 0.5 <= gauge <= max(row[2] for row in near) + 0.5


def _check(name: str, value: float) -> None:
    if not 0 < value < inf:
        raise ValueError(f"{name} must be more than 0: {value} cannot be used")
