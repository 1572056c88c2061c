"""What ends a bit at its depth, as the press or the drill stands at that moment.

A hole of several diameters is cut widest first, so that for every further bit the wood at the mark is gone: its
depth stop is zeroed beside the hole, and the tape on a hand drill's bit is read against the floor left before.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from scribeline.features.cuts import Bore, Pocket, workpiece_of
from scribeline.features.making import Features
from scribeline.features.passing import covers, run_to_floor
from scribeline.layout import Layout, Point

_SAME_LEVEL = 1e-6
"""Two surfaces nearer than this are one, mm."""

_BY_HAND = frozenset({"jack", "jack-screw", "strap-button", "claw-screw", "tunnel", "ground-wire"})
"""Families that no drill press reaches: the body's edge, a pocket's wall, a slope of its own."""

_SURFACES = {"top": "the top", "back": "the back", "edge": "the edge", "pocket": "the wall"}


HEEL_UNDERSIDE = "the heel's underside"
HEAD_FACE = "the head's face"


@dataclass(frozen=True, slots=True)
class Setting:
    """What ends one bit of a hole at its depth.

    Attributes:
        kind: a depth stop on the press, or a tape round the bit of a hand drill.
        mm: travel from the point touching the surface it is zeroed on; of a tape, its distance from the point.
        zeroed_on: the face the hole is cut from, or the floor of a pocket or of a wider diameter.
        beside: whether the wood at the mark is gone, so that the point is set down beside the hole.
        surface: that surface in bench words.
        below: how far it lies below the hole's own start, along the axis, mm.
        level: whether that surface is as high beside the hole as at the mark.
    """

    kind: Literal["depth stop", "tape"]
    mm: float
    zeroed_on: Literal["face", "floor"]
    beside: bool = False
    surface: str = "the scrap"
    below: float = 0.0
    level: bool = True

    @property
    def where(self) -> str:
        """Where it is zeroed."""
        if self.kind == "tape":
            return f"level with {self.surface}"
        beside = "beside the hole" if self.level else "beside the hole, where it is as high as at the mark"
        return f"{self.surface}, {beside if self.beside else 'on the mark'}"

    @property
    def words(self) -> str:
        """Where it is zeroed, as one sentence."""
        if self.kind == "tape":
            return f"Drill until the tape is {self.where}."
        return f"Zero it with the point on {self.where}."


def setting_of(layout: Layout, bore: Bore, no: int, pockets: Iterable[Pocket]) -> Setting:
    """What ends a bit of a bore at its depth.

    Args:
        layout: for the body's thickness and its faces.
        bore: the hole.
        no: which of its steps, from 0.
        pockets: of the body; those of the bore's own face that its mark lies in are open by then.
    """
    before, by_hand = cut_before(bore, no), bore.family in _BY_HAND
    floor, below = floor_under_mark(layout, bore, pockets)
    surface = _surface(bore) if floor is None else f"the floor of the {floor.in_words}"
    in_recess = by_hand and before is not None
    if by_hand and before is not None:
        surface, below = "the floor of the counterbore", bore.steps[before].depth
    return Setting(
        kind="tape" if by_hand else "depth stop",
        mm=travel(bore.steps[no].point_reaches, below),
        zeroed_on="floor" if in_recess or floor is not None else "face",
        beside=not by_hand and before is not None,
        surface=surface,
        below=below,
        level=floor is not None
        or bore.face not in {"top", "back"}
        or workpiece_of(bore.id) != "body"
        or layout.body.is_level(bore.face),
    )


def _surface(bore: Bore) -> str:
    own = {"neck": HEEL_UNDERSIDE, "head": HEAD_FACE}
    return own.get(workpiece_of(bore.id), _SURFACES[bore.face])


def travel(reach: float, below: float) -> float:
    """Travel of a bit's point from the surface it is zeroed on, mm, which lies so far below the hole's start."""
    return reach - below


def cutting_order(bore: Bore) -> list[int]:
    """Its steps, from 0, in the order in which they are cut: wide before narrow, a countersink last."""
    return sorted(range(len(bore.steps)), key=lambda no: (bore.steps[no].bit.kind == "countersink", no))


def cut_before(bore: Bore, no: int) -> int | None:
    """The step that is cut just before this one; None for the first."""
    order = cutting_order(bore)
    place = order.index(no)
    return order[place - 1] if place else None


def floor_under_mark(layout: Layout, bore: Bore, pockets: Iterable[Pocket]) -> tuple[Pocket | None, float]:
    """The pocket on whose floor the bit's point comes down, and how far that lies below the bore's start, mm.

    None and 0 where the point comes down on the face itself. Of pockets in one another the deepest counts.
    """
    found: tuple[Pocket | None, float] = (None, 0.0)
    for pocket in pockets:
        if (
            workpiece_of(bore.id) != "body"
            or pocket.face != bore.face
            or not covers(pocket, Point(bore.at.x, bore.at.y))
        ):
            continue
        below = run_to_floor(layout, pocket, bore.at, bore.axis)
        if below > found[1] - _SAME_LEVEL:
            found = (pocket, max(0.0, below))
    return found


def alike(features: Features, layout: Layout) -> tuple[tuple[Bore, ...], ...]:
    """The bores that go together, in order: of one row, from one face, cut by the same settings of the same bits.

    Here alone it is decided which holes one operation cuts and one line of a list speaks for. Numbers count as the same to
    a hundredth of a millimetre, as they are printed.
    """
    found: dict[tuple[object, ...], list[Bore]] = {}
    for bore in features.bores:
        found.setdefault((*bore.row, *_told(features, layout, bore)), []).append(bore)
    return tuple(map(tuple, found.values()))


def _told(features: Features, layout: Layout, bore: Bore) -> Iterator[object]:
    """All that is said of a bore but its place; of one that stands alone, its name."""
    yield bore.id if bore.stands_alone else ""
    yield from (bore.face, bore.entered_from, bore.through, *(round(part, 4) for part in bore.axis))
    for no, step in enumerate(bore.steps):
        setting = setting_of(layout, bore, no, features.pockets)
        yield from (step.bit, round(step.diameter, 2), round(step.depth, 2))
        yield from (setting.surface, round(setting.mm, 2))
