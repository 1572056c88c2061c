"""What is said of a carved and layered body, by numbers worked by hand.

The distance of a place p from a plane through q with unit normal n is n · (p − q): any textbook of vectors. The limits
themselves are common practice, no source.
"""

from __future__ import annotations

from math import atan, cos, radians, sin, tan
from typing import Any

import pytest

from scribeline.findings import Finding
from scribeline.layout import Point
from scribeline.plan import Plan

from ..conftest import FULL


def found(plan: Plan, code: str) -> list[Finding]:
    return [finding for finding in plan.findings if finding.code == code]


# The belly bevel begins along y = -60 on the back and falls towards the bass; the pocket's floor lies over it.
BELLY = {"name": "belly", "face": "back", "line": [[560, -60], [700, -60]]}
THICK = 44.4


def over_the_belly(planned: Any, **slope: float) -> Plan:
    pocket = {
        "name": "tray",
        "depth": 30.0,
        "corner_radius": 5.0,
        "centre": [640, -80],
        "size": [40, 60],
    }
    plan: Plan = planned({"body.bevels": [{**BELLY, **slope}], "pockets[4]": pocket})
    return plan


@pytest.mark.parametrize("angle", [8.0, 12.0, 14.0])
def test_a_bevel_thins_the_floor_of_a_cavity(planned: Any, angle: float) -> None:
    plan = over_the_belly(planned, angle=angle)
    # The floor's far corner line: y = -110 (the corner is round, so its straight side), z = -30.
    wanted = cos(radians(angle)) * (THICK - 30.0) - sin(radians(angle)) * (110 - 60)
    (outside,) = [o for o in plan.outside if o.feature == "tray"]
    (gap,) = [g for g in outside.surfaces if g.surface == "the belly bevel"]
    assert gap.mm == pytest.approx(wanted, abs=1e-3)
    assert gap.places[0].y == pytest.approx(-110, abs=0.01)
    assert gap.places[0].z == pytest.approx(-30, abs=0.01)
    assert outside.to_opposite == pytest.approx(14.4)  # the flat back is no nearer than before
    said = [f for f in found(plan, "wood.thin-surface") if "tray" in f.features]
    if wanted < 4.0:
        assert said[0].severity == ("stop" if wanted < 2 else "caution")
        assert f"{wanted:.2f} mm" in said[0].message
        assert "the belly bevel" in said[0].message
        assert "110.0 mm to the bass" in said[0].message
    else:
        assert not said


def test_a_bevel_that_opens_a_cavity_stops_the_work(planned: Any) -> None:
    plan = over_the_belly(planned, angle=20.0)
    out = sin(radians(20)) * 50 - cos(radians(20)) * 14.4
    (said,) = [f for f in found(plan, "wood.breaks-surface") if "tray" in f.features]
    assert said.severity == "stop"
    assert said.value == pytest.approx(-out, abs=0.01)


def test_a_bevels_depth_gives_its_angle(planned: Any) -> None:
    layout = planned({"body.bevels": [{**BELLY, "depth": 15.0}]}).layout
    away = max(-60 - p.y for p in layout.outline if 560 < p.x < 760)
    place = Point(640, -100)
    assert layout.back_at(place) == pytest.approx(-THICK + 40 * tan(atan(15.0 / away)), abs=1e-6)


def test_a_slanting_hole_that_comes_out_where_the_arch_falls_is_found(planned: Any) -> None:
    # The ground wire runs 20° under the top towards the neck; the arch falls to -12 at the edge.
    flat, arched = (
        planned(),
        planned({"body.top": {"kind": "arched", "profile": [[0, -12], [90, -0.5], [100, 0]]}}),
    )
    assert not [o for o in flat.outside if o.surfaces]
    gap = next(g for o in arched.outside if o.feature == "ground-wire" for g in o.surfaces)
    assert gap.surface == "the arched top"


LAYERS = [
    {"name": "cap", "timber": "maple-sugar", "thickness": "6.4 +/- 0.1"},
    {"name": "core", "timber": "ash-white", "thickness": "38 +/- 0.1"},
]


@pytest.mark.parametrize(
    ("depth", "said"),
    [(38.3, "0.30 mm above"), (38.0, "on the glue line"), (37.5, "0.50 mm below"), (36.9, "")],
)
def test_a_floor_on_a_glue_line_is_told(planned: Any, depth: float, said: str) -> None:
    # From the back of 44.4 mm a pocket `depth` deep ends 44.4 - depth under the top; the glue lies at 6.4.
    pocket = {
        "name": "tray",
        "face": "back",
        "depth": depth,
        "corner_radius": 5.0,
        "centre": [560, 90],
        "size": [40, 30],
    }
    plan = planned({"body.layers": LAYERS, "pockets[4]": pocket})
    told = [f for f in found(plan, "wood.glue-line") if "tray" in f.features]
    assert [said in f.message and "between cap and core" in f.message for f in told] == (
        [True] if said else []
    )


