"""The least wood between cuts, and between each cut and the outside of the body.

Every distance is that of the solids described in `shapes`: exact for upright bores and pockets, and for slanting
bores a proven lower bound within `convex.TOLERANCE` of the truth. How deep two cuts run into each other is an
estimate. A bit that may wander is counted as everything it may reach: what is reported is the wood left after that.
"""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import hypot, inf
from typing import TYPE_CHECKING

import numpy as np

from scribeline.features import Bore, Feature, Features, Pocket, polygon
from scribeline.layout import BodyForm, Point3, Ring
from scribeline.solid.distance import least
from scribeline.solid.shapes import Discs, Prism, Shape, discs, drift_of, shape_of
from scribeline.solid.skin import Gap, Skin, skin_of
from scribeline.solid.walls import Sides, to_walls

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely import Polygon
    from shapely.geometry.base import BaseGeometry

    Floats = NDArray[np.float64]

NEAR = 20.0
"""Webs are listed between cuts closer than this, mm."""

Places = tuple[Point3, Point3]


@dataclass(frozen=True, slots=True)
class Web:
    """The least wood between two cuts.

    Attributes:
        a: id of one.
        b: id of the other.
        mm: wood between them; 0 where they meet.
        on_purpose: whether they are meant to meet.
        overlap: about how deep they run into each other, mm, where that is not meant.
        places: where the wood is least: a place on a and the nearest on b.
        drift: how far the bits may have wandered by there, mm; taken off `mm` already.
    """

    a: str
    b: str
    mm: float
    on_purpose: bool = False
    overlap: float = 0.0
    places: Places | None = None
    drift: float = 0.0


def web_id(a: str, b: str) -> str:
    """The name of the wood between two cuts."""
    return f"web.{a}.{b}"


@dataclass(frozen=True, slots=True)
class Outside:
    """How close a cut comes to the outside of the body.

    Attributes:
        feature: its id.
        to_edge: least wood to the body's outline, mm; negative where it runs out of it.
        to_opposite: wood left between its bottom and the opposite face, mm; negative where it breaks through. Of a cut
            from the edge or from inside a pocket, the less of the wood to the top and to the back.
        to_top: least wood between it and the top, mm; None where it is cut from there.
        to_back: likewise to the back.
        edge_places: the place on the cut nearest the outline, and the place on the outline; None where it runs out.
        opposite_places: the deepest place of the cut, and the place on the face beyond it.
        drift: how far its bit may wander by its full depth, mm; taken off all of these already.
        surfaces: wood to the bevels, rounded edges, and to an arched or stepped top it is cut from, that come within
            `NEAR`; the least first.
    """

    feature: str
    to_edge: float
    to_opposite: float
    edge_places: Places | None = None
    opposite_places: Places | None = None
    drift: float = 0.0
    to_top: float | None = None
    to_back: float | None = None
    surfaces: tuple[Gap, ...] = ()


def find_webs(
    features: Features,
    thickness: float,
    *,
    near: float = NEAR,
    drift: float = 0.0,
    apart: Container[str] | None = None,
) -> tuple[Web, ...]:
    """The least wood between every two cuts that come within `near` of each other, thinnest first.

    Args:
        features: all cuts.
        thickness: of the body, mm.
        near: how close is worth listing, mm.
        drift: how far long or slanting bits may wander, mm per mm of depth; see `features.DRIFT`.
        apart: ids of some cuts: only these are measured, each against those that are not of them; all pairs when left out.

    Returns:
        Distances never larger than the truth, and smaller by no more than 0.0001 mm.
    """
    every = list(features)
    marked = None if apart is None else np.array([f.id in apart for f in every], dtype=np.bool_)
    rates = [drift_of(f, drift) for f in every]
    shapes = [shape_of(f, thickness, drift=rate) for f, rate in zip(every, rates, strict=True)]
    found = least(shapes, near, apart=marked)
    webs = []
    rows = zip(
        *(part.tolist() for part in (found.first, found.second, found.mm, found.a, found.b)), strict=True
    )
    for i, j, gap, on_a, on_b in rows:
        a, b = every[i], every[j]
        meant = b.id in a.meets or a.id in b.meets
        overlap = 0.0 if meant else max(0.0, -gap)
        wander = _wander(a, on_a, rates[i]) + _wander(b, on_b, rates[j])
        webs.append(Web(a.id, b.id, max(0.0, gap), meant, overlap, (Point3(*on_a), Point3(*on_b)), wander))
    return tuple(sorted(webs, key=lambda web: (web.mm - web.overlap, web.a, web.b)))


