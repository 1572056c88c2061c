"""The piece of the body that a check is about, cut open where the wood is least: what is left hatched, what is missing black."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import hypot
from typing import TYPE_CHECKING

from scribeline.drawing.face import text_width
from scribeline.drawing.section import Loop, loops_of, upright_section
from scribeline.drawing.sheet import CUT, LETTERING, PHANTOM, Fill, Item, Line, Path, Text
from scribeline.drawing.sheets.cutting import Paper, hatched
from scribeline.features import Bore, Feature, Pocket, balloon, polygon
from scribeline.findings import Finding
from scribeline.layout import Point, Point3
from scribeline.plan import Plan
from scribeline.solid import web_id

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

AROUND = 26.0
"""Wood shown on either side of the place, mm."""
LEVEL = 0.2
"""Two places nearer than this seen from above lie over each other, mm: the section then runs along the body."""
WORDS = 2.5
"""Height of lettering, mm of the body."""
_WIDE = 7.0
"""Width of what is drawn missing, mm."""


@dataclass(frozen=True, slots=True)
class Shortage:
    """Where a check finds too little wood.

    Attributes:
        cut: the place on the cut that the wood is measured from.
        far: the place it is measured to: on another cut, or on a face.
        mm: the wood between them; negative where the cut has gone past it.
        needed: what the check asks for, mm.
        between: ids of the cut and, of wood between two, of the other.
    """

    cut: Point3
    far: Point3
    mm: float
    needed: float
    between: tuple[str, ...]

    def of(self, plan: Plan) -> tuple[Feature, ...]:
        """The cuts it is between: one, or two."""
        cuts = {each.id: each for each in plan.features}
        return tuple(cuts[each] for each in self.between if each in cuts)


def shortage(plan: Plan, finding: Finding) -> Shortage | None:
    """Where a check finds too little wood; None where it is about something else."""
    if finding.value is None or finding.limit is None:
        return None
    for web in plan.webs:
        if web.places is not None and finding.of == web_id(web.a, web.b):
            return Shortage(*web.places, finding.value, finding.limit, (web.a, web.b))
    for outside in plan.outside:
        for end, places in (("edge", outside.edge_places), ("opposite", outside.opposite_places)):
            if places is not None and finding.of == f"{outside.feature}.to-{end}":
                return Shortage(*places, finding.value, finding.limit, (outside.feature,))
    return None


def picture_of_wood_left(plan: Plan, finding: Finding) -> tuple[Item, ...]:
    """The section through the place at full size; nothing where the check is about no such place."""
    short = shortage(plan, finding)
    if short is None:
        return ()
    layout = plan.layout
    named = [each for each in plan.features if each.id in finding.features]
    at, heading, reach = _plane(short, named)
    wood = upright_section(layout, named, at, heading, reach)
    paper = Paper(0.0, 0.0, 1.0, *reach)
    cut, far = ((_along(place, at, heading), place.z) for place in (short.cut, short.far))
    items: list[Item] = [*hatched(wood, paper, layout.body, (at, heading)), *_missing(short, cut, far, paper)]
    items.append(Line(CUT, paper.at(*cut), paper.at(*far)))
    every = tuple(plan.features)
    for each, loops in zip(every, loops_of(layout, every, at, heading, reach), strict=True):
        if each.id in finding.features:
            items += _named(each, loops, paper)
        else:
            items += (Path(PHANTOM, paper.loop(loop), closed=True) for loop in _shown(loops, paper))
    return (*items, *_faces(wood, paper))


def _plane(short: Shortage, named: list[Feature]) -> tuple[Point, Point, tuple[float, float]]:
    """Where the body is cut open: a place, a direction, and from where to where it is looked at.

    Through both places of wood between walls; of a floor's wood from its deepest place to the nearest wall.
    """
    across = hypot(short.far.x - short.cut.x, short.far.y - short.cut.y)
    at = Point(short.cut.x, short.cut.y)
    if across >= LEVEL:
        heading = Point((short.far.x - at.x) / across, (short.far.y - at.y) / across)
        return at, heading, (-AROUND, across + AROUND)
    pocket = next((each for each in named if isinstance(each, Pocket)), None)
    if pocket is None:
        return at, Point(1.0, 0.0), (-AROUND, AROUND)
    import shapely

    wall = polygon(pocket.outline).exterior
    there = wall.interpolate(wall.project(shapely.Point(at)))
    away = hypot(there.x - at.x, there.y - at.y)
    heading = Point(1.0, 0.0) if away < LEVEL else Point((there.x - at.x) / away, (there.y - at.y) / away)
    return at, heading, (-AROUND / 2, away + AROUND / 2)


def _along(place: Point3, at: Point, heading: Point) -> float:
    return (place.x - at.x) * heading.x + (place.y - at.y) * heading.y


def _missing(
    short: Shortage, cut: tuple[float, float], far: tuple[float, float], paper: Paper
) -> tuple[Item, ...]:
    """What the wood is short of, where it would have to be: beyond what there is."""
    lack = short.needed - max(short.mm, 0.0)
    (u, z), (s, t) = cut, far
    long = hypot(s - u, t - z)
    if lack <= 0 or long < 1e-9:
        return ()
    way = 1.0 if short.mm > 0 else -1.0
    along = (way * (s - u) / long, way * (t - z) / long)
    start = far if short.mm > 0 else cut
    aside = (-along[1] * _WIDE / 2, along[0] * _WIDE / 2)
    corners = [
        (start[0] + k * along[0] * lack + n * aside[0], start[1] + k * along[1] * lack + n * aside[1])
        for k, n in ((0, -1), (1, -1), (1, 1), (0, 1))
    ]
    return (Fill(LETTERING, (paper.loop(corners),), "black"),)


def _shown(loops: Iterable[Loop], paper: Paper) -> Iterator[Loop]:
    """What of some areas lies between the break lines."""
    import shapely

    for loop in loops:
        area = shapely.intersection(shapely.Polygon(loop), shapely.box(paper.low, -1e3, paper.high, 1e3))
        if area.geom_type == "Polygon" and not area.is_empty:
            yield tuple((float(u), float(z)) for u, z in area.exterior.coords[:-1])


def _named(cut: Feature, loops: Iterable[Loop], paper: Paper) -> tuple[Item, ...]:
    """A cut's name in the air it leaves, where there is room for it."""
    boxes = [
        (min(us), min(zs), max(us), max(zs))
        for us, zs in (zip(*loop, strict=True) for loop in _shown(loops, paper))
    ]
    if not boxes:
        return ()
    left, low, right, high = max(boxes, key=lambda box: (box[2] - box[0]) * (box[3] - box[1]))
    words = balloon(cut.id) if isinstance(cut, Bore) else cut.role
    if text_width(words, WORDS, bold=True) > right - left or high - low < WORDS:
        return ()
    u, v = paper.at((left + right) / 2, (low + high) / 2)
    at = (u, v - WORDS / 2)
    return (Text(LETTERING, at, words, WORDS, "middle", bold=True, ref=cut.id),)


def _faces(wood: BaseGeometry, paper: Paper) -> tuple[Item, ...]:
    """Which face is which."""
    if wood.is_empty:
        return ()
    _, low, _, high = wood.bounds
    return (
        Text(LETTERING, (paper.at(paper.low, high)[0], paper.at(0.0, high)[1] + 1.5), "top", WORDS),
        Text(
            LETTERING,
            (paper.at(paper.low, low)[0], paper.at(0.0, low)[1] - 1.5 - WORDS),
            "back",
            WORDS,
        ),
    )
