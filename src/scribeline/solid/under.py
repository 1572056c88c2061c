"""Wood straight ahead of a bit where it ends, with what is cut by then taken out.

Along a line parallel to the bit's axis every earlier cut is open over a stretch, and the body ends where the line
leaves it. What lies between the bit's end and the next opening is wood. Under a bit square to the faces the least
over its whole width is exact, for the shapes it can meet are prisms and round holes; ahead of a slanting one it is
the least over its middle line and lines round its rim.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import cos, hypot, inf, pi, sin, sqrt
from typing import TYPE_CHECKING

import numpy as np

from scribeline.features import Bore, Feature, Pocket, Step, floor_z, polygon
from scribeline.layout import Layout, Point, Point3

if TYPE_CHECKING:
    from shapely import LineString
    from shapely import Point as ShapelyPoint
    from shapely.geometry.base import BaseGeometry

Stretch = tuple[float, float]
"""From where to where along a line, mm from the hole's start."""
Opening = tuple[float, float, str]
"""The same with the cut that is open there."""

_ROUND = 24
"""Lines round a rim: between two of them it bulges out by less than a hundredth of its radius."""
_HAIR = 1e-6
_CONE_SLICES = 8
"""A point's cone across a slanting line counts as this many discs."""
_STRIDE = 4.0
"""A slanting line is followed in steps of this length until it has left the body, mm."""
_EVERY = tuple(n * _STRIDE for n in range(8))
"""Where its first place inside the wood is looked for: a hollow edge lets the hole start outside, mm."""
_FARTHEST = 1000.0
"""Longer than any body, mm."""
_MIDDLE = Point(0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Under:
    """Wood left ahead of a bit along its axis, mm; None where it comes out into the open.

    Attributes:
        full: the least ahead of the full diameter; of a pocket, under its floor.
        point: ahead of the bit's point.
        beyond: id of the cut that lies ahead of the point, or that it has come into; "" for the far side of the body.
        open_at: how far along the axis that begins, mm; None for a pocket.
    """

    full: float | None
    point: float | None = None
    beyond: str = ""
    open_at: float | None = None


def wood_under(layout: Layout, bore: Bore, step: Step, made: Iterable[Feature]) -> Under:
    """Wood straight ahead of one bit of a hole, once it has cut.

    Args:
        layout: for the body's outline and faces.
        bore: the hole.
        step: the diameter just cut.
        made: what is cut before it; a hole begun counts with the diameters it has by then.
    """
    near = [feature for feature in made if _comes_near(bore, step, feature)]
    middle = _Line(layout, bore, near)
    point = middle.wood_after(step.point_reaches)
    if middle.wood_after(step.depth) is None:
        return Under(None, point, *middle.ahead(step.point_reaches))
    ends = [middle.end]
    lines = [middle]
    if not (bore.is_upright and layout.body.is_plain):
        for off in _rim(step.diameter / 2 - _HAIR):
            lines.append(_Line(layout, bore, near, off, end=None if bore.is_upright else middle.end))
            ends.append(lines[-1].end)
    # What an upright bit passed on its way lies beside it, not ahead.
    passed = step.depth if bore.is_upright else -inf
    openings = [low for line in lines for low, high, _ in line.open if high > passed]
    if bore.is_upright:
        openings += [_opens(layout, bore, step.diameter / 2, feature) for feature in near]
    # What is open from the bit's own face on is not under it: another pocket's side, a wider diameter.
    openings = [low for low in openings if low > _HAIR]
    full = min(openings + ends) - step.depth
    return Under(full if full > _HAIR else None, point, *middle.ahead(step.point_reaches))


def wood_under_floor(layout: Layout, pocket: Pocket, made: Iterable[Feature]) -> Under:
    """The least wood under a pocket's floor, once it is routed.

    Args:
        layout: for the body's faces.
        pocket: the pocket.
        made: what is cut before it.
    """
    import shapely

    made = tuple(made)
    area = polygon(pocket.outline, pocket.islands)
    if pocket.slope is not None:
        area = shapely.intersection(area, polygon(layout.outline))
    for other in made:
        # Where a deeper pocket of the same face lies in it, this one has no floor.
        if isinstance(other, Pocket) and other.face == pocket.face and other.depth > pocket.depth:
            area = shapely.difference(area, polygon(other.outline, other.islands))
    floor = _floor_in(layout, pocket, area)
    down = -1.0 if pocket.face == "top" else 1.0
    face = layout.back_at if pocket.face == "top" else layout.top_at
    if layout.body.is_plain:
        least, beyond = (face(pocket.outline[0]) - floor) * down, ""
    else:
        corners = pocket.outline if pocket.slope is None else _corners(area)
        least, beyond = min(((face(p) - floor_z(layout, pocket, p.x)) * down, "") for p in corners)
    for feature in made:
        if feature.face == pocket.face:
            continue
        if isinstance(feature, Pocket):
            there = polygon(feature.outline, feature.islands)
            if shapely.relate_pattern(area, there, "T********"):
                shared = area if pocket.slope is feature.slope else shapely.intersection(area, there)
                own, other_floor = (_floor_in(layout, each, shared) for each in (pocket, feature))
                least, beyond = min((least, beyond), ((other_floor - own) * down, feature.id))
        elif feature.is_upright:
            off = float(shapely.distance(area, shapely.Point(feature.at.x, feature.at.y)))
            for step in feature.steps:
                under = (
                    floor
                    if pocket.slope is None
                    else _floor_over(layout, pocket, feature.at.x, step.diameter)
                )
                end = (feature.along(step.depth + _cone(step, off)).z - under) * down
                # A hole that comes out in the floor takes its wood away; it leaves none to be thin.
                if off < step.diameter / 2 and end > _HAIR:
                    least, beyond = min((least, beyond), (end, feature.id))
    return Under(max(0.0, least) if least > -_HAIR else None, beyond=beyond)


def _corners(area: BaseGeometry) -> list[Point]:
    """The corners of a region."""
    import shapely

    return [Point(*place) for place in shapely.get_coordinates(area).tolist()]


def _floor_in(layout: Layout, pocket: Pocket, area: BaseGeometry) -> float:
    """Height of a pocket's floor within a region, mm: of one that leans the lowest, which is nearest the back."""
    if pocket.slope is None or area.is_empty:
        return floor_z(layout, pocket)
    left, _, right, _ = area.bounds
    return floor_z(layout, pocket, left if pocket.slope.angle > 0 else right)


def _floor_over(layout: Layout, pocket: Pocket, x: float, width: float) -> float:
    """Height of a floor over a round hole, mm: of one that leans the lowest within the hole's width."""
    lower = 0.0 if pocket.slope is None else abs(pocket.slope.rise) * width / 2
    return floor_z(layout, pocket, x) - lower


def floors(layout: Layout, features: Iterable[Feature]) -> dict[str, float | None]:
    """The least wood under each cut in the finished body, by its id, mm; None where it comes out into the open.

    Of a hole under its full diameter or its point, whichever leaves less.
    """
    every = tuple(features)
    found: dict[str, float | None] = {}
    near = neighbours(every)
    for feature in every:
        others = near[feature.id]
        if isinstance(feature, Pocket):
            found[feature.id] = wood_under_floor(layout, feature, others).full
            continue
        under = wood_under(layout, feature, feature.deepest, others)
        left = [wood for wood in (under.full, under.point) if wood is not None]
        found[feature.id] = min(left) if len(left) == 2 else None
    return found


def neighbours(features: Iterable[Feature]) -> dict[str, tuple[Feature, ...]]:
    """For each cut, by its id, the others that it or what lies straight ahead of it may meet seen from above.

    What is not among them can be left out of what `wood_under` and `wood_under_floor` are given: thousands of holes need
    not each be held against all others.
    """
    import shapely

    every = tuple(features)
    if not every:
        return {}
    tree = shapely.STRtree([shapely.box(*_covered(each, farthest=None)) for each in every])
    found = {}
    for number, each in enumerate(every):
        met = sorted(tree.query(shapely.box(*_covered(each, farthest=_FARTHEST))).tolist())
        found[each.id] = tuple(every[n] for n in met if n != number)
    return found


def _covered(feature: Feature, *, farthest: float | None) -> tuple[float, float, float, float]:
    """The rectangle a cut covers seen from above, a hole as deep as it goes or carried on to a depth."""
    if isinstance(feature, Pocket):
        bounds: tuple[float, float, float, float] = polygon(feature.outline, feature.islands).bounds
        return bounds
    wide = feature.widest
    line = _seen(feature, -feature.lead - wide, feature.depth_stop if farthest is None else farthest)
    left, low, right, high = line.bounds
    return left - wide, low - wide, right + wide, high + wide


def _rim(radius: float) -> Iterator[Point]:
    for n in range(_ROUND):
        turn = 2 * pi * n / _ROUND
        yield Point(radius * cos(turn), radius * sin(turn))


def _opens(layout: Layout, bore: Bore, radius: float, feature: Feature) -> float:
    """How far along an upright bit of a radius a cut it meets first opens, mm; infinite for a slanting cut."""
    if isinstance(feature, Pocket):
        if feature.face == bore.face:
            return -inf
        return (_floor_over(layout, feature, bore.at.x, 2 * radius) - bore.at.z) / bore.axis.z
    if not feature.is_upright:
        return inf
    if feature.face == bore.face:
        return -inf
    nearest = max(0.0, hypot(feature.at.x - bore.at.x, feature.at.y - bore.at.y) - radius)
    return min(
        (feature.along(reach).z - bore.at.z) / bore.axis.z
        for step in feature.steps
        if nearest < step.diameter / 2
        for reach in (step.depth, step.depth + _cone(step, nearest))
    )


def _cone(step: Step, off: float) -> float:
    """How far a bit's point reaches beyond its full diameter at a distance from the axis, mm."""
    base = step.point_width / 2
    return step.bit.point * (1 - off / base) if off < base else 0.0


def _comes_near(bore: Bore, step: Step, feature: Feature) -> bool:
    """Whether the bit, or a line straight ahead of it, can meet a cut, seen from above."""
    import shapely

    reach = step.diameter / 2
    if bore.is_upright and not isinstance(feature, Pocket) and feature.is_upright:
        return hypot(feature.at.x - bore.at.x, feature.at.y - bore.at.y) < feature.widest / 2 + reach
    if isinstance(feature, Pocket):
        there = polygon(feature.outline, feature.islands)
    else:
        reach += feature.widest / 2
        there = _seen(feature, -feature.lead - feature.widest, feature.depth_stop)
    return bool(shapely.dwithin(there, _seen(bore, 0.0, _FARTHEST), reach))


def _seen(bore: Bore, first: float, last: float) -> LineString | ShapelyPoint:
    """A stretch of a bore's axis seen from above."""
    import shapely

    if bore.is_upright:
        return shapely.Point(bore.at.x, bore.at.y)
    ends = bore.along(first), bore.along(last)
    # A place of 1e-308 mm is divided by in there, and warned of.
    return shapely.LineString([(round(end.x, 9), round(end.y, 9)) for end in ends])


class _Line:
    """A line parallel to a bore's axis, and the stretches of it that are open."""

    def __init__(
        self,
        layout: Layout,
        bore: Bore,
        made: Sequence[Feature],
        off: Point = _MIDDLE,
        *,
        end: float | None = None,
    ) -> None:
        self.layout, self.axis, self.upright = layout, bore.axis, bore.is_upright
        a, b = _square_to(bore.axis)
        self.start = Point3(*(p + off.x * u + off.y * v for p, u, v in zip(bore.at, a, b, strict=True)))
        self.end = self._leaves() if end is None else end
        self.open: list[Opening] = sorted(
            (low, high, feature.id) for feature in made for low, high in self._met(feature)
        )

    def wood_after(self, depth: float) -> float | None:
        """Wood from a depth on; None where it is open there."""
        if depth >= self.end - _HAIR or any(low <= depth + _HAIR < high for low, high, _ in self.open):
            return None
        return min((low for low, _, _ in self.open if low > depth), default=self.end) - depth

    def ahead(self, depth: float) -> tuple[str, float]:
        """The cut that a depth lies in, or the next one ahead, and where it opens; the body's far side where there is none."""
        for low, high, name in self.open:
            if high > depth + _HAIR and low > _HAIR:
                return name, low
        return "", self.end

    def at(self, along: float) -> Point3:
        return Point3(*(p + along * d for p, d in zip(self.start, self.axis, strict=True)))

    def _leaves(self) -> float:
        """Where the line comes out of the body."""
        down = self.axis.z
        if self.upright:
            far = self.layout.back_at if down < 0 else self.layout.top_at
            return (far(Point(self.start.x, self.start.y)) - self.start.z) / down
        low = next((t for t in _EVERY if self._in_body(t)), None)
        if low is None:
            return 0.0
        high = low + _STRIDE
        while self._in_body(high):
            low, high = high, high + _STRIDE
        while high - low > _HAIR:
            middle = (low + high) / 2
            low, high = (middle, high) if self._in_body(middle) else (low, middle)
        return low

    def _in_body(self, along: float) -> bool:
        import shapely

        x, y, z = self.at(along)
        place = Point(x, y)
        if not shapely.intersects_xy(polygon(self.layout.outline), x, y):
            return False
        return self.layout.back_at(place) <= z <= self.layout.top_at(place)

    def _met(self, feature: Feature) -> Iterator[Stretch]:
        return self._in_pocket(feature) if isinstance(feature, Pocket) else self._in_bore(feature)

    def _in_pocket(self, pocket: Pocket) -> Iterator[Stretch]:
        import shapely

        area, floor = polygon(pocket.outline, pocket.islands), floor_z(self.layout, pocket, self.start.x)
        level = (floor, inf) if pocket.face == "top" else (-inf, floor)
        rise = 0.0 if pocket.slope is None else pocket.slope.rise
        low, high = _between(self.start.z, self.axis.z - rise * self.axis.x, *level)
        if low >= high:
            return
        if self.upright:
            if shapely.intersects_xy(area, self.start.x, self.start.y):
                yield low, high
            return
        low, high = max(low, 0.0), min(high, _FARTHEST)
        line = shapely.LineString([self.at(low)[:2], self.at(high)[:2]])
        level_run = hypot(self.axis.x, self.axis.y)
        for part in shapely.get_parts(shapely.intersection(line, area)):
            places = shapely.get_coordinates(part)
            along = np.hypot(places[:, 0] - self.start.x, places[:, 1] - self.start.y) / level_run
            if len(along) > 1:
                yield float(along.min()), float(along.max())

    def _in_bore(self, bore: Bore) -> Iterator[Stretch]:
        for step in bore.steps:
            yield from self._in_cylinder(bore, step.diameter / 2, -bore.lead - step.diameter, step.depth)
            base, point = step.point_width / 2, step.bit.point
            if base <= 0 or point <= 0:
                continue
            if self.upright and bore.is_upright:
                off = hypot(bore.at.x - self.start.x, bore.at.y - self.start.y)
                if off < base:
                    yield from self._in_cylinder(bore, base, 0.0, step.depth + point * (1 - off / base))
                continue
            for n in range(_CONE_SLICES):
                share = (n + 0.5) / _CONE_SLICES
                ends = (step.depth + point * n / _CONE_SLICES, step.depth + point * (n + 1) / _CONE_SLICES)
                yield from self._in_cylinder(bore, base * (1 - share), *ends)

    def _in_cylinder(self, bore: Bore, radius: float, first: float, last: float) -> Iterator[Stretch]:
        """Where the line runs inside a cylinder round a bore's axis, between two depths of that bore."""
        e, f = bore.axis, self.axis
        off = Point3(*(p - q for p, q in zip(self.start, bore.at, strict=True)))
        along, rate = _dot(off, e), _dot(f, e)
        a, b, c = (
            1 - rate * rate,
            _dot(off, f) - along * rate,
            _dot(off, off) - along * along - radius * radius,
        )
        if a < 1e-12:
            low, high = (-inf, inf) if c < 0 else (inf, -inf)
        else:
            root = b * b - a * c
            if root <= 0:
                return
            low, high = (-b - sqrt(root)) / a, (-b + sqrt(root)) / a
        start, end = _between(along, rate, first, last)
        low, high = max(low, start), min(high, end)
        if low < high:
            yield low, high


def _dot(a: Point3, b: Point3) -> float:
    return a.x * b.x + a.y * b.y + a.z * b.z


def _between(at: float, rate: float, low: float, high: float) -> Stretch:
    """Where a quantity that starts at `at` and grows by `rate` lies between two bounds."""
    if abs(rate) < 1e-12:
        return (-inf, inf) if low <= at <= high else (inf, -inf)
    ends = sorted(((low - at) / rate, (high - at) / rate))
    return ends[0], ends[1]


def _square_to(axis: Point3) -> tuple[Point3, Point3]:
    """Two unit vectors square to an axis and to each other."""
    level = hypot(axis.x, axis.y)
    if level < 1e-12:
        return Point3(1.0, 0.0, 0.0), Point3(0.0, 1.0, 0.0)
    a = Point3(-axis.y / level, axis.x / level, 0.0)
    return a, Point3(-axis.z * a.y, axis.z * a.x, axis.x * a.y - axis.y * a.x)
