"""Places on the body's edge: where a bore goes in, which way it heads, and how the edge lies there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import acos, hypot, radians

import numpy as np

from scribeline.layout.points import Point, Ring

CORNER = radians(12.0)
"""Neighbouring sides that turn by less belong to one curve, drawn in straight pieces; at more there is a corner."""

STEEPEST = radians(55.0)
"""A bore further off square than this runs along the edge rather than into the wood."""


@dataclass(frozen=True, slots=True)
class EdgePlace:
    """Where a bore goes in from the body's edge, seen from above.

    Attributes:
        at: on the outline, where its axis meets it, mm.
        inward: unit vector along its axis, level.
        outward: unit normal of the edge there, out of the wood.
        from_top: of its axis below the top, mm; None for half-way between top and back.
        up: how much higher than that it lies, mm.
        strays: how far the place stated lies from the outline, mm.
    """

    at: Point
    inward: Point
    outward: Point
    from_top: float | None = None
    up: float = 0.0
    strays: float = 0.0


def edge_place(
    outline: Ring, near: Point, *, inward: Point | None = None, from_top: float | None = None
) -> EdgePlace:
    """The place of the outline nearest another, with its bore square to the edge or heading as stated.

    Args:
        outline: the body's.
        near: anywhere near its edge, mm.
        inward: unit vector along the axis; square to the edge when left out.
        from_top: of the axis below the top, mm.
    """
    side, share = _nearest(outline, near)
    at = _on(outline, side, share)
    outward = _normal(outline, side, share)
    strays = hypot(near.x - at.x, near.y - at.y)
    return EdgePlace(at, inward or Point(-outward.x, -outward.y), outward, from_top, strays=strays)


def beside(outline: Ring, place: EdgePlace, *, to_right: float, up: float) -> EdgePlace | None:
    """A bore parallel to another, off to its right and up, as seen from outside with the top upwards.

    Returns:
        None where its axis meets no edge near there.
    """
    d = place.inward
    start = Point(place.at.x + d.y * to_right, place.at.y - d.x * to_right)
    found: list[tuple[float, int, float]] = []
    for side, (a, b) in enumerate(zip(outline, outline[1:] + outline[:1], strict=True)):
        # Along the axis and across it, from the place on the tangent.
        run = Point(b.x - a.x, b.y - a.y)
        det = d.x * run.y - d.y * run.x
        if det >= 0:  # parallel, or left by a drill that comes this way
            continue
        t = ((a.x - start.x) * run.y - (a.y - start.y) * run.x) / det
        share = ((a.x - start.x) * d.y - (a.y - start.y) * d.x) / det
        if -1e-9 <= share <= 1 + 1e-9:
            found.append((abs(t), side, min(1.0, max(0.0, share))))
    if not found:
        return None
    _, side, share = min(found)
    return EdgePlace(
        _on(outline, side, share),
        d,
        _normal(outline, side, share),
        place.from_top,
        place.up + up,
        place.strays,
    )


def _nearest(outline: Ring, near: Point) -> tuple[int, float]:
    """The side of the outline nearest a place, and where along it."""
    a = np.array(outline)
    run, off = np.roll(a, -1, axis=0) - a, np.array(near) - a
    length = (run**2).sum(axis=1)
    share = np.clip((off * run).sum(axis=1) / np.where(length > 0, length, 1.0), 0.0, 1.0)
    side = int(np.argmin(np.hypot(*(off - share[:, np.newaxis] * run).T)))
    return side, float(share[side])


def _on(outline: Ring, side: int, share: float) -> Point:
    a, b = outline[side], outline[(side + 1) % len(outline)]
    return Point(a.x + share * (b.x - a.x), a.y + share * (b.y - a.y))


def _normal(outline: Ring, side: int, share: float) -> Point:
    """The edge's normal there: turning evenly along a curve that is drawn in pieces, a side's own at a corner."""
    own = _side_normal(outline, side)
    before, after = (_side_normal(outline, (side + step) % len(outline)) for step in (-1, 1))
    start = _unit([own, before]) if _turn(own, before) < CORNER else own
    end = _unit([own, after]) if _turn(own, after) < CORNER else own
    return _unit([Point(start.x * (1 - share), start.y * (1 - share)), Point(end.x * share, end.y * share)])


def _side_normal(outline: Ring, side: int) -> Point:
    """Out of the wood, which lies to the left of a counter-clockwise outline's sides."""
    a, b = outline[side], outline[(side + 1) % len(outline)]
    return _unit([Point(b.y - a.y, a.x - b.x)])


def _unit(parts: Sequence[Point]) -> Point:
    x, y = sum(p.x for p in parts), sum(p.y for p in parts)
    length = hypot(x, y)
    return Point(x / length, y / length) if length > 0 else Point(1.0, 0.0)


def _turn(a: Point, b: Point) -> float:
    return acos(min(1.0, max(-1.0, a.x * b.x + a.y * b.y)))


def off_square(place: EdgePlace) -> float:
    """How far the axis heads off square to the edge, rad."""
    return _turn(place.inward, Point(-place.outward.x, -place.outward.y))
