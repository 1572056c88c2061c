"""Trying one change before it is kept: what the plan would be with it, and what that would do away with or bring."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from math import ceil, hypot
from pathlib import Path

from scribeline.drawing.wood_left import LEVEL, shortage
from scribeline.findings import Finding, Try
from scribeline.job import JobError, moved, set_value
from scribeline.lengths import by_inches
from scribeline.plan import Plan
from scribeline.web.fields import asked, at_key, in_words, shown, stated, value_of
from scribeline.web.frame import Opened
from scribeline.web.frame import as_typed as as_length
from scribeline.web.numbers import Changed, changed, findings_changed, name_of
from scribeline.web.placing import STEP_IN, held


@dataclass(frozen=True, slots=True)
class Tried:
    """What a change would do.

    Attributes:
        key: of the job file.
        words: what that is, in bench words.
        was: as stated now; "" where it is not.
        now: as it would be stated.
        numbers: of the plan that would change.
        came: findings it would bring.
        gone: findings it would do away with.
        stops: stops that would stand.
        refused: why it cannot be put into the job; "" where it can.
        sends: what is sent to keep it.
    """

    key: str
    words: str
    was: str
    now: str
    numbers: tuple[Changed, ...] = ()
    came: tuple[Finding, ...] = ()
    gone: tuple[Finding, ...] = ()
    stops: int = 0
    refused: str = ""
    sends: dict[str, str] = field(default_factory=dict)

    @property
    def action(self) -> str:
        """Where what would keep it is sent, under the job's address."""
        return "move" if "of" in self.sends else "set"


@dataclass(frozen=True, slots=True)
class Shift:
    """A way out of a check by moving a cut away from where the wood is least.

    Attributes:
        feature: the cut's id.
        key: of the job, that states its place.
        words: what it is called.
        along: how far towards the tail, mm.
        across: how far towards the treble, mm.
        far: how far in all, in the job's unit.
    """

    feature: str
    key: str
    words: str
    along: float
    across: float
    far: str


TENTH = 0.1
"""A cut is moved by whole tenths of a millimetre, or 64ths of an inch: no rule shows less."""


def shifts(plan: Plan, finding: Finding) -> Iterator[Shift]:
    """The cuts whose moving would leave the wood that a check asks for, each with where it would go.

    Straight away from the nearest place seen from above; none where that lies below or above.
    """
    short = shortage(plan, finding)
    if short is None or short.needed <= short.mm:
        return
    x, y = short.cut.x - short.far.x, short.cut.y - short.far.y
    apart = hypot(x, y)
    if apart < LEVEL:
        return
    # As far as is missing where the places lie level, further where they lie aslant.
    slant = apart / max(hypot(apart, short.cut.z - short.far.z), 1e-9)
    step = STEP_IN if by_inches(plan.unit) else TENTH
    by = ceil((short.needed - short.mm) / slant / step) * step
    for side, cut in zip((1.0, -1.0), short.of(plan), strict=False):
        hold = held(plan, cut)
        if hold is not None:
            to_tail, up = side * by * x / apart, side * by * y / apart
            across = up * plan.layout.treble
            far = f"{as_length(by, plan.unit)} {plan.unit}"
            yield Shift(cut.id, hold.place.key, name_of(cut), to_tail, across, far)


@dataclass(frozen=True, slots=True)
class Cure:
    """A way out of a check, with what the plan would be by it.

    Attributes:
        way: its number among those of the check: the keys with a number to set, then the cuts that may be moved.
        words: what is done, as a button says it.
        outcome: what it would do; None where nobody has looked yet.
        clears: whether the check would be gone.
        stops: how many stops it would bring.
        cautions: how many cautions it would bring.
    """

    way: int
    words: str
    outcome: Tried | None = None
    clears: bool = False
    stops: int = 0
    cautions: int = 0

    @property
    def is_sound(self) -> bool:
        """Whether it does away with the check and brings no stop."""
        return self.clears and not self.stops

    @property
    def rank(self) -> tuple[bool, bool, float, int]:
        """Those that do away with the check and bring no stop first, by how much of the plan they change."""
        return not self.clears, self.stops > 0, self._moved, self.way

    @property
    def _moved(self) -> float:
        """Every number of the plan that changes, by how much, together, mm; one that comes or goes counts whole."""
        numbers = self.outcome.numbers if self.outcome else ()
        return sum(abs((each.now or 0.0) - (each.was or 0.0)) * each.count for each in numbers)

    def says(self) -> str:
        """What comes of it, in a few words; "" where nobody has looked yet."""
        if self.outcome is None:
            return ""
        if self.outcome.refused:
            return "cannot be"
        does = "does away with it" if self.clears else "does not do away with it"
        brings = [f"{self.stops} DO NOT CUT"] if self.stops else []
        brings += [f"{self.cautions} caution{'s' if self.cautions > 1 else ''}"] if self.cautions else []
        return does + (
            f"{', but' if self.clears else ' and'} brings {' and '.join(brings)}" if brings else ""
        )


