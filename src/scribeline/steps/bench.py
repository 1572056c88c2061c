"""What the makers of step cards look at."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from scribeline.features import Bore, Features, Step, Workpiece, balloon, workpiece_of
from scribeline.job import Document, Record
from scribeline.layout import BridgePlace, DatumId, Layout, Measurable, Point3
from scribeline.lengths import said
from scribeline.operations import Operation
from scribeline.solid.tunnels import Tunnel
from scribeline.steps.card import Card, Gate, Place


@dataclass(frozen=True, slots=True)
class Bench:
    """What the card makers look at."""

    document: Document
    record: Record
    layout: Layout
    features: Features
    measurables: dict[str, Measurable]
    tunnels: tuple[Tunnel, ...] = ()
    beside: tuple[Workpiece, ...] = ()

    def gate(self, name: str) -> Gate:
        """A gate on one of the layout's measurables."""
        m = self.measurables[name]
        return Gate(m.how + _closest(m), m.value, *m.accepted, m.id)

    @property
    def bridge(self) -> BridgePlace:
        """The bridge; no operation at one is made while it has no place."""
        assert self.layout.bridge is not None
        return self.layout.bridge

    def bores(self, work: Operation) -> tuple[Bore, ...]:
        """The holes that an operation works at."""
        own = set(work.features)
        beside = (bore for piece in self.beside for bore in piece.features.bores)
        return tuple(bore for bore in (*self.features.bores, *beside) if bore.id in own)

    def step(self, work: Operation) -> Step:
        """The diameter of its holes that an operation cuts."""
        return self.bores(work)[0].steps[work.cuts[0].step - 1]

    def places(self, bores: Iterable[Bore]) -> tuple[Place, ...]:
        """Where the bores of a card are."""
        return tuple(place_of(self.layout, bore.id, balloon(bore.id), bore.at) for bore in bores)


def _closest(m: Measurable) -> str:
    """Of a number that is wanted closer than it can be read: how close it is wanted, for the end of a sentence."""
    low, high = m.accepted
    if low >= m.low:
        return ""
    return (
        f"; within {said((m.high - m.low) / 2)} is wanted, and a reading is good for {said((high - low) / 2)}"
    )


Teller = Callable[[Bench, Operation], Card]
"""Tells an operation of one kind, or holes of one family."""


def place_of(layout: Layout, feature: str, number: str, at: Point3) -> Place:
    """Where something is, as read from the centreline; along the instrument it is read once the order of work is known."""
    return Place(feature, number, at, layout.datum(_LINES.get(workpiece_of(feature), "centreline")).along(at))


_LINES: dict[str, DatumId] = {"neck": "neck-centreline", "head": "head-centreline"}
"""The centreline of a workpiece beside the body."""


def within(ask: str, value: float, tolerance: float) -> Gate:
    """A gate on a reading with the same tolerance either way."""
    return Gate(ask, value, value - tolerance, value + tolerance)
