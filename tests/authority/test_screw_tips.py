"""Screw tips over cavities, against hand-worked cases: tip depth = length - plate, what is left = roof - tip depth.

The rule that 3 mm must be left is common practice, no source. The pilot goes 1.5 mm further than the tip at full diameter,
and its point of 118 degrees 1.5 / tan 59 degrees = 0.901 mm further again, and 3 mm must be left under it too: so the
longest screw is roof + plate - 3 - 2.401.
"""

import math
import re
from typing import Any

import pytest

from scribeline.features import driven
from scribeline.findings import Finding
from scribeline.job import parse_job, set_value
from scribeline.plan import plan

from ..conftest import WITHOUT_TUNNELS, Planned

PILOT_BEYOND_TIP = 1.5 + 1.5 / math.tan(math.radians(59))
BENCH: dict[str, Any] = {"body.thickness": 45.0, "bridge.plate_thickness": 2.0}


def over_a_cavity(roof: float, screw: float, body: float = 45.0, **more: Any) -> dict[str, Any]:
    """A plate of 2 mm on a body with a rear cavity that leaves this much under the screws."""
    cavity = {
        "name": "rear cavity",
        "face": "back",
        "depth": body - roof,
        "corner_radius": 4,
        "x_from": "scale line",
        "centre": [30, 0],
        "size": [40, 70],
    }
    return BENCH | {"body.thickness": body, "pockets[4]": cavity, "bridge_screw.length": screw} | more


def tip(planned: Planned, changes: dict[str, Any]) -> Finding | None:
    found = [f for f in planned(changes).findings if f.code.startswith("screw.tip")]
    assert len(found) <= 1
    return found[0] if found else None


def longest(finding: Finding) -> float:
    told = re.search(r"the longest that fits is ([0-9.]+) mm", finding.cure)
    assert told, finding.cure
    return float(told[1])


def test_a_screw_with_wood_left_is_not_told(planned: Planned) -> None:
    # 25.4 - 2.0 = 23.4 under a roof of 27.0: 3.6 mm are left.
    assert tip(planned, over_a_cavity(27.0, 25.4)) is None


def test_the_same_screw_in_a_thinner_body_is_a_caution(planned: Planned) -> None:
    # A body of 43.5 instead of 45 over the same cavity: a roof of 25.5 leaves 2.1 mm.
    found = tip(planned, over_a_cavity(25.5, 25.4, body=43.5))
    assert found is not None
    assert found.code == "screw.tip-near"
    assert found.severity == "caution"
    assert found.value == pytest.approx(2.1, abs=1e-6)
    assert "2.10 mm" in found.message
    assert longest(found) == pytest.approx(25.5 + 2.0 - 3.0 - PILOT_BEYOND_TIP, abs=0.01)


def test_a_screw_into_a_control_cavity_stops_and_is_named(planned: Planned) -> None:
    # 15.9 - 2.0 = 13.9 under a roof of 6.0: it shows by 7.9 mm. Longest: 6 + 2 - 3 - 2.4 = 2.6.
    found = tip(planned, over_a_cavity(6.0, 15.9))
    assert found is not None
    assert found.code == "screw.tip-shows"
    assert found.severity == "stop"
    assert found.value == pytest.approx(-7.9, abs=1e-6)
    assert {f"bridge-screw-{n}" for n in range(1, 5)} | {"rear-cavity"} == set(found.features)
    assert re.match(r"bridge screw [1-4] comes into the rear cavity by 7\.90 mm", found.message)
    assert longest(found) == pytest.approx(5.0 - PILOT_BEYOND_TIP, abs=0.01)
    # 2.6 - 2 leaves 0.6 mm of thread, under the 6 mm that hold anything.
    assert "leaves less than 6.00 mm in the wood" in found.cure


def test_only_the_screws_over_the_cavity_are_named(planned: Planned) -> None:
    # The outer screws stand 29 mm from the middle, the cavity reaches 20.
    changes = over_a_cavity(12.0, 15.9) | {"pockets[4].size": [40, 40]}
    found = tip(planned, changes)
    assert found is not None
    assert {"bridge-screw-2", "bridge-screw-3", "rear-cavity"} == set(found.features)


