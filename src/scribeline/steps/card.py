"""A step card: one setting of one machine, with what to measure before going on."""

from __future__ import annotations

from dataclasses import dataclass

from scribeline.features import Bit, Setting
from scribeline.steps.cautions import Machine
from scribeline.steps.ordering import Need


@dataclass(frozen=True, slots=True)
class Place:
    """Where one hole is, from edges that can be touched, mm.

    Attributes:
        feature: id of the cut.
        number: the number on the drawings' balloons.
        from_twelfth: from the 12th crown towards the tail.
        from_pocket_end: from the neck pocket's end wall towards the tail.
        to_treble: from the centreline towards the treble side; negative towards the bass.
        down: of a hole from the edge or from inside a pocket: its middle below the edge of a face.
        below: that face, "top" or "back".
        chord: of a hole from the edge: straight from the mark that `chord_from` names.
        chord_from: a place on the edge that can be touched.
        out: of a tunnel: where its middle comes out of the wood.
    """

    feature: str
    number: str
    from_twelfth: float
    from_pocket_end: float
    to_treble: float
    down: float | None = None
    below: str = "top"
    chord: float | None = None
    chord_from: str = ""
    out: Place | None = None


@dataclass(frozen=True, slots=True)
class Gate:
    """What must be measured before going on.

    Attributes:
        ask: what to measure, in bench words; value and limits stand beside it.
        value: expected reading, mm; None where the answer is yes or no.
        low: least acceptable reading, mm.
        high: greatest acceptable reading, mm.
        measurable: id of the layout's measurable, where it is one.
    """

    ask: str
    value: float | None = None
    low: float | None = None
    high: float | None = None
    measurable: str = ""

    def passes(self, value_mm: float | None, *, yes: bool | None = None) -> bool | None:
        """Whether a reading lies within the limits, or the answer is yes; None where there is neither.

        Args:
            value_mm: the reading, mm.
            yes: the answer of a gate that asks for one.
        """
        if yes is not None or value_mm is None:
            return yes
        return (self.low is None or value_mm >= self.low - 1e-9) and (
            self.high is None or value_mm <= self.high + 1e-9
        )


@dataclass(frozen=True, slots=True)
class Card:
    """One step: one machine, one setting, one group of holes.

    Attributes:
        id: stable name.
        title: what is done.
        machine: which machine's cautions apply.
        face: the face that lies up; "" where it does not matter.
        features: ids of what is cut.
        bit: the bit, where one is used.
        depth: full-diameter depth from the face, mm.
        point_reaches: where the bit's point ends, mm from the hole's own start along the axis.
        setting: what ends the bit at that depth, and from which surface.
        rpm: the most the bit should turn, revolutions a minute; a guide.
        places: where the holes are.
        do: what to do, in order.
        gate: what to measure before going on.
        cautions: what can hurt.
        after: what must be done before, and why.
        no: place in the order, from 1.
    """

    id: str
    title: str
    machine: Machine
    face: str = ""
    features: tuple[str, ...] = ()
    bit: Bit | None = None
    depth: float | None = None
    point_reaches: float | None = None
    setting: Setting | None = None
    rpm: int | None = None
    places: tuple[Place, ...] = ()
    do: tuple[str, ...] = ()
    gate: Gate | None = None
    cautions: tuple[str, ...] = ()
    after: tuple[Need, ...] = ()
    no: int = 0
