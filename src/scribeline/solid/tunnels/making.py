"""From the tunnels a job asks for to the holes that are drilled: each in turn, the earlier ones kept clear of."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from math import degrees, dist, hypot, inf, sqrt
from typing import TYPE_CHECKING, Literal

import numpy as np

from scribeline.features import (
    DRIFT,
    Bit,
    Bore,
    Features,
    Pocket,
    Reason,
    Step,
    choose_bit,
    drill_box,
    first_wall,
    lies_over,
    nearest_in_words,
    polygon,
)
from scribeline.job import Document, feature_id
from scribeline.layout import Layout, Point, Point3, Ring, TunnelPlace
from scribeline.solid.shapes import Turned, drift_of, shape_of
from scribeline.solid.skin import skin_of
from scribeline.solid.tunnels.narrowing import Look, best_way
from scribeline.solid.tunnels.problem import XY, Course, Facet, Hollow, Problem, Start, Wall, Wants
from scribeline.solid.tunnels.solve import Relaxed, Solution, judge, measure, solve
from scribeline.tables import limit_rows

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

BIT_OFF = 0.6
"""A bit further than this from the size asked for is no choice, mm (common practice, no source)."""

STRAIGHT = 6.0
CURVED = 4.0
FLAT_WITHIN = 0.25
"""A side of an outline at least this long is a wall by itself, mm; a curve is taken as a row of walls at least so long
that lie within this much of it."""

_PLACES = 7
"""To which an outline is taken, mm: the last figures depend on the hand it was drawn for."""

FACETS_AROUND = 30.0
"""How far beyond its walls carved surfaces are looked at for a tunnel, mm."""

XYZ = tuple[float, float, float]

COMMON_PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Tunnel:
    """What became of one tunnel asked for.

    Attributes:
        place: what was asked.
        bore: the hole to drill, or as it was drilled; None when no way keeps every limit.
        asked: the same, but of one that is drilled and whose place is stated the hole as the job would now have it.
        course: how it runs, in the instrument frame.
        stated: whether its place was stated, and not looked for.
        others: other ways, the most wood first.
        relaxed: when there is none: limits of which any one would have to give.
        leaves: where it would come out of the body if the drill went on, and how far along the axis from its start.
        wants: the limits it was held to.
        awaited: whether its way is not known yet: it is looked for elsewhere, or one before it is.
    """

    place: TunnelPlace
    bore: Bore | None
    asked: Bore | None
    course: Course | None
    stated: bool
    others: tuple[Course, ...]
    relaxed: tuple[Relaxed, ...]
    leaves: tuple[Point3, float] | None
    wants: Wants
    awaited: bool = False

    @property
    def name(self) -> str:
        """In words, such as `the ground-wire hole`."""
        return (
            "the ground-wire hole" if self.place.id == "ground-wire" else f'the wire hole "{self.place.name}"'
        )


@dataclass(frozen=True, slots=True)
class Wanted:
    """The layout and the cuts, tunnels left out, as the job would have them if nothing were made."""

    layout: Layout
    features: Features

    def tunnel(self, document: Document, name: str) -> Bore | None:
        """The hole of a tunnel whose place is stated; None where it cannot be drilled so."""
        for place in self.layout.tunnels:
            if place.id == name:
                return _find(document, self.layout, self.features, place).asked
        return None


def find_tunnels(
    document: Document, layout: Layout, features: Features, wanted: Wanted, look: Look = solve
) -> tuple[Tunnel, ...]:
    """Every tunnel asked for, in the job's order; each keeps clear of those before it.

    Args:
        document: the job.
        layout: what is asked, and where.
        features: the cuts there will be, those that are made where they were made. A tunnel that is among them has been
            drilled, and is left where it is.
        wanted: what the job would have if nothing were made.
        look: looks for the way of each whose place is not stated, among some of the cuts. While one is waited for, so
            are those after it.
    """
    found: list[Tunnel] = []
    there = {bore.id for bore in features.bores}
    for place in layout.tunnels:
        if place.id in there:
            found.append(_drilled(document, layout, features, wanted, place))
            continue
        tunnel = _find(document, layout, features, place, look)
        if tunnel.awaited:
            look = _not_yet
        found.append(tunnel)
        features = with_tunnels(features, (tunnel,))
    return tuple(found)


def with_tunnels(features: Features, tunnels: tuple[Tunnel, ...]) -> Features:
    """All cuts, the tunnels among them as the job asks for them; the pockets they run into know of them."""
    bores = tuple(tunnel.asked for tunnel in tunnels if tunnel.asked is not None)
    if not bores:
        return features
    pockets = tuple(
        replace(pocket, meets=pocket.meets | {bore.id for bore in bores if pocket.id in bore.meets})
        for pocket in features.pockets
    )
    return Features((*features.bores, *bores), pockets)


def _not_yet(problem: Problem, bits: tuple[Bit, ...], drift: float) -> None:
    """What comes after a tunnel that is waited for has to keep clear of it."""
    del problem, bits, drift


def _find(
    document: Document, layout: Layout, features: Features, place: TunnelPlace, look: Look = solve
) -> Tunnel:
    frame = _Frame.of(layout, features, place)
    problem = _problem(document, layout, features, place, frame)
    bits = _bits(document, place.diameter)
    stated = place.entry is not None
    solution = (
        Solution(_as_stated(features, place, frame, problem, bits))
        if stated
        else best_way(problem, bits, DRIFT, look)
    )
    if solution is None:
        return Tunnel(place, None, None, None, False, (), (), None, problem.wants, awaited=True)
    best = None if solution.best is None else frame.course(solution.best)
    if best is not None and place.start == "edge":
        best = _from_the_edge(best, layout)
    others = tuple(frame.course(course) for course in solution.others)
    relaxed = tuple(replace(each, course=frame.course(each.course)) for each in solution.relaxed)
    bore = None if best is None else _bore(features, place, best, problem.wants)
    leaves = None if best is None else leaving(best, layout)
    return Tunnel(place, bore, bore, best, stated, others, relaxed, leaves, problem.wants)


def _as_stated(
    features: Features, place: TunnelPlace, frame: _Frame, problem: Problem, bits: tuple[Bit, ...]
) -> Course | None:
    """The tunnel at its stated place, with the nearest bit that is long enough, else with the nearest one."""
    assert place.entry is not None
    assert place.heading is not None
    assert place.lands is not None
    if lies_over(place.entry, features.led_to(place).outline):
        return None
    entry, heading = frame.plan(place.entry), frame.plan(place.heading)
    nearest = judge(problem, bits[0], DRIFT, entry=entry, heading=heading, lands=place.lands)
    course = nearest
    for bit in (bit for bit in bits[1:] if bit.owned):
        if course is None or course.margins["reach"] >= 0:
            return course
        course = judge(problem, bit, DRIFT, entry=entry, heading=heading, lands=place.lands)
    return course if course is not None and course.margins["reach"] >= 0 else nearest


def _drilled(
    document: Document, layout: Layout, features: Features, wanted: Wanted, place: TunnelPlace
) -> Tunnel:
    """A tunnel that is in the wood already: what it leaves as it was drilled.

    Where its place is stated, what is told of a stated place is told of the place where it was drilled.
    """
    bore = next(bore for bore in features.bores if bore.id == place.id)
    others = Features(tuple(each for each in features.bores if each is not bore), features.pockets)
    frame = _Frame.of(layout, features, place)
    problem = _problem(document, layout, others, place, frame)
    run = to_wall(bore, features.led_to(place))
    course = measure(problem, bore.deepest.bit, DRIFT, run=run, bore=frame.bore(bore))
    asked: Bore | None = bore
    if place.entry is not None:
        asked = wanted.tunnel(document, place.id)
        level, lands = hypot(bore.axis.x, bore.axis.y), run * abs(bore.axis.z)
        if bore.face == place.face and min(level, lands) > 1e-6:
            there = replace(
                place,
                entry=Point(bore.at.x, bore.at.y),
                heading=Point(bore.axis.x / level, bore.axis.y / level),
                lands=lands,
            )
            judged = _as_stated(others, there, frame, problem, (bore.deepest.bit,))
            course = course if judged is None else replace(course, margins=judged.margins)
    course = frame.course(course)
    return Tunnel(place, bore, asked, course, True, (), (), leaving(course, layout), problem.wants)


def to_wall(bore: Bore, target: Pocket) -> float:
    """How far a bore runs along its axis to the wall of the pocket it leads to, mm; its depth where it meets none."""
    level = sqrt(bore.axis.x**2 + bore.axis.y**2)
    if level < 1e-9:
        return bore.deepest.depth
    heading = Point(bore.axis.x / level, bore.axis.y / level)
    wall = first_wall(Point(bore.at.x, bore.at.y), heading, target.outline)
    run = inf if wall is None else dist(wall, (bore.at.x, bore.at.y)) / level
    return min(run, bore.deepest.depth)


@lru_cache(maxsize=64)
def _rounded(ring: tuple[Sequence[float], ...], mirrored: bool) -> Ring:
    """An outline as `_Frame.ring` has it; an edit leaves all but one or two of them as they were."""
    points = [Point(round(x, _PLACES), round(-y if mirrored else y, _PLACES)) for x, y, *_ in ring]
    if mirrored:
        points.reverse()
    first = points.index(min(points))
    return Ring((*points[first:], *points[:first]))


@dataclass(frozen=True, slots=True)
class _Frame:
    """The frame a problem is stated in: a right-handed instrument with the face that is drilled from upwards.

    So a left-handed instrument has its right-handed one's tunnels. Each way of going over is its own way back.

    Attributes:
        thickness: of the body, mm.
        over: whether the back lies up.
        mirrored: whether the instrument is left-handed.
    """

    thickness: float
    over: bool
    mirrored: bool

    @classmethod
    def of(cls, layout: Layout, features: Features, place: TunnelPlace) -> _Frame:
        """The frame of one tunnel."""
        face = features.pocket(feature_id(place.pocket)).face if place.start == "pocket" else place.face
        return cls(round(layout.thickness, _PLACES), face == "back", layout.treble < 0)

    def place(self, place: Sequence[float]) -> XYZ:
        x, y, z = place
        return x, -y if self.mirrored else y, -self.thickness - z if self.over else z

    def places(self, places: np.ndarray) -> np.ndarray:
        """The same for many places at once, (…, 3)."""
        x, y, z = np.moveaxis(places, -1, 0)
        return np.stack([x, -y if self.mirrored else y, -self.thickness - z if self.over else z], axis=-1)

    def way(self, way: Sequence[float]) -> XYZ:
        x, y, z = way
        return x, -y if self.mirrored else y, -z if self.over else z

    def plan(self, place: Sequence[float]) -> XY:
        return float(place[0]), float(-place[1] if self.mirrored else place[1])

    def ring(self, ring: Iterable[Sequence[float]]) -> Ring:
        """An outline that runs the way round it did, and begins where it does for either hand."""
        return _rounded(tuple(ring), self.mirrored)

    def hollow(self, pocket: Pocket, *, whole: bool = False) -> Hollow:
        """A pocket; where its floor leans as deep as it is everywhere, or with `whole` as it is anywhere."""
        depth = max(pocket.depths) if whole else min(pocket.depths)
        rings = (self.ring(pocket.outline), *(self.ring(reversed(island)) for island in pocket.islands))
        low, high = (-depth, 0.0) if pocket.face == "top" else (-self.thickness, depth - self.thickness)
        if self.over:
            low, high = -self.thickness - high, -self.thickness - low
        return Hollow(tuple(_pairs(ring) for ring in rings), round(low, _PLACES), round(high, _PLACES))

    def turned(self, piece: Turned) -> Turned:
        """A piece of a bore, to the same figures whatever unit its numbers were stated in."""
        way = [piece.axis, *(() if piece.outward is None else (piece.outward,))]
        axis, *outward = (_rounded_place(self.way(each), _PLACES + 5) for each in way)
        return replace(
            piece,
            at=_rounded_place(self.place(piece.at)),
            axis=axis,
            depths=_rounded_place(piece.depths),
            radii=_rounded_place(piece.radii),
            outward=outward[0] if outward else None,
        )

    def bore(self, bore: Bore) -> Bore:
        """A bore with its surface stated, which may lie on the other face."""
        out = Point3(*self.way(bore.normal))
        at, axis = Point3(*self.place(bore.at)), Point3(*self.way(bore.axis))
        return replace(bore, at=at, axis=axis, face="edge", outward=out)

    def course(self, course: Course) -> Course:
        return replace(
            course,
            start=self.place(course.start),
            end=self.place(course.end),
            axis=self.way(course.axis),
            normal=self.way(course.normal),
            places=None
            if course.places is None
            else (self.place(course.places[0]), self.place(course.places[1])),
        )


def _rounded_place(place: Sequence[float], places: int = _PLACES) -> XYZ:
    x, y, z = place
    return round(x, places), round(y, places), round(z, places)


def _from_the_edge(course: Course, layout: Layout) -> Course:
    """A course that starts where its axis really meets the body's edge, of which a curve was taken as chords."""
    import shapely

    level = sqrt(course.axis[0] ** 2 + course.axis[1] ** 2)
    x, y = course.start[0], course.start[1]
    reach = [(x + t * course.axis[0] / level, y + t * course.axis[1] / level) for t in (-2.0, 2.0)]
    met = shapely.get_coordinates(shapely.LineString(reach).intersection(polygon(layout.outline).exterior))
    if len(met) == 0:
        return course
    run = ((met[:, 0] - x) * course.axis[0] + (met[:, 1] - y) * course.axis[1]) / level**2
    back = float(run[np.argmin(np.abs(run))])
    x, y, z = (s + back * a for s, a in zip(course.start, course.axis, strict=True))
    return replace(course, start=(x, y, z), depth=course.depth - back)


