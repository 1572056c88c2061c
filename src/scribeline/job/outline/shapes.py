"""Built-in body shapes: our own forms, drawn from a few dimensions a builder measures.

Each shape is a line of stations round the body, one fair curve through them, closed by the
straight edge under the neck. All positions are measured from the tail edge, along the centreline,
so a tape hooked over the tail reads them all.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from scribeline.job.outline.curves import arc_points
from scribeline.job.outline.fairing import Station, fair_curve
from scribeline.job.outline.ring import Outline, OutlineError, checked_ring
from scribeline.lengths import pair, said

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Points = NDArray[np.float64]

_TOLERANCE = 0.009
"""Flattening, mm: a little under the outline's 0.01, for the rounding of coordinates."""

_TO_NUT, _TO_TAIL, _TO_TREBLE, _TO_BASS = 0.0, math.pi, math.pi / 2, -math.pi / 2
"""Headings while x counts from the tail: along the centreline, and across it."""


@dataclass(frozen=True)
class Measures:
    """Dimensions of a built-in shape, mm; what a job states, or a shape's own to start from.

    Attributes:
        length: Overall, along the centreline: from the neck edge to the tail's furthest place.
        lower_width: Overall width: the fullest places of both sides, added.
        waist_width: Square across through the narrowest place of the treble side's waist; a shape without one has
            only a place there.
        upper_width: Square across through the treble side's fullest place above the waist; likewise.
        neck_from_tail: The straight edge under the neck, where the pocket opens.
        neck_width: Wood across that edge: the heel and the cheeks either side of it.
    """

    length: float
    lower_width: float
    waist_width: float
    upper_width: float
    neck_from_tail: float
    neck_width: float


@dataclass(frozen=True)
class _Mark:
    """A place between the named ones that gives a form its own line.

    Attributes:
        along: In the scoop, share of the distance from tail to neck edge; at the tail, share of the
            distance from the tail to this side's fullest place.
        across: In the scoop, share of the way from the neck's width to the upper one; at the tail,
            share of this side's fullest width.
        heading_rad: The way the edge runs there as on the treble side, or None: it finds its own.
    """

    along: float
    across: float
    heading_rad: float | None = None


@dataclass(frozen=True)
class _Side:
    """Where one side of a shape runs.

    Attributes:
        lower: Its fullest place, share of the distance from tail to neck edge.
        lower_share: This side's share of the lower width.
        upper_share: Likewise of the upper width.
        sweep: On the bass side, how wide it is across from the waist: 0 as at its fullest place, 1 as
            across from the upper width. What that leaves of the waist width is the treble side's, so
            that a narrower waist is a deeper hollow there and the bass side stays one sweep.
        scoop: Places between the neck edge and the upper width, from the neck on.
        tail: Places between the fullest one and the middle of the tail, in that order.
        furthest: Where the tail reaches furthest if it does so on this side: share of the fullest
            width.
        shoulder_rad: The way the edge leaves the neck where there is no scoop, as on the treble side.
    """

    lower: float
    lower_share: float
    upper_share: float
    sweep: float | None = None
    scoop: tuple[_Mark, ...] = ()
    tail: tuple[_Mark, ...] = ()
    furthest: float | None = None
    shoulder_rad: float = _TO_TREBLE


@dataclass(frozen=True)
class _Shape:
    """A built-in shape: its own measures, its two sides, and what they share.

    Attributes:
        measures: A body a builder could cut as it stands.
        waist: The waist, share of the distance from tail to neck edge.
        upper: The fullest place above it, likewise.
        lean: How steeply the tail crosses the centreline: 1 if it heads straight for its furthest place.
        treble: The side the hand reaches round.
        bass: The other.
        waisted: Whether the treble side is narrower at the waist than above it; else its edge runs through the
            waist and the upper width on its way, at no angle of its own.
    """

    measures: Measures
    waist: float
    upper: float
    lean: float
    treble: _Side
    bass: _Side
    waisted: bool = True


_CORNER = 10.0
"""Radius of the corner where the straight neck edge turns into a scoop, mm."""

