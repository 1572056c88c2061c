"""Heights as a plan tells them: what closes the chain closes it, what moves the saddles moves them by its rate."""

from __future__ import annotations

from math import degrees, hypot, pi

import pytest

from scribeline.job import parse_job, set_value
from scribeline.layout import Unknown
from scribeline.plan import plan
from scribeline.plan.heights import Heights, heights
from scribeline.plan.record import record

from ..conftest import SHIPPED


def told(**keys: str) -> Heights:
    """The demo's heights with other values of some keys, written with __ for the full stop."""
    text = SHIPPED
    for key, value in keys.items():
        text, _ = set_value(text, key.replace("__", "."), value)
    found = heights(plan(*parse_job(text)))
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("key", "now", "then", "by"),
    [
        ("neck__pocket_depth", "16 mm", "16.5 mm", 0.5),
        ("neck__angle", "0", "0.1", pi / 1800),
        ("neck__shim", "0 mm", "0.1 mm", 0.1),
    ],
)
def test_a_rate_is_what_the_saddles_move_by(key: str, now: str, then: str, by: float) -> None:
    """Half a millimetre of pocket is half a millimetre of saddle; two plans say what a tenth of a degree is."""
    before, after = told(**{key: now}), told(**{key: then})
    way = before.way(key.replace("__", "."))  # type: ignore[arg-type]  # one of them
    for one, other in zip(before.strings, after.strings, strict=True):
        assert other.wanted - one.wanted == pytest.approx(way.rate * by, abs=0.004)
    if key == "neck__pocket_depth":
        assert way.rate == pytest.approx(-1.0, abs=1e-9)


@pytest.mark.parametrize("key", ["neck.pocket_depth", "neck.angle"])
def test_what_closes_the_chain_closes_it(key: Unknown) -> None:
    way = told().way(key)
    assert way.value is not None
    value = f"{degrees(way.value):.8f}" if key == "neck.angle" else f"{way.value:.8f} mm"
    after = told(**{key.replace(".", "__"): value})
    assert after.off == pytest.approx(0.0, abs=1e-6)
    low, high = after.strings[0], after.strings[-1]
    assert low.down == pytest.approx(high.up, abs=1e-6)


def test_the_pocket_that_closes_it_is_as_sure_as_heel_and_bridge() -> None:
    """The depth stated now does not come into it; independent doubts add up as squares (JCGM 100:2008, 5.1.2)."""
    way = told(
        neck__heel_thickness="25.2 +/- 0.1",
        bridge__saddle_lowest="10.4 +/- 0.2",
        bridge__saddle_highest="14 +/- 0.2",
    ).way("neck.pocket_depth")
    assert way.sd == pytest.approx(hypot(0.1, 0.2 / 2, 0.2 / 2) / 3**0.5, rel=1e-3)


def test_strings_without_a_place_have_no_heights() -> None:
    """Tuned so low that no place of its saddle brings a string into tune."""
    text, _ = set_value(SHIPPED, "strings[1].note", "E0")
    seen = plan(*parse_job(text))
    assert not seen.layout.stringing.is_placed
    assert heights(seen) is None
    assert record(seen)["heights"] is None
