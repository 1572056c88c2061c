"""Where everything sits: frets, strings, bridge, pockets, in one frame."""

from scribeline.layout.bench import Measurable, TwelfthReading, diagonals, measurables, twelfth_readings
from scribeline.layout.frets import equal_temperament, fret_distances, width_at
from scribeline.layout.instrument import (
    NECK_POCKET,
    Fret,
    GroundWirePlace,
    Layout,
    Margin,
    Plate,
    PocketPlace,
    StringPath,
    lay_out,
)
from scribeline.layout.paths import bridge_row, edge_margins, nut_slots, path_y
from scribeline.layout.points import Point, Point3, Ring, mirrored
from scribeline.layout.stringing import OWN_SET, Stringing, remedy_sets, saddles_of

__all__ = [
    "NECK_POCKET",
    "OWN_SET",
    "Fret",
    "GroundWirePlace",
    "Layout",
    "Margin",
    "Measurable",
    "Plate",
    "PocketPlace",
    "Point",
    "Point3",
    "Ring",
    "StringPath",
    "Stringing",
    "TwelfthReading",
    "bridge_row",
    "diagonals",
    "edge_margins",
    "equal_temperament",
    "fret_distances",
    "lay_out",
    "measurables",
    "mirrored",
    "nut_slots",
    "path_y",
    "remedy_sets",
    "saddles_of",
    "twelfth_readings",
    "width_at",
]
