"""How long bits are made: overall lengths of DIN 338 and DIN 1869 (from memory), 25 mm of them in the chuck (from memory)."""

import numpy as np
import pytest

from scribeline.tables import bit_length


@pytest.mark.parametrize(
    ("diameter", "jobber", "longest"),
    [(1.0, 34, 56), (2.0, 49, 125), (3.2, 65, 200), (4.0, 75, 280), (6.0, 93, 330), (8.0, 117, 390), (10.0, 133, 430)],
)  # fmt: skip
def test_lengths_of_the_standards(diameter: float, jobber: float, longest: float) -> None:
    assert bit_length(diameter).ordinary == jobber - 25
    assert bit_length(diameter).longest == longest - 25


def test_a_thicker_bit_is_never_made_shorter() -> None:
    made = [bit_length(each) for each in np.arange(0.3, 40.0, 0.01)]
    for key in ("ordinary", "longest"):
        assert (np.diff([getattr(each, key) for each in made]) >= 0).all()
    assert all(each.longest > each.ordinary > 0 for each in made)
