"""Wood screws by gauge number: thread diameter and root.

The diameter follows the rule of ASME B18.6.1. Roots are known for some gauges only; `WoodScrew.root_source` says how
each came about. A caliper across the root of the screw in hand is better than all of them.
"""

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from scribeline.lengths import MM_PER_INCH
from scribeline.tables.published import UnknownName, rows, unknown

# Wood Handbook FPL-GTR-190 ch. 8: "The root diameter for most sizes of screws averages about two-thirds
# the shank diameter."
_ROOT_TO_SHANK = Fraction(2, 3)


@dataclass(frozen=True, slots=True)
class WoodScrew:
    """One gauge of wood screw. Lengths in mm.

    Attributes:
        gauge: Gauge number.
        diameter: Basic diameter over the thread and of the shank.
        root: Diameter at the bottom of the thread: the middle of its limits, or the best there is.
        root_source: Where `root` comes from.
    """

    gauge: int
    diameter: float
    root: float
    root_source: str


def _mm(inches: Fraction) -> float:
    return float(inches * MM_PER_INCH)


def _diameter_in(gauge: int) -> Fraction:
    return Fraction(60 + 13 * gauge, 1000)


def _known_root_in(row: dict[str, str]) -> Fraction | None:
    if row["root_mid_in"]:
        return Fraction(row["root_mid_in"])
    if row["root_min_in"]:
        return (Fraction(row["root_min_in"]) + Fraction(row["root_max_in"])) / 2
    return None


def _root_in(gauge: int, known: dict[int, Fraction]) -> tuple[Fraction, str]:
    """Estimate the root of a gauge that no source gives."""
    below = max((g for g in known if g < gauge), default=None)
    above = min((g for g in known if g > gauge), default=None)
    if below is None or above is None:
        return (
            _ROOT_TO_SHANK * _diameter_in(gauge),
            "estimate: about two-thirds of the shank, Wood Handbook FPL-GTR-190 ch. 8",
        )
    # Two-thirds would put this gauge's root under that of the gauge below it.
    share = Fraction(gauge - below, above - below)
    root_in = known[below] + share * (known[above] - known[below])
    return root_in, f"estimate: on the line between gauges {below} and {above}"


def _wood_screw(row: dict[str, str], known: dict[int, Fraction]) -> WoodScrew:
    gauge = int(row["gauge"])
    root_in, root_source = (known[gauge], row["root_source"]) if gauge in known else _root_in(gauge, known)
    return WoodScrew(
        gauge=gauge,
        diameter=screw_diameter_mm(gauge),
        root=_mm(root_in),
        root_source=root_source,
    )


@cache
def _wood_screws() -> dict[int, WoodScrew]:
    table = rows("wood_screws.csv")
    roots = {int(row["gauge"]): _known_root_in(row) for row in table}
    known = {gauge: root for gauge, root in roots.items() if root is not None}
    return {int(row["gauge"]): _wood_screw(row, known) for row in table}


def wood_screw(gauge: int | str) -> WoodScrew:
    """Look up a wood screw by its gauge: `6`, `"#6"`, `"No. 6"`.

    Args:
        gauge: The gauge number.

    Raises:
        UnknownName: Wood screws are not made in that gauge, or it is not a gauge number.
    """
    screw = _wood_screws().get(_gauge_number(gauge))
    if screw is None:
        raise _unknown_gauge(gauge)
    return screw


def _gauge_number(gauge: int | str) -> int:
    match = re.fullmatch(r"(?:#|no\.?|gauge)?\s*([0-9]{1,2})", str(gauge).strip(), re.IGNORECASE | re.ASCII)
    if match is None or isinstance(gauge, bool):
        raise _unknown_gauge(gauge)
    return int(match[1])


def _unknown_gauge(gauge: int | str) -> UnknownName:
    made = ", ".join(str(known) for known in _wood_screws())
    return unknown("a wood screw gauge", str(gauge), (), f"wood screws are made in gauges {made}")


def screw_diameter_mm(gauge: int) -> float:
    """Basic diameter of a wood or machine screw from its gauge number.

    D = 0.060 in + 0.013 in * gauge (ASME B18.6.1; the same rule stands in GNU Units as `screwgauge`).

    Args:
        gauge: Gauge number, 0 to 24.

    Raises:
        UnknownName: The gauge lies outside 0 to 24.
    """
    if not 0 <= gauge <= 24:
        raise _unknown_gauge(gauge)
    return _mm(_diameter_in(gauge))