_SHAPES = {
    # The long windward slope and the hollow lee: the bass side one sweep from neck to tail, the treble
    # side a scoop that ends in a low shoulder; the tail drawn out on the bass side, hollow beside it.
    "dune": _Shape(
        Measures(382.0, 332.0, 270.0, 256.0, 350.0, 84.0),
        waist=0.486,
        upper=0.674,
        lean=0.70,
        treble=_Side(
            0.223,
            lower_share=0.482,
            upper_share=0.523,
            scoop=(_Mark(0.850, 0.30, math.radians(112)), _Mark(0.772, 0.80)),
            tail=(_Mark(0.051, 0.488, _TO_BASS),),
        ),
        bass=_Side(0.189, lower_share=0.518, upper_share=0.477, sweep=0.46, furthest=0.57),
    ),
    # A stone from the river: full and round on the bass side, a shallow waist on the treble.
    "pebble": _Shape(
        Measures(366.0, 332.0, 294.0, 282.0, 356.0, 84.0),
        waist=0.570,
        upper=0.745,
        lean=1.2,
        treble=_Side(0.285, lower_share=0.488, upper_share=0.508),
        bass=_Side(0.330, lower_share=0.512, upper_share=0.492, sweep=0.42, furthest=0.40),
    ),
    # A frond in the swell: both edges sway the same way, the bass side full where the treble is
    # hollow and hollow where it is full; long, for a bass.
    "kelp": _Shape(
        Measures(422.0, 322.0, 263.0, 250.0, 406.0, 92.0),
        waist=0.560,
        upper=0.690,
        lean=1.22,
        treble=_Side(
            0.227,
            lower_share=0.509,
            upper_share=0.464,
            scoop=(_Mark(0.840, 0.36, math.radians(114)),),
            furthest=0.50,
        ),
        bass=_Side(
            0.450,
            lower_share=0.491,
            upper_share=0.536,
            sweep=0.30,
            tail=(_Mark(0.55, 0.81), _Mark(0.235, 0.66)),
        ),
    ),
    # A shell: the bass side one full belly, the treble side nearly straight, both shoulders falling away; hollow nowhere.
    "mussel": _Shape(
        Measures(372.0, 326.0, 312.0, 241.0, 360.0, 88.0),
        waist=0.536,
        upper=0.805,
        lean=1.27,
        treble=_Side(
            0.344,
            lower_share=0.47,
            upper_share=0.471,
            shoulder_rad=math.radians(106),
        ),
        bass=_Side(
            0.422,
            lower_share=0.53,
            upper_share=0.529,
            sweep=0.08,
            furthest=0.37,
            shoulder_rad=math.radians(98),
        ),
        waisted=False,
    ),
    # A bay and its headland: the bass side full, the treble side one long hollow from the neck's corner to a blunt lobe.
    "bight": _Shape(
        Measures(376.0, 330.0, 266.0, 212.0, 358.0, 88.0),
        waist=0.52,
        upper=0.781,
        lean=1.02,
        treble=_Side(
            0.233,
            lower_share=0.479,
            upper_share=0.356,
            shoulder_rad=math.radians(131),
        ),
        bass=_Side(
            0.362,
            lower_share=0.521,
            upper_share=0.644,
            sweep=0.17,
            furthest=0.45,
        ),
        waisted=False,
    ),
    # A skimming stone: four gently bowed sides, no two alike, and a tail cut aslant down to the treble corner.
    "slate": _Shape(
        Measures(383.0, 318.0, 310.0, 272.0, 358.0, 96.0),
        waist=0.495,
        upper=0.801,
        lean=1.2,
        treble=_Side(
            0.278,
            lower_share=0.502,
            upper_share=0.485,
            furthest=0.55,
        ),
        bass=_Side(
            0.385,
            lower_share=0.498,
            upper_share=0.515,
            sweep=0.1,
        ),
        waisted=False,
    ),
    # A fin: the tail one long slant from a high bass side down to a lobe that reaches far beyond the bridge on the treble,
    # a shallow waist above it.
    "fin": _Shape(
        Measures(402.0, 331.0, 273.0, 259.0, 352.0, 88.0),
        waist=0.555,
        upper=0.73,
        lean=1.26,
        treble=_Side(
            0.114,
            lower_share=0.536,
            upper_share=0.48,
            furthest=0.58,
            shoulder_rad=math.radians(101),
        ),
        bass=_Side(
            0.465,
            lower_share=0.464,
            upper_share=0.52,
            sweep=0.12,
            shoulder_rad=math.radians(96),
        ),
    ),
    # A ribbon of weed laid over by the current: long, for a bass; the treble side falls away from the neck at once, and
    # the tail runs aslant to its own side of it.
    "wrack": _Shape(
        Measures(439.0, 332.0, 273.0, 237.0, 410.0, 94.0),
        waist=0.536,
        upper=0.8,
        lean=1.31,
        treble=_Side(
            0.182,
            lower_share=0.52,
            upper_share=0.399,
            furthest=0.5,
            shoulder_rad=math.radians(126),
        ),
        bass=_Side(
            0.409,
            lower_share=0.48,
            upper_share=0.601,
            sweep=0.15,
        ),
        waisted=False,
    ),
    # A bone the sea washes up: small and smooth, for an instrument without a headstock; a flattened flank for the knee.
    "cuttle": _Shape(
        Measures(317.0, 253.0, 235.0, 206.0, 306.0, 84.0),
        waist=0.534,
        upper=0.772,
        lean=1.22,
        treble=_Side(
            0.307,
            lower_share=0.498,
            upper_share=0.459,
            shoulder_rad=math.radians(112),
        ),
        bass=_Side(
            0.369,
            lower_share=0.502,
            upper_share=0.541,
            sweep=0.14,
            furthest=0.45,
            shoulder_rad=math.radians(100),
        ),
        waisted=False,
    ),
}

