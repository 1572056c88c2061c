"""What a string is: its pitch, its thickness and how it is made; and what that makes it weigh and resist.

A wound string's wrap adds mass and nothing else here: its turns lie side by side and open and close as the
string stretches or bends, so that only the core resists. That leaves out a small bending resistance from
turns rubbing on each other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite, pi, sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scribeline import tables
from scribeline.lengths import MM_PER_INCH, SaidError, said

Floats = NDArray[np.float64]
Construction = Literal["plain", "round-wound", "flat-wound"]
CoreShape = Literal["round", "hex"]

CONSTRUCTIONS: tuple[Construction, ...] = ("plain", "round-wound", "flat-wound")

_INCH = float(MM_PER_INCH)

# Plain wire: ASTM A228 allows ±0.0003 in from 0.010 to 0.028 in; a value anywhere between has width/√12.
# A wound string's finished thickness: ±0.0005 in, from memory.
_PLAIN_GAUGE_SD = 0.0003 * _INCH / sqrt(3)
_WOUND_GAUGE_SD = 0.0005 * _INCH / sqrt(3)

_STILL_NAMED = 20.0
"""So far from a note of twelve to the octave what sounds still goes by its name, cents (common practice, no source)."""

# Core of a wound string when nobody stated it: 0.0085 in + 0.19 × gauge, from memory of guitar and bass
# strings (0.013 to 0.014 in the core of an .026, 0.017 to 0.018 of an .046). No published table was found,
# so it carries a wide spread.
_CORE_OFFSET, _CORE_SLOPE = 0.0085 * _INCH, 0.19
_CORE_SD = {"round-wound": 0.07, "flat-wound": 0.10}

# Share of the wrap's ring that is metal. Round wire, turns touching: π/4 exactly (see `wound_mass`). Flat
# ribbon fills its ring but for the gaps between turns: from memory.
_FILL = {"plain": 0.0, "round-wound": pi / 4, "flat-wound": 0.95}
_FILL_SD = {"plain": 0.0, "round-wound": 0.03, "flat-wound": 0.05}


_PLAIN_UP_TO = 0.0205 * _INCH


class StringsError(SaidError):
    """Something about the strings cannot be; the message is a sentence for a person at a bench."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A number with its standard deviation and where it comes from."""

    value: float
    sd: float = 0.0
    source: str = "stated"


def estimate(value: float | Estimate, sd: float = 0.0, source: str = "stated") -> Estimate:
    """Give a bare number a spread; leave an estimate as it is."""
    return value if isinstance(value, Estimate) else Estimate(float(value), sd, source)


@dataclass(frozen=True, slots=True)
class StringSpec:
    """One string.

    Attributes:
        pitch: the open string's note (`E4`) or its frequency, Hz.
        gauge: thickness over all, mm.
        construction: "plain", "round-wound" or "flat-wound".
        core: core diameter of a wound string, mm (across the flats of a hexagonal one); None to estimate it.
        core_shape: section of a wound string's core.
        wrap: material of the wrap, a name in the table of string materials.
        mass_kg_m: measured mass per length, kg/m; wins over the mass worked out from the geometry.
        core_material: material of the core or of the plain string.
    """

    pitch: str | float
    gauge: float
    construction: Construction = "plain"
    core: float | Estimate | None = None
    core_shape: CoreShape = "hex"
    wrap: str = "nickel-plated steel"
    mass_kg_m: float | Estimate | None = None
    core_material: str = "music wire"

    def __post_init__(self) -> None:
        """Refuse what no string can be."""
        if self.construction not in CONSTRUCTIONS:
            raise StringsError(
                f'"{self.construction}" is not a construction; write plain, round-wound or flat-wound'
            )
        if not (isfinite(self.gauge) and self.gauge > 0):
            raise StringsError(
                f"the gauge of {self.name} is {said(self.gauge, None)}; a string has a thickness: give its gauge"
            )
        if not (isfinite(self.pitch_hz) and self.pitch_hz > 0):
            raise StringsError(
                f"{self.pitch} Hz is not a pitch; give a note such as E4, or a frequency over 0 Hz"
            )
        for material, role in ((self.core_material, "core"), (self.wrap, "wrap")):
            if tables.string_material(material).role != role:
                known = ", ".join(tables.string_material_names(role))
                raise StringsError(f"{material} is not a {role} material here; known are {known}")
        self._check_core()
        if self.mass_kg_m is not None and not estimate(self.mass_kg_m).value > 0:
            raise StringsError(
                f"the measured mass of {self.name} must be over 0 kg/m; weigh a cut length on a scale"
            )

    def _check_core(self) -> None:
        if self.is_plain:
            if self.core is not None:
                raise StringsError(
                    f"{self.name} is plain and has no core; leave the core out or call it round-wound"
                )
            return
        core = self.core_estimate.value
        widest = core * (2 / sqrt(3) if self.core_shape == "hex" else 1.0)
        if not core > 0:
            raise StringsError(f"the core of {self.name} must be over 0 mm; measure it where the wrap ends")
        if widest >= self.gauge:
            raise StringsError(
                f"the core of {self.name} is {said(widest, 3)} at its widest and the string {said(self.gauge, 3)} over all: "
                "no room for the wrap; measure both again, or call it plain"
            )

    @property
    def is_plain(self) -> bool:
        """True for a string without a wrap."""
        return self.construction == "plain"

    @property
    def pitch_hz(self) -> float:
        """The open string's frequency, Hz."""
        return tables.note_hz(self.pitch) if isinstance(self.pitch, str) else float(self.pitch)

    @property
    def name(self) -> str:
        """The string in words: `E4 .010 plain`."""
        return f"{self.note_over()} {self.gauge_said} {self.construction}"

    @property
    def gauge_said(self) -> str:
        """The gauge as players say it: `.010`."""
        return f"{self.gauge / _INCH:.3f}".removeprefix("0")

    def note_over(self, cents: float = 0.0) -> str:
        """What sounds so far over the open string: `A4`; what has no name among the twelve notes by its frequency, `365 Hz`.

        Args:
            cents: over the open string; 0 for that itself.
        """
        if not cents:
            return self.pitch if isinstance(self.pitch, str) else f"{self.pitch:g} Hz"
        semitones = round(cents / 100)
        if isinstance(self.pitch, str) and abs(cents - 100 * semitones) <= _STILL_NAMED:
            return tables.note_name(tables.note_number(self.pitch) + semitones)
        return f"{self.pitch_hz * 2 ** (cents / 1200):.4g} Hz"

    @property
    def gauge_sd(self) -> float:
        """Standard deviation of the gauge, mm."""
        return _PLAIN_GAUGE_SD if self.is_plain else _WOUND_GAUGE_SD

    @property
    def core_estimate(self) -> Estimate:
        """Core diameter with its spread, mm; a plain string is its own core."""
        if self.is_plain:
            return Estimate(self.gauge, self.gauge_sd, "the string itself")
        if self.core is not None:
            return estimate(self.core, sd=0.005, source="stated core, ±0.01 mm with a micrometer")
        core = _CORE_OFFSET + _CORE_SLOPE * self.gauge
        share = _CORE_SD[self.construction]
        return Estimate(
            core, share * core, "estimated from the gauge, from memory of guitar and bass strings"
        )


