"""The heights of a plan as they are told: every string at its saddle, what closes the chain, the strings over the pickups.

The command, the sheets, the app's page and plan.json all say what stands here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import hypot, radians

import numpy as np

from scribeline.layout import (
    NECK_POCKET,
    Chain,
    Lie,
    Unknown,
    chain,
    crowns_over_body,
    neck_lie,
    saddle_heights,
    string_lines,
    string_over,
    under_straightedge,
)
from scribeline.layout.named import name_layout
from scribeline.plan.whole import Plan
from scribeline.quantities import Quantities, Quantity

WAYS: tuple[tuple[Unknown, str], ...] = (
    ("neck.pocket_depth", "pocket depth at the end wall"),
    ("neck.board_over_body", "board's underside over the body"),
    ("neck.angle", "lean of the neck"),
    ("neck.shim", "taper shim at the heel's end"),
    ("neck.board_thickness", "fingerboard's thickness"),
    ("bridge.saddle_height", "string over the body at the saddle"),
)
"""What closes the chain, in words; the fingerboard's thickness counts in the heel's, where there is one."""

_OF_A_POCKET: frozenset[Unknown] = frozenset({"neck.pocket_depth", "neck.shim"})
_OF_A_CORE: frozenset[Unknown] = frozenset({"neck.board_over_body"})


def ways_for(*, runs_through: bool) -> tuple[tuple[Unknown, str], ...]:
    """The ways that a neck in a pocket has, or one that runs through the body."""
    without = _OF_A_POCKET if runs_through else _OF_A_CORE
    return tuple(way for way in WAYS if way[0] not in without)


@dataclass(frozen=True, slots=True)
class StringHeight:
    """One string at its saddle, heights over the body, mm.

    Attributes:
        no: from the treble.
        note: what it is tuned to.
        wanted: for the action and relief stated.
        sd: standard deviation of that.
        least: at the lowest action and the most relief asked for.
        most: at the highest action and the least relief asked for.
        down: how far its saddle can still go down; None where no lowest height is stated.
        up: and up.
        line: the open string's line in the plane of the centreline, from the nut to its saddle: each along the body from
            where a level neck's nut would be, and over its top.
    """

    no: int
    note: str
    wanted: float
    sd: float
    least: float
    most: float
    down: float | None
    up: float | None
    line: tuple[tuple[float, float], tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Way:
    """One number that would close the chain if the rest stayed; mm, an angle in rad.

    Attributes:
        key: of the job.
        words: what it is.
        now: as stated.
        value: what it would have to be; None where it cannot close the chain.
        sd: standard deviation of `value`, from what is measured.
        rate: by how much the strings rise for each mm, or rad, of it.
    """

    key: Unknown
    words: str
    now: float
    value: float | None
    sd: float
    rate: float


@dataclass(frozen=True, slots=True)
class OverPickup:
    """The strings over the body's top at a cavity under all of them, mm, treble first.

    Attributes:
        name: of the cavity.
        open: undersides of the open strings.
        pressed: the same with every string pressed at the last fret.
    """

    name: str
    open: tuple[float, ...]
    pressed: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Heights:
    """What a plan's heights come to, mm.

    Attributes:
        lie: how the neck lies in its body.
        crowns: the frets' crowns over the body, above the pocket's end wall, or at the end of the board on a core.
        board: the fingerboard's underside over the body there.
        gap: the crowns' plane over the body at the scale line: what is under a straightedge laid on the frets.
        lowest: what the saddles reach down to; None where that is not stated.
        highest: and up to.
        saddle: where the strings' middle should lie at the saddles.
        off: by how much it lies higher.
        strings: each at its saddle.
        ways: what would close the chain, one at a time.
        pickups: the strings over them.
        action_rate: by how much the strings rise at their saddles for each mm of action.
        relief_rate: for each mm of relief; below 0.
    """

    lie: Lie
    crowns: float
    board: float
    gap: float
    lowest: float | None
    highest: float | None
    saddle: float
    off: float
    strings: tuple[StringHeight, ...]
    ways: tuple[Way, ...]
    pickups: tuple[OverPickup, ...]
    action_rate: float
    relief_rate: float

    def way(self, key: Unknown) -> Way:
        """The one of this key."""
        return next(each for each in self.ways if each.key == key)


def heights(plan: Plan, *, at: float | None = None) -> Heights | None:
    """What a plan's heights come to; None where its strings have no place.

    Args:
        plan: the job's plan.
        at: height over the body, mm, that the saddles should have in the middle; the middle of their range when left out.
    """
    document, stringing = plan.job.document, plan.layout.stringing
    if not stringing.is_placed:
        return None
    named = Quantities()
    name_layout(named, plan.job, plan.record, plan.layout)
    links = chain(document, stringing, named["heights.saddle"].value if at is None else at)
    lie, bridge = neck_lie(document), document.bridge
    doubt = "heights.off" if at is None else "heights.middle"
    under_board = -(document.fret_wire.crown_height + document.neck.board_thickness.mm)
    return Heights(
        lie=lie,
        crowns=crowns_over_body(document),
        board=float(lie.height(lie.end, under_board)),
        gap=under_straightedge(lie, plan.layout.scale),
        lowest=None if bridge.lowest is None else bridge.lowest.mm,
        highest=None if bridge.highest is None else bridge.highest.mm,
        saddle=links.saddle,
        off=links.off,
        strings=tuple(_strings(plan, named)),
        ways=tuple(
            _way(links, key, words, named[doubt])
            for key, words in ways_for(runs_through=document.neck.runs_through)
        ),
        pickups=tuple(_pickups(plan, lie)),
        action_rate=_risen(plan, higher=1.0),
        relief_rate=_risen(plan, straighter=-1.0),
    )


def _risen(plan: Plan, *, higher: float = 0.0, straighter: float = 0.0) -> float:
    """How far the strings rise at their saddles, the middle of all, for another action or relief; see `saddle_heights`."""
    document, stringing = plan.job.document, plan.layout.stringing
    moved = saddle_heights(document, stringing, higher=higher, straighter=straighter)
    return float(np.mean(moved - saddle_heights(document, stringing)))


def _strings(plan: Plan, named: Quantities) -> Iterator[StringHeight]:
    document, stringing = plan.job.document, plan.layout.stringing
    action, relief = document.setup.action_spare, document.setup.relief_spare
    wanted = saddle_heights(document, stringing).tolist()
    least = saddle_heights(document, stringing, higher=-action, straighter=-relief).tolist()
    most = saddle_heights(document, stringing, higher=action, straighter=relief).tolist()
    low, high = document.bridge.lowest, document.bridge.highest
    lines = string_lines(document, stringing)
    for n, string in enumerate(plan.layout.strings):
        yield StringHeight(
            string.no,
            string.note,
            wanted[n],
            named[f"string-{string.no}.saddle-height"].sd,
            least[n],
            most[n],
            None if low is None else wanted[n] - low.mm,
            None if high is None else high.mm - wanted[n],
            lines[n],
        )


def _way(links: Chain, key: Unknown, words: str, off: Quantity) -> Way:
    now = _stated(links, key)
    rate = (_moved(links, key, _STEP).off - _moved(links, key, -_STEP).off) / (2 * _STEP)
    others = hypot(*(adds for root, adds in off.spread.items() if not root.startswith(key)))
    if key == "bridge.saddle_height":
        others = hypot(*(adds for root, adds in off.spread.items() if not root.startswith("bridge.saddle_")))
    return Way(key, words, now, links.closed(key), others / abs(rate), rate)


_STEP = radians(0.01)
"""Of the differences by which a rate is found: mm, or rad."""


def _stated(links: Chain, key: Unknown) -> float:
    return {
        "neck.pocket_depth": links.depth,
        "neck.board_over_body": -links.depth,
        "neck.angle": links.floor,
        "neck.shim": links.shim,
        "neck.board_thickness": links.board,
        "bridge.saddle_height": links.saddle,
    }[key]


def _moved(links: Chain, key: Unknown, by: float) -> Chain:
    """The chain with one of it greater by so much."""
    match key:
        case "neck.pocket_depth":
            return replace(links, depth=links.depth + by)
        case "neck.board_over_body":
            return replace(links, depth=links.depth - by)
        case "neck.angle":
            return replace(links, floor=links.floor + by)
        case "neck.shim":
            return replace(links, shim=links.shim + by)
        case "neck.board_thickness":
            return replace(links, board=links.board + by, stack=links.stack + by)
        case "bridge.saddle_height":
            return replace(links, saddle=links.saddle + by)


def _pickups(plan: Plan, lie: Lie) -> Iterator[OverPickup]:
    """Cavities in the top under all the strings, between the last fret and the saddles."""
    layout = plan.layout
    last, outer = layout.frets[-1].x, max(abs(string.saddle.y) for string in layout.strings)
    for pocket in plan.features.pockets:
        xs, ys = [p.x for p in pocket.outline], [p.y for p in pocket.outline]
        middle = float(lie.along((min(xs) + max(xs)) / 2))
        under_all = pocket.face == "top" and min(ys) < -outer and max(ys) > outer
        if under_all and pocket.role != NECK_POCKET and last < middle < layout.scale:
            free, pressed = np.asarray(string_over(plan.job.document, layout.stringing, middle)).tolist()
            yield OverPickup(pocket.role, tuple(free), tuple(pressed))
