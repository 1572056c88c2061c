"""What is cut: bores and pockets, each with the bit that cuts it and the reasons for its numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import asin, degrees, sqrt
from typing import Literal, cast

from scribeline.features.bits import Bit
from scribeline.layout import Part, Point3, Ring, cavity_words, depth_before, rise

Face = Literal["top", "back", "edge", "pocket"]
"""What a cut is made from: a face, the body's edge, or the wall of a pocket that is there already."""

Family = Literal[
    "bridge-screw",
    "bridge-stud",
    "bridge-post",
    "tailpiece-stud",
    "string-hole",
    "ferrule-hole",
    "ground-wire",
    "tunnel",
    "neck-screw",
    "control",
    "hole",
    "cover-screw",
    "jack",
    "jack-screw",
    "strap-button",
    "claw-screw",
    "heel-pilot",
    "tuner-hole",
    "tree-screw",
]
"""What kind of hole a bore is: its id without its number, whatever the builder calls it."""

Grain = Literal["", "side", "end"]
"""How a screw lies in the wood: across its grain, or along it; "" where nobody asks."""

DOWN = Point3(0.0, 0.0, -1.0)
UP = Point3(0.0, 0.0, 1.0)

SAME_ROW = 0.002
"""Places nearer than this along the instrument print the same, mm."""


@dataclass(frozen=True, slots=True)
class Reason:
    """One link of the chain that leads to a number: the sentence, and where the rule comes from."""

    text: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """One diameter of a bore.

    Attributes:
        diameter: mm.
        depth: along the axis from the face to the end of the full diameter, mm.
        bit: what cuts it.
    """

    diameter: float
    depth: float
    bit: Bit

    @property
    def point_reaches(self) -> float:
        """Depth along the axis that the bit's point reaches, mm."""
        return point_end(self.depth, self.bit.point)

    @property
    def point_width(self) -> float:
        """Width of the bit's point where it leaves the full diameter, mm: a cone is as wide as the hole."""
        return self.diameter if self.bit.is_conical else self.bit.point_width


def point_end(depth: float, point: float) -> float:
    """Depth that a bit's point reaches, mm, beyond the end of the full diameter."""
    return depth + point


def tip_depth(length: float, under_head: float) -> float:
    """Depth that a screw's tip reaches, mm."""
    return length - under_head


@dataclass(frozen=True, slots=True)
class Screw:
    """The wood screw that is driven into a pilot, mm.

    Attributes:
        thread: diameter over the thread.
        root: diameter in the thread's valleys.
        length: from under what its head sits on to its tip; of a countersunk one the whole length.
        under_head: what it passes through before it reaches the wood.
        key: where the job states its length.
        owned: other lengths of it in the drawer.
    """

    thread: float
    root: float
    length: float
    under_head: float
    key: str
    owned: tuple[float, ...] = ()

    @property
    def reach(self) -> float:
        """Depth in the wood that its tip reaches, mm."""
        return tip_depth(self.length, self.under_head)


@dataclass(frozen=True, slots=True)
class Bore:
    """A round hole: from a face into the wood along an axis, widest step first.

    Attributes:
        id: unique name, such as "string-hole-3".
        role: what it is for, in bench words.
        group: what it and its like are called; a builder may have given two families one name (see `row`).
        face: what it is cut from.
        at: where its axis meets that surface, mm.
        axis: unit vector into the wood.
        steps: widest first, depths growing.
        meets: ids of what it is meant to run into.
        through: whether it leaves the wood at the far end on purpose.
        why: how its numbers came about.
        entered_from: id of the pocket it is drilled through, where its face is "pocket".
        outward: unit normal of the wall it is cut from, out of the wood, where its face is "edge" or "pocket"; the
            axis turned round where nothing is stated.
        lead: how far before `at` along the axis that wall can first be touched, mm; over 0 where it is hollow.
        grain: how its screw lies in the wood.
        screw: what is driven into it, where it is a pilot.
        holds: the part it is for, such as "tail strap button" or "volume"; "" where it is for none of its own.
        stated: key of the job that states its place, such as "holes[2].places[3]"; "" where that is worked out.
    """

    id: str
    role: str
    group: str
    face: Face
    at: Point3
    axis: Point3
    steps: tuple[Step, ...]
    meets: frozenset[str] = frozenset()
    through: bool = False
    why: tuple[Reason, ...] = ()
    entered_from: str = ""
    outward: Point3 | None = None
    lead: float = 0.0
    grain: Grain = ""
    screw: Screw | None = None
    holds: str = ""
    stated: str = field(default="", compare=False)

    @property
    def family(self) -> Family:
        """What kind of hole it is."""
        return cast(Family, self.id.rstrip("0123456789").removesuffix("-"))

    @property
    def number(self) -> int:
        """Which of its family it is, from 1; 0 where there is one alone."""
        last = self.id.rpartition("-")[2]
        return int(last) if last.isdigit() else 0

    @property
    def is_wire_way(self) -> bool:
        """Whether a wire runs through it: its guide block is cut to its slope, whatever wall it starts on."""
        return self.family in {"tunnel", "ground-wire"}

    @property
    def stands_alone(self) -> bool:
        """Whether it is set up by itself, however like another it is: through a guide block of its own, or at its own place."""
        return self.is_wire_way or self.family in {"jack", "strap-button"}

    @property
    def row(self) -> tuple[Family, str]:
        """What it shares with the holes that go with it: its family and what they are called."""
        return self.family, self.group

    @property
    def own_screw(self) -> Screw:
        """What is driven into it; of a pilot alone."""
        assert self.screw is not None
        return self.screw

    @property
    def normal(self) -> Point3:
        """Unit normal of the surface it is cut from, out of the wood."""
        if self.face in {"top", "back"}:
            return UP if self.face == "top" else DOWN
        if self.outward is not None:
            return self.outward
        return Point3(-self.axis.x, -self.axis.y, -self.axis.z)

    @property
    def is_upright(self) -> bool:
        """True when the axis is square to the faces."""
        return self.axis in (DOWN, UP)

    @property
    def deepest(self) -> Step:
        """The narrowest step, which goes deepest."""
        return self.steps[-1]

    @property
    def widest(self) -> float:
        """The largest diameter, mm."""
        return max(step.diameter for step in self.steps)

    @property
    def depth_stop(self) -> float:
        """Travel of the bit from its point touching the face to the bottom, mm."""
        return self.deepest.point_reaches

    def along(self, depth: float) -> Point3:
        """The place on the axis at a depth from the face."""
        return Point3(*(a + depth * d for a, d in zip(self.at, self.axis, strict=True)))

    @property
    def angle_from_face_sine(self) -> float:
        """Sine of the angle between the axis and the surface it is cut from."""
        along = sum(part * out for part, out in zip(self.axis, self.normal, strict=True))
        return abs(along) / sqrt(sum(part * part for part in self.axis))


