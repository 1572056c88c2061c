"""What the builder states of cavities, holes, controls and the neck's screws: everything cut from the top or the back."""

from math import cos, hypot, sin
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from scribeline.job.part import Part, WoodScrew
from scribeline.job.table import XY, BuildersWord, CornersOnce, Datum, Face, Table, Way, fault_in_ring
from scribeline.job.values import Degrees, Dimension, Mm, refuse
from scribeline.lengths import said

Corners = Annotated[tuple[XY, ...], Field(max_length=20_000), CornersOnce]
Name = Annotated[BuildersWord, Field(min_length=1, max_length=60)]
Size = Annotated[float, Mm(2, 400, "a cavity's size")]


Follows = Literal["strings", "body"]
"""What a cut goes with where the neck does not lie where it was planned."""


class Slot(Table):
    """A straight slot: its two ends on its middle line, and its width."""

    ends: tuple[XY, XY] = Field(title="its two ends: along, across")
    width: Annotated[float, Mm(1, 100, "the slot's width")]

    @model_validator(mode="after")
    def _has_length(self) -> Self:
        (x0, y0), (x1, y1) = self.ends
        if hypot(x1 - x0, y1 - y0) < self.width - 1e-9:
            raise refuse(
                f"the slot's ends lie {said(hypot(x1 - x0, y1 - y0))} apart, less than its width of {said(self.width, None)}; "
                "they are the outermost places on its middle line"
            )
        return self


class Ledge(Table):
    """The cover recess round a cavity: as deep as the cover is thick."""

    width: Annotated[float, Mm(1, 40, "the cover recess's width")]
    depth: Annotated[float, Mm(0.5, 12, "the cover recess's depth")]


class CoverScrews(WoodScrew):
    """The screws that hold a cavity's cover, and where they are."""

    shelf = "cover screw"

    places: tuple[XY, ...] = Field(
        min_length=1,
        max_length=40,
        description="along from where the cavity is measured from, across towards the treble",
        title="places: along, across",
    )
    cover_thickness: Annotated[float | None, Mm(0.5, 12, "the cover's thickness")] = Field(
        default=None, description="the cover recess's depth when left out"
    )


