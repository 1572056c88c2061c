"""The job's tables of wire holes: the string ground's, and every other."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from scribeline.job.table import XY, BuildersWord, CornersOnce, Datum, Table, Way, fault_in_ring
from scribeline.job.values import Degrees, Mm, refuse

UNDER_PLATE = "bridge plate"
FACES = ("top", "back")
EDGE = "edge"
"""Where a wire hole may start, besides in a pocket."""


class GroundWire(Table):
    """The hole of the string ground: from under the plate into a cavity, or from a cavity to a stud's bushing or the claw.

    Worked out where only into is stated. A bridge on studs or posts has it in the side of a bushing's hole, which grips
    the wire's bared end; where there is a tailpiece, of one of its studs.
    """

    ways = ((Way("worked out"), Way("as you say", ("from_front", "lands"), may=("across", "heading"))),)

    into: BuildersWord = Field(
        title="cavity it leads into",
        description="of a bridge on studs, on posts or a vibrato: the cavity it comes from",
    )
    diameter: Annotated[float, Mm(1, 10, "the ground-wire hole")]
    from_front: Annotated[float | None, Mm(0, 110, "the hole's entry behind the plate's front edge")] = Field(
        default=None, description="with lands; both are worked out when left out"
    )
    across: Annotated[float, Mm(-80, 80, "the hole's entry from the centreline, towards the treble")] = 0.0
    lands: Annotated[
        float | None, Mm(1, 70, "the depth at which the hole's centre meets the cavity's wall")
    ] = None
    heading: Annotated[
        float, Degrees(-180, 180, "the hole's direction, from straight to the neck towards the treble")
    ] = 0.0
    side: Literal["treble", "bass"] | None = Field(
        default=None,
        description="of a bridge on studs or posts: which of the two bushings grips the wire; the nearer when left out",
        title="bushing that grips the wire",
    )

    @model_validator(mode="after")
    def _both_or_neither(self) -> Self:
        if (self.from_front is None) != (self.lands is None):
            raise refuse(
                "state both from_front and lands, or neither: then the hole that leaves most wood is worked out"
            )
        if self.from_front is None and {"across", "heading"} & self.model_fields_set:
            raise refuse(
                "across and heading belong to a hole whose place is stated. State from_front and lands too, or leave "
                "all four out and the hole that leaves most wood is worked out"
            )
        return self


class TunnelStatement(Table):
    """A wire hole from one place into a cavity's wall, worked out so that most wood remains everywhere.

    It starts under the bridge plate, on the top or back under a part whose outline is given as hide, inside a cavity
    through whose open face the drill comes in, or from the body's edge. Where entry, heading and lands are stated,
    the hole is drilled so and only checked.
    """

    ways = (
        (Way("worked out"), Way("as you say", ("entry", "heading", "lands"))),
        (Way("nothing over its opening", ("start",)), Way("a part hides its opening", ("start", "hide"))),
    )

    name: BuildersWord = Field(min_length=1, max_length=30)
    start: BuildersWord = Field(
        description='"bridge plate", "top" or "back" under a part that hides it, "edge", or the name of a cavity',
        title="it starts",
    )
    into: BuildersWord = Field(description="the cavity in whose wall it comes out", title="it leads into")
    through: tuple[BuildersWord, ...] = Field(
        default=(), description="names of cavities it crosses on its way", title="crosses"
    )
    diameter: Annotated[float, Mm(1, 16, "the wire hole's diameter")]
    x_from: Datum = "nut"
    hide: Annotated[tuple[XY, ...], CornersOnce] | None = Field(
        default=None,
        description="outline of the part that hides its opening, along and across",
        title="what hides its opening",
    )
    entry: XY | None = Field(
        default=None,
        description="where its axis meets the face, along and across",
        title="where it starts: along, across",
    )
    heading: Annotated[
        float | None, Degrees(-180, 180, "the hole's direction, from straight to the neck towards the treble")
    ] = None
    lands: Annotated[
        float | None, Mm(1, 75, "the depth at which the hole's centre meets the cavity's wall")
    ] = Field(default=None, description="from the face it is drilled from")

    @model_validator(mode="after")
    def _sound(self) -> Self:
        stated = [self.entry is not None, self.heading is not None, self.lands is not None]
        if any(stated) and not all(stated):
            raise refuse(
                "state entry, heading and lands together, or none of them, and the hole is worked out"
            )
        if self.hide is not None and (len(self.hide) < 3 or fault_in_ring(self.hide)):
            raise refuse("hide needs three corners or more, in order round the part, each once")
        if any(stated) and self.start not in {UNDER_PLATE, *FACES}:
            raise refuse(
                "entry, heading and lands can be stated only for a hole that starts on a face (the bridge plate, top, back)"
            )
        if self.hide is not None and self.start not in FACES:
            raise refuse('hide goes with start = "top" or "back"; leave it out here')
        if self.start in FACES and self.hide is None:
            raise refuse(
                f"a wire hole that starts on the {self.start} needs hide: the outline of the part that will cover its opening"
            )
        if self.start == self.into:
            raise refuse("it starts and ends in the same cavity")
        return self
