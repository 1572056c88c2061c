"""Names the numbers of a neck that is carved here: its depths, its sections, the blank it is cut from."""

from __future__ import annotations

from scribeline.job import Document
from scribeline.layout.carve import (
    Carve,
    Station,
    blank_needed,
    carve_of,
    depth_between,
    stations,
    under_board,
)
from scribeline.layout.instrument import Layout
from scribeline.quantities import Quantities

_SECTION = "the section's formula and the heel's curve (docs/neck.md)"


def name_carve(found: Quantities, document: Document, layout: Layout) -> None:
    """Name them; nothing where the job does not state the neck's blank."""
    carve = carve_of(document, layout)
    if carve is None:
        return
    for fret in ("first", "twelfth"):
        depth = {"thickness": f"neck_blank.thickness_at_{fret}", "board": "neck.board_thickness"}
        what = f"the neck's own wood at its {fret} fret, under the board"
        found.work(f"carve.depth-at-{fret}", under_board, depth, what=what)
    heel = {"thickness": "neck.heel_thickness", "board": "neck.board_thickness"}
    found.work("carve.heel-depth", under_board, heel, what="the heel's own wood, under the board")
    for station in stations(carve, layout):
        _name_station(found, carve, station)
    needed = blank_needed(document, layout, carve)
    for word in ("length", "width", "thickness"):
        what = f"{word} of the least blank, planed, {needed.head}"
        found.give(f"carve.blank-{word}", getattr(needed, word), what=what, source="the layout")


def _name_station(found: Quantities, carve: Carve, station: Station) -> None:
    name, fret = f"carve.{station.id}", station.id.startswith("fret-")
    if fret and carve.volute is None:
        inputs: dict[str, str | float] = {
            "along": station.along,
            "first_at": carve.first[0],
            "first": "carve.depth-at-first",
            "twelfth_at": carve.twelfth[0],
            "twelfth": "carve.depth-at-twelfth",
        }
        found.work(f"{name}.depth", depth_between, inputs, what=f"the neck's own wood at {station.name}")
    else:
        what = f"the neck's own wood, {station.name}"
        found.give(f"{name}.depth", station.depth, what=what, source=_SECTION)
    thick = {"depth": f"{name}.depth", "board": "neck.board_thickness"}
    found.work(f"{name}.thickness", _with_board, thick, what=f"the neck with its board, {station.name}")
    give = found.give
    give(f"{name}.width", station.width, what=f"the neck's width, {station.name}", source=_SECTION)
    what = f"where the first facet meets the neck's side, under the board, {station.name}"
    give(f"{name}.facet-down", station.facet_down, what=what, source=_SECTION)
    what = f"where it meets the back, from its middle, {station.name}"
    give(f"{name}.facet-in", station.facet_in, what=what, source=_SECTION)


def _with_board(depth: float, board: float) -> float:
    return depth + board
