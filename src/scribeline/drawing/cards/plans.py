"""The small plans on a step card: where this card's cuts lie and from where to measure; how to turn the body over."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil

from scribeline.drawing.cards.marks import box, scale_words
from scribeline.drawing.cards.told import Told
from scribeline.drawing.edge_bores import lies_level, sides
from scribeline.drawing.extent import pieces, touches
from scribeline.drawing.face import text_width
from scribeline.drawing.marks import balloon, balloon_radius
from scribeline.drawing.place import unit
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    CENTRE,
    CUT,
    DIMENSION,
    HATCHING,
    HIDDEN,
    LETTERING,
    MARK,
    OUTLINE,
    PHANTOM,
    RULING,
    TAG,
    THIN,
    Arc,
    Circle,
    Clip,
    Dimension,
    Fill,
    Hatch,
    Item,
    Line,
    Path,
    Point,
    Text,
    Window,
)
from scribeline.features import Bore, Pocket, polygon
from scribeline.layout import Mark
from scribeline.plan import Plan
from scribeline.steps import Card, Shaped, shaped_by

_SCALES = (1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 4.5, 5.0, 6.0, 7.0, 8.0, 10.0, 15.0, 20.0)
_HEAD = 6.6
"""Height of the strip of datum names over the picture, mm."""
_DATUM_WIDE = 2.6
"""Width of a datum's triangle in that strip, mm."""
_DATUM_NAME_AT = 2.0
"""How far right of its datum a name begins, mm."""
_DIMENSION_ROW, _DIMENSIONS = 11.8, 5.0
"""From one dimension to the next below it, and the capital height of their figures, mm."""
_CAPTION = 5.6
_WITH_DIMENSIONS = 80.0
"""Height from which a plan repeats the places' numbers as dimensions, mm."""
_LEAST_BODY = 18.0
"""Height of the body in a picture at least, for the names of both its sides, mm."""


def has_plan(plan: Plan, card: Card) -> bool:
    """Whether a plan helps with this card: it cuts or cleans something, or measures to the bridge."""
    works_on_holes = bool(card.features) or (card.face != "" and bool(plan.features.bores))
    return works_on_holes or _measured(plan, card) is not None


def _measured(plan: Plan, card: Card) -> Mark | None:
    """The mark of the bridge that a card measures to."""
    read = card.gate.measurable.partition("-to-")[2]
    marks = () if plan.layout.bridge is None else plan.layout.bridge.marks
    return next((mark for mark in marks if mark.id == read), None)


@dataclass(frozen=True, slots=True)
class _View:
    """From the instrument to the picture."""

    scale: float
    back: bool
    x0: float
    y0: float
    origin: Point

    def at(self, x: float, y: float) -> Point:
        v = -(y - self.y0) if self.back else y - self.y0
        return (self.origin[0] + (x - self.x0) / self.scale, self.origin[1] + v / self.scale)


def plan_view(plan: Plan, card: Card, corner: Point, width: float, height: float) -> tuple[Item, ...]:
    """The body from the face that lies up, neck to the left, this card's cuts solid, the datums named."""
    layout = plan.layout
    back = card.face == "back"
    targets = [] if card.places and height < _WITH_DIMENSIONS else _targets(plan, card)
    rows = _DIMENSION_ROW * len(targets)
    body_y = [p.y for p in layout.outline]
    tall = height - _HEAD - rows - _CAPTION
    # What shapes the body is seen on the whole of it.
    whole = max(body_y) - min(body_y) + 10.0 if shaped_by(layout, card) != Shaped() else 0.0
    lo_x, hi_x, scale = _along(plan, width, whole / tall)
    half = tall * scale / 2
    y0 = _middle(plan, card, half, (min(body_y) - 5.0, max(body_y) + 5.0))
    top = corner[1] - _HEAD
    wide = (hi_x - lo_x) / scale
    left = corner[0] + (width - wide) / 2
    view = _View(scale, back, lo_x, y0, (left, top - tall / 2))
    window = (left, top - tall, left + wide, top)
    marks = [*_shape(plan, card, view), *_body(plan, card, view)]
    items: list[Item] = [Clip(window, tuple(marks)), box((left, top), wide, tall)]
    items += _datum_lines(card, view, window, corner[0])
    balloons = _balloons(plan, card, view, window)
    items += [*_sides(plan, view, window, balloons), *balloons]
    items += _dimensions(targets, view, window, Told.on(plan, card))
    side = "back" if back else "front"
    words = f"From the {side}, {scale_words(1 / scale)}: do not scale off it"
    if text_width(words, ACTED_ON_LETTERING) > width:
        words = f"From the {side}, {scale_words(1 / scale)}"
    items.append(Text(LETTERING, (corner[0], corner[1] - height + 1.2), words, ACTED_ON_LETTERING))
    return tuple(items)


