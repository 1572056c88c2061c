"""Where cuts that are made really are: every reading of one hole or cavity together, by least squares.

A reading of a cut's place keeps what the rule said and the place that this puts the cut at, in the frame of the plan it was read
by: whatever the job becomes, the cut stays where it was found. Several readings of one place are weighed by how well each is
read. How a rule's own scale is off is one error of all that is read with it: it is an unknown of its own, so that reading
the same length twice with the same rule does not halve it.

A cavity is as its template made it: moved as a whole, and larger or smaller as bearing and print let it. Its walls' places and
its sizes tell both together; how it is turned no such reading tells. Of a cavity whose size nobody read, only what bit and
print are good for is known beforehand.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import hypot, inf, sqrt
from types import MappingProxyType
from typing import Literal

from scribeline.job.done import Cut, CutSlope, Measurement
from scribeline.job.values import standard_deviation
from scribeline.quantities import Adjusted, Sight, Unknown, adjusted
from scribeline.tables import Accuracies, UnknownName

Part = Literal[
    "along", "across", "nut-side", "tail-side", "treble-side", "bass-side", "length", "width", "depth"
]
"""What of a cut a reading tells: of a hole its middle along and across, of a cavity its walls, its sizes and its depth."""

STATIONS = ("nut", "12th-fret", "board-end", "pocket-end", "plate-front", "tail")
"""Ids of what a place along the instrument may be read from."""

TOWARDS_NUT = frozenset({"tail"})
"""Those from which a place is read towards the nut."""

_RULED = frozenset({"rule", "rule-cut", "tape", "tape-hook", "thread"})
"""Ways of reading that rest on a rule's own scale."""

USUAL: Mapping[Part, str] = MappingProxyType({"depth": "depth-gauge"})
"""How a part is usually read where that is not with a rule."""

RULE = "rule"

_ANY = inf
"""How far a place may lie from where it was planned before it is read, one standard deviation, mm: anywhere."""

_STATION = "|".join(STATIONS)
_FORMS = tuple(
    re.compile(pattern)
    for pattern in (
        rf"(?P<cut>.+)-(?P<part>nut-side|tail-side)-from-(?P<datum>{_STATION})",
        r"(?P<cut>.+)-(?P<part>treble-side|bass-side)-from-(?P<datum>centreline)",
        rf"(?P<cut>.+)-from-(?P<datum>{_STATION}|centreline)",
        r"(?P<cut>.+)-(?P<part>length|width|depth)",
    )
)


@dataclass(frozen=True, slots=True)
class CutReading:
    """What of which cut a reading tells, by its name.

    Attributes:
        cut: id of the cut.
        part: what of it.
        datum: what it is read from; "" of a size.
    """

    cut: str
    part: Part
    datum: str = ""

    @property
    def name(self) -> str:
        """As the record names it."""
        if not self.datum:
            return f"{self.cut}-{self.part}"
        side = f"-{self.part}" if self.part.endswith("-side") else ""
        return f"{self.cut}{side}-from-{self.datum}"

    @property
    def sign(self) -> float:
        """By how much the place grows with the reading."""
        return -1.0 if self.datum in TOWARDS_NUT else 1.0


def cut_reading(what: str, cuts: Iterable[str]) -> CutReading | None:
    """What a name tells of one of these cuts; None where it is none of a cut."""
    known = set(cuts)
    for form in _FORMS:
        found = form.fullmatch(what)
        if found is not None and found["cut"] in known:
            stated = found.groupdict()
            datum = stated.get("datum") or ""
            part = stated.get("part") or ("across" if datum == "centreline" else "along")
            return CutReading(found["cut"], part, datum)  # type: ignore[arg-type]  # one of the forms' own words
    return None


def reading_sd(entry: Measurement, accuracies: Accuracies, usual: str) -> float:
    """How well a reading is known, one standard deviation, mm: by its own ±, by its method, else by the usual method."""
    if entry.plus_minus is not None:
        return standard_deviation(entry.plus_minus)
    try:
        return accuracies[entry.with_what].sd if entry.with_what else accuracies[usual].sd
    except UnknownName:
        return accuracies[usual].sd


SCALE = "rule-scale"
"""The unknown that stands for a rule's own scale: its error for each mm that is read."""


def scale_unknown(accuracies: Accuracies) -> Unknown:
    """A rule's own scale, of which only what rules are good for is known."""
    return Unknown(SCALE, accuracies[SCALE].sd)


