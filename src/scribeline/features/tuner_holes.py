"""The holes of the tuners' posts, from the head's face right through."""

from __future__ import annotations

from collections.abc import Iterator

from scribeline.features.controls import passing_bit, passing_why
from scribeline.features.cuts import DOWN, Bore, Step
from scribeline.features.making import Features
from scribeline.features.neck_screws import HEEL_TIMBER
from scribeline.features.passing import BREAK_OUT, past_the_wall
from scribeline.features.workpiece import Workpiece
from scribeline.job import Document
from scribeline.layout import Layout, Point3
from scribeline.tables import timber


def head_piece(document: Document, layout: Layout) -> Workpiece | None:
    """The head with its tuners' holes, in its own frame: its face at height 0; None where the job states no head."""
    place, head = layout.head, document.head
    if place is None or head is None:
        return None
    holes = tuple(_holes(document, layout))
    wood = document.neck.timber or timber(HEEL_TIMBER)
    return Workpiece("head", place.outline, -place.thickness, 0.0, wood, Features(holes, ()))


def _holes(document: Document, layout: Layout) -> Iterator[Bore]:
    head, place = document.head, layout.head
    assert head is not None
    assert place is not None
    bit = passing_bit(document, head.hole)
    why = passing_why(head.hole, bit)
    for post in place.posts:
        yield Bore(
            id=f"tuner-hole-{post.string}",
            role="tuner hole",
            group="tuner holes",
            face="top",
            at=Point3(post.at.x, post.at.y, 0.0),
            axis=DOWN,
            steps=(Step(bit.diameter, past_the_wall(place.thickness, BREAK_OUT), bit),),
            through=True,
            why=(why,),
        )