# The problem, with the face that is drilled from at z = 0.


def _problem(
    document: Document, layout: Layout, features: Features, place: TunnelPlace, frame: _Frame
) -> Problem:
    thickness = frame.thickness
    target = features.led_to(place)
    source = features.pocket(feature_id(place.pocket)) if place.start == "pocket" else None
    through = tuple(features.pocket(feature_id(name)) for name in place.through)
    met = {target.id, *(pocket.id for pocket in through), *(() if source is None else (source.id,))}
    others = tuple(pocket for pocket in features.pockets if pocket.id not in met)
    body = frame.ring(layout.outline)
    outline = _pairs(body)
    start: Start = "face" if place.start == "face" else "edge" if place.start == "edge" else "pocket"
    entries: tuple[Wall, ...] = ()
    if source is not None:
        entries = _walls(frame.ring(source.outline), frame.hollow(source), inside=body)
    elif start == "edge":
        entries = _walls(body, Hollow((outline,), -thickness, 0.0))
    room = frame.hollow(target)
    exits = _walls(frame.ring(target.outline), room, inside=body, short=place.entry is not None)
    turned = [
        (bore.id, frame.turned(piece))
        for bore in features.bores
        if bore.id != place.bushing
        for piece in shape_of(bore, thickness, drift=drift_of(bore, DRIFT)).turned
    ]
    return Problem(
        start=start,
        outline=outline,
        thickness=thickness,
        exits=exits,
        target=room,
        floor=-1 if room.high > -1e-9 else 1,
        wants=_wants(document),
        hide=() if place.hide is None else _pairs(frame.ring(place.hide)),
        entries=entries,
        rim=() if source is None else _rim(frame.ring(source.outline), body, at_edge=source.at_edge),
        open_end=source is not None and source.at_edge,
        source=None if source is None else frame.hollow(source),
        through=tuple(frame.hollow(pocket) for pocket in through),
        hollows=tuple(frame.hollow(pocket, whole=True) for pocket in others),
        turned=tuple(piece for _, piece in turned),
        facets=_facets(layout, frame, place, (*entries, *exits)),
        names=(*(name for name, _ in turned), *(pocket.id for pocket in others)),
    )


