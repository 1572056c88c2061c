"""Drilled is drilled: a cut that is made stays where it was made, whatever becomes of the job.

A cut is kept as it lies in the wood (`scribeline.job.Cut`), in the instrument frame, whichever hand it was laid out
for. `lock` puts it back into the plan and lists what the job would now make otherwise.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import acos, degrees, hypot, inf
from typing import TYPE_CHECKING, Any, Literal

from scribeline.features.bits import Bit
from scribeline.features.cuts import Bore, Feature, Pocket, Reason, Step, workpiece_of
from scribeline.features.making import Features
from scribeline.features.pockets import routed
from scribeline.job import Cut, CutBit, CutStep, Done, Found, MadeHole, Record, in_the_record
from scribeline.layout import Part, Point3, Ring
from scribeline.lengths import in_unit, said

if TYPE_CHECKING:
    from pydantic import BaseModel

STILL = 1e-6
"""What differs by less than this, mm or degrees, is the same: another machine's last digit."""

What = Literal[
    "along",
    "across",
    "height",
    "angle",
    "diameter",
    "depth",
    "outline",
    "corner radius",
    "floor angle",
    "face",
    "gone",
]


@dataclass(frozen=True, slots=True)
class Moved:
    """One number of a cut that is made already and that the job would now make otherwise.

    Attributes:
        feature: id of the cut.
        what: which number. Along, across and height are where it starts, in the instrument frame (a pocket's are its
            outline's middle); "angle" is between the axes, degrees; "outline" is the farthest that any place of the
            outline would move; "floor angle" is how far a pocket's floor leans, degrees;
            "gone" when the job has no such cut any more.
        was: as cut, mm.
        now: as the job would have it, mm.
        step: which diameter of a stepped hole, the widest being 1; 0 where it concerns the whole cut.
    """

    feature: str
    what: What
    was: float | None
    now: float | None
    step: int = 0

    @property
    def by(self) -> float:
        """How far it would move, mm or degrees; infinite when it is gone."""
        return inf if self.was is None or self.now is None else abs(self.now - self.was)


def as_cut(feature: Feature, steps: Iterable[int] | None = None) -> Cut:
    """A cut as the record keeps it.

    Args:
        feature: as planned when it was made.
        steps: which diameters of a hole have been bored, the widest being 1; all when not given.
    """
    kept = _alike(Cut, feature) | {"meets": sorted(feature.meets)}
    if isinstance(feature, Bore):
        chosen = set(range(1, len(feature.steps) + 1) if steps is None else steps)
        numbered = enumerate(feature.steps, start=1)
        kept["steps"] = [
            _alike(CutStep, step) | {"no": no, "bit": _cut_bit(step.bit)}
            for no, step in numbered
            if no in chosen
        ]
    elif feature.slope is not None:
        kept["slope"] = {"angle": feature.slope.angle, "at": feature.slope.at}
    return Cut(**kept)


def _alike(kept: type[BaseModel], part: object) -> dict[str, Any]:
    """What a part has under the names by which the record keeps it."""
    return {name: getattr(part, name) for name in kept.model_fields if hasattr(part, name)}


def _cut_bit(bit: Bit) -> dict[str, Any]:
    return _alike(CutBit, bit) | {"reach": None if bit.reach == inf else bit.reach}


def _bit(kept: CutBit) -> Bit:
    return Bit(**dict(kept) | {"reach": inf if kept.reach is None else kept.reach})