_BOUNDS = {
    "length": (250.0, 700.0),
    "lower_width": (150.0, 600.0),
    "waist_width": (100.0, 550.0),
    "upper_width": (120.0, 600.0),
    "neck_width": (40.0, 150.0),
}
"""Least and greatest of each measure, mm: beyond these it is a slip of the pen, not a body."""

_APART = 12.0
"""Least distance along the body between one place and the next, mm, for a curve to turn in."""

_OVERHANG = 60.0
"""Most that the tail may reach beyond its edge on the centreline, mm."""

_SWELL = 0.25
"""A finished edge may pass its stated measures by this much, mm; more is refused."""


def shape_names() -> tuple[str, ...]:
    """Names of the built-in shapes."""
    return tuple(_SHAPES)


def shape_measures(shape: str) -> Measures:
    """A shape's own measures: a body a builder could cut as it stands.

    Raises:
        OutlineError: If there is no such shape.
    """
    return _form(shape).measures


def built_in(
    shape: str,
    *,
    length: float,
    lower_width: float,
    waist_width: float,
    upper_width: float,
    tail: float,
    neck_from_tail: float | None = None,
    neck_width: float | None = None,
    waist_from_tail: float | None = None,
    scoop_from_tail: float | None = None,
) -> Outline:
    """A built-in shape in the instrument frame, for a right-handed instrument.

    All lengths are mm; those from the tail run from the tail edge on the centreline, along it.
    What is left out follows in the shape's own proportions.

    Args:
        shape: One of `shape_names()`.
        length: Overall, along the centreline: from the neck edge to the tail's furthest place.
        lower_width: Overall width: the fullest places of both sides, added.
        waist_width: Square across through the narrowest place of the treble side's waist.
        upper_width: Square across through the treble side's fullest place above the waist.
        tail: The tail edge on the centreline, from the nut.
        neck_from_tail: The straight edge under the neck, where the pocket opens.
        neck_width: Wood across that edge: the heel and the cheeks either side of it.
        waist_from_tail: The waist.
        scoop_from_tail: Where the scoop for the hand leaves the neck; less lets it reach further.

    Returns:
        The outline, within 0.01 mm of the curve.

    Raises:
        OutlineError: If a dimension is out of bounds or the dimensions make no sound edge.
    """
    form, measures, source, treble, bass = _sides(
        shape,
        Measures(length, lower_width, waist_width, upper_width, math.nan, math.nan),
        tail=tail,
        neck_from_tail=neck_from_tail,
        neck_width=neck_width,
        waist_from_tail=waist_from_tail,
        scoop_from_tail=scoop_from_tail,
    )
    ring = _edge(treble, bass, form, measures)
    _check_result(ring, treble, bass, measures, source)
    # Turned round from "distance to the tail" to "distance from the nut".
    ring[:, 0] = tail - ring[:, 0]
    ring = checked_ring(ring, mm_per_unit=1.0, source=source)
    return Outline(
        tuple((float(x), float(y)) for x, y in ring), source, "millimetres, from the stated dimensions"
    )


