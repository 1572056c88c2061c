"""How far a made cut is off: what the plan says it has moved, as numbers of one cut."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import degrees, sqrt
from typing import TYPE_CHECKING

from scribeline.features import Bore, Pocket
from scribeline.layout import Point3
from scribeline.plan import wanted_by

if TYPE_CHECKING:
    from collections.abc import Sequence

    from scribeline.features import Feature, Moved
    from scribeline.plan import Plan

NOTICED = 0.05
"""What a caliper reads on wood, mm: a cut that is less off is where it was meant (common practice, no source)."""

NOTICED_LEAN = 0.1
"""What an angle gauge reads, degrees (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Walls:
    """How far a cavity's walls stand outside where they are wanted, mm; below 0 where wood stands in the way."""

    treble: float = 0.0
    bass: float = 0.0
    tail: float = 0.0
    nut: float = 0.0

    @property
    def named(self) -> tuple[tuple[str, float], ...]:
        """Each wall with its name."""
        return (
            ("treble wall", self.treble),
            ("bass wall", self.bass),
            ("end wall towards the tail", self.tail),
            ("end wall towards the nut", self.nut),
        )

    @property
    def widest(self) -> float:
        """The most that one is too far out."""
        return max(self.treble, self.bass, self.tail, self.nut)

    @property
    def tightest(self) -> float:
        """The most that one stands in the way, as a number over 0."""
        return -min(self.treble, self.bass, self.tail, self.nut)


@dataclass(frozen=True, slots=True)
class Off:
    """What is wrong with a made cut.

    Attributes:
        cut: as it was made.
        wanted: as the job would have it if nothing were made; None where it has it no more.
        along: how far it lies too far towards the tail, mm.
        across: and towards the treble.
        height: and up.
        wider: how much its widest step is too wide, mm.
        deeper: how much it is too deep.
        lean: how much a floor leans too much, rad.
        walls: of a cavity.
        stripped: whether its screw does not hold.
    """

    cut: Feature
    wanted: Feature | None
    along: float = 0.0
    across: float = 0.0
    height: float = 0.0
    wider: float = 0.0
    deeper: float = 0.0
    lean: float = 0.0
    walls: Walls = Walls()
    stripped: bool = False

    @property
    def away(self) -> float:
        """From middle to middle, mm; of a hole square to its axis."""
        if isinstance(self.cut, Bore) and isinstance(self.wanted, Bore):
            return apart(self.cut, self.wanted)
        return sqrt(self.along**2 + self.across**2)

    @property
    def is_off(self) -> bool:
        """Whether a bench would notice."""
        numbers = (self.away, abs(self.wider), abs(self.deeper), self.walls.widest, self.walls.tightest)
        lean = abs(degrees(self.lean)) >= NOTICED_LEAN
        return self.wanted is None or self.stripped or lean or max(numbers) >= NOTICED - 1e-9


def apart(one: Bore, other: Bore) -> float:
    """How far the axis of one hole lies from another's mouth, square to that axis, mm."""
    way = [b - a for a, b in zip(one.at, other.at, strict=True)]
    along = sum(a * b for a, b in zip(way, one.axis, strict=True))
    return sqrt(max(0.0, sum(part * part for part in way) - along * along))


def off_of(plan: Plan, cut: Feature, *, stripped: bool = False) -> Off:
    """What is wrong with a made cut, by the plan's own comparison with what the job would have."""
    changes = [each for each in plan.moved if each.feature == cut.id]
    if any(each.what == "gone" and not each.step for each in changes):
        return Off(cut, None, stripped=stripped)
    if isinstance(cut, Bore):
        return _of_bore(plan, cut, changes, stripped=stripped)
    return _of_pocket(plan, cut)


def offs(plan: Plan) -> Iterator[Off]:
    """Every made cut that is off, in the plan's order."""
    for cut in plan.every_cut:
        if cut.id in plan.made and (found := off_of(plan, cut)).is_off:
            yield found


def _of_bore(plan: Plan, cut: Bore, changes: Sequence[Moved], *, stripped: bool) -> Off:
    wanted = _as_it_would_be(cut, changes)
    solid = [n for n, step in enumerate(cut.steps) if not step.bit.is_conical] or [0]
    wide = max(solid, key=lambda n: cut.steps[n].diameter)
    return Off(
        cut,
        wanted,
        along=cut.at.x - wanted.at.x,
        across=plan.layout.treble * (cut.at.y - wanted.at.y),
        height=cut.at.z - wanted.at.z,
        wider=cut.steps[wide].diameter - wanted.steps[wide].diameter,
        deeper=cut.deepest.depth - wanted.deepest.depth,
        stripped=stripped,
    )


def _as_it_would_be(cut: Bore, changes: Sequence[Moved]) -> Bore:
    """A hole with every number that the plan says has moved where the job would have it."""
    at, steps = dict(zip("xyz", cut.at, strict=True)), list(cut.steps)
    for each in changes:
        if each.now is None:
            continue
        if each.what in {"along", "across", "height"}:
            at["xyz"[("along", "across", "height").index(each.what)]] = each.now
        elif each.what in {"diameter", "depth"} and each.step <= len(steps):
            step = steps[each.step - 1]
            diameter, depth = (
                each.now if each.what == what else was
                for what, was in (("diameter", step.diameter), ("depth", step.depth))
            )
            steps[each.step - 1] = replace(step, diameter=diameter, depth=depth)
    return replace(cut, at=Point3(**at), steps=tuple(steps))


def _of_pocket(plan: Plan, cut: Pocket) -> Off:
    wanted = next((each for each in wanted_by(plan.stated).features.pockets if each.id == cut.id), None)
    if wanted is None:
        return Off(cut, None)
    xs, ys, was_xs, was_ys = (
        [place[axis] for place in ring] for ring in (cut.outline, wanted.outline) for axis in (0, 1)
    )
    plus, minus = max(ys) - max(was_ys), min(was_ys) - min(ys)
    right = plan.layout.treble > 0
    walls = Walls(
        treble=plus if right else minus,
        bass=minus if right else plus,
        tail=max(xs) - max(was_xs),
        nut=0.0 if cut.at_edge else min(was_xs) - min(xs),
    )
    angles = [0.0 if each.slope is None else each.slope.angle for each in (cut, wanted)]
    return Off(
        cut,
        wanted,
        along=(walls.tail - walls.nut) / 2,
        across=(walls.treble - walls.bass) / 2,
        deeper=cut.depth - wanted.depth,
        lean=angles[0] - angles[1],
        walls=walls,
    )
