"""What stands in a record of the bench: cuts as they were made, readings taken at gates, stops gone on against.

Everything here is in millimetres whatever the job's units, and in the instrument frame of the plan it was cut by
(`plan.json`): a cut stays where it is in the wood, so it is kept as it lies there, never as it was stated.
"""

import datetime as dt
from dataclasses import dataclass
from typing import Annotated, Any, Literal, Self

from pydantic import Field, model_validator

from scribeline.job.table import CornersOnce, Table, crossing
from scribeline.job.values import refuse

Place = Annotated[float, Field(ge=-3000, le=3000)]
Across = Annotated[float, Field(ge=0, le=500)]
Name = Annotated[str, Field(min_length=1, max_length=120)]
Outline = Annotated[tuple[tuple[Place, Place], ...], Field(min_length=3, max_length=20_000), CornersOnce]
Surface = Literal["top", "back", "edge", "pocket"]


_THINNEST = 0.1
"""No bit is thinner, mm."""

LEAST_REASON, LONGEST_REASON = 8, 200
"""Characters of the reason for going on against a stop: a word or two at least."""


class CutBit(Table):
    """The bit that made a cut."""

    kind: Literal["twist", "brad-point", "flat-bottomed", "countersink"]
    diameter: float = Field(ge=_THINNEST, le=100)
    point: float = Field(ge=0, le=50, description="how far its point goes beyond the full diameter")
    reach: float | None = Field(default=None, gt=0, le=2000)
    owned: bool = True
    drift: float | None = Field(
        default=None, ge=0, le=1, description="how far it wanders, mm per mm of depth"
    )
    label: str = Field(default="", max_length=60)


class CutStep(Table):
    """One diameter of a hole."""

    no: int = Field(ge=1, le=9, description="which of the hole's diameters, the widest being 1")
    diameter: float = Field(ge=_THINNEST, le=100)
    depth: Across = Field(description="along the axis from the face to the end of the full diameter")
    bit: CutBit


class CutSlope(Table):
    """How the floor of a cavity leans."""

    angle: float = Field(ge=-0.5, le=0.5, description="rad; over 0 the floor rises towards the tail")
    at: Place = Field(description="where along the instrument the cavity's depth is told")


