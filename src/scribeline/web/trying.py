"""Trying one change before it is kept: what the plan would be with it, and what that would do away with or bring."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from math import ceil, hypot

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


def tried_shift(job: Opened, shift: Shift) -> Tried:
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
    return _tried(job, text, Tried(shift.key, f"{shift.words}: its place", was, now, sends=sends))


def as_typed(way: Try) -> str:
    """What a person would type for it."""
    return way.value if isinstance(way.value, str) else ", ".join(way.value)


def tried(job: Opened, key: str, typed: str) -> Tried:
    """What setting one key would do; nothing is kept."""
    was, words = shown(at_key(stated(job.text), key)), in_words(job.document, key)
    bare = Tried(key, words, was, typed, sends={"key": key, "value": typed})
    try:
        text, _ = set_value(job.text, key, value_of(asked(job.document, key), typed))
    except JobError as error:
        return _refused(bare, error)
    return _tried(job, text, bare)


def _tried(job: Opened, text: str, bare: Tried) -> Tried:
    """What the plan would be by a changed text, told with what was changed."""
    try:
        then = job.shop.planner.plan(text, job.folder, job.record)
    except JobError as error:
        return _refused(bare, error)
    if job.plan is None:
        return replace(bare, stops=len(then.stops))
    came, gone = findings_changed(job.plan, then)
    return replace(bare, numbers=changed(job.plan, then), came=came, gone=gone, stops=len(then.stops))


def _refused(bare: Tried, error: JobError) -> Tried:
    return replace(bare, refused="; ".join(str(fault) for fault in error.faults))