def scaled(way: str, mm: float) -> float:
    """By how much a reading is off for each part that its rule's scale is off, mm; 0 of one that no rule takes."""
    return mm if way in _RULED else 0.0


@dataclass(frozen=True)
class Found:
    """A cut that is made, as it was found at the bench.

    Attributes:
        cut: as it was planned when it was made.
        read: how far off that it lies, by all readings: along, across, longer, wider, deeper.
        sizes: the cavity's length and width as planned; (0, 0) of a hole.
    """

    cut: Cut
    read: Adjusted
    sizes: tuple[float, float] = (0.0, 0.0)

    @property
    def is_placed(self) -> bool:
        """Whether its place was read, in either direction."""
        return bool(self.telling("along") or self.telling("across"))

    @property
    def is_deep_as_read(self) -> bool:
        """Whether its depth was read."""
        return bool(self.telling("deeper"))

    @property
    def numbers(self) -> tuple[int, ...]:
        """Of the readings in the record that count."""
        return numbers_of(self.read.sights)

    def of(self, unknown: str) -> tuple[float, float]:
        """How far off it is, and one standard deviation of that, mm; nothing of what nobody read."""
        return self.read.of({unknown: 1.0})

    def sd(self, unknown: str) -> float:
        """One standard deviation of that alone."""
        return self.of(unknown)[1]

    def telling(self, unknown: str) -> tuple[Sight, ...]:
        """The readings that tell of it."""
        return tuple(each for each in self.read.sights if unknown in each.rates)

    @property
    def at(self) -> tuple[float, float]:
        """Of a hole: where it was found, mm."""
        assert self.cut.at is not None
        return (self.cut.at[0] + self.of("along")[0], self.cut.at[1] + self.of("across")[0])

    @property
    def as_found(self) -> Cut:
        """Of a cavity: as it really is."""
        if self.cut.outline is None:
            return self.cut
        more: dict[str, object] = {}
        if any(set(each.rates) - {"deeper"} for each in self.read.sights):
            more |= self._as_placed(self.cut.outline)
        if self.is_deep_as_read:
            more["measured_depth"] = (self.cut.depth or 0.0) + self.of("deeper")[0]
        return self.cut.model_copy(update=more)

    def _as_placed(self, outline: Sequence[tuple[float, float]]) -> dict[str, object]:
        (dx, dy), (x, y) = (self.of("along")[0], self.of("across")[0]), _middle(outline)
        grown = tuple(
            1.0 + self.of(name)[0] / size if size else 1.0
            for name, size in zip(("longer", "wider"), self.sizes, strict=True)
        )

        def there(ring: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], ...]:
            return tuple((x + dx + (a - x) * grown[0], y + dy + (b - y) * grown[1]) for a, b in ring)

        slope = self.cut.slope
        return {
            "outline": there(outline),
            "islands": tuple(there(each) for each in self.cut.islands),
            "slope": None if slope is None else CutSlope(angle=slope.angle, at=slope.at + dx),
        }


def numbers_of(sights: Iterable[Sight]) -> tuple[int, ...]:
    """Numbers in the record of readings, those that are kept elsewhere left out."""
    return tuple(no for no in (number_of(each) for each in sights) if no)


def in_the_record(numbers: Iterable[int]) -> str:
    """Where measurements stand, in words: "no. 3, 4 of the record"."""
    return f"no. {', '.join(map(str, numbers))} of the record"


def number_of(sight: Sight) -> int:
    """Number in the record of a reading; 0 of one that is kept with its cut."""
    return int(sight.id.rpartition("#")[2])


def found(
    cuts: Mapping[str, Sequence[Cut]], entries: Iterable[tuple[int, Measurement]], accuracies: Accuracies
) -> Mapping[str, Found]:
    """Every made cut that was read at the bench, by its id.

    Args:
        cuts: everything that is recorded of each made cut, by its id.
        entries: the measurements that count, with their numbers in the record.
        accuracies: how well the shop measures.
    """
    read: dict[str, list[tuple[int, CutReading, Measurement]]] = {}
    for no, entry in entries:
        told = cut_reading(entry.what, cuts)
        if told is not None and (entry.lies_at is not None or not told.datum):
            read.setdefault(told.cut, []).append((no, told, entry))
    names = set(read) | {
        name
        for name, each in cuts.items()
        if any(cut.measured is not None or cut.measured_depth is not None for cut in each)
    }
    every = {
        name: _found(cuts[name], _since(read.get(name, [])), accuracies) for name in cuts if name in names
    }
    return {name: each for name, each in every.items() if each is not None}


