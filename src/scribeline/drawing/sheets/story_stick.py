"""The story stick: every mark along the instrument at full size with its distance from the nut, in pieces to lay end to end.

The marks are for the eye: over 150 mm the numbers are what is set out. Joins lie between marks.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from scribeline.drawing.marks import paragraph
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    CUT,
    DIMENSION,
    HIDDEN,
    LEAST_LETTERING,
    LETTERING,
    OUTLINE,
    THIN,
    Item,
    Line,
    Path,
    Text,
)
from scribeline.drawing.sheets.office import (
    NUMBERS_GOVERN,
    STANDARD_SCALES,
    Office,
    Page,
    full_size_bar,
    spaced,
)
from scribeline.drawing.sheets.plans import bridge_stations
from scribeline.lengths import both_units, each_unit, in_unit
from scribeline.plan import Plan

_STICK, _LABEL = 7.0, 34.5
"""Height of the stick and of the labels under it, mm."""
_KINK, _STEEPEST = (2.0, 8.0), 0.13
"""Least and greatest height of the lines from marks to labels, mm, and what of their length across they rise between these."""
_PITCH = 13.2
"""From one label to the next, mm."""
_ASIDE, _PAST = 4.5, 7.0
"""Of the first label's line from where a piece begins, and of the last one's from where the page's room ends, mm."""
_APART = 1.5
"""Marks nearer to each other than this are drawn as thin lines, so that each is seen, mm."""
_BEYOND = 5.0
"""What the stick reaches beyond its first and its last mark, mm."""
_BETWEEN = 1.0
_CLEAR = 4.0
"""Of a join from the marks on both sides, mm; nearer marks are parted half-way."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A place along the centreline.

    Attributes:
        name: what is there.
        x: from the nut's front face, mm.
        bold: whether more hangs on it than on a fret.
    """

    name: str
    x: float
    bold: bool = False


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of the stick.

    Attributes:
        start: where it begins, from the nut, mm.
        end: where it ends.
        marks: what lies on it.
    """

    start: float
    end: float
    marks: tuple[Mark, ...]


def marks(plan: Plan) -> list[Mark]:
    """Nut, frets, the neck pocket's end wall, the bridge and the tail, in their order."""
    layout = plan.layout
    nut = layout.datum("nut").point.x
    found = [
        Mark("nut", nut, bold=True),
        *(Mark(f"fret {fret.n}", fret.x, bold=fret.n == 12) for fret in layout.frets),
        Mark(
            "board end" if plan.job.document.neck.runs_through else "end wall", layout.pocket_end, bold=True
        ),
        Mark("scale line", layout.scale),
        *(Mark(_short(station.name), station.x, bold=True) for station in bridge_stations(plan)),
        Mark("tail", layout.datum("tail").point.x, bold=True),
    ]
    return sorted((replace(mark, x=mark.x - nut) for mark in found), key=lambda mark: mark.x)


def _short(name: str) -> str:
    """What a place at the bridge is called where there is little room."""
    name = name.removesuffix("'s front edge").removesuffix(" row")
    return name.replace("string-hole row S", "string hole S").replace("string-hole row", "string row")


def pieces(found: Sequence[Mark], longest: float, most: int) -> list[Piece]:
    """The stick in few pieces, parted between two of its marks.

    Args:
        found: its marks in their order.
        longest: the length of a piece, mm.
        most: how many marks have room for their labels on one.
    """
    start, left = found[0].x - _BEYOND, list(found)
    parted: list[Piece] = []
    while left:
        reach = [mark for mark in left if mark.x + _BEYOND <= start + longest]
        held = max(1, len(reach) if len(reach) <= most else _widest_gap(left, most))
        if held == len(left):
            break
        before, after = left[held - 1].x, left[held].x
        clear = min(_CLEAR, (after - before) / 2)
        join = max(before + clear, min(start + longest, after - clear))
        parted.append(Piece(start, join, tuple(left[:held])))
        start, left = join, left[held:]
    return [*parted, Piece(start, found[-1].x + _BEYOND, tuple(left))]


