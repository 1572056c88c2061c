"""Wire tunnels: the way to drill each that leaves most wood, found and not drawn."""

from scribeline.solid.tunnels.making import (
    Tunnel,
    angle_deg,
    drift_words,
    find_tunnels,
    heading_deg,
    to_wall,
    with_tunnels,
)
from scribeline.solid.tunnels.problem import Course, Wants
from scribeline.solid.tunnels.solve import Relaxed

__all__ = [
    "Course",
    "Relaxed",
    "Tunnel",
    "Wants",
    "angle_deg",
    "drift_words",
    "find_tunnels",
    "heading_deg",
    "to_wall",
    "with_tunnels",
]
