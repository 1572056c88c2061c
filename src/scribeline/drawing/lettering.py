"""The lettering of a view: labels, balloons, datum and scale line, each where it covers least."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import hypot
from typing import TYPE_CHECKING, TypeGuard

from scribeline.drawing.crowding import Crowd
from scribeline.drawing.edge_bores import lies_level
from scribeline.drawing.extent import bounds
from scribeline.drawing.face import DESCENT, LINE_PITCH, text_width
from scribeline.drawing.facing import Show, body_window, neck_end_across, treble_up, view_point
from scribeline.drawing.marks import balloon, balloon_radius, datum
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    CENTRE,
    DIMENSION,
    HIDDEN,
    LEAST_LETTERING,
    LETTERING,
    THIN,
    Fill,
    Item,
    Leader,
    Line,
    Path,
    Point,
    Text,
    Window,
)
from scribeline.features import Bore, Pocket, entry_ellipse, polygon
from scribeline.features.cuts import Face
from scribeline.lengths import both_units
from scribeline.plan import Plan
from scribeline.steps import balloon as hole_number

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry


@dataclass(frozen=True, slots=True)
class Lettering:
    """What is lettered on one view.

    Attributes:
        plan: what is drawn.
        face: the face seen.
        show: what the view includes.
        scale: of the drawing.
        crowd: what is drawn already; what is lettered joins it.
    """

    plan: Plan
    face: Face
    show: Show
    scale: float
    crowd: Crowd

    def drawn(self) -> list[Item]:
        """All of it; what has least choice of place comes first."""
        lettering: list[Item] = []
        for made in (self.scale_line, self.datum, self.sides):
            items = made()
            self.crowd.add(items)
            lettering += items
        if self.show.balloons:
            numbers = self.balloons()
            self.crowd.add(numbers)
            lettering += numbers
        if self.show.labels:
            labels = self.labels()
            lettering = [*_parted(lettering, labels), *labels]
        return lettering

    def at(self, place: tuple[float, ...]) -> Point:
        """Where a place of the instrument frame lies on the paper."""
        return view_point(self.face, place, self.scale)

    def scale_line(self) -> list[Item]:
        """Two strokes beside the bridge, so that they cross none of its holes."""
        layout = self.plan.layout
        if not self.show.scale_line or self.face != "top":
            return []
        across = 30.0 if layout.bridge is None else layout.bridge.half_width
        u, half = layout.scale * self.scale, across * self.scale
        size = self.show.lettering
        strokes: list[Item] = [
            Line(CENTRE, (u, side * (half + 1.5)), (u, side * (half + 13.0)), "scale-line")
            for side in (1, -1)
        ]
        mm, inches = both_units(layout.past("nut", layout.scale), self.plan.unit)
        treble = treble_up(self.plan, self.face)
        # In two lines close by, or else narrower and further away with a line to it.
        close = [
            ("scale line:", size, False),
            (f"{mm} from the nut", size, False),
            (inches, LEAST_LETTERING, False),
        ]
        far = [close[0], (mm, size, False), ("from the nut", size, False), close[2]]
        wide, tall = _block_size(close)
        places = [
            (u + aside * (wide / 2 + 2.0), side * (half + reach + tall / 2), 0.0)
            for side in (treble, -treble)
            for aside, reach in ((-1, 3.0), (1, 3.0), (0, 15.0), (-1, 8.0), (1, 8.0), (0, 20.0), (0, 26.0))
        ]
        narrow, high = _block_size(far)
        led = [
            (u + aside * (narrow / 2 + out), side * (half + 13.0 + up), 0.0)
            for side in (treble, -treble)
            for out in (6.0, 12.0, 18.0, 24.0, 30.0, 36.0, 42.0, 48.0)
            for up in (0.0, 8.0, -8.0, 16.0, 24.0)
            for aside in (-1, 1)
        ]

        def window(place: tuple[float, float, float]) -> Window:
            w, h = (wide, tall) if place in places else (narrow + 2.0, high)
            return (place[0] - w / 2, place[1] - h / 2, place[0] + w / 2, place[1] + h / 2)

        place = self.crowd.best([*places, *led], window)
        if place in places:
            return [*strokes, *_block(close, place, tall, "scale-line")]
        aside, side = (-1 if place[0] < u else 1), (-1 if place[1] < 0 else 1)
        end = (place[0] - aside * (narrow / 2 + 1.0), place[1])
        lead = Line(THIN, (u, side * (half + 13.0)), end, "scale-line")
        return [*strokes, lead, *_block(far, place, high, "scale-line")]

    def datum(self) -> list[Item]:
        """The pocket's end wall, carried out past its corner and named."""
        if not self.show.datum:
            return []
        u = self.plan.layout.pocket_end * self.scale
        half = max(map(abs, neck_end_across(self.plan))) * self.scale
        treble = treble_up(self.plan, self.face)
        name, size = f"datum: {self.plan.layout.datum('pocket-end').name}", ACTED_ON_LETTERING
        wide = text_width(name, size, bold=True) + 9.5
        places = [
            (u, side * (half + out), turn)
            for side in (treble, -treble)
            for out in (14.0, 24.0, 34.0, 44.0)
            for turn in (180.0, 0.0)
        ]
        place = self.crowd.best(
            places,
            lambda p: (
                p[0] + (0.5 if p[2] == 0.0 else -wide),
                p[1] - size,
                p[0] + (wide if p[2] == 0.0 else -0.5),
                p[1] + size,
            ),
        )
        side = 1 if place[1] > 0 else -1
        end = place[1] + side * 4.0
        stroke = Line(THIN, (u, side * (half + 1.4)), (u, end), "neck-pocket")
        return [stroke, *datum((u, place[1]), name, angle_deg=place[2], reach=8.0)]

    def sides(self) -> list[Item]:
        """Which side is which, at the tail where there is room."""
        if not self.show.sides:
            return []
        size, up = self.show.lettering, treble_up(self.plan, self.face)
        right = body_window(self.plan, self.face, self.scale)[2]
        items: list[Item] = []
        for words, side in (("to the treble", up), ("to the bass", -up)):
            half = text_width(words, size) / 2
            places = [
                (right - inset, side * (half + 5.0 + out), 0.0)
                for inset in (18.0, 13.0, 26.0)
                for out in (0.0, 15.0, 30.0, 45.0, 60.0)
            ]
            boxes = {p: (p[0] - size, p[1] - half, p[0] + 5.0, p[1] + half) for p in places}
            u, v, _ = self.crowd.best(places, boxes.__getitem__)
            items.append(Text(LETTERING, (u, v), words, size, "middle", 90.0))
            # An arrow beside the words, pointing where they say.
            a, b = v - side * half, v + side * half
            items.append(Line(THIN, (u + 3.0, a), (u + 3.0, b)))
            head = ((u + 3.0, b), (u + 2.2, b - side * 3.0), (u + 3.8, b - side * 3.0))
            items.append(Fill(LETTERING, (head,)))
        return items

    def balloons(self) -> list[Item]:
        """The number of each hole of this face beside it, where it covers least."""
        if not self.show.bores:
            return []
        shown = [bore for bore in self.plan.features.bores if bore.face == self.face or lies_level(bore)]
        holes = [(*self.at(bore.at), self.reach(bore)) for bore in shown]
        size = ACTED_ON_LETTERING
        items: list[Item] = []
        numbers = [hole_number(bore.id) for bore in shown]
        radii = [balloon_radius(words, size) for words in numbers]
        groups = [bore.id if lies_level(bore) else "/".join(bore.row) for bore in shown]
        places = self.crowd.balloon_places(holes, radii, groups)
        for hole, words, centre in zip(holes, numbers, places, strict=True):
            away = hypot(centre[0] - hole[0], centre[1] - hole[1])
            share = hole[2] / away
            tip = (hole[0] + share * (centre[0] - hole[0]), hole[1] + share * (centre[1] - hole[1]))
            items += balloon(centre, words, tip=tip, height=size)
        return items

    def reach(self, bore: Bore) -> float:
        """How far a hole's mark reaches from its centre without its cross, mm on the paper."""
        if lies_level(bore):
            return 0.5
        widest = bore.widest if bore.is_upright else entry_ellipse(bore)[0]
        return widest / 2 * self.scale

    def labels(self) -> list[Item]:
        """Names and depths of the pockets shown."""
        items: list[Item] = []
        # A cavity before its cover's recess, which has more choice of place.
        for pocket in sorted(self.plan.features.pockets, key=lambda each: bool(self.sunk_in(each))):
            here = pocket.face == self.face
            if not (self.show.pockets if here else self.show.hidden):
                continue
            label = self.label(pocket)
            self.crowd.add(label)
            items += label
        return items

    def label(self, pocket: Pocket) -> list[Item]:
        """Name and depth inside the pocket, turned if need be; as large as fits.

        Where nothing fits, a pocket of this face has its label beside it, one of the other face none.
        """
        mm, inches = self.depth_of(pocket)
        here = pocket.face == self.face
        outline = [self.at(point) for point in pocket.outline]
        # A cover's recess has its depth beside its cavity, not in it, where it would read as the cavity's.
        within = [[self.at(point) for point in each.outline] for each in self.sunk_in(pocket)]
        whole = [pocket.role] if here else [pocket.role, f"(in the {_FACE_WORDS[pocket.face]})"]
        parted = [*pocket.role.split(), *whole[1:]]
        largest = self.show.lettering if here else ACTED_ON_LETTERING
        # First where it covers nothing at all, smaller if need be; then where it crosses a line, never in large letters.
        least = 3.0 if here else LEAST_LETTERING
        tries = [(size, 1.0) for size in (largest, ACTED_ON_LETTERING, 3.0, least)]
        # What is cut from the other face may cross one line, first of those that give way: its own template names it.
        tries += [
            (size, most)
            for most in ((300.0,) if here else (45.0, 75.0))
            for size in (ACTED_ON_LETTERING, 3.0, LEAST_LETTERING)
            if size <= largest
        ]
        for size, covered in dict.fromkeys(tries):
            small = max(LEAST_LETTERING, 0.7 * size)
            for head, depth in ((whole, [f"{mm} deep"]), (parted, [mm, "deep"])):
                lines = [
                    *((words, size, True) for words in head),
                    *((words, size, False) for words in depth),
                    *((words, small, False) for words in inches),
                ]
                wide, tall = _block_size(lines)
                # With room for the descenders of the last line.
                high = tall + 2 * DESCENT * small
                place = self.crowd.inside(outline, wide, high, margin=1.5, most=covered, without=within)
                if place is not None:
                    return [*self.blank(place, wide, tall), *_block(lines, place, tall, pocket.id)]
        return self.beside(pocket, outline) if here else []

    def sunk_in(self, pocket: Pocket) -> list[Pocket]:
        """The deeper pockets of its face that lie wholly in it."""
        return [
            each
            for each in self.plan.features.pockets
            if each.face == pocket.face
            and each.depth > pocket.depth
            and polygon(pocket.outline).contains(polygon(each.outline))
        ]

    def depth_of(self, pocket: Pocket) -> tuple[str, tuple[str, ...]]:
        """A pocket's depth, and the second unit's lines: of one whose floor leans at its end wall, then at its mouth."""
        if pocket.slope is None:
            own, second = both_units(pocket.depth, self.plan.unit)
            return own, (second,)
        mouth, wall = (both_units(depth, self.plan.unit) for depth in pocket.depths)
        return f"{wall[0].rpartition(' ')[0]} to {mouth[0]}", (f"{wall[1]} to", mouth[1])

    def beside(self, pocket: Pocket, outline: Sequence[Point]) -> list[Item]:
        """The label of a pocket too small to hold it, on a leader."""
        mm, inches = self.depth_of(pocket)
        words = f"{pocket.role}, {mm} deep"
        wide = text_width(words, ACTED_ON_LETTERING) + 1.0
        # From its corners, up or down; outwards first.
        tips = {
            (u * p[0], k * p[1]): (p, k, u)
            for u in (1, -1)
            for k in (1, -1)
            for p in (max(outline, key=lambda p: (round(k * p[1], 1), u * p[0])),)
        }.values()
        tip_at = {
            (tip[0] + side * aside, tip[1] + k * reach, float(number)): tip
            for number, (tip, k, outer) in enumerate(tips)
            for reach in (8.0, 14.0, 22.0, 32.0, 42.0)
            for aside in (6.0, 14.0, 22.0, 32.0)
            for side in (outer, -outer)
        }
        places = sorted(tip_at, key=lambda p: abs(p[0] - tip_at[p][0]) + abs(p[1] - tip_at[p][1]))

        def box(p: tuple[float, float, float]) -> Window:
            left = p[0] if p[0] > tip_at[p][0] else p[0] - wide
            # The second unit below the landing counts with its descenders.
            return (left, p[1] - 4.8, left + wide, p[1] + 5.0)

        best = self.crowd.best(places, box)
        return [Leader(DIMENSION, tip_at[best], best[:2], words, " ".join(inches), ref=pocket.id)]

    def blank(self, place: tuple[float, float, float], wide: float, tall: float) -> list[Item]:
        """White under a label, so that no fret runs through it."""
        if not self.show.frets or self.face != "top":
            return []
        u, v, turn = place
        a, b = (wide / 2, tall / 2) if turn == 0.0 else (tall / 2, wide / 2)
        return [
            Fill(LETTERING, (((u - a, v - b), (u + a, v - b), (u + a, v + b), (u - a, v + b)),), tone="white")
        ]


