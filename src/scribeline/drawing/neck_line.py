"""The neck's line over the body, drawn so much wider than long that a tenth of a millimetre shows."""

from __future__ import annotations

from dataclasses import dataclass

from scribeline.drawing.face import text_width
from scribeline.drawing.sheet import (
    CENTRE,
    CUT,
    LEAST_LETTERING,
    LETTERING,
    OUTLINE,
    PHANTOM,
    THIN,
    Item,
    Line,
    Text,
    Window,
)
from scribeline.layout import Layout, Settled
from scribeline.lengths import JobUnit, both_units

WIDENED = (50.0, 20.0, 10.0, 5.0, 2.0)
"""How many times wider than long it may be drawn, the most first."""

_HALF_BRIDGE = 3.0
"""Half of what stands for the bridge, mm of the picture."""


@dataclass(frozen=True, slots=True)
class _View:
    """Where places along the instrument and off the centreline stand on the picture."""

    left: float
    middle: float
    along: float
    across: float

    def at(self, x: float, off: float) -> tuple[float, float]:
        return self.left + x * self.along, self.middle + off * self.across


def neck_line_picture(
    layout: Layout, room: Window, unit: JobUnit, choice: Settled | None = None
) -> tuple[Item, ...]:
    """The body's centreline, the neck's line and the bridge, seen from the front with the treble side up.

    Args:
        layout: with the neck's line as read.
        room: where it may stand, mm.
        unit: of the job.
        choice: what is moved; None for how it was read, with the bridge where it was planned first.
    """
    read = layout.neck_read
    if read is None:
        return ()
    off, turn = (read.off, read.turn) if choice is None else (choice.off, choice.turn)
    line = layout.bridge_line
    bridge, askew = (0.0, 0.0) if choice is None else (choice.bridge, choice.bridge_turn)
    ends = [_off(read.wall, off, turn, x) for x in (0.0, line)]
    view = _view(
        layout, room, [*ends, bridge, *(_off(read.wall, read.off, read.turn, x) for x in (0.0, line))]
    )
    end = line + 30.0
    items: list[Item] = [Line(CENTRE, view.at(-12.0, 0.0), view.at(end, 0.0))]
    if choice is not None and (choice.at_end or choice.at_mouth):
        was = [view.at(x, _off(read.wall, read.off, read.turn, x)) for x in (0.0, read.wall)]
        items.append(Line(PHANTOM, was[0], was[1]))
    items.append(Line(CUT, view.at(0.0, ends[0]), view.at(line, ends[1])))
    items += [
        Line(THIN, view.at(x, -_TICK / view.across), view.at(x, _TICK / view.across))
        for x in (0.0, read.wall)
    ]
    u, v = view.at(line, bridge)
    lean = askew * view.across / view.along * _HALF_BRIDGE
    items.append(Line(OUTLINE, (u + lean, v - _HALF_BRIDGE), (u - lean, v + _HALF_BRIDGE)))
    for x, words in (
        (0.0, "nut"),
        (read.wall, layout.datum("pocket-end").name.removeprefix("pocket ")),
        (line, "bridge"),
    ):
        away = _off(read.wall, off, turn, x) if x != line or choice is None else bridge
        items += _said(view, (x, away), words, unit, room)
    times = view.across / view.along
    items.append(
        Text(
            LETTERING,
            (room[0], room[1]),
            f"sideways {times:.0f} times larger, treble side up",
            LEAST_LETTERING,
        )
    )
    return tuple(items)


_TICK = 1.5
"""Half of a tick across the centreline, mm of the picture."""


def _off(wall: float, off: float, turn: float, x: float) -> float:
    return off + (x - wall) * turn


def _view(layout: Layout, room: Window, offs: list[float]) -> _View:
    left, bottom, right, top = room
    along = (right - left - 16.0) / (layout.bridge_line + 42.0)
    tall = top - bottom - 6.4 * LEAST_LETTERING
    most = max(0.1, *(abs(each) for each in offs))
    times = next((each for each in WIDENED if 2 * most * each * along <= tall), WIDENED[-1])
    return _View(left + 12.0 * along + 4.0, (top + bottom) / 2, along, times * along)


def _said(view: _View, place: tuple[float, float], words: str, unit: JobUnit, room: Window) -> list[Item]:
    """What a place is called, and how far off the centreline it lies."""
    x, off = place
    u, _ = view.at(x, 0.0)
    mm = (
        "on the line"
        if abs(off) < _PLAIN
        else f"{both_units(abs(off), unit)[0]} {'treble' if off > 0 else 'bass'}"
    )
    found: list[Item] = []
    top = room[1] + 3.6 * LEAST_LETTERING if words == "bridge" else room[3]  # the end wall's stand over it
    for text, v in ((words, top - LEAST_LETTERING), (mm, top - 2.3 * LEAST_LETTERING)):
        wide = text_width(text, LEAST_LETTERING)
        found.append(
            Text(LETTERING, (max(room[0], min(u - wide / 2, room[2] - wide)), v), text, LEAST_LETTERING)
        )
    return found


_PLAIN = 0.005
"""Off the centreline by less is on it, mm: two decimals print it."""
