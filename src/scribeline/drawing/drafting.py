"""What dimensions, leaders and hatching look like: plain lines, arrowheads and lettering.

Dimensions follow ISO 129-1: narrow continuous lines, extension lines that leave a gap at the work and run
past the dimension line by eight line widths, closed filled arrowheads, the value above the dimension line
and readable from the bottom or the right of the sheet. The second unit stands smaller below the line.
"""

import math
from collections.abc import Iterable

from scribeline.drawing.face import text_width
from scribeline.drawing.place import readable, unit
from scribeline.drawing.sheet import (
    LEAST_LETTERING,
    Clip,
    Dimension,
    Drafted,
    Fill,
    Hatch,
    Item,
    Layer,
    Leader,
    Line,
    Mark,
    Point,
    RoundDimension,
    Text,
)

ARROW_LENGTH = 3.0
ARROW_WIDTH = 1.0
TEXT_GAP = 0.9
"""White between a line and the lettering on it, mm."""
SMALL_TEXT = 0.7
"""Height of the second unit in heights of the first (never under the least lettering)."""

Plain = Line | Fill | Text


def exploded(item: Drafted) -> tuple[Plain, ...]:
    """The lines, arrowheads and lettering a mark stands for."""
    match item:
        case Dimension():
            return _linear(item)
        case RoundDimension():
            return _round(item)
        case Leader():
            arrow = math.degrees(math.atan2(item.tip[1] - item.elbow[1], item.tip[0] - item.elbow[0]))
            return _with_landing(item, item.tip, item.elbow, arrow)
        case Hatch():
            return hatch_lines(item)


def small_height(height: float) -> float:
    """Height of the second unit beside a value lettered `height` high."""
    return max(LEAST_LETTERING, SMALL_TEXT * height)


def dimension_line(dimension: Dimension) -> tuple[Point, Point]:
    """The ends of the dimension line that belong to `a` and `b`."""
    dx, dy = _direction(dimension)

    def foot(p: Point) -> Point:
        away = (dimension.at[0] - p[0]) * -dy + (dimension.at[1] - p[1]) * dx
        return (p[0] - dy * away, p[1] + dx * away)

    return foot(dimension.a), foot(dimension.b)


def _direction(dimension: Dimension) -> Point:
    if dimension.along == "x":
        return (1.0, 0.0)
    if dimension.along == "y":
        return (0.0, 1.0)
    (ax, ay), (bx, by) = dimension.a, dimension.b
    length = math.hypot(bx - ax, by - ay)
    return ((bx - ax) / length, (by - ay) / length)


def _linear(dimension: Dimension) -> tuple[Plain, ...]:
    layer, ref = dimension.layer, dimension.ref
    foot_a, foot_b = dimension_line(dimension)
    marks: list[Plain] = [
        *_extension_line(layer, dimension.a, foot_a, ref),
        *_extension_line(layer, dimension.b, foot_b, ref),
    ]
    dx, dy = _direction(dimension)
    reading = readable(math.degrees(math.atan2(dy, dx)))
    rx, ry = unit(reading)
    start, end = sorted((foot_a, foot_b), key=lambda p: p[0] * rx + p[1] * ry)
    span = math.dist(start, end)
    arrow = _arrow_length(dimension.height)
    width = _value_width(dimension.text, dimension.small, dimension.height)

    def along(p: Point, distance: float) -> Point:
        return (p[0] + rx * distance, p[1] + ry * distance)

    arrows_inside = span >= 2.6 * arrow
    text_inside = width + 1.0 <= span
    # How far the line runs on past each end: for arrows that point inwards, and for text that stands there.
    tail = 0.0 if arrows_inside else 2.0 * arrow
    runs = {"start": tail, "end": tail}
    middle = along(start, span / 2)
    if not text_inside:
        run = (0.0 if arrows_inside else arrow) + 1.0 + width
        runs[dimension.outside] = run
        text_at = run - width / 2
        middle = along(end, text_at) if dimension.outside == "end" else along(start, -text_at)
    marks.append(Line(layer, along(start, -runs["start"]), along(end, runs["end"]), ref))
    towards_start, towards_end = reading + 180.0, reading
    if not arrows_inside:
        towards_start, towards_end = towards_end, towards_start
    marks += [_arrowhead(layer, start, towards_start, arrow, ref)]
    marks += [_arrowhead(layer, end, towards_end, arrow, ref)]
    marks += _value(dimension, middle, reading)
    return tuple(marks)


def _extension_line(layer: Layer, point: Point, foot: Point, ref: str) -> list[Line]:
    gap = overshoot = 8.0 * layer.width
    length = math.dist(point, foot)
    if length <= gap:
        return []
    ux, uy = (foot[0] - point[0]) / length, (foot[1] - point[1]) / length
    a = (point[0] + ux * gap, point[1] + uy * gap)
    b = (foot[0] + ux * overshoot, foot[1] + uy * overshoot)
    return [Line(layer, a, b, ref)]


