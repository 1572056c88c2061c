"""Ways out for a cut that is made and off: live with it, let the rest follow, plug and redrill, a larger part, a cover.

Everything is asked of the plan itself: a way that can be applied is a record of the bench as it would then be, planned again.
"""

from scribeline.rescue.found import Found, RescueError, called, with_found
from scribeline.rescue.off import Off, off_of
from scribeline.rescue.way import Drawn, Number, Rescue, Way, Wood
from scribeline.rescue.ways import ORDER, rescue, rescues

__all__ = [
    "ORDER",
    "Drawn",
    "Found",
    "Number",
    "Off",
    "Rescue",
    "RescueError",
    "Way",
    "Wood",
    "called",
    "off_of",
    "rescue",
    "rescues",
    "with_found",
]