class Cut(Table):
    """One hole or cavity exactly as it was made, in mm and the instrument frame of plan.json."""

    id: Name
    role: Name
    face: Surface
    group: str = Field(default="", max_length=120, description="of a hole: holes that share one setting")
    at: tuple[Place, Place, Place] | None = Field(
        default=None, description="of a hole: where its axis meets its face, as planned when it was made"
    )
    measured: tuple[Place, Place] | None = Field(
        default=None,
        description="of a hole: its place read at the bench, from the nut and from the centreline as at is; "
        "the plan then goes by it, and at keeps what was planned",
    )
    axis: tuple[float, float, float] | None = Field(
        default=None, description="of a hole: unit vector into the wood"
    )
    revision: int | None = Field(
        default=None,
        ge=1,
        le=2**53,
        description="of the job whose numbers were on the screen when it was made, where that is another than the step's",
    )
    steps: tuple[CutStep, ...] = Field(
        default=(), max_length=9, description="of a hole: what has been drilled"
    )
    through: bool = False
    entered_from: str = Field(default="", max_length=120, description="the cavity a hole was drilled through")
    outward: tuple[float, float, float] | None = Field(
        default=None,
        description="of a hole from the edge or a cavity: unit normal of that wall, out of the wood",
    )
    lead: float = Field(default=0.0, ge=-100, le=500)
    grain: Literal["", "side", "end"] = ""
    outline: Outline | None = Field(default=None, description="of a cavity: as cut")
    islands: tuple[Outline, ...] = Field(default=(), max_length=50)
    depth: Across | None = Field(
        default=None, description="of a cavity: from its face, as planned when it was cut"
    )
    measured_depth: Across | None = Field(
        default=None,
        gt=0,
        description="of a cavity: its depth from its face, read at the step's gate; the plan then goes by it, and depth "
        "keeps what was planned",
    )
    slope: CutSlope | None = Field(
        default=None, description="of a cavity whose floor leans; left out, it is level"
    )
    corner_radius: float = Field(default=0.0, ge=0, le=100)
    at_edge: bool = False
    meets: tuple[Name, ...] = Field(default=(), max_length=200)

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        hole = self.at is not None and self.axis is not None and bool(self.steps)
        pocket = self.outline is not None and self.depth is not None
        of_a_hole = self.at is not None or self.axis is not None or bool(self.steps)
        if hole == pocket or (pocket and of_a_hole):
            raise refuse("a cut is either a hole (at, axis and steps) or a cavity (outline and depth)")
        if pocket and not self.depth:
            raise refuse(
                "depth 0: a cavity that was cut has taken wood away; leave the cut out if it has not"
            )
        for ring in (self.outline, *self.islands):
            if ring is not None and (place := crossing(ring)):
                raise refuse(
                    f"an outline that was cut {place}; list its corners in order round it, each once"
                )
        if self.measured is not None and not hole:
            raise refuse("only a hole has a measured place; of a cavity change its outline to what was cut")
        if self.measured_depth is not None and not pocket:
            raise refuse(
                "only a cavity has a measured_depth; of a hole change its steps' depth to what was drilled"
            )
        if self.slope is not None and not (pocket and self.face == "top"):
            raise refuse("only a cavity in the top has a slope; leave it out")
        if self.axis is not None and abs(sum(part * part for part in self.axis) - 1.0) > 1e-6:
            raise refuse("axis must be a unit vector; it points into the wood")
        if len({step.no for step in self.steps}) != len(self.steps):
            raise refuse("a hole's steps must each have their own no")
        return self

    @property
    def plain(self) -> dict[str, Any]:
        """As the store and a job file keep it: plain values, and only those that say something."""
        return self.model_dump(mode="json", exclude_defaults=True, exclude_none=True)


class Done(Table):
    """A step that is done; what it cut stays where it was cut."""

    card: Name = Field(description="id of the step card, such as drill-string-holes")
    by: Name
    at: dt.datetime = Field(description="when, such as 2026-01-31T10:15:00Z")
    revision: int = Field(default=1, ge=1, description="revision of the job it was cut by")
    cuts: tuple[Cut, ...] = Field(default=(), max_length=500)


@dataclass(frozen=True, slots=True)
class MadeHole:
    """Where a hole lies that is made, wholly or in part.

    Attributes:
        at: where its axis meets its face, mm: as measured, else as planned when it was made.
        axis: unit vector into the wood.
        widest: the largest diameter bored of it, mm.
        measured: whether its place was read at the bench.
        sd: how well that is known along and across, one standard deviation, mm; (0, 0) of a direction that nobody read.
    """

    at: tuple[float, float, float]
    axis: tuple[float, float, float]
    widest: float
    measured: bool = False
    sd: tuple[float, float] = (0.0, 0.0)


_AT_RISK = "at my own risk: "
"""How `with_what` began of a reading accepted against its gate, before `risk` had a key of its own."""


class AskRead(Table):
    """One of several readings that a gate asks for."""

    ask: Name = Field(description="which: its id in plan.json")
    value_mm: float = Field(ge=-3000, le=3000, description="the reading")
    low: float | None = Field(
        default=None, ge=-3000, le=3000, description="least that was asked for when it was accepted so"
    )
    high: float | None = Field(
        default=None, ge=-3000, le=3000, description="most that was asked for when it was accepted so"
    )

    @property
    def plain(self) -> dict[str, Any]:
        """As the store and a job file keep it."""
        return self.model_dump(mode="json", exclude_none=True)


