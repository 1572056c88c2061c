"""The wood between cuts, held to an oracle of its own: both surfaces sampled, and the samples drawn together.

The oracle knows nothing of planes, hulls or profiles. Every surface is a ruled patch, from one curve to another; a
coarse grid on all patches of both cuts finds the likeliest pairs of patches, and about the nearest samples of each
pair a finer grid is laid again and again, down to 1e-5 mm and less. What it finds is the distance of two real points
of the two surfaces, so it can only be too large. A cut that holds a sample of the other is as near as can be: 0.

Its own resolution: a patch pair it did not follow, or a long narrow valley between two nearly parallel sides, can
leave it too large by `RESOLUTION`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import cycle, islice, pairwise
from math import cos, pi, radians, sin

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from tests.torture import long

from scribeline.features import DOWN, Bit, Bore, Feature, Features, Pocket, Step
from scribeline.features.cuts import Face
from scribeline.layout import Point, Point3, Ring
from scribeline.solid import Web, find_webs
from scribeline.solid.distance import least
from scribeline.solid.shapes import Prism, Shape, shape_of

THICKNESS = 44.0
RESOLUTION = 0.01
SPUR = 0.5
"""Width of a brad point's spur as a share of the diameter, as the solid is described."""

Floats = NDArray[np.float64]


# --- The oracle.

ROUND, STRAIGHT = 0, 1
PATCH = tuple[int, Floats, Floats]
"""How the curve runs, and the two curves: each a centre and two half-axes, or a start and a run."""


@dataclass(frozen=True)
class Turned:
    """What one bit cuts, from its face or its wall (whose normal points out of the wood) inwards."""

    at: Floats
    axis: Floats
    out: Floats
    radius: float
    depth: float
    tip: float
    flat: bool

    def frame(self) -> tuple[Floats, Floats]:
        helper = np.array([0.0, 0, 1.0]) if abs(self.axis[2]) < 0.9 else np.array([1.0, 0, 0])
        u = np.cross(self.axis, helper)
        u /= np.linalg.norm(u)
        return u, np.cross(self.axis, u)

    def patches(self) -> Iterator[PATCH]:
        u, v = self.frame()
        # A line of the mantle meets the face where it is as far out as the face is.
        slope = self.axis @ self.out
        mouth = np.array([self.at, *(self.radius * (w - self.axis * (w @ self.out) / slope) for w in (u, v))])
        end = np.array([self.at + self.depth * self.axis, self.radius * u, self.radius * v])
        tip = np.array([self.at + self.tip * self.axis, 0 * u, 0 * v])
        yield ROUND, mouth, end
        yield ROUND, np.array([self.at, 0 * u, 0 * v]), mouth
        if self.flat:
            spur = np.array([end[0], SPUR * end[1], SPUR * end[2]])
            yield ROUND, np.array([end[0], 0 * u, 0 * v]), end
            if self.tip > self.depth:
                yield ROUND, spur, tip
        else:
            yield ROUND, end, tip

    def holds(self, p: Floats) -> NDArray[np.bool_]:
        along = (p - self.at) @ self.axis
        out = np.linalg.norm(p - self.at - along[:, np.newaxis] * self.axis, axis=1)
        into_wood = (p - self.at) @ self.out <= 1e-12
        body = (along <= self.depth) & (out <= self.radius)
        wide = self.radius * (SPUR if self.flat else 1.0)
        length = self.tip - self.depth
        point = (along >= self.depth) & (out * length <= wide * (self.tip - along)) if length > 0 else body
        return np.asarray(into_wood & (body | point))

    def core(self) -> Floats:
        return np.asarray(self.at + np.linspace(0.01, self.depth, 20)[:, np.newaxis] * self.axis)


@dataclass(frozen=True)
class Routed:
    """What a router cuts."""

    plan: shapely.Polygon
    low: float
    high: float

    def patches(self) -> Iterator[PATCH]:
        for ring in (self.plan.exterior, *self.plan.interiors):
            places = shapely.get_coordinates(ring)
            for a, b in pairwise(places):
                yield STRAIGHT, self._line(a, b, self.low), self._line(a, b, self.high)
        for triangle in shapely.constrained_delaunay_triangles(self.plan).geoms:
            a, b, c, _ = shapely.get_coordinates(triangle)
            for z in (self.low, self.high):
                yield STRAIGHT, self._line(a, a, z), self._line(b, c, z)

    @staticmethod
    def _line(a: Floats, b: Floats, z: float) -> Floats:
        return np.array([[*a, z], [*(b - a), 0], [0, 0, 0]])

    def holds(self, p: Floats) -> NDArray[np.bool_]:
        level = (p[:, 2] >= self.low) & (p[:, 2] <= self.high)
        return np.asarray(level & shapely.intersects_xy(self.plan, p[:, 0], p[:, 1]))

    def core(self) -> Floats:
        inside = self.plan.representative_point()
        return np.array([[inside.x, inside.y, (self.low + self.high) / 2]])


