"""Paper sizes: ISO 216 A and B series, ANSI A to E, and the common US sheets."""

from functools import cache

from scribeline.lengths import read_length
from scribeline.tables.published import alike, rows, unknown


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


def paper_names() -> tuple[str, ...]:
    """Every paper size known, by the name used on sheets."""
    return tuple(_papers())


def paper_size_mm(name: str) -> tuple[float, float]:
    """Size of a sheet held upright: width, then height, in mm.

    Args:
        name: `A4`, `B3`, `ANSI C`, `Letter`, `Legal`, `Tabloid`; capitals and spaces do not matter.

    Raises:
        UnknownName: No such size.
    """
    known = _spellings().get("".join(name.lower().replace("-", " ").split()))
    if known is None:
        raise unknown("a paper size", name, alike(name, _papers()), f"the sizes are {', '.join(_papers())}")
    return _papers()[known]
