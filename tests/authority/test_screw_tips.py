"""Screw tips over cavities, against hand-worked cases: tip depth = length - plate, what is left = roof - tip depth.

The rule that 3 mm must be left, so that the longest screw is roof + plate - 3, is common practice, no source.
"""

import re
from typing import Any

import pytest

from scribeline.features import driven
from scribeline.findings import Finding

from ..conftest import Planned

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
    told = re.search(r"the longest that leaves 3 mm is ([0-9.]+) mm", finding.cure)
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
    assert longest(found) == 25.5 + 2.0 - 3.0


def test_a_screw_into_a_control_cavity_stops_and_is_named(planned: Planned) -> None:
    # 15.9 - 2.0 = 13.9 under a roof of 6.0: it shows by 7.9 mm. Longest: 6 + 2 - 3 = 5.
    found = tip(planned, over_a_cavity(6.0, 15.9))
    assert found is not None
    assert found.code == "screw.tip-shows"
    assert found.severity == "stop"
    assert found.value == pytest.approx(-7.9, abs=1e-6)
    assert {f"bridge-screw-{n}" for n in range(1, 5)} | {"rear-cavity"} == set(found.features)
    assert re.match(r"bridge screw [1-4] comes into the rear cavity by 7\.90 mm", found.message)
    assert longest(found) == 5.0
    # 5 - 2 leaves 3 mm of thread, under the 6 mm that hold anything.
    assert "leaves less than 6.00 mm in the wood" in found.cure


def test_only_the_screws_over_the_cavity_are_named(planned: Planned) -> None:
    # The outer screws stand 29 mm from the middle, the cavity reaches 20.
    changes = over_a_cavity(12.0, 15.9) | {"pockets[4].size": [40, 40]}
    found = tip(planned, changes)
    assert found is not None
    assert {"bridge-screw-2", "bridge-screw-3", "rear-cavity"} == set(found.features)


def test_the_drawer_offers_the_longest_that_fits(planned: Planned) -> None:
    # A roof of 16: the longest is 15 mm.
    drawer: dict[str, Any] = {"bridge_screw.lengths_owned": [9.5, 12.7, 15.9, 19.0]}
    found = tip(planned, over_a_cavity(16.0, 19.0, **drawer))
    assert found is not None
    assert longest(found) == 15.0
    assert found.cure.endswith("of those you own, 12.7 mm")
    assert tip(planned, over_a_cavity(16.0, 12.7)) is None
    assert tip(planned, over_a_cavity(16.0, 15.0)) is None
    drawer = {"bridge_screw.lengths_owned": [15.9, 19.0]}
    found = tip(planned, over_a_cavity(16.0, 19.0, **drawer))
    assert found is not None
    assert found.cure.endswith("none of those you own is short enough")


def test_a_screw_out_of_the_back(planned: Planned) -> None:
    # 50 - 2 = 48 in a body of 45: 3 mm show; 45 + 2 - 3 = 44 is the longest.
    found = tip(planned, BENCH | {"bridge_screw.length": 50.0})
    assert found is not None
    assert found.value == pytest.approx(-3.0, abs=1e-6)
    assert "comes out of the back by 3.00 mm" in found.message
    assert longest(found) == 44.0


def test_a_builders_own_limit_holds(planned: Planned) -> None:
    changes = over_a_cavity(25.5, 25.4, body=43.5) | {"limits.screw_tip": {"stop": 2.5, "caution": 4.0}}
    found = tip(planned, changes)
    assert found is not None
    assert found.severity == "stop"
    assert found.source.startswith("your own limit, limits.screw_tip")
    assert "the longest that leaves 4 mm is 23.50 mm" in found.cure


def test_a_screw_ends_in_a_point(planned: Planned) -> None:
    bore = planned(BENCH).features.family("bridge-screw")[0]
    screw = driven(bore)
    assert screw.deepest.point_reaches == pytest.approx(24.5 - 2.0)
    assert screw.widest == 3.5
    assert screw.at == bore.at
