"""Where there is room for lettering: places that cover least of what is already drawn."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import pairwise
from math import cos, hypot, inf, pi, sin
from typing import TYPE_CHECKING

from scribeline.drawing.extent import box_of, pieces, touches
from scribeline.drawing.sheet import Item, Line, Point, Window

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from shapely import Polygon

Hole = tuple[float, float, float]
"""Centre and radius."""

Placed = tuple[float, float, float]
"""A point and a direction in degrees."""

_CUT = 500.0
"""What it costs to be cut by the edge of a page."""
_ON_HOLE, _ON_BALLOON, _ON_LETTERING, _ON_LINE, _CROSSED = 1000.0, 1000.0, 300.0, 30.0, 400.0
"""What it costs to cover a hole, a balloon, lettering or a line, or to cross another leader, against 1 for
a millimetre further away."""
_TOO_BAD = 60.0
"""A balloon that costs this much in its group's row is placed by itself."""
_FEW = 40
"""Fewer marks than this are looked through one by one."""
_TRIES = 13
_REACHES = (7.0, 8.0, 9.0, 10.0, 12.0, 14.0, 16.0, 18.0, 20.0, 23.0, 26.0, 29.0, 32.0, 36.0, 40.0)
_BALLOON_GAP = 0.8


class Crowd:
    """Marks that lettering should keep clear of, the balloons placed so far, and the pages to stay whole on.

    Args:
        items: the marks.
        pages: windows of which one should hold a piece of lettering whole; none where nothing will be cut.
    """

    def __init__(self, items: Iterable[Item], pages: Sequence[Window] = ()) -> None:
        self._pages = pages
        self._marks: list[tuple[Window, Item, int]] = []
        self._boxes: NDArray[np.float64] | None = None
        self._count = 0
        self._balloons: list[tuple[Point, float, Hole]] = []
        self._rooms: dict[tuple[tuple[Point, ...], float], Polygon] = {}
        self.add(items)

    def add(self, items: Iterable[Item]) -> None:
        """More marks to keep clear of."""
        for item in items:
            self._count += 1
            for piece in pieces(item):
                box = box_of(piece)
                if box is not None:
                    self._marks.append((box, piece, self._count))

    def cost(self, window: Window, enough: float = inf) -> float:
        """What it costs to cover a window; no more is added once it is `enough` to rule the place out."""
        total = 0.0 if self.whole(window) else _CUT
        covered: set[int] = set()
        for n in self._near_to(window):
            if total >= enough:
                break
            _, item, number = self._marks[n]
            if number not in covered and touches(item, window):
                covered.add(number)
                total += _ON_LINE if isinstance(item, Line) else _ON_LETTERING
        return total

    def _near_to(self, window: Window) -> list[int]:
        """The marks whose boxes meet a window."""
        left, bottom, right, top = window
        if len(self._marks) < _FEW:
            return [
                n
                for n, (box, _, _) in enumerate(self._marks)
                if box[0] <= right and box[2] >= left and box[1] <= top and box[3] >= bottom
            ]
        import numpy as np

        if self._boxes is None or len(self._boxes) != len(self._marks):
            self._boxes = np.array([box for box, _, _ in self._marks])
        lefts, bottoms, rights, tops = self._boxes.T
        meets = (lefts <= right) & (rights >= left) & (bottoms <= top) & (tops >= bottom)
        return [int(n) for n in np.flatnonzero(meets)]

    def whole(self, window: Window) -> bool:
        """Whether one page holds it all."""
        left, bottom, right, top = window
        return not self._pages or any(
            page[0] <= left and page[1] <= bottom and right <= page[2] and top <= page[3]
            for page in self._pages
        )

    def best(self, places: Sequence[Placed], window: Callable[[Placed], Window]) -> Placed:
        """The place that covers least, the first of equals."""
        least, found = float("inf"), places[0]
        for place in places:
            cost = self.cost(window(place))
            if cost < least:
                least, found = cost, place
            if cost == 0.0:
                break
        return found

    def inside(
        self,
        outline: Sequence[Point],
        wide: float,
        tall: float,
        *,
        margin: float,
        most: float = _ON_LETTERING,
    ) -> Placed | None:
        """Where a block of lettering fits inside an outline, near its middle: centre and turn (0 or 90).

        None when it fits nowhere without covering `most` or more: by default other lettering.
        """
        room = self._room(tuple(outline), margin)
        if room.is_empty:
            return None
        left, bottom, right, top = room.bounds
        middle = room.centroid
        steps = [n / (_TRIES - 1) for n in range(_TRIES)]
        tries: list[tuple[float, Placed, Window]] = []
        for turn, (w, h) in ((0.0, (wide, tall)), (90.0, (tall, wide))):
            if w > right - left or h > top - bottom:
                continue
            for i in steps:
                for k in steps:
                    u = left + w / 2 + (right - left - w) * i
                    v = bottom + h / 2 + (top - bottom - h) * k
                    away = hypot(u - middle.x, v - middle.y) + (8.0 if turn else 0.0)
                    tries.append((away, (u, v, turn), (u - w / 2, v - h / 2, u + w / 2, v + h / 2)))
        near = self._meeting(room.bounds)
        least, best = inf, None
        for away, place, box in _held(room, sorted(tries)):
            if away >= least:
                break
            covered = near.cost(box, min(most, least - away))
            if covered < most and away + covered < least:
                least, best = away + covered, place
        return best

    def _room(self, outline: tuple[Point, ...], margin: float) -> Polygon:
        """An outline less a margin, made ready to be asked many times what lies in it.

        Kept in this crowd only: what is made ready must not be asked by two threads at once.
        """
        import shapely

        if (outline, margin) not in self._rooms:
            self._rooms[outline, margin] = shapely.Polygon(outline).buffer(-margin)
            shapely.prepare(self._rooms[outline, margin])
        return self._rooms[outline, margin]

    def balloon_places(
        self, holes: Sequence[Hole], radii: Sequence[float], groups: Sequence[str]
    ) -> list[Point]:
        """The centres of the holes' balloons.

        Those of a group stand in one column beside their holes, where that covers least; one that would
        cover something there is placed by itself.
        """
        found: dict[int, Point] = {}
        for group in dict.fromkeys(groups):
            members = [n for n, name in enumerate(groups) if name == group]
            near = self._near([holes[n] for n in members])
            if len(members) == 1:
                (n,) = members
                found[n] = self._put(near.alone(n, holes, radii[n]), holes[n], radii[n], near)
                continue
            columns = [
                (reach, _column(holes, radii, members, side * reach))
                for reach in _REACHES
                for side in (1.0, -1.0)
            ]
            tried = [
                [
                    (reach + near.balloon_cost(holes[n], holes, at, radii[n], 1.5 * _TOO_BAD), n, at)
                    for n, at in column
                ]
                for reach, column in columns
            ]
            column = min(tried, key=lambda costs: sum(min(cost, 1.5 * _TOO_BAD) for cost, _, _ in costs))
            for cost, n, at in column:
                if cost < _TOO_BAD:
                    found[n] = self._put(at, holes[n], radii[n], near)
            for n in (n for n in members if n not in found):
                found[n] = self._put(near.alone(n, holes, radii[n]), holes[n], radii[n], near)
        return [found[n] for n in range(len(holes))]

    def _near(self, holes: Sequence[Hole], reach: float = 60.0) -> Crowd:
        """Only what lies near some holes, to be quick."""
        left, right = min(u for u, _, _ in holes) - reach, max(u for u, _, _ in holes) + reach
        low, high = min(v for _, v, _ in holes) - reach, max(v for _, v, _ in holes) + reach
        near = self._meeting((left, low, right, high))
        near._balloons = list(self._balloons)
        return near

    def _meeting(self, window: Window) -> Crowd:
        """Only the marks whose boxes meet a window."""
        near = Crowd((), self._pages)
        near._marks = [self._marks[n] for n in self._near_to(window)]
        return near

    def _put(self, centre: Point, hole: Hole, radius: float, near: Crowd) -> Point:
        for crowd in (self, near):
            crowd._balloons.append((centre, radius, hole))
        return centre

    def alone(self, n: int, holes: Sequence[Hole], radius: float) -> Point:
        """The best centre for one balloon, in any direction."""
        u, v, r = holes[n]

        least, found = inf, (u, v)
        for reach in _REACHES[::2]:
            if reach >= least:
                break
            away = r + reach + radius
            for k in range(16):
                at = (u + away * cos(pi * k / 8), v + away * sin(pi * k / 8))
                cost = reach + self.balloon_cost(holes[n], holes, at, radius, least - reach)
                if cost < least:
                    least, found = cost, at
        return found

    def balloon_cost(
        self, hole: Hole, holes: Sequence[Hole], centre: Point, radius: float, enough: float = inf
    ) -> float:
        """What a balloon at `centre` and its leader would cover; no more is added once it is `enough`."""
        start, cost = (hole[0], hole[1]), 0.0
        low_u, high_u = min(start[0], centre[0]), max(start[0], centre[0])
        low_v, high_v = min(start[1], centre[1]), max(start[1], centre[1])
        for u, v, r in holes:
            out = max(radius, 0.0) + r + 2.0  # beyond this it touches neither the balloon nor its leader
            if u < low_u - out or u > high_u + out or v < low_v - out or v > high_v + out:
                continue
            if (u, v, r) == hole:
                continue
            if hypot(u - centre[0], v - centre[1]) < radius + r + 2.0:
                cost += _ON_HOLE
            elif _apart((u, v), start, centre) < r + 0.8:
                cost += _CROSSED
        for placed, size, (u, v, _) in self._balloons:
            if hypot(placed[0] - centre[0], placed[1] - centre[1]) < radius + size + _BALLOON_GAP:
                cost += _ON_BALLOON
            elif (
                _apart(placed, start, centre) < size + 0.5
                or _apart(centre, (u, v), placed) < radius + 0.5
                or _cross(start, centre, (u, v), placed)
            ):
                cost += _CROSSED
        if cost >= _CROSSED:
            return cost
        box = (centre[0] - radius, centre[1] - radius, centre[0] + radius, centre[1] + radius)
        return cost + self.cost(box, enough - cost)


