"""The bits in the drill box: what each leaves at the bottom of a hole, and which one to take."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from math import inf

from scribeline.job import BitKind, BitOwned, Bits
from scribeline.lengths import JobUnit, by_inches, inch_text, said, size_text, trimmed
from scribeline.quantities import tan

TYPICAL_BRAD_POINT = 0.3
"""Point length of a brad-point bit as a share of its diameter (from memory: measure your own)."""

TYPICAL_FLAT_POINT = 1.5
"""Length of a flat-bottomed bit's centre point, mm (from memory: measure your own)."""


SAME_ANGLE = 0.0175
"""Cones that differ by a degree are the same countersink, rad."""

SPUR_SHARE = 0.25
"""Width of a brad-point or flat-bottomed bit's centre spur as a share of its diameter (from memory)."""

DRIFT = 0.01
"""How far a long bit wanders, mm per mm of depth: 1 mm per 100 mm (common practice, no source; measure yours)."""


@dataclass(frozen=True, slots=True)
class Bit:
    """A drill bit.

    Attributes:
        kind: twist, brad-point, flat-bottomed or countersink.
        diameter: mm.
        point: how far its point goes beyond the full diameter, mm.
        reach: how deep it can drill, mm; infinite when not stated.
        owned: False when the builder's box has none and this is the one to get.
        label: its size as the builder wrote it.
        drift: how far it wanders, mm per mm of depth, where that was measured.
    """

    kind: BitKind
    diameter: float
    point: float
    reach: float = inf
    owned: bool = True
    label: str = ""
    drift: float | None = None

    @property
    def point_width(self) -> float:
        """Width of the point where it leaves the full diameter, mm: a twist bit's cone is as wide as the bit."""
        return self.diameter if self.is_conical else SPUR_SHARE * self.diameter

    @property
    def is_conical(self) -> bool:
        """Whether its point is a cone over its whole width."""
        return self.kind in {"twist", "countersink"}

    @property
    def name(self) -> str:
        """Its name on a card: size as owned, and kind."""
        return f"{self.size} {self.kind}"

    @property
    def in_words(self) -> str:
        """Its name in a sentence, where a size in millimetres is a length like any other."""
        kind = "flat-bottomed (Forstner)" if self.kind == "flat-bottomed" else self.kind
        return f"{self.size_in_words} {kind}"

    @property
    def size_in_words(self) -> str:
        """Its size in a sentence."""
        return self.size if self.mark else said(self.diameter, None)

    @property
    def size(self) -> str:
        """Its size as the builder knows it, with millimetres beside an inch, number or letter size."""
        return f"{self.mark} ({self.millimetres})" if self.mark else self.millimetres

    @property
    def mark(self) -> str:
        """An inch, number or letter size as it is marked: `15/64`, `#7`, `K`; "" where it goes by millimetres."""
        label = self.label.strip()
        return label if any(mark in label for mark in "/#\"'") or label.isalpha() else ""

    @property
    def millimetres(self) -> str:
        """Its size in millimetres, as on its shank: `3.5 mm`."""
        return f"{trimmed(self.diameter)} mm"

    def sizes(self, unit: JobUnit) -> tuple[str, str]:
        """Its size as a shop reads it, and as it stands beside that."""
        if by_inches(unit):
            return self.inches, self.size
        return size_text(self.diameter, unit), self.inches

    @property
    def inches(self) -> str:
        """Its size in decimal inches: a fraction near it could be too small for the part it is for."""
        return inch_text(self.diameter)


def point_length(kind: BitKind, diameter: float, point_angle_rad: float) -> float:
    """How far a bit's point goes beyond its full diameter, mm.

    A twist bit's cone: h = (D/2)/tan(a/2), plain geometry (0.3 D at 118°). Brad-point and flat-bottomed bits
    differ by maker: the figures here are from memory and a stated point wins.
    """
    if kind == "twist":
        return cone_point(diameter, point_angle_rad)
    return brad_point(diameter, TYPICAL_BRAD_POINT) if kind == "brad-point" else TYPICAL_FLAT_POINT


def cone_point(diameter: float, angle: float) -> float:
    """Height of a cone, mm, from its width and the angle at its tip, rad."""
    return diameter / 2 / tan(angle / 2)


def brad_point(diameter: float, share: float) -> float:
    """Length of a brad-point bit's centre point, mm."""
    return share * diameter


@lru_cache(maxsize=16)
def drill_box(bits: Bits) -> tuple[Bit, ...]:
    """Every drill bit the builder owns; each hole asks for one of them, and neither box nor bit ever changes."""
    shelves: tuple[tuple[BitKind, tuple[BitOwned, ...]], ...] = (
        ("twist", bits.twist),
        ("brad-point", bits.brad_point),
        ("flat-bottomed", bits.flat_bottomed),
    )
    return tuple(
        Bit(
            kind=kind,
            diameter=owned.diameter,
            point=point_length(kind, owned.diameter, bits.point_angle)
            if owned.point is None
            else owned.point,
            reach=inf if owned.reach is None else owned.reach,
            label=owned.label,
            drift=None if owned.drift is None else owned.drift / 100,
        )
        for kind, shelf in shelves
        for owned in shelf
    )


def countersink_bit(bits: Bits, diameter: float, angle_rad: float) -> Bit:
    """The smallest countersink owned that is wide enough, at its angle; its point is what it sinks for the diameter.

    Args:
        bits: the drill box.
        diameter: of the mouth, mm.
        angle_rad: of the cone.
    """
    fitting = [
        owned.diameter
        for owned in bits.countersink
        if owned.diameter >= diameter - 1e-9 and abs(owned.angle - angle_rad) < SAME_ANGLE
    ]
    size = min(fitting, default=diameter)
    return Bit("countersink", size, cone_point(diameter, angle_rad), owned=bool(fitting))


def choose_bit(
    box: Iterable[Bit],
    wanted: float,
    kinds: tuple[BitKind, ...],
    *,
    at_most: float = inf,
    at_least: float = 0.0,
    reach: float = 0.0,
    point_angle_rad: float,
) -> Bit:
    """The bit nearest in size, among the kinds that serve.

    Of two equally near the larger is taken (a tight pilot breaks screws); of two the same size the kind named
    first. When the box has none that fits the bounds, the answer is the wanted size, marked as not owned.

    Args:
        box: the bits to choose from.
        wanted: diameter asked for, mm.
        kinds: kinds that serve, best first.
        at_most: largest diameter allowed, mm.
        at_least: smallest diameter allowed, mm.
        reach: depth it must reach, mm.
        point_angle_rad: point angle of a twist bit that would have to be got.
    """
    fitting = [
        bit
        for bit in box
        if bit.kind in kinds and at_least - 1e-9 <= bit.diameter <= at_most + 1e-9 and bit.reach >= reach
    ]
    if not fitting:
        size = min(max(wanted, at_least), at_most)
        return Bit(kinds[0], size, point_length(kinds[0], size, point_angle_rad), owned=False)
    return min(
        fitting, key=lambda bit: (round(abs(bit.diameter - wanted), 6), -bit.diameter, kinds.index(bit.kind))
    )
