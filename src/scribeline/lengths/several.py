"""Several lengths typed into one field: apart by commas or semicolons, and never two made of one by a decimal comma."""

from __future__ import annotations

import re

from scribeline.lengths.faults import LengthError, quoted

_APART = re.compile(r",\s+|,$")
_DOUBTFUL = re.compile(r"(?<![\w.,/#])(\d+),(\d+)(?![\d./])")


def several(text: str) -> list[str]:
    """The lengths of a list as they were typed, a decimal comma written as a point.

    A semicolon sets lengths apart wherever there is one, and so does a comma with a space behind it. A comma between two
    figures may be either: where semicolons part the list it is a decimal comma, and where one side has a decimal point,
    a fraction or a sign of its own it parts. Otherwise it is refused, because a bit too many drills a hole too large.

    Args:
        text: as typed.

    Raises:
        LengthError: a comma may part two lengths or stand within one.
    """
    if ";" in text:
        parts = [part for each in text.split(";") for part in _APART.split(each.strip())]
        return [re.sub(r"(?<=\d),(?=\d)", ".", part.strip()) for part in parts if part.strip()]
    found = []
    for part in _APART.split(text.strip()):
        doubtful = _DOUBTFUL.search(part)
        if doubtful is not None:
            whole, rest = doubtful[1], doubtful[2]
            raise LengthError(
                f"{quoted(part)} may be one length, {whole}.{rest}, or two, {whole} and {rest}: "
                f'write "{whole}.{rest}" for one, "{whole}, {rest}" with a space for two'
            )
        found += [each.strip() for each in part.split(",")]
    return [each for each in found if each]
