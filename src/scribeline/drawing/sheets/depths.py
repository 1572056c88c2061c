"""The plans of both faces, which are depth maps: every pocket and family of holes with its depth and its floor left.

Pockets are hatched by how deep they are, so that deep and shallow can be told apart in any light and on any printer.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import hypot

from scribeline.drawing.extent import bounds
from scribeline.drawing.face import LINE_PITCH, text_width, wrap
from scribeline.drawing.facing import SEEN, Show, treble_up, view_point
from scribeline.drawing.marks import paragraph
from scribeline.drawing.place import Transform, placed
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    CENTRE,
    CUT,
    DIMENSION,
    HATCHING,
    LEAST_LETTERING,
    LETTERING,
    THIN,
    Fill,
    Hatch,
    Item,
    Line,
    Path,
    Point,
    Text,
    Window,
)
from scribeline.drawing.sheets.figures import Unit, bare
from scribeline.drawing.sheets.holes import name_of
from scribeline.drawing.sheets.office import STANDARD_SCALES, Office, Page
from scribeline.drawing.sheets.sections import cut_reach, cut_string
from scribeline.drawing.views import back_view, front_view, turning_picture
from scribeline.features import Bore, Pocket, alike, runs, shared_role
from scribeline.features.cuts import Face
from scribeline.lengths import (
    both_units,
    by_inches,
    decimal,
    figure,
    in_unit,
    inch_fraction,
    said,
    span,
    unit_words,
)
from scribeline.plan import Plan
from scribeline.steps import balloon

_COLUMN = 43.0
"""Width of a column of labels, mm."""
_BETWEEN = 2.6
"""White between two labels, mm."""
_PITCH = 1.45 * ACTED_ON_LETTERING
"""From one line of a label to the next, mm."""
_LEGEND = 11.0
"""Height of the legend at the foot of the page, mm."""
_WIDTHS = 18.0
"""Room for the half-widths to the right of the body, mm."""
_BETWEEN_SCALES = (("1:3", 1 / 3), ("1:4", 0.25))
"""Further reductions where the next standard one would leave a map too small to read; nobody scales off it."""
SHORT = 4
"""A hole whose number is a name of more letters than this goes by its role alone."""
_SIDE = 13.5
"""Room for the half-widths' figures at the head and foot of the right column, mm."""


@dataclass(frozen=True, slots=True)
class Band:
    """Pockets of about one depth, and how they are hatched."""

    words: str
    deepest: float
    lines: tuple[tuple[float, float], ...]


_SHOWN = Show(balloons=False, awl_marks=False, scale_line=False, sides=False, labels=False)

BANDS = (
    Band(f"to {said(10.0, 0)}", 10.0, ((45.0, 4.0),)),
    Band(span(10.0, 20.0, places=0), 20.0, ((45.0, 2.0),)),
    Band(span(20.0, 30.0, places=0), 30.0, ((45.0, 2.6), (135.0, 2.6))),
    Band(f"over {said(30.0, 0)}", float("inf"), ((45.0, 1.3), (135.0, 1.3))),
)
"""Closer lines the deeper; crossed from 20 mm."""


def band_of(depth: float) -> Band:
    """The band of a depth; a depth on its edge belongs to the shallower."""
    return next(band for band in BANDS if depth <= band.deepest + 1e-9)


