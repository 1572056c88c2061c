"""What is wrong with strings on an instrument, as sentences for a person at a bench."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from scribeline import tables
from scribeline.lengths import MM_PER_INCH, said
from scribeline.strings.fretting import TWELFTH, Board, Playing, clearances, fretted_cents, open_tension_n
from scribeline.strings.inputs import PRIOR, Problem, Setup, Shop, problem
from scribeline.strings.spec import Floats, StringSpec

SLACK_CENTS = 50.0
"""Sharpness at the 12th fret, saddle on the scale line, from which a string is too slack to be intoned: half a fret."""

_NOTES = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that cannot be.

    Attributes:
        code: stable name.
        strings: numbers of the strings concerned, from 1 at the treble; empty for the whole instrument.
        value: what was found.
        limit: what it may be.
        message: the sentence.
        cure: what to do, with the number to use.
    """

    code: str
    strings: tuple[int, ...]
    value: float
    limit: float
    message: str
    cure: str


def faults(
    specs: Sequence[StringSpec], setup: Setup, shop: Shop = PRIOR, *, saddles: int | None = None
) -> tuple[Fault, ...]:
    """Everything that cannot be about these strings on this instrument.

    Args:
        specs: the strings, treble first.
        setup: the instrument.
        shop: what the shop knows.
        saddles: how many saddles the bridge has; None to leave that unasked.
    """
    stated = problem(specs, setup, shop)
    wires, playing, _ = stated.realise(stated.nominal())
    # Strings that no tension brings to pitch give not-a-number tensions, which are looked for here.
    with np.errstate(invalid="ignore", divide="ignore"):
        tension = open_tension_n(wires, stated.board, playing)
        sharp = fretted_cents(wires, stated.board, playing, np.zeros(len(specs)))[:, TWELFTH]
    return (
        *_too_many(specs, saddles),
        *_breaking(stated, tension),
        *_slack(stated, tension, sharp),
        *_pressed_too_deep(stated),
        *_touching(stated.board, playing),
    )


def _too_many(specs: Sequence[StringSpec], saddles: int | None) -> Iterator[Fault]:
    if saddles is not None and len(specs) > saddles:
        yield Fault(
            "strings.more-than-saddles",
            tuple(range(saddles + 1, len(specs) + 1)),
            len(specs),
            saddles,
            f"there are {len(specs)} strings and the bridge has {saddles} saddles",
            f"choose a bridge with {len(specs)} saddles, or leave out {len(specs) - saddles} of the strings",
        )


def _breaking(stated: Problem, tension: Floats) -> Iterator[Fault]:
    core = np.array([s.core_estimate.value for s in stated.specs])
    stress = tension / (stated.made.area_factor * core**2)
    least, greatest = tables.music_wire_strength_mpa(core)
    for i, spec in enumerate(stated.specs):
        if not stress[i] >= least[i]:
            continue
        how = "breaks" if stress[i] >= greatest[i] else "may break"
        highest = spec.pitch_hz * np.sqrt(0.75 * least[i] / stress[i])
        yield Fault(
            "strings.breaks",
            (i + 1,),
            float(stress[i]),
            float(least[i]),
            f"string {i + 1} ({spec.name}) {how}: tuned to pitch it pulls {stress[i]:.0f} MPa in a wire that holds "
            f"{least[i]:.0f} to {greatest[i]:.0f} MPa (ASTM A228)"
            + (", and another plain gauge would pull the same" if spec.is_plain else ""),
            f"tune it to {note_below(float(highest))} or lower, three quarters of its strength, or shorten the scale",
        )


def _slack(stated: Problem, tension: Floats, sharp: Floats) -> Iterator[Fault]:
    for i, spec in enumerate(stated.specs):
        if tension[i] > 0 and sharp[i] <= SLACK_CENTS:
            continue
        message = f"string {i + 1} ({spec.name}) is below what its core can carry: " + (
            f"it pulls only {tension[i]:.1f} N, and fretting alone takes it {sharp[i]:.0f} cents sharp at the 12th fret"
            if tension[i] > 0
            else "its stiffness alone sounds higher than that, at no tension at all"
        )
        yield Fault(
            "strings.note-below-core",
            (i + 1,),
            float(sharp[i]),
            SLACK_CENTS,
            message,
            "take a wound string with a thinner core and more wrap, tune it higher, or lengthen the scale",
        )


def _pressed_too_deep(stated: Problem) -> Iterator[Fault]:
    height = stated.setup.fret_height
    deepest = float(np.max(stated.nominal()["finger_depth"]))
    if deepest > height:
        yield Fault(
            "strings.finger-below-board",
            (),
            deepest,
            height,
            f"the finger takes the string {said(deepest)} below the crowns, and the frets are {said(height)} high: "
            "it would be in the board",
            f"state a finger depth under {said(height)}, or measure the frets again",
        )


def _touching(board: Board, playing: Playing) -> Iterator[Fault]:
    over_open, over_fretted = clearances(board, playing)
    for i in range(over_open.shape[-2]):
        if playing.action[i] > 0 and over_open[i].min() > 0 and over_fretted[i].min() > 0:
            continue
        wanted = _least_action(board, playing, i)
        if over_open[i].min() <= 0:
            fret = int(over_open[i].argmin()) + 1
            where = f"the open string lies on fret {fret}"
        else:
            fret = int(over_fretted[i].argmin()) + 1
            where = f"pressed at fret {fret} it lies on a fret after it"
        yield Fault(
            "strings.action-too-low",
            (i + 1,),
            float(playing.action[i]),
            wanted,
            f"string {i + 1} has an action of {said(playing.action[i])} over the 12th fret's crown, lower than the frets "
            f"allow: {where}",
            f"raise the action to {said(wanted)} or more, or set less relief; action is measured from the crown, "
            "not from the board",
        )


def _least_action(board: Board, playing: Playing, string: int) -> float:
    """Least action, to 0.05 mm, at which a string rests on no fret it should not."""
    tried = np.arange(0.05, 6.0, 0.05)[:, np.newaxis] * np.ones(board.scale.size)
    over_open, over_fretted = clearances(board, replace(playing, action=tried))
    clear = (over_open[:, string].min(axis=-1) > 0) & (over_fretted[:, string].min(axis=-1) > 0)
    return float(tried[clear.argmax(), string])


def note_below(pitch_hz: float) -> str:
    """The note of a pitch, or the next below it: `G4`."""
    number = int(np.floor(69 + 12 * np.log2(pitch_hz / 440)))
    return f"{_NOTES[number % 12]}{number // 12 - 1}"


def gauge_text(gauge: float) -> str:
    """A gauge in thousandths of an inch, as strings are sold: `.010`."""
    return f"{gauge / float(MM_PER_INCH):.3f}".removeprefix("0")
