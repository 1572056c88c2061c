"""What of an instrument may come out otherwise than planned, number by number, and the instrument that comes of it.

A cut is displaced in the frame of its own mouth: `u` and `v` lie in the surface it is cut from (along and across the
instrument on a face), its axis leans about its mouth, it goes deeper, a cavity grows about its middle. The bridge has two
places: where its holes lie in the wood, and where they lie to the neck and its strings (`anchor-x`, `anchor-y`); they
differ by how the neck came to lie.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from math import hypot, sqrt
from typing import Any, Literal, NamedTuple

from scribeline.features import Bore, Feature, Features, Pocket, as_cut
from scribeline.features.cuts import Slope
from scribeline.job import Dimension, Document, Done, Job, Record
from scribeline.layout import Point, Point3, Ring
from scribeline.solid import DRIFT
from scribeline.solid.shapes import drift_of

Kind = Literal[
    "u",
    "v",
    "lean-u",
    "lean-v",
    "depth",
    "size",
    "thickness",
    "anchor-x",
    "anchor-y",
    "stated",
    "setback",
    "reading",
]
"""What of something comes out otherwise: mm, a lean in rad, a size in mm per mm."""


class Coordinate(NamedTuple):
    """One number that may come out otherwise: of a cut by its id, of a part by its key in the job."""

    kind: Kind
    of: str


THICKNESS = Coordinate("thickness", "body")

_OF_A_CUT: tuple[Kind, ...] = ("u", "v", "lean-u", "lean-v", "depth", "size")

Off = Mapping[Coordinate, float]
"""By how much each of them is off; those that are missing are as planned."""

Vector = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Frame:
    """Directions at a hole's mouth, unit vectors.

    Attributes:
        u: in the surface: along the instrument on a face, along the edge elsewhere.
        v: in the surface, square to it: across the instrument on a face, up elsewhere.
        lean_u: square to the axis, level.
        lean_v: square to both.
    """

    u: Vector
    v: Vector
    lean_u: Vector
    lean_v: Vector


def frame_of(bore: Bore) -> Frame:
    """The directions in which a hole may come out elsewhere."""
    normal, axis = bore.normal, bore.axis
    across = hypot(normal.x, normal.y)
    if across < 1e-9:
        u, v = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)
    else:
        u, v = (-normal.y / across, normal.x / across, 0.0), (0.0, 0.0, 1.0)
    level = hypot(axis.x, axis.y)
    if level < 1e-9:
        return Frame(u, v, (1.0, 0.0, 0.0), (0.0, 1.0, 0.0))
    aside = (-axis.y / level, axis.x / level, 0.0)
    up = (-axis.z * aside[1], axis.z * aside[0], axis.x * aside[1] - axis.y * aside[0])
    return Frame(u, v, aside, up)


def displaced(feature: Feature, off: Off, *, name: str = "") -> Feature:
    """A cut as it comes out.

    Whether its bit may wander counts as planned: a press that leans a little makes no long bit of a short one.

    Args:
        feature: as planned.
        off: by how much it is off.
        name: its id then; its own when left out.
    """

    def by(kind: Kind) -> float:
        return off.get(Coordinate(kind, feature.id), 0.0)

    touched = any(by(kind) for kind in _OF_A_CUT) or (feature.face == "back" and off.get(THICKNESS))
    if not touched:
        return replace(feature, id=name) if name else feature
    if isinstance(feature, Pocket):
        return _pocket(feature, name or feature.id, by)
    thicker = off.get(THICKNESS, 0.0)
    frame = frame_of(feature)
    at = _added(feature.at, (by("u"), frame.u), (by("v"), frame.v))
    if feature.face == "back":
        at = Point3(at.x, at.y, at.z - thicker)
    axis = _added(feature.axis, (by("lean-u"), frame.lean_u), (by("lean-v"), frame.lean_v))
    long = sqrt(sum(part * part for part in axis))
    last, leans = feature.deepest, by("lean-u") != 0 or by("lean-v") != 0
    bit = replace(last.bit, drift=drift_of(feature, DRIFT)) if leans else last.bit
    deepest = replace(last, depth=max(0.1, last.depth + by("depth")), bit=bit)
    return replace(
        feature,
        id=name or feature.id,
        at=at,
        axis=Point3(*(part / long for part in axis)) if leans else feature.axis,
        steps=(*feature.steps[:-1], deepest),
    )


def _pocket(pocket: Pocket, name: str, by: Callable[[Kind], float]) -> Pocket:
    xs, ys = [p.x for p in pocket.outline], [p.y for p in pocket.outline]
    x, y = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
    grown, u, v = 1 + by("size"), by("u"), by("v")

    def moved(ring: Ring) -> Ring:
        return Ring(Point(x + (p.x - x) * grown + u, y + (p.y - y) * grown + v) for p in ring)

    slope = pocket.slope and Slope(pocket.slope.angle, pocket.slope.at + u)
    return replace(
        pocket,
        id=name,
        outline=moved(pocket.outline),
        islands=tuple(map(moved, pocket.islands)),
        depth=max(0.1, pocket.depth + by("depth")),
        slope=slope,
    )


def _added(place: Point3, *moves: tuple[float, Vector]) -> Point3:
    return Point3(
        *(p + sum(by * way[n] for by, way in moves) for n, p in enumerate(place)),
    )


def all_displaced(features: Features, off: Off) -> Features:
    """Every cut as it comes out."""
    return Features(
        tuple(bore for each in features.bores if isinstance(bore := displaced(each, off), Bore)),
        tuple(pocket for each in features.pockets if isinstance(pocket := displaced(each, off), Pocket)),
    )


_WHEN = dt.datetime(2000, 1, 1, tzinfo=dt.UTC)


def with_anchors(record: Record, anchors: tuple[Bore, ...], off: Off) -> Record:
    """A record by which the bridge's holes are made, as they come to lie to the neck."""
    cuts = []
    for bore in anchors:
        x, y = (off.get(Coordinate(kind, bore.id), 0.0) for kind in _ANCHOR)
        place = bore.at.x + x, bore.at.y + y
        cuts.append(as_cut(bore).model_copy(update={"measured": place}))
    names = {bore.id for bore in anchors}
    before = (
        each.model_copy(update={"cuts": tuple(cut for cut in each.cuts if cut.id not in names)})
        for each in record.done
    )
    lies = Done(card="made", by="made", at=_WHEN, cuts=tuple(cuts))
    return Record(
        done=(*before, lies),
        readings=record.readings,
        overrides=record.overrides,
        measured=record.measured_elsewhere(names),
    )


_ANCHOR: tuple[Kind, Kind] = ("anchor-x", "anchor-y")


def with_stated(job: Job, off: Off) -> Job:
    """A job whose parts measure otherwise than it states."""
    document = job.document
    for coordinate, by in off.items():
        if coordinate.kind == "stated" and by:
            document = _other(document, tuple(coordinate.of.split(".")), by)
    return replace(job, document=document)


def _other(table: Any, key: tuple[str, ...], by: float) -> Any:
    value = getattr(table, key[0])
    other = _other(value, key[1:], by) if len(key) > 1 else replace(value, mm=value.mm + by)
    return table.model_copy(update={key[0]: other})


def stated_dimensions(document: Document) -> dict[str, Dimension]:
    """Every dimension of a part that stands by itself in a table of the job, by its key."""
    found: dict[str, Dimension] = {}
    for name in type(document).model_fields:
        table = getattr(document, name)
        for key in getattr(type(table), "model_fields", ()):
            value = getattr(table, key)
            if isinstance(value, Dimension) and value.plus_minus > 0:
                found[f"{name}.{key}"] = value
    return found
