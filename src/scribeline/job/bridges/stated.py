"""What every bridge states, whatever kind it is, and what the rest of the house may ask of any."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal, NamedTuple, Self

from pydantic import Field, GetJsonSchemaHandler, model_validator
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema

from scribeline.job.part import Part
from scribeline.job.tunnels import UNDER_PLATE
from scribeline.job.values import Dimension, Mm, refuse
from scribeline.lengths import said

if TYPE_CHECKING:
    from scribeline.job.document import Document

Loading = Literal["through-body", "top-load"]

Contradiction = tuple[tuple[str | int, ...], str]
"""The key that is wrong, and what is wrong with it."""


class Bridge(Part):
    """A bridge with one saddle a string; each kind counts along from a line of its own, across from its middle.

    Attributes:
        noun: what it is called in a sentence, without "the".
        title: the same where nothing says that it is of a bridge.
        held_by: what holds it, in bench words.
        line: that line, where it is plain whose it is.
        pattern: the holes by which another would go on the same anchors.
        which: what tells that line from others like it, where there are such.
        counted_from: the line that places along it are counted from, in bench words.
        shelf: of the parts book.
        single: whether each saddle stands by itself, on a base of its own.
        hangs_in: keys that name cavities it needs, each with the face it is cut from and its usual name.
        screwed_down: whether the screws of `bridge_screw` hold it.
        grounded_in: key of the cavity in which its ground wire ends; "" where that goes under the bridge.
        grounded_at_a_bushing: whether its ground wire ends in the hole of a bushing, of a tailpiece's stud where it has one.
        ground_at: what the strings' ground wire is joined to, in bench words.
    """

    noun: ClassVar[str]
    title: ClassVar[str]
    held_by: ClassVar[str]
    counted_from: ClassVar[str]
    line: ClassVar[str]
    pattern: ClassVar[str]
    which: ClassVar[str] = ""
    single: ClassVar[bool] = False
    grounded_in: ClassVar[str] = ""
    grounded_at_a_bushing: ClassVar[bool] = False
    ground_at: ClassVar[str]
    screwed_down: ClassVar[bool] = False
    hangs_in: ClassVar[tuple[tuple[str, Literal["top", "back"], str], ...]] = ()

    kind: str
    loading: str
    spacing: Annotated[Dimension, Mm(7, 25, "the spacing of neighbouring strings")]
    saddle_forward: Dimension
    saddle_back: Dimension
    saddle_height: Annotated[Dimension, Mm(3, 30, "the string's height over the body at the saddle")]
    saddle_lowest: Annotated[
        Dimension | None, Mm(2, 40, "the string's height over the body, saddle wound fully down")
    ] = Field(default=None, description="with saddle_highest: the action asked for must lie between them")
    saddle_highest: Annotated[
        Dimension | None, Mm(2, 40, "the string's height over the body, saddle wound fully up")
    ] = Field(default=None, description="with saddle_lowest")

    @classmethod
    def __get_pydantic_json_schema__(
        cls, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """Tell editors that a kind that must be named is named, though all else may come from the parts book."""
        described = super().__get_pydantic_json_schema__(schema, handler)
        if cls.model_fields["kind"].is_required():
            described["required"] = ["kind"]
        return described

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.saddle_back.mm <= self.saddle_forward.mm:
            raise refuse(
                f"saddle_back ({said(self.saddle_back.mm, None)}) must lie behind saddle_forward "
                f"({said(self.saddle_forward.mm, None)}); both are measured from the {self.counted_from}"
            )
        lowest, highest = self.saddle_lowest, self.saddle_highest
        if lowest is not None and highest is not None and highest.mm <= lowest.mm:
            raise refuse(
                f"saddle_highest ({said(highest.mm, None)}) must lie above saddle_lowest ({said(lowest.mm, None)}); both "
                "are the string's "
                "height over the body at the saddle"
            )
        return self

    @property
    def through_body(self) -> bool:
        """Whether the strings run through the body to ferrules in its back."""
        return self.loading == "through-body"

    @property
    def travel(self) -> float:
        """Saddle travel between its stops, mm."""
        return self.saddle_back.mm - self.saddle_forward.mm

    @property
    def lowest(self) -> Dimension | None:
        """The string over the body, saddle wound fully down; None where nothing tells it."""
        return self.saddle_lowest

    @property
    def highest(self) -> Dimension | None:
        """The same, saddle wound fully up."""
        return self.saddle_highest

    def reach_from(self, end: Literal["lowest", "highest"]) -> tuple[str, ...]:
        """The keys that add up to one of these two, where it is told."""
        return (f"saddle_{end}",)

    @property
    def string_row(self) -> Dimension | None:
        """From the line that it is counted from to the row of string holes in the body; None where there is none."""
        raise NotImplementedError

    @property
    def string_row_key(self) -> str:
        """The key of the job that states that."""
        raise NotImplementedError

    @property
    def guide(self) -> Dimension | None:
        """The hole in the bridge that guides the string bit; None where nothing guides it."""
        return None

    @property
    def guided_through(self) -> float:
        """What of the bridge the string bit passes before it reaches the wood, mm."""
        return 0.0

    @property
    def foremost(self) -> float:
        """How far its own front edge lies behind the line that it is counted from, mm; negative: before it."""
        return 0.0

    @property
    def rear(self) -> float:
        """How far its own rear edge lies behind the line that it is counted from, mm."""
        raise NotImplementedError

    @property
    def width(self) -> float:
        """How wide it is, or its anchors stand apart: over this a turn of it shows, mm."""
        raise NotImplementedError

    def contradictions(self, document: "Document") -> Iterator[Contradiction]:
        """What of the rest of the job does not go with it."""
        raise NotImplementedError


class Knobs(NamedTuple):
    """The tuning knobs behind a headless bridge, mm.

    Attributes:
        diameter: of a knob.
        height: of its axis over the body.
        front: from the bridge's own line to where the knob begins.
        back: from there to its rear end, wound fully out.
        travel: of the tuner, end to end.
    """

    diameter: float
    height: float
    front: float
    back: float
    travel: float


class WithKnobs(Bridge):
    """A bridge that may be headless: the strings end in it, and it tunes them with a knob behind each."""

    knob_diameter: Annotated[Dimension | None, Mm(5, 30, "a tuning knob's diameter")] = Field(
        default=None, description="of a headless bridge, with the four below"
    )
    knob_height: Annotated[Dimension | None, Mm(-25, 30, "the knobs' axis over the body")] = Field(
        default=None, description="a minus: below the top, where the bridge lies in a recess"
    )
    knob_front: Annotated[Dimension | None, Mm(10, 160, "front edge to where the knob begins")] = None
    knob_back: Annotated[
        Dimension | None, Mm(12, 200, "front edge to the knob's rear end, wound fully out")
    ] = None
    tuner_travel: Annotated[Dimension | None, Mm(2, 40, "the tuner's travel, end to end")] = None

    @property
    def knobs(self) -> Knobs | None:
        """Its tuning knobs; None of a bridge without."""
        stated = [getattr(self, key) for key in _KNOBS]
        return None if None in stated else Knobs(*(each.mm for each in stated))

    def about_knobs(self) -> Iterator[Contradiction]:
        """What of the knobs is missing or does not go together."""
        missing = [key for key in _KNOBS if getattr(self, key) is None]
        if len(missing) == len(_KNOBS):
            return
        for key in missing:
            yield (
                ("bridge", key),
                f"is missing; it is {self.called(key)}, and other numbers of the tuning knobs are stated",
            )
        if self.through_body:
            yield ("bridge", "loading"), 'must be "top-load": strings that are tuned at the bridge end in it'
        knobs = self.knobs
        if knobs is not None and knobs.back <= knobs.front:
            sentence = f"({said(knobs.back, None)}) must lie behind knob_front ({said(knobs.front, None)})"
            yield ("bridge", "knob_back"), sentence


_KNOBS = ("knob_diameter", "knob_height", "knob_front", "knob_back", "tuner_travel")


def off_the_body(document: "Document", stands: str, called: str) -> Iterator[Contradiction]:
    """A bridge that does not lie on the body takes no plate's screws and hides no hole.

    Args:
        document: the job.
        stands: how it is held, as in "hangs on studs".
        called: such a bridge in words.
    """
    if document.bridge_screw is not None and not document.bridge.screwed_down:
        yield ("bridge_screw",), f"holds a plate, and this bridge {stands}; take the table out"
    for number, tunnel in enumerate(document.tunnels):
        if tunnel.start == UNDER_PLATE:
            sentence = f'cannot be "{UNDER_PLATE}": {called} hides no hole; name a cavity, a face or the edge'
            yield ("tunnels", number, "start"), sentence


PLACE_OF_A_WIRE = ("across", "from_front", "heading", "lands")
"""The keys that state where a ground wire's hole starts under a plate."""


