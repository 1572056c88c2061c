"""Cards of a neck that runs through the body: its core planed, the wings glued to it, its line and height checked."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import degrees

from scribeline.layout import board_over, core_widths, neck_lie, rise, under_straightedge
from scribeline.lengths import said
from scribeline.operations import Kind, Operation
from scribeline.steps.bench import Bench, Teller, within
from scribeline.steps.card import Card, Gate
from scribeline.steps.cautions import CLAMPS, DUST, GLUE, SAW_AND_FILE, on_the_neck, usual
from scribeline.steps.neck_cards import straightedge, threads


def _shape(bench: Bench, work: Operation) -> Card:
    """The core while it is a loose stick: its edges, and the seat of the board, which gives the strings their height."""
    neck, thick = bench.document.neck, bench.layout.thickness
    at_board, at_tail = core_widths(neck)
    end = said(bench.document.fingerboard.end)
    width = (
        f"Strike the centreline down the whole blank, nut to tail: everything across is measured from it. Plane both edges "
        f"square, {said(at_board / 2)} from it"
        + (
            "."
            if at_board == at_tail
            else f" at the board's end and {said(at_tail / 2)} at the tail, straight between."
        )
    )
    do = (
        width,
        f"Square a line round the blank {end} from the nut: there the board ends, and the heights are read.",
        *_seat(bench),
        f"Behind the board the core's top is the body's top. Leave it {said(thick)} thick there, or a hair more to level with "
        "the wings.",
    )
    gate = within("core's width at the board's end", at_board, _WIDTH)
    return Card.of(
        work, "Plane the core and the board's seat", do, gate, on_the_neck(usual(work, SAW_AND_FILE, DUST))
    )


_WIDTH = 0.2
"""What the core's width may be off, mm: the wings' edges are planed to it (common practice, no source)."""


def _seat(bench: Bench) -> Iterator[str]:
    """Where the board's underside lies on the core."""
    neck, lie = bench.document.neck, neck_lie(bench.document)
    stands, front = neck.board_over_body.mm, board_over(bench.document, bench.layout.neck_edge)
    level = f"{said(stands)} over the body's top" if stands else "level with the body's top"
    if lie.is_level:
        yield f"Plane the board's seat parallel to the body's top, {level}."
        return
    lower = "lower" if lie.angle > 0 else "higher"
    yield (
        f"Plane the board's seat {level} at its end and {degrees(abs(lie.angle)):.2f}° off it, {lower} towards the nut: "
        f"{said(rise(_HUNDRED, abs(lie.angle)))} in {said(_HUNDRED, None)}. At the body's neck edge it lies {said(abs(front))} "
        f"{'below' if front < 0 else 'over'} the top."
    )
    yield "Saw or plane it against a wedge of that angle, square to the centreline, or the neck rolls."


_HUNDRED = 100.0
"""Over what length a lean is told, mm."""


def _wings(bench: Bench, work: Operation) -> Card:
    """The wings glued to both edges of the core."""
    layout, wings = bench.layout, bench.document.body.timber
    do = (
        f"Plane the wings ({wings.in_words}) {said(layout.thickness)} thick or a hair over, and their edges to the core's. Let "
        "core and wings reach one moisture first.",
        "Try both joints dry: no light may show. Mark the nut's square across all three, and pin the wings where wood is cut "
        "away later, for they slide on glue.",
        "Glue one wing at a time, tops level, and clamp across the core. Let it cure as long as the glue's maker says.",
        "Level the wings to the core's top behind the board, never the core under the board.",
    )
    gate = Gate(f"a {said(0.05)} feeler goes into neither glue line, on top and back")
    return Card.of(work, "Glue the wings to the core", do, gate, usual(work, CLAMPS, GLUE, DUST))


def _check(bench: Bench, work: Operation) -> Card:
    """The neck's line over the body, and the board's height over it: nothing can be corrected by a pocket afterwards."""
    layout, neck = bench.layout, bench.document.neck
    gap = under_straightedge(neck_lie(bench.document), layout.scale)
    do = (
        f"Measure from the body's top to the board's underside at the board's end: {said(neck.board_over_body.mm)}. If it "
        "reads otherwise, put it in the job (neck.board_over_body) and plan again before the bridge is bored.",
        *threads(bench),
        straightedge(bench),
        f"What it is off at the saddles, the saddles take up: {said(gap)} is what the plan has.",
    )
    return Card.of(work, "Check the core's line and height", do, bench.gate("margin-treble"), usual(work))


KINDS: Mapping[Kind, Teller] = {"shape core": _shape, "glue wings": _wings, "check core": _check}
