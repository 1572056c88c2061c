"""Pockets: outlines and islands as the router leaves them, and the recesses round cavities for their covers."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from math import degrees

from scribeline.features.cuts import Face, Feature, Pocket, Reason, Slope
from scribeline.features.rings import rounded, standing
from scribeline.job import Cut, Record, feature_id
from scribeline.layout import Layout, PocketPlace, Point, Ring, depth_before
from scribeline.lengths import trimmed
from scribeline.quantities import cos

COVER_RECESS = "cover recess"

WEDGE = 300.0
"""Length of a router's sled over which a wedge's thickness is told, mm (common practice, no source)."""


def glue_area(
    *,
    width_at_end: float,
    width_at_mouth: float,
    length: float,
    depth_at_end: float,
    depth_at_mouth: float,
    angle: float,
) -> float:
    """What holds a set neck by glue, mm²: the floor, as it leans by an angle, rad, and both cheeks."""
    floor = (width_at_end + width_at_mouth) / 2 * length / cos(angle)
    area: float = floor + (depth_at_end + depth_at_mouth) * length
    return area


def recess_name(pocket: str) -> str:
    """What the recess for a pocket's cover is called."""
    return f"{pocket} {COVER_RECESS}"


def make_pockets(layout: Layout) -> tuple[Pocket, ...]:
    """Every pocket, in the layout's order; a cover's recess before its cavity."""
    stated = ("", *(f"pockets[{n}]" for n in range(1, len(layout.pockets))))  # the neck's own comes first
    return tuple(
        replace(pocket, stated=key)
        for place, key in zip(layout.pockets, stated, strict=True)
        for pocket in _pockets(place)
    )


def routed(cut: Cut, planned: Feature | None) -> Pocket:
    """A pocket as it was routed, as deep as it was measured where it was.

    What it opens into and is called follows the job while the job has it.
    """
    assert cut.outline is not None
    assert cut.depth is not None
    return Pocket(
        id=cut.id,
        role=cut.role if planned is None else planned.role,
        face=cut.face,
        outline=Ring(Point(*place) for place in cut.outline),
        depth=cut.depth if cut.measured_depth is None else cut.measured_depth,
        corner_radius=cut.corner_radius,
        at_edge=cut.at_edge,
        meets=frozenset(cut.meets) if planned is None else planned.meets,
        islands=tuple(Ring(Point(*place) for place in island) for island in cut.islands),
        slope=None if cut.slope is None else Slope(cut.slope.angle, cut.slope.at),
    )


def as_routed(pockets: Iterable[Pocket], record: Record) -> tuple[Pocket, ...]:
    """The pockets that holes are made for: those that are routed already as they were routed."""
    made = record.made_pockets
    return tuple(
        replace(routed(made[pocket.id], pocket), why=pocket.why) if pocket.id in made else pocket
        for pocket in pockets
    )


def _pockets(place: PocketPlace) -> Iterator[Pocket]:
    outline = rounded(place.outline, place.corner_radius, open_towards_nut=place.at_edge)
    face: Face = "back" if place.face == "back" else "top"
    cavity = Pocket(
        id=feature_id(place.name),
        role=place.name,
        face=face,
        outline=outline,
        depth=place.depth,
        corner_radius=place.corner_radius,
        at_edge=place.at_edge,
        meets=frozenset(map(feature_id, place.opens_into)),
        why=_why(place),
        islands=tuple(standing(island, place.corner_radius) for island in place.islands),
        slope=Slope(place.floor_angle, place.floor_at) if place.floor_angle else None,
    )
    if place.ledge is not None:
        yield Pocket(
            id=feature_id(recess_name(place.name)),
            role=recess_name(place.name),
            face=face,
            outline=rounded(place.outline, place.corner_radius, wider=place.ledge.width),
            depth=place.ledge.depth,
            corner_radius=place.corner_radius + place.ledge.width,
            meets=frozenset({cavity.id}),
            why=(
                Reason(
                    f"{place.ledge.width:.2f} mm wide all round the {cavity.in_words} and {place.ledge.depth:.2f} mm deep, as "
                    "the job states; its corners follow the cavity's"
                ),
            ),
        )
    yield cavity


def _why(place: PocketPlace) -> tuple[Reason, ...]:
    reasons = [Reason(f"{place.depth:.2f} mm deep from the {place.face}, as the job states")]
    if place.floor_angle:
        mouth = min(corner.x for corner in place.outline)
        at_mouth = depth_before(place.depth, place.floor_at - mouth, place.floor_angle)
        reasons.append(
            Reason(
                f"that is at its end wall: its floor leans back with the neck by {degrees(place.floor_angle):.2f}°, which makes "
                f"{at_mouth:.2f} mm at its mouth, {place.floor_at - mouth:.2f} mm before"
            )
        )
    if place.islands:
        left = "one island is" if len(place.islands) == 1 else f"{len(place.islands)} islands are"
        reasons.append(
            Reason(
                f"{left} left standing; the bit leaves outer corners sharp and rounds inner ones to "
                f"{trimmed(place.corner_radius)} mm"
            )
        )
    return tuple(reasons)
