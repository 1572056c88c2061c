"""Named numbers: value, spread, unit, formula, inputs, source. See docs/quantities.md."""

from scribeline.quantities.formula import (
    FUNCTIONS,
    Formula,
    Term,
    atan2,
    ceil,
    cos,
    evaluated,
    exp2,
    floor,
    greatest,
    hypot,
    least,
    sin,
    sqrt,
    tan,
    written,
)
from scribeline.quantities.quantity import UNTOLD, Input, Quantities, Quantity, chain, worked
from scribeline.quantities.words import formula_words, value_words

__all__ = [
    "FUNCTIONS",
    "UNTOLD",
    "Formula",
    "Input",
    "Quantities",
    "Quantity",
    "Term",
    "atan2",
    "ceil",
    "chain",
    "cos",
    "evaluated",
    "exp2",
    "floor",
    "formula_words",
    "greatest",
    "hypot",
    "least",
    "sin",
    "sqrt",
    "tan",
    "value_words",
    "worked",
    "written",
]
