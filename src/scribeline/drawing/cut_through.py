"""The body cut through along any line between two places: what wood stands there, what the cuts take, how much remains.

Plane coordinates are (u, z): u along the line from its first place, which lies on the left; z up from the top face.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from math import hypot, inf
from typing import TYPE_CHECKING, Literal, TypeAlias, cast

import numpy as np

from scribeline.drawing.face import text_width
from scribeline.drawing.facing import view_point
from scribeline.drawing.section import Loop, loops_of, upright_section
from scribeline.drawing.sheet import (
    CENTRE,
    CUT,
    DIMENSION,
    LETTERING,
    Anchor,
    Fill,
    Item,
    Layer,
    Line,
    Text,
)
from scribeline.drawing.sheets.cutting import Paper, break_line, hatched
from scribeline.features import Bore, Feature, Pocket
from scribeline.layout import Layout, Point
from scribeline.lengths import own_unit
from scribeline.plan import Plan
from scribeline.steps import balloon as number_of

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely import Polygon
    from shapely.geometry.base import BaseGeometry

Upright: TypeAlias = tuple[float, float, float]
"""Where a length in the section is read: how far along the line, from which height, to which, mm."""

LETTER = "A"
"""The letter of the cutting plane, at both its ends and over its section (ISO 128-3)."""
SHORTEST = 1.0
"""A line shorter than this has no direction that a finger or a rule could give, mm."""

_AIR = Layer("air", 0.18, rank=-2)
"""What a cut takes out: nothing is drawn there, but it can be touched."""
_WORDS = 3.5
_FAR = 1e3
_NEAR = 1e-4
"""So far beside a corner the wood is looked at, mm: at the corner itself its wall is met."""
_RESTS = 0.01
"""Wood nearer to a cut than this is what its wall or floor is made of, mm."""
_SLIVER = 0.2
"""What a cut takes over less than this along the line is where it ends in another, mm."""
_LOOKED_AT = 120
"""At most so many places of a cut are looked at for where its wood is least, besides its deepest and highest."""
_ARROW, _THICK, _BEYOND = 8.0, 6.0, 6.0
"""Of the marks on the plan, mm on the paper: length of an arrow, of a thick end, and how far they lie past the wood."""


@dataclass(frozen=True, slots=True)
class CutLine:
    """A line over the body.

    Attributes:
        start: its first place, seen from above, mm.
        end: its last, at least `SHORTEST` from it.
    """

    start: Point
    end: Point

    @property
    def length(self) -> float:
        """From end to end, mm."""
        return hypot(self.end.x - self.start.x, self.end.y - self.start.y)

    @property
    def heading(self) -> Point:
        """Unit vector from its first place to its last."""
        return Point((self.end.x - self.start.x) / self.length, (self.end.y - self.start.y) / self.length)

    def at(self, u: float) -> Point:
        """The place so far from its first, mm."""
        return Point(self.start.x + u * self.heading.x, self.start.y + u * self.heading.y)


@dataclass(frozen=True, slots=True)
class Met:
    """A hole or cavity where the line goes over it.

    Attributes:
        id: of the cut.
        span: from where to where it lies open, from the line's first place, mm.
        face: the face it is sunk from; "" of a hole that does not go straight in from one.
        depth: its greatest depth here below that face, mm; None of a hole that does not go straight in.
        over: least wood straight over it here, mm; None where there is none.
        under: the same straight under it.
        marks: where those are read: the depth, the wood over it and under it.
    """

    id: str
    span: tuple[float, float]
    face: Literal["top", "back", ""]
    depth: float | None
    over: float | None
    under: float | None
    marks: tuple[Upright | None, Upright | None, Upright | None]

    @property
    def is_open(self) -> bool:
        """Whether nothing of what it ends on along the line is wood: it goes through, or into another cut."""
        return self.depth is not None and (self.under if self.face == "top" else self.over) is None


@dataclass(frozen=True, slots=True)
class Through:
    """The body along a line.

    Attributes:
        line: which.
        span: from where to where it meets the wood, from its first place, mm.
        met: the cuts it goes over, in their order along it.
        items: the section, drawn to `scale`, or so small that it is as wide as it may be.
        narrow: the same for where there is less room.
    """

    line: CutLine
    span: tuple[float, float]
    met: tuple[Met, ...]
    items: tuple[Item, ...]
    narrow: tuple[Item, ...]


def cut_through(
    plan: Plan, line: CutLine, scale: float, *, wide: float = inf, narrow: float = inf
) -> Through | None:
    """The section of the body along a line; None where the line misses it.

    Args:
        plan: of the body and its cuts.
        line: along which.
        scale: of the drawing at most; its lettering keeps its size on the paper.
        wide: how wide its wood may be drawn, mm on the paper.
        narrow: the same where there is less room.
    """
    layout, reach = plan.layout, (0.0, line.length)
    body = upright_section(layout, (), line.start, line.heading, reach)
    if body.is_empty:
        return None
    low, high = body.bounds[0], body.bounds[2]
    cuts = tuple(plan.features)
    wood = upright_section(layout, cuts, line.start, line.heading, reach)
    taken = list(zip(cuts, loops_of(layout, cuts, line.start, line.heading, reach), strict=True))
    met = sorted(_Ground(layout, line, body, wood).met(taken), key=lambda each: each.span)
    ground = wood if not wood.is_empty else body

    def drawn(most: float) -> tuple[Item, ...]:
        # A face that the line ends inside of is broken off there; one that it runs out of is drawn whole.
        paper = Paper(
            0.0,
            0.0,
            min(scale, most / (high - low)),
            0.0 if low < _NEAR else low - 1.0,
            line.length if high > line.length - _NEAR else high + 1.0,
        )
        items = (*_air(taken, paper), *hatched(wood, paper, layout.body, (line.start, line.heading)))
        broken = [
            break_line(paper, x, layout.thickness)
            for x, is_broken in ((0.0, low < _NEAR), (line.length, high > line.length - _NEAR))
            if is_broken
        ]
        lettered = _Lettered(plan, paper, ground, met)
        figures = tuple(lettered.of(met))
        return (*lettered.title(line), *items, *broken, *figures)

    return Through(line, (low, high), tuple(met), drawn(wide), drawn(narrow))


def plane_marks(through: Through, face: Literal["top", "back"], scale: float) -> tuple[Item, ...]:
    """The cutting plane on a view of a face: a chain line with thick ends, arrows the way the section is seen, letters.

    ISO 128-3: the cutting line is long-dashed dotted and narrow, wide at its ends; arrows on it show the direction of
    viewing, with a capital letter beside each.
    """
    line, (low, high) = through.line, through.span
    past = _BEYOND / scale
    ends = (max(0.0, low - past), min(line.length, high + past))
    a, b = (view_point(face, line.at(u), scale) for u in ends)
    long = max(hypot(b[0] - a[0], b[1] - a[1]), 1e-9)
    on = ((b[0] - a[0]) / long, (b[1] - a[1]) / long)
    # What lies to the left of the line, seen from the front, is looked at; from the back that is its right.
    seen = (-on[1], on[0]) if face == "top" else (on[1], -on[0])
    items: list[Item] = [Line(CENTRE, a, b)]
    for end, way in ((a, 1.0), (b, -1.0)):
        thick = min(_THICK, long / 3)
        items.append(Line(CUT, end, (end[0] + way * on[0] * thick, end[1] + way * on[1] * thick)))
        tail = (end[0] - seen[0] * _ARROW, end[1] - seen[1] * _ARROW)
        items.append(Line(DIMENSION, tail, end))
        items.append(_head(end, seen, LETTERING))
        u, v = tail[0] - seen[0] * 3.5, tail[1] - seen[1] * 3.5
        items.append(Text(LETTERING, (u, v - 2.5), LETTER, 5.0, "middle", bold=True))
    return tuple(items)


# What is met, and what wood remains


@dataclass(frozen=True, slots=True)
class _Ground:
    """What a line goes over: the body as it was, the wood that the cuts leave, and where its faces lie."""

    layout: Layout
    line: CutLine
    body: BaseGeometry
    wood: BaseGeometry

    def met(self, taken: Iterable[tuple[Feature, tuple[Loop, ...]]]) -> Iterator[Met]:
        import shapely

        every = [(cut, [shapely.Polygon(loop) for loop in loops]) for cut, loops in taken]
        cavities = shapely.union_all(
            [each for cut, pieces in every if isinstance(cut, Pocket) for each in pieces]
        )
        for cut, pieces in every:
            for piece in pieces:
                # A hole out of a cavity's wall begins at that wall, not in the cavity's air.
                own = piece if _sunk_from(cut) else shapely.difference(piece, cavities)
                for part in shapely.get_parts(own):
                    if part.geom_type == "Polygon" and part.bounds[2] - part.bounds[0] > _SLIVER:
                        yield self._of_piece(cut, part)

    def _of_piece(self, cut: Feature, piece: Polygon) -> Met:
        columns = self._columns(piece)
        face = _sunk_from(cut)
        over, under, depth = None, None, None
        # What overhangs a cut that is sunk from a face is not what remains beneath it; of a hole that lies in the wood
        # there is wood over it where none of it is open to the air.
        if face == "back" or (not face and all(each.is_covered for each in columns)):
            over = _chosen(columns, [each.over for each in columns])
        if face == "top" or (not face and all(each.is_borne for each in columns)):
            under = _chosen(columns, [each.under for each in columns])
        if face:
            sunk = [
                (each.u, each.blank[-1][1], each.low)
                if face == "top"
                else (each.u, each.blank[0][0], each.high)
                for each in columns
            ]
            depth = _chosen(columns, sunk, deepest=True)
        if depth is not None:
            # The face itself, not as it is drawn straight from place to place.
            there = self.line.at(depth[0])
            depth = (
                depth[0],
                self.layout.top_at(there) if face == "top" else self.layout.back_at(there),
                depth[2],
            )
        low, _, high, _ = piece.bounds
        return Met(cut.id, (low, high), face, _long(depth), _long(over), _long(under), (depth, over, under))

    def _columns(self, piece: Polygon) -> list[_Column]:
        import shapely

        low, _, high, _ = piece.bounds
        about = shapely.intersection(self.wood, shapely.box(low, -_FAR, high, _FAR))
        places = _places(piece, about)
        found = zip(
            places.tolist(), *(_runs(area, places) for area in (piece, about, self.body)), strict=True
        )
        return [
            _Column(u, holes[0][0], holes[-1][1], wooden, blank)
            for u, holes, wooden, blank in found
            if holes and blank
        ]


@dataclass(frozen=True, slots=True)
class _Column:
    """What lies over one place of the line: the cut from `low` to `high`, the wood, the body as it was before."""

    u: float
    low: float
    high: float
    wood: list[tuple[float, float]]
    blank: list[tuple[float, float]]

    @property
    def is_covered(self) -> bool:
        """Whether there is wood anywhere over it."""
        return any(run[0] > self.high - _RESTS for run in self.wood)

    @property
    def is_borne(self) -> bool:
        """Whether there is wood anywhere under it."""
        return any(run[1] < self.low + _RESTS for run in self.wood)

    @property
    def over(self) -> Upright | None:
        """The wood that lies on it."""
        return next(((self.u, *run) for run in self.wood if abs(run[0] - self.high) < _RESTS), None)

    @property
    def under(self) -> Upright | None:
        """The wood that it lies on."""
        return next(((self.u, high, low) for low, high in self.wood if abs(high - self.low) < _RESTS), None)


def _sunk_from(cut: Feature) -> Literal["top", "back", ""]:
    """The face that a cut goes straight in from."""
    if isinstance(cut, Bore):
        return "" if not cut.is_upright else "top" if cut.axis.z < 0 else "back"
    return "top" if cut.face == "top" else "back"


def _long(mark: Upright | None) -> float | None:
    return None if mark is None else abs(mark[2] - mark[1])


def _chosen(
    columns: Sequence[_Column], read: Sequence[Upright | None], *, deepest: bool = False
) -> Upright | None:
    """The least of what is read, or the greatest; of places alike the one furthest from where it is otherwise."""
    found = [
        inf if each is None else -abs(each[2] - each[1]) if deepest else abs(each[2] - each[1])
        for each in read
    ]
    least = min(found, default=inf)
    if least == inf:
        return None
    us, alike = np.array([each.u for each in columns]), np.array(found) < least + _NEAR
    else_where = np.concatenate([us[~alike], [us.min() - _NEAR, us.max() + _NEAR]])
    room = np.abs(us[:, np.newaxis] - else_where).min(axis=1)
    return read[int(np.where(alike, room, -1.0).argmax())]


def _places(piece: Polygon, wood: BaseGeometry) -> NDArray[np.float64]:
    """Where along the line a cut is looked at: on either side of every corner of it and of the wood about it, and between."""
    import shapely

    low, _, high, _ = piece.bounds
    own = shapely.get_coordinates(piece)
    about = shapely.get_coordinates(wood)[:, 0]
    about = about[(about > low) & (about < high)]
    every = np.concatenate([own[:, 0], about])
    few = every[:: max(1, len(every) // _LOOKED_AT)]
    decisive = own[[own[:, 1].argmin(), own[:, 1].argmax()], 0]
    corners = np.unique(np.concatenate([[low], few, decisive, [high]]))
    between = (corners[1:] + corners[:-1]) / 2
    beside = np.concatenate([corners - _NEAR, corners + _NEAR, between])
    return np.unique(np.clip(beside, low + _NEAR, max(low + _NEAR, high - _NEAR)))


def _runs(area: BaseGeometry, places: NDArray[np.float64]) -> list[list[tuple[float, float]]]:
    """Where upright lines lie inside an area: of each, from height to height, lowest first."""
    import shapely

    ends = np.stack([np.column_stack([places, np.full_like(places, z)]) for z in (-_FAR, _FAR)], axis=1)
    parts, of = shapely.get_parts(shapely.intersection(area, shapely.linestrings(ends)), return_index=True)
    found: list[list[tuple[float, float]]] = [[] for _ in places]
    for n, (_, low, _, high) in zip(of.tolist(), shapely.bounds(parts).tolist(), strict=True):
        if high - low > _NEAR:
            found[n].append((low, high))
    return [sorted(each) for each in found]


# The drawing


def _air(taken: Iterable[tuple[Feature, tuple[Loop, ...]]], paper: Paper) -> Iterator[Item]:
    for cut, loops in taken:
        yield from (Fill(_AIR, (paper.loop(loop),), "white", ref=cut.id) for loop in loops)


class _Beside:
    """The lettering over the body, or under it: lines one above the other, so that no words cover others."""

    def __init__(self, nearest: float, way: float) -> None:
        self._nearest, self._way = nearest, way
        self._taken: list[list[tuple[float, float]]] = []

    def rows(self, u: float, words: Sequence[str]) -> list[float]:
        """Where the feet of these words stand, centred over a place, the first of them nearest the body."""
        half = max(text_width(each, _WORDS, bold=True) for each in words) / 2 + 1.0
        first = 0
        while any(
            u - half < right and u + half > left
            for line in self._taken[first : first + len(words)]
            for left, right in line
        ):
            first += 1
        while len(self._taken) < first + len(words):
            self._taken.append([])
        for line in self._taken[first : first + len(words)]:
            line.append((u - half, u + half))
        return [self.foot(first + n) for n in range(len(words))]

    def foot(self, row: int) -> float:
        """Where the words of a line stand."""
        return self._nearest + self._way * row * (_WORDS + 2.0)

    @property
    def next(self) -> float:
        """Where the first free line is."""
        return self.foot(len(self._taken))


class _Lettered:
    """The section's figures, each cut's in its turn, the deepest first."""

    def __init__(self, plan: Plan, paper: Paper, wood: BaseGeometry, met: Iterable[Met]) -> None:
        import shapely

        self.plan, self.paper, self.wood = plan, paper, wood
        self.by_id = {each.id: each for each in plan.features}
        _, low, _, high = wood.bounds
        read = [mark for each in met for mark in each.marks if mark is not None]
        # Words keep clear of every line that a length is read along, and of each other.
        self.clear_of: list[BaseGeometry] = [
            shapely.LineString([(u, start), (u, end)]) for u, start, end in read
        ]
        self.over = _Beside(paper.at(0.0, high)[1] + 3.0, 1.0)
        self.under = _Beside(paper.at(0.0, low)[1] - 3.0 - _WORDS, -1.0)

    def of(self, met: Iterable[Met]) -> Iterator[Item]:
        """Every cut's number or name beside it, its depth, and the wood that remains, with the lines they are read along."""
        rows = list(self._alike(sorted(met, key=lambda each: each.span)))
        for row in sorted(rows, key=lambda row: -(row[0].depth or 0.0)):
            yield from self._named(row)
        for row in rows:
            # Of holes that are alike the middle one is lettered for all.
            middle = row[len(row) // 2]
            for each in row:
                for mark, beside in zip(each.marks[1:], (self.over, self.under), strict=True):
                    if mark is not None:
                        yield from _arrowed(mark, self.paper)
                        if each is middle:
                            yield self._remains(mark, beside, "wood" if len(row) == 1 else "wood each")

    def _alike(self, met: Iterable[Met]) -> Iterator[list[Met]]:
        """Holes that follow each other along the line and would all be lettered alike, together; every other cut by itself."""
        for _, row in groupby(met, key=self._lettering):
            yield list(row)

    def _lettering(self, met: Met) -> tuple[str, ...]:
        cut = self.by_id[met.id]
        figures = ("" if mark is None else self._own(mark) for mark in met.marks)
        return (cut.family if isinstance(cut, Bore) else cut.id, met.face, *figures)

    def _named(self, row: Sequence[Met]) -> Iterator[Item]:
        cuts = [self.by_id[each.id] for each in row]
        name = ", ".join(number_of(cut.id) if isinstance(cut, Bore) else cut.role for cut in cuts)
        met, each = row[0], "" if len(row) == 1 else " each"
        words = [name] if met.marks[0] is None else [f"{self._own(met.marks[0])} deep{each}", name]
        u = self.paper.at((met.span[0] + row[-1].span[1]) / 2, 0.0)[0]
        beside = self.under if met.face == "back" else self.over
        for foot, said in zip(beside.rows(u, words), words, strict=True):
            yield Text(LETTERING, (u, foot), said, _WORDS, "middle", bold=said == name, ref=met.id)
        for one in row:
            if one.marks[0] is not None:
                yield from _arrowed(one.marks[0], self.paper)

    def _remains(self, mark: Upright, beside: _Beside, what: str) -> Text:
        """The wood's figure beside its line where it stands in wood there, else outside the body."""
        import shapely

        words = f"{self._own(mark)} {what}"
        u, start, end = mark
        wide, high = (text_width(words, _WORDS) + 2.0) / self.paper.scale, (_WORDS + 1.5) / self.paper.scale
        middle, foot = (start + end) / 2, self.paper.at(0.0, (start + end) / 2)[1] - _WORDS / 2
        for left, at, anchor in ((u, 1.2, "start"), (u - wide, -1.2, "end")):
            room = shapely.box(left, middle - high / 2, left + wide, middle + high / 2)
            beside_it = (
                shapely.box(left + 2 * _NEAR, *room.bounds[1:]) if left == u else room.buffer(-2 * _NEAR)
            )
            if self.wood.contains(room.buffer(-_NEAR)) and not any(
                each.intersects(beside_it) for each in self.clear_of
            ):
                self.clear_of.append(room)
                x = self.paper.at(u, 0.0)[0] + at
                return Text(DIMENSION, (x, foot), words, _WORDS, cast(Anchor, anchor))
        x = self.paper.at(u, 0.0)[0]
        return Text(DIMENSION, (x, beside.rows(x, [words])[0]), words, _WORDS, "middle")

    def _own(self, mark: Upright) -> str:
        return own_unit(abs(mark[1] - mark[2]), self.plan.unit)

    def title(self, line: CutLine) -> Iterator[Item]:
        """The section's letters over it, and which way its ends lie."""
        left, _, right, _ = self.wood.bounds
        a, b = self.paper.at(left, 0.0)[0], self.paper.at(right, 0.0)[0]
        v = self.over.next + 2.0
        first, last = _ends(self.plan, line)
        words = f"{LETTER}\N{EN DASH}{LETTER}"
        yield Text(LETTERING, ((a + b) / 2, v), words, 5.0, "middle", bold=True)
        yield Text(LETTERING, (a, v), first, _WORDS)
        yield Text(LETTERING, (b, v), last, _WORDS, "end")


def _arrowed(mark: Upright, paper: Paper) -> Iterator[Item]:
    """A dimension line from height to height, with a head at either end where there is room."""
    u, start, end = mark
    a, b = paper.at(u, start), paper.at(u, end)
    yield Line(DIMENSION, a, b)
    if abs(a[1] - b[1]) > 5.0:
        up = 1.0 if b[1] > a[1] else -1.0
        yield _head(b, (0.0, up), DIMENSION)
        yield _head(a, (0.0, -up), DIMENSION)


def _head(tip: tuple[float, float], way: tuple[float, float], layer: Layer) -> Fill:
    """An arrowhead, closed and filled, 15 degrees wide at its sides (ISO 129-1)."""
    back = (tip[0] - 2.4 * way[0], tip[1] - 2.4 * way[1])
    aside = (-0.64 * way[1], 0.64 * way[0])
    return Fill(
        layer,
        ((tip, (back[0] + aside[0], back[1] + aside[1]), (back[0] - aside[0], back[1] - aside[1])),),
    )


def _ends(plan: Plan, line: CutLine) -> tuple[str, str]:
    way = line.heading
    if abs(way.x) >= abs(way.y):
        ends = ("neck", "tail")
        return ends if way.x > 0 else ends[::-1]
    ends = ("bass", "treble")
    return ends if way.y * plan.layout.treble > 0 else ends[::-1]
