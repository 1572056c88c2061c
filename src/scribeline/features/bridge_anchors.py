"""The holes that hold a bridge and what belongs to it: pilots of screws, holes for pressed bushings or threaded posts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from scribeline.features.bushings import BELOW, PRESS_SOURCE, bushing_depth, bushing_hole
from scribeline.features.cuts import DOWN, Bore, Reason, Screw, Step
from scribeline.features.passing import surface
from scribeline.features.pilots import BENCH_SOURCE
from scribeline.features.screw_pilots import driver, screw_pilot, thread_pilot
from scribeline.features.string_holes import held_there
from scribeline.job import Document
from scribeline.layout import Anchor, FurtherRow, Kind, Layout, Point, Pressed, Threaded, kind_of
from scribeline.tables import Timber


def bridge_anchors(document: Document, layout: Layout) -> Iterator[Bore]:
    """The holes of the bridge's anchors; none while it has no place."""
    if layout.bridge is None:
        return
    yield from _row(document, layout, kind_of(document.bridge), layout.bridge.anchors)
    for row in layout.bridge.further:
        yield from _row(document, layout, row, row.anchors)


def _row(
    document: Document, layout: Layout, named: Kind | FurtherRow, anchors: Sequence[Anchor]
) -> Iterator[Bore]:
    for number, anchor in enumerate(anchors, start=1):
        step, why, screw = _hole(document, layout, anchor)
        yield Bore(
            id=f"{named.family}-{number}",
            role=named.role,
            group=named.group,
            face="top",
            at=surface(layout, "top", anchor.at),
            axis=DOWN,
            steps=(step,),
            why=(*why, *held_there(layout)),
            screw=screw,
            holds=named.holds,
        )


def bridge_timber(document: Document, layout: Layout, place: Point) -> Timber:
    """What the bridge's screws are reckoned with: the body's own timber, and the core's in a core."""
    if layout.body.core is None:
        return document.body.timber
    return layout.timber_at(place, layout.top_at(place))


def _hole(
    document: Document, layout: Layout, anchor: Anchor
) -> tuple[Step, tuple[Reason, ...], Screw | None]:
    """Bit, depth and reasons by how the anchor holds, and the screw that goes in, where one does."""
    timber = layout.timber_at(anchor.at, layout.top_at(anchor.at))
    if isinstance(anchor.part, Pressed):
        return *_press(document, timber, anchor.part), None
    if isinstance(anchor.part, Threaded):
        return *thread_pilot(document, anchor.part, timber), None
    part = anchor.part
    screw = driver(part.screw, part.under_head, part.key)
    return *screw_pilot(document, screw, bridge_timber(document, layout, anchor.at)), screw


def _press(document: Document, timber: Timber, part: Pressed) -> tuple[Step, tuple[Reason, ...]]:
    """The hole of a bushing, and how it came about."""
    hole = bushing_hole(document, timber, part.outside)
    depth = bushing_depth(part.length, BELOW)
    film = f" + {hole.film:.2f} that the finish takes away" if hole.film else ""
    why = (
        Reason(
            f"{part.outside:.2f} mm over the knurl, pressed into {timber.in_words}, which is {timber.hardness_class}: "
            f"{hole.least:.2f} to {hole.most:.2f} mm{film}; bit {hole.bit.name} "
            f"({part.outside + hole.film - hole.bit.diameter:+.2f} mm of press)",
            PRESS_SOURCE,
        ),
        Reason(
            f"depth = bushing {part.length:.1f} + {BELOW:.1f} below it = {depth:.2f} mm at full diameter",
            BENCH_SOURCE,
        ),
    )
    return Step(hole.bit.diameter, depth, hole.bit), why