def test_a_thin_cap_over_a_cavity_is_named(planned: Any) -> None:
    # From the back of 44.4 mm a pocket 41 mm deep leaves 3.4 mm, all within the cap of 6.4.
    pocket = {
        "name": "tray",
        "face": "back",
        "depth": 41.0,
        "corner_radius": 5.0,
        "centre": [560, 90],
        "size": [40, 30],
    }
    plan = planned({"body.layers": LAYERS, "pockets[4]": pocket})
    (said,) = [f for f in found(plan, "wood.thin-floor") if "tray" in f.features]
    assert said.severity == "caution"
    assert said.value == pytest.approx(3.4)
    assert "all of it cap" in said.message


def test_a_screw_tip_that_shows_in_a_bevel_is_told(planned: Any) -> None:
    # The plate's screws stand over the belly bevel once it is carved up to them.
    screw: dict[str, Any] = {"bridge_screw.length": "39.5 +/- 0.1", "pockets": [], "ground_wire": None}
    flat = planned(screw)
    carved = planned({**screw, "body.bevels": [{**BELLY, "line": [[560, -20], [700, -20]], "angle": 25.0}]})
    assert not found(flat, "screw.tip-near") + found(flat, "screw.tip-shows")
    told = found(carved, "screw.tip-near") + found(carved, "screw.tip-shows")
    assert told
    assert "the belly bevel" in told[0].message


def test_thread_parted_by_a_glue_line_is_told(planned: Any) -> None:
    # A screw with 8 mm in the wood through a 4 mm cap has 4 mm in either layer; six is the least that holds.
    layers = [{**LAYERS[0], "thickness": "4 +/- 0.1"}, {**LAYERS[1], "thickness": "40.4 +/- 0.1"}]
    plan = planned({"body.layers": layers, "bridge_screw.length": 9.0, "bridge.plate_thickness": 2.0})
    assert found(plan, "holding.thread-parted")
    whole = planned({"bridge_screw.length": 9.0, "bridge.plate_thickness": 2.0})
    assert not found(whole, "holding.thread-parted")


@pytest.mark.parametrize(("start", "severity"), [(40, None), (29, "caution"), (20, "stop")])
def test_ferrules_on_a_carved_back_are_told(planned: Any, start: float, severity: str | None) -> None:
    """A plane of 10° from y = -start outwards: at the sixth ferrule, 26.5 from the middle, the lip's outer edge lies at -31."""
    bevel = {"name": "belly", "face": "back", "line": [[560, -start], [700, -start]], "angle": 10.0}
    told = found(planned({"body.bevels": [bevel]}), "ferrules.uneven-ground")
    assert [f.severity for f in told] == ([severity] if severity else [])
    if told:
        assert told[0].value == pytest.approx((31 - start) * tan(radians(10)), abs=1e-6)


@pytest.mark.parametrize(("angle", "starts"), [(0.5, -42.4), (10.0, -44.4 + 26.5 * tan(radians(10)))])
def test_a_cover_screw_starts_on_its_recess_or_where_a_bevel_took_that(
    planned: Any, angle: float, starts: float
) -> None:
    """The recess lies 2 mm into the back, at -42.4; the bevel falls from y = 100, and the screw stands at y = 126.5."""
    bevel = {"name": "arm", "face": "back", "line": [[560, 100], [740, 100]], "angle": angle}
    plan = planned({"body.bevels": [bevel], "tunnels": None}, FULL)
    screw = next(bore for bore in plan.features.bores if bore.id == "cover-screw-2")
    assert screw.at.y == pytest.approx(126.5)
    assert screw.at.z == pytest.approx(starts, abs=1e-6)


@pytest.mark.parametrize(("fall", "severity"), [(0.1, None), (0.5, "caution"), (3.0, "stop")])
def test_a_bridge_on_uneven_ground_is_told(planned: Any, fall: float, severity: str | None) -> None:
    plan = planned({"body.top": {"kind": "arched", "profile": [[0, -8], [20, -fall], [60, -fall]]}})
    told = found(plan, "bridge.uneven-ground")
    assert [f.severity for f in told] == ([severity] if severity else [])


@pytest.mark.parametrize(("below", "left"), [(13.0, None), (10.0, -2.0)])
def test_a_jack_without_a_plate_wants_a_flat_edge_round_its_rim(
    planned: Any, below: float, left: float | None
) -> None:
    """By hand: its recess is 24 mm wide, so 10 mm below the flat of the edge its rim runs 2 mm into the rounding above."""
    plan = planned({"body.roundover": {"top": 12.0}, "jack.from_top": below}, base=FULL)
    said: list[Any] = [(finding.severity, finding.value) for finding in found(plan, "edge.rim-on-rounding")]
    assert said == ([] if left is None else [("caution", pytest.approx(left))])
