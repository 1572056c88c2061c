"""The holes of the tuners' posts, from the head's face right through."""

from __future__ import annotations

from collections.abc import Iterator

from scribeline.features.bits import choose_bit, drill_box
from scribeline.features.controls import SHAFT_PLAY
from scribeline.features.cuts import DOWN, Bore, Reason, Step
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
    bit = choose_bit(
        drill_box(document.bits),
        head.hole.mm,
        ("brad-point", "flat-bottomed", "twist"),
        at_least=head.hole.mm,
        at_most=head.hole.mm + SHAFT_PLAY,
        point_angle_rad=document.bits.point_angle,
    )
    why = Reason(
        f"hole {head.hole.mm:.2f} mm, {head.hole.standing}; smallest bit that lets it through: {bit.name} "
        f"({bit.diameter - head.hole.mm:+.2f} mm)"
    )
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
