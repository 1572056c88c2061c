"""Rules for a neck that is carved here: the wood round what lies in it, the way into its heel, its volute and its blank."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from scribeline.features import Bore
from scribeline.findings.finding import COMMON_PRACTICE, GEOMETRY, Facts, Finding, Limit
from scribeline.layout import (
    CARVE,
    CHANNELS,
    HEEL,
    TENON,
    Carve,
    Channel,
    blank_needed,
    board_width,
    carve_of,
    channels,
    one_piece_stock,
    two_stocks,
)
from scribeline.lengths import no_less, no_more, put, said
from scribeline.solid.neck_wood import LeastWood, least_wood, wood_id

BACK = Limit.of("neck_back")
DEPTH = Limit.of("neck_depth")
BETWEEN = Limit.of("neck_channels")
OVER = Limit.of("heel_over")
ROOM = Limit.of("volute_room")
BLANK = Limit.of("blank_over")

_SAME = 0.005
"""Lengths nearer than this are one, mm."""


def deep_enough(facts: Facts) -> Iterator[Finding]:
    """Is the neck itself thick enough under its fingerboard, from the nut to its heel?"""
    carve = carve_of(facts.document, facts.layout)
    if carve is None:
        return
    limit, (along, deep) = facts.limit(DEPTH), carve.thinnest
    if severity := limit.severity(deep):
        yield Finding(
            code="carve.thin-neck",
            severity=severity,
            held_to=limit.level_id(severity),
            features=(),
            concerns=(CHANNELS, CARVE),
            value=deep,
            limit=limit.threshold(severity),
            message=f"the neck's own wood is {said(deep)} deep {said(along, 0)} from the nut, under the fingerboard"
            if deep > 0
            else f"the neck ends {said(-deep)} over its fingerboard's glue line, {said(along, 0)} from the nut",
            cure=f"make it {no_less(limit.caution - deep)} thicker there: the thickness stated at the 1st and at the 12th fret "
            "(neck_blank.thickness_at_first and thickness_at_twelfth) is carried straight on to the nut and to the heel",
            source=limit.source,
        )


def wood_round_channels(facts: Facts) -> Iterator[Finding]:
    """Is enough of the neck left round its truss rod and its bars once its back is carved?"""
    carve = carve_of(facts.document, facts.layout)
    if carve is None:
        return
    limit = facts.limit(BACK)
    for channel in channels(facts.document):
        found = least_wood(carve, channel)
        if found is None or (severity := limit.severity(found.mm)) is None:
            continue
        yield Finding(
            code="carve.into-channel" if found.mm <= 0 else "carve.thin-over-channel",
            severity=severity,
            of=wood_id(channel),
            held_to=limit.level_id(severity),
            features=(),
            concerns=(CHANNELS, CARVE, *_in_the_tenon(facts, carve, found)),
            value=found.mm,
            limit=limit.threshold(severity),
            message=_thin(channel, found),
            cure=_thicker(facts, channel, found, limit.caution - found.mm),
            source=limit.source if found.mm > 0 else GEOMETRY,
        )


def _in_the_tenon(facts: Facts, carve: Carve, found: LeastWood) -> tuple[str, ...]:
    tenoned = facts.document.neck.tenon_width is not None
    return (TENON,) if tenoned and found.beside and found.along > carve.mouth else ()


def _thin(channel: Channel, found: LeastWood) -> str:
    where = f"{said(found.along, 0)} from the nut"
    outside = "the neck's side" if found.beside else "the carved back"
    if found.mm <= 0:
        return f"the channel of the {channel.name} runs out of {outside} by {said(-found.mm)}, {where}"
    return f"only {said(found.mm)} of wood remains between the channel of the {channel.name} and {outside}, {where}"


def _thicker(facts: Facts, channel: Channel, found: LeastWood, lacks: float) -> str:
    if found.beside:
        moved = "neck.rod_width" if channel.across == 0 else "neck_blank.bar_centre"
        return f"bring its outer side {no_less(lacks)} nearer to the centreline ({moved})"
    first = facts.layout.frets[0].along
    nut_end = found.along <= (first + facts.layout.frets[11].along) / 2
    key = "thickness_at_first" if nut_end else "thickness_at_twelfth"
    flatter = ', or choose a flatter section ("flat")' if _may_be_flatter(facts) else ""
    return (
        f"make the neck about {no_less(lacks)} thicker there (neck_blank.{key}), rout the channel as much shallower "
        f"({channel.key}_depth){flatter}"
    )


def _may_be_flatter(facts: Facts) -> bool:
    blank = facts.document.neck_blank
    return blank is not None and blank.section != "flat"


def between_channels(facts: Facts) -> Iterator[Finding]:
    """Does wood enough remain between the truss rod's channel and the bars'?"""
    if facts.document.neck_blank is None:
        return
    limit = facts.limit(BETWEEN)
    for one, other in combinations(channels(facts.document), 2):
        if one.ends[1] <= other.ends[0] or other.ends[1] <= one.ends[0] or other.across < 0:
            continue  # one behind the other; and the bass bar lies as the treble one
        between = abs(other.across - one.across) - one.half - other.half
        if severity := limit.severity(between):
            yield Finding(
                code="carve.channels-meet" if between <= 0 else "carve.channels-close",
                severity=severity,
                held_to=limit.level_id(severity),
                features=(),
                concerns=(CHANNELS,),
                value=between,
                limit=limit.threshold(severity),
                message=f"only {said(between)} of wood remains between the truss rod's channel and either bar's"
                if between > 0
                else f"the bars' channels run into the truss rod's by {said(-between)}",
                cure="set "
                + put(
                    "neck_blank.bar_centre",
                    one.half + other.half + limit.caution,
                    bound="least",
                )
                + " or more",
                source=limit.source if between > 0 else GEOMETRY,
            )


def rod_can_be_turned(facts: Facts) -> Iterator[Finding]:
    """Does the truss rod's channel come out where the rod is turned?"""
    neck = facts.document.neck
    rod = next((each for each in channels(facts.document) if each.across == 0), None)
    if rod is None or neck.rod_access is None:
        return
    if neck.rod_access == "head":
        lacks, key, wanted = rod.ends[0], "neck.rod_from", 0.0
        end = "the nut's front, behind which it is turned"
    else:
        lacks, key, wanted = neck.pocket_end - rod.ends[1], "neck.rod_to", neck.pocket_end
        end = "the heel's end, at which it is turned"
    if lacks > _SAME:
        yield Finding(
            code="carve.rod-not-reached",
            severity="caution",
            features=(),
            concerns=(CHANNELS,),
            value=lacks,
            limit=0.0,
            message=f"the truss rod's channel ends {said(lacks)} before {end}",
            cure=f"set {put(key, wanted)}, or further, and correct neck.rod_access if it is turned at the other end",
            source=GEOMETRY,
        )


