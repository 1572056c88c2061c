"""Twist drill sizes: numbers, letters, fractional inch and metric.

Numbers and letters come from `drill_sizes.csv`, which names its source row by row. The other two
series follow rules and need no table: sixty-fourths of an inch from 1/64 to 1, exact by definition,
and metric sizes by tenths from 0.5 to 13 mm with the common quarters (1.25, 1.75 ... 12.75) between.
"""

from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import Literal

from scribeline.lengths.faults import LengthError, quoted

DrillSeries = Literal["number", "letter", "fractional", "metric"]

MM_PER_INCH = Fraction(127, 5)
"""The inch is 25.4 mm exactly (international yard and pound agreement of 1959)."""


@dataclass(frozen=True, slots=True)
class DrillSize:
    """One size of twist drill.

    Attributes:
        name: As written on the sheets: `#7`, `K`, `5/16 in`, `4.5 mm`.
        series: Which of the four series it belongs to.
        diameter: Nominal diameter in mm.
        exact_in: Nominal diameter in inches, exactly; None for metric sizes.
        listed: Whether the source lists this very row. False where the source defines it as the
            straight line between the rows it lists (exact to 0.0001 in).
        source: Where the diameter comes from.
    """

    name: str
    series: DrillSeries
    diameter: float
    exact_in: Fraction | None
    listed: bool
    source: str


def _inch_drill(name: str, series: DrillSeries, exact_in: Fraction, source: str, listed: bool) -> DrillSize:
    return DrillSize(name, series, float(exact_in * MM_PER_INCH), exact_in, listed, source)


def _numbers_and_letters() -> list[DrillSize]:
    # Imported here because most runs never ask for a number or letter drill.
    import csv
    from importlib.resources import files

    text = files("scribeline.lengths").joinpath("drill_sizes.csv").read_text(encoding="utf-8")
    drills = []
    for row in csv.DictReader(text.splitlines()):
        series: DrillSeries = "number" if row["series"] == "number" else "letter"
        name = f"#{row['size']}" if series == "number" else row["size"]
        exact_in = Fraction(row["diameter_in"])
        drills.append(_inch_drill(name, series, exact_in, row["source"], row["how"] == "listed"))
    return drills


def _fractional() -> list[DrillSize]:
    source = "sixty-fourths of an inch, exact by definition"
    sizes = (Fraction(n, 64) for n in range(1, 65))
    return [_inch_drill(f"{size} in", "fractional", size, source, True) for size in sizes]


def _metric() -> list[DrillSize]:
    source = "nominal size in millimetres"
    hundredths = {*range(50, 1301, 10), *range(125, 1300, 100), *range(175, 1300, 100)}
    sizes = (Fraction(n, 100) for n in sorted(hundredths))
    return [DrillSize(f"{float(size):g} mm", "metric", float(size), None, True, source) for size in sizes]


@cache
def drill_sizes() -> tuple[DrillSize, ...]:
    """Every drill size known, smallest first (number, letter, fractional and metric together)."""
    drills = [*_numbers_and_letters(), *_fractional(), *_metric()]
    return tuple(sorted(drills, key=lambda drill: drill.diameter))


@cache
def _by_name() -> dict[str, DrillSize]:
    return {drill.name: drill for drill in drill_sizes()}


def drill_size(name: str) -> DrillSize:
    """Look up one drill by its printed name.

    Args:
        name: `#7`, `K`, `5/16 in` or `4.5 mm`, exactly as `DrillSize.name` writes it.

    Raises:
        LengthError: There is no such size.
    """
    try:
        return _by_name()[name]
    except KeyError:
        raise LengthError(
            f"there is no drill {quoted(name)}: sizes run #1 to #80, A to Z, 1/64 in to 1 in, 0.5 mm to 13 mm"
        ) from None


def nearest_drills(
    diameter: float, series: tuple[DrillSeries, ...] = ("number", "letter", "fractional", "metric")
) -> tuple[DrillSize | None, DrillSize | None]:
    """Find the drills on either side of a diameter.

    Args:
        diameter: Wanted diameter in mm.
        series: The series to choose from, for a builder who owns only metric bits, say.

    Returns:
        The largest drill not over `diameter` and the smallest not under it, each None where the
        series end. Both are the same drill when one fits exactly.
    """
    below = above = None
    for drill in drill_sizes():
        if drill.series not in series:
            continue
        if drill.diameter <= diameter:
            below = drill
        if drill.diameter >= diameter:
            above = drill
            break
    return below, above
