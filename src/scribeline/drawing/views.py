"""The body seen from the front and from the back: what templates and drawing sheets are made of.

View coordinates (u, v): u is the instrument's x, so the neck lies to the left and the tail to the right.
Seen from the front v is y; seen from the back v is −y: the body was turned over about its long axis. Views
are built for the face they show, never mirrored afterwards, so their lettering always reads.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import atan2, cos, degrees, hypot, pi, sin

from scribeline.drawing.crowding import Crowd
from scribeline.drawing.extent import bounds
from scribeline.drawing.face import DESCENT, LINE_PITCH, text_width
from scribeline.drawing.marks import Piece, awl_mark, balloon, balloon_radius, datum
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    CENTRE,
    CUT,
    DIMENSION,
    HIDDEN,
    LEAST_LETTERING,
    LETTERING,
    MARK,
    OUTLINE,
    PHANTOM,
    THIN,
    Circle,
    Fill,
    Item,
    Layer,
    Leader,
    Line,
    Path,
    Point,
    Text,
    Window,
)
from scribeline.features import Bore, Pocket, entry_ellipse
from scribeline.features.cuts import Face
from scribeline.layout import NECK_POCKET
from scribeline.lengths import both_units
from scribeline.plan import Plan
from scribeline.steps import balloon as hole_number

DATUM = "along: 12th-fret crown and neck pocket's end wall; across: centreline"
"""The datum of every sheet, in words."""

SEEN = {"top": "seen from the front", "back": "seen from the back"}


@dataclass(frozen=True, slots=True)
class Show:
    """What a view includes.

    Attributes:
        outline: The body's edge.
        centreline: Chain line over the body, from the nut when frets are shown.
        sides: The words "treble side" and "bass side".
        datum: The neck pocket's end wall named as the datum.
        scale_line: Where the string's length ends, named with its distance from the nut.
        frets: First and last fret to draw, with the board's edges; front view only.
        plate: The bridge plate as a part in place (dashed when seen from the back).
        saddles: Each saddle's break point; front view only.
        pockets: The pockets of the face.
        labels: Names and depths in the pockets.
        bores: The holes of the face.
        awl_marks: A cross with an open middle on every hole, for pricking through.
        balloons: The holes' numbers.
        hidden: Pockets and upright holes of the other face, dashed.
        lettering: Capital height of what is lettered, mm on the paper.
    """

    outline: bool = True
    centreline: bool = True
    sides: bool = True
    datum: bool = True
    scale_line: bool = True
    frets: tuple[int, int] | None = None
    plate: bool = True
    saddles: bool = True
    pockets: bool = True
    labels: bool = True
    bores: bool = True
    awl_marks: bool = True
    balloons: bool = True
    hidden: bool = False
    lettering: float = ACTED_ON_LETTERING


def front_view(
    plan: Plan,
    show: Show | None = None,
    *,
    scale: float = 1.0,
    keep_clear: Sequence[Item] = (),
    pages: Sequence[Window] = (),
) -> tuple[Item, ...]:
    """The body seen from the front.

    Args:
        plan: What to draw.
        show: What to include; everything but frets and hidden cuts by default.
        scale: Of the drawing. What is measured comes back in view coordinates times this; lettering,
            balloons and crosses keep their size on the paper.
        keep_clear: Marks already on the paper (dimensions, say), in the same coordinates: labels and
            balloons stay away from them. They are not part of what is returned.

        pages: Windows of the pages the view will be parted into: lettering is put where one holds it whole.

    Returns:
        Marks whose `ref` is the id of the cut they belong to ("outline" for the body's edge).
    """
    return _View(plan, "top", show or Show(), scale).drawn(keep_clear, pages)


def back_view(
    plan: Plan,
    show: Show | None = None,
    *,
    scale: float = 1.0,
    keep_clear: Sequence[Item] = (),
    pages: Sequence[Window] = (),
) -> tuple[Item, ...]:
    """The body seen from the back, turned over about its long axis; otherwise like `front_view`."""
    return _View(plan, "back", show or Show(), scale).drawn(keep_clear, pages)


def view_point(face: Face, at: tuple[float, ...], scale: float = 1.0) -> Point:
    """Where a place of the instrument frame lies in the view of a face."""
    x, y = at[0], at[1]
    return (x * scale, (y if face == "top" else -y) * scale)


def body_window(plan: Plan, face: Face, scale: float = 1.0) -> Window:
    """The rectangle the body takes up in the view of a face."""
    us, vs = zip(*(view_point(face, point, scale) for point in plan.layout.outline), strict=True)
    return (min(us), min(vs), max(us), max(vs))


def treble_up(plan: Plan, face: Face) -> int:
    """+1 where the treble side is at the top of the view, −1 where it is at the bottom."""
    return plan.layout.treble if face == "top" else -plan.layout.treble


@dataclass(frozen=True, slots=True)
class _View:
    """One view being drawn: where things lie in it and how they are shown."""

    plan: Plan
    face: Face
    show: Show
    scale: float

    def at(self, place: tuple[float, ...]) -> Point:
        return view_point(self.face, place, self.scale)

    def ring(self, layer: Layer, ring: Iterable[tuple[float, ...]], ref: str) -> Path:
        return Path(layer, tuple(self.at(point) for point in ring), closed=True, ref=ref)

    def drawn(self, keep_clear: Sequence[Item], pages: Sequence[Window]) -> tuple[Item, ...]:
        show, features = self.show, self.plan.features
        items: list[Item] = []
        if show.outline:
            items.append(self.ring(OUTLINE, self.plan.layout.outline, "outline"))
        for pocket in features.pockets:
            items += self.pocket(pocket)
        if show.frets and self.face == "top":
            items += self.frets(*show.frets)
        items += self.hardware()
        for bore in features.bores:
            items += self.bore(bore)
        axis = self.centreline() if show.centreline else []
        crowd = Crowd([*items, *axis, *keep_clear], pages)
        lettering = [*self.scale_line(crowd), *self.datum(crowd), *self.sides(crowd)]
        crowd.add(lettering)
        if show.balloons:
            numbers = self.balloons(crowd)
            crowd.add(numbers)
            lettering += numbers
        if show.labels:
            lettering += self.labels(crowd)
        items = [part for item in items for part in self.cleared(item, lettering)]
        return (*items, *_broken(axis, lettering), *lettering)

    def cleared(self, item: Item, lettering: Sequence[Item]) -> list[Item]:
        """The body's edge with gaps where a pocket's label stands on it; the pocket is cut through it there."""
        if not (isinstance(item, Path) and item.ref == "outline") or self.show.awl_marks:
            return [item]
        import shapely

        boxes = [bounds((text,)) for text in lettering if isinstance(text, Text)]
        patches = shapely.union_all([shapely.box(*box).buffer(0.8) for box in boxes if box is not None])
        ring = shapely.LinearRing(item.points)
        if not ring.intersects(patches):
            return [item]
        left = shapely.line_merge(shapely.difference(ring, patches))
        return [
            Path(item.layer, tuple((float(u), float(v)) for u, v in part.coords), ref=item.ref)
            for part in shapely.get_parts(left)
        ]

    # What is cut

    def pocket(self, pocket: Pocket) -> list[Item]:
        here = pocket.face == self.face
        if not (self.show.pockets if here else self.show.hidden):
            return []
        return [self.ring(CUT if here else HIDDEN, pocket.outline, pocket.id)]

    def bore(self, bore: Bore) -> list[Item]:
        if bore.face != self.face:
            if not (self.show.hidden and bore.is_upright) or self.same_axis(bore):
                return []
            centre = self.at(bore.at)
            return [
                Circle(HIDDEN, centre, step.diameter / 2 * self.scale, bore.id) for step in bore.steps[:1]
            ]
        if not self.show.bores:
            return []
        return self.upright(bore) if bore.is_upright else self.tilted(bore)

    def same_axis(self, bore: Bore) -> bool:
        """Whether a hole of this face lies on the axis of one of the other: its circles would only clutter."""
        return self.show.bores and any(
            other.face == self.face and hypot(other.at.x - bore.at.x, other.at.y - bore.at.y) < 0.01
            for other in self.plan.features.bores
        )

    def upright(self, bore: Bore) -> list[Item]:
        centre = self.at(bore.at)
        widest, *narrower = (step.diameter / 2 * self.scale for step in bore.steps)
        if self.show.awl_marks:
            marks = list(awl_mark(centre, widest, ref=bore.id))
            return [*marks, *(Circle(MARK, centre, radius, bore.id) for radius in narrower)]
        return [Circle(CUT, centre, radius, bore.id) for radius in (widest, *narrower)]

    def tilted(self, bore: Bore) -> list[Item]:
        """A slanting hole's mouth is an ellipse on the face; an arrow says which way it heads."""
        long, wide = (size / 2 * self.scale for size in entry_ellipse(bore))
        (u, v), (ahead_u, ahead_v) = self.at(bore.at), self.at((bore.axis.x, bore.axis.y))
        heading = atan2(ahead_v, ahead_u)
        c, s = cos(heading), sin(heading)

        def on(along: float, aside: float) -> Point:
            return (u + along * c - aside * s, v + along * s + aside * c)

        mouth = tuple(on(long * cos(pi * n / 90), wide * sin(pi * n / 90)) for n in range(180))
        items: list[Item] = [Path(MARK if self.show.awl_marks else CUT, mouth, closed=True, ref=bore.id)]
        if self.show.awl_marks:
            near, far = min(1.0, 0.45 * wide), wide + 1.5
            items += [
                Line(THIN, on(k * near, 0), on(k * (long + 1.5), 0), bore.id) for k in (-1.0,)
            ]  # ahead, the arrow takes the cross's arm's place
            items += [Line(THIN, on(0, k * near), on(0, k * far), bore.id) for k in (-1.0, 1.0)]
            start = near
        else:
            start = long
        tip, back = long + 9.0, long + 6.0
        items.append(Line(THIN, on(start, 0), on(back, 0), bore.id))
        items.append(Fill(MARK, ((on(tip, 0), on(back, 0.8), on(back, -0.8)),), ref=bore.id))
        return items

    # Parts in place and lines of reference

    def frets(self, first: int, last: int) -> list[Item]:
        shown = [fret for fret in self.plan.layout.frets if first <= fret.n <= last]
        if not shown:
            return []
        items: list[Item] = [
            Line(THIN, self.at(fret.treble), self.at(fret.bass), f"fret-{fret.n}") for fret in shown
        ]
        for side in ("treble", "bass"):
            a, b = getattr(shown[0], side), getattr(shown[-1], side)
            share = (self.plan.layout.board_end - a.x) / (b.x - a.x) if b.x > a.x else 1.0
            end = (a.x + share * (b.x - a.x), a.y + share * (b.y - a.y))
            items.append(Line(PHANTOM, self.at(a), self.at(end), "fingerboard"))
        (u, v), (_, w) = items[-1].b, items[-2].b  # type: ignore[union-attr]  # both are the lines just made
        items.append(Line(PHANTOM, (u, v), (u, w), "fingerboard"))
        return items

    def hardware(self) -> list[Item]:
        plate = self.plan.layout.plate
        if plate is None:
            return []
        items: list[Item] = []
        front = self.face == "top"
        if self.show.plate and front:
            items.append(self.ring(PHANTOM, plate.corners, "bridge-plate"))
        if self.show.saddles and front:
            strings = self.plan.layout.strings
            rows = sorted(string.saddle.y for string in strings)
            half = 0.3 * min(b - a for a, b in pairwise(rows))
            items += [
                Line(
                    PHANTOM,
                    self.at((string.saddle.x, string.saddle.y - half)),
                    self.at((string.saddle.x, string.saddle.y + half)),
                    f"saddle-{string.no}",
                )
                for string in strings
            ]
        return items

    def centreline(self) -> list[Line]:
        layout = self.plan.layout
        xs = [point.x for point in layout.outline]
        first = min(xs) * self.scale
        if self.show.frets and self.face == "top":
            first = min(first, layout.frets[max(self.show.frets[0], 1) - 1].x * self.scale)
        return [Line(CENTRE, (first - 6.0, 0.0), (max(xs) * self.scale + 6.0, 0.0), "centreline")]

    def scale_line(self, crowd: Crowd) -> list[Item]:
        """Two strokes beside the plate, so that they cross none of its holes."""
        layout = self.plan.layout
        if not self.show.scale_line or self.face != "top":
            return []
        across = [abs(corner.y) for corner in layout.plate.corners] if layout.plate else [30.0]
        u, half = layout.scale * self.scale, max(across) * self.scale
        size = self.show.lettering
        strokes: list[Item] = [
            Line(CENTRE, (u, side * (half + 1.5)), (u, side * (half + 13.0)), "scale-line")
            for side in (1, -1)
        ]
        mm, inches = both_units(layout.scale)
        lines = [
            ("scale line:", size, False),
            (f"{mm} from the nut", size, False),
            (inches, LEAST_LETTERING, False),
        ]
        wide, tall = _block_size(lines)
        places = [
            (u + aside * (wide / 2 + 2.0), side * (half + reach + tall / 2), 0.0)
            for side in (treble_up(self.plan, self.face), -treble_up(self.plan, self.face))
            for aside, reach in ((-1, 3.0), (1, 3.0), (0, 15.0), (-1, 8.0), (1, 8.0), (0, 20.0), (0, 26.0))
        ]
        place = crowd.best(
            places, lambda p: (p[0] - wide / 2, p[1] - tall / 2, p[0] + wide / 2, p[1] + tall / 2)
        )
        return [*strokes, *_block(lines, place, tall, "scale-line")]

    def datum(self, crowd: Crowd) -> list[Item]:
        """The pocket's end wall, carried out past its corner and named."""
        if not self.show.datum:
            return []
        pocket = next((p for p in self.plan.features.pockets if p.role == NECK_POCKET), None)
        if pocket is None:
            return []
        u = self.plan.layout.pocket_end * self.scale
        half = max(abs(point.y) for point in pocket.outline) * self.scale
        side = treble_up(self.plan, self.face)
        name, size = "datum: pocket end wall", ACTED_ON_LETTERING
        wide = text_width(name, size, bold=True) + 9.5
        places = [(u, side * (half + out), turn) for out in (14.0, 24.0, 34.0, 44.0) for turn in (180.0, 0.0)]
        place = crowd.best(
            places,
            lambda p: (
                p[0] + (0.5 if p[2] == 0.0 else -wide),
                p[1] - size,
                p[0] + (wide if p[2] == 0.0 else -0.5),
                p[1] + size,
            ),
        )
        end = place[1] + side * 4.0
        stroke = Line(THIN, (u, side * (half + 1.4)), (u, end), "neck-pocket")
        return [stroke, *datum((u, place[1]), name, angle_deg=place[2], reach=8.0)]

    def sides(self, crowd: Crowd) -> list[Item]:
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
            u, v, _ = crowd.best(places, boxes.__getitem__)
            items.append(Text(LETTERING, (u, v), words, size, "middle", 90.0))
            # An arrow beside the words, pointing where they say.
            a, b = v - side * half, v + side * half
            items.append(Line(THIN, (u + 3.0, a), (u + 3.0, b)))
            head = ((u + 3.0, b), (u + 2.2, b - side * 3.0), (u + 3.8, b - side * 3.0))
            items.append(Fill(LETTERING, (head,)))
        return items

    # Lettering

    def balloons(self, crowd: Crowd) -> list[Item]:
        """The number of each hole of this face beside it, where it covers least."""
        if not self.show.bores:
            return []
        shown = [bore for bore in self.plan.features.bores if bore.face == self.face]
        holes = [(*self.at(bore.at), self.reach(bore)) for bore in shown]
        size = ACTED_ON_LETTERING
        items: list[Item] = []
        numbers = [hole_number(bore.id) for bore in shown]
        radii = [balloon_radius(words, size) for words in numbers]
        places = crowd.balloon_places(holes, radii, [bore.group for bore in shown])
        for hole, words, centre in zip(holes, numbers, places, strict=True):
            away = hypot(centre[0] - hole[0], centre[1] - hole[1])
            share = hole[2] / away
            tip = (hole[0] + share * (centre[0] - hole[0]), hole[1] + share * (centre[1] - hole[1]))
            items += balloon(centre, words, tip=tip, height=size)
        return items

    def reach(self, bore: Bore) -> float:
        """How far a hole's mark reaches from its centre without its cross, mm on the paper."""
        widest = bore.widest if bore.is_upright else entry_ellipse(bore)[0]
        return widest / 2 * self.scale

    def labels(self, crowd: Crowd) -> list[Item]:
        items: list[Item] = []
        for pocket in self.plan.features.pockets:
            here = pocket.face == self.face
            if not (self.show.pockets if here else self.show.hidden):
                continue
            label = self.label(pocket, crowd)
            crowd.add(label)
            items += label
        return items

    def label(self, pocket: Pocket, crowd: Crowd) -> list[Item]:
        """Name and depth inside the pocket, turned if need be; as large as fits.

        Where nothing fits, a pocket of this face has its label beside it, one of the other face none.
        """
        mm, inches = both_units(pocket.depth)
        here = pocket.face == self.face
        outline = [self.at(point) for point in pocket.outline]
        whole = [pocket.role] if here else [pocket.role, f"(in the {_FACE_WORDS[pocket.face]})"]
        parted = [*pocket.role.split(), *whole[1:]]
        largest = self.show.lettering if here else ACTED_ON_LETTERING
        # First where it covers nothing at all, then where it crosses a line.
        tries = [(size, 1.0) for size in (largest, ACTED_ON_LETTERING)]
        tries += [(size, 300.0) for size in (largest, ACTED_ON_LETTERING, 3.0, LEAST_LETTERING)]
        for size, most in tries:
            small = max(LEAST_LETTERING, 0.7 * size)
            for head, depth in ((whole, [f"{mm} deep"]), (parted, [mm, "deep"])):
                lines = [
                    *((words, size, True) for words in head),
                    *((words, size, False) for words in depth),
                    (inches, small, False),
                ]
                wide, tall = _block_size(lines)
                # With room for the descenders of the last line.
                place = crowd.inside(outline, wide, tall + 2 * DESCENT * small, margin=1.5, most=most)
                if place is not None:
                    return [*self.blank(place, wide, tall), *_block(lines, place, tall, pocket.id)]
        return self.beside(pocket, outline, crowd) if here else []

    def beside(self, pocket: Pocket, outline: Sequence[Point], crowd: Crowd) -> list[Item]:
        """The label of a pocket too small to hold it, on a leader."""
        mm, inches = both_units(pocket.depth)
        words = f"{pocket.role}, {mm} deep"
        wide = text_width(words, ACTED_ON_LETTERING) + 1.0
        tips = [max(outline, key=lambda p: k * p[1]) for k in (1, -1)]
        places = [
            (tip[0] + side * 6.0, tip[1] + k * reach, tip[1])
            for tip, k in zip(tips, (1, -1), strict=True)
            for reach in (8.0, 14.0, 22.0)
            for side in (1, -1)
        ]
        tip_at = {p: (p[0] - 6.0 if k % 2 == 0 else p[0] + 6.0, p[2]) for k, p in enumerate(places)}

        def box(p: tuple[float, float, float]) -> Window:
            left = p[0] if p[0] > tip_at[p][0] else p[0] - wide
            # The second unit below the landing counts with its descenders.
            return (left, p[1] - 4.8, left + wide, p[1] + 5.0)

        best = crowd.best(places, box)
        return [Leader(DIMENSION, tip_at[best], best[:2], words, inches, ref=pocket.id)]

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


def _broken(axis: Sequence[Line], lettering: Sequence[Item]) -> list[Item]:
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


def turning_picture(plan: Plan, at: Point, *, length: float = 34.0) -> Piece:
    """A small picture of how the body was turned over for a back view; hangs from its top left corner."""
    left, bottom, right, top = body_window(plan, "back")
    scale = length / (right - left)
    tall = (top - bottom) * scale
    u0, v0 = at[0] + 4.0, at[1] - tall / 2 - 2.0
    body = tuple((u0 + (u - left) * scale, v0 + v * scale) for u, v in _view_ring(plan))
    items: list[Item] = [
        Path(OUTLINE, body, closed=True),
        Line(CENTRE, (u0 - 4.0, v0), (u0 + length + 4.0, v0)),
    ]
    # Half a turn about the long axis, drawn as a narrow ellipse round the axis beyond the tail.
    middle, wide, high = u0 + length + 9.0, 3.0, 7.5
    turn = [
        (middle + wide * cos(a), v0 + high * sin(a)) for a in (pi * (0.75 - n / 20 * 1.5) for n in range(21))
    ]
    items.append(Path(MARK, tuple(turn)))
    (bu, bv), (au, av) = turn[-2], turn[-1]
    angle = atan2(av - bv, au - bu)
    wing = [(au - 3.0 * cos(angle + k), av - 3.0 * sin(angle + k)) for k in (0.3, -0.3)]
    items.append(Fill(MARK, ((turn[-1], *wing),)))
    base = at[1] - tall - 8.5
    words = ("turned over about its long axis:", "the neck stays on the left")
    for n, line in enumerate(words):
        items.append(Text(LETTERING, (at[0], base - n * 5.0), line, LEAST_LETTERING))
    width = max(length + 14.0, *(text_width(line, LEAST_LETTERING) for line in words))
    return Piece(tuple(items), width, at[1] - base + 6.0)


def _view_ring(plan: Plan) -> list[Point]:
    return [view_point("back", point) for point in plan.layout.outline]


def heading_words(plan: Plan, bore: Bore) -> str:
    """Which way a slanting hole heads, in bench words: from straight towards the neck, degrees."""
    aside = bore.axis.y * plan.layout.treble
    turn = degrees(atan2(aside, -bore.axis.x))
    if abs(turn) < 0.05:
        return "straight towards the neck"
    side = "treble" if turn > 0 else "bass"
    return f"towards the neck, {abs(turn):.1f}° to the {side}"
