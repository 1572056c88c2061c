"""The bridge's sheets: every hole across at full size, the saddles' travel, and what to measure before cutting."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from scribeline.drawing.facing import Show, treble_up, view_point
from scribeline.drawing.marks import balloon, balloon_radius, paragraph
from scribeline.drawing.place import Transform, placed
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    CENTRE,
    DIMENSION,
    HATCHING,
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
from scribeline.drawing.sheets.flow import Block, Table, flowed, listed, noticed, words
from scribeline.drawing.sheets.office import AT_THE_PRESS, Office, Page, full_size_bar, spaced
from scribeline.drawing.views import back_view, front_view, turning_picture
from scribeline.features import Bore, rows_along, runs
from scribeline.features.cuts import Face
from scribeline.layout import diagonals, twelfth_readings
from scribeline.lengths import both_units, each_unit, in_unit, said
from scribeline.plan import Plan
from scribeline.steps import DEFERS, PROVE_FIRST
from scribeline.steps import balloon as number_of

TABLE = (24.0, 37.0, 37.0)
"""Columns of the table beside a set-out, mm."""
_LANDING = 41.0
_PITCH = 9.4
_BESIDE_TRAVEL = 124.0
"""Width of the tables beside the saddles' travel, mm."""
_SIDES = 14.0
"""Room for the words beside a set-out, mm."""


def bridge_pages(office: Office) -> list[Page]:
    """Set-out of the plate's holes and of the ferrules at full size, saddle travel, checks."""
    pages = []
    if office.plan.layout.plate is not None:
        pages.append(_set_out(office, "top"))
        if office.plan.features.family("ferrule-hole"):
            pages.append(_set_out(office, "back"))
    return [*pages, _travel(office), *flowed("Measure before cutting", _checks(office.plan))]


def _set_out(office: Office, face: Face) -> Page:
    """The bridge's holes of one face at 1:1, each with its number and its distance from the centreline."""
    plan, plate = office.plan, office.plan.layout.plate
    assert plate is not None
    left, bottom, right, top = window = office.window_over(AT_THE_PRESS)
    shown = (
        [*plan.features.family("bridge-screw"), *plan.features.family("string-hole")]
        if face == "top"
        else list(plan.features.family("ferrule-hole"))
    )
    row = shown[0].at.x
    low, high = (
        (plate.front.x - 16.0, plate.corners[2].x + 6.0) if face == "top" else (row - 18.0, row + 18.0)
    )
    reach = (
        max(*(abs(bore.at.y) + bore.widest / 2 for bore in shown), abs(plate.corners[0].y) * (face == "top"))
        + 5.0
    )
    middle = (top + bottom) / 2
    wide = _SIDES + (high - low) + 9.0 + _LANDING + 2 * balloon_radius("S1")
    # A long plate leaves no room for the table; its numbers stand on the sheet of distances too.
    table = sum(TABLE) if wide + sum(TABLE) <= right - left else 0.0
    u0 = left + table + _SIDES + (right - left - table - wide) / 2 - low
    show = Show(
        outline=False,
        centreline=False,
        sides=False,
        datum=False,
        scale_line=False,
        labels=False,
        balloons=False,
    )
    draw = front_view if face == "top" else back_view
    drawn = placed(draw(plan, show), Transform(offset=(u0, middle)))
    near, far = u0 + low, u0 + high
    items: list[Item] = [
        Clip((near, middle - reach, far, middle + reach), drawn),
        Line(CENTRE, (near, middle), (far + 4.0, middle), "centreline"),
    ]
    labels = far + 9.0
    items += _ordinates(plan, shown, face, (u0, middle), labels)
    if not table:
        items.append(heading('Distances along: see "Along the centreline"', (left, top - ACTED_ON_LETTERING)))
    items += _sides(plan, face, (u0 + low, middle), reach)
    if face == "top":
        for wire in plan.features.family("ground-wire"):
            at = view_point(face, wire.at)
            place = (u0 + low + 5.5, middle + at[1] - 13.0)
            items += balloon(place, number_of(wire.id), tip=(u0 + at[0] - 1.5, middle + at[1] - 1.5))
    else:
        picture = turning_picture(plan, (0.0, 0.0), length=26.0)
        items += placed(picture.items, Transform(offset=(left, bottom + picture.height + 11.0)))
    items += full_size_bar(office, window)
    title = "Bridge set-out" if face == "top" else "Ferrule set-out"
    seen = "front" if face == "top" else "back"
    blocks = (_along_table(plan, shown, face),) if table else ()
    room = (left, bottom, left + table, top)
    return Page(title, tuple(items), f"seen from the {seen}", "1:1 (full size)", AT_THE_PRESS, blocks, room)