def _facets(layout: Layout, frame: _Frame, place: TunnelPlace, walls: tuple[Wall, ...]) -> tuple[Facet, ...]:
    """The carved surfaces round about; those of the face that a tunnel is drilled from are left to the checks."""
    if layout.body.is_plain or not walls:
        return ()
    own = place.face if place.start == "face" else ""
    room = [end for wall in walls for end in (wall.a, wall.b)]
    room += [] if place.hide is None else list(_pairs(frame.ring(place.hide)))
    low, high = np.array(room).min(axis=0) - FACETS_AROUND, np.array(room).max(axis=0) + FACETS_AROUND
    if frame.mirrored:
        low, high = np.array([low[0], -high[1]]), np.array([high[0], -low[1]])
    found: list[Facet] = []
    skin = skin_of(layout.body)
    for name, flat in skin.set_back(low, high, without=own, rounded=place.start != "edge"):
        stated = np.round(frame.places(flat), _PLACES)
        found += [(name, tuple(map(tuple, corners))) for corners in stated.tolist()]
    return tuple(found)


def _wants(document: Document) -> Wants:
    own = document.limits.own()

    def level(key: str, *, stop: bool) -> float:
        row = own.get(key, limit_rows()[key])
        return row.stop if stop and row.stop is not None else row.caution

    return Wants(
        least=level("tunnel_cover", stop=True),
        hidden=level("under_plate", stop=False),
        window=level("tunnel_window", stop=False),
        chuck=document.bits.chuck_radius,
    )


