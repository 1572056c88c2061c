"""What the store keeps, as frozen values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal

from scribeline.job import AskRead

RevisionKind = Literal["edit", "undo", "redo"]
JobList = Literal["open", "archived", "deleted"]
BitShelf = Literal["twist", "brad_point", "flat_bottomed", "router"]


@dataclass(frozen=True, slots=True)
class Glance:
    """What a job was like when it was last worked out; a note that may be dropped, for everything in it is worked out again.

    Attributes:
        changes: count of the job's changes that it rests on.
        made_with: what worked it out, by its version.
        done: steps done.
        steps: all of them.
        next_step: title of the step to go on with; "" where there is none.
        stops: how many DO NOT CUT stand.
        wrong: why the job cannot be read; "" where it can.
        drawn: whether there is a picture of it.
    """

    changes: int
    made_with: str
    done: int = 0
    steps: int = 0
    next_step: str = ""
    stops: int = 0
    wrong: str = ""
    drawn: bool = False


@dataclass(frozen=True, slots=True)
class Put:
    """By whom and when a job was put where it is."""

    by: str
    at: datetime


@dataclass(frozen=True, slots=True)
class JobEntry:
    """One job in the list.

    Attributes:
        id: number of the job in this store.
        name: as its newest revision says.
        revision: number of the newest revision, from 1.
        at: when that was made.
        units: of its bare numbers.
        handed: "right" or "left".
        by: who made the newest revision.
        changes: how often the job, or what was done or read for it, has been changed.
        archived: by whom and when it was archived; None where it is not.
        deleted: by whom and when it was deleted; None where it is not.
        glance: what it was like when it was last worked out; None where that is not known.
    """

    id: int
    name: str
    revision: int
    at: datetime
    units: str
    handed: str
    by: str = ""
    changes: int = 0
    archived: Put | None = None
    deleted: Put | None = None
    glance: Glance | None = None

    @property
    def place(self) -> JobList:
        """The list it stands in."""
        return "deleted" if self.deleted else "archived" if self.archived else "open"


@dataclass(frozen=True, slots=True)
class Revision:
    """One state of a job: the document as text, exactly what `export` gives.

    Attributes:
        job_id: the job.
        number: from 1.
        text: the job file.
        at: when it was made.
        by: who made it.
        why: what for, in a few words; may be empty.
        kind: an edit, or the taking back or repeating of one.
    """

    job_id: int
    number: int
    text: str
    at: datetime
    by: str
    why: str
    kind: RevisionKind = "edit"


@dataclass(frozen=True, slots=True)
class Tick:
    """A step done.

    Attributes:
        card_id: the step card.
        by: who did it.
        at: when it was ticked.
        revision: of the job it was done by.
        features: the cuts exactly as made, as plain values (`scribeline.job.Cut`).
    """

    card_id: str
    by: str
    at: datetime
    revision: int
    features: tuple[Mapping[str, Any], ...] = ()


@dataclass(frozen=True, slots=True)
class GateReading:
    """What was read at a gate.

    Attributes:
        gate_id: the step card whose gate it is.
        value_mm: the reading, mm; None where the gate asks for a yes or no.
        yes: the answer of such a gate; None where there is a reading.
        by: who read it.
        with_what: what it was measured with.
        revision: of the job the gate's limits come from.
        at: when.
        risk: why the work goes on although the gate does not pass; "" where it does not.
        low: least that the gate asked for when it was accepted so, mm.
        high: most that it asked for then, mm.
        values: each of several readings, where the gate asks for several; `value_mm` is then the one that decides.
    """

    gate_id: str
    value_mm: float | None
    yes: bool | None
    by: str
    with_what: str
    revision: int
    at: datetime
    risk: str = ""
    low: float | None = None
    high: float | None = None
    values: tuple[AskRead, ...] = ()


@dataclass(frozen=True, slots=True)
class OverrideKept:
    """A stop that the builder goes on against.

    Attributes:
        id: number in this store.
        code: of the stop.
        features: the cuts it is about.
        value: the number it found.
        limit: what that was held against.
        says: what it said.
        reason: why the work goes on.
        by: who decided it.
        at: when.
        revision: of the job it was given for.
        taken_back_at: when it was taken back; None while it counts.
        taken_back_by: who took it back; "" while it counts.
    """

    id: int
    code: str
    features: tuple[str, ...]
    value: float | None
    limit: float | None
    says: str
    reason: str
    by: str
    at: datetime
    revision: int
    taken_back_at: datetime | None = None
    taken_back_by: str = ""


@dataclass(frozen=True, slots=True)
class Measured:
    """One measured dimension of a part: stated once, used in many jobs.

    Attributes:
        value: mm.
        plus_minus: half-width of the band it lies in, mm.
        by: who measured it.
        with_what: what it was measured with.
        at: when.
    """

    value: float
    plus_minus: float
    by: str
    with_what: str
    at: datetime

    @property
    def stated(self) -> str:
        """The text a job file takes it as, to a millionth of a millimetre."""
        return f"{_written_out(self.value)} mm +/- {_written_out(self.plus_minus)} mm"


def _written_out(mm: float) -> str:
    """A number without powers of ten, which nobody reads in a shop."""
    return f"{mm:.6f}".rstrip("0").rstrip(".")


@dataclass(frozen=True, slots=True)
class PartEntry:
    """One part of the shop's parts book.

    Attributes:
        shelf: kind of part, such as "bridge".
        name: what the shop calls it.
        dimensions: newest measurement of each, by the job file's key.
        details: what is no dimension, such as a gauge or the places of the screws, by key.
    """

    shelf: str
    name: str
    dimensions: Mapping[str, Measured]
    details: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class BitKept:
    """One bit in the drill box.

    Attributes:
        kind: which list of the job file's `bits` it belongs to.
        size: as the builder says it: "3.5" or "15/64".
        point: length of its point, mm, where it was measured.
        reach: how deep it can drill, mm, where it was measured.
    """

    kind: BitShelf
    size: str
    point: float | None = None
    reach: float | None = None


@dataclass(frozen=True, slots=True)
class Attachment:
    """A file a job names, such as the drawing of its outline.

    Attributes:
        job_id: the job.
        name: plain file name.
        size: bytes.
        by: who put it there.
        at: when.
    """

    job_id: int
    name: str
    size: int
    by: str
    at: datetime
