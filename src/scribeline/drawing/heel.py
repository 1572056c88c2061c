"""The neck's heel seen from below, at full size: its outline, its centreline and the pilots of its screws.

The neck lies on its frets and points to the left, as if it had been turned over with the body about its long axis. x runs
from the heel's end towards the tail, so that the heel lies at negative x; up the page is the side that is below in a view
from the front.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from scribeline.drawing.face import text_width
from scribeline.drawing.facing import neck_end_across
from scribeline.drawing.fitted import bounded, fitted
from scribeline.drawing.marks import awl_mark, balloon_radius
from scribeline.drawing.place import Transform, placed
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    CENTRE,
    HIDDEN,
    LETTERING,
    OUTLINE,
    PHANTOM,
    Circle,
    Fill,
    Item,
    Layer,
    Line,
    Path,
    Point,
    Sheet,
    Text,
)
from scribeline.features import Bore, balloon
from scribeline.plan import Plan

_NECK_GOES_ON = 14.0
"""How much of the neck beyond the pocket is shown, mm."""
_ASIDE = 6.0
"""From a pilot to its number, mm."""
_OFF_MARKS = 2.5
"""Of lettering from a pilot, for its cross, mm."""
_MARGIN = 4.0
_WIDTH = 0.25

ROD = "truss rod"

SEEN = "Heel from below, full size (1:1)"


def heel_items(plan: Plan, scale: float = 1.0) -> tuple[Item, ...]:
    """The heel with what is drilled in it, for a card or a sheet, its end's middle at (0, 0).

    Args:
        plan: of the instrument.
        scale: of the drawing; its letters keep their size.
    """
    outline = [_scaled(_at(plan, x, y), scale) for x, y in plan.neck.outline]
    mouth, half = min(x for x, _ in outline), max(y for _, y in outline)
    items: list[Item] = [Path(OUTLINE, tuple(outline), closed=True)]
    for side in (1, -1):
        corner = max(
            (p for p in outline if p[1] * side > 0 and p[0] < mouth + 0.01), key=lambda p: p[1] * side
        )
        items.append(Line(PHANTOM, corner, (corner[0] - _NECK_GOES_ON, corner[1])))
    items.append(Line(CENTRE, (mouth - _NECK_GOES_ON, 0.0), (_MARGIN, 0.0)))
    items += [
        Path(HIDDEN, tuple(_scaled(corner, scale) for corner in ring), closed=True, ref=ROD)
        for ring in rod_channel(plan)
    ]
    for pilot in plan.neck.features.bores:
        items += _pilot(plan, pilot, scale)
    upper = "bass side" if plan.layout.treble > 0 else "treble side"
    lower = "treble side" if upper == "bass side" else "bass side"
    size = ACTED_ON_LETTERING
    wide, low = text_width("treble side", size), half - 3.0 - size
    bores = [(*_at(plan, each.at.x, each.at.y), each.widest / 2) for each in plan.neck.features.bores]
    inside = mouth + 1.5
    in_the_way = [
        scale * (x - radius)
        for x, y, radius in bores
        if scale * (x - radius) < inside + wide + _OFF_MARKS and scale * (abs(y) + radius) > low - _OFF_MARKS
    ]
    left = min([inside, *(first - 1.5 - wide for first in in_the_way)])
    for base, words in ((low, upper), (3.0 - half, lower)):
        if left < mouth:
            # The pilots leave it no room but on the mouth's line.
            a, b = left - 0.8, left + text_width(words, size) + 0.8
            patch = ((a, base - 0.8), (b, base - 0.8), (b, base + size + 0.8), (a, base + size + 0.8))
            items.append(Fill(LETTERING, (patch,), tone="white"))
        items.append(Text(LETTERING, (left, base), words, size))
    items.append(Text(LETTERING, (mouth - _NECK_GOES_ON, -half - 1.5 - size), SEEN, size))
    return tuple(items)


def rod_channel(plan: Plan) -> Iterator[tuple[Point, ...]]:
    """The truss rod's channel, as far as the heel is shown; none where the job states none or it ends before."""
    neck = plan.job.document.neck
    if neck.runs_through or neck.rod_width is None or neck.rod_to is None:
        return
    low = -neck.pocket_length - _NECK_GOES_ON
    ends = (max(low, neck.rod_from - neck.pocket_end), min(0.0, neck.rod_to - neck.pocket_end))
    if ends[0] < ends[1]:
        half = neck.rod_width / 2
        yield ((ends[0], -half), (ends[1], -half), (ends[1], half), (ends[0], half))


