"""The head seen from the front, at full size: its outline, its tuners' holes, and the strings on their way from the nut.

x runs from the nut's line towards the tail, in the head's own face, so that the head lies to the left of the nut; up the page is
the treble side of a right-handed head.
"""

from __future__ import annotations

from scribeline.drawing.extent import covered
from scribeline.drawing.fitted import bounded, fitted
from scribeline.drawing.marks import awl_mark, balloon_radius
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
_BEYOND = 12.0
"""How much of the neck is shown past the nut, mm."""

SEEN = "Head from the front, full size (1:1)"


def head_items(plan: Plan) -> tuple[Item, ...]:
    """The head with its holes, the strings' ways and the nut; nothing where the job states no head."""
    piece, place = plan.head, plan.layout.head
    if piece is None or place is None:
        return ()
    outline = tuple((x, y) for x, y in piece.outline)
    tip = min(x for x, _ in outline)
    nut = plan.job.document.nut.width / 2
    layer = OUTLINE if place.is_stated else PHANTOM
    items: list[Item] = [
        Path(layer, outline, closed=True, ref="head"),
        Line(OUTLINE, (0.0, -nut), (0.0, nut), "nut"),
        Line(CENTRE, (tip - 4.0, 0.0), (_BEYOND, 0.0), "centreline"),
    ]
    stated = plan.job.document.head
    assert stated is not None
    for post in place.posts:
        string = plan.layout.strings[post.string - 1]
        beside = off_its_post(post.side * plan.layout.treble, stated.post, string.gauge)
        items.append(
            Line(THIN, (0.0, string.nut.y), (post.at.x, post.at.y - beside), f"string-{post.string}")
        )
    for bore in piece.features.bores:
        items += _hole(plan, bore)
    words = SEEN if place.is_stated else f"{SEEN}; dashed: the least wood round the holes, no shape"
    at = (tip, covered(items)[1] - 2.0 - ACTED_ON_LETTERING)
    items.append(Text(LETTERING, at, words, ACTED_ON_LETTERING))
    return tuple(items)


def _hole(plan: Plan, bore: Bore) -> tuple[Item, ...]:
    post = (
        next(each for each in plan.layout.head.posts if each.string == bore.number)
        if plan.layout.head
        else None
    )
    outwards = 1.0 if post is None else float(post.side * plan.layout.treble)
    centre: Point = (bore.at.x, bore.at.y)
    number = balloon(bore.id)
    away = bore.widest / 2 + _ASIDE + balloon_radius(number)
    return (
        Circle(OUTLINE, centre, bore.widest / 2, bore.id),
        *awl_mark(
            centre, bore.widest / 2, number, balloon_at=(centre[0], centre[1] + outwards * away), ref=bore.id
        ),
    )


def head_picture(plan: Plan, widest: float) -> Sheet:
    """The head as a picture: at full size where there is room for it, else smaller, which it says."""
    return fitted("head", head_items(plan), widest, seen=SEEN, what="Head from the front")


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
                f"head bore {step.diameter:.2f} through",
                _WIDTH,
                colour=6,
                description="drilled from the head's face",
            )
            items.append(Circle(layer, (bore.at.x, bore.at.y), step.diameter / 2, bore.id))
    return bounded(f"{plan.job.document.name} head", items)