_AT_ONCE = 32
"""Boxes looked at together: one alone costs almost as much."""


def _held(
    room: Polygon, tries: Sequence[tuple[float, Placed, Window]]
) -> Iterator[tuple[float, Placed, Window]]:
    """Those tries whose boxes a room holds, in order."""
    import numpy as np
    import shapely

    for first in range(0, len(tries), _AT_ONCE):
        some = tries[first : first + _AT_ONCE]
        boxes = shapely.box(*np.array([box for _, _, box in some]).T)
        inside = shapely.contains(room, boxes)
        yield from (each for each, held in zip(some, inside, strict=True) if held)


def _column(
    holes: Sequence[Hole], radii: Sequence[float], members: Sequence[int], reach: float
) -> list[tuple[int, Point]]:
    """Balloons beside a group's holes, to the right for a positive reach: level with them if there is room."""
    order = sorted(members, key=lambda n: (holes[n][1], holes[n][0]))
    radius = max(radii[n] for n in members)
    edges = [holes[n][0] + (holes[n][2] if reach > 0 else -holes[n][2]) for n in members]
    u = max(edges) + reach + radius if reach > 0 else min(edges) + reach - radius
    pitch = 2 * radius + 1.2
    levels = [holes[n][1] for n in order]
    if any(b - a < 2 * radius + _BALLOON_GAP for a, b in pairwise(levels)):
        levels = _spread(levels, pitch)
    return [(n, (u, v)) for n, v in zip(order, levels, strict=True)]


def _spread(levels: Sequence[float], pitch: float) -> list[float]:
    """Rising levels moved as little as makes them `pitch` apart: clusters spread about their middles."""
    clusters: list[tuple[float, int]] = []
    for level in levels:
        clusters.append((level, 1))
        while len(clusters) > 1:
            (low, m), (high, n) = clusters[-2:]
            if high - low >= pitch * (m + n) / 2 - 1e-9:
                break
            clusters[-2:] = [((low * m + high * n) / (m + n), m + n)]
    return [middle + pitch * (k - (count - 1) / 2) for middle, count in clusters for k in range(count)]


def _apart(point: Point, a: Point, b: Point) -> float:
    """Distance of a point from the straight piece from `a` to `b`."""
    du, dv = b[0] - a[0], b[1] - a[1]
    along = ((point[0] - a[0]) * du + (point[1] - a[1]) * dv) / max(du * du + dv * dv, 1e-12)
    along = min(1.0, max(0.0, along))
    return hypot(point[0] - a[0] - along * du, point[1] - a[1] - along * dv)


def _cross(a: Point, b: Point, c: Point, d: Point) -> bool:
    """Whether the pieces from `a` to `b` and from `c` to `d` cross."""

    def side(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0
