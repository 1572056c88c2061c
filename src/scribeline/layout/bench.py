"""Numbers for the bench: distances from an edge one can touch, and what may be checked with rule or caliper."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from scribeline.job import Document, TwelfthMark, standard_deviation
from scribeline.layout.bridges import BridgePlace, Mark, Unit
from scribeline.layout.heights import neck_lie
from scribeline.layout.instrument import Layout
from scribeline.layout.neck_line import EDGE_READ, THREAD, neck_measurables, neck_stations
from scribeline.layout.nut import FLOOR_LEFT, nut_made
from scribeline.lengths import said
from scribeline.quantities import hypot
from scribeline.tables import usual_accuracies

NUT_TO_TWELFTH = 0.1
DIAGONALS_DIFFER = 0.5
MARGIN_TOLERANCE = 0.25
FIRST_FRET = 0.1
"""What an open string's height over the first fret may be off, mm (common practice, no source)."""
SET_OUT = 0.34
"""Likely error of setting a bridge along the string, mm, 1 σ: measure 0.15, mark 0.10, drill start 0.15, plate
slop 0.20, read 0.15, added as squares (common practice, no source)."""
ALIKE = 0.05
"""Diagonals closer than this, mm, are alike: no rule shows less."""
SET_OUT_AT_WORST = 0.75
"""The same five errors, all one way, mm (common practice, no source): a bridge read further off than this does not stand
where its holes are said to be."""


MARK_WORDS: dict[TwelfthMark, str] = {
    "crown": "centre",
    "slot": "slot",
    "near edge": "nut side",
    "far edge": "bridge side",
}
"""What the marks of the 12th fret are called at the bench."""


