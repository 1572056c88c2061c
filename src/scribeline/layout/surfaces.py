"""The body as wood: its layers, and the surfaces it is carved to.

A body is the wood inside its outline, between its back at −thickness and its top, less what bevels and roundovers
take away. Its height at a place is the least of what each of those leaves:

* a flat top lies at 0; a stepped one at the height of the last of its areas that holds the place, else at 0;
* an arched top stated by a profile lies at the profile's height for the place's distance from the edge, straight
  between the rows; one stated by contour lines is made of flat triangles stretched between each line and the next;
* a bevel is a plane over the part of the body that its line parts off;
* a roundover of radius r lowers a place at distance d < r from the edge by r − √(r² − (r − d)²).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import cos, hypot, inf, sin, sqrt
from typing import TYPE_CHECKING

from scribeline.job import Bevel as BevelStatement
from scribeline.job import Body as BodyStatement
from scribeline.layout.points import Point, Point3, Ring
from scribeline.tables import Timber

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from shapely import Polygon

    Floats = NDArray[np.float64]

SPACING = 3.0
"""Contour lines are stretched between points no further apart than this, mm."""


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer of wood, all through the body; or, of a neck that runs through it, the core or the wings beside that.

    Attributes:
        name: "" where the body is one piece.
        timber: what it is of.
        high: height of its upper face, mm; infinite for the topmost, which takes what rises above the bridge as well.
        low: of its lower face, mm.
        grain: the grain's direction seen from above; None where the job does not say.
        kg_m3: density of the builder's own board, weighed; None for the mean of its kind.
        core: the core of a neck that runs through, seen from above; None in any other body.
        beside: whether it is what lies beside that core, and not the core itself.
    """

    name: str
    timber: Timber
    high: float
    low: float
    grain: Point | None = None
    kg_m3: float | None = None
    core: Ring | None = None
    beside: bool = False

    def holds(self, place: Point, z: float) -> bool:
        """Whether a place inside the wood is in it, or under it."""
        return z >= self.low and (self.core is None or _holds(self.core, place) != self.beside)


@dataclass(frozen=True, slots=True)
class Area:
    """A level part of a stepped top."""

    name: str
    outline: Ring
    height: float


@dataclass(frozen=True, slots=True)
class Contour:
    """A line of one height on an arched top."""

    outline: Ring
    height: float


@dataclass(frozen=True, slots=True)
class Bevel:
    """A plane carved over the edge.

    Attributes:
        name: in the job.
        face: the face it begins on.
        at: a place on the plane, on the line where it begins, mm.
        outward: unit vector square to the plane, out of the wood.
        parts: the parts of the outline beyond its line, which it covers.
    """

    name: str
    face: str
    at: Point3
    outward: Point3
    parts: tuple[Ring, ...]

    def height(self, place: Point) -> float:
        """Height of the plane at a place, carried on without end, mm."""
        n, at = self.outward, self.at
        return at.z - (n.x * (place.x - at.x) + n.y * (place.y - at.y)) / n.z

    def covers(self, place: Point) -> bool:
        """Whether the place lies beyond its line."""
        return any(_holds(part, place) for part in self.parts)


