"""The neck's sheets: frets from the nut, the board under them, the strings' margins, and the nut's slots."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import atan, atan2, degrees

from scribeline.drawing.head import head_picture
from scribeline.drawing.heel import heel_picture
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    LETTERING,
    OUTLINE,
    THIN,
    Circle,
    Item,
    Line,
    Path,
    Point,
    Sheet,
    Text,
)
from scribeline.drawing.sheets.figures import (
    Cell,
    Unit,
    across,
    bare,
    both_named,
    in_both,
    short,
    signed,
    units_named,
    unnamed,
)
from scribeline.drawing.sheets.flow import Block, Table, beside, flowed, listed, pictured, together, words
from scribeline.drawing.sheets.office import AT_THE_PRESS, Office, Page
from scribeline.features import balloon, setting_of
from scribeline.findings import limit_in
from scribeline.findings.numbers import FRET_SLOT, NUT_SLOT
from scribeline.layout import (
    BoardMade,
    board_made,
    board_width,
    neck_lie,
    nut_halves,
    nut_made,
    one_piece_stock,
)
from scribeline.lengths import (
    UNITS,
    InchFraction,
    give_or_take,
    in_unit,
    inch_fraction,
    rounding_note,
    said,
)
from scribeline.plan import Plan
from scribeline.steps.cautions import DUST, SAW_AND_FILE, on_the_neck

_NUT_SIDE = 14.0
"""Room beside the nut's picture for half of what is lettered under its ends, mm."""


def neck_blocks(plan: Plan) -> list[Block]:
    """Frets from the nut, the board under them, the strings' margins, and the nut's slots."""
    return [
        _frets(plan),
        *([_fan(plan)] if plan.layout.is_fanned else []),
        *_board(plan),
        *([_own_twelfths(plan)] if plan.layout.is_fanned else []),
        _nut(plan),
    ]


def at_the_saw(plan: Plan) -> tuple[str, ...]:
    """The cautions of pages that have settings for a saw and files; none where neither board nor nut is made here."""
    document, layout = plan.job.document, plan.layout
    made_here = board_made(document, layout) is not None or nut_made(document, layout) is not None
    return (f"{SAW_AND_FILE} {DUST}",) if made_here else ()


def heel_pages(office: Office) -> list[Page]:
    """The heel from below with its pilots; no page where nothing is drilled in it."""
    if not office.plan.neck.features.bores:
        return []
    cautions = on_the_neck(AT_THE_PRESS)
    neck = office.plan.neck.timber.label
    return [
        replace(page, datum="heel end; the neck's centreline", material=neck)
        for page in flowed("Heel from below", [_heel(office.plan)], cautions=cautions)
    ]


_HEEL_ROOM = 120.0
"""Room across for the heel's picture, mm."""


def head_pages(office: Office) -> list[Page]:
    """The head with its tuners' holes; no page where the job states no head."""
    if office.plan.head is None:
        return []
    cautions = on_the_neck(AT_THE_PRESS)
    return [
        replace(
            page,
            datum=f"{_start(office.plan)}; the head's centreline",
            material=office.plan.head.timber.label,
        )
        for page in flowed("Head from the front", [_head(office.plan)], cautions=cautions)
    ]


def _start(plan: Plan) -> str:
    """What the head's holes are measured from, as a datum's name."""
    return plan.job.document.nut.start("the nut's front").removeprefix("the ")


def _head(plan: Plan) -> Block:
    """The head, where its holes are, and each string's way over the nut."""
    unit, place, piece = plan.unit, plan.layout.head, plan.head
    assert place is not None
    assert piece is not None
    treble = plan.layout.treble
    rows: list[Sequence[Cell]] = [
        (
            balloon(bore.id),
            unnamed(signed(-bore.at.x, unit)),
            unnamed(bare(across(bore.at.y * treble, unit))),
            f"{degrees(post.breaks):.1f}°",
            f"{abs(degrees(post.kink)):.1f}°",
        )
        for bore, post in zip(piece.features.family("tuner-hole"), place.posts, strict=True)
    ]
    rows += [
        (
            balloon(bore.id),
            unnamed(signed(-bore.at.x, unit)),
            unnamed(bare(across(bore.at.y * treble, unit))),
            "",
            "",
        )
        for bore in piece.features.family("tree-screw")
    ]
    table = Table(
        ("No.", "From the nut", "From centreline", "Breaks by", "Kinks by"),
        rows,
        (11, 25, 30, 20, 20),
        ("start", "end", "end", "end", "end"),
    )
    first = piece.features.bores[0] if piece.features.bores else None
    bit = (
        ""
        if first is None
        else f" Bit: {in_unit(first.deepest.bit.size_in_words, unit)} {first.deepest.bit.kind}."
    )
    lead = (
        f"{both_named(unit)} below, along the head's face. The number of a hole is its string's.{bit} A string breaks "
        f"down over the nut, and a post beside its line kinks it there.{in_unit(_wood(plan), unit)}"
    )
    return beside([pictured(head_picture(plan, _HEEL_ROOM)), listed("", table, lead)], shares=(1.2, 1.0))


