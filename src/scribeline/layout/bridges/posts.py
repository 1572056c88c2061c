"""The bridge on two posts: where they and the tailpiece's studs stand, how its strings break, and what they do to it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import degrees, exp, hypot, pi, radians
from typing import TYPE_CHECKING, NamedTuple

from scribeline.job import Document
from scribeline.job.bridges.posts import BridgeOnPosts
from scribeline.layout.bridges.kind import (
    Anchor,
    AnchorFamily,
    AnchorLoad,
    BridgePlace,
    FurtherRow,
    Hazard,
    Kind,
    Loads,
    Pressed,
    Threaded,
    string_places,
)
from scribeline.layout.bridges.pair import (
    PAIR,
    name_pair,
    own_place,
    own_places,
    pair_corners,
    pair_marks,
    slanted,
    slanted_in_words,
)
from scribeline.layout.bridges.studs import SADDLE_FRICTION
from scribeline.layout.paths import bridge_row
from scribeline.layout.points import Point
from scribeline.layout.pose import Pose
from scribeline.lengths import said
from scribeline.quantities import Quantities, atan2, cos, sin, sqrt, tan

if TYPE_CHECKING:
    from scribeline.layout.instrument import Layout
    from scribeline.layout.stringing import Stringing

MODEL_SOURCE = "a plain model of the bridge and its tailpiece, docs/holding.md"

USUAL_BREAK = radians(11.5)
"""Break over the saddles that a tailpiece's height is worked out for where none is asked for, rad: the middle of 8 to 15
degrees (common practice, no source)."""


class PostKind:
    """A bridge that rests on two posts."""

    family: AnchorFamily = "bridge-post"
    role = "bridge-post hole"
    group = "bridge posts"
    row = "post"
    holes = "post holes"
    holds = "bridge post"
    by_screws = False
    hazards: tuple[Hazard, ...] = ()

    def turn(self, document: Document, stringing: Stringing) -> float:
        """The slant stated, else the one that leaves the saddles most travel."""
        bridge = stated(document)
        return slanted(document, stringing, bridge.slant, bridge.post_spacing.mm)

    def turn_in_words(self, document: Document) -> str:
        """Where that comes from."""
        return slanted_in_words(stated(document).slant, "post")

    def anchor_places(self, document: Document) -> tuple[tuple[float, float], ...]:
        """The treble post, then the bass one."""
        return own_places(stated(document).post_spacing.mm)

    def play(self, document: Document) -> float:
        """Half of the play of the bridge on its posts."""
        return stated(document).post_play.mm / 2

    def play_in_words(self, document: Document) -> str:
        """How that comes about."""
        return f"the play of the bridge on its posts: {stated(document).post_play.mm:.2f} / 2"

    def place(self, document: Document, pose: Pose) -> BridgePlace:
        """The bridge where it stands, and its tailpiece."""
        bridge = stated(document)
        posts = tuple(pose.place(*own) for own in self.anchor_places(document))
        part, over = post_part(bridge), bridge.underside.mm
        further = () if bridge.through_body else (_tailpiece(bridge, pose),)
        return BridgePlace(
            noun=bridge.noun,
            title=bridge.title,
            middle=pose.place(0.0, 0.0),
            behind=pose.place(bridge.rear, 0.0),
            footprint=pose.rectangle(bridge.foremost, bridge.rear, bridge.overall_width.mm),
            anchors=tuple(
                Anchor(at, part, 0.0, f"{_POST.format(number)}-own")
                for number, at in enumerate(posts, start=1)
            ),
            string_ends=tuple(pose.place(*straight_back(*own, pose.turn)) for own in string_places(document)),
            marks=(
                *pair_marks("post", _POST, posts),
                *(
                    mark
                    for row in further
                    for mark in pair_marks("tailpiece stud", _TAIL, [anchor.at for anchor in row.anchors])
                ),
            ),
            corners=pair_corners("post", _POST, posts),
            far_corner="the far post's centre",
            rests_on=posts,
            askew="off its slant",
            heights=(over, over + bridge.thickness.mm),
            further=further,
        )

    def loads(self, document: Document, layout: Layout, places: Sequence[Point]) -> Loads | None:
        """The posts share alike what pushes the bridge one way or the other; it only rests on them."""
        either = [post_load(document, layout, friction) for friction in (-SADDLE_FRICTION, SADDLE_FRICTION)]
        low, high = either
        if low is None or high is None:
            return None
        least, most = sorted((low.forward, high.forward))
        each, height = max(abs(least), abs(most)) / len(places), document.bridge.saddle_height.mm
        return Loads(
            tuple(AnchorLoad(0.0, each, height) for _ in places),
            f"the strings press the bridge down with {min(low.down, high.down):.0f} to {max(low.down, high.down):.0f} N, and "
            f"push it with {least:.0f} to {most:.0f} N towards the nut, as friction on the saddles goes (minus: to the tail): "
            f"up to {each:.0f} N a post at {height:.1f} mm over the wood",
            MODEL_SOURCE,
        )

    def fitting(self, document: Document, layout: Layout) -> tuple[str, ...]:
        """On its wheels, and the tailpiece behind it."""
        return fitted(document, layout)

    def name_numbers(self, found: Quantities, document: Document, layout: Layout) -> None:
        """Where each post and each stud of the tailpiece stands, how each string breaks, and the tailpiece's height."""
        bridge = stated(document)
        name_pair(found, "post", _POST, {"spacing": "bridge.post_spacing"})
        if not bridge.through_body:
            back: dict[str, str | float] = {"behind": "bridge.tailpiece_behind", "turn": "bridge.turn"}
            what = "the line of the posts to that of the tailpiece's studs, square to them"
            found.work("bridge.tailpiece-along", square_back, back, what=what)
            own = {"spacing": "bridge.tailpiece_stud_spacing", **back}
            name_pair(found, "tailpiece stud", _TAIL, own, along="bridge.tailpiece-along", across=tail_place)
        _name_breaks(found, document, layout)


