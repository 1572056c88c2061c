"""The plan's drawings for a screen: front, back and along the strings, as SVG that can be put into a page.

They are made from the same views as the sheets. On a screen they carry no size in millimetres; each mark keeps
the id of its cut, so that it can be touched.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from math import hypot
from typing import Literal

from scribeline.drawing import svg
from scribeline.drawing.extent import bounds
from scribeline.drawing.face import text_width
from scribeline.drawing.facing import Show, body_window, treble_up, view_point
from scribeline.drawing.marks import balloon
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
    Sheet,
    Text,
)
from scribeline.drawing.views import back_view, front_view
from scribeline.features import Bore, Feature, Pocket
from scribeline.lengths import inch_text, mm_text
from scribeline.plan import Plan
from scribeline.steps import balloon as number_of

View = Literal["front", "back", "side"]

WAS = Layer("was", 0.25, "dotted")
"""Where a hole was before the last edit."""

SCALE = 0.42
"""Of a face on the screen: lettering of the sheets' height is then about the size of the page's own."""

SIDE_SCALE = 0.6
WORDS = 3.5
"""Height of lettering, mm on the paper that a screen stands in for."""

MOVED = 0.005
"""A hole that moved less than this, mm, prints the same numbers as before."""

_MARGIN = 4.0
_NECK_SHOWN = 70.0
"""How much of the neck shows in front of the body, mm."""


def drawn(plan: Plan, view: View, *, seen: Plan | None = None, through: str = "") -> str:
    """One drawing as an SVG element.

    Args:
        plan: what to draw.
        view: which.
        seen: the plan as it was last looked at: what has moved since is shown where it was.
        through: for the side view: the cut whose middle the section goes through.
    """
    items = _side(plan, through) if view == "side" else _face(plan, view, seen)
    return element(items, f"{plan.job.document.name}, {_WORDS[view]}")


_WORDS = {"front": "seen from the front", "back": "seen from the back", "side": "cut along the strings"}


def element(items: Sequence[Item], title: str) -> str:
    """Marks as an SVG element for a page: no size of its own, no ids that another drawing could have too."""
    window = bounds(items)
    assert window is not None
    left, bottom, right, top = window
    sheet = Sheet(
        title,
        right - left + 2 * _MARGIN,
        top - bottom + 2 * _MARGIN,
        tuple(items),
        origin=(left - _MARGIN, bottom - _MARGIN),
    )
    text = svg.write(sheet).decode()
    body = text[text.index("<svg") :]
    body = re.sub(r'(<svg[^>]*?) width="[^"]*" height="[^"]*"', r'\1 role="img"', body, count=1)
    return re.sub(r' id="[^"]*"', "", body).strip()


def _face(plan: Plan, view: View, seen: Plan | None) -> tuple[Item, ...]:
    # The sheets' own lettering looks for room all over the drawing, which takes longer than the plan itself. A
    # screen is looked at while a number is typed, and it can be touched: names stand where they fit, or nowhere.
    show = Show(hidden=True, awl_marks=False, scale_line=False, sides=False, labels=False, balloons=False)
    items = (front_view if view == "front" else back_view)(plan, show, scale=SCALE)
    face: Literal["top", "back"] = "top" if view == "front" else "back"
    neck = _neck(plan) if view == "front" else ()
    were = _were(plan, seen, view) if seen is not None else ()
    return (*neck, *items, *_pocket_names(plan, face), *_hole_numbers(plan, face), *_sides(plan, view), *were)


def _pocket_names(plan: Plan, face: Literal["top", "back"]) -> Iterable[Item]:
    """A pocket's name and depth inside it, lengthwise or across, where there is room."""
    for pocket in plan.features.pockets:
        if pocket.face != face:
            continue
        us, vs = zip(*(view_point(face, point, SCALE) for point in pocket.outline), strict=True)
        wide, tall = max(us) - min(us), max(vs) - min(vs)
        middle = ((max(us) + min(us)) / 2, (max(vs) + min(vs)) / 2)
        words = (pocket.role, _length(plan, pocket.depth))
        needed, high = max(text_width(each, WORDS, bold=True) for each in words) + 2.0, 2 * WORDS + 4.0
        if needed <= wide and high <= tall:
            at, turn = [(middle[0], middle[1] + 1.0), (middle[0], middle[1] - WORDS - 1.0)], 0.0
        elif needed <= tall and high <= wide:
            at, turn = [(middle[0] - 1.0, middle[1]), (middle[0] + WORDS + 1.0, middle[1])], 90.0
        else:
            continue
        yield Text(LETTERING, at[0], words[0], WORDS, "middle", turn, bold=True, ref=pocket.id)
        yield Text(LETTERING, at[1], words[1], WORDS, "middle", turn, ref=pocket.id)


