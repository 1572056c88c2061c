"""Rules for a bridge on two posts: how its strings break and clear its edge, its saddles' arch, what lifts its tailpiece."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import degrees, radians

import numpy as np

from scribeline.findings.finding import Facts, Finding, Limit
from scribeline.job.bridges.posts import BridgeOnPosts
from scribeline.layout import Point, saddle_heights
from scribeline.layout.bridges.posts import (
    MODEL_SOURCE,
    Break,
    Tailpiece,
    breaks,
    saddle_rises,
    tail_load,
    with_end,
)
from scribeline.lengths import no_less, put, said

FLAT = Limit.of("string_break_flat")
STEEP = Limit.of("string_break_steep")
THROUGH = Limit.of("string_break_through")
EDGE = Limit.of("string_over_edge")
ARCH = Limit.of("saddle_arch")


def breaks_over_saddles(facts: Facts) -> Iterator[Finding]:
    """Do the strings break over the saddles neither too flat nor too steep?"""
    runs, tail = _runs(facts)
    if not runs:
        return
    angles = [degrees(each.angle) for each in runs]
    steep = facts.limit(THROUGH if tail is None else STEEP)
    for limit, worst, word in (
        (facts.limit(FLAT), min(angles), "flat"),
        (steep, max(angles), "steep"),
    ):
        severity = limit.severity(worst)
        if severity is None:
            continue
        number = angles.index(worst)
        string, run = facts.layout.strings[number], runs[number]
        yield Finding(
            code=f"posts.break-{word}",
            severity=severity,
            held_to=limit.level_id(severity),
            of=f"string-{string.no}.break",
            features=_ends(facts),
            value=worst,
            limit=limit.threshold(severity),
            message=f"string {string.no} ({string.note}) breaks by {worst:.1f}° over its saddle: {degrees(run.front):.1f}° to "
            f"the nut and {degrees(run.rear):.1f}° to {_end(tail)}, {said(run.saddle - run.end)} lower over {said(run.gap)}",
            cure=_other_break(facts, run, tail, limit),
            source=limit.source,
        )


def _runs(facts: Facts) -> tuple[tuple[Break, ...], Tailpiece | None]:
    if not isinstance(facts.document.bridge, BridgeOnPosts):
        return (), None
    return breaks(facts.document, facts.layout)


def _ends(facts: Facts) -> tuple[str, ...]:
    """The holes of what the strings end in."""
    return tuple(bore.id for bore in facts.features.family("tailpiece-stud", "string-hole"))


def _end(tail: Tailpiece | None) -> str:
    return (
        "the body"
        if tail is None
        else f"the tailpiece, which holds it {said(tail.set_to)} over the top at its studs"
    )


def _other_break(facts: Facts, run: Break, tail: Tailpiece | None, limit: Limit) -> str:
    """What takes the worst string just to its limit: another place of its end, or another height."""
    rear = radians(limit.caution) - run.front
    flat = limit.worse == "below"
    if rear <= 0:
        return "let the saddles stand higher over the tailpiece, or the neck lean back less"
    bridge, key = facts.document.bridge, "bridge.tailpiece_behind"
    stated = bridge.string_row if tail is None else getattr(bridge, "tailpiece_behind", None)
    assert stated is not None
    if tail is None:
        key = bridge.string_row_key
    further = stated.mm + _further(facts, run, tail, rear)
    found = f"set {put(key, further, bound='most' if flat else 'least')}"
    if tail is not None:
        height = run.saddle - run.gap * float(np.tan(rear)) - tail.top
        found += f"; or use studs that let the strings leave it {said(height)} over the body"
        if facts.document.bridge.model_fields_set & {"break_angle"}:
            found += "; or ask for another bridge.break_angle"
    return found


def _further(facts: Facts, run: Break, tail: Tailpiece | None, rear: float) -> float:
    """How much further back a string must end to fall so steeply behind its saddle, mm: the top may fall off on the way."""
    layout, steepness = facts.layout, float(np.tan(rear))
    assert layout.bridge is not None
    ends = (
        layout.bridge.string_ends if tail is None else [each.at for each in layout.bridge.further[0].anchors]
    )
    over, moved = 0.0 if tail is None else tail.set_to, 0.0
    for _ in range(30):
        top = sum(layout.top_at(Point(at.x + moved, at.y)) for at in ends) / len(ends)
        moved = (run.saddle - top - over) / steepness - run.gap
    return moved


def strings_over_the_edge(facts: Facts) -> Iterator[Finding]:
    """Do the strings clear the bridge's rear edge?"""
    (runs, tail), limit = _runs(facts), facts.limit(EDGE)
    if not runs:
        return
    clear = [each.clear for each in runs]
    worst = min(clear)
    severity, number = limit.severity(worst), clear.index(worst)
    if severity is None:
        return
    string, run = facts.layout.strings[number], runs[number]
    raised = None if tail is None else _clearing(runs, limit.caution) - tail.top
    if tail is not None and raised is not None and raised <= tail.high:
        severity = "caution"
    yield Finding(
        code="posts.on-rear-edge" if worst < 0 else "posts.near-rear-edge",
        severity=severity,
        held_to=limit.level_id("stop" if worst < 0 else "caution"),
        of=f"string-{string.no}.over-edge",
        features=_ends(facts),
        value=worst,
        limit=limit.threshold("stop" if worst < 0 else "caution"),
        message=f"string {string.no} ({string.note}) falls by {degrees(run.rear):.1f}° from its saddle to {_end(tail)}, and "
        + (
            f"lies on the bridge's rear edge, {said(-worst)} too low"
            if worst < 0
            else "clears the bridge's rear edge by "
        )
        + ("" if worst < 0 else f"only {said(worst)}"),
        cure=_over_the_edge(facts, runs, tail, raised, limit),
        source=limit.source,
    )