class PocketStatement(Table):
    """A cavity to be routed: a rectangle, a slot, or any outline, with its depth and corner radius.

    A cavity of several depths is several cavities, each with its own depth, that open into each other.
    """

    ways = (
        (
            Way("a rectangle", ("corner_radius", "centre", "size"), may=("turn", "along_frets")),
            Way("a slot", ("slot",), may=("corner_radius",)),
            Way("any outline", ("corner_radius", "outline")),
        ),
    )

    name: Name
    face: Face = "top"
    depth: Annotated[float, Mm(1, 80, "the cavity's depth")]
    corner_radius: Annotated[float | None, Mm(0, 30, "the cavity's corner radius")] = Field(
        default=None, description="needed, but for a slot: half its width when left out"
    )
    x_from: Datum = "nut"
    centre: XY | None = Field(default=None, title="centre: along, across")
    size: tuple[Size, Size] | None = Field(
        default=None, description="along the strings, across the strings", title="size: along, across"
    )
    turn: Annotated[float, Degrees(-180, 180, "the cavity's turn towards the tail on the treble side")] = 0.0
    outline: Corners | None = Field(
        default=None, title="outline: along, across", description="its corners in order, each once"
    )
    slot: Slot | None = None
    islands: tuple[Corners, ...] = Field(
        default=(),
        max_length=50,
        description="outlines of wood left standing inside; their outer corners stay sharp, inner ones get the bit's radius",
        title="islands: along, across",
    )
    ledge: Ledge | None = Field(default=None, title="cover recess", description="round the cavity")
    cover_screws: CoverScrews | None = None
    opens_into: tuple[BuildersWord, ...] = Field(
        default=(), description="names of cavities it is meant to run into", title="opens into"
    )
    along_frets: bool = Field(
        default=False,
        description="turned as a fan's frets would be at its centre, as a slanted pickup is; turn is left out",
    )
    follows: Follows | None = Field(
        default=None,
        description="whether it goes where the neck really lies, once that is read, or stays on the body; left out, it goes "
        "with the strings where its middle lies under them",
        title="goes with",
    )
    typical: bool = Field(
        default=False,
        description="its numbers are typical ones of the parts book, and nobody has measured the part yet",
        title="not yet measured",
    )

    @property
    def radius(self) -> float:
        """The corners' radius, mm."""
        if self.corner_radius is not None:
            return self.corner_radius
        assert self.slot is not None
        return self.slot.width / 2

    def corners(self, fan: float = 0.0) -> tuple[XY, ...]:
        """Its sharp-cornered outline, from its own datum, mm.

        Args:
            fan: how far a fan's frets are turned at its centre towards the tail on the treble side, rad.
        """
        if self.outline is not None:
            return self.outline
        if self.slot is not None:
            return _strip(*self.slot.ends, self.slot.width)
        assert self.centre is not None
        assert self.size is not None
        return _rectangle(self.centre, self.size, fan if self.along_frets else self.turn)

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        rectangle = self.centre is not None and self.size is not None
        half = (self.centre is None) != (self.size is None)
        if half or [rectangle, self.outline is not None, self.slot is not None].count(True) != 1:
            raise refuse(
                "give the cavity either centre and size (a rectangle), or slot (its ends and width), or outline (a list of "
                "points)"
            )
        if self.along_frets and not rectangle:
            raise refuse(
                "along_frets turns a rectangle: give centre and size, or draw the outline as it runs"
            )
        if self.along_frets and self.islands:
            raise refuse("a cavity along the frets has no islands here; give its turn, or draw its outline")
        if self.along_frets and self.turn:
            raise refuse("give either turn or along_frets, and not both")
        if self.corner_radius is None and self.slot is None:
            raise refuse("a cavity needs corner_radius: half the width of the router bit, or more")
        if self.outline is not None and len(self.outline) < 3:
            raise refuse("a cavity's outline needs three points or more")
        if self.outline is not None and (place := fault_in_ring(self.outline)):
            raise refuse(f"the cavity's outline {place}; list its corners in order, each once")
        narrow = (
            self.slot.width if self.slot is not None else min(self.size) if self.size is not None else None
        )
        if narrow is not None and self.radius * 2 > narrow + 1e-9:
            raise refuse(
                f"corner_radius {said(self.radius, None)} does not fit a cavity {said(narrow, None)} wide; at most "
                f"{said(narrow / 2, None)}"
            )
        return self

    @model_validator(mode="after")
    def _islands_stand_inside(self) -> Self:
        for number, island in enumerate(self.islands, start=1):
            if len(island) < 3:
                raise refuse(f"islands[{number}] needs three points or more")
            if place := fault_in_ring(island):
                raise refuse(f"islands[{number}] {place}; list its corners in order, each once")
        if self.islands:
            _check_islands(self.corners(), self.islands)
        return self

    @model_validator(mode="after")
    def _cover(self) -> Self:
        if self.ledge is not None and self.ledge.depth >= self.depth:
            raise refuse(
                f"the cover recess (ledge) is {said(self.ledge.depth, None)} deep and the cavity itself "
                f"{said(self.depth, None)}; the cover must lie above it"
            )
        screws = self.cover_screws
        if screws is None:
            return self
        if screws.cover_thickness is None and self.ledge is None:
            raise refuse("cover_screws needs cover_thickness, for no cover recess (ledge) tells it")
        thick = self.cover_thickness
        if screws.length.mm <= thick:
            raise refuse(
                f"a cover screw of {said(screws.length.mm, None)} does not get through the cover, {said(thick, None)} "
                "thick; use a longer one"
            )
        return self

    @property
    def cover_thickness(self) -> float:
        """What the cover's screws pass through, mm; 0 where nothing tells it."""
        if self.cover_screws is not None and self.cover_screws.cover_thickness is not None:
            return self.cover_screws.cover_thickness
        return self.ledge.depth if self.ledge is not None else 0.0


def _check_islands(outline: Corners, islands: tuple[Corners, ...]) -> None:
    import shapely

    pocket = shapely.Polygon(outline)
    standing = [shapely.Polygon(island) for island in islands]
    for number, island in enumerate(standing, start=1):
        if not pocket.contains_properly(island):
            place = "outside" if not pocket.intersects(island) else "across the edge of"
            raise refuse(
                f"islands[{number}] lies {place} its cavity; its corners are counted from the same x_from as the cavity's"
            )
        for other, earlier in enumerate(standing[: number - 1], start=1):
            if earlier.intersects(island):
                raise refuse(f"islands[{number}] and islands[{other}] run into each other; draw them as one")


