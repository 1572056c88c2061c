"""What the record's measurements have changed of a plan, each number with what it was and the measurements it rests on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from scribeline.features import Bore, Feature, Pocket, balloon, lock, make_features, workpiece_of
from scribeline.job import Record, entries, feature_id, numbers_of, pocket_as_read, walls
from scribeline.layout import NECK_POCKET, lay_out
from scribeline.plan.whole import Plan

SHOWS = 0.05
"""What changed by less than this, mm, is not told: no rule shows it."""


@dataclass(frozen=True, slots=True)
class WasNow:
    """One number that measurements changed.

    Attributes:
        what: of which part, in bench words.
        number: which number of it.
        was: without what was measured, mm.
        now: with it.
        rests_on: where the measurements stand, in words.
    """

    what: str
    number: str
    was: float
    now: float
    rests_on: str

    @property
    def shows(self) -> bool:
        """Whether a rule shows the difference."""
        return abs(self.now - self.was) >= SHOWS


def was_now(plan: Plan) -> tuple[WasNow, ...]:
    """Every number that the record's measurements changed: the neck pocket's depth, cuts found elsewhere, what follows them."""
    if not plan.record.standing:
        return ()
    depth = pocket_depth(plan)
    changed = (each for each in _places(plan) if each.shows)
    return (*changed,) if depth is None else (depth, *changed)


def pocket_depth(plan: Plan) -> WasNow | None:
    """The neck pocket's depth, where measurements changed it."""
    found = pocket_as_read(plan.record)
    if not plan.record.standing or found is None or found.cut.depth is None:
        return None
    now = plan.job.document.neck.pocket_depth.mm
    changed = WasNow(NECK_POCKET, "depth at its end wall", found.cut.depth, now, entries(found))
    return changed if changed.shows else None


def _places(plan: Plan) -> Iterator[WasNow]:
    """Where the body's holes and cavities lie, from the pocket's end wall as it is and from the centreline, and how deep."""
    record = plan.record
    bare = Record(done=record.done, readings=record.readings, overrides=record.overrides)
    layout = lay_out(plan.stated, bare)
    before, _ = lock(make_features(plan.stated.document, layout, bare), bare)
    were = {each.id: each for each in before}
    for feature in plan.features:
        was = were.get(feature.id)
        if was is None or workpiece_of(feature.id) != "body" or type(was) is not type(feature):
            continue
        numbers = zip(_NUMBERS.items(), _numbers(was), _numbers(feature), strict=False)
        for (unknown, number), old, new in numbers:
            if feature.id == feature_id(NECK_POCKET) and unknown == "deeper":
                continue  # told as a number of the heights
            wall = plan.layout.pocket_end if unknown == "along" else 0.0
            side = plan.layout.treble if unknown == "across" else 1
            one, other = side * (old - wall), side * (new - wall)
            told = number.format(end=plan.layout.datum("pocket-end").words)
            yield WasNow(_name(feature), told, one, other, _rests_on(plan, feature.id, unknown))


_NUMBERS = {
    "along": "from {end}",
    "across": "from the centreline, to the treble",
    "deeper": "depth",
    "longer": "length",
    "wider": "width",
}
"""The numbers of a cut, by what of it readings tell."""


def _name(feature: Feature) -> str:
    return feature.role if isinstance(feature, Pocket) else balloon(feature.id)


def _numbers(feature: Feature) -> tuple[float, ...]:
    if isinstance(feature, Bore):
        return (feature.at.x, feature.at.y)
    (low, high), (left, right) = walls(feature.outline)
    return ((low + high) / 2, (left + right) / 2, feature.depth, high - low, right - left)


def _rests_on(plan: Plan, name: str, unknown: str) -> str:
    """By which measurements a cut lies where it does: its own, those of what holds the bridge, else those of the neck's line."""
    own = plan.record.found.get(name)
    if own is not None:
        return _told(numbers_of(own.telling(unknown)))
    layout = plan.layout
    if layout.held is not None:
        held = [plan.record.found[each] for each in layout.held.holes if each in plan.record.found]
        if held:
            return _told([no for each in held for no in each.numbers])
    read = layout.neck_read
    return "" if read is None else _told([read.entries[each.id] for each in read.read.sights])


def _told(numbers: Sequence[int]) -> str:
    return f"no. {', '.join(map(str, sorted(set(numbers))))}" if numbers else "its step's gate"
