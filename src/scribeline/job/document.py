"""The job document: what a builder states about one instrument, as frozen values.

One class per table of the file; field names are the trade's own words. Once read, every length is in
millimetres and every angle in radians. Positions on the body are in the instrument frame: x from the nut
towards the bridge along the centreline, y towards the treble side. A left-handed job is stated the same way
(treble is treble) and is mirrored once, at the end of the layout.
"""

import datetime as dt
import re
from functools import partial
from itertools import pairwise
from typing import Annotated, Any, Literal, Self

from pydantic import (
    BeforeValidator,
    Field,
    GetJsonSchemaHandler,
    ValidationInfo,
    ValidatorFunctionWrapHandler,
    WrapValidator,
    field_validator,
    model_validator,
)
from pydantic.json_schema import JsonSchemaValue, SkipJsonSchema
from pydantic_core import CoreSchema, PydanticKnownError

from scribeline import tables
from scribeline.job.body import Body, MassStatement, OwnTimber, TimberStated
from scribeline.job.bridges import AnyBridge, BridgeScrew
from scribeline.job.cuts import (
    ControlStatement,
    HoleStatement,
    NeckBolts,
    NeckInserts,
    NeckScrews,
    PocketStatement,
)
from scribeline.job.edge import Jack, StrapButton
from scribeline.job.head import Head
from scribeline.job.limits import Limits
from scribeline.job.neck_blank import NeckBlank
from scribeline.job.nut import Nut
from scribeline.job.part import Part
from scribeline.job.table import BuildersWord, Hand, Table, Way
from scribeline.job.tunnels import GroundWire, TunnelStatement
from scribeline.job.values import (
    TYPICAL_PLUS_MINUS,
    Degrees,
    Dimension,
    Mm,
    PaperName,
    StringGauge,
    refuse,
)
from scribeline.lengths import JobUnit, said
from scribeline.strings import equal_temperament

BitKind = Literal["twist", "brad-point", "flat-bottomed", "countersink"]
TwelfthMark = Literal["crown", "slot", "near edge", "far edge"]


class Scale(Table):
    """The scale and where the frets fall on it."""

    length: Annotated[float, Mm(400, 1000, "the scale length")]
    bass_length: Annotated[float | None, Mm(400, 1000, "the bass string's scale length")] = Field(
        default=None,
        description="of fanned frets: `length` is then the treble string's; both along the neck; state `square_fret` with it",
        title="scale length of the bass string",
    )
    square_fret: float | None = Field(
        default=None,
        ge=0,
        le=36,
        description="of fanned frets: the fret that runs square to the centreline; 0 is the nut, 7.5 half-way from 7 to 8",
        title="square fret",
    )
    frets: int = Field(ge=12, le=36, title="number of frets")
    temperament_cents: tuple[float, ...] | None = Field(
        default=None,
        description="cents above the open string, one a fret; equal temperament when left out",
        title="cents of each fret",
    )
    divisions: int | None = Field(
        default=None,
        ge=5,
        le=36,
        description="equal parts of the octave, a fret each; 12 when left out",
        title="divisions of the octave",
    )

    @field_validator("temperament_cents")
    @classmethod
    def _rising(cls, cents: tuple[float, ...] | None) -> tuple[float, ...] | None:
        if cents and (cents[0] <= 0 or any(b <= a for a, b in pairwise(cents))):
            raise refuse("the cents must rise from fret to fret, starting above 0")
        return cents

    @property
    def cents(self) -> tuple[float, ...] | None:
        """Cents of each fret over the open string where they are not twelve to the octave."""
        if self.divisions is None:
            return self.temperament_cents
        return tuple(equal_temperament(self.frets, self.divisions).tolist())

    @property
    def is_fanned(self) -> bool:
        """Whether the outer strings have scales of their own."""
        return self.bass_length is not None

    @model_validator(mode="after")
    def _whole_fan(self) -> Self:
        if (self.bass_length is None) != (self.square_fret is None):
            missing = "square_fret" if self.square_fret is None else "bass_length"
            raise refuse(f"a fan has two scales and one square fret: state {missing} too, or leave both out")
        if self.square_fret is not None and self.square_fret > self.frets:
            raise refuse(
                f"square_fret is {self.square_fret:g}; the board has frets 1 to {self.frets}, and 0 is the nut"
            )
        return self

    @model_validator(mode="after")
    def _divided(self) -> Self:
        if self.divisions is None:
            return self
        if self.temperament_cents is not None:
            raise refuse("divisions and temperament_cents both say where the frets go: leave one out")
        if self.divisions > self.frets:
            raise refuse(
                f"with {self.divisions} divisions the octave lies at fret {self.divisions}; the board has {self.frets}: set "
                f"frets to {self.divisions} or more"
            )
        return self

    @model_validator(mode="after")
    def _one_a_fret(self) -> Self:
        cents = self.temperament_cents
        if cents is not None and len(cents) != self.frets:
            raise refuse(
                f"temperament_cents lists {len(cents)} values for {self.frets} frets; list one a fret"
            )
        return self


