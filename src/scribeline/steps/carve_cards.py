"""Cards of a neck that is carved here: its channels, its fingerboard glued on, its back."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from scribeline.layout import Carve, Channel, blank_needed, carve_of, channels, curve_length, stations
from scribeline.lengths import said, span
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
    every, start = channels(bench.document), bench.document.nut.start("the nut's front")
    do = (
        _blank(bench),
        "Rout against a fence while the blank's sides are straight and square, from the face that takes the fingerboard. All "
        f"distances along are from {start}.",
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
    return (
        f"The neck takes a blank of {said(needed.length, 0)} by {said(needed.width, 0)} by {said(needed.thickness, 1)}, planed, "
        f"{needed.head}. Saw it rough and let it rest before you plane it."
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
    first, twelfth = (
        carve.station("fret-1", "fret 1", carve.first[0]),
        carve.station("fret-12", "fret 12", carve.twelfth[0]),
    )
    do = (
        f"Cut out the hollow templates and the side. Draw the centreline along the back. Leave the heel square from {said(high)} "
        f"on; its curve begins at {said(low)}.",
        "First a flat down to these thicknesses, board included: "
        + "; ".join(f"{each.name} {said(each.thickness)}" for each in every)
        + ". Join them with a straightedge.",
        f"Draw the facets' lines. Fret 1: {said(first.facet_down)} under the board on the sides, {said(first.facet_in)} from the "
        f"middle of the back. Fret 12: {said(twelfth.facet_down)}, {said(twelfth.facet_in)}. Straight between.",
        "Plane the facets, which just touch the finished back. Round off until every template closes, its shoulders at the glue "
        "line.",
        *_volute(carve),
        *_into_the_head(bench),
        "Measure often" + (": the rod lies under the middle." if _has_rod(bench) else "."),
    )
    asks = (
        Ask(first.id, first.name, first.thickness, first.thickness - _BACK, first.thickness + _BACK),
        Ask(
            twelfth.id,
            f"{twelfth.name}: {span(twelfth.thickness - _BACK, twelfth.thickness + _BACK)}",
            twelfth.thickness,
            twelfth.thickness - _BACK,
            twelfth.thickness + _BACK,
        ),
    )
    ask = "thickness with the board, over the middle beside the fret, by caliper; these are the limits at fret 1"
    gate = Gate.of_each(ask, asks)
    return Card.of(work, "Carve the neck's back", do, gate, on_the_neck(usual(work, DUST)))


def _has_rod(bench: Bench) -> bool:
    return any(each.across == 0 for each in channels(bench.document))


def _volute(carve: Carve) -> Iterator[str]:
    if carve.volute is not None:
        begins, ends = (
            f"{said(abs(end))} {'past' if end >= 0 else 'before'} the nut" for end in carve.volute.ends
        )
        yield f"Leave the volute, {said(carve.volute.height)} over the back in its middle, from {begins} to {ends}."


def _into_the_head(bench: Bench) -> Iterator[str]:
    head = bench.document.head
    if head is not None:
        yield (
            "Let the neck's back run into the head's as the side template shows; flat from "
            f"{said(curve_length(head))} beyond the nut on, along the head's face."
        )


KINDS: Mapping[Kind, Teller] = {
    "rout channels": _channels,
    "glue board": _board,
    "carve neck": _carve,
}
