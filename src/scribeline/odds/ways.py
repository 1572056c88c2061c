"""The ways in which a shop measures, marks, drills and routs, and which better one each has."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from math import sqrt
from typing import Literal

Shape = Literal["normal", "even"]
"""How an error is spread: as a bell, or evenly between two limits as a bare ± is (JCGM 100:2008, 4.3.7)."""

EVEN = sqrt(3)
"""Half the width of an even spread over its standard deviation."""


@dataclass(frozen=True, slots=True)
class Ways:
    """One key of the accuracies for each thing that may be done in several ways; the plain way when left out.

    Attributes:
        rule: how a distance is read off a rule.
        mark: how a line is drawn where it was read.
        prick: how a place is pricked; in ring-porous timber an awl has its own accuracy.
        template: how a template is held.
        press: how true the press's table is.
        hand: how a hand drill is held; its bit starts accordingly.
        depth_by_hand: how a hand drill's depth is kept.
    """

    rule: str = "rule"
    mark: str = "mark-pencil"
    prick: str = "prick-awl"
    template: str = "template-tape"
    press: str = "lean-press"
    hand: str = "lean-block"
    depth_by_hand: str = "depth-tape"

    def better(self) -> Iterator[tuple[str, str, Ways]]:
        """Every one that has a better way: what it is now, what it would be, and all ways with that."""
        for each in fields(self):
            now: str = getattr(self, each.name)
            if (then := _BETTER.get(now)) is not None:
                yield now, then, replace(self, **{each.name: then})


_BETTER = {
    "rule": "rule-cut",
    "mark-pencil": "mark-knife",
    "prick-awl": "prick-punch",
    "template-tape": "template-pins",
    "lean-press": "lean-press-trued",
    "lean-hand": "lean-block",
    "depth-tape": "depth-press",
}
"""The better way to do the same."""

STARTS = {"lean-hand": "bit-hand", "lean-block": "bit-block"}
"""Where a hand drill's bit starts, by how it is held."""

RING_POROUS = ("ash-", "oak-")
"""How the keys of timbers begin whose early wood leads an awl astray (from memory: ash and oak are ring-porous)."""
