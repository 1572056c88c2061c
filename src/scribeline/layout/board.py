"""The fingerboard where it is made here: how deep its slots are sawn in the flat blank, its fret wire, its dots.

An arched board is slotted flat and arched after. Its edges are planed down most, by R − √(R² − (W/2)²), so the slots are sawn
that much deeper, and by what the blank is thicker than the finished board; then the tang still finds its slot at the edge.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from scribeline.job import Document
from scribeline.layout.fan import at_across, board_end_slope, fret_lines, half_board, strings_across
from scribeline.layout.frets import board_narrows, board_width
from scribeline.layout.heights import Lie, crowns_sunk, neck_lie
from scribeline.layout.instrument import Layout
from scribeline.layout.paths import path_y
from scribeline.layout.points import Point
from scribeline.quantities import atan2, cos, hypot

UNDER_TANG = 0.3
"""Slot left under a fret's tang, mm (common practice, no source: 0.2 to 0.4)."""

PAIR = 3.0
"""How far two side dots of one fret stand apart, by their diameter (common practice, no source)."""

WIRE_SPARE = 0.1
"""Share of fret wire bought over what is cut (common practice, no source)."""


TANG_SHORT = 0.5
"""What a fret's tang is nipped back beyond the binding's inside, mm, so that it does not push it off (common practice, no
source)."""


@dataclass(frozen=True, slots=True)
class Slot:
    """One fret's slot in the flat blank.

    Attributes:
        fret: its number; 0 of a zero fret.
        depth: below the blank's face, that is deep enough at the slot's own ends, mm.
        drop: the board's face at the lower of its ends below the middle's, mm.
        length: from end to end: the board's edges, the binding's insides, or where a part fret ends, mm.
        fret_length: of the fret itself, over the binding to the board's edges, mm.
        wire: to cut for it, mm.
        ends: of the slot, on its treble side and on its bass side.
        whole: whether it runs right across.
        middle: where its line crosses the centreline, along the neck from where the nut's does, mm.
        stop: the same of the saw's side towards the nut: what a slotting jig is set to.
        turn: how far the blank is turned under the saw, rad: positive where the slot's treble end lies nearer to the tail.
    """

    fret: int
    depth: float
    drop: float
    length: float
    fret_length: float
    wire: float
    ends: tuple[Point, Point]
    whole: bool
    middle: float
    stop: float
    turn: float


@dataclass(frozen=True, slots=True)
class BoardMade:
    """A fingerboard that is made here, from a flat blank.

    Attributes:
        slots: one a fret that it has, a zero fret's first.
        depth: of all slots sawn at one setting, below the blank's face: the deepest one's, mm.
        left: what is left of the board under slots so deep, mm.
        planed: what comes off the blank over the middle, mm.
        wire: to buy, with some to spare, mm.
        sticks: of wire to buy, each as long as it is sold, no fret in two pieces; None where that length is not stated.
        dots: their centres seen from the front, mm, each with its fret's number.
        dot_diameter: mm.
        side_dots: places on the bass edge, mm, each with its fret's number; none where the job states no diameter for them.
        binding: its width, mm; 0 of a board without one.
        widths: of the blank at the nut and at its end, mm: the board's, less both bindings.
        binding_length: of it to buy, with some to spare, mm.
        edges: the board's edge along both sides, from the nut's line to its end, treble first.
        inside: the blank's, inside the binding; the same where it has none.
    """

    slots: tuple[Slot, ...]
    depth: float
    left: float
    planed: float
    wire: float
    sticks: int | None
    dots: tuple[tuple[int, Point], ...]
    dot_diameter: float
    side_dots: tuple[tuple[int, Point], ...]
    binding: float
    widths: tuple[float, float]
    binding_length: float
    edges: tuple[tuple[Point, Point], tuple[Point, Point]]
    inside: tuple[tuple[Point, Point], tuple[Point, Point]]


def slot_depth(planed: float, drop: float, tang: float, under: float) -> float:
    """How deep a slot is sawn below a flat blank's face, mm.

    Args:
        planed: what comes off over the middle, mm.
        drop: the arch's edge below its middle, mm.
        tang: height of the fret's tang, mm.
        under: slot left under it, mm.
    """
    return planed + drop + tang + under


