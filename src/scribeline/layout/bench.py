"""Numbers for the bench: distances from an edge one can touch, and what may be checked with rule or caliper."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

from scribeline.job import Document, TwelfthMark, standard_deviation
from scribeline.layout.instrument import Layout
from scribeline.layout.points import Point

NUT_TO_TWELFTH = 0.1
DIAGONALS_DIFFER = 0.5
MARGIN_TOLERANCE = 0.25
SET_OUT = 0.34
"""Likely error of setting a plate along the string, mm, 1 σ: measure 0.15, prick 0.10, drill start 0.15, plate
slop 0.20, read 0.15, added as squares (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Measurable:
    """A number of the plan that a person can check.

    Attributes:
        id: stable name.
        value: what the plan expects, mm.
        sd: standard deviation of the expectation, mm; a ± counts as `job.standard_deviation` says.
        low: least acceptable reading, mm.
        high: greatest acceptable reading, mm.
        how: how to measure it, in bench words.
    """

    id: str
    value: float
    sd: float
    low: float
    high: float
    how: str


@dataclass(frozen=True, slots=True)
class TwelfthReading:
    """One mark of the 12th fret that can be touched.

    Attributes:
        mark: which.
        from_nut: its distance from the nut, mm.
        to_crown: what to add to a distance measured from it towards the tail to have it from the crown, mm.
        to_plate: from this mark to the plate's front edge, mm; None when the plate has no place.
    """

    mark: TwelfthMark
    from_nut: float
    to_crown: float
    to_plate: float | None


def twelfth_readings(document: Document, layout: Layout) -> tuple[TwelfthReading, ...]:
    """The 12th fret's marks: crown and slot centre are the same place, the edges half a crown's width off."""
    half = document.fret_wire.crown_width / 2
    offsets: tuple[tuple[TwelfthMark, float], ...] = (
        ("crown", 0.0),
        ("slot", 0.0),
        ("near edge", -half),
        ("far edge", half),
    )
    front = None if layout.plate is None else layout.front_edge
    return tuple(
        TwelfthReading(
            mark=mark,
            from_nut=layout.twelfth + offset,
            to_crown=offset,
            to_plate=None if front is None else front - layout.twelfth - offset,
        )
        for mark, offset in offsets
    )


def diagonals(layout: Layout) -> tuple[float, float] | None:
    """Squareness check: 12th-fret board corner to the plate's far front corner, (from treble, from bass), mm.

    Equal when the plate is square to the centreline and centred on it; None when the plate has no place.
    """
    if layout.plate is None:
        return None
    twelfth = layout.frets[11]
    treble_corner, bass_corner = layout.plate.corners[:2]
    return _apart(twelfth.treble, bass_corner), _apart(twelfth.bass, treble_corner)


def _apart(a: Point, b: Point) -> float:
    return hypot(a.x - b.x, a.y - b.y)


def measurables(document: Document, layout: Layout) -> tuple[Measurable, ...]:
    """Everything a person can check against the plan before cutting."""
    thickness = document.body.thickness
    spread = thickness.sd
    found = [
        _around(
            "nut-to-12th",
            layout.twelfth,
            NUT_TO_TWELFTH,
            "steel rule from the nut's front face to the crown of the 12th fret",
        ),
        Measurable(
            "body-thickness",
            thickness.mm,
            spread,
            thickness.mm - thickness.plus_minus,
            thickness.mm + thickness.plus_minus,
            "caliper on the blank in four places near the bridge; use the least",
        ),
    ]
    for side, string in (("treble", layout.strings[0]), ("bass", layout.strings[-1])):
        margin = string.margins[-1].centre
        how = (
            f"thread from nut slot to saddle on the {side} side; from the thread's middle to the board's edge "
            f"at fret {len(layout.frets)}"
        )
        found.append(_around(f"margin-{side}", margin, MARGIN_TOLERANCE, how))
    if layout.plate is not None:
        found.extend(_plate_measurables(document, layout))
    return tuple(found)


def _around(name: str, value: float, tolerance: float, how: str) -> Measurable:
    return Measurable(name, value, standard_deviation(tolerance), value - tolerance, value + tolerance, how)


def _plate_measurables(document: Document, layout: Layout) -> list[Measurable]:
    window, pair = layout.window, diagonals(layout)
    assert pair is not None
    past_twelfth = layout.scale - layout.twelfth
    past_pocket = layout.scale - layout.pocket_end
    read = document.bench.twelfth_read_to
    offset = next(r.to_crown for r in twelfth_readings(document, layout) if r.mark == read)
    found = [
        Measurable(
            "12th-to-plate",
            past_twelfth + window.aim - offset,
            SET_OUT,
            past_twelfth + window.low - offset,
            past_twelfth + window.high - offset,
            f"from the 12th fret's {read} to the plate's front edge, along the centreline"
            + (f" (crown = reading {offset:+.2f} mm)" if offset else ""),
        ),
        Measurable(
            "pocket-end-to-plate",
            past_pocket + window.aim,
            SET_OUT,
            past_pocket + window.low,
            past_pocket + window.high,
            "from the neck pocket's end wall to the plate's front edge, along the centreline",
        ),
    ]
    found.append(
        Measurable(
            "nut-to-plate",
            layout.front_edge,
            SET_OUT,
            layout.scale + window.low,
            layout.scale + window.high,
            "from the nut's front face to the plate's front edge, along the centreline; a check on the other two",
        )
    )
    for name, value in zip(("treble", "bass"), pair, strict=True):
        far = "bass" if name == "treble" else "treble"
        how = f"from the board's {name} edge at the 12th crown to the plate's {far} front corner; both diagonals alike"
        found.append(_around(f"diagonal-{name}", value, DIAGONALS_DIFFER, how))
    return found
