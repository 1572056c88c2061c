"""Lengths inside sentences, which are not put into figures before somebody reads them.

A rule or a step card writes `f"only {said(web)} of wood is left"` and knows nothing of the job's unit. What `said` sets
into the sentence is a mark that holds the length itself, in characters that Unicode leaves to private use. `in_unit`
puts the figures in their places: `2.30 mm`, or for an inch shop `0.091 in (2.30 mm)`. All else stands as it was
written, so that a builder's own words are never taken for a length.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import ceil, floor, isfinite
from typing import Literal, Self

from scribeline.lengths.printing import decimal, in_figures, trimmed
from scribeline.lengths.units import UNITS, JobUnit, by_inches

_OPENS, _PARTS, _SHUTS = "\ue000", "\ue001", "\ue002"

Bound = Literal["", "least", "most"]
"""Whether a length is a limit that its figure must not fall short of, or must not exceed."""


@dataclass(frozen=True, slots=True)
class Try:
    """One way out that can be tried.

    Attributes:
        key: of the job file, such as `string_holes.top_share`.
        value: what to write there: a bare number, a length with its unit ("12.30 mm"), or a list of such lengths.
    """

    key: str
    value: str | tuple[str, ...]

    @property
    def shown(self) -> str:
        """The value as words."""
        return self.value if isinstance(self.value, str) else f"[{', '.join(self.value)}]"


@dataclass(frozen=True, slots=True)
class _Mark:
    """Numbers of one sentence that stand together.

    Attributes:
        values: mm, or bare numbers.
        places: decimals of the millimetres; None for as many as a person would say.
        bounds: which way each is rounded, where they are limits.
        joined: what stands between them.
        before: "+" where a sign is always shown, "±" where they are one.
        width: characters that the millimetres take at least, in a column of them.
        key: of the job file, where the numbers are what to set it to.
        is_length: whether they are lengths.
        both_ways: whether a metric shop is told the inches as well.
    """

    values: tuple[float, ...]
    places: int | None = 2
    bounds: tuple[Bound, ...] = ()
    joined: str = " to "
    before: str = ""
    width: int = 0
    key: str = ""
    is_length: bool = True
    both_ways: bool = False

    def __str__(self) -> str:
        places = "" if self.places is None else self.places
        flags = int(self.is_length), int(self.both_ways)
        parts = (places, "/".join(self.bounds), self.joined, self.before, self.width, self.key, *flags)
        return _OPENS + _PARTS.join(map(str, (*parts, *map(repr, map(float, self.values))))) + _SHUTS

    @classmethod
    def read(cls, text: str) -> Self | None:
        """The mark that was written so; None for what somebody else has written between its characters."""
        try:
            places, bounds, joined, before, width, key, is_length, both_ways, *values = text.split(_PARTS)
            numbers = tuple(float(value) for value in values)
            return cls(
                numbers,
                int(places) if places else None,
                tuple(bounds.split("/")) if bounds else (),  # type: ignore[arg-type]  # as it was written
                joined,
                before,
                int(width),
                key,
                is_length=is_length == "1",
                both_ways=both_ways == "1",
            )
        except ValueError:
            return None

    @property
    def _millimetres(self) -> tuple[str, ...]:
        return tuple(self._rounded(*each) for each in self._bounded)

    @property
    def _bounded(self) -> Iterator[tuple[float, Bound]]:
        bounds: Iterable[Bound] = self.bounds or ("" for _ in self.values)
        return zip(self.values, bounds, strict=True)

    def _rounded(self, value: float, bound: Bound) -> str:
        if not isfinite(value):
            return f"{value:g}"
        if bound:
            value = _outwards(value, bound, 10 ** (2 if self.places is None else self.places))
        text = _as_people_say(value) if self.places is None else decimal(value, self.places)
        return f"+{text}" if self.before == "+" and value >= 0 else text

    def _figures(self, unit: JobUnit) -> tuple[str, ...]:
        if unit == "mm":
            return self._millimetres
        return tuple(self._figure(*each, unit) for each in zip(self._bounded, self._millimetres, strict=True))

    def _figure(self, bounded: tuple[float, Bound], metric: str, unit: JobUnit) -> str:
        """As fine as the millimetres are, and coarser for whole ones that are more than one of the unit."""
        value, bound = bounded
        if metric in {"0", "+0"} or not isfinite(value):
            return metric
        own = UNITS[unit]
        places = own.places - 1 if "." not in metric and abs(value) >= own.mm else own.places
        if bound:
            value = _outwards(value, bound, 10**places / float(own.mm))
        text = in_figures(value, unit, places)
        return f"+{text}" if self.before == "+" and not text.startswith("-") else text

    @property
    def _is_list(self) -> bool:
        return bool(self.key) and len(self.values) > 1

    def told(self, unit: JobUnit, *, inside: bool) -> str:
        """As it is read.

        Args:
            unit: of the job.
            inside: whether it stands in round brackets.
        """
        sign = "±" if self.before == "±" else ""
        head = f"{self.key} to " if self.key else " " * (self.width - len(self._millimetres[0]))
        if not self.is_length:
            return head + self.joined.join(self._millimetres)
        figures = sign + self.joined.join(self._figures(unit))
        if not by_inches(unit) and not self.both_ways:
            return head + (f"[{figures}]" if self._is_list else f"{figures} {unit}")
        second = UNITS[unit].second
        beside = f"{sign}{self.joined.join(self._figures(second))} {second}"
        opens, shuts = "[]" if inside else "()"
        return f"{head}{f'[{figures}]' if self._is_list else figures} {unit} {opens}{beside}{shuts}"

    def tried(self, unit: JobUnit) -> Try:
        """What to set its key to, in a job's unit."""
        figures = self._figures(unit) if self.is_length else self._millimetres
        values = tuple(f"{figure} {unit}" if self.is_length else figure for figure in figures)
        return Try(self.key, values if self._is_list else values[0])


