"""Cards before anything is cut: neck, blank and press are what the plan says."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from scribeline.layout import TANG_SHORT, UNDER_TANG, BoardMade, board_made
from scribeline.lengths import said
from scribeline.operations import Kind, Operation
from scribeline.steps.bench import Bench, Teller
from scribeline.steps.card import Card, Gate
from scribeline.steps.cautions import DUST, usual


def _board(bench: Bench, work: Operation) -> Card:
    """The fingerboard's slots, sawn while the blank is flat."""
    made, document = board_made(bench.document, bench.layout), bench.document
    assert made is not None
    radius, end = document.fingerboard.radius, document.fingerboard.radius_at_end
    arch = (
        "The board stays flat."
        if radius is None
        else f"Then arch the board to a radius of {said(radius)}"
        + (f" at the nut and {said(end)} at its end." if end is not None and end != radius else ".")
    )
    do = (
        f"Set the saw's stop to {said(made.depth)} below the flat blank's face, kerf {said(document.fret_wire.slot)}: "
        f"{said(made.planed)} is planed off over the middle, and at the edge the tang of {said(document.fret_wire.tang)} must "
        f"still have {said(UNDER_TANG)} under it. {said(made.left)} of the board is left.",
        "Set out every slot from the nut, never from the slot before; the strip is on the templates, the numbers and a jig's "
        "stops on the sheets.",
        "Try a fret in a slot in scrap of the same timber: it should go in with a light mallet and stay.",
        *_part_frets(made),
        arch,
        *_bound(made),
        f"Cut {len(made.slots)} frets; buy {said(made.wire, 0)} of wire.",
    )
    return Card.of(work, "Saw the fret slots", do, bench.gate("nut-to-last-slot"), usual(work, DUST))


def _part_frets(made: BoardMade) -> Iterator[str]:
    """Which frets do not run right across."""
    part = [str(slot.fret) for slot in made.slots if not slot.whole]
    if part:
        yield f"Slots {', '.join(part)} end where the strip shows: finish them with a chisel. The others run right across."


def _bound(made: BoardMade) -> Iterator[str]:
    """A board with a binding: its blank, and the frets' tangs."""
    if made.binding:
        at_nut, at_end = made.widths
        yield (
            f"Plane the blank's edges to {said(at_nut)} at the nut and {said(at_end)} at its end, and glue the binding on, "
            f"{said(made.binding)} a side. Nip each tang back {said(made.binding + TANG_SHORT)} from both its ends: the crown "
            "lies over the binding."
        )


def _neck(bench: Bench, work: Operation) -> Card:
    do = (
        "Measure on the finished neck, not on the drawing.",
        "If it reads outside the limits, correct scale.length in the job and plan again before you cut.",
    )
    return Card.of(work, "Check the scale on the real neck", do, bench.gate("nut-to-12th"), usual(work))


def _blank(bench: Bench, work: Operation) -> Card:
    thickness, over = bench.gate("body-thickness"), bench.layout.body.highest
    do = ["Measure in four places round the bridge and note the least."]
    if over:
        thickness = replace(thickness, ask=f"{thickness.ask}, less {said(over)}")
        do.append(
            f"Take {said(over)} off each reading. The blank's top still stands that much over the level under the bridge."
        )
    do.append(
        "If it reads outside the limits, put the reading in the job and plan again. Every depth follows it."
    )
    gate = thickness.of_least("place 1", "place 2", "place 3", "place 4")
    return Card.of(work, "Check the blank's thickness", do, gate, usual(work))


def _press(bench: Bench, work: Operation) -> Card:
    depth = bench.document.body.thickness.mm
    do = (
        f"Chuck a bent wire whose tip sweeps a circle of {said(100.0, 0)} radius just above the table.",
        "Turn it by hand. Read the gap at the front, back, left and right, and shim the table until they agree.",
    )
    gate = Gate(
        f"largest difference between opposite gaps, {said(200.0, 0)} apart; at the limit a hole {said(depth, 1)} deep "
        f"is {said(0.15)} off",
        value=0.0,
        low=0.0,
        high=200 * 0.15 / depth,
    )
    cautions = ("Unplug the press while you set the wire.", *usual(work))
    return Card.of(work, "Check that the press table is square", do, gate, cautions)


KINDS: Mapping[Kind, Teller] = {
    "slot board": _board,
    "check neck": _neck,
    "check blank": _blank,
    "check press": _press,
}
