"""The string ground's hole into the side of a bushing's hole: where it opens, worked with plain geometry, and what is told."""

from __future__ import annotations

import re
from functools import cache
from math import cos, pi, sin

import numpy as np
import pytest
from tests.kind_jobs import faults_at, restated

from scribeline.features import Bore
from scribeline.job import Stated, parse_job
from scribeline.plan import Plan, plan
from scribeline.scenario import examples

STUDS = "two-studs"
POSTS = "posts-and-tailpiece"
_OTHER_WIRES = re.compile(r"(?ms)^\[\[tunnels\]\].*?(?=^\[(?!\[tunnels))")


def text(name: str, **changes: Stated) -> str:
    """The example with its ground wire and no other wire hole; keys restated."""
    return restated(_OTHER_WIRES.sub("", examples()[name].text), changes)


@cache
def made(name: str, *changes: tuple[str, Stated]) -> Plan:
    return plan(*parse_job(text(name, **dict(changes))))


def holes(done: Plan, bushing: str) -> tuple[Bore, Bore]:
    """The wire's hole and the bushing's."""
    (wire,) = done.features.family("ground-wire")
    return wire, next(bore for bore in done.features.bores if bore.id == bushing)


WHERE = [
    (STUDS, (), "bridge-stud-1"),
    (STUDS, (("ground_wire__side", "bass"), ("ground_wire__into", "bridge pickup")), "bridge-stud-2"),
    (STUDS, (("handed", "left"),), "bridge-stud-1"),
    (POSTS, (), "tailpiece-stud-1"),
    ("angled-head", (), "bridge-stud-1"),
]


@pytest.mark.parametrize(("name", "changes", "bushing"), WHERE)
def test_the_hole_opens_wholly_in_the_side_of_the_bushings_hole(
    name: str, changes: tuple[tuple[str, Stated], ...], bushing: str
) -> None:
    done = made(name, *changes)
    wire, hole = holes(done, bushing)
    step = hole.deepest
    axis, at = np.array(wire.axis), np.array(wire.at)
    u = np.cross(axis, (0.0, 0.0, 1.0))
    u /= np.linalg.norm(u)
    v = np.cross(axis, u)
    turns = [2 * pi * n / 72 for n in range(72)]
    rim = np.array([wire.deepest.diameter / 2 * (cos(t) * u + sin(t) * v) for t in turns])
    end = at + wire.deepest.depth * axis + rim
    # At its full depth all of the bit's rim is in the air of the bushing's hole, over its bottom and under the top.
    off = np.hypot(end[:, 0] - hole.at.x, end[:, 1] - hole.at.y)
    assert (off < step.diameter / 2).all()
    assert (end[:, 2] > hole.at.z - step.depth).all()
    assert (end[:, 2] < hole.at.z - 1).all()
    # It starts outside of it, and what goes on past its depth, the bit's point, meets no wood behind.
    assert np.hypot(at[0] - hole.at.x, at[1] - hole.at.y) > step.diameter
    tip = at + (wire.deepest.depth + wire.deepest.bit.point) * axis
    assert np.hypot(tip[0] - hole.at.x, tip[1] - hole.at.y) < step.diameter / 2
    assert hole.id in wire.meets
    assert not [each for each in done.findings if each.severity == "stop"]


def test_the_wire_comes_from_the_cavity_named() -> None:
    done = made(STUDS)
    wire, _ = holes(done, "bridge-stud-1")
    assert wire.entered_from == "control-cavity"
    outline = np.array(done.features.pocket("control-cavity").outline)
    ends = np.roll(outline, -1, axis=0)
    run = ends - outline
    t = np.clip(((np.array(wire.at[:2]) - outline) * run).sum(axis=1) / (run**2).sum(axis=1), 0, 1)
    assert np.hypot(*(outline + t[:, None] * run - np.array(wire.at[:2])).T).min() < 0.3


def test_the_bushings_hole_and_the_cavity_come_first() -> None:
    done = made(POSTS)
    at = {card.id: number for number, card in enumerate(done.cards)}
    (own,) = [card.id for card in done.cards if "ground-wire" in card.features]
    first = [
        card.id
        for card in done.cards
        if {"tailpiece-stud-1", "control-cavity"} & set(card.features) and card.kind in {"drill", "rout"}
    ]
    assert len(first) >= 2
    assert all(at[each] < at[own] for each in first)


def test_the_cards_say_where_it_goes() -> None:
    lines = {line for card in made(POSTS).cards for line in card.do}
    assert any("over the wall of the treble tailpiece stud's hole" in line for line in lines)
    (gripped,) = [line for line in lines if "bared end" in line]
    assert "up the side of the treble tailpiece stud's hole before that bushing" in gripped
    assert not [line for line in lines if "asks for no way to it" in line]


