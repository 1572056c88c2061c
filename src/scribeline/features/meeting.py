"""How deep the string holes go from the top, so that the ferrules' bores from the back are sure to meet them."""

from __future__ import annotations

from scribeline.features.bits import DRIFT
from scribeline.job import Document
from scribeline.quantities import ceil, floor, greatest, least
from scribeline.tables import limit_rows

STOP_ERROR = 0.5
"""What one depth stop may be off, mm (common practice, no source)."""

PIN_OFF = 0.1
"""What the pin that a string hole stands on may be off the spindle's line, mm (common practice, no source)."""

PIN_HOLD = 3.0
"""Diameters of straight hole a registering pin wants (common practice, no source)."""


def half_up(mm: float) -> float:
    """Up to the next half millimetre, so that a stop can be set by eye on a rule."""
    return ceil(mm * 2 - 1e-9) / 2


def _half_down(mm: float) -> float:
    return floor(mm * 2 + 1e-9) / 2


def level(document: Document, key: str) -> float:
    """From which level a rule is told, mm: the builder's own where the job sets one, else the usual one."""
    own = document.limits.of(key)
    return limit_rows()[key].caution if own is None else own.caution


def stated_depth(share: float, wood: float) -> float:
    """The depth from the top that is stated as a share of the wood, to the next half millimetre up, mm."""
    return half_up(share * wood)


def asked_depth(
    *,
    wood: float,
    plus_minus: float,
    back: float,
    overlap: float,
    stop: float,
    drift: float,
    diameter: float,
    bore: float,
    pin: float,
) -> float:
    """The depth from the top that the meeting of the two bores asks for, to the next half millimetre up, mm.

    With T of wood, b from the back and o the least overlap that is fine, T − b + o meets by o. Two depth stops may
    each fall short, the wood may be thicker by its ±, and the ends of holes that lean by the drift of their bits
    reach less deep on one side by half their width times the drift: all of it is added.

    Args:
        wood: thickness of the body, mm.
        plus_minus: of the wood, mm.
        back: full-diameter depth of the bore from the back, mm.
        overlap: the least that is fine, mm.
        stop: what a depth stop may be off, mm.
        drift: of the bits, mm per mm.
        diameter: of the string hole, mm.
        bore: diameter of the bore from the back, mm.
        pin: diameters of straight hole that a pin wants.
    """
    meets = wood - back + overlap + 2 * stop + plus_minus + leaning(drift, diameter, bore)
    return half_up(greatest(meets, pin * diameter))


def kept_depth(asked: float, wood: float, point: float, under: float) -> float:
    """The depth asked for, mm, but never so deep that less than `under` of wood remains under the bit's point."""
    return least(asked, deepest_kept(wood, point, under))


def leaning(drift: float, top: float, back: float) -> float:
    """How much less deep one side of two holes' ends reaches, mm, whose bits lean by their drift."""
    return drift * (top + back) / 2


def deepest_kept(wood: float, point: float, under: float) -> float:
    """The greatest depth, to a half millimetre, that leaves so much wood under a bit's point, mm."""
    return _half_down(wood - point - under)


def wander(top: float, back: float, drifts: tuple[float | None, float | None]) -> float:
    """By how much the two bores may part sideways where they meet, mm: the pin's error and the drift of both bits.

    Args:
        top: depth from the top, mm.
        back: depth from the back, mm.
        drifts: of the bit from the top and of the one from the back, mm per mm; None where it was not measured.
    """
    first, second = (DRIFT if drift is None else drift for drift in drifts)
    return parted(PIN_OFF, first, top, second, back)


def parted(pin: float, first: float, top: float, second: float, back: float) -> float:
    """By how much two bores may part, mm; see `wander`."""
    return pin + first * top + second * back
