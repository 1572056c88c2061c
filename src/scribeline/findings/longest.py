"""How long a screw may be: one answer for every rule that has something against a longer one."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from math import inf

from scribeline.features import Bore, Feature, Features, Pocket, driven
from scribeline.findings.finding import Facts, Limit
from scribeline.solid import Outside, Web, find_outside, find_webs

TIP = Limit.of("screw_tip")
UNDER_PILOT = Limit.of("bore_floor")
BESIDE = {Bore: Limit.of("bore_web"), Pocket: Limit.of("pocket_web")}

_FINE = 1e-7
"""To what a length is searched for, mm: far finer than the 0.01 mm it is told to."""

Gap = Callable[[float], float]
"""Wood left between a screw of some length and what it must not reach, mm; 0 or less once it is there."""


def longest_screw(facts: Facts, key: str) -> float:
    """The longest screw that leaves the wood wanted at every one of its places, beyond its tip and under its pilot.

    The rules for tips, floors and webs each know a length of their own; a builder buys one screw.

    Args:
        facts: with what is near.
        key: where the job states the screw's length, such as "bridge_screw.length".

    Returns:
        The length, mm; infinite where nothing is near.
    """
    if key not in facts.longest:
        facts.longest[key] = min((*_by_tips(facts, key), *_by_pilots(facts, key)), default=inf)
    return facts.longest[key]


def _by_tips(facts: Facts, key: str) -> Iterator[float]:
    wanted = facts.limit(TIP).caution
    for near in near_tips(facts):
        screw = near.screw.screw
        if screw is not None and screw.key == key:
            yield longest_with(near.gap, wanted, screw.under_head, screw.length)


def _by_pilots(facts: Facts, key: str) -> Iterator[float]:
    """A pilot is as much shorter as its screw."""
    by_id: dict[str, Feature] = {feature.id: feature for feature in facts.features}
    pilots = {
        bore.id: bore.screw.length
        for bore in facts.features.bores
        if bore.screw is not None
        and bore.screw.key == key
        and bore.face in {"top", "back"}
        and not bore.through
    }
    floor = facts.limit(UNDER_PILOT)
    for outside in facts.outside:
        if outside.feature in pilots and floor.severity(outside.to_opposite):
            yield pilots[outside.feature] - (floor.caution - outside.to_opposite)
    for web in facts.webs:
        for name, other in ((web.a, by_id[web.b]), (web.b, by_id[web.a])):
            limit = facts.limit(BESIDE[type(other)])
            if name in pilots and not web.on_purpose and limit.severity(web.mm):
                pilot = by_id[name]
                assert isinstance(pilot, Bore)
                if ends_over(pilot, other, web):
                    yield pilots[name] - _over_the_roof(facts, pilot, other, limit.caution)


def ends_over(pilot: Bore, other: Feature, web: Web) -> bool:
    """Whether a cut lies under a pilot's end, so that a shorter screw is a way out; one beside it has to be moved."""
    if {pilot.face, other.face} != {"top", "back"}:
        return False
    return web.mm == 0 or (web.places is not None and _by_its_tip(pilot, web))


def _over_the_roof(facts: Facts, pilot: Bore, other: Feature, wanted: float) -> float:
    """How much shorter a pilot must be to leave the wood wanted over a cut from the other face, mm."""
    reach = other.depth if isinstance(other, Pocket) else other.deepest.point_reaches
    return pilot.deepest.point_reaches + wanted - (facts.document.body.thickness.mm - reach)


@dataclass(frozen=True, slots=True)
class Near:
    """A screw and what it comes near.

    Attributes:
        screw: as driven.
        where: in bench words, such as "out of the back".
        left: wood left, mm; 0 or less where the screw is out.
        gap: the same for a screw of any length.
        other: the cut it comes near, if it is one.
    """

    screw: Bore
    where: str
    left: float
    gap: Gap
    other: Feature | None = None


def near_tips(facts: Facts) -> Iterator[Near]:
    """Every screw that comes out of the wood, or too near to something by its tip."""
    screws = {bore.id: driven(bore) for bore in facts.features.bores if bore.screw is not None}
    if not screws:
        return
    limit, layout = facts.limit(TIP), facts.layout
    others: dict[str, Feature] = {f.id: f for f in facts.features if f.id not in screws}
    among = Features(
        (*screws.values(), *(f for f in others.values() if isinstance(f, Bore))),
        tuple(f for f in others.values() if isinstance(f, Pocket)),
    )
    for web in find_webs(among, layout.thickness, near=limit.caution + 1.0, apart=screws):
        a, b = (web.a, web.b) if web.a in screws else (web.b, web.a)
        if not web.on_purpose and screws[a].entered_from != b:
            yield from _near_cut(facts, screws[a], others[b], web)
    for outside in _to_faces(facts, *screws.values()):
        screw = screws[outside.feature]
        left, face = _far_face(screw, outside)
        if screw.face in {"top", "back"} and limit.severity(left):
            yield Near(screw, f"out of {face}", left, partial(_to_face, facts, screw))


def _near_cut(facts: Facts, screw: Bore, other: Feature, web: Web) -> Iterator[Near]:
    # Wood beside a screw is judged as wood beside its pilot; here it is the tip that counts.
    if web.mm <= 0 or (facts.limit(TIP).severity(web.mm) and _by_its_tip(screw, web)):
        gap = clear_of(facts, screw, other)
        name = other.in_words if isinstance(other, Pocket) else other.role
        yield Near(screw, f"into the {name}", web.mm, gap, other)


def _by_its_tip(screw: Bore, web: Web) -> bool:
    """Whether a screw is nearest by its point and not by its side."""
    assert web.places is not None
    place = web.places[0] if web.a == screw.id else web.places[1]
    deep = sum((p - a) * d for p, a, d in zip(place, screw.at, screw.axis, strict=True))
    return deep >= screw.deepest.depth - 1e-6


def clear_of(facts: Facts, screw: Bore, other: Feature) -> Gap:
    """Wood left between a screw of some length and another cut."""
    return partial(_to_cut, facts, screw, other)


def _to_cut(facts: Facts, screw: Bore, other: Feature, length: float) -> float:
    tried = driven(screw, length)
    among = Features((tried,), (other,)) if isinstance(other, Pocket) else Features((tried, other), ())
    webs = find_webs(among, facts.layout.thickness, near=1000.0)
    return webs[0].mm if webs else 1000.0


def _to_face(facts: Facts, screw: Bore, length: float) -> float:
    (outside,) = _to_faces(facts, driven(screw, length))
    return _far_face(screw, outside)[0]


def _to_faces(facts: Facts, *screws: Bore) -> tuple[Outside, ...]:
    layout = facts.layout
    return find_outside(Features(screws, ()), layout.outline, layout.thickness, form=layout.body, edge=False)


def _far_face(screw: Bore, outside: Outside) -> tuple[float, str]:
    """Wood between a screw and the face it points to, or whatever is carved into that, and its name."""
    face = "top" if screw.face == "back" else "back"
    carved = ((gap.mm, gap.surface) for gap in outside.surfaces if gap.face == face)
    return min(((outside.to_opposite, f"the {face}"), *carved))


def longest_with(gap: Gap, wanted: float, low: float, high: float) -> float:
    """The longest screw that leaves the wood wanted, between a length that does and one that does not, mm.

    Where even the shortest does not, the answer is that shortest.
    """
    while high - low > _FINE:
        middle = (low + high) / 2
        low, high = (middle, high) if gap(middle) > wanted else (low, middle)
    return high
