"""The vibrato that rocks on a row of wood screws through its plate's front edge."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from scribeline.job import Document, plate_screw
from scribeline.job.bridges.vibrato_screws import ScrewedVibrato
from scribeline.layout.bridges.kind import Anchor, AnchorFamily, AnchorLoad, BridgePlace, Kind, Loads, Screwed
from scribeline.layout.bridges.pair import name_pair, pair_corners, pair_marks
from scribeline.layout.bridges.sprung import (
    MODEL_SOURCE,
    SprungKind,
    balance,
    before,
    name_sprung,
    pivot_height,
    standing,
)
from scribeline.layout.points import Point
from scribeline.layout.pose import Pose
from scribeline.quantities import Quantities

if TYPE_CHECKING:
    from scribeline.layout.instrument import Layout

_SCREW, _OUTER = "bridge.screw-{}", "bridge.outer-screw-{}"


class ScrewedVibratoKind(SprungKind):
    """A vibrato whose plate rocks on wood screws."""

    family: AnchorFamily = "bridge-screw"
    role = "bridge screw pilot"
    group = "bridge screws"
    row = "screw row"
    holes = "pilots"
    holds = "bridge screw"
    by_screws = True
    bear_on = "the screws"

    def anchor_places(self, document: Document) -> tuple[tuple[float, float], ...]:
        """The screws from the treble to the bass: before the knife edges, which bear on their tail side."""
        bridge = stated(document)
        behind, spread, last = -bridge.knife_behind_screw.mm, bridge.screw_spread.mm, bridge.screw_count - 1
        return tuple((behind, in_row(spread, number, last)) for number in range(bridge.screw_count))

    def place(self, document: Document, pose: Pose) -> BridgePlace:
        """The bridge where it rocks."""
        part = Screwed(
            plate_screw(document), stated(document).under_head, "bridge_screw", "bridge.under-head"
        )
        screws = tuple(pose.place(*own) for own in self.anchor_places(document))
        outer = (screws[0], screws[-1])
        return standing(
            document,
            pose,
            anchors=[
                Anchor(at, part, "bridge.screws-own", f"{_SCREW.format(no)}-own")
                for no, at in enumerate(screws, start=1)
            ],
            marks=tuple(pair_marks("screw", _OUTER, outer)),
            corners=pair_corners("screw", _OUTER, outer),
            far_corner="the far outer screw's centre",
        )

    def loads(self, document: Document, layout: Layout, places: Sequence[Point]) -> Loads | None:
        """The screws in close holes share what strings and springs push the knife edges towards the nut with."""
        found, bridge = balance(document, layout), stated(document)
        if found is None:
            return None
        bear = bridge.screws_bearing
        each, lift = (found.forward + found.springs) / bear, max(0.0, found.lift) / bear
        numbers = sorted(range(len(places)), key=lambda no: min(no, len(places) - 1 - no))
        bearing = set(numbers[:bear])
        turned = f" and lift it with {found.lift:.0f} N" if found.lift > 0 else ""
        return Loads(
            tuple(
                AnchorLoad(lift, each, bridge.pivot) if no in bearing else AnchorLoad(0.0, 0.0)
                for no in range(len(places))
            ),
            f"the strings pull the bridge towards the nut with {found.forward:.0f} N{turned}, the springs with "
            f"{found.springs:.0f} N; the {bear} screws that bear take {each:.0f} N each at {bridge.pivot:.1f} mm over the wood",
            MODEL_SOURCE,
            ", or more of them in close holes (bridge.screws_bearing)",
        )

    def hung(self, document: Document) -> str:
        """On its screws, which guide it and do not clamp it."""
        return (
            "Wax the screws and drive them by hand through the plate, the outer two first. Stop when their heads just clear the "
            "plate and it rocks freely. Leave the inner ones a hair higher."
        )

    def levelled(self, document: Document) -> str:
        """The claw alone: the screws stay."""
        return "the claw's screws"

    def name_numbers(self, found: Quantities, document: Document, layout: Layout) -> None:
        """Where each screw stands, and what every vibrato has."""
        bridge = stated(document)
        found.work(
            "bridge.screws-own",
            before,
            {"behind": "bridge.knife_behind_screw"},
            what="the screws' axes from the line of the knife edges towards the tail",
        )
        found.work(
            "bridge.under-head",
            pivot_height,
            {"underside": "bridge.underside", "over": "bridge.plate_thickness"},
            what="what a screw passes before it reaches the wood",
        )
        last = float(bridge.screw_count - 1)
        for number in range(bridge.screw_count):
            found.work(
                f"{_SCREW.format(number + 1)}-own",
                in_row,
                {"spread": "bridge.screw_spread", "number": float(number), "last": last},
                what=f"bridge screw {number + 1} from the middle of the row to the treble",
            )
        name_pair(found, "screw", _OUTER, {"spacing": "bridge.screw_spread"}, along="bridge.screws-own")
        name_sprung(found, document, layout)


KIND: Kind = ScrewedVibratoKind()


def stated(document: Document) -> ScrewedVibrato:
    """The bridge of a job whose bridge is a vibrato on screws."""
    assert isinstance(document.bridge, ScrewedVibrato)
    return document.bridge


def in_row(spread: float, number: float, last: float) -> float:
    """Where one of a row stands from its middle towards the treble, mm; numbered from 0 at the treble end to `last`."""
    return spread / 2 - spread * number / last
