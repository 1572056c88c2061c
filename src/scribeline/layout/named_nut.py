"""Names the numbers of a nut that is made here."""

from __future__ import annotations

from scribeline.job import Document
from scribeline.layout.fan import half_board
from scribeline.layout.frets import narrowing
from scribeline.layout.heights import arch_radius, sunk
from scribeline.layout.instrument import Layout
from scribeline.layout.nut import (
    NUT_SPARE,
    NutMade,
    NutSlot,
    along_front,
    back_floor,
    behind_of,
    below_blank,
    below_top,
    blank_thickness,
    clearance_of,
    floor_over_board,
    floor_over_seat,
    guided,
    half_the_break,
    mitred_length,
    nut_made,
    on_the_guide,
    outside,
    slot_width,
    top_over_seat,
    wall,
)
from scribeline.layout.paths import string_at
from scribeline.quantities import Formula, Input, Quantities, atan2, greatest
from scribeline.strings import bow, line_at, octave_fret

_CLEARANCE = "common practice, no source: a plain string wants 0.05 mm, a wound one 0.08 mm"


def name_nut(found: Quantities, document: Document, layout: Layout) -> None:
    """Name its blank, and every slot's place, width, depth and slope; nothing where the nut is not made here."""
    made = nut_made(document, layout)
    if made is None:
        return
    slope: Input = "nut-line.slope" if document.scale.is_fanned else 0.0
    found.work("nut.turn", _turn, {"slope": slope}, what="how far the nut's front leans", unit="rad")
    for side, sign in (("treble", 1.0), ("bass", -1.0)):
        half: dict[str, Input] = {
            "width": "nut.width",
            "end": "fingerboard.end",
            "slope": slope,
            "side": sign,
        }
        half["at_end"] = "fingerboard.width_at_end"
        what = f"the nut's {side} end from the centreline, at the board's edge"
        found.work(f"nut.{side}-half", _half, half, what=what)
    wide = {"bass": "nut.bass-half", "across": "nut.treble-half", "turn": "nut.turn"}
    found.work(
        "nut.length", along_front, wide, what="the nut along its front, from edge to edge of the board"
    )
    thick = "nut.thickness"
    if moved := document.nut.compensation:
        foremost = moved.index(max(moved)) + 1
        shelf = {"thickness": thick, "moved": f"nut.compensation[{foremost}]", "turn": "nut.turn"}
        what = (
            f"the blank's thickness, for the front of string {foremost}'s slot to stand before the nut's line"
        )
        found.work("nut.blank-thickness", blank_thickness, shelf, what=what)
        thick = "nut.blank-thickness"
    mitred = {"length": "nut.length", "thickness": thick, "turn": "nut.turn"}
    found.work(
        "nut.blank-needs", mitred_length, mitred, what="the blank along its front with both its mitres"
    )
    over: dict[str, Input] = {
        "crown": "fret_wire.crown_height",
        "over": "nut.height_over_frets",
        "below": "nut.below_zero_fret" if guided(document) else 0.0,
    }
    what = "a slot's floor at the nut's front over the board there"
    found.work("nut.floor-over-board", floor_over_board, over, what=what)
    for slot in made.slots:
        _name_slot(found, document, layout, slot)
    tops: dict[str, Input] = {f"of_{slot.string}": f"string-{slot.string}.slot-top" for slot in made.slots}
    found.work("nut.height-needs", _most, tops, what="what the strings ask of the blank's height")
    if document.nut.blank_height is None:
        needs: dict[str, Input] = {"needs": "nut.height-needs", "spare": NUT_SPARE}
        what, source = "the blank over its underside", "the spare: common practice, no source"
        found.work("nut.height", _height, needs, what=what, source=source)
    _name_walls(found, document, made)


