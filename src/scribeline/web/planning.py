"""Plans by the text they were made from: the same text is never planned twice while it is remembered.

Reading, planning and what takes long to draw run in processes of their own, each held to a time and to room in memory
(`scribeline.bounds`): no job waits for another, and one that takes too much is refused in a sentence.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

from scribeline.bounds import Bounds, Crew, Ended, Exceeded, NoProcess
from scribeline.job import Fault, JobError, JobFile, parse_job, read_record
from scribeline.plan import Plan, plan
from scribeline.plan.cavities import with_cavities
from scribeline.plan.held import PLANNING, READING, too_long_to_plan, too_long_to_read
from scribeline.solid.tunnels import Look, Problem, Solution, solve
from scribeline.web.elsewhere import Elsewhere, cut_short, known

if TYPE_CHECKING:
    from scribeline.features import Bit
    from scribeline.web.elsewhere import Order, Ways

Made = TypeVar("Made")

KEPT = 128
"""Plans remembered: a shop's open jobs, each with what it was before the last few edits."""

DRAWING = Bounds(seconds=20, megabytes=1000)
"""For one drawing of a page. One of a few dozen cuts takes a twentieth of a second."""

FEW_CUTS, FEW_CORNERS = 150, 5000
"""Up to so many cuts, and corners of the outline, a drawing is made here: sending the plan there and back would take as long."""

_HERE = threading.RLock()
"""Held while something is made in this process, which is never what takes long: geometry made ready for many questions is
never asked by two threads at once, and threads of one process would only take turns at it anyhow."""


class Kept:
    """The last things made, by what they were made from.

    Args:
        most: how many are remembered.
    """

    def __init__(self, most: int = KEPT) -> None:
        self._most = most
        self._made: OrderedDict[Hashable, Any] = OrderedDict()
        self._turns: dict[Hashable, tuple[threading.Lock, int]] = {}
        self._looking = threading.Lock()

    def once(self, key: Hashable, make: Callable[[], Made]) -> Made:
        """What was made for a key; made now if it is not remembered. What two ask for at once is made once."""
        found = self.found(key)
        if found is None:
            with self._turn(key):
                found = self.found(key)  # another thread may have made it while this one waited
                if found is None:
                    found = (make(),)
                    self.keep(key, found[0])
        made: Made = found[0]
        return made

    @contextmanager
    def _turn(self, key: Hashable) -> Iterator[None]:
        """One after the other at one key; nobody waits at another."""
        with self._looking:
            turn, waiting = self._turns.get(key, (threading.Lock(), 0))
            self._turns[key] = turn, waiting + 1
        try:
            with turn:
                yield
        finally:
            with self._looking:
                turn, waiting = self._turns.pop(key)
                if waiting > 1:
                    self._turns[key] = turn, waiting - 1

    def found(self, key: Hashable) -> tuple[Any] | None:
        """What was made for a key, if it is remembered."""
        with self._looking:
            if key not in self._made:
                return None
            self._made.move_to_end(key)
            return (self._made[key],)

    def keep(self, key: Hashable, made: Any) -> None:
        """Remember what was made for a key."""
        with self._looking:
            self._made[key] = made
            while len(self._made) > self._most:
                self._made.popitem(last=False)


WAYS_KEPT = 512
"""Tunnels remembered with their ways: an edit that moves nothing near one asks for the same again."""


WAYS_OF_A_JOB = 24
"""Those remembered for a job's next edit, the newest: a job has a few tunnels, and edits go back and forth."""


class Whole(NamedTuple):
    """Everything that a plan is worked out from.

    Attributes:
        text: of the job.
        folder: with the files that it names.
        record: of its work at the bench, as `read_record` takes it.
    """

    text: str
    folder: Path | None = None
    record: str = ""