@dataclass(frozen=True, slots=True)
class BodyForm:
    """The body without its cuts: see the module.

    Attributes:
        outline: its edge.
        thickness: from the top at the bridge (z = 0) to the back, mm.
        layers: from the top down; one or more. Of a neck that runs through, the core and the wings.
        areas: of a stepped top, a later one over an earlier.
        profile: of an arched top: (distance from the edge, height), mm.
        contours: of an arched top: lines from the outline inwards.
        bevels: planes over the edge.
        round_top: radius at the top, mm; 0 for a square edge.
        round_back: at the back.
    """

    outline: Ring
    thickness: float
    layers: tuple[Layer, ...]
    areas: tuple[Area, ...] = ()
    profile: tuple[tuple[float, float], ...] = ()
    contours: tuple[Contour, ...] = ()
    bevels: tuple[Bevel, ...] = ()
    round_top: float = 0.0
    round_back: float = 0.0

    @property
    def is_plain(self) -> bool:
        """Whether both faces are flat to the very edge."""
        return not (
            self.areas or self.profile or self.contours or self.bevels or self.round_top or self.round_back
        )

    def is_level(self, face: str) -> bool:
        """Whether a face is flat to the very edge."""
        if any(bevel.face == face for bevel in self.bevels):
            return False
        if face == "back":
            return not self.round_back
        return not (self.areas or self.profile or self.contours or self.round_top)

    @property
    def highest(self) -> float:
        """Height of the highest wood, mm; 0 unless something rises above the top at the bridge."""
        return max(0.0, *self._heights()) if self.areas else max(self._heights(), default=0.0)

    @property
    def lowest_top(self) -> float:
        """The least height of the top, bevels and roundovers aside, mm."""
        return min(0.0, *self._heights()) if self.areas else min(self._heights(), default=0.0)

    def _heights(self) -> list[float]:
        return [
            *(area.height for area in self.areas),
            *(height for _, height in self.profile),
            *(line.height for line in self.contours),
        ]

    def top_at(self, place: Point) -> float:
        """Height of the top where it is cut from, mm; outside the outline, that at its edge."""
        if self.is_plain:
            return 0.0
        height = self._top(place)
        for bevel in self.bevels:
            if bevel.face == "top" and bevel.covers(place):
                height = min(height, bevel.height(place))
        return height - (_dropped(self.round_top, self.from_edge(place)) if self.round_top else 0.0)

    def back_at(self, place: Point) -> float:
        """Height of the back, mm."""
        height = -self.thickness
        for bevel in self.bevels:
            if bevel.face == "back" and bevel.covers(place):
                height = max(height, bevel.height(place))
        return height + (_dropped(self.round_back, self.from_edge(place)) if self.round_back else 0.0)

    def _top(self, place: Point) -> float:
        if self.profile:
            return along_profile(self.profile, self.from_edge(place))
        if self.contours:
            return _stretched(self.contours).at(place)
        return next((a.height for a in reversed(self.areas) if _holds(a.outline, place)), 0.0)

    def from_edge(self, place: Point) -> float:
        """Distance in from the edge, mm; 0 outside the outline."""
        import shapely

        if not _holds(self.outline, place):
            return 0.0
        return float(shapely.distance(_region(self.outline).exterior, shapely.Point(place)))

    def timber_at(self, place: Point, z: float) -> Timber:
        """The timber at a place inside the wood; a glue line counts to the layer above it."""
        return self.layer_at(place, z).timber

    def layer_at(self, place: Point, z: float) -> Layer:
        """The layer at a place; a glue line counts to the layer above it, and an edge of a core to the wings."""
        found = [layer for layer in self.layers if layer.holds(place, inf)]
        return next((layer for layer in found if layer.holds(place, z)), found[-1])

    @property
    def core(self) -> Ring | None:
        """The core of a neck that runs through, seen from above; None in any other body."""
        return self.layers[0].core

    @property
    def glue_lines(self) -> tuple[float, ...]:
        """Heights at which one layer meets the next, from the top down, mm."""
        return () if self.core is not None else tuple(layer.low for layer in self.layers[:-1])


def along_profile(profile: Sequence[tuple[float, float]], inset: float) -> float:
    """Height at a distance from the edge: straight between the rows, level beyond the last."""
    before = profile[0]
    for row in profile[1:]:
        if inset <= row[0]:
            share = (inset - before[0]) / (row[0] - before[0])
            return before[1] + share * (row[1] - before[1])
        before = row
    return before[1]


def _dropped(radius: float, inset: float) -> float:
    """By how much a roundover lowers a face at a distance from the edge, mm."""
    short = max(0.0, radius - inset)
    return radius - sqrt(radius**2 - short**2)


