"""Nut slots, edge margins and the marks of the 12th fret.

The numbers are worked examples of common practice, with no published source; each is derived again here from the
definition, so that neither the example nor the code is taken on trust.
"""

import numpy as np
import pytest

from scribeline.layout import bridge_row, edge_margins, nut_slots, path_y, twelfth_readings, width_at
from scribeline.lengths import in_unit, inch_fraction

from ..conftest import Planned

INCH = 25.4
SET_10_46 = [gauge * INCH for gauge in (0.010, 0.013, 0.017, 0.026, 0.036, 0.046)]


def test_equal_gaps_worked_example() -> None:
    # Worked example, no published source: 10-46 set, 42.5 mm nut, 3.2 mm to the outer strings' sides: gap 6.468 mm,
    # centres from the bass edge 3.78, 11.29, 18.55, 25.56, 32.41, 39.17 mm.
    gap = (42.5 - 2 * 3.2 - sum(SET_10_46)) / 5
    assert gap == pytest.approx(6.468, abs=0.0005)
    slots = nut_slots(42.5, 3.2, SET_10_46, "equal gaps")
    from_bass = sorted(42.5 - slots)
    assert from_bass == pytest.approx([3.78, 11.29, 18.55, 25.56, 32.41, 39.17], abs=0.006)
    sides = [(slots[i + 1] - SET_10_46[i + 1] / 2) - (slots[i] + SET_10_46[i] / 2) for i in range(5)]
    assert sides == pytest.approx([gap] * 5, abs=1e-9)


def test_equal_gaps_in_sixty_fourths() -> None:
    # The same example to 1/64 in: 5/32, 7/16, 47/64, 1, 1-9/32, 1-35/64, errors +0.18 −0.18 +0.10 −0.16 +0.13 +0.12.
    slots = 42.5 - nut_slots(42.5, 3.2, SET_10_46, "equal gaps")[::-1]
    shown = [inch_fraction(float(mm), 64) for mm in slots]
    assert [s.text.replace(" in", "") for s in shown] == ["5/32", "7/16", "47/64", "1", "1-9/32", "1-35/64"]
    assert [s.error_mm for s in shown] == pytest.approx([0.18, -0.18, 0.10, -0.16, 0.13, 0.12], abs=0.006)


def test_equal_centres_crowd_the_bass() -> None:
    # Worked example, no published source: with equal centres the gaps run 6.04 … 6.79, 0.75 mm apart.
    slots = nut_slots(42.5, 3.2, SET_10_46, "equal centres")
    assert np.diff(slots) == pytest.approx([np.diff(slots)[0]] * 5)
    gaps = [slots[i + 1] - slots[i] - (SET_10_46[i] + SET_10_46[i + 1]) / 2 for i in range(5)]
    assert min(gaps) == pytest.approx(6.04, abs=0.006)
    assert max(gaps) == pytest.approx(6.79, abs=0.006)
    assert gaps[-1] == min(gaps)  # the two thickest strings


def test_edge_margins_worked_example() -> None:
    # Worked example, no published source: strings 35.5 mm apart at the nut and 52.5 at the bridge, board 42.5 to
    # 56.5 mm at 473.95 from the nut, scale 647.7: margins 3.50 (nut), 3.56 (1st), 3.85 (7th), 4.03 (12th), 4.27 (22nd).
    scale = 647.7
    places = {0: 0.0, **{n: scale * (1 - 2 ** (-n / 12)) for n in (1, 7, 12, 22)}}
    x = np.array(list(places.values()))
    y = path_y(x, 35.5 / 2, 52.5 / 2, scale)
    board = width_at(x, nut_width=42.5, end=473.95, end_width=56.5)
    centre, side = edge_margins(y, 0.254, board, 0.6)
    assert centre == pytest.approx([3.50, 3.56, 3.85, 4.03, 4.27], abs=0.006)
    assert side == pytest.approx(centre - 0.127 - 0.6)


def test_pickup_spreads_worked_example() -> None:
    # Worked example, no published source: the same strings are 51.42 mm apart 41 mm ahead of the saddles, 49.88 at
    # 100 mm, 48.35 at 158 mm.
    spread = [2 * float(path_y(647.7 - ahead, 35.5 / 2, 52.5 / 2, 647.7)) for ahead in (41, 100, 158)]
    assert spread == pytest.approx([51.42, 49.88, 48.35], abs=0.006)


def test_bridge_row_is_centred_and_even() -> None:
    assert bridge_row(6, 10.5) == pytest.approx([26.25, 15.75, 5.25, -5.25, -15.75, -26.25])
    assert bridge_row(7, 10.5)[3] == 0.0
    assert bridge_row(4, 19.0)[0] - bridge_row(4, 19.0)[-1] == pytest.approx(57.0)


def test_wrong_mark_of_the_twelfth_fret(planned: Planned) -> None:
    # Worked example, no published source: a fret 2.7 mm wide, measured from the nut to its near edge, reads 1.35 mm
    # short of the crown: crown = reading + 1.35. From that edge on to the plate it reads 1.35 mm long.
    plan = planned({"fret_wire.crown_width": 2.7, "bench.twelfth_read_to": "near edge"})
    marks = {r.mark: r for r in twelfth_readings(plan.job.document, plan.layout)}
    assert marks["crown"].from_nut - marks["near edge"].from_nut == pytest.approx(1.35)
    assert marks["far edge"].from_nut - marks["crown"].from_nut == pytest.approx(1.35)
    assert marks["slot"].from_nut == marks["crown"].from_nut
    for reading in marks.values():
        assert reading.from_nut + reading.to_bridge[0] == pytest.approx(plan.layout.bridge_line)
        assert reading.to_bridge[0] + reading.to_crown == pytest.approx(marks["crown"].to_bridge[0])
    check = next(m for m in plan.measurables if m.id == "12th-to-plate")
    assert check.value == pytest.approx(marks["near edge"].to_bridge[0])
    assert "nut side" in in_unit(check.how, "mm")
    assert "centre = reading -1.35 mm" in in_unit(check.how, "mm")
    assert check.low < check.value < check.high


def test_diagonals_by_pythagoras(planned: Planned) -> None:
    plan = planned()
    values = {m.id: m.value for m in plan.measurables}
    half_board = (42.8 + (56.4 - 42.8) * 320 / 468) / 2
    expected = ((629.4 - 320) ** 2 + (half_board + 80.5 / 2) ** 2) ** 0.5
    assert values["diagonal-treble"] == pytest.approx(expected, abs=1e-6)
    assert values["diagonal-bass"] == pytest.approx(expected, abs=1e-6)


def test_pocket_end_reading(planned: Planned) -> None:
    # By hand: half the scale 320, aim 640 + (4.2 − 17.6 + 1.4 − 9.2)/2 = 629.4, so 309.4 from the crown and 161.4
    # from an end wall 468 mm from the nut.
    values = {m.id: m.value for m in planned().measurables}
    assert values["12th-to-plate"] == pytest.approx(309.4)
    assert values["pocket-end-to-plate"] == pytest.approx(161.4)
    assert values["nut-to-plate"] == pytest.approx(629.4)
    assert values["nut-to-12th"] == pytest.approx(320.0)


def test_nut_height_over_the_body(planned: Planned) -> None:
    # Heel 25.2 − pocket 16.0 + fret 1.1 + 0.5 over the frets (stated default) = 10.8 mm above the top.
    assert {round(s.nut.z, 9) for s in planned().layout.strings} == {10.8}