def saw_stop(middle: float, kerf: float, turn: float) -> float:
    """From the nut's line to the saw's side towards the nut, along the centreline, mm: half a kerf short of the slot's middle.

    Args:
        middle: where the slot's line crosses the centreline, from the nut's line, mm.
        kerf: of the saw, mm.
        turn: how far the blank is turned under the saw, rad.
    """
    stop: float = middle - kerf / 2 / cos(turn)
    return stop


def to_plane(blank: float, board: float) -> float:
    """What comes off a blank over the middle, mm."""
    return blank - board


def under_slots(blank: float, depth: float) -> float:
    """What is left of a board under a slot, mm."""
    return blank - depth


def between_frets(before: float, fret: float) -> float:
    """Where a dot lies: midway between its fret and the one before, mm."""
    return (before + fret) / 2


def tang_room(slot: float, tang: float) -> float:
    """How much wider than a fret's tang its slot is, mm; a minus wedges the board open."""
    return slot - tang


def sticks(frets: Sequence[float], stick: float) -> int:
    """How many sticks give all frets in one piece each: the longest first, each off the first stick that has enough left.

    That is never more than 11/9 of the fewest and one (the bound of first-fit decreasing, from memory). A fret longer than a
    stick counts as one.

    Args:
        frets: to cut, mm.
        stick: as it is sold, mm.
    """
    left: list[float] = []
    for fret in sorted(frets, reverse=True):
        own = next((n for n, rest in enumerate(left) if rest >= fret), None)
        if own is None:
            left.append(stick - fret)
        else:
            left[own] -= fret
    return len(left)


def blank_width(board: float, binding: float) -> float:
    """Width of the blank between two bindings, mm."""
    return board - 2 * binding


def edge_length(nut_width: float, end: float, end_width: float) -> float:
    """Length of one edge of a straight-tapered board, mm."""
    return hypot(end, (end_width - nut_width) / 2)


def board_made(document: Document, layout: Layout) -> BoardMade | None:
    """How the job's fingerboard is made; None where the job does not state a blank for it."""
    board = document.fingerboard
    if board.blank_thickness is None:
        return None
    planed = to_plane(board.blank_thickness, document.neck.board_thickness.mm)
    slots = tuple(_slots(document, layout, planed))
    depth, binding = max(slot.depth for slot in slots), board.binding or 0.0
    spare = 1 + WIRE_SPARE
    return BoardMade(
        slots=slots,
        depth=depth,
        left=under_slots(board.blank_thickness, depth),
        planed=planed,
        wire=spare * sum(slot.wire for slot in slots),
        sticks=None
        if document.fret_wire.stick is None
        else sticks([slot.wire for slot in slots], document.fret_wire.stick),
        dots=tuple(_dots(document, layout)),
        dot_diameter=board.dot_diameter,
        side_dots=tuple(_side_dots(document, layout)),
        binding=binding,
        widths=(blank_width(document.nut.width, binding), blank_width(board.width_at_end, binding)),
        binding_length=spare * 2 * edge_length(document.nut.width, board.end, board.width_at_end)
        if binding
        else 0.0,
        edges=_edges(document, layout, 0.0),
        inside=_edges(document, layout, binding),
    )


@dataclass(frozen=True, slots=True)
class _Across:
    """Places on a line across the board: along the neck from where the centreline crosses the nut's line, and to the treble."""

    middle: float
    slope: float
    half: float
    narrows: float

    def edge(self, side: int, inset: float) -> tuple[float, float]:
        """Where it meets an edge that lies so far inside the board's."""
        across = side * half_board(self.half - inset, self.narrows, self.slope, side)
        return self.at(across)

    def at(self, across: float) -> tuple[float, float]:
        """Where it is so far from the centreline to the treble."""
        return float(at_across(self.middle, self.slope, across)), float(across)


