"""The height card: what to measure before the neck pocket is routed, what is expected, and what closes the chain.

It stands among the sheets behind the elevation, whose letters it uses, and not among the step cards: it is filled in over weeks,
from the neck's arrival to the first strings, and no single operation owns it.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import radians

from scribeline.drawing.sheet import LEAST_LETTERING
from scribeline.drawing.sheets.figures import Cell, both_named, signed
from scribeline.drawing.sheets.flow import Block, Table, beside, flowed, listed, noticed, together, words
from scribeline.drawing.sheets.office import Page
from scribeline.findings import TAGS
from scribeline.job import feature_id
from scribeline.layout import (
    CORE,
    NECK_POCKET,
    Point,
    Unknown,
    board_over,
    core_widths,
    crowns_over_body,
    depth_before,
)
from scribeline.lengths import give_or_take, in_unit, said
from scribeline.plan import Plan
from scribeline.plan.heights import Heights, Way

LETTERS = {
    "heel": "A",
    "board": "B",
    "crown": "C",
    "pocket": "D",
    "board over": "E",
    "crowns over": "F",
    "straightedge": "G",
    "lowest": "H",
    "highest": "J",
    "body": "K",
}
"""What each height is called on the elevation and on the card."""


def height_card(plan: Plan, found: Heights) -> list[Page]:
    """What to measure before the pocket is routed, with what is expected and room for what was read; and what it says."""
    before = "the core is planed" if plan.job.document.neck.runs_through else "the neck pocket is routed"
    state = (
        f"Measure before {before}, and write it down. Ring the state of the neck: fretted yes / no, "
        "finished yes / no, strung to pitch yes / no. Heights count from the top under the bridge."
    )
    rows = [
        (LETTERS[name], what, "" if mm is None else signed(mm, plan.unit), _SIDES if name == "pocket" else "")
        for name, what, mm in _readings(plan, found)
    ]
    table = Table(
        ("", "Measure", f"Expected, {both_named(plan.unit)}", "Measured"),
        rows,
        (8, 120, 44, 80),
        ("start", "start", "end", "start"),
    )
    below = beside([together(*_unknown(plan, found)), _sensitivity(plan, found)], shares=(1.0, 1.1))
    return flowed("Height card", [words(state), listed("", table), together(below)])


_SIDES = "treble                  bass"
"""Where both sides of the pocket are read."""


def _readings(plan: Plan, found: Heights) -> Iterator[tuple[str, str, float | None]]:
    """What is measured: its name in `LETTERS`, how, and what is expected, mm."""
    document, body = plan.job.document, plan.layout.body
    neck = document.neck
    if neck.runs_through:
        yield from _over_the_core(plan)
        yield from _at_the_saddles(found)
        return
    heel, depth = neck.heel_thickness.mm, neck.pocket_depth.mm
    yield "heel", "heel with its board, at the heel's end", heel
    yield "heel", "the same where the pocket's mouth comes", heel
    yield "board", "fingerboard in that, at the heel", neck.board_thickness.mm
    yield "crown", "a fret's crown over the board", document.fret_wire.crown_height
    beside_pocket = Point(neck.pocket_end, neck.heel_width_at_end.mm / 2 + 3.0)
    yield (
        "body",
        "body beside the pocket, at its end wall",
        plan.layout.thickness + body.top_at(beside_pocket),
    )
    yield "body", "body under the bridge", plan.layout.thickness
    yield "pocket", "pocket's floor below the top, at its end wall", depth
    yield "pocket", "the same at the pocket's mouth", depth_before(depth, neck.pocket_length, neck.angle)
    yield from _at_the_saddles(found)


def _over_the_core(plan: Plan) -> Iterator[tuple[str, str, float | None]]:
    """What is measured of a neck that runs through the body."""
    document, layout = plan.job.document, plan.layout
    neck, end, edge = document.neck, layout.board_end, layout.neck_edge
    yield "board", "fingerboard, at its end", neck.board_thickness.mm
    yield "crown", "a fret's crown over the board", document.fret_wire.crown_height
    yield "board over", "board's underside over the body's top, at the board's end", neck.board_over_body.mm
    yield "board over", "the same at the body's neck edge; a minus lies below", board_over(document, edge)
    yield "crowns over", "a fret's crown over the body's top, at the board's end", crowns_over_body(document)
    beside = Point(end, core_widths(neck)[0] / 2 + 3.0)
    yield "body", "wing beside the core, at the board's end", layout.thickness + layout.body.top_at(beside)
    yield "body", "body under the bridge", layout.thickness


def _at_the_saddles(found: Heights) -> Iterator[tuple[str, str, float | None]]:
    """What is measured at the bridge."""
    yield "straightedge", "straightedge on the frets, over the body at the saddles", found.gap
    yield "lowest", "string over the body with its saddle all the way down", found.lowest
    yield "highest", "string over the body with its saddle all the way up", found.highest


def _unknown(plan: Plan, found: Heights) -> Iterator[Block]:
    """The number that closes the chain, in a box, and what to set next."""
    way = _open(plan, found)
    value = signed(way.value, plan.unit) if way.value is not None else "none"
    doubt = in_unit(give_or_take(2 * way.sd), plan.unit)
    columns = (f"The unknown: {way.words}", "how surely", "the job says")
    row: tuple[Cell, ...] = (value, doubt, signed(way.now, plan.unit))
    yield listed("", Table(columns, [row], (50, 30, 40), ("end", "end", "end"), below=True))
    yield words(
        "It puts the strings in the middle of what the saddles reach, the rest as it is; ± is two standard deviations.",
        height=LEAST_LETTERING,
    )
    if found.lie.is_level and way.key in {"neck.pocket_depth", "neck.board_over_body"}:
        over = said(found.saddle + found.off - found.crowns)
        half = "half of (H ______ + J ______)"
        by_hand = f"By hand: D = A ______ + C ______ + {over} − {half} = ______"
        if way.key == "neck.board_over_body":
            by_hand = f"By hand: E = {half} − B ______ − C ______ − {over} = ______"
        yield words(in_unit(by_hand, plan.unit))
    yield from _next(plan, found)


def _open(plan: Plan, found: Heights) -> Way:
    """What is still open: the pocket's depth until it is routed, then a shim, else the saddles; or the core till it is planed."""
    if plan.job.document.neck.runs_through:
        done = {each.card for each in plan.record.done} | {each.card for each in plan.record.readings}
        return found.way("bridge.saddle_height" if CORE in done else "neck.board_over_body")
    if feature_id(NECK_POCKET) not in plan.record.made_cuts:
        return found.way("neck.pocket_depth")
    shim = found.way("neck.shim")
    return found.way("bridge.saddle_height") if shim.value is None else shim


