"""Published data with its sources, and typed look-ups: timber, wood screws, strings, notes, paper, accuracies.

Each table is a CSV file whose column names carry the units and whose rows carry their source. A value
set down from memory, or worked out because no source prints it, says so in the look-up's result.
"""

from scribeline.tables.accuracies import Accuracies, Accuracy, usual_accuracies
from scribeline.tables.bearing import BEARING_SOURCE, bearing_across_grain, bearing_along_grain, pole_load
from scribeline.tables.bit_lengths import BIT_LENGTH_SOURCE, BitLength, bit_length
from scribeline.tables.drill_speeds import SPEED_SOURCE, drill_speed
from scribeline.tables.limits import LimitRow, LimitUnit, Worse, level_words, limit_rows
from scribeline.tables.mending import (
    EPOXY_GAP,
    PLUG_CAP,
    PLUG_WALL,
    SCREW_UP,
    SEAM_COVER,
    TURNED_SADDLE,
    VENEER_UP_TO,
    Glue,
    PlugSize,
    glue,
    plug_sizes,
)
from scribeline.tables.notes import note_hz, note_name, note_number
from scribeline.tables.paper import paper_size_mm
from scribeline.tables.published import UnknownName
from scribeline.tables.screw_holding import (
    END_GRAIN_SHARE,
    GRAVITY_CV,
    LAG_SOURCE,
    LATERAL_SOURCE,
    WITHDRAWAL_SOURCE,
    Lateral,
    lag_withdrawal_n,
    lateral,
    size_was_tested,
    withdrawal_n,
)
from scribeline.tables.string_sets import UsualSet, sets_like, usual_sets
from scribeline.tables.strings import (
    StringMaterial,
    music_wire_strength_mpa,
    string_material,
    string_material_names,
)
from scribeline.tables.timber import (
    HardnessClass,
    Timber,
    own_timber,
    timber,
    timber_names,
)
from scribeline.tables.wood_screws import WoodScrew, screw_diameter_mm, wood_screw

__all__ = [
    "BEARING_SOURCE",
    "BIT_LENGTH_SOURCE",
    "END_GRAIN_SHARE",
    "EPOXY_GAP",
    "GRAVITY_CV",
    "LAG_SOURCE",
    "LATERAL_SOURCE",
    "PLUG_CAP",
    "PLUG_WALL",
    "SCREW_UP",
    "SEAM_COVER",
    "SPEED_SOURCE",
    "TURNED_SADDLE",
    "VENEER_UP_TO",
    "WITHDRAWAL_SOURCE",
    "Accuracies",
    "Accuracy",
    "BitLength",
    "Glue",
    "HardnessClass",
    "Lateral",
    "LimitRow",
    "LimitUnit",
    "PlugSize",
    "StringMaterial",
    "Timber",
    "UnknownName",
    "UsualSet",
    "WoodScrew",
    "Worse",
    "bearing_across_grain",
    "bearing_along_grain",
    "bit_length",
    "drill_speed",
    "glue",
    "lag_withdrawal_n",
    "lateral",
    "level_words",
    "limit_rows",
    "music_wire_strength_mpa",
    "note_hz",
    "note_name",
    "note_number",
    "own_timber",
    "paper_size_mm",
    "plug_sizes",
    "pole_load",
    "screw_diameter_mm",
    "sets_like",
    "size_was_tested",
    "string_material",
    "string_material_names",
    "timber",
    "timber_names",
    "usual_accuracies",
    "usual_sets",
    "withdrawal_n",
    "wood_screw",
]
