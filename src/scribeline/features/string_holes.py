"""Strings through the body: the holes from the top, and the ferrules' from the back, that meet."""

from __future__ import annotations

from collections.abc import Container, Iterator, Sequence
from dataclasses import dataclass
from math import dist, inf

import numpy as np

from scribeline.features.bits import DRIFT, Bit, choose_bit, drill_box
from scribeline.features.cuts import DOWN, Bore, Reason, Step
from scribeline.features.meeting import (
    PIN_HOLD,
    STOP_ERROR,
    asked_depth,
    kept_depth,
    level,
    stated_depth,
    wander,
)
from scribeline.features.pilots import BENCH_SOURCE
from scribeline.job import Document, Ferrules, Record
from scribeline.layout import Layout, Point3
from scribeline.lengths import trimmed
from scribeline.quantities import greatest

FERRULE_BIT_OFF = 0.5
"""A bit further than this from a ferrule's size is no choice at all, mm (common practice, no source)."""


IN_ROW = 0.05
"""Holes planned further than this off one straight line are no row that a fence could give, mm (common practice, no source)."""


def string_bit(document: Document) -> Bit:
    """The bit for the string holes: nearest the stated size that passes what guides it, where the bridge does."""
    guide = document.bridge.guide
    return choose_bit(
        drill_box(document.bits),
        document.string_holes.diameter,
        ("brad-point", "twist"),
        at_most=inf if guide is None else guide.mm,
        reach=document.bridge.guided_through + _asked(document),
        point_angle_rad=document.bits.point_angle,
    )


def _asked(document: Document) -> float:
    """The depth from the top that is stated, or that the meeting of the two bores asks for, mm."""
    wood, share = document.body.thickness, document.string_holes.top_share
    if share is not None:
        return stated_depth(share, wood.mm)
    fit = ferrule_fit(document)
    return asked_depth(
        wood=wood.mm,
        plus_minus=wood.plus_minus,
        back=fit.depth,
        overlap=level(document, "bores_meeting"),
        stop=STOP_ERROR,
        drift=DRIFT,
        diameter=document.string_holes.diameter,
        bore=fit.body,
        pin=PIN_HOLD,
    )


def top_depth(document: Document) -> float:
    """Full-diameter depth of the string holes from the top, mm; a stated one stands, whatever remains under its point."""
    asked = _asked(document)
    if document.string_holes.top_share is not None:
        return asked
    under = level(document, "bore_floor")
    return kept_depth(asked, document.body.thickness.mm, string_bit(document).point, under)


def _top_words(document: Document, depth: float) -> str:
    """Why the string holes go so deep."""
    if document.string_holes.top_share is not None:
        return "as deep as the job states, up to the next half millimetre; the hole from the back meets it"
    if depth < _asked(document):
        under = trimmed(level(document, "bore_floor"))
        return f"no deeper than leaves {under} mm of wood under the bit's point"
    return "so deep that the hole from the back is sure to meet it, and that a pin stands straight in it"


def string_holes(document: Document, layout: Layout) -> Iterator[Bore]:
    """The string holes from the top; none while the bridge has no place, or where the strings end in it."""
    if layout.bridge is None or not layout.bridge.string_ends:
        return
    guide, noun = document.bridge.guide, layout.bridge.noun
    bit, depth = string_bit(document), top_depth(document)
    why = (
        Reason(
            f"bit: {bit.name}, the nearest to {document.string_holes.diameter:.2f} mm"
            + ("" if guide is None else f" that passes the {noun}'s {guide.mm:.2f} mm hole, which guides it"),
            BENCH_SOURCE,
        ),
        Reason(f"drilled part-way from the top: {_top_words(document, depth)}", BENCH_SOURCE),
    )
    for number, place in enumerate(layout.bridge.string_ends, start=1):
        yield Bore(
            id=f"string-hole-{number}",
            role="string hole",
            group="string holes",
            face="top",
            at=Point3(place.x, place.y, 0.0),
            axis=DOWN,
            steps=(Step(bit.diameter, depth, bit),),
            meets=frozenset({f"ferrule-hole-{number}"}),
            why=(*why, *held_there(layout)),
        )