def _wander(feature: Feature, place: Sequence[float], rate: float) -> float:
    """How far a bit of this drift may have wandered by the depth of a place, mm."""
    if rate == 0 or isinstance(feature, Pocket):
        return 0.0
    depth = sum((p - a) * d for p, a, d in zip(place, feature.at, feature.axis, strict=True))
    return rate * max(0.0, depth)


def find_outside(
    features: Features,
    outline: Ring,
    thickness: float,
    *,
    drift: float = 0.0,
    form: BodyForm | None = None,
    edge: bool = True,
) -> tuple[Outside, ...]:
    """How close every cut comes to the body's outline and to the faces it is not cut from.

    A bore from the edge goes through the outline where it is meant to; `own_walls` says what counts as that place.

    Args:
        features: all cuts.
        outline: of the body.
        thickness: of the body, mm.
        drift: how far long or slanting bits may wander, mm per mm of depth; see `features.DRIFT`.
        form: what the body is carved to; flat faces and square edges when left out.
        edge: whether the outline is asked about; where not, it counts as infinitely far.
    """
    every = list(features)
    if not every:
        return ()
    skin = None if form is None or form.is_plain else skin_of(form)
    shapes = [shape_of(f, thickness, drift=drift_of(f, drift)) for f in every]
    pieces = discs([piece for shape in shapes for piece in shape.turned])
    owner = np.repeat(np.arange(len(shapes)), [len(shape.turned) for shape in shapes])
    edges: list[tuple[float, Places | None]] = [(inf, None)] * len(every)
    if edge:
        edges = _Body(outline, thickness).edges(every, shapes, pieces, owner)
    found = []
    tops, backs = (_beyond(shapes, pieces, owner, thickness, outline, down=down) for down in (False, True))
    for feature, shape, (to_edge, edge_places), over, under in zip(
        every, shapes, edges, tops, backs, strict=True
    ):
        to_top = None if feature.face == "top" else over
        to_back = None if feature.face == "back" else under
        gaps = () if skin is None else skin.gaps(shape, NEAR, feature=feature)
        if skin is not None and to_top is not None and skin.top_is_carved:
            to_top = _to_carved_top(to_top, gaps, skin)
            gaps = tuple(gap for gap in gaps if gap.surface not in skin.tops)
        to_face, face_places = min((f for f in (to_back, to_top) if f is not None), key=lambda f: f[0])
        wander = (
            0.0 if isinstance(feature, Pocket) else drift_of(feature, drift) * feature.deepest.point_reaches
        )
        found.append(
            Outside(
                feature.id,
                to_edge,
                to_face,
                edge_places,
                face_places,
                wander,
                to_top=None if to_top is None else to_top[0],
                to_back=None if to_back is None else to_back[0],
                surfaces=gaps,
            )
        )
    return tuple(found)


def _to_carved_top(flat: tuple[float, Places], gaps: Sequence[Gap], skin: Skin) -> tuple[float, Places]:
    """Wood to an arched or stepped top; where that is further than was looked for, the least it can be."""
    near = [gap for gap in gaps if gap.surface in skin.tops]
    if near:
        return near[0].mm, near[0].places
    mm, (place, above) = flat
    return max(NEAR, mm + skin.form.lowest_top), (place, above)


