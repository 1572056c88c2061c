"""Step cards: each operation in words. Each family of cards has a module of its own; this one puts them together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import degrees

from scribeline.features import Family, Workpiece
from scribeline.job import Document, feature_id, in_the_record
from scribeline.layout import ANCHORS, Held, Measurable
from scribeline.lengths import JobUnit, in_unit, said
from scribeline.operations import Kind, Operation, Progress
from scribeline.solid.tunnels import Tunnel
from scribeline.steps import (
    bridge_cards,
    carve_cards,
    core_cards,
    datum_cards,
    edge_cards,
    finish_cards,
    head_cards,
    hole_cards,
    neck_cards,
    nut_cards,
    rout_cards,
    shaping_cards,
    tunnel_cards,
)
from scribeline.steps.bench import Bench, Teller
from scribeline.steps.card import Card
from scribeline.steps.in_the_way import cleared
from scribeline.steps.rout_cards import template_first

KINDS: Mapping[Kind, Teller] = {
    **datum_cards.KINDS,
    **rout_cards.KINDS,
    **neck_cards.KINDS,
    **core_cards.KINDS,
    **head_cards.KINDS,
    **nut_cards.KINDS,
    **carve_cards.KINDS,
    **shaping_cards.KINDS,
    **bridge_cards.KINDS,
    **finish_cards.KINDS,
}
HOLES: Mapping[Family, Teller] = {
    **bridge_cards.HOLES,
    **tunnel_cards.HOLES,
    **hole_cards.HOLES,
    **neck_cards.HOLES,
    **head_cards.HOLES,
    **edge_cards.HOLES,
}


def make_cards(
    document: Document,
    progress: Progress,
    measurables: tuple[Measurable, ...],
    tunnels: tuple[Tunnel, ...] = (),
    beside: Sequence[Workpiece] = (),
) -> tuple[Card, ...]:
    """The step cards of the operations, in their order.

    Args:
        document: what the job states.
        progress: the operations, and what they are made from.
        measurables: what the layout gives to be read at gates.
        tunnels: the wire holes asked for.
        beside: the workpieces beside the body, with what is drilled in them.
    """
    known = {each.id: each for each in measurables}
    bench = Bench(
        document, progress.record, progress.finished, progress.features, known, tunnels, tuple(beside)
    )
    neck = document.neck
    first = cleared(progress.operations, progress.finished, glued=neck.is_glued, fitted=neck.runs_through)
    return tuple(
        _in_unit(
            template_first(bench, _told(bench, each).read_by(datums)),
            (*lines, *measured(bench, each)),
            document.units,
        )
        for each, (lines, datums) in zip(progress.operations, first, strict=True)
    )


_BY_THE_BRIDGE: tuple[Family, ...] = (*ANCHORS, "string-hole", "ferrule-hole", "ground-wire")


def measured(bench: Bench, work: Operation) -> tuple[str, ...]:
    """What a step's places rest on that was measured at the bench: where the neck lies, and by which measurements."""
    layout = bench.layout
    settled, read = layout.moved_to, layout.neck_read
    if layout.held is not None and work.family in _BY_THE_BRIDGE:
        return _as_held(bench, layout.held)
    if settled is None or read is None or layout.held is not None:
        return ()
    if work.family not in _BY_THE_BRIDGE and not work.mark and not _under_the_strings(bench, work):
        return ()
    side = "treble" if settled.bridge > 0 else "bass"
    numbers = sorted(read.entries[each.id] for each in read.read.sights)
    words = ", ".join(map(str, numbers[:-1])) + f" and {numbers[-1]}" if len(numbers) > 1 else str(numbers[0])
    if not settled.bridge and not settled.bridge_turn:
        return (
            f"This lies as planned once the neck is moved to its line (measurements no. {words}). Read the line anew first.",
        )
    turn = abs(degrees(settled.bridge_turn))
    return (
        f"This lies on the neck's line as it was measured (no. {words} of the record): {said(abs(settled.bridge))} to the {side} "
        f"at the bridge, turned {turn:.2f}°, of where it was planned. Layout lines made before count no more.",
    )


def _as_held(bench: Bench, held: Held) -> tuple[str, ...]:
    """That what goes with the bridge lies by its holes as they were found, and by which measurements."""
    found = [bench.record.found[name] for name in held.holes if name in bench.record.found]
    numbers = sorted({no for each in found for no in each.numbers})
    if not numbers:
        return ()
    return (
        f"This lies by the {held.by} as they were found ({in_the_record(numbers)}), not where they were planned. Lines made "
        "before count no more.",
    )


def _under_the_strings(bench: Bench, work: Operation) -> bool:
    """Whether a step routs a cavity that lies where the strings run."""
    pockets = {feature_id(name) for name in bench.layout.following}
    return bool(pockets & set(work.features))


def _told(bench: Bench, work: Operation) -> Card:
    return (KINDS[work.kind] if work.family is None else HOLES[work.family])(bench, work)


def _in_unit(card: Card, first: tuple[str, ...], unit: JobUnit) -> Card:
    """A card with what comes off for it, and with the lengths in its words said in a job's unit."""
    asks = tuple(replace(each, words=in_unit(each.words, unit)) for each in card.gate.asks)
    return replace(
        card,
        title=in_unit(card.title, unit),
        do=tuple(in_unit(each, unit) for each in (*first, *card.do)),
        gate=replace(card.gate, ask=in_unit(card.gate.ask, unit), asks=asks),
        cautions=tuple(in_unit(each, unit) for each in card.cautions),
    )
