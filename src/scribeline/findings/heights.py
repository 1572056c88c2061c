"""Rules for heights: do action, pocket, heel, fret and saddle agree, and does the board clear the body?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import degrees, inf

import numpy as np

from scribeline.features import polygon
from scribeline.findings.finding import COMMON_PRACTICE, GEOMETRY, STATED, Facts, Finding, Limit, Severity
from scribeline.job import Bridge, Document, entries, feature_id, pocket_as_read
from scribeline.layout import (
    NECK_POCKET,
    SURELY,
    Ring,
    Stringing,
    actions_at,
    chain,
    crowns_over_body,
    neck_lie,
    saddle_heights,
)
from scribeline.lengths import no_less, no_more, put, put_number, said, span

RISE = Limit.of("saddle_rise")
CLOSE = Limit.of("heights_close")
BOARD = Limit.of("board_over_top")

LEAST_LEAN, MOST_LEAN = 0.3, 6.0
"""Angles of a pocket's floor that a cure names, degrees: a jig holds no tenth, and a steeper neck is another design (common
practice, no source)."""

LEAST_SHIM, MOST_SHIM = 0.2, 1.5
"""Taper shims that a cure names, mm at the thick end: thinner is veneer, thicker opens the joint (common practice, no
source)."""

SHALLOWEST = 10.0
"""A shallower neck pocket is no cure, mm: it holds no heel (common practice, no source)."""


def heights_close(facts: Facts) -> Iterator[Finding]:
    """Can every saddle hold its string where the stated action wants it?"""
    stringing = facts.layout.stringing
    if not stringing.is_placed:
        return
    bridge = facts.document.bridge
    wanted = saddle_heights(facts.document, stringing).tolist()
    yield from _outside_its_own_range(facts)
    if bridge.lowest is None and bridge.highest is None:
        yield from _without_range(facts, wanted)
    else:
        yield from _within_range(facts)


TELLS = 0.05
"""A pocket whose depth was read no further off than this, mm, is as it was planned: a depth gauge shows no less."""


def pocket_as_routed(facts: Facts) -> Iterator[Finding]:
    """Is the neck pocket as deep as planned, and what becomes of the strings' height where it is not?"""
    found, stringing = pocket_as_read(facts.record), facts.layout.stringing
    if found is None or found.cut.depth is None or not stringing.is_placed:
        return
    (deeper, sd), planned = found.of("deeper"), found.cut.depth
    if abs(deeper) < TELLS:
        return
    neck = facts.document.neck
    before = neck.model_copy(update={"pocket_depth": replace(neck.pocket_depth, mm=planned)})
    was, now = (
        saddle_heights(document, stringing)
        for document in (facts.document.model_copy(update={"neck": before}), facts.document)
    )
    off = float(np.mean(now - was))
    yield Finding(
        code="heights.pocket-as-routed",
        severity="note",
        features=(feature_id(NECK_POCKET),),
        value=abs(deeper),
        limit=TELLS,
        message=f"the neck pocket is {said(planned + deeper)} deep as measured (± {said(SURELY * sd)}, {entries(found)}), where "
        f"{said(planned)} was planned: the strings at their saddles {'come up' if off > 0 else 'go down'} {said(abs(off))}, to "
        f"{span(float(now.min()), float(now.max()))} over the body (was {span(float(was.min()), float(was.max()))})",
        cure=_what_follows(deeper, off),
        source=GEOMETRY,
        concerns=(),
    )


def _what_follows(deeper: float, off: float) -> str:
    """What is left to do about a pocket whose depth is off: what is not cut yet follows, and the cut stays."""
    if off < 0:
        return (
            f"set the saddles {said(-off)} lower; where they reach no further, glue a full shim of {said(deeper)} to the "
            f"pocket's floor, or let the bridge {said(-off)} into the top"
        )
    return (
        f"set the saddles {said(off)} higher; where they reach no further, rout the pocket {said(-deeper)} deeper and measure it "
        f"again, or lay {said(off)} under the bridge"
    )


