"""What vibrato bridges share, whatever they pivot on: a plate, a block through the body, springs in the back, their claw.

No kind of its own.
"""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from scribeline.job.bridges.stated import Bridge, Contradiction, Loading, off_the_body
from scribeline.job.part import WoodScrew
from scribeline.job.table import BuildersWord
from scribeline.job.values import Degrees, Dimension, Mm, refuse
from scribeline.lengths import said

if TYPE_CHECKING:
    from scribeline.job.cuts import PocketStatement
    from scribeline.job.document import Document


class Sprung(Bridge):
    """A vibrato bridge: its block hangs through the body, and springs in the back hold it level.

    Places along it count from the line of its knife edges, towards the tail; places across from its middle; heights on it
    from its plate's underside. All are measured with the plate level.

    Attributes:
        pivots: on what it does, as in "pivots on posts".
    """

    noun = "bridge"
    title = "vibrato bridge"
    counted_from = "line of the knife edges"
    line = "line of the knife edges"

    ground_at = "the claw"
    grounded_in = "spring_cavity"
    hangs_in = (("slot", "top", "block slot"), ("spring_cavity", "back", "spring cavity"))

    pivots: ClassVar[str]

    loading: Loading = Field(
        default="top-load", description="always top-load: the strings end in the bridge's own block"
    )
    saddle_forward: Annotated[
        Dimension, Mm(-10, 40, "knife edges to where the string leaves the saddle, saddle fully forward")
    ]
    saddle_back: Annotated[
        Dimension, Mm(-10, 50, "knife edges to where the string leaves the saddle, saddle fully back")
    ]
    reach_forward: Annotated[Dimension, Mm(0, 20, "knife edges to the plate's front edge")]
    reach_back: Annotated[Dimension, Mm(15, 80, "knife edges to the plate's rear edge")]
    plate_width: Annotated[Dimension, Mm(40, 120, "the plate's width")]
    plate_thickness: Annotated[Dimension, Mm(0.8, 8, "the plate's thickness")]
    underside: Annotated[Dimension, Mm(0.2, 10, "the plate's underside over the body, as it will be set")]
    saddle_over_plate_lowest: Annotated[
        Dimension | None,
        Mm(1, 30, "the string's height over the plate's upper side, saddle wound fully down"),
    ] = Field(
        default=None, description="in place of saddle_lowest: underside and plate_thickness are added to it"
    )
    saddle_over_plate_highest: Annotated[
        Dimension | None, Mm(1, 30, "the string's height over the plate's upper side, saddle wound fully up")
    ] = Field(default=None, description="in place of saddle_highest")
    knife_over_underside: Annotated[Dimension, Mm(-4, 8, "the knife edges over the plate's underside")]
    block_front: Annotated[Dimension, Mm(-5, 40, "knife edges to the block's front face")]
    block_thickness: Annotated[Dimension, Mm(4, 40, "the block's thickness along the strings")]
    block_length: Annotated[Dimension, Mm(12, 70, "the plate's underside to the block's lower end")]
    block_width: Annotated[Dimension, Mm(20, 110, "the block's width across the strings")]
    dive: Annotated[float, Degrees(1, 60, "how far it must turn down")] = Field(
        default=0.5235987755982988, description="from level, the strings slack at the end"
    )
    pull_up: Annotated[float | None, Degrees(0, 30, "how far it must turn up")] = Field(
        default=None, description="from level; until the plate's rear edge meets the body when left out"
    )
    slot: BuildersWord = Field(
        description="name of the cavity cut from the top that the block hangs in", title="cavity of the block"
    )
    spring_cavity: BuildersWord = Field(
        description="name of the cavity cut from the back that holds springs and claw",
        title="cavity of the springs",
    )
    springs: int = Field(default=3, ge=1, le=6, title="number of springs")
    spring_hooks: Annotated[Dimension, Mm(10, 70, "the plate's underside to the springs' line at the block")]
    hooks_behind: Annotated[Dimension, Mm(-5, 60, "knife edges to where the springs hook into the block")]
    spring_free: Annotated[Dimension, Mm(30, 130, "a spring's length unloaded, hook to hook")]
    spring_rate: float = Field(
        gt=0.2,
        lt=20,
        title="spring's rate, N/mm",
        description="how much more a spring pulls a millimetre longer",
    )
    spring_preload: float = Field(
        default=0.0,
        ge=0,
        le=60,
        title="spring's preload, N",
        description="the pull at which its coils begin to part",
    )
    claw_width: Annotated[Dimension, Mm(15, 90, "the claw's width")]
    claw_screws_apart: Annotated[Dimension, Mm(6, 80, "the claw's screws, centre to centre")]
    claw_screw: WoodScrew = Field(
        title="claw's screw", description="one of the two that pull the claw; its length under the head"
    )
    claw_tilt: Annotated[float, Degrees(0, 30, "how far the claw's screws slant")] = Field(
        default=0.17453292519943295,
        description="off level, down into the wood with the back up: a drill reaches the wall only over the cavity's tail end",
    )

    @model_validator(mode="after")
    def _fits_together(self) -> Self:
        if self.spring_hooks.mm > self.block_length.mm:
            raise refuse(
                f"spring_hooks ({said(self.spring_hooks.mm, None)}) lies below the block's end, block_length "
                f"({said(self.block_length.mm, None)}); both are measured from the plate's underside"
            )
        for end in ("lowest", "highest"):
            if (
                getattr(self, f"saddle_{end}") is not None
                and getattr(self, f"saddle_over_plate_{end}") is not None
            ):
                raise refuse(
                    f"state saddle_{end} or saddle_over_plate_{end}, not both: one follows from the other"
                )
        low, high = self.lowest, self.highest
        if low is not None and high is not None and high.mm <= low.mm:
            raise refuse(
                "the saddles' highest end must lie above their lowest; measure both from the plate's upper side"
            )
        if self.lever <= 0:
            raise refuse("the springs' line must lie below the knife edges; measure spring_hooks again")
        if self.claw_screws_apart.mm >= self.claw_width.mm:
            raise refuse(
                f"claw_screws_apart ({said(self.claw_screws_apart.mm, None)}) must be less than claw_width "
                f"({said(self.claw_width.mm, None)})"
            )
        return self

    @property
    def lowest(self) -> Dimension | None:
        """The string over the body, saddle wound fully down: underside, plate and what it stands over that."""
        return self._over_body("lowest")

    @property
    def highest(self) -> Dimension | None:
        """The same, saddle wound fully up."""
        return self._over_body("highest")

    def reach_from(self, end: Literal["lowest", "highest"]) -> tuple[str, ...]:
        """Float, plate and what is stated over it; else the one key that states it over the body."""
        if getattr(self, f"saddle_over_plate_{end}") is None:
            return (f"saddle_{end}",)
        return ("underside", "plate_thickness", f"saddle_over_plate_{end}")

    def _over_body(self, end: Literal["lowest", "highest"]) -> Dimension | None:
        parts: list[Dimension | None] = [getattr(self, key) for key in self.reach_from(end)]
        told = [part for part in parts if part is not None]
        if len(told) == 1:
            return told[0]
        return (
            None
            if not told
            else Dimension(
                sum(part.mm for part in told),
                sum(part.plus_minus for part in told),
                all(part.measured for part in told),
            )
        )

    @property
    def string_row(self) -> Dimension | None:
        """None: the strings end in the block."""
        return None

    @property
    def string_row_key(self) -> str:
        """No key states one."""
        return ""

    @property
    def foremost(self) -> float:
        """The plate's front edge, before the knife edges, mm."""
        return -self.reach_forward.mm

    @property
    def rear(self) -> float:
        """The plate's rear edge, behind the knife edges, mm."""
        return self.reach_back.mm

    @property
    def bevel(self) -> float:
        """Of the plate's underside, from the line of the knife edges up to its front edge, rad."""
        return 0.0

    @property
    def pivot(self) -> float:
        """The knife edges over the body, mm."""
        return self.underside.mm + self.knife_over_underside.mm

    @property
    def lever(self) -> float:
        """The knife edges over the springs' line, mm."""
        return self.spring_hooks.mm + self.knife_over_underside.mm

    def contradictions(self, document: "Document") -> Iterator[Contradiction]:
        """It has its two cavities, its strings end in it, and it hides no hole."""
        if self.through_body:
            yield ("bridge", "loading"), 'cannot be "through-body": the strings end in the vibrato\'s block'
        if self.saddle_height.mm <= self.pivot:
            sentence = (
                f"({said(self.saddle_height.mm, None)}) must lie above the knife edges, {said(self.pivot, None)} over the body; "
                "both are measured from the body"
            )
            yield ("bridge", "saddle_height"), sentence
        for key, face, _ in self.hangs_in:
            yield from self._names_a_cavity(document, key, face)
        yield from self._grounded(document)
        yield from off_the_body(document, f"pivots on {self.pivots}", "a vibrato")

    def _grounded(self, document: "Document") -> Iterator[Contradiction]:
        """Its ground wire runs from the spring cavity, where no place of its hole is stated."""
        wire = document.ground_wire
        if wire is None:
            return
        if wire.into == self.spring_cavity:
            yield (
                ("ground_wire", "into"),
                f'"{wire.into}" holds the claw, to which the wire is soldered; name the cavity it comes from',
            )
        for key in sorted({"from_front", "across", "lands", "heading"} & wire.model_fields_set):
            yield (
                ("ground_wire", key),
                "belongs to a wire that starts under a bridge plate; this one ends at the claw, and its hole is worked out",
            )

    def _names_a_cavity(self, document: "Document", key: str, face: str) -> Iterator[Contradiction]:
        named: str = getattr(self, key)
        found: PocketStatement | None = next((each for each in document.pockets if each.name == named), None)
        if found is None:
            known = ", ".join(f'"{each.name}"' for each in document.pockets) or "none"
            yield (
                ("bridge", key),
                f'no cavity is called "{named}"; the job has {known}. The command `scribeline cavities` writes one from the '
                "bridge's numbers",
            )
        elif found.face != face:
            yield ("bridge", key), f'"{named}" is cut from the {found.face}; it must be cut from the {face}'
