"""A step card: an operation in words, with what to measure before going on."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace
from textwrap import shorten
from typing import Literal

from scribeline.findings import Finding, may_happen
from scribeline.layout import Datum, Point3, Reading
from scribeline.operations import Operation


@dataclass(frozen=True, slots=True)
class Place:
    """Where one hole is, as read from datums that can be touched.

    Attributes:
        feature: id of the cut.
        number: the number on the drawings' balloons.
        at: the place itself, in the instrument frame, mm.
        along: along the instrument towards the tail, from each datum that its step is measured from, the nearest last; none
            before the order of work is known.
        across: from the centreline towards the treble side; negative towards the bass.
        below: of a hole from the edge or from inside a pocket: its middle below a face.
        mark: of a hole from the edge: straight from a mark on the edge.
        out: of a tunnel: where its middle comes out of the wood.
    """

    feature: str
    number: str
    at: Point3
    across: Reading
    along: tuple[Reading, ...] = ()
    below: Reading | None = None
    mark: Reading | None = None
    out: Place | None = None

    @property
    def nearest(self) -> Reading:
        """The reading along the instrument that stands for all where there is room for one."""
        return self.along[-1]

    def read_by(self, datums: Sequence[Datum]) -> Place:
        """The same place, read along the instrument from these datums."""
        along = tuple(datum.along(self.at) for datum in datums)
        return replace(self, along=along, out=None if self.out is None else self.out.read_by(datums))


@dataclass(frozen=True, slots=True)
class Ask:
    """One of several readings that a gate asks for.

    Attributes:
        id: by which the record keeps it, such as "2", or the id of the cut that it reads.
        words: where it is read, in bench words.
        value: expected reading, mm.
        low: least acceptable reading, mm.
        high: greatest acceptable reading, mm.
        measurable: id of the layout's measurable, where it is one.
        cut: id of the one cut whose depth the reading tells, where it does.
        above: how far the surface it is read from stands over the face that the cut's depth counts from, mm.
        may_lack: whether an answer without it counts, as of a gate that did not ask for it yet.
    """

    id: str
    words: str
    value: float
    low: float | None = None
    high: float | None = None
    measurable: str = ""
    cut: str = ""
    above: float = 0.0
    may_lack: bool = False


@dataclass(frozen=True, slots=True)
class Gate:
    """What must be measured before going on: a yes or no, one reading, or several.

    Attributes:
        ask: what to measure, in bench words; value and limits stand beside it.
        value: expected reading, mm; None where the answer is yes or no.
        low: least acceptable reading, mm.
        high: greatest acceptable reading, mm.
        measurable: id of the layout's measurable, where it is one.
        cut: id of the one cut whose depth the reading tells, where it does.
        above: how far the surface it is read from stands over the face that the cut's depth counts from, mm.
        asks: where it asks for several readings, each of them; empty where it asks for one, or for a yes or no.
        counts: whether each of several must lie within its own limits, or the least alone within the gate's.
    """

    ask: str
    value: float | None = None
    low: float | None = None
    high: float | None = None
    measurable: str = ""
    cut: str = ""
    above: float = 0.0
    asks: tuple[Ask, ...] = ()
    counts: Literal["each", "least"] = "each"

    @classmethod
    def of_each(cls, ask: str, asks: tuple[Ask, ...]) -> Gate:
        """A gate with several readings, each with limits of its own; the first one's stand for all of them in a list."""
        first = asks[0]
        return cls(ask, first.value, first.low, first.high, asks=asks)

    def of_least(self, *words: str) -> Gate:
        """The same gate read in several places, of which the least reading counts."""
        assert self.value is not None
        asks = (
            Ask(str(no), each, self.value, self.low, self.high, self.measurable)
            for no, each in enumerate(words, start=1)
        )
        return replace(self, asks=tuple(asks), counts="least")


_LEAST_SAID = 50
"""Characters that are left of a sentence however little room there is."""


@dataclass(frozen=True, slots=True)
class Gone:
    """A stop that a step is gone on against.

    Attributes:
        code: of the stop.
        says: what it says.
        risk: what may happen.
        reason: why the work goes on, in the words of whoever decided it.
        by: who that was.
        at: when.
    """

    code: str
    says: str
    risk: str
    reason: str
    by: str
    at: dt.datetime

    @classmethod
    def against(cls, stop: Finding) -> Gone:
        """A stop with its override."""
        given = stop.override
        assert given is not None
        return cls(stop.code, stop.message, may_happen(stop.code), given.reason, given.by, given.at)

    @property
    def words(self) -> str:
        """All of it as sentences, for a card or a list."""
        return self._told(self.says, f" {self.risk}", self.reason)

    def within(self, characters: int) -> str:
        """The same in about so many characters: what it says gives way first, then what may happen, then the reason."""
        over = len(self.words) - characters
        if over <= 0:
            return self.words
        says = shorten(self.says, max(_LEAST_SAID, len(self.says) - over), placeholder=" …")
        short = self._told(says, f" {self.risk}", self.reason)
        if len(short) <= characters + _LEAST_SAID:
            return short
        bare = len(self._told(says, "", ""))
        reason = shorten(self.reason, max(_LEAST_SAID, characters - bare), placeholder=" …")
        return self._told(says, "", reason)

    def _told(self, says: str, risk: str, reason: str) -> str:
        first = f"{says[:1].upper()}{says[1:]}".rstrip(".")
        return f'{first}.{risk} {self.by} goes on all the same, {self.at:%Y-%m-%d}: "{reason}".'


@dataclass(frozen=True, kw_only=True)
class Card(Operation):
    """An operation told: what to do, what to measure before going on, what can hurt.

    Attributes:
        title: what is done.
        places: where the holes are.
        datums: what it is measured from along the instrument, from the nut to the tail; those that can be touched by then.
        do: what to do, in order.
        gate: what to measure before going on.
        cautions: what can hurt.
        gone: stops that it is gone on against.
    """

    title: str
    do: tuple[str, ...]
    gate: Gate
    cautions: tuple[str, ...]
    places: tuple[Place, ...] = ()
    datums: tuple[Datum, ...] = ()
    gone: tuple[Gone, ...] = ()

    @classmethod
    def of(
        cls,
        work: Operation,
        title: str,
        do: Iterable[str],
        gate: Gate,
        cautions: tuple[str, ...],
        *places: Place,
    ) -> Card:
        """The card of an operation."""
        own = {each.name: getattr(work, each.name) for each in fields(Operation)}
        return cls(**own, title=title, do=tuple(do), gate=gate, cautions=cautions, places=places)

    def read_by(self, datums: tuple[Datum, ...]) -> Card:
        """The same step, measured along the instrument from these datums."""
        return replace(self, datums=datums, places=tuple(place.read_by(datums) for place in self.places))