def usual_construction(gauge: float) -> Construction:
    """What a string of a gauge usually is when nobody says: plain under .0205 in, else round-wound (from memory).

    Plain thirds are sold up to .020 and wound ones from .018, so ask about those; say it was assumed.

    Args:
        gauge: thickness over all, mm.
    """
    return "plain" if gauge < _PLAIN_UP_TO else "round-wound"


@dataclass(frozen=True, slots=True)
class Making:
    """How each string of a set is made, as arrays over the strings: what no trial changes.

    Attributes:
        plain: True where the core is the whole string.
        area_factor: core area over diameter squared.
        bend_factor: core's second moment of area over diameter to the fourth.
        girth_factor: core's girth over its diameter.
        corner_factor: core's greatest width over its diameter.
        fill: share of the wrap's ring that is metal.
        measured_mass_kg_m: measured mass per length, kg/m; not a number where it is worked out.
    """

    plain: NDArray[np.bool_]
    area_factor: Floats
    bend_factor: Floats
    girth_factor: Floats
    corner_factor: Floats
    fill: Floats
    measured_mass_kg_m: Floats


def making(specs: Sequence[StringSpec]) -> Making:
    """Collect how the strings of a set are made.

    A hexagon of width w across the flats: area √3/2 w², second moment of area 5√3/144 w⁴ about any axis,
    girth 2√3 w, corner to corner 2/√3 w (plane geometry).
    """
    hexagonal = np.array([not s.is_plain and s.core_shape == "hex" for s in specs])
    return Making(
        plain=np.array([s.is_plain for s in specs]),
        area_factor=np.where(hexagonal, sqrt(3) / 2, pi / 4),
        bend_factor=np.where(hexagonal, 5 * sqrt(3) / 144, pi / 64),
        girth_factor=np.where(hexagonal, 2 * sqrt(3), pi),
        corner_factor=np.where(hexagonal, 2 / sqrt(3), 1.0),
        fill=np.array([_FILL[s.construction] for s in specs]),
        measured_mass_kg_m=np.array(
            [np.nan if s.mass_kg_m is None else estimate(s.mass_kg_m).value for s in specs]
        ),
    )


def fill_sd(spec: StringSpec) -> float:
    """Relative standard deviation of the wrap's metal: stretched or flattened wire, plating, loose turns."""
    return _FILL_SD[spec.construction]


def wound_mass(
    made: Making,
    gauge: Floats,
    core: Floats,
    *,
    core_density: Floats | float,
    wrap_density: Floats | float,
    packing: Floats | float = 1.0,
) -> Floats:
    """Mass per length from geometry, kg/m.

    The wrap is a helix of wire of diameter w = (gauge − core's greatest width) / 2 round a core of girth G.
    Its centreline has the length G + πw a turn, taken across. Turns that touch lie w apart square to the
    wire, so the helix climbs at the angle a with sin a = w / (G + πw) and the wire's length per length of
    string is 1 / sin a = (G + πw) / w. Wire of area π/4 w² then weighs π/4 ρ w (G + πw): the ring that the
    wrap occupies, π/4 full. A flat ribbon is the same ring, nearly full. The ellipse that a cut through the
    leaning wire shows is in this; what winding tension flattens is in the spread of `packing`.

    Args:
        made: how the strings are made.
        gauge: thickness over all, mm.
        core: core diameter, mm (not used for plain strings).
        core_density: kg/m³.
        wrap_density: kg/m³.
        packing: factor on the wrap's metal, 1 by geometry.
    """
    body = np.where(made.plain, gauge, core)
    wire = np.where(made.plain, 0.0, (gauge - made.corner_factor * body) / 2)
    ring = wire * (made.girth_factor * body + pi * wire)
    wrap = wrap_density * packing * made.fill * ring
    return np.asarray(1e-6 * (core_density * made.area_factor * body**2 + wrap), dtype=np.float64)
