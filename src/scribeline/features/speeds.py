"""How fast to run the bits in this instrument's wood."""

from __future__ import annotations

from scribeline.features.bits import Bit
from scribeline.layout import Layout
from scribeline.tables import HardnessClass, drill_speed

_HARDER: tuple[HardnessClass, ...] = ("soft", "medium", "hard", "very hard")


def hardest(layout: Layout) -> HardnessClass:
    """How hard the hardest layer of the body is."""
    return max((layer.timber.hardness_class for layer in layout.body.layers), key=_HARDER.index)


def bit_speed(bit: Bit, layout: Layout) -> int:
    """The most that a bit should turn in the hardest wood of the body.

    A countersink, which chatters when it is hurried, counts as a flat-bottomed bit (common practice, no source).
    """
    kind = "flat-bottomed" if bit.kind == "countersink" else bit.kind
    return drill_speed(kind, bit.diameter, hardest(layout))