def lock(
    planned: Features, record: Record, wanted: Features | None = None, *, workpiece: Part = "body"
) -> tuple[Features, tuple[Moved, ...]]:
    """Put every cut that is made back where it was made, and list what would have moved.

    Of a stepped hole only the diameters already bored are held; the rest follows the job, at the place and along the
    axis of the hole that was begun. A cut the job no longer has is put in all the same: it is in the wood. A hole that
    was measured lies where it was measured.

    Args:
        planned: the cuts as they are planned round what is made.
        record: says what is made.
        wanted: the cuts as the job would have them if nothing were made; the planned ones when not given.
        workpiece: whose cuts these are; what is made in another is none of its business.
    """
    cuts: dict[str, list[tuple[Done, Cut]]] = {}
    for each in record.done:
        for cut in each.cuts:
            if workpiece_of(cut.id) == workpiece:
                cuts.setdefault(cut.id, []).append((each, cut))
    if not cuts:
        return planned, ()
    by_id = {feature.id: feature for feature in planned}
    meant = by_id if wanted is None else {feature.id: feature for feature in wanted}
    moved: list[Moved] = []
    held: dict[str, Feature] = {}
    for name, records in cuts.items():
        feature = by_id.get(name)
        pocket = None if records[0][1].outline is None else record.made_pockets[name]
        kept = _bore(records, record.made_holes[name], feature) if pocket is None else routed(pocket, feature)
        bored = {step.no: step for _, cut in reversed(records) for step in cut.steps}
        planned_then = (
            None
            if pocket is None
            else routed(records[0][1].model_copy(update={"measured_depth": None}), feature)
        )
        changes = tuple(_changes(kept, meant.get(name), bored, planned_then))
        held[name] = replace(kept, why=_why(record.found.get(name), records[0][0], feature, changes))
        moved += changes
    every = [held.get(feature.id, feature) for feature in planned]
    every += [feature for name, feature in held.items() if name not in by_id]
    return (
        Features(
            tuple(feature for feature in every if isinstance(feature, Bore)),
            tuple(feature for feature in every if isinstance(feature, Pocket)),
        ),
        tuple(moved),
    )


def _bore(records: Sequence[tuple[Done, Cut]], place: MadeHole, planned: Feature | None) -> Bore:
    """The hole as begun, its further diameters as the job now wants them."""
    first = records[0][1]
    bored: dict[int, Step] = {}
    for _, cut in records:
        for step in cut.steps:
            bored.setdefault(step.no, Step(step.diameter, step.depth, _bit(step.bit)))
    follows = planned if isinstance(planned, Bore) else None
    wanted = follows.steps if follows is not None else ()
    last = max(len(wanted), *bored)
    steps = [bored.get(no) or (wanted[no - 1] if no <= len(wanted) else None) for no in range(1, last + 1)]
    return Bore(
        id=first.id,
        role=first.role if follows is None else follows.role,
        group=first.group if follows is None else follows.group,
        face=first.face,
        at=Point3(*place.at),
        axis=Point3(*place.axis),
        steps=tuple(step for step in steps if step is not None),
        meets=frozenset(first.meets) if follows is None else follows.meets,
        through=first.through,
        entered_from=first.entered_from,
        outward=None if first.outward is None else Point3(*first.outward),
        lead=first.lead,
        grain=first.grain,
        screw=None if follows is None else follows.screw,  # what is driven in is not in the wood yet
        holds="" if follows is None else follows.holds,
    )


def _why(
    found: Found | None, done: Done, planned: Feature | None, changes: Sequence[Moved]
) -> tuple[Reason, ...]:
    """What the record knows of a cut: who made it when, and whether its numbers were measured or only planned."""
    stays = Reason(
        f"cut by {done.by} on {done.at:%Y-%m-%d} from revision {done.revision} of the job; it stays as it was cut, "
        + in_unit(_known(found), "mm")
    )
    if not changes:
        return (*(planned.why if planned is not None else ()), stays)
    told = in_unit("; ".join(map(in_words, changes)), "mm")
    return (stays, Reason(f"the job now asks for something else: {told}"))


def _known(found: Found | None) -> str:
    if found is None:
        return "by the numbers planned then; nobody has measured it"
    by = f" (measurement {in_the_record(found.numbers)})" if found.numbers else ""
    if found.cut.at is not None:
        return f"at its place as measured, {said(found.at[0])} along and {said(found.at[1])} across{by}"
    told = []
    if found.is_placed:
        told.append(
            f"where it was measured, {said(found.of('along')[0], signed=True)} along and "
            f"{said(found.of('across')[0], signed=True)} across of its planned place"
        )
    if found.is_deep_as_read:
        depth = found.cut.depth or 0.0
        told.append(
            f"as deep as measured, {said(depth + found.of('deeper')[0])}, where {said(depth)} was planned"
        )
    return " and ".join(told or ["as large as measured"]) + by


