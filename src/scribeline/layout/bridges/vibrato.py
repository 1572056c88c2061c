"""The vibrato that pivots on two posts in bushings."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from scribeline.job import Document
from scribeline.job.bridges.vibrato import Vibrato
from scribeline.layout.bridges.kind import Anchor, AnchorFamily, AnchorLoad, BridgePlace, Kind, Loads, Pressed
from scribeline.layout.bridges.pair import name_pair, own_places, pair_corners, pair_marks
from scribeline.layout.bridges.sprung import MODEL_SOURCE, SprungKind, balance, before, name_sprung, standing
from scribeline.layout.points import Point
from scribeline.layout.pose import Pose
from scribeline.quantities import Quantities

if TYPE_CHECKING:
    from scribeline.layout.instrument import Layout

_POST = "bridge.post-{}"


class VibratoKind(SprungKind):
    """A vibrato whose knife edges bear on two posts in bushings."""

    family: AnchorFamily = "bridge-stud"
    role = "bushing hole"
    group = "bridge posts"
    row = "post"
    holes = "bushing holes"
    holds = "bridge post"
    by_screws = False
    bear_on = "the posts"

    def anchor_places(self, document: Document) -> tuple[tuple[float, float], ...]:
        """The treble post, then the bass one: before the knife edges, which bear on their tail side."""
        bridge = stated(document)
        return own_places(bridge.post_spacing.mm, -bridge.knife_behind_post.mm)

    def place(self, document: Document, pose: Pose) -> BridgePlace:
        """The bridge where it pivots."""
        bridge = stated(document)
        part = Pressed(
            bridge.bushing_diameter.mm,
            bridge.bushing_length.mm,
            "bridge.bushing_diameter",
            "bridge.bushing_length",
        )
        posts = tuple(pose.place(*own) for own in self.anchor_places(document))
        return standing(
            document,
            pose,
            anchors=[
                Anchor(at, part, "bridge.posts-own", f"{_POST.format(no)}-own")
                for no, at in enumerate(posts, start=1)
            ],
            marks=tuple(pair_marks("post", _POST, posts)),
            corners=pair_corners("post", _POST, posts),
            far_corner="the far post's centre",
        )

    def loads(self, document: Document, layout: Layout, places: Sequence[Point]) -> Loads | None:
        """The posts share alike what strings and springs push the knife edges towards the nut with."""
        found, bridge = balance(document, layout), stated(document)
        if found is None:
            return None
        each = (found.forward + found.springs) / len(places)
        return Loads(
            tuple(AnchorLoad(0.0, each, bridge.pivot) for _ in places),
            f"the strings pull the bridge towards the nut with {found.forward:.0f} N and the springs with "
            f"{found.springs:.0f} N, {each:.0f} N a post at {bridge.pivot:.1f} mm over the wood",
            MODEL_SOURCE,
        )

    def hung(self, document: Document) -> str:
        """By its knife edges, on posts that set its height."""
        return "Wind both posts in by hand and hang the bridge on them by its knife edges."

    def levelled(self, document: Document) -> str:
        """The posts set its height, the claw its level."""
        return "posts and claw"

    def name_numbers(self, found: Quantities, document: Document, layout: Layout) -> None:
        """Where each post stands, and what every vibrato has."""
        found.work(
            "bridge.posts-own",
            before,
            {"behind": "bridge.knife_behind_post"},
            what="the posts' axes from the line of the knife edges towards the tail",
        )
        name_pair(found, "post", _POST, {"spacing": "bridge.post_spacing"}, along="bridge.posts-own")
        name_sprung(found, document, layout)


KIND: Kind = VibratoKind()


def stated(document: Document) -> Vibrato:
    """The bridge of a job whose bridge is a vibrato on posts."""
    assert isinstance(document.bridge, Vibrato)
    return document.bridge
