"""Rules for a neck that runs through the body: a board that its core carries, holes off the glue lines, its rod's channel."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product
from math import hypot

from scribeline.features import Bore, Pocket, polygon
from scribeline.findings.finding import COMMON_PRACTICE, GEOMETRY, Facts, Finding, Limit
from scribeline.findings.heights import LEVEL
from scribeline.findings.inserts import ROD
from scribeline.findings.wood import named
from scribeline.layout import CORE, board_over, board_width, channels, core_widths
from scribeline.lengths import no_less, put, said

LINE = Limit.of("wing_line")


def board_on_core(facts: Facts) -> Iterator[Finding]:
    """Does the core of a neck that runs through carry the whole width of its board?"""
    neck = facts.document.neck
    if not neck.runs_through:
        return
    at_board, _ = core_widths(neck)
    board = float(board_width(facts.document, facts.document.fingerboard.end))
    wider, front = board - at_board, board_over(facts.document, facts.layout.neck_edge)
    if wider <= _SAME_WIDTH:
        return
    sunk = front < -LEVEL
    yield Finding(
        code="core.board-meets-wings" if sunk else "core.narrower-than-board",
        severity="stop" if sunk else "caution",
        features=(),
        concerns=(CORE,),
        value=front if sunk else wider,
        limit=0.0,
        message=f"the board is {said(board)} wide at its end and the core under it {said(at_board)}"
        + (
            f"; at the body's neck edge its underside lies {said(-front)} below the body's top, and meets the wings"
            if sunk
            else ": it hangs over the wings, which move otherwise than the core"
        ),
        cure=f"set {put('neck.core_width', board, bound='least')} or more"
        + (f", or raise the board by {no_less(-front)} (neck.board_over_body)" if sunk else ""),
        source=GEOMETRY if sunk else COMMON_PRACTICE,
    )


_SAME_WIDTH = 0.05
"""Widths nearer than this are one, mm."""


def cavities_by_the_rod(facts: Facts) -> Iterator[Finding]:
    """Does every cavity keep off the truss rod's channel in a core?"""
    import shapely

    limit = facts.limit(ROD)
    if not facts.document.neck.runs_through:
        return
    for channel, pocket in product(channels(facts.document), facts.features.pockets):
        begins, ends = channel.ends
        low, high = channel.across - channel.half, channel.across + channel.half
        aside = float(shapely.box(begins, low, ends, high).distance(polygon(pocket.outline)))
        left = hypot(aside, _under_channel(facts, pocket, channel.depth))
        if severity := limit.severity(left):
            yield Finding(
                code="core.cavity-into-rod" if left <= 0 else "core.cavity-near-rod",
                severity=severity,
                held_to=limit.level_id(severity),
                features=(pocket.id,),
                value=left,
                limit=limit.threshold(severity),
                message=f"the {pocket.in_words} runs into the {channel.name}'s channel, which ends {said(ends)} from the nut"
                if left <= 0
                else f"only {said(left)} of wood remains between the {pocket.in_words} and the {channel.name}'s channel",
                cure=f"move the {pocket.in_words} {no_less(limit.caution - left)} towards the tail, or end the channel before it "
                f"({channel.key}_to)",
                source=GEOMETRY if left <= 0 else limit.source,
            )


def _under_channel(facts: Facts, pocket: Pocket, deep: float) -> float:
    """Wood between the channel's floor and a cavity's, mm: 0 of one from the top, which comes down beside it."""
    if pocket.face == "top":
        return 0.0
    floor = facts.document.neck.board_over_body.mm - deep
    return max(0.0, floor - (pocket.depth - facts.layout.thickness))


def holes_by_the_wings(facts: Facts) -> Iterator[Finding]:
    """Does every screw and stud keep off the glue lines between core and wings?"""
    if facts.layout.body.core is None:
        return
    limit = facts.limit(LINE)
    for bore in facts.features.bores:
        if not _bears(bore):
            continue
        left = _from_line(facts, bore)
        if severity := limit.severity(left):
            yield Finding(
                code="core.hole-on-glue-line" if left <= 0 else "core.hole-near-glue-line",
                severity=severity,
                held_to=limit.level_id(severity),
                features=(bore.id,),
                value=left,
                limit=limit.threshold(severity),
                message=f"{named(bore)} {f'stands {said(left)} from' if left > 0 else 'stands on'} the glue line between core "
                "and wing",
                cure=f"move it {no_less(limit.caution - left)} off the line, or make the core wider or narrower there "
                "(neck.core_width, neck.core_width_at_tail)",
                source=limit.source,
            )


def _bears(bore: Bore) -> bool:
    """Whether something is wound or pressed into it from a face: what pries a joint open."""
    return bore.is_upright and (bore.screw is not None or bore.family in _PRESSED)


_PRESSED = frozenset({"bridge-stud", "bridge-post", "tailpiece-stud"})


def _from_line(facts: Facts, bore: Bore) -> float:
    """Wood between a hole's wall and the nearer glue line, mm; below 0 where the line runs through the hole."""
    import shapely

    core = facts.layout.body.core
    assert core is not None
    sides = [(a, b) for a, b in zip(core, (*core[1:], core[0]), strict=True) if a.y * b.y > 0]
    at = shapely.Point(bore.at.x, bore.at.y)
    return float(min(at.distance(shapely.LineString(side)) for side in sides)) - bore.widest / 2
