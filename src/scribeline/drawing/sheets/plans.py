"""The plans: the body from the front, the distances along it from both datums, and the body from the back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from scribeline.drawing.sheets.depths import face_pages
from scribeline.drawing.sheets.figures import Cell, across, bare, both_named, signed, unnamed
from scribeline.drawing.sheets.flow import Block, Table, listed
from scribeline.drawing.sheets.office import NUMBERS_GOVERN, Office, Page
from scribeline.features import Family, Pocket, rows_along, runs
from scribeline.layout import kind_of
from scribeline.lengths import in_unit, size_text, unit_words
from scribeline.plan import Plan
from scribeline.steps import balloon as number_of

_TIER = 9.2
"""Pitch of dimension lines, mm."""
_OFF = 6.0
"""From the work to the first dimension line, mm."""

_STRING_HOLES = "string-hole row"
_SAME = 0.005
"""Places nearer than this along the instrument print the same, mm."""


@dataclass(frozen=True, slots=True)
class Station:
    """A place along the instrument that is set out from the datums.

    Attributes:
        name: what is there.
        x: from the nut, mm.
        low: where the thing itself begins across, y, mm.
        high: where it ends.
    """

    name: str
    x: float
    low: float = 0.0
    high: float = 0.0


def plan_pages(office: Office) -> list[Page]:
    """Front plan and back plan."""
    return [*face_pages(office, "top"), *face_pages(office, "back")]


def bridge_stations(plan: Plan) -> list[Station]:
    """The bridge's edges and its rows of holes."""
    bridge = plan.layout.bridge
    if bridge is None:
        return []
    half, kind = bridge.half_width, kind_of(plan.job.document.bridge)
    found = [Station(mark.name, mark.at.x, -half, half) for mark in bridge.marks if not mark.drilled]
    families: tuple[tuple[Family, str], ...] = (
        (kind.family, kind.row),
        *((row.family, row.row) for row in bridge.further),
        ("string-hole", _STRING_HOLES),
    )
    found += [Station(f"{unit.name}'s front edge", unit.front.x, -half, half) for unit in bridge.units]
    for family, name in families[1:] if bridge.units else families:
        rows = rows_along(plan.features.family(family))
        for n, row in enumerate(rows, start=1):
            ys = [bore.at.y for bore in row]
            which = runs([number_of(bore.id) for bore in row]) if bridge.units else n
            numbered = name if len(rows) == 1 else f"{name} {which}"
            found.append(Station(numbered, row[0].at.x, min(ys), max(ys)))
    return sorted(found, key=lambda station: station.x)


def _reach(pocket: Pocket, axis: int) -> tuple[float, float]:
    places = [point[axis] for point in pocket.outline]
    return min(places), max(places)


def along_the_centreline(plan: Plan) -> Block:
    """Every place along the centreline, from both datums."""
    layout = plan.layout
    tail_edge = layout.datum("tail").point
    neck_edge = min(p.x for p in layout.outline)
    back = rows_along(plan.features.family("ferrule-hole"))
    stations_of_bridge = bridge_stations(plan)
    rows_of_strings = [s for s in stations_of_bridge if s.name.startswith(_STRING_HOLES)]
    # The ferrules lie behind the string holes: one row says both.
    together = len(back) == len(rows_of_strings) and all(
        abs(row[0].at.x - s.x) < _SAME for row, s in zip(back, rows_of_strings, strict=True)
    )
    if together:
        stations_of_bridge = [
            replace(s, name=s.name.replace(_STRING_HOLES, "string and ferrule holes"))
            for s in stations_of_bridge
        ]
    stations = [
        Station("12th fret", layout.datum("12th-fret").point.x),
        Station(layout.neck_end_in_words.removeprefix("the "), layout.pocket_end),
        Station("scale line", layout.scale),
        Station("body's neck edge", neck_edge),
        Station("tail edge, centreline", tail_edge.x),
        *stations_of_bridge,
        *(Station("ferrule row, in the back", row[0].at.x) for row in back if not together),
        *(Station("ground-wire mouth", bore.at.x) for bore in plan.features.family("ground-wire")),
    ]
    rows: list[Sequence[Cell]] = [
        (
            station.name,
            unnamed(signed(layout.past("pocket-end", station.x), plan.unit)),
            unnamed(signed(layout.past("12th-fret", station.x), plan.unit)),
            unnamed(signed(layout.past("nut", station.x), plan.unit)),
        )
        for station in sorted(stations, key=lambda station: station.x)
    ]
    table = Table(
        ("To the", f"From {layout.neck_end_in_words}", "(From the 12th fret)", "(From the nut)"),
        rows,
        (63.0, 69.0, 64.0, 65.0),
        ("start", "end", "end", "end"),
    )
    both = " and ".join(unit_words(plan.unit)).replace("inches and", "Inches and")
    return listed(
        "Along the centreline",
        table,
        in_unit(
            f"{both} towards the tail; a minus runs towards the nut. What stands in brackets checks the first. {NUMBERS_GOVERN}",
            plan.unit,
        ),
    )


def pockets_from_the_datums(plan: Plan) -> list[Block]:
    """Where each pocket lies and how deep it is; nothing where there is none."""
    layout = plan.layout
    rows: list[Sequence[Cell]] = []
    for pocket in plan.features.pockets:
        near, far = _reach(pocket, 0)
        low, high = (layout.treble * y for y in _reach(pocket, 1))
        rows.append(
            (
                (
                    pocket.role,
                    f"from the {pocket.face}, R {size_text(pocket.corner_radius, plan.unit).rpartition(' ')[0]}"
                    + (
                        ""
                        if pocket.slope is None
                        else f"; {signed(pocket.depths[0], plan.unit)[0]} deep at its mouth"
                    ),
                ),
                unnamed(signed(layout.past("pocket-end", near), plan.unit)),
                unnamed(signed(layout.past("12th-fret", near), plan.unit)),
                unnamed(signed(far - near, plan.unit)),
                unnamed(bare(across(max(low, high), plan.unit))),
                unnamed(bare(across(min(low, high), plan.unit))),
                unnamed(signed(pocket.depth, plan.unit)),
            )
        )
    if not rows:
        return []
    columns = (
        "Pocket",
        f"Near end from {layout.datum('pocket-end').name.removesuffix(' wall')}",
        "(From 12th fret)",
        "Length along",
        "Reach to the treble",
        "Reach to the bass",
        "Depth",
    )
    table = Table(
        columns,
        rows,
        (62, 33.5, 33.5, 32.5, 34.5, 34.5, 30.5),
        ("start", "end", "end", "end", "end", "end", "end"),
    )
    return [
        listed(
            "Pockets",
            table,
            f"{both_named(plan.unit)} below; R: the corners' radius, {plan.unit}. The outlines are on the full-size templates.",
            small=True,
        )
    ]
