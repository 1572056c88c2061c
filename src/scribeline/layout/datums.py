"""Datums: named places on a workpiece that a rule can be held to, and readings from them."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from math import hypot
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scribeline.job import NECK_POCKET, feature_id
from scribeline.layout.cut_places import PocketPlace
from scribeline.layout.points import Point, Point3, Ring

Part = Literal["body", "neck", "head", "plate"]
"""What a datum is on: a workpiece, or a part that is fixed to one."""

DatumId = Literal[
    "nut",
    "12th-fret",
    "board-end",
    "pocket-end",
    "heel-end",
    "neck-centreline",
    "head-nut",
    "head-centreline",
    "tail",
    "plate-front",
    "centreline",
    "top",
    "back",
    "pocket-corner-treble",
    "pocket-corner-bass",
]

_NUT_WARDS = Point3(-1.0, 0.0, 0.0)
_TAIL_WARDS, _UP = Point3(1.0, 0.0, 0.0), Point3(0.0, 0.0, 1.0)
_DOWN = Point3(0.0, 0.0, -1.0)
_TREBLE_WARDS = Point3(0.0, 1.0, 0.0)


@dataclass(frozen=True, slots=True)
class Datum:
    """A named place that can be touched, and the way in which readings from it count.

    Attributes:
        id: stable name.
        name: its shortest name, for the head of a column.
        words: its name in a sentence.
        point: where it is, in the instrument frame, mm.
        direction: unit vector along which a reading from it grows; None of a bare mark, which is read straight from.
        part: what it is on.
        made_by: id of the cut that makes it; "" where it is there from the start.
        covered_by: the part that hides it while it is fitted; "" where nothing does.
    """

    id: DatumId
    name: str
    words: str
    point: Point3
    direction: Point3 | None
    part: Part
    made_by: str = ""
    covered_by: Part | Literal[""] = ""

    def stands(self, fitted: Collection[Part], cut: Collection[str]) -> bool:
        """Whether it can be touched.

        Args:
            fitted: the parts that are together on the bench.
            cut: ids of what is cut by then.
        """
        made = not self.made_by or self.made_by in cut
        return made and self.part in fitted and self.covered_by not in fitted

    def along(self, at: Point3) -> Reading:
        """How far a place lies from it in its direction, mm; negative on its other side."""
        assert self.direction is not None
        off = (a - b for a, b in zip(at, self.point, strict=True))
        return Reading(self, sum(part * way for part, way in zip(off, self.direction, strict=True)))

    def straight(self, at: Point3) -> Reading:
        """How far a place lies from it in a straight line, seen from above, mm."""
        return Reading(self, hypot(at.x - self.point.x, at.y - self.point.y))


@dataclass(frozen=True, slots=True)
class Reading:
    """What a rule reads from a datum, mm."""

    datum: Datum
    mm: float


def find_datums(
    *,
    nut: float,
    start: str,
    twelfth: float,
    board_end: float,
    end: str,
    pocket_end: float,
    plate_front: float | None,
    outline: Ring,
    thickness: float,
    pockets: tuple[PocketPlace, ...],
    runs_through: bool,
) -> tuple[Datum, ...]:
    """Every datum of a right-handed instrument.

    Args:
        nut: where every distance from the nut starts, level along the body, mm: 0 where the neck lies level.
        start: what that is, in bench words: the nut's front edge, or a zero fret's middle.
        twelfth: the 12th fret's crown centre, from the nut, mm.
        board_end: the fingerboard's end, from the nut, mm.
        end: what that is, in bench words.
        pocket_end: the neck pocket's end wall, from the nut, mm.
        plate_front: where the centreline crosses the bridge plate's front edge, from the nut, mm; None while it has no place.
        outline: of the body.
        thickness: of the body at the bridge, mm.
        pockets: of the body.
        runs_through: whether the neck runs through the body, so that its own end stands in the pocket wall's place.
    """
    wall = feature_id(NECK_POCKET)
    found = [
        _station("nut", "nut", start, nut, "neck"),
        _station("12th-fret", "12th fret", "the 12th fret", twelfth, "neck"),
        _station("board-end", "board end", end, board_end, "neck"),
        *(_on_a_core(pocket_end, end) if runs_through else _in_a_pocket(pocket_end, wall)),
        Datum(
            "neck-centreline",
            "centreline",
            "the neck's centreline",
            Point3(0.0, 0.0, 0.0),
            _TREBLE_WARDS,
            "neck",
        ),
        Datum(
            "head-nut",
            "nut",
            f"{start}, along the head's face".replace("front edge", "front"),
            Point3(0.0, 0.0, 0.0),
            _NUT_WARDS,
            "head",
        ),
        Datum(
            "head-centreline",
            "centreline",
            "the head's centreline",
            Point3(0.0, 0.0, 0.0),
            _TREBLE_WARDS,
            "head",
        ),
        Datum("centreline", "centreline", "the centreline", Point3(0.0, 0.0, 0.0), _TREBLE_WARDS, "body"),
        Datum("top", "top", "the top", Point3(0.0, 0.0, 0.0), _DOWN, "body"),
        Datum("back", "back", "the back", Point3(0.0, 0.0, -thickness), _UP, "body"),
        *_edge_marks(outline, pockets, wall),
    ]
    if plate_front is not None:
        found.append(
            _station("plate-front", "plate front edge", "the plate's front edge", plate_front, "plate")
        )
    return tuple(found)


def _in_a_pocket(end: float, wall: str) -> Iterator[Datum]:
    """Where a pocket ends, and what is seated against it."""
    at = Point3(end, 0.0, 0.0)
    yield Datum(
        "pocket-end",
        "pocket end wall",
        "the pocket's end wall",
        at,
        _TAIL_WARDS,
        "body",
        made_by=wall,
        covered_by="neck",
    )
    yield Datum("heel-end", "heel end", "the heel's end", at, _NUT_WARDS, "neck", covered_by="body")


def _on_a_core(end: float, words: str) -> Iterator[Datum]:
    """What a neck that runs through has in their place: its board's end, which stands on the core and stays to be touched."""
    yield Datum("pocket-end", "board end", words, Point3(end, 0.0, 0.0), _TAIL_WARDS, "body")