def _since(
    entries: list[tuple[int, CutReading, Measurement]],
) -> list[tuple[int, CutReading, Measurement]]:
    """Those since anything was last said to have been moved."""
    first = max((no for no, _, entry in entries if entry.anew), default=0)
    return [each for each in entries if each[0] >= first]


def _found(
    cuts: Sequence[Cut], entries: Sequence[tuple[int, CutReading, Measurement]], accuracies: Accuracies
) -> Found | None:
    first = cuts[0]
    sizes = (0.0, 0.0) if first.outline is None else _sizes(first.outline)
    sights = [*_with_the_cut(cuts, accuracies)]
    for no, told, entry in entries:
        usual = USUAL.get(told.part, RULE)
        placed = _seen(first, told, entry)
        if placed is None:
            continue
        off, rates = placed
        sd = reading_sd(entry, accuracies, usual)
        scale = {SCALE: told.sign * scaled(entry.with_what or usual, entry.value_mm)}
        sights.append(Sight(f"{entry.what}#{no}", off, sd, {**rates, **(scale if scale[SCALE] else {})}))
    if not sights:
        return None
    grows = [
        hypot(sqrt(2) * accuracies["template-bearing"].sd, size * accuracies["print-scale"].sd)
        for size in sizes
    ]
    told_of = {name for each in sights for name in each.rates}
    unknowns = (
        *(Unknown(name, _ANY) for name in ("along", "across", "deeper") if name in told_of),
        *(Unknown(name, sd) for name, sd in zip(("longer", "wider"), grows, strict=True) if name in told_of),
        scale_unknown(accuracies),
    )
    return Found(first, adjusted(unknowns, sights), sizes)


def _with_the_cut(cuts: Sequence[Cut], accuracies: Accuracies) -> Iterator[Sight]:
    """What is kept with a cut itself: a hole's place once it was found elsewhere, the depth its gate read last."""
    first = cuts[0]
    if first.at is not None:
        places = dict.fromkeys(cut.measured for cut in cuts if cut.measured is not None)
        for place in places:
            for n, way in enumerate(("along", "across")):
                yield Sight(f"{way}#0", place[n] - first.at[n], accuracies[RULE].sd, {way: 1.0})
    depths = [cut.measured_depth for cut in cuts if cut.measured_depth is not None]
    if depths and first.depth is not None:
        yield Sight("depth#0", depths[-1] - first.depth, accuracies[USUAL["depth"]].sd, {"deeper": 1.0})


def _seen(cut: Cut, told: CutReading, entry: Measurement) -> tuple[float, dict[str, float]] | None:
    """How far a reading is off what was planned, and what it answers to; None where the cut has no such part."""
    lies, value = entry.lies_at or 0.0, entry.value_mm
    if cut.at is not None:
        if told.part not in {"along", "across"}:
            return None
        return lies - cut.at[0 if told.part == "along" else 1], {told.part: 1.0}
    assert cut.outline is not None
    (low, high), (left, right) = walls(cut.outline)
    # The hand may be another by now: a side's wall is the one that the reading lies nearer to.
    side, share = min(((left, -0.5), (right, 0.5)), key=lambda each: abs(each[0] - lies))
    across = (lies - side, {"across": 1.0, "wider": share})
    return {
        "depth": (value - (cut.depth or 0.0), {"deeper": 1.0}),
        "length": (value - (high - low), {"longer": 1.0}),
        "width": (value - (right - left), {"wider": 1.0}),
        "nut-side": (lies - low, {"along": 1.0, "longer": -0.5}),
        "tail-side": (lies - high, {"along": 1.0, "longer": 0.5}),
        "treble-side": across,
        "bass-side": across,
    }.get(told.part)


def walls(outline: Sequence[tuple[float, float]]) -> tuple[tuple[float, float], tuple[float, float]]:
    """Between which places an outline lies, along and across, mm."""
    xs, ys = zip(*outline, strict=True)
    return (min(xs), max(xs)), (min(ys), max(ys))


def _sizes(outline: Sequence[tuple[float, float]]) -> tuple[float, float]:
    (low, high), (left, right) = walls(outline)
    return high - low, right - left


def _middle(outline: Sequence[tuple[float, float]]) -> tuple[float, float]:
    (low, high), (left, right) = walls(outline)
    return (low + high) / 2, (left + right) / 2