KIND: Kind = PostKind()

_POST, _TAIL = "bridge.post-{}", "bridge.tailpiece-stud-{}"


def stated(document: Document) -> BridgeOnPosts:
    """The bridge of a job whose bridge rests on posts."""
    assert isinstance(document.bridge, BridgeOnPosts)
    return document.bridge


def post_part(bridge: BridgeOnPosts) -> Pressed | Threaded:
    """What a post is wound into: a bushing, or the wood."""
    keys = "bridge.post_diameter", "bridge.post_length"
    if bridge.posts == "bushings":
        return Pressed(bridge.post_diameter.mm, bridge.post_length.mm, *keys)
    assert bridge.post_root is not None
    root = bridge.post_root.mm
    return Threaded(bridge.post_diameter.mm, root, bridge.post_length.mm, *keys, "bridge.post_root")


def square_back(behind: float, turn: float) -> float:
    """How far behind a turned bridge's line, square to it, a place lies that is so far straight behind it, mm."""
    return behind * cos(turn)


def aside(behind: float, turn: float) -> float:
    """How far from a turned bridge's middle, along its line, a place lies that is straight behind it, mm."""
    return -behind * sin(turn)


def straight_back(behind: float, own: float, turn: float) -> tuple[float, float]:
    """A place that lies so far behind one of a bridge's own line, along the centreline as the strings run, mm."""
    return square_back(behind, turn), own + aside(behind, turn)


def tail_place(spacing: float, side: float, behind: float, turn: float) -> float:
    """Where a tailpiece's stud lies from the bridge's middle, along the bridge's line, mm."""
    return own_place(spacing, side) + aside(behind, turn)


