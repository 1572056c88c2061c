"""A fixed plate that lies on the body and is held by wood screws."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, Literal, Self

from pydantic import Field, model_validator

from scribeline.job.bridges.stated import Contradiction, Loading, WithKnobs, without_ferrules
from scribeline.job.part import WoodScrew
from scribeline.job.table import X, Y
from scribeline.job.values import Dimension, Mm, refuse
from scribeline.lengths import said

if TYPE_CHECKING:
    from scribeline.job.document import Document


class BridgeScrew(WoodScrew):
    """The screws that hold a bridge's plate."""

    shelf = "bridge screw"


class PlateBridge(WithKnobs):
    """A fixed plate with one saddle a string; the strings run through the body, or end in the plate (top-load).

    Positions on the plate are (from its front edge towards the tail, from its middle towards the treble side).
    """

    shelf = "bridge"
    noun = "plate"
    title = "bridge plate"
    ground_at = "the plate"
    held_by = "screws"
    counted_from = "plate's front edge"
    line = "front edge"
    pattern = "screw holes"
    which = " (the one towards the neck)"
    screwed_down = True

    kind: Literal["plate"] = Field(
        default="plate", title="kind of bridge", description="a plate that is screwed down"
    )
    loading: Loading = Field(
        default="through-body",
        description="where the strings end: behind the body, which needs ferrules, or in the plate itself",
    )
    saddle_forward: Annotated[
        Dimension, Mm(0, 80, "front edge to where the string leaves the saddle, saddle fully forward")
    ]
    saddle_back: Annotated[
        Dimension, Mm(0, 90, "front edge to where the string leaves the saddle, saddle fully back")
    ]
    plate_length: Annotated[Dimension, Mm(15, 120, "the plate's length along the strings")]
    plate_width: Annotated[Dimension, Mm(40, 160, "the plate's width")]
    plate_thickness: Annotated[Dimension, Mm(0.8, 8, "the plate's thickness")]
    string_hole: Annotated[Dimension | None, Mm(1.5, 10, "the plate's string hole")] = Field(
        default=None, description="needed for strings through the body"
    )
    string_holes_from_front: Annotated[
        Dimension | None, Mm(0, 110, "front edge to the row of string holes")
    ] = Field(default=None, description="needed for strings through the body")
    screw_hole: Annotated[Dimension, Mm(2, 8, "the plate's screw hole")]
    screws: tuple[tuple[X, Y], ...] = Field(min_length=2)

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        half, length = self.plate_width.mm / 2, self.plate_length.mm
        for x, y in self.screws:
            if not (0 < x < length and abs(y) < half):
                raise refuse(
                    f"the screw at ({x:g}, {y:g}) mm is not on the plate, which is {length:g} long and {2 * half:g} wide; "
                    "positions are (from the front edge, from the middle towards the treble)"
                )
        row = self.string_holes_from_front
        if row is not None and row.mm >= length:
            raise refuse(
                f"string_holes_from_front ({said(row.mm, None)}) is beyond the plate's {said(length, None)}"
            )
        return self

    def typical_dimensions(self) -> dict[str, Dimension]:
        """Dimensions nobody has measured yet, by key; the string holes' own only where strings go through them."""
        found = super().typical_dimensions()
        idle = () if self.through_body else ("string_hole", "string_holes_from_front")
        return {key: value for key, value in found.items() if key not in idle}

    @property
    def string_row(self) -> Dimension | None:
        """Front edge to the row of string holes; None where the strings end in the plate."""
        return self.string_holes_from_front if self.through_body else None

    @property
    def string_row_key(self) -> str:
        """The key of the job that states that."""
        return "bridge.string_holes_from_front"

    @property
    def guide(self) -> Dimension | None:
        """The plate's string hole, which guides the bit."""
        return self.string_hole

    @property
    def guided_through(self) -> float:
        """The plate's thickness, mm."""
        return self.plate_thickness.mm

    @property
    def rear(self) -> float:
        """The plate's length, mm."""
        return self.plate_length.mm

    @property
    def width(self) -> float:
        """The plate's width, mm."""
        return self.plate_width.mm

    def contradictions(self, document: "Document") -> Iterator[Contradiction]:
        """Its screws must be stated and get through it; strings through the body need a hole in it and a ferrule each."""
        screw, plate = document.bridge_screw, self.plate_thickness.mm
        if screw is None:
            yield ("bridge_screw",), "is missing; it is the screws that hold the bridge's plate"
        elif screw.length.mm <= plate:
            sentence = (
                f"a screw of {said(screw.length.mm, None)} does not get through the plate, {said(plate, None)} thick; "
                "use a longer one"
            )
            yield ("bridge_screw", "length"), sentence
        yield from self.about_knobs()
        if not self.through_body:
            return
        either = 'or say loading = "top-load" if the strings end in the plate'
        if self.string_hole is None:
            yield ("bridge", "string_hole"), f"is missing; it is the plate's string hole, {either}"
        if self.string_holes_from_front is None:
            yield (
                ("bridge", "string_holes_from_front"),
                f"is missing; it is the front edge to the row of string holes, {either}",
            )
        yield from without_ferrules(document, either)


KIND = PlateBridge


def plate_screw(document: "Document") -> BridgeScrew:
    """The screws of a job whose bridge is a plate; reading it has seen to it that they are stated."""
    assert document.bridge_screw is not None
    return document.bridge_screw
