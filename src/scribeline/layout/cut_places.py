"""Where pockets, holes, shafts and neck screws lie on the body, as stated from their datums."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import cos, sin

from scribeline.job import NECK_POCKET, Document, Neck, PocketStatement, Record, feature_id
from scribeline.layout.heights import Lie
from scribeline.layout.points import Point, Ring

_SAYS_WHAT = frozenset(
    {"pocket", "cavity", "recess", "rout", "route", "channel", "slot", "chamber", "compartment", "hole"}
)
"""Last words of a name that says by itself that it is cut into the wood."""


def cavity_words(name: str) -> str:
    """What a routed place is called in a sentence: a cavity, unless its own name says what it is.

    Args:
        name: what the job calls it, such as bridge pickup, which gives bridge-pickup cavity.
    """
    words = name.split()
    last = words[-1].lower()
    if last in _SAYS_WHAT or last.removesuffix("s") in _SAYS_WHAT:
        return name
    plain = len(words) == 2 and all(word.isalpha() for word in words)
    return f"{'-'.join(words) if plain else name} cavity"


def neck_walls(outline: Sequence[Point], *across: float) -> tuple[float, ...]:
    """Where lines along the instrument first meet a cavity's wall towards the nut, mm from the nut.

    Args:
        outline: of the cavity, from above.
        across: where each line runs, from the centreline, mm.

    Returns:
        One a line; none at all where one of them misses the cavity.
    """
    edges = tuple(zip(outline, (*outline[1:], outline[0]), strict=True))
    met = [
        [
            a.x + (y - a.y) / (b.y - a.y) * (b.x - a.x)
            for a, b in edges
            if min(a.y, b.y) <= y <= max(a.y, b.y) and a.y != b.y
        ]
        for y in across
    ]
    return tuple(map(min, met)) if all(met) else ()


@dataclass(frozen=True, slots=True)
class LedgePlace:
    """The recess round a pocket for its cover, mm."""

    width: float
    depth: float


@dataclass(frozen=True, slots=True)
class PocketPlace:
    """A pocket's outline with sharp corners, before the router bit rounds them.

    Attributes:
        name: in the job.
        face: it is cut from.
        outline: mm.
        depth: from its face, mm.
        corner_radius: mm.
        at_edge: whether it runs out of the body's edge on purpose.
        opens_into: names of pockets it is meant to run into.
        islands: wood left standing in it, with sharp corners, mm.
        ledge: the recess for its cover.
        cover_screws: of the cover.
        floor_angle: how far its floor rises towards the tail, rad; its depth is then told at `floor_at`.
        floor_at: from the nut, mm.
    """

    name: str
    face: str
    outline: Ring
    depth: float
    corner_radius: float
    at_edge: bool = False
    opens_into: tuple[str, ...] = ()
    islands: tuple[Ring, ...] = ()
    ledge: LedgePlace | None = None
    cover_screws: tuple[Point, ...] = ()
    floor_angle: float = 0.0
    floor_at: float = 0.0


@dataclass(frozen=True, slots=True)
class HolePlace:
    """Holes of one kind, as listed in the job.

    Attributes:
        spots: where each meets its face, mm.
        heading: unit vector in the plan along which a leaning one runs.
    """

    spots: tuple[Point, ...]
    heading: Point


def datums(twelfth: float, end: float, scale: float) -> dict[str, float]:
    """Each place that a position may be counted from, from the nut, mm; on a leaning neck level along the body.

    Args:
        twelfth: the 12th fret from the nut, mm.
        end: the neck pocket's end wall from the nut, mm.
        scale: the scale line from the nut, mm.
    """
    return {
        "nut": 0.0,
        "12th fret": twelfth,
        "pocket end": end,
        "scale line": scale,
    }


def counted(datum: float, along: float) -> float:
    """A distance from the nut, mm, from what it is counted from."""
    return datum + along


def counted_back(datum: float, along: float) -> float:
    """The same where it is counted towards the nut."""
    return datum - along


def pocket_end(document: Document, record: Record, lie: Lie) -> float:
    """The neck pocket's end wall from the nut, mm: as routed, else as stated; or the board's end over a core, level along."""
    if document.neck.runs_through:
        return float(lie.place(document.neck_end))
    routed = record.made_pockets.get(feature_id(NECK_POCKET))
    if routed is None or routed.outline is None:
        return document.neck.pocket_end
    return max(x for x, _ in routed.outline)


def pocket_places(
    document: Document, datum: Mapping[str, float], fan: Callable[[float], float]
) -> tuple[PocketPlace, ...]:
    """The neck pocket, where the neck has one, then the job's own.

    Args:
        document: states them.
        datum: see `datums`.
        fan: how far a fan's frets are turned so far from the nut, towards the tail on the treble side, rad.
    """
    return (
        *(() if document.neck.runs_through else (_neck_pocket(document),)),
        *(_pocket(pocket, datum[pocket.x_from], fan) for pocket in document.pockets),
    )


def _neck_pocket(document: Document) -> PocketPlace:
    """The heel's outline with slip and film added."""
    neck, pocket_film = document.neck, film_in_pocket(document)
    end, mouth = neck.pocket_end, neck.pocket_end - neck.pocket_length
    at_end, at_mouth = (
        pocket_width(heel.mm, neck.slip, neck.film_on_heel, pocket_film) / 2 for heel in neck.in_pocket
    )
    corners = (Point(mouth, -at_mouth), Point(end, -at_end), Point(end, at_end), Point(mouth, at_mouth))
    return PocketPlace(
        NECK_POCKET,
        "top",
        Ring(corners),
        neck.pocket_depth.mm,
        neck.corner_radius,
        at_edge=True,
        floor_angle=neck.angle,
        floor_at=end,
    )


