"""Names the numbers that only a fan has: its lines, and where each string stands on them."""

from __future__ import annotations

from scribeline.job import Document
from scribeline.layout.fan import (
    at_across,
    fan_place,
    fret_cents,
    half_board,
    met_share,
    on_the_centreline,
    slope_of,
    square_cents,
)
from scribeline.layout.frets import narrowing, taper
from scribeline.layout.paths import edge_margin, string_at
from scribeline.quantities import Quantities, cos
from scribeline.strings import TWELVE, equal_steps, fret_place

_SERIES = "the outer strings' own series, level with each other at the square fret (docs/fans.md)"


def name_fan(found: Quantities, document: Document) -> None:
    """Name the nut's line, every fret and the scale line of a fan; the cents of the frets have names already."""
    scale = document.scale
    assert scale.square_fret is not None
    what = "cents of the square fret over the open string"
    if scale.temperament_cents is None:
        steps: dict[str, str | float] = {"fret": "scale.square_fret"}
        steps["divisions"] = TWELVE if scale.divisions is None else "scale.divisions"
        found.work("square-fret.cents", equal_steps, steps, what=what, unit="cents")
    else:
        cents = square_cents(scale.square_fret, fret_cents(document))
        found.give(
            "square-fret.cents", cents, what=what, unit="cents", source="even between the frets beside it"
        )
    _share(found, "square-fret")
    found.give(
        "nut-line.share", 0.0, what="the share of a scale before the nut", unit="", source="it begins there"
    )
    found.give(
        "scale-middle.share",
        1.0,
        what="the share of a scale before the scale line",
        unit="",
        source="all of it",
    )
    _line(found, document, "nut-line", "the nut")
    for no in range(1, scale.frets + 1):
        _share(found, f"fret-{no}")
        _line(found, document, f"fret-{no}", f"fret {no}")
    _line(found, document, "scale-middle", "the scale line")


def _share(found: Quantities, name: str) -> None:
    inputs: dict[str, str | float] = {"length": 1.0, "cents": f"{name}.cents"}
    found.work(f"{name}.share", fret_place, inputs, what="the share of a scale that lies before it", unit="")


def _line(found: Quantities, document: Document, name: str, words: str) -> None:
    """A line by the places at which the outer strings have it."""
    sides = (("treble", 1, "scale.length"), ("bass", len(document.strings), "scale.bass_length"))
    ends: dict[str, str | float] = {}
    for side, no, length in sides:
        place = {
            "share": f"{name}.share",
            "length": length,
            "square": "square-fret.share",
            "treble": "scale.length",
        }
        what = f"{words} under the {side} string, along the neck from the treble string's nut"
        found.work(f"{name}.{side}-along", fan_place, place, what=what, source=_SERIES)
        path = {"nut": f"string-{no}.nut-across", "bridge": f"string-{no}.bridge-row", "x": f"{name}.share"}
        what = f"the {side} string there, from the centreline to the treble"
        found.work(f"{name}.{side}-across", string_at, {**path, "scale": 1.0}, what=what)
        ends |= {side: f"{name}.{side}-along", f"{side}_across": f"{name}.{side}-across"}
    what = f"by how much {words} lies further towards the tail for each mm to the treble"
    found.work(f"{name}.slope", slope_of, ends, what=what, unit="")
    at = {"along": f"{name}.treble-along", "across": f"{name}.treble-across", "slope": f"{name}.slope"}
    if name == "nut-line":
        what = "the nut on the centreline, along the neck from the treble string's nut"
        found.work("nut-line.middle", on_the_centreline, at, what=what)
        return
    what = f"the nut to {'the centre of ' if words.startswith('fret') else ''}{words}, along the centreline"
    found.work(name, _from_the_nut, {**at, "nut": "nut-line.middle"}, what=what)


def _from_the_nut(along: float, across: float, slope: float, nut: float) -> float:
    place: float = on_the_centreline(along, across, slope)
    return place - nut


def name_string_on_fan(found: Quantities, document: Document, no: int) -> None:
    """Name where a string stands on the fan's lines: its nut, its scale, its frets, its place on the scale line."""
    name = f"string-{no}"
    nut: dict[str, str | float] = {"middle": 0.0, "slope": "nut-line.slope", "across": f"{name}.nut-across"}
    found.work(
        f"{name}.nut-along", at_across, nut, what=f"string {no} at the nut, along the neck from its middle"
    )
    end = {"middle": "scale-middle", "slope": "scale-middle.slope", "row": f"{name}.bridge-row"}
    found.work(
        f"{name}.scale", _own_scale, {**end, "nut": f"{name}.nut-along"}, what=f"the scale of string {no}"
    )
    off = {"slope": "scale-middle.slope", "row": f"{name}.bridge-row", "lean": "neck.lean"}
    what = f"string {no}'s place on the scale line past its middle, level along the body"
    found.work(f"{name}.offset", _offset, off, what=what)
    path = {"nut": f"{name}.nut-along", "nut_across": f"{name}.nut-across", "row": f"{name}.bridge-row"}
    for fret in range(1, document.scale.frets + 1):
        line = {"middle": f"fret-{fret}", "slope": f"fret-{fret}.slope", "scale": f"{name}.scale"}
        what = f"fret {fret} under string {no}, from the string's own place on the nut"
        found.work(f"{name}.fret-{fret}", _met, {**line, **path}, what=what)


def _own_scale(middle: float, slope: float, row: float, nut: float) -> float:
    end: float = at_across(middle, slope, row)
    return end - nut


def _offset(slope: float, row: float, lean: float) -> float:
    return slope * row * cos(lean)


def _met(**line: float) -> float:
    share: float = met_share(**line)
    return share * line["scale"]


def fan_margin(
    *,
    nut_width: float,
    end: float,
    end_width: float,
    start: float,
    x: float,
    nut: float,
    bridge: float,
    scale: float,
) -> float:
    """A string's middle to the board's edge at a fret, mm, of a string that leaves the nut so far along the neck."""
    width = taper(start + x, nut_width, end, end_width)  # type: ignore[arg-type]
    return edge_margin(width, string_at(x, nut, bridge, scale))  # type: ignore[arg-type, return-value]


def name_twelfth_corners(found: Quantities, *, given: str, places: dict[str, tuple[float, float]]) -> None:
    """Name the ends of the 12th fret at the board's edges, which the bridge's squareness is measured from.

    Args:
        found: the numbers.
        given: why the ends are as the layout has them, where no formula tells; "" where one does.
        places: each end by its side: along the body, and from the centreline to the treble, mm.
    """
    for side, sign in (("treble", 1.0), ("bass", -1.0)):
        across, along = f"fret-12.{side}-end-across", f"fret-12.{side}-end"
        what = f"the 12th fret at the board's {side} edge"
        if given:
            found.give(along, places[side][0], what=f"{what}, level along the body", source=given)
            found.give(across, places[side][1], what=f"{what}, from the centreline", source=given)
            continue
        board = {"at_nut": "nut.width", "at_end": "fingerboard.width_at_end", "end": "fingerboard.end"}
        half: dict[str, str | float] = {
            "width": "fret-12.width",
            "slope": "fret-12.slope",
            "side": sign,
            **board,
        }
        found.work(across, _half, half, what=f"{what}, from the centreline to the treble")
        line = {"middle": "fret-12", "slope": "fret-12.slope", "across": across}
        found.work(along, at_across, line, what=f"{what}, from the nut along the centreline")


def _half(*, width: float, at_nut: float, at_end: float, end: float, slope: float, side: float) -> float:
    half: float = half_board(width / 2, narrowing(at_nut, end, at_end) / 2, slope, side)
    return half * side
