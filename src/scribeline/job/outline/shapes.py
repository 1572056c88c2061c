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

if TYPE_CHECKING:
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
        length: Overall length: to the tip of the bass horn, or without horns to the neck edge.
        lower_width: Widest across the lower bout.
        waist_width: Narrowest across the waist.
        upper_width: Widest across the upper bout.
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
class _Horn:
    """A horn and the cutaway beside it.

    Attributes:
        tip: The tip, mm from the neck edge towards the nut (the bass horn's follows from the length).
        cutaway: Bottom of the cutaway, mm from the neck edge towards the tail.
        cutaway_half: From the neck's edge to the cutaway's bottom, across, mm.
        tip_share: The tip's place across, share of this side's upper width.
        tip_radius: How round the inner side of the tip is, mm.
        lean_rad: How far the horn's inner side leans over the cutaway.
    """

    tip: float
    cutaway: float
    cutaway_half: float
    tip_share: float
    tip_radius: float
    lean_rad: float


@dataclass(frozen=True)
class _Side:
    """Where one side of a shape runs.

    Attributes:
        lower: Widest place of the lower bout, share of the distance from tail to neck edge.
        waist: Narrowest place, likewise.
        upper: Widest place of the upper bout, likewise.
        waist_share: This side's share of the waist width.
        upper_share: This side's share of the upper width.
        horn: The horn, if this side has one.
    """

    lower: float
    waist: float
    upper: float
    waist_share: float
    upper_share: float
    horn: _Horn | None = None


@dataclass(frozen=True)
class _Shape:
    """A built-in shape: its own measures, and its two sides."""

    measures: Measures
    treble: _Side
    bass: _Side


_CORNER = 8.0
"""Radius of the two corners of the tongue of wood under the neck, mm."""

