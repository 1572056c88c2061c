"""The head laid out flat: where each tuner stands, and how its string gets there from the nut.

The head has a frame of its own, in its face: x runs from the nut's line towards the tail as everywhere, so that the head lies
at negative x; y from the centreline as the body's does. A stepped head's face is level with the neck's; an angled one leans back
from the nut by its angle, and its lengths are counted along its face.

A string runs straight on beyond its slot, seen from the front, unless its post draws it aside: the kink k. It breaks down over
the nut by b: the head's angle, and the fall from its slot to its post, both over the head's face. In space the string bends by
arccos(cos b cos k). Plane trigonometry.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import acos, cos, hypot
from typing import Any

from scribeline.job import Document, Head
from scribeline.layout.fan import fret_lines, strings_across
from scribeline.layout.points import Point, Ring
from scribeline.quantities import atan2

HEAD_EDGE = 9.0
"""Wood left round a tuner's hole by a head whose outline is not stated, mm (common practice, no source)."""

_SMOOTH = 16
"""Corners of a quarter turn of that outline."""


@dataclass(frozen=True, slots=True)
class Post:
    """One tuner's post, and the string on its way to it.

    Attributes:
        string: its number.
        side: 1 on the treble side of the head, -1 on the bass side.
        at: its centre, in the head's frame, mm.
        kink: how far the post draws the string aside at the nut, rad; positive towards the treble.
        breaks: how far the string breaks down over the nut, rad.
    """

    string: int
    side: int
    at: Point
    kink: float
    breaks: float

    @property
    def bend(self) -> float:
        """How far the string bends over the nut in space, rad."""
        return acos(cos(self.breaks) * cos(self.kink))


@dataclass(frozen=True, slots=True)
class HeadPlace:
    """The head of one instrument, in its own frame.

    Attributes:
        posts: one a string, in the strings' order.
        outline: of the head, from the nut's line, mm.
        is_stated: whether the job states that outline.
        thickness: mm.
    """

    posts: tuple[Post, ...]
    outline: Ring
    is_stated: bool
    thickness: float


def drawn_aside(across: Any, straight: Any, along: Any) -> Any:
    """How far a post draws its string aside at the nut, rad.

    Args:
        across: the string at its post, from the centreline to the treble, mm.
        straight: where it would be there, had it run straight on, mm.
        along: the nut to the post, mm.
    """
    return atan2(across - straight, along)


def straight_on(nut: Any, row: Any, scale: Any, along: Any) -> Any:
    """Where a string that runs straight on beyond the nut is there, from the centreline to the treble, mm.

    Args:
        nut: the string at the nut, from the centreline to the treble, mm.
        row: the same on the scale line.
        scale: its scale, mm.
        along: beyond the nut, level with the neck, mm.
    """
    return nut - (row - nut) / scale * along


def breaks_down(angle: Any, slot: Any, post: Any, along: Any) -> Any:
    """How far a string breaks down over the nut, rad.

    Args:
        angle: how far the head leans back, rad.
        slot: the string in its slot over the head's face, mm.
        post: the string on its post over it, mm.
        along: the nut to the post, along the face, mm.
    """
    return angle + atan2(slot - post, along)


def off_its_post(side: float, post: float, gauge: float) -> float:
    """From a string's middle to the axis of the post beside it, to the treble, mm: both their radii.

    The string lies on the post's side that looks to the centreline.

    Args:
        side: 1 of a post on the treble side of the head, -1 on the bass side.
        post: its diameter where the string winds, mm.
        gauge: of the string, mm.
    """
    return side * (post + gauge) / 2


def slot_over_face(step: float, crown: float, over: float) -> float:
    """The string in its slot over the head's face at the nut, mm: the board's step down, the frets' crowns, and over these."""
    return step + crown + over


def step_of(document: Document, head: Head) -> float:
    """How far the head's face lies below the fingerboard's at the nut, mm."""
    return document.neck.board_thickness.mm if head.step is None else head.step


def head_place(document: Document) -> HeadPlace | None:
    """The head of a right-handed instrument; None where the job states none."""
    head = document.head
    if head is None:
        return None
    sides = (*((string, -1) for string in head.bass_side), *((string, 1) for string in head.treble_side))
    across, scales = strings_across(document), fret_lines(document).scale
    paths = [tuple(map(float, each)) for each in zip(*across, scales, strict=True)]
    found = (_post(document, head, string, side, paths[string - 1]) for string, side in sides)
    posts = tuple(sorted(found, key=lambda post: post.string))
    outline = head.outline or _round_the_posts(document, head, posts)
    return HeadPlace(
        posts,
        Ring(Point(-along, across) for along, across in outline),
        bool(head.outline),
        head.thickness,
    )


def _post(document: Document, head: Head, string: int, side: int, path: tuple[float, ...]) -> Post:
    nut, row, scale = path
    listed, stated = (head.treble_side, head.treble_row) if side > 0 else (head.bass_side, head.bass_row)
    place = listed.index(string)
    along = head.first_post + place * head.pitch
    gauge = document.strings[string - 1].gauge
    straight = straight_on(nut, row, scale, along * cos(head.angle))
    beside = off_its_post(side, head.post, gauge)
    if stated is None:  # just beside the string
        across = straight + beside
    else:
        share = place / max(1, len(listed) - 1)
        across = side * (stated[0] + share * (stated[1] - stated[0]))
    slot = slot_over_face(
        step_of(document, head), document.fret_wire.crown_height, document.nut.height_over_frets
    )
    return Post(
        string=string,
        side=side,
        at=Point(-along, across),
        kink=drawn_aside(across - beside, straight, along),
        breaks=breaks_down(head.angle, slot, head.string_height, along),
    )


def _round_the_posts(
    document: Document, head: Head, posts: Sequence[Post]
) -> tuple[tuple[float, float], ...]:
    """The least outline: from the nut's width round every hole with wood enough, as one fair bow; along and across, mm."""
    import shapely

    reach = head.hole.mm / 2 + HEAD_EDGE
    rounds = [shapely.Point(-post.at.x, post.at.y).buffer(reach, quad_segs=_SMOOTH) for post in posts]
    half = document.nut.width / 2
    hull = shapely.union_all([*rounds, shapely.LineString([(0.0, -half), (0.0, half)])]).convex_hull
    ring = shapely.Polygon(hull).exterior.coords
    return tuple((float(x), float(y)) for x, y in ring[:-1])


def housings_apart(posts: Sequence[Post], housing: float) -> float:
    """The least room between neighbouring tuners' housings on one side of the head, mm; infinite where there are none."""
    gaps = [
        hypot(a.at.x - b.at.x, a.at.y - b.at.y) - housing
        for side in (1, -1)
        for a, b in pairwise(
            sorted((post for post in posts if post.side == side), key=lambda post: -post.at.x)
        )
    ]
    return min(gaps, default=float("inf"))
