"""Where the neck really lies: its line over the body from readings beside a thread, and what follows it.

A thread is stretched over the body's centreline and on over the board. From it to the board's edges is read at three stations,
on both sides. A neck whose line lies d off the centreline at the pocket's end wall, towards the treble, and runs off by φ
towards the treble for each unit towards the tail, has at u from the nut its middle y = d + (u − wall) tan φ off the thread: the
treble edge reads half the board's width there plus y, the bass edge minus y. The board's own width, as made, is in doubt as
well (plane geometry). Both unknowns come from all readings by `quantities.adjusted`; one that the others contradict is named
and does not count.

What belongs to the strings goes where the neck goes: bridge, string holes, the cavities under the strings. What belongs to the
body stays. Instead, or as well, the neck can be moved in its pocket: `Settling` finds what is best, as a small sum of squares.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import cos, sin, tan
from typing import Literal

import numpy as np

from scribeline.job import SCALE, Document, Record, reading_sd, scale_unknown, scaled
from scribeline.layout.fan import fret_lines
from scribeline.layout.frets import board_width
from scribeline.layout.points import Point, Point3
from scribeline.layout.pose import Pose
from scribeline.quantities import Adjusted, Sight, Unknown, adjusted
from scribeline.tables import Accuracies

Side = Literal["treble", "bass"]
SIDES: tuple[Side, Side] = ("treble", "bass")

EDGE_READ = 0.5
"""How far the board's edge may be read off its place before the neck counts as off its line, mm (common practice, no source)."""

THREAD = "thread"
"""How the readings are taken, where nobody says otherwise: a method of `tables/accuracies.csv`."""

WIDTH_SD = 0.05
"""Half the board's width as made, one standard deviation, mm: a caliper on wood (common practice, no source)."""

_OFF_SD, _TURN_SD = 5.0, 0.05
"""How far a neck may lie off, mm, and turned, rad, before anybody reads it: next to nothing is known."""

_OFF, _TURN, _AT_NUT, _AT_END = "off", "turn", "width-at-nut", "width-at-end"


@dataclass(frozen=True, slots=True)
class Station:
    """Where the board's edges are read.

    Attributes:
        id: of its readings, such as "nut".
        words: in a sentence.
        along: from the nut along the neck, mm.
        half: half the board's width there, mm.
    """

    id: str
    words: str
    along: float
    half: float

    def measurable(self, side: Side) -> str:
        """The name of the reading on one side."""
        return f"neck-{side}-at-{self.id}"


_PLACES = ("nut", "12th", "end")
"""Ids of the stations."""


def neck_stations(document: Document) -> tuple[Station, ...]:
    """Where the board's edges are read, from the nut on."""
    middles = fret_lines(document).middle.tolist()
    fanned = document.scale.is_fanned
    start, end = middles[1] if fanned else 0.0, document.fingerboard.end
    words = (
        "beside the middle of the 1st fret" if fanned else "at the nut",
        "beside the middle of the 12th fret",
        "at the board's end",
    )
    along = (start, middles[12], end)
    halves = (board_width(document, np.array(along)) / 2).tolist()
    return tuple(Station(*each) for each in zip(_PLACES, words, along, halves, strict=True))


LINE_READINGS = frozenset(f"neck-{side}-at-{place}" for side in SIDES for place in _PLACES)
"""Names of the readings that find the neck's line: it is that which has limits, not each of them."""


@dataclass(frozen=True)
class NeckLine:
    """The neck's line over the body, on a right-handed instrument.

    Attributes:
        wall: the pocket's end wall from the nut, mm.
        off: how far the line lies off the centreline there, towards the treble, mm.
        turn: by how much it runs off towards the treble on its way to the tail, rad.
        read: what the readings make of both, and of the board's width.
        entries: number in the record of each reading that was used, by its name in `read`.
    """

    wall: float
    off: float
    turn: float
    read: Adjusted
    entries: Mapping[str, int]

    def off_at(self, x: float) -> tuple[float, float]:
        """How far the line lies off the centreline at a place along the body, mm, and the standard deviation of that."""
        rates = {_OFF: 1.0, _TURN: x - self.wall}
        return self.off + (x - self.wall) * tan(self.turn), self.read.of(rates)[1]

    @property
    def is_plain(self) -> bool:
        """Whether it is off by more than the readings leave to chance: the centreline lies outside the region of 95 %."""
        values, covariance = self.read.between(_OFF, _TURN)
        return float(values @ np.linalg.solve(covariance, values)) > CHI_SQUARED_2


