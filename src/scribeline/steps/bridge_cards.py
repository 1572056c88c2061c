"""Cards of the bridge: where it goes, what holds it, the string holes, and what is tried in scrap for both."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from math import dist
from typing import Literal

from scribeline.features import Family, drill_access, ferrule_row, meeting_overlap, slope_deg
from scribeline.findings import limit_in
from scribeline.findings.numbers import FERRULE_ROW
from scribeline.layout import (
    ALIKE,
    MARK_WORDS,
    BridgePlace,
    Mark,
    Point,
    Pressed,
    Threaded,
    across_words,
    diagonals,
    twelfth_readings,
)
from scribeline.lengths import said
from scribeline.operations import Kind, Operation, next_of
from scribeline.steps.bench import Bench, Teller, within
from scribeline.steps.card import Ask, Card, Gate
from scribeline.steps.cautions import BY_MACHINE, END_GRAIN, LONG_BIT, PIN, usual


def _set_bridge(bench: Bench, work: Operation) -> Card:
    bridge = bench.bridge
    mark = next(each for each in bridge.marks if each.id == work.mark)
    title = f"Mark the {mark.name}" if mark.drilled else f"Set the {bridge.title} and check it"
    if bridge.units:
        return Card.of(
            work, title, [*_set_out_units(bench, bridge, mark)], _each_unit(bench, bridge), usual(work)
        )
    do = [*_set_out(bench, bridge, mark)]
    if mark is bridge.marks[-1]:
        do += _square(bench, bridge, mark)
    first = f"12th-to-{mark.id}"
    if mark is not bridge.marks[-1]:
        return Card.of(work, title, do, bench.gate(first), usual(work))
    asks = {first: f"12th fret to {'its centre' if mark.drilled else f'the {_own(bridge, mark)}'}"}
    asks |= {f"diagonal-{side}": f"diagonal from the {side} corner" for side in ("treble", "bass")}
    words = (
        f"{bench.measurables[first].how}; both diagonals from the board's corners at the 12th fret to {bridge.far_corner}; and "
        f"{_THREAD}"
    )
    gate = _several(bench, words, asks | _margins(bench))
    return Card.of(work, title, do, replace(gate, asks=tuple(_along(gate, gate.asks))), usual(work))


def _along(gate: Gate, asks: Iterable[Ask]) -> Iterator[Ask]:
    """The readings, the diagonals as much longer or shorter as the bridge may stand further along; both must be so alike."""
    for ask in asks:
        if ask.id.startswith("diagonal-") and gate.value is not None and ask.low is not None:
            nearer, further = gate.value - (gate.low or 0.0), (gate.high or 0.0) - gate.value
            yield replace(ask, low=ask.low - nearer, high=(ask.high or 0.0) + further)
        else:
            yield ask


_THREAD = "a thread from nut slot to saddle over both outer strings, to the board's edges at the last fret"


def _margins(bench: Bench) -> dict[str, str]:
    """What the thread tells over the outer strings, each with its words."""
    last = len(bench.layout.frets)
    return {f"margin-{side}": f"thread to the {side} edge, fret {last}" for side in ("treble", "bass")}


def _several(bench: Bench, words: str, asks: Mapping[str, str]) -> Gate:
    """A gate on several of the layout's measurables, each with its words; the first stands for all."""
    found = ((bench.measurables[name], told) for name, told in asks.items())
    each = tuple(
        Ask(m.id, told, m.value, *m.accepted, m.id, may_lack=m.id.startswith(_ASKED_SINCE))
        for m, told in found
    )
    return replace(Gate.of_each(words, each), measurable=next(iter(asks)))


_ASKED_SINCE = ("diagonal-", "margin-")
"""Readings that gates of the bridge did not always ask for: an answer of then stands without them."""


def _try_screw(bench: Bench, work: Operation) -> Card:
    post = isinstance(bench.bridge.anchors[0].part, Threaded)
    what, drive = ("post", "Wind a waxed post in") if post else ("screw", "Drive a waxed screw")
    do = (
        _in_scrap(work),
        f"{drive} by hand. It should go home firmly, and the scrap must not split.",
    )
    gate = Gate(f"the {what} went home by hand and nothing cracked")
    return Card.of(work, f"Scrap test: one bridge {what}", do, gate, usual(work))


def _try_bushing(bench: Bench, work: Operation) -> Card:
    do = (
        _in_scrap(work),
        "Press a bushing in with the vice or the press, square to the face. It should need a firm push all the way, and the "
        "scrap must not split.",
    )
    gate = Gate("the bushing went in firmly, it does not turn, and nothing cracked")
    which = f" in {said(work.bit.diameter)}" if bench.bridge.further and work.bit is not None else ""
    return Card.of(work, f"Scrap test: one bushing{which}", do, gate, usual(work))


