"""The head: where the strings go beyond the nut, to tuners; what holds them down on their way."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, PrivateAttr, model_validator

from scribeline.job.outline import HEAD, Outline, OutlineError
from scribeline.job.part import Part, WoodScrew
from scribeline.job.table import XY, Hand, Table
from scribeline.job.values import (
    TYPICAL_PLUS_MINUS,
    Degrees,
    Dimension,
    FileCoordinate,
    InFile,
    Mm,
    refuse,
)
from scribeline.lengths import said

Across = Annotated[float, Mm(0, 80, "a post's distance from the centreline")]


def post_along(first: float, pitch: float, place: float) -> float:
    """How far a tuner's post stands from the nut along the head's face, mm.

    Args:
        first: the nearest post from the nut, mm.
        pitch: the posts' distance along their row, mm.
        place: in its row, counted from 0 at the nut.
    """
    return first + place * pitch


LEAST_CURVE = 5.0
"""The shortest way from the neck's back to the head's, mm."""


def clear_of_tuners(first: float, hole: float, housing: float) -> float:
    """How far from the nut along the face the first tuner begins, which wants a flat back, mm; 5 mm at least.

    Args:
        first: the nearest post from the nut, mm.
        hole: a tuner's hole, mm.
        housing: a tuner's housing along its row, mm.
    """
    return max(LEAST_CURVE, first - max(hole, housing) / 2)


def _typical(mm: float) -> Dimension:
    return Dimension(mm, TYPICAL_PLUS_MINUS, measured=False)


class TreeScrew(WoodScrew):
    """The screw that holds a string tree or bar."""

    shelf = "tree screw"

    under_head: Annotated[float, Mm(0, 20, "what the screw passes through before the wood")] = 0.0


class StringTree(Table):
    """What holds strings down between nut and posts: a tree over one string or two, a bar over more."""

    strings: tuple[int, ...] = Field(min_length=1, description="numbers of the strings under it")
    along: Annotated[float, Mm(8, 200, "the nut to the tree, along the head's face")]
    height: Annotated[float, Mm(0.5, 20, "the strings under the tree, over the head's face")]
    screw: TreeScrew | None = Field(
        default=None, description="one midway between its strings; of a bar one at either end"
    )
    beyond: Annotated[float, Mm(2, 15, "a bar's screw, past its outer string")] = 6.0

    @model_validator(mode="after")
    def _once(self) -> Self:
        if len(set(self.strings)) < len(self.strings):
            raise refuse("list each string under the tree once")
        if self.screw is not None and self.screw.length.mm <= self.screw.under_head:
            raise refuse(
                f"a screw {said(self.screw.length.mm, None)} long does not come out of what it passes through, "
                f"{said(self.screw.under_head, None)}"
            )
        return self


class HeadDrawing(Table):
    """A DXF or SVG file with the head's outline, and how it lies there; what is drawn past the nut's line is cut off."""

    file: str = Field(title="drawing file", description="kept beside the job")
    layer: str | None = Field(
        default=None, title="layer of the drawing", description="where it has several outlines"
    )
    tip: Literal["+x", "-x", "+y", "-y"] = Field(
        default="-x",
        title="nut to tip in the drawing",
        description="direction in the file from the nut to the head's tip",
    )
    origin: tuple[Annotated[InFile, FileCoordinate()], Annotated[InFile, FileCoordinate()]] = Field(
        title="nut in the drawing",
        description="the file's point where the centreline meets the nut's line: bare numbers in its own units, or lengths such "
        "as 200 mm",
    )
    seen_from: Literal["front", "back"] = Field(default="front", title="drawing seen from")
    true_length: Annotated[
        float | None, Mm(HEAD.smallest / 2, HEAD.largest, "the drawing's overall length")
    ] = Field(default=None, description="along the centreline, measured; of a file that states no unit")
    true_width: Annotated[
        float | None, Mm(HEAD.smallest / 2, HEAD.largest, "the drawing's overall width")
    ] = Field(default=None, description="across it, likewise")
    drawn_for: Hand | None = Field(
        default=None, title="drawn for", description="the hand the file was drawn for"
    )


_AT_THE_NUT = 0.5
"""A drawn head may miss the nut's line, or either edge of the neck there, by this much, mm (common practice, no source)."""
_ON_THE_LINE = 0.01
"""A corner so near to the nut's line lies on it, mm: what reading leaves uncertain."""