def _ordinates(plan: Plan, bores: Sequence[Bore], face: Face, origin: Point, labels: float) -> list[Item]:
    """Each hole's distance from the centreline on a landing of its own, to the right of the work."""
    places = [view_point(face, bore.at) for bore in bores]
    levels = spaced([v for _, v in places], _PITCH)
    items: list[Item] = []
    for bore, (u, v), level in zip(bores, places, levels, strict=True):
        start = (origin[0] + u + bore.widest / 2 + 2.2, origin[1] + v)
        y = origin[1] + level
        end = labels + _LANDING
        items.append(Path(DIMENSION, (start, (labels - 7.0, start[1]), (labels, y), (end, y)), ref=bore.id))
        big, small = across(bore.at.y * plan.layout.treble, plan.unit)
        items.append(Text(LETTERING, (labels + 1.0, y + 0.9), big, ACTED_ON_LETTERING, ref=bore.id))
        items.append(
            Text(LETTERING, (labels + 1.0, y - 0.9 - LEAST_LETTERING), small, LEAST_LETTERING, ref=bore.id)
        )
        number = number_of(bore.id)
        items += balloon((end + balloon_radius(number), y), number)
    return items


def _along_table(plan: Plan, bores: Sequence[Bore], face: Face) -> Block:
    layout = plan.layout
    lines: list[tuple[Cell, float]] = []
    if face == "top":
        lines.append(("plate's front", layout.front_edge))
    lines += [(runs([number_of(bore.id) for bore in row]), row[0].at.x) for row in rows_along(bores)]
    if face == "top":
        for wire in plan.features.family("ground-wire"):
            y = across(wire.at.y * layout.treble, plan.unit)[0]
            lines.append(((f"{number_of(wire.id)}, its mouth", y), wire.at.x))
    cells: list[Sequence[Cell]] = [
        (name, signed(x - layout.twelfth, plan.unit), signed(x - layout.pocket_end, plan.unit))
        for name, x in sorted(lines, key=lambda line: line[1])
    ]
    columns = ("To the", "from 12th fret", "from pocket end")
    return listed("", Table(columns, cells, TABLE, ("start", "end", "end"), below=True))


def _sides(plan: Plan, face: Face, at: Point, reach: float) -> list[Item]:
    """Which way the treble and the bass lie, at the left of the work."""
    items: list[Item] = []
    for side in (1, -1):
        word = "to the treble" if side == treble_up(plan, face) else "to the bass"
        y = at[1] + side * (reach - 2.0)
        head = ((at[0] - 4.0, y), (at[0] - 4.8, y - side * 3.0), (at[0] - 3.2, y - side * 3.0))
        items.append(Line(THIN, (at[0] - 4.0, at[1] + side * 6.0), (at[0] - 4.0, y - side * 2.0)))
        items.append(Fill(LETTERING, (head,)))
        middle = at[1] + side * (reach + 4.0) / 2
        items.append(Text(LETTERING, (at[0] - 6.0, middle), word, ACTED_ON_LETTERING, "middle", 90.0))
    return items


def _travel(office: Office) -> Page:
    """The saddles' travel beside what follows from it: where the plate may lie, and what the 12th's marks mean."""
    left, bottom, right, top = office.window
    x = right - _BESIDE_TRAVEL
    scale, bars = travel_bars(office.plan, (left, bottom, x - 8.0, top))
    blocks = (*_plate_window(office.plan), listed("The 12th fret's marks", _twelfth_marks(office.plan)))
    room = (x, bottom, right, top)
    return Page("Saddle travel", tuple(bars), scale=f"{scale:g}:1", blocks=blocks, room=room)


