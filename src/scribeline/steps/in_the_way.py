"""What must come off the body before a step, and go back on: the neck, the bridge's plate.

With the back up the body lies on its top, where neither may stand proud; a drill that comes in through the neck's
pocket has no way while the neck is in it; and the plate hides the mouth of its own wire's hole.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

from scribeline.layout import Datum, DatumId, Layout, Part
from scribeline.operations import Operation

NECK_OFF = "Take the neck off."
NECK_BACK = "Put the neck back by its screws."
NECK_OVER_THE_END = (
    "Lay the body on a flat board, thicker than the neck stands proud, and let the neck hang over the end."
)


_MEASURED_FROM: tuple[tuple[DatumId, ...], ...] = (
    ("heel-end",),
    ("head-nut",),
    ("12th-fret", "board-end"),
    ("pocket-end",),
    ("tail",),
)
"""Datums along the instrument, the best first; those that go together check each other."""


def _datums(layout: Layout, fitted: Collection[Part], cut: Collection[str]) -> tuple[Datum, ...]:
    """What places along the instrument are read from: the best that can be touched by then."""
    standing = {datum.id: datum for datum in layout.datums if datum.stands(fitted, cut)}
    groups = (tuple(standing[name] for name in group if name in standing) for group in _MEASURED_FROM)
    return next((group for group in groups if group), ())


def cleared(
    operations: Iterable[Operation], layout: Layout, *, glued: bool, fitted: bool = False
) -> Iterator[tuple[tuple[str, ...], tuple[Datum, ...]]]:
    """For each operation what comes off for it or goes back on, as the first lines to do, and what it is measured from.

    What comes off takes its datums with it.

    Args:
        operations: in their order.
        layout: has the datums.
        glued: whether the neck is glued in when it is put back, and then stays.
        fitted: whether it is part of the body from the start.
    """
    plate = over_the_end = False
    neck = fast = fitted
    cut: set[str] = set()
    for each in operations:
        lies_on_top = each.face == "back" and each.machine not in {"bench", "finish"}
        first: list[str] = []
        if neck and not fast and (lies_on_top or "neck" in each.barred_by):
            first.append(NECK_OFF)
            neck = False
        elif neck and lies_on_top and not over_the_end:
            first.append(NECK_OVER_THE_END)
        elif not neck and each.kind in {"set bridge", "fit hardware"}:  # which measure from a fret
            first.append(NECK_BACK)
            neck = True
        if plate and (lies_on_top or "bridge" in each.barred_by):
            noun = "bridge" if layout.bridge is None else layout.bridge.noun
            first.append(f"Take the {noun} off. Its screw holes keep its place.")
            plate = False
        over_the_end = neck and (lies_on_top or (over_the_end and each.face != "top"))
        neck = neck or each.kind in {"fit neck", "drill heel", "refit neck"}
        fast = fast or (glued and each.kind == "refit neck")
        plate = plate or each.kind == "fix bridge"
        together: tuple[Part, ...] = ("body", "neck") if neck else ("body",)
        if each.workpiece in {"neck", "head"}:
            together = (each.workpiece,)
        yield tuple(first), _datums(layout, together, cut)
        cut.update(each.features)
