"""What vibrato bridges share, whatever they pivot on: what moves how far, what holds it level, how it is put on.

No kind of its own: each kind says what it pivots on and where that stands behind the line of the knife edges.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import asin, atan2, hypot, tan
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from scribeline.job import Document
from scribeline.job.bridges.sprung import Sprung
from scribeline.layout.bridges.kind import (
    Anchor,
    AnchorLoad,
    BridgePlace,
    Corner,
    Hazard,
    Loads,
    Mark,
    WallScrews,
)
from scribeline.layout.cut_places import cavity_words, neck_walls
from scribeline.layout.points import Point
from scribeline.layout.pose import Pose
from scribeline.lengths import said
from scribeline.quantities import Quantities, cos, greatest, sin
from scribeline.quantities import hypot as named_hypot

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from scribeline.layout.instrument import Layout
    from scribeline.layout.stringing import Stringing

    Floats = NDArray[np.float64]

MODEL_SOURCE = "a plain model of the vibrato, docs/vibrato.md"

STEP = np.radians(0.5)
"""Between the angles a moving part is looked at, rad."""


class SprungKind(ABC):
    """What every kind of vibrato bridge does alike.

    Attributes:
        bear_on: what its knife edges bear on, as in "the posts".
    """

    bear_on: str
    hazards: tuple[Hazard, ...] = ("springs", "solder")

    def turn(self, document: Document, stringing: Stringing) -> float:
        """Square to the centreline."""
        return 0.0

    def turn_in_words(self, document: Document) -> str:
        """Why it is square."""
        return "its knife edges are put square to the centreline"

    def play(self, document: Document) -> float:
        """None: strings and springs hold the knife edges against what they bear on."""
        return 0.0

    def play_in_words(self, document: Document) -> str:
        """Why it has none."""
        return f"strings and springs hold the knife edges against {self.bear_on}: no play"

    def fitting(self, document: Document, layout: Layout) -> tuple[str, ...]:
        """On what it pivots on; then springs, claw and ground wire."""
        return self.hung(document), *_sprung(document, layout, self.levelled(document))

    @abstractmethod
    def hung(self, document: Document) -> str:
        """How it is hung on what it pivots on, in a sentence."""

    @abstractmethod
    def levelled(self, document: Document) -> str:
        """What is turned until the plate is level and the strings lie right, as the beginning of a sentence."""


def standing(
    document: Document,
    pose: Pose,
    *,
    anchors: Sequence[Anchor],
    marks: Sequence[Mark],
    corners: tuple[Corner, Corner],
    far_corner: str,
) -> BridgePlace:
    """A vibrato bridge where it pivots.

    Args:
        document: the job.
        pose: how it lies.
        anchors: what it pivots on.
        marks: what it is set out by.
        corners: the points of the check for squareness.
        far_corner: what the one on the other side is called.
    """
    bridge = stated(document)
    over = bridge.underside.mm
    return BridgePlace(
        noun=bridge.noun,
        title=bridge.title,
        middle=pose.place(0.0, 0.0),
        behind=pose.place(bridge.rear, 0.0),
        footprint=pose.rectangle(bridge.foremost, bridge.rear, bridge.plate_width.mm),
        anchors=tuple(anchors),
        string_ends=(),
        marks=tuple(marks),
        corners=corners,
        far_corner=far_corner,
        rests_on=tuple(anchor.at for anchor in anchors),
        askew="out of square",
        heights=(over, over + bridge.plate_thickness.mm),
        swept=_swept(document, pose),
        wall_screws=(_claw(document),),
    )


def name_sprung(found: Quantities, document: Document, layout: Layout) -> None:
    """Name how far the block reaches, the levers, and what the springs must pull."""
    found.work(
        "bridge.block-reach",
        block_reach,
        {
            "front": "bridge.block_front",
            "thickness": "bridge.block_thickness",
            "length": "bridge.block_length",
            "over": "bridge.knife_over_underside",
        },
        what="the furthest that the block's rear edge can reach behind the knife edges, at whatever turn",
    )
    found.work(
        "bridge.pivot-height",
        pivot_height,
        {"underside": "bridge.underside", "over": "bridge.knife_over_underside"},
        what="the knife edges over the body",
    )
    found.work(
        "bridge.spring-lever",
        pivot_height,
        {"underside": "bridge.spring_hooks", "over": "bridge.knife_over_underside"},
        what="the knife edges over the springs' line",
    )
    held = balance(document, layout)
    if held is not None:
        found.work(
            "bridge.springs-pull",
            springs_pull,
            {"pull": held.forward, "string_lever": held.string_lever, "spring_lever": "bridge.spring-lever"},
            what="what all springs together must pull for the bridge to be level",
            unit="N",
            source=MODEL_SOURCE,
        )
        _name_springs(found, document, layout, held)


def _name_springs(found: Quantities, document: Document, layout: Layout, held: Balance) -> None:
    """Name how long the springs are at pitch, where the claw then stands, and how far other sets move it."""
    found.work(
        "bridge.spring-stretch",
        stretched,
        {
            "pull": "bridge.springs-pull",
            "springs": "bridge.springs",
            "preload": "bridge.spring_preload",
            "rate": "bridge.spring_rate",
        },
        what="how much longer than unloaded each spring is with the bridge level",
        source=MODEL_SOURCE,
    )
    found.work(
        "bridge.spring-length",
        spring_length,
        {"free": "bridge.spring_free", "stretch": "bridge.spring-stretch"},
        what="the length of each spring with the bridge level",
    )
    ahead = claw_ahead(document, layout, held.springs)
    if ahead is not None:
        found.give(
            "bridge.claw-ahead",
            ahead,
            what="the claw's hooks past the neck wall of the spring cavity with the bridge level",
            source="the springs' length from their hooks in the block, and where the wall is across from the claw's screws",
            inputs={"length": "bridge.spring-length", "pivot": "bridge.x"},
        )
    for number, (name, moves) in enumerate(claw_moves(document, layout), start=1):
        found.give(
            f"bridge.claw-moves-{number}",
            moves,
            what=f'how far the claw moves towards the nut for the set "{name}"',
            source=MODEL_SOURCE,
            inputs={"stretch": "bridge.spring-stretch"},
        )


def stated(document: Document) -> Sprung:
    """The bridge of a job whose bridge is a vibrato of any kind."""
    assert isinstance(document.bridge, Sprung)
    return document.bridge


def _sprung(document: Document, layout: Layout, levelled: str) -> tuple[str, ...]:
    """How what holds it level is put in: claw, springs, ground wire."""
    found, bridge = balance(document, layout), stated(document)
    claw = f"Screw the claw to the neck wall of the {cavity_words(bridge.spring_cavity)}"
    wire = document.ground_wire
    ground = (
        " Solder the ground wire to it."
        if wire is None
        else f" Lead the ground wire in from the {cavity_words(wire.into)}, solder it to the claw and check it with a meter."
    )
    if found is None:
        return (f"{claw}.{ground}",)
    ahead = claw_ahead(document, layout, found.springs)
    if ahead is not None and ahead <= 0:  # there is no room for a claw, which a finding says
        ahead = None
    each = found.springs / bridge.springs
    long = spring_length(bridge.spring_free.mm, stretch(bridge, found.springs))
    sets = "".join(
        f' For the set "{name}" it goes {said(abs(moves), 1)} {"tighter" if moves > 0 else "slacker"}.'
        for name, moves in claw_moves(document, layout)
    )
    return (
        f"{claw}.{ground}",
        f"Hook {bridge.springs} springs in. Estimate: level, each pulls {each:.0f} N and is {said(long, 1)} long"
        + ("." if ahead is None else f", and the claw stands {said(ahead, 1)} from that wall.")
        + sets,
        f"At pitch, turn {levelled} until the plate is level, {said(bridge.underside.mm, 1)} over the body, and the strings "
        f"lie {said(bridge.saddle_height.mm)} over it at the saddles.",
    )


def hooks_at(document: Document, place: BridgePlace, springs: float) -> float:
    """Where the springs hook into the claw once all together pull so much, mm from the nut."""
    bridge = stated(document)
    length = spring_length(bridge.spring_free.mm, stretch(bridge, springs))
    return place.middle.x + bridge.hooks_behind.mm - length


def claw_ahead(document: Document, layout: Layout, springs: float) -> float | None:
    """How far the claw stands from the neck wall of the spring cavity as planned, mm; None where nothing tells it."""
    if layout.bridge is None:
        return None
    cavity = next(each for each in layout.pockets if each.name == stated(document).spring_cavity)
    walls = neck_walls(tuple(cavity.outline), *claw_across(document, layout.bridge))
    return hooks_at(document, layout.bridge, springs) - max(walls) if walls else None


def claw_across(document: Document, place: BridgePlace) -> tuple[float, float]:
    """Where the claw's two screws are across, in line with the bridge's middle, mm from the centreline."""
    half = stated(document).claw_screws_apart.mm / 2
    return place.middle.y - half, place.middle.y + half


def claw_at_least(document: Document, layout: Layout) -> float | None:
    """How far the claw stands from that wall with the set that draws it nearest, mm; None where nothing tells it."""
    found = balance(document, layout)
    ahead = None if found is None else claw_ahead(document, layout, found.springs)
    nearer = max((moves for _, moves in claw_moves(document, layout)), default=0.0)
    return None if ahead is None else max(0.0, ahead - max(0.0, nearer))


def claw_loads(document: Document, layout: Layout) -> Loads | None:
    """What the springs pull the claw's two screws with, alike; None where the strings cannot be tuned as stated."""
    found = balance(document, layout)
    if found is None:
        return None
    each = found.springs / 2
    why = f"the springs pull the claw with {found.springs:.0f} N, {each:.0f} N a screw"
    return Loads((AnchorLoad(each, 0.0),) * 2, why, MODEL_SOURCE)


