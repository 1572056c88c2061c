"""The plan's drawings for a screen: front, back and along the strings, as SVG that can be put into a page.

They are made from the same views as the sheets. On a screen they carry no size in millimetres; each mark keeps
the id of its cut, so that it can be touched.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import product
from math import cos, dist, hypot, radians, sin
from typing import TYPE_CHECKING, Literal

import numpy as np

from scribeline.drawing import svg
from scribeline.drawing.crowding import Hole, Noted, apart, around, crossing, spanned, to_box, within
from scribeline.drawing.edge_bores import lies_level, sides
from scribeline.drawing.extent import bounds, covered
from scribeline.drawing.face import text_width
from scribeline.drawing.facing import Show, body_window, treble_up, view_point
from scribeline.drawing.marks import balloon, balloon_radius
from scribeline.drawing.section import Section, section
from scribeline.drawing.sheet import (
    CENTRE,
    CUT,
    HATCHING,
    HIDDEN,
    LETTERING,
    OUTLINE,
    PHANTOM,
    THIN,
    Circle,
    Hatch,
    Item,
    Layer,
    Line,
    Path,
    Point,
    Sheet,
    Text,
    Window,
)
from scribeline.drawing.views import BRIDGE, back_view, front_view
from scribeline.features import Bore, Feature, Pocket
from scribeline.layout import ANCHORS, carve_of, neck_lie, rise
from scribeline.lengths import own_unit
from scribeline.plan import Plan
from scribeline.steps import balloon as number_of

if TYPE_CHECKING:
    from scribeline.drawing.crowding import Points

View = Literal["front", "back", "side"]

WAS = Layer("was", 0.25, "dotted")
"""Where a hole was before the last edit."""

SCALE = 0.42
"""Of a face on the screen: lettering of the sheets' height is then about the size of the page's own."""

GLANCE = 0.17
"""Of a thumbnail: its lines are then as wide to the eye as those of a face."""

SIDE_SCALE = 0.6
WORDS = 3.5
WORDS_AT_LEAST = 3.0
"""Height of lettering, mm on the paper that a screen stands in for; where it would not fit otherwise, the lesser one."""

MOVED = 0.005
"""A hole that moved less than this, mm, prints the same numbers as before."""

_MARGIN = 4.0
_NECK_SHOWN = 70.0
"""How much of the neck shows in front of the body, mm."""
_BACK_POINTS = 60
"""Places by which a carved back is drawn from the side."""


def drawn(plan: Plan, view: View, seen: Plan | None = None, through: str = "") -> str:
    """One drawing as an SVG element.

    Args:
        plan: what to draw.
        view: which.
        seen: the plan as it was last looked at: what has moved since is shown where it was.
        through: for the side view: the cut whose middle the section goes through.
    """
    items = _side(plan, through) if view == "side" else _face(plan, view, seen)
    return element(items, f"{plan.job.document.name}, {_WORDS[view]}")


def thumbnail(plan: Plan) -> str:
    """The front without a word on it, as an SVG element: what an instrument is like at a glance."""
    show = Show(
        centreline=False,
        sides=False,
        datum=False,
        scale_line=False,
        labels=False,
        awl_marks=False,
        balloons=False,
    )
    items = (*_neck(plan, GLANCE), *front_view(plan, show, scale=GLANCE))
    return element(items, f"{plan.job.document.name}, {_WORDS['front']}")


_WORDS = {"front": "seen from the front", "back": "seen from the back", "side": "cut along the strings"}


def element(items: Sequence[Item], title: str) -> str:
    """Marks as an SVG element for a page: no size of its own, no ids that another drawing could have too."""
    left, bottom, right, top = covered(items)
    sheet = Sheet(
        title,
        right - left + 2 * _MARGIN,
        top - bottom + 2 * _MARGIN,
        tuple(items),
        origin=(left - _MARGIN, bottom - _MARGIN),
    )
    text = svg.write(sheet).decode()
    body = text[text.index("<svg") :]
    corner = f'data-corner="{left - _MARGIN:.4f} {top + _MARGIN:.4f}"'
    body = re.sub(r'(<svg[^>]*?) width="[^"]*" height="[^"]*"', rf'\1 role="img" {corner}', body, count=1)
    return re.sub(r' id="[^"]*"', "", body).strip()


def _face(plan: Plan, view: View, seen: Plan | None) -> tuple[Item, ...]:
    # The sheets' own lettering looks for room all over the drawing, which takes longer than the plan itself. A
    # screen is looked at while a number is typed, and it can be touched: names stand where they fit, or nowhere.
    show = Show(hidden=True, awl_marks=False, scale_line=False, sides=False, labels=False, balloons=False)
    items = (front_view if view == "front" else back_view)(plan, show, scale=SCALE)
    face: Literal["top", "back"] = "top" if view == "front" else "back"
    neck = _neck(plan) if view == "front" else ()
    were = _were(plan, seen, view) if seen is not None else ()
    room = Room()
    for bore in plan.features.bores:
        if bore.face == face:
            room.hole(view_point(face, bore.at, SCALE), bore.widest / 2 * SCALE)
    room.words([each for each in items if isinstance(each, Text)])
    names = (*_row_numbers(plan, face, room), *_pocket_names(plan, face, room))
    return (*neck, *items, *names, *_balloons(plan, face, room), *_sides(plan, view), *were)


class Room:
    """Where lettering may stand: clear of the holes, and of the lettering that is placed already."""

    def __init__(self) -> None:
        self._rings, self._words, self._leaders = Noted[Hole](), Noted[Window](), Noted[tuple[Point, Point]]()

    def hole(self, centre: Point, radius: float) -> None:
        """A hole that nothing may cover."""
        self._rings.add((*centre, radius), around(centre, radius))

    def covers_no_hole(self, texts: Sequence[Text]) -> bool:
        """Whether words leave every hole to be seen."""
        return all(
            to_box((u, v), box) >= radius
            for box in _boxes(texts)
            for u, v, radius in self._rings.meeting(box)
        )

    def words(self, texts: Sequence[Text]) -> None:
        """Words that no balloon may cover."""
        for box in _boxes(texts):
            self._words.add(box, box)

    def balloon(self, tip: Point, number: str, up: float, ref: str) -> tuple[Item, ...]:
        """A number's balloon beside its hole, to be touched as the hole is.

        It stands in the nearest place that is free, else in one where it covers no hole and no balloon, else nowhere.
        `up` is +1 or -1, the side it rather stands on.
        """
        radius = balloon_radius(number, WORDS) + _CLEAR
        at = self._free(tip, np.array(tip) + _BESIDE * (1.0, up), radius)
        if at is None:
            return ()
        self._rings.add((*at, radius), around(at, radius))
        self._leaders.add((tip, at), spanned((tip, at)))
        made = balloon(at, number, tip=tip, height=WORDS)
        return tuple(
            replace(each, ref=ref) if isinstance(each, Circle | Line | Text) else each for each in made
        )

    def _free(self, tip: Point, places: Points, radius: float) -> Point | None:
        window, start = around(tip, _REACHES[-1] + radius), np.array(tip)
        rings = [ring for ring in self._rings.meeting(window) if dist(ring[:2], tip) > 0.01]
        centres, sizes = (
            np.array([ring[:2] for ring in rings]).reshape(-1, 2),
            np.array([r for *_, r in rings]),
        )
        away = np.hypot(*(centres - start).T)
        words = self._words.meeting(window)
        second: Point | None = None
        for reach, beside in zip(_REACHES, places.reshape(len(_REACHES), -1, 2), strict=True):
            near = np.abs(away - reach) < radius + sizes
            for at in beside[~within(centres[near], beside[:, None], radius + sizes[near]).any(axis=1)]:
                here = float(at[0]), float(at[1])
                leaders = np.array(self._leaders.meeting(spanned((tip, here)))).reshape(-1, 2, 2)
                if not (
                    (apart(centres, start, at) < sizes).any()
                    or any(to_box(here, box) < radius or _passes(tip, here, box) for box in words)
                    or crossing(start, at, leaders[:, 0], leaders[:, 1]).any()
                ):
                    return here
                second = second or here
        return second


_CLEAR = 0.5
_REACHES = (12.0, 15.0, 18.0, 22.0, 26.0, 31.0)
_TURNS = (0, -20, 20, -40, 40, -65, 65, -90, 90, 180)
"""How far from its hole a balloon may stand, mm on the paper, and how far aslant, degrees: the first that is free."""

_BESIDE = np.array([(r * sin(radians(turn)), r * cos(radians(turn))) for r in _REACHES for turn in _TURNS])


def _boxes(texts: Sequence[Text]) -> list[Window]:
    return [box for box in (bounds((text,)) for text in texts) if box is not None]


def _passes(start: Point, end: Point, box: Window) -> bool:
    left, low, right, high = box
    (u0, v0), (u1, v1) = start, end
    if max(u0, u1) < left or min(u0, u1) > right or max(v0, v1) < low or min(v0, v1) > high:
        return False
    return any(
        to_box((start[0] + k / 16 * (end[0] - start[0]), start[1] + k / 16 * (end[1] - start[1])), box) <= 0.0
        for k in range(17)
    )


def _pocket_names(plan: Plan, face: Literal["top", "back"], room: Room) -> Iterable[Item]:
    """A pocket's name and depth inside it, lengthwise or across, where there is room."""
    for pocket in plan.features.pockets:
        if pocket.face != face:
            continue
        us, vs = zip(*(view_point(face, point, SCALE) for point in pocket.outline), strict=True)
        wide, tall = max(us) - min(us), max(vs) - min(vs)
        middle = ((max(us) + min(us)) / 2, (max(vs) + min(vs)) / 2)
        depths = (pocket.depth,) if pocket.slope is None else reversed(pocket.depths)
        words = (pocket.role, " to ".join(_length(plan, depth) for depth in depths))
        high = 2 * WORDS + 4.0
        for height, aside in product((WORDS, WORDS_AT_LEAST), (0.0, 0.25, -0.25)):
            needed = max(text_width(each, height, bold=True) for each in words) + 2.0
            if needed <= wide and high <= tall * (1 - 2 * abs(aside)):
                centre, step, turn = (middle[0], middle[1] + aside * tall), (0.0, -1.0), 0.0
            elif needed <= tall and high <= wide * (1 - 2 * abs(aside)):
                centre, step, turn = (middle[0] + aside * wide, middle[1]), (1.0, 0.0), 90.0
            else:
                continue
            # The name's foot stands a millimetre before the middle, the depth's a line's height behind it.
            feet = [(centre[0] + k * step[0], centre[1] + k * step[1]) for k in (-1.0, height + 1.0)]
            texts = [
                Text(LETTERING, foot, said, height, "middle", turn, bold=bold, ref=pocket.id)
                for foot, said, bold in zip(feet, words, (True, False), strict=True)
            ]
            if room.covers_no_hole(texts):
                room.words(texts)
                yield from texts
                break


