"""What a step's screens showed when each hole was drilled, and what the job has now.

The address of a step's screen carries its trail: for each hole the mark of the numbers on whose screen the builder
went on from it. A mark is the revision and a check of the step's numbers, so that a hole of a step that is done is
recorded with the numbers it was drilled by, and a change between is asked about instead of guessed.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from hashlib import sha256
from itertools import groupby
from typing import TYPE_CHECKING, Any, Literal

from scribeline.job import JobError
from scribeline.operations import cuts_of
from scribeline.steps import Answer, Card, Gate, Place, lets_on
from scribeline.store import StoreError
from scribeline.web.numbers import numbers_of

if TYPE_CHECKING:
    from scribeline.features import Pocket
    from scribeline.plan import Plan
    from scribeline.store import Revision
    from scribeline.web.frame import Opened

_MARK = re.compile(r"(\d{1,9})(-[0-9a-f]{8})?")
_RUN = re.compile(r"(\d{1,5})x(0|\d{1,9}(?:-[0-9a-f]{8})?)")

MOST_HOLES = 20_000
"""Holes of one step that a trail is kept for."""

Trail = tuple[str, ...]
"""For each hole of a step the mark of the numbers it was last left with; "" for one that was not left yet."""


@dataclass(frozen=True, slots=True)
class Line:
    """One number of a screen, as it is printed there.

    Attributes:
        label: what it is.
        words: the number with its unit.
    """

    label: str
    words: str


@dataclass(frozen=True, slots=True)
class Hole:
    """What one screen of a step says, and what is cut by it.

    Attributes:
        id: of the cut; "" of a screen without one.
        name: its number on the drawings, or the pocket's; "" of a screen without one.
        lines: its numbers.
        cuts: as the record keeps them.
    """

    id: str
    name: str
    lines: tuple[Line, ...]
    cuts: tuple[Mapping[str, Any], ...]


@dataclass(frozen=True)
class Shown:
    """Every screen of a step as one state of the job has it.

    Attributes:
        card: id of the step.
        title: of the step.
        revision: number of the job's revision.
        mark: of these numbers.
        holes: one for each screen.
        gate: what its gate wants, as it is printed.
        limits: the gate itself.
    """

    card: str
    title: str
    revision: int
    mark: str
    holes: tuple[Hole, ...]
    gate: tuple[Line, ...]
    limits: Gate

    @cached_property
    def _by_id(self) -> dict[str, Hole]:
        return {each.id: each for each in self.holes}

    def hole(self, identity: str) -> Hole | None:
        """The screen of one cut; None where this state of the job has none."""
        return self._by_id.get(identity)


@dataclass(frozen=True, slots=True)
class Differs:
    """One number that is not what it was; an empty text where it was not there, or is there no more."""

    label: str
    was: str
    now: str


@dataclass(frozen=True, slots=True)
class Asked:
    """A hole of which a person must say what it was drilled by.

    Attributes:
        hole: number of its screen, from 1.
        id: of the cut.
        name: of the hole.
        was: mark of the numbers that were on the screen; "" where it was on none.
        now: mark of the numbers of today; "" where the job has it no more.
        differs: what differs.
    """

    hole: int
    id: str
    name: str
    was: str
    now: str
    differs: tuple[Differs, ...]


@dataclass(frozen=True, slots=True)
class Printed:
    """How the numbers of a step stand on its screens.

    Attributes:
        setting: what to set, the same for all of its holes.
        where: where one of its holes is; of a step without holes whatever else it says.
        gate: those of its gate.
    """

    setting: Callable[[Plan, Card], tuple[Line, ...]]
    where: Callable[[Card, Place | None], tuple[Line, ...]]
    gate: Callable[[Card], tuple[Line, ...]]


# The trail


def read_trail(text: str, count: int) -> Trail:
    """A trail as an address carries it, as long as the step has holes; what cannot be read counts as not there."""
    found: list[str] = []
    for each in text.split(".") if text else []:
        run = _RUN.fullmatch(each)
        if run is None or len(found) + int(run[1]) > MOST_HOLES:
            return ("",) * count
        found += ["" if run[2] == "0" else run[2]] * int(run[1])
    return (*found[:count], *[""] * (count - len(found)))


def length(text: str) -> int:
    """How many holes a trail speaks of."""
    runs = [_RUN.fullmatch(each) for each in text.split(".")]
    return min(sum(int(run[1]) for run in runs if run is not None), MOST_HOLES)


def written(trail: Trail) -> str:
    """A trail for an address; holes that were left with the same numbers are written once."""
    if not any(trail):
        return ""
    return ".".join(f"{len(list(run))}x{mark or '0'}" for mark, run in groupby(trail))


def left(trail: Trail, hole: int, mark: str) -> Trail:
    """The trail when the builder goes on from a hole: the numbers it was first left with stay."""
    return (*trail[: hole - 1], trail[hole - 1] or mark, *trail[hole:])


# What was shown


def shown_of(job: Opened, plan: Plan, card: Card, revision: int, printed: Printed) -> Shown:
    """Every screen of a step as it is now, remembered for when it is called done."""
    key = ("shown", job.whole, card.id, revision)
    made = job.shop.planner.once(key, lambda: _made(plan, card, revision, printed))
    job.shop.shown.keep((job.id, card.id, made.mark), made)
    return made


def _made(plan: Plan, card: Card, revision: int, printed: Printed) -> Shown:
    cuts: dict[str, list[Mapping[str, Any]]] = {}
    for cut in cuts_of(card, plan.every_cut):
        cuts.setdefault(cut.id, []).append(cut.plain)
    setting = printed.setting(plan, card)
    pockets = {each.id: each for each in plan.features.pockets}
    holes = [
        Hole(
            place.feature,
            place.number,
            (*setting, *printed.where(card, place), *_of_pocket(plan, pockets.get(place.feature))),
            tuple(cuts.pop(place.feature, ())),
        )
        for place in card.places
    ]
    loose = tuple(cut for each in cuts.values() for cut in each)
    if loose or not holes:
        holes.append(Hole("", card.title, () if holes else (*setting, *printed.where(card, None)), loose))
    check = sha256(repr([(each.id, each.lines) for each in holes]).encode()).hexdigest()[:8]
    return Shown(
        card.id, card.title, revision, f"{revision}-{check}", tuple(holes), printed.gate(card), card.gate
    )


def _of_pocket(plan: Plan, pocket: Pocket | None) -> Iterator[Line]:
    """A pocket's form, of which its screen has only the picture; the wood under it is no number it is cut by."""
    for number in () if pocket is None else numbers_of(plan, pocket):
        if not number.name.startswith(("wood", "depth")):
            yield Line(number.name, f"{number.mm:.2f} mm")