def ways_out(job: Opened, finding: Finding) -> tuple[Cure, ...]:
    """The ways out of a check that can be tried, as the check names them."""
    assert job.plan is not None
    named = [f"Try {way.shown} for {_lowered(in_words(job.document, way.key))}" for way in finding.tries]
    named += [f"Try moving {way.words} away by {way.far}" for way in shifts(job.plan, finding)]
    return tuple(Cure(way, words) for way, words in enumerate(named))


def _lowered(words: str) -> str:
    return words[:1].lower() + words[1:]


def ranked(job: Opened, finding: Finding) -> tuple[Cure, ...]:
    """The same, each tried: first those that do away with the check and bring no stop, that with the least change first.

    By the plan as it is known at once: nothing waits for the best ways of tunnels.
    """
    found = [
        _judged(each, finding, way_out(job, finding, each.way, at_once=True))
        for each in ways_out(job, finding)
    ]
    return tuple(sorted(found, key=lambda cure: cure.rank))


def _judged(cure: Cure, finding: Finding, outcome: Tried | None) -> Cure:
    assert outcome is not None  # each way is one of the check's
    came = [each for each in outcome.came if not _says_the_same(each, outcome.gone)]
    return replace(
        cure,
        outcome=outcome,
        clears=finding in outcome.gone and not _says_the_same(finding, outcome.came),
        stops=sum(each.severity == "stop" for each in came),
        cautions=sum(each.severity == "caution" for each in came),
    )


_WORSE = ("note", "caution", "stop")


def _says_the_same(finding: Finding, others: Sequence[Finding]) -> bool:
    """Whether one of the others is this finding with other numbers, and no milder."""
    return any(
        each.code == finding.code
        and not set(each.features).isdisjoint(finding.features or each.features)
        and _WORSE.index(each.severity) >= _WORSE.index(finding.severity)
        for each in others
    )


def way_out(job: Opened, finding: Finding, way: int, *, at_once: bool = False) -> Tried | None:
    """What one way out of a check would do; None where it has no such way.

    Args:
        job: whose check it is.
        finding: the check.
        way: as in `Cure`.
        at_once: whether tunnels whose best ways are not known are left out.
    """
    assert job.plan is not None
    if way < len(finding.tries):
        chosen = finding.tries[way]
        return tried(job, chosen.key, as_typed(chosen), at_once=at_once)
    away = tuple(shifts(job.plan, finding))[way - len(finding.tries) :]
    return tried_shift(job, away[0], at_once=at_once) if away else None


def tried_shift(job: Opened, shift: Shift, *, at_once: bool = False) -> Tried:
    """What moving a cut away would do; nothing is kept."""
    assert job.plan is not None
    document = job.plan.job.document
    cut = next(each for each in job.plan.features if each.id == shift.feature)
    hold = held(job.plan, cut)
    assert hold is not None
    along = hold.along + (-shift.along if hold.place.towards_nut else shift.along)
    sends = {
        "of": shift.feature,
        "along": as_length(along, document.units),
        "across": as_length(hold.across + shift.across, document.units),
    }
    was = f"{as_length(hold.along, document.units)}, {as_length(hold.across, document.units)}"
    now = f"{sends['along']}, {sends['across']}"
    text = moved(job.text, document, [shift.key], shift.along, shift.across)
    return _tried(
        job, text, Tried(shift.key, f"{shift.words}: its place", was, now, sends=sends), at_once=at_once
    )


def as_typed(way: Try) -> str:
    """What a person would type for it."""
    return way.value if isinstance(way.value, str) else ", ".join(way.value)


def tried(job: Opened, key: str, typed: str, *, at_once: bool = False) -> Tried:
    """What setting one key would do; nothing is kept."""
    was, words = shown(at_key(stated(job.text), key)), in_words(job.document, key)
    bare = Tried(key, words, was, typed, sends={"key": key, "value": typed})
    try:
        text, _ = set_value(job.text, key, value_of(asked(job.document, key), typed))
    except JobError as error:
        return _refused(bare, error)
    return _tried(job, text, bare, at_once=at_once)


def _tried(job: Opened, text: str, bare: Tried, *, at_once: bool) -> Tried:
    """What the plan would be by a changed text, told with what was changed."""
    try:
        planner = job.shop.planner
        plan: Callable[[str, Path, str], Plan] = partial(planner.now, of=None) if at_once else planner.plan
        then = plan(text, job.folder, job.record)
    except JobError as error:
        return _refused(bare, error)
    if job.plan is None:
        return replace(bare, stops=len(then.stops))
    came, gone = findings_changed(job.plan, then)
    return replace(bare, numbers=changed(job.plan, then), came=came, gone=gone, stops=len(then.stops))


def _refused(bare: Tried, error: JobError) -> Tried:
    return replace(bare, refused="; ".join(str(fault) for fault in error.faults))