def _tailpiece(bridge: BridgeOnPosts, pose: Pose) -> FurtherRow:
    """The tailpiece's studs, straight behind the bridge along the centreline, on a line that stands as the bridge does."""
    behind, spacing = bridge.of_tailpiece("behind"), bridge.of_tailpiece("stud_spacing")
    part = Pressed(
        bridge.of_tailpiece("bushing_diameter"),
        bridge.of_tailpiece("bushing_length"),
        "bridge.tailpiece_bushing_diameter",
        "bridge.tailpiece_bushing_length",
    )
    return FurtherRow(
        family="tailpiece-stud",
        role="tailpiece bushing hole",
        group="tailpiece studs",
        row="tailpiece stud",
        holds="tailpiece stud",
        anchors=tuple(
            Anchor(
                pose.place(*straight_back(behind, own_place(spacing, side), pose.turn)),
                part,
                "bridge.tailpiece-along",
                f"{_TAIL.format(number)}-own",
            )
            for number, (_, side) in enumerate(PAIR, start=1)
        ),
        outline=pose.rectangle(
            square_back(behind, pose.turn) - bridge.of_tailpiece("reach_forward"),
            square_back(behind, pose.turn) + bridge.of_tailpiece("reach_back"),
            bridge.of_tailpiece("width"),
            aside(behind, pose.turn),
        ),
        loads=tail_loads,
    )


def saddle_rise(radius: float, across: float) -> float:
    """How far a saddle beside the middle lies under the top of the arch they make, mm, counted down from 0."""
    return sqrt(radius**2 - across**2) - radius


def saddle_rises(document: Document) -> tuple[float, ...]:
    """Each saddle over the middle between the lowest and the highest, mm, treble first; 0 where no arch is stated."""
    bridge = stated(document)
    row = [float(y) for y in bridge_row(len(document.strings), bridge.spacing.mm)]
    if bridge.saddle_radius is None:
        return tuple(0.0 for _ in row)
    arch = [saddle_rise(bridge.saddle_radius.mm, y) for y in row]
    middle = (min(arch) + max(arch)) / 2
    return tuple(each - middle for each in arch)


@dataclass(frozen=True, slots=True)
class Break:
    """How one string runs over its saddle and on to its end.

    Attributes:
        saddle: its height over the body there, mm.
        gap: from there level to where it leaves the tailpiece, or goes into the body, mm.
        end: its height there, mm over the same level.
        front: how steeply it falls from the saddle to the nut, rad.
        to_edge: from the saddle level to the bridge's rear edge, mm.
        edge_below: that edge's top below the string at the saddle, mm.
    """

    saddle: float
    gap: float
    end: float
    front: float
    to_edge: float
    edge_below: float

    @property
    def rear(self) -> float:
        """How steeply it falls from the saddle to its end, rad."""
        return rear_angle(self.saddle, self.end, self.gap)

    @property
    def angle(self) -> float:
        """By how much it breaks over the saddle, rad."""
        return self.front + self.rear

    @property
    def clear(self) -> float:
        """By how much it clears the bridge's rear edge, mm; below 0 it lies on it."""
        return clear_of_edge(self.edge_below, self.to_edge, self.rear)


def rear_angle(saddle: float, end: float, gap: float) -> float:
    """How steeply a string falls from its saddle to where it ends, rad."""
    return atan2(saddle - end, gap)


def clear_of_edge(below: float, along: float, rear: float) -> float:
    """By how much a string clears the bridge's rear edge, mm."""
    return below - along * tan(rear)


def end_for(saddle: float, gap: float, front: float, wanted: float) -> float:
    """How high over the body a string must end to break by so much over its saddle, mm."""
    return saddle - gap * tan(wanted - front)


@dataclass(frozen=True, slots=True)
class Tailpiece:
    """How high a tailpiece is to be set: its strings over the top at its studs where they leave it, mm.

    Attributes:
        wanted: for the break asked for, half-way between what the strings want.
        low: wound fully down.
        high: wound fully up.
        top: the body's top at its studs over the level that heights count from.
    """

    wanted: float
    low: float
    high: float
    top: float

    @property
    def set_to(self) -> float:
        """What it is set to: as wanted, as near as it goes, mm."""
        return min(max(self.wanted, self.low), self.high)