def _bits(document: Document, wanted: float) -> tuple[Bit, ...]:
    """The bits owned that come near the size, nearest first, the longest of each size; else the one to get."""
    near = [
        bit
        for bit in drill_box(document.bits)
        if bit.kind in {"brad-point", "twist"} and abs(bit.diameter - wanted) <= BIT_OFF
    ]
    near.sort(
        key=lambda bit: (
            round(abs(bit.diameter - wanted), 6),
            -bit.diameter,
            -bit.reach,
            bit.kind != "brad-point",
        )
    )
    longest = {bit.diameter: bit for bit in reversed(near)}
    chosen = tuple(bit for bit in near if longest[bit.diameter] is bit)
    get = choose_bit((), wanted, ("brad-point",), point_angle_rad=document.bits.point_angle)
    return (*chosen[:3], get)


def _pairs(ring: object) -> tuple[XY, ...]:
    return tuple((float(x), float(y)) for x, y in ring)  # type: ignore[attr-defined]


@lru_cache(maxsize=64)
def _walls(
    ring: Ring, hollow: Hollow, *, inside: Ring | None = None, short: bool = False
) -> tuple[Wall, ...]:
    """The stretches of an outline that are straight enough and long enough for a mouth; most edits leave them so.

    With those that are too short, where a stated tunnel may come out all the same.
    """
    import shapely

    points = np.array(ring)
    sides = np.roll(points, -1, axis=0) - points
    length = np.sqrt(sides[:, 0] ** 2 + sides[:, 1] ** 2)
    long = length >= STRAIGHT
    stretches = [(points[i], points[(i + 1) % len(points)]) for i in np.flatnonzero(long).tolist()]
    for run in _curves(points, long):
        bent = shapely.get_coordinates(shapely.LineString(run).simplify(FLAT_WITHIN))
        stretches += [(a, b) for a, b in pairwise(bent) if short or dist(a, b) >= CURVED]
    body = None if inside is None else polygon(inside)
    walls = []
    for a, b in stretches:
        middle = shapely.Point(*((a + b) / 2))
        if body is None or (body.contains(middle) and body.exterior.distance(middle) > 0.5):
            walls.append(
                Wall((float(a[0]), float(a[1])), (float(b[0]), float(b[1])), hollow.low, hollow.high)
            )
    return tuple(walls)


