"""A vibrato bridge that pivots on a row of wood screws through its plate's front edge."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, Literal, Self

from pydantic import Field, model_validator

from scribeline.job.bridges.sprung import Sprung
from scribeline.job.bridges.stated import Contradiction
from scribeline.job.values import Degrees, Dimension, Mm, refuse
from scribeline.lengths import said

if TYPE_CHECKING:
    from scribeline.job.document import Document


class ScrewedVibrato(Sprung):
    """A vibrato bridge that rocks on a row of wood screws through its plate; springs in the back hold it level.

    The knife edges are the sharp rims of the plate's holes, where these bear on the screws. Places along it count from
    their line, towards the tail; places across from the middle of the row; heights on it from its plate's underside. All
    are measured with the plate level.
    """

    shelf = "vibrato on screws"
    held_by = "pivot screws"
    pattern = "screws"
    pivots = "screws"
    screwed_down = True

    kind: Literal["vibrato_screws"] = Field(
        title="kind of bridge",
        description="a vibrato bridge that rocks on a row of wood screws; the screws are stated under bridge_screw",
    )
    underside: Annotated[Dimension, Mm(0, 10, "the plate's underside over the body, as it will be set")] = (
        Field(description="0: it lies on the body and turns down alone")
    )
    screw_count: int = Field(default=6, ge=2, le=9, title="number of screws it rocks on")
    screw_spread: Annotated[Dimension, Mm(20, 110, "the two outer screws, centre to centre")] = Field(
        description="the others stand between them at equal distances"
    )
    screws_bearing: int = Field(
        default=2,
        ge=1,
        le=9,
        title="number of screws that bear",
        description="those in close holes, counted from the outer two inwards; the others stand loose in theirs",
    )
    knife_behind_screw: Annotated[
        Dimension, Mm(0, 5, "how far the holes' sharp rims bear behind the screws' axes")
    ]
    front_bevel: Annotated[float, Degrees(0, 60, "the bevel under the plate's front edge")] = Field(
        default=0.0,
        description="from the plate's underside, from the line of the knife edges to its front edge",
    )

    @model_validator(mode="after")
    def _all_bear(self) -> Self:
        if self.screws_bearing > self.screw_count:
            raise refuse(
                f"screws_bearing ({self.screws_bearing}) must be no more than screw_count ({self.screw_count})"
            )
        if self.knife_behind_screw.mm >= self.reach_forward.mm:
            raise refuse(
                f"knife_behind_screw ({said(self.knife_behind_screw.mm, None)}) must be less than reach_forward "
                f"({said(self.reach_forward.mm, None)}): the screws go through the plate behind its front edge"
            )
        if self.screw_spread.mm >= self.plate_width.mm:
            raise refuse(
                f"screw_spread ({said(self.screw_spread.mm, None)}) must be less than plate_width "
                f"({said(self.plate_width.mm, None)}): the screws go through the plate"
            )
        return self

    @property
    def width(self) -> float:
        """Outer screw to outer screw, mm."""
        return self.screw_spread.mm

    @property
    def bevel(self) -> float:
        """Of the plate's front edge, rad."""
        return self.front_bevel

    @property
    def under_head(self) -> float:
        """What a screw passes before the wood, mm."""
        return self.underside.mm + self.plate_thickness.mm

    def contradictions(self, document: "Document") -> Iterator[Contradiction]:
        """Its screws must be stated and reach the wood; the rest as of every vibrato."""
        screw = document.bridge_screw
        if screw is None:
            yield ("bridge_screw",), "is missing; it is the screws that the vibrato rocks on"
        elif screw.length.mm <= self.under_head:
            sentence = (
                f"a screw of {said(screw.length.mm, None)} does not reach the wood: {said(self.under_head, None)} of it lie in "
                "the plate and under it; use a longer one"
            )
            yield ("bridge_screw", "length"), sentence
        yield from super().contradictions(document)


KIND = ScrewedVibrato
