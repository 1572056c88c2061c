"""What mends a cut that went wrong: plugs as cutters make them, glues with their waits, what a saddle gains when turned.

All of it is common practice and has no source; each row and constant says so.
"""

from dataclasses import dataclass
from functools import cache

from scribeline.tables.published import rows

PLUG_WALL = 2.0
"""Wood of a plug or of the body to keep round a hole drilled anew beside an old one, mm (common practice, no source)."""

TURNED_SADDLE = 2.0
"""What a saddle turned round usually gains, mm (common practice, no source)."""

SEAM_COVER = 1.5
"""How far a ring or cover reaches beyond the seam that it hides, mm (common practice, no source)."""

PLUG_CAP = 6.0
"""Length of the side-grain plug that closes a deeper filling where it shows, mm (common practice, no source)."""

SCREW_UP = 0.6
"""How much thicker over its thread a screw must be to find fresh wood in a stripped hole, mm: about two gauges (common
practice, no source)."""

EPOXY_GAP = 1.0
"""The widest gap that epoxy round a part fills and holds, mm (common practice, no source)."""

VENEER_UP_TO = 3.0
"""Thickness up to which a wall or floor is made good with veneer or a strip; a block beyond, mm (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class PlugSize:
    """One plug.

    Attributes:
        diameter: mm.
        cut_with: the cutter that makes it.
    """

    diameter: float
    cut_with: str


@dataclass(frozen=True, slots=True)
class Glue:
    """How long a glued joint waits, hours.

    Attributes:
        words: the glue.
        clamp: in the clamps.
        machine: before it is drilled or routed.
        level: before it is levelled where a film of finish comes over it, at the least.
        level_at_most: likewise, after which no more is gained.
    """

    words: str
    clamp: float
    machine: float
    level: float
    level_at_most: float


@cache
def plug_sizes() -> tuple[PlugSize, ...]:
    """The plugs that plug cutters make, the smallest first."""
    return tuple(PlugSize(float(row["diameter_mm"]), row["cut_with"]) for row in rows("plugs.csv"))


@cache
def glue(key: str) -> Glue:
    """A glue by what it is for: `plug`, `veneer` or `epoxy`.

    Raises:
        LookupError: there is no such row.
    """
    for row in rows("glues.csv"):
        if row["key"] == key:
            hours = (float(row[name]) for name in ("clamp_h", "machine_h", "level_h", "level_most_h"))
            return Glue(row["words"], *hours)
    raise LookupError(f"no glue for {key}")
