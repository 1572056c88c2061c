"""Rules for a vibrato: room for what moves through the body, what holds it level, the claw and its screws."""

from __future__ import annotations

from collections.abc import Iterator
from math import degrees, hypot, inf
from typing import NamedTuple

import numpy as np

from scribeline.features import Bore, Feature, Pocket, out_of_wood, polygon
from scribeline.findings.finding import COMMON_PRACTICE, GEOMETRY, Facts, Finding, Limit
from scribeline.findings.longest import clear_of, longest_with
from scribeline.findings.wood import named, one_of_each_kind, pocket_key
from scribeline.job import feature_id
from scribeline.job.bridges.sprung import Sprung
from scribeline.layout import WALL_FAMILIES, BridgePlace, neck_walls
from scribeline.layout.bridges.sprung import (
    MODEL_SOURCE,
    Moving,
    balance,
    carried_below,
    claw_across,
    claw_moves,
    corners_of,
    hooks_at,
    moving,
    reach_between,
    stretch,
    turns,
)
from scribeline.layout.pose import Pose
from scribeline.lengths import no_less, put, put_number, said
from scribeline.solid import Nearby, sweep, web_id

ROOM = Limit.of("sweep_room")
PLATE = Limit.of("sweep_plate")
CLAW = Limit.of("claw_room")
TIP = Limit.of("claw_tip")

LEAST_IN_WOOD = 12.0
"""Least of a claw's screw in the wood, mm: three times a usual one's thread (common practice, no source)."""

SPRING_ROOM = 5.0
"""From a spring's axis to the wood over it and to the cover under it, mm: half its coils and some to swing (common practice,
no source)."""


class Swept(NamedTuple):
    """A moving part where the wood is nearest to it.

    Attributes:
        turn: at which, rad; where it runs into the wood, the first on the way from level.
        near: the wood there.
        before: the wood one step nearer level, where it is clear yet; the same as `near` where it never runs into any.
    """

    turn: float
    near: Nearby
    before: Nearby


def block_clears(facts: Facts) -> Iterator[Finding]:
    """Does a vibrato's block swing clear of every wall?"""
    bridge, place = facts.document.bridge, facts.layout.bridge
    if not isinstance(bridge, Sprung) or place is None:
        return
    _, block = moving(facts.document)
    worst, limit = _nearest(facts, block, place), facts.limit(ROOM)
    severity = limit.severity(worst.near.mm)
    if severity is None:
        return
    pockets = _own_pockets(facts, bridge)
    owner = min(facts.features.pockets, key=lambda each: _off(facts, each, worst.before), default=None)
    names = tuple(dict.fromkeys(each.id for each in (owner, *pockets) if each is not None))
    wall = "the wood" if owner is None else f"the {owner.in_words}'s {_side(worst.before)}"
    yield Finding(
        code="vibrato.block-close",
        severity=severity,
        held_to=limit.level_id(severity),
        features=names,
        value=worst.near.mm,
        limit=limit.threshold(severity),
        message=f"turned {_turned(worst.turn)}, the bridge's block comes within {said(worst.near.mm)} of {wall}"
        if worst.near.mm > 0
        else f"the bridge's block runs into {wall} {_from(worst.turn)}",
        cure="; ".join(_room_for(facts, block, place, pocket, limit.caution) for pocket in pockets),
        source=limit.source,
    )


