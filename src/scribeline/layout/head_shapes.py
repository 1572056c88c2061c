"""Heads' outlines of our own: each drawn round the tuners' posts, so that it serves any number of them on either side.

A shape takes the head as stated and its posts, and gives what the head covers, as a shapely polygon that may reach back over
the nut's line; `shaped` joins it to the neck's width with a hollow throat and keeps
wood under the strings on their ways, rounds what a sander can reach, and cuts it at the
nut. Another shape is one more function in `SHAPES`, and its name in `job.head`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING

from scribeline.job import Head
from scribeline.layout.points import Point, Ring

if TYPE_CHECKING:
    from shapely import Geometry

THROAT = 22.0
"""Radius of the hollow between the neck and the head's sides, mm: what a spindle sander goes into."""

_ROUND = 5.0
"""Radius of an outer corner, mm."""
_TIP = 24.0
"""How far the tip of a leaf lies beyond the head's last side, mm."""
_TIP_ROUND = 6.0
"""Its radius, mm."""
_BACK = 40.0
"""How far the neck is drawn past the nut while the corners are rounded, mm."""
_INSIDE = 3.0
"""How far inside the neck's edges the wood under the strings begins, mm: so the sides leave the neck beyond the nut."""
_SMOOTH = 16
"""Corners of a quarter turn."""
_FLAT = 0.01
"""What the outline's corners may lie off its curves, mm."""


def _leaf(head: Head, posts: Sequence[Point]) -> Geometry:
    """Sides that bow round the posts and meet in a rounded tip."""
    import shapely

    last, ends = _last(head, posts)
    tip = shapely.Point(last - head.side - _TIP + _TIP_ROUND, sum(ends) / len(ends))
    return shapely.union_all([*_round(head, posts), tip.buffer(_TIP_ROUND, quad_segs=_SMOOTH)]).convex_hull


def _paddle(head: Head, posts: Sequence[Point]) -> Geometry:
    """Sides that bow round the posts, cut square across beyond the last."""
    import shapely

    last, ends = _last(head, posts)
    across = [end + side * head.side for end in ends for side in (1, -1)]
    end = shapely.LineString([(last - head.side, min(across)), (last - head.side, max(across))])
    return shapely.union_all([*_round(head, posts), end]).convex_hull


def _last(head: Head, posts: Sequence[Point]) -> tuple[float, list[float]]:
    """How far out the last posts stand, and where across the head: one of each side, or one."""
    last = min(post.x for post in posts)
    return last, [post.y for post in posts if post.x < last + head.hole.mm / 2]


def _round(head: Head, posts: Sequence[Point]) -> list[Geometry]:
    import shapely

    return [shapely.Point(post.x, post.y).buffer(head.side, quad_segs=_SMOOTH) for post in posts]


SHAPES: Mapping[str, Callable[[Head, Sequence[Point]], Geometry]] = {"leaf": _leaf, "paddle": _paddle}


def shaped(head: Head, posts: Sequence[Point], half_nut: float) -> Ring:
    """The outline of a head in one of our own shapes, from the nut's line, mm.

    Args:
        head: states the shape, and how far its sides lie from the posts.
        posts: their centres in the head's frame, mm; one or more.
        half_nut: half the neck's width at the nut, mm.
    """
    import shapely

    assert head.shape is not None
    near = max(post.x for post in posts)
    neck = shapely.box(near, -half_nut, _BACK, half_nut)
    under = [shapely.Point(post.x, post.y).buffer(head.hole.mm, quad_segs=_SMOOTH) for post in posts]
    inner = half_nut - _INSIDE
    strings = shapely.union_all([*under, shapely.LineString([(0.0, inner), (0.0, -inner)])]).convex_hull
    whole = shapely.union_all([SHAPES[head.shape](head, posts), neck, strings])
    hollow = whole.buffer(THROAT, quad_segs=_SMOOTH).buffer(-THROAT, quad_segs=_SMOOTH)
    smooth = hollow.buffer(-_ROUND, quad_segs=_SMOOTH).buffer(_ROUND, quad_segs=_SMOOTH)
    left, low, _, high = smooth.bounds
    cut = smooth.intersection(shapely.box(left, low, 0.0, high)).simplify(_FLAT)
    return Ring(Point(float(x), float(y)) for x, y in shapely.Polygon(cut).exterior.coords[:-1])
