"""Where the bridge plate may go: worked examples of common practice (no published source), derived again by hand.

Scale 647.7 mm; wanted break points 1.3, 2.3, 3.7, 2.8, 3.1, 4.3 mm past half scale; the plate's break points run
from 9 to 17 mm behind its front edge; 1.0 mm is kept in hand at each end.
"""

import pytest

from scribeline.lengths import inch_fraction
from scribeline.strings import Window

from ..conftest import Planned, place_plate

WANTED = [1.3, 2.3, 3.7, 2.8, 3.1, 4.3]
HALF_SCALE = 647.7 / 2


def window(travel: float = 8.0, reserve: float = 1.0) -> Window:
    return place_plate(WANTED, forward_stop=9.0, back_stop=9.0 + travel, reserve=reserve)


def test_first_plate() -> None:
    # Window 312.15 to 315.15 mm from the 12th crown, aim 313.65 (12-11/32 in, −0.12), 163.55 from the pocket's end
    # wall at 473.95 mm (6-7/16 in, −0.04).
    found = window()
    assert HALF_SCALE + found.low == pytest.approx(312.15)
    assert HALF_SCALE + found.high == pytest.approx(315.15)
    aim = HALF_SCALE + found.aim
    assert aim == pytest.approx(313.65)
    assert inch_fraction(aim, 64).text == "12-11/32 in"
    assert inch_fraction(aim, 64).error_mm == pytest.approx(-0.12, abs=0.006)
    from_wall = 647.7 + found.aim - 473.95
    assert from_wall == pytest.approx(163.55)
    assert inch_fraction(from_wall, 64).text == "6-7/16 in"
    assert inch_fraction(from_wall, 64).error_mm == pytest.approx(-0.04, abs=0.006)


def test_first_plate_s_reserves() -> None:
    # By hand for the first string: forward-most break point 313.65 + 9 = 322.65, wanted 323.85 + 1.3: 2.5 left.
    found = window()
    assert found.forward == pytest.approx([2.5, 3.5, 4.9, 4.0, 4.3, 5.5])
    assert found.back == pytest.approx([5.5, 4.5, 3.1, 4.0, 3.7, 2.5])
    assert found.reserve == pytest.approx(2.5)


def test_saddle_travel_too_short() -> None:
    # 4.3 − 1.3 = 3.0 of spread and twice 1.0 is 5.0; with 4 mm of travel 1.0 is missing. Without the margin, 1 mm.
    found = window(travel=4.0)
    assert found.is_empty
    assert found.shortage == pytest.approx(1.0)
    assert found.reserve == pytest.approx(0.5)
    bare = window(travel=4.0, reserve=0.0)
    assert not bare.is_empty
    assert bare.high - bare.low == pytest.approx(1.0)


def test_a_plate_set_too_far_tailward() -> None:
    # 3.2 mm tailward of the aim leaves −0.7, 0.3 and 0.8 in front on strings 1, 2 and 4, over 1 on the rest; 4.0
    # forward of it leaves the low string 1.5 short behind.
    found = window()
    forward = [left - 3.2 for left in found.forward]
    assert [forward[0], forward[1], forward[3]] == pytest.approx([-0.7, 0.3, 0.8])
    assert all(forward[i] > 1.0 for i in (2, 4, 5))
    assert found.back[5] - 4.0 == pytest.approx(-1.5)


def test_the_whole_line_says_the_same(planned: Planned) -> None:
    changes = {"scale.length": 647.7, "bridge.saddle_forward": 9.0, "bridge.saddle_back": 17.0}
    changes |= {f"strings[{i}].setback": setback for i, setback in enumerate(WANTED, start=1)}
    changes |= {"neck.pocket_end": 473.95, "fingerboard.end": 473.95}
    plan = planned(changes)
    values = {m.id: m for m in plan.measurables}
    twelfth = values["12th-to-plate"]
    assert (twelfth.low, twelfth.value, twelfth.high) == pytest.approx((312.15, 313.65, 315.15))
    assert values["pocket-end-to-plate"].value == pytest.approx(163.55)
    assert plan.layout.bridge is not None
    assert plan.layout.bridge.middle.x == pytest.approx(HALF_SCALE + 313.65)


def test_the_likely_error_of_setting_out(planned: Planned) -> None:
    # Worked example, no published source: measure 0.15, prick 0.10, drill start 0.15, plate slop 0.20, read 0.15 mm;
    # added as squares 0.34, at worst 0.75.
    parts = (0.15, 0.10, 0.15, 0.20, 0.15)
    assert sum(parts) == pytest.approx(0.75)
    sd = next(m.sd for m in planned().measurables if m.id == "12th-to-plate")
    assert sd == pytest.approx(sum(part**2 for part in parts) ** 0.5, abs=0.005)
    assert sd == pytest.approx(0.34)
