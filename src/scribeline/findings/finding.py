"""A finding: what was tested, the limit and where it comes from, and the cure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from scribeline.features import Bore, Family, Feature, Features, Moved, Workpiece
from scribeline.job import Document, Override, Record, feature_id
from scribeline.layout import CORE, HEEL, NECK_POCKET, TENON, AsRead, Layout
from scribeline.lengths import Try
from scribeline.operations import Progress
from scribeline.quantities import Formula, Input
from scribeline.solid import Outside, Web
from scribeline.solid.tunnels import Tunnel
from scribeline.tables import Worse, level_words, limit_rows

Severity = Literal["stop", "caution", "note"]

Tag = Literal["DO NOT CUT", "CAUTION", "NOTE"]

TAGS: dict[Severity, Tag] = {"stop": "DO NOT CUT", "caution": "CAUTION", "note": "NOTE"}
"""What each severity is called on paper and on screens; "stop" is the word of plan.json, where the press has its depth stops."""

COMMON_PRACTICE = "common practice, no source"
STATED = "stated in the job"
GEOMETRY = "geometry"


@dataclass(frozen=True, slots=True)
class Finding:
    """Something a builder should know before cutting.

    Attributes:
        code: stable name of the rule.
        severity: "stop" where the work must not go on, "caution" where it may with care, "note" otherwise.
        features: ids of the cuts concerned.
        value: what was found, mm unless the message says otherwise; None where nothing is measured.
        limit: what it was held against.
        message: what is wrong, with the number.
        cure: what to do about it, with the number to use.
        source: where the limit comes from.
        concerns: ids of the cuts and shapes that wait while it stops the work, where those are not simply `features`:
            None for these, or for every cut and shape where it names none; () where it holds back no cut by itself.
        override: why the builder goes on against it, while that holds.
        tries: the ways out that the cure names with a key of the job and a number, once it is said in the job's unit.
        of: id of the named number that the value is; "" where it has a name only as this finding's.
        held_to: id of the named number that the limit is; likewise.
        works: how its value comes about where it has a name only as this finding's: a formula and its inputs.
    """

    code: str
    severity: Severity
    features: tuple[str, ...]
    value: float | None
    limit: float | None
    message: str
    cure: str
    source: str
    concerns: tuple[str, ...] | None = None
    override: Override | None = None
    tries: tuple[Try, ...] = ()
    of: str = ""
    held_to: str = ""
    works: tuple[Formula, Mapping[str, Input]] | None = field(default=None, compare=False)

    @property
    def value_id(self) -> str | None:
        """The name of its value; None where nothing is measured."""
        return None if self.value is None else self.of or f"{self._own_name}.value"

    @property
    def limit_id(self) -> str | None:
        """The name of its limit; None where it has none."""
        return None if self.limit is None else self.held_to or f"{self._own_name}.limit"

    @property
    def _own_name(self) -> str:
        return ".".join((self.code, *self.features[:2]))

    @property
    def waiting(self) -> tuple[str, ...] | None:
        """Ids of the cuts and shapes that wait while it stops the work; None for every one."""
        return (self.features or None) if self.concerns is None else self.concerns

    @property
    def stands(self) -> bool:
        """Whether it stops the work: a stop that nobody goes on against."""
        return self.severity == "stop" and self.override is None


@dataclass(frozen=True, slots=True)
class Facts:
    """All that the rules look at."""

    document: Document
    record: Record
    layout: Layout
    features: Features
    webs: tuple[Web, ...]
    outside: tuple[Outside, ...]
    progress: Progress
    """The operations, and the wood as it is at each, which is worked out once a rule asks for it."""
    moved: tuple[Moved, ...] = ()
    tunnels: tuple[Tunnel, ...] = ()
    neck: Workpiece | None = None
    head: Workpiece | None = None
    measurable: tuple[str, ...] = ()
    """Names of the numbers that can be checked."""
    as_read: Mapping[str, AsRead] = field(default_factory=dict)
    """Those that were, by their names."""
    longest: dict[str, float] = field(default_factory=dict, compare=False, repr=False)
    """Kept by `longest_screw`: the longest screw of each line of the job, mm, once it is worked out."""

    @property
    def heel_pilots(self) -> tuple[Bore, ...]:
        """What is drilled in the neck's heel."""
        return () if self.neck is None else self.neck.features.bores

    @property
    def every_cut(self) -> tuple[Feature, ...]:
        """The cuts of every workpiece."""
        return (*self.features, *self.beside_the_body)

    @property
    def beside_the_body(self) -> tuple[Bore, ...]:
        """What is drilled in the neck's heel and in the head."""
        return (*self.heel_pilots, *(() if self.head is None else self.head.features.bores))

    @property
    def by_the_bridge(self) -> tuple[str, ...] | None:
        """What is drilled where the bridge stands, for a finding about the bridge: ids; every cut where it has no place."""
        if self.layout.bridge is None:
            return None
        families: tuple[Family, ...] = ("string-hole", "ferrule-hole", "ground-wire")
        rest = (bore for family in families for bore in self.features.family(family))
        return tuple(bore.id for bore in (*self.features.anchors, *rest))

    @property
    def by_the_neck(self) -> tuple[str, ...]:
        """What is cut for the neck: its pocket, the holes of its screws, the pilots in its heel; else its core."""
        if self.document.neck.runs_through:
            return (CORE,)
        tenon = () if self.document.neck.tenon_width is None else (TENON,)
        return (
            feature_id(NECK_POCKET),
            *(bore.id for bore in self.features.family("neck-screw")),
            HEEL,
            *tenon,
        )

    @property
    def neck_pocket(self) -> tuple[str, ...]:
        """The neck pocket, for a finding about it; nothing where the neck runs through."""
        return () if self.document.neck.runs_through else (feature_id(NECK_POCKET),)

    @property
    def by_the_core(self) -> tuple[str, ...] | None:
        """What waits for a finding about the neck's height on a neck that runs through; None where it is the pocket."""
        return (CORE,) if self.document.neck.runs_through else None

    @property
    def by_neck_and_bridge(self) -> tuple[str, ...] | None:
        """What is cut for the neck and drilled where the bridge stands, for a finding about the strings between the two."""
        bridge = self.by_the_bridge
        return None if bridge is None else (*self.by_the_neck, *bridge)

    def limit(self, usual: Limit) -> Limit:
        """A rule's limit: the builder's own where the job sets one, else the usual one."""
        return limit_in(self.document, usual)


