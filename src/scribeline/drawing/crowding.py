"""Where there is room for lettering: places that cover least of what is already drawn."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import pairwise
from math import cos, hypot, inf, pi, sin
from typing import TYPE_CHECKING, Generic, TypeAlias, TypeVar

from scribeline.drawing.extent import box_of, pieces, touches
from scribeline.drawing.sheet import CENTRE, HIDDEN, Item, Line, Point, Window

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

Try: TypeAlias = tuple[float, Placed, Window]
"""How far from the middle, a place, and the rectangle that a block takes there."""

_CUT = 500.0
"""What it costs to be cut by the edge of a page."""
_ON_HOLE, _ON_BALLOON, _ON_LETTERING, _ON_LINE, _CROSSED = 1000.0, 1000.0, 300.0, 30.0, 400.0
"""What it costs to cover a hole, a balloon, lettering or a line, or to cross another leader, against 1 for
a millimetre further away."""
_LONG, _PAST_LONG = 60.0, 2.0
"""A leader longer than this, mm, costs so much for a millimetre more: it runs over much else on its way."""
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
        self._rooms: dict[tuple[tuple[Point, ...], float, tuple[tuple[Point, ...], ...]], _Room] = {}
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
        cut = 0.0 if self.whole(window) else _CUT
        return cut + _cost_of(self._marks.meeting(window), window, enough - cut)

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
        without: Sequence[Sequence[Point]] = (),
    ) -> Placed | None:
        """Where a block of lettering fits inside an outline, near its middle: centre and turn (0 or 90).

        None when it fits nowhere without covering `most` or more: by default other lettering. Nothing is put
        in the outlines that it is to do `without`.
        """
        room = self._room(tuple(outline), margin, tuple(map(tuple, without)))
        if room.shape.is_empty:
            return None
        least, best = inf, None
        tries, near = room.tries(wide, tall), self._marks.near(room.shape.bounds)
        for (away, place, box), crossed, met in _held(room.shape, tries, near, most):
            if away >= least:
                break
            if self._pages and not self.whole(box):
                continue  # worse than any mark
            covered = crossed + _cost_of(met, box, min(most, least - away) - crossed)
            if covered < most and away + covered < least:
                least, best = away + covered, place
        return best

    def _room(
        self, outline: tuple[Point, ...], margin: float, without: tuple[tuple[Point, ...], ...]
    ) -> _Room:
        """An outline less some others and a margin, made ready to be asked many times what lies in it.

        Kept in this crowd only: what is made ready must not be asked by two threads at once.
        """
        if (outline, margin, without) not in self._rooms:
            self._rooms[outline, margin, without] = _Room(outline, margin, without)
        return self._rooms[outline, margin, without]

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
                    way = _PAST_LONG * max(0.0, hypot(at[0] - holes[n][0], at[1] - holes[n][1]) - _LONG)
                    column.append((reach + self._with_marks(cost + way, at, radii[n], far), n, at))
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


class _Room:
    """An outline less some others and a margin, and the places for blocks of lettering in it."""

    def __init__(
        self, outline: tuple[Point, ...], margin: float, without: tuple[tuple[Point, ...], ...]
    ) -> None:
        import shapely

        left = shapely.difference(
            shapely.Polygon(outline), shapely.union_all(list(map(shapely.Polygon, without)))
        )
        self.shape = left.buffer(-margin)
        shapely.prepare(self.shape)
        self._tries: dict[tuple[float, float], list[Try]] = {}

    def tries(self, wide: float, tall: float) -> list[Try]:
        """Places for a block, upright and turned by a quarter, the nearest to the middle first."""
        if (wide, tall) not in self._tries:
            self._tries[wide, tall] = sorted(self._places(wide, tall))
        return self._tries[wide, tall]

    def _places(self, wide: float, tall: float) -> Iterator[Try]:
        left, bottom, right, top = self.shape.bounds
        middle = self.shape.centroid
        x, y = middle.x, middle.y
        steps = [n / (_TRIES - 1) for n in range(_TRIES)]
        for turn, (w, h) in ((0.0, (wide, tall)), (90.0, (tall, wide))):
            if w > right - left or h > top - bottom:
                continue
            for i in steps:
                for k in steps:
                    u = left + w / 2 + (right - left - w) * i
                    v = bottom + h / 2 + (top - bottom - h) * k
                    away = hypot(u - x, v - y) + (8.0 if turn else 0.0)
                    yield away, (u, v, turn), (u - w / 2, v - h / 2, u + w / 2, v + h / 2)


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


def _cost_of(marks: Iterable[tuple[Item, int]], window: Window, enough: float) -> float:
    """What it costs to cover some marks with their numbers; what lies in many pieces costs once."""
    total = 0.0
    covered: set[int] = set()
    for item, number in marks:
        if total >= enough:
            break
        if number not in covered and touches(item, window):
            covered.add(number)
            total += _ON_LINE if isinstance(item, Line) else _ON_LETTERING
    return total


_AT_ONCE = 128
"""Boxes looked at together: one alone costs almost as much."""


def _held(
    room: Polygon,
    tries: Sequence[Try],
    near: Sequence[tuple[tuple[Item, int], Window]],
    most: float,
) -> Iterator[tuple[Try, float, list[tuple[Item, int]]]]:
    """Those tries whose boxes a room holds, in order, where they cover less than `most` of straight lines.

    With each go what it costs to cover the lines that it covers, and the other marks that it may cover.
    """
    import numpy as np
    import shapely

    lines = [(item.a, item.b, number, box) for (item, number), box in near if isinstance(item, Line)]
    # Hidden edges and axes give way to lettering; what runs through it, such as a leader, costs twice.
    stays = np.array(
        [item.layer not in {HIDDEN, CENTRE} for (item, _), _ in near if isinstance(item, Line)], dtype=bool
    )
    others = [mark for mark, _ in near if not isinstance(mark[0], Line)]
    ends = np.array([(a, b) for a, b, _, _ in lines]).reshape(-1, 2, 2)
    # What lies in many pieces costs once.
    numbers, number = np.unique(
        np.array([number for _, _, number, _ in lines], dtype=np.intp), return_inverse=True
    )
    each = np.full(len(numbers), _ON_LINE)
    each[number[stays]] = 2 * _ON_LINE
    spans = np.array([box for _, _, _, box in lines]).reshape(-1, 4)
    covers = np.array([box for mark, box in near if not isinstance(mark[0], Line)]).reshape(-1, 4)
    for first in range(0, len(tries), _AT_ONCE):
        some = tries[first : first + _AT_ONCE]
        boxes = np.array([box for _, _, box in some])
        n, line = np.nonzero(_boxes_meet(boxes, spans))
        crossing = _crossing_box(ends[line, 0], ends[line, 1], boxes[n])
        crossed = np.zeros((len(some), len(numbers)), dtype=bool)
        crossed[n[crossing], number[line[crossing]]] = True
        cost = crossed @ each
        rows = np.flatnonzero(cost < most)
        rows = rows[shapely.contains(room, shapely.box(*boxes[rows].T))]
        for n, met in zip(rows.tolist(), _boxes_meet(boxes[rows], covers), strict=True):
            yield some[n], float(cost[n]), [others[k] for k in met.nonzero()[0].tolist()]


def _boxes_meet(boxes: Points, others: Points) -> NDArray[np.bool_]:
    """Whether boxes, (n, 4), meet others, (m, 4)."""
    (a, b, c, d), (left, low, right, high) = boxes.T[..., None], others.T
    meet: NDArray[np.bool_] = (left <= c) & (right >= a) & (low <= d) & (high >= b)
    return meet


def _crossing_box(a: Points, b: Points, boxes: Points) -> NDArray[np.bool_]:
    """Whether straight pieces from `a` to `b` have a point in their boxes, as `extent.touches` says it of one."""
    import numpy as np

    enter, leave = np.zeros(len(boxes)), np.ones(len(boxes))
    for k in (0, 1):
        low, high, start, step = boxes[:, k], boxes[:, k + 2], a[:, k], b[:, k] - a[:, k]
        level = step == 0.0
        way = np.where(level, 1.0, step)
        one, other = (low - start) / way, (high - start) / way
        outside = level & ~((low <= start) & (start <= high))
        enter = np.where(level, enter, np.maximum(enter, np.minimum(one, other)))
        leave = np.where(outside, -1.0, np.where(level, leave, np.minimum(leave, np.maximum(one, other))))
    crosses: NDArray[np.bool_] = enter <= leave
    return crosses


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