def _in_scrap(work: Operation) -> str:
    assert work.bit is not None
    assert work.depth is not None
    return f"In scrap of the same timber drill {said(work.depth, 1)} deep with {work.bit.in_words}."


def _anchors(bench: Bench, work: Operation) -> Card:
    do = (
        "Start each hole in its awl mark.",
        "Drill all of them with one setting of the depth stop.",
        *(_WIRE_TO_A_STUD if _takes_the_wire(bench, work) else ()),
    )
    gate = within("depth of the first hole at full diameter", bench.step(work).depth, 0.5)
    return Card.of(work, _drill(bench, work), do, gate, usual(work), *bench.places(bench.bores(work)))


_WIRE_TO_A_STUD = (
    "One of these holes takes the ground wire. The job asks for no way to it (ground_wire): look at the front plan for what "
    "lies between, and drill one by hand from inside the hole into the nearest cavity.",
)


def _takes_the_wire(bench: Bench, work: Operation) -> bool:
    """Whether the strings are grounded at what goes into these holes, and the job asks for no way there."""
    return (
        bench.bores(work)[0].family in {"bridge-stud", "bridge-post"}
        and not bench.document.bridge.grounded_in
        and not any(tunnel.place.bushing for tunnel in bench.tunnels)
    )


def _drill(bench: Bench, work: Operation) -> str:
    """What holes are drilled, by the part that goes into them."""
    first = bench.bores(work)[0]
    anchor = bench.bridge.anchor(first.family, first.number)
    match first.family:
        case "bridge-stud":
            return "Drill the holes for the bushings"
        case "bridge-post":
            pressed = anchor is not None and isinstance(anchor.part, Pressed)
            return f"Drill the holes for the bridge posts{_BUSHINGS if pressed else ''}"
        case "tailpiece-stud":
            return f"Drill the holes for the tailpiece studs{_BUSHINGS}"
        case _:
            return "Drill the bridge-screw pilots"


_BUSHINGS = "' bushings"


def _wall_screws(bench: Bench, work: Operation) -> Card:
    """The pilots in the wall of a cavity, drilled through its open face with a long bit over its other end."""
    bores, layout, document = bench.bores(work), bench.layout, bench.document
    first = bores[0]
    cavity = bench.features.pocket(first.entered_from)
    side: Literal["top", "back"] = "top" if cavity.face == "top" else "back"
    places = tuple(
        replace(place, below=layout.below(side, bore.at))
        for place, bore in zip(bench.places(bores), bores, strict=True)
    )
    numbers = " and ".join(place.number for place in places)
    off = "; ".join(f"{place.number} {across_words(place.across.mm, 1)}" for place in places)
    reading = places[0].below
    assert reading is not None
    access = drill_access(
        first, layout.outline, layout.thickness, (cavity,), chuck_radius=document.bits.chuck_radius
    )
    slope = slope_deg(first)
    do = (
        f"Square a line down the neck wall of the {cavity.in_words} for each screw: {off}.",
        f"Mark {numbers} on the lines with the awl, {said(reading.mm, 1)} in from the {side}.",
        f"Angle block: {slope:.1f}° from the {side}. Lay the bit over the cavity's tail end, its point straight to "
        "the neck and down.",
        f"{said(access.bit, 0)} of bit must stand out (chuck of {said(document.bits.chuck_radius, None)} radius). Keep bit and "
        "chuck off the cavity's rim.",
        f"Try the waxed screw in {'end grain of ' if first.grain == 'end' else ''}an offcut first.",
    )
    gate = within(f"from the {side} down to each hole's centre, at the wall", reading.mm, 0.5)
    more = (LONG_BIT, *((END_GRAIN,) if first.grain == "end" else ()))
    title = f"Drill the pilots of the {first.group} into the cavity's wall"
    return Card.of(work, title, do, gate, usual(work, *more), *places)


def _fix_bridge(bench: Bench, work: Operation) -> Card:
    bridge = bench.bridge
    if bridge.units:
        do = ("Drive all screws home by hand, and check that each base still lies under its thread.",)
        return Card.of(work, "Screw the bases down", do, _each_unit(bench, bridge), usual(work))
    do = (
        f"Two screws are enough. The {bridge.noun} now guides the bit for the string holes."
        if bench.features.family("string-hole")
        else "Two screws are enough to check that it stands where it should.",
    )
    first = f"nut-to-{bridge.marks[0].id}"
    asks = {first: f"nut to the {_own(bridge, bridge.marks[0])}"} | _margins(bench)
    gate = _several(bench, f"{bench.measurables[first].how}; and once more {_THREAD}", asks)
    return Card.of(work, f"Screw the {bridge.noun} down with two screws", do, gate, usual(work))


