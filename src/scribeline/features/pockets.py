"""Pockets: outlines as the router leaves them."""

from __future__ import annotations

from scribeline.features.cuts import Pocket, Reason
from scribeline.features.rings import rounded
from scribeline.job import feature_id
from scribeline.layout import Layout, PocketPlace


def make_pockets(layout: Layout) -> tuple[Pocket, ...]:
    """Every pocket, in the layout's order."""
    return tuple(_pocket(place, layout) for place in layout.pockets)


def _pocket(place: PocketPlace, layout: Layout) -> Pocket:
    outline = rounded(place.outline, place.corner_radius, open_towards_nut=place.at_edge)
    wire, meets = layout.ground_wire, {feature_id(name) for name in place.opens_into}
    if wire is not None and wire.into == place.name:
        meets.add("ground-wire")
    return Pocket(
        id=feature_id(place.name),
        role=place.name,
        face="back" if place.face == "back" else "top",
        outline=outline,
        depth=place.depth,
        corner_radius=place.corner_radius,
        at_edge=place.at_edge,
        meets=frozenset(meets),
        why=(Reason(f"{place.depth:.2f} mm deep from the {place.face}, as stated in the job"),),
    )
