"""The plans: the body from the front, the distances along it from both datums, and the body from the back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from scribeline.drawing.extent import bounds
from scribeline.drawing.facing import Show
from scribeline.drawing.marks import datum
from scribeline.drawing.place import Transform, placed
from scribeline.drawing.sheet import (
    CENTRE,
    PHANTOM,
    THIN,
    Clip,
    Item,
    Leader,
    Line,
    Path,
    Point,
    Text,
    Window,
)
from scribeline.drawing.sheets.depths import face_pages
from scribeline.drawing.sheets.figures import Cell, across, bare, both_named, measured, signed, unnamed
from scribeline.drawing.sheets.flow import Block, Table, flowed, listed
from scribeline.drawing.sheets.office import Office, Page, largest_scale
from scribeline.drawing.views import front_view
from scribeline.features import Family, Pocket, rows_along
from scribeline.features.cuts import Face
from scribeline.lengths import size_text, unit_words
from scribeline.plan import Plan

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
    """Front plan, distances from both datums, back plan, and the same distances and the pockets in tables."""
    listings = [along_the_centreline(office.plan), *_pockets(office.plan)]
    return [
        *face_pages(office, "top"),
        *_distance_pages(office),
        *face_pages(office, "back"),
        *flowed("Distances along; pockets", listings),
    ]


def bridge_stations(plan: Plan) -> list[Station]:
    """The plate's edges and its rows of holes."""
    plate = plan.layout.plate
    if plate is None:
        return []
    half = abs(plate.corners[0].y)
    found = [Station("plate's front edge", plan.layout.front_edge, -half, half)]
    families: tuple[tuple[Family, str], ...] = (("bridge-screw", "screw row"), ("string-hole", _STRING_HOLES))
    for family, name in families:
        rows = rows_along(plan.features.family(family))
        for n, row in enumerate(rows, start=1):
            ys = [bore.at.y for bore in row]
            numbered = name if len(rows) == 1 else f"{name} {n}"
            found.append(Station(numbered, row[0].at.x, min(ys), max(ys)))
    return sorted(found, key=lambda station: station.x)


def pocket_stations(plan: Plan, face: Face) -> list[Station]:
    """The near and far wall of every pocket of a face but the neck's."""
    found = []
    for pocket in plan.features.pockets:
        if pocket.face == face and not pocket.at_edge:
            for name, x in zip(("near wall", "far wall"), _reach(pocket, 0), strict=True):
                ys = [p.y for p in pocket.outline if abs(p.x - x) < 0.5]
                found.append(Station(f"{pocket.role}, {name}", x, min(ys), max(ys)))
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
        Station("12th fret", layout.twelfth),
        Station("neck pocket's end wall", layout.pocket_end),
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
            unnamed(signed(station.x - layout.twelfth, plan.unit)),
            unnamed(signed(station.x - layout.pocket_end, plan.unit)),
            unnamed(signed(station.x, plan.unit)),
        )
        for station in sorted(stations, key=lambda station: station.x)
    ]
    table = Table(
        ("To the", "From the 12th fret", "From the neck pocket's end wall", "From the nut"),
        rows,
        (63.0, 64.0, 69.0, 65.0),
        ("start", "end", "end", "end"),
    )
    both = " and ".join(unit_words(plan.unit)).replace("inches and", "Inches and")
    return listed(
        "Along the centreline",
        table,
        f"{both} towards the tail; a minus runs towards the nut. From the nut is for checking only.",
    )


def _distance_pages(office: Office) -> list[Page]:
    plan = office.plan
    lots: list[tuple[str, list[Station], bool]] = [
        ("Front: pockets from the datums", pocket_stations(plan, "top"), False),
        ("Front: bridge from the datums", bridge_stations(plan), True),
    ]
    return [
        _distances(office, title, stations[n : n + 4], hardware)
        for title, stations, hardware in lots
        for n in range(0, len(stations), 4)
    ]