def _next(plan: Plan, found: Heights) -> Iterator[Block]:
    """What the checks of heights say, or that there is nothing to change."""
    wrong = [each for each in plan.findings if each.code.startswith("heights.")]
    for each in wrong:
        yield noticed(TAGS[each.severity], in_unit(f"Next: {each.cure}.", plan.unit))
    if not wrong:
        down, up = (
            min(rooms) for rooms in zip(*((e.down or 0.0, e.up or 0.0) for e in found.strings), strict=True)
        )
        work = "plane the core" if plan.job.document.neck.runs_through else "rout"
        left = (
            f" Every saddle keeps {said(down)} down and {said(up)} up."
            if found.lowest and found.highest
            else ""
        )
        yield words(
            in_unit(
                f"Next: {work} as the job says.{left} What you measure otherwise, state in the job and plan again.",
                plan.unit,
            )
        )


def _sensitivity(plan: Plan, found: Heights) -> Block:
    """What one number does to the strings at the saddles, in steps a bench knows."""
    half, tenth, turn = 0.5, 0.1, radians(0.1)
    pocket: tuple[tuple[str, Unknown, float], ...] = (
        (f"pocket {said(half)} deeper", "neck.pocket_depth", half),
        (f"heel {said(half)} thicker", "neck.board_thickness", half),
        ("lean of the neck 0.1° more", "neck.angle", turn),
        (f"taper shim {said(tenth)} thicker", "neck.shim", tenth),
    )
    core: tuple[tuple[str, Unknown, float], ...] = (
        (f"board {said(half)} further over the body", "neck.board_over_body", half),
        (f"board {said(half)} thicker", "neck.board_thickness", half),
        ("lean of the neck 0.1° more", "neck.angle", turn),
    )
    ways = core if plan.job.document.neck.runs_through else pocket
    steps: tuple[tuple[str, float], ...] = (
        *((what, found.way(key).rate * by) for what, key, by in ways),
        (f"action {said(tenth)} higher", found.action_rate * tenth),
        (f"relief {said(tenth)} more", found.relief_rate * tenth),
    )
    rows = [
        (in_unit(what, plan.unit), signed(abs(by), plan.unit), "higher" if by > 0 else "lower")
        for what, by in steps
    ]
    return listed(
        "",
        Table(
            ("With this", "saddles wanted", ""),
            rows,
            (70, 40, 20),
            ("start", "end", "start"),
        ),
    )