@dataclass(frozen=True, slots=True)
class FerruleFit:
    """What the back's holes are cut to, in bare wood, mm.

    Attributes:
        lip: wanted counterbore diameter.
        body: wanted bore diameter.
        counterbore: counterbore depth; less than nothing where the film makes up for more than it.
        cut: the same as it is drilled.
        depth: full-diameter depth of the bore from the bare back.
        film_in_hole: how much the finish narrows a hole, on the diameter.
    """

    lip: float
    body: float
    counterbore: float
    cut: float
    depth: float
    film_in_hole: float


def ferrules_of(document: Document) -> Ferrules:
    """The ferrules of an instrument whose strings run through the body; no other has any."""
    assert document.ferrules is not None
    return document.ferrules


def ferrule_fit(document: Document) -> FerruleFit:
    """Sizes of the back's holes with the finish film allowed for.

    A masked hole keeps its diameter while the face around it grows by the film, so the counterbore is cut
    that much shallower; a sprayed hole narrows by twice the film and its floor rises as the face does.
    """
    ferrule, finish = ferrules_of(document), document.finish
    sprayed = finish.holes == "sprayed"
    narrowing = 2 * finish.film if sprayed else 0.0
    lip, recess, film = ferrule.lip_height.mm, ferrule.recess, 0.0 if sprayed else finish.film
    return FerruleFit(
        lip=hole_in_bare_wood(ferrule.lip_diameter.mm, narrowing),
        body=hole_in_bare_wood(ferrule.body_diameter.mm, narrowing),
        counterbore=counterbore_depth(lip, recess, film),
        cut=counterbore_cut(lip, recess, film),
        depth=ferrule_depth(lip, recess, film, ferrule.body_length.mm, document.string_holes.relief),
        film_in_hole=narrowing,
    )


def counterbore_depth(lip: float, recess: float, film: float) -> float:
    """Depth for a ferrule's lip in bare wood, mm, where the film will raise the face round the hole."""
    return lip + recess - film


def counterbore_cut(lip: float, recess: float, film: float) -> float:
    """How deep a counterbore is drilled, mm: not at all where the film makes up for it."""
    return greatest(0.0, counterbore_depth(lip, recess, film))


def ferrule_depth(lip: float, recess: float, film: float, body: float, relief: float) -> float:
    """Depth of a ferrule's bore from the bare back, mm."""
    return counterbore_depth(lip, recess, film) + body + relief


def hole_in_bare_wood(size: float, film: float) -> float:
    """Diameter to cut, mm, of a hole that the film narrows by so much."""
    return size + film


def passing_by(top: float, back: float, wood: float) -> float:
    """By how much a bore from the top and one from the back pass each other, mm; negative: they miss."""
    return top + back - wood


def meeting_overlap(top: Bore, back: Bore) -> float:
    """By how much a bore from the top and the one from the back that meets it pass each other, mm; negative: they miss."""
    return back.along(back.deepest.depth).z - top.along(top.deepest.depth).z


def sideways(document: Document, back: float, bit: Bit) -> tuple[float, float]:
    """How far the two bores may part sideways, and how far they may before one stands out of the other, mm.

    Args:
        document: the job.
        back: depth of the bore from the back, mm.
        bit: that bores it.
    """
    string = string_bit(document)
    aside = wander(top_depth(document), back, (string.drift, bit.drift))
    return aside, (bit.diameter - string.diameter) / 2


@dataclass(frozen=True, slots=True)
class Row:
    """A straight row of ferrule holes, drilled along a fence.

    Attributes:
        names: ids of its holes, in order.
        across: unit vector square to the row, in the plane of the back.
        shares: how far along each hole lies, from 0 at the first to 1 at the last.
    """

    names: tuple[str, ...]
    across: tuple[float, float]
    shares: tuple[float, ...]


def ferrule_row(holes: Sequence[Bore], made: Container[str] = ()) -> Row | None:
    """The row that a fence can give ferrule holes.

    None where they are fewer than three, for two always lie in line, where they do not lie in line, and where one is made.
    """
    if len(holes) < 3 or any(bore.id in made for bore in holes):
        return None
    if max(map(abs, off_row([bore.at for bore in holes]))) > IN_ROW:
        return None
    places = [(bore.at.x, bore.at.y) for bore in holes]
    long = dist(places[0], places[-1])
    to_last = tuple(np.subtract(places[-1], places[0]) / long)
    across = (-to_last[1], to_last[0]) if to_last[1] < 0 else (to_last[1], -to_last[0])
    shares = [float(np.dot(np.subtract(each, places[0]), to_last)) / long for each in places]
    return Row(tuple(bore.id for bore in holes), across, tuple(shares))


