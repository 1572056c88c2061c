"""Wood screws against the tables of ASME B18.6.1, second hand (the standard itself was not read)."""

from itertools import pairwise

import pytest

from scribeline.tables import UnknownName, screw_diameter_mm, wood_screw
from scribeline.tables.published import rows

# Gauge and basic diameter (in), after ASME B18.6.1.
DIAMETERS_IN = [
    (0, 0.060),
    (1, 0.073),
    (2, 0.086),
    (4, 0.112),
    (6, 0.138),
    (8, 0.164),
    (10, 0.190),
    (14, 0.242),
    (18, 0.294),
]
# Root limits of cut-thread wood screws from printed screw tables, and the root diameter of the National
# Design Specification for Wood Construction (from memory), which is another authority than the first.
ROOTS_IN = [
    (4, 0.084, 0.095, None),
    (6, 0.107, 0.118, 0.113),
    (8, 0.125, 0.136, 0.131),
    (10, 0.146, 0.157, 0.152),
    (14, 0.190, 0.201, 0.196),
]


@pytest.mark.parametrize(("gauge", "basic_in"), DIAMETERS_IN)
def test_diameters(gauge: int, basic_in: float) -> None:
    assert wood_screw(gauge).diameter == pytest.approx(basic_in * 25.4, abs=1e-12)
    assert screw_diameter_mm(gauge) == wood_screw(gauge).diameter


@pytest.mark.parametrize(("gauge", "min_in", "max_in", "nds_in"), ROOTS_IN)
def test_roots(gauge: int, min_in: float, max_in: float, nds_in: float | None) -> None:
    screw = wood_screw(gauge)
    assert screw.root == pytest.approx((min_in + max_in) / 2 * 25.4)
    assert "estimate" not in screw.root_source
    if nds_in is not None:
        # The NDS value is the middle of the limits, rounded to 0.001 in.
        assert screw.root == pytest.approx(nds_in * 25.4, abs=0.00051 * 25.4)


def test_the_lead_hole_roots_of_common_gauges() -> None:
    # Worked by hand from the middle of the limits: hardwood 90 %, softwood 70 % of the root (rule of the
    # National Design Specification, commentary to 11.1.2).
    assert 0.9 * wood_screw(6).root == pytest.approx(2.572, abs=0.0005)
    assert 0.7 * wood_screw(6).root == pytest.approx(2.000, abs=0.0005)
    assert 0.9 * wood_screw(8).root == pytest.approx(2.983, abs=0.0005)
    assert 0.7 * wood_screw(4).root == pytest.approx(1.591, abs=0.0005)


def test_gauge_18_rests_on_memory_and_says_so() -> None:
    assert wood_screw(18).root == pytest.approx(0.232 * 25.4)
    assert "from memory" in wood_screw(18).root_source


@pytest.mark.parametrize("gauge", [0, 1, 2, 3])
def test_small_roots_are_estimates_by_the_handbook(gauge: int) -> None:
    # Wood Handbook FPL-GTR-190 ch. 8: "about two-thirds the shank diameter".
    screw = wood_screw(gauge)
    assert screw.root == pytest.approx(screw.diameter * 2 / 3)
    assert "two-thirds" in screw.root_source


def test_gauge_5_lies_between_its_neighbours() -> None:
    screw = wood_screw(5)
    assert "estimate" in screw.root_source
    assert screw.root == pytest.approx((wood_screw(4).root + wood_screw(6).root) / 2)


def test_the_series_is_in_order() -> None:
    screws = [wood_screw(gauge) for gauge in (int(row["gauge"]) for row in rows("wood_screws.csv"))]
    for smaller, larger in pairwise(screws):
        assert smaller.diameter < larger.diameter
        assert smaller.root < larger.root
    for screw in screws:
        assert 0.6 * screw.diameter < screw.root < 0.9 * screw.diameter


@pytest.mark.parametrize("typed", [6, "6", "#6", "No. 6", " no 6 ", "gauge 6", "06"])
def test_ways_to_write_a_gauge(typed: int | str) -> None:
    assert wood_screw(typed).gauge == 6


@pytest.mark.parametrize("typed", [11, 25, -1, "six", "", "#", "6.5", True, "６"])
def test_gauges_nobody_makes(typed: int | str) -> None:
    with pytest.raises(UnknownName, match="wood screws are made in gauges 0, 1, 2, "):
        wood_screw(typed)


@pytest.mark.parametrize("gauge", [-1, 25])
def test_the_rule_stops_with_the_series(gauge: int) -> None:
    with pytest.raises(UnknownName):
        screw_diameter_mm(gauge)
