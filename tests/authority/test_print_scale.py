"""The verdict on a print. The limits are common practice, no source; the arithmetic is a ratio."""

import math
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scribeline.drawing.print_scale import print_verdict, ruling
from scribeline.lengths import in_unit


@pytest.mark.parametrize(
    ("measured", "verdict"),
    [
        ((200.0, 200.0), "full"),
        ((199.9, 200.1), "full"),
        ((199.85, 200.0), "short groups"),
        ((200.0, 200.3), "short groups"),
        ((199.7, 199.7), "short groups"),
        ((200.0, 199.69), "void"),
        ((197.4, 197.4), "void"),
    ],
)
def test_verdict_goes_by_the_worse_axis(measured: tuple[float, float], verdict: str) -> None:
    assert print_verdict(*measured).verdict == verdict


def test_a_print_at_98_7_percent_is_void_and_reprinted_at_101_3() -> None:
    """200 / 197.4 = 1.01317."""
    found = print_verdict(197.4, 197.4)
    assert found.factors == pytest.approx((1.01317, 1.01317), abs=5e-6)
    assert "This print is void: mark it so and throw it away." in found.sentences
    assert "Print it again at 101.3 %." in found.sentences


def test_axes_that_differ_need_the_corrected_file() -> None:
    found = print_verdict(197.4, 199.8)
    assert "Print it again with the corrected file: 101.3 % across and 100.1 % up." in found.sentences


def test_short_groups_says_what_not_to_trust() -> None:
    assert any("not for distances between groups" in s for s in print_verdict(199.8, 200).sentences)


@given(printer=st.tuples(st.floats(0.95, 1.05), st.floats(0.95, 1.05)))
def test_the_corrected_print_is_true(printer: tuple[float, float]) -> None:
    factors = print_verdict(200 * printer[0], 200 * printer[1]).factors
    again = print_verdict(*(200 * f * p for f, p in zip(factors, printer, strict=True)), applied=factors)
    assert again.verdict == "full"
    assert again.factors == pytest.approx(factors)


@pytest.mark.parametrize(
    ("measured", "sentence"),
    [
        ((20.0, 200.0), "If you measured centimetres, type 200.0 mm."),
        ((200.0, 7.87), "If you measured inches, type 199.9 mm."),
        ((200.0 * 25.4, 200.0), "If you measured millimetres, type 200.0 mm."),
        ((0.0, 200.0), "The bar across the page cannot measure 0 mm"),
        ((200.0, -5.0), "The bar up the page cannot measure -5 mm"),
        ((math.nan, 200.0), "cannot measure nan mm"),
        ((math.inf, 200.0), "cannot measure inf mm"),
        ((150.0, 150.0), "print at 100 %"),
    ],
)
def test_nonsense_is_refused_with_a_sentence(measured: tuple[float, float], sentence: str) -> None:
    with pytest.raises(ValueError, match="cannot measure") as refused:
        print_verdict(*measured)
    assert sentence in str(refused.value)


def test_both_faults_are_told_together() -> None:
    with pytest.raises(ValueError, match=r"across the page cannot .* up the page cannot"):
        print_verdict(0, 0)


def test_other_bars_have_limits_in_proportion() -> None:
    assert print_verdict(99.95, 100, nominal=100).verdict == "full"
    assert print_verdict(99.9, 100, nominal=100).verdict == "short groups"


def test_a_bar_of_inch_paper_is_named_in_whole_inches() -> None:
    """8 in of 25.4 mm each (international yard and pound agreement of 1959); no rule has a mark at 7.874 in."""
    assert ruling("Letter").bar == ruling("ANSI C").bar == pytest.approx(8 * 25.4)
    assert ruling("A4").bar == ruling("B2").bar == 200
    said = in_unit(" ".join(print_verdict(8 * 25.4, 8.1 * 25.4, ruling("Letter").bar).sentences), "in")
    assert "The bars measure 8.000 in (203.20 mm) across" in said
    assert "they should measure 8 in / 203.2 mm." in said
    on_iso = in_unit(" ".join(print_verdict(200, 200).sentences), "in")
    assert "they should measure 200 mm." in on_iso


def test_it_imports_nothing_heavy() -> None:
    heavy = "{'shapely', 'ezdxf', 'typst', 'fontTools', 'numpy'}"
    code = f"import sys, scribeline.drawing.print_scale; print({heavy} & set(sys.modules))"
    run = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert run.stdout.strip() == "set()"
