"""Where there is room for lettering: places that cover least of what is already drawn."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import pairwise
from math import cos, hypot, inf, pi, sin
from typing import TYPE_CHECKING, Generic, TypeAlias, TypeVar

from scribeline.drawing.extent import box_of, pieces, touches
from scribeline.drawing.sheet import Item, Line, Point, Window

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from shapely import Polygon

    Points: TypeAlias = NDArray[np.float64]

Thing = TypeVar("Thing")

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
_SQUARE = 12.0
"""Marks are looked up by squares of this side, mm: about as wide as a balloon and its leader."""
_WIDE = 400
"""A mark that touches more squares than this is looked at every time."""
_TRIES = 13
_REACHES = (7.0, 8.0, 9.0, 10.0, 12.0, 14.0, 16.0, 18.0, 20.0, 23.0, 26.0, 29.0, 32.0, 36.0, 40.0)
_BALLOON_GAP, _HOLE_GAP = 0.8, 2.0


class Crowd:
    """Marks that lettering should keep clear of, the balloons placed so far, and the pages to stay whole on.

    Args:
        items: the marks.
        pages: windows of which one should hold a piece of lettering whole; none where nothing will be cut.
    """

    def __init__(self, items: Iterable[Item], pages: Sequence[Window] = ()) -> None:
        self._pages = pages
        self._marks = Noted[tuple[Item, int]]()
        self._count = 0
        self._balloons = Noted[tuple[Point, float, Hole]]()
        self._rooms: dict[tuple[tuple[Point, ...], float], Polygon] = {}
        self.add(items)

    def add(self, items: Iterable[Item]) -> None:
        """More marks to keep clear of."""
        for item in items:
            self._count += 1
            for piece in pieces(item):
                box = box_of(piece)
                if box is not None:
                    self._marks.add((piece, self._count), box)

    def cost(self, window: Window, enough: float = inf) -> float:
        """What it costs to cover a window; no more is added once it is `enough` to rule the place out."""
        return self._cost_of(self._marks.meeting(window), window, enough)

    def _cost_of(self, marks: Iterable[tuple[Item, int]], window: Window, enough: float) -> float:
        total = 0.0 if self.whole(window) else _CUT
        covered: set[int] = set()
        for item, number in marks:
            if total >= enough:
                break
            if number not in covered and touches(item, window):
                covered.add(number)
                total += _ON_LINE if isinstance(item, Line) else _ON_LETTERING
        return total

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
        least, best = inf, None
        near = self._marks.near(room.bounds)
        for (away, place, box), met in _held(room, sorted(tries), [box for _, box in near]):
            if away >= least:
                break
            covered = self._cost_of((near[n][0] for n in met), box, min(most, least - away))
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
        every = Noted[Hole]()
        for hole in holes:
            every.add(hole, around(hole[:2], hole[2]))
        for group in dict.fromkeys(groups):
            members = [n for n, name in enumerate(groups) if name == group]
            if len(members) == 1:
                (n,) = members
                found[n] = self._put(self._alone(every, holes[n], radii[n]), holes[n], radii[n])
                continue
            columns = [
                (reach, dict(_column(holes, radii, members, side * reach)))
                for reach in _REACHES
                for side in (1.0, -1.0)
            ]
            far = 1.5 * _TOO_BAD
            tried: list[list[tuple[float, int, Point]]] = [[] for _ in columns]
            for n in members:
                centres = [places[n] for _, places in columns]
                covered = self._balloon_costs(every, holes[n], centres, radii[n])
                for column, (reach, _), at, cost in zip(tried, columns, centres, covered, strict=True):
                    column.append((reach + self._with_marks(cost, at, radii[n], far), n, at))
            best = min(tried, key=lambda costs: sum(min(cost, far) for cost, _, _ in costs))
            for cost, n, at in best:
                if cost < _TOO_BAD:
                    found[n] = self._put(at, holes[n], radii[n])
            for n in (n for n in members if n not in found):
                found[n] = self._put(self._alone(every, holes[n], radii[n]), holes[n], radii[n])
        return [found[n] for n in range(len(holes))]

    def _put(self, centre: Point, hole: Hole, radius: float) -> Point:
        self._balloons.add((centre, radius, hole), _with_leader(hole, centre, radius + _BALLOON_GAP))
        return centre

    def _alone(self, every: Noted[Hole], hole: Hole, radius: float) -> Point:
        """The best centre for one balloon, in any direction."""
        u, v, r = hole
        turns = [(cos(pi * k / 8), sin(pi * k / 8)) for k in range(16)]
        places = [
            (reach, (u + (r + reach + radius) * x, v + (r + reach + radius) * y))
            for reach in _REACHES[::2]
            for x, y in turns
        ]
        covered = self._balloon_costs(every, hole, [at for _, at in places], radius)
        least, found = inf, (u, v)
        for (reach, at), over in zip(places, covered, strict=True):
            if reach + over < least:
                cost = reach + self._with_marks(over, at, radius, least - reach)
                if cost < least:
                    least, found = cost, at
        return found

    def _with_marks(self, cost: float, centre: Point, radius: float, enough: float) -> float:
        """What a balloon covers, its marks added to what it costs already; none once that is `enough`."""
        if cost >= min(_CROSSED, enough):
            return cost
        return cost + self.cost(around(centre, radius), enough - cost)

    def _balloon_costs(
        self, every: Noted[Hole], own: Hole, centres: Sequence[Point], radius: float
    ) -> list[float]:
        """What balloons at some centres and their leaders would cover of other holes and balloons.

        Where a balloon itself covers one, what its leader crosses is not counted: no such place is taken while there is
        another.
        """
        import numpy as np

        start, at = np.array(own[:2]), np.array(centres)
        (left, low), (right, high) = at.min(axis=0), at.max(axis=0)
        near = _with_leader((left, low, 0.0), (right, high), radius + _HOLE_GAP)
        others = [each for each in every.meeting(near) if each != own]
        taken = self._balloons.meeting(near)
        hole, r = _rings(others)
        placed, size = _rings([(*centre, r) for centre, r, _ in taken])
        end = np.array([hole[:2] for _, _, hole in taken]).reshape(-1, 2)
        costs = within(hole, at[:, None], radius + r + _HOLE_GAP).sum(axis=1) * _ON_HOLE
        costs += within(placed, at[:, None], radius + size + _BALLOON_GAP).sum(axis=1) * _ON_BALLOON
        clear = np.flatnonzero(costs == 0.0)
        mine = at[clear, None]
        crosses = apart(placed, start, mine) < size + 0.5
        crosses |= apart(mine, end, placed) < radius + 0.5
        crosses |= crossing(start, mine, end, placed)
        over = (apart(hole, start, mine) < r + 0.8).sum(axis=1) + crosses.sum(axis=1)
        costs[clear] += _CROSSED * over
        found: list[float] = costs.tolist()
        return found


class Noted(Generic[Thing]):
    """Things found again by the rectangles they lie in: each is noted in every square that its rectangle touches."""

    def __init__(self) -> None:
        self._things: list[tuple[Thing, Window]] = []
        self._squares: dict[tuple[int, int], list[int]] = {}
        self._wide: list[int] = []

    def add(self, thing: Thing, box: Window) -> None:
        """One more."""
        number = len(self._things)
        self._things.append((thing, box))
        squares = _squares(box)
        if len(squares) > _WIDE:
            self._wide.append(number)
            return
        for square in squares:
            self._squares.setdefault(square, []).append(number)

    def meeting(self, window: Window) -> list[Thing]:
        """Those whose rectangles meet this one, in the order they came."""
        return [thing for thing, _ in self.near(window)]

    def near(self, window: Window) -> list[tuple[Thing, Window]]:
        """The same with their rectangles."""
        left, bottom, right, top = window
        near = set(self._wide)
        for square in _squares(window):
            near.update(self._squares.get(square, ()))
        found = []
        for number in sorted(near):
            thing, box = self._things[number]
            if box[0] <= right and box[2] >= left and box[1] <= top and box[3] >= bottom:
                found.append((thing, box))
        return found


def _squares(box: Window) -> list[tuple[int, int]]:
    """The squares that a rectangle touches."""
    left, bottom, right, top = (int(each // _SQUARE) for each in box)
    return [(i, k) for i in range(left, right + 1) for k in range(bottom, top + 1)]


def around(centre: Point, radius: float) -> Window:
    """The square round a circle."""
    return (centre[0] - radius, centre[1] - radius, centre[0] + radius, centre[1] + radius)


def spanned(line: tuple[Point, Point]) -> Window:
    """The rectangle that a straight piece spans."""
    (u, v), (x, y) = line
    return (min(u, x), min(v, y), max(u, x), max(v, y))


def to_box(at: Point, box: Window) -> float:
    """Distance of a point from a rectangle, 0 inside it."""
    left, low, right, high = box
    return hypot(max(left - at[0], 0.0, at[0] - right), max(low - at[1], 0.0, at[1] - high))


def _with_leader(hole: Hole, centre: Point, margin: float) -> Window:
    """The rectangle round a balloon and its leader, larger by a margin."""
    left, low, right, high = spanned((hole[:2], centre))
    return (left - margin, low - margin, right + margin, high + margin)


_AT_ONCE = 32
"""Boxes looked at together: one alone costs almost as much."""


def _held(
    room: Polygon, tries: Sequence[tuple[float, Placed, Window]], others: Sequence[Window]
) -> Iterator[tuple[tuple[float, Placed, Window], list[int]]]:
    """Those tries whose boxes a room holds, in order, each with the numbers of the other boxes that it meets."""
    import numpy as np
    import shapely

    left, low, right, high = np.array(others).reshape(-1, 4).T
    for first in range(0, len(tries), _AT_ONCE):
        some = tries[first : first + _AT_ONCE]
        a, b, c, d = np.array([box for _, _, box in some]).T
        meets = (left <= c[:, None]) & (right >= a[:, None]) & (low <= d[:, None]) & (high >= b[:, None])
        for n in np.flatnonzero(shapely.contains(room, shapely.box(a, b, c, d))).tolist():
            yield some[n], np.flatnonzero(meets[n]).tolist()


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


def _rings(holes: Sequence[Hole]) -> tuple[Points, Points]:
    """Centres and radii."""
    import numpy as np

    rings = np.array(holes).reshape(-1, 3)
    return rings[:, :2], rings[:, 2]


def within(a: Points, b: Points, distance: Points) -> NDArray[np.bool_]:
    """Whether two points lie nearer to each other than some distance."""
    off = a - b
    nearer: NDArray[np.bool_] = off[..., 0] ** 2 + off[..., 1] ** 2 < distance**2
    return nearer


def apart(point: Points, a: Points, b: Points) -> NDArray[np.float64]:
    """Distance of points from the straight pieces from `a` to `b`."""
    import numpy as np

    way = b - a
    along = ((point - a) * way).sum(axis=-1) / np.maximum((way * way).sum(axis=-1), 1e-12)
    off = point - a - np.clip(along, 0.0, 1.0)[..., None] * way
    apart: NDArray[np.float64] = np.hypot(off[..., 0], off[..., 1])
    return apart


def crossing(a: Points, b: Points, c: Points, d: Points) -> NDArray[np.bool_]:
    """Whether the pieces from `a` to `b` and from `c` to `d` cross."""

    def side(p: Points, q: Points, r: Points) -> Points:
        (px, py), (qx, qy), (rx, ry) = ((each[..., 0], each[..., 1]) for each in (p, q, r))
        way: Points = (qx - px) * (ry - py) - (qy - py) * (rx - px)
        return way

    crosses: NDArray[np.bool_] = (side(a, b, c) * side(a, b, d) < 0) & (side(c, d, a) * side(c, d, b) < 0)
    return crosses
