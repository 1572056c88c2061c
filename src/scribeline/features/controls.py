"""Holes of pots and switches: from the top into the cavity they sit in."""

from __future__ import annotations

from collections.abc import Iterator

from scribeline.features.bits import Bit, choose_bit, drill_box
from scribeline.features.cuts import DOWN, Bore, Pocket, Reason, Step
from scribeline.features.names import control_hole
from scribeline.features.passing import BREAK_OUT, covers, floor_z, past_the_wall, run_through, surface
from scribeline.features.pilots import BENCH_SOURCE
from scribeline.job import ControlStatement, Dimension, Document, feature_id
from scribeline.layout import Layout, Point

THREAD_SPARE = 0.5
"""Thread that must stand proud of its nut, mm (common practice, no source)."""

SHAFT_PLAY = 0.8
"""A bit wider than its shaft hole by more than this is no choice: the washer would not cover it, mm (from memory)."""

_MEASURED_TIGHT = 0.02
"""A hole this much tighter than the stated one still passes its part, mm: the rounding of a bit's size."""


def most_wood(control: ControlStatement) -> float:
    """The most wood a control's thread can pass, mm: its length less nut and washers and a little to spare."""
    return thread_passes(control.thread_length.mm, control.nut_and_washers.mm, THREAD_SPARE)


def thread_passes(thread: float, nut: float, spare: float) -> float:
    """Wood that a thread can pass, mm."""
    return thread - nut - spare


def roof_over(layout: Layout, cavity: Pocket, place: Point) -> float:
    """Wood between the top and the floor of a cavity cut from the back, mm."""
    return wood_over(layout.top_at(place), floor_z(layout, cavity))


def wood_over(top: float, floor: float) -> float:
    """Wood over a cavity, mm, from its floor's height and the top's."""
    return top - floor


def _role(control: str) -> str:
    """Its hole's name: a pickup switch has a pickup switch hole, a volume control a volume pot hole."""
    kind = control_hole(control)
    return f"{control} hole" if control.lower().endswith(kind.split()[0]) else f"{control} {kind}"


def passing_bit(document: Document, hole: Dimension, *, tight: float = 0.0) -> Bit:
    """The smallest bit that lets a part through whose hole is stated; it may be so much tighter, mm."""
    return choose_bit(
        drill_box(document.bits),
        hole.mm,
        ("brad-point", "flat-bottomed", "twist"),
        at_least=hole.mm - tight,
        at_most=hole.mm + SHAFT_PLAY,
        point_angle_rad=document.bits.point_angle,
    )


def passing_why(hole: Dimension, bit: Bit) -> Reason:
    """Why it is that bit."""
    return Reason(
        f"hole {hole.mm:.2f} mm, {hole.standing}; smallest bit that lets it through: {bit.name} "
        f"({bit.diameter - hole.mm:+.2f} mm)"
        if bit.owned
        else f"hole {hole.mm:.2f} mm: the box has no bit for it; get {bit.name}"
    )


def shaft_holes(document: Document, layout: Layout, pockets: tuple[Pocket, ...]) -> Iterator[Bore]:
    """A hole for each control; where it lies beside its cavity it is as deep as the cavity's floor, and a finding says so."""
    by_id = {pocket.id: pocket for pocket in pockets}
    for number, (control, place) in enumerate(zip(document.controls, layout.controls, strict=True), start=1):
        cavity = by_id[feature_id(control.into)]
        start = surface(layout, "top", place)
        bit = passing_bit(document, control.hole, tight=_MEASURED_TIGHT)
        roof = roof_over(layout, cavity, place)
        run = run_through(layout, start, DOWN, bit.diameter / 2, [cavity]) if covers(cavity, place) else roof
        yield Bore(
            id=f"control-{number}",
            stated=f"controls[{number}]",
            role=_role(control.name),
            group=f"shaft holes of {bit.size}",
            face="top",
            at=start,
            axis=DOWN,
            steps=(Step(bit.diameter, past_the_wall(max(0.0, run), BREAK_OUT), bit),),
            meets=frozenset({cavity.id}),
            through=True,
            why=(
                passing_why(control.hole, bit),
                Reason(
                    f"{roof:.2f} mm of wood over the {cavity.in_words}; the full diameter goes {BREAK_OUT:g} mm further"
                ),
                Reason(
                    f"its thread reaches through {most_wood(control):.2f} mm of wood at most, with its nut, its washers and "
                    f"{THREAD_SPARE:g} mm to spare",
                    BENCH_SOURCE,
                ),
            ),
            holds=control.name,
        )