def _along(plan: Plan, width: float, least: float = 1.0) -> tuple[float, float, float]:
    """What of the instrument's length the picture shows, from where to where, and the scale that makes it fit.

    Args:
        plan: of the instrument.
        width: of the picture, mm.
        least: by how much the picture is made smaller at least.
    """
    layout = plan.layout
    left, _, right, _ = polygon(layout.outline).bounds
    low, high = min(layout.datum("12th-fret").point.x - 14.0, left), right + 6.0
    if left < layout.datum("12th-fret").point.x - 60.0:
        low = layout.datum("12th-fret").point.x - 30.0
    return low, high, next((s for s in _SCALES if (high - low) / s <= width and s >= least), _SCALES[-1])


def tallest_plan(plan: Plan, card: Card, width: float) -> float:
    """The height at which a plan of this width shows the whole body, mm."""
    _, low, _, high = polygon(plan.layout.outline).bounds
    body = (high - low + 10.0) / _along(plan, width)[2]
    return _HEAD + _DIMENSION_ROW * len(_targets(plan, card)) + _CAPTION + float(body)


def has_dimensions(plan: Plan, card: Card) -> bool:
    """Whether a plan of any size has dimensions, which it then needs the card's whole width for."""
    return not card.places and bool(_targets(plan, card))


def lowest_plan(plan: Plan, card: Card) -> float:
    """The height below which the dimensions under a plan leave it no room, mm."""
    rows = len(_targets(plan, card)) if has_dimensions(plan, card) else 0
    return _HEAD + _DIMENSION_ROW * rows + _CAPTION + _LEAST_BODY


def _targets(plan: Plan, card: Card) -> list[tuple[float, float]]:
    """(from, to) of the dimensions below the picture, when one number serves all the holes."""
    along = {round(place.at.x, 3) for place in card.places}
    holes = [bore for bore in plan.features.bores if bore.id in card.features]
    if any(place.out is not None for place in card.places):
        return []  # a hole for a wire has two marks, which its table tells
    if card.places and holes and len(along) == 1:
        x = card.places[0].at.x
    elif not card.features and (mark := _measured(plan, card)) is not None:
        x = mark.at.x
    else:
        return []
    return [(datum.point.x, x) for datum in reversed(card.datums)]


def _middle(plan: Plan, card: Card, half: float, body: tuple[float, float]) -> float:
    """Where the picture's middle lies across the body: on the centreline unless the card's cuts lie outside."""
    if body[1] - body[0] <= 2 * half:
        return (body[0] + body[1]) / 2
    ys = [y for feature in _cuts(plan, card) for y in _reach(feature)]
    if not ys or (min(ys) >= -half + 8.0 and max(ys) <= half - 8.0):
        return 0.0
    middle = (min(ys) + max(ys)) / 2
    edge = half - 12.0
    # As near to the cuts as leaves the centreline in the picture.
    return max(-edge, min(edge, middle))


def _cuts(plan: Plan, card: Card) -> list[Bore | Pocket]:
    return [feature for feature in plan.features if feature.id in card.features]


def _reach(feature: Bore | Pocket) -> tuple[float, float]:
    if isinstance(feature, Bore):
        return (feature.at.y - feature.widest / 2, feature.at.y + feature.widest / 2)
    ys = [p.y for p in feature.outline]
    return (min(ys), max(ys))


