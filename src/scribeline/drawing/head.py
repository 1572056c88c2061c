"""The head seen from the front, at full size: its outline, its tuners' holes, and the strings on their way from the nut.

x runs from the nut's line towards the tail, in the head's own face, so that the head lies to the left of the nut; up the page is
the treble side of a right-handed head.
"""

from __future__ import annotations

from functools import partial

from scribeline.drawing.extent import covered
from scribeline.drawing.fitted import bounded, fitted
from scribeline.drawing.marks import awl_mark, balloon_radius
from scribeline.drawing.place import Transform, placed
from scribeline.drawing.sheet import (
    ACTED_ON_LETTERING,
    CENTRE,
    LETTERING,
    OUTLINE,
    PHANTOM,
    THIN,
    Circle,
    Item,
    Layer,
    Line,
    Path,
    Point,
    Sheet,
    Text,
)
from scribeline.features import Bore, balloon
from scribeline.layout import off_its_post
from scribeline.plan import Plan

_WIDTH = 0.25
_ASIDE = 5.0
"""From a hole to its number, mm."""
_CLEAR = 2.0
"""From the head's side to a number beyond it, mm."""
_BEYOND = 12.0
"""How much of the neck is shown past the nut, mm."""

SEEN = "Head from the front, full size (1:1)"


def head_items(plan: Plan, scale: float = 1.0) -> tuple[Item, ...]:
    """The head with its holes, the strings' ways and the nut; nothing where the job states no head.

    Args:
        plan: of the instrument.
        scale: of the drawing; balloons and letters keep their size.
    """
    piece, place = plan.head, plan.layout.head
    if piece is None or place is None:
        return ()
    outline = tuple((x, y) for x, y in piece.outline)
    tip = min(x for x, _ in outline)
    nut = plan.job.document.nut.width / 2
    layer = OUTLINE if place.is_stated else PHANTOM
    drawn: list[Item] = [
        Path(layer, outline, closed=True, ref="head"),
        Line(OUTLINE, (0.0, -nut), (0.0, nut), "nut"),
        Line(CENTRE, (tip - 4.0, 0.0), (_BEYOND, 0.0), "centreline"),
    ]
    stated = plan.job.document.head
    assert stated is not None
    for post in place.posts:
        string = plan.layout.strings[post.string - 1]
        beside = off_its_post(post.side * plan.layout.treble, stated.post.mm, string.gauge)
        drawn.append(
            Line(THIN, (0.0, string.nut.y), (post.at.x, post.at.y - beside), f"string-{post.string}")
        )
    for tree in place.trees:
        ends = (tree.ends[0] * plan.layout.treble, tree.ends[1] * plan.layout.treble)
        over = 2.0 if ends[0] > ends[1] else -2.0
        drawn.append(Line(OUTLINE, (-tree.along, ends[0] + over), (-tree.along, ends[1] - over), "tree"))
    items = list(placed(drawn, Transform(scale)))
    for bore in piece.features.bores:
        items += _hole(plan, bore, scale)
    words = SEEN if place.is_stated else f"{SEEN}; dashed: the least wood round the holes, no shape"
    at = (tip * scale, covered(items)[1] - 2.0 - ACTED_ON_LETTERING)
    items.append(Text(LETTERING, at, words, ACTED_ON_LETTERING))
    return tuple(items)


def _hole(plan: Plan, bore: Bore, scale: float) -> tuple[Item, ...]:
    assert plan.layout.head is not None
    outwards = float(plan.layout.treble)
    if bore.family == "tuner-hole":
        outwards *= next(each.side for each in plan.layout.head.posts if each.string == bore.number)
    centre: Point = (bore.at.x * scale, bore.at.y * scale)
    radius = bore.widest / 2 * scale
    number = balloon(bore.id)
    away = radius + _ASIDE + balloon_radius(number)
    if bore.family == "tuner-hole":
        beyond = _to_the_side(plan, (bore.at.x, bore.at.y), outwards) * scale
        away = max(away, beyond + _CLEAR + balloon_radius(number))
    balloon_at = (centre[0], centre[1] + outwards * away)
    if bore.family == "tree-screw":  # between the strings, where no other hole is
        balloon_at = (centre[0] + away, centre[1])
    return (
        Circle(OUTLINE, centre, radius, bore.id),
        *awl_mark(centre, radius, number, balloon_at=balloon_at, ref=bore.id),
    )


def _to_the_side(plan: Plan, centre: Point, outwards: float) -> float:
    """From a hole straight across to the head's own side, mm; 0 where it lies outside the head."""
    assert plan.head is not None
    ring = tuple(plan.head.outline)
    met = (
        a.y + (b.y - a.y) * (centre[0] - a.x) / (b.x - a.x)
        for a, b in zip(ring, (*ring[1:], ring[0]), strict=True)
        if min(a.x, b.x) <= centre[0] < max(a.x, b.x)
    )
    return max((outwards * (y - centre[1]) for y in met), default=0.0)


def head_picture(plan: Plan, widest: float) -> Sheet:
    """The head as a picture: at full size where there is room for it, else smaller, which it says."""
    return fitted("head", partial(head_items, plan), widest, seen=SEEN, what="Head from the front")


def head_sheet(plan: Plan) -> Sheet | None:
    """The head as a drawing for other programs, a layer for each diameter; None where the job states no head."""
    piece, place = plan.head, plan.layout.head
    if piece is None or place is None:
        return None
    outline = tuple((x, y) for x, y in piece.outline)
    name = "head outline" if place.is_stated else "least head outline"
    items: list[Item] = [
        Path(Layer(name, _WIDTH), outline, closed=True, ref="head"),
        Line(
            Layer("centreline", _WIDTH, "chain"), (min(x for x, _ in outline), 0.0), (0.0, 0.0), "centreline"
        ),
    ]
    for bore in piece.features.bores:
        for step in bore.steps:
            layer = Layer(
                f"head bore {step.diameter:.2f} " + ("through" if bore.through else f"{step.depth:.2f} deep"),
                _WIDTH,
                colour=6,
                description="drilled from the head's face",
            )
            items.append(Circle(layer, (bore.at.x, bore.at.y), step.diameter / 2, bore.id))
    return bounded(f"{plan.job.document.name} head", items)
