"""The slanting hole that leads the string ground from under the plate into a pocket."""

from __future__ import annotations

from collections.abc import Iterator
from math import asin, atan2, cos, degrees, hypot, sin, tan

from scribeline.features.bits import choose_bit, drill_box
from scribeline.features.cuts import Bore, Pocket, Reason, Step
from scribeline.features.passing import BREAK_OUT
from scribeline.features.rings import first_wall, lies_over
from scribeline.job import Document
from scribeline.layout import GroundWirePlace, Layout, Point3


def ground_wire(document: Document, layout: Layout, pockets: tuple[Pocket, ...]) -> Iterator[Bore]:
    """The angled hole, if its heading reaches the pocket's wall from outside; where it does not a finding says so."""
    wire = layout.ground_wire
    if wire is None:
        return
    hole = _to_the_wall(document, wire, next(pocket for pocket in pockets if pocket.role == wire.into))
    if hole is not None:
        yield hole


def _to_the_wall(document: Document, wire: GroundWirePlace, target: Pocket) -> Bore | None:
    if lies_over(wire.entry, target.outline):
        return None
    wall = first_wall(wire.entry, wire.heading, target.outline)
    if wall is None:
        return None
    run = hypot(wall.x - wire.entry.x, wall.y - wire.entry.y)
    to_wall = hypot(run, wire.lands)
    angle = atan2(wire.lands, run)
    axis = Point3(wire.heading.x * cos(angle), wire.heading.y * cos(angle), -sin(angle))
    bits = document.bits
    # A square-ended cylinder leaves a wall at a slant: its far side is through r·tan A after its axis. A bit's point
    # is half its diameter long at the most (60° included angle gives 0.87 D, and nobody drills wood with that).
    through = to_wall + wire.diameter / 2 * tan(angle) + BREAK_OUT
    bit = choose_bit(
        drill_box(bits),
        wire.diameter,
        ("brad-point", "twist"),
        reach=through + wire.diameter / 2,
        point_angle_rad=bits.point_angle,
    )
    depth = to_wall + bit.diameter / 2 * tan(angle) + BREAK_OUT
    outside = bits.chuck_radius * run / wire.lands
    return Bore(
        id="ground-wire",
        role="ground-wire hole",
        group="ground wire",
        face="top",
        at=Point3(wire.entry.x, wire.entry.y, 0.0),
        axis=axis,
        steps=(Step(bit.diameter, depth, bit),),
        meets=frozenset({target.id}),
        why=(
            Reason(
                f"angle from the face = atan({wire.lands:.2f} deep / {run:.2f} away) = {degrees(angle):.1f}°; "
                f"{90 - degrees(angle):.1f}° from upright"
            ),
            Reason(f"the axis reaches the wall of the {target.role} after {to_wall:.2f} mm"),
            Reason(
                f"first contact on the face is an ellipse {bit.diameter / (wire.lands / to_wall):.1f} mm long; "
                f"for a chuck of {bits.chuck_radius:g} mm radius to clear the face {outside:.0f} mm of the bit must still be "
                f"outside at full depth: {outside + depth + bit.point:.0f} mm from its point to the chuck"
            ),
        ),
    )


def angle_from_face_deg(bore: Bore) -> float:
    """Angle between a bore's axis and the surface it is cut from, degrees."""
    return degrees(asin(min(1.0, bore.angle_from_face_sine)))


def entry_ellipse(bore: Bore) -> tuple[float, float]:
    """Length and width of a bore's mouth on its face, mm: D/sin A along the heading, D across."""
    return bore.widest / bore.angle_from_face_sine, bore.widest
