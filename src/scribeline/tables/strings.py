"""Materials of strings, and the strength of music wire.

Where published values of one material disagree, both ends are kept and the spread between them is carried.
"""

from dataclasses import dataclass
from functools import cache
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scribeline.lengths import MM_PER_INCH
from scribeline.tables.published import alike, rows, unknown

# 1 ksi = 1000 lbf/in2, 1 lbf = 4.4482216152605 N exactly.
_MPA_PER_KSI = 4448.2216152605 / 25.4**2

# Thicker than the table: S = A / d^m with m = 0.163 for ASTM A228 (A = 186 ksi in^m), as machine-design
# tables print it; it meets the table's last row (341 ksi at 0.024 in) to 1 ksi.
_THICKER_EXPONENT = 0.163


@dataclass(frozen=True, slots=True)
class StringMaterial:
    """A metal that strings are made of.

    Attributes:
        name: its name in the table.
        role: "core" for plain strings and cores, "wrap" for what is wound on them.
        density_kg_m3: density, kg/m³.
        density_sd_kg_m3: standard deviation of that, kg/m³.
        modulus_low_gpa: lowest published Young's modulus, GPa.
        modulus_high_gpa: highest published Young's modulus, GPa.
        density_source: where the density comes from.
        modulus_source: where the modulus comes from.
    """

    name: str
    role: str
    density_kg_m3: float
    density_sd_kg_m3: float
    modulus_low_gpa: float
    modulus_high_gpa: float
    density_source: str
    modulus_source: str

    @property
    def modulus_gpa(self) -> float:
        """Middle of the published range, GPa."""
        return (self.modulus_low_gpa + self.modulus_high_gpa) / 2

    @property
    def modulus_sd_gpa(self) -> float:
        """Standard deviation of a value anywhere in the published range: its width over √12, GPa."""
        return (self.modulus_high_gpa - self.modulus_low_gpa) / sqrt(12)


@cache
def _materials() -> dict[str, StringMaterial]:
    table = {}
    for row in rows("string_materials.csv"):
        table[row["material"]] = StringMaterial(
            name=row["material"],
            role=row["role"],
            density_kg_m3=float(row["density_kg_m3"]),
            density_sd_kg_m3=float(row["density_sd_kg_m3"]),
            modulus_low_gpa=float(row["modulus_low_gpa"]),
            modulus_high_gpa=float(row["modulus_high_gpa"]),
            density_source=row["density_source"],
            modulus_source=row["modulus_source"],
        )
    return table


def string_material_names(role: str | None = None) -> tuple[str, ...]:
    """Names in the table, all or those of one role ("core" or "wrap")."""
    return tuple(name for name, entry in _materials().items() if role in {None, entry.role})


def string_material(name: str) -> StringMaterial:
    """Look up a string material by its name.

    Args:
        name: as in the table, in any case: `nickel`, `Phosphor bronze`.

    Raises:
        UnknownName: no such material in the table.
    """
    wanted = " ".join(name.lower().split())
    found = _materials().get(wanted)
    if found is None:
        known = string_material_names()
        raise unknown("a string material", name, alike(name, known), f"known are {', '.join(known)}")
    return found


@cache
def _strength() -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    table = rows("music_wire.csv")
    diameter = np.array([float(row["diameter_in"]) for row in table]) * float(MM_PER_INCH)
    low = np.array([float(row["tensile_min_ksi"]) for row in table]) * _MPA_PER_KSI
    high = np.array([float(row["tensile_max_ksi"]) for row in table]) * _MPA_PER_KSI
    return diameter, low, high


def music_wire_strength_mpa(diameter: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Tensile strength limits of music wire, MPa: (least, greatest), each of the shape of `diameter`.

    ASTM A228, on the straight line between the table's diameters (0.004 to 0.024 in). Thicker wire falls
    as d^−0.163 from the last row, the exponent that machine-design tables give for A228. Thinner wire is
    held at the first row, which understates it.

    Args:
        diameter: wire diameter(s), mm.
    """
    d = np.asarray(diameter, dtype=np.float64)
    table, low, high = _strength()
    thicker = (np.maximum(d, table[-1]) / table[-1]) ** -_THICKER_EXPONENT
    return np.interp(d, table, low) * thicker, np.interp(d, table, high) * thicker
