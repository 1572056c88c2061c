"""Lengths against the definition of the inch, hand arithmetic, and pint's unit conversions.

The inch is 25.4 mm exactly (international yard and pound agreement, 1959); the foot is 12 inches. Expected
fractions below are written out by hand, not computed.
"""

import math
from fractions import Fraction as F  # noqa: N817 - the table below is read by eye
from pathlib import Path

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scribeline.lengths import (
    Length,
    LengthError,
    Unit,
    both_units,
    inch_fraction,
    inch_text,
    mm_text,
    read_angle,
    read_gauge,
    read_length,
    rounding_note,
    several,
)

INCHES = [
    ('25 1/2"', F(51, 2)),
    ("25-1/2 in", F(51, 2)),
    ("25-1/2", F(51, 2)),
    ("25.5in", F(51, 2)),
    ("25,5 in", F(51, 2)),
    ("5/16", F(5, 16)),
    ("5 / 16 in.", F(5, 16)),
    ("1' 2 3/4\"", F(59, 4)),
    ("1'-2 3/4\"", F(59, 4)),
    ("1 ft 2 3/4 in", F(59, 4)),
    ("1ft. 2.75", F(59, 4)),
    ("1' - 2-3/4\"", F(59, 4)),
    ("2'", F(24)),
    ("1 1/2'", F(18)),
    ("3 feet", F(36)),
    (".009 in", F(9, 1000)),
    ("9 thou", F(9, 1000)),
    ('1/2 "', F(1, 2)),
    ("½", F(1, 2)),
    ("25½″", F(51, 2)),
    ("25 ½ in", F(51, 2)),
    ("25-½”", F(51, 2)),
    ("1′ 2¾″", F(59, 4)),
    ("1’ 2¾''", F(59, 4)),
    ("25–1/2 in", F(51, 2)),  # an en dash
    ("25\u00a01/2\u202fin", F(51, 2)),  # spaces that do not break
    ("25 1⁄2 IN", F(51, 2)),  # a fraction slash
    ("-1-7/16 in", F(-23, 16)),
    ("−3/8", F(-3, 8)),  # a true minus sign
    ("- 3/8 in", F(-3, 8)),
    ("+3/8 in", F(3, 8)),
    ("9/8 in", F(9, 8)),
    ("0 in", F(0)),
    ("1/3 in", F(1, 3)),
    # Number and letter drills: sizes of ASME B94.11M as given by GNU Units 2.22.
    ("#7", F(201, 1000)),
    ("# 7", F(201, 1000)),
    ("No. 7", F(201, 1000)),
    ("number 7 drill", F(201, 1000)),
    ("#80", F(135, 10_000)),
    ("letter K", F(281, 1000)),
    ("letter k", F(281, 1000)),
    ("K drill", F(281, 1000)),
    ("drill k", F(281, 1000)),
    ("K", F(281, 1000)),
]


@pytest.mark.parametrize(("typed", "inches"), INCHES)
def test_inches_are_read_exactly(typed: str, inches: F) -> None:
    length = read_length(typed)
    assert length == Length(float(inches * F(127, 5)), None, inches, typed)


@pytest.mark.parametrize(
    ("typed", "mm"),
    [
        ("647.7 mm", 647.7),
        ("647,7", 647.7),
        ("647.7", 647.7),
        ("647.7mm.", 647.7),
        ("64.77 cm", 647.7),
        ("0,6477 m", 647.7),
        ("647.7 millimetres", 647.7),
        ("0,125", 0.125),
        (",125", 0.125),
        ("1234,567 mm", 1234.567),  # four figures before the comma: no thousands mark stands there
        ("1,2345", 1.2345),
        (".5", 0.5),
        ("5.", 5.0),
        ("80 µm", 0.08),
        ("80 um", 0.08),
        ("1/2 mm", 0.5),
        ("-0.5 mm", -0.5),
        ("0", 0.0),
        ("42\u2009㎜", 42.0),
        ("1000 m", 1_000_000.0),  # the longest length read
    ],
)
def test_metric_lengths(typed: str, mm: float) -> None:
    assert read_length(typed) == Length(mm, None, None, typed)


@pytest.mark.parametrize(
    ("value", "unit", "mm", "inches"),
    [
        (25.5, "in", 647.7, F(51, 2)),
        ("25.5", "in", 647.7, F(51, 2)),
        (0.1, "in", 2.54, F(1, 10)),  # one tenth, not the float nearest to it
        (2, "ft", 609.6, F(24)),
        (64.77, "cm", 647.7, None),
        (1, "m", 1000.0, None),
        (-3, "mm", -3.0, None),
        ("5/16", "mm", 7.9375, F(5, 16)),  # a fraction is inches in a metric job too
        ("5/16", "cm", 7.9375, F(5, 16)),
        ("1/2", "ft", 12.7, F(1, 2)),
        ("10 mm", "in", 10.0, None),
    ],
)
def test_a_bare_number_takes_the_jobs_unit(
    value: str | float, unit: Unit, mm: float, inches: F | None
) -> None:
    length = read_length(value, unit=unit)
    assert (length.mm, length.exact_in) == (mm, inches)