def _claw(document: Document) -> WallScrews:
    bridge = stated(document)
    return WallScrews(
        family="claw-screw",
        group="claw screws",
        holds="claw screw",
        cavity=bridge.spring_cavity,
        apart=bridge.claw_screws_apart.mm,
        below=bridge.lever - bridge.pivot,
        tilt=bridge.claw_tilt,
        screw=bridge.claw_screw,
        key="bridge.claw_screw",
        tilt_key="bridge.claw_tilt",
        stand_off=claw_at_least,
        loads=claw_loads,
    )


def block_reach(front: float, thickness: float, length: float, over: float) -> float:
    """How far the lower rear edge of a block can come behind its pivot, mm: its distance from it."""
    return named_hypot(front + thickness, length + over)


def pivot_height(underside: float, over: float) -> float:
    """The knife edges over the body, mm."""
    return underside + over


def before(behind: float) -> float:
    """Where an axis lies behind the knife edges that bear so far behind it, mm."""
    return -behind


def carried_along(along: float, below: float, turn: float) -> float:
    """How far a place of the bridge lies behind its pivot once it has turned down by so much, mm.

    Args:
        along: behind the pivot, level, mm.
        below: the pivot, mm.
        turn: rad; the strings' slack way, so that the block swings towards the tail.
    """
    return along * cos(turn) + below * sin(turn)


