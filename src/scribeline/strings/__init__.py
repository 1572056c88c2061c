"""Strings: from gauge and tuning to tension, pitch at every fret, and where the saddle goes.

Start at `StringSpec` and `Setup`. `predict` gives setbacks with their spread and whose doing it is,
`try_builds` many trial builds, `place_bridge` the window over several sets, `calibrate` a shop's own numbers,
`change_strings` what a new set does, `faults` what cannot be. `docs/strings.md` tells what the model leaves out.
"""

from scribeline.strings.calibration import Calibration, Record, Verdict, calibrate
from scribeline.strings.change import Balance, StringChange, Vibrato, change_strings, wanted
from scribeline.strings.faults import Fault, faults, gauge_text, refuse_faults
from scribeline.strings.fretting import (
    Board,
    Playing,
    Wires,
    bench_setback,
    clearances,
    fretted_cents,
    least_squares_setback,
    nut_and_saddle,
    octave_cents,
    open_length,
    open_tension_n,
    saddle_height,
)
from scribeline.strings.inputs import PRIOR, SHOP_KEYS, Criterion, Input, Problem, Setup, Shop, problem
from scribeline.strings.remedies import Remedy, Sets, remedies
from scribeline.strings.spec import (
    Estimate,
    Making,
    StringsError,
    StringSpec,
    estimate,
    making,
    usual_construction,
    wound_mass,
)
from scribeline.strings.spread import (
    NutCompensation,
    Prediction,
    Trials,
    compensate_nut,
    predict,
    try_builds,
    work_builds,
)
from scribeline.strings.stiff import (
    flexible_tension_n,
    inharmonicity,
    partial_hz,
    tension_n,
    vibrating_length,
)
from scribeline.strings.studs import Studs, place_studs
from scribeline.strings.window import Saddles, Wanted, Window, place_bridge

__all__ = [
    "PRIOR",
    "SHOP_KEYS",
    "Balance",
    "Board",
    "Calibration",
    "Criterion",
    "Estimate",
    "Fault",
    "Input",
    "Making",
    "NutCompensation",
    "Playing",
    "Prediction",
    "Problem",
    "Record",
    "Remedy",
    "Saddles",
    "Sets",
    "Setup",
    "Shop",
    "StringChange",
    "StringSpec",
    "StringsError",
    "Studs",
    "Trials",
    "Verdict",
    "Vibrato",
    "Wanted",
    "Window",
    "Wires",
    "bench_setback",
    "calibrate",
    "change_strings",
    "clearances",
    "compensate_nut",
    "estimate",
    "faults",
    "flexible_tension_n",
    "fretted_cents",
    "gauge_text",
    "inharmonicity",
    "least_squares_setback",
    "making",
    "nut_and_saddle",
    "octave_cents",
    "open_length",
    "open_tension_n",
    "partial_hz",
    "place_bridge",
    "place_studs",
    "predict",
    "problem",
    "refuse_faults",
    "remedies",
    "saddle_height",
    "tension_n",
    "try_builds",
    "usual_construction",
    "vibrating_length",
    "wanted",
    "work_builds",
    "wound_mass",
]
