"""Rules for the screws of a bolted neck: what they hold in the heel, and how near they come to the fingerboard."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from math import hypot

from scribeline.features import heel_screw, polygon
from scribeline.findings.finding import COMMON_PRACTICE, GEOMETRY, Facts, Finding, Limit
from scribeline.job import feature_id
from scribeline.layout import HEEL, NECK_POCKET, TENON
from scribeline.lengths import between, no_less, put, said, spot

TIP = Limit.of("neck_tip")
THREAD = Limit.of("neck_thread")
SIDE = Limit.of("neck_side")
FREE = Limit.of("screw_clearance")
BETWEEN = Limit.of("bore_web")
GLUE = Limit.of("glue_gap")


def heel_engagement(facts: Facts) -> Iterator[Finding]:
    """Do the neck's screws hold in the heel, and stay clear of the fingerboard?"""
    heel, screws = heel_screw(facts.document), facts.document.neck_screws
    if heel is None or screws is None:
        return
    tip, thread = facts.limit(TIP), facts.limit(THREAD)
    ids = tuple(bore.id for bore in facts.features.family("neck-screw"))
    size = f"a screw of {said(screws.length.mm, None)}"
    fits = _that_fits(facts)
    if severity := tip.severity(heel.to_board):
        yield Finding(
            code="neck-screws.into-board" if heel.to_board <= 0 else "neck-screws.near-board",
            severity=severity,
            of="heel.to-board",
            held_to=tip.level_id(severity),
            features=ids,
            concerns=(*ids, HEEL),
            value=heel.to_board,
            limit=tip.threshold(severity),
            message=f"{size} takes {said(heel.deepest)} of the heel and its tip "
            + (
                f"ends {said(heel.to_board)} below the fingerboard's glue line"
                if heel.to_board > 0
                else f"goes {said(-heel.to_board)} past the fingerboard's glue line"
            ),
            cure=fits,
            source=tip.source,
        )
    if severity := thread.severity(heel.engages):
        yield Finding(
            code="neck-screws.short",
            severity=severity,
            of="heel.thread",
            held_to=thread.level_id(severity),
            features=ids,
            concerns=(*ids, HEEL),
            value=heel.engages,
            limit=thread.threshold(severity),
            message=f"{size} takes "
            + (
                f"only {said(heel.engages)} of the heel"
                if heel.engages > 0
                else "none of the heel: it ends in the body"
            )
            + f" after {said(heel.body)} of body and {said(screws.under_head, None)} under its head",
            cure=fits,
            source=thread.source,
        )


def _that_fits(facts: Facts) -> str:
    """The lengths that hold enough and stay clear of the board, and which of those owned are such."""
    heel, screws, neck = heel_screw(facts.document), facts.document.neck_screws, facts.document.neck
    assert heel is not None
    assert screws is not None
    passes = heel.body + screws.under_head
    shortest = passes + facts.limit(THREAD).caution
    longest = passes + neck.heel_thickness.mm - neck.board_thickness.mm - facts.limit(TIP).caution
    if neck.angle:  # the one that holds least is not the one that goes deepest
        longest = screws.length.mm + heel.to_board - facts.limit(TIP).caution
    if shortest > longest:
        return (
            f"no length holds {said(facts.limit(THREAD).caution, None)} and stays {said(facts.limit(TIP).caution, None)} below "
            "the board: make the neck pocket shallower, or use larger screws"
        )
    words = f"screws from {between(shortest, longest)} fit"
    owned = sorted(length for length in screws.lengths_owned if shortest <= length <= longest)
    if owned:
        return f"{words}: of those you own, {spot(*owned, places=None)}"
    return words + (": none of those you own does" if screws.lengths_owned else "")


def heel_sides(facts: Facts) -> Iterator[Finding]:
    """Do the neck's screws go into the heel, clear of its sides?"""
    import shapely

    screws, neck, key = facts.document.neck_bolts, facts.neck, facts.document.neck_bolts_key
    if screws is None or neck is None:
        return
    limit, heel = facts.limit(SIDE), polygon(neck.outline)
    pilots = {pilot.number: pilot for pilot in facts.heel_pilots}
    for bore in facts.features.family("neck-screw"):
        number = bore.number
        at = pilots.get(number, bore).at
        spot = shapely.Point(at.x, at.y)
        inside = heel.covers(spot)
        left = (1 if inside else -1) * heel.exterior.distance(spot) - screws.outside / 2
        if severity := limit.severity(left):
            yield Finding(
                code="neck-screws.near-side",
                severity=severity,
                held_to=limit.level_id(severity),
                features=(bore.id,),
                concerns=(bore.id, HEEL),
                value=left,
                limit=limit.threshold(severity),
                message=f"neck screw {bore.number} leaves {said(left)} of the heel beside its thread"
                if left > 0
                else f"neck screw {bore.number} misses the heel",
                cure=f"move it {no_less(limit.caution - left)} inwards ({key}.places, from the pocket's end wall and "
                "from the centreline)",
                source=limit.source if left > 0 else GEOMETRY,
            )