def from_the_nut(drawn: Outline, nut_width: float) -> tuple[XY, ...]:
    """A drawn head's corners as `Head.outline` lists them, without what lies past the nut's line.

    Args:
        drawn: in the instrument's frame, from the nut.
        nut_width: the neck's width at the nut, mm.

    Raises:
        OutlineError: it does not carry on from the neck.
    """
    import shapely

    corners = tuple((0.0 - x, y) for x, y in drawn.points)
    begins, half = min(along for along, _ in corners), nut_width / 2
    if begins > _AT_THE_NUT:
        raise OutlineError(
            f"{drawn.source}: the head begins {said(begins, 1)} from the nut's line; draw it as far as the nut, or check "
            "origin (the nut in the drawing) and tip (the way its tip points)."
        )
    if begins < -_ON_THE_LINE:
        ring = shapely.Polygon(corners)
        _, low, far, high = ring.bounds
        cut = ring.intersection(shapely.box(0.0, low - 1.0, max(far, 0.0) + 1.0, high + 1.0))
        if cut.geom_type != "Polygon" or far <= HEAD.smallest / 2:
            how = (
                "cuts it in several"
                if far > HEAD.smallest / 2
                else "leaves next to nothing of it beyond the nut"
            )
            raise OutlineError(
                f"{drawn.source}: the nut's line {how}; check origin (the nut in the drawing) and tip (the way its tip points)."
            )
        corners = tuple((float(x), float(y)) for x, y in cut.exterior.coords[:-1])
    there = [across for along, across in corners if along < _AT_THE_NUT]
    for side, reach in (("treble", max(there)), ("bass", -min(there))):
        if reach < half - _AT_THE_NUT:
            raise OutlineError(
                f"{drawn.source}: at the nut the head reaches {said(reach, 1)} to the {side} of the centreline, and the neck's "
                f"edge lies at {said(half, 1)}; draw it as wide as the nut, or check origin, the drawing's unit and nut.width."
            )
    return corners