@dataclass(frozen=True, slots=True)
class Slope:
    """How a pocket's floor leans along the instrument.

    Attributes:
        angle: rad; over 0 the floor rises towards the tail.
        at: where along the instrument the pocket's depth is told, mm.
    """

    angle: float
    at: float

    @property
    def rise(self) -> float:
        """How far the floor rises for each mm towards the tail, mm."""
        return rise(1.0, self.angle)


@dataclass(frozen=True, slots=True)
class Pocket:
    """A routed recess with a flat floor, level but for a neck pocket's that leans with its neck.

    Attributes:
        id: unique name, such as "bridge-pickup".
        role: its name in the job.
        face: the face it is cut from.
        outline: as cut, with the corners the router bit leaves, mm.
        depth: from its face, mm; where the floor leans, at the slope's own place.
        corner_radius: mm.
        at_edge: whether it runs out of the body's edge on purpose.
        meets: ids of what is meant to run into it.
        why: how its numbers came about.
        islands: wood left standing inside the outline, as cut, mm.
        slope: how its floor leans; None of a level one. Only a pocket from the top has one.
        stated: key of the job's table that states its place, such as "pockets[2]"; "" where that is worked out.
    """

    id: str
    role: str
    face: Face
    outline: Ring
    depth: float
    corner_radius: float
    at_edge: bool = False
    meets: frozenset[str] = frozenset()
    why: tuple[Reason, ...] = ()
    islands: tuple[Ring, ...] = ()
    slope: Slope | None = None
    stated: str = field(default="", compare=False)

    @property
    def row(self) -> tuple[str, str]:
        """What it shares with what goes with it: nothing, for it goes by itself."""
        return "pocket", self.role

    def depth_at(self, x: float) -> float:
        """Its depth at a place along the instrument, mm."""
        return (
            self.depth
            if self.slope is None
            else depth_before(self.depth, self.slope.at - x, self.slope.angle)
        )

    @property
    def depths(self) -> tuple[float, float]:
        """Its depth at its end towards the nut and at the one towards the tail, mm."""
        if self.slope is None:
            return self.depth, self.depth
        xs = [place.x for place in self.outline]
        return self.depth_at(min(xs)), self.depth_at(max(xs))

    @property
    def in_words(self) -> str:
        """What it is called in a sentence, such as bridge-pickup cavity."""
        return cavity_words(self.role)


Feature = Bore | Pocket


def workpiece_of(feature_id: str) -> Part:
    """The workpiece that a cut is in, by its id."""
    if feature_id.startswith(("tuner-hole-", "tree-screw-")):
        return "head"
    return "neck" if feature_id.startswith("heel-pilot-") else "body"


def slope_deg(bore: Bore) -> float:
    """Angle between a bore's axis and the body's faces, degrees: 90 where it runs square to them, 0 where level."""
    return degrees(asin(min(1.0, abs(bore.axis.z))))


def angle_from_face_deg(bore: Bore) -> float:
    """Angle between a bore's axis and the surface it is cut from, degrees."""
    return degrees(asin(min(1.0, bore.angle_from_face_sine)))


def entry_ellipse(bore: Bore) -> tuple[float, float]:
    """Length and width of a bore's mouth on its face, mm: D/sin A along the heading, D across."""
    return bore.widest / bore.angle_from_face_sine, bore.widest


def rows_along(bores: Sequence[Bore]) -> tuple[tuple[Bore, ...], ...]:
    """Holes gathered into rows square to the centreline, the row nearest the nut first.

    Holes of one row print the same distance along. On a plate that is out of square each hole is a row of its own.
    """
    rows: list[list[Bore]] = []
    for bore in sorted(bores, key=lambda each: each.at.x):
        if rows and bore.at.x - rows[-1][0].at.x < SAME_ROW:
            rows[-1].append(bore)
        else:
            rows.append([bore])
    order = {bore.id: n for n, bore in enumerate(bores)}
    return tuple(tuple(sorted(row, key=lambda each: order[each.id])) for row in rows)


def shared_role(bores: Sequence[Bore]) -> str:
    """What a row of holes is for: the words that all their roles end in."""
    roles = [bore.role.split() for bore in bores]
    alike = 0
    while alike < min(map(len, roles)) and len({words[-1 - alike] for words in roles}) == 1:
        alike += 1
    return " ".join(roles[0][-alike:]) if alike else bores[0].role