class FretWire(Table):
    """The fret and its slot: needed to know which mark of the 12th fret was measured."""

    crown_width: Annotated[float, Mm(1, 4, "the fret's crown width")] = 2.4
    crown_height: Annotated[float, Mm(0.5, 2, "the fret's height over the board")] = 1.1
    slot: Annotated[float, Mm(0.3, 1, "the fret slot's width")] = 0.58
    tang: Annotated[float, Mm(0.8, 3, "the height of the fret's tang, below the board")] = 1.6
    tang_width: Annotated[float | None, Mm(0.3, 1, "the width of the fret's tang without its barbs")] = Field(
        default=None, description="to hold the slot's width to it; not held when left out"
    )
    overhang: Annotated[float, Mm(0, 10, "what a fret is cut longer than the board at either end")] = 3.0
    stick: Annotated[float | None, Mm(50, 3000, "a stick of fret wire as it is sold")] = Field(
        default=None,
        description="to count how many to buy; told as a length when left out",
        title="stick of wire",
    )


class PartFret(Table):
    """A fret that does not run right across the board."""

    fret: int = Field(ge=1, le=36, title="number of the fret")
    strings: tuple[int, ...] = Field(
        min_length=1,
        max_length=12,
        description="numbers of the strings it runs under, side by side; it ends midway to the next one, or at the board's edge",
    )

    @model_validator(mode="after")
    def _side_by_side(self) -> Self:
        listed = sorted(self.strings)
        if listed != list(range(listed[0], listed[0] + len(listed))):
            raise refuse("a part fret is one piece: list the strings it runs under side by side, each once")
        return self


class Fingerboard(Table):
    """The board's taper: straight from the nut to its end."""

    end: Annotated[float, Mm(200, 900, "the fingerboard's end, from the nut")]
    width_at_end: Annotated[float, Mm(30, 110, "the fingerboard's width at its end")]
    end_along_frets: bool = Field(
        default=False,
        description="the end runs aslant as a fan's frets do there, and is measured on the centreline",
    )
    fret_end_bevel: Annotated[float, Mm(0, 2, "the fret ends' bevel")] = 0.6
    radius: Annotated[float | None, Mm(100, 1500, "the fingerboard's radius at the nut")] = Field(
        default=None, description="taken as flat when left out"
    )
    radius_at_end: Annotated[float | None, Mm(100, 2500, "the fingerboard's radius at its end")] = Field(
        default=None,
        description="of a compound radius, even from the nut to the end; the nut's when left out",
    )
    blank_thickness: Annotated[float | None, Mm(3, 15, "the fingerboard's flat blank")] = Field(
        default=None,
        description="state it where you make the board here: its slots, fret wire and strip are then planned too",
        title="flat blank's thickness",
    )
    dots: tuple[int, ...] = Field(
        default=(), description="frets before which the board has a dot", title="frets with a dot"
    )
    double_dots: tuple[int, ...] = Field(
        default=(), description="frets before which it has two", title="frets with two dots"
    )
    dot_diameter: Annotated[float, Mm(1, 15, "a dot's diameter")] = 6.0
    side_dot: Annotated[float | None, Mm(0.5, 5, "a side dot's diameter")] = Field(
        default=None,
        description="of those let into the bass edge beside each dot; none when left out",
        title="side dots' diameter",
    )
    binding: Annotated[float | None, Mm(0.3, 4, "the binding's width")] = Field(
        default=None,
        description="along both edges of a board that is made here: its blank is narrower by two of it; none when left out",
    )
    frets_left_out: tuple[int, ...] = Field(
        default=(), description="frets that a board made here has no slot for", title="frets left out"
    )
    part_frets: tuple[PartFret, ...] = Field(
        default=(), max_length=36, description="frets of a board made here that run under some strings only"
    )

    @model_validator(mode="after")
    def _made_here(self) -> Self:
        if self.blank_thickness is None:
            stated = self.model_fields_set & {"binding", "frets_left_out", "part_frets"}
            if stated:
                raise refuse(
                    f"{min(stated)} is of a board that is made here: state blank_thickness too, or leave it out"
                )
        both = set(self.frets_left_out) & {each.fret for each in self.part_frets}
        if both:
            raise refuse(f"fret {min(both)} is left out and a part fret; list it once")
        return self

    @property
    def end_in_words(self) -> str:
        """The board's end as a place that is measured from."""
        return "the board's end on the centreline" if self.end_along_frets else "the board's end"

    @model_validator(mode="after")
    def _has_a_radius(self) -> Self:
        if self.radius is None and self.radius_at_end is not None:
            raise refuse("radius_at_end needs radius, the fingerboard's radius at the nut")
        return self