def _outside_its_own_range(facts: Facts) -> Iterator[Finding]:
    bridge = facts.document.bridge
    low, high = _range(bridge)
    height = bridge.saddle_height.mm
    if not low - 1e-9 <= height <= high + 1e-9:
        limit = low if height < low else high
        yield Finding(
            code="heights.saddle-beyond-stops",
            severity="stop",
            features=(),
            concerns=facts.by_neck_and_bridge,
            value=height,
            limit=limit,
            message=f"bridge.saddle_height is {said(height)} over the body, and the saddles reach only {_reach(bridge)}",
            cure="measure all three again from the body to the string at the saddle, or set "
            + put("bridge.saddle_height", limit, bound="least" if limit == low else "most"),
            source=STATED,
        )


def _range(bridge: Bridge) -> tuple[float, float]:
    low, high = bridge.lowest, bridge.highest
    return -inf if low is None else low.mm, inf if high is None else high.mm


def _reach(bridge: Bridge) -> str:
    low, high = bridge.lowest, bridge.highest
    if low is None or high is None:
        return f"up to {said(high.mm)}" if high is not None else f"down to {said(low.mm)}" if low else ""
    return f"{low.mm:.2f} to {said(high.mm)}"


def _within_range(facts: Facts) -> Iterator[Finding]:
    """A range is stated: does it hold every string's saddle, with something in hand?"""
    bridge, limit = facts.document.bridge, facts.limit(RISE)
    low, high = _range(bridge)
    least, most = (reached(facts.document, facts.layout.stringing, way) for way in (-1, 1))
    rooms = [min(lower - low, high - upper) for lower, upper in zip(least, most, strict=True)]
    left = min(rooms)
    severity = _as_sure(facts, limit.severity(left))
    if severity is None:
        return
    number = rooms.index(left)
    string = facts.layout.strings[number]
    end = "down" if least[number] - low < high - most[number] else "up"
    height = least[number] if end == "down" else most[number]
    yield Finding(
        code="heights.saddle-out-of-range" if left < 0 else "heights.saddle-near-its-end",
        severity=severity,
        held_to=limit.level_id(severity),
        features=facts.neck_pocket,
        concerns=facts.by_the_core,
        value=left,
        limit=limit.threshold(severity),
        message=f"string {string.no} ({string.note}) wants its saddle {said(height)} over the body{_asked(facts, end)}: "
        f"{_chain(facts, height)}. The saddles reach {_reach(bridge)}, "
        + (f"{said(-left)} too little" if left < 0 else f"only {said(left)} further {end}")
        + _level(facts),
        cure=_other_pocket(facts, [*least, *most], limit.caution),
        source=GEOMETRY if left < 0 else limit.source,
    )


def _asked(facts: Facts, end: str) -> str:
    setup = facts.document.setup
    if not setup.action_spare and not setup.relief_spare:
        return ""
    return f" for the {'lowest' if end == 'down' else 'highest'} action asked for"


def reached(document: Document, stringing: Stringing, way: int) -> list[float]:
    """Each saddle's height at the lowest action and the most relief asked for, or at the highest and the least, mm.

    Args:
        document: the job.
        stringing: its strings.
        way: -1 for the lowest strings, 1 for the highest.
    """
    higher, straighter = way * document.setup.action_spare, way * document.setup.relief_spare
    found: list[float] = saddle_heights(document, stringing, higher=higher, straighter=straighter).tolist()
    return found


