"""Holes and pockets made from the layout and the parts, with bits, pilots and depth stops."""

from scribeline.features.access import Access, drill_access
from scribeline.features.bits import DRIFT, Bit, choose_bit, drill_box, point_length
from scribeline.features.bridge_anchors import bridge_timber
from scribeline.features.bushings import PRESS, BushingHole, bushing_hole
from scribeline.features.controls import THREAD_SPARE, most_wood, roof_over
from scribeline.features.cuts import (
    DOWN,
    UP,
    Bore,
    Family,
    Feature,
    Pocket,
    Reason,
    Screw,
    Slope,
    Step,
    angle_from_face_deg,
    entry_ellipse,
    rows_along,
    shared_role,
    slope_deg,
    workpiece_of,
)
from scribeline.features.edge import END_GRAIN, Opening, edge_at, grain_of, jack_opening
from scribeline.features.head_holes import head_piece
from scribeline.features.holding import Hold, Holding, heel_lift, hold_of, holdings
from scribeline.features.locking import Moved, as_cut, in_words, lock
from scribeline.features.making import Features, make_features
from scribeline.features.meeting import wander
from scribeline.features.names import balloon, nearest_in_words, row_in_words, runs, slope_words, together
from scribeline.features.neck_inserts import HeelInsert, heel_insert, thread_ends
from scribeline.features.neck_screws import HeelScrew, heel_screw, neck_timber
from scribeline.features.passing import BREAK_OUT, covers, floor_z
from scribeline.features.pilots import (
    BENCH_SHARE,
    BENCH_SOURCE,
    HANDBOOK_SOURCE,
    PilotRule,
    pilot_rule,
)
from scribeline.features.plugs import Plug, plug_round
from scribeline.features.pockets import COVER_RECESS, WEDGE, glue_area
from scribeline.features.rings import arc_segments, first_wall, lies_over, polygon, rounded, standing, thinned
from scribeline.features.screws import driven
from scribeline.features.settings import Setting, alike, cutting_order, floor_under_mark, setting_of
from scribeline.features.speeds import bit_speed, hardest
from scribeline.features.string_holes import (
    FerruleFit,
    Row,
    ferrule_fit,
    ferrule_row,
    ferrules_of,
    meeting_overlap,
    off_row,
    string_bit,
    top_depth,
)
from scribeline.features.wall_screws import out_of_wood
from scribeline.features.workpiece import Workpiece, heel_outline, neck_piece

__all__ = [
    "BENCH_SHARE",
    "BENCH_SOURCE",
    "BREAK_OUT",
    "COVER_RECESS",
    "DOWN",
    "DRIFT",
    "END_GRAIN",
    "HANDBOOK_SOURCE",
    "PRESS",
    "THREAD_SPARE",
    "UP",
    "WEDGE",
    "Access",
    "Bit",
    "Bore",
    "BushingHole",
    "Family",
    "Feature",
    "Features",
    "FerruleFit",
    "HeelInsert",
    "HeelScrew",
    "Hold",
    "Holding",
    "Moved",
    "Opening",
    "PilotRule",
    "Plug",
    "Pocket",
    "Reason",
    "Row",
    "Screw",
    "Setting",
    "Slope",
    "Step",
    "Workpiece",
    "alike",
    "angle_from_face_deg",
    "arc_segments",
    "as_cut",
    "balloon",
    "bit_speed",
    "bridge_timber",
    "bushing_hole",
    "choose_bit",
    "covers",
    "cutting_order",
    "drill_access",
    "drill_box",
    "driven",
    "edge_at",
    "entry_ellipse",
    "ferrule_fit",
    "ferrule_row",
    "ferrules_of",
    "first_wall",
    "floor_under_mark",
    "floor_z",
    "glue_area",
    "grain_of",
    "hardest",
    "head_piece",
    "heel_insert",
    "heel_lift",
    "heel_outline",
    "heel_screw",
    "hold_of",
    "holdings",
    "in_words",
    "jack_opening",
    "lies_over",
    "lock",
    "make_features",
    "meeting_overlap",
    "most_wood",
    "nearest_in_words",
    "neck_piece",
    "neck_timber",
    "off_row",
    "out_of_wood",
    "pilot_rule",
    "plug_round",
    "point_length",
    "polygon",
    "roof_over",
    "rounded",
    "row_in_words",
    "rows_along",
    "runs",
    "setting_of",
    "shared_role",
    "slope_deg",
    "slope_words",
    "standing",
    "string_bit",
    "thinned",
    "thread_ends",
    "together",
    "top_depth",
    "wander",
    "workpiece_of",
]