def breaks(document: Document, layout: Layout) -> tuple[tuple[Break, ...], Tailpiece | None]:
    """How every string breaks over its saddle, with the tailpiece as it is to be set; none while the bridge has no place."""
    bridge, place = stated(document), layout.bridge
    if place is None:
        return (), None
    runs = tuple(_runs(document, layout, place))
    if bridge.through_body:
        return runs, None
    (row,) = place.further
    top = sum(layout.top_at(anchor.at) for anchor in row.anchors) / len(row.anchors)
    wanted = USUAL_BREAK if bridge.break_angle is None else bridge.break_angle
    ends = [end_for(each.saddle, each.gap, each.front, wanted) for each in runs]
    tail = Tailpiece(
        (min(ends) + max(ends)) / 2 - top, bridge.of_tailpiece("lowest"), bridge.of_tailpiece("highest"), top
    )
    return with_end(runs, top + tail.set_to), tail


def with_end(runs: Sequence[Break], end: float) -> tuple[Break, ...]:
    """The same strings ending at another height, mm."""
    return tuple(
        Break(each.saddle, each.gap, end, each.front, each.to_edge, each.edge_below) for each in runs
    )


def _runs(document: Document, layout: Layout, place: BridgePlace) -> Iterator[Break]:
    """Each string over its saddle, ending at the body's top at its hole; with a tailpiece that is still to be put in."""
    bridge = stated(document)
    leaves = None
    if not bridge.through_body:
        leaves = square_back(bridge.of_tailpiece("behind"), place.turn) - bridge.of_tailpiece("reach_forward")
    way = cos(place.turn), sin(place.turn)
    for n, (string, rise) in enumerate(zip(layout.strings, saddle_rises(document), strict=True)):
        at, height = string.saddle, bridge.saddle_height.mm + rise
        own = (at.x - place.middle.x) * way[0] + (at.y - place.middle.y) * way[1]
        if leaves is None:
            hole = place.string_ends[n]
            gap, end = hypot(hole.x - at.x, hole.y - at.y), layout.top_at(hole)
        else:
            gap, end = (leaves - own) / cos(place.turn), 0.0
        yield Break(
            saddle=height,
            gap=gap,
            end=end,
            front=atan2(height - string.nut.z, at.x - string.nut.x),
            to_edge=(bridge.rear - own) / cos(place.turn),
            edge_below=bridge.edge_below_strings.mm,
        )


class PostLoad(NamedTuple):
    """What the strings do to a bridge on posts, newtons: towards the nut, and down."""

    forward: float
    down: float


def post_load(document: Document, layout: Layout, friction: float) -> PostLoad | None:
    """The strings' load on the bridge, cut free before the saddles and behind them.

    Args:
        document: the job.
        layout: where everything is.
        friction: of a string on its saddle; above 0 its end pulls more than its speaking length, below 0 less.

    Returns:
        None where the bridge has no place or the strings cannot be tuned as stated.
    """
    runs, _ = breaks(document, layout)
    tensions = [string.tension_n for string in layout.strings]
    forward = down = 0.0
    for run, tension in zip(runs, tensions, strict=False):
        if tension is None:
            return None
        one = string_load(tension, run.front, run.rear, friction)
        forward, down = forward + one.forward, down + one.down
    return PostLoad(forward, down) if runs else None


def string_load(tension: float, front: float, rear: float, friction: float) -> PostLoad:
    """What one string does to its saddle.

    Its end pulls e^(friction · break) times as much as the string itself, as a rope round a post does.

    Args:
        tension: of its speaking length, N.
        front: how steeply it falls to the nut, rad.
        rear: how steeply it falls to its end, rad.
        friction: on the saddle; its sign says which way the string would slip.
    """
    end = tension * exp(friction * (front + rear))
    return PostLoad(tension * cos(front) - end * cos(rear), tension * sin(front) + end * sin(rear))


class TailLoad(NamedTuple):
    """What the strings do to a tailpiece, newtons: towards the nut, and up."""

    forward: float
    up: float


