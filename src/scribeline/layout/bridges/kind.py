"""What a bridge is to the rest of the house, whatever holds it: a footprint, anchors, string ends, marks to set it out by.

A kind is a module of this package with its `KIND`, named as the job names it, beside its table in `job.bridges`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import atan2
from typing import TYPE_CHECKING, Literal, Protocol, get_args

from scribeline.job import Document, WoodScrew
from scribeline.layout.paths import bridge_row
from scribeline.layout.points import Point
from scribeline.layout.pose import Pose
from scribeline.quantities import Quantities

if TYPE_CHECKING:
    from scribeline.layout.instrument import Layout
    from scribeline.layout.stringing import Stringing

AnchorFamily = Literal["bridge-screw", "bridge-stud", "bridge-post", "tailpiece-stud"]
"""What kind of hole an anchor goes into: its id without its number."""

ANCHORS: tuple[AnchorFamily, ...] = get_args(AnchorFamily)
"""Every one of them."""


WallFamily = Literal["claw-screw"]
"""The same of what holds something that belongs to a bridge in a cavity's wall."""

WALL_FAMILIES: tuple[WallFamily, ...] = get_args(WallFamily)
"""Every one of them."""

Hazard = Literal["springs", "solder"]
"""What can hurt where a bridge is fitted: `steps.cautions` has the words."""


@dataclass(frozen=True, slots=True)
class Screwed:
    """Held by a wood screw.

    Attributes:
        screw: as the job states it.
        under_head: what the screw passes through before the wood, mm.
        key: the screw's table in the job.
        thickness: the key of `under_head`.
    """

    screw: WoodScrew
    under_head: float
    key: str
    thickness: str


@dataclass(frozen=True, slots=True)
class Pressed:
    """Held by a bushing that is pressed into the wood and takes a stud.

    Attributes:
        outside: the bushing's diameter over its knurl, mm.
        length: of the bushing, mm.
        key: the key of the job that states its diameter.
        length_key: that of its length.
    """

    outside: float
    length: float
    key: str
    length_key: str


@dataclass(frozen=True, slots=True)
class Threaded:
    """Held by a post's own thread, wound into the wood.

    Attributes:
        outside: the post's diameter over its thread, mm.
        root: the same between two turns.
        length: of it in the wood, mm.
        key: the key of the job that states its diameter.
        length_key: that of its length.
        root_key: that of its root.
    """

    outside: float
    root: float
    length: float
    key: str
    length_key: str
    root_key: str


@dataclass(frozen=True, slots=True)
class Anchor:
    """A place where a bridge is held in the wood.

    Attributes:
        at: its axis on the top.
        part: what goes in, and how it holds.
        along: the named number, or the number, of its place behind the bridge's own line, mm.
        across: the same from the bridge's middle towards the treble.
        of: what the named numbers begin with that say how what it belongs to lies: the bridge, or a unit of one.
    """

    at: Point
    part: Screwed | Pressed | Threaded
    along: str | float
    across: str | float
    of: str = "bridge"


@dataclass(frozen=True, slots=True)
class Mark:
    """A line or point of a bridge that is measured to when it is set out.

    Attributes:
        id: end of the ids of its readings, such as "plate" in `12th-to-plate`.
        name: in bench words, such as "plate's front edge".
        short: the same in the narrow column of a table.
        how: the same with how it is measured to, in a sentence.
        at: where it is.
        number: the named number of its distance from the nut.
        drilled: whether a hole is drilled there: its place across is then measured too.
    """

    id: str
    name: str
    short: str
    how: str
    at: Point
    number: str
    drilled: bool = False


@dataclass(frozen=True, slots=True)
class Corner:
    """A point of a bridge by which it is checked for squareness.

    Attributes:
        name: in bench words.
        at: where it is.
        number: what the named numbers of its two places begin with.
    """

    name: str
    at: Point
    number: str


@dataclass(frozen=True, slots=True)
class FurtherRow:
    """Anchors of what stands behind a bridge and belongs to it: they do not hold the bridge itself.

    Attributes:
        family: of their holes.
        role: what one of them is, in bench words.
        group: what they are called together.
        row: what a row of them is called.
        holds: the part that goes into each.
        anchors: where they are.
        outline: of what they hold, seen from above.
        loads: what they bear; as `Kind.loads`.
    """

    family: AnchorFamily
    role: str
    group: str
    row: str
    holds: str
    anchors: tuple[Anchor, ...]
    outline: tuple[Point, ...]
    loads: Callable[[Document, Layout, Sequence[Point]], Loads | None]