def body_form(body: BodyStatement, outline: Ring, core: tuple[Ring, Timber] | None = None) -> BodyForm:
    """The body of a right-handed instrument, from what the job states.

    Args:
        body: as stated.
        outline: its edge, mm.
        core: of a neck that runs through, seen from above, and its timber.
    """
    top = body.top
    contours: tuple[Contour, ...] = ()
    if top.edge_height is not None:
        lines = ((outline, top.edge_height), *((_ring(c.outline), c.height) for c in top.contours))
        contours = tuple(Contour(ring, height) for ring, height in lines)
    return BodyForm(
        outline=outline,
        thickness=body.thickness.mm,
        layers=tuple(_layers(body) if core is None else _core_and_wings(body, *core)),
        areas=tuple(Area(area.name, _ring(area.outline), area.height) for area in top.areas),
        profile=top.profile,
        contours=contours,
        bevels=tuple(_bevel(bevel, outline, body.thickness.mm) for bevel in body.bevels),
        round_top=body.roundover.top,
        round_back=body.roundover.back,
    )


def _layers(body: BodyStatement) -> Iterator[Layer]:
    """The layers as stated, the last one down to the back: their sum may miss the thickness by the ± of both."""
    high, below = inf, 0.0
    for layer in body.layers[:-1]:
        below -= layer.thickness.mm
        yield Layer(layer.name, layer.timber, high, below, _grain(layer.grain), layer.kg_m3)
        high = below
    last = body.layers[-1] if body.layers else None
    if last is None:
        yield Layer("", body.timber, high, -body.thickness.mm)
    else:
        yield Layer(last.name, last.timber, high, -body.thickness.mm, _grain(last.grain), last.kg_m3)


def _core_and_wings(body: BodyStatement, core: Ring, timber: Timber) -> Iterator[Layer]:
    """The pieces of a body whose neck runs through it."""
    low = -body.thickness.mm
    yield Layer("core", timber, inf, low, core=core)
    yield Layer("wings", body.timber, inf, low, core=core, beside=True)


def _grain(turn: float | None) -> Point | None:
    return None if turn is None else Point(cos(turn), sin(turn))


def _ring(corners: Sequence[tuple[float, float]]) -> Ring:
    points = [Point(x, y) for x, y in corners]
    twice = sum(a.x * b.y - b.x * a.y for a, b in zip(points, points[1:] + points[:1], strict=True))
    return Ring(points if twice > 0 else reversed(points))


def _bevel(bevel: BevelStatement, outline: Ring, thickness: float) -> Bevel:
    start, end = (Point(*place) for place in bevel.line)
    sides = [_beyond(outline, *line) for line in ((start, end), (end, start))]
    areas = [sum(part.area for part in parts) for parts in sides]
    # A line that misses the body parts nothing off: the bevel is then in the air, and a finding says so.
    turned = areas[1] > 0 and (areas[0] == 0 or areas[1] < areas[0])
    parts = sides[int(turned)]
    if turned:
        start, end = end, start
    away = _to_the_right(start, end)
    if bevel.angle is not None:
        angle = bevel.angle
        slope = (sin(angle), cos(angle))
    else:
        assert bevel.depth is not None
        rings = [part.exterior.coords for part in parts]
        reach = max(
            (away.x * (x - start.x) + away.y * (y - start.y) for ring in rings for x, y in ring), default=0.0
        )
        length = hypot(bevel.depth, reach)
        slope = (bevel.depth / length, reach / length) if length else (0.0, 1.0)
    up = 1.0 if bevel.face == "top" else -1.0
    return Bevel(
        name=bevel.name,
        face=bevel.face,
        at=Point3(start.x, start.y, 0.0 if bevel.face == "top" else -thickness),
        outward=Point3(away.x * slope[0], away.y * slope[0], up * slope[1]),
        parts=tuple(_ring([(float(x), float(y)) for x, y in part.exterior.coords[:-1]]) for part in parts),
    )