def _hole_numbers(plan: Plan, face: Literal["top", "back"]) -> Iterable[Item]:
    """Holes' numbers beside them; those that stand alone carry theirs in a balloon, outwards.

    Of the rows under the plate, the one nearer the tail has its numbers behind the plate, the other before its holes.
    """
    corners = () if plan.layout.plate is None else plan.layout.plate.corners
    on_view = [view_point(face, each, SCALE) for each in corners]
    behind, lowest = max((u for u, _ in on_view), default=0.0), min((v for _, v in on_view), default=0.0)
    rows = {bore.group: bore.at.x for bore in plan.features.bores if bore.group in _UNDER_PLATE}
    last = max(rows, key=lambda group: rows[group], default="")
    for bore in plan.features.bores:
        if bore.face != face and not (bore.face == "edge" and face == "top"):
            continue
        u, v = view_point(face, bore.at, SCALE)
        number, low = number_of(bore.id), v - WORDS / 2
        if bore.group == last and face == "top":
            yield Text(LETTERING, (behind + 1.2, low), number, WORDS, bold=True, ref=bore.id)
        elif bore.group in _UNDER_PLATE or bore.group == "ferrule holes":
            at = (u - bore.widest / 2 * SCALE - 1.0, low)
            yield Text(LETTERING, at, number, WORDS, "end", bold=True, ref=bore.id)
        elif bore.group == "ground wire":
            yield from balloon((u - 6.0, lowest - 6.5), number, tip=(u, v), height=WORDS)
        else:
            away = 12.0 if v >= 0 else -12.0
            yield from balloon((u, v + away), number, tip=(u, v), height=WORDS)


_UNDER_PLATE = frozenset({"string holes", "bridge screws"})


def _length(plan: Plan, mm: float) -> str:
    """A length in the job's own unit: the other one stands beside the drawing."""
    return inch_text(mm) if plan.job.document.units == "in" else mm_text(mm)


def _sides(plan: Plan, view: View) -> Iterable[Item]:
    """Which side is which, in the corners the body leaves free."""
    face: Literal["top", "back"] = "top" if view == "front" else "back"
    left, low, _, high = body_window(plan, face, SCALE)
    upper, lower = ("treble", "bass") if treble_up(plan, face) > 0 else ("bass", "treble")
    yield Text(LETTERING, (left, high - 3.5), f"{upper} side", 3.5, bold=True)
    yield Text(LETTERING, (left, low), f"{lower} side", 3.5, bold=True)


def _neck(plan: Plan) -> Iterable[Item]:
    """The end of the board, its frets and the strings to their saddles: where the body belongs."""
    layout = plan.layout
    start = min(point.x for point in layout.outline) - _NECK_SHOWN
    first, last = layout.frets[0], layout.frets[-1]
    for side in ("treble", "bass"):
        a, b = getattr(first, side), getattr(last, side)
        slope = (b.y - a.y) / (b.x - a.x)
        at = [(x, a.y + slope * (x - a.x)) for x in (start, layout.board_end)]
        yield Line(PHANTOM, view_point("top", at[0], SCALE), view_point("top", at[1], SCALE), "fingerboard")
    for fret in layout.frets:
        if fret.x > start:
            a, b = (view_point("top", each, SCALE) for each in (fret.treble, fret.bass))
            yield Line(THIN, a, b, f"fret-{fret.n}")
    if layout.plate is None:
        return
    for string in layout.strings:
        nut, saddle = string.nut, string.saddle
        y = nut.y + (saddle.y - nut.y) * (start - nut.x) / (saddle.x - nut.x)
        a, b = (view_point("top", each, SCALE) for each in ((start, y), (saddle.x, saddle.y)))
        yield Line(THIN, a, b, f"string-{string.no}")


def _were(plan: Plan, seen: Plan, view: View) -> Iterable[Item]:
    """Where moved holes were, dotted, and for each row what it was, in words below the body."""
    face: Literal["top", "back"] = "top" if view == "front" else "back"
    before = {bore.id: bore for bore in seen.features.bores}
    left, low, _, _ = body_window(plan, face, SCALE)
    named: set[str] = set()
    for bore in plan.features.bores:
        old = before.get(bore.id)
        if bore.face != face or old is None:
            continue
        if hypot(bore.at.x - old.at.x, bore.at.y - old.at.y) < MOVED:
            continue
        yield Circle(WAS, view_point(face, old.at, SCALE), old.widest / 2 * SCALE, ref=bore.id)
        if bore.group not in named:
            named.add(bore.group)
            was, now = (_length(plan, x.at.x - y.layout.twelfth) for x, y in ((old, seen), (bore, plan)))
            words = f"{number_of(bore.id)}: {now} from the 12th crown, was {was}"
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
    holes = plan.features.group("string holes")
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
    """Heel, plate and string as they will lie."""
    layout, document = plan.layout, plan.job.document
    start = min(point.x for point in layout.outline) - _NECK_SHOWN
    floor = -document.neck.pocket_depth.mm
    top = floor + document.neck.heel_thickness.mm
    heel = ((start, floor), (layout.pocket_end, floor), (layout.pocket_end, top), (start, top))
    yield Path(PHANTOM, tuple(_at(*each) for each in heel), closed=False, ref="neck-pocket")
    if layout.plate is None:
        return
    front, tail = layout.plate.corners[0].x, layout.plate.corners[2].x
    thick = document.bridge.plate_thickness.mm
    plate = ((front, 0.0), (tail, 0.0), (tail, thick), (front, thick))
    yield Path(PHANTOM, tuple(_at(*each) for each in plate), closed=True, ref="bridge-plate")
    string = min(layout.strings, key=lambda each: abs(each.saddle.y))
    nut, saddle = string.nut, string.saddle
    z = nut.z + (saddle.z - nut.z) * (start - nut.x) / (saddle.x - nut.x)
    yield Line(THIN, _at(start, z), _at(saddle.x, saddle.z), ref=f"string-{string.no}")
    yield Line(HIDDEN, _at(saddle.x, saddle.z), _at(saddle.x, thick), ref=f"saddle-{string.no}")
    yield Line(CENTRE, _at(layout.scale, 22.0), _at(layout.scale, -layout.thickness - 8.0), ref="scale-line")
    yield Text(LETTERING, _at(layout.scale, 24.0), "scale line", 3.5, "middle")


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