class Head(Part):
    """The head and its tuners; state it where you drill it here.

    The tuners' own dimensions are a bought part's: the hole, the post, the string on it, the housing.
    """

    shelf = "tuners"

    face: Literal["stepped", "angled"] = Field(
        title="kind of head",
        description='"stepped": level with the neck, its face lower; "angled": leaning back from the nut',
    )
    step: Annotated[float | None, Mm(0, 25, "the head's face below the fingerboard's at the nut")] = Field(
        default=None, description="square to the board; the fingerboard's thickness when left out"
    )
    angle: Annotated[float, Degrees(0, 20, "how far the head leans back")] = 0.0
    thickness: Annotated[float, Mm(8, 30, "the head's thickness")] = 15.0
    back_curve: Annotated[
        float | None, Mm(LEAST_CURVE, 100, "the way from the neck's back to the head's flat back")
    ] = Field(
        default=None,
        description="from the nut along the face; 25 mm when left out, or what the first tuner's housing leaves",
    )
    bass_side: tuple[int, ...] = Field(
        default=(),
        description="numbers of the strings whose tuners stand on the bass side, from the nut outwards",
    )
    treble_side: tuple[int, ...] = Field(
        default=(), description="the same of the treble side; string 1 is the highest"
    )
    first_post: Annotated[float, Mm(20, 120, "the nut to the nearest tuner post")]
    pitch: Annotated[float, Mm(12, 60, "the tuner posts' distance along their row")]
    bass_row: tuple[Across, Across] | None = Field(
        default=None,
        description="the first and the last post of the bass side from the centreline; when left out each string runs straight",
    )
    treble_row: tuple[Across, Across] | None = Field(default=None, description="the same of the treble side")
    hole: Annotated[Dimension, Mm(5, 20, "a tuner's hole")]
    post: Annotated[Dimension, Mm(3, 14, "a tuner post's diameter where the string winds")] = _typical(6.0)
    string_height: Annotated[Dimension, Mm(1, 20, "the string on its post over the head's face")] = _typical(
        6.5
    )
    housing: Annotated[Dimension, Mm(5, 60, "a tuner's housing along its row")] = _typical(15.0)
    trees: tuple[StringTree, ...] = Field(
        default=(), max_length=6, description="what holds strings down between nut and posts"
    )
    stock: Annotated[float | None, Mm(12, 120, "the stock the neck is sawn from")] = Field(
        default=None,
        description="how thick; what the head takes of it is then worked out. Of a head in one piece with a neck that is carved "
        "here blank_thickness in [neck_blank] says it: leave this out",
    )
    stock_width: Annotated[float, Mm(30, 200, "the stock's width at the head")] = 60.0
    scarf: bool = Field(
        default=False,
        description="an angled head glued on with a scarf joint, sawn from stock no thicker than the neck",
    )
    shape: Literal["leaf", "paddle"] | None = Field(
        default=None, description="an outline of our own round the posts: drawn to a tip, or cut across"
    )
    side: Annotated[float, Mm(6, 30, "a tuner's middle to the head's side")] = Field(
        default=13.0, description="of a shape; what the tuner's housing wants"
    )
    outline: tuple[XY, ...] = Field(
        default=(),
        description="from the nut outwards along the face, and from the centreline to the treble; the least wood round the posts "
        "when left out",
    )
    drawing: HeadDrawing | None = Field(
        default=None, description="the outline out of a drawing, instead of corners"
    )
    _read: tuple[XY, ...] = PrivateAttr(default=())

    @property
    def corners(self) -> tuple[XY, ...]:
        """The outline's corners, as listed or as read out of the drawing; none where a shape or the posts give it."""
        return self._read or self.outline

    def read_as(self, corners: tuple[XY, ...]) -> Self:
        """This head with the corners read out of its drawing; what it states stays as it is."""
        known = self.model_copy()
        known._read = corners
        return known

    @model_validator(mode="after")
    def _one_face(self) -> Self:
        if self.face == "stepped" and self.angle:
            raise refuse('a stepped head is level with the neck: leave angle out, or set face = "angled"')
        if self.face == "angled" and not self.angle:
            raise refuse('an angled head needs its angle, such as angle = 13; or set face = "stepped"')
        twice = set(self.bass_side) & set(self.treble_side)
        if twice:
            raise refuse(f"string {min(twice)} has a tuner on both sides; list each string once")
        if [bool(self.outline), self.shape is not None, self.drawing is not None].count(True) > 1:
            raise refuse(
                "give one of shape (an outline of our own), outline (its corners) and drawing (a file), or none of them"
            )
        return self

    @model_validator(mode="after")
    def _flat_under_tuners(self) -> Self:
        room = clear_of_tuners(self.first_post, self.hole.mm, self.housing.mm)
        if self.back_curve is not None and self.back_curve > room:
            raise refuse(
                f"the head's back is still curved at {said(self.back_curve, None)}, and the first tuner's housing begins "
                f"{said(room, None)} from the nut: set back_curve to that or less"
            )
        return self

    @model_validator(mode="after")
    def _stock_serves(self) -> Self:
        if self.scarf and self.face == "stepped":
            raise refuse("a stepped head needs no scarf joint: leave scarf out")
        if self.scarf and self.stock is None:
            raise refuse("a scarf joint needs stock, the thickness of the wood it is sawn in")
        return self

    @model_validator(mode="after")
    def _trees_before_posts(self) -> Self:
        posts = {
            string: post_along(self.first_post, self.pitch, place)
            for row in (self.bass_side, self.treble_side)
            for place, string in enumerate(row)
        }
        for tree in self.trees:
            for string in tree.strings:
                if string not in posts:
                    raise refuse(
                        f"a tree holds string {string} down, which has no tuner; list it on a side first"
                    )
                if posts[string] <= tree.along:
                    raise refuse(
                        f"the tree for string {string} stands {said(tree.along, None)} from the nut, and its post "
                        f"{said(posts[string], None)}: set the tree nearer to the nut"
                    )
        held = [string for tree in self.trees for string in tree.strings]
        if twice := sorted({string for string in held if held.count(string) > 1}):
            raise refuse(f"two trees hold string {twice[0]} down; list it once")
        return self
