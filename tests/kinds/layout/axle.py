"""Where the vibrato on an axle stands, and what its screws bear."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from scribeline.job.bridges.axle import AxleVibrato  # type: ignore[import-not-found]

from scribeline.job import Document, plate_screw
from scribeline.layout.bridges.kind import Anchor, AnchorFamily, AnchorLoad, BridgePlace, Kind, Loads, Screwed
from scribeline.layout.bridges.pair import name_pair, pair_corners, pair_marks
from scribeline.layout.bridges.sprung import MODEL_SOURCE, SprungKind, balance, before, name_sprung, standing
from scribeline.layout.points import Point
from scribeline.layout.pose import Pose
from scribeline.quantities import Quantities

if TYPE_CHECKING:
    from scribeline.layout.instrument import Layout

_FRONT, _BACK = "bridge.front-screw-{}", "bridge.back-screw-{}"


class AxleKind(SprungKind):
    """A vibrato on an axle in two bearing blocks."""

    family: AnchorFamily = "bridge-screw"
    role = "bearing screw pilot"
    group = "bearing screws"
    row = "screw row"
    holes = "pilots"
    holds = "bearing screw"
    by_screws = True
    bear_on = "their axle"

    def anchor_places(self, document: Document) -> tuple[tuple[float, float], ...]:
        """The treble block's front screw and the bass one's, then the rear ones."""
        bridge = stated(document)
        half = bridge.blocks_apart.mm / 2
        rows = (-bridge.screw_front.mm, bridge.screw_back.mm)
        return tuple((along, side * half) for along in rows for side in (1, -1))

    def place(self, document: Document, pose: Pose) -> BridgePlace:
        """The bridge where it turns."""
        bridge = stated(document)
        part = Screwed(
            plate_screw(document), bridge.foot_thickness.mm, "bridge_screw", "bridge.foot_thickness"
        )
        screws = tuple(pose.place(*own) for own in self.anchor_places(document))
        rows = (("bridge.front-own", _FRONT), ("bridge.screw_back", _BACK))
        names = [(along, f"{across.format(no)}-own") for along, across in rows for no in (1, 2)]
        return standing(
            document,
            pose,
            anchors=[Anchor(at, part, *own) for at, own in zip(screws, names, strict=True)],
            marks=tuple(pair_marks("screw", _FRONT, screws[:2])),
            corners=pair_corners("screw", _FRONT, screws[:2]),
            far_corner="the far block's front screw",
        )

    def loads(self, document: Document, layout: Layout, places: Sequence[Point]) -> Loads | None:
        """Strings and springs tip each block about its front edge: its screws share that by their distance from it."""
        found, bridge = balance(document, layout), stated(document)
        if found is None or layout.bridge is None:
            return None
        push, edge = found.forward + found.springs, layout.bridge.middle.x - bridge.foot_front.mm
        behind = [at.x - edge for at in places]
        squares = sum(x * x for x in behind)
        return Loads(
            tuple(AnchorLoad(push * bridge.pivot * x / squares, push / len(places)) for x in behind),
            f"strings and springs push the axle towards the nut with {push:.0f} N, {bridge.pivot:.1f} mm over the wood",
            MODEL_SOURCE,
        )

    def hung(self, document: Document) -> str:
        """On its axle."""
        return "Screw both blocks down, grease the axle and push it through blocks and plate."

    def levelled(self, document: Document) -> str:
        """The claw alone."""
        return "the claw's screws"

    def name_numbers(self, found: Quantities, document: Document, layout: Layout) -> None:
        """Where each screw stands, and what every vibrato has."""
        what = "the front screws from the axle towards the tail"
        found.work("bridge.front-own", before, {"behind": "bridge.screw_front"}, what=what)
        apart = {"spacing": "bridge.blocks_apart"}
        name_pair(found, "front screw", _FRONT, apart, along="bridge.front-own")
        name_pair(found, "rear screw", _BACK, apart, along="bridge.screw_back")
        name_sprung(found, document, layout)


KIND: Kind = AxleKind()


def stated(document: Document) -> AxleVibrato:
    """The bridge of a job whose bridge turns on an axle."""
    assert isinstance(document.bridge, AxleVibrato)
    return document.bridge
