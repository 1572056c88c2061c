"""The body in the job file: the blank, its outline, its layers of wood, and the surfaces carved into it."""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from scribeline.job.table import XY, BuildersWord, CornersOnce, Face, Hand, Table, Way, fault_in_ring
from scribeline.job.values import Degrees, Dimension, FileCoordinate, Hardness, InFile, Mm, TimberName, refuse
from scribeline.lengths import pair, said
from scribeline.tables import Timber, own_timber

TimberStated = Annotated[Timber, TimberName()]

Height = Annotated[float, Mm(-40, 30, "a height over the top at the bridge")]
Inset = Annotated[float, Mm(0, 250, "a distance in from the body's edge")]


class OwnTimber(Table):
    """A timber that the tables do not have, or the builder's own figures for one that they have."""

    name: BuildersWord = Field(min_length=1, max_length=40, description="by which the job calls it")
    kg_m3: float = Field(
        ge=80,
        le=1500,
        description="density at 12 % moisture, as a board dry enough to build with has",
        title="density, kg/m³",
    )
    hardness: Annotated[float, Hardness()] = Field(
        description="side hardness (Janka) at 12 %: newtons, or text such as 590 lbf; decides pilots and drill speeds",
        title="side hardness",
    )
    softwood: bool = Field(default=False, description="true for a conifer", title="softwood")

    @property
    def timber(self) -> Timber:
        """What the rest of the plan asks of it."""
        return own_timber(
            self.name,
            kg_m3=self.kg_m3,
            hardness_n=self.hardness,
            softwood=self.softwood,
            source="stated in the job, [[timbers]]",
        )


_IN_PROPORTION = Field(default=None, description="as the shape's own proportions have it when left out")


class ShapeDimensions(Table):
    """Dimensions of a built-in shape; those left out follow the shape's own proportions.

    Lengths "from the tail" run along the centreline from the tail edge.
    """

    length: Annotated[float | None, Mm(200, 800, "the body's overall length")] = _IN_PROPORTION
    lower_width: Annotated[float | None, Mm(150, 600, "the lower bout's width")] = _IN_PROPORTION
    waist_width: Annotated[float | None, Mm(100, 500, "the waist's width")] = _IN_PROPORTION
    upper_width: Annotated[float | None, Mm(100, 500, "the upper bout's width")] = _IN_PROPORTION
    neck_from_tail: Annotated[float | None, Mm(100, 700, "the neck edge from the tail")] = None
    neck_width: Annotated[float | None, Mm(40, 200, "the wood across the neck edge")] = None
    waist_from_tail: Annotated[float | None, Mm(50, 600, "the waist from the tail")] = None
    scoop_from_tail: Annotated[float | None, Mm(100, 700, "the scoop for the hand from the tail")] = None


class OutlineHandle(Table):
    """A named point that the edge runs through."""

    name: BuildersWord = Field(min_length=1, max_length=40)
    at: XY = Field(
        description="along from the nut, across from the centreline to the treble",
        title="place: along, across",
    )


