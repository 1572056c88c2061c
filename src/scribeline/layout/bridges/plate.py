"""The plate that is screwed down: where its corners and screws lie, and what the strings do to them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, hypot, pi
from typing import TYPE_CHECKING

from scribeline.job import Document, PlateBridge, plate_screw
from scribeline.layout.bridges.kind import (
    Anchor,
    AnchorFamily,
    AnchorLoad,
    BridgePlace,
    Corner,
    Hazard,
    Kind,
    Loads,
    Mark,
    Screwed,
    string_places,
)
from scribeline.layout.points import Point
from scribeline.layout.pose import Pose, placed_across, placed_along
from scribeline.quantities import Quantities, tan

if TYPE_CHECKING:
    from scribeline.layout.instrument import Layout, StringPath
    from scribeline.layout.stringing import Stringing

SADDLE_FRICTION = 0.2
"""Friction of a string on its saddle, by which its end may pull less than its speaking length (from memory)."""

MODEL_SOURCE = "a plain model of the plate, docs/holding.md"


class PlateKind:
    """A plate that lies on the body and is held by wood screws."""

    family: AnchorFamily = "bridge-screw"
    role = "bridge screw pilot"
    group = "bridge screws"
    row = "screw row"
    holes = "pilots"
    holds = "bridge screw"
    by_screws = True
    hazards: tuple[Hazard, ...] = ()

    def turn(self, document: Document, stringing: Stringing) -> float:
        """Square to the centreline."""
        return 0.0

    def turn_in_words(self, document: Document) -> str:
        """Why it is square."""
        return "it is put square to the centreline"

    def anchor_places(self, document: Document) -> tuple[tuple[float, float], ...]:
        """Its screws, as listed in the job."""
        return stated(document).screws

    def play(self, document: Document) -> float:
        """The screws' play in its holes."""
        return max(0.0, stated(document).screw_hole.mm - plate_screw(document).thread.mm) / 2

    def play_in_words(self, document: Document) -> str:
        """How the screws' play comes about."""
        hole, thread = stated(document).screw_hole.mm, plate_screw(document).thread.mm
        return f"the screws' play in the plate: ({hole:.2f} − {thread:.2f}) / 2"

    def place(self, document: Document, pose: Pose) -> BridgePlace:
        """The plate where it lies."""
        bridge = stated(document)
        middle = pose.place(0.0, 0.0)
        corners = pose.rectangle(0.0, bridge.plate_length.mm, bridge.plate_width.mm)
        behind = Point(*(sum(parts) / 2 for parts in zip(*corners[2:], strict=True)))
        screws = tuple(pose.place(x, y) for x, y in bridge.screws)
        held = Screwed(
            plate_screw(document),
            bridge.plate_thickness.mm,
            "bridge_screw",
            "bridge.plate_thickness",
        )
        edge = Mark(
            id="plate",
            name="plate's front edge",
            short="plate's front",
            how="the plate's front edge, along the centreline",
            at=Point(front_on_centreline(middle.x, middle.y, pose.turn), 0.0),
            number="bridge.front-edge",
        )
        return BridgePlace(
            noun=bridge.noun,
            title=bridge.title,
            middle=middle,
            behind=behind,
            footprint=corners,
            anchors=tuple(
                Anchor(at, held, f"bridge.screws[{number}][1]", f"bridge.screws[{number}][2]")
                for number, at in enumerate(screws, start=1)
            ),
            string_ends=tuple(pose.place(x, y) for x, y in string_places(document)),
            marks=(edge,),
            corners=(
                Corner("the plate's treble front corner", corners[0], "bridge.front-treble"),
                Corner("the plate's bass front corner", corners[1], "bridge.front-bass"),
            ),
            far_corner="the plate's far front corner",
            askew="out of square",
            rests_on=(*corners, middle, *screws),
            heights=(0.0, bridge.plate_thickness.mm),
        )

    def loads(self, document: Document, layout: Layout, places: Sequence[Point]) -> Loads | None:
        """The screws share the pull alike, and the lift as their distance from the front edge."""
        load, plate = plate_load(document, layout), layout.bridge
        if load is None or plate is None:
            return None
        behind = [at.x - plate.middle.x for at in places]
        squares = sum(x * x for x in behind)
        pulls = [max(0.0, load.lift) * x / squares for x in behind]
        side = load.forward / len(places)
        turning = (
            f"they lift the plate's back about its front edge with {load.lift / 1000:.1f} N·m: up to {max(pulls):.0f} N a screw"
            if load.lift > 0
            else f"their ends hold the plate down with {-load.lift / 1000:.1f} N·m about its front edge: no screw is pulled out"
        )
        return Loads(
            tuple(AnchorLoad(pull, side) for pull in pulls),
            f"the strings pull the plate towards the nut with {load.forward:.0f} N, {side:.0f} N a screw; {turning}",
            MODEL_SOURCE,
            ", more of them, or further from the plate's front edge",
        )

    def fitting(self, document: Document, layout: Layout) -> tuple[str, ...]:
        """By its screws."""
        return (
            "Wax the plate's screws and drive them by hand. Turn all of them in a little before any goes home.",
        )

    def name_numbers(self, found: Quantities, document: Document, layout: Layout) -> None:
        """Its front edge on the centreline, and its two front corners."""
        found.work(
            "bridge.front-edge",
            front_on_centreline,
            {"x": "bridge.x", "y": "bridge.across", "turn": "bridge.turn"},
            what="the nut to the plate's front edge on the centreline",
        )
        pose = {"turn": "bridge.turn"}
        for corner, sign in (("front-treble", 0.5), ("front-bass", -0.5)):
            for axis, place in (("x", _corner_along), ("across", _corner_across)):
                found.work(
                    f"bridge.{corner}-{axis}",
                    place,
                    {"middle": f"bridge.{axis}", "width": "bridge.plate_width", "side": sign, **pose},
                    what=f"the plate's {corner.replace('-', ' ')} corner, "
                    + ("from the nut" if axis == "x" else "from the centreline to the treble"),
                )