class Planner:
    """Reads and plans job texts; safe to use from several threads.

    Args:
        elsewhere: whether that is done in processes of their own.
    """

    def __init__(self, *, elsewhere: bool = False) -> None:
        self._jobs, self._plans, self._soon, self._drawn = Kept(), Kept(), Kept(), Kept()
        self._refused = Kept()
        self._ways, self._ways_of = Kept(WAYS_KEPT), Kept()
        self._crew = Crew("scribeline.web.planning") if elsewhere else None
        self._elsewhere = Elsewhere(self._take, self._refused.keep) if elsewhere else None

    def get_ready(self) -> None:
        """Have ready what the first plan needs."""
        if self._crew is not None and self._elsewhere is not None:
            self._crew.get_ready()
            self._elsewhere.get_ready()

    def close(self) -> None:
        """End the other processes."""
        if self._crew is not None and self._elsewhere is not None:
            self._crew.close()
            self._elsewhere.close()

    def job(self, key: Whole) -> JobFile:
        """The job of a text, and its record.

        Raises:
            JobError: everything that is wrong with it.
        """
        return self._jobs.once(key, lambda: self._read(key))

    def plan(self, text: str, folder: Path | None = None, record: str = "") -> Plan:
        """The plan of a text, every tunnel's way found.

        Raises:
            JobError: everything that is wrong with it, what cannot be planned included.
        """
        # For itself, so that nothing takes its place: it is waited for to the end.
        return self.settled(text, folder, record, of=Whole(text, folder, record), patience=None)

    def now(self, text: str, folder: Path | None, record: str = "", *, of: Hashable | None) -> Plan:
        """The plan of a text as far as it is known at once; the ways of tunnels that it awaits are being looked for.

        Args:
            text: of the job.
            folder: beside it.
            record: of its work at the bench.
            of: which job this is the newest text of. For an older one nothing is looked for any more. None for a text that
                is tried and not kept, for which nothing is.

        Raises:
            JobError: everything that is wrong with it, what cannot be planned included.
        """
        key = Whole(text, folder, record)
        self._raise_if_refused(key)
        if (made := self._plans.found(key)) is not None:
            found: Plan = made[0]
            return found
        if self._elsewhere is None:
            return self._plans.once(key, lambda: self._planned_here(key, self._found))
        soon = self._soon.once(key, lambda: self._planned(key))
        if soon.awaited:
            if of is not None:
                self._order(of, key)
        else:
            self._plans.keep(key, soon)
        return soon

    def settled(
        self, text: str, folder: Path | None, record: str = "", *, of: Hashable, patience: float | None
    ) -> Plan:
        """The same when what it awaits is found; as it is by then where that takes longer than so many seconds, if told.

        Raises:
            JobError: everything that is wrong with it, what cannot be planned included.
        """
        key = Whole(text, folder, record)
        soon = self.now(text, folder, record, of=of)
        if self._elsewhere is not None and soon.awaited:
            order = self._order(of, key)
            if self._elsewhere.wait(order, patience) and order.is_newest:
                self._raise_if_refused(key)
                return self._plans.once(key, lambda: self._planned_here(key, self._found))
        return soon

    def once(self, key: Hashable, make: Callable[[], Made]) -> Made:
        """What was made for a key, made now if it is not remembered; only what takes little time.

        Args:
            key: everything it depends on, such as the page's name and the `Whole` of the job.
            make: makes it.
        """

        def here() -> Made:
            with _HERE:
                return make()

        return self._drawn.once(key, here)

    def drawn(
        self, key: Hashable, make: Callable[..., Made], planned: Plan, *given: Any, aside: bool = False
    ) -> Made:
        """A drawing of a plan, made now if it is not remembered; that of a large plan in a process of its own.

        Args:
            key: everything it hangs on.
            make: makes it, of the plan and what is given; a function of a module.
            planned: what is drawn.
            given: whatever else `make` takes.
            aside: whether it goes into a process of its own however small the plan, for it plans anew.

        Raises:
            JobError: it takes more than it may.
        """
        few = len(tuple(planned.features)) <= FEW_CUTS and len(planned.layout.outline) <= FEW_CORNERS
        crew = self._crew
        if (few and not aside) or crew is None:
            return self.once(key, lambda: make(planned, *given))

        def there() -> Made:
            self._raise_if_refused(key)
            try:
                return crew.run(DRAWING, make, planned, *given)
            except Exceeded as cut:
                sentence = (
                    f"drawing it takes {cut.words}; the plan itself is whole: its numbers stand in the lists"
                )
                raise self._refusal(key, JobError([Fault("", sentence)])) from None
            except Ended as fault:
                raise cut_short() from fault
            except NoProcess:
                with _HERE:
                    return make(planned, *given)

        return self._drawn.once(key, there)

    def _raise_if_refused(self, key: Hashable) -> None:
        """What took more than it may once is not tried again."""
        if (refused := self._refused.found(key)) is not None:
            raise refused[0]

    def _refusal(self, key: Hashable, refusal: JobError) -> JobError:
        self._refused.keep(key, refusal)
        return refusal

    # Made in another process

    def with_cavities(self, text: str, folder: Path | None) -> str:
        """A job's text with the cavities that its bridge names and that it does not state.

        Raises:
            JobError: what else is wrong with the job.
        """
        return self._by_reading(cavitied, Whole(text, folder))

    def _read(self, key: Whole) -> JobFile:
        return self._by_reading(parsed, key)

    def _by_reading(self, make: Callable[[Whole], Made], key: Whole) -> Made:
        """What a job's text makes within the bounds of reading one."""

        def here() -> Made:
            with _HERE:
                return make(key)

        if self._crew is None:
            return here()
        refused = (make.__name__, key)
        self._raise_if_refused(refused)
        try:
            return self._crew.run(READING, make, key)
        except Exceeded as cut:
            raise self._refusal(refused, too_long_to_read(cut)) from None
        except Ended as fault:
            raise cut_short() from fault
        except NoProcess:
            return here()

    def _planned(self, key: Whole) -> Plan:
        """The plan with the ways that are known."""
        stated, crew = self.job(key), self._crew
        assert crew is not None
        self._raise_if_refused(key)
        try:
            given = self._known_ways(key)
            made, open_questions = crew.run(PLANNING, known, stated, given)
            while more := self._ways_among(open_questions):  # another job has asked the same
                given = {**given, **more}
                made, open_questions = crew.run(PLANNING, known, stated, given)
                # So that its next edit is planned once.
                self._ways_of.keep(key.folder, dict([*given.items()][-WAYS_OF_A_JOB:]))
        except Exceeded as cut:
            raise self._refusal(key, too_long_to_plan(cut, stated.job)) from None
        except Ended as fault:
            raise cut_short() from fault
        except NoProcess:
            return self._planned_here(key, self._known)
        except (ValueError, ArithmeticError) as error:
            raise _cannot(error) from error
        return made

    def _planned_here(self, key: Whole, look: Look) -> Plan:
        stated = self.job(key)
        try:
            with _HERE:
                return plan(*stated, look)
        except (ValueError, ArithmeticError) as error:
            raise _cannot(error) from error

    def _order(self, of: Hashable, key: Whole) -> Order:
        assert self._elsewhere is not None
        return self._elsewhere.ask(of, key, self.job(key), self._known_ways(key))

    # Ways of tunnels

    def _known_ways(self, key: Whole) -> Ways:
        """Those of the job's last plan: an edit that moves nothing near a tunnel asks for the same again."""
        found = self._ways_of.found(key.folder)
        return {} if found is None else dict(found[0])

    def _ways_among(self, questions: tuple[Any, ...]) -> Ways:
        return {each: found[0] for each in questions if (found := self._ways.found(each)) is not None}

    def _known(self, problem: Problem, bits: tuple[Bit, ...], drift: float) -> Solution | None:
        found = self._ways.found((problem, bits, drift))
        return None if found is None else found[0]

    def _found(self, problem: Problem, bits: tuple[Bit, ...], drift: float) -> Solution:
        return self._ways.once((problem, bits, drift), lambda: solve(problem, bits, drift))

    def _take(self, key: Any, made: Plan, ways: Ways) -> None:
        """What was planned elsewhere."""
        for question, way in ways.items():
            self._ways.keep(question, way)
        self._ways_of.keep(key.folder, ways)
        self._plans.keep(key, made)


def parsed(key: Whole) -> JobFile:
    """The job of a text, which may name only files that lie in the folder; what its text has of a record comes first.

    Raises:
        JobError: everything that is wrong with it.
    """
    job, record = parse_job(key.text, source="the job", folder=key.folder, only_beside=True)
    return JobFile(job, record.followed_by(read_record(key.record)))


def cavitied(key: Whole) -> str:
    """The text of a job with the cavities that its bridge needs; it may name only files that lie in the folder."""
    return with_cavities(key.text, key.folder, only_beside=True)[0]


def _cannot(error: Exception) -> JobError:
    if isinstance(error, JobError):
        return error
    return JobError([Fault("", f"this cannot be planned: {error}")])