class OutlineStatement(Table):
    """Where the body's outline comes from: a built-in shape, a DXF or SVG file, or a fair curve through a few handles.

    Handles are listed in their order round the body, from the neck by the treble side and the tail back to the neck. The
    curve through them bends as evenly as they allow, as a long batten does.
    """

    ways = (
        (
            Way("a built-in shape", ("shape", "tail"), may=("dimensions",)),
            Way(
                "a drawing",
                ("file",),
                may=(
                    *("layer", "along", "centre", "tail", "origin", "seen_from"),
                    *("true_length", "true_width", "drawn_for"),
                ),
            ),
            Way("a few handles", ("handles",), may=("mirrored", "neck_edge")),
        ),
    )

    shape: str | None = Field(default=None, title="built-in shape")
    dimensions: ShapeDimensions = Field(
        default=ShapeDimensions.model_construct(), title="the shape's other dimensions"
    )
    file: str | None = Field(default=None, title="drawing file", description="kept beside the job")
    layer: str | None = Field(
        default=None, title="layer of the drawing", description="where it has several outlines"
    )
    along: Literal["+x", "-x", "+y", "-y"] = Field(
        default="+x",
        description="direction in the file from the neck to the tail",
        title="neck to tail in the drawing",
    )
    centre: Annotated[InFile | None, FileCoordinate()] = Field(
        default=None,
        description="coordinate of the centreline in the file: a bare number in its own units, or a length such as 200 mm",
        title="centreline in the drawing",
    )
    tail: Annotated[float | None, Mm(300, 1500, "the tail edge, from the nut")] = None
    origin: tuple[Annotated[InFile, FileCoordinate()], Annotated[InFile, FileCoordinate()]] | None = Field(
        default=None,
        description="the file's point under the nut, stated as centre is; instead of centre and tail",
        title="nut in the drawing",
    )
    seen_from: Literal["front", "back"] = Field(default="front", title="drawing seen from")
    true_length: Annotated[float | None, Mm(100, 1500, "the body's overall length")] = None
    true_width: Annotated[float | None, Mm(100, 1500, "the body's overall width")] = None
    drawn_for: Hand | None = Field(
        default=None, description="the hand the file was drawn for", title="drawn for"
    )
    handles: tuple[OutlineHandle, ...] = Field(
        default=(), description="points of the edge, in their order round the body"
    )
    mirrored: bool = Field(
        default=False,
        description="the handles are the treble side's, from the neck to the tail, and the bass side is their mirror image",
    )
    neck_edge: Literal["rounded", "straight"] = Field(
        default="rounded",
        description="of handles: from the last one to the first the curve runs on, or the edge is straight",
        title="edge under the neck",
    )

    @model_validator(mode="after")
    def _one_source(self) -> Self:
        if [self.shape is None, self.file is None, not self.handles].count(False) != 1:
            raise refuse(
                "give shape (a built-in outline), file (a DXF or SVG) or handles (points of a fair curve): one of the three"
            )
        if self.shape is not None and self.tail is None:
            raise refuse(
                "a built-in shape needs tail: the tail edge's distance from the nut, along the centreline"
            )
        return self

    @model_validator(mode="after")
    def _handles_alone(self) -> Self:
        if not self.handles:
            if self.mirrored or self.neck_edge != "rounded":
                raise refuse("mirrored and neck_edge are of handles; take them out, or state handles")
            return self
        if self.tail is not None:
            raise refuse("an outline of handles ends where they do: take tail out, and move the handles")
        names = [each.name for each in self.handles]
        for name in names:
            if names.count(name) > 1:
                raise refuse(f'two handles are called "{name}"; give each its own name')
        return self


class Layer(Table):
    """One layer of wood, listed from the top down: a cap, the pieces of a laminated body.

    The thicknesses must add up to body.thickness within their ±. Each layer weighs and holds screws by its own timber.
    """

    name: BuildersWord = Field(min_length=1, max_length=40)
    timber: TimberStated
    thickness: Annotated[Dimension, Mm(0.3, 80, "the layer's thickness")]
    grain: Annotated[
        float | None, Degrees(-180, 180, "the grain's turn from along the neck towards the treble")
    ] = None
    kg_m3: float | None = Field(
        default=None,
        ge=80,
        le=1500,
        description="the density of your own board, weighed; the mean of its kind when left out",
        title="density, kg/m³",
    )


class Area(Table):
    """A part of a stepped top that lies higher or lower than the top at the bridge; a later one lies over an earlier."""

    name: BuildersWord = Field(min_length=1, max_length=40)
    outline: Annotated[tuple[XY, ...], CornersOnce] = Field(min_length=3, title="outline: along, across")
    height: Height = Field(description="over the top at the bridge; below 0 for a recess", title="height")

    @model_validator(mode="after")
    def _closed(self) -> Self:
        if place := fault_in_ring(self.outline):
            raise refuse(f"the outline {place}; list its corners in order, each once")
        return self


class Contour(Table):
    """A line on an arched top that lies at one height all round: a closed one, inside the line before."""

    outline: Annotated[tuple[XY, ...], CornersOnce] = Field(min_length=3, title="outline: along, across")
    height: Height = Field(title="height")

    @model_validator(mode="after")
    def _closed(self) -> Self:
        if place := fault_in_ring(self.outline):
            raise refuse(f"the outline {place}; list its corners in order, each once")
        return self


