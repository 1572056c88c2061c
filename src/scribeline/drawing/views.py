"""The body seen from the front and from the back: what templates and drawing sheets are made of.

View coordinates (u, v): u is the instrument's x, so the neck lies to the left and the tail to the right.
Seen from the front v is y; seen from the back v is −y: the body was turned over about its long axis. Views
are built for the face they show, never mirrored afterwards, so their lettering always reads.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import atan2, cos, hypot, pi, sin

from scribeline.drawing.crowding import Crowd
from scribeline.drawing.edge_bores import hidden_marks, lies_level, tick
from scribeline.drawing.face import text_width
from scribeline.drawing.facing import Show, body_window, view_point
from scribeline.drawing.lettering import Lettering, broken, cleared
from scribeline.drawing.marks import Piece, awl_mark
from scribeline.drawing.sheet import (
    CENTRE,
    CUT,
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
    Line,
    Path,
    Point,
    Text,
    Window,
)
from scribeline.features import Bore, Pocket, entry_ellipse
from scribeline.features.cuts import Face
from scribeline.layout.knobs import knob_places
from scribeline.plan import Plan

BRIDGE = "bridge-plate"
SWEPT = "bridge-swept"
"""What the marks of the bridge as a part in place belong to."""


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


WING_LINE = "wing-line"
"""Reference of the glue lines between a core and its wings."""


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
            items += self.wings()
        for pocket in features.pockets:
            items += self.pocket(pocket)
        if show.frets and self.face == "top":
            items += self.frets(*show.frets)
        items += self.hardware()
        for bore in features.bores:
            items += self.bore(bore)
        axis = self.centreline() if show.centreline else []
        crowd = Crowd([*items, *axis, *keep_clear], pages)
        lettering = Lettering(self.plan, self.face, show, self.scale, crowd).drawn()
        items = cleared(items, lettering, edge=not show.awl_marks)
        return (*items, *broken(axis, lettering), *lettering)

    def wings(self) -> list[Item]:
        """The glue lines of the wings, on the body of a neck that runs through."""
        import shapely

        core = self.plan.layout.body.core
        if core is None:
            return []
        body = shapely.Polygon(self.plan.layout.outline)
        items: list[Item] = []
        for a, b in zip(core, (*core[1:], core[0]), strict=True):
            inside = shapely.get_parts(shapely.intersection(shapely.LineString((a, b)), body))
            for part in inside if a.y * b.y > 0 else ():
                ends = [self.at((float(x), float(y))) for x, y in part.coords]
                items.append(Line(THIN, ends[0], ends[-1], WING_LINE))
        return items

    # What is cut

    def pocket(self, pocket: Pocket) -> list[Item]:
        here = pocket.face == self.face
        if not (self.show.pockets if here else self.show.hidden):
            return []
        layer = CUT if here else HIDDEN
        return [self.ring(layer, ring, pocket.id) for ring in (pocket.outline, *pocket.islands)]

    def level(self, bore: Bore) -> list[Item]:
        """A bore from the edge lies hidden in the wood, whichever face is seen; a template marks it on the edge."""
        if not self.show.bores:
            return []
        marks = hidden_marks(bore, self.scale)
        if self.show.awl_marks:
            marks += tick(bore, self.scale)
        return [
            Line(item.layer, self.at(item.a), self.at(item.b), item.ref)
            if isinstance(item, Line)
            else Path(item.layer, tuple(self.at(place) for place in item.points), ref=item.ref)
            for item in marks
        ]

    def bore(self, bore: Bore) -> list[Item]:
        if lies_level(bore):
            return self.level(bore)
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
        treble, bass = (self.at(end) for end in self.plan.layout.board_ends)
        items += [
            Line(PHANTOM, self.at(shown[0].treble), treble, "fingerboard"),
            Line(PHANTOM, self.at(shown[0].bass), bass, "fingerboard"),
            Line(PHANTOM, treble, bass, "fingerboard"),
        ]
        return items

    def hardware(self) -> list[Item]:
        bridge = self.plan.layout.bridge
        if bridge is None:
            return []
        items: list[Item] = []
        front = self.face == "top"
        if self.show.plate and front:
            knobs = knob_places(self.plan.job.document, self.plan.layout)
            items += [self.ring(PHANTOM, outline, BRIDGE) for outline in (*bridge.outlines, *knobs)]
            items += [self.ring(PHANTOM, row.outline, BRIDGE) for row in bridge.further]
            if bridge.swept:
                items.append(self.ring(PHANTOM, bridge.swept, SWEPT))
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
