"""A vibrato that turns on an axle in two bearing blocks, each held by two wood screws. Invented for the tests."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, Literal

from pydantic import Field

from scribeline.job.bridges.sprung import Sprung
from scribeline.job.bridges.stated import Contradiction
from scribeline.job.values import Dimension, Mm

if TYPE_CHECKING:
    from scribeline.job.document import Document


class AxleVibrato(Sprung):
    """A vibrato that turns on an axle, with which its knife edges' line is meant here."""

    shelf = "vibrato on an axle"
    held_by = "bearing blocks"
    pattern = "screws"
    pivots = "an axle"
    screwed_down = True

    kind: Literal["axle"] = Field(title="kind of bridge", description="a vibrato that turns on an axle")
    blocks_apart: Annotated[Dimension, Mm(30, 120, "the bearing blocks, middle to middle")]
    foot_front: Annotated[Dimension, Mm(3, 30, "the axle to a bearing block's front edge")]
    screw_front: Annotated[Dimension, Mm(1, 25, "the axle to a block's front screw")]
    screw_back: Annotated[Dimension, Mm(1, 25, "the axle to a block's rear screw")]
    foot_thickness: Annotated[
        Dimension, Mm(1, 10, "the bearing blocks' thickness where the screws go through")
    ]

    @property
    def width(self) -> float:
        """Block to block, mm."""
        return self.blocks_apart.mm

    def contradictions(self, document: Document) -> Iterator[Contradiction]:
        """Its blocks want screws."""
        if document.bridge_screw is None:
            yield ("bridge_screw",), "is missing; it is the screws that hold the bearing blocks"
        yield from super().contradictions(document)


KIND = AxleVibrato