@dataclass(frozen=True, slots=True)
class Family:
    """A pocket, or holes of one group and depth.

    Attributes:
        name: with the holes' numbers.
        depth: mm: of the full diameter, along the bit.
        floor: wood left under it, mm; None where there is none to leave.
        instead: what it does where it leaves no floor.
        places: where its cuts are on the face, for the line that leads to it.
        radius: of its holes' mouths, mm; 0 for a pocket.
        from_edge: whether they are cut from the body's edge.
        unit: the job's.
    """

    name: str
    depth: float
    floor: float | None
    instead: str
    places: tuple[tuple[float, float], ...]
    radius: float = 0.0
    from_edge: bool = False
    unit: Unit = "mm"

    def lines(self) -> list[tuple[str, str]]:
        """What its label says below the name: the job's unit, and the other beside it."""
        deep = self._told(self.depth, "deep")
        if self.floor is None:
            return [deep, *((words, "") for words in wrap(self.instead, _COLUMN - 4.0, ACTED_ON_LETTERING))]
        return [deep, self._told(self.floor, "left")]

    def _told(self, mm: float, what: str) -> tuple[str, str]:
        second = decimal(mm) if by_inches(self.unit) else inch_fraction(mm).text.removesuffix(" in")
        return f"{figure(mm, self.unit)} {what}", second

    def heads(self) -> list[str]:
        """Its name in lines."""
        return wrap(self.name, _COLUMN - 4.0, ACTED_ON_LETTERING, bold=True)

    @property
    def height(self) -> float:
        """Of its label, mm."""
        return (len(self.heads()) + len(self.lines())) * _PITCH


def families(plan: Plan, face: Face) -> list[Family]:
    """Everything cut from a face, or from a pocket of it."""
    left = {name: wood for name, wood in plan.floors.items() if wood is not None}
    pockets = {pocket.id: pocket for pocket in plan.features.pockets}
    found = []
    for pocket in pockets.values():
        if pocket.face == face:
            floor = left.get(pocket.id)
            instead = "" if floor is not None else "no floor left"
            found.append(
                Family(_called(pocket), pocket.depth, floor, instead, (_middle(pocket),), unit=plan.unit)
            )
    groups: list[tuple[Bore, ...]] = []
    for bores in alike(plan.features, plan.layout):
        start = pockets[bores[0].entered_from].face if bores[0].entered_from in pockets else bores[0].face
        # What is cut from the edge is told with the front.
        if start == face or (start == "edge" and face == "top"):
            groups.append(bores)
    meeting = _meeting(plan)
    for bores in _together(plan, groups, left, meeting):
        under = [left[bore.id] for bore in bores if bore.id in left]
        first = bores[0]
        from_edge = "from the edge" if first.face == "edge" else ""
        instead = "through" if first.through else _met(plan, bores, meeting) or from_edge
        floor = min(under) if under and not instead else None
        places = tuple((bore.at.x, bore.at.y) for bore in bores)
        name, deep, edge = _name(plan, bores), first.deepest.depth, first.face == "edge"
        found.append(Family(name, deep, floor, instead, places, first.widest / 2, edge, plan.unit))
    return found


def _together(
    plan: Plan, groups: Iterable[tuple[Bore, ...]], left: dict[str, float], meeting: Mapping[str, list[str]]
) -> list[tuple[Bore, ...]]:
    """Groups that follow each other and would be told alike, as one where their names have something in common."""
    found: list[tuple[Bore, ...]] = []

    def told(bores: tuple[Bore, ...]) -> tuple[object, ...]:
        first, met = bores[0], _met(plan, bores, meeting)
        letter = balloon(first.id).rstrip("0123456789")
        under = [left[bore.id] for bore in bores if bore.id in left and not (first.through or met)]
        floor = round(min(under), 2) if under else None
        return letter, first.face, first.through, round(first.deepest.depth, 2), floor, met

    for bores in groups:
        if found and told(found[-1]) == told(bores):
            found[-1] = (*found[-1], *bores)
        else:
            found.append(bores)
    return found


def _name(plan: Plan, bores: Sequence[Bore]) -> str:
    first = name_of(plan, bores[0].id)
    if len(bores) == 1:
        return first if len(balloon(bores[0].id)) <= SHORT else bores[0].role
    return f"{runs([balloon(bore.id) for bore in bores])} {shared_role(bores).removesuffix('s')}s"


def _meeting(plan: Plan) -> dict[str, list[str]]:
    """For each cut the cuts that are meant to run into it."""
    found: dict[str, list[str]] = {}
    for cut in plan.features:
        for other in cut.meets:
            found.setdefault(other, []).append(cut.id)
    return found