@dataclass(frozen=True, slots=True)
class WallScrews:
    """A pair of screws that go from inside a cavity into its wall towards the nut and hold what belongs to the bridge.

    Attributes:
        family: of their pilots.
        group: what they are called together.
        holds: what one of them is for.
        cavity: name of that cavity.
        apart: the two axes, mm.
        below: of the top they enter the wall, mm.
        tilt: how far they slant from level towards the top as they go in, rad.
        screw: as the job states it.
        key: its table in the job.
        tilt_key: the key of the slant.
        stand_off: how far before the wall their heads stand where they are wound in furthest, level, mm; None where
            nothing tells it.
        loads: what each bears; None likewise.
    """

    family: WallFamily
    group: str
    holds: str
    cavity: str
    apart: float
    below: float
    tilt: float
    screw: WoodScrew
    key: str
    tilt_key: str
    stand_off: Callable[[Document, Layout], float | None]
    loads: Callable[[Document, Layout], Loads | None]


@dataclass(frozen=True, slots=True)
class Unit:
    """A piece of a bridge, and the only one where it is in one piece.

    Attributes:
        id: what its named numbers begin with.
        name: in bench words.
        outline: seen from above, its front edge first, treble end first.
        front: middle of its front edge.
    """

    id: str
    name: str
    outline: tuple[Point, ...]
    front: Point

    @property
    def turn(self) -> float:
        """From the centreline's way to the tail to its own, rad, counter-clockwise seen from the front."""
        front, rear = self.outline[0], self.outline[-1]
        return atan2(rear.y - front.y, rear.x - front.x)


