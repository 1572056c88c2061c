"""Single units, one a string, each on a base of its own: saddles, or headless units whose strings end in tuners."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, Literal, Self

from pydantic import Field, model_validator

from scribeline.job.bridges.stated import Contradiction, Loading, WithKnobs, without_ferrules
from scribeline.job.table import X, Y
from scribeline.job.values import Dimension, Mm, refuse
from scribeline.lengths import said

if TYPE_CHECKING:
    from scribeline.job.document import Document


class SingleUnits(WithKnobs):
    """Single units, one a string, each screwed down where its string wants its saddle and turned to its string.

    Places on a base are (from its front edge towards the tail, from its middle towards the treble side).
    """

    shelf = "single saddle"
    noun = "row of saddles"
    title = "row of single saddles"
    ground_at = "every base"
    held_by = "screws"
    screwed_down = True
    counted_from = "set-out line"
    line = "set-out line"
    pattern = "screw holes"
    single = True

    kind: Literal["singles"] = Field(
        title="kind of bridge", description="single saddles or headless units, each on a base of its own"
    )
    loading: Loading = Field(
        default="top-load",
        description="where the strings end: in each base (top-load), or behind the body, which needs ferrules",
    )
    saddle_forward: Annotated[
        Dimension, Mm(0, 90, "the base's front edge to where the string leaves the saddle, fully forward")
    ]
    saddle_back: Annotated[
        Dimension, Mm(0, 100, "the base's front edge to where the string leaves the saddle, fully back")
    ]
    base_length: Annotated[Dimension, Mm(15, 110, "a base's length along its string")]
    base_width: Annotated[Dimension, Mm(6, 30, "a base's width")]
    base_thickness: Annotated[Dimension, Mm(0.8, 15, "a base's thickness where its screws go through")]
    screw_hole: Annotated[Dimension, Mm(2, 8, "a base's screw hole")]
    screws: tuple[tuple[X, Y], ...] = Field(min_length=1, max_length=4)
    string_hole: Annotated[Dimension | None, Mm(1.5, 10, "a base's string hole")] = Field(
        default=None, description="guides the string bit, where strings run through the body and the base"
    )
    string_hole_from_front: Annotated[
        Dimension | None, Mm(5, 140, "a base's front edge to its string's hole in the body")
    ] = Field(default=None, description="needed for strings through the body: in the base, or behind it")

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        half, length = self.base_width.mm / 2, self.base_length.mm
        for x, y in self.screws:
            if not (0 < x < length and abs(y) < half):
                raise refuse(
                    f"the screw at ({x:g}, {y:g}) mm is not on the base, which is {length:g} long and {2 * half:g} wide; "
                    "positions are (from the base's front edge, from its middle towards the treble)"
                )
        return self

    def typical_dimensions(self) -> dict[str, Dimension]:
        """Dimensions nobody has measured yet, by key; the string holes' own only where strings go through the body."""
        found = super().typical_dimensions()
        idle = () if self.through_body else ("string_hole", "string_hole_from_front")
        return {key: value for key, value in found.items() if key not in idle}

    @property
    def string_row(self) -> Dimension | None:
        """A base's front edge to its string's hole in the body; None where the strings end in the bases."""
        return self.string_hole_from_front if self.through_body else None

    @property
    def string_row_key(self) -> str:
        """The key of the job that states that."""
        return "bridge.string_hole_from_front"

    @property
    def guide(self) -> Dimension | None:
        """The base's string hole, where the string's hole in the body lies under the base."""
        row = self.string_row
        return self.string_hole if row is not None and row.mm < self.base_length.mm else None

    @property
    def guided_through(self) -> float:
        """The base's thickness where it guides the bit, mm."""
        return 0.0 if self.guide is None else self.base_thickness.mm

    @property
    def rear(self) -> float:
        """A base's length, mm."""
        return self.base_length.mm

    @property
    def width(self) -> float:
        """A base's width, mm."""
        return self.base_width.mm

    def contradictions(self, document: "Document") -> Iterator[Contradiction]:
        """Its screws must be stated and get through a base; strings through the body need their hole and ferrules."""
        screw, base = document.bridge_screw, self.base_thickness.mm
        if screw is None:
            yield ("bridge_screw",), "is missing; it is the screws that hold each base"
        elif screw.length.mm <= base:
            sentence = f"a screw of {said(screw.length.mm, None)} does not get through a base {said(base, None)} thick"
            yield ("bridge_screw", "length"), sentence
        yield from self.about_knobs()
        if not self.through_body:
            return
        either = 'or say loading = "top-load" if each string ends in its base'
        if self.string_hole_from_front is None:
            yield (
                ("bridge", "string_hole_from_front"),
                f"is missing; it is a base's front edge to its string's hole in the body, {either}",
            )
        elif self.string_hole is None and self.string_hole_from_front.mm < self.base_length.mm:
            yield (
                ("bridge", "string_hole"),
                "is missing; the string's hole lies under the base, and so goes through it: state the base's own hole",
            )
        yield from without_ferrules(document, either)


KIND = SingleUnits
