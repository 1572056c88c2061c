"""The head's card: the tuners' holes."""

from __future__ import annotations

from collections.abc import Mapping

from scribeline.features import Family
from scribeline.operations import Kind, Operation
from scribeline.steps.bench import Bench, Teller
from scribeline.steps.card import Card, Gate
from scribeline.steps.cautions import on_the_neck, usual


def _tuners(bench: Bench, work: Operation) -> Card:
    bores = bench.bores(work)
    leaning = (
        ""
        if bench.document.head is None or not bench.document.head.angle
        else (" The face leans back: pack the head up until it lies flat on the table, face up.")
    )
    do = (
        "Set out every hole along the head's face from the nut's front, and from the centreline. Check against the template.",
        f"Lay the head face up on scrap, so that the bit does not tear out behind.{leaning}",
        "Drill one, and try a tuner in it before the others.",
    )
    gate = Gate("every tuner goes in by hand, and its housing lies beside the next")
    cautions = on_the_neck(usual(work))
    return Card.of(work, "Drill the tuner holes", do, gate, cautions, *bench.places(bores))


HOLES: Mapping[Family, Teller] = {"tuner-hole": _tuners}

KINDS: Mapping[Kind, Teller] = {"drill head": _tuners}