class GateRead(Table):
    """What was read at a step's gate: a reading, or a yes or no."""

    card: Name = Field(description="id of the step card")
    value_mm: float | None = Field(
        default=None, ge=-3000, le=3000, description="the reading; of several the one that decides"
    )
    values: tuple[AskRead, ...] = Field(
        default=(), max_length=100, description="each reading, where the gate asks for several"
    )
    yes: bool | None = Field(default=None, description="the answer, where the gate asks for none")
    by: Name
    with_what: str = Field(default="", max_length=120, description="what it was measured with")
    at: dt.datetime
    revision: int = Field(default=1, ge=1, description="revision of the job the gate belongs to")
    risk: str = Field(
        default="",
        max_length=LONGEST_REASON,
        description="why the work goes on although the gate does not pass; it holds for the limits below alone",
    )
    low: float | None = Field(
        default=None, ge=-3000, le=3000, description="least that the gate asked for when it was accepted so"
    )
    high: float | None = Field(
        default=None, ge=-3000, le=3000, description="most that the gate asked for when it was accepted so"
    )

    @model_validator(mode="before")
    @classmethod
    def _risk_of_its_own(cls, stated: Any) -> Any:
        """Read a reading accepted at one's own risk as it was written before it kept the limits."""
        if isinstance(stated, dict) and not stated.get("risk"):
            words = stated.get("with_what")
            if isinstance(words, str) and words.startswith(_AT_RISK):
                return {**stated, "with_what": "", "risk": words.removeprefix(_AT_RISK)}
        return stated

    @model_validator(mode="after")
    def _one_answer(self) -> Self:
        if (self.value_mm is None) == (self.yes is None):
            raise refuse("give either value_mm (a reading) or yes (true or false)")
        if self.values and self.value_mm is None:
            raise refuse("values go with value_mm, the one of them that decides")
        if len({each.ask for each in self.values}) != len(self.values):
            raise refuse("each of several readings must have an ask of its own")
        return self


class Measurement(Table):
    """One reading of one of the plan's numbers; it is never changed, and one that was wrong is struck through."""

    what: Name = Field(description="which number: the id of a measurable in plan.json")
    value_mm: float = Field(ge=-3000, le=3000, description="the reading")
    plus_minus: float | None = Field(
        default=None,
        gt=0,
        le=100,
        description="how far it may be off; left out, by what it was measured with",
    )
    by: Name
    with_what: str = Field(
        default="",
        max_length=120,
        description="what it was measured with: one of the shop's ways, or your own words",
    )
    at: dt.datetime = Field(description="when, such as 2026-01-31T10:15:00Z")
    revision: int = Field(default=1, ge=1, description="revision of the job it was read for")
    lies_at: float | None = Field(
        default=None,
        ge=-3000,
        le=3000,
        description="of a place of a cut that is made: where the reading puts it, from the nut or from the centreline, in the "
        "instrument frame of plan.json; it stays there whatever the job becomes",
    )
    note: str = Field(default="", max_length=LONGEST_REASON)
    struck: str = Field(
        default="", max_length=LONGEST_REASON, description="why it no longer counts; the reading itself stays"
    )
    struck_by: str = Field(default="", max_length=120)
    struck_at: dt.datetime | None = None
    anew: bool = Field(
        default=False,
        description="whether something was moved before it: what was read earlier to find the same counts no more",
    )

    @property
    def plain(self) -> dict[str, Any]:
        """As the store and a job file keep it: plain values, and only those that say something."""
        return self.model_dump(mode="json", exclude_defaults=True, exclude_none=True)


class Override(Table):
    """A DO NOT CUT that the builder goes on against; it holds while it says the same, of the same cuts and no worse."""

    code: Name = Field(description="its code, as scribeline check gives it")
    features: tuple[Name, ...] = Field(default=(), max_length=500, description="the cuts it is about")
    value: float | None = Field(default=None, description="the number it found")
    limit: float | None = Field(default=None, description="what that was held against")
    says: str = Field(min_length=1, max_length=3000, description="what it said, in its own words")
    reason: str = Field(
        min_length=LEAST_REASON, max_length=LONGEST_REASON, description="why the work goes on"
    )
    by: Name
    at: dt.datetime = Field(description="when, such as 2026-01-31T10:15:00Z")
    revision: int = Field(default=1, ge=1, description="revision of the job it was given for")