CHI_SQUARED_2 = 5.991
"""Below which 95 % of the sums of two squares of standard normal numbers lie (chi-squared, two degrees of freedom)."""


def neck_measurables(found: Sequence[Station]) -> Iterator[tuple[str, float, str]]:
    """What is read to find the neck's line: name, value expected and how."""
    for each in found:
        for side in SIDES:
            how = f"from a thread over the body's centreline to the board's {side} edge {each.words}"
            yield each.measurable(side), each.half, how


def neck_line(document: Document, record: Record, wall: float, accuracies: Accuracies) -> NeckLine | None:
    """The neck's line from what the record has of it; None while fewer than two stations are read.

    Args:
        document: the job.
        record: with the readings.
        wall: the pocket's end wall, from the nut, mm.
        accuracies: how well the shop measures.
    """
    counting = record.counting(LINE_READINGS)
    if not counting:
        return None
    end = document.fingerboard.end
    places = {each.measurable(side): (each, side) for each in neck_stations(document) for side in SIDES}
    sights, entries, read_at = [], {}, set()
    for no, entry in counting:
        station, side = places[entry.what]
        sign, share = (1.0 if side == "treble" else -1.0), station.along / end
        name = f"{entry.what}#{no}"
        rates = {_OFF: sign, _TURN: sign * (station.along - wall), _AT_NUT: 1.0 - share, _AT_END: share}
        rates[SCALE] = scaled(entry.with_what or THREAD, entry.value_mm)
        sights.append(
            Sight(name, entry.value_mm - station.half, reading_sd(entry, accuracies, THREAD), rates)
        )
        entries[name] = no
        read_at.add(station.id)
    if len(read_at) < LEAST_STATIONS:
        return None
    unknowns = (
        Unknown(_OFF, _OFF_SD),
        Unknown(_TURN, _TURN_SD),
        Unknown(_AT_NUT, WIDTH_SD),
        Unknown(_AT_END, WIDTH_SD),
        scale_unknown(accuracies),
    )
    read = adjusted(unknowns, sights)
    (off, turn), _ = read.between(_OFF, _TURN)
    return NeckLine(wall, float(off), float(turn), read, entries)


LEAST_STATIONS = 2
"""Stations that must be read before anything is said of the neck's line: one alone tells no turn."""


def onto(pose: Pose, wall: float, own: Pose) -> Pose:
    """Where a part lies that has a place in the neck's frame.

    Args:
        pose: of the neck, by its place at the end wall.
        wall: the end wall, from the nut, mm.
        own: the part in the neck's frame, as on a neck that lies on the centreline.
    """
    at = pose.place(own.x - wall, own.y)
    return Pose(at.x, at.y, own.turn + pose.turn, tuple(onto(pose, wall, each) for each in own.each))


def off_from(pose: Pose, wall: float, lies: Pose) -> Pose:
    """The same the other way: a part's place in the neck's frame, from where it lies on the body."""
    x, y = lies.x - pose.x, lies.y - pose.y
    along, across = x * cos(pose.turn) + y * sin(pose.turn), y * cos(pose.turn) - x * sin(pose.turn)
    return Pose(
        wall + along, across, lies.turn - pose.turn, tuple(off_from(pose, wall, each) for each in lies.each)
    )


def point_onto(pose: Pose, wall: float, point: Point) -> Point:
    """Where a place of the neck's frame lies on the body."""
    return pose.place(point.x - wall, point.y)


def space_onto(pose: Pose, wall: float, point: Point3) -> Point3:
    """The same of a place in space."""
    at = pose.place(point.x - wall, point.y)
    return Point3(at.x, at.y, point.z)