def gripped_by_a_bushing(document: "Document", bushing: Dimension | None) -> Iterator[Contradiction]:
    """A ground wire that ends in the side of a bushing's hole: no place of it is stated, and it must be thinner than that.

    Args:
        document: the job.
        bushing: the bushing's diameter; None where what the wire would end at is wound into the wood.
    """
    wire = document.ground_wire
    if wire is None:
        return
    if bushing is None:
        yield (
            ("ground_wire",),
            "ends in a bushing's hole, and these posts are wound into the wood, whose thread would cut it; state its hole under "
            'tunnels, or say posts = "bushings"',
        )
        return
    for key in (key for key in PLACE_OF_A_WIRE if key in wire.model_fields_set):
        yield (
            ("ground_wire", key),
            "belongs to a wire that starts under a bridge plate; this one ends in a bushing's hole, and its own is worked out",
        )
    widest = WIDEST_IN_A_BUSHING * bushing.mm
    if wire.diameter > widest:
        yield (
            ("ground_wire", "diameter"),
            f"({said(wire.diameter, None)}) does not open wholly in the side of a bushing's hole of {said(bushing.mm, None)}; "
            f"{said(widest, 1)} is the most, and 3 to 4 mm is plenty for a wire",
        )


WIDEST_IN_A_BUSHING = 0.5
"""Share of a bushing's hole that a wire hole in its side may be wide: beyond, too little is left of the wood that grips the
bushing (common practice, no source)."""


def without_ferrules(document: "Document", either: str) -> Iterator[Contradiction]:
    """Strings through the body end in ferrules: say so where the job has none.

    Args:
        document: the job.
        either: what to say in the job where the strings end elsewhere.
    """
    if document.ferrules is None:
        yield (
            ("ferrules",),
            f"is missing; strings through the body end in ferrules, {either} (bridge.loading)",
        )