@pytest.mark.parametrize(
    ("typed", "mm", "plus_minus_mm"),
    [
        ("5 1/2 +/- 1/64", 139.7, 0.396875),
        ("5 1/2 +/- 1/64 in", 139.7, 0.396875),
        ("5 1/2 +/- .01", 139.7, 0.254),
        ("42.5 mm ± 0.05", 42.5, 0.05),
        ("42.5 ± 0.05 mm", 42.5, 0.05),
        ("42,5±0,05", 42.5, 0.05),
        ("42.5 +- 0.05", 42.5, 0.05),
        ("42.5 mm +/− .002 in", 42.5, 0.0508),
        ("1 in ± 0.1 mm", 25.4, 0.1),
        ("#7 ± 0.02 mm", 5.1054, 0.02),
        ("-1.5 +/- 0", -1.5, 0.0),
    ],
)
def test_tolerances(typed: str, mm: float, plus_minus_mm: float) -> None:
    length = read_length(typed)
    assert (length.mm, length.plus_minus_mm) == (mm, plus_minus_mm)


REFUSED = [
    ("25 1/2/", "the fraction is not finished"),
    ("25 1/", "the fraction is not finished"),
    ("5/0", "nothing can be divided by 0"),
    ("1,234", "write 1.234 or 1234"),
    ("12,345 mm", "write 12.345 or 12345"),
    ("1,234.5", "leave out the thousands mark"),
    ("1.234,5", "leave out the thousands mark"),
    ("12 13 mm", "more than one length"),
    ("5 in 3 mm", "more than one length"),
    ("3-5 mm", "more than one length"),
    ("25 - 1/2", "the dash may be a minus"),
    ("25 -1/2", "the dash may be a minus"),
    ("1e3", "powers of ten are not read"),
    ("1.5/2", "decimals and a fraction"),
    ("5.5 1/2", "decimals and a fraction"),
    ("1 9/8", "the fraction after a whole number must be less than 1"),
    ("1 4/4", "the fraction after a whole number must be less than 1"),
    ("1' 12\"", "the inches after feet must be less than 12"),
    ("1' 14\"", "the inches after feet must be less than 12"),
    ("1.5' 2\"", "feet with a decimal part"),
    ("", "it is empty"),
    ("  ", "it is empty"),
    ("scale", "no number in it"),
    ("mm", "no number in it"),
    ("-0", "minus nothing"),
    ("-0 mm", "minus nothing"),
    ("-0/4", "minus nothing"),
    ("6 mil", "write thou or mm"),
    ("10 yd", '"yd" is no unit known here'),
    ("#0", "number drills run from #1 to #80"),
    ("#81", "number drills run from #1 to #80"),
    ("#7 mm", "it is not one number with one unit"),
    ("k", "write letter K"),
    ("nan", "no number in it"),
    ("inf mm", "no number in it"),
    ("5.5 ± 0.1 in", "give the length its own unit"),
    ("5 1/2 ± 0.1 mm", "give the length its own unit"),
    ("5 mm ± 1/64", "a fraction after ± needs its own unit"),
    ("#7 ± .001", "a ± on a drill size needs its own unit"),
    ("5 ± 1 ± 1", "more than one ±"),
    ("± 1", "a ± stands between"),
    ("5 ±", "a ± stands between"),
    ("5 ± -1", "no sign of its own"),
    ("1000.01 m", "over 1 km"),
    ("5000000", "over 1 km"),
    ("9" * 81, "too long"),
    ("٣ mm", "no number in it"),  # digits of another script
    (math.nan, "not a finite number"),
    (math.inf, "not a finite number"),
    (-0.0, "minus nothing"),
    (10**5000, "over 1 km"),
    (1e300, "over 1 km"),
    (True, "neither text nor a number"),
]


@pytest.mark.parametrize(
    ("value", "reason"), REFUSED, ids=lambda v: str(v)[:20] if not isinstance(v, int) else ""
)
def test_nonsense_gets_one_sentence(value: str | float, reason: str) -> None:
    with pytest.raises(LengthError) as caught:
        read_length(value)
    sentence = str(caught.value)
    assert reason in sentence
    assert sentence.startswith("cannot read ")
    assert sentence.endswith('write it like 12 19/32", 15/64 in, 44.4 mm or 44,4')
    assert "\n" not in sentence
    assert len(sentence) < 240


