"""A vibrato bridge that pivots on two posts in bushings."""

from typing import Annotated, Literal

from pydantic import Field

from scribeline.job.bridges.sprung import Sprung
from scribeline.job.values import Dimension, Mm


class Vibrato(Sprung):
    """A vibrato bridge that pivots on two posts; its block hangs through the body, and springs in the back hold it level.

    Places along it count from the line of its knife edges, towards the tail; places across from midway between the
    posts; heights on it from its plate's underside. All are measured with the plate level.
    """

    shelf = "vibrato"
    held_by = "posts"
    pattern = "posts"
    pivots = "posts"

    kind: Literal["vibrato"] = Field(
        title="kind of bridge", description="a vibrato bridge that pivots on two posts"
    )
    post_spacing: Annotated[Dimension, Mm(40, 120, "the posts' spacing, centre to centre")]
    knife_behind_post: Annotated[Dimension, Mm(0, 8, "how far the knife edges bear behind the posts' axes")]
    bushing_diameter: Annotated[Dimension, Mm(5, 18, "the bushings' diameter over the knurl")]
    bushing_length: Annotated[Dimension, Mm(8, 45, "the bushings' length")]

    @property
    def width(self) -> float:
        """Post to post, mm."""
        return self.post_spacing.mm


KIND = Vibrato