_HERTZ = re.compile(r"(\d+(?:\.\d+)?) ?Hz")


class StringStated(Table):
    """One string, listed from the treble side. What is not stated about its making is the usual, and said so."""

    note: str = Field(description="such as E4, F#2 or Bb1, or a frequency such as 82.4 (Hz)")
    gauge: Annotated[float, StringGauge()]
    construction: Literal["plain", "round-wound", "flat-wound"] | None = Field(
        default=None, description="by its gauge when left out: plain under .0205 in, else round-wound"
    )
    core: Annotated[Dimension | None, Mm(0.1, 3, "a wound string's core")] = Field(
        default=None, description="estimated from the gauge, with its spread, when left out"
    )
    core_shape: Literal["hex", "round"] = Field(default="hex", title="core's shape")
    wrap: str = Field(default="nickel-plated steel", description="material of the wrap")
    grams_per_metre: float | None = Field(
        default=None,
        gt=0,
        description="weight per length, weighed; it counts before the one worked out",
        title="weight, g a metre",
    )

    @field_validator("note", mode="before")
    @classmethod
    def _in_hertz(cls, note: object) -> object:
        """A bare number is a frequency."""
        return f"{note:g} Hz" if isinstance(note, int | float) and not isinstance(note, bool) else note

    @field_validator("note")
    @classmethod
    def _known_note(cls, note: str) -> str:
        if (frequency := _HERTZ.fullmatch(note)) is not None and 10 <= float(frequency[1]) <= 5000:
            return note
        try:
            tables.note_hz(note)
        except ValueError as fault:
            raise refuse(
                f'cannot read "{note}" as a note; write it like E4, F#2 or Bb1, or its frequency like "82.4 Hz"'
            ) from fault
        return note

    @property
    def pitch(self) -> str | float:
        """The open string's note, or its frequency in Hz."""
        frequency = _HERTZ.fullmatch(self.note)
        return self.note if frequency is None else float(frequency[1])


class String(StringStated):
    """One string of the instrument, listed from the treble side."""

    setback: Annotated[float | None, Mm(-5, 15, "the string's compensation")] = Field(
        default=None,
        description="how far past the scale length the string should leave the saddle; "
        "worked out from the string when left out",
    )


class StringSet(Table):
    """Another set the instrument shall take without moving the bridge."""

    name: str = Field(min_length=1)
    strings: tuple[StringStated, ...] = Field(min_length=1)