class _Body:
    """The outer surfaces: an upright wall along the outline between two flat faces."""

    def __init__(self, outline: Ring, thickness: float) -> None:
        import shapely

        self.plan: Polygon = polygon(outline)
        shapely.prepare(self.plan)
        corners = shapely.get_coordinates(self.plan.exterior)
        self.start, self.end = corners[:-1], corners[1:]
        self.tree = shapely.STRtree(shapely.linestrings(np.stack([corners[:-1], corners[1:]], axis=1)))
        self.thickness = thickness

    def edges(
        self, every: Sequence[Feature], shapes: Sequence[Shape], pieces: Discs, owner: NDArray[np.intp]
    ) -> list[tuple[float, Places | None]]:
        """Least wood from each cut to the wall and where; negative where it runs out.

        Args:
            every: all cuts.
            shapes: of the same.
            pieces: the turned ones among their pieces.
            owner: the number of the cut that each of those belongs to.
        """
        best: list[tuple[float, Places | None]] = [(inf, None)] * len(shapes)
        through = {i: f for i, f in enumerate(every) if f.face == "edge" and isinstance(f, Bore)}
        from_edge = np.isin(owner, list(through))
        up, rest = (
            np.flatnonzero(each) for each in (pieces.upright & ~from_edge, ~pieces.upright | from_edge)
        )
        plans = [(i, prism) for i, shape in enumerate(shapes) for prism in shape.prisms]
        gaps = [
            *zip(owner[up].tolist(), self._upright(pieces, up), strict=True),
            *self._slanting(pieces.pick(rest), owner[rest], through),
            *zip((i for i, _ in plans), self._prisms([prism for _, prism in plans]), strict=True),
        ]
        for i, gap in gaps:
            best[i] = min(best[i], gap, key=lambda each: each[0])
        return best

    def _upright(self, pieces: Discs, rows: NDArray[np.intp]) -> Iterator[tuple[float, Places | None]]:
        import shapely

        axes = shapely.points(pieces.centres[rows, 0, :2])
        ends = self._to_wall(axes)
        inside = shapely.contains(self.plan, axes)
        gaps = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
        for row, gap, within, (a, b) in zip(
            rows.tolist(), gaps.tolist(), inside.tolist(), ends.tolist(), strict=True
        ):
            widest = int(np.argmax(pieces.radii[row]))
            r, z = float(pieces.radii[row, widest]), float(pieces.centres[row, widest, 2])
            if not within or gap <= r:
                yield (gap if within else -gap) - r, None
                continue
            rim = [p + (q - p) * r / gap for p, q in zip(a, b, strict=True)]
            yield gap - r, (Point3(rim[0], rim[1], z), Point3(b[0], b[1], z))

    def _slanting(
        self, pieces: Discs, owner: NDArray[np.intp], through: Mapping[int, Bore]
    ) -> Iterator[tuple[int, tuple[float, Places | None]]]:
        """The number of each cut with slanting pieces, and its gap; of those through the wall to the wall elsewhere."""
        import shapely

        counted = np.ones((1 + len(through), len(self.start)), dtype=bool)
        if through:
            counted[1:] = ~own_walls(
                np.array([bore.at for bore in through.values()]),
                np.array([bore.axis for bore in through.values()]),
                self.start,
                self.end,
                np.array([bore.widest / 2 for bore in through.values()]),
            )
        which = np.zeros(len(owner), dtype=np.intp)
        for number, i in enumerate(through, start=1):
            which[owner == i] = number
        wall = Prism(self.plan, -self.thickness, 0.0)
        walls = to_walls(pieces, Sides([wall] * len(counted), counted.ravel()), which, inf)
        inside = shapely.contains_xy(self.plan, *pieces.centres[:, 1, :2].T)
        clear = inside & (walls.mm > 0)
        gaps = [
            (mm, (Point3(*a), Point3(*b)))
            for mm, a, b in zip(walls.mm.tolist(), walls.a.tolist(), walls.b.tolist(), strict=True)
        ]
        for row in np.flatnonzero(which == 0).tolist():
            gap = gaps[row] if clear[row] else (-_outreach(_shadow(pieces.hull[row]), self.plan), None)
            yield int(owner[row]), gap
        for number, i in enumerate(through, start=1):
            rows = np.flatnonzero(which == number)
            if clear[rows].all():
                yield i, gaps[rows[np.argmin(walls.mm[rows])]]
                continue
            lines = shapely.multilinestrings(
                [np.stack([self.start[counted[number]], self.end[counted[number]]], axis=1)]
            )
            yield i, (-max(_outreach(_shadow(hull), self.plan, lines) for hull in pieces.hull[rows]), None)

    def _prisms(self, prisms: Sequence[Prism]) -> Iterator[tuple[float, Places | None]]:
        ends = self._to_wall(np.array([prism.plan for prism in prisms], dtype=object)).tolist()
        for prism, (a, b) in zip(prisms, ends, strict=True):
            gap = hypot(b[0] - a[0], b[1] - a[1])
            if gap == 0 or not self.plan.contains(prism.plan):
                yield -_outreach(prism.plan, self.plan), None
                continue
            z = (prism.low + prism.high) / 2
            yield gap, (Point3(a[0], a[1], z), Point3(b[0], b[1], z))

    def _to_wall(self, plans: NDArray[np.object_]) -> Floats:
        """The nearest place of each region of the plan to the outline, and that of the outline, (n, 2, 2)."""
        import shapely

        nearest = self.tree.geometries[self.tree.query_nearest(plans, all_matches=False)[1]]
        return np.asarray(shapely.get_coordinates(shapely.shortest_line(plans, nearest)).reshape(-1, 2, 2))