def _met(plan: Plan, bores: Sequence[Bore], meeting: Mapping[str, list[str]]) -> str:
    """Into what they open on purpose, where that is another hole or pocket; "" where they end in wood."""
    from_pockets = {bore.entered_from for bore in bores}
    names = sorted({other for bore in bores for other in bore.meets if other not in from_pockets})
    for bore in bores:
        met = [name for name in meeting.get(bore.id, ()) if name not in from_pockets]
        names += [name for name in met if name not in names]
    if not names:
        return ""
    pockets = {pocket.id: pocket.role for pocket in plan.features.pockets}
    if names[0] in pockets:
        return f"into {pockets[names[0]]}"
    numbers = [balloon(name) for name in names]
    return f"into {numbers[0]}" + (f" to {numbers[-1]}" if len(numbers) > 1 else "")


def _called(pocket: Pocket) -> str:
    return pocket.role if pocket.slope is None else f"{pocket.role}, at its end wall"


def _middle(pocket: Pocket) -> tuple[float, float]:
    import shapely

    plan = shapely.Polygon(pocket.outline, list(pocket.islands))
    inside = plan.centroid if plan.contains(plan.centroid) else plan.representative_point()
    return (inside.x, inside.y)


def face_pages(office: Office, face: Face) -> list[Page]:
    """A face with its half-widths, and a label at everything cut from it; more pages where there are too many labels."""
    plan, window = office.plan, office.window
    name, scale = _scale(plan, face, _over_legend(window))
    title = "Front plan, depths" if face == "top" else "Back plan, depths"
    labels = sorted(
        families(plan, face), key=lambda family: sum(x for x, _ in family.places) / len(family.places)
    )
    foot, _ = _foot(plan, face, window)
    rooms = (window[3] - foot, window[3] - window[1] - _LEGEND - 2 * _SIDE)
    lots = _lots(labels, rooms)
    if len(lots) > 1:
        # Holes from the edge, which lie across the map, are told in their sections: no page for them alone.
        fewer = _lots([label for label in labels if not label.from_edge], rooms)
        lots = fewer if len(fewer) < len(lots) else lots
    return [
        Page(title, tuple(_map(plan, face, lot, window, scale)), SEEN[face], name) for lot in lots or [[]]
    ]


def _stack(labels: Sequence[Family]) -> float:
    """Height of a column of labels, mm."""
    return sum(label.height + _BETWEEN for label in labels)


def _lots(labels: Sequence[Family], rooms: tuple[float, float]) -> list[list[Family]]:
    """As many labels at a time as both columns hold, in order of place."""
    lots: list[list[Family]] = []
    for label in labels:
        if not lots or _parted([*lots[-1], label], rooms, 0) is None:
            lots.append([])
        lots[-1].append(label)
    return lots


def _parted(labels: Sequence[Family], rooms: tuple[float, float], wanted: int) -> int | None:
    """How many of them go into the left column, the rest into the right: as near to those wanted as both hold."""
    fitting = [
        n for n in range(len(labels) + 1) if _stack(labels[:n]) <= rooms[0] and _stack(labels[n:]) <= rooms[1]
    ]
    return min(fitting, key=lambda n: abs(n - wanted)) if fitting else None


def _reach(plan: Plan, face: Face, scale: float = 1.0) -> Window:
    """The rectangle that the body and the face's pockets take up in its view."""
    rings = [plan.layout.outline, *(p.outline for p in plan.features.pockets if p.face == face)]
    us, vs = zip(*(view_point(face, place, scale) for ring in rings for place in ring), strict=True)
    return (min(us), min(vs), max(us), max(vs))


def _scale(plan: Plan, face: Face, window: Window) -> tuple[str, float]:
    left, bottom, right, top = window
    low, floor, high, ceiling = _reach(plan, face)
    room = (right - left - 2 * _COLUMN - _WIDTHS, top - bottom)
    scales = sorted((*STANDARD_SCALES, *_BETWEEN_SCALES), key=lambda each: -each[1])
    fitting = [
        (name, k) for name, k in scales if (high - low) * k <= room[0] and (ceiling - floor) * k <= room[1]
    ]
    return fitting[0] if fitting else STANDARD_SCALES[-1]