def tenon(facts: Facts) -> Iterator[Finding]:
    """Can the tenon be cut from the heel, and is there room for its glue?"""
    neck = facts.document.neck
    if neck.joint != "set":
        return
    ids = (feature_id(NECK_POCKET),)
    waiting = (*ids, TENON)
    if neck.tenon_width is not None:
        key, heel = min(
            (
                ("heel_width_at_mouth", neck.heel_width_at_mouth.mm),
                ("heel_width_at_end", neck.heel_width_at_end.mm),
            ),
            key=lambda each: each[1],
        )
        wider = neck.tenon_width.mm - heel
        if wider > _SAME_WIDTH:
            yield Finding(
                code="neck.tenon-wider",
                severity="stop",
                features=ids,
                concerns=waiting,
                value=wider,
                limit=0.0,
                message=f"the tenon is {said(neck.tenon_width.mm)} wide and the heel it is cut from {said(heel)}, "
                f"{said(wider)} less",
                cure=f"set {put('neck.tenon_width', heel, bound='most')} or less, or correct neck.{key}",
                source=GEOMETRY,
            )
    limit = facts.limit(GLUE)
    if severity := limit.severity(neck.slip):
        yield Finding(
            code="neck.glue-gap",
            severity=severity,
            held_to=limit.level_id(severity),
            of="neck.slip",
            features=ids,
            concerns=waiting,
            value=neck.slip,
            limit=limit.threshold(severity),
            message=f"the pocket is {said(neck.slip)} wider than what is glued into it, more than glue fills with strength",
            cure=f"set {put('neck.slip', limit.caution, bound='most')} or less",
            source=limit.source,
        )
    if neck.heel_film:
        yield Finding(
            code="neck.film-in-joint",
            severity="caution",
            of="neck.heel_film",
            features=ids,
            value=neck.heel_film,
            limit=0.0,
            message=f"the job states {said(neck.heel_film)} of finish on a heel that is glued in; the pocket is planned "
            "without it",
            cure="keep the heel bare for the glue, and leave neck.heel_film out",
            source=COMMON_PRACTICE,
        )


_SAME_WIDTH = 0.005
"""Widths nearer than this are one, mm."""


def between_pilots(facts: Facts) -> Iterator[Finding]:
    """Does wood enough remain between the pilots in the heel?"""
    limit = facts.limit(BETWEEN)
    for a, b in combinations(facts.heel_pilots, 2):
        web = hypot(a.at.x - b.at.x, a.at.y - b.at.y) - (a.widest + b.widest) / 2
        if severity := limit.severity(web):
            yield Finding(
                code="heel-pilots.thin-web",
                severity=severity,
                held_to=limit.level_id(severity),
                features=(a.id, b.id),
                concerns=(a.id, b.id, f"neck-screw-{a.number}", f"neck-screw-{b.number}", HEEL),
                value=web,
                limit=limit.threshold(severity),
                message=f"only {said(web)} of wood remains between heel pilots {a.number} and {b.number}"
                if web > 0
                else f"heel pilots {a.number} and {b.number} run into each other",
                cure=f"move the two screws {no_less(limit.caution - web)} apart ({facts.document.neck_bolts_key}.places)",
                source=limit.source,
            )


def under_the_board(facts: Facts) -> Iterator[Finding]:
    """Does every pilot in the heel end below the fingerboard's glue line?"""
    heel, neck = heel_screw(facts.document), facts.neck
    # Where the screws themselves go into the board, that is told instead.
    if heel is None or neck is None or heel.to_board <= 0:
        return
    for pilot in facts.heel_pilots:
        left = neck.beyond(pilot)
        if left <= 0:
            yield Finding(
                code="heel-pilots.into-board",
                severity="stop",
                features=(pilot.id,),
                concerns=(pilot.id, HEEL),
                value=left,
                limit=0.0,
                message=f"the bit's point of heel pilot {pilot.number} goes {said(-left)} past the fingerboard's glue line",
                cure="plug the pilot with a glued dowel and drill it anew to its depth; look for the point's mark in the board",
                source=GEOMETRY,
            )


def clearance_holes(facts: Facts) -> Iterator[Finding]:
    """Do the neck's screws pass the body freely, so that they can draw the neck down?"""
    screws = facts.document.neck_bolts
    bores = facts.features.family("neck-screw")
    if screws is None or not bores:
        return
    limit, free = facts.limit(FREE), bores[0].deepest.diameter - screws.passing
    if severity := limit.severity(free):
        yield Finding(
            code="neck-screws.grip-the-body",
            severity=severity,
            held_to=limit.level_id(severity),
            features=tuple(bore.id for bore in bores),
            value=free,
            limit=limit.threshold(severity),
            message=f"the clearance holes are {said(bores[0].deepest.diameter)} and the screws' thread {screws.passing:.2f} "
            "mm: " + ("they do not pass" if free < 0 else f"{said(free)} of play, and the body grips them"),
            cure=f"ream the holes in the body to {no_less(screws.passing + limit.caution)} or more, not those in the heel",
            source=limit.source if free >= 0 else GEOMETRY,
        )