def _clearing(runs: Sequence[Break], wanted: float) -> float:
    """The least height of the strings' ends, mm over the body, with which all clear the edge by so much."""
    return max(
        run.saddle - run.gap * (run.edge_below - wanted) / run.to_edge for run in runs if run.to_edge > 0
    )


def _over_the_edge(
    facts: Facts, runs: Sequence[Break], tail: Tailpiece | None, raised: float | None, limit: Limit
) -> str:
    if tail is None or raised is None:
        further = max(
            run.to_edge * (run.saddle - run.end) / max(run.edge_below - limit.caution, 0.01) - run.gap
            for run in runs
        )
        row = facts.document.bridge.string_row
        assert row is not None
        return f"set {put(facts.document.bridge.string_row_key, row.mm + further, bound='least')} or more"
    lowest = min(degrees(each.angle) for each in with_end(runs, raised + tail.top))
    words = f"raise the tailpiece until the strings leave it {no_less(raised)} over the body, for a break of {lowest:.1f}°"
    return (
        words if raised <= tail.high else f"use studs that let you {words}; or put the tailpiece further back"
    )


def saddles_arch(facts: Facts) -> Iterator[Finding]:
    """How far off the heights that the board asks for does the saddles' own arch leave the strings?"""
    bridge, board, stringing = facts.document.bridge, facts.document.fingerboard, facts.layout.stringing
    if not isinstance(bridge, BridgeOnPosts) or bridge.saddle_radius is None or board.radius is None:
        return
    if not stringing.is_placed or len(facts.layout.strings) < 3:
        return
    limit = facts.limit(ARCH)
    off = _left_by_arch(facts)
    worst = max(off, key=abs)
    severity = limit.severity(abs(worst))
    strings = facts.layout.strings
    each = ", ".join(f"{string.no} {said(mm, signed=True)}" for string, mm in zip(strings, off, strict=True))
    number = off.index(worst)
    yield Finding(
        code="posts.arch",
        severity=severity or "note",
        held_to=limit.level_id(severity) if severity else "",
        features=(),
        concerns=(),
        value=abs(worst),
        limit=limit.threshold(severity) if severity else None,
        message=f"with both outer strings at their action, the saddles' arch of {said(bridge.saddle_radius.mm, 0)} leaves the "
        f"strings this far off the heights that theirs asks for: {each}",
        cure="nothing: so little is taken up by the depth of the notches"
        if severity is None
        else f"file the notch of string {strings[number].no} deeper, by {said(abs(worst))}, and of the others that stand high"
        if worst > 0
        else f"raise the outer strings until string {strings[number].no} has its action, and file their notches",
        source=limit.source,
    )


def _left_by_arch(facts: Facts) -> list[float]:
    """Each string over the height its action asks for, mm, the outer ones set right by the thumb wheels."""
    wanted = saddle_heights(facts.document, facts.layout.stringing)
    over = np.array(saddle_rises(facts.document)) - wanted
    share = np.linspace(0.0, 1.0, len(over))
    return [float(each) for each in over - (over[0] + share * (over[-1] - over[0]))]


def tailpiece_lifted(facts: Facts) -> Iterator[Finding]:
    """What pulls the tailpiece's bushings out of the wood?"""
    if not isinstance(facts.document.bridge, BridgeOnPosts):
        return
    load = tail_load(facts.document, facts.layout)
    if load is None or load.up <= 0:
        return
    studs = tuple(bore.id for bore in facts.features.family("tailpiece-stud"))
    yield Finding(
        code="posts.tailpiece-lifted",
        severity="note",
        features=studs,
        value=load.up,
        limit=None,
        message=f"estimate: the strings lift the tailpiece with {load.up:.0f} N, {load.up / 2:.0f} N a stud, and pull it to the "
        f"nut with {load.forward:.0f} N; only the bushings' press holds the lift, and no handbook says how much it bears",
        cure="keep to the press that the scrap test showed, and let a finish cure before the bushings go in",
        source=MODEL_SOURCE,
    )