def _map(plan: Plan, face: Face, labels: Sequence[Family], window: Window, scale: float) -> list[Item]:
    """One face, a column of labels on each side of it, the legend below the left one."""
    foot, pictures = _foot(plan, face, window)
    left, bottom, right, top = window = _over_legend(window)
    box = _reach(plan, face, scale)
    u = (left + right - box[0] - box[2] - _WIDTHS) / 2
    v = (bottom + top - box[1] - box[3]) / 2

    def at(place: tuple[float, ...]) -> Point:
        x, y = view_point(face, place, scale)
        return (u + x, v + y)

    widths = _half_widths(plan, face, scale, box[2] + 9.0, over=top - v, under=v - bottom)
    columns = [_filled(left, bottom, left + _COLUMN, top), _filled(right - _COLUMN, bottom, right, top)]
    middle = u + (box[0] + box[2]) / 2
    left_tips, right_tips = ([_tip(family, at, side) for family in labels] for side in (-1, 1))
    ends = {-1: (foot, top), 1: (bottom + _SIDE, top - _SIDE)}
    rooms = (top - foot, top - bottom - 2 * _SIDE)
    wanted = sum(tip[0] < middle for tip in left_tips)
    first = _parted(labels, rooms, wanted) or 0
    order = list(range(len(labels)))
    told: list[Item] = []
    for side, members, tips in ((-1, order[:first], left_tips), (1, order[first:], right_tips)):
        told += _labels(
            [labels[n] for n in members],
            [tips[n] for n in members],
            side,
            window,
            ends=ends[side],
            scale=scale,
        )
    cut = list(_section_plane(plan, at)) if face == "top" else []
    # The view's own lettering keeps clear of what leads to the labels, too.
    keep_clear = [*widths, *placed((*pictures, *columns, *told, *cut), Transform(offset=(-u, -v)))]
    drawn = (front_view if face == "top" else back_view)(plan, _SHOWN, scale=scale, keep_clear=keep_clear)
    return [
        *_hatching(plan, face, at),
        *placed((*drawn, *widths), Transform(offset=(u, v))),
        *pictures,
        *told,
        *cut,
    ]


def _section_plane(plan: Plan, at: Callable[[tuple[float, ...]], Point]) -> Iterator[Item]:
    """Where the section through the bridge is cut (ISO 128-3): a centre line, thick at its ends, with arrows along the view."""
    if plan.layout.bridge is None or not plan.features.family("string-hole"):
        return
    y = cut_string(plan)[1].at.y
    (u0, v), (u1, _) = (at((x, y)) for x in cut_reach(plan))
    yield Line(CENTRE, (u0, v), (u1, v), "section-A")
    for u, inward in ((u0, 4.0), (u1, -4.0)):
        yield Line(CUT, (u, v), (u + inward, v), "section-A")
        yield Line(THIN, (u, v - 7.0), (u, v - 2.6), "section-A")
        yield Fill(LETTERING, (((u, v), (u - 0.9, v - 2.8), (u + 0.9, v - 2.8)),))
        low = v - 8.0 - ACTED_ON_LETTERING
        yield Fill(LETTERING, (_around((u, low)),), tone="white")
        yield Text(LETTERING, (u, low), "A", ACTED_ON_LETTERING, "middle", bold=True)


def _around(foot: Point) -> tuple[Point, ...]:
    """White behind a letter that stands on a point."""
    (u, v), half, low, high = foot, 2.4, 1.3, ACTED_ON_LETTERING + 0.8
    return ((u - half, v - low), (u + half, v - low), (u + half, v + high), (u - half, v + high))


