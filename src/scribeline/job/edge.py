"""What is drilled from the body's edge: the jack and the strap buttons."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from scribeline.job.part import WoodScrew
from scribeline.job.table import XY, BuildersWord, Datum, Table, Way
from scribeline.job.values import Degrees, Mm, refuse
from scribeline.lengths import said

Heading = Annotated[
    float, Degrees(-180, 180, "the hole's direction, from straight to the neck towards the treble")
]
FromTop = Annotated[float, Mm(2, 78, "the axis below the top")]


class JackScrew(WoodScrew):
    """The screws that hold the jack's plate."""

    shelf = "jack screw"


class StrapScrew(WoodScrew):
    """The screw that holds a strap button."""

    shelf = "strap screw"


class Jack(Table):
    """The jack's hole from the body's edge, with a counterbore and a screwed plate where it has them.

    It starts at the place of the outline nearest `near` and runs square to the edge, or along `heading`.
    """

    ways = (
        (Way("into a cavity", ("into",)), Way("to a depth", ("depth",))),
        (Way("no counterbore"), Way("with a counterbore", ("recess_diameter", "recess_depth"))),
        (Way("no screwed plate"), Way("with a screwed plate", ("screws", "screw"), may=("plate_size",))),
    )

    near: XY = Field(
        description="on the edge, or near it: along from its datum, across towards the treble",
        title="its place: along, across",
    )
    x_from: Datum = "nut"
    heading: Heading | None = Field(
        default=None,
        description="square to the edge when left out",
    )
    from_top: FromTop | None = Field(default=None, description="half-way through the body when left out")
    diameter: Annotated[float, Mm(5, 40, "the jack's hole")]
    into: BuildersWord | None = Field(
        default=None,
        description="cavity it opens into; it is made as deep as that takes",
        title="cavity it opens into",
    )
    depth: Annotated[float | None, Mm(3, 200, "the jack hole's depth")] = Field(
        default=None, description="at full diameter, instead of into"
    )
    recess_diameter: Annotated[float | None, Mm(6, 60, "the counterbore for the jack")] = None
    recess_depth: Annotated[float | None, Mm(0.5, 30, "the depth of the counterbore for the jack")] = None
    barrel_diameter: Annotated[float | None, Mm(4, 40, "the width of the jack's barrel")] = Field(
        default=None, description="to see that it clears what stands in its cavity; else as wide as its hole"
    )
    barrel_length: Annotated[float | None, Mm(3, 120, "the length of the jack's barrel")] = Field(
        default=None,
        description="in from the counterbore's floor, with the plug in where that reaches further; else as deep as its hole",
    )
    plate_size: (
        tuple[
            Annotated[float, Mm(10, 80, "the jack plate's size")],
            Annotated[float, Mm(10, 80, "the jack plate's size")],
        ]
        | None
    ) = Field(default=None, description="along the edge, up the edge", title="size of its plate")
    plate_thickness: Annotated[float, Mm(0.5, 6, "the jack plate's thickness")] = 1.5
    screws: tuple[
        tuple[
            Annotated[float, Mm(-60, 60, "a plate screw beside the jack's axis")],
            Annotated[float, Mm(-40, 40, "a plate screw above the jack's axis")],
        ],
        ...,
    ] = Field(
        default=(),
        description="of the plate, from the jack's axis: to the right seen from outside with the top up (to the left on a "
        "left-handed one), and up",
        title="places of the plate's screws",
    )
    screw: JackScrew | None = None
    typical: bool = Field(
        default=False,
        description="its numbers are typical ones of the parts book, and nobody has measured the part yet",
        title="not yet measured",
    )

    @model_validator(mode="after")
    def _sensible(self) -> Self:
        if (self.into is None) == (self.depth is None):
            raise refuse("give the jack either into (the cavity it opens into) or depth, and not both")
        if (self.recess_diameter is None) != (self.recess_depth is None):
            raise refuse("a counterbore needs both recess_diameter and recess_depth")
        if (self.barrel_diameter is None) != (self.barrel_length is None):
            raise refuse("a jack's barrel needs both barrel_diameter and barrel_length")
        if self.barrel_diameter is not None and self.barrel_diameter > self.diameter:
            raise refuse(
                f"barrel_diameter ({said(self.barrel_diameter, None)}) must not be larger than the hole's "
                f"{said(self.diameter, None)}"
            )
        if self.recess_diameter is not None and self.recess_diameter <= self.diameter:
            raise refuse(
                f"recess_diameter ({said(self.recess_diameter, None)}) must be larger than the hole's {said(self.diameter, None)}"
            )
        if self.depth is not None and self.recess_depth is not None and self.recess_depth >= self.depth:
            raise refuse(
                f"the counterbore ({said(self.recess_depth, None)} deep) swallows the hole, {said(self.depth, None)} deep"
            )
        if bool(self.screws) != (self.screw is not None):
            raise refuse("a screwed plate needs both screws (where they are) and screw (what they are)")
        if self.screw is not None and self.screw.length.mm <= self.plate_thickness:
            raise refuse(
                f"a screw of {said(self.screw.length.mm, None)} does not get through the plate, "
                f"{said(self.plate_thickness, None)} thick"
            )
        widest = (self.recess_diameter or self.diameter) / 2
        for right, up in self.screws:
            if (right**2 + up**2) ** 0.5 <= widest:
                raise refuse(
                    f"the plate's screw at ({right:g}, {up:g}) mm would stand in the jack's hole, {said(2 * widest, None)} wide; "
                    "places are counted from the jack's axis"
                )
            if self.plate_size is not None and (
                abs(right) >= self.plate_size[0] / 2 or abs(up) >= self.plate_size[1] / 2
            ):
                raise refuse(
                    f"the screw at ({right:g}, {up:g}) mm is not on the plate, {self.plate_size[0]:g} along the edge and "
                    f"{self.plate_size[1]:g} up it"
                )
        return self


class StrapButton(Table):
    """A strap button on the body's edge, and the screw that holds it."""

    name: BuildersWord = Field(min_length=1, max_length=40, description="such as front or tail")
    near: XY = Field(
        description="on the edge, or near it: along from its datum, across towards the treble",
        title="its place: along, across",
    )
    x_from: Datum = "nut"
    heading: Heading | None = Field(
        default=None,
        description="square to the edge when left out",
    )
    from_top: FromTop | None = Field(default=None, description="half-way through the body when left out")
    base_diameter: Annotated[float, Mm(6, 40, "the strap button's base")] = 13.0
    under_head: Annotated[float, Mm(1, 30, "what of its screw the strap button takes up")] = Field(
        default=10.0, description="from under the screw's head to the button's base"
    )
    screw: StrapScrew
    grain: Literal["end", "side"] | None = Field(
        default=None,
        description="what its screw goes into; by its direction when left out",
        title="grain its screw meets",
    )

    @model_validator(mode="after")
    def _reaches_wood(self) -> Self:
        if self.screw.length.mm <= self.under_head:
            raise refuse(
                f"a screw of {said(self.screw.length.mm, None)} ends inside the button, which takes up "
                f"{said(self.under_head, None)} of it "
                "(under_head); use a longer one"
            )
        return self