def _widest_gap(marks: Sequence[Mark], most: int) -> int:
    """How many marks stand before the widest gap of the second half of those that one piece can label."""
    return max(range((most + 1) // 2, most + 1), key=lambda held: (marks[held].x - marks[held - 1].x, held))


def story_stick_pages(office: Office) -> list[Page]:
    """The stick's pieces under one another, as many on a page as it holds."""
    left, bottom, right, top = office.window
    parted = pieces(marks(office.plan), right - left - 2.0, _labels_between(left + 1.0, right))
    foot = bottom + 18.0
    pages: list[Page] = []
    items: list[Item] = []
    low = top
    for n, piece in enumerate(parted):
        corner = (left + 1.0, low)
        if items and low - _height(piece, corner[0], right) < foot:
            pages.append(_page(office, parted, items))
            items, corner = [], (left + 1.0, top)
        items += _drawn(office.plan, piece, (n, len(parted)), corner, right)
        low = corner[1] - _height(piece, corner[0], right) - _BETWEEN
    return [*pages, _page(office, parted, items)]


def _page(office: Office, parted: Sequence[Piece], items: Sequence[Item]) -> Page:
    """What is drawn of the stick, over how its pieces go together and the bar."""
    left, bottom, right, _ = office.window
    told = _told(office, parted, (left, bottom + 17.5), right - left)
    return Page("Story stick", (*told, *items, *full_size_bar(office)), "from the nut", STANDARD_SCALES[0][0])


def _height(piece: Piece, u0: float, right: float) -> float:
    """Of a piece that begins at a place, with its labels, mm."""
    return _STICK + _kink(*_places(piece, u0, right)) + _LABEL


def _places(piece: Piece, u0: float, right: float) -> tuple[list[float], list[float]]:
    """Where a piece's marks are across the page, and where their labels stand."""
    wanted = [u0 + mark.x - piece.start for mark in piece.marks]
    return wanted, _labelled(wanted, u0 + _ASIDE, right - _PAST)


def _kink(wanted: Sequence[float], labels: Sequence[float]) -> float:
    """Height of the lines from marks to labels, mm: more where labels stand far aside, so that each line can be followed."""
    least, most = _KINK
    aside = max(abs(at - u) for at, u in zip(labels, wanted, strict=True))
    return min(most, max(least, _STEEPEST * aside))


def _told(office: Office, parted: Sequence[Piece], at: tuple[float, float], width: float) -> Iterator[Item]:
    """How the pieces are laid together, and what must measure true across each join."""
    across = [
        f"{_letter(n)}, {one.marks[-1].name} to {other.marks[0].name}: {big} ({small})"
        for n, (one, other) in enumerate(pairwise(parted))
        for big, small in (each_unit(other.marks[0].x - one.marks[-1].x, office.plan.unit),)
    ]
    start = office.plan.job.document.nut.start("the nut's front face")
    words = f"Every distance is from {start}. {NUMBERS_GOVERN} Check across the joins: {'; '.join(across)}."
    yield from paragraph(in_unit(words, office.plan.unit), at, width, height=LEAST_LETTERING).items


def _drawn(
    plan: Plan, piece: Piece, place: tuple[int, int], corner: tuple[float, float], right: float
) -> Iterator[Item]:
    """One piece, hung from its top left corner; `place` is which of how many it is, `right` where the page's room ends."""
    number, count = place
    u0, top = corner
    low = top - _STICK
    end = u0 + piece.end - piece.start
    for y in (top, low):
        yield Line(OUTLINE, (u0, y), (end, y))
    for x, letter, side in ((u0, number - 1, 1), (end, number, -1)):
        outer = letter < 0 or letter >= count - 1
        yield Line(OUTLINE if outer else HIDDEN, (x, low), (x, top))
        if not outer:
            name = _letter(letter)
            yield Text(
                LETTERING,
                (x + 1.2 * side, top - 1.0 - LEAST_LETTERING),
                name,
                LEAST_LETTERING,
                "start" if side > 0 else "end",
                bold=True,
            )
    wanted, labels = _places(piece, u0, right)
    kink = _kink(wanted, labels)
    for mark, u, at in zip(piece.marks, wanted, labels, strict=True):
        fine = not mark.bold or any(0 < abs(other - u) < _APART for other in wanted)
        yield Path(THIN if fine else CUT, ((u, top), (u, low)), ref=f"story-{mark.name}")
        yield Path(DIMENSION, ((u, low), (at, low - kink)))
        big, small = both_units(mark.x, plan.unit)
        level = low - kink - 0.5
        lines = (
            (mark.name, -2.0, ACTED_ON_LETTERING),
            (big, 3.0, ACTED_ON_LETTERING),
            (small, 6.6, LEAST_LETTERING),
        )
        for words, aside, height in lines:
            bold = mark.bold and height > LEAST_LETTERING
            yield Text(LETTERING, (at + aside, level), words, height, "end", 90.0, bold=bold)


def _labels_between(u0: float, right: float) -> int:
    """How many labels stand abreast under a piece that begins at a place, where the page's room ends."""
    return 1 + int((right - _PAST - u0 - _ASIDE) / _PITCH)


def _labelled(wanted: Sequence[float], low: float, high: float) -> list[float]:
    """Where the labels of marks stand: as near to them as may be, apart from each other, between two limits."""
    places = spaced(wanted, _PITCH)
    for n in reversed(range(len(places))):
        places[n] = min(places[n], high)
        high = places[n] - _PITCH
    for n, place in enumerate(places):
        places[n] = max(place, low)
        low = places[n] + _PITCH
    return places


def _letter(join: int) -> str:
    """A join's name."""
    return chr(ord("A") + join)