Part = Turned | Routed


def parts_of(feature: Feature) -> list[Part]:
    if isinstance(feature, Pocket):
        low, high = (
            (-feature.depth, 0.0) if feature.face == "top" else (-THICKNESS, feature.depth - THICKNESS)
        )
        return [Routed(shapely.Polygon(feature.outline), low, high)]
    at, axis = np.array(feature.at), np.array(feature.axis)
    outs = {"top": np.array([0.0, 0, 1]), "back": np.array([0.0, 0, -1])}
    out = outs[feature.face] if feature.face in outs else np.array(feature.outward)
    return [
        Turned(at, axis, out, s.diameter / 2, s.depth, s.depth + s.bit.point, s.bit.kind != "twist")
        for s in feature.steps
    ]


def points(how: NDArray[np.intp], curves: Floats, u: Floats, v: Floats) -> Floats:
    """Places on patches: (n, 2, 3, 3) curves, (n, m) parameters to (n, m, 3) places."""
    run = how[:, np.newaxis] == STRAIGHT
    f = np.where(run, np.clip(u, 0, 1), np.cos(2 * pi * u))[..., np.newaxis]
    g = np.where(run, 0.0, np.sin(2 * pi * u))[..., np.newaxis]
    v = np.clip(v, 0, 1)[..., np.newaxis]
    one, other = (
        curves[:, k, 0, np.newaxis] + f * curves[:, k, 1, np.newaxis] + g * curves[:, k, 2, np.newaxis]
        for k in (0, 1)
    )
    return np.asarray(one + v * (other - one))


class Surface:
    """All patches of a cut, and a coarse grid on each."""

    def __init__(self, parts: list[Part]) -> None:
        patches = [patch for part in parts for patch in part.patches()]
        self.parts = parts
        self.how = np.array([how for how, _, _ in patches])
        self.curves = np.array([(a, b) for _, a, b in patches])
        turns, levels = 20, 6
        self.u, self.v = (
            grid.ravel() for grid in np.meshgrid(np.arange(turns) / (turns - 1), np.linspace(0, 1, levels))
        )
        self.places = points(
            self.how, self.curves, *(np.tile(x, (len(self.how), 1)) for x in (self.u, self.v))
        )
        self.all = np.concatenate([self.places.reshape(-1, 3), *(part.core() for part in parts)])

    def holds(self, p: Floats) -> bool:
        return any(bool(part.holds(p).any()) for part in self.parts)


STARTS = 40


@dataclass(frozen=True)
class Start:
    pair: int
    one: int
    other: int
    params: tuple[float, float, float, float]


