"""What holds for every length: reading undoes printing, exactness, and nothing but LengthError."""

import contextlib
import math
import re
from collections.abc import Callable
from fractions import Fraction
from typing import Any, Literal, cast

import numpy as np
import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from scribeline.lengths import (
    UNITS,
    DrillSize,
    LengthError,
    SaidError,
    ShopUnit,
    both_units,
    by,
    drill_sizes,
    either_way,
    give_or_take,
    in_a_row,
    in_unit,
    inch_fraction,
    inch_text,
    job_unit,
    mm_text,
    nearest_drills,
    no_less,
    no_more,
    pair,
    put,
    put_number,
    read_angle,
    read_gauge,
    read_length,
    rounding_note,
    said,
    span,
    spot,
    tries_in,
    unit_words,
    without_marks,
)

MM = st.floats(min_value=-5000, max_value=5000, allow_nan=False)
DENOMINATORS = st.sampled_from([8, 16, 32, 64])
MM_PER_INCH = Fraction(127, 5)

# Characters that lengths are made of, so that the search comes near to what is accepted.
LIKE_A_LENGTH = st.text(alphabet="0123456789 .,/-+'\"#mincftK½±°´″’–e\u00a0", max_size=16)
ANYTHING = st.one_of(
    st.text(),
    LIKE_A_LENGTH,
    st.floats(),
    st.integers(),
    st.booleans(),
    st.none(),
    st.binary(),
    st.lists(st.integers()),
)


def _refusal(read: Callable[[Any], object], value: object) -> str | None:
    try:
        read(value)
    except LengthError as error:
        return str(error)
    return None


@given(value=ANYTHING)
@example(value="letter \u212a")  # the Kelvin sign, which folds to a k
@example(value="1" + "0" * 5000)
@example(value="1/" + "0" * 70)
@example(value="\ud800")
@example(value=10**5000)
def test_bad_input_raises_nothing_but_length_errors(value: object) -> None:
    for read in (read_length, read_gauge, read_angle):
        sentence = _refusal(read, value)
        assert sentence is None or sentence.startswith("cannot read ")
        assert sentence is None or (sentence.isprintable() and len(sentence) < 300)


@given(typed=LIKE_A_LENGTH)
def test_what_is_read_is_finite_and_keeps_the_text(typed: str) -> None:
    with contextlib.suppress(LengthError):
        length = read_length(typed)
        assert math.isfinite(length.mm)
        assert length.text == typed
        assert length.plus_minus_mm is None or length.plus_minus_mm >= 0
        if length.exact_in is not None:
            assert length.mm == float(length.exact_in * MM_PER_INCH)


@given(mm=MM, denominator=DENOMINATORS)
def test_reading_undoes_printing_a_fraction(mm: float, denominator: int) -> None:
    fraction = inch_fraction(mm, denominator)
    again = read_length(fraction.text)
    shown = fraction.whole + Fraction(fraction.numerator, fraction.denominator)
    assert again.exact_in == shown
    assert fraction.denominator <= denominator
    assert math.gcd(fraction.numerator, fraction.denominator) == 1
    # The error stated is the error made ...
    assert Fraction(again.mm) - Fraction(mm) == pytest.approx(Fraction(fraction.error_mm), abs=1e-11)
    # ... and at most half a mark.
    assert abs(fraction.error_mm) <= 25.4 / denominator / 2 * (1 + 1e-12)


@given(mm=MM, denominator=DENOMINATORS)
def test_a_fraction_of_the_other_sign_is_the_mirror_image(mm: float, denominator: int) -> None:
    one, other = inch_fraction(mm, denominator), inch_fraction(-mm, denominator)
    assert (one.whole, one.numerator, one.denominator) == (-other.whole, -other.numerator, other.denominator)
    assert one.error_mm == -other.error_mm


@given(mm=MM)
def test_finer_marks_are_never_worse(mm: float) -> None:
    errors = [abs(inch_fraction(mm, denominator).error_mm) for denominator in (64, 32, 16, 8)]
    assert errors == sorted(errors)


@given(mm=MM, places=st.integers(min_value=0, max_value=4))
def test_reading_undoes_printing_decimals(mm: float, places: int) -> None:
    half_a_place = 0.5 * 10**-places
    assert abs(read_length(mm_text(mm, places)).mm - mm) <= half_a_place * (1 + 1e-9)
    assert abs(read_length(inch_text(mm, places)).mm - mm) <= 25.4 * half_a_place * (1 + 1e-9)