SURELY = 1.96
"""Standard deviations within which a reading lies 95 times in 100 (normal distribution)."""


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
        method: how it is usually read: a method of `tables/accuracies.csv`.
        cut: of a cut that is made its id; "" of any other number.
        origin: of a place of such a cut where it is read from, in the instrument frame, mm; None of any other number.
        sign: by how much that place grows with the reading.
    """

    id: str
    value: float
    sd: float
    low: float
    high: float
    how: str
    method: str = "rule"
    cut: str = ""
    origin: float | None = None
    sign: float = 1.0

    @property
    def accepted(self) -> tuple[float, float]:
        """Between which readings it is accepted: its limits, but no closer together than its usual method reads.

        What may lie on one side alone, as a slot's floor that is never too low, keeps its limits.
        """
        if not self.low < self.value < self.high:
            return self.low, self.high
        beyond = max(0.0, SURELY * usual_accuracies()[self.method].sd - (self.high - self.low) / 2)
        return self.low - beyond, self.high + beyond

    def lies_at(self, mm: float) -> float | None:
        """Where a reading puts the place that it tells, in the instrument frame, mm; None of what is no place of a cut."""
        return None if self.origin is None else self.origin + self.sign * mm


@dataclass(frozen=True, slots=True)
class TwelfthReading:
    """One mark of the 12th fret that can be touched.

    Attributes:
        mark: which.
        from_nut: its distance from the nut, mm.
        to_crown: what to add to a distance measured from it towards the tail to have it from the crown, mm.
        to_bridge: from this mark to each mark that the bridge is set out by, mm; none when it has no place.
    """

    mark: TwelfthMark
    from_nut: float
    to_crown: float
    to_bridge: tuple[float, ...]


def twelfth_readings(document: Document, layout: Layout) -> tuple[TwelfthReading, ...]:
    """The 12th fret's marks: crown and slot centre are the same place, the edges half a crown's width off."""
    half = document.fret_wire.crown_width / 2
    offsets: tuple[tuple[TwelfthMark, float], ...] = (
        ("crown", 0.0),
        ("slot", 0.0),
        ("near edge", -half),
        ("far edge", half),
    )
    marks = () if layout.bridge is None else layout.bridge.marks
    return tuple(
        TwelfthReading(
            mark=mark,
            from_nut=layout.frets[11].along + offset,
            to_crown=offset,
            to_bridge=tuple(each.at.x - layout.twelfth - offset for each in marks),
        )
        for mark, offset in offsets
    )


def diagonals(layout: Layout) -> tuple[float, float] | None:
    """Squareness check: 12th-fret board corner to the bridge's far corner, (from treble, from bass), mm.

    Equal when the bridge is square to the centreline and centred on it; None when it has no place.
    """
    if layout.bridge is None:
        return None
    twelfth = layout.frets[11]
    treble, bass = layout.bridge.corners
    return apart(*twelfth.treble, *bass.at), apart(*twelfth.bass, *treble.at)


def apart(ax: float, ay: float, bx: float, by: float) -> float:
    """Distance of two places seen from above, mm."""
    return hypot(ax - bx, ay - by)


def beyond(x: float, datum: float) -> float:
    """How far a place lies beyond what it is measured from, mm."""
    return x - datum


def measurables(document: Document, layout: Layout) -> tuple[Measurable, ...]:
    """Everything a person can check against the plan before cutting."""
    thickness = document.body.thickness
    spread, straight_on = thickness.sd, _on_a_fan(layout)
    start = document.nut.start("the nut's front face")
    found = [
        _around(
            "nut-to-12th",
            layout.frets[11].along,
            NUT_TO_TWELFTH,
            f"with a steel rule, from {start} to the centre of the 12th fret" + straight_on,
        ),
        *(
            [
                _around(
                    "nut-to-last-slot",
                    layout.frets[-1].along,
                    NUT_TO_TWELFTH,
                    f"with a steel rule, from {start} to the middle of the last slot, fret {len(layout.frets)}'s"
                    + straight_on,
                )
            ]
            if document.fingerboard.blank_thickness is not None
            else []
        ),
        Measurable(
            "body-thickness",
            thickness.mm,
            spread,
            thickness.mm - thickness.plus_minus,
            thickness.mm + thickness.plus_minus,
            "with a caliper, the blank in four places near the bridge; use the least",
            "caliper-wood",
        ),
    ]
    for side, string in (("treble", layout.strings[0]), ("bass", layout.strings[-1])):
        margin = string.margins[-1].centre
        how = (
            f"with a thread from nut slot to saddle on the {side} side: from its middle to the board's edge "
            f"at fret {len(layout.frets)}"
        )
        found.append(_around(f"margin-{side}", margin, MARGIN_TOLERANCE, how, "thread"))
    found.extend(_at_the_nut(document, layout))
    found.extend(
        _around(name, half, EDGE_READ, how, THREAD)
        for name, half, how in neck_measurables(neck_stations(document))
    )
    if layout.bridge is not None:
        found.extend(_of_the_bridge(document, layout, layout.bridge))
    return tuple(found)


def read_to_the_bridge(document: Document, layout: Layout) -> frozenset[str]:
    """Which of the numbers that can be checked are others once the bridge is moved."""
    margins = {"margin-treble", "margin-bass"}
    if layout.bridge is None:
        return frozenset(margins)
    return frozenset(margins | {each.id for each in _of_the_bridge(document, layout, layout.bridge)})


def _at_the_nut(document: Document, layout: Layout) -> Iterator[Measurable]:
    """What is read with feelers at a nut that is made here: its slots' height, and the outer strings over the first fret."""
    made = nut_made(document, layout)
    if made is None:
        return
    floor, over = made.slots[0].over_board, standard_deviation(FLOOR_LEFT)
    how = "with a stack of feelers on the board against the nut's front: what just goes under a file in each slot"
    low = floor - FLOOR_LEFT if document.nut.zero_fret else floor
    yield Measurable("nut-floor", floor, over, low, floor + FLOOR_LEFT, how, "feeler")
    for side, slot in (("treble", made.slots[0]), ("bass", made.slots[-1])):
        if slot.over_first is not None:
            how = f"with feelers, at pitch: the open string {slot.string} over the first fret's crown"
            yield _around(f"first-fret-{side}", slot.over_first, FIRST_FRET, how, "feeler")


def _around(name: str, value: float, tolerance: float, how: str, method: str = "rule") -> Measurable:
    sd = standard_deviation(tolerance)
    return Measurable(name, value, sd, value - tolerance, value + tolerance, how, method)