def _rectangle(centre: XY, size: tuple[float, float], turn_rad: float) -> tuple[XY, ...]:
    a, b = size[0] / 2, size[1] / 2
    c, s = cos(turn_rad), sin(turn_rad)
    return tuple(
        (centre[0] + u * c + v * s, centre[1] - u * s + v * c)
        for u, v in ((-a, -b), (a, -b), (a, b), (-a, b))
    )


def _strip(start: XY, end: XY, width: float) -> tuple[XY, ...]:
    long = hypot(end[0] - start[0], end[1] - start[1])
    u, v = (end[0] - start[0]) / long, (end[1] - start[1]) / long
    h = width / 2
    return (
        (start[0] + v * h, start[1] - u * h),
        (end[0] + v * h, end[1] - u * h),
        (end[0] - v * h, end[1] + u * h),
        (start[0] - v * h, start[1] + u * h),
    )


class HoleStep(Table):
    """One diameter of a hole, and how deep it goes at full diameter."""

    diameter: Annotated[float, Mm(0.5, 80, "a hole's diameter")]
    depth: Annotated[float | None, Mm(0.2, 120, "a hole's depth")] = Field(
        default=None,
        description="at full diameter from its face; left out for the last step of a hole that goes through",
    )


class Countersink(Table):
    """The cone for a flat-headed screw."""

    diameter: Annotated[float, Mm(1, 40, "the countersink's diameter")]
    angle: Annotated[float, Degrees(40, 140, "the countersink's angle")] = 1.5707963267948966


class HoleScrew(WoodScrew):
    """The wood screw that goes into a hole: its pilot follows from it and from the timber."""

    shelf = "screw"

    under_head: Annotated[float, Mm(0, 40, "what the screw passes through before the wood")] = 0.0


class HoleStatement(Table):
    """Holes of one kind from the top or the back: of one diameter, stepped, through, or the pilots of a screw."""

    ways = (
        (Way("one place", ("at",)), Way("several places", ("places",))),
        (
            Way("to a depth", ("diameter", "depth")),
            Way("right through", ("diameter",), sets={"through": True}),
            Way("in steps", ("steps",), may=("through",)),
            Way("for a screw", ("screw",)),
        ),
        (Way("upright", may=("countersink",)), Way("slanting", ("lean", "heading"))),
    )

    name: Name
    face: Face = "top"
    x_from: Datum = "nut"
    at: XY | None = Field(
        default=None,
        description="along from its datum, across towards the treble",
        title="place: along, across",
    )
    places: tuple[XY, ...] = Field(
        default=(),
        max_length=200,
        description="along from its datum, across towards the treble",
        title="places: along, across",
    )
    diameter: Annotated[float | None, Mm(0.5, 80, "the hole's diameter")] = None
    depth: Annotated[float | None, Mm(0.2, 120, "the hole's depth")] = Field(
        default=None, description="at full diameter from its face, along the hole"
    )
    steps: tuple[HoleStep, ...] = Field(
        default=(),
        max_length=6,
        description="or several diameters, the widest first: a counterbore, then the hole",
    )
    through: bool = Field(
        default=False,
        description="whether it goes right through, to the other face or into `into`",
        title="right through",
    )
    countersink: Countersink | None = None
    screw: HoleScrew | None = Field(default=None, description="instead of a size: what is driven into it")
    lean: Annotated[float, Degrees(0, 75, "the hole's angle off upright")] = 0.0
    heading: Annotated[
        float | None,
        Degrees(-180, 180, "the direction of a slanting hole, from straight to the neck towards the treble"),
    ] = None
    into: tuple[BuildersWord, ...] = Field(
        default=(), description="names of cavities it is meant to open into", title="opens into"
    )
    follows: Follows | None = Field(
        default=None,
        description="whether they go where the neck really lies, once that is read, or stay on the body; left out, they go "
        "with the strings where their middle lies under them",
        title="goes with",
    )

    @property
    def spots(self) -> tuple[XY, ...]:
        """Every place, mm."""
        return self.places if self.at is None else (self.at,)

    @model_validator(mode="after")
    def _somewhere(self) -> Self:
        if (self.at is None) == (not self.places):
            raise refuse("give the hole either at (one place) or places (a list of them)")
        if len(set(self.spots)) < len(self.spots):
            raise refuse("the same place is listed twice; every hole needs its own")
        if self.lean and self.heading is None:
            raise refuse(
                "a slanting hole needs a direction (heading): 0 runs straight to the neck, 90 to the treble, 180 to the tail"
            )
        if self.lean and self.countersink is not None:
            raise refuse("only an upright hole can be countersunk; leave lean or countersink out")
        return self

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        forms = (self.diameter is not None, bool(self.steps), self.screw is not None)
        if forms.count(True) != 1:
            raise refuse("give the hole either diameter, or steps, or the screw that goes into it")
        if self.screw is not None and (self.through or self.depth is not None):
            raise refuse("a screw's pilot is as deep as the screw needs; leave depth and through out")
        if self.screw is not None and self.screw.length.mm <= self.screw.under_head:
            raise refuse(
                f"a screw of {said(self.screw.length.mm, None)} does not reach the wood through "
                f"{said(self.screw.under_head, None)}"
            )
        if self.diameter is not None and (self.depth is None) != self.through:
            raise refuse("give the hole either depth or through = true")
        if self.steps:
            self._check_steps()
        first = self.steps[0].diameter if self.steps else self.diameter
        if self.countersink is not None and self.screw is not None:
            thread = self.screw.thread.mm
            if self.countersink.diameter <= thread:
                raise refuse(
                    f"a countersink of {said(self.countersink.diameter, None)} is not wider than the screw's thread, "
                    f"{said(thread, None)}"
                )
        if self.countersink is not None and first is not None and self.countersink.diameter <= first:
            raise refuse(
                f"a countersink of {said(self.countersink.diameter, None)} is not wider than the hole, {said(first, None)}"
            )
        return self

    def _check_steps(self) -> None:
        if self.depth is not None:
            raise refuse("a hole with steps has its depth in them; leave depth out")
        for n, step in enumerate(self.steps, start=1):
            last = n == len(self.steps)
            if (step.depth is None) != (last and self.through):
                raise refuse(
                    f"steps[{n}] needs its depth"
                    if step.depth is None
                    else f"steps[{n}] goes through; leave its depth out"
                )
        for n, (a, b) in enumerate(zip(self.steps, self.steps[1:], strict=False), start=2):
            if b.diameter >= a.diameter or (b.depth is not None and b.depth <= (a.depth or 0.0)):
                raise refuse(
                    f"steps[{n}] must be narrower and deeper than the one before it; list the widest and shallowest first"
                )


