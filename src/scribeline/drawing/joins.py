"""Where the joins of a tiled drawing fall, and the marks by which its pages are laid together."""

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise

from scribeline.drawing.drafting import exploded
from scribeline.drawing.extent import bounds, pieces, touches
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    Arc,
    Circle,
    Compound,
    Fill,
    Item,
    Layer,
    Line,
    Path,
    Point,
    Text,
    Window,
)

JOIN = Layer("join", 0.25, "dotted", rank=-1)
JOIN_MARK = Layer("join mark", 0.35, rank=1)

_HOLE, _ALONG, _LETTERING, _FILL = 4, 3, 2, 1
"""How bad it is to lay a join through a hole, along a line, through lettering, through an arrowhead."""
_ON_LETTERING = 20
"""How bad it is to set a diamond on lettering, against 1 for a line."""
_FAR = 8
"""How many fortieths of the join a diamond may lie from its place."""
_TRIES = 25


def spread(
    items: Iterable[Item], axis: int, span: tuple[float, float], size: float, overlap: float
) -> list[float]:
    """Where the windows of `size` begin that cover `span` along an axis (0 for x, 1 for y).

    As few as will do. What they cover beyond the span is room to move in: the joins go where they cut the
    fewest holes and the least lettering, and do not run along a line; for equals, to the middle.
    """
    low, high = span
    step = size - overlap
    count = max(1, math.ceil((high - low - overlap) / step - 1e-9))
    spare = count * step + overlap - (high - low)
    if count == 1 or spare <= 0:
        return [low - spare / 2 + n * step for n in range(count)]
    obstacles = _obstacles(items, axis, step)
    shifts = [spare * n / (_TRIES - 1) for n in range(_TRIES)]
    shifts.sort(key=lambda shift: abs(shift - spare / 2))

    def cost(shift: float) -> int:
        bands = [(start, start + overlap) for n in range(1, count) for start in (low - shift + n * step,)]
        return sum(
            weight for a, b, weight in obstacles if any(a <= end and b >= start for start, end in bands)
        )

    best = min(shifts, key=cost)
    return [low - best + n * step for n in range(count)]


def _obstacles(items: Iterable[Item], axis: int, step: float) -> list[tuple[float, float, int]]:
    """Stretches of the axis a join had better miss: from, to, and how badly."""
    stretches = []
    for item in items:
        match item:
            case Compound():
                stretches += _obstacles(exploded(item), axis, step)
            case Line():
                stretches += _lying_along((item.a, item.b), axis)
            case Path():
                ends = (*item.points, item.points[0]) if item.closed else item.points
                stretches += _lying_along(ends, axis)
            case Circle() | Arc() | Text() | Fill():
                box = bounds((item,))
                weight = (
                    _HOLE
                    if isinstance(item, Circle | Arc)
                    else _FILL
                    if isinstance(item, Fill)
                    else _LETTERING
                )
                if box is not None and box[axis + 2] - box[axis] < step:
                    stretches.append((box[axis], box[axis + 2], weight))
            case _:
                pass  # hatching and clipped drawings may be cut anywhere
    return stretches


def _lying_along(points: Sequence[Point], axis: int) -> list[tuple[float, float, int]]:
    """Pieces that keep their place on this axis, so that a join could run along them."""
    return [
        (a[axis], a[axis], _ALONG)
        for a, b in pairwise(points)
        if abs(a[axis] - b[axis]) < 1e-6 < abs(a[1 - axis] - b[1 - axis])
    ]


def join(a: Point, b: Point, letters: str, overlap: float, drawing: Iterable[Item]) -> list[Item]:
    """A join line from `a` to `b` with two lettered diamonds, set where the drawing leaves them room.

    They are called Aa and Ab, by letters alone: a hole's number is a letter and a figure, and both stand on a page.
    """
    upright = a[0] == b[0]
    whole = _mark_box(a, b, upright, overlap)
    # A path as its straight pieces, so that its far parts cost no time.
    parted = ([piece for piece in pieces(item) if touches(piece, whole)] for item in drawing)
    near = [item for item in parted if item]
    items: list[Item] = [Line(JOIN, a, b)]
    for end, middle in (("a", 0.27), ("b", 0.73)):
        aside = sorted(range(-_FAR, _FAR + 1), key=lambda k: (abs(k), k))
        places = [_between(a, b, middle + 0.025 * k) for k in aside]
        place = min(
            places,
            key=lambda p: _touched(near, _mark_box(p, p, upright, overlap)),
        )
        items += _diamond(place, f"{letters}{end}", upright, overlap / 2)
    return items


def _touched(items: Iterable[Sequence[Item]], window: Window) -> int:
    """How badly a window touches the items, each given as its pieces: lettering is worse than many lines."""
    return sum(
        _ON_LETTERING if isinstance(parts[0], Text | Compound) else 1
        for parts in items
        if any(touches(piece, window) for piece in parts)
    )


def _between(a: Point, b: Point, share: float) -> Point:
    return (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))


def _mark_box(a: Point, b: Point, upright: bool, overlap: float) -> Window:
    """What a diamond and its letters may cover, for one anywhere from `a` to `b`."""
    across, along = overlap / 2 + 1.0 + 3.0 * ACTED_ON_LETTERING, 6.0
    dx, dy = (across, along) if upright else (along, across)
    return (min(a[0], b[0]) - dx, min(a[1], b[1]) - dy, max(a[0], b[0]) + dx, max(a[1], b[1]) + dy)


def _diamond(at: Point, name: str, upright: bool, half: float) -> list[Item]:
    """A diamond across the join, its name on either side outside the shared band."""
    (x, y), height, away = at, ACTED_ON_LETTERING, half + 1.0
    across, along = min(3.0, half - 1.0), 4.5
    dx, dy = (across, along) if upright else (along, across)
    items: list[Item] = [Path(JOIN_MARK, ((x - dx, y), (x, y - dy), (x + dx, y), (x, y + dy)), closed=True)]
    if upright:
        base = y - height / 2
        items.append(Text(JOIN_MARK, (x - away, base), name, height, "end"))
        items.append(Text(JOIN_MARK, (x + away, base), name, height, "start"))
    else:
        items.append(Text(JOIN_MARK, (x, y + away), name, height, "middle"))
        items.append(Text(JOIN_MARK, (x, y - away - height), name, height, "middle"))
    return items


def letters(count: int) -> str:
    """A, B, ... Z, AA, AB, ... without I and O, which read as figures."""
    alphabet = "ABCDEFGHJKLMNPQRSTUVWXYZ"
    name = ""
    while count >= 0:
        count, letter = divmod(count, len(alphabet))
        name = alphabet[letter] + name
        count -= 1
    return name
