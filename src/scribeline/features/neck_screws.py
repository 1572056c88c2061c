"""The bolted neck: clearance holes through the body, and what the screws then do in the heel."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import degrees

from scribeline import tables
from scribeline.features.bits import Bit, choose_bit, drill_box
from scribeline.features.cuts import UP, Bore, Pocket, Reason, Screw, Step
from scribeline.features.passing import BREAK_OUT, floor_z, past_the_wall, run_to_floor, surface
from scribeline.features.pilots import BENCH_SOURCE, RELIEF, PilotRule, pilot_rule
from scribeline.job import Document, NeckBolts
from scribeline.layout import NECK_POCKET, Layout, depth_before
from scribeline.quantities import cos, greatest, least

CLEARANCE = 1.0
"""A clearance hole wider than its thread by more than this is no choice, mm: the heads would sink in (from memory)."""


def neck_timber(document: Document) -> tables.Timber:
    """What the neck is of, or is taken for."""
    return document.neck.wood


def _freely() -> float:
    """How much wider than its thread a clearance hole is made at least, mm: as much as the checks ask for."""
    return tables.limit_rows()["screw_clearance"].caution


@dataclass(frozen=True, slots=True)
class HeelScrew:
    """What a neck screw does beyond the body, mm.

    Attributes:
        body: wood it passes before the heel: the body's thickness less the pocket and the cup's counterbore; where the
            pocket's floor leans, of the screw that passes most.
        engages: thread in the heel: length − what its head bears on − body.
        deepest: the same of the screw that goes deepest, which passes least of the body.
        to_board: from that one's tip to the glue line of the fingerboard; negative once it is through it.
        rule: the heel pilot's diameters.
        bit: the nearest bit for it.
        pilot_depth: full-diameter depth of the pilot in the heel.
        timber: what the heel is of, or is taken for.
    """

    body: float
    engages: float
    deepest: float
    to_board: float
    rule: PilotRule
    bit: Bit
    pilot_depth: float
    timber: tables.Timber


def heel_screw(document: Document) -> HeelScrew | None:
    """What the job's neck screws do in the heel; None where it has none.

    engages = length − plate − (thickness − pocket depth − counterbore); the tip then lies heel − board − engages
    below the glue line. Where the pocket's floor leans, its depth is that at each screw, which stands square to the
    body's back; along it the heel is (heel − board) / cos angle thick.
    """
    screws = document.neck_screws
    if screws is None:
        return None
    body, least_body = most_and_least_passed(document, screws)
    engages, deepest = (
        thread_in_heel(screws.length.mm, screws.under_head, wood) for wood in (body, least_body)
    )
    timber = neck_timber(document)
    rule = pilot_rule(thread=screws.thread.mm, root=screws.root.mm, timber=timber)
    to_board = left_to_board(document, deepest)
    bit = choose_bit(
        drill_box(document.bits),
        rule.bench,
        ("twist", "brad-point"),
        reach=max(0.0, deepest),
        point_angle_rad=document.bits.point_angle,
    )
    deep = heel_pilot_depth(deepest, to_board, bit.point, RELIEF)
    return HeelScrew(body, engages, deepest, to_board, rule, bit, deep, timber)


def most_and_least_passed(document: Document, bolts: NeckBolts) -> tuple[float, float]:
    """Wood of the body that a neck screw passes, mm: the most of all and the least; one number where the pocket is level."""
    depths = [pocket_at(document, before) for before, _ in bolts.places]
    most, least = (
        wood_passed(document.body.thickness.mm, depth, bolts.cup_depth or 0.0)
        for depth in (min(depths), max(depths))
    )
    return most, least


def pocket_at(document: Document, before: float) -> float:
    """Depth of the neck pocket so far before its end wall, mm, as the job states it."""
    neck = document.neck
    return depth_before(neck.pocket_depth.mm, before, neck.angle) if neck.angle else neck.pocket_depth.mm


def wood_passed(thickness: float, pocket: float, cup: float) -> float:
    """Wood of the body that a neck screw passes, mm."""
    return thickness - pocket - cup


def thread_in_heel(length: float, under_head: float, wood: float) -> float:
    """Thread of a neck screw in the heel, mm."""
    return length - under_head - wood


def short_of_board(heel: float, board: float, engages: float) -> float:
    """From a neck screw's tip to the fingerboard's glue line, mm."""
    return heel - board - engages


def short_of_board_leaning(heel: float, board: float, engages: float, angle: float) -> float:
    """The same along a screw from which a heel that leans back by an angle, rad, is so far out of square, mm."""
    left: float = (heel - board) / cos(angle) - engages
    return left


def left_to_board(document: Document, deep: float) -> float:
    """From an end so deep in the heel to the fingerboard's glue line, along a bolt square to the body's back, mm."""
    neck = document.neck
    heel, board = neck.heel_thickness.mm, neck.board_thickness.mm
    return (
        short_of_board_leaning(heel, board, deep, neck.angle)
        if neck.angle
        else short_of_board(heel, board, deep)
    )


def heel_pilot_depth(engages: float, to_board: float, point: float, relief: float) -> float:
    """Depth of the heel's pilot, mm: relief beyond the tip, but no bit's point nearer the board than half of what is left."""
    room = engages + greatest(0.0, to_board) / 2 - point
    return greatest(0.0, least(engages + relief, room))


def clearance_run(floor: float, start: float) -> float:
    """From the back to the neck pocket's floor, mm."""
    return greatest(0.0, floor - start)