def _row_numbers(plan: Plan, face: Literal["top", "back"], room: Room) -> Iterable[Item]:
    """The numbers of holes in rows, beside them.

    Of the rows under the bridge, the one nearer the tail has its numbers behind the bridge, the other before its holes.
    """
    corners = () if plan.layout.bridge is None else plan.layout.bridge.footprint
    behind = max((view_point(face, each, SCALE)[0] for each in corners), default=0.0)
    rows = {bore.family: bore.at.x for bore in plan.features.bores if bore.family in _UNDER_BRIDGE}
    last = max(rows, key=lambda family: rows[family], default=None)
    for bore in plan.features.bores:
        if bore.face != face or bore.family not in _IN_ROWS:
            continue
        u, v = view_point(face, bore.at, SCALE)
        number, low = number_of(bore.id), v - WORDS / 2
        if bore.family == last and face == "top":
            text = Text(LETTERING, (behind + 1.2, low), number, WORDS, bold=True, ref=bore.id)
        else:
            at = (u - bore.widest / 2 * SCALE - 1.0, low)
            text = Text(LETTERING, at, number, WORDS, "end", bold=True, ref=bore.id)
        room.words((text,))
        yield text


def _balloons(plan: Plan, face: Literal["top", "back"], room: Room) -> Iterable[Item]:
    """The numbers of holes that stand alone, each in a balloon, outwards."""
    for bore in plan.features.bores:
        tip, up = bore.at, "top" if bore.face == "edge" else str(bore.face)
        if bore.face == "pocket":
            # Numbered half-way along: the mouth lies in a pocket's wall, among that pocket's words.
            up = next((p.face for p in plan.features.pockets if p.id == bore.entered_from), "top")
            tip = bore.along(bore.deepest.depth / 2)
        if bore.family in _IN_ROWS or up != face:
            continue
        u, v = view_point(face, tip, SCALE)
        yield from room.balloon((u, v), number_of(bore.id), 1.0 if v >= 0 else -1.0, bore.id)