class Setup(Table):
    """How the instrument will be set up: what the saddles' places are worked out from.

    An action is measured from the 12th fret's crown to the string's underside.
    """

    action_treble: Annotated[Dimension, Mm(0.5, 6, "the first string's action at the 12th fret")] = Dimension(
        1.6, TYPICAL_PLUS_MINUS, measured=False
    )
    action_bass: Annotated[Dimension, Mm(0.5, 8, "the last string's action at the 12th fret")] = Dimension(
        2.0, TYPICAL_PLUS_MINUS, measured=False
    )
    relief: Annotated[Dimension, Mm(0, 1.5, "the neck's relief")] = Dimension(
        0.2, TYPICAL_PLUS_MINUS, measured=False
    )
    action_spare: Annotated[
        float, Mm(0, 2, "how much higher and lower the action must go by the saddles")
    ] = 0.0
    relief_spare: Annotated[float, Mm(0, 0.5, "how much more and less relief the saddles must serve")] = 0.0
    relief_fret: int = Field(
        default=16,
        ge=5,
        le=36,
        description="fret from which the board is straight",
        title="relief ends at fret",
    )
    free_length: Annotated[float, Mm(0, 600, "the string beyond nut and saddle together")] = 150.0


NECK_THROUGH = "neck-through"
"""The joint that is none: the neck's blank runs through the body as its core, wings glued to both sides."""

_OF_A_POCKET: Any = None
"""What a neck that runs through has for the numbers of a pocket and a heel: nothing, and nobody may ask."""


USUAL_TIMBER = "maple-sugar"
"""What a neck is taken for where the job does not say (common practice, no source)."""


def _which_joint(joint: Any) -> Any:
    """Lead whoever writes half of the name to the whole of it."""
    if joint == "through":
        raise refuse(f'write it "{NECK_THROUGH}": a neck that runs through the body as its core')
    return joint


def _by_joint(
    value: Any, handler: ValidatorFunctionWrapHandler, info: ValidationInfo, *, through: bool
) -> Any:
    """A number that one kind of joint must have, and the other cannot have."""
    joint = info.data.get("joint")
    if joint is None:  # itself at fault, which is told
        return None if value is None else handler(value)
    if (joint == NECK_THROUGH) == through:
        if value is None:
            raise PydanticKnownError("missing")
        return handler(value)
    if value is not None:
        raise refuse(
            f'it belongs to a neck that runs through the body; leave it out, or say joint = "{NECK_THROUGH}"'
            if through
            else "a neck that runs through the body has no pocket and no heel; leave it out, and state the core "
            "(core_width, board_over_body)"
        )
    return None


_Pocketed = WrapValidator(partial(_by_joint, through=False))
_Through = WrapValidator(partial(_by_joint, through=True))


_POCKET_KEYS = (
    "pocket_end",
    "pocket_length",
    "pocket_depth",
    "heel_thickness",
    "heel_width_at_end",
    "heel_width_at_mouth",
)
"""What states a neck pocket and the heel in it."""


def _of_one_joint(which: str) -> Any:
    """A field that `_by_joint` judges, left out or not."""
    return Field(default=_OF_A_POCKET, validate_default=True, description=f"needed for {which}")


