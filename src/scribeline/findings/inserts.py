"""Rules for what is driven into a bolted neck's heel: inserts with their machine screws, and the truss rod's channel."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from math import cos, sin

from scribeline.features import Bore, HeelInsert, heel_insert, thread_ends
from scribeline.findings.finding import COMMON_PRACTICE, GEOMETRY, Facts, Finding, Limit
from scribeline.findings.neck import TIP
from scribeline.job import NeckInserts
from scribeline.layout import HEEL, Point3, channels, neck_lie
from scribeline.lengths import between, no_less, no_more, said, spot
from scribeline.solid import rod_clearance

ROD = Limit.of("neck_rod")
BOTTOM = Limit.of("insert_bottom")


def inserts_hold(facts: Facts) -> Iterator[Finding]:
    """Do the machine screws engage their inserts, without bottoming in the hole?"""
    heel, inserts = heel_insert(facts.document), facts.document.neck_inserts
    if heel is None or inserts is None:
        return
    ids = tuple(bore.id for bore in facts.features.family("neck-screw"))
    size = f"a machine screw of {said(inserts.screw_length.mm, None)}"
    wanted = inserts.screw.mm
    if heel.engages < wanted - 1e-9:
        yield Finding(
            code="neck-inserts.short",
            severity="stop" if heel.engages <= 0 else "caution",
            of="heel.thread",
            held_to="neck_inserts.screw",
            features=ids,
            concerns=(*ids, HEEL),
            value=heel.engages,
            limit=wanted,
            message=f"{size} "
            + (
                f"takes only {said(heel.engages)} of its insert"
                if heel.engages > 0
                else f"ends {said(-heel.engages)} before its insert begins"
            )
            + f" after {said(heel.body)} of body and {said(inserts.under_head, None)} under its head; one diameter, "
            f"{said(wanted, None)}, is the least that holds",
            cure=_screws_that_fit(facts, heel, inserts),
            source=COMMON_PRACTICE,
        )
    limit = facts.limit(BOTTOM)
    if severity := limit.severity(heel.room):
        yield Finding(
            code="neck-inserts.bottom",
            severity=severity,
            held_to=limit.level_id(severity),
            features=ids,
            concerns=(*ids, HEEL),
            value=heel.room,
            limit=limit.threshold(severity),
            message=f"{size} ends {said(heel.room)} before the hole does"
            if heel.room > 0
            else f"{size} meets the bottom of its hole {said(-heel.room)} before its head is down, and draws nothing",
            cure=_screws_that_fit(facts, heel, inserts),
            source=limit.source,
        )


def _screws_that_fit(facts: Facts, heel: HeelInsert, inserts: NeckInserts) -> str:
    """The lengths that engage by a diameter and do not bottom, and which of those owned are such."""
    passes = heel.body + inserts.under_head
    shortest = passes + inserts.sunk + min(inserts.screw.mm, inserts.length.mm)
    longest = inserts.screw_length.mm + heel.room - facts.limit(BOTTOM).caution
    if shortest > longest:
        return f"no length takes {said(inserts.screw.mm, None)} of the insert and clears its hole: use longer inserts"
    words = f"machine screws from {between(shortest, longest)} fit"
    owned = sorted(length for length in inserts.screw_lengths_owned if shortest <= length <= longest)
    if owned:
        return f"{words}: of those you own, {spot(*owned, places=None)}"
    return words + (": none of those you own does" if inserts.screw_lengths_owned else "")


def inserts_under_the_board(facts: Facts) -> Iterator[Finding]:
    """Do the inserts and their screws stay clear of the fingerboard?"""
    heel, inserts = heel_insert(facts.document), facts.document.neck_inserts
    if heel is None or inserts is None:
        return
    limit = facts.limit(TIP)
    ids = tuple(bore.id for bore in facts.features.family("neck-screw"))
    if severity := limit.severity(heel.to_board):
        screw = heel.reach > heel.end
        what = "a machine screw's tip" if screw else "an insert"
        longest = inserts.screw_length.mm if screw else inserts.length.mm
        less = longest - (limit.caution - heel.to_board)
        yield Finding(
            code="neck-inserts.into-board" if heel.to_board <= 0 else "neck-inserts.near-board",
            severity=severity,
            of="heel.to-board",
            held_to=limit.level_id(severity),
            features=ids,
            concerns=(*ids, HEEL),
            value=heel.to_board,
            limit=limit.threshold(severity),
            message=f"{what} ends {said(heel.to_board)} below the fingerboard's glue line"
            if heel.to_board > 0
            else f"{what} goes {said(-heel.to_board)} past the fingerboard's glue line",
            cure=f"use {'machine screws' if screw else 'inserts'} of {no_more(less)} or shorter",
            source=limit.source,
        )


def clear_of_the_rod(facts: Facts) -> Iterator[Finding]:
    """Does everything that is bored or driven into the heel stay clear of the truss rod's channel, and of the bars'?"""
    neck, limit = facts.document.neck, facts.limit(ROD)
    if neck.runs_through:
        return
    heel = neck_lie(facts.document).end, neck.heel_thickness.mm - neck.board_thickness.mm
    what = "insert" if facts.document.neck_inserts is not None else "neck screw"
    for bore, channel in product(facts.heel_pilots, channels(facts.document)):
        turned = _in_the_neck(facts, bore)
        left = rod_clearance(turned, channel, heel, thread_ends(facts.document, bore))
        if severity := limit.severity(left):
            short, way = ("rod", "further from the centreline") if channel.across == 0 else ("bar", "aside")
            yield Finding(
                code=f"neck.into-{short}" if left <= 0 else f"neck.near-{short}",
                severity=severity,
                held_to=limit.level_id(severity),
                features=(bore.id,),
                concerns=(bore.id, f"neck-screw-{bore.number}", HEEL),
                value=left,
                limit=limit.threshold(severity),
                message=f"{what} {bore.number} runs into the {channel.name}'s channel by {said(-left)}"
                if left <= 0
                else f"only {said(left)} of wood remains between {what} {bore.number} and the {channel.name}'s channel",
                cure=f"move it {no_less(limit.caution - left)} {way} ({facts.document.neck_bolts_key}.places), or use a shorter "
                "one"
                + ("" if channel.across == 0 else ", or let the bars end before it (neck_blank.bar_to)"),
                source=GEOMETRY if left <= 0 else limit.source,
            )


def _in_the_neck(facts: Facts, bore: Bore) -> Bore:
    """A bore of the heel as it lies in the neck: along it from the heel's end, across, over the heel's underside."""
    neck = facts.neck
    assert neck is not None
    angle = facts.document.neck.angle
    c, s = cos(angle), sin(angle)

    def turned(x: float, y: float, z: float) -> Point3:
        return Point3(x * c + z * s, y, z * c - x * s)

    at = turned(bore.at.x - facts.layout.pocket_end, bore.at.y, bore.at.z - neck.low)
    return replace(bore, at=at, axis=turned(*bore.axis), face="edge", outward=Point3(0.0, 0.0, -1.0))
