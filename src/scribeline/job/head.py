"""The head: where the strings go beyond the nut, to tuners."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from scribeline.job.table import XY, Table
from scribeline.job.values import Degrees, Dimension, Mm, refuse

Across = Annotated[float, Mm(0, 80, "a post's distance from the centreline")]


class Head(Table):
    """The head and its tuners; state it where you drill it here."""

    face: Literal["stepped", "angled"] = Field(
        title="kind of head",
        description='"stepped": level with the neck, its face lower; "angled": leaning back from the nut',
    )
    step: Annotated[float | None, Mm(0, 25, "the head's face below the fingerboard's at the nut")] = Field(
        default=None, description="square to the board; the fingerboard's thickness when left out"
    )
    angle: Annotated[float, Degrees(0, 20, "how far the head leans back")] = 0.0
    thickness: Annotated[float, Mm(8, 30, "the head's thickness")] = 15.0
    bass_side: tuple[int, ...] = Field(
        default=(),
        description="numbers of the strings whose tuners stand on the bass side, from the nut outwards",
    )
    treble_side: tuple[int, ...] = Field(
        default=(), description="the same of the treble side; string 1 is the highest"
    )
    first_post: Annotated[float, Mm(20, 120, "the nut to the nearest tuner post")]
    pitch: Annotated[float, Mm(12, 60, "the tuner posts' distance along their row")]
    bass_row: tuple[Across, Across] | None = Field(
        default=None,
        description="the first and the last post of the bass side from the centreline; when left out each string runs straight",
    )
    treble_row: tuple[Across, Across] | None = Field(default=None, description="the same of the treble side")
    hole: Annotated[Dimension, Mm(5, 16, "a tuner's hole")]
    post: Annotated[float, Mm(3, 12, "a tuner post's diameter where the string winds")] = 6.0
    string_height: Annotated[float, Mm(1, 20, "the string on its post over the head's face")] = 6.5
    housing: Annotated[float, Mm(5, 40, "a tuner's housing along its row")] = 15.0
    outline: tuple[XY, ...] = Field(
        default=(),
        description="from the nut outwards along the face, and from the centreline to the treble; the least wood round the posts "
        "when left out",
    )

    @model_validator(mode="after")
    def _one_face(self) -> Self:
        if self.face == "stepped" and self.angle:
            raise refuse('a stepped head is level with the neck: leave angle out, or set face = "angled"')
        if self.face == "angled" and not self.angle:
            raise refuse('an angled head needs its angle, such as angle = 13; or set face = "stepped"')
        twice = set(self.bass_side) & set(self.treble_side)
        if twice:
            raise refuse(f"string {min(twice)} has a tuner on both sides; list each string once")
        return self