def _beyond(
    shapes: Sequence[Shape],
    pieces: Discs,
    owner: NDArray[np.intp],
    thickness: float,
    outline: Ring,
    *,
    down: bool,
) -> list[tuple[float, Places]]:
    """Wood between the lowest place of each cut and the back, or the highest and the top, and where."""
    sign, face = (-1.0, -thickness) if down else (1.0, 0.0)
    furthest: list[list[float]] = [[0.0, 0.0, -sign * inf]] * len(shapes)
    for i, place in zip(owner.tolist(), _furthest(pieces.hull, sign).tolist(), strict=True):
        furthest[i] = max(furthest[i], place, key=lambda p: sign * p[2])
    for i, shape in enumerate(shapes):
        for prism in shape.prisms:
            if down and prism.rise:
                furthest[i] = min(furthest[i], _deepest(prism, outline), key=lambda p: p[2])
                continue
            z = prism.low if down else prism.high
            if sign * z > sign * furthest[i][2]:
                inside = prism.plan.representative_point()
                furthest[i] = [inside.x, inside.y, z]
    return [(sign * (face - z), (Point3(x, y, z), Point3(x, y, face))) for x, y, z in furthest]


def _deepest(prism: Prism, outline: Ring) -> list[float]:
    """The lowest place of a floor that leans, within the body: what lies in the air before it has no wood under it."""
    import shapely

    within = prism.plan.intersection(polygon(outline))
    places = shapely.get_coordinates(prism.plan if within.is_empty else within)
    x, y = places[np.argmin(prism.rise * places[:, 0])].tolist()
    return [x, y, float(prism.floor(x))]


def _furthest(hulls: Floats, sign: float) -> Floats:
    """The highest place of each piece, or the lowest where `sign` is −1, (n, 3)."""
    reach = np.hypot(hulls[:, :, 1, 2], hulls[:, :, 2, 2])
    rows, disc = np.arange(len(hulls)), np.argmax(sign * hulls[:, :, 0, 2] + reach, axis=1)
    centre, u, v = np.moveaxis(hulls[rows, disc], 1, 0)
    wide = reach[rows, disc][:, np.newaxis]
    way = (u * u[:, 2:] + v * v[:, 2:]) / np.where(wide > 0, wide, 1.0)
    return np.asarray(centre + sign * way)