def centreline_crossings(outline: Ring) -> list[float]:
    """Where an outline crosses the centreline, from the nut, mm."""
    pairs = zip(outline, (*outline[1:], outline[0]), strict=True)
    return [a.x + (b.x - a.x) * a.y / (a.y - b.y) for a, b in pairs if (a.y < 0) != (b.y < 0)]


def core_outline(document: Document, outline: Ring) -> Ring:
    """The core of a neck that runs through the body, seen from above: its edges are the glue lines of the wings.

    It is as wide as stated at the fingerboard's end, and from there runs straight to its width where the centreline meets the
    tail edge, and as straight on both ways.

    Args:
        document: states the neck.
        outline: of the body.
    """
    tail, along = max(centreline_crossings(outline)), [place.x for place in outline]
    one, other = (
        (x, half_core(x, document.neck_end, tail, *core_widths(document.neck)))
        for x in (min(along) - _BEYOND, max(along) + _BEYOND)
    )
    return Ring(Point(x, y) for x, y in ((one[0], -one[1]), (other[0], -other[1]), other, one))


_BEYOND = 20.0
"""How far the core's outline goes on past the body's, mm, so that no edge of theirs is one."""


def core_widths(neck: Neck) -> tuple[float, float]:
    """The core across at the fingerboard's end and at the tail, mm."""
    tail = neck.core_width if neck.core_width_at_tail is None else neck.core_width_at_tail
    return neck.core_width.mm, tail.mm


def half_core(x: float, board_end: float, tail: float, at_board: float, at_tail: float) -> float:
    """From the centreline to the core's edge at a place along the body, mm.

    Args:
        x: the place, from the nut, mm.
        board_end: the fingerboard's end, from the nut, mm.
        tail: the tail, from the nut, mm.
        at_board: the core across at the board's end, mm.
        at_tail: the same at the tail, mm.
    """
    return (at_board + (at_tail - at_board) * (x - board_end) / (tail - board_end)) / 2


def film_in_pocket(document: Document) -> float:
    """The finish film on one wall of the neck pocket, mm: none where its holes are masked, or the neck is glued in."""
    sprayed = document.finish.holes == "sprayed" and not document.neck.is_glued
    return document.finish.film if sprayed else 0.0


def pocket_width(heel: float, slip: float, heel_film: float, pocket_film: float) -> float:
    """Width of the neck pocket where the heel is so wide, mm: the slip and both walls' films added."""
    return heel + (slip + 2 * (heel_film + pocket_film))


def _pocket(pocket: PocketStatement, x0: float, fan: Callable[[float], float]) -> PocketPlace:
    turned = 0.0 if pocket.centre is None else fan(counted(x0, pocket.centre[0]))
    return PocketPlace(
        name=pocket.name,
        face=pocket.face,
        outline=ring(pocket.corners(turned), x0),
        depth=pocket.depth,
        corner_radius=pocket.radius,
        opens_into=pocket.opens_into,
        islands=tuple(ring(island, x0) for island in pocket.islands),
        ledge=None if pocket.ledge is None else LedgePlace(pocket.ledge.width, pocket.ledge.depth),
        cover_screws=()
        if pocket.cover_screws is None
        else tuple(Point(counted(x0, x), y) for x, y in pocket.cover_screws.places),
    )


def ring(corners: Iterable[tuple[float, float]], x0: float = 0.0) -> Ring:
    """Corners counted from x0, whichever way round they are listed, as an outline."""
    points = [Point(x0 + x, y) for x, y in corners]
    return Ring(points if _signed_area(points) > 0 else reversed(points))


def _signed_area(points: list[Point]) -> float:
    pairs = zip(points, points[1:] + points[:1], strict=True)
    return sum(a.x * b.y - b.x * a.y for a, b in pairs) / 2


def hole_places(document: Document, datum: Mapping[str, float]) -> tuple[HolePlace, ...]:
    """The job's holes, in its order."""
    return tuple(
        HolePlace(
            spots=tuple(Point(counted(datum[hole.x_from], x), y) for x, y in hole.spots),
            heading=Point(-cos(hole.heading or 0.0), sin(hole.heading or 0.0)),
        )
        for hole in document.holes
    )


def control_places(document: Document, datum: Mapping[str, float]) -> tuple[Point, ...]:
    """The controls' shafts, in the job's order."""
    return tuple(
        Point(counted(datum[each.x_from], each.centre[0]), each.centre[1]) for each in document.controls
    )


def neck_screw_places(document: Document, datum: Mapping[str, float]) -> tuple[Point, ...]:
    """The neck's screws, in the job's order."""
    if document.neck_bolts is None:
        return ()
    return tuple(Point(counted_back(datum["pocket end"], x), y) for x, y in document.neck_bolts.places)


def pocket_onto(pocket: PocketPlace, move: Callable[[Point], Point]) -> PocketPlace:
    """The same pocket elsewhere; `move` turns and shifts, and mirrors nothing."""
    return replace(
        pocket,
        outline=Ring(map(move, pocket.outline)),
        islands=tuple(Ring(map(move, each)) for each in pocket.islands),
        cover_screws=tuple(map(move, pocket.cover_screws)),
    )


def hole_onto(hole: HolePlace, move: Callable[[Point], Point]) -> HolePlace:
    """The same holes elsewhere."""
    start, ahead = move(Point(0.0, 0.0)), move(hole.heading)
    return HolePlace(tuple(map(move, hole.spots)), Point(ahead.x - start.x, ahead.y - start.y))