def starts(pair: int, a: Surface, b: Surface) -> list[Start]:
    """The likeliest pairs of patches, with the nearest samples of each."""
    p, q = a.places.reshape(-1, 3), b.places.reshape(-1, 3)
    apart = (p**2).sum(axis=1)[:, np.newaxis] + (q**2).sum(axis=1) - 2 * p @ q.T
    m, n = len(a.how), len(b.how)
    blocks = apart.reshape(m, -1, n, len(b.u)).transpose(0, 2, 1, 3).reshape(m * n, -1)
    nearest = blocks.argmin(axis=1)
    order = np.argsort(blocks[np.arange(m * n), nearest])[:STARTS]
    found = []
    for block in order.tolist():
        i, j = divmod(int(nearest[block]), len(b.u))
        found.append(Start(pair, block // n, block % n, (a.u[i], a.v[i], b.u[j], b.v[j])))
    return found


GRID = np.array([(x, y) for x in (-1, -0.5, 0, 0.5, 1) for y in (-1, -0.5, 0, 0.5, 1)])
TIE = 1e-11 * np.abs(GRID).sum(axis=1)
"""Of equally near samples the middle ones are taken, mm²."""

FINEST = 1e-5
"""A grid is laid no finer than this, as a share of a patch."""

CULLED_AFTER, HOPELESS = 12, 1.0
"""After so many rounds a start further behind its pair's best than this is dropped, mm."""


def drawn_together(begun: list[Start], surfaces: list[tuple[Surface, Surface]], rounds: int = 90) -> Floats:
    """The distance each start comes down to.

    The grid moves with the nearest samples, grows where they lie on its rim, and shrinks once they stay.
    """
    how = np.array([[surfaces[s.pair][k].how[(s.one, s.other)[k]] for k in (0, 1)] for s in begun])
    curves = np.array([[surfaces[s.pair][k].curves[(s.one, s.other)[k]] for k in (0, 1)] for s in begun])
    straight = np.stack(
        [how[:, 0] == STRAIGHT, how[:, 0] >= 0, how[:, 1] == STRAIGHT, how[:, 1] >= 0], axis=1
    )
    at = np.array([s.params for s in begun])
    reach = np.tile([0.06, 0.2, 0.06, 0.2], (len(begun), 1))
    best, live = np.full(len(begun), np.inf), np.arange(len(begun))
    pair = np.array([s.pair for s in begun])
    for turn in range(rounds):
        c, r, rows = at[live], reach[live], np.arange(len(live))
        u, v = c[:, 0:1] + r[:, 0:1] * GRID[:, 0], c[:, 1:2] + r[:, 1:2] * GRID[:, 1]
        s, t = c[:, 2:3] + r[:, 2:3] * GRID[:, 0], c[:, 3:4] + r[:, 3:4] * GRID[:, 1]
        p = points(how[live, 0], curves[live, 0], u, v)
        q = points(how[live, 1], curves[live, 1], s, t)
        middle = p.mean(axis=1, keepdims=True)
        p, q = p - middle, q - middle
        apart = (p**2).sum(axis=2)[:, :, np.newaxis] + (q**2).sum(axis=2)[:, np.newaxis]
        apart += TIE[:, np.newaxis] + TIE - 2 * p @ q.transpose(0, 2, 1)
        i, j = np.divmod(apart.reshape(len(live), -1).argmin(axis=1), len(GRID))
        new = np.stack([u[rows, i], v[rows, i], s[rows, j], t[rows, j]], axis=1)
        at[live] = np.where(straight[live], np.clip(new, 0, 1), new)
        best[live] = np.minimum(best[live], np.linalg.norm(p[rows, i] - q[rows, j], axis=1))
        step = np.abs(np.where(straight[live], np.clip(new, 0, 1), new) - c) / r
        still = (step < 0.25).all(axis=1)[:, np.newaxis]
        reach[live] = np.where(still, 0.4 * r, np.where(step > 0.75, np.minimum(1.5 * r, 0.5), r))
        if turn == CULLED_AFTER:
            least_of = np.full(pair.max() + 1, np.inf)
            np.minimum.at(least_of, pair, best)
            live = live[best[live] < least_of[pair[live]] + HOPELESS]
        live = live[reach[live].max(axis=1) > FINEST]
        if len(live) == 0:
            break
    return best


def oracle(pairs: list[tuple[list[Part], list[Part]]]) -> Floats:
    """Distance of every pair: never smaller than the truth."""
    surfaces = [(Surface(a), Surface(b)) for a, b in pairs]
    met = np.array([a.holds(b.all) or b.holds(a.all) for a, b in surfaces])
    begun = [start for k in np.flatnonzero(~met).tolist() for start in starts(k, *surfaces[k])]
    found = np.where(met, 0.0, np.inf)
    for low in range(0, len(begun), 300):
        some = begun[low : low + 300]
        np.minimum.at(found, np.array([s.pair for s in some]), drawn_together(some, surfaces))
    return found


# --- Random cuts of every kind.

KINDS = ("upright", "slanting", "from the edge", "through a pocket", "convex pocket", "crooked pocket")


def bore(rng: np.random.Generator, name: str, slanting: bool) -> Bore:
    angle = radians(rng.uniform(15, 85))
    heading = rng.uniform(0, 2 * pi)
    top = bool(rng.integers(2))
    axis = Point3(cos(heading) * cos(angle), sin(heading) * cos(angle), -sin(angle)) if slanting else DOWN
    if not top:
        axis = replace_z(axis, -axis.z)
    wide = rng.uniform(1, 6)
    # Deep enough that the bottom lies in the wood all round.
    depth = rng.uniform(2, 12) + (wide / 2 / np.tan(angle) / sin(angle) if slanting else 0.0)
    steps = []
    for _ in range(int(rng.integers(1, 4))):
        cone = float(wide / 2 / np.tan(radians(rng.uniform(40, 70))))
        bits = (
            Bit("twist", wide, cone),
            Bit("brad-point", wide, 0.3 * wide),
            Bit("flat-bottomed", wide, 1.5),
        )
        steps.append(Step(wide, depth, bits[rng.integers(3)]))
        wide, depth = wide * rng.uniform(0.4, 0.9), depth + rng.uniform(1, 15)
    if not slanting and rng.integers(3) == 0:
        # A countersink: no depth at full diameter, a cone of 90°.
        steps[0] = replace(steps[0], depth=0.0, bit=Bit("twist", steps[0].diameter, steps[0].diameter / 2))
    at = Point3(rng.uniform(-15, 15), rng.uniform(-15, 15), 0.0 if top else -THICKNESS)
    return Bore(name, "hole", "holes", "top" if top else "back", at, axis, tuple(steps))


def wall_bore(rng: np.random.Generator, name: str, face: Face) -> Bore:
    """A bore through a flat wall: level and up to 50° off square from the edge, any way out of a pocket."""
    turn, aside = rng.uniform(0, 2 * pi), radians(rng.uniform(-50, 50))
    out = Point3(cos(turn), sin(turn), 0.0)
    if rng.integers(3) == 0:
        aside = 0.0
    rise = radians(rng.uniform(-35, 35)) if face == "pocket" else 0.0
    axis = Point3(-cos(turn + aside) * cos(rise), -sin(turn + aside) * cos(rise), sin(rise))
    made = bore(rng, name, False)
    # Deep enough that the bottom lies in the wood all round.
    sine = cos(aside) * cos(rise)
    more = made.widest / 2 * float(np.sqrt(1 - sine**2)) / sine
    steps = tuple(replace(s, depth=s.depth + more) for s in made.steps)
    at = Point3(rng.uniform(-15, 15), rng.uniform(-15, 15), rng.uniform(-38, -6))
    return Bore(name, "hole", "holes", face, at, axis, steps, outward=out)


def replace_z(p: Point3, z: float) -> Point3:
    return Point3(p.x, p.y, z)


def pocket(rng: np.random.Generator, name: str, crooked: bool) -> Pocket:
    if crooked:
        angles = np.sort(rng.uniform(0, 2 * pi, 9))
        far = rng.uniform(3, 15, 9)
    else:
        angles, far = np.sort(rng.uniform(0, 2 * pi, 6)), np.full(6, rng.uniform(4, 12))
    around = np.column_stack([far * np.cos(angles), far * np.sin(angles)])
    plan = shapely.Polygon(around)
    if not plan.is_valid or plan.area < 10:
        return pocket(rng, name, crooked)
    corners = shapely.get_coordinates(shapely.geometry.polygon.orient(plan).exterior)[:-1] + rng.uniform(
        -12, 12, 2
    )
    ring = Ring(Point(float(x), float(y)) for x, y in corners)
    return Pocket(name, name, ("top", "back")[rng.integers(2)], ring, float(rng.uniform(2, 36)), 0.0)


def cut(rng: np.random.Generator, kind: str, name: str) -> Feature:
    if kind.endswith("pocket"):
        return pocket(rng, name, kind == "crooked pocket")
    if kind in {"from the edge", "through a pocket"}:
        return wall_bore(rng, name, "edge" if kind == "from the edge" else "pocket")
    return bore(rng, name, kind == "slanting")


def moved(feature: Feature, dx: float, dy: float) -> Feature:
    if isinstance(feature, Pocket):
        return replace(feature, outline=Ring(Point(p.x + dx, p.y + dy) for p in feature.outline))
    return replace(feature, at=Point3(feature.at.x + dx, feature.at.y + dy, feature.at.z))


def webs_of(pairs: list[tuple[Feature, Feature]]) -> list[Web]:
    """The engine's answers, every pair far away from all others in one body."""
    cuts = [
        moved(replace(f, id=f"{k:04}{side}"), 500.0 * (k % 20), 500.0 * (k // 20))
        for k, pair in enumerate(pairs)
        for side, f in zip("ab", pair, strict=True)
    ]
    whole = Features(
        tuple(f for f in cuts if isinstance(f, Bore)), tuple(f for f in cuts if isinstance(f, Pocket))
    )
    found = {web.a[:4]: web for web in find_webs(whole, THICKNESS, near=200.0)}
    return [found[f"{k:04}"] for k in range(len(pairs))]


def nudged(pairs: list[tuple[Feature, Feature]], into: float) -> list[tuple[Feature, Feature]]:
    """Each second cut moved across the body until the two just touch, and on by `into`."""

    def at(shares: Floats) -> list[tuple[Feature, Feature]]:
        return [(a, moved(b, *(s * far))) for (a, b), s, far in zip(pairs, shares, aways, strict=True)]

    rng = np.random.default_rng(5)
    turns = rng.uniform(0, 2 * pi, len(pairs))
    aways = np.column_stack([np.cos(turns), np.sin(turns)])
    low, high = np.zeros(len(pairs)), np.full(len(pairs), 120.0)
    for _ in range(26):
        middle = (low + high) / 2
        meet = np.array([web.mm < 1e-9 for web in webs_of(at(middle))])
        low, high = np.where(meet, middle, low), np.where(meet, high, middle)
    return at((low + high) / 2 - into)


def pairs_of(seed: int, count: int) -> list[tuple[Feature, Feature]]:
    rng = np.random.default_rng(seed)
    kinds = [(p, q) for p in KINDS for q in KINDS]
    kinds = kinds[seed % len(kinds) :] + kinds[: seed % len(kinds)]
    return [(cut(rng, p, "a"), cut(rng, q, "b")) for p, q in islice(cycle(kinds), count)]


def agree(pairs: list[tuple[Feature, Feature]]) -> tuple[list[Web], Floats]:
    webs = webs_of(pairs)
    true = oracle([(parts_of(a), parts_of(b)) for a, b in pairs])
    mm = np.array([web.mm for web in webs])
    overlap = np.array([web.overlap for web in webs])
    worst = [(k, mm[k], true[k]) for k in np.flatnonzero((mm > true + 1e-6) | (mm < true - RESOLUTION))]
    assert not worst
    assert not np.any((overlap > RESOLUTION) & (true > RESOLUTION))
    return webs, true


@pytest.mark.parametrize("seed", [*range(2), *long(*range(2, 8))])
def test_random_pairs(seed: int) -> None:
    _, true = agree(pairs_of(seed, 200))
    assert 20 < np.count_nonzero(true == 0) < 180


@pytest.mark.parametrize("into", [0.03, *long(0.0)])
def test_touching_and_crossing_pairs(into: float) -> None:
    crossing: list[tuple[Feature, Feature]] = []
    seed = 100 + int(into > 0)
    while len(crossing) < 200:
        made = pairs_of(seed, 200)
        crossing += [pair for pair, web in zip(made, webs_of(made), strict=True) if web.mm == 0]
        seed += 10
    webs, true = agree(nudged(crossing[:200], into))
    assert true.max() < RESOLUTION
    assert max(web.mm for web in webs) <= (1e-3 if into == 0 else 0.0)


def test_pockets_with_islands() -> None:
    rng = np.random.default_rng(9)
    sides = []
    for k in range(100):
        hole = bore(rng, "a", bool(k % 2))
        around = shapely.Point(*rng.uniform(-8, 8, 2)).buffer(rng.uniform(10, 16), quad_segs=2)
        island = shapely.affinity.scale(around, 0.6, 0.6)
        depth = float(rng.uniform(5, 40))
        low, high = (-depth, 0.0) if k % 3 else (-THICKNESS, depth - THICKNESS)
        sides.append((hole, around.difference(island), low, high))
    true = oracle([(parts_of(hole), [Routed(plan, low, high)]) for hole, plan, low, high in sides])
    mm = [
        max(
            0.0,
            float(least([shape_of(hole, THICKNESS), Shape(prisms=(Prism(plan, low, high),))], 1e3).mm[0]),
        )
        for hole, plan, low, high in sides
    ]
    assert np.all(np.array(mm) <= true + 1e-6)
    assert np.all(np.array(mm) >= true - RESOLUTION)
    assert 5 < np.count_nonzero(true == 0) < 95
