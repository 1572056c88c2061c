"""Cards of a neck that is carved here: its channels, its fingerboard glued on, its back."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from scribeline.layout import Carve, Channel, blank_needed, carve_of, channels, stations
from scribeline.lengths import said
from scribeline.operations import Kind, Operation
from scribeline.steps.bench import Bench, Teller, within
from scribeline.steps.card import Ask, Card, Gate
from scribeline.steps.cautions import CLAMPS, DUST, GLUE, on_the_neck, usual

_FLOOR = 0.2
"""What a channel's depth may be off, mm (common practice, no source)."""

_BACK = 0.3
"""What the carved neck's thickness may be off, mm (common practice, no source)."""


def _carve_of(bench: Bench) -> Carve:
    carve = carve_of(bench.document, bench.layout)
    assert carve is not None  # no operation at the blank is made without one
    return carve


def _channels(bench: Bench, work: Operation) -> Card:
    """The channels, routed while the blank's sides are square."""
    every = channels(bench.document)
    do = (
        _blank(bench),
        "Rout against a fence while the blank's sides are straight and square, from the face that takes the fingerboard.",
        *(_one_channel(each) for each in every if each.across >= 0),
        _ends(bench, every),
        "Lay the rod in dry. It must go in by hand, and lie below the face.",
    )
    first = every[0]
    gate = within(
        f"depth of the {first.name}'s channel half-way along it, with the caliper's depth rod",
        first.depth,
        _FLOOR,
    )
    return Card.of(
        work,
        "Rout the channels under the fingerboard",
        (each for each in do if each),
        gate,
        on_the_neck(usual(work, DUST)),
    )


def _blank(bench: Bench) -> str:
    """The least blank, planed."""
    needed = blank_needed(bench.document, bench.layout, _carve_of(bench))
    head = (
        "with its head in one piece"
        if needed.has_head
        else "without its head: the job states none, so add what it needs"
    )
    return (
        f"The neck takes a blank of {said(needed.length, 0)} by {said(needed.width, 0)} by {said(needed.thickness, 1)}, planed, "
        f"{head}. Saw it rough and let it rest before you plane it."
    )


def _one_channel(each: Channel) -> str:
    what = f"{each.name}'s channel" if each.across == 0 else "two bars' channels"
    where = (
        "on the centreline"
        if each.across == 0
        else f"their middles {said(each.across)} to either side of the centreline"
    )
    deep = (
        f"{said(each.depth)} deep"
        if each.is_flat
        else f"{said(each.depth)} deep half-way and {said(each.depth_at_ends)} at both ends, curved evenly between: run the "
        "router on a bent batten"
    )
    low, high = each.ends
    start = f"from {said(low)}" if low >= 0 else f"from {said(-low)} before the nut"
    return f"The {what}: {said(2 * each.half)} wide, {deep}, {where}, {start} to {said(high)} from the nut."


def _ends(bench: Bench, every: tuple[Channel, ...]) -> str:
    access = bench.document.neck.rod_access
    if access is None or every[0].across:
        return ""
    end = "the head, behind the nut" if access == "head" else "the heel's end"
    return f"The rod is turned at {end}: let its channel run out there, wide enough for its nut and the key."


def _board(bench: Bench, work: Operation) -> Card:
    """The fingerboard glued on, over the rod."""
    every = channels(bench.document)
    do = (
        *_rod_in(every),
        "Drill for two pins through fret slots near both ends, for the board slides on wet glue.",
        "The board's nut end stands on the nut's line.",
        "Glue thinly, none over the rod, clamp from the middle outwards on a flat caul, and let it cure as long as the glue's "
        "maker says.",
        "Plane the neck's sides to the board's edges.",
    )
    gate = Gate(f"a {said(0.05)} feeler goes into no glue line along the board")
    return Card.of(work, "Glue the fingerboard on", do, gate, on_the_neck(usual(work, CLAMPS, GLUE)))


def _rod_in(every: tuple[Channel, ...]) -> Iterator[str]:
    rod = next((each for each in every if each.across == 0), None)
    if rod is not None:
        yield (
            "Lay the rod in, slack, its moving parts waxed."
            if rod.is_flat
            else "Lay the rod in, slack and waxed, and glue the curved strip over it, level with the face."
        )
    if any(each.across for each in every):
        yield "Glue the bars into their channels, level with the face. Sanding them makes dust that must not be breathed."


def _carve(bench: Bench, work: Operation) -> Card:
    """The back: flats to depth first, then facets, then round."""
    carve = _carve_of(bench)
    every = stations(carve, bench.layout)
    low, high = carve.curve
    do = (
        "Cut out the section templates and the side profile from the templates.",
        f"Draw the centreline along the back. Leave the heel square from {said(high)} from the nut on; its curve begins at "
        f"{said(low)}.",
        "First a flat: at each place below cut the back down until the neck is as thick as it says, then join the flats with a "
        "straightedge lengthways.",
        *(
            f"{each.name.capitalize()}, {said(each.along)} from the nut: {said(each.thickness)} with the board. Facet from "
            f"{said(each.facet_down)} under the board on the side to {said(each.facet_in)} from the middle of the back."
            for each in every
        ),
        "Then the facets: plane each flat between its two lines. They touch the finished back and no more.",
        "Then round off between facets and sides until every template closes on the back with its shoulders at the glue line.",
        *_volute(carve),
        "Measure the thickness often: what is off does not come back, and the rod lies under the middle.",
    )
    asks = tuple(
        Ask(each.id, each.name, each.thickness, each.thickness - _BACK, each.thickness + _BACK)
        for each in (
            carve.station("fret-1", "fret 1", carve.first[0]),
            carve.station("fret-12", "fret 12", carve.twelfth[0]),
        )
    )
    gate = Gate.of_each("thickness with the board, over the middle beside the fret, with a caliper", asks)
    return Card.of(work, "Carve the neck's back", do, gate, on_the_neck(usual(work, DUST)))


def _volute(carve: Carve) -> Iterator[str]:
    if carve.volute is not None:
        head_end, heel_end = carve.volute.ends
        yield (
            f"Leave the volute standing, {said(carve.volute.height)} over the back in its middle, from {said(-head_end)} on the "
            f"head's side of the nut to {said(heel_end)} past it."
        )


KINDS: Mapping[Kind, Teller] = {
    "rout channels": _channels,
    "glue board": _board,
    "carve neck": _carve,
}
