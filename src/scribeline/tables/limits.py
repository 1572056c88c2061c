"""The limits that findings hold a plan against: each with its reason and source, and the range a builder may set.

One table for all of them. The rules that use them stand in `findings`; a job's own limits in `job`.
"""

from dataclasses import dataclass
from functools import cache
from typing import Literal, cast

from scribeline.lengths import said
from scribeline.tables.published import optional, rows

LimitUnit = Literal["mm", "times", "share", "deviations", "degrees"]
Worse = Literal["below", "above"]


@dataclass(frozen=True, slots=True)
class LimitRow:
    """One limit.

    Attributes:
        key: its name in a job file.
        what: what is held against it, in bench words.
        stop: level past which the work must not go on; None where the worst is a caution.
        caution: level past which it is told.
        unit: of the levels.
        worse: whether values below or above a level are the bad ones.
        least: smallest level a builder may set.
        most: largest level a builder may set.
        reason: why the levels are where they are.
        source: where they come from.
    """

    key: str
    what: str
    stop: float | None
    caution: float
    unit: LimitUnit
    worse: Worse
    least: float
    most: float
    reason: str
    source: str

    def levels(self) -> str:
        """The usual levels in words, such as `do not cut at 0.8 mm, caution at 1.5 mm`."""
        return level_words(self.stop, self.caution, self.unit)


def level_words(stop: float | None, caution: float, unit: LimitUnit) -> str:
    """Two levels in words, such as `do not cut at 0.8 mm, caution at 1.5 mm`."""

    def told(level: float) -> str:
        suffix = {"times": " times", "share": "", "deviations": " standard deviations", "degrees": "°"}
        return said(level, None) if unit == "mm" else f"{level:g}{suffix[unit]}"

    if stop is None:
        return f"caution at {told(caution)}"
    forbidden = f"do not cut at {told(stop)}"
    return forbidden if stop == caution else f"{forbidden}, caution at {told(caution)}"


def _row(row: dict[str, str]) -> LimitRow:
    return LimitRow(
        key=row["key"],
        what=row["what"],
        stop=optional(row["stop"]),
        caution=float(row["caution"]),
        unit=cast("LimitUnit", row["unit"]),
        worse=cast("Worse", row["worse"]),
        least=float(row["least"]),
        most=float(row["most"]),
        reason=row["reason"],
        source=row["source"],
    )


@cache
def limit_rows() -> dict[str, LimitRow]:
    """Every limit by its key, in the table's order."""
    return {row["key"]: _row(row) for row in rows("limits.csv")}
