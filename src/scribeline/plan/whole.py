"""The whole line as one function: job → layout → features → what is left → operations → findings → steps.

`plan` is pure: no files, no clock, no globals. Reading a job and writing sheets happen outside it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

from scribeline.features import (
    Features,
    Moved,
    Workpiece,
    head_piece,
    lock,
    make_features,
    neck_piece,
    workpiece_of,
)
from scribeline.findings import Facts, Finding, find, in_job_unit, overridden, stops_first
from scribeline.job import EMPTY, Job, Record, as_routed
from scribeline.layout import (
    AsRead,
    Layout,
    Measurable,
    as_read,
    cut_checks,
    found_in_words,
    lay_out,
    measurables,
)
from scribeline.lengths import JobUnit
from scribeline.operations import Operation, Progress, operations
from scribeline.solid import DRIFT, Outside, Web, find_outside, find_webs, floors
from scribeline.solid.tunnels import Look, Tunnel, Wanted, find_tunnels, solve, with_tunnels
from scribeline.steps import Answer, Card, Stopped, make_cards, read_at_gates, reopened


@dataclass(frozen=True)
class Plan:
    """Everything worked out for one job.

    Attributes:
        job: what it was worked out from: as stated, but for what of the wood was measured since it was cut.
        stated: the job as it is stated.
        record: what was done and read at the bench by then.
        layout: where everything sits.
        features: every cut of the body; those made already as they were made.
        webs: the wood between cuts.
        outside: the wood to the outside.
        measurables: numbers a person can check at the bench.
        findings: what should be known before cutting, stops first.
        cards: the steps in their order.
        moved: what the job would now have otherwise than it was cut.
        tunnels: the tunnels asked for, each with its way or why it has none.
        progress: the order of work as operations, and the wood as it is when each one's turn comes.
        stopped: the stops that keep a step from being begun, by the step's id.
        neck: the neck as a workpiece of its own, with what is cut in it; of one that runs through, its bare core.
        head: the head the same, in its own frame; None where the job states none.
        as_read: the measurables that were measured, by their names.
        cut_checks: what can be read of the body's cuts that are made; what was is `record.found`.
        forbidding: the stops that forbid paper: all but those gone on against, and those about nothing but made cuts.
    """

    job: Job
    stated: Job
    record: Record
    layout: Layout
    features: Features
    webs: tuple[Web, ...]
    outside: tuple[Outside, ...]
    measurables: tuple[Measurable, ...]
    findings: tuple[Finding, ...]
    cards: tuple[Card, ...]
    progress: Progress
    neck: Workpiece
    moved: tuple[Moved, ...] = ()
    tunnels: tuple[Tunnel, ...] = ()
    stopped: Mapping[str, tuple[Finding, ...]] = field(default_factory=dict)
    forbidding: tuple[Finding, ...] = ()
    head: Workpiece | None = None
    as_read: Mapping[str, AsRead] = field(default_factory=dict)
    cut_checks: tuple[Measurable, ...] = ()

    @property
    def every_cut(self) -> Features:
        """The cuts of every workpiece."""
        return every_cut(self.features, self.neck, self.head)

    @property
    def unit(self) -> JobUnit:
        """The job's own, in which everything about it is told first."""
        return self.job.document.units

    @property
    def operations(self) -> tuple[Operation, ...]:
        """Everything there is to do, in its order."""
        return self.progress.operations

    def check(self, name: str) -> Measurable | None:
        """What can be measured under a name: a number of the plan, or one of a cut that is made; None where nothing is."""
        return next((each for each in (*self.measurables, *self.cut_checks) if each.id == name), None)

    def found(self, cut: str) -> str:
        """Where a cut that is made really is, in words with lengths that `in_unit` tells."""
        return found_in_words(self.record.found.get(cut), self.layout.treble)

    @property
    def made(self) -> frozenset[str]:
        """Ids of the cuts that are made already, wholly or in part."""
        return self.record.made_cuts

    @cached_property
    def floors(self) -> Mapping[str, float | None]:
        """The least wood under each cut in the finished body; see `solid.floors`."""
        return floors(self.layout, self.features)

    @property
    def awaited(self) -> tuple[Tunnel, ...]:
        """Tunnels whose way is not known yet; nothing about them is told, and nobody may cut by this plan."""
        return tuple(tunnel for tunnel in self.tunnels if tunnel.awaited)

    @property
    def stops(self) -> tuple[Finding, ...]:
        """The findings that forbid what they are about: stops that nobody goes on against."""
        return tuple(finding for finding in self.findings if finding.stands)

    @property
    def gone_against(self) -> tuple[Finding, ...]:
        """The stops that the builder goes on against."""
        return tuple(finding for finding in self.findings if finding.override is not None)