def limit_in(document: Document, usual: Limit) -> Limit:
    """A limit as it holds for a job: the builder's own where the job sets one, else the usual one."""
    own = document.limits.of(usual.key)
    if own is None:
        return usual
    source = f"your own limit, limits.{usual.key} (usually {usual.words}; {usual.source})"
    return replace(usual, stop=own.stop, caution=own.caution, source=source)


@dataclass(frozen=True, slots=True)
class Limit:
    """Two levels of one rule: past `stop` the work must not go on, past `caution` with care.

    Attributes:
        stop: None where the worst is a caution.
        caution: level from which it is told.
        source: where the levels come from.
        key: its row in the table of limits, by which a job may set its own.
        worse: whether values below or above a level are the bad ones.
    """

    stop: float | None
    caution: float
    source: str
    key: str = ""
    worse: Worse = "below"

    @classmethod
    def of(cls, key: str) -> Limit:
        """A row of the table of limits (`tables/limits.csv`)."""
        row = limit_rows()[key]
        return cls(row.stop, row.caution, row.source, key, row.worse)

    def severity(self, value: float) -> Severity | None:
        """How serious a value is; None when it is fine."""
        if self.stop is not None and self._past(value, self.stop):
            return "stop"
        return "caution" if self._past(value, self.caution) else None

    def _past(self, value: float, level: float) -> bool:
        return value < level - 1e-9 if self.worse == "below" else value > level + 1e-9

    def threshold(self, severity: Severity) -> float:
        """The level that was passed."""
        return self.stop if severity == "stop" and self.stop is not None else self.caution

    def level_id(self, severity: Severity) -> str:
        """The name of the level that was passed."""
        return f"limits.{self.key}.{'stop' if severity == 'stop' and self.stop is not None else 'caution'}"

    @property
    def words(self) -> str:
        """Its levels in words."""
        return level_words(self.stop, self.caution, limit_rows()[self.key].unit)