def off_row(places: Sequence[Point3]) -> tuple[float, ...]:
    """How far each of three or more holes lies off the straight line that fits them best, mm; past it to the tail is more.

    The line is that of least squares, measured square to it: through the places' mean, along the direction in which they
    spread most (principal axis of their scatter).
    """
    at = np.array([(each.x, each.y) for each in places])
    from_mean = at - at.mean(axis=0)
    across = np.linalg.svd(from_mean)[2][1]
    return tuple(float(mm) for mm in from_mean @ (across if across[0] > 0 else -across))


def held_there(layout: Layout) -> tuple[Reason, ...]:
    """Why what goes with the bridge lies where it does, once drilled holes hold it."""
    if layout.held is None or layout.bridge is None:
        return ()
    return (
        Reason(
            f"the {layout.bridge.noun} stands where its drilled {layout.held.by} hold it (best fit, by least squares)"
        ),
    )


def _axes(layout: Layout, record: Record) -> Iterator[tuple[Point3, Point3]]:
    """Each string hole's place on the back and its axis out of it: of the hole as drilled, else as planned."""
    assert layout.bridge is not None
    drilled = record.made_holes
    for number, place in enumerate(layout.bridge.string_ends, start=1):
        at, axis = Point3(place.x, place.y, 0.0), DOWN
        if (made := drilled.get(f"string-hole-{number}")) is not None and made.axis[2] < 0:
            at, axis = Point3(*made.at), Point3(*made.axis)
        run = (-layout.thickness - at.z) / axis.z
        yield Point3(at.x + run * axis.x, at.y + run * axis.y, -layout.thickness), axis


def ferrule_holes(document: Document, layout: Layout, record: Record) -> Iterator[Bore]:
    """The stepped holes from the back, each on its own string hole; none where there are no string holes."""
    if layout.bridge is None or not layout.bridge.string_ends:
        return
    fit, box, angle = ferrule_fit(document), drill_box(document.bits), document.bits.point_angle
    lip = choose_bit(
        box,
        fit.lip,
        ("flat-bottomed", "brad-point"),
        at_least=fit.lip - FERRULE_BIT_OFF,
        at_most=fit.lip + FERRULE_BIT_OFF,
        point_angle_rad=angle,
    )
    body = choose_bit(
        box,
        fit.body,
        ("brad-point", "flat-bottomed", "twist"),
        at_least=fit.body - FERRULE_BIT_OFF,
        at_most=min(fit.body + FERRULE_BIT_OFF, lip.diameter - 0.2),
        reach=fit.depth,
        point_angle_rad=angle,
    )
    top = top_depth(document)
    overlap = passing_by(top, fit.depth, document.body.thickness.mm)
    aside, room = sideways(document, fit.depth, body)
    finish = document.finish
    film = (
        f"+ 2 × {trimmed(finish.film)} of finish in the hole"
        if fit.film_in_hole
        else f"the holes are masked, and {trimmed(finish.film)} mm of finish raises the face"
        if finish.film
        else "no finish"
    )
    why = (
        Reason(
            f"counterbore for the lip, in bare wood; {film}; bit {lip.name} ({lip.diameter - fit.lip:+.2f} mm)"
        ),
        Reason(
            f"hole for the ferrule's body and relief under it; bit {body.name} ({body.diameter - fit.body:+.2f} mm)",
            BENCH_SOURCE,
        ),
        Reason(f"the two holes overlap by {overlap:.2f} mm"),
        Reason(
            f"sideways they may miss each other by {aside:.2f} mm, the pin's error and the drift of both bits; the wider "
            f"hole has room for {room:.2f} mm",
            BENCH_SOURCE,
        ),
    )
    drilled = record.made_holes
    for number, (at, axis) in enumerate(_axes(layout, record), start=1):
        own = f"string-hole-{number}"
        yield Bore(
            id=f"ferrule-hole-{number}",
            role="ferrule hole",
            group="ferrule holes",
            face="back",
            at=at,
            axis=Point3(0.0 - axis.x, 0.0 - axis.y, -axis.z),
            steps=(Step(lip.diameter, fit.cut, lip), Step(body.diameter, fit.depth, body)),
            meets=frozenset({own}),
            why=(*why, Reason(f"it lies on string hole {number} as drilled"))
            if own in drilled
            else (*why, *held_there(layout)),
        )
