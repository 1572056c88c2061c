"""Single units, one a string: how each lies along its string, its screws, and what its string does to them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import dist, hypot
from typing import TYPE_CHECKING, NamedTuple

from scribeline.job import Document, plate_screw
from scribeline.job.bridges.singles import SingleUnits
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
    Unit,
    string_places,
)
from scribeline.layout.bridges.plate import lift_of
from scribeline.layout.points import Point
from scribeline.layout.pose import Pose, placed_across, placed_along
from scribeline.layout.stringing import unit_across
from scribeline.quantities import Quantities

if TYPE_CHECKING:
    from scribeline.layout.instrument import Layout
    from scribeline.layout.stringing import Stringing

MODEL_SOURCE = "a plain model of a base under its own string, docs/holding.md"


class SingleKind:
    """Single units on bases of their own, held by wood screws."""

    family: AnchorFamily = "bridge-screw"
    role = "bridge screw pilot"
    group = "bridge screws"
    row = "screw row"
    holes = "pilots"
    holds = "bridge screw"
    by_screws = True
    hazards: tuple[Hazard, ...] = ()

    def turn(self, document: Document, stringing: Stringing) -> float:
        """The line they are set out from is square to the centreline."""
        return 0.0

    def turn_in_words(self, document: Document) -> str:
        """Why it is square."""
        return "the line is square to the centreline; each base is turned to its string"

    def anchor_places(self, document: Document) -> tuple[tuple[float, float], ...]:
        """The screws of one base, as listed in the job."""
        return stated(document).screws

    def play(self, document: Document) -> float:
        """The screws' play in a base's holes."""
        return max(0.0, stated(document).screw_hole.mm - plate_screw(document).thread.mm) / 2

    def play_in_words(self, document: Document) -> str:
        """How the screws' play comes about."""
        hole, thread = stated(document).screw_hole.mm, plate_screw(document).thread.mm
        return f"the screws' play in a base: ({hole:.2f} − {thread:.2f}) / 2"

    def place(self, document: Document, pose: Pose) -> BridgePlace:
        """Every base where it lies."""
        bridge = stated(document)
        units = tuple(_unit(bridge, number, each) for number, each in enumerate(pose.each, start=1))
        fronts = [point for unit in units for point in unit.outline[:2]]
        rears = [point for unit in reversed(units) for point in unit.outline[2:]]
        line = Mark(
            id="line",
            name="set-out line",
            short="set-out line",
            how="the line squared across midway between the foremost base's front edge and the rearmost one's",
            at=Point(pose.x, 0.0),
            number="bridge.x",
        )
        return BridgePlace(
            noun=bridge.noun,
            title=bridge.title,
            middle=Point(pose.x, 0.0),
            behind=Point(pose.x + bridge.base_length.mm, 0.0),
            footprint=(*fronts, *rears),
            anchors=tuple(_anchors(document, bridge, pose)),
            string_ends=tuple(each.place(*own) for each in pose.each for own in string_places(document)),
            marks=(line,),
            corners=(
                Corner("the first base's outer front corner", fronts[0], "bridge.front-treble"),
                Corner("the last base's outer front corner", fronts[-1], "bridge.front-bass"),
            ),
            far_corner="the far base's outer front corner",
            askew="out of square",
            rests_on=tuple(point for unit in units for point in (*unit.outline, unit.front)),
            heights=(0.0, bridge.base_thickness.mm),
            units=units,
        )

    def loads(self, document: Document, layout: Layout, places: Sequence[Point]) -> Loads | None:
        """The screws of a base share its string's pull alike, and the lift as their distance from its front edge."""
        found, bridge = unit_loads(document, layout), layout.bridge
        if found is None or bridge is None:
            return None
        own = len(stated(document).screws)
        belongs = [
            min(range(len(bridge.anchors)), key=lambda n: dist(bridge.anchors[n].at, at)) // own
            for at in places
        ]
        each = []
        for at, number in zip(places, belongs, strict=True):
            unit, load = bridge.units[number], found[number]
            behind = [
                dist(unit.front, other) for other, n in zip(places, belongs, strict=True) if n == number
            ]
            pull = max(0.0, load.lift) * dist(unit.front, at) / sum(x * x for x in behind)
            each.append(AnchorLoad(pull, load.forward / len(behind)))
        worst = max(range(len(found)), key=lambda n: found[n].forward)
        lift, most = found[worst].lift, max(load.pull for load in each)
        turning = (
            f"and lifts its base's rear about the front edge with {lift / 1000:.2f} N·m: up to {most:.0f} N a screw"
            if lift > 0
            else f"and its end holds the base down with {-lift / 1000:.2f} N·m about the front edge: no screw is pulled out"
        )
        return Loads(
            tuple(each),
            f"string {worst + 1} pulls the most, {found[worst].forward:.0f} N towards the nut over {own} "
            f"screw{'' if own == 1 else 's'}, {turning}",
            MODEL_SOURCE,
            ", more of them, or further from the base's front edge",
        )

    def fitting(self, document: Document, layout: Layout) -> tuple[str, ...]:
        """Each base by its screws, in line with its string."""
        return (
            "Wax each base's screws and drive them by hand. Turn all of them in a little, string up, and let each base settle in "
            "line with its string before its screws go home.",
        )

    def name_numbers(self, found: Quantities, document: Document, layout: Layout) -> None:
        """Where each base's front edge lies along its string, and the two outer front corners."""
        assert layout.bridge is not None
        for unit in layout.bridge.units:
            _name_place(found, layout, unit)
        last = layout.bridge.units[-1].id
        for corner, unit_id, sign in (("front-treble", "unit-1", 0.5), ("front-bass", last, -0.5)):
            for axis, place in (("x", _corner_along), ("across", _corner_across)):
                found.work(
                    f"bridge.{corner}-{axis}",
                    place,
                    {
                        "middle": f"{unit_id}.{axis}",
                        "width": "bridge.base_width",
                        "side": sign,
                        "turn": f"{unit_id}.turn",
                    },
                    what=f"the {'first' if sign > 0 else 'last'} base's outer front corner, "
                    + ("from the nut" if axis == "x" else "from the centreline to the treble"),
                )