def _wood(plan: Plan) -> str:
    """What the head takes of its stock, where the job states that."""
    head, place = plan.job.document.head, plan.layout.head
    assert head is not None
    assert place is not None
    if place.scarf is None:
        if head.stock is None and one_piece_stock(plan.job.document) is None:
            return ""
        return f" In one piece with the neck it takes stock {said(place.stock_needed)} thick."
    face, flat = said(place.scarf.face), said(place.scarf.flat)
    return f" Its scarf joint's sawn face is {face} long, and takes {flat} of the neck's length."


def _heel(plan: Plan) -> Block:
    """The heel at full size with its pilots, and where they are."""
    unit, end = plan.unit, plan.layout.datum("heel-end")
    rows: list[Sequence[Cell]] = [
        (
            balloon(pilot.id),
            unnamed(signed(end.along(pilot.at).mm, unit)),
            unnamed(bare(across(pilot.at.y * plan.layout.treble, unit))),
            (in_unit(step.bit.size_in_words, unit), step.bit.kind),
            signed(step.depth, unit),
            signed(setting_of(plan.layout, pilot, no, ()).mm, unit),
        )
        for pilot in plan.neck.features.bores
        for no, step in enumerate(pilot.steps)
    ]
    table = Table(
        ("No.", "From heel end", "From centreline", "Bit", "Depth", "Depth stop"),
        rows,
        (11, 25, 30, 27, 24, 24),
        ("start", "end", "end", "start", "end", "end"),
    )
    lead = (
        f"{both_named(unit)} below. Mark the heel through the body's holes and check the marks against this picture. "
        "Zero the depth stop with the point on the heel's underside."
    )
    if plan.neck.rise:
        lead += f" The holes stand square to the body's back, {degrees(atan(abs(plan.neck.rise))):.2f}° off square to the heel."
    return beside([pictured(heel_picture(plan, _HEEL_ROOM)), listed("", table, lead)], shares=(1.0, 1.2))


def _marked(fraction: InchFraction, unit: Unit) -> str:
    """A fraction with what its rounding makes it too long by, in the job's unit."""
    own = UNITS[unit]
    return f"{fraction.text} ({own.of(fraction.error_mm):+.{own.places}f})".replace("-0.", "−0.")


def _frets(plan: Plan) -> Block:
    layout, document, unit = plan.layout, plan.job.document, plan.unit
    both, other = units_named(unit)
    treble, bass = layout.strings[0], layout.strings[-1]
    rows: list[Sequence[Cell]] = []
    allowed = limit_in(document, FRET_SLOT).caution
    coarse = []
    for n, x in [(0, 0.0), *((fret.n, fret.along) for fret in layout.frets)]:
        width = float(board_width(document, x))
        fraction = inch_fraction(x)
        too_coarse = rounding_note(fraction.error_mm, allowed) is not None
        if too_coarse:
            coarse.append((abs(fraction.error_mm), n))
        rows.append(
            (
                "nut" if n == 0 else str(n),
                *in_both(x, unit),
                _marked(fraction, unit),
                "too coarse" if too_coarse else "",
                short(width, unit),
                short(treble.margins[n].centre, unit),
                short(bass.margins[n].centre, unit),
            )
        )
    start = document.nut.start("the nut's front face")
    lead = f"Every distance is from {start}" + (", along the centreline." if layout.is_fanned else ".")
    if coarse:
        worst, at = max(coarse)
        lead += (
            f" In 1/64 in, {len(coarse)} of {len(layout.frets)} frets are off by more than a third of the "
            f"{give_or_take(allowed)} "
            f"allowed, fret {at} the most ({said(worst)}): set those by the millimetre or the decimal inch."
        )
    string, margin = layout.smallest_margin
    lead += (
        f" Smallest margin: string {string.no} ({string.note}) at "
        f"{'the nut' if margin.fret == 0 else f'fret {margin.fret}'}, {said(margin.side)} from its side to the "
        "fret end's bevel."
    )
    columns = (
        "Fret",
        f"From nut, {unit}",
        other,
        f"To 1/64 in (error, {unit})",
        "1/64 in",
        f"Board width, {both}",
        f"String 1 ({treble.note}) centre to treble edge, {both}",
        f"String {bass.no} ({bass.note}) centre to bass edge, {both}",
    )
    table = Table(
        columns,
        rows,
        (11.5, 21.5, 19.5, 50, 27.5, 37, 37, 37),
        ("end", "end", "end", "end", "start", "end", "end", "end"),
    )
    return listed("Frets from the nut, and the board", table, in_unit(lead, unit))


