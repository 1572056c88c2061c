"""The fixed bridge on two studs: where they stand, how it is slanted, and what the strings do to them."""

from __future__ import annotations

from collections.abc import Sequence
from math import atan2, exp, hypot
from typing import TYPE_CHECKING, NamedTuple

from scribeline.job import Document
from scribeline.job.bridges.studs import BridgeOnStuds
from scribeline.layout.bridges.kind import (
    Anchor,
    AnchorFamily,
    AnchorLoad,
    BridgePlace,
    Hazard,
    Kind,
    Loads,
    Pressed,
    string_places,
)
from scribeline.layout.bridges.pair import (
    name_pair,
    own_places,
    pair_corners,
    pair_marks,
    slanted,
    slanted_in_words,
)
from scribeline.layout.points import Point
from scribeline.layout.pose import Pose
from scribeline.lengths import said
from scribeline.quantities import Quantities

if TYPE_CHECKING:
    from scribeline.layout.instrument import Layout
    from scribeline.layout.stringing import Stringing

SADDLE_FRICTION = 0.2
"""Friction of a string on its saddle, by which its end may pull less than its speaking length (from memory)."""

MODEL_SOURCE = "a plain model of the bridge, docs/holding.md"

_STUD = "bridge.stud-{}"


class StudKind:
    """A bridge that hangs on two studs in bushings."""

    family: AnchorFamily = "bridge-stud"
    role = "bushing hole"
    group = "bridge studs"
    row = "stud"
    holes = "bushing holes"
    holds = "bridge stud"
    by_screws = False
    hazards: tuple[Hazard, ...] = ()

    def turn(self, document: Document, stringing: Stringing) -> float:
        """The slant stated, else the one that leaves the saddles most travel."""
        bridge = stated(document)
        return slanted(document, stringing, bridge.slant, bridge.stud_spacing.mm)

    def turn_in_words(self, document: Document) -> str:
        """Where that comes from."""
        return slanted_in_words(stated(document).slant, "stud")

    def anchor_places(self, document: Document) -> tuple[tuple[float, float], ...]:
        """The treble stud, then the bass one."""
        return own_places(stated(document).stud_spacing.mm)

    def play(self, document: Document) -> float:
        """Half of the play of the bridge on its studs."""
        return stated(document).stud_play.mm / 2

    def play_in_words(self, document: Document) -> str:
        """How that comes about."""
        return f"the play of the bridge on its studs: {stated(document).stud_play.mm:.2f} / 2"

    def place(self, document: Document, pose: Pose) -> BridgePlace:
        """The bridge where it hangs."""
        bridge = stated(document)
        part = Pressed(
            bridge.bushing_diameter.mm,
            bridge.bushing_length.mm,
            "bridge.bushing_diameter",
            "bridge.bushing_length",
        )
        studs = tuple(pose.place(*own) for own in self.anchor_places(document))
        over = bridge.underside.mm
        return BridgePlace(
            noun=bridge.noun,
            title=bridge.title,
            middle=pose.place(0.0, 0.0),
            behind=pose.place(bridge.rear, 0.0),
            footprint=pose.rectangle(bridge.foremost, bridge.rear, bridge.overall_width.mm),
            anchors=tuple(
                Anchor(at, part, 0.0, f"{_STUD.format(no)}-own") for no, at in enumerate(studs, start=1)
            ),
            string_ends=tuple(pose.place(*own) for own in string_places(document)),
            marks=tuple(pair_marks("stud", _STUD, studs)),
            corners=pair_corners("stud", _STUD, studs),
            far_corner="the far stud's centre",
            rests_on=studs,
            askew="off its slant",
            heights=(over, over + bridge.thickness.mm),
        )

    def loads(self, document: Document, layout: Layout, places: Sequence[Point]) -> Loads | None:
        """The studs share alike what pushes the bridge to the nut and what lifts it."""
        load = stud_load(document, layout)
        if load is None:
            return None
        each, height = load.forward / len(places), document.bridge.saddle_height.mm
        lift = (
            f"and lift it with {load.up:.0f} N" if load.up > 0 else f"and press it down with {-load.up:.0f} N"
        )
        return Loads(
            tuple(AnchorLoad(max(0.0, load.up) / len(places), each, height) for _ in places),
            f"the strings pull the bridge towards the nut with {load.forward:.0f} N, {each:.0f} N a stud at {height:.1f} mm "
            f"over the wood, {lift}",
            MODEL_SOURCE,
        )

    def fitting(self, document: Document, layout: Layout) -> tuple[str, ...]:
        """On its studs, which set its height."""
        height = said(document.bridge.saddle_height.mm)
        return (
            "Wind both studs in by hand and hang the bridge on them.",
            f"Set the height by the studs: the strings {height} over the body at the saddles, the same on both sides.",
        )

    def name_numbers(self, found: Quantities, document: Document, layout: Layout) -> None:
        """Where each stud stands."""
        name_pair(found, "stud", _STUD, {"spacing": "bridge.stud_spacing"})


KIND: Kind = StudKind()


def stated(document: Document) -> BridgeOnStuds:
    """The bridge of a job whose bridge hangs on studs."""
    assert isinstance(document.bridge, BridgeOnStuds)
    return document.bridge


class StudLoad(NamedTuple):
    """What the strings do to a bridge on studs, newtons: towards the nut, and up; up below 0 presses it down."""

    forward: float
    up: float


def stud_load(document: Document, layout: Layout) -> StudLoad | None:
    """The strings' load on the bridge, cut free before the saddles and, for strings through the body, behind them.

    Returns:
        None where the bridge has no place or the strings cannot be tuned as stated.
    """
    bridge = layout.bridge
    if bridge is None:
        return None
    forward = up = 0.0
    for n, string in enumerate(layout.strings):
        if string.tension_n is None:
            return None
        run, rise = string.saddle.x - string.nut.x, string.nut.z - string.saddle.z
        length = hypot(run, rise)
        forward += string.tension_n * run / length
        up += string.tension_n * rise / length
        if bridge.string_ends:
            hole = bridge.string_ends[n]
            back, drop = hypot(hole.x - string.saddle.x, hole.y - string.saddle.y), string.saddle.z
            turned = atan2(drop, back) - atan2(rise, run)
            end = string.tension_n * exp(-SADDLE_FRICTION * turned)
            forward -= end * back / hypot(back, drop)
            up -= end * drop / hypot(back, drop)
    return StudLoad(forward, up)
