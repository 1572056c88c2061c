"""Drill sizes against the sizes of ASME B94.11M, as GNU Units 2.22 gives them.

GNU Units (definitions.units, `drillgauge` and `drillA` to `drillZ`) lists the number sizes that are not on
a straight line between their neighbours and defines the others by that line. The standard itself was not
read. Fractional sizes are exact by definition.
"""

from fractions import Fraction

import pytest

from scribeline.lengths import LengthError, drill_size, drill_sizes, nearest_drills

NUMBERS_IN = {
    1: "0.228", 3: "0.213", 4: "0.209", 6: "0.204", 7: "0.201", 9: "0.196", 10: "0.1935", 16: "0.177",
    24: "0.152", 30: "0.1285", 31: "0.12", 39: "0.0995", 46: "0.081", 54: "0.055", 57: "0.043", 61: "0.039",
    69: "0.0292", 76: "0.02", 79: "0.0145",
}  # fmt: skip
LETTERS_IN = {
    "A": "0.234", "B": "0.238", "D": "0.246", "E": "0.25", "G": "0.261", "H": "0.266", "J": "0.277",
    "K": "0.281", "M": "0.295", "N": "0.302", "P": "0.323", "Q": "0.332", "S": "0.348", "T": "0.358",
    "V": "0.377", "W": "0.386", "Y": "0.404", "Z": "0.413",
}  # fmt: skip
# From memory of ASME B94.11M tables, for sizes GNU Units was not quoted on above.
FROM_MEMORY_IN = {
    "#2": "0.221", "#5": "0.2055", "#8": "0.199", "#21": "0.159", "#29": "0.136", "#36": "0.1065",
    "#43": "0.089", "#47": "0.0785", "#50": "0.07", "#53": "0.0595", "#60": "0.04", "#72": "0.025",
    "#80": "0.0135", "C": "0.242", "F": "0.257", "I": "0.272", "L": "0.29", "O": "0.316", "R": "0.339",
    "U": "0.368", "X": "0.397",
}  # fmt: skip


@pytest.mark.parametrize(("number", "inches"), NUMBERS_IN.items())
def test_number_drills(number: int, inches: str) -> None:
    drill = drill_size(f"#{number}")
    assert drill.series == "number"
    assert drill.exact_in == Fraction(inches)
    assert drill.diameter == float(Fraction(inches) * Fraction(127, 5))


@pytest.mark.parametrize(("letter", "inches"), LETTERS_IN.items())
def test_letter_drills(letter: str, inches: str) -> None:
    assert drill_size(letter).series == "letter"
    assert drill_size(letter).exact_in == Fraction(inches)


@pytest.mark.parametrize(("name", "inches"), FROM_MEMORY_IN.items())
def test_other_drills_from_memory(name: str, inches: str) -> None:
    assert drill_size(name).exact_in == Fraction(inches)


def test_rows_the_source_does_not_list_lie_on_the_line_between_those_it_does() -> None:
    # GNU Units: "linear between the rows it lists"; exact to 0.0001 in, so half of that is allowed.
    drills = {n: drill_size(f"#{n}") for n in range(1, 81)}
    listed = [n for n, drill in drills.items() if drill.listed]
    assert [n for n in drills if n not in listed] == [
        21,
        37,
        47,
        49,
        50,
        58,
        59,
        60,
        61,
        62,
        63,
        64,
        67,
        72,
        77,
    ]
    for n in set(drills) - set(listed):
        low, high = max(x for x in listed if x < n), min(x for x in listed if x > n)
        at_low, at_high, at_n = drills[low].exact_in, drills[high].exact_in, drills[n].exact_in
        assert at_low is not None
        assert at_high is not None
        assert at_n is not None
        line = at_low + (at_high - at_low) * Fraction(n - low, high - low)
        assert abs(at_n - line) <= Fraction(1, 20_000)


@pytest.mark.parametrize(("name", "mm"), [
    # Exact: n/64 x 25.4 mm.
    ("1/64 in", 0.396875), ("1/32 in", 0.79375), ("5/64 in", 1.984375), ("1/8 in", 3.175),
    ("5/16 in", 7.9375), ("31/64 in", 12.303125), ("63/64 in", 25.003125), ("1 in", 25.4),
])  # fmt: skip
def test_fractional_drills(name: str, mm: float) -> None:
    assert drill_size(name).series == "fractional"
    assert drill_size(name).diameter == mm


def test_every_series_is_complete() -> None:
    count = {
        s: sum(d.series == s for d in drill_sizes()) for s in ("number", "letter", "fractional", "metric")
    }
    # 126 metric sizes by tenths from 0.5 to 13.0, and 12 at .25 and 12 at .75.
    assert count == {"number": 80, "letter": 26, "fractional": 64, "metric": 150}
    assert all(drill.source for drill in drill_sizes())


def test_sizes_fall_with_the_number_and_rise_with_the_letter() -> None:
    numbers = [drill_size(f"#{n}").diameter for n in range(1, 81)]
    letters = [drill_size(letter).diameter for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ"]
    assert numbers == sorted(numbers, reverse=True)
    assert letters == sorted(letters)
    assert numbers[0] < letters[0]


def test_nearest_drills() -> None:
    # 2.572 mm: the hardwood lead hole of a gauge 6 wood screw. #39 is 2.5273 mm, #38 is 2.5781 mm.
    below, above = nearest_drills(2.572)
    assert (below, above) == (drill_size("#39"), drill_size("#38"))
    assert nearest_drills(2.572, ("metric",)) == (drill_size("2.5 mm"), drill_size("2.6 mm"))
    assert nearest_drills(6.35, ("fractional",)) == (drill_size("1/4 in"), drill_size("1/4 in"))
    assert nearest_drills(0.1) == (None, drill_size("#80"))
    assert nearest_drills(30) == (drill_size("1 in"), None)


@pytest.mark.parametrize("name", ["#81", "#0", "AA", "1/128 in", "13.1 mm", "", "5.05 mm"])
def test_drills_nobody_makes(name: str) -> None:
    with pytest.raises(LengthError, match="there is no drill"):
        drill_size(name)
