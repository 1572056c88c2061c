"""Rules for a bridge on two studs or posts: the wood before studs, what lifts them, the strings behind it."""

from __future__ import annotations

from collections.abc import Iterator
from math import hypot

from scribeline.features import Pocket
from scribeline.findings.finding import COMMON_PRACTICE, GEOMETRY, Facts, Finding, Limit
from scribeline.findings.wood import named
from scribeline.job.bridges.posts import BridgeOnPosts
from scribeline.job.bridges.studs import BridgeOnStuds
from scribeline.layout.bridges.studs import MODEL_SOURCE, stud_load
from scribeline.lengths import no_less, put, said
from scribeline.solid import Web

AHEAD = Limit.of("stud_ahead")


def wood_before_studs(facts: Facts) -> Iterator[Finding]:
    """Is there wood enough between a bridge's bushings and the cavities that its studs push towards?"""
    limit = facts.limit(AHEAD)
    anchors = {bore.id: bore for bore in facts.features.family("bridge-stud", "tailpiece-stud")}
    pockets = {pocket.id: pocket for pocket in facts.features.pockets}
    for web in facts.webs:
        bore = anchors.get(web.a) or anchors.get(web.b)
        pocket = pockets.get(web.a) or pockets.get(web.b)
        if bore is None or pocket is None or web.on_purpose or not _towards_the_nut(pocket, bore.at.x):
            continue
        if _under(web):
            continue
        times = web.mm / bore.widest
        severity = limit.severity(times)
        if severity is None or web.mm == 0:
            continue
        yield Finding(
            code="studs.near-cavity",
            severity=severity,
            held_to=limit.level_id(severity),
            features=(bore.id, pocket.id),
            value=times,
            limit=limit.threshold(severity),
            message=f"the strings push {named(bore)} towards the {pocket.in_words}, and {said(web.mm)} of wood stands between: "
            f"{times:.1f} of its diameter",
            cure=f"keep {no_less(limit.caution * bore.widest)} there: move the {pocket.in_words} towards the nut or make it "
            "shorter, or fill its end with hardwood, the grain along the strings",
            source=limit.source,
        )


def _under(web: Web) -> bool:
    """Whether the least wood is under the bushing more than beside it: nothing pushes there."""
    if web.places is None:
        return False
    along, across, down = (b - a for a, b in zip(*web.places, strict=True))
    return abs(down) > hypot(along, across)


def _towards_the_nut(pocket: Pocket, x: float) -> bool:
    return min(point.x for point in pocket.outline) < x


def studs_lifted(facts: Facts) -> Iterator[Finding]:
    """Do the strings press a bridge on its studs down, or pull the bushings out?"""
    if not isinstance(facts.document.bridge, BridgeOnStuds):
        return
    load = stud_load(facts.document, facts.layout)
    if load is None or load.up <= 0:
        return
    yield Finding(
        code="studs.lifted",
        severity="caution",
        features=tuple(bore.id for bore in facts.features.anchors),
        value=load.up,
        limit=0.0,
        message=f"estimate: the strings lift the bridge with {load.up:.0f} N, for they rise from its saddles to the nut; only "
        "the bushings' press holds that, and no handbook says how much it bears",
        cure="let the saddles stand higher than the nut over the body, by a shallower neck pocket; or use bushings that screw in",
        source=MODEL_SOURCE,
    )


def strings_clear_the_bridge(facts: Facts) -> Iterator[Finding]:
    """Do strings through the body come up behind a bridge on studs or posts?"""
    bridge = facts.document.bridge
    row = bridge.string_row
    if not isinstance(bridge, BridgeOnStuds | BridgeOnPosts) or row is None:
        return
    holes = facts.features.family("string-hole")
    half = max((bore.widest for bore in holes), default=0.0) / 2
    left = row.mm - half - bridge.rear
    if left < 0:
        yield Finding(
            code="studs.holes-under-bridge",
            severity="stop",
            features=tuple(bore.id for bore in holes),
            value=left,
            limit=0.0,
            message=f"the row of string holes is {said(row.mm)} behind the {bridge.counted_from}, and the bridge reaches "
            f"{said(bridge.rear)} back: the strings cannot come up behind it",
            cure=f"set {put(bridge.string_row_key, bridge.rear + half, bound='least')} or more",
            source=GEOMETRY,
        )


def stud_slant(facts: Facts) -> Iterator[Finding]:
    """Is a slant that is stated the way the strings want it?"""
    bridge, layout = facts.document.bridge, facts.layout
    if (
        not isinstance(bridge, BridgeOnStuds | BridgeOnPosts)
        or not bridge.slant
        or not layout.stringing.is_placed
    ):
        return
    first, last = layout.stringing.along[0], layout.stringing.along[-1]
    if bridge.slant * (last - first) < 0:
        end = "treble" if bridge.slant < 0 else "bass"
        yield Finding(
            code="studs.slanted-backwards",
            severity="caution",
            of="bridge.slant",
            features=(),
            value=bridge.slant,
            limit=0.0,
            message=f"the slant takes the {end} end back, and the strings want the other end further back: string 1 "
            f"{said(first)} past the scale line, string {len(layout.strings)} {said(last)}",
            cure="turn the sign of bridge.slant, or leave it out and have it worked out",
            source=COMMON_PRACTICE,
        )
