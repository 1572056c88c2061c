"""A way out, and the ways out of one wrong cut in their order."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from scribeline.lengths import said

if TYPE_CHECKING:
    from scribeline.job import Record
    from scribeline.layout import Point
    from scribeline.rescue.off import Off

Kind = Literal[
    "live",
    "shift",
    "slip",
    "turn saddles",
    "longer reach",
    "open up",
    "beside",
    "plug",
    "patch",
    "move bridge",
    "fill",
    "larger part",
    "line",
    "cover",
    "floor",
    "taper",
    "walls",
    "relieve",
]

Line = Literal["old", "plug", "new", "cover"]


@dataclass(frozen=True, slots=True)
class Number:
    """One number that a way is judged by.

    Attributes:
        words: what it is.
        mm: its value; degrees where `unit` says so.
        limit: what it is held against; None where nothing is asked.
        ok: whether it keeps that.
        unit: of the value.
        at_most: whether the limit is the most that may be, and not the least.
    """

    words: str
    mm: float
    limit: float | None = None
    ok: bool = True
    unit: Literal["mm", "degrees"] = "mm"
    at_most: bool = False


@dataclass(frozen=True, slots=True)
class Wood:
    """The least wood round something, and to what.

    Attributes:
        to: in bench words.
        mm: the wood.
        need: the least that the checks allow.
    """

    to: str
    mm: float
    need: float

    @property
    def holds(self) -> bool:
        """Whether it is enough."""
        return self.mm >= self.need - 1e-9

    @property
    def short(self) -> str:
        """What is wrong with it, as the end of a sentence."""
        if self.mm < 0:
            return f"runs {said(-self.mm)} into {self.to}"
        return f"leaves {said(self.mm)} of wood to {self.to}; {said(self.need)} is the least"


@dataclass(frozen=True, slots=True)
class Drawn:
    """One line of a way's drawing, in the plane that the hole is seen in, treble up, mm.

    Attributes:
        line: what it is.
        centre: of a circle; None of an outline.
        radius: of the circle.
        ring: of an outline.
        name: beside it.
    """

    line: Line
    centre: Point | None = None
    radius: float = 0.0
    ring: tuple[Point, ...] = ()
    name: str = ""


@dataclass(frozen=True, slots=True)
class Way:
    """One way out.

    Attributes:
        kind: which.
        title: in a line.
        does: what is done, one sentence a line.
        numbers: what it comes to.
        shows: what stays visible, in words.
        visible: how wide that is, mm; 0 where nothing shows.
        wait: hours until the work goes on, the glue's.
        parts: what must be got.
        closes: whether no limit is broken after it.
        why_not: where it does not close, the number that says so.
        cautions: what can hurt.
        drawn: its drawing.
        moves: what of the rest moves, and by how much.
        open: what the checks still say after it.
        record: the bench's record after it, where it is one of the record; None where it is done by parts or by hand.
    """

    kind: Kind
    title: str
    does: tuple[str, ...] = ()
    numbers: tuple[Number, ...] = ()
    shows: str = "nothing"
    visible: float = 0.0
    wait: float = 0.0
    parts: tuple[str, ...] = ()
    closes: bool = True
    why_not: str = ""
    cautions: tuple[str, ...] = ()
    drawn: tuple[Drawn, ...] = ()
    moves: tuple[str, ...] = ()
    open: tuple[str, ...] = ()
    record: Record | None = field(default=None, compare=False, repr=False)

    @property
    def rank(self) -> tuple[bool, bool, float, int]:
        """Where it stands: no limit broken first, then nothing visible, then the least wait, then the fewest parts."""
        return not self.closes, self.visible > 0, self.wait, len(self.parts)


@dataclass(frozen=True, slots=True)
class Rescue:
    """The ways out of one wrong cut, or of cuts that are wrong together.

    Attributes:
        cuts: ids of them, the one asked for first.
        title: which, in bench words.
        wrong: what is wrong with them, in a sentence.
        off: the first one's numbers.
        ways: the best first.
        already: what the checks would stop about these cuts if they were as wanted.
    """

    cuts: tuple[str, ...]
    title: str
    wrong: str
    off: Off
    ways: tuple[Way, ...]
    already: tuple[str, ...] = ()

    @property
    def closing(self) -> tuple[Way, ...]:
        """Those that break no limit."""
        return tuple(way for way in self.ways if way.closes)

    @property
    def refusal(self) -> str:
        """Why nothing helps; "" where something does."""
        if self.closing:
            return ""
        if self.already:
            return f"I cannot, because the checks stop it as it was planned too: {'; '.join(self.already)}"
        reasons = "; ".join(dict.fromkeys(way.why_not for way in self.ways if way.why_not))
        return f"I cannot, because {reasons or 'nothing was found'}"
