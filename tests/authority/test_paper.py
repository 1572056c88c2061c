"""Paper against ISO 216 and ANSI sizes, as GNU Units 2.22 gives them, and against ISO 216's own rule."""

import math

import pytest

from scribeline.lengths import LengthError
from scribeline.tables import UnknownName, paper_size_mm
from scribeline.tables.paper import Roll, desk_paper, is_inch_paper, paper_name, read_paper
from scribeline.tables.published import rows

ISO_216_MM = {
    "A0": (841, 1189), "A1": (594, 841), "A2": (420, 594), "A3": (297, 420), "A4": (210, 297),
    "B0": (1000, 1414), "B1": (707, 1000), "B3": (353, 500),
}  # fmt: skip
US_IN = {
    "ANSI A": (8.5, 11), "ANSI B": (11, 17), "ANSI C": (17, 22), "ANSI D": (22, 34), "ANSI E": (34, 44),
    "Letter": (8.5, 11), "Legal": (8.5, 14), "Tabloid": (11, 17),
}  # fmt: skip


@pytest.mark.parametrize(("name", "size"), ISO_216_MM.items())
def test_iso_sizes(name: str, size: tuple[float, float]) -> None:
    assert paper_size_mm(name) == size


@pytest.mark.parametrize(("name", "size"), US_IN.items())
def test_us_sizes(name: str, size: tuple[float, float]) -> None:
    assert paper_size_mm(name) == pytest.approx((size[0] * 25.4, size[1] * 25.4), abs=1e-9)


@pytest.mark.parametrize("series", ["A", "B"])
def test_each_iso_size_is_the_one_above_cut_in_half(series: str) -> None:
    # ISO 216: halved across the long side, rounded down to a whole millimetre.
    for n in range(5):
        width, height = paper_size_mm(f"{series}{n}")
        assert paper_size_mm(f"{series}{n + 1}") == (math.floor(height / 2), width)


def test_a0_is_a_square_metre_and_b0_a_metre_wide() -> None:
    # ISO 216: A0 has 1 m2 with sides as 1 to the root of 2; whole millimetres leave 1 part in 1000.
    width, height = paper_size_mm("A0")
    assert width * height == pytest.approx(1e6, rel=1e-3)
    assert height / width == pytest.approx(math.sqrt(2), rel=1e-3)
    assert paper_size_mm("B0") == (1000, math.floor(1000 * math.sqrt(2)))


def test_every_sheet_is_upright() -> None:
    for name in (row["name"] for row in rows("paper.csv")):
        width, height = paper_size_mm(name)
        assert width < height


@pytest.mark.parametrize(
    ("typed", "name"), [("a4", "A4"), ("ANSI-d", "ANSI D"), ("ansi d", "ANSI D"), (" letter", "Letter")]
)
def test_ways_to_write_a_size(typed: str, name: str) -> None:
    assert paper_size_mm(typed) == paper_size_mm(name)


def test_unknown_sizes() -> None:
    with pytest.raises(UnknownName, match=r'"Leter" is not a paper size known here: did you mean Letter\?'):
        paper_size_mm("Leter")
    with pytest.raises(UnknownName, match="the sizes are A0, A1, "):
        paper_size_mm("foolscap")


@pytest.mark.parametrize(
    ("typed", "width", "name"),
    [
        ("610 mm", 610.0, "roll 610 mm"),
        ("roll 24 in", 24 * 25.4, "roll 24 in"),
        ("36 in", 914.4, "roll 36 in"),
        ("Roll 91.4 cm", 914.0, "roll 914 mm"),
    ],
)
def test_a_roll_goes_by_its_width(typed: str, width: float, name: str) -> None:
    """One inch is 25.4 mm exactly."""
    roll = read_paper(typed)
    assert isinstance(roll, Roll)
    assert roll.width == pytest.approx(width, abs=1e-9)
    assert roll.name == name
    assert read_paper(roll.name) == roll
    assert is_inch_paper(roll) == name.endswith(" in")


def test_a_bare_width_takes_the_jobs_unit() -> None:
    assert read_paper("24", unit="in") == read_paper("24 in")
    with pytest.raises(LengthError, match="24 mm wide cannot be used"):
        read_paper("24", unit="mm")


def test_what_a_desk_printer_takes_beside_each_paper() -> None:
    """Of the same family: ISO 216's A4, or ANSI A, which is Letter; what such a printer takes itself stays."""
    beside = {name: desk_paper(name) for name in (row["name"] for row in rows("paper.csv"))}
    same = {"A4", "ANSI A", "Letter", "Legal"}
    assert {name for name, desk in beside.items() if desk == name} == same
    assert {desk for name, desk in beside.items() if name[0] in "AB" and name[1].isdigit()} == {"A4"}
    assert beside["ANSI E"] == beside["Tabloid"] == desk_paper(read_paper("36 in")) == "Letter"
    assert desk_paper(read_paper("610 mm")) == "A4"


@pytest.mark.parametrize(
    ("size", "like", "words"),
    [
        ((210, 297), (), "A4 upright"),
        ((297.2, 209.9), (), "A4 lying"),  # a picture's size, to a dot
        ((279.4, 215.9), ("Letter",), "Letter lying"),
        ((279.4, 215.9), (), "ANSI A lying"),  # of the same size
        ((610, 1023.4), ("A4",), "610 × 1023 mm"),
    ],
)
def test_a_page_s_size_in_words(size: tuple[float, float], like: tuple[str, ...], words: str) -> None:
    assert paper_name(size, like=like) == words
