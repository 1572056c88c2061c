"""The card of a nut that is made here."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import degrees

from scribeline.layout import FLOOR_LEFT, NutMade, nut_made
from scribeline.lengths import said
from scribeline.operations import Kind, Operation
from scribeline.steps.bench import Bench, Teller
from scribeline.steps.card import Card
from scribeline.steps.cautions import DUST, on_the_neck, usual


def _nut(bench: Bench, work: Operation) -> Card:
    """The blank, its slots, and its top."""
    made = nut_made(bench.document, bench.layout)
    assert made is not None
    return Card.of(
        work,
        "Cut the nut's slots",
        tuple(_do(bench, made)),
        bench.gate("nut-floor"),
        on_the_neck(usual(work, DUST)),
    )


def _do(bench: Bench, made: NutMade) -> Iterator[str]:
    nut = bench.document.nut
    blank = (
        f"Square the blank: {said(made.blank_length)} long, {said(made.blank_thickness)} thick, {said(made.height)} high; its "
        f"underside lies {said(made.seat)} below the board's face."
    )
    if made.turn:
        end = "treble" if made.turn > 0 else "bass"
        turn = abs(degrees(made.turn))
        blank += (
            f" Mitre the ends {turn:.1f}° off square: they run along the neck, the {end} end nearer the tail."
        )
    yield blank
    if nut.zero_fret:
        yield f"Bed it with its front {said(nut.behind_zero_fret)} behind the middle of the zero fret, along the neck."
    if any(nut.compensation):
        yield (
            f"File the front back to {said(made.thickness)} between the slots, and each slot's own front to its place before the "
            "nut's line: the sheets have them."
        )
    yield (
        "Scribe the slots' middles by the strip on the templates, from the bass end; each runs along its string, not square to "
        "the nut. Saw and file each to its width: the sheets have them."
    )
    yield (
        f"Stack feelers to {said(made.slots[0].over_board)} on the board against the nut's front and file each slot down to "
        f"them: the floors follow the board's arch. Leave up to {said(FLOOR_LEFT)} for the last strokes at pitch."
    )
    yield _slope(made)
    yield (
        f"File the top down until {nut.proud * 100:.0f} % of each string stands over it, and round off its edges."
        if nut.proud
        else "File the top down to the strings, and round off its edges."
    )
    first, last = made.slots[0], made.slots[-1]
    if first.over_first is not None and last.over_first is not None:
        setup = bench.document.setup
        yield (
            f"With the strings at pitch, {said(setup.action_treble.mm)} (string {first.string}) to {said(setup.action_bass.mm)} "
            f"(string {last.string}) over the 12th fret and {said(setup.relief.mm)} of relief up to fret {setup.relief_fret}, "
            "the open strings stand over the first fret by "
            f"{said(first.over_first)} (string {first.string}) to {said(last.over_first)} (string {last.string})."
        )


def _slope(made: NutMade) -> str:
    slopes = [degrees(slot.slope) for slot in made.slots if slot.slope is not None]
    if not slopes:
        return "Let every floor fall towards the head by half of what its string breaks there, so that it bears at the front."
    least, most = f"{min(slopes):.1f}", f"{max(slopes):.1f}"
    by = f"{least}°" if least == most else f"{least}° to {most}°"
    return f"Let every floor fall towards the head by {by}, half of what its string breaks, so that it bears at the front."


KINDS: Mapping[Kind, Teller] = {"slot nut": _nut}