def plate_clears(facts: Facts) -> Iterator[Finding]:
    """Does a vibrato's plate keep off the body over all its turn?"""
    bridge, place = facts.document.bridge, facts.layout.bridge
    if not isinstance(bridge, Sprung) or place is None:
        return
    plate, _ = moving(facts.document)
    if bridge.underside.mm <= 0:
        yield from _on_the_body(facts, bridge, plate)
        return
    # Where the job does not say how far up it must turn, it is the plate's meeting the body that ends its turn.
    worst = _nearest(facts, plate, place, least=-inf if bridge.pull_up is not None else 0.0)
    limit = facts.limit(PLATE)
    severity = limit.severity(worst.near.mm)
    if severity is None:
        return
    up = worst.turn < 0
    under, furthest = bridge.knife_over_underside.mm, -float(turns(facts.document)[0])
    higher = put(
        "bridge.underside",
        carried_below(bridge.rear, under, -furthest) - under + limit.caution,
        bound="least",
    )
    yield Finding(
        code="vibrato.plate-touches",
        severity=severity,
        held_to=limit.level_id(severity),
        features=tuple(bore.id for bore in facts.features.anchors),
        value=worst.near.mm,
        limit=limit.threshold(severity),
        message=f"turned {_turned(worst.turn)}, the bridge's plate "
        + ("touches the body" if worst.near.mm <= 0 else f"comes within {said(worst.near.mm)} of the body")
        + f" with its {'rear' if up else 'front'} edge; level, it stands {said(bridge.underside.mm)} over it",
        cure=(
            f"let it stand higher, {higher}, or ask for less turn up (bridge.pull_up)"
            if up
            else "let it stand higher (bridge.underside), or ask for less turn down (bridge.dive)"
        ),
        source=limit.source if worst.near.mm > 0 else GEOMETRY,
    )


def _on_the_body(facts: Facts, bridge: Sprung, plate: Moving) -> Iterator[Finding]:
    """Does a plate that lies on the body press an edge into it where it turns?"""
    limit, angles = facts.limit(PLATE), turns(facts.document)
    deep = [max(below for _, below in plate.profile(float(angle))) - bridge.pivot for angle in angles]
    worst = int(np.argmax(deep))
    if deep[worst] <= limit.threshold("stop"):
        return
    up, bevel = (
        bool(angles[worst] < 0),
        put_number("bridge.front_bevel", degrees(bridge.dive), bound="least"),
    )
    yield Finding(
        code="vibrato.plate-touches",
        severity="stop",
        held_to=limit.level_id("stop"),
        features=tuple(bore.id for bore in facts.features.anchors),
        value=-deep[worst],
        limit=limit.threshold("stop"),
        message=f"turned {_turned(float(angles[worst]))}, the bridge's plate, which lies on the body, presses its "
        f"{'rear' if up else 'front'} edge {said(deep[worst])} into it",
        cure="let it stand over the body (bridge.underside), or ask for no turn up (bridge.pull_up)"
        if up
        else f"set {bevel} or more, for a plate bevelled under its front edge, or let it stand over the body (bridge.underside)",
        source=GEOMETRY,
    )


def springs_in_their_cavity(facts: Facts) -> Iterator[Finding]:
    """Do block and springs stay within the depth of the back's cavity?"""
    bridge, place = facts.document.bridge, facts.layout.bridge
    if not isinstance(bridge, Sprung) or place is None:
        return
    _, block = moving(facts.document)
    limit, cavity = facts.limit(ROOM), facts.features.pocket(feature_id(bridge.spring_cavity))
    angles, thickness = turns(facts.document), facts.document.body.thickness.mm
    ends = [bridge.pivot - max(below for _, below in block.profile(float(angle))) for angle in angles]
    lowest = int(np.argmin(ends))
    left = ends[lowest] + thickness - _cover(facts, bridge)
    severity = limit.severity(left)
    if severity is not None:
        yield Finding(
            code="vibrato.block-at-cover",
            severity=severity,
            held_to=limit.level_id(severity),
            features=(cavity.id,),
            value=left,
            limit=limit.threshold(severity),
            message=f"turned {_turned(float(angles[lowest]))}, the block's lower end "
            + (
                f"comes within {said(left)} of the inside of"
                if left > 0
                else f"stands {said(-left)} out through"
            )
            + " the spring cavity's cover",
            cure="use a shorter block or a thicker body, or leave the cover off",
            source=limit.source,
        )
    line = bridge.pivot - bridge.lever
    roof, floor = cavity.depth - thickness - line, line + thickness - _cover(facts, bridge)
    room = min(roof, floor)
    if room < SPRING_ROOM - 1e-9:
        yield Finding(
            code="vibrato.springs-tight",
            severity="stop" if room < 0 else "caution",
            features=(cavity.id,),
            value=room,
            limit=SPRING_ROOM,
            message=f"the springs' line lies {said(-line)} below the top, {said(room)} from the spring cavity's "
            + ("floor" if roof < floor else "cover")
            + f"; springs want {said(SPRING_ROOM, None)} on either side of it",
            cure=f"set {put(pocket_key(cavity, facts, 'depth'), thickness + line + SPRING_ROOM, bound='least')} or more"
            if roof < floor
            else "hook the springs higher in the block, or use a shorter block",
            source=COMMON_PRACTICE,
        )