def _to_the_right(start: Point, end: Point) -> Point:
    length = hypot(end.x - start.x, end.y - start.y)
    return Point((end.y - start.y) / length, -(end.x - start.x) / length)


def _beyond(outline: Ring, start: Point, end: Point) -> list[Polygon]:
    """The parts of an outline to the right of a line that the stretch between its two points borders."""
    import shapely

    along = Point((end.x - start.x), (end.y - start.y))
    length, away = hypot(*along), _to_the_right(start, end)
    far = 4000.0
    ends = [
        Point(start.x + sign * far * along.x / length, start.y + sign * far * along.y / length)
        for sign in (-1, 1)
    ]
    half = shapely.Polygon([*ends, *(Point(p.x + far * away.x, p.y + far * away.y) for p in reversed(ends))])
    stretch = shapely.LineString([start, end])
    # Repaired first: a drawing may cross itself, which other rules tell.
    kept = shapely.intersection(shapely.make_valid(_region(outline)), half)
    parts = [part for part in shapely.get_parts(kept) if part.geom_type == "Polygon" and part.area > 0]
    return [p for p in parts if shapely.intersection(p.buffer(1e-6), stretch).length > 0.01]


@lru_cache(maxsize=64)
def _region(ring: Ring) -> Polygon:
    import shapely

    region = shapely.Polygon(ring)
    shapely.prepare(region)
    return region


def _holds(ring: Ring, place: Point) -> bool:
    import shapely

    return bool(shapely.intersects_xy(_region(ring), *place))


class Stretched:
    """The flat triangles between contour lines.

    Between one line and the next the plan is cut into triangles on the lines' points by the constrained Delaunay
    rule; the innermost line encloses a level.

    Attributes:
        triangles: corners, counter-clockwise seen from above, (n, 3, 3), mm.
    """

    def __init__(self, contours: Sequence[Contour]) -> None:
        import numpy as np
        import shapely

        regions = [shapely.segmentize(shapely.Polygon(line.outline), SPACING) for line in contours]
        heights = [line.height for line in contours]
        parts = []
        for k, region in enumerate(regions):
            inner = regions[k + 1] if k + 1 < len(regions) else None
            strip = (
                region if inner is None else shapely.Polygon(region.exterior, [inner.exterior.coords[::-1]])
            )
            on_inner = set() if inner is None else set(map(tuple, shapely.get_coordinates(inner).tolist()))
            pieces = shapely.get_parts(shapely.constrained_delaunay_triangles(strip))
            flat = shapely.get_coordinates(shapely.orient_polygons(pieces)).reshape(-1, 4, 2)[:, :3]
            z = np.array(
                [[heights[k + 1] if tuple(p) in on_inner else heights[k] for p in t] for t in flat.tolist()]
            ).reshape(-1, 3, 1)
            parts.append(np.concatenate([flat, z], axis=2))
        self.triangles: Floats = np.concatenate(parts)
        self.edge = heights[0]
        self._tree = shapely.STRtree(shapely.polygons(self.triangles[:, :, :2]))

    def at(self, place: Point) -> float:
        """Height at a place; outside the outermost line, that line's."""
        import numpy as np
        import shapely

        found = self._tree.query(shapely.Point(place), predicate="intersects")
        if len(found) == 0:
            return self.edge
        a, b, c = self.triangles[found[0]]
        shares = np.linalg.solve(np.column_stack([b[:2] - a[:2], c[:2] - a[:2]]), np.array(place) - a[:2])
        return float(a[2] + shares @ [b[2] - a[2], c[2] - a[2]])


@lru_cache(maxsize=8)
def _stretched(contours: tuple[Contour, ...]) -> Stretched:
    return Stretched(contours)


def stretched(form: BodyForm) -> Stretched:
    """The flat triangles of an arched top that is stated by contour lines."""
    return _stretched(form.contours)