def _set_out(bench: Bench, bridge: BridgePlace, mark: Mark) -> Iterator[str]:
    """Where a mark of the bridge goes, or stands already by the holes that are drilled for it."""
    layout, board = bench.layout, bench.layout.datum("board-end")
    along = f"{said(mark.at.x - board.point.x)} from {board.words}"
    if mark.drilled:
        across = mark.at.y * layout.treble
        side = "treble" if across > 0 else "bass"
        yield f"Mark the {mark.name} {along}, {said(abs(across))} from the centreline to the {side}."
        if layout.held is not None:
            yield f"The drilled {layout.held.by} are there already. Check them."
    elif layout.held is None:
        yield f"Tape the {bridge.noun} with its {_own(bridge, mark)} {along}."
    else:
        yield f"Lay the {bridge.noun} on its drilled {layout.held.by}. They hold its {_own(bridge, mark)} {along}."
    yield _from_twelfth(bench, bridge, mark, "its centre" if mark.drilled else f"the {_own(bridge, mark)}")


def _from_twelfth(bench: Bench, bridge: BridgePlace, mark: Mark, words: str) -> str:
    """A mark's distance from each of the 12th fret's marks."""
    number = bridge.marks.index(mark)
    marks = "; ".join(
        f"{MARK_WORDS[reading.mark]} {said(reading.to_bridge[number])}"
        for reading in twelfth_readings(bench.document, bench.layout)
    )
    return f"To {words} from the 12th fret: {marks}."


def _set_out_units(bench: Bench, bridge: BridgePlace, line: Mark) -> Iterator[str]:
    """The line across, each base's own distance from it, and each turned to its string."""
    layout = bench.layout
    yield f"Square a line across the top {said(line.at.x - layout.pocket_end)} from {layout.datum('pocket-end').words}."
    yield _from_twelfth(bench, bridge, line, "the line")
    places = "; ".join(f"{unit.name} {_off_line(unit.front.x - line.at.x)}" for unit in bridge.units)
    if layout.held is None:
        yield f"Stretch a thread from each nut slot. Tape each base under its own, front edge off the line: {places}."
    else:
        yield f"The drilled {layout.held.by} hold each base. Check its front edge off the line: {places}."
    across = "; ".join(
        f"{unit.name} {said(abs(unit.front.y))} {'treble' if unit.front.y * layout.treble > 0 else 'bass'}"
        for unit in bridge.units
    )
    yield f"Middles of the front edges off the centreline: {across}."
    made = bench.record.made_cuts
    if any(bore.id not in made for bore in bench.features.anchors):
        yield "Slide a card between neighbours: no base may touch another. Then mark the holes with the awl."


def _off_line(mm: float) -> str:
    if abs(mm) < ALIKE:
        return "on it"
    return f"{said(abs(mm))} {'behind' if mm > 0 else 'before'}"


def _each_unit(bench: Bench, bridge: BridgePlace) -> Gate:
    """The line's own reading, then each base's."""
    line = f"12th-to-{bridge.marks[0].id}"
    read = {line: "12th fret to the line"} | {
        f"line-to-{unit.id}": f"line to {unit.name}" for unit in bridge.units
    }
    words = "the line from the 12th fret, then each base's front edge from the line; a minus lies before it"
    return _several(bench, words, read)


def _own(bridge: BridgePlace, mark: Mark) -> str:
    """A mark in words where it is plain whose it is."""
    return mark.name.removeprefix(f"{bridge.noun}'s ")


def _square(bench: Bench, bridge: BridgePlace, mark: Mark) -> Iterator[str]:
    """The check for squareness, and the awl."""
    pair = diagonals(bench.layout)
    assert pair is not None
    yield (
        f"Both diagonals, from the board's corner at the 12th fret to {bridge.far_corner}: {said(pair[0])}."
        if abs(pair[0] - pair[1]) <= ALIKE
        else f"Diagonals, from the board's corner at the 12th fret to {bridge.far_corner}: from the treble "
        f"{said(pair[0])}, from the bass {said(pair[1])}."
    )
    again = "Thread the two outer strings and measure them to the board's edges again."
    made = bench.record.made_cuts
    left = any(bore.id not in made for bore in bench.features.anchors)
    each = "both" if len(bridge.marks) == 2 else "each"
    mark_with = f"punch {each} with the awl" if mark.drilled else "mark the holes with the awl"
    yield f"{again} Measure twice, then {mark_with}." if left else again
    if mark.drilled and left:
        yield from _others(bridge)


def _others(bridge: BridgePlace) -> Iterator[str]:
    """How the anchors are marked that are set out by no reading of their own."""
    others = [each.at for each in bridge.anchors if all(each.at != mark.at for mark in bridge.marks)]
    if not others:
        return
    first, last = bridge.marks[0].at, bridge.marks[-1].at
    parts = len(others) + 1
    shares = [number / parts for number in range(1, parts)]
    between = [
        Point(first.x + share * (last.x - first.x), first.y + share * (last.y - first.y)) for share in shares
    ]
    if all(dist(at, wanted) < ALIKE for at, wanted in zip(others, between, strict=True)):
        yield f"Divide the line between the two into {parts} equal parts and punch the other {len(others)} on it."
    else:
        yield f"Mark the other {len(others)} from these by the table of the card that drills them."


