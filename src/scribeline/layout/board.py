"""The fingerboard where it is made here: how deep its slots are sawn in the flat blank, its fret wire, its dots.

An arched board is slotted flat and arched after. Its edges are planed down most, by R − √(R² − (W/2)²), so the slots are sawn
that much deeper, and by what the blank is thicker than the finished board; then the tang still finds its slot at the edge.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scribeline.job import Document
from scribeline.layout.frets import Floats
from scribeline.layout.heights import crowns_sunk, neck_lie
from scribeline.layout.instrument import Layout
from scribeline.layout.points import Point
from scribeline.quantities import hypot

UNDER_TANG = 0.3
"""Slot left under a fret's tang, mm (common practice, no source: 0.2 to 0.4)."""

WIRE_OVER = 3.0
"""Fret wire left over the board's edge on either side, to be nipped off, mm (common practice, no source)."""

WIRE_SPARE = 0.1
"""Share of fret wire bought over what is cut (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Slot:
    """One fret's slot in the flat blank.

    Attributes:
        fret: its number.
        depth: below the blank's face, that is deep enough at the board's own edges there, mm.
        length: from edge to edge of the board, along the slot, mm.
        wire: to cut for it, mm.
    """

    fret: int
    depth: float
    length: float
    wire: float


@dataclass(frozen=True, slots=True)
class BoardMade:
    """A fingerboard that is made here, from a flat blank.

    Attributes:
        slots: one a fret.
        depth: of all slots sawn at one setting, below the blank's face: the deepest one's, mm.
        left: what is left of the board under slots so deep, mm.
        planed: what comes off the blank over the middle, mm.
        wire: to buy, with some to spare, mm.
        dots: their centres seen from the front, mm, each with its fret's number.
        dot_diameter: mm.
    """

    slots: tuple[Slot, ...]
    depth: float
    left: float
    planed: float
    wire: float
    dots: tuple[tuple[int, Point], ...]
    dot_diameter: float


def slot_depth(planed: float, drop: float, tang: float, under: float) -> float:
    """How deep a slot is sawn below a flat blank's face, mm.

    Args:
        planed: what comes off over the middle, mm.
        drop: the arch's edge below its middle, mm.
        tang: height of the fret's tang, mm.
        under: slot left under it, mm.
    """
    return planed + drop + tang + under


def to_plane(blank: float, board: float) -> float:
    """What comes off a blank over the middle, mm."""
    return blank - board


def under_slots(blank: float, depth: float) -> float:
    """What is left of a board under a slot, mm."""
    return blank - depth


def between_frets(before: float, fret: float) -> float:
    """Where a dot lies: midway between its fret and the one before, mm."""
    return (before + fret) / 2


def board_made(document: Document, layout: Layout) -> BoardMade | None:
    """How the job's fingerboard is made; None where the job does not state a blank for it."""
    blank, wire = document.fingerboard.blank_thickness, document.fret_wire
    if blank is None:
        return None
    planed = to_plane(blank, document.neck.board_thickness.mm)
    slots = tuple(
        Slot(fret.n, slot_depth(planed, drop, wire.tang, UNDER_TANG), length, length + 2 * WIRE_OVER)
        for fret, drop, length in zip(
            layout.frets, edge_drops(document, layout).tolist(), _lengths(layout), strict=True
        )
    )
    depth = max(slot.depth for slot in slots)
    return BoardMade(
        slots=slots,
        depth=depth,
        left=under_slots(blank, depth),
        planed=planed,
        wire=(1 + WIRE_SPARE) * sum(slot.wire for slot in slots),
        dots=tuple(_dots(document, layout)),
        dot_diameter=document.fingerboard.dot_diameter,
    )


def edge_drops(document: Document, layout: Layout) -> Floats:
    """How far the board's lower edge lies below its middle at every fret, mm, shape (frets,)."""
    lie = neck_lie(document)
    ends = np.array([[fret.treble, fret.bass] for fret in layout.frets])
    return np.asarray(crowns_sunk(document, lie.along(ends[..., 0]), ends[..., 1]).max(axis=1))


def _lengths(layout: Layout) -> list[float]:
    return [hypot(fret.treble.x - fret.bass.x, fret.treble.y - fret.bass.y) for fret in layout.frets]


def _dots(document: Document, layout: Layout) -> list[tuple[int, Point]]:
    """The dots' centres on the line midway between two frets; two of them a quarter of the board from its edges."""
    board, frets = document.fingerboard, layout.frets
    found = []
    for n in sorted({*board.dots, *board.double_dots}):
        before = (
            (frets[n - 2].treble, frets[n - 2].bass) if n > 1 else layout.nut_line(document.nut.width / 2)
        )
        treble, bass = (
            Point(between_frets(a.x, b.x), (a.y + b.y) / 2)
            for a, b in zip(before, (frets[n - 1].treble, frets[n - 1].bass), strict=True)
        )
        shares = (0.25, 0.75) if n in board.double_dots else (0.5,)
        found += [
            (n, Point(treble.x + share * (bass.x - treble.x), treble.y + share * (bass.y - treble.y)))
            for share in shares
        ]
    return found
