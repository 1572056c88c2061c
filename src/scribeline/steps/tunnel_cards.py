"""Cards of the wire holes: the guide block, the mark on the bit, what wood is left, and what to look for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Literal

from scribeline.features import Bore, Family, Pocket, balloon, entry_ellipse, nearest_in_words
from scribeline.layout import Layout, Point, Point3, cavity_words, heading_words
from scribeline.lengths import by, said
from scribeline.operations import Operation, open_face
from scribeline.solid import DRIFT
from scribeline.solid.tunnels import Course, Tunnel, angle_deg, to_wall
from scribeline.steps.bench import Bench, Teller, place_of
from scribeline.steps.card import Card, Gate, Place
from scribeline.steps.cautions import LONG_BIT, TILTED, usual


def _wire_hole(bench: Bench, work: Operation) -> Card:
    tunnel = next(each for each in bench.tunnels if each.place.id == work.features[0])
    (bore,), course = bench.bores(work), tunnel.course
    assert course is not None
    into = bench.features.led_to(tunnel.place)
    place = _place(bench, tunnel, bore, into)
    what = "ground-wire hole" if work.family == "ground-wire" else f"wire hole: {tunnel.place.name}"
    return Card.of(
        work,
        f"Drill the {what}",
        _do(bench, tunnel, bore, course, place),
        _gate(course, place, into),
        usual(work, TILTED if tunnel.place.start == "face" else LONG_BIT),
        place,
    )


def _place(bench: Bench, tunnel: Tunnel, bore: Bore, into: Pocket) -> Place:
    """Its two marks: where its axis goes in, and where it comes out of the wall it leads to."""
    layout = bench.layout

    def mark(at: Point3, face: Literal["top", "back"]) -> Place:
        return replace(place_of(layout, bore.id, balloon(bore.id), at), below=layout.below(face, at))

    start = mark(bore.at, "back" if open_face(bench.features, tunnel) == "back" else "top")
    if tunnel.place.start == "face":
        start = replace(start, below=None)
    return replace(start, out=mark(bore.along(to_wall(bore, into)), "back" if into.face == "back" else "top"))


def _do(bench: Bench, tunnel: Tunnel, bore: Bore, course: Course, mark: Place) -> Iterator[str]:
    place, layout, number = tunnel.place, bench.layout, mark.number
    face = open_face(bench.features, tunnel)
    if place.start == "face":
        if not place.under_plate:
            yield "Mark the outline of the part that hides the opening."
        where = f"on the {face}"
    else:
        where = (
            f"on the wall of the {cavity_words(place.pocket)}"
            if place.start == "pocket"
            else "on the body's edge"
        )
    yield (
        f"Mark {number} in with the awl {where}, {number} out on the {face} over the wall of the {cavity_words(place.into)}. "
        "Join the marks."
    )
    slope = angle_deg(course) * (1 if face == "top" else -1)
    upright = f" ({90 - abs(slope):.1f}° off upright)" if place.start == "face" else ""
    lean = (
        f"level with the {face},"
        if abs(slope) < 0.05
        else f"{abs(slope):.1f}° from the {face}{upright}, {'down' if slope > 0 else 'up'}"
    )
    way = heading_words(course.axis[0], course.axis[1] * layout.treble)
    crossed = f", across the {' and the '.join(map(cavity_words, place.through))}" if place.through else ""
    yield f"Angle block for {step_words(bore)}: {lean} along the line, {way}{crossed}."
    if place.start != "face" and _falls_away(layout, bore.at, face):
        yield f"The {face} slopes here. Set the block on a straightedge and take the angle from level."
    length, width = entry_ellipse(bore)
    yield f"The bit first cuts an oval, {by(length, width, places=1)}."
    if place.start == "pocket":
        yield "Lay a strip of wood over the rim against the bit."
    yield (
        f"{said(course.bit_length, 0)} of bit must stand out (chuck of {said(tunnel.wants.chuck, None)} radius)."
        f"{_it_would_come_out(layout, tunnel)}"
    )
    yield f"Wood beside it: {said(course.cover, 1)} to {nearest_in_words(bench.features, course.nearest)}, drift taken off."


def _falls_away(layout: Layout, at: Point3, face: str) -> bool:
    """Whether a face was carved where a tunnel begins, so that nothing level is left to hold a block to."""
    over = Point(at.x, at.y)
    fall = layout.top_at(over) if face == "top" else layout.back_at(over) + layout.thickness
    return abs(fall) > 0.05


def _it_would_come_out(layout: Layout, tunnel: Tunnel) -> str:
    if tunnel.leaves is None:
        return ""
    where, far = tunnel.leaves
    side = "back" if abs(where.z + layout.thickness) < 0.01 else "top" if abs(where.z) < 0.01 else "edge"
    return f" At {said(far, 0)} it would come out of the {side}."


def step_words(bore: Bore) -> str:
    """The size of the hole in a guide block."""
    return said(bore.deepest.diameter, None)


def _gate(course: Course, mark: Place, into: Pocket) -> Gate:
    """The hole's middle in the wall, from the face the pocket is cut from."""
    assert mark.out is not None
    assert mark.out.below is not None
    depth = mark.out.below.mm
    rate = DRIFT if course.bit.drift is None else course.bit.drift
    doubt = max(1.0, rate * course.to_wall)
    return Gate(
        f"from the {into.face} down to the hole's centre; the whole hole opens in the wall of the {into.in_words}",
        depth,
        depth - doubt,
        depth + doubt,
    )


HOLES: Mapping[Family, Teller] = {"tunnel": _wire_hole, "ground-wire": _wire_hole}
