"""American wire gauge against ASTM B258, second hand: diameters printed to 0.0001 in."""

import pytest

from scribeline.tables import UnknownName, awg_diameter_mm

ASTM_B258_IN = {
    "0000": 0.4600, "0": 0.3249, "2": 0.2576, "6": 0.1620, "8": 0.1285, "12": 0.0808, "14": 0.0641,
    "18": 0.0403, "20": 0.0320, "21": 0.0285, "24": 0.0201, "26": 0.0159, "27": 0.0142, "30": 0.0100,
    "32": 0.0080, "36": 0.0050, "39": 0.0035, "41": 0.0028, "44": 0.0020,
}  # fmt: skip


@pytest.mark.parametrize(("gauge", "inches"), ASTM_B258_IN.items())
def test_printed_diameters(gauge: str, inches: float) -> None:
    # Half of the last place printed.
    assert awg_diameter_mm(gauge) / 25.4 == pytest.approx(inches, abs=0.00005)


def test_the_two_gauges_that_define_the_series() -> None:
    assert awg_diameter_mm(36) == pytest.approx(0.005 * 25.4, rel=1e-15)
    assert awg_diameter_mm("0000") == pytest.approx(0.46 * 25.4, rel=1e-15)


def test_six_gauges_halve_the_diameter() -> None:
    # 92 ** (6/39) = 2.0050: the electricians' rule, good to 0.3 %.
    for gauge in range(-3, 39):
        assert awg_diameter_mm(gauge) / awg_diameter_mm(gauge + 6) == pytest.approx(2, rel=0.003)


@pytest.mark.parametrize(
    ("typed", "gauge"), [("AWG 24", 24), ("24 awg", 24), ("4/0", -3), ("00", -1), ("1/0", 0), ("-2", -2)]
)
def test_ways_to_write_a_gauge(typed: str, gauge: int) -> None:
    assert awg_diameter_mm(typed) == awg_diameter_mm(gauge)


@pytest.mark.parametrize("typed", [-4, 57, "00000", "5/0", "", "thin", True, "24.5"])
def test_gauges_outside_the_series(typed: int | str) -> None:
    with pytest.raises(UnknownName, match="gauges run from 0000"):
        awg_diameter_mm(typed)