@given(mm=MM, denominator=DENOMINATORS)
def test_the_bracket_is_the_error_of_the_fraction_beside_it(mm: float, denominator: int) -> None:
    metric, inches = both_units(mm, denominator=denominator)
    fraction, _, bracket = inches.partition(" (")
    error = read_length(fraction).mm - mm
    assert metric == mm_text(mm)
    # Half of the last place shown; without a bracket the error is under that.
    assert abs(error - float(bracket.removesuffix(")") or 0)) <= 0.005 + 1e-9


def test_a_number_out_of_an_array_is_printed_like_any_other() -> None:
    assert mm_text(np.float64(12.345)) == mm_text(12.345)


@given(error_mm=st.floats(-10, 10), tolerance_mm=st.floats(min_value=1e-3, max_value=10))
def test_a_note_comes_only_past_a_third_of_the_tolerance(error_mm: float, tolerance_mm: float) -> None:
    assert (rounding_note(error_mm, tolerance_mm) is not None) == (abs(error_mm) > tolerance_mm / 3)


@given(tolerance_mm=st.sampled_from([0.0, -0.1, math.nan]))
def test_a_tolerance_of_nothing_is_refused(tolerance_mm: float) -> None:
    with pytest.raises(LengthError):
        rounding_note(0.1, tolerance_mm)


@given(
    whole=st.integers(min_value=0, max_value=99),
    denominator=st.sampled_from([2, 3, 4, 8, 10, 16, 32, 64]),
    data=st.data(),
    between=st.sampled_from([" ", "-", "\u2013", "\u00a0", "  "]),
    mark=st.sampled_from(["", '"', " in", "in", "″", "”", " inches", " IN."]),
)
def test_however_it_is_typed_a_fraction_is_exact(
    whole: int, denominator: int, data: st.DataObject, between: str, mark: str
) -> None:
    numerator = data.draw(st.integers(min_value=1, max_value=denominator - 1))
    length = read_length(f"{whole}{between}{numerator}/{denominator}{mark}")
    assert length.exact_in == whole + Fraction(numerator, denominator)


@given(
    whole=st.integers(min_value=0, max_value=3000),  # 3000 ft is still under the longest length, 1 km
    decimals=st.from_regex(r"[0-9]{1,6}", fullmatch=True),
    unit=st.sampled_from(["", " mm", "cm", " in", '"', " ft"]),
)
def test_a_decimal_comma_is_a_decimal_point(whole: int, decimals: str, unit: str) -> None:
    assume(len(decimals) != 3 or whole == 0 or whole > 999)
    point, comma = read_length(f"{whole}.{decimals}{unit}"), read_length(f"{whole},{decimals}{unit}")
    assert (point.mm, point.exact_in) == (comma.mm, comma.exact_in)


@given(whole=st.integers(min_value=1, max_value=999), decimals=st.from_regex(r"[0-9]{3}", fullmatch=True))
def test_what_may_be_a_thousands_mark_is_refused(whole: int, decimals: str) -> None:
    with pytest.raises(LengthError, match="thousands mark"):
        read_length(f"{whole},{decimals}")


@given(mm=MM.filter(lambda mm: abs(mm) >= 1e-4))  # smaller ones are written with a power of ten
def test_a_number_and_its_text_read_alike(mm: float) -> None:
    assert read_length(mm).mm == mm
    assert read_length(repr(mm)).mm == mm


@given(thousandths=st.integers(min_value=7, max_value=140))
def test_three_ways_to_write_a_gauge(thousandths: int) -> None:
    inches = f"{thousandths / 1000:.3f}"
    gauges = {read_gauge(typed).mm for typed in (thousandths, str(thousandths), inches, f"{inches} in")}
    assert gauges == {float(thousandths * MM_PER_INCH / 1000)}


@given(hundredths=st.integers(min_value=18, max_value=355))
def test_a_gauge_in_millimetres_is_not_taken_for_inches(hundredths: int) -> None:
    assert read_gauge(f"{hundredths / 100:.2f}").mm == hundredths / 100