def _foot(plan: Plan, face: Face, window: Window) -> tuple[float, list[Item]]:
    """The legend at the foot of the left column, a back view's turning picture over it; and where they end."""
    left, bottom, _, _ = window
    if face == "top":
        return bottom + _LEGEND, _legend(window, plan.unit)
    picture = turning_picture(plan, (0.0, 0.0), length=20.0)
    drawn = [item for item in picture.items if not isinstance(item, Text)]
    box = bounds(drawn)
    assert box is not None
    sentence = "turned over about its long axis: the neck stays on the left"
    words = paragraph(sentence, (left, bottom + _LEGEND + 9.0), _COLUMN - 2.0, height=LEAST_LETTERING)
    shift = (left - box[0], bottom + _LEGEND + 11.0 - box[1])
    items = [*_legend(window, plan.unit), *placed(drawn, Transform(offset=shift)), *words.items]
    return shift[1] + box[3] + 4.0, items


def _tip(family: Family, at: Callable[[tuple[float, ...]], Point], side: int) -> Point:
    """The one of its places nearest the labels."""
    return max((at(place) for place in family.places), key=lambda p: side * p[0])


def _labels(
    labels: Sequence[Family],
    tips: Sequence[Point],
    side: int,
    window: Window,
    *,
    ends: tuple[float, float],
    scale: float,
) -> list[Item]:
    """A column of labels, level with what they name where there is room, each with a line to it."""
    left, _, right, _ = window
    x, edge = (left, left + _COLUMN - 3.0) if side < 0 else (right - _COLUMN + 3.0, right - _COLUMN + 2.0)
    order = sorted(range(len(labels)), key=lambda n: -tips[n][1])
    tops = _levels([labels[n] for n in order], [tips[n][1] for n in order], *ends)
    items: list[Item] = []
    for n, level in zip(order, tops, strict=True):
        y = level - ACTED_ON_LETTERING
        for words in labels[n].heads():
            items.append(Text(LETTERING, (x, y), words, ACTED_ON_LETTERING, bold=True))
            y -= _PITCH
        for words, inches in labels[n].lines():
            items.append(Text(LETTERING, (x, y), words, ACTED_ON_LETTERING))
            if inches:
                beside = x + text_width(words, ACTED_ON_LETTERING) + 2.0
                items.append(Text(LETTERING, (beside, y), inches, LEAST_LETTERING))
            y -= _PITCH
        wide = text_width(labels[n].heads()[0], ACTED_ON_LETTERING, bold=True)
        start = (min(edge, x + wide + 1.5) if side < 0 else x - 1.0, level - ACTED_ON_LETTERING / 2)
        if side < 0 and start[0] < edge:
            # Level to the column's edge first: aslant it would cross the figures below.
            items.append(Line(DIMENSION, start, (edge, start[1])))
            start = (edge, start[1])
        items += _leader(start, tips[n], labels[n].radius * scale)
    return items


def _levels(labels: Sequence[Family], wanted: Sequence[float], low: float, high: float) -> list[float]:
    """The labels' tops from the highest down: level with what they name where there is room."""
    tops: list[float] = []
    limit = high
    for label, level in zip(labels, wanted, strict=True):
        tops.append(min(limit, level + ACTED_ON_LETTERING / 2))
        limit = tops[-1] - label.height - _BETWEEN
    floor = low
    for n in reversed(range(len(labels))):
        tops[n] = max(tops[n], floor + labels[n].height)
        floor = tops[n] + _BETWEEN
    return tops


def _leader(start: Point, tip: Point, radius: float) -> list[Item]:
    """A thin line to the edge of a hole, or into a pocket, where it ends in a dot (ISO 128-2)."""
    du, dv = tip[0] - start[0], tip[1] - start[1]
    away = hypot(du, dv)
    if away <= radius + 1e-6:
        return []
    if radius > 0:
        end = (tip[0] - du * radius / away, tip[1] - dv * radius / away)
        return [Line(DIMENSION, start, end)]
    round_it = [tuple((tip[0] + r * a, tip[1] + r * b) for a, b in _OCTAGON) for r in (1.7, 0.8)]
    return [
        Line(DIMENSION, start, tip),
        Fill(LETTERING, (round_it[0],), tone="white"),
        Fill(LETTERING, (round_it[1],)),
    ]


_S = 0.7071
_OCTAGON = ((1, 0), (_S, _S), (0, 1), (-_S, _S), (-1, 0), (-_S, -_S), (0, -1), (_S, -_S))


