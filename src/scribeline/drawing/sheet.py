"""What a sheet holds: tagged marks in millimetres, y up, on named layers.

Views, templates and step cards are built as tuples of these values; the writers (`svg`, `dxf`, `pdf`)
only translate them. Everything is frozen: a sheet is made once and never edited. Line widths and line
types are part of the layer, so a writer takes no decision about looks. Widths follow the series of
ISO 128-2 (0.18, 0.25, 0.35, 0.5 mm), line types its names (dashed; long-dashed dotted, here "chain";
long-dashed double-dotted, here "double-chain").
"""

import math
from dataclasses import dataclass
from typing import Literal, TypeAlias

Point: TypeAlias = tuple[float, float]
Window: TypeAlias = tuple[float, float, float, float]
"""A rectangle: left, bottom, right, top."""

LineStyle = Literal["continuous", "dashed", "chain", "double-chain", "dotted"]
Anchor = Literal["start", "middle", "end"]
Along = Literal["x", "y", "aligned"]
Tone = Literal["black", "white"]

LEAST_LETTERING = 2.5
"""The smallest capital height on any sheet, mm."""
ACTED_ON_LETTERING = 3.5
"""The smallest capital height of anything a person acts on, mm."""
TEMPLATE_LETTERING = 5.0
"""Capital height of dimensions on full-size templates, mm."""


@dataclass(frozen=True, slots=True)
class Layer:
    """A named layer with its line already decided.

    Attributes:
        name: What the layer is called in SVG and DXF.
        width: Line width, mm.
        style: Line type.
        rank: Painting order: lower is painted first. Layers of one rank are painted in the order in which
            they first appear on the sheet, marks of one layer in their own order.
        colour: Its colour in a DXF file, by AutoCAD's index; 7 is black on white and white on black. Everything
            else is drawn black.
        description: What it holds, for a program's list of layers.
    """

    name: str
    width: float
    style: LineStyle = "continuous"
    rank: int = 0
    colour: int = 7
    description: str = ""

    def __post_init__(self) -> None:
        if not self.name:
            raise ValueError("A drawing layer needs a name.")
        if not (math.isfinite(self.width) and self.width > 0):
            raise ValueError(f"Layer {self.name}: the line width must be above 0 mm, not {self.width}.")


HATCHING = Layer("hatching", 0.18, rank=-1)
GRID = Layer("grid", 0.18, rank=-1)
CUT = Layer("cut", 0.5)
OUTLINE = Layer("outline", 0.35)
HIDDEN = Layer("hidden", 0.25, "dashed")
CENTRE = Layer("centre", 0.18, "chain")
PHANTOM = Layer("phantom", 0.25, "double-chain")
THIN = Layer("thin", 0.18)
DIMENSION = Layer("dimension", 0.18)
LETTERING = Layer("lettering", 0.25, rank=1)
RULING = Layer("ruling", 0.18, rank=1)
BAR = Layer("measuring bar", 0.25, rank=1)
MARK = Layer("mark", 0.25, rank=1)
TAG = Layer("tag", 0.35, rank=2)


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line from `a` to `b`."""

    layer: Layer
    a: Point
    b: Point
    ref: str = ""


@dataclass(frozen=True, slots=True)
class Arc:
    """A circular arc drawn counter-clockwise from `start_deg` to `end_deg` (degrees from the x axis)."""

    layer: Layer
    centre: Point
    radius: float
    start_deg: float
    end_deg: float
    ref: str = ""

    def __post_init__(self) -> None:
        _positive("An arc's radius", self.radius)
        if math.isclose((self.end_deg - self.start_deg) % 360.0, 0.0, abs_tol=1e-9):
            raise ValueError("An arc must end somewhere else than where it starts; draw a circle instead.")

    @property
    def sweep_deg(self) -> float:
        """The angle the arc covers, above 0 and below 360 degrees."""
        return (self.end_deg - self.start_deg) % 360.0


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle at true size."""

    layer: Layer
    centre: Point
    radius: float
    ref: str = ""

    def __post_init__(self) -> None:
        _positive("A circle's radius", self.radius)


@dataclass(frozen=True, slots=True)
class Path:
    """Straight pieces through `points`; `closed` joins the last to the first (do not repeat it)."""

    layer: Layer
    points: tuple[Point, ...]
    closed: bool = False
    ref: str = ""

    def __post_init__(self) -> None:
        if len(self.points) < 2:
            raise ValueError(f"A path needs two points or more, not {len(self.points)}.")


@dataclass(frozen=True, slots=True)
class Text:
    """One line of lettering.

    Attributes:
        at: Where the anchor of the base line stands.
        height: Height of the capital letters, mm.
        anchor: Which end of the text stands at `at`.
        rotation_deg: Counter-clockwise from the x axis.
        white: White letters, for a black tag.
    """

    layer: Layer
    at: Point
    text: str
    height: float
    anchor: Anchor = "start"
    rotation_deg: float = 0.0
    bold: bool = False
    ref: str = ""
    white: bool = False

    def __post_init__(self) -> None:
        _positive("The height of lettering", self.height)
        if "\n" in self.text:
            raise ValueError("Lettering is one line; wrap it into several texts.")


