"""The head's holes, from its face: of the tuners' posts right through, and pilots of the screws that hold string trees."""

from __future__ import annotations

from collections.abc import Iterator

from scribeline.features.controls import passing_bit, passing_why
from scribeline.features.cuts import DOWN, Bore, Step
from scribeline.features.making import Features
from scribeline.features.neck_screws import neck_timber
from scribeline.features.passing import BREAK_OUT, past_the_wall
from scribeline.features.screw_pilots import driver, screw_pilot
from scribeline.features.workpiece import Workpiece
from scribeline.job import Document
from scribeline.layout import Layout, Point3
from scribeline.tables import Timber


def head_piece(document: Document, layout: Layout) -> Workpiece | None:
    """The head with its holes, in its own frame: its face at height 0; None where the job states no head."""
    place, head = layout.head, document.head
    if place is None or head is None:
        return None
    wood = neck_timber(document)
    holes = (*_posts(document, layout), *_trees(document, layout, wood))
    return Workpiece("head", place.outline, -place.thickness, 0.0, wood, Features(holes, ()))


def _posts(document: Document, layout: Layout) -> Iterator[Bore]:
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


def _trees(document: Document, layout: Layout, wood: Timber) -> Iterator[Bore]:
    head, place = document.head, layout.head
    assert head is not None
    assert place is not None
    number = 0
    for index, (stated, tree) in enumerate(zip(head.trees, place.trees, strict=True), start=1):
        for at in tree.screws:
            assert stated.screw is not None
            number += 1
            driven = driver(stated.screw, stated.screw.under_head, f"head.trees[{index}].screw")
            step, why = screw_pilot(document, driven, wood)
            yield Bore(
                id=f"tree-screw-{number}",
                role="string tree pilot",
                group="string tree screws",
                face="top",
                at=Point3(at.x, at.y, 0.0),
                axis=DOWN,
                steps=(step,),
                why=why,
                grain="side",
                screw=driven,
                holds="string tree",
            )
