"""The bridge's sheets: every hole across at full size, the saddles' travel, and what to measure before cutting."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from scribeline.drawing.list_pages import Block, flowed, headed, words
from scribeline.drawing.marks import balloon, balloon_radius
from scribeline.drawing.pages import (
    Cell,
    Office,
    Page,
    across,
    figures,
    full_size_bar,
    heading,
    signed,
    spaced,
)
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
    Clip,
    Fill,
    Hatch,
    Item,
    Line,
    Path,
    Point,
    Text,
)
from scribeline.drawing.views import Show, back_view, front_view, treble_up, turning_picture, view_point
from scribeline.features import Bore
from scribeline.features.cuts import Face
from scribeline.layout import diagonals, twelfth_readings
from scribeline.lengths import both_units
from scribeline.plan import Plan
from scribeline.steps import balloon as number_of

TABLE = (24.0, 37.0, 37.0)
"""Columns of the table beside a set-out, mm."""
_LANDING = 41.0
_PITCH = 9.4
_SIDES = 14.0
"""Room for the words beside a set-out, mm."""


def bridge_pages(office: Office) -> list[Page]:
    """Set-out of the plate's holes and of the ferrules at full size, saddle travel, checks."""
    pages = []
    if office.plan.layout.plate is not None:
        pages.append(_set_out(office, "top"))
        if office.plan.features.group("ferrule holes"):
            pages.append(_set_out(office, "back"))
    return [*pages, _travel(office), *flowed(office, "Measure before cutting", _checks(office.plan))]


def _set_out(office: Office, face: Face) -> Page:
    """The bridge's holes of one face at 1:1, each with its number and its distance from the centreline."""
    plan, plate = office.plan, office.plan.layout.plate
    assert plate is not None
    left, bottom, right, top = office.window
    shown = [bore for bore in plan.features.bores if bore.face == face and bore.group != "ground wire"]
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
    window = (u0 + low, middle - reach, u0 + high, middle + reach)
    items: list[Item] = [
        Clip(window, drawn),
        Line(CENTRE, (window[0], middle), (window[2] + 4.0, middle), "centreline"),
    ]
    labels = window[2] + 9.0
    items += _ordinates(plan, shown, face, (u0, middle), labels)
    if table:
        items += _along_table(plan, shown, face, (left, top))
    else:
        items.append(heading('Distances along: see "Along the centreline"', (left, top - ACTED_ON_LETTERING)))
    items += _sides(plan, face, (u0 + low, middle), reach)
    if face == "top":
        for wire in plan.features.group("ground wire"):
            at = view_point(face, wire.at)
            place = (u0 + low + 5.5, middle + at[1] - 13.0)
            items += balloon(place, number_of(wire.id), tip=(u0 + at[0] - 1.5, middle + at[1] - 1.5))
    else:
        picture = turning_picture(plan, (0.0, 0.0), length=26.0)
        items += placed(picture.items, Transform(offset=(left, bottom + picture.height + 11.0)))
    items += full_size_bar(office.window)
    title = "Bridge set-out" if face == "top" else "Ferrule set-out"
    seen = "front" if face == "top" else "back"
    return Page(title, tuple(items), f"seen from the {seen}", "1:1 (full size)")


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
        big, small = across(bore.at.y * plan.layout.treble)
        items.append(Text(LETTERING, (labels + 1.0, y + 0.9), big, ACTED_ON_LETTERING, ref=bore.id))
        items.append(
            Text(LETTERING, (labels + 1.0, y - 0.9 - LEAST_LETTERING), small, LEAST_LETTERING, ref=bore.id)
        )
        number = number_of(bore.id)
        items += balloon((end + balloon_radius(number), y), number)
    return items


