"""The bridge's sheets: every hole across at full size, the saddles' travel, and what to measure before cutting."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from scribeline.drawing.facing import Show, treble_up, view_point
from scribeline.drawing.marks import balloon, balloon_radius, paragraph
from scribeline.drawing.place import Transform, placed
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    CENTRE,
    CUT,
    DIMENSION,
    HATCHING,
    HIDDEN,
    LEAST_LETTERING,
    LETTERING,
    OUTLINE,
    THIN,
    Anchor,
    Clip,
    Fill,
    Hatch,
    Item,
    Line,
    Path,
    Point,
    Text,
    Window,
)
from scribeline.drawing.sheets.figures import Cell, across, between, heading, signed
from scribeline.drawing.sheets.flow import Block, Table, listed, noticed, words
from scribeline.drawing.sheets.office import AT_THE_PRESS, Office, Page, full_size_bar, spaced
from scribeline.drawing.views import front_view
from scribeline.features import Bore, rows_along, runs
from scribeline.layout import diagonals, twelfth_readings
from scribeline.layout.knobs import knob_places
from scribeline.lengths import both_units, each_unit, in_unit, said
from scribeline.plan import Plan
from scribeline.steps import DEFERS, PROVE_FIRST
from scribeline.steps import balloon as number_of

_TABLE_WIDTH = 180.0
"""Of the table over the set-out, mm."""
_LETTERS = 26
_WALL = 8.0
"""What is shown of the neck pocket before its end wall, mm."""
_LANDING = 41.0
_PITCH = 9.4
_BESIDE_TRAVEL = 124.0
"""Width of the tables beside the saddles' travel, mm."""
_SIDES = 14.0
"""Room for the words beside a set-out, mm."""


def bridge_pages(office: Office) -> list[Page]:
    """The whole bridge at full size, and its saddles' travel."""
    pages = [] if office.plan.layout.bridge is None else [_set_out(office)]
    return [*pages, _travel(office)]


def _set_out(office: Office) -> Page:
    """The bridge at 1:1 on one page, from the neck pocket's end wall where the paper is wide enough, else by itself.

    Each hole has its number and its distance from the centreline; the distances along stand in a table over it.
    """
    plan, layout, bridge = office.plan, office.plan.layout, office.plan.layout.bridge
    assert bridge is not None
    left, bottom, right, top = window = office.window_over(AT_THE_PRESS)
    shown = [*plan.features.anchors, *plan.features.family("string-hole")]
    further = (*(row.outline for row in bridge.further), *knob_places(plan.job.document, layout))
    outlines = [point for outline in further for point in outline]
    high = max(bridge.furthest, *(point.x for point in outlines), *(bore.at.x for bore in shown)) + 6.0
    low = max(layout.pocket_end - _WALL, high - (right - left - _SIDES - 5.0))
    widest = max(
        *(abs(bore.at.y) + bore.widest / 2 for bore in shown),
        *(abs(point.y) for point in outlines),
        bridge.half_width,
    )
    reach = widest + 5.0
    labels = _unit_labels(plan) if bridge.units else _hole_labels(plan, shown)
    half = max(reach, _PITCH * len(labels) / 2)
    middle = bottom + 14.0 + half
    u0 = left + _SIDES + (right - left - _SIDES - 5.0 - (high - low)) / 2 - low
    show = Show(
        outline=False,
        centreline=False,
        sides=False,
        datum=False,
        scale_line=False,
        pockets=False,
        labels=False,
        balloons=False,
    )
    wires = _wires(plan)
    others = {bore.id for bore in plan.features.bores} - {bore.id for bore in (*shown, *wires)}
    seen = [item for item in front_view(plan, show) if getattr(item, "ref", "") not in others]
    drawn = placed(seen, Transform(offset=(u0, middle)))
    near, far = u0 + low, u0 + high
    items: list[Item] = [
        Clip((near, middle - reach, far, middle + reach), drawn),
        Line(CENTRE, (near, middle), (far + 4.0, middle), "centreline"),
    ]
    if low < layout.pocket_end:
        wall = (u0 + layout.pocket_end, middle)
        items.append(Line(CUT, (wall[0], middle - reach), (wall[0], middle + reach), "pocket-end"))
        words = Text(
            LETTERING,
            (wall[0] + 5.5, middle - reach + 2.0),
            layout.datum("pocket-end").name,
            ACTED_ON_LETTERING,
            "start",
            90.0,
        )
        items.append(words)
    foremost = min([bridge.nearest, *(wire.along(wire.deepest.point_reaches).x for wire in wires)])
    items += _ordinates(plan, labels, (u0, middle), u0 + foremost - 8.0)
    if bridge.units:
        u, v = u0 + bridge.middle.x, widest + 2.0
        items.append(Line(CUT, (u, middle - v), (u, middle + v), "set-out-line"))
        items.append(
            Text(LETTERING, (u, middle + v + 1.5), bridge.marks[0].short, ACTED_ON_LETTERING, "middle")
        )
    items += _sides(plan, (u0 + low, middle), reach)
    for wire in wires:
        at = view_point("top", wire.at)
        end = view_point("top", wire.along(wire.deepest.depth))
        items.append(Line(HIDDEN, (u0 + at[0], middle + at[1]), (u0 + end[0], middle + end[1]), wire.id))
        place = (u0 + bridge.nearest + 9.0, middle + reach + 4.0 + balloon_radius(number_of(wire.id)))
        items += balloon(place, number_of(wire.id), tip=(u0 + at[0], middle + at[1] + 2.0))
    items += full_size_bar(office, window)
    room = (left, middle + reach, left + _TABLE_WIDTH, top)
    table, rows = _along_table(plan, shown)
    # Many strings leave no room for the table; its numbers stand on the mark-out pages too.
    blocks = (table,) if top - middle - half >= 8.0 + 6.8 * rows else ()
    return Page(
        "Bridge set-out", tuple(items), "seen from the front", "1:1 (full size)", AT_THE_PRESS, blocks, room
    )