def neck_screw_holes(document: Document, layout: Layout, pockets: tuple[Pocket, ...]) -> Iterator[Bore]:
    """The clearance holes, from the back into the neck pocket."""
    screws = document.neck_bolts
    if screws is None:
        return
    pocket = next(pocket for pocket in pockets if pocket.role == NECK_POCKET)
    starts = [surface(layout, "back", place) for place in layout.neck_screws]
    runs = [clearance_run(floor_z(layout, pocket, start.x), start.z) for start in starts]
    bit = choose_bit(
        drill_box(document.bits),
        screws.passing + _freely(),
        ("brad-point", "twist"),
        at_least=screws.passing + _freely(),
        at_most=screws.passing + CLEARANCE,
        reach=layout.thickness - pocket.depth,
        point_angle_rad=document.bits.point_angle,
    )
    for number, (start, run) in enumerate(zip(starts, runs, strict=True), start=1):
        # Where the floor leans all go as deep as the longest: one setting, and what is over ends in the pocket's air.
        through = run if pocket.slope is None else max(runs)
        cup = _cup(document, screws)
        yield Bore(
            id=f"neck-screw-{number}",
            stated=f"{document.neck_bolts_key}.places[{number}]",
            role="neck screw clearance hole",
            group="neck screws",
            face="back",
            at=start,
            axis=UP,
            steps=(*cup, Step(bit.diameter, past_the_wall(through, BREAK_OUT), bit)),
            meets=frozenset({pocket.id}),
            through=True,
            why=_clearance_why(screws, bit, through),
        )


def heel_pilots(
    document: Document, layout: Layout, clearance: Iterable[Bore], pocket: Pocket
) -> Iterator[Bore]:
    """The screws' pilots in the heel, straight on from the body's clearance holes; none where no thread gets into the heel.

    Args:
        document: says what screws they are for.
        layout: where the body's faces are.
        clearance: the holes in the body, those that are drilled as they were drilled.
        pocket: the neck pocket, on whose floor the heel's underside lies.
    """
    screws, heel = document.neck_screws, heel_screw(document)
    if screws is None or heel is None or heel.pilot_depth <= 0:
        return
    for hole in clearance:
        yield Bore(
            id=f"heel-pilot-{hole.number}",
            role="heel pilot",
            group="heel pilots",
            face="back",
            at=hole.along(run_to_floor(layout, pocket, hole.at, hole.axis)),
            axis=hole.axis,
            steps=(Step(heel.bit.diameter, heel.pilot_depth, heel.bit),),
            why=_heel_why(document),
            screw=Screw(
                screws.thread.mm,
                screws.root.mm,
                screws.length.mm,
                screws.under_head + _passes(document, pocket, hole),
                "neck_screws.length",
                screws.lengths_owned,
            ),
        )


def _passes(document: Document, pocket: Pocket, hole: Bore) -> float:
    """Wood of the body that the screw of a hole passes, mm."""
    screws, depth = document.neck_bolts, document.neck.pocket_depth.mm
    assert screws is not None
    if pocket.slope is not None:
        depth = depth_before(depth, pocket.slope.at - hole.at.x, pocket.slope.angle)
    return wood_passed(document.body.thickness.mm, depth, screws.cup_depth or 0.0)


def _cup(document: Document, screws: NeckBolts) -> tuple[Step, ...]:
    if screws.cup_diameter is None or screws.cup_depth is None:
        return ()
    off = min(0.5, screws.cup_diameter / 10)
    bit = choose_bit(
        drill_box(document.bits),
        screws.cup_diameter,
        ("flat-bottomed", "brad-point"),
        at_least=screws.cup_diameter - off,
        at_most=screws.cup_diameter + off,
        point_angle_rad=document.bits.point_angle,
    )
    return (Step(bit.diameter, screws.cup_depth, bit),)


def _clearance_why(screws: NeckBolts, bit: Bit, through: float) -> tuple[Reason, ...]:
    least = screws.passing + _freely()
    return (
        Reason(
            f"clearance hole: the screw must not bite in the body, so the smallest bit of {least:.2f} mm or more: "
            f"{bit.name} ({bit.diameter - screws.passing:+.2f} mm)"
            if bit.owned
            else f"clearance hole: the box has no bit from {least:.2f} to {screws.passing + CLEARANCE:.2f} mm; "
            f"get {bit.name}",
            BENCH_SOURCE,
        ),
        Reason(
            f"{through:.2f} mm from the back to the neck pocket's floor; the full diameter goes {BREAK_OUT:g} mm further"
        ),
    )


def _heel_why(document: Document) -> tuple[Reason, ...]:
    heel, neck = heel_screw(document), document.neck
    assert heel is not None
    return (
        Reason(
            f"{heel.engages:.2f} mm of its thread hold in the heel; its tip lies {heel.to_board:.2f} mm below the "
            "fingerboard's glue line"
            + (
                f" (least of all: the pocket's floor leans by {degrees(neck.angle):.2f}° and the screws stand square to the back)"
                if neck.angle
                else ""
            )
        ),
        Reason(
            f"heel pilot, drilled in the neck: {heel.rule.bench:.2f} mm by the bench rule for {heel.timber.in_words}"
            f"{'' if neck.timber else ' (taken for granted: state neck.timber)'}, with {heel.bit.name}",
            BENCH_SOURCE,
        ),
    )
