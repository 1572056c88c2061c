"""How long drill bits are made, by their diameter."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from scribeline.tables.published import rows

GRIP = 25.0
"""What a chuck holds of a bit's shank, mm (from memory)."""

BIT_LENGTH_SOURCE = "bit lengths of DIN 338 and DIN 1869, from memory"


@dataclass(frozen=True, slots=True)
class BitLength:
    """How far a twist bit of one diameter reaches from its point to the chuck, mm.

    Brad-point bits are made to much the same lengths (from memory).

    Attributes:
        ordinary: of the jobber length that a set of bits holds (DIN 338).
        longest: of the longest that is made to a standard (DIN 1869; under 2 mm DIN 340).
    """

    ordinary: float
    longest: float


@cache
def _lengths() -> tuple[tuple[float, BitLength], ...]:
    return tuple(
        (
            float(row["up_to_mm"]),
            BitLength(float(row["ordinary_mm"]) - GRIP, float(row["longest_mm"]) - GRIP),
        )
        for row in rows("bit_lengths.csv")
    )


def bit_length(diameter: float) -> BitLength:
    """How far bits of a diameter reach; thicker than the table counts as its thickest.

    Args:
        diameter: of the bit, mm.
    """
    table = _lengths()
    return next((reach for up_to, reach in table if diameter <= up_to + 1e-9), table[-1][1])
