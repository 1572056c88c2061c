"""How far a bit's point goes beyond its full diameter, and which bit is taken.

Point of a twist bit: a cone of included angle a on a circle D: h = (D/2)/tan(a/2), plain geometry. 118°: 0.300430 D,
135°: 0.207107 D, 90°: 0.5 D.
"""

from math import radians, tan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scribeline.features import Bit, choose_bit, drill_box, point_length
from scribeline.job import BitKind

from ..conftest import Planned

ANGLE = radians(118)


@pytest.mark.parametrize(("angle", "share"), [(118, 0.300430), (135, 0.207107), (90, 0.5)])
def test_cone(angle: float, share: float) -> None:
    for diameter in (1.0, 3.2, 9.5):
        assert point_length("twist", diameter, radians(angle)) == pytest.approx(
            share * diameter, abs=1e-6 * 10
        )


@pytest.mark.parametrize(("diameter", "point"), [(3.2, 0.96), (6.35, 1.91), (9.5, 2.85)])
def test_worked_points(diameter: float, point: float) -> None:
    # Worked example, no published source: 118° points of three bits, to 0.01.
    assert point_length("twist", diameter, ANGLE) == pytest.approx(point, abs=0.006)


def test_default_point_angle_is_118(planned: Planned) -> None:
    plan = planned()
    assert plan.job.document.bits.point_angle == pytest.approx(ANGLE, abs=1e-12)
    step = plan.features.family("bridge-screw")[0].deepest
    assert step.bit.kind == "twist"
    assert step.point_reaches - step.depth == pytest.approx(1.5 / tan(radians(59)))


def test_a_stated_point_and_angle_win(planned: Planned) -> None:
    plan = planned({"bits.twist": [{"diameter": 3.0, "point": 0.4}, 4.0], "bits.point_angle": 135})
    points = {bit.diameter: bit.point for bit in drill_box(plan.job.document.bits) if bit.kind == "twist"}
    assert points == pytest.approx({3.0: 0.4, 4.0: 0.207107 * 4}, abs=1e-5)


def test_number_letter_and_fraction_bits(planned: Planned) -> None:
    # ASME B94.11M sizes, second hand: #24 is 0.1520 in, D is 0.246 in; 15/64 in is exact.
    plan = planned({"bits.twist": ["#24", "D", "15/64", "3 mm"]})
    sizes = [bit.diameter for bit in drill_box(plan.job.document.bits) if bit.kind == "twist"]
    assert sizes == pytest.approx([0.152 * 25.4, 0.246 * 25.4, 15 / 64 * 25.4, 3.0], abs=1e-9)


KINDS: tuple[BitKind, ...] = ("twist", "brad-point", "flat-bottomed")
BOXES = st.lists(
    st.builds(
        Bit,
        kind=st.sampled_from(KINDS),
        diameter=st.integers(10, 200).map(lambda n: n / 10),
        point=st.just(0.5),
        reach=st.sampled_from([10.0, 30.0, 80.0]),
    ),
    max_size=12,
)


@given(BOXES, st.integers(10, 200).map(lambda n: n / 10), st.sampled_from([0.0, 25.0]))
def test_no_owned_bit_that_serves_is_nearer(box: list[Bit], wanted: float, reach: float) -> None:
    chosen = choose_bit(
        box,
        wanted,
        ("brad-point", "twist"),
        at_least=wanted - 2,
        at_most=wanted + 1,
        reach=reach,
        point_angle_rad=ANGLE,
    )
    serving = [
        bit
        for bit in box
        if bit.kind in ("brad-point", "twist")
        and wanted - 2 - 1e-6 <= bit.diameter <= wanted + 1 + 1e-6
        and bit.reach >= reach
    ]
    if not serving:
        assert not chosen.owned
        assert chosen.diameter == wanted
        return
    assert chosen in serving
    nearest = min(abs(bit.diameter - wanted) for bit in serving)
    assert abs(chosen.diameter - wanted) == pytest.approx(nearest, abs=1e-6)
    ties = [bit for bit in serving if abs(abs(bit.diameter - wanted) - nearest) < 1e-9]
    assert chosen.diameter == max(bit.diameter for bit in ties)  # a tight pilot breaks screws


def test_a_short_bit_does_not_drill_a_deep_hole(planned: Planned) -> None:
    long = planned().features.family("string-hole")[0].deepest
    assert (long.bit.kind, long.diameter) == ("brad-point", 3.5)
    short = planned({"bits.brad_point": [3.0, {"diameter": 3.5, "reach": 30}, 7, 9]})
    assert short.features.family("string-hole")[0].deepest.diameter != 3.5