def travel_bars(plan: Plan, room: Window) -> tuple[float, list[Item]]:
    """Every saddle's travel with the plate where it stands: the wanted break point, and what is left at both ends."""
    document, layout = plan.job.document, plan.layout
    bridge, reserve, travel = document.bridge, document.bench.saddle_reserve, layout.travel
    left, bottom, right, top = room
    name, spare = 26.0, 28.0
    scale = 5.0 if name + 2 * spare + bridge.travel * 5.0 <= right - left else 2.0
    x0 = left + name + spare
    end = x0 + bridge.travel * scale
    pitch = min(16.0, (top - bottom - 34.0) / len(layout.strings))
    items: list[Item] = [heading(f"Saddle travel, {scale:g}:1", (left, top - ACTED_ON_LETTERING))]
    for x, end_of, anchor in ((x0 - 3.0, "the nut", "end"), (end + 3.0, "the tail", "start")):
        for n, line in enumerate(("to spare", f"towards {end_of}")):
            items.append(Text(LETTERING, (x, top - 11.0 - 4.0 * n), line, LEAST_LETTERING, _anchor(anchor)))
    for n, string in enumerate(layout.strings):
        y = top - 24.0 - n * pitch
        wanted = x0 + (string.setback - travel.foremost[n]) * scale
        least, most = x0 + travel.forward[n] * scale, end - travel.back[n] * scale
        bar = ((x0, y), (end, y), (end, y + 5.0), (x0, y + 5.0))
        items.append(Path(OUTLINE, bar, closed=True, ref=f"saddle-{string.no}"))
        for a, b in ((x0, x0 + reserve * scale), (end - reserve * scale, end)):
            items.append(Hatch(HATCHING, (((a, y), (b, y), (b, y + 5.0), (a, y + 5.0)),), spacing=1.2))
        items.append(Line(OUTLINE, (wanted, y - 1.5), (wanted, y + 6.5), ref=f"saddle-{string.no}"))
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
    stands = "at the target" if layout.held is None else "where it stands"
    notes = (
        f"The stroke is where the string should leave the saddle, with the plate {stands}. The small figure is how far past the "
        f"scale line, {plan.unit} (± standard deviation).{spread} Hatched: the {said(reserve, None)} kept in hand at each end."
    )
    y = top - 20.0 - len(layout.strings) * pitch
    return scale, [
        *items,
        *paragraph(in_unit(notes, plan.unit), (left, y), right - left, height=LEAST_LETTERING).items,
    ]


def _bare(mm: float, plan: Plan) -> str:
    return both_units(mm, plan.unit)[0].rpartition(" ")[0]


def _anchor(end: str) -> Anchor:
    return "end" if end == "end" else "start"


def _plate_window(plan: Plan) -> list[Block]:
    """Low, aim and high of the plate's front edge, from both datums; where it stands once drilled holes hold it."""
    document, layout = plan.job.document, plan.layout
    window, held = layout.window, layout.held
    title = "Where the plate's front edge may lie" if held is None else "Where the plate's front edge stands"
    if window.is_empty and held is None:
        gap = f"Nowhere: {said(window.shortage)} of travel is missing."
        return [words(title, bold=True), words(in_unit(gap, plan.unit))]
    rows: list[Sequence[Cell]] = []
    places = {
        name: layout.scale + past
        for name, past in (("low", window.low), ("target", window.aim), ("high", window.high))
    }
    for name, edge in (places if held is None else {"as drilled": layout.front_edge}).items():
        rows.append(
            (name, signed(edge - layout.twelfth, plan.unit), signed(edge - layout.pocket_end, plan.unit))
        )
    columns = ("", "From the 12th fret", "From the pocket's end wall")
    where = "at the target" if held is None else f"there, where its drilled {held.by} hold it"
    least = f"Least travel in hand {where}: {said(layout.travel.reserve)}; {said(document.bench.saddle_reserve, None)} is wanted."
    table = Table(columns, rows, (21.0, 51.0, 51.0), ("start", "end", "end"))
    return [listed(title, table), words(in_unit(least, plan.unit), height=LEAST_LETTERING)]


def _twelfth_marks(plan: Plan) -> Table:
    """What to add for the mark this bench reads the 12th fret to."""
    document, layout = plan.job.document, plan.layout
    rows: list[Sequence[Cell]] = []
    for reading in twelfth_readings(document, layout):
        used = " (this bench's mark)" if reading.mark == document.bench.twelfth_read_to else ""
        add = (
            in_unit(said(reading.to_crown, signed=True), plan.unit).replace("-", "−")
            if reading.to_crown
            else "nothing"
        )
        plate = "no place" if reading.to_plate is None else signed(reading.to_plate, plan.unit)
        rows.append((reading.mark + used, signed(reading.from_nut, plan.unit), add, plate))
    columns = ("Measured to the", "From the nut", "Add, for the crown", "To the plate's front edge")
    return Table(columns, rows, (32.0, 31.0, 28.0, 32.0), ("start", "end", "end", "end"))


def _checks(plan: Plan) -> Iterator[Block]:
    """The diagonals, and every number a rule or caliper can check."""
    yield noticed("CAUTION", f"{PROVE_FIRST} {DEFERS}")
    layout = plan.layout
    pair = diagonals(layout)
    if pair is not None:
        (a, small), (b, small_b) = both_units(pair[0], plan.unit), both_units(pair[1], plan.unit)
        small = small if small == small_b else f"{small} and {small_b}"
        yield words(
            f"Squareness: both diagonals, from the board's edge at the centre of the 12th fret to the plate's far front corner, "
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
    table = Table(("How", "Expected", "Accept"), checks, (136, 50, 60), below=True)
    yield listed("Check measurements", table)
