"""Pilots that go from inside a cavity into its wall: of the screws that pull a vibrato's claw."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import cos, degrees, dist, sin

from scribeline.features.cuts import Bore, Pocket, Reason
from scribeline.features.edge import grain_of
from scribeline.features.pilots import BENCH_SOURCE
from scribeline.features.screw_pilots import driver, screw_pilot
from scribeline.job import Document, feature_id
from scribeline.layout import Layout, Point, Point3, WallScrews, neck_walls


def wall_screws(document: Document, layout: Layout, pockets: Sequence[Pocket]) -> Iterator[Bore]:
    """The pilots of what the bridge has in a cavity's wall; none where nothing tells how deep they go."""
    for row in () if layout.bridge is None else layout.bridge.wall_screws:
        cavity = next(pocket for pocket in pockets if pocket.id == feature_id(row.cavity))
        yield from _pair(document, layout, row, cavity)


def _pair(document: Document, layout: Layout, row: WallScrews, cavity: Pocket) -> Iterator[Bore]:
    """The treble one, then the bass one, each from its own place on the wall."""
    off = row.stand_off(document, layout)
    assert layout.bridge is not None
    across = [layout.bridge.middle.y + layout.treble * side * row.apart / 2 for side in (1, -1)]
    walls = neck_walls(tuple(cavity.outline), *across)
    if off is None or not walls:
        return
    driven = driver(row.screw, out_of_wood(off, row.tilt), row.key)
    if driven.reach <= 0:
        return
    axis = Point3(-cos(row.tilt), 0.0, sin(row.tilt))
    for number, (x, y) in enumerate(zip(walls, across, strict=True), start=1):
        at = Point3(x, y, -row.below)
        step, why = screw_pilot(document, driven, layout.timber_at(Point(x, y), at.z))
        grain, angle = grain_of(layout, at, axis)
        yield Bore(
            id=f"{row.family}-{number}",
            role=f"{row.holds} pilot",
            group=row.group,
            face="pocket",
            at=at,
            axis=axis,
            steps=(step,),
            meets=frozenset({cavity.id}),
            why=(
                *why,
                Reason(
                    f"wound in furthest, a screw of {row.screw.length.mm:.1f} mm is {driven.under_head:.2f} mm out of the wall"
                ),
                Reason(
                    f"{degrees(row.tilt):.1f}° off level, as stated: the drill comes in over the cavity's tail end"
                ),
                Reason(
                    f"it goes into {grain} grain, {degrees(angle):.0f}° off the grain's run", BENCH_SOURCE
                ),
            ),
            entered_from=cavity.id,
            outward=_out_of(cavity, at),
            grain=grain,
            screw=driven,
            holds=row.holds,
        )


def _out_of(cavity: Pocket, at: Point3) -> Point3:
    """The unit normal of a cavity's neck wall at a place on it, towards the tail."""
    ring = tuple(cavity.outline)
    walls = [
        (abs((b.x - a.x) * (at.y - a.y) - (b.y - a.y) * (at.x - a.x)) / dist(a, b), a, b)
        for a, b in zip(ring, (*ring[1:], ring[0]), strict=True)
        if min(a.y, b.y) <= at.y <= max(a.y, b.y) and a.y != b.y
    ]
    _, a, b = min(walls)
    side = 1.0 if b.y > a.y else -1.0
    return Point3(side * (b.y - a.y) / dist(a, b), side * (a.x - b.x) / dist(a, b), 0.0)


def out_of_wood(off: float, tilt: float) -> float:
    """How much of a slanting screw lies before the wall that its head stands so far off, mm."""
    return off / cos(tilt)