def _round(item: RoundDimension) -> tuple[Plain, ...]:
    ux, uy = unit(item.angle_deg)
    (cx, cy), out = item.centre, item.radius + item.reach
    tip = (cx + item.radius * ux, cy + item.radius * uy)
    elbow = (cx + out * ux, cy + out * uy)
    return _with_landing(item, tip, elbow, item.angle_deg + 180.0)


def _with_landing(
    item: RoundDimension | Leader, tip: Point, elbow: Point, arrow_deg: float
) -> tuple[Plain, ...]:
    """A line from `tip` to `elbow`, then level under the text, away from the tip."""
    width = _value_width(item.text, item.small, item.height)
    side = 1.0 if elbow[0] >= tip[0] - 1e-9 else -1.0
    end = (elbow[0] + side * (width + 1.0), elbow[1])
    middle = (elbow[0] + side * (width / 2 + 0.5), elbow[1])
    return (
        Line(item.layer, tip, elbow, item.ref),
        Line(item.layer, elbow, end, item.ref),
        _arrowhead(item.layer, tip, arrow_deg, _arrow_length(item.height), item.ref),
        *_value(item, middle, 0.0),
    )


def _arrow_length(height: float) -> float:
    return max(ARROW_LENGTH, 0.8 * height)


def _arrowhead(layer: Layer, tip: Point, direction_deg: float, length: float, ref: str) -> Fill:
    ux, uy = unit(direction_deg)
    half = length / ARROW_LENGTH * ARROW_WIDTH / 2
    back = (tip[0] - ux * length, tip[1] - uy * length)
    wings = ((back[0] - uy * half, back[1] + ux * half), (back[0] + uy * half, back[1] - ux * half))
    return Fill(layer, ((tip, *wings),), ref=ref)


def _value_width(text: str, small: str, height: float) -> float:
    return max(text_width(text, height), text_width(small, small_height(height)))


def _value(item: Dimension | RoundDimension | Leader, middle: Point, reading: float) -> list[Plain]:
    """The value above the line and its second unit below, both centred on `middle`."""
    ux, uy = unit(reading)
    small = small_height(item.height)
    marks: list[Plain] = []
    for text, height, up in (
        (item.text, item.height, TEXT_GAP),
        (item.small, small, -TEXT_GAP - small),
    ):
        if text:
            at = (middle[0] - uy * up, middle[1] + ux * up)
            marks.append(Text(item.layer, at, text, height, "middle", reading, ref=item.ref))
    return marks


def hatch_lines(hatch: Hatch) -> tuple[Line, ...]:
    """The lining inside the loops, by the even-odd rule.

    Lines lie on a grid through the sheet's origin, so the lining of two neighbouring areas meets.
    """
    cos, sin = unit(hatch.angle_deg)
    # Turned so that the lining is level, each line crosses the loops' edges at points to be paired off.
    loops = [[(x * cos + y * sin, y * cos - x * sin) for x, y in loop] for loop in hatch.loops]
    edges = [
        (loop[i - 1], loop[i]) for loop in loops for i in range(len(loop)) if loop[i - 1][1] != loop[i][1]
    ]
    if not edges:
        return ()
    lowest = min(min(a[1], b[1]) for a, b in edges)
    highest = max(max(a[1], b[1]) for a, b in edges)
    lines = []
    for n in range(math.ceil(lowest / hatch.spacing), math.floor(highest / hatch.spacing) + 1):
        level = n * hatch.spacing
        crossings = sorted(
            a[0] + (level - a[1]) * (b[0] - a[0]) / (b[1] - a[1])
            for a, b in edges
            if (a[1] <= level) != (b[1] <= level)
        )
        for left, right in zip(crossings[::2], crossings[1::2], strict=True):
            if right - left > 1e-6:
                a = (left * cos - level * sin, left * sin + level * cos)
                b = (right * cos - level * sin, right * sin + level * cos)
                lines.append(Line(hatch.layer, a, b, hatch.ref))
    return tuple(lines)


def dash_pattern(layer: Layer) -> tuple[float, ...]:
    """Dash and gap lengths of a layer's line, mm, dash first; empty for a continuous line.

    Lengths in line widths after ISO 128-2 (dash 12, long dash 24, gap 3). The dot is drawn 2 widths long
    instead of half a width, because a bench printer loses anything shorter.
    """
    dash, long_dash, gap, dot = (n * layer.width for n in (12.0, 24.0, 3.0, 2.0))
    return {
        "continuous": (),
        "dashed": (dash, gap),
        "chain": (long_dash, gap, dot, gap),
        "double-chain": (long_dash, gap, dot, gap, dot, gap),
        "dotted": (dot, gap),
    }[layer.style]


def by_layer(items: Iterable[Item]) -> list[tuple[Layer, list[Mark]]]:
    """The marks of each layer in painting order (rank, then first appearance); clips left out."""
    layers: dict[Layer, list[Mark]] = {}
    for item in items:
        if not isinstance(item, Clip):
            layers.setdefault(item.layer, []).append(item)
    return sorted(layers.items(), key=lambda pair: pair[0].rank)
