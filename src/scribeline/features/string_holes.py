"""Strings through the body: the holes from the top, and the ferrules' from the back, that meet."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from scribeline.features.bits import Bit, choose_bit, drill_box
from scribeline.features.cuts import DOWN, Bore, Reason, Step
from scribeline.features.meeting import PIN_HOLD, TopDepth, asked_depth, kept_from_the_back, wander
from scribeline.features.pilots import BENCH_SOURCE
from scribeline.job import Document, Ferrules, Record
from scribeline.layout import Layout, Point3
from scribeline.lengths import trimmed

FERRULE_BIT_OFF = 0.5
"""A bit further than this from a ferrule's size is no choice at all, mm (common practice, no source)."""


def string_bit(document: Document) -> Bit:
    """The bit for the string holes: nearest the stated size that passes the plate, which is its guide."""
    guide = document.bridge.string_hole
    assert guide is not None  # asked only where the strings run through the body
    return choose_bit(
        drill_box(document.bits),
        document.string_holes.diameter,
        ("brad-point", "twist"),
        at_most=guide.mm,
        reach=document.bridge.plate_thickness.mm + _asked(document).mm,
        point_angle_rad=document.bits.point_angle,
    )


def _asked(document: Document) -> TopDepth:
    fit = ferrule_fit(document)
    return asked_depth(document, fit.depth, fit.body)


def top_depth(document: Document) -> TopDepth:
    """Full-diameter depth of the string holes from the top, and why."""
    return kept_from_the_back(document, _asked(document), string_bit(document))


def string_holes(document: Document, layout: Layout) -> Iterator[Bore]:
    """The string holes from the top; none while the plate has no place, or where the strings end in it."""
    guide = document.bridge.string_hole
    if layout.plate is None or guide is None or not layout.plate.string_holes:
        return
    bit, depth = string_bit(document), top_depth(document)
    under = document.body.thickness.mm - depth.mm - bit.point
    why = (
        Reason(
            f"bit: {bit.name}, the nearest to {document.string_holes.diameter:.2f} mm that passes the plate's "
            f"{guide.mm:.2f} mm hole, which guides it",
            BENCH_SOURCE,
        ),
        Reason(
            f"drilled part-way from the top, at full diameter: {depth.why}; the hole from the back meets it",
            BENCH_SOURCE,
        ),
        Reason(
            f"{under:.2f} mm of wood remain under the bit's point until then; the pin for the hole from the back stands "
            f"in {depth.mm:.1f} mm of straight hole and needs {PIN_HOLD * bit.diameter:.1f}",
            BENCH_SOURCE,
        ),
    )
    for number, place in enumerate(layout.plate.string_holes, start=1):
        yield Bore(
            id=f"string-hole-{number}",
            role="string hole",
            group="string holes",
            face="top",
            at=Point3(place.x, place.y, 0.0),
            axis=DOWN,
            steps=(Step(bit.diameter, depth.mm, bit),),
            meets=frozenset({f"ferrule-hole-{number}"}),
            why=(*why, *held_there(layout)),
        )


@dataclass(frozen=True, slots=True)
class FerruleFit:
    """What the back's holes are cut to, in bare wood, mm.

    Attributes:
        lip: wanted counterbore diameter.
        body: wanted bore diameter.
        counterbore: counterbore depth.
        depth: full-diameter depth of the bore from the bare back.
        film_in_hole: how much the finish narrows a hole, on the diameter.
    """

    lip: float
    body: float
    counterbore: float
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
    counterbore = counterbore_depth(ferrule.lip_height.mm, ferrule.recess, 0.0 if sprayed else finish.film)
    return FerruleFit(
        lip=hole_in_bare_wood(ferrule.lip_diameter.mm, narrowing),
        body=hole_in_bare_wood(ferrule.body_diameter.mm, narrowing),
        counterbore=counterbore,
        depth=ferrule_depth(counterbore, ferrule.body_length.mm, document.string_holes.relief),
        film_in_hole=narrowing,
    )


def counterbore_depth(lip: float, recess: float, film: float) -> float:
    """Depth for a ferrule's lip in bare wood, mm, where the film will raise the face round the hole."""
    return lip + recess - film


def ferrule_depth(counterbore: float, body: float, relief: float) -> float:
    """Depth of a ferrule's bore from the bare back, mm."""
    return counterbore + body + relief


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
    aside = wander(top_depth(document).mm, back, (string.drift, bit.drift))
    return aside, (bit.diameter - string.diameter) / 2


def held_there(layout: Layout) -> tuple[Reason, ...]:
    """Why what goes through the plate lies where it does, once drilled holes hold the plate."""
    if layout.held is None:
        return ()
    return (
        Reason(f"the plate stands where its drilled {layout.held.by} hold it (best fit, by least squares)"),
    )


def _axes(layout: Layout, record: Record) -> Iterator[tuple[Point3, Point3]]:
    """Each string hole's place on the back and its axis out of it: of the hole as drilled, else as planned."""
    assert layout.plate is not None
    drilled = record.made_holes
    for number, place in enumerate(layout.plate.string_holes, start=1):
        at, axis = Point3(place.x, place.y, 0.0), DOWN
        if (made := drilled.get(f"string-hole-{number}")) is not None and made.axis[2] < 0:
            at, axis = Point3(*made.at), Point3(*made.axis)
        run = (-layout.thickness - at.z) / axis.z
        yield Point3(at.x + run * axis.x, at.y + run * axis.y, -layout.thickness), axis


def ferrule_holes(document: Document, layout: Layout, record: Record) -> Iterator[Bore]:
    """The stepped holes from the back, each on its own string hole; none where there are no string holes."""
    if layout.plate is None or not layout.plate.string_holes:
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
    top = top_depth(document).mm
    overlap = passing_by(top, fit.depth, document.body.thickness.mm)
    aside, room = sideways(document, fit.depth, body)
    ferrule, finish = ferrules_of(document), document.finish
    film = (
        f"+ 2 × {trimmed(finish.film)} of finish in the hole"
        if fit.film_in_hole
        else f"the holes are masked, and {trimmed(finish.film)} mm of finish raises the face"
        if finish.film
        else "no finish"
    )
    why = (
        Reason(
            f"counterbore {fit.counterbore:.2f} mm deep in bare wood: lip {ferrule.lip_height.mm:.2f} + "
            f"{ferrule.recess:.2f} below the back; {film}; bit {lip.name} ({lip.diameter - fit.lip:+.2f} mm)"
        ),
        Reason(
            f"hole {fit.depth:.2f} mm deep: counterbore + ferrule {ferrule.body_length.mm:.2f} + relief "
            f"{document.string_holes.relief:.2f}; bit {body.name} ({body.diameter - fit.body:+.2f} mm)",
            BENCH_SOURCE,
        ),
        Reason(
            f"the two holes overlap by {overlap:.2f} mm: {top:.2f} from the top + {fit.depth:.2f} "
            f"from the back − {document.body.thickness.mm:.2f} of wood"
        ),
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
            steps=(Step(lip.diameter, max(0.0, fit.counterbore), lip), Step(body.diameter, fit.depth, body)),
            meets=frozenset({own}),
            why=(*why, Reason(f"it lies on string hole {number} as drilled"))
            if own in drilled
            else (*why, *held_there(layout)),
        )
