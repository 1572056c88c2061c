"""Pilot holes of the screws that hold cavities' covers."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count

from scribeline.features.cuts import DOWN, UP, Bore
from scribeline.features.passing import floor_at, surface
from scribeline.features.pockets import recess_name
from scribeline.features.screw_pilots import driver, screw_pilot
from scribeline.job import EMPTY, Document, Record, feature_id
from scribeline.layout import Layout, Point, Point3


def cover_screws(document: Document, layout: Layout, record: Record = EMPTY) -> Iterator[Bore]:
    """The pilots of every cover, from the ledge's floor where it has one; they go with a recess that was found elsewhere."""
    places = {place.name: place for place in layout.pockets}
    number = count(1)
    for n, pocket in enumerate(document.pockets, start=1):
        if pocket.cover_screws is None:
            continue
        place, face = places[pocket.name], pocket.face
        # A recess's floor lies level, whatever is carved away over it; where that goes deeper, the screw starts there.
        floor = None if place.ledge is None else floor_at(layout, face, place.ledge.depth)
        screw = driver(pocket.cover_screws, pocket.cover_thickness, f"pockets[{n}].cover_screws")
        meets = frozenset() if place.ledge is None else frozenset({feature_id(recess_name(pocket.name))})
        recess = record.found.get(feature_id(recess_name(pocket.name))) if place.ledge is not None else None
        along, across = (0.0, 0.0) if recess is None else (recess.of("along")[0], recess.of("across")[0])
        for k, planned in enumerate(place.cover_screws, start=1):
            spot = Point(planned.x + along, planned.y + across)
            z = surface(layout, face, spot).z
            if floor is not None:
                z = min(z, floor) if face == "top" else max(z, floor)
            step, why = screw_pilot(document, screw, layout.timber_at(spot, z))
            yield Bore(
                id=f"cover-screw-{next(number)}",
                stated=f"pockets[{n}].cover_screws.places[{k}]",
                role=f"{pocket.name} cover screw pilot",
                group=f"{pocket.name} cover screws",
                face=face,
                at=Point3(spot.x, spot.y, z),
                axis=DOWN if face == "top" else UP,
                steps=(step,),
                meets=meets,
                why=why,
                screw=screw,
                holds=f"{pocket.name} cover screw",
            )
