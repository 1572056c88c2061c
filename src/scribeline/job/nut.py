"""The nut: how its slots are spaced, and, where it is made here, its blank and what its slots are cut to."""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from scribeline.job.table import Table
from scribeline.job.values import Mm, refuse
from scribeline.lengths import said

ON_ITS_FRET = 0.3
"""What the crown of a zero fret may stand over the others', mm (common practice, no source)."""


class Nut(Table):
    """The nut's width and how its slots are spaced; state its thickness where you make it here."""

    width: Annotated[float, Mm(25, 80, "the nut's width")]
    spacing: Literal["equal gaps", "equal centres"] = Field(
        default="equal gaps",
        title="nut slots",
        description="equal gaps between the strings, or equal from centre to centre",
    )
    edge: Annotated[float, Mm(1, 10, "the nut's edge to the outer string's outer side")] = 3.2
    height_over_frets: Annotated[float, Mm(0, 2, "the string's height over the fret plane at the nut")] = 0.5
    thickness: Annotated[float | None, Mm(2, 15, "the nut's thickness along the neck")] = Field(
        default=None,
        description="square to its front; state it where you make the nut here: its blank, slots and strip are then planned too",
    )
    seat: Annotated[float | None, Mm(0, 15, "the nut's underside below the fingerboard's face")] = Field(
        default=None,
        description="0 of one that stands on the board; the fingerboard's thickness when left out: it stands on the neck",
        title="seat below the fingerboard's face",
    )
    blank_height: Annotated[float | None, Mm(2, 30, "the nut blank's height")] = Field(
        default=None, description="worked out when left out"
    )
    blank_length: Annotated[float | None, Mm(25, 120, "the nut blank's length across the neck")] = Field(
        default=None, description="worked out when left out"
    )
    over_plain: Annotated[float, Mm(0, 0.5, "how much wider than a plain string its slot is")] = Field(
        default=0.05, title="slot's clearance, plain strings"
    )
    over_wound: Annotated[float, Mm(0, 0.5, "how much wider than a wound string its slot is")] = Field(
        default=0.08, title="slot's clearance, wound strings"
    )
    proud: float = Field(
        default=0.5,
        ge=0,
        le=0.9,
        title="share of a string over the nut's top",
        description="share of each string's diameter that stands over the nut's top, once that is brought down to the strings",
    )
    compensation: tuple[Annotated[float, Mm(-3, 3, "how far a slot's front is moved")], ...] = Field(
        default=(),
        description="how far the front of each string's slot stands before the nut's line, towards the bridge, one a string "
        "from the treble; the saddles' places are worked out with it",
        title="compensation at the nut",
    )
    zero_fret: bool = Field(
        default=False,
        description="a fret on the nut's line bears the strings, and the nut behind it only guides them",
    )
    behind_zero_fret: Annotated[float, Mm(1, 20, "the nut's front behind the zero fret's middle")] = 4.0
    below_zero_fret: Annotated[float, Mm(0, 3, "the guide's slots below the zero fret's crown")] = 0.5

    def start(self, usual: str) -> str:
        """What the strings and every distance from the nut start from, in bench words; `usual` where no zero fret does."""
        return "the zero fret's middle" if self.zero_fret else usual

    @model_validator(mode="after")
    def _made_here(self) -> Self:
        if self.thickness is None:
            stated = self.model_fields_set & {"seat", "blank_height", "blank_length"}
            if stated:
                raise refuse(
                    f"{min(stated)} is of a nut that is made here: state its thickness too, or leave it out"
                )
        return self

    @model_validator(mode="after")
    def _zero_fret(self) -> Self:
        if not self.zero_fret:
            if stated := self.model_fields_set & {"behind_zero_fret", "below_zero_fret"}:
                raise refuse(f"{min(stated)} is of a zero fret; say zero_fret = true, or leave it out")
            return self
        if self.height_over_frets > ON_ITS_FRET:
            raise refuse(
                f"with a zero fret the strings lie on it, not {said(self.height_over_frets, None)} over the frets: state "
                f"height_over_frets as what its crown stands over the others: 0 of the same wire, "
                f"{said(ON_ITS_FRET, None)} at most"
            )
        if self.compensation:
            raise refuse(
                "a zero fret is straight, so that no string has a place of its own on it: leave compensation or zero_fret out"
            )
        return self
