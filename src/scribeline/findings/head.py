"""Rules for the head: how strings bend over the nut, and whether the tuners have wood and room."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from math import degrees, hypot

from scribeline.features import polygon
from scribeline.findings.finding import GEOMETRY, Facts, Finding, Limit
from scribeline.layout import housings_apart
from scribeline.lengths import no_less, said

FLAT = Limit.of("nut_break")
KINK = Limit.of("nut_kink")
ROOM = Limit.of("tuner_gap")
EDGE = Limit.of("tuner_edge")
WEB = Limit.of("bore_web")


def strings_have_tuners(facts: Facts) -> Iterator[Finding]:
    """Has every string a tuner?"""
    place = facts.layout.head
    missing = [] if place is None else _without(facts, {post.string for post in place.posts})
    if missing:
        numbers = ", ".join(map(str, missing))
        yield Finding(
            code="head.no-tuner",
            severity="caution",
            features=(),
            value=float(len(missing)),
            limit=None,
            message=f"no tuner is listed for string {numbers}",
            cure="list its number in head.bass_side or head.treble_side, or leave the head out",
            source=GEOMETRY,
        )


def _without(facts: Facts, tuned: set[int]) -> list[int]:
    return [string.no for string in facts.layout.strings if string.no not in tuned]


def strings_over_the_nut(facts: Facts) -> Iterator[Finding]:
    """Do the strings break down over the nut enough to stay in their slots, and run straight enough to slide in them?"""
    place = facts.layout.head
    if place is None or not place.posts:
        return
    flat, kink = facts.limit(FLAT), facts.limit(KINK)
    flattest = min(place.posts, key=lambda post: post.breaks)
    if severity := flat.severity(degrees(flattest.breaks)):
        yield Finding(
            code="head.breaks-flat",
            severity=severity,
            features=(f"tuner-hole-{flattest.string}",),
            value=degrees(flattest.breaks),
            limit=flat.threshold(severity),
            message=f"string {flattest.string} breaks over the nut by {degrees(flattest.breaks):.1f}°: it can jump from its slot",
            cure="use posts that hold it lower further out (head.string_height), set a string tree, or make the step deeper "
            "(head.step)",
            source=flat.source,
        )
    worst = max(place.posts, key=lambda post: abs(post.kink))
    if severity := kink.severity(abs(degrees(worst.kink))):
        yield Finding(
            code="head.kinks",
            severity=severity,
            features=(f"tuner-hole-{worst.string}",),
            value=abs(degrees(worst.kink)),
            limit=kink.threshold(severity),
            message=f"string {worst.string} is drawn aside by {abs(degrees(worst.kink)):.1f}° at the nut, "
            f"{degrees(worst.bend):.1f}° in all: it binds in its slot, and comes back out of tune",
            cure="bring its post nearer to the string's own line: leave head.bass_row and head.treble_row out to have the posts "
            "placed on it",
            source=kink.source,
        )


def tuners_have_room(facts: Facts) -> Iterator[Finding]:
    """Do the tuners' housings go side by side, and is there wood round every hole?"""
    import shapely

    place, head, piece = facts.layout.head, facts.document.head, facts.head
    if place is None or head is None or piece is None:
        return
    room, edge, web = facts.limit(ROOM), facts.limit(EDGE), facts.limit(WEB)
    gap = housings_apart(place.posts, head.housing)
    if severity := room.severity(gap):
        yield Finding(
            code="head.tuners-meet",
            severity=severity,
            features=tuple(bore.id for bore in piece.features.bores),
            value=gap,
            limit=room.threshold(severity),
            message=f"the tuners' housings, {said(head.housing)} along their row, "
            + (f"overlap by {said(-gap)}" if gap < 0 else f"have {said(gap)} between them"),
            cure=f"set head.pitch to {no_less(head.pitch + room.caution - gap)} or more",
            source=room.source,
        )
    outline = polygon(piece.outline)
    for bore in piece.features.bores:
        at = shapely.Point(bore.at.x, bore.at.y)
        inside = outline.contains(at)
        left = (1 if inside else -1) * float(outline.exterior.distance(at)) - bore.widest / 2
        if severity := edge.severity(left):
            yield Finding(
                code="head.near-edge",
                severity=severity,
                features=(bore.id,),
                value=left,
                limit=edge.threshold(severity),
                message=f"tuner hole {bore.number} "
                + (
                    f"has {said(left)} of wood to the head's edge"
                    if left > 0
                    else "comes out of the head's edge"
                ),
                cure="widen the head there (head.outline), or bring the post in",
                source=edge.source,
            )
    for one, other in combinations(piece.features.bores, 2):
        between = hypot(one.at.x - other.at.x, one.at.y - other.at.y) - (one.widest + other.widest) / 2
        if severity := web.severity(between):
            yield Finding(
                code="head.holes-close",
                severity=severity,
                features=(one.id, other.id),
                value=between,
                limit=web.threshold(severity),
                message=f"{said(between)} of wood remains between tuner holes {one.number} and {other.number}",
                cure="move the two rows of posts apart along the head (head.first_post), or apart across it",
                source=web.source,
            )
