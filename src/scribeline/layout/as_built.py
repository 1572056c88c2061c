"""The bridge as it stands: held by the holes that are drilled for it, wherever the job would now have it.

The holes of its anchors hold it. Where only string holes are drilled that the bridge guided the bit for, they say
where its own holes are. The bridge is laid on the holes by rigid least squares: with pattern places p and hole places h,
both less their means, the turn is atan2(Σ p × h, Σ p · h), and the means then fall together (the plane case of
Kabsch, Acta Crystallographica A32, 1976, 922).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from math import atan2, hypot, pi, sqrt

from scribeline.job import Document, MadeHole, Record
from scribeline.layout.bridges import kind_of, string_places
from scribeline.layout.neck_line import CHI_SQUARED_2
from scribeline.layout.points import Point
from scribeline.layout.pose import Pose
from scribeline.layout.stringing import about_a_line

SAME = 1e-6
"""Places closer than this, mm, are one place: another machine's last digit."""

MOST_TURN = pi / 4
"""Holes that would turn the bridge by more than this were drilled for another one or the other hand; it is then laid
on them unturned."""


@dataclass(frozen=True, slots=True)
class HoleFit:
    """How a drilled hole lies under the bridge's own.

    Attributes:
        feature: id of the drilled hole.
        off: from the middle of the bridge's hole, mm.
        play: how far off it may be, mm.
        misread: how far its place may be misread, mm; 0 of one that nobody read.
    """

    feature: str
    off: float
    play: float
    misread: float = 0.0

    @property
    def fits(self) -> bool:
        """Whether the hole is within the play."""
        return self.off <= self.play + SAME

    @property
    def is_surely_off(self) -> bool:
        """Whether it is off by more than the play and what a reading of its place may be off."""
        return self.off > self.play + self.misread + SAME


@dataclass(frozen=True, slots=True)
class Held:
    """A bridge that drilled holes hold where it stands.

    Attributes:
        by: what holds it.
        anchors: how each drilled hole of an anchor lies under the bridge's own.
        string_holes: how each drilled string hole lies under the bridge's, where that guided the bit.
        aim: middle of the bridge's line where it is wanted; None where no place is right for it.
        wanted: its outline there; none likewise.
        off_turn: how far it stands turned from there, rad.
    """

    by: str
    anchors: tuple[HoleFit, ...]
    string_holes: tuple[HoleFit, ...]
    aim: Point | None
    wanted: tuple[Point, ...]
    off_turn: float

    @property
    def leading(self) -> tuple[HoleFit, ...]:
        """The holes that hold it."""
        return self.anchors or self.string_holes

    @property
    def holes(self) -> tuple[str, ...]:
        """Ids of the holes that hold it."""
        return tuple(fit.feature for fit in self.leading)


def stand(
    document: Document, record: Record, aim: Pose | None, units: Pose | None = None
) -> tuple[Pose | None, Held | None]:
    """Find where the bridge stands.

    Args:
        document: the job.
        record: says what is drilled.
        aim: where the bridge is wanted; None where no place is right for it.
        units: of a bridge in single units, where each is wanted however little travel is left; drilled holes hold each by itself.

    Returns:
        Its pose, that of the aim while nothing holds it, and how the drilled holes hold it.
    """
    lies = [_lie(document, record, n, each) for n, each in enumerate((aim,) if units is None else units.each)]
    held = [each for each in lies if each is not None]
    if not held:
        return aim, None
    if units is None:
        pose = held[0].pose
    else:
        pose = about_a_line(
            wanted if lie is None else lie.pose for wanted, lie in zip(units.each, lies, strict=True)
        )
        if aim is not None and pose.each == aim.each:
            pose = aim
    kind, anchors = kind_of(document.bridge), tuple(fit for each in held for fit in each.anchors)
    return pose, Held(
        by=kind.holes if anchors else "string holes",
        anchors=anchors,
        string_holes=tuple(fit for each in held for fit in each.string_holes),
        aim=None if aim is None else Point(aim.x, aim.y),
        wanted=() if aim is None else tuple(chain(*kind.place(document, aim).outlines)),
        off_turn=0.0 if aim is None else pose.turn - aim.turn,
    )


def held_bridge(document: Document, record: Record, aim: Pose) -> tuple[float, float] | None:
    """Where drilled holes hold the bridge: its line's middle off the centreline to the treble, mm, and its turn, rad."""
    pose, held = stand(document, record, aim, aim if aim.each else None)
    return None if held is None or pose is None else (pose.y, pose.turn)


@dataclass(frozen=True, slots=True)
class _Lie:
    """A bridge, or a unit of one, on its drilled holes, and how each of them fits."""

    pose: Pose
    anchors: tuple[HoleFit, ...]
    string_holes: tuple[HoleFit, ...]


def _lie(document: Document, record: Record, number: int, aim: Pose | None) -> _Lie | None:
    """How the drilled holes hold the bridge, or its unit of this number from 0; None where none is drilled."""
    drilled, bridge = record.made_holes, document.bridge
    kind, guide = kind_of(bridge), bridge.guide
    pattern = kind.anchor_places(document)
    guided = () if guide is None else string_places(document)
    anchors = _pairs(kind.family, pattern, drilled, document.handed, number)
    strings = _pairs("string-hole", guided, drilled, document.handed, number)
    lead = anchors or strings
    if not lead:
        return None
    pose = _laid(lead, 0.0 if aim is None else aim.turn)
    if aim is not None and _same(pose, aim, bridge.width):
        pose = aim
    play, guides = kind.play(document), 0.0 if guide is None else guide.mm
    slip = play if anchors else 0.0  # on its anchors the bridge can still shift by their play
    return _Lie(
        pose,
        tuple(_fit(pose, pair, play) for pair in anchors),
        tuple(_fit(pose, pair, max(0.0, guides - pair.widest) / 2 + slip) for pair in strings),
    )


@dataclass(frozen=True, slots=True)
class _Pair:
    """A place of the bridge's pattern, and the drilled hole that belongs to it, as on a right-handed instrument."""

    feature: str
    own: Point
    hole: Point
    widest: float
    misread: float


def _pairs(
    family: str,
    pattern: Sequence[tuple[float, float]],
    drilled: Mapping[str, MadeHole],
    handed: str,
    unit: int,
) -> tuple[_Pair, ...]:
    treble = 1 if handed == "right" else -1
    return tuple(
        _Pair(
            name,
            Point(*own),
            Point(drilled[name].at[0], treble * drilled[name].at[1]),
            drilled[name].widest,
            misread(drilled[name]),
        )
        for number, own in enumerate(pattern, start=1 + unit * len(pattern))
        if (name := f"{family}-{number}") in drilled
    )


def _laid(pairs: Sequence[_Pair], planned: float) -> Pose:
    """The bridge on its holes by rigid least squares; on one alone it keeps the planned turn."""
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
    off = hypot(there.x - pair.hole.x, there.y - pair.hole.y)
    return HoleFit(pair.feature, off, play, pair.misread)


def misread(hole: MadeHole) -> float:
    """How far a hole's place may be misread, mm: 95 times in 100 no further, along and across, each by itself."""
    return max(hole.sd) * sqrt(CHI_SQUARED_2)
