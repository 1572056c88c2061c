"""Where tunnels are asked for: what they start from, what hides their mouths, where they must come out."""

from __future__ import annotations

from dataclasses import dataclass

from scribeline.job import UNDER_PLATE
from scribeline.layout.points import Point, Ring

UNDER_THE_PLATE = f"the {UNDER_PLATE}"


@dataclass(frozen=True, slots=True)
class TunnelPlace:
    """One tunnel as asked for.

    Attributes:
        id: of the bore it becomes.
        name: as stated.
        start: "face", "edge", or "pocket".
        face: the face it is drilled from, where it starts on one.
        pocket: name of the pocket it starts in, where it does.
        into: name of the pocket in whose wall it comes out.
        through: names of pockets it crosses on its way.
        diameter: mm.
        hide: outline of the part that hides its mouth.
        hidden_by: that part in words.
        entry: where its axis meets the face, where that is stated.
        heading: seen from above, a vector of length 1, where stated.
        lands: depth below its face at which its axis meets the target's wall, mm, where stated.
        key: what the job states it under, such as `tunnels[1]`.
        counted_from: where the job counts the places along of its entry from, mm from the nut.
    """

    id: str
    name: str
    start: str
    into: str
    diameter: float
    face: str = "top"
    pocket: str = ""
    through: tuple[str, ...] = ()
    hide: Ring | None = None
    hidden_by: str = ""
    entry: Point | None = None
    heading: Point | None = None
    lands: float | None = None
    key: str = ""
    counted_from: float = 0.0

    @property
    def under_plate(self) -> bool:
        """Whether its mouth hides under the bridge's plate."""
        return self.hidden_by == UNDER_THE_PLATE