def _without_range(facts: Facts, wanted: list[float]) -> Iterator[Finding]:
    """No range is stated: does the one height stated fit the action stated?"""
    document, limit = facts.document, facts.limit(CLOSE)
    height, middle = document.bridge.saddle_height.mm, float(np.mean(wanted))
    severity: Severity | None = limit.severity(abs(height - middle))
    given = actions_at(document, facts.layout.stringing, height)
    treble, bass = float(given[0]), float(given[-1])
    on_frets = float(given.min()) <= 0
    if on_frets:
        severity = _as_sure(facts, "stop")
    if severity is None:
        return
    setup = document.setup
    yield Finding(
        code="heights.do-not-close",
        severity=severity,
        features=facts.neck_pocket,
        concerns=facts.by_the_core,
        value=height,
        limit=middle,
        message=f"the action stated, {setup.action_treble.mm:.2f} to {said(setup.action_bass.mm)}, wants the strings "
        f"{min(wanted):.2f} to {said(max(wanted))} over the body at the saddles, and bridge.saddle_height is {said(height)}: "
        + (
            "the strings would lie on the frets"
            if on_frets
            else f"the action would be {said(treble) if round(treble, 2) == round(bass, 2) else span(treble, bass)}"
        )
        + f" (the crowns stand {said(crowns_over_body(document))} over the body)"
        + _level(facts),
        cure=f"{_other_depth(facts, middle - height)}, or {put('bridge.saddle_height', middle)} where the saddles reach that; "
        "and state bridge.saddle_lowest and bridge.saddle_highest",
        source=GEOMETRY if on_frets else limit.source,
    )


def _as_sure(facts: Facts, severity: Severity | None) -> Severity | None:
    """A set neck may be glued in at an angle; where the job does not state it, this is no more than a caution."""
    return "caution" if severity == "stop" and _angle_is_open(facts) else severity


def _angle_is_open(facts: Facts) -> bool:
    neck = facts.document.neck
    return neck.joint == "set" and "angle" not in neck.model_fields_set


def _level(facts: Facts) -> str:
    return "; the neck is taken to lie level (neck.angle is not stated)" if _angle_is_open(facts) else ""


def _chain(facts: Facts, height: float) -> str:
    neck, wire = facts.document.neck, facts.document.fret_wire
    over = height - crowns_over_body(facts.document)
    shim = f" + shim {said(neck.shim)}" if neck.shim else ""
    if neck.runs_through:
        return (
            f"board's underside {said(neck.board_over_body.mm)} over the body + board {said(neck.board_thickness.mm)} + fret "
            f"{said(wire.crown_height)} {'+' if over >= 0 else '−'} {said(abs(over))} over the fret plane{_leaning(facts)}"
        )
    return (
        f"heel {said(neck.heel_thickness.mm)} − pocket {said(neck.pocket_depth.mm)}{shim} + fret {said(wire.crown_height)} "
        f"{'+' if over >= 0 else '−'} {said(abs(over))} over the fret plane{_leaning(facts)}"
    )


def _other_pocket(facts: Facts, wanted: list[float], in_hand: float) -> str:
    """The pocket that puts what the strings want in the middle of what the saddles reach, where that holds them all."""
    low, high = _range(facts.document.bridge)
    least, most = min(wanted), max(wanted)
    if high - low < most - least + 2 * in_hand - 1e-9:
        return f"use a bridge whose saddles reach from {no_more(least - in_hand)} to {no_less(most + in_hand)} over the body"
    if low == -inf or high == inf:
        deeper = least - (low + 2 * in_hand) if high == inf else most - (high - 2 * in_hand)
    else:
        deeper = (least + most - low - high) / 2
    others = _other_lie(facts, (least + most) / 2 - deeper)
    return f"{_other_depth(facts, deeper)}{others}, or take other saddles, or another action"


def _other_depth(facts: Facts, deeper: float) -> str:
    """How to sink the heel by so much, mm; negative: to raise it."""
    if facts.document.neck.runs_through:
        return _other_core(facts, deeper)
    depth = facts.document.neck.pocket_depth.mm + deeper
    if deeper < 0 and feature_id(NECK_POCKET) in facts.record.made_cuts:
        return f"glue a full shim of {said(-deeper)} to the pocket's floor"
    if pocket_as_read(facts.record) is not None:
        return f"rout the pocket {no_less(deeper)} deeper and measure it again"
    heel, board = facts.document.neck.heel_thickness.mm, facts.document.neck.board_thickness.mm
    if deeper > 0 and depth > heel - board + 1e-9:
        return f"take saddles that stand {no_less(deeper)} higher"
    if deeper < 0 and depth < SHALLOWEST:
        return f"take a heel {no_less(-deeper)} thicker"
    return f"set {put('neck.pocket_depth', depth)}"