def _distances(office: Office, title: str, stations: Sequence[Station], hardware: bool) -> Page:
    """One stretch of the centreline with every distance drawn from both datums."""
    plan, layout = office.plan, office.plan.layout
    left, bottom, right, top = office.window
    neck = next(pocket for pocket in plan.features.pockets if pocket.at_edge)
    start = _reach(neck, 0)[0] - 6.0
    end = max(station.x for station in stations) + 12.0
    neck_half = _reach(neck, 1)[1]
    half = max(neck_half, *(max(abs(s.low), abs(s.high)) for s in stations)) + 6.0
    stub = 62.0
    tiers = len(stations) * _TIER + _OFF
    room = (right - left - stub - 22.0, top - bottom - 2 * tiers)
    name, scale = largest_scale(end - start, 2 * half, room)
    middle = (top + bottom) / 2
    u0 = left + stub - start * scale + max(0.0, (room[0] - (end - start) * scale) / 2)

    def at(x: float, v: float) -> Point:
        return (u0 + x * scale, middle + v * scale)

    window = (at(start, 0)[0], at(0, -half)[1], at(end, 0)[0], at(0, half)[1])
    items: list[Item] = [
        Clip(window, _stretch(plan, scale, (u0, middle), window, hardware=hardware)),
        Line(CENTRE, (window[0] - 30.0, middle), (window[0], middle), "centreline"),
        Line(CENTRE, (window[2], middle), (window[2] + 5.0, middle), "centreline"),
    ]
    twelfth = (window[0] - 16.0, middle)
    items += _twelfth_stub(plan, twelfth, window[0], scale)
    edge = (twelfth[0], middle - _board_half(plan) * scale)
    wall = at(layout.pocket_end, neck_half)
    for n, station in enumerate(stations):
        level = half * scale + _OFF + n * _TIER
        from_wall, from_twelfth = station.x - layout.pocket_end, station.x - layout.twelfth
        if abs(from_wall) > 1e-6:
            up = at(station.x, station.high)
            items.append(
                measured(wall, up, (0.0, middle + level), from_wall, "x", start=True, unit=office.plan.unit)
            )
        items.append(
            measured(
                edge,
                at(station.x, station.low),
                (0.0, middle - level),
                from_twelfth,
                "x",
                unit=office.plan.unit,
            )
        )
    level = middle + half * scale + _OFF + (len(stations) - 1) * _TIER + 4.0
    items += datum(
        (at(layout.pocket_end, 0)[0], level - 4.0 - _TIER / 2), "pocket end wall", angle_deg=180.0, reach=30.0
    )
    items += datum((twelfth[0], middle + 7.0), "12th fret", angle_deg=180.0, reach=11.0)
    return Page(title, tuple(items), "seen from the front", name)


def _stretch(plan: Plan, scale: float, origin: Point, window: Window, *, hardware: bool) -> tuple[Item, ...]:
    """What lies along the centreline, without lettering that the window would cut."""
    show = Show(
        outline=False,
        sides=False,
        datum=False,
        scale_line=False,
        balloons=False,
        awl_marks=False,
        plate=hardware,
        saddles=hardware,
        bores=hardware,
        labels=not hardware,  # there, holes that lie in the wood would run through them
    )
    drawn = [item for item in front_view(plan, show, scale=scale) if not isinstance(item, Leader)]
    there = placed(drawn, Transform(offset=origin))
    return tuple(item for item in there if not isinstance(item, Text) or _within(item, window))


def _within(item: Item, window: Window) -> bool:
    box = bounds((item,))
    return box is not None and (
        box[0] >= window[0] and box[1] >= window[1] and box[2] <= window[2] and box[3] <= window[3]
    )


def _board_half(plan: Plan) -> float:
    return abs(plan.layout.frets[11].treble.y)


def _twelfth_stub(plan: Plan, at: Point, body: float, scale: float) -> list[Item]:
    """The fingerboard round the 12th fret, brought near by a break, with the break drawn and said."""
    half = _board_half(plan) * scale
    u, v = at
    broken = (u + body) / 2 + 2.0
    items: list[Item] = [Line(THIN, (u, v - half), (u, v + half), "fret-12")]
    for side in (1, -1):
        items.append(Line(PHANTOM, (u - 8.0, v + side * half), (broken - 1.5, v + side * half)))
        items.append(Line(PHANTOM, (broken + 1.5, v + side * half), (body, v + side * half)))
    for shift in (-1.5, 1.5):
        x = broken + shift
        zigzag = (
            (x, v + half + 3),
            (x, v + 2.5),
            (x - 1.8, v + 1.0),
            (x + 1.8, v - 1.0),
            (x, v - 2.5),
            (x, v - half - 3),
        )
        items.append(Path(THIN, zigzag))
    return items


def _pockets(plan: Plan) -> list[Block]:
    layout = plan.layout
    rows: list[Sequence[Cell]] = []
    for pocket in plan.features.pockets:
        near, far = _reach(pocket, 0)
        low, high = (layout.treble * y for y in _reach(pocket, 1))
        rows.append(
            (
                (
                    pocket.role,
                    f"from the {pocket.face}, R {size_text(pocket.corner_radius, plan.unit).rpartition(' ')[0]}",
                ),
                unnamed(signed(near - layout.twelfth, plan.unit)),
                unnamed(signed(near - layout.pocket_end, plan.unit)),
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
        "Near end from 12th fret",
        "Near end from pocket end",
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
