"""How much room marks take."""

from collections.abc import Iterable

from scribeline.drawing.drafting import exploded
from scribeline.drawing.face import DESCENT, text_width
from scribeline.drawing.place import unit
from scribeline.drawing.sheet import (
    Arc,
    Circle,
    Clip,
    Dimension,
    Fill,
    Hatch,
    Item,
    Leader,
    Line,
    Path,
    Point,
    RoundDimension,
    Text,
    Window,
)


def bounds(items: Iterable[Item]) -> Window | None:
    """The rectangle the marks cover, line widths left out; None for no marks.

    Lettering is measured with the face it is printed in. Dimensions and leaders count with their lines
    and their text.
    """
    boxes = [box for item in items if (box := _box(item)) is not None]
    if not boxes:
        return None
    lefts, bottoms, rights, tops = zip(*boxes, strict=True)
    return (min(lefts), min(bottoms), max(rights), max(tops))


def _box(item: Item) -> Window | None:
    box: Window | None
    match item:
        case Line():
            box = _around((item.a, item.b))
        case Circle():
            (x, y), r = item.centre, item.radius
            box = (x - r, y - r, x + r, y + r)
        case Arc():
            box = _around(_arc_reach(item))
        case Path():
            box = _around(item.points)
        case Text():
            box = _around(text_corners(item))
        case Hatch() | Fill():
            box = _around(tuple(p for loop in item.loops for p in loop))
        case Clip():
            box = _overlap(item.window, bounds(item.items))
        case Dimension() | RoundDimension() | Leader():
            box = bounds(exploded(item))
    return box


def _around(points: tuple[Point, ...]) -> Window:
    xs, ys = zip(*points, strict=True)
    return (min(xs), min(ys), max(xs), max(ys))


def _arc_reach(arc: Arc) -> tuple[Point, ...]:
    """The arc's ends and those of its four outermost points that it passes."""
    quarters = [float(q) for q in (0, 90, 180, 270) if (q - arc.start_deg) % 360.0 <= arc.sweep_deg]
    points = []
    for angle in (arc.start_deg, arc.end_deg, *quarters):
        cos, sin = unit(angle)
        points.append((arc.centre[0] + arc.radius * cos, arc.centre[1] + arc.radius * sin))
    return tuple(points)


def text_corners(text: Text) -> tuple[Point, Point, Point, Point]:
    """The corners of the rectangle a text covers, from just below its descenders to its capitals."""
    width = text_width(text.text, text.height, bold=text.bold)
    left = {"start": 0.0, "middle": -width / 2, "end": -width}[text.anchor]
    cos, sin = unit(text.rotation_deg)
    low, high = -DESCENT * text.height, text.height

    def corner(along: float, up: float) -> Point:
        return (text.at[0] + along * cos - up * sin, text.at[1] + along * sin + up * cos)

    right = left + width
    return (corner(left, low), corner(right, low), corner(right, high), corner(left, high))


def _overlap(a: Window, b: Window | None) -> Window | None:
    if b is None:
        return None
    box = (max(a[0], b[0]), max(a[1], b[1]), min(a[2], b[2]), min(a[3], b[3]))
    return box if box[0] <= box[2] and box[1] <= box[3] else None