@dataclass(frozen=True)
class Named:
    """A place on a shape's edge, and what it is called: mm, for a right-handed instrument."""

    name: str
    x: float
    y: float


_OVERALL = ("length", "lower_width", "waist_width", "upper_width")
"""Measures that a job states of every shape."""


def named_places(shape: str, *, tail: float, **dimensions: float) -> tuple[Named, ...]:
    """The places that a built-in shape's edge runs through, from the neck by the treble side and the tail back to the neck.

    Args:
        shape: One of `shape_names()`.
        tail: As `built_in` takes it.
        dimensions: Likewise; what is left out is the shape's own.

    Raises:
        OutlineError: If the dimensions make no sound edge.
    """
    own = shape_measures(shape)
    overall = {key: dimensions.pop(key) for key in _OVERALL if key in dimensions}
    measures = replace(own, **overall)
    form, measures, _, treble, bass = _sides(shape, measures, tail=tail, **dimensions)
    edge = _edge(treble, bass, form, measures)
    treble_side = list(_along(treble, measures, edge))
    bass_side = list(_along(bass, measures, edge * (1, -1)))[::-1]
    places = [
        *((f"{words}, treble", x, y) for words, x, y in treble_side),
        ("tail, middle", 0.0, 0.0),
        *((f"{words}, bass", x, -y) for words, x, y in bass_side),
    ]
    return tuple(Named(words, tail - x, y) for words, x, y in places)


def _along(p: _Places, m: Measures, edge: Points) -> Iterator[tuple[str, float, float]]:
    """One side's places, with one on the edge half-way from the neck to the upper bout where nothing else lies there."""
    first, *rest = zip(_words(p), _stations(p, m), strict=True)
    yield first[0], m.neck_from_tail, m.neck_width / 2
    if not p.scoop:
        ends = [int(np.argmin(np.hypot(*(edge - (s.x, s.y)).T))) for s in (first[1], rest[0][1])]
        run = edge[min(ends) : max(ends) + 1]
        lengths = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(run, axis=0).T))])
        x, y = run[int(np.searchsorted(lengths, lengths[-1] / 2))]
        yield "shoulder", float(x), float(y)
    for words, station in rest:
        yield words, station.x, station.y


def _words(p: _Places) -> list[str]:
    """What the places of one side are called, as `_stations` has them."""

    def numbered(word: str, count: int) -> list[str]:
        return [word if count == 1 else f"{word} {n}" for n in range(1, count + 1)]

    return [
        "neck",
        *numbered("scoop", len(p.scoop)),
        "upper bout",
        "waist",
        "lower bout",
        *numbered("tail", len(p.tail)),
    ]


