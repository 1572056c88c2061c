"""An operation: one tool at one setting, on one workpiece with one face up."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal, NamedTuple

from scribeline.features import Bit, Family, Setting
from scribeline.features.cuts import point_end
from scribeline.operations.ordering import Need

Kind = Literal[
    "glue",
    "shape core",
    "glue wings",
    "check core",
    "glue head",
    "slot board",
    "rout channels",
    "glue board",
    "check neck",
    "check blank",
    "check press",
    "rout",
    "cut tenon",
    "fit neck",
    "drill heel",
    "drill head",
    "carve neck",
    "cut ground",
    "cut step",
    "carve arch",
    "carve bevel",
    "round edge",
    "refit neck",
    "set bridge",
    "try screw",
    "try bushing",
    "fix bridge",
    "try both faces",
    "counterbore",
    "drill",
    "countersink",
    "try strings",
    "finish",
    "clean out",
    "slot nut",
    "press bushings",
    "fit hardware",
]
"""What is done."""

Machine = Literal["bench", "drill press", "hand drill", "router", "carving", "finish"]
"""What drives the tool."""

Workpiece = Literal["body", "neck", "head", "scrap"]

Part = Literal["neck", "bridge"]
"""What is fixed to the body for a while and may be in the way."""

TOP: frozenset[Kind] = frozenset({"cut ground", "cut step", "carve arch"})
"""What gives the top its steps or its arch."""

SHAPING: frozenset[Kind] = TOP | {"carve bevel", "round edge"}
"""What gives the body a part of its shape."""

TRIALS: frozenset[Kind] = frozenset({"try screw", "try bushing", "try both faces"})
"""What is tried in scrap."""


class Cutting(NamedTuple):
    """One diameter of a hole, the widest being 1, or a pocket, which has one."""

    feature: str
    step: int


@dataclass(frozen=True)
class Operation:
    """One tool at one setting.

    Attributes:
        id: stable name, for the record and for links; it has no meaning.
        kind: what is done.
        machine: what drives the tool.
        face: the face that lies up; "" where it does not matter.
        workpiece: what lies on the bench.
        cuts: what it cuts.
        cleans: ids of the holes that it works at and does not cut.
        family: of the holes that it cuts.
        mark: id of the mark of the bridge that it sets out.
        shape: id of what it works that is no cut of the body's: a part of its shape, or the pilots in the neck's heel.
        bit: the bit, where one is used.
        depth: full-diameter depth from the face, mm.
        setting: what ends the bit at that depth, and from which surface.
        rpm: the most the bit should turn, revolutions a minute; a guide.
        barred_by: what keeps it from being done while it is fixed to the body, whichever face is up.
        after: what must be done before, and why.
        no: place in the order of work, from 1.
    """

    id: str
    kind: Kind
    machine: Machine
    face: str = ""
    workpiece: Workpiece = "body"
    cuts: tuple[Cutting, ...] = ()
    cleans: tuple[str, ...] = ()
    family: Family | None = None
    mark: str = ""
    shape: str = ""
    bit: Bit | None = None
    depth: float | None = None
    setting: Setting | None = None
    rpm: int | None = None
    barred_by: frozenset[Part] = frozenset()
    after: tuple[Need, ...] = ()
    no: int = 0

    @cached_property
    def features(self) -> tuple[str, ...]:
        """Ids of the holes and pockets that it works at, each once."""
        return tuple(dict.fromkeys((*(cut.feature for cut in self.cuts), *self.cleans)))

    @property
    def works_on(self) -> tuple[str, ...]:
        """Ids of what it cuts or shapes; of one that measures, tries, fits or finishes, none."""
        return (*dict.fromkeys(cut.feature for cut in self.cuts), *([self.shape] if self.shape else []))

    @property
    def point_reaches(self) -> float | None:
        """Where the bit's point ends, mm from the hole's own start along the axis."""
        return None if self.bit is None or self.depth is None else point_end(self.depth, self.bit.point)