def into_the_heel(facts: Facts) -> Iterator[Finding]:
    """Does the back run into the heel where it should, from less to more, and clear of what holds the neck?"""
    carve, blank = carve_of(facts.document, facts.layout), facts.document.neck_blank
    if carve is None or blank is None:
        return
    low, high = carve.curve
    before = float(carve.middle(low))
    if before > carve.heel_depth + _SAME:
        over = before - carve.heel_depth
        heel = facts.document.neck.heel_thickness.mm + over
        yield Finding(
            code="carve.thicker-than-heel",
            severity="stop",
            features=(),
            concerns=(CARVE,),
            value=before,
            limit=carve.heel_depth,
            message=f"where the heel's curve begins the neck is {said(before + carve.board_thickness)} thick with its board, "
            f"{said(over)} thicker than its heel",
            cure=f"set {put('neck_blank.thickness_at_twelfth', _twelfth_for(carve), bound='most')} or less, or state a heel of "
            f"{no_less(heel)} or more (neck.heel_thickness)",
            source=GEOMETRY,
        )
    if low < carve.twelfth[0] - _SAME:
        yield Finding(
            code="carve.heel-before-twelfth",
            severity="caution",
            features=(),
            concerns=(CARVE,),
            value=low,
            limit=carve.twelfth[0],
            message=f"the heel's curve begins {said(low)} from the nut, before the 12th fret at {said(carve.twelfth[0])}: the "
            f"neck is {said(float(carve.middle(carve.twelfth[0])) + carve.board_thickness)} thick there, not "
            f"{said(blank.thickness_at_twelfth.mm, None)}",
            cure=f"set {put('neck_blank.heel_from', carve.twelfth[0], bound='least')} or more",
            source=GEOMETRY,
        )
    yield from _in_the_pocket(facts, carve, high)
    yield from _heel_over(facts, carve)


def _twelfth_for(carve: Carve) -> float:
    """The thickness at the 12th fret, with the board, with which the neck is as thick as its heel where the curve begins, mm."""
    (first_at, first), low = carve.first, carve.curve[0]
    slope = (carve.heel_depth - first) / (low - first_at)
    return first + slope * (carve.twelfth[0] - first_at) + carve.board_thickness


def _in_the_pocket(facts: Facts, carve: Carve, high: float) -> Iterator[Finding]:
    """What the curve takes off the heel within the neck pocket, and off the wood that its screws hold."""
    if high <= carve.mouth + _SAME:
        return
    thin = [bore for bore in facts.heel_pilots if _carved_at(facts, carve, bore) > _SAME]
    ids = tuple(bore.id for bore in thin)
    past = high - carve.mouth
    yield Finding(
        code="carve.off-screws" if thin else "carve.into-pocket",
        severity="stop" if thin else "caution",
        features=ids,
        concerns=(*ids, CARVE, *((HEEL,) if thin else ())),
        value=past,
        limit=0.0,
        message=f"the heel's curve ends {said(past)} inside the neck pocket: its floor does not carry the heel so far"
        + (
            f", and the curve takes up to {said(max(_carved_at(facts, carve, bore) for bore in thin))} off the wood where the "
            "neck's screws hold"
            if thin
            else ""
        ),
        cure=f"set {put('neck_blank.heel_to', carve.mouth, bound='most')} or less",
        source=GEOMETRY if thin else COMMON_PRACTICE,
    )


