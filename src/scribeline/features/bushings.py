"""The holes that the bushings of a bridge's studs are pressed into."""

from __future__ import annotations

from dataclasses import dataclass

from scribeline.features.bits import Bit, choose_bit, drill_box
from scribeline.job import Document
from scribeline.tables import HardnessClass, Timber

PRESS: dict[HardnessClass, tuple[float, float]] = {
    "soft": (0.20, 0.30),
    "medium": (0.12, 0.20),
    "hard": (0.05, 0.12),
    "very hard": (0.03, 0.08),
}
"""How much smaller than a bushing over its knurl its hole is at least and at most, mm (common practice, no source)."""


PRESS_SOURCE = "common practice, no source"

BELOW = 1.0
"""How much deeper than its bushing a hole is drilled, mm (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class BushingHole:
    """The hole of a bushing, cut in bare wood.

    Attributes:
        diameter: wanted, mm: the middle of what the timber takes.
        least: smallest that serves, mm.
        most: largest that serves.
        film: how much of it the finish takes away again, mm.
        bit: the nearest owned, else the one to get.
    """

    diameter: float
    least: float
    most: float
    film: float
    bit: Bit


def pressed_hole(outside: float, press: float, film: float) -> float:
    """Diameter in bare wood that a bushing presses into by so much once the film is on, mm."""
    return outside - press + film


def bushing_hole(document: Document, timber: Timber, outside: float) -> BushingHole:
    """The hole for a bushing: its diameter less the press its timber takes, plus the film a sprayed hole gets.

    Args:
        document: for the finish and the drill box.
        timber: what it is pressed into.
        outside: diameter over the knurl, mm.
    """
    low, high = PRESS[timber.hardness_class]
    film = 2 * document.finish.film if document.finish.holes == "sprayed" else 0.0
    least, most = pressed_hole(outside, high, film), pressed_hole(outside, low, film)
    bit = choose_bit(
        drill_box(document.bits),
        (least + most) / 2,
        ("flat-bottomed", "brad-point", "twist"),
        at_least=least,
        at_most=most,
        point_angle_rad=document.bits.point_angle,
    )
    return BushingHole((least + most) / 2, least, most, film, bit)


def bushing_depth(length: float, below: float) -> float:
    """Depth of a bushing's hole at full diameter, mm."""
    return length + below