class Top(Table):
    """The top's form. Heights count from the top at the bridge, which stays 0; the wood may rise above it or fall below.

    A stepped top is flat with areas that lie higher or lower. An arched one is stated either by a profile, the same
    all round the edge and straight between its rows, level beyond the last; or by contour lines, from the outermost
    (the body's own outline, at edge_height) inwards, stretched straight between them.
    """

    ways = (
        (
            Way("flat", sets={"kind": "flat"}),
            Way("stepped", ("areas",), sets={"kind": "stepped"}),
            Way("arched, by a profile", ("profile",), sets={"kind": "arched"}),
            Way("arched, by contour lines", ("edge_height", "contours"), sets={"kind": "arched"}),
        ),
    )

    kind: Literal["flat", "stepped", "arched"] = "flat"
    areas: tuple[Area, ...] = ()
    profile: tuple[tuple[Inset, Height], ...] = Field(
        default=(),
        description="rows of (distance in from the edge, height), the first at the edge itself",
        title="profile: in from the edge, height",
    )
    edge_height: Height | None = Field(
        default=None, description="height at the edge, where contours are given", title="height at the edge"
    )
    contours: tuple[Contour, ...] = ()

    @model_validator(mode="after")
    def _by_kind(self) -> Self:
        given = {"areas": self.areas, "profile": self.profile, "contours": self.contours}
        wanted = {"flat": (), "stepped": ("areas",), "arched": ("profile", "contours")}[self.kind]
        for key, value in given.items():
            if value and key not in wanted:
                raise refuse(f'a top of kind "{self.kind}" takes no {key}; change kind or remove {key}')
        if wanted and sum(bool(given[key]) for key in wanted) != 1:
            raise refuse(f'a top of kind "{self.kind}" needs {" or ".join(wanted)}, and only one of them')
        if bool(self.contours) != (self.edge_height is not None):
            raise refuse("contours and edge_height go together: the edge's height, then the lines inwards")
        return self

    @model_validator(mode="after")
    def _rows_in_order(self) -> Self:
        if not self.profile:
            return self
        if len(self.profile) < 2 or self.profile[0][0] != 0:
            raise refuse("a profile begins at the edge, (0, height), and needs two rows or more")
        for (inset, height), (other, above) in pairwise(self.profile):
            if other <= inset:
                raise refuse(
                    f"the profile's distances must grow from row to row: {said(other, None)} follows {inset:g}"
                )
            if abs(above - height) > 3 * (other - inset):
                raise refuse(
                    f"between {pair(inset, other, places=None)} from the edge the profile is steeper than 3 in 1; that is "
                    "a step: "
                    'state it with kind = "stepped", or with roundover'
                )
        return self


class Bevel(Table):
    """A plane carved over the edge, for the forearm or the belly: it cuts the wood on one side of a line on the face.

    It cuts the smaller part of the body that the line parts off between its two points, and leaves alone whatever
    else the line, carried on, would part off.
    """

    ways = ((Way("by its angle", ("angle",)), Way("by its depth", ("depth",))),)

    name: BuildersWord = Field(min_length=1, max_length=40)
    face: Face
    line: tuple[XY, XY] = Field(
        description="two places on the face between which the bevel begins", title="line: along, across"
    )
    angle: Annotated[float | None, Degrees(0.5, 80, "the bevel's angle from the face")] = None
    depth: Annotated[float | None, Mm(0.2, 70, "the wood taken off at the edge")] = Field(
        default=None, description="where the outline is furthest from the line; instead of angle"
    )

    @model_validator(mode="after")
    def _one_slope(self) -> Self:
        if (self.angle is None) == (self.depth is None):
            raise refuse("give the bevel either angle (from the face) or depth (at the edge), and not both")
        (ax, ay), (bx, by) = self.line
        if (ax - bx) ** 2 + (ay - by) ** 2 < 100:
            raise refuse(
                "the two points of line lie less than 10 mm apart; a bevel begins along a line on the face"
            )
        return self


class Roundover(Table):
    """The radius on the body's edges, one for each face."""

    top: Annotated[float, Mm(0, 25, "the roundover's radius at the top")] = 0.0
    back: Annotated[float, Mm(0, 25, "the roundover's radius at the back")] = 0.0


