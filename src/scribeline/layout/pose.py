"""Where a part lies on the instrument, and its own places from there."""

from __future__ import annotations

from dataclasses import dataclass

from scribeline.layout.points import Point
from scribeline.quantities import atan2, cos, sin


def lean(angle: float, shim: float, pocket: float) -> float:
    """How far the neck leans back, rad: the pocket floor's angle, and a taper shim's under the heel's end."""
    return angle + atan2(shim, pocket)


@dataclass(frozen=True, slots=True)
class Pose:
    """Where a bridge lies on a right-handed instrument.

    Attributes:
        x: middle of the line that its own places are counted from, from the nut, mm: a plate's front edge.
        y: the same from the centreline, mm.
        turn: rad; positive takes the treble end towards the nut.
        each: of a bridge in single units, how each of them lies, treble first; none of one in one piece.
    """

    x: float
    y: float = 0.0
    turn: float = 0.0
    each: tuple[Pose, ...] = ()

    def place(self, along: float, across: float) -> Point:
        """Where a place of the bridge lies, given from its line towards the tail and from its middle to the treble, mm."""
        return Point(
            placed_along(self.x, along, across, self.turn), placed_across(self.y, along, across, self.turn)
        )

    def rectangle(
        self, front: float, rear: float, width: float, off: float = 0.0
    ) -> tuple[Point, Point, Point, Point]:
        """A rectangle that lies along it: front treble, front bass, rear bass and rear treble corner.

        Args:
            front: its front edge behind the line, mm; negative: before it.
            rear: its rear edge.
            width: across, mm.
            off: its middle from this one's towards the treble, mm.
        """
        half = width / 2
        return (
            self.place(front, half + off),
            self.place(front, -half + off),
            self.place(rear, -half + off),
            self.place(rear, half + off),
        )


def placed_along(x: float, along: float, across: float, turn: float) -> float:
    """How far from the nut a place of a bridge lies, mm, whose line's middle is at x; see `Pose.place`."""
    return x + along * cos(turn) - across * sin(turn)


def placed_across(y: float, along: float, across: float, turn: float) -> float:
    """How far from the centreline towards the treble it lies, mm."""
    return y + along * sin(turn) + across * cos(turn)
