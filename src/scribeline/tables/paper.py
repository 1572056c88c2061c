"""Paper sizes: ISO 216 A and B series, ANSI A to E, and the common US sheets; and paper from a roll."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache

from scribeline.lengths import JobUnit, LengthError, read_length
from scribeline.tables.published import alike, rows, unknown

_ROLL_WIDTHS = (200.0, 2000.0)
"""The narrowest and the widest roll that is believed, mm: the widest plotters take about 1.6 m (from memory)."""


@dataclass(frozen=True, slots=True)
class Roll:
    """Paper from a roll: cut to the length the drawing needs.

    Attributes:
        width: of the roll, mm.
        text: the width as it was typed, where it was.
    """

    width: float
    text: str = field(default="", compare=False)

    @property
    def name(self) -> str:
        """As a job file and a sheet write it: "roll 610 mm", "roll 24 in"."""
        return f"roll {self.text or f'{self.width:g} mm'}"


@cache
def _papers() -> dict[str, tuple[float, float]]:
    return {
        row["name"]: (
            read_length(f"{row['width']} {row['unit']}").mm,
            read_length(f"{row['height']} {row['unit']}").mm,
        )
        for row in rows("paper.csv")
    }


@cache
def _spellings() -> dict[str, str]:
    return {name.lower().replace(" ", ""): name for name in _papers()}


def paper_size_mm(name: str) -> tuple[float, float]:
    """Size of a sheet held upright: width, then height, in mm.

    Args:
        name: `A4`, `B3`, `ANSI C`, `Letter`, `Legal`, `Tabloid`; capitals and spaces do not matter.

    Raises:
        UnknownName: No such size.
    """
    return _papers()[_paper_name(name)]


def paper_name(size: tuple[float, float], *, like: tuple[str, ...] = ()) -> str:
    """A page's size in words: "A4 upright", "Letter lying", "610 × 1023 mm".

    Args:
        size: width and height, mm.
        like: names to be taken first where a size has several.
    """
    short, long = sorted(size)
    # Half a millimetre: paper is cut no truer (ISO 216 allows 1.5 mm on 150 to 600 mm, from memory).
    names = [
        name
        for name, (width, height) in _papers().items()
        if abs(width - short) < 0.5 and abs(height - long) < 0.5
    ]
    if not names:
        return f"{size[0]:.0f} × {size[1]:.0f} mm"
    name = next((each for each in like if each in names), names[0])
    return f"{name} {'upright' if size[0] < size[1] else 'lying'}"


def _paper_name(name: str) -> str:
    known = _spellings().get("".join(name.lower().replace("-", " ").split()))
    if known is None:
        sizes = f"the sizes are {', '.join(_papers())}; a roll is given by its width, such as 610 mm or 36 in"
        raise unknown("a paper size", name, alike(name, _papers()), sizes)
    return known


def read_paper(words: str, *, unit: JobUnit = "mm") -> str | Roll:
    """Read the paper somebody names: a size of the table by its own name, or a roll by its width.

    Args:
        words: `A4`, `letter`, `610 mm`, `roll 36 in`; capitals do not matter.
        unit: of a width without one.

    Returns:
        The size's name as the table has it, or the roll.

    Raises:
        UnknownName: No such size, and not a width either.
        LengthError: A roll whose width cannot be, or cannot be read.
    """
    first, _, rest = words.strip().partition(" ")
    is_roll = first.lower() == "roll"
    width = rest.strip() if is_roll else words.strip()
    if not is_roll and not width[:1].isdigit():
        return _paper_name(words)
    try:
        length = read_length(width, unit=unit)
    except LengthError as fault:
        raise LengthError(
            f"a roll of paper is given by its width, such as 610 mm or 36 in: {fault}"
        ) from fault
    low, high = _ROLL_WIDTHS
    if not low <= length.mm <= high:
        raise LengthError(
            f"a roll of paper {length.mm:g} mm wide cannot be used: rolls are {low:g} to {high:g} mm wide; write its "
            "width with its unit, such as 610 mm or 36 in"
        )
    inches = length.exact_in
    return Roll(length.mm, f"{length.mm:g} mm" if inches is None else f"{float(inches):g} in")


def is_inch_paper(paper: str | Roll) -> bool:
    """Report whether a paper is measured in inches: the ANSI and US sheets, and rolls sold by the inch."""
    if isinstance(paper, Roll):
        return paper.text.endswith(" in")
    return _in_inches()[_paper_name(paper)]


@cache
def _in_inches() -> dict[str, bool]:
    return {row["name"]: row["unit"] == "in" for row in rows("paper.csv")}


def desk_paper(paper: str | Roll) -> str:
    """The sheet a desk printer beside it takes, for what nobody wants larger: A4, or Letter where paper goes by inches.

    A4, Letter, ANSI A and Legal stay as they are.
    """
    usual = "Letter" if is_inch_paper(paper) else "A4"
    if isinstance(paper, Roll):
        return usual
    short, long = sorted(paper_size_mm(paper))
    fits = (
        short >= _DESK_SHORT[0]
        and long >= _DESK_LONG[0]
        and short <= _DESK_SHORT[1]
        and long <= _DESK_LONG[1]
    )
    return _paper_name(paper) if fits else usual


_DESK_SHORT, _DESK_LONG = (210.0, 220.0), (279.0, 360.0)
"""Short and long sides of the sheets a desk printer takes and our pages fit: A4, Letter, Legal, mm."""
