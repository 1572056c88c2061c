"""A hole for a wire whose place is stated: the string ground's and any other tunnel are the same hole, told the same."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from math import atan2, cos, hypot, sin
from typing import Any

import pytest

from scribeline.drawing.cards import picture_of_section
from scribeline.drawing.sheet import Text
from scribeline.features import entry_ellipse
from scribeline.findings import Finding
from scribeline.job import parse_job, set_value
from scribeline.plan import Plan, plan

from ..conftest import Planned, change, in_inches
from .test_drilled_is_drilled import ticked

ENTRY = {"from_front": 14.0, "across": 5.3, "lands": 11.0, "heading": 0.0}
STATED: dict[str, dict[str, float]] = {
    "sound": {},
    "askew": {"heading": 25.0, "across": -8.0},
    "shows at the front": {"from_front": 3.0},
    "shows at the treble side": {"across": 41.5},
    "shows at the bass side": {"across": -41.5},
    "lands under the floor": {"lands": 30.0},
    "lands at the top": {"lands": 1.5},
    "over the wall's end": {"across": 34.5},
    "points away": {"heading": 150.0},
    "starts in the pocket": {},
}
KEYS = {
    "ground_wire.from_front, across": "tunnels[1].entry",
    "from_front, across, heading and lands out of ground_wire": "entry, heading and lands out of tunnels[1]",
    "ground_wire.across": "tunnels[1].entry",
    "ground_wire.from_front": "tunnels[1].entry",
    "ground_wire": "tunnels[1]",
    "the ground-wire hole": 'the wire hole "wire"',
}


# A pocket so long that the hole would start in it.
UNDER_THE_PLATE: dict[str, Any] = {"pockets[1].size": [94, 72]}


def _as_ground_wire(planned: Planned, place: Mapping[str, float], more: Mapping[str, Any]) -> Plan:
    return planned({**more, **{f"ground_wire.{key}": value for key, value in place.items()}})


def _as_tunnel(planned: Planned, place: Mapping[str, float], more: Mapping[str, Any]) -> Plan:
    front = planned().layout.bridge_line
    tunnel = {
        "name": "wire",
        "start": "bridge plate",
        "into": "bridge pickup",
        "diameter": 4,
        "entry": [front + place["from_front"], place["across"]],
        "heading": place["heading"],
        "lands": place["lands"],
    }
    return planned({**more, "ground_wire": None, "tunnels": [tunnel]})


def _told(plan: Plan, name: str) -> list[Finding]:
    return [f for f in plan.findings if name in f.features and f.code.startswith("tunnel.")]


def _without_names(words: str) -> str:
    for ours, theirs in KEYS.items():
        words = words.replace(ours, theirs)
    # The numbers of a place to move to count from different edges.
    return re.sub(r" to (\[.*?\]|[-\d.]+ mm or (more|less))", " to …", words)


@pytest.mark.parametrize("hand", ["right", "left"])
@pytest.mark.parametrize("what", STATED)
def test_a_ground_wire_is_told_what_any_tunnel_is_told(planned: Planned, what: str, hand: str) -> None:
    place = {**ENTRY, **STATED[what]}
    more = {"handed": hand, **(UNDER_THE_PLATE if what == "starts in the pocket" else {})}
    wire, tunnel = _as_ground_wire(planned, place, more), _as_tunnel(planned, place, more)
    ours, theirs = _told(wire, "ground-wire"), _told(tunnel, "tunnel-1")
    assert [(f.code, f.severity) for f in ours] == [(f.code, f.severity) for f in theirs]
    for a, b in zip(ours, theirs, strict=True):
        assert (a.value, a.limit) == pytest.approx((b.value, b.limit))
        assert _without_names(a.message) == b.message
        assert _without_names(a.cure) == re.sub(r" to \[.*?\]", " to …", b.cure)
    bores = [bore for bore in wire.features.bores if bore.id == "ground-wire"]
    same = [bore for bore in tunnel.features.bores if bore.id == "tunnel-1"]
    assert len(bores) == len(same)
    for one, other in zip(bores, same, strict=True):
        assert tuple(one.at) == pytest.approx(tuple(other.at))
        assert tuple(one.axis) == pytest.approx(tuple(other.axis))
        assert one.steps == other.steps
        assert one.meets == other.meets
    # One card and one section, but for its name and its number.
    cards = [
        next((c for c in p.cards if c.id == f"drill-{i}"), None)
        for p, i in ((wire, "ground-wire"), (tunnel, "tunnel-1"))
    ]
    assert (cards[0] is None) == (cards[1] is None) == (not bores)
    if cards[0] is not None and cards[1] is not None:
        assert picture_of_section(wire, cards[0]) == picture_of_section(tunnel, cards[1])


def test_how_far_a_mouth_shows(planned: Planned) -> None:
    """From the plate's front edge, plain trigonometry: the entry less half the ellipse's length, D/sin A."""
    wire = planned({"ground_wire.from_front": 3.0})
    run = 3.0 + wire.layout.bridge_line - 618.0  # the pocket's wall, 598 + 20
    half = 4.0 / sin(atan2(11.0, run)) / 2
    (said,) = [f for f in _told(wire, "ground-wire") if f.code == "tunnel.shows"]
    assert said.value == pytest.approx(3.0 - half, abs=1e-6)
    assert f"comes {half - 3.0:.2f} mm out from under the bridge plate" in said.message
    (hole,) = wire.features.family("ground-wire")
    assert entry_ellipse(hole)[0] / 2 == pytest.approx(half)
    # To have the plate 1 mm beyond it, it would start its half-length and 1 mm behind the edge.
    (key,) = said.tries
    assert key.key == "ground_wire.from_front"
    assert float(key.value.removesuffix(" mm")) == pytest.approx(half + 1.0, abs=0.011)  # type: ignore[union-attr]


def test_room_for_a_mouth_in_its_wall(planned: Planned) -> None:
    """Half the mouth is r/cos A high where it comes out square, the bit's drift (1 mm in 100 mm) added to r."""
    wire = planned({"ground_wire.lands": 1.5})
    (said,) = [f for f in _told(wire, "ground-wire") if f.code == "tunnel.misses-wall"]
    run = 14.0 + wire.layout.bridge_line - 618.0
    half = (2.0 + 0.01 * hypot(run, 1.5)) / cos(atan2(1.5, run))
    depth = wire.features.pocket("bridge-pickup").depth
    assert f"from {half + 1:.2f} to {depth - half - 1:.2f} mm" in said.message
    assert said.severity == "stop"