@dataclass(frozen=True, slots=True)
class _Label:
    """A place whose distance from the centreline is told: its number, and how far before it a line to it ends, mm."""

    id: str
    number: str
    at: tuple[float, float]
    before: float


def _hole_labels(plan: Plan, bores: Sequence[Bore]) -> list[_Label]:
    return [
        _Label(bore.id, number_of(bore.id), (bore.at.x, bore.at.y), bore.widest / 2 + 2.2) for bore in bores
    ]


def _unit_labels(plan: Plan) -> list[_Label]:
    """Of single units the front edges alone: the drill list has every hole."""
    units = () if plan.layout.bridge is None else plan.layout.bridge.units
    return [_Label(unit.id, str(no), unit.front, 0.5) for no, unit in enumerate(units, start=1)]


def _ordinates(plan: Plan, shown: Sequence[_Label], origin: Point, labels: float) -> list[Item]:
    """Each place's distance from the centreline on a landing of its own, which ends at `labels`, left of the plate."""
    places = [view_point("top", each.at) for each in shown]
    levels = spaced([v for _, v in places], _PITCH)
    items: list[Item] = []
    for each, (u, v), level in zip(shown, places, levels, strict=True):
        start = (origin[0] + u - each.before, origin[1] + v)
        y = origin[1] + level
        end = labels - _LANDING
        items.append(Path(DIMENSION, (start, (labels + 7.0, start[1]), (labels, y), (end, y)), ref=each.id))
        big, small = across(each.at[1] * plan.layout.treble, plan.unit)
        items.append(Text(LETTERING, (end + 1.0, y + 0.9), big, ACTED_ON_LETTERING, ref=each.id))
        items.append(
            Text(LETTERING, (end + 1.0, y - 0.9 - LEAST_LETTERING), small, LEAST_LETTERING, ref=each.id)
        )
        items += balloon((end - balloon_radius(each.number), y), each.number)
    return items


def _along_table(plan: Plan, bores: Sequence[Bore]) -> tuple[Block, int]:
    """Where the plate and each row of holes lie along, and in how many rows that is told."""
    layout = plan.layout
    lines: list[tuple[Cell, float]] = []
    if layout.bridge is not None:
        lines += [(mark.short, mark.at.x) for mark in layout.bridge.marks if not mark.drilled]
    units = () if layout.bridge is None else layout.bridge.units
    if units:
        lines += [(f"{unit.name} ({_holes_of(plan, n)})", unit.front.x) for n, unit in enumerate(units)]
    else:
        lines += [(runs([number_of(bore.id) for bore in row]), row[0].at.x) for row in rows_along(bores)]
    for wire in _wires(plan):
        y = across(wire.at.y * layout.treble, plan.unit)[0]
        lines.append(((f"{number_of(wire.id)}, its mouth", y), wire.at.x))
    cells: list[Sequence[Cell]] = [
        (
            name,
            signed(layout.past("pocket-end", x), plan.unit),
            signed(layout.past("12th-fret", x), plan.unit),
        )
        for name, x in sorted(lines, key=lambda line: line[1])
    ]
    columns = (
        "To the line; front edges of" if units else "To the",
        f"From {layout.datum('pocket-end').words}",
        "(From the 12th fret)",
    )
    table = Table(columns, cells, (38.0, 64.0, 64.0), ("start", "end", "end"))
    return listed("", table), len(cells)


