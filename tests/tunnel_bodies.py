"""Random bodies with a tunnel to be found, and a search by brute force that shares no code with the solver.

The search tries a fine grid over the four numbers of a way, then finer grids round the best of them. Its distances are
those of points sampled on the tunnel's surface from boxes, cylinders and upright walls, each in closed form. Points
sampled on a surface are never nearer than the surface, so what it finds is, if anything, too good for the solver.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, cos, pi, radians, sin

import numpy as np
from numpy.typing import NDArray

from scribeline.features import Bit
from scribeline.solid.shapes import Turned
from scribeline.solid.tunnels.problem import Hollow, Problem, Wall, Wants

Floats = NDArray[np.float64]

DRIFT = 0.01
BREAK_OUT = 1.0
ROUND = 40
LONG = 36
REFINED = 8


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
            exits=walls(self.target.corners(), self.target.low, self.target.high),
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

    def best(self) -> float:
        """Most wood that any way of the grid keeps with every limit kept; minus infinity where none does."""
        rough: list[tuple[float, int, int, Floats, Floats]] = []
        for entry in range(max(1, len(self.entries))):
            for exit_ in range(len(self.exits)):
                rough += self._pair(entry, exit_)
        rough.sort(key=lambda each: -each[0])
        return max((self._refine(*each[1:]) for each in rough[:REFINED]), default=-np.inf)

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
        kept = []
        for part in np.array_split(grid, max(1, len(grid) // 20000)):
            good = part[self._keeps(entry, exit_, part, slack=1.0)]
            if len(good):
                kept.append((good, self._rough(entry, exit_, good)))
        if not kept:
            return []
        points = np.concatenate([part for part, _ in kept])
        rough = np.concatenate([cover for _, cover in kept])
        step = (high - low) / [max(1, len(axis) - 1) for axis in axes]
        chosen: list[int] = []
        for i in np.argsort(-rough)[:3000].tolist():
            if all((np.abs(points[i] - points[j]) > 2.5 * step).any() for j in chosen):
                chosen.append(i)
                if len(chosen) == 6:
                    break
        return [(float(rough[i]), entry, exit_, points[i], step) for i in chosen]

    def _refine(self, entry: int, exit_: int, centre: Floats, step: Floats) -> float:
        """The most wood that finer and finer grids round a way find."""
        bounds = self._box(entry, exit_)
        offsets = np.stack(np.meshgrid(*[[-1.0, 0.0, 1.0]] * 4, indexing="ij"), axis=-1).reshape(-1, 4)
        found, best = -np.inf, centre
        size = step.copy()
        for turn in range(40):
            around = np.clip(best + offsets * size, *bounds)
            slack = 1.0 if turn < 4 and found == -np.inf else 0.0
            good = self._keeps(entry, exit_, around, slack=slack)
            if good.any():
                around = around[good]
                cover = self._cover(entry, exit_, around)
                i = int(np.argmax(cover))
                if cover[i] > found + 1e-9 or slack:
                    found = -np.inf if slack else float(cover[i])
                    best = around[i]
                    if not slack:
                        continue
            size = size * 0.6
            if (size < 2e-3).all():
                break
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

    def _ring_on(self, place: Floats, axis: Floats, normal: Floats, r: Floats) -> Floats:
        """Points round the mouth of a cylinder in a plane, (n, ROUND, 3)."""
        u, v = self._frame(axis)
        turn = np.linspace(0, 2 * pi, ROUND, endpoint=False)
        rim = np.cos(turn)[:, np.newaxis] * u[:, np.newaxis] + np.sin(turn)[:, np.newaxis] * v[:, np.newaxis]
        rim = rim * r[:, np.newaxis, np.newaxis]
        along = -(rim @ normal) / (axis @ normal)[:, np.newaxis]
        return np.asarray(place[:, np.newaxis] + rim + along[..., np.newaxis] * axis[:, np.newaxis])

    def _keeps(self, entry: int, exit_: int, at: Floats, *, slack: float) -> NDArray[np.bool_]:
        """Whether every limit but the wood is kept, the limits eased by `slack` mm."""
        body, wants = self.body, self.body.wants
        start, end, normal, inward = self._ends(entry, exit_, at)
        run = end - start
        length = np.linalg.norm(run, axis=1)
        axis = run / length[:, np.newaxis]
        least = sin(radians(15.0)) - 0.03 * slack
        into, out = -(axis @ normal), axis @ inward
        good = (into >= least) & (out >= least)
        rows = np.flatnonzero(good)
        if len(rows) == 0:
            return np.asarray(good)
        start, end, axis, length, out = (part[rows] for part in (start, end, axis, length, out))
        ok = self._in_wall(
            self.exits[exit_], self._ring_on(end, axis, inward, self.r + DRIFT * length), slack
        )
        if body.hide is not None:
            mouth = self._ring_on(start, axis, normal, np.full(len(start), self.r))
            u, v = body.hide.local(mouth)
            reach = (
                wants.hidden - slack - 5e-3
            )  # a mouth sampled in 40 places may hide so much of its ellipse
            ok &= (np.abs(u).max(axis=1) <= body.hide.half[0] - reach) & (
                np.abs(v).max(axis=1) <= body.hide.half[1] - reach
            )
            tu, tv = body.target.local(mouth)
            ok &= ((np.abs(tu) >= body.target.half[0]) | (np.abs(tv) >= body.target.half[1])).all(axis=1)
        else:
            ok &= self._in_wall(
                self.entries[entry], self._ring_on(start, axis, normal, np.full(len(start), self.r)), slack
            )
        depth = length + self.r * np.sqrt(1 - np.minimum(out, 1) ** 2) / out + BREAK_OUT
        point = body.bit.point
        tip = start[:, 2] + (depth + point) * axis[:, 2]
        slope = np.sqrt(1 - axis[:, 2] ** 2)
        bottom = start[:, 2] + depth * axis[:, 2]
        if body.target.high == 0.0:
            ok &= np.minimum(tip, bottom - self.r * slope) >= body.target.low - slack
        else:
            ok &= np.maximum(tip, bottom + self.r * slope) <= body.target.high + slack
        if body.start != "edge":
            # The chuck's rim at the bit's length back, lowest of many places, stands over the face.
            back = self.longest - depth - point
            u, v = self._frame(axis)
            turn = np.linspace(0, 2 * pi, 2 * ROUND, endpoint=False)
            rim = np.cos(turn) * u[:, 2:3] + np.sin(turn) * v[:, 2:3]
            lowest = start[:, 2] - back * axis[:, 2] + wants.chuck * rim.min(axis=1)
            ok &= (lowest >= -slack) & (axis[:, 2] < 0)
        if body.source is not None:
            ok &= self._over_rim(start, axis, normal, slack)
        good[rows] = ok
        return np.asarray(good)

    def _in_wall(self, wall: Wall, ring: Floats, slack: float) -> NDArray[np.bool_]:
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

    def _over_rim(self, start: Floats, axis: Floats, normal: Floats, slack: float) -> NDArray[np.bool_]:
        """Lines along the under-side of a bit 0.5 mm fatter all round: where each leaves the pocket it is over its rim."""
        source = self.body.source
        assert source is not None
        rho = self.r + 0.5
        slope = np.linalg.norm(axis[:, :2], axis=1)
        heading = axis[:, :2] / slope[:, np.newaxis]
        fall = -axis[:, 2] / slope
        ok = np.ones(len(start), dtype=bool)
        for v in np.linspace(-rho, rho, 33):
            side = np.column_stack([-heading[:, 1], heading[:, 0]]) * v
            place = np.column_stack([start[:, :2] + side, start[:, 2]])
            # On from the wall's plane, where this line enters the pocket.
            lu, lv = source.local(place)
            c, s = cos(source.turn), sin(source.turn)
            bu, bv = -(heading[:, 0] * c + heading[:, 1] * s), -(heading[:, 1] * c - heading[:, 0] * s)
            far = np.full(len(start), np.inf)
            for p, d, half in ((lu, bu, source.half[0]), (lv, bv, source.half[1])):
                with np.errstate(divide="ignore", invalid="ignore"):
                    exit_ = np.where(np.abs(d) > 1e-12, (np.sign(d) * half - p) / d, np.inf)
                far = np.minimum(far, exit_)
            under = start[:, 2] + far * fall - np.sqrt(max(rho**2 - v**2, 0.0)) / slope
            ok &= under >= -slack - 5e-3
        return ok

    def _surface(self, entry: int, exit_: int, at: Floats, long: int = LONG) -> Floats:
        """Points on the tunnel's side and its rims, (n, points, 3)."""
        start, end, normal, inward = self._ends(entry, exit_, at)
        length = np.linalg.norm(end - start, axis=1)
        axis = (end - start) / length[:, np.newaxis]
        out, level = axis @ inward, -(axis @ normal)
        depth = length + self.r * np.sqrt(np.maximum(1 - out**2, 0)) / out + BREAK_OUT
        wide = self.r + DRIFT * self.r * np.sqrt(np.maximum(1 - level**2, 0)) / level
        mouth = self._ring_on(start, axis, normal, wide)
        u, v = self._frame(axis)
        turn = np.linspace(0, 2 * pi, ROUND, endpoint=False)
        rim = np.cos(turn)[:, np.newaxis] * u[:, np.newaxis] + np.sin(turn)[:, np.newaxis] * v[:, np.newaxis]
        bottom = (start + depth[:, np.newaxis] * axis)[:, np.newaxis] + rim * (self.r + DRIFT * depth)[
            :, np.newaxis, np.newaxis
        ]
        share = np.linspace(0, 1, long)[:, np.newaxis, np.newaxis, np.newaxis]
        return np.asarray((mouth + share * (bottom - mouth)).transpose(1, 0, 2, 3).reshape(len(at), -1, 3))

    def _least(self, points: Floats, entry: int) -> Floats:
        """Wood from points to everything that is to be kept clear of, (n,)."""
        body = self.body
        found = [points[..., 2] + body.thickness]
        if body.hide is None:
            found.append(-points[..., 2])
        found += [box.distance(points) for box in body.boxes]
        found += [rod.distance(points) for rod in body.rods]
        for number, (a, b) in enumerate(_sides(list(body.outline))):
            if body.start != "edge" or number not in self._own[entry]:
                found.append(self._to_side(points, np.array(a), np.array(b)))
        return np.asarray(np.minimum.reduce(found).min(axis=1))

    def _to_side(self, points: Floats, a: Floats, b: Floats) -> Floats:
        run = b - a
        share = np.clip(((points[..., :2] - a) @ run) / (run @ run), 0, 1)
        off = points[..., :2] - a - share[..., np.newaxis] * run
        return np.asarray(np.hypot(off[..., 0], off[..., 1]))

    @property
    def _own(self) -> dict[int, set[int]]:
        return {entry: {entry} for entry in range(len(self.entries))}

    def _cover(self, entry: int, exit_: int, at: Floats) -> Floats:
        return self._least(self._surface(entry, exit_, at), entry)

    def _rough(self, entry: int, exit_: int, at: Floats) -> Floats:
        start, end, _, _ = self._ends(entry, exit_, at)
        share = np.linspace(0, 1, 9)[:, np.newaxis]
        axis = start[:, np.newaxis] + share * (end - start)[:, np.newaxis]
        return self._least(axis, entry) - self.r
