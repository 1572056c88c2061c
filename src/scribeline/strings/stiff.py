"""The stiff string: tension, partials and inharmonicity for hinged, clamped and in-between ends.

A string that resists bending turns into its clamped end over a distance √(EI/T); what is beyond swings as if
the end were a hinge there. So the vibrating length is L' = L − 2e√(EI/T), e = 0 for hinged ends and 1 for
clamped ones, and

    f_n = n / (2L') · √(T/μ) · √(1 + B n²),   B = π² EI / (T L'²)

which for e = 0 is the hinged string of H. Fletcher, J. Acoust. Soc. Am. 36 (1964) 203 (Fletcher & Rossing,
The Physics of Musical Instruments, 2nd ed., section 2.18: B = π³ E d⁴ / (64 T L²) for a round wire), and for
e = 1 agrees with Morse's clamped string, f_n = n/(2L) √(T/μ) [1 + 2ε + (4 + n²π²/2) ε²], ε = √(EI/T)/L, in
every term that Morse keeps (form from memory).

Units: mm, N, N·mm², kg/m, Hz. Every function broadcasts.
"""

from __future__ import annotations

from math import pi
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from scribeline.strings.spec import Floats

_ROUNDS = 60


def _floats(value: Any) -> Floats:
    return np.asarray(value, dtype=np.float64)


def flexible_tension_n(pitch_hz: ArrayLike, mass_kg_m: ArrayLike, length: ArrayLike) -> Floats:
    """Tension of a string without stiffness, N: T = μ (2 L f)² (Mersenne's law)."""
    return 1e-6 * _floats(mass_kg_m) * (2 * _floats(length) * _floats(pitch_hz)) ** 2


def vibrating_length(
    length: ArrayLike, tension_n: ArrayLike, bend_n_mm2: ArrayLike, end_condition: ArrayLike = 0.0
) -> Floats:
    """Length that swings, mm: L − 2e √(EI/T)."""
    return _floats(length) - 2 * _floats(end_condition) * np.sqrt(_floats(bend_n_mm2) / _floats(tension_n))


def tension_n(
    pitch_hz: ArrayLike,
    mass_kg_m: ArrayLike,
    length: ArrayLike,
    bend_n_mm2: ArrayLike = 0.0,
    end_condition: ArrayLike = 0.0,
) -> Floats:
    """Tension that brings a stiff string's first partial to the pitch, N.

    Solves f² 4 μ L'² = T + π² EI / L'² with L' depending weakly on T. Where stiffness alone would sound
    higher than the pitch the result is not a number: no tension does it.

    Args:
        pitch_hz: fundamental of the open string, Hz.
        mass_kg_m: mass per length, kg/m.
        length: speaking length, mm.
        bend_n_mm2: bending stiffness EI, N·mm².
        end_condition: 0 hinged to 1 clamped.
    """
    pitch, mass, span, bend, end = (
        _floats(v) for v in (pitch_hz, mass_kg_m, length, bend_n_mm2, end_condition)
    )
    tension = flexible_tension_n(pitch, mass, span)
    for _ in range(_ROUNDS):
        before = tension
        swing = span - 2 * end * np.sqrt(bend / tension)
        shifted = flexible_tension_n(pitch, mass, swing) - pi**2 * bend / swing**2
        tension = np.where((shifted > 0) & (swing > 0), shifted, np.nan)
        # Each round leaves under a hundredth of the error of the one before: 1e-12 of the tension is left.
        if not np.any(np.abs(tension - before) > 1e-10 * before):
            break
    return tension


def inharmonicity(
    tension_n: ArrayLike, length: ArrayLike, bend_n_mm2: ArrayLike, end_condition: ArrayLike = 0.0
) -> Floats:
    """Inharmonicity B = π² EI / (T L'²); for hinged ends and a round wire π³ E d⁴ / (64 T L²)."""
    swing = vibrating_length(length, tension_n, bend_n_mm2, end_condition)
    return pi**2 * _floats(bend_n_mm2) / (_floats(tension_n) * swing**2)


def partial_hz(
    n: ArrayLike,
    tension_n: ArrayLike,
    mass_kg_m: ArrayLike,
    length: ArrayLike,
    *,
    bend_n_mm2: ArrayLike = 0.0,
    end_condition: ArrayLike = 0.0,
) -> Floats:
    """Frequency of partial n, Hz; see the formula at the head of this module.

    Args:
        n: number of the partial, 1 for the fundamental.
        tension_n: tension, N.
        mass_kg_m: mass per length, kg/m.
        length: speaking length, mm.
        bend_n_mm2: bending stiffness EI, N·mm².
        end_condition: 0 hinged to 1 clamped.
    """
    number, tension, bend = _floats(n), _floats(tension_n), _floats(bend_n_mm2)
    swing = vibrating_length(length, tension, bend, end_condition)
    stiff = np.sqrt(1 + number**2 * pi**2 * bend / (tension * swing**2))
    return 1e3 * number / (2 * swing) * np.sqrt(tension / _floats(mass_kg_m)) * stiff