class ControlStatement(Part):
    """A pot, a switch or a jack whose shaft comes out of the top: its hole, and how much wood its thread can pass."""

    shelf = "control"

    name: Name
    centre: XY = Field(title="centre: along, across")
    x_from: Datum = "nut"
    into: BuildersWord = Field(
        description="name of the cavity it sits in, cut from the back", title="cavity it sits in"
    )
    hole: Annotated[Dimension, Mm(2, 40, "the diameter of its hole in the top")]
    thread_length: Annotated[Dimension, Mm(2, 60, "the length of its thread")]
    nut_and_washers: Annotated[Dimension, Mm(0.5, 20, "nut, washer and lock washer together")]
    body: Annotated[Dimension | None, Mm(4, 80, "its body's width across")] = Field(
        default=None, description="inside the cavity; to see that it has room"
    )
    body_depth: Annotated[Dimension | None, Mm(2, 80, "how far its body stands into the cavity")] = Field(
        default=None,
        description="from the wood over it, lugs and all; to see that the jack clears it, which else counts it to the floor",
    )


class _NeckBolts(Table):
    """What holds a bolted neck, as far as the body knows of it: its places, what the heads bear on."""

    places: tuple[
        tuple[
            Annotated[float, Mm(2, 300, "a neck screw from the pocket's end wall")],
            Annotated[float, Mm(-60, 60, "a neck screw from the centreline")],
        ],
        ...,
    ] = Field(
        min_length=1,
        max_length=12,
        description="from the pocket's end wall towards the nut, from the centreline towards the treble",
        title="places: from the end wall, across",
    )
    plate_thickness: Annotated[Dimension | None, Mm(0.5, 8, "the neck plate's thickness")] = Field(
        default=None, description="or of the washer in its cup; none when left out"
    )
    cup_diameter: Annotated[float | None, Mm(5, 40, "the counterbore for a screw's cup")] = None
    cup_depth: Annotated[float | None, Mm(0.3, 20, "the depth of the counterbore for a cup")] = None

    @model_validator(mode="after")
    def _sensible(self) -> Self:
        if (self.cup_diameter is None) != (self.cup_depth is None):
            raise refuse("a counterbore for cups needs both cup_diameter and cup_depth")
        if self.cup_diameter is not None and self.cup_diameter <= self.passing:
            raise refuse(
                f"cup_diameter ({said(self.cup_diameter, None)}) must be larger than the screw's thread "
                f"({said(self.passing, None)})"
            )
        if len(set(self.places)) < len(self.places):
            raise refuse("the same place is listed twice; every screw needs its own")
        return self

    @property
    def passing(self) -> float:
        """Diameter of what passes through the body, mm."""
        raise NotImplementedError

    @property
    def outside(self) -> float:
        """Diameter of what holds in the heel, over its thread, mm."""
        raise NotImplementedError

    @property
    def under_head(self) -> float:
        """What the head bears on, mm: the plate or a washer."""
        return 0.0 if self.plate_thickness is None else self.plate_thickness.mm


