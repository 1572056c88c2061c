"""The bridge plate as it stands: held by the holes that are drilled for it, wherever the job would now have it.

The screws' pilots hold the plate. Where only string holes are drilled, they say where the plate's holes are, for the
plate guided the bit. The plate is laid on the holes by rigid least squares: with pattern places p and hole places h,
both less their means, the turn is atan2(Σ p × h, Σ p · h), and the means then fall together (the plane case of
Kabsch, Acta Crystallographica A32, 1976, 922).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import atan2, hypot, pi
from typing import Literal

from scribeline.job import Document, MadeHole, Record
from scribeline.layout.paths import bridge_row
from scribeline.layout.points import Point
from scribeline.quantities import cos, sin

SAME = 1e-6
"""Places closer than this, mm, are one place: another machine's last digit."""

MOST_TURN = pi / 4
"""Holes that would turn the plate by more than this were drilled for another plate or the other hand; it is then laid
on them unturned."""


@dataclass(frozen=True, slots=True)
class Pose:
    """Where a plate lies on a right-handed instrument.

    Attributes:
        x: middle of its front edge from the nut, mm.
        y: the same from the centreline, mm.
        turn: rad; positive takes the treble end towards the nut.
    """

    x: float
    y: float = 0.0
    turn: float = 0.0

    def place(self, along: float, across: float) -> Point:
        """Where a place of the plate lies, given from its front edge and from its middle towards the treble, mm."""
        return Point(
            placed_along(self.x, along, across, self.turn), placed_across(self.y, along, across, self.turn)
        )


def placed_along(x: float, along: float, across: float, turn: float) -> float:
    """How far from the nut a place of a plate lies, mm, whose front edge's middle is at x; see `Pose.place`."""
    return x + along * cos(turn) - across * sin(turn)


def placed_across(y: float, along: float, across: float, turn: float) -> float:
    """How far from the centreline towards the treble it lies, mm."""
    return y + along * sin(turn) + across * cos(turn)


@dataclass(frozen=True, slots=True)
class HoleFit:
    """How a drilled hole lies under the plate's own.

    Attributes:
        feature: id of the drilled hole.
        off: from the middle of the plate's hole, mm.
        play: how far off it may be, mm.
    """

    feature: str
    off: float
    play: float

    @property
    def fits(self) -> bool:
        """Whether the hole is within the play."""
        return self.off <= self.play + SAME


@dataclass(frozen=True, slots=True)
class Held:
    """A plate that drilled holes hold where it stands.

    Attributes:
        by: what holds it.
        screws: how each drilled pilot lies under the plate's screw hole.
        string_holes: how each drilled string hole lies under the plate's.
        aim: middle of the front edge where the plate is wanted; None where no place is right for it.
    """

    by: Literal["pilots", "string holes"]
    screws: tuple[HoleFit, ...]
    string_holes: tuple[HoleFit, ...]
    aim: Point | None

    @property
    def holes(self) -> tuple[str, ...]:
        """Ids of the holes that hold it."""
        return tuple(fit.feature for fit in (self.screws if self.by == "pilots" else self.string_holes))


def stand(document: Document, record: Record, aim: Pose | None) -> tuple[Pose | None, Held | None]:
    """Find where the plate stands.

    Args:
        document: the job.
        record: says what is drilled.
        aim: where the plate is wanted; None where no place is right for it.

    Returns:
        Its pose, that of the aim while nothing holds it, and how the drilled holes hold it.
    """
    drilled, bridge = record.made_holes, document.bridge
    screws = _pairs("bridge-screw", bridge.screws, drilled, document.handed)
    strings = _pairs("string-hole", plate_string_holes(document), drilled, document.handed)
    lead = screws or strings
    if not lead:
        return aim, None
    pose = _laid(lead, 0.0 if aim is None else aim.turn)
    if aim is not None and _same(pose, aim, bridge.plate_width.mm):
        pose = aim
    play = max(0.0, bridge.screw_hole.mm - document.bridge_screw.thread.mm) / 2
    guide = 0.0 if bridge.string_hole is None else bridge.string_hole.mm
    slip = play if screws else 0.0  # with its screws in, the plate can still shift by their play
    return pose, Held(
        by="pilots" if screws else "string holes",
        screws=tuple(_fit(pose, pair, play) for pair in screws),
        string_holes=tuple(_fit(pose, pair, max(0.0, guide - pair.widest) / 2 + slip) for pair in strings),
        aim=None if aim is None else Point(aim.x, aim.y),
    )


@dataclass(frozen=True, slots=True)
class _Pair:
    """A place of the plate's pattern, and the drilled hole that belongs to it, as on a right-handed instrument."""

    feature: str
    own: Point
    hole: Point
    widest: float


def plate_string_holes(document: Document) -> tuple[tuple[float, float], ...]:
    """The plate's string holes, from its front edge and its middle, mm; treble first."""
    bridge = document.bridge
    row = bridge.string_holes_from_front if bridge.through_body else None
    if row is None:
        return ()
    return tuple((row.mm, float(y)) for y in bridge_row(len(document.strings), bridge.spacing.mm))


def _pairs(
    family: str, pattern: Sequence[tuple[float, float]], drilled: Mapping[str, MadeHole], handed: str
) -> tuple[_Pair, ...]:
    treble = 1 if handed == "right" else -1
    return tuple(
        _Pair(
            name, Point(*own), Point(drilled[name].at[0], treble * drilled[name].at[1]), drilled[name].widest
        )
        for number, own in enumerate(pattern, start=1)
        if (name := f"{family}-{number}") in drilled
    )


def _laid(pairs: Sequence[_Pair], planned: float) -> Pose:
    """The plate on its holes by rigid least squares; on one alone it keeps the planned turn."""
    own, hole = (_mean([getattr(pair, which) for pair in pairs]) for which in ("own", "hole"))
    cross = dot = 0.0
    for pair in pairs:
        p = Point(pair.own.x - own.x, pair.own.y - own.y)
        h = Point(pair.hole.x - hole.x, pair.hole.y - hole.y)
        cross += p.x * h.y - p.y * h.x
        dot += p.x * h.x + p.y * h.y
    turn = atan2(cross, dot) if hypot(cross, dot) > SAME else planned
    if abs(turn) > MOST_TURN:
        turn = planned
    middle = Pose(0.0, 0.0, turn).place(own.x, own.y)
    return Pose(hole.x - middle.x, hole.y - middle.y, turn)


def _mean(places: Sequence[Point]) -> Point:
    return Point(*(sum(parts) / len(places) for parts in zip(*places, strict=True)))


def _same(a: Pose, b: Pose, across: float) -> bool:
    return max(abs(a.x - b.x), abs(a.y - b.y), abs(a.turn - b.turn) * across) < SAME


def _fit(pose: Pose, pair: _Pair, play: float) -> HoleFit:
    there = pose.place(*pair.own)
    return HoleFit(pair.feature, hypot(there.x - pair.hole.x, there.y - pair.hole.y), play)