class Neck(Table):
    """The heel and the pocket that takes it, or the core that runs through the body in their place."""

    ways = (
        (
            Way(
                "bolted on",
                _POCKET_KEYS,
                ("shim", "slip", "corner_radius", "heel_film"),
                {"joint": "bolt-on"},
            ),
            Way("glued in", _POCKET_KEYS, ("slip", "corner_radius", "tenon_width"), {"joint": "set"}),
            Way(
                "running through the body as its core",
                ("core_width", "board_over_body"),
                ("core_width_at_tail",),
                {"joint": NECK_THROUGH},
            ),
        ),
        (
            Way("no truss-rod channel to keep clear of"),
            Way(
                "a truss-rod channel",
                ("rod_width", "rod_depth", "rod_to"),
                may=("rod_from", "rod_depth_at_ends", "rod_access"),
            ),
        ),
    )

    joint: Annotated[Literal["bolt-on", "set", "neck-through"], BeforeValidator(_which_joint)] = Field(
        description="set: glued in; neck-through: the neck's blank is the body's core, wings glued to both sides"
    )
    pocket_end: Annotated[float, Mm(200, 900, "the pocket's end wall, from the nut"), _Pocketed] = (
        _of_one_joint("bolt-on and set")
    )
    pocket_length: Annotated[float, Mm(20, 300, "the pocket's length"), _Pocketed] = _of_one_joint(
        "bolt-on and set"
    )
    pocket_depth: Annotated[Dimension, Mm(5, 40, "the pocket's depth"), _Pocketed] = _of_one_joint(
        "bolt-on and set"
    )
    heel_thickness: Annotated[
        Dimension, Mm(10, 60, "the heel's thickness with the fingerboard"), _Pocketed
    ] = _of_one_joint("bolt-on and set")
    heel_width_at_end: Annotated[Dimension, Mm(30, 110, "the heel's width at the end wall"), _Pocketed] = (
        _of_one_joint("bolt-on and set")
    )
    heel_width_at_mouth: Annotated[
        Dimension, Mm(30, 110, "the heel's width where the pocket opens"), _Pocketed
    ] = _of_one_joint("bolt-on and set")
    core_width: Annotated[Dimension, Mm(30, 150, "the core across at the fingerboard's end"), _Through] = (
        _of_one_joint("neck-through")
    )
    core_width_at_tail: Annotated[Dimension | None, Mm(20, 150, "the core across at the tail")] = Field(
        default=None, description="of a core that tapers; as wide as at the board's end when left out"
    )
    board_over_body: Annotated[
        Dimension, Mm(0, 25, "the fingerboard's underside over the body's top, at the board's end"), _Through
    ] = _of_one_joint("neck-through: 0 where the board lies on the level of the top")
    angle: Annotated[float, Degrees(-3, 8, "how far the neck leans back")] = Field(
        default=0.0,
        description="by the pocket's floor, or planed on the core under the board: the strings then climb towards the bridge; "
        "0 is level",
    )
    shim: Annotated[float, Mm(0, 5, "a taper shim's thickness at the heel's end")] = Field(
        default=0.0, description="full-length, running out to nothing at the pocket's mouth"
    )
    slip: Annotated[float, Mm(0, 1, "the clearance between heel and pocket, both sides together")] = Field(
        default=0.1, description="of a set neck the room for its glue"
    )
    tenon_width: Annotated[Dimension | None, Mm(10, 110, "the tenon across")] = Field(
        default=None,
        description="of a set neck whose tenon is narrower than its heel: parallel, and as long as the pocket, which it fits",
    )
    corner_radius: Annotated[float, Mm(0, 30, "the pocket's corner radius")] = 6.0
    heel_film: Annotated[float, Mm(0, 1, "the thickness of the finish on the heel")] = 0.0
    board_thickness: Annotated[Dimension, Mm(2, 15, "the fingerboard's thickness at the heel")] = Dimension(
        6.0, TYPICAL_PLUS_MINUS, measured=False
    )
    timber: TimberStated | None = Field(
        default=None,
        description="of the heel, for the neck screws' pilots, or of the core; taken as hard maple when left out",
        title="timber of the heel or core",
    )
    rod_width: Annotated[float | None, Mm(2, 20, "the truss-rod channel's width")] = Field(
        default=None, description="states the channel, which is kept clear of; none when left out"
    )
    rod_depth: Annotated[float | None, Mm(2, 30, "the truss-rod channel's depth under the board")] = None
    rod_from: Annotated[float, Mm(-100, 800, "the truss-rod channel's start, from the nut")] = Field(
        default=0.0, description="a minus lies before the nut"
    )
    rod_to: Annotated[float | None, Mm(50, 900, "the truss-rod channel's end, from the nut")] = None
    rod_depth_at_ends: Annotated[float | None, Mm(1, 30, "the truss-rod channel's depth at its ends")] = (
        Field(
            default=None,
            description="of a single-acting rod, whose channel is deepest in its middle and curves up evenly to its ends; a "
            "double-acting one lies in a flat channel, and leaves it out",
        )
    )
    rod_access: Literal["head", "heel"] | None = Field(
        default=None, description="the end at which the rod is turned", title="truss rod turned at"
    )

    @property
    def runs_through(self) -> bool:
        """Whether it is the body's core, so that there is no pocket and no heel."""
        return self.joint == NECK_THROUGH

    @property
    def wood(self) -> tables.Timber:
        """What heel or core is of, or is taken for."""
        return self.timber or tables.timber(USUAL_TIMBER)

    @property
    def is_glued(self) -> bool:
        """Whether it stays in the body for good."""
        return self.joint != "bolt-on"

    @property
    def in_pocket(self) -> tuple[Dimension, Dimension]:
        """The widths of what lies in the pocket, at its end wall and at its mouth: the heel's, or its tenon's."""
        if self.tenon_width is not None:
            return self.tenon_width, self.tenon_width
        return self.heel_width_at_end, self.heel_width_at_mouth

    @property
    def film_on_heel(self) -> float:
        """The finish between the heel and its pocket, mm: none in a joint that is glued."""
        return 0.0 if self.is_glued else self.heel_film

    @model_validator(mode="after")
    def _a_tenon_is_glued(self) -> Self:
        if self.tenon_width is not None and self.joint != "set":
            raise refuse('tenon_width is of a set neck; leave it out, or say joint = "set"')
        return self

    @model_validator(mode="after")
    def _a_core(self) -> Self:
        if not self.runs_through:
            if self.core_width_at_tail is not None:
                raise refuse(
                    "core_width_at_tail belongs to a neck that runs through the body; leave it out, or say joint = "
                    f'"{NECK_THROUGH}"'
                )
            return self
        of_a_pocket = ("shim", "slip", "corner_radius", "heel_film")
        if stated := [key for key in of_a_pocket if key in self.model_fields_set]:
            raise refuse(
                f"{' and '.join(stated)} belong{'s' if len(stated) == 1 else ''} to a neck pocket, and a neck that runs "
                "through the body has none; leave out what is named here"
            )
        return self

    @model_validator(mode="after")
    def _a_channel(self) -> Self:
        stated = (self.rod_width, self.rod_depth, self.rod_to)
        more = (self.rod_depth_at_ends, self.rod_access)
        begun = any(each is not None for each in (*stated, *more)) or "rod_from" in self.model_fields_set
        if begun and None in stated:
            raise refuse("a truss-rod channel needs rod_width, rod_depth and rod_to")
        middle, ends = self.rod_depth, self.rod_depth_at_ends
        if middle is not None and ends is not None and ends >= middle:
            raise refuse(
                f"rod_depth_at_ends ({said(ends, None)}) must be less than rod_depth ({said(middle, None)}), the depth in the "
                "channel's middle; of a flat channel leave it out"
            )
        if self.rod_to is not None and self.rod_to <= self.rod_from:
            raise refuse(
                f"rod_to ({said(self.rod_to, None)}) must be larger than rod_from ({said(self.rod_from, None)}); both are "
                "from the nut"
            )
        return self