_SHAPES = {
    # Two rounded horns of unlike length, the bass side drawn out: the long slope and the short.
    "dune": _Shape(
        Measures(402.0, 332.0, 258.0, 288.0, 346.0, 78.0),
        treble=_Side(0.255, 0.640, 0.880, 0.480, 0.480, _Horn(22.0, 44.0, 24.0, 0.745, 20.0, 0.30)),
        bass=_Side(0.325, 0.695, 0.965, 0.520, 0.520, _Horn(56.0, 28.0, 22.0, 0.735, 22.0, 0.30)),
    ),
    # No horns: one rounded stone, a little heavier to the bass side.
    "pebble": _Shape(
        Measures(380.0, 330.0, 280.0, 292.0, 380.0, 84.0),
        treble=_Side(0.285, 0.570, 0.745, 0.490, 0.490),
        bass=_Side(0.310, 0.595, 0.760, 0.510, 0.510),
    ),
    # Long and slender, the bass horn far forward to carry a long neck level.
    "kelp": _Shape(
        Measures(484.0, 336.0, 248.0, 290.0, 382.0, 88.0),
        treble=_Side(0.270, 0.640, 0.890, 0.490, 0.480, _Horn(34.0, 50.0, 25.0, 0.755, 20.0, 0.28)),
        bass=_Side(0.360, 0.740, 1.050, 0.510, 0.520, _Horn(102.0, 32.0, 23.0, 0.80, 22.0, 0.45)),
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
    tail_x: float,
    neck_from_tail: float | None = None,
    neck_width: float | None = None,
    waist_from_tail: float | None = None,
    treble_horn_from_tail: float | None = None,
    treble_cutaway_from_tail: float | None = None,
    bass_cutaway_from_tail: float | None = None,
) -> Outline:
    """A built-in shape in the instrument frame, for a right-handed instrument.

    All lengths are mm; those from the tail run from the tail edge on the centreline, along it.
    What is left out follows in the shape's own proportions.

    Args:
        shape: One of `shape_names()`.
        length: Overall length: to the tip of the bass horn, or without horns to the neck edge.
        lower_width: Widest across the lower bout.
        waist_width: Narrowest across the waist, the two sides' narrowest places added.
        upper_width: Widest across the upper bout, the two sides' widest places added.
        tail_x: The tail edge on the centreline, from the nut.
        neck_from_tail: The straight edge under the neck, where the pocket opens.
        neck_width: Wood across that edge: the heel and the cheeks either side of it.
        waist_from_tail: The waist, midway between its two sides.
        treble_horn_from_tail: Tip of the treble horn.
        treble_cutaway_from_tail: Bottom of the treble cutaway.
        bass_cutaway_from_tail: Bottom of the bass cutaway.

    Returns:
        The outline, within 0.01 mm of the curve.

    Raises:
        OutlineError: If a dimension is out of bounds or the dimensions make no sound edge.
    """
    form = _form(shape)
    own = form.measures
    measures = Measures(
        length,
        lower_width,
        waist_width,
        upper_width,
        _given(neck_from_tail, length * own.neck_from_tail / own.length),
        _given(neck_width, own.neck_width),
    )
    treble, bass = _places(form.treble, measures), _places(form.bass, measures)
    bass = replace(bass, tip=length if form.bass.horn else 0.0)
    if waist_from_tail is not None:
        shift = waist_from_tail - (treble.waist + bass.waist) / 2
        treble, bass = (replace(side, waist=side.waist + shift) for side in (treble, bass))
    horned = {
        "treble_horn_from_tail": treble_horn_from_tail,
        "treble_cutaway_from_tail": treble_cutaway_from_tail,
        "bass_cutaway_from_tail": bass_cutaway_from_tail,
    }
    for name, value in horned.items():
        if value is not None and not form.treble.horn:
            raise OutlineError(
                f"built-in shape '{shape}' has no horns, so {name} means nothing; leave it out."
            )
    treble = replace(
        treble,
        tip=_given(treble_horn_from_tail, treble.tip),
        cutaway=_given(treble_cutaway_from_tail, treble.cutaway),
    )
    bass = replace(bass, cutaway=_given(bass_cutaway_from_tail, bass.cutaway))
    source = f"built-in shape '{shape}'"
    _check_measures(measures, (tail_x, *_numbers(treble), *_numbers(bass)), source)
    _check_order("treble", treble, measures, source)
    _check_order("bass", bass, measures, source)
    ring = _edge(treble, bass, measures)
    _check_result(ring, treble, bass, measures, source)
    ring[:, 0] = tail_x - ring[:, 0]
    # Turned round from "distance to the tail" to "distance from the nut".
    ring = checked_ring(ring, mm_per_unit=1.0, source=source)
    return Outline(
        tuple((float(x), float(y)) for x, y in ring), source, "millimetres, from the stated dimensions"
    )


def _form(shape: str) -> _Shape:
    if shape not in _SHAPES:
        raise OutlineError(f"there is no built-in shape '{shape}'; the shapes are {', '.join(_SHAPES)}.")
    return _SHAPES[shape]


def _given(value: float | None, otherwise: float) -> float:
    return otherwise if value is None else value


@dataclass(frozen=True)
class _Places:
    """One side's places in mm: the first five along from the tail, the halves across."""

    lower: float
    waist: float
    upper: float
    cutaway: float
    tip: float
    lower_half: float
    waist_half: float
    upper_half: float
    horn: _Horn | None


def _places(side: _Side, m: Measures) -> _Places:
    return _Places(
        side.lower * m.neck_from_tail,
        side.waist * m.neck_from_tail,
        side.upper * m.neck_from_tail,
        m.neck_from_tail - side.horn.cutaway if side.horn else 0.0,
        m.neck_from_tail + side.horn.tip if side.horn else 0.0,
        m.lower_width / 2,
        m.waist_width * side.waist_share,
        m.upper_width * side.upper_share,
        side.horn,
    )


def _numbers(places: _Places) -> tuple[float, ...]:
    return places.lower, places.waist, places.upper, places.cutaway, places.tip


def _check_measures(m: Measures, others: tuple[float, ...], source: str) -> None:
    if not all(math.isfinite(value) for value in (*vars(m).values(), *others)):
        raise OutlineError(f"{source}: every dimension must be a finite number.")
    for name, (least, most) in _BOUNDS.items():
        value = getattr(m, name)
        if not least <= value <= most:
            raise OutlineError(
                f"{source}: {name} is {value:g} mm; it must be between {least:g} and {most:g} mm."
            )
    narrower = min(m.lower_width, m.upper_width)
    if m.waist_width >= narrower:
        raise OutlineError(
            f"{source}: waist_width is {m.waist_width:g} mm; it must be less than both bouts, here below"
            f" {narrower:g} mm."
        )
    if not _APART <= m.neck_from_tail <= m.length:
        raise OutlineError(
            f"{source}: neck_from_tail is {m.neck_from_tail:g} mm; it must lie within the"
            f" length of {m.length:g} mm."
        )


def _check_order(side: str, p: _Places, m: Measures, source: str) -> None:
    """Refuses places that overtake one another on the way from tail to neck."""
    along = [
        ("the tail", 0.0),
        ("its lower bout", p.lower),
        ("its waist", p.waist),
        ("its upper bout", p.upper),
    ]
    if p.horn:
        _check_gap(side, [along[2], ("its cutaway", p.cutaway), ("the neck edge", m.neck_from_tail)], source)
        _check_gap(side, [("its cutaway", p.cutaway + p.horn.tip_radius), ("its horn tip", p.tip)], source)
        along.append(("its horn tip", p.tip))
        inner = p.upper_half * p.horn.tip_share - p.horn.tip_radius - m.neck_width / 2
        if inner < _APART:
            raise OutlineError(
                f"{source}: upper_width {m.upper_width:g} mm leaves {inner:.1f} mm between"
                f" neck and {side} horn; at"
                f" least {_APART:g} mm is needed: widen the upper bout or lessen neck_width"
                f" ({m.neck_width:g} mm)."
            )
    else:
        along.append(("the neck edge", m.neck_from_tail))
    _check_gap(side, along, source)


def _check_gap(side: str, along: list[tuple[str, float]], source: str) -> None:
    for (name, place), (next_name, next_place) in itertools.pairwise(along):
        if next_place - place < _APART:
            raise OutlineError(
                f"{source}: on the {side} side {next_name} lies {next_place:.1f} mm from"
                " the tail, and must lie at"
                f" least {_APART:g} mm beyond {name} at {place:.1f} mm; change one of them."
            )


def _edge(treble: _Places, bass: _Places, m: Measures) -> Points:
    """The ring in (distance from the tail, y): treble side down to the tail, bass side back up."""
    down = _stations(treble, m)
    # The bass side is made as if it were a treble side, then turned over and walked backwards.
    up = [Station(s.x, -s.y, _back(s.heading_rad)) for s in reversed(_stations(bass, m))]
    curve = fair_curve([*down, Station(0.0, 0.0, _TO_BASS), *up], _TOLERANCE)
    if treble.horn is None:
        return curve
    r, half = _CORNER, m.neck_width / 2
    inside = m.neck_from_tail - r
    quarter = math.pi / 2
    arm_x, arm_y = np.array([r, 0.0]), np.array([0.0, r])
    bass_corner = arc_points(np.array([inside, r - half]), arm_x, arm_y, -quarter, quarter, _TOLERANCE)
    treble_corner = arc_points(np.array([inside, half - r]), arm_x, arm_y, 0.0, quarter, _TOLERANCE)
    return np.concatenate([curve, bass_corner[1:], treble_corner[:-1]])


def _back(heading_rad: float | None) -> float | None:
    """The heading of a curve turned over (y to -y) and walked the other way."""
    return None if heading_rad is None else math.pi - heading_rad


def _stations(p: _Places, m: Measures) -> list[Station]:
    """One side from the neck to the lower bout, x counting from the tail."""
    half = m.neck_width / 2
    if p.horn is None:
        start = [Station(m.neck_from_tail, half, _TO_TREBLE)]
    else:
        horn, tip_y = p.horn, p.upper_half * p.horn.tip_share
        start = [
            Station(m.neck_from_tail - _CORNER, half, _TO_TAIL),
            Station(p.cutaway, half + horn.cutaway_half, _TO_TREBLE),
            Station(p.tip - horn.tip_radius, tip_y - 0.95 * horn.tip_radius, _TO_NUT + horn.lean_rad),
            Station(p.tip, tip_y, _TO_TREBLE),
        ]
    return [
        *start,
        Station(p.upper, p.upper_half, _TO_TAIL),
        Station(p.waist, p.waist_half, _TO_TAIL),
        Station(p.lower, p.lower_half, _TO_TAIL),
    ]


def _check_result(ring: Points, treble: _Places, bass: _Places, m: Measures, source: str) -> None:
    """Refuses a curve that swells past the measures it was drawn from."""
    got = {
        "length": (float(np.ptp(ring[:, 0])), max(m.length, treble.tip)),
        "treble width": (float(ring[:, 1].max()), max(treble.lower_half, treble.upper_half)),
        "bass width": (-float(ring[:, 1].min()), max(bass.lower_half, bass.upper_half)),
    }
    for name, (drawn, stated) in got.items():
        if drawn > stated + _SWELL:
            raise OutlineError(
                f"{source}: no smooth edge fits these dimensions: the {name} comes to {drawn:.1f} mm where"
                f" {stated:.1f} mm is stated; bring the widths nearer to one"
                " another, or the places further apart."
            )