def _fan(plan: Plan) -> Block:
    """The frets of a fan by the two places to join for each, and under the strings whose series they stand on."""
    layout, unit, lie = plan.layout, plan.unit, neck_lie(plan.job.document)
    both, _ = units_named(unit)
    outer = layout.strings[0], layout.strings[-1]
    rows: list[Sequence[Cell]] = []
    for fret in layout.frets:
        lean = atan2(fret.treble.x - fret.bass.x, (fret.treble.y - fret.bass.y) * layout.treble)
        rows.append(
            (
                str(fret.n),
                *(short(float(lie.along(end.x)), unit) for end in (fret.treble, fret.bass)),
                *(short(string.frets[fret.n - 1], unit) for string in outer),
                _turned(lean),
            )
        )
    scales = " and ".join(f"string {string.no} {said(string.scale)}" for string in outer)
    start = plan.job.document.nut.start("the nut's front")
    lead = (
        f"Two scales: {scales}. Draw a line square to the centreline where that crosses {start}. Along both edges of the "
        "board measure each fret from that line, always from the line and never from fret to fret, and join the two places. "
        "Set the saw's fence to the joined line, not to the angle. Check under both outer strings from the string's own place on "
        "the nut. An angle above 0 leans the treble end towards the tail."
    )
    table = Table(
        (
            "Fret",
            f"Treble edge, from the square line, {both}",
            f"Bass edge, from the square line, {both}",
            *(f"Under string {each.no} ({each.note}), from its nut, {both}" for each in outer),
            "Angle",
        ),
        rows,
        (11.5, 48, 48, 48, 48, 22),
        ("end",) * 6,
    )
    return listed("Slanted frets", table, in_unit(lead, unit))


def _turned(rad: float) -> str:
    """How far a fret leans."""
    return f"{degrees(rad):+.1f}°".replace("-", "−")


def _board(plan: Plan) -> list[Block]:
    """Slots and fret wire of a board that is made here."""
    made, unit, document = board_made(plan.job.document, plan.layout), plan.unit, plan.job.document
    if made is None:
        return []
    both, _ = units_named(unit)
    fanned = plan.layout.is_fanned
    rows: list[Sequence[Cell]] = [
        (
            f"{slot.fret or 'zero'}{'' if slot.whole else ', part'}",
            *(short(mm, unit) for mm in (slot.middle, slot.stop)),
            *([_turned(slot.turn)] if fanned else []),
            *(short(mm, unit) for mm in (slot.depth, slot.length, slot.wire)),
        )
        for slot in made.slots
    ]
    table = Table(
        (
            "Fret",
            f"Slot's middle from the nut, {both}",
            f"Stop: saw's nut side from the nut, {both}",
            *(["Turn"] if fanned else []),
            f"Slot, below the blank's face, {both}",
            f"Slot from {'end to end' if made.binding else 'edge to edge'}, {both}",
            f"Wire to cut, {both}",
        ),
        rows,
        (18, 45, 45, *([20] if fanned else []), 45, 45, 45),
        ["end" for _ in rows[0]],
    )
    start = document.nut.start("the nut's front")
    lead = (
        f"In a jig set every stop from {start}{' along the centreline' if fanned else ''}, never from the slot before: the saw "
        f"cuts {said(document.fret_wire.slot)} wide, and its side towards the nut stands half that short of the slot's middle. "
    )
    if fanned:
        lead += (
            "Turn the blank under the saw as told, its treble end towards the tail where that is above 0. "
        )
    lead += (
        f"{said(made.planed)} comes off the flat blank over the middle, which leaves {said(document.neck.board_thickness.mm)}. "
        f"One setting for all: {said(made.depth)} below the blank's face; {said(made.left)} of the board is left under it. "
        f"Wire to buy: {said(made.wire, 0)}, a tenth to spare."
    )
    if made.binding:
        at_nut, at_end = made.widths
        lead += (
            f" Between the bindings, {said(made.binding)} each, the blank is {said(at_nut)} wide at the nut and "
            f"{said(at_end)} at its end; binding to buy: {said(made.binding_length, 0)}. Wire is counted over the binding."
        )
    if made.dots:
        lead += f" Dots {said(made.dot_diameter)} wide lie midway between two frets, as on the strip."
    found = [listed("Slots: the saw's stops, and fret wire", table, in_unit(lead, unit))]
    return [*found, _side_dots(plan, made)] if made.side_dots else found