class Finish(Table):
    """How thick the finish will lie on the wood, and whether the holes are kept clear of it."""

    film: Annotated[float, Mm(0, 1, "the finish thickness on one surface")] = 0.0
    holes: Literal["masked", "sprayed"] = Field(
        default="masked",
        title="holes while finishing",
        description="masked: kept clear of finish; sprayed: with the body",
    )


class Ferrules(Part):
    """The lipped ferrules that take the string ends in the back."""

    shelf = "ferrule"

    lip_diameter: Annotated[Dimension, Mm(4, 20, "the ferrule's lip diameter")]
    lip_height: Annotated[Dimension, Mm(0.3, 5, "the ferrule's lip height")]
    body_diameter: Annotated[Dimension, Mm(3, 18, "the ferrule's body diameter")]
    body_length: Annotated[Dimension, Mm(2, 30, "the ferrule's body length under the lip")]
    recess: Annotated[float, Mm(0, 3, "how far the lip sits below the finished back")] = 0.0

    @model_validator(mode="after")
    def _lip_outside_body(self) -> Self:
        if self.lip_diameter.mm <= self.body_diameter.mm:
            raise refuse(
                f"lip_diameter ({said(self.lip_diameter.mm, None)}) must be larger than body_diameter "
                f"({said(self.body_diameter.mm, None)})"
            )
        return self