@given(diameter=st.floats(min_value=0, max_value=40))
def test_no_drill_lies_nearer_than_the_nearest(diameter: float) -> None:
    below, above = nearest_drills(diameter)
    sizes = [drill.diameter for drill in drill_sizes()]
    assert (below.diameter if below else None) == max((d for d in sizes if d <= diameter), default=None)
    assert (above.diameter if above else None) == min((d for d in sizes if d >= diameter), default=None)


@pytest.mark.parametrize("drill", drill_sizes(), ids=lambda drill: drill.name)
def test_every_drills_name_is_a_length_that_reads_back(drill: DrillSize) -> None:
    assert read_length(drill.name).mm == drill.diameter


@given(st.floats(-5000, 5000, allow_nan=False))
def test_a_sentence_for_an_inch_shop_says_the_same_length_twice_inches_first(mm: float) -> None:
    sentence = in_unit(f"it reaches {said(mm)} there", "in")
    inches, millimetres = re.findall(r"-?\d+\.\d+", sentence)
    assert sentence == f"it reaches {inches} in ({millimetres} mm) there"
    assert float(inches) * 25.4 == pytest.approx(mm, abs=0.0005 * 25.4 + 1e-9)
    assert float(millimetres) == pytest.approx(mm, abs=0.005 + 1e-9)
    assert in_unit(sentence, "in") == sentence  # once is enough


@given(st.floats(-50, 500, allow_nan=False))
def test_a_limit_told_in_either_unit_is_itself_enough(mm: float) -> None:
    """What is set to the figure shown keeps the limit, and is no more than its last place past it."""
    for limit, side in ((no_less(mm), 1), (no_more(mm), -1)):
        inches = read_length(in_unit(limit, "in").partition(" (")[0]).mm
        assert -1e-5 <= side * (inches - mm) < 0.0254 + 1e-5
        millimetres = read_length(in_unit(limit, "mm")).mm
        assert -1e-5 <= side * (millimetres - mm) < 0.01 + 1e-5


@given(st.integers(1, 64 * 12))
def test_a_limit_that_lies_on_a_thousandth_is_told_as_itself(n: int) -> None:
    """Inches worked from 25.4 mm: the 0.01 mm to which the metric figure is rounded must not come back in them."""
    thousandths = n * 125  # eighths of an inch are whole thousandths
    mm = thousandths * 0.0254
    for told in (no_less(mm), no_more(mm)):
        assert in_unit(f"{told} or so", "in").startswith(f"{thousandths / 1000:.3f} in (")
        assert re.fullmatch(r"\d+\.\d\d mm", in_unit(told, "mm"))


@pytest.mark.parametrize("unit", ["mm", "in"])
@pytest.mark.parametrize("mm", [-0.0, -0.004, -1e-9])
def test_nothing_is_never_told_as_less_than_nothing(mm: float, unit: Literal["mm", "in"]) -> None:
    for told in (said(mm), said(mm, 0), no_more(0.0), span(mm, 0.0)):
        assert "-" not in in_unit(f"it leaves {told} of wood", unit)


@given(st.text(), st.floats(0.1, 500), st.sampled_from(["mm", "in"]))
def test_what_is_no_length_stands_as_it_was_written(words: str, mm: float, unit: Literal["mm", "in"]) -> None:
    """A builder's own words, whatever they are: "6 mm dowel", "write it like 44.4 mm", a mark of this very module."""
    own = without_marks(words)
    assert in_unit(own, unit) == own
    assert in_unit(f"{own}{said(mm)}", "mm") == f"{own}{mm_text(mm)}"
    in_unit(words, unit)  # and what is not cleaned of marks does no harm


