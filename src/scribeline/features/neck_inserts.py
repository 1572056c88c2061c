"""Threaded inserts in a bolted neck's heel: their holes, how far their machine screws go in, what is left to the board."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from scribeline import tables
from scribeline.features.bits import Bit, choose_bit, drill_box
from scribeline.features.cuts import Bore, Pocket, Reason, Step
from scribeline.features.neck_screws import (
    heel_pilot_depth,
    left_to_board,
    most_and_least_passed,
    neck_timber,
    thread_in_heel,
)
from scribeline.features.passing import run_to_floor
from scribeline.features.pilots import BENCH_SOURCE, RELIEF
from scribeline.job import Document
from scribeline.layout import Layout
from scribeline.quantities import greatest, least
from scribeline.tables import HardnessClass

OVER_ROOT: dict[HardnessClass, float] = {"soft": 0.2, "medium": 0.3, "hard": 0.4, "very hard": 0.4}
"""How much wider than an insert's root its hole is, mm (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class HeelInsert:
    """What the inserts and their machine screws do in the heel, mm.

    Attributes:
        body: wood that a screw passes before the heel; where the pocket's floor leans, of the one that passes most.
        engages: thread of a screw in its insert; the least of all.
        reach: from the heel's underside to a screw's tip; of the one that goes deepest.
        end: from the heel's underside to the insert's end.
        to_board: from the insert's end, or the screw's tip where that goes deeper, to the fingerboard's glue line.
        wanted: diameter of the hole.
        bit: the nearest bit for it.
        flange: what lets its flange in; None where it has none.
        depth: of the hole at full diameter, from the heel's underside.
        timber: what the heel is of, or is taken for.
    """

    body: float
    engages: float
    reach: float
    end: float
    to_board: float
    wanted: float
    bit: Bit
    flange: Bit | None
    depth: float
    timber: tables.Timber

    @property
    def room(self) -> float:
        """From the deepest screw's tip to the bottom of its hole, mm."""
        return self.depth - self.reach


def insert_hole(root: float, over: float) -> float:
    """Diameter of an insert's hole, mm."""
    return root + over


def insert_end(sunk: float, length: float) -> float:
    """From the heel's underside to an insert's end, mm."""
    return sunk + length


def in_insert(reach: float, sunk: float, end: float) -> float:
    """Thread of a machine screw in its insert, mm, whose tip reaches so far into the heel; under 0 where it falls short."""
    return least(reach, end) - sunk


def heel_insert(document: Document) -> HeelInsert | None:
    """What the job's inserts do in the heel; None where it has none."""
    inserts = document.neck_inserts
    if inserts is None:
        return None
    body, least_body = most_and_least_passed(document, inserts)
    shortest, reach = (
        thread_in_heel(inserts.screw_length.mm, inserts.under_head, wood) for wood in (body, least_body)
    )
    end = insert_end(inserts.sunk, inserts.length.mm)
    deepest, timber = greatest(end, reach), neck_timber(document)
    to_board = left_to_board(document, deepest)
    wanted = insert_hole(inserts.root.mm, OVER_ROOT[timber.hardness_class])
    bit = choose_bit(
        drill_box(document.bits),
        wanted,
        ("brad-point", "twist", "flat-bottomed"),
        at_least=inserts.root.mm,
        at_most=(inserts.root.mm + inserts.thread.mm) / 2,
        reach=deepest,
        point_angle_rad=document.bits.point_angle,
    )
    flange = None
    if inserts.flange_diameter is not None:
        wide = inserts.flange_diameter.mm
        flange = choose_bit(
            drill_box(document.bits),
            wide + _ROUND_A_FLANGE,
            ("flat-bottomed", "brad-point"),
            at_least=wide,
            at_most=wide + 4 * _ROUND_A_FLANGE,
            point_angle_rad=document.bits.point_angle,
        )
    depth = heel_pilot_depth(deepest, to_board, bit.point, RELIEF)
    engages = in_insert(shortest, inserts.sunk, end)
    return HeelInsert(body, engages, reach, end, to_board, wanted, bit, flange, depth, timber)


_ROUND_A_FLANGE = 0.5
"""How much wider than a flange its counterbore is, mm (common practice, no source)."""


def heel_inserts(
    document: Document, layout: Layout, clearance: Iterable[Bore], pocket: Pocket
) -> Iterator[Bore]:
    """The inserts' holes in the heel, straight on from the body's clearance holes; none where there is no room for them.

    Args:
        document: says what inserts they are for.
        layout: where the body's faces are.
        clearance: the holes in the body, those that are drilled as they were drilled.
        pocket: the neck pocket, on whose floor the heel's underside lies.
    """
    inserts, heel = document.neck_inserts, heel_insert(document)
    if inserts is None or heel is None or heel.depth <= inserts.sunk:
        return
    sunk = () if heel.flange is None else (Step(heel.flange.diameter, inserts.sunk, heel.flange),)
    for hole in clearance:
        yield Bore(
            id=f"heel-pilot-{hole.number}",
            role="insert hole",
            group="heel inserts",
            face="back",
            at=hole.along(run_to_floor(layout, pocket, hole.at, hole.axis)),
            axis=hole.axis,
            steps=(*sunk, Step(heel.bit.diameter, heel.depth, heel.bit)),
            why=_why(document, heel),
        )


def _why(document: Document, heel: HeelInsert) -> tuple[Reason, ...]:
    inserts, neck = document.neck_inserts, document.neck
    assert inserts is not None
    return (
        Reason(
            f"hole for an insert of {inserts.thread.mm:.2f} mm over its thread: {heel.wanted:.2f} mm, its root and "
            f"{OVER_ROOT[heel.timber.hardness_class]:g} mm in {heel.timber.in_words}"
            f"{'' if neck.timber else ' (taken for granted: state neck.timber)'}, with {heel.bit.name}",
            BENCH_SOURCE,
        ),
        Reason(
            f"{heel.engages:.2f} mm of the machine screw are in the insert; its tip ends {heel.room:.2f} mm before the hole "
            f"does, and {heel.to_board:.2f} mm are left to the fingerboard's glue line"
        ),
    )


def thread_ends(document: Document, bore: Bore) -> tuple[tuple[float, float], ...]:
    """What is driven into a hole of the heel: diameter and how deep from the heel's underside, mm, widest first.

    Args:
        document: says what it is.
        bore: a screw's pilot or an insert's hole.
    """
    heel, inserts = heel_insert(document), document.neck_inserts
    if heel is not None and inserts is not None:
        return (inserts.thread.mm, heel.end), (inserts.screw.mm, heel.reach)
    return () if bore.screw is None else ((bore.screw.thread, bore.screw.reach),)