def _slots(document: Document, layout: Layout, planed: float) -> Iterator[Slot]:
    lines, board, wire = fret_lines(document), document.fingerboard, document.fret_wire
    narrows, binding, lie = board_narrows(document) / 2, board.binding or 0.0, neck_lie(document)
    part = {each.fret: sorted(each.strings) for each in board.part_frets}
    for fret in range(0 if document.nut.zero_fret else 1, len(layout.frets) + 1):
        if fret in board.frets_left_out:
            continue
        middle, slope = float(lines.middle[fret]), float(lines.slope[fret])
        line = _Across(middle, slope, float(board_width(document, middle)) / 2, narrows)
        ends = [line.edge(side, binding) for side in (1, -1)]
        crown = [line.edge(side, 0.0) for side in (1, -1)]
        if fret in part:
            for no, across in enumerate(_stops(document, fret, part[fret])):
                if across is not None:
                    ends[no] = crown[no] = line.at(across)
        along, to_treble = (np.array(each) for each in zip(*ends, strict=True))
        drop = float(crowns_sunk(document, along, to_treble).max())
        length = _apart(*ends)
        turn = float(atan2(slope, 1.0))
        yield Slot(
            fret=fret,
            depth=slot_depth(planed, drop, wire.tang, UNDER_TANG),
            drop=drop,
            length=length,
            fret_length=_apart(*crown),
            wire=_apart(*crown) + 2 * wire.overhang,
            ends=(_placed(lie, layout, ends[0]), _placed(lie, layout, ends[1])),
            whole=fret not in part,
            middle=middle,
            stop=saw_stop(middle, wire.slot, turn),
            turn=turn,
        )


def _stops(document: Document, fret: int, strings: Sequence[int]) -> tuple[float | None, float | None]:
    """Where a part fret ends, from the centreline to the treble, mm, treble end first; None where it runs to the board's edge."""
    lines, (nut, row) = fret_lines(document), strings_across(document)
    across = path_y(lines.fret_x[:, fret - 1], nut, row, lines.scale)
    first, last = strings[0], strings[-1]
    return (
        None if first == 1 else float(across[first - 2] + across[first - 1]) / 2,
        None if last == len(across) else float(across[last - 1] + across[last]) / 2,
    )


def _edges(
    document: Document, layout: Layout, binding: float
) -> tuple[tuple[Point, Point], tuple[Point, Point]]:
    """The blank's two edges, from the nut's line to the board's end."""
    board, lie, lines = document.fingerboard, neck_lie(document), fret_lines(document)
    nut = _Across(0.0, float(lines.slope[0]), document.nut.width / 2, board_narrows(document) / 2)
    slope = board_end_slope(document, lines)
    end = _Across(board.end, slope, board.width_at_end / 2, board_narrows(document) / 2)
    treble, bass = (
        (_placed(lie, layout, nut.edge(side, binding)), _placed(lie, layout, end.edge(side, binding)))
        for side in (1, -1)
    )
    return treble, bass


def _placed(lie: Lie, layout: Layout, at: tuple[float, float]) -> Point:
    return Point(float(lie.place(at[0])), at[1] * layout.treble)


def _apart(one: tuple[float, float], other: tuple[float, float]) -> float:
    return hypot(one[0] - other[0], one[1] - other[1])


def _between(document: Document, layout: Layout, n: int) -> tuple[Point, Point]:
    """Midway between a fret and the one before, on the board's treble edge and on its bass edge."""
    frets = layout.frets
    before = (frets[n - 2].treble, frets[n - 2].bass) if n > 1 else layout.nut_line(document.nut.width / 2)
    treble, bass = (
        Point(between_frets(a.x, b.x), (a.y + b.y) / 2)
        for a, b in zip(before, (frets[n - 1].treble, frets[n - 1].bass), strict=True)
    )
    return treble, bass


def _side_dots(document: Document, layout: Layout) -> Iterator[tuple[int, Point]]:
    """The side dots' places on the bass edge; two of them stand `PAIR` of their diameters apart along it."""
    board = document.fingerboard
    if board.side_dot is None:
        return
    for n in sorted({*board.dots, *board.double_dots}):
        _, at = _between(document, layout, n)
        apart = board.side_dot * PAIR / 2 if n in board.double_dots else 0.0
        edge = layout.frets[n - 1].bass
        share = apart / hypot(edge.x - at.x, edge.y - at.y)
        for way in (-1, 1) if apart else (0,):
            yield n, Point(at.x + way * share * (edge.x - at.x), at.y + way * share * (edge.y - at.y))


def _dots(document: Document, layout: Layout) -> list[tuple[int, Point]]:
    """The dots' centres on the line midway between two frets; two of them a quarter of the board from its edges."""
    board = document.fingerboard
    found = []
    for n in sorted({*board.dots, *board.double_dots}):
        treble, bass = _between(document, layout, n)
        shares = (0.25, 0.75) if n in board.double_dots else (0.5,)
        found += [
            (n, Point(treble.x + share * (bass.x - treble.x), treble.y + share * (bass.y - treble.y)))
            for share in shares
        ]
    return found