def _shadow(hull: Floats) -> BaseGeometry:
    """A slanting piece seen from above."""
    import shapely

    turn = np.linspace(0.0, 2 * np.pi, 64, endpoint=False)
    circle = np.column_stack([np.ones_like(turn), np.cos(turn), np.sin(turn)])
    return shapely.MultiPoint((circle @ hull)[..., :2].reshape(-1, 2)).convex_hull


OWN_WALL = 0.5
"""Cosine of how far a wall may face away from the drill and still be the wall the drill goes in by."""

CORNER = 0.866
"""Cosine of the least turn between two sides of an outline that is a corner and not a curve drawn in short sides."""


def own_walls(at: Floats, axis: Floats, start: Floats, end: Floats, mouth: Floats) -> NDArray[np.bool_]:
    """Which sides of an outline are the wall that bores from the edge go in by, (bores, sides).

    The side that the axis meets is; so are those next to one another from there that face the drill within 60°, as
    far as the next corner: beside the mouth the wood between bore and wall always runs out to nothing, and that is no
    fault. A wall that has turned further away is another wall, such as the far side of a horn; and so is the edge
    round a corner of more than 30°, where that lies beside the mouth and not within it.

    Args:
        at: where each bore's axis meets the wall, (bores, 2 or 3), mm.
        axis: unit vectors into the wood.
        start: of the outline's sides, in order, (sides, 2), mm.
        end: of the same, mm.
        mouth: radius of each bore where it goes in, (bores,), mm.
    """
    run = end - start
    length = np.maximum(np.sqrt(run[:, 0] ** 2 + run[:, 1] ** 2), 1e-300)
    way = run / length[:, np.newaxis]
    turn = np.sign((start[:, 0] * end[:, 1] - start[:, 1] * end[:, 0]).sum())  # over 0: counter-clockwise
    faces = turn * (axis[:, 1:2] * way[:, 0] - axis[:, :1] * way[:, 1]) >= OWN_WALL
    to = at[:, np.newaxis, :2] - start
    share = np.clip((to * way).sum(axis=2), 0.0, length)
    off = _long(to - share[..., np.newaxis] * way)
    # At a corner two sides are as near as each other: one that faces the drill is taken.
    first = np.argmin(np.round(off, 6) - 1e-7 * faces, axis=1)
    curves = (way * np.roll(way, -1, axis=0)).sum(axis=1) >= CORNER
    within = _long(at[:, np.newaxis, :2] - end) < mouth[:, np.newaxis]
    count = len(start)
    # From the first side on and back from it, each side as long as the step to it is over no corner and it faces.
    rows, order = np.arange(len(at))[:, np.newaxis], (first[:, np.newaxis] + np.arange(count)) % count
    joined = curves | within
    own = np.zeros(faces.shape, dtype=bool)
    for sides, steps in (
        (order[:, 1:], order[:, :-1]),
        ((2 * first[:, np.newaxis] - order[:, 1:]) % count,) * 2,
    ):
        own[rows, sides] |= np.logical_and.accumulate(faces[rows, sides] & joined[rows, steps], axis=1)
    own[rows[:, 0], first] = True
    return own


def _long(ways: Floats) -> Floats:
    """The lengths of level ways, (…, 2): a root is the same on every processor, NumPy's hypotenuse is not."""
    return np.asarray(np.sqrt(ways[..., 0] ** 2 + ways[..., 1] ** 2))


def _outreach(shape: BaseGeometry, body: Polygon, walls: BaseGeometry | None = None) -> float:
    """How far a shape reaches out of the body, through these walls where they are given, mm."""
    import shapely

    beyond = shape.difference(body)
    if walls is not None:
        parts = shapely.get_parts(beyond)
        beyond = shapely.union_all(parts[shapely.distance(parts, walls) < 1e-9])
    if beyond.is_empty:
        return 0.0
    return float(max(shapely.distance(body, shapely.points(shapely.get_coordinates(beyond)))))