def test_a_unit_that_no_job_has_is_refused() -> None:
    with pytest.raises(LengthError, match="a job's unit is mm, cm, m, in or ft"):
        read_length("5", unit="yd")  # type: ignore[arg-type] # what a job file could say


@pytest.mark.parametrize(
    ("value", "inches"),
    [(".010", F(10, 1000)), ("10", F(10, 1000)), (10, F(10, 1000)), (0.010, F(10, 1000)),
     ("010", F(10, 1000)), ("46", F(46, 1000)), ("9.5", F(95, 10_000)),
     ("0.046 in", F(46, 1000)), ("42 thou", F(42, 1000)),
     (".007", F(7, 1000)), (140, F(140, 1000)), ("1/64", F(1, 64))],
)  # fmt: skip
def test_string_gauges_in_inches(value: str | float, inches: F) -> None:
    assert read_gauge(value).exact_in == inches
    assert read_gauge(value).mm == float(inches * F(127, 5))


@pytest.mark.parametrize(
    ("value", "mm"), [("0.25", 0.25), (0.18, 0.18), ("1,17 mm", 1.17), (3.5, 3.5), ("1", 1.0)]
)
def test_string_gauges_in_millimetres(value: str | float, mm: float) -> None:
    assert read_gauge(value) == Length(mm, None, None, str(value))


@pytest.mark.parametrize(
    "value", ["5", "0.15", ".001", "141", 0, -10, "0.2 in", "10 mm", "46w", "#46", "K", "", True]
)
def test_gauges_that_no_string_has(value: str | float) -> None:
    with pytest.raises(LengthError, match="as a string gauge"):
        read_gauge(value)


@pytest.mark.parametrize(
    ("value", "degrees"),
    [("26.6", 26.6), (26.6, 26.6), ("26.6 deg", 26.6), ("26,6°", 26.6), ("26° 30'", 26.5),
     ("26°30′", 26.5),     ("1° 30' 36\"", 1.51), ("2 degrees 15 min", 2.25), ("-3", -3.0), ("0", 0.0),
     ("3.141592653589793 rad", 180.0)],
)  # fmt: skip
def test_angles(value: str | float, degrees: float) -> None:
    # One part in 1e15 is the rounding of the last conversion.
    assert read_angle(value) == pytest.approx(math.pi * degrees / 180, rel=4e-16, abs=0)


@pytest.mark.parametrize(
    "value", ["26.5° 30'", "26 30'", "26° 60'", "26° 1.5' 3\"", "400", "1 rad 2'", "steep", math.nan]
)
def test_angles_that_are_refused(value: str | float) -> None:
    with pytest.raises(LengthError, match="as an angle"):
        read_angle(value)


# --- pint: an independent library of unit conversions -----------------------------------------------

UNITS: pint.UnitRegistry[float] = pint.UnitRegistry()
PINT_NAME = {"mm": "mm", "cm": "cm", "m": "m", "in": "inch", "ft": "foot", "thou": "thou", "µm": "micrometer"}


@given(
    hundredths=st.integers(min_value=1, max_value=100_000),
    unit=st.sampled_from(sorted(PINT_NAME)),
    negative=st.booleans(),
)
def test_units_agree_with_pint(hundredths: int, unit: str, negative: bool) -> None:
    number = ("-" if negative else "") + f"{hundredths / 100:.2f}"
    expected = UNITS.Quantity(float(number), PINT_NAME[unit]).to("mm").magnitude
    # pint multiplies floats, so its last place may differ from the exact value's.
    assert read_length(f"{number} {unit}").mm == pytest.approx(expected, rel=1e-12)


@given(degrees=st.integers(min_value=-360, max_value=360), minutes=st.integers(min_value=0, max_value=59))
def test_angles_agree_with_pint(degrees: int, minutes: int) -> None:
    if abs(degrees) == 360 or (degrees == 0 and minutes == 0):
        minutes = 0
    turned = UNITS.Quantity(abs(degrees), "degree") + UNITS.Quantity(minutes, "arcminute")
    expected = math.copysign(turned.to("radian").magnitude, degrees)
    assert read_angle(f"{degrees}° {minutes}'") == pytest.approx(expected, rel=1e-12, abs=1e-15)


@given(tenths=st.integers(min_value=-20_000, max_value=20_000))
def test_decimal_inches_agree_with_pint(tenths: int) -> None:
    mm = tenths / 10
    inches = UNITS.Quantity(mm, "mm").to("inch").magnitude
    # 0.0005 in is half of the last place shown.
    assert abs(float(inch_text(mm).removesuffix(" in")) - inches) <= 0.0005 + 1e-9