def recalled(job: Opened, card: str, mark: str, printed: Printed) -> Shown | None:
    """What a step's screens showed under a mark; None where that cannot be told any more."""
    found = job.shop.shown.found((job.id, card, mark))
    if found is not None:
        kept: Shown = found[0]
        return kept
    read = _MARK.fullmatch(mark)
    if read is None:
        return None
    try:
        text = job.shop.store.revision(job.id, int(read[1])).text
        plan = job.shop.planner.plan(text, job.folder, job.record)
    except (JobError, StoreError):
        return None
    step = next((each for each in plan.cards if each.id == card), None)
    if step is None:
        return None
    made = _made(plan, step, int(read[1]), printed)
    return made if read[2] is None or made.mark == mark else None


# What differs


def differences(was: Sequence[Line], now: Sequence[Line]) -> tuple[Differs, ...]:
    """The numbers of two screens that are not printed alike."""
    before, after = ({each.label: each.words for each in lines} for lines in (was, now))
    return tuple(
        Differs(label, before.get(label, ""), after.get(label, ""))
        for label in dict.fromkeys([*after, *before])
        if before.get(label) != after.get(label)
    )


@dataclass(frozen=True, slots=True)
class News:
    """What a screen says of a change since the numbers that the builder worked by.

    Attributes:
        was: number of the revision those were of.
        by: the newest revision, which says who changed it and why.
        differs: what is otherwise on this screen; empty where it cannot be told any more.
    """

    was: int
    by: Revision
    differs: tuple[Differs, ...]


def news(job: Opened, now: Shown, trail: Trail, hole: int, printed: Printed) -> News | None:
    """What this screen has otherwise than the numbers it, or the hole before it, was left with; None where nothing."""
    mark = trail[hole - 1] or next((each for each in reversed(trail[: hole - 1]) if each), "")
    if not mark or mark == now.mark:
        return None
    was = recalled(job, now.card, mark, printed)
    if was is None:
        return News(int(mark.partition("-")[0]), job.revision, ())
    here = now.holes[hole - 1]
    before = was.hole(here.id)
    differs = (
        *differences(before.lines if before else (), here.lines),
        *(differences(was.gate, now.gate) if was.gate and now.gate else ()),
    )
    return News(was.revision, job.revision, differs) if differs else None


@dataclass(frozen=True, slots=True)
class Done:
    """What calling a step done comes to.

    Attributes:
        asked: the holes a person must be asked about; nothing may be kept before that.
        cuts: for the record, each with the revision it was drilled by.
        trail: what was on the screen of each hole, as far as a person has not said otherwise.
        by: the states of the step that its holes were drilled by.
        stale: whether a step that cuts nothing has other numbers than its screen had.
    """

    asked: tuple[Asked, ...]
    cuts: tuple[dict[str, Any], ...]
    trail: Trail
    by: tuple[Shown, ...]
    stale: bool

    def passed(self, now: Shown, answer: Answer | None) -> bool:
        """Whether what was read passed the gate that every hole was drilled under, where none was by today's numbers."""
        return bool(self.by) and all(
            each.mark != now.mark and lets_on(each.limits, answer) for each in self.by
        )


Rest = Literal["", "was", "now"]