def springs_hold(facts: Facts) -> Iterator[Finding]:
    """Can the springs hold a vibrato level, with room for the claw both ways?"""
    bridge, found = facts.document.bridge, None
    if isinstance(bridge, Sprung):
        found = balance(facts.document, facts.layout)
    if not isinstance(bridge, Sprung) or found is None:
        return
    each = found.springs / bridge.springs
    if each <= bridge.spring_preload:
        yield Finding(
            code="vibrato.springs-strong",
            severity="caution",
            features=(),
            value=each,
            limit=bridge.spring_preload,
            message=f"estimate: the springs need only {each:.0f} N each to hold the bridge level, and their coils do not part "
            f"below {bridge.spring_preload:.0f} N: nothing is left to set with the claw",
            cure="take a spring out, or use weaker ones (bridge.springs, bridge.spring_preload)",
            source=MODEL_SOURCE,
        )
        return
    claw, limit = claw_place(facts, found.springs), facts.limit(CLAW)
    if claw is None:
        return
    sets = [(0.0, ""), *((moves, name) for name, moves in claw_moves(facts.document, facts.layout))]
    tighter, name = max(sets)
    strings = f'the set "{name}"' if name else "its strings"
    ahead, long = claw.ahead - tighter, bridge.spring_free.mm + stretch(bridge, found.springs) + tighter
    severity = limit.severity(ahead)
    if severity is not None:
        yield Finding(
            code="vibrato.claw-room",
            severity=severity,
            held_to=limit.level_id(severity),
            features=(claw.cavity.id,),
            value=ahead,
            limit=limit.threshold(severity),
            message=f"estimate: level with {strings} each spring is {said(long, 1)} long; the claw then stands "
            + (
                f"{said(ahead, 1)} from the neck wall of the spring cavity"
                if ahead > 0
                else f"{said(-ahead, 1)} beyond the neck wall of the spring cavity"
            ),
            cure=f"let the spring cavity reach {no_less(limit.caution - ahead)} further towards the neck, or fit more or "
            f"stiffer springs{_or_reach(facts, claw.cavity, limit.caution - ahead)}",
            source=limit.source,
        )


def _or_reach(facts: Facts, cavity: Pocket, further: float) -> str:
    """The size by which a cavity's neck wall lies so much further towards the nut; see `_or_size`."""
    xs = [place.x for place in cavity.outline]
    return _or_size(facts, cavity, (min(xs) - further, max(xs)), 0.0)


class Claw(NamedTuple):
    """Where the claw stands.

    Attributes:
        ahead: its hooks from the neck wall of the spring cavity, mm.
        cavity: the spring cavity.
    """

    ahead: float
    cavity: Pocket


def claw_place(facts: Facts, springs: float) -> Claw | None:
    """Where the claw stands once all springs pull so much; None where the bridge has no place or nothing is before it."""
    bridge, place = facts.document.bridge, facts.layout.bridge
    if not isinstance(bridge, Sprung) or place is None:
        return None
    cavity = facts.features.pocket(feature_id(bridge.spring_cavity))
    walls = neck_walls(tuple(cavity.outline), *claw_across(facts.document, place))
    return Claw(hooks_at(facts.document, place, springs) - max(walls), cavity) if walls else None


def claw_screws(facts: Facts) -> Iterator[Finding]:
    """Do the claw's screws reach the wood?"""
    bridge, found = facts.document.bridge, None
    if isinstance(bridge, Sprung):
        found = balance(facts.document, facts.layout)
    if not isinstance(bridge, Sprung) or found is None:
        return
    claw, long = claw_place(facts, found.springs), bridge.claw_screw.length.mm
    in_wood = inf if claw is None else long - out_of_wood(max(0.0, claw.ahead), bridge.claw_tilt)
    if claw is not None and in_wood <= 0:
        yield Finding(
            code="vibrato.claw-short",
            severity="stop",
            features=(claw.cavity.id,),
            value=in_wood,
            limit=0.0,
            message=f"the claw stands {said(claw.ahead, 1)} from the neck wall, and its screws are "
            f"{said(long, 1)} long: they do not reach the wood",
            cure=f"set {put('bridge.claw_screw.length', long - in_wood + LEAST_IN_WOOD, bound='least')} or "
            "more, for longer screws, or let the spring cavity reach less far towards the neck",
            source=GEOMETRY,
        )