def _name_slot(found: Quantities, document: Document, layout: Layout, slot: NutSlot) -> None:
    no, nut = slot.string, document.nut
    name = f"string-{no}"
    front: dict[str, Input] = {
        "bass": "nut.bass-half",
        "across": _name_place(found, document, no),
        "turn": "nut.turn",
    }
    what = f"string {no}'s slot along the nut's front, from its bass end"
    found.work(f"{name}.slot-along", along_front, front, what=what)
    plain = clearance_of(document, no) == nut.over_plain and nut.over_plain != nut.over_wound
    clearance = "nut.over_plain" if plain else "nut.over_wound"
    wide: dict[str, Input] = {"gauge": f"strings[{no}].gauge", "clearance": clearance}
    found.work(f"{name}.slot-width", slot_width, wide, what=f"width of string {no}'s slot", source=_CLEARANCE)
    seat = "neck.board_thickness" if nut.seat is None else "nut.seat"
    sunk_there = _name_sunk(found, document, no)
    floor: dict[str, Input] = {"seat": seat, "over_board": "nut.floor-over-board", "sunk": sunk_there}
    what = f"the floor of string {no}'s slot at the front, over the nut's underside"
    found.work(f"{name}.slot-floor", floor_over_seat, floor, what=what)
    deep: dict[str, Input] = {"gauge": f"strings[{no}].gauge", "proud": "nut.proud"}
    what = f"string {no}'s slot below the nut's finished top"
    found.work(f"{name}.slot-in-top", below_top, deep, what=what)
    top = {"floor": f"{name}.slot-floor", "deep": f"{name}.slot-in-top"}
    found.work(
        f"{name}.slot-top", top_over_seat, top, what=f"the finished top at string {no}, over the underside"
    )
    height = "nut.height" if nut.blank_height is None else "nut.blank_height"
    below = {"height": height, "floor": f"{name}.slot-floor"}
    found.work(
        f"{name}.slot-depth", below_blank, below, what=f"string {no}'s slot below the blank's flat top"
    )
    if slot.slope is not None:
        half = {"breaks": f"tuner-{no}.break"}
        what, half_source = (
            f"how far the slot of string {no} falls towards the head",
            "common practice, no source",
        )
        found.work(f"{name}.slot-slope", half_the_break, half, what=what, unit="rad", source=half_source)
        back: dict[str, Input] = {
            "floor": f"{name}.slot-floor",
            "thickness": "nut.thickness",
            "turn": "nut.turn",
            "moved": f"nut.compensation[{no}]" if nut.compensation else 0.0,
            "slope": f"{name}.slot-slope",
        }
        what = f"the floor of string {no}'s slot at the nut's back, over the underside"
        found.work(f"{name}.slot-back", back_floor, back, what=what)
    if slot.over_first is not None:
        _name_first(found, document, layout, slot)


def _name_place(found: Quantities, document: Document, no: int) -> str:
    """The slot's middle from the centreline to the treble, by its name."""
    if behind_of(document):
        what = f"string {no} at the guide's front, from the centreline to the treble"
        found.work(f"string-{no}.guide-across", on_the_guide, _crossing(document, no), what=what)
    return _across(document, no)


def _across(document: Document, no: int) -> str:
    return f"string-{no}.guide-across" if behind_of(document) else f"string-{no}.nut-across"


def _crossing(document: Document, no: int) -> dict[str, Input]:
    fanned = document.scale.is_fanned
    return {
        "nut": f"string-{no}.nut-across",
        "row": f"string-{no}.bridge-row",
        "scale": f"string-{no}.scale" if fanned else "scale.length",
        "behind": "nut.behind_zero_fret",
        "slope": "nut-line.slope" if fanned else 0.0,
    }


def _name_sunk(found: Quantities, document: Document, no: int) -> Input:
    """The board's face at the slot below the middle's, by its name."""
    board, name = document.fingerboard, f"string-{no}.slot-sunk"
    if board.radius is None:
        return 0.0
    nut: Input = f"string-{no}.nut-along" if document.scale.is_fanned else 0.0
    inputs: dict[str, Input] = {
        "start": nut,
        "at_nut": "fingerboard.radius",
        "at_end": "fingerboard.radius" if board.radius_at_end is None else "fingerboard.radius_at_end",
        "end": "fingerboard.end",
    }
    what = f"the board's face at string {no}'s slot below its middle"
    if behind_of(document):
        found.work(name, _sunk_at_guide, {**inputs, **_crossing(document, no)}, what=what)
    else:
        found.work(name, _sunk_at_nut, {**inputs, "across": f"string-{no}.nut-across"}, what=what)
    return name


