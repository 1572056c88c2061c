"""Rules for the head: how strings bend over the nut, and whether the tuners have wood and room."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from math import degrees, hypot

from scribeline.features import Bore, balloon, polygon
from scribeline.findings.finding import GEOMETRY, Facts, Finding, Limit
from scribeline.layout import CARVE, CHANNELS, housings_apart, two_stocks
from scribeline.lengths import no_less, said

FLAT = Limit.of("nut_break")
KINK = Limit.of("nut_kink")
ROOM = Limit.of("tuner_gap")
EDGE = Limit.of("tuner_edge")
WEB = Limit.of("bore_web")
UNDER = Limit.of("tree_screw_under")
JOINED = Limit.of("scarf_joint")


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
            cure="use posts that hold it lower further out (head.string_height), set a string tree over it (head.trees), or make "
            "the step deeper (head.step)",
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
    gap = housings_apart(place.posts, head.housing.mm)
    if severity := room.severity(gap):
        yield Finding(
            code="head.tuners-meet",
            severity=severity,
            features=tuple(bore.id for bore in piece.features.bores),
            value=gap,
            limit=room.threshold(severity),
            message=f"the tuners' housings, {said(head.housing.mm)} along their row, "
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
                message=f"{_hole(bore)} "
                + (
                    f"has {said(left)} of wood to the head's edge"
                    if left > 0
                    else "comes out of the head's edge"
                ),
                cure="widen the head there (head.outline, its drawing, or head.side of a shape), or bring the hole in",
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
                message=f"{said(between)} of wood remains between {_hole(one)} and {_hole(other)}",
                cure="move the rows of posts apart along the head (head.first_post) or across it, or the tree (head.trees)",
                source=web.source,
            )


def _hole(bore: Bore) -> str:
    return f"{'tuner hole' if bore.family == 'tuner-hole' else 'string tree screw'} {balloon(bore.id)}"


def trees_hold_down(facts: Facts) -> Iterator[Finding]:
    """Does every tree hold its strings down, and do its screws end in the head?"""
    place, piece = facts.layout.head, facts.head
    if place is None or piece is None:
        return
    for index, tree in enumerate(place.trees, start=1):
        if tree.idle:
            *most, last = map(str, tree.idle)
            strings = (
                f"strings {', '.join(most)} and {last} to their posts"
                if most
                else f"string {last} to its post"
            )
            yield Finding(
                code="head.tree-idle",
                severity="caution",
                features=(),
                value=float(len(tree.idle)),
                limit=None,
                message=f"string tree {index} stands over the way of {strings}, and holds nothing down",
                cure=f"set it lower (head.trees[{index}].height), or leave the string out of it",
                source=GEOMETRY,
            )
    limit = facts.limit(UNDER)
    for bore in piece.features.family("tree-screw"):
        left = piece.beyond(bore)
        if severity := limit.severity(left):
            yield Finding(
                code="head.tree-screw-deep",
                severity=severity,
                features=(bore.id,),
                value=left,
                limit=limit.threshold(severity),
                message=f"the pilot of {_hole(bore)} "
                + (
                    f"leaves {said(left)} of the head under its point"
                    if left > 0
                    else "comes out of the head's back"
                ),
                cure=f"use a screw {said(limit.caution - left, 1)} shorter",
                source=limit.source,
            )


def stock_is_one(facts: Facts) -> Iterator[Finding]:
    """Do head and neck in one piece say the same of the wood they are sawn from?"""
    both = two_stocks(facts.document)
    if both is None:
        return
    stock, blank = both
    holes = tuple(bore.id for bore in facts.head.features.bores) if facts.head else ()
    yield Finding(
        code="head.stock-twice",
        severity="stop",
        of="head.stock",
        held_to="neck_blank.blank_thickness",
        features=holes,
        concerns=(*holes, CHANNELS, CARVE),
        value=stock,
        limit=blank,
        message=f"head and neck are one piece, sawn from stock {said(stock, None)} thick (head.stock) and from a blank "
        f"{said(blank, None)} thick (neck_blank.blank_thickness)",
        cure="measure it, state it in neck_blank.blank_thickness and leave head.stock out; or glue the head on (head.scarf)",
        source=GEOMETRY,
    )


def stock_holds_the_head(facts: Facts) -> Iterator[Finding]:
    """Is the stock thick enough for the head, or the scarf joint long enough?

    Where the neck is carved here, a head in one piece with it is held to with the neck's blank, which is the same wood.
    """
    place, head = facts.layout.head, facts.document.head
    if place is None or head is None or head.stock is None:
        return
    needed = head.thickness if place.scarf else place.stock_needed
    carved_here = facts.document.neck_blank is not None and not place.scarf
    if head.stock < needed and not carved_here:
        stock = f"use stock {no_less(needed)} thick"
        yield Finding(
            code="head.stock-too-thin",
            severity="stop",
            of="head.stock",
            held_to="head.thickness" if place.scarf else "head.stock-needed",
            features=tuple(bore.id for bore in facts.head.features.bores) if facts.head else (),
            value=head.stock,
            limit=needed,
            message=f"the stock is {said(head.stock)} thick and "
            + (
                f"the head {said(head.thickness)}"
                if place.scarf
                else f"a head in one piece with the neck takes {said(needed)} of it"
            ),
            cure=stock
            if place.scarf or head.face == "stepped"
            else f"glue the head on (head.scarf), or {stock}",
            source=GEOMETRY,
        )
    joint = facts.limit(JOINED)
    if place.scarf and (severity := joint.severity(place.scarf.face / head.stock)):
        yield Finding(
            code="head.scarf-short",
            severity=severity,
            features=(),
            concerns=(),
            value=place.scarf.face / head.stock,
            limit=joint.threshold(severity),
            message=f"at {degrees(head.angle):.1f}° the scarf joint is {said(place.scarf.face)} long, "
            f"{place.scarf.face / head.stock:.1f} times the stock's thickness",
            cure="lean the head back less (head.angle)",
            source=joint.source,
        )
