"""Lengths, angles and drill sizes as people write them: reading, printing, rounding to the rule in use.

Inside the program a length is a plain float of millimetres. This room is the door: it turns
`25 1/2"`, `5/16`, `647,7` or `#7` into millimetres exactly (one inch is 25.4 mm), and millimetres back
into text for the bench, never without the error that the rounding made. It reads or refuses; it does
not guess.
"""

from scribeline.lengths.drills import (
    MM_PER_INCH,
    DrillSeries,
    DrillSize,
    drill_size,
    drill_sizes,
    nearest_drills,
)
from scribeline.lengths.faults import LengthError, quoted, shown, visible
from scribeline.lengths.printing import (
    InchFraction,
    JobUnit,
    both_units,
    decimal,
    each_unit,
    inch_fraction,
    inch_text,
    job_unit,
    mm_text,
    own_unit,
    rounding_note,
    size_text,
    trimmed,
)
from scribeline.lengths.reading import Length, Unit, read_angle, read_gauge, read_length
from scribeline.lengths.said import (
    Bound,
    SaidError,
    Try,
    between,
    by,
    either_way,
    give_or_take,
    in_unit,
    no_less,
    no_more,
    pair,
    put,
    put_number,
    said,
    span,
    spot,
    tries_in,
    without_marks,
)
from scribeline.lengths.several import several

__all__ = [
    "MM_PER_INCH",
    "Bound",
    "DrillSeries",
    "DrillSize",
    "InchFraction",
    "JobUnit",
    "Length",
    "LengthError",
    "SaidError",
    "Try",
    "Unit",
    "between",
    "both_units",
    "by",
    "decimal",
    "drill_size",
    "drill_sizes",
    "each_unit",
    "either_way",
    "give_or_take",
    "in_unit",
    "inch_fraction",
    "inch_text",
    "job_unit",
    "mm_text",
    "nearest_drills",
    "no_less",
    "no_more",
    "own_unit",
    "pair",
    "put",
    "put_number",
    "quoted",
    "read_angle",
    "read_gauge",
    "read_length",
    "rounding_note",
    "said",
    "several",
    "shown",
    "size_text",
    "span",
    "spot",
    "tries_in",
    "trimmed",
    "visible",
    "without_marks",
]