def claw_pilots(facts: Facts) -> Iterator[Finding]:
    """Do the pilots of the claw's screws keep off every other cut?"""
    yield from one_of_each_kind(_claw_pilots(facts), facts)


def _claw_pilots(facts: Facts) -> Iterator[Finding]:
    limit, by_id = facts.limit(TIP), {feature.id: feature for feature in facts.features}
    pilots = {bore.id: bore for bore in facts.features.family(*WALL_FAMILIES) if bore.screw is not None}
    for web in facts.webs:
        for name, beside in ((web.a, web.b), (web.b, web.a)):
            severity = limit.severity(web.mm)
            if name not in pilots or web.on_purpose or severity is None:
                continue
            pilot, other = pilots[name], by_id[beside]
            if (
                pilot.entered_from in other.meets
            ):  # the recess of the cavity's cover, the slot that opens into it
                continue
            yield Finding(
                code="vibrato.claw-through" if web.mm == 0 else "vibrato.claw-tip",
                severity=severity,
                of="" if web.overlap else web_id(web.a, web.b),
                held_to=limit.level_id(severity),
                features=(name, beside),
                value=web.mm - web.overlap,
                limit=limit.threshold(severity),
                message=f"{named(pilot)} goes {said(pilot.deepest.depth, 1)} into the neck wall of the spring cavity and "
                + (
                    f"comes through into {named(other)}" + (f" by {said(web.overlap)}" if web.overlap else "")
                    if web.mm == 0
                    else f"leaves only {said(web.mm)} of wood before {named(other)}"
                ),
                cure=_shorter_claw(facts, pilot, other, limit.caution),
                source=limit.source if web.mm > 0 else GEOMETRY,
            )


def _shorter_claw(facts: Facts, pilot: Bore, other: Feature, wanted: float) -> str:
    """The longest claw screw whose pilot leaves the wood wanted, where a shorter one is a way out."""
    screw, spared = pilot.own_screw, pilot.depth_stop - pilot.own_screw.reach
    longest = longest_with(clear_of(facts, pilot, other), wanted + spared, screw.under_head, screw.length)
    if longest - screw.under_head < LEAST_IN_WOOD:
        return (
            "let the spring cavity reach less far towards the neck, or set the cavity it meets out of its way"
        )
    return (
        f"set {put('bridge.claw_screw.length', longest, bound='most')} or less, for shorter claw screws, or let the spring "
        "cavity reach less far towards the neck"
    )


def _nearest(facts: Facts, part: Moving, place: BridgePlace, *, least: float = -inf) -> Swept:
    """Where the wood is nearest a moving part, over every turn from `least` on."""
    document = facts.document
    angles = turns(document)
    angles = angles[angles >= least - 1e-12]
    found = sweep(
        corners_of(part, document, place, angles),
        facts.features.pockets,
        facts.layout.outline,
        document.body.thickness.mm,
    )
    worst = min(range(len(found)), key=lambda n: (found[n].mm, abs(angles[n])))
    inwards = worst - int(np.sign(angles[worst])) if found[worst].mm <= 0 else worst
    return Swept(float(angles[worst]), found[worst], found[inwards])


def _own_pockets(facts: Facts, bridge: Sprung) -> tuple[Pocket, Pocket]:
    slot, springs = (facts.features.pocket(feature_id(name)) for name in (bridge.slot, bridge.spring_cavity))
    return slot, springs


def _heights(facts: Facts, pocket: Pocket) -> tuple[float, float]:
    """Between which heights a pocket lies, mm."""
    thickness = facts.document.body.thickness.mm
    return (-pocket.depth, 0.0) if pocket.face == "top" else (-thickness, pocket.depth - thickness)