def carried_below(along: float, below: float, turn: float) -> float:
    """How far it then lies below its pivot, mm."""
    return below * cos(turn) - along * sin(turn)


def most_up(document: Document) -> float:
    """The turn at which the plate's rear edge meets a flat body, rad; the plate lies parallel to it when level."""
    bridge = stated(document)
    below = bridge.knife_over_underside.mm
    return asin(min(1.0, bridge.pivot / hypot(below, bridge.rear))) - atan2(below, bridge.rear)


@dataclass(frozen=True, slots=True)
class Moving:
    """A part that turns with the bridge, a box when level; all from its pivot, mm.

    Attributes:
        name: in bench words.
        along: its two ends, towards the tail.
        below: its upper side and its lower one.
        half: half its width.
        rise: of its lower front edge over its lower side, where that is bevelled from the pivot on.
    """

    name: str
    along: tuple[float, float]
    below: tuple[float, float]
    half: float
    rise: float = 0.0

    def profile(self, turn: float) -> tuple[tuple[float, float], ...]:
        """Its corners seen from the side once turned: behind the pivot and below it, in order round it."""
        (front, rear), (upper, lower) = self.along, self.below
        foot = ((0.0, lower), (front, lower - self.rise)) if self.rise else ((front, lower),)
        level = ((front, upper), (rear, upper), (rear, lower), *foot)
        return tuple((carried_along(p, q, turn), carried_below(p, q, turn)) for p, q in level)


def moving(document: Document) -> tuple[Moving, Moving]:
    """The plate and the block."""
    bridge = stated(document)
    under, front = bridge.knife_over_underside.mm, bridge.block_front.mm
    plate = Moving(
        "plate",
        (bridge.foremost, bridge.rear),
        (under - bridge.plate_thickness.mm, under),
        bridge.plate_width.mm / 2,
        min(bridge.plate_thickness.mm, bridge.reach_forward.mm * tan(bridge.bevel)),
    )
    block = Moving(
        "block",
        (front, front + bridge.block_thickness.mm),
        (under, under + bridge.block_length.mm),
        bridge.block_width.mm / 2,
    )
    return plate, block


