"""What an outline is, and the checks every outline passes before anything is built on it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from scribeline.lengths import SaidError, by, said

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Points = NDArray[np.float64]

FLATTENING = 0.01
"""Greatest distance, mm, between an outline's straight segments and the true curve."""


@dataclass(frozen=True, slots=True)
class OutlineOf:
    """What an outline is of, in the words of a refusal, and how large such a thing may be.

    Attributes:
        name: in bench words.
        way: the direction along the centreline that its drawing is turned by, in words.
        smallest: the longer side is at least this, mm: below it the units are surely wrong.
        largest: the longer side is at most this, mm, likewise.
        narrowest: least width, mm (common practice, no source).
    """

    name: str
    way: str
    smallest: float
    largest: float
    narrowest: float


BODY = OutlineOf("body", "neck to tail", 100.0, 1500.0, 50.0)
"""Narrower, it could not carry a neck's heel."""
HEAD = OutlineOf("head", "nut to tip", 60.0, 1000.0, 30.0)
"""Narrower, it could not carry a nut; as long as this where the neck is drawn with it."""

MOST_POINTS = 200_000


class OutlineError(SaidError):
    """An outline that cannot be used; its text says what is wrong, where, and what to do."""


@dataclass(frozen=True)
class Outline:
    """The edge of a body or a head, seen from the front, in the instrument frame.

    Attributes:
        points: The ring's corners (x, y) in mm, counter-clockwise, the first not repeated at the
            end; straight lines between them lie within 0.01 mm of the true curve.
        source: Where the outline comes from, in words.
        unit_note: How the size was settled, in words.
    """

    points: tuple[tuple[float, float], ...]
    source: str
    unit_note: str


def place(x: float, y: float) -> str:
    """A point as it reads in a sentence, to a thousandth of the file's unit."""
    return f"({x:.3f}, {y:.3f})"


def checked_ring(points: Points, *, mm_per_unit: float, source: str, of: OutlineOf = BODY) -> Points:
    """A sound ring: finite, plausible in size, not crossing itself, counter-clockwise.

    Args:
        points: The ring's corners in the source's own coordinates (y up), shape (n, 2); the first
            may be repeated at the end.
        mm_per_unit: Millimetres in one unit of those coordinates.
        source: The outline in words, to open the sentence of a refusal.
        of: What it is the outline of.

    Returns:
        The corners, counter-clockwise, without repeats, in the same coordinates.

    Raises:
        OutlineError: If the ring is no usable outline.
    """
    if not np.isfinite(points).all():
        raise OutlineError(f"{source}: a coordinate is not a finite number; draw the outline again.")
    if len(points) > MOST_POINTS:
        raise OutlineError(
            f"{source}: the outline has {len(points)} points, more than the {MOST_POINTS} that can be"
            " used; draw it with arcs and splines, or simplify it."
        )
    ring = _without_repeats(points, 1e-6 / mm_per_unit)
    _check_size(ring, mm_per_unit, source, of)
    _check_crossing(ring, source, of)
    return ring if signed_area(ring) > 0 else ring[::-1]


def signed_area(ring: Points) -> float:
    """Area of a ring in square units, positive when it runs counter-clockwise (y up)."""
    # Taken about the first corner so that a ring far from the origin loses no digits.
    x, y = (ring - ring[0]).T
    return float((x[:-1] @ y[1:] - x[1:] @ y[:-1]) / 2)


def _without_repeats(points: Points, least: float) -> Points:
    steps = np.hypot(*(np.roll(points, -1, axis=0) - points).T)
    kept: Points = points[steps > least]
    return kept


def _check_size(ring: Points, mm_per_unit: float, source: str, of: OutlineOf) -> None:
    if len(ring) < 3:
        raise OutlineError(
            f"{source}: the outline encloses nothing, it has fewer than three distinct"
            " points; draw the whole edge."
        )
    low, high = ring.min(axis=0), ring.max(axis=0)
    width, height = (high - low) * mm_per_unit
    where = f"{source}: the outline from {place(*low)} to {place(*high)}"
    if max(width, height) < of.smallest:
        raise OutlineError(
            f"{where} measures only {by(width, height, places=1)}, and a {of.name} is at least {said(of.smallest, None)}"
            " long; check the file's units and that the right layer was read."
        )
    if max(width, height) > of.largest:
        raise OutlineError(
            f"{where} measures {by(width, height, places=0)}, and a {of.name} is at most {said(of.largest, None)}"
            " long; check the file's units."
        )
    if min(width, height) < of.narrowest:
        raise OutlineError(
            f"{where} is only {said(min(width, height), 1)} wide, and a {of.name} is at least {said(of.narrowest, None)}"
            f" wide; draw the whole edge of the {of.name}."
        )


def where_it_crosses(ring: Points) -> tuple[float, float] | None:
    """Where a ring crosses or touches itself; None where it does not."""
    from shapely import Polygon, is_valid_reason

    reason = str(is_valid_reason(Polygon(ring)))
    found = re.search(r"Self-intersection.*\[(\S+) (\S+)\]", reason)
    return (float(found[1]), float(found[2])) if found else None


def _check_crossing(ring: Points, source: str, of: OutlineOf) -> None:
    from shapely import Polygon

    polygon = Polygon(ring)
    if polygon.is_valid and polygon.area > 0:
        return
    crossed = where_it_crosses(ring)
    if crossed is not None:
        raise OutlineError(
            f"{source}: the outline crosses or touches itself at {place(*crossed)}; redraw it there so that the edge"
            f" runs once round the {of.name}."
        )
    raise OutlineError(
        f"{source}: the outline encloses no area (seen at {place(*ring[0])}); draw the whole edge of the {of.name}."
    )
