"""The store: what a shop keeps about its jobs, its parts and its bench, in one file.

Each method is one transaction; what it does to the rows stands in the module of its subject: `listed`, `revisions`,
`bench`, `shelves`, `attached`. Several processes and threads may use one file. A method that has returned has put what it wrote
on the disk.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from sqlalchemy import Connection, Engine, Table, insert, select

from scribeline.job import (
    AskRead,
    JobError,
    Measurement,
    dated_ahead,
    only_grown,
    parse_records,
    parse_shop_tests,
    read_record,
    set_value,
    without_tables,
)
from scribeline.store import attached, bench, checks, listed, recorded, revisions, shelves, tables
from scribeline.store.backup import write_backup
from scribeline.store.database import open_engine, writing
from scribeline.store.kept import (
    Attachment,
    BitKept,
    GateReading,
    Glance,
    JobEntry,
    JobList,
    Measured,
    OverrideKept,
    PartEntry,
    Revision,
    Tick,
)

Clock = Callable[[], datetime]


def _now() -> datetime:
    return datetime.now(UTC)


def open_store(path: Path, *, clock: Clock = _now) -> Store:
    """Open the shop's store; made when there is none, brought up to date when it is of an earlier version.

    Args:
        path: the file.
        clock: gives the time to note, with its zone.

    Raises:
        StoreError: the file is no store, is of a later version, or cannot be opened.
    """
    return Store(open_engine(path), path, clock)


class Store:
    """The shop's own database. Made by `open_store`; usable in a `with` statement."""

    def __init__(self, engine: Engine, path: Path, clock: Clock) -> None:
        self._engine, self._path, self._clock = engine, path, clock
        self.told: list[Callable[[int], None]] = []
        """Called with a job's number after it, or what was done or read for it, has been changed."""

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let the file go."""
        self._engine.dispose()

    @contextmanager
    def _changing(self, job_id: int, *, plan: bool = True) -> Iterator[Connection]:
        """A transaction that changes a job; whoever listens is told when it is on the disk.

        Where it does not touch what the plan is worked out from, what was worked out stays of today.
        """
        with writing(self._engine) as connection:
            yield connection
            if plan:
                listed.changed(connection, job_id)
        self._tell(job_id)

    @contextmanager
    def _beginning(self) -> Iterator[Connection]:
        """A transaction that may begin a job; whoever listens is told of it when it is on the disk."""
        with writing(self._engine) as connection:
            before = listed.last(connection)
            yield connection
            after = listed.last(connection)
        if after != before:
            self._tell(after)

    def _tell(self, job_id: int) -> None:
        for tell in self.told:
            tell(job_id)

    # Jobs and their revisions

    def jobs(self, which: JobList | None = "open") -> tuple[JobEntry, ...]:
        """The jobs of one list, or with None every job, the last touched first."""
        with self._engine.connect() as connection:
            return listed.jobs(connection, which)

    def called(self, which: JobList) -> tuple[tuple[int, str], ...]:
        """Number and name of each job of a list, in its order: enough to look for one among thousands."""
        with self._engine.connect() as connection:
            return listed.called(connection, which)

    def entries(self, job_ids: Sequence[int]) -> tuple[JobEntry, ...]:
        """These jobs as they stand in their lists, in the order in which they are asked for."""
        with self._engine.connect() as connection:
            return listed.some(connection, job_ids)

    def entry(self, job_id: int) -> JobEntry:
        """A job as it stands in its list, a deleted one too.

        Raises:
            UnknownJob: there is no such job.
        """
        with self._engine.connect() as connection:
            return listed.entry(connection, job_id)

    def counts(self) -> dict[JobList, int]:
        """How many jobs stand in each list."""
        with self._engine.connect() as connection:
            return listed.counts(connection)

    def names(self) -> frozenset[str]:
        """What the jobs are called, those put away too."""
        with self._engine.connect() as connection:
            return listed.names(connection)

    def create(self, text: str, *, by: str, why: str = "", once: str = "") -> Revision:
        """A new job. A text with faults is kept all the same, so that no typing is lost.

        Args:
            text: the job file.
            by: who.
            why: what for.
            once: key of the form that it is asked for by: sent again, the form makes no second job and this one comes back.

        Raises:
            JobError: the text is not valid TOML.
            StoreError: it carries a record of its own (import it), or `by` or `why` cannot be kept.
        """
        stated, key = checks.job_text(text), checks.key(once)
        with self._beginning() as connection:
            return revisions.made_once(connection, key) or revisions.begin(
                connection, text, stated, by=by, why=why, at=self._stamp(), once=key
            )

    def copy(self, job_id: int, name: str, *, by: str, once: str = "") -> Revision:
        """A new job with the text and the files of another, under a name of its own.

        It is another instrument: what was done, read and gone on against for the first is not done for this one.

        Args:
            job_id: the job to copy, as it is now.
            name: of the new one.
            by: who.
            once: as in `create`.

        Raises:
            JobError: the name cannot be put into the text.
            StoreError: the name is empty or too long.
            UnknownJob: there is no such job.
        """
        called, key = checks.job_name(name), checks.key(once)
        with self._beginning() as connection:
            if (made := revisions.made_once(connection, key)) is not None:
                return made
            of, at = revisions.one(connection, job_id), self._stamp()
            text, _ = set_value(of.text, "name", called)
            why = f"copied from job {job_id}, {listed.entry(connection, job_id).name}, no. {of.number}"
            stated = checks.toml(text)
            made = revisions.begin(connection, text, stated, by=by, why=why, at=at, once=key)
            listed.copy_files(connection, job_id, made.job_id, by=checks.line(by, "who", most=60), at=at)
            return made

    def rename(self, job_id: int, name: str, *, by: str) -> Revision:
        """A new revision with another name; where it has that name already, nothing is written.

        Raises:
            JobError: the name cannot be put into the text.
            StoreError: the name is empty or too long.
            UnknownJob: there is no such job.
        """
        called = checks.job_name(name)
        with self._changing(job_id) as connection:
            now = revisions.one(connection, job_id)
            text, was = set_value(now.text, "name", called)
            if was == called:
                return now
            stated = checks.toml(text)
            return revisions.follow(
                connection,
                job_id,
                text,
                stated,
                based_on=now.number,
                by=by,
                why="another name",
                at=self._stamp(),
            )

    def archive(self, job_id: int, *, by: str) -> JobEntry:
        """Take a job out of the list of those at work; it stays as it is, and can be worked on.

        Raises:
            UnknownJob: there is no such job.
            StoreError: it is deleted.
        """
        return self._put(job_id, "archived", by)

    def unarchive(self, job_id: int, *, by: str) -> JobEntry:
        """Put an archived job back among those at work.

        Raises:
            UnknownJob: there is no such job.
            StoreError: it is deleted.
        """
        return self._put(job_id, "archived", by, back=True)

    def delete(self, job_id: int, *, by: str) -> JobEntry:
        """Delete a job: nothing opens or changes it until it is restored. All that was kept for it stays, for good.

        Raises:
            UnknownJob: there is no such job.
        """
        return self._put(job_id, "deleted", by)

    def restore(self, job_id: int, *, by: str) -> JobEntry:
        """Have a deleted job back as it was, in the list that it stood in.

        Raises:
            UnknownJob: there is no such job.
        """
        return self._put(job_id, "deleted", by, back=True)

    def _put(self, job_id: int, what: str, by: str, *, back: bool = False) -> JobEntry:
        named = checks.line(by, "who it was", most=60)
        row: dict[str, str | None] = {"by": None, "at": None} if back else {"by": named, "at": self._stamp()}
        with self._changing(job_id, plan=False) as connection:
            return listed.put(connection, job_id, what, row)

    # What was worked out

    def changes(self, job_id: int) -> int:
        """How often a job, or what was done or read for it, has been changed; asked for before it is read."""
        with self._engine.connect() as connection:
            return listed.changes(connection, job_id)

    def keep_glance(self, job_id: int, glance: Glance, picture: str = "") -> None:
        """Note what a job was like when it was worked out, for the lists of jobs. No change: nobody is told.

        Raises:
            UnknownJob: there is no such job.
        """
        with writing(self._engine) as connection:
            listed.keep_glance(connection, job_id, glance, picture)

    def picture(self, job_id: int) -> str:
        """A job's picture as it was last drawn; "" where there is none."""
        with self._engine.connect() as connection:
            return listed.picture(connection, job_id)

    def revision(self, job_id: int, number: int | None = None) -> Revision:
        """One revision of a job; the newest when no number is given.

        Raises:
            UnknownJob: there is none.
        """
        with self._engine.connect() as connection:
            return revisions.one(connection, job_id, number)

    def history(self, job_id: int) -> tuple[Revision, ...]:
        """Every revision of a job, oldest first.

        Raises:
            UnknownJob: there is no such job.
        """
        with self._engine.connect() as connection:
            return revisions.every(connection, job_id)

    def save(self, job_id: int, text: str, *, based_on: int, by: str, why: str = "") -> Revision:
        """A new revision. Where the text is what stands there already, nothing is written and that comes back.

        Args:
            job_id: the job.
            text: the whole job file as it shall be.
            based_on: number of the revision the edit began from.
            by: who.
            why: what for.

        Raises:
            Conflict: somebody saved another revision meanwhile; nothing was written.
            JobError: the text is not valid TOML.
            UnknownJob: there is no such job.
        """
        stated = checks.job_text(text)
        with self._changing(job_id) as connection:
            return revisions.follow(
                connection, job_id, text, stated, based_on=based_on, by=by, why=why, at=self._stamp()
            )

    def undo(self, job_id: int, *, based_on: int, by: str) -> Revision:
        """A new revision with the text from before the last edit that still stands.

        Raises:
            Conflict: somebody saved another revision meanwhile.
            StoreError: there is nothing to undo.
        """
        with self._changing(job_id) as connection:
            return revisions.turn_back(connection, job_id, "undo", based_on=based_on, by=by, at=self._stamp())

    def redo(self, job_id: int, *, based_on: int, by: str) -> Revision:
        """A new revision with the text that the last undo took away.

        Raises:
            Conflict: somebody saved another revision meanwhile.
            StoreError: there is nothing to redo.
        """
        with self._changing(job_id) as connection:
            return revisions.turn_back(connection, job_id, "redo", based_on=based_on, by=by, at=self._stamp())

    def can_undo(self, job_id: int) -> bool:
        """Whether there is an edit to take back."""
        with self._engine.connect() as connection:
            return revisions.target(connection, job_id, "undo") is not None

    def can_redo(self, job_id: int) -> bool:
        """Whether an edit was just taken back."""
        with self._engine.connect() as connection:
            return revisions.target(connection, job_id, "redo") is not None

    # What was done and read at the bench

    def tick(
        self,
        job_id: int,
        card_id: str,
        *,
        by: str,
        revision: int,
        features: Iterable[Mapping[str, Any]] = (),
        key: str = "",
    ) -> Tick:
        """Mark a step done, with what it cut exactly as it was cut.

        Ticked again, the first tick stands; holes the step has got since are added to it.

        Args:
            job_id: the job.
            card_id: id of the step.
            by: who did it.
            revision: of the job.
            features: what it cut.
            key: the sender's own for this act, under which it is kept once, however often it is sent.

        Raises:
            SentAlready: it was sent under this key before, and is kept.
            UnknownJob: there is no such job or revision.
            StoreError: a cut or a name cannot be kept.
        """
        with self._changing(job_id) as connection:
            revisions.one(connection, job_id, revision)
            bench.sent(connection, job_id, key, at=self._stamp())
            return bench.tick(
                connection, job_id, card_id, features, by=by, revision=revision, at=self._stamp()
            )

    def measured_depth(self, job_id: int, card_id: str, cut_id: str, depth: float, *, by: str) -> Tick:
        """Keep how deep a cavity that is routed was found; what was planned stays beside it, and the plan goes by the reading.

        Args:
            job_id: the job.
            card_id: id of the step that made it.
            cut_id: id of the cavity.
            depth: from its face, mm.
            by: who read it.

        Raises:
            UnknownJob: there is no such job.
            StoreError: the step is not ticked, has cut no such cavity, or the depth cannot be kept.
        """
        with self._changing(job_id) as connection:
            revisions.newest(connection, job_id)
            read = {"measured_depth": depth}
            return bench.measured(connection, job_id, card_id, cut_id, read, by=by, at=self._stamp())

    def was_sent(self, job_id: int, key: str) -> bool:
        """Whether what a device sent under a key is kept already."""
        if not key:
            return False
        with self._engine.connect() as connection:
            return bench.sent_before(connection, job_id, key)

    def untick(self, job_id: int, card_id: str, *, by: str, key: str = "") -> None:
        """Take a tick back, made by mistake: its cuts follow the job again. That it was there stays on record.

        What was read of where its cuts are is struck through: they are not made, or will be made anew.

        Args:
            job_id: the job.
            card_id: id of the step.
            by: who takes it back.
            key: the sender's own for this act, as of a tick.

        Raises:
            SentAlready: it was sent under this key before, and is kept.
            UnknownJob: there is no such job.
            StoreError: the step is not ticked.
        """
        with self._changing(job_id) as connection:
            revisions.newest(connection, job_id)
            bench.sent(connection, job_id, key, at=self._stamp())
            bench.not_made(connection, job_id, card_id, by=by, at=self._stamp())

    def ticks(self, job_id: int) -> tuple[Tick, ...]:
        """The steps that are done, in the order they were ticked.

        Raises:
            UnknownJob: there is no such job.
        """
        with self._engine.connect() as connection:
            revisions.newest(connection, job_id)
            return bench.standing(connection, job_id)

    def read(
        self,
        job_id: int,
        gate_id: str,
        value_mm: float | None,
        *,
        by: str,
        with_what: str,
        revision: int,
        yes: bool | None = None,
        risk: str = "",
        limits: tuple[float | None, float | None] = (None, None),
        values: Iterable[AskRead] = (),
        known: int | None = None,
        key: str = "",
    ) -> GateReading:
        """Note what was read at a gate; every reading is kept, the newest counts.

        Args:
            job_id: the job.
            gate_id: id of the step card whose gate it is.
            value_mm: the reading, mm; None where the gate asks for a yes or no.
            by: who read it.
            with_what: what it was measured with.
            revision: of the job the gate's limits come from.
            yes: the answer of a gate that asks for one.
            risk: why the work goes on although the gate does not pass.
            limits: what the gate asks for at that time, least and most, mm; kept where there is a risk.
            values: each of several readings, where the gate asks for several; `value_mm` is the one that decides.
            known: how many readings of this gate whoever sends it knew of. Where one that came later is the same, this is
                that one, sent again by a screen that had no answer; it is kept once.
            key: the sender's own for this reading; where there is one, it tells what was sent again instead.

        Raises:
            SentAlready: it was sent under this key before, and is kept.
            UnknownJob: there is no such job or revision.
            StoreError: there is neither a reading nor an answer, or both, or it cannot be kept.
        """
        row = bench.reading_row(
            gate_id, value_mm, yes=yes, by=by, with_what=with_what, risk=risk, limits=limits, values=values
        )
        with self._changing(job_id) as connection:
            revisions.one(connection, job_id, revision)
            whole = {**row, "job_id": job_id, "revision": revision, "at": self._stamp()}
            bench.sent(connection, job_id, key, at=self._stamp())
            return bench.read(connection, whole, known=None if key else known)

    def readings(self, job_id: int) -> tuple[GateReading, ...]:
        """Every reading of a job, oldest first.

        Raises:
            UnknownJob: there is no such job.
        """
        with self._engine.connect() as connection:
            revisions.newest(connection, job_id)
            return bench.readings(connection, job_id)

    def measure(self, job_id: int, entry: Measurement, *, key: str = "") -> Measurement:
        """Note a measurement of one of the plan's numbers; it is kept for good, and counts until it is struck through.

        Args:
            job_id: the job.
            entry: the measurement; when it was made is this store's clock's.
            key: the sender's own for it.

        Raises:
            SentAlready: it was sent under this key before, and is kept.
            UnknownJob: there is no such job or revision.
            StoreError: it cannot be kept.
        """
        with self._changing(job_id) as connection:
            revisions.one(connection, job_id, entry.revision)
            bench.sent(connection, job_id, key, at=self._stamp())
            stamped = entry.model_copy(update={"at": self._clock().astimezone(UTC)})
            return bench.measure(connection, job_id, stamped)

    def strike(self, job_id: int, number: int, *, why: str, by: str) -> None:
        """Strike a measurement through, by its number in the job's record from 1; it stays there with the reason.

        Raises:
            UnknownJob: there is no such job.
            StoreError: there is no such measurement, it is struck through already, or no reason is given.
        """
        with self._changing(job_id) as connection:
            revisions.newest(connection, job_id)
            bench.strike(connection, job_id, number, why=why, by=by, at=self._stamp())

    def measurements(self, job_id: int) -> tuple[Measurement, ...]:
        """Every measurement of a job in the order they came, those struck through among them.

        Raises:
            UnknownJob: there is no such job.
        """
        with self._engine.connect() as connection:
            revisions.newest(connection, job_id)
            return bench.measurements(connection, job_id)

    def override(
        self, job_id: int, stop: Mapping[str, Any], *, reason: str, by: str, revision: int
    ) -> OverrideKept:
        """Note that the work goes on against a stop; every one is kept, the newest of a stop counts.

        Args:
            job_id: the job.
            stop: its `code`, `features`, `value`, `limit` and what it `says`.
            reason: why, in the builder's own words.
            by: who decided it.
            revision: of the job it was given for.

        Raises:
            UnknownJob: there is no such job or revision.
            StoreError: there is no reason worth the name, or it cannot be kept.
        """
        at = self._stamp()
        row = checks.override({**stop, "reason": reason, "by": by, "at": at})
        row["by"] = checks.line(by, "who decided it", most=60)
        with self._changing(job_id) as connection:
            revisions.one(connection, job_id, revision)
            return bench.override(connection, {**row, "job_id": job_id, "revision": revision, "at": at})

    def take_override_back(self, job_id: int, number: int, *, by: str) -> None:
        """Let an override count no more; that it was there stays on record.

        Raises:
            UnknownJob: there is no such job.
            StoreError: there is no such override, or it was taken back already.
        """
        with self._changing(job_id) as connection:
            revisions.newest(connection, job_id)
            bench.take_override_back(connection, job_id, number, by=by, at=self._stamp())

    def overrides(self, job_id: int, *, every: bool = False) -> tuple[OverrideKept, ...]:
        """The overrides of a job that count, oldest first; with `every` those taken back too.

        Raises:
            UnknownJob: there is no such job.
        """
        with self._engine.connect() as connection:
            revisions.newest(connection, job_id)
            return bench.overrides(connection, job_id, every=every)

    # The shop: parts, bits, finished instruments

    def parts(self, shelf: str | None = None) -> tuple[PartEntry, ...]:
        """The shop's own parts, by shelf and name, each dimension as it was last measured."""
        named = None if shelf is None else checks.line(shelf, "the shelf", most=60)
        with self._engine.connect() as connection:
            return shelves.parts(connection, named)

    def save_part(
        self,
        shelf: str,
        name: str,
        dimensions: Mapping[str, Measured],
        *,
        details: Mapping[str, Any] | None = None,
    ) -> PartEntry:
        """Note measured dimensions of a part; those not given stay, and earlier measurements are kept.

        Args:
            shelf: kind of part, such as "bridge".
            name: what the shop calls it.
            dimensions: by the job file's key, mm.
            details: what is no dimension, by key, as plain JSON.

        Raises:
            StoreError: a name or number cannot be kept.
        """
        with writing(self._engine) as connection:
            return shelves.save_part(connection, shelf, name, dimensions, details or {}, at=self._stamp())

    def bits(self) -> tuple[BitKept, ...]:
        """The bits in the drill box."""
        with self._engine.connect() as connection:
            return shelves.bits(connection)

    def save_bits(self, bits: Iterable[BitKept], *, by: str) -> tuple[BitKept, ...]:
        """Put the whole drill box in place of the former one.

        Raises:
            StoreError: a bit cannot be read.
        """
        with writing(self._engine) as connection:
            return shelves.save_bits(connection, bits, by=by, at=self._stamp())

    def calibrations(self) -> str:
        """The records of the shop's finished instruments as text (the records file's format); "" when there are none."""
        with self._engine.connect() as connection:
            return _latest(connection, tables.calibrations, "text") or ""

    def save_calibrations(self, text: str, *, by: str) -> None:
        """Keep the records of finished instruments; the former state stays on record.

        Raises:
            JobError: the records have faults.
            StoreError: `by` cannot be kept.
        """
        checks.toml(text, most=checks.LARGEST_RECORD)
        parse_records(text, today=self._at_most())
        self._save_shops_own(tables.calibrations, text, by)

    def shop_tests(self) -> str:
        """The tests of the shop's machines and hands as text (their file's format); "" when there are none."""
        with self._engine.connect() as connection:
            return _latest(connection, tables.shop_tests, "text") or ""

    def save_shop_tests(self, text: str, *, by: str) -> None:
        """Keep the shop's tests; the former state stays on record. What stood there must stand there still, struck or not.

        Raises:
            JobError: they have faults, or a test that was kept is gone or changed.
            StoreError: `by` cannot be kept.
        """
        checks.toml(text, most=checks.LARGEST_RECORD)
        now = parse_shop_tests(text, today=self._at_most())
        self._save_shops_own(
            tables.shop_tests, text, by, lambda before: only_grown(parse_shop_tests(before), now)
        )

    def _at_most(self) -> date:
        """A day that is not to come, anywhere: the stamp's is Greenwich's, and in the shop it may be tomorrow by then."""
        return date.fromisoformat(self._stamp()[:10]) + timedelta(days=1)

    def _save_shops_own(
        self, table: Table, text: str, by: str, may_follow: Callable[[str], None] | None = None
    ) -> None:
        """Keep a text that every job may rest on, if it may follow the one before, and tell whoever listens."""
        with writing(self._engine) as connection:
            before = _latest(connection, table, "text")
            if before and may_follow is not None:
                may_follow(before)
            connection.execute(
                insert(table).values(at=self._stamp(), by=checks.line(by, "who noted it", most=60), text=text)
            )
            listed.changed(connection)
            every = [entry.id for entry in listed.jobs(connection, None)]
        for job_id in every:  # each rests on it
            self._tell(job_id)

    # Files a job names

    def attach(self, job_id: int, name: str, content: bytes, *, by: str) -> Attachment:
        """Keep a file the job names, such as the drawing of its outline; one of the same name steps back behind it.

        Raises:
            UnknownJob: there is no such job.
            StoreError: the name is no plain file name, or the file is too large.
        """
        row = attached.file_row(name, content, by=by)
        with self._changing(job_id) as connection:
            revisions.newest(connection, job_id)
            return attached.attach(connection, {**row, "job_id": job_id, "at": self._stamp()})

    def detach(self, file: Attachment) -> None:
        """Let go a file that was just attached and turned out to be of no use; one of the same name counts again."""
        with self._changing(file.job_id) as connection:
            attached.detach(connection, file)

    def attachments(self, job_id: int) -> tuple[Attachment, ...]:
        """The files of a job, by name.

        Raises:
            UnknownJob: there is no such job.
        """
        with self._engine.connect() as connection:
            revisions.newest(connection, job_id)
            return attached.listed(connection, job_id)

    def attachment(self, job_id: int, name: str) -> bytes:
        """The content of a job's file.

        Raises:
            UnknownJob: there is no such job.
            StoreError: it has no such file.
        """
        with self._engine.connect() as connection:
            revisions.newest(connection, job_id)
            return attached.content(connection, job_id, name)

    # In and out

    def export(self, job_id: int, *, with_record: bool, number: int | None = None) -> str:
        """The job as a file: exactly its text, or with what was done and read for it.

        Args:
            job_id: the job.
            with_record: whether what was done and read so far goes with it.
            number: of the revision; the newest when not given.

        Raises:
            UnknownJob: there is no such job or revision.
        """
        with self._engine.connect() as connection:
            text = revisions.one(connection, job_id, number).text
            if not with_record:
                return text
            ticks, readings = bench.standing(connection, job_id), bench.readings(connection, job_id)
            overrides, measured = bench.overrides(connection, job_id), bench.measurements(connection, job_id)
        return recorded.with_record(text, ticks, readings, overrides, measured)

    def import_(self, text: str, by: str, *, once: str = "") -> Revision:
        """A new job from a file; steps done and readings it carries become the job's.

        Args:
            text: the file.
            by: who brings it.
            once: as in `create`.

        Raises:
            JobError: the text is not valid TOML, or its record has faults.
            StoreError: `by` cannot be kept.
        """
        checks.toml(text, most=checks.LARGEST_RECORD)
        plain, record = without_tables(text)
        read = read_record(record)
        ticks, readings, overrides = shelves.carried(read)
        if faults := dated_ahead(read, self._clock()):
            raise JobError(faults, "the record")
        measured = read.measured
        key = checks.key(once)
        with self._beginning() as connection:
            if (made := revisions.made_once(connection, key)) is not None:
                return made
            stated = checks.toml(plain)
            made = revisions.begin(
                connection, plain, stated, by=by, why="imported", at=self._stamp(), once=key
            )
            bench.carried(connection, made.job_id, ticks, readings, overrides, measured=measured)
            return made

    def backup(self, path: Path) -> None:
        """Write the whole store into one file, checked.

        Raises:
            StoreError: something stands there already.
        """
        write_backup(self._path, path)

    def _stamp(self) -> str:
        return self._clock().astimezone(UTC).isoformat(timespec="microseconds")


def _latest(connection: Connection, table: Table, column: str) -> Any:
    return connection.execute(select(table.c[column]).order_by(table.c.id.desc()).limit(1)).scalar()
