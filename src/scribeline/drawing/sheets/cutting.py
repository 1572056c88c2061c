"""What every section is drawn with: the way from its plane to the page, hatched wood, and break lines."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from scribeline.drawing.sheet import CUT, HATCHING, OUTLINE, THIN, Hatch, Item, Line, Path, Point
from scribeline.layout import BodyForm, Point3

if TYPE_CHECKING:
    from shapely import Polygon
    from shapely.geometry.base import BaseGeometry

    from scribeline.drawing.section import Section
    from scribeline.drawing.sheets.office import Office
    from scribeline.solid.body import Body

_ANGLES = (45.0, 135.0)
_SPACING = (3.0, 2.2, 4.0)
"""Neighbouring layers are hatched across each other (ISO 128-3), and each pair at a pitch of its own."""


@dataclass(frozen=True, slots=True)
class Paper:
    """From the section's plane to the page.

    Attributes:
        u0: where `low` stands on the page, mm.
        v0: where the height `z0` stands, mm.
        scale: of the drawing.
        low: where the section is broken off at the left, in its plane.
        high: and at the right.
        z0: the height that stands at `v0`, mm.
        turned: whether the back lies up.
    """

    u0: float
    v0: float
    scale: float
    low: float
    high: float
    z0: float = 0.0
    turned: bool = False

    def at(self, x: float, z: float) -> Point:
        """Where a place of the plane lies on the page."""
        up = (self.z0 - z) if self.turned else (z - self.z0)
        return (self.u0 + (x - self.low) * self.scale, self.v0 + up * self.scale)

    def loop(self, loop: Sequence[Point]) -> tuple[Point, ...]:
        """The same of many places."""
        return tuple(self.at(*p) for p in loop)


_ALONG = ((0.0, 0.0), (1.0, 0.0))


def hatched(
    wood: BaseGeometry, paper: Paper, body: BodyForm, line: tuple[Point, Point] = _ALONG
) -> list[Item]:
    """The wood between two break lines: hatched layer by layer, its edges, and the glue lines.

    Args:
        wood: regions of the plane.
        paper: where it goes.
        body: its layers.
        line: in which the plane meets the top: where its first coordinate is 0, and its direction of length 1.
    """
    import shapely

    items: list[Item] = []
    shown = shapely.intersection(wood, shapely.box(paper.low, -1e3, paper.high, 1e3))
    core = _core_along(body, line)
    for n, layer in enumerate(body.layers):
        band = shapely.box(paper.low, max(layer.low, -1e3), paper.high, min(layer.high, 1e3))
        if layer.core is not None:
            band = shapely.difference(band, core) if layer.beside else shapely.intersection(band, core)
        for piece in _areas(shapely.intersection(shown, band)):
            loops = tuple(paper.loop(loop) for loop in _loops(piece))
            items.append(Hatch(HATCHING, loops, _ANGLES[n % 2], _SPACING[n // 2 % 3]))
    for piece in _areas(shown):
        for loop in _loops(piece):
            items += (Path(CUT, paper.loop(run)) for run in _runs(loop, paper))
    levels = [shapely.LineString([(paper.low, z), (paper.high, z)]) for z in body.glue_lines]
    if not core.is_empty:
        low, bottom, high, top = core.bounds
        levels += [shapely.LineString([(x, bottom), (x, top)]) for x in (low, high)]
    for level in levels:
        for part in shapely.get_parts(shapely.intersection(shown, level)):
            if part.geom_type == "LineString" and part.length > 0:
                (a, b) = (paper.at(float(x), float(z)) for x, z in part.coords)
                items.append(Line(OUTLINE, a, b))
    return items


def _core_along(body: BodyForm, line: tuple[Point, Point]) -> BaseGeometry:
    """What of an upright plane lies in the core of a neck that runs through; nothing where there is none."""
    import shapely

    if body.core is None:
        return shapely.Polygon()
    (x, y), (dx, dy) = line
    far = shapely.LineString([(x - 2e3 * dx, y - 2e3 * dy), (x + 2e3 * dx, y + 2e3 * dy)])
    met = shapely.intersection(far, shapely.Polygon(body.core))
    if met.is_empty or met.length == 0:
        return shapely.Polygon()
    ends = sorted((px - x) * dx + (py - y) * dy for px, py in met.coords)
    return shapely.box(ends[0], -1e3, ends[-1], 1e3)


def wood_along(office: Office, cut: Section) -> BaseGeometry:
    """The wood that a section along the strings meets: of a carved body, from the finished solid."""
    import shapely

    layout = office.plan.layout
    if layout.body.is_plain:
        return shapely.union_all([shapely.Polygon(outer, holes) for outer, *holes in cut.wood])
    return wood_in(office.body, (Point3(0.0, cut.y, 0.0), Point3(0.0, -1.0, 0.0), Point3(1.0, 0.0, 0.0)))


def wood_in(body: Body, plane: tuple[Point3, Point3, Point3]) -> BaseGeometry:
    """The wood of a body in a plane, as (along, height), the height the instrument's.

    Args:
        body: the finished body.
        plane: an upright one: a place on it, the direction it is seen from, the direction drawn along.
    """
    import shapely

    rise = plane[0].z
    whole: BaseGeometry = shapely.Polygon()
    for ring in body.section(*plane).rings:
        loop = shapely.Polygon([(along, up + rise) for along, up in ring.tolist()])
        # A ring round wood adds it, a ring round a hole in it takes it away again.
        whole = shapely.symmetric_difference(whole, shapely.make_valid(loop))
    return whole


def break_line(paper: Paper, x: float, thickness: float) -> Path:
    """A break line with a zigzag in its middle (ISO 128)."""
    u, top = paper.at(x, 3.0)
    low, v = paper.at(x, -thickness - 3.0)[1], paper.at(x, -thickness / 2)[1]
    return Path(THIN, ((u, top), (u, v + 3), (u - 2, v + 1), (u + 2, v - 1), (u, v - 3), (u, low)))


def scale_words(scale: float) -> str:
    """As the title block says it."""
    if scale < 1.0:
        return f"1:{1 / scale:g}"
    return "1:1 (full size)" if scale == 1.0 else f"{scale:g}:1"


def _areas(geometry: BaseGeometry) -> list[Polygon]:
    import shapely

    return [p for p in shapely.get_parts(geometry) if p.geom_type == "Polygon" and p.area > 1e-6]


def _loops(piece: Polygon) -> list[list[Point]]:
    import shapely

    return [
        [(float(x), float(z)) for x, z in shapely.get_coordinates(ring)[:-1]]
        for ring in (piece.exterior, *piece.interiors)
    ]


def _runs(loop: Sequence[Point], paper: Paper) -> Iterator[list[Point]]:
    """The edges of a piece, without those on the break lines."""

    def on_break(a: Point, b: Point) -> bool:
        return any(abs(a[0] - x) < 1e-6 and abs(b[0] - x) < 1e-6 for x in (paper.low, paper.high))

    edges = list(zip(loop, [*loop[1:], loop[0]], strict=True))
    first = next((n for n, edge in enumerate(edges) if on_break(*edge)), None)
    if first is None:
        yield [*loop, loop[0]]
        return
    run: list[Point] = []
    for a, b in [*edges[first + 1 :], *edges[: first + 1]]:
        if on_break(a, b):
            if run:
                yield run
            run = []
        else:
            run = [*(run or [a]), b]
    if run:
        yield run
