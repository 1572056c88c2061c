"""A way out drawn to scale: the old hole, its plug, the new hole and what covers them, seen square to the face."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from scribeline.drawing.sheet import (
    CENTRE,
    CUT,
    HIDDEN,
    LEAST_LETTERING,
    LETTERING,
    OUTLINE,
    PHANTOM,
    THIN,
    Circle,
    Item,
    Layer,
    Line,
    Path,
    Text,
    Window,
)

if TYPE_CHECKING:
    from scribeline.rescue import Drawn

SCALES = (5.0, 2.0, 1.0, 0.5, 0.2, 0.1)
"""Of ISO 5455, the greatest first."""

LAYERS: dict[str, Layer] = {"old": HIDDEN, "plug": OUTLINE, "new": CUT, "cover": PHANTOM}
"""Which line each part of a way is drawn in."""

_LEGEND = 6.0
"""Height of a line of the legend under the drawing, mm."""

_SAMPLE = 9.0
"""Length of a line's sample in it, mm."""

_NEAR = 25.0
"""How far from the holes a part's edge is still shown, mm."""

_AROUND = 2.0
"""Room left round what is drawn, mm on the paper."""


def way_view(drawn: Sequence[Drawn], room: Window) -> tuple[Item, ...]:
    """The drawing with its scale and a legend of its lines; nothing where a way has none.

    Args:
        drawn: the way's lines, mm, towards the tail and towards the treble.
        room: where it may stand, legend and all, mm.
    """
    if not drawn:
        return ()
    left, bottom, right, top = room
    names = {(each.line, each.name) for each in drawn}
    low = bottom + _LEGEND * (len(names) + 1)
    first = _extent(drawn)
    wide, tall = first[2] - first[0], first[3] - first[1]
    fits = (
        scale
        for scale in SCALES
        if wide * scale <= right - left - 2 * _AROUND and tall * scale <= top - low - 2 * _AROUND
    )
    scale = next(fits, SCALES[-1])
    middle = (first[0] + first[2]) / 2, (first[1] + first[3]) / 2
    centre = (left + right) / 2, (low + top) / 2

    def at(place: Sequence[float]) -> tuple[float, float]:
        return centre[0] + (place[0] - middle[0]) * scale, centre[1] + (place[1] - middle[1]) * scale

    marks: list[Item] = []
    shown: list[tuple[str, str]] = []
    for each in drawn:
        layer = LAYERS[each.line]
        if each.centre is not None:
            spot = at(each.centre)
            lines: list[Item] = [Circle(layer, spot, each.radius * scale)]
            if each.line in {"old", "new"}:
                lines += _cross(spot, each.radius * scale)
        else:
            lines = list(_within(layer, [at(place) for place in each.ring], (left, low, right, top)))
        marks += lines
        if lines and (each.line, each.name) not in shown:
            shown.append((each.line, each.name))
    return (
        *marks,
        Path(THIN, ((left, low), (right, low), (right, top), (left, top)), closed=True),
        *_legend(shown, scale, (left, low)),
    )


def _within(layer: Layer, ring: Sequence[tuple[float, float]], window: Window) -> Iterator[Item]:
    """What shows of an outline in a window, so that no writer has to cut it."""
    import shapely

    whole = shapely.LinearRing(ring)
    inside = shapely.box(*window)
    if inside.covers(whole):
        yield Path(layer, tuple(ring), closed=True)
        return
    parts = shapely.line_merge(shapely.LineString([*ring, ring[0]]).intersection(inside))
    for part in shapely.get_parts(parts):
        if part.geom_type == "LineString" and part.length > 0:
            yield Path(layer, tuple((x, y) for x, y in shapely.get_coordinates(part).tolist()))


def _extent(drawn: Sequence[Drawn]) -> Window:
    """What must be seen: holes and plugs whole, and of each part over them the nearest edge, where one is near."""
    xs: list[float] = []
    ys: list[float] = []
    covers = [each.ring for each in drawn if each.line == "cover" and each.ring]
    for each in drawn:
        if each.centre is not None:
            xs += [each.centre.x - each.radius, each.centre.x + each.radius]
            ys += [each.centre.y - each.radius, each.centre.y + each.radius]
        elif each.line != "cover":
            xs += [place.x for place in each.ring]
            ys += [place.y for place in each.ring]
    for ring in covers:
        import shapely

        middle = shapely.Point((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2)
        edge = shapely.LinearRing(ring)
        if edge.distance(middle) <= _NEAR:
            x, y = shapely.get_coordinates(shapely.shortest_line(edge, middle))[0].tolist()
            xs.append(x)
            ys.append(y)
    return min(xs), min(ys), max(xs), max(ys)


def _cross(spot: tuple[float, float], radius: float) -> Iterator[Item]:
    """The centre lines of a hole, a little past its edge."""
    x, y = spot
    reach = radius + 1.5
    yield Line(CENTRE, (x - reach, y), (x + reach, y))
    yield Line(CENTRE, (x, y - reach), (x, y + reach))


def _legend(names: Sequence[tuple[str, str]], scale: float, corner: tuple[float, float]) -> Iterator[Item]:
    x, y = corner
    for number, (line, name) in enumerate(names, start=1):
        level = y - number * _LEGEND + 1.5
        yield Line(LAYERS[line], (x, level + LEAST_LETTERING / 2), (x + _SAMPLE, level + LEAST_LETTERING / 2))
        yield Text(LETTERING, (x + _SAMPLE + 2.0, level), name, LEAST_LETTERING)
    told = f"{scale:g}:1" if scale >= 1 else f"1:{1 / scale:g}"
    level = y - (len(names) + 1) * _LEGEND + 1.5
    words = f"{told}, tail to the right, treble up"
    yield Text(LETTERING, (x, level), words, LEAST_LETTERING)
