"""The numbers of a plan that a builder looks at, and which of them a later plan has changed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from scribeline.features import Bore, Feature, Pocket, setting_of
from scribeline.findings import Finding
from scribeline.layout import on_centreline, side_words
from scribeline.plan import Plan
from scribeline.solid import wood_under_floor
from scribeline.steps import balloon

SEEN_ALIKE = 0.005
"""Two numbers closer than this, mm, are printed alike."""


@dataclass(frozen=True, slots=True)
class Number:
    """One number of a cut or of the plan.

    Attributes:
        name: what it is, in bench words.
        mm: the number.
        was: what it was when it was last looked at, where that differs.
        main: whether it is what one sets out or sets the stop by.
    """

    name: str
    mm: float
    was: float | None = None
    main: bool = False


@dataclass(frozen=True, slots=True)
class Changed:
    """One number that is not what it was.

    Attributes:
        what: the cut's number or name; "Plan" for the plan's own.
        feature: the cut's id; "" for the plan's own.
        name: which number of it.
        was: before; None where it was not there.
        now: None where it is there no more.
        count: how many cuts of one row changed alike.
    """

    what: str
    feature: str
    name: str
    was: float | None
    now: float | None
    count: int = 1


def name_of(feature: Feature) -> str:
    """A cut's short name: its balloon's number, or the pocket's name."""
    return balloon(feature.id) if isinstance(feature, Bore) else feature.role


def numbers_of(plan: Plan, feature: Feature) -> tuple[Number, ...]:
    """Every number of one cut: where it is, from the same datum as on the sheets, and how deep."""
    return tuple(_bore(plan, feature) if isinstance(feature, Bore) else _pocket(plan, feature))


def _bore(plan: Plan, bore: Bore) -> Iterator[Number]:
    layout = plan.layout
    yield Number("from the 12th fret", layout.past("12th-fret", bore.at.x), main=True)
    yield Number(f"from {layout.datum('pocket-end').words}", layout.past("pocket-end", bore.at.x))
    across = bore.at.y * layout.treble
    side = side_words(across)
    yield Number(side if on_centreline(across) else f"from the centreline, {side}", abs(across), main=True)
    for number, step in enumerate(bore.steps):
        last = number == len(bore.steps) - 1
        setting = setting_of(layout, bore, number, plan.features.pockets)
        what = "hole" if last else "counterbore"
        yield Number(f"{what}, diameter", step.diameter)
        yield Number(f"{what}, full depth along the bit", step.depth)
        yield Number(f"{what}, {setting.kind}: {setting.where}", setting.mm, main=True)


def _pocket(plan: Plan, pocket: Pocket) -> Iterator[Number]:
    layout = plan.layout
    xs = [point.x for point in pocket.outline]
    ys = [point.y * layout.treble for point in pocket.outline]
    yield Number("depth" if pocket.slope is None else "depth at the end wall", pocket.depth, main=True)
    if pocket.slope is not None:
        yield Number("depth at the mouth", pocket.depths[0], main=True)
    yield Number("corner radius", pocket.corner_radius)
    yield Number("neck end, from the 12th fret", layout.past("12th-fret", min(xs)), main=True)
    yield Number("tail end, from the 12th fret", layout.past("12th-fret", max(xs)))
    yield Number("furthest to the treble", max(ys))
    yield Number("furthest to the bass", -min(ys))
    others = [feature for feature in plan.features if feature.id != pocket.id]
    left = wood_under_floor(layout, pocket, others).full
    if left is None:  # it comes out: by how much; what opens into another cut has no wood under it
        left = next((each.to_opposite for each in plan.outside if each.feature == pocket.id), 0.0)
        if left > 0.0:
            return
    yield Number("wood under it, the least", left)


LEAST_WOOD = "wood between two cuts, the least"


def plan_numbers(plan: Plan) -> tuple[Number, ...]:
    """What decides about the whole plan."""
    layout = plan.layout
    marks = () if layout.bridge is None else layout.bridge.marks
    found = [
        Number(f"12th fret to the {mark.name}", layout.past("12th-fret", mark.at.x), main=True)
        for mark in marks
    ]
    if layout.stringing.is_placed and (layout.bridge is not None or not layout.window.is_empty):
        found.append(Number("saddle travel in hand, the least", layout.travel.reserve, main=True))
    string, margin = layout.smallest_margin
    found.append(Number(f"board beside string {string.no}, the least", margin.side))
    wood = [web.mm for web in plan.webs if not web.on_purpose]
    if wood:
        found.append(Number(LEAST_WOOD, min(wood)))
    return tuple(found)


def with_was(now: tuple[Number, ...], before: tuple[Number, ...]) -> tuple[Number, ...]:
    """Numbers with what they were, where that differs."""
    was = {each.name: each.mm for each in before}
    return tuple(
        Number(each.name, each.mm, was[each.name], each.main)
        if each.name in was and abs(was[each.name] - each.mm) > SEEN_ALIKE
        else each
        for each in now
    )


def awaited(*plans: Plan) -> frozenset[str]:
    """Ids of the tunnels whose way one of these plans does not know yet."""
    return frozenset(tunnel.place.id for plan in plans for tunnel in plan.awaited)


def changed(seen: Plan, now: Plan) -> tuple[Changed, ...]:
    """Every number that differs between two plans; a row that moved alike is told once.

    Nothing is told of what hangs on tunnels that are being looked for.
    """
    unknown = awaited(seen, now)
    told = [
        Changed("Plan", "", name, was, value)
        for name, was, value in _differences(plan_numbers(seen), plan_numbers(now))
        if not (unknown and name == LEAST_WOOD)
    ]
    before, after = (
        {feature.id: feature for feature in plan.features if feature.id not in unknown}
        for plan in (seen, now)
    )
    alike: dict[tuple[object, str, int | None], Changed] = {}
    for identity in dict.fromkeys([*after, *before]):
        old, new = before.get(identity), after.get(identity)
        feature = new or old
        assert feature is not None
        was = () if old is None else numbers_of(seen, old)
        values = () if new is None else numbers_of(now, new)
        for name, a, b in _differences(was, values):
            row = feature.row if isinstance(feature, Bore) else identity
            key = (row, name, None if a is None or b is None else round((b - a) * 100))
            known = alike.get(key)
            alike[key] = (
                Changed(name_of(feature), identity, name, a, b)
                if known is None
                else Changed(known.what, known.feature, name, known.was, known.now, known.count + 1)
            )
    return (*told, *alike.values())


def _differences(
    before: tuple[Number, ...], after: tuple[Number, ...]
) -> Iterator[tuple[str, float | None, float | None]]:
    was, now = ({each.name: each.mm for each in numbers} for numbers in (before, after))
    for name in dict.fromkeys([*now, *was]):
        a, b = was.get(name), now.get(name)
        if a is None or b is None or abs(a - b) > SEEN_ALIKE:
            yield name, a, b


def findings_changed(seen: Plan, now: Plan) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
    """Findings that are new since a plan was looked at, and those that are gone.

    Those about a tunnel that is being looked for are neither.
    """
    unknown = awaited(seen, now)

    def key(finding: Finding) -> tuple[str, str, tuple[str, ...]]:
        return (finding.code, finding.severity, finding.features)

    before, after = {key(each) for each in seen.findings}, {key(each) for each in now.findings}
    return (
        tuple(each for each in now.findings if key(each) not in before and unknown.isdisjoint(each.features)),
        tuple(each for each in seen.findings if key(each) not in after and unknown.isdisjoint(each.features)),
    )
