"""Accuracies of the bench against the notes of the trade they were set down from, and how several add up."""

from __future__ import annotations

from math import degrees, sqrt

import pytest

from scribeline.tables import UnknownName, usual_accuracies

USUAL = usual_accuracies()


def test_a_hole_that_is_punched_and_drilled_adds_its_steps_as_squares() -> None:
    """JCGM 100:2008, 5.1.2: independent errors add as squares; 0.10, 0.10 and 0.12 mm make 0.185 mm."""
    assert USUAL.sd("rule-cut", "prick-punch", "bit-brad") == pytest.approx(sqrt(0.10**2 + 0.10**2 + 0.12**2))


def test_angles_are_kept_in_radians_and_shared_errors_named() -> None:
    """A press as found leans 0.25 degrees (common practice, no source), the same for every hole drilled in it."""
    lean = USUAL["lean-press"]
    assert (lean.unit, lean.shared) == ("rad", "press")
    assert degrees(lean.sd) == pytest.approx(0.25)
    assert USUAL["prick-awl"].shared == ""


def test_a_tape_of_class_2_is_off_by_no_more_than_its_limit() -> None:
    """A limit of 0.2 mm a metre over an even spread is 0.115 mm (JCGM 100:2008, 4.3.7: divided by the
    root of 3); ours, 0.2, is no tighter."""
    assert USUAL["rule-scale"].sd >= 0.0002 / sqrt(3)


def test_a_shops_own_number_counts_in_place_of_the_usual_one() -> None:
    """What a shop found out about itself replaces the guess, and says so."""
    own = USUAL.with_own({"prick-awl": 0.13}, "9 pricks of this shop")
    assert own["prick-awl"].sd == 0.13
    assert own["prick-awl"].source == "9 pricks of this shop"
    assert own["rule"] == USUAL["rule"]


def test_a_method_nobody_knows_is_refused_with_what_is_near() -> None:
    """A name misspelt gets the names near it."""
    with pytest.raises(UnknownName, match="prick-awl"):
        USUAL["prick-alw"]