def _curves(points: np.ndarray, long: np.ndarray) -> Iterator[np.ndarray]:
    """Runs of short sides, each with both its ends."""
    n = len(points)
    if not long.any():
        yield np.concatenate([points, points[:1]])
        return
    first = int(np.flatnonzero(long)[0])
    run: list[int] = []
    for step in range(1, n + 1):
        i = (first + step) % n
        if long[i]:
            if run:
                yield points[[*run, i]]
            run = []
        else:
            run.append(i)


@lru_cache(maxsize=64)
def _rim(source: Ring, outline: Ring, *, at_edge: bool) -> tuple[tuple[XY, XY], ...]:
    """The wood the bit must clear on its way in: the pocket's own rim, and beyond its open end the body's edge.

    Most edits move neither.
    """
    body = polygon(outline)
    plan = polygon(source)
    parts: list[BaseGeometry] = [plan.exterior.simplify(0.02).intersection(body)]
    if at_edge:
        parts.append(body.exterior.simplify(0.5).difference(plan.buffer(1e-6)))
    import shapely

    found = []
    for part in parts:
        for line in shapely.get_parts(part):
            corners = _pairs(shapely.get_coordinates(line))
            found += list(pairwise(corners))
    return tuple(found)


# The hole, and what is told of it.


def _bore(features: Features, place: TunnelPlace, course: Course, wants: Wants) -> Bore:
    target = features.led_to(place)
    met = {target.id, *(feature_id(name) for name in place.through)}
    face: Literal["top", "back", "edge", "pocket"] = "edge"
    if place.start == "face":
        face = "back" if place.face == "back" else "top"
    elif place.start == "pocket":
        face, met = "pocket", met | {feature_id(place.pocket)}
    step = Step(course.bit.diameter, course.depth, course.bit)
    return Bore(
        id=place.id,
        role="ground-wire hole" if place.id == "ground-wire" else f"{place.name} wire hole",
        group="ground wire" if place.id == "ground-wire" else f"{place.name} tunnel",
        face=face,
        at=Point3(*course.start),
        axis=Point3(*course.axis),
        steps=(step,),
        meets=frozenset(met),
        why=tuple(_reasons(features, place, course, wants)),
        entered_from=feature_id(place.pocket) if place.start == "pocket" else "",
        outward=Point3(*course.normal) if face in {"edge", "pocket"} else None,
    )