def _sides(
    shape: str,
    stated: Measures,
    *,
    tail: float,
    neck_from_tail: float | None = None,
    neck_width: float | None = None,
    waist_from_tail: float | None = None,
    scoop_from_tail: float | None = None,
) -> tuple[_Shape, Measures, str, _Places, _Places]:
    """Where both sides of a shape run with these dimensions: its form, all its measures, its words, treble, bass.

    Raises:
        OutlineError: If a dimension is out of bounds, or places overtake one another.
    """
    form = _form(shape)
    own = form.measures
    source = f"built-in shape '{shape}'"
    measures = replace(
        stated,
        neck_from_tail=_given(neck_from_tail, stated.length * own.neck_from_tail / own.length),
        neck_width=_given(neck_width, own.neck_width),
    )
    waist = _given(waist_from_tail, form.waist * measures.neck_from_tail)
    deeper = 0.0
    if scoop_from_tail is not None:
        if not form.treble.scoop:
            raise OutlineError(f"{source} has no scoop, so scoop_from_tail means nothing; leave it out.")
        deeper = scoop_from_tail - form.treble.scoop[0].along * measures.neck_from_tail
    _check_measures(measures, (tail, waist, deeper), source)
    bass = _places(form.bass, form, measures, waist, deeper)
    treble = _places(form.treble, form, measures, waist, deeper)
    treble = replace(treble, waist_half=measures.waist_width - bass.waist_half)
    _check_waist(treble, measures, source)
    _check_order("treble", treble, measures, source)
    _check_order("bass", bass, measures, source)
    return form, measures, source, treble, bass


def _form(shape: str) -> _Shape:
    if shape not in _SHAPES:
        raise OutlineError(f"there is no built-in shape '{shape}'; the shapes are {', '.join(_SHAPES)}.")
    return _SHAPES[shape]


def _given(value: float | None, otherwise: float) -> float:
    return otherwise if value is None else value


@dataclass(frozen=True)
class _Places:
    """One side in mm, as if it were the treble side: named places along, halves across, and marks."""

    lower: float
    waist: float
    upper: float
    lower_half: float
    waist_half: float
    upper_half: float
    waisted: bool
    shoulder_rad: float
    scoop: tuple[Station, ...]
    tail: tuple[Station, ...]


def _places(side: _Side, form: _Shape, m: Measures, waist: float, deeper: float) -> _Places:
    neck_half, upper_half = m.neck_width / 2, m.upper_width * side.upper_share
    lower, lower_half = side.lower * m.neck_from_tail, m.lower_width * side.lower_share
    scoop = [
        Station(
            mark.along * m.neck_from_tail + deeper,
            neck_half + mark.across * (upper_half - neck_half),
            mark.heading_rad,
        )
        for mark in side.scoop
    ]
    tail = [Station(mark.along * lower, mark.across * lower_half, mark.heading_rad) for mark in side.tail]
    if side.furthest is not None:
        tail.append(Station(m.neck_from_tail - m.length, side.furthest * lower_half, _TO_BASS))
    return _Places(
        lower=lower,
        waist=waist,
        upper=form.upper * m.neck_from_tail,
        lower_half=lower_half,
        waist_half=lower_half + _given(side.sweep, 0.0) * (upper_half - lower_half),
        upper_half=upper_half,
        waisted=side.sweep is None and form.waisted,
        shoulder_rad=side.shoulder_rad,
        scoop=tuple(scoop),
        tail=tuple(tail),
    )


def _check_measures(m: Measures, others: tuple[float, ...], source: str) -> None:
    if not all(math.isfinite(value) for value in (*vars(m).values(), *others)):
        raise OutlineError(f"{source}: every dimension must be a finite number.")
    for name, (least, most) in _BOUNDS.items():
        value = getattr(m, name)
        if not least <= value <= most:
            raise OutlineError(
                f"{source}: {name} is {said(value, None)}; it must be between {pair(least, most, places=None)}."
            )
    if not m.length - _OVERHANG <= m.neck_from_tail <= m.length:
        raise OutlineError(
            f"{source}: neck_from_tail is {said(m.neck_from_tail, None)}; with a length of {said(m.length, None)} it must"
            f" be between {pair(m.length - _OVERHANG, m.length, places=None)}."
        )


def _check_waist(treble: _Places, m: Measures, source: str) -> None:
    """Refuses a treble side that is no narrower at its waist than at either bout."""
    least = min(treble.lower_half, treble.upper_half)
    if treble.waisted and treble.waist_half >= least:
        most = m.waist_width - treble.waist_half + least
        raise OutlineError(
            f"{source}: waist_width is {said(m.waist_width, None)}; with these bouts it must be less"
            f" than {said(most, 1)}, or the treble side has no waist."
        )