_HEADS = ((Way("heads on the plate"), Way("heads in cups", ("cup_diameter", "cup_depth"))),)


class NeckScrews(_NeckBolts, WoodScrew):
    """The screws of a bolted neck: their places, what their heads bear on, their size."""

    shelf = "neck screw"
    ways = _HEADS

    @property
    def passing(self) -> float:
        """Diameter of what passes through the body, mm."""
        return self.thread.mm

    @property
    def outside(self) -> float:
        """Diameter of what holds in the heel, over its thread, mm."""
        return self.thread.mm


class NeckInserts(_NeckBolts, Part):
    """Threaded inserts in a bolted neck's heel and their machine screws, in place of wood screws."""

    shelf = "threaded insert"
    ways = (
        *_HEADS,
        (
            Way("inserts without a flange"),
            Way("inserts with a flange", ("flange_diameter", "flange_thickness")),
        ),
    )

    thread: Annotated[Dimension, Mm(3, 20, "the insert over its outside thread")]
    root: Annotated[Dimension, Mm(2.5, 18, "the insert in its outside thread's valleys")]
    length: Annotated[Dimension, Mm(4, 40, "the insert's length under its flange")]
    flange_diameter: Annotated[Dimension | None, Mm(4, 30, "the insert's flange")] = Field(
        default=None, description="none when left out"
    )
    flange_thickness: Annotated[Dimension | None, Mm(0.3, 5, "the thickness of the insert's flange")] = None
    screw: Annotated[Dimension, Mm(2.5, 10, "the machine screw's thread")]
    screw_length: Annotated[Dimension, Mm(10, 120, "the machine screw's length under its head")]
    screw_lengths_owned: tuple[Annotated[float, Mm(5, 120, "a machine screw's length")], ...] = Field(
        default=(),
        description="other lengths of this machine screw in the drawer",
        title="other lengths in the drawer",
    )

    @model_validator(mode="after")
    def _an_insert(self) -> Self:
        if self.root.mm >= self.thread.mm:
            raise refuse(
                f"root ({self.root.mm:g} mm) must be smaller than thread ({self.thread.mm:g} mm): measure the root in the "
                "valley between two turns, the thread over the crests"
            )
        if self.screw.mm >= self.root.mm:
            raise refuse(
                f"screw ({self.screw.mm:g} mm) must be smaller than root ({self.root.mm:g} mm): it goes into the insert"
            )
        if (self.flange_diameter is None) != (self.flange_thickness is None):
            raise refuse("a flange needs both flange_diameter and flange_thickness")
        if self.flange_diameter is not None and self.flange_diameter.mm <= self.thread.mm:
            raise refuse(
                f"flange_diameter ({self.flange_diameter.mm:g} mm) must be larger than thread ({self.thread.mm:g} mm)"
            )
        return self

    @property
    def passing(self) -> float:
        """Diameter of what passes through the body, mm."""
        return self.screw.mm

    @property
    def outside(self) -> float:
        """Diameter of what holds in the heel, over its thread, mm."""
        return self.thread.mm

    @property
    def sunk(self) -> float:
        """How far the insert's own length begins under the heel's surface, mm: its flange is let in."""
        return 0.0 if self.flange_thickness is None else self.flange_thickness.mm


NeckBolts = NeckScrews | NeckInserts
"""What can hold a bolted neck."""
