"""The pilot of one wood screw: its bit and depth by the bench's rule, with the reasons."""

from __future__ import annotations

from scribeline.features.bits import Bit, choose_bit, drill_box
from scribeline.features.cuts import Reason, Screw, Step
from scribeline.features.pilots import BENCH_SOURCE, HANDBOOK_SOURCE, RELIEF, past_the_tip, pilot_rule
from scribeline.job import Document, WoodScrew
from scribeline.layout import Threaded
from scribeline.tables import Timber


def driver(screw: WoodScrew, under_head: float, key: str) -> Screw:
    """A screw of the job as it is driven.

    Args:
        screw: as stated.
        under_head: what it passes through before the wood, mm.
        key: its table in the job.
    """
    return Screw(
        thread=screw.thread.mm,
        root=screw.root.mm,
        length=screw.length.mm,
        under_head=under_head,
        key=f"{key}.length",
        owned=screw.lengths_owned,
    )


def pilot_bit(document: Document, wanted: float, depth: float) -> Bit:
    """The bit nearest to a pilot's size that drills as deep.

    Args:
        document: for the bits owned.
        wanted: the pilot's diameter, mm.
        depth: at full diameter, mm.
    """
    return choose_bit(
        drill_box(document.bits),
        wanted,
        ("twist", "brad-point"),
        reach=depth,
        point_angle_rad=document.bits.point_angle,
    )


def screw_pilot(document: Document, screw: Screw, timber: Timber) -> tuple[Step, tuple[Reason, ...]]:
    """The pilot's one step, and how it came about.

    Args:
        document: for the bits owned.
        screw: what is driven into it.
        timber: what it goes into.
    """
    return _pilot(document, screw.thread, screw.root, screw.reach, timber)


def thread_pilot(document: Document, post: Threaded, timber: Timber) -> tuple[Step, tuple[Reason, ...]]:
    """The same of a post that is wound into the wood by its own thread."""
    return _pilot(document, post.outside, post.root, post.length, timber)


def _pilot(
    document: Document, thread: float, root: float, reach: float, timber: Timber
) -> tuple[Step, tuple[Reason, ...]]:
    rule = pilot_rule(thread=thread, root=root, timber=timber)
    depth = past_the_tip(reach, RELIEF)
    bit = pilot_bit(document, rule.bench, depth)
    why = (
        Reason(
            f"bench rule: {rule.bench:.2f} mm, the root and {100 * rule.share:.0f} % of the thread's height, because "
            f"{timber.in_words} is {rule.hardness}",
            BENCH_SOURCE,
        ),
        Reason(
            f"handbook rule: {rule.handbook:.2f} mm, {'70' if timber.softwood else '90'} % of the root in "
            f"{'softwood' if timber.softwood else 'hardwood'}",
            HANDBOOK_SOURCE,
        ),
        Reason(
            f"the bench rule is used; nearest bit in the box: {bit.name} ({bit.diameter - rule.bench:+.2f} mm)"
            if bit.owned
            else f"the bench rule is used; the box has no bit for it; get {bit.name}"
        ),
    )
    return Step(bit.diameter, depth, bit), why