def angle_deg(course: Course) -> float:
    """Angle between its axis and the faces, degrees; over 0 where it goes down into the wood from the top."""
    return degrees(np.arcsin(min(1.0, max(-1.0, -course.axis[2]))))


def heading_deg(course: Course, treble: int) -> float:
    """Its heading seen from above, degrees from straight to the neck towards the treble."""
    return degrees(np.arctan2(course.axis[1] * treble, -course.axis[0]))


def _reasons(features: Features, place: TunnelPlace, course: Course, wants: Wants) -> Iterator[Reason]:
    stated, target = place.entry is not None, features.led_to(place)
    yield Reason(
        f"it runs {course.to_wall:.2f} mm to the wall of the {target.in_words}, {abs(angle_deg(course)):.1f}° from the "
        f"faces, {90 - abs(angle_deg(course)):.1f}° off upright"
    )
    near = f" to {nearest_in_words(features, course.nearest)}" if course.nearest else ""
    yield Reason(
        f"least wood beside it {course.cover:.2f} mm{near}, "
        + (
            "at the place stated in the job"
            if stated
            else "and no other way within the limits leaves more: at least "
        )
        + (
            ""
            if stated
            else f"{wants.least:g} mm of wood, the opening {wants.hidden:g} mm inside {place.hidden_by}, "
            if place.hide
            else ""
        )
        + (
            ""
            if stated
            else f"{'' if place.hide else f'{wants.least:g} mm of wood, '}{wants.window:g} mm of wall round each opening"
        ),
        COMMON_PRACTICE,
    )
    yield Reason(
        f"{course.bit_length:.0f} mm of bit from its point to the chuck: at full depth {course.outside:.0f} mm of the bit must "
        f"still stand outside, so that a chuck of {wants.chuck:g} mm radius clears the wood"
    )
    yield Reason(
        f"a long bit's drift is taken off the wood: {drift_words(course.bit)}",
        COMMON_PRACTICE if course.bit.drift is None else "",
    )


def drift_words(bit: Bit) -> str:
    """How far a bit is held to wander."""
    rate = DRIFT if bit.drift is None else bit.drift
    return f"{100 * rate:g} mm in 100 mm" + ("" if bit.drift is None else ", as measured for this bit")


def leaving(course: Course, layout: Layout) -> tuple[Point3, float] | None:
    """Where a course would come out of the body if the drill went on, and how far along its axis from its start."""
    import shapely

    x, y, z = course.axis
    far = 3000.0
    if abs(z) > 1e-9:
        face = -layout.thickness if z < 0 else 0.0
        far = min(far, (face - course.start[2]) / z)
    level = sqrt(x * x + y * y)
    begin = course.to_wall
    line = shapely.LineString(
        [(course.start[0] + t * x, course.start[1] + t * y) for t in (begin, max(begin + 1e-6, far))]
    )
    if level > 1e-9:
        cut = line.intersection(polygon(layout.outline).exterior)
        if not cut.is_empty:
            edge = shapely.get_coordinates(cut)
            far = float(np.hypot(edge[:, 0] - course.start[0], edge[:, 1] - course.start[1]).min() / level)
    if far >= 3000.0:
        return None
    return Point3(*(s + far * a for s, a in zip(course.start, course.axis, strict=True))), far
