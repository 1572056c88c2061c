"""Names the numbers of a fingerboard that is made here."""

from __future__ import annotations

from scribeline.job import Document
from scribeline.layout.board import (
    UNDER_TANG,
    WIRE_SPARE,
    Slot,
    blank_width,
    board_made,
    edge_length,
    saw_stop,
    slot_depth,
    tang_room,
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
    for slot in made.slots:
        name = f"fret-{slot.fret}"
        _drop(found, document, slot)
        depth: dict[str, str | float] = {
            "planed": "board.planed",
            "drop": f"{name}.edge-drop",
            "tang": "fret_wire.tang",
            "under": UNDER_TANG,
        }
        found.work(
            f"{name}.slot-depth", slot_depth, depth, what=f"slot {slot.fret} below the flat blank's face"
        )
        stop: dict[str, str | float] = {
            "middle": slot.middle if document.scale.is_fanned or not slot.fret else name,
            "kerf": "fret_wire.slot",
            "turn": slot.turn,
        }
        what = f"from the nut's line to the saw's side towards the nut, slot {slot.fret}"
        found.work(f"{name}.saw-stop", saw_stop, stop, what=what)
        ends = "from edge to edge" if slot.whole and not made.binding else "from end to end"
        found.give(f"{name}.slot-length", slot.length, what=f"slot {slot.fret} {ends}", source="the layout")
        if made.binding:
            words = f"fret {slot.fret} from end to end, over the binding"
            found.give(f"{name}.fret-length", slot.fret_length, what=words, source="the layout")
    every = [f"fret-{slot.fret}" for slot in made.slots]
    deepest = {f"of_{n}": f"{name}.slot-depth" for n, name in enumerate(every, start=1)}
    found.work(
        "board.slot-depth", _most, deepest, what="all slots at one setting, below the flat blank's face"
    )
    left = {"blank": "fingerboard.blank_thickness", "depth": "board.slot-depth"}
    found.work("board.slot-left", under_slots, left, what="what is left of the board under its slots")
    length = "fret-length" if made.binding else "slot-length"
    lengths = {f"of_{n}": f"{name}.{length}" for n, name in enumerate(every, start=1)}
    wire: dict[str, str | float] = {"over": "fret_wire.overhang", "spare": WIRE_SPARE, **lengths}
    found.work("board.wire", _wire, wire, what="fret wire to buy")
    if document.fret_wire.tang_width is not None:
        fit = {"slot": "fret_wire.slot", "tang": "fret_wire.tang_width"}
        found.work("board.tang-room", tang_room, fit, what="how much wider than the fret's tang its slot is")
    if made.binding:
        _name_binding(found)


def _name_binding(found: Quantities) -> None:
    """What a binding leaves of the blank, and how much of it to buy."""
    for where, width in (("nut", "nut.width"), ("end", "fingerboard.width_at_end")):
        inputs = {"board": width, "binding": "fingerboard.binding"}
        what = f"the blank's width at {'the nut' if where == 'nut' else 'its end'}, between the bindings"
        found.work(f"board.blank-at-{where}", blank_width, inputs, what=what)
    edges: dict[str, str | float] = {
        "nut_width": "nut.width",
        "end": "fingerboard.end",
        "end_width": "fingerboard.width_at_end",
        "spare": WIRE_SPARE,
    }
    found.work("board.binding", _binding, edges, what="binding to buy, for both edges")


def _drop(found: Quantities, document: Document, slot: Slot) -> None:
    board, what, name = document.fingerboard, "the board's edge below its middle there", f"fret-{slot.fret}"
    if board.radius is None or document.scale.is_fanned or not slot.whole or not slot.fret:
        source = (
            "the board stays flat"
            if board.radius is None
            else f"at the lower of the slot's two ends; {_FLATTED}"
        )
        found.give(f"{name}.edge-drop", slot.drop, what=what, source=source)
        return
    ends: dict[str, str | float] = {"along": name, "at_nut": "fingerboard.radius", "end": "fingerboard.end"}
    ends["at_end"] = "fingerboard.radius" if board.radius_at_end is None else "fingerboard.radius_at_end"
    ends["width"] = f"{name}.width"
    ends["binding"] = "fingerboard.binding" if board.binding else 0.0
    found.work(f"{name}.edge-drop", _edge_drop, ends, what=what, source=_FLATTED)


def _edge_drop(
    *, along: float, at_nut: float, at_end: float, end: float, width: float, binding: float
) -> float:
    half = blank_width(width, binding) / 2
    return sunk(arch_radius(along, at_nut, at_end, end), half)  # type: ignore[arg-type, return-value]


def _binding(nut_width: float, end: float, end_width: float, spare: float) -> float:
    return 2 * edge_length(nut_width, end, end_width) * (1 + spare)


def _most(**depths: float) -> float:
    return greatest(*depths.values())


def _wire(over: float, spare: float, **lengths: float) -> float:
    total = 0.0
    for length in lengths.values():
        total = total + length + 2 * over
    return total * (1 + spare)