def _check_order(side: str, p: _Places, m: Measures, source: str) -> None:
    """Refuses places that overtake one another on the way from tail to neck, or crowd the neck."""
    along = [
        ("the tail", 0.0),
        ("its lower bout", p.lower),
        ("its waist", p.waist),
        ("its upper bout", p.upper),
        *(("its scoop", station.x) for station in reversed(p.scoop)),
        ("the neck edge", m.neck_from_tail),
    ]
    for (name, place), (next_name, next_place) in itertools.pairwise(along):
        if next_place - place < _APART:
            raise OutlineError(
                f"{source}: on the {side} side {next_name} lies {said(next_place, 1)} from the tail, and must"
                f" lie at least {said(_APART, None)} beyond {name} at {said(place, 1)}; change one of them."
            )
    shoulder = p.upper_half - m.neck_width / 2
    if shoulder < 2 * _APART:
        raise OutlineError(
            f"{source}: upper_width {said(m.upper_width, None)} leaves {said(shoulder, 1)} between neck and {side}"
            f" edge; at least {said(2 * _APART, None)} is needed: widen the upper bout or lessen neck_width"
            f" ({said(m.neck_width, None)})."
        )


def _edge(treble: _Places, bass: _Places, form: _Shape, m: Measures) -> Points:
    """The ring in (distance from the tail, y): treble side down to the tail, bass side back up."""
    down, up = _stations(treble, m), _stations(bass, m)
    # The bass side is made as if it were a treble side, then turned over and walked backwards.
    back = [Station(s.x, -s.y, _back(s.heading_rad)) for s in reversed(up)]
    furthest = treble.tail[-1].y if form.treble.furthest is not None else -bass.tail[-1].y
    # Towards the bass and, if the tail reaches furthest there, away from the neck.
    heading = _TO_BASS + math.atan(form.lean * (m.length - m.neck_from_tail) / furthest)
    curve = fair_curve([*down, Station(0.0, 0.0, heading), *back], _TOLERANCE)
    return np.concatenate([curve, _corner(treble, m)])


def _corner(treble: _Places, m: Measures) -> Points:
    """What the curve leaves of the ring: the rounded corner before a scoop; else the neck edge closes it."""
    if not treble.scoop:
        return np.empty((0, 2))
    centre = np.array([m.neck_from_tail, m.neck_width / 2]) - _CORNER
    arm_x, arm_y = np.array([_CORNER, 0.0]), np.array([0.0, _CORNER])
    return arc_points(centre, arm_x, arm_y, 0.0, math.pi / 2, _TOLERANCE)[:-1]


def _back(heading_rad: float | None) -> float | None:
    """The heading of a curve turned over (y to -y) and walked the other way."""
    return None if heading_rad is None else math.pi - heading_rad


def _stations(p: _Places, m: Measures) -> list[Station]:
    """One side from the neck to the tail, x counting from the tail."""
    turn = _TO_TAIL if p.waisted else None
    half = m.neck_width / 2
    along, heading = (_CORNER, _TO_TAIL) if p.scoop else (0.0, p.shoulder_rad)
    return [
        Station(m.neck_from_tail - along, half, heading),
        *p.scoop,
        Station(p.upper, p.upper_half, turn),
        Station(p.waist, p.waist_half, turn),
        Station(p.lower, p.lower_half, _TO_TAIL),
        *p.tail,
    ]


def _check_result(ring: Points, treble: _Places, bass: _Places, m: Measures, source: str) -> None:
    """Refuses a curve that swells past the measures it was drawn from."""
    got = {
        "length": (float(np.ptp(ring[:, 0])), m.length),
        "treble width": (float(ring[:, 1].max()), treble.lower_half),
        "bass width": (-float(ring[:, 1].min()), bass.lower_half),
    }
    for name, (drawn, stated) in got.items():
        if drawn > stated + _SWELL:
            raise OutlineError(
                f"{source}: no smooth edge fits these dimensions: the {name} comes to {said(drawn, 1)} where"
                f" {said(stated, 1)} is stated; bring the widths nearer to one"
                " another, or the places further apart."
            )