def _wires(plan: Plan) -> list[Bore]:
    """Holes for a ground wire that begin under the bridge; one that ends at a vibrato's claw lies in the back."""
    return [bore for bore in plan.features.family("ground-wire") if bore.face == "top"]


def _holes_of(plan: Plan, number: int) -> str:
    """The numbers of the holes under a single unit, counted from 0."""
    anchors, strings = plan.features.anchors, plan.features.family("string-hole")
    own = len(anchors) // len(plan.layout.strings)
    found = [*anchors[number * own : (number + 1) * own], *strings[number : number + 1]]
    return ", ".join(number_of(bore.id) for bore in found)


def _sides(plan: Plan, at: Point, reach: float) -> list[Item]:
    """Which way the treble and the bass lie, at the left of the work."""
    items: list[Item] = []
    for side in (1, -1):
        word = "to the treble" if side == treble_up(plan, "top") else "to the bass"
        y = at[1] + side * (reach - 2.0)
        head = ((at[0] - 4.0, y), (at[0] - 4.8, y - side * 3.0), (at[0] - 3.2, y - side * 3.0))
        items.append(Line(THIN, (at[0] - 4.0, at[1] + side * 6.0), (at[0] - 4.0, y - side * 2.0)))
        items.append(Fill(LETTERING, (head,)))
        middle = at[1] + side * (reach + 4.0) / 2
        items.append(Text(LETTERING, (at[0] - 6.0, middle), word, ACTED_ON_LETTERING, "middle", 90.0))
    return items


def _travel(office: Office) -> Page:
    """The saddles' travel beside what follows from it: where the bridge may lie, and what the 12th's marks mean."""
    left, bottom, right, top = office.window
    x = right - _BESIDE_TRAVEL
    scale, bars = travel_bars(office.plan, (left, bottom, x - 8.0, top))
    blocks = (*_plate_window(office.plan), listed("The 12th fret's marks", _twelfth_marks(office.plan)))
    room = (x, bottom, right, top)
    return Page("Saddle travel", tuple(bars), scale=f"{scale:g}:1", blocks=blocks, room=room)