def plan(job: Job, record: Record = EMPTY, look: Look = solve) -> Plan:
    """Plan one instrument.

    Args:
        job: what is stated.
        record: what was done and read at the bench: what is cut stays where it was cut.
        look: looks for the way of a tunnel among some of the cuts; where it does not know it yet, the plan awaits it.
    """
    record, stated = record.read_with(job.accuracies), job
    job = as_routed(stated, record)
    layout = lay_out(job, record)
    features, moved, tunnels = _cuts(job, stated, record, layout, look)
    neck, moved_in_neck = _as_made(neck_piece(job.document, layout, features), record)
    moved += moved_in_neck
    head = head_piece(job.document, layout)
    if head is not None:
        head, moved_in_head = _as_made(head, record)
        moved += moved_in_head
    beside = [piece for piece in (neck, head) if piece is not None]
    webs = find_webs(features, layout.thickness, drift=DRIFT)
    outside = find_outside(features, layout.outline, layout.thickness, drift=DRIFT, form=layout.body)
    checks = measurables(job.document, layout)
    document = job.document
    in_head = () if head is None else head.features.bores
    work = operations(
        document, layout, features, tunnels, record, pilots=neck.features.bores, in_head=in_head
    )
    progress = Progress(record, layout, features, work)
    cards = make_cards(document, progress, checks, tunnels, beside)
    answers = {each.card: Answer.of(each) for each in record.readings}
    read = as_read(checks, record, job.accuracies, read_at_gates(cards, answers))
    found = find(
        Facts(
            document,
            record,
            layout,
            features,
            webs,
            outside,
            progress,
            moved,
            tunnels,
            neck=neck,
            head=head,
            measurable=tuple(each.id for each in checks),
            as_read=read,
        )
    )
    gates = (in_job_unit(each, document.units) for each in reopened(record, cards))
    findings = overridden(stops_first((*gates, *found)), record.overrides)
    stopped = Stopped(record, every_cut(features, neck, head), cards, findings)
    cards = stopped.told_on(cards)
    return Plan(
        job,
        stated,
        record,
        layout,
        features,
        webs,
        outside,
        checks,
        findings,
        cards,
        progress,
        neck,
        moved,
        tunnels,
        stopped.by_card(),
        stopped.forbidding(),
        head,
        read,
        cut_checks((cuts[0] for name, cuts in record.cuts.items() if workpiece_of(name) == "body"), layout),
    )


def _cuts(
    job: Job, stated: Job, record: Record, layout: Layout, look: Look
) -> tuple[Features, tuple[Moved, ...], tuple[Tunnel, ...]]:
    """Every cut, those that are made where they were made; tunnels are looked for among the cuts as they will be."""
    document = job.document
    planned = make_features(document, layout, record)
    wanted = wanted_by(stated) if record.made_cuts else Wanted(layout, planned)
    held, _ = lock(planned, record)
    tunnels = find_tunnels(document, layout, held, wanted, look)
    features, moved = lock(with_tunnels(planned, tunnels), record, with_tunnels(wanted.features, tunnels))
    return features, moved, tunnels


def _as_made(piece: Workpiece, record: Record) -> tuple[Workpiece, tuple[Moved, ...]]:
    """A workpiece beside the body, what is drilled in it as it was drilled.

    A neck's pilots are meant to go on from the body's holes as these are, wherever the job would have them.
    """
    held, moved = lock(piece.features, record, workpiece=piece.name)
    return replace(piece, features=held), moved


def every_cut(body: Features, *pieces: Workpiece | None) -> Features:
    """The cuts of the body and of every workpiece beside it."""
    return sum((piece.features for piece in pieces if piece is not None), body)


def wanted_by(job: Job) -> Wanted:
    """What the job would have if nothing were made."""
    layout = lay_out(job)
    return Wanted(layout, make_features(job.document, layout))