def _along_table(plan: Plan, bores: Sequence[Bore], face: Face, at: Point) -> tuple[Item, ...]:
    layout, plate = plan.layout, plan.layout.plate
    assert plate is not None
    lines: list[tuple[Cell, float]] = []
    if face == "top":
        lines.append(("plate's front", plate.front.x))
    rows: dict[float, list[str]] = {}
    for bore in bores:
        rows.setdefault(round(bore.at.x, 3), []).append(number_of(bore.id))
    for x, numbers in rows.items():
        name = numbers[0] if len(numbers) == 1 else f"{numbers[0]} to {numbers[-1]}"
        lines.append((name, x))
    if face == "top":
        for wire in plan.features.group("ground wire"):
            y = across(wire.at.y * layout.treble)[0]
            lines.append(((f"{number_of(wire.id)}, its mouth", y), wire.at.x))
    cells: list[Sequence[Cell]] = [
        (name, signed(x - layout.twelfth), signed(x - layout.pocket_end))
        for name, x in sorted(lines, key=lambda line: line[1])
    ]
    columns = ("To the", "from 12th crown", "from pocket end")
    return figures(columns, cells, at, TABLE, anchors=("start", "end", "end")).items


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
    """Every saddle's travel with the plate at the aim: the wanted break point, and what is left at both ends."""
    document, layout = office.plan.job.document, office.plan.layout
    left, _, right, top = office.window
    bridge, reserve, window = document.bridge, document.bench.saddle_reserve, layout.window
    table = 100.0
    room = right - left - table - 12.0
    words_wide = 26.0
    scale = 5.0 if bridge.travel * 5.0 <= room - 3 * words_wide else 2.0
    x0 = left + 2 * words_wide
    pitch = min(14.0, (top - office.window[1] - 30.0) / len(layout.strings))
    items: list[Item] = [heading(f"Saddle travel, {scale:g}:1", (left, top - ACTED_ON_LETTERING))]
    items.append(Text(LETTERING, (left, top - 10.0), "to spare towards the nut", LEAST_LETTERING))
    end = x0 + bridge.travel * scale
    items.append(Text(LETTERING, (end + 3.0, top - 10.0), "to spare towards the tail", LEAST_LETTERING))
    for n, string in enumerate(layout.strings):
        y = top - 20.0 - n * pitch
        wanted = x0 + window.forward[n] * scale
        bar = ((x0, y), (end, y), (end, y + 5.0), (x0, y + 5.0))
        items.append(Path(OUTLINE, bar, closed=True, ref=f"saddle-{string.no}"))
        for a, b in ((x0, x0 + reserve * scale), (end - reserve * scale, end)):
            items.append(Hatch(HATCHING, (((a, y), (b, y), (b, y + 5.0), (a, y + 5.0)),), spacing=1.2))
        items.append(Line(OUTLINE, (wanted, y - 1.5), (wanted, y + 6.5), ref=f"saddle-{string.no}"))
        items.append(Text(LETTERING, (left, y + 0.8), f"{string.no} ({string.note})", ACTED_ON_LETTERING))
        for value, at, anchor in ((window.forward[n], x0 - 3.0, "end"), (window.back[n], end + 3.0, "start")):
            big, small = both_units(value)
            items.append(
                Text(LETTERING, (at, y + 2.6), big, ACTED_ON_LETTERING, "end" if anchor == "end" else "start")
            )
            items.append(
                Text(LETTERING, (at, y - 1.4), small, LEAST_LETTERING, "end" if anchor == "end" else "start")
            )
    y = top - 20.0 - len(layout.strings) * pitch
    notes = (
        "The stroke is where the break point is wanted, with the plate at the aim.",
        f"Hatched: the {reserve:g} mm kept in hand at each end.",
    )
    for k, note in enumerate(notes):
        items.append(Text(LETTERING, (left, y - k * 5.0), note, LEAST_LETTERING))
    x = right - table
    items.append(heading("Where the plate's front edge may lie", (x, top - ACTED_ON_LETTERING)))
    if window.is_empty:
        gap = f"Nowhere: {window.shortage:.2f} mm of travel is missing."
        items.append(Text(LETTERING, (x, top - 12.0), gap, ACTED_ON_LETTERING))
        return Page("Saddle travel", tuple(items), scale=f"{scale:g}:1")
    rows: list[Sequence[Cell]] = []
    for name, past in (("low", window.low), ("aim", window.aim), ("high", window.high)):
        edge = layout.scale + past
        rows.append((name, signed(edge - layout.twelfth), signed(edge - layout.pocket_end)))
    columns = ("", "from 12th crown", "from pocket end")
    body = figures(columns, rows, (x, top - 7.0), (20.0, 40.0, 40.0), anchors=("start", "end", "end"))
    items += body.items
    least = f"Least reserve at the aim: {window.least_reserve:.2f} mm; {reserve:g} mm is wanted."
    items.append(Text(LETTERING, (x, top - 7.0 - body.height - 6.5), least, LEAST_LETTERING))
    return Page("Saddle travel", tuple(items), scale=f"{scale:g}:1")


def _checks(plan: Plan) -> Iterator[Block]:
    """The 12th fret's marks, the diagonals, and every number a rule or caliper can check."""
    document, layout = plan.job.document, plan.layout
    rows: list[Sequence[Cell]] = []
    for reading in twelfth_readings(document, layout):
        used = " (this bench's mark)" if reading.mark == document.bench.twelfth_read_to else ""
        add = f"{reading.to_crown:+.2f} mm".replace("-", "−") if reading.to_crown else "nothing"
        plate = "no place" if reading.to_plate is None else signed(reading.to_plate)
        rows.append((reading.mark + used, signed(reading.from_nut), add, plate))
    yield headed(
        "The 12th fret's marks",
        ("Measured to the", "From the nut", "Add, to have it from the crown", "To the plate's front edge"),
        rows,
        (64, 50, 60, 56),
    )
    pair = diagonals(layout)
    if pair is not None:
        (a, small), (b, _) = both_units(pair[0]), both_units(pair[1])
        yield words(
            f"Squareness: both diagonals, from the board's edge at the 12th crown to the plate's far front corner, "
            f"measure {a} from the treble and {b} from the bass ({small})."
        )
    checks: list[Sequence[Cell]] = [
        (check.how[0].upper() + check.how[1:], signed(check.value), f"{check.low:.2f} to {check.high:.2f} mm")
        for check in plan.measurables
    ]
    lots = [checks[:4], *(checks[n : n + 9] for n in range(4, len(checks), 9))]
    for n, lot in enumerate(lots):
        title = "Readings the plan expects" + (", continued" if n else "")
        yield headed(title, ("How", "Expected", "Accept"), lot, (130, 42, 60))