def _try_both_faces(bench: Bench, work: Operation) -> Card:
    step = next_of(bench.record, bench.features.family("string-hole")).deepest
    do = (
        f"In scrap {said(bench.document.body.thickness.mm, 1)} thick drill {said(step.depth, 1)} from the top. Flip it onto a "
        f"{said(step.bit.diameter)} pin under the spindle; counterbore and drill from the back.",
        "Push a ferrule in and pass a string.",
    )
    gate = Gate("step where the two holes meet; the ferrule must fit", 0.0, 0.0, 0.15)
    cautions = (*BY_MACHINE[work.machine], PIN)
    return Card.of(work, "Scrap test: one hole from both faces", do, gate, cautions)


def _string_holes(bench: Bench, work: Operation) -> Card:
    guided, noun = bench.document.bridge.guide is not None, bench.bridge.noun
    do = (
        (f"The {noun} guides the bit. " if guided else "Mark each hole with the awl where the table says. ")
        + "Drill the outer two first, lay a straightedge across, then drill the inner ones.",
        "Drill part-way. The holes from the back meet them.",
    )
    gate, places = (
        within("depth at full diameter", bench.step(work).depth, 0.5),
        bench.places(bench.bores(work)),
    )
    title = f"Drill the string holes{f' through the {noun}' if guided else ''}, part-way"
    return Card.of(work, title, do, gate, usual(work), *places)


def _ferrules(bench: Bench, work: Operation) -> Card:
    depth = bench.step(work).depth
    if work.kind == "counterbore":
        title = "Counterbore for the ferrule lips"
        pin = next_of(bench.record, bench.features.family("string-hole")).deepest.bit.diameter
        do = [
            f"Set each string hole on a {said(pin)} pin under the spindle; at rest the bit's point comes down on its centre.",
        ]
        if _along_a_fence(bench):
            do += [
                "Tape a board to the back, its straight edge along the row and past the tail. Clamp a tall fence so that "
                "the edge lies against it with either outer hole on the pin, and slide it along for those between.",
            ]
        gate = within("depth of the first counterbore; a ferrule's lip must fit it", depth, 0.1)
    else:
        title = "Drill for the ferrule bodies"
        do = [
            "Set the depth stop first: pin out, body flat on the same board. Then put the pin back and keep the same order"
            + (", along the fence as it stands." if _along_a_fence(bench) else "."),
            "The bit breaks into the string hole. Ease the feed as it comes near.",
            f"The two holes overlap by {said(_least_overlap(bench))}.",
        ]
        row = limit_in(bench.document, FERRULE_ROW).caution
        ask = f"depth from the back; the row must be straight within {said(row)}"
        gate = Gate(ask, depth, depth - 0.5, depth + 1.0)
    return Card.of(work, title, do, gate, usual(work, PIN), *bench.places(bench.bores(work)))


def _along_a_fence(bench: Bench) -> bool:
    """Whether the ferrule holes still to be drilled lie in a row that a fence keeps straight (common practice, no source)."""
    return ferrule_row(bench.features.family("ferrule-hole"), bench.record.made_cuts) is not None


def _try_strings(bench: Bench, work: Operation) -> Card:
    do = ("Blow or brush the chips out and ease the edges. Pass the thickest string through every hole.",)
    gate, cautions = Gate("every string passes freely"), ("Wear eye protection when you blow chips out.",)
    return Card.of(work, "Clear the holes and try a string in each", do, gate, cautions)


def _least_overlap(bench: Bench) -> float:
    """By how much the bores from the top and from the back pass each other where they do so least, mm."""
    back = {bore.id: bore for bore in bench.features.family("ferrule-hole")}
    return min(
        meeting_overlap(top, back[name])
        for top in bench.features.family("string-hole")
        for name in sorted(top.meets)
        if name in back
    )


KINDS: Mapping[Kind, Teller] = {
    "set bridge": _set_bridge,
    "try screw": _try_screw,
    "try bushing": _try_bushing,
    "fix bridge": _fix_bridge,
    "try both faces": _try_both_faces,
    "try strings": _try_strings,
}
HOLES: Mapping[Family, Teller] = {
    "bridge-screw": _anchors,
    "bridge-stud": _anchors,
    "bridge-post": _anchors,
    "tailpiece-stud": _anchors,
    "claw-screw": _wall_screws,
    "string-hole": _string_holes,
    "ferrule-hole": _ferrules,
}
