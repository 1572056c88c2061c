"""Figures in both units: millimetres with the inch fraction and its error smaller, in an inch job inches with millimetres."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    DIMENSION,
    LETTERING,
    Along,
    Dimension,
    Point,
    Text,
)
from scribeline.features import runs
from scribeline.layout import ON_THE_CENTRELINE, on_centreline
from scribeline.lengths import (
    UNITS,
    JobUnit,
    both_units,
    by_inches,
    decimals,
    each_unit,
    own_unit,
    unit_words,
)

Figure = tuple[str, str]
"""A value and its second unit."""
Cell = str | Figure
_MINUS = re.compile(r"(?<!\w)-(?=\d)")
Unit = JobUnit


def both_named(unit: Unit) -> str:
    """Which unit leads and which stands with it, for a heading."""
    return " with ".join(unit_words(unit))


def signed(mm: float, unit: Unit) -> Figure:
    """A length in both units with a typographic minus."""
    big, small = both_units(mm, unit)
    if by_inches(unit):
        return _MINUS.sub("−", big), _MINUS.sub("−", small)
    return big.replace("-", "−", 1) if mm < 0 else big, f"−{small[1:]}" if small.startswith("-") else small


def across(to_treble: float, unit: Unit) -> Figure:
    """A distance from the centreline, with the side in words."""
    if on_centreline(to_treble):
        return own_unit(0.0, unit), ON_THE_CENTRELINE
    big, small = both_units(abs(to_treble), unit)
    return f"{big} {'treble' if to_treble > 0 else 'bass'}", small


def between(low: float, high: float, unit: Unit) -> Figure:
    """From one length to another, as a caliper reads them in either unit."""
    pairs = zip(decimals(low, unit), decimals(high, unit), strict=True)
    own, second = (f"{least.rpartition(' ')[0]} to {most}".replace("-", "−") for least, most in pairs)
    return own, second


def bare(figure: Figure) -> Figure:
    """A figure without its unit, for a column whose heading names it."""
    return re.sub(rf" (?:{'|'.join(UNITS)})\b", "", figure[0]), figure[1]


def unnamed(figure: Figure) -> Figure:
    """A figure whose inches have no unit, for a table that names it once."""
    return figure[0], figure[1].replace(" in", "")


def short(mm: float, unit: Unit) -> str:
    """The job's unit with the other in brackets, for narrow columns."""
    first, second = in_both(mm, unit)
    return f"{first} ({second})"


def in_both(mm: float, unit: Unit) -> tuple[str, str]:
    """Millimetres and decimal inches, the job's first, without their names."""
    own, second = (words.rpartition(" ")[0] for words in decimals(mm, unit))
    return own, second


def units_named(unit: Unit) -> tuple[str, str]:
    """How a column of `short` names its units, and how one of the second unit alone is headed."""
    second = UNITS[unit].second
    return f"{unit} ({second})", "Decimal in" if by_inches(second) else second


def measured(
    a: Point, b: Point, at: Point, mm: float, along: Along, *, unit: Unit, ref: str = "", start: bool = False
) -> Dimension:
    """A dimension of `mm` between two points on paper."""
    big, small = each_unit(mm, unit)
    return Dimension(
        DIMENSION, a, b, at, big, small, along=along, outside="start" if start else "end", ref=ref
    )


def heading(text: str, at: Point) -> Text:
    """A heading above a table or a view; `at` is its base line's start."""
    return Text(LETTERING, at, text, ACTED_ON_LETTERING, bold=True)


def joined_roles(roles: Iterable[str]) -> str:
    """Several roles in few words: what all of them end in is said once ("volume and tone shaft hole")."""
    words = [role.split() for role in dict.fromkeys(roles)]
    alike = 0
    while (
        len(words) > 1 and alike < min(map(len, words)) - 1 and len({each[-1 - alike] for each in words}) == 1
    ):
        alike += 1
    heads = [" ".join(each[: len(each) - alike]) for each in words]
    whole = " and ".join(filter(None, (", ".join(heads[:-1]), heads[-1])))
    return " ".join((whole, *(words[0][-alike:] if alike else ())))


def stepped_names(numbers: Sequence[str], alone: str) -> str:
    """The numbers of a group ("S1 to S6") with their role of the group, or the one thing's own name."""
    if len(numbers) == 1:
        return alone
    role = alone.partition(" ")[2]
    return f"{runs(numbers)} {role.removesuffix('s')}s"
