"""Wire tunnels: the way to drill each that leaves most wood, found and not drawn."""

from scribeline.solid.tunnels.making import (
    Tunnel,
    Wanted,
    angle_deg,
    drift_words,
    find_tunnels,
    heading_deg,
    to_wall,
    with_tunnels,
)
from scribeline.solid.tunnels.narrowing import Look
from scribeline.solid.tunnels.problem import Course, Problem, Wants
from scribeline.solid.tunnels.solve import Relaxed, Solution, solve

__all__ = [
    "Course",
    "Look",
    "Problem",
    "Relaxed",
    "Solution",
    "Tunnel",
    "Wanted",
    "Wants",
    "angle_deg",
    "drift_words",
    "find_tunnels",
    "heading_deg",
    "solve",
    "to_wall",
    "with_tunnels",
]