def travel_bars(plan: Plan, room: Window) -> tuple[float, list[Item]]:
    """Every saddle's travel with the bridge where it stands: the wanted break point, and what is left at both ends."""
    document, layout = plan.job.document, plan.layout
    bridge, reserve, travel = document.bridge, document.bench.saddle_reserve, layout.travel
    left, bottom, right, top = room
    name, spare = 26.0, 28.0
    scale = 5.0 if name + 2 * spare + bridge.travel * 5.0 <= right - left else 2.0
    x0 = left + name + spare
    end = x0 + bridge.travel * scale
    pitch = min(16.0, (top - bottom - 34.0) / len(layout.strings))
    sets = layout.stringing.wanted()[1:]
    items: list[Item] = [heading(f"Saddle travel, {scale:g}:1", (left, top - ACTED_ON_LETTERING))]
    for x, end_of, anchor in ((x0 - 3.0, "the nut", "end"), (end + 3.0, "the tail", "start")):
        for n, line in enumerate(("to spare", f"towards {end_of}")):
            items.append(Text(LETTERING, (x, top - 11.0 - 4.0 * n), line, LEAST_LETTERING, _anchor(anchor)))
    for n, string in enumerate(layout.strings):
        y = top - 24.0 - n * pitch
        wanted = x0 + (layout.stringing.along[n] - travel.foremost[n]) * scale
        least, most = x0 + travel.forward[n] * scale, end - travel.back[n] * scale
        bar = ((x0, y), (end, y), (end, y + 5.0), (x0, y + 5.0))
        items.append(Path(OUTLINE, bar, closed=True, ref=f"saddle-{string.no}"))
        for a, b in ((x0, x0 + reserve * scale), (end - reserve * scale, end)):
            items.append(Hatch(HATCHING, (((a, y), (b, y), (b, y + 5.0), (a, y + 5.0)),), spacing=1.2))
        items.append(Line(OUTLINE, (wanted, y - 1.5), (wanted, y + 6.5), ref=f"saddle-{string.no}"))
        others = [x0 + (each.setback[n] - travel.foremost[n]) * scale for each in sets]
        items += _other_strokes(others, y, string.no)
        if most - least > 0.5:  # thinner than two strokes it would only blot
            items += [Line(DIMENSION, (x, y + 1.0), (x, y + 4.0)) for x in (least, most)]
            items.append(Line(DIMENSION, (least, y + 2.5), (most, y + 2.5)))
        items.append(Text(LETTERING, (left, y + 2.6), f"{string.no} ({string.note})", ACTED_ON_LETTERING))
        spread = f" ±{_bare(string.setback_sd, plan)}" if string.setback_sd else ""
        items.append(
            Text(LETTERING, (left, y - 1.4), f"{_bare(string.setback, plan)}{spread}", LEAST_LETTERING)
        )
        for value, at, anchor in ((travel.forward[n], x0 - 3.0, "end"), (travel.back[n], end + 3.0, "start")):
            big, small = each_unit(value, plan.unit)
            items.append(Text(LETTERING, (at, y + 2.6), big, ACTED_ON_LETTERING, _anchor(anchor)))
            items.append(Text(LETTERING, (at, y - 1.4), small, LEAST_LETTERING, _anchor(anchor)))
    deviations = document.bench.saddle_deviations
    spread = (
        " The thin line: where it may be wanted, over all string sets and "
        f"{deviations:g} standard deviation{'' if deviations == 1 else 's'}; what is to spare is counted from its ends."
        if any(layout.stringing.sd) or layout.stringing.others
        else ""
    )
    if sets:
        named = ", ".join(f"{_letter(k)} {each.name}" for k, each in enumerate(sets))
        spread = f" Under the bars the other sets' strokes: {named}.{spread}"
    stands = "at the target" if layout.held is None else "where it stands"
    notes = (
        f"The stroke is where the string should leave the saddle, with the {document.bridge.noun} {stands}. The small figure "
        f"is how far past the scale line, {plan.unit} (± standard deviation).{spread} Hatched: the "
        f"{said(reserve, None)} kept in hand at each end.{_learnt_from(plan)}"
    )
    y = top - 20.0 - len(layout.strings) * pitch
    return scale, [
        *items,
        *paragraph(in_unit(notes, plan.unit), (left, y), right - left, height=LEAST_LETTERING).items,
    ]


def _other_strokes(places: Sequence[float], y: float, string: int) -> Iterator[Item]:
    """Where other sets want a saddle, under its bar, each with its letter."""
    for k, (x, beside) in enumerate(zip(places, spaced(places, LEAST_LETTERING), strict=True)):
        yield Line(THIN, (x, y + 1.0), (x, y - 1.2), ref=f"saddle-{string}")
        yield Text(LETTERING, (beside, y - 1.9 - LEAST_LETTERING), _letter(k), LEAST_LETTERING, "middle")


def _letter(k: int) -> str:
    """What the other sets are called on a drawing: A, B and on."""
    return chr(ord("A") + k) if k < _LETTERS else str(k + 1)


def _learnt_from(plan: Plan) -> str:
    """Which records the saddle places rest on; "" where they rest on none."""
    stringing = plan.layout.stringing
    words = "" if all(stringing.stated) else stringing.shop.rests_on
    return f" The places rest on {words}." if words else ""


def _bare(mm: float, plan: Plan) -> str:
    return both_units(mm, plan.unit)[0].rpartition(" ")[0]


def _anchor(end: str) -> Anchor:
    return "end" if end == "end" else "start"


def _plate_window(plan: Plan) -> list[Block]:
    """Low, aim and high of the bridge's line, from both datums; where it stands once drilled holes hold it."""
    document, layout = plan.job.document, plan.layout
    window, held = layout.window, layout.held
    title = f"Where the {document.bridge.counted_from} {'may lie' if held is None else 'stands'}"
    if window.is_empty and held is None:
        gap = f"Nowhere: {said(window.shortage)} of travel is missing."
        return [words(title, bold=True), words(in_unit(gap, plan.unit))]
    rows: list[Sequence[Cell]] = []
    places = {
        name: layout.scale + past
        for name, past in (("low", window.low), ("target", window.aim), ("high", window.high))
    }
    for name, edge in (places if held is None else {"as drilled": layout.bridge_line}).items():
        rows.append(
            (
                name,
                signed(layout.past("12th-fret", edge), plan.unit),
                signed(layout.past("pocket-end", edge), plan.unit),
            )
        )
    columns = ("", "From the 12th fret", f"From {layout.datum('pocket-end').words}")
    where = "at the target" if held is None else f"there, where its drilled {held.by} hold it"
    least = f"Least travel in hand {where}: {said(layout.travel.reserve)}; {said(document.bench.saddle_reserve, None)} is wanted."
    table = Table(columns, rows, (21.0, 51.0, 51.0), ("start", "end", "end"))
    return [
        listed(title, table),
        words(in_unit(least, plan.unit), height=LEAST_LETTERING),
        *_unit_windows(plan),
    ]


