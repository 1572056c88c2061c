"""A fixed bridge that hangs on two studs, whose bushings are pressed into the wood."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, Literal, Self

from pydantic import Field, model_validator

from scribeline.job.bridges.stated import (
    Bridge,
    Contradiction,
    Loading,
    gripped_by_a_bushing,
    off_the_body,
    without_ferrules,
)
from scribeline.job.values import Dimension, Mm, refuse
from scribeline.lengths import said

if TYPE_CHECKING:
    from scribeline.job.document import Document


class BridgeOnStuds(Bridge):
    """A fixed bridge that hangs on two studs; the strings end in it, or run on through the body behind it.

    Places along it count from the line of its studs, those before it with a minus; places across from midway between
    the two. It is raised and tilted on the studs, and may stand slanted, the bass end further back.
    """

    shelf = "bridge on studs"
    noun = "bridge"
    title = "bridge"
    ground_at = "one of the studs"
    grounded_at_a_bushing = True
    held_by = "studs"
    counted_from = "line of the studs"
    line = "line of the studs"
    pattern = "studs"

    kind: Literal["studs"] = Field(title="kind of bridge", description="a fixed bridge on two studs")
    loading: Loading = Field(
        default="top-load",
        description="where the strings end: in the bridge itself (top-load), or behind the body, which needs ferrules",
    )
    saddle_forward: Annotated[
        Dimension,
        Mm(-30, 30, "line of the studs to where the string leaves the saddle, saddle fully forward"),
    ]
    saddle_back: Annotated[
        Dimension, Mm(-30, 40, "line of the studs to where the string leaves the saddle, saddle fully back")
    ]
    stud_spacing: Annotated[Dimension, Mm(50, 140, "the studs' spacing, centre to centre")]
    stud_play: Annotated[Dimension, Mm(0, 1.5, "the play of the bridge on its studs, along the strings")]
    bushing_diameter: Annotated[Dimension, Mm(5, 18, "the bushings' diameter over the knurl")]
    bushing_length: Annotated[Dimension, Mm(8, 45, "the bushings' length")]
    slant: Annotated[float | None, Mm(-15, 15, "how far the bass stud stands behind the treble one")] = Field(
        default=None, description="the slant that leaves the saddles most travel when left out"
    )
    reach_forward: Annotated[Dimension, Mm(2, 50, "line of the studs to the bridge's front edge")]
    reach_back: Annotated[Dimension, Mm(2, 60, "line of the studs to the bridge's rear edge")]
    overall_width: Annotated[Dimension, Mm(60, 180, "the bridge's width, end to end")]
    underside: Annotated[Dimension, Mm(0.2, 25, "the bridge's underside over the body, as it will be set")]
    thickness: Annotated[Dimension, Mm(2, 30, "the bridge's thickness under its saddles")]
    string_holes_from_studs: Annotated[
        Dimension | None, Mm(2, 80, "line of the studs to the row of string holes in the body")
    ] = Field(default=None, description="needed for strings through the body")

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        if self.overall_width.mm <= self.stud_spacing.mm:
            raise refuse(
                f"overall_width ({said(self.overall_width.mm, None)}) must be more than stud_spacing "
                f"({said(self.stud_spacing.mm, None)}): the studs stand inside the bridge's ends"
            )
        return self

    def typical_dimensions(self) -> dict[str, Dimension]:
        """Dimensions nobody has measured yet, by key; the string holes' row only where there is one."""
        found = super().typical_dimensions()
        return {
            key: value
            for key, value in found.items()
            if self.through_body or key != "string_holes_from_studs"
        }

    @property
    def string_row(self) -> Dimension | None:
        """Line of the studs to the row of string holes; None where the strings end in the bridge."""
        return self.string_holes_from_studs if self.through_body else None

    @property
    def string_row_key(self) -> str:
        """The key of the job that states that."""
        return "bridge.string_holes_from_studs"

    @property
    def foremost(self) -> float:
        """Its front edge, before the line of the studs, mm."""
        return -self.reach_forward.mm

    @property
    def rear(self) -> float:
        """Its rear edge, behind the line of the studs, mm."""
        return self.reach_back.mm

    @property
    def width(self) -> float:
        """Stud to stud, mm."""
        return self.stud_spacing.mm

    def contradictions(self, document: "Document") -> Iterator[Contradiction]:
        """The strings run between its studs; it hides no wire; strings through the body need their row and ferrules."""
        spread = self.spacing.mm * (len(document.strings) - 1)
        if self.stud_spacing.mm - self.bushing_diameter.mm <= spread:
            sentence = (
                f"studs {said(self.stud_spacing.mm, None)} apart stand among the strings, which spread {said(spread, None)}; "
                "measure centre to centre of the studs, and neighbouring strings at the saddles"
            )
            yield ("bridge", "stud_spacing"), sentence
        yield from off_the_body(document, "hangs on studs", "a bridge on studs")
        yield from gripped_by_a_bushing(document, self.bushing_diameter)
        if not self.through_body:
            return
        either = 'or say loading = "top-load" if the strings end in the bridge'
        if self.string_holes_from_studs is None:
            yield (
                ("bridge", "string_holes_from_studs"),
                f"is missing; it is the line of the studs to the row of string holes, {either}",
            )
        yield from without_ferrules(document, either)


KIND = BridgeOnStuds
