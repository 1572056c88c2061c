"""Pilot holes of the screws that hold the bridge plate."""

from __future__ import annotations

from collections.abc import Iterator

from scribeline.features.cuts import DOWN, Bore
from scribeline.features.passing import surface
from scribeline.features.screw_pilots import driver, screw_pilot
from scribeline.features.string_holes import held_there
from scribeline.job import Document
from scribeline.layout import Layout


def bridge_screws(document: Document, layout: Layout) -> Iterator[Bore]:
    """The pilots of the bridge plate's screws; none while the plate has no place."""
    if layout.plate is None:
        return
    screw = driver(document.bridge_screw, document.bridge.plate_thickness.mm, "bridge_screw")
    step, why = screw_pilot(document, screw, document.body.timber)
    for number, place in enumerate(layout.plate.screws, start=1):
        yield Bore(
            id=f"bridge-screw-{number}",
            role="bridge screw pilot",
            group="bridge screws",
            face="top",
            at=surface(layout, "top", place),
            axis=DOWN,
            steps=(step,),
            why=(*why, *held_there(layout)),
            screw=screw,
            holds="bridge screw",
        )