def _other_core(facts: Facts, lower: float) -> str:
    """How to bring the board of a neck that runs through nearer to the top by so much, mm; negative: further over it."""
    stands = facts.document.neck.board_over_body.mm - lower
    if stands < -LEVEL:
        return f"take saddles that stand {no_less(lower)} higher"
    return f"set {put('neck.board_over_body', max(0.0, stands))}"


LEVEL = 0.005
"""What lies lower than the top by less than this is told as level with it, mm."""


def _other_lie(facts: Facts, saddle: float) -> str:
    """How else the neck could lie for the saddles to hold their strings about a height over the body, mm."""
    links = chain(facts.document, facts.layout.stringing, saddle)
    angle = links.closed("neck.angle")
    shim = links.closed("neck.shim") if facts.document.neck.joint == "bolt-on" else None
    planed = "a core planed" if facts.document.neck.runs_through else "a pocket's floor"
    found = ""
    if angle is not None and LEAST_LEAN <= degrees(angle) <= MOST_LEAN:
        found += f", or {put_number('neck.angle', degrees(angle))} for {planed} at that angle"
    if shim is not None and LEAST_SHIM <= shim <= MOST_SHIM:
        found += f", or {put('neck.shim', shim)} for a taper shim under the whole heel, thick at its end"
    return found


def board_over_body(facts: Facts) -> Iterator[Finding]:
    """Does the fingerboard clear the body's top, and does it end over wood?"""
    import shapely

    document, layout = facts.document, facts.layout
    neck, limit = document.neck, facts.limit(BOARD)
    over = under_board(facts.document)
    # A board on a core lies on wood, at whatever height: findings/core.py.
    if (severity := limit.severity(over)) and not neck.runs_through:
        yield Finding(
            code="board.below-top",
            severity=severity,
            held_to=limit.level_id(severity),
            features=(feature_id(NECK_POCKET),),
            value=over,
            limit=limit.threshold(severity),
            message=f"the fingerboard's underside lies {said(abs(over))} {'below' if over < 0 else 'over'} the body's top: "
            f"heel {said(neck.heel_thickness.mm)} − pocket {said(neck.pocket_depth.mm)} − board "
            f"{said(neck.board_thickness.mm)}{_leaning(facts)}",
            cure=_other_depth(facts, over - limit.caution),
            source=GEOMETRY if over < 0 else limit.source,
        )
    treble, bass = layout.board_ends
    far = max(treble.x, bass.x)
    if far <= document.neck_end + 1e-9:
        return
    frets, half = layout.frets[0], document.fingerboard.width_at_end
    board = polygon(Ring((frets.bass, bass, treble, frets.treble)))
    beyond = board.intersection(shapely.box(document.neck_end, -half, far, half))
    for pocket in facts.features.pockets:
        if pocket.face != "top" or pocket.role == NECK_POCKET:
            continue
        under = polygon(pocket.outline, pocket.islands).intersection(beyond)
        if under.area < 1.0:
            continue
        low, _, high, _ = shapely.bounds(under).tolist()
        yield Finding(
            code="board.over-cavity",
            severity="caution",
            features=(pocket.id,),
            value=high - low,
            limit=0.0,
            message=f"the fingerboard ends {said(high - low)} over the {pocket.in_words}: it closes that much of it, and hangs "
            "without wood under it",
            cure=f"move the {pocket.in_words} {no_less(layout.board_end - low)} towards the bridge, or end the board at "
            f"{no_more(low)} from the nut",
            source=COMMON_PRACTICE,
        )


def under_board(document: Document) -> float:
    """The board's underside over the top under the bridge where it is nearest: over the end wall, or at the board's end, mm."""
    lie = neck_lie(document)
    under = -(document.fret_wire.crown_height + document.neck.board_thickness.mm)
    ends = lie.height(np.array([document.neck_end, document.fingerboard.end]), under)
    return float(ends.min())


def _leaning(facts: Facts) -> str:
    lie = neck_lie(facts.document)
    return "" if lie.is_level else f", the neck leaning back {degrees(lie.angle):.2f}°"