def _body(plan: Plan, card: Card, view: _View) -> Iterable[Item]:
    layout = plan.layout
    face = "back" if view.back else "top"
    solid = {feature.id for feature in _cuts(plan, card)}
    yield Path(OUTLINE, tuple(view.at(*p) for p in layout.outline), closed=True)
    frets = layout.frets
    board = [frets[11].treble, *layout.board_ends]
    corners = tuple(view.at(*p) for p in (*board, frets[11].bass))
    yield Path(HIDDEN if view.back else PHANTOM, corners)
    if not view.back:
        yield from (Line(THIN, view.at(*fret.treble), view.at(*fret.bass)) for fret in frets if fret.n > 12)
    if layout.bridge is not None and not view.back:
        mark = _measured(plan, card)
        layer = CUT if not solid and mark is not None and not mark.drilled else PHANTOM
        for outline in layout.bridge.outlines:
            yield Path(layer, tuple(view.at(*p) for p in outline), closed=True)
    for feature in plan.features:
        if feature.face == face or feature.id in solid:
            yield from _feature(feature, view, feature.id in solid)
    yield Line(
        CENTRE,
        view.at(view.x0, 0.0),
        view.at(max(p.x for p in layout.outline) + 6.0, 0.0),
    )


def _shape(plan: Plan, card: Card, view: _View) -> Iterable[Item]:
    """What of the body's shape this card carves: areas hatched, lines to draw on the wood."""
    found = shaped_by(plan.layout, card)
    for ring in found.areas:
        area = polygon(ring).intersection(polygon(plan.layout.outline))
        for part in getattr(area, "geoms", (area,)):
            loop = tuple(view.at(float(x), float(y)) for x, y in part.exterior.coords[:-1])
            yield Hatch(HATCHING, (loop,), 45.0, 2.2)
            yield Path(CUT, loop, closed=True)
    yield from (Path(CUT, tuple(view.at(*p) for p in ring), closed=True) for ring in found.lines if ring)


def _feature(feature: Bore | Pocket, view: _View, solid: bool) -> Iterable[Item]:
    if isinstance(feature, Pocket):
        loops = tuple(tuple(view.at(*p) for p in ring) for ring in (feature.outline, *feature.islands))
        if solid:
            yield Hatch(HATCHING, loops, 45.0, 1.4)
        yield from (Path(CUT if solid else THIN, loop, closed=True) for loop in loops)
        return
    centre = view.at(feature.at.x, feature.at.y)
    radius = feature.widest / 2 / view.scale
    if lies_level(feature):
        for step in feature.steps:
            yield Path(CUT if solid else HIDDEN, tuple(view.at(*place) for place in sides(feature, step)))
    elif solid:
        yield Fill(MARK, (_ring(centre, max(radius, 0.7)),))
        if not feature.is_upright:
            end = feature.along(feature.deepest.point_reaches)
            yield Line(CUT, centre, view.at(end.x, end.y))
    else:
        yield Circle(THIN, centre, radius)


def _ring(centre: Point, radius: float) -> tuple[Point, ...]:
    return tuple(
        (centre[0] + radius * unit(a)[0], centre[1] + radius * unit(a)[1]) for a in range(0, 360, 15)
    )


def _datum_lines(card: Card, view: _View, window: Window, left: float) -> list[Item]:
    """The step's datums with their names: to the right of each, or to the left where that has more room.

    Args:
        card: the step.
        view: of the picture.
        window: the picture's frame.
        left: where the picture's place on the page begins, mm.
    """
    datums = [(datum.point.x, datum.name) for datum in card.datums]
    items: list[Item] = []
    size = ACTED_ON_LETTERING
    for n, (x, name) in enumerate(datums):
        u = view.at(x, 0.0)[0]
        beyond = view.at(datums[n + 1][0], 0.0)[0] if n + 1 < len(datums) else window[2] + _DATUM_WIDE
        room = beyond - u - _DATUM_NAME_AT - _DATUM_WIDE
        bold = text_width(name, size, bold=True) <= room
        items.append(Line(CUT, (u, window[3] + 0.8), (u, window[3] + 5.6)))
        items.append(Line(THIN, (u, window[1]), (u, window[3])))
        half = _DATUM_WIDE / 2
        triangle = ((u, window[3]), (u - half, window[3] + 2.4), (u + half, window[3] + 2.4))
        items.append(Fill(TAG, (triangle,)))
        wide = text_width(name, size, bold=bold)
        if wide <= room or u - _DATUM_NAME_AT - wide < left:
            items.append(Text(LETTERING, (u + _DATUM_NAME_AT, window[3] + 1.6), name, size, bold=bold))
        else:
            items.append(Text(LETTERING, (u - _DATUM_NAME_AT, window[3] + 1.6), name, size, "end"))
    return items


