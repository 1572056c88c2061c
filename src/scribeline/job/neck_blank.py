"""The neck's blank, and what is carved of it."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from scribeline.job.body import TimberStated
from scribeline.job.table import Table, Way
from scribeline.job.values import Dimension, Mm, refuse
from scribeline.lengths import said

SectionName = Literal["round", "soft v", "flat"]
"""The sections a neck can be carved to; `layout.neck_sections` has the formula of each."""


class NeckBlank(Table):
    """The neck's blank and what is carved of it; state it where you carve the neck here."""

    ways = (
        (
            Way("no volute behind the nut"),
            Way("a volute behind the nut", ("volute_height", "volute_length"), may=("volute_at",)),
        ),
        (
            Way("no bars beside the truss rod"),
            Way(
                "two bars beside the truss rod",
                ("bar_width", "bar_depth", "bar_centre", "bar_from", "bar_to"),
            ),
        ),
    )

    section: SectionName = Field(
        default="round",
        title="section of the neck",
        description="by formulas of our own: a half ellipse, one drawn in towards a v, one with a flatter back "
        "(see docs/neck.md)",
    )
    thickness_at_first: Annotated[Dimension, Mm(12, 45, "the neck's thickness at the 1st fret")] = Field(
        description="with the fingerboard, over the middle, without the fret"
    )
    thickness_at_twelfth: Annotated[Dimension, Mm(12, 50, "the neck's thickness at the 12th fret")] = Field(
        description="the same; between the two, and on to the heel, the neck thickens evenly"
    )
    upright: Annotated[float, Mm(0, 6, "the wood left upright under the fingerboard's edge")] = 0.0
    heel_from: Annotated[
        float | None, Mm(150, 850, "where the neck begins to thicken into its heel, from the nut")
    ] = Field(
        default=None,
        description="45 mm before heel_to when left out",
        title="heel's curve begins",
    )
    heel_to: Annotated[float | None, Mm(150, 900, "where the neck is as thick as its heel, from the nut")] = (
        Field(default=None, description="the neck pocket's open end when left out", title="heel's curve ends")
    )
    volute_height: Annotated[float | None, Mm(0.3, 12, "the volute's height over the neck's back")] = Field(
        default=None, description="states a volute; none when left out"
    )
    volute_length: Annotated[float | None, Mm(10, 150, "the volute's length along the neck")] = None
    volute_at: Annotated[float, Mm(-80, 60, "the volute's middle, from the nut")] = Field(
        default=0.0, description="a minus lies towards the head"
    )
    bar_width: Annotated[float | None, Mm(1, 12, "a bar's channel across")] = Field(
        default=None, description="states two bars, one on either side of the centreline; none when left out"
    )
    bar_depth: Annotated[float | None, Mm(2, 20, "the bars' channels' depth under the board")] = None
    bar_centre: Annotated[float | None, Mm(3, 40, "a bar's middle from the centreline")] = None
    bar_from: Annotated[float | None, Mm(-100, 800, "the bars' channels' start, from the nut")] = None
    bar_to: Annotated[float | None, Mm(50, 900, "the bars' channels' end, from the nut")] = None
    blank_length: Annotated[float | None, Mm(300, 1500, "the blank's length")] = Field(
        default=None,
        description="of the blank you have, planed; what the neck needs is worked out without it",
    )
    blank_width: Annotated[float | None, Mm(40, 300, "the blank's width")] = None
    blank_thickness: Annotated[float | None, Mm(10, 120, "the blank's thickness")] = Field(
        default=None, description="of a head in one piece with the neck too, whose stock this is"
    )
    board_timber: TimberStated | None = Field(
        default=None,
        title="timber of the fingerboard",
        description="for its weight; the neck's own when left out",
    )

    @model_validator(mode="after")
    def _a_curve(self) -> Self:
        if self.heel_from is not None and self.heel_to is not None and self.heel_to <= self.heel_from:
            raise refuse(
                f"heel_to ({said(self.heel_to, None)}) must be larger than heel_from ({said(self.heel_from, None)}); both "
                "are from the nut"
            )
        return self

    @model_validator(mode="after")
    def _a_volute(self) -> Self:
        if (self.volute_height is None) != (self.volute_length is None):
            raise refuse("a volute needs volute_height and volute_length")
        if self.volute_height is None and "volute_at" in self.model_fields_set:
            raise refuse(
                "volute_at is of a volute: state volute_height and volute_length too, or leave it out"
            )
        return self

    @model_validator(mode="after")
    def _two_bars(self) -> Self:
        stated = (self.bar_width, self.bar_depth, self.bar_centre, self.bar_from, self.bar_to)
        if None in stated and any(each is not None for each in stated):
            raise refuse("the bars need bar_width, bar_depth, bar_centre, bar_from and bar_to")
        if self.bar_from is None or self.bar_to is None or self.bar_centre is None or self.bar_width is None:
            return self
        if self.bar_to <= self.bar_from:
            raise refuse(
                f"bar_to ({said(self.bar_to, None)}) must be larger than bar_from ({said(self.bar_from, None)}); both are "
                "from the nut"
            )
        if self.bar_centre <= self.bar_width / 2:
            raise refuse(
                f"bars {said(self.bar_width, None)} wide with their middles {said(self.bar_centre, None)} from the "
                "centreline run into each other; bar_centre counts from the centreline to a bar's middle"
            )
        return self
