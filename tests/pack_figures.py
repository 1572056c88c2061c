"""Every figure of a text with its last printed place, its second unit beside it, and a way to alter it.

A text becomes the same text with a mark such as «12» in place of each figure; the second unit goes with the first. A
figure is a number with a unit, with decimals, or a fraction: bare whole numbers are numbers of things.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

MM_PER_INCH = 25.4
SLACK = 1e-5
"""plan.json is rounded to five decimals."""

_NUMBER = re.compile(
    r"(?<![\w.:/\-])(?P<near>≈ )?(?P<sign>[−+-]?)(?P<number>(?:\d+-)?\d+/\d+|\d+(?:\.\d+)?)(?![\d:/]|\.\d|-\d| (?:\| )?%)"
    r"(?:\s?(?:\| )?(?P<unit>mm\b|in\b|°))?(?: (?:\| )?\((?P<error>[+−-]\d+\.\d\d\d?)\))?"
)
_NEAR = 25
"""Letters between two figures of one list, such as "Ø 24.00, 3.00 deep; Ø 22.00, 44.16 deep"."""
_ALIKE = re.compile(r", | · (?:\| )?")
_CELL = re.compile(r"(?:mm|treble|bass) (?:\| )?$")


@dataclass(frozen=True)
class Reading:
    """One number as printed.

    Attributes:
        text: as printed.
        value: mm or degrees; of a fraction with its error beside it, with that taken off.
        half: by how much the true value may differ from it, mm or degrees.
        place: what one in its last place is worth, mm or degrees.
    """

    text: str
    value: float
    half: float
    place: float

    def agrees(self, value: float, *, trimmed: bool = False) -> bool:
        """Whether it is this value to its last place; of a size printed without its last zeros, to a hundredth."""
        half = 0.005 if trimmed and self.place in {0.1, 1.0} else self.half
        return abs(self.value - value) <= half + SLACK

    def altered(self) -> Iterator[Reading]:
        """One more and one less in its last place."""
        for step in (self.place, -self.place):
            yield replace(self, value=self.value + step)


@dataclass(frozen=True)
class Figure:
    """A number in one unit, and the same in others: (readings,), and where it stands in the text."""

    readings: tuple[Reading, ...]
    start: int

    def agrees(self, value: float, *, trimmed: bool = False) -> bool:
        """Whether each of its readings is this value."""
        return all(
            reading.agrees(value, trimmed=trimmed and n == 0) for n, reading in enumerate(self.readings)
        )

    def altered(self) -> Iterator[Figure]:
        """The figure with one reading off by one in its last place."""
        for n, reading in enumerate(self.readings):
            for other in reading.altered():
                yield replace(self, readings=(*self.readings[:n], other, *self.readings[n + 1 :]))

    def __str__(self) -> str:
        return " = ".join(reading.text for reading in self.readings)


@dataclass
class _Token:
    start: int
    end: int
    reading: Reading
    leads: bool


def read(text: str, unit: str) -> tuple[str, list[Figure]]:
    """A text with a mark in place of each figure, and the figures.

    Args:
        text: of one page.
        unit: the job's: "mm" or "in". It leads; the other one follows.
    """
    groups = _grouped(text, list(_tokens(text, unit)))
    marked, at = "", 0
    spots = sorted(
        (token.start, token.end, n, token is group[0]) for n, group in enumerate(groups) for token in group
    )
    for start, end, n, leads in spots:
        marked += text[at:start] + (f"«{n}»" if leads else "")
        at = end
    return _flat(marked + text[at:]), [
        Figure(tuple(t.reading for t in group), group[0].start) for group in groups
    ]


def _flat(marked: str) -> str:
    """Without the bars between cells and what is left of the second units."""
    marked = re.sub(
        r"[(\[](?: ?(?:to|×)(?: \|)? ?)?[)\]]|(?<=»)(?:[, ]+to(?= (?!\| the)|$))?[ ,|·]*(?=,? to \||[|·,])",
        " ",
        marked,
    )
    return re.sub(r"\s+", " ", re.sub(r"\|| ·|≈", " ", marked)).strip()


def _tokens(text: str, unit: str) -> Iterator[_Token]:
    for found in _NUMBER.finditer(text):
        number, said = found["number"], found["unit"]
        fraction, decimals = "/" in number, len(number.partition(".")[2])
        follows = text[found.end() : found.end() + 2] == " ·" and (
            fraction or found["near"] or re.search(r"(?:in|nut|treble|bass) (?:\| )?$", text[: found.start()])
        )
        alone = (
            _CELL.search(text[: found.start()])
            and text[found.end() :].startswith((" |", ""))
            and (found.end() == len(text) or text[found.end() : found.end() + 2] == " |")
        )
        grain = (
            number == "1/64" and said == "in" and not found["error"]
        )  # "To 1/64 in" says how fine, not how long
        if grain or not (fraction or decimals or said or found["near"] or found["error"] or follows or alone):
            continue
        inches = said == "in" or (said is None and (fraction or decimals >= 3 or not decimals))
        sign = -1.0 if found["sign"] in {"−", "-"} else 1.0
        scale = MM_PER_INCH if inches else 1.0
        if said == "°":
            value, half, place = float(number), 0.5 * 10.0**-decimals, 10.0**-decimals
        elif inches and not decimals:
            whole, _, rest = number.rpartition("-")
            value = float(Fraction(rest) + int(whole or 0)) * MM_PER_INCH
            half, place = (0.005 if found["error"] else MM_PER_INCH / 128), MM_PER_INCH / 64
        else:
            place = 10.0**-decimals * scale
            value, half = float(number) * scale, place / 2
        error = float((found["error"] or "0").replace("−", "-"))
        if len(found["error"] or "") == len("+0.000"):
            error, half = error * MM_PER_INCH, 0.0005 * MM_PER_INCH
        if said != "°":
            after = re.search(
                r"(?<![A-Z])(?<![A-Z]\d)\d in (?:\| )?$", text[: found.start()]
            )  # 0.875 in 7/8: the same once more
            leads = (unit == "in") == inches and not (found["near"] or (inches and (follows or after)))
        else:
            leads = True
        reading = Reading(found[0].strip(), sign * value - error, half, place)
        yield _Token(found.start(), found.end(), reading, leads)


def _grouped(text: str, tokens: list[_Token]) -> list[list[_Token]]:
    """Each figure's tokens: those in brackets go with what is before them, else seconds in order with the last leads."""
    groups: list[list[_Token]] = []
    waiting: list[list[_Token]] = []
    seconds: list[list[_Token]] = []

    def settle() -> None:
        nonlocal waiting, seconds
        if not seconds:
            return
        if len(seconds) > len(waiting) == 1:
            waiting[0].extend(token for second in seconds for token in second)
        else:
            for second, group in zip(seconds[::-1], waiting[::-1], strict=False):
                group.extend(second)
            groups.extend(seconds[: max(0, len(seconds) - len(waiting))])
        waiting, seconds = [], []

    last: _Token | None = None
    for token in tokens:
        between = "" if last is None else text[last.end : token.start]
        if last is not None and between in {" (", " ["} and text[token.end : token.end + 1] in {")", "]"}:
            group = next(group for group in reversed([*groups, *seconds]) if group[-1] is last)
            group.append(token)
            waiting = [each for each in waiting if each is not group]
        elif token.leads:
            settle()
            groups.append([token])
            if waiting and token.start - waiting[-1][-1].end > _NEAR:
                waiting = []
            if not token.reading.text.endswith("°"):
                waiting.append(groups[-1])
        elif (
            seconds
            and last in seconds[-1]
            and _ALIKE.fullmatch(between)
            and last.reading.place == MM_PER_INCH / 64
        ):
            seconds[-1].append(token)
        else:
            seconds.append([token])
        last = token
    settle()
    return groups