def _outwards(mm: float, bound: Bound, marks: float) -> float:
    """A limit on the next of so many marks a millimetre; one that lies on a mark stays there, whatever a float makes of it."""
    return (ceil if bound == "least" else floor)(round(mm * marks, 6)) / marks


def _as_people_say(mm: float) -> str:
    """Hundredths at most, thousandths of what is under a tenth, and what is smaller yet as it is."""
    text = trimmed(mm, 2 if abs(mm) >= 0.1 else 3)
    return f"{mm:g}" if text == "0" and mm else text


def said(mm: float, places: int | None = 2, *, signed: bool = False, width: int = 0) -> str:
    """A length for a sentence: `4.20 mm`, `0.165 in (4.20 mm)`.

    Args:
        mm: the length in mm.
        places: decimals of the millimetres; None for as many as a person would say.
        signed: whether a plus is shown as well as a minus.
        width: characters at least that the millimetres take, in a column of them.
    """
    return str(_Mark((mm,), places, before="+" if signed else "", width=width))


def give_or_take(mm: float, places: int | None = None) -> str:
    """A tolerance or a spread for a sentence: `±0.05 mm`, `±0.002 in (±0.05 mm)`."""
    return str(_Mark((mm,), places, before="±"))


def span(*mm: float, places: int | None = 2) -> str:
    """From one length to another: `3.10 to 17.40 mm`, `0.122 to 0.685 in (3.10 to 17.40 mm)`."""
    return str(_Mark(mm, places))


def either_way(*mm: float, places: int | None = 2) -> str:
    """A length, or two, that a metric shop is told in inches as well: they may have been meant so."""
    return str(_Mark(mm, places, joined=" and ", both_ways=True))


def by(*mm: float, places: int | None = 2) -> str:
    """Width by height: `10.00 × 20.00 mm`."""
    return str(_Mark(mm, places, joined=" × "))


def pair(*mm: float, places: int | None = 2) -> str:
    """Two lengths named together: `10.00 and 20.00 mm`."""
    return str(_Mark(mm, places, joined=" and "))


def spot(*mm: float, places: int | None = 2) -> str:
    """Numbers of one place: `10.0, 20.0 mm`."""
    return str(_Mark(mm, places, joined=", "))


def no_less(mm: float) -> str:
    """A limit to keep above, to 0.01 mm: rounded up, so that the number printed is itself enough, in inches too."""
    return str(_Mark((mm,), bounds=("least",)))


def no_more(mm: float) -> str:
    """A limit to keep below, to 0.01 mm: rounded down, in inches too."""
    return str(_Mark((mm,), bounds=("most",)))


def between(least: float, most: float) -> str:
    """What keeps two limits, each rounded so that the number printed is itself enough: `43.00 to 47.05 mm`."""
    return str(_Mark((least, most), bounds=("least", "most")))


def put(key: str, *mm: float, places: int | None = 2, bound: Bound | tuple[Bound, ...] = ()) -> str:
    """What to set a key of the job to, as in "set bridge.saddle_height to 12.70 mm"; several lengths make a list.

    Args:
        key: of the job file.
        mm: the length, or those of a list.
        places: decimals of the millimetres.
        bound: which way a limit is rounded; of a list, that of each.
    """
    bounds = (bound,) if isinstance(bound, str) else bound
    return str(_Mark(mm, places, bounds, ", ", key=key))


def put_number(key: str, number: float, *, places: int | None = 2, bound: Bound = "") -> str:
    """What to set a key of the job to that is no length."""
    return str(_Mark((number,), places, (bound,), key=key, is_length=False))


def in_unit(sentence: str, unit: JobUnit) -> str:
    """A sentence as it is read in a job of one unit.

    In inches a length has its millimetres behind it, in square brackets where it stands in round ones. Nothing is told
    as less than nothing ("-0.00 mm").

    Args:
        sentence: with the marks that `said` and its like have set; one without them stands as it is.
        unit: the job's.
    """
    told, depth = [], 0
    for words, mark in _parted(sentence):
        depth += words.count("(") - words.count(")")
        told += [words, mark.told(unit, inside=depth > 0) if mark else ""]
    return "".join(told)


class SaidError(ValueError):
    """An error whose sentence may hold lengths: `str` tells them in millimetres, `told` in the unit of a job."""

    @property
    def sentence(self) -> str:
        """As it was written, for a sentence that it becomes part of."""
        return str(self.args[0])

    def __str__(self) -> str:
        """For whoever has no job at hand."""
        return in_unit(self.sentence, "mm")

    def told(self, unit: JobUnit) -> str:
        """As it is read in a job of one unit."""
        return in_unit(self.sentence, unit)


def tries_in(sentence: str, unit: JobUnit) -> tuple[Try, ...]:
    """Every way out that a sentence names with its key and number, in the order it names them."""
    return tuple(mark.tried(unit) for _, mark in _parted(sentence) if mark and mark.key)


def without_marks(words: str) -> str:
    """A builder's own words, in which nothing can be taken for a length."""
    return (
        words if words.isascii() else "".join(each for each in words if each not in (_OPENS, _PARTS, _SHUTS))
    )


def _parted(sentence: str) -> Iterator[tuple[str, _Mark | None]]:
    words, *rest = sentence.split(_OPENS)
    for each in rest:
        inner, _, after = each.partition(_SHUTS)
        yield words, _Mark.read(inner)
        words = after
    yield words, None