@dataclass(frozen=True, slots=True)
class BridgePlace:
    """A bridge where it stands, or will be fixed.

    Attributes:
        noun: what it is called in a sentence, without "the".
        title: the same where nothing says that it is of a bridge.
        middle: of the line that its own places are counted from.
        behind: a point straight behind that, as the bridge stands.
        footprint: its outline seen from above; a plate's front treble corner first, then the front bass one.
        anchors: where it is held.
        string_ends: where strings go into the body, treble first; none where they end in the bridge.
        marks: what is measured to when it is set out; the first is where it stands.
        corners: treble and bass point for the squareness check.
        far_corner: what the corner on the other side is called, in bench words.
        rests_on: points that ask for level ground.
        askew: what it is called where it stands turned from its place.
        heights: its underside and its upper side over the top, mm.
        further: rows of anchors that hold what belongs to it.
        swept: what of it moves inside the body, where it does: all it passes over, seen from above.
        wall_screws: pairs of screws that hold what belongs to it in a cavity's wall.
        units: of a bridge in single units each of them, treble first; none of one in one piece.
    """

    noun: str
    title: str
    middle: Point
    behind: Point
    footprint: tuple[Point, ...]
    anchors: tuple[Anchor, ...]
    string_ends: tuple[Point, ...]
    marks: tuple[Mark, ...]
    corners: tuple[Corner, Corner]
    far_corner: str
    rests_on: tuple[Point, ...]
    askew: str
    heights: tuple[float, float]
    further: tuple[FurtherRow, ...] = ()
    swept: tuple[Point, ...] = ()
    wall_screws: tuple[WallScrews, ...] = ()
    units: tuple[Unit, ...] = ()

    @property
    def outlines(self) -> tuple[tuple[Point, ...], ...]:
        """The outline of every piece of it."""
        return tuple(unit.outline for unit in self.units) or (self.footprint,)

    @property
    def hides(self) -> Unit:
        """What a hole under the bridge hides under: the unit beside the middle, or all of a bridge in one piece."""
        whole = Unit("bridge", self.noun, self.footprint, self.middle)
        return self.units[len(self.units) // 2] if self.units else whole

    @property
    def turn(self) -> float:
        """From the centreline's way to the tail to the bridge's own, rad, counter-clockwise seen from the front."""
        return atan2(self.behind.y - self.middle.y, self.behind.x - self.middle.x)

    @property
    def lies_on_the_body(self) -> bool:
        """Whether it lies on the wood, so that its holes are marked through it and it hides what is under it."""
        return self.heights[0] <= 0 and not self.swept

    @property
    def pressed(self) -> int:
        """How many of its anchors are pressed in, those of further rows among them."""
        every = (*self.anchors, *(anchor for row in self.further for anchor in row.anchors))
        return sum(isinstance(anchor.part, Pressed) for anchor in every)

    def anchor(self, family: str, number: int) -> Anchor | None:
        """The anchor that a hole of a family is drilled for; None of one it has no more."""
        row = next((row.anchors for row in self.further if row.family == family), self.anchors)
        return row[number - 1] if number <= len(row) else None

    @property
    def edge(self) -> float | None:
        """Where the centreline crosses an edge of it that a rule can be held to, from the nut, mm; None of one without."""
        return next((mark.at.x for mark in self.marks if not mark.drilled), None)

    @property
    def nearest(self) -> float:
        """The least distance of its outline from the nut, mm."""
        return min(point.x for point in self.footprint)

    @property
    def furthest(self) -> float:
        """The greatest distance of its outline from the nut, mm."""
        return max(point.x for point in self.footprint)

    @property
    def half_width(self) -> float:
        """How far its outline reaches from the centreline, mm."""
        return max(abs(point.y) for point in self.footprint)


@dataclass(frozen=True, slots=True)
class AnchorLoad:
    """What one anchor bears, newtons.

    Attributes:
        pull: along its axis, out of the wood; 0 where it is pressed in.
        side: square to its axis, towards the nut.
        height: over the wood at which the load from the side acts, mm.
    """

    pull: float
    side: float
    height: float = 0.0


@dataclass(frozen=True, slots=True)
class Loads:
    """What the strings do to a bridge's anchors.

    Attributes:
        each: one an anchor.
        why: how that came about, in a sentence.
        source: where the model stands.
        more: what else would make the anchors hold more, as the end of a sentence.
    """

    each: tuple[AnchorLoad, ...]
    why: str
    source: str
    more: str = ""


class Kind(Protocol):
    """What a kind of bridge knows that no other does.

    Attributes:
        family: of its anchors' holes.
        role: what one of them is, in bench words.
        group: what they are called together.
        row: what a row of them is called.
        holes: what they are called where they hold the bridge.
        holds: the part that goes into each.
        by_screws: whether that is a wood screw.
        hazards: what can hurt, besides the bench's own, where it is fitted.
    """

    family: AnchorFamily
    role: str
    group: str
    row: str
    holes: str
    holds: str
    by_screws: bool
    hazards: tuple[Hazard, ...]

    def turn(self, document: Document, stringing: Stringing) -> float:
        """How it is to be turned, rad; positive takes the treble end towards the nut."""
        ...

    def turn_in_words(self, document: Document) -> str:
        """Where that comes from."""
        ...

    def anchor_places(self, document: Document) -> tuple[tuple[float, float], ...]:
        """Its anchors, each behind its line and from its middle towards the treble, mm; of single units, those of one."""
        ...

    def play(self, document: Document) -> float:
        """How far it can shift on its anchors, mm."""
        ...

    def play_in_words(self, document: Document) -> str:
        """What that play is, in a sentence."""
        ...

    def place(self, document: Document, pose: Pose) -> BridgePlace:
        """The bridge where it lies."""
        ...

    def loads(self, document: Document, layout: Layout, places: Sequence[Point]) -> Loads | None:
        """What anchors at these places bear; None where the strings cannot be tuned as stated."""
        ...

    def fitting(self, document: Document, layout: Layout) -> tuple[str, ...]:
        """How it is put on last, a sentence each."""
        ...

    def name_numbers(self, found: Quantities, document: Document, layout: Layout) -> None:
        """Name the numbers that only this kind has: those of its marks and corners."""
        ...


def string_places(document: Document) -> tuple[tuple[float, float], ...]:
    """The string holes, each behind the bridge's line and from its middle towards the treble, mm; treble first.

    Of single units, the hole of one.
    """
    row = document.bridge.string_row
    if row is None:
        return ()
    if document.bridge.single:
        return ((row.mm, 0.0),)
    return tuple((row.mm, float(y)) for y in bridge_row(len(document.strings), document.bridge.spacing.mm))