NOT_DRILLED = "none"
"""What is answered of a hole that the job has no more and that was never drilled."""


@dataclass(frozen=True, slots=True)
class _Pair:
    """One hole as its screen had it, and as the job has it now; None where there is none.

    Attributes:
        number: of its screen, from 1.
        was: the step as its screen had it.
        before: the hole there.
        after: the hole now.
    """

    number: int
    was: Shown | None
    before: Hole | None
    after: Hole | None

    @property
    def hole(self) -> Hole:
        """The hole, as it is now where the job has it still."""
        found = self.after or self.before
        assert found is not None
        return found

    @property
    def differs(self) -> tuple[Differs, ...]:
        """What is printed otherwise."""
        return differences(self.before.lines if self.before else (), self.after.lines if self.after else ())


def done(
    job: Opened,
    card: str,
    now: Shown | None,
    trail: Trail,
    *,
    printed: Printed,
    answers: Mapping[str, str],
    rest: Rest = "",
    made: Collection[str] = (),
) -> Done:
    """What a step's cuts were drilled by, hole by hole.

    Args:
        job: the job.
        card: id of the step.
        now: the step as the job has it; None where it has it no more.
        trail: what was on the screen of each hole.
        printed: how its numbers are printed.
        answers: marks a person named for holes that were asked about, by the cut's id.
        rest: what a person said of all others that must be asked about.
        made: ids of cuts of this step that the record has already: nothing is asked or kept of them.
    """
    known: dict[str, Shown | None] = {"": None} if now is None else {"": None, now.mark: now}

    def state(mark: str) -> Shown | None:
        if mark not in known:
            known[mark] = recalled(job, card, mark, printed)
        return known[mark]

    asked: list[Asked] = []
    cuts: list[dict[str, Any]] = []
    settled = list(trail)
    by: dict[str, Shown] = {}
    stale = False
    for pair in _pairs([state(mark) for mark in trail], now):
        if pair.hole.id in made:
            continue
        answer = answers.get(pair.hole.id, "")
        if not answer and rest and pair.differs:
            of = now if rest == "now" and pair.after is not None else pair.was if rest == "was" else None
            answer = of.mark if of is not None else ""
        chosen = state("" if answer == NOT_DRILLED else answer)
        drilled = chosen.hole(pair.hole.id) if chosen is not None else None
        if chosen is not None and drilled is not None:
            cuts += _recorded(drilled, chosen.revision, made)
            by[chosen.mark] = chosen
            settled[pair.number - 1] = chosen.mark
        elif pair.was is not None and pair.after is not None and pair.before is not None and not pair.differs:
            cuts += _recorded(pair.after, pair.was.revision, made)
            by[now.mark if now is not None else ""] = now or pair.was
        elif not any(each and each.cuts for each in (pair.before, pair.after)):
            stale = True
        elif pair.after is not None or answer != NOT_DRILLED:
            asked.append(_asked(pair, now))
    return Done(tuple(asked), tuple(cuts), tuple(settled), tuple(by.values()), stale)


def on_a_screen(
    job: Opened, card: str, trail: Trail, *, printed: Printed, made: Collection[str] = ()
) -> tuple[tuple[str, Hole], ...]:
    """The holes of a step that were on a screen, as it had them, with its mark; those that are made already left out."""
    found: dict[str, tuple[str, Hole]] = {}
    for number, mark in enumerate(trail):
        was = recalled(job, card, mark, printed) if mark else None
        if was is not None and number < len(was.holes) and (hole := was.holes[number]).id not in made:
            found.setdefault(hole.id, (was.mark, hole))
    return tuple(found.values())


def recorded(mark: str, hole: Hole) -> tuple[dict[str, Any], ...]:
    """The cuts of a hole for the record, with the revision whose numbers they were drilled by."""
    return tuple(_recorded(hole, int(mark.partition("-")[0]), ()))


def _pairs(trail: Sequence[Shown | None], now: Shown | None) -> Iterator[_Pair]:
    """Every hole that was on a screen, then those the job has now that were on none."""
    met: set[str] = set()
    for number, was in enumerate(trail, start=1):
        if was is None or number > len(was.holes) or was.holes[number - 1].id in met:
            continue
        before = was.holes[number - 1]
        met.add(before.id)
        yield _Pair(number, was, before, None if now is None else now.hole(before.id))
    for number, after in enumerate(now.holes if now is not None else (), start=1):
        if after.id not in met:
            yield _Pair(number, None, None, after)


def _recorded(hole: Hole, revision: int, made: Collection[str]) -> Iterator[dict[str, Any]]:
    for cut in hole.cuts:
        if cut["id"] not in made:
            yield {**cut, "revision": revision}


def _asked(pair: _Pair, now: Shown | None) -> Asked:
    return Asked(
        pair.number,
        pair.hole.id,
        pair.hole.name,
        "" if pair.was is None else pair.was.mark,
        "" if now is None or pair.after is None else now.mark,
        pair.differs,
    )