def tail_load(document: Document, layout: Layout) -> TailLoad | None:
    """The strings' load on the tailpiece; friction on the saddles is left out.

    Returns:
        None where the bridge has no place, it has no tailpiece or the strings cannot be tuned as stated.
    """
    runs, tail = breaks(document, layout)
    if tail is None:
        return None
    forward = up = 0.0
    for run, string in zip(runs, layout.strings, strict=True):
        if string.tension_n is None:
            return None
        forward += string.tension_n * cos(run.rear)
        up += string.tension_n * sin(run.rear)
    return TailLoad(forward, up)


def tail_loads(document: Document, layout: Layout, places: Sequence[Point]) -> Loads | None:
    """The tailpiece's studs share alike what pulls it to the nut; the pull upwards only their press holds."""
    load, (_, tail) = tail_load(document, layout), breaks(document, layout)
    if load is None or tail is None or not places:
        return None
    each = load.forward / len(places)
    return Loads(
        tuple(AnchorLoad(max(0.0, load.up) / len(places), each, tail.set_to) for _ in places),
        f"the strings pull the tailpiece towards the nut with {load.forward:.0f} N, {each:.0f} N a stud at {tail.set_to:.1f} mm "
        f"over the wood, and up with {load.up:.0f} N",
        MODEL_SOURCE,
    )


def fitted(document: Document, layout: Layout) -> tuple[str, ...]:
    """How the bridge and its tailpiece are put on, and how high they are set."""
    bridge, (runs, tail) = stated(document), breaks(document, layout)
    height = said(bridge.saddle_height.mm)
    found = (
        "Wind both posts in by hand, the thumb wheels on them, and rest the bridge on the wheels.",
        f"Set the wheels for the strings {height} over the body in the middle, then for the action on each side.",
    )
    if tail is None:
        return found
    low, high = (degrees(pick(each.angle for each in runs)) for pick in (min, max))
    return (
        *found,
        f"Set the tailpiece for the strings to leave it {said(tail.set_to)} over the body at its studs. They then break by "
        f"{low:.1f}° to {high:.1f}° over the saddles.",
    )


def _name_breaks(found: Quantities, document: Document, layout: Layout) -> None:
    """How each string runs over its saddle; the tailpiece's height for the break asked for."""
    runs, tail = breaks(document, layout)
    source = "the layout: see docs/holding.md"
    for string, run in zip(layout.strings, runs, strict=False):
        name = f"string-{string.no}"
        for key, value, what in (
            ("held-at", run.saddle, "its height over the body at the saddle, by the saddles' arch"),
            (
                "saddle-to-end",
                run.gap,
                "from its saddle to where it leaves the tailpiece, or goes into the body",
            ),
            ("end-height", run.end, "its height over the body there"),
            ("saddle-to-edge", run.to_edge, "from its saddle to the bridge's rear edge"),
        ):
            found.give(f"{name}.{key}", value, what=f"string {string.no}: {what}", source=source)
        found.give(
            f"{name}.front",
            run.front,
            what=f"string {string.no}: its fall to the nut",
            unit="rad",
            source=source,
        )
        found.work(
            f"{name}.rear",
            rear_angle,
            {"saddle": f"{name}.held-at", "end": f"{name}.end-height", "gap": f"{name}.saddle-to-end"},
            what=f"string {string.no}: its fall from the saddle to its end",
            unit="rad",
        )
        found.work(
            f"{name}.break",
            _in_degrees,
            {"front": f"{name}.front", "rear": f"{name}.rear"},
            what=f"string {string.no}: its break over the saddle",
            unit="°",
        )
        found.work(
            f"{name}.over-edge",
            clear_of_edge,
            {"below": "bridge.edge_below_strings", "along": f"{name}.saddle-to-edge", "rear": f"{name}.rear"},
            what=f"string {string.no}: over the bridge's rear edge",
        )
    if tail is not None:
        what = "the strings over the top at the tailpiece's studs where they leave it, as it is to be set"
        found.give("bridge.tailpiece-height", tail.set_to, what=what, source=source)


def _in_degrees(front: float, rear: float) -> float:
    return (front + rear) * 180 / pi