def in_words(change: Moved) -> str:
    """One change as a sentence: what, was, now."""
    if change.was is None or change.now is None:
        return "the job no longer has this cut"
    if change.what == "face":
        return "from another face"
    if change.what == "angle":
        return f"turned by {change.by:.1f}°"
    if change.what == "floor angle":
        return f"its floor leant by {change.was:.2f}°, now {change.now:.2f}°"
    if change.what == "outline":
        return f"its outline moves by up to {said(change.by)}"
    name = f"{change.what} of diameter {change.step}" if change.step > 1 else change.what
    return f"{name} was {said(change.was)}, now {said(change.now)}"


def _changes(
    kept: Feature, planned: Feature | None, bored: Mapping[int, CutStep], planned_then: Pocket | None
) -> Iterator[Moved]:
    """Every number of a made cut that the job would now have otherwise; a pocket is held against what was planned for it then."""
    if type(kept) is not type(planned):
        yield Moved(kept.id, "gone", None, None)
    elif isinstance(kept, Bore) and isinstance(planned, Bore):
        yield from _bore_changes(kept, planned, bored)
    elif isinstance(kept, Pocket) and isinstance(planned, Pocket):
        yield from _pocket_changes(kept, planned, planned_then or kept)


def _bore_changes(kept: Bore, planned: Bore, bored: Mapping[int, CutStep]) -> Iterator[Moved]:
    if kept.face != planned.face:
        yield Moved(kept.id, "face", 0.0, 1.0)
    names: tuple[What, ...] = ("along", "across", "height")
    for what, was, now in zip(names, kept.at, planned.at, strict=True):
        yield from _differs(kept.id, what, was, now)
    cosine = sum(a * b for a, b in zip(kept.axis, planned.axis, strict=True))
    yield from _differs(kept.id, "angle", 0.0, degrees(acos(max(-1.0, min(1.0, cosine)))), still=1e-4)
    for no, was_step in sorted(bored.items()):
        if no > len(planned.steps):
            yield Moved(kept.id, "gone", None, None, no)
            continue
        now_step = planned.steps[no - 1]
        yield from _differs(kept.id, "diameter", was_step.diameter, now_step.diameter, step=no)
        yield from _differs(kept.id, "depth", was_step.depth, now_step.depth, step=no)


def _pocket_changes(kept: Pocket, planned: Pocket, then: Pocket) -> Iterator[Moved]:
    """What the job has changed since, told from how the pocket really is; a reading by itself is no change of the job."""
    if kept.face != planned.face:
        yield Moved(kept.id, "face", 0.0, 1.0)
    if _farthest(then.outline, planned.outline) > STILL:
        middles = [_middle(pocket.outline) for pocket in (kept, planned)]
        names: tuple[What, ...] = ("along", "across")
        for what, was, now in zip(names, *middles, strict=True):
            yield from _differs(kept.id, what, was, now)
        yield from _differs(kept.id, "outline", 0.0, _farthest(kept.outline, planned.outline))
    if abs(planned.depth - then.depth) > STILL:
        yield from _differs(kept.id, "depth", kept.depth, planned.depth)
    yield from _differs(kept.id, "corner radius", kept.corner_radius, planned.corner_radius)
    leans = (0.0 if each.slope is None else degrees(each.slope.angle) for each in (kept, planned))
    yield from _differs(kept.id, "floor angle", *leans, still=1e-4)


def _differs(
    feature: str, what: What, was: float, now: float, *, step: int = 0, still: float = STILL
) -> Iterator[Moved]:
    if abs(now - was) > still:
        yield Moved(feature, what, was, now, step)


def _middle(ring: Ring) -> tuple[float, float]:
    xs, ys = [p.x for p in ring], [p.y for p in ring]
    return (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2


def _farthest(a: Ring, b: Ring) -> float:
    """Farthest that any place of one outline lies from the other, mm."""
    if len(a) == len(b) and all(hypot(p.x - q.x, p.y - q.y) <= STILL for p, q in zip(a, b, strict=True)):
        return 0.0
    import shapely

    return float(shapely.hausdorff_distance(shapely.LinearRing(a), shapely.LinearRing(b)))
