"""Numbers and formulas as people read them."""

from __future__ import annotations

import re

from scribeline.quantities.quantity import Quantity

_PLACES = {"mm": 3, "rad": 4, "N": 1, "°": 1}
"""Decimals by unit; of other units six figures are told."""


def value_words(each: Quantity) -> str:
    """A value with its unit and its standard deviation, as plain figures."""
    unit = f" {each.unit}" if each.unit else ""
    places = _PLACES.get(each.unit)
    value = f"{each.value:.6g}" if places is None else f"{each.value + 0.0:.{places}f}"
    if not each.sd or (places is not None and each.sd < 0.5 * 10**-places):
        return f"{value}{unit}"
    return (
        f"{value}{unit} (sd {each.sd:.3g})" if places is None else f"{value}{unit} (sd {each.sd:.{places}f})"
    )


def formula_words(text: str) -> str:
    """A formula as people write it."""
    text = text.replace(" ** ", "^").replace(" * ", " × ").replace(" - ", " − ")
    return re.sub(r"(?<![\w)])-", "−", text)
