"""Bores from the body's edge, seen from above: two sides and an end for each of their steps, and their axis."""

from __future__ import annotations

from scribeline.drawing.sheet import CENTRE, HIDDEN, MARK, THIN, Line, Path, Point
from scribeline.features import Bore, Step

_BEYOND = 4.0
"""How far an axis is drawn on beyond the mouth, mm on the paper."""
_TICK = 7.0
"""Length of the tick that marks a bore's axis on the edge, mm on the paper."""


def lies_level(bore: Bore) -> bool:
    """Whether a bore is drawn by its sides: one from the edge, or through a pocket and not upright."""
    return bore.face == "edge" or (bore.face == "pocket" and not bore.is_upright)


def on_plan(bore: Bore, along: float, aside: float) -> Point:
    """A place beside the axis seen from above, mm: `aside` is square to the heading."""
    x, y, _ = bore.along(along)
    flat = (bore.axis.x**2 + bore.axis.y**2) ** 0.5
    return (x - aside * bore.axis.y / flat, y + aside * bore.axis.x / flat)


def sides(bore: Bore, step: Step) -> tuple[Point, ...]:
    """One step from its mouth on one side to its end, over the bit's point, and back on the other side."""
    r, base = step.diameter / 2, step.bit.point_width / 2
    start = 0.0
    for before in bore.steps:
        if before is step:
            break
        start = before.depth
    tip = () if step.bit.point <= 0 else ((step.depth, base), (step.point_reaches, 0.0), (step.depth, -base))
    places = [(start, r), (step.depth, r), *tip, (step.depth, -r), (start, -r)]
    return tuple(on_plan(bore, along, aside) for along, aside in places)


def axis_line(bore: Bore, beyond: float) -> tuple[Point, Point]:
    """The axis from outside the mouth to the bit's tip and on."""
    return on_plan(bore, -beyond, 0.0), on_plan(bore, bore.depth_stop + beyond / 2, 0.0)


def hidden_marks(bore: Bore, scale: float) -> list[Line | Path]:
    """Dashed sides and the axis, in the instrument's frame."""
    items: list[Line | Path] = [Path(HIDDEN, sides(bore, step), ref=bore.id) for step in bore.steps]
    return [*items, Line(CENTRE, *axis_line(bore, _BEYOND / scale), bore.id)]


def tick(bore: Bore, scale: float) -> list[Line | Path]:
    """A tick across the edge where the axis meets it, outwards, and the axis inwards, in the instrument's frame."""
    out = on_plan(bore, -_TICK / scale, 0.0)
    return [
        Line(MARK, out, on_plan(bore, 0.0, 0.0), bore.id),
        Line(THIN, on_plan(bore, 0.0, 0.0), on_plan(bore, _TICK / scale, 0.0), bore.id),
    ]