class Compound:
    """A mark that stands for lines, arrowheads and lettering; `drafting.exploded` says which.

    What draws, measures and moves marks knows this kind alone: each of its fields that is a point moves with the drawing.
    """

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class Dimension(Compound):
    """A length between `a` and `b`, dimensioned after ISO 129-1.

    Attributes:
        at: Any point the dimension line passes through; it also says on which side of `a` and `b` it lies.
        text: The value as printed above the line ("14.20 mm"). Never worked out from the points, which may
            be drawn to another scale.
        small: The second unit, printed smaller below the line ("9/16 in (+0.09)"); may be empty.
        along: Measured along the x axis, along the y axis, or along the line from `a` to `b`.
        height: Height of `text`, mm.
        outside: At which end the text goes when it does not fit between the extension lines, in reading
            direction.
    """

    layer: Layer
    a: Point
    b: Point
    at: Point
    text: str
    small: str = ""
    along: Along = "aligned"
    height: float = ACTED_ON_LETTERING
    outside: Literal["start", "end"] = "end"
    ref: str = ""

    def __post_init__(self) -> None:
        _positive("The height of lettering", self.height)
        if self.span < 1e-9:
            raise ValueError("A dimension needs two points that differ in the direction it measures.")

    @property
    def span(self) -> float:
        """The length drawn between the arrowheads, mm on the sheet."""
        dx, dy = abs(self.b[0] - self.a[0]), abs(self.b[1] - self.a[1])
        return {"x": dx, "y": dy, "aligned": math.hypot(dx, dy)}[self.along]


@dataclass(frozen=True, slots=True)
class RoundDimension(Compound):
    """The radius or diameter of a circle, dimensioned from outside with an arrow at its edge.

    Attributes:
        kind: "diameter" or "radius"; the sign (Ø or R) belongs into `text`.
        angle_deg: The direction from the centre in which the text stands.
        reach: How far outside the circle's edge the landing of the text begins, mm.
    """

    layer: Layer
    centre: Point
    radius: float
    kind: Literal["diameter", "radius"]
    angle_deg: float
    text: str
    small: str = ""
    reach: float = 10.0
    height: float = ACTED_ON_LETTERING
    ref: str = ""

    def __post_init__(self) -> None:
        _positive("A circle's radius", self.radius)
        _positive("The height of lettering", self.height)
        _positive("The reach of a leader", self.reach)


@dataclass(frozen=True, slots=True)
class Leader(Compound):
    """A note with an arrow: `tip` touches the thing meant, the text stands on a landing at `elbow`."""

    layer: Layer
    tip: Point
    elbow: Point
    text: str
    small: str = ""
    height: float = ACTED_ON_LETTERING
    ref: str = ""

    def __post_init__(self) -> None:
        _positive("The height of lettering", self.height)
        if math.dist(self.tip, self.elbow) < 1e-9:
            raise ValueError("A leader needs its text somewhere else than its tip.")


@dataclass(frozen=True, slots=True)
class Hatch:
    """Section lining inside closed loops; a loop inside another is a hole (even-odd)."""

    layer: Layer
    loops: tuple[tuple[Point, ...], ...]
    angle_deg: float = 45.0
    spacing: float = 3.0
    ref: str = ""

    def __post_init__(self) -> None:
        _positive("The spacing of hatching", self.spacing)
        _loops(self.loops)


@dataclass(frozen=True, slots=True)
class Fill:
    """A solid area, black or white; a loop inside another is a hole (even-odd)."""

    layer: Layer
    loops: tuple[tuple[Point, ...], ...]
    tone: Tone = "black"
    ref: str = ""

    def __post_init__(self) -> None:
        _loops(self.loops)


@dataclass(frozen=True, slots=True)
class Clip:
    """Marks of which only the part inside `window` shows. For paper only: DXF has no such thing."""

    window: Window
    items: "tuple[Item, ...]"

    def __post_init__(self) -> None:
        left, bottom, right, top = self.window
        if not (left < right and bottom < top):
            raise ValueError(f"A window must be left, bottom, right, top; got {self.window}.")


Drafted: TypeAlias = Dimension | RoundDimension | Leader | Hatch
"""Marks that are drawn as others: see `drafting.exploded`."""

Mark: TypeAlias = Line | Arc | Circle | Path | Text | Fill | Drafted
Item: TypeAlias = Mark | Clip


@dataclass(frozen=True, slots=True)
class Sheet:
    """One page.

    Attributes:
        name: Short name, used for files and messages.
        width: Page width, mm.
        height: Page height, mm.
        items: The marks, in the sheet's own coordinates.
        origin: Those coordinates at the page's lower left corner.
        correction: Factors on x and y with which paper is written, about the page's middle, so that a
            printer that shrinks or stretches comes out true. (1, 1) for everything else.
    """

    name: str
    width: float
    height: float
    items: tuple[Item, ...]
    origin: Point = (0.0, 0.0)
    correction: tuple[float, float] = (1.0, 1.0)

    def __post_init__(self) -> None:
        _positive(f"The width of sheet {self.name}", self.width)
        _positive(f"The height of sheet {self.name}", self.height)
        for factor in self.correction:
            _positive(f"The print correction of sheet {self.name}", factor)


def _positive(what: str, value: float) -> None:
    if not (math.isfinite(value) and value > 0):
        raise ValueError(f"{what} must be above 0, not {value}.")


def _loops(loops: tuple[tuple[Point, ...], ...]) -> None:
    for loop in loops:
        if len(loop) < 3:
            raise ValueError(f"A loop needs three points or more, not {len(loop)}.")
