"""Where each of the plan's numbers is measured: the instrument from the front, each length a lettered line."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from string import ascii_uppercase
from typing import NamedTuple

from scribeline.drawing.face import text_width
from scribeline.drawing.sheet import (
    CENTRE,
    CUT,
    LEAST_LETTERING,
    LETTERING,
    OUTLINE,
    THIN,
    Item,
    Line,
    Path,
    Text,
)
from scribeline.layout import Fret, Layout, Measurable, Point

WIDTH = 150.0
"""Of the picture, mm."""

_STEP = 2.4 * LEAST_LETTERING
"""From one line under the instrument to the next, mm."""


class _Ends(NamedTuple):
    """The two ends of a length; whether it runs along the centreline, so that its line stands under the instrument."""

    start: Point
    end: Point
    along: bool


def letters(checks: Sequence[Measurable], layout: Layout) -> Mapping[str, str]:
    """The letter of each number that the picture shows, by its name."""
    shown = [each.id for each in checks if _ends(layout, each.id) is not None]
    return dict(zip(shown, ascii_uppercase, strict=False))


def where_measured(checks: Sequence[Measurable], layout: Layout) -> tuple[Item, ...]:
    """The picture, for those of the numbers that it can show.

    Args:
        checks: the numbers, in the order of their letters.
        layout: where everything is.
    """
    far = max(point.x for point in layout.outline)
    scale = WIDTH / (far + 10.0)
    low = min(point.y for point in layout.outline) * scale

    def at(place: Point) -> Point:
        return Point(place.x * scale, place.y * scale)

    items: list[Item] = [
        Path(THIN, tuple(at(each) for each in layout.outline), closed=True),
        Path(OUTLINE, tuple(at(each) for each in _board(layout)), closed=True),
        Line(CENTRE, at(Point(-8.0, 0.0)), at(Point(far + 8.0, 0.0))),
    ]
    if layout.bridge is not None:
        items += [Path(OUTLINE, tuple(map(at, ring)), closed=True) for ring in layout.bridge.outlines]
    level = low - 3.0
    for name, letter in letters(checks, layout).items():
        ends = _ends(layout, name)
        assert ends is not None
        start, end = at(ends.start), at(ends.end)
        if ends.along:
            level -= _STEP
            items += _under(start, end, level, letter)
        else:
            items += _straight(start, end, letter)
    return tuple(items)


def _board(layout: Layout) -> tuple[Point, ...]:
    first, last = layout.frets[0], layout.board_ends
    nut = layout.nut_line(abs(first.treble.y) * 0.97)
    return (nut[0], last[0], last[1], nut[1])


def _under(start: Point, end: Point, level: float, letter: str) -> Iterator[Item]:
    """A length along the instrument, with the lines that lead down to it."""
    for place in (start, end):
        yield Line(THIN, place, Point(place.x, level - 1.0))
    yield Line(CUT, Point(start.x, level), Point(end.x, level))
    yield from _lettered(Point((start.x + end.x) / 2, level + 0.6), letter)


def _straight(start: Point, end: Point, letter: str) -> Iterator[Item]:
    yield Line(CUT, start, end)
    yield from _lettered(Point((start.x + 2 * end.x) / 3, (start.y + 2 * end.y) / 3 + 0.6), letter)


def _lettered(place: Point, letter: str) -> Iterator[Item]:
    wide = text_width(letter, LEAST_LETTERING)
    yield Text(LETTERING, (place.x - wide / 2, place.y), letter, LEAST_LETTERING, bold=True)


def _ends(layout: Layout, name: str) -> _Ends | None:
    """The two ends of a number that is a length seen from the front; None of any other."""
    twelfth, last, bridge = layout.frets[11], layout.frets[-1], layout.bridge
    origin = layout.datum("nut").point
    begins = {
        "nut": Point(origin.x, origin.y),
        "12th": _middle(twelfth),
        "pocket-end": Point(layout.pocket_end, 0.0),
    }
    if name.startswith("margin-"):
        return _margin(layout, name)
    stops = {"12th": _middle(twelfth), "last-slot": _middle(last)}
    if bridge is not None:
        stops |= {each.id: each.at for each in bridge.marks}
        if name.startswith("diagonal-"):
            treble, bass = bridge.corners
            pair = (twelfth.treble, bass.at) if name.endswith("treble") else (twelfth.bass, treble.at)
            return _Ends(*pair, along=False)
    start, _, end = name.partition("-to-")
    return _Ends(begins[start], stops[end], along=True) if start in begins and end in stops else None


def _middle(fret: Fret) -> Point:
    return Point(fret.x, (fret.treble.y + fret.bass.y) / 2)


def _margin(layout: Layout, name: str) -> _Ends:
    """From an outer string's middle at the last fret to the board's edge."""
    last = layout.frets[-1]
    string, edge = (
        (layout.strings[0], last.treble) if name.endswith("treble") else (layout.strings[-1], last.bass)
    )
    share = (last.x - string.nut.x) / (string.saddle.x - string.nut.x)
    return _Ends(Point(last.x, string.nut.y + share * (string.saddle.y - string.nut.y)), edge, along=False)