KIND: Kind = PlateKind()


def stated(document: Document) -> PlateBridge:
    """The bridge of a job whose bridge is a plate."""
    assert isinstance(document.bridge, PlateBridge)
    return document.bridge


def front_on_centreline(x: float, y: float, turn: float) -> float:
    """Where the centreline crosses the front edge of a plate whose middle is at (x, y), from the nut, mm."""
    return x + y * tan(turn)


def _corner_along(middle: float, width: float, side: float, turn: float) -> float:
    return placed_along(middle, 0.0, width * side, turn)


def _corner_across(middle: float, width: float, side: float, turn: float) -> float:
    return placed_across(middle, 0.0, width * side, turn)


@dataclass(frozen=True, slots=True)
class PlateLoad:
    """What the strings do to the bridge plate.

    Attributes:
        forward: pull along the top towards the nut, N.
        lift: moment about the plate's front edge that lifts its back, N·mm; below 0 it is pressed down.
    """

    forward: float
    lift: float


def plate_load(document: Document, layout: Layout) -> PlateLoad | None:
    """The strings' load on the plate, cut free in front of the saddles and below the plate: docs/holding.md.

    Returns:
        None where the plate has no place or the strings cannot be tuned as stated.
    """
    plate, through = layout.bridge, document.bridge.string_row
    if plate is None:
        return None
    forward = lift = 0.0
    for string in layout.strings:
        if string.tension_n is None:
            return None
        behind = string.saddle.x - plate.middle.x
        own = lift_of(string, behind, None if through is None else through.mm)
        forward, lift = forward + own[0], lift + own[1]
    return PlateLoad(forward, lift)


def lift_of(string: StringPath, behind: float, through: float | None) -> tuple[float, float]:
    """What one string does to what its saddle stands on: pull towards the nut, N, and lift about the front edge, N·mm.

    Args:
        string: with its tension known.
        behind: the front edge to where it leaves its saddle, mm.
        through: the front edge to where it runs straight down into the body under what the saddle stands on, mm; None where
            it ends above.
    """
    assert string.tension_n is not None
    run, rise = string.saddle.x - string.nut.x, string.nut.z - string.saddle.z
    along, up = (string.tension_n * part / hypot(run, rise) for part in (run, rise))
    lift = along * string.saddle.z + up * behind
    # Friction at the saddle and the plate's hole, a quarter turn in all, may leave the string's end less tension.
    if through is not None:
        lift -= string.tension_n * exp(-SADDLE_FRICTION * pi / 2) * through
    return along, lift