# --- printing: hand arithmetic ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("mm", "denominator", "text", "error_mm"),
    [
        # A mark is 25.4/64 = 0.396875 mm; errors are shown minus true.
        (36.353, 64, "1-7/16 in", 36.5125 - 36.353),
        (162.473, 64, "6-25/64 in", 162.321875 - 162.473),
        (14.2, 64, "9/16 in", 14.2875 - 14.2),
        (14.2, 8, "1/2 in", 12.7 - 14.2),
        (25.4, 64, "1 in", 0.0),
        (0.1, 64, "0 in", -0.1),
        (-9.5, 64, "-3/8 in", -9.525 + 9.5),
        (-36.353, 16, "-1-7/16 in", -36.5125 + 36.353),
        (25.3, 32, "1 in", 0.1),
    ],
)
def test_fractions_carry_their_error(mm: float, denominator: int, text: str, error_mm: float) -> None:
    fraction = inch_fraction(mm, denominator)
    assert fraction.text == text
    assert fraction.error_mm == pytest.approx(error_mm, abs=1e-12)


@pytest.mark.parametrize("denominator", [0, 1, 2, 4, 10, 12, 128, -64])
def test_marks_that_no_rule_has(denominator: int) -> None:
    with pytest.raises(LengthError, match="8ths, 16ths, 32nds or 64ths"):
        inch_fraction(10, denominator)


def test_printed_texts() -> None:
    assert mm_text(14.2) == "14.20 mm"
    assert mm_text(-0.001) == "0.00 mm"
    assert mm_text(1234.5678, 1) == "1234.6 mm"
    assert inch_text(14.2) == "0.559 in"
    assert both_units(14.2) == ("14.20 mm", "9/16 in (+0.09)")
    assert both_units(25.4) == ("25.40 mm", "1 in")
    assert both_units(162.473, places=1, denominator=32) == ("162.5 mm", "6-13/32 in (+0.25)")


def test_rounding_that_eats_the_tolerance_is_told() -> None:
    # A third of ±0.3 mm is 0.1 mm.
    assert rounding_note(0.0999, 0.3) is None
    assert rounding_note(-0.0999, 0.3) is None
    note = rounding_note(-0.16, 0.3)
    assert note is not None
    assert "0.16 mm too short" in note
    assert "±0.3 mm" in note


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_not_finite_is_not_printed(value: float) -> None:
    for show in (mm_text, inch_text, inch_fraction):
        with pytest.raises(LengthError, match="not a length that can be printed"):
            show(value)


# --- the page for builders says what the program does -------------------------------------------------


def _rows_of(heading: str) -> list[list[str]]:
    page = Path(__file__).parents[2].joinpath("docs", "lengths.md").read_text(encoding="utf-8")
    section = page.split(f"## {heading}\n", 1)[1].split("\n## ", 1)[0]
    lines = [line for line in section.splitlines() if line.startswith("| `")]
    return [[cell.strip().strip("`") for cell in line.strip("|").split("|")] for line in lines]


@pytest.mark.parametrize("row", _rows_of("What you can write"), ids=lambda row: row[0])
def test_the_page_shows_what_is_read(row: list[str]) -> None:
    assert read_length(row[0]).mm == float(row[1])


@pytest.mark.parametrize("row", _rows_of("What is refused"), ids=lambda row: row[0])
def test_the_page_shows_what_is_refused(row: list[str]) -> None:
    with pytest.raises(LengthError):
        read_length(row[0])


@pytest.mark.parametrize(
    ("text", "lengths"),
    [
        ("6, 5", ["6", "5"]),
        ("6.5", ["6.5"]),
        ("6,5; 8", ["6.5", "8"]),
        ("6,5;8,5 mm;", ["6.5", "8.5 mm"]),
        ("2.5,3", ["2.5", "3"]),
        ("3,2.5, 4", ["3", "2.5", "4"]),
        ("15/64,3/8", ["15/64", "3/8"]),
        ("6 1/2,#7,9", ["6 1/2", "#7", "9"]),
        ("5, ", ["5"]),
        ("", []),
    ],
)
def test_several_lengths_are_told_apart(text: str, lengths: list[str]) -> None:
    assert several(text) == lengths


@pytest.mark.parametrize("text", ["6,5", "3, 6,5", "6,5,4", "6,5 mm", "310,20"])
def test_a_comma_between_two_figures_of_a_list_is_no_guess(text: str) -> None:
    with pytest.raises(LengthError, match=r'may be one length, .* or two, .*: write ".*" for one'):
        several(text)