_FACE_WORDS = {"top": "front", "back": "back"}


def _block_size(lines: Sequence[tuple[str, float, bool]]) -> tuple[float, float]:
    wide = max(text_width(words, high, bold=bold) for words, high, bold in lines)
    return wide, sum(high * LINE_PITCH for _, high, _ in lines) - (LINE_PITCH - 1) * lines[-1][1]


def _block(
    lines: Sequence[tuple[str, float, bool]], place: tuple[float, float, float], tall: float, ref: str
) -> list[Item]:
    """Lines of lettering centred on a place, upright or turned by a quarter."""
    u, v, turn = place
    items: list[Item] = []
    down = tall / 2
    for words, size, bold in lines:
        down -= size
        at = (u, v + down) if turn == 0.0 else (u - down, v)
        items.append(Text(LETTERING, at, words, size, "middle", turn, bold=bold, ref=ref))
        down -= (LINE_PITCH - 1) * size
    return items


def broken(axis: Sequence[Line], lettering: Sequence[Item]) -> list[Item]:
    """The centreline with gaps where lettering stands on it."""
    pieces: list[Item] = []
    for line in axis:
        gaps = sorted(
            (box[0] - 1.5, box[2] + 1.5)
            for item in lettering
            if isinstance(item, Text)
            and (box := bounds((item,))) is not None
            and box[1] - 0.5 < line.a[1] < box[3] + 0.5
        )
        start = line.a[0]
        for low, high in gaps:
            if low > start:
                pieces.append(replace(line, a=(start, line.a[1]), b=(low, line.a[1])))
            start = max(start, high)
        if start < line.b[0]:
            pieces.append(replace(line, a=(start, line.a[1])))
    return pieces


