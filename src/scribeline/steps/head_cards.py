"""The head's cards: the tuners' holes, the screws of string trees."""

from __future__ import annotations

from collections.abc import Mapping
from math import degrees

from scribeline.features import Family
from scribeline.lengths import said
from scribeline.operations import Kind, Operation
from scribeline.steps.bench import Bench, Teller, within
from scribeline.steps.card import Card, Gate
from scribeline.steps.cautions import GLUE, on_the_neck, usual
from scribeline.steps.hole_cards import SCRAP_SCREW


def _scarf(bench: Bench, work: Operation) -> Card:
    """The joint that gives a head its angle."""
    head, place = bench.document.head, bench.layout.head
    assert head is not None
    assert head.stock is not None
    assert place is not None
    assert place.scarf is not None
    do = (
        f"Mark the cut across stock {said(head.stock)} thick: {said(place.scarf.flat)} along its face for a lean of "
        f"{degrees(head.angle):.1f}°. Saw beside the line, and plane both sawn faces as one, {said(place.scarf.face)} long, "
        "square across.",
        "Turn the piece that came off over and lay it beneath, so that both sawn faces run on in one plane. Try the lean with a "
        "bevel gauge before any glue.",
        "Wet glue lets the joint slide: drill two pins through waste wood first. "
        f"Glue {place.scarf.area / 100:.0f} cm², clamp it on a flat board with a stop at either end, and leave it as long as the "
        "glue's maker says.",
        f"Plane the head to {said(head.thickness)}. Keep the truss rod's channel off the joint's thin end.",
    )
    gate = within(
        "how thick the head is, with a caliper at its tip and beside the nut",
        head.thickness,
        0.3,
    )
    return Card.of(work, "Glue the head on with a scarf joint", do, gate, usual(work, GLUE))


def _tuners(bench: Bench, work: Operation) -> Card:
    bores = bench.bores(work)
    leaning = (
        ""
        if bench.document.head is None or not bench.document.head.angle
        else (" The face leans back: pack the head up until it lies flat on the table, face up.")
    )
    start = bench.document.nut.start("the nut's front")
    do = (
        f"Set out every hole along the head's face from {start}, and from the centreline. Check against the template.",
        f"Lay the head face up on scrap, so that the bit does not tear out behind.{leaning}",
        "Drill one, and try a tuner in it before the others.",
    )
    gate = Gate("every tuner goes in by hand, and its housing lies beside the next")
    cautions = on_the_neck(usual(work))
    return Card.of(work, "Drill the tuner holes", do, gate, cautions, *bench.places(bores))


def _trees(bench: Bench, work: Operation) -> Card:
    """The pilots of string trees' screws."""
    bores = bench.bores(work)
    do = (
        "Set out every place along the head's face from the nut's front, and from the centreline. Stretch a thread over the "
        "nut to each post: the tree stands over its strings.",
        "Lay the head face up and flat on the table. Set the stop: the head is thin here.",
        SCRAP_SCREW,
    )
    gate = within("depth of the first hole at full diameter", bench.step(work).depth, 0.5)
    return Card.of(
        work, "Drill the string trees' pilots", do, gate, on_the_neck(usual(work)), *bench.places(bores)
    )


HOLES: Mapping[Family, Teller] = {"tuner-hole": _tuners, "tree-screw": _trees}


def _head(bench: Bench, work: Operation) -> Card:
    return HOLES[work.family](bench, work) if work.family else _tuners(bench, work)


KINDS: Mapping[Kind, Teller] = {"drill head": _head, "glue head": _scarf}