_UNDER_BRIDGE = frozenset({"string-hole", *ANCHORS})
_IN_ROWS = _UNDER_BRIDGE | {"ferrule-hole"}


def _length(plan: Plan, mm: float) -> str:
    """A length in the job's own unit: the other one stands beside the drawing."""
    return own_unit(mm, plan.unit)


def _sides(plan: Plan, view: View) -> Iterable[Item]:
    """Which side is which, in the corners the body leaves free."""
    face: Literal["top", "back"] = "top" if view == "front" else "back"
    left, low, _, high = body_window(plan, face, SCALE)
    upper, lower = ("treble", "bass") if treble_up(plan, face) > 0 else ("bass", "treble")
    yield Text(LETTERING, (left, high - 3.5), f"{upper} side", 3.5, bold=True)
    yield Text(LETTERING, (left, low), f"{lower} side", 3.5, bold=True)


def _neck(plan: Plan, scale: float = SCALE) -> Iterable[Item]:
    """The end of the board, its frets and the strings to their saddles: where the body belongs."""
    layout = plan.layout
    start = min(point.x for point in layout.outline) - _NECK_SHOWN
    for one, end in zip((layout.frets[0].treble, layout.frets[0].bass), layout.board_ends, strict=True):
        shown = (start, one.y + (end.y - one.y) / (end.x - one.x) * (start - one.x))
        yield Line(PHANTOM, view_point("top", shown, scale), view_point("top", end, scale), "fingerboard")
    for fret in layout.frets:
        if fret.x > start:
            a, b = (view_point("top", each, scale) for each in (fret.treble, fret.bass))
            yield Line(THIN, a, b, f"fret-{fret.n}")
    if layout.bridge is None:
        return
    for string in layout.strings:
        nut, saddle = string.nut, string.saddle
        y = nut.y + (saddle.y - nut.y) * (start - nut.x) / (saddle.x - nut.x)
        a, b = (view_point("top", each, scale) for each in ((start, y), (saddle.x, saddle.y)))
        yield Line(THIN, a, b, f"string-{string.no}")


