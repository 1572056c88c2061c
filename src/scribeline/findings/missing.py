"""A rule for what the job leaves out: one note of what the pack does not cover."""

from __future__ import annotations

from collections.abc import Iterator

from scribeline.findings.finding import STATED, Facts, Finding
from scribeline.job import Document
from scribeline.layout import cavity_words


def not_covered(facts: Facts) -> Iterator[Finding]:
    """What belongs to such an instrument and is not in the job, so that no page shows it?"""
    left_out = list(_left_out(facts.document))
    if left_out:
        yield Finding(
            code="pack.not-covered",
            severity="note",
            features=(),
            value=float(len(left_out)),
            limit=0.0,
            message=f"this pack does not cover: {'; '.join(words for words, _ in left_out)}. It is neither drawn nor checked "
            "here, and nothing is kept clear of it",
            cure=f"add what you want planned to the job ({', '.join(dict.fromkeys(table for _, table in left_out))}), or set it "
            "out yourself and see that it meets nothing",
            source=STATED,
        )


def _left_out(document: Document) -> Iterator[tuple[str, str]]:
    """What is left out, in bench words, and what the job calls it."""
    if document.neck.joint == "bolt-on" and document.neck_bolts is None:
        yield "the screws of the bolted neck", "neck screws"
    if not document.strap_buttons:
        yield "strap buttons", "strap buttons"
    if not document.pockets:
        yield "pickups, controls and their wires", "pockets"
        return
    if document.jack is None:
        yield "the jack", "jack"
    if not document.controls:
        cavity = any(pocket.face == "back" for pocket in document.pockets)
        yield ("controls" if cavity else "controls and a cavity for them"), "controls"
    cut_off = _without_wires(document)
    if cut_off:
        *most, last = (f"the {cavity_words(name)}" for name in cut_off)
        yield f"a way for wires out of {' and '.join((', '.join(most), last)) if most else last}", "tunnels"


def _without_wires(document: Document) -> list[str]:
    """Pockets that no tunnel, hole or open wall joins to where the wires end: the jack's pocket, or any other."""
    joined: dict[str, set[str]] = {pocket.name: set() for pocket in document.pockets}

    def join(*names: str) -> None:
        together = [name for name in names if name in joined]
        for name in together:
            joined[name].update(together)

    for pocket in document.pockets:
        join(pocket.name, *pocket.opens_into)
    for tunnel in document.tunnels:
        join(tunnel.start, *tunnel.through, tunnel.into)
    for hole in document.holes:
        join(*hole.into)
    wire, grounded_in = document.ground_wire, document.bridge.grounded_in
    if wire is not None and grounded_in:
        join(wire.into, getattr(document.bridge, grounded_in))
    if document.jack is not None and document.jack.into in joined:
        reached, waiting = {document.jack.into}, [document.jack.into]
        while waiting:
            fresh = joined[waiting.pop()] - reached
            reached |= fresh
            waiting += fresh
        return [name for name in joined if name not in reached]
    return [name for name, others in joined.items() if not others - {name}]
