"""How deep the string holes go from the top, so that the ferrules' bores from the back are sure to meet them."""

from __future__ import annotations

from dataclasses import dataclass

from scribeline.features.bits import DRIFT, Bit
from scribeline.job import Document
from scribeline.lengths import trimmed
from scribeline.quantities import ceil, floor
from scribeline.tables import limit_rows

STOP_ERROR = 0.5
"""What one depth stop may be off, mm (common practice, no source)."""

PIN_OFF = 0.1
"""What the pin that a string hole stands on may be off the spindle's line, mm (common practice, no source)."""

PIN_HOLD = 3.0
"""Diameters of straight hole a registering pin wants (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class TopDepth:
    """The depth of the string holes from the top.

    Attributes:
        mm: full-diameter depth.
        why: how it came about, in words.
    """

    mm: float
    why: str


def half_up(mm: float) -> float:
    """Up to the next half millimetre, so that a stop can be set by eye on a rule."""
    return ceil(mm * 2 - 1e-9) / 2


def _half_down(mm: float) -> float:
    return floor(mm * 2 + 1e-9) / 2


def level(document: Document, key: str) -> float:
    """From which level a rule is told, mm: the builder's own where the job sets one, else the usual one."""
    own = document.limits.of(key)
    return limit_rows()[key].caution if own is None else own.caution


def asked_depth(document: Document, back: float, bore: float) -> TopDepth:
    """The depth that is stated, or that the meeting of the two bores asks for, to the next half millimetre up.

    With T of wood, b from the back and o the least overlap that is fine, T − b + o meets by o. Two depth stops may
    each fall short, the wood may be thicker by its ±, and the ends of holes that lean by the drift of their bits
    reach less deep on one side by half their width times the drift: all of it is added.

    Args:
        document: the job.
        back: full-diameter depth of the bore from the back, mm.
        bore: its diameter, mm.
    """
    wood, share = document.body.thickness, document.string_holes.top_share
    if share is not None:
        mm = half_up(share * wood.mm)
        return TopDepth(mm, f"{share:g} × {wood.mm:.2f} mm as stated, up to the next half = {mm:.1f} mm")
    overlap, diameter = level(document, "bores_meeting"), document.string_holes.diameter
    lean = leaning(DRIFT, diameter, bore)
    meets = meeting_depth(wood.mm, back, overlap, stop=STOP_ERROR, plus_minus=wood.plus_minus, lean=lean)
    pinned = PIN_HOLD * diameter
    mm = half_up(max(meets, pinned))
    why = (
        f"{wood.mm:.2f} mm of wood − {back:.2f} from the back + {overlap:.2f} of overlap + 2 × {STOP_ERROR:.2f} for the "
        f"depth stops + {wood.plus_minus:.2f} for the wood's ± + {lean:.2f} for bits that lean = {meets:.2f} mm"
    )
    if pinned > meets:
        why += f"; a pin needs {trimmed(PIN_HOLD)} diameters of straight hole, {pinned:.2f} mm"
    return TopDepth(mm, f"{why}, up to the next half = {mm:.1f} mm")


def leaning(drift: float, top: float, back: float) -> float:
    """How much less deep one side of two holes' ends reaches, mm, whose bits lean by their drift."""
    return drift * (top + back) / 2


def meeting_depth(
    wood: float, back: float, overlap: float, *, stop: float, plus_minus: float, lean: float
) -> float:
    """The depth from the top at which the two bores are sure to meet, mm; see `asked_depth`."""
    return wood - back + overlap + 2 * stop + plus_minus + lean


def deepest_kept(wood: float, point: float, under: float) -> float:
    """The greatest depth, to a half millimetre, that leaves so much wood under a bit's point, mm."""
    return _half_down(wood - point - under)


def kept_from_the_back(document: Document, asked: TopDepth, bit: Bit) -> TopDepth:
    """The depth asked for, but never so deep that the wood under the bit's point gives way; a stated one stands."""
    if document.string_holes.top_share is not None:
        return asked
    under = level(document, "bore_floor")
    most = deepest_kept(document.body.thickness.mm, bit.point, under)
    if asked.mm <= most:
        return asked
    return TopDepth(
        most,
        f"{asked.why}; but no more than {most:.1f} mm, so that {trimmed(under)} mm of wood remain under the bit's point",
    )


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