def _unit_windows(plan: Plan) -> list[Block]:
    """Of single units, where each one's front edge lies from the line, and between what it may lie."""
    units = () if plan.layout.bridge is None else plan.layout.bridge.units
    if not units:
        return []
    read = {check.id: check for check in plan.measurables}
    checks = [(unit.name, read[f"line-to-{unit.id}"]) for unit in units]
    rows: list[Sequence[Cell]] = [
        (name, signed(check.value, plan.unit), between(check.low, check.high, plan.unit))
        for name, check in checks
    ]
    table = Table(("", "From the line", "May lie between"), rows, (21.0, 46.0, 56.0), ("start", "end", "end"))
    return [listed("Each front edge, from the line", table)]


def _twelfth_marks(plan: Plan) -> Table:
    """What to add for the mark this bench reads the 12th fret to.

    A bridge that is set out by two marks leaves no room for the distances from the nut, which only check the others;
    single units' own windows leave room for a row.
    """
    document, layout = plan.job.document, plan.layout
    bridge = layout.bridge
    to = [document.bridge.counted_from] if bridge is None else [mark.name for mark in bridge.marks]
    if len(to) > 2 or (bridge is not None and bridge.units):
        return _many_marks(plan)
    nut = len(to) == 1
    rows: list[Sequence[Cell]] = []
    for reading in twelfth_readings(document, layout):
        used = " (this bench's mark)" if reading.mark == document.bench.twelfth_read_to else ""
        add = (
            in_unit(said(reading.to_crown, signed=True), plan.unit).replace("-", "−")
            if reading.to_crown
            else "nothing"
        )
        from_nut: list[Cell] = [signed(reading.from_nut, plan.unit)] if nut else []
        places: list[Cell] = [signed(each, plan.unit) for each in reading.to_bridge] or ["no place"]
        rows.append((reading.mark + used, *from_nut, add, *places))
    columns = (
        "Measured to the",
        *(["From the nut"] if nut else []),
        "Add, for the crown",
        *(f"To the {each}" for each in to),
    )
    ends: list[Literal["end"]] = ["end"] * (len(columns) - 1)
    widths = (32.0, *([31.0] if nut else []), 28.0, *(32.0 if nut else 31.5 for _ in to))
    return Table(columns, rows, widths, ("start", *ends))


def check_blocks(plan: Plan) -> Iterator[Block]:
    """The diagonals, and every number a rule or caliper can check."""
    yield noticed("CAUTION", f"{PROVE_FIRST} {DEFERS}")
    layout = plan.layout
    pair = diagonals(layout)
    if pair is not None and layout.bridge is not None:
        (a, small), (b, small_b) = both_units(pair[0], plan.unit), both_units(pair[1], plan.unit)
        small = small if small == small_b else f"{small} and {small_b}"
        yield words(
            f"Squareness: both diagonals, from the board's edge at the centre of the 12th fret to {layout.bridge.far_corner}, "
            f"measure {a} from the treble and {b} from the bass ({small})."
        )
    checks: list[Sequence[Cell]] = [
        (
            in_unit(check.how[0].upper() + check.how[1:], plan.unit),
            signed(check.value, plan.unit),
            between(check.low, check.high, plan.unit),
        )
        for check in plan.measurables
    ]
    table = Table(("How", "Expected", "Accept"), checks, (170, 30, 56), below=True)
    yield listed("Check measurements", table)


def _many_marks(plan: Plan) -> Table:
    """The same for a bridge that is set out by more marks than a row has room for: a row each."""
    assert plan.layout.bridge is not None
    # The slot's centre is the crown's place.
    readings = [each for each in twelfth_readings(plan.job.document, plan.layout) if each.mark != "slot"]
    rows: list[Sequence[Cell]] = [
        (mark.short, *(signed(reading.to_bridge[number], plan.unit) for reading in readings))
        for number, mark in enumerate(plan.layout.bridge.marks)
    ]
    columns = ("To the", *(f"From its {reading.mark}" for reading in readings))
    return Table(columns, rows, (32.0, 30.6, 30.6, 30.6), ("start", "end", "end", "end"))