def _off(facts: Facts, pocket: Pocket, near: Nearby) -> float:
    """How far a place of the wood is from a pocket's walls and floor, mm."""
    import shapely

    low, high = _heights(facts, pocket)
    z, at = near.wall.z, shapely.Point(near.wall.x, near.wall.y)
    plan = polygon(pocket.outline, pocket.islands)
    beyond = max(low - z, z - high, 0.0)
    wall = hypot(float(plan.boundary.distance(at)), beyond)
    flat = min(abs(z - low), abs(z - high)) if plan.contains(at) else inf
    return min(wall, flat)


def _side(near: Nearby) -> str:
    """Which wall it is, by where it lies from the part."""
    along, across, up = (abs(b - a) for a, b in zip(near.at, near.wall, strict=True))
    if up > max(along, across):
        return "floor" if near.wall.z < near.at.z else "roof"
    if across > along:
        return "side wall"
    if along == 0:
        return "wall"
    return "tail wall" if near.wall.x > near.at.x else "neck wall"


def _room_for(facts: Facts, block: Moving, place: BridgePlace, pocket: Pocket, room: float) -> str:
    """What a cavity must be for a block to swing in it with so much room, in words."""
    reach = reach_between(facts.document, *_heights(facts, pocket))
    if reach is None:
        return f"the block does not come into the {pocket.in_words}; make it deeper"
    front, rear = reach[0] - room, reach[1] + room
    pose = Pose(place.middle.x, place.middle.y, place.turn)
    ends = (pose.place(front, 0.0).x, pose.place(rear, 0.0).x)
    ahead = f"{said(-front)} before" if front < 0 else f"{said(front)} behind"
    return (
        f"the {pocket.in_words} must reach from {ahead} the knife edges to {said(rear)} behind them "
        f"({said(ends[0])} to {said(ends[1])} from the nut), {said(2 * (block.half + room))} wide between its rounded corners"
        + _open_through(facts, pocket)
        + _or_size(facts, pocket, ends, block.half + max(room, pocket.corner_radius))
    )


def _or_size(facts: Facts, pocket: Pocket, ends: tuple[float, float], half: float) -> str:
    """The size by which a rectangular cavity reaches so far, its middle left where it is; "" where it does already.

    Args:
        facts: with what the job states of it.
        pocket: as cut.
        ends: how far it must reach, from the nut, mm.
        half: half of how wide it must be, mm.
    """
    own = next((each for each in facts.document.pockets if feature_id(each.name) == pocket.id), None)
    if own is None or own.size is None or own.turn:
        return ""
    xs = [place.x for place in pocket.outline]
    middle, (long, wide) = (min(xs) + max(xs)) / 2, own.size
    needed = 2 * max(middle - ends[0], ends[1] - middle), 2 * half
    if needed[0] <= long + 1e-9 and needed[1] <= wide + 1e-9:
        return ""
    size = put(
        pocket_key(pocket, facts, "size"),
        max(long, needed[0]),
        max(wide, needed[1]),
        bound=("least", "least"),
    )
    return f"; with its middle where it is, set {size}"


def _open_through(facts: Facts, pocket: Pocket) -> str:
    bridge = facts.document.bridge
    if pocket.face != "top" or not isinstance(bridge, Sprung):
        return ""
    slot, springs = _own_pockets(facts, bridge)
    short = facts.document.body.thickness.mm - slot.depth - springs.depth
    if short <= 0:
        return ""
    deep = put(pocket_key(slot, facts, "depth"), slot.depth + short, bound="least")
    return f", and {no_less(short)} deeper, to open into the spring cavity: set {deep}"


def _cover(facts: Facts, bridge: Sprung) -> float:
    """How far the spring cavity's cover reaches into the back, mm: its recess's depth."""
    stated = next(each for each in facts.document.pockets if each.name == bridge.spring_cavity)
    return 0.0 if stated.ledge is None else stated.ledge.depth


def _from(turn: float) -> str:
    return "where it hangs level" if turn == 0 else f"from {_turned(turn)} on"


def _turned(turn: float) -> str:
    if turn == 0:
        return "level"
    return f"{abs(degrees(turn)):.1f}° {'down' if turn > 0 else 'up'}"