def _were(plan: Plan, seen: Plan, view: View) -> Iterable[Item]:
    """Where moved holes and tunnels that are looked for were, dotted; what each row was in words below the body."""
    face: Literal["top", "back"] = "top" if view == "front" else "back"
    before = {bore.id: bore for bore in seen.features.bores}
    left, low, _, _ = body_window(plan, face, SCALE)
    for tunnel in plan.awaited:
        old = before.get(tunnel.place.id)
        if old is not None and lies_level(old):
            for step in old.steps:
                yield Path(WAS, tuple(view_point(face, at, SCALE) for at in sides(old, step)), ref=old.id)
        elif old is not None and old.face == face:
            yield Circle(WAS, view_point(face, old.at, SCALE), old.widest / 2 * SCALE, ref=old.id)
    named: set[tuple[str, str]] = set()
    for bore in plan.features.bores:
        old = before.get(bore.id)
        if bore.face != face or old is None:
            continue
        if hypot(bore.at.x - old.at.x, bore.at.y - old.at.y) < MOVED:
            continue
        yield Circle(WAS, view_point(face, old.at, SCALE), old.widest / 2 * SCALE, ref=bore.id)
        if bore.row not in named:
            named.add(bore.row)
            was, now = (
                _length(plan, y.layout.past("12th-fret", x.at.x)) for x, y in ((old, seen), (bore, plan))
            )
            words = f"{number_of(bore.id)}: {now} from the 12th fret, was {was}"
            yield Text(LETTERING, (left, low - 2.0 - 6.0 * len(named)), words, 3.5, ref=bore.id)


# Along the strings


def section_place(plan: Plan, through: str = "") -> float:
    """Where the side view cuts, from the centreline: through a cut's middle, or the string hole nearest the middle."""
    by_id: dict[str, Feature] = {feature.id: feature for feature in plan.features}
    feature = by_id.get(through)
    if isinstance(feature, Bore):
        return feature.at.y
    if isinstance(feature, Pocket):
        ys = [point.y for point in feature.outline]
        return (min(ys) + max(ys)) / 2
    holes = plan.features.family("string-hole")
    return min((hole.at.y for hole in holes), key=abs, default=0.0)


def _side(plan: Plan, through: str) -> tuple[Item, ...]:
    y = section_place(plan, through)
    cut = section(plan.features, plan.layout.outline, plan.layout.thickness, y)
    return (*_wood(cut), *_in_place(plan), *_names(plan, cut))


def _at(x: float, z: float) -> tuple[float, float]:
    return (x * SIDE_SCALE, z * SIDE_SCALE)


def _wood(cut: Section) -> Iterable[Item]:
    for loops in cut.wood:
        on_paper = tuple(tuple(_at(x, z) for x, z in loop) for loop in loops)
        yield Hatch(HATCHING, on_paper, spacing=3.5)
        for loop in on_paper:
            yield Path(OUTLINE, loop, closed=True, ref="outline")
    for each in cut.cuts:
        for loop in each.loops:
            yield Path(CUT, tuple(_at(x, z) for x, z in loop), closed=True, ref=each.feature)


