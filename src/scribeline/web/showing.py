"""What a drawing of the plan shows, kind by kind, so that a screen may leave some of it out; nothing of the plan changes."""

from __future__ import annotations

from typing import Any, Literal

from scribeline.features import Bore, Feature, Pocket
from scribeline.plan import Plan

KINDS = {
    "other": "cuts from the other face",
    "holes": "holes",
    "pockets": "cavities and the neck pocket",
    "wires": "wire holes",
    "strings": "strings, frets and saddles",
    "neck": "neck",
    "bridge": "bridge and knobs",
    "dims": "dimensions",
    "wood": "hatching and layers of the wood",
}
"""Each kind by the name that the screen keeps."""

COOKIE = "off"

_OF_A_FACE = ("other", "holes", "pockets", "wires", "strings", "neck", "bridge", "dims")
_OF_A_SECTION = ("strings", "neck", "bridge", "wood")


def left_out(kept: str) -> tuple[str, ...]:
    """The kinds that a screen leaves out, as it keeps them; what is no kind is passed over."""
    said = set(kept.split("."))
    return tuple(kind for kind in KINDS if kind in said)


def to_choose(
    plan: Plan, view: Literal["front", "back", "side"], *, cut: bool, picked: Feature | None
) -> dict[str, Any]:
    """The kinds that a drawing has, and which of its cuts is what, for the page's script.

    Args:
        plan: what is drawn.
        view: how it is seen.
        cut: whether a section stands under it.
        picked: the cut that was touched.
    """
    names: tuple[str, ...] = _OF_A_SECTION if view == "side" else (*_OF_A_FACE, "wood") if cut else _OF_A_FACE
    if view == "side" and cut:
        names = (*names, "dims")
    if view == "back":
        names = tuple(each for each in names if each not in {"strings", "neck", "bridge"})
    # What a stop is about is seen whatever is left out, and so is what somebody is looking at.
    stays = {each for finding in plan.stops for each in finding.features}
    stays |= {each for finding in plan.gone_against for each in finding.features}
    if picked is not None:
        stays.add(picked.id)
    kinds = {} if view == "side" else {each.id: kind_of(each, view) for each in plan.features}
    return {
        "boxes": [(name, KINDS[name]) for name in KINDS if name in names],
        "said": {"kinds": kinds, "stays": sorted(stays)},
    }


def kind_of(cut: Feature, view: Literal["front", "back"]) -> str:
    """Which kind a cut is on the view of a face."""
    face = "top" if view == "front" else "back"
    if isinstance(cut, Bore) and cut.is_wire_way:
        return "wires"
    if cut.face in {"top", "back"} and cut.face != face:
        return "other"
    return "pockets" if isinstance(cut, Pocket) else "holes"