def _of_the_bridge(document: Document, layout: Layout, bridge: BridgePlace) -> Iterator[Measurable]:
    for mark in bridge.marks:
        yield from _to_mark(document, layout, bridge, mark)
    for number, unit in enumerate(bridge.units):
        yield _to_unit(document, layout, bridge, number, unit)
    pair = diagonals(layout)
    assert pair is not None
    alike = "" if abs(pair[0] - pair[1]) > ALIKE else "; both diagonals must be alike"
    for side, corner, value in zip(("treble", "bass"), reversed(bridge.corners), pair, strict=True):
        how = f"from the board's {side} edge at the centre of the 12th fret to {corner.name}{alike}"
        yield _around(f"diagonal-{side}", value, DIAGONALS_DIFFER, how, "tape")


def _on_a_fan(layout: Layout) -> str:
    """Where a rule is laid on slanted frets, as the end of a sentence."""
    return ", along the centreline" if layout.is_fanned else ""


def _to_mark(document: Document, layout: Layout, bridge: BridgePlace, mark: Mark) -> Iterator[Measurable]:
    """The readings by which one mark of the bridge is set out."""
    low, high, note = _accepted(layout, bridge, mark)
    on_a_fan = _on_a_fan(layout)
    read, x = document.bench.twelfth_read_to, mark.at.x
    offset = next(r.to_crown for r in twelfth_readings(document, layout) if r.mark == read)

    def along(name: str, datum: float, how: str) -> Measurable:
        return Measurable(
            f"{name}-to-{mark.id}",
            beyond(x, datum),
            SET_OUT,
            low - datum,
            high - datum,
            how + on_a_fan + note,
        )

    yield along(
        "12th",
        layout.twelfth + offset,
        f"from the {MARK_WORDS[read]} of the 12th fret to {mark.how}"
        + (f" (its centre = reading {said(offset, signed=True)})" if offset else "")
        + _level(document, layout.frets[11].along + offset, mark),
    )
    yield along("pocket-end", layout.pocket_end, f"from {layout.neck_end_in_words} to {mark.how}")
    nut, start = layout.datum("nut").point.x, document.nut.start("the nut's front face")
    yield along(
        "nut",
        nut,
        f"from {start} to {mark.how}; it checks the other two{_level(document, 0.0, mark)}",
    )
    if mark.drilled:
        off = off_the_centreline(mark.at.y)
        how = f"from the centreline to the {mark.name}, square to it"
        yield _around(f"centreline-to-{mark.id}", off, MARGIN_TOLERANCE, how)


def _level(document: Document, along: float, mark: Mark) -> str:
    """On a neck that leans back: how a reading from it is held, and what a rule laid aslant from it would read."""
    lie = neck_lie(document)
    if lie.is_level:
        return ""
    aslant = hypot(mark.at.x - float(lie.place(along)), float(lie.height(along)))
    return f"; hold the rule level, for the neck leans back: laid aslant from it to the top, it reads {said(aslant)}"


def _to_unit(document: Document, layout: Layout, bridge: BridgePlace, number: int, unit: Unit) -> Measurable:
    """The reading by which a unit is set out from the line; nothing moves it beyond what its own saddle keeps in hand."""
    off, reserve, travel = beyond(unit.front.x, bridge.middle.x), document.bench.saddle_reserve, layout.travel
    low, high = off - (travel.back[number] - reserve), off + (travel.forward[number] - reserve)
    if layout.held is not None:
        low, high = off - SET_OUT_AT_WORST, off + SET_OUT_AT_WORST
    how = f"from the set-out line to {unit.name}'s front edge on its string; a minus lies before the line, towards the nut"
    return Measurable(f"line-to-{unit.id}", off, SET_OUT, low, high, how)


def off_the_centreline(across: float) -> float:
    """How far a place lies from the centreline on either side, mm."""
    return abs(across)


def _accepted(layout: Layout, bridge: BridgePlace, mark: Mark) -> tuple[float, float, str]:
    """Between which distances from the nut a mark of the bridge is accepted, mm, and what to say of that.

    A bridge that nothing holds yet may lie anywhere in the window. One that drilled holes hold lies where they are: a
    reading further off says that they are not where the record has them.
    """
    x = mark.at.x
    if layout.held is None:
        start = layout.scale + (x - bridge.middle.x)
        return start + layout.window.low, start + layout.window.high, ""
    return (
        x - SET_OUT_AT_WORST,
        x + SET_OUT_AT_WORST,
        f"; its drilled {layout.held.by} hold it there",
    )