def turns(document: Document) -> Floats:
    """The turns that are looked at, rad: from the furthest up (negative) to the furthest down, level among them."""
    bridge = stated(document)
    up = most_up(document) if bridge.pull_up is None else bridge.pull_up
    ways = [
        np.linspace(0.0, end, 1 + max(1, int(np.ceil(abs(end) / STEP - 1e-9)))) for end in (-up, bridge.dive)
    ]
    return np.unique(np.concatenate(ways))


def reach_between(document: Document, low: float, high: float) -> tuple[float, float] | None:
    """How far the block comes before and behind the knife edges between two heights over the body, over all its turn, mm.

    Returns:
        Its foremost place, which may lie behind them (then over 0), and its rearmost; None where it never comes there.
    """
    import shapely

    (_, block), pivot = moving(document), stated(document).pivot
    band = shapely.box(-1e4, pivot - high, 1e4, pivot - low)
    reach = [shapely.Polygon(block.profile(float(angle))).intersection(band) for angle in turns(document)]
    ends = np.array([each.bounds for each in reach if not each.is_empty])
    return (float(ends[:, 0].min()), float(ends[:, 2].max())) if len(ends) else None


def corners_of(part: Moving, document: Document, place: BridgePlace, angles: Floats) -> Floats:
    """The corners of a moving part at each of these turns, (n, 8 or 10, 3), mm."""
    pivot, pose = stated(document).pivot, Pose(place.middle.x, place.middle.y, place.turn)
    return np.array(
        [
            [
                (*pose.place(along, side), pivot - below)
                for along, below in part.profile(float(angle))
                for side in (-part.half, part.half)
            ]
            for angle in angles
        ]
    )


def springs_pull(pull: float, string_lever: float, spring_lever: float) -> float:
    """What springs must pull at their lever to balance strings at theirs, N."""
    return pull * string_lever / spring_lever


def _swept(document: Document, pose: Pose) -> tuple[Point, ...]:
    """All that the block passes over, seen from above."""
    _, block = moving(document)
    passed = [along for angle in turns(document) for along, _ in block.profile(float(angle))]
    low, high, half = min(passed), max(passed), block.half
    return tuple(pose.place(*own) for own in ((low, half), (low, -half), (high, -half), (high, half)))


class Balance(NamedTuple):
    """What holds the bridge level.

    Attributes:
        forward: the strings' pull towards the nut, N.
        string_lever: how far over the knife edges it acts, mm.
        springs: the pull of all springs, N.
        lift: the strings' pull up off the body, N; less than 0 where they press it down.
    """

    forward: float
    string_lever: float
    springs: float
    lift: float


def balance(document: Document, layout: Layout) -> Balance | None:
    """What the springs must pull for the plate to be level: docs/vibrato.md.

    Returns:
        None where the bridge has no place or the strings cannot be tuned as stated.
    """
    place, bridge = layout.bridge, stated(document)
    if place is None:
        return None
    forward = moment = lift = 0.0
    for string in layout.strings:
        if string.tension_n is None:
            return None
        run, rise = string.saddle.x - string.nut.x, string.nut.z - string.saddle.z
        along, up = (string.tension_n * part / hypot(run, rise) for part in (run, rise))
        forward, lift = forward + along, lift + up
        moment += along * (string.saddle.z - bridge.pivot) + up * (string.saddle.x - place.middle.x)
    lever = moment / forward
    return Balance(forward, lever, springs_pull(forward, lever, bridge.lever), lift)


def stretch(bridge: Sprung, springs: float) -> float:
    """How much longer than unloaded each spring is when all together pull so much, mm; 0 where they pull too little."""
    return stretched(springs, bridge.springs, bridge.spring_preload, bridge.spring_rate)


def stretched(pull: float, springs: float, preload: float, rate: float) -> float:
    """How much longer each of some springs is when all together pull so much, mm; pulls in N, the rate in N/mm."""
    return greatest(0.0, pull / springs - preload) / rate


def spring_length(free: float, stretch: float) -> float:
    """A loaded spring's length, mm."""
    return free + stretch


def claw_moves(document: Document, layout: Layout) -> Iterator[tuple[str, float]]:
    """Every other set of the job by name, and how far it wants the claw towards the nut, mm; less than 0: slacker.

    The springs' pull changes as the strings' does: the levers stay, and so does where the plate lies.
    """
    found, prediction = balance(document, layout), layout.stringing.prediction
    if found is None or prediction is None:
        return
    bridge = stated(document)
    here = stretch(bridge, found.springs)
    for name, other in layout.stringing.others.items():
        yield name, stretch(bridge, found.springs * other.pull_n / prediction.pull_n) - here
