"""Where tunnels are asked for: what they start from, what hides their mouths, where they must come out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from math import cos, dist, sin

from scribeline.job import EDGE, FACES, UNDER_PLATE, Document, GroundWire, feature_id
from scribeline.layout.bridges import BridgePlace, FurtherRow, Kind, kind_of
from scribeline.layout.cut_places import PocketPlace, ring
from scribeline.layout.points import Point, Ring

UNDER_THE_PLATE = f"the {UNDER_PLATE}"


@dataclass(frozen=True, slots=True)
class TunnelPlace:
    """One tunnel as asked for.

    Attributes:
        id: of the bore it becomes.
        name: as stated.
        start: "face", "edge", or "pocket".
        face: the face it is drilled from, where it starts on one.
        pocket: name of the pocket it starts in, where it does.
        into: name of the pocket in whose wall it comes out.
        through: names of pockets it crosses on its way.
        diameter: mm.
        hide: outline of the part that hides its mouth.
        hidden_by: that part in words.
        entry: where its axis meets the face, where that is stated.
        heading: seen from above, a vector of length 1, where stated.
        lands: depth below its face at which its axis meets the target's wall, mm, where stated.
        key: what the job states it under, such as `tunnels[1]`.
        counted_from: where the job counts the places along of its entry from, mm from the nut.
        bushing: id of the bushing's hole in whose side it comes out, where it does: `into` is then what that is called.
    """

    id: str
    name: str
    start: str
    into: str
    diameter: float
    face: str = "top"
    pocket: str = ""
    through: tuple[str, ...] = ()
    hide: Ring | None = None
    hidden_by: str = ""
    entry: Point | None = None
    heading: Point | None = None
    lands: float | None = None
    key: str = ""
    counted_from: float = 0.0
    bushing: str = ""

    @property
    def target(self) -> str:
        """The id of the cut in whose wall it comes out."""
        return self.bushing or feature_id(self.into)

    @property
    def under_plate(self) -> bool:
        """Whether its mouth hides under the bridge's plate."""
        return self.hidden_by == UNDER_THE_PLATE


def _ground_wire(
    document: Document, wire: GroundWire, bridge: BridgePlace | None, pockets: Sequence[PocketPlace]
) -> TunnelPlace | None:
    """The string ground's hole: none while the bridge has no place, or nothing to grip the wire."""
    told = partial(TunnelPlace, "ground-wire", "ground wire", diameter=wire.diameter, key="ground_wire")
    if document.bridge.grounded_in:
        return told("pocket", wire.into, pocket=getattr(document.bridge, document.bridge.grounded_in))
    if bridge is None:
        return None
    if document.bridge.grounded_at_a_bushing:
        found = _gripping(document, wire, bridge, pockets)
        return None if found is None else told("pocket", found[1], pocket=wire.into, bushing=found[0])
    stated, front = wire.from_front is not None, bridge.hides.front.x
    return told(
        "face",
        wire.into,
        hide=ring(bridge.hides.outline),
        hidden_by=UNDER_THE_PLATE,
        entry=None if wire.from_front is None else Point(front + wire.from_front, wire.across),
        heading=_seen_from_above(wire.heading) if stated else None,
        lands=wire.lands,
        counted_from=front,
    )


def _gripping(
    document: Document, wire: GroundWire, bridge: BridgePlace, pockets: Sequence[PocketPlace]
) -> tuple[str, str] | None:
    """Id and name of the bushing's hole that the ground wire ends in: the tailpiece's on its side, else the bridge's."""
    row: Kind | FurtherRow = bridge.further[0] if bridge.further else kind_of(document.bridge)
    anchors = bridge.further[0].anchors if bridge.further else bridge.anchors
    outline = next((each.outline for each in pockets if each.name == wire.into), None)
    if outline is None or len(anchors) != len(_SIDES):
        return None

    def far(number: int) -> float:
        return min(dist(anchors[number].at, corner) for corner in outline)

    number = min(range(len(_SIDES)), key=far) if wire.side is None else _SIDES.index(wire.side)
    return f"{row.family}-{number + 1}", f"{_SIDES[number]} {row.holds}'s hole"


_SIDES = ("treble", "bass")
"""In what order a pair of studs or posts is numbered."""


def tunnel_places(
    document: Document,
    bridge: BridgePlace | None,
    datum: Mapping[str, float],
    pockets: Sequence[PocketPlace],
) -> Iterator[TunnelPlace]:
    """The tunnels asked for; those that start under the bridge only once it has a place."""
    under = None if bridge is None else ring(bridge.hides.outline)
    wire = document.ground_wire
    ground = None if wire is None else _ground_wire(document, wire, bridge, pockets)
    if ground is not None:
        yield ground
    for number, tunnel in enumerate(document.tunnels, start=1):
        if tunnel.start == UNDER_PLATE and under is None:
            continue
        x0 = datum[tunnel.x_from]
        on_face = tunnel.start in {UNDER_PLATE, *FACES}
        hide = under if tunnel.start == UNDER_PLATE else None
        if tunnel.hide is not None:
            hide = ring([Point(x0 + x, y) for x, y in tunnel.hide])
        yield TunnelPlace(
            id=f"tunnel-{number}",
            name=tunnel.name,
            start="face" if on_face else "edge" if tunnel.start == EDGE else "pocket",
            face=tunnel.start if tunnel.start in FACES else "top",
            pocket="" if on_face or tunnel.start == EDGE else tunnel.start,
            into=tunnel.into,
            through=tunnel.through,
            diameter=tunnel.diameter,
            hide=hide,
            hidden_by=UNDER_THE_PLATE if tunnel.start == UNDER_PLATE else "the part that covers it",
            entry=None if tunnel.entry is None else Point(x0 + tunnel.entry[0], tunnel.entry[1]),
            heading=None if tunnel.heading is None else _seen_from_above(tunnel.heading),
            lands=tunnel.lands,
            key=f"tunnels[{number}]",
            counted_from=x0,
        )


def _seen_from_above(heading: float) -> Point:
    """A heading, rad from straight to the neck towards the treble, as a vector of length 1."""
    return Point(-cos(heading), sin(heading))