def _hatching(plan: Plan, face: Face, at: Callable[[tuple[float, ...]], Point]) -> list[Item]:
    """The pockets of a face by their depth; the deepest shows where several overlap."""
    import shapely

    items: list[Item] = []
    taken = shapely.Polygon()
    for pocket in sorted(plan.features.pockets, key=lambda p: -p.depth):
        if pocket.face != face:
            continue
        whole = shapely.Polygon(pocket.outline, list(pocket.islands))
        for part in shapely.get_parts(shapely.difference(whole, taken)):
            if part.geom_type != "Polygon" or part.area < 1.0:
                continue
            rings = tuple(
                tuple(at(place) for place in shapely.get_coordinates(ring)[:-1].tolist())
                for ring in (part.exterior, *part.interiors)
            )
            for angle, spacing in band_of(pocket.depth).lines:
                items.append(Hatch(HATCHING, rings, angle, spacing, pocket.id))
        taken = shapely.union(taken, whole)
    return items


def _filled(left: float, bottom: float, right: float, top: float) -> Fill:
    return Fill(LETTERING, (((left, bottom), (right, bottom), (right, top), (left, top)),))


def _half_widths(plan: Plan, face: Face, scale: float, u: float, *, over: float, under: float) -> list[Item]:
    """The body's reach to each side of the centreline: arrows beside it, their figures at the page's corners.

    Nothing that leads to a label crosses a figure there.
    """
    items: list[Item] = [Line(DIMENSION, (u - 9.0, 0.0), (u + 1.5, 0.0))]
    for side in (1, -1):
        widest = max((view_point(face, p) for p in plan.layout.outline), key=lambda p: side * p[1])
        x, y = (widest[0] * scale, widest[1] * scale)
        items += [Line(DIMENSION, (x, y), (u + 1.5, y)), Line(DIMENSION, (u, 0.0), (u, y))]
        for end, way in ((0.0, side), (y, -side)):
            head = ((u, end), (u - 0.5, end + way * 3.0), (u + 0.5, end + way * 3.0))
            items.append(Fill(DIMENSION, (head,)))
        mm, inches = bare(both_units(abs(widest[1]), plan.unit))
        word = "to the treble" if side == treble_up(plan, face) else "to the bass"
        corner = over - ACTED_ON_LETTERING if side > 0 else LINE_PITCH * ACTED_ON_LETTERING + 0.6 - under
        for n, (words, height) in enumerate(
            ((f"{word} {mm}", ACTED_ON_LETTERING), (inches, LEAST_LETTERING))
        ):
            at = (u + 4.0, corner - n * LINE_PITCH * ACTED_ON_LETTERING)
            items.append(Text(LETTERING, at, words, height))
    return items


def _over_legend(window: Window) -> Window:
    """What the strip with the legend leaves of a page."""
    return (window[0], window[1] + _LEGEND, window[2], window[3])


def _legend(window: Window, unit: Unit) -> list[Item]:
    """What the hatching means, in a strip along the foot of the page."""
    left, bottom, right, _ = window
    items: list[Item] = []
    wide, tall = 9.0, 6.0
    x = left
    for band in BANDS:
        loop = ((x, bottom), (x + wide, bottom), (x + wide, bottom + tall), (x, bottom + tall))
        items += [Hatch(HATCHING, (loop,), angle, spacing) for angle, spacing in band.lines]
        items.append(Path(CUT, loop, closed=True))
        deep = in_unit(band.words, unit).partition(" (")[0]
        items.append(Text(LETTERING, (x + wide + 1.5, bottom + 1.3), deep, ACTED_ON_LETTERING))
        x += wide + text_width(deep, ACTED_ON_LETTERING) + 5.0
    both = "{}, {} beside".format(*unit_words(unit))
    words = f"{both}; along the bit. Left: wood under the point."
    note = paragraph(words, (x, bottom + tall + 1.0), right - x, height=LEAST_LETTERING)
    return [*items, *note.items]
