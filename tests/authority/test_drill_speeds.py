"""Drill speeds in wood: never faster than printed guides, and the rim speed behind them worked by hand.

Twist bits after figures printed in woodworking guides (second hand): hardwood 3000 rpm up to 3/16 in, 1500 up to
3/8 in, 750 up to 1/2 and 5/8 in; softwood 3000 up to 3/8 in, 1500 up to 5/8 in. The rest is common practice, no
source.
"""

from itertools import pairwise
from math import pi

import pytest

from scribeline.features import bit_speed, hardest
from scribeline.tables import HardnessClass, drill_speed

from ..conftest import Planned

INCH = 25.4

PRINTED: list[tuple[HardnessClass, float, int]] = [
    ("hard", 3 / 16, 3000),
    ("hard", 3 / 8, 1500),
    ("hard", 1 / 2, 750),
    ("hard", 5 / 8, 750),
    ("soft", 3 / 8, 3000),
    ("soft", 5 / 8, 1500),
]


@pytest.mark.parametrize(("hardness", "inches", "rpm"), PRINTED)
def test_no_faster_than_the_printed_guides_and_not_idle(
    hardness: HardnessClass, inches: float, rpm: int
) -> None:
    told = drill_speed("twist", inches * INCH, hardness)
    assert 0.5 * rpm <= told <= rpm


def test_by_hand() -> None:
    # A 12 mm flat-bottomed bit in hard wood: 0.35 m/s over 37.7 mm of rim is 557 a minute, down to 550.
    assert drill_speed("flat-bottomed", 12.0, "hard") == 550
    assert pi * 12 * 550 / 60_000 <= 0.35
    # Medium half-way: 0.75 m/s for a 10 mm twist bit is 1432, down to 1400.
    assert drill_speed("twist", 10.0, "medium") == 1400


@pytest.mark.parametrize("kind", ["twist", "brad-point", "flat-bottomed"])
@pytest.mark.parametrize("hardness", ["soft", "medium", "hard", "very hard"])
def test_larger_and_in_harder_wood_is_slower(kind: str, hardness: HardnessClass) -> None:
    speeds = [drill_speed(kind, mm, hardness) for mm in (0.5, 1, 2, 3, 5, 8, 12, 20, 35, 60)]  # type: ignore[arg-type]
    assert all(a >= b > 0 for a, b in pairwise(speeds))
    assert all(a <= drill_speed(kind, mm, "soft") for a, mm in zip(speeds, (0.5, 1, 2), strict=False))  # type: ignore[arg-type]


def test_no_bit_of_no_size() -> None:
    for bad in (0.0, -3.0, float("nan"), float("inf")):
        with pytest.raises(ValueError, match="must be more than 0 mm"):
            drill_speed("twist", bad, "hard")


def test_every_card_with_a_bit_knows_its_speed(planned: Planned) -> None:
    plan = planned()
    drilled = [card for card in plan.cards if card.bit is not None]
    assert drilled
    for card in drilled:
        assert card.bit is not None
        assert card.rpm == bit_speed(card.bit, plan.layout)
        assert card.cautions


def test_a_hard_cap_counts(planned: Planned) -> None:
    layers = [
        {"name": "cap", "timber": "maple-sugar", "thickness": 6.0},
        {"name": "back", "timber": "basswood-american", "thickness": 38.4},
    ]
    assert hardest(planned({"body.layers": layers}).layout) == "hard"
    assert hardest(planned({"body.timber": "basswood-american"}).layout) == "soft"