def cleared(items: Sequence[Item], lettering: Sequence[Item], *, edge: bool) -> list[Item]:
    """Marks with gaps where lettering stands on the hidden edges and the axes among them.

    Args:
        items: the marks.
        lettering: what stands on them.
        edge: whether the body's edge gives way too, where a pocket that is cut through it has its label.
    """
    patches = _patches(lettering)
    return [
        part
        for item in items
        for part in (_without(item, patches) if _gives_way(item, edge=edge) else (item,))
    ]


def _parted(lettering: Sequence[Item], labels: Sequence[Item]) -> list[Item]:
    """Lettering whose leaders have gaps where labels had no other place than on them."""
    patches = _patches(labels)
    return [
        part
        for item in lettering
        for part in (_without(item, patches) if isinstance(item, Line) and item.layer == THIN else (item,))
    ]


def _patches(lettering: Sequence[Item]) -> BaseGeometry:
    """Where lettering stands, with a little white round it."""
    import shapely

    boxes = [bounds((text,)) for text in lettering if isinstance(text, Text)]
    patches = shapely.union_all([shapely.box(*box).buffer(0.8) for box in boxes if box is not None])
    shapely.prepare(patches)
    return patches


def _gives_way(item: Item, *, edge: bool) -> TypeGuard[Line | Path]:
    return isinstance(item, Line | Path) and (
        item.layer in {HIDDEN, CENTRE} or (edge and item.ref == "outline")
    )


def _without(item: Line | Path, patches: BaseGeometry) -> list[Item]:
    """What is left of a line or a path outside some patches."""
    import shapely

    if isinstance(item, Line):
        run = shapely.LineString((item.a, item.b))
    else:
        run = shapely.LinearRing(item.points) if item.closed else shapely.LineString(item.points)
    if not run.intersects(patches):
        return [item]
    left = shapely.line_merge(shapely.difference(run, patches))
    return [
        Path(item.layer, tuple((float(u), float(v)) for u, v in part.coords), ref=item.ref)
        for part in shapely.get_parts(left)
    ]