def _in_place(plan: Plan) -> Iterable[Item]:
    """Heel, bridge and string as they will lie."""
    layout = plan.layout
    start = min(point.x for point in layout.outline) - _NECK_SHOWN
    heel = tuple(_at(*each) for each in _neck_from_the_side(plan, start))
    yield Path(PHANTOM, heel, closed=False, ref="neck-pocket")
    bridge = layout.bridge
    if bridge is None:
        return
    front, tail, (under, over) = bridge.nearest, bridge.furthest, bridge.heights
    side = ((front, under), (tail, under), (tail, over), (front, over))
    yield Path(PHANTOM, tuple(_at(*each) for each in side), closed=True, ref=BRIDGE)
    string = min(layout.strings, key=lambda each: abs(each.saddle.y))
    nut, saddle = string.nut, string.saddle
    z = nut.z + (saddle.z - nut.z) * (start - nut.x) / (saddle.x - nut.x)
    yield Line(THIN, _at(start, z), _at(saddle.x, saddle.z), ref=f"string-{string.no}")
    yield Line(HIDDEN, _at(saddle.x, saddle.z), _at(saddle.x, over), ref=f"saddle-{string.no}")
    yield Line(CENTRE, _at(layout.scale, 22.0), _at(layout.scale, -layout.thickness - 8.0), ref="scale-line")
    yield Text(LETTERING, _at(layout.scale, 24.0), "scale line", 3.5, "middle")


def _neck_from_the_side(plan: Plan, start: float) -> Iterable[tuple[float, float]]:
    """The neck from where it is broken off: along its back into the pocket, up its heel's end, and over its board.

    Where its back is carved here, as it is carved in its middle; else straight on from the heel.
    """
    layout, document = plan.layout, plan.job.document
    if document.neck.runs_through:
        yield from _board_from_the_side(plan, start)
        return
    floor, lean = -document.neck.pocket_depth.mm, document.neck.angle
    thick, end = document.neck.heel_thickness.mm, layout.pocket_end
    low = floor - rise(end - start, lean)
    carve = carve_of(document, layout)
    if carve is None:
        yield start, low
    else:
        along = np.linspace(max(0.0, carve.end - (end - start) / cos(lean)), carve.mouth, _BACK_POINTS)
        over = thick - carve.board_thickness - carve.depth(along, 0.0)  # the straight underside, up the heel
        for u, up in zip(along.tolist(), over.tolist(), strict=True):
            back = carve.end - u
            yield end - back * cos(lean) - up * sin(lean), floor - back * sin(lean) + up * cos(lean)
    yield end, floor
    yield end - thick * sin(lean), floor + thick * cos(lean)
    yield start, low + thick / cos(lean)


def _board_from_the_side(plan: Plan, start: float) -> Iterable[tuple[float, float]]:
    """The board of a neck that runs through, over a core that is the body's own wood."""
    lie = neck_lie(plan.job.document)
    crown = plan.job.document.fret_wire.crown_height
    for over, ends in ((-lie.stack, (start, None)), (-crown, (None, start))):
        for end in ends:
            along = lie.end if end is None else float(lie.along(end, over))
            yield float(lie.place(along, over)), float(lie.height(along, over))


def _names(plan: Plan, cut: Section) -> Iterable[Item]:
    """Numbers of the holes the section goes through, names of its pockets."""
    by_id = {feature.id: feature for feature in plan.features}
    thickness = plan.layout.thickness
    for each in cut.cuts:
        feature = by_id[each.feature]
        xs = [x for loop in each.loops for x, _ in loop]
        middle = (min(xs) + max(xs)) / 2
        below = feature.face == "back"
        if isinstance(feature, Bore):
            z = -thickness - 14.0 if below else 14.0
            x = feature.at.x
            yield from balloon(
                _at(x, z), number_of(feature.id), tip=_at(x, -thickness if below else 0.0), height=3.5
            )
        else:
            fits = (
                text_width(feature.role, 3.5) < (max(xs) - min(xs)) * SIDE_SCALE - 2.0
                and feature.depth * SIDE_SCALE > 6.0
            )
            inside = feature.depth / 2 + 1.75 / SIDE_SCALE
            z = -inside if fits else 14.0
            if below:
                z = -thickness + feature.depth / 2 - 1.75 / SIDE_SCALE if fits else -thickness - 14.0
            yield Text(LETTERING, _at(middle, z), feature.role, 3.5, "middle", ref=feature.id)
