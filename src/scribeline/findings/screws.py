"""Rules for screws once they are driven: where their tips end up."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

from scribeline.features import Bore, Feature, Features, Pocket, driven
from scribeline.findings.finding import GEOMETRY, Facts, Finding, Limit, no_less, no_more
from scribeline.findings.wood import LEAST_THREAD, one_of_each_kind
from scribeline.lengths import trimmed
from scribeline.solid import Outside, Web, find_outside, find_webs

TIP = Limit.of("screw_tip")

_FINE = 1e-7
"""To what a length is searched for, mm: far finer than the 0.01 mm it is told to."""

Gap = Callable[[float], float]
"""Wood left between a screw of some length and what it must not reach, mm; 0 or less once it is there."""


def screw_tips(facts: Facts) -> Iterator[Finding]:
    """Does a screw's tip come out of the wood, or too near to it?"""
    return one_of_each_kind(_tips(facts), facts)


@dataclass(frozen=True, slots=True)
class _Near:
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


def _tips(facts: Facts) -> Iterator[Finding]:
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
            yield _finding(facts, _Near(screw, f"out of {face}", left, partial(_to_face, facts, screw)))


def _near_cut(facts: Facts, screw: Bore, other: Feature, web: Web) -> Iterator[Finding]:
    # Wood beside a screw is judged as wood beside its pilot; here it is the tip that counts.
    if web.mm <= 0 or (facts.limit(TIP).severity(web.mm) and _by_its_tip(screw, web)):
        gap = partial(_to_cut, facts, screw, other)
        yield _finding(facts, _Near(screw, f"into the {other.role}", web.mm, gap, other))


def _by_its_tip(screw: Bore, web: Web) -> bool:
    """Whether a screw is nearest by its point and not by its side."""
    assert web.places is not None
    place = web.places[0] if web.a == screw.id else web.places[1]
    deep = sum((p - a) * d for p, a, d in zip(place, screw.at, screw.axis, strict=True))
    return deep >= screw.deepest.depth - 1e-6


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


def _longest(gap: Gap, wanted: float, low: float, high: float) -> float:
    """The longest screw that leaves the wood wanted, between a length that does and one that does not, mm.

    Where even the shortest does not, the answer is that shortest.
    """
    while high - low > _FINE:
        middle = (low + high) / 2
        low, high = (middle, high) if gap(middle) > wanted else (low, middle)
    return high


def _finding(facts: Facts, near: _Near) -> Finding:
    limit, bore, screw = facts.limit(TIP), near.screw, near.screw.screw
    assert screw is not None
    under, left, out = screw.under_head, near.left, near.left <= 0
    if out:
        left = _longest(near.gap, 0.0, under, screw.length) - screw.length
    severity = limit.severity(left) or "caution"
    longest = _longest(near.gap, limit.caution, under, screw.length)
    name = f"{bore.holds or bore.role} {bore.id.rsplit('-', 1)[-1]}"
    size = f"{trimmed(screw.length)} mm long, {trimmed(under)} mm of it above the wood"
    return Finding(
        code="screw.tip-shows" if out else "screw.tip-near",
        severity=severity,
        features=(bore.id,) if near.other is None else (bore.id, near.other.id),
        value=left,
        limit=limit.threshold(severity),
        message=f"{name} comes {near.where} by {-left:.2f} mm: it is {size}"
        if out
        else f"the tip of {name} ends {left:.2f} mm before it would come {near.where}: it is {size}",
        cure=_cure(facts, bore, longest),
        source=GEOMETRY if out else limit.source,
    )


def _cure(facts: Facts, bore: Bore, longest: float) -> str:
    """The longest screw that leaves the wood wanted, and which of those in the drawer that is."""
    screw, wanted = bore.screw, facts.limit(TIP).caution
    assert screw is not None
    least = facts.limit(LEAST_THREAD).caution
    fits = f"the longest that leaves {wanted:g} mm is {no_more(longest)} mm ({screw.key})"
    if longest - screw.under_head < least - 1e-6:
        return (
            f"{fits}, which leaves less than {no_less(least)} mm in the wood: move the screw or what lies under it, or make "
            "that shallower"
        )
    owned = [length for length in screw.owned if length <= longest + 1e-6]
    if owned:
        return f"{fits}: of those you own, {trimmed(max(owned))} mm"
    return fits + (": none of those you own is short enough" if screw.owned else "")