def _pilot(plan: Plan, pilot: Bore, scale: float) -> Iterator[Item]:
    centre, radius = _scaled(_at(plan, pilot.at.x, pilot.at.y), scale), pilot.widest / 2 * scale
    inwards = -1.0 if centre[1] > 0 else 1.0
    number = balloon(pilot.id)
    room = abs(centre[1]) - balloon_radius(number) - 0.5
    away = max(radius + balloon_radius(number), min(radius + _ASIDE + balloon_radius(number), room))
    yield from awl_mark(
        centre, radius, number, balloon_at=(centre[0], centre[1] + inwards * away), ref=pilot.id
    )


def _at(plan: Plan, x: float, y: float) -> Point:
    """A place of the instrument as the heel is drawn."""
    return x - plan.layout.pocket_end, -y


def _scaled(at: Point, scale: float) -> Point:
    return at[0] * scale, at[1] * scale


def heel_picture(plan: Plan, widest: float) -> Sheet:
    """The heel as a picture: at full size where there is room for it, else smaller, which it says.

    Args:
        plan: of the instrument.
        widest: room for it across, mm.
    """
    return fitted("heel", partial(heel_items, plan), widest, seen=SEEN, what="Heel from below")


def hung(picture: Sheet) -> tuple[Item, ...]:
    """A picture's marks, its upper left corner at (0, 0)."""
    left, low = picture.origin
    return placed(picture.items, Transform(offset=(-left, -low - picture.height)))


def heel_sheet(plan: Plan) -> Sheet:
    """The heel's cuts as a drawing for other programs, in the frame above: a layer for each kind of cut.

    Of a neck that runs through the body its core, whose edges are the wings' glue lines; the origin is then at the board's end.
    """
    if plan.job.document.neck.runs_through:
        return _core_sheet(plan)
    outline = tuple(_at(plan, x, y) for x, y in plan.neck.outline)
    mouth = min(x for x, _ in outline)
    items: list[Item] = [
        Path(Layer("heel outline", _WIDTH), outline, closed=True, ref="outline"),
        Line(Layer("centreline", _WIDTH, "chain"), (mouth, 0.0), (0.0, 0.0), "centreline"),
    ]
    channel = Layer(
        "truss rod channel", _WIDTH, "dashed", description="from under the board; seen from below"
    )
    items += [Path(channel, ring, closed=True, ref=ROD) for ring in rod_channel(plan)]
    for pilot in plan.neck.features.bores:
        for step in pilot.steps:
            layer = Layer(
                f"heel bore {step.diameter:.2f} deep {step.depth:.2f}",
                _WIDTH,
                colour=6,
                description="drilled in the heel from its underside; seen from below",
            )
            items.append(Circle(layer, _at(plan, pilot.at.x, pilot.at.y), step.diameter / 2, pilot.id))
    return bounded(f"{plan.job.document.name} heel", items)


def _core_sheet(plan: Plan) -> Sheet:
    """The core's edges, the line on which the board ends, and the centreline."""
    outline = tuple(_at(plan, x, y) for x, y in plan.neck.outline)
    low, high = min(x for x, _ in outline), max(x for x, _ in outline)
    wide = neck_end_across(plan)
    end = tuple((0.0, -y) for y in wide)
    items: list[Item] = [
        Path(
            Layer("core outline", _WIDTH, description="seen from below"), outline, closed=True, ref="outline"
        ),
        Line(Layer("centreline", _WIDTH, "chain"), (low, 0.0), (high, 0.0), "centreline"),
        Line(Layer("board end", _WIDTH, "dashed"), end[0], end[1], "board-end"),
    ]
    return bounded(f"{plan.job.document.name} core", items)