def _name_first(found: Quantities, document: Document, layout: Layout, slot: NutSlot) -> None:
    """The open string over the first fret, from its line over the fret plane."""
    no, name = slot.string, f"string-{slot.string}"
    octave = octave_fret(layout.stringing.setup.board(len(document.strings))) + 1
    straight = min(document.setup.relief_fret, document.scale.frets)
    of = f"{name}.fret-" if document.scale.is_fanned else "fret-"
    inputs: dict[str, Input] = {
        "nut": f"{name}.over-nut",
        "octave": f"{name}.over-12",
        "fret": f"{of}{octave}",
        "first": f"{of}1",
        "straight": f"{of}{straight}",
        "relief": "setup.relief",
    }
    formula: Formula = _over_first
    if (board := document.fingerboard).radius is not None:
        formula = _over_sunk_first
        inputs |= {
            "start": f"{name}.nut-along" if document.scale.is_fanned else 0.0,
            "at_nut": "fingerboard.radius",
            "at_end": "fingerboard.radius" if board.radius_at_end is None else "fingerboard.radius_at_end",
            "end": "fingerboard.end",
            "across": f"{name}.nut-across",
            "row": f"{name}.bridge-row",
            "scale": f"{name}.scale" if document.scale.is_fanned else "scale.length",
        }
    what = f"the open string {no} over the first fret's crown"
    source = "a straight line from the nut over the 12th fret, less the crown under it"
    found.work(f"{name}.over-first", formula, inputs, what=what, source=source, sd=0.0)


def _name_walls(found: Quantities, document: Document, made: NutMade) -> None:
    for no in range(1, len(made.slots)):
        between: dict[str, Input] = {
            "across": _across(document, no),
            "width": f"string-{no}.slot-width",
            "after": _across(document, no + 1),
            "width_after": f"string-{no + 1}.slot-width",
        }
        what = f"wood between the slots of strings {no} and {no + 1}"
        found.work(f"nut.wall-{no}", wall, between, what=what)
    ends: tuple[tuple[str, int, Formula], ...] = (
        ("treble", 1, outside),
        ("bass", len(made.slots), _outside_bass),
    )
    for side, no, formula in ends:
        inputs: dict[str, Input] = {
            "half": f"nut.{side}-half",
            "off": _across(document, no),
            "width": f"string-{no}.slot-width",
        }
        found.work(
            f"nut.edge-{side}", formula, inputs, what=f"wood between the nut's {side} end and its slot"
        )


def _turn(slope: float) -> float:
    turn: float = atan2(slope, 1.0)
    return turn


def _most(**tops: float) -> float:
    return greatest(*tops.values())


def _height(needs: float, spare: float) -> float:
    return needs + spare


def _half(*, width: float, end: float, at_end: float, slope: float, side: float) -> float:
    half: float = half_board(width / 2, narrowing(width, end, at_end) / 2, slope, side)
    return half


def _sunk_at_nut(*, start: float, at_nut: float, at_end: float, end: float, across: float) -> float:
    return sunk(arch_radius(start, at_nut, at_end, end), across)  # type: ignore[arg-type, return-value]


def _sunk_at_guide(*, start: float, at_nut: float, at_end: float, end: float, **crossing: float) -> float:
    across = on_the_guide(**crossing)
    along = start + crossing["slope"] * (across - crossing["nut"]) - crossing["behind"]
    return _sunk_at_nut(start=along, at_nut=at_nut, at_end=at_end, end=end, across=across)


def _over_first(
    *, nut: float, octave: float, fret: float, first: float, straight: float, relief: float
) -> float:
    bowed = relief * bow(first, straight)  # type: ignore[arg-type]
    return line_at(nut, octave, fret, first) - bowed  # type: ignore[arg-type, return-value]


def _over_sunk_first(
    *,
    start: float,
    at_nut: float,
    at_end: float,
    end: float,
    across: float,
    row: float,
    scale: float,
    first: float,
    **line: float,
) -> float:
    there = string_at(first, across, row, scale)  # type: ignore[arg-type]
    low = _sunk_at_nut(start=start + first, at_nut=at_nut, at_end=at_end, end=end, across=there)  # type: ignore[arg-type]
    return _over_first(first=first, **line) + low


def _outside_bass(half: float, off: float, width: float) -> float:
    return outside(half, -off, width)
