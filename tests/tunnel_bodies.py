"""Random bodies with a tunnel to be found, and a search by brute force that shares no code with the solver.

The search tries a fine grid over the four numbers of a way, then finer grids round the best of them. Its distances are
those of points sampled on the tunnel's surface from boxes, cylinders and upright walls, each in closed form. Points
sampled on a surface are never nearer than the surface, so what it finds is, if anything, too good for the solver; the
best is measured once more from 36 times as many points.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from functools import partial
from math import ceil, cos, pi, radians, sin

import numpy as np
from numpy.typing import NDArray

from scribeline.features import Bit
from scribeline.solid.shapes import Turned
from scribeline.solid.tunnels.problem import Course, Hollow, Problem, Wall, Wants

Floats = NDArray[np.float64]
Counts = NDArray[np.bool_]

DRIFT = 0.01
BREAK_OUT = 1.0
ROUND = 40
LONG = 36
BALLS = 6
FEW = 200
EASED = (0.0, 0.3, 1.0, 2.0, 4.0)
REFINED = 12


@dataclass(frozen=True)
class Box:
    """A rectangular pocket, turned about the upright."""

    x: float
    y: float
    half: tuple[float, float]
    turn: float
    low: float
    high: float

    def corners(self) -> list[tuple[float, float]]:
        c, s = cos(self.turn), sin(self.turn)
        a, b = self.half
        return [
            (self.x + u * c - v * s, self.y + u * s + v * c) for u, v in ((-a, -b), (a, -b), (a, b), (-a, b))
        ]

    def hollow(self) -> Hollow:
        return Hollow((tuple(self.corners()),), self.low, self.high)

    def local(self, points: Floats) -> tuple[Floats, Floats]:
        c, s = cos(self.turn), sin(self.turn)
        dx, dy = points[..., 0] - self.x, points[..., 1] - self.y
        return dx * c + dy * s, dy * c - dx * s

    def distance(self, points: Floats) -> Floats:
        """From points to the box: 0 inside."""
        u, v = self.local(points)
        du, dv = np.abs(u) - self.half[0], np.abs(v) - self.half[1]
        dz = np.maximum(self.low - points[..., 2], points[..., 2] - self.high)
        out = np.maximum(du, 0) ** 2 + np.maximum(dv, 0) ** 2 + np.maximum(dz, 0) ** 2
        return np.asarray(np.sqrt(out))


@dataclass(frozen=True)
class Rod:
    """A bore with flat ends, upright or slanting."""

    at: tuple[float, float, float]
    axis: tuple[float, float, float]
    length: float
    r: float

    def turned(self) -> Turned:
        return Turned(self.at, self.axis, (0.0, self.length, self.length), (self.r,) * 3, None)

    def distance(self, points: Floats) -> Floats:
        off = points - np.array(self.at)
        t = off @ np.array(self.axis)
        rho = np.sqrt(np.maximum((off**2).sum(axis=-1) - t**2, 0.0))
        return np.asarray(
            np.hypot(np.maximum(rho - self.r, 0.0), np.maximum(np.maximum(-t, t - self.length), 0.0))
        )


@dataclass(frozen=True)
class Body:
    """One body with its tunnel."""

    outline: tuple[tuple[float, float], ...]
    thickness: float
    start: str
    hide: Box | None
    source: Box | None
    target: Box
    boxes: tuple[Box, ...]
    rods: tuple[Rod, ...]
    bit: Bit
    wants: Wants

    def problem(self) -> Problem:
        """As the solver wants it."""
        return Problem(
            start=self.start,  # type: ignore[arg-type]
            outline=self.outline,
            thickness=self.thickness,
            exits=tuple(
                wall
                for wall in walls(self.target.corners(), self.target.low, self.target.high)
                if self._holds(wall)
            ),
            target=self.target.hollow(),
            floor=-1 if self.target.high == 0.0 else 1,
            wants=self.wants,
            hide=() if self.hide is None else tuple(self.hide.corners()),
            entries=self.entries(),
            rim=() if self.source is None else tuple(_sides(self.source.corners())),
            source=None if self.source is None else self.source.hollow(),
            hollows=tuple(box.hollow() for box in self.boxes),
            turned=tuple(rod.turned() for rod in self.rods),
        )

    def _holds(self, wall: Wall) -> bool:
        """Whether the middle of a wall lies in the body and 0.5 mm off its edge: of one that pokes out there is no wood."""
        middle = (np.array(wall.a) + np.array(wall.b)) / 2
        sides = [(np.array(a), np.array(b)) for a, b in _sides(list(self.outline))]
        angles = [np.arctan2(*(end - middle)[::-1]) for side in sides for end in side]
        turn = sum((b - a + pi) % (2 * pi) - pi for a, b in zip(angles[::2], angles[1::2], strict=True))
        return min(float(_to_side(a, b, middle)) for a, b in sides) > 0.5 and abs(turn) > pi

    def entries(self) -> tuple[Wall, ...]:
        if self.start == "edge":
            return walls(list(self.outline), -self.thickness, 0.0)
        return () if self.source is None else walls(self.source.corners(), self.source.low, self.source.high)


def _sides(corners: list[tuple[float, float]]) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    return list(zip(corners, corners[1:] + corners[:1], strict=True))


def walls(corners: list[tuple[float, float]], low: float, high: float) -> tuple[Wall, ...]:
    return tuple(Wall(a, b, low, high) for a, b in _sides(corners))


def random_body(seed: int) -> Body:
    """A body of a seed: what is asked for may or may not have a way."""
    rng = np.random.default_rng(seed)

    def between(a: float, b: float) -> float:
        return float(rng.uniform(a, b))

    start = str(rng.choice(["face", "face", "pocket", "pocket", "edge"]))
    thickness = between(34, 50)
    n = int(rng.integers(6, 10))
    turns = np.sort(rng.uniform(0, 2 * pi, n) * 0.3 + np.arange(n) * 2 * pi / n)
    outline = tuple((between(85, 115) * cos(t), between(85, 115) * sin(t)) for t in turns)

    def box(x: float, y: float, low: float, high: float, size: tuple[float, float] = (14, 26)) -> Box:
        return Box(x, y, (between(*size), between(*size)), between(-0.6, 0.6), low, high)

    def pocket(x: float, y: float, *, deep: tuple[float, float] = (14, 22)) -> Box:
        if rng.random() < 0.5:
            return box(x, y, -between(*deep), 0.0)
        return box(x, y, -thickness, -thickness + between(*deep))

    target = box(between(-52, -40), between(-25, 25), -between(14, 24), 0.0)
    if rng.random() < 0.4:
        target = box(between(-52, -40), between(-25, 25), -thickness, -between(5, 12))
    place = (between(8, 30), between(-20, 20))
    hide = (
        Box(*place, (between(8, 20), between(12, 30)), between(-0.3, 0.3), 0.0, 0.0)
        if start == "face"
        else None
    )
    source = box(*place, -between(13, 22), 0.0) if start == "pocket" else None
    boxes = tuple(
        pocket(between(-30, 60), float(rng.choice([-1, 1])) * between(55, 75), deep=(10, 20))
        for _ in range(int(rng.integers(1, 4)))
    )
    rods = []
    for _ in range(int(rng.integers(3, 12))):
        at = (between(-25, 45), between(-35, 35), 0.0)
        rods.append(Rod(at, (0.0, 0.0, -1.0), between(8, 32), between(1, 3)))
    if rng.random() < 0.5:
        lean = radians(between(20, 60))
        heading = between(0, 2 * pi)
        axis = (cos(lean) * cos(heading), cos(lean) * sin(heading), -sin(lean))
        rods.append(Rod((between(-20, 30), between(-30, 30), -8.0), axis, between(10, 25), between(1, 2.5)))
    diameter = between(3, 8)
    reach = between(60, 180) if rng.random() < 0.5 else float("inf")
    bit = Bit("brad-point", diameter, 0.3 * diameter, reach=reach)
    wants = Wants(least=between(0.5, 3), hidden=between(0, 2), window=between(0.3, 1.5), chuck=between(8, 20))
    return Body(outline, thickness, start, hide, source, target, boxes, tuple(rods), bit, wants)


class Brute:
    """The search."""

    def __init__(self, body: Body) -> None:
        self.body = body
        self.r = body.bit.diameter / 2
        self.exits = body.problem().exits
        self.entries = body.problem().entries
        self.longest = min(body.bit.reach, body.wants.longest)

    def best(self, sides: Collection[int] | None = None) -> float:
        """Most wood that any way of the grid keeps with every limit kept; minus infinity where none does.

        Args:
            sides: which walls it may start from; all when left out.
        """
        rough: list[tuple[float, int, int, Floats, Floats]] = []
        for entry in range(max(1, len(self.entries))) if sides is None else sides:
            for exit_ in range(len(self.exits)):
                rough += self._pair(entry, exit_)
        rough.sort(key=lambda each: -each[0])
        return max((self._refine(*each[1:]) for each in rough[:REFINED]), default=-np.inf)

    def judge(self, course: Course) -> tuple[float, float]:
        """By how much any limit but the wood would have to be eased for a way, mm, and the wood it leaves, mm."""
        exit_, tail = self._on(self.exits, course.end)
        entry, head = 0, course.start[:2]
        if self.body.hide is None:
            entry, head = self._on(self.entries, course.start)
        at = np.array([[*head, *tail]])
        return float(self._eased(entry, exit_, at)[0]), float(self._cover(entry, exit_, at, fine=6)[0])

    def _on(
        self, walls_: tuple[Wall, ...], place: tuple[float, float, float]
    ) -> tuple[int, tuple[float, float]]:
        """The wall that a place lies on, how far along it and how high."""
        x, y, z = place

        def off(wall: Wall) -> tuple[float, float]:
            a, b = np.array(wall.a), np.array(wall.b)
            way = (b - a) / np.linalg.norm(b - a)
            along = float((np.array([x, y]) - a) @ way)
            aside = np.array([x, y]) - a - np.clip(along, 0, np.linalg.norm(b - a)) * way
            return float(np.linalg.norm(aside)), along

        number = min(range(len(walls_)), key=lambda i: off(walls_[i])[0])
        return number, (off(walls_[number])[1], z)

    def _eased(self, entry: int, exit_: int, at: Floats) -> Floats:
        """By how much the limits but the wood would have to be eased, in steps, mm."""
        found = np.full(len(at), np.inf)
        rows = np.arange(len(at))
        for slack in reversed(EASED):
            rows = rows[self._keeps(entry, exit_, at[rows], slack=slack)]
            if len(rows) == 0:
                break
            found[rows] = slack
        return found

    def _pair(self, entry: int, exit_: int) -> list[tuple[float, int, int, Floats, Floats]]:
        """The best ways of one wall to another, roughly measured, no two near each other."""
        low, high = self._box(entry, exit_)
        if self._hopeless(entry, exit_):
            return []
        axes = [
            np.linspace(a, b, int(np.clip(ceil((b - a) / 2.0), 9, 21)))
            for a, b in zip(low, high, strict=True)
        ]
        grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 4)
        for slack in EASED[2:]:
            # A grid of 2 mm may step over the ways that keep narrow limits.
            points = np.concatenate(
                [
                    part[self._keeps(entry, exit_, part, slack=slack)]
                    for part in np.array_split(grid, max(1, len(grid) // 20000))
                ]
            )
            if len(points) >= FEW:
                break
        if len(points) == 0:
            return []
        rough = np.concatenate(
            [self._rough(entry, exit_, part) for part in np.array_split(points, max(1, len(points) // 20000))]
        )
        step = (high - low) / [max(1, len(axis) - 1) for axis in axes]
        chosen: list[int] = []
        for i in np.argsort(-rough)[:3000].tolist():
            if all((np.abs(points[i] - points[j]) > 2.5 * step).any() for j in chosen):
                chosen.append(i)
                if len(chosen) == 6:
                    break
        return [(float(rough[i]), entry, exit_, points[i], step) for i in chosen]

    def _refine(self, entry: int, exit_: int, centre: Floats, step: Floats) -> float:
        """The most wood that finer and finer grids round a way find; first of all every limit is to be kept.

        A grid alone sticks on the ridge between two distances: places at random go with it.
        """
        bounds = self._box(entry, exit_)
        grid = np.stack(np.meshgrid(*[[-1.0, 0.0, 1.0]] * 4, indexing="ij"), axis=-1).reshape(-1, 4)
        random = np.random.default_rng(0)
        found, eased, best = -np.inf, np.inf, centre
        size = step.copy()
        for turn in range(90):
            offsets = random.uniform(-1.0, 1.0, (80, 4)) if turn % 3 else grid
            around = np.clip(best + offsets * size, *bounds)
            needs = self._eased(entry, exit_, around)
            least = float(needs.min())
            if least <= eased and np.isfinite(least):
                around = around[needs == least]
                cover = self._cover(entry, exit_, around)
                i = int(np.argmax(cover))
                if least < eased or cover[i] > found + 1e-9:
                    found, eased, best = float(cover[i]), least, around[i]
                    continue
            size = size * 0.75
            if (size < 2e-3).all():
                break
        if eased > 0:
            return -np.inf
        # Between coarse points the search finds wood that is not there: the last word is that of many.
        found = float(self._cover(entry, exit_, best[np.newaxis], fine=6)[0])
        return found if found >= self.body.wants.least else -np.inf

    def _box(self, entry: int, exit_: int) -> tuple[Floats, Floats]:
        w = self.exits[exit_]
        length = float(np.hypot(w.b[0] - w.a[0], w.b[1] - w.a[1]))
        margin = self.r + self.body.wants.window
        tail = [margin, w.low + margin], [length - margin, w.high - margin]
        if self.body.hide is not None:
            corners = np.array(self.body.hide.corners())
            head = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
        else:
            e = self.entries[entry]
            own = float(np.hypot(e.b[0] - e.a[0], e.b[1] - e.a[1]))
            head = [margin, e.low + margin], [own - margin, e.high - margin]
        low, high = np.array([*head[0], *tail[0]]), np.array([*head[1], *tail[1]])
        return low, np.maximum(low, high)

    def _hopeless(self, entry: int, exit_: int) -> bool:
        low, high = self._box(entry, exit_)
        if (high <= low).any():
            return True
        corners = np.stack(np.meshgrid(*zip(low, high, strict=True), indexing="ij"), axis=-1).reshape(-1, 4)
        start, end, normal, inward = self._ends(entry, exit_, corners)
        run = end - start
        return bool(((run * inward).sum(axis=1) <= 0).all() or ((run * normal).sum(axis=1) >= 0).all())

    def _ends(self, entry: int, exit_: int, at: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        def on(wall: Wall, s: Floats, z: Floats) -> tuple[Floats, Floats]:
            a, b = np.array(wall.a), np.array(wall.b)
            way = (b - a) / np.linalg.norm(b - a)
            place = np.column_stack([a + s[:, np.newaxis] * way, z])
            return place, np.array([-way[1], way[0], 0.0])

        end, inward = on(self.exits[exit_], at[:, 2], at[:, 3])
        if self.body.hide is not None:
            start = np.column_stack([at[:, :2], np.zeros(len(at))])
            return start, end, np.array([0.0, 0.0, 1.0]), inward
        start, left = on(self.entries[entry], at[:, 0], at[:, 1])
        return start, end, left if self.body.start == "pocket" else -left, inward

    def _frame(self, axis: Floats) -> tuple[Floats, Floats]:
        u = np.column_stack([-axis[:, 1], axis[:, 0], np.zeros(len(axis))])
        u = u / np.maximum(np.linalg.norm(u, axis=1, keepdims=True), 1e-12)
        return u, np.cross(axis, u)

    def _ring_on(self, place: Floats, axis: Floats, normal: Floats, r: Floats, many: int = ROUND) -> Floats:
        """Points round the mouth of a cylinder in a plane, (n, many, 3)."""
        u, v = self._frame(axis)
        turn = np.linspace(0, 2 * pi, many, endpoint=False)
        rim = np.cos(turn)[:, np.newaxis] * u[:, np.newaxis] + np.sin(turn)[:, np.newaxis] * v[:, np.newaxis]
        rim = rim * r[:, np.newaxis, np.newaxis]
        along = -(rim @ normal) / (axis @ normal)[:, np.newaxis]
        return np.asarray(place[:, np.newaxis] + rim + along[..., np.newaxis] * axis[:, np.newaxis])

    def _keeps(self, entry: int, exit_: int, at: Floats, *, slack: float) -> Counts:
        """Whether every limit but the wood is kept, the limits eased by `slack` mm."""
        good = np.ones(len(at), dtype=bool)
        rows = np.arange(len(at))
        # The cheap limits first: each is asked only of the ways that the ones before it left.
        for test in (self._angles, self._ends_well, self._chuck_clears, self._mouths, self._over_rim):
            good[rows] = test(entry, exit_, at[rows], slack)
            rows = np.flatnonzero(good)
            if len(rows) == 0:
                break
        return good

    def _way(self, entry: int, exit_: int, at: Floats) -> tuple[Floats, Floats, Floats, Floats, Floats]:
        """Starts, axes, depths and lengths of ways, and the normal of the surface they start from."""
        start, end, normal, inward = self._ends(entry, exit_, at)
        length = np.linalg.norm(end - start, axis=1)
        axis = (end - start) / length[:, np.newaxis]
        out = axis @ inward
        depth = length + self.r * np.sqrt(np.maximum(1 - out**2, 0)) / np.maximum(out, 1e-9) + BREAK_OUT
        return start, axis, depth, length, normal

    def _angles(self, entry: int, exit_: int, at: Floats, slack: float) -> Counts:
        start, end, normal, inward = self._ends(entry, exit_, at)
        axis = (end - start) / np.linalg.norm(end - start, axis=1)[:, np.newaxis]
        least = sin(radians(15.0)) - 0.03 * slack
        return np.asarray((-(axis @ normal) >= least) & (axis @ inward >= least))

    def _ends_well(self, entry: int, exit_: int, at: Floats, slack: float) -> Counts:
        """Whether the bit stops short of the target's floor."""
        target = self.body.target
        start, axis, depth, _, _ = self._way(entry, exit_, at)
        tip = start[:, 2] + (depth + self.body.bit.point) * axis[:, 2]
        across = self.r * np.sqrt(1 - axis[:, 2] ** 2)
        bottom = start[:, 2] + depth * axis[:, 2]
        if target.high == 0.0:
            return np.asarray(np.minimum(tip, bottom - across) >= target.low - slack)
        return np.asarray(np.maximum(tip, bottom + across) <= target.high + slack)

    def _chuck_clears(self, entry: int, exit_: int, at: Floats, slack: float) -> Counts:
        """Whether the chuck, the bit's length back, stands over the face, or from the edge under the back or beyond
        the outline."""
        body, wants = self.body, self.body.wants
        start, axis, depth, _, _ = self._way(entry, exit_, at)
        back = self.longest - depth - body.bit.point
        u, v = self._frame(axis)
        turn = np.linspace(0, 2 * pi, 2 * ROUND, endpoint=False)
        rim = np.cos(turn) * u[:, 2:3] + np.sin(turn) * v[:, 2:3]
        centre = start - back[:, np.newaxis] * axis
        ok = (centre[:, 2] + wants.chuck * rim.min(axis=1) >= -slack) & (axis[:, 2] < 0)
        if body.start != "edge":
            return np.asarray(ok)
        ok |= (centre[:, 2] + wants.chuck * rim.max(axis=1) <= slack - body.thickness) & (axis[:, 2] > 0)
        rows = np.flatnonzero(~ok & (back > -slack))
        ok[rows] = self._beyond(centre[rows], axis[rows], slack)
        return np.asarray(ok)

    def _beyond(self, centre: Floats, axis: Floats, slack: float) -> Counts:
        """Whether a strip as wide as the chuck, from its foremost point straight back, misses the outline.

        The strip is drawn as many lines, and the outline's corners are looked at besides.
        """
        chuck = self.body.wants.chuck
        back = -axis[:, :2] / np.linalg.norm(axis[:, :2], axis=1, keepdims=True)
        side = np.column_stack([-back[:, 1], back[:, 0]])
        front = centre[:, :2] - back * (chuck * np.abs(axis[:, 2:3]) - slack - 5e-3)
        ok = np.ones(len(centre), dtype=bool)
        for (ax, ay), (bx, by) in _sides(list(self.body.outline)):
            a, b = np.array([ax, ay]) - front, np.array([bx, by]) - front
            va, vb = (a * side).sum(axis=1), (b * side).sum(axis=1)
            ua, ub = (a * back).sum(axis=1), (b * back).sum(axis=1)
            ok &= (np.abs(va) > chuck) | (ua <= 0)
            for v in np.linspace(-chuck, chuck, 25):
                met = (va - v) * (vb - v) < 0
                share = (v - va) / np.where(met, vb - va, 1.0)
                ok &= ~met | (ua + share * (ub - ua) <= 0)
        return ok

    def _mouths(self, entry: int, exit_: int, at: Floats, slack: float) -> Counts:
        """Whether both mouths lie in their walls, or the first under what hides it and beside the target."""
        body = self.body
        start, end, normal, inward = self._ends(entry, exit_, at)
        _, axis, _, length, _ = self._way(entry, exit_, at)
        mouth = self._ring_on(start, axis, normal, np.full(len(start), self.r))
        if body.hide is not None:
            u, v = body.hide.local(mouth)
            # A mouth sampled in 40 places may hide so much of its ellipse.
            reach = body.wants.hidden - slack - 5e-3
            ok = (np.abs(u).max(axis=1) <= body.hide.half[0] - reach) & (
                np.abs(v).max(axis=1) <= body.hide.half[1] - reach
            )
            tu, tv = body.target.local(mouth)
            ok &= ((np.abs(tu) >= body.target.half[0]) | (np.abs(tv) >= body.target.half[1])).all(axis=1)
        else:
            ok = self._in_wall(self.entries[entry], mouth, slack)
        far = self._ring_on(end[ok], axis[ok], inward, self.r + DRIFT * length[ok])
        ok[ok] = self._in_wall(self.exits[exit_], far, slack)
        return np.asarray(ok)

    def _in_wall(self, wall: Wall, ring: Floats, slack: float) -> Counts:
        a, b = np.array(wall.a), np.array(wall.b)
        way = (b - a) / np.linalg.norm(b - a)
        s = (ring[..., :2] - a) @ way
        keep = self.body.wants.window - slack - 5e-3
        return np.asarray(
            (s.min(axis=1) >= keep)
            & (s.max(axis=1) <= np.linalg.norm(b - a) - keep)
            & (ring[..., 2].min(axis=1) >= wall.low + keep)
            & (ring[..., 2].max(axis=1) <= wall.high - keep)
        )

    def _over_rim(self, entry: int, exit_: int, at: Floats, slack: float) -> Counts:
        """Lines along the under-side of a bit 0.5 mm fatter all round: where each leaves the pocket it is over its rim."""
        source = self.body.source
        if source is None:
            return np.ones(len(at), dtype=bool)
        start, axis, _, _, normal = self._way(entry, exit_, at)
        rho = self.r + 0.5
        slope = np.linalg.norm(axis[:, :2], axis=1)
        heading = axis[:, :2] / slope[:, np.newaxis]
        fall = -axis[:, 2] / slope
        ok = np.ones(len(start), dtype=bool)
        for v in np.linspace(-rho, rho, 33):
            side = np.column_stack([-heading[:, 1], heading[:, 0]]) * v
            place = np.column_stack([start[:, :2] + side, start[:, 2]])
            lu, lv = source.local(place)
            c, s = cos(source.turn), sin(source.turn)
            bu, bv = -(heading[:, 0] * c + heading[:, 1] * s), -(heading[:, 1] * c - heading[:, 0] * s)
            far, near = np.full(len(start), np.inf), np.full(len(start), -np.inf)
            for p, d, half in ((lu, bu, source.half[0]), (lv, bv, source.half[1])):
                with np.errstate(divide="ignore", invalid="ignore"):
                    out = np.where(np.abs(d) > 1e-12, (np.sign(d) * half - p) / d, np.inf)
                    into = np.where(np.abs(d) > 1e-12, (-np.sign(d) * half - p) / d, -np.inf)
                far, near = np.minimum(far, out), np.maximum(near, into)
            # A line that comes out of the wood beside the pocket, not out of the wall's plane, is over the rim there too.
            wall = ((start - place) @ normal) / -(heading @ normal[:2])
            beside = near > wall + 0.05
            for at_rim, counts in ((far, np.ones(len(start), dtype=bool)), (near, beside)):
                under = start[:, 2] + at_rim * fall - np.sqrt(max(rho**2 - v**2, 0.0)) / slope
                ok &= ~counts | (under >= -slack - 5e-3)
        return ok

    def _surface(self, entry: int, exit_: int, at: Floats, fine: int = 1) -> Floats:
        """Points on the tunnel's side and its rims, (n, LONG × fine, ROUND × fine, 3)."""
        start, axis, depth, _, normal = self._way(entry, exit_, at)
        level = -(axis @ normal)
        wide = self.r + DRIFT * self.r * np.sqrt(np.maximum(1 - level**2, 0)) / level
        mouth = self._ring_on(start, axis, normal, wide, ROUND * fine)
        u, v = self._frame(axis)
        turn = np.linspace(0, 2 * pi, ROUND * fine, endpoint=False)
        rim = np.cos(turn)[:, np.newaxis] * u[:, np.newaxis] + np.sin(turn)[:, np.newaxis] * v[:, np.newaxis]
        bottom = (start + depth[:, np.newaxis] * axis)[:, np.newaxis] + rim * (self.r + DRIFT * depth)[
            :, np.newaxis, np.newaxis
        ]
        share = np.linspace(0, 1, LONG * fine)[:, np.newaxis, np.newaxis, np.newaxis]
        return np.asarray((mouth + share * (bottom - mouth)).transpose(1, 0, 2, 3))

    def _obstacles(
        self, entry: int, exit_: int, at: Floats
    ) -> list[tuple[Callable[[Floats], Floats], Counts]]:
        """What is to be kept clear of, the faces left out: its distance from points, and whether each way has to."""
        body, every = self.body, np.ones(len(at), dtype=bool)
        found: list[tuple[Callable[[Floats], Floats], Counts]] = [(box.distance, every) for box in body.boxes]
        found += [(rod.distance, every) for rod in body.rods]
        own = {}
        if body.start == "edge":
            start, end, _, _ = self._ends(entry, exit_, at)
            own = self._own(entry, (end - start) / np.linalg.norm(end - start, axis=1, keepdims=True))
        for number, (a, b) in enumerate(_sides(list(body.outline))):
            counts = ~own[number] if number in own else every
            if counts.any():
                found.append((partial(_to_side, np.array(a), np.array(b)), counts))
        return found

    def _to_faces(self, points: Floats) -> Floats:
        """Wood from points to the faces, (n,): not to the one a tunnel is drilled from."""
        z = points[..., 2].reshape(len(points), -1)
        down = z.min(axis=1) + self.body.thickness
        return np.asarray(down if self.body.hide is not None else np.minimum(down, -z.max(axis=1)))

    def _own(self, entry: int, axis: Floats) -> dict[int, Counts]:
        """Sides of the outline that are the wall each way goes in by.

        Its own side, and on from there those that it meets at 30° or more, up to the next corner of over 30°.
        """
        corners = np.array(self.body.outline)
        run = np.roll(corners, -1, axis=0) - corners
        way = np.arctan2(run[:, 1], run[:, 0])
        inward = np.column_stack([-np.sin(way), np.cos(way)])
        n, own = len(corners), {entry: np.ones(len(axis), dtype=bool)}
        for step in (1, -1):
            here, still = entry, own[entry]
            for _ in range(n - 1):
                there = (here + step) % n
                if abs((way[there] - way[here] + pi) % (2 * pi) - pi) > radians(30.0):
                    break
                still = still & (axis[:, :2] @ inward[there] >= sin(radians(30.0)))
                own[there] = own.get(there, np.zeros(len(axis), dtype=bool)) | still
                here = there
        return own

    def _cover(self, entry: int, exit_: int, at: Floats, fine: int = 1) -> Floats:
        """Wood of ways.

        Each tunnel is cut into lengths with a ball round each; only what lies nearer to a ball than the least wood
        found so far is measured from the points within it.
        """
        points = self._surface(entry, exit_, at, fine)
        best = self._to_faces(points)
        lengths = points.reshape(len(at), BALLS, -1, 3)
        centre = lengths.mean(axis=2)
        size = np.sqrt(((lengths - centre[:, :, np.newaxis]) ** 2).sum(axis=-1).max(axis=2))
        nearest = []
        for measure, counts in self._obstacles(entry, exit_, at):
            nearest.append((np.where(counts[:, np.newaxis], measure(centre) - size, np.inf), measure))
        for off, measure in sorted(nearest, key=lambda each: float(each[0].min())):
            rows, part = np.nonzero(off < best[:, np.newaxis])
            np.minimum.at(best, rows, measure(lengths[rows, part]).min(axis=1))
        return best

    def _rough(self, entry: int, exit_: int, at: Floats) -> Floats:
        start, end, _, _ = self._ends(entry, exit_, at)
        share = np.linspace(0, 1, 9)[:, np.newaxis]
        axis = start[:, np.newaxis] + share * (end - start)[:, np.newaxis]
        wood = [self._to_faces(axis)]
        for measure, counts in self._obstacles(entry, exit_, at):
            wood.append(np.where(counts, measure(axis).min(axis=1), np.inf))
        return np.asarray(np.minimum.reduce(wood) - self.r)


def _to_side(a: Floats, b: Floats, points: Floats) -> Floats:
    run = b - a
    share = np.clip(((points[..., :2] - a) @ run) / (run @ run), 0, 1)
    off = points[..., :2] - a - share[..., np.newaxis] * run
    return np.asarray(np.hypot(off[..., 0], off[..., 1]))
