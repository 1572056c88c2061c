"""A jack's barrel beside the body of a pot: a level cylinder and an upright one, worked by hand (plane geometry)."""

from __future__ import annotations

from math import hypot, sqrt

import pytest
from tests.kind_jobs import restated
from tests.pack_jobs import PACK_JOBS

from scribeline.findings.controls import Barrel, barrel_gap
from scribeline.job import parse_job
from scribeline.layout import Point, Point3
from scribeline.plan import plan

# 22 mm across and 30 mm long, from (0, 0) straight to the bass, its axis 22 mm under the top.
BARREL = Barrel(Point3(0.0, 0.0, -22.0), (0.0, -1.0), 30.0, 11.0, stated=True)

# A pot of 24 mm, 6 to 18 mm under the top: 4 mm over the axis at its nearest, where the barrel is sqrt(121 - 16) = 10.25 to
# either side.
POT, HALF = (-18.0, -6.0), sqrt(105.0)


@pytest.mark.parametrize(
    ("centre", "gap"),
    [
        ((20.0, -25.0), 20.0 - HALF - 12.0),  # beside it: 2.25 too near
        ((-20.0, -25.0), 20.0 - HALF - 12.0),
        ((25.0, -25.0), 25.0 - HALF - 12.0),  # 2.75 of air
        ((20.0, -35.0), hypot(20.0 - HALF, 5.0) - 12.0),  # at its corner: 1.04 too near
        ((0.0, -45.0), 15.0 - 12.0),  # 3 mm before its end
        ((0.0, 14.0), 14.0 - 12.0),  # and behind its beginning
        ((3.0, -28.0), -2.0 - 12.0),  # within it: the nearest way out is 2 mm past its end and 12 more
        ((9.0, -15.0), 9.0 - HALF - 12.0),  # or to its side
    ],
)
def test_worked_by_hand(centre: tuple[float, float], gap: float) -> None:
    assert barrel_gap(BARREL, Point(*centre), 12.0, POT) == pytest.approx(gap, abs=1e-9)


def test_one_passes_over_the_other() -> None:
    # A flat switch that ends 10 mm under the top: the barrel begins at 11.
    assert barrel_gap(BARREL, Point(3.0, -28.0), 12.0, (-10.0, -6.0)) is None
    assert barrel_gap(BARREL, Point(3.0, -28.0), 12.0, (-44.0, -34.0)) is None


def test_moved_as_far_as_it_says_it_clears() -> None:
    gap = barrel_gap(BARREL, Point(3.0, -28.0), 12.0, POT)
    assert gap is not None
    assert barrel_gap(BARREL, Point(3.0, -28.0 + gap), 12.0, POT) == pytest.approx(0.0, abs=1e-9)


def test_only_what_stands_in_the_jacks_own_cavity_counts() -> None:
    into = {"jack__heading": -90, "jack__barrel_diameter": 22, "jack__barrel_length": 80}
    found = plan(parse_job(restated(PACK_JOBS["demo"], into)).job).findings
    (told,) = (each for each in found if each.code == "control.meets-jack")
    assert told.features == ("control-2", "jack")
    assert "jack.barrel" not in str(told.cure)
    assert "controls.body_depth" in str(told.cure)
