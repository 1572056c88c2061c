"""Where everything sits: frets, strings, bridge, pockets, in one frame."""

from scribeline.layout.as_built import Held, HoleFit
from scribeline.layout.bench import (
    ALIKE,
    MARK_WORDS,
    SET_OUT,
    Measurable,
    TwelfthReading,
    diagonals,
    measurables,
    twelfth_readings,
)
from scribeline.layout.cut_places import NECK_POCKET, HolePlace, LedgePlace, PocketPlace, cavity_words
from scribeline.layout.datums import Datum, DatumId, Part, Reading
from scribeline.layout.edge import STEEPEST, EdgePlace, beside, edge_place, off_square
from scribeline.layout.frets import board_width, width_at
from scribeline.layout.heights import actions_at, crowns_over_body, saddle_heights
from scribeline.layout.instrument import (
    Fret,
    Layout,
    Margin,
    MassPlace,
    Plate,
    StringPath,
    lay_out,
)
from scribeline.layout.named import DATUMS, name_layout, same
from scribeline.layout.paths import bridge_row, edge_margins, nut_slots, path_y
from scribeline.layout.points import Point, Point3, Ring, mirrored
from scribeline.layout.shapes import ARCH, GROUND, HEEL, bevel_id, round_id, shapes_on, step_id
from scribeline.layout.sides import (
    ON_THE_CENTRELINE,
    across_words,
    heading_words,
    on_centreline,
    side_words,
)
from scribeline.layout.stringing import OWN_SET, Stringing, change_to, remedy_sets, saddles_of
from scribeline.layout.surfaces import (
    Area,
    Bevel,
    BodyForm,
    Contour,
    Layer,
    Stretched,
    along_profile,
    stretched,
)
from scribeline.layout.tunnels import TunnelPlace
from scribeline.strings import equal_temperament, fret_distances

__all__ = [
    "ALIKE",
    "ARCH",
    "DATUMS",
    "GROUND",
    "HEEL",
    "MARK_WORDS",
    "NECK_POCKET",
    "ON_THE_CENTRELINE",
    "OWN_SET",
    "SET_OUT",
    "STEEPEST",
    "Area",
    "Bevel",
    "BodyForm",
    "Contour",
    "Datum",
    "DatumId",
    "EdgePlace",
    "Fret",
    "Held",
    "HoleFit",
    "HolePlace",
    "Layer",
    "Layout",
    "LedgePlace",
    "Margin",
    "MassPlace",
    "Measurable",
    "Part",
    "Plate",
    "PocketPlace",
    "Point",
    "Point3",
    "Reading",
    "Ring",
    "Stretched",
    "StringPath",
    "Stringing",
    "TunnelPlace",
    "TwelfthReading",
    "across_words",
    "actions_at",
    "along_profile",
    "beside",
    "bevel_id",
    "board_width",
    "bridge_row",
    "cavity_words",
    "change_to",
    "crowns_over_body",
    "diagonals",
    "edge_margins",
    "edge_place",
    "equal_temperament",
    "fret_distances",
    "heading_words",
    "lay_out",
    "measurables",
    "mirrored",
    "name_layout",
    "nut_slots",
    "off_square",
    "on_centreline",
    "path_y",
    "remedy_sets",
    "round_id",
    "saddle_heights",
    "saddles_of",
    "same",
    "shapes_on",
    "side_words",
    "step_id",
    "stretched",
    "twelfth_readings",
    "width_at",
]