def test_without_it_the_card_says_so() -> None:
    bare = re.sub(r"(?ms)^\[ground_wire\].*?(?=^\[)", "", text(STUDS))
    lines = [line for card in plan(*parse_job(bare)).cards for line in card.do]
    assert any("The job asks for no way to it (ground_wire)" in line for line in lines)


WRONG: tuple[tuple[str, str, dict[str, Stated], str], ...] = (
    (STUDS, "ground_wire.diameter", {"ground_wire__diameter": 7}, "5.7 mm is the most"),
    (STUDS, "ground_wire.into", {"ground_wire__into": "attic"}, "the cavities are"),
    (STUDS, "ground_wire.from_front", {"ground_wire__from_front": 12, "ground_wire__lands": 9}, "plate"),
    (STUDS, "ground_wire.side", {"ground_wire__side": "middle"}, "treble"),
    (
        "left-handed-six",
        "ground_wire.side",
        {"ground_wire__side": "bass"},
        "belongs to a bridge on studs or posts; this one is grounded at the plate",
    ),
    ("vibrato-two-posts", "ground_wire.side", {"ground_wire__side": "bass"}, "the claw"),
    (POSTS, "ground_wire.diameter", {"ground_wire__diameter": 6}, "bushing's hole of 11.4 mm"),
)


@pytest.mark.parametrize(("name", "path", "changes", "words"), WRONG)
def test_what_does_not_go_together_is_told(
    name: str, path: str, changes: dict[str, Stated], words: str
) -> None:
    told = faults_at(text(name, **changes), path)
    assert any(words in each for each in told), told


def test_posts_in_the_wood_grip_no_wire() -> None:
    changes: dict[str, Stated] = {
        "bridge__loading": "through-body",
        "bridge__posts": "wood",
        "bridge__post_root": 8.0,
        "bridge__string_holes_from_posts": 30.0,
        "ferrules__part": "lipped",
        "string_holes__diameter": 3.2,
    }
    told = faults_at(text(POSTS, **changes), "ground_wire")
    assert any("wound into the wood" in each for each in told), told


def test_a_cavity_too_shallow_to_reach_the_bushings_hole_is_stopped() -> None:
    # 14 mm deep from the back of 44.2 mm: its wall ends 9 mm behind the bushing's bottom, 21 mm under the top.
    short = made(STUDS, ("pockets[3]__depth", 6.0), ("ground_wire__diameter", 5))
    (found,) = [each for each in short.findings if each.code == "tunnel.none"]
    assert found.severity == "stop"
    assert "no way to drill the ground-wire hole into the treble bridge stud's hole" in found.message
    assert not short.features.family("ground-wire")


def test_a_drilled_hole_that_misses_the_bushings_hole_is_stopped() -> None:
    done = made(STUDS)
    wire, _ = holes(done, "bridge-stud-1")
    step = wire.deepest
    bit = f'bit = {{ kind = "brad-point", diameter = {step.diameter}, point = {step.bit.point} }}'

    def listed(*numbers: float) -> str:
        return ", ".join(str(each) for each in numbers)

    # Drilled 15 mm further to the tail than planned, as deep and as steep.
    drilled = f"""
[[done]]
card = "{next(card.id for card in done.cards if "ground-wire" in card.features)}"
by = "A."
at = 2026-11-30T10:00:00Z

[[done.cuts]]
id = "ground-wire"
role = "ground-wire hole"
face = "pocket"
at = [{listed(*wire.at)}]
measured = [{listed(wire.at.x + 15.0, wire.at.y)}]
axis = [{listed(*wire.axis)}]
outward = [{listed(*wire.normal)}]
meets = ["bridge-stud-1", "control-cavity"]
entered_from = "control-cavity"
steps = [{{ no = 1, diameter = {step.diameter}, depth = {step.depth}, {bit} }}]
"""
    off = plan(*parse_job(text(STUDS) + drilled))
    (found,) = [each for each in off.findings if each.code == "tunnel.misses"]
    assert found.severity == "stop"
    assert "as it was drilled, misses the treble bridge stud's hole" in found.message
    assert "plug" in found.cure


def test_the_wire_hole_beside_it_opens_no_bushings_hole_downwards() -> None:
    # 48.0 mm of body; the tailpiece's bushings are 22.0 long, their holes 1.0 deeper, the bit's point 1.5. On an arched top
    # the holes may start a little under its level.
    done = made(POSTS)
    for number in (1, 2):
        hole = next(bore for bore in done.features.bores if bore.id == f"tailpiece-stud-{number}")
        left = done.floors[hole.id]
        assert left is not None
        assert left == pytest.approx(48.0 + hole.at.z - 23.0 - 1.5, abs=0.01)