# Inches worked by hand from 25.4 mm.
@pytest.mark.parametrize(
    ("sentence", "in_mm", "in_inches"),
    [
        (f"from {span(3.1, 17.4)} here", "from 3.10 to 17.40 mm here", "from 0.122 to 0.685 in (3.10 to 17.40 mm) here"),
        (f"an ellipse {by(7.4, 6.0, places=1)}", "an ellipse 7.4 × 6.0 mm", "an ellipse 0.291 × 0.236 in (7.4 × 6.0 mm)"),
        (f"string 3, {said(2.54)} away", "string 3, 2.54 mm away", "string 3, 0.100 in (2.54 mm) away"),
        (f"it needs {said(152, 0)} of bit", "it needs 152 mm of bit", "it needs 5.98 in (152 mm) of bit"),
        (f"row (within {give_or_take(0.15)})", "row (within ±0.15 mm)", "row (within ±0.006 in [±0.15 mm])"),
        (f"{said(2.54, signed=True)} off", "+2.54 mm off", "+0.100 in (+2.54 mm) off"),
        (f"get {said(9, None)} twist", "get 9 mm twist", "get 0.354 in (9 mm) twist"),
        ("get 1/4 (6.35 mm) twist", "get 1/4 (6.35 mm) twist", "get 1/4 (6.35 mm) twist"),
        (f"{pair(25.4, 50.8)} wide", "25.40 and 50.80 mm wide", "1.000 and 2.000 in (25.40 and 50.80 mm) wide"),
        (f"it reads as {either_way(76.2)}", "it reads as 76.20 mm (3.000 in)", "it reads as 3.000 in (76.20 mm)"),
        (f"at ({spot(25.4, 50.8)})", "at (25.40, 50.80 mm)", "at (1.000, 2.000 in [25.40, 50.80 mm])"),
        (f"set {put('a.b', 34.2, bound='most')}", "set a.b to 34.20 mm", "set a.b to 1.346 in (34.20 mm)"),
        (
            f"set {put('a[1].near', 635.0, -2.54, places=1)}",
            "set a[1].near to [635.0, -2.5]",
            "set a[1].near to [25.000, -0.100] in (635.0, -2.5 mm)",
        ),
        (f"set {put_number('a.b', 0.525, bound='least')} or more", "set a.b to 0.53 or more", "set a.b to 0.53 or more"),
    ],
)  # fmt: skip
def test_lengths_are_told_in_the_unit_of_whoever_reads(sentence: str, in_mm: str, in_inches: str) -> None:
    assert in_unit(sentence, "mm") == in_mm
    assert in_unit(sentence, "in") == in_inches
    assert in_unit(in_inches, "in") == in_inches


def test_an_error_says_its_lengths_in_millimetres_to_whoever_has_no_job() -> None:
    fault = SaidError(f"a core of {said(0.5)} is too wide")
    assert str(fault) == "a core of 0.50 mm is too wide"
    assert fault.told("in") == "a core of 0.020 in (0.50 mm) is too wide"
    assert str(SaidError(f"strings: {fault.sentence}")) == "strings: a core of 0.50 mm is too wide"


def test_a_unit_is_a_row_of_one_table(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ten millimetres are a centimetre (SI); its figures are as fine as those of millimetres."""
    monkeypatch.setitem(
        cast("dict[str, ShopUnit]", UNITS), "cm", ShopUnit("centimetres", "cm", Fraction(10), 3, "in")
    )
    cm: Any = "cm"
    assert job_unit(cm) == cm
    assert in_unit(f"only {said(4.2)} of wood", cm) == "only 0.420 cm of wood"
    assert in_unit(put("bridge.saddle_height", 12.7), cm) == "bridge.saddle_height to 1.270 cm"
    assert tries_in(put("bits.twist", 3.0, 3.2), cm)[0].value == ("0.300 cm", "0.320 cm")
    assert in_unit(no_less(4.201), cm) == "0.421 cm"
    assert both_units(7.9375, cm) == ("0.794 cm", "5/16 in")
    assert unit_words(cm) == ("cm", "inches")


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("0.4 0 0.2 0.2", ("0.4", "0", "0.2", "0.2")),
        ("0,4 0,25", ("0,4", "0,25")),
        ("0,4; 0,25", ("0.4", "0.25")),
        ("1.3 mm 2 in -.5", ("1.3 mm", "2 in", "-.5")),
        ("1/64\n-1/64\n", ("1/64", "-1/64")),
        ("7 15/16 in, 8 in", ("7 15/16 in", "8 in")),
        ("", ()),
    ],
)
def test_readings_in_a_row_are_set_apart(typed: str, read: tuple[str, ...]) -> None:
    """By spaces, commas, semicolons or line ends, each as it was typed but for a decimal comma."""
    assert in_a_row(typed) == read


@pytest.mark.parametrize("typed", ["7 15/16 8", "0.4 7 1/64", "0,4"])
def test_readings_that_may_be_one_or_two_are_refused(typed: str) -> None:
    """A whole number before a fraction, and a comma that may be either."""
    with pytest.raises(LengthError, match="may be one"):
        in_a_row(typed)