def _station(identity: DatumId, name: str, words: str, x: float, part: Part) -> Datum:
    return Datum(identity, name, words, Point3(x, 0.0, 0.0), _TAIL_WARDS, part)


def _edge_marks(outline: Ring, pockets: tuple[PocketPlace, ...], wall: str) -> Iterator[Datum]:
    """Places on the outline that anyone can find on the body: the tail on the centreline, the neck pocket's corners.

    The body may reach further to the tail beside the centreline.
    """
    corners = np.array(outline)
    tail = max(_crossings(corners, Point(-1e4, 0.0), Point(1e4, 0.0)), default=None, key=lambda p: p.x)
    if tail is not None:
        words = "where the centreline meets the tail edge"
        yield Datum("tail", "tail edge", words, Point3(tail.x, 0.0, 0.0), _TAIL_WARDS, "body")
    neck = next((pocket for pocket in pockets if pocket.name == NECK_POCKET), None)
    if neck is None:
        return
    walls = zip(neck.outline, neck.outline[1:] + neck.outline[:1], strict=True)
    found = [p for a, b in walls if abs(a.x - b.x) > 1.0 for p in _crossings(corners, a, b)]
    sides: tuple[tuple[int, DatumId], ...] = ((1, "pocket-corner-treble"), (-1, "pocket-corner-bass"))
    for side, name in sides:
        there = [p for p in found if p.y * side > 0]
        if there:
            at = min(there, key=lambda p: p.x)
            words = f"the neck pocket's corner on the {name.rpartition('-')[2]} side"
            yield Datum(name, "pocket corner", words, Point3(at.x, at.y, 0.0), None, "body", made_by=wall)


def _crossings(corners: NDArray[np.float64], start: Point, end: Point) -> Iterator[Point]:
    """Where a stretch crosses the outline of these corners."""
    run = np.roll(corners, -1, axis=0) - corners
    d, off = np.array(end) - start, corners - start
    det = d[0] * run[:, 1] - d[1] * run[:, 0]
    level = np.abs(det) < 1e-12
    det[level] = np.nan
    t = (off[:, 0] * run[:, 1] - off[:, 1] * run[:, 0]) / det
    share = (off[:, 0] * d[1] - off[:, 1] * d[0]) / det
    met = (t >= -1e-9) & (t <= 1 + 1e-9) & (share >= -1e-9) & (share < 1)
    for place in (corners[met] + share[met, np.newaxis] * run[met]).tolist():
        yield Point(*place)