def _sides(plan: Plan, view: _View, window: Window, taken: Sequence[Item]) -> list[Item]:
    """Which side is which, and the centreline's name: on the left, or as near to the right or the middle as is free."""
    upper_is_plus = not view.back
    upper = "treble side" if (plan.layout.treble > 0) == upper_is_plus else "bass side"
    lower = "bass side" if upper == "treble side" else "treble side"
    left = window[0] + 1.5
    level = view.at(0.0, 0.0)[1]
    words = [
        (upper, (left, window[3] - 1.5 - ACTED_ON_LETTERING)),
        (lower, (left, window[1] + 1.8)),
    ]
    if window[1] + 12.0 < level < window[3] - 12.0:
        words.append(("centreline", (left, level + 0.9)))
    spots = [part for item in taken for part in pieces(item)]
    marks = [part for part in spots if not isinstance(part, Line)]
    items: list[Item] = []
    size = ACTED_ON_LETTERING
    for name, on_left in words:
        wide = text_width(name, size) + 0.6
        on_right = window[2] - wide - 1.0
        between = (on_left[0] + share * (on_right - on_left[0]) for share in (0.75, 0.25, 0.5))
        found = [(x, on_left[1]) for x in (on_left[0], on_right, *between)]
        # Where nothing is free a line through the name is less than a number over it.
        free = (each for what in (spots, marks) for each in found if not _is_taken(what, each, wide, size))
        at = next(free, on_left)
        items.append(Fill(LETTERING, (_white((at[0] - 0.3, at[1] - 0.5), wide, size + 0.8),), tone="white"))
        items.append(Text(LETTERING, at, name, size))
    return items


def _is_taken(spots: Sequence[Item], at: Point, wide: float, size: float) -> bool:
    """Whether lettering at a place would touch what is drawn there."""
    around = (at[0] - 1.0, at[1] - 1.0, at[0] + wide + 1.0, at[1] + size + 1.0)
    return any(touches(part, around) for part in spots)


def _white(low: Point, width: float, height: float) -> tuple[Point, ...]:
    x, y = low
    return ((x, y), (x + width, y), (x + width, y + height), (x, y + height))


def _balloons(plan: Plan, card: Card, view: _View, window: Window) -> list[Item]:
    """The holes' numbers in columns beside them, each tied to its hole.

    Holes that lie in more than one row are numbered from both sides, so that no line crosses a hole's row.
    """
    at = {bore.id: view.at(bore.at.x, bore.at.y) for bore in plan.features.bores}
    holes = [(place.number, at[place.feature]) for place in card.places if place.feature in at]
    if not holes:
        return []
    us = [u for _, (u, _) in holes]
    middle = (min(us) + max(us)) / 2
    near = [hole for hole in holes if hole[1][0] < middle - 0.5]
    far = [hole for hole in holes if hole[1][0] >= middle - 0.5]
    if not near or not _fits_at_tail(far, window):
        return _ballooned(holes, window, to_tail=_fits_at_tail(holes, window))
    return [*_ballooned(near, window, to_tail=False), *_ballooned(far, window, to_tail=True)]


_Holes = list[tuple[str, Point]]
_ASIDE = 7.0
"""From the outermost hole to the nearest balloon, mm."""


def _pitch(holes: _Holes, window: Window) -> tuple[float, float, int]:
    """Radius of the balloons, their distance in a column, and the columns the window's height asks for."""
    radius = max(balloon_radius(name, ACTED_ON_LETTERING) for name, _ in holes)
    step = 2 * radius + 0.7
    return radius, step, ceil(len(holes) / max(1, int((window[3] - window[1] - 2.0) / step)))


def _fits_at_tail(holes: _Holes, window: Window) -> bool:
    radius, step, columns = _pitch(holes, window)
    right = max(u for _, (u, _) in holes)
    return right + _ASIDE + 2 * radius + (columns - 1) * step <= window[2] - 1.0