def _side_dots(plan: Plan, made: BoardMade) -> Block:
    """Where the side dots are, all from one line."""
    unit, lie = plan.unit, neck_lie(plan.job.document)
    rows: list[Sequence[Cell]] = [
        (f"fret {fret}", signed(float(lie.along(place.x)), unit)) for fret, place in made.side_dots
    ]
    start = plan.job.document.nut.start("the nut's front")
    lead = (
        f"{said(plan.job.document.fingerboard.side_dot or 0.0)} wide, on the bass edge, midway along it between two frets; from "
        f"a line square to the centreline where that crosses {start}."
    )
    table = Table(("Before", "Side dot's middle, along the neck"), rows, (20, 80), ("start", "end"))
    return listed("Side dots", table, in_unit(lead, unit), abreast=3)


def _own_twelfths(plan: Plan) -> Block:
    """On a fan: each string from its own 12th fret to its saddle, which no line square to the centreline tells."""
    unit = plan.unit
    rows: list[Sequence[Cell]] = [
        (f"{each.no} ({each.note})", signed(each.scale, unit), signed(each.from_twelfth, unit))
        for each in plan.layout.strings
    ]
    columns = ("String", "Scale", "12th fret to saddle")
    table = Table(columns, rows, (21.0, 46.0, 56.0), ("start", "end", "end"))
    return listed("Each string from its own 12th fret, along the neck", table)


def _nut(plan: Plan) -> Block:
    layout, document, unit = plan.layout, plan.job.document, plan.unit
    both, other = units_named(unit)
    width = document.nut.width
    ordered = list(reversed(layout.strings))
    _, bass_half = nut_halves(document)
    places = [bass_half + string.nut.y * layout.treble for string in ordered]
    rows: list[Sequence[Cell]] = []
    allowed = limit_in(document, NUT_SLOT).caution
    coarse = 0
    for n, (string, place) in enumerate(zip(ordered, places, strict=True)):
        fraction = inch_fraction(place)
        coarse += rounding_note(fraction.error_mm, allowed) is not None
        before = places[n - 1] + ordered[n - 1].gauge / 2 if n else 0.0
        rows.append(
            (
                f"{string.no} ({string.note})",
                short(string.gauge, unit),
                *in_both(place, unit),
                _marked(fraction, unit),
                short(place - string.gauge / 2 - before, unit),
            )
        )
    lead = f"Slot centres from the nut's bass edge; nut {short(width, unit)} wide; slots by {document.nut.spacing}."
    if coarse:
        lead += (
            f" In 1/64 in, {coarse} of {len(rows)} slots are off by more than a third of the {give_or_take(allowed)} allowed: "
            "set them by the millimetre or the decimal inch."
        )
    columns = (
        "String",
        f"Gauge, {both}",
        f"Slot centre from bass edge, {unit}",
        other,
        f"To 1/64 in (error, {unit})",
        f"Gap before its side, {both}",
    )
    table = Table(columns, rows, (24, 38, 40, 28, 48, 42), ("start", "end", "end", "end", "end", "end"))
    towards = places if layout.treble > 0 else [width - place for place in places]
    numbers = [(str(string.no), string.gauge) for string in ordered]
    bass_first = layout.treble > 0

    wide = 2 * width + 2 * _NUT_SIDE
    items = _nut_picture(towards, numbers, width, (_NUT_SIDE, 9.0), bass_first=bass_first)
    picture = pictured(Sheet("nut", wide, 30.0, items))
    lead = f"{in_unit(lead, unit)} The picture is seen from the heel, 2:1."
    return together(listed("Nut slots", table), beside([words(lead), picture], shares=(1.0, 1.0)))


def _nut_picture(
    places: Sequence[float],
    strings: Sequence[tuple[str, float]],
    width: float,
    corner: Point,
    *,
    bass_first: bool,
) -> tuple[Item, ...]:
    """The nut's end seen from the heel, at 2:1: where each string lies, its number over it."""
    x, y = corner
    tall = 10.0
    ends = ((x, y), (x + 2 * width, y), (x + 2 * width, y + tall), (x, y + tall))
    items: list[Item] = [Path(OUTLINE, ends, closed=True)]
    for place, (number, gauge) in zip(places, strings, strict=True):
        at = (x + 2 * place, y + tall)
        items.append(Circle(THIN, at, gauge))
        items.append(Line(THIN, (at[0], at[1] + gauge + 0.8), (at[0], at[1] + 4.5)))
        items.append(Text(LETTERING, (at[0], at[1] + 5.2), number, ACTED_ON_LETTERING, "middle"))
    words = ("bass edge: 0", "treble edge")
    for word, at_x in zip(words if bass_first else reversed(words), (x, x + 2 * width), strict=True):
        items.append(Line(THIN, (at_x, y - 1.0), (at_x, y - 4.0)))
        items.append(Text(LETTERING, (at_x, y - 8.2), word, ACTED_ON_LETTERING, "middle"))
    return tuple(items)