class StringHoles(Table):
    """The string holes through the body."""

    diameter: Annotated[float, Mm(1.5, 8, "the string hole")] = 3.5
    top_share: float | None = Field(
        default=None,
        gt=0.2,
        lt=0.95,
        description="share of the thickness drilled from the top; worked out from the ferrule when left out",
        title="share drilled from the top",
    )
    relief: Annotated[float, Mm(0, 10, "the depth left free under the ferrule")] = 2.0


class BitOwned(Table):
    """One bit in the drill box, when its point or reach is known."""

    diameter: Annotated[float, Mm(0.3, 80, "the bit's diameter")]
    point: Annotated[float | None, Mm(0, 25, "the length of the bit's point")] = None
    reach: Annotated[float | None, Mm(5, 600, "the depth the bit can reach")] = Field(
        default=None, description="from its point to the chuck"
    )
    drift: Annotated[float | None, Mm(0, 10, "the bit's drift in 100 mm of depth")] = Field(
        default=None, description="measured in scrap; 1 mm when left out"
    )
    label: SkipJsonSchema[str] = Field(default="", exclude=True)

    @classmethod
    def __get_pydantic_json_schema__(
        cls, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Tell editors that a bare size will do."""
        table = super().__get_pydantic_json_schema__(schema, handler)
        words = {
            "title": table.pop("title", ""),
            "description": f"{table.pop('description', '')} Or its diameter alone.",
        }
        described: JsonSchemaValue = {**words, "anyOf": [{"type": "number"}, {"type": "string"}, dict(table)]}
        table.clear()
        table.update(described)
        return table

    @model_validator(mode="before")
    @classmethod
    def _bare(cls, data: Any) -> Any:
        if isinstance(data, dict):
            return {**data, "label": str(data.get("diameter", ""))}
        return {"diameter": data, "label": str(data)}


class CountersinkOwned(Table):
    """A countersink in the drill box: its largest diameter, and the angle of its cone."""

    diameter: Annotated[float, Mm(3, 40, "the countersink's diameter")]
    angle: Annotated[float, Degrees(40, 140, "the countersink's angle")] = 1.5707963267948966


class Bits(Table):
    """The bits the builder owns."""

    twist: tuple[BitOwned, ...] = Field(default=(), title="twist bits")
    brad_point: tuple[BitOwned, ...] = Field(default=(), title="brad-point bits")
    flat_bottomed: tuple[BitOwned, ...] = Field(default=(), title="flat-bottomed bits (Forstner)")
    point_angle: Annotated[float, Degrees(60, 160, "the twist bits' point angle")] = 2.059488517353309
    countersink: tuple[CountersinkOwned, ...] = ()
    router: tuple[BitOwned, ...] = Field(default=(), title="router bits")
    # Typical, from memory: measure your own.
    chuck_radius: Annotated[float, Mm(3, 60, "the radius of the drill's chuck")] = 19.0


class Bench(Table):
    """How this bench measures and what reserve it wants."""

    twelfth_read_to: TwelfthMark = Field(
        default="crown",
        title="mark of the 12th fret you measure to",
        description="its crown (the centre of the fret), its slot, its nut side (near edge) or its bridge side (far edge)",
    )
    saddle_reserve: Annotated[
        float, Mm(0, 5, "the travel in hand wanted at each end of a saddle's travel")
    ] = 1.0
    saddle_deviations: float = Field(
        default=1.0,
        ge=0,
        le=4,
        description="standard deviations of a predicted compensation to cover before travel in hand counts",
        title="standard deviations to cover",
    )
    records: str | None = Field(
        default=None,
        description="file of finished instruments that the shop's predictions learn from",
        title="file of finished instruments",
    )
    set_up_by: BuildersWord | None = Field(
        default=None,
        min_length=1,
        max_length=60,
        description="whose hand will set the saddles, as the records name it; left out, any of the shop's",
        title="who sets the saddles",
    )
    shop: str | None = Field(
        default=None,
        description="file of the shop's tests: how well its machines and hands measure, mark and cut",
        title="file of the shop's tests",
    )


Weight = Annotated[float, Field(ge=0, le=100)]


class AsBuilt(Table):
    """What is moved where the neck is read off the centreline, and how much each of what is then noticed counts."""

    move: Literal["bridge", "neck", "both"] = Field(
        default="bridge",
        description="the bridge and what lies under the strings; the neck in its pocket; or the neck as far as its pocket has "
        "play and the bridge for the rest",
        title="what is moved",
    )
    margins: Weight = Field(default=1.0, title="weight of even margins beside the strings at the last fret")
    square: Weight = Field(default=1.0, title="weight of a bridge square to the strings")
    pockets: Weight = Field(
        default=1.0, title="weight of strings over the middle of the pickups' cavities that are cut"
    )
    seen: Weight = Field(
        default=0.05, title="weight of a bridge that looks straight on the body, where both are moved"
    )
    moved: Weight = Field(default=0.01, title="weight of leaving the neck alone, where both are moved")


class Print(Table):
    """Paper for the full-size prints; sheets and step cards are made for a desk printer beside it."""

    paper: Annotated[str, PaperName()] = Field(
        default="A4",
        description="a size such as A4, Letter, A1 or ANSI C, or a roll by its width: 610 mm, 36 in",
        title="paper of the full-size prints",
    )


class Document(Table):
    """One instrument, as stated."""

    scribeline: Literal[1] = Field(description="version of this file format")
    name: str = Field(min_length=1, max_length=60, title="name of the job")
    units: JobUnit = Field(title="unit of bare numbers")
    handed: Hand = Field(default="right", title="hand")
    revision: str = Field(default="1", min_length=1, max_length=12)
    date: dt.date | None = Field(default=None, title="date on the sheets")
    scale: Scale
    fret_wire: FretWire = FretWire.model_construct()
    nut: Nut
    fingerboard: Fingerboard
    strings: tuple[String, ...] = Field(min_length=3, max_length=12)
    string_sets: tuple[StringSet, ...] = Field(default=(), description="other sets it shall take as well")
    setup: Setup = Setup.model_construct()
    neck: Neck
    timbers: tuple[OwnTimber, ...] = Field(
        default=(),
        max_length=20,
        description="timbers of your own, called by name wherever a timber is asked for",
    )
    body: Body
    finish: Finish = Finish.model_construct()
    bridge: AnyBridge
    bridge_screw: BridgeScrew | None = Field(
        default=None,
        description="needed for a plate, single saddles and a vibrato that rocks on screws",
    )
    ferrules: Ferrules | None = Field(default=None, description="needed for strings through the body")
    string_holes: StringHoles = StringHoles.model_construct()
    pockets: tuple[PocketStatement, ...] = Field(default=(), max_length=60)
    holes: tuple[HoleStatement, ...] = Field(default=(), max_length=60)
    controls: tuple[ControlStatement, ...] = Field(default=(), max_length=20)
    neck_screws: NeckScrews | None = None
    neck_inserts: NeckInserts | None = Field(default=None, description="in place of neck screws")
    neck_blank: NeckBlank | None = None
    head: Head | None = None
    ground_wire: GroundWire | None = None
    jack: Jack | None = None
    strap_buttons: tuple[StrapButton, ...] = ()
    tunnels: tuple[TunnelStatement, ...] = Field(
        default=(), description="holes for wires from place to place"
    )
    masses: tuple[MassStatement, ...] = Field(
        default=(),
        description="hardware weights (neck, tuners, bridge and the like) for the balance on the strap",
    )
    bits: Bits
    bench: Bench = Bench.model_construct()
    limits: Limits = Limits.model_construct()
    print: Print = Print.model_construct()
    as_built: AsBuilt = AsBuilt.model_construct()

    @property
    def neck_end(self) -> float:
        """Where the neck ends over the body, from the nut, mm: the pocket's end wall, or the end of a board on a core."""
        return self.fingerboard.end if self.neck.runs_through else self.neck.pocket_end

    @property
    def neck_bolts(self) -> NeckBolts | None:
        """What holds a bolted neck: its screws or its inserts; None where the job states neither."""
        return self.neck_inserts or self.neck_screws

    @property
    def neck_bolts_key(self) -> str:
        """The key of what holds a bolted neck."""
        return "neck_inserts" if self.neck_inserts is not None else "neck_screws"
