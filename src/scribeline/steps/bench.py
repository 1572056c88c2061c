"""What the makers of step cards look at."""

from __future__ import annotations

from dataclasses import dataclass, field

from scribeline.features import Bore, Features, Setting, Step, balloon, setting_of
from scribeline.job import Document, Record
from scribeline.layout import DatumId, Layout, Measurable, Point3
from scribeline.solid.tunnels import Tunnel
from scribeline.steps.card import Gate, Place


@dataclass(frozen=True, slots=True)
class Bench:
    """What the card makers look at."""

    document: Document
    record: Record
    layout: Layout
    features: Features
    measurables: dict[str, Measurable] = field(default_factory=dict)
    tunnels: tuple[Tunnel, ...] = ()

    def gate(self, name: str) -> Gate:
        """A gate on one of the layout's measurables."""
        m = self.measurables[name]
        return Gate(m.how, m.value, m.low, m.high, m.id)

    def setting(self, bore: Bore, step: Step) -> Setting:
        """What ends a bit of a hole at its depth."""
        return setting_of(self.layout, bore, bore.steps.index(step), self.features.pockets)

    def next(self, bores: tuple[Bore, ...]) -> Bore:
        """The hole a card's setting is given for: the first that is not made yet."""
        made = self.record.made_cuts
        return next((bore for bore in bores if bore.id not in made), bores[0])

    def places(self, bores: tuple[Bore, ...]) -> tuple[Place, ...]:
        """Where the bores of a card are."""
        return tuple(place_of(self.layout, bore.id, balloon(bore.id), bore.at) for bore in bores)


_ALONG: tuple[DatumId, ...] = ("12th-fret", "pocket-end")


def place_of(layout: Layout, feature: str, number: str, at: Point3) -> Place:
    """Where something is, as read from the datums."""
    along = tuple(layout.datum(name).along(at) for name in _ALONG)
    return Place(feature, number, at, along, layout.datum("centreline").along(at))


def within(ask: str, value: float, tolerance: float) -> Gate:
    """A gate on a reading with the same tolerance either way."""
    return Gate(ask, value, value - tolerance, value + tolerance)