class Body(Table):
    """The blank: how thick it is, what it is made of, its outline, and what is carved into it."""

    thickness: Annotated[Dimension, Mm(20, 80, "the body's thickness")]
    timber: TimberStated
    outline: OutlineStatement
    layers: tuple[Layer, ...] = Field(
        default=(), description="from the top down; one of body.timber when left out"
    )
    top: Top = Field(default=Top.model_construct(), title="form of the top")
    bevels: tuple[Bevel, ...] = ()
    roundover: Roundover = Roundover.model_construct()

    @model_validator(mode="after")
    def _layers_add_up(self) -> Self:
        if not self.layers:
            return self
        total = sum(layer.thickness.mm for layer in self.layers)
        within = self.thickness.plus_minus + sum(layer.thickness.plus_minus for layer in self.layers)
        if abs(total - self.thickness.mm) > within + 1e-9:
            raise refuse(
                f"the layers add up to {said(total)} and body.thickness is {said(self.thickness.mm)}, more apart than "
                f"their ± allow ({said(within)}); correct one of them"
            )
        return self

    @model_validator(mode="after")
    def _rounding_fits(self) -> Self:
        if self.roundover.top + self.roundover.back > self.thickness.mm:
            raise refuse(
                f"roundovers of {pair(self.roundover.top, self.roundover.back, places=None)} do not fit an edge "
                f"{said(self.thickness.mm, None)} thick"
            )
        if self.roundover.top and self.top.contours:
            raise refuse(
                "a top of free contour lines takes no roundover: end its lines as the edge is to be, or state the arch "
                "by a profile"
            )
        return self

    @model_validator(mode="after")
    def _names_differ(self) -> Self:
        for what, names in (
            ("layers", [layer.name for layer in self.layers]),
            ("areas of the top", [area.name for area in self.top.areas]),
            ("bevels", [bevel.name for bevel in self.bevels]),
        ):
            for name in names:
                if names.count(name) > 1:
                    raise refuse(f'two {what} are called "{name}"; give each its own name')
        return self


class MassStatement(Table):
    """A thing that hangs on the instrument: its weight and where it sits, for the balance on the strap."""

    name: BuildersWord = Field(min_length=1, max_length=40)
    grams: float = Field(gt=0, le=5000, title="weight, g")
    grams_sd: float | None = Field(
        default=None,
        ge=0,
        le=1000,
        title="± of the weight, g",
        description="one standard deviation; a tenth of the weight when left out",
    )
    at: XY = Field(
        description="its middle: along from the nut, across from the centreline",
        title="middle: along, across",
    )
    height: Annotated[float, Mm(-100, 100, "its middle's height over the top at the bridge")] = 0.0

    @property
    def sd(self) -> float:
        """Standard deviation of its weight, grams; a tenth of it where the job does not say (common practice, no source)."""
        return self.grams / 10 if self.grams_sd is None else self.grams_sd


def off_the_outline(
    body: Body, outline: Sequence[tuple[float, float]]
) -> Iterator[tuple[tuple[str | int, ...], str]]:
    """What is carved where there is no body: keys and sentences.

    Args:
        body: as stated.
        outline: its edge, as stated for a right-handed instrument, mm.
    """
    if not (body.top.areas or body.top.contours or body.bevels):
        return
    import shapely

    edge = shapely.Polygon(outline)
    if not edge.is_valid:
        return
    for number, area in enumerate(body.top.areas):
        if shapely.Polygon(area.outline).intersection(edge).area < 1.0:
            yield ("body", "top", "areas", number, "outline"), f'"{area.name}" lies beside the body'
    around, name = edge, "the body's outline"
    for number, line in enumerate(body.top.contours):
        inner = shapely.Polygon(line.outline)
        if not around.contains_properly(inner):
            sentence = (
                f"the contour line must lie wholly inside {name}; list the lines from the outermost inwards"
            )
            yield ("body", "top", "contours", number, "outline"), sentence
        around, name = inner, f"contour line {number + 1}"
    for number, bevel in enumerate(body.bevels):
        inside = shapely.LineString(bevel.line).intersection(edge).length
        if inside < 5.0:
            sentence = (
                f'the line of "{bevel.name}" runs {said(inside, 1)} over the body, so the bevel cuts nothing; its two points '
                "are along from the nut and across towards the treble, on the face where the bevel begins"
            )
            yield ("body", "bevels", number, "line"), sentence