@pytest.mark.parametrize("lands", [16.0, 17.4, 17.58, 17.65])
def test_a_bit_that_runs_into_the_floor(planned: Planned, lands: float) -> None:
    """The lowest place of its square end: L sin A + r cos A below the face, its point L' sin A.

    With no wall asked for round its mouth, that is what stops it before the mouth's own edge does.
    """
    wire = planned({"ground_wire.lands": lands, "limits.tunnel_window": 0})
    (hole,) = wire.features.family("ground-wire")
    sine, (step,) = -hole.axis.z, hole.steps
    lowest = max(step.depth * sine + 2 * (1 - sine**2) ** 0.5, step.point_reaches * sine)
    over = lowest - wire.features.pocket("bridge-pickup").depth
    told = [f for f in _told(wire, "ground-wire") if f.code == "tunnel.misses-wall"]
    assert bool(told) == (over > 0)
    for finding in told:
        assert finding.severity == "stop"
        assert f"runs {over:.2f} mm into the cavity's floor" in finding.message
        (lower,) = finding.tries
        assert isinstance(lower.value, str)
        cured = planned({lower.key: float(lower.value.removesuffix(" mm")), "limits.tunnel_window": 0})
        assert not cured.stops


def test_a_hole_into_a_rounded_corner_is_drilled(planned: Planned) -> None:
    """It comes out where the router left the corner round: it reaches its pocket, but no whole stretch of wall."""
    wire = planned({"ground_wire.across": 35.0, "pockets[1].corner_radius": 5})
    (hole,) = wire.features.family("ground-wire")
    codes = {f.code for f in _told(wire, "ground-wire")}
    assert "tunnel.misses" not in codes
    assert "tunnel.misses-wall" in codes
    # A corner of 5 mm radius about (613, 31): at 35 across the wall lies √(25 − 16) = 3 mm beyond its middle.
    run = hole.at.x - 616.0
    assert hole.along(hypot(run, 11.0)).x == pytest.approx(616.0, abs=0.15)


PART: dict[str, Any] = {
    "name": "claw wire",
    "start": "top",
    "into": "bridge pickup",
    "diameter": 4,
    # A part that lies askew: a square of 30 mm turned 45°.
    "hide": [[648.0, 0.0], [669.2, 21.2], [690.4, 0.0], [669.2, -21.2]],
    "entry": [655.0, 2.0],
    "heading": 0.0,
    "lands": 11.0,
}


