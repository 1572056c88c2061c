"""Rules for cavities' covers: do the screws stand on the ledge, and does the cover lie flush?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from scribeline.features import COVER_RECESS, polygon
from scribeline.findings.finding import COMMON_PRACTICE, GEOMETRY, Facts, Finding, Limit
from scribeline.findings.named import difference
from scribeline.findings.wood import one_of_each_kind
from scribeline.job import feature_id
from scribeline.lengths import no_less, put, said

BESIDE = Limit.of("cover_edge")
REACH = Limit.of("cover_reach")
FLUSH = Limit.of("cover_flush")


def cover_screws(facts: Facts) -> Iterator[Finding]:
    """Does every cover screw go through the cover into wood, with wood all round it?"""
    return one_of_each_kind(_beside(facts), facts)


def _beside(facts: Facts) -> Iterator[Finding]:
    import shapely

    pockets = {pocket.id: pocket for pocket in facts.features.pockets}
    for stated in facts.document.pockets:
        screws = stated.cover_screws
        if screws is None:
            continue
        cavity = pockets[feature_id(stated.name)]
        hollow = polygon(cavity.outline, cavity.islands)
        recess = pockets.get(feature_id(f"{stated.name} {COVER_RECESS}"))
        cover = None if recess is None else polygon(recess.outline)
        for bore in facts.features.family("cover-screw"):
            if bore.group != f"{stated.name} cover screws":
                continue
            spot = shapely.Point(bore.at.x, bore.at.y)
            name, half = f"{stated.name} cover screw {bore.number}", screws.thread.mm / 2
            to_cavity = (-1 if hollow.covers(spot) else 1) * hollow.boundary.distance(spot)
            near = _Near(name, "over the cavity", "the cavity's edge", (bore.id, cavity.id))
            yield from _judge(facts, near, to_cavity, half)
            if cover is None:
                yield from _far_off(facts, name, (bore.id, cavity.id), to_cavity)
            if cover is not None and recess is not None:
                inside = (1 if cover.covers(spot) else -1) * cover.boundary.distance(spot)
                near = _Near(name, "outside the cover's recess", "the cover's edge", (bore.id, recess.id))
                yield from _judge(facts, near, inside, half)


def _far_off(facts: Facts, name: str, ids: tuple[str, str], away: float) -> Iterator[Finding]:
    """A screw of a cover without a recess, further from its cavity than a cover reaches."""
    limit = facts.limit(REACH)
    if severity := limit.severity(away):
        yield Finding(
            code="cover-screw.far-off",
            severity=severity,
            held_to=limit.level_id(severity),
            features=ids,
            value=away,
            limit=limit.threshold(severity),
            message=f"{name} stands {said(away)} from its cavity, further than a cover reaches",
            cure="check its place (from the cavity's x_from, and from the centreline towards the treble)",
            source=limit.source,
        )


@dataclass(frozen=True, slots=True)
class _Near:
    """A screw and an edge of its ledge.

    Attributes:
        screw: in bench words.
        beyond: where it stands once it is past the edge.
        edge: in bench words.
        ids: of the screw's pilot and of what has the edge.
    """

    screw: str
    beyond: str
    edge: str
    ids: tuple[str, str]


def _judge(facts: Facts, near: _Near, middle: float, half: float) -> Iterator[Finding]:
    """One screw beside one edge: its middle's distance on the right side of it, and half its thread, mm."""
    limit, left = facts.limit(BESIDE), middle - half
    severity = limit.severity(left)
    if severity is None:
        return
    name, edge, off = near.screw, near.edge, middle < 0
    yield Finding(
        code="cover-screw.off-ledge" if off else "cover-screw.on-edge",
        severity=severity,
        held_to=limit.level_id(severity),
        features=near.ids,
        value=left,
        limit=limit.threshold(severity),
        message=f"{name} stands {near.beyond}, its middle {said(-middle)} past {edge}"
        if off
        else f"{name} leaves {said(left)} between its thread and {edge}"
        if left >= 0
        else f"{name} stands on {edge}: its thread runs {said(-left)} over it",
        cure=f"move it {no_less(limit.caution - left)} onto the wood that carries the cover (places are from the cavity's "
        "x_from, and from the centreline towards the treble), or widen the cover recess (ledge)",
        source=GEOMETRY if left < 0 else limit.source,
    )


def cover_flush(facts: Facts) -> Iterator[Finding]:
    """Is every cover as thick as its cover recess is deep?"""
    limit = facts.limit(FLUSH)
    for number, stated in enumerate(facts.document.pockets, start=1):
        if stated.ledge is None:
            continue
        proud = stated.cover_thickness - stated.ledge.depth
        if limit.severity(abs(proud)):
            yield Finding(
                code="cover.not-flush",
                severity="caution",
                held_to=limit.level_id("caution"),
                features=(feature_id(f"{stated.name} {COVER_RECESS}"),),
                value=proud,
                works=(
                    difference,
                    {
                        "one": f"pockets[{number}].cover_screws.cover_thickness",
                        "other": f"pockets[{number}].ledge.depth",
                    },
                ),
                limit=limit.caution,
                message=f"the cover of the {stated.name} is {said(stated.cover_thickness)} thick and its cover recess "
                f"{said(stated.ledge.depth)} deep: it {'stands' if proud > 0 else 'lies'} {said(abs(proud))} "
                f"{'over' if proud > 0 else 'below'} the {stated.face}",
                cure=f"set {put(f'pockets[{number}].ledge.depth', stated.cover_thickness)}, or use a cover of "
                f"{said(stated.ledge.depth)}",
                source=COMMON_PRACTICE if limit.source == COMMON_PRACTICE else limit.source,
            )