def _carved_at(facts: Facts, carve: Carve, bore: Bore) -> float:
    """How much of the heel's thickness the curve takes off at a hole, over the middle, mm."""
    along = facts.document.neck.pocket_end + (bore.at.x - facts.layout.pocket_end) - bore.widest / 2
    return carve.heel_depth - float(carve.middle(along))


def _heel_over(facts: Facts, carve: Carve) -> Iterator[Finding]:
    """The step at the board's edge where the neck reaches its heel."""
    limit, at = facts.limit(OVER), carve.mouth
    board = float(board_width(facts.document, at))
    heel = carve.heel_sides[0][1]
    off = abs(board - heel) / 2
    if severity := limit.severity(off):
        yield Finding(
            code="carve.off-the-board",
            severity=severity,
            held_to=limit.level_id(severity),
            features=(),
            concerns=(CARVE,),
            value=off,
            limit=limit.threshold(severity),
            message=f"where the neck pocket opens the heel is {said(heel)} wide and the fingerboard {said(board)}: "
            + ("the board stands over it" if board > heel else "it stands out past the board")
            + f" by {said(off)} on either side",
            cure=f"make the heel {no_less(board - 2 * limit.caution) if board > heel else no_more(board + 2 * limit.caution)} "
            "wide there (neck.heel_width_at_mouth, and the pocket with it), or correct the board's taper",
            source=limit.source,
        )


def volute(facts: Facts) -> Iterator[Finding]:
    """Does a volute leave the 1st fret and the tuners alone?"""
    carve = carve_of(facts.document, facts.layout)
    if carve is None or carve.volute is None:
        return
    head_end, heel_end = carve.volute.ends
    past = heel_end - carve.first[0]
    if past > _SAME:
        yield Finding(
            code="carve.volute-at-first",
            severity="caution",
            features=(),
            concerns=(CARVE,),
            value=past,
            limit=0.0,
            message=f"the volute ends {said(past)} past the 1st fret: a caliper reads "
            f"{said(float(carve.middle(carve.first[0])) + carve.board_thickness)} there, not the thickness stated",
            cure="make it shorter (neck_blank.volute_length), or move it towards the head (neck_blank.volute_at)",
            source=GEOMETRY,
        )
    yield from _by_the_tuners(facts, -head_end)


def _by_the_tuners(facts: Facts, reach: float) -> Iterator[Finding]:
    head, place = facts.document.head, facts.layout.head
    if head is None or place is None or not place.posts:
        return
    limit, first = facts.limit(ROOM), min(-post.at.x for post in place.posts)
    room = first - head.housing.mm / 2 - reach
    if severity := limit.severity(room):
        yield Finding(
            code="carve.volute-at-tuners",
            severity=severity,
            held_to=limit.level_id(severity),
            features=(),
            concerns=(CARVE,),
            value=room,
            limit=limit.threshold(severity),
            message=f"the volute reaches {said(reach)} onto the head, "
            + (
                f"{said(room)} from the nearest tuner's housing"
                if room > 0
                else f"{said(-room)} under the nearest tuner's housing"
            ),
            cure=f"let it reach {no_more(reach - (limit.caution - room))} onto the head (neck_blank.volute_length and volute_at)",
            source=limit.source,
        )


def blank_holds_the_neck(facts: Facts) -> Iterator[Finding]:
    """Is the blank you have large enough for the neck?"""
    carve, blank = carve_of(facts.document, facts.layout), facts.document.neck_blank
    if carve is None or blank is None:
        return
    limit, needed = facts.limit(BLANK), blank_needed(facts.document, facts.layout, carve)
    sawn = one_piece_stock(facts.document)
    thick = ("neck_blank.blank_thickness", blank.blank_thickness) if sawn is None else sawn
    for word, (key, has), needs in (
        ("length", ("neck_blank.blank_length", blank.blank_length), needed.length),
        ("width", ("neck_blank.blank_width", blank.blank_width), needed.width),
        ("thickness", thick, needed.thickness),
    ):
        twice = word == "thickness" and two_stocks(facts.document) is not None
        if has is None or twice or (severity := limit.severity(has - needs)) is None:
            continue
        yield Finding(
            code="carve.blank-small",
            severity=severity,
            held_to=limit.level_id(severity),
            features=(),
            concerns=(CHANNELS, CARVE),
            value=has - needs,
            limit=limit.threshold(severity),
            message=f"the blank's {word} is {said(has, None)}, and the neck {needed.head} needs {said(needs)}",
            cure=f"use a blank of {no_less(needs + limit.caution)} or more there, and state it ({key})",
            source=limit.source if has > needs else GEOMETRY,
        )