def test_the_drawer_offers_the_longest_that_fits(planned: Planned) -> None:
    # A roof of 16: the longest is 16 + 2 - 3 - 2.4 = 12.6 mm.
    drawer: dict[str, Any] = {"bridge_screw.lengths_owned": [9.5, 12.5, 15.9, 19.0]}
    found = tip(planned, over_a_cavity(16.0, 19.0, **drawer))
    assert found is not None
    assert longest(found) == pytest.approx(15.0 - PILOT_BEYOND_TIP, abs=0.01)
    assert found.cure.endswith("of those you own, 12.5 mm")
    assert tip(planned, over_a_cavity(16.0, 12.5)) is None
    assert tip(planned, over_a_cavity(16.0, 15.0)) is None
    drawer = {"bridge_screw.lengths_owned": [15.9, 19.0]}
    found = tip(planned, over_a_cavity(16.0, 19.0, **drawer))
    assert found is not None
    assert found.cure.endswith("none of those you own is short enough")


def test_a_screw_out_of_the_back(planned: Planned) -> None:
    # 50 - 2 = 48 in a body of 45: 3 mm show; 45 + 2 - 3 - 2.4 = 41.6 is the longest.
    found = tip(planned, BENCH | {"bridge_screw.length": 50.0})
    assert found is not None
    assert found.value == pytest.approx(-3.0, abs=1e-6)
    assert "comes out of the back by 3.00 mm" in found.message
    assert longest(found) == pytest.approx(45.0 + 2.0 - 3.0 - PILOT_BEYOND_TIP, abs=0.01)
    assert tip(planned, BENCH | {"bridge_screw.length": longest(found)}) is None


def test_every_rule_names_the_same_longest_screw_and_it_settles_them_all(planned: Planned) -> None:
    """A builder buys one screw: what its tip, the cavity under its pilot and the back ask is one number.

    Over a cavity 20 mm deep, so under a roof of 25: 25 + 2 - 3 - 2.4 = 21.6, less than the back's 45 + 2 - 3 - 2.4.
    """
    roofed = over_a_cavity(25.0, 50.0) | {"pockets[4].size": [40, 40]}
    near = planned(roofed)
    screws = {f"bridge-screw-{n}" for n in range(1, 5)}
    concerned = [
        f for f in near.findings if (screws & set(f.features) and "longest" in f.cure) or "shorter" in f.cure
    ]
    assert {f.code for f in concerned} == {"screw.tip-shows", "wood.breaks-through", "wood.run-together"}
    (length,) = {
        number
        for f in concerned
        for number in re.findall(r"longest that fits is ([\d.]+) mm|screws of ([\d.]+) mm or shorter", f.cure)
        for number in number
        if number
    }
    assert float(length) == pytest.approx(27.0 - 3.0 - PILOT_BEYOND_TIP, abs=0.01)
    settled = planned(roofed | {"bridge_screw.length": float(length)})
    codes = {f.code for f in settled.findings if screws & set(f.features)}
    assert not codes & {each.code for each in concerned}


@pytest.mark.parametrize(
    ("key", "pilots"), [("pockets[3].cover_screws.length", "cover-screw"), ("holes[1].screw.length", "hole")]
)
def test_a_screw_of_a_cover_or_a_hole_has_one_longest_length_too(key: str, pilots: str) -> None:
    """What its tip and the wood under its pilot ask is one number; with it both are quiet, with half a millimetre more not."""

    def about(length: str) -> dict[str, Finding]:
        found = plan(*parse_job(set_value(WITHOUT_TUNNELS, key, f"{length} mm")[0])).findings
        rules = {"screw.tip-shows", "screw.tip-near", "wood.breaks-through", "wood.thin-floor"}
        return {
            each.code: each
            for each in found
            if each.code in rules and any(name.startswith(f"{pilots}-") for name in each.features)
        }

    told = about("60")
    assert set(told) == {"screw.tip-shows", "wood.breaks-through"}
    numbers = {each for found in told.values() for each in re.findall(r"([\d.]+) mm", found.cure)}
    (longest,) = numbers
    assert about(longest) == {}
    assert about(f"{float(longest) + 0.5}") != {}


def test_a_builders_own_limit_holds(planned: Planned) -> None:
    changes = over_a_cavity(25.5, 25.4, body=43.5) | {"limits.screw_tip": {"stop": 2.5, "caution": 4.0}}
    found = tip(planned, changes)
    assert found is not None
    assert found.severity == "stop"
    assert found.source.startswith("your own limit, limits.screw_tip")
    # 25.5 + 2 - 4 = 23.5 by the tip; the pilot, by its own limit of 3 mm, asks for 22.1.
    assert longest(found) == pytest.approx(25.5 + 2.0 - 3.0 - PILOT_BEYOND_TIP, abs=0.01)


def test_a_screw_ends_in_a_point(planned: Planned) -> None:
    bore = planned(BENCH).features.family("bridge-screw")[0]
    screw = driven(bore)
    assert screw.deepest.point_reaches == pytest.approx(24.5 - 2.0)
    assert screw.widest == 3.5
    assert screw.at == bore.at