@pytest.mark.parametrize("hand", ["right", "left"])
@pytest.mark.parametrize("units", ["mm", "in"])
def test_a_mouth_is_moved_in_from_the_side_it_shows_at(units: str, hand: str) -> None:
    bare = {"ground_wire": None, "bridge.screws": [[36, -30], [36, 30]], "tunnels": [PART], "handed": hand}
    text = change(bare) if units == "mm" else in_inches(change(bare))
    (said,) = [f for f in plan(*parse_job(text)).findings if f.code == "tunnel.shows"]
    (each,) = said.tries
    assert each.key == "tunnels[1].entry"
    moved, _ = set_value(text, each.key, list(each.value))
    left = [f for f in plan(*parse_job(moved)).findings if f.code == "tunnel.shows"]
    # The mouth changes with the hole's slope: it is no longer a stop, and all but hidden.
    assert not [f for f in left if f.severity == "stop"]
    assert all(f.value is not None and f.value > 0.3 for f in left)
    assert said.value is not None
    assert said.value < 0


@pytest.mark.parametrize("key", ["ground_wire.lands", "ground_wire.heading", "ground_wire.diameter"])
def test_a_drilled_hole_stays_and_what_the_job_now_states_is_told(planned: Planned, key: str) -> None:
    text = change({})
    before = plan(*parse_job(text))
    job = ticked(text, before, {"drill-ground-wire"})
    assert not plan(*parse_job(job)).moved
    now, _ = set_value(job, key, {"ground_wire.lands": 14.0, "ground_wire.heading": 20.0}.get(key, 5.0))
    after = plan(*parse_job(now))
    assert {moved.feature for moved in after.moved} == {"ground-wire"}
    (hole,), (was,) = (p.features.family("ground-wire") for p in (after, before))
    assert replace(hole, why=()) == replace(was, why=())
    (card,) = [card for card in after.cards if card.id == "drill-ground-wire"]
    assert card.depth == was.deepest.depth
    away, _ = set_value(job, "ground_wire.heading", 150.0)
    codes = {f.code for f in plan(*parse_job(away)).findings}
    assert {"tunnel.misses", "drilled.would-move"} <= codes


def test_what_is_wrong_with_a_drilled_hole_is_still_told() -> None:
    text = change({"ground_wire.from_front": 3.0})
    before = plan(*parse_job(text))
    after = plan(*parse_job(ticked(text, before, {"drill-ground-wire"})))
    was, now = ([f for f in p.findings if f.code == "tunnel.shows"] for p in (before, after))
    assert [f.severity for f in now] == [f.severity for f in was] == ["stop"]
    assert now[0].value == pytest.approx(was[0].value)
    assert "plug" in now[0].cure
    assert not now[0].tries


@pytest.mark.parametrize(("face", "lean"), [("top", 40), ("back", 25)])
def test_a_leaning_hole_s_section_is_its_own(planned: Planned, face: str, lean: float) -> None:
    """Of a stated hole that leans the card draws that hole, whatever the string ground's is like."""
    hole = {
        "name": "slant",
        "face": face,
        "places": [[560, 90]],
        "diameter": 5,
        "depth": 21,
        "lean": lean,
        "heading": 90,
    }
    found = planned({"holes": [hole], "bits.brad_point": [4.0, 5.0]})
    (card,) = [card for card in found.cards if "hole-1" in card.features]
    words = " ".join(each.text for each in picture_of_section(found, card) if isinstance(each, Text))
    assert "Full diameter ends at 21.00 mm" in words
    assert face in words.split()
    assert "Opens into" not in words


@pytest.mark.parametrize(
    ("across", "severity"), [(28.0, None), (29.0, "caution"), (33.0, "caution"), (34.9, "stop")]
)
def test_a_mouth_that_cuts_into_a_corner_is_a_stop_only_where_wood_stays_in_it(
    planned: Planned, across: float, severity: str | None
) -> None:
    """The wall ends 4 mm before the pocket's side at 36: there the router's corner begins.

    At its end the bit of 4 mm is 1 mm and what its slope asks past the wall: in the corner, a circle of 4 mm about a
    middle 32 across, its outer side is out of the wood where it lies within that circle.
    """
    wire = planned({"ground_wire.across": across})
    (hole,) = wire.features.family("ground-wire")
    told = {f.severity for f in _told(wire, "ground-wire") if f.code == "tunnel.misses-wall"}
    assert told == ({severity} if severity else set())
    end = hole.along(hole.deepest.depth)
    out = hypot(max(0.0, across + 2.0 - 32.0), max(0.0, end.x - 614.0)) <= 4.0
    assert out == (severity != "stop")
