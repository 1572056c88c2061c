"""Names the numbers of a fingerboard that is made here."""

from __future__ import annotations

from scribeline.job import Document
from scribeline.layout.board import (
    UNDER_TANG,
    WIRE_OVER,
    WIRE_SPARE,
    board_made,
    edge_drops,
    slot_depth,
    to_plane,
    under_slots,
)
from scribeline.layout.heights import arch_radius, sunk
from scribeline.layout.instrument import Layout
from scribeline.quantities import Quantities, greatest

_FLATTED = "an arch's edge lies R − √(R² − (W/2)²) below its middle"


def name_board(found: Quantities, document: Document, layout: Layout) -> None:
    """Name every slot's depth, the one setting for all, and the wire to buy; nothing where the board is not made here."""
    made = board_made(document, layout)
    if made is None:
        return
    blank = {"blank": "fingerboard.blank_thickness", "board": "neck.board_thickness"}
    found.work("board.planed", to_plane, blank, what="what comes off the flat blank over the middle")
    drops = edge_drops(document, layout)
    for slot, fret, drop in zip(made.slots, layout.frets, drops.tolist(), strict=True):
        name = f"fret-{slot.fret}"
        _drop(found, document, name, drop)
        depth: dict[str, str | float] = {
            "planed": "board.planed",
            "drop": f"{name}.edge-drop",
            "tang": "fret_wire.tang",
            "under": UNDER_TANG,
        }
        found.work(f"{name}.slot-depth", slot_depth, depth, what=f"slot {fret.n} below the flat blank's face")
        found.give(
            f"{name}.slot-length", slot.length, what=f"slot {fret.n} from edge to edge", source="the layout"
        )
    every = [f"fret-{slot.fret}" for slot in made.slots]
    deepest = {f"of_{n}": f"{name}.slot-depth" for n, name in enumerate(every, start=1)}
    found.work(
        "board.slot-depth", _most, deepest, what="all slots at one setting, below the flat blank's face"
    )
    left = {"blank": "fingerboard.blank_thickness", "depth": "board.slot-depth"}
    found.work("board.slot-left", under_slots, left, what="what is left of the board under its slots")
    lengths = {f"of_{n}": f"{name}.slot-length" for n, name in enumerate(every, start=1)}
    wire: dict[str, str | float] = {"over": WIRE_OVER, "spare": WIRE_SPARE, **lengths}
    found.work("board.wire", _wire, wire, what="fret wire to buy")


def _drop(found: Quantities, document: Document, name: str, drop: float) -> None:
    board, what = document.fingerboard, "the board's edge below its middle there"
    if board.radius is None or document.scale.is_fanned:
        source = (
            "the board stays flat"
            if board.radius is None
            else f"at the lower of the slot's two ends; {_FLATTED}"
        )
        found.give(f"{name}.edge-drop", drop, what=what, source=source)
        return
    ends: dict[str, str | float] = {"along": name, "at_nut": "fingerboard.radius", "end": "fingerboard.end"}
    ends["at_end"] = "fingerboard.radius" if board.radius_at_end is None else "fingerboard.radius_at_end"
    ends["width"] = f"{name}.width"
    found.work(f"{name}.edge-drop", _edge_drop, ends, what=what, source=_FLATTED)


def _edge_drop(*, along: float, at_nut: float, at_end: float, end: float, width: float) -> float:
    return sunk(arch_radius(along, at_nut, at_end, end), width / 2)  # type: ignore[arg-type, return-value]


def _most(**depths: float) -> float:
    return greatest(*depths.values())


def _wire(over: float, spare: float, **lengths: float) -> float:
    total = 0.0
    for length in lengths.values():
        total = total + length + 2 * over
    return total * (1 + spare)
