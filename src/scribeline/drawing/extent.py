"""How much room marks take, and whether they show in a window."""

import itertools
import math
from collections.abc import Iterable

from scribeline.drawing.drafting import exploded
from scribeline.drawing.face import DESCENT, text_width
from scribeline.drawing.place import unit
from scribeline.drawing.sheet import (
    Arc,
    Circle,
    Clip,
    Compound,
    Fill,
    Hatch,
    Item,
    Line,
    Path,
    Point,
    Text,
    Window,
)


def bounds(items: Iterable[Item]) -> Window | None:
    """The rectangle the marks cover, line widths left out; None for no marks.

    Lettering is measured with the face it is printed in. Dimensions and leaders count with their lines
    and their text.
    """
    boxes = [box for item in items if (box := box_of(item)) is not None]
    if not boxes:
        return None
    lefts, bottoms, rights, tops = zip(*boxes, strict=True)
    return (min(lefts), min(bottoms), max(rights), max(tops))


def covered(items: Iterable[Item]) -> Window:
    """The same of marks of which at least one covers something."""
    box = bounds(items)
    assert box is not None
    return box


def box_of(item: Item) -> Window | None:
    """The rectangle one mark covers; see `bounds`."""
    box: Window | None
    match item:
        case Line():
            (x0, y0), (x1, y1) = item.a, item.b
            box = (min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))
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
        case Compound():
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


def touches(item: Item, window: Window) -> bool:
    """Whether any of the mark's ink may show in the window (lettering counts with its rectangle)."""
    match item:
        case Line():
            shows = _crosses(item.a, item.b, window)
        case Circle():
            near, far = _reach(item.centre, window)
            shows = near <= item.radius <= far
        case Arc():
            near, far = _reach(item.centre, window)
            shows = near <= item.radius <= far and any(_crosses(*piece, window) for piece in _chords(item))
        case Path():
            shows = not _beyond(item.points, window) and _polyline_crosses(item.points, item.closed, window)
        case Text():
            corners = text_corners(item)
            # Turned by quarters it is a rectangle along the window's sides.
            along = item.rotation_deg % 90.0 == 0.0
            shows = not _beyond(corners, window) if along else _area_shows((corners,), window)
        case Fill():
            shows = _area_shows(item.loops, window)
        case Clip():
            inner = _overlap(item.window, window)
            shows = inner is not None and any(touches(i, inner) for i in item.items)
        case Compound() | Hatch():
            shows = any(touches(part, window) for part in exploded(item))
    return shows


def _crosses(a: Point, b: Point, window: Window) -> bool:
    """Whether the line from `a` to `b` has a point in the window (Liang and Barsky's clipping)."""
    (ax, ay), (bx, by), (left, bottom, right, top) = a, b, window
    # Most are beyond one side of it, and what is asked first must not cost.
    if (
        (ax < left and bx < left)
        or (ax > right and bx > right)
        or (ay < bottom and by < bottom)
        or (ay > top and by > top)
    ):
        return False
    enter, leave = 0.0, 1.0
    for k in (0, 1):
        low, high, step = window[k], window[k + 2], b[k] - a[k]
        if step == 0.0:
            if not low <= a[k] <= high:
                return False
            continue
        first, last = sorted(((low - a[k]) / step, (high - a[k]) / step))
        enter, leave = max(enter, first), min(leave, last)
    return enter <= leave


def _polyline_crosses(points: tuple[Point, ...], closed: bool, window: Window) -> bool:
    ends = (*points[1:], points[0]) if closed else points[1:]
    return any(_crosses(a, b, window) for a, b in zip(points, ends, strict=False))


def _beyond(points: tuple[Point, ...], window: Window) -> bool:
    """Whether all of some points lie beyond the same side of the window, so that nothing between them shows."""
    left, bottom, right, top = window
    return (
        all(x < left for x, _ in points)
        or all(x > right for x, _ in points)
        or all(y < bottom for _, y in points)
        or all(y > top for _, y in points)
    )


def _area_shows(loops: tuple[tuple[Point, ...], ...], window: Window) -> bool:
    """Whether a filled area has a point in the window: an edge crosses it, or the window lies inside."""
    loops = tuple(loop for loop in loops if not _beyond(loop, window))
    if any(_polyline_crosses(loop, True, window) for loop in loops):
        return True
    x, y = window[0], window[1]
    crossings = 0
    for loop in loops:
        for (ax, ay), (bx, by) in zip(loop, (*loop[1:], loop[0]), strict=True):
            if (ay <= y) != (by <= y) and ax + (y - ay) * (bx - ax) / (by - ay) > x:
                crossings += 1
    return crossings % 2 == 1


def _reach(point: Point, window: Window) -> tuple[float, float]:
    """The least and the greatest distance from `point` to the window."""
    near = [max(window[k] - point[k], 0.0, point[k] - window[k + 2]) for k in (0, 1)]
    far = [max(abs(window[k] - point[k]), abs(window[k + 2] - point[k])) for k in (0, 1)]
    return math.hypot(*near), math.hypot(*far)


def _chords(arc: Arc) -> list[tuple[Point, Point]]:
    """The arc as short straight pieces, none more than 0.01 mm off."""
    step = 2 * math.degrees(math.acos(max(0.0, 1 - 0.01 / max(arc.radius, 0.01))))
    count = max(1, math.ceil(arc.sweep_deg / step))
    points = []
    for n in range(count + 1):
        cos, sin = unit(arc.start_deg + arc.sweep_deg * n / count)
        points.append((arc.centre[0] + arc.radius * cos, arc.centre[1] + arc.radius * sin))
    return list(itertools.pairwise(points))


def pieces(item: Item) -> Iterable[Item]:
    """A path as its straight pieces, anything else as it is: so that what is far costs no time."""
    if not isinstance(item, Path):
        return (item,)
    points = (*item.points, item.points[0]) if item.closed else item.points
    return (Line(item.layer, a, b, item.ref) for a, b in itertools.pairwise(points))
