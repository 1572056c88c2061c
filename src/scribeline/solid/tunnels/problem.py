"""What is asked of a tunnel: where it may start, where it must come out, and what it must keep clear of.

Everything is stated with the surface the drill comes over at z = 0 and the wood below it, so that a pocket in the
back is the same problem as one in the top, turned over.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import dist
from typing import Literal

from scribeline.features import Bit
from scribeline.solid.shapes import Turned

XY = tuple[float, float]
Rings = tuple[tuple[XY, ...], ...]
"""A region of the plan: its outline counter-clockwise, then its islands clockwise."""

Facet = tuple[str, tuple[tuple[float, float, float], ...]]
"""A triangle of a carved surface, with the surface's name: its three corners, mm."""

Start = Literal["face", "pocket", "edge"]

LONGEST_BIT = 460.0
"""Length of the longest bit that can be had, mm, where a bit's own reach is not stated (common practice, no source)."""

LEAST_ANGLE_DEG = 15.0
"""Angle to a surface below which a bit skates along it going in, or tears it coming out, degrees (common practice, no
source)."""

BIT_CLEAR = 0.5
"""Air wanted between the turning bit and the rim of the pocket it comes through, mm (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Wall:
    """A straight stretch of an upright wall; the air of its pocket, or the inside of the body, lies on its left.

    Attributes:
        a: one end, mm.
        b: the other end.
        low: foot of the wall, mm.
        high: its upper edge.
    """

    a: XY
    b: XY
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Hollow:
    """A pocket: a region of the plan between two heights, mm."""

    rings: Rings
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Wants:
    """What the tunnel must keep.

    Attributes:
        least: wood everywhere between it and what it is not meant to meet, the drift of the bit taken off, mm.
        hidden: how far the part that hides its mouth reaches beyond it, mm.
        window: wall left round its mouth towards the wall's ends, the pocket's floor and its open face, mm.
        chuck: radius of the drill's chuck, mm.
        longest: the longest bit that can be had, mm.
    """

    least: float
    hidden: float
    window: float
    chuck: float
    longest: float = LONGEST_BIT


@dataclass(frozen=True, slots=True)
class Problem:
    """One tunnel to be found.

    Attributes:
        start: what it is drilled from.
        outline: the body's edge, counter-clockwise.
        thickness: of the body, mm.
        hide: the outline its mouth must hide under, where it is drilled from a face.
        entries: the walls it may start from, where it is drilled from a pocket or the edge.
        rim: wood the bit must clear on its way in: edges in the plan, from the floor of the pocket up to z = 0.
        open_end: whether the drill may also come in over the body's edge, through the open end of a pocket.
        source: the pocket it is drilled from.
        exits: the walls it may come out of.
        target: the pocket they belong to.
        floor: which of the target's two heights is closed: -1 its low one, +1 its high one.
        through: pockets it crosses on its way, in no order.
        hollows: other pockets.
        turned: other bores, piece by piece.
        facets: of the surfaces that the body is carved to, as far as they may matter.
        wants: limits.
        names: of the bores' pieces, then of the other pockets.
    """

    start: Start
    outline: tuple[XY, ...]
    thickness: float
    exits: tuple[Wall, ...]
    target: Hollow
    floor: int
    wants: Wants
    hide: tuple[XY, ...] = ()
    entries: tuple[Wall, ...] = ()
    rim: tuple[tuple[XY, XY], ...] = ()
    open_end: bool = False
    source: Hollow | None = None
    through: tuple[Hollow, ...] = ()
    hollows: tuple[Hollow, ...] = ()
    turned: tuple[Turned, ...] = ()
    facets: tuple[Facet, ...] = ()
    names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Course:
    """One way to drill it, in the problem's own frame.

    Attributes:
        bit: what drills it.
        start: where the axis meets the surface it starts from, mm.
        end: where it meets the target's wall.
        axis: unit vector into the wood.
        normal: of the surface it starts from, out of the wood.
        depth: full diameter along the axis, mm.
        outside: how much of the bit must be outside the wood at full depth for the chuck to clear, mm.
        cover: least wood between it and anything it is not meant to meet, mm.
        nearest: what it comes nearest to: the id of a cut, "top", "back" or "edge", or the name of a carved surface.
        places: where the wood is least: a place on it and one on what is nearest.
        margins: what is left of each of the other limits.
    """

    bit: Bit
    start: tuple[float, float, float]
    end: tuple[float, float, float]
    axis: tuple[float, float, float]
    normal: tuple[float, float, float]
    depth: float
    outside: float
    cover: float
    nearest: str = ""
    places: tuple[tuple[float, float, float], tuple[float, float, float]] | None = None
    margins: dict[str, float] = field(default_factory=dict, hash=False, compare=False)

    @property
    def to_wall(self) -> float:
        """Along the axis from its start to the target's wall, mm."""
        return dist(self.start, self.end)

    @property
    def bit_length(self) -> float:
        """From the bit's point to the chuck, mm: what the bit must at least have."""
        return self.outside + self.depth + self.bit.point
