"""How fast to run a drill press in wood: a guide, on the slow side.

A bit burns and grabs by the speed of its rim, so the guide is a rim speed for each kind of bit and a top for small
ones: common practice, no source. For twist bits it is never faster than the figures printed in woodworking guides
(hardwood: 3000 rpm to 3/16 in, 1500 to 3/8 in, 750 to 5/8 in; softwood twice that).
"""

from math import inf, pi
from typing import Literal

from scribeline.tables.timber import HardnessClass

SPEED_SOURCE = "common practice, no source"

# Rim speed in soft and in hard timber, m/s, and the most revolutions a minute: the spurs of a brad-point bit and the
# rim of a flat-bottomed one rub more than a twist bit's lips.
_RIM: dict[str, tuple[float, float, int]] = {
    "twist": (1.0, 0.5, 3000),
    "brad-point": (0.8, 0.35, 1800),
    "flat-bottomed": (0.8, 0.35, 1500),
}

_ROUNDED_TO = 50


def drill_speed(
    kind: Literal["twist", "brad-point", "flat-bottomed"], diameter: float, hardness: HardnessClass
) -> int:
    """The most that a bit should turn, revolutions a minute: its rim speed over its circumference, never above its kind's top.

    Medium timber lies half-way between soft and hard; very hard counts as hard.

    Args:
        kind: of the bit.
        diameter: mm.
        hardness: of the timber.

    Raises:
        ValueError: the diameter is not positive.
    """
    if not 0 < diameter < inf:
        raise ValueError(f"a bit's diameter must be more than 0 mm: {diameter} cannot be used")
    soft, hard, most = _RIM[kind]
    rim = {"soft": soft, "medium": (soft + hard) / 2}.get(hardness, hard)
    rpm = min(float(most), rim * 60_000 / (pi * diameter))
    return max(_ROUNDED_TO, int(rpm // _ROUNDED_TO) * _ROUNDED_TO)