KIND: Kind = SingleKind()


def stated(document: Document) -> SingleUnits:
    """The bridge of a job whose saddles stand by themselves."""
    assert isinstance(document.bridge, SingleUnits)
    return document.bridge


def _unit(bridge: SingleUnits, number: int, pose: Pose) -> Unit:
    half, length = bridge.base_width.mm / 2, bridge.base_length.mm
    corners = ((0.0, half), (0.0, -half), (length, -half), (length, half))
    outline = tuple(pose.place(*corner) for corner in corners)
    return Unit(f"unit-{number}", f"base {number}", outline, pose.place(0.0, 0.0))


def _anchors(document: Document, bridge: SingleUnits, pose: Pose) -> Iterator[Anchor]:
    held = Screwed(plate_screw(document), bridge.base_thickness.mm, "bridge_screw", "bridge.base_thickness")
    for unit, each in enumerate(pose.each, start=1):
        for n, own in enumerate(bridge.screws, start=1):
            key = f"bridge.screws[{n}]"
            yield Anchor(each.place(*own), held, f"{key}[1]", f"{key}[2]", f"unit-{unit}")


def _name_place(found: Quantities, layout: Layout, unit: Unit) -> None:
    """A base's place: as wanted, or as the drilled holes hold it."""
    no, name, held = unit.id.rpartition("-")[2], unit.id, layout.held
    words = f"the middle of {unit.name}'s front edge"
    along, across, turn = (
        f"the nut to {words}",
        f"{words} from the centreline to the treble",
        f"turn of {unit.name}",
    )
    if held is not None:
        treble = layout.treble
        source = f"laid on its drilled {held.by} by least squares, where they are drilled"
        found.give(f"{name}.x", unit.front.x, what=along, source=source)
        found.give(f"{name}.across", unit.front.y * treble, what=across, source=source)
        found.give(f"{name}.turn", unit.turn * treble, what=turn, source=source, unit="rad")
        return
    found.work(f"{name}.turn", _as_wanted, {"of": f"{name}.wanted-turn"}, what=turn, unit="rad")
    found.work(f"{name}.x", _from_scale, {"scale": "scale-line", "target": f"{name}.target"}, what=along)
    on_string: dict[str, str | float] = {"row": f"string-{no}.bridge-row", "saddle": f"string-{no}.saddle"}
    found.work(
        f"{name}.across",
        unit_across,
        {"x": f"{name}.x", **on_string, "turn": f"{name}.turn"},
        what=across,
    )


def _as_wanted(of: float) -> float:
    return of


def _from_scale(scale: float, target: float) -> float:
    return scale + target


def _corner_along(middle: float, width: float, side: float, turn: float) -> float:
    return placed_along(middle, 0.0, width * side, turn)


def _corner_across(middle: float, width: float, side: float, turn: float) -> float:
    return placed_across(middle, 0.0, width * side, turn)


class UnitLoad(NamedTuple):
    """What a string does to its base: the pull towards the nut, N; the moment about the base's front edge that lifts it, N·mm."""

    forward: float
    lift: float


def unit_loads(document: Document, layout: Layout) -> tuple[UnitLoad, ...] | None:
    """Each string's load on its own base, cut free in front of the saddle and below the base: docs/holding.md.

    Returns:
        None where the bases have no place or the strings cannot be tuned as stated.
    """
    bridge = layout.bridge
    if bridge is None:
        return None
    found, row = [], document.bridge.string_row
    for unit, string in zip(bridge.units, layout.strings, strict=True):
        if string.tension_n is None:
            return None
        behind = hypot(string.saddle.x - unit.front.x, string.saddle.y - unit.front.y)
        under = None if row is None or row.mm > stated(document).base_length.mm else row.mm
        found.append(UnitLoad(*lift_of(string, behind, under)))
    return tuple(found)