def _ballooned(holes: _Holes, window: Window, *, to_tail: bool) -> list[Item]:
    """One side's balloons, from the top of the picture down."""
    holes = sorted(holes, key=lambda hole: -hole[1][1])
    radius, step, columns = _pitch(holes, window)
    us = [u for _, (u, _) in holes]
    first = max(us) + radius + _ASIDE if to_tail else min(us) - radius - _ASIDE
    onwards = step if to_tail else -step
    pitch = step / columns
    span = pitch * (len(holes) - 1)
    top = sum(v for _, (_, v) in holes) / len(holes) + span / 2
    top = max(min(top, window[3] - radius - 1.0), window[1] + radius + 1.0 + span)
    items: list[Item] = []
    for n, (name, tip) in enumerate(holes):
        items += balloon(
            (first + (n % columns) * onwards, top - n * pitch), name, tip=tip, height=ACTED_ON_LETTERING
        )
    return items


def _dimensions(
    targets: Sequence[tuple[float, float]], view: _View, window: Window, told: Told
) -> list[Item]:
    items: list[Item] = []
    for n, (start, end) in enumerate(targets):
        level = window[1] - 7.0 - n * _DIMENSION_ROW
        a, b = view.at(start, 0.0)[0], view.at(end, 0.0)[0]
        if abs(a - b) < 1e-6:
            continue
        big, small = told(end - start)
        items.append(
            Dimension(
                DIMENSION,
                (a, window[1] - 0.2),
                (b, window[1] - 0.2),
                (a, level),
                big,
                small,
                "x",
                _DIMENSIONS,
            )
        )
    if targets:
        u = view.at(targets[0][1], 0.0)[0]
        items.append(Line(RULING, (u, window[1]), (u, view.at(0.0, 0.0)[1])))
    return items


def turning(plan: Plan, onto: str, corner: Point, width: float, height: float) -> tuple[Item, ...]:
    """How to turn the body over: before, the arrow about the long axis, after; the neck stays to the left."""
    layout = plan.layout
    xs, ys = [p.x for p in layout.outline], [p.y for p in layout.outline]
    neck = 70.0
    long, broad = max(xs) - min(xs) + neck, max(ys) - min(ys)
    centre_y = (max(ys) + min(ys)) / 2
    small = width < 90.0
    between = 17.0 if small else 26.0
    each = (width - between) / 2
    scale = max(long / each, broad / (height - 8.0))
    middle_y = corner[1] - (height - 5.0) / 2
    items: list[Item] = []
    front = ("top", "top up" if small else "top face up")
    for n, (side, words) in enumerate((front, _BACK) if onto == "back" else (_BACK, front)):
        left = corner[0] + n * (each + between) + (each - long / scale) / 2
        flip = -1.0 if side == "back" else 1.0
        view = _View(scale, False, min(xs) - neck, 0.0, (left, middle_y))

        def at(x: float, y: float, view: _View = view, flip: float = flip) -> Point:
            return view.at(x, flip * (y - centre_y))

        items.append(Path(OUTLINE, tuple(at(*p) for p in layout.outline), closed=True))
        half = layout.frets[-1].treble.y
        board = ((min(xs) - neck, half), *layout.board_ends, (min(xs) - neck, -half))
        items.append(Path(THIN if side == "top" else HIDDEN, tuple(at(*p) for p in board)))
        items.append(Line(CENTRE, at(min(xs) - neck - 8.0, 0.0), at(max(xs) + 14.0, 0.0)))
        items.append(
            Text(
                LETTERING,
                (left + long / scale / 2, corner[1] - height + 0.9),
                words,
                ACTED_ON_LETTERING,
                "middle",
                bold=True,
            )
        )
    middle = (corner[0] + width / 2, middle_y)
    items += _turn_arrow(middle, 5.0 if small else 7.0)
    return tuple(items)


_BACK = ("back", "back up")


def _turn_arrow(middle: Point, r: float) -> list[Item]:
    """An arc about a level axis, seen a little from the side, and an arrow onwards."""
    x, y = middle
    head = 2.6
    tip_x, tip_y = x + r * unit(-60.0)[0], y + r * unit(-60.0)[1]
    dx, dy = unit(-150.0)
    end = (tip_x + head * dx, tip_y + head * dy)
    wings = ((tip_x - dy * 1.2, tip_y + dx * 1.2), (tip_x + dy * 1.2, tip_y - dx * 1.2))
    return [
        Line(CENTRE, (x - 1.7 * r, y), (x + 1.7 * r, y)),
        Arc(CUT, middle, r, -60.0, 130.0),
        Fill(TAG, ((end, *wings),)),
    ]
