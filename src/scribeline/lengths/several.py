"""Several lengths typed into one field: never two made of one, nor one of two."""

from __future__ import annotations

import re
from itertools import pairwise

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


_UNIT_APART = re.compile(r"(?:mm|cm|m|in|inch|inches|ft|deg|[\"″′'°])")


def apart(text: str) -> tuple[str, ...]:
    """Readings in a row, spaces between them: a unit that stands apart goes with the number before it."""
    found: list[str] = []
    for each in text.split():
        if found and _UNIT_APART.fullmatch(each):
            found[-1] += f" {each}"
        else:
            found.append(each)
    return tuple(found)


_WHOLE, _FRACTION = re.compile(r"[+-]?\d+"), re.compile(r"\d+/\d+\D*")


def in_a_row(text: str) -> tuple[str, ...]:
    """Readings typed into one field: apart by commas, semicolons, line ends or spaces.

    Args:
        text: as typed.

    Raises:
        LengthError: it cannot be told where one ends and the next begins.
    """
    plain = re.sub(r"[\r\n]+", "; ", text.strip())
    if ";" in plain or ", " in plain or not re.search(r"\s", plain):
        return tuple(several(plain))
    found = apart(plain)
    for one, other in pairwise(found):
        if _WHOLE.fullmatch(one) and _FRACTION.fullmatch(other):
            raise LengthError(
                f"{quoted(f'{one} {other}')} may be one reading or two: put a comma and a space between the readings"
            )
    return found
